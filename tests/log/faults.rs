//! Every operation of a working day on the disk fails once, and the power goes after every one:
//! nothing that was acknowledged is lost. With `REEDCROW_YEAR=whole` the day is one at the end of a year,
//! where some operations of each command are tried instead of all: each look at such a log takes a while.
//!
//! The faults are made under the program, by a library that stands before the C library
//! (`faulty_disk/lib.rs`), so the database is under them too. It is Linux's way; the files themselves
//! are written alike everywhere (`src/files.rs`).

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use reedcrow::log::{Log, LogError};
use tempfile::TempDir;

use super::{YEAR, contents, import_year, reedcrow_on, write_recording, year_is_whole};

/// A folder in memory where the system has one: what a disk keeps is told by what was asked of it, not by
/// this one, which would only be waited for.
fn folder() -> TempDir {
    tempfile::tempdir_in("/dev/shm").unwrap_or_else(|_| TempDir::new().unwrap())
}

/// The library, built once.
fn faulty_disk() -> &'static Path {
    static BUILT: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, library) = BUILT.get_or_init(|| {
        let folder = TempDir::new().unwrap();
        let library = folder.path().join("libfaulty_disk.so");
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/log/faulty_disk/lib.rs");
        let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
        let built = Command::new(rustc)
            .args(["--edition", "2024", "--crate-type", "cdylib", "-O", "-o"])
            .args([&library, Path::new(source)])
            .output()
            .unwrap();
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        (folder, library)
    });
    library
}

/// What a day brings, one command after the other; DISK is the folder that fails.
const DAY: [&[&str]; 17] = [
    &["reed", "new", "A", "--owner", "Ilse"],
    &["reed", "measure", "A", "--length-mm", "71"],
    &["reed", "inspect", "A", "--leak", "none"],
    &["reed", "conditions", "A", "--player", "Ilse"],
    &["reed", "take", "A", "DISK/1.wav"],
    &["reed", "take", "A", "DISK/2.wav"],
    &["reed", "step", "A", "clip", "0.3"],
    &["reed", "take", "A", "DISK/3.wav"],
    &["reed", "take", "A", "DISK/3.wav", "--temperature", "24"],
    &["reed", "undo", "A"],
    &["reed", "redo", "A"],
    &["reed", "edit", "A", "--owner", "Mirek"],
    &["log", "export", "DISK/export"],
    &["log", "backup", "DISK/backup.db"],
    &[
        "batch",
        "DISK/1.wav",
        "DISK/2.wav",
        "--out",
        "DISK/table.jsonl",
        "--crows",
        "DISK/crows.csv",
    ],
    &["reed", "close", "A", "done"],
    &["log", "import", "DISK/export"],
];

/// A folder with a log and three recordings.
struct Disk {
    folder: TempDir,
}

impl Disk {
    fn new() -> Self {
        let disk = Self { folder: folder() };
        if year_is_whole() {
            let takes = import_year(&mut Log::open(&disk.path("reeds.db")).unwrap(), YEAR);
            say(&format!("*** a log with {takes} takes"));
        }
        for number in 1..=3 {
            write_recording(&disk.path(&format!("{number}.wav")), number);
        }
        disk
    }

    fn copy(&self) -> Self {
        let copy = Self { folder: folder() };
        copy_folder(self.folder.path(), copy.folder.path());
        copy
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let folder = self.folder.path().to_str().unwrap();
        let typed: Vec<String> =
            arguments.iter().map(|word| word.replace("DISK", folder)).collect();
        let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
        reedcrow_on(&self.path("reeds.db"), &typed)
    }

    /// Runs it with the library under it.
    fn run(&self, arguments: &[&str], faults: &[(&str, &str)]) -> Output {
        let mut command = self.command(arguments);
        command.env("LD_PRELOAD", faulty_disk());
        command.env("FAULTY_FOLDER", self.folder.path());
        command.envs(faults.iter().copied()).output().unwrap()
    }

