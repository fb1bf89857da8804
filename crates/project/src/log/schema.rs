//! The store's tables, its versions, and the promises it is asked for.

use super::{LogError, disk};
use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};
use std::path::Path;
use std::time::{Duration, Instant};

/// Where the store lies in the project folder.
pub const STORE: &str = "log/site-log.db";
/// Newest version of the tables.
pub const NEWEST: i64 = STEPS.len() as i64;
/// How long another writer is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(20);
/// Marks the file as a site log ("Wtlg").
const APPLICATION: i64 = 0x5774_6c67;

/// One step from a version to the next.
type Step = fn(&Connection) -> rusqlite::Result<()>;

/// Every step since the first version: step `n` makes version `n + 1`. Steps are never changed, only added.
const STEPS: &[Step] = &[records, attachments];

/// Version 1: records as they were kept, whole lines.
fn records(db: &Connection) -> rusqlite::Result<()> {
    db.execute_batch(
        "CREATE TABLE records (
            seq     INTEGER PRIMARY KEY,
            id      TEXT NOT NULL,
            content TEXT NOT NULL, -- SHA-256 of what the client sent: tells a retry from another record of that id
            hash    TEXT NOT NULL, -- SHA-256 of the line: the next record's \"previous\"
            chain   TEXT NOT NULL, -- SHA-256 of the chain before and this hash: holds across imports too
            line    TEXT NOT NULL, -- the record, one line of JSON
            UNIQUE (id, content)
        ) STRICT;
        CREATE TRIGGER records_stay BEFORE UPDATE ON records
            BEGIN SELECT RAISE(ABORT, 'the site log is append-only: a correction is a new record'); END;
        CREATE TRIGGER records_remain BEFORE DELETE ON records
            BEGIN SELECT RAISE(ABORT, 'the site log is append-only: nothing is removed'); END;",
    )
}

/// Version 2: which record names which photo or file, so that an unnamed one can be told.
fn attachments(db: &Connection) -> rusqlite::Result<()> {
    db.execute_batch(
        "CREATE TABLE attachments (
            sha256 TEXT NOT NULL,
            seq    INTEGER NOT NULL REFERENCES records (seq),
            PRIMARY KEY (sha256, seq)
        ) STRICT, WITHOUT ROWID;
        CREATE TRIGGER attachments_stay BEFORE UPDATE ON attachments
            BEGIN SELECT RAISE(ABORT, 'the site log is append-only: a correction is a new record'); END;
        CREATE TRIGGER attachments_remain BEFORE DELETE ON attachments
            BEGIN SELECT RAISE(ABORT, 'the site log is append-only: nothing is removed'); END;",
    )?;
    let mut rows = db.prepare("SELECT seq, line FROM records ORDER BY seq")?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        name_attachments(db, row.get(0)?, &row.get::<_, String>(1)?)?;
    }
    Ok(())
}

/// Notes the files a record names. A line of a newer program that cannot be read names none here.
pub(super) fn name_attachments(db: &Connection, seq: i64, line: &str) -> rusqlite::Result<()> {
    let Ok(record) = building::records::Record::from_line(line) else { return Ok(()) };
    for attachment in &record.head.attachments {
        db.execute("INSERT OR IGNORE INTO attachments VALUES (?1, ?2)", params![attachment.sha256, seq])?;
    }
    Ok(())
}

/// Opens the store for writing, asks it for its promises and reads them back, brings it to the newest version.
pub(super) fn open(path: &Path) -> Result<Connection, LogError> {
    let mut db = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)?;
    own(&db, path)?;
    promise(&db)?;
    bring_up(&mut db, STEPS)?;
    Ok(db)
}

/// Opens the store for reading; `None` when there is none.
pub(super) fn open_to_read(path: &Path) -> Result<Option<Connection>, LogError> {
    if !path.is_file() {
        return Ok(None);
    }
    let db = connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let db = match own(&db, path) {
        // A folder that cannot be written has no room for the shared index of readers. With no writer's journal
        // beside it the file is whole as it lies.
        Err(LogError::ReadOnly { .. }) if !journal_of(path).is_file() => {
            let uri = format!("file:{}?immutable=1", escaped(path));
            connect(Path::new(&uri), OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI)?
        }
        Err(other) => return Err(other),
        Ok(()) => db,
    };
    let found = version(&db)?;
    if found > NEWEST {
        return Err(LogError::Newer { found, known: NEWEST });
    }
    Ok(if found == 0 { None } else { Some(db) })
}

fn journal_of(path: &Path) -> std::path::PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-wal");
    name.into()
}

