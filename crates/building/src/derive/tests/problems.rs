//! What is wrong with a plan is found, told with its item, and never panics.

use crate::model::Building;
use crate::plan::{LayerMaterial, NeighbourPlan, NeighbourTemperature, Outline, Placement, Plan, Scheduled};
use crate::problem::ModelProblem;
use crate::sample::{self, Maker};
use quantity::Dimension;

/// Derives the school after a change made with a [`Maker`].
fn broken(change: impl FnOnce(&mut Maker)) -> Vec<ModelProblem> {
    let mut maker = Maker { plan: sample::school(), scale: 1.0 };
    change(&mut maker);
    Building::derive(maker.plan).1
}

fn check(problems: &[ModelProblem], code: &str, item: &str, words: &[&str]) {
    let found = problems.iter().find(|p| p.code == code && p.item == item);
    let all: Vec<String> = problems.iter().map(ToString::to_string).collect();
    let found = found.unwrap_or_else(|| panic!("no {code} at {item} in:\n{}", all.join("\n")));
    for word in words {
        assert!(found.to_string().contains(word), "{found} lacks {word}");
    }
    assert!(!found.help.is_empty());
}

#[test]
fn a_window_larger_than_its_wall() {
    let problems = broken(|k| k.plan.openings[1].height = k.m(4.0));
    check(&problems, "opening", "opening.N1,N2,N3,N4,N5.size", &["larger than its wall", "3.60"]);
}

#[test]
fn a_window_through_the_ceiling() {
    let problems = broken(|k| k.plan.openings[0].sill = k.m(2.0));
    check(&problems, "opening", "opening.S1,S2,S3,S4,S5,S6.sill", &["3.98", "3.60"]);
}

#[test]
fn overlapping_windows() {
    let problems = broken(|k| k.plan.openings[0].at[1] = k.m(3.0));
    check(&problems, "overlap", "opening.S1,S2,S3,S4,S5,S6.at", &["S1 and S2 overlap by 0.41 m"]);
}

#[test]
fn a_window_past_the_corner_and_one_in_the_neighbours_part() {
    let problems = broken(|k| k.plan.openings[2].at[0] = k.m(13.2));
    check(&problems, "opening", "opening.E1,E2.at", &["does not fit a side of 13.41"]);
    let problems = broken(|k| k.plan.openings[4].at[0] = k.m(11.0));
    check(&problems, "opening", "opening.W2.at", &["where no room of ours is"]);
}

#[test]
fn a_footprint_that_crosses_itself() {
    let problems = broken(|k| {
        let points = [[0.0, 0.0], [24.0, 13.0], [24.0, 0.0], [0.0, 13.0]];
        let corners = points.map(|p| p.map(|x| k.m(x))).to_vec();
        k.plan.storeys[1].footprint = Some(Outline::Corners(corners));
    });
    check(&problems, "geometry", "storey.upper.footprint", &["crosses", "in order"]);
}

#[test]
fn rooms_that_overlap_or_leave_their_storey() {
    let problems = broken(|k| k.plan.spaces[1].plan = Some(k.rectangle(3.60, 4.10, [10.0, 0.0])));
    check(&problems, "overlap", "space.studio-b.plan", &["share", "m²"]);
    let problems = broken(|k| k.plan.spaces[0].plan = Some(k.rectangle(8.40, 12.47, [16.0, 0.0])));
    check(&problems, "geometry", "space.hall.plan", &["0.96 m"]);
}

#[test]
fn names_that_do_not_exist_come_with_the_nearest() {
    let problems = broken(|k| {
        k.plan.assemblies[0].layers[2].material = LayerMaterial::Named("dens-cellulose".to_owned());
        k.plan.storeys[1].roof = Some(sample::flat_roof("deck-rof"));
        k.plan.openings[0].unit = "tripel".to_owned();
        k.plan.openings[3].side = "Q".to_owned();
        k.plan.gatherings[0].space = "hal".to_owned();
    });
    check(&problems, "name", "assembly.upper-wall.layers[2].material", &["did you mean"]);
    check(&problems, "name", "storey.upper.roof.assembly", &["did you mean \"deck-roof\"?"]);
    check(&problems, "name", "opening.S1,S2,S3,S4,S5,S6.unit", &["did you mean \"triple\"?"]);
    check(&problems, "name", "opening.W1.side", &["there are: S, E, N, W"]);
    check(&problems, "name", "gathering.recital.where", &["did you mean \"hall\"?"]);
    assert!(!Building::may_run(&problems));
}

