//! A reed's way so far, as the adviser takes it: stage by stage what was heard, seen, told and done.
//! Readings and looks enter; what the samples are weighed by leaves.

use super::belief::{Belief, Heard, Pitch};
use super::decide::{Done, Now};
use super::hearing::{Said, glides, heard_of, maybe_air, rattle_hz};
use super::practice::{Cause, Practice, SOUNDS, Sound};
use super::{Move, Wanted, Where};
use crate::comparison::{Effects, Rate, Spread, Whose, rate};
use crate::pitch::Note;
use crate::profile::Profile;
use crate::reading::{Kind, Reading, WarningCode};
use crate::reed::{
    Bark, Corners, Cut, Fault, Finding, Heart, Inspection, Leak, Measurements, Symmetry, TipSides,
    findings,
};

/// The reed between two cuts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stage {
    /// All takes of it.
    pub takes: Vec<Reading>,
    /// What the maker said they hear of its crows, in order; the last word on a crow holds.
    pub said: Vec<Said>,
    /// What was seen on it, in order.
    pub looks: Vec<Inspection>,
    /// What was told of it, in order.
    pub told: Vec<(Move, Where)>,
    /// What was done then, with its amount in millimetres; `None` for the last.
    pub work: Option<(Cut, Option<f64>)>,
}

/// The whole way.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Story {
    /// In order; the last is the reed as it is.
    pub stages: Vec<Stage>,
    /// What it measures now.
    pub measured: Measurements,
    /// How well its length is known, in millimetres; `None` for as well as a ruler tells.
    pub length_sd_mm: Option<f64>,
    /// Whose it is.
    pub whose: Whose,
}

/// What is made of a story.
pub(super) struct Case<'a> {
    pub belief: Belief<'a>,
    pub now: Now,
    pub heard: Heard,
    pub findings: Vec<Finding>,
}

/// How a cut's clip is learned.
fn spread_of(practice: &Practice, cut: Cut) -> Spread {
    let of = &practice.clip;
    if cut == Cut::Clip {
        return Spread {
            mean: of.cents_per_mm,
            sd: of.sd,
            maker: of.maker_sd,
            cane: of.cane_sd,
            reed: of.reed_sd,
            amount: of.cut_sd_mm,
            cents: of.cents_sd,
        };
    }
    let work = practice.work(cut);
    let (mean, sd) = work.map_or((0.0, 8.0), |work| (work.cents, work.cents_sd));
    // A round of scraping differs from the next as much as it does from reed to reed.
    Spread { mean, sd, maker: sd / 3.0, cane: sd / 3.0, reed: sd / 3.0, amount: 0.0, cents: sd }
}

/// What a cut does to the pitch of this reed.
pub(super) fn known_rate(practice: &Practice, effects: &Effects, whose: &Whose, cut: Cut) -> Rate {
    let past: Vec<_> =
        effects.past.iter().filter(|past| past.0 == cut).map(|past| past.1.clone()).collect();
    rate(&spread_of(practice, cut), &past, whose)
}

/// Weighs the samples by the whole story.
pub(super) fn case<'a>(
    practice: &'a Practice,
    story: &Story,
    profile: &Profile,
    effects: &Effects,
) -> Case<'a> {
    let findings = findings(&story.measured, &Inspection::default(), profile);
    // How it is built does not change until it is tied again: known from the start, however late the
    // ruler came. What work changes is known of the reed as it is now.
    let is_tied_again = story.last_with(ties).is_some();
    let is_built = |cause: Cause| !is_tied_again && matches!(cause, Cause::Winding | Cause::High);
    let (built, worked): (Vec<_>, Vec<_>) =
        ruled(&findings, &story.measured).into_iter().partition(|one| is_built(one.0));
    let mut way = Way::begun(practice, story, profile, effects);
    for (cause, sure) in built {
        way.belief.measured(cause, sure);
    }
    story.stages.iter().for_each(|stage| way.pass(stage));
    for (cause, sure) in worked {
        way.belief.measured(cause, sure);
    }
    let now = way.now(&findings);
    Case { belief: way.belief, now, heard: way.heard, findings }
}

impl Story {
    /// The last stage after which such work was done.
    fn last_with(&self, is_such: impl Fn(Cut) -> bool) -> Option<usize> {
        self.stages.iter().rposition(|stage| stage.work.is_some_and(|(cut, _)| is_such(cut)))
    }

    /// How much was told since such work was done last.
    fn told_since(&self, is_such: impl Fn(Cut) -> bool) -> usize {
        let since = self.stages.iter().skip(self.last_with(is_such).map_or(0, |at| at + 1));
        since.map(|stage| stage.told.len()).sum()
    }
}

fn ties(cut: Cut) -> bool {
    cut == Cut::Retie
}

