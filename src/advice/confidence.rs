//! From a rule that applies to advice: how sure, how much, and where doubt stays the knife.

use super::case::{Facts, Wanted};
use super::cautions::Besides;
use super::pitch::TARGET;
use super::rules::{Match, Rule};
use super::{Advice, Move, Reason, Where, places, words};
use crate::reading::{Kind, WarningCode};
use crate::reed::{Corners, Cut, Fault};
use crate::units::Millimetres;

/// How far each doubt about the recording lowers what its figures bear out (our choice). Pitch
/// survives overload and a low rate; a crow hidden in noise or with samples missing may not be
/// what it seems.
const DOUBTS: [(WarningCode, f64); 9] = [
    (WarningCode::Overload, 0.85),
    (WarningCode::Quiet, 0.85),
    (WarningCode::Short, 0.85),
    (WarningCode::NoisyRoom, 0.75),
    (WarningCode::Hum, 0.95),
    (WarningCode::LowRate, 0.95),
    (WarningCode::LostSamples, 0.75),
    (WarningCode::CutOff, 0.95),
    (WarningCode::NotFinite, 0.85),
];

/// Of ten cuts as practice advises them, so many do what they are for (our choice). Past cuts of
/// one's own count beside these ten.
const OF_PRACTICE: (f64, f64) = (9.5, 10.0);

/// What a reed is given up on must be at least this sure (our choice).
const FIRM: f64 = 0.8;

/// What a try that costs no cane ends with, where a clip could follow it.
const CUT_NEXT: &str = " If it is still flat, the cut comes next.";

/// Past cuts that lower the confidence by less than this get no word (our choice).
const WORTH_A_WORD: f64 = 0.02;

/// Clips are cut in steps of this, in millimetres.
const CLIP_STEP_MM: f64 = 0.05;

/// Turns the rule into advice; a cut, or leaving it alone, that is less sure than the profile asks
/// for becomes crowing again, and so does giving up without firm reasons.
pub(super) fn held_back(facts: &Facts, found: Match) -> Advice {
    let Match { rule, condition } = found;
    let recording: f64 = doubts(facts).map(|(_, factor)| factor).product();
    let mut because = condition.reasons;
    let mut confidence = condition.sure * recording;
    if rule.next.is_cut() {
        let past = past(facts, rule.next, &because);
        confidence *= past.share();
        let choke = facts.found(Fault::WoundPastStaple);
        // A choke hides what a cut does: it is named first, and mended first.
        confidence *= 1.0 - choke.sure / 2.0;
        because.splice(0..0, choke.reasons);
        if facts.is(Kind::Octaves).holds {
            because.extend(facts.low_octave_hard().reasons_if_it_holds());
        }
        because.extend(past.reason_if_it_lowers());
    }
    let confidence = confidence.clamp(0.0, 1.0);
    if (rule.place)(facts) == places::tip(facts) {
        because.extend(places::OF_THE_TIP.into_iter().flat_map(|fault| facts.found(fault).reasons));
    }
    because.extend(facts.growl());
    let place = (rule.place)(facts);
    if place != Where::Nowhere && (rule.next == Move::Recrow || rule.name == "chipped-corner") {
        because.extend(as_it_crows(facts, &because));
    }
    because.extend(too_few(facts, rule.next, place != Where::Nowhere));
    let mut said = std::collections::BTreeSet::new();
    because.retain(|reason| said.insert(reason.says.clone()));
    let remarks = facts.remarks(&because);
    if let Some(Hold { reasons, then }) = hold(facts, rule, &because, confidence) {
        because.extend(reasons);
        because.extend(remarks);
        return Advice {
            because,
            confidence,
            then,
            cautions: super::cautions::of(Move::Recrow, Besides::default(), facts),
            ..Advice::of(Move::Recrow)
        };
    }
    because.extend(history(facts, rule.next));
    because.push(practice(facts, rule));
    because.extend(remarks);
    Advice {
        amount_mm: (rule.next == Move::Clip).then(|| clip_mm(facts, rule.name)),
        r#where: place,
        because,
        confidence,
        then: then(facts, rule),
        cautions: rule.cautions(facts),
        ..Advice::of(rule.next)
    }
}

/// How it crows, beside what a look or the ruler found: octaves and pitch.
fn as_it_crows(facts: &Facts, because: &[Reason]) -> Vec<Reason> {
    let kind = facts.case.reading.summary.kind.filter(|kind| *kind != Kind::Breath);
    let octaves = kind.map_or_else(Vec::new, |kind| facts.is(kind).reasons);
    let all = octaves.into_iter().chain(facts.pitch_told());
    all.filter(|new| because.iter().all(|told| told.figure != new.figure)).collect()
}

