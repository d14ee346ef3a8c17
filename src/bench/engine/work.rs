//! The engine's thread: what comes in from the microphone and from the page, in turn.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::{Duration, Instant};

use tokio::sync::{oneshot, watch};

use crate::bench::grammar::{self, Entry};
use crate::bench::keeper::Keeper;
use crate::bench::listening::{Frame, Hears, Source, SourceError};
use crate::bench::state::{HeardNow, Live, PitchPoint, State, TRACK_S};
use crate::capture::SourceTold;
use crate::capture::{Check, MicrophoneCheck, Session, SessionSettings};
use crate::clock;
use crate::comparison::Effects;
use crate::log::{Log, effects};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, OctavesNow, Reader};
use crate::take::Channel;
use crate::units::Hertz;
use crate::words::{bench as words, devices};

/// How often the microphone is read.
const READ_EVERY: Duration = Duration::from_millis(10);
/// How often the live view is told anew: the eye follows no faster.
const TELL_EVERY: Duration = Duration::from_millis(90);
/// How often another program's changes to the log are looked for, and a lost microphone.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// A tone is shown once it was heard twice in a row, no further apart than this.
const HELD_CENTS: f64 = 60.0;

pub(super) struct Work {
    pub(super) log: Log,
    pub(super) settings: Settings,
    pub(super) label: Option<String>,
    /// What past cuts did, over all reeds; learned once, since it reads the whole log.
    pub(super) effects: Option<Effects>,
    pub(super) hears: Hears,
    pub(super) checking: Option<MicrophoneCheck>,
    pub(super) session: Option<Session<Reader>>,
    pub(super) keeper: Keeper,
    /// Crows of the take that is going on.
    pub(super) crows: Vec<Crow>,
    /// What ended last and seems to be a crow, until it is known, and since when.
    pub(super) seen: Option<(Crow, Instant)>,
    /// What was shown before the take that is going on.
    pub(super) shown_before: Option<HeardNow>,
    pub(super) track: VecDeque<PitchPoint>,
    /// What seemed to sound when the live view was told last.
    pub(super) last_hz: Option<f64>,
    pub(super) started: Instant,
    pub(super) told: Instant,
    pub(super) looked: Instant,
    pub(super) seen_version: i64,
    pub(super) lost_frames: u64,
    pub(super) live: watch::Sender<Live>,
    pub(super) state: State,
    pub(super) is_new: bool,
}

impl Work {
    pub(super) fn new(
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
            seen: None,
            shown_before: None,
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

    pub(super) fn run(&mut self, orders: &Receiver<Ordered>, state: &watch::Sender<Arc<State>>) {
        let mut waiting: VecDeque<Ordered> = VecDeque::new();
        self.listen(Source::Microphone(self.settings.device.clone()));
        loop {
            loop {
                match orders.try_recv() {
                    Ok(order) => waiting.push_back(order),
                    Err(TryRecvError::Empty) => break,
                    Err(TryRecvError::Disconnected) => return self.close(),
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
            self.forget_seen();
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
    pub(super) fn close(&mut self) {
        if let Some(session) = self.session.take() {
            for event in session.finish() {
                self.handle(event);
            }
        }
        let heard = self.keeper.close();
        self.take_in(heard);
    }

    pub(super) fn sounds(&self) -> bool {
        self.session.as_ref().is_some_and(|session| {
            let listening = session.listening();
            listening.take.is_some() && listening.closes_in_s.is_none()
        })
    }

    /// Whether an order makes the reed another one, or the bench another reed's.
    pub(super) fn must_wait(&self, order: &Order) -> bool {
        match order {
            Order::Say(line) => match grammar::parse(line) {
                Ok(Some(Entry::Step(step))) => step.cut.is_some(),
                Ok(Some(
                    Entry::Undo
                    | Entry::Redo
                    | Entry::Close(..)
                    | Entry::Keep
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
    pub(super) fn listen(&mut self, source: Source) {
        self.close_session();
        self.track.clear();
        if self.checking.take().is_some() {
            self.state.check = None;
        }
        // Where it fails, the page shows why for as long as it is so.
        if let Ok(format) = self.hears.open(source) {
            let folder = self.open_card().map(|_| self.log.recording_folder());
            self.keeper.go_on_with(folder, format.sample_rate_hz);
            let checked = self.log.microphone(self.hears.device()).unwrap_or_default();
            self.state.microphone.clone_from(&checked);
            let settings = SessionSettings {
                source: self.hears.name().to_owned(),
                pause_s: self.settings.pause_s,
                channel: Channel::default(),
                microphone: checked,
            };
            let (profile, a4) = (&self.state.profile, self.state.a4);
            self.session = Some(Session::new(format, settings, profile, a4));
        }
        self.state.source = self.hears.told();
        self.is_new = true;
    }

    pub(super) fn close_session(&mut self) {
        if let Some(session) = self.session.take() {
            for event in session.finish() {
                self.handle(event);
            }
        }
        self.crows.clear();
        self.seen = None;
    }

    /// Ends the take that is going on: what is crowed from now on is of another reed, or after a cut.
    pub(super) fn close_take(&mut self) {
        let events = self.session.as_mut().map(Session::close_take).unwrap_or_default();
        for event in events {
            self.handle(event);
        }
    }

    pub(super) fn hear(&mut self) {
        let Some(session) = &mut self.session else { return };
        match self.hears.frame() {
            Ok(Frame { samples, lost_frames, is_over }) => {
                self.lost_frames += lost_frames;
                if let Some(checking) = &mut self.checking {
                    let at_s = self.started.elapsed().as_secs_f64();
                    let check = checking.push(samples, lost_frames, at_s);
                    if let Check::Done(fitness) = &check {
                        self.checking = None;
                        let device = self.hears.device().to_owned();
                        let checked = fitness.verdict(&device, clock::today().unwrap_or_default());
                        if let Err(error) = self.log.keep_microphone(&checked) {
                            self.state.say(&devices::not_kept(&error.to_string()));
                        }
                        self.state.microphone = Some(checked.clone());
                        if let Some(session) = &mut self.session {
                            session.was_checked(checked);
                        }
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
    pub(super) fn look_around(&mut self) {
        if self.looked.elapsed() < LOOK_EVERY {
            return;
        }
        self.looked = Instant::now();
        let heard = self.keeper.catch_up();
        self.take_in(heard);
        if self.effects.is_none() {
            let reeds = self.log.facts(|_| true).map(|found| found.whole);
            self.effects = Some(reeds.map(|reeds| effects(&reeds)).unwrap_or_default());
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
            if let SourceTold::Microphone(name) = &self.state.source {
                self.state.say(&words::microphone_is_back(&name.clone()));
            }
        }
    }

    pub(super) fn tell_live(&mut self) {
        let checking = self.checking.as_ref().map(MicrophoneCheck::session);
        let Some(session) = checking.or(self.session.as_ref()) else {
            let _ = self.live.send(Live { paused: self.state.paused, ..Live::default() });
            return;
        };
        let listening = session.listening();
        let time_s = self.started.elapsed().as_secs_f64();
        let octaves = match self.state.paused {
            true => OctavesNow::default(),
            false => session.octaves_now(),
        };
        let raw_hz = octaves.octaves.first().map(|lowest| lowest.hz);
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
            paused: self.state.paused,
            listening,
            hz,
            octaves: if hz.is_some() { octaves } else { OctavesNow::default() },
            time_s,
            track: self.track.iter().copied().collect(),
        };
        let _ = self.live.send(live);
    }
}

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

pub(super) type Ordered = (Order, oneshot::Sender<Reply>);
