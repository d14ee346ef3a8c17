//! The page's engine: one thread that hears the microphone (or a practice take), reads crows as
//! `listen` does, keeps them on the card of the reed on the bench, and does what is said. What there is
//! to show leaves as [`Live`] some ten times a second and as [`State`] whenever it changes.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tokio::sync::{oneshot, watch};

use super::checking::Checking;
use super::grammar::{self, Entry};
use super::keeper::{Heard, Keeper};
use super::listening::{Frame, Hears, Source, SourceError};
use super::reeds::{add_like, held_to, next_label, open_label};
use super::state::{Change, Check, HeardNow, Live, OnBench, OpenReed, PitchPoint, State, TRACK_S};
use crate::advice::{Advice, Where, advise};
use crate::capture::{FinishedTake, Session, SessionSettings};
use crate::comparison::{Effects, compare};
use crate::log::{Card, Known, Log, NewTake, Step, Which, effects, latest_pair};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Reader, Reading, SCHEMA, summarise};
use crate::reed::{Cut, Inspection, Measurements};
use crate::report::comparison::sentence;
use crate::report::format::LengthUnit;
use crate::take::{Channel, TakeError};
use crate::units::Hertz;
use crate::words::{bench as words, ear, keeping};

/// How often the microphone is read.
const READ_EVERY: Duration = Duration::from_millis(20);
/// How often the live view is told anew: the eye follows no faster.
const TELL_EVERY: Duration = Duration::from_millis(90);
/// How often another program's changes to the log are looked for, and a lost microphone.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// A tone is shown once it was heard twice in a row, no further apart than this.
const HELD_CENTS: f64 = 60.0;
/// Orders that may wait; what comes on top is refused.
const MOST_WAITING: usize = 32;

/// What the engine is started with.
#[derive(Debug)]
pub struct Settings {
    /// The microphone; `None` for the default one.
    pub device: Option<String>,
    /// Seconds of silence that end a take.
    pub pause_s: f64,
    /// The reed to begin with; `None` for the one worked on last.
    pub reed: Option<String>,
    /// What a reed is held to where its card does not say.
    pub profile: Profile,
    /// Pitch of A4 where its card does not say.
    pub a4: A4,
}

/// What is asked of the engine.
#[derive(Debug)]
pub enum Order {
    /// A line of the grammar.
    Say(String),
    /// A recording that was dropped on the page: where it was put, and what it is called.
    Recording(PathBuf, String),
}

/// What became of it, in words.
pub type Reply = String;

/// Why an order was not even heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Busy {
    /// Too many wait already.
    Full,
    /// The engine has ended.
    Ended,
}

/// The engine, running. Dropping it ends the take that is going on and keeps it.
#[derive(Debug)]
pub struct Engine {
    orders: Option<SyncSender<Ordered>>,
    live: watch::Receiver<Live>,
    state: watch::Receiver<Arc<State>>,
    thread: Option<JoinHandle<()>>,
}

type Ordered = (Order, oneshot::Sender<Reply>);

impl Engine {
    /// Starts it on `log`.
    ///
    /// Errors: the reed named is not there or closed, or the log cannot be read.
    pub fn start(log: Log, settings: Settings) -> anyhow::Result<Self> {
        let label = match &settings.reed {
            Some(label) => Some(open_label(&log, label)?),
            None => log.last_worked_on()?,
        };
        let (live, live_seen) = watch::channel(Live::default());
        let (orders, received) = sync_channel(MOST_WAITING);
        let mut work = Work::new(log, settings, label, live)?;
        let (state, state_seen) = watch::channel(Arc::new(work.state.clone()));
        // On a thread of its own: sound streams stay where they were opened, and disks wait.
        let thread = std::thread::Builder::new()
            .name("bench".into())
            .spawn(move || work.run(&received, &state))?;
        Ok(Self { orders: Some(orders), live: live_seen, state: state_seen, thread: Some(thread) })
    }

