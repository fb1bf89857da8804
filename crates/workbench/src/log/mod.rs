//! The site log on the page: the forms of its kinds, what was filled in, the store behind it.

pub mod filled;
pub mod kinds;

use crate::bench::{Bench, View};
use project::log::{Log, LogError};
use project::source::Folder;
use quantity::Dimension;
use std::collections::BTreeMap;
use std::sync::PoisonError;

impl Bench {
    /// Opens the log for writing at the first record; later ones use the same writer.
    ///
    /// # Errors
    /// [`LogError`]; the next record tries again.
    pub fn log(&self, folder: &Folder) -> Result<Log, LogError> {
        let mut place = self.log.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(log) = place.as_ref() {
            return Ok(log.clone());
        }
        let log = Log::open(folder)?;
        *place = Some(log.clone());
        Ok(log)
    }
}

/// Dimensions of the stated values, by id, as far as the book could be read.
pub fn dimensions(view: &View) -> BTreeMap<String, Dimension> {
    let stated = |good: &crate::bench::Good| {
        good.project.building.values.iter().map(|(_, s)| (s.id.clone(), s.dimension)).collect()
    };
    view.good.as_deref().map(stated).unwrap_or_default()
}

/// Plan items that a record may speak of, and where one may stand: rooms, windows and doors, joints, assemblies.
pub fn items(view: &View) -> Vec<(String, Vec<String>)> {
    let Some(good) = &view.good else { return Vec::new() };
    let b = &good.project.building;
    let mut joints: Vec<String> = Vec::new();
    for junction in &b.junctions {
        let pair = building::continuity::pair(b, junction);
        if !joints.contains(&pair) {
            joints.push(pair);
        }
    }
    joints.sort();
    let under = |prefix: &str, names: Vec<&str>| -> Vec<String> {
        names.into_iter().map(|n| format!("{prefix}.{n}")).collect()
    };
    vec![
        ("Rooms".to_owned(), under("space", b.spaces.iter().map(|s| s.name.as_str()).collect())),
        (
            "Windows and doors".to_owned(),
            under("opening", b.openings.iter().map(|o| o.name.as_str()).collect()),
        ),
        ("Joints".to_owned(), joints),
        (
            "What passes through".to_owned(),
            under("penetration", b.penetrations.iter().map(|p| p.plan.name.as_str()).collect()),
        ),
        ("Assemblies".to_owned(), under("assembly", b.assemblies.iter().map(|a| a.name.as_str()).collect())),
    ]
}
