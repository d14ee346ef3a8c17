//! Decoding in a process of its own.
//!
//! Decoders of compressed sound are other people's code on other people's files. One that asks for
//! all memory there is, or never comes back, would take a whole batch with it; here it takes a child
//! of this program, which is started anew, and the file gets its row. A child is kept for many files,
//! and answers when it is asked, so that it never runs ahead.
//!
//! Where no child can be started, and in programs that use this as a library and named none
//! ([`decode_in_child`]), decoding is done on the calling thread, behind a guard that catches panics.

mod limits;
mod protocol;
mod serve;

use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::{Format, Packets};
use crate::take::{SampleStream, TakeError, Undecodable};
use limits::Watch;
use protocol::{Answer, MOST_SAMPLES, Question};

pub use serve::serve;

/// How long an answer may take, disks that sleep and a busy machine included. A child that computes
/// for [`limits::ANSWER_CPU_S`] is ended sooner.
const PATIENCE: Duration = Duration::from_secs(60);

/// How often a child is looked at that has not answered.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// The longest recording that is decoded: what gives more from a file is damaged.
const LONGEST_H: u64 = 48;

/// How this program is started so that it decodes; `None` decodes here.
static PROGRAM: Mutex<Option<Program>> = Mutex::new(None);

/// Children that wait for a file.
static IDLE: Mutex<Vec<Process>> = Mutex::new(Vec::new());

/// A program that calls [`serve`] when it is started so.
#[derive(Debug, Clone)]
pub struct Program {
    /// Its file.
    pub path: PathBuf,
    /// What it is told.
    pub arguments: Vec<String>,
}

/// From now on, decode in children that are `program`; `None` decodes on the calling thread.
pub fn decode_in_child(program: Option<Program>) {
    *lock(&PROGRAM) = program;
    lock(&IDLE).clear();
}

/// Opens a recording to be decoded, in a child where there can be one.
///
/// Errors: as [`Packets::open`]; and the decoder broke off or did not come back.
pub fn open(path: &Path, format: Format) -> Result<Box<dyn SampleStream>, TakeError> {
    match Decoded::open(path, format) {
        Some(decoded) => Ok(Box::new(decoded?)),
        None => Ok(Box::new(Packets::open(path, format)?)),
    }
}

/// The same of a file without a name.
pub fn open_unnamed(file: &File, format: Format) -> Result<Box<dyn SampleStream>, TakeError> {
    #[cfg(target_os = "linux")]
    {
        use std::os::fd::AsRawFd;
        let path = format!("/proc/{}/fd/{}", std::process::id(), file.as_raw_fd());
        if Path::new(&path).exists() {
            return open(Path::new(&path), format);
        }
    }
    Ok(Box::new(Packets::of_file(file.try_clone()?, format)?))
}

/// A child, and the thread that reads its answers.
#[derive(Debug)]
struct Process {
    child: Child,
    questions: ChildStdin,
    answers: Receiver<Answer>,
    /// Whether it has decoded another file before.
    is_used: bool,
    /// Where the system does not hold it to its limits.
    watch: Option<Watch>,
}

impl Process {
    fn start() -> Option<Self> {
        let program = lock(&PROGRAM).clone()?;
        let mut command = Command::new(program.path);
        command.args(program.arguments);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        // Ctrl-C is for this program, which then ends the files it is at as it wants.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        #[cfg(windows)]
        std::os::windows::process::CommandExt::creation_flags(&mut command, 0x200);
        let mut child = command.spawn().ok()?;
        let (questions, said) = (child.stdin.take()?, child.stdout.take()?);
        // One answer is on its way at most: a child that says more waits.
        let (sender, answers) = sync_channel(1);
        let listen = move || {
            let mut said = BufReader::with_capacity(1 << 16, said);
            while let Some(answer) = Answer::read(&mut said) {
                if sender.send(answer).is_err() {
                    return;
                }
            }
        };
        let watch = Watch::of(&child);
        let process = Self { child, questions, answers, is_used: false, watch };
        // Dropped without a thread, the child is ended.
        thread::Builder::new().spawn(listen).ok()?;
        Some(process)
    }

