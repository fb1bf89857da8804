//! The book: `building.toml` and what it includes, read into a [`Plan`].
//!
//! One file a section. Each reads its tables through [`Fields`], states its numbers with place and basis, and notes
//! every problem in [`Problems`]; names are checked when all sections are known. A section that could not be
//! read wholly is *tainted*: the model may still be derived from the rest, so that its problems are said in the
//! same breath, but what only follows from a tainted item is not said.
//!
//! Start at [`read`]. The syntax is described in `docs/book.md`.

mod air;
mod assemblies;
pub mod change;
mod electricity;
mod fabric;
mod include;
mod joints;
mod lists;
mod neighbours;
mod openings;
mod outline;
mod plant;
mod products;
mod project;
mod spaces;
mod storeys;
mod units;
mod usage;
mod ventilation;
mod works;

use crate::reader::{Bounds, Fields, Names, Node, Problems, Quantity, Table};
use crate::source::{FileId, Folder, Place, Sources};
use crate::weather::Choice;
use building::limits::LimitSet;
use building::plan::Plan;
use building::stated::{Basis, Enters, Rating, Source, StateError, Statement, ValueKey};
use quantity::Dimension;
use std::collections::BTreeSet;

/// A book as far as it could be read.
#[derive(Debug)]
pub struct Reading {
    /// The plan; whole only when no problem is an error.
    pub plan: Plan,
    /// The limit sets named, laid over one another; the job's own figures are in the plan.
    pub limits: Option<LimitSet>,
    /// The weather year asked for.
    pub weather: Choice,
    /// Everything found, with texts and places.
    pub problems: Problems,
    /// Items that could not be read wholly, by path.
    pub tainted: BTreeSet<String>,
}

/// Reads the book of a folder with its includes and lists.
pub fn read(folder: &Folder) -> Reading {
    let mut problems = Problems::default();
    let root = include::load(folder, &mut problems);
    let Some(root) = root else {
        return Reading {
            plan: Plan::default(),
            limits: None,
            weather: Choice::default(),
            problems,
            tainted: BTreeSet::new(),
        };
    };
    walk(problems, &root, Some(folder))
}

/// Reads a text as a tree, without includes.
pub(crate) fn tree_of(file: FileId, problems: &mut Problems) -> Table {
    include::load_text(file, problems)
}

/// Reads a folder's book with a change laid over it, and what the change says of itself.
pub fn read_changed(folder: &Folder, name: &str, text: &str) -> (Reading, change::Change) {
    let mut problems = Problems::default();
    let Some(mut root) = include::load(folder, &mut problems) else {
        return (read(folder), change::Change::default());
    };
    let file = problems.sources.add(name, text);
    let table = include::load_text(file, &mut problems);
    let told = change::lay(&mut problems, &mut root, table);
    (walk(problems, &root, Some(folder)), told)
}

/// Reads one text as a whole book, without a folder: for tests, fuzzing and text not saved yet.
pub fn read_text(text: &str) -> Reading {
    let mut problems = Problems::default();
    let file = problems.sources.add("building.toml", text);
    let root = include::load_text(file, &mut problems);
    walk(problems, &root, None)
}

fn walk(problems: Problems, root: &Table, folder: Option<&Folder>) -> Reading {
    let mut book = Book::new(problems, root, folder);
    let mut top = Fields::new(root, "the book", root.place.clone(), "");
    top.has("include");
    project::read(&mut book, &mut top);
    fabric::read(&mut book, &mut top);
    assemblies::read(&mut book, &mut top);
    units::read(&mut book, &mut top);
    neighbours::read(&mut book, &mut top);
    storeys::read(&mut book, &mut top);
    spaces::read(&mut book, &mut top);
    lists::read(&mut book, &mut top, folder);
    works::read(&mut book, &mut top, folder);
    openings::read(&mut book, &mut top);
    products::read(&mut book, &mut top);
    joints::read(&mut book, &mut top);
    usage::read(&mut book, &mut top);
    ventilation::read(&mut book, &mut top);
    plant::read(&mut book, &mut top);
    air::appliances(&mut book, &mut top);
    electricity::read(&mut book, &mut top);
    top.finish(&mut book.cx);
    if root.entries.is_empty() && !book.cx.recovering {
        let file = root.place.file;
        empty(&mut book, file);
    } else {
        spaces::check_some_room(&mut book, root);
    }
    Reading {
        plan: book.plan,
        limits: book.limits,
        weather: book.weather,
        problems: book.cx,
        tainted: book.tainted,
    }
}

fn empty(book: &mut Book<'_>, file: FileId) {
    let place = Place::new(file, 0..0);
    book.cx.error(
        "empty",
        &place,
        "the book is empty",
        "start one with: windtight new FOLDER, or see a whole one with: windtight demo",
    );
}

