//! The files of a project folder, read with care.
//!
//! A [`Folder`] opens files only inside itself: absolute paths, `..` that climbs out and symbolic links that lead
//! elsewhere are refused before a byte is read. Sizes are checked before reading. [`Sources`] keeps each text, so
//! that a [`Place`] (file and byte range) can be shown as line, column and snippet.
//!
//! Not here: what the text means ([`crate::reader`]), how a problem is printed ([`crate::diagnostic`]).

use crate::diagnostic::{Diagnostic, Severity};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// Largest text of a book or list, bytes. A book of a hundred rooms is under 100 kB.
pub const BOOK_LIMIT_BYTES: u64 = 4 << 20;
/// Largest weather file, bytes. A year at one-minute steps with thirty columns stays below it.
pub const WEATHER_LIMIT_BYTES: u64 = 128 << 20;

/// A file among the [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(u32);

/// A byte range of a file.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The file.
    pub file: FileId,
    /// Bytes of its text.
    pub span: Range<usize>,
}

impl Place {
    /// Returns the place of that range.
    pub fn new(file: FileId, span: Range<usize>) -> Self {
        Self { file, span }
    }

    /// Returns the order in which its file was read.
    pub(crate) fn file_index(&self) -> u32 {
        self.file.0
    }
}

/// One text, with its name as the user knows it.
#[derive(Clone, Debug)]
pub struct Source {
    name: String,
    text: String,
    line_starts: Vec<usize>,
}

impl Source {
    fn new(name: String, text: String) -> Self {
        let mut line_starts = vec![0];
        line_starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        Self { name, text, line_starts }
    }

    /// Returns the name: the path inside the project folder, with `/`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Returns the text, without a byte order mark.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Returns line and column (both from 1; columns count characters) of a byte offset.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let offset = self.floor_boundary(offset);
        let line = self.line_starts.partition_point(|s| *s <= offset);
        let start = self.line_starts[line - 1];
        (line, self.text[start..offset].chars().count() + 1)
    }

    /// Returns how many lines there are.
    pub fn lines(&self) -> usize {
        self.line_starts.len()
    }

    /// Returns the byte range of a line (from 1), without its line end.
    pub fn line_range(&self, line: usize) -> Range<usize> {
        let start = self.line_starts[line - 1];
        let end = self.line_starts.get(line).map_or(self.text.len(), |e| e - 1);
        start..start + self.text[start..end].trim_end_matches('\r').len()
    }

    /// Returns the largest character boundary at or before `offset`.
    fn floor_boundary(&self, offset: usize) -> usize {
        let mut at = offset.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }
}

/// Every text read so far.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<Source>,
}

impl Sources {
    /// Adds a text and returns its id. A leading byte order mark is dropped.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let mut text: String = text.into();
        if text.starts_with('\u{feff}') {
            text.drain(..'\u{feff}'.len_utf8());
        }
        self.files.push(Source::new(name.into(), text));
        // A project of four thousand million files cannot be opened, so the count fits.
        FileId((self.files.len() - 1) as u32)
    }

    /// Returns the text of that id.
    pub fn get(&self, id: FileId) -> &Source {
        &self.files[id.0 as usize]
    }

    /// Returns every text, in the order read.
    pub fn iter(&self) -> impl Iterator<Item = &Source> {
        self.files.iter()
    }

    /// Returns the id of a file already read, by name.
    pub fn find(&self, name: &str) -> Option<FileId> {
        self.files.iter().position(|f| f.name == name).map(|i| FileId(i as u32))
    }

    /// Returns `file:line` of a place, as written in hints.
    pub fn file_line(&self, place: &Place) -> String {
        let source = self.get(place.file);
        format!("{}:{}", source.name, source.line_column(place.span.start).0)
    }
}

/// A project folder.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
    /// The book as it stands in an editor, not saved yet; read instead of the file.
    unsaved: Option<Arc<str>>,
}

/// Why a file could not be taken in; made into a [`Diagnostic`] by [`FileProblem::diagnose`].
#[derive(Clone, Debug, PartialEq)]
pub enum FileProblem {
    /// Nothing there.
    Missing,
    /// A directory, device or pipe.
    NotAFile,
    /// Leads out of the folder.
    Outside,
    /// The path is absolute.
    Absolute,
    /// Larger than allowed, bytes.
    TooLarge {
        /// Its size.
        size: u64,
        /// What is allowed.
        limit: u64,
    },
    /// Not UTF-8, with the first bad byte.
    NotUtf8 {
        /// Offset of the first bad byte, from 0.
        byte: usize,
        /// Its line, from 1.
        line: usize,
        /// Its column, from 1.
        column: usize,
        /// UTF-16 is the usual cause: true when the text starts with its mark.
        utf16: bool,
    },
    /// The system said no.
    System(String),
}

