//! Joints that follow from layers.

use super::super::joint::{coldest_spot, extra_loss};
use super::super::{Accuracy, solve};
use super::*;

fn leaf(name: &str, thickness_m: f64, conductivity_w_mk: f64) -> Leaf {
    Leaf { name: name.into(), thickness_m, conductivity_w_mk }
}

fn wall() -> Stack {
    Stack::new(
        vec![
            leaf("gypsum", 0.016, 0.21),
            leaf("cellulose and studs", 0.178, 0.046),
            leaf("lime", 0.025, 0.7),
            leaf("brick", 0.203, 0.7),
        ],
        0.13,
    )
}

#[test]
fn corner_of_one_solid_loses_by_inside_what_it_gains_by_outside() {
    let solid = Stack::new(vec![leaf("solid", 0.3, 0.5)], 0.13);
    let corner = outer_corner(&solid, &solid).unwrap();
    let s = solve(&corner.detail, &Accuracy::default()).unwrap();
    let inside = extra_loss(&s, 0, 1, &corner.internal, &[]).unwrap().extra;
    let outside = extra_loss(&s, 0, 1, &corner.external, &[]).unwrap().extra;
    assert!((inside - outside - 2.0 * 0.3 * solid.u_w_m2k()).abs() < 1e-9);
    assert!(inside > 0.0 && outside < 0.0);
}

#[test]
fn corner_of_layers_wraps_them() {
    let corner = outer_corner(&wall(), &wall()).unwrap();
    let s = solve(&corner.detail, &Accuracy::default()).unwrap();
    // The insulation goes round: a little more than plane walls by inside dimensions.
    let inside = extra_loss(&s, 0, 1, &corner.internal, &[]).unwrap().extra;
    assert!((0.005..0.05).contains(&inside), "{inside}");
    let (factor, _) = coldest_spot(&corner.detail, 0, 1, &Accuracy::default()).unwrap();
    assert!((0.75..0.98).contains(&factor), "{factor}");
}

#[test]
fn floor_that_goes_through_costs_more_than_one_that_stops() {
    let slab = leaf("slab", 0.2, 2.3);
    let psi = |stop| {
        let t = taken_in(&wall(), &slab, stop).unwrap();
        let s = solve(&t.detail, &Accuracy::default()).unwrap();
        extra_loss(&s, 0, 1, &t.external, &[]).unwrap().extra
    };
    let (through, in_brick, short) = (psi(0.0), psi(0.1), psi(0.228));
    assert!(through > in_brick && in_brick > short && short > 0.0, "{through} {in_brick} {short}");
    assert!(through > 0.4, "{through}");
}

#[test]
fn window_sits_best_in_the_insulation() {
    let psi = |set_back_m| {
        let reveal = Reveal {
            frame_width_m: 0.115,
            frame_depth_m: 0.09,
            frame_u_w_m2k: 1.0,
            set_back_m,
            gap_m: 0.012,
            gap_conductivity_w_mk: 0.04,
            lining: Some(leaf("plywood", 0.019, 0.13)),
        };
        let t = window_reveal(&wall(), &reveal).unwrap();
        let s = solve(&t.detail, &Accuracy::default()).unwrap();
        extra_loss(&s, 0, 1, &t.external, &[]).unwrap().extra
    };
    let (flush, brick, insulation) = (psi(0.0), psi(0.1), psi(0.27));
    assert!(insulation < brick && brick < flush, "{flush} {brick} {insulation}");
    assert!((0.0..0.06).contains(&insulation), "{insulation}");
}

#[test]
fn frame_outside_the_wall_is_refused() {
    let reveal = Reveal {
        frame_width_m: 0.1,
        frame_depth_m: 0.09,
        frame_u_w_m2k: 1.0,
        set_back_m: 0.4,
        gap_m: 0.0,
        gap_conductivity_w_mk: 0.0,
        lining: None,
    };
    let text = window_reveal(&wall(), &reveal).unwrap_err().to_string();
    assert!(text.contains("does not lie within a wall of 0.422 m"), "{text}");
}

fn solid(thickness_m: f64, conductivity_w_mk: f64) -> Stack {
    Stack::new(vec![leaf("solid", thickness_m, conductivity_w_mk)], 0.13)
}

fn worked(t: &Template) -> super::super::joint::Joint {
    super::super::joint::work_out(t, &Accuracy::of_joint(t.detail.plane)).unwrap()
}

#[test]
fn level_eaves_are_a_corner_and_the_difference_of_dimensions_is_geometry() {
    let (a, b) = (solid(0.3, 0.5), solid(0.2, 0.4));
    let corner = worked(&outer_corner(&a, &b).unwrap());
    let level = worked(&roof::eaves(&a, &b, 0.0).unwrap());
    // The mitre parts the two solids elsewhere than their overlap does.
    assert!((corner.inside - level.inside).abs() < 0.03, "{} {}", corner.inside, level.inside);
    for slope in [-20.0, 20.0, 38.0] {
        let t = roof::eaves(&a, &b, slope).unwrap();
        let j = worked(&t);
        let sum = |p: &[Plane]| p.iter().map(|p| p.u_w_m2k * p.extent).sum::<f64>();
        assert!((j.inside - j.outside - (sum(&t.external) - sum(&t.internal))).abs() < 1e-9);
        assert!(j.outside < j.inside, "{slope}: {j:?}");
        assert!((0.3..0.8).contains(&j.factor), "{slope}: {j:?}");
    }
}

