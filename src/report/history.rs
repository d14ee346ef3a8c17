//! A reed's card and its way from cut to cut, as text.

use jiff::tz::TimeZone;

use super::dates::{day, moment};
use super::table::within;
use super::terminal::Style;
use crate::log::{Card, Changed, Contradicted, Facts, History, Length, Step};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reed::{Cut, Finding, Sizes, findings};
use crate::words::bench::ONCE_MORE;
use crate::words::commands::it_said;
use crate::words::format::{LengthUnit, interval, number, signed};
use crate::words::log as words;
use crate::words::reed::{finding, inspection, measurements};
use crate::words::sheet::{self, line, of_card};
use crate::words::stage::{conditions as crowed, heard, kinds, of_which, pitch, stage_name};

/// Everything of one reed.
///
/// * `zone`: the maker's, for its dates.
pub fn sheet(
    history: &History,
    profile: &Profile,
    unit: LengthUnit,
    style: &Style,
    zone: &TimeZone,
) -> String {
    let card = &history.reed.card;
    let mut lines = vec![card.label.clone()];
    let mut row = |name: &str, value: &str| {
        lines.extend(style.wrapped(&format!("  {name:<11} "), value));
    };
    for (name, value) in card_lines(card, unit) {
        row(name, &value);
    }
    row(line::ENTERED, &moment(&history.reed.at, zone));
    if let Some(at) = &history.reed.ended_at {
        row(line::CLOSED, &moment(at, zone));
    }
    for measured in history.measured() {
        let state = measured.state.map_or(String::new(), |state| format!(", {}", state.words()));
        let stage = stage_name(measured.after_step);
        row(line::MEASURED, &format!("{} ({stage}{state})", measurements(&measured.now, unit)));
        let was = measurements(&measured.corrected, unit);
        if !was.is_empty() {
            row("", &it_said(&was));
        }
    }
    for found in history.contradictions(profile.tolerance.measuring_mm) {
        row(line::DOUBTFUL, &words::contradiction(&found, unit));
    }
    for seen in history.seen() {
        let stage = stage_name(seen.after_step);
        row(line::SEEN, &format!("{} ({stage})", inspection(&seen.now)));
        let was = inspection(&seen.corrected);
        if !was.is_empty() {
            row("", &it_said(&was));
        }
    }
    for found in ruled(history, profile) {
        row(line::FOUND, &finding(&found, unit));
    }
    for rated in history.rated() {
        let by = rated.by.as_deref().map_or(String::new(), sheet::by);
        let at = day(&rated.at, zone);
        row(
            line::RATED,
            &format!(
                "{} ({}, {at}{by})",
                sheet::rating(&rated.rating),
                stage_name(rated.after_step)
            ),
        );
    }
    for (words, stages) in conditions(history) {
        let stages: Vec<String> = stages.into_iter().map(stage_name).collect();
        row(line::CROWED, &format!("{words} ({})", stages.join(", ")));
    }
    lines.push(String::new());
    lines.join("\n") + "\n" + &way(history, profile, unit, style, zone)
}

/// What ruler and eyes find outside the usual on the reed as it is now.
pub fn ruled(history: &History, profile: &Profile) -> Vec<Finding> {
    findings(&history.measured_now(), &history.seen_now(), profile)
}

/// The same as text, a line each.
pub fn found(history: &History, profile: &Profile, unit: LengthUnit, style: &Style) -> String {
    let found = ruled(history, profile);
    let lines = found
        .iter()
        .flat_map(|one| style.wrapped(&format!("  {} ", words::FOUND), &finding(one, unit)));
    style.letters(lines.map(|line| line + "\n").collect())
}

/// What is doubtful about what was just measured, a line each. It is written down all the same.
pub fn doubts(
    history: &History,
    profile: &Profile,
    given: &Sizes,
    unit: LengthUnit,
    style: &Style,
) -> String {
    let lines = doubtful(history, profile, given, unit);
    let wrapped =
        lines.iter().flat_map(|line| style.wrapped(&format!("  {} ", words::WRITTEN_BUT), line));
    style.letters(wrapped.map(|line| line + "\n").collect())
}