    /// What sounds, as it changes.
    pub fn live(&self) -> watch::Receiver<Live> {
        self.live.clone()
    }

    /// Everything else there is to show, as it changes.
    pub fn state(&self) -> watch::Receiver<Arc<State>> {
        self.state.clone()
    }

    /// Asks for something; the answer comes once it is done and on the disk.
    pub fn ask(&self, order: Order) -> Result<oneshot::Receiver<Reply>, Busy> {
        let (answer, answered) = oneshot::channel();
        let orders = self.orders.as_ref().ok_or(Busy::Ended)?;
        match orders.try_send((order, answer)) {
            Ok(()) => Ok(answered),
            Err(TrySendError::Full(_)) => Err(Busy::Full),
            Err(TrySendError::Disconnected(_)) => Err(Busy::Ended),
        }
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            // A panic there has been told already.
            let _ = thread.join();
        }
    }
}

struct Work {
    log: Log,
    settings: Settings,
    label: Option<String>,
    /// What past cuts did, over all reeds; learned once, since it reads the whole log.
    effects: Option<Effects>,
    hears: Hears,
    checking: Option<Checking>,
    session: Option<Session<Reader>>,
    keeper: Keeper,
    /// Crows of the take that is going on.
    crows: Vec<Crow>,
    track: VecDeque<PitchPoint>,
    /// What seemed to sound when the live view was told last.
    last_hz: Option<f64>,
    started: Instant,
    told: Instant,
    looked: Instant,
    seen_version: i64,
    lost_frames: u64,
    live: watch::Sender<Live>,
    state: State,
    is_new: bool,
}

impl Work {
    fn new(
        log: Log,
        settings: Settings,
        label: Option<String>,
        live: watch::Sender<Live>,
    ) -> anyhow::Result<Self> {
        let now = Instant::now();
        let state = State::of(settings.profile.clone(), settings.a4);
        let mut work = Self {
            effects: None,
            seen_version: log.seen_version()?,
            log,
            settings,
            label,
            hears: Hears::default(),
            checking: None,
            session: None,
            keeper: Keeper::new(None, 48_000),
            crows: Vec::new(),
            track: VecDeque::new(),
            last_hz: None,
            started: now,
            told: now,
            looked: now,
            lost_frames: 0,
            live,
            state,
            is_new: true,
        };
        work.refresh_all()?;
        work.state.heard = work.last_take();
        Ok(work)
    }

    fn run(&mut self, orders: &Receiver<Ordered>, state: &watch::Sender<Arc<State>>) {
        let mut waiting: VecDeque<Ordered> = VecDeque::new();
        self.listen(Source::Microphone(self.settings.device.clone()));
        loop {
            loop {
                match orders.try_recv() {
                    Ok(order) => waiting.push_back(order),
                    Err(std::sync::mpsc::TryRecvError::Empty) => break,
                    Err(std::sync::mpsc::TryRecvError::Disconnected) => return self.close(),
                }
            }
            self.hear();
            let mut answers = Vec::new();
            while let Some((order, answer)) = waiting.pop_front() {
                // What was crowed before a cut goes to the card before it.
                if self.sounds() && self.must_wait(&order) {
                    waiting.push_front((order, answer));
                    break;
                }
                let reply = self.obey(order);
                self.state.say(&reply);
                self.is_new = true;
                answers.push((answer, reply));
            }
            self.look_around();
            if self.told.elapsed() >= TELL_EVERY {
                self.told = Instant::now();
                self.tell_live();
            }
            if std::mem::take(&mut self.is_new) {
                self.state.serial += 1;
                let _ = state.send(Arc::new(self.state.clone()));
            }
            // Who is answered and looks again sees what was done.
            for (answer, reply) in answers {
                let _ = answer.send(reply);
            }
            std::thread::sleep(READ_EVERY);
        }
    }

    /// Ends the take that is going on, and keeps it.
    fn close(&mut self) {
        if let Some(session) = self.session.take() {
            for event in session.finish() {
                self.handle(event);
            }
        }
        let heard = self.keeper.close();
        self.take_in(heard);
    }