/// Why the move helps; corners that are left alone are not named.
fn practice(facts: &Facts, rule: &Rule) -> Reason {
    let mut reason = rule.reason();
    let left_alone =
        facts.found(Fault::CornerChipped).holds || facts.case.seen.corners == Some(Corners::Thin);
    if rule.next == Move::Tip && left_alone {
        reason.says = reason.says.replace("sides and corners", "sides");
    }
    reason
}

/// What comes next: what costs no cane, what the rule says, and what follows from the measurements.
fn then(facts: &Facts, rule: &Rule) -> String {
    let first = rule.free_first(facts).unwrap_or_default();
    let then = match rule.then.strip_suffix(CUT_NEXT) {
        Some(then) if facts.found(Fault::TooShort).holds => {
            format!(
                "{then} If it is still flat, measure the length again: too little is left to clip."
            )
        }
        _ => rule.then.to_owned(),
    };
    first.to_owned() + &then + &after(facts, rule.next)
}

/// What follows the move besides what the rule says.
fn after(facts: &Facts, next: Move) -> String {
    if next.is_cut() && next != Move::Clip && facts.found(Fault::CornerChipped).holds {
        return match (facts.long_enough().holds, facts.sharp().holds) {
            (false, _) => " The chipped corner stays: too little is left to clip.",
            (true, true) => {
                " Once it is low enough, a clip past the chipped corner mends that, if the length \
                 allows."
            }
            (true, false) => "",
        }
        .into();
    }
    let short = facts.found(Fault::TipStartHigh).or(facts.found(Fault::SetTooHigh)).holds;
    if next != Move::Clip || !short {
        return String::new();
    }
    let usual = facts.profile().dimensions.tip_start;
    let towards = usual.map_or_else(String::new, |mm| format!(" towards {}", Millimetres(mm)));
    format!(
        " The tip is short already and a clip takes from it: move its step down{towards} after the \
         clip, in light passes."
    )
}

/// That fewer crows were judged than the profile wants.
///
/// * `placed`: the move has a place.
fn too_few(facts: &Facts, next: Move, placed: bool) -> Option<Reason> {
    let (count, wanted) = (facts.crow_count(), facts.profile().advice.crows_wanted as usize);
    let counts = matches!(next, Move::Leave | Move::Stop) || next.is_cut() || placed;
    (counts && (1..wanted).contains(&count)).then(|| Reason {
        figure: "crow_count".into(),
        value: Some(count as f64),
        says: format!(
            "{count} crow{} where {wanted} are wanted: what is missing counts as if it differed",
            if count == 1 { "" } else { "s" }
        ),
    })
}

/// Why a move waits, and what to do meanwhile.
struct Hold {
    reasons: Vec<Reason>,
    then: String,
}

/// Whether the move waits: nothing that cannot be undone is done on figures that do not bear it.
fn hold(facts: &Facts, rule: &Rule, because: &[Reason], confidence: f64) -> Option<Hold> {
    let next = rule.next;
    let on_pitch = because.iter().any(|reason| reason.figure == TARGET);
    let in_octaves = facts.is(Kind::Octaves).holds;
    let final_move = next.is_cut() || next == Move::Stop;
    if next.is_cut() && facts.crow_count() == 1 {
        let says =
            format!("one crow has no spread to judge by, so '{}' waits for more", next.code());
        let reason = Reason { figure: "crow_count".into(), value: Some(1.0), says };
        return Some(Hold { reasons: waits(facts, reason), then: crow_more(facts) });
    }
    if let Some(spread) = facts.crows_differ()
        && (on_pitch || in_octaves)
        && (final_move || next == Move::Leave)
    {
        let reason = Reason {
            figure: "fundamental.spread_between_crows_cents".into(),
            value: Some(spread),
            says: format!(
                "the crows spread by {}: which of them is the reed's pitch is not known{}",
                words::cents(spread),
                wait(next)
            ),
        };
        return Some(Hold { reasons: waits(facts, reason), then: crow_more(facts) });
    }
    if let Some((half_width, limit)) = facts.pitch_unknown()
        && on_pitch
        && final_move
    {
        let reason = Reason {
            figure: "fundamental.ci95_cents".into(),
            value: Some(half_width),
            says: format!(
                "the pitch is known to ±{:.0} cents only, and must be known to ±{:.0}{}",
                half_width.ceil(),
                limit.floor(),
                wait(next)
            ),
        };
        return Some(Hold { reasons: waits(facts, reason), then: crow_more(facts) });
    }
    let least = match next {
        Move::Stop => FIRM,
        Move::Leave => facts.profile().advice.least_confidence,
        _ if next.is_cut() => facts.profile().advice.least_confidence,
        _ => return None,
    };
    if confidence >= least {
        return None;
    }
    let (sure, asked) = (words::percent(confidence), words::percent(least));
    let says = match next {
        Move::Stop => format!(
            "only {sure} sure that this reed is past mending, and none is given up under {asked}"
        ),
        Move::Leave => {
            format!("nothing asks for a cut so far; only {sure} sure: {}", unsure(facts))
        }
        _ => format!(
            "only {sure} sure that '{}' is right, and no cut is advised under {asked}",
            next.code()
        ),
    };
    let reason = Reason { figure: "confidence".into(), value: Some(confidence), says };
    let choked = next.is_cut() && facts.found(Fault::WoundPastStaple).holds;
    let then = if choked {
        "Look at the winding first, and measure it and the staple again. Where it is tied past the \
         staple's end, tying it again lower is what frees it, and no cut."
            .to_owned()
    } else if next == Move::Stop {
        "Measure it again, from the bottom of the staple, before anything is decided; press the \
         opening a little closed while wet, which costs nothing, and crow three more times."
            .to_owned()
    } else {
        crow_more(facts)
    };
    Some(Hold { reasons: waits(facts, reason), then })
}

