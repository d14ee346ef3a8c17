//! What must hold of every reading, and readings of synthetic takes against their exact truth.
//! Synthetic takes validate the signal processing, not reeds.

mod apart;
mod holds;
mod laws;
mod no_crow;
mod recorders;
mod rooms;
mod splices;
mod truth;
mod wild;

use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Crow, Kind, Reading, read};
use reedcrow::take::Take;
use reedcrow_synth::{Colour, CrowSound, Scene};

/// The take of one crow in white noise, half a second of it on both sides.
fn take_of(crow: CrowSound, snr_db: f64, seed: u64) -> Take {
    Scene::of_crow(crow, 0.5, seed).in_noise(Colour::White, snr_db).render().take("test")
}

fn reading_of(take: &Take) -> Reading {
    read(take, &Profile::default(), A4::default()).reading
}

/// The only crow of a reading.
fn only_crow(reading: &Reading) -> &Crow {
    let sounding: Vec<&Crow> =
        reading.crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
    assert_eq!(sounding.len(), 1, "{:?}", reading.crows);
    sounding[0]
}

fn cents(found_hz: f64, true_hz: f64) -> f64 {
    1200.0 * (found_hz / true_hz).log2()
}
