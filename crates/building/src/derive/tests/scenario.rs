//! The music school against sums made by hand, to the digit in which they were written down.

use crate::calendar::QUARTERS_A_DAY;
use crate::counting;
use crate::model::{Beyond, Building, ElementKind, JunctionKind};
use crate::problem::Severity;
use crate::sample;

fn school() -> Building {
    let (building, problems) = Building::derive(sample::school());
    let errors: Vec<String> =
        problems.iter().filter(|p| p.severity == Severity::Error).map(ToString::to_string).collect();
    assert!(errors.is_empty(), "{}", errors.join("\n"));
    building
}

fn printed(value: f64) -> String {
    format!("{value:.1}")
}

#[test]
fn floor_area_and_both_volumes() {
    let b = school();
    let strict = counting::count(&b, counting::certification_style());
    let own = counting::count(&b, counting::test_standard());
    assert_eq!(printed(strict.floor_area_m2), "293.6");
    assert_eq!(printed(own.floor_area_m2), "281.7");
    assert_eq!(printed(strict.volume_m3), "954.9");
    assert_eq!(printed(own.volume_m3), "1059.7");
}

#[test]
fn rooms_one_by_one() {
    let b = school();
    let count = counting::count(&b, counting::certification_style());
    let expected = [
        ("hall", "104.75", "377.1"),
        ("studio-a", "14.76", "44.3"),
        ("studio-d", "14.10", "42.3"),
        ("percussion", "24.59", "73.8"),
        ("office", "15.56", "46.7"),
        ("store", "13.21", "39.6"),
        ("wc-1", "5.20", "14.0"),
        ("wc-2", "4.16", "11.2"),
        ("kitchenette", "4.68", "12.6"),
        ("plant-room", "5.30", "19.1"),
        ("corridor", "22.26", "60.1"),
        ("stair", "16.82", "55.5"),
        ("lobby", "18.72", "64.6"),
    ];
    for (room, area, volume) in expected {
        let row = count.rows.iter().find(|row| row.item == room).unwrap();
        assert_eq!(
            (format!("{:.2}", row.area_m2), printed(row.volume_m3)),
            (area.into(), volume.into()),
            "{room}"
        );
    }
    let hole = count.rows.iter().find(|row| row.item.contains("Opening through")).unwrap();
    assert_eq!(printed(hole.volume_m3), "5.4");
}

#[test]
fn the_enclosure_with_the_band_nobody_listed() {
    let b = school();
    let count = counting::count(&b, counting::certification_style());
    let area = |name: &str| {
        let found = count.surfaces.iter().find(|(surface, _)| surface == name);
        printed(found.unwrap_or_else(|| panic!("{name} in {:?}", count.surfaces)).1)
    };
    assert_eq!(area("upper: walls to the open"), "258.6");
    assert_eq!(area("upper: roof to the open"), "292.3");
    assert_eq!(area("upper: floor to pottery"), "273.6");
    assert_eq!(area("ground: walls to the open"), "33.8");
    assert_eq!(area("ground: walls to pottery"), "33.8");
    assert_eq!(area("ground: ground floor to ground"), "18.7");
    assert_eq!(area("ground: edge of the floor above to the open"), "4.4");
    assert_eq!(area("ground: edge of the floor above to pottery"), "4.4");
    assert_eq!(printed(count.enclosure_m2), "919.6");
    // Party surfaces without the band, as the hand list has them.
    assert_eq!(printed(count.party_m2 - 9.8 * 0.45), "307.4");
}

#[test]
fn what_makes_the_two_volumes_differ() {
    let b = school();
    let strict = counting::count(&b, counting::certification_style());
    let own = counting::count(&b, counting::test_standard());
    let items = counting::differences(&strict, &own);
    assert_eq!(items[0].item, "corridor");
    assert!((items[0].volume_m3 - 22.26 * 0.9).abs() < 1e-9);
    let voids: f64 = items.iter().map(|item| item.volume_m3).sum();
    assert_eq!(printed(voids), "104.8");
}

#[test]
fn openings_find_their_rooms_and_faces() {
    let b = school();
    let area: f64 = b.openings.iter().map(|o| o.area_m2).sum();
    let edge: f64 = b.openings.iter().map(|o| 2.0 * (o.width_m + o.height_m)).sum();
    assert_eq!(printed(area), "36.1");
    assert_eq!(format!("{edge:.0}"), "99");
    let room = |name: &str| {
        let opening = b.openings.iter().find(|o| o.name == name).unwrap();
        (b.spaces[opening.space.0].name.as_str(), opening.azimuth_deg.round())
    };
    assert_eq!(room("S1"), ("studio-d", 168.0));
    assert_eq!(room("S4"), ("studio-a", 168.0));
    assert_eq!(room("S6"), ("hall", 168.0));
    assert_eq!(room("N1"), ("percussion", 348.0));
    assert_eq!(room("N2"), ("store", 348.0));
    assert_eq!(room("N3"), ("office", 348.0));
    assert_eq!(room("N5"), ("hall", 348.0));
    assert_eq!(room("E1"), ("hall", 78.0));
    assert_eq!(room("W1"), ("stair", 258.0));
    assert_eq!(room("W2"), ("lobby", 258.0));
}

