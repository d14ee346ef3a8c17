//! The figures of a crow in the maker's words.

use crate::comparison::pitch_estimate;
use crate::pitch::{A4, Note};
use crate::profile::Profile;
use crate::reading::{Figures, Kind, Reading, Rung, WarningCode};
use crate::words::format::{
    cents, counted, counted_number, decibels, hertz, interval, nearest_note, note_and_cents,
    note_name, number, octaves_away, percent, seconds, signed,
};
pub use crate::words::voices::{is_upper, kind, kind_word};
use crate::words::voices::{kind_heard, means};

/// What stands before the rows of a card, on the terminal and on the bench's page.
pub mod label {
    pub(crate) const PITCH: &str = "Pitch";
    pub(crate) const CROW: &str = "Crow";
    /// Of a take in which nothing crows.
    pub(crate) const HEARD: &str = "Heard";
    /// Octaves of one tone.
    pub(crate) const ONE_TONE: [&str; 2] = ["Tone", "Overtones"];
    /// Octaves that the profile expects, and those above them.
    pub(crate) const OCTAVES: [&str; 2] = ["Ladder", "Upper"];
    pub(crate) const ALIGNMENT: &str = "Alignment";
    /// The same on the page, where no ladder over it says what is aligned.
    pub(crate) const ALIGNMENT_ALONE: &str = "Octaves";
    pub(crate) const STEADINESS: &str = "Steadiness";
    pub(crate) const RESPONSE: &str = "Response";
    pub(crate) const BREATH: &str = "Breath";
    pub(crate) const LEVEL: &str = "Level";
    pub(crate) const BALANCE: &str = "Balance";
    pub(crate) const BANDS: &str = "Bands";
    pub(crate) const SET_ASIDE: &str = "Set aside";
    pub(crate) const MICROPHONE: &str = "Microphone";
    pub(crate) const BEWARE: &str = "Beware";
    pub(crate) const NEXT: &str = "Next";
    pub(crate) const BECAUSE: &str = "because";
    pub(crate) const OR: &str = "or";
    pub(crate) const EXPECT: &str = "expect";
    pub(crate) const THEN: &str = "then";
    pub(crate) const TAKE_CARE: &str = "Take care";
}

