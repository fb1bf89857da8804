//! What can go wrong with the log, and what a person can do about it.

use std::path::{Path, PathBuf};

/// Why the log could not do something. What was kept before is never touched by a failure.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// The disk has no room.
    #[error(
        "the disk is full ({doing}); nothing kept before is lost, this was not kept: make room and send it again"
    )]
    Full {
        /// What was being done.
        doing: String,
    },
    /// The folder cannot be written.
    #[error(
        "the folder cannot be written ({doing}); nothing kept before is lost, this was not kept: check its rights, or copy the project to a disk that can be written"
    )]
    ReadOnly {
        /// What was being done.
        doing: String,
    },
    /// Another program holds the store.
    #[error("another program has held the site log for {seconds} s; nothing is lost: close it, or try again")]
    Busy {
        /// How long was waited.
        seconds: u64,
    },
    /// The disk said no otherwise.
    #[error("{doing}: {reason}")]
    Disk {
        /// What was being done.
        doing: String,
        /// What the system said.
        reason: String,
    },
    /// The store said no otherwise.
    #[error("the site log's store: {reason} ({doing})")]
    Store {
        /// What was being done.
        doing: String,
        /// What it said.
        reason: String,
    },
    /// The file is no site log.
    #[error("\"{path}\" is no site log: {reason}; it was left alone")]
    NotALog {
        /// The file.
        path: PathBuf,
        /// How that is known.
        reason: String,
    },
    /// A newer program wrote it.
    #[error(
        "the site log was made by a newer windtight (store {found}, this one knows {known}); it was left alone: use the newer one"
    )]
    Newer {
        /// Version found.
        found: i64,
        /// Newest version known here.
        known: i64,
    },
    /// The store does not keep a promise it was asked for.
    #[error(
        "the store answers {setting} = {found} where {wanted} was asked: on this disk it cannot promise to lose nothing; keep the project on a local disk"
    )]
    Promise {
        /// The setting.
        setting: &'static str,
        /// What was asked.
        wanted: &'static str,
        /// What it is.
        found: String,
    },
    /// The record cannot be kept as it is.
    #[error("the record cannot be kept: {0}")]
    Record(String),
    /// An attachment cannot be kept as it is.
    #[error("\"{name}\" cannot be attached: {reason}")]
    Attachment {
        /// Its name.
        name: String,
        /// Why.
        reason: String,
    },
    /// A record names an original that is not here.
    #[error("no photo or file {sha256} is kept here: send it before, or with, the record that names it")]
    NoOriginal {
        /// Its hash.
        sha256: String,
    },
    /// No safe copy can be shown.
    #[error("the original is kept, but cannot be shown: {reason}")]
    NoCopy {
        /// Why.
        reason: String,
    },
    /// An export cannot be taken in.
    #[error("nothing was taken in: {0}")]
    Import(String),
    /// The writing thread has ended.
    #[error("the site log was closed; open it again")]
    Closed,
}

impl LogError {
    /// Says what the system answered while a file was handled.
    pub(super) fn disk(doing: &str, path: &Path, error: &std::io::Error) -> Self {
        let doing = format!("{doing} \"{}\"", path.display());
        match error.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Self::Full { doing },
            std::io::ErrorKind::ReadOnlyFilesystem | std::io::ErrorKind::PermissionDenied => {
                Self::ReadOnly { doing }
            }
            _ => Self::Disk { doing, reason: error.to_string() },
        }
    }

    /// Says what the store answered.
    pub(super) fn store(doing: &str, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        let doing = doing.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full { doing },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
                Self::ReadOnly { doing }
            }
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
                Self::Busy { seconds: super::schema::PATIENCE.as_secs() }
            }
            _ => Self::Store { doing, reason: error.to_string() },
        }
    }
}
