//! What is said of whole folders of recordings.

use crate::batch::{Attention, Summary};
use crate::report::distribution::Distribution;
use crate::report::format::{cents, counted, number, percent, seconds, signed};

/// A recording whose content an earlier row of the table has already.
pub fn same_recording(name: &str, first_row: u64) -> String {
    format!(
        "{name}: is the same recording as in row {first_row} of the table, so its crows count twice; leave \
         one of the two out"
    )
}

/// How many more of them there are.
pub fn more_same_recordings(more: u64) -> String {
    let recordings = counted(usize::try_from(more).unwrap_or(usize::MAX), "recording");
    format!(
        "{recordings} more are in the table more than once: column 'sha256' tells which are the same"
    )
}

/// How many takes were read, how many not, and how much sound they hold.
pub fn counts(summary: &Summary, length: &str) -> String {
    let mut about = vec![format!("{} read", counted(summary.read() as usize, "take"))];
    if summary.failed() > 0 {
        about.push(format!("{} not read", summary.failed()));
    }
    if summary.taken_over > 0 {
        about.push(format!("{} of them earlier", summary.taken_over));
    }
    if summary.passed_over > 0 {
        let files = counted(summary.passed_over as usize, "other file");
        about.push(format!("{files} passed over"));
    }
    about.push(format!("{length} of sound"));
    about.join(", ")
}

/// Folders in folders that were not asked for.
pub fn folders_inside(folders: u64) -> String {
    let folders = counted(usize::try_from(folders).unwrap_or(usize::MAX), "folder");
    format!("{folders} inside not read: --recursive reads them")
}

/// Where the takes' pitches lie.
pub fn pitch(target: &str, pitch: &Distribution) -> String {
    format!(
        "Pitch against {target}: median {}, half of the takes from {} to {}",
        cents(pitch.median),
        signed(pitch.lower_quartile, 0),
        signed(pitch.upper_quartile, 0)
    )
}

/// Why takes need attention.
pub fn reason(attention: Attention) -> &'static str {
    match attention {
        Attention::NotRead => "not read",
        Attention::NoCrow => "no crow in it",
        Attention::Unsettled => "unsettled: no tone holds",
        Attention::Split => "split: octaves apart",
        Attention::Single => "single: one octave alone",
        Attention::Turns => "octaves that take turns",
        Attention::Late => "low octave late",
        Attention::Rattle => "wild rattle",
        Attention::Doubtful => "read with doubt",
        Attention::OffTarget => "off the target",
    }
}

/// How many are off the target among the takes that an earlier reason names; `too`: beside some that
/// are nothing else.
pub fn off_target_above(above: u64, too: bool) -> String {
    let and = if too { ", and " } else { "" };
    format!("{and}{above} of the takes above{}", if too { " too" } else { "" })
}

/// How many more there are of one reason.
pub fn more(more: u64) -> String {
    format!("and {more} more")
}

/// Of the upper octave alone.
pub const PEEP: &str = "a peep, without the low octave";

/// How often octaves take turns.
pub fn turns(per_s: f64) -> String {
    format!("{} times a second", number(per_s, 1))
}

/// How late the low octave comes.
pub fn late(delay_s: f64) -> String {
    format!("{} late", seconds(delay_s))
}

/// How deep the rattle is, 0 to 1.
pub fn deep(depth: f64) -> String {
    format!("{} deep", percent(depth))
}
