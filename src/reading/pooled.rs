//! Several takes of one reed in one state, as if they were one.

use super::figures::{Crow, Reading, SCHEMA, WarningCode};
use super::summary::summarise;
use crate::pitch::A4;

/// All crows of `readings` in one reading, for judging by: the summary is taken over all of them.
/// `None` of none.
///
/// Takes read with another A4 or profile than the last say nothing that compares and are left out.
/// Takes in which nothing crows bring no warnings where others hold crows.
pub fn pooled(readings: &[&Reading]) -> Option<Reading> {
    let last = *readings.last()?;
    let alike: Vec<&Reading> = readings
        .iter()
        .copied()
        .filter(|reading| reading.profile == last.profile && reading.a4_hz == last.a4_hz)
        .collect();
    if let [one] = alike.as_slice() {
        return Some((*one).clone());
    }
    let crows: Vec<_> = alike.iter().flat_map(|reading| reading.crows.clone()).collect();
    let summary = summarise(&crows, A4::new(last.a4_hz).unwrap_or_default());
    let mut all = Reading {
        source: alike.iter().map(|reading| reading.source.as_str()).collect::<Vec<_>>().join(", "),
        duration_s: alike.iter().map(|reading| reading.duration_s).sum(),
        summary,
        crows,
        others: alike.iter().flat_map(|reading| reading.others.clone()).collect(),
        warnings: Vec::new(),
        ..last.clone()
    };
    let crowed = all.summary.crow_count > 0;
    for reading in alike.iter().filter(|reading| !crowed || reading.summary.crow_count > 0) {
        for warning in &reading.warnings {
            // A microphone that was muted in one take heard the other.
            let of_all = warning.code != WarningCode::Silent
                || alike.iter().all(|reading| reading.crows.is_empty());
            if of_all && all.warnings.iter().all(|known| known.code != warning.code) {
                all.warnings.push(warning.clone());
            }
        }
    }
    Some(all)
}

impl Reading {
    /// A reading that holds nothing but crows, as a log outlines it: where the recording came from
    /// and what made it doubtful is not in it.
    pub fn of_crows(profile: String, a4_hz: f64, crows: Vec<Crow>) -> Self {
        Self {
            schema: SCHEMA,
            source: String::new(),
            sample_rate_hz: 0,
            channels: 1,
            channel: 1,
            duration_s: 0.0,
            a4_hz,
            profile,
            summary: summarise(&crows, A4::new(a4_hz).unwrap_or_default()),
            crows,
            others: Vec::new(),
            tones_kept: false,
            microphone: None,
            warnings: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Profile;
    use crate::reading::read;
    use crate::take::Take;
    use reedcrow_synth::{Colour, CrowSound, Scene};

    fn take(scene: &Scene) -> Take {
        let samples = scene.render().samples;
        Take { sample_rate_hz: scene.sample_rate_hz, samples, ..Take::default() }
    }

    fn reading(f_low_hz: f64, seed: u64, a4_hz: f64) -> Reading {
        let crow = CrowSound::octaves(f_low_hz, 0.6, -6.0);
        let scene = Scene::of_crow(crow, 0.5, seed).in_noise(Colour::White, 30.0);
        read(&take(&scene), &Profile::default(), A4::new(a4_hz).unwrap()).reading
    }

    #[test]
    fn the_summary_is_over_the_crows_of_all_takes() {
        let [low, middle, high] = [515.0, 520.0, 525.0].map(|hz| reading(hz, hz as u64, 440.0));
        let all = pooled(&[&low, &middle, &high]).unwrap();
        assert_eq!((all.crows.len(), all.summary.crow_count), (3, 3));
        assert!((all.summary.figures.fundamental.hz.unwrap() - 520.0).abs() < 0.1);
        assert_eq!(pooled(&[&low]), Some(low));
        assert_eq!(pooled(&[]), None);
    }

    #[test]
    fn takes_read_otherwise_and_the_warnings_of_silence_are_left_out() {
        let (crowed, other) = (reading(520.0, 1, 440.0), reading(520.0, 2, 442.0));
        assert_eq!(pooled(&[&other, &crowed]).unwrap().summary.crow_count, 1);
        let silent = take(&Scene::new(2.0, 3));
        let silent = read(&silent, &Profile::default(), A4::default()).reading;
        assert!(!silent.warnings.is_empty());
        let all = pooled(&[&silent, &crowed]).unwrap();
        assert_eq!((all.summary.crow_count, &all.warnings), (1, &crowed.warnings));
        assert_eq!(pooled(&[&silent, &silent]).unwrap().warnings, silent.warnings);
    }
}
