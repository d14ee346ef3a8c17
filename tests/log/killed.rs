//! The program killed at random moments loses nothing that it acknowledged.

use std::collections::BTreeSet;
use std::fs;
use std::io::Read;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::log::History;

use super::{Workshop, add_take, count_takes, year, year_asked};

/// Kills in one run: enough to hit every part of a write many times, few enough to wait for.
/// Under an emulator a program takes half a second to start.
const KILLS: usize = if cfg!(windows) { 40 } else { 200 };

/// Recordings handed to one `reed take`, so that kills fall between and inside takes.
const BATCH: usize = 4;

#[test]
fn killed_again_and_again_the_log_keeps_every_acknowledged_step_and_take() {
    let workshop = Workshop::with_a_reed();
    let killed = work_and_kill(&workshop, KILLS);
    assert!(killed > KILLS / 3, "only {killed} were killed while they worked");
}

/// The log of a busy bench: a hundredth of a year's here, all of it with `REEDCROW_YEAR=whole` (a quarter
/// of an hour).
#[allow(clippy::print_stdout, reason = "it tells how much it tried")]
#[test]
fn killed_on_a_years_log_it_keeps_that_too() {
    let reeds = year_asked().unwrap_or(40);
    let workshop = Workshop::with_a_reed();
    let imported = workshop.log().import(year(reeds).path()).unwrap();
    assert!(imported.missing.is_empty() && imported.added.len() == reeds, "{imported:?}");
    let takes = count_takes(&workshop.log());
    assert!(takes > 9 * reeds, "{takes} takes");
    let killed = work_and_kill(&workshop, 20);
    let kept = workshop.log().facts(|_| true).unwrap();
    assert_eq!((kept.whole.len(), kept.passed_over.len()), (reeds + 1, 0));
    let standing = kept.whole.iter().filter(|facts| facts.card.label != "A");
    let standing: usize = standing.flat_map(|facts| &facts.way).map(|at| at.stage.takes).sum();
    assert_eq!(standing, takes);
    println!("{takes} takes of {reeds} reeds kept through {killed} kills");
}

/// Works on reed A, killed at random moments, and looks the log through after each; returns how often
/// the program was killed while it worked.
fn work_and_kill(workshop: &Workshop, kills: usize) -> usize {
    let recordings: Vec<String> =
        (0..kills * BATCH).map(|number| workshop.recording(number).display().to_string()).collect();
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut whole_run = unkilled(workshop);
    let mut acknowledged = Acknowledged::default();
    let mut killed = 0;
    for batch in recordings.chunks(BATCH) {
        let note = format!("cut {killed}");
        let arguments: Vec<&str> = match random.random_bool(0.5) {
            true => vec!["reed", "step", "A", "tip-sides", "--note", &note],
            false => {
                ["reed", "take", "A"].into_iter().chain(batch.iter().map(String::as_str)).collect()
            }
        };
        let mut child = workshop
            .reedcrow(&arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(whole_run.mul_f64(random.random_range(0.0..1.2)));
        let ended = child.try_wait().unwrap().is_some();
        killed += usize::from(!ended);
        acknowledged.hear(child);
        // The machine may have become slower or faster.
        whole_run = whole_run.mul_f64(if ended { 0.98 } else { 1.02 });
        acknowledged.check(&workshop.log().history("A").unwrap());
        assert_eq!(workshop.log().check().unwrap().faults, [], "after {killed} kills");
    }
    // What killed programs had half written goes with the next take.
    add_take(&mut workshop.log(), "A", &workshop.recording(kills * BATCH));
    let left = workshop.log().audio_folder().join("unfinished");
    assert_eq!(fs::read_dir(left).unwrap().count(), 0);
    killed
}

/// How long the program takes for one step, start to end.
fn unkilled(workshop: &Workshop) -> Duration {
    let start = Instant::now();
    assert!(
        workshop.reedcrow(&["reed", "step", "A", "note", "x"]).output().unwrap().status.success()
    );
    start.elapsed()
}

/// What the program said it had done.
#[derive(Default)]
struct Acknowledged {
    steps: BTreeSet<u32>,
    takes: BTreeSet<u32>,
}

impl Acknowledged {
    /// Kills the program and reads what it had said.
    fn hear(&mut self, mut child: Child) {
        child.kill().unwrap();
        let mut said = String::new();
        child.stdout.take().unwrap().read_to_string(&mut said).unwrap();
        child.wait().unwrap();
        for line in said.lines().filter(|line| !line.contains("already")) {
            let mut words = line.split([' ', ',']);
            let (Some("A:"), Some(what), Some(number)) = (words.next(), words.next(), words.next())
            else {
                continue;
            };
            let Ok(number) = number.parse() else { continue };
            match what {
                "step" => assert!(self.steps.insert(number), "step {number} twice"),
                "take" => assert!(self.takes.insert(number), "take {number} twice"),
                other => panic!("{other}"),
            }
        }
    }

    fn check(&self, history: &History) {
        let steps: BTreeSet<u32> = history.steps.iter().filter_map(|step| step.number).collect();
        let takes: BTreeSet<u32> = history.takes.iter().map(|take| take.take.number).collect();
        assert!(steps.is_superset(&self.steps), "lost {:?}", &self.steps - &steps);
        assert!(takes.is_superset(&self.takes), "lost {:?}", &self.takes - &takes);
        assert!(history.takes.iter().all(|take| take.reading.is_some()));
        // Numbers without gaps: nothing was half written.
        assert_eq!(steps.len(), history.stage() as usize);
        assert_eq!(takes.len(), takes.last().map_or(0, |last| *last as usize));
    }
}
