//! The session with a stand-in for the reader, whose crows are known by construction: any
//! sample over 0.05 sounds, 0.15 s without one end it, and what is shorter than 0.1 s was a knock.

use super::*;
use crate::pitch::A4;
use crate::reading::{Analysis, Crow, CrowTracks, Figures, Kind, Now};
use crate::take::Faults;
use taking::LONGEST_S;

const RATE_HZ: u32 = 1000;
const MONO: SoundFormat = SoundFormat { sample_rate_hz: RATE_HZ, channels: 1 };

#[derive(Default)]
struct StandIn {
    heard: Vec<f32>,
    began: Option<usize>,
    last_loud: usize,
    crows: Vec<Crow>,
}

fn seconds(samples: usize) -> f64 {
    samples as f64 / f64::from(RATE_HZ)
}

impl StandIn {
    fn end_crow(&mut self) -> Option<Crow> {
        let (start, end) = (self.began.take()?, self.last_loud + 1);
        let (start_s, end_s) = (seconds(start), seconds(end));
        let crow = Crow { start_s, end_s, kind: Kind::Single, figures: Figures::default() };
        (end - start >= 100).then(|| {
            self.crows.push(crow.clone());
            crow
        })
    }
}

impl CrowReader for StandIn {
    fn push(&mut self, samples: &[f32]) -> Vec<(Crow, CrowTracks)> {
        let mut ended = Vec::new();
        for &sample in samples {
            let at = self.heard.len();
            self.heard.push(sample);
            if sample.abs() > 0.05 {
                self.began.get_or_insert(at);
                self.last_loud = at;
            } else if self.began.is_some() && at - self.last_loud >= 150 {
                ended.extend(self.end_crow().map(|crow| (crow, CrowTracks::default())));
            }
        }
        ended
    }

    fn now(&self) -> Now {
        Now {
            armed: self.heard.len() > 300,
            sounding: self.began.is_some(),
            hz: self.began.map(|_| 500.0),
            ..Now::default()
        }
    }

    fn pending_since_s(&self) -> Option<f64> {
        self.began.map(seconds)
    }

    fn finish(mut self, source: &str, channels: u16, channel: u16, faults: Faults) -> Analysis {
        let _ = self.end_crow();
        let reader = Reader::new(RATE_HZ, &Profile::default(), A4::default());
        let mut analysis = reader.finish(source, channels, channel, faults);
        analysis.reading.duration_s = seconds(self.heard.len());
        // The stand-in's own way to let a test see the faults.
        analysis.floor = vec![(faults.lost as f64, faults.not_finite as f64)];
        analysis.tracks = vec![CrowTracks::default(); self.crows.len()];
        analysis.reading.crows = self.crows;
        analysis
    }
}

fn session(format: SoundFormat) -> Session<StandIn> {
    let settings = SessionSettings {
        source: "bench".into(),
        pause_s: 4.0,
        channel: Channel::Strongest,
        microphone: None,
    };
    Session::with_reader(format, settings, StandIn::default)
}

/// A quiet room of ±0.001 for `total_s` with sounds of ±0.3 in each span, in seconds.
fn sounds(total_s: f64, spans: &[(f64, f64)]) -> Vec<f32> {
    let in_span = |t: f64| spans.iter().any(|&(from, to)| (from..to).contains(&t));
    (0..(total_s * f64::from(RATE_HZ)).round() as usize)
        .map(|n| {
            let amplitude = if in_span(seconds(n)) { 0.3 } else { 0.001 };
            if n % 2 == 0 { amplitude } else { -amplitude }
        })
        .collect()
}

fn heard(format: SoundFormat, frames: &[f32], piece_frames: usize) -> Vec<Event> {
    let mut session = session(format);
    let piece = piece_frames * usize::from(format.channels);
    let mut events: Vec<Event> =
        frames.chunks(piece).flat_map(|piece| session.push(piece, 0)).collect();
    events.extend(session.finish());
    events
}

