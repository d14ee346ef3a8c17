//! Every warning on a sound in which it must come, and on one like it in which it must not.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use reedcrow::reading::WarningCode::{self, *};
use reedcrow::take::{Faults, Take};
use reedcrow_synth::{Background, Colour, CrowSound, Hum, Noise, NoiseLevel, Scene, Sound, Source};

use super::reading_of;

const RATE_HZ: f64 = 48_000.0;
const STARTS_S: [f64; 3] = [1.2, 3.0, 4.8];
const CROW_S: f64 = 0.7;

/// Three crows in a room whose noise is heard.
fn bench(noise_dbfs: f64) -> Scene {
    let mut scene = Scene::new(6.8, 77);
    scene.background.noise =
        Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(noise_dbfs) });
    for start_s in STARTS_S {
        let crow = CrowSound::octaves(523.0, CROW_S, -13.0);
        scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
    }
    scene
}

fn quiet_bench() -> Take {
    bench(-60.0).render().take("bench")
}

fn with(change: impl FnOnce(&mut Vec<f32>)) -> Take {
    let mut take = quiet_bench();
    change(&mut take.samples);
    take
}

fn codes(take: &Take) -> Vec<WarningCode> {
    reading_of(take).warnings.iter().map(|warning| warning.code).collect()
}

/// `code` comes with the first take and not with the second.
fn told(code: WarningCode, there: &Take, absent: &Take) {
    let found = codes(there);
    assert!(found.contains(&code), "{code:?} is missing: {found:?}");
    let found = codes(absent);
    assert!(!found.contains(&code), "{code:?} is false: {found:?}");
}

/// Gain that follows the power: down in 50 ms, up with `release_s`, by 30 dB at most.
fn gain_control(samples: &mut [f32], release_s: f64) {
    let keep = |seconds: f64| (-1.0 / (seconds * RATE_HZ)).exp();
    let (attack, release) = (keep(0.05), keep(release_s));
    let target: f64 = 0.01;
    let mut power = target;
    for sample in samples {
        let now = f64::from(*sample).powi(2);
        let keep = if now > power { attack } else { release };
        power = keep * power + (1.0 - keep) * now;
        let gain = (target / power.max(1e-3 * target)).sqrt();
        *sample = (f64::from(*sample) * gain).clamp(-1.0, 1.0) as f32;
    }
}

#[test]
fn a_gain_that_forgets_crows_quickly_or_slowly_is_told() {
    for release_s in [0.3, 1.0, 2.0] {
        let noise = bench(-55.0).render().take("bench");
        let mut gained = noise.clone();
        gain_control(&mut gained.samples, release_s);
        told(GainControl, &gained, &noise);
    }
    // A street that swells and falls by 12 dB, on its own.
    let mut street = bench(-55.0).render();
    let noise = {
        let mut scene = Scene::new(6.8, 78);
        scene.background.noise =
            Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-45.0) });
        scene.render().samples
    };
    for (n, (sample, noise)) in street.samples.iter_mut().zip(noise).enumerate() {
        let t = n as f64 / RATE_HZ;
        *sample += noise * 10.0_f64.powf(0.3 * (1.9 * t).sin() + 0.3 * (0.7 * t).sin()) as f32;
    }
    let found = codes(&Take { samples: street.samples, ..quiet_bench() });
    assert!(!found.contains(&GainControl), "{found:?}");
}

#[test]
fn a_gate_is_told_and_a_quiet_room_is_none() {
    let shut = with(|samples| {
        for (n, sample) in samples.iter_mut().enumerate() {
            let t = n as f64 / RATE_HZ;
            let is_open = |start: &f64| (start - 0.02..start + CROW_S + 0.1).contains(&t);
            if !STARTS_S.iter().any(is_open) {
                *sample = 0.0;
            }
        }
    });
    told(Gated, &shut, &bench(-85.0).render().take("bench"));
}

#[test]
fn lost_packets_are_told_and_a_rattle_is_none() {
    let holes = with(|samples| {
        for start_s in STARTS_S {
            let from = ((start_s + 0.35) * RATE_HZ) as usize;
            samples[from..from + 960].fill(0.0);
        }
    });
    let rattling = with(|samples| {
        for (n, sample) in samples.iter_mut().enumerate() {
            let turn = (std::f64::consts::TAU * 25.0 * n as f64 / RATE_HZ).sin();
            *sample *= (1.0 + 0.8 * turn) as f32;
        }
    });
    told(Dropouts, &holes, &rattling);
}

/// Every bin of frames of 21 ms multiplied by what `gain` makes of its power, with half of each frame
/// in common with the next.
fn by_frames(samples: &mut [f32], gain: impl Fn(f64, f32) -> f32) {
    const N: usize = 1024;
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, backward) = (planner.plan_fft_forward(N), planner.plan_fft_inverse(N));
    // The root of a Hann window twice over: halves add up to 1.
    let window: Vec<f32> =
        (0..N).map(|i| (std::f32::consts::PI * i as f32 / N as f32).sin()).collect();
    let mut out = vec![0.0_f32; samples.len()];
    for from in (0..samples.len().saturating_sub(N)).step_by(N / 2) {
        let mut frame: Vec<f32> =
            samples[from..from + N].iter().zip(&window).map(|(x, w)| x * w).collect();
        let mut bins: Vec<Complex<f32>> = forward.make_output_vec();
        forward.process(&mut frame, &mut bins).unwrap();
        for (k, bin) in bins.iter_mut().enumerate() {
            *bin *= gain(k as f64 * RATE_HZ / N as f64, bin.norm_sqr());
        }
        (bins[0].im, bins[N / 2].im) = (0.0, 0.0);
        backward.process(&mut bins, &mut frame).unwrap();
        for ((out, x), w) in out[from..].iter_mut().zip(&frame).zip(&window) {
            *out += x * w / N as f32;
        }
    }
    samples.copy_from_slice(&out);
}

