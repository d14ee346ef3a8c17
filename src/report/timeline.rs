//! The way of one reed at a glance: pitch, octaves and length from cut to cut, side by side.

use crate::log::Stage;
use crate::pitch::Note;
use crate::units::{Hertz, Millimetres};
use crate::words::card as words;
use crate::words::format::{LengthUnit, millimetres_alone, number, signed};
use crate::words::pictures::cents_from;
use crate::words::sheet;
use crate::words::stage::{is_upper, octaves_off};

/// Four rows, one column for each stage, and the course of pitch and length behind them.
///
/// * `stages`: as the log gives them, the reed as it came first.
/// * `target`: the note that the profile holds a crow's lowest tone to; without one pitch counts from
///   the first stage that was heard. Of a crow in another octave the note there is named, and it has
///   no place in the course.
/// * `width`: letters to a line. Where the stages do not fit, the earliest columns are left out
///   and counted; the course shows the last 40 of them. A course too wide for the line is left
///   out.
///
/// Returns lines that each end in a line feed; nothing without stages.
pub fn glance(stages: &[Stage], target: Option<Note>, unit: LengthUnit, width: usize) -> String {
    if stages.is_empty() {
        return String::new();
    }
    let value = |value: Option<f64>, places| value.map_or("–".into(), |v| number(v, places));
    let pitch = PitchCourse::of(stages, target);
    let columns: Vec<[String; 4]> = stages
        .iter()
        .zip(&pitch.cents)
        .map(|(stage, cents)| {
            [
                shortened(&done(stage, unit)),
                elsewhere(stage, target).unwrap_or_else(|| value(*cents, 0)),
                stage_kind(stage, target).to_owned(),
                stage
                    .length
                    .map_or("–".into(), |length| bare(length.mm, unit, |mm| number(mm, 1))),
            ]
        })
        .collect();
    let lengths: Vec<_> = stages.iter().map(|stage| stage.length.map(|l| l.mm)).collect();
    let cents = cents_from(&pitch.from);
    let unit_width = cents.chars().count();
    let tails = [
        String::new(),
        format!("{cents}  {}", spark(&pitch.cents)),
        String::new(),
        format!("{:<unit_width$}  {}", unit_name(unit), spark(&lengths)),
    ];
    let tail_width = tails.iter().map(|tail| tail.chars().count()).max().unwrap_or(0);
    let with_tails = NAMES_WIDTH + tail_width + 30 <= width;
    let tail_width = if with_tails { tail_width + 2 } else { 0 };
    let first =
        columns.len() - columns_that_fit(&columns, width.saturating_sub(NAMES_WIDTH + tail_width));
    let mut lines = sheet::AT_A_GLANCE.map(|name| format!("{name:<NAMES_WIDTH$}"));
    if first > 0 {
        for (index, line) in lines.iter_mut().enumerate() {
            let before = if index == 0 {
                format!("  {}", sheet::stages_before(first))
            } else {
                String::new()
            };
            *line += &format!("{before:<BEFORE_WIDTH$}");
        }
    }
    for column in &columns[first..] {
        let width = column_width(column);
        for (line, cell) in lines.iter_mut().zip(column) {
            *line += &format!("  {cell:>width$}");
        }
    }
    if with_tails {
        for (line, tail) in lines.iter_mut().zip(&tails) {
            *line += &format!("  {tail}");
        }
    }
    lines.map(|line| line.trim_end().to_owned() + "\n").concat()
}

/// Pitch over the stages of a reed, from one note.
pub(super) struct PitchCourse {
    /// What cents count from, in words.
    pub(super) from: String,
    /// `[stages]`; `None` where nothing held a pitch.
    pub(super) cents: Vec<Option<f64>>,
}

