//! Every figure, once: where it stands, what it is called, its unit, how it is read and written,
//! and what it tells the ear. Summary, tables, comparison and names are walks over these lists.
//!
//! A figure is added here, in the family that computes it, and, where it is compared, with its
//! smallest change in `american-oboe.toml`.

mod figure;

pub use figure::{About, Compared, Figure, Over, Spoiler, Value};

use super::figures::{Band, Faint, Figures, Rung};
use crate::profile::figure_key;
use crate::units::CENTS_PER_E;

/// A number at a path of the figures.
macro_rules! number {
    ($first:ident $(.$rest:ident)*, $name:literal) => {
        Figure::new(
            concat!(stringify!($first) $(, ".", stringify!($rest))*),
            $name,
            Value::Number {
                get: |of: &Figures| of.$first$(.$rest)*,
                set: |of: &mut Figures, value| of.$first$(.$rest)* = value,
            },
        )
    };
}

/// A number of a rung that is known of every rung.
macro_rules! known {
    ($path:literal, $field:ident, $name:literal) => {
        Figure::new(
            $path,
            $name,
            Value::Number {
                get: |of: &Rung| Some(of.$field),
                set: |of, value| of.$field = value.unwrap_or_default(),
            },
        )
    };
}

use Compared::{Pitch, Plain};
use Spoiler::{Ceiling, Gain, Gaps};