    fn sounds(&self) -> bool {
        self.session.as_ref().is_some_and(|session| {
            let listening = session.listening();
            listening.take.is_some() && listening.closes_in_s.is_none()
        })
    }

    /// Whether an order makes the reed another one, or the bench another reed's.
    fn must_wait(&self, order: &Order) -> bool {
        match order {
            Order::Say(line) => match grammar::parse(line) {
                Ok(Some(Entry::Step(step))) => step.cut.is_some(),
                Ok(Some(
                    Entry::Undo
                    | Entry::Redo
                    | Entry::Reed(_)
                    | Entry::Next
                    | Entry::New(_)
                    | Entry::Like(_)
                    | Entry::Practice(_)
                    | Entry::Listen(_),
                )) => true,
                _ => false,
            },
            Order::Recording(..) => false,
        }
    }

    /// Opens what is listened to. Where that fails, the page says why and the engine tries again.
    fn listen(&mut self, source: Source) {
        self.close_session();
        self.track.clear();
        if self.checking.take().is_some() {
            self.state.check = None;
        }
        // Where it fails, the page shows why for as long as it is so.
        if let Ok(format) = self.hears.open(source) {
            let folder = self.label.is_some().then(|| self.log.recording_folder());
            self.keeper.go_on_with(folder, format.sample_rate_hz);
            let settings = SessionSettings {
                source: self.hears.name().to_owned(),
                pause_s: self.settings.pause_s,
                channel: Channel::default(),
            };
            let (profile, a4) = (&self.state.profile, self.state.a4);
            self.session = Some(Session::new(format, settings, profile, a4));
        }
        self.state.source = self.hears.told();
        self.is_new = true;
    }

    fn close_session(&mut self) {
        if let Some(session) = self.session.take() {
            for event in session.finish() {
                self.handle(event);
            }
        }
        self.crows.clear();
    }

    /// Ends the take that is going on: what is crowed from now on is of another reed, or after a cut.
    fn close_take(&mut self) {
        let events = self.session.as_mut().map(Session::close_take).unwrap_or_default();
        for event in events {
            self.handle(event);
        }
    }

    fn hear(&mut self) {
        let Some(session) = &mut self.session else { return };
        match self.hears.frame() {
            Ok(Frame { samples, lost_frames, is_over }) => {
                self.lost_frames += lost_frames;
                if let Some(checking) = &mut self.checking {
                    let check = checking.push(samples, lost_frames);
                    if matches!(check, Check::Done(_)) {
                        self.checking = None;
                    }
                    self.is_new |= self.state.check.as_ref() != Some(&check);
                    self.state.check = Some(check);
                    return;
                }
                // What comes in a pause is forgotten.
                let events = match self.state.paused {
                    true => Vec::new(),
                    false => session.push(samples, lost_frames),
                };
                for event in events {
                    self.handle(event);
                }
                if is_over {
                    self.listen(Source::Microphone(self.settings.device.clone()));
                }
            }
            Err(SourceError(why)) => {
                self.close_session();
                self.state.say(&why);
                self.state.source = self.hears.told();
                self.is_new = true;
            }
        }
    }

    /// The log may have been changed by another program; a lost microphone may have come back.
    fn look_around(&mut self) {
        if self.looked.elapsed() < LOOK_EVERY {
            return;
        }
        self.looked = Instant::now();
        let heard = self.keeper.catch_up();
        self.take_in(heard);
        if self.effects.is_none() {
            let histories = self.log.outlined(|_| true).map(|found| found.whole);
            self.effects = Some(histories.map(|whole| effects(&whole)).unwrap_or_default());
            self.refresh_said();
        }
        match self.log.seen_version() {
            Ok(version) if version != self.seen_version => {
                self.seen_version = version;
                if let Err(error) = self.refresh_all() {
                    self.state.say(&error.to_string());
                }
                self.is_new = true;
            }
            _ => {}
        }
        if self.session.is_none() && self.hears.is_lost() {
            self.listen(Source::Microphone(self.settings.device.clone()));
        }
    }

