//! What is said when a batch is done.

use std::fmt::Write;
use std::path::Path;

use super::inputs::shown;
use super::{Attention, Entry, Summary};
use crate::report::distribution::{BINS, Distribution, bar_edges, bars, kinds};
use crate::report::format::{cents, counted, number, percent, seconds, signed};
use crate::report::needs::{Need, Needy, TITLE};
use crate::report::terminal::Style;

/// Widest bar of the distribution, in characters.
const BAR: u64 = 40;

/// The closing summary: counts by kind, pitch against the target, and what needs attention first.
///
/// * `target`: the note that crows are held to, where there is one.
///
/// Returns lines, each ended by a line feed.
pub fn closing(summary: &Summary, target: Option<&str>, style: &Style) -> String {
    let mut text = String::new();
    let mut say = |line: String| {
        text.push_str(&style.wrapped("", &line).join("\n"));
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
        text.push_str(&distribution(summary, target, style));
    }
    text.push_str(&attention(summary, style));
    text
}

/// The distribution of pitch about the target; empty where no take has one.
fn distribution(summary: &Summary, target: &str, style: &Style) -> String {
    let Some(pitch) = Distribution::of(&summary.target_cents) else {
        return String::new();
    };
    let middle = format!(
        "Pitch against {target}: median {}, half of the takes from {} to {}",
        cents(pitch.median),
        signed(pitch.lower_quartile, 0),
        signed(pitch.upper_quartile, 0)
    );
    let mut text = style.wrapped("", &middle).join("\n") + "\n";
    let bars = bars(&summary.target_cents);
    let most = bars.iter().copied().max().unwrap_or(1).max(1);
    let bar_width = (style.width.saturating_sub(30) as u64).clamp(8, BAR);
    let _ = writeln!(text, "  {:<17} takes", "cents");
    let used = |count: &usize| *count > 0;
    let first = bars.iter().position(used).unwrap_or(0);
    let last = bars.iter().rposition(used).unwrap_or(0);
    for (index, &count) in bars.iter().enumerate().take(last + 1).skip(first) {
        let bin = index as i32 - BINS;
        let (from, to) = bar_edges(index);
        let (from, to) = (signed(from, 0), signed(to, 0));
        let label = match bin {
            bin if bin == -BINS => format!("under {to}"),
            bin if bin == BINS => format!("over {from}"),
            _ => format!("{from} to {to}"),
        };
        let width = bar_width as usize;
        let bar = "#".repeat((count as u64 * bar_width).div_ceil(most as u64) as usize);
        let _ = writeln!(text, "  {label:<17} {bar:<width$} {count}");
    }
    text
}

/// What needs attention first, the most pressing reason first.
pub fn needs(summary: &Summary) -> Vec<Need> {
    let mut needs: Vec<Need> = Vec::new();
    for (attention, group) in &summary.attention {
        let what = match attention {
            Attention::NotRead => "not read",
            Attention::NoCrow => "no crow in it",
            Attention::Unsettled => "unsettled: no tone holds",
            Attention::Split => "split: octaves apart",
            Attention::Single => "single: one octave alone",
            Attention::Turns => "octaves that take turns",
            Attention::Late => "low octave late",
            Attention::Rattle => "wild rattle",
            Attention::Doubtful => "read with doubt",
            Attention::OffTarget => OFF_TARGET,
        };
        let first = group.first.iter().map(|(entry, _)| {
            let mut said = why(*attention, entry, summary.is_peep(entry));
            let is_told = matches!(attention, Attention::OffTarget | Attention::Split);
            if !is_told && entry.kind.is_some() && summary.is_off_target(entry) {
                said.extend(entry.target_cents.map(cents));
            }
            Needy { source: entry.source.clone(), said: said.join(", ") }
        });
        let first: Vec<Needy> = first.collect();
        let more = group.count - first.len() as u64;
        needs.push(Need { what: format!("{what}: {}", group.count), first, more });
    }
    // Each take is named once; those off the target are counted whatever else there is.
    let alone = summary.attention.get(&Attention::OffTarget).map_or(0, |group| group.count);
    match (summary.off_target.saturating_sub(alone), needs.last_mut()) {
        (0, _) | (_, None) => {}
        (above, Some(last)) if alone > 0 => last.what += &format!(", and {above} of those above"),
        (above, Some(_)) => needs.push(Need {
            what: format!("{OFF_TARGET}: {above} of those above"),
            first: Vec::new(),
            more: 0,
        }),
    }
    needs
}

const OFF_TARGET: &str = "off the target";

/// The list on a terminal.
fn attention(summary: &Summary, style: &Style) -> String {
    let mut lines = Vec::new();
    // What goes on in another line stands further in.
    let narrower = Style { width: style.width.saturating_sub(2), ..*style };
    for need in needs(summary) {
        if lines.is_empty() {
            lines.push(format!("{TITLE}:"));
        }
        lines.extend(style.wrapped("  ", &need.what));
        for Needy { source, said } in &need.first {
            let said = if said.is_empty() { String::new() } else { format!(": {said}") };
            let text = format!("{}{said}", shown(Path::new(source)));
            let mut wrapped = narrower.wrapped("    ", &text).into_iter();
            lines.extend(wrapped.next());
            lines.extend(wrapped.map(|line| format!("  {line}")));
        }
        if need.more > 0 {
            lines.push(format!("    and {} more", need.more));
        }
    }
    lines.into_iter().map(|line| line + "\n").collect()
}

/// What is said of a take in its group.
fn why(attention: Attention, entry: &Entry, is_peep: bool) -> Vec<String> {
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
        Attention::Single if is_peep => vec!["a peep, without the low octave".to_owned()],
        Attention::Single => Vec::new(),
        Attention::Turns => {
            let rate =
                entry.switches_per_s.map(|rate| format!("{} times a second", number(rate, 1)));
            rate.into_iter().collect()
        }
        Attention::Late => {
            entry.low_delay_s.map(|delay| format!("{} late", seconds(delay))).into_iter().collect()
        }
        Attention::Rattle => {
            let depth = entry.rattle_depth.map(|depth| format!("{} deep", percent(depth)));
            depth.into_iter().collect()
        }
        Attention::Unsettled => Vec::new(),
    }
}

/// A length of time as hours, minutes and seconds.
pub fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}
