//! What a batch must not cost: the files it reads, files of somebody else, rows that were finished.

use std::fs;
use std::process::Command;

use crate::{Ran, Workshop, golden, rows};

fn refused(ran: &Ran, name: &str) {
    assert_eq!((ran.code, ran.err.lines().count()), (Some(1), 1), "{ran:?}");
    assert!(ran.err.starts_with(&format!("reedcrow: {name}: ")), "{ran:?}");
}

/// No output takes the place of what the same call reads, by whatever name, or of another output.
#[test]
fn no_output_destroys_an_input_or_another_output() {
    let workshop = Workshop::new();
    workshop.take("in.wav", 500.0, 0.8);
    fs::rename(workshop.path("in.wav"), workshop.path("in.csv")).unwrap();
    workshop.take("in.wav", 510.0, 0.8);
    fs::write(workshop.path("list"), "in.wav\n").unwrap();
    let profile = Command::new(env!("CARGO_BIN_EXE_reedcrow"))
        .current_dir(workshop.folder.path())
        .args(["profile", "new", "mine.toml"])
        .output();
    assert!(profile.unwrap().status.success());
    assert_eq!(workshop.batch(&["in.wav", "--out", "part.csv"]).code, Some(0));
    let names = ["in.wav", "in.csv", "list", "mine.toml", "part.csv"];
    let contents = || names.map(|name| fs::read(workshop.path(name)).unwrap());
    let before = contents();
    for (arguments, name) in [
        (&["in.wav", "--page", "in.wav"][..], "in.wav"),
        (&["in.wav", "--page", "./../{}/in.wav"], "./../{}/in.wav"),
        (&[".", "--page", "in.wav"], "in.wav"),
        (&["in.csv", "--out", "in.csv", "--replace"], "in.csv"),
        (&[".", "--out", "in.csv", "--replace"], "in.csv"),
        (&["--files-from", "list", "--page", "list"], "list"),
        (&["in.wav", "--profile", "mine.toml", "--page", "mine.toml"], "mine.toml"),
        (&["in.wav", "--out", "new.csv", "--page", "new.csv"], "new.csv"),
        (&["in.wav", "--out", "new.jsonl", "--crows", "c.csv", "--page", "c.csv"], "c.csv"),
        (&["--merge", "part.csv", "--out", "new.csv", "--page", "part.csv"], "part.csv"),
        (&["--merge", "part.csv", "--out", "part.csv", "--replace"], "part.csv"),
        (&["in.wav", "--page", "list"], "list"),
        (&["in.wav", "--page", "."], "."),
    ] {
        let folder = workshop.folder.path().file_name().unwrap().to_str().unwrap();
        let arguments: Vec<String> =
            arguments.iter().map(|word| word.replace("{}", folder)).collect();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        refused(&workshop.batch(&arguments), &name.replace("{}", folder));
        assert_eq!(contents(), before, "{arguments:?}");
        assert!(!workshop.path("new.csv").exists() && !workshop.path("new.jsonl").exists());
    }
}

