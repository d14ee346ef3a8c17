//! The next move: a reed's story, its profile and past cuts enter; one move with its reasons leaves.
//!
//! [`story`] turns what was heard, seen, measured and done into what [`belief`] weighs its samples by;
//! [`decide`] compares what each move is worth; [`practice`] holds the numbers of both, as data. What
//! is printed of it stands in [`crate::words`].

mod belief;
mod decide;
mod explain;
mod form;
mod hearing;
pub(crate) mod practice;
mod sample;
mod says;
mod story;

pub use explain::{Explained, If, Numbers, explain};
pub use form::{Advice, Again, Chance, Expected, Other, Reason, Wanted, Where};
pub use hearing::Said;
pub use practice::{BUILT_IN_TOML, Practice, PracticeError, Sound};
pub(crate) use says::{Caution, Lost, Speaks, Then};
pub use story::{Stage, Story};

pub use crate::reed::{Move, Place};

use belief::{Belief, Pitch, Sign};
use decide::{Choice, Decision, decide, speaks_badly, spread_after, waits_for_pitch};
use practice::{Cause, SOUNDS};
use says::cautions;
use story::{Case, case};

use crate::comparison::Effects;
use crate::profile::Profile;
use crate::reading::Reading;
use crate::reed::{Cut, Fault, Inspection, Measurements};

/// The next move for a reed that gave `reading` and of which nothing more is known than what was
/// measured and seen.
///
/// A recording is read once, with nobody there to answer: where no look came with it none is asked
/// for, and without a measurement no ruler. The move is then the best that what is known supports.
pub fn advise(
    reading: &Reading,
    measured: &Measurements,
    seen: &Inspection,
    profile: &Profile,
    effects: &Effects,
) -> Advice {
    advise_on(&of_recording(reading, measured, seen), profile, effects)
}

/// What is known of a reed by one recording, and what was measured and seen.
pub fn of_recording(reading: &Reading, measured: &Measurements, seen: &Inspection) -> Story {
    let told = asked_in_vain(reading, measured, seen);
    let stage =
        Stage { takes: vec![reading.clone()], looks: vec![*seen], told, ..Stage::default() };
    Story { stages: vec![stage], measured: *measured, ..Story::default() }
}

/// What counts as asked of a recording that came without looks, or without measurements. Where no crow
/// comes, what may hold it back is asked all the same: the sound can say no more.
fn asked_in_vain(
    reading: &Reading,
    measured: &Measurements,
    seen: &Inspection,
) -> Vec<(Move, Where)> {
    use Wanted::{
        Bark, Corners, Heart, Leak, Length, Opening, Overlap, Staple, Symmetry, Tip, TipSides,
        Winding, Window,
    };
    let crows = reading.summary.crow_count > 0 || reading.crows.is_empty();
    let mut all = Vec::new();
    if *seen == Inspection::default() {
        let mut looks = vec![Leak, TipSides, Corners, Heart, Bark, Symmetry, Overlap];
        looks.retain(|one| crows || *one != Leak);
        all.push((Move::Look, Where::Wanted(looks)));
    }
    if *measured == Measurements::default() {
        let mut sizes = vec![Length, Staple, Winding, Window, Heart, Tip, Opening];
        sizes.retain(|one| crows || !matches!(one, Staple | Winding));
        all.push((Move::Measure, Where::Wanted(sizes)));
    } else if measured.length_mm.is_some() {
        // It came with the recording: it is not asked for a second time.
        all.push((Move::Measure, Where::Wanted(vec![Length])));
    }
    all
}

/// The next move for a reed by its whole story.
///
/// What was not measured or seen counts as unknown, never as sound. An answer that does not come is
/// not waited for: nothing is asked twice of the reed as it is, and crowing again no more than twice.
pub fn advise_on(story: &Story, profile: &Profile, effects: &Effects) -> Advice {
    let practice = Practice::in_use();
    let case = case(practice, story, profile, effects);
    let decision = decide(practice, &case.belief, &case.now);
    told(practice, &case, &decision, profile)
}