    /// Every change there is of the day's reed in the log, which must be whole; 0 where there is no log.
    fn changes(&self, whence: &str) -> usize {
        let log = self.path("reeds.db");
        if !log.exists() {
            return 0;
        }
        let log = match Log::open_existing(&log) {
            Ok(log) => log,
            // The first operations of all make the log.
            Err(LogError::Missing(_)) => return 0,
            Err(error) => panic!("{whence}: {error}"),
        };
        assert_eq!(log.check().unwrap().faults, [], "{whence}");
        match log.exported(&["A".into()]) {
            Ok(exported) => exported.reeds.iter().map(|reed| reed.changes.len()).sum(),
            Err(LogError::NoReed(_)) => 0,
            Err(error) => panic!("{whence}: {error}"),
        }
    }

    /// What stands under the names that commands write to.
    fn written(&self) -> BTreeMap<&'static str, Vec<(String, Vec<u8>)>> {
        let mut written = BTreeMap::new();
        for name in ["table.jsonl", "crows.csv", "export"] {
            let path = self.path(name);
            if path.is_dir() {
                written.insert(name, contents(&path));
            } else if path.exists() {
                let text = fs::read_to_string(&path).unwrap();
                let text = text.replace(self.folder.path().to_str().unwrap(), "DISK");
                written.insert(name, vec![(String::new(), text.into_bytes())]);
            }
        }
        if self.path("backup.db").exists() {
            let backup = Log::open_existing(&self.path("backup.db")).unwrap();
            // Its recordings are not beside it, which the check tells.
            assert!(backup.history("A").is_ok());
            written.insert("backup.db", Vec::new());
        }
        written
    }
}

fn copy_folder(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let (path, name) = entry.map(|entry| (entry.path(), entry.file_name())).unwrap();
        if path.is_dir() {
            fs::create_dir(to.join(&name)).unwrap();
            copy_folder(&path, &to.join(name));
        } else {
            fs::copy(&path, to.join(name)).unwrap();
        }
    }
}

/// Past the test harness, which shows nothing of tests that pass.
fn say(line: &str) {
    std::io::stderr().write_all(format!("{line}\n").as_bytes()).unwrap();
}

/// Of so many operations of a command one in how many is tried.
fn one_in(operations: usize) -> usize {
    if year_is_whole() { operations.div_ceil(4) } else { 1 }
}

#[test]
fn every_operation_of_a_day_fails_once_and_nothing_acknowledged_is_lost() {
    let before = Disk::new();
    let failed = AtomicUsize::new(0);
    for command in DAY {
        let (was, there) = (before.changes("before"), before.written());
        let whole = before.copy();
        let trace = TempDir::new().unwrap();
        let trace = trace.path().join("trace");
        let output = whole.run(command, &[("FAULTY_TRACE", trace.to_str().unwrap())]);
        assert!(output.status.success(), "{command:?}: {output:?}");
        let (is, then) = (whole.changes("after"), whole.written());
        let operations = fs::read(&trace).map(|trace| Operation::all(&trace)).unwrap_or_default();
        let count = operations.iter().filter(|done| done.what != b'a').count();
        assert!(count > 0, "{command:?}");
        let one = |number: usize| {
            let how = ["error", "full", "short"][number % 3];
            let whence = format!("{command:?}, operation {number} of {count}, {how}");
            let disk = before.copy();
            let at = number.to_string();
            let output = disk.run(command, &[("FAULTY_AT", &at), ("FAULTY_HOW", how)]);
            let said = String::from_utf8_lossy(&output.stderr);
            let changes = disk.changes(&whence);
            assert!((was..=is).contains(&changes), "{whence}: {changes}, {said}");
            let written = disk.written();
            for (name, content) in &written {
                let before = there.get(name);
                let is_whole = then.get(name) == Some(content) || before == Some(content);
                assert!(is_whole, "{whence}: {name} is torn");
            }
            if output.status.success() {
                assert_eq!(changes, is, "{whence}: acknowledged and lost");
                assert_eq!(written, then, "{whence}: acknowledged and lost");
            } else {
                // One line for each thing that is wrong; no panic, no number of the system's.
                assert!(!said.is_empty() && said.lines().count() <= 3, "{whence}: {said}");
                assert!(
                    !said.contains("panicked") && !said.contains("os error"),
                    "{whence}: {said}"
                );
            }
            failed.fetch_add(1, Ordering::Relaxed);
        };
        // Two at a time: most of it is waiting for programs to start and end.
        std::thread::scope(|scope| {
            let every = one_in(count);
            for start in [1, 1 + every] {
                let one = &one;
                scope.spawn(move || (start..=count).step_by(2 * every).for_each(one));
            }
        });
        let output = before.command(command).output().unwrap();
        assert!(output.status.success(), "{command:?}: {output:?}");
    }
    say(&format!("*** {} operations failed once, nothing lost", failed.into_inner()));
}