/// A page and a table of ours give way to new ones; a link leads to where they are.
#[test]
fn what_an_earlier_run_wrote_is_replaced_and_a_link_is_written_through() {
    let workshop = Workshop::new();
    workshop.take("a.wav", 500.0, 0.8);
    workshop.take("b.wav", 510.0, 0.8);
    assert_eq!(workshop.batch(&["a.wav", "--page", "p.html"]).code, Some(0));
    #[cfg(unix)]
    std::os::unix::fs::symlink("p.html", workshop.path("link.html")).unwrap();
    #[cfg(not(unix))]
    fs::copy(workshop.path("p.html"), workshop.path("link.html")).unwrap();
    let ran = workshop.batch(&["b.wav", "--page", "link.html"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    #[cfg(unix)]
    assert!(workshop.path("link.html").symlink_metadata().unwrap().is_symlink());
    assert!(workshop.text("link.html").contains("b.wav"));
    #[cfg(unix)]
    assert!(workshop.text("p.html").contains("b.wav"));
}

/// A picture of a batch gives way to no drawing, note or recording of its name.
#[test]
fn pictures_take_the_place_of_pictures_of_a_batch_alone() {
    let workshop = Workshop::new();
    workshop.take("in.wav", 500.0, 0.8);
    fs::write(workshop.path("in.svg"), "my plan of the reed").unwrap();
    for _ in 0..2 {
        let ran = workshop.batch(&["in.wav", "--plots", "."]);
        assert_eq!(ran.code, Some(0), "{ran:?}");
        assert_eq!(workshop.text("in.svg"), "my plan of the reed");
        assert!(workshop.text("in-2.svg").starts_with("<svg"));
        assert!(!workshop.path("in-3.svg").exists());
    }
}

/// Whole rows are joined, whatever follows the last; anything else is named with its line, and no
/// table is made.
#[test]
fn a_damaged_part_is_named_with_its_line_and_joins_nothing() {
    let workshop = Workshop::new();
    for name in ["a.wav", "b.wav", "c.wav"] {
        workshop.take(name, 500.0, 0.8);
    }
    workshop.batch(&["a.wav", "--out", "first.csv"]);
    workshop.batch(&["b.wav", "c.wav", "--out", "second.csv"]);
    workshop.batch(&["b.wav", "c.wav", "--out", "second.jsonl"]);
    let (whole, json) = (workshop.text("second.csv"), workshop.text("second.jsonl"));
    let headings = whole.lines().next().unwrap();
    let join = |part: &str, out: &str| workshop.batch(&["--merge", part, "--out", out]);

    fs::write(workshop.path("part.csv"), whole.trim_end()).unwrap();
    let ran = workshop.batch(&["--merge", "first.csv", "part.csv", "--out", "all.csv"]);
    assert_eq!((ran.code, rows(&workshop.path("all.csv")).len()), (Some(0), 3), "{ran:?}");
    assert!(workshop.text("all.csv").ends_with('\n'));

    let mut told = String::new();
    for part in [
        whole[..whole.len() - 100].to_owned(),
        whole[..whole.len() - 2].to_owned(),
        whole[..50].to_owned(),
        String::new(),
        format!("{headings}\n"),
        whole.replacen("\nb.wav", "\n\"b.wav", 1),
        whole.replacen("c.wav,,0.8", "c.wav,,NaN", 1),
        whole.replacen("c.wav,,0.8", "c.wav,,1e999", 1),
        whole.replacen("b.wav,,0.8", "b.wav,,long", 1),
        whole.clone() + &whole,
        whole.clone() + "\n",
    ] {
        fs::write(workshop.path("part.csv"), &part).unwrap();
        let ran = join("part.csv", "none.csv");
        refused(&ran, "part.csv");
        told.push_str(&ran.err);
        assert!(!workshop.path("none.csv").exists() && !workshop.path("none.csv.part").exists());
    }
    for part in [
        json[..json.len() - 3].to_owned(),
        json.replacen("\"duration_s\":0.8", "\"duration_s\":1e999", 1),
        json.replacen("\"duration_s\":0.8", "\"duration_s\":\"x\"", 1),
        String::new(),
    ] {
        fs::write(workshop.path("part.jsonl"), &part).unwrap();
        let ran = join("part.jsonl", "none.jsonl");
        refused(&ran, "part.jsonl");
        told.push_str(&ran.err);
    }
    golden("spoilt-tables", &told);
}

/// What could not be read anywhere is said, not only in a column.
#[test]
fn joined_rows_of_recordings_that_could_not_be_read_are_told() {
    let workshop = Workshop::new();
    fs::write(workshop.path("empty.wav"), "").unwrap();
    workshop.batch(&["empty.wav", "--out", "t.csv"]);
    let ran = workshop.batch(&["--merge", "t.csv", "--out", "all.csv"]);
    assert_eq!((ran.code, ran.err.lines().count()), (Some(1), 1), "{ran:?}");
    let joined = rows(&workshop.path("all.csv"));
    assert!(joined.len() == 1 && !joined[0].1.is_empty(), "{joined:?}");
}

/// Going on with other recordings, or after some were put away, costs no finished row.
#[test]
fn a_resumed_table_keeps_the_rows_it_had() {
    let workshop = Workshop::new();
    for name in ["a.wav", "b.wav", "c.wav"] {
        workshop.take(name, 500.0, 0.8);
    }
    for table in ["t.csv", "t.jsonl"] {
        workshop.batch(&["a.wav", "b.wav", "--out", table]);
        let before = workshop.text(table);
        let row = |name: &str| before.lines().find(|row| row.contains(name)).unwrap().to_owned();
        let ran = workshop.batch(&["b.wav", "c.wav", "--out", table, "--resume"]);
        assert_eq!(ran.code, Some(0), "{ran:?}");
        ran.golden(&format!("kept-a-row-{table}"));
        let after = workshop.text(table);
        assert!(after.contains(&row("a.wav")) && after.contains(&row("b.wav")));
        assert!(after.contains("c.wav"));

        fs::rename(workshop.path("a.wav"), workshop.path("away")).unwrap();
        workshop.batch(&["a.wav", "b.wav", "c.wav", "--out", table, "--resume"]);
        fs::rename(workshop.path("away"), workshop.path("a.wav")).unwrap();
        assert!(workshop.text(table).contains(&row("a.wav")));
    }
}

/// A system that gives a process no more threads still has its recordings read.
#[cfg(target_os = "linux")]
#[test]
fn without_threads_the_batch_is_read_on_one() {
    use std::os::unix::fs::PermissionsExt;
    let workshop = Workshop::new();
    for index in 0..3 {
        workshop.take(&format!("{index}.wav"), 500.0, 0.8);
    }
    let open = fs::Permissions::from_mode(0o755);
    fs::set_permissions(workshop.folder.path(), open).unwrap();
    fs::copy(env!("CARGO_BIN_EXE_reedcrow"), workshop.path("program")).unwrap();
    // Root has no limit of processes, so another user runs it where root runs the tests.
    let limited = "ulimit -u 1; exec ./program batch 0.wav 1.wav 2.wav -j 8";
    let as_root = fs::metadata("/proc/self").unwrap();
    let mut command = match std::os::unix::fs::MetadataExt::uid(&as_root) {
        0 => Command::new("setpriv"),
        _ => Command::new("env"),
    };
    if command.get_program() == "setpriv" {
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
    }
    let ran = command.args(["bash", "-c", limited]).current_dir(workshop.folder.path()).output();
    match ran {
        Err(error) => println!("not tried: {error}"),
        Ok(output) => {
            let ran = Ran::new(output);
            assert_eq!((ran.code, ran.out.lines().count()), (Some(0), 4), "{ran:?}");
        }
    }
}
