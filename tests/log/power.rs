//! What a disk keeps when the power goes, reckoned from what was asked of it. Nothing of what files hold is
//! in memory: where each piece of it stands in which file is.

use std::collections::{BTreeMap, HashMap};
use std::fs::{self, File};
use std::io::{BufReader, Read, Seek};
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::rc::Rc;

use super::disk::{keep_only, make_folder, rewrite};

/// What the library told of one operation.
#[derive(Debug)]
pub struct Operation {
    pub what: u8,
    paths: [String; 2],
    /// Where in the file of the first name.
    at: u64,
    /// What was written, or nothing.
    bytes: Piece,
}

/// The operations that were told to a file, one after the other.
pub struct Operations {
    file: Rc<File>,
    from: BufReader<File>,
}

impl Operations {
    pub fn of(trace: &Path) -> Self {
        let open = || File::open(trace).unwrap();
        Self { file: Rc::new(open()), from: BufReader::new(open()) }
    }

    fn number(&mut self) -> u64 {
        let mut bytes = [0; 8];
        self.from.read_exact(&mut bytes).unwrap();
        u64::from_le_bytes(bytes)
    }

    fn path(&mut self) -> String {
        let mut bytes = vec![0; self.number() as usize];
        self.from.read_exact(&mut bytes).unwrap();
        String::from_utf8(bytes).unwrap()
    }
}

impl Iterator for Operations {
    type Item = Operation;

    fn next(&mut self) -> Option<Operation> {
        let mut what = [0];
        if self.from.read(&mut what).unwrap() == 0 {
            return None;
        }
        let paths = [self.path(), self.path()];
        let length = self.number();
        let start = self.from.stream_position().unwrap();
        self.from.seek_relative(length as i64).unwrap();
        let bytes = Piece { length, file: self.file.clone(), start };
        Some(Operation { what: what[0], paths, at: self.number(), bytes })
    }
}

/// Bytes that stand in a file.
#[derive(Debug, Clone)]
struct Piece {
    length: u64,
    file: Rc<File>,
    start: u64,
}

impl Piece {
    /// Without so many bytes at its beginning.
    fn after(&self, count: u64) -> Self {
        Self { length: self.length - count, file: self.file.clone(), start: self.start + count }
    }
}

/// What a file holds: pieces by where they begin, and zeros between them.
#[derive(Debug, Clone, Default)]
struct Content {
    length: u64,
    pieces: BTreeMap<u64, Piece>,
}

impl Content {
    fn of(path: &Path) -> Self {
        let file = File::open(path).unwrap();
        let length = file.metadata().unwrap().len();
        let mut content = Self::default();
        content.write(0, Piece { length, file: Rc::new(file), start: 0 });
        content
    }

    fn write(&mut self, at: u64, piece: Piece) {
        if piece.length == 0 {
            return;
        }
        let end = at + piece.length;
        self.free(at, end);
        self.pieces.insert(at, piece);
        self.length = self.length.max(end);
    }

    fn cut(&mut self, length: u64) {
        self.free(length, u64::MAX);
        self.length = length;
    }

    /// Takes out what stands from `start` up to `end`.
    fn free(&mut self, start: u64, end: u64) {
        let before = self.pieces.range(..start).next_back().map(|(at, piece)| (*at, piece.clone()));
        let inside: Vec<u64> = self.pieces.range(start..end).map(|(at, _)| *at).collect();
        let inside = inside.into_iter().map(|at| (at, self.pieces.remove(&at).unwrap()));
        for (at, piece) in before.into_iter().chain(inside.collect::<Vec<_>>()) {
            let piece_end = at + piece.length;
            if piece_end > end {
                self.pieces.insert(end, piece.after(end - at));
            }
            if at < start && piece_end > start {
                self.pieces.insert(at, Piece { length: start - at, ..piece });
            }
        }
    }
}

/// A content being read.
struct Reading<'a> {
    content: &'a Content,
    at: u64,
}

impl Read for Reading<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let left = self.content.length - self.at;
        let mut most = into.len().min(usize::try_from(left).unwrap());
        let before = self.content.pieces.range(..=self.at).next_back();
        let inside = before.map(|(start, piece)| piece_after(piece, self.at - start));
        match inside.flatten() {
            Some(piece) => {
                most = most.min(usize::try_from(piece.length).unwrap());
                piece.file.read_exact_at(&mut into[..most], piece.start)?;
            }
            None => {
                if let Some((next, _)) = self.content.pieces.range(self.at..).next() {
                    most = most.min(usize::try_from(next - self.at).unwrap());
                }
                into[..most].fill(0);
            }
        }
        self.at += most as u64;
        Ok(most)
    }
}

