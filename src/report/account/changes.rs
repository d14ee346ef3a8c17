//! What changed, figure by figure, for somebody who plays the reed and knows no figures: what is
//! better first, then what is worse, then what stayed.

use crate::comparison::{Change, Comparison, Verdict};
use crate::profile::Profile;
use crate::reading::Kind;
use crate::report::format::{counted_number, number, percent, seconds};
use crate::report::terminal::words;

/// What a change means to the player.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Turn {
    Better,
    Worse,
    /// Neither: without a target a pitch is no better than another.
    Other,
}

/// One line for each thing that changed for sure, one for all that stayed, one where nothing can be
/// told of pitch.
pub(super) fn told(comparison: &Comparison, profile: &Profile) -> Vec<String> {
    let has_target = comparison.changes.iter().any(|change| change.figure == TARGET);
    let figures = FIGURES.iter().filter(|figure| !(has_target && figure.path == HERTZ));
    let found = figures.filter_map(|figure| {
        let change = comparison.changes.iter().find(|change| change.figure == figure.path)?;
        Some((figure, change))
    });
    let mut turns: Vec<(Turn, String)> = kinds(comparison).into_iter().collect();
    let mut same = Vec::new();
    let mut unclear = None;
    for (figure, change) in found {
        match change.verdict {
            _ if change.matters(profile) && stays_in_tune(comparison, change, profile) => {
                let by = by_cents(change.difference, change);
                let moved = format!("its pitch ({} {by}; in tune before and after)", way(change));
                same.push(moved);
            }
            _ if change.matters(profile) => {
                turns.push((turn(change, profile), (figure.says)(change, profile)));
            }
            Verdict::Unclear if [TARGET, HERTZ].contains(&figure.path) => {
                unclear = Some("Whether its pitch moved, these crows do not tell.".to_owned());
            }
            Verdict::Unclear => {}
            _ => same.push(figure.stays.to_owned()),
        }
    }
    turns.sort_by_key(|(turn, _)| *turn);
    let line = |(turn, says): (Turn, String)| match turn {
        Turn::Better => format!("Better: {says}."),
        Turn::Worse => format!("Worse: {says}."),
        Turn::Other => format!("Changed: {says}."),
    };
    let same = (!same.is_empty()).then(|| format!("About as before: {}.", same.join(", ")));
    turns.into_iter().map(line).chain(same).chain(unclear).collect()
}

/// One figure that a player hears.
struct Figure {
    path: &'static str,
    /// What stayed, where it did.
    stays: &'static str,
    /// How it moved.
    says: fn(&Change, &Profile) -> String,
}

const TARGET: &str = "fundamental.target_cents";
const HERTZ: &str = "fundamental.hz";
const REGISTER: &str = "fundamental.register";

/// The figures an owner is told; the frequency where there is no target.
const FIGURES: [Figure; 7] = [
    Figure { path: TARGET, stays: "its pitch", says: pitch },
    Figure { path: HERTZ, stays: "its pitch", says: frequency },
    Figure { path: "alignment.cents", stays: "how true the octaves are", says: octaves },
    Figure { path: "response.onset_s", stays: "how soon it speaks", says: onset },
    Figure { path: "response.low_delay_s", stays: "how late the low octave comes", says: low },
    Figure { path: "steadiness.spread_cents", stays: "how steady the pitch is", says: wander },
    Figure { path: "steadiness.rattle_depth", stays: "the rattle", says: rattle },
];

/// All figures but the frequency are best at 0. A pitch that went through the target and out on the
/// other side is no success, even where it lies a little nearer.
fn turn(change: &Change, profile: &Profile) -> Turn {
    match change.figure.as_str() {
        HERTZ => Turn::Other,
        TARGET if went_past(change, profile) => Turn::Other,
        _ if change.after.abs() < change.before.abs() => Turn::Better,
        _ => Turn::Worse,
    }
}

/// Whether it was flat and is sharp, or the other way, and out of tune both times, yet no further off.
fn went_past(change: &Change, profile: &Profile) -> bool {
    let limit = profile.tolerance.target_cents;
    let (before, after) = (change.before, change.after);
    before * after < 0.0
        && after.abs() > limit
        && before.abs() > limit
        && after.abs() <= before.abs()
}

