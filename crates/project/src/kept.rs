//! A standing worked out once and kept until its inputs change.

use crate::cache::{Found, Inputs, Key, get, put};
use crate::chances;
use crate::check::Project;
use crate::standing::{Standing, Years, standing};

/// Said where loads and rooms were left aside.
const MACHINES_ASIDE: &str = "Loads, rooms left cold or hot and places of the water heater are left aside here: windtight size works them out.";

/// How much of a standing is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// One building at what its book states, without the site log's evidence.
    Nominal,
    /// Chances too.
    Chances(chances::Asked),
}

impl Asked {
    fn key(self, project: &Project) -> Key {
        let mut inputs = Inputs::new();
        inputs.add("project", project.inputs.text().as_bytes());
        match self {
            Self::Nominal => inputs.add("nominal", &[]),
            Self::Chances(asked) => {
                inputs.add("samples", &asked.samples.to_le_bytes());
                inputs.add("seed", &asked.seed.to_le_bytes());
            }
        }
        inputs.key()
    }
}

/// Returns the standing, from the cache when the inputs are the same, and a notice when the cache could not be used.
///
/// A kept result that cannot be read back is worked out again; deleting the cache changes no result. `first` is called
/// with the standing at its best estimates before chances are worked out anew.
pub fn standing_kept(
    project: &Project,
    asked: Asked,
    first: impl FnOnce(&Standing),
) -> (Standing, Option<String>) {
    let (mut standing, notice) = kept(project, asked, first);
    // Moisture has a cache of its own and is only shown here: it may have been run after this standing was kept.
    crate::dry::add_to(&mut standing, project);
    (standing, notice)
}

fn kept(project: &Project, asked: Asked, first: impl FnOnce(&Standing)) -> (Standing, Option<String>) {
    let key = asked.key(project);
    let mut notice = match get(&project.folder, &key) {
        Found::Kept(text) => match serde_json::from_str::<Standing>(&text) {
            Ok(kept) if kept.schema == crate::standing::SCHEMA => return (kept, None),
            _ => Some("a kept result was of another kind; it was worked out again".to_owned()),
        },
        Found::Spoiled(why) => Some(why),
        Found::Nothing => None,
    };
    let fresh = match asked {
        Asked::Nominal => {
            let mut nominal = standing(project, &Years::as_stated(project));
            nominal.notices.push(MACHINES_ASIDE.to_owned());
            nominal
        }
        Asked::Chances(asked) => with_chances(project, asked, first),
    };
    match serde_json::to_string(&fresh) {
        Ok(text) => notice = put(&project.folder, &key, &text).or(notice),
        Err(error) => notice = Some(format!("the result could not be kept for next time ({error})")),
    }
    (fresh, notice)
}

/// The whole answer; `first` hears the years alone, before machines and chances, which take longer.
fn with_chances(project: &Project, asked: chances::Asked, first: impl FnOnce(&Standing)) -> Standing {
    let years = Years::without_machines(project);
    first(&standing(project, &years));
    let years = years.with_machines(project);
    let mut fresh = standing(project, &years);
    match chances::work_out(project, &years, asked) {
        Ok(found) => chances::tell(project, &mut fresh, &found),
        Err(why) => fresh.notices.push(format!("Chances are not known: {why}.")),
    }
    fresh
}
