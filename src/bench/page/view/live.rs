//! What sounds now, to be read from two metres away.

use maud::{Markup, html};

use crate::bench::state::{Live, PitchPoint, State, TRACK_S};
use crate::capture::SourceTold;
use crate::pitch::Note;
use crate::system::System;
use crate::units::Hertz;
use crate::words::format::number;
use crate::words::system::silent_by_privacy;
use crate::words::{bench as words, page as labels};

/// Width and height of the pitch line, in its own units.
const LINE: (f64, f64) = (800.0, 180.0);
/// Cents from the middle to the upper edge.
const REACH_CENTS: f64 = 120.0;

/// The part that changes some ten times a second.
pub fn live(state: &State, live: &Live) -> Markup {
    let listening = &live.listening;
    let tone = live.hz.and_then(Hertz::new).map(|hz| state.distance(hz));
    let (mood, large, below) = match (&state.source, tone) {
        _ if live.paused => ("paused", labels::PAUSED.0.to_owned(), labels::PAUSED.1.to_owned()),
        (SourceTold::Lost(_) | SourceTold::Nothing, _) => {
            ("deaf", String::new(), labels::NO_MICROPHONE.to_owned())
        }
        (_, Some((note, cents))) => ("sounds", note.to_string(), words::off(cents)),
        _ => {
            // Some microphones send nothing at all between sounds: a crow is caught all the same.
            let is_gated = listening.silent && !listening.muted;
            let is_armed = listening.now.armed || is_gated;
            let wait = words::waiting(is_armed, listening.muted, listening.crows);
            ("waits", String::new(), wait.to_owned())
        }
    };
    // What stands over those that the reed is meant for are overtones.
    let octaves: Vec<Note> = (live.octaves.octaves.iter().enumerate())
        .filter(|(at, octave)| *at == 0 || state.profile.expects(octave.hz, *at, state.a4))
        .filter_map(|(_, octave)| Some(state.distance(Hertz::new(octave.hz)?).0))
        .collect();
    html! {
        div.now data-mood=(mood) {
            p.note { (large) }
            p.off { (below) }
            p.octaves {
                @for octave in &octaves { span { (octave) } }
                @match octaves.len() {
                    1 => em { (labels::ALONE) },
                    2.. if live.octaves.is_aligned => em { (labels::TOGETHER) },
                    _ => {},
                }
            }
            p.around {
                @if let Some(dbfs) = listening.now.level_dbfs.filter(|_| mood == "sounds") {
                    span { (words::level_with_number(dbfs)) }
                }
                @if listening.silent && !listening.muted { span { (words::SILENT_NOW) } }
                @if listening.muted && let Some(why) = silent_by_privacy(System::HERE) {
                    span { (why) }
                }
                @if let Some(left_s) = listening.closes_in_s {
                    span { (words::summed_up_in(left_s)) }
                }
            }
        }
        (pitch_line(state, live))
    }
}

/// The last seconds of pitch against the note the reed is held to.
fn pitch_line(state: &State, live: &Live) -> Markup {
    let (width, height) = LINE;
    let middle = height / 2.0;
    let tolerance = state.profile.tolerance.target_cents.min(REACH_CENTS) / REACH_CENTS * middle;
    let target = state.profile.lowest_note().map(|note| note.to_string());
    html! {
        figure.pitch {
            svg viewBox=(format!("0 0 {width} {height}")) preserveAspectRatio="none" role="img"
                aria-label=(described(live)) {
                rect.tune x="0" width=(width) y=(format!("{:.1}", middle - tolerance))
                    height=(format!("{:.1}", 2.0 * tolerance)) {}
                line.target x1="0" x2=(width) y1=(middle) y2=(middle) {}
                @for stretch in stretches(&live.track) {
                    polyline points=(points(stretch, live.time_s)) {}
                }
            }
            span.sharp { (labels::PITCH_LINE[0]) }
            span.held { (target.as_deref().unwrap_or(labels::NEAREST_NOTE)) }
            span.flat { (labels::PITCH_LINE[1]) }
            figcaption { (labels::last_seconds(&number(TRACK_S, 0))) }
        }
    }
}

/// Stretches in which a tone sounds.
fn stretches(track: &[PitchPoint]) -> impl Iterator<Item = &[PitchPoint]> {
    track.split(|point| point.cents.is_none()).filter(|stretch| stretch.len() > 1)
}

fn points(stretch: &[PitchPoint], now_s: f64) -> String {
    let (width, height) = LINE;
    let place = |point: &PitchPoint| {
        let x = width * (1.0 - (now_s - point.time_s) / TRACK_S);
        let cents = point.cents.unwrap_or_default().clamp(-REACH_CENTS, REACH_CENTS);
        let y = height / 2.0 * (1.0 - 0.94 * cents / REACH_CENTS);
        format!("{x:.1},{y:.1}")
    };
    stretch.iter().map(place).collect::<Vec<_>>().join(" ")
}

fn described(live: &Live) -> String {
    let last = live.track.iter().rev().find_map(|point| point.cents);
    labels::pitch_line(last.map(words::off).as_deref())
}