#[test]
fn the_power_goes_after_every_operation_of_a_day_and_nothing_acknowledged_is_lost() {
    let before = Disk::new();
    let (mut states, mut looked_at) = (0, 0);
    for command in DAY {
        let was = before.changes("before");
        let start = before.copy();
        let trace = TempDir::new().unwrap();
        let trace = trace.path().join("trace");
        let mut disk = Synced::of(before.folder.path());
        let output = start.run(command, &[("FAULTY_TRACE", trace.to_str().unwrap())]);
        assert!(output.status.success(), "{command:?}: {output:?}");
        let is = start.changes("after");
        let mut is_acknowledged = false;
        let mut seen = None;
        let root = start.folder.path().to_str().unwrap().to_owned();
        let operations = Operation::all(&fs::read(&trace).unwrap());
        for (number, done) in operations.iter().enumerate() {
            is_acknowledged |= done.what == b'a';
            disk.does(done, &root);
            // After the last of all, too.
            if !(operations.len() - 1 - number).is_multiple_of(one_in(operations.len())) {
                continue;
            }
            states += 1;
            // What is on the disk changes when something is synced: between two syncs the power leaves
            // the same.
            let kept = (disk.on_disk(), is_acknowledged);
            if seen.as_ref() == Some(&kept) {
                continue;
            }
            seen = Some(kept);
            looked_at += 1;
            let whence =
                format!("{command:?}, power gone after operation {number} ({})", done.what as char);
            let left = Disk { folder: folder() };
            disk.write_to(left.folder.path());
            let changes = left.changes(&whence);
            assert!((was..=is).contains(&changes), "{whence}: {changes}");
            assert!(!is_acknowledged || changes == is, "{whence}: acknowledged and lost");
            left.written();
        }
        let output = before.command(command).output().unwrap();
        assert!(output.status.success(), "{command:?}: {output:?}");
    }
    say(&format!("*** the power went {states} times and left {looked_at} disks, nothing lost"));
}

/// What the library told of one operation.
#[derive(Debug)]
struct Operation {
    what: u8,
    paths: [String; 2],
    at: usize,
    bytes: Vec<u8>,
}

impl Operation {
    fn all(mut trace: &[u8]) -> Vec<Self> {
        let mut all = Vec::new();
        while let Some((&what, rest)) = trace.split_first() {
            trace = rest;
            let mut parts = Vec::new();
            for _ in 0..3 {
                let (bytes, rest) = trace.split_first_chunk::<8>().unwrap();
                let (part, rest) = rest.split_at(u64::from_le_bytes(*bytes) as usize);
                trace = rest;
                parts.push(part.to_vec());
            }
            let (bytes, rest) = trace.split_first_chunk::<8>().unwrap();
            trace = rest;
            let at = u64::from_le_bytes(*bytes) as usize;
            let bytes = parts.pop().unwrap();
            let paths: Vec<String> =
                parts.into_iter().map(|path| String::from_utf8(path).unwrap()).collect();
            all.push(Self { what, paths: paths.try_into().unwrap(), at, bytes });
        }
        all
    }
}

/// A disk that keeps of a file what was synced, and of a folder the names it had when that was: all
/// else is lost with the power.
#[derive(Default)]
struct Synced {
    /// Names, as the running program sees them, and as they are on the disk, to numbers of files.
    names: HashMap<String, usize>,
    kept_names: HashMap<String, usize>,
    folders: Vec<String>,
    kept_folders: Vec<String>,
    /// What files hold, by their number.
    files: Vec<Vec<u8>>,
    kept_files: Vec<Vec<u8>>,
}

impl Synced {
    /// All that is there is on the disk.
    fn of(folder: &Path) -> Self {
        let mut disk = Self::default();
        disk.add(folder, "");
        disk.kept_names = disk.names.clone();
        disk.kept_folders = disk.folders.clone();
        disk.kept_files = disk.files.clone();
        disk
    }

