//! A made-up reed: what is hidden in it, how it crows, what cuts do to it.

use reedcrow::reed::Cut;
use serde::Deserialize;

/// What holds for all reeds of a bench (`world.toml`).
#[derive(Debug, Clone, Deserialize)]
pub struct World {
    pub cents_per_mm: f64,
    pub cents_per_mm_sd: f64,
    pub hand: f64,
    pub look_wrong: f64,
    pub ruler_mm: f64,
    pub crow_cents: f64,
    pub stroke: f64,
}

impl World {
    pub fn usual() -> Self {
        toml::from_str(include_str!("world.toml")).expect("world.toml is read")
    }
}

/// Seeded draws (SplitMix64, from memory).
pub struct Draws(pub u64);

impl Draws {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        (z >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Nearly normal: the sum of twelve uniform draws.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// What a player complains of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Complaint {
    Flat,
    Sharp,
    LowLate,
    Peep,
    Split,
    Wild,
    LeakLow,
    LeakHeart,
    Choked,
    Lost,
    TooShort,
    Spent,
    Good,
}

impl Complaint {
    pub const ALL: [Self; 13] = [
        Self::Flat,
        Self::Sharp,
        Self::LowLate,
        Self::Peep,
        Self::Split,
        Self::Wild,
        Self::LeakLow,
        Self::LeakHeart,
        Self::Choked,
        Self::Lost,
        Self::TooShort,
        Self::Spent,
        Self::Good,
    ];

    /// Whether such a reed can be saved at all.
    pub fn can_be_saved(self) -> bool {
        !matches!(self, Self::LeakHeart | Self::TooShort | Self::Spent)
    }
}

/// What a crow is to the ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sound {
    Octaves,
    OctavesLowLate,
    Low,
    Peep,
    Split,
    Wild,
    Air,
}

/// The hidden state: excess of cane in rounds of strokes (under 0: too thin), and the rest.
#[derive(Debug, Clone)]
pub struct Hidden {
    pub cents: f64,
    pub sides: f64,
    pub corners: f64,
    pub step: f64,
    pub heart: f64,
    pub back: f64,
    pub leak_low: bool,
    pub leak_heart: bool,
    pub choked: bool,
    pub bark_gone: bool,
    pub dead: bool,
    pub length_mm: f64,
    pub cents_per_mm: f64,
}

fn over(value: f64, limit: f64) -> f64 {
    (value - limit).max(0.0)
}

impl Hidden {
    pub fn with(complaint: Complaint, draws: &mut Draws, world: &World) -> Self {
        let mut reed = Self {
            cents: 6.0 * draws.normal(),
            sides: 0.3 * draws.uniform() - 0.1,
            corners: 0.3 * draws.uniform() - 0.1,
            step: 0.25 * draws.uniform(),
            heart: 0.4 * draws.uniform() - 0.1,
            back: 0.4 * draws.uniform() - 0.1,
            leak_low: false,
            leak_heart: false,
            choked: false,
            bark_gone: false,
            dead: false,
            length_mm: (69.8 + 0.7 * draws.normal()).max(68.5),
            cents_per_mm: (world.cents_per_mm + world.cents_per_mm_sd * draws.normal()).max(20.0),
        };
        let u = draws.uniform();
        match complaint {
            Complaint::Flat => {
                reed.cents = -25.0 - 70.0 * u;
                reed.length_mm += 0.8;
            }
            Complaint::Sharp => {
                reed.cents = 20.0 + 35.0 * u;
                reed.sides = 0.3 + 0.8 * draws.uniform();
                reed.heart = 0.4 + 0.8 * draws.uniform();
            }
            Complaint::LowLate => {
                reed.sides = 0.6 + 0.9 * u;
                reed.corners = 0.3 + 0.5 * draws.uniform();
                reed.cents = -10.0 + 25.0 * draws.uniform();
            }
            Complaint::Peep => {
                reed.sides = 1.0 + 1.2 * u;
                reed.heart = 0.4 + draws.uniform();
                reed.cents = 40.0 * draws.uniform();
            }
            Complaint::Split => {
                reed.corners = 1.2 + 0.8 * u;
                reed.step = 0.5 + 0.7 * draws.uniform();
            }
            Complaint::Wild => {
                reed.step = 1.1 + 0.9 * u;
                reed.heart = 0.2 + 0.6 * draws.uniform();
            }
            Complaint::LeakLow => reed.leak_low = true,
            Complaint::LeakHeart => reed.leak_heart = true,
            Complaint::Choked => reed.choked = true,
            Complaint::Lost => {
                reed.sides = -1.3 - 0.5 * u;
                reed.cents = -20.0 - 25.0 * draws.uniform();
            }
            Complaint::TooShort => {
                reed.cents = -35.0 - 30.0 * u;
                reed.length_mm = 67.0 + 0.15 * draws.uniform();
            }
            Complaint::Spent => {
                reed.heart = if u < 0.5 { -2.0 } else { reed.heart };
                reed.bark_gone = u >= 0.5;
                reed.cents = -40.0 - 30.0 * draws.uniform();
            }
            Complaint::Good => {}
        }
        reed
    }

