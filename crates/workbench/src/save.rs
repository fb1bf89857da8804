//! Saving the book: whole or not at all, never over someone else's change, the older version kept.
//!
//! The page sends the hash of the text it began with. When the file has changed since (another editor, another
//! browser, a pull), nothing is written. The order of writing is temporary file, fsync, rename, fsync of the folder, so
//! that a crash leaves the old book or the new one.

use project::source::{BOOK_LIMIT_BYTES, FileProblem, Folder};
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

/// The book's own file.
pub const BOOK: &str = "building.toml";
/// Folder of older versions inside the project.
pub const VERSIONS: &str = ".windtight/versions";
/// Older versions kept; the oldest go first.
const KEPT: usize = 200;

/// Why the book was not saved. Nothing was written then.
#[derive(Debug, thiserror::Error)]
pub enum SaveError {
    /// It changed since the page was opened.
    #[error("the book has changed since this page was opened")]
    Changed,
    /// It is larger than a book may be.
    #[error("a book may have up to {} MB", BOOK_LIMIT_BYTES >> 20)]
    TooLarge,
    /// The present book cannot be read.
    #[error("the book cannot be read: {0}")]
    Unreadable(String),
    /// The disk said no.
    #[error("{doing}: {reason}")]
    Disk {
        /// What was being done.
        doing: &'static str,
        /// What the system said.
        reason: String,
    },
}

/// Returns the SHA-256 of a text, hexadecimal.
pub fn hash(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads the book as it lies there.
///
/// # Errors
/// What the file is instead.
pub fn current(folder: &Folder) -> Result<String, FileProblem> {
    folder.read_text(BOOK, BOOK_LIMIT_BYTES)
}

/// Saves `text` over the version whose hash is `begun_with`; returns the hash of what is there now.
///
/// Browsers send line ends as CRLF; the book keeps the kind it has.
///
/// # Errors
/// [`SaveError`]; nothing was changed then.
pub fn save(folder: &Folder, text: &str, begun_with: &str) -> Result<String, SaveError> {
    let old = current(folder).map_err(|p| {
        let said = p.diagnose(BOOK, None);
        SaveError::Unreadable(said.message)
    })?;
    if hash(&old) != begun_with {
        return Err(SaveError::Changed);
    }
    let plain = text.replace("\r\n", "\n").replace('\r', "\n");
    let new = if old.contains("\r\n") { plain.replace('\n', "\r\n") } else { plain };
    if new.len() as u64 > BOOK_LIMIT_BYTES {
        return Err(SaveError::TooLarge);
    }
    if new == old {
        return Ok(hash(&old));
    }
    keep(folder.root(), &old)?;
    // Looked at once more, as close to the rename as can be: another editor may have saved meanwhile.
    if current(folder).is_ok_and(|now| now != old) {
        return Err(SaveError::Changed);
    }
    write_whole(&folder.root().join(BOOK), &new)?;
    Ok(hash(&new))
}

/// Keeps a version under its time and hash; the same text right after itself is one version.
fn keep(root: &Path, text: &str) -> Result<(), SaveError> {
    let folder = root.join(VERSIONS);
    fs::create_dir_all(&folder).map_err(disk("making the folder of older versions"))?;
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_millis());
    let name = format!("{seconds:014}-{}.toml", &hash(text)[..12]);
    write_whole(&folder.join(name), text)?;
    let mut kept: Vec<PathBuf> =
        fs::read_dir(&folder).map(|e| e.flatten().map(|e| e.path()).collect()).unwrap_or_default();
    kept.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    kept.sort();
    for old in kept.iter().take(kept.len().saturating_sub(KEPT)) {
        // One that cannot be removed is one more kept.
        let _ = fs::remove_file(old);
    }
    Ok(())
}

/// Writes a new file with the book's text; refuses to touch one that is there.
///
/// # Errors
/// [`SaveError`].
pub fn first(folder: &Path, text: &str) -> Result<(), SaveError> {
    fs::create_dir_all(folder).map_err(disk("making the folder"))?;
    let path = folder.join(BOOK);
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&path)
        .map_err(disk("writing the first book"))?;
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(disk("writing the first book"))?;
    sync_folder(folder);
    Ok(())
}

