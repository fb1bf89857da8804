//! A child process that writes, and a disk that can be watched while it does.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// Returns the watching disk, built once: a C compiler is there, as the store is built with one.
#[cfg(target_os = "linux")]
pub fn shim() -> PathBuf {
    static ONCE: std::sync::OnceLock<PathBuf> = std::sync::OnceLock::new();
    ONCE.get_or_init(|| {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("disk-{}.so", std::process::id()));
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/disk/shim.c");
        let built = Command::new("cc").args(["-shared", "-fPIC", "-O1", "-o"]).arg(&out).arg(source).status();
        assert!(built.expect("a C compiler").success());
        out
    })
    .clone()
}

/// Starts this test program again as a writer into `folder`; `settings` are its environment.
pub fn writer(folder: &Path, settings: &[(&str, &str)]) -> Child {
    Command::new(std::env::current_exe().expect("this program"))
        .args(["--exact", "child", "--nocapture", "--quiet"])
        .env("WRITE_TO", folder)
        .envs(settings.iter().copied())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("started")
}

/// Returns what the child acknowledged: id and hash of each record.
pub fn acknowledged(text: &str) -> Vec<(String, String)> {
    let ack = |line: &str| {
        let mut words = line.strip_prefix("ack ")?.split(' ');
        Some((words.next()?.to_owned(), words.next()?.to_owned()))
    };
    text.lines().filter_map(ack).collect()
}

/// One change the disk was asked for.
#[derive(Clone, Debug)]
pub enum Change {
    /// A new empty file.
    Create(String),
    /// A new folder.
    Folder(String),
    /// Bytes at an offset.
    Write(String, usize, Vec<u8>),
    /// Cut or filled to a length.
    Cut(String, usize),
    /// Forced to the disk: a file's bytes or a folder's names.
    Sync(String),
    /// Another name.
    Rename(String, String),
    /// A name gone.
    Unlink(String),
    /// The child told its user something.
    Told(String),
}

/// Reads the trace of the watching disk.
pub fn trace(bytes: &[u8]) -> Vec<Change> {
    let mut all = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let end = at + bytes[at..].iter().position(|b| *b == b'\n').expect("a line");
        let line = std::str::from_utf8(&bytes[at..end]).expect("text");
        let parts: Vec<&str> = line.split('\t').collect();
        let [what, path, number, other, length] = parts.as_slice() else {
            panic!("not a line of the trace: {line}")
        };
        let body = end + 1..end + 1 + length.parse::<usize>().expect("a length");
        let number = number.parse::<usize>().expect("a number");
        let path = (*path).to_owned();
        at = body.end;
        all.push(match *what {
            "C" => Change::Create(path),
            "D" => Change::Folder(path),
            "W" => Change::Write(path, number, bytes[body].to_vec()),
            "T" => Change::Cut(path, number),
            "S" => Change::Sync(path),
            "R" => Change::Rename(path, (*other).to_owned()),
            "U" => Change::Unlink(path),
            _ => Change::Told(String::from_utf8_lossy(&bytes[body]).into_owned()),
        });
    }
    all
}

/// A small random stream; the same seed tells the same story.
pub struct Dice(pub u64);

impl Dice {
    /// A number below `n`.
    pub fn below(&mut self, n: u64) -> u64 {
        // Steele, Lea and Flood 2014: splitmix64.
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % n
    }
}

#[derive(Clone, Debug)]
enum Bytes {
    Write(usize, Vec<u8>),
    Cut(usize),
}

impl Bytes {
    fn apply(&self, to: &mut Vec<u8>) {
        match self {
            Self::Write(at, bytes) => {
                if to.len() < at + bytes.len() {
                    to.resize(at + bytes.len(), 0);
                }
                to[*at..at + bytes.len()].copy_from_slice(bytes);
            }
            Self::Cut(length) => to.resize(*length, 0),
        }
    }
}

#[derive(Clone, Debug)]
enum Name {
    Add(String, usize),
    Remove(String),
    Move(String, String, usize),
}