/// The figures of a crow that stand alone, in the order of the reading.
pub static FIGURES: &[Figure<Figures>] = &[
    number!(fundamental.hz, "frequency")
        .unit("Hz", 2)
        .says("frequency of the lowest octave that is held, in Hz")
        .ear("how high the lowest tone is that holds")
        .own(|f| {
            // One cent is f · ln 2 / 1200, for intervals small against an octave.
            Some(f.fundamental.hz? / CENTS_PER_E * f.fundamental.ci95_cents?)
        })
        .compared(Pitch)
        .over(Over::Octave),
    number!(fundamental.ci95_cents, "doubt of the pitch").unit("cents", 2).says(
        "half width of the 95 % interval of one crow's own pitch in cents, the median over the \
         crows; how well the reed's pitch is known, as the card's ± says, comes from how far the \
         crows differ",
    ),
    Figure::new(
        "fundamental.note",
        "note",
        Value::Word {
            get: |of: &Figures| of.fundamental.note.clone(),
            set: |of, word| of.fundamental.note = word.map(str::to_owned),
        },
    )
    .says("nearest equal-tempered note")
    .over(Over::Take),
    number!(fundamental.note_cents, "pitch against the note")
        .unit("cents", 2)
        .says("distance above that note in cents, −50 to 50")
        .own(|f| f.fundamental.ci95_cents)
        .compared(Pitch)
        .over(Over::Take),
    number!(fundamental.target_cents, "pitch against the target")
        .unit("cents", 2)
        .says("distance from the profile's target in cents, negative is flat")
        .ear("flat or sharp: a clip raises it, work on the tip lets it fall")
        .own(|f| f.fundamental.ci95_cents)
        .compared(Pitch)
        .over(Over::Octave),
    Figure::new(
        "fundamental.register",
        "octaves over the target",
        Value::Number {
            get: |of: &Figures| of.fundamental.register.map(f64::from),
            set: |of, value| of.fundamental.register = value.map(|value| value.round() as i32),
        },
    )
    .says("octaves above the target's")
    .ear("which octave the lowest tone is: over the lowest expected one it is a peep")
    .compared(Plain)
    .over(Over::Octave),
    number!(fundamental.spread_between_crows_cents, "spread between crows")
        .unit("cents", 2)
        .says("how far the crows of the take differ in pitch: sample standard deviation in cents")
        .ear("whether it comes out the same each time it is blown")
        .over(Over::Take),
    number!(alignment.cents, "octave alignment")
        .unit("cents", 2)
        .says("how far the octave is from 2:1, in cents")
        .ear("whether the octaves stand together or beat against each other")
        .own(|f| f.alignment.ci95_cents)
        .compared(Plain)
        .over(Over::Octave),
    number!(alignment.ci95_cents, "doubt of the alignment")
        .unit("cents", 2)
        .says("half width of its 95 % interval in cents, of one crow, the median over the crows")
        .over(Over::Octave),
    Figure::new(
        "alignment.locked",
        "octaves locked",
        Value::Flag {
            get: |of: &Figures| of.alignment.locked,
            set: |of, flag| of.alignment.locked = flag,
        },
    )
    .says("true or false: whether the octaves are locked")
    .ear("true: the octaves are one sound, without beats"),
    number!(voices.stand_out_db, "upper octave's stand-out")
        .unit("dB", 1)
        .says("how far the upper octave stands out over the overtones beside its own, in dB")
        .ear("one tone with its overtones, or two: under some 3 dB one, from some 11 dB two")
        .own(|f| f.voices.ci95_db)
        .compared(Plain)
        .over(Over::Octave)
        .later(),
    number!(voices.ci95_db, "doubt of the upper octave's stand-out")
        .unit("dB", 1)
        .says("half width of its 95 % interval in dB")
        .over(Over::Octave)
        .later(),
    number!(voices.lead_ms, "upper octave's lead")
        .unit("ms", 0)
        .says(
            "how long the upper octave comes in before the lower one in milliseconds, negative \
             after it",
        )
        .ear("whether the octaves come together: from 25 ms on they are heard to come apart")
        .compared(Plain)
        .over(Over::Octave)
        .later(),
    number!(voices.octaves, "chance of octaves")
        .percent()
        .says("chance that a maker calls it octaves, 0 to 1")
        .ear("how sure it is that two tones are heard, and not one")
        .over(Over::Octave)
        .later(),
    Figure::new(
        "voices.faint",
        "faint octave",
        Value::Word {
            get: |of: &Figures| of.voices.faint.map(|_| "low".to_owned()),
            set: |of, word| {
                of.voices.faint = word.filter(|word| *word == "low").map(|_| Faint::Low)
            },
        },
    )
    .says("low: the low octave is there, too weak to be heard as a pitch")
    .over(Over::Take)
    .later(),
    number!(voices.above.stand_out_db, "third octave's stand-out")
        .unit("dB", 1)
        .says("how far the octave over the upper one stands out over its neighbours in dB")
        .ear("whether a third octave is heard")
        .own(|f| f.voices.above.ci95_db)
        .over(Over::Octave)
        .later(),
    number!(voices.above.ci95_db, "doubt of the third octave's stand-out")
        .unit("dB", 1)
        .says("half width of its 95 % interval in dB")
        .over(Over::Octave)
        .later(),
    number!(voices.above.octaves, "chance of a third octave")
        .percent()
        .says("chance that a maker hears the third octave as a tone of its own, 0 to 1")
        .over(Over::Octave)
        .later(),
    number!(balance.centroid_hz, "brightness")
        .unit("Hz", 0)
        .says("power-weighted mean frequency in Hz")
        .ear("bright or dark")
        .of_recorder()
        .lost_to(&[Ceiling])
        .compared(Plain),
    number!(balance.tilt_db_per_octave, "slope of the overtones")
        .unit("dB/octave", 2)
        .says("how fast the overtones fall off, in dB per octave")
        .ear("how fast the overtones fall off: steep is dark")
        .of_recorder()
        .lost_to(&[Ceiling])
        .compared(Plain),
    number!(balance.low_high_db, "below 2 kHz against above")
        .unit("dB", 1)
        .says("power under 2 kHz against power over it in dB")
        .ear("depth against edge")
        .of_recorder()
        .lost_to(&[Ceiling])
        .compared(Plain),
    number!(steadiness.spread_cents, "pitch wander")
        .unit("cents", 2)
        .says("standard deviation of the pitch about its drift in cents")
        .ear("whether the pitch shakes while it is held")
        .compared(Plain),
    number!(steadiness.drift_cents_per_s, "pitch drift")
        .unit("cents/s", 1)
        .says("drift of the pitch in cents per second")
        .ear("whether the pitch slides while it is held")
        .compared(Plain),
    number!(steadiness.level_sd_db, "level wander")
        .unit("dB", 2)
        .says("standard deviation of the level in dB")
        .ear("whether the loudness shakes while it is held")
        .lost_to(&[Gaps, Ceiling])
        .compared(Plain),
    number!(steadiness.rattle_hz, "rattle rate")
        .unit("Hz", 2)
        .says("rate of the rattle in Hz")
        .ear("how fast it rattles")
        .lost_to(&[Gaps, Ceiling])
        .compared(Plain),
    number!(steadiness.rattle_depth, "rattle depth")
        .says("depth of the rattle, 0 to 1")
        .ear("how wild the rattle is")
        .lost_to(&[Gaps, Ceiling])
        .compared(Plain),
    number!(steadiness.harmonicity_db, "tone against the rest")
        .unit("dB", 1)
        .says(
            "what repeats from one moment to the next against what does not in dB \
             (harmonics-to-noise ratio, Boersma 1993)",
        )
        .ear("how wild or clear: 0 is as much din as tone")
        .of_recorder()
        .compared(Plain)
        .later(),
    number!(steadiness.bend_cents_per_db, "pitch against loudness")
        .unit("cents/dB", 2)
        .says(
            "how far the pitch goes with the level within a crow in cents per dB, positive where it rises \
             when it is blown harder; empty where the crow does not swell",
        )
        .ear("whether the pitch holds when it is blown harder and softer")
        .lost_to(&[Gain, Gaps, Ceiling])
        .compared(Plain)
        .later(),
    number!(response.onset_s, "breath before the tone")
        .unit("s", 3)
        .says("from the start of the sound to the first tone in seconds")
        .ear("how readily it speaks")
        .lost_to(&[Gain])
        .compared(Plain),
    number!(response.low_delay_s, "delay of the low octave")
        .unit("s", 3)
        .says("from the first tone to the lowest octave that is held, in seconds")
        .ear("how easily the low octave comes")
        .compared(Plain),
    number!(breath.noise_db, "breath noise")
        .unit("dB", 1)
        .says("noise of the crow relative to its tones in dB")
        .ear("airy or clear")
        .of_recorder()
        .lost_to(&[Gain, Ceiling])
        .compared(Plain),
    number!(level_dbfs, "level")
        .unit("dB", 1)
        .says("level over the steady part in dB of full scale")
        .ear("how loud it was recorded, which is more the microphone's doing than the reed's")
        .of_recorder()
        .compared(Plain),
];

