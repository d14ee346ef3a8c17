//! The card a maker reads at arm's length: one per take, pitch first, the next move last.
//!
//! A figure that is absent has no line.

mod style;
#[cfg(test)]
mod tests;

pub use style::{Role, Style};

use crate::advice::Advice;
use crate::pitch::{A4, Note};
use crate::profile::Profile;
use crate::reading::{Crow, Kind, Reading, Rung};
use crate::reed::Finding;
use crate::text::visible;
use crate::words::card::label;
use crate::words::devices::kept;
use crate::words::format::{LengthUnit, capital, dbfs, millimetres, number, seconds};
use crate::words::reading::also_heard;
use crate::words::{advice as advice_words, card as words};

/// Columns before the text of a row.
const LABEL: usize = 14;

/// Columns from which on rungs have bars and crows their level.
const WIDE: usize = 76;

/// Columns under which a rung, and a crow, takes two lines.
const NARROW: usize = 60;

/// The whole card of one take.
///
/// * `advice`: the next move, where one was worked out.
///
/// Returns lines of at most `style.width` columns where words allow, each ended by a line feed.
pub fn card(
    reading: &Reading,
    advice: Option<&Advice>,
    profile: &Profile,
    style: &Style,
) -> String {
    whole_card(reading, advice, profile, style, true)
}

/// As [`card`], for a take whose crows were told one by one as they ended: without their list.
pub fn card_after_crows(
    reading: &Reading,
    advice: Option<&Advice>,
    profile: &Profile,
    style: &Style,
) -> String {
    whole_card(reading, advice, profile, style, false)
}

fn whole_card(
    reading: &Reading,
    advice: Option<&Advice>,
    profile: &Profile,
    style: &Style,
    with_crows: bool,
) -> String {
    let mut card = Card { style, lines: Vec::new() };
    card.heading(reading, profile);
    if reading.summary.crow_count == 0 {
        card.no_crow(reading);
    } else {
        card.summary(reading, profile);
        if with_crows {
            card.crows(reading, profile);
        }
    }
    if let Some(others) = also_heard(&reading.others) {
        card.row(label::SET_ASIDE, &others);
        card.push(String::new());
    }
    if let Some(checked) = &reading.microphone {
        card.row(label::MICROPHONE, &kept(checked));
        card.push(String::new());
    }
    for warning in &reading.warnings {
        card.warning(&labelled(label::BEWARE), &warning.text);
    }
    if let Some(advice) = advice {
        card.next_move(advice, &[], LengthUnit::Millimetres);
    }
    let mut text = card.lines.join("\n");
    text.push('\n');
    style.letters(text)
}

/// A take in a few rows: pitch, crows, and what makes them doubtful.
pub fn short(reading: &Reading, profile: &Profile, style: &Style) -> String {
    let mut card = Card { style, lines: Vec::new() };
    let summary = &reading.summary;
    match summary.kind {
        None => card.row(label::CROW, &words::no_crow(reading)),
        Some(kind) => {
            let pitch = words::pitch(&summary.figures, profile);
            card.row(label::PITCH, pitch.as_deref().unwrap_or(words::NO_TONE));
            if let Some(aside) = words::pitch_aside(reading, profile) {
                card.row("", &aside);
            }
            let same = reading.crows.iter().filter(|crow| crow.kind == kind).count();
            let is_upper = words::is_upper(&summary.figures, profile);
            card.row(label::CROW, &words::crows(summary.crow_count, same, kind, is_upper));
            if let Some(turns) = words::turns(&summary.figures, profile) {
                card.row("", &turns);
            }
        }
    }
    if let Some(others) = also_heard(&reading.others) {
        card.row(label::SET_ASIDE, &others);
    }
    for warning in &reading.warnings {
        card.warning(&labelled(label::BEWARE), &warning.text);
    }
    style.letters(card.lines.join("\n") + "\n")
}

