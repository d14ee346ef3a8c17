//! `reedcrow analyse --plot`: which files appear, and what happens when they cannot.

use std::fs;

use crate::golden::held;
use crate::{Bench, ending};

#[test]
fn one_take_gets_the_picture_that_was_named() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    for (name, begins) in [("take.svg", &b"<svg"[..]), ("take.png", b"\x89PNG")] {
        let end = ending(&mut bench.reedcrow(&["analyse", "take.wav", "--plot", name]));
        assert_eq!((end.code, end.errors.as_str()), (Some(0), ""));
        assert!(end.output.contains(&format!("Picture     {name}\n")), "{}", end.output);
        let bytes = fs::read(bench.path(name)).unwrap();
        assert!(bytes.windows(begins.len()).take(200).any(|window| window == begins), "{name}");
    }
    assert_eq!(bench.names(), ["take.png", "take.svg", "take.wav"]);
}

#[test]
fn several_takes_get_a_picture_each_and_json_stays_one_line_per_take() {
    let bench = Bench::new();
    bench.crow("before.wav", 1.5);
    bench.crow("after.wav", 1.5);
    bench.bytes("words.wav", b"no sound");
    let end = ending(&mut bench.reedcrow(&[
        "analyse",
        "--json",
        "before.wav",
        "words.wav",
        "after.wav",
        "--plot",
        "crow.svg",
    ]));
    assert_eq!(end.code, Some(1));
    assert_eq!(end.output.lines().count(), 2);
    assert_eq!(
        bench.names(),
        ["after.wav", "before.wav", "crow-after.svg", "crow-before.svg", "words.wav"]
    );
}

#[test]
fn a_picture_that_cannot_be_written_is_said_after_the_reading() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav", "--plot", "missing/take.svg"]));
    assert_eq!(end.code, Some(1));
    assert!(end.output.starts_with("take.wav\n"), "{}", end.output);
    held("goldens", "picture-without-a-folder", &end.errors);
    assert_eq!(bench.names(), ["take.wav"]);
}

#[test]
fn only_svg_and_png_are_drawn() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav", "--plot", "take.pdf"]));
    assert_eq!((end.code, end.output.as_str()), (Some(2), ""));
    assert!(end.errors.contains(".svg") && end.errors.contains(".png"), "{}", end.errors);
}

/// Windows would write it to the console, or nowhere.
#[cfg(windows)]
#[test]
fn a_name_that_stands_for_a_device_is_told_as_that() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    for arguments in [
        &["analyse", "take.wav", "--plot", "con.png"][..],
        &["batch", "take.wav", "--out", "Aux.csv"],
        &["batch", "take.wav", "--out", "a.csv", "--page", "nul.html"],
        &["analyse", "take.wav", "--plot", "a?.png"],
    ] {
        let end = ending(&mut bench.reedcrow(arguments));
        assert_eq!((end.code, end.errors.lines().count()), (Some(1), 1), "{arguments:?}: {end:?}");
        assert!(end.errors.contains("on Windows; choose another name"), "{}", end.errors);
    }
    assert_eq!(bench.names(), ["take.wav"]);
}

/// A drawing of one's own has the same ending; only a picture gives way to a picture, and what is
/// read or is no file to none.
#[test]
fn a_picture_takes_the_place_of_a_picture_alone() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    bench.crow("take.png", 1.5);
    bench.bytes("plan.svg", b"tip 10 mm, heart 4 mm");
    #[cfg(unix)]
    {
        bench.bytes("old.svg", b"<svg></svg>");
        std::os::unix::fs::symlink("old.svg", bench.path("link.svg")).unwrap();
        std::os::unix::fs::symlink("nowhere.svg", bench.path("lost.svg")).unwrap();
        let made = std::process::Command::new("mkfifo").arg(bench.path("pipe.svg")).status();
        assert!(made.unwrap().success());
    }
    fs::create_dir(bench.path("folder.svg")).unwrap();
    let names = bench.names();
    for (arguments, name) in [
        (&["analyse", "take.png", "--plot", "take.png"][..], "take.png"),
        (&["compare", "take.png", "take.wav", "--plot", "take.png"], "take.png"),
        (&["analyse", "take.wav", "--plot", "take.png"], "take.png"),
        (&["analyse", "take.wav", "--plot", "plan.svg"], "plan.svg"),
        (&["analyse", "take.wav", "--plot", "folder.svg"], "folder.svg"),
        #[cfg(unix)]
        (&["analyse", "take.wav", "--plot", "pipe.svg"], "pipe.svg"),
        #[cfg(unix)]
        (&["analyse", "take.wav", "--plot", "lost.svg"], "lost.svg"),
    ] {
        let before = fs::read(bench.path("take.png")).unwrap();
        let end = ending(&mut bench.reedcrow(arguments));
        assert_eq!((end.code, end.output.as_str()), (Some(1), ""), "{arguments:?}");
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
        assert!(end.errors.starts_with(&format!("reedcrow: {name}: ")), "{}", end.errors);
        assert_eq!(fs::read(bench.path("take.png")).unwrap(), before);
        assert_eq!(bench.names(), names);
    }
    assert_eq!(fs::read(bench.path("plan.svg")).unwrap(), b"tip 10 mm, heart 4 mm");
    #[cfg(unix)]
    {
        let end = ending(&mut bench.reedcrow(&["analyse", "take.wav", "--plot", "link.svg"]));
        assert_eq!(end.code, Some(0), "{}", end.errors);
        assert!(bench.path("link.svg").symlink_metadata().unwrap().is_symlink());
        assert!(fs::read(bench.path("old.svg")).unwrap().len() > 1000);
    }
}
