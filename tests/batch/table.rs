//! The table: its order, its forms, and the joining of parts.

use reedcrow::take::TakeError;

use crate::{Workshop, golden, rows};

/// Ten takes, and among them a file that is damaged and one that is not a recording.
fn workshop() -> Workshop {
    let workshop = Workshop::new();
    for index in 0..10 {
        workshop.take(&format!("takes/{index}.wav"), 500.0 + 5.0 * f64::from(index), 0.8);
    }
    std::fs::write(workshop.path("takes/5-empty.wav"), "").unwrap();
    std::fs::write(workshop.path("takes/notes.txt"), "tip thinned at the corners").unwrap();
    workshop
}

/// Rows stand in the order of the input whatever the number of threads: same bytes.
#[test]
fn one_job_and_many_give_the_same_bytes() {
    let workshop = workshop();
    for (jobs, table) in
        [("1", "one.csv"), ("4", "four.csv"), ("1", "one.jsonl"), ("3", "three.jsonl")]
    {
        let ran = workshop.batch(&["takes", "--jobs", jobs, "--out", table]);
        assert_eq!(ran.code, Some(1), "{ran:?}");
    }
    assert_eq!(workshop.text("one.csv"), workshop.text("four.csv"));
    assert_eq!(workshop.text("one.jsonl"), workshop.text("three.jsonl"));
    let rows = rows(&workshop.path("one.csv"));
    let names: Vec<_> = rows.iter().map(|(source, _)| source.as_str()).collect();
    let mut expected: Vec<_> = (0..10).map(|index| format!("takes/{index}.wav")).collect();
    expected.insert(5, "takes/5-empty.wav".into());
    assert_eq!(names, expected);
    assert_eq!(rows[5].1, TakeError::Empty.to_string());
    assert!(!workshop.path("one.csv.part").exists());
}

/// Without a name the table is printed, and only the table.
#[test]
fn the_table_is_printed_where_it_has_no_name() {
    let workshop = workshop();
    let ran = workshop.batch(&["takes"]);
    workshop.batch(&["takes", "--out", "table.csv"]);
    assert_eq!(ran.out, workshop.text("table.csv"));
    golden("counted", &ran.err);
}

/// A row is a function of one file: parts made apart and joined are the whole.
#[test]
fn parts_joined_are_the_whole() {
    let workshop = workshop();
    for ending in ["csv", "jsonl"] {
        let name = |stem: &str| format!("{stem}.{ending}");
        workshop.batch(&["takes", "--out", &name("whole")]);
        let list = |range: std::ops::Range<usize>| {
            let mut files: Vec<_> = (0..10).map(|index| format!("takes/{index}.wav")).collect();
            files.insert(5, "takes/5-empty.wav".into());
            files[range].join("\n")
        };
        std::fs::write(workshop.path("first"), list(0..6)).unwrap();
        std::fs::write(workshop.path("second"), list(4..11)).unwrap();
        workshop.batch(&["--files-from", "first", "--out", &name("a")]);
        workshop.batch(&["--files-from", "second", "--out", &name("b")]);
        let ran = workshop.batch(&["--merge", &name("a"), &name("b"), "--out", &name("joined")]);
        assert_eq!(workshop.text(&name("joined")), workshop.text(&name("whole")));
        assert_ne!(ran.err, "");
        let ran = workshop.batch(&["--merge", &name("a"), &name("c"), "--out", &name("none")]);
        let said = format!("reedcrow: {}: there is no such table; check its name\n", name("c"));
        assert_eq!((ran.code, ran.err), (Some(1), said));
        assert!(!workshop.path(&name("none")).exists());
    }
}

