//! Standard output and standard error, and what the terminal behind them can show.

use std::env;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::anyhow;
use jiff::tz::TimeZone;

use crate::batch::{BatchError, shown};
use crate::files::write_whole;
use crate::log::Reeds;
use crate::report::answers::{Answer, Show};
use crate::report::terminal::Style;
use crate::system::{System, bad_name};
use crate::text::{is_unseen, visible, written_out};
use crate::words::format::LengthUnit;
use crate::words::reading::PLUS_MINUS;
use crate::words::system::{self, DISK_IS_FULL, IS_FOLDER, refusal};
use crate::words::{errors, files};

/// Writes `text` to standard output at once.
///
/// Errors: as the system reports them; a reader that went away is told apart by [`is_closed`].
pub fn print(text: &str) -> io::Result<()> {
    let mut output = io::stdout().lock();
    output.write_all(safe(text).as_bytes())?;
    output.flush()
}

/// Whether a figure with its interval was told to somebody.
static INTERVAL_TOLD: AtomicBool = AtomicBool::new(false);

/// As [`print`], what people read. Where it holds a figure with its interval, [`foot`] says what that
/// means.
pub fn told(text: &str) -> io::Result<()> {
    tells(text);
    print(text)
}

/// That `text` is told by somebody else: see [`told`].
pub fn tells(text: &str) {
    if text.contains(['±']) || text.contains("+/-") {
        INTERVAL_TOLD.store(true, Ordering::Relaxed);
    }
}

/// Prints what ± means, once at the end of a command that told one.
///
/// Errors: as [`print`].
pub fn foot() -> io::Result<()> {
    match INTERVAL_TOLD.swap(false, Ordering::Relaxed) {
        true => print(&style().letters(style().wrapped("", PLUS_MINUS).join("\n") + "\n")),
        false => Ok(()),
    }
}

/// Prints what was done and is stored. Where that fails, it says what was stored, so that nobody does
/// it twice; a reader that went away is told apart by [`is_closed`].
pub fn print_done(text: &str) -> anyhow::Result<()> {
    match print(text) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Err(error.into()),
        Err(error) => {
            let why = match error.kind() {
                io::ErrorKind::StorageFull => DISK_IS_FULL.to_owned(),
                _ => refusal(&error),
            };
            let first = text.lines().next().unwrap_or_default();
            Err(anyhow!("{}", errors::done_but_not_said(first, &why)))
        }
    }
}

/// `text` as a terminal may have it: lines, the colours of [`Style`], and nothing else that is
/// unseen. Names of files, of devices and of people may hold commands to a terminal.
pub fn safe(text: &str) -> String {
    let mut pieces = text.split('\u{1b}');
    let mut safe = plain(pieces.next().unwrap_or_default());
    for piece in pieces {
        let is_ours = Style::CODES.iter().any(|code| piece.starts_with(code));
        safe += if is_ours { "\u{1b}" } else { "\\u001b" };
        safe += &plain(piece);
    }
    safe
}

/// Standard output where it is a terminal, for tables, which are written as they are to files.
pub struct Terminal;

impl Write for Terminal {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        io::stdout().write_all(safe(&String::from_utf8_lossy(bytes)).as_bytes())?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        io::stdout().flush()
    }
}

fn plain(text: &str) -> String {
    written_out(text, |letter| letter != '\n' && is_unseen(letter))
}

/// Prints a line to standard output as `println!` does, except that a reader that went away is an
/// error to hand on with `?`, and no panic.
macro_rules! say {
    ($($text:tt)*) => {
        $crate::cli::output::print(&(format!($($text)*) + "\n"))?
    };
}
pub(super) use say;

/// Writes what is wrong to standard error: one line for programs, broken at words on a terminal.
/// That nobody can read it is no reason to stop.
pub fn complain(text: &str) {
    tell_under("reedcrow: ", text);
}

/// As [`complain`], what is only told.
pub fn tell(text: &str) {
    tell_under("", text);
}

fn tell_under(label: &str, text: &str) {
    let lines = match io::stderr().is_terminal() {
        true => safe(&style_of(true).wrapped(label, &visible(text)).join("\n")),
        false => format!("{label}{}", visible(text)),
    };
    let _ = writeln!(io::stderr().lock(), "{lines}");
}

/// The reeds that can be read; each other one is told, and makes an exit code of failure.
pub fn whole<T>(reeds: Reeds<T>) -> (Vec<T>, ExitCode) {
    reeds.passed_over.iter().for_each(|reed| complain(&reed.why));
    let all_read = match reeds.passed_over.is_empty() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    };
    (reeds.whole, all_read)
}

