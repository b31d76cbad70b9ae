//! Who may come in.

use super::http::{Visitor, raw};
use super::served::Served;

fn status(served: &Served, path: &str, headers: &str) -> u16 {
    let host = served.host();
    let request =
        format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{headers}\r\n");
    raw(host, request.as_bytes()).status
}

#[test]
fn without_the_secret_there_is_nothing() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let cookie = format!("Cookie: {}\r\n", visitor.cookie());
    let wrong = "0".repeat(32);
    for path in [
        "/",
        "/page.js",
        "/state?since=0",
        &format!("/{wrong}/"),
        "/join/",
        "//",
    ] {
        let got = status(&served, path, &cookie);
        assert!(matches!(got, 404 | 410), "{path}: {got}");
    }
    assert_eq!(visitor.get("state?since=0").status, 200);
}

#[test]
fn the_secret_alone_opens_the_entry_and_nothing_else() {
    let served = Served::start(&[]);
    let secret = served.secret();
    for path in ["state?since=0", "page.js", "clips/1/frames/0", "sheet"] {
        assert_eq!(
            status(&served, &format!("/{secret}/{path}"), ""),
            403,
            "{path}"
        );
    }
    let other = "Cookie: underfoot-1=00000000000000000000000000000000\r\n";
    assert_eq!(status(&served, &format!("/{secret}/page.js"), other), 403);
}

#[test]
fn another_name_for_this_computer_is_turned_away() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let secret = served.secret();
    let port = served.host().split(':').nth(1).expect("a port");
    let ask = |host: &str| {
        let request = format!(
            "GET /{secret}/state?since=0 HTTP/1.1\r\n{host}Cookie: {}\r\nConnection: close\r\n\r\n",
            visitor.cookie()
        );
        raw(served.host(), request.as_bytes()).status
    };
    assert_eq!(ask(&format!("Host: localhost:{port}\r\n")), 200);
    for host in [
        format!("Host: evil.example:{port}\r\n"),
        format!("Host: 127.0.0.1.evil.example:{port}\r\n"),
        "Host: 127.0.0.1\r\n".to_owned(),
        format!("Host: 127.0.0.1:{port}\r\nHost: evil.example\r\n"),
    ] {
        let got = ask(&host);
        assert!(matches!(got, 400 | 421), "{host:?}: {got}");
    }
}

#[test]
fn what_another_page_asks_for_is_not_done() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let (host, secret) = (served.host(), served.secret());
    let body = r#"{"name":"a.mp4","size":9}"#;
    let post = |origin: &str| {
        let request = format!(
            "POST /{secret}/clips HTTP/1.1\r\nHost: {host}\r\n{origin}Cookie: {}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            visitor.cookie(),
            body.len()
        );
        raw(host, request.as_bytes()).status
    };
    for origin in [
        "",
        "Origin: null\r\n",
        "Origin: http://evil.example\r\n",
        "Origin: http://127.0.0.1\r\n",
        &format!("Origin: https://{host}\r\n"),
        "Origin: http://127.0.0.1:1\r\n",
    ] {
        assert_eq!(post(origin), 403, "{origin:?}");
    }
    assert_eq!(post(&format!("Origin: http://{host}\r\n")), 200);
}

#[test]
fn answers_allow_nothing_from_elsewhere() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    for path in ["", "page.js", "page.css", "state?since=0", "clips/9/floor"] {
        let answer = visitor.get(path);
        let policy = answer.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none'"), "{path}: {policy}");
        assert!(
            !policy.contains("unsafe") && !policy.contains('*'),
            "{policy}"
        );
        assert_eq!(answer.header("cache-control"), Some("no-store"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(answer.header("access-control-allow-origin"), None);
    }
    let page = visitor.get("").text();
    for word in [
        "style=", "onclick=", "http://", "https://", "<style", "<script>",
    ] {
        assert!(!page.contains(word), "{word} in the page");
    }
    let cookie = Visitor::enter(&served);
    assert_ne!(cookie.cookie(), visitor.cookie());
}

#[test]
fn a_phone_comes_in_once_for_each_code_and_only_if_wanted() {
    let served = Served::start(&["--lan"]);
    let said = served.heard("Phone: ");
    let invitation = said
        .trim()
        .strip_prefix("Phone: http://")
        .expect("an address");
    let (host, path) = invitation.split_once('/').expect("a path");
    let join = || {
        let request = format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        raw(host, request.as_bytes())
    };
    // Knowing the secret is not enough from outside.
    let entry = format!(
        "GET /{}/ HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n",
        served.secret()
    );
    assert_eq!(raw(host, entry.as_bytes()).status, 403);
    let first = join();
    assert_eq!(first.status, 200);
    let cookie = first.header("set-cookie").expect("a cookie");
    assert!(cookie.contains("SameSite=Strict") && cookie.contains("HttpOnly"));
    assert_eq!(join().status, 410);
    // The terminal shows a code for the next one.
    let next = served.heard("Phone: ");
    assert_ne!(next, said);
    let word = cookie.split(';').next().expect("a value");
    let entry = entry.replace("\r\n\r\n", &format!("\r\nCookie: {word}\r\n\r\n"));
    assert_eq!(raw(host, entry.as_bytes()).status, 200);
}

#[test]
fn without_lan_only_this_computer_is_served() {
    let served = Served::start(&[]);
    assert!(served.host().starts_with("127.0.0.1:"));
    let visitor = Visitor::enter(&served);
    assert_eq!(visitor.post("phone", &serde_json::json!({})).status, 409);
    // The address in the network, if there is one, is closed.
    let probe = std::net::UdpSocket::bind("0.0.0.0:0").expect("a socket");
    if probe.connect("203.0.113.1:9").is_ok() {
        let outside = probe.local_addr().expect("an address").ip();
        let port = served.host().split(':').nth(1).expect("a port");
        let reached = std::net::TcpStream::connect(format!("{outside}:{port}"));
        assert!(reached.is_err(), "{outside} is open");
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_page_and_takes_its_folder_away() {
    use std::os::unix::fs::PermissionsExt;
    let mut served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    visitor.bring(
        "a.mp4",
        &std::fs::read(super::served::sample("cmj_60.mp4")).expect("a clip"),
    );
    let folders = served.private_folders();
    assert_eq!(folders.len(), 1);
    let mode = std::fs::metadata(&folders[0])
        .expect("a folder")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o700);
    assert!(folders[0].join("clip-1").exists());
    assert_eq!(served.interrupt().code(), Some(0));
    assert!(!folders[0].exists());
}