fn told(practice: &Practice, case: &Case, decision: &Decision, profile: &Profile) -> Advice {
    let best = &decision.choices[0];
    let near = |choice: &&Choice| {
        choice.worth > best.worth - practice.worth.nearly && !is_same(choice, best)
    };
    let mut others: Vec<&Choice> = Vec::new();
    for choice in decision.choices.iter().skip(1).filter(near) {
        if !others.iter().any(|other| is_same(other, choice)) {
            others.push(choice);
        }
    }
    let otherwise: Vec<Other> = others
        .into_iter()
        .take(2)
        .map(|choice| Other {
            next: choice.next,
            r#where: choice.at.clone(),
            chance: chance(choice),
            says: speaks_for(practice, case, choice, profile).to_string(),
        })
        .collect();
    let is_chipped = case.belief.chance(Cause::Chipped) > 0.5;
    let is_blind_clip = best.next == Move::Clip && case.now.length.is_none();
    let shortest_mm = profile.dimensions.shortest_length.filter(|_| is_blind_clip);
    Advice {
        r#where: best.at.clone(),
        amount_mm: best.amount_mm,
        strokes: strokes(best),
        because: because(practice, case, best, profile),
        confidence: best.helps.clamp(0.0, 1.0),
        chance: chance(best),
        expected: expected(practice, case, best),
        otherwise,
        if_again: if_again(practice, case, best),
        then: Then {
            next: best.next,
            place: best.at.place(),
            by_ear: is_for_the_ear(&best.at),
            crows: profile.advice.crows_wanted as u32,
            lost: lost(practice, case),
        }
        .to_string(),
        cautions: cautions(best.next, is_chipped, shortest_mm)
            .iter()
            .map(Caution::to_string)
            .collect(),
        ..Advice::of(best.next)
    }
}

/// What a reed would be given up for.
fn lost(practice: &Practice, case: &Case) -> Lost {
    if case.findings.iter().any(|found| found.fault == Fault::TooShort) {
        return Lost::TooShort;
    }
    let cause = likeliest(&case.belief).filter(|_| case.now.heard && !case.now.far);
    cause.and_then(|cause| practice.of(cause).next.clone()).map_or(Lost::Unknown, Lost::Cause)
}

/// What speaks for a move that may be as good as the one that is told.
fn speaks_for(practice: &Practice, case: &Case, choice: &Choice, profile: &Profile) -> Speaks {
    match (choice.cause, choice.next, case.now.pitch) {
        (Some(cause), ..) => {
            Speaks::MayBe { says: practice.of(cause).says.clone(), sure: case.belief.chance(cause) }
        }
        (None, Move::Clip, Some(pitch)) => off_target(pitch, profile),
        (None, Move::Leave, _) => speaks_for_leaving(case),
        (None, Move::Stop, _) => Speaks::PastHelp,
        _ => Speaks::MoreWouldTell,
    }
}

/// Nothing seems wrong, or what is heard is better left.
fn speaks_for_leaving(case: &Case) -> Speaks {
    let good = case.belief.in_order();
    let is_heard = case.now.signs || case.now.rattle_hz.is_some();
    if good >= 0.5 && !is_heard { Speaks::NothingWrong(good) } else { Speaks::CutHarms }
}

/// How far it is off the target's note in the octave that was heard.
fn off_target(pitch: Pitch, profile: &Profile) -> Speaks {
    let limit_cents = profile.tolerance.target_cents;
    let register = pitch.register.unwrap_or(profile.lowest_register());
    Speaks::Pitch { cents: pitch.cents, target: profile.note_in(register), limit_cents }
}

fn is_same(a: &Choice, b: &Choice) -> bool {
    a.next == b.next && a.at == b.at
}

fn chance(choice: &Choice) -> Chance {
    Chance { helps: choice.helps.clamp(0.0, 1.0), harms: choice.harms.clamp(0.0, 1.0) }
}

/// Light strokes on each side of both blades: fewer where they may well be too many.
fn strokes(choice: &Choice) -> Option<u32> {
    let scrapes = matches!(choice.next, Move::Tip | Move::Heart | Move::Back);
    scrapes.then_some(if choice.helps > 0.6 { 3 } else { 2 })
}

fn reason(figure: &str, value: Option<f64>, says: &Speaks) -> Reason {
    Reason { figure: figure.into(), value, says: says.to_string() }
}