/// One line for one crow, as it is shown in the card and while listening; two on a narrow terminal,
/// parted by a line feed.
///
/// * `number`: which crow of the take, counted from 1.
/// * `profile`: notes are named as its target is, and it says what the upper octave is.
pub fn crow_line(number: usize, crow: &Crow, a4: A4, profile: &Profile, style: &Style) -> String {
    let target = profile.target;
    let times =
        format!("{}–{}", crate::words::format::number(crow.start_s, 2), seconds(crow.end_s));
    let kind = words::kind_word(crow.kind, words::is_upper(&crow.figures, profile));
    let mut parts = vec![format!("{kind:<10}")];
    if crow.kind != Kind::Breath {
        parts
            .push(format!("{:<14}", words::short_pitch(&crow.figures, target).unwrap_or_default()));
        // Of one tone its pitch says it all: what else stands there is its overtones.
        let octaves = match crow.kind {
            Kind::Single => String::new(),
            _ => words::octaves_held(&crow.figures, a4, target),
        };
        parts.push(format!("{octaves:<9}"));
        if style.width >= WIDE {
            parts.push(crow.figures.level_dbfs.map(dbfs).unwrap_or_default());
        }
    }
    let line = match style.width < NARROW && parts.len() > 1 {
        true => {
            let kind = parts.remove(0);
            let more = parts.join("  ");
            format!("{number:>3}  {times:<15} {}\n     {}", kind.trim_end(), more.trim_end())
        }
        false => format!("{number:>3}  {times:<15} {}", parts.join("  ")),
    };
    style.letters(line.trim_end().to_owned())
}

/// One labelled row as the card has them, ended by a line feed.
pub fn row(label: &str, text: &str, style: &Style) -> String {
    let mut card = Card { style, lines: Vec::new() };
    card.row(label, text);
    style.letters(card.lines.join("\n") + "\n")
}

/// What makes a reading doubtful, and what to take care of with its move; empty where nothing is.
pub fn beware(reading: &Reading, advice: &Advice, style: &Style) -> String {
    let mut card = Card { style, lines: Vec::new() };
    for warning in &reading.warnings {
        card.warning(&labelled(label::BEWARE), &warning.text);
    }
    card.cautions(&advice.cautions);
    style.letters(card.lines.join("\n"))
}

/// The next move with its reasons, what to do then and what to take care of, as the card has them.
///
/// * `found`: what ruler and eyes found on the reed, whose lengths the reasons tell in `unit`.
pub fn next_move(advice: &Advice, found: &[Finding], unit: LengthUnit, style: &Style) -> String {
    let mut card = Card { style, lines: Vec::new() };
    card.next_move(advice, found, unit);
    style.letters(card.lines.join("\n") + "\n")
}

/// Cautions as the card has them, for the end of several cards; empty without any.
pub fn cautions(cautions: &[String], style: &Style) -> String {
    if cautions.is_empty() {
        return String::new();
    }
    let mut card = Card { style, lines: Vec::new() };
    card.cautions(cautions);
    style.letters(card.lines.join("\n") + "\n")
}

struct Card<'a> {
    style: &'a Style,
    lines: Vec<String>,
}

