//! The list into which readers put what they find.

use crate::diagnostic::Diagnostic;
use crate::source::{Place, Sources};
use std::collections::BTreeMap;

/// Problems found so far, with the texts and the places of everything read.
#[derive(Clone, Debug, Default)]
pub struct Problems {
    /// The texts.
    pub sources: Sources,
    list: Vec<Diagnostic>,
    places: BTreeMap<String, Place>,
    /// True when a text had syntax errors: what seems missing may only be unreadable.
    pub recovering: bool,
}

impl Problems {
    /// Adds a problem. While recovering from a syntax error, what merely seems missing is not said.
    pub fn add(&mut self, d: Diagnostic) {
        if self.recovering && matches!(d.code, "missing" | "name") {
            return;
        }
        if self.recovering && d.code != "syntax" && self.shares_a_line_with_syntax(&d) {
            return;
        }
        self.list.push(d);
    }

    fn shares_a_line_with_syntax(&self, d: &Diagnostic) -> bool {
        let line = |d: &Diagnostic| {
            d.place().map(|p| (p.file, self.sources.get(p.file).line_column(p.span.start).0))
        };
        let at = line(d);
        at.is_some() && self.list.iter().any(|e| e.code == "syntax" && line(e) == at)
    }

    /// Adds an error at a place.
    pub fn error(
        &mut self,
        code: &'static str,
        place: &Place,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.add(Diagnostic::error(code, place, message).with_help(help));
    }

    /// Adds a warning at a place.
    pub fn warning(
        &mut self,
        code: &'static str,
        place: &Place,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.add(Diagnostic::warning(code, place, message).with_help(help));
    }

    /// Remembers where an item of the plan is written, under the path the model will name it by.
    pub fn remember(&mut self, item: impl Into<String>, place: &Place) {
        self.places.entry(item.into()).or_insert_with(|| place.clone());
    }

    /// Returns the place of an item, or of the nearest item around it.
    pub fn place_of(&self, item: &str) -> Option<&Place> {
        let mut path = item;
        loop {
            if let Some(place) = self.places.get(path) {
                return Some(place);
            }
            path = &path[..path.rfind(['.', '['])?];
        }
    }

    /// Returns how many problems there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Says whether there are none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Returns the problems so far.
    pub fn list(&self) -> &[Diagnostic] {
        &self.list
    }

    /// Gives up the list.
    pub fn into_parts(self) -> (Sources, Vec<Diagnostic>, BTreeMap<String, Place>) {
        (self.sources, self.list, self.places)
    }
}
