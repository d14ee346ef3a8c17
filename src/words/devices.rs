//! What is said of microphones.

use std::borrow::Cow;

use crate::capture::{CROWS, Check, FEW_CROWS, Fitness, Matter, PATIENCE_S, QUIET_S, Refusal};
use crate::reading::{CheckedMicrophone, HOT_DBFS, HUM_DBFS, Kind, NOISY_DBFS, QUIET_DBFS};
use crate::system::System;
use crate::words::format::number;
use crate::words::system::{allow_microphone, silent_by_privacy};
use crate::words::voices::means;

/// A microphone that does not open.
pub fn does_not_open(why: &Refusal) -> String {
    format!("does not open: {}", trouble(why))
}

/// What a microphone records in.
pub fn sound_format(rates: &str, channels: &str, forms: &str) -> String {
    format!("{rates} samples per second, {channels}, {forms}")
}

/// What a microphone offers from so little to so much.
pub fn from_to(low: u32, high: u32) -> String {
    if low == high { low.to_string() } else { format!("{low} to {high}") }
}

/// How many channels it offers.
pub fn channels(low: u16, high: u16) -> String {
    match (low, high) {
        (1, 1) => "1 channel".to_owned(),
        (low, high) => format!("{} channels", from_to(low.into(), high.into())),
    }
}

/// What makes a microphone or its room unfit, and what to change.
pub fn matter(matter: Matter) -> Cow<'static, str> {
    Cow::Borrowed(match matter {
        Matter::Muted => {
            let muted = "Nothing comes from this microphone. Unmute it, raise its level in the sound \
                         settings, or pick another with --device.";
            return match silent_by_privacy(System::HERE) {
                Some(forbidden) => Cow::Owned(format!("{muted} {forbidden}")),
                None => Cow::Borrowed(muted),
            };
        }
        Matter::Overload => {
            "The crow overloads the microphone. Lower its level in the sound settings, or move the \
             reed twice as far away."
        }
        Matter::Distorted => {
            "The loudest moments of the crow are bent at one level. Lower the microphone's level in the \
             sound settings, or move the reed twice as far away."
        }
        Matter::WrongRate => {
            "It gives another sample rate than it says, so every pitch would be off. Choose 44100 or \
             48000 in the sound settings, unplug it and plug it in again, or use another one."
        }
        Matter::Gated => {
            "Quiet sounds are shut off, and with them breath and the start of a crow. Turn off noise \
             suppression or voice isolation in the sound settings."
        }
        Matter::NoiseSuppressed => {
            "Noise is taken off, and with it weak octaves. Turn off noise suppression, voice isolation \
             or enhancements in the sound settings."
        }
        Matter::GainControl => {
            "The gain goes up when it is quiet, so levels and breath cannot be believed. Turn off \
             automatic gain, automatic level or boost in the sound settings."
        }
        Matter::Dropouts => {
            "Moments of the crow are missing. Close programs that keep the computer busy, and use a \
             cable rather than radio."
        }
        Matter::LostSamples => "Samples were lost. Close programs that keep the computer busy.",
        Matter::Hot => {
            "The crow comes close to overload. Lower the level a little, or crow from further away."
        }
        Matter::Quiet => {
            "The crow is weak. Raise the level in the sound settings, or crow from a hand's breadth \
             to the side of the microphone."
        }
        Matter::NoisyRoom => {
            "The room is loud. Turn off fans and machines, close the window, turn off automatic \
             level control, or come closer to the microphone."
        }
        Matter::Hum => {
            "Mains hum. Move the cable away from lamps and chargers, or run the computer on its \
             battery."
        }
        Matter::LowPassed => {
            "High tones are cut off, as a telephone does: brightness cannot be read. Use the \
             computer's own microphone, or a headset with a cable."
        }
        Matter::LowRate => {
            "The sample rate is low: brightness and the 8 kHz band cannot be read. Choose 44100 or \
             48000 in the sound settings; headsets without a cable often cannot."
        }
        Matter::Late => {
            "Sound comes late, or in jerks: what you crow would be shown late. Close programs that \
             keep the computer busy, and use a cable rather than radio."
        }
    })
}