/// The rows that tell how a crow behaves, whatever its pitch and kind: label and text, `None` where
/// nothing is known.
pub fn manners(
    figures: &Figures,
    kind: Option<Kind>,
    profile: &Profile,
) -> [(&'static str, Option<String>); 5] {
    [
        (label::STEADINESS, steadiness(figures)),
        (label::RESPONSE, response(figures, kind, profile)),
        (label::BREATH, breath(figures)),
        (label::LEVEL, level(figures)),
        (label::BALANCE, balance(figures)),
    ]
}

/// That octaves take turns, and how often; `None` where they sound together, by the profile's own
/// limit.
pub fn turns(figures: &Figures, profile: &Profile) -> Option<String> {
    let most = figures.turns_a_second(profile)?;
    Some(format!("the octaves take turns, {} times a second", number(most, 1)))
}

/// The kind of a take and what it rests on, and whether its octaves take turns.
pub fn kind_of_take(kind: Kind, figures: &Figures, profile: &Profile) -> String {
    let heard = kind_heard(kind, figures, profile);
    match turns(figures, profile).filter(|_| kind == Kind::Octaves) {
        Some(turns) => format!("{heard}, but {turns}"),
        None => heard,
    }
}

/// What was heard of a take in which nothing crows: `3 breaths of air without a tone`.
pub fn air(reading: &Reading) -> String {
    let breaths = counted(reading.crows.len(), "breath");
    format!("{breaths} of {}", means(Kind::Breath, false))
}

/// As [`air`], beginning with `no crow`; also of a take in which nothing sounds.
pub fn no_crow(reading: &Reading) -> String {
    match reading.crows.is_empty() {
        true if is_silent(reading) => "no crow: the input is silent; muted?".to_owned(),
        true => "no crow, and not even air".to_owned(),
        false => format!("no crow: {}", air(reading)),
    }
}

/// Whether nothing was recorded.
pub fn is_silent(reading: &Reading) -> bool {
    reading.warnings.iter().any(|warning| warning.code == WarningCode::Silent)
}

/// How many crows sound, and how: `3 crows, all in octaves`, `3 crows, 2 of them in octaves`.
///
/// * `same`: how many of them are of that kind.
/// * `is_upper`: whether the lowest tone of those is the upper octave.
pub fn crows(count: usize, same: usize, kind_of_most: Kind, is_upper: bool) -> String {
    let (crows, kind) = (counted(count, "crow"), kind(kind_of_most, is_upper));
    match (count, same) {
        (1, _) => format!("{crows}, {kind}"),
        (all, same) if all == same => format!("{crows}, all {kind}"),
        _ => format!("{crows}, {same} of them {kind}"),
    }
}

/// Pitch in words: `C5 −38 cents: 38 flat of the target`. Names the target where it is not the
/// nearest note. `None` where no tone was held.
pub fn pitch(figures: &Figures, profile: &Profile) -> Option<String> {
    let fundamental = &figures.fundamental;
    let note = note_name(fundamental.note.as_deref()?, profile.target);
    let note_cents = fundamental.note_cents?;
    let text = note_and_cents(&note, note_cents);
    let (Some(target), Some(off), Some(register)) =
        (profile.target, fundamental.target_cents, fundamental.register)
    else {
        return Some(text);
    };
    let lowest = profile.lowest_register();
    let target = profile.note_in(register).unwrap_or(target).to_string();
    let named = match (register == lowest, target == note) {
        (true, true) => "the target".into(),
        (true, false) => format!("the target {target}"),
        (false, _) => format!(
            "{target}, {} the target {}",
            octaves_away(register.saturating_sub(lowest)),
            profile.lowest_note().map_or_else(String::new, |note| note.to_string())
        ),
    };
    let distance = number(off.abs(), 0);
    Some(match (distance.as_str(), off < 0.0) {
        ("0", _) => format!("{text}: on {named}"),
        (_, true) => format!("{text}: {distance} flat of {named}"),
        (_, false) => format!("{text}: {distance} sharp of {named}"),
    })
}

/// Frequency of the pitch and how well it is known: by one crow as its own interval says, by several
/// as their spread does too.
pub fn pitch_aside(reading: &Reading, profile: &Profile) -> Option<String> {
    let summary = &reading.summary;
    let fundamental = &summary.figures.fundamental;
    let hz = hertz(fundamental.hz?);
    let spread = fundamental.spread_between_crows_cents;
    let Some(spread) = spread.filter(|_| summary.crow_count > 1) else {
        let own = fundamental.ci95_cents.map(|ci95| format!(" {} cents", interval(ci95, 1)));
        return Some(format!("{hz}{}", own.unwrap_or_default()));
    };
    let known = pitch_estimate(reading, profile.advice.usual_spread_cents)
        .map(|estimate| format!(" {} cents", interval(estimate.half_width(), 1)));
    Some(format!(
        "{hz}{}: the median of {} crows, which spread by {} cents",
        known.unwrap_or_default(),
        summary.crow_count,
        number(spread, 1)
    ))
}

/// One rung of the ladder: its note, frequency, level. `show_bar` draws the level, a cell for each 5
/// dB from −40 dB to 0.
///
/// * `target`: notes are named as it is.
pub fn rung_level(rung: &Rung, a4: A4, target: Option<Note>, show_bar: bool) -> String {
    const CELLS: usize = 8;
    let mut text = format!("{:<4}{:>9}", nearest_note(rung.hz, a4, target), hertz(rung.hz));
    if show_bar {
        let filled = ((rung.level_db + 40.0) / 5.0).round().clamp(0.0, CELLS as f64) as usize;
        text += &format!(" {}{}", "█".repeat(filled), "░".repeat(CELLS - filled));
    }
    text + &format!("{:>9}", decibels(rung.level_db))
}

/// When a rung came in, and the share of the steady part in which it sounds; in columns.
pub fn rung_time(rung: &Rung) -> String {
    let entry = match rung.entry_s {
        Some(entry_s) => format!(" {:<11}", format!("from {}", seconds(entry_s))),
        None => " ".repeat(12),
    };
    let held = if rung.sustained { "held" } else { "heard" };
    entry + &format!(" {held} {}", percent(rung.present))
}

/// How often a rung goes out and comes back: `out 0.4/s`. `None` where it does not.
pub fn switches(rung: &Rung) -> Option<String> {
    let text = number(rung.switches_per_s, 1);
    (text != "0.0").then(|| format!("out {text}/s"))
}

/// Whether the octaves stand together.
pub fn alignment(figures: &Figures, kind: Option<Kind>) -> Option<String> {
    let Some(off) = figures.alignment.cents else {
        let one = kind == Some(Kind::Single);
        return one.then(|| "one octave alone, nothing to align".into());
    };
    let interval = figures.alignment.ci95_cents.map(|ci95| format!(" {}", interval(ci95, 1)));
    let interval = interval.unwrap_or_default();
    Some(if kind == Some(Kind::Single) {
        // True by nature: every tone's overtones are.
        format!("one tone, no octave to align; its overtone is true ({}{interval})", signed(off, 1))
    } else if figures.alignment.locked == Some(true) {
        format!("locked: the octave is true ({}{interval} cents)", signed(off, 1))
    } else {
        let way = if off < 0.0 { "narrow" } else { "wide" };
        format!("not locked: the octave is {}{interval} cents {way}", number(off.abs(), 1))
    })
}

/// How the power is spread over frequency.
pub fn balance(figures: &Figures) -> Option<String> {
    let balance = &figures.balance;
    let mut said = Vec::new();
    if let Some(db) = balance.low_high_db {
        let than = if db < 0.0 { "less" } else { "more" };
        said.push(format!("{} {than} below 2 kHz than above", decibels(db.abs())));
    }
    if let Some(hz) = balance.centroid_hz {
        said.push(format!("brightest about {} Hz", number(hz, 0)));
    }
    if let Some(tilt) = balance.tilt_db_per_octave {
        let way = if tilt < 0.0 { "fall" } else { "rise" };
        said.push(format!("overtones {way} {} an octave", decibels(tilt.abs())));
    }
    (!said.is_empty()).then(|| said.join(", "))
}

/// Two rows over each other: the octave bands, and their levels; more of them where `room` letters do
/// not hold all bands. Empty where there are none.
pub fn bands(figures: &Figures, room: usize) -> Vec<String> {
    const HEAD: usize = 3;
    const CELL: usize = 6;
    let bands = &figures.balance.bands_db;
    let fitting = (room.saturating_sub(HEAD) / CELL).max(1);
    let rows = bands.chunks(fitting).flat_map(|bands| {
        let (mut names, mut levels) = (format!("{:<HEAD$}", "Hz"), format!("{:<HEAD$}", "dB"));
        for band in bands {
            let name = if band.centre_hz < 1000.0 {
                number(band.centre_hz, 0)
            } else {
                format!("{}k", number(band.centre_hz / 1000.0, 0))
            };
            names += &format!("{name:>CELL$}");
            levels += &format!("{:>CELL$}", band.db.map_or("–".into(), |db| number(db, 0)));
        }
        [names, levels]
    });
    rows.collect()
}

/// How steady pitch and level are.
pub fn steadiness(figures: &Figures) -> Option<String> {
    let steadiness = &figures.steadiness;
    let mut said = Vec::new();
    if let Some(spread) = steadiness.spread_cents {
        said.push(format!("pitch wanders by {} cents", number(spread, 1)));
    }
    if let Some(drift) = steadiness.drift_cents_per_s {
        said.push(match number(drift.abs(), 0).as_str() {
            "0" => "no drift".into(),
            drift_text => {
                let way = if drift < 0.0 { "falls" } else { "rises" };
                format!("{way} {} a second", counted_number(drift_text, "cent"))
            }
        });
    }
    if let Some(sd) = steadiness.level_sd_db {
        said.push(format!("level by {}", decibels(sd)));
    }
    match (steadiness.rattle_hz, steadiness.rattle_depth) {
        (Some(hz), Some(depth)) => {
            said.push(format!("rattles at {}, depth {}", hertz(hz), percent(depth)));
        }
        _ if !said.is_empty() => said.push("no rattle".into()),
        _ => {}
    }
    if let Some(db) = steadiness.harmonicity_db {
        let (more, less) = if db < 0.0 { ("din", "tone") } else { ("tone", "din") };
        said.push(match number(db.abs(), 0).as_str() {
            "0" => "as much din as tone".into(),
            over => format!("{more} {over} dB over the {less}"),
        });
    }
    (!said.is_empty()).then(|| said.join(", "))
}

/// How readily it speaks.
pub fn response(figures: &Figures, kind: Option<Kind>, profile: &Profile) -> Option<String> {
    let response = &figures.response;
    let mut said = Vec::new();
    if let Some(onset_s) = response.onset_s {
        said.push(format!("first tone after {}", seconds(onset_s)));
    }
    // A peep's lowest tone is no low octave.
    if let Some(delay_s) = response.low_delay_s.filter(|_| !is_upper(figures, profile)) {
        match (kind == Some(Kind::Single), seconds(delay_s).as_str()) {
            // One tone has no octave to come with it; its overtones may come before it.
            (true, "0.00 s") => {}
            (true, delay) => said.push(format!("its lowest partial {delay} later")),
            (false, "0.00 s") => said.push("the lowest octave with it".into()),
            (false, delay) => said.push(format!("the lowest octave {delay} later")),
        }
    }
    (!said.is_empty()).then(|| said.join(", "))
}

/// The noise of the crow itself.
pub fn breath(figures: &Figures) -> Option<String> {
    let noise_db = figures.breath.noise_db?;
    let distance = number(noise_db.abs(), 1);
    let side = if noise_db <= 0.0 { "under" } else { "over" };
    Some(format!("noise {distance} dB {side} the tone"))
}

/// How loud it was recorded.
pub fn level(figures: &Figures) -> Option<String> {
    figures.level_dbfs.map(crate::words::reading::level_on_the_card)
}

/// The octaves held, lowest first: `C5+C6`, or `C5–C8` where there are more than two.
///
/// * `target`: notes are named as it is.
pub fn octaves_held(figures: &Figures, a4: A4, target: Option<Note>) -> String {
    let held: Vec<String> = figures
        .rungs
        .iter()
        .filter(|rung| rung.sustained)
        .map(|rung| nearest_note(rung.hz, a4, target))
        .collect();
    match held.as_slice() {
        [lowest, _, .., highest] => format!("{lowest}–{highest}"),
        few => few.join("+"),
    }
}

/// Pitch in the fewest letters, for a line per crow: `C5 −38 ±1.2`.
///
/// * `target`: the note is named as it is.
pub fn short_pitch(figures: &Figures, target: Option<Note>) -> Option<String> {
    let fundamental = &figures.fundamental;
    let text = cents(fundamental.note_cents?);
    let number = text.split(' ').next().unwrap_or_default().to_owned();
    let interval = fundamental.ci95_cents.map(|ci95| format!(" {}", interval(ci95, 1)));
    let note = note_name(fundamental.note.as_deref()?, target);
    Some(format!("{note} {number}{}", interval.unwrap_or_default()))
}
/// A crow without a pitch.
pub const NO_TONE: &str = "no tone held";
/// A kind of reed without a target.
pub const NO_NOTE: &str = "no note";

/// What a take is held to.
pub fn held_to(profile: &str, target: &str) -> String {
    format!("{profile}, held to {target}")
}

/// The headline of a take without a crow.
pub fn no_crow_heard(is_silent: bool) -> &'static str {
    match is_silent {
        true => "No crow heard: the input is silent; muted?",
        false => "No crow heard",
    }
}

/// A take that holds breath alone.
pub fn only_breaths(breaths: usize) -> String {
    format!("{} of air, no crow", counted(breaths, "breath"))
}