impl Card<'_> {
    fn heading(&mut self, reading: &Reading, profile: &Profile) {
        let mut about = vec![seconds(reading.duration_s)];
        if reading.channels > 1 {
            about.push(format!("channel {} of {}", reading.channel, reading.channels));
        }
        about.push(match profile.target {
            Some(target) => words::held_to(&reading.profile, &target.to_string()),
            None => words::held_to(&reading.profile, words::NO_NOTE),
        });
        about.push(format!("A4 = {} Hz", trimmed(reading.a4_hz)));
        self.push(self.style.paint(Role::Headline, &visible(&reading.source)));
        for line in self.style.wrapped("", &about.join(" · ")) {
            self.push(self.style.paint(Role::Aside, &line));
        }
        self.push(String::new());
    }

    fn no_crow(&mut self, reading: &Reading) {
        let told = words::no_crow_heard(words::is_silent(reading));
        self.push(self.style.paint(Role::Headline, &format!("  {told}")));
        if !reading.crows.is_empty() {
            self.row(label::HEARD, &words::air(reading));
        }
        self.push(String::new());
    }

    fn summary(&mut self, reading: &Reading, profile: &Profile) {
        let summary = &reading.summary;
        let figures = &summary.figures;
        let a4 = A4::new(reading.a4_hz).unwrap_or_default();
        let pitch = words::pitch(figures, profile).unwrap_or_else(|| capital(words::NO_TONE));
        for line in self.style.wrapped("  ", &pitch) {
            self.push(self.style.paint(Role::Headline, &line));
        }
        if let Some(aside) = words::pitch_aside(reading, profile) {
            for line in self.style.wrapped("  ", &aside) {
                self.push(line);
            }
        }
        self.push(String::new());
        if let Some(kind) = summary.kind {
            self.row(label::CROW, &words::kind_of_take(kind, figures, profile));
        }
        let mut above = "";
        for (index, rung) in figures.rungs.iter().enumerate().rev() {
            // What stands over one tone is its overtones, whatever octaves they lie in.
            let part = match (summary.kind, profile.expects(rung.hz, index, a4)) {
                (Some(Kind::Single), _) if index == 0 => label::ONE_TONE[0],
                (Some(Kind::Single), _) => label::ONE_TONE[1],
                (_, true) => label::OCTAVES[0],
                (_, false) => label::OCTAVES[1],
            };
            self.rung(if part == above { "" } else { part }, rung, a4, profile.target);
            above = part;
        }
        let alignment = (label::ALIGNMENT, words::alignment(figures, summary.kind));
        let manners = words::manners(figures, summary.kind, profile);
        for (label, text) in std::iter::once(alignment).chain(manners) {
            if let Some(text) = text {
                self.row(label, &text);
            }
        }
        let room = self.style.width.saturating_sub(LABEL);
        for (index, text) in words::bands(figures, room).iter().enumerate() {
            self.push(labelled(if index == 0 { label::BANDS } else { "" }) + text);
        }
        self.push(String::new());
    }

    fn rung(&mut self, label: &str, rung: &Rung, a4: A4, target: Option<Note>) {
        let is_wide = self.style.width >= WIDE;
        if self.style.width < NARROW {
            self.push(labelled(label) + &words::rung_level(rung, a4, target, false));
            let time = words::rung_time(rung);
            let switches = words::switches(rung).map(|switches| format!(", {switches}"));
            self.row("", &(time.trim().to_owned() + &switches.unwrap_or_default()));
            return;
        }
        let level = words::rung_level(rung, a4, target, is_wide);
        let line = labelled(label) + &level + &words::rung_time(rung);
        match words::switches(rung) {
            Some(switches) if is_wide => self.push(format!("{line}, {switches}")),
            Some(switches) => {
                self.push(line);
                self.row("", &switches);
            }
            None => self.push(line),
        }
    }

    fn crows(&mut self, reading: &Reading, profile: &Profile) {
        let a4 = A4::new(reading.a4_hz).unwrap_or_default();
        for (index, crow) in reading.crows.iter().enumerate() {
            for line in crow_line(index + 1, crow, a4, profile, self.style).lines() {
                self.push(self.style.paint(Role::Aside, &format!("  {line}")));
            }
        }
        self.push(String::new());
    }

    fn next_move(&mut self, advice: &Advice, found: &[Finding], unit: LengthUnit) {
        let headline = move_line(advice, unit);
        if self.lines.last().is_some_and(|line| !line.is_empty()) {
            self.push(String::new());
        }
        for line in self.style.wrapped(&labelled(label::NEXT), &headline) {
            self.push(self.style.paint(Role::Move, &line));
        }
        for (index, reason) in advice.because.iter().enumerate() {
            let label = labelled(if index == 0 { label::BECAUSE } else { "" });
            self.lines.extend(
                self.style.wrapped(&(label + "- "), &advice_words::reason(reason, found, unit)),
            );
        }
        for (index, other) in advice.otherwise.iter().enumerate() {
            let label = labelled(if index == 0 { label::OR } else { "" });
            self.lines.extend(self.style.wrapped(&(label + "- "), &advice_words::or_else(other)));
        }
        if let Some(pitch) = advice_words::pitch_after(advice) {
            self.row(label::EXPECT, &pitch);
        }
        if !advice.then.is_empty() {
            self.row(label::THEN, &advice.then);
        }
        self.cautions(&advice.cautions);
    }

    fn cautions(&mut self, cautions: &[String]) {
        for (index, caution) in cautions.iter().enumerate() {
            let label = labelled(if index == 0 { label::TAKE_CARE } else { "" });
            self.warning(&(label + "- "), caution);
        }
    }

    fn row(&mut self, label: &str, text: &str) {
        self.lines.extend(self.style.wrapped(&labelled(label), text));
    }

    fn warning(&mut self, label: &str, text: &str) {
        for line in self.style.wrapped(label, text) {
            self.push(self.style.paint(Role::Warning, &line));
        }
    }

    fn push(&mut self, line: String) {
        self.lines.push(line);
    }
}

/// The next move in one line: `Clip the end, 0.15 mm: the end, straight across (88 % sure)`.
pub fn move_line(advice: &Advice, unit: LengthUnit) -> String {
    let mut line = advice_words::order(advice.next, &advice.r#where).to_owned();
    if let Some(amount_mm) = advice.told_mm() {
        line += &format!(", {}", unit.beside(&millimetres(amount_mm), amount_mm));
    }
    if let Some(place) = advice_words::place(advice.next, &advice.r#where) {
        line += &format!(": {place}");
    }
    match advice.next.asks() {
        true => line,
        false => line + &format!(" ({} sure)", advice_words::percent(advice.confidence)),
    }
}

fn labelled(label: &str) -> String {
    format!("  {label:<width$}", width = LABEL - 2)
}

fn trimmed(value: f64) -> String {
    let text = number(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