#[test]
fn a_flat_ridge_is_no_joint_and_a_steep_one_little() {
    let r = Stack::new(wall().leaves, 0.10);
    let flat = worked(&roof::ridge(&r, 0.5).unwrap());
    assert!(flat.inside.abs() < 0.01, "{flat:?}");
    let steep = worked(&roof::ridge(&r, 38.0).unwrap());
    assert!(steep.inside > flat.inside && steep.inside < 0.3, "{steep:?}");
}

#[test]
fn partition_that_only_touches_costs_little_and_one_that_runs_in_costs_more() {
    let partition = Stack::new(vec![leaf("brick partition", 0.12, 0.7)], 0.13);
    let w = wall();
    let psi = |start| {
        let beside = meeting::Beside::Inside { band_counted: false };
        worked(&meeting::meeting(&w, &partition, &[start], &beside).unwrap())
    };
    let (touching, through) = (psi(w.thickness_m()), psi(0.228));
    assert!(touching.inside.abs() < 0.03, "{touching:?}");
    assert!(through.inside > touching.inside + 0.1, "{through:?}");
    assert!(through.factor < touching.factor);
}

#[test]
fn floor_over_a_neighbour_splits_by_pairs() {
    let w = wall();
    let old = w.outer(0.203);
    let floor = Stack::new(vec![leaf("plank", 0.07, 0.12), leaf("wool", 0.14, 0.045)], 0.17);
    let beside = meeting::Beside::Neighbour { wall: old, temperature: 1.0 };
    let t = meeting::meeting(&w, &floor, &[0.1, 0.203], &beside).unwrap();
    let j = worked(&t);
    assert!(j.inside > 0.01 && j.inside < 0.5 && j.settled, "{j:?}");
    assert!((0.6..0.95).contains(&j.factor), "{j:?}");
    let open = meeting::meeting(&w, &floor, &[0.1, 0.203], &meeting::Beside::Outside).unwrap();
    assert!(worked(&open).factor < j.factor);
}

#[test]
fn wall_that_runs_up_as_a_parapet_costs_more_than_one_wrapped() {
    let w = wall();
    let r = Stack::new(vec![leaf("plank", 0.057, 0.12), leaf("board", 0.24, 0.04)], 0.10);
    let t = roof::parapet(&w, &r, 0.203, 0.6, &[0.103, 0.203]).unwrap();
    let j = worked(&t);
    let wrapped = worked(&outer_corner(&w, &r).unwrap());
    assert!(j.inside > wrapped.inside && j.inside < 0.5, "{} {}", j.inside, wrapped.inside);
}

#[test]
fn foot_of_a_wall_and_a_threshold() {
    let floor = Stack::new(
        vec![leaf("tile", 0.01, 1.3), leaf("insulation", 0.12, 0.035), leaf("concrete", 0.1, 2.3)],
        0.17,
    );
    let ground = ground::GroundFloor {
        floor,
        characteristic_m: 4.0,
        ground_w_mk: 2.0,
        ground_level_m: -0.13,
        footing_m: 0.6,
    };
    let w = wall();
    let starts = [0.422, 0.203, 0.203];
    let j = worked(&ground::foot(&w, &ground, 0.203, &starts, &ground::Upright::Wall).unwrap());
    assert!((-0.1..0.4).contains(&j.inside) && j.settled, "{j:?}");
    assert!((0.6..0.98).contains(&j.factor), "{j:?}");
    let door = Reveal {
        frame_width_m: 0.115,
        frame_depth_m: 0.09,
        frame_u_w_m2k: 1.0,
        set_back_m: 0.3,
        gap_m: 0.0,
        gap_conductivity_w_mk: 0.0,
        lining: None,
    };
    let d = worked(&ground::foot(&w, &ground, 0.203, &starts, &ground::Upright::Door(door)).unwrap());
    assert!((-0.1..0.5).contains(&d.inside), "{d:?}");
}

#[test]
fn member_of_the_walls_own_stuff_is_none_and_a_beam_end_costs() {
    let one = solid(0.3, 0.5);
    let same = beam::Member {
        name: "same".into(),
        section_m: [0.2, 0.3],
        conductivity_w_mk: [0.5, 0.5],
        end_m: 0.1,
        inner_end_m: Some(0.3),
    };
    let none = worked(&beam::through(&one, &same).unwrap());
    assert!(none.inside.abs() < 1e-6, "{none:?}");
    let w = wall();
    let oak = beam::Member {
        name: "beam".into(),
        section_m: [0.203, 0.305],
        conductivity_w_mk: [0.29, 0.13],
        end_m: 0.103,
        inner_end_m: None,
    };
    let end = worked(&beam::through(&w, &oak).unwrap());
    assert!((0.005..0.1).contains(&end.inside), "{end:?}");
    let steel = beam::Member { conductivity_w_mk: [50.0, 50.0], section_m: [0.01, 0.15], ..oak };
    let bracket = worked(&beam::through(&w, &steel).unwrap());
    assert!(bracket.inside > 0.02, "{bracket:?}");
}

#[test]
fn inner_corner_counts_the_other_way() {
    let w = wall();
    let outer = worked(&outer_corner(&w, &w).unwrap());
    let inner = worked(&inner_corner(&w, &w).unwrap());
    assert!(inner.outside > 0.0 && inner.inside < 0.0, "{inner:?}");
    assert!(inner.factor > outer.factor);
}
