//! Why the log refuses something, in one line: which thing, what is wrong, what to do.

use std::borrow::Cow;
use std::fmt::{Display, Formatter, Result};
use std::io;
use std::path::Path;

use crate::log::{
    BadForm, BadValue, Damage, Limited, LogError, NoExport, NotOnCard, Refused, Senseless, Tried,
    Unfit, WrongLabel,
};
use crate::words::commands::NO_DAY;
use crate::words::files::NO_FOLDER;
use crate::words::stage::stage_name;
use crate::words::system::{DISK_IS_FULL, LOG_HELD, refusal};

impl Display for LogError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        if let Some(which) = which(self) {
            write!(f, "{which}: ")?;
        }
        match self {
            Self::Missing(_) => {
                f.write_str("no log there yet; begin one with 'reedcrow reed new LABEL'")
            }
            Self::NotALog(_) => f.write_str("not a reed log; name another file with --log"),
            Self::Newer { found, known, .. } => write!(
                f,
                "made by a newer reedcrow (form {found}, this program knows {known}); use the newer \
                 program"
            ),
            Self::NoReed(_) => {
                f.write_str("no reed of that label; 'reedcrow reed list' shows them all")
            }
            Self::LabelTaken(_) => f.write_str("another reed has that label; choose another"),
            Self::Invalid(what) => f.write_str(what),
            Self::Closed(label) => {
                write!(f, "is closed; open it again with 'reedcrow reed close {label} --reopen'")
            }
            Self::NotWritable(_) => f.write_str(
                "the log may only be read here; ask its owner for permission, or copy it and its \
                 folder of recordings to a place of your own",
            ),
            Self::Held(_) => f.write_str(LOG_HELD),
            Self::Unsettled(_) => f.write_str(
                "a program was ended while it wrote the log, and it may not be put in order here; \
                 copy it with all files of its name to a place of your own, and read it there",
            ),
            Self::NothingToUndo(_) => f.write_str("nothing to undo"),
            Self::NothingToRedo(_) => f.write_str("nothing to redo"),
            Self::NotAsWritten(_) => f.write_str(
                "the log no longer holds what that change wrote, so it cannot be undone; run \
                 'reedcrow log check'",
            ),
            Self::Full(_) => {
                write!(f, "{DISK_IS_FULL}; nothing was changed: make room and do it again")
            }
            Self::Busy => {
                f.write_str("the log is in use by another program; wait a moment and do it again")
            }
            Self::Damaged(how) => write!(
                f,
                "the log is damaged; 'reedcrow log check --mend' rebuilds it from what can be read, \
                 and keeps the damaged file ({how})"
            ),
            Self::Row { table, row, what, .. } => {
                write!(f, "table {table}, row {row}: {what}; 'reedcrow log check' says how to mend")
            }
            Self::File { tried, cause, .. } => match (tried, cause.kind()) {
                (Tried::Written, io::ErrorKind::NotFound) => f.write_str(NO_FOLDER),
                _ => write!(f, "{tried}: {}", refusal(cause)),
            },
            Self::Disk(error) => write!(
                f,
                "the log's file could not be read or written, and nothing was changed: see whether the \
                 disk is full or failing ({error})"
            ),
            Self::Database(error) => write!(
                f,
                "the log does not allow that, and nothing was changed; 'reedcrow log check' says \
                 whether it is whole ({error})"
            ),
        }
    }
}

/// Which file or reed it is, where one is to be named.
fn which(error: &LogError) -> Option<Cow<'_, str>> {
    match error {
        LogError::Missing(path)
        | LogError::NotALog(path)
        | LogError::Newer { path, .. }
        | LogError::Held(path)
        | LogError::Unsettled(path)
        | LogError::File { path, .. } => Some(shown(path)),
        LogError::NotWritable(path) => path.as_deref().map(shown),
        LogError::Full(path) => Some(path.as_deref().map_or("the log".into(), shown)),
        LogError::NoReed(label)
        | LogError::LabelTaken(label)
        | LogError::Closed(label)
        | LogError::NothingToUndo(label)
        | LogError::NothingToRedo(label)
        | LogError::NotAsWritten(label) => Some(label.into()),
        LogError::Row { reed, .. } => reed.as_deref().map(Cow::from),
        LogError::Invalid(_)
        | LogError::Busy
        | LogError::Damaged(_)
        | LogError::Disk(_)
        | LogError::Database(_) => None,
    }
}

fn shown(path: &Path) -> Cow<'_, str> {
    path.display().to_string().into()
}

