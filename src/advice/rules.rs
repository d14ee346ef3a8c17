//! The table of rules. The first whose conditions all hold decides; the last always does.
//!
//! Order: what was seen and can be sealed; a microphone that heard nothing, since no move follows
//! from that; what no scraping can cure; no crow; nothing to mend; then, by how the crow sounds,
//! the least that is lost for what is gained. Where pitch and octaves ask for opposite cuts, the
//! tip comes first (a clip can follow it and bring the pitch up), unless the crow is so flat that
//! thinning would lose it.

use super::case::Facts;
use super::condition::Condition;
use super::places::{blend, heart_sides, nowhere, the_end, tip, windows};
use super::{Move, Place, Reason, Where, cautions};
use crate::reading::Kind;
use crate::reed::Fault;

/// One rule.
pub(super) struct Rule {
    pub name: &'static str,
    /// When it applies.
    pub when: fn(&Facts) -> Condition,
    pub next: Move,
    /// Where on the reed.
    pub place: fn(&Facts) -> Where,
    /// Why the move helps.
    pub because: &'static str,
    /// Who says so.
    pub from: &'static str,
    /// What to do after it.
    pub then: &'static str,
}

/// A rule that applies to a case.
pub(super) struct Match {
    pub rule: &'static Rule,
    pub condition: Condition,
}

const PRACTICE: &str = "common practice, no source";
const INSIGHT: &str = "oboeinsight.com, adjustments";
const OURS: &str = "our choice, no source";

const AFTER_CUT: &str = "Crow three times and compare with these crows before the next cut.";
const AFTER_SCRAPE: &str = "Two or three light strokes on each side of both blades, then crow three \
                            times and compare before the next.";

const OPEN_GENTLY: &str = "Wet it through, press its edges gently together until the tip opens, and crow \
                           three times. If it is still sharp, the cut comes next.";

/// Of reeds that are sharp and easy, the share that tip work still helps (our choice; makers say
/// that it is usually too late).
const SHARP_AND_EASY_HELPED: f64 = 0.9;