/// Escapes a path for a file address.
fn escaped(path: &Path) -> String {
    use std::fmt::Write as _;
    path.to_string_lossy().bytes().fold(String::new(), |mut out, b| {
        if b.is_ascii_alphanumeric() || b"/-_.~".contains(&b) {
            out.push(char::from(b));
        } else {
            let _ = write!(out, "%{b:02X}");
        }
        out
    })
}

fn connect(path: &Path, flags: OpenFlags) -> Result<Connection, LogError> {
    // One connection is used by one thread at a time.
    let db = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(|e| LogError::store("opening", &e))?;
    db.busy_timeout(PATIENCE).map_err(|e| LogError::store("opening", &e))?;
    Ok(db)
}

/// Refuses a file that is something else.
fn own(db: &Connection, path: &Path) -> Result<(), LogError> {
    let not = |reason: String| LogError::NotALog { path: path.to_path_buf(), reason };
    let id: i64 = db.pragma_query_value(None, "application_id", |r| r.get(0)).map_err(|e| {
        match e.sqlite_error_code() {
            Some(rusqlite::ErrorCode::NotADatabase) => not("it is no database".to_owned()),
            _ => LogError::store("opening", &e),
        }
    })?;
    let tables: i64 = db
        .query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))
        .map_err(|e| LogError::store("opening", &e))?;
    if id == APPLICATION || id == 0 && tables == 0 {
        Ok(())
    } else {
        Err(not("another program's database".to_owned()))
    }
}

/// Asks for a write-ahead journal and a sync at every commit, and reads back what was granted.
fn promise(db: &Connection) -> Result<(), LogError> {
    // The journal's kind cannot be changed while another connection is at work; the store does not wait for that itself.
    let started = Instant::now();
    loop {
        match db.pragma_update_and_check(None, "journal_mode", "wal", |r| r.get::<_, String>(0)) {
            Ok(mode) if mode == "wal" => break,
            Ok(found) => return Err(LogError::Promise { setting: "journal_mode", wanted: "wal", found }),
            Err(e) => {
                let busy = matches!(
                    e.sqlite_error_code(),
                    Some(rusqlite::ErrorCode::DatabaseBusy | rusqlite::ErrorCode::DatabaseLocked)
                );
                if !busy || started.elapsed() > PATIENCE {
                    return Err(LogError::store("asking for its journal", &e));
                }
                std::thread::sleep(Duration::from_millis(10));
            }
        }
    }
    // 2 is FULL: the journal is on the disk before a commit returns.
    for (setting, wanted) in [
        ("synchronous", "2"),
        ("fullfsync", "1"),
        ("checkpoint_fullfsync", "1"),
        ("foreign_keys", "1"),
        ("recursive_triggers", "1"),
        ("trusted_schema", "0"),
    ] {
        let asked = db
            .execute_batch(&format!("PRAGMA {setting} = {wanted}"))
            .and_then(|()| db.pragma_query_value(None, setting, |r| r.get::<_, i64>(0)))
            .map_err(|e| LogError::store("asking for its promises", &e))?;
        if asked.to_string() != wanted {
            return Err(LogError::Promise { setting, wanted, found: asked.to_string() });
        }
    }
    Ok(())
}

fn version(db: &Connection) -> Result<i64, LogError> {
    db.pragma_query_value(None, "user_version", |r| r.get(0))
        .map_err(|e| LogError::store("reading its version", &e))
}

/// Takes every step that is missing, in one commit.
pub(super) fn bring_up(db: &mut Connection, steps: &[Step]) -> Result<(), LogError> {
    let newest = steps.len() as i64;
    match version(db)? {
        found if found == newest => return Ok(()),
        found if found > newest => return Err(LogError::Newer { found, known: newest }),
        _ => {}
    }
    let fail = |e: rusqlite::Error| LogError::store("bringing it up to date", &e);
    let change = db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(fail)?;
    // Another process may have done it while this one waited.
    let found = version(&change)?;
    for step in steps.iter().skip(usize::try_from(found).unwrap_or(0)) {
        step(&change).map_err(fail)?;
    }
    change.pragma_update(None, "user_version", newest).map_err(fail)?;
    change.pragma_update(None, "application_id", APPLICATION).map_err(fail)?;
    change.commit().map_err(fail)
}

/// Returns the steps up to a version, for tests of older stores.
#[cfg(test)]
pub(super) fn steps_to(version: usize) -> &'static [Step] {
    &STEPS[..version]
}

/// Continues the chain of hashes.
pub(super) fn chained(before: &str, hash: &str) -> String {
    disk::sha256(format!("{before}{hash}").as_bytes())
}