    /// `None` where it died, does not come back, or takes more than it may.
    fn ask(&mut self, question: &Question<'_>) -> Option<Answer> {
        self.questions.write_all(&question.bytes()?).ok()?;
        let Some(watch) = &mut self.watch else {
            return self.answers.recv_timeout(PATIENCE).ok();
        };
        // Most answers are there at once, and nothing is looked at.
        let asked = Instant::now();
        match self.answers.recv_timeout(LOOK_EVERY) {
            Err(RecvTimeoutError::Timeout) => watch.begin_answer(),
            answer => return answer.ok(),
        }
        while asked.elapsed() < PATIENCE && !watch.is_over() {
            match self.answers.recv_timeout(LOOK_EVERY) {
                Err(RecvTimeoutError::Timeout) => {}
                answer => return answer.ok(),
            }
        }
        None
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // It may be gone already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A recording that a child decodes.
#[derive(Debug)]
struct Decoded {
    path: PathBuf,
    format: Format,
    /// `None` once it died.
    process: Option<Process>,
    sample_rate_hz: u32,
    channels: u16,
    frames: u64,
    ended: bool,
    cut_off: bool,
    lost: u64,
}

impl Decoded {
    /// `None` where there can be no child.
    fn open(path: &Path, format: Format) -> Option<Result<Self, TakeError>> {
        Question::Open(path, format).bytes()?;
        let waiting = lock(&IDLE).pop();
        if let Some(process) = waiting
            && let Some(opened) = Self::begin(process, path, format)
        {
            return Some(opened);
        }
        // What an earlier file did to its child is not a fault of this one.
        let opened = Self::begin(Process::start()?, path, format);
        Some(opened.unwrap_or_else(|| Err(broke_off())))
    }

    /// `None` where the child died of it.
    fn begin(mut process: Process, path: &Path, format: Format) -> Option<Result<Self, TakeError>> {
        match process.ask(&Question::Open(path, format))? {
            Answer::Opened { sample_rate_hz, channels } => Some(Ok(Self {
                path: path.to_owned(),
                format,
                process: Some(process),
                sample_rate_hz,
                channels,
                frames: 0,
                ended: false,
                cut_off: false,
                lost: 0,
            })),
            Answer::Failed(error) => {
                give_back(process);
                Some(Err(error))
            }
            _ => None,
        }
    }

    /// The next answer; where a child that was used before dies of the question, that of a new one
    /// brought to the same place. What is read of a file depends on nothing but the file.
    fn ask(&mut self) -> Option<Answer> {
        let process = self.process.as_mut()?;
        let was_used = process.is_used;
        let answer = process.ask(&Question::Next).filter(|answer| self.is_possible(answer));
        if answer.is_some() || !was_used {
            return answer;
        }
        self.process = None;
        let begun = Self::begin(Process::start()?, &self.path, self.format);
        let mut again = begun?.ok()?;
        while again.frames < self.frames {
            let Answer::Samples(samples) = again.process.as_mut()?.ask(&Question::Next)? else {
                return None;
            };
            again.frames += (samples.len() / usize::from(self.channels)) as u64;
        }
        self.process = again.process.take();
        let answer = self.process.as_mut()?.ask(&Question::Next);
        answer.filter(|answer| self.is_possible(answer))
    }

    fn is_possible(&self, answer: &Answer) -> bool {
        match answer {
            Answer::Opened { .. } => false,
            Answer::Samples(samples) => samples.len() % usize::from(self.channels) == 0,
            Answer::Ended { .. } | Answer::Failed(_) => true,
        }
    }
}

impl SampleStream for Decoded {
    fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }

    fn channels(&self) -> u16 {
        self.channels
    }

    fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        block.clear();
        if self.ended {
            return Ok(false);
        }
        match self.ask() {
            Some(Answer::Samples(samples)) => {
                self.frames += (samples.len() / usize::from(self.channels)) as u64;
                if self.frames > LONGEST_H * 3600 * u64::from(self.sample_rate_hz) {
                    self.process = None;
                    return Err(TakeError::Decode(Undecodable::WithoutEnd));
                }
                *block = samples;
                Ok(true)
            }
            Some(Answer::Ended { cut_off, lost }) => {
                (self.ended, self.cut_off, self.lost) = (true, cut_off, lost);
                Ok(false)
            }
            Some(Answer::Failed(error)) => {
                self.ended = true;
                Err(error)
            }
            _ => {
                // What it gave before is worth reading; without any there is nothing.
                self.process = None;
                (self.ended, self.cut_off) = (true, true);
                if self.frames == 0 { Err(broke_off()) } else { Ok(false) }
            }
        }
    }

    fn cut_off(&self) -> bool {
        self.cut_off
    }

    fn lost(&self) -> u64 {
        self.lost
    }
}

impl Drop for Decoded {
    fn drop(&mut self) {
        if let Some(process) = self.process.take() {
            give_back(process);
        }
    }
}

/// Keeps a child, which waits for a question, for another file.
fn give_back(mut process: Process) {
    process.is_used = true;
    lock(&IDLE).push(process);
}

fn broke_off() -> TakeError {
    TakeError::Decode(Undecodable::Damaged)
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Samples of one answer: whole frames.
fn most_samples(channels: u16) -> usize {
    let channels = usize::from(channels.max(1));
    (MOST_SAMPLES / channels).max(1) * channels
}
