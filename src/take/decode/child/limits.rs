//! What a child that decodes may use.
//!
//! On Unix the system holds it to memory, processor time and files (`setrlimit`; a Mac keeps no
//! limit of memory, and there as on Windows only the time an answer may take and the length of the
//! sound are held to, by the program that asks).

/// Memory of a child, its program included.
#[cfg(unix)]
const MEMORY_BYTES: u64 = 256 << 20;

/// Processor time for one answer, some 65 000 samples. The slowest format takes milliseconds.
#[cfg(unix)]
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
