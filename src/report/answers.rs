//! Answers of the log as tables and what is told of them, for terminal and page, and as rows for CSV.

use jiff::tz::TimeZone;
use serde::Serialize;

use super::dates::day;
use super::history::length;
use super::log_csv;
use super::table::within;
use super::terminal::Style;
use crate::log::questions::{
    ConditionAnswer, CutAnswer, CutSummary, Group, GroupAnswer, Like, LikesAnswer, MadeCut, Middle,
    OnBench, Share, Told, TrustAnswer,
};
use crate::log::{Card, Facts, is_practice};
use crate::pitch::Note;
use crate::words::format::{
    LengthUnit, cents, counted, from_to, interval, number, out_of, share_within, signed,
};
use crate::words::log::{self as words, head};
use crate::words::sheet;
use crate::words::stage::{commonest_kind, heard, pitch_short};

/// How answers are shown.
#[derive(Debug, Clone, Copy)]
pub struct Show<'a> {
    /// In what lengths are told.
    pub unit: LengthUnit,
    /// The maker's zone.
    pub zone: &'a TimeZone,
}

/// An answer, to be read from top to bottom.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answer(pub Vec<Block>);

/// A part of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// A table.
    Table {
        /// What it is of, where that needs saying.
        title: Option<&'static str>,
        /// The names of its columns.
        head: Vec<&'static str>,
        /// Its rows, as long as the head.
        rows: Vec<Vec<String>>,
    },
    /// Some sentences.
    Told(String),
    /// Text that is broken into lines already.
    Plain(String),
}

impl Answer {
    /// For a terminal.
    ///
    /// * `style`: of sentences.
    /// * `table`: of tables, which may be wider.
    pub fn text(&self, style: &Style, table: &Style) -> String {
        let mut text = String::new();
        let mut was_told = false;
        for block in &self.0 {
            let is_told = matches!(block, Block::Told(_));
            let goes_on = was_told && is_told;
            if !(text.is_empty() || goes_on) {
                text.push('\n');
            }
            was_told = is_told;
            match block {
                Block::Told(told) => text += &(style.wrapped("", told).join("\n") + "\n"),
                Block::Plain(plain) => text += plain,
                Block::Table { title, head, rows } => {
                    text += &title.map(|title| format!("{title}\n")).unwrap_or_default();
                    text += &within(head, rows.clone(), table);
                }
            }
        }
        text
    }

    fn told(text: impl Into<String>) -> Self {
        Self(vec![Block::Told(text.into())])
    }

    fn table(head: impl Into<Vec<&'static str>>, rows: Vec<Vec<String>>) -> Self {
        Self(vec![Block::Table { title: None, head: head.into(), rows }])
    }

    fn and(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }
}

/// One line per reed: label, state, when it came and ended, steps, length, last crow, owner.
///
/// * `target`: the note that a card holds its reed to.
pub fn reeds(
    reeds: &[Facts],
    mut target: impl FnMut(&Card) -> Option<Note>,
    show: Show<'_>,
) -> Answer {
    if reeds.is_empty() {
        return Answer::told(words::NO_REEDS);
    }
    let rows = reeds.iter().map(|facts| {
        let card = &facts.card;
        let crow = last_crow(facts, target(card));
        let reached = facts.way.last().and_then(|phase| phase.stage.length);
        vec![
            card.label.clone(),
            match card.ending {
                _ if is_practice(&card.label) => sheet::PRACTICE.to_owned(),
                None => sheet::OPEN.to_owned(),
                Some(ending) => ending.words().to_owned(),
            },
            day(&facts.at, show.zone),
            facts.ended_at.as_deref().map(|at| day(at, show.zone)).unwrap_or_default(),
            facts.cuts().to_string(),
            reached.map(|reached| length(reached, show.unit)).unwrap_or_default(),
            crow.unwrap_or_default(),
            card.owner.clone().unwrap_or_default(),
        ]
    });
    let table = Answer::table(head::REEDS, rows.collect());
    match reeds.iter().any(is_cut_since) {
        true => table.and(Answer::told(words::CUT_SINCE_MEANS)),
        false => table,
    }
}

