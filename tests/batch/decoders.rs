//! Whatever a decoder does, its file has its row and the rest go on: decoding is done in children of
//! the program, which the system holds to limits.

use std::fs;
use std::io::Write;
use std::path::Path;
#[cfg(unix)]
use std::process::Command;
use std::process::Stdio;
#[cfg(unix)]
use std::time::Duration;

use reedcrow::take::{self, Channel, TakeError, Undecodable};

use super::{Workshop, converter, tone};

/// A Core Audio file of plain samples (Apple, "Core Audio Format Specification 1.0", from memory):
/// 16 bits, mono, with these frames to a packet.
fn core_audio(frames_per_packet: u32) -> Vec<u8> {
    let mut file = b"caff\0\x01\0\0desc\0\0\0\0\0\0\0\x20".to_vec();
    file.extend_from_slice(&16_000_f64.to_be_bytes());
    file.extend_from_slice(b"lpcm");
    for field in [0, 2, frames_per_packet, 1, 16] {
        file.extend_from_slice(&u32::to_be_bytes(field));
    }
    let samples = tone(523.0, 2.0);
    file.extend_from_slice(b"data");
    file.extend_from_slice(&(4 + 2 * samples.len() as u64).to_be_bytes());
    file.extend_from_slice(&[0; 4]);
    for sample in samples {
        file.extend_from_slice(&((sample * 32_767.0) as i16).to_be_bytes());
    }
    file
}

/// One byte of it made a batch ask for eight gigabytes, never end, or read C4 where C5 was played.
#[test]
fn plain_samples_whose_packets_contradict_each_other_are_refused_and_the_rest_is_read() {
    let workshop = Workshop::new();
    fs::write(workshop.path("a.caf"), core_audio(1)).unwrap();
    for (index, frames) in [0, 2, 3, 0x100, 0xff_ffff, 0x8000_0001].into_iter().enumerate() {
        fs::write(workshop.path(&format!("b{index}.caf")), core_audio(frames)).unwrap();
    }
    workshop.take("c.wav", 523.0, 2.0);
    let ran = workshop.batch(&[".", "--out", "t.csv"]);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    let table = workshop.text("t.csv");
    let mut lines = csv::Reader::from_reader(table.as_bytes());
    let mut read = 0;
    for row in lines.records() {
        let row = row.unwrap();
        if row[0].contains("/b") {
            let error = take::read(&workshop.path(&row[0]), Channel::Strongest).unwrap_err();
            let why = Undecodable::ContradictsItself;
            assert!(matches!(error, TakeError::Decode(known) if known == why), "{error:?}");
            assert_eq!(row[1], error.to_string());
        } else {
            assert_eq!((&row[1], &row[7]), ("", "C5"), "{row:?}");
            read += 1;
        }
    }
    assert_eq!(read, 2);
}

