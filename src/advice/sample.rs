//! One sample of what a reed may be: how much cane each place has too much or too little, what is broken
//! or built wrong, what it bears, and how heavy the hand is. How such a reed crows and looks, and what
//! work makes of it.
//!
//! Cane is counted in light rounds (`practice.toml`), so a sample knows when a place was scraped enough,
//! when it has gone too far, and that a second round of the same finds less to take.

use super::Wanted;
use super::practice::{CAUSES, Cause, OfWork, PLACES, Practice, SOUNDS, Sound};

/// How much of each cause there is: rounds of cane, or 1 for what is there.
pub type Amounts = [f64; CAUSES];

/// What a reed may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Cane too much in each place (sides, corners, step, heart, back), in rounds; negative is too little.
    pub cane: [f64; PLACES],
    /// What is there or not, a bit for each cause.
    flaws: u32,
    /// The disorder it bears, in rounds.
    pub bears: f64,
    /// What a round of this hand takes, in rounds.
    pub hand: f64,
    /// How much more than others it bears being thin.
    pub tough: f64,
}

/// How such a reed crows.
#[derive(Debug, Clone, Copy)]
pub struct Crow {
    /// The chance of each sound.
    pub sounds: [f64; SOUNDS],
    /// The chance of each sign, in the order of [`super::belief::Heard::signs`].
    pub signs: [f64; 3],
}

