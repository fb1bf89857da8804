//! Small houses against sums made by hand, and invariants over many of them.

use proptest::prelude::*;
use quantity::Dimension;

use crate::counting;
use crate::model::{Beyond, Building, ElementKind, JunctionKind};
use crate::plan::{
    BeyondPlan, NeighbourPlan, NeighbourTemperature, Outline, RoofForm, RoofPlan, WallSidePlan,
};
use crate::problem::ModelProblem;
use crate::sample::{Maker, flat_roof, floor};

fn sum(b: &Building, kind: ElementKind, beyond: impl Fn(Beyond) -> bool) -> f64 {
    b.elements.iter().filter(|e| e.kind == kind && beyond(e.beyond)).map(|e| e.gross_m2).sum()
}

fn length(b: &Building, kind: JunctionKind) -> f64 {
    b.junctions.iter().filter(|j| j.kind == kind).map(|j| j.length_m).sum()
}

/// A house of 300 mm walls, inside 10 m × 6 m.
fn house(k: &mut Maker, roof: RoofPlan) -> (Building, Vec<ModelProblem>) {
    k.assembly("wall", &[("soft brick", 300.0, 0.0, &[])]);
    let footprint = k.rectangle(10.6, 6.6, [0.0, 0.0]);
    let storey = k.storey("all", 0.0, 2.5, footprint, "wall");
    storey.roof = Some(roof);
    storey.floor = Some(floor("wall", BeyondPlan::Ground));
    Building::derive(std::mem::take(&mut k.plan))
}

#[test]
fn a_gable_house() {
    let mut k = Maker::new();
    let slope = Some(k.number(45.0, Dimension::Angle));
    let roof = RoofPlan { form: RoofForm::Gable { ridge_along_x: true }, slope, ..flat_roof("wall") };
    let (b, problems) = house(&mut k, roof);
    assert!(problems.is_empty(), "{problems:?}");
    let count = counting::count(&b, counting::test_standard());
    assert!((count.volume_m3 - (60.0 * 2.5 + 0.5 * 6.0 * 3.0 * 10.0)).abs() < 1e-9);
    // Eaves walls 2 × 10 × 2.5, gable walls 2 × (6 × 2.5 + 9).
    assert!((sum(&b, ElementKind::Wall, |_| true) - (50.0 + 48.0)).abs() < 1e-9);
    let roofs: Vec<_> = b.elements.iter().filter(|e| e.kind == ElementKind::Roof).collect();
    assert_eq!(roofs.len(), 2);
    for (roof, azimuth) in roofs.iter().zip([0.0, 180.0]) {
        assert!((roof.gross_m2 - 30.0 * 2.0_f64.sqrt()).abs() < 1e-9);
        assert!((roof.azimuth_deg - azimuth).abs() < 1e-9 && (roof.tilt_deg - 45.0).abs() < 1e-9);
    }
    assert!((length(&b, JunctionKind::Eaves) - 20.0).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Verge) - 4.0 * 18.0_f64.sqrt()).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Ridge) - 10.0).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Plinth) - 32.0).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Corner) - 10.0).abs() < 1e-9);
    assert!((b.elements.iter().map(|e| e.exposed_perimeter_m).sum::<f64>() - 32.0).abs() < 1e-9);
}

#[test]
fn a_shed_roof_has_two_kinds_of_eaves() {
    let mut k = Maker::new();
    let slope = Some(k.number(30.0, Dimension::Angle));
    let roof = RoofPlan { form: RoofForm::Shed { low_side: "S".to_owned() }, slope, ..flat_roof("wall") };
    let (b, problems) = house(&mut k, roof);
    assert!(problems.is_empty(), "{problems:?}");
    let rise = 6.0 / 3.0_f64.sqrt();
    let count = counting::count(&b, counting::test_standard());
    assert!((count.volume_m3 - 60.0 * (2.5 + 0.5 * rise)).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Eaves) - 10.0).abs() < 1e-9);
    assert!((length(&b, JunctionKind::HighEaves) - 10.0).abs() < 1e-9);
    assert!((length(&b, JunctionKind::Verge) - 2.0 * 6.0 / (3.0_f64.sqrt() / 2.0)).abs() < 1e-9);
    let roof = b.elements.iter().find(|e| e.kind == ElementKind::Roof).unwrap();
    assert!((roof.azimuth_deg - 180.0).abs() < 1e-9 && (roof.tilt_deg - 30.0).abs() < 1e-9);
}