/// The same in some words, for one line.
fn in_short(matter: Matter) -> &'static str {
    match matter {
        Matter::Muted => "it is silent (muted?)",
        Matter::Overload => "the crow overloads it",
        Matter::Distorted => "what is loud is bent",
        Matter::WrongRate => "its sample rate is not what it says",
        Matter::Gated => "quiet sounds are shut off",
        Matter::NoiseSuppressed => "noise is taken off",
        Matter::GainControl => "its gain goes up and down",
        Matter::Dropouts => "moments are missing",
        Matter::LostSamples => "samples were lost",
        Matter::Hot => "the crow comes close to overload",
        Matter::Quiet => "the crow is weak",
        Matter::NoisyRoom => "the room is loud",
        Matter::Hum => "mains hum",
        Matter::LowPassed => "high tones are cut off",
        Matter::LowRate => "its sample rate is low",
        Matter::Late => "sound comes late",
    }
}

/// Why an input does not open.
pub fn trouble(why: &Refusal) -> String {
    match why {
        Refusal::Denied => format!("{why}; {}", allow_microphone(System::HERE)),
        _ => why.to_string(),
    }
}

/// A check begins.
pub fn listening_to(device: &str) -> String {
    format!("Listening to {device}.")
}

/// What is wanted of the maker now.
pub fn wanted(stage: &Check) -> String {
    match stage {
        Check::Quiet => format!("{QUIET_S} seconds of quiet, please."),
        Check::Crows(0) => {
            format!(
                "Now crow {CROWS} times, a second each, with a second between: you have {PATIENCE_S} seconds."
            )
        }
        Check::Crows(heard) => format!("{heard} of {CROWS}, and again."),
        Check::QuietAgain => format!("And {QUIET_S} seconds of quiet."),
        Check::Done(_) => "Thank you.".to_owned(),
    }
}

/// What was measured, each beside what would be fit.
pub fn found(fitness: &Fitness) -> Vec<(&'static str, String)> {
    let level = |level: Option<f64>| {
        level.map_or_else(
            || "silent".to_owned(),
            |level| format!("{} dB of full scale", number(level, 0)),
        )
    };
    let limit = |level: f64| number(level, 0);
    let crows = match fitness.crows {
        0 if fitness.air_heard => means(Kind::Breath, false).to_owned(),
        0 => "none heard".to_owned(),
        heard => format!(
            "{heard} of {CROWS} heard, {} in the loudest 50 ms (fit: {} to {})",
            level(fitness.loudest_dbfs),
            limit(QUIET_DBFS),
            limit(HOT_DBFS)
        ),
    };
    let hum = fitness.hum_dbfs.map_or("none".to_owned(), |hum| level(Some(hum)));
    let is = |matter| fitness.findings.contains(&matter);
    // What a recorder does is told by what crows leave behind.
    let told = fitness.crows >= CROWS;
    let done = [
        (Matter::GainControl, "a gain that goes up and down"),
        (Matter::NoiseSuppressed, "noise is taken off"),
        (Matter::Gated, "quiet sounds are shut off"),
        (Matter::LowPassed, "high tones are cut off"),
    ];
    let done: Vec<&str> =
        done.iter().filter(|(matter, _)| is(*matter)).map(|(_, what)| *what).collect();
    let recorder = match done.is_empty() {
        false => done.join(", "),
        true if told => "no gain control, gate or noise suppression heard".to_owned(),
        true => format!("not told: that needs {CROWS} crows"),
    };
    let missing = match () {
        () if is(Matter::LostSamples) => "samples were lost",
        () if is(Matter::Dropouts) => "moments are missing",
        () => "none",
    };
    vec![
        ("Channel", fitness.channel.to_string()),
        ("Room noise", format!("{} (fit: under {})", level(fitness.floor_dbfs), limit(NOISY_DBFS))),
        ("Mains hum", format!("{hum} (fit: under {})", limit(HUM_DBFS))),
        ("Crows", crows),
        (
            "Peak",
            format!(
                "{} % of full scale, {}",
                number(100.0 * fitness.peak, 0),
                if is(Matter::Overload) { "overloaded" } else { "no overload" }
            ),
        ),
        ("Recorder", recorder),
        ("Drop-outs", missing.to_owned()),
        (
            "Delay",
            format!(
                "up to {} s between the soonest sound and the latest",
                number(fitness.late_s, 2)
            ),
        ),
    ]
}