/// Each finished take with its audio.
fn takes(events: &[Event]) -> Vec<(FinishedTake, Vec<f32>)> {
    let mut audio = Vec::new();
    let mut takes = Vec::new();
    for event in events {
        match event {
            Event::TakeBegan => audio.clear(),
            Event::Audio(samples) => audio.extend(samples),
            Event::TakeEnded(take) => takes.push((take.as_ref().clone(), audio.clone())),
            Event::CrowSeen(_) | Event::CrowEnded { .. } | Event::TakeDropped { .. } => {}
        }
    }
    takes
}

/// Two takes: three crows, then, over 4 s later, one that the end cuts off; a knock between.
fn bench() -> Vec<f32> {
    sounds(21.5, &[(3.0, 3.8), (5.0, 5.9), (9.7, 10.5), (16.0, 16.03), (20.0, 30.0)])
}

#[test]
fn crows_without_a_pause_between_them_make_one_take() {
    let events = heard(MONO, &bench(), 480);
    let takes = takes(&events);
    let crows: Vec<usize> =
        takes.iter().map(|(take, _)| take.analysis.reading.crows.len()).collect();
    assert_eq!(crows, [3, 1]);
    let told = events.iter().filter(|event| matches!(event, Event::CrowEnded { .. })).count();
    assert_eq!(told, 4, "each crow is told once, the one that the end cut off too");
    assert!(events.iter().any(|event| matches!(event, Event::TakeDropped { .. })));
}

#[test]
fn a_take_reaches_from_a_second_before_its_first_crow_to_the_pause_after_its_last() {
    let (take, audio) = takes(&heard(MONO, &bench(), 480)).remove(0);
    assert!((take.start_s - 2.0).abs() < 1e-9, "{}", take.start_s);
    // The last crow ends at 10.5 s; blocks are 10 ms long.
    let end_s = take.start_s + seconds(audio.len());
    assert!((14.5..=14.51).contains(&end_s), "{end_s}");
    assert!((take.analysis.reading.crows[0].start_s - 1.0).abs() < 1e-9);
}

#[test]
fn the_pieces_in_which_samples_come_change_nothing() {
    let told = |piece| {
        takes(&heard(MONO, &bench(), piece))
            .into_iter()
            .map(|(take, audio)| (take.start_s, take.analysis.reading, audio))
            .collect::<Vec<_>>()
    };
    let whole = told(4096);
    assert_eq!(whole.len(), 2);
    for piece in [1, 64, 480] {
        assert!(told(piece) == whole, "pieces of {piece}");
    }
}

#[test]
fn a_takes_audio_read_again_gives_its_reading() {
    for (take, audio) in takes(&heard(MONO, &bench(), 64)) {
        let mut again = StandIn::default();
        again.push(&audio);
        let again = again.finish("bench", 1, 1, Faults::default());
        assert_eq!(again.reading, take.analysis.reading);
    }
}

#[test]
fn a_crow_from_the_first_moment_on_is_kept() {
    let takes = takes(&heard(MONO, &sounds(6.0, &[(0.0, 1.0)]), 100));
    assert_eq!(takes.len(), 1);
    assert_eq!(takes[0].0.analysis.reading.crows[0].start_s, 0.0);
}

#[test]
fn a_crow_just_after_a_takes_end_begins_the_next_take_whole() {
    // The second begins 10 ms after the pause of 4 s is over.
    let takes = takes(&heard(MONO, &sounds(10.0, &[(2.0, 3.0), (7.01, 8.0)]), 64));
    assert_eq!(takes.len(), 2);
    let crow = &takes[1].0.analysis.reading.crows[0];
    assert!((takes[1].0.start_s + crow.start_s - 7.01).abs() < 1e-9);
    assert!((crow.start_s - 1.0).abs() < 1e-9);
}

#[test]
fn losses_count_for_the_take_they_fell_into() {
    let mut session = session(MONO);
    let mut events = Vec::new();
    let frames = bench();
    for (index, piece) in frames.chunks(100).enumerate() {
        // At 0 s, long before any take; at 5.1 s, in the first; at 20.1 s, in the second.
        let lost = match index {
            0 => 7,
            51 => 11,
            201 => 13,
            _ => 0,
        };
        let mut piece = piece.to_vec();
        if index == 31 {
            piece[3] = f32::NAN;
        }
        events.extend(session.push(&piece, lost));
    }
    events.extend(session.finish());
    let faults: Vec<(f64, f64)> =
        takes(&events).iter().map(|(take, _)| take.analysis.floor[0]).collect();
    assert_eq!(faults, [(11.0, 1.0), (13.0, 0.0)]);
}

