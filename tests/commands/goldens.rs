//! What a user gets of the demo takes and of a made-up log, whole: cards, lines of JSON, a comparison,
//! the tables and the page of a batch, a reed's way, its account. A change of wording or of a figure shows
//! here; it is read, and renewed by `INSTA_UPDATE=always cargo test --test commands goldens`.
//!
//! Figures are kept to two decimals: further digits differ from processor to processor.

use serde_json::Value;

use super::golden::{held, timeless};
use super::markup::{drawings, fault};
use super::{Bench, ending};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");
const TAKES: [&str; 15] = [
    "anouk-7-good",
    "anouk-9-flat",
    "bram-2-sharp",
    "bram-4-unlocked",
    "bram-5-peep",
    "bram-8-faint-low",
    "bram-9-wild",
    "ilse-1-late-low",
    "ilse-3-rattle",
    "ilse-6-turns",
    "ilse-8-one-tone",
    "ilse-9-blended",
    "mirek-12-after",
    "mirek-12-before",
    "mirek-13-choked",
];

impl Bench {
    fn with_takes(names: &[&str]) -> Self {
        let bench = Self::new();
        for name in names {
            let file = format!("{name}.wav");
            std::fs::copy(format!("{DEMO}/{file}"), bench.path(&file)).unwrap();
        }
        bench
    }

    /// What the program prints, without dates and times; it must succeed.
    fn says(&self, arguments: &[&str]) -> String {
        let end = ending(self.reedcrow(arguments).env("REEDCROW_LOG", self.path("reeds.db")));
        assert_eq!(end.code, Some(0), "{arguments:?}: {}", end.errors);
        timeless(&end.output)
    }

    /// A file that it wrote.
    fn written(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }
}

/// Holds what the program gave against the file of that name in `goldens`.
fn golden(name: &str, given: &str) {
    held("goldens", name, given);
}

fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0 + 0.0
}

/// A line of JSON over several lines.
fn laid_out(line: &str) -> String {
    fn round(value: &mut Value) {
        match value {
            Value::Number(number) if number.is_f64() => {
                *value = rounded(number.as_f64().unwrap()).into();
            }
            Value::Array(values) => values.iter_mut().for_each(round),
            Value::Object(values) => values.values_mut().for_each(round),
            _ => {}
        }
    }
    let mut value: Value = serde_json::from_str(line).unwrap();
    round(&mut value);
    serde_json::to_string_pretty(&value).unwrap()
}

