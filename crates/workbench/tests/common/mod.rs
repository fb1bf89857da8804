//! A server on a demonstration project, and a client that sends bytes as they are written.

#![allow(dead_code, reason = "each test program uses its own part")]

pub mod chromium;

use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::time::{Duration, Instant};
use workbench::Server;
use workbench::access::Role;

/// A server that is stopped when the test ends.
pub struct Bench {
    pub server: Option<Server>,
    pub dir: tempfile::TempDir,
}

impl Bench {
    pub fn start(write: impl FnOnce(&Path)) -> Self {
        let dir = tempfile::tempdir().expect("a temporary folder");
        write(dir.path());
        let server = Some(Server::start(dir.path(), 0).expect("started"));
        Self { server, dir }
    }

    /// The house between two others: small, and quick to work out.
    pub fn house() -> Self {
        Self::start(|path| {
            project::demo::NARROW_HOUSE.write(path).expect("written");
        })
    }

    pub fn server(&self) -> &Server {
        self.server.as_ref().expect("running")
    }

    pub fn address(&self) -> SocketAddr {
        self.server().address()
    }

    /// Waits until the first results are there and fresh.
    pub fn settled(&self) {
        self.until("results", |view| view.good.is_some() && !view.stale && view.running.is_none());
    }

    pub fn until(&self, what: &str, done: impl Fn(&workbench::bench::View) -> bool) {
        let began = Instant::now();
        while !done(&self.server().bench().view()) {
            assert!(began.elapsed() < Duration::from_secs(120), "waited too long for {what}");
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// A client with the rights of a role.
    pub fn client(&self, role: Role) -> Client {
        let mut client = Client { address: self.address(), cookie: String::new(), token: String::new() };
        let key = self.server().bench().access.key(role).to_owned();
        let answer = client.get(&format!("/start?key={key}"));
        assert_eq!(answer.status, 200);
        let cookie = answer.header("set-cookie").expect("a cookie");
        client.cookie = cookie.split(';').next().expect("a pair").to_owned();
        let state = client.get("/state");
        let state: serde_json::Value = serde_json::from_str(&state.text()).expect("JSON");
        client.token = state["token"].as_str().expect("a token").to_owned();
        client
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        if let Some(server) = self.server.take() {
            server.stop();
        }
    }
}

/// An answer.
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }

    pub fn text(&self) -> String {
        String::from_utf8(self.body.clone()).expect("text")
    }
}

/// Sends bytes and reads the answer to its end.
pub fn raw(address: SocketAddr, request: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(address).expect("connected");
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("set");
    // A server that refuses early may close before all is sent.
    let _ = stream.write_all(request);
    let mut bytes = Vec::new();
    let _ = stream.read_to_end(&mut bytes);
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").unwrap_or(bytes.len());
    let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
    let mut lines = head.lines();
    let status =
        lines.next().and_then(|l| l.split(' ').nth(1)).and_then(|s| s.parse().ok()).unwrap_or_default();
    let headers: Vec<(String, String)> = lines
        .filter_map(|l| l.split_once(": "))
        .map(|(n, v)| (n.to_ascii_lowercase(), v.to_owned()))
        .collect();
    let mut body = bytes.get(end + 4..).unwrap_or_default().to_vec();
    if headers.iter().any(|(n, v)| n == "transfer-encoding" && v == "chunked") {
        body = unchunked(&body);
    }
    Answer { status, headers, body }
}

fn unchunked(mut bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    while let Some(end) = bytes.windows(2).position(|w| w == b"\r\n") {
        let size = usize::from_str_radix(&String::from_utf8_lossy(&bytes[..end]), 16).unwrap_or(0);
        if size == 0 {
            break;
        }
        out.extend_from_slice(&bytes[end + 2..end + 2 + size]);
        bytes = &bytes[end + 4 + size..];
    }
    out
}

/// A browser's worth of manners.
pub struct Client {
    pub address: SocketAddr,
    pub cookie: String,
    pub token: String,
}

impl Client {
    pub fn get(&self, path: &str) -> Answer {
        let request = format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            self.address, self.cookie
        );
        raw(self.address, request.as_bytes())
    }

    /// Posts with the origin a browser would name.
    pub fn post(&self, path: &str, headers: &str, body: &[u8]) -> Answer {
        let mut request = format!(
            "POST {path} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\nContent-Length: {2}\r\n\
             {headers}Connection: close\r\n\r\n",
            self.address,
            self.cookie,
            body.len()
        )
        .into_bytes();
        request.extend_from_slice(body);
        raw(self.address, &request)
    }

    pub fn form(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body: Vec<String> = fields.iter().map(|(n, v)| format!("{n}={}", encoded(v))).collect();
        self.post(path, "Content-Type: application/x-www-form-urlencoded\r\n", body.join("&").as_bytes())
    }
}

pub fn encoded(text: &str) -> String {
    workbench::pages::why::encoded(text)
}

/// What stands in a text area, as a browser would send it back.
pub fn unescaped(html: &str) -> String {
    html.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&")
}

/// The text between two marks.
pub fn between<'a>(text: &'a str, from: &str, to: &str) -> Option<&'a str> {
    let rest = &text[text.find(from)? + from.len()..];
    Some(&rest[..rest.find(to)?])
}
