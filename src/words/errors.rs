//! Why something cannot be done, each in one line: which thing, what is wrong, what to do.

use std::fmt::{Display, Formatter, Result};
use std::path::Path;

use crate::advice::PracticeError;
use crate::capture::{CaptureError, Refusal};
use crate::clock::BeyondCalendar;
use crate::pitch::PitchError;
use crate::profile::ProfileError;
use crate::reed::{Meant, MeasurementError, SHORTEST_TIP_MM, Size};
use crate::system::System;
use crate::take::{RATES_HZ, TakeError};
use crate::units::LengthError;
use crate::words::format::millimetres_alone;
use crate::words::system::{DISK_IS_FULL, allow_microphone, refusal};

impl Display for BeyondCalendar {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(
            "this computer's clock tells a year after 9999, which the log cannot hold; set the clock \
             and do it again",
        )
    }
}

impl Display for LengthError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        const FORMS: &str = "millimetres (70.2) or inches (2.76in)";
        let said = &self.said;
        match self.centimetres {
            Some(cm) => {
                let mm = millimetres_alone(cm * 10.0);
                write!(f, "lengths are written in {FORMS}: for {said} write {mm}")
            }
            None => write!(f, "'{said}' is not a length; write {FORMS}"),
        }
    }
}

impl Display for PitchError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::A4Range(hz) => {
                write!(f, "A4 of {hz} Hz is outside 380 to 480; give a pitch such as 440")
            }
            Self::A4NoNumber(said) => {
                write!(f, "'{said}' is not a number; give the pitch of A4 in hertz, such as 440")
            }
            Self::Name(said) => write!(
                f,
                "'{said}' is not a note name; write a letter A to G, then # or b if wanted, then the \
                 octave: C5, F#4, Bb3"
            ),
        }
    }
}

impl Display for ProfileError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NotFound { asked, names } => write!(
                f,
                "'{asked}' is not a profile: built in are {names}; or give the path of a profile file"
            ),
            Self::File { path, cause } => write!(f, "{path}: {}", refusal(cause)),
            Self::Size { path, bytes, most } => write!(
                f,
                "{path}: is not a profile: it has {bytes} bytes, and a profile has {most} at most"
            ),
            Self::Line { path, line, what } => write!(f, "{path}, line {line}: {what}"),
        }
    }
}

impl Display for PracticeError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Form { line, says } => {
                if let Some(line) = line {
                    write!(f, "line {line}: ")?;
                }
                f.write_str(says)
            }
            Self::NoCause(cause) => write!(f, "there is no table for the cause {cause}"),
            Self::Range { path, number, least, most } => {
                write!(f, "{path} is {number}; it lies within {least} to {most}")
            }
            Self::Shares { cause, sum } => {
                write!(f, "the kinds of {cause} are shares: they add up to 1, not {sum}")
            }
            Self::NotPositive { path, number } => {
                write!(f, "{path} is {number}; it must be over 0")
            }
        }
    }
}

impl Display for MeasurementError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Range { size, value, least, most } => {
                let meant = match self.meant() {
                    Some(Meant::Inches) => format!(" (if it is inches, write {value}in)"),
                    Some(Meant::Millimetres(mm)) => format!(" (perhaps {mm} mm is meant)"),
                    None => String::new(),
                };
                write!(
                    f,
                    "{} of {value} mm makes no sense{meant}; measure again: it lies within {least} to \
                     {most} mm, such as {}",
                    size.code(),
                    size.example()
                )
            }
            Self::Tip { tip_start, length } => write!(
                f,
                "the tip begins at {tip_start} mm, within {SHORTEST_TIP_MM} mm of the end at {length} mm: \
                 measure 'tip' and 'length' again, both from the bottom of the staple"
            ),
            Self::Order { lower_size, lower, upper_size, upper } => write!(
                f,
                "{} {lower} mm, and {} {upper} mm, which cannot be: check '{}' and '{}', both from the \
                 bottom of the staple",
                whereabouts(*lower_size),
                whereabouts(*upper_size),
                lower_size.code(),
                upper_size.code()
            ),
        }
    }
}

/// What a measurement says, before its millimetres.
fn whereabouts(size: Size) -> &'static str {
    match size {
        Size::Length => "the reed ends at",
        Size::Staple => "the staple ends at",
        Size::Winding => "the winding ends at",
        Size::Window => "the windows begin at",
        Size::Heart => "the heart ends at",
        Size::Tip => "the tip begins at",
        Size::Opening => "the opening is",
        Size::Throat => "the throat is",
    }
}

