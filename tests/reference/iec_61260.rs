//! IEC 61260-1:2014, octave bands with base ten (from open-source implementations of the standard).

use reedcrow::dsp::bands::octave_bands;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::read;
use reedcrow_synth::{Colour, CrowSound, RungSound, Scene};

use super::table::rows;

/// Four printed places, hence the tolerance.
#[test]
fn nominal_centres_and_edges_match_the_standard() {
    let bands = octave_bands();
    let table = rows("published/iec_61260_1_octave_bands.csv");
    assert_eq!(bands.len(), table.len());
    for (band, row) in bands.iter().zip(table) {
        assert_eq!(band.nominal_hz, row.must("nominal_hz"));
        let centre = (band.lower_hz * band.upper_hz).sqrt();
        for (got, column) in
            [(band.lower_hz, "lower_hz"), (band.upper_hz, "upper_hz"), (centre, "exact_hz")]
        {
            assert!((got - row.must(column)).abs() < 0.6e-4, "{column} {got}");
        }
    }
}

/// C5, C6 and C7 lie in the bands of 500, 1000 and 2000 Hz: an octave of a crow to a band. A tone
/// of one partial puts all its power into its own band.
#[test]
fn each_octave_of_a_c_crow_has_its_own_band() {
    for (hz, nominal_hz) in [(523.2511, 500.0), (1046.5023, 1000.0)] {
        let mut crow = CrowSound::single(hz, 0.8);
        // −200 dB an octave leaves the fundamental alone.
        crow.rungs = vec![Some(RungSound { tilt_db_per_octave: -200.0, ..RungSound::at(0.0) })];
        let rendered = Scene::of_crow(crow, 0.5, 3).in_noise(Colour::White, 60.0).render();
        let reading = read(&rendered.take("tone"), &Profile::default(), A4::default()).reading;
        let bands = &reading.crows[0].figures.balance.bands_db;
        for band in bands {
            let db = band.db.unwrap_or(f64::NEG_INFINITY);
            if band.centre_hz == nominal_hz {
                assert!(db.abs() < 0.1, "{hz} {bands:?}");
            } else {
                assert!(db < -40.0, "{hz} {bands:?}");
            }
        }
    }
}
