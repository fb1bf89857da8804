//! The two invented examples inside the program.

use std::io;
use std::path::Path;

/// One file of an example.
pub struct File {
    /// Path inside its folder.
    pub path: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// An example project.
pub struct Example {
    /// Folder it is written to unless told otherwise.
    pub folder: &'static str,
    /// Its files, the book first.
    pub files: &'static [File],
}

/// The music school over a pottery: the main job, whole.
pub const MUSIC_SCHOOL: Example = Example {
    folder: "alder-ford",
    files: &[
        File { path: "building.toml", text: include_str!("../demo/alder-ford/building.toml") },
        File { path: "works.csv", text: include_str!("../demo/alder-ford/works.csv") },
        File { path: "log/records.jsonl", text: include_str!("../demo/alder-ford/log/records.jsonl") },
    ],
};

/// The house between two others: the everyday job.
pub const NARROW_HOUSE: Example = Example {
    folder: "narrow-house",
    files: &[File { path: "building.toml", text: include_str!("../demo/narrow-house/building.toml") }],
};

/// What writing an example did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Written {
    /// All files are new.
    New,
    /// All files were there, unchanged.
    Same,
    /// Some files were there with other content; they were left alone.
    Kept,
}

impl Example {
    /// Writes the example into a folder. A file that is there with other content is left alone.
    ///
    /// # Errors
    /// When the folder cannot be made or a file not written.
    pub fn write(&self, folder: &Path) -> io::Result<Written> {
        let mut outcome = Written::Same;
        for file in self.files {
            let path = folder.join(file.path);
            match std::fs::read_to_string(&path) {
                Ok(text) if text == file.text => {}
                Ok(_) => outcome = Written::Kept,
                Err(e) if e.kind() == io::ErrorKind::NotFound => {
                    if let Some(parent) = path.parent() {
                        std::fs::create_dir_all(parent)?;
                    }
                    std::fs::write(&path, file.text)?;
                    if outcome == Written::Same {
                        outcome = Written::New;
                    }
                }
                Err(e) => return Err(e),
            }
        }
        Ok(outcome)
    }
}
