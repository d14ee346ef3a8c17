//! A log of many reeds is gone through one reed after the other: no command that writes, reads or checks all
//! of it holds it in memory, and none looks for a reed's rows in those of all the others.

use rusqlite::Connection;

use super::Workshop;

/// Runs it to its end; the most memory that it had resident (proc(5), VmHWM), in KiB.
#[cfg(target_os = "linux")]
fn peak_kib(workshop: &Workshop, arguments: &[&str]) -> u64 {
    use std::process::Stdio;
    use std::time::Duration;
    let mut child = workshop.reedcrow(arguments).stdout(Stdio::null()).spawn().unwrap();
    let mut peak = 0;
    loop {
        let status =
            std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let now = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
        peak = peak.max(now.unwrap_or(0));
        if let Some(ended) = child.try_wait().unwrap() {
            assert!(ended.success(), "{arguments:?}");
            return peak;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Held whole, 150 such reeds took some 200 MB, and each more above 1 MB.
#[cfg(target_os = "linux")]
#[allow(clippy::print_stdout, reason = "it tells what it measured")]
#[test]
fn a_log_of_many_reeds_is_never_held_whole() {
    let workshop = Workshop::new();
    let year = super::year(super::year_asked().unwrap_or(150));
    let made = year.path().to_str().unwrap();
    let written = workshop.path("export");
    let again = workshop.path("again.db");
    for arguments in [
        &["log", "import", made][..],
        &["log", "export", written.to_str().unwrap()],
        &["log", "check"],
        &["log", "import", made],
        &["log", "import", written.to_str().unwrap(), "--log", again.to_str().unwrap()],
    ] {
        let peak = peak_kib(&workshop, arguments);
        println!("{arguments:?}: {peak} KiB");
        assert!((1_000..100_000).contains(&peak), "{arguments:?}: {peak} KiB");
    }
    let lines = |folder: &std::path::Path| {
        let text = std::fs::read_to_string(folder.join("log.jsonl")).unwrap();
        text.lines().count()
    };
    assert_eq!(lines(&written), lines(year.path()));
}

#[test]
fn the_rows_of_a_reed_are_found_by_an_index_in_every_table() {
    let workshop = Workshop::with_a_reed();
    let database = Connection::open(workshop.path("reeds.db")).unwrap();
    for table in ["step", "measurement", "inspection", "take", "reading", "heard", "rating"] {
        let sql = format!("EXPLAIN QUERY PLAN SELECT * FROM {table} WHERE reed_id = 1 ORDER BY id");
        let plan: String = database.query_row(&sql, [], |row| row.get(3)).unwrap();
        assert!(plan.contains("USING INDEX"), "{table}: {plan}");
    }
}
