//! What may be told at all, whatever it is worth.

use super::choice::{Choice, Done, Now};
use crate::advice::belief::Pitch;
use crate::advice::practice::{CAUSES, Cause};
use crate::advice::{Wanted, Where};
use crate::dsp::statistics::NORMAL_95;
use crate::reed::{Bark, Corners, Cut, Heart, Move, Place};

/// From this chance on a leak or a choke comes before the knife (our choice).
pub const BEFORE_THE_KNIFE: f64 = 0.5;

/// Times in a row that one place is scraped.
const IN_A_ROW: usize = 3;

/// Times in a row that a place is scraped in vain.
const IN_VAIN: usize = 2;

/// Of a reed that surely is in order a cut must be so much likelier to help than the least that is asked,
/// but no likelier than this (our choice).
const MORE_HELP: f64 = 0.25;
const MOST_HELP: f64 = 0.45;

/// No reed is given up that is less surely past help (our choice).
const LEAST_LOST: f64 = 0.4;

/// After so many questions or trial crows an answer is no longer waited for (our choice): more than the
/// looks and the measurements that nobody can be asked for with a file.
const ASKED_IN_VAIN: usize = 3;

/// A seal, and what else takes no cane, is tried so often (our choice).
const MOST_SEALS: usize = 2;

/// One crow in so many without a tone: a leak or a choke may hold it back (our choice).
const TONELESS: usize = 3;

/// What the samples come to.
#[derive(Debug, Clone)]
pub struct Known {
    /// The chance of each cause.
    pub chances: [f64; CAUSES],
    /// The chance that it crows in order.
    pub in_order: f64,
    /// The chance that it is past help.
    pub past_help: f64,
}

/// Whether a move may be made now, whatever it is worth.
pub fn is_allowed(choice: &Choice, known: &Known, now: &Now) -> bool {
    // The knife needs a cause: what hardly can help is not cut, and what is likelier to harm.
    let asked = now.least_help + MORE_HELP * known.in_order;
    let least = now.least_help.max(asked.min(MOST_HELP));
    let is_sure = choice.helps >= least && choice.helps >= choice.harms;
    // What crows in octaves, without a sign and in tune, is left alone, whatever was feared before.
    if sounds_good(now) && choice.next != Move::Leave && choice.next != Move::Recrow {
        return false;
    }
    let is_gate_open = match choice.next {
        Move::Stop => {
            choice.helps >= LEAST_LOST
                && !is_length_doubted(now)
                && !is_sealed_first(now)
                && (!now.far || is_too_short(now))
                && was_looked_into(now)
                && (!speaks_badly(now) || is_sought(now))
        }
        // What is likelier past help than in order is not left as if it were done.
        Move::Leave => {
            let is_closed = !is_sealed_first(now)
                && (choice.helps >= known.past_help
                    || known.past_help < LEAST_LOST
                    || is_length_doubted(now)
                    || now.far);
            sounds_good(now) || (is_closed && (!speaks_badly(now) || is_sought(now)))
        }
        next => is_sure || !next.is_cut(),
    };
    is_gate_open && is_possible(choice, known, now)
}

/// Whether a move may be made at all, were it only sure enough.
pub fn is_possible(choice: &Choice, known: &Known, now: &Now) -> bool {
    let is_last = |told: &(Move, Where)| told.0 == choice.next && told.1 == choice.at;
    // The same thing is not told three times running, whether or not it was done.
    let twice = now.told.len() >= 2 && now.told.iter().rev().take(2).all(is_last);
    if twice && !choice.next.ends() {
        return false;
    }
    let cut = Cut::at(choice.next, choice.at.place());
    let takes_cane = cut.is_some_and(Cut::takes_cane);
    // A leak before the eyes is a fact, whatever the samples make of it.
    if takes_cane && (!now.heard || now.leak_seen.is_some()) {
        return false;
    }
    if is_against_the_eyes(cut, now) {
        return false;
    }
    let waits = [Cause::LeakLow, Cause::Winding].into_iter().any(|cause| {
        let is_it = choice.cause == Some(cause);
        !is_it && known.chances[cause as usize] > BEFORE_THE_KNIFE && tries(now, cause) < 2
    });
    if cut.is_some() && waits {
        return false;
    }
    let Some(cut) = cut else { return true };
    // A crow in order that is flat is clipped: what is scraped lowers it further.
    if takes_cane && cut != Cut::Clip && is_flat_in_order(now) && !was_clipped_twice(now) {
        return false;
    }
    // What is mended without a cut was seen or measured first.
    if !takes_cane && choice.cause.is_some_and(|cause| !is_known(now, cause)) {
        return false;
    }
    if cut == Cut::Clip && choice.cause.is_none() && waits_for_pitch(now) {
        return false;
    }
    let last: Vec<&Done> = now.done.iter().rev().take_while(|done| done.cut == cut).collect();
    if cut == Cut::Clip {
        // A clip is as long as is needed: another one is never unchanged.
        let is_vain = |done: &&Done| done.cut == cut && done.helped == Some(false);
        return choice.cause.is_none() || now.done.iter().filter(is_vain).count() < 2;
    }
    let all = now.done.iter().filter(|done| done.cut == cut).count();
    if cut.takes_cane() {
        // Once more where it did not help: a light hand takes little. Then something else.
        let vain = last.iter().take_while(|done| done.helped == Some(false)).count();
        vain < IN_VAIN && last.len() < IN_A_ROW && all < 6
    } else {
        // A seal and the opening are tried twice; a reed is tied again a second time only where the ruler
        // still finds the winding past the staple, since few survive it.
        let is_past = now.measured.contains(&Wanted::Winding)
            && known.chances[Cause::Winding as usize] > BEFORE_THE_KNIFE;
        all < if cut == Cut::Retie && !is_past { 1 } else { MOST_SEALS }
    }
}

