//! Every key that holds a number, the range in which it makes sense, and where it goes.

use super::Profile;

/// One numeric key of a profile.
pub(super) struct Key {
    pub section: &'static str,
    pub name: &'static str,
    /// Least and greatest value that is not absurd.
    pub least: f64,
    pub most: f64,
    pub unit: &'static str,
    pub set: fn(&mut Profile, f64),
}

macro_rules! keys {
    ($($section:literal $name:literal $least:literal $most:literal $unit:literal => $set:expr;)*) => {
        &[$(Key {
            section: $section, name: $name, least: $least, most: $most, unit: $unit, set: $set,
        },)*]
    };
}

/// All of them but the smallest changes.
pub(super) const NUMBERS: &[Key] = keys! {
    "tolerance" "target_cents" 1.0 200.0 "cents" => |p, v| p.tolerance.target_cents = v;
    "tolerance" "position_mm" 0.1 5.0 "mm" => |p, v| p.tolerance.position_mm = v;
    "tolerance" "measuring_mm" 0.01 2.0 "mm" => |p, v| p.tolerance.measuring_mm = v;
    "dimensions_mm" "length" 20.0 150.0 "mm" => |p, v| p.dimensions.length = Some(v);
    "dimensions_mm" "shortest_length" 20.0 150.0 "mm"
        => |p, v| p.dimensions.shortest_length = Some(v);
    "dimensions_mm" "staple" 10.0 80.0 "mm" => |p, v| p.dimensions.staple = Some(v);
    "dimensions_mm" "wound_to" 5.0 90.0 "mm" => |p, v| p.dimensions.wound_to = Some(v);
    "dimensions_mm" "window_bottom" 5.0 140.0 "mm" => |p, v| p.dimensions.window_bottom = Some(v);
    "dimensions_mm" "heart_bottom" 5.0 145.0 "mm" => |p, v| p.dimensions.heart_bottom = Some(v);
    "dimensions_mm" "tip_start" 5.0 150.0 "mm" => |p, v| p.dimensions.tip_start = Some(v);
    "dimensions_mm" "opening" 0.05 5.0 "mm" => |p, v| p.dimensions.opening = Some(v);
    "dimensions_mm" "throat_width" 1.0 20.0 "mm" => |p, v| p.dimensions.throat_width = Some(v);
    "advice" "first_clip_mm" 0.05 1.0 "mm" => |p, v| p.advice.first_clip_mm = v;
    "advice" "smallest_clip_mm" 0.02 0.3 "mm" => |p, v| p.advice.smallest_clip_mm = v;
    "advice" "least_confidence" 0.05 0.99 "" => |p, v| p.advice.least_confidence = v;
    "advice" "crows_wanted" 1.0 50.0 "crows" => |p, v| p.advice.crows_wanted = v;
    "advice" "usual_spread_cents" 0.5 100.0 "cents" => |p, v| p.advice.usual_spread_cents = v;
    "advice" "level_slope_cents_per_db" 0.1 30.0 "cents/dB"
        => |p, v| p.advice.level_slope_cents_per_db = v;
    "advice" "room_to_clip_cents" 5.0 600.0 "cents" => |p, v| p.advice.room_to_clip_cents = v;
    "advice" "slow_onset_s" 0.01 5.0 "s" => |p, v| p.advice.slow_onset_s = v;
    "advice" "slow_low_s" 0.01 5.0 "s" => |p, v| p.advice.slow_low_s = v;
    "advice" "weak_low_db" -60.0 0.0 "dB" => |p, v| p.advice.weak_low_db = v;
    "advice" "growl_db" -60.0 0.0 "dB" => |p, v| p.advice.growl_db = v;
    "advice" "low_present" 0.05 1.0 "" => |p, v| p.advice.low_present = v;
    "advice" "switches_per_s" 0.1 50.0 "per s" => |p, v| p.advice.switches_per_s = v;
    "advice" "unsteady_cents" 1.0 200.0 "cents" => |p, v| p.advice.unsteady_cents = v;
    "advice" "glide_cents_per_s" 5.0 300.0 "cents/s" => |p, v| p.advice.glide_cents_per_s = v;
    "advice" "wild_rattle_depth" 0.05 1.0 "" => |p, v| p.advice.wild_rattle_depth = v;
    "advice" "stuffy_db" -60.0 20.0 "dB" => |p, v| p.advice.stuffy_db = v;
};

/// Keys that count things, and so are whole numbers.
pub(super) const COUNTS: [&str; 1] = ["crows_wanted"];

/// The sections a profile may have, besides its name and title.
pub(super) const SECTIONS: [&str; 5] =
    ["crow", "tolerance", "dimensions_mm", "smallest_change", "advice"];

/// Least and greatest smallest change, in any figure's unit.
pub(super) const SMALLEST_CHANGE: (f64, f64) = (1e-4, 1e4);
