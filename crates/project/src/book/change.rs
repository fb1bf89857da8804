//! A change laid over a book: what is offered, left out, moved or failed, in the book's own words.
//!
//! `change.toml` has a `[change]` table of its own (what it is, cost, days, who pays, who must agree, proof) and beside
//! it any part of a book. Tables are laid into the book's tables; a list of named things (layers, openings) is matched by
//! name, what matches is changed and the rest added; any other value replaces the book's. `remove` lists what is left
//! out. Places keep their file, so that a problem in the change is shown in the change.

use crate::reader::{Entry, Fields, Kind, Node, Problems, Table};
use serde::{Deserialize, Serialize};

/// Keys by which things in a list are known.
const NAMES: [&str; 4] = ["name", "material", "id", "activity"];

/// What a change says of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// What it is, one sentence.
    pub about: String,
    /// What it costs or saves, as written.
    pub cost: String,
    /// What it does to the programme, as written.
    pub days: String,
    /// Who pays.
    pub pays: String,
    /// Who must agree.
    pub agree: Vec<String>,
    /// Proof it needs.
    pub proof: Vec<String>,
    /// What is left out.
    pub remove: Vec<String>,
}

/// Lays a change over a book's tree; returns what the change says of itself.
pub(super) fn lay(cx: &mut Problems, book: &mut Table, mut change: Table) -> Change {
    let own = change.entries.iter().position(|e| e.key == "change");
    let told = own.map(|at| change.entries.remove(at));
    let (facts, removed) = told.map_or_else(Default::default, |entry| read(cx, &entry));
    for (path, node) in removed {
        if !remove(book, &path) {
            cx.error(
                "name",
                &node.place,
                format!("the book has nothing called \"{path}\""),
                "name a table of the book, such as penetration.roof hatch or assembly.wall.layers.mineral-wool",
            );
        }
    }
    over(book, change);
    facts
}

type Removed = Vec<(String, Node)>;

fn read(cx: &mut Problems, entry: &Entry) -> (Change, Removed) {
    let Kind::Table(table) = &entry.node.kind else {
        cx.error("type", &entry.node.place, "[change] is a table".to_owned(), "write it like: [change]");
        return Default::default();
    };
    let mut f = Fields::new(table, "[change]", entry.key_place.clone(), "change");
    let text = |f: &mut Fields<'_>, cx: &mut Problems, key: &str| {
        f.text(cx, key).map(|w| w.text).unwrap_or_default()
    };
    let mut facts = Change {
        about: text(&mut f, cx, "about"),
        cost: text(&mut f, cx, "cost"),
        days: text(&mut f, cx, "days"),
        pays: text(&mut f, cx, "pays"),
        agree: words(&mut f, "agree"),
        proof: words(&mut f, "proof"),
        remove: words(&mut f, "remove"),
    };
    let nodes = match f.entry("remove").map(|e| &e.node.kind) {
        Some(Kind::List(items)) => items.clone(),
        _ => Vec::new(),
    };
    f.finish(cx);
    if facts.about.is_empty() {
        facts.about = "a change without a name".to_owned();
    }
    let removed = facts.remove.iter().cloned().zip(nodes).collect();
    (facts, removed)
}

/// Texts of a list; a single text counts as a list of one.
fn words(f: &mut Fields<'_>, key: &str) -> Vec<String> {
    let one = |node: &Node| match &node.kind {
        Kind::Text { value, .. } => Some(value.clone()),
        _ => None,
    };
    match f.entry(key).map(|e| &e.node) {
        Some(Node { kind: Kind::List(items), .. }) => items.iter().filter_map(one).collect(),
        Some(node) => one(node).into_iter().collect(),
        None => Vec::new(),
    }
}

fn over(into: &mut Table, more: Table) {
    for entry in more.entries {
        let Some(have) = into.entries.iter_mut().find(|e| e.key == entry.key) else {
            into.entries.push(entry);
            continue;
        };
        match (&mut have.node.kind, entry.node.kind) {
            (Kind::Table(own), Kind::Table(theirs)) => over(own, theirs),
            (Kind::List(own), Kind::List(theirs)) if theirs.iter().all(|n| name_of(n).is_some()) => {
                for node in theirs {
                    let same = own.iter_mut().find(|n| name_of(n) == name_of(&node));
                    match (same, node) {
                        (Some(Node { kind: Kind::Table(t), .. }), Node { kind: Kind::Table(more), .. }) => {
                            over(t, more)
                        }
                        (_, node) => own.push(node),
                    }
                }
            }
            (kind, theirs) => {
                *kind = theirs;
                have.node.place = entry.node.place;
            }
        }
    }
}

/// The name of a thing in a list.
fn name_of(node: &Node) -> Option<String> {
    let Kind::Table(table) = &node.kind else { return None };
    NAMES.iter().find_map(|key| match table.get(key).map(|e| &e.node.kind) {
        Some(Kind::Text { value, .. }) => Some(value.clone()),
        _ => None,
    })
}

/// Removes the thing at a path; true when it was there. Names may hold dots and blanks: the longest key that fits wins.
fn remove(table: &mut Table, path: &str) -> bool {
    if let Some(at) = table.entries.iter().position(|e| e.key == path) {
        table.entries.remove(at);
        return true;
    }
    for entry in &mut table.entries {
        let Some(rest) = path.strip_prefix(entry.key.as_str()).and_then(|r| r.strip_prefix('.')) else {
            continue;
        };
        let removed = match &mut entry.node.kind {
            Kind::Table(inner) => remove(inner, rest),
            Kind::List(items) => {
                let at = items.iter().position(|n| name_of(n).as_deref() == Some(rest));
                at.map(|at| items.remove(at)).is_some()
            }
            _ => false,
        };
        if removed {
            return true;
        }
    }
    false
}
