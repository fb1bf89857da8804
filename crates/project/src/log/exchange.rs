//! Handing the log on: JSON Lines with photos and a manifest, out and in, byte for byte.

use super::image;
use super::{Log, LogError, disk, originals, read};
use building::records::Record;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Name of the manifest in an exported folder.
pub const MANIFEST: &str = "manifest.json";
const RECORDS: &str = "records.jsonl";
/// Largest file of records taken in, bytes.
const LARGEST_RECORDS_BYTES: u64 = 256 << 20;
/// Most lines of a manifest: a long job has ten thousand photos.
const LARGEST_MANIFEST_BYTES: u64 = 32 << 20;

/// What an exported folder holds. Nothing of it depends on when or where it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Manifest {
    /// Version of this list.
    pub schema: u32,
    /// Records in `records.jsonl`.
    pub records: usize,
    /// SHA-256 of `records.jsonl`.
    pub records_sha256: String,
    /// Files beside it, by path.
    pub files: Vec<ManifestFile>,
    /// Attachments that records name and that are not handed on: originals of photos that cannot be copied safely, or
    /// that were not here.
    pub left_out: Vec<String>,
}

/// A file of an exported folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct ManifestFile {
    /// Where: `copies/HASH.jpg`, `originals/HASH` or `files/HASH`.
    pub path: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// Its size, bytes.
    pub bytes: u64,
    /// SHA-256 of the original, as records name it.
    pub of: String,
}

/// What an export wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// Where.
    pub folder: PathBuf,
    /// What.
    pub manifest: Manifest,
}

/// What an import brought.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Records that are new here.
    pub kept: usize,
    /// Records that were here already.
    pub already: usize,
    /// New ones that share an id with other content: both stand.
    pub beside: usize,
    /// Photos and files that came with them.
    pub files: usize,
}

/// Writes the log of a project into a new folder, as [`Log::export`] does, without opening it for writing.
///
/// # Errors
/// When the folder exists and is not empty, or cannot be written.
pub fn export(root: &Path, to: &Path, with_originals: bool) -> Result<Exported, LogError> {
    let taken = std::fs::read_dir(to).is_ok_and(|mut entries| entries.next().is_some());
    if taken || to.is_file() {
        let reason = "it is there already; name a new or empty folder".to_owned();
        return Err(LogError::Disk { doing: format!("exporting to \"{}\"", to.display()), reason });
    }
    let rows = read::whole(root)?;
    std::fs::create_dir_all(to).map_err(|e| LogError::disk("making", to, &e))?;
    let mut text = String::new();
    let mut named: BTreeMap<String, ()> = BTreeMap::new();
    for row in &rows {
        text.push_str(&row.line);
        text.push('\n');
        if let Ok(record) = Record::from_line(&row.line) {
            named.extend(record.head.attachments.into_iter().map(|a| (a.sha256, ())));
        }
    }
    let mut manifest = Manifest {
        schema: 1,
        records: rows.len(),
        records_sha256: disk::sha256(text.as_bytes()),
        files: Vec::new(),
        left_out: Vec::new(),
    };
    for sha256 in named.into_keys() {
        hand_on(root, to, &sha256, with_originals, &mut manifest)?;
    }
    manifest.files.sort();
    disk::write_whole(&to.join(RECORDS), text.as_bytes())?;
    let list = serde_json::to_string_pretty(&manifest).map_err(|e| LogError::Record(e.to_string()))?;
    disk::write_whole(&to.join(MANIFEST), format!("{list}\n").as_bytes())?;
    Ok(Exported { folder: to.to_path_buf(), manifest })
}

