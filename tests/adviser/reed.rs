//! A made-up reed: what is hidden in it, how it crows, what cuts do to it.

use std::collections::BTreeMap;

use reedcrow::reed::{Cut, Move, Place};
use serde::Deserialize;

/// What holds for all reeds of a bench (`world.toml`).
#[derive(Debug, Clone)]
pub struct World {
    pub cents_per_mm: f64,
    pub cents_per_mm_sd: f64,
    pub hand: f64,
    pub look_wrong: f64,
    pub ruler_mm: f64,
    pub crow_cents: f64,
    pub stroke: f64,
    pub floor: f64,
    pub lowers: f64,
    pub bears: f64,
}

/// A value and where it comes from.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Value {
    value: f64,
    from: String,
}

impl World {
    pub fn usual() -> Self {
        let all: BTreeMap<String, Value> =
            toml::from_str(include_str!("world.toml")).expect("world.toml is read");
        let of = |name: &str| {
            let one = &all[name];
            assert!(!one.from.is_empty(), "{name}: no source");
            one.value
        };
        Self {
            cents_per_mm: of("cents_per_mm"),
            cents_per_mm_sd: of("cents_per_mm_sd"),
            hand: of("hand"),
            look_wrong: of("look_wrong"),
            ruler_mm: of("ruler_mm"),
            crow_cents: of("crow_cents"),
            stroke: of("stroke"),
            floor: of("floor"),
            lowers: of("lowers"),
            bears: of("bears"),
        }
    }

    /// Worlds far outside what the adviser's tables assume, each by its name.
    pub fn others() -> Vec<(&'static str, Self)> {
        let with = |change: &dyn Fn(&mut Self)| {
            let mut world = Self::usual();
            change(&mut world);
            world
        };
        vec![
            ("cents per mm halved", with(&|w| w.cents_per_mm *= 0.5)),
            ("cents per mm doubled", with(&|w| w.cents_per_mm *= 2.0)),
            ("hands twice as uneven", with(&|w| w.hand = 2.0)),
            ("a third of looks wrong", with(&|w| w.look_wrong = 0.33)),
            ("ruler three times worse", with(&|w| w.ruler_mm *= 3.0)),
            ("crows scatter twice as far", with(&|w| w.crow_cents *= 2.0)),
            ("strokes take half", with(&|w| w.stroke = 0.5)),
            ("strokes take twice", with(&|w| w.stroke = 2.0)),
            ("crows tell sooner", with(&|w| w.floor = 0.7)),
            ("crows tell later", with(&|w| w.floor = 1.4)),
            ("scraping lowers half as far", with(&|w| w.lowers = 0.5)),
            ("scraping lowers twice as far", with(&|w| w.lowers = 2.0)),
            ("cane bears less", with(&|w| w.bears = 0.7)),
        ]
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
    FlatAndSplit,
    SharpAndPeep,
    LateAndLeaks,
    FlatAndWild,
    SharpAndLate,
}

impl Complaint {
    /// What a player would say.
    pub fn words(self) -> &'static str {
        match self {
            Self::Flat => "flat",
            Self::Sharp => "sharp",
            Self::LowLate => "slow in the low octave",
            Self::Peep => "peeps",
            Self::Split => "split",
            Self::Wild => "wild",
            Self::LeakLow => "leaks low",
            Self::LeakHeart => "leaks beside the heart",
            Self::Choked => "choked",
            Self::Lost => "lost its crow",
            Self::TooShort => "flat, and short",
            Self::Spent => "spent",
            Self::Good => "nothing",
            Self::FlatAndSplit => "flat and split",
            Self::SharpAndPeep => "sharp, and peeps",
            Self::LateAndLeaks => "slow, and leaks",
            Self::FlatAndWild => "flat and wild",
            Self::SharpAndLate => "sharp and slow",
        }
    }

