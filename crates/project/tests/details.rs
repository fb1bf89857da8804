//! The joints of the examples are worked out, kept, and counted by the year.

use project::demo::{Example, MUSIC_SCHOOL, NARROW_HOUSE};

fn opened(example: &Example) -> (tempfile::TempDir, project::Project) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    example.write(dir.path()).expect("written");
    let (project, _) = project::open(dir.path()).expect("a sound book");
    (dir, project)
}

#[test]
fn every_joint_to_outdoors_of_the_school_is_worked_out() {
    let (_dir, p) = opened(&MUSIC_SCHOOL);
    for joint in &p.details.joints {
        let w = joint.worked.as_ref().unwrap_or_else(|why| panic!("{}: {why}", joint.planned.title));
        assert!((0.3..1.0).contains(&w.factor), "{}: {w:?}", joint.planned.title);
        assert!(w.inside.abs() < 0.6 && w.residual < 1e-8, "{}: {w:?}", joint.planned.title);
        assert!(joint.counted.is_some(), "{}", joint.planned.title);
    }
    // Installation is stated in the book and stays; the corner is not.
    let find = |what: &str| p.details.joints.iter().find(|j| j.planned.title.contains(what)).expect("there");
    assert!(find("head, jamb and sill in upper-wall").stated);
    let corner = find("corner of upper-wall");
    assert!(!corner.stated && (corner.extent - 14.4).abs() < 0.1);
    let key = p.building.junctions[corner.planned.junctions[0]].psi.expect("stated by the detail");
    assert_eq!(p.building.values.get(key).source.to_string(), "worked out, corner of upper-wall");
    // Two kinds of beam end, eighteen of each.
    let points: Vec<f64> = p.details.joints.iter().filter(|j| j.is_point()).map(|j| j.extent).collect();
    assert_eq!(points, [18.0, 18.0]);
    assert!(p.details.coldest().is_some());
}

#[test]
fn kept_details_are_the_same_and_a_sloped_roof_has_eaves_and_a_ridge() {
    let (dir, first) = opened(&NARROW_HOUSE);
    for what in ["eaves of street-wall and roof", "ridge of roof", "head, jamb and sill in street-wall"] {
        let joint = first.details.joints.iter().find(|j| j.planned.title == what).expect(what);
        assert!(joint.worked.is_ok() && !joint.stated, "{what}: {:?}", joint.worked);
    }
    let (again, _) = project::open(dir.path()).expect("a sound book");
    let results = |p: &project::Project| {
        p.details
            .joints
            .iter()
            .map(|j| (j.planned.title.clone(), j.worked.clone(), j.counted))
            .collect::<Vec<_>>()
    };
    assert_eq!(results(&first), results(&again));
    assert!(again.details.notices.is_empty());
}
