//! Who gets in, and what every answer carries: spoken over a real connection.

mod common;

use common::{Bench, raw};
use workbench::access::Role;

fn bare() -> Bench {
    Bench::start(|_| {})
}

#[test]
fn a_name_made_to_point_here_is_not_answered() {
    let bench = bare();
    let client = bench.client(Role::Edit);
    let port = bench.address().port();
    for host in [
        format!("rebound.example:{port}"),
        "rebound.example".to_owned(),
        "127.0.0.1".to_owned(),
        format!("127.0.0.1:{port}.rebound.example"),
        String::new(),
    ] {
        let request = format!(
            "GET /state HTTP/1.1\r\nHost: {host}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            client.cookie
        );
        let answer = raw(bench.address(), request.as_bytes());
        assert!(matches!(answer.status, 400 | 421), "{host}: {}", answer.status);
        assert!(!answer.text().contains(&client.token));
    }
    let twice = format!(
        "GET /state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: rebound.example\r\nCookie: {}\r\nConnection: close\r\n\r\n",
        client.cookie
    );
    assert!(matches!(raw(bench.address(), twice.as_bytes()).status, 400 | 421));
}

#[test]
fn without_a_key_nothing_of_the_project_is_shown() {
    let bench = Bench::house();
    bench.settled();
    let mut stranger = bench.client(Role::Look);
    stranger.cookie.clear();
    for path in
        ["/", "/index.html", "/book", "/state", "/why", "/share", "/new", "/nowhere", "/%2e%2e/etc/passwd"]
    {
        let answer = stranger.get(path);
        assert_eq!(answer.status, 401, "{path}");
        assert!(!answer.text().contains("arrow house"), "{path}");
    }
    for wrong in ["", "0", "key", &"0".repeat(64), "%00", &"x".repeat(5000)] {
        assert_eq!(stranger.get(&format!("/start?key={wrong}")).status, 401);
    }
}

#[test]
fn guessing_is_slowed_to_nothing() {
    let bench = bare();
    let client = bench.client(Role::Look);
    let answers: Vec<u16> = (0..200).map(|n| client.get(&format!("/start?key={n:064x}")).status).collect();
    let looked_at = answers.iter().filter(|s| **s == 401).count();
    assert!(looked_at <= 20, "{looked_at} of 200 guesses were looked at");
    assert_eq!(answers.last(), Some(&429));
    // Whoever is in stays in.
    assert_eq!(client.get("/state").status, 200);
}

#[test]
fn requests_from_other_pages_change_nothing() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    let before = std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book");
    let own = format!("http://{}", bench.address());
    let body = format!("token={}&begun={}&text=gone", client.token, workbench::save::hash(&before));
    for (origin, extra) in [
        ("Origin: http://evil.example\r\n", ""),
        ("Origin: null\r\n", ""),
        ("", ""),
        (&*format!("Origin: {own}\r\n"), "Sec-Fetch-Site: cross-site\r\n"),
    ] {
        let request = format!(
            "POST /book HTTP/1.1\r\nHost: {}\r\n{origin}{extra}Cookie: {}\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            bench.address(),
            client.cookie,
            body.len()
        );
        assert_eq!(raw(bench.address(), request.as_bytes()).status, 403, "{origin}{extra}");
    }
    // From our own page, but without this session's token.
    let other = bench.client(Role::Edit);
    let hash = workbench::save::hash(&before);
    for token in ["", "0", &other.token] {
        let answer = client.form("/book", &[("token", token), ("begun", &hash), ("text", "gone")]);
        assert_eq!(answer.status, 403);
    }
    assert_eq!(std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book"), before);
}

#[test]
fn each_role_does_its_own_and_no_more() {
    let bench = Bench::house();
    bench.settled();
    let book = std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book");
    let hash = workbench::save::hash(&book);
    for (role, status) in [(Role::Look, 403), (Role::Log, 403), (Role::Edit, 303)] {
        let client = bench.client(role);
        for path in ["/index.html", "/fabric.html", "/book", "/why?of=volume", "/state"] {
            assert_eq!(client.get(path).status, 200, "{role:?} {path}");
        }
        let text = format!("{book}# by {}\n", role.word());
        let answer = client.form("/book", &[("token", &client.token), ("begun", &hash), ("text", &text)]);
        assert_eq!(answer.status, status, "{role:?}");
        assert_eq!(client.get("/share").status, if role == Role::Edit { 200 } else { 403 });
    }
}

#[test]
fn every_answer_forbids_what_could_go_wrong() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    for path in ["/index.html", "/book", "/nowhere", "/assets/sheet.css", "/sw.js", "/state"] {
        let answer = client.get(path);
        let policy = answer.header("content-security-policy").expect("a policy").to_owned();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"), "{path}");
        assert!(!policy.contains("unsafe"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{path}");
    }
    for file in sheets::sheet::INDEX.map(|e| e.file).into_iter().chain(["book", "why", "new", "share"]) {
        let page = client.get(&format!("/{file}")).text();
        // What the policy forbids is not there in the first place.
        assert!(!page.contains("<style"), "{file}");
        assert!(!page.contains(" style=\""), "{file}");
        for script in page.split("<script").skip(1) {
            assert!(script.starts_with(" src=\"assets/"), "{file}");
        }
        for handler in [" onclick=", " onload=", " onerror=", "javascript:"] {
            assert!(!page.contains(handler), "{file} holds {handler}");
        }
    }
}

#[test]
fn paths_lead_nowhere_else() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    for path in [
        "/assets/..%2f..%2fCargo.toml",
        "/assets/../../etc/passwd",
        "/..%2fbuilding.toml",
        "/building.toml",
        "/.windtight/cache",
        "/%00",
        "//etc/passwd",
    ] {
        let answer = client.get(path);
        assert_eq!(answer.status, 404, "{path}");
    }
}

#[test]
fn too_much_is_refused_before_it_is_read() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    let head = "Content-Type: application/x-www-form-urlencoded\r\n";
    let answer = client.post("/book", head, &vec![b'a'; 14 << 20]);
    assert!(matches!(answer.status, 413 | 0), "{}", answer.status);
    assert!(bench.client(Role::Edit).get("/state").status == 200);
}
