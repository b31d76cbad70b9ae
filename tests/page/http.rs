//! Requests letter by letter: what no browser would send, too.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use serde_json::Value;

use super::served::Served;

/// An answer.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|_| panic!("no JSON: {}", self.text()))
    }

    /// The value of a header, by its name in small letters.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.eq_ignore_ascii_case(name).then(|| value.trim())
        })
    }
}

/// Sends a request as it stands and reads the answer to its end.
pub fn raw(host: &str, request: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(host).expect("the page listens");
    stream
        .set_read_timeout(Some(Duration::from_secs(40)))
        .expect("a timeout");
    stream.write_all(request).expect("sent");
    read(&mut stream)
}

pub fn read(stream: &mut TcpStream) -> Answer {
    let mut all = Vec::new();
    // A server that turns a long request away may reset the rest of it.
    let _ = stream.read_to_end(&mut all);
    let end = all
        .windows(4)
        .position(|four| four == b"\r\n\r\n")
        .unwrap_or_else(|| panic!("no answer: {}", String::from_utf8_lossy(&all)));
    let head = String::from_utf8_lossy(&all[..end]).into_owned();
    let status = head.split(' ').nth(1).and_then(|code| code.parse().ok());
    Answer {
        status: status.unwrap_or_else(|| panic!("no status: {head}")),
        body: all[end + 4..].to_vec(),
        head,
    }
}

/// A browser that was let in, as far as headers go.
pub struct Visitor<'a> {
    served: &'a Served,
    cookie: String,
}

impl<'a> Visitor<'a> {
    /// Opens the address that the terminal shows.
    pub fn enter(served: &'a Served) -> Self {
        let host = served.host();
        let secret = served.secret();
        let request =
            format!("GET /{secret}/ HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        let answer = raw(host, request.as_bytes());
        assert_eq!(answer.status, 200, "{}", answer.text());
        let cookie = answer.header("set-cookie").expect("a cookie");
        Self {
            served,
            cookie: cookie.split(';').next().expect("a value").to_owned(),
        }
    }

    pub fn cookie(&self) -> &str {
        &self.cookie
    }

    /// The head of a request of this visitor's, without its last empty line.
    pub fn head(&self, method: &str, path: &str) -> String {
        let (host, secret) = (self.served.host(), self.served.secret());
        format!(
            "{method} /{secret}/{path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Cookie: {}\r\nConnection: close\r\n",
            self.cookie
        )
    }

    pub fn get(&self, path: &str) -> Answer {
        raw(
            self.served.host(),
            (self.head("GET", path) + "\r\n").as_bytes(),
        )
    }

    pub fn send(&self, method: &str, path: &str, kind: &str, body: &[u8]) -> Answer {
        let length = body.len();
        let head = self.head(method, path)
            + &format!("Content-Type: {kind}\r\nContent-Length: {length}\r\n\r\n");
        raw(self.served.host(), &[head.as_bytes(), body].concat())
    }

    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.send(
            "POST",
            path,
            "application/json",
            body.to_string().as_bytes(),
        )
    }

    /// Announces a clip; its number.
    pub fn announce(&self, name: &str, size: usize) -> Answer {
        self.post("clips", &serde_json::json!({ "name": name, "size": size }))
    }

    /// Brings a whole clip in; its number.
    pub fn bring(&self, name: &str, bytes: &[u8]) -> u64 {
        let announced = self.announce(name, bytes.len());
        assert_eq!(announced.status, 200, "{}", announced.text());
        let id = announced.json()["id"].as_u64().expect("a number");
        let path = format!("clips/{id}/bytes?at=0");
        let sent = self.send("PUT", &path, "application/octet-stream", bytes);
        assert_eq!(sent.status, 200, "{}", sent.text());
        id
    }

    /// The list of clips as it is shown, once it satisfies `until`.
    pub fn shelf(&self, until: impl Fn(&str) -> bool) -> String {
        let mut at = 0;
        let end = std::time::Instant::now() + Duration::from_secs(90);
        loop {
            let news = self.get(&format!("state?since={at}")).json();
            at = news["at"].as_u64().expect("a number");
            let shelf = news["shelf"].as_str().expect("text").to_owned();
            if until(&shelf) {
                return shelf;
            }
            assert!(std::time::Instant::now() < end, "never came about: {shelf}");
        }
    }
}