/// Whether crows differ so much that a cut for the pitch waits for another take: until it was asked for
/// in vain.
pub fn waits_for_pitch(now: &Now) -> bool {
    let is_unsure =
        |pitch: Pitch| NORMAL_95 * pitch.sd > now.tolerance.max(pitch.cents.abs() / 2.0);
    let asked = now.told_of_this().iter().filter(|told| told.0 == Move::Recrow).count();
    now.pitch.is_some_and(is_unsure) && asked < CROWED_IN_VAIN
}

/// After so many takes that were asked for, crows that differ are what the reed does (our choice).
const CROWED_IN_VAIN: usize = 2;

/// Whether the maker saw that nothing is left to take there: cane cannot be put back.
fn is_against_the_eyes(cut: Option<Cut>, now: &Now) -> bool {
    match cut.map(|cut| (cut.of(), cut.place())) {
        Some((Move::Heart, _)) => now.eyes.heart == Some(Heart::Thin),
        Some((Move::Back, _)) => now.eyes.bark == Some(Bark::Gone),
        // What is chipped is clipped, not scraped.
        Some((Move::Tip, Some(Place::Corners))) => now.eyes.corners == Some(Corners::Chipped),
        _ => false,
    }
}

/// Whether the reed as it is now crows as it should, in enough crows.
pub fn sounds_good(now: &Now) -> bool {
    let crows = now.crows.saturating_sub(now.puffs);
    let in_tune = now
        .pitch
        .map_or(now.pitch_is_free, |pitch| now.pitch_is_free || pitch.cents.abs() <= now.tolerance);
    let in_order = now.in_octaves > 0.85 * crows as f64 && !now.late && !now.signs;
    now.heard && crows >= now.crows_wanted && in_order && in_tune && now.leak_seen.is_none()
}

/// Whether a low leak is seen that a seal may close: that costs no cane, and comes before a reed is given
/// up. What has lost its bark or its heart a seal does not save.
fn is_sealed_first(now: &Now) -> bool {
    let has_cane = now.eyes.bark != Some(Bark::Gone) && now.eyes.heart != Some(Heart::Thin);
    now.leak_seen == Some(Cause::LeakLow) && tries(now, Cause::LeakLow) < MOST_SEALS && has_cane
}

/// Whether the ruler finds it shorter than a reed can be.
fn is_too_short(now: &Now) -> bool {
    matches!((now.length, now.shortest_mm), (Some((mm, _)), Some(shortest)) if mm < shortest)
}

/// Whether a length near the shortest was typed once and never checked: a reed is not given up on a
/// slip of the ruler.
fn is_length_doubted(now: &Now) -> bool {
    let near = matches!((now.length, now.shortest_mm),
        (Some((mm, _)), Some(shortest)) if mm - shortest < NEAR_SHORTEST_MM);
    near && !was_asked(now, Move::Measure, Wanted::Length)
}

/// Whether crows do not come, or come hard: what a leak or a choke does.
pub fn speaks_badly(now: &Now) -> bool {
    now.crows > 0 && (now.hard || now.toneless * TONELESS >= now.crows)
}

/// Whether what could be mended without a cut was looked for, or asked for in vain.
fn is_sought(now: &Now) -> bool {
    is_leak_settled(now) && is_sought_for(now, Cause::LeakLow) && is_sought_for(now, Cause::Winding)
}

