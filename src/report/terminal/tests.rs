//! Cards of readings made by hand, compared whole.

use super::*;
use crate::advice::{Move, Place, Reason, Where};
use crate::reading::{
    Alignment, Balance, Band, Breath, Figures, Fundamental, Response, Rung, Steadiness, Summary,
    Voices, Warning, WarningCode, testing,
};

fn rung(hz: f64, level_db: f64, present: f64, entry_s: f64) -> Rung {
    Rung { present, sustained: present >= 0.5, ..testing::rung(hz, level_db, entry_s) }
}

fn flat_in_octaves() -> Figures {
    let bands = [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
    let levels = [None, Some(-41.2), Some(-9.4), Some(-2.1), Some(-6.6), Some(-14.0), Some(-26.3)];
    let bands_db =
        bands.iter().zip(levels).map(|(&centre_hz, db)| Band { centre_hz, db }).collect();
    Figures {
        voices: Voices {
            stand_out_db: Some(14.0),
            ci95_db: Some(4.1),
            octaves: Some(0.9),
            ..Voices::default()
        },
        fundamental: Fundamental {
            hz: Some(511.89),
            ci95_cents: Some(0.84),
            note: Some("C5".into()),
            note_cents: Some(-38.0),
            target_cents: Some(-38.0),
            register: Some(0),
            spread_between_crows_cents: None,
        },
        rungs: vec![
            rung(511.9, -9.5, 0.98, 0.12),
            Rung { switches_per_s: 0.4, ..rung(1023.8, -2.1, 1.0, 0.04) },
            rung(2047.6, -6.6, 0.41, 0.05),
        ],
        alignment: Alignment { cents: Some(0.8), ci95_cents: Some(1.1), locked: Some(true) },
        balance: Balance {
            bands_db,
            centroid_hz: Some(1312.0),
            tilt_db_per_octave: Some(-6.2),
            low_high_db: Some(9.4),
        },
        steadiness: Steadiness {
            spread_cents: Some(3.1),
            drift_cents_per_s: Some(-12.0),
            level_sd_db: Some(0.8),
            rattle_hz: Some(34.2),
            rattle_depth: Some(0.4),
            harmonicity_db: Some(14.6),
            ..Steadiness::default()
        },
        response: Response { onset_s: Some(0.04), low_delay_s: Some(0.08) },
        breath: Breath { noise_db: Some(-22.4) },
        level_dbfs: Some(-18.2),
    }
}

fn reading(kind: Kind, figures: Figures) -> Reading {
    let crow = |start_s, end_s| Crow { start_s, end_s, kind, figures: figures.clone() };
    let mut summary = Summary { crow_count: 2, kind: Some(kind), figures: figures.clone() };
    summary.figures.fundamental.spread_between_crows_cents =
        summary.figures.fundamental.hz.map(|_| 5.2);
    Reading {
        source: "anouk-9.wav".into(),
        channels: 2,
        duration_s: 4.2,
        summary,
        ..testing::take(vec![crow(0.52, 2.31), crow(2.9, 4.0)])
    }
}

fn clip() -> Advice {
    Advice {
        amount_mm: Some(0.3),
        r#where: Where::At(Place::End),
        because: vec![
            Reason {
                figure: "fundamental.target_cents".into(),
                value: Some(-38.0),
                says: "the crow lies 38 cents flat of C5, and clipping raises it".into(),
            },
            Reason {
                figure: "alignment.locked".into(),
                value: None,
                says: "the octaves are locked, so the tip is in order and need not be thinned"
                    .into(),
            },
        ],
        confidence: 0.72,
        then: "Crow it three times more and compare with these crows.".into(),
        cautions: vec!["A blade this sharp slips: cut on a block, away from the fingers.".into()],
        ..Advice::of(Move::Clip)
    }
}

#[test]
fn a_flat_crow_in_octaves() {
    let mut reading = reading(Kind::Octaves, flat_in_octaves());
    reading.warnings.push(Warning {
        code: WarningCode::NoisyRoom,
        text: "the room is only 14 dB under the crow; close the window or move nearer".into(),
    });
    let card = card(&reading, Some(&clip()), &Profile::default(), &Style::default());
    insta::assert_snapshot!(card, @r"
    anouk-9.wav
    4.20 s · channel 1 of 2 · american-oboe, held to C5 · A4 = 440 Hz

      C5 −38 cents: 38 flat of the target
      511.9 Hz ±18 cents: the median of 2 crows, which spread by 5.2 cents

      Crow        in octaves: the upper stands out by 14 ±4 dB
      Upper       C7  2047.6 Hz ███████░  −6.6 dB from 0.05 s heard 41 %
      Ladder      C6  1023.8 Hz ████████  −2.1 dB from 0.04 s held 100 %, out 0.4/s
                  C5   511.9 Hz ██████░░  −9.5 dB from 0.12 s held 98 %
      Alignment   locked: the octave is true (+0.8 ±1.1 cents)
      Steadiness  pitch wanders by 3.1 cents, falls 12 cents a second, level by
                  0.8 dB, rattles at 34.2 Hz, depth 40 %, tone 15 dB over the din
      Response    first tone after 0.04 s, the lowest octave 0.08 s later
      Breath      noise 22.4 dB under the tone
      Level       right (−18.2 dB of full scale)
      Balance     9.4 dB more below 2 kHz than above, brightest about 1312 Hz,
                  overtones fall 6.2 dB an octave
      Bands       Hz    125   250   500    1k    2k    4k    8k
                  dB      –   −41    −9    −2    −7   −14   −26

        1  0.52–2.31 s     octaves     C5 −38 ±0.9     C5+C6      −18.2 dB
        2  2.90–4.00 s     octaves     C5 −38 ±0.9     C5+C6      −18.2 dB

      Beware      the room is only 14 dB under the crow; close the window or move
                  nearer

      Next        Clip the end, 0.3 mm: a sliver straight across (72 % sure)
      because     - the crow lies 38 cents flat of C5, and clipping raises it
                  - the octaves are locked, so the tip is in order and need not be
                    thinned
      then        Crow it three times more and compare with these crows.
      Take care   - A blade this sharp slips: cut on a block, away from the fingers.
    ");
}

#[test]
fn a_split_crow_against_no_target() {
    let mut figures = flat_in_octaves();
    figures.alignment =
        Alignment { cents: Some(-31.4), ci95_cents: Some(0.3), locked: Some(false) };
    figures.steadiness = Steadiness::default();
    figures.fundamental.target_cents = None;
    figures.fundamental.register = None;
    let profile = Profile { target: None, ..Profile::default() };
    let card = card(&reading(Kind::Split, figures), None, &profile, &Style::default());
    insta::assert_snapshot!(card, @r"
    anouk-9.wav
    4.20 s · channel 1 of 2 · american-oboe, held to no note · A4 = 440 Hz

      C5 −38 cents
      511.9 Hz ±18 cents: the median of 2 crows, which spread by 5.2 cents

      Crow        two tones that are not an octave apart
      Upper       C7  2047.6 Hz ███████░  −6.6 dB from 0.05 s heard 41 %
      Ladder      C6  1023.8 Hz ████████  −2.1 dB from 0.04 s held 100 %, out 0.4/s
                  C5   511.9 Hz ██████░░  −9.5 dB from 0.12 s held 98 %
      Alignment   not locked: the octave is 31.4 ±0.3 cents narrow
      Response    first tone after 0.04 s, the lowest octave 0.08 s later
      Breath      noise 22.4 dB under the tone
      Level       right (−18.2 dB of full scale)
      Balance     9.4 dB more below 2 kHz than above, brightest about 1312 Hz,
                  overtones fall 6.2 dB an octave
      Bands       Hz    125   250   500    1k    2k    4k    8k
                  dB      –   −41    −9    −2    −7   −14   −26

        1  0.52–2.31 s     two tones   C5 −38 ±0.9     C5+C6      −18.2 dB
        2  2.90–4.00 s     two tones   C5 −38 ±0.9     C5+C6      −18.2 dB
    ");
}

#[test]
fn a_take_without_a_crow() {
    let mut reading = reading(Kind::Breath, Figures::default());
    reading.summary = Summary::default();
    reading.warnings.push(Warning {
        code: WarningCode::NoCrow,
        text: "no crow was heard; put the reed in the mouth to the winding and blow for a second"
            .into(),
    });
    let card = card(&reading, None, &Profile::default(), &Style::default());
    insta::assert_snapshot!(card, @r"
    anouk-9.wav
    4.20 s · channel 1 of 2 · american-oboe, held to C5 · A4 = 440 Hz

      No crow heard
      Heard       2 breaths of air without a tone

      Beware      no crow was heard; put the reed in the mouth to the winding and
                  blow for a second
    ");
}

#[test]
fn an_unsettled_crow_has_only_the_lines_it_supports() {
    let figures = Figures {
        level_dbfs: Some(-20.0),
        breath: Breath { noise_db: Some(2.0) },
        ..Figures::default()
    };
    let reading = reading(Kind::Unsettled, figures);
    let card = card(&reading, None, &Profile::default(), &Style::default());
    insta::assert_snapshot!(card, @r"
    anouk-9.wav
    4.20 s · channel 1 of 2 · american-oboe, held to C5 · A4 = 440 Hz

      No tone held

      Crow        wild: it sounds, but holds no tone
      Breath      noise 2.0 dB over the tone
      Level       right (−20.0 dB of full scale)

        1  0.52–2.31 s     wild                                   −20.0 dB
        2  2.90–4.00 s     wild                                   −20.0 dB
    ");
}

#[test]
fn narrow_terminals_and_plain_letters_are_kept_to() {
    let reading = reading(Kind::Octaves, flat_in_octaves());
    for width in [40, 59, 60, 80, 100] {
        let style = Style { width, color: false, unicode: false };
        let card = card(&reading, Some(&clip()), &Profile::default(), &style);
        assert!(card.is_ascii(), "{card}");
        assert!(!card.contains('?'), "{card}");
        for line in card.lines() {
            assert!(line.len() <= width, "{width}: {line}");
        }
    }
}

#[test]
fn colour_adds_no_meaning() {
    let reading = reading(Kind::Octaves, flat_in_octaves());
    let plain = card(&reading, Some(&clip()), &Profile::default(), &Style::default());
    let style = Style { color: true, ..Style::default() };
    let mut colored = card(&reading, Some(&clip()), &Profile::default(), &style);
    assert!(colored.contains("\x1b[1m"), "{colored}");
    for code in ["1", "1;36", "33", "2", "0"] {
        colored = colored.replace(&format!("\x1b[{code}m"), "");
    }
    assert_eq!(colored, plain);
}

#[test]
fn pitch_names_the_target_where_it_is_not_the_nearest_note() {
    let mut figures = flat_in_octaves();
    let mut said = |note: &str, note_cents, target_cents, register| {
        let fundamental = &mut figures.fundamental;
        fundamental.note = Some(note.into());
        fundamental.note_cents = Some(note_cents);
        fundamental.target_cents = Some(target_cents);
        fundamental.register = Some(register);
        words::pitch(&figures, &Profile::default()).unwrap()
    };
    assert_eq!(said("C5", -38.0, -38.0, 0), "C5 −38 cents: 38 flat of the target");
    assert_eq!(said("B4", 30.0, -70.0, 0), "B4 +30 cents: 70 flat of the target C5");
    assert_eq!(
        said("C6", 12.4, 12.4, 1),
        "C6 +12 cents: 12 sharp of C6, an octave above the target C5"
    );
    assert_eq!(said("C6", 0.3, 0.3, 1), "C6 0 cents: on C6, an octave above the target C5");
}
