//! `reedcrow analyse`: recordings in, one reading each out, with the next move.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;

use super::cautions::Cautions;
use super::expectations::Expectations;
use super::files::{Files, Kind};
use super::measured::Measured;
use super::output;
use super::picture::PicturePath;
use super::recording::analyse_open;
use crate::advice::advise;
use crate::comparison::Effects;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{self, Analysis};
use crate::reed::{Inspection, Measurements};
use crate::report::json;
use crate::report::plots::{PictureFormat, crow_shown, take_picture};
use crate::report::terminal::{self, Style};
use crate::take::{self, Channel};
use crate::words::pictures as words;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recordings to read; - is one on standard input, in any format that is read
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Print one line of JSON per recording ('reedcrow schema' describes it)
    #[arg(long)]
    json: bool,
    /// Write a picture of each take, as SVG or PNG by its ending
    ///
    /// Of several recordings each one's picture has the recording's name before the ending.
    #[arg(long, value_name = "OUT.svg|OUT.png", value_parser = PicturePath::parse)]
    plot: Option<PicturePath>,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    #[command(flatten)]
    expectations: Expectations,
    #[command(flatten)]
    measured: Measured,
}

/// What was typed, as what it means.
struct Question {
    channel: Channel,
    a4: A4,
    profile: Profile,
    measurements: Measurements,
    inspection: Inspection,
    json: bool,
    style: Style,
}

/// A picture to be made.
struct Picture {
    /// As it was typed.
    path: PathBuf,
    /// Where it is written.
    place: PathBuf,
    format: PictureFormat,
}

/// Runs it. The exit code is 1 when any of the recordings could not be read or drawn.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let question = Question {
        channel: args.channel.unwrap_or_default(),
        a4: args.expectations.a4,
        profile: args.expectations.profile()?,
        measurements: args.measured.measurements()?,
        inspection: args.measured.inspection(),
        json: args.json,
        style: output::style(),
    };
    args.measured.query(&question.profile)?;
    let mut files = Files::default();
    args.files.iter().for_each(|file| files.reads(file));
    files.reads(Path::new(&args.expectations.profile));
    let mut pictures = Vec::new();
    if let Some(plot) = &args.plot {
        for path in plot.for_each(&args.files) {
            let place = files.writes(&path, Kind::Picture(plot.format()))?;
            pictures.push(Picture { path, place, format: plot.format() });
        }
    }
    let mut pictures = pictures.into_iter();
    let mut all_read = true;
    let mut cautions = Cautions::of(args.files.len());
    for (index, file) in args.files.iter().enumerate() {
        if index > 0 && !args.json {
            output::print("\n")?;
        }
        if let Err(error) = question.answer(file, pictures.next(), &mut cautions) {
            // Nobody reads the others either.
            if output::is_closed(&error) || output::unprinted(&error).is_some() {
                return Err(error);
            }
            output::complain(&format!("{error:#}"));
            all_read = false;
        }
    }
    if !args.json {
        output::print(&cautions.at_the_end(&question.style))?;
    }
    Ok(if all_read { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

impl Question {
    /// Reads one recording, prints what it says, and draws it.
    fn answer(
        &self,
        file: &Path,
        picture: Option<Picture>,
        cautions: &mut Cautions,
    ) -> anyhow::Result<()> {
        let name = || file.display().to_string();
        let recording = take::open(file, self.channel).with_context(name)?;
        let Some(picture) = picture else {
            let analysis =
                analyse_open(file, recording, &self.profile, self.a4).with_context(name)?;
            return self.print(&analysis, cautions);
        };
        let take = recording.into_take(&file.to_string_lossy()).with_context(name)?;
        let analysis = reading::read(&take, &self.profile, self.a4);
        self.print(&analysis, cautions)?;
        let bytes = take_picture(&take, &analysis, &self.profile, self.a4, picture.format)
            .with_context(|| picture.path.display().to_string())?;
        output::save(&picture.place, &bytes)?;
        if self.json {
            return Ok(());
        }
        let shows = crow_shown(&analysis)
            .map_or_else(String::new, |which| words::pitch_and_spectrum(&which));
        let said = format!("{}{shows}", picture.path.display());
        Ok(output::print(&terminal::row("Picture", &said, &self.style))?)
    }

    fn print(&self, analysis: &Analysis, cautions: &mut Cautions) -> anyhow::Result<()> {
        let reading = &analysis.reading;
        let advice = advise(
            reading,
            &self.measurements,
            &self.inspection,
            &self.profile,
            &Effects::default(),
        );
        if self.json {
            output::print(&(json::line(reading, Some(&advice)) + "\n"))?;
        } else {
            let advice = cautions.keep(advice);
            output::told(&terminal::card(reading, Some(&advice), &self.profile, &self.style))?;
        }
        Ok(())
    }
}