#[test]
fn numbers_out_of_range() {
    let problems = broken(|k| {
        k.plan.assemblies[0].layers[0].thickness = k.m(-0.2);
        k.plan.surfaces.wall_absorptance = Some(k.number(1.3, Dimension::Ratio));
        k.plan.units[0].glazing_g = Some(k.number(1.4, Dimension::Ratio));
        k.plan.set_points.heating = Some(k.number(26.0, Dimension::Temperature));
        k.plan.site.latitude = Some(k.number(97.0, Dimension::Angle));
    });
    check(&problems, "range", "assembly.upper-wall.layers[0].thickness", &["-200.0 mm"]);
    check(&problems, "range", "surface.wall-absorptance", &["0 to 1"]);
    check(&problems, "range", "unit.triple.glazing.g", &["1.4"]);
    check(&problems, "range", "set-points.cooling", &["26.0", "25.0"]);
    check(&problems, "range", "site.latitude", &["97", "90"]);
}

#[test]
fn names_used_twice() {
    let problems = broken(|k| {
        let again = k.plan.spaces[3].clone();
        k.plan.spaces.push(again);
        let again = k.plan.assemblies[1].clone();
        k.plan.assemblies.push(again);
        k.plan.openings[3].names = vec!["S1".to_owned()];
    });
    check(&problems, "name", "space.studio-c", &["two rooms"]);
    check(&problems, "name", "assembly.deck-roof", &["two assemblies"]);
    check(&problems, "name", "opening.W1.name", &["two openings"]);
}

#[test]
fn storeys_without_roof_floor_or_room_for_their_walls() {
    let problems = broken(|k| {
        k.plan.storeys[1].roof = None;
        k.plan.storeys[1].floor = None;
    });
    check(&problems, "roof", "storey.upper.roof", &["292.3 m²"]);
    check(&problems, "floor", "storey.upper.floor", &["273.6 m²"]);
    let problems = broken(|k| k.plan.storeys[1].footprint = Some(k.rectangle(0.8, 0.8, [0.0, 0.0])));
    check(&problems, "geometry", "storey.upper.footprint", &["thicker"]);
    let problems = broken(|k| k.plan.storeys[1].floor_level = k.m(3.0));
    check(&problems, "geometry", "storey.upper.floor-level", &["0.58 m under the ceiling"]);
}

#[test]
fn a_state_that_never_comes_and_five_zones() {
    let problems = broken(|k| {
        k.plan.neighbours[0].when.clear();
        for (i, space) in k.plan.spaces.iter_mut().enumerate().take(5) {
            space.zone = Some(format!("zone-{i}"));
        }
    });
    check(&problems, "calendar", "neighbour.pottery.temperature", &["firing"]);
    check(&problems, "zone", "zone", &["at most four"]);
}

#[test]
fn unlike_ratings_put_together() {
    let problems = broken(|k| {
        let key = k.plan.units[0].frame_u.unwrap();
        k.plan.values = k.plan.values.with(key, |stated| stated.rating = Some(crate::stated::Rating::Nfrc));
        k.plan.units[0].rating = Some(crate::stated::Rating::Iso10077En410);
    });
    check(&problems, "rating", "unit.triple", &["NFRC", "ISO 10077 / EN 410"]);
}

#[test]
fn a_storey_under_ground_that_faces_the_open() {
    let problems = broken(|k| k.plan.site.ground_level = Some(k.m(3.0)));
    check(&problems, "ground", "storey.ground.walls.W", &["2.9 m under"]);
}

