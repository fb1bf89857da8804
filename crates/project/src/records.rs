//! The records of a project folder, wherever they lie: the site log's store, and `log/records.jsonl`.
//!
//! A project may come with its records as text; the store is made when the log is first written and takes the text in.
//! Until then the text alone is read; afterwards the store is read first, and of the text only what is not in the
//! store. So each record is counted once. No records are an empty log. A line that cannot be read is a warning, never a
//! reason to stop: the log loses nothing, and neither does a reader of it. Writing is [`crate::log`]'s.

use crate::diagnostic::Diagnostic;
use crate::log::{self, STORE};
use crate::reader::Problems;
use crate::source::{BOOK_LIMIT_BYTES, FileProblem, Folder, Place};
use building::records::{Log, Record, RecordError, read_log};
use std::collections::{BTreeMap, BTreeSet};

/// Where records lie as text in the folder.
pub const LOG: &str = "log/records.jsonl";
/// Largest text read, bytes: a long job with ten thousand records stays below it.
pub const LOG_LIMIT_BYTES: u64 = 16 * BOOK_LIMIT_BYTES;

/// Reads all records; notes lines that cannot be read.
pub fn read(folder: &Folder, cx: &mut Problems) -> Log {
    let mut all = stored(folder, cx);
    let text = match folder.read_text(LOG, LOG_LIMIT_BYTES) {
        Ok(text) => text,
        Err(FileProblem::Missing) => String::new(),
        Err(problem) => {
            cx.add(problem.diagnose(LOG, None));
            String::new()
        }
    };
    if !text.is_empty() {
        let seen: BTreeSet<(String, String)> = all.records.iter().filter_map(key).collect();
        let mut lines = take(LOG, text, cx);
        lines.records.retain(|r| key(r).is_none_or(|k| !seen.contains(&k)));
        all.records.append(&mut lines.records);
        all.errors.append(&mut lines.errors);
        all.unknown.append(&mut lines.unknown);
    }
    disputed(&all, cx);
    all
}

/// What makes a record this one and no other: its id and what its client sent.
fn key(record: &Record) -> Option<(String, String)> {
    Some((record.head.id.clone(), log::content(record).ok()?))
}

fn stored(folder: &Folder, cx: &mut Problems) -> Log {
    match log::lines(folder) {
        Ok(None) => Log::default(),
        Ok(Some(lines)) => take(STORE, lines.join("\n"), cx),
        Err(error) => {
            let help = "the log itself was not touched; windtight log list says more";
            cx.add(
                Diagnostic::new(crate::diagnostic::Severity::Error, "record", error.to_string())
                    .in_file(STORE, 0, 0)
                    .with_help(help),
            );
            Log::default()
        }
    }
}

/// Takes lines in; their text becomes part of what results depend on.
fn take(name: &str, text: String, cx: &mut Problems) -> Log {
    let log = read_log(&text);
    let file = cx.sources.add(name, text);
    let mut warn = |errors: &[RecordError], help: &str| {
        for error in errors {
            let line = cx.sources.get(file).line_range(error.line);
            // A record is one long line; its start says which it is.
            let range = line.start..line.end.min(line.start + 1);
            let d = Diagnostic::warning("record", &Place::new(file, range), error.message.clone());
            cx.add(d.with_help(help));
        }
    };
    warn(&log.errors, "the line is kept as it stands; mend it, or add a record that says it again");
    warn(&log.unknown, "a newer version wrote it; it is kept unchanged");
    log
}

/// Says which ids stand for several records: all are counted until a person says which holds.
fn disputed(all: &Log, cx: &mut Problems) {
    let mut times: BTreeMap<&str, usize> = BTreeMap::new();
    for record in &all.records {
        *times.entry(record.head.id.as_str()).or_default() += 1;
    }
    for (id, n) in times.into_iter().filter(|(_, n)| *n > 1) {
        let message =
            format!("{n} records have the id {id} and say different things; all are kept and counted");
        cx.add(
            Diagnostic::new(crate::diagnostic::Severity::Warning, "record", message)
                .in_file(STORE, 0, 0)
                .with_help(
                    "see them with: windtight log show; then say which holds in a record that corrects it",
                ),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::Log as SiteLog;
    use building::records::{Body, Note};

    fn folder() -> (tempfile::TempDir, Folder) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(dir.path().join("building.toml"), "").expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        (dir, folder)
    }

    fn record(id: &str) -> Record {
        Record::new(id, "2025-03-11T09:00:00-05:00", Body::Note(Note::default()))
    }

    fn ids(folder: &Folder) -> Vec<String> {
        let mut cx = Problems::default();
        let ids = read(folder, &mut cx).records.into_iter().map(|r| r.head.id).collect();
        assert!(cx.is_empty(), "{:?}", cx.list());
        ids
    }

    fn write_text(dir: &tempfile::TempDir, records: &[Record]) {
        std::fs::create_dir_all(dir.path().join("log")).expect("made");
        let text = building::records::write_log(records).expect("text");
        std::fs::write(dir.path().join(LOG), text).expect("written");
    }

    #[test]
    fn text_and_store_are_read_together_each_record_once() {
        let (dir, folder) = folder();
        assert!(ids(&folder).is_empty());
        write_text(&dir, &[record("a"), record("b")]);
        assert_eq!(ids(&folder), ["a", "b"]);
        let log = SiteLog::open(&folder).expect("opened");
        log.append(record("c"), Vec::new()).expect("kept");
        assert_eq!(ids(&folder), ["a", "b", "c"]);
        // Text that came later, by hand or from another program, is read beside the store and taken in when next opened.
        write_text(&dir, &[record("a"), record("d"), record("b")]);
        assert_eq!(ids(&folder), ["a", "b", "c", "d"]);
        drop(log);
        let log = SiteLog::open(&folder).expect("opened");
        assert_eq!(log.list().expect("read").entries.len(), 4);
        assert_eq!(ids(&folder), ["a", "b", "c", "d"]);
    }

    #[test]
    fn a_broken_line_is_a_warning_with_its_place() {
        let (dir, folder) = folder();
        std::fs::create_dir(dir.path().join("log")).expect("made");
        std::fs::write(dir.path().join(LOG), "{\"id\":\"a\"\n").expect("written");
        let mut cx = Problems::default();
        assert!(read(&folder, &mut cx).records.is_empty());
        assert_eq!(cx.list()[0].severity, crate::diagnostic::Severity::Warning);
        // The store takes in what can be read and leaves the text as it is.
        drop(SiteLog::open(&folder).expect("opened"));
        assert_eq!(std::fs::read_to_string(dir.path().join(LOG)).expect("there"), "{\"id\":\"a\"\n");
    }

    #[test]
    fn one_id_for_two_records_is_said() {
        let (_dir, folder) = folder();
        let log = SiteLog::open(&folder).expect("opened");
        log.append(record("a"), Vec::new()).expect("kept");
        let mut other = record("a");
        other.head.note = "not the same".to_owned();
        log.append(other, Vec::new()).expect("kept");
        let mut cx = Problems::default();
        assert_eq!(read(&folder, &mut cx).records.len(), 2);
        assert!(cx.list()[0].message.contains("different things"), "{:?}", cx.list());
    }
}