/// Writes what may be handed on of one attachment.
fn hand_on(
    root: &Path,
    to: &Path,
    sha256: &str,
    with_originals: bool,
    manifest: &mut Manifest,
) -> Result<(), LogError> {
    let mut put = |path: String, bytes: &[u8]| -> Result<(), LogError> {
        let full = to.join(&path);
        if let Some(folder) = full.parent() {
            std::fs::create_dir_all(folder).map_err(|e| LogError::disk("making", folder, &e))?;
        }
        disk::write_whole(&full, bytes)?;
        let bytes_long = bytes.len() as u64;
        manifest.files.push(ManifestFile {
            path,
            sha256: disk::sha256(bytes),
            bytes: bytes_long,
            of: sha256.to_owned(),
        });
        Ok(())
    };
    let original = originals::find(root, sha256);
    let picture = match &original {
        Some(path) => originals::kind(path)?.is_picture(),
        None => true,
    };
    let mut handed = false;
    if let (Some(path), true) = (&original, with_originals || !picture) {
        let bytes = disk::read_bytes(path, originals::LARGEST_ATTACHMENT_BYTES)?;
        put(format!("{}/{sha256}", if picture { "originals" } else { "files" }), &bytes)?;
        handed = true;
    }
    if picture && let Ok(copy) = originals::safe_copy(root, sha256) {
        put(format!("copies/{sha256}.jpg"), &copy)?;
        handed = true;
    }
    if !handed {
        manifest.left_out.push(sha256.to_owned());
    }
    Ok(())
}

pub(super) fn import(log: &Log, from: &Path) -> Result<Imported, LogError> {
    let (records, files) = if from.is_dir() { whole(from)? } else { (from.to_path_buf(), Vec::new()) };
    let text = disk::read_text(&records, LARGEST_RECORDS_BYTES)?;
    let mut lines = Vec::new();
    for (at, line) in text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        let bad = |e: String| LogError::Import(format!("line {} of \"{}\": {e}", at + 1, records.display()));
        let record = Record::from_line(line).map_err(bad)?;
        super::writer::check(&record).map_err(|e| bad(e.to_string()))?;
        lines.push(line.to_owned());
    }
    // Files first, so that no record is ever here without what came with it.
    for (kind, of, bytes) in &files {
        match kind {
            Kind::Original => originals::put(&log.root, of, bytes)?,
            Kind::Copy => originals::keep_copy(&log.root, of, bytes)?,
        }
    }
    let counts = log.writer.import(lines)?;
    Ok(Imported { kept: counts.kept, already: counts.already, beside: counts.beside, files: files.len() })
}

#[derive(Clone, Copy)]
enum Kind {
    Original,
    Copy,
}

type Files = Vec<(Kind, String, Vec<u8>)>;

/// Reads an exported folder and checks every byte of it before anything is taken in.
fn whole(from: &Path) -> Result<(PathBuf, Files), LogError> {
    let bad = |what: String| LogError::Import(what);
    let text = disk::read_text(&from.join(MANIFEST), LARGEST_MANIFEST_BYTES)?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|e| bad(format!("{MANIFEST}: {e}")))?;
    if manifest.schema != 1 {
        return Err(bad(format!("{MANIFEST} is of version {}, this program knows 1", manifest.schema)));
    }
    let records = from.join(RECORDS);
    if disk::sha256(&disk::read_bytes(&records, LARGEST_RECORDS_BYTES)?) != manifest.records_sha256 {
        return Err(bad(format!("{RECORDS} is not what the manifest says")));
    }
    let mut files = Vec::new();
    for file in &manifest.files {
        let kind = kind_of(file).ok_or_else(|| bad(format!("\"{}\" is no path of an export", file.path)))?;
        let bytes = disk::read_bytes(&from.join(&file.path), originals::LARGEST_ATTACHMENT_BYTES)?;
        if disk::sha256(&bytes) != file.sha256 {
            return Err(bad(format!("\"{}\" is not what the manifest says", file.path)));
        }
        match kind {
            Kind::Original if file.sha256 != file.of => {
                return Err(bad(format!("\"{}\" is not the original it claims to be", file.path)));
            }
            Kind::Copy if !image::is_safe_copy(&bytes) => {
                return Err(bad(format!("\"{}\" is no safe copy of a photo", file.path)));
            }
            _ => files.push((kind, file.of.clone(), bytes)),
        }
    }
    Ok((records, files))
}

/// Returns the kind of a file by its path; only paths that an export writes have one, so none leads elsewhere.
fn kind_of(file: &ManifestFile) -> Option<Kind> {
    let known = disk::is_sha256(&file.of);
    [
        (format!("originals/{}", file.of), Kind::Original),
        (format!("files/{}", file.of), Kind::Original),
        (format!("copies/{}.jpg", file.of), Kind::Copy),
    ]
    .into_iter()
    .find(|(path, _)| known && *path == file.path)
    .map(|(_, kind)| kind)
}