/// What a move waits for: what is doubtful about the recording, then the reason.
fn waits(facts: &Facts, reason: Reason) -> Vec<Reason> {
    doubts(facts).map(|(code, _)| doubt(facts, code)).chain([reason]).collect()
}

/// `, so 'clip' waits`; nothing of a move that takes nothing away.
fn wait(next: Move) -> String {
    match next {
        Move::Leave => String::new(),
        _ => format!(", so '{}' waits", next.code()),
    }
}

fn doubts(facts: &Facts) -> impl Iterator<Item = (WarningCode, f64)> {
    DOUBTS.into_iter().filter(|(code, _)| facts.warned(*code))
}

/// What past cuts of a kind and common practice make of a cut.
struct Past {
    /// Past cuts that did what this one is for.
    right: f64,
    /// Of so many.
    all: f64,
}

impl Past {
    /// How often such a cut does what it is for.
    fn share(&self) -> f64 {
        (self.right + OF_PRACTICE.0) / (self.all + OF_PRACTICE.1)
    }

    /// That past cuts make it less sure than practice alone.
    fn reason_if_it_lowers(&self) -> Option<Reason> {
        let lowers = self.share() < OF_PRACTICE.0 / OF_PRACTICE.1 - WORTH_A_WORD;
        lowers.then(|| Reason {
            figure: "past cuts".into(),
            value: Some(self.right / self.all),
            says: format!(
                "of {:.0} such cut{} before, {:.0} did what this one is for: that makes it less sure",
                self.all,
                if self.all > 1.0 { "s" } else { "" },
                self.right
            ),
        })
    }
}

/// How often past cuts of its kind did what this one is for.
fn past(facts: &Facts, next: Move, because: &[Reason]) -> Past {
    let off_target = because.iter().find(|reason| reason.figure == TARGET);
    let wanted = match (next, off_target.and_then(|reason| reason.value)) {
        (Move::Clip, Some(cents)) if cents < 0.0 => Wanted::Higher,
        (Move::Tip | Move::Heart | Move::Back, Some(cents)) if cents > 0.0 => Wanted::Lower,
        _ => Wanted::Octaves,
    };
    let (right, all) = facts.past(cuts(next), wanted);
    Past { right, all }
}

/// The kinds of work that a move stands for.
fn cuts(next: Move) -> &'static [Cut] {
    match next {
        Move::Clip => &[Cut::Clip],
        Move::Tip => &[Cut::TipSides, Cut::TipCorners, Cut::TipSurface, Cut::TipStep],
        Move::Heart => &[Cut::HeartSurface, Cut::HeartSides],
        Move::Back => &[Cut::BackWindows],
        _ => &[],
    }
}

/// Why leaving it alone is borne out so little: by what is least sure.
fn unsure(facts: &Facts) -> String {
    let recording: f64 = doubts(facts).map(|(_, factor)| factor).product();
    let in_tune = facts.in_tune().or(facts.on_another_note()).sure;
    let faults = facts.faults();
    let near = faults.reasons.first().map_or_else(String::new, |reason| reason.says.clone());
    let octave = facts.low_octave_missing();
    let above = octave.reasons.first().map_or_else(String::new, |reason| reason.says.clone());
    let few = facts.crow_count() < facts.profile().advice.crows_wanted as usize;
    let of_crows = match few {
        true => "these crows are too few".to_owned(),
        false => "these crows differ too much to be sure of octaves".to_owned(),
    };
    let of_pitch = "the pitch may be out of tune".to_owned();
    let mut each = vec![
        (recording, "the recording is doubtful".to_owned()),
        (facts.is(Kind::Octaves).sure, of_crows),
        (in_tune, of_pitch),
        (1.0 - faults.sure, near),
        (facts.octave_told().sure, "nothing tells which octave was meant".to_owned()),
    ];
    // With a target, the octave is what the crows agree on already.
    if facts.profile().target.is_none() {
        each.push((1.0 - octave.sure, above));
    }
    each.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map_or_else(String::new, |least| least.1)
}

