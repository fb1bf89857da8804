//! Fifty phones on one log: how long pages, records and photos take, with the disk's own time for an fsync beside.
//!
//! Problem: each phone opens one page a second, writes one record every five seconds and sends one photo of 3 MB every
//! thirty, for a while, over real connections to a server on this machine.
//! Run: `cargo run --release -p workbench --example load [phones] [seconds]`.
//! See: the 50th and 99th percentile of each, against the budget in `docs/performance.md`.

use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::sync::Mutex;
use std::time::{Duration, Instant};
use workbench::Server;
use workbench::access::Role;

const PHOTO_BYTES: usize = 3 << 20;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum What {
    Page,
    Record,
    Photo,
}

struct Phone {
    address: SocketAddr,
    cookie: String,
    token: String,
}

impl Phone {
    fn new(server: &Server) -> Self {
        let mut phone = Self { address: server.address(), cookie: String::new(), token: String::new() };
        let key = server.bench().access.key(Role::Log).to_owned();
        let (_, answer) = phone.send("GET", &format!("/start?key={key}"), "", b"");
        let after = |text: &str, mark: &str, end: char| -> String {
            text.split(mark).nth(1).and_then(|r| r.split(end).next()).unwrap_or_default().to_owned()
        };
        phone.cookie = after(&answer, "set-cookie: ", ';');
        let (_, state) = phone.send("GET", "/state", "", b"");
        phone.token = after(&state, "\"token\":\"", '"');
        phone
    }

    /// Sends one request on a connection of its own; returns status and answer.
    fn send(&self, method: &str, path: &str, headers: &str, body: &[u8]) -> (u16, String) {
        let mut answer = Vec::new();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\nX-Windtight-Token: {2}\r\n\
             Content-Length: {3}\r\n{headers}Connection: close\r\n\r\n",
            self.address,
            self.cookie,
            self.token,
            body.len()
        );
        let spoken = TcpStream::connect(self.address).and_then(|mut stream| {
            stream.write_all(head.as_bytes())?;
            stream.write_all(body)?;
            stream.read_to_end(&mut answer)
        });
        let text = String::from_utf8_lossy(&answer).into_owned();
        let status = text.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        (if spoken.is_ok() { status } else { 0 }, text)
    }

    fn live(&self, number: usize, until: Instant, taken: &Mutex<Vec<(What, f64, bool)>>) {
        let mut turn = 0_usize;
        let mut next = Instant::now() + Duration::from_millis(20 * number as u64);
        while next < until {
            std::thread::sleep(next.saturating_duration_since(Instant::now()));
            let timed = |what: What, ask: &dyn Fn() -> u16| {
                let began = Instant::now();
                let status = ask();
                let row = (what, 1e3 * began.elapsed().as_secs_f64(), status == 200);
                taken.lock().expect("no phone panics").push(row);
            };
            let page = ["/index.html", "/log", "/joints.html", "/test-day"][turn % 4];
            timed(What::Page, &|| self.send("GET", page, "", b"").0);
            if (turn + number).is_multiple_of(5) {
                let id = project::log::fresh_id();
                let record = format!(
                    "{{\"id\":\"{id}\",\"client-time\":\"2026-03-14T09:30:00Z\",\"kind\":\"note\",\"fields\":{{\"text\":\"phone {number}, {turn}\"}}}}"
                );
                let head = "Content-Type: application/json\r\n";
                timed(What::Record, &|| self.send("POST", "/record/take", head, record.as_bytes()).0);
            }
            if (turn + 3 * number).is_multiple_of(30) {
                let photo = photo((number * 1000 + turn) as u64);
                let head = "Content-Type: application/octet-stream\r\n";
                timed(What::Photo, &|| self.send("POST", "/photo", head, &photo).0);
            }
            turn += 1;
            next += Duration::from_secs(1);
        }
    }
}

/// Bytes that begin like a JPEG and are like no other photo's.
fn photo(seed: u64) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut bytes = vec![0xff, 0xd8, 0xff, 0xe0];
    while bytes.len() < PHOTO_BYTES {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        bytes.extend_from_slice(&state.to_le_bytes());
    }
    bytes
}

fn percentile(sorted: &[f64], share: f64) -> f64 {
    let place = (share * sorted.len() as f64).ceil() as usize;
    sorted.get(place.max(1) - 1).copied().unwrap_or(f64::NAN)
}

fn say(name: &str, budget: &str, mut times: Vec<f64>, failed: usize) {
    times.sort_by(f64::total_cmp);
    println!(
        "{name:8} {:5} done, {failed} failed: median {:6.1} ms, p99 {:6.1} ms ({budget})",
        times.len(),
        percentile(&times, 0.5),
        percentile(&times, 0.99)
    );
}

/// Time of one small write forced to the disk, ms.
fn fsync_ms(folder: &std::path::Path) -> std::io::Result<Vec<f64>> {
    let mut file = std::fs::File::create(folder.join("fsync-probe"))?;
    (0..50)
        .map(|_| {
            let began = Instant::now();
            file.write_all(&[7; 4096])?;
            file.sync_all()?;
            Ok(1e3 * began.elapsed().as_secs_f64())
        })
        .collect()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut numbers = std::env::args().skip(1).map(|a| a.parse::<usize>());
    let phones = numbers.next().transpose()?.unwrap_or(50);
    let seconds = numbers.next().transpose()?.unwrap_or(60);
    let folder = tempfile::tempdir()?;
    project::demo::MUSIC_SCHOOL.write(folder.path())?;
    let server = Server::start(folder.path(), 0)?;
    while server.bench().view().good.is_none() {
        std::thread::sleep(Duration::from_millis(50));
    }
    println!("{phones} phones for {seconds} s, the music school, two server threads");
    say("fsync", "4 kB, idle disk, no budget", fsync_ms(folder.path())?, 0);
    let taken = Mutex::new(Vec::new());
    let until = Instant::now() + Duration::from_secs(seconds as u64);
    std::thread::scope(|scope| {
        for number in 0..phones {
            let phone = Phone::new(&server);
            let taken = &taken;
            scope.spawn(move || phone.live(number, until, taken));
        }
    });
    let taken = taken.into_inner().map_err(|_| "a phone panicked")?;
    for (what, name, budget) in [
        (What::Page, "pages", "budget 100 ms"),
        (What::Record, "records", "budget 250 ms"),
        (What::Photo, "photos", "budget 1000 ms"),
    ] {
        let of: Vec<&(What, f64, bool)> = taken.iter().filter(|(w, _, _)| *w == what).collect();
        say(
            name,
            budget,
            of.iter().map(|(_, ms, _)| *ms).collect(),
            of.iter().filter(|(_, _, ok)| !ok).count(),
        );
    }
    server.stop();
    Ok(())
}