/// The same, a sentence each: what contradicts an earlier stage, and a length or staple far from what such
/// reeds have.
pub fn doubtful(
    history: &History,
    profile: &Profile,
    given: &Sizes,
    unit: LengthUnit,
) -> Vec<String> {
    let now = history.stage();
    let is_given = |about| match about {
        Contradicted::Staple => given.staple_mm.is_some(),
        Contradicted::Winding => given.wound_to_mm.is_some(),
        Contradicted::TipLower | Contradicted::TipHigher => given.tip_start_mm.is_some(),
        _ => given.length_mm.is_some(),
    };
    let far = far_from_usual(given, profile, unit).into_iter();
    let contradictions = history.contradictions(profile.tolerance.measuring_mm).into_iter();
    let here = contradictions.filter(|found| found.stages.1 == now && is_given(found.about));
    far.chain(here.map(|found| words::contradiction(&found, unit))).collect()
}

/// A clip so many times as long as the longest first one is queried (our choice): a slip of the point makes
/// it ten times too long.
const LONG_CLIP: f64 = 2.0;

/// What is doubtful about a step that was just written down, a sentence each: the same cut twice, a clip that is
/// very long, or leaves less than such a reed is worth keeping at.
///
/// * `history`: with the step.
pub fn doubtful_step(
    history: &History,
    profile: &Profile,
    step: &Step,
    unit: LengthUnit,
) -> Vec<String> {
    let again = (step.cut.is_some() && history.last_cut_again()).then(|| ONCE_MORE.to_owned());
    let clip = step.amount_mm.filter(|_| step.cut == Some(Cut::Clip));
    let long = clip.filter(|mm| *mm > LONG_CLIP * profile.advice.first_clip_mm);
    let left = clip.and(history.measured_now().length_mm);
    let short = left.zip(profile.dimensions.shortest_length).filter(|(left, least)| left < least);
    let long = long.map(|mm| words::long_clip(mm, unit));
    let short = short.map(|(left, least)| words::leaves_little(left, least, unit));
    again.into_iter().chain(long).chain(short).collect()
}

/// A length or staple far from what such reeds have, a sentence each.
pub fn far_from_usual(given: &Sizes, profile: &Profile, unit: LengthUnit) -> Vec<String> {
    let usual = &profile.dimensions;
    let each = [
        (words::LENGTH, given.length_mm, usual.length),
        (words::STAPLE, given.staple_mm, usual.staple),
    ];
    let far = each.into_iter().filter_map(|(name, given, usual)| {
        let (given, usual) = (given?, usual?);
        let is_far = (given - usual).abs() > FAR_FROM_USUAL * usual;
        is_far.then(|| words::far_from_usual(name, given, usual, &profile.name, unit))
    });
    far.collect()
}

/// A length or staple this far from the usual one, as a share of it, is queried (our choice: makers of
/// one kind of reed differ by some hundredths).
const FAR_FROM_USUAL: f64 = 0.15;

/// How the reed was crowed, each in words with the stages at which it was so, in order of time.
pub fn conditions(history: &History) -> Vec<(String, Vec<u32>)> {
    let mut found: Vec<(String, Vec<u32>)> = Vec::new();
    for take in &history.takes {
        let words = take.take.conditions.as_ref().map(crowed).unwrap_or_default();
        let stage = take.take.after_step;
        match found.iter_mut().find(|(known, _)| *known == words) {
            _ if words.is_empty() => {}
            Some((_, stages)) if stages.last() == Some(&stage) => {}
            Some((_, stages)) => stages.push(stage),
            None => found.push((words, vec![stage])),
        }
    }
    found
}

