//! What is played is what is read: the program's reading of the microphone against its reading of
//! the file that was played, and of the file it kept.

use std::path::Path;

use serde_json::Value;

use crate::bench::{Bench, Running, let_it_open, text};

/// A take of the invented workshop: three crows in octaves, about 40 cents flat.
const PLAYED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/anouk-9-flat.wav");

fn analysed(bench: &Bench, wav: &Path) -> String {
    let output = bench.reedcrow().args(["analyse", "--json"]).arg(wav).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    text(&output.stdout)
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {path}: {value}"))
}

#[test]
fn the_microphone_reads_as_the_file_that_is_played_into_it() {
    let Some(bench) = Bench::start() else { return };
    let folder = bench.path("takes");
    let played: Value = serde_json::from_str(&analysed(&bench, Path::new(PLAYED))).unwrap();
    let listening =
        Running::start(bench.reedcrow().args(["listen", "--json", "--save"]).arg(&folder));
    // The room is digital silence until the file brings its own noise.
    let_it_open();
    bench.play(Path::new(PLAYED));
    let_it_open();
    listening.interrupt();
    // Readings take long where the program was built without optimisation.
    let output = listening.ended(300);
    assert!(output.status.success(), "{output:?}");

    let lines = text(&output.stdout);
    assert_eq!(lines.lines().count(), 1, "one take, one line: {lines}{}", text(&output.stderr));
    let heard: Value = serde_json::from_str(&lines).unwrap();
    let kept = folder.join("take-001.wav");
    assert_eq!(heard["source"], kept.display().to_string());
    assert_eq!(analysed(&bench, &kept), lines, "the kept file reads the same");

    let crows = |line: &Value| line["crows"].as_array().unwrap().clone();
    let (played, heard) = (crows(&played), crows(&heard));
    assert!(!played.is_empty());
    assert_eq!(heard.len(), played.len());
    for (played, heard) in played.iter().zip(&heard) {
        assert_eq!(heard["kind"], played["kind"]);
        let [from, to] = [played, heard].map(|crow| number(crow, "/fundamental/hz"));
        let cents = 1200.0 * (to / from).log2();
        // The path is digital; what differs is where the crow is cut out of its noise.
        let interval = [played, heard].map(|crow| number(crow, "/fundamental/ci95_cents"));
        let tolerance = interval.iter().sum::<f64>().min(1.0);
        assert!(cents.abs() <= tolerance, "{cents} cents apart, {tolerance} allowed");
        let levels = [played, heard].map(|crow| number(crow, "/level_dbfs"));
        assert!((levels[0] - levels[1]).abs() <= 0.5, "{levels:?} dBFS");
    }
}
