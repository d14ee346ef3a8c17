//! `reedcrow batch`: folders of recordings in, a table of readings out.

mod display;

use std::io::{self, BufReader, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use anyhow::{anyhow, bail};

use super::expectations::Expectations;
use super::files::{Files, Kind};
use super::output;
use crate::batch::{
    self, Batch, BatchError, Done, Form, Inputs, LONGEST_PICTURE_S, Settings, Summary, Table,
};
use crate::files;
use crate::profile::Profile;
use crate::report::crow_csv;
use crate::report::csv;
use crate::report::page::{self, HeldTo, PageRow};
use crate::take::{Channel, TakeError, is_pattern};
use crate::words::batch as words;
use crate::words::columns;
use crate::words::files::no_folder;
use crate::words::system::refusal;
use crate::words::usage;
use display::Display;

/// Columns for the names of columns; longer ones stand on a line of their own.
const LABEL: usize = 28;

/// More recordings at once cost memory and save no time, on a slow disk either.
const JOBS_PER_CORE: usize = 4;

/// What a shell reports for a program that Ctrl-C ended.
const INTERRUPTED: u8 = 130;

/// Options of the command.
#[derive(Debug, clap::Args)]
#[command(after_long_help = usage::OF_BATCH)]
pub struct Args {
    /// Recordings, and folders of them
    #[arg(value_name = "PATH", required_unless_present_any = ["files_from", "merge", "columns"])]
    paths: Vec<PathBuf>,
    /// Where the table goes; the ending says which kind [default: CSV on standard output]
    #[arg(long, value_name = "TABLE.csv|TABLE.jsonl")]
    out: Option<PathBuf>,
    /// Read folders inside folders as well
    #[arg(long, short)]
    recursive: bool,
    /// Read paths from a list as well, one a line or separated by zero bytes; - is standard input
    #[arg(long, value_name = "LIST")]
    files_from: Option<PathBuf>,
    /// Recordings to read at once, at most four for each core [default: one for each]
    #[arg(long, short, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
    jobs: Option<u16>,
    /// Go on with a table that is not finished: rows whose recording and settings are unchanged stay
    #[arg(long, requires = "out")]
    resume: bool,
    /// Write a table that is there already anew; without it that table is left alone
    #[arg(long, requires = "out", conflicts_with = "resume")]
    replace: bool,
    /// Write a picture of each take of up to two minutes into a folder
    #[arg(long, value_name = "FOLDER")]
    plots: Option<PathBuf>,
    /// Write a table with one row per crow as well; the takes' table must be TABLE.jsonl, which
    /// holds every crow
    #[arg(long, value_name = "CROWS.csv", requires = "out")]
    crows: Option<PathBuf>,
    /// Write one page over all takes, to open in a browser: a table to sort, and charts
    #[arg(long, value_name = "OVERVIEW.html")]
    page: Option<PathBuf>,
    /// Join tables that were made of parts, on several machines for instance, instead of reading
    #[arg(
        long,
        value_name = "PART",
        num_args = 1..,
        requires = "out",
        conflicts_with_all = ["paths", "files_from", "resume", "plots", "recursive", "jobs"]
    )]
    merge: Vec<PathBuf>,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    #[command(flatten)]
    expectations: Expectations,
    /// Say what each column of the table holds
    #[arg(long, exclusive = true)]
    columns: bool,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    if args.columns {
        return print_columns();
    }
    let mut args = args;
    let form = args.out.as_deref().map_or(Ok(Form::Csv), Form::of)?;
    if let Some(crows) = &args.crows {
        may_be_made(crows, form, args.resume || args.replace)?;
    }
    let profile = args.expectations.profile()?;
    let inputs = inputs(&args)?;
    know_files(&mut args, &inputs, form)?;
    let held_to = HeldTo::of(&profile);
    if let (Some(out), false) = (&args.out, args.merge.is_empty()) {
        let summary = Summary::new(&profile);
        let table = Table::create(out, form, args.replace)?;
        return merge(&args, out, table, form, summary, &held_to);
    }
    let batch = asked_for(&args, inputs, profile, form)?;
    let done = read(&batch)?;
    tell(&args, &batch, &held_to, &done)?;
    ending(&args, &done)
}

/// What is to be done. The folder for pictures is there then.
fn asked_for(args: &Args, inputs: Inputs, profile: Profile, form: Form) -> anyhow::Result<Batch> {
    if let Some(folder) = &args.plots {
        std::fs::create_dir_all(folder).map_err(|error| {
            let why = words::no_folder_for_pictures(&no_folder(&error));
            anyhow!("{}: {why}", batch::shown(folder))
        })?;
    }
    let cores = thread::available_parallelism().map_or(1, usize::from);
    Ok(Batch {
        inputs,
        settings: Settings {
            profile,
            a4: args.expectations.a4,
            channel: args.channel.unwrap_or_default(),
        },
        plots: args.plots.clone(),
        out: args.out.clone(),
        form,
        jobs: args.jobs.map_or(cores, usize::from).min(JOBS_PER_CORE * cores),
        resume: args.resume,
        replace: args.replace,
        page: args.page.is_some(),
    })
}