    /// Two complaints at once: played only once all was settled, not while tables were made.
    pub const KEPT_ASIDE: [Self; 5] = [
        Self::FlatAndSplit,
        Self::SharpAndPeep,
        Self::LateAndLeaks,
        Self::FlatAndWild,
        Self::SharpAndLate,
    ];

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
    floor: f64,
    bears: f64,
}

fn over(value: f64, limit: f64) -> f64 {
    (value - limit).max(0.0)
}

impl Hidden {
    pub fn with(complaint: Complaint, draws: &mut Draws, world: &World) -> Self {
        let mut reed = Self::any(draws, world);
        reed.suffers(complaint, draws);
        reed
    }

    /// A reed as they come, with nothing wrong but what differs from one to the next.
    fn any(draws: &mut Draws, world: &World) -> Self {
        Self {
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
            floor: world.floor,
            bears: world.bears,
        }
    }

    /// Gives it what is complained of.
    fn suffers(&mut self, complaint: Complaint, draws: &mut Draws) {
        let u = draws.uniform();
        match complaint {
            Complaint::Flat => {
                self.cents = -25.0 - 70.0 * u;
                self.length_mm += 0.8;
            }
            Complaint::Sharp => {
                self.cents = 20.0 + 35.0 * u;
                self.sides = 0.3 + 0.8 * draws.uniform();
                self.heart = 0.4 + 0.8 * draws.uniform();
            }
            Complaint::LowLate => {
                self.sides = 0.6 + 0.9 * u;
                self.corners = 0.3 + 0.5 * draws.uniform();
                self.cents = -10.0 + 25.0 * draws.uniform();
            }
            Complaint::Peep => {
                self.sides = 1.0 + 1.2 * u;
                self.heart = 0.4 + draws.uniform();
                self.cents = 40.0 * draws.uniform();
            }
            Complaint::Split => {
                self.corners = 1.2 + 0.8 * u;
                self.step = 0.5 + 0.7 * draws.uniform();
            }
            Complaint::Wild => {
                self.step = 1.1 + 0.9 * u;
                self.heart = 0.2 + 0.6 * draws.uniform();
            }
            Complaint::LeakLow => self.leak_low = true,
            Complaint::LeakHeart => self.leak_heart = true,
            Complaint::Choked => self.choked = true,
            Complaint::Lost => {
                self.sides = -1.3 - 0.5 * u;
                self.cents = -20.0 - 25.0 * draws.uniform();
            }
            Complaint::TooShort => {
                self.cents = -35.0 - 30.0 * u;
                self.length_mm = 67.0 + 0.15 * draws.uniform();
            }
            Complaint::Spent => {
                self.heart = if u < 0.5 { -2.0 } else { self.heart };
                self.bark_gone = u >= 0.5;
                self.cents = -40.0 - 30.0 * draws.uniform();
            }
            Complaint::Good => {}
            Complaint::FlatAndSplit => {
                self.cents = -25.0 - 40.0 * u;
                self.corners = 1.0 + 0.8 * draws.uniform();
                self.length_mm += 0.8;
            }
            Complaint::SharpAndPeep => {
                self.cents = 25.0 + 25.0 * u;
                self.sides = 0.9 + 0.9 * draws.uniform();
                self.heart = 0.5 + 0.7 * draws.uniform();
            }
            Complaint::LateAndLeaks => {
                self.leak_low = true;
                self.sides = 0.6 + 0.8 * u;
            }
            Complaint::FlatAndWild => {
                self.cents = -25.0 - 35.0 * u;
                self.step = 1.0 + 0.8 * draws.uniform();
                self.length_mm += 0.8;
            }
            Complaint::SharpAndLate => {
                self.cents = 20.0 + 25.0 * u;
                self.sides = 0.6 + 0.7 * draws.uniform();
                self.back = 0.4 + 0.6 * draws.uniform();
            }
        }
    }

    /// What each part does to the order of the octaves: sides, corners, step, heart, back.
    pub fn disorder(&self) -> [f64; 5] {
        let floor = self.floor;
        [
            0.8 * over(self.sides, 0.4 * floor),
            0.65 * over(self.corners, 0.4 * floor),
            0.9 * over(self.step, 0.35 * floor),
            0.6 * over(self.heart, 0.6 * floor),
            0.5 * over(self.back, 0.7 * floor),
        ]
    }