/// Whether it seals where a seal may hold. One beside the heart rarely does, and is the last word on it.
fn seals(cut: Cut) -> bool {
    matches!(cut, Cut::Seal | Cut::SealLow)
}

/// A story as far as it was gone through.
struct Way<'a, 's> {
    practice: &'a Practice,
    story: &'s Story,
    profile: &'s Profile,
    effects: &'s Effects,
    /// What a clip does to the pitch of this reed.
    clip: Rate,
    belief: Belief<'a>,
    /// The pitch as it was last heard, moved on by what was done since.
    pitch: Option<Pitch>,
    /// The chance of octaves and how far the pitch was off, in cents, before the last work.
    before: Option<(f64, Option<f64>)>,
    done: Vec<Done>,
    told: Vec<(Move, Where)>,
    /// All that was ever looked at.
    looked: Vec<Wanted>,
    eyes: Inspection,
    /// What was heard of the last stage, …
    heard: Heard,
    /// … looked at in it, …
    seen_now: Vec<Wanted>,
    /// … and seen to leak.
    leak_seen: Option<Cause>,
}

impl<'a, 's> Way<'a, 's> {
    fn begun(
        practice: &'a Practice,
        story: &'s Story,
        profile: &'s Profile,
        effects: &'s Effects,
    ) -> Self {
        Self {
            practice,
            story,
            profile,
            effects,
            clip: known_rate(practice, effects, &story.whose, Cut::Clip),
            belief: Belief::before(practice),
            pitch: None,
            before: None,
            done: Vec::new(),
            told: Vec::new(),
            looked: Vec::new(),
            eyes: Inspection::default(),
            heard: Heard::default(),
            seen_now: Vec::new(),
            leak_seen: None,
        }
    }

    fn pass(&mut self, stage: &Stage) {
        self.hear(stage);
        self.see(&stage.looks);
        self.told.extend(stage.told.iter().cloned());
        if let Some((cut, amount_mm)) = stage.work {
            self.work(cut, amount_mm);
        }
    }

    fn hear(&mut self, stage: &Stage) {
        self.heard = heard_of(&stage.takes, &stage.said, self.profile);
        let heard = &self.heard;
        if !heard.crows.is_empty() {
            self.belief.hears(heard);
        }
        // What was done since may not have touched it.
        self.leak_seen = self.leak_seen.filter(|_| self.eyes.leak.is_some());
        if let Some(flaw) = self.leak_seen {
            self.belief.shows(flaw, SURE_OF_EYES);
        }
        if let Some(last) = self.done.last_mut().filter(|_| !heard.crows.is_empty()) {
            let octaves = self.belief.next_sounds()[0];
            let off = heard.pitch.map(|pitch| pitch.cents.abs());
            let better = self.before.is_none_or(|(was, was_off)| {
                octaves > was + 0.02
                    || matches!((off, was_off), (Some(off), Some(was)) if off < was - 3.0)
            });
            last.helped = Some(better);
        }
        self.pitch = heard.pitch.or(self.pitch);
    }

    fn see(&mut self, looks: &[Inspection]) {
        self.seen_now.clear();
        for (number, look) in looks.iter().enumerate() {
            self.eyes = look.over(self.eyes);
            // Of one and the same state the last word on a place holds: an earlier one was a slip.
            let later: Vec<Wanted> =
                looks[number + 1..].iter().flat_map(seen).map(|(at, _)| at).collect();
            for (at, saw) in seen(look) {
                if later.contains(&at) {
                    continue;
                }
                self.belief.sees(at, saw, self.looked.contains(&at));
                if at == Wanted::Leak {
                    self.leak_seen = saw;
                }
                let is_plain = |flaw: &Cause| at == Wanted::Leak || PLAIN_TO_SEE.contains(flaw);
                if let Some(flaw) = saw.filter(is_plain) {
                    let is_leak = at == Wanted::Leak;
                    self.belief.shows(flaw, if is_leak { SURE_OF_EYES } else { SURE_OF_PLAIN });
                }
                self.looked.push(at);
                self.seen_now.push(at);
            }
        }
    }

    fn work(&mut self, cut: Cut, amount_mm: Option<f64>) {
        let off = self.pitch.map(|pitch| pitch.cents.abs());
        self.before = Some((self.belief.next_sounds()[0], off));
        // A leak sealed without a word of where was most likely low, where sealing helps.
        let cut = if cut == Cut::Seal { Cut::SealLow } else { cut };
        self.eyes = self.eyes.after(cut);
        self.belief.worked(cut, amount_mm, self.rate(cut));
        if let (Some(pitch), Cut::Clip, Some(mm)) = (&mut self.pitch, cut, amount_mm) {
            pitch.cents += self.clip.mean * mm;
            pitch.sd = pitch.sd.hypot(self.clip.sd * mm).hypot(self.practice.clip.cents_sd);
        }
        self.done.push(Done { cut, helped: None });
    }