/// The table.
pub(super) const RULES: &[Rule] = &[
    Rule {
        name: "leak-low",
        when: |f| f.found(Fault::LeakLow),
        next: Move::Seal,
        place: |_| Where::At(Place::Low),
        because: "a leak hides what the reed does, and one by the winding can be sealed with tape",
        from: PRACTICE,
        then: "Close the tip, blow, feel for air; when tight, crow three times.",
    },
    Rule {
        name: "unheard",
        when: |f| f.unheard(),
        next: Move::Recrow,
        place: nowhere,
        because: "of a reed that was not heard nothing is known",
        from: OURS,
        then: "Unmute the microphone or choose another ('reedcrow devices --check' tells whether it \
               hears), then crow three times.",
    },
    Rule {
        name: "leak-by-heart",
        when: |f| f.found(Fault::LeakByHeart).and(sound(f).not().gate()),
        next: Move::Recrow,
        place: nowhere,
        because: "a leak beside the heart can rarely be sealed, and scraping does not close it",
        from: PRACTICE,
        then: "Look once more first: close the tip, blow, feel where the air comes out. If it is so, \
               try a careful seal, since there is nothing to lose, and crow three times. Only if that \
               fails give it up, and look at the shape's edges for the next.",
    },
    Rule {
        name: "silent-after-tip",
        when: |f| f.air_only().and(f.tip_was_last()),
        next: Move::Recrow,
        place: nowhere,
        because: "after thinning the tip the crow can vanish, and a small clip brings it back",
        from: PRACTICE,
        then: "Wet it, see that the tip is open and the sides are tight, crow again; if it stays \
               silent, clip 0.1 mm and no more.",
    },
    Rule {
        name: "wound-past-staple",
        when: |f| f.found(Fault::WoundPastStaple).and(choked(f)).and(f.far_off().not().gate()),
        next: Move::Recrow,
        place: nowhere,
        because: "a winding past the staple's end chokes the reed, and no scraping frees it",
        from: PRACTICE,
        then: "Measure winding and staple once more first. If it is so, tie it again lower and crow \
               three times; only where it is not worth that work give it up.",
    },
    Rule {
        name: "air-only",
        when: |f| f.air_only().and(opening_off(f)),
        next: Move::Recrow,
        place: nowhere,
        because: "without a crow there is nothing to judge a cut by; air alone: a leak, or the tip \
                  closed or too far open",
        from: "The Teaching of Instrumental Music, bassoon chapter; else common practice, no source",
        then: "Check three things: is it wet through, is the tip open, is it tight when the tip is \
               closed and blown? Then crow closer to the microphone, lips at the winding.",
    },
    Rule {
        name: "silent",
        when: |f| f.silent(),
        next: Move::Recrow,
        place: nowhere,
        because: "where neither crow nor air is heard, nothing is known of the reed",
        from: OURS,
        then: "Crow for a second or two, lips at the winding, close to the microphone, with a little \
               silence before and after.",
    },
    Rule {
        name: "far-from-target",
        when: |f| f.far_off(),
        next: Move::Recrow,
        place: nowhere,
        because: "this does not sound like a crow of this kind of reed: check the profile and what was \
                  blown",
        from: OURS,
        then: "Check that the profile is the one of this reed and that the reed alone was blown, lips \
               at the winding; then crow three times.",
    },
    Rule {
        name: "octaves-differ",
        when: |f| f.octaves_differ(),
        next: Move::Recrow,
        place: nowhere,
        because: "between crows in different octaves there is no one crow to judge by",
        from: OURS,
        then: "Keep lips and breath the same from crow to crow, lips at the winding, and crow three \
               more times.",
    },
    Rule {
        name: "other-register",
        when: |f| f.other_register(),
        next: Move::Recrow,
        place: nowhere,
        because: "no crow of this kind of reed is expected to sound there: check the profile and what \
                  was blown",
        from: OURS,
        then: "Check that the profile is the one of this reed ('reedcrow profile list' shows others) \
               and that the reed alone was blown, lips at the winding; then crow three times.",
    },
    Rule {
        name: "glides",
        when: |f| f.glides(),
        next: Move::Recrow,
        place: nowhere,
        because: "a crow that glides has no one pitch to cut by; lips and breath that give way glide \
                  too",
        from: OURS,
        then: "Hold lips and breath still and crow three times, a second or so each. If it glides \
               again, soak it anew, see that it is tight, and crow again before any cut.",
    },
    Rule {
        name: "nothing-to-mend",
        when: sound,
        next: Move::Leave,
        place: nowhere,
        because: "nothing asks for a cut, and cane cannot be put back",
        from: PRACTICE,
        then: "Let it rest overnight and crow it again; a new reed changes.",
    },
    Rule {
        name: "in-tune-for-some",
        when: |f| octaves(f).and(f.on_another_note()).and(f.faults().not()),
        next: Move::Leave,
        place: nowhere,
        because: "makers hold this kind of reed to more than one note, and by one of them nothing asks \
                  for a cut",
        from: "the profile's 'also'",
        then: "If you hold yours to the target alone, write a profile without 'also' ('reedcrow profile \
               new FILE --like …') and read these crows again with it.",
    },
    Rule {
        name: "between-notes",
        when: |f| octaves(f).and(f.disputed()).and(f.on_another_note().not().gate()),
        next: Move::Recrow,
        place: nowhere,
        because: "between the notes that makers hold this kind of reed to, no cut for its pitch is \
                  surely right",
        from: "the profile's 'also'",
        then: "Say which note yours is held to in a profile without 'also' ('reedcrow profile new FILE \
               --like …'), and read these crows again with it before any cut.",
    },
    Rule {
        name: "measure-again",
        when: |f| f.found(Fault::Doubtful),
        next: Move::Recrow,
        place: nowhere,
        because: "no cut is reckoned from a measurement that cannot well be",
        from: OURS,
        then: "Measure it again, from the bottom of the staple, or choose the profile of this kind of \
               reed ('reedcrow profile list'); then read these crows again.",
    },
    // What costs nothing before what costs cane.
    Rule {
        name: "wide-and-flat",
        when: |f| f.flat().and(f.found(Fault::OpeningWide)).and(f.opening_was_last().not().gate()),
        next: Move::Recrow,
        place: nowhere,
        because: "a wide opening lowers the pitch; pressing it a little closed raises it and costs no \
                  cane",
        from: "common practice, no source; Freihofner, woodwind.org 12801: flat, hold it shut",
        then: "Wet, with the plaque out, press the blades gently together between finger and thumb for \
               some seconds, and crow three times. If it is still flat, the cut comes next.",
    },
    Rule {
        name: "closed-and-sharp",
        when: |f| {
            f.sharp().and(f.found(Fault::OpeningClosed)).and(f.opening_was_last().not().gate())
        },
        next: Move::Recrow,
        place: nowhere,
        because: "a nearly closed opening raises the pitch; opening it lowers it and costs no cane",
        from: "Freihofner, woodwind.org 12801: sharp, weaken the cane, or open it",
        then: OPEN_GENTLY,
    },
    Rule {
        name: "chipped-corner",
        when: |f| f.found(Fault::CornerChipped).and(f.sharp().not().gate()).and(f.long_enough()),
        next: Move::Clip,
        place: the_end,
        because: "a torn corner cannot be scraped even; a clip raises the pitch",
        from: PRACTICE,
        then: "Where the chip is deeper than this, clip just past it, if the length allows. Crow three \
               times and compare with these crows before the next cut.",
    },
    // Octaves in order: pitch decides.
    Rule {
        name: "flat-too-short",
        when: |f| octaves(f).and(f.flat()).and(f.found(Fault::TooShort)),
        next: Move::Stop,
        place: nowhere,
        because: "only a clip raises the pitch for good, and nothing is left to clip",
        from: PRACTICE,
        then: "Measure the length once more first, press the opening a little closed while wet (it \
               raises the pitch and costs nothing) and crow again. If it stays flat, give it up.",
    },
    Rule {
        name: "flat-and-hard",
        when: |f| octaves(f).and(f.flat()).and(f.hard().gate()),
        next: Move::Clip,
        place: the_end,
        because: "two sides: a clip raises the pitch and makes the reed harder; thinning the tip makes \
                  it easier and flatter. The pitch comes first, in the smallest clip",
        from: INSIGHT,
        then: "Crow three times; once in tune, make it easier with light work, one place at a time: the \
               sides of the tip or, where they are done, the sides of the heart.",
    },
    Rule {
        name: "flat",
        when: |f| octaves(f).and(f.flat()),
        next: Move::Clip,
        place: the_end,
        because: "a clip raises the pitch; it costs length",
        from: PRACTICE,
        then: AFTER_CUT,
    },
    Rule {
        name: "scraped-out",
        when: |f| f.spent().and(f.flat().and(f.long_enough()).not().gate()),
        next: Move::Recrow,
        place: nowhere,
        because: "too thin a heart, or bark lost below it, cannot be scraped better",
        from: PRACTICE,
        then: "Look once more first, against the light. If it is so, scrape no more: what still helps is \
               the opening, gently, while wet (wider lowers the pitch, narrower raises it). Else keep it \
               for practice if it can be played, and note for the next one where cane was lost.",
    },
    Rule {
        name: "sharp-heart-thick",
        when: |f| octaves(f).and(f.sharp()).and(f.found(Fault::HeartThick)),
        next: Move::Heart,
        place: heart_sides,
        because: "too much cane keeps a reed sharp: take it off where it is too much",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "sharp-after-tip",
        when: |f| octaves(f).and(f.sharp()).and(f.hard().gate()).and(f.tip_done()),
        next: Move::Back,
        place: windows,
        because: "hard and sharp with the tip done: the back is next, one place at a time",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "sharp-and-hard",
        when: |f| octaves(f).and(f.sharp()).and(f.hard().gate()),
        next: Move::Tip,
        place: tip,
        because: "hard and sharp wants cane taken off: thinning the tip lets the pitch fall and makes it \
                  easier",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "sharp-and-easy-after-tip",
        when: |f| octaves(f).and(f.sharp()).and(f.tip_done()),
        next: Move::Recrow,
        place: nowhere,
        because: "sharp and easy with the tip done is past help by scraping, which makes it easier \
                  still; a wider opening lowers the pitch and costs no cane",
        from: "oboeinsight.com, adjustments; Freihofner, woodwind.org 12801",
        then: "Wet it through and, where it is not wide already, open the tip gently by pressing its \
               edges together; crow three times. If it stays sharp, play it as it is before more cane \
               is taken.",
    },
    Rule {
        name: "sharp-and-easy",
        when: |f| octaves(f).and(f.sharp()).and(f.easy().gate()).in_share(SHARP_AND_EASY_HELPED),
        next: Move::Tip,
        place: tip,
        because: "thinning the tip lets the pitch fall, and makes it easier still",
        from: "common practice, no source; for the doubt oboeinsight.com, adjustments",
        then: "One light stroke on each side of both blades, no more, then crow three times and compare. \
               If it is no lower, stop.",
    },
    Rule {
        name: "wild-after-tip",
        when: |f| octaves(f).and(f.wild()).and(f.tip_done()),
        next: Move::Heart,
        place: heart_sides,
        because: "with the tip done, thinner sides of the heart calm a wild crow",
        from: "one player's account, woodwind.org 7387",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "wild",
        when: |f| octaves(f).and(f.wild()),
        next: Move::Tip,
        place: blend,
        because: "chatter and warble come from the blend between tip and heart",
        from: "paddlefish.net, lesson notes",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "low-octave-hard-after-tip",
        when: |f| octaves(f).and(f.low_octave_hard()).and(f.tip_done()),
        next: Move::Heart,
        place: heart_sides,
        because: "with the tip done, the sides of the heart are the next place, one at a time",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "low-octave-late",
        when: |f| octaves(f).and(f.low_octave_late().gate()).and(f.low_octave_hard()),
        next: Move::Tip,
        place: tip,
        because: "thinner sides and corners let the low octave come at once",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "octaves-take-turns",
        when: |f| octaves(f).and(f.takes_turns().gate()).and(f.low_octave_hard()),
        next: Move::Tip,
        place: blend,
        because: "a clear step from tip to heart, alike on both blades, lets both octaves hold",
        from: "paddlefish.net, lesson notes, of chatter and warble",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "low-octave-goes",
        when: |f| octaves(f).and(f.low_octave_goes().gate()).and(f.low_octave_hard()),
        next: Move::Tip,
        place: tip,
        because: "thinner sides and corners let the low octave stay",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "low-octave-weak",
        when: |f| octaves(f).and(f.low_octave_weak().gate()).and(f.low_octave_hard()),
        next: Move::Tip,
        place: tip,
        because: "thinner sides and corners let the low octave sound fuller",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "hard-heart-thick",
        when: |f| octaves(f).and(f.hard()).and(f.found(Fault::HeartThick)),
        next: Move::Heart,
        place: heart_sides,
        because: "hard to blow, with a thick heart: that is where the cane is too much",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "hard-after-tip",
        when: |f| octaves(f).and(f.hard()).and(f.tip_done()),
        next: Move::Back,
        place: windows,
        because: "still hard to blow with the tip done: a little from the windows",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "hard",
        when: |f| octaves(f).and(f.hard()),
        next: Move::Tip,
        place: tip,
        because: "of a reed hard to blow, the tip is the first place to take cane from",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    // Octaves not in order: the tip first, unless there is much room to clip.
    Rule {
        name: "disordered-very-flat-too-short",
        when: |f| disordered(f).and(f.very_flat()).and(f.found(Fault::TooShort)),
        next: Move::Stop,
        place: nowhere,
        because: "tip work would lower it further, and nothing is left to clip",
        from: PRACTICE,
        then: "Measure the length once more first, press the opening a little closed while wet and crow \
               again. If it stays so, give it up.",
    },
    Rule {
        name: "disordered-very-flat",
        when: |f| disordered(f).and(f.very_flat()).and(f.long_enough()),
        next: Move::Clip,
        place: the_end,
        because: "a crow as flat as this has room to clip; tip work, which helps the octaves into \
                  order, lowers it further and comes after",
        from: PRACTICE,
        then: "Crow three times; then the sides and corners of the tip if the octaves are still not in \
               order.",
    },
    Rule {
        name: "lost-after-tip",
        when: |f| {
            f.is(Kind::Unsettled)
                .and(f.tip_was_last())
                .and(f.long_enough())
                .and(f.sharp().not().gate())
        },
        next: Move::Clip,
        place: the_end,
        because: "after thinning the tip the crow can go, and a small clip brings it back",
        from: PRACTICE,
        then: AFTER_CUT,
    },
    Rule {
        name: "disordered-set-too-high",
        when: |f| disordered(f).and(f.found(Fault::SetTooHigh).or(f.found(Fault::TipStartHigh))),
        next: Move::Tip,
        place: blend,
        because: "a tip that begins too high is too short to organise the octaves",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "split-after-tip",
        when: |f| f.is(Kind::Split).and(f.tip_done()),
        next: Move::Tip,
        place: blend,
        because: "with its sides and corners done, what is left of the tip is its step to the heart: a \
                  clear one organises the octaves",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "split",
        when: |f| f.is(Kind::Split),
        next: Move::Tip,
        place: tip,
        because: "thinner sides and corners and a clearer step from tip to heart organise the octaves",
        from: PRACTICE,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "peep-heart-thick",
        when: |f| peep(f).and(f.found(Fault::HeartThick)),
        next: Move::Heart,
        place: heart_sides,
        because: "a crow too high and tight comes of too much cane: scrape where it is thick",
        from: "The Teaching of Instrumental Music, bassoon chapter",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "peep-after-tip",
        when: |f| peep(f).and(f.tip_done()),
        next: Move::Back,
        place: windows,
        because: "with the tip done and the low octave still missing, the back may be too stiff for it",
        from: INSIGHT,
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "peep",
        when: |f| peep(f),
        next: Move::Tip,
        place: tip,
        because: "a crow too high and tight wants cane taken off; the sides and corners of the tip let \
                  the low octave in",
        from: "common practice, no source; The Teaching of Instrumental Music says scrape, of bassoon",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "deep-and-flat",
        when: |f| f.is(Kind::Single).and(f.flat()).and(f.long_enough()),
        next: Move::Clip,
        place: the_end,
        because: "a crow too deep often comes of a reed thin and long: cut the tip, work it again",
        from: "The Teaching of Instrumental Music, bassoon chapter",
        then: AFTER_CUT,
    },
    Rule {
        name: "one-tone",
        when: |f| f.is(Kind::Single),
        next: Move::Tip,
        place: blend,
        because: "a single easy tone comes first, octaves once the blend of tip and heart works",
        from: "paddlefish.net, lesson notes",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "unsettled",
        when: |f| f.is(Kind::Unsettled),
        next: Move::Tip,
        place: blend,
        because: "chatter and warble come from the blend between tip and heart",
        from: "paddlefish.net, lesson notes",
        then: AFTER_SCRAPE,
    },
    Rule {
        name: "no-verdict",
        when: |_| Condition { holds: true, sure: 0.5, reasons: Vec::new() },
        next: Move::Recrow,
        place: nowhere,
        because: "the figures of this take decide for no cut",
        from: OURS,
        then: "Crow three times, a second or so each, at one strength, close to the microphone.",
    },
];

/// The first rule that applies.
pub(super) fn first_that_holds(facts: &Facts) -> Match {
    let last = &RULES[RULES.len() - 1];
    RULES
        .iter()
        .map(|rule| Match { rule, condition: (rule.when)(facts) })
        .find(|found| found.condition.holds)
        .unwrap_or_else(|| Match { rule: last, condition: (last.when)(facts) })
}

impl Rule {
    /// The rule itself as the last of its reasons.
    pub fn reason(&self) -> Reason {
        Reason {
            figure: "practice".into(),
            value: None,
            says: format!("{} ({})", self.because, self.from),
        }
    }

    /// What costs no cane and is tried before its move.
    pub fn free_first(&self, facts: &Facts) -> Option<&'static str> {
        let wide = facts.found(Fault::OpeningWide).holds;
        let closed = facts.found(Fault::OpeningClosed).holds;
        if self.name == "air-only" && closed {
            return Some(
                "The opening is the likely cause: wet it through, open the tip gently by pressing its \
                 edges together, and blow again. ",
            );
        }
        if self.name == "air-only" && wide {
            return Some(
                "The opening is the likely cause: wet, with the plaque out, press the blades gently a \
                 little closed, and blow again. ",
            );
        }
        let scrapes = self.next.is_cut() && self.next != Move::Clip;
        let lowers = facts.sharp().holds && !wide || closed && !facts.flat().holds;
        (scrapes && lowers && !facts.opening_was_last().holds).then_some(
            "First wet it through, open the tip gently by pressing its edges together, and crow again: \
             that costs no cane. Only if that does not help, cut. ",
        )
    }

    /// What to take care of in its move.
    pub fn cautions(&self, facts: &Facts) -> Vec<String> {
        let pressed =
            ["wide-and-flat", "closed-and-sharp", "sharp-and-easy-after-tip", "scraped-out"];
        let pressed = pressed.contains(&self.name) || self.free_first(facts).is_some();
        let sealed = self.name == "leak-by-heart";
        cautions::of(self.next, cautions::Besides { pressed, sealed }, facts)
    }
}