/// What is left of a piece behind so many bytes; `None` where that is nothing.
fn piece_after(piece: &Piece, count: u64) -> Option<Piece> {
    (count < piece.length).then(|| piece.after(count))
}

/// A disk that keeps of a file what was synced, and of a folder the names it had when that was: all
/// else is lost with the power.
#[derive(Default)]
pub struct Synced {
    /// Names, as the running program sees them, and as they are on the disk, to numbers of files.
    names: HashMap<String, usize>,
    kept_names: HashMap<String, usize>,
    folders: Vec<String>,
    kept_folders: Vec<String>,
    /// What files hold, by their number.
    files: Vec<Content>,
    kept_files: Vec<Content>,
    /// How often what is on the disk may have changed.
    pub changed: usize,
}

impl Synced {
    /// All that is there is on the disk.
    pub fn of(folder: &Path) -> Self {
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
                self.files.push(Content::of(&entry.path()));
            }
        }
    }

    pub fn does(&mut self, done: Operation, root: &str) {
        let [name, to] = &done.paths;
        let [name, to] = [name, to].map(|path| path.strip_prefix(root).unwrap_or(path).to_owned());
        // A file that was renamed or removed while it is open is told by a name it no longer has.
        let name = name.trim_end_matches(" (deleted)").to_owned();
        self.changed += usize::from(matches!(done.what, b's' | b'r'));
        match done.what {
            b'o' if self.names.contains_key(&name) => {}
            b'o' => {
                self.names.insert(name, self.files.len());
                self.files.push(Content::default());
                self.kept_files.push(Content::default());
            }
            b'd' => self.folders.push(name),
            b'w' => {
                if let Some(&file) = self.names.get(&name) {
                    self.files[file].write(done.at, done.bytes);
                }
            }
            b't' => {
                if let Some(&file) = self.names.get(&name) {
                    self.files[file].cut(done.at);
                }
            }
            b's' => match self.names.get(&name) {
                Some(&file) => self.kept_files[file] = self.files[file].clone(),
                None => self.sync_folder(&name),
            },
            b'u' => drop(self.names.remove(&name)),
            b'r' => self.rename(&name, &to),
            _ => {}
        }
    }

    fn rename(&mut self, name: &str, to: &str) {
        if let Some(file) = self.names.remove(name) {
            self.names.insert(to.to_owned(), file);
            return;
        }
        let inside = |path: &str| path == name || path.starts_with(&format!("{name}/"));
        let moved = |path: &str| format!("{to}{}", &path[name.len()..]);
        let files: Vec<_> = self.names.keys().filter(|path| inside(path)).cloned().collect();
        for path in files {
            let file = self.names.remove(&path).unwrap();
            self.names.insert(moved(&path), file);
        }
        for path in self.folders.iter_mut().filter(|path| inside(path)) {
            *path = moved(path);
        }
        // What was synced in it stays so under its new name, once that is on the disk.
        let kept: Vec<_> = self.kept_names.keys().filter(|path| inside(path)).cloned().collect();
        for path in kept {
            let file = self.kept_names.remove(&path).unwrap();
            self.kept_names.insert(moved(&path), file);
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

    /// Makes a folder hold what is there after the power went.
    pub fn write_to(&self, folder: &Path) {
        let mut folders = self.kept_folders.clone();
        folders.sort();
        let is_there =
            |parent: &str| parent.is_empty() || folders.iter().any(|path| path == parent);
        let parent = |path: &str| path.rsplit_once('/').map_or("", |(parent, _)| parent).to_owned();
        let files: BTreeMap<&str, usize> = self
            .kept_names
            .iter()
            .filter(|(path, _)| is_there(&parent(path)))
            .map(|(path, file)| (path.as_str(), *file))
            .collect();
        keep_only(folder, |name| {
            let name = format!("/{}", name.to_str().unwrap());
            files.contains_key(name.as_str()) || folders.contains(&name)
        });
        for path in &folders {
            make_folder(&folder.join(&path[1..]));
            keep_only(&folder.join(&path[1..]), |name| {
                let name = format!("{path}/{}", name.to_str().unwrap());
                files.contains_key(name.as_str()) || folders.contains(&name)
            });
        }
        for (path, file) in files {
            let mut content = Reading { content: &self.kept_files[file], at: 0 };
            rewrite(&mut content, &folder.join(&path[1..]));
        }
    }
}