/// Whether a leak was looked for on the reed as it is now, since eyes miss one now and then, and work did
/// not help; or was sealed beside the heart in vain, which is the last word on it.
pub fn is_leak_settled(now: &Now) -> bool {
    now.seen.contains(&Wanted::Leak)
        || was_looked(now, Wanted::Leak)
        || tries(now, Cause::LeakHeart) > 0
}

/// The same look is asked for so often of one reed, each time it was worked on in between.
const LOOKED_AT_MOST: usize = 3;

/// Whether a look was asked for of the reed as it is, or often enough.
pub fn was_looked(now: &Now, at: Wanted) -> bool {
    let asked =
        |told: &[(Move, Where)]| told.iter().filter(|told| asks(told, Move::Look, at)).count();
    asked(now.told_of_this()) > 0 || asked(&now.told) >= LOOKED_AT_MOST
}

/// Whether one cause was looked for or measured, or asked for in vain.
pub fn is_sought_for(now: &Now, cause: Cause) -> bool {
    is_known(now, cause) || shown_by(cause).is_some_and(|(next, at)| was_asked(now, next, at))
}

/// Whether eyes or ruler said if a cause is there; what neither shows needs no look.
fn is_known(now: &Now, cause: Cause) -> bool {
    shown_by(cause).is_none_or(|(next, at)| match next {
        // A leak that nobody closed is there still.
        Move::Look => now.seen.contains(&at) || now.leak_seen == Some(cause),
        _ => now.measured.contains(&at),
    })
}

/// What is asked to know of a cause that is mended without a cut.
fn shown_by(cause: Cause) -> Option<(Move, Wanted)> {
    match cause {
        Cause::LeakLow | Cause::LeakHeart => Some((Move::Look, Wanted::Leak)),
        Cause::Winding => Some((Move::Measure, Wanted::Winding)),
        Cause::Closed | Cause::Wide => Some((Move::Measure, Wanted::Opening)),
        _ => None,
    }
}

/// Whether it crows in octaves without a sign, and surely flat.
pub fn is_flat_in_order(now: &Now) -> bool {
    let is_flat = now.pitch.is_some_and(|pitch| pitch.cents + pitch.sd < -now.tolerance);
    let crows = now.crows.saturating_sub(now.puffs);
    let in_order = now.in_octaves > 0.85 * crows as f64 && !now.late && !now.signs;
    is_flat && !now.pitch_is_free && crows > 0 && in_order
}

/// Whether the last two things told were clips: a third has to wait, for the ruler at least.
pub fn was_clipped_twice(now: &Now) -> bool {
    now.told.len() >= 2 && now.told.iter().rev().take(2).all(|told| told.0 == Move::Clip)
}

/// Whether more is known of the reed than its sound, or was asked for in vain: nothing is given up on what
/// it crows like alone.
fn was_looked_into(now: &Now) -> bool {
    let is_known = [&now.measured, &now.seen].into_iter().any(|known| !known.is_empty());
    is_known || !now.done.is_empty() || now.told.len() >= ASKED_IN_VAIN
}

/// How often work that takes no cane was done for a cause.
pub fn tries(now: &Now, cause: Cause) -> usize {
    let is_for_it = |cut: Cut| !cut.of().is_cut() && now.proposed.contains(&(cut, cause));
    let of_it = |done: &&Done| is_for_it(done.cut);
    now.done.iter().filter(of_it).count()
}

/// A length within this of the shortest is measured twice before the reed is given up for it, in
/// millimetres (our choice: slips of a ruler and of a keyboard are larger than its error).
pub const NEAR_SHORTEST_MM: f64 = 1.0;

/// Whether it was asked for, ever: an answer that does not come is not waited for. Where the winding ends
/// is asked anew once the reed was tied again, and whether it leaks once it was sealed, as long as a
/// seal that did not hold may be laid anew.
pub fn was_asked(now: &Now, next: Move, at: Wanted) -> bool {
    let since = match at {
        Wanted::Winding => now.told_since_tied.min(now.told.len()),
        Wanted::Leak if tries(now, Cause::LeakLow) < MOST_SEALS => {
            now.told_since_sealed.min(now.told.len())
        }
        _ => now.told.len(),
    };
    now.told[now.told.len() - since..].iter().any(|told| asks(told, next, at))
}

fn asks(told: &(Move, Where), next: Move, at: Wanted) -> bool {
    matches!(&told.1, Where::Wanted(each) if told.0 == next && each.contains(&at))
}
