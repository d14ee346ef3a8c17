//! How long an advice takes beside reading the take it rests on, of a reed that is new and of one that has
//! a long way behind it: under 50 ms a take.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use reedcrow::advice::{Stage, Story, advise_on};
use reedcrow::comparison::Effects;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::read;
use reedcrow::reed::Cut;
use reedcrow::take::Take;
use reedcrow_synth::{Colour, CrowSound, Scene, Sound, Source};

/// Three crows in eight seconds, flat and in octaves.
fn three_crows() -> Take {
    let crow = CrowSound::octaves(508.0, 0.8, -13.0);
    let mut scene = Scene::new(8.0, 1).in_noise(Colour::Pink, 35.0);
    scene.sounds = [1.0, 3.0, 5.0]
        .map(|start_s| Sound { start_s, source: Source::Crow(crow.clone()) })
        .to_vec();
    scene.render().take("bench")
}

/// A reed that was scraped so often, and crowed each time.
fn story(take: &Take, cuts: usize) -> Story {
    let stage = |at: usize| Stage {
        takes: vec![read(take, &Profile::default(), A4::default()).reading],
        work: (at < cuts).then_some((Cut::TipSides, None)),
        ..Stage::default()
    };
    Story { stages: (0..=cuts).map(stage).collect(), ..Story::default() }
}

fn advice(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("advice");
    group.sample_size(20);
    let (take, profile, effects) = (three_crows(), Profile::default(), Effects::default());
    group.bench_function("read three crows", |b| {
        b.iter(|| read(black_box(&take), &profile, A4::default()));
    });
    for cuts in [0, 4, 12] {
        let story = story(&take, cuts);
        group.bench_function(format!("advise after {cuts} cuts"), |b| {
            b.iter(|| advise_on(black_box(&story), &profile, &effects));
        });
    }
    group.finish();
}

criterion_group!(benches, advice);
criterion_main!(benches);
