//! The site log of a project folder: `log/records.jsonl`.
//!
//! A missing log is an empty one. A line that cannot be read is a warning, never a reason to stop: the log loses
//! nothing, and neither does a reader of it. Appending writes whole lines and forces them to disk before returning.

use crate::diagnostic::Diagnostic;
use crate::reader::Problems;
use crate::source::{BOOK_LIMIT_BYTES, FileProblem, Folder, Place};
use building::records::{Log, Record, read_log};
use std::io::Write as _;

/// Where the log lies in the folder.
pub const LOG: &str = "log/records.jsonl";
/// Largest log read, bytes: a long job with ten thousand records stays below it.
pub const LOG_LIMIT_BYTES: u64 = 16 * BOOK_LIMIT_BYTES;

/// Reads the log; notes lines that cannot be read.
pub fn read(folder: &Folder, cx: &mut Problems) -> Log {
    let text = match folder.read_text(LOG, LOG_LIMIT_BYTES) {
        Ok(text) => text,
        Err(FileProblem::Missing) => return Log::default(),
        Err(problem) => {
            cx.add(problem.diagnose(LOG, None));
            return Log::default();
        }
    };
    let log = read_log(&text);
    let file = cx.sources.add(LOG, text);
    for (errors, help) in [
        (&log.errors, "the line is kept as it stands; mend it, or add a record that says it again"),
        (&log.unknown, "a newer version wrote it; it is kept unchanged"),
    ] {
        for error in errors {
            let line = cx.sources.get(file).line_range(error.line);
            // A record is one long line; its start says which it is.
            let range = line.start..line.end.min(line.start + 1);
            let d = Diagnostic::warning("record", &Place::new(file, range), error.message.clone())
                .with_help(help);
            cx.add(d);
        }
    }
    log
}

/// Why a record could not be kept.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    /// The record has no text form.
    #[error("the record cannot be written: {0}")]
    Record(String),
    /// The disk said no.
    #[error("the log cannot be written: {0}")]
    Disk(#[from] std::io::Error),
}

/// Appends records, one line each, and forces them to disk.
///
/// # Errors
/// [`AppendError`]; nothing is written unless every record has its line.
pub fn append(folder: &Folder, records: &[Record]) -> Result<(), AppendError> {
    let mut lines = String::new();
    for record in records {
        lines.push_str(&record.to_line().map_err(AppendError::Record)?);
        lines.push('\n');
    }
    let path = folder.root().join(LOG);
    if let Some(parent) = path.parent() {
        std::fs::create_dir_all(parent)?;
    }
    let mut file = std::fs::OpenOptions::new().create(true).append(true).open(&path)?;
    file.write_all(lines.as_bytes())?;
    file.sync_all()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use building::records::{Body, Note};

    fn folder() -> (tempfile::TempDir, Folder) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(dir.path().join("building.toml"), "").expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        (dir, folder)
    }

    #[test]
    fn what_is_appended_is_read_back() {
        let (_dir, folder) = folder();
        let mut cx = Problems::default();
        assert!(read(&folder, &mut cx).records.is_empty());
        let record = |id: &str| Record::new(id, "2025-03-11T09:00:00-05:00", Body::Note(Note::default()));
        append(&folder, &[record("a"), record("b")]).expect("kept");
        append(&folder, &[record("c")]).expect("kept");
        let ids: Vec<String> = read(&folder, &mut cx).records.into_iter().map(|r| r.head.id).collect();
        assert_eq!(ids, ["a", "b", "c"]);
        assert!(cx.is_empty());
    }

    #[test]
    fn a_broken_line_is_a_warning_with_its_place() {
        let (dir, folder) = folder();
        std::fs::create_dir(dir.path().join("log")).expect("made");
        std::fs::write(dir.path().join(LOG), "{\"id\":\"a\"\n").expect("written");
        let mut cx = Problems::default();
        assert!(read(&folder, &mut cx).records.is_empty());
        assert_eq!(cx.list()[0].severity, crate::diagnostic::Severity::Warning);
    }
}
