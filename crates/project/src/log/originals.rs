//! Photos and files as they were received, by the hash of their bytes, and their safe copies.

use super::image::{self, Sniffed};
use super::{LogError, disk};
use building::records::Attachment;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Largest attachment, bytes: a phone photo has 3 to 12 MB, a year of a logger at one minute 30 MB.
pub const LARGEST_ATTACHMENT_BYTES: u64 = 64 << 20;
/// Temporary files older than this belong to nobody any more.
const ABANDONED: Duration = Duration::from_secs(24 * 3600);

/// A photo or file that comes in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Incoming {
    /// Its bytes as received.
    pub bytes: Vec<u8>,
    /// Name it came with; only its last part is kept, and only as a label.
    pub file_name: String,
    /// Words under it.
    pub caption: String,
    /// Note where the camera says it was taken. Off unless chosen.
    pub keep_location: bool,
}

fn folder(root: &Path) -> PathBuf {
    root.join("log/originals")
}

fn copies(root: &Path) -> PathBuf {
    root.join("log/copies")
}

/// Returns the original of that hash, if it is kept here.
pub(super) fn find(root: &Path, sha256: &str) -> Option<PathBuf> {
    // Only a well-formed hash ever becomes part of a path.
    let path = disk::is_sha256(sha256).then(|| folder(root).join(sha256))?;
    path.is_file().then_some(path)
}

/// Keeps bytes, durable when it returns; the same bytes twice are one file.
pub(super) fn keep(root: &Path, incoming: &Incoming) -> Result<Attachment, LogError> {
    let refuse =
        |reason: &str| LogError::Attachment { name: label(&incoming.file_name), reason: reason.to_owned() };
    if incoming.bytes.is_empty() {
        return Err(refuse("it is empty"));
    }
    if incoming.bytes.len() as u64 > LARGEST_ATTACHMENT_BYTES {
        let limit = LARGEST_ATTACHMENT_BYTES >> 20;
        return Err(refuse(&format!(
            "it has {} MB, and at most {limit} MB are kept",
            incoming.bytes.len() >> 20
        )));
    }
    let sha256 = disk::sha256(&incoming.bytes);
    put(root, &sha256, &incoming.bytes)?;
    let sniffed = image::sniff(&incoming.bytes);
    let facts = image::facts(&incoming.bytes, sniffed, incoming.keep_location);
    Ok(Attachment {
        sha256,
        media_type: sniffed.media_type().to_owned(),
        file_name: label(&incoming.file_name),
        caption: incoming.caption.clone(),
        taken: facts.taken,
        orientation: facts.orientation,
        location: facts.location,
    })
}

/// Puts bytes under their hash.
pub(super) fn put(root: &Path, sha256: &str, bytes: &[u8]) -> Result<(), LogError> {
    let path = folder(root).join(sha256);
    let same = std::fs::read(&path).is_ok_and(|there| there == bytes);
    if same {
        // A name that is there may not be on the disk yet: whoever put it may have stopped between the two.
        return disk::sync_folder(&folder(root));
    }
    disk::make_folders(root, Path::new("log/originals"))?;
    disk::write_whole(&path, bytes)
}

/// Returns the last part of a name, without signs that would upset a terminal, a page or a path.
fn label(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    last.chars().filter(|c| !c.is_control()).take(120).collect()
}

/// Returns the safe copy, making it when there is none.
pub(super) fn safe_copy(root: &Path, sha256: &str) -> Result<Vec<u8>, LogError> {
    if !disk::is_sha256(sha256) {
        return Err(LogError::NoOriginal { sha256: sha256.to_owned() });
    }
    let path = copies(root).join(format!("{sha256}.jpg"));
    if path.is_file() {
        return disk::read_bytes(&path, LARGEST_ATTACHMENT_BYTES);
    }
    let original = find(root, sha256).ok_or_else(|| LogError::NoOriginal { sha256: sha256.to_owned() })?;
    let bytes = disk::read_bytes(&original, LARGEST_ATTACHMENT_BYTES)?;
    let copy = image::safe_copy(&bytes)?;
    // A folder that cannot be written still shows its photos.
    let _ = keep_copy(root, sha256, &copy);
    Ok(copy)
}

/// Keeps a safe copy under the hash of its original.
pub(super) fn keep_copy(root: &Path, sha256: &str, copy: &[u8]) -> Result<(), LogError> {
    disk::make_folders(root, Path::new("log/copies"))?;
    disk::write_whole(&copies(root).join(format!("{sha256}.jpg")), copy)
}

/// Returns the bytes of a file that is no picture.
pub(super) fn file(root: &Path, sha256: &str) -> Result<Vec<u8>, LogError> {
    let path = find(root, sha256).ok_or_else(|| LogError::NoOriginal { sha256: sha256.to_owned() })?;
    let bytes = disk::read_bytes(&path, LARGEST_ATTACHMENT_BYTES)?;
    if image::sniff(&bytes).is_picture() {
        let reason = "originals of photos are never handed out; ask for the safe copy".to_owned();
        return Err(LogError::NoCopy { reason });
    }
    Ok(bytes)
}

/// Says what kind of file an original is.
pub(super) fn kind(path: &Path) -> Result<Sniffed, LogError> {
    Ok(image::sniff(&disk::read_bytes(path, LARGEST_ATTACHMENT_BYTES)?))
}

/// Removes temporary files that were left half written long ago.
pub(super) fn sweep(root: &Path) {
    let Ok(entries) = std::fs::read_dir(folder(root)) else { return };
    for entry in entries.flatten() {
        let old = entry.metadata().and_then(|m| m.modified()).ok().and_then(|at| at.elapsed().ok());
        let temporary = entry.file_name().to_string_lossy().starts_with(disk::TEMPORARY);
        if temporary && old.is_some_and(|age| age > ABANDONED) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}