/// The figures of one rung, in the order of the reading. They stand before `alignment`.
pub static OF_A_RUNG: [Figure<Rung>; 5] = [
    known!("rungs.hz", hz, "frequency")
        .unit("Hz", 2)
        .says("frequency of the octave in Hz")
        .compared(Pitch),
    known!("rungs.level_db", level_db, "loudness")
        .unit("dB", 1)
        .says("its power relative to the whole tone in dB")
        .ear("how strong this octave is within the crow")
        .of_recorder()
        .compared(Plain),
    known!("rungs.present", present, "held")
        .percent()
        .says("share of the steady part in which it sounds, 0 to 1")
        .ear("whether this octave holds or comes and goes")
        .compared(Plain),
    known!("rungs.switches_per_s", switches_per_s, "goes out")
        .unit("/s", 2)
        .says("how often per second it goes out and comes back")
        .ear("whether the octaves take turns instead of sounding together")
        .compared(Plain),
    Figure::new(
        "rungs.entry_s",
        "comes in",
        Value::Number {
            get: |of: &Rung| of.entry_s,
            set: |of: &mut Rung, value| of.entry_s = value,
        },
    )
    .unit("s", 3)
    .says("when it enters, in seconds from the start of the crow")
    .lost_to(&[Gain])
    .compared(Plain),
];

/// The figure of one octave band. They stand before the rest of `balance`.
pub static OF_A_BAND: Figure<Band> = Figure::new(
    "balance.bands_db",
    "band",
    Value::Number { get: |of: &Band| of.db, set: |of: &mut Band, value| of.db = value },
)
.unit("dB", 1)
.says("level of the octave band in dB, relative to the sum of the bands")
.ear("how much of the sound lies in this octave")
.of_recorder()
.lost_to(&[Ceiling])
.compared(Plain);

/// What is known of every figure, in the order of the reading.
pub fn all() -> impl Iterator<Item = &'static About> {
    let plain = FIGURES.iter().map(|figure| &figure.about);
    let parts = OF_A_RUNG.iter().map(|figure| &figure.about).chain([&OF_A_BAND.about]);
    plain.chain(parts)
}

/// Leaves out what nothing can be known of where a recorder did `done`.
pub fn leave_out(figures: &mut Figures, done: &[Spoiler]) {
    let is_lost = |about: &About| about.lost_to.iter().any(|spoiler| done.contains(spoiler));
    for figure in FIGURES.iter().filter(|figure| is_lost(&figure.about)) {
        figure.leave_out(figures);
    }
    for figure in OF_A_RUNG.iter().filter(|figure| is_lost(&figure.about)) {
        figures.rungs.iter_mut().for_each(|rung| figure.leave_out(rung));
    }
    if is_lost(&OF_A_BAND.about) {
        figures.balance.bands_db.clear();
    }
}