/// The way of a reed: one line per stage, and below it what was written down in words.
fn way(
    history: &History,
    profile: &Profile,
    unit: LengthUnit,
    style: &Style,
    zone: &TimeZone,
) -> String {
    let facts = Facts::of(history);
    let (card, target) = (&history.reed.card, profile.lowest_note());
    let doubted = history.stages_of_doubted_length(profile.tolerance.measuring_mm);
    let mut rows = Vec::new();
    for phase in &facts.way {
        let stage = &phase.stage;
        rows.push(vec![
            stage.number.to_string(),
            day(&phase.at, zone),
            match &stage.step {
                Some(logged) => match logged.step.amount_mm {
                    Some(mm) => format!("{} {}", logged.step.done(), unit.text(mm)),
                    None => logged.step.done().to_owned(),
                },
                None => stage_name(0),
            },
            match stage.length.map(|reached| length(reached, unit)) {
                Some(told) if doubted.contains(&stage.number) => told + sheet::DOUBTED,
                told => told.unwrap_or_default(),
            },
            pitch(stage, target, a4(card)).map(|told| told + &of_which(stage)).unwrap_or_default(),
            phase.changed.as_ref().map(change).unwrap_or_default(),
            kinds(stage, target).unwrap_or_default(),
            heard(stage),
        ]);
    }
    let mut text = within(&sheet::WAY, rows, style);
    for misstep in facts.missteps(profile.tolerance.target_cents) {
        let done = history.cut(misstep.step).map(|logged| logged.step.done()).unwrap_or_default();
        let line = words::went_wrong(misstep.lost_octaves, misstep.step, done);
        text.extend(style.wrapped("", &line).into_iter().map(|line| line + "\n"));
    }
    if facts.way.iter().any(|phase| phase.changed.is_some_and(|changed| changed.level_adjusted)) {
        text.extend(style.wrapped("", words::AT_ONE_STRENGTH).into_iter().map(|line| line + "\n"));
    }
    let mut cuts = 0;
    for logged in &history.steps {
        cuts = logged.number.unwrap_or(cuts);
        let Some(words) = &logged.step.note else { continue };
        let label = match logged.number {
            Some(number) => sheet::of_step(number),
            None => sheet::note(&stage_name(cuts)),
        };
        for line in style.wrapped(&format!("{label}: "), words) {
            text += &(line + "\n");
        }
    }
    text
}

/// How a cut moved the pitch: `+39 ±6`; with `*` where it is told at one blowing strength.
fn change(changed: &Changed) -> String {
    let half = changed.ci95_cents.map(|half| format!(" {}", interval(half, 0)));
    let alike = if changed.level_adjusted { " *" } else { "" };
    let cents = changed.cents.map(|cents| signed(cents, 0));
    cents.map(|cents| cents + &half.unwrap_or_default() + alike).unwrap_or_default()
}

/// `70.2 mm`, or `about 69.9 mm` where it is reckoned from a clip.
pub fn length(length: Length, unit: LengthUnit) -> String {
    sheet::length(&unit.text(length.mm), length.measured)
}

fn a4(card: &Card) -> A4 {
    card.a4_hz.and_then(|hz| A4::new(hz).ok()).unwrap_or_default()
}

fn card_lines(card: &Card, unit: LengthUnit) -> Vec<(&'static str, String)> {
    let gouge = card.gouge_mm.map(|mm| {
        let state = card.gouge_state.map_or(String::new(), |state| format!(", {}", state.words()));
        unit.text(mm) + &state
    });
    let ending = card.ending.map(|ending| match &card.ending_note {
        Some(note) => format!("{}: {note}", ending.words()),
        None => ending.words().to_owned(),
    });
    [
        (of_card::OWNER, card.owner.clone()),
        (of_card::MAKER, card.maker.clone()),
        (of_card::PROFILE, card.profile.clone()),
        (of_card::A4, card.a4_hz.map(|hz| format!("{} Hz", number(hz, 1)))),
        (of_card::CANE, card.cane.clone()),
        (of_card::GOUGE, gouge),
        (of_card::SHAPE, card.shape.clone()),
        (of_card::STAPLE, card.staple.clone()),
        (of_card::THREAD, card.thread.clone()),
        (of_card::MADE_ON, card.made_on.clone()),
        (of_card::COMPLAINT, card.complaint.clone()),
        (of_card::DUE, card.due_on.clone()),
        (of_card::ENDING, ending),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name, value?)))
    .collect()
}
