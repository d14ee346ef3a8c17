//! How a crow sounds, in a maker's words.

use crate::profile::Profile;
use crate::reading::{APART_MS, Faint, Figures, Kind, Voices};
use crate::words::format::number;

/// A kind in one word, the same on the card, in tables, pages and pictures.
pub fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Octaves => "octaves",
        Kind::Blended => "blended",
        Kind::Single => "single",
        Kind::Split => "split",
        Kind::Unsettled => "unsettled",
        Kind::Breath => "breath",
    }
}

/// That word, and what it means to the ear where it does not say so itself.
pub fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Octaves => "in octaves",
        Kind::Blended => "one tone or octaves: the sound does not tell",
        Kind::Single => "one tone",
        Kind::Split => "split: two tones that are not an octave apart",
        Kind::Unsettled => "unsettled: it sounds, but holds no tone",
        Kind::Breath => "breath: air without a tone",
    }
}

/// The kind of a crow, and what it rests on: `in octaves: the upper stands out by 12 ±4 dB`.
pub fn kind_heard(kind: Kind, figures: &Figures, profile: &Profile) -> String {
    let voices = &figures.voices;
    match kind {
        Kind::Octaves if voices.faint == Some(Faint::Low) => {
            "the upper octave, with a faint low one under it".to_owned()
        }
        Kind::Octaves => match because_octaves(voices) {
            Some(because) => format!("{}: {because}", self::kind(kind)),
            None => self::kind(kind).to_owned(),
        },
        Kind::Blended => format!("{}; what do you hear?", self::kind(kind)),
        Kind::Single if is_upper_alone(figures, profile) => "the upper octave alone".to_owned(),
        Kind::Single if figures.rungs.iter().filter(|rung| rung.sustained).count() > 1 => {
            "one tone; the octave in it is an overtone".to_owned()
        }
        Kind::Single | Kind::Split | Kind::Unsettled | Kind::Breath => self::kind(kind).to_owned(),
    }
}

/// What there is to say beside a kind that is shown large; `None` where that says it all.
pub fn beside_kind(kind: Kind, figures: &Figures, profile: &Profile) -> Option<String> {
    match kind {
        Kind::Octaves if figures.voices.faint != Some(Faint::Low) => {
            because_octaves(&figures.voices)
        }
        Kind::Blended => Some("the sound does not tell; what do you hear?".to_owned()),
        Kind::Split => Some("two tones that are not an octave apart".to_owned()),
        Kind::Unsettled => Some("it sounds, but holds no tone".to_owned()),
        Kind::Breath => Some("air without a tone".to_owned()),
        Kind::Octaves | Kind::Single => Some(kind_heard(kind, figures, profile)),
    }
}

fn because_octaves(voices: &Voices) -> Option<String> {
    let apart = voices
        .lead_ms
        .filter(|lead_ms| lead_ms.abs() >= APART_MS)
        .map(|lead_ms| format!("they come in {} ms apart", number(lead_ms.abs(), 0)));
    let out = voices.stand_out_db.zip(voices.ci95_db).map(|(db, ci95_db)| {
        format!("the upper stands out by {} ±{} dB", number(db, 0), number(ci95_db, 0))
    });
    match (out, apart) {
        (Some(out), Some(apart)) => Some(format!("{out}, and {apart}")),
        (out, apart) => out.or(apart),
    }
}

/// Whether the one tone of a crow is the upper octave, as far as the profile tells.
fn is_upper_alone(figures: &Figures, profile: &Profile) -> bool {
    figures.fundamental.register.is_some_and(|register| profile.is_peep(register))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Fundamental, Rung};

    #[test]
    fn a_kind_says_what_it_rests_on() {
        let profile = Profile::default();
        let heard = |kind, voices: Voices, register, sustained| {
            let rung = Rung {
                hz: 520.0,
                level_db: -3.0,
                present: 1.0,
                switches_per_s: 0.0,
                entry_s: None,
                sustained: true,
            };
            let figures = Figures {
                fundamental: Fundamental { register: Some(register), ..Fundamental::default() },
                rungs: vec![rung; sustained],
                voices,
                ..Figures::default()
            };
            kind_heard(kind, &figures, &profile)
        };
        let out = Voices { stand_out_db: Some(12.3), ci95_db: Some(4.2), ..Voices::default() };
        let apart = Voices { lead_ms: Some(-44.6), ..Voices::default() };
        let faint = Voices { faint: Some(Faint::Low), ..out.clone() };
        for (kind, voices, register, sustained, said) in [
            (Kind::Octaves, out.clone(), 0, 2, "in octaves: the upper stands out by 12 ±4 dB"),
            (Kind::Octaves, apart, 0, 2, "in octaves: they come in 45 ms apart"),
            (Kind::Octaves, faint, 0, 2, "the upper octave, with a faint low one under it"),
            (Kind::Single, out.clone(), 0, 2, "one tone; the octave in it is an overtone"),
            (Kind::Single, out.clone(), 0, 1, "one tone"),
            (Kind::Single, Voices::default(), 1, 1, "the upper octave alone"),
            (
                Kind::Blended,
                out,
                0,
                2,
                "one tone or octaves: the sound does not tell; what do you hear?",
            ),
        ] {
            assert_eq!(heard(kind, voices, register, sustained), said);
        }
    }
}
