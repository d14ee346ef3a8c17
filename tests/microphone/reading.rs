//! What is played is what is read: the program's reading of the microphone against its reading of
//! the file that was played, and of the file it kept.

use std::path::Path;

use reedcrow::take::wav::{self, SampleFormat};
use reedcrow_synth::{Background, Colour, CrowSound, Noise, NoiseLevel, Scene, Sound, Source};
use serde_json::Value;

use crate::bench::{Bench, Running, let_it_open, say_skipped, text};

/// Three crows in octaves, 40 cents flat, after 2.5 s of a quiet room: the virtual microphone is
/// digitally silent until it is played into, as no room is.
fn played(wav: &Path) {
    let mut scene = Scene::new(8.0, 5);
    let noise = Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-62.0) };
    scene.background = Background { noise: Some(noise), hum: None };
    for start_s in [2.5, 4.2, 6.0] {
        let crow = CrowSound::octaves(511.3, 0.9, -4.0);
        scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
    }
    let samples = scene.render().take("bench").samples;
    wav::write(wav, &samples, scene.sample_rate_hz, 1, SampleFormat::F32).unwrap();
}

fn analysed(bench: &Bench, wav: &Path) -> String {
    let output = bench.reedcrow().args(["analyse", "--json"]).arg(wav).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    text(&output.stdout)
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {path}: {value}"))
}

fn lost_samples(line: &Value) -> bool {
    line["warnings"].as_array().unwrap().iter().any(|warning| warning["code"] == "lost-samples")
}

#[test]
fn the_microphone_reads_as_the_file_that_is_played_into_it() {
    let Some(bench) = Bench::start() else { return };
    let folder = bench.path("takes");
    let file = bench.path("played.wav");
    played(&file);
    let read: Value = serde_json::from_str(&analysed(&bench, &file)).unwrap();
    let listening =
        Running::start(bench.reedcrow().args(["listen", "--json", "--save"]).arg(&folder));
    let_it_open();
    bench.play(&file);
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
    if lost_samples(&heard) {
        say_skipped("this machine was too busy to record without loss");
        return;
    }
    assert_eq!(analysed(&bench, &kept), lines, "the kept file reads the same");

    let crows = |line: &Value| line["crows"].as_array().unwrap().clone();
    let (played, heard) = (crows(&read), crows(&heard));
    assert_eq!(played.len(), 3);
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
