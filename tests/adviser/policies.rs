//! What others would do with the same reeds: an oracle that sees the hidden state, the trade's rule of
//! thumb, and a hand that makes random moves which are not absurd.

use crate::play::{Heard, MOST_ROUNDS, Played, blow};
use crate::reed::{Complaint, Draws, Hidden, Sound, World};
use reedcrow::advice::Move;
use reedcrow::reed::Cut;

/// What it does next.
enum Next {
    Cut(Cut, Option<f64>),
    End(Move),
}

/// Who decides.
#[derive(Debug, Clone, Copy)]
pub enum Policy {
    Oracle,
    RuleOfThumb,
    Random,
}

impl Policy {
    pub const ALL: [Self; 3] = [Self::Oracle, Self::RuleOfThumb, Self::Random];

    pub fn name(self) -> &'static str {
        match self {
            Self::Oracle => "oracle",
            Self::RuleOfThumb => "rule of thumb",
            Self::Random => "random",
        }
    }

    pub fn play(self, complaint: Complaint, draws: &mut Draws, world: &World) -> Played {
        let mut hidden = Hidden::with(complaint, draws, world);
        let was = hidden.clone();
        let mut played = Played::new(complaint);
        let mut cuts = 0;
        while played.rounds < MOST_ROUNDS && played.ended.is_none() {
            played.rounds += 1;
            let heard = blow(&hidden, draws, world);
            let next = match self {
                Self::Oracle => oracle(&hidden, cuts),
                Self::RuleOfThumb => rule_of_thumb(&heard, &hidden, cuts),
                Self::Random => random(&heard, cuts, draws),
            };
            match next {
                Next::End(how) => played.ended = Some(how),
                Next::Cut(cut, mm) => {
                    cuts += 1;
                    hidden.cut(cut, mm, draws, world);
                }
            }
        }
        played.ends(&was, &hidden);
        played
    }
}

/// Sees all and does what takes most of what is wrong.
fn oracle(hidden: &Hidden, cuts: usize) -> Next {
    if hidden.is_good() {
        return Next::End(Move::Leave);
    }
    let room_mm = hidden.length_mm - 67.0;
    if hidden.is_past_help() {
        return Next::End(Move::Stop);
    }
    if hidden.leak_low {
        return Next::Cut(Cut::SealLow, None);
    }
    if hidden.leak_heart {
        return if cuts < 2 { Next::Cut(Cut::SealHeart, None) } else { Next::End(Move::Stop) };
    }
    if hidden.choked {
        return Next::Cut(Cut::Retie, None);
    }
    let too_short = Next::End(Move::Stop);
    if hidden.thinness() >= 0.3 {
        return if room_mm > 0.1 { Next::Cut(Cut::Clip, Some(0.1)) } else { too_short };
    }
    let each = hidden.disorder();
    let cuts = [Cut::TipSides, Cut::TipCorners, Cut::TipStep, Cut::HeartSides, Cut::BackWindows];
    if each.iter().sum::<f64>() >= 0.35 {
        let worst = (0..5).max_by(|a, b| each[*a].total_cmp(&each[*b])).unwrap_or(0);
        return Next::Cut(cuts[worst], None);
    }
    if hidden.cents < -12.0 {
        let mm = (-hidden.cents / hidden.cents_per_mm).min(room_mm);
        return if mm >= 0.1 { Next::Cut(Cut::Clip, Some(mm)) } else { too_short };
    }
    if hidden.cents > 12.0 {
        // Where most cane is left.
        let left = [
            (hidden.heart + 0.6, Cut::HeartSides),
            (hidden.back + 0.4, Cut::BackWindows),
            (hidden.sides + 0.2, Cut::TipSides),
        ];
        let most = left.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
        return most.map_or(Next::End(Move::Leave), |one| Next::Cut(one.1, None));
    }
    Next::End(Move::Leave)
}

/// What most of three crows are.
fn usual(heard: &Heard) -> Sound {
    let count = |sound: Sound| heard.crows.iter().filter(|crow| crow.0 == sound).count();
    let best = heard.crows.iter().map(|crow| crow.0).max_by_key(|sound| count(*sound));
    best.unwrap_or(Sound::Air)
}

/// Flat is clipped, everything else is the tip; common practice, no source.
fn rule_of_thumb(heard: &Heard, hidden: &Hidden, cuts: usize) -> Next {
    if cuts >= 12 {
        return Next::End(Move::Leave);
    }
    let sound = usual(heard);
    let cents = heard.pitch.unwrap_or(0.0);
    let clip = |mm: f64| match hidden.length_mm - mm > 67.0 {
        true => Next::Cut(Cut::Clip, Some(mm)),
        false => Next::End(Move::Stop),
    };
    match sound {
        Sound::Octaves if cents.abs() <= 15.0 => Next::End(Move::Leave),
        Sound::Octaves if cents < 0.0 => clip(0.3),
        Sound::Air => clip(0.2),
        Sound::Octaves | Sound::OctavesLowLate | Sound::Peep | Sound::Low => {
            Next::Cut(Cut::TipSides, None)
        }
        Sound::Split => Next::Cut(Cut::TipCorners, None),
        Sound::Wild => Next::Cut(Cut::TipStep, None),
    }
}

/// Any move that could be right by what is heard.
fn random(heard: &Heard, cuts: usize, draws: &mut Draws) -> Next {
    let sound = usual(heard);
    let cents = heard.pitch.unwrap_or(0.0);
    if cuts >= 12 || (sound == Sound::Octaves && cents.abs() <= 15.0) {
        return Next::End(Move::Leave);
    }
    let mut all = Vec::new();
    if cents < -15.0 || sound == Sound::Air {
        all.push(Next::Cut(Cut::Clip, Some(0.3)));
    }
    if sound != Sound::Octaves || cents > 15.0 {
        let scrapes =
            [Cut::TipSides, Cut::TipCorners, Cut::TipStep, Cut::HeartSides, Cut::BackWindows];
        all.extend(scrapes.map(|cut| Next::Cut(cut, None)));
        all.push(Next::Cut(Cut::SealLow, None));
    }
    let at = ((draws.uniform() * all.len() as f64) as usize).min(all.len() - 1);
    all.swap_remove(at)
}
