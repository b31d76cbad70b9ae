//! Any request at the door of the page, half of them by a browser that was let in.
//!
//! The first line is a method and a path below the secret, the rest is the body; where
//! the first byte is no letter, everything goes to the door as it is.
#![no_main]

use std::cell::RefCell;
use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::mpsc;
use std::time::Duration;

use libfuzzer_sys::fuzz_target;
use underfoot::page::{Limits, Settings, serve};
use underfoot::report::terminal::Units;

/// How long an answer is waited for. Questions for news may take half a minute.
const PATIENCE: Duration = Duration::from_millis(300);

struct Visitor {
    host: String,
    secret: String,
    cookie: String,
    stream: Option<TcpStream>,
    _folder: tempfile::TempDir,
}

impl Visitor {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let clip = folder.path().join("clip.mp4");
        let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-clips-synthetic");
        std::fs::copy(samples.join("cmj_60.mp4"), &clip).expect("a sample");
        let settings = Settings {
            clips: vec![clip],
            log: folder.path().join("log.sqlite"),
            folder: folder.path().join("page"),
            lan: false,
            port: 0,
            threads: 1,
            units: Units::Metric,
            limits: Limits {
                clip_bytes: 64 << 10,
                all_bytes: 1 << 20,
                clips: 8,
            },
        };
        let (sender, opened) = mpsc::channel();
        std::thread::spawn(move || {
            serve(settings, move |page| {
                let _ = sender.send(page.address.clone());
            })
        });
        let address = opened.recv().expect("a page");
        let mut parts = address["http://".len()..].split('/');
        let mut next = || parts.next().expect("an address").to_owned();
        let (host, secret) = (next(), next());
        let mut visitor = Self {
            host,
            secret,
            cookie: String::new(),
            stream: None,
            _folder: folder,
        };
        let entry = visitor.request("GET", "", b"");
        let answer = visitor.answer(&entry).expect("the page itself");
        let cookie = answer.split("set-cookie: ").nth(1).expect("a cookie");
        visitor.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        visitor
    }

    fn request(&self, method: &str, path: &str, body: &[u8]) -> Vec<u8> {
        let Self {
            host,
            secret,
            cookie,
            ..
        } = self;
        let head = format!(
            "{method} /{secret}/{path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Cookie: {cookie}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        [head.as_bytes(), body].concat()
    }

    /// What is answered, as far as it comes soon; the line is given up otherwise.
    fn answer(&mut self, request: &[u8]) -> Option<String> {
        let mut stream = match self.stream.take() {
            Some(stream) => stream,
            None => {
                let stream = TcpStream::connect(&self.host).expect("the page listens");
                stream.set_read_timeout(Some(PATIENCE)).expect("a timeout");
                stream.set_nodelay(true).expect("no delay");
                stream
            }
        };
        // The page may have hung up on what came before.
        stream.write_all(request).ok()?;
        let mut answer = Vec::new();
        let mut piece = [0; 16 << 10];
        loop {
            match stream.read(&mut piece) {
                Ok(0) => break,
                Ok(read) => answer.extend(&piece[..read]),
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(_) => break,
            }
            if is_whole(&answer) {
                self.stream = Some(stream);
                break;
            }
        }
        Some(String::from_utf8_lossy(&answer).into_owned())
    }
}

/// Whether an answer is all there.
fn is_whole(answer: &[u8]) -> bool {
    let Some(end) = answer.windows(4).position(|four| four == b"\r\n\r\n") else {
        return false;
    };
    let head = String::from_utf8_lossy(&answer[..end]);
    let length = head
        .lines()
        .find_map(|line| line.strip_prefix("content-length: ")?.parse::<usize>().ok());
    length.is_some_and(|length| answer.len() >= end + 4 + length)
}

thread_local! {
    static VISITOR: RefCell<Option<Visitor>> = const { RefCell::new(None) };
}

fuzz_target!(|bytes: &[u8]| {
    VISITOR.with_borrow_mut(|visitor| {
        let visitor = visitor.get_or_insert_with(Visitor::new);
        let request = match bytes.first() {
            None => return,
            Some(first) if first.is_ascii_alphabetic() => {
                let end = bytes.iter().position(|b| *b == b'\n');
                let (line, body) = match end {
                    Some(end) => (&bytes[..end], &bytes[end + 1..]),
                    None => (bytes, &b""[..]),
                };
                let line = String::from_utf8_lossy(line);
                let (method, path) = line.split_once(' ').unwrap_or((&line, ""));
                visitor.request(method, path, body)
            }
            Some(_) => {
                // Nobody knows what becomes of the line after that.
                visitor.stream = None;
                bytes.to_vec()
            }
        };
        let Some(answer) = visitor.answer(&request) else {
            return;
        };
        // A fault of the program's own has this code and no other reason.
        assert!(!answer.starts_with("HTTP/1.1 500"), "{answer}");
        if !bytes[0].is_ascii_alphabetic() {
            visitor.stream = None;
        }
    });
});