impl Folder {
    /// Opens a folder that holds a `building.toml`, or the folder of a book given by its own path.
    ///
    /// # Errors
    /// When the folder does not exist or holds no book.
    pub fn open(path: &Path) -> Result<Self, Box<Diagnostic>> {
        let shown = path.display();
        let fail = |message: String, help: &str| {
            Box::new(Diagnostic::new(Severity::Error, "file", message).with_help(help))
        };
        if !path.exists() {
            return Err(fail(
                format!("there is no folder \"{shown}\""),
                "name the folder that holds building.toml, or start one with: windtight new FOLDER",
            ));
        }
        let root = if path.is_file() { path.parent().unwrap_or(Path::new(".")) } else { path };
        let root = if root.as_os_str().is_empty() { Path::new(".") } else { root };
        let root = root
            .canonicalize()
            .map_err(|e| fail(format!("\"{shown}\" cannot be opened: {e}"), "check its rights"))?;
        if !root.join("building.toml").exists() {
            return Err(fail(
                format!("\"{shown}\" holds no building.toml"),
                "start one with: windtight new FOLDER, or see a whole one with: windtight demo",
            ));
        }
        Ok(Self { root, unsaved: None })
    }

    /// Returns the same folder with a book that is not saved yet in place of its file.
    #[must_use]
    pub fn with_unsaved_book(&self, text: &str) -> Self {
        Self { root: self.root.clone(), unsaved: Some(text.into()) }
    }

    /// Returns the folder's own path, resolved.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Returns the folder's own name.
    pub fn name(&self) -> String {
        self.root.file_name().map_or_else(|| "project".to_owned(), |n| n.to_string_lossy().into_owned())
    }

    /// Resolves a path written in the book to a regular file inside the folder.
    ///
    /// Backslashes count as separators, so that a book written on one system opens on another.
    ///
    /// # Errors
    /// [`FileProblem`] for a path that is absolute, leaves the folder, or names no regular file.
    pub fn resolve(&self, relative: &str) -> Result<PathBuf, FileProblem> {
        let relative = relative.replace('\\', "/");
        let path = Path::new(&relative);
        if path.is_absolute() || relative.as_bytes().get(1) == Some(&b':') {
            return Err(FileProblem::Absolute);
        }
        let mut depth = 0_i32;
        for part in path.components() {
            depth += match part {
                Component::Normal(_) => 1,
                Component::ParentDir => -1,
                _ => 0,
            };
            if depth < 0 {
                return Err(FileProblem::Outside);
            }
        }
        let full = self.root.join(path);
        let real = match full.canonicalize() {
            Ok(real) => real,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Err(FileProblem::Missing),
            Err(e) => return Err(FileProblem::System(e.to_string())),
        };
        if !real.starts_with(&self.root) {
            return Err(FileProblem::Outside);
        }
        if !real.is_file() {
            return Err(FileProblem::NotAFile);
        }
        Ok(real)
    }

    /// Reads a text inside the folder, refusing it by size before reading.
    ///
    /// # Errors
    /// As [`Folder::resolve`], and for a file too large or not UTF-8.
    pub fn read_text(&self, relative: &str, limit: u64) -> Result<String, FileProblem> {
        if let Some(text) = self.unsaved.as_ref().filter(|_| relative == "building.toml") {
            let size = text.len() as u64;
            return if size > limit {
                Err(FileProblem::TooLarge { size, limit })
            } else {
                Ok(text.to_string())
            };
        }
        let path = self.resolve(relative)?;
        let size = std::fs::metadata(&path).map_err(|e| FileProblem::System(e.to_string()))?.len();
        if size > limit {
            return Err(FileProblem::TooLarge { size, limit });
        }
        let bytes = std::fs::read(&path).map_err(|e| FileProblem::System(e.to_string()))?;
        decode(bytes)
    }
}

/// Takes bytes as UTF-8 text.
///
/// # Errors
/// [`FileProblem::NotUtf8`] with the place of the first bad byte.
pub fn decode(bytes: Vec<u8>) -> Result<String, FileProblem> {
    let utf16 = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    String::from_utf8(bytes).map_err(|e| {
        let byte = e.utf8_error().valid_up_to();
        let good = String::from_utf8_lossy(&e.as_bytes()[..byte]).into_owned();
        let line = good.matches('\n').count() + 1;
        let column = good.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1;
        FileProblem::NotUtf8 { byte, line, column, utf16 }
    })
}

impl FileProblem {
    /// Says it to the user: `name` is the path as written, `at` where it was asked for (none for the book itself).
    pub fn diagnose(&self, name: &str, at: Option<Place>) -> Diagnostic {
        let (code, message, help) = self.words(name);
        let mut d = Diagnostic::new(Severity::Error, code, message).with_help(help);
        d = match (at, self) {
            (Some(place), _) => d.at(place),
            (None, Self::NotUtf8 { line, column, .. }) => d.in_file(name, *line, *column),
            (None, _) => d.in_file(name, 0, 0),
        };
        d
    }

