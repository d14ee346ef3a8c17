//! What is on disk while a take is recorded, after it, and after a failure.

use std::fs;

use reedcrow::take::wav::{self, SampleFormat, WavWriter};
use reedcrow::take::{Channel, TakeError, read};
use tempfile::TempDir;

fn names(folder: &TempDir) -> Vec<String> {
    let entries = fs::read_dir(folder.path()).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

#[test]
fn a_take_that_was_never_finished_can_be_read_under_its_temporary_name() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    let mut writer = WavWriter::create(&path, 48_000, 1, SampleFormat::F32).unwrap();
    writer.push(&[0.25; 1000]).unwrap();
    writer.push(&[-0.25; 234]).unwrap();
    writer.sync().unwrap();
    let unfinished = writer.temporary_path().to_owned();
    // Dropped without its end, as a program that dies leaves it.
    drop(writer);
    assert!(!path.exists());
    let take = read(&unfinished, Channel::Strongest).unwrap();
    assert_eq!(take.samples.len(), 1234);
    assert!(!take.faults.cut_off);
}

#[test]
fn a_finished_take_stands_alone_under_its_name() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    let mut writer = WavWriter::create(&path, 48_000, 1, SampleFormat::I24).unwrap();
    writer.push(&[0.5; 3]).unwrap();
    assert_eq!(writer.finish().unwrap(), path);
    assert_eq!(names(&folder), ["take.wav"]);
    // An odd number of bytes is padded, and the pad byte is counted by the outer size alone.
    let bytes = fs::read(&path).unwrap();
    assert_eq!(bytes.len() % 2, 0);
    assert_eq!(u32::from_le_bytes(bytes[4..8].try_into().unwrap()) as usize, bytes.len() - 8);
    assert_eq!(read(&path, Channel::Strongest).unwrap().samples, [0.5; 3]);
}

#[test]
fn a_discarded_take_leaves_nothing() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    let mut writer = WavWriter::create(&path, 48_000, 1, SampleFormat::F32).unwrap();
    writer.push(&[0.5; 3]).unwrap();
    writer.discard();
    assert!(names(&folder).is_empty());
}

#[test]
fn a_folder_that_is_not_there_is_said_and_nothing_is_made() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("missing").join("take.wav");
    let error = wav::write(&path, &[0.0], 48_000, 1, SampleFormat::F32).unwrap_err();
    assert!(matches!(error, TakeError::NotFound), "{error}");
    assert!(names(&folder).is_empty());
}