/// Whether a pitch counts as in tune on both sides: of crows of one tone, or in octaves, where the
/// profile wants them.
fn stays_in_tune(comparison: &Comparison, change: &Change, profile: &Profile) -> bool {
    let limit = profile.tolerance.target_cents;
    let is_one_tone = |kind| matches!(kind, Some(Kind::Octaves | Kind::Blended | Kind::Single));
    let lowest = f64::from(profile.lowest_register());
    let register = comparison.changes.iter().find(|change| change.figure == REGISTER);
    let in_place = |at: f64| (at - lowest).abs() < 0.5;
    change.figure == TARGET
        && change.before.abs() <= limit
        && change.after.abs() <= limit
        && is_one_tone(comparison.before.kind)
        && is_one_tone(comparison.after.kind)
        && register.is_none_or(|at| in_place(at.before) && in_place(at.after))
}

fn kinds(comparison: &Comparison) -> Option<(Turn, String)> {
    let (before, after) = (comparison.before.kind?, comparison.after.kind?);
    let turn = match (before, after) {
        _ if before == after => return None,
        // What the sound does not tell is neither better nor worse.
        (Kind::Blended, Kind::Octaves | Kind::Single)
        | (Kind::Octaves | Kind::Single, Kind::Blended) => Turn::Other,
        (_, Kind::Octaves) => Turn::Better,
        (Kind::Octaves, _) => Turn::Worse,
        _ => Turn::Other,
    };
    Some((turn, format!("it was {}; now it is {}", words::kind(before), words::kind(after))))
}

/// `by about 39 cents`, and where crows of different loudness were reckoned to one, so.
fn by_cents(cents: f64, change: &Change) -> String {
    let alike = if change.level_adjusted { " when blown equally hard" } else { "" };
    format!("by about {}{alike}", whole_cents(cents))
}

fn whole_cents(cents: f64) -> String {
    counted_number(&number(cents.abs(), 0), "cent")
}

fn way(change: &Change) -> &'static str {
    if change.difference < 0.0 { "fell" } else { "rose" }
}

fn pitch(change: &Change, profile: &Profile) -> String {
    let off = |cents: f64| match (number(cents.abs(), 0).as_str(), cents < 0.0) {
        ("0", _) => "on its note".to_owned(),
        (_, true) => format!("{} flat", whole_cents(cents)),
        (_, false) => format!("{} sharp", whole_cents(cents)),
    };
    let (before, after) = (off(change.before), off(change.after));
    let by = by_cents(change.difference, change);
    let past = if went_past(change, profile) { ", past the target" } else { "" };
    format!("the pitch {} {by}{past}; it was {before} and is {after} now", way(change))
}

fn frequency(change: &Change, _: &Profile) -> String {
    let hz = |hz: f64| number(hz, 0);
    let cents = 1200.0 * (1.0 + change.difference / change.before.max(1.0)).max(0.5).log2();
    let by = by_cents(cents, change);
    format!("the pitch {} {by}, from {} to {} Hz", way(change), hz(change.before), hz(change.after))
}

/// Octaves nearer to 2:1 than the ear tells by beats count as true, as they do on the card.
fn octaves(change: &Change, _: &Profile) -> String {
    const TRUE_CENTS: f64 = 5.0;
    let is_true = |cents: f64| cents.abs() <= TRUE_CENTS;
    let apart = |cents: f64| format!("{} out of tune with each other", whole_cents(cents));
    match (is_true(change.before), is_true(change.after)) {
        (true, false) => {
            format!("its octaves stand {}; they were true before", apart(change.after))
        }
        (false, true) => {
            format!("its octaves are true; before, they stood {}", apart(change.before))
        }
        _ => format!(
            "its octaves stand {}; before, it was {}",
            apart(change.after),
            whole_cents(change.before)
        ),
    }
}

fn onset(change: &Change, _: &Profile) -> String {
    let (before, after) = (seconds(change.before), seconds(change.after));
    format!("it speaks after {after} of breath; before, it took {before}")
}

fn low(change: &Change, _: &Profile) -> String {
    let comes = |s: f64| match seconds(s).as_str() {
        "0.00 s" => "with the first tone".to_owned(),
        late => format!("{late} after the first tone"),
    };
    let before = match seconds(change.before).as_str() {
        "0.00 s" => "it came with it".to_owned(),
        late => late.to_owned(),
    };
    format!("the low octave comes {}; before, {before}", comes(change.after))
}