/// Everything a section needs while it reads.
pub(crate) struct Book<'a> {
    /// Problems and texts.
    pub cx: Problems,
    /// The plan being filled.
    pub plan: Plan,
    /// Names defined anywhere in the book, collected before any section is read.
    pub names: NameSets,
    /// Items not read wholly.
    pub tainted: BTreeSet<String>,
    /// The whole tree.
    pub root: &'a Table,
    /// The folder, when the book lies in one.
    pub folder: Option<&'a Folder>,
    /// The limit sets named, laid over one another.
    pub limits: Option<LimitSet>,
    /// The weather year asked for.
    pub weather: Choice,
}

/// Names by kind.
#[derive(Debug, Default)]
pub(crate) struct NameSets {
    pub materials: Names,
    pub assemblies: Names,
    pub units: Names,
    pub storeys: Names,
    pub spaces: Names,
    pub neighbours: Names,
    pub people: Names,
    pub gatherings: Names,
    pub plant: Names,
    pub products: Names,
}

impl<'a> Book<'a> {
    fn new(cx: Problems, root: &'a Table, folder: Option<&'a Folder>) -> Self {
        let mut names = NameSets::default();
        let sets: [(&str, &mut Names); 10] = [
            ("material", &mut names.materials),
            ("assembly", &mut names.assemblies),
            ("unit", &mut names.units),
            ("storey", &mut names.storeys),
            ("space", &mut names.spaces),
            ("neighbour", &mut names.neighbours),
            ("people", &mut names.people),
            ("gathering", &mut names.gatherings),
            ("plant", &mut names.plant),
            ("product", &mut names.products),
        ];
        for (section, set) in sets {
            for entry in named(root, section) {
                // Names repeated inside one text are syntax errors; across texts the loader has said so.
                let _ = set.add(&entry.key, &entry.key_place);
            }
        }
        for storey in rooms_of_their_own(root) {
            let _ = names.spaces.add(&storey.key, &storey.key_place);
        }
        Self {
            cx,
            plan: Plan::default(),
            names,
            tainted: BTreeSet::new(),
            root,
            folder,
            limits: None,
            weather: Choice::default(),
        }
    }

    /// Marks an item as not read wholly.
    pub fn taint(&mut self, item: &str) {
        self.tainted.insert(item.to_owned());
    }

    /// States a quantity under `id`; a problem with it is noted and `None` returned.
    pub fn state(&mut self, id: String, kind: &'static str, q: &Quantity, how: &How) -> Option<ValueKey> {
        let source = self.source(&q.place);
        self.cx.remember(id.clone(), &q.place);
        let statement = Statement {
            id,
            value: q.value,
            spread: q.spread,
            kind,
            dimension: q.dimension,
            basis: how.basis,
            rating: how.rating.clone(),
            source,
            group: how.group.clone(),
            enters: how.enters,
        };
        match self.plan.values.state(statement) {
            Ok(key) => Some(key),
            Err(StateError::Spread { why, .. }) => {
                self.cx.error(
                    "spread",
                    &q.place,
                    format!("this spread cannot be: {why}"),
                    "see docs/book.md, spreads",
                );
                None
            }
            Err(other) => {
                self.cx.error("duplicate", &q.place, other.to_string(), "give each item a name of its own");
                None
            }
        }
    }

    /// Reads and states an optional quantity of a table, under the table's path and the key.
    pub fn value(&mut self, f: &mut Fields<'_>, key: &str, want: Want, how: &How) -> Option<ValueKey> {
        let before = self.cx.len();
        let q = f.quantity(&mut self.cx, key, want.dimension, want.bounds);
        if self.cx.len() > before {
            self.taint(f.path());
        }
        self.state(format!("{}.{key}", f.path()), want.kind, &q?, how)
    }

    /// Reads and states a quantity that must be there. When it is missing or unreadable a stand-in lets the rest be
    /// read; nothing is run while an error stands.
    pub fn need(&mut self, f: &mut Fields<'_>, key: &str, want: Want, how: &How) -> ValueKey {
        let before = self.cx.len();
        let q = f.need_quantity(&mut self.cx, key, want.dimension, want.bounds);
        let stated = q.and_then(|q| self.state(format!("{}.{key}", f.path()), want.kind, &q, how));
        if self.cx.len() > before {
            self.taint(f.path());
        }
        let id = format!("{}.{key}", f.path());
        stated.unwrap_or_else(|| self.stand_in(&id, want))
    }

    /// States a number that only lets the reading go on after an error.
    pub fn stand_in(&mut self, id: &str, want: Want) -> ValueKey {
        let id = format!("{id}(unread {})", self.plan.values.len());
        let statement = Statement {
            id,
            // A layer of a metre would swallow the rooms; everything else stands one unit.
            value: if want.kind == "thickness" { 0.1 } else { 1.0 },
            spread: None,
            kind: want.kind,
            dimension: want.dimension,
            basis: Basis::Assumed,
            rating: None,
            source: Source::Default("unread".to_owned()),
            group: None,
            enters: Enters::NEITHER,
        };
        // The number in the id makes it unique and the value is finite: stating cannot fail but for an unknown
        // kind, and then the first value stands in.
        self.plan.values.state(statement).unwrap_or(ValueKey(0))
    }

