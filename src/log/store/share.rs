//! A set of labelled crows, fit to be given away: sound, what was heard, what was measured, and nothing
//! that tells whose they are.

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::Connection;
use serde::{Deserialize, Serialize};

use super::Log;
use super::exported::PassedOver;
use super::reeds::{history, kept_again};
use super::rows::REED;
use crate::files;
use crate::log::heard::HeardAs;
use crate::log::history::{History, LoggedReed};
use crate::log::{Damage, LogError, Refused, Tried};
use crate::profile::{BUILT_IN, Profile};
use crate::reading::{Crow, Reading};
use crate::reed::{Inspection, Sizes};
use crate::take::wav::{self, SampleFormat};
use crate::take::{self, Channel};

/// One crow as it is given away.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct SharedCrow {
    /// Its sound: a WAV file beside the list.
    pub file: String,
    /// A number that crows of one reed share; it says nothing else of the reed.
    pub reed: usize,
    /// How many cuts had been made.
    pub after_cuts: u32,
    /// The kind of reed, where it is one of the built-in profiles.
    pub profile: Option<String>,
    /// The pitch of A4 it was held to, in hertz.
    pub a4_hz: f64,
    /// What the maker heard, where it was said.
    pub heard: Option<HeardAs>,
    /// What the program read: kind and figures, without times of the recording.
    pub reading: Crow,
    /// What the reed measured then, in millimetres.
    pub measured: Sizes,
    /// What was seen on it then.
    pub seen: Inspection,
}

/// What was given away.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Shared {
    /// Crows in it.
    pub crows: usize,
    /// Reeds they are of.
    pub reeds: usize,
    /// Takes whose recording could not be read.
    pub failed: usize,
    /// Reeds that could not be read.
    pub passed_over: Vec<PassedOver>,
}

/// Sound kept before and after a crow, in seconds: its entry, and no words spoken beside it.
const AROUND_S: f64 = 0.05;

/// What stands in a set beside the crows.
#[derive(Debug, Clone, Copy)]
pub struct SharedAs<'a> {
    /// The licence, as it is to stand in the set.
    pub licence: &'a str,
    /// What the set is and how to read it.
    pub about: &'a str,
}

impl Log {
    /// Writes the crows of the reeds that `wanted` picks to a folder that is not there yet; it appears whole or not at all.
    ///
    /// Each crow is cut out of its take and written anew, so that neither what was said before it nor
    /// what a phone wrote into the file goes along. Names, notes, dates, places and labels are not in
    /// the set; reeds and crows stand in an order that tells nothing of when they were made.
    ///
    ///
    /// Errors: a folder that is there already, or that cannot be written.
    pub fn share(
        &self,
        wanted: impl Fn(&LoggedReed) -> bool,
        how: SharedAs<'_>,
        to: &Path,
    ) -> Result<Shared, LogError> {
        if to.symlink_metadata().is_ok() {
            return Err(Refused::FolderExists(to).into());
        }
        let failed = || LogError::file(to, Tried::Written);
        let unfinished = tempfile::Builder::new()
            .prefix(files::UNFINISHED)
            .tempdir_in(files::folder_of(to))
            .map_err(failed())?;
        let heard = self.all_heard()?;
        let mut lines = Vec::new();
        let view = self.connection.unchecked_transaction()?;
        let (reeds, passed_over) = without_order(&view, wanted)?;
        let mut shared = Shared { passed_over, ..Shared::default() };
        for (reed, id) in (1..).zip(reeds) {
            let history = history(&view, &kept_again(&view, id)?)?;
            let before = shared.crows;
            for take in &history.takes {
                let Some(logged) = &take.reading else { continue };
                let (number, reading) = (take.take.number, &logged.reading);
                let path = self.audio_path(&take.take.sha256);
                let channel = Channel::Number(reading.channel);
                let Ok(sound) = take::read(&path, channel) else {
                    shared.failed += 1;
                    continue;
                };
                for (nth, crow) in (1..).zip(&reading.crows) {
                    let Some(piece) = cut_out(&sound.samples, sound.sample_rate_hz, crow) else {
                        continue;
                    };
                    let said = heard.iter().rfind(|one| {
                        one.label == history.reed.card.label
                            && one.take == number
                            && one.said.crow == nth
                    });
                    shared.crows += 1;
                    let file = format!("crow-{:05}.wav", shared.crows);
                    let to = unfinished.path().join(&file);
                    wav::write(&to, piece, sound.sample_rate_hz, 1, SampleFormat::I24)
                        .map_err(|error| LogError::Invalid(format!("{}: {error}", to.display())))?;
                    let stage = take.take.after_step;
                    let line = line(&history, stage, reading, crow, reed);
                    lines.push(SharedCrow { file, heard: said.map(|one| one.said.heard), ..line });
                }
            }
            shared.reeds += usize::from(shared.crows > before);
        }
        let mut text = String::new();
        for line in &lines {
            let json = serde_json::to_string(line)
                .map_err(|error| LogError::Damaged(Damage::Says(error.to_string())))?;
            text += &(json + "\n");
        }
        files::write_whole(&unfinished.path().join("crows.jsonl"), text.as_bytes())
            .map_err(failed())?;
        files::write_whole(&unfinished.path().join("LICENCE.txt"), how.licence.as_bytes())
            .map_err(failed())?;
        files::write_whole(&unfinished.path().join("README.md"), how.about.as_bytes())
            .map_err(failed())?;
        without_dates(unfinished.path()).map_err(failed())?;
        files::rename_synced(unfinished.path(), to).map_err(failed())?;
        Ok(shared)
    }
}

