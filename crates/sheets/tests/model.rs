//! Drawings of the invented school's model: what is cut, what is marked, what is numbered.

use building::{Building, sample};
use sheets::adapt;
use sheets::reader::Reader;

fn school() -> Building {
    Building::derive(sample::school()).0
}

#[test]
fn the_cut_goes_where_most_is_to_be_seen() {
    let section = adapt::long_section(&school(), Reader::new("si", "uk"), |_| None).expect("rooms are drawn");
    let names: Vec<&str> = section.rooms.iter().map(|r| r.label.as_str()).collect();
    insta::assert_snapshot!(section.description);
    // The lobby on the ground and the hall above are the two that no other row of rooms shows together.
    assert!(names.len() > 5, "{names:?}");
    assert!(section.rooms.iter().any(|r| r.people >= 60), "the hall has its crowd");
}

#[test]
fn the_air_barrier_is_one_closed_ring_around_all_rooms() {
    let section = adapt::long_section(&school(), Reader::new("si", "uk"), |_| None).expect("rooms are drawn");
    assert_eq!(section.barrier.len(), 1);
    let ring = &section.barrier[0];
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for point in ring {
        for axis in 0..2 {
            low[axis] = low[axis].min(point[axis]);
            high[axis] = high[axis].max(point[axis]);
        }
    }
    for room in &section.rooms {
        assert!(room.x[0] >= low[0] - 1e-6 && room.x[1] <= high[0] + 1e-6, "{} lies inside", room.label);
        assert!(room.z[0] >= low[1] - 1e-6 && room.z[1] <= high[1] + 1e-6, "{} lies inside", room.label);
    }
    assert!(low[0] > section.ends[0] && high[0] < section.ends[1], "the barrier lies within the walls");
}

#[test]
fn gaps_are_marked_on_the_line() {
    let building = school();
    let ids: Vec<String> = building.gaps.iter().map(|g| g.id.clone()).collect();
    let number = |id: &str| ids.iter().position(|known| known == id).map(|place| place + 1);
    let section = adapt::long_section(&building, Reader::new("us", "us"), number).expect("rooms are drawn");
    let on_line = |[x, z]: [f64; 2]| {
        section.barrier.iter().any(|ring| {
            (0..ring.len()).any(|k| {
                let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                let (dx, dz) = (q[0] - p[0], q[1] - p[1]);
                let off = ((x - p[0]) * dz - (z - p[1]) * dx).abs();
                off < 1e-6 * (1.0 + dx.abs() + dz.abs())
            })
        })
    };
    for gap in &section.gaps {
        assert!(on_line(gap.at), "gap {} is off the line", gap.number);
    }
}

#[test]
fn every_face_of_ours_has_a_number_and_leads_to_a_section() {
    let building = school();
    let (drawing, lines) = adapt::axonometric(&building).expect("storeys are drawn");
    let anchors: Vec<String> = adapt::sections(&building, Reader::new("us", "us"))
        .into_iter()
        .map(|(_, s)| format!("#{}", s.id))
        .collect();
    for (place, line) in lines.iter().enumerate() {
        assert_eq!(line.number, place + 1);
        assert!(anchors.contains(&line.href), "{} leads nowhere: {}", line.words, line.href);
    }
    let numbered = drawing.pieces.iter().flat_map(|p| &p.faces).filter_map(|f| f.number).count();
    assert_eq!(numbered, lines.len());
    insta::assert_snapshot!(lines.iter().map(|l| l.words.as_str()).collect::<Vec<_>>().join("\n"));
}

#[test]
fn one_layer_of_each_assembly_is_the_air_barrier_at_most() {
    for (_, section) in adapt::sections(&school(), Reader::new("us", "us")) {
        assert!(section.layers.iter().filter(|l| l.air_barrier).count() <= 1, "{}", section.title);
        assert!(section.layers.iter().all(|l| l.thickness_m > 0.0));
    }
}

#[test]
fn workings_end_in_the_figure_they_explain() {
    let building = school();
    let workings = sheets::workings(&building, &building.values.nominal());
    assert!(!workings.is_empty());
    for working in &workings {
        let last = working.steps.last().expect("a working has steps");
        assert_eq!((last.symbol.as_str(), last.value), ("U", working.u_w_m2k), "{}", working.assembly);
    }
}