/// Reads all recordings, or as many as there is time for before Ctrl-C.
fn read(batch: &Batch) -> Result<Done, BatchError> {
    let stop = stop_on_ctrl_c();
    let display = Display::start(&batch.inputs);
    let printed: Box<dyn Write> = match io::stdout().is_terminal() {
        true => Box::new(output::Terminal),
        false => Box::new(io::stdout()),
    };
    let complain = |line: &str| display.complain(line);
    let done = batch::run(batch, printed, display.progress(), &stop, complain);
    display.finish();
    done
}

/// Writes what is made of the table, and says what there is now.
fn tell(args: &Args, batch: &Batch, held_to: &HeldTo, done: &Done) -> anyhow::Result<()> {
    let target = held_to.target.map(|note| note.to_string());
    let mut closing = batch::closing(&done.summary, target.as_deref(), &output::style());
    if let Some(table) = batch.out.as_deref().filter(|_| done.summary.rows > 0) {
        closing += &written("Table", table);
    }
    let with_crows = match (&args.crows, &batch.out) {
        (Some(crows), Some(table)) if done.summary.rows > 0 => write_crows(table, crows),
        _ => Ok(String::new()),
    };
    closing += with_crows.as_deref().unwrap_or_default();
    let paged = match &args.page {
        Some(page) if done.summary.rows > 0 => {
            let title = title_of(args, &done.page_rows);
            write_page(page, &title, held_to, &done.page_rows, &done.summary)
        }
        _ => Ok(String::new()),
    };
    closing += paged.as_deref().unwrap_or_default();
    if let Some(folder) = &batch.plots {
        closing += &written("Pictures", folder);
        if done.without_picture > 0 {
            let without = words::too_long_for_pictures(done.without_picture, LONGEST_PICTURE_S);
            closing += &(output::style().wrapped("", &without).join("\n") + "\n");
        }
    }
    report(&closing, batch.out.is_some())?;
    if done.kept > 0 {
        output::complain(&words::kept(done.kept, done.kept_of_other_making));
    }
    with_crows?;
    paged?;
    Ok(())
}

/// How a batch ends for whoever called it.
fn ending(args: &Args, done: &Done) -> anyhow::Result<ExitCode> {
    if done.stopped {
        output::complain(words::stopped(args.out.is_some()));
        return Ok(ExitCode::from(INTERRUPTED));
    }
    if done.summary.rows == 0 && done.left_out == 0 {
        // One of many parts of an archive may have nothing to do: fewer recordings than machines.
        if args.files_from.is_some() && args.paths.is_empty() {
            output::tell(words::EMPTY_LIST);
            return Ok(ExitCode::SUCCESS);
        }
        bail!(words::NO_RECORDINGS);
    }
    let failed = done.summary.failed() > 0 || done.left_out > 0;
    Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Sees to it that nothing that is to be written takes the place of something else, and where a link
/// leads that is to be written.
fn know_files(args: &mut Args, inputs: &Inputs, form: Form) -> anyhow::Result<()> {
    let mut files = Files::default();
    inputs
        .paths
        .iter()
        .chain(&args.merge)
        .chain(&args.files_from)
        .for_each(|path| files.reads(path));
    files.reads(Path::new(&args.expectations.profile));
    if let Some(out) = &args.out {
        output::may_be_named(out)?;
    }
    if let Some(out) = args.out.as_mut().filter(|out| args.resume || args.replace || !out.exists())
    {
        *out = files.writes(out, Kind::Table(form))?;
    }
    for (path, kind) in [(&mut args.crows, Kind::Crows), (&mut args.page, Kind::Page)] {
        if let Some(path) = path {
            *path = files.writes(path, kind)?;
        }
    }
    Ok(())
}

fn inputs(args: &Args) -> anyhow::Result<Inputs> {
    let mut paths = args.paths.clone();
    // A table of nothing but slips of the keys is of no use.
    if let (Some(first), false, None) =
        (paths.first(), paths.iter().any(|path| path.symlink_metadata().is_ok()), &args.files_from)
    {
        if is_pattern(first) {
            bail!("{}: {}", batch::shown(first), TakeError::NoMatch);
        }
        bail!("{}: {}", batch::shown(first), words::NOTHING_THERE);
    }
    if let Some(list) = &args.files_from {
        let listed = if list == Path::new("-") {
            batch::paths_in(io::stdin().lock())
        } else {
            files::open(list).and_then(|file| batch::paths_in(BufReader::new(file)))
        };
        paths.extend(listed.map_err(|error| {
            anyhow!("{}: {}: {}", batch::shown(list), words::THE_LIST, refusal(&error))
        })?);
    }
    Ok(Inputs { paths, recursive: args.recursive })
}

/// Where the system gives no thread to watch for Ctrl-C, that ends the program at once: the table is
/// then still there as .part.
fn stop_on_ctrl_c() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let told = Arc::clone(&stop);
    let _ = ctrlc::set_handler(move || {
        if told.swap(true, Ordering::Relaxed) {
            // The second time: now. The table is still there as .part.
            std::process::exit(i32::from(INTERRUPTED));
        }
    });
    stop
}

