//! A folder of takes to a table of readings.
//!
//! Paths enter; a row for each recording leaves, in the order of the paths, whatever the number
//! of threads. A row is a pure function of the file's content, its name and the settings, so a
//! batch can be broken off and gone on with, or split over machines and joined. Recordings are
//! read as streams, rows are written as they come, and of each row only what the closing summary
//! counts is kept, so memory does not grow with a recording's length, and by a number for each file.

mod closing;
mod error;
mod form;
mod inputs;
mod merge;
mod one;
mod ordered;
mod page_rows;
mod pictures;
mod progress;
mod summary;
mod table;

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasher, RandomState};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

pub use crate::words::batch::BROKE_THE_PROGRAM;
pub(crate) use closing::{clock, closing, needs};
pub(crate) use error::BatchError;
pub use form::Form;
pub(crate) use form::{Entry, Made};
pub use inputs::paths_in;
pub(crate) use inputs::{Input, Inputs, LeftOut, shown};
pub(crate) use merge::merge;
pub(crate) use one::{LONGEST_PICTURE_S, Settings};
pub(crate) use ordered::in_order;
pub(crate) use page_rows::page_row;
pub(crate) use progress::{Counts, Progress};
pub(crate) use summary::{Attention, Summary};
pub use table::{Ending, for_each_row};
pub(crate) use table::{Table, crow_table};

use crate::report::csv::Row;
use crate::report::page::PageRow;
use crate::take::TakeError;
use crate::words::batch::{more_same_recordings, same_recording};
use one::Outcome;
use pictures::{Names, is_marked, mark};
use table::Standing;

/// The version that rows carry.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// What is to be done.
#[derive(Debug, Clone)]
pub struct Batch {
    /// The recordings.
    pub inputs: Inputs,
    /// How they are read.
    pub settings: Settings,
    /// The folder in which a picture of each take goes.
    pub plots: Option<PathBuf>,
    /// Where the table goes; `None` prints it.
    pub out: Option<PathBuf>,
    /// The table's form.
    pub form: Form,
    /// Threads.
    pub jobs: usize,
    /// Whether rows of an earlier run that are current are taken over.
    pub resume: bool,
    /// Whether a table that is there is written anew.
    pub replace: bool,
    /// Whether rows for the page are kept. They are all that memory grows with.
    pub page: bool,
}

/// What became of a batch.
#[derive(Debug)]
pub struct Done {
    /// Of all rows in the table.
    pub summary: Summary,
    /// Takes in the table that are too long for a picture, if pictures were asked for.
    pub without_picture: u64,
    /// Folders that could not be looked through.
    pub left_out: u64,
    /// Rows of an earlier run that stay although their recordings were not named, or are not
    /// there now.
    pub kept: u64,
    /// Whether some of those were made by another version or with other settings.
    pub kept_of_other_making: bool,
    /// Whether it was stopped before its end.
    pub stopped: bool,
    /// Rows for the page, if they were asked for.
    pub page_rows: Vec<PageRow>,
}

/// What became of one input.
enum Did {
    Row { row: String, origin: Origin, picture: Option<PathBuf> },
    PassedOver,
    LeftOut(LeftOut),
    Stopped,
}

/// Where a row is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Origin {
    /// Read now.
    Now,
    /// An earlier run, and current.
    Before,
    /// An earlier run; its recording was not named, or is not there now.
    Kept,
}

/// Reads all inputs into the table. Without a single row an older table stays as it is.
///
/// * `printed`: where the table goes without a name.
/// * `stop`: once true, recordings that are being read are dropped, and the table is finished with
///   the rows there are, those of an earlier run among them.
/// * `complain`: takes one line for each recording or folder that could not be read.
///
/// Errors: the table cannot be written, or the earlier one not be read.
pub fn run(
    batch: &Batch,
    printed: Box<dyn Write>,
    progress: &Progress,
    stop: &AtomicBool,
    complain: impl FnMut(&str),
) -> Result<Done, BatchError> {
    let standing = match &batch.out {
        Some(path) if batch.resume => Standing::open(path, batch.form)?,
        _ => None,
    };
    let table = match &batch.out {
        Some(path) => Table::create(path, batch.form, batch.resume || batch.replace)?,
        None => Table::printed(printed, batch.form),
    };
    let worker = Worker {
        batch,
        fingerprint: batch.settings.fingerprint(),
        standing: standing.as_ref(),
        progress,
        stop,
    };
    let is_stopped = || stop.load(Ordering::Relaxed);
    // Stopped, it still passes on the rows of an earlier run.
    let mut names = Names::default();
    let inputs =
        batch.inputs.iter().take_while(|_| standing.is_some() || !is_stopped()).map(|input| {
            let input = input?;
            let picture = batch.plots.as_deref().map(|folder| names.next(folder, &input));
            Ok((input, picture))
        });
    let mut rows = Rows::of(&worker, table, complain);
    in_order(inputs, batch.jobs, |input| worker.row(input), |did| rows.take(did))?;
    rows.done.stopped = is_stopped();
    rows.keep_others()?;
    let (table, done) = rows.close();
    // Windows gives no new file the name of one that is open.
    drop(standing);
    if done.summary.rows > 0 {
        table.finish()?;
    } else {
        table.discard();
    }
    Ok(done)
}

