//! The project as it stands now: read again when a file changes, worked out again when a result can have changed.
//!
//! One thread looks at the folder's files every so often, and at once after a save. It reads the book, and when book
//! and log are other than those behind the last results, runs the years and draws the sheets. Pages take the present
//! [`View`] and never wait for a run. While the book has errors, or a run goes on, the last good results stay on the
//! pages, marked as stale.

use crate::access::Access;
use project::diagnostic::{Diagnostic, Report, Severity};
use project::source::{Folder, Sources};
use project::standing::{Standing, Years, standing};
use project::{Project, check};
use sheets::reader::Reader;
use sheets::{Input, Said};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError, RwLock};
use std::time::{Duration, Instant, SystemTime};

/// How often the files are looked at.
const LOOK_EVERY: Duration = Duration::from_millis(800);
/// Files looked at; a project folder has a few dozen.
const MOST_FILES: usize = 2000;
/// How deep below the folder.
const DEPTH: usize = 3;

/// Results that belong together.
#[derive(Debug)]
pub struct Good {
    /// The checked project.
    pub project: Project,
    /// Its simulated years.
    pub years: Years,
    /// Where it stands.
    pub standing: Standing,
    /// What stands on each sheet, in the order of their index.
    pub contents: Vec<String>,
    /// What the title block says.
    pub said: Said,
    /// How long it took to work out.
    pub took: Duration,
}

impl Good {
    /// Works a project out.
    fn work_out(project: Project) -> Self {
        let began = Instant::now();
        let project = project.with_joints();
        let years = Years::run(&project);
        let mut standing = standing(&project, &years);
        project::dry::add_to(&mut standing, &project);
        let moisture = project::dry::at_hand(&project);
        let workings = sheets::workings(&project.building, &project.building.values.nominal());
        let air = project::air::Story::of(&project);
        let input = Input {
            air: Some(&air),
            standing: &standing,
            building: &project.building,
            workings: &workings,
            details: &project.details,
            year: years.real.as_ref().or(years.standard.as_ref()),
            moisture: moisture.as_ref(),
            machines: years.machines.as_ref(),
            revision: project.inputs.text(),
        };
        let contents =
            sheets::contents(&input, reader(&standing)).into_iter().map(maud::Markup::into_string).collect();
        let said = Said::new(&input);
        Self { years, standing, contents, said, took: began.elapsed(), project }
    }
}

/// Returns how the reader of a standing wants figures, with links to workings.
pub fn reader(standing: &Standing) -> Reader {
    Reader { served: true, ..Reader::new(&standing.project.units, &standing.project.words) }
}

/// What pages show.
#[derive(Clone, Debug)]
pub struct View {
    /// Grows with every change of what pages show.
    pub generation: u64,
    /// The folder, when it holds a book.
    pub folder: Option<Folder>,
    /// What reading it found.
    pub report: Arc<Report>,
    /// The last results that could be worked out.
    pub good: Option<Arc<Good>>,
    /// The results before those, for comparison.
    pub before: Option<Arc<Good>>,
    /// True when `good` does not belong to book and log as they are.
    pub stale: bool,
    /// A mistake of this program that ended the last run.
    pub mistake: Option<String>,
    /// Since when a run goes on.
    pub running: Option<Instant>,
}

/// The state behind all pages.
#[derive(Debug)]
pub struct Bench {
    /// The folder as it was named.
    pub root: PathBuf,
    /// The door.
    pub access: Access,
    view: RwLock<Arc<View>>,
    poked: Mutex<bool>,
    bell: Condvar,
    stop: AtomicBool,
    /// What the fan said last, for the Talk page.
    fan: Mutex<Option<String>>,
    /// The site log's writer, from the first record on.
    pub(crate) log: Mutex<Option<project::log::Log>>,
}