/// Evenly spread in 0 … 1, the same for the same numbers on every machine and in every version: what
/// is advised must not hang on a library's generator. SplitMix64 (Steele, Lea & Flood 2014, OOPSLA;
/// constants from memory).
pub fn uniform(a: u64, b: u64, c: u64) -> f64 {
    let mut z = a
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add(b.wrapping_mul(0xD1B5_4A32_D192_ED03))
        .wrapping_add(c.wrapping_mul(0x8CB9_2BA7_2F3D_8DD7))
        .wrapping_add(0x632B_E59B_D9B4_E019);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^= z >> 31;
    ((z >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// Standard normal, of two such numbers (Box & Muller).
pub fn normal(a: u64, b: u64, c: u64) -> f64 {
    let turn = std::f64::consts::TAU * uniform(a, b ^ 0x5bd1, c);
    (-2.0 * uniform(a, b, c).ln()).sqrt() * turn.cos()
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

impl Sample {
    /// The `number`th sample before anything is known.
    pub fn drawn(practice: &Practice, number: u64, salt: u64) -> Self {
        let hand = &practice.hand;
        let spread = |at: u64, sd: f64| (sd * normal(number, at, salt)).exp();
        let mut sample = Self {
            cane: [0.0; PLACES],
            flaws: 0,
            bears: practice.crow.bears * spread(50, practice.crow.bears_sd),
            hand: spread(51, hand.hand_sd),
            tough: spread(52, hand.bears_sd),
        };
        for cause in Cause::ALL {
            sample.draw(practice, cause, number, salt);
        }
        sample
    }

    /// One cause of it anew, as if nothing were known.
    pub fn draw(&mut self, practice: &Practice, cause: Cause, number: u64, salt: u64) {
        let (of, at) = (practice.of(cause), cause as u64);
        let is_there = uniform(number, at, salt) < of.chance;
        let much = || -of.rounds * uniform(number, at + 100, salt).ln();
        match cause {
            Cause::TipThin | Cause::HeartThin => {
                let (places, bears) = match cause {
                    Cause::TipThin => {
                        (&[Cause::Sides, Cause::Corners][..], practice.hand.tip_bears)
                    }
                    _ => (&[Cause::Heart][..], practice.hand.heart_bears),
                };
                let thin = -bears * self.tough - 0.1 - much();
                for place in places.iter().filter(|_| is_there) {
                    self.cane[*place as usize] = thin;
                }
            }
            place if (place as usize) < PLACES => {
                let right = practice.hand.right_sd * normal(number, at + 100, salt);
                let thick = practice.hand.free + 0.1 + much();
                self.cane[place as usize] = if is_there { thick } else { right };
            }
            flaw => self.set(flaw, is_there),
        }
    }

    /// Whether a flaw is there.
    pub fn has(&self, flaw: Cause) -> bool {
        self.flaws & (1 << flaw as u32) != 0
    }

    /// Puts a flaw there, or takes it away.
    pub fn set(&mut self, flaw: Cause, is_there: bool) {
        let bit = 1 << flaw as u32;
        self.flaws = if is_there { self.flaws | bit } else { self.flaws & !bit };
    }

    /// How much of each cause there is.
    pub fn amounts(&self, practice: &Practice) -> Amounts {
        let hand = &practice.hand;
        let mut all = [0.0; CAUSES];
        for (place, cane) in self.cane.iter().enumerate() {
            all[place] = (cane - hand.free).max(0.0);
        }
        let past =
            |cause: Cause, bears: f64| (-self.cane[cause as usize] - bears * self.tough).max(0.0);
        all[Cause::TipThin as usize] = past(Cause::Sides, hand.tip_bears)
            + 0.6 * past(Cause::Corners, 1.3 * hand.tip_bears)
            + 0.6 * past(Cause::Step, 1.3 * hand.tip_bears);
        all[Cause::HeartThin as usize] = past(Cause::Heart, hand.heart_bears);
        if self.flaws != 0 || self.cane[Cause::Back as usize] < -hand.back_bears * self.tough {
            for flaw in &Cause::ALL[Cause::Bark as usize..] {
                all[*flaw as usize] = f64::from(u8::from(self.has(*flaw)));
            }
            if past(Cause::Back, hand.back_bears) > 0.0 {
                all[Cause::Bark as usize] = 1.0;
            }
        }
        all
    }

    /// The chance that its low octave comes at once, and that octaves come at all.
    pub fn order(&self, practice: &Practice, amounts: &Amounts) -> (f64, f64) {
        let (mut comes, mut disorder) = (1.0, 0.0);
        for (amount, of) in amounts.iter().zip(practice.in_order()) {
            if *amount > 0.0 {
                disorder += amount * of.disorder;
                comes *= 1.0 - of.blocks * (amount / 0.3).min(1.0);
            }
        }
        let (prompt, octaves) = self.borders(practice, disorder);
        (comes * prompt, comes * octaves)
    }

    fn borders(&self, practice: &Practice, disorder: f64) -> (f64, f64) {
        let (share, of) = (disorder / self.bears, &practice.crow);
        let prompt = logistic((1.0 - share) / of.slope);
        (prompt, logistic((of.late - share) / (1.5 * of.slope)).max(prompt))
    }

    /// How it crows.
    pub fn crow(&self, practice: &Practice) -> Crow {
        let amounts = self.amounts(practice);
        let of_crow = &practice.crow;
        // What is in disorder is a little of everything, whatever it comes from.
        let mut instead = [0.0, 0.06, 0.06, 0.06, 0.06, 0.0];
        let mut stopped = [0.0; SOUNDS];
        let (mut comes, mut disorder, mut late) = (1.0, 0.0, 0.0);
        let (mut hard, mut rough) = (of_crow.hard, of_crow.rough);
        for (amount, of) in amounts.iter().zip(practice.in_order()) {
            if *amount <= 0.0 {
                continue;
            }
            let disorders = amount * of.disorder;
            let blocks = of.blocks * (amount / 0.3).min(1.0);
            for (at, share) in of.kinds.each().into_iter().enumerate() {
                instead[at] += disorders * share;
                stopped[at] += blocks * share;
            }
            disorder += disorders;
            late += disorders * of.late;
            comes *= 1.0 - blocks;
            hard += of.hard * amount.min(2.0);
            rough += of.rough * amount.min(2.0);
        }
        let (prompt, octaves) = self.borders(practice, disorder);
        let (of_instead, of_stopped): (f64, f64) = (instead.iter().sum(), stopped.iter().sum());
        let mut sounds: [f64; SOUNDS] = std::array::from_fn(|at| {
            let stopped = if of_stopped > 0.0 { stopped[at] / of_stopped } else { 0.0 };
            comes * (1.0 - octaves) * instead[at] / of_instead + (1.0 - comes) * stopped
        });
        sounds[Sound::Octaves as usize] += comes * octaves;
        let slip = of_crow.slip;
        sounds.iter_mut().for_each(|sound| *sound = slip + (1.0 - SOUNDS as f64 * slip) * *sound);
        // Where octaves come their low one is late or not; of other crows little can be said.
        let late = if disorder > 0.0 { late / disorder } else { 0.5 };
        let held = late * (octaves - prompt) + 0.5 * (1.0 - octaves);
        Crow { sounds, signs: [0.04 + 0.92 * held, logistic(hard), logistic(rough)] }
    }

    /// The chance of each answer to a look: first that nothing is seen, then each cause that may be.
    pub fn answers(&self, practice: &Practice, at: Wanted) -> Vec<(Option<Cause>, f64)> {
        let amounts = self.amounts(practice);
        let mut each = vec![(None, 1.0)];
        for cause in Cause::ALL {
            let Some(look) = practice.of(cause).look.as_ref().filter(|look| look.at == at) else {
                continue;
            };
            let amount = amounts[cause as usize];
            // What is slight is overlooked more often.
            let is_plain =
                if practice.of(cause).rounds > 0.0 { 1.0 - (-amount / 0.4).exp() } else { amount };
            let chance = look.mistaken + (look.seen - look.mistaken) * is_plain;
            each[0].1 *= 1.0 - chance;
            each.push((Some(cause), chance));
        }
        let sum: f64 = each.iter().map(|answer| answer.1).sum();
        each.iter_mut().for_each(|answer| answer.1 /= sum);
        each
    }

    /// The reed after a round of scraping, `heavy` times as heavy as is usual for this hand; and how much
    /// was taken, in rounds.
    pub fn scraped(&self, work: &OfWork, heavy: f64) -> (Self, f64) {
        let mut after = *self;
        let round = self.hand * heavy;
        for (cause, takes) in &work.takes {
            after.cane[*cause as usize] -= takes * round;
        }
        (after, round)
    }

    /// The reed after a clip that leaves the end thicker by so many times the usual.
    pub fn clipped(&self, practice: &Practice, amount_mm: f64, thicker: f64) -> Self {
        let mut after = *self;
        let of = &practice.clip;
        for place in [Cause::Sides, Cause::Corners, Cause::Step] {
            let cane = &mut after.cane[place as usize];
            // A thin tip is cut off first, then the same as of any other.
            let restored = (of.restores_per_mm * thicker * amount_mm).min((-*cane).max(0.0));
            let rest_mm = amount_mm - restored / (of.restores_per_mm * thicker);
            // What lies behind the end grows no thicker.
            let grows = if place == Cause::Step { 0.0 } else { of.thickens_per_mm };
            *cane += restored + grows * thicker * rest_mm.max(0.0);
        }
        after
    }
}