/// What is known of the figure at a JSON path, with or without indices; `None` for a path that is no
/// figure.
pub fn about(path: &str) -> Option<&'static About> {
    let key = figure_key(path);
    all().find(|about| about.path == key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Ear, Heard, Profile};
    use crate::reading::figures::kind::{APART_MS, SURE};

    #[test]
    fn every_compared_figure_has_a_smallest_change_and_every_smallest_change_a_figure() {
        let compared: std::collections::BTreeSet<&str> =
            all().filter(|about| about.compared != Compared::No).map(|about| about.path).collect();
        let profile = Profile::default();
        let known: std::collections::BTreeSet<&str> =
            profile.smallest_change.keys().map(String::as_str).collect();
        assert_eq!(compared, known);
    }

    /// A word that the figure has.
    fn word(figure: &Figure<Figures>) -> &'static str {
        if figure.about.path == "voices.faint" { "low" } else { "C5" }
    }

    /// Every figure written, the numbers by their places.
    fn written() -> Figures {
        let mut figures = Figures::default();
        for (index, figure) in FIGURES.iter().enumerate() {
            match &figure.value {
                Value::Number { set, .. } => set(&mut figures, Some(index as f64)),
                Value::Flag { set, .. } => set(&mut figures, Some(true)),
                Value::Word { set, .. } => set(&mut figures, Some(word(figure))),
            }
        }
        figures
    }

    #[test]
    fn what_is_written_through_the_catalogue_is_read_back() {
        let figures = written();
        for (index, figure) in FIGURES.iter().enumerate() {
            match &figure.value {
                Value::Number { get, .. } => {
                    assert_eq!(get(&figures), Some(index as f64), "{}", figure.about.path);
                }
                Value::Flag { get, .. } => assert_eq!(get(&figures), Some(true)),
                Value::Word { get, .. } => {
                    assert_eq!(get(&figures).as_deref(), Some(word(figure)));
                }
            }
        }
    }

    /// The paths are those of the line of JSON.
    #[test]
    fn every_path_is_one_of_the_reading() {
        let line = serde_json::to_value(written()).unwrap();
        for figure in FIGURES {
            let pointer = format!("/{}", figure.about.path.replace('.', "/"));
            assert!(line.pointer(&pointer).is_some_and(|value| !value.is_null()), "{pointer}");
        }
    }

    /// The table of a comparison gives a name 25 columns, and the octave's note up to four of them.
    #[test]
    fn compared_figures_have_names_that_a_table_can_hold() {
        for about in all().filter(|about| about.compared != Compared::No) {
            let room = if about.path.starts_with("rungs.") { 20 } else { 25 };
            assert!(about.name.chars().count() <= room, "{}", about.name);
        }
    }

    /// Tones that begin together and lie true, of a take of three crows; by an ear that was not taught.
    #[test]
    fn limits_in_words_are_those_that_kinds_are_told_by() {
        let chance = |stand_out_db: f64| {
            Ear::default().octaves_chance(&Heard {
                stand_out_db,
                ci95_db: 4.0,
                lead_ms: Some(0.0),
                low_db: -3.0,
                off_cents: 0.0,
                spread_cents: 0.0,
            })
        };
        let first = |is_reached: &dyn Fn(f64) -> bool| {
            (0..200).map(|tenths| f64::from(tenths) / 10.0).find(|db| is_reached(*db)).unwrap()
        };
        let one = first(&|db| chance(db) >= 1.0 - SURE).floor();
        let two = first(&|db| chance(db) >= SURE).ceil();
        assert_eq!(
            about("voices.stand_out_db").unwrap().ear,
            format!(
                "one tone with its overtones, or two: under some {one} dB one, from some {two} dB two"
            )
        );
        assert_eq!(
            about("voices.lead_ms").unwrap().ear,
            format!(
                "whether the octaves come together: from {APART_MS} ms on they are heard to come apart"
            )
        );
    }

    #[test]
    fn indices_do_not_hide_a_figure() {
        assert_eq!(about("rungs[3].level_db").map(|about| about.name), Some("loudness"));
        assert_eq!(about("balance.bands_db[2].db").map(|about| about.name), Some("band"));
        assert!(about("kind").is_none());
    }
}