impl Bench {
    /// Makes the state of a folder; nothing is read yet.
    pub fn new(root: &Path, access: Access) -> Self {
        let view = View {
            generation: 0,
            folder: None,
            report: Arc::new(Report::new(Sources::default(), Vec::new())),
            good: None,
            before: None,
            stale: false,
            mistake: None,
            running: None,
        };
        Self {
            root: root.to_path_buf(),
            access,
            view: RwLock::new(Arc::new(view)),
            poked: Mutex::new(false),
            bell: Condvar::new(),
            stop: AtomicBool::new(false),
            fan: Mutex::new(None),
            log: Mutex::new(None),
        }
    }

    /// Returns what pages show now.
    pub fn view(&self) -> Arc<View> {
        Arc::clone(&self.view.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// Asks for a look at the files at once.
    pub fn poke(&self) {
        *self.poked.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.bell.notify_all();
    }

    /// Lets watching begin, also after an end.
    pub fn begin(&self) {
        self.stop.store(false, Ordering::SeqCst);
    }

    /// Ends the watching thread.
    pub fn end(&self) {
        self.stop.store(true, Ordering::SeqCst);
        self.poke();
    }

    /// Returns what the fan said last.
    pub fn fan(&self) -> Option<String> {
        self.fan.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Remembers what the fan says, and lets open pages know.
    pub fn set_fan(&self, words: String) {
        let mut fan = self.fan.lock().unwrap_or_else(PoisonError::into_inner);
        if fan.as_ref() != Some(&words) {
            *fan = Some(words);
            drop(fan);
            self.change(|_| {});
        }
    }

    fn change(&self, change: impl FnOnce(&mut View)) {
        let mut place = self.view.write().unwrap_or_else(PoisonError::into_inner);
        let mut view = View::clone(&place);
        change(&mut view);
        view.generation += 1;
        *place = Arc::new(view);
    }

    /// Watches the folder until [`Bench::end`]; for a thread of its own.
    pub fn watch(&self) {
        let mut seen = None;
        while !self.stop.load(Ordering::SeqCst) {
            let files = fingerprint(&self.root);
            if seen.as_ref() != Some(&files) {
                self.read();
                // Reading may have made files of its own (a store's journal); only what comes later is a change.
                seen = Some(files);
            }
            let poked = self.poked.lock().unwrap_or_else(PoisonError::into_inner);
            let (mut poked, _) = self
                .bell
                .wait_timeout_while(poked, LOOK_EVERY, |poked| !*poked)
                .unwrap_or_else(PoisonError::into_inner);
            if std::mem::take(&mut *poked) {
                seen = None;
            }
        }
    }

    /// Reads the folder, and works it out when its results can have changed.
    fn read(&self) {
        let opened = Folder::open(&self.root);
        let (folder, report, project) = match opened {
            Ok(folder) => {
                let checked = guarded(|| check(&folder));
                match checked {
                    Ok(checked) => (Some(folder), checked.report, checked.project),
                    Err(what) => {
                        return self.change(|view| {
                            view.folder = Some(folder);
                            view.stale = view.good.is_some();
                            view.mistake = Some(what);
                        });
                    }
                }
            }
            Err(problem) => (None, Report::new(Sources::default(), vec![*problem]), None),
        };
        let last = self.view().good.clone();
        let fresh = project.filter(|p| last.as_ref().is_none_or(|good| good.project.inputs != p.inputs));
        let errors = report.errors() > 0;
        let must_run = fresh.is_some();
        self.change(|view| {
            view.folder = folder;
            view.report = Arc::new(report);
            view.mistake = None;
            view.stale = view.good.is_some() && (errors || must_run);
            view.running = must_run.then(Instant::now);
        });
        let Some(project) = fresh else { return };
        let worked = guarded(|| Good::work_out(project));
        self.change(|view| {
            view.running = None;
            match worked {
                Ok(good) => {
                    view.before = view.good.take();
                    view.good = Some(Arc::new(good));
                    view.stale = false;
                }
                Err(what) => view.mistake = Some(what),
            }
        });
    }
}

/// Carries a piece of work out; a panic in it becomes a sentence, and the server lives on.
fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).map_err(|payload| {
        let words = payload
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| payload.downcast_ref::<&str>().copied())
            .unwrap_or("no words came with it");
        format!("Windtight made a mistake: {words}. This is not your input's fault; keep the folder and report it.")
    })
}

