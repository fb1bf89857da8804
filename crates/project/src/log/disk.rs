//! Files and folders that are on the disk when the call returns.

use super::LogError;
use sha2::{Digest as _, Sha256};
use std::fs::{File, OpenOptions};
use std::io::Write as _;
use std::path::Path;

/// Makes a folder below `root` and every one on the way, each durable in the one above.
pub(super) fn make_folders(root: &Path, below: &Path) -> Result<(), LogError> {
    let mut at = root.to_path_buf();
    for part in below.components() {
        let above = at.clone();
        at.push(part);
        match std::fs::create_dir(&at) {
            Ok(()) => sync_folder(&above)?,
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists && at.is_dir() => {}
            Err(e) => return Err(LogError::disk("making", &at, &e)),
        }
    }
    Ok(())
}

/// Forces the names in a folder to the disk.
///
/// Folders cannot be synced on every system; there a rename is durable by the file system's own journal.
pub(super) fn sync_folder(folder: &Path) -> Result<(), LogError> {
    if cfg!(unix) {
        let open = File::open(folder).and_then(|f| f.sync_all());
        open.map_err(|e| LogError::disk("syncing", folder, &e))?;
    }
    Ok(())
}

/// Writes a file so that it is there whole or not at all: temporary, fsync, rename, fsync of the folder.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), LogError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let temporary = folder.join(format!("{TEMPORARY}{}", super::fresh_id()));
    let written = write_synced(&temporary, bytes)
        .and_then(|()| std::fs::rename(&temporary, path))
        .map_err(|e| LogError::disk("writing", path, &e));
    if written.is_err() {
        // What is half written has no name that anything would read; losing it loses nothing.
        let _ = std::fs::remove_file(&temporary);
    }
    written?;
    sync_folder(folder)
}

/// How temporary files begin.
pub(super) const TEMPORARY: &str = ".incoming-";

fn write_synced(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Reads a file of at most `limit` bytes.
pub(super) fn read_bytes(path: &Path, limit: u64) -> Result<Vec<u8>, LogError> {
    let fail = |e: &std::io::Error| LogError::disk("reading", path, e);
    let size = std::fs::metadata(path).map_err(|e| fail(&e))?.len();
    if size > limit {
        let reason = format!("it has {size} bytes; at most {limit} are read");
        return Err(LogError::Disk { doing: format!("reading \"{}\"", path.display()), reason });
    }
    std::fs::read(path).map_err(|e| fail(&e))
}

/// Reads a UTF-8 file of at most `limit` bytes.
pub(super) fn read_text(path: &Path, limit: u64) -> Result<String, LogError> {
    String::from_utf8(read_bytes(path, limit)?).map_err(|e| LogError::Disk {
        doing: format!("reading \"{}\"", path.display()),
        reason: format!("it is not UTF-8 text (byte {})", e.utf8_error().valid_up_to()),
    })
}

/// Returns the SHA-256 of some bytes, hexadecimal.
pub(super) fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Returns bytes as lower-case hexadecimal.
fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut out, b| {
        let _ = write!(out, "{b:02x}");
        out
    })
}

/// Says whether a text is a SHA-256 as written here; nothing else ever becomes part of a path.
pub(super) fn is_sha256(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}
