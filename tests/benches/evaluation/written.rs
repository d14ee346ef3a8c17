//! The takes of some tables as files, for other estimators to read.

use std::path::Path;
use std::process::ExitCode;

use rand_chacha::ChaCha8Rng;
use reedcrow::take::wav::{self, SampleFormat};
use reedcrow_synth::{Colour, CrowSound, Scene};

use super::octaves::period_doubled;
use super::realistic;
use super::trial::{MARGIN_S, any_hz, draw};

/// Takes of each class.
const EACH: u64 = 40;

type Make = fn(&mut ChaCha8Rng, u64) -> Scene;

const CLASSES: [(&str, Make); 7] = [
    ("octave-06-white", |rng, seed| period_doubled(rng, seed, -6.0, Colour::White, 30.0)),
    ("octave-20-white", |rng, seed| period_doubled(rng, seed, -20.0, Colour::White, 30.0)),
    ("octave-30-white", |rng, seed| period_doubled(rng, seed, -30.0, Colour::White, 30.0)),
    ("octave-20-pink", |rng, seed| period_doubled(rng, seed, -20.0, Colour::Pink, 15.0)),
    ("octave-30-pink", |rng, seed| period_doubled(rng, seed, -30.0, Colour::Pink, 15.0)),
    ("pure-upper", |rng, seed| {
        let crow = CrowSound::single(any_hz(rng, 230.0, 1150.0), 0.3);
        Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
    }),
    ("realistic", realistic::scene),
];

/// Writes `CLASS-NN.wav` (32-bit float) and `CLASS-NN.truth.json` into `folder`.
pub fn write(folder: &Path) -> ExitCode {
    match write_all(folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("evaluation: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn write_all(folder: &Path) -> anyhow::Result<()> {
    std::fs::create_dir_all(folder)?;
    for (class, make) in CLASSES {
        for number in 0..EACH {
            let rendered = draw(class, number, make).render();
            let path = folder.join(format!("{class}-{number:02}.wav"));
            let rate_hz = rendered.truth.sample_rate_hz;
            wav::write(&path, &rendered.samples, rate_hz, 1, SampleFormat::F32)?;
            let truth = serde_json::to_vec_pretty(&rendered.truth)?;
            std::fs::write(path.with_extension("truth.json"), truth)?;
        }
    }
    Ok(())
}
