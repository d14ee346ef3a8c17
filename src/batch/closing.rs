//! What is said when a batch is done.

use std::fmt::Write;
use std::path::Path;

use super::inputs::shown;
use super::{Attention, Entry, Summary};
use crate::report::distribution::Distribution;
use crate::report::format::{cents, counted, number, signed};

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
    if summary.read() > 0 {
        let kinds = ["octaves", "single", "split", "unsettled", ""].into_iter();
        let counts = kinds.filter_map(|kind| {
            let count = summary.kinds.get(kind)?;
            Some(format!("{count} {}", if kind.is_empty() { "without a crow" } else { kind }))
        });
        say(format!("Kinds: {}", counts.collect::<Vec<_>>().join(", ")));
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
            Attention::Split => "split: octaves apart",
            Attention::Unsettled => "unsettled: no tone holds",
            Attention::Doubtful => "read with doubt",
            Attention::OffTarget => "off the target",
        };
        let _ = writeln!(text, "  {what}: {}", group.count);
        for (entry, _) in &group.first {
            let _ =
                writeln!(text, "    {}{}", shown(Path::new(&entry.source)), why(*attention, entry));
        }
        let rest = group.count - group.first.len() as u64;
        if rest > 0 {
            let _ = writeln!(text, "    and {rest} more");
        }
    }
    text
}

fn why(attention: Attention, entry: &Entry) -> String {
    match attention {
        Attention::NotRead => format!(": {}", entry.error.as_deref().unwrap_or_default()),
        Attention::Split => {
            entry.alignment_cents.map_or_else(String::new, |off| format!(": {}", cents(off)))
        }
        Attention::OffTarget => {
            entry.target_cents.map_or_else(String::new, |off| format!(": {}", cents(off)))
        }
        Attention::Doubtful => format!(": {}", entry.warnings.replace(' ', ", ")),
        Attention::NoCrow => {
            // That there is no crow is said already.
            let others = entry.warnings.split(' ').filter(|code| *code != "no-crow");
            let others = others.collect::<Vec<_>>().join(", ");
            if others.is_empty() { others } else { format!(": {others}") }
        }
        Attention::Unsettled => String::new(),
    }
}

/// A length of time as hours, minutes and seconds.
pub fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}