/// A table of a batch, the release left out.
fn table(text: &str) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut writer = csv::Writer::from_writer(Vec::new());
    for record in reader.records() {
        let cells = record.unwrap();
        let cells = cells.iter().map(|cell| match cell.parse::<f64>() {
            Ok(value) if cell.contains('.') => rounded(value).to_string(),
            _ => cell.replace(env!("CARGO_PKG_VERSION"), "VERSION"),
        });
        writer.write_record(cells).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

/// A page without its style, script and drawn curves, an element a line.
fn page(html: &str) -> String {
    let mut text = timeless(html);
    for (from, to) in
        [("<style>", "</style>"), ("<script>", "</script>"), (" d=\"", "\""), (" points=\"", "\"")]
    {
        let mut parts = text.split(from);
        let mut kept = parts.next().unwrap_or_default().to_owned();
        for part in parts {
            let (_, after) = part.split_once(to).expect("closed");
            kept.push_str(from);
            kept.push('…');
            kept.push_str(to);
            kept.push_str(after);
        }
        text = kept;
    }
    let shapes = ["<line ", "</line>", "<polygon ", "</polygon>", "<rect "];
    let drawn = |line: &&str| !shapes.iter().any(|of| line.starts_with(of));
    text.replace("><", ">\n<").lines().filter(drawn).collect::<Vec<_>>().join("\n")
}

/// Its drawings are drawn by whatever shows the page: where a shape is not closed, the next ones stand in it
/// and are not seen.
fn drawn_whole(html: &str, drawn: usize) {
    let drawings = drawings(html);
    assert_eq!(drawings.len(), drawn);
    for drawing in drawings {
        assert_eq!(fault(drawing), None, "{drawing}");
    }
}

#[test]
fn a_card_of_every_demo_take() {
    let bench = Bench::with_takes(&TAKES);
    for name in TAKES {
        golden(&format!("card-{name}"), &bench.says(&["analyse", &format!("{name}.wav")]));
    }
}

#[test]
fn a_line_of_json() {
    let bench = Bench::with_takes(&TAKES);
    for name in ["bram-4-unlocked", "bram-9-wild", "mirek-12-before"] {
        let line = bench.says(&["analyse", "--json", &format!("{name}.wav")]);
        golden(&format!("json-{name}"), &laid_out(&line));
    }
}

#[test]
fn a_comparison() {
    let takes = ["mirek-12-before.wav", "mirek-12-after.wav"];
    let bench = Bench::with_takes(&TAKES);
    golden("comparison", &bench.says(&[&["compare"], &takes[..]].concat()));
    let line = bench.says(&[&["compare", "--json"], &takes[..]].concat());
    golden("comparison-json", &laid_out(&line));
    let one_crow = ["compare", "anouk-9-flat.wav", "bram-5-peep.wav"];
    golden("comparison-of-two-reeds", &bench.says(&one_crow));
}

#[test]
fn a_batch() {
    let bench = Bench::with_takes(&TAKES);
    bench.bytes("not-a-recording.wav", b"a shopping list");
    let made = |arguments: &[&str]| {
        let end = ending(&mut bench.reedcrow(&[&["batch"], arguments].concat()));
        assert_eq!(end.code, Some(1), "{}", end.errors);
    };
    made(&[".", "--out", "takes.jsonl", "--crows", "crows.csv", "--page", "page.html"]);
    made(&["bram-4-unlocked.wav", "bram-9-wild.wav", "not-a-recording.wav", "--out", "takes.csv"]);
    golden("batch-table", &table(&bench.written("takes.csv")));
    golden("batch-crows", &table(&bench.written("crows.csv")));
    let folder = bench.folder.path().file_name().unwrap().to_str().unwrap();
    let html = bench.written("page.html");
    drawn_whole(&html, html.matches("</svg>").count());
    golden("batch-page", &page(&html).replace(folder, "FOLDER"));
}

#[test]
fn a_reed_in_the_log() {
    let bench = Bench::with_takes(&["mirek-12-before", "mirek-12-after"]);
    bench.says(&[
        "reed",
        "new",
        "Mirek 12",
        "--owner",
        "Mirek",
        "--complaint",
        "flat, and hard to start",
    ]);
    bench.says(&[
        "reed",
        "measure",
        "Mirek 12",
        "--length-mm",
        "70.6",
        "--staple-mm",
        "47",
        "--tip-mm",
        "66.2",
    ]);
    bench.says(&["reed", "inspect", "Mirek 12", "--leak", "low", "--bark", "kept"]);
    bench.says(&["reed", "take", "Mirek 12", "mirek-12-before.wav"]);
    golden("reed-crowed", &bench.says(&["reed", "show", "Mirek 12"]));
    bench.says(&["reed", "step", "Mirek 12", "seal low"]);
    bench.says(&["reed", "step", "Mirek 12", "clip", "0.3", "--note", "a thin feather of cane"]);
    let told = bench.says(&["reed", "take", "Mirek 12", "mirek-12-after.wav"]);
    golden("reed-taken", &told);
    golden("reed-shown", &bench.says(&["reed", "show", "Mirek 12"]));
    golden("reed-compared", &bench.says(&["compare", "--reed", "Mirek 12"]));
    bench.says(&["reed", "close", "Mirek 12", "done"]);
    golden("reeds-listed", &bench.says(&["reed", "list"]));
    golden("log-effects", &bench.says(&["log", "effects"]));
    golden("account", &bench.says(&["reed", "account", "Mirek 12", "--html", "a.html"]));
    let html = bench.written("a.html");
    drawn_whole(&html, 2);
    golden("account-page", &page(&html));
}
