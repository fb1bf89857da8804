//! The site log: append-only, kept in one SQLite file of the project folder, photos beside it.
//!
//! ```text
//! log/site-log.db        records, in order, each with the hash of the one before (made when first written)
//! log/originals/SHA-256  photos and files untouched, by the hash of their bytes as received; never served
//! log/copies/SHA-256.jpg safe re-encoded copies, for pages and exports
//! log/records.jsonl      records as text, where a project came with them; read, never changed
//! ```
//!
//! What is acknowledged is on the disk. The order is: bytes of a photo to a temporary file, fsync, rename, fsync of the
//! folder, commit of the record that names it, acknowledge. A crash between any two leaves at most an original that no
//! record names. One thread writes and commits whatever waits together; another process may write at the same time.
//! Nothing is ever changed or removed: triggers refuse it, a correction is a new record. Identifiers are made by the
//! client, so that sending again is harmless; the same id with other content keeps both and says so.
//!
//! Start at [`Log::open`] to write and at [`read`] to read only. Text records of the project are taken in when the store
//! is first written; until then, and for lines added to the text later, [`crate::records`] reads both and counts each
//! record once.

mod disk;
mod error;
mod exchange;
mod form;
mod image;
mod originals;
mod place;
mod read;
mod schema;
mod words;
mod writer;

#[cfg(test)]
mod tests;

pub use error::LogError;
pub use exchange::{Exported, Imported, MANIFEST, Manifest, ManifestFile, export};
pub use form::{Field, FormProblem, Shape, body, fields};
pub use image::{LARGEST_COPY_PX, Sniffed, sniff};
pub use originals::{Incoming, LARGEST_ATTACHMENT_BYTES};
pub use place::warnings;
pub use read::{Entry, Listing, Verdict, lines, read, verify};
pub use schema::{NEWEST, STORE};
pub use words::{kind_words, sentence};
pub(crate) use writer::content;
pub use writer::{Ack, Outcome};

use crate::source::Folder;
use building::records::{Attachment, Record};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Largest line of one record, bytes: a whole pressure test takes 4 kB.
pub const LARGEST_RECORD_BYTES: usize = 1 << 20;

/// The site log, open for writing. Clones share one writer.
#[derive(Clone, Debug)]
pub struct Log {
    root: PathBuf,
    writer: Arc<writer::Writer>,
}

impl Log {
    /// Opens the log of a project for writing; makes the store when there is none, brings an older one up to date, and
    /// takes in records that the project holds as text.
    ///
    /// # Errors
    /// When the store cannot be made or opened, does not keep its promises (journal, sync), is of a newer program, or is
    /// no site log.
    pub fn open(folder: &Folder) -> Result<Self, LogError> {
        let root = folder.root().to_path_buf();
        disk::make_folders(&root, Path::new("log/originals"))?;
        originals::sweep(&root);
        let connection = schema::open(&root.join(STORE))?;
        disk::sync_folder(&root.join("log"))?;
        let writer = Arc::new(writer::Writer::start(connection)?);
        let log = Self { root, writer };
        let text = folder.root().join(crate::records::LOG);
        if text.is_file() {
            log.take_in_text(&text)?;
        }
        Ok(log)
    }

    /// Appends a record with its photos and files, and returns when all of it is on the disk.
    ///
    /// The record's `previous` and `server-time` are set here; its attachments are those it names already (kept with
    /// [`Log::keep`]) and those that come with it. Sending the same record again answers [`Outcome::AlreadyThere`].
    ///
    /// # Errors
    /// Nothing is kept then, except originals, which a later record may name.
    pub fn append(&self, mut record: Record, attachments: Vec<Incoming>) -> Result<Ack, LogError> {
        writer::check(&record)?;
        for incoming in &attachments {
            let attachment = self.keep(incoming)?;
            if !record.head.attachments.iter().any(|a| a.sha256 == attachment.sha256) {
                record.head.attachments.push(attachment);
            }
        }
        for attachment in &record.head.attachments {
            if originals::find(&self.root, &attachment.sha256).is_none() {
                return Err(LogError::NoOriginal { sha256: attachment.sha256.clone() });
            }
        }
        self.writer.append(record)
    }

    /// Keeps the bytes of one photo or file, durable, and returns how a record names it.
    ///
    /// # Errors
    /// When it is empty or too large, or the disk says no.
    pub fn keep(&self, incoming: &Incoming) -> Result<Attachment, LogError> {
        originals::keep(&self.root, incoming)
    }

    /// Returns every record, in the order kept.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn list(&self) -> Result<Listing, LogError> {
        read(&self.root)
    }

    /// Returns the records of that id: none, one, or several when clients disagreed. The beginning of an id will do when
    /// it is the only one that begins so.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn show(&self, id: &str) -> Result<Vec<Entry>, LogError> {
        Ok(self.list()?.named(id))
    }

    /// Checks the chain of hashes and every original against its name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn verify(&self) -> Result<Verdict, LogError> {
        verify(&self.root)
    }

    /// Returns the safe copy of a photo as JPEG bytes: re-encoded, upright, without metadata, at most
    /// [`LARGEST_COPY_PX`] long. Made when first asked for.
    ///
    /// # Errors
    /// When there is no such photo, or it is no picture that can be shown safely; the original is kept all the same.
    pub fn safe_copy(&self, sha256: &str) -> Result<Vec<u8>, LogError> {
        originals::safe_copy(&self.root, sha256)
    }

    /// Returns the original bytes of a file that is no picture (a logger file, a sheet of paper as PDF).
    ///
    /// # Errors
    /// When there is none, or it is a picture: originals of photos are never handed out.
    pub fn file(&self, sha256: &str) -> Result<Vec<u8>, LogError> {
        originals::file(&self.root, sha256)
    }

    /// Writes the log into a new folder as JSON Lines with photos and a manifest. Photos go as safe copies; with
    /// `originals` also as they were received, for moving house.
    ///
    /// # Errors
    /// When the folder exists and is not empty, or cannot be written.
    pub fn export(&self, to: &Path, originals: bool) -> Result<Exported, LogError> {
        export(&self.root, to, originals)
    }

    /// Takes in an exported folder, or a file of JSON Lines. Every file is checked against the manifest first; records
    /// that are here already are passed over; all others enter in one commit, byte for byte.
    ///
    /// # Errors
    /// When anything of it cannot be read or does not match its hash: nothing is taken in then.
    pub fn import(&self, from: &Path) -> Result<Imported, LogError> {
        exchange::import(self, from)
    }

    /// Says what is risky about where the log lies: a network or synced folder.
    pub fn warnings(&self) -> Vec<String> {
        warnings(&self.root)
    }

    /// Takes in records kept as text. Lines that are no records stay where they are.
    fn take_in_text(&self, path: &Path) -> Result<(), LogError> {
        let text = disk::read_text(path, crate::records::LOG_LIMIT_BYTES)?;
        let lines = text.lines().filter(|l| Record::from_line(l).is_ok()).map(str::to_owned).collect();
        self.writer.import(lines).map(|_| ())
    }
}

/// Returns a fresh identifier: time-ordered, random, made anywhere without asking anyone.
pub fn fresh_id() -> String {
    uuid::Uuid::now_v7().to_string()
}

/// Returns the present time by this machine's clock and zone, as records write it: RFC 3339 with offset, to the second.
pub fn now_here() -> String {
    let now = jiff::ZonedDateTime::now();
    now.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}
