//! Proof, holds, register and deviations of the demonstration, and of a copy of it with more in its log.

use super::*;
use crate::log::{Log, body};
use crate::source::Folder;
use building::records::Record;

fn demo() -> (tempfile::TempDir, crate::Project) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    crate::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
    let (project, _) = crate::open(dir.path()).expect("the demonstration");
    (dir, project)
}

/// Adds a record a day before the book's, and opens the project again.
fn with(
    dir: &tempfile::TempDir,
    kind: &str,
    fields: &[(&str, &str)],
    project: &crate::Project,
) -> crate::Project {
    let log = Log::open(&Folder::open(dir.path()).expect("a folder")).expect("opened");
    let typed: Vec<(String, String)> =
        fields.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    let values = &project.building.values;
    let of = |id: &str| values.key(id).map(|k| values.get(k).dimension);
    let body = body(kind, &typed, &of).expect("a body");
    log.append(Record::new(crate::log::fresh_id(), "2025-09-02T08:00:00-05:00", body), Vec::new())
        .expect("kept");
    drop(log);
    crate::open(dir.path()).expect("still sound").0
}

fn state(project: &crate::Project, id: &str) -> ProofState {
    matrix(project).into_iter().find(|r| r.id == id).expect("a row").state
}

#[test]
fn a_wrong_label_is_a_conflict_until_a_right_one_arrives() {
    let (dir, project) = demo();
    // The window on record reads 0.50 where 0.34 was ordered.
    assert_eq!(state(&project, "unit.sun-glass.glazing.g"), ProofState::Conflict);
    let right = [
        ("product", "window E1, exchanged"),
        ("for-item", "opening.E1"),
        ("as-ordered", "yes"),
        ("properties", "unit.sun-glass.glazing.g = 0.34"),
    ];
    let project = with(&dir, "delivery", &right, &project);
    assert_eq!(state(&project, "unit.sun-glass.glazing.g"), ProofState::Have);
}

#[test]
fn the_matrix_is_ordered_and_names_what_is_needed() {
    let (_dir, project) = demo();
    let rows = matrix(&project);
    assert!(rows.len() > 20, "{}", rows.len());
    let rank = |r: &ProofRow| match r.state {
        ProofState::Conflict => 0,
        ProofState::Missing => 1,
        ProofState::Have => 2,
    };
    assert!(rows.windows(2).all(|w| rank(&w[0]) <= rank(&w[1])));
    assert!(rows.iter().all(|r| !r.needed.is_empty() && !r.because.is_empty()));
    assert_eq!(state(&project, "airtightness"), ProofState::Missing);
}

#[test]
fn a_hole_waits_for_permission_and_then_for_its_seal() {
    let (dir, project) = demo();
    let item = "penetration.conduit sleeves near the post line";
    let sleeves = |p: &crate::Project| {
        penetrations(p).into_iter().find(|h| h.name.starts_with("conduit")).expect("there")
    };
    assert!(!sleeves(&project).permitted);
    assert!(holds(&project).iter().any(|h| h.from == item));
    let project = with(
        &dir,
        "decision",
        &[("decision", "the sleeves may stay"), ("by", "designer"), ("touches", item)],
        &project,
    );
    let hole = sleeves(&project);
    assert!(hole.permitted && hole.permission.starts_with("designer"), "{hole:?}");
    assert!(!holds(&project).iter().any(|h| h.from == item));
    let before = hole.checked;
    let looked = [("joint", item), ("method", "smoke"), ("passed", "yes"), ("count", "5")];
    let project = with(&dir, "joint-inspection", &looked, &project);
    assert_eq!((before, sleeves(&project).checked), (0, 5));
}

#[test]
fn what_the_log_says_is_otherwise_is_listed() {
    let (dir, project) = demo();
    let states: Vec<String> = deviations(&project).into_iter().map(|d| d.state).collect();
    assert_eq!(states, ["found", "held", "rejected", "held"]);
    let project =
        with(&dir, "opening-as-built", &[("opening", "N3"), ("set-in", "10 mm"), ("drains", "no")], &project);
    assert_eq!(deviations(&project).len(), 6);
}

#[test]
fn open_questions_hold_what_they_name() {
    let (_dir, project) = demo();
    let question = holds(&project).into_iter().find(|h| h.what.contains("dropped ceilings")).expect("a hold");
    assert_eq!((question.due.as_str(), question.holds.len()), ("2025-09-12", 1));
}
