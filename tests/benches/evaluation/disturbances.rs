//! Is anything that is no crow read as one?

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Kind, read};
use reedcrow_synth::{
    Background, Colour, Disturbance, Hum, Noise, NoiseLevel, Scene, Sound, Source,
};

use super::table::{Table, show_percent};
use super::trial::draw;

type Make = fn(&mut ChaCha8Rng) -> Disturbance;

const CASES: [(&str, Make); 6] = [
    ("knocks", |rng| Disturbance::Knock {
        level_dbfs: rng.random_range(-30.0..-6.0),
        decay_s: rng.random_range(0.05..0.6),
    }),
    ("handling", |rng| Disturbance::Handling {
        level_dbfs: rng.random_range(-30.0..-10.0),
        duration_s: rng.random_range(0.3..1.2),
    }),
    ("breath", |rng| Disturbance::Breath {
        level_dbfs: rng.random_range(-45.0..-20.0),
        duration_s: rng.random_range(0.3..1.2),
        colour: Colour::Air {
            low_hz: rng.random_range(200.0..1200.0),
            high_hz: rng.random_range(1500.0..6000.0),
        },
    }),
    ("speech", |rng| Disturbance::Speech {
        level_dbfs: rng.random_range(-35.0..-12.0),
        duration_s: rng.random_range(0.5..1.8),
        pitch_hz: rng.random_range(90.0..280.0),
    }),
    ("squeaks", |rng| {
        let from_hz = rng.random_range(600.0..3000.0);
        Disturbance::Squeak {
            level_dbfs: rng.random_range(-35.0..-12.0),
            duration_s: rng.random_range(0.1..0.5),
            from_hz,
            to_hz: from_hz * rng.random_range(1.3..2.5),
        }
    }),
    ("hum switched on", |rng| Disturbance::Hum {
        level_dbfs: rng.random_range(-40.0..-15.0),
        duration_s: rng.random_range(0.5..1.5),
        mains_hz: if rng.random::<bool>() { 50.0 } else { 60.0 },
    }),
];

/// Two of the same disturbance in a room with noise, half of the time with hum.
fn scene(rng: &mut ChaCha8Rng, seed: u64, make: Make) -> Scene {
    let mut scene = Scene::new(5.0, seed);
    let level = NoiseLevel::Dbfs(rng.random_range(-70.0..-50.0));
    let hum = Hum { mains_hz: 50.0, level_dbfs: -50.0, harmonics: 8 };
    scene.background = Background {
        noise: Some(Noise { colour: Colour::Pink, level }),
        hum: rng.random::<bool>().then_some(hum),
    };
    for start_s in [0.6, 2.9] {
        scene.sounds.push(Sound { start_s, source: Source::Other(make(rng)) });
    }
    scene
}

/// How often each is read as a crow.
pub fn table(count: usize) -> Table {
    let columns = [
        "sound",
        "takes",
        "with a pitch",
        "octaves/single/split",
        "unsettled",
        "breath",
        "nothing",
    ];
    let title = "No crows: takes in which something is read as a crow with a pitch (goal: none)";
    let mut table = Table::new(title, &columns);
    let mut wrong = 0;
    for (name, make) in CASES {
        let each = count.div_ceil(CASES.len()).max(4);
        let takes: Vec<Vec<(Kind, bool)>> = (0..each as u64)
            .into_par_iter()
            .map(|number| {
                let scene = draw(name, number, |rng, seed| scene(rng, seed, make));
                let take = scene.render().take(name);
                let reading = read(&take, &Profile::default(), A4::default()).reading;
                reading
                    .crows
                    .iter()
                    .map(|crow| (crow.kind, crow.figures.fundamental.hz.is_some()))
                    .collect()
            })
            .collect();
        let with = |is: &dyn Fn(&(Kind, bool)) -> bool| {
            takes.iter().filter(|crows| crows.iter().any(is)).count()
        };
        let pitched = with(&|crow| crow.1 && crow.0 != Kind::Breath);
        wrong += pitched;
        table.row(vec![
            name.into(),
            each.to_string(),
            pitched.to_string(),
            with(&|crow| matches!(crow.0, Kind::Octaves | Kind::Single | Kind::Split)).to_string(),
            with(&|crow| crow.0 == Kind::Unsettled).to_string(),
            with(&|crow| crow.0 == Kind::Breath).to_string(),
            show_percent(takes.iter().filter(|crows| crows.is_empty()).count(), each),
        ]);
    }
    table.at_most("takes without a crow that were given a pitch", wrong as f64, 0.0);
    table
}