    pub fn thinness(&self) -> f64 {
        over(-self.sides, 0.5 * self.bears) + 0.7 * over(-self.corners, 0.7 * self.bears)
    }

    /// What is wrong with it, in one figure: 0 for a reed in order and in tune.
    pub fn wrong(&self) -> f64 {
        let blocked = [self.leak_low, self.leak_heart, self.choked, self.is_past_help()];
        self.disorder().iter().sum::<f64>()
            + self.thinness()
            + over(self.cents.abs(), 15.0) / 60.0
            + blocked.into_iter().filter(|is| *is).count() as f64
    }

    /// Whether too much was taken for it to crow well again.
    fn is_spent(&self) -> bool {
        self.dead || self.bark_gone || self.heart < -1.4 * self.bears
    }

    pub fn is_past_help(&self) -> bool {
        self.is_spent() || self.length_mm < 66.9
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
        let sound = if self.is_spent() {
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

    /// Whether a crow is slow to speak: what leaks or chokes holds most of them back.
    pub fn is_stuffy(&self, draws: &mut Draws) -> bool {
        let blocked = self.leak_low || self.leak_heart || self.choked;
        let chance = if blocked { 0.6 } else { 0.04 + 0.1 * over(self.heart, 0.6).min(1.0) };
        draws.uniform() < chance
    }

    pub fn cut(&mut self, cut: Cut, amount_mm: Option<f64>, draws: &mut Draws, world: &World) {
        let mut size =
            |mean: f64| (mean + 0.18 * world.hand * draws.normal()).max(0.05) * world.stroke;
        // A place on the same part is worked on alike: what is new needs no line here.
        match (cut.of(), cut.place()) {
            (Move::Clip, _) => {
                let asked = amount_mm.unwrap_or(0.1);
                let mm = (asked + 0.04 * world.hand * draws.normal()).max(0.02);
                self.length_mm -= mm;
                self.cents += mm * self.cents_per_mm * (1.0 + 0.12 * draws.normal());
                // What is cut off was the thinnest of it.
                let thicker = |cane: f64| {
                    let restored = (4.0 * mm).min((-cane).max(0.0));
                    cane + restored + 0.6 * (mm - restored / 4.0)
                };
                (self.sides, self.corners) = (thicker(self.sides), thicker(self.corners));
            }
            (Move::Tip, Some(Place::Corners)) => {
                let taken = size(0.6);
                self.corners -= taken;
                self.sides -= 0.2 * taken;
                self.cents -= 9.0 * world.lowers * taken;
            }
            (Move::Tip, Some(Place::Step)) => {
                let taken = size(0.6);
                self.step = (self.step - taken).max(0.0);
                self.sides -= 0.1 * taken;
                self.cents -= 8.0 * world.lowers * taken;
            }
            (Move::Tip, _) => {
                let taken = size(0.6);
                self.sides -= taken;
                self.corners -= 0.25 * taken;
                self.cents -= 13.0 * world.lowers * taken;
            }
            (Move::Heart, _) => {
                let taken = size(0.5);
                self.heart -= taken;
                self.cents -= 18.0 * world.lowers * taken;
            }
            (Move::Back, _) => {
                let taken = size(0.5);
                self.back -= taken;
                self.cents -= 15.0 * world.lowers * taken;
                self.bark_gone |= self.back < -1.2 * self.bears;
            }
            (Move::Seal, Some(Place::Heart)) => self.leak_heart &= draws.uniform() > 0.15,
            (Move::Seal, _) => self.leak_low &= draws.uniform() > 0.8,
            (Move::Retie, _) => {
                self.dead |= draws.uniform() < 0.15;
                self.choked &= draws.uniform() > 0.75;
            }
            // Pressed, it springs back by the next day.
            _ => {}
        }
        self.dead |= self.sides < -2.2 * self.bears;
    }
}