#[test]
fn the_channel_that_crows_is_read_even_where_another_hums() {
    let crow = sounds(8.0, &[(3.0, 4.0)]);
    let frames: Vec<f32> = crow
        .iter()
        .enumerate()
        .flat_map(|(n, &crow)| [0.04 * (n as f32 * 0.3).sin(), crow])
        .collect();
    let format = SoundFormat { channels: 2, ..MONO };
    let takes = takes(&heard(format, &frames, 64));
    assert_eq!(takes.len(), 1);
    assert_eq!(takes[0].0.analysis.reading.channel, 2);
    assert!(takes[0].1.iter().all(|sample| [0.001, 0.3].contains(&sample.abs())));
}

#[test]
fn the_channel_asked_for_is_read_though_another_crows() {
    let (loud, quiet) = (sounds(9.0, &[(3.0, 4.0)]), sounds(9.0, &[(3.5, 4.0)]));
    let frames: Vec<f32> = loud.iter().zip(&quiet).flat_map(|(&a, &b)| [a, 0.5 * b]).collect();
    let format = SoundFormat { channels: 2, ..MONO };
    let settings = SessionSettings {
        source: "bench".into(),
        pause_s: 4.0,
        channel: Channel::Number(2),
        microphone: None,
    };
    let mut session = Session::with_reader(format, settings, StandIn::default);
    assert_eq!(session.channel, 1);
    let mut events = session.push(&frames, 0);
    events.extend(session.finish());
    let takes = takes(&events);
    let crow = &takes[0].0.analysis.reading.crows[0];
    assert_eq!((takes.len(), takes[0].0.analysis.reading.channel), (1, 2));
    assert!((crow.end_s - crow.start_s - 0.5).abs() < 0.01, "{crow:?}");
}

/// A muted input gives zeros, or the last bit of 16 taking turns.
#[test]
fn an_input_without_any_sound_is_told_from_a_quiet_room() {
    let last_bit: Vec<f32> = (0..3000).map(|n| if n % 2 == 0 { 0.0 } else { 3.0e-5 }).collect();
    for muted in [vec![0.0; 3000], vec![0.02; 3000], last_bit] {
        let mut session = session(MONO);
        session.push(&muted[..1500], 0);
        assert!(!session.listening().silent, "too early to tell");
        session.push(&muted[1500..], 0);
        assert!(session.listening().silent && session.was_silent());
        session.push(&sounds(0.1, &[]), 0);
        assert!(!session.listening().silent && !session.was_silent());
    }
    let mut session = session(MONO);
    session.push(&sounds(4.0, &[]), 0);
    assert!(!session.listening().silent);
}

#[test]
fn the_zeros_a_microphone_begins_with_are_no_room_noise() {
    let mut frames = vec![0.0; 1600];
    frames.extend(sounds(3.0, &[(0.5, 1.0)]));
    let takes = takes(&heard(MONO, &frames, 64));
    assert_eq!(takes.len(), 1);
    assert!((takes[0].0.start_s - 1.6).abs() < 1e-9, "{}", takes[0].0.start_s);
    assert!(takes[0].1.iter().all(|&sample| sample != 0.0));
}

#[test]
fn silence_takes_no_memory() {
    let mut session = session(MONO);
    for _ in 0..300 {
        assert!(session.push(&vec![0.001; 1000], 1).is_empty());
    }
    let State::Waiting(scout) = &session.state else { panic!("nothing sounds") };
    assert!(scout.reader.heard.len() <= (SCOUT_S + 7.0) as usize * 1000);
    assert!(session.room.end_frame() - session.room.first_frame() <= 6000);
    assert!(session.losses.len() <= 7, "{}", session.losses.len());
    assert!(session.listening().now.armed);
}

