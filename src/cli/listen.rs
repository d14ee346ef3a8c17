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
    self, Input, Microphone, Session, SessionSettings, SoundFormat, TakeFile, default_input,
    find_input,
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
    let bench = OnBench::of(&args)?;
    let typed = bench.desk.is_some().then(Lines::begin);
    let input = match &args.device {
        Some(name) => find_input(name)?,
        None => default_input()?,
    };
    let folder = args.save.clone().or_else(|| bench.desk.as_ref().map(Desk::recording_folder));
    if let Some(folder) = &folder {
        // Better now than when the first crow is over.
        TakeFile::begin(folder, 48_000)?.discard();
    }
    let stop = stop_on_ctrl_c()?;
    let microphone = Microphone::open(&input)?;
    let format = microphone.format();
    let settings = settings(&args, &input, format)?;
    let OnBench { profile, a4, desk, said } = bench;
    let session = Session::new(format, settings.clone(), &profile, a4);
    let mut line = LiveLine::new(&profile, a4, output::style());
    args.measured.query(&profile)?;
    let save = (args.save.clone(), args.json);
    let desk = TakeDesk::new(&args.measured, save, profile, a4, desk, format.sample_rate_hz)?;

    output::tell(&words::listening_to(&input.name, format.sample_rate_hz));
    if let Some(said) = said {
        output::tell(&said);
    }
    output::tell(words::CROW_WHEN_READY);
    if typed.is_some() {
        output::tell(words::TYPE_WHAT_YOU_DID);
    }
    warn_of_unfinished(folder.as_deref());
    if typed.is_some() {
        line = line.above_typing();
    }

    let frames = |seconds: f64| (seconds * f64::from(format.sample_rate_hz)).round() as usize;
    let mut listening = Listening {
        microphone,
        settings,
        session,
        desk,
        line,
        typed,
        orders: VecDeque::new(),
        samples: Vec::new(),
        frames_left: args.seconds.map(frames),
        lost_frames: 0,
        is_paused: false,
        is_kept: folder.is_some(),
    };
    let ended = listening.until_ended(&stop);
    listening.close(ended)
}

/// What is on the bench: what it is held to, and the card that its takes go to, if any.
struct OnBench {
    profile: Profile,
    a4: A4,
    desk: Option<Desk>,
    /// What it is held to in words, where a card says so.
    said: Option<String>,
}

impl OnBench {
    fn of(args: &Args) -> anyhow::Result<Self> {
        let (profile, a4) = (args.expectations.profile()?, args.expectations.a4);
        let Some(label) = &args.reed else {
            return Ok(Self { profile, a4, desk: None, said: None });
        };
        let log = args.log.open_existing()?;
        let card = log.reed(label)?.card;
        let (by_card, a4_by_card) = expectations::of_card(&card)?;
        let typed = (profile.name.clone(), a4);
        let usual = (profile.clone(), a4);
        let mut profile = if card.profile.is_some() { by_card } else { profile };
        let a4 = if card.a4_hz.is_some() { a4_by_card } else { a4 };
        profile.ear = log.ear(&profile.name)?;
        profile.blowing = log.blowing()?;
        let paper = Paper { style: output::style(), unit: args.unit.unit() };
        let desk = Desk::open(log, label, usual, paper)?;
        let said = said_of(&card, &profile, a4, typed);
        Ok(Self { profile, a4, desk: Some(desk), said: Some(said) })
    }
}

/// How takes are made of what the microphone gives.
///
/// Errors: a channel that it does not have.
fn settings(args: &Args, input: &Input, format: SoundFormat) -> anyhow::Result<SessionSettings> {
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
    Ok(SessionSettings {
        source: source_of(input),
        pause_s: args.pause,
        channel,
        microphone: checked,
    })
}

/// The program while it listens.
struct Listening {
    microphone: Microphone,
    settings: SessionSettings,
    session: Session<Reader>,
    desk: TakeDesk,
    line: LiveLine,
    /// Where commands are typed, on a reed's card.
    typed: Option<Lines>,
    /// What was typed and is not done yet.
    orders: VecDeque<Typed>,
    /// What the microphone gave last, interleaved.
    samples: Vec<f32>,
    /// How long it goes on, where that was asked for.
    frames_left: Option<usize>,
    lost_frames: u64,
    is_paused: bool,
    /// Whether takes are kept on disk.
    is_kept: bool,
}