/// An opening that explains why nothing sounds; where none does, nothing is said.
fn opening_off(facts: &Facts) -> Condition {
    let off = facts.found(Fault::OpeningClosed).or(facts.found(Fault::OpeningWide));
    if off.holds { off.gate() } else { Condition::known(true) }
}

/// In octaves from the lowest that is expected up, or one tone or octaves: no cut rests on octaves
/// that may be there.
fn octaves(facts: &Facts) -> Condition {
    facts
        .is(Kind::Octaves)
        .or(facts.is(Kind::Blended))
        .and(agreed(facts, facts.low_octave_missing().not()))
}

/// In octaves, in tune, steady and easy: nothing to mend. As sure as pitch and octaves are, and as
/// all other figures are within their limits.
fn sound(facts: &Facts) -> Condition {
    octaves(facts).and(facts.octave_told()).and(facts.in_tune()).and(facts.faults().not())
}

/// Which octave the crows stand in is, where there is a target, what they agree on already; a
/// profile's note between low and high is a matter of degree.
fn agreed(facts: &Facts, octave: Condition) -> Condition {
    if facts.profile().target.is_some() { octave.gate() } else { octave }
}

/// It sounds, and not in locked octaves from the lowest that is expected up.
fn disordered(facts: &Facts) -> Condition {
    let missing = agreed(facts, facts.low_octave_missing());
    let peep = facts.is(Kind::Octaves).or(facts.is(Kind::Blended)).and(missing);
    facts.is(Kind::Split).or(facts.is(Kind::Single)).or(facts.is(Kind::Unsettled)).or(peep)
}

/// Its lowest tone is the upper octave.
fn peep(facts: &Facts) -> Condition {
    let missing = agreed(facts, facts.low_octave_missing());
    facts.is(Kind::Single).or(facts.is(Kind::Octaves)).or(facts.is(Kind::Blended)).and(missing)
}

/// Air without a crow, not in octaves, or hard to blow.
fn choked(facts: &Facts) -> Condition {
    facts.air_only().or(disordered(facts)).or(facts.hard()).gate()
}
