//! The one thread that writes: whatever waits goes into one commit, and is answered when that commit is on the disk.

use super::{LARGEST_RECORD_BYTES, LogError, disk, schema};
use building::records::Record;
use rusqlite::{Connection, OptionalExtension as _, TransactionBehavior, params};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;

/// Most records of one commit: beyond that the first to wait would wait too long.
const GROUP: usize = 256;

/// What keeping a record came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Kept.
    Kept,
    /// It was here already, word for word: a retry.
    AlreadyThere,
    /// Kept, beside other content under the same id: both stand, and a person should say which holds.
    BesideOthers {
        /// Numbers of the others.
        numbers: Vec<i64>,
    },
}

/// Says that a record is on the disk.
#[derive(Clone, Debug, PartialEq)]
pub struct Ack {
    /// Its number in the order kept, from 1.
    pub number: i64,
    /// SHA-256 of its line.
    pub hash: String,
    /// Kept now, or before.
    pub outcome: Outcome,
    /// The record as it stands.
    pub record: Record,
}

type Reply<T> = Sender<Result<T, LogError>>;

enum Order {
    Append(Box<Record>, Reply<Ack>),
    Import(Vec<String>, Reply<Counts>),
}

/// How many lines of an import were new.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Counts {
    pub kept: usize,
    pub already: usize,
    pub beside: usize,
}

/// A handle on the writing thread; dropping the last one ends it and closes the store.
#[derive(Debug)]
pub(super) struct Writer {
    orders: Mutex<Option<Sender<Order>>>,
    thread: Option<JoinHandle<()>>,
}

impl Writer {
    pub(super) fn start(db: Connection) -> Result<Self, LogError> {
        let (orders, waiting) = channel();
        let thread = std::thread::Builder::new()
            .name("site log".to_owned())
            .spawn(move || serve(db, &waiting))
            .map_err(|e| LogError::Disk { doing: "starting the writer".to_owned(), reason: e.to_string() })?;
        Ok(Self { orders: Mutex::new(Some(orders)), thread: Some(thread) })
    }

    pub(super) fn append(&self, record: Record) -> Result<Ack, LogError> {
        self.ask(|reply| Order::Append(Box::new(record), reply))
    }

    pub(super) fn import(&self, lines: Vec<String>) -> Result<Counts, LogError> {
        self.ask(|reply| Order::Import(lines, reply))
    }

    fn ask<T>(&self, order: impl FnOnce(Reply<T>) -> Order) -> Result<T, LogError> {
        let (reply, answer) = channel();
        {
            let orders = self.orders.lock().map_err(|_| LogError::Closed)?;
            let sender = orders.as_ref().ok_or(LogError::Closed)?;
            sender.send(order(reply)).map_err(|_| LogError::Closed)?;
        }
        answer.recv().map_err(|_| LogError::Closed)?
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        if let Ok(mut orders) = self.orders.lock() {
            orders.take();
        }
        if let Some(thread) = self.thread.take() {
            // A writer that panicked has answered nobody; there is nothing more to say here.
            let _ = thread.join();
        }
    }
}

fn serve(mut db: Connection, waiting: &Receiver<Order>) {
    while let Ok(first) = waiting.recv() {
        let mut group = vec![first];
        while group.len() < GROUP {
            match waiting.try_recv() {
                Ok(next) => group.push(next),
                Err(_) => break,
            }
        }
        commit(&mut db, group);
    }
}

enum Answer {
    Append(Reply<Ack>, Box<Result<Ack, LogError>>),
    Import(Reply<Counts>, Result<Counts, LogError>),
}

/// Writes a group in one commit and answers each. A failed commit keeps none of them and tells all.
fn commit(db: &mut Connection, group: Vec<Order>) {
    let mut answers = Vec::with_capacity(group.len());
    let outcome = write(db, group, &mut answers);
    for answer in answers {
        // Who asked may have gone; what is kept stays kept.
        match (answer, &outcome) {
            (Answer::Append(reply, result), Ok(())) => drop(reply.send(*result)),
            (Answer::Import(reply, result), Ok(())) => drop(reply.send(result)),
            (Answer::Append(reply, _), Err(e)) => drop(reply.send(Err(e.clone()))),
            (Answer::Import(reply, _), Err(e)) => drop(reply.send(Err(e.clone()))),
        }
    }
}

fn write(db: &mut Connection, group: Vec<Order>, answers: &mut Vec<Answer>) -> Result<(), LogError> {
    let fail = |e: rusqlite::Error| LogError::store("writing records", &e);
    let (change, mut failed) = match db.transaction_with_behavior(TransactionBehavior::Immediate) {
        Ok(change) => (Some(change), None),
        Err(e) => (None, Some(fail(e))),
    };
    for order in group {
        // After one failure of the store the rest of the group fails with it; everyone is answered all the same.
        let open = if failed.is_none() { change.as_deref() } else { None };
        match order {
            Order::Append(record, reply) => {
                let result = open.map_or(Ok(Err(LogError::Closed)), |db| insert(db, &record));
                let result = result.unwrap_or_else(|e| {
                    failed = Some(e.clone());
                    Err(e)
                });
                answers.push(Answer::Append(reply, Box::new(result)));
            }
            Order::Import(lines, reply) => {
                let result = open.map_or(Err(LogError::Closed), |db| insert_lines(db, &lines));
                if let (Err(e), true) = (&result, open.is_some()) {
                    failed = Some(e.clone());
                }
                answers.push(Answer::Import(reply, result));
            }
        }
    }
    match (failed, change) {
        (Some(error), _) => Err(error),
        (None, Some(change)) => change.commit().map_err(fail),
        (None, None) => Err(LogError::Closed),
    }
}

