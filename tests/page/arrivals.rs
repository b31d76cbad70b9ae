//! What may come in, and how it goes on after it broke off.

use std::io::Write;
use std::net::TcpStream;

use serde_json::json;

use super::http::{Visitor, read};
use super::served::{Served, sample};

#[test]
fn a_clip_that_breaks_off_goes_on_where_it_stopped() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let bytes = std::fs::read(sample("cmj_60.mp4")).expect("a clip");
    let id = visitor.announce("a.mp4", bytes.len()).json()["id"]
        .as_u64()
        .expect("a number");
    let half = bytes.len() / 2;
    // Announces all of it, sends half, and hangs up.
    let head = visitor.head("PUT", &format!("clips/{id}/bytes?at=0"));
    let mut stream = TcpStream::connect(served.host()).expect("the page listens");
    let request = format!("{head}Content-Length: {}\r\n\r\n", bytes.len());
    stream.write_all(request.as_bytes()).expect("sent");
    stream.write_all(&bytes[..half]).expect("sent");
    stream.flush().expect("sent");
    visitor.shelf(|shelf| !shelf.contains("coming in, 0 %"));
    drop(stream);
    // The same clip again says where to go on; another size is another clip.
    let end = std::time::Instant::now() + std::time::Duration::from_secs(30);
    let again = loop {
        let answer = visitor.announce("a.mp4", bytes.len());
        if answer.status == 200 {
            break answer.json();
        }
        assert_eq!(answer.status, 409, "{}", answer.text());
        assert!(
            std::time::Instant::now() < end,
            "nobody noticed that it broke off"
        );
        std::thread::sleep(std::time::Duration::from_millis(40));
    };
    assert_eq!(again["id"], json!(id));
    let at = again["at"].as_u64().expect("a place") as usize;
    assert!(at > 0 && at <= half, "{at}");
    assert_ne!(visitor.announce("a.mp4", 5).json()["id"], json!(id));
    // A piece for another place is refused, and what is there stays.
    let wrong = visitor.send("PUT", &format!("clips/{id}/bytes?at=3"), "x/y", b"abc");
    assert_eq!(wrong.status, 409, "{}", wrong.text());
    let rest = visitor.send(
        "PUT",
        &format!("clips/{id}/bytes?at={at}"),
        "x/y",
        &bytes[at..],
    );
    assert_eq!(rest.json()["at"], json!(bytes.len()));
    visitor.shelf(|shelf| shelf.contains("to be marked"));
    let there = std::fs::read(served.private_folders()[0].join("clip-1")).expect("the clip");
    assert!(there == bytes, "what came is not what was sent");
}

#[test]
fn names_are_shown_and_never_used() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let bytes = std::fs::read(sample("cmj_60.mp4")).expect("a clip");
    let before = std::fs::read_dir(served.folder.path())
        .expect("a folder")
        .count();
    for name in [
        "../../../evil.mp4",
        "/etc/cron.d/evil",
        "..\\..\\evil.mp4",
        "a\0b.mp4",
        "<img src=x onerror=alert(1)>.mp4",
    ] {
        visitor.bring(name, &bytes);
    }
    let shelf = visitor.shelf(|shelf| shelf.matches("<li").count() == 5);
    assert!(!shelf.contains("..") && !shelf.contains("<img") && !shelf.contains("/etc"));
    assert!(shelf.contains("evil.mp4") && shelf.contains("&lt;img"));
    let mut there: Vec<String> = std::fs::read_dir(&served.private_folders()[0])
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    there.sort();
    assert_eq!(
        there,
        ["clip-1", "clip-2", "clip-3", "clip-4", "clip-5", "lock"]
    );
    let after = std::fs::read_dir(served.folder.path())
        .expect("a folder")
        .count();
    assert_eq!(before, after);
}

#[test]
fn what_is_too_large_or_too_much_is_refused() {
    let served = Served::start(&["--largest-mb", "1", "--most-clips", "3"]);
    let visitor = Visitor::enter(&served);
    let large = visitor.announce("large.mp4", 1_000_001);
    assert_eq!(large.status, 413);
    assert!(
        large.json()["message"]
            .as_str()
            .expect("words")
            .contains("1 MB"),
        "{}",
        large.text()
    );
    assert_eq!(visitor.announce("none.mp4", 0).status, 400);
    // More than was announced does not get in.
    let id = visitor.announce("liar.mp4", 10).json()["id"]
        .as_u64()
        .expect("a number");
    let more = visitor.send("PUT", &format!("clips/{id}/bytes?at=0"), "x/y", &[0; 4000]);
    assert_eq!(more.status, 413, "{}", more.text());
    let file = served.private_folders()[0].join(format!("clip-{id}"));
    assert!(std::fs::metadata(file).expect("the file").len() <= 10);
    visitor.announce("b.mp4", 10);
    visitor.announce("c.mp4", 20);
    let fourth = visitor.announce("d.mp4", 30);
    assert_eq!(fourth.status, 413);
    assert!(
        fourth.json()["hint"]
            .as_str()
            .expect("words")
            .contains("throw away")
    );
    // Room is made by throwing one away.
    assert_eq!(
        visitor
            .send("DELETE", &format!("clips/{id}"), "x/y", b"")
            .status,
        204
    );
    assert_eq!(visitor.announce("d.mp4", 30).status, 200);
}