    fn handle(&mut self, event: crate::capture::Event) {
        self.keeper.goes_to(self.label.as_deref());
        let heard = self.keeper.handle(event);
        self.take_in(heard);
    }

    fn take_in(&mut self, heard: Vec<Heard>) {
        for heard in heard {
            self.is_new = true;
            match heard {
                Heard::Began => self.crows.clear(),
                Heard::Crow { crow, .. } => self.crow(*crow),
                Heard::Take { take, file } => self.end_take(*take, file),
                Heard::Dropped => self.crows.clear(),
                Heard::NotKept(error) => self.state.say(&keeping::waits_in_memory(&error)),
                Heard::Kept { mut reading, owner, file } => {
                    (reading.channels, reading.channel) = (1, 1);
                    let advice = self.advise(&reading);
                    if let Some(label) = owner {
                        self.put_on_card(&label, &file, &reading, &advice);
                    }
                }
                Heard::Lost(error) => self.state.say(&keeping::lost(&error)),
            }
        }
    }

    /// A crow has ended: pitch, kind and next move stand at once, by what is known so far.
    fn crow(&mut self, crow: Crow) {
        self.crows.push(crow);
        let reading = self.reading_so_far();
        let advice = self.advise(&reading);
        self.state.heard =
            Some(HeardNow { advice, is_over: false, take: None, at: self.state.serial, reading });
    }

