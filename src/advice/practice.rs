//! What is held of reeds before one is heard: causes, what each sounds and looks like, what each cut
//! does, and what things are worth. The numbers are data (`practice.toml`), with their sources.

use std::collections::BTreeMap;
use std::sync::{LazyLock, OnceLock};

use serde::Deserialize;

use super::form::Wanted;
use crate::reed::Cut;

mod read;

pub use read::PracticeError;

/// Something that may be wrong with a reed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The sides of the tip are thick.
    Sides,
    /// The corners of the tip are thick.
    Corners,
    /// The step from tip to heart is unclear.
    Step,
    /// The heart is thick.
    Heart,
    /// The back is stiff.
    Back,
    /// The tip is too thin.
    TipThin,
    /// The heart is too thin.
    HeartThin,
    /// The bark on the rails is gone.
    Bark,
    /// A leak low on the sides.
    LeakLow,
    /// A leak beside the heart.
    LeakHeart,
    /// The winding goes past the staple.
    Winding,
    /// The opening is nearly closed.
    Closed,
    /// The opening is wide.
    Wide,
    /// Tip and heart are set too high.
    High,
    /// A corner is chipped.
    Chipped,
    /// The blades are uneven.
    Uneven,
    /// The cane is too hard or too soft.
    Cane,
}

/// How many causes there are.
pub const CAUSES: usize = 17;

impl Cause {
    /// All of them, in the order of the samples' levels.
    pub const ALL: [Self; CAUSES] = [
        Self::Sides,
        Self::Corners,
        Self::Step,
        Self::Heart,
        Self::Back,
        Self::TipThin,
        Self::HeartThin,
        Self::Bark,
        Self::LeakLow,
        Self::LeakHeart,
        Self::Winding,
        Self::Closed,
        Self::Wide,
        Self::High,
        Self::Chipped,
        Self::Uneven,
        Self::Cane,
    ];
}

/// How many of them are cane too much: the first of [`Cause::ALL`].
pub const PLACES: usize = 5;

/// How a crow sounds to a maker.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Sound {
    /// In octaves, from the lowest that is expected up.
    Octaves,
    /// One low tone.
    Low,
    /// The upper octave alone.
    Peep,
    /// Two tones off the octave.
    Split,
    /// No tone holds.
    Wild,
    /// Air alone.
    Air,
}

/// How many sounds there are.
pub const SOUNDS: usize = 6;

/// Shares of the sounds, those not named being 0.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Weights {
    octaves: f64,
    low: f64,
    peep: f64,
    split: f64,
    wild: f64,
    air: f64,
}

impl Weights {
    /// In the order of [`Sound`].
    pub fn each(&self) -> [f64; SOUNDS] {
        [self.octaves, self.low, self.peep, self.split, self.wild, self.air]
    }
}

/// How reeds crow.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HowCrows {
    /// What a reed bears of disorder before its low octave comes late, in rounds: the median.
    pub bears: f64,
    /// Standard deviation of its logarithm.
    pub bears_sd: f64,
    /// Up to so many times that it still crows in octaves.
    pub late: f64,
    /// How gradual the borders are.
    pub slope: f64,
    /// The chance that a crow is taken for each other sound.
    pub slip: f64,
    /// Log odds of being hard to blow with nothing wrong.
    pub hard: f64,
    /// Log odds of being rough.
    pub rough: f64,
    /// Correlation of what crows of one state say.
    pub alike: f64,
    /// Spread of pitch between reeds, in cents.
    pub cents: f64,
    /// Who says so.
    pub from: String,
}

/// What hands take and places bear, in light rounds.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfHand {
    /// How hands differ (standard deviation of the logarithm).
    pub hand_sd: f64,
    /// How one round differs from the next.
    pub round_sd: f64,
    /// Cane too much that hardly counts.
    pub free: f64,
    /// How well a place that is right is right (standard deviation).
    pub right_sd: f64,
    /// Rounds past right that a tip still carries.
    pub tip_bears: f64,
    /// The same of the heart.
    pub heart_bears: f64,
    /// The same of the back.
    pub back_bears: f64,
    /// How reeds differ in it (standard deviation of the logarithm).
    pub bears_sd: f64,
    /// Who says so.
    pub from: String,
}

