//! The site log loses nothing: killed writers, power cuts, full and locked disks, two writers at once.
//!
//! The child writes and says `ack ID HASH` when the log has acknowledged; all that was said must be there afterwards.
//! `WINDTIGHT_KILLS=1000` kills more often than the 200 of an ordinary run.

mod disk;

use building::records::{Body, Note, Record};
use disk::{Dice, acknowledged, writer};
use project::log::{Incoming, Log};
use project::source::Folder;
use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::time::Duration;

fn site() -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(dir.path().join("building.toml"), "").expect("written");
    dir
}

fn open(folder: &Path) -> Log {
    Log::open(&Folder::open(folder).expect("a folder")).expect("opened")
}

/// Writes until told to stop; does nothing when this program runs as a test.
#[test]
fn child() {
    let Ok(folder) = std::env::var("WRITE_TO") else { return };
    let number = |name: &str, or: usize| std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(or);
    let (rounds, records) = (number("ROUNDS", 1), number("RECORDS", usize::MAX));
    let mark = std::env::var("MARK").unwrap_or_default();
    for round in 0..rounds {
        let log = match Log::open(&Folder::open(Path::new(&folder)).expect("a folder")) {
            Ok(log) => log,
            Err(error) => {
                let there = project::log::read(Path::new(&folder));
                tell(&format!("can read {:?}", there.map(|l| l.entries.len())));
                return tell(&format!("refused {error}"));
            }
        };
        for n in 0..records {
            let id = format!("{mark}-{round}-{n}");
            let note = Body::Note(Note { text: "x".repeat(100 + n % 1900) });
            let record = Record::new(id.clone(), "2025-09-03T08:30:00-05:00", note);
            let photo = Incoming { bytes: id.repeat(200).into_bytes(), ..Incoming::default() };
            let photos = if n % 3 == 0 { vec![photo] } else { Vec::new() };
            match log.append(record, photos) {
                Ok(ack) => tell(&format!("ack {id} {}", ack.hash)),
                Err(error) => return tell(&format!("refused {error}")),
            }
        }
    }
}

fn tell(line: &str) {
    // Straight to the pipe, in one piece: what is said is out.
    let mut out = std::io::stdout().lock();
    out.write_all(format!("{line}\n").as_bytes()).and_then(|()| out.flush()).expect("someone listens");
}

/// Returns acknowledged records that are not there as they were, and originals that are not.
fn lost(folder: &Path, told: &[(String, String)]) -> (Vec<String>, Vec<String>) {
    let Ok(log) = Log::open(&Folder::open(folder).expect("a folder")) else {
        return (told.iter().map(|(id, _)| id.clone()).collect(), Vec::new());
    };
    let Ok(listing) = log.list() else {
        return (told.iter().map(|(id, _)| id.clone()).collect(), Vec::new());
    };
    let there: BTreeMap<&str, &str> =
        listing.entries.iter().map(|e| (e.record.head.id.as_str(), e.hash.as_str())).collect();
    let missing = told.iter().filter(|(id, hash)| there.get(id.as_str()) != Some(&hash.as_str()));
    let missing = missing.map(|(id, _)| id.clone()).collect();
    let verdict = log.verify().expect("read");
    (missing, [verdict.wrong, verdict.missing].concat())
}

