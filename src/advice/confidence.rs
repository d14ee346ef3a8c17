//! From a rule that applies to advice: how sure, how much, and where doubt stays the knife.

use super::case::Facts;
use super::rules::Match;
use super::{Advice, Move, Reason};
use crate::comparison::Cut;
use crate::reading::{Kind, WarningCode};

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

/// How far fewer crows than the profile wants lower what they bear out for a cut (our choice).
const FEW_CROWS: f64 = 0.9;

/// Clips are cut in steps of this, in millimetres.
const CLIP_STEP_MM: f64 = 0.05;

/// Turns the rule into advice; a cut less sure than the profile asks for becomes crowing again.
pub(super) fn held_back(facts: &Facts, found: Match) -> Advice {
    let doubted = DOUBTS.into_iter().filter(|(code, _)| facts.warned(*code));
    let recording = doubted.clone().map(|(_, factor)| factor).product::<f64>();
    let rule = found.rule;
    let few =
        rule.next.is_cut() && facts.crow_count() < facts.profile().advice.crows_wanted as usize;
    let crows = if few { FEW_CROWS } else { 1.0 };
    let confidence = (found.condition.sure * recording * crows).clamp(0.0, 1.0);
    let mut because = found.condition.reasons;
    because.extend(facts.rattle());
    because.extend(facts.found_reasons());
    let mut said = std::collections::BTreeSet::new();
    because.retain(|reason| said.insert(reason.says.clone()));
    let least = facts.profile().advice.least_confidence;
    let single = facts.crow_count() == 1;
    if rule.next.is_cut() && (confidence < least || single) {
        because.extend(doubted.map(|(code, _)| doubt(facts, code)));
        because.push(if single {
            Reason {
                figure: "crow_count".into(),
                value: Some(1.0),
                says: format!(
                    "one crow has no spread to judge by, so '{}' waits for more",
                    name(rule.next)
                ),
            }
        } else {
            Reason {
                figure: "confidence".into(),
                value: Some(confidence),
                says: format!(
                    "these figures bear out '{}' to {:.0} % only, and no cut is advised under {:.0} %",
                    name(rule.next),
                    confidence * 100.0,
                    least * 100.0
                ),
            }
        });
        return Advice {
            next: Move::Recrow,
            amount_mm: None,
            r#where: None,
            because,
            confidence,
            then: crow_more(facts),
            cautions: super::cautions::of(Move::Recrow, facts),
        };
    }
    if rule.next == Move::Leave && confidence < least {
        because.push(unsure(facts, confidence));
    }
    because.extend(history(facts, rule.next));
    because.push(rule.reason());
    Advice {
        next: rule.next,
        amount_mm: (rule.next == Move::Clip).then(|| clip_mm(facts, rule.name)),
        r#where: (rule.place)(facts),
        because,
        confidence,
        then: rule.then.into(),
        cautions: rule.cautions(facts),
    }
}

/// Why leaving it alone is borne out so little.
fn unsure(facts: &Facts, confidence: f64) -> Reason {
    let (octaves, in_tune) = (facts.is(Kind::Octaves).sure, facts.in_tune().sure);
    let why = if confidence < octaves.min(in_tune) {
        "the recording is doubtful".to_owned()
    } else if in_tune < octaves {
        format!("with these crows the pitch is in tune to {:.0} % only", in_tune * 100.0)
    } else {
        "these crows are too few or differ too much to be sure of octaves".to_owned()
    };
    Reason {
        figure: "confidence".into(),
        value: Some(confidence),
        says: format!("the confidence is low: {why}"),
    }
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
    let stepped = (wanted / CLIP_STEP_MM).floor() * CLIP_STEP_MM;
    let amount = stepped.clamp(lines.smallest_clip_mm, most);
    (amount * 1000.0).round() / 1000.0
}

/// What this kind of cut did before.
fn history(facts: &Facts, next: Move) -> Option<Reason> {
    let effects = facts.case.effects;
    let (cut, called) = match next {
        Move::Clip => (Cut::Clip, "clips"),
        Move::Tip => (Cut::TipSides, "cuts at the sides of the tip"),
        Move::Heart => (Cut::Heart, "cuts at the heart"),
        Move::Back => (Cut::Back, "cuts at the back"),
        _ => return None,
    };
    let effect = effects.of(cut)?;
    let moved = |cents: f64| if cents < 0.0 { "lowered" } else { "raised" };
    if let (Move::Clip, Some(per_mm)) = (next, effect.pitch_cents_per_mm) {
        return Some(Reason {
            figure: "past cuts".into(),
            value: Some(per_mm),
            says: format!(
                "{} earlier {called} {} the pitch by {:.0} cents a millimetre on the median",
                effect.count,
                moved(per_mm),
                per_mm.abs()
            ),
        });
    }
    effect.pitch_cents.map(|cents| Reason {
        figure: "past cuts".into(),
        value: Some(cents),
        says: format!(
            "{} earlier {called} {} the pitch by {:.0} cents on the median",
            effect.count,
            moved(cents),
            cents.abs()
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
        let times = if more == 1 { "once more".into() } else { format!("{more} more times") };
        return format!("Crow {times}, a second or so each, at one strength.");
    }
    match facts.spread_between_crows() {
        Some(cents) if cents > facts.profile().advice.usual_spread_cents => format!(
            "The crows differ by up to {cents:.0} cents: keep lips and breath the same, and crow \
             three more times."
        ),
        _ => "Crow three more times, a second or so each, at one strength.".into(),
    }
}

fn name(next: Move) -> &'static str {
    match next {
        Move::Clip => "clip",
        Move::Tip => "tip",
        Move::Heart => "heart",
        Move::Back => "back",
        Move::Seal => "seal",
        Move::Recrow => "recrow",
        Move::Leave => "leave",
        Move::Stop => "stop",
    }
}
