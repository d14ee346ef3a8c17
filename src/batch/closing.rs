//! What is said when a batch is done.

use std::fmt::Write;
use std::path::Path;

use super::inputs::shown;
use super::page_rows::doubt;
use super::{Attention, Entry, Summary};
use crate::dsp::statistics::Distribution;
use crate::report::distribution::{BINS, bar_edges, bars, kinds};
use crate::report::page::{Need, Needy};
use crate::report::terminal::Style;
use crate::words::batch as words;
use crate::words::format::cents;

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
    say(words::counts(
        summary.read(),
        summary.failed(),
        summary.taken_over,
        summary.passed_over,
        &clock(summary.audio_s),
    ));
    if summary.folders_inside > 0 {
        say(words::folders_inside(summary.folders_inside));
    }
    if summary.read() > 0 {
        say(words::kinds(&kinds(summary.kinds.iter().map(|(heard, count)| (*heard, *count)))));
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
    let middle = words::pitch(target, &pitch);
    let mut text = style.wrapped("", &middle).join("\n") + "\n";
    let bars = bars(&summary.target_cents);
    let most = bars.iter().copied().max().unwrap_or(1).max(1);
    let bar_width = (style.width.saturating_sub(30) as u64).clamp(8, BAR);
    let _ = writeln!(text, "  {:<17} {}", words::CENTS, words::TAKES);
    let used = |count: &usize| *count > 0;
    let first = bars.iter().position(used).unwrap_or(0);
    let last = bars.iter().rposition(used).unwrap_or(0);
    for (index, &count) in bars.iter().enumerate().take(last + 1).skip(first) {
        let bin = index as i32 - BINS;
        let (from, to) = bar_edges(index);
        let label = words::bar((bin > -BINS).then_some(from), (bin < BINS).then_some(to));
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
        let what = attention.reason();
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
        (above, Some(last)) if alone > 0 => last.what += &words::off_target_above(above, true),
        (above, Some(_)) => {
            let what = Attention::OffTarget.reason();
            let what = format!("{what}: {}", words::off_target_above(above, false));
            needs.push(Need { what, first: Vec::new(), more: 0 });
        }
    }
    needs
}

/// The list on a terminal.
fn attention(summary: &Summary, style: &Style) -> String {
    let mut lines = Vec::new();
    // What goes on in another line stands further in.
    let narrower = Style { width: style.width.saturating_sub(2), ..*style };
    for need in needs(summary) {
        if lines.is_empty() {
            lines.push(format!("{}:", words::NEED_ATTENTION));
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
            lines.push(format!("    {}", words::more(need.more)));
        }
    }
    lines.into_iter().map(|line| line + "\n").collect()
}

/// What is said of a take in its group.
fn why(attention: Attention, entry: &Entry, is_peep: bool) -> Vec<String> {
    let codes = |entry: &Entry| -> Vec<String> {
        // That there is no crow is said already.
        let codes = entry.warnings.split_whitespace().filter(|code| *code != "no-crow");
        codes.map(doubt).collect()
    };
    match attention {
        Attention::NotRead => entry.error.iter().cloned().collect(),
        Attention::Split => entry.alignment_cents.map(cents).into_iter().collect(),
        Attention::OffTarget => entry.target_cents.map(cents).into_iter().collect(),
        Attention::Doubtful | Attention::NoCrow => codes(entry),
        Attention::Single if is_peep => vec![words::PEEP.to_owned()],
        Attention::Single => Vec::new(),
        Attention::Turns => entry.switches_per_s.map(words::turns).into_iter().collect(),
        Attention::Late => entry.low_delay_s.map(words::late).into_iter().collect(),
        Attention::Rattle => entry.rattle_depth.map(words::deep).into_iter().collect(),
        Attention::Unsettled => Vec::new(),
    }
}

/// A length of time as hours, minutes and seconds.
pub fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}