/// The rows of a table, as they come.
struct Rows<'a, C> {
    worker: &'a Worker<'a>,
    table: Table,
    done: Done,
    /// What stands for the sources that rows came of.
    delivered: HashSet<u64>,
    contents: Contents,
    /// Takes one line for each recording or folder that could not be read.
    complain: C,
}

impl<'a, C: FnMut(&str)> Rows<'a, C> {
    fn of(worker: &'a Worker<'a>, table: Table, complain: C) -> Self {
        let done = Done {
            summary: Summary::new(&worker.batch.settings.profile),
            without_picture: 0,
            left_out: 0,
            kept: 0,
            kept_of_other_making: false,
            stopped: false,
            page_rows: Vec::new(),
        };
        let (delivered, contents) = (HashSet::new(), Contents::default());
        Self { worker, table, done, delivered, contents, complain }
    }

    /// What became of the next input.
    fn take(&mut self, did: Did) -> Result<(), BatchError> {
        match did {
            Did::Row { row, origin, picture } => {
                let entry = self.worker.batch.form.entry(&row).unwrap_or_default();
                if let Some(error) = &entry.error {
                    (self.complain)(&format!("{}: {error}", shown(Path::new(&entry.source))));
                }
                if let Some(standing) = self.worker.standing {
                    self.delivered.insert(standing.key(&entry.source));
                }
                self.push(&row, entry, picture, origin)?;
            }
            Did::PassedOver => self.done.summary.passed_over += 1,
            Did::LeftOut(LeftOut::FolderInside) => self.done.summary.folders_inside += 1,
            Did::LeftOut(LeftOut::Fault { line, is_loss }) => {
                (self.complain)(&line);
                self.done.left_out += u64::from(is_loss);
            }
            Did::Stopped => {}
        }
        Ok(())
    }

    /// The rows of an earlier run whose recordings did not come up.
    fn keep_others(&mut self) -> Result<(), BatchError> {
        if let Some(standing) = self.worker.standing.filter(|_| self.done.summary.rows > 0) {
            let delivered = std::mem::take(&mut self.delivered);
            for (row, entry) in standing.others(&delivered) {
                self.push(&row, entry, None, Origin::Kept)?;
            }
        }
        Ok(())
    }

    fn push(
        &mut self,
        row: &str,
        entry: Entry,
        picture: Option<PathBuf>,
        origin: Origin,
    ) -> Result<(), BatchError> {
        if let Some(line) = self.contents.again(&entry, self.worker.batch.form) {
            (self.complain)(&line);
        }
        self.table.push(row)?;
        self.done.add(self.worker, row, entry, picture, origin);
        Ok(())
    }

    fn close(mut self) -> (Table, Done) {
        if let Some(line) = self.contents.more() {
            (self.complain)(&line);
        }
        (self.table, self.done)
    }
}

/// Recordings named one by one that are in the table already; the others are counted.
const REPEATED_NAMED: u64 = 5;

/// What the recordings of a table hold: the row in which each content came first.
#[derive(Default)]
struct Contents {
    first_rows: HashMap<u64, u64>,
    hasher: RandomState,
    rows: u64,
    repeated: u64,
}

impl Contents {
    /// Counts the next row. Where an earlier one is of the very same content, what is said of that.
    fn again(&mut self, entry: &Entry, form: Form) -> Option<String> {
        self.rows += 1;
        if entry.made.sha256.is_empty() || entry.error.is_some() {
            return None;
        }
        // As a spreadsheet counts, whose first row has the headings.
        let row = self.rows + u64::from(form == Form::Csv);
        let first = *self.first_rows.entry(self.hasher.hash_one(&entry.made.sha256)).or_insert(row);
        self.repeated += u64::from(first != row);
        (first != row && self.repeated <= REPEATED_NAMED)
            .then(|| same_recording(&shown(Path::new(&entry.source)), first))
    }