/// What was heard speaks first, then what the move itself is for.
fn because(practice: &Practice, case: &Case, best: &Choice, profile: &Profile) -> Vec<Reason> {
    let mut all = Vec::new();
    let (heard, now) = (&case.heard, &case.now);
    let is_air = |crow: &[f64; SOUNDS]| crow[Sound::Air as usize] > 0.9;
    if !heard.crows.is_empty() && heard.crows.iter().all(is_air) {
        all.push(reason("kind", None, &Speaks::OnlyAir));
    } else if !heard.crows.is_empty() {
        let says = Speaks::Heard {
            octaves: now.in_octaves.round() as usize,
            crows: heard.crows.len() - heard.puffs,
            signs: heard.signs.map(Sign::is_there),
            rattle_hz: now.rattle_hz,
            unsure: if now.ask_ear { now.blended } else { 0 },
        };
        all.push(reason("kind", None, &says));
    } else if heard.strangers == 0 {
        all.push(reason("crow_count", Some(0.0), &Speaks::NothingHeard));
    }
    if let Some(pitch) = now.pitch {
        let says = off_target(pitch, profile);
        all.push(reason("fundamental.target_cents", Some(pitch.cents), &says));
    }
    if now.far || (heard.crows.is_empty() && heard.strangers > 0) {
        all.push(reason("fundamental.register", None, &Speaks::OtherKind));
    }
    all.extend(of_move(practice, case, best));
    all
}

/// What a move is for, by the ruler first.
fn of_move(practice: &Practice, case: &Case, best: &Choice) -> Option<Reason> {
    // Of a reed that was not heard, or of what hardly is a crow, only what a move itself is for is a reason.
    let is_crow = case.now.heard && !case.now.far;
    // A clip for the pitch is for no other fault than one that it mends too.
    let serves = |cause: &Cause| {
        let mends = || practice.work(Cut::Clip).is_some_and(|work| work.mends.contains_key(cause));
        best.next != Move::Clip || mends()
    };
    let likeliest = likeliest(&case.belief);
    let cause = best.cause.or_else(|| likeliest.filter(|_| is_crow).filter(serves));
    let of_ruler = case.findings.iter().find(|found| match best.next {
        Move::Stop | Move::Clip => found.fault == Fault::TooShort,
        Move::Retie => found.fault == Fault::WoundPastStaple,
        Move::Measure => found.fault == Fault::Doubtful,
        Move::Opening => matches!(found.fault, Fault::OpeningWide | Fault::OpeningClosed),
        // It crows in order all the same; the maker is told before the owner is.
        Move::Leave => found.fault == Fault::WoundPastStaple,
        _ => false,
    });
    Some(match (of_ruler, cause) {
        (Some(found), _) => {
            Reason { figure: found.figure.clone(), value: found.value_mm, says: found.says.clone() }
        }
        (None, _) if asks_what_holds_back(best) && speaks_badly(&case.now) => {
            reason("belief", None, &Speaks::HeldBack)
        }
        // A sharp crow is lowered, whether or not there is too much cane in that place.
        (None, Some(cause)) if lowers(best, case) && likeliest != Some(cause) => {
            reason("fundamental.target_cents", None, &Speaks::Lowers)
        }
        // So little is known where it is to be crowed again that no cause is named.
        (None, Some(cause)) if !matches!(best.next, Move::Leave | Move::Recrow) => {
            let sure = case.belief.chance(cause);
            let says = practice.of(cause).says.clone();
            let is_likeliest = likeliest == Some(cause);
            reason("belief", Some(sure), &Speaks::Cause { says, sure, is_likeliest })
        }
        _ if best.next == Move::Leave && !case.now.far => match scatter_cents(case) {
            Some(sd) => reason(BETWEEN_CROWS, Some(sd), &Speaks::Scattered(sd)),
            None => reason("belief", Some(case.belief.in_order()), &speaks_for_leaving(case)),
        },
        _ if best.next == Move::Recrow && is_crow => {
            let spread = case.now.pitch.map(|pitch| pitch.spread);
            match (case.now.crows - case.now.puffs, waits_for_pitch(&case.now)) {
                (1, _) => reason("crow_count", Some(1.0), &Speaks::OneCrow),
                (_, true) => reason(BETWEEN_CROWS, spread, &Speaks::CrowsDiffer),
                (_, false) => reason("belief", None, &Speaks::MoreWouldTell),
            }
        }
        _ => return None,
    })
}