impl Listening {
    /// Listens until something ends it.
    ///
    /// Errors: the microphone went away, or nobody reads standard output any more.
    fn until_ended(&mut self, stop: &AtomicBool) -> anyhow::Result<()> {
        loop {
            // Asked before reading, so that all that sounded before a cut or Ctrl-C is read before it.
            let is_stopped = stop.load(Ordering::Acquire);
            let typed = self.typed.iter().flat_map(|lines| std::iter::from_fn(|| lines.next()));
            self.orders.extend(typed);
            self.hear()?;
            let then = self.obey()?;
            if matches!(then, Then::End) {
                return Ok(());
            }
            self.follow(then)?;
            match self.is_paused {
                true => self.line.draw_paused(),
                false => self.line.draw(|| self.session.listening_to_octaves()),
            }
            if self.frames_left == Some(0) || is_stopped {
                return Ok(());
            }
            std::thread::sleep(READ_EVERY);
        }
    }

    /// Reads what the microphone gave since.
    fn hear(&mut self) -> anyhow::Result<()> {
        self.samples.clear();
        let read = self.microphone.read(&mut self.samples);
        let piece = read.map_err(|error| anyhow!(words::lost(&error.to_string(), self.is_kept)))?;
        let channels = usize::from(self.microphone.format().channels);
        if let Some(left) = &mut self.frames_left {
            self.samples.truncate(left.saturating_mul(channels));
            *left -= self.samples.len() / channels;
        }
        self.lost_frames += piece.lost_frames;
        // What comes in a pause is forgotten.
        let events = match self.is_paused {
            true => Vec::new(),
            false => self.session.push(&self.samples, piece.lost_frames),
        };
        Ok(self.desk.handle(events, &mut self.line)?)
    }

    /// Does what was typed, until something else is to be done for it. What was crowed before a cut goes to
    /// the card before the cut, which therefore waits until nothing sounds.
    fn obey(&mut self) -> io::Result<Then> {
        while let Some(typed) = self.orders.front() {
            let Typed::Line(text) = typed else { return Ok(Then::End) };
            if Desk::changes_the_reed(text) {
                let listening = self.session.listening();
                if listening.take.is_some() && listening.closes_in_s.is_none() {
                    return Ok(Then::GoOn);
                }
                self.desk.handle(self.session.close_take(), &mut self.line)?;
            }
            self.line.typed();
            let then = self.desk.obey(text, &mut self.line)?;
            self.orders.pop_front();
            if !matches!(then, Then::GoOn) {
                return Ok(then);
            }
        }
        Ok(Then::GoOn)
    }

    /// Does what else was asked for.
    fn follow(&mut self, then: Then) -> io::Result<()> {
        match then {
            Then::Pause => self.is_paused = !self.is_paused,
            Then::Resume => self.is_paused = false,
            Then::NewReed => {
                let (profile, a4) = self.desk.held_to();
                let format = self.microphone.format();
                let next = Session::new(format, self.settings.clone(), profile, a4);
                let before = std::mem::replace(&mut self.session, next);
                self.desk.handle(before.finish(), &mut self.line)?;
            }
            Then::Sound(sound) => {
                // The microphone hears it too: that is not a crow.
                if let Err(why) = capture::play(|rate_hz| sound.samples_at(rate_hz)) {
                    self.line.complain(&why.to_string());
                }
                self.samples.clear();
                let _ = self.microphone.read(&mut self.samples);
            }
            Then::GoOn | Then::End => {}
        }
        Ok(())
    }

    /// Whatever ended it, what was recorded is kept and read.
    fn close(self, ended: anyhow::Result<()>) -> anyhow::Result<ExitCode> {
        let Self { microphone, session, mut desk, mut line, orders, lost_frames, .. } = self;
        drop(microphone);
        let was_silent = session.was_silent();
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
        let told = [
            said(&card, "american-oboe"),
            said(&card, "bassoon"),
            said(&Card::new("R"), "english-horn"),
        ];
        assert!(told[1].contains("--profile"));
        crate::golden::held("../../src/goldens", "held-to", &told.join("\n"));
    }
}
