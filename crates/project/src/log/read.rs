//! Reading what is kept.

use super::schema::{self, STORE};
use super::{LogError, disk, originals};
use building::records::{Record, RecordError};
use rusqlite::Connection;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// One record as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its number in the order kept, from 1.
    pub number: i64,
    /// SHA-256 of its line.
    pub hash: String,
    /// Its line, as kept.
    pub line: String,
    /// What the line says.
    pub record: Record,
    /// True when another record has the same id and other content: a person should say which holds.
    pub disputed: bool,
}

/// Every record, and what could not be read of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Listing {
    /// Records in the order kept.
    pub entries: Vec<Entry>,
    /// Records that this program cannot read, by their number: a newer one wrote them; they are kept.
    pub unreadable: Vec<RecordError>,
}

/// What checking the log against itself gave.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verdict {
    /// Records looked at.
    pub records: usize,
    /// Originals looked at.
    pub originals: usize,
    /// What does not hold, one sentence each.
    pub wrong: Vec<String>,
    /// Originals a record names that are not here; usual after taking in an export without them.
    pub missing: Vec<String>,
}

/// Reads the log of a project without writing anything: records of the store, then those the project holds as text and
/// the store does not have yet. The latter are numbered on, as the store will number them.
///
/// # Errors
/// When the store cannot be read.
pub fn read(root: &Path) -> Result<Listing, LogError> {
    let mut listing = Listing::default();
    let mut times: BTreeMap<String, usize> = BTreeMap::new();
    for row in whole(root)? {
        match Record::from_line(&row.line) {
            Ok(record) => {
                *times.entry(record.head.id.clone()).or_default() += 1;
                let Row { number, hash, line, .. } = row;
                listing.entries.push(Entry { number, hash, line, record, disputed: false });
            }
            Err(message) => {
                let line = usize::try_from(row.number).unwrap_or(0);
                listing.unreadable.push(RecordError { line, message });
            }
        }
    }
    for entry in &mut listing.entries {
        entry.disputed = times.get(&entry.record.head.id).is_some_and(|n| *n > 1);
    }
    Ok(listing)
}

/// Returns rows of the store, and of the text what the store does not have.
pub(super) fn whole(root: &Path) -> Result<Vec<Row>, LogError> {
    let mut all = match schema::open_to_read(&root.join(STORE))? {
        Some(db) => rows(&db)?,
        None => Vec::new(),
    };
    let path = root.join(crate::records::LOG);
    if !path.is_file() {
        return Ok(all);
    }
    let text = disk::read_text(&path, crate::records::LOG_LIMIT_BYTES)?;
    let key = |line: &str| {
        Record::from_line(line).ok().and_then(|r| Some((r.head.id.clone(), super::content(&r).ok()?)))
    };
    let mut seen: BTreeSet<(String, String)> = all.iter().filter_map(|row| key(&row.line)).collect();
    for line in text.lines() {
        if let Some(key) = key(line)
            && seen.insert(key)
        {
            let number = all.last().map_or(0, |row| row.number) + 1;
            let hash = disk::sha256(line.as_bytes());
            all.push(Row { number, hash, chain: String::new(), line: line.to_owned() });
        }
    }
    Ok(all)
}

/// Returns the lines of the store as they are kept, in order; `None` when there is no store.
///
/// # Errors
/// When the store cannot be read.
pub fn lines(folder: &crate::source::Folder) -> Result<Option<Vec<String>>, LogError> {
    let Some(db) = schema::open_to_read(&folder.root().join(STORE))? else { return Ok(None) };
    Ok(Some(rows(&db)?.into_iter().map(|row| row.line).collect()))
}

pub(super) struct Row {
    pub number: i64,
    pub hash: String,
    pub chain: String,
    pub line: String,
}

pub(super) fn rows(db: &Connection) -> Result<Vec<Row>, LogError> {
    let fail = |e: rusqlite::Error| LogError::store("reading records", &e);
    let mut all = db.prepare("SELECT seq, hash, chain, line FROM records ORDER BY seq").map_err(fail)?;
    let row = |r: &rusqlite::Row<'_>| {
        Ok(Row { number: r.get(0)?, hash: r.get(1)?, chain: r.get(2)?, line: r.get(3)? })
    };
    all.query_map([], row).and_then(Iterator::collect).map_err(fail)
}

impl Listing {
    /// Returns the entries of an id, or of the one id that begins so, or of that number.
    pub fn named(self, id: &str) -> Vec<Entry> {
        let entries = self.entries;
        let number = entries.iter().find(|e| e.number.to_string() == id).map(|e| e.record.head.id.clone());
        let wanted = if entries.iter().any(|e| e.record.head.id == id) {
            id.to_owned()
        } else if let Some(of_number) = number {
            of_number
        } else {
            let begins = |e: &&Entry| !id.is_empty() && e.record.head.id.starts_with(id);
            let ids: BTreeSet<&str> =
                entries.iter().filter(begins).map(|e| e.record.head.id.as_str()).collect();
            match ids.first() {
                Some(one) if ids.len() == 1 => (*one).to_owned(),
                _ => return Vec::new(),
            }
        };
        entries.into_iter().filter(|e| e.record.head.id == wanted).collect()
    }
}

/// Checks the chain of hashes and every original against its name.
///
/// # Errors
/// When the store cannot be read.
pub fn verify(root: &Path) -> Result<Verdict, LogError> {
    let Some(db) = schema::open_to_read(&root.join(STORE))? else { return Ok(Verdict::default()) };
    let mut verdict = Verdict::default();
    let mut chain = String::new();
    for row in rows(&db)? {
        verdict.records += 1;
        let hash = disk::sha256(row.line.as_bytes());
        chain = schema::chained(&chain, &row.hash);
        if hash != row.hash {
            verdict.wrong.push(format!("record {} is not what it was when it was kept", row.number));
        }
        if chain != row.chain {
            verdict.wrong.push(format!("the chain of hashes breaks at record {}", row.number));
            chain = row.chain;
        }
    }
    let fail = |e: rusqlite::Error| LogError::store("reading attachments", &e);
    let mut names = db.prepare("SELECT DISTINCT sha256 FROM attachments ORDER BY sha256").map_err(fail)?;
    let names: Vec<String> = names.query_map([], |r| r.get(0)).and_then(Iterator::collect).map_err(fail)?;
    for sha256 in names {
        let Some(path) = originals::find(root, &sha256) else {
            verdict.missing.push(sha256);
            continue;
        };
        verdict.originals += 1;
        let bytes = disk::read_bytes(&path, originals::LARGEST_ATTACHMENT_BYTES)?;
        if disk::sha256(&bytes) != sha256 {
            verdict.wrong.push(format!("original {sha256} is not what it was when it was kept"));
        }
    }
    Ok(verdict)
}