/// The figure that tells how crows differ in pitch.
const BETWEEN_CROWS: &str = "fundamental.spread_between_crows_cents";

/// How far enough crows differ in pitch, where that is more than counts as in tune, in cents.
fn scatter_cents(case: &Case) -> Option<f64> {
    let now = &case.now;
    let enough = now.crows - now.puffs >= now.crows_wanted && !now.pitch_is_free;
    now.pitch.map(|pitch| pitch.spread).filter(|sd| enough && *sd > now.tolerance)
}

/// Whether a sharp crow is to be lowered by scraping.
fn lowers(best: &Choice, case: &Case) -> bool {
    let is_sharp = case.now.pitch.is_some_and(|pitch| pitch.cents > case.now.tolerance);
    matches!(best.next, Move::Tip | Move::Heart | Move::Back) && is_sharp
}

/// Whether a leak or the winding is asked for.
fn asks_what_holds_back(best: &Choice) -> bool {
    let holds_back = |wanted: &Wanted| matches!(wanted, Wanted::Leak | Wanted::Winding);
    matches!(&best.at, Where::Wanted(wanted) if wanted.iter().any(holds_back))
}

/// Whether only what is heard is asked for.
pub fn is_for_the_ear(at: &Where) -> bool {
    matches!(at, Where::Wanted(wanted) if wanted.as_slice() == [Wanted::Ear])
}

fn likeliest(belief: &Belief) -> Option<Cause> {
    let each = Cause::ALL.into_iter().zip(belief.chances());
    let best = each.max_by(|a, b| a.1.total_cmp(&b.1))?;
    (best.1 >= 0.3).then_some(best.0)
}

/// What three crows after the move should be.
fn expected(practice: &Practice, case: &Case, best: &Choice) -> Vec<Expected> {
    let Some(cut) = Cut::at(best.next, best.at.place()) else { return Vec::new() };
    let mut all = Vec::new();
    if let Some(pitch) = case.now.pitch {
        let (moved, sd) = match best.amount_mm {
            Some(mm) if cut == Cut::Clip => {
                (case.now.clip.mean * mm, spread_after(&case.now, practice, pitch.sd, mm))
            }
            _ => {
                let of = practice.work(cut).map_or(6.0, |work| work.cents_sd);
                (case.now.rate(cut).map_or(0.0, |rate| rate.mean), pitch.sd.hypot(of))
            }
        };
        // Three crows tell it only so well.
        let half = crate::dsp::statistics::NORMAL_95 * sd.hypot(pitch.spread / 3.0_f64.sqrt());
        let value = pitch.cents + moved;
        all.push(Expected {
            figure: "fundamental.target_cents".into(),
            value,
            low: value - half,
            high: value + half,
        });
    }
    let mut after = case.belief.clone();
    after.worked(cut, best.amount_mm, case.now.rate(cut).unwrap_or(case.now.clip));
    let (value, low, high) = after.share_of_octaves();
    all.push(Expected { figure: "octaves".into(), value, low, high });
    all
}

/// What comes next if the same is heard after the move.
fn if_again(practice: &Practice, case: &Case, best: &Choice) -> Option<Again> {
    if best.next.ends() {
        return None;
    }
    let mut now = case.now.clone();
    let mut belief = case.belief.clone();
    now.told.push((best.next, best.at.clone()));
    match Cut::at(best.next, best.at.place()) {
        Some(cut) => {
            belief.worked(cut, best.amount_mm, case.now.rate(cut).unwrap_or(case.now.clip));
            now.done.push(decide::Done { cut, helped: Some(false) });
            if let (Some(mm), Some((length, sd))) = (best.amount_mm, now.length) {
                now.length = Some((length - mm, sd));
            }
            if !case.heard.crows.is_empty() {
                belief.hears(&case.heard);
            }
        }
        None => now.crows += if best.next == Move::Recrow { 3 } else { 0 },
    }
    let next = decide(practice, &belief, &now).choices.into_iter().next()?;
    Some(Again { next: next.next, r#where: next.at })
}

#[cfg(test)]
mod tests;