/// The keys of the reeds that `wanted` picks, by the hash of their first recording: an order without dates;
/// and those that cannot be read.
fn without_order(
    view: &Connection,
    wanted: impl Fn(&LoggedReed) -> bool,
) -> Result<(Vec<i64>, Vec<PassedOver>), LogError> {
    let (mut reeds, mut passed_over) = (Vec::new(), Vec::new());
    for (id, label) in REED.keys(view)? {
        let read = || {
            let kept = kept_again(view, id)?;
            Ok(if kept.gone { None } else { Some(history(view, &kept)?) })
        };
        match read() {
            Ok(Some(history)) if wanted(&history.reed) => {
                let first = history.takes.into_iter().map(|take| take.take.sha256).min();
                reeds.push((first, id));
            }
            Ok(_) => {}
            Err(error) => passed_over.push(PassedOver::new(label, error)?),
        }
    }
    reeds.sort();
    Ok((reeds.into_iter().map(|(_, id)| id).collect(), passed_over))
}

fn cut_out<'a>(sound: &'a [f32], rate: u32, crow: &Crow) -> Option<&'a [f32]> {
    let at = |seconds: f64| (seconds.max(0.0) * f64::from(rate)).round() as usize;
    let from = at(crow.start_s - AROUND_S);
    let to = at(crow.end_s + AROUND_S).min(sound.len());
    sound.get(from..to).filter(|piece| !piece.is_empty())
}

fn line(history: &History, stage: u32, reading: &Reading, crow: &Crow, reed: usize) -> SharedCrow {
    let length = crow.end_s - crow.start_s;
    // A profile of the maker's own may be called by a name.
    let built_in: BTreeSet<&str> = BUILT_IN.iter().map(|one| one.name).collect();
    let name =
        if reading.profile.is_empty() { Profile::default().name } else { reading.profile.clone() };
    let upto = |after: &u32| *after <= stage;
    let measured = history.measured().into_iter().filter(|one| upto(&one.after_step));
    let seen = history.seen().into_iter().filter(|one| upto(&one.after_step));
    SharedCrow {
        file: String::new(),
        reed,
        after_cuts: stage,
        profile: built_in.contains(name.as_str()).then_some(name),
        a4_hz: reading.a4_hz,
        heard: None,
        // Times count from the beginning of its own file.
        reading: Crow {
            start_s: AROUND_S.min(crow.start_s),
            end_s: AROUND_S.min(crow.start_s) + length,
            ..crow.clone()
        },
        measured: measured.fold(Sizes::default(), |earlier, later| later.now.over(earlier)),
        seen: seen.fold(Inspection::default(), |earlier, later| later.now.over(earlier)),
    }
}

/// Sets the dates of all files to one day that means nothing: 1 January 1980, the first that every
/// archive can hold.
fn without_dates(folder: &Path) -> std::io::Result<()> {
    let day = std::time::UNIX_EPOCH + std::time::Duration::from_secs(315_532_800);
    for entry in std::fs::read_dir(folder)? {
        let file = std::fs::File::options().write(true).open(entry?.path())?;
        file.set_modified(day)?;
        file.sync_all()?;
    }
    Ok(())
}