/// One cause: how common, what it does to the crow.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfCause {
    /// As the end of a sentence: "the sides of the tip are thick".
    pub says: String,
    /// What is done about it on the next reed, as the end of a sentence: "stop earlier at the heart".
    pub next: Option<String>,
    /// How often it is there.
    pub chance: f64,
    /// Of cane: how much too much or too little, on average, in rounds.
    #[serde(default)]
    pub rounds: f64,
    /// What each round does to the octaves.
    #[serde(default)]
    pub disorder: f64,
    /// The chance that it keeps a crow from coming.
    #[serde(default)]
    pub blocks: f64,
    /// The share of octaves in disorder from it whose low one is plainly late.
    #[serde(default)]
    pub late: f64,
    /// What such crows are instead.
    pub kinds: Weights,
    /// Log odds of being hard to blow.
    #[serde(default)]
    pub hard: f64,
    /// Log odds of being rough.
    #[serde(default)]
    pub rough: f64,
    /// Cents with each round.
    #[serde(default)]
    pub cents: f64,
    /// The chance that a reed with it can be saved.
    pub mended: f64,
    /// How many moves that takes besides rounds of scraping.
    pub moves: f64,
    /// How well it is seen.
    pub look: Option<OfLook>,
    /// Who says so.
    pub from: String,
}

/// How well a cause is seen.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfLook {
    /// What is looked at.
    pub at: Wanted,
    /// The chance to see it where it is.
    pub seen: f64,
    /// The chance to see it where it is not.
    pub mistaken: f64,
}

/// What one kind of work does.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfWork {
    /// What it is proposed for; `None` of work that is known of, and not proposed.
    #[serde(default)]
    pub r#for: Option<Cause>,
    /// Cane taken from each place, in rounds.
    #[serde(default)]
    pub takes: BTreeMap<Cause, f64>,
    /// The chance that it does away with what is there or not.
    #[serde(default)]
    pub mends: BTreeMap<Cause, f64>,
    /// The chance that the reed is lost by it.
    #[serde(default)]
    pub spoils: f64,
    /// What a round does to the pitch, in cents.
    pub cents: f64,
    /// How far that differs, in cents.
    pub cents_sd: f64,
    /// Who says so.
    pub from: String,
}

/// What a clip does.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfClip {
    /// Cents up for a millimetre.
    pub cents_per_mm: f64,
    /// How well that is known, before any clip.
    pub sd: f64,
    /// How makers differ, in cents per millimetre.
    pub maker_sd: f64,
    /// How canes of one maker differ.
    pub cane_sd: f64,
    /// How reeds of one cane differ.
    pub reed_sd: f64,
    /// How well a clip is cut, in millimetres.
    pub cut_sd_mm: f64,
    /// The crow's own scatter after a clip, in cents.
    pub cents_sd: f64,
    /// The chance of ending sharp that is borne.
    pub sharp_at_most: f64,
    /// The longest clip once clips have told what one does, in millimetres.
    pub longest_mm: f64,
    /// Rounds by which a millimetre makes too thin a tip thicker.
    pub restores_per_mm: f64,
    /// The same of any other tip.
    pub thickens_per_mm: f64,
    /// How far both differ (standard deviation of the logarithm).
    pub thickness_sd: f64,
    /// Who says so.
    pub from: String,
}

/// What things are worth.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Worth {
    /// Giving up.
    pub stop: f64,
    /// What each move still to come costs.
    pub move_costs: f64,
    /// What asking costs.
    pub ask_costs: f64,
    /// What a cut costs.
    pub cut_costs: f64,
    /// What it costs besides to scrape in vain.
    pub vain_costs: f64,
    /// A reed in order and out of tune.
    pub out_of_tune: f64,
    /// A reed in tune whose low octave comes late.
    pub late: f64,
    /// What is worth so nearly as much as the best is named beside it.
    pub nearly: f64,
    /// Who says so.
    pub from: String,
}

/// All of it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// How reeds crow.
    pub crow: HowCrows,
    /// What hands take and places bear.
    pub hand: OfHand,
    /// What may be wrong.
    cause: BTreeMap<Cause, OfCause>,
    /// The same, in the order of [`Cause::ALL`]: it is asked for often.
    #[serde(skip)]
    in_order: Vec<OfCause>,
    /// What work does.
    pub work: BTreeMap<Cut, OfWork>,
    /// What a clip does.
    pub clip: OfClip,
    /// What things are worth.
    pub worth: Worth,
    /// Tells these tables from others.
    #[serde(skip)]
    fingerprint: u64,
}

/// The tables that are built in, as they are read.
pub const BUILT_IN_TOML: &str = include_str!("practice.toml");