impl Display for Damage {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Says(how) => f.write_str(how),
            Self::EarlierForm(form) => write!(
                f,
                "it has the earlier form {form}; of such a log only a backup can be restored"
            ),
            Self::NoRow { table, row } => write!(f, "table {table} has no row {row}"),
            Self::TookNone(table) => write!(f, "{table} took no row"),
            Self::Value { table, column, form } => {
                let form = match form {
                    BadValue::OutOfRange => "a number out of range",
                    BadValue::OtherKind => "neither text nor a number",
                };
                write!(f, "table {table}: {column} holds {form}")
            }
            Self::NotARow(what) => write!(f, "no row: {what}"),
            Self::Change { change, table, row } => {
                write!(f, "change {change}: table {table}, row {row}")
            }
            Self::Pointer { table, row, column } => {
                write!(f, "table {table}, row {row}: {column}")
            }
        }
    }
}

impl Display for Unfit<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Label { label, wrong } => {
                let wrong = match wrong {
                    WrongLabel::Empty => "is empty",
                    WrongLabel::Spaces => "begins or ends with a space",
                    WrongLabel::Long => "is longer than 60 characters",
                    WrongLabel::Letters => "holds @, a slash, or a character that cannot be seen",
                    WrongLabel::Dash => "begins with a dash",
                };
                write!(f, "the label '{}' {wrong}; choose another", label.escape_debug())
            }
            Self::NotADay(said) => {
                write!(f, "'{said}' is not a day; {NO_DAY}")
            }
            Self::Gouge { mm, least_mm, most_mm } => write!(
                f,
                "a gouge of {mm} mm makes no sense; give how thick the cane is, {least_mm} to {most_mm} \
                 mm, such as 0.6"
            ),
            Self::Condition { of, value, least, most } => {
                let (name, unit, example) = match of {
                    Limited::Soaking => ("soaking", "minutes", 3),
                    Limited::Temperature => ("temperature", "degrees Celsius", 21),
                    Limited::Humidity => ("humidity", "percent", 45),
                    Limited::DaysPlayed => ("days played", "days", 4),
                    Limited::HoursPlayed => ("hours played", "hours", 6),
                };
                write!(
                    f,
                    "{name} of {value} {unit} makes no sense; give {least} to {most}, such as {example}"
                )
            }
            Self::Lived(hours) => write!(
                f,
                "a reed does not live for {hours} hours of playing; write how many it was good for, such \
                 as: lived 12"
            ),
            Self::NothingRated => f.write_str("a rating needs at least one word: pitch good"),
            Self::ClipWithoutAmount => {
                f.write_str("a clip needs its amount in millimetres: clip 0.3")
            }
            Self::ClipTooLong { mm, most_mm } => write!(
                f,
                "a clip of {mm} mm is too much: one clip takes {most_mm} mm at most; write one such as \
                 0.3, or measure the length again"
            ),
            Self::ClipToStaple { mm, left_mm, staple_mm } => write!(
                f,
                "a clip of {mm} mm would leave {left_mm} mm, less than the staple of {staple_mm} mm; \
                 measure the length again, or clip less"
            ),
            Self::Amount { mm, least_mm, most_mm } => write!(
                f,
                "an amount of {mm} mm makes no sense; write how much was cut, {least_mm} to {most_mm} mm, \
                 such as 0.3"
            ),
            Self::EmptyNote => f.write_str("a note needs its words"),
            Self::Contradicts(error) => {
                write!(f, "this does not go with what was measured before: {error}")
            }
            Self::NotKept(error) => write!(f, "this cannot be kept: {error}"),
        }
    }
}

impl Display for NotOnCard<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NeverCrowed(label) => write!(
                f,
                "{label}: was never crowed, so nothing can be told against it; crow it first"
            ),
            Self::NoTake { label, take, takes } => {
                write!(f, "{label}: has no take {take}; it has {takes}")
            }
            Self::NoTakeYet(label) => {
                write!(f, "{label}: has no take yet; crow it, or add a recording of it")
            }
            Self::NoReading { label, take } => write!(
                f,
                "{label}: take {take} has no reading that this version can use; 'reedcrow log reread \
                 {label}' reads it again"
            ),
            Self::NothingCrows { label, take } => {
                write!(f, "{label}: nothing crows in take {take}")
            }
            Self::NoCrow { label, take, crow, crows } => {
                write!(f, "{label}: take {take} has no crow {crow}; it has {crows}")
            }
            Self::NoSuch { label, what, number } => {
                write!(f, "{label}: no {what} {number}; 'reedcrow reed show {label}' lists them")
            }
            Self::CutIsNoNote(number) => write!(
                f,
                "step {number} is a cut, and a note is not; take it back with 'reedcrow reed undo'"
            ),
            Self::OnlyCuts { label, cuts } => {
                write!(f, "{label} has had {cuts} cuts; give a number up to that")
            }
            Self::NotMeasured { label, after_step } => write!(
                f,
                "{label}: nothing was measured {}, so nothing can be put right there; \
                 'reedcrow reed show {label}' lists what was measured and when, 'reedcrow reed measure \
                 {label}' writes down what it measures now",
                stage_name(*after_step)
            ),
            Self::MeasuredSo { label, after_step } => write!(
                f,
                "{label}: what was measured {} says so already; give what it is to say instead",
                stage_name(*after_step)
            ),
        }
    }
}

