//! Who may do what: host names, origins, keys, sessions, roles, and how often a key may be guessed.
//!
//! A page elsewhere in the browser must reach nothing here. Four things stand in its way, and any one is enough: only
//! our own host names are answered (a name that was made to point at this machine is not one of them), a request that
//! says where it comes from must come from here, the cookie goes with requests from our own pages only
//! (`SameSite=Strict`) and no script reads it (`HttpOnly`), and whatever changes something carries the session's own
//! token.
//!
//! Keys are 256 random bits, made anew at each start and compared by their hashes, so that comparing takes the same
//! time for every wrong one.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Wrong keys that may be tried one after another.
const TRIES: f64 = 10.0;
/// After that one more in so many seconds.
const SECONDS_A_TRY: f64 = 6.0;
/// Sessions kept; the oldest go first. Each browser that ever came needs one.
const SESSIONS: usize = 256;

/// What a session may do; each includes the ones before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Read every page.
    Look,
    /// Also write records into the site log.
    Log,
    /// Also edit the book.
    Edit,
}

impl Role {
    /// Every role, the narrowest first.
    pub const ALL: [Self; 3] = [Self::Look, Self::Log, Self::Edit];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Log => "log",
            Self::Edit => "edit",
        }
    }
}

/// A browser that showed a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// What it may do.
    pub role: Role,
    /// Carried by whatever changes something.
    pub csrf: String,
}

/// Why a key was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// It is none of ours.
    Wrong,
    /// Too many wrong ones came; wait.
    TooMany,
}

/// No random numbers from the system: nothing can be kept secret then.
#[derive(Debug, thiserror::Error)]
#[error("the system gives no random numbers: {0}")]
pub struct NoRandom(String);

/// The door.
#[derive(Debug)]
pub struct Access {
    authority: Vec<String>,
    cookie: String,
    keys: [(String, Role); 3],
    sessions: Mutex<Sessions>,
    tries: Mutex<Bucket>,
}

#[derive(Debug, Default)]
struct Sessions {
    by_id: BTreeMap<String, (u64, Session)>,
    made: u64,
}

/// A bucket that a wrong key empties and time fills.
#[derive(Debug, Default)]
struct Bucket {
    used: f64,
    at: Option<Instant>,
}

impl Bucket {
    fn settle(&mut self, now: Instant) {
        let passed = self.at.map_or(Duration::ZERO, |at| now.saturating_duration_since(at));
        self.used = (self.used - passed.as_secs_f64() / SECONDS_A_TRY).max(0.0);
        self.at = Some(now);
    }
}

/// Returns 256 random bits, hexadecimal.
fn secret() -> Result<String, NoRandom> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|e| NoRandom(e.to_string()))?;
    Ok(hex(&bytes))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut out, byte| {
        // Writing to a string cannot fail.
        let _ = write!(out, "{byte:02x}");
        out
    })
}

fn same(a: &str, b: &str) -> bool {
    Sha256::digest(a.as_bytes()) == Sha256::digest(b.as_bytes())
}

impl Access {
    /// Makes new keys for a server on a loopback port.
    ///
    /// # Errors
    /// [`NoRandom`].
    pub fn new(port: u16) -> Result<Self, NoRandom> {
        let names = ["127.0.0.1", "localhost", "[::1]"];
        Ok(Self {
            authority: names.iter().map(|name| format!("{name}:{port}")).collect(),
            // Cookies know no ports: two servers on one machine must not overwrite each other's.
            cookie: format!("windtight-{port}"),
            keys: [(secret()?, Role::Look), (secret()?, Role::Log), (secret()?, Role::Edit)],
            sessions: Mutex::default(),
            tries: Mutex::default(),
        })
    }

    /// Returns the key of a role.
    pub fn key(&self, role: Role) -> &str {
        // There is one for each role.
        self.keys.iter().find(|(_, r)| *r == role).map_or("", |(key, _)| key)
    }

    /// Says whether a request to this host is for us.
    pub fn host(&self, host: Option<&str>) -> bool {
        host.is_some_and(|host| self.authority.iter().any(|a| a.eq_ignore_ascii_case(host)))
    }

    /// Says whether a request may come from where it says it does.
    ///
    /// `changes` is true for all but GET and HEAD; those must name their origin, or the browser must have said that it
    /// is our own (`Sec-Fetch-Site`). Pages may be opened from anywhere, but nothing of ours may stand inside another's.
    pub fn origin(
        &self,
        changes: bool,
        origin: Option<&str>,
        site: Option<&str>,
        dest: Option<&str>,
    ) -> bool {
        let ours = |origin: &str| {
            origin.strip_prefix("http://").is_some_and(|a| self.authority.iter().any(|o| o == a))
        };
        if origin.is_some_and(|o| !ours(o)) {
            return false;
        }
        let foreign = site.is_some_and(|s| s != "same-origin" && s != "none");
        if changes {
            return !foreign && (origin.is_some() || site == Some("same-origin"));
        }
        !foreign || dest == Some("document")
    }

