//! `reedcrow listen`: hands free, because the maker holds knife and reed.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command's output")]

mod foot;
mod live_line;
mod take_desk;

use std::collections::VecDeque;
use std::io;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, anyhow, bail};

use super::expectations::{self, Expectations};
use super::log_file::LogFile;
use super::measured::{Measured, Unit};
use super::output;
use crate::bench::{Desk, Lines, Paper, Then, Typed};
use crate::capture::{
    self, Input, Microphone, Session, SessionSettings, TakeFile, default_input, find_input,
};
use crate::log::Card;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::Reader;
use crate::take::{Channel, TakeError};
use crate::words::{errors, prompt as words};
use live_line::LiveLine;
use take_desk::TakeDesk;

/// How often the microphone is read: soon enough for a live line, seldom enough to cost nothing.
const READ_EVERY: Duration = Duration::from_millis(20);

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The microphone: its name in `reedcrow devices`, or a part of it; else the default
    #[arg(long, value_name = "NAME")]
    device: Option<String>,
    /// Keep each take as a WAV in this folder
    #[arg(long, value_name = "FOLDER")]
    save: Option<PathBuf>,
    /// Stop after this many seconds; else Ctrl-C stops
    #[arg(long, value_name = "N", value_parser = positive)]
    seconds: Option<f64>,
    /// Seconds of silence that end a take
    #[arg(long, value_name = "S", default_value_t = 4.0, value_parser = positive)]
    pause: f64,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    /// One line of JSON per take on standard output, all else on standard error
    #[arg(long)]
    json: bool,
    /// Put each take on this logged reed's card, and read cuts as they are typed: c 0.3 is a clip
    /// of 0.3 mm, ? shows the others. The card says what the reed is held to
    #[arg(long, value_name = "LABEL")]
    reed: Option<String>,
    #[command(flatten)]
    log: LogFile,
    #[command(flatten)]
    expectations: Expectations,
    #[command(flatten)]
    measured: Measured,
    #[command(flatten)]
    unit: Unit,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let (mut profile, mut a4) = (args.expectations.profile()?, args.expectations.a4);
    let (mut on_bench, mut held_to_what) = (None, None);
    if let Some(label) = &args.reed {
        let log = args.log.open_existing()?;
        let card = log.reed(label)?.card;
        let (held_to, at) = expectations::of_card(&card)?;
        let typed = (profile.name.clone(), a4);
        let usual = (profile.clone(), a4);
        profile = if card.profile.is_some() { held_to } else { profile };
        a4 = if card.a4_hz.is_some() { at } else { a4 };
        profile.ear = log.ear(&profile.name)?;
        profile.blowing = log.blowing()?;
        let paper = Paper { style: output::style(), unit: args.unit.unit() };
        on_bench = Some(Desk::open(log, label, usual, paper)?);
        held_to_what = Some(said_of(&card, &profile, a4, typed));
    }
    let typed = on_bench.is_some().then(Lines::begin);
    let input = match &args.device {
        Some(name) => find_input(name)?,
        None => default_input()?,
    };
    let folder = args.save.clone().or_else(|| on_bench.as_ref().map(Desk::recording_folder));
    if let Some(folder) = &folder {
        // Better now than when the first crow is over.
        TakeFile::begin(folder, 48_000)?.discard();
    }
    let stop = stop_on_ctrl_c()?;
    let mut microphone = Microphone::open(&input)?;
    let format = microphone.format();
    let channel = args.channel.unwrap_or_default();
    if let Channel::Number(asked) = channel
        && asked > format.channels
    {
        let error = TakeError::NoSuchChannel { asked, channels: format.channels };
        bail!("{}: {error}", input.name);
    }
    // Without a log nothing was checked, or nothing kept.
    let known = args.log.open_existing().ok();
    let checked = known.and_then(|log| log.microphone(&input.name).ok().flatten());
    let settings = SessionSettings {
        source: source_of(&input),
        pause_s: args.pause,
        channel,
        microphone: checked,
    };
    let mut session = Session::new(format, settings.clone(), &profile, a4);
    let mut line = LiveLine::new(&profile, a4, output::style());
    let mut desk = TakeDesk::new(
        &args.measured,
        (args.save.clone(), args.json),
        profile,
        a4,
        on_bench,
        format.sample_rate_hz,
    )?;

    output::tell(&words::listening_to(&input.name, format.sample_rate_hz));
    if let Some(held) = held_to_what {
        output::tell(&held);
    }
    output::tell(words::CROW_WHEN_READY);
    if typed.is_some() {
        output::tell(words::TYPE_WHAT_YOU_DID);
    }
    warn_of_unfinished(folder.as_deref());
    if typed.is_some() {
        line = line.above_typing();
    }

    let channels = usize::from(format.channels);
    let mut frames_left =
        args.seconds.map(|seconds| (seconds * f64::from(format.sample_rate_hz)).round() as usize);
    let mut samples = Vec::new();
    let mut orders = VecDeque::new();
    let mut lost_frames = 0;
    let mut is_paused = false;
    let ended: anyhow::Result<()> = loop {
        samples.clear();
        // Asked before reading, so that all that sounded before a cut or Ctrl-C is read before it.
        let is_stopped = stop.load(Ordering::Acquire);
        orders.extend(typed.iter().flat_map(|lines| std::iter::from_fn(|| lines.next())));
        let piece = match microphone.read(&mut samples) {
            Ok(piece) => piece,
            Err(error) => {
                break Err(anyhow!(words::lost(&error.to_string(), folder.is_some())));
            }
        };
        if let Some(left) = &mut frames_left {
            samples.truncate(left.saturating_mul(channels));
            *left -= samples.len() / channels;
        }
        lost_frames += piece.lost_frames;
        // What comes in a pause is forgotten.
        let events = match is_paused {
            true => Vec::new(),
            false => session.push(&samples, piece.lost_frames),
        };
        if let Err(error) = desk.handle(events, &mut line) {
            break Err(error.into());
        }
        match obey(&mut orders, &mut session, &mut desk, &mut line) {
            Ok(Then::End) => break Ok(()),
            Ok(Then::Pause) => is_paused = !is_paused,
            Ok(Then::Resume) => is_paused = false,
            Ok(Then::NewReed) => {
                let told = desk.handle(session.finish(), &mut line);
                let (profile, a4) = desk.held_to();
                session = Session::new(format, settings.clone(), profile, a4);
                if let Err(error) = told {
                    break Err(error.into());
                }
            }
            Ok(Then::Sound(sound)) => {
                // The microphone hears it too: that is not a crow.
                if let Err(why) = capture::play(|rate_hz| sound.samples_at(rate_hz)) {
                    line.complain(&why.to_string());
                }
                samples.clear();
                let _ = microphone.read(&mut samples);
            }
            Ok(Then::GoOn) => {}
            Err(error) => break Err(error.into()),
        }
        match is_paused {
            true => line.draw_paused(),
            false => line.draw(&session.listening()),
        }
        if frames_left == Some(0) || is_stopped {
            break Ok(());
        }
        std::thread::sleep(READ_EVERY);
    };
    drop(microphone);
    let was_silent = session.was_silent();
    // Whatever ended it, what was recorded is kept and read.
    let mut told = desk.handle(session.finish(), &mut line);
    // A cut that still waited for a sound to end.
    for typed in orders {
        if let Typed::Line(text) = typed {
            told = told.and(desk.obey(&text, &mut line).map(drop));
        }
    }
    line.end();
    let all_kept = desk.close(lost_frames, was_silent, &mut line);
    ended?;
    told?;
    Ok(if all_kept { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Does what was typed, until something else is to be done for it. What was crowed before a cut goes to
/// the card before the cut, which therefore waits until nothing sounds.
fn obey(
    orders: &mut VecDeque<Typed>,
    session: &mut Session<Reader>,
    desk: &mut TakeDesk,
    line: &mut LiveLine,
) -> io::Result<Then> {
    while let Some(typed) = orders.front() {
        let Typed::Line(text) = typed else { return Ok(Then::End) };
        if Desk::changes_the_reed(text) {
            let listening = session.listening();
            if listening.take.is_some() && listening.closes_in_s.is_none() {
                return Ok(Then::GoOn);
            }
            desk.handle(session.close_take(), line)?;
        }
        line.typed();
        let then = desk.obey(text, line)?;
        orders.pop_front();
        if !matches!(then, Then::GoOn) {
            return Ok(then);
        }
    }
    Ok(Then::GoOn)
}

/// What a take of a microphone is called, as it stands over its card: `default` alone says nothing.
fn source_of(input: &Input) -> String {
    match input.description == input.name {
        true => format!("microphone: {}", input.name),
        false => format!("microphone: {} ({})", input.name, input.description),
    }
}

/// What a reed is held to, and who says so.
///
/// * `typed`: profile and A4 of the command line, which hold where the card has none.
fn said_of(card: &Card, profile: &Profile, a4: A4, typed: (String, A4)) -> String {
    let held = words::held_to(&card.label, &profile.name, a4);
    let usual = (Profile::default().name, A4::default());
    let overruled = [
        (profile.name != typed.0 && typed.0 != usual.0).then_some("--profile"),
        (a4 != typed.1 && typed.1 != usual.1).then_some("--a4"),
    ];
    let overruled: Vec<&str> = overruled.into_iter().flatten().collect();
    words::by_its_card(card, &held, &overruled)
}

/// Set once Ctrl-C is typed or the program is asked to end.
fn stop_on_ctrl_c() -> anyhow::Result<Arc<AtomicBool>> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = stop.clone();
    ctrlc::set_handler(move || flag.store(true, Ordering::Release)).context(errors::NO_CTRL_C)?;
    Ok(stop)
}

fn warn_of_unfinished(folder: Option<&std::path::Path>) {
    for path in folder.map(TakeFile::left_unfinished).unwrap_or_default() {
        output::tell(&words::unfinished(&path.display().to_string()));
    }
}

pub(super) fn positive(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(number) if f64::is_finite(number) && number > 0.0 => Ok(number),
        _ => Err(errors::NO_SECONDS.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_says_what_a_reed_is_held_to_is_told() {
        let a4 = A4::default();
        let profile = Profile { name: "english-horn".into(), ..Profile::default() };
        let card = Card { profile: Some("english-horn".into()), ..Card::new("R") };
        let said = |card: &Card, typed: &str| said_of(card, &profile, a4, (typed.into(), a4));
        assert_eq!(
            said(&card, "american-oboe"),
            "R is read as english-horn, A4 = 440 Hz, by its card."
        );
        assert!(said(&card, "bassoon").contains("--profile"));
        let none = said(&Card::new("R"), "english-horn");
        assert_eq!(none, "R is read as english-horn, A4 = 440 Hz.");
    }
}
