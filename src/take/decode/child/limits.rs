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
        // On Windows the second is what it asked for, used or not; on a Mac it is all addresses.
        let bytes = if cfg!(windows) { process.virtual_memory() } else { process.memory() };
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
    #[ignore = "what a decoder does that waits for a question"]
    fn takes_nothing() {
        std::thread::sleep(Duration::from_secs(60));
    }

    #[test]
    fn a_child_is_over_its_limit_with_more_memory_and_not_while_it_waits() {
        let (mut greedy, mut modest) = (running("takes_memory"), running("takes_nothing"));
        let watches = (Watch::of(&greedy), Watch::of(&modest));
        let (Some(mut greedy_watch), Some(mut modest_watch)) = watches else { panic!() };
        let begun = Instant::now();
        while !greedy_watch.is_over() {
            assert!(begun.elapsed() < Duration::from_secs(40), "{:?}", greedy_watch.usage());
            std::thread::sleep(Duration::from_millis(50));
        }
        assert!(!modest_watch.is_over() && modest_watch.usage().is_some());
        for child in [&mut greedy, &mut modest] {
            child.kill().unwrap();
            child.wait().unwrap();
        }
    }
}