fn write_whole(path: &Path, text: &str) -> Result<(), SaveError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let temporary = folder.join(format!(".{name}.{}.tmp", std::process::id()));
    let written = (|| {
        let mut file = File::create(&temporary)?;
        file.write_all(text.as_bytes())?;
        // A book keeps the rights it had.
        if let Ok(there) = fs::metadata(path) {
            file.set_permissions(there.permissions())?;
        }
        file.sync_all()?;
        fs::rename(&temporary, path)
    })();
    if let Err(error) = written {
        let _ = fs::remove_file(&temporary);
        return Err(disk("writing the book")(error));
    }
    sync_folder(folder);
    Ok(())
}

/// Forces the names in a folder to the disk; where a system cannot, its rename is durable by its own journal.
fn sync_folder(folder: &Path) {
    if let Ok(handle) = File::open(folder) {
        let _ = handle.sync_all();
    }
}

fn disk(doing: &'static str) -> impl Fn(std::io::Error) -> SaveError {
    move |error| SaveError::Disk { doing, reason: error.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(text: &str) -> (tempfile::TempDir, Folder) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        fs::write(dir.path().join(BOOK), text).expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        (dir, folder)
    }

    fn versions(folder: &Folder) -> Vec<String> {
        let mut all: Vec<PathBuf> = fs::read_dir(folder.root().join(VERSIONS))
            .map(|e| e.flatten().map(|e| e.path()).collect())
            .unwrap_or_default();
        all.sort();
        all.iter().map(|p| fs::read_to_string(p).expect("readable")).collect()
    }

    #[test]
    fn a_save_keeps_the_older_version_and_comments_as_they_are() {
        let (_dir, folder) = folder("# note\na = 1\n");
        let at = hash("# note\na = 1\n");
        let now = save(&folder, "# note\r\na = 2\r\n", &at).expect("saved");
        assert_eq!(current(&folder).expect("read"), "# note\na = 2\n");
        assert_eq!(now, hash("# note\na = 2\n"));
        assert_eq!(versions(&folder), ["# note\na = 1\n"]);
    }

    #[test]
    fn a_book_that_changed_meanwhile_is_left_alone() {
        let (dir, folder) = folder("a = 1\n");
        let at = hash("a = 1\n");
        fs::write(dir.path().join(BOOK), "a = 3\n").expect("written");
        assert!(matches!(save(&folder, "a = 2\n", &at), Err(SaveError::Changed)));
        assert_eq!(current(&folder).expect("read"), "a = 3\n");
        assert!(versions(&folder).is_empty());
    }

    #[test]
    fn line_ends_stay_of_their_kind() {
        let (dir, folder) = folder("a = 1\r\nb = 2\r\n");
        save(&folder, "a = 1\r\nb = 3\r\n", &hash("a = 1\r\nb = 2\r\n")).expect("saved");
        assert_eq!(fs::read(dir.path().join(BOOK)).expect("read"), b"a = 1\r\nb = 3\r\n");
    }

    #[test]
    fn nothing_is_written_for_nothing_and_nothing_too_large() {
        let (_dir, folder) = folder("a = 1\n");
        let at = hash("a = 1\n");
        assert_eq!(save(&folder, "a = 1\n", &at).expect("the same"), at);
        assert!(versions(&folder).is_empty());
        let huge = "#".repeat(BOOK_LIMIT_BYTES as usize + 1);
        assert!(matches!(save(&folder, &huge, &at), Err(SaveError::TooLarge)));
    }

    #[test]
    fn a_first_book_never_overwrites_one() {
        let (dir, folder) = folder("a = 1\n");
        assert!(first(dir.path(), "b = 1\n").is_err());
        assert_eq!(current(&folder).expect("read"), "a = 1\n");
    }

    #[cfg(unix)]
    #[test]
    fn a_folder_that_cannot_be_written_loses_nothing() {
        use std::os::unix::fs::PermissionsExt as _;
        let (dir, folder) = folder("a = 1\n");
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o555)).expect("set");
        let saved = save(&folder, "a = 2\n", &hash("a = 1\n"));
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o755)).expect("set");
        // Whoever runs as the system's own user may write anywhere.
        let now = current(&folder).expect("read");
        assert_eq!(now, if saved.is_ok() { "a = 2\n" } else { "a = 1\n" });
    }
}