#[test]
fn low_headroom_counts_less_by_the_strict_rule() {
    let mut k = Maker::new();
    let slope = Some(k.number(45.0, Dimension::Angle));
    let roof = RoofPlan { form: RoofForm::Gable { ridge_along_x: true }, slope, ..flat_roof("wall") };
    k.assembly("wall", &[("soft brick", 300.0, 0.0, &[])]);
    let footprint = k.rectangle(10.6, 6.6, [0.0, 0.0]);
    // A knee wall of 0.5 m: under 1 m in two strips 0.5 m wide, from there to 2 m in two strips 1 m wide.
    let storey = k.storey("loft", 0.0, 0.5, footprint, "wall");
    storey.roof = Some(roof);
    storey.floor = Some(floor("wall", BeyondPlan::Outside));
    let (b, _) = Building::derive(k.plan);
    let strict = counting::count(&b, counting::certification_style());
    assert!((strict.floor_area_m2 - (60.0 - 10.0 - 0.5 * 20.0)).abs() < 1e-6, "{}", strict.floor_area_m2);
    assert!((counting::count(&b, counting::test_standard()).floor_area_m2 - 60.0).abs() < 1e-9);
}

/// An attached house: party walls east and west, a cold cellar below, a loft above.
#[test]
fn an_attached_house_with_cellar() {
    let mut k = Maker::new();
    k.assembly("front", &[("soft brick", 300.0, 0.0, &[])]);
    k.assembly("party", &[("soft brick", 200.0, 0.0, &[])]);
    k.assembly("ceiling", &[("mineral wool", 300.0, 0.0, &[])]);
    for (name, factor) in [("next door", 0.0), ("cellar", 0.6), ("loft", 0.9)] {
        let factor = k.number(factor, Dimension::Ratio);
        k.plan.neighbours.push(NeighbourPlan {
            name: name.to_owned(),
            about: String::new(),
            temperature: NeighbourTemperature::Floating { factor },
            pressure: None,
            when: Vec::new(),
        });
    }
    let to = |name: &str| BeyondPlan::Neighbour(name.to_owned());
    for (name, level) in [("ground", 0.0), ("first", 2.8)] {
        let footprint = k.rectangle(6.4, 9.6, [0.0, 0.0]);
        let storey = k.storey(name, level, 2.5, footprint, "front");
        storey.walls.sides = ["E", "W"]
            .map(|side| WallSidePlan {
                side: side.to_owned(),
                assembly: Some("party".to_owned()),
                beyond: to("next door"),
            })
            .to_vec();
    }
    k.plan.storeys[0].floor = Some(floor("ceiling", to("cellar")));
    k.plan.storeys[1].floor = Some(floor("ceiling", to("cellar")));
    k.plan.storeys[1].roof = Some(RoofPlan { beyond: to("loft"), ..flat_roof("ceiling") });
    let (b, problems) = Building::derive(k.plan);
    assert!(problems.is_empty(), "{problems:?}");
    let outdoors = |x: Beyond| x == Beyond::Outside;
    let party = |x: Beyond| matches!(x, Beyond::Neighbour(n) if n.0 == 0);
    // Inside 6 × 9; two storeys of 2.5 with 0.3 of floor between.
    assert!((sum(&b, ElementKind::Wall, outdoors) - 2.0 * 2.0 * 6.0 * 2.5).abs() < 1e-9);
    assert!((sum(&b, ElementKind::Wall, party) - 2.0 * 2.0 * 9.0 * 2.5).abs() < 1e-9);
    assert!((sum(&b, ElementKind::FloorBand, outdoors) - 2.0 * 6.0 * 0.3).abs() < 1e-9);
    assert!((sum(&b, ElementKind::FloorBand, party) - 2.0 * 9.0 * 0.3).abs() < 1e-9);
    assert!((sum(&b, ElementKind::Floor, |_| true) - 54.0).abs() < 1e-6);
    assert!((sum(&b, ElementKind::Roof, |_| true) - 54.0).abs() < 1e-6);
    assert!((sum(&b, ElementKind::InnerFloor, |_| true) - 54.0).abs() < 1e-6);
    // A closed box: 2 × 54 and the mantle of 5.3 m.
    let count = counting::count(&b, counting::test_standard());
    assert!((count.enclosure_m2 - (108.0 + 30.0 * 5.3)).abs() < 1e-6);
    assert_eq!(length(&b, JunctionKind::Corner), 0.0);
    assert!((length(&b, JunctionKind::PartyLine) - (4.0 * 2.5 * 2.0 + 18.0)).abs() < 1e-6);
    assert!((length(&b, JunctionKind::FloorEdge) - 12.0).abs() < 1e-6);
}

