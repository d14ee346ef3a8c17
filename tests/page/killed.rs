//! The program ends at any moment, and nothing that was written down is lost.

use crate::served::Served;

#[test]
fn a_killed_bench_starts_again_on_the_same_reed_with_all_that_was_written_down() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let bench = Served::start(Served::deaf(), &log);
    let token = bench.token();
    for line in ["new mirek-12", "length 70.6", "leak low", "clip 0.3: end was torn"] {
        let answer = bench.say(&token, line);
        assert_eq!(answer.status, 200, "{answer:?}");
    }
    bench.kill();
    let again = Served::start(Served::deaf(), &log);
    let page = again.get("/").body;
    for there in ["mirek-12", "clip 0.3 mm: end was torn", "70.3", "leak low"] {
        assert!(page.contains(there), "{there}");
    }
    // The page of the first start may change nothing any more.
    assert_eq!(again.say(&token, "undo").status, 403);
    assert_eq!(again.say(&again.token(), "undo").status, 200);
}

#[test]
fn another_program_on_the_same_log_is_seen() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let bench = Served::start(Served::deaf(), &log);
    bench.say(&bench.token(), "new mirek-12");
    let other = Served::deaf()
        .args(["reed", "step", "mirek-12", "clip", "0.4", "--log"])
        .arg(&log)
        .status()
        .unwrap();
    assert!(other.success());
    let limit = std::time::Instant::now() + std::time::Duration::from_secs(30);
    while !bench.get("/").body.contains("clip 0.4 mm") {
        assert!(std::time::Instant::now() < limit, "the cut of another program never showed");
        std::thread::sleep(std::time::Duration::from_millis(200));
    }
}
