//! What makes a reading doubtful and what follows from it, and what differs between the sides of a
//! comparison besides the reed.

use std::borrow::Cow;
use std::fmt::{Display, Formatter, Result};

use crate::comparison::{About, Which};
use crate::reading::{Doubt, Evidence, Overload, WarningCode};
use crate::words::format::{counted_number, dbfs, number, signed};

impl Display for Doubt<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        let Self { code, evidence } = self;
        f.write_str(&match code {
            WarningCode::Silent => SILENT.into(),
            WarningCode::NoCrow if evidence.silent => NOTHING_RECORDED.into(),
            WarningCode::NoCrow => NO_CROW.into(),
            WarningCode::Overload => Cow::from(evidence.overload.map(overload).unwrap_or_default()),
            WarningCode::Distorted => DISTORTED.into(),
            WarningCode::LostSamples => lost_samples(evidence.faults.lost).into(),
            WarningCode::CutOff => CUT_OFF.into(),
            WarningCode::NotFinite => not_finite(evidence.faults.not_finite).into(),
            WarningCode::Quiet => QUIET.into(),
            WarningCode::NoisyRoom => noisy_room(evidence).into(),
            WarningCode::Hum => hum(evidence.hum_hz.unwrap_or_default()).into(),
            WarningCode::Short => SHORT.into(),
            WarningCode::LowRate => low_rate(evidence).into(),
            WarningCode::GainControl => GAIN_CONTROL.into(),
            WarningCode::Gated => GATED.into(),
            WarningCode::Dropouts => DROPOUTS.into(),
            WarningCode::NoiseSuppressed => NOISE_SUPPRESSED.into(),
            WarningCode::WrongRate => WRONG_RATE.into(),
            WarningCode::LowPassed => low_passed(evidence.edge_hz.unwrap_or_default()).into(),
            WarningCode::Spliced => SPLICED.into(),
            WarningCode::OthersBeside => OTHERS_BESIDE.into(),
            WarningCode::PitchesApart => PITCHES_APART.into(),
            WarningCode::CrowCut => crow_cut(evidence.cut_at_ends()).into(),
            WarningCode::LongCrow => LONG_CROW.into(),
        })
    }
}

/// What makes a reading doubtful, in a few words.
pub fn in_short(code: WarningCode) -> &'static str {
    match code {
        WarningCode::Overload => "too loud",
        WarningCode::Distorted => "distorted",
        WarningCode::Quiet => "faint",
        WarningCode::Short => "crows too short",
        WarningCode::NoisyRoom => "noisy room",
        WarningCode::Hum => "mains hum",
        WarningCode::Silent => "silent",
        WarningCode::NoCrow => "no crow",
        WarningCode::LowRate => "low sample rate",
        WarningCode::LostSamples => "samples lost",
        WarningCode::CutOff => "recording broken off",
        WarningCode::NotFinite => "damaged samples",
        WarningCode::LongCrow => "crows too long",
        WarningCode::GainControl => "gain control",
        WarningCode::NoiseSuppressed => "noise suppression",
        WarningCode::Gated => "cut to silence between crows",
        WarningCode::LowPassed => "high tones cut off",
        WarningCode::Dropouts => "gaps in the sound",
        WarningCode::WrongRate => "wrong sample rate",
        WarningCode::Spliced => "pieced together",
        WarningCode::OthersBeside => "other sounds beside the crows",
        WarningCode::PitchesApart => "crows far apart in pitch",
        WarningCode::CrowCut => "a crow cut off",
    }
}

// Nothing to read.

const SILENT: &str = "the input is silent: muted? Unmute the microphone, raise its level, or choose \
                      another; 'reedcrow devices --check' tells whether it hears";
const NOTHING_RECORDED: &str = "no crow was found, because nothing was recorded";
const NO_CROW: &str = "no crow was found; crow for a second or two, near the microphone, with a little \
                       silence before and after";

// Where the microphone stands, and how loud it is set.

fn overload(overload: Overload) -> String {
    let places = match overload.stretches {
        1 => "one stretch".to_owned(),
        count => format!("{count} stretches"),
    };
    let level_db = -20.0 * f64::from(overload.level).log10();
    let cut = match overload.level {
        1.0.. => "at full scale".to_owned(),
        _ => format!("cut flat {level_db:.1} dB under full scale"),
    };
    format!(
        "{places} {cut}: levels, balance and breath are distorted; move away or turn the input down"
    )
}

const DISTORTED: &str = "the loudest moments of the crows are all cut or bent at one level, below full \
                         scale: levels, balance, breath and rattle are not told, and how far the octave \
                         stands out is not reliable; turn the microphone's level down or move away from \
                         it";
const QUIET: &str = "the crow is very quiet; go nearer or turn the input up";

fn noisy_room(evidence: &Evidence<'_>) -> String {
    if let Some(room_dbfs) = evidence.drowning_dbfs() {
        let level = dbfs(room_dbfs);
        return match evidence.is_steady() {
            true => format!(
                "all that was heard is steady noise at {level} of full scale, as of a fan, a tap or a street: \
                 it would drown a crow; turn it off or close the window, or crow nearer to the microphone"
            ),
            false => format!(
                "the room is loud, {level} of full scale: it may have drowned a crow; turn off what makes \
                 the noise, or crow nearer to the microphone"
            ),
        };
    }
    format!(
        "the room is only {} dB under the crow; weak octaves and breath may be hidden",
        number(evidence.room_under_db().unwrap_or_default(), 0)
    )
}

fn hum(hz: f64) -> String {
    format!("mains hum at {hz:.0} Hz; move the microphone or its supply")
}

// What is missing of the recording.