/// What the last crows were, in few letters; `None` where it was never blown.
fn last_crow(facts: &Facts, target: Option<Note>) -> Option<String> {
    let stage = &facts.last_blown()?.stage;
    let crow = match stage.crows {
        0 => heard(stage),
        _ => {
            let each = [pitch_short(stage, target), commonest_kind(stage, target)];
            each.into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
    };
    Some(if is_cut_since(facts) { crow + words::CUT_SINCE } else { crow })
}

/// Whether it was cut after it was blown last.
fn is_cut_since(facts: &Facts) -> bool {
    let Some(last) = facts.last_blown() else { return false };
    let mut later = facts.way.iter().filter(|phase| phase.stage.number > last.stage.number);
    later.any(|phase| phase.cut().is_some())
}

/// What is on the bench.
pub fn bench(found: &[OnBench], show: Show<'_>) -> Answer {
    if found.is_empty() {
        return Answer::told(words::BENCH_EMPTY);
    }
    let rows = found.iter().map(|one| {
        let due = one.due_on.as_ref().map(|due| match one.overdue {
            true => words::overdue(due),
            false => due.clone(),
        });
        vec![
            one.reed.clone(),
            words::waits(&one.waits, |mm| show.unit.text(mm)),
            one.days.map(words::days_ago).unwrap_or_default(),
            due.unwrap_or_default(),
            one.owner.clone().unwrap_or_default(),
        ]
    });
    Answer::table(head::BENCH, rows.collect())
}

/// Which value of a field works.
pub fn groups(answer: &GroupAnswer) -> Answer {
    let rows = answer.groups.iter().map(|group| {
        vec![
            group.value.clone().unwrap_or_else(|| words::NOT_SAID.into()),
            group.reeds.to_string(),
            group.given_up.map(share).unwrap_or_default(),
            group.in_octaves.map(|share| out_of(share.count, share.of)).unwrap_or_default(),
            group.target_cents.map(|middle| middle_cents(&middle)).unwrap_or_default(),
            group.cuts.map(|middle| middle_text(&middle, 1)).unwrap_or_default(),
            group.hours_played.map(|middle| middle_text(&middle, 0)).unwrap_or_default(),
            differs(group),
        ]
    });
    let head: Vec<_> = std::iter::once(words::field(answer.by)).chain(head::OF_GROUP).collect();
    Answer::table(head, rows.collect()).and(Answer::told(words::GROUPS))
}

/// What differs for sure.
fn differs(group: &Group) -> String {
    let each = [
        (group.given_up_told, words::GIVEN_UP_DIFFERS),
        (group.cuts_told, words::CUTS_DIFFER),
        (group.target_told, words::PITCH_DIFFERS),
    ];
    let sure: Vec<&str> = each
        .into_iter()
        .filter_map(|(told, (more, less))| match told {
            Told::More => Some(more),
            Told::Less => Some(less),
            Told::CannotTell => None,
        })
        .collect();
    match sure.is_empty() {
        true => words::against_others(Told::CannotTell).to_owned(),
        false => sure.join(", "),
    }
}

/// `2 of 10 (6–51 %)`.
fn share(share: Share) -> String {
    let percent = |part: f64| number(100.0 * part, 0);
    share_within(&out_of(share.count, share.of), &percent(share.low), &percent(share.high))
}

fn middle_text(middle: &Middle, places: usize) -> String {
    let half = middle.ci95.map(|half| format!(" {}", interval(half, places)));
    number(middle.median, places) + &half.unwrap_or_default()
}

fn middle_cents(middle: &Middle) -> String {
    let half = middle.ci95.map(|half| format!(" {}", interval(half, 0)));
    signed(middle.median, 0) + &half.unwrap_or_default()
}

/// The most cuts that are listed one by one.
const MOST_LISTED: usize = 20;

/// What cuts did.
///
/// * `listed`: whether the cuts behind the figures are shown too.
pub fn cuts(answer: &CutAnswer, listed: bool, show: Show<'_>) -> Answer {
    let is_silent = |summary: &CutSummary| {
        summary.change_cents.is_none()
            && summary.octaves_came.is_none()
            && summary.octaves_lost.is_none()
    };
    if answer.summaries.iter().all(is_silent) {
        let reeds = counted(answer.reeds, "reed");
        return Answer::told(format!("{reeds}: {}", words::NO_CUTS));
    }
    let by = answer.by.map(words::field);
    let rows = answer.summaries.iter().map(|summary| {
        let mut row = vec![summary.cut.words().to_owned()];
        if by.is_some() {
            row.push(summary.value.clone().unwrap_or_else(|| words::NOT_SAID.into()));
        }
        row.extend(cut_cells(summary));
        row
    });
    let mut head = vec![head::CUT];
    head.extend(by);
    head.extend(head::OF_CUT);
    let mut found = Answer::table(head, rows.collect()).and(Answer::told(words::CUTS));
    let adjusted = answer.cuts.iter().filter(|made| made.level_adjusted).count();
    if adjusted > 0 {
        found = found.and(Answer::told(words::at_one_strength(&counted(adjusted, "cut"))));
    }
    if listed {
        let crowed: Vec<&MadeCut> =
            answer.cuts.iter().filter(|made| made.change_cents.is_some()).collect();
        let last = crowed.iter().skip(crowed.len().saturating_sub(MOST_LISTED));
        found.0.push(Block::Table {
            title: Some(words::CUTS_BEHIND),
            head: head::CUTS_MADE.to_vec(),
            rows: last.map(|made| made_cut(made, show)).collect(),
        });
    }
    found
}

fn cut_cells(summary: &CutSummary) -> [String; 6] {
    let of =
        |share: Option<Share>| share.map(|share| out_of(share.count, share.of)).unwrap_or_default();
    let change = summary.change_cents;
    [
        summary.made.to_string(),
        change
            .map(|middle| {
                let half = middle.ci95.map(|half| format!(" {}", interval(half, 0)));
                format!("{}{}", cents(middle.median), half.unwrap_or_default())
            })
            .unwrap_or_default(),
        change.and_then(|middle| middle.sd).map(|sd| number(sd, 0)).unwrap_or_default(),
        summary
            .per_mm
            .map(|line| {
                let half = interval(line.ci95_cents_per_mm, 0);
                format!("{} {half}", cents(line.cents_per_mm))
            })
            .unwrap_or_default(),
        of(summary.octaves_came),
        of(summary.octaves_lost),
    ]
}

fn made_cut(made: &MadeCut, show: Show<'_>) -> Vec<String> {
    let amount = made.amount_mm.map(|mm| format!(" {}", show.unit.text(mm)));
    let pitch = |cents: Option<f64>| cents.map(|cents| signed(cents, 0)).unwrap_or_default();
    let half = made.ci95_cents.map(|half| format!(" {}", interval(half, 0)));
    let octaves = words::octaves_turned(made.octaves_before, made.octaves_after);
    vec![
        made.reed.clone(),
        made.step.to_string(),
        day(&made.at, show.zone),
        made.cut.words().to_owned() + &amount.unwrap_or_default(),
        pitch(made.before_cents),
        pitch(made.after_cents),
        pitch(made.change_cents) + &half.unwrap_or_default(),
        octaves.to_owned(),
    ]
}

/// What goes with the weather, with rest and with playing.
pub fn conditions(answer: &ConditionAnswer) -> Answer {
    if answer.influences.is_empty() {
        return Answer::told(words::NO_CONDITIONS);
    }
    let rows = answer.influences.iter().map(|found| {
        let slope = found.cents_per_unit.zip(found.ci95).map(|(slope, half)| {
            format!("{} {} {}", signed(slope, 1), interval(half, 1), words::per(found.condition))
        });
        let of = |share: Option<Share>| {
            share.map(|share| out_of(share.count, share.of)).unwrap_or_default()
        };
        vec![
            words::condition(found.condition).to_owned(),
            found.takes.to_string(),
            slope.unwrap_or_default(),
            words::slope(found.told).to_owned(),
            of(found.octaves_low),
            of(found.octaves_high),
        ]
    });
    Answer::table(head::CONDITIONS, rows.collect()).and(Answer::told(words::CONDITIONS))
}

/// Rows of an answer as CSV: one column for each field.
///
/// Errors: none but those of the CSV writer on memory, which has none.
pub fn csv(rows: &[impl Serialize]) -> Result<String, csv::Error> {
    log_csv::of_rows(rows)
}

/// Which figures go with good reeds.
pub fn likes(answer: &LikesAnswer) -> Answer {
    if answer.figures.is_empty() {
        return Answer::told(words::too_few_rated(answer.reeds));
    }
    let rows = answer.figures.iter().map(|like| {
        let (name, unit, scale, decimals) = words::liked_figure(like);
        let side = |middle: Option<Middle>| {
            middle.map_or(String::new(), |middle| {
                format!("{} {unit}", number(scale * middle.median, decimals)).trim_end().to_owned()
            })
        };
        vec![
            name,
            like.count.to_string(),
            side(like.good),
            side(like.others),
            from_to(signed(like.low, 2), signed(like.high, 2)),
            words::goes_with(like.told).to_owned(),
        ]
    });
    let told = answer.figures.iter().filter(|like: &&Like| like.told != Told::CannotTell).count();
    let told = words::liked(answer, told);
    Answer::table(head::LIKES, rows.collect()).and(Answer::told(told))
}

/// What was foretold and what came: by kind of move, and by how sure it was said to be.
///
/// * `single`: each move, not their sums.
pub fn trust(answer: &TrustAnswer, single: bool) -> Answer {
    if answer.all.is_empty() {
        return Answer::told(words::NOTHING_FORETOLD);
    }
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let of = |share: &Share| out_of(share.count, share.of);
    if single {
        let rows = answer.all.iter().map(|one| {
            let foretold = one
                .foretold_cents
                .map_or(String::new(), |(low, high)| from_to(signed(low, 0), signed(high, 0)));
            vec![
                one.reed.clone(),
                one.number.to_string(),
                one.cut.words().to_owned(),
                percent(one.said),
                words::came(one.came).to_owned(),
                foretold,
                one.came_cents.map_or(String::new(), |cents| signed(cents, 0)),
            ]
        });
        return Answer::table(head::EACH_FORETOLD, rows.collect());
    }
    let Some(brier) = answer.brier else {
        let helped = answer.all.iter().filter(|one| one.came).count();
        return Answer::told(words::too_few_moves(answer.all.len(), helped));
    };
    let moves = answer.moves.iter().map(|one| {
        let held = one.pitch_held.as_ref().map_or(String::new(), of);
        let off = one.pitch_off_cents.map_or(String::new(), |off| number(off.median, 0));
        vec![one.cut.words().to_owned(), percent(one.said), of(&one.came), held, off]
    });
    let by_move = Answer::table(head::FORETOLD, moves.collect());
    let sure = answer.sure.iter().map(|one| {
        let said = from_to(percent(one.from), percent(one.to));
        vec![
            said,
            percent(one.said),
            of(&one.came),
            from_to(percent(one.came.low), percent(one.came.high)),
        ]
    });
    by_move
        .and(Answer::table(head::AS_SURE, sure.collect()))
        .and(Answer::told(words::trusted(answer.all.len(), brier)))
}