type Stamp = (PathBuf, u64, Option<SystemTime>);

/// Lists the folder's files with size and time, but for what a project's results never depend on.
fn fingerprint(root: &Path) -> Vec<Stamp> {
    let mut files = Vec::new();
    let root = if root.is_file() { root.parent().unwrap_or(root) } else { root };
    stamps(root, DEPTH, &mut files);
    files.sort();
    files
}

fn stamps(folder: &Path, depth: usize, files: &mut Vec<Stamp>) {
    const NOT_OURS: [&str; 5] = ["originals", "copies", "sheets", "target", "node_modules"];
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        if files.len() >= MOST_FILES || name.starts_with('.') || name.ends_with("-shm") {
            continue;
        }
        let Ok(meta) = entry.metadata() else { continue };
        if meta.is_dir() {
            if depth > 0 && !NOT_OURS.contains(&&*name) {
                stamps(&entry.path(), depth - 1, files);
            }
        } else {
            files.push((entry.path(), meta.len(), meta.modified().ok()));
        }
    }
}

/// Checks a book that is not saved yet, in the place of the saved one.
pub fn check_unsaved(folder: &Folder, text: &str) -> Report {
    match guarded(|| check(&folder.with_unsaved_book(text))) {
        Ok(checked) => checked.report,
        Err(what) => Report::new(Sources::default(), vec![Diagnostic::new(Severity::Error, "mistake", what)]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bench() -> (tempfile::TempDir, Bench) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        project::demo::NARROW_HOUSE.write(dir.path()).expect("written");
        let bench = Bench::new(dir.path(), Access::new(1).expect("random numbers"));
        (dir, bench)
    }

    #[test]
    fn a_broken_book_leaves_the_last_good_results_and_says_they_are_stale() {
        let (dir, bench) = bench();
        bench.read();
        let first = bench.view();
        let good = first.good.clone().expect("worked out");
        assert!(!first.stale && first.running.is_none());
        assert_eq!(good.contents.len(), sheets::sheet::INDEX.len());

        let path = dir.path().join("building.toml");
        let book = std::fs::read_to_string(&path).expect("readable");
        std::fs::write(&path, format!("{book}\nwall = 3\n")).expect("written");
        bench.read();
        let broken = bench.view();
        assert!(broken.stale && broken.report.errors() > 0);
        assert!(Arc::ptr_eq(&good, broken.good.as_ref().expect("kept")));

        std::fs::write(&path, &book).expect("written");
        bench.read();
        let mended = bench.view();
        assert!(!mended.stale);
        // The same inputs: nothing was run again.
        assert!(Arc::ptr_eq(&good, mended.good.as_ref().expect("kept")));
        assert!(mended.generation > broken.generation);
    }

    #[test]
    fn a_folder_without_a_book_is_no_failure() {
        let dir = tempfile::tempdir().expect("a temporary folder");
        let bench = Bench::new(dir.path(), Access::new(1).expect("random numbers"));
        bench.read();
        let view = bench.view();
        assert!(view.folder.is_none() && view.good.is_none() && view.report.errors() == 1);
    }

    #[test]
    fn a_panic_becomes_a_sentence() {
        let said = guarded(|| -> u8 { panic!("out of {}", "plaster") }).expect_err("a sentence");
        assert!(said.contains("out of plaster"));
    }

    #[test]
    fn the_fingerprint_sees_a_change_and_not_the_cache() {
        let (dir, _) = bench();
        let first = fingerprint(dir.path());
        std::fs::create_dir_all(dir.path().join(".windtight/cache")).expect("made");
        std::fs::write(dir.path().join(".windtight/cache/x"), "x").expect("written");
        assert_eq!(fingerprint(dir.path()), first);
        std::fs::write(dir.path().join("rooms.csv"), "x").expect("written");
        assert_ne!(fingerprint(dir.path()), first);
    }
}