fn merge(
    args: &Args,
    out: &Path,
    table: Table,
    form: Form,
    summary: Summary,
    held_to: &HeldTo,
) -> anyhow::Result<ExitCode> {
    let merged = batch::merge(&args.merge, form, table, summary, args.page.is_some())?;
    let target = held_to.target.map(|note| note.to_string());
    let mut closing = batch::closing(&merged.summary, target.as_deref(), &output::style())
        + &written("Table", out);
    let with_crows = args.crows.as_ref().map_or(Ok(String::new()), |crows| write_crows(out, crows));
    closing += with_crows.as_deref().unwrap_or_default();
    let paged = args.page.as_ref().map_or(Ok(String::new()), |page| {
        write_page(page, &batch::shown(out), held_to, &merged.page_rows, &merged.summary)
    });
    closing += paged.as_deref().unwrap_or_default();
    report(&closing, true)?;
    with_crows?;
    paged?;
    if merged.repeated > 0 {
        output::complain(&words::left_out_twice(merged.repeated));
    }
    if merged.made_by.len() > 1 {
        output::complain(words::MADE_DIFFERENTLY);
    }
    let failed = merged.summary.failed() > 0;
    if failed {
        output::complain(&words::unread_in_joined(merged.summary.failed()));
    }
    Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Whether a table of crows can be made, before anything is read.
fn may_be_made(crows: &Path, takes: Form, over: bool) -> anyhow::Result<()> {
    if Form::of(crows)? != Form::Csv {
        bail!("{}: {}", batch::shown(crows), words::CROWS_ARE_CSV);
    }
    if takes != Form::JsonLines {
        bail!(words::CROWS_NEED_JSON);
    }
    if !over && crows.exists() {
        return Err(BatchError::Exists(batch::shown(crows)).into());
    }
    Ok(())
}

/// Returns the line that names it.
fn write_crows(table: &Path, crows: &Path) -> anyhow::Result<String> {
    batch::crow_table(table, crows)?;
    Ok(written("Crows", crows))
}

/// What a page is called: the one path that was named, or the folder that all takes lie in.
fn title_of(args: &Args, rows: &[PageRow]) -> String {
    let mut named = args.paths.iter().chain(&args.files_from);
    if let (Some(path), None) = (named.next(), named.next()) {
        // "." and ".." are not names.
        let whole = if path.file_name().is_none() { path.canonicalize().ok() } else { None };
        let name = whole.as_deref().and_then(Path::file_name).map(Path::new);
        return batch::shown(name.unwrap_or(path));
    }
    let folder = page::common_folder(rows.iter().map(|row| row.source.as_str()));
    let folder = folder.trim_end_matches(std::path::is_separator);
    if folder.is_empty() { "Takes".to_owned() } else { batch::shown(Path::new(folder)) }
}

/// Returns the line that names it.
fn write_page(
    path: &Path,
    title: &str,
    held_to: &HeldTo,
    rows: &[PageRow],
    summary: &Summary,
) -> anyhow::Result<String> {
    let folder = std::path::absolute(path)?.parent().map(Path::to_owned).unwrap_or_default();
    let link = |picture: &Path| {
        let picture = std::path::absolute(picture).ok()?;
        page::link(&folder, &picture)
    };
    output::save(path, page::page(title, held_to, rows, &batch::needs(summary), link).as_bytes())?;
    Ok(written("Page", path))
}

/// The line that names what was written.
fn written(what: &str, path: &Path) -> String {
    format!("{what}: {}\n", batch::shown(path))
}

/// Prints the closing summary: on standard output, unless the table stands there.
fn report(closing: &str, table_has_name: bool) -> anyhow::Result<()> {
    let text = output::style().letters(closing.to_owned());
    if table_has_name {
        output::print(&text)?;
    } else {
        io::stderr().lock().write_all(output::safe(&text).as_bytes())?;
    }
    Ok(())
}

fn print_columns() -> anyhow::Result<ExitCode> {
    let style = output::style();
    let widest = csv::columns().iter().map(|column| column.name.len()).max().unwrap_or(0);
    // A name that is as wide as all others' text is a line of its own.
    let label_width = widest.min(LABEL);
    let line = |name: &str, says: &str| {
        let (head, label) = match name.len() > label_width {
            true => (format!("{name}\n"), String::new()),
            false => (String::new(), name.to_owned()),
        };
        head + &style.wrapped(&format!("{label:<label_width$}  "), says).join("\n") + "\n"
    };
    let told = |column: &csv::Column| columns::with_ear(&column.says, column.ear);
    let mut text: String =
        csv::columns().iter().map(|column| line(&column.name, &told(column))).collect();
    text += &format!("\n{}\n\n", columns::OF_CROWS);
    text.extend(crow_csv::columns().map(|(name, says)| line(name, says)));
    output::print(&style.letters(text))?;
    Ok(ExitCode::SUCCESS)
}