#[test]
fn a_listed_element_stands_beside_drawn_ones() {
    let mut k = Maker::new();
    k.assembly("wall", &[("soft brick", 300.0, 0.0, &[])]);
    let area = k.number(7.5, Dimension::Area);
    let azimuth = Some(k.number(90.0, Dimension::Angle));
    k.plan.listed_elements.push(crate::plan::ListedElement {
        name: "bay".to_owned(),
        assembly: "wall".to_owned(),
        area,
        space: None,
        beyond: BeyondPlan::Outside,
        azimuth,
        tilt: None,
    });
    let (b, problems) = house(&mut k, flat_roof("wall"));
    // The wall is defined twice here on purpose: once above, once by `house`.
    assert!(problems.iter().all(|p| p.item == "assembly.wall"), "{problems:?}");
    let bay = b.elements.iter().find(|e| e.name == "bay").unwrap();
    assert_eq!((bay.net_m2, bay.azimuth_deg, bay.tilt_deg), (7.5, 90.0, 90.0));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A row of rooms that tile a storey: volumes, roofs and walls add up to the whole's, whatever the split.
    #[test]
    fn rooms_add_up_to_their_storey(cuts in prop::collection::vec(1.0..4.0_f64, 1..6), depth in 3.0..9.0_f64,
                                    height in 2.2..4.0_f64, north in -180.0..180.0_f64, turn in 0..4_usize) {
        let mut k = Maker::new();
        k.plan.site.north = Some(k.number(north, Dimension::Angle));
        k.assembly("wall", &[("soft brick", 300.0, 0.0, &[])]);
        let inside: f64 = cuts.iter().sum();
        let (w, d) = (inside + 0.6, depth + 0.6);
        let mut corners = vec![[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]];
        corners.rotate_left(turn);
        let corners = corners.into_iter().map(|p| p.map(|x| k.m(x))).collect();
        let storey = k.storey("all", 0.0, height, Outline::Corners(corners), "wall");
        storey.roof = Some(flat_roof("wall"));
        storey.floor = Some(floor("wall", BeyondPlan::Ground));
        let mut x = 0.0;
        for (i, cut) in cuts.iter().enumerate() {
            let outline = k.rectangle(*cut, depth, [x, 0.0]);
            k.space(&format!("room-{i}"), "all", outline, None, "");
            x += cut;
        }
        let (b, problems) = Building::derive(k.plan);
        prop_assert!(problems.is_empty(), "{:?}", problems);
        let count = counting::count(&b, counting::certification_style());
        let area = inside * depth;
        prop_assert!((count.floor_area_m2 - area).abs() < 1e-6);
        prop_assert!((count.volume_m3 - area * height).abs() < 1e-6);
        prop_assert!((sum(&b, ElementKind::Roof, |_| true) - area).abs() < 1e-6);
        let mantle = 2.0 * (inside + depth) * height;
        prop_assert!((sum(&b, ElementKind::Wall, |_| true) - mantle).abs() < 1e-6);
        prop_assert!((count.enclosure_m2 - (2.0 * area + mantle)).abs() < 1e-6);
        // Outside faces of the walls: the footprint's perimeter, with roof and floor thickness.
        let outside: f64 = b.elements.iter().filter(|e| e.kind == ElementKind::Wall).map(|e| e.net_outside_m2).sum();
        prop_assert!((outside - 2.0 * (w + d) * (height + 0.6)).abs() < 1e-6);
    }

    /// Net wall and openings make up gross wall; one window more takes exactly its size.
    #[test]
    fn a_window_takes_its_size(at in 0.7..9.9_f64, w in 0.3..1.2_f64, h in 0.3..1.5_f64, side in 0..4_usize) {
        let mut k = Maker::new();
        let (glazing, g, frame) = (
            k.number(0.6, Dimension::Transmittance), k.number(0.5, Dimension::Ratio), k.number(0.05, Dimension::Length));
        k.plan.units.push(crate::plan::UnitPlan {
            name: "pane".to_owned(), whole_u: Some(glazing), glazing_g: Some(g), frame_face: Some(frame),
            ..crate::plan::UnitPlan::default()
        });
        let name = ["S", "E", "N", "W"][side];
        let at = if side % 2 == 0 { at } else { at * 0.6 };
        k.openings(&["P"], ("all", name), (w, h), 0.8, &[at], "pane");
        k.plan.openings[0].set_in = crate::plan::SetIn::Unstated;
        let (b, problems) = house(&mut k, flat_roof("wall"));
        let errors: Vec<_> = problems.iter().filter(|p| p.code != "opening").collect();
        prop_assert!(errors.is_empty(), "{:?}", errors);
        if let Some(pane) = b.openings.first() {
            let wall = &b.elements[pane.element.0];
            prop_assert!((wall.gross_m2 - wall.net_m2 - w * h).abs() < 1e-12);
            prop_assert!((pane.glass_m2 - (w - 0.1) * (h - 0.1)).abs() < 1e-12);
        }
        let net: f64 = b.elements.iter().map(|e| e.net_m2).sum();
        let gross: f64 = b.elements.iter().map(|e| e.gross_m2).sum();
        let glazed: f64 = b.openings.iter().map(|o| o.area_m2).sum();
        prop_assert!((gross - net - glazed).abs() < 1e-9);
    }
}
