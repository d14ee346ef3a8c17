//! A folder with a log on which a day's commands are run over a disk that fails, made like another again
//! and again. Of a year's log no copy is made for each fault and none is held in memory: what differs is
//! written over.

use std::collections::{BTreeMap, HashMap};
use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::{Arc, Mutex, OnceLock};

use reedcrow::log::{Log, LogError};
use sha2::{Digest, Sha256};
use tempfile::TempDir;

use super::faults::say;
use super::{count_takes, reedcrow_on, write_recording, year, year_asked};

/// A folder in memory where the system has one: what a disk keeps is told by what was asked of it, not by
/// this one, which would only be waited for.
fn folder() -> TempDir {
    tempfile::tempdir_in("/dev/shm").unwrap_or_else(|_| TempDir::new().unwrap())
}

/// The library that stands under the program, built once.
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

/// How many changes logs hold that were looked through, by what their files held: equal files are looked
/// through once.
#[derive(Default)]
pub struct Known(Mutex<HashMap<String, Arc<OnceLock<usize>>>>);

/// What stands under the names that commands write to: the files of each, with what they hold as a hash.
pub type Written = BTreeMap<&'static str, Vec<(String, String)>>;

/// A folder with a log and three recordings.
pub struct Disk {
    folder: TempDir,
}

impl Disk {
    /// * `now_s`: as [`Self::run`] has it.
    pub fn new(now_s: u64) -> Self {
        let disk = Self::empty();
        if let Some(reeds) = year_asked() {
            let year = year(reeds);
            let import = ["log", "import", year.path().to_str().unwrap()];
            let output = disk.run(&import, now_s, &[]);
            assert!(output.status.success(), "{output:?}");
            let takes = count_takes(&Log::open_existing(&disk.path("reeds.db")).unwrap());
            say(&format!("*** a log with {takes} takes of {reeds} reeds"));
        }
        for number in 1..=3 {
            write_recording(&disk.path(&format!("{number}.wav")), number);
        }
        disk
    }

    pub fn empty() -> Self {
        Self { folder: folder() }
    }

    pub fn root(&self) -> &Path {
        self.folder.path()
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.root().join(name)
    }

    /// Makes it hold what the other holds.
    pub fn becomes(&self, other: &Self) {
        make_alike(other.root(), self.root());
    }

    /// Runs it with the library under it.
    ///
    /// * `arguments`: DISK is this folder.
    /// * `now_s`: the time that it is for the program, in seconds since 1970. The same commands at the same
    ///   time write the same log.
    pub fn run(&self, arguments: &[&str], now_s: u64, faults: &[(&str, &str)]) -> Output {
        let folder = self.root().to_str().unwrap();
        let typed: Vec<String> =
            arguments.iter().map(|word| word.replace("DISK", folder)).collect();
        let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
        let mut command = reedcrow_on(&self.path("reeds.db"), &typed);
        command.env("LD_PRELOAD", faulty_disk());
        command.env("FAULTY_FOLDER", self.root());
        command.env("FAULTY_TIME", now_s.to_string());
        command.envs(faults.iter().copied()).output().unwrap()
    }

    /// Every change there is of the day's reed in the log, which must be whole; 0 where there is no log.
    pub fn changes(&self, known: &Known, whence: &str) -> usize {
        let path = self.path("reeds.db");
        let open = || match Log::open_existing(&path) {
            Ok(log) => Some(log),
            // The first operations of all make the log.
            Err(LogError::Missing(_)) => None,
            Err(error) => panic!("{whence}: {error}"),
        };
        // Opened and closed, it has put in order what was left half done.
        if open().is_none() {
            return 0;
        }
        let mut files = vec![(String::new(), hash_of(&path))];
        files.extend(hashes(&self.path("reeds.audio")));
        let held = format!("{files:?}");
        let known = known.0.lock().unwrap().entry(held).or_default().clone();
        *known.get_or_init(|| {
            let log = open().unwrap();
            assert_eq!(log.check().unwrap().faults, [], "{whence}");
            match log.exported("A") {
                Ok(reed) => reed.changes.len(),
                Err(LogError::NoReed(_)) => 0,
                Err(error) => panic!("{whence}: {error}"),
            }
        })
    }

