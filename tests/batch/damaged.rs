//! A corpus of damaged files: a row for each, no panic, and no memory that a header claims.

use std::fs;
use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::{Workshop, converter, rows};

/// Kilobytes that no damaged file may bring the program to, resident.
const MOST_KB: u64 = 96 * 1024;

/// The formats to damage; WAV alone without the converter.
fn whole_files(workshop: &Workshop) -> Vec<(String, Vec<u8>)> {
    let take = workshop.take("whole/take.wav", 520.0, 0.7);
    if converter::is_there("damage to formats other than WAV") {
        for (name, options) in [
            ("take.flac", &["-c:a", "flac"][..]),
            ("take.mp3", &["-c:a", "libmp3lame"]),
            ("aac.m4a", &["-c:a", "aac"]),
            ("alac.m4a", &["-c:a", "alac"]),
            ("take.ogg", &["-c:a", "libvorbis", "-ac", "2"]),
            ("take.aiff", &["-c:a", "pcm_s16be"]),
            ("take.caf", &["-c:a", "pcm_s16le"]),
            ("take.w64", &["-c:a", "pcm_s16le"]),
            ("adpcm.wav", &["-c:a", "adpcm_ima_wav"]),
        ] {
            converter::convert(&take, options, &workshop.path("whole").join(name));
        }
    }
    let mut files: Vec<_> = fs::read_dir(workshop.path("whole"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap()))
        .collect();
    files.sort();
    files
}

#[test]
fn every_damaged_file_has_its_row() {
    let workshop = Workshop::new();
    let files = whole_files(&workshop);
    let folder = workshop.path("damaged");
    fs::create_dir(&folder).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(20);
    let mut count = 0;
    let mut write = |name: String, bytes: &[u8]| {
        fs::write(folder.join(name), bytes).unwrap();
        count += 1;
    };
    for (name, bytes) in &files {
        let (stem, ending) = name.split_once('.').unwrap();
        for cut in [0, 1, 4, 11, 12, 40, 43, 44, 100, bytes.len() / 3, bytes.len() - 1] {
            write(format!("{stem} cut {cut}.{ending}"), &bytes[..cut.min(bytes.len())]);
        }
        for flip in 0..12 {
            let mut bytes = bytes.clone();
            // Half of them hit the first 200 bytes, where sizes and formats stand.
            let within = if flip % 2 == 0 { 200.min(bytes.len()) } else { bytes.len() };
            for _ in 0..1 + flip {
                let at = random.random_range(0..within);
                bytes[at] ^= 1 << random.random_range(0..8);
            }
            write(format!("{stem} flipped {flip}.{ending}"), &bytes);
        }
        // Every size there is in the header made as large as it can be.
        for at in (4..64).step_by(4) {
            let mut bytes = bytes.clone();
            bytes[at..at + 4].fill(0xff);
            write(format!("{stem} lying {at}.{ending}"), &bytes);
        }
        let mut zeros = bytes.clone();
        zeros[bytes.len() / 2..].fill(0);
        write(format!("{stem} zeros.{ending}"), &zeros);
        write(format!("{stem} all zero.{ending}"), &vec![0; bytes.len()]);
        let other = if ending == "wav" { "mp3" } else { "wav" };
        write(format!("{stem} {ending} named.{other}"), bytes);
        write(format!("{stem} twice.{ending}"), &[&bytes[..], bytes].concat());
    }
    // A header that claims 4 GiB in front of a second of sound, and one with nothing after it.
    let mut claims = fs::read(workshop.path("whole/take.wav")).unwrap();
    claims[4..8].fill(0xff);
    claims[40..44].fill(0xff);
    write("4 GiB.wav".into(), &claims);
    write("4 GiB of nothing.wav".into(), &claims[..44]);
    let (code, table, most_kb) = measured(&workshop, &["damaged", "--out", "damaged.csv"]);
    println!("{count} damaged files, {most_kb} KiB resident at most");
    assert!(matches!(code, Some(0 | 1)), "{code:?}");
    assert_eq!(table.len(), count);
    for (source, error) in &table {
        assert!(!error.contains('\n') && error.len() < 300, "{source}: {error}");
        assert!(!error.contains("a fault of the program"), "{source}: {error}");
    }
    assert!(most_kb < MOST_KB, "{most_kb} KiB");
    // Damage in the sound leaves the rest readable; damage in a header mostly does not, and half of
    // the damage is done there.
    let read = table.iter().filter(|(_, error)| error.is_empty()).count();
    assert!(read * 3 > count, "{read} of {count}");
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
    let gone = rows.iter().filter(|(_, error)| error.starts_with("there is no such file")).count();
    println!("{gone} of 200 files went away before they were read");
    assert_eq!(ran.code, Some(i32::from(rows.iter().any(|(_, error)| !error.is_empty()))));
    assert!(Path::new(&rows[0].0).ends_with("000.wav"));
}