/// What is surely on the disk, and what is only on its way.
#[derive(Default)]
pub struct Disk {
    files: Vec<Vec<u8>>,
    waiting: Vec<Vec<Bytes>>,
    now: BTreeMap<String, usize>,
    names: BTreeMap<String, usize>,
    folders: Vec<String>,
    waiting_names: BTreeMap<String, Vec<Name>>,
}

fn folder_of(path: &str) -> String {
    path.rsplit_once('/').map_or_else(String::new, |(f, _)| f.to_owned())
}

impl Disk {
    /// Takes a change in. Folders are kept at once: a missing folder only hides more, and the log makes them durable
    /// before anything else.
    pub fn change(&mut self, change: &Change, honest: bool) {
        match change {
            Change::Folder(path) => self.folders.push(path.clone()),
            Change::Create(path) => {
                let id = self.files.len();
                self.files.push(Vec::new());
                self.waiting.push(Vec::new());
                self.now.insert(path.clone(), id);
                self.waiting_names.entry(folder_of(path)).or_default().push(Name::Add(path.clone(), id));
            }
            Change::Write(path, at, bytes) => self.wait(path, Bytes::Write(*at, bytes.clone())),
            Change::Cut(path, length) => self.wait(path, Bytes::Cut(*length)),
            Change::Rename(from, to) => {
                let id = self.now.remove(from).expect("a file that was made");
                self.now.insert(to.clone(), id);
                let step = Name::Move(from.clone(), to.clone(), id);
                self.waiting_names.entry(folder_of(to)).or_default().push(step);
            }
            Change::Unlink(path) => {
                self.now.remove(path);
                self.waiting_names.entry(folder_of(path)).or_default().push(Name::Remove(path.clone()));
            }
            Change::Sync(path) if honest => self.sync(path),
            Change::Sync(_) | Change::Told(_) => {}
        }
    }

    fn wait(&mut self, path: &str, step: Bytes) {
        let id = self.now[path];
        self.waiting[id].push(step);
    }

    fn sync(&mut self, path: &str) {
        if let Some(id) = self.now.get(path) {
            for step in std::mem::take(&mut self.waiting[*id]) {
                step.apply(&mut self.files[*id]);
            }
        } else {
            for step in self.waiting_names.remove(path).unwrap_or_default() {
                rename(&mut self.names, &step);
            }
        }
    }

    /// Lays out below `to` what a power cut now may leave: of what is on its way, some of it, in any order, some writes
    /// torn at sectors.
    pub fn cut_power(&self, from: &Path, to: &Path, dice: &mut Dice) {
        let place = |path: &str| to.join(Path::new(path).strip_prefix(from).expect("below"));
        for folder in &self.folders {
            std::fs::create_dir_all(place(folder)).expect("made");
        }
        let mut names = self.names.clone();
        for step in self.waiting_names.values().flatten() {
            if dice.below(2) == 0 {
                rename(&mut names, step);
            }
        }
        for (path, id) in names {
            let mut bytes = self.files[id].clone();
            let mut steps: Vec<&Bytes> = self.waiting[id].iter().collect();
            for at in (1..steps.len()).rev() {
                steps.swap(at, dice.below(at as u64 + 1) as usize);
            }
            for step in steps {
                match (dice.below(4), step) {
                    (0, Bytes::Write(at, whole)) => {
                        for (n, sector) in whole.chunks(512).enumerate().filter(|_| dice.below(2) == 0) {
                            Bytes::Write(at + 512 * n, sector.to_vec()).apply(&mut bytes);
                        }
                    }
                    (0 | 1, _) => {}
                    (_, step) => step.apply(&mut bytes),
                }
            }
            std::fs::write(place(&path), bytes).expect("written");
        }
    }
}

fn rename(names: &mut BTreeMap<String, usize>, step: &Name) {
    match step {
        Name::Add(path, id) => drop(names.insert(path.clone(), *id)),
        Name::Remove(path) => drop(names.remove(path)),
        Name::Move(from, to, id) => {
            names.remove(from);
            names.insert(to.clone(), *id);
        }
    }
}