    fn add(&mut self, folder: &Path, name: &str) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{name}/{}", entry.file_name().into_string().unwrap());
            if entry.path().is_dir() {
                self.folders.push(name.clone());
                self.add(&entry.path(), &name);
            } else {
                self.names.insert(name, self.files.len());
                self.files.push(fs::read(entry.path()).unwrap());
            }
        }
    }

    fn does(&mut self, done: &Operation, root: &str) {
        let [name, to] = &done.paths;
        let [name, to] = [name, to].map(|path| path.strip_prefix(root).unwrap_or(path).to_owned());
        // A file that was renamed or removed while it is open is told by a name it no longer has.
        let name = name.trim_end_matches(" (deleted)").to_owned();
        match done.what {
            b'o' if self.names.contains_key(&name) => {}
            b'o' => {
                self.names.insert(name, self.files.len());
                self.files.push(Vec::new());
                self.kept_files.push(Vec::new());
            }
            b'd' => self.folders.push(name),
            b'w' => {
                let Some(&file) = self.names.get(&name) else { return };
                let file = &mut self.files[file];
                let end = done.at + done.bytes.len();
                file.resize(file.len().max(end), 0);
                file[done.at..end].copy_from_slice(&done.bytes);
            }
            b't' => {
                if let Some(&file) = self.names.get(&name) {
                    self.files[file].resize(done.at, 0);
                }
            }
            b's' => match self.names.get(&name) {
                Some(&file) => self.kept_files[file] = self.files[file].clone(),
                None => self.sync_folder(&name),
            },
            b'u' => drop(self.names.remove(&name)),
            b'r' => {
                if let Some(file) = self.names.remove(&name) {
                    self.names.insert(to, file);
                    return;
                }
                let inside = |path: &str| path == name || path.starts_with(&format!("{name}/"));
                let moved = |path: &str| format!("{to}{}", &path[name.len()..]);
                let files: Vec<_> =
                    self.names.keys().filter(|path| inside(path)).cloned().collect();
                for path in files {
                    let file = self.names.remove(&path).unwrap();
                    self.names.insert(moved(&path), file);
                }
                for path in self.folders.iter_mut().filter(|path| inside(path)) {
                    *path = moved(path);
                }
                // What was synced in it stays so under its new name, once that is on the disk.
                let kept: Vec<_> =
                    self.kept_names.keys().filter(|path| inside(path)).cloned().collect();
                for path in kept {
                    let file = self.kept_names.remove(&path).unwrap();
                    self.kept_names.insert(moved(&path), file);
                }
            }
            _ => {}
        }
    }

    fn sync_folder(&mut self, folder: &str) {
        let is_in = |path: &str| path.rsplit_once('/').is_some_and(|(parent, _)| parent == folder);
        self.kept_names.retain(|path, _| !is_in(path));
        let here = self.names.iter().filter(|(path, _)| is_in(path));
        self.kept_names.extend(here.map(|(path, file)| (path.clone(), *file)));
        self.kept_folders.retain(|path| !is_in(path));
        let here = self.folders.iter().filter(|path| is_in(path));
        self.kept_folders.extend(here.cloned());
    }

    /// Names, folders and contents that are on the disk.
    fn on_disk(&self) -> (BTreeMap<String, Vec<u8>>, Vec<String>) {
        let names = self.kept_names.iter();
        let files = names.map(|(name, file)| (name.clone(), self.kept_files[*file].clone()));
        (files.collect(), self.kept_folders.clone())
    }

    /// What is there after the power went.
    fn write_to(&self, folder: &Path) {
        let mut folders = self.kept_folders.clone();
        folders.sort();
        for path in &folders {
            fs::create_dir_all(folder.join(&path[1..])).unwrap();
        }
        for (path, file) in &self.kept_names {
            let parent = path.rsplit_once('/').map_or("", |(parent, _)| parent);
            if parent.is_empty() || folders.iter().any(|folder| folder == parent) {
                fs::write(folder.join(&path[1..]), &self.kept_files[*file]).unwrap();
            }
        }
    }
}