impl PitchCourse {
    /// From the target where there is one, else from the first stage that was heard.
    pub(super) fn of(stages: &[Stage], target: Option<Note>) -> Self {
        if let Some(note) = target {
            let here = |stage: &&Stage| octaves_off(stage, target) == 0;
            let cents = |stage| Some(stage).filter(here).and_then(|stage| stage.target_cents);
            let cents = stages.iter().map(cents).collect();
            return Self { from: note.to_string(), cents };
        }
        let tones: Vec<_> = stages.iter().map(|stage| stage.hz.and_then(Hertz::new)).collect();
        let first = tones.iter().flatten().next().copied();
        let cents = tones.iter().map(|tone| Some(first?.cents_to((*tone)?).0)).collect();
        Self { from: sheet::THE_FIRST.into(), cents }
    }
}

/// The note and cents of a stage that sounds in another octave than `target`'s: `C6 +18`.
fn elsewhere(stage: &Stage, target: Option<Note>) -> Option<String> {
    let (octaves, target) = (octaves_off(stage, target), target?);
    let note = target.octaves_up(octaves);
    (octaves != 0).then(|| Some(format!("{note} {}", signed(stage.target_cents?, 0)))).flatten()
}

/// What led to a stage, in a few words.
pub(super) fn done(stage: &Stage, unit: LengthUnit) -> String {
    let Some(logged) = &stage.step else {
        return sheet::AS_IT_CAME.into();
    };
    match logged.step.amount_mm {
        Some(mm) => format!("{} {}", logged.step.done(), bare(mm, unit, millimetres_alone)),
        None => logged.step.done().to_owned(),
    }
}

/// A length without its unit.
///
/// * `mm`: how millimetres are shown.
fn bare(length_mm: f64, unit: LengthUnit, mm: impl Fn(f64) -> String) -> String {
    match unit {
        LengthUnit::Inches => number(Millimetres(length_mm).inches(), 3),
        _ => mm(length_mm),
    }
}

fn unit_name(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Inches => "in",
        _ => "mm",
    }
}

/// The kind of a stage in a word or two; `no crow` where it was blown in vain.
///
/// * `target`: as of [`glance`].
pub(super) fn stage_kind(stage: &Stage, target: Option<Note>) -> &'static str {
    match stage.kind {
        None if stage.takes_without_crow > 0 => sheet::NO_CROW,
        None => "–",
        Some(kind) => words::kind_word(kind, is_upper(stage, target)),
    }
}

const NAMES_WIDTH: usize = 7;
/// Room for the count of stages left out.
const BEFORE_WIDTH: usize = 12;
/// Stages shown in a course, the last ones.
const MOST_SPARKS: usize = 40;
/// Letters kept of what was done.
const LABEL_WIDTH: usize = 12;

fn shortened(label: &str) -> String {
    let letters: Vec<char> = label.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if letters.len() <= LABEL_WIDTH {
        return letters.into_iter().collect();
    }
    letters.into_iter().take(LABEL_WIDTH - 1).chain(['…']).collect()
}

fn column_width(row: &[String; 4]) -> usize {
    row.iter().map(|cell| cell.chars().count()).max().unwrap_or(0)
}

/// How many of the last columns fit side by side in `width` letters; at least the last one.
fn columns_that_fit(rows: &[[String; 4]], width: usize) -> usize {
    let whole: usize = rows.iter().map(|row| column_width(row) + 2).sum();
    if whole <= width {
        return rows.len();
    }
    let mut left = width.saturating_sub(BEFORE_WIDTH);
    let fitting = rows.iter().rev().take_while(|row| {
        let needed = column_width(row) + 2;
        let fits = needed <= left;
        left = left.saturating_sub(needed);
        fits
    });
    fitting.count().max(1)
}