    /// What commands have written beside the log; a copy of the log must open.
    pub fn written(&self) -> Written {
        let mut written = BTreeMap::new();
        for name in ["table.jsonl", "crows.csv", "export"] {
            let path = self.path(name);
            if path.is_dir() {
                written.insert(name, hashes(&path));
            } else if path.exists() {
                // Recordings are named by where they are, on this disk or on the one it was made like.
                let disks = format!("{}/", self.root().parent().unwrap().display());
                let text = fs::read_to_string(&path).unwrap();
                let mut parts = text.split(&disks);
                let first = parts.next().unwrap().to_owned();
                let without = |part: &str| part.split_once('/').unwrap().1.to_owned();
                let text = parts.fold(first, |text, part| text + "DISK/" + &without(part));
                written.insert(name, vec![(String::new(), text)]);
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

/// Every file of a folder and of those in it, by name, with the hash of what it holds; none where there is
/// no folder.
fn hashes(folder: &Path) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            let inside = hashes(&path).into_iter();
            found.push((name.clone() + "/", String::new()));
            found.extend(inside.map(|(below, hash)| (format!("{name}/{below}"), hash)));
        } else {
            found.push((name, hash_of(&path)));
        }
    }
    found.sort();
    found
}

fn hash_of(path: &Path) -> String {
    let (mut file, mut hasher) = (File::open(path).unwrap(), Sha256::new());
    let mut block = vec![0; BLOCK];
    loop {
        match filled(&mut file, &mut block) {
            0 => break,
            count => hasher.update(&block[..count]),
        }
    }
    hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Makes one folder hold what another holds.
fn make_alike(from: &Path, to: &Path) {
    let names = fs::read_dir(from).unwrap().map(|entry| entry.unwrap().file_name());
    let names: Vec<PathBuf> = names.map(PathBuf::from).collect();
    keep_only(to, |name| names.iter().any(|kept| kept.as_path() == name));
    for name in names {
        let (from, to) = (from.join(&name), to.join(&name));
        if from.is_dir() {
            make_folder(&to);
            make_alike(&from, &to);
        } else {
            rewrite(&mut File::open(&from).unwrap(), &to);
        }
    }
}

/// Removes all from a folder that is not to be kept in it.
pub fn keep_only(folder: &Path, is_kept: impl Fn(&Path) -> bool) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if is_kept(Path::new(path.file_name().unwrap())) {
            continue;
        }
        match path.is_dir() {
            true => fs::remove_dir_all(&path).unwrap(),
            false => fs::remove_file(&path).unwrap(),
        }
    }
}

/// Makes a folder where there is none.
pub fn make_folder(path: &Path) {
    if path.is_file() {
        fs::remove_file(path).unwrap();
    }
    fs::create_dir_all(path).unwrap();
}

/// Bytes of a file that are held at once.
const BLOCK: usize = 1 << 20;

/// Makes a file hold what is read, writing where it holds anything else.
pub fn rewrite(from: &mut impl Read, to: &Path) {
    if to.is_dir() {
        fs::remove_dir_all(to).unwrap();
    }
    let file =
        File::options().read(true).write(true).create(true).truncate(false).open(to).unwrap();
    let (mut wanted, mut there, mut at) = (vec![0; BLOCK], vec![0; BLOCK], 0);
    loop {
        let count = filled(from, &mut wanted);
        if count == 0 {
            break;
        }
        let is_there = file.read_exact_at(&mut there[..count], at).is_ok();
        if !is_there || there[..count] != wanted[..count] {
            file.write_all_at(&wanted[..count], at).unwrap();
        }
        at += count as u64;
    }
    file.set_len(at).unwrap();
}

/// Reads until the block is full or there is no more; returns how many bytes it was.
fn filled(from: &mut impl Read, block: &mut [u8]) -> usize {
    let mut count = 0;
    while count < block.len() {
        match from.read(&mut block[count..]) {
            Ok(0) => break,
            Ok(more) => count += more,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => panic!("{error}"),
        }
    }
    count
}