#[test]
fn what_a_noise_suppressor_leaves_bubbles_and_a_room_does_not() {
    let white = || {
        let mut scene = bench(-50.0);
        scene.background.noise =
            Some(Noise { colour: Colour::White, level: NoiseLevel::Dbfs(-50.0) });
        scene.render().take("bench")
    };
    let mut suppressed = white();
    // The mean power of white noise at −50 dBFS (half of full scale's square at 0) in a bin: half the
    // frame's length times its variance, for this window.
    let noise = 0.5 * 1024.0 * 0.5e-5;
    by_frames(&mut suppressed.samples, |_, power| {
        (1.0 - 1.5 * noise / power.max(1e-12)).max(0.01).sqrt()
    });
    told(NoiseSuppressed, &suppressed, &white());
}

#[test]
fn a_telephones_band_is_told_and_a_room_that_falls_gently_is_none() {
    let mut narrow = bench(-50.0).render().take("bench");
    by_frames(&mut narrow.samples, |hz, _| if hz > 3400.0 { 0.0 } else { 1.0 });
    told(LowPassed, &narrow, &bench(-50.0).render().take("bench"));
}

fn humming(mains_hz: f64) -> Take {
    let mut scene = bench(-70.0);
    scene.background = Background {
        hum: Some(Hum { mains_hz, level_dbfs: -40.0, harmonics: 5 }),
        ..scene.background
    };
    scene.render().take("hum")
}

#[test]
fn mains_hum_tells_of_itself_and_of_another_rate() {
    told(WarningCode::Hum, &humming(50.0), &quiet_bench());
    // 44.1 kHz called 48.
    told(WrongRate, &humming(50.0 * 48.0 / 44.1), &humming(50.0));
}

#[test]
fn levels_that_are_wrong_are_told() {
    let clipped = with(|samples| {
        let peak = samples.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
        samples.iter_mut().for_each(|x| *x = (*x / peak * 1.6).clamp(-0.8, 0.8));
    });
    told(Overload, &clipped, &quiet_bench());
    let faint = with(|samples| samples.iter_mut().for_each(|sample| *sample *= 0.01));
    told(Quiet, &faint, &quiet_bench());
    let level = |take: &Take| reading_of(take).summary.figures.level_dbfs.unwrap();
    let loud = bench(level(&quiet_bench()) - 10.0).render().take("loud room");
    told(NoisyRoom, &loud, &quiet_bench());
}

/// Three crows of one reed, blown each as hard as it came: -23, -21 and -19 dB of full scale.
fn blown_unevenly() -> Take {
    let mut scene = bench(-60.0);
    for (number, sound) in scene.sounds.iter_mut().enumerate() {
        let Source::Crow(crow) = &mut sound.source else { continue };
        crow.level_dbfs = -23.0 + 2.0 * number as f64;
        (crow.attack_s, crow.decay_s, crow.ragged_db) = (0.08, 0.08, 3.0);
    }
    scene.render().take("bench")
}

/// An input that saturates, with the level turned down behind it; the drive is that of the loudest
/// moment.
fn saturated(take: &Take, drive: f32) -> Take {
    let peak = take.samples.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
    let bent = take.samples.iter().map(|x| 0.2 * (drive * x / peak).tanh()).collect();
    Take { samples: bent, ..take.clone() }
}

#[test]
fn crows_that_end_at_one_ceiling_are_told_and_harder_blowing_is_none() {
    let whole = blown_unevenly();
    told(Distorted, &saturated(&whole, 6.0), &whole);
    // Hardly bent: the tops still rise with the power.
    told(Distorted, &saturated(&whole, 8.0), &saturated(&whole, 0.5));
    // Cut flat, made softer, and encoded: what a codec's band leaves off makes the tops ripple.
    let peak = whole.samples.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
    let mut cut = whole.clone();
    cut.samples.iter_mut().for_each(|x| *x = 0.1 * (*x / peak * 3.5).clamp(-1.0, 1.0));
    by_frames(&mut cut.samples, |hz, _| if hz > 15_000.0 { 0.0 } else { 1.0 });
    told(Distorted, &cut, &whole);
    // A reed's own: one side of the wave gives way as it is blown harder.
    let mut own = whole.clone();
    own.samples.iter_mut().for_each(|x| *x = if *x > 0.0 { 0.1 * (*x / 0.1).tanh() } else { *x });
    told(Distorted, &cut, &own);
}

#[test]
fn what_is_too_short_or_too_coarse_is_told() {
    let one = |duration_s: f64, rate_hz: u32| {
        let mut scene = Scene::of_crow(CrowSound::octaves(523.0, duration_s, -13.0), 1.0, 5);
        scene.sample_rate_hz = rate_hz;
        scene.in_noise(Colour::Pink, 35.0).render().take("one")
    };
    told(Short, &one(0.2, 16_000), &one(0.6, 16_000));
    told(LowRate, &one(0.6, 8_000), &one(0.6, 48_000));
}

#[test]
fn what_was_lost_on_the_way_is_told() {
    let faulty = |faults: Faults| Take { faults, ..quiet_bench() };
    let none = Faults::default();
    told(LostSamples, &faulty(Faults { lost: 480, ..none }), &faulty(none));
    told(CutOff, &faulty(Faults { cut_off: true, ..none }), &faulty(none));
    told(NotFinite, &faulty(Faults { not_finite: 3, ..none }), &faulty(none));
}
