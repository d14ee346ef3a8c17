//! Requests that no page of the bench sends.

use std::io::{Read, Write};
use std::net::TcpStream;

use crate::mutation::feed;
use crate::served::Served;

fn served() -> (tempfile::TempDir, Served) {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::start(Served::deaf(), &folder.path().join("reeds.db"));
    (folder, served)
}

#[test]
fn another_host_another_origin_and_no_token_are_refused_and_change_nothing() {
    let (_folder, bench) = served();
    let (port, token) = (bench.port, bench.token());
    let post = |head: &str, token: &str| {
        let body = format!("token={token}&line=new+intruder");
        let request = format!(
            "POST /say HTTP/1.1\r\n{head}Content-Type: application/x-www-form-urlencoded\r\n\
             Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        bench.raw(request.as_bytes()).status
    };
    let here = format!("Host: 127.0.0.1:{port}\r\n");
    assert_eq!(post("Host: evil.test\r\n", &token), 421);
    assert_eq!(post(&format!("Host: evil.test:{port}\r\n"), &token), 421);
    assert_eq!(post(&format!("{here}Origin: http://evil.test\r\n"), &token), 403);
    assert_eq!(post(&format!("{here}Origin: null\r\n"), &token), 403);
    assert_eq!(post(&format!("{here}Sec-Fetch-Site: cross-site\r\n"), &token), 403);
    assert_eq!(post(&here, ""), 403);
    assert_eq!(post(&here, &"0".repeat(32)), 403);
    let page = bench.raw(b"GET / HTTP/1.1\r\nHost: evil.test\r\nConnection: close\r\n\r\n");
    assert!(page.status == 421 && !page.body.contains(&token), "{page:?}");
    assert!(!bench.get("/").body.contains("intruder"));
    // The same with everything in order is done.
    assert_eq!(post(&format!("{here}Origin: http://127.0.0.1:{port}\r\n"), &token), 303);
    assert!(bench.get("/").body.contains("intruder"));
}

#[test]
fn every_answer_says_what_the_page_may_do() {
    let (_folder, bench) = served();
    for path in ["/", "/log", "/assets/bench.js", "/nothing", "/sound/tone.wav"] {
        let head = bench.get(path).head;
        for wanted in
            ["default-src 'none'", "frame-ancestors 'none'", "nosniff", "cache-control: no-store"]
        {
            assert!(head.contains(wanted), "{path}: {head}");
        }
        assert!(!head.contains("unsafe-inline"), "{path}");
    }
    let page = bench.get("/").body;
    assert!(!page.contains("<style") && !page.contains(" style=") && !page.contains(" onclick"));
    assert_eq!(page.matches("<script").count(), page.matches("<script src=").count());
}

#[test]
fn no_path_leads_out() {
    let (folder, bench) = served();
    std::fs::write(folder.path().join("secret.wav"), "secret").unwrap();
    for path in [
        "/assets/../../../etc/passwd",
        "/assets/..%2f..%2f..%2fetc%2fpasswd",
        "/assets/%2fetc%2fpasswd",
        "/sound/take/../../secret.wav",
        "/sound/take/..%2f..%2fsecret.wav",
        "/sound/take/99999999999999999999.wav",
        "/sound/turn/1/..%2fsecret.wav",
        "/sound/%00",
        "//etc/passwd",
    ] {
        let answer = bench.get(path);
        assert!([400, 404].contains(&answer.status), "{path}: {}", answer.status);
        assert!(!answer.body.contains("root:") && !answer.body.contains("secret"), "{path}");
    }
}

#[test]
fn a_hundred_megabytes_are_refused_announced_or_not_and_leave_nothing_behind() {
    let (folder, bench) = served();
    let token = bench.token();
    let head = format!(
        "POST /recording HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Token: {token}\r\nX-Name: big.wav\r\n\
         Connection: close\r\n",
        bench.port
    );
    let announced = bench.raw(format!("{head}Content-Length: 104857600\r\n\r\n").as_bytes());
    assert_eq!(announced.status, 413);

    let mut stream = TcpStream::connect(("127.0.0.1", bench.port)).unwrap();
    stream.write_all(format!("{head}Transfer-Encoding: chunked\r\n\r\n").as_bytes()).unwrap();
    let chunk = [b"100000\r\n".to_vec(), vec![0; 0x10_0000], b"\r\n".to_vec()].concat();
    let sent = (0..100).take_while(|_| stream.write_all(&chunk).is_ok()).count();
    assert!(sent < 100, "it was read to its end");
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    drop(stream);
    let left = std::fs::read_dir(folder.path().join("reeds.audio/recording"));
    assert_eq!(left.map_or(0, Iterator::count), 0);
    assert!(bench.memory_kib() < 300_000, "{} KiB", bench.memory_kib());
    assert_eq!(bench.get("/").status, 200);
}

#[test]
fn what_is_no_recording_is_refused_in_one_line() {
    let (_folder, bench) = served();
    let body = "this is no sound";
    let answer = bench.raw(
        format!(
            "POST /recording HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Token: {}\r\nX-Name: ..%2Fa%0Ab\r\n\
             Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
            bench.port,
            bench.token(),
            body.len()
        )
        .as_bytes(),
    );
    assert_eq!(answer.body.lines().count(), 1, "{answer:?}");
    assert!(answer.body.starts_with("a\\nb: "), "{answer:?}");
}

#[test]
fn ten_thousand_requests_do_no_harm() {
    let (_folder, bench) = served();
    let token = bench.token();
    let mut stream = TcpStream::connect(("127.0.0.1", bench.port)).unwrap();
    let body = format!("token={token}&line=clip+nothing+{}", "x".repeat(300));
    let request = format!(
        "POST /say HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Bench: 1\r\nContent-Length: {}\r\n\
         Content-Type: application/x-www-form-urlencoded\r\n\r\n{body}",
        bench.port,
        body.len()
    );
    let before = bench.memory_kib();
    let reading = stream.try_clone().unwrap();
    let answers = std::thread::spawn(move || {
        let mut reading = reading;
        let (mut buffer, mut read) = (vec![0; 1 << 16], 0);
        while let Ok(count @ 1..) = reading.read(&mut buffer) {
            read += count;
        }
        read
    });
    // Piped through one connection without waiting, then eight at a time wait at the engine's door.
    for _ in 0..2_000 {
        stream.write_all(request.as_bytes()).unwrap();
    }
    stream.shutdown(std::net::Shutdown::Write).unwrap();
    let silly: Vec<_> = (0..8)
        .map(|_| {
            let port = bench.port;
            std::thread::spawn(move || {
                for _ in 0..1_000 {
                    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
                    let _ = stream.write_all(b"GET /nothing HTTP/1.1\r\nHost: x\r\n\r\n");
                }
            })
        })
        .collect();
    silly.into_iter().for_each(|thread| thread.join().unwrap());
    assert!(answers.join().unwrap() > 0);
    assert!(bench.memory_kib() < before + 100_000, "{before} to {} KiB", bench.memory_kib());
    assert_eq!(bench.get("/").status, 200);
    assert!(!bench.get("/").body.contains("clip nothing xxx</b>"));
}

/// Requests of the page, changed at random: none ends the program, and the log stays whole.
#[test]
fn mutated_requests_do_no_harm() {
    let (folder, bench) = served();
    let (port, token) = (bench.port, bench.token());
    let here = format!("Host: 127.0.0.1:{port}\r\nConnection: close\r\n");
    let form = |path: &str, body: &str| {
        format!(
            "POST {path} HTTP/1.1\r\n{here}X-Bench: 1\r\nContent-Length: {}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\n\r\n{body}",
            body.len()
        )
    };
    let say = |line: &str| form("/say", &format!("token={token}&line={line}"));
    let sound = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/recordings/fluid_oboe_G4.wav"
    ))
    .unwrap();
    let head = format!(
        "POST /recording HTTP/1.1\r\n{here}X-Token: {token}\r\nX-Name: a.wav\r\nContent-Length: {}\r\n\r\n",
        sound.len()
    );
    let corpus: Vec<Vec<u8>> = [
        format!("GET / HTTP/1.1\r\n{here}\r\n"),
        format!("GET /assets/bench.js HTTP/1.1\r\n{here}\r\n"),
        format!("GET /sound/take/1.wav HTTP/1.1\r\n{here}Range: bytes=0-99\r\n\r\n"),
        format!("GET /log?ask=way&reed=Anouk HTTP/1.1\r\n{here}\r\n"),
        format!("GET /log/picture.svg?ask=groups&by=cane HTTP/1.1\r\n{here}\r\n"),
        say("new+Anouk"),
        say("clip+0.3"),
        say("length+70.2"),
        say("u"),
    ]
    .into_iter()
    .map(String::into_bytes)
    .chain([[head.into_bytes(), sound].concat()])
    .collect();
    feed("requests", 3, &bench.process(), &corpus, |request| {
        // A body that is shorter than it says is waited for: nothing more comes.
        let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
        stream.set_read_timeout(Some(std::time::Duration::from_secs(4))).unwrap();
        let _ = stream.write_all(request);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        answer.starts_with(b"HTTP/1.1 2") || answer.starts_with(b"HTTP/1.1 3")
    });
    assert_eq!(bench.get("/").status, 200);
    drop(bench);
    let log = folder.path().join("reeds.db");
    if log.exists() {
        let log = reedcrow::log::Log::open_existing(&log).unwrap();
        assert_eq!(log.check().unwrap().faults, []);
    }
}
