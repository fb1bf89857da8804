//! How the kinds of record are asked for on a page: their order, and what a field offers while one types.
//!
//! Fields, shapes and words are `project::log`'s, the same as at the command line. Pressure tests have a page of their
//! own.

use project::log::{Field, Shape, fields, kind_words};
use sheets::sheet::where_we_stand::capital;

/// Every kind with a form, the ones written most often first.
pub const KINDS: [&str; 20] = [
    "photo",
    "delivery",
    "note",
    "joint-inspection",
    "leak-found",
    "barrier-damage",
    "defect",
    "question",
    "decision",
    "substitution",
    "moisture-reading",
    "flow-reading",
    "insulation-density",
    "opened-up",
    "opening-as-built",
    "pressure-log",
    "meter-reading",
    "commissioning-setting",
    "official-inspection",
    "sign-off",
];

/// Returns the fields of a kind that has a form; what only a program fills in (hashes, ids) is left out.
pub fn form(kind: &str) -> Option<Vec<&'static Field>> {
    let asked = |f: &&Field| !["hash", "file", "found-in"].contains(&f.key);
    KINDS.contains(&kind).then(|| fields(kind).unwrap_or_default().iter().filter(asked).collect())
}

/// Returns a kind's name on the page.
pub fn name(kind: &str) -> String {
    capital(&kind_words(kind))
}

/// Says whether a field takes a plan item; the page offers those of the book.
pub fn takes_item(key: &str) -> bool {
    ["for-item", "joint", "at", "item", "opening", "proves"].contains(&key)
}

/// Says whether a field wants several lines.
pub fn is_long(field: &Field) -> bool {
    let words = ["text", "what", "question", "answer", "decision", "reason", "found", "reservation"];
    matches!(field.shape, Shape::List | Shape::Properties) || words.contains(&field.key)
}

/// Words that a field offers; others may be written.
pub fn offers(kind: &str, key: &str) -> &'static [&'static str] {
    match (kind, key) {
        ("joint-inspection", "method") => &["seen", "touched", "smoke", "fan running"],
        ("leak-found", "size") => &["hair", "pencil", "finger", "hand"],
        ("leak-found", "method") => &["hand", "smoke", "infrared", "sound", "by difference"],
        ("leak-found", "leads-to") => &["outdoors", "neighbour", "not known"],
        ("barrier-damage", "state") => &["found", "repaired", "re-tested"],
        ("defect", "weight") => &["must", "should", "may"],
        ("moisture-reading", "method") => &["pins", "probe", "weighed"],
        ("insulation-density", "method") => &["cut out and weighed", "counted bags", "probe"],
        ("meter-reading", "carrier") => &["electricity", "gas", "water"],
        ("official-inspection", "state") => &["booked", "passed", "failed", "corrections due"],
        _ => &[],
    }
}

/// Figures and words without which a record of this kind says nothing.
pub fn is_needed(kind: &str, key: &str) -> bool {
    matches!(
        (kind, key),
        ("flow-reading", "flow")
            | ("moisture-reading", "moisture")
            | ("insulation-density", "density")
            | ("meter-reading", "reading")
            | ("note", "text")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use building::records::Body;

    #[test]
    fn every_kind_of_the_log_has_a_form_or_a_page() {
        for kind in Body::KINDS {
            assert!(KINDS.contains(kind) || ["pressure-test", "logger-file"].contains(kind), "{kind}");
        }
        for kind in KINDS {
            assert!(Body::KINDS.contains(&kind), "{kind}");
            assert!(form(kind).is_some_and(|f| !f.is_empty()), "{kind}");
        }
    }

    #[test]
    fn what_is_offered_and_needed_belongs_to_a_field() {
        for kind in KINDS {
            let keys: Vec<&str> = form(kind).expect("a form").iter().map(|f| f.key).collect();
            for key in ["flow", "moisture", "density", "reading", "text"] {
                assert!(!is_needed(kind, key) || keys.contains(&key), "{kind}.{key}");
            }
            for key in ["method", "size", "leads-to", "state", "weight", "carrier"] {
                assert!(offers(kind, key).is_empty() || keys.contains(&key), "{kind}.{key}");
            }
        }
    }
}
