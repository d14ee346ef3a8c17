//! What is heard of one state of the reed: its crows as sounds and signs with their doubt, and a pitch that
//! stray crows do not carry off. Readings enter, and what the maker said of them.

use super::belief::{Heard, Pitch, Sign};
use super::practice::{SOUNDS, Sound};
use crate::dsp::statistics::median;
use crate::pitch::{A4, register};
use crate::profile::Profile;
use crate::reading::{Crow, Faint, Figures, Kind, Reading};
use crate::units::Hertz;

/// A single crow's kind may be another's slip; so sure is each (our choice).
const SURE_OF_KIND: f64 = 0.96;

/// So surely a puff beside crows is a crow that did not come (our choice).
const PUFF: f64 = 0.65;

/// What was heard of one state of the reed.
pub(super) fn heard_of(takes: &[Reading], said: &[Said], profile: &Profile) -> Heard {
    let mut heard = Heard::default();
    let mut figures: Vec<(&Reading, &Crow)> = Vec::new();
    for (number, take) in takes.iter().enumerate() {
        let sounding: Vec<&Crow> =
            take.crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
        for (index, crow) in take.crows.iter().enumerate() {
            if crow.kind == Kind::Breath {
                continue;
            }
            if is_of_no_such_reed(crow, profile) {
                heard.strangers += 1;
                continue;
            }
            let is_it = |one: &&Said| one.take == number && one.crow as usize == index + 1;
            // The maker's ear on the reed itself outweighs what the sound tells.
            let own = said.iter().rev().find(is_it).map(|one| surely(one.sound));
            heard.crows.push(own.unwrap_or_else(|| sound_of(take, crow, profile)));
            figures.push((take, crow));
        }
        // Puffs alone are what came of blowing; beside crows they may be a breath drawn, beside other
        // sounds they are of those.
        let is_puff = |crow: &&Crow| crow.kind == Kind::Breath && !is_beside_another(crow, take);
        let puffs = take.crows.iter().filter(is_puff).count().min(3);
        if sounding.is_empty() {
            heard.crows.extend(std::iter::repeat_n(surely(Sound::Air), puffs));
        } else {
            let puffs = puffs.min(sounding.len().max(2));
            heard.puffs += puffs;
            heard.crows.extend(std::iter::repeat_n(maybe_air(), puffs));
        }
    }
    let lines = &profile.advice;
    let share = |holds: &dyn Fn(&Reading, &Figures) -> Option<bool>| -> Sign {
        let told = || figures.iter().filter_map(|(take, crow)| holds(take, &crow.figures));
        Sign { with: told().filter(|holds| *holds).count(), of: told().count() }
    };
    let held = share(&|take, of| {
        let own = own_lowest(take, of, profile)?;
        let upper = of.rungs.iter().filter(|rung| rung.sustained && rung.hz > own.hz).count();
        if upper == 0 {
            return None;
        }
        let switches = of
            .rungs
            .iter()
            .filter(|rung| rung.sustained && rung.hz >= own.hz)
            .take(2)
            .any(|rung| rung.switches_per_s > lines.switches_per_s);
        let late = of.response.low_delay_s.is_some_and(|delay| delay > lines.slow_low_s);
        let is_faint = of.voices.faint == Some(Faint::Low);
        Some(
            late || is_faint
                || own.present < lines.low_present
                || own.level_db < lines.weak_low_db
                || switches,
        )
    });
    let hard = share(&|_, of| {
        let slow = of.response.onset_s.map(|onset| onset > lines.slow_onset_s);
        let stuffy = of.breath.noise_db.map(|noise| noise > lines.stuffy_db);
        (slow.is_some() || stuffy.is_some())
            .then(|| slow.unwrap_or(false) || stuffy.unwrap_or(false))
    });
    let rough = share(&|_, of| {
        let wanders = of.steadiness.spread_cents.map(|spread| spread > lines.unsteady_cents);
        let rattles =
            of.steadiness.rattle_depth.is_some_and(|depth| depth > lines.wild_rattle_depth);
        wanders.map(|wanders| wanders || rattles)
    });
    heard.signs = [held, hard, rough];
    heard.pitch = pitch_of(&figures, lines.usual_spread_cents);
    heard
}

/// Breath this near to what was set aside is of the same voice, in seconds.
const BESIDE_S: f64 = 1.0;

/// Whether what was set aside sounds within a breath of it.
fn is_beside_another(crow: &Crow, take: &Reading) -> bool {
    let is_near =
        |from_s: f64, to_s: f64| crow.start_s < to_s + BESIDE_S && from_s < crow.end_s + BESIDE_S;
    take.others.iter().any(|other| is_near(other.from_s, other.to_s))
}

fn surely(sound: Sound) -> [f64; SOUNDS] {
    let rest = (1.0 - SURE_OF_KIND) / (SOUNDS as f64 - 1.0);
    let mut each = [rest; SOUNDS];
    each[sound as usize] = SURE_OF_KIND;
    each
}

/// A puff beside crows.
pub(super) fn maybe_air() -> [f64; SOUNDS] {
    let mut each = [(1.0 - PUFF) / (SOUNDS as f64 - 1.0); SOUNDS];
    each[Sound::Air as usize] = PUFF;
    each
}

fn sound_of(take: &Reading, crow: &Crow, profile: &Profile) -> [f64; SOUNDS] {
    let is_high = is_high(take, &crow.figures, profile);
    match crow.kind {
        // The sound does not tell: it counts for both, as far as it may be either.
        Kind::Blended if !is_high => {
            let octaves = crow.figures.voices.octaves.unwrap_or(0.5).clamp(0.0, 1.0);
            let (one, other) = (surely(Sound::Octaves), surely(Sound::Low));
            std::array::from_fn(|at| octaves * one[at] + (1.0 - octaves) * other[at])
        }
        Kind::Octaves if !is_high => surely(Sound::Octaves),
        Kind::Single if !is_high => surely(Sound::Low),
        Kind::Octaves | Kind::Single | Kind::Blended => surely(Sound::Peep),
        Kind::Split => surely(Sound::Split),
        Kind::Unsettled => surely(Sound::Wild),
        Kind::Breath => surely(Sound::Air),
    }
}