    fn rate(&self, cut: Cut) -> Rate {
        known_rate(self.practice, self.effects, &self.story.whose, cut)
    }

    /// The reed as it is when all is gone through.
    fn now(&mut self, findings: &[Finding]) -> Now {
        let (practice, story, profile) = (self.practice, self.story, self.profile);
        let (heard, pitch, lines) = (&self.heard, self.pitch, &profile.advice);
        let last = story.stages.last();
        let takes = last.map(|stage| stage.takes.as_slice()).unwrap_or_default();
        let named = last.map_or(0, |stage| stage.said.len());
        let blended = blended(takes).saturating_sub(named);
        let far = pitch.is_some_and(|pitch| pitch.cents.abs() >= FAR_CENTS);
        let length_sd_mm = story.length_sd_mm.unwrap_or(profile.tolerance.measuring_mm);
        Now {
            pitch: pitch.filter(|_| profile.target.is_some()),
            crows: heard.crows.len(),
            puffs: heard.puffs,
            in_octaves: in_octaves(heard),
            signs: heard.signs.iter().any(|sign| sign.is_there()),
            late: 4 * heard.signs[0].with > heard.signs[0].of,
            toneless: heard.crows.iter().filter(|crow| is_toneless(crow)).count(),
            rattle_hz: rattle_hz(takes),
            hard: heard.signs[1].is_there(),
            blocked: heard.signs[1..].iter().any(|sign| sign.is_there()),
            crows_wanted: lines.crows_wanted as usize,
            least_help: lines.least_confidence,
            length: story.measured.length_mm.map(|mm| (mm, length_sd_mm)),
            usual_mm: profile.dimensions.length,
            shortest_mm: profile.dimensions.shortest_length,
            tolerance: profile.tolerance.target_cents,
            longest_clip_mm: match self.clip.sd < KNOWN_CLIP * practice.clip.sd {
                true => practice.clip.longest_mm.max(lines.first_clip_mm),
                false => lines.first_clip_mm,
            },
            smallest_clip_mm: lines.smallest_clip_mm,
            clip: self.clip,
            proposed: practice.proposed().collect(),
            works: practice.work.keys().map(|cut| (*cut, self.rate(*cut))).collect(),
            pitch_is_free: profile.target.is_none()
                || pitch.is_some_and(|pitch| disputed(pitch, profile)),
            heard: !heard.crows.is_empty(),
            far,
            doubtful: are_doubtful(takes) || glides(takes, lines.glide_cents_per_s) || far,
            ask_ear: 2 * blended > heard.crows.len(),
            blended,
            told: std::mem::take(&mut self.told),
            told_here: last.map_or(0, |stage| stage.told.len()),
            told_since_tied: story.told_since(ties),
            told_since_sealed: story.told_since(seals),
            done: std::mem::take(&mut self.done),
            seen: std::mem::take(&mut self.seen_now),
            leak_seen: self.leak_seen,
            eyes: self.eyes,
            measured: measured_now(&story.measured),
            measure_again: again(findings),
        }
    }
}

/// Crows of which the sound does not tell whether they are octaves or one tone.
fn blended(takes: &[Reading]) -> usize {
    let crows = takes.iter().flat_map(|take| &take.crows);
    crows.filter(|crow| crow.kind == Kind::Blended).count()
}

/// Whether takes were recorded so badly that nothing is to be cut by them.
fn are_doubtful(takes: &[Reading]) -> bool {
    let is_grave = |code| {
        matches!(code, WarningCode::NoisyRoom | WarningCode::LostSamples | WarningCode::Overload)
    };
    takes.iter().flat_map(|take| &take.warnings).any(|warning| is_grave(warning.code))
}

/// Whether a crow most likely has no tone: air, or wild.
fn is_toneless(crow: &[f64; SOUNDS]) -> bool {
    crow[Sound::Air as usize] + crow[Sound::Wild as usize] > 0.5
}

/// Of the crows that sound, those in octaves.
fn in_octaves(heard: &Heard) -> f64 {
    let all: f64 = heard.crows.iter().map(|crow| crow[Sound::Octaves as usize]).sum();
    all - heard.puffs as f64 * maybe_air()[Sound::Octaves as usize]
}

/// A leak that is seen now is there so surely, whatever was inferred before (our choice) …
const SURE_OF_EYES: f64 = 0.8;

/// … and so surely what hardly anybody overlooks or mistakes.
const SURE_OF_PLAIN: f64 = 0.95;
const PLAIN_TO_SEE: [Cause; 2] = [Cause::Chipped, Cause::Bark];

/// From this far off the target, either way, it does not sound like a crow of this kind of reed, in
/// cents (our choice): makers argue over a tone or so.
const FAR_CENTS: f64 = 250.0;