#[test]
fn long_texts_are_refused() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let head = visitor.head("POST", "clips");
    let mut stream = TcpStream::connect(served.host()).expect("the page listens");
    let request =
        format!("{head}Content-Type: application/json\r\nContent-Length: 90000000\r\n\r\n{{");
    stream.write_all(request.as_bytes()).expect("sent");
    stream
        .set_read_timeout(Some(std::time::Duration::from_secs(20)))
        .expect("a timeout");
    assert_eq!(read(&mut stream).status, 413);
}

#[test]
fn what_is_no_clip_says_so_and_harms_nobody() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    visitor.bring("notes.mp4", b"these are no pictures at all, only words");
    let bytes = std::fs::read(sample("cmj_60.mp4")).expect("a clip");
    visitor.bring("good.mp4", &bytes);
    let shelf = visitor.shelf(|shelf| shelf.contains("to be marked") && shelf.contains("bad"));
    assert!(shelf.contains("not a video file"), "{shelf}");
    assert!(
        !shelf.contains("clip-1"),
        "the private path is shown: {shelf}"
    );
}

#[test]
fn clips_given_at_the_start_are_never_thrown_away() {
    let folder = tempfile::tempdir().expect("a folder");
    let clip = folder.path().join("jump.mp4");
    std::fs::copy(sample("cmj_60.mp4"), &clip).expect("copied");
    let served = Served::start(&[folder.path().to_str().expect("a plain name")]);
    let visitor = Visitor::enter(&served);
    let shelf = visitor.shelf(|shelf| shelf.contains("jump.mp4"));
    assert!(shelf.contains("Take off") && !shelf.contains("Throw away"));
    assert_eq!(visitor.send("DELETE", "clips/1", "x/y", b"").status, 204);
    visitor.shelf(|shelf| !shelf.contains("jump.mp4"));
    assert!(clip.exists());
}

#[test]
fn one_patch_serves_all_clips_from_the_same_place() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    for clip in ["cmj_60.mp4", "portrait_60.mp4", "cmj_120.mp4"] {
        visitor.bring(clip, &std::fs::read(sample(clip)).expect("a clip"));
    }
    visitor.shelf(|shelf| !shelf.contains("being opened"));
    let marked = json!({ "x": 289, "y": 301, "w": 62, "h": 26, "others": true });
    assert_eq!(visitor.post("clips/3/floor", &marked).status, 202);
    visitor.shelf(|shelf| shelf.matches("1 jump").count() == 2);
    // The clip with another size was left to be marked.
    let portrait = visitor.get("clips/2/floor").text();
    assert!(portrait.contains("Measure the jump"), "{portrait}");
    let outside = json!({ "x": 600, "y": 301, "w": 62, "h": 26 });
    let refused = visitor.post("clips/1/floor", &outside);
    assert_eq!(refused.status, 422);
    assert!(
        refused.text().contains("leaves the picture"),
        "{}",
        refused.text()
    );
}

#[test]
fn ten_clips_wait_their_turn_and_nobody_starves() {
    let served = Served::start(&["--threads", "1"]);
    let visitor = Visitor::enter(&served);
    let other = Visitor::enter(&served);
    let bytes = std::fs::read(sample("two_jumps_120.mp4")).expect("a clip");
    let ids: Vec<u64> = (0..10)
        .map(|k| visitor.bring(&format!("{k}.mp4"), &bytes))
        .collect();
    visitor.shelf(|shelf| shelf.contains("waits for a suggestion"));
    // A second browser sees the same queue, with places in it.
    other.shelf(|shelf| shelf.matches("<li").count() == 10 && shelf.contains(" before it"));
    // Frames are shown at once all the same.
    let last = ids[9];
    let started = std::time::Instant::now();
    loop {
        if other.get(&format!("clips/{last}/frames/0")).status == 200 {
            break;
        }
        assert!(
            started.elapsed().as_secs() < 20,
            "no picture while others are measured"
        );
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    // Whoever asks for a measurement goes before suggestions.
    let marked = json!({ "x": 289, "y": 301, "w": 62, "h": 26 });
    let asked = other.post(&format!("clips/{last}/floor"), &marked);
    assert_eq!(asked.status, 202, "{}", asked.text());
    let done = other.shelf(|shelf| shelf.contains("2 jumps"));
    assert!(
        done.contains("waits for a suggestion"),
        "the last was measured last: {done}"
    );
}