/// A cover of more than a mebibyte made a decoder look for sound in it, and call it "MPEG layer I";
/// pictures in a FLAC file were gathered in memory, by hundreds of megabytes.
#[test]
fn cover_pictures_are_passed_over() {
    if !converter::is_there("cover pictures") {
        return;
    }
    let workshop = Workshop::new();
    let take = workshop.take("plain.wav", 523.0, 2.0);
    let plain = |name: &str, options: &[&str]| {
        converter::convert(&take, options, &workshop.path(name));
        fs::read(workshop.path(name)).unwrap()
    };
    // Noise holds what looks like frames.
    let mut noise = 7u32;
    let mut picture = |length: usize| -> Vec<u8> {
        let byte = std::iter::repeat_with(|| {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (noise >> 24) as u8
        });
        byte.take(length).collect()
    };
    let mp3 = plain("plain.mp3", &["-b:a", "192k"]);
    let size = 1_500_000_usize;
    let synchsafe = [21, 14, 7, 0].map(|shift| (size >> shift) as u8 & 0x7f);
    let tag = [b"ID3\x04\0\0", &synchsafe[..], &picture(size)].concat();
    fs::write(workshop.path("cover.mp3"), [tag, mp3].concat()).unwrap();
    let flac = plain("plain.flac", &[]);
    let block = |bytes: &[u8]| {
        let length = (bytes.len() as u32).to_be_bytes();
        [&[6], &length[1..], bytes].concat()
    };
    let mut covered = flac[..42].to_vec();
    for _ in 0..20 {
        covered.extend(block(&picture(16_000_000)));
    }
    covered.extend_from_slice(&flac[42..]);
    fs::write(workshop.path("cover.flac"), covered).unwrap();
    let names = ["plain.mp3", "cover.mp3", "plain.flac", "cover.flac"];
    let ran = workshop.batch(&[&names[..], &["--out", "t.csv"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let table = workshop.text("t.csv");
    let cells = |name: &str| {
        let line = table.lines().find(|line| line.starts_with(name)).unwrap().to_owned();
        line.split(',').skip(1).take(20).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(cells("cover.mp3"), cells("plain.mp3"));
    assert_eq!(cells("cover.flac"), cells("plain.flac"));
}

/// The children of a process, by Linux's table of processes.
#[cfg(target_os = "linux")]
fn children_of(parent: u32) -> Vec<u32> {
    let numbers = fs::read_dir("/proc").unwrap().flatten();
    let numbers = numbers.filter_map(|entry| entry.file_name().to_str()?.parse().ok());
    let is_child = |number: &u32| {
        let about = fs::read_to_string(format!("/proc/{number}/stat")).unwrap_or_default();
        let after_name = about.rsplit(')').next().unwrap_or_default().to_owned();
        after_name.split_whitespace().nth(1) == Some(&parent.to_string())
    };
    numbers.filter(is_child).collect()
}

#[cfg(target_os = "linux")]
#[test]
fn children_that_are_killed_cost_their_own_file_at_most() {
    if !converter::is_there("killed decoders") {
        return;
    }
    let workshop = Workshop::new();
    let take = workshop.take("take.wav", 523.0, 20.0);
    converter::convert(&take, &[], &workshop.path("take.flac"));
    fs::create_dir(workshop.path("takes")).unwrap();
    const FILES: usize = 16;
    for number in 0..FILES {
        let copy = workshop.path(&format!("takes/{number:02}.flac"));
        fs::copy(workshop.path("take.flac"), copy).unwrap();
    }
    let mut batch = workshop
        .command(&["takes", "--out", "t.csv", "--jobs", "2"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut killed = 0;
    while batch.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(30));
        if killed < 6 {
            for child in children_of(batch.id()) {
                let number = child.to_string();
                killed += usize::from(
                    Command::new("kill").args(["-9", &number]).status().unwrap().success(),
                );
            }
        }
    }
    let said = batch.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&said.stderr).into_owned();
    assert!(killed > 0 && !said.contains("panicked"), "{killed} {said}");
    let table = workshop.text("t.csv");
    assert_eq!(table.lines().count(), FILES + 1, "{table}");
    let read = table.lines().filter(|line| line.contains(",C5,")).count();
    assert!(read >= FILES - killed, "{read} of {FILES} with {killed} killed\n{table}");
}

/// What a child may use, as the system tells it (proc(5), "limits"): 256 MiB, no files, and
/// processor time that grows with the answers.
#[cfg(target_os = "linux")]
#[test]
fn a_child_that_decodes_is_held_to_limits_by_the_system() {
    use std::io::{Read, Write};
    let workshop = Workshop::new();
    fs::write(workshop.path("a.caf"), core_audio(1)).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_reedcrow"))
        .arg("decode")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let path = workshop.path("a.caf");
    let path = path.to_str().unwrap();
    let mut asked = vec![b'o', 6];
    asked.extend_from_slice(&(path.len() as u32).to_le_bytes());
    asked.extend_from_slice(path.as_bytes());
    child.stdin.as_mut().unwrap().write_all(&asked).unwrap();
    let mut answer = [0; 9];
    child.stdout.as_mut().unwrap().read_exact(&mut answer).unwrap();
    assert_eq!(answer, *b"o\x80\x3e\0\0\x01\0\0\0");
    let limits = fs::read_to_string(format!("/proc/{}/limits", child.id())).unwrap();
    let limit = |name: &str| {
        let line = limits.lines().find(|line| line.starts_with(name)).unwrap();
        line[name.len()..].split_whitespace().next().unwrap().parse::<u64>()
    };
    assert_eq!(limit("Max address space"), Ok(256 << 20));
    assert_eq!(limit("Max file size"), Ok(0));
    assert!(limit("Max cpu time").is_ok_and(|seconds| (1..=10).contains(&seconds)), "{limits}");
    // Nobody asks any more: it ends.
    drop(child.stdin.take());
    assert!(child.wait().unwrap().success());
}

/// Names and lists that once made a batch hang, or a spreadsheet run them.
#[cfg(unix)]
#[test]
fn pipes_that_nobody_writes_to_are_refused() {
    let workshop = Workshop::new();
    workshop.take("a.wav", 523.0, 1.0);
    let made = Command::new("mkfifo").arg(workshop.path("pipe.csv")).status().unwrap();
    assert!(made.success());
    for arguments in [
        &["--files-from", "pipe.csv"][..],
        &["a.wav", "--profile", "./pipe.csv"],
        &["--merge", "pipe.csv", "--out", "t.csv"],
        &["a.wav", "--out", "pipe.csv", "--replace"],
    ] {
        let mut batch = workshop.command(arguments).stderr(Stdio::piped()).spawn().unwrap();
        for _ in 0..600 {
            if batch.try_wait().unwrap().is_some() {
                break;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        let ended = batch.try_wait().unwrap();
        let _ = batch.kill();
        let said = batch.wait_with_output().unwrap().stderr;
        let said = String::from_utf8_lossy(&said).into_owned();
        assert!(ended.is_some_and(|code| !code.success()), "{arguments:?} hangs: {said}");
        assert!(said.contains("pipe"), "{said}");
        assert_eq!(said.lines().count(), 1, "{said}");
    }
}

/// It is read no further than any list can reach.
#[test]
fn a_list_that_never_ends_is_refused_in_one_line() {
    let workshop = Workshop::new();
    let mut command = workshop.command(&["--files-from", "-"]);
    let mut batch = command.stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut list = batch.stdin.take().unwrap();
    let lines = b"a.wav\n".repeat(1 << 14);
    // Until nobody reads it any more.
    while list.write_all(&lines).is_ok() {}
    let ended = batch.wait_with_output().unwrap();
    let ran = crate::Ran::new(ended);
    assert_eq!((ran.code, ran.err.lines().count()), (Some(1), 1), "{ran:?}");
    ran.golden("endless-list");
}

#[test]
fn no_name_of_a_recording_is_a_formula_to_a_spreadsheet() {
    let workshop = Workshop::new();
    let names = ["=1+2.wav", "@a.wav", "-b.wav", " =c.wav", "＝d.wav"];
    for name in names {
        workshop.take(name, 523.0, 1.0);
    }
    let ran = workshop.batch(&[&["--out", "t.csv", "--"][..], &names].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let table = workshop.text("t.csv");
    for line in table.lines().skip(1) {
        assert!(line.starts_with("./"), "{line}");
        assert!(Path::new(workshop.folder.path()).join(line.split(',').next().unwrap()).exists());
    }
    let again = workshop.batch(&[&["--out", "t.csv", "--resume", "--"][..], &names].concat());
    assert_eq!((again.code, workshop.text("t.csv")), (Some(0), table));
}

/// The one that came second was told that the first was killed, and with --resume took its rows away.
#[test]
fn a_table_that_another_batch_is_writing_is_left_to_it() {
    let workshop = Workshop::new();
    workshop.take("a.wav", 523.0, 1.0);
    let part = fs::File::create(workshop.path("t.csv.part")).unwrap();
    part.lock().unwrap();
    for more in [&[][..], &["--resume"]] {
        let ran = workshop.batch(&[&["a.wav", "--out", "t.csv"], more].concat());
        assert_eq!(ran.code, Some(1));
        ran.golden("table-in-use");
    }
    drop(part);
    let ran = workshop.batch(&["a.wav", "--out", "t.csv"]);
    ran.golden("table-left-over");
}
