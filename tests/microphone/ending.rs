//! How listening ends, and why it may not begin.

use crate::bench::{Bench, Running, golden, let_it_open, text};

#[test]
fn ctrl_c_ends_with_the_summary() {
    let Some(bench) = Bench::start() else { return };
    let listening = Running::start(bench.reedcrow().arg("listen"));
    let_it_open();
    listening.interrupt();
    let output = listening.ended(5);
    assert!(output.status.success(), "{output:?}");
    golden("ended-without-a-take", text(&output.stderr).lines().last().unwrap());
    assert!(output.stdout.is_empty());
}

#[test]
fn the_seconds_asked_for_end_it() {
    let Some(bench) = Bench::start() else { return };
    let output = Running::start(bench.reedcrow().args(["listen", "--seconds", "0.5", "--json"]));
    assert!(output.ended(10).status.success());
}

#[test]
fn a_muted_microphone_is_named_at_the_end() {
    let Some(bench) = Bench::start() else { return };
    let listening = Running::start(bench.reedcrow().args(["listen", "--seconds", "3"]));
    let told = text(&listening.ended(20).stderr);
    let lines: Vec<&str> = told.lines().collect();
    golden("silent-throughout", &lines[lines.len() - 2..].join("\n"));
}

/// What the disk still took is worth hearing.
#[cfg(target_os = "linux")]
#[test]
fn a_take_whose_disk_became_full_is_told_with_what_is_left_of_it() {
    let Some(bench) = Bench::start() else { return };
    let small = bench.path("small");
    std::fs::create_dir(&small).unwrap();
    let mount = ["-t", "tmpfs", "-o", "size=600k", "tmpfs", small.to_str().unwrap()];
    if !std::process::Command::new("mount").args(mount).status().is_ok_and(|s| s.success()) {
        crate::bench::say_skipped("this user may not mount a tmpfs; run as root");
        return;
    }
    let mut listening = bench.reedcrow();
    listening.args(["listen", "--save", small.to_str().unwrap()]);
    let listening = Running::start(&mut listening);
    let_it_open();
    bench.play(std::path::Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/demo-data/mirek-12-before.wav"
    )));
    listening.interrupt();
    let output = listening.ended(10);
    let told = text(&output.stderr);
    let left: Vec<_> = std::fs::read_dir(&small).unwrap().map(|e| e.unwrap().path()).collect();
    let again = bench.reedcrow().arg("analyse").args(&left).output().unwrap();
    assert!(std::process::Command::new("umount").arg(&small).status().unwrap().success());
    assert_eq!(output.status.code(), Some(1), "{told}");
    let [left] = &left[..] else { panic!("{left:?}: {told}") };
    let of_it = told.lines().filter(|line| line.contains("full"));
    let of_it: String = of_it.map(|line| format!("{line}\n")).collect();
    golden("disk-full", &of_it.replace(&left.display().to_string(), "FILE"));
    assert!(again.status.success() && text(&again.stdout).contains("cents"), "{again:?}");
}

#[test]
fn a_channel_that_the_microphone_does_not_have_is_said_before_listening() {
    let Some(bench) = Bench::start() else { return };
    let listening = Running::start(bench.reedcrow().args(["listen", "--channel", "40"]));
    let output = listening.ended(10);
    let told = text(&output.stderr);
    assert_eq!((output.status.code(), told.lines().count()), (Some(1), 1), "{told}");
    // How many the sound system offers is its own affair.
    assert!(told.starts_with("reedcrow: default: ") && told.contains("40"), "{told}");
}

#[test]
fn a_microphone_that_goes_away_is_one_clear_line() {
    let Some(bench) = Bench::start() else { return };
    let listening = Running::start(bench.reedcrow().arg("listen"));
    let_it_open();
    bench.stop();
    let output = listening.ended(15);
    assert_eq!(output.status.code(), Some(1));
    let told = text(&output.stderr);
    let last = told.lines().last().unwrap();
    // In which words the sound system says that it is gone is its own affair; nothing was to be kept.
    let (gone, then) = last.rsplit_once("; ").unwrap();
    assert!(gone.starts_with("reedcrow: default: "), "{told}");
    golden("microphone-gone", then);
}

#[test]
fn without_a_microphone_the_other_ways_are_named() {
    let Some(bench) = Bench::start() else { return };
    bench.stop();
    for command in ["listen", "devices"] {
        let output = Running::start(bench.reedcrow().arg(command)).ended(10);
        assert_eq!(output.status.code(), Some(1));
        let told = text(&output.stderr);
        let last = told.lines().last().unwrap();
        assert!(last.contains("analyse"), "{told}");
        // Why there is none, in brackets, is the sound system's affair.
        let (before, why) = last.split_once(" (").unwrap();
        let (_, after) = why.split_once("); ").unwrap();
        golden("no-microphone", &format!("{before}; {after}"));
    }
    let named = Running::start(bench.reedcrow().args(["listen", "--device", "bellows"])).ended(10);
    // Which there are differs, too.
    golden("no-such-microphone", text(&named.stderr).split(" (").next().unwrap());
}

#[test]
fn a_folder_that_cannot_keep_takes_is_said_before_listening() {
    let Some(bench) = Bench::start() else { return };
    let file = bench.path("notes.txt");
    std::fs::write(&file, "x").unwrap();
    let output = Running::start(bench.reedcrow().args(["listen", "--save"]).arg(&file)).ended(10);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(text(&output.stderr).lines().count(), 1);
    golden(
        "no-folder-for-takes",
        &text(&output.stderr).replace(&file.display().to_string(), "FILE"),
    );
}