/// Where a file that is to be `path` is written: a link is written through.
///
/// Errors: a folder, a device, a pipe, a link that leads nowhere, or a name that no file may have here.
pub fn place(path: &Path) -> anyhow::Result<PathBuf> {
    let refused = |what: &str| Err(anyhow!("{}: {what}", shown(path)));
    may_be_named(path)?;
    let Ok(about) = path.symlink_metadata() else { return Ok(path.to_owned()) };
    let place = match about.is_symlink() {
        false => path.to_owned(),
        true => match path.canonicalize() {
            Ok(place) => place,
            Err(_) => return refused(files::DEAD_LINK),
        },
    };
    match place.metadata() {
        Ok(about) if about.is_dir() => refused(IS_FOLDER),
        Ok(about) if !about.is_file() => refused(files::IS_DEVICE),
        _ => Ok(place),
    }
}

/// Errors: no file may have that name on this system.
pub fn may_be_named(path: &Path) -> anyhow::Result<()> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    match bad_name(System::HERE, &name) {
        Some(why) => Err(anyhow!("{}: {}", shown(path), system::bad_name(why))),
        None => Ok(()),
    }
}

/// Writes a file whole or not at all: under a temporary name beside it, then renamed.
///
/// Errors: one line with the path in front.
pub fn save(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    write_whole(&place(path)?, bytes)
        .map_err(|error| anyhow!("{}: {}", shown(path), files::not_written(&error)))
}

/// Writes a file whole where none is yet, or not at all.
pub fn save_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if path.symlink_metadata().is_ok() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    write_whole(path, bytes)
}

/// Whether `error` only says that the reader of the output went away, as `head` does.
pub fn is_closed(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause
            .downcast_ref::<io::Error>()
            .is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
    })
}

/// Why standard output could not be written to, where that is all that `error` says.
pub fn unprinted(error: &anyhow::Error) -> Option<&io::Error> {
    match error.downcast_ref() {
        Some(BatchError::Print(cause)) => Some(cause),
        // Of a file the name would stand in front.
        _ => error.downcast_ref().filter(|_| error.chain().count() == 1),
    }
}

/// What standard output can show: colour only on a terminal and without NO_COLOR, ASCII where the
/// locale is set and is not UTF-8, and the terminal's width up to 100 columns, beyond which sentences
/// are hard to read.
pub fn style() -> Style {
    style_of(io::stdout().is_terminal())
}

/// As [`style`], for tables: the whole width of the terminal.
pub fn table_style() -> Style {
    let style = style();
    let columns = if io::stdout().is_terminal() { terminal_columns() } else { None };
    Style { width: columns.map_or(style.width, |columns| columns.max(style.width)), ..style }
}

/// An answer as it is shown here: on this terminal, in the maker's zone.
pub fn answer(unit: LengthUnit, told: impl FnOnce(Show<'_>) -> Answer) -> String {
    told(Show { unit, zone: &TimeZone::system() }).text(&style(), &table_style())
}

fn style_of(is_terminal: bool) -> Style {
    let no_color = env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = env::var_os("TERM").is_some_and(|value| value == "dumb");
    let width = if is_terminal { terminal_columns() } else { None };
    Style {
        width: width.unwrap_or(80).clamp(40, 100),
        color: is_terminal && !no_color && !dumb && knows_colours(),
        unicode: locale_is_unicode(|name| env::var(name).ok()),
    }
}

fn terminal_columns() -> Option<usize> {
    crossterm::terminal::size().ok().map(|(columns, _)| usize::from(columns))
}

/// Whether the console obeys escape sequences. Windows' does once it is asked to, which this does; an
/// earlier one shows them as letters.
fn knows_colours() -> bool {
    #[cfg(windows)]
    return crossterm::ansi_support::supports_ansi();
    #[cfg(not(windows))]
    true
}

/// The first of LC_ALL, LC_CTYPE and LANG that is set decides (POSIX.1-2017, 8.2); with none set,
/// UTF-8 is likelier than anything else.
fn locale_is_unicode(variable: impl Fn(&str) -> Option<String>) -> bool {
    let set = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(variable);
    let locale = set.into_iter().find(|value| !value.is_empty());
    locale.is_none_or(|locale| {
        let locale = locale.to_ascii_lowercase();
        locale.contains("utf-8") || locale.contains("utf8")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_locale_variable_that_is_set_decides() {
        let with = |pairs: &'static [(&str, &str)]| {
            locale_is_unicode(|name| {
                pairs.iter().find(|(key, _)| *key == name).map(|(_, value)| (*value).to_owned())
            })
        };
        assert!(with(&[]));
        assert!(with(&[("LANG", "de_DE.UTF-8")]));
        assert!(!with(&[("LC_ALL", "C"), ("LANG", "de_DE.UTF-8")]));
        assert!(with(&[("LC_ALL", ""), ("LC_CTYPE", "C.utf8"), ("LANG", "C")]));
    }
}