/// What a clip does is known once so much is left of the doubt there was before any (our choice).
const KNOWN_CLIP: f64 = 0.6;

/// On another note that makers hold this kind of reed to, or between that and the target.
fn disputed(pitch: Pitch, profile: &Profile) -> bool {
    let Some(target) = profile.target else { return false };
    let limit = profile.tolerance.target_cents;
    profile.also.iter().any(|also: &Note| {
        let semitones = (also.midi() - target.midi() + 6).rem_euclid(12) - 6;
        let off = 100.0 * f64::from(semitones);
        (off.min(0.0) - limit..=off.max(0.0) + limit).contains(&pitch.cents)
            && pitch.cents.abs() > limit
    })
}

/// What each look says of the causes that it may show.
fn seen(look: &Inspection) -> Vec<(Wanted, Option<Cause>)> {
    let leak = look.leak.map(|leak| match leak {
        Leak::None => None,
        Leak::Low => Some(Cause::LeakLow),
        Leak::Heart => Some(Cause::LeakHeart),
    });
    let bark = look.bark.map(|bark| (bark == Bark::Gone).then_some(Cause::Bark));
    let symmetry =
        look.symmetry.map(|symmetry| (symmetry == Symmetry::Uneven).then_some(Cause::Uneven));
    let heart = look.heart.map(|heart| match heart {
        Heart::Good => None,
        Heart::Thick => Some(Cause::Heart),
        Heart::Thin => Some(Cause::HeartThin),
    });
    let corners = look.corners.map(|corners| match corners {
        Corners::Thin => None,
        Corners::Thick => Some(Cause::Corners),
        Corners::Chipped => Some(Cause::Chipped),
    });
    let sides = look.tip_sides.map(|sides| (sides == TipSides::Thick).then_some(Cause::Sides));
    [
        (Wanted::Leak, leak),
        (Wanted::Bark, bark),
        (Wanted::Symmetry, symmetry),
        (Wanted::Heart, heart),
        (Wanted::Corners, corners),
        (Wanted::TipSides, sides),
    ]
    .into_iter()
    .filter_map(|(at, saw)| Some((at, saw?)))
    .collect()
}

/// The chance that the ruler gives to each cause it can show.
fn ruled(findings: &[Finding], measured: &Measurements) -> Vec<(Cause, f64)> {
    // What lies within the usual says that it is not there, as far as a ruler can say so.
    const WELL: f64 = 0.04;
    let of = |fault: Fault| findings.iter().find(|found| found.fault == fault).map(|f| f.sure);
    let sizes = **measured;
    let mut all = Vec::new();
    let mut tell = |cause: Cause, by_ruler: bool, sure: Option<f64>| {
        if by_ruler {
            all.push((cause, sure.unwrap_or(WELL)));
        }
    };
    tell(Cause::Winding, sizes.wound_to_mm.is_some(), of(Fault::WoundPastStaple));
    tell(Cause::Closed, sizes.opening_mm.is_some(), of(Fault::OpeningClosed));
    tell(Cause::Wide, sizes.opening_mm.is_some(), of(Fault::OpeningWide));
    let high = of(Fault::SetTooHigh).or(of(Fault::TipStartHigh));
    tell(Cause::High, sizes.tip_start_mm.is_some(), high);
    tell(Cause::Bark, of(Fault::BarkGone).is_some(), of(Fault::BarkGone));
    all
}

fn measured_now(measured: &Measurements) -> Vec<Wanted> {
    let sizes = **measured;
    [
        (Wanted::Length, sizes.length_mm),
        (Wanted::Staple, sizes.staple_mm),
        (Wanted::Winding, sizes.wound_to_mm),
        (Wanted::Window, sizes.window_bottom_mm),
        (Wanted::Heart, sizes.heart_bottom_mm),
        (Wanted::Tip, sizes.tip_start_mm),
        (Wanted::Opening, sizes.opening_mm),
    ]
    .into_iter()
    .filter_map(|(wanted, mm)| mm.map(|_| wanted))
    .collect()
}

/// What the ruler is to tell again.
fn again(findings: &[Finding]) -> Vec<Wanted> {
    let doubtful = findings.iter().filter(|found| found.fault == Fault::Doubtful);
    doubtful
        .filter_map(|found| {
            Some(match found.figure.as_str() {
                "length_mm" => Wanted::Length,
                "staple_mm" => Wanted::Staple,
                "wound_to_mm" => Wanted::Winding,
                "window_bottom_mm" => Wanted::Window,
                "heart_bottom_mm" => Wanted::Heart,
                "tip_start_mm" => Wanted::Tip,
                "opening_mm" => Wanted::Opening,
                _ => return None,
            })
        })
        .collect()
}
