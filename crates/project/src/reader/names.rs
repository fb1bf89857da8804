//! Names that may be referred to, and the nearest of them to a slip of the pen.

use crate::source::Place;
use std::collections::BTreeMap;

/// Returns the candidate most like `word`, if any is like enough to be meant.
///
/// Likeness is by edits against the longer length; a contained word counts as like.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = fold(word);
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let other = fold(candidate);
        let longest = plain.chars().count().max(other.chars().count()).max(1) as f64;
        let edits = strsim::damerau_levenshtein(&plain, &other) as f64;
        let mut score = 1.0 - edits / longest;
        let long_enough = plain.chars().count() >= 4;
        if long_enough && (other.contains(&plain) || (other.len() >= 4 && plain.contains(&other))) {
            score = score.max(0.7);
        }
        if score >= 0.55 && best.is_none_or(|(s, _)| score > s) {
            best = Some((score, candidate));
        }
    }
    best.map(|(_, name)| name)
}

/// Makes case, blanks and dashes not count.
fn fold(word: &str) -> String {
    word.chars()
        .filter(|c| !matches!(c, ' ' | '-' | '_' | ','))
        .flat_map(char::to_lowercase)
        .take(80)
        .collect()
}

/// The names of one kind of thing defined in the book, with their places.
#[derive(Clone, Debug, Default)]
pub struct Names {
    map: BTreeMap<String, Place>,
}

impl Names {
    /// Adds a name; returns the place of the earlier one when the name is taken.
    pub fn add(&mut self, name: &str, place: &Place) -> Option<&Place> {
        if self.map.contains_key(name) {
            return self.map.get(name);
        }
        self.map.insert(name.to_owned(), place.clone());
        None
    }

    /// Returns where a name is defined.
    pub fn place(&self, name: &str) -> Option<&Place> {
        self.map.get(name)
    }

    /// Says whether the name is defined.
    pub fn contains(&self, name: &str) -> bool {
        self.map.contains_key(name)
    }

    /// Returns the names in order.
    pub fn iter(&self) -> impl Iterator<Item = &str> {
        self.map.keys().map(String::as_str)
    }

    /// Says whether there are none.
    pub fn is_empty(&self) -> bool {
        self.map.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_what_was_meant_and_nothing_far_off() {
        let names = ["dense-cellulose", "wood-fibre", "soft-brick"];
        assert_eq!(nearest("dens-cellulose", names), Some("dense-cellulose"));
        assert_eq!(nearest("Dense Cellulose", names), Some("dense-cellulose"));
        assert_eq!(nearest("brick", names), Some("soft-brick"));
        assert_eq!(nearest("granite", names), None);
        assert_eq!(nearest("", names), None);
    }
}