#[test]
fn killed_writers_lose_nothing_they_acknowledged() {
    let kills: usize = std::env::var("WINDTIGHT_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(200);
    let site = site();
    let mut dice = Dice(7);
    let mut told = Vec::new();
    for kill in 0..kills {
        let mut child = writer(site.path(), &[("MARK", &kill.to_string())]);
        std::thread::sleep(Duration::from_millis(5 + dice.below(40)));
        child.kill().expect("killed");
        let mut said = String::new();
        child.stdout.take().expect("a pipe").read_to_string(&mut said).expect("text");
        child.wait().expect("ended");
        told.extend(acknowledged(&said));
        if kill % 20 == 19 || kill + 1 == kills {
            assert_eq!(lost(site.path(), &told), (vec![], vec![]), "after {} kills", kill + 1);
        }
    }
    assert!(told.len() > kills, "the writers came to write: {} records in {kills} lives", told.len());
}

#[test]
fn two_processes_write_at_once() {
    let site = site();
    let children: Vec<_> =
        ["a", "b"].map(|mark| writer(site.path(), &[("MARK", mark), ("RECORDS", "60")])).into();
    let log = open(site.path());
    for n in 0..60 {
        let note = Record::new(format!("here-{n}"), "2025-09-03T08:30:00Z", Body::Note(Note::default()));
        log.append(note, Vec::new()).expect("kept");
    }
    let mut told = Vec::new();
    for child in children {
        let said = child.wait_with_output().expect("ended");
        told.extend(acknowledged(&String::from_utf8_lossy(&said.stdout)));
    }
    assert_eq!(told.len(), 120);
    assert_eq!(lost(site.path(), &told), (vec![], vec![]));
    let entries = log.list().expect("read").entries;
    assert_eq!(entries.len(), 180);
    assert!(entries.windows(2).all(|w| w[1].record.head.previous == w[0].hash), "one chain");
}

#[cfg(target_os = "linux")]
mod watched {
    use super::*;
    use disk::{Change, Disk, shim, trace};

    /// Lets a child write on the watched disk and returns all it asked of it.
    fn watched() -> (tempfile::TempDir, Vec<Change>) {
        let site = site();
        let folder = site.path().canonicalize().expect("a folder");
        let path = tempfile::NamedTempFile::new().expect("a file");
        let shim = shim();
        let ended = writer(
            &folder,
            &[
                ("LD_PRELOAD", shim.to_str().expect("a path")),
                ("DISK_ROOT", folder.to_str().expect("a path")),
                ("DISK_TRACE", path.path().to_str().expect("a path")),
                ("MARK", "p"),
                ("ROUNDS", "3"),
                ("RECORDS", "130"),
            ],
        )
        .wait_with_output()
        .expect("ended");
        assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        let changes = trace(&std::fs::read(path.path()).expect("there"));
        (site, changes)
    }

    /// Cuts the power at many moments; returns how many cuts lost records and originals.
    fn cuts(from: &Path, changes: &[Change], honest: bool, cuts: u64) -> (usize, usize, String) {
        let mut dice = Dice(11);
        let mut moments: Vec<usize> = (0..cuts).map(|_| dice.below(changes.len() as u64) as usize).collect();
        moments.sort_unstable();
        let (mut disk, mut told, mut done) = (Disk::default(), String::new(), 0);
        let (mut records, mut originals, mut first) = (0, 0, String::new());
        for moment in moments {
            for change in &changes[done..moment] {
                disk.change(change, honest);
                if let Change::Told(words) = change {
                    told.push_str(words);
                }
            }
            done = moment;
            let after = site();
            disk.cut_power(from, after.path(), &mut dice);
            let (missing, wrong) = lost(after.path(), &acknowledged(&told));
            records += usize::from(!missing.is_empty());
            originals += usize::from(!wrong.is_empty());
            if first.is_empty() && !(missing.is_empty() && wrong.is_empty()) {
                first = format!("at change {moment}: records {missing:?}, originals {wrong:?}");
            }
        }
        (records, originals, first)
    }

    #[test]
    fn a_power_cut_loses_nothing_acknowledged_and_a_disk_that_does_not_sync_does() {
        let (site, changes) = watched();
        let from = site.path().canonicalize().expect("a folder");
        let syncs = changes.iter().filter(|c| matches!(c, Change::Sync(_))).count();
        assert!(syncs > 390, "each of 390 records was forced to the disk: {syncs}");
        let checkpoints =
            changes.iter().filter(|c| matches!(c, Change::Write(path, ..) if path.ends_with(".db"))).count();
        assert!(checkpoints > 10, "the journal was carried into the store while watched: {checkpoints}");
        let (records, originals, first) = cuts(&from, &changes, true, 150);
        assert_eq!((records, originals), (0, 0), "{first}");
        // The same on a disk that says it has synced and has not: the test must notice, or it proves nothing.
        let (records, _, _) = cuts(&from, &changes, false, 30);
        assert!(records > 20, "only {records} of 30 cuts were noticed");
    }

    #[test]
    fn an_original_that_was_not_synced_is_noticed_too() {
        let (site, mut changes) = watched();
        let from = site.path().canonicalize().expect("a folder");
        // Only the originals and their names are left unsynced here.
        changes.retain(|c| !matches!(c, Change::Sync(path) if path.contains("/originals")));
        let (records, originals, _) = cuts(&from, &changes, true, 30);
        assert!(originals > 20 && records == 0, "{records} and {originals} of 30");
    }

    /// Runs a child on a disk of that kind; returns what it acknowledged and all it said.
    fn on(folder: &Path, kind: (&str, &str)) -> (Vec<(String, String)>, String) {
        let shim = shim();
        let root = folder.canonicalize().expect("a folder");
        let settings = [
            ("LD_PRELOAD", shim.to_str().expect("a path")),
            ("DISK_ROOT", root.to_str().expect("a path")),
            ("MARK", "d"),
            ("RECORDS", "400"),
            kind,
        ];
        let ended = writer(folder, &settings).wait_with_output().expect("ended");
        let said = String::from_utf8_lossy(&ended.stdout).into_owned();
        assert!(ended.status.success(), "{said}{}", String::from_utf8_lossy(&ended.stderr));
        (acknowledged(&said), said)
    }

    #[test]
    fn a_full_disk_says_so_and_loses_nothing() {
        // Room for the tables alone, for some records, and in the middle of a photo.
        for room in ["100000", "400000", "1501000"] {
            let site = site();
            let (told, last) = on(site.path(), ("DISK_ROOM", room));
            assert!(
                last.contains("the disk is full") && last.contains("nothing kept before is lost"),
                "{room}: {last}"
            );
            assert_eq!(lost(site.path(), &told), (vec![], vec![]), "{room}");
            // With room again it goes on.
            let note = Record::new("after", "2025-09-03T08:30:00Z", Body::Note(Note::default()));
            open(site.path()).append(note, Vec::new()).expect("kept");
        }
    }

    #[test]
    fn a_folder_that_cannot_be_written_says_so_and_can_be_read() {
        let site = site();
        let (told, last) = on(site.path(), ("DISK_LOCKED", "1"));
        assert!(told.is_empty() && last.contains("cannot be written"), "{last}");
        let log = open(site.path());
        let note = Record::new("before", "2025-09-03T08:30:00Z", Body::Note(Note::default()));
        log.append(note, Vec::new()).expect("kept");
        drop(log);
        let (told, last) = on(site.path(), ("DISK_LOCKED", "1"));
        assert!(told.is_empty() && last.contains("cannot be written"), "{last}");
        assert!(last.contains("can read Ok(1)"), "{last}");
        assert_eq!(open(site.path()).list().expect("read").entries.len(), 1);
    }
}
