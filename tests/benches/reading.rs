//! How fast a take is read, beside decoding it alone. Throughput is in samples of audio: divided by
//! the sample rate it is seconds of audio per second.

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use reedcrow::dsp::spectrum::Spectrum;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Reader, read};
use reedcrow::take::wav::{SampleFormat, write};
use reedcrow::take::{self, Channel, Take};
use reedcrow_synth::harmonic::HarmonicEstimator;
use reedcrow_synth::{Colour, CrowSound, Scene, Sound, Source};

const RATE_HZ: u32 = 48_000;

/// A crow of 0.8 s every 4 s, as at a bench.
fn bench_take(duration_s: f64) -> Take {
    let crow = CrowSound::octaves(523.2511, 0.8, -6.0);
    let mut scene = Scene::new(duration_s, 1).in_noise(Colour::Pink, 35.0);
    let count = (duration_s / 4.0) as u32;
    scene.sounds = (0..count)
        .map(|i| Sound { start_s: 1.0 + 4.0 * f64::from(i), source: Source::Crow(crow.clone()) })
        .collect();
    scene.render().take("bench")
}

fn whole(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("whole");
    group.sample_size(10);
    for duration_s in [8.0, 60.0] {
        let take = bench_take(duration_s);
        group.throughput(Throughput::Elements(take.samples.len() as u64));
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("take.wav");
        write(&path, &take.samples, RATE_HZ, 1, SampleFormat::I16).expect("room for a take");
        group.bench_function(format!("decode only, {duration_s} s"), |b| {
            b.iter(|| decoded(black_box(&path)));
        });
        group.bench_function(format!("decode and read, {duration_s} s"), |b| {
            b.iter(|| read(&decoded(&path), &Profile::default(), A4::default()));
        });
        group.bench_function(format!("read in blocks of 512, {duration_s} s"), |b| {
            b.iter(|| in_blocks(black_box(&take)));
        });
    }
    group.finish();
}

fn decoded(path: &Path) -> Take {
    take::read(path, Channel::Number(1)).expect("a take just written")
}

fn in_blocks(take: &Take) -> usize {
    let mut reader = Reader::new(RATE_HZ, &Profile::default(), A4::default());
    take.samples.chunks(512).map(|block| reader.push(block).len()).sum()
}

/// What is read costs by what sounds: room noise alone, crows alone.
fn by_content(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("by content");
    group.sample_size(10);
    let silence = Scene::new(8.0, 2).in_noise(Colour::Pink, 35.0).render().take("room");
    let crow = CrowSound::octaves(523.2511, 7.0, -6.0);
    let steady = Scene::of_crow(crow, 0.5, 2).in_noise(Colour::Pink, 35.0).render().take("crow");
    for (name, take) in [("room noise", silence), ("one long crow", steady)] {
        group.throughput(Throughput::Elements(take.samples.len() as u64));
        group.bench_function(name, |b| {
            b.iter(|| read(black_box(&take), &Profile::default(), A4::default()));
        });
    }
    group.finish();
}

fn stages(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("stages");
    let take = bench_take(8.0);
    let frame: Vec<f64> =
        take.samples[60_000..62_880].iter().map(|&sample| f64::from(sample)).collect();
    group.throughput(Throughput::Elements(frame.len() as u64));
    let mut estimator = HarmonicEstimator::new(frame.len(), f64::from(RATE_HZ));
    group.bench_function("harmonic fit of one 60 ms frame", |b| {
        b.iter(|| estimator.estimate(black_box(&frame)));
    });
    let mut spectrum = Spectrum::new(4096, f64::from(RATE_HZ));
    let mut density = vec![0.0; 4096 / 2 + 1];
    group.throughput(Throughput::Elements(4096));
    group.bench_function("spectrum of 4096 samples", |b| {
        b.iter(|| spectrum.density(black_box(&take.samples[60_000..64_096]), &mut density));
    });
    group.finish();
}

criterion_group!(benches, whole, by_content, stages);
criterion_main!(benches);