    fn reading_so_far(&self) -> Reading {
        Reading {
            schema: SCHEMA,
            source: self.hears.name().to_owned(),
            sample_rate_hz: 0,
            channels: 1,
            channel: 1,
            duration_s: self.crows.last().map_or(0.0, |crow| crow.end_s),
            a4_hz: self.state.a4.hz(),
            profile: self.state.profile.name.clone(),
            summary: summarise(&self.crows, self.state.a4),
            crows: self.crows.clone(),
            others: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// Without a reed on the bench a crow is read as a recording alone is: there is no card on which
    /// an answer could be kept.
    fn advise(&self, reading: &Reading) -> Advice {
        let profile = &self.state.profile;
        let Some(known) = self.known() else {
            let effects = self.effects.clone().unwrap_or_default();
            let (measured, seen) = (Measurements::default(), Inspection::default());
            return advise(reading, &measured, &seen, profile, &effects);
        };
        known.advise_after(reading, profile)
    }

    fn known(&self) -> Option<Known> {
        let on_bench = self.state.reed.as_ref()?;
        Some(Known::of(&on_bench.history, &self.effects.clone().unwrap_or_default()))
    }

    fn end_take(&mut self, take: FinishedTake, file: Option<PathBuf>) {
        let mut reading = take.analysis.reading;
        // The kept file holds only the channel that was read.
        (reading.channels, reading.channel) = (1, 1);
        let advice = self.advise(&reading);
        let mut number = None;
        if let (Some(label), Some(file)) = (self.label.clone(), file) {
            number = self.put_on_card(&label, &file, &reading, &advice);
            if let Some(number) = number {
                self.state.is_first = false;
                self.state.say(&words::take_kept(&label, number));
            }
        }
        self.crows.clear();
        self.state.heard =
            Some(HeardNow { advice, is_over: true, take: number, at: self.state.serial, reading });
        self.refresh_said();
    }

    fn put_on_card(
        &mut self,
        label: &str,
        file: &std::path::Path,
        reading: &Reading,
        advice: &Advice,
    ) -> Option<u32> {
        let take = NewTake { file, reading, advice: Some(advice), conditions: None };
        match self.log.take(label, take) {
            Ok(added) => {
                if file.starts_with(self.log.recording_folder()) {
                    // It is kept under its hash; a copy that cannot be removed does no harm.
                    let _ = std::fs::remove_file(file);
                }
                Some(added.number)
            }
            Err(error) => {
                self.state.say(&words::not_on_card(&error.to_string(), file));
                None
            }
        }
    }

    fn obey(&mut self, order: Order) -> Reply {
        let done = match order {
            Order::Say(line) => match grammar::parse(&line) {
                Ok(None) => return String::new(),
                Ok(Some(entry)) => self.enter(entry),
                Err(refusal) => return refusal.to_string(),
            },
            Order::Recording(file, name) => {
                let done = self.recording(&file, &name);
                // It was put there for this alone.
                let _ = std::fs::remove_file(&file);
                done
            }
        };
        done.unwrap_or_else(|error| error.to_string())
    }

    fn enter(&mut self, entry: Entry) -> anyhow::Result<Reply> {
        Ok(match entry {
            Entry::Step(step) => self.step(&step)?,
            Entry::Look(seen) => {
                let label = self.on_bench()?;
                self.log.inspect(&label, &seen)?;
                self.refresh()?;
                words::seen(&seen)
            }
            Entry::Measure(sizes) => {
                let label = self.on_bench()?;
                self.log.measure(&label, &Measurements::just_made(sizes)?, None)?;
                self.refresh()?;
                words::measured(&sizes, LengthUnit::Millimetres)
            }
            Entry::Heard(heard) => {
                let label = self.on_bench()?;
                let named = self.log.heard(&label, Which::default(), heard)?;
                self.refresh()?;
                ear::written(&label, named, heard)
            }
            Entry::Undo => {
                self.close_take();
                let undone = self.log.undo(&self.on_bench()?)?;
                self.after_undo()?;
                words::undone(&undone.what)
            }
            Entry::Redo => {
                self.close_take();
                let redone = self.log.redo(&self.on_bench()?)?;
                self.after_undo()?;
                words::made_again(&redone.what)
            }
            Entry::Pause if !self.state.paused => {
                self.close_take();
                self.state.paused = true;
                words::PAUSED.to_owned()
            }
            Entry::Pause | Entry::GoOn => {
                self.state.paused = false;
                self.track.clear();
                words::GOES_ON.to_owned()
            }
            Entry::Reed(label) => {
                let label = open_label(&self.log, &label)?;
                self.put_on_bench(Some(label))?
            }
            Entry::Next => match next_label(&self.log, self.label.as_deref())? {
                Some(label) => self.put_on_bench(Some(label))?,
                None => words::NO_OTHER_REED.to_owned(),
            },
            Entry::New(label) => {
                self.log.add(&Card::new(label.clone()))?;
                self.put_on_bench(Some(label))?
            }
            Entry::Like(label) => {
                let like = self.on_bench()?;
                add_like(&mut self.log, &like, label.clone())?;
                self.put_on_bench(Some(label))?
            }
            Entry::Check => self.check()?,
            Entry::Practice(name) => self.practice(&name)?,
            Entry::Listen(device) => {
                self.settings.device = Some(device).filter(|device| !device.is_empty());
                self.listen(Source::Microphone(self.settings.device.clone()));
                words::source(&self.state.source)
            }
            Entry::Way | Entry::Why | Entry::Play(_) | Entry::Tone | Entry::Help | Entry::Quit => {
                words::ON_THE_PAGE.to_owned()
            }
        })
    }

    fn step(&mut self, step: &Step) -> anyhow::Result<Reply> {
        if step.cut.is_some() {
            self.close_take();
        }
        let label = self.on_bench()?;
        let number = self.log.step(&label, step)?;
        self.refresh()?;
        if step.cut.is_some() {
            // What was heard is of the reed as it was.
            self.state.heard = None;
        }
        Ok(words::done(step, number))
    }

    fn after_undo(&mut self) -> anyhow::Result<()> {
        self.refresh_all()?;
        self.state.heard = self.last_take();
        Ok(())
    }

    /// Errors: no reed is on the bench.
    fn on_bench(&self) -> anyhow::Result<String> {
        self.label.clone().ok_or_else(|| anyhow::anyhow!(words::NO_REED))
    }

    fn put_on_bench(&mut self, label: Option<String>) -> anyhow::Result<Reply> {
        self.close_take();
        self.label = label;
        self.state.heard = None;
        self.refresh_all()?;
        self.state.heard = self.last_take();
        if self.hears.is_practice() || self.session.is_none() {
            self.listen(Source::Microphone(self.settings.device.clone()));
        } else {
            // Another reed may be held to another note.
            self.listen(self.hears.source());
        }
        Ok(words::on_the_bench(self.label.as_deref()))
    }

    /// Begins a check of the microphone, or puts the last one away.
    fn check(&mut self) -> anyhow::Result<Reply> {
        if self.state.check.take().is_some() {
            self.checking = None;
            return Ok(words::CHECK_PUT_AWAY.to_owned());
        }
        let Some(format) = self.hears.format() else {
            anyhow::bail!(words::NOTHING_TO_CHECK);
        };
        self.close_take();
        self.checking = Some(Checking::begin(format, &self.state.profile, self.state.a4));
        self.state.check = Some(Check::Quiet);
        Ok(words::CHECK_BEGINS.to_owned())
    }

    /// A practice take goes to no reed that somebody owns.
    fn practice(&mut self, name: &str) -> anyhow::Result<Reply> {
        let on_practice = self.label.as_deref().is_some_and(|label| label.starts_with(PRACTICE));
        if !on_practice {
            let known = self.state.open.iter().find(|reed| reed.label.starts_with(PRACTICE));
            let label = match known {
                Some(reed) => reed.label.clone(),
                None => self.new_practice_reed()?,
            };
            self.put_on_bench(Some(label))?;
        }
        self.listen(Source::Practice(name.to_owned()));
        Ok(words::source(&self.state.source))
    }

    fn new_practice_reed(&mut self) -> anyhow::Result<String> {
        let taken = self.log.reeds()?;
        let free = (1..)
            .map(|number| format!("{PRACTICE} {number}"))
            .find(|label| !taken.iter().any(|reed| reed.card.label.eq_ignore_ascii_case(label)));
        let label = free.unwrap_or_else(|| PRACTICE.to_owned());
        self.log.add(&Card { complaint: Some(words::FOR_TRYING.into()), ..Card::new(&label) })?;
        Ok(label)
    }

    fn recording(&mut self, file: &std::path::Path, name: &str) -> anyhow::Result<Reply> {
        let (profile, a4) = (self.state.profile.clone(), self.state.a4);
        let read = || -> Result<Reading, TakeError> {
            let mut recording = crate::take::open(file, Channel::default())?;
            let mut reader = Reader::new(recording.sample_rate_hz(), &profile, a4);
            let mut block = Vec::new();
            while recording.next_block(&mut block)? {
                reader.push(&block);
            }
            let (channels, channel) = (recording.channels(), recording.channel());
            Ok(reader.finish(name, channels, channel, recording.faults()).reading)
        };
        let reading = read().map_err(|error| anyhow::anyhow!("{name}: {error}"))?;
        let advice = self.advise(&reading);
        let number = match self.label.clone() {
            Some(label) => {
                let take =
                    NewTake { file, reading: &reading, advice: Some(&advice), conditions: None };
                Some(self.log.take(&label, take)?.number)
            }
            None => None,
        };
        self.state.heard =
            Some(HeardNow { advice, is_over: true, take: number, at: self.state.serial, reading });
        self.refresh()?;
        Ok(words::recording_read(name, number))
    }

    /// What the reed said last, if it was blown since its last cut.
    fn last_take(&self) -> Option<HeardNow> {
        let history = &self.state.reed.as_ref()?.history;
        let last = history.takes.last()?;
        if last.take.after_step != history.stage() {
            return None;
        }
        let reading = last.reading.as_ref()?.reading.clone();
        let advice = self.advise(&reading);
        let take = Some(last.take.number);
        Some(HeardNow { advice, is_over: true, take, at: self.state.serial, reading })
    }

    fn refresh_said(&mut self) {
        if let Err(error) = self.refresh() {
            self.state.say(&error.to_string());
        }
    }

    /// Reads which reeds are open, and all of the one on the bench.
    fn refresh_all(&mut self) -> anyhow::Result<()> {
        let reeds = self.log.reeds()?;
        let open = reeds.iter().filter(|reed| reed.card.ending.is_none());
        self.state.open = open.map(|reed| OpenReed::of(&reed.card)).collect();
        self.state.is_first = !self.log.has_takes()?;
        let is_here = |label: &String| self.state.open.iter().any(|reed| reed.label == *label);
        self.label = self.label.take().filter(is_here);
        self.refresh()
    }

    /// Reads what the log says of the reed on the bench.
    fn refresh(&mut self) -> anyhow::Result<()> {
        self.is_new = true;
        let Some(label) = self.label.clone() else {
            self.state.reed = None;
            (self.state.profile, self.state.a4) = (self.settings.profile.clone(), self.settings.a4);
            return Ok(());
        };
        let history = self.log.history(&label)?;
        let usual = (self.settings.profile.clone(), self.settings.a4);
        (self.state.profile, self.state.a4) = held_to(&self.log, &history.reed.card, &usual)?;
        let profile = &self.state.profile;
        let change = latest_pair(&history).map(|pair| {
            let comparison = compare(&pair.before, &pair.after, profile);
            Change {
                since: pair.between.clone(),
                beware: pair.beware.clone(),
                told: super::screen::asked(&comparison, profile)
                    .into_iter()
                    .map(|change| (change.verdict, sentence(change, profile)))
                    .collect(),
            }
        });
        let advice = Known::of(&history, &self.effects.clone().unwrap_or_default()).advise(profile);
        self.state.reed = Some(OnBench {
            would_undo: self.log.would_undo(&label)?.map(|undone| undone.what),
            would_redo: self.log.would_redo(&label)?.map(|undone| undone.what),
            findings: crate::reed::findings(&history.measured_now(), &history.seen_now(), profile),
            advice,
            change,
            recordings: history
                .takes
                .iter()
                .map(|take| (take.take.number, self.log.audio_path(&take.take.sha256)))
                .collect(),
            history,
        });
        Ok(())
    }

    fn tell_live(&mut self) {
        let checking = self.checking.as_ref().map(Checking::session);
        let Some(session) = checking.or(self.session.as_ref()) else {
            let _ = self.live.send(Live { paused: self.state.paused, ..Live::default() });
            return;
        };
        let listening = session.listening();
        let time_s = self.started.elapsed().as_secs_f64();
        let raw_hz = listening.now.hz.filter(|_| listening.now.sounding && !self.state.paused);
        let before_hz = std::mem::replace(&mut self.last_hz, raw_hz);
        // Breath repeats by chance now and then, never twice alike.
        let is_held = |hz: f64, before: f64| (1200.0 * (hz / before).log2()).abs() < HELD_CENTS;
        let hz = raw_hz.filter(|hz| before_hz.is_some_and(|before| is_held(*hz, before)));
        let cents = hz.and_then(Hertz::new).map(|hz| self.state.distance(hz).1);
        self.track.push_back(PitchPoint { time_s, cents });
        while self.track.front().is_some_and(|point| time_s - point.time_s > TRACK_S) {
            self.track.pop_front();
        }
        let live = Live {
            is_open: true,
            paused: self.state.paused,
            listening,
            hz,
            octaves: if hz.is_some() { session.octaves_now() } else { Vec::new() },
            time_s,
            track: self.track.iter().copied().collect(),
        };
        let _ = self.live.send(live);
    }
}

/// How the labels of reeds for practice begin.
pub const PRACTICE: &str = "practice";

/// Whether a cut is what the advice proposes.
pub fn is_advised(cut: Cut, advice: &Advice) -> bool {
    match advice.r#where {
        Where::At(place) => Cut::at(advice.next, Some(place)) == Some(cut),
        _ => Cut::at(advice.next, None) == Some(cut),
    }
}
