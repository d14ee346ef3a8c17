//! What is said when a batch is done.

use std::fmt::Write;
use std::path::Path;

use super::inputs::shown;
use super::{Attention, Entry, Summary};
use crate::report::distribution::{Distribution, kinds};
use crate::report::format::{cents, counted, number, seconds, signed};

/// Widest bar of the distribution, in characters.
const BAR: u64 = 40;

/// Cents in one bar of the distribution.
const BIN: i32 = 20;

/// Bars on either side of the target; what is further off goes into the outermost.
const BINS: i32 = 6;

/// The closing summary: counts by kind, pitch against the target, and what needs attention first.
///
/// * `target`: the note that crows are held to, where there is one.
///
/// Returns lines, each ended by a line feed.
pub fn closing(summary: &Summary, target: Option<&str>) -> String {
    let mut text = String::new();
    let mut say = |line: String| {
        text.push_str(&line);
        text.push('\n');
    };
    let mut about = vec![format!("{} read", counted(summary.read() as usize, "take"))];
    if summary.failed() > 0 {
        about.push(format!("{} not read", summary.failed()));
    }
    if summary.taken_over > 0 {
        about.push(format!("{} of them before", summary.taken_over));
    }
    if summary.passed_over > 0 {
        let files = counted(summary.passed_over as usize, "other file");
        about.push(format!("{files} passed over"));
    }
    about.push(format!("{} of sound", clock(summary.audio_s)));
    say(about.join(", "));
    if summary.folders_inside > 0 {
        let folders = counted(summary.folders_inside as usize, "folder");
        say(format!("{folders} inside not looked into: --recursive reads them"));
    }
    if summary.read() > 0 {
        let count = |kind: &str| summary.kinds.get(kind).copied().unwrap_or_default() as usize;
        say(format!("Kinds: {}", kinds(count)));
    }
    if let Some(target) = target {
        text.push_str(&distribution(summary, target));
    }
    text.push_str(&attention(summary));
    text
}

/// The distribution of pitch about the target; empty where no take has one.
fn distribution(summary: &Summary, target: &str) -> String {
    let Some(pitch) = Distribution::of(&summary.target_cents) else {
        return String::new();
    };
    let mut text = format!(
        "Pitch against {target}: median {}, half of the takes from {} to {}\n",
        cents(pitch.median),
        signed(pitch.lower_quartile, 0),
        signed(pitch.upper_quartile, 0)
    );
    let mut bars = vec![0_u64; 2 * BINS as usize + 1];
    for &off in &summary.target_cents {
        let bin = (off / f64::from(BIN)).round() as i32;
        bars[(bin.clamp(-BINS, BINS) + BINS) as usize] += 1;
    }
    let most = bars.iter().copied().max().unwrap_or(1).max(1);
    let used = |count: &u64| *count > 0;
    let first = bars.iter().position(used).unwrap_or(0);
    let last = bars.iter().rposition(used).unwrap_or(0);
    for (index, &count) in bars.iter().enumerate().take(last + 1).skip(first) {
        let bin = index as i32 - BINS;
        let label = match bin {
            bin if bin == -BINS => format!("{} and flatter", number(f64::from(bin * BIN), 0)),
            bin if bin == BINS => format!("+{} and sharper", bin * BIN),
            bin => format!("{:>5}", signed(f64::from(bin * BIN), 0)),
        };
        let bar = "#".repeat(((count * BAR).div_ceil(most)) as usize);
        let _ = writeln!(text, "  {label:<17} {bar:<40} {count}");
    }
    text
}

fn attention(summary: &Summary) -> String {
    let mut text = String::new();
    for (attention, group) in &summary.attention {
        if text.is_empty() {
            text.push_str("Needs attention first:\n");
        }
        let what = match attention {
            Attention::NotRead => "not read",
            Attention::NoCrow => "no crow in it",
            Attention::Unsettled => "unsettled: no tone holds",
            Attention::Split => "split: octaves apart",
            Attention::Single => "single: one octave alone",
            Attention::Turns => "octaves that take turns",
            Attention::Late => "low octave late",
            Attention::Doubtful => "read with doubt",
            Attention::OffTarget => "off the target",
        };
        let _ = writeln!(text, "  {what}: {}", group.count);
        for (entry, _) in &group.first {
            let mut said = why(*attention, entry);
            let has_pitch =
                matches!(attention, Attention::Single | Attention::Turns | Attention::Late);
            if has_pitch && summary.is_off_target(entry) {
                said.extend(entry.target_cents.map(cents));
            }
            let said = match said.is_empty() {
                true => String::new(),
                false => format!(": {}", said.join(", ")),
            };
            let _ = writeln!(text, "    {}{said}", shown(Path::new(&entry.source)));
        }
        let rest = group.count - group.first.len() as u64;
        if rest > 0 {
            let _ = writeln!(text, "    and {rest} more");
        }
    }
    text
}

/// What is said of a take in its group.
fn why(attention: Attention, entry: &Entry) -> Vec<String> {
    let codes = |entry: &Entry| -> Vec<String> {
        // That there is no crow is said already.
        let codes = entry.warnings.split_whitespace().filter(|code| *code != "no-crow");
        codes.map(str::to_owned).collect()
    };
    match attention {
        Attention::NotRead => entry.error.iter().cloned().collect(),
        Attention::Split => entry.alignment_cents.map(cents).into_iter().collect(),
        Attention::OffTarget => entry.target_cents.map(cents).into_iter().collect(),
        Attention::Doubtful | Attention::NoCrow => codes(entry),
        Attention::Single => match entry.register {
            Some(register) if register > 0.0 => vec!["a peep, without the low octave".to_owned()],
            _ => Vec::new(),
        },
        Attention::Turns => {
            let rate =
                entry.switches_per_s.map(|rate| format!("{} times a second", number(rate, 1)));
            rate.into_iter().collect()
        }
        Attention::Late => {
            entry.low_delay_s.map(|delay| format!("{} late", seconds(delay))).into_iter().collect()
        }
        Attention::Unsettled => Vec::new(),
    }
}

/// A length of time as hours, minutes and seconds.
pub fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}
