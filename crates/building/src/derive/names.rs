//! Finding things by the builder's names, with the nearest when there is none.

use super::Derivation;

/// Returns the nearest of some names, when it is near enough to be meant.
pub(super) fn nearest<'a>(wanted: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = wanted.to_lowercase();
    let scored = names.into_iter().map(|name| (strsim::jaro_winkler(&wanted, &name.to_lowercase()), name));
    // Of equals the first wins, so that the answer does not depend on how sorting treats ties.
    let best = scored.fold(None::<(f64, &str)>, |best, it| match best {
        Some(b) if b.0 >= it.0 => Some(b),
        _ => Some(it),
    });
    best.filter(|(score, _)| *score > 0.75).map(|(_, name)| name)
}

/// "did you mean ...", or the names there are.
pub(super) fn help<'a>(wanted: &str, names: impl IntoIterator<Item = &'a str> + Clone) -> String {
    if let Some(name) = nearest(wanted, names.clone()) {
        return format!("did you mean \"{name}\"?");
    }
    let all: Vec<&str> = names.into_iter().collect();
    if all.is_empty() { "none is defined yet".to_owned() } else { format!("there are: {}", all.join(", ")) }
}

impl Derivation<'_> {
    /// Finds a name in a list, or reports it.
    pub(super) fn find(&mut self, what: &str, wanted: &str, names: &[&str], item: &str) -> Option<usize> {
        let found = names.iter().position(|name| *name == wanted);
        if found.is_none() {
            let help = help(wanted, names.iter().copied());
            self.error("name", item, format!("no {what} called \"{wanted}\""), help);
        }
        found
    }
}
