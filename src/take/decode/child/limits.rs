//! What a child that decodes may use.
//!
//! On Linux the system holds it to memory, processor time and files (`setrlimit`). A Mac keeps no
//! limit of memory, and Windows keeps none that can be set safely from here: there the program that
//! asks looks at the child while it waits for an answer.

use std::process::Child;

/// Memory of a child, its program included.
const MEMORY_BYTES: u64 = 256 << 20;

/// Processor time for one answer, some 65 000 samples. The slowest format takes milliseconds.
pub const ANSWER_CPU_S: u64 = 5;

/// Sets them for this process. What the system refuses to limit stays as it is.
pub fn set() {
    #[cfg(unix)]
    {
        use nix::sys::resource::{Resource, setrlimit};
        for (resource, most) in [
            (Resource::RLIMIT_AS, MEMORY_BYTES),
            // It writes no files, least of all an image of itself when it is ended.
            (Resource::RLIMIT_FSIZE, 0),
            (Resource::RLIMIT_CORE, 0),
        ] {
            let _ = setrlimit(resource, most, most);
        }
    }
}

/// Gives it processor time for one more answer.
pub fn begin_answer() {
    #[cfg(unix)]
    {
        use nix::sys::resource::{Resource, UsageWho, getrlimit, getrusage, setrlimit};
        let (Ok(used), Ok((_, hard))) =
            (getrusage(UsageWho::RUSAGE_SELF), getrlimit(Resource::RLIMIT_CPU))
        else {
            return;
        };
        let used_s = used.user_time().tv_sec() + used.system_time().tv_sec();
        let until_s = u64::try_from(used_s).unwrap_or(0) + 1 + ANSWER_CPU_S;
        let _ = setrlimit(Resource::RLIMIT_CPU, until_s.min(hard), hard);
    }
}

/// How a child is looked at from outside, where the system does not hold it to its limits.
#[cfg(any(windows, target_os = "macos"))]
#[derive(Debug)]
pub struct Watch {
    system: sysinfo::System,
    child: sysinfo::Pid,
    used_before_ms: u64,
}

#[cfg(any(windows, target_os = "macos"))]
impl Watch {
    /// Of a child that was just started.
    pub fn of(child: &Child) -> Option<Self> {
        let child = sysinfo::Pid::from_u32(child.id());
        Some(Self { system: sysinfo::System::new(), child, used_before_ms: 0 })
    }

    /// From now on it works on one more answer.
    pub fn begin_answer(&mut self) {
        self.used_before_ms = self.usage().map_or(0, |(_, used_ms)| used_ms);
    }

    /// Whether it took more than an answer may.
    pub fn is_over(&mut self) -> bool {
        self.usage().is_some_and(|(bytes, used_ms)| {
            bytes > MEMORY_BYTES || used_ms > self.used_before_ms + 1000 * ANSWER_CPU_S
        })
    }

    /// Its memory in bytes, and the processor time it has had.
    fn usage(&mut self) -> Option<(u64, u64)> {
        let what = sysinfo::ProcessRefreshKind::nothing().with_memory().with_cpu();
        let only = sysinfo::ProcessesToUpdate::Some(&[self.child]);
        self.system.refresh_processes_specifics(only, true, what);
        let process = self.system.process(self.child)?;
        // On Windows the second is what it asked for, used or not (wine does not tell it); on a Mac it is
        // all addresses.
        let asked_for = if cfg!(windows) { process.virtual_memory() } else { 0 };
        let bytes = process.memory().max(asked_for);
        Some((bytes, process.accumulated_cpu_time()))
    }
}

/// Nothing: the system holds it to its limits.
#[cfg(not(any(windows, target_os = "macos")))]
#[derive(Debug)]
pub struct Watch;

#[cfg(not(any(windows, target_os = "macos")))]
impl Watch {
    /// None is needed.
    pub fn of(_: &Child) -> Option<Self> {
        None
    }

    /// Never called.
    pub fn begin_answer(&mut self) {}

    /// Never called.
    pub fn is_over(&mut self) -> bool {
        false
    }
}

#[cfg(all(test, any(windows, target_os = "macos")))]
mod tests {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};

    use super::*;

    /// This program, running one of the tests that only the others start.
    fn running(name: &str) -> Child {
        let name = format!("take::decode::child::limits::tests::{name}");
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["--exact", "--ignored", &name]).stdout(Stdio::null()).spawn().unwrap()
    }

    #[test]
    #[ignore = "what a decoder would do that asks for all memory there is"]
    fn takes_memory() {
        let held = std::hint::black_box(vec![1_u8; (MEMORY_BYTES + (50 << 20)) as usize]);
        std::thread::sleep(Duration::from_secs(60));
        drop(held);
    }

    #[test]
    #[ignore = "what a decoder would do that never comes to an end"]
    fn takes_time() {
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(60) {}
    }

    #[test]
    #[ignore = "what a decoder does that waits for a question"]
    fn takes_nothing() {
        std::thread::sleep(Duration::from_secs(60));
    }

    /// Looks at a child until it is over a limit, or so long; returns what it took then.
    fn looked_at(name: &str, longest: Duration) -> (bool, (u64, u64)) {
        let mut child = running(name);
        let mut watch = Watch::of(&child).unwrap();
        watch.begin_answer();
        let begun = Instant::now();
        let mut is_over = false;
        while !is_over && begun.elapsed() < longest {
            std::thread::sleep(Duration::from_millis(50));
            is_over = watch.is_over();
        }
        let took = watch.usage().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
        (is_over, took)
    }

    #[test]
    fn a_child_with_too_much_memory_is_over_its_limit_and_one_that_waits_has_little() {
        let (is_over, took) = looked_at("takes_memory", Duration::from_secs(40));
        assert!(is_over && took.0 > MEMORY_BYTES, "{took:?}");
        let (_, (bytes, _)) = looked_at("takes_nothing", Duration::from_secs(1));
        assert!((1..MEMORY_BYTES / 2).contains(&bytes), "{bytes}");
    }

    #[allow(clippy::print_stderr, reason = "it tells what it cannot test")]
    #[test]
    fn a_child_that_never_comes_to_an_end_is_over_its_limit() {
        // Wine tells of a child the time of whoever asks, which here only waits.
        let (_, (_, told_ms)) = looked_at("takes_time", Duration::from_secs(3));
        let (_, (_, idle_ms)) = looked_at("takes_nothing", Duration::from_secs(1));
        if told_ms < idle_ms + 500 {
            eprintln!("SKIPPED: this system does not tell what time another program had");
            return;
        }
        let (is_over, took) = looked_at("takes_time", Duration::from_secs(40));
        assert!(is_over && took.1 > 1000 * ANSWER_CPU_S, "{took:?}");
    }
}