    /// Takes a key and begins a session; returns the whole cookie.
    ///
    /// # Errors
    /// [`Refused`]. While too many wrong keys came, even the right one waits: else trying on would pay.
    pub fn log_in(&self, key: &str, now: Instant) -> Result<String, Refused> {
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        tries.settle(now);
        if tries.used > TRIES - 1.0 {
            return Err(Refused::TooMany);
        }
        // All three are compared, so that the time says nothing about which was near.
        let found = self.keys.iter().filter(|(k, _)| same(k, key)).map(|(_, role)| *role).next_back();
        let Some(role) = found else {
            tries.used += 1.0;
            return Err(Refused::Wrong);
        };
        let (Ok(id), Ok(csrf)) = (secret(), secret()) else { return Err(Refused::TooMany) };
        let mut sessions = self.sessions.lock().unwrap_or_else(PoisonError::into_inner);
        sessions.made += 1;
        let made = sessions.made;
        sessions.by_id.insert(id.clone(), (made, Session { role, csrf }));
        while sessions.by_id.len() > SESSIONS {
            let oldest = sessions.by_id.iter().min_by_key(|(_, (made, _))| *made).map(|(id, _)| id.clone());
            let Some(oldest) = oldest else { break };
            sessions.by_id.remove(&oldest);
        }
        Ok(format!("{}={id}; Path=/; HttpOnly; SameSite=Strict", self.cookie))
    }

    /// Returns the session that a request's cookies name.
    pub fn session(&self, cookies: Option<&str>) -> Option<Session> {
        let id = cookies?
            .split(';')
            .filter_map(|pair| pair.trim().split_once('='))
            .find_map(|(name, value)| (name == self.cookie).then_some(value))?;
        let sessions = self.sessions.lock().unwrap_or_else(PoisonError::into_inner);
        sessions.by_id.get(id).map(|(_, session)| session.clone())
    }
}

impl Session {
    /// Says whether a token is this session's.
    pub fn owns(&self, csrf: &str) -> bool {
        same(&self.csrf, csrf)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn door() -> Access {
        Access::new(8600).expect("random numbers")
    }

    #[test]
    fn only_our_own_names_are_answered() {
        let door = door();
        for host in ["127.0.0.1:8600", "localhost:8600", "LOCALHOST:8600", "[::1]:8600"] {
            assert!(door.host(Some(host)), "{host}");
        }
        for host in [
            "evil.example:8600",
            "127.0.0.1",
            "127.0.0.1:80",
            "localhost.evil.example:8600",
            "127.0.0.1:8600.evil.example",
            "",
        ] {
            assert!(!door.host(Some(host)), "{host}");
        }
        assert!(!door.host(None));
    }

    #[test]
    fn whatever_changes_something_comes_from_our_own_pages() {
        let door = door();
        let own = Some("http://127.0.0.1:8600");
        assert!(door.origin(true, own, Some("same-origin"), None));
        assert!(door.origin(true, own, None, None));
        for (origin, site) in [
            (None, None),
            (Some("null"), None),
            (Some("https://127.0.0.1:8600"), None),
            (Some("http://127.0.0.1:8601"), Some("same-site")),
            (Some("http://evil.example"), Some("cross-site")),
            (own, Some("cross-site")),
            (None, Some("none")),
        ] {
            assert!(!door.origin(true, origin, site, None), "{origin:?} {site:?}");
        }
        // Reading: a link from elsewhere opens a page, a picture or frame of ours inside another page does not load.
        assert!(door.origin(false, None, Some("cross-site"), Some("document")));
        assert!(!door.origin(false, None, Some("cross-site"), Some("image")));
        assert!(!door.origin(false, None, Some("same-site"), Some("iframe")));
        assert!(!door.origin(false, Some("http://evil.example"), None, None));
        assert!(door.origin(false, None, None, None));
    }

    #[test]
    fn each_key_has_its_role_and_cookies_are_strict() {
        let door = door();
        for role in Role::ALL {
            let cookie = door.log_in(door.key(role), Instant::now()).expect("taken");
            assert!(cookie.starts_with("windtight-8600="));
            assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"));
            let pair = cookie.split(';').next().expect("a pair");
            let session = door.session(Some(&format!("other=1; {pair}"))).expect("a session");
            assert_eq!(session.role, role);
            assert!(session.owns(&session.csrf) && !session.owns("") && !session.owns(&"0".repeat(64)));
        }
        assert_eq!(door.session(Some("windtight-8600=0")), None);
        assert_eq!(door.session(Some("windtight-8601=0")), None);
        assert_eq!(door.session(None), None);
    }

    #[test]
    fn ten_thousand_wrong_keys_are_hardly_looked_at() {
        let door = door();
        let start = Instant::now();
        let mut looked_at = 0;
        for n in 0..10_000_u32 {
            // A hundred guesses a second.
            let now = start + Duration::from_millis(10 * u64::from(n));
            match door.log_in(&format!("{n:064x}"), now) {
                Err(Refused::Wrong) => looked_at += 1,
                Err(Refused::TooMany) => {}
                Ok(_) => panic!("a guess was taken"),
            }
        }
        // Ten at once and one in six seconds of the hundred.
        assert!((10..=27).contains(&looked_at), "{looked_at}");
        let during = start + Duration::from_secs(100);
        assert_eq!(door.log_in(door.key(Role::Edit), during), Err(Refused::TooMany));
        assert!(door.log_in(door.key(Role::Edit), during + Duration::from_secs(60)).is_ok());
    }

    #[test]
    fn sessions_do_not_pile_up() {
        let door = door();
        let first = door.log_in(door.key(Role::Look), Instant::now()).expect("taken");
        for _ in 0..SESSIONS {
            door.log_in(door.key(Role::Look), Instant::now()).expect("taken");
        }
        assert_eq!(door.session(first.split(';').next()), None);
    }
}
