//! How a crow sounds, in a maker's words.

use crate::profile::Profile;
use crate::reading::{APART_MS, Faint, Figures, Kind, Voices};
use crate::words::format::{capital, number};

/// What a kind is called.
struct Name {
    /// In a word or two.
    short: &'static str,
    /// What it means to the ear.
    means: &'static str,
}

/// The table of what kinds are called; all that names one is made from it. What is told otherwise says
/// there why.
///
/// * `is_upper`: whether its lowest tone is the upper octave; see [`is_upper`].
const fn name(kind: Kind, is_upper: bool) -> Name {
    let (short, means) = match kind {
        Kind::Octaves => ("octaves", "in octaves"),
        Kind::Blended => ("can't tell", "the sound does not tell"),
        Kind::Single if is_upper => ("upper octave alone", "the upper octave alone"),
        Kind::Single => ("one tone", "one tone"),
        Kind::Split => ("two tones", "two tones that are not an octave apart"),
        Kind::Unsettled => ("wild", "it sounds, but holds no tone"),
        Kind::Breath => ("air", "air without a tone"),
    };
    Name { short, means }
}

/// A kind in a word or two, the same on the card, in tables, pages and pictures.
///
/// * `is_upper`: whether its lowest tone is the upper octave; see [`is_upper`].
pub const fn kind_word(kind: Kind, is_upper: bool) -> &'static str {
    name(kind, is_upper).short
}

/// What a kind means to the ear, where its name stands already or is not needed.
///
/// * `is_upper`: as of [`kind_word`].
pub const fn means(kind: Kind, is_upper: bool) -> &'static str {
    name(kind, is_upper).means
}

/// What it means to the ear, in full.
///
/// * `is_upper`: as of [`kind_word`].
pub fn kind(kind: Kind, is_upper: bool) -> String {
    let Name { short, means } = name(kind, is_upper);
    match kind {
        // "can't tell" would say twice what follows it.
        Kind::Blended => format!("one tone or octaves: {means}"),
        Kind::Unsettled => format!("{short}: {means}"),
        Kind::Octaves | Kind::Single | Kind::Split | Kind::Breath => means.to_owned(),
    }
}

/// A kind, as large as it is shown on the bench's page.
///
/// * `is_upper`: as of [`kind_word`].
pub fn kind_large(kind: Kind, is_upper: bool) -> String {
    let Name { short, means } = name(kind, is_upper);
    match kind {
        // Shown large it is a question to the maker.
        Kind::Blended => "One tone or octaves?".to_owned(),
        Kind::Octaves => capital(means),
        Kind::Single | Kind::Split | Kind::Unsettled | Kind::Breath => capital(short),
    }
}

/// The kind of a crow, and what it rests on: `in octaves: the upper stands out by 12 ±4 dB`.
pub fn kind_heard(kind: Kind, figures: &Figures, profile: &Profile) -> String {
    let voices = &figures.voices;
    let in_full = self::kind(kind, is_upper(figures, profile));
    match kind {
        Kind::Octaves if voices.faint == Some(Faint::Low) => {
            "the upper octave, with a faint low one under it".to_owned()
        }
        Kind::Octaves => match because_octaves(voices) {
            Some(because) => format!("{in_full}: {because}"),
            None => in_full,
        },
        Kind::Blended => format!("{in_full}; what do you hear?"),
        Kind::Single
            if !is_upper(figures, profile)
                && figures.rungs.iter().filter(|rung| rung.sustained).count() > 1 =>
        {
            format!("{in_full}; the octave in it is an overtone")
        }
        Kind::Single | Kind::Split | Kind::Unsettled | Kind::Breath => in_full,
    }
}

/// What there is to say beside a kind that is shown large; `None` where that says it all.
pub fn beside_kind(kind: Kind, figures: &Figures, profile: &Profile) -> Option<String> {
    let means = means(kind, is_upper(figures, profile));
    match kind {
        Kind::Octaves if figures.voices.faint != Some(Faint::Low) => {
            because_octaves(&figures.voices)
        }
        Kind::Blended => Some(format!("{means}; what do you hear?")),
        Kind::Split | Kind::Unsettled | Kind::Breath => Some(means.to_owned()),
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

/// Whether the lowest tone of a crow is the upper octave, as far as the profile tells.
pub fn is_upper(figures: &Figures, profile: &Profile) -> bool {
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