fn wander(change: &Change, _: &Profile) -> String {
    let (before, after) = (whole_cents(change.before), whole_cents(change.after));
    format!("the pitch wanders by {after}; before, by {before}")
}

fn rattle(change: &Change, _: &Profile) -> String {
    let (before, after) = (percent(change.before), percent(change.after));
    format!("its rattle is {after} deep; before, it was {before}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::Side;

    fn change(figure: &str, before: f64, after: f64) -> Change {
        let difference = after - before;
        Change {
            figure: figure.into(),
            octave_hz: None,
            before,
            after,
            difference,
            ci95: Some(difference.abs() / 10.0),
            verdict: if difference < 0.0 { Verdict::Fell } else { Verdict::Rose },
            level_adjusted: false,
            crows_needed: None,
        }
    }

    fn of(kinds: (Kind, Kind), changes: Vec<Change>) -> Vec<String> {
        let side =
            |kind| Side { source: Vec::new(), crow_count: 3, kind: Some(kind), kind_count: 3 };
        let comparison = Comparison {
            schema: 1,
            before: side(kinds.0),
            after: side(kinds.1),
            changes,
            notes: Vec::new(),
        };
        told(&comparison, &Profile::default())
    }

    /// A figure that rose is no success by that.
    #[test]
    fn what_is_worse_is_called_so_and_in_figures_that_a_player_can_use() {
        let lines = of(
            (Kind::Octaves, Kind::Split),
            vec![
                change(TARGET, -57.4, -21.9),
                change("alignment.cents", 0.000_1, 20.002),
                change("response.low_delay_s", 0.21, 0.108),
                Change { verdict: Verdict::Same, ..change("steadiness.spread_cents", 2.0, 2.4) },
                change("response.onset_s", 0.10, 0.11),
            ],
        );
        assert_eq!(
            lines,
            [
                "Better: the pitch rose by about 36 cents; it was 57 cents flat and is 22 cents flat \
                 now.",
                "Better: the low octave comes 0.11 s after the first tone; before, 0.21 s.",
                "Worse: it was in octaves; now it is split: two tones that are not an octave apart.",
                "Worse: its octaves stand 20 cents out of tune with each other; they were true \
                 before.",
                "About as before: how soon it speaks, how steady the pitch is.",
            ]
        );
    }

    /// The profile counts up to 15 cents as in tune.
    #[test]
    fn a_pitch_in_tune_before_and_after_is_no_worse_and_one_gone_past_no_better() {
        let said = |before: f64, after: f64| {
            of((Kind::Octaves, Kind::Octaves), vec![change(TARGET, before, after)]).remove(0)
        };
        assert_eq!(
            said(-6.0, 7.4),
            "About as before: its pitch (rose by about 13 cents; in tune before and after)."
        );
        assert_eq!(
            said(-41.0, 36.0),
            "Changed: the pitch rose by about 77 cents, past the target; it was 41 cents flat and is \
             36 cents sharp now."
        );
        for (before, after, turn) in [
            (-41.0, 9.0, "Better"),
            (-7.0, 16.0, "Worse"),
            (-20.0, 31.0, "Worse"),
            (-41.0, -21.0, "Better"),
        ] {
            assert!(said(before, after).starts_with(turn), "{}", said(before, after));
        }
        let split = of((Kind::Split, Kind::Split), vec![change(TARGET, -1.0, 12.0)]);
        assert!(split[0].starts_with("Worse"), "{split:?}");
    }

    #[test]
    fn past_the_note_and_further_from_it_is_worse() {
        let lines = of((Kind::Octaves, Kind::Octaves), vec![change(TARGET, -8.0, 31.0)]);
        assert!(lines[0].starts_with("Worse: the pitch rose by about 39 cents"), "{lines:?}");
        let lines = of((Kind::Octaves, Kind::Octaves), vec![change(HERTZ, 500.0, 510.0)]);
        // 1200 log2(510/500) = 34.3 cents.
        let said = "Changed: the pitch rose by about 34 cents, from 500 to 510 Hz.";
        assert_eq!(lines, [said]);
    }
}