static BUILT_IN: LazyLock<Practice> =
    LazyLock::new(|| BUILT_IN_TOML.parse().expect("the built-in tables are read by a test"));

/// The maker's own, where there are such.
static OWN: OnceLock<Practice> = OnceLock::new();

impl Practice {
    /// The built-in tables.
    pub fn built_in() -> &'static Self {
        &BUILT_IN
    }

    /// The tables that advice is given by: the maker's own, else the built-in ones.
    pub fn in_use() -> &'static Self {
        OWN.get().unwrap_or(&BUILT_IN)
    }

    /// Has advice given by the maker's own tables from here on; the first that are named hold.
    pub fn make_use_of(own: Self) {
        let _ = OWN.set(own);
    }

    /// Tells these tables from others.
    pub fn fingerprint(&self) -> u64 {
        self.fingerprint
    }

    /// What is held of every cause, in the order of [`Cause::ALL`].
    pub fn in_order(&self) -> &[OfCause] {
        &self.in_order
    }

    /// What is held of one cause.
    pub fn of(&self, cause: Cause) -> &OfCause {
        &self.in_order[cause as usize]
    }

    /// The work that is proposed, each with what it is for, in the order of [`Cause::ALL`].
    pub fn proposed(&self) -> impl Iterator<Item = (Cut, Cause)> {
        Cause::ALL.into_iter().flat_map(|cause| {
            let is_for = move |(cut, work): (&Cut, &OfWork)| {
                (work.r#for == Some(cause)).then_some((*cut, cause))
            };
            self.work.iter().filter_map(is_for)
        })
    }

    /// What is held of one kind of work; `None` where nothing is.
    pub fn work(&self, cut: Cut) -> Option<&OfWork> {
        self.work.get(&cut)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_that_do_not_say_what_work_is_for_propose_what_the_built_in_ones_do() {
        let is_for = |line: &&str| !line.starts_with("for = ");
        let earlier: Vec<&str> = BUILT_IN_TOML.lines().filter(is_for).collect();
        let earlier: Practice = earlier.join("\n").parse().unwrap();
        let known: Vec<_> = Practice::built_in().proposed().collect();
        assert_eq!(known.len(), 10);
        assert_eq!(earlier.proposed().collect::<Vec<_>>(), known);
    }

    #[test]
    fn tables_that_cannot_be_are_refused_in_one_line_that_says_where() {
        let with = |from: &str, to: &str| {
            assert!(BUILT_IN_TOML.contains(from), "{from}");
            BUILT_IN_TOML.replacen(from, to, 1).parse::<Practice>()
        };
        assert_ne!(
            with("chance = 0.36", "chance = 0.4").unwrap().fingerprint(),
            Practice::built_in().fingerprint()
        );
        for (from, to, says) in [
            ("chance = 0.36", "chance = 1.36", "cause.sides.chance is 1.36"),
            ("chance = 0.36", "chance = nan", "cause.sides.chance is NaN"),
            ("low = 0.25,", "low = 0.35,", "kinds of Sides"),
            ("cents_per_mm = 85.0", "cents_per_mm = -85.0", "clip.cents_per_mm is -85"),
            ("[crow]", "[crew]", "crew"),
            ("bears = 0.75", "bears = \"much\"", "line "),
            ("bears_sd = 0.4", "bears_sd = 0", "crow.bears_sd is 0"),
            ("[cause.cane]", "[cause.came]", "came"),
        ] {
            let told = with(from, to).unwrap_err().to_string();
            assert!(told.contains(says) && !told.contains('\n'), "{to}: {told}");
        }
        assert!("".parse::<Practice>().is_err());
    }

    #[test]
    fn the_tables_hold_every_cause_and_each_entry_says_where_it_comes_from() {
        let practice = Practice::built_in();
        for (index, cause) in Cause::ALL.into_iter().enumerate() {
            assert_eq!(cause as usize, index);
            let of = practice.of(cause);
            assert!(!of.from.is_empty() && !of.says.is_empty(), "{cause:?}");
            assert!((of.kinds.each().iter().sum::<f64>() - 1.0).abs() < 1e-9, "{cause:?}");
            assert!((0.0..1.0).contains(&of.chance), "{cause:?}");
        }
        for (cut, work) in &practice.work {
            assert!(!work.from.is_empty(), "{cut:?}");
            assert!(work.mends.values().all(|chance| (0.0..=1.0).contains(chance)));
        }
    }
}