    /// What is said of those that were not named.
    fn more(&self) -> Option<String> {
        let more = self.repeated.checked_sub(REPEATED_NAMED).filter(|&more| more > 0)?;
        Some(more_same_recordings(more))
    }
}

impl Done {
    /// Counts a row that stands in the table.
    fn add(
        &mut self,
        worker: &Worker<'_>,
        row: &str,
        entry: Entry,
        picture: Option<PathBuf>,
        origin: Origin,
    ) {
        let batch = worker.batch;
        if batch.page {
            let row = page_row(batch.form, row);
            self.page_rows.extend(row.map(|row| PageRow { picture, ..row }));
        }
        self.without_picture += u64::from(batch.plots.is_some() && one::is_long(&entry));
        self.summary.taken_over += u64::from(origin != Origin::Now);
        if origin == Origin::Kept {
            self.kept += 1;
            self.kept_of_other_making |=
                entry.made.version != VERSION || entry.made.settings != worker.fingerprint;
        }
        self.summary.add(entry);
    }
}

struct Worker<'a> {
    batch: &'a Batch,
    fingerprint: String,
    standing: Option<&'a Standing>,
    progress: &'a Progress,
    stop: &'a AtomicBool,
}

impl Worker<'_> {
    fn row(&self, input: Result<(Input, Option<PathBuf>), LeftOut>) -> Did {
        let (input, picture) = match input {
            Ok(named) => named,
            Err(left_out) => return Did::LeftOut(left_out),
        };
        let did = self.row_of(&input, picture);
        self.progress.add_file(input.path.metadata().map_or(0, |about| about.len()));
        did
    }

    /// * `picture`: where the take's picture goes.
    fn row_of(&self, input: &Input, picture: Option<PathBuf>) -> Did {
        let path = &input.path;
        let source = path.to_string_lossy();
        let mut earlier = self.standing.map(|rows| rows.rows(&source)).unwrap_or_default();
        if self.stop.load(Ordering::Relaxed) {
            // Not looked at: it is left as it was, and the next run decides.
            let as_it_was = |(row, _)| Did::Row { row, origin: Origin::Before, picture: None };
            return earlier.pop().map_or(Did::Stopped, as_it_was);
        }
        if !one::is_candidate(input) {
            return Did::PassedOver;
        }
        let sha256 = one::sha256_of(path);
        let made = Made {
            sha256: sha256.as_deref().unwrap_or_default().to_owned(),
            version: VERSION.to_owned(),
            settings: self.fingerprint.clone(),
        };
        let is_gone = matches!(sha256, Err(TakeError::NotFound | TakeError::DeadLink));
        if is_gone && earlier.last().is_some_and(|(_, entry)| entry.error.is_none()) {
            // What was measured is not unmeasured because the recording was put away.
            let as_it_was = |(row, _)| Did::Row { row, origin: Origin::Kept, picture: None };
            return earlier.pop().map_or(Did::Stopped, as_it_was);
        }
        let current = earlier.into_iter().find(|(_, entry)| {
            // It may have been written otherwise when its picture was drawn.
            let has_picture = |picture: &PathBuf| {
                let drawn_of = [path.as_path(), Path::new(&entry.source)];
                drawn_of.into_iter().any(|path| is_marked(picture, &mark(path, &made)))
            };
            let is_drawn = entry.error.is_some()
                || one::is_long(entry)
                || picture.as_ref().is_none_or(has_picture);
            entry.made == made && sha256.is_ok() && is_drawn
        });
        if let Some((row, entry)) = current {
            let is_drawn = entry.error.is_none() && !one::is_long(&entry);
            return Did::Row { row, origin: Origin::Before, picture: picture.filter(|_| is_drawn) };
        }
        let settings = &self.batch.settings;
        let outcome = match &sha256 {
            Ok(_) => one::read(path, picture.as_deref(), &made, settings, self.progress, self.stop),
            Err(error) => Outcome::Failed(error.to_string()),
        };
        let outcome = match &outcome {
            Outcome::Read(read) => Ok((&read.0.reading, Some(&read.1))),
            Outcome::Failed(error) => Err(error.as_str()),
            Outcome::Stopped => return Did::Stopped,
        };
        let row = self.batch.form.row(&Row {
            source: &source,
            sha256: sha256.as_deref().ok(),
            version: VERSION,
            settings: &self.fingerprint,
            outcome,
        });
        let is_drawn =
            outcome.is_ok_and(|(reading, _)| reading.duration_s <= one::LONGEST_PICTURE_S);
        Did::Row { row, origin: Origin::Now, picture: picture.filter(|_| is_drawn) }
    }
}