#[test]
fn a_sound_without_end_is_cut_into_takes() {
    let takes = takes(&heard(MONO, &sounds(1300.0, &[(5.0, 1300.0)]), 4096));
    let lengths: Vec<f64> = takes.iter().map(|(_, audio)| seconds(audio.len())).collect();
    assert_eq!(lengths.len(), 3, "{lengths:?}");
    assert!(lengths.iter().all(|&length| length <= LONGEST_S + 0.01), "{lengths:?}");
    let told: f64 = lengths.iter().sum();
    assert!((told - 1296.0).abs() < 0.1, "no second of it is lost or told twice: {told}");
}

#[test]
fn a_take_can_be_closed_before_its_pause_is_over() {
    let mut session = session(MONO);
    let frames = sounds(12.0, &[(2.0, 3.0), (4.5, 5.5)]);
    let mut events = session.push(&frames[..4000], 0);
    assert!(session.listening().closes_in_s.is_some());
    events.extend(session.close_take());
    assert!(session.close_take().is_empty(), "there is none to close");
    events.extend(session.push(&frames[4000..], 0));
    events.extend(session.finish());
    let takes = takes(&events);
    let crows: Vec<usize> =
        takes.iter().map(|(take, _)| take.analysis.reading.crows.len()).collect();
    assert_eq!(crows, [1, 1]);
    // The second begins a second before its crow, and not within the first crow.
    assert!((takes[1].0.start_s - 3.5).abs() < 1e-9, "{}", takes[1].0.start_s);
}

/// The real reader on synthetic crows: two without a pause, then one after it.
mod with_the_reader {
    use super::*;
    use crate::reading::{Reading, read};
    use crate::take::Take;
    use reedcrow_synth::{Background, Colour, CrowSound, Noise, NoiseLevel, Scene, Sound, Source};

    /// Low, to be quick where tests run without optimisation.
    const RATE_HZ: u32 = 16_000;

    fn bench() -> Take {
        let mut scene = Scene::new(7.0, 11);
        scene.sample_rate_hz = RATE_HZ;
        let noise = Noise { colour: Colour::White, level: NoiseLevel::Dbfs(-65.0) };
        scene.background = Background { noise: Some(noise), hum: None };
        for start_s in [1.2, 2.3, 5.5] {
            let crow = CrowSound::octaves(523.25, 0.6, -6.0);
            scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
        }
        let samples = scene.render().samples;
        Take {
            source: "bench".into(),
            sample_rate_hz: RATE_HZ,
            channels: 1,
            channel: 1,
            samples,
            ..Take::default()
        }
    }

    fn heard(samples: &[f32], piece: usize) -> Vec<(Reading, Vec<f32>)> {
        let format = SoundFormat { sample_rate_hz: RATE_HZ, channels: 1 };
        let settings = SessionSettings {
            source: "bench".into(),
            pause_s: 1.5,
            channel: Channel::Strongest,
            microphone: None,
        };
        let mut session = Session::new(format, settings, &Profile::default(), A4::default());
        let mut events: Vec<Event> =
            samples.chunks(piece).flat_map(|piece| session.push(piece, 0)).collect();
        events.extend(session.finish());
        let takes = takes(&events);
        let told = events.iter().filter(|event| matches!(event, Event::CrowEnded { .. })).count();
        let held = takes.iter().map(|(take, _)| take.analysis.reading.crows.len()).sum::<usize>();
        assert_eq!(told, held, "each crow is told once");
        takes.into_iter().map(|(take, audio)| (take.analysis.reading, audio)).collect()
    }

    #[test]
    fn live_and_file_give_the_same_reading_whatever_the_pieces() {
        let bench = bench();
        let whole = heard(&bench.samples, 4096);
        let crows: Vec<usize> =
            whole.iter().map(|(reading, _)| reading.summary.crow_count).collect();
        assert_eq!(crows, [2, 1]);
        for (reading, audio) in &whole {
            let take = Take { samples: audio.clone(), ..bench.clone() };
            let again = read(&take, &Profile::default(), A4::default()).reading;
            assert_eq!(&again, reading);
        }
        for piece in [1, 480] {
            assert!(heard(&bench.samples, piece) == whole, "pieces of {piece}");
        }
    }
}
