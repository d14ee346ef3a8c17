//! `reedcrow compare`: crows before and after.

mod logged;

use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};

use super::expectations::{self, Expectations};
use super::files::{Files, Kind};
use super::log_file::LogFile;
use super::output;
use super::recording::analyse;
use crate::batch::shown;
use crate::comparison::compare;
use crate::log::Card;
use crate::pitch::A4;
use crate::profile::{Blowing, Profile};
use crate::reading::{self, Reading};
use crate::report::comparison;
use crate::report::plots::{PictureFormat, PictureSide, comparison_picture};
use crate::take::{self, Channel, TakeError};
use crate::words::comparison as words;
use crate::words::system::refusal;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recording, or folder of recordings, from before the cut (or of the other reed); or a logged
    /// reed after a step: LABEL@2, as it came: LABEL@0, as it is: LABEL@
    #[arg(required_unless_present = "reed")]
    before: Option<PathBuf>,
    /// The same from after it
    #[arg(required_unless_present = "reed")]
    after: Option<PathBuf>,
    /// Compare two steps of this logged reed; without --steps the last two that were crowed
    #[arg(long, value_name = "LABEL", conflicts_with_all = ["before", "after"])]
    reed: Option<String>,
    /// Which two: 0 is the reed as it came
    #[arg(long, num_args = 2, value_names = ["BEFORE", "AFTER"], requires = "reed")]
    steps: Option<Vec<u32>>,
    #[command(flatten)]
    log: LogFile,
    /// Print one line of JSON
    #[arg(long)]
    json: bool,
    /// Write a picture of both sides over each other; the ending says which kind
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    #[command(flatten)]
    expectations: Expectations,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let format = args.plot.as_deref().map(PictureFormat::from_path).transpose()?;
    let mut files = Files::default();
    [&args.before, &args.after].into_iter().flatten().for_each(|path| files.reads(path));
    files.reads(Path::new(&args.expectations.profile));
    let picture = match (&args.plot, format) {
        (Some(path), Some(format)) => Some((files.writes(path, Kind::Picture(format))?, format)),
        _ => None,
    };
    let (before, after) = sides(&args)?;
    // A logged reed is held to what its card says.
    let (mut profile, a4) = match (before.card(), after.card()) {
        (Some(card), _) | (None, Some(card)) => expectations::of_card(card)?,
        (None, None) => (args.expectations.profile()?, args.expectations.a4),
    };
    profile.blowing = before.blowing().or(after.blowing());
    let how = How {
        channel: args.channel.unwrap_or_default(),
        profile: &profile,
        a4,
        with_picture: picture.is_some(),
    };
    let before = how.heard(before)?;
    let after = how.heard(after)?;
    let found = compare(&before.readings, &after.readings, &profile);
    if args.json {
        output::print(&(comparison::line(&found) + "\n"))?;
    } else {
        let names = [before.name.as_deref(), after.name.as_deref()];
        output::told(&comparison::text(&found, names, &profile, &output::style()))?;
    }
    if let Some((path, format)) = &picture {
        let (before, after) = (&before.picture, &after.picture);
        let bytes = comparison_picture(before, after, &found, &profile, a4, *format)
            .with_context(|| path.display().to_string())?;
        output::save(path, &bytes)?;
    }
    let is_whole = !before.any_passed_over && !after.any_passed_over;
    Ok(if is_whole { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// What is compared.
enum Side {
    Recordings(PathBuf),
    Logged(Box<logged::Stage>),
}

impl Side {
    fn named(place: &Path, log: &LogFile) -> anyhow::Result<Self> {
        Ok(match logged::Stage::named(place, log)? {
            Some(stage) => Self::Logged(Box::new(stage)),
            None => Self::Recordings(place.to_owned()),
        })
    }

    fn card(&self) -> Option<&Card> {
        match self {
            Self::Recordings(_) => None,
            Self::Logged(stage) => Some(&stage.card),
        }
    }

    fn blowing(&self) -> Option<Blowing> {
        match self {
            Self::Recordings(_) => None,
            Self::Logged(stage) => stage.blowing,
        }
    }
}

fn sides(args: &Args) -> anyhow::Result<(Side, Side)> {
    match (&args.reed, &args.before, &args.after) {
        (Some(label), ..) => {
            let (before, after) = logged::pair(label, args.steps.as_deref(), &args.log)?;
            Ok((Side::Logged(Box::new(before)), Side::Logged(Box::new(after))))
        }
        (None, Some(before), Some(after)) => {
            Ok((Side::named(before, &args.log)?, Side::named(after, &args.log)?))
        }
        _ => bail!(words::NAME_BOTH),
    }
}

/// How recordings are read.
struct How<'a> {
    channel: Channel,
    profile: &'a Profile,
    a4: A4,
    with_picture: bool,
}

/// One side.
struct Heard {
    /// What it is called, where not by its recordings.
    name: Option<String>,
    readings: Vec<Reading>,
    picture: PictureSide,
    /// Whether a recording in its folder could not be read.
    any_passed_over: bool,
}

impl How<'_> {
    /// What a side says.
    fn heard(&self, side: Side) -> anyhow::Result<Heard> {
        let stage = match side {
            Side::Recordings(place) => return self.recordings(&place),
            Side::Logged(stage) => stage,
        };
        let mut picture = PictureSide::new(&stage.label);
        if self.with_picture {
            for file in &stage.recordings {
                let context = || file.display().to_string();
                let take = take::read(file, Channel::default()).with_context(context)?;
                picture.add(&take, &reading::read(&take, self.profile, self.a4));
            }
        }
        let (name, readings) = (Some(stage.label), stage.readings);
        Ok(Heard { name, readings, picture, any_passed_over: false })
    }

    /// The readings of a recording, or of all recordings in a folder, by name.
    ///
    /// Errors: nothing to read. In a folder, what is not a recording is counted and passed over, and a
    /// recording that cannot be read is named.
    fn recordings(&self, place: &Path) -> anyhow::Result<Heard> {
        let label = place.file_name().unwrap_or(place.as_os_str()).to_string_lossy();
        let picture = PictureSide::new(&label);
        let mut side = Heard { name: None, readings: Vec::new(), picture, any_passed_over: false };
        if !place.is_dir() {
            self.add(place, &mut side)?;
            return Ok(side);
        }
        let folder = || place.display().to_string();
        let mut files = Vec::new();
        let refused = |error: io::Error| anyhow!("{}: {}", shown(place), refusal(&error));
        for entry in std::fs::read_dir(place).map_err(refused)? {
            let path = entry.map_err(refused)?.path();
            let hidden =
                path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
            if path.is_file() && !hidden {
                files.push(path);
            }
        }
        files.sort();
        let mut no_recordings = 0;
        for file in &files {
            match self.add(file, &mut side) {
                Ok(()) => {}
                Err(error) if is_no_recording(&error) => no_recordings += 1,
                Err(error) => {
                    output::complain(&words::passed_over(&format!("{error:#}")));
                    side.any_passed_over = true;
                }
            }
        }
        if no_recordings > 0 && !side.readings.is_empty() {
            output::complain(&format!("{}: {}", folder(), words::skipped(no_recordings)));
        }
        if side.readings.is_empty() {
            bail!("{}: {}", folder(), words::NOTHING_IN_IT);
        }
        Ok(side)
    }

    /// Reads one recording: as a stream, unless a picture needs its samples.
    fn add(&self, file: &Path, side: &mut Heard) -> anyhow::Result<()> {
        let context = || file.display().to_string();
        if !self.with_picture {
            side.readings.push(analyse(file, self.channel, self.profile, self.a4)?.reading);
            return Ok(());
        }
        let take = take::read(file, self.channel).with_context(context)?;
        let analysis = reading::read(&take, self.profile, self.a4);
        side.picture.add(&take, &analysis);
        side.readings.push(analysis.reading);
        Ok(())
    }
}

/// Whether a file is none, as notes and pictures beside recordings are; by its content.
fn is_no_recording(error: &anyhow::Error) -> bool {
    matches!(error.downcast_ref(), Some(TakeError::NotRecording))
}
