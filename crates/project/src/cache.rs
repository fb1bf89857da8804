//! Results kept between runs, keyed by everything they depend on.
//!
//! The key is the SHA-256 of the resolved inputs and the engine's version. An entry carries its key and the hash of
//! its own bytes; one that does not fit is passed over with a notice and computed again. Deleting the cache changes
//! no result. Writing is atomic: a temporary file is renamed into place.

use crate::source::Folder;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::path::PathBuf;

/// Folder of the cache inside the project.
pub const CACHE: &str = ".windtight/cache";
/// Entries kept; the oldest go first.
const KEPT: usize = 64;

/// What a result depends on, gathered piece by piece.
#[derive(Clone, Default)]
pub struct Inputs(Sha256);

impl Inputs {
    /// Starts with the engine's version and the fingerprint of its sources.
    pub fn new() -> Self {
        let mut inputs = Self::default();
        inputs.add("engine", concat!(env!("CARGO_PKG_VERSION"), " ", env!("ENGINE_FINGERPRINT")).as_bytes());
        inputs
    }

    /// Adds a named piece. Name and length are hashed too, so that no two lists of pieces read alike.
    pub fn add(&mut self, name: &str, bytes: &[u8]) {
        self.0.update((name.len() as u64).to_le_bytes());
        self.0.update(name.as_bytes());
        self.0.update((bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
    }

    /// Adds numbers by their bits.
    pub fn add_numbers(&mut self, name: &str, numbers: &[f64]) {
        let bytes: Vec<u8> = numbers.iter().flat_map(|n| n.to_bits().to_le_bytes()).collect();
        self.add(name, &bytes);
    }

    /// Returns the key.
    pub fn key(self) -> Key {
        Key(hex(&self.0.finalize()))
    }
}

/// Name of a cached result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key(String);

impl Key {
    /// Returns the key of another result of the same inputs.
    #[must_use]
    pub fn beside(&self, what: &str) -> Self {
        Self(format!("{}-{what}", self.0))
    }

    /// Returns it as text.
    pub fn text(&self) -> &str {
        &self.0
    }
}

/// What the cache had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The result's text.
    Kept(String),
    /// Nothing.
    Nothing,
    /// An entry that cannot be trusted; said to the user, then computed again.
    Spoiled(String),
}

fn path(folder: &Folder, key: &Key) -> PathBuf {
    folder.root().join(CACHE).join(format!("{}.json", key.0))
}

/// Looks a result up.
pub fn get(folder: &Folder, key: &Key) -> Found {
    let text = match std::fs::read_to_string(path(folder, key)) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Found::Nothing,
        Err(e) => {
            return Found::Spoiled(format!("a kept result cannot be read ({e}); it was worked out again"));
        }
    };
    let Some((head, body)) = text.split_once('\n') else { return spoiled() };
    if head == format!("{} {}", key.0, hex(&Sha256::digest(body.as_bytes()))) {
        Found::Kept(body.to_owned())
    } else {
        spoiled()
    }
}

fn spoiled() -> Found {
    Found::Spoiled("a kept result was damaged; it was worked out again".to_owned())
}

/// Keeps a result. A failure costs only time on the next run, so it is returned as words, not as an error.
pub fn put(folder: &Folder, key: &Key, body: &str) -> Option<String> {
    let write = || -> std::io::Result<()> {
        let target = path(folder, key);
        let dir = folder.root().join(CACHE);
        std::fs::create_dir_all(&dir)?;
        let temporary = dir.join(format!("{}.{}.part", key.0, std::process::id()));
        let hash = hex(&Sha256::digest(body.as_bytes()));
        std::fs::write(&temporary, format!("{} {hash}\n{body}", key.0))?;
        std::fs::rename(&temporary, &target)?;
        sweep(&dir)
    };
    write().err().map(|e| format!("the result could not be kept for next time ({e})"))
}

/// Removes the oldest entries beyond what is kept, by the time they were written.
fn sweep(dir: &std::path::Path) -> std::io::Result<()> {
    let mut entries = Vec::new();
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        if entry.path().extension().is_some_and(|e| e == "json") {
            entries.push((entry.metadata()?.modified()?, entry.path()));
        }
    }
    entries.sort();
    let spare = entries.len().saturating_sub(KEPT);
    for (_, old) in entries.into_iter().take(spare) {
        std::fs::remove_file(old)?;
    }
    Ok(())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut out, b| {
        let _ = write!(out, "{b:02x}");
        out
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> (tempfile::TempDir, Folder) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(dir.path().join("building.toml"), "").expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        (dir, folder)
    }

    fn key(of: &str) -> Key {
        let mut inputs = Inputs::new();
        inputs.add("x", of.as_bytes());
        inputs.key()
    }

    #[test]
    fn keeps_and_finds_and_forgets() {
        let (dir, folder) = folder();
        let k = key("a");
        assert_eq!(get(&folder, &k), Found::Nothing);
        assert_eq!(put(&folder, &k, "{\"v\":1}"), None);
        assert_eq!(get(&folder, &k), Found::Kept("{\"v\":1}".to_owned()));
        assert_eq!(get(&folder, &key("b")), Found::Nothing);
        std::fs::remove_dir_all(dir.path().join(".windtight")).expect("removed");
        assert_eq!(get(&folder, &k), Found::Nothing);
    }

    #[test]
    fn a_damaged_entry_is_passed_over() {
        let (_dir, folder) = folder();
        let k = key("a");
        put(&folder, &k, "{\"v\":1}");
        let file = path(&folder, &k);
        for damage in ["", "x", "{\"v\":2}"] {
            let whole = std::fs::read_to_string(&file).expect("there");
            let spoiled = if damage.is_empty() {
                whole[..whole.len() - 1].to_owned()
            } else {
                whole.replace("{\"v\":1}", damage)
            };
            std::fs::write(&file, spoiled).expect("written");
            assert!(matches!(get(&folder, &k), Found::Spoiled(_)), "{damage}");
            put(&folder, &k, "{\"v\":1}");
        }
    }

    #[test]
    fn pieces_do_not_run_together() {
        let two = |a: (&str, &str), b: (&str, &str)| {
            let mut inputs = Inputs::new();
            inputs.add(a.0, a.1.as_bytes());
            inputs.add(b.0, b.1.as_bytes());
            inputs.key()
        };
        assert_ne!(two(("a", "bc"), ("d", "")), two(("a", "b"), ("cd", "")));
    }

    #[test]
    fn only_the_newest_are_kept() {
        let (dir, folder) = folder();
        for n in 0..KEPT + 5 {
            put(&folder, &key(&n.to_string()), "{}");
        }
        let left = std::fs::read_dir(dir.path().join(CACHE)).expect("there").count();
        assert_eq!(left, KEPT);
    }
}