impl Display for Refused<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::FileExists(path) => {
                write!(f, "{}: already exists; name a new file", path.display())
            }
            Self::FolderExists(path) => {
                write!(f, "{}: already exists; name a new folder", path.display())
            }
            Self::SharesFolder { path, other, folder } => write!(
                f,
                "{}: would keep its recordings in {}, as {} does; name another file with --log",
                path.display(),
                folder.display(),
                other.display()
            ),
            Self::BackupStopped(path) => {
                write!(f, "{}: stopped, and no copy was made; do it again", path.display())
            }
            Self::NothingReadable(path) => write!(
                f,
                "{}: nothing of it can be read, and no weekly copy is beside it; it was left as it is: \
                 restore a backup, or import an export into a new log",
                path.display()
            ),
            Self::NotAnExport { path, why } => {
                write!(f, "{}: not an export of a reed log: {why}", path.display())
            }
            Self::SenselessExport { folder, label, what, lines } => write!(
                f,
                "{}: {label}: {what}; nothing was imported: export it again, or put that right in its \
                 {lines}",
                folder.display()
            ),
            Self::BrokenChange(label) => write!(
                f,
                "{label}: its record of changes names a row that the export does not hold; export it again"
            ),
            Self::BrokenPointer { table, column } => write!(
                f,
                "table {table}: {column} points to a row that the export does not hold; export it again"
            ),
        }
    }
}

impl Display for Tried {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(match self {
            Self::Opened => "could not be opened",
            Self::Read => "could not be read",
            Self::Written => "could not be written",
            Self::Made => "could not be made",
            Self::Listed => "could not be listed",
            Self::Rebuilt => "could not be rebuilt",
            Self::PutAside => "could not be put aside",
            Self::Synced => "could not be written safely to the disk",
            Self::TookIn => "could not take the recording",
        })
    }
}

impl Display for NoExport {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Empty => f.write_str("it is empty"),
            Self::NotThere => {
                f.write_str("it is not there; name a folder that 'reedcrow log export' wrote")
            }
            Self::NoMark => f.write_str("it does not say that it is one"),
            Self::DamagedLine(line) => {
                write!(f, "it is damaged in line {line}; copy it again, or export again")
            }
            Self::Lacks { read, named } => write!(
                f,
                "it holds {read} of the {named} reeds that it names; copy it again, or export again"
            ),
        }
    }
}

impl Display for Senseless {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Holds { field, shown } => {
                write!(f, "'{field}' holds {shown}, which cannot be there")
            }
            Self::Unreadable { field, form } => {
                let instead = match form {
                    BadForm::NoText => "something other than text",
                    BadForm::BrokenJson => "broken JSON",
                };
                write!(f, "'{field}' holds {instead}")
            }
            Self::Lacks(field) => write!(f, "'{field}' is missing"),
            Self::Contradicts => f.write_str("its fields contradict each other"),
            Self::Reading => f.write_str("'reading' holds what cannot be there"),
            Self::NotUnderstood => f.write_str("it is not understood"),
            Self::Refused(why) => f.write_str(why),
            Self::NoTable(name) => write!(f, "there is no table '{name}'"),
            Self::NoReed => f.write_str("the reed itself is missing"),
            Self::SeveralReeds => f.write_str("'uid' is not the same everywhere"),
            Self::Twice { table, number } => {
                write!(f, "{table}: number {number} is there twice")
            }
            Self::InRow { table, place, what } => write!(f, "{table} {place}: {what}"),
            Self::InChange { number, table: Some(table), what } => {
                write!(f, "change {number}, {table}: {what}")
            }
            Self::InChange { number, table: None, what } => write!(f, "change {number}: {what}"),
        }
    }
}