#[test]
fn the_more_exact_joint_wins() {
    let joint = |first: &str, at: Option<&str>, how: &str| crate::plan::JointPlan {
        first: first.to_owned(),
        second: "lobby-wall".to_owned(),
        carries: vec![crate::plan::Carrier::words(crate::control::ControlKind::Air, how)],
        at: at.map(str::to_owned),
        ..crate::plan::JointPlan::default()
    };
    let mut plan = sample::school();
    plan.joints = vec![
        joint("opening", None, "tape"),
        joint("sill", None, "pan"),
        joint("opening", Some("W3"), "foam"),
    ];
    let (b, _) = Building::derive(plan);
    let how = |name: &str| {
        let junction = b.junctions.iter().find(|j| j.name == name).unwrap();
        junction.joint.map(|n| b.joints[n].carries[0].how.as_str())
    };
    assert_eq!((how("W2.head"), how("W2.threshold")), (Some("tape"), None));
    assert_eq!((how("W3.sill"), how("W3.jamb")), (Some("foam"), Some("foam")));
}

#[test]
fn an_empty_plan_is_a_list_of_problems_not_a_panic() {
    let (building, problems) = Building::derive(Plan::default());
    assert!(building.elements.is_empty());
    check(&problems, "site", "site.latitude", &["no latitude"]);
}

#[test]
fn parts_alone_never_panic() {
    // Each list of the plan taken away in turn.
    let takes: [fn(&mut Plan); 9] = [
        |p| p.assemblies.clear(),
        |p| p.units.clear(),
        |p| p.storeys.clear(),
        |p| p.spaces.clear(),
        |p| p.neighbours.clear(),
        |p| p.openings.clear(),
        |p| p.gatherings.clear(),
        |p| p.floor_openings.clear(),
        |p| p.joints.clear(),
    ];
    for take in takes {
        let mut plan = sample::school();
        take(&mut plan);
        let (building, _) = Building::derive(plan);
        let _ = crate::counting::count(&building, crate::counting::certification_style());
    }
}

#[test]
fn every_default_row_can_be_stated() {
    let mut k = Maker::new();
    k.plan.site = crate::plan::SitePlan::default();
    let usual = k.number(12.0, Dimension::Temperature);
    k.plan.neighbours.push(NeighbourPlan {
        name: "next door".to_owned(),
        about: String::new(),
        temperature: NeighbourTemperature::Stated {
            temperature: Scheduled { usual, states: Vec::new() },
            floats_up_with_outdoors: false,
            decay: None,
        },
        pressure: None,
        when: Vec::new(),
    });
    let (_, problems) = Building::derive(k.plan);
    assert!(problems.iter().all(|p| p.code != "value"), "{problems:?}");
    let (school, problems) = Building::derive(sample::school());
    assert!(problems.iter().all(|p| p.code != "value"), "{problems:?}");
    assert!(school.values.iter().all(|(_, stated)| stated.value.is_finite()));
}

#[test]
fn a_room_placed_against_a_side() {
    let mut k = Maker::new();
    k.assembly("wall", &[("soft brick", 300.0, 0.0, &[])]);
    let footprint = k.rectangle(10.6, 8.6, [0.0, 0.0]);
    let storey = k.storey("all", 0.0, 3.0, footprint, "wall");
    storey.roof = Some(sample::flat_roof("wall"));
    storey.floor = Some(sample::floor("wall", crate::plan::BeyondPlan::Ground));
    let east =
        Outline::Rectangle { width: k.m(4.0), depth: k.m(8.0), at: Placement::Side(crate::plan::Compass::E) };
    k.space("east", "all", east, None, "");
    let west = k.rectangle(5.9, 8.0, [0.0, 0.0]);
    k.space("west", "all", west, None, "");
    let (building, problems) = Building::derive(k.plan);
    assert!(problems.is_empty(), "{problems:?}");
    let corner = building.spaces[0].outline.as_ref().unwrap().bounds().0;
    assert!((corner[0] - 6.3).abs() < 1e-12 && (corner[1] - 0.3).abs() < 1e-12);
}