/// How much to clip: what the flatness asks for, never more than a first clip, and never past the
/// shortest length.
fn clip_mm(facts: &Facts, rule: &str) -> f64 {
    let profile = facts.profile();
    let lines = &profile.advice;
    let flat = facts.target_cents().map_or(0.0, |cents| (-cents).max(0.0));
    let wanted = match (rule, facts.case.effects.cents_per_mm_clipped()) {
        ("flat-and-hard" | "lost-after-tip", _) => lines.smallest_clip_mm,
        // Stops short on purpose: what is still missing can be clipped next time.
        (_, Some(per_mm)) => 0.7 * flat / per_mm,
        // No published figure says how far a clip raises a crow: a first one in proportion to the
        // flatness, whole where makers agree that there is room.
        (_, None) => lines.first_clip_mm * flat / lines.room_to_clip_cents,
    };
    let room = facts
        .case
        .measured
        .length_mm
        .zip(profile.dimensions.shortest_length)
        .map_or(f64::INFINITY, |(length, shortest)| length - shortest);
    let most = lines.first_clip_mm.min(room).max(lines.smallest_clip_mm);
    // Down to a step, but for the last bits of the division.
    let steps = (wanted.clamp(lines.smallest_clip_mm, most) / CLIP_STEP_MM + 1e-6).floor();
    (steps.max(1.0) * CLIP_STEP_MM * 1000.0).round() / 1000.0
}

/// What this kind of cut did before.
fn history(facts: &Facts, next: Move) -> Option<Reason> {
    let effects = facts.case.effects;
    let (cut, called) = match next {
        Move::Clip => (Cut::Clip, "clips"),
        Move::Tip => (Cut::TipSides, "cuts at the sides of the tip"),
        Move::Heart => (Cut::HeartSurface, "cuts at the heart"),
        Move::Back => (Cut::BackWindows, "cuts at the back"),
        _ => return None,
    };
    let effect = effects.of(cut)?;
    let moved = |cents: f64| if cents < 0.0 { "lowered" } else { "raised" };
    if let (Move::Clip, Some(per_mm)) = (next, effect.pitch_cents_per_mm) {
        return Some(Reason {
            figure: "past cuts".into(),
            value: Some(per_mm),
            says: format!(
                "{} earlier {called} {} the pitch by {} a millimetre on the median; after {} of \
                 them it was higher",
                effect.count,
                moved(per_mm),
                words::cents(per_mm),
                effect.pitch_rose
            ),
        });
    }
    effect.pitch_cents.map(|cents| Reason {
        figure: "past cuts".into(),
        value: Some(cents),
        says: format!(
            "{} earlier {called} {} the pitch by {} on the median",
            effect.count,
            moved(cents),
            words::cents(cents)
        ),
    })
}

fn doubt(facts: &Facts, code: WarningCode) -> Reason {
    let warnings = &facts.case.reading.warnings;
    let text = warnings.iter().find(|warning| warning.code == code).map(|found| found.text.clone());
    Reason { figure: "warnings".into(), value: None, says: text.unwrap_or_default() }
}

fn crow_more(facts: &Facts) -> String {
    let wanted = facts.profile().advice.crows_wanted as usize;
    if facts.warned(WarningCode::NoisyRoom) || facts.warned(WarningCode::LostSamples) {
        return "Find a quieter place or crow closer to the microphone, then crow three times."
            .into();
    }
    if facts.warned(WarningCode::Overload) {
        return "Turn the input down or move away from the microphone, then crow three times."
            .into();
    }
    if facts.crow_count() < wanted {
        let more = wanted - facts.crow_count();
        return match more {
            1 => "Crow once more, for a second or so, at the same strength.".into(),
            _ => format!("Crow {more} more times, a second or so each, at one strength."),
        };
    }
    match facts.crows_differ() {
        Some(_) => "Keep lips and breath the same from crow to crow, and crow three more times; \
                    what still differs is the reed, or how far it has soaked."
            .into(),
        None => "Crow three more times, a second or so each, at one strength.".into(),
    }
}