    fn words(&self, name: &str) -> (&'static str, String, String) {
        match self {
            Self::Missing => (
                "file",
                format!("there is no file \"{name}\" in the project folder"),
                "check the spelling; upper and lower case count".to_owned(),
            ),
            Self::NotAFile => (
                "file",
                format!("\"{name}\" is not a plain file"),
                "name a file, not a folder or a device".to_owned(),
            ),
            Self::Outside => (
                "file",
                format!("\"{name}\" lies outside the project folder"),
                "a project holds all its files, so that it can be moved and kept whole: copy the file into the folder"
                    .to_owned(),
            ),
            Self::Absolute => (
                "file",
                format!("\"{name}\" is an absolute path"),
                "write the path as seen from building.toml, such as \"climate/year.csv\"".to_owned(),
            ),
            Self::TooLarge { size, limit } => (
                "file",
                format!("\"{name}\" is {} and was not read", megabytes(*size)),
                format!("files of this kind may have up to {}; is it the right file?", megabytes(*limit)),
            ),
            Self::NotUtf8 { byte, line, column, utf16 } => (
                "encoding",
                format!("\"{name}\" is not UTF-8 text: byte {byte} (line {line}, column {column})"),
                if *utf16 {
                    "it looks like UTF-16: save it again as UTF-8".to_owned()
                } else {
                    "save it again as UTF-8; signs like ° ² · ± are the usual cause".to_owned()
                },
            ),
            Self::System(reason) => {
                ("file", format!("\"{name}\" cannot be read: {reason}"), "check its rights and the disk".to_owned())
            }
        }
    }
}

/// Returns a size in MB with sensible digits.
fn megabytes(bytes: u64) -> String {
    let mb = bytes as f64 / 1e6;
    if mb < 10.0 { format!("{mb:.1} MB") } else { format!("{mb:.0} MB") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> (tempfile::TempDir, Folder) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(dir.path().join("building.toml"), "x = 1\n").expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        (dir, folder)
    }

    #[test]
    fn lines_and_columns_count_characters_and_survive_crlf() {
        let mut sources = Sources::default();
        let id = sources.add("b", "\u{feff}a = 1\r\nλ = 2\r\n\r\nend");
        let s = sources.get(id);
        assert_eq!(s.line_column(0), (1, 1));
        let two = s.text().find('2').expect("there");
        assert_eq!(s.line_column(two), (2, 5));
        assert_eq!(&s.text()[s.line_range(2)], "λ = 2");
        assert_eq!(&s.text()[s.line_range(3)], "");
        assert_eq!(&s.text()[s.line_range(4)], "end");
        assert_eq!(s.line_column(9999).0, 4);
    }

    #[test]
    fn paths_stay_inside() {
        let (dir, folder) = folder();
        assert_eq!(folder.resolve("../x.toml"), Err(FileProblem::Outside));
        assert_eq!(folder.resolve("a/../../x.toml"), Err(FileProblem::Outside));
        assert_eq!(folder.resolve("/etc/hostname"), Err(FileProblem::Absolute));
        assert_eq!(folder.resolve("C:\\x.toml"), Err(FileProblem::Absolute));
        assert_eq!(folder.resolve("nowhere.toml"), Err(FileProblem::Missing));
        std::fs::create_dir(dir.path().join("climate")).expect("made");
        std::fs::write(dir.path().join("climate/y.csv"), "").expect("written");
        assert_eq!(folder.resolve("climate"), Err(FileProblem::NotAFile));
        assert!(folder.resolve("climate\\y.csv").is_ok());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_out_of_the_folder_is_refused() {
        let (dir, folder) = folder();
        let other = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(other.path().join("w.toml"), "").expect("written");
        std::os::unix::fs::symlink(other.path().join("w.toml"), dir.path().join("w.toml")).expect("linked");
        assert_eq!(folder.resolve("w.toml"), Err(FileProblem::Outside));
    }

    #[test]
    fn a_huge_file_is_refused_by_size() {
        let (dir, folder) = folder();
        let file = std::fs::File::create(dir.path().join("big.toml")).expect("made");
        file.set_len(200_000_000).expect("sparse");
        let refused = folder.read_text("big.toml", BOOK_LIMIT_BYTES);
        assert_eq!(refused, Err(FileProblem::TooLarge { size: 200_000_000, limit: BOOK_LIMIT_BYTES }));
    }

    #[test]
    fn the_first_bad_byte_is_named() {
        let bad = decode(b"a = 1\nb = \"\xe9\"".to_vec());
        assert_eq!(bad, Err(FileProblem::NotUtf8 { byte: 11, line: 2, column: 6, utf16: false }));
    }
}