fn lost_samples(count: u64) -> String {
    let lost = counted_number(&count.to_string(), "sample");
    let were = if count == 1 { "was" } else { "were" };
    format!(
        "{lost} {were} lost while recording, or damaged in the file; crow again with other programs \
         closed, or copy the file again"
    )
}

/// * `at`: whether at the beginning and at the end of the recording.
fn crow_cut(at: [bool; 2]) -> &'static str {
    match at {
        [true, true] => {
            "the recording begins and ends within a crow: how soon the reed speaks is not told of the \
             first; leave half a second of quiet before and after"
        }
        [true, false] => {
            "the recording begins within a crow: how soon the reed speaks is not told of it; begin \
             recording half a second before you blow"
        }
        [false, _] => "the recording ends within a crow; let it run half a second longer",
    }
}

const CUT_OFF: &str = "the file is shorter than its header says; what there is was read";

fn not_finite(count: u64) -> String {
    match count {
        1 => "one sample is not a number and was read as silence".to_owned(),
        count => format!("{count} samples are not numbers and were read as silence"),
    }
}

fn low_rate(evidence: &Evidence<'_>) -> String {
    format!(
        "at {} samples a second the highest overtones are missing; levels and balance stop at {:.1} kHz",
        evidence.sample_rate_hz,
        evidence.highest_hz() / 1000.0
    )
}

const DROPOUTS: &str = "moments of the crow are missing, as when packets are lost: rattle and how \
                        steady the level is are not told; record on the device itself and send the file";
const SPLICED: &str = "within a crow all its tones jump at once: the recording was cut and joined there, \
                       or lost some of its samples; what is told of that crow is of its longest unbroken \
                       part";

// What the recorder, or what came after it, did to the sound.

const GAIN_CONTROL: &str = "the recorder turns its gain up in the pauses: levels, breath and how soon \
                            the reed speaks are not reliable; turn off automatic gain (or \"boost\") in \
                            the sound settings, or use another recording app";
const GATED: &str = "the recorder or an editor shuts off quiet sounds: breath and how soon the reed \
                     speaks are not told; turn off noise suppression or voice isolation, and send the \
                     file as it was recorded";
const NOISE_SUPPRESSED: &str = "the recorder takes noise off, and with it breath and weak octaves of the \
                                crow: a weak low octave may be missing; turn off noise suppression or \
                                voice isolation";
const WRONG_RATE: &str = "the mains hum 147 cents off, so the pitch of everything is off by as much: the \
                          recording was made at one sample rate and says another (44.1 and 48 kHz); \
                          export it again";

fn low_passed(edge_hz: f64) -> String {
    format!(
        "everything above {:.1} kHz was cut off, as telephones and small sound files do: levels and \
         balance hold only below that; send the file as it was recorded",
        edge_hz / 1000.0
    )
}

// The crows themselves, and what sounds beside them.

const SHORT: &str = "a crow is too short for some figures; hold it for a second";
const LONG_CROW: &str = "a crow is longer than can be kept; its figures are from its beginning";
const OTHERS_BESIDE: &str = "a voice, a note or some other tone sounded between the crows: it may have \
                             been taken for a crow, or heard as an octave of the reed; crow again when it \
                             is quiet";
const PITCHES_APART: &str = "crows lie about a semitone or more apart: if one was not this reed, cut it \
                             out; if all were, its pitch is not settled yet";

impl Display for About {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        let side = |which: &Which| match which {
            Which::Before => "before",
            Which::After => "after",
        };
        match self {
            Self::NoCrow(which) => {
                write!(f, "no crow sounds {}: nothing to compare", side(which))
            }
            Self::OneCrow(which) => write!(
                f,
                "one crow {} gives no spread to judge by: crow at least three times on each side",
                side(which)
            ),
            Self::SameRecording => {
                f.write_str("both sides are the same recording: there is nothing to compare")
            }
            Self::DifferentA4(hz) => write!(
                f,
                "read at different A4 ({} Hz): cents from target and note are left out, hertz still \
                 compare",
                hz.join(", ")
            ),
            Self::DifferentProfile(names) => write!(
                f,
                "read with different profiles ({}): distance from the target and register are left out",
                names.join(", ")
            ),
            Self::DifferentOctave => f.write_str(
                "the lowest octave that is held is not the same before and after, so pitch and how late \
                 it comes are not compared",
            ),
            Self::DifferentSampleRate { rates_hz, left_out } => write!(
                f,
                "different sample rates ({} Hz): {}",
                rates_hz.join(", "),
                match left_out {
                    true => {
                        "balance, breath and the octaves' levels are left out: the lower rate does not \
                         hold all of them"
                    }
                    false => "compare levels, balance and breath only if one microphone made both",
                }
            ),
            Self::DifferentChannel(channels) => write!(
                f,
                "different channels ({}): levels, balance and breath are left out, and pitch is not \
                 brought to one level",
                channels.join(", ")
            ),
            Self::MicrophoneUnknown => f.write_str(
                "recordings do not say which microphone made them: levels, balance and breath compare \
                 only if it was the same at the same distance",
            ),
            Self::LevelAdjusted { cents_per_db } => write!(
                f,
                "the crows differ in how hard they are blown: pitch is compared at one blowing strength, \
                 the mean of all crows ({} cents per dB louder, from the crows within each side)",
                signed(*cents_per_db, 1)
            ),
            Self::LevelsApart { step_db } => write!(
                f,
                "the sides differ in level by {step_db:.1} dB, more than the crows within them reach: \
                 blown harder, or the microphone nearer, cannot be told apart, and the ± of pitch holds \
                 both; crow both sides alike"
            ),
            Self::Chance { judged, expected } => write!(
                f,
                "{judged} figures are compared: about {expected:.0} would seem to move by chance alone"
            ),
        }
    }
}
