//! The recipes of the README for more than one machine, run as they stand there: GNU parallel itself,
//! and the job script with the variables that Slurm sets.

use std::path::Path;
use std::process::{Command, Output};

use crate::{Workshop, rows};

const README: &str = include_str!("../../README.md");

/// The line of the README that holds `mark`.
fn recipe(mark: &str) -> &'static str {
    README.lines().find(|line| line.contains(mark)).unwrap_or_else(|| panic!("no line with {mark}"))
}

impl Workshop {
    /// A shell in the folder, with the program on its path.
    fn shell(&self, script: &str, variables: &[(&str, String)]) -> Output {
        let program = Path::new(env!("CARGO_BIN_EXE_reedcrow")).parent().unwrap();
        let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap());
        let mut command = Command::new("sh");
        command.current_dir(self.folder.path()).args(["-c", script]);
        command.env("PATH", path).env("HOME", self.folder.path());
        command.envs(variables.iter().map(|(name, value)| (*name, value)));
        command.output().unwrap()
    }

    /// An archive of so many short takes, in folders within folders.
    fn archive(&self, takes: usize) {
        let first = self.take("archive/1/take 0000.wav", 520.0, 0.3);
        for number in 1..takes {
            let path = self.path(&format!("archive/{}/take {number:04}.wav", number % 7));
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::copy(&first, path).unwrap();
        }
    }

    /// Joins the parts as the README does, and counts the takes in the table.
    fn joined(&self) -> usize {
        let merge = self.shell(recipe("--merge part-*.csv"), &[]);
        assert!(merge.status.success(), "{}", String::from_utf8_lossy(&merge.stderr));
        let rows = rows(&self.path("archive.csv"));
        assert!(rows.iter().all(|(_, error)| error.is_empty()), "{rows:?}");
        let mut sources: Vec<&str> = rows.iter().map(|(source, _)| source.as_str()).collect();
        sources.sort_unstable();
        sources.dedup();
        sources.len()
    }
}

/// Tasks of the array in these tests; the README's hundred would only take longer.
const TASKS: usize = 6;

#[test]
fn an_array_of_jobs_reads_every_take_once_also_with_fewer_takes_than_jobs() {
    let line = recipe("sbatch --array");
    let script = line.split_once("--wrap '").and_then(|(_, rest)| rest.strip_suffix('\'')).unwrap();
    for takes in [3, 10, 1000] {
        let workshop = Workshop::new();
        workshop.archive(takes);
        for task in 1..=TASKS {
            let variables = [
                ("SLURM_ARRAY_TASK_ID", task.to_string()),
                ("SLURM_ARRAY_TASK_COUNT", TASKS.to_string()),
            ];
            let ran = workshop.shell(script, &variables);
            let said = String::from_utf8_lossy(&ran.stderr);
            assert!(ran.status.success(), "{takes} takes, task {task}: {said}");
        }
        assert_eq!(workshop.joined(), takes);
    }
}

#[test]
fn gnu_parallel_reads_every_take_once() {
    if Command::new("parallel").arg("--version").output().is_err() {
        eprintln!("\n*** SKIPPED the recipe for GNU parallel: it is not installed");
        return;
    }
    // On this machine alone, and in parts of four so that three takes are one part and ten are three.
    let line = recipe("| parallel --pipe").replace("-S host1,host2 --wd . ", "");
    for (takes, part) in [(3, 4), (10, 4), (1000, 250)] {
        let workshop = Workshop::new();
        workshop.archive(takes);
        let ran = workshop.shell(&line.replace("-N1000", &format!("-N{part}")), &[]);
        assert!(ran.status.success(), "{takes}: {}", String::from_utf8_lossy(&ran.stderr));
        assert_eq!(workshop.joined(), takes);
    }
}