impl Display for CaptureError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NoSoundSystem(why) => write!(
                f,
                "no sound system answers ({why}); start it, or read a recording with 'reedcrow analyse \
                 FILE'"
            ),
            Self::NoDefault(why) => write!(
                f,
                "no default microphone ({why}); plug one in or pick one that 'reedcrow devices' lists \
                 with --device NAME, or read a recording with 'reedcrow analyse FILE'"
            ),
            Self::UnknownDevice { name, known } => {
                let known = those_there(known);
                write!(
                    f,
                    "{name}: no microphone of that name; 'reedcrow devices' lists them ({known})"
                )
            }
            Self::AmbiguousDevice { name, matches } => write!(
                f,
                "{name}: several microphones match ({}); type one of these whole",
                matches.join(", ")
            ),
            Self::CannotOpen { device, reason } => {
                write!(f, "{device}: cannot record from it: {reason}; {}", to_open_it(reason))
            }
            Self::Denied(device) => write!(
                f,
                "{device}: this system does not let reedcrow use the microphone; {}",
                allow_microphone(System::HERE)
            ),
            Self::Format { device, format } => write!(
                f,
                "{device}: delivers {format} samples, which reedcrow cannot read; pick another \
                 microphone with --device"
            ),
            Self::Rate { device, rate_hz } => {
                let (least, most) = RATES_HZ.into_inner();
                write!(
                    f,
                    "{device}: delivers {rate_hz} samples per second; {least} to {most} are needed; \
                     change its rate in the sound settings"
                )
            }
            Self::Vanished { device, reason } => write!(
                f,
                "{device}: the microphone went away ({reason}); plug it in again and start again"
            ),
            Self::Silent { device, seconds } => write!(
                f,
                "{device}: the microphone sent nothing for {seconds} seconds; check that it is not \
                 muted or held by another program"
            ),
            Self::NotAFolder(path) => write!(
                f,
                "{}: is a file, and takes are kept in a folder; name another with --save",
                path.display()
            ),
            Self::Crowded(folder) => {
                write!(f, "{}: too many programs record into this folder", folder.display())
            }
            Self::Keep { path, cause } => write!(f, "{}: {cause}", path.display()),
        }
    }
}

/// The microphones there are.
fn those_there(known: &[String]) -> String {
    match known {
        [] => "there is none now".to_owned(),
        names => names.join(", "),
    }
}

/// What to do about a microphone that does not open.
fn to_open_it(reason: &Refusal) -> &'static str {
    match reason {
        Refusal::Busy => "close the other program that records from it, then start again",
        _ => {
            "close other programs that record, check the permission to use the microphone, or pick \
             another with --device"
        }
    }
}

impl Display for Refusal {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(match self {
            Self::Missing => "it is not there",
            Self::Busy => "another program is using it",
            Self::Denied => "its use is not allowed",
            Self::Stopped => "the sound system stopped answering",
            Self::NamesNone => "the sound system names none",
            Self::Nameless => "it has no name",
            Self::NoneOpens => "no input opens",
            Self::NoLoudspeaker => {
                "no loudspeaker is there; the page of 'reedcrow bench' plays in the browser"
            }
            Self::LoudspeakerFormat(form) => {
                return write!(
                    f,
                    "the loudspeaker wants {form} samples, which reedcrow cannot give"
                );
            }
            Self::Says(why) => why,
        })
    }
}

// What could not be kept or said, and what becomes of it.

/// A take cannot be written now.
pub fn waits_in_memory(error: &CaptureError) -> String {
    format!(
        "{}; this take stays in memory and is tried again while you go on: make room, and let \
         reedcrow run",
        why(error)
    )
}

/// A take is on the disk now, and another reed is on the bench.
pub fn of_another_reed(label: &str, file: &Path) -> String {
    let file = file.display();
    format!("a take of {label} is in {file} now: add it with 'reedcrow reed take {label} {file}'")
}

/// A take could not be written to the end.
///
/// * `is_begun`: its file is there, with what was recorded until then.
pub fn lost(error: &CaptureError, is_begun: bool) -> String {
    let lost = match is_begun {
        false => "a take could not be kept and is lost: record it again",
        true => {
            "the end of a take could not be kept and is lost: record it again; what came before it is \
             in that file, and 'reedcrow analyse' reads it"
        }
    };
    format!("{}; {lost}", why(error))
}

/// Without the advice to save it again: it is tried again without being asked.
fn why(error: &CaptureError) -> String {
    match error {
        CaptureError::Keep { path, cause: TakeError::DiskFull } => {
            format!("{}: {DISK_IS_FULL}", path.display())
        }
        other => other.to_string(),
    }
}

/// Ctrl-C could not be caught, and would lose what is recorded.
pub const NO_CTRL_C: &str = "cannot watch for Ctrl-C";
/// A time that is none.
pub const NO_SECONDS: &str = "give seconds above 0, such as 4";

/// Something was done and is in the log, and saying so failed.
///
/// * `first`: the first line of what was to be printed.
pub fn done_but_not_said(first: &str, why: &str) -> String {
    format!("this is in the log; only printing it failed ({why}): {first}: do not enter it again")
}

/// What was asked for could not be printed, and nothing else is wrong.
pub fn not_printed(why: &str) -> String {
    format!("could not print: {why}")
}
