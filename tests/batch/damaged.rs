//! A corpus of damaged files: a row for each, no panic, and no memory that a header claims.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::ops::Range;
use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::batch::BROKE_THE_PROGRAM;
use reedcrow::take::TakeError;

use crate::{Workshop, converter, rows};

/// Kilobytes that no damaged file may bring the program to, resident.
const MOST_KB: u64 = 96 * 1024;

/// A whole recording, and where in it the sound stands.
struct Whole {
    stem: String,
    ending: String,
    bytes: Vec<u8>,
    sound: Range<usize>,
}

/// The formats to damage; WAV alone without the converter.
fn whole_files(workshop: &Workshop) -> Vec<Whole> {
    let take = workshop.take("whole/take.wav", 520.0, 3.0);
    if converter::is_there("damage to formats other than WAV") {
        for (name, options) in [
            ("take.flac", &["-c:a", "flac"][..]),
            ("take.mp3", &["-c:a", "libmp3lame"]),
            ("front.m4a", &["-c:a", "aac", "-movflags", "+faststart"]),
            ("alac.m4a", &["-c:a", "alac"]),
            ("take.ogg", &["-c:a", "libvorbis", "-ac", "2"]),
            ("take.opus", &["-c:a", "libopus"]),
            ("take.webm", &["-c:a", "libopus"]),
            ("take.aiff", &["-c:a", "pcm_s16be"]),
            ("take.caf", &["-c:a", "pcm_s16le"]),
            ("take.w64", &["-c:a", "pcm_s16le"]),
            ("adpcm.wav", &["-c:a", "adpcm_ima_wav"]),
        ] {
            converter::convert(&take, options, &workshop.path("whole").join(name));
        }
    }
    let mut names: Vec<_> = fs::read_dir(workshop.path("whole"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let files = names.into_iter().map(|name| {
        let bytes = fs::read(workshop.path("whole").join(&name)).unwrap();
        let (stem, ending) = name.split_once('.').unwrap();
        let sound = sound_in(ending, &bytes);
        Whole { stem: stem.into(), ending: ending.into(), bytes, sound }
    });
    files.collect()
}

/// Where the sound stands: from the last byte of the headers on, to where an index or a tag may
/// follow. Found by the names of the parts, each unlikely to stand anywhere else.
fn sound_in(ending: &str, bytes: &[u8]) -> Range<usize> {
    let find = |name: &[u8], nth: usize| {
        let mut found = bytes.windows(name.len()).enumerate().filter(|(_, part)| *part == name);
        found.nth(nth).unwrap().0
    };
    match ending {
        "wav" => find(b"data", 0) + 8..bytes.len(),
        // The name is sixteen bytes long, and the size eight.
        "w64" => find(b"data", 0) + 24..bytes.len(),
        "aiff" => find(b"SSND", 0) + 16..bytes.len(),
        "caf" => find(b"data", 0) + 16..bytes.len(),
        // Two pages of headers; the first page of sound is needed to begin at all.
        "ogg" | "opus" => find(b"OggS", 3)..bytes.len(),
        // The first cluster, after its own header and time; an index may follow the last (Matroska:
        // RFC 9559, 5.1.3 and 5.1.5).
        "webm" => {
            let end = bytes.windows(4).rposition(|four| four == b"\x1c\x53\xbb\x6b");
            find(b"\x1f\x43\xb6\x75", 0) + 24..end.unwrap_or(bytes.len())
        }
        "m4a" => {
            let start = find(b"mdat", 0);
            let size = u32::from_be_bytes(bytes[start - 4..start].try_into().unwrap());
            start + 4..start - 4 + size as usize
        }
        // The first frame after the tag; and the first one of FLAC, after its padding.
        "mp3" => 1_000..bytes.len(),
        "flac" => 9_000..bytes.len(),
        other => panic!("{other}: say where its sound stands"),
    }
}

/// What is done to a file, and what a careful reader makes of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Damage {
    /// Bits flipped, or zeros, in the sound: all else is whole, so it is read.
    InSound,
    /// Cut off in its sound: what is there is read, and the reading says that some is missing.
    /// Only where the index of MPEG-4 comes last is there nothing to be read.
    CutInSound,
    /// Another ending, or something behind it: the content decides, so it is read.
    AroundIt,
    /// Cut off in front of its sound: there is nothing to be read.
    CutInHeader,
    /// Headers that are damaged or lie: some still say enough, others do not.
    InHeader,
}

/// Writes every damage there is; returns the name and what was done.
fn damage(files: &[Whole], folder: &Path) -> HashMap<String, Damage> {
    use Damage::*;
    let mut random = ChaCha8Rng::seed_from_u64(20);
    let mut done = HashMap::new();
    let mut write = |name: String, bytes: &[u8], damage: Damage| {
        fs::write(folder.join(&name), bytes).unwrap();
        assert!(done.insert(name, damage).is_none());
    };
    for Whole { stem, ending, bytes, sound } in files {
        for cut in [0, 1, 4, 11, 12, 20] {
            write(format!("{stem} cut {cut}.{ending}"), &bytes[..cut], CutInHeader);
        }
        for part in 1..5 {
            let cut = sound.start + sound.len() * (2 * part + 1) / 12;
            write(format!("{stem} cut in sound {part}.{ending}"), &bytes[..cut], CutInSound);
        }
        write(format!("{stem} cut at the last.{ending}"), &bytes[..sound.end - 1], CutInSound);
        for (flips, within, damage) in
            [(6, sound.clone(), InSound), (6, 0..sound.start.min(200), InHeader)]
        {
            for flip in 0..flips {
                let mut bytes = bytes.clone();
                for _ in 0..=2 * flip {
                    bytes[random.random_range(within.clone())] ^= 1 << random.random_range(0..8);
                }
                write(
                    format!("{stem} {damage:?} {flip} at {}.{ending}", within.start),
                    &bytes,
                    damage,
                );
            }
        }
        let mut zeros = bytes.clone();
        zeros[sound.start + sound.len() / 2..sound.end].fill(0);
        write(format!("{stem} zeros.{ending}"), &zeros, InSound);
        // Every size there is in the header made as large as it can be.
        for at in (4..64).step_by(4) {
            let mut bytes = bytes.clone();
            bytes[at..at + 4].fill(0xff);
            write(format!("{stem} lying {at}.{ending}"), &bytes, InHeader);
        }
        write(format!("{stem} all zero.{ending}"), &vec![0; bytes.len()], CutInHeader);
        let other = if ending == "wav" { "mp3" } else { "wav" };
        write(format!("{stem} {ending} named.{other}"), bytes, AroundIt);
        write(format!("{stem} twice.{ending}"), &[&bytes[..], bytes].concat(), AroundIt);
    }
    // A header that claims 4 GiB in front of its sound, and one with nothing after it.
    let whole = files.iter().find(|file| file.ending == "wav" && file.stem == "take").unwrap();
    let mut claims = whole.bytes.clone();
    claims[4..8].fill(0xff);
    claims[40..44].fill(0xff);
    write("4 GiB.wav".into(), &claims, CutInSound);
    write("4 GiB of nothing.wav".into(), &claims[..44], CutInHeader);
    done
}

#[test]
fn every_damaged_file_has_its_row_and_what_can_be_read_of_it_is() {
    let workshop = Workshop::new();
    let files = whole_files(&workshop);
    let folder = workshop.path("damaged");
    fs::create_dir(&folder).unwrap();
    let done = damage(&files, &folder);
    let (code, table, most_kb) = measured(&workshop, &["damaged", "--out", "damaged.csv"]);
    println!("{} damaged files, {most_kb} KiB resident at most", done.len());
    assert!(matches!(code, Some(0 | 1)), "{code:?}");
    assert_eq!(table.len(), done.len());
    assert!(most_kb < MOST_KB, "{most_kb} KiB");
    let mut counts = BTreeMap::<Damage, (usize, usize)>::new();
    let mut wrong = Vec::new();
    for (source, error) in &table {
        assert!(!error.contains('\n') && error.len() < 300, "{source}: {error}");
        assert!(error != BROKE_THE_PROGRAM, "{source}: {error}");
        let damage = done[source.strip_prefix("damaged/").unwrap()];
        let read = error.is_empty();
        let (of_kind, read_of_kind) = counts.entry(damage).or_default();
        *of_kind += 1;
        *read_of_kind += usize::from(read);
        let expected = match damage {
            Damage::InSound | Damage::AroundIt => Some(true),
            Damage::CutInSound if source.contains("/alac ") && source.contains("m4a") => {
                Some(false)
            }
            Damage::CutInSound => Some(true),
            Damage::CutInHeader => Some(false),
            Damage::InHeader => None,
        };
        if expected.is_some_and(|expected| expected != read) {
            wrong.push(format!("{source}, {damage:?}: {error}"));
        }
    }
    println!("files, and how many of them were read: {counts:?}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Runs a batch under GNU time where it is there. Returns its exit code, its rows, and the most
/// memory it had resident, in KiB (0 where nobody measured).
fn measured(workshop: &Workshop, arguments: &[&str]) -> (Option<i32>, Vec<(String, String)>, u64) {
    let table = arguments.last().unwrap();
    let (ran, most_kb) = crate::large::run_measured(workshop, arguments);
    (ran.code, rows(&workshop.path(table)), most_kb)
}

/// Files that go away while the batch runs have a row that says so, or were read before.
#[test]
fn files_that_vanish_during_the_run_have_their_row() {
    let workshop = Workshop::new();
    let mut list = String::new();
    for index in 0..200 {
        let name = format!("takes/{index:03}.wav");
        workshop.take(&name, 520.0, 1.0);
        list.push_str(&format!("{name}\n"));
    }
    fs::write(workshop.path("list"), list).unwrap();
    let child = workshop
        .command(&["--files-from", "list", "--out", "table.csv", "--jobs", "2"])
        .stderr(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    for index in (0..200).rev() {
        fs::remove_file(workshop.path(&format!("takes/{index:03}.wav"))).unwrap();
    }
    let ran = crate::Ran::new(child.wait_with_output().unwrap());
    let rows = rows(&workshop.path("table.csv"));
    assert_eq!(rows.len(), 200);
    let no_such_file = TakeError::NotFound.to_string();
    let gone = rows.iter().filter(|(_, error)| *error == no_such_file).count();
    println!("{gone} of 200 files went away before they were read");
    assert_eq!(ran.code, Some(i32::from(rows.iter().any(|(_, error)| !error.is_empty()))));
    assert!(Path::new(&rows[0].0).ends_with("000.wav"));
}