#[test]
fn a_table_of_something_else_is_refused_and_left_alone() {
    let workshop = workshop();
    std::fs::write(workshop.path("other.csv"), "name,price\ncane,12\n").unwrap();
    for arguments in [
        &["takes", "--out", "other.csv", "--resume"][..],
        &["--merge", "other.csv", "--out", "all.csv"],
        &["takes", "--out", "table.xls"],
        &["takes", "--resume"],
        &["--merge", "other.csv", "--out", "all.jsonl"],
        &["--files-from", "no-such-list", "--out", "table.csv"],
        &["takes", "--out", "no/such/folder.csv"],
    ] {
        let ran = workshop.batch(arguments);
        assert!(ran.code.is_some_and(|code| code != 0), "{arguments:?}: {ran:?}");
        assert!(!ran.err.is_empty());
    }
    assert_eq!(workshop.text("other.csv"), "name,price\ncane,12\n");
}

/// A table that is there is months of work perhaps: it goes only when that is said.
#[test]
fn a_table_that_is_there_is_not_written_over_unasked() {
    let workshop = workshop();
    workshop.batch(&["takes/1.wav", "--out", "t.csv"]);
    let before = workshop.text("t.csv");
    for arguments in [&["takes", "--out", "t.csv"][..], &["--merge", "t.csv", "--out", "t.csv"]] {
        let ran = workshop.batch(arguments);
        assert_eq!((ran.code, ran.err.lines().count()), (Some(1), 1), "{ran:?}");
        assert_eq!(workshop.text("t.csv"), before);
        assert!(!workshop.path("t.csv.part").exists());
    }
    assert_eq!(workshop.batch(&["takes/2.wav", "--out", "t.csv", "--replace"]).code, Some(0));
    assert_eq!(rows(&workshop.path("t.csv"))[0].0, "takes/2.wav");
    assert_eq!(workshop.batch(&["takes/1.wav", "--out", "t.csv", "--resume"]).code, Some(0));
    assert_eq!(rows(&workshop.path("t.csv"))[0].0, "takes/1.wav");
}

/// The unfinished table of a run that is still going, or was killed, is not written over.
#[test]
fn an_unfinished_table_is_not_written_over() {
    let workshop = workshop();
    std::fs::write(workshop.path("table.csv.part"), "").unwrap();
    let ran = workshop.batch(&["takes", "--out", "table.csv"]);
    assert_eq!((ran.code, ran.err.lines().count()), (Some(1), 1), "{}", ran.err);
    assert!(!workshop.path("table.csv").exists());
    assert_eq!(workshop.batch(&["takes", "--out", "table.csv", "--resume"]).code, Some(1));
    assert_eq!(rows(&workshop.path("table.csv")).len(), 11);
}