    /// What each part does to the order of the octaves: sides, corners, step, heart, back.
    fn disorder(&self) -> [f64; 5] {
        [
            0.8 * over(self.sides, 0.4),
            0.65 * over(self.corners, 0.4),
            0.9 * over(self.step, 0.35),
            0.6 * over(self.heart, 0.6),
            0.5 * over(self.back, 0.7),
        ]
    }

    fn thinness(&self) -> f64 {
        over(-self.sides, 0.5) + 0.7 * over(-self.corners, 0.7)
    }

    pub fn is_past_help(&self) -> bool {
        self.dead || self.bark_gone || self.heart < -1.4 || self.length_mm < 66.9
    }

    pub fn is_good(&self) -> bool {
        !self.is_past_help()
            && self.disorder().iter().sum::<f64>() < 0.42
            && self.thinness() < 0.42
            && !(self.leak_low || self.leak_heart || self.choked)
            && self.cents.abs() <= 15.0
    }

    /// One crow: what it is, and its pitch against the target in cents.
    pub fn crow(&self, draws: &mut Draws, world: &World) -> (Sound, f64) {
        let cents = self.cents + world.crow_cents * draws.normal();
        let u = draws.uniform();
        let sound = if self.dead || self.bark_gone || self.heart < -1.4 {
            if u < 0.5 { Sound::Low } else { Sound::Wild }
        } else if (self.leak_low || self.leak_heart || self.choked) && u < 0.7 {
            if u < 0.4 { Sound::Air } else { Sound::Wild }
        } else if self.thinness() + 0.15 * draws.normal() > 0.5 {
            if u < 0.5 { Sound::Air } else { Sound::Wild }
        } else {
            let [sides, corners, step, heart, back] = self.disorder();
            let disorder = sides + corners + step + heart + back + 0.18 * draws.normal();
            let peep = 0.05 + sides + heart + back;
            let split = 0.05 + corners + 0.6 * step;
            let wild = 0.05 + 0.9 * step;
            let at = draws.uniform() * (peep + split + wild);
            match disorder {
                ..0.42 => Sound::Octaves,
                ..0.7 => Sound::OctavesLowLate,
                _ if at < peep => Sound::Peep,
                _ if at < peep + split => Sound::Split,
                _ => Sound::Wild,
            }
        };
        (sound, cents)
    }

    pub fn cut(&mut self, cut: Cut, amount_mm: Option<f64>, draws: &mut Draws, world: &World) {
        let mut size =
            |mean: f64| (mean + 0.18 * world.hand * draws.normal()).max(0.05) * world.stroke;
        match cut {
            Cut::Clip => {
                let asked = amount_mm.unwrap_or(0.1);
                let mm = (asked + 0.04 * world.hand * draws.normal()).max(0.02);
                self.length_mm -= mm;
                self.cents += mm * self.cents_per_mm * (1.0 + 0.12 * draws.normal());
                // What is cut off was the thinnest of it.
                let thicker = |cane: f64| cane + if cane < 0.0 { 4.0 } else { 0.6 } * mm;
                (self.sides, self.corners) = (thicker(self.sides), thicker(self.corners));
            }
            Cut::TipSides | Cut::TipSurface => {
                let taken = size(0.6);
                self.sides -= taken;
                self.corners -= 0.25 * taken;
                self.cents -= 13.0 * taken;
            }
            Cut::TipCorners => {
                let taken = size(0.6);
                self.corners -= taken;
                self.sides -= 0.2 * taken;
                self.cents -= 9.0 * taken;
            }
            Cut::TipStep => {
                let taken = size(0.6);
                self.step = (self.step - taken).max(0.0);
                self.sides -= 0.1 * taken;
                self.cents -= 8.0 * taken;
            }
            Cut::HeartSides | Cut::HeartSurface => {
                let taken = size(0.5);
                self.heart -= taken;
                self.cents -= 18.0 * taken;
            }
            Cut::BackWindows | Cut::BackRails => {
                let taken = size(0.5);
                self.back -= taken;
                self.cents -= 15.0 * taken;
                self.bark_gone |= self.back < -1.2;
            }
            Cut::SealLow | Cut::Seal => self.leak_low &= draws.uniform() > 0.8,
            Cut::SealHeart => self.leak_heart &= draws.uniform() > 0.15,
            Cut::Retie => {
                self.dead |= draws.uniform() < 0.15;
                self.choked &= draws.uniform() > 0.75;
            }
            // Pressed, it springs back by the next day.
            Cut::Opening | Cut::OpeningWider | Cut::OpeningNarrower => {}
        }
        self.dead |= self.sides < -2.2;
    }
}