/// Whether it sounds higher than the reeds expected do, or two octaves lower: a beep, a whistle, a bassoon's
/// note. No cut rests on it; an octave lower a reed may growl.
fn is_of_no_such_reed(crow: &Crow, profile: &Profile) -> bool {
    let registers = profile.lowest_register() - 1..=profile.highest_register();
    crow.figures.fundamental.register.is_some_and(|register| !registers.contains(&register))
}

fn a4(take: &Reading) -> A4 {
    A4::new(take.a4_hz).unwrap_or_default()
}

/// The rung a crow stands on: the lowest that is sustained, growls below the expected octaves left out.
fn own_lowest<'a>(
    take: &Reading,
    figures: &'a Figures,
    profile: &Profile,
) -> Option<&'a crate::reading::Rung> {
    let target = profile.target_frequency(a4(take));
    let growls = |rung: &crate::reading::Rung| {
        let below = target
            .zip(Hertz::new(rung.hz))
            .is_some_and(|(target, hz)| register(hz, target) < profile.lowest_register());
        below && rung.level_db < profile.advice.growl_db
    };
    let sustained = || figures.rungs.iter().filter(|rung| rung.sustained);
    sustained().find(|rung| !growls(rung)).or_else(|| sustained().next())
}

/// Whether its lowest tone is the upper octave.
fn is_high(take: &Reading, figures: &Figures, profile: &Profile) -> bool {
    let hz = own_lowest(take, figures, profile).map(|rung| rung.hz).or(figures.fundamental.hz);
    let Some(hz) = hz.and_then(Hertz::new) else { return false };
    if let Some(target) = profile.target_frequency(a4(take)) {
        return register(hz, target) > profile.lowest_register();
    }
    profile.peep_above.is_some_and(|limit| limit.frequency(a4(take)).cents_to(hz).0 > 0.0)
}

/// At most one crow in so many is taken for a stray.
const MOST_STRAYS: usize = 4;

/// The pitch over the crows: their median, with a spread that a few stray ones do not carry off.
fn pitch_of(figures: &[(&Reading, &Crow)], usual: f64) -> Option<Pitch> {
    let each: Vec<f64> = figures
        .iter()
        .filter_map(|(_, crow)| crow.figures.fundamental.target_cents)
        .filter(|cents| cents.is_finite())
        .collect();
    let middle = median(each.iter().copied())?;
    let off: Vec<f64> = each
        .iter()
        .map(|cents| cents - middle)
        .map(|off| (off - 1200.0 * (off / 1200.0).round()).abs())
        .collect();
    let usual_of_these = 1.4826 * median(off.iter().copied()).unwrap_or(0.0);
    let limit = 3.0 * usual.max(usual_of_these);
    // One in three is no stray: which of them the reed is cannot be told.
    let strays = off.iter().filter(|off| **off > limit).count();
    let limit = if MOST_STRAYS * strays > off.len() { f64::INFINITY } else { limit };
    let squares: f64 = off.iter().map(|off| off.min(limit).powi(2)).sum();
    let count = each.len() as f64;
    let spread = ((usual.powi(2) + squares) / count).sqrt();
    let own: Vec<f64> = figures
        .iter()
        .filter_map(|(_, crow)| crow.figures.fundamental.ci95_cents)
        .filter(|half| half.is_finite())
        .collect();
    let own = median(own).unwrap_or(0.0) / 1.96 / count.sqrt();
    // The median of a few scatters a little more than their mean.
    let sd = (spread * (1.2 / count).sqrt()).hypot(own);
    Some(Pitch { cents: middle, sd, spread, register: commonest_register(figures) })
}

/// The octave in which most crows sound, the lowest of equals.
fn commonest_register(figures: &[(&Reading, &Crow)]) -> Option<i32> {
    let registers = || figures.iter().filter_map(|(_, crow)| crow.figures.fundamental.register);
    let count = |register: i32| registers().filter(|other| *other == register).count();
    registers().max_by_key(|register| (count(*register), std::cmp::Reverse(*register)))
}

/// Whether its pitch glides.
pub(super) fn glides(takes: &[Reading], limit: f64) -> bool {
    let each = takes
        .iter()
        .flat_map(|take| &take.crows)
        .filter_map(|crow| crow.figures.steadiness.drift_cents_per_s)
        .map(f64::abs);
    median(each).is_some_and(|drift| drift > limit)
}

/// A rattle that moves the level by less is a shimmer.
const RATTLE_DEPTH: f64 = 0.25;

/// How often a second the reed rattles, where most of its crows do.
pub(super) fn rattle_hz(takes: &[Reading]) -> Option<f64> {
    let crows = || takes.iter().flat_map(|take| &take.crows).filter(|c| c.kind != Kind::Breath);
    let rattles = |crow: &Crow| {
        let of = &crow.figures.steadiness;
        of.rattle_hz.filter(|_| of.rattle_depth.is_some_and(|depth| depth > RATTLE_DEPTH))
    };
    let each: Vec<f64> = crows().filter_map(rattles).collect();
    (2 * each.len() > crows().count()).then(|| median(each)).flatten()
}

/// What a maker hears of one crow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Said {
    /// Which take of the stage, from 0.
    pub take: usize,
    /// Which crow of the take, from 1.
    pub crow: u32,
    /// What.
    pub sound: Sound,
}