#[test]
fn pictures_are_drawn_and_a_missing_one_again() {
    let workshop = workshop();
    let arguments =
        ["takes/1.wav", "takes/2.wav", "--out", "t.csv", "--plots", "plots", "--resume"];
    let pictures = || {
        let mut all: Vec<_> = std::fs::read_dir(workshop.path("plots"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        all.sort();
        all
    };
    assert_eq!(workshop.batch(&arguments).code, Some(0));
    let drawn = pictures();
    assert_eq!(drawn.len(), 2);
    std::fs::remove_file(&drawn[1]).unwrap();
    let ran = workshop.batch(&arguments);
    assert_eq!(ran.earlier(), 1, "{}", ran.out);
    assert_eq!(pictures(), drawn);
}

/// What was written is named, and so is what was left out, and why.
#[test]
fn the_closing_lines_name_table_page_and_pictures() {
    let workshop = workshop();
    // Only its length matters; nothing is decoded but silence.
    let long = vec![0.0; 121 * crate::RATE_HZ as usize];
    let format = reedcrow::take::wav::SampleFormat::I16;
    reedcrow::take::wav::write(&workshop.path("long.wav"), &long, crate::RATE_HZ, 1, format)
        .unwrap();
    let ran = workshop.batch(&[
        "long.wav",
        "takes/1.wav",
        "--out",
        "t.csv",
        "--plots",
        "plots",
        "--page",
        "p.html",
    ]);
    ran.golden("closing-lines");
    assert_eq!(std::fs::read_dir(workshop.path("plots")).unwrap().count(), 1);
    let ran = workshop.batch(&["takes", "--page", "no/such/p.html"]);
    assert_eq!((ran.code, ran.out.as_str(), ran.err.lines().count()), (Some(1), "", 1));
}

/// The table of crows is a function of the table of takes, however that was made.
#[test]
fn every_crow_has_a_row_whether_read_at_once_gone_on_with_or_joined() {
    let workshop = workshop();
    let run = |arguments: &[&str]| workshop.batch(arguments);
    let ran = run(&["takes", "--out", "t.jsonl", "--crows", "c.csv"]);
    ran.golden("crows-written");
    let crows = workshop.text("c.csv");
    assert_eq!(crows.lines().count(), 1 + 10, "{crows}");
    assert!(crows.starts_with("source,crow,start_s,end_s,kind,fundamental.hz,"));
    run(&["takes/0.wav", "takes/1.wav", "--out", "u.jsonl", "--crows", "d.csv"]);
    assert_eq!(workshop.text("d.csv").lines().count(), 1 + 2);
    run(&["takes", "--out", "u.jsonl", "--crows", "d.csv", "--resume"]);
    assert_eq!(workshop.text("d.csv"), crows);
    run(&["--merge", "t.jsonl", "u.jsonl", "--out", "m.jsonl", "--crows", "e.csv"]);
    assert_eq!(workshop.text("e.csv"), crows);
    let mut told = String::new();
    for arguments in [
        &["takes", "--out", "x.csv", "--crows", "y.csv"][..],
        &["takes", "--out", "x.jsonl", "--crows", "y.jsonl"],
        &["takes", "--out", "x.jsonl", "--crows", "c.csv"],
        &["takes", "--crows", "y.csv"],
    ] {
        let ran = run(arguments);
        assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
        assert_ne!(ran.code, Some(0), "{arguments:?}: {}", ran.err);
        told.push_str(&ran.err);
        assert!(!workshop.path("x.csv").exists() && !workshop.path("x.jsonl").exists());
    }
    golden("crows-refused", &told);
    assert_eq!(workshop.text("c.csv"), crows);
}

/// The median that is printed is the page's.
#[test]
fn the_median_is_one_figure_wherever_it_stands() {
    let workshop = workshop();
    let ran = workshop.batch(&["takes", "--out", "t.csv", "--page", "p.html"]);
    ran.golden("median-printed");
    let printed = ran.out.split_whitespace().find(|word| word.starts_with('\u{2212}')).unwrap();
    let page = workshop.text("p.html");
    assert!(page.contains(&format!(" {printed} cents")), "{printed}: {}", ran.out);
}

/// The page is the same whether its rows were read now, before, or joined.
#[test]
fn the_page_shows_every_row() {
    let workshop = workshop();
    workshop.batch(&["takes", "--out", "t.csv", "--page", "now.html"]);
    workshop.batch(&["takes", "--out", "t.csv", "--page", "before.html", "--resume"]);
    workshop.batch(&["--merge", "t.csv", "--out", "m.csv", "--page", "joined.html"]);
    let page = workshop.text("now.html");
    assert_eq!(page, workshop.text("before.html"));
    let joined = workshop.text("joined.html");
    let names = [("<title>takes<", "<title>m.csv<"), ("<h1>takes<", "<h1>m.csv<")];
    assert!(names.iter().all(|(_, to)| joined.contains(to)));
    let renamed = names.iter().fold(page.clone(), |page, (from, to)| page.replace(from, to));
    assert_eq!(renamed, joined);
    let listed = |name: &str| page.contains(&format!("takes/{name}.wav"));
    assert!((0..10).all(|take| listed(&take.to_string())) && listed("5-empty"));
    let printed = workshop.batch(&["takes", "--page", "printed.html"]);
    assert_eq!(printed.out, workshop.text("t.csv"));
    assert_eq!(page, workshop.text("printed.html"));
}