    fn source(&self, place: &Place) -> Source {
        let source = self.cx.sources.get(place.file);
        let (line, _) = source.line_column(place.span.start);
        Source::File { file: source.name().to_owned(), line: u32::try_from(line).unwrap_or(u32::MAX) }
    }

    /// Returns the texts.
    pub fn sources(&self) -> &Sources {
        &self.cx.sources
    }
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Want {
    pub dimension: Dimension,
    pub bounds: Bounds,
    /// Kind in the words of the default spreads.
    pub kind: &'static str,
}

/// Shorthand for [`Want`].
pub(crate) const fn want(dimension: Dimension, bounds: Bounds, kind: &'static str) -> Want {
    Want { dimension, bounds, kind }
}

/// How a value is known.
#[derive(Clone, Debug)]
pub(crate) struct How {
    pub basis: Basis,
    pub rating: Option<Rating>,
    pub group: Option<String>,
    pub enters: Enters,
}

impl How {
    /// Known by this basis, uncertain in use only.
    pub fn by(basis: Basis) -> Self {
        Self { basis, rating: None, group: None, enters: Enters::IN_USE }
    }

    /// Reads `basis`, `rating` and `group` of a table; without a basis `usual` holds.
    pub fn read(cx: &mut Problems, f: &mut Fields<'_>, usual: Basis) -> Self {
        let mut how = Self::by(usual);
        let bases = Basis::ALL.map(|b| (b.to_string(), b));
        let choices: Vec<(&str, Basis)> = bases.iter().map(|(name, b)| (name.as_str(), *b)).collect();
        if let Some(word) = f.text(cx, "basis") {
            let plain = crate::reader::Word { text: word.text.replace('-', " "), place: word.place };
            how.basis = crate::reader::choose(cx, "basis", &plain, &choices).unwrap_or(usual);
        }
        how.rating = f.text(cx, "rating").map(|w| Rating::read(&w.text));
        how.group = f.text(cx, "group").map(|w| w.text);
        how
    }
}

/// Returns the entries of a section keyed by names (`[material.x]`).
pub(crate) fn named<'a>(root: &'a Table, section: &str) -> &'a [crate::reader::Entry] {
    match root.get(section).map(|e| &e.node.kind) {
        Some(crate::reader::Kind::Table(t)) => &t.entries,
        _ => &[],
    }
}

/// Returns the storeys that no space names: each is one room under its own name.
fn rooms_of_their_own(root: &Table) -> Vec<&crate::reader::Entry> {
    let storeys = named(root, "storey");
    let spaces = named(root, "space");
    let listed = root.get("rooms").is_some();
    let named_by = |space: &crate::reader::Entry| match &space.node.kind {
        crate::reader::Kind::Table(t) => match t.get("storey").map(|e| &e.node.kind) {
            Some(crate::reader::Kind::Text { value, .. }) => Some(value.trim().to_owned()),
            _ => None,
        },
        _ => None,
    };
    if listed || (storeys.len() == 1 && !spaces.is_empty()) {
        return Vec::new();
    }
    storeys
        .iter()
        .filter(|s| !spaces.iter().any(|space| named_by(space).as_deref() == Some(&s.key)))
        .collect()
}

/// Opens every table of a section keyed by names; what is not a table is noted.
pub(crate) fn sections<'a>(
    book: &mut Book<'_>,
    top: &mut Fields<'a>,
    section: &str,
) -> Vec<(String, Fields<'a>)> {
    let Some(mut outer) = top.table(&mut book.cx, section) else { return Vec::new() };
    let mut found = Vec::new();
    for entry in outer.entries() {
        let path = format!("{section}.{}", entry.key);
        book.cx.remember(path.clone(), &entry.key_place);
        if let Some(table) = crate::reader::as_table(&mut book.cx, &entry.key, entry) {
            let noun = format!("{section} \"{}\"", entry.key);
            found.push((entry.key.clone(), Fields::new(table, noun, entry.key_place.clone(), path)));
        }
    }
    found
}

/// Opens every table of a list (`[[opening]]`); what is not a table is noted.
pub(crate) fn listed<'a>(
    book: &mut Book<'_>,
    top: &mut Fields<'a>,
    section: &str,
) -> Vec<(&'a Node, &'a Table)> {
    let Some(items) = top.list(&mut book.cx, section) else { return Vec::new() };
    let mut found = Vec::new();
    for item in items {
        match &item.kind {
            crate::reader::Kind::Table(table) => found.push((item, table)),
            other => book.cx.error(
                "type",
                &item.place,
                format!("each {section} is a table, this is {}", other.words()),
                format!("write it under a header [[{section}]]"),
            ),
        }
    }
    found
}