/// Inserts one record; the inner error is the record's own and leaves the others of its group alone.
fn insert(db: &Connection, record: &Record) -> Result<Result<Ack, LogError>, LogError> {
    let content = match content(record) {
        Ok(content) => content,
        Err(e) => return Ok(Err(e)),
    };
    let twins = twins(db, &record.head.id)?;
    if let Some(same) = twins.iter().find(|t| t.content == content) {
        let kept = Record::from_line(&same.line).map_err(LogError::Record);
        return Ok(kept.map(|record| Ack {
            number: same.number,
            hash: same.hash.clone(),
            outcome: Outcome::AlreadyThere,
            record,
        }));
    }
    let mut record = record.clone();
    let last = last(db)?;
    record.head.previous.clone_from(&last.hash);
    record.head.server_time = Some(super::now_here());
    let line = match record.to_line() {
        Ok(line) if line.len() <= LARGEST_RECORD_BYTES => line,
        Ok(line) => return Ok(Err(too_long(line.len()))),
        Err(e) => return Ok(Err(LogError::Record(e))),
    };
    let (number, hash) = put(db, &record.head.id, &content, &line, &last)?;
    let outcome = if twins.is_empty() {
        Outcome::Kept
    } else {
        Outcome::BesideOthers { numbers: twins.iter().map(|t| t.number).collect() }
    };
    Ok(Ok(Ack { number, hash, outcome, record }))
}

/// Inserts lines as they are.
fn insert_lines(db: &Connection, lines: &[String]) -> Result<Counts, LogError> {
    let mut counts = Counts::default();
    for line in lines {
        let record = Record::from_line(line).map_err(LogError::Import)?;
        let content = content(&record)?;
        let twins = twins(db, &record.head.id)?;
        if twins.iter().any(|t| t.content == content) {
            counts.already += 1;
            continue;
        }
        if twins.is_empty() {
            counts.kept += 1;
        } else {
            counts.beside += 1;
        }
        put(db, &record.head.id, &content, line, &last(db)?)?;
    }
    Ok(counts)
}

struct Twin {
    number: i64,
    content: String,
    hash: String,
    line: String,
}

fn twins(db: &Connection, id: &str) -> Result<Vec<Twin>, LogError> {
    let fail = |e: rusqlite::Error| LogError::store("looking for that id", &e);
    let mut rows = db
        .prepare("SELECT seq, content, hash, line FROM records WHERE id = ?1 ORDER BY seq")
        .map_err(fail)?;
    let twin = |r: &rusqlite::Row<'_>| {
        Ok(Twin { number: r.get(0)?, content: r.get(1)?, hash: r.get(2)?, line: r.get(3)? })
    };
    rows.query_map([id], twin).and_then(Iterator::collect).map_err(fail)
}

#[derive(Default)]
struct Last {
    hash: String,
    chain: String,
}

fn last(db: &Connection) -> Result<Last, LogError> {
    let last = |r: &rusqlite::Row<'_>| Ok(Last { hash: r.get(0)?, chain: r.get(1)? });
    db.query_row("SELECT hash, chain FROM records ORDER BY seq DESC LIMIT 1", [], last)
        .optional()
        .map(Option::unwrap_or_default)
        .map_err(|e| LogError::store("finding the last record", &e))
}

fn put(db: &Connection, id: &str, content: &str, line: &str, last: &Last) -> Result<(i64, String), LogError> {
    let fail = |e: rusqlite::Error| LogError::store("writing a record", &e);
    let hash = disk::sha256(line.as_bytes());
    let chain = schema::chained(&last.chain, &hash);
    db.execute(
        "INSERT INTO records (id, content, hash, chain, line) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![id, content, hash, chain, line],
    )
    .map_err(fail)?;
    let number = db.last_insert_rowid();
    schema::name_attachments(db, number, line).map_err(fail)?;
    Ok((number, hash))
}

/// Returns the hash of what the client sent: the record without what the server adds.
pub(crate) fn content(record: &Record) -> Result<String, LogError> {
    let mut sent = record.clone();
    sent.head.previous.clear();
    sent.head.server_time = None;
    sent.to_line().map(|line| disk::sha256(line.as_bytes())).map_err(LogError::Record)
}

/// Refuses what no reader could place: no id, no time.
pub(super) fn check(record: &Record) -> Result<(), LogError> {
    let id = &record.head.id;
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    if id.is_empty() || id.len() > 64 || !id.chars().all(plain) {
        return Err(LogError::Record(format!(
            "its id {id:?} is not 1 to 64 letters, digits, dashes or points (a UUID is usual)"
        )));
    }
    let time = &record.head.client_time;
    if time.parse::<jiff::Timestamp>().is_err() {
        return Err(LogError::Record(format!(
            "its time {time:?} is not a date and time with offset, such as 2025-09-03T08:30:00-05:00"
        )));
    }
    let line = record.to_line().map_err(LogError::Record)?;
    if line.len() > LARGEST_RECORD_BYTES { Err(too_long(line.len())) } else { Ok(()) }
}

fn too_long(bytes: usize) -> LogError {
    LogError::Record(format!(
        "it has {bytes} bytes and at most {LARGEST_RECORD_BYTES} are kept: attach a file instead"
    ))
}