/// One block for each value, higher for larger, over the range of the values; a dot where there
/// is none.
fn spark(values: &[Option<f64>]) -> String {
    const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    let values = &values[values.len().saturating_sub(MOST_SPARKS)..];
    let known = || values.iter().flatten().copied().filter(|value| value.is_finite());
    let low = known().fold(f64::INFINITY, f64::min);
    let high = known().fold(f64::NEG_INFINITY, f64::max);
    let block = |value: f64| {
        let share = if high > low { (value - low) / (high - low) } else { 0.5 };
        BLOCKS[((share * 7.0).round() as usize).min(7)]
    };
    values.iter().map(|value| value.filter(|value| value.is_finite()).map_or('·', block)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::{Length, LoggedStep, Step};
    use crate::reading::Kind;
    use crate::reed::Cut;

    fn mended() -> Vec<Stage> {
        let stage = |number, step: Option<Step>, kind, target_cents: Option<f64>, mm: f64| Stage {
            number,
            step: step.map(|step| LoggedStep {
                at: String::new(),
                number: Some(number),
                step,
                advised: None,
            }),
            length: Some(Length { mm, measured: true }),
            takes: 1,
            takes_without_crow: 0,
            takes_of_air: 0,
            crows: 3,
            in_octaves: None,
            kind,
            kinds: Vec::new(),
            named: None,
            pitched: 0,
            hz: target_cents.map(|cents| 523.25 * (cents / 1200.0).exp2()),
            target_cents,
            register: None,
            alignment_cents: None,
        };
        vec![
            stage(0, None, Some(Kind::Split), Some(-62.4), 71.0),
            stage(1, Some(Step::new(Cut::Clip, Some(0.3))), Some(Kind::Octaves), Some(-38.0), 70.7),
            stage(2, Some(Step::new(Cut::HeartSides, None)), None, None, 70.7),
            stage(3, Some(Step::new(Cut::Clip, Some(0.2))), Some(Kind::Octaves), Some(-4.0), 70.5),
        ]
    }

    fn c5() -> Option<Note> {
        "C5".parse().ok()
    }

    #[test]
    fn every_stage_has_its_column_and_pitch_and_length_their_course() {
        insta::assert_snapshot!(glance(&mended(), c5(), LengthUnit::Millimetres, 100), @r"
        cut      as it came  clip 0.3  heart sides  clip 0.2
        pitch           −62       −38            –        −4  cents from C5  ▁▄·█
        octaves   two tones   octaves            –   octaves
        length         71.0      70.7         70.7      70.5  mm             █▄▄▁
        ");
    }

    /// 71.0, 70.7 and 70.5 mm over 25.4; clips of 0.3 and 0.2 mm.
    #[test]
    fn inches_reach_every_length() {
        insta::assert_snapshot!(glance(&mended(), c5(), LengthUnit::Inches, 100), @r"
        cut      as it came  clip 0.012  heart sides  clip 0.008
        pitch           −62         −38            –          −4  cents from C5  ▁▄·█
        octaves   two tones     octaves            –     octaves
        length        2.795       2.783        2.783       2.776  in             █▄▄▁
        ");
    }

    #[test]
    fn the_earliest_stages_give_way_on_a_narrow_screen() {
        insta::assert_snapshot!(glance(&mended(), c5(), LengthUnit::Millimetres, 68), @r"
        cut      2 before    heart sides  clip 0.2
        pitch                          –        −4  cents from C5  ▁▄·█
        octaves                        –   octaves
        length                      70.7      70.5  mm             █▄▄▁
        ");
        insta::assert_snapshot!(glance(&mended(), c5(), LengthUnit::Millimetres, 40), @r"
        cut      3 before    clip 0.2
        pitch                      −4
        octaves               octaves
        length                   70.5
        ");
    }

    #[test]
    fn without_a_target_pitch_counts_from_the_first_heard() {
        let text = glance(&mended(), None, LengthUnit::Millimetres, 100);
        assert!(text.contains(&cents_from(sheet::THE_FIRST)) && text.contains(" 58 "), "{text}");
    }

    #[test]
    fn no_stages_and_no_figures_need_no_room() {
        assert_eq!(glance(&[], c5(), LengthUnit::Millimetres, 80), "");
        let mut stages = mended();
        stages.truncate(1);
        (stages[0].kind, stages[0].target_cents, stages[0].length) = (None, None, None);
        assert_eq!(glance(&stages, c5(), LengthUnit::Millimetres, 0).matches('–').count(), 3);
    }

    #[test]
    fn one_level_stands_in_the_middle() {
        assert_eq!(spark(&[Some(3.0), None, Some(3.0), Some(f64::NAN)]), "▅·▅·");
        assert_eq!(spark(&[Some(-1.0), Some(0.0), Some(1.0)]), "▁▅█");
    }
}