#[test]
fn walls_are_net_and_openings() {
    let b = school();
    for element in &b.elements {
        let openings: f64 = element.openings.iter().map(|o| b.openings[o.0].area_m2).sum();
        assert!((element.gross_m2 - element.net_m2 - openings).abs() < 1e-9, "{}", element.name);
    }
}

#[test]
fn junctions_have_the_lengths_of_their_lines() {
    let b = school();
    let length =
        |kind: JunctionKind| b.junctions.iter().filter(|j| j.kind == kind).map(|j| j.length_m).sum::<f64>();
    assert_eq!(printed(length(JunctionKind::RoofEdge)), "71.8");
    // Four corners upstairs, one at the lobby.
    assert_eq!(format!("{:.2}", length(JunctionKind::Corner)), format!("{:.2}", 4.0 * 3.60 + 3.45));
    assert_eq!(printed(length(JunctionKind::Plinth)), "9.8");
    assert_eq!(printed(length(JunctionKind::FloorEdge)), "9.8");
    assert_eq!(printed(length(JunctionKind::InnerFloorEdge)), "9.8");
    assert_eq!(printed(length(JunctionKind::PartyFloorEdge)), printed(71.82 - 9.8));
    // The two ends of the lobby's party wall at the outside walls, and its foot.
    assert_eq!(format!("{:.2}", length(JunctionKind::PartyLine)), format!("{:.2}", 2.0 * 3.45 + 9.8));
    assert_eq!(format!("{:.2}", length(JunctionKind::Threshold)), "0.96");
}

#[test]
fn zones_share_all_rooms() {
    let b = school();
    let names: Vec<&str> = b.zones.iter().map(|z| z.name.as_str()).collect();
    assert_eq!(names, ["hall", "teaching", "service"]);
    let rooms: f64 = b.spaces.iter().map(|s| s.volume_m3).sum();
    let zones: f64 = b.zones.iter().map(|z| z.volume_m3).sum();
    assert!((rooms - zones).abs() < 1e-9);
    assert_eq!(printed(rooms), "1059.7");
}

#[test]
fn inner_floor_and_partitions_are_found_once() {
    let b = school();
    let sum =
        |kind: ElementKind| b.elements.iter().filter(|e| e.kind == kind).map(|e| e.gross_m2).sum::<f64>();
    // The lobby's ceiling less the hole of the stair.
    assert!(
        (sum(ElementKind::InnerFloor) - (18.72 - 11.96)).abs() < 1e-3,
        "{}",
        sum(ElementKind::InnerFloor)
    );
    let hall_wall: f64 = b
        .elements
        .iter()
        .filter(|e| e.kind == ElementKind::Partition)
        .filter(|e| {
            b.spaces[e.space.0].name == "hall"
                || matches!(e.beyond, Beyond::Space(s) if b.spaces[s.0].name == "hall")
        })
        .map(|e| e.gross_m2)
        .sum();
    // The hall's west wall faces five rooms: its whole depth less the lines of the walls between them.
    assert!((hall_wall - 3.6 * (12.47 - 3.0 * 0.2)).abs() < 0.2, "{hall_wall}");
}

#[test]
fn gaps_name_what_nobody_closed() {
    let b = school();
    let ids: Vec<&str> = b.gaps.iter().map(|g| g.id.as_str()).collect();
    assert!(ids.contains(&"air.threshold.threshold / lobby-wall"), "{ids:?}");
    assert!(ids.contains(&"air.penetration.conduit sleeves"));
    assert!(ids.contains(&"air.rated.conduit sleeves"));
    assert!(!ids.contains(&"air.roof edge.upper-wall / deck-roof"));
    // Its air is carried across; nobody has said how rain and heat are.
    assert!(ids.contains(&"rain.roof edge.upper-wall / deck-roof"));
}

#[test]
fn the_year_holds_its_gatherings_and_lessons() {
    let b = school();
    let of = |name: &str| b.gatherings.iter().find(|g| g.name == name).unwrap();
    assert_eq!(of("recital").days.len(), 24);
    // The last Thursday of December falls in the closed days.
    assert_eq!(of("song-night").days.len(), 11);
    let lessons = &b.uses[0];
    let recital = of("recital").days[0];
    let at = |hour: usize| lessons.people.at(recital * QUARTERS_A_DAY + hour * 4);
    assert!(at(18).is_some() && at(19).is_none() && at(20).is_none());
    let hours: f64 = lessons.people.hours().iter().sum();
    let days = b.calendar.open_days(&crate::calendar::Rule::read("Mon–Fri").unwrap()).len() as f64;
    assert!((hours - (11.5 * days - 1.5 * 35.0)).abs() < 1e-9);
}

#[test]
fn derived_lists_stay_as_they_are() {
    let b = school();
    let mut text = String::new();
    for e in &b.elements {
        let name = &b.assemblies[e.assembly.0].name;
        text += &format!(
            "{:<44} {name:<17} {:8.3} {:8.3} {:5.0}°\n",
            e.name, e.gross_m2, e.net_m2, e.azimuth_deg
        );
    }
    text += "\n";
    for j in &b.junctions {
        text += &format!("{:<52} {:7.3} m\n", j.name, j.length_m);
    }
    text += "\n";
    for gap in &b.gaps {
        text += &format!("{}\n", gap.sentence);
    }
    insta::assert_snapshot!(text);
}