/// The last sentence of a check.
pub fn verdict(fitness: &Fitness) -> &'static str {
    match fitness.crows {
        _ if fitness.findings.contains(&Matter::Muted) => "",
        0 if fitness.air_heard => {
            "Only air was heard: run the check again and blow until the reed sounds."
        }
        0 => {
            "No crow was heard: run the check again and crow when it asks for it, nearer or louder."
        }
        heard if heard < CROWS => {
            "Fewer than three crows were heard: run the check again, and leave a second between them."
        }
        _ if fitness.is_fit() => "This microphone will do.",
        _ => "Change that, then check again.",
    }
}

/// The last line of a check that was not passed: what, and what to do.
pub fn unfit(device: &str, fitness: &Fitness) -> String {
    let few = match fitness.crows {
        _ if fitness.findings.contains(&Matter::Muted) => None,
        0 => Some("no crow was heard"),
        heard => (heard < CROWS).then_some("fewer than three crows were heard"),
    };
    let found = fitness.findings.iter().map(|&matter| in_short(matter)).chain(few);
    let found: Vec<&str> = found.collect();
    format!("{device} is not fit for crowing: {}; change that, then check again", found.join(", "))
}

/// The verdict of a check could not be kept.
pub fn not_kept(why: &str) -> String {
    format!("the verdict could not be kept in the log: {why}")
}

/// The matter that a code stands for; `None` for one of another version.
fn matter_of(code: &str) -> Option<Matter> {
    Matter::ALL.into_iter().find(|matter| matter.code() == code)
}

/// What a code that was kept means; one of another version stands for itself.
fn kept_in_short(code: &str) -> &str {
    match matter_of(code) {
        Some(matter) => in_short(matter),
        None if code == FEW_CROWS => "fewer than three crows were heard",
        None => code,
    }
}

/// What the last check said of the microphone that a take was recorded with.
pub fn kept(checked: &CheckedMicrophone) -> String {
    let day = &checked.at;
    match checked.fit {
        true => format!("checked on {day}: will do"),
        false => {
            let found: Vec<&str> = checked.found.iter().map(|code| kept_in_short(code)).collect();
            let again = "; 'reedcrow devices --check' checks it again";
            format!("did not pass the check on {day}: {}{again}", found.join(", "))
        }
    }
}

/// The same on the bench's page: one line, with what to change first.
pub fn kept_on_the_page(checked: Option<&CheckedMicrophone>) -> String {
    let Some(checked) = checked else {
        return "Not checked yet: whether it will do is not known.".to_owned();
    };
    let day = &checked.at;
    if checked.fit {
        return format!("Checked on {day}: it will do.");
    }
    let found: Vec<&str> = checked.found.iter().map(|code| kept_in_short(code)).collect();
    let gravest = checked.found.iter().find_map(|code| matter_of(code));
    let change = gravest.map_or(Cow::Borrowed("Leave a second between the crows."), matter);
    format!("It did not pass the check on {day}: {}. {change} Then check again.", found.join(", "))
}

/// How the check goes, for who asks before beginning it.
pub fn how_to_check() -> String {
    format!(
        "Press the button and keep quiet for {QUIET_S} seconds; crow {CROWS} times where you usually crow, a second each \
         with a second between; keep quiet for {QUIET_S} seconds more. It says what to change. Nothing \
         of it goes to a card."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_says_what_the_last_check_found_and_what_to_change_first() {
        let checked = CheckedMicrophone {
            device: "default".into(),
            at: "2026-03-02".into(),
            fit: true,
            found: Vec::new(),
            floor_dbfs: Some(-70.0),
            loudest_dbfs: Some(-20.0),
        };
        let fit = kept_on_the_page(Some(&checked));
        let found = vec![Matter::NoisyRoom.code().to_owned(), Matter::Hum.code().to_owned()];
        let unfit = CheckedMicrophone { fit: false, found, ..checked.clone() };
        let told = kept_on_the_page(Some(&unfit));
        crate::golden::held("../../src/goldens", "checked-microphone", &format!("{fit}\n{told}"));
        for part in [kept_in_short(Matter::Hum.code()), &matter(Matter::NoisyRoom)] {
            assert!(told.contains(part), "{part}: {told}");
        }
        let few = CheckedMicrophone { found: vec![FEW_CROWS.to_owned()], ..unfit };
        assert!(!kept_on_the_page(Some(&few)).contains(&*matter(Matter::NoisyRoom)));
        assert_ne!(kept_on_the_page(Some(&few)), kept_on_the_page(None));
    }
}
