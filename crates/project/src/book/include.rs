//! `building.toml` and its includes, merged into one tree.

use super::Book;
use crate::diagnostic::Diagnostic;
use crate::reader::{Entry, Kind, Node, Problems, Table, parse};
use crate::source::{BOOK_LIMIT_BYTES, FileId, FileProblem, Folder, Place};

/// Sections whose tables are named by the builder; several texts may add to one.
const SECTIONS: [&str; 16] = [
    "material",
    "assembly",
    "unit",
    "neighbour",
    "storey",
    "space",
    "zone",
    "joint",
    "junction",
    "people",
    "use",
    "gathering",
    "ventilation",
    "plant",
    "solar",
    "limit",
];

/// Loads the book of a folder; `None` when its first text could not be read at all.
pub(super) fn load(folder: &Folder, cx: &mut Problems) -> Option<Table> {
    let text = match folder.read_text("building.toml", BOOK_LIMIT_BYTES) {
        Ok(text) => text,
        Err(problem) => {
            cx.add(problem.diagnose("building.toml", None));
            return None;
        }
    };
    let file = cx.sources.add("building.toml", text);
    let mut loader = Loader { folder, cx, open: vec![("building.toml".to_owned(), None)] };
    Some(loader.text(file))
}

/// Loads a text without a folder: its includes are left alone.
pub(super) fn load_text(file: FileId, cx: &mut Problems) -> Table {
    parse_into(cx, file)
}

fn parse_into(cx: &mut Problems, file: FileId) -> Table {
    let (table, problems) = parse(&cx.sources, file);
    cx.recovering |= !problems.is_empty();
    for problem in problems {
        cx.add(problem);
    }
    table
}

struct Loader<'a> {
    folder: &'a Folder,
    cx: &'a mut Problems,
    /// Texts being read, outermost first, each with the place of the include that named it.
    open: Vec<(String, Option<Place>)>,
}

impl Loader<'_> {
    fn text(&mut self, file: FileId) -> Table {
        let mut table = parse_into(self.cx, file);
        let Some(at) = table.entries.iter().position(|e| e.key == "include") else { return table };
        let entry = table.entries[at].clone();
        for node in self.names(&entry) {
            if let Some(more) = self.include(&node) {
                merge(self.cx, &mut table, more);
            }
        }
        table
    }

    /// Returns the texts named by an include; a single text counts as a list of one.
    fn names(&mut self, entry: &Entry) -> Vec<Node> {
        match &entry.node.kind {
            Kind::Text { .. } => vec![entry.node.clone()],
            Kind::List(items) => items.clone(),
            other => {
                let message = format!("\"include\" is a list of files, this is {}", other.words());
                self.cx.error(
                    "type",
                    &entry.node.place,
                    message,
                    "write it like: include = [\"walls.toml\"]",
                );
                Vec::new()
            }
        }
    }

    fn include(&mut self, node: &Node) -> Option<Table> {
        let word = crate::reader::word(self.cx, "include", node)?;
        let name = word.text.replace('\\', "/").trim_start_matches("./").to_owned();
        if let Some(at) = self.open.iter().position(|(open, _)| *open == name) {
            self.circular(at, &name, node);
            return None;
        }
        if self.cx.sources.find(&name).is_some() {
            self.cx.error("include", &node.place, format!("\"{name}\" is included twice"), "include it once");
            return None;
        }
        let text = match self.folder.read_text(&name, BOOK_LIMIT_BYTES) {
            Ok(text) => text,
            Err(problem) => {
                self.refuse(&problem, &name, node);
                return None;
            }
        };
        let file = self.cx.sources.add(name.clone(), text);
        self.open.push((name, Some(node.place.clone())));
        let table = self.text(file);
        self.open.pop();
        Some(table)
    }

    fn circular(&mut self, from: usize, name: &str, node: &Node) {
        let mut chain: Vec<&str> = self.open[from..].iter().map(|(n, _)| n.as_str()).collect();
        chain.push(name);
        let mut d = Diagnostic::error("include", &node.place, format!("\"{name}\" includes itself"))
            .with_label(chain.join(" → "))
            .with_help("take one of these includes out");
        for (_, place) in self.open[from..].iter().skip(1) {
            if let Some(place) = place {
                d = d.with_related(place.clone(), "on the way");
            }
        }
        self.cx.add(d);
    }

    fn refuse(&mut self, problem: &FileProblem, name: &str, node: &Node) {
        let d = problem.diagnose(name, Some(node.place.clone()));
        self.cx.add(d);
    }
}

/// Adds what another text says: named tables and lists grow, everything else may stand only once.
fn merge(cx: &mut Problems, into: &mut Table, more: Table) {
    for entry in more.entries {
        if entry.key == "include" {
            continue;
        }
        let Some(have) = into.entries.iter_mut().find(|e| e.key == entry.key) else {
            into.entries.push(entry);
            continue;
        };
        match (&mut have.node.kind, entry.node.kind) {
            (Kind::Table(own), Kind::Table(theirs)) if SECTIONS.contains(&entry.key.as_str()) => {
                merge_named(cx, own, theirs);
            }
            (Kind::List(own), Kind::List(theirs)) => own.extend(theirs),
            _ => twice(cx, &entry.key, &entry.key_place, &have.key_place),
        }
    }
}

fn merge_named(cx: &mut Problems, own: &mut Table, theirs: Table) {
    for entry in theirs.entries {
        match own.get(&entry.key) {
            Some(have) => {
                let first = have.key_place.clone();
                twice(cx, &entry.key, &entry.key_place, &first);
            }
            None => own.entries.push(entry),
        }
    }
}

fn twice(cx: &mut Problems, key: &str, place: &Place, first: &Place) {
    let d = Diagnostic::error("duplicate", place, format!("\"{key}\" is given twice"))
        .with_label("again here")
        .with_related(first.clone(), "first here")
        .with_help("keep one of the two");
    cx.add(d);
}

impl Book<'_> {
    /// Notes a name given twice, with both places.
    pub(super) fn given_twice(&mut self, what: &str, name: &str, place: &Place, first: &Place) {
        let d = Diagnostic::error("duplicate", place, format!("{what} \"{name}\" is given twice"))
            .with_label("again here")
            .with_related(first.clone(), "first here")
            .with_help("give each a name of its own");
        self.cx.add(d);
    }
}
