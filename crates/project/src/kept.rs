//! A standing worked out once and kept until its inputs change.

use crate::cache::{Found, Key, get, put};
use crate::check::Project;
use crate::standing::{Standing, Years, standing};

/// Returns the standing, from the cache when the inputs are the same, and a notice when the cache could not be used.
///
/// A kept result that cannot be read back is worked out again; deleting the cache changes no result.
pub fn standing_kept(project: &Project) -> (Standing, Option<String>) {
    with_moisture(project, kept(project, &project.inputs, Years::run))
}

/// The same at what the book states, without what the site log says of it.
pub fn standing_as_stated_kept(project: &Project) -> (Standing, Option<String>) {
    with_moisture(project, kept(project, &project.inputs.beside("stated"), Years::as_stated))
}

/// Moisture has a cache of its own and is only shown here: it may have been run after this standing was kept.
fn with_moisture(project: &Project, kept: (Standing, Option<String>)) -> (Standing, Option<String>) {
    let (mut standing, notice) = kept;
    crate::dry::add_to(&mut standing, project);
    (standing, notice)
}

fn kept(project: &Project, key: &Key, years: fn(&Project) -> Years) -> (Standing, Option<String>) {
    let mut notice = match get(&project.folder, key) {
        Found::Kept(text) => match serde_json::from_str::<Standing>(&text) {
            Ok(kept) if kept.schema == crate::standing::SCHEMA => return (kept, None),
            _ => Some("a kept result was of another kind; it was worked out again".to_owned()),
        },
        Found::Spoiled(why) => Some(why),
        Found::Nothing => None,
    };
    let fresh = standing(project, &years(project));
    match serde_json::to_string(&fresh) {
        Ok(text) => notice = put(&project.folder, key, &text).or(notice),
        Err(error) => notice = Some(format!("the result could not be kept for next time ({error})")),
    }
    (fresh, notice)
}
