//! An invented building on plain structs, to look at drawings and pages without a model or a run.
//!
//! Its figures are made up to fill the pictures and are nobody's results.

pub mod pages;

use sheets::draw::axonometric::{Axonometric, Face, FaceKind, Piece};
use sheets::draw::hatch::{Hatch, Run};
use sheets::draw::long_section::{Beyond, Gap, LevelMark, LongSection, Opening, Room, Solid};
use sheets::draw::section::{Bridge, Layer, Level, Lie, Section};

fn layer(name: &str, mm: f64, inches: &str, hatch: Hatch) -> Layer {
    Layer {
        name: name.into(),
        thickness_m: mm / 1000.0,
        thickness: inches.into(),
        hatch,
        bridge: None,
        air_barrier: false,
        existing: false,
    }
}

fn bridge(share: f64) -> Option<Bridge> {
    Some(Bridge { words: format!("{:.0} % softwood through it", share * 100.0), share, hatch: Hatch::Timber })
}

/// A masonry wall insulated inside.
pub fn upper_wall() -> Section {
    Section {
        id: "upper-wall".into(),
        title: "upper wall".into(),
        lie: Lie::Wall,
        outside: "outdoors".into(),
        layers: vec![
            Layer { existing: true, ..layer("soft brick, two wythes", 203.0, "8 in", Hatch::Masonry) },
            layer("lime plaster", 25.0, "1 in", Hatch::Plaster),
            layer("dense cellulose", 38.0, "1 1/2 in", Hatch::BlownFibre),
            Layer { bridge: bridge(0.12), ..layer("dense cellulose", 140.0, "5 1/2 in", Hatch::BlownFibre) },
            Layer { air_barrier: true, ..layer("plywood", 12.7, "1/2 in", Hatch::Panel) },
            Layer {
                bridge: bridge(0.12),
                ..layer("mineral wool in the service cavity", 38.0, "1 1/2 in", Hatch::Batt)
            },
            layer("gypsum board", 15.9, "5/8 in", Hatch::Plaster),
        ],
        total: "1 ft 6 5/8 in".into(),
        levels: vec![],
    }
}

/// The same wall with figures at its interfaces.
pub fn wall_with_levels() -> Section {
    let level =
        |c: &str, u: &str, w: &str| Some(Level { coldest: c.into(), usual: u.into(), wettest: w.into() });
    Section {
        id: "levels".into(),
        levels: vec![
            None,
            level("19 °F Jan", "58 °F", "97 % Mar"),
            level("20 °F Jan", "58 °F", "96 % Mar"),
            level("27 °F Jan", "60 °F", "91 % Mar"),
            level("59 °F Jan", "69 °F", "63 % Jul"),
            None,
            level("66 °F Jan", "71 °F", "58 % Jul"),
            None,
        ],
        ..upper_wall()
    }
}

/// A warm roof over exposed planks.
pub fn roof() -> Section {
    Section {
        id: "deck-roof".into(),
        title: "deck roof".into(),
        lie: Lie::Roof,
        outside: "outdoors".into(),
        layers: vec![
            layer("roof membrane", 1.5, "1/16 in", Hatch::Membrane),
            layer("cover board", 12.7, "1/2 in", Hatch::Plaster),
            layer("wood-fibre board, three staggered layers", 240.0, "9 1/2 in", Hatch::FibreBoard),
            Layer { air_barrier: true, ..layer("taped plywood", 15.9, "5/8 in", Hatch::Panel) },
            Layer { existing: true, ..layer("plank", 57.0, "2 1/4 in", Hatch::Timber) },
        ],
        total: "1 ft 1 in".into(),
        levels: vec![],
    }
}

/// A floor over a neighbour.
pub fn party_floor() -> Section {
    Section {
        id: "party-floor".into(),
        title: "party floor".into(),
        lie: Lie::Floor,
        outside: "pottery studio".into(),
        layers: vec![
            layer("gypsum board, two layers", 31.8, "1 1/4 in", Hatch::Plaster),
            Layer { bridge: bridge(0.104), ..layer("mineral wool", 140.0, "5 1/2 in", Hatch::Batt) },
            Layer { existing: true, ..layer("plank", 70.0, "2 3/4 in", Hatch::Timber) },
            Layer { air_barrier: true, ..layer("taped plywood", 19.0, "3/4 in", Hatch::Panel) },
            layer("wood-fibre impact board", 20.0, "3/4 in", Hatch::FibreBoard),
            layer("oak", 22.0, "7/8 in", Hatch::Timber),
        ],
        total: "11 7/8 in".into(),
        levels: vec![],
    }
}

/// A long section through an upper floor over a neighbour, with a lobby at one end.
pub fn long_section() -> LongSection {
    let wall = |x: [f64; 2], z: [f64; 2], hatch| Solid {
        corners: vec![[x[0], z[0]], [x[1], z[0]], [x[1], z[1]], [x[0], z[1]]],
        hatch,
        run: Run::Standing,
    };
    let lying = |x: [f64; 2], z: [f64; 2], hatch| Solid { run: Run::Lying, ..wall(x, z, hatch) };
    let room = |label: &str, note: &str, x: [f64; 2], z: [f64; 2], people| Room {
        label: label.into(),
        note: note.into(),
        x,
        z,
        people,
        href: None,
    };
    let upper = [4.03, 7.63];
    LongSection {
        id: "long".into(),
        title: "Long section, looking north".into(),
        description:
            "The school lies over the pottery studio; the lobby and the stair reach down to the ground \
                      at the west end. The air barrier is one line with two gaps."
                .into(),
        ends: [0.0, 24.384],
        ground: 0.0,
        solids: vec![
            wall([0.0, 0.20], [0.0, 8.2], Hatch::Masonry),
            wall([0.20, 0.45], [0.13, 7.63], Hatch::BlownFibre),
            wall([24.184, 24.384], [0.0, 8.2], Hatch::Masonry),
            wall([23.93, 24.184], [4.03, 7.63], Hatch::BlownFibre),
            wall([3.05, 3.25], [0.13, 3.58], Hatch::Masonry),
            lying([0.0, 24.384], [7.63, 7.70], Hatch::Timber),
            lying([0.0, 24.384], [7.70, 7.96], Hatch::FibreBoard),
            lying([3.05, 24.184], [3.58, 4.03], Hatch::Timber),
            lying([0.2, 3.05], [0.0, 0.13], Hatch::Foam),
        ],
        rooms: vec![
            room("Lobby", "", [0.45, 3.05], [0.13, 3.58], 0),
            room("Stair", "", [0.45, 3.05], upper, 0),
            room("Percussion", "", [3.15, 6.95], upper, 0),
            room("Store", "", [7.05, 10.65], upper, 0),
            room("Office", "", [10.75, 14.99], upper, 0),
            room("Recital hall", "90 people", [15.49, 23.93], upper, 90),
        ],
        neighbours: vec![Beyond {
            label: "Pottery studio: outside the boundary, 88 °F on firing days, −6 Pa".into(),
            x: [3.25, 24.184],
            z: [0.0, 3.58],
        }],
        partitions: vec![[3.10, 4.03, 7.63], [7.0, 4.03, 7.63], [10.7, 4.03, 7.63], [15.2, 4.03, 7.63]],
        ceilings: vec![[3.15, 6.95, 7.03], [7.05, 10.65, 7.03], [10.75, 14.99, 7.03]],
        openings: vec![
            window("N1", [4.4, 5.62], [4.9, 6.58]),
            window("N2", [8.2, 9.42], [4.9, 6.58]),
            window("N3", [12.0, 13.22], [4.9, 6.58]),
            window("N4", [17.0, 18.22], [4.9, 6.58]),
            window("N5", [20.6, 21.82], [4.9, 6.58]),
            Opening { name: "W2".into(), x: [0.0, 0.45], z: [0.13, 2.26], door: true, cut: true },
        ],
        barrier: vec![vec![
            [0.43, 0.10],
            [3.08, 0.10],
            [3.08, 3.95],
            [23.95, 3.95],
            [23.95, 7.68],
            [0.43, 7.68],
        ]],
        gaps: vec![Gap { at: [0.43, 0.4], number: 1 }, Gap { at: [13.4, 3.95], number: 2 }],
        levels: vec![
            LevelMark { z: 0.13, name: "lobby floor".into(), words: "5 1/8 in".into() },
            LevelMark { z: 4.03, name: "upper floor".into(), words: "13 ft 2 5/8 in".into() },
            LevelMark { z: 7.63, name: "under the deck".into(), words: "25 ft 3/8 in".into() },
        ],
        length: "80 ft 0 in".into(),
        bar: (6.096, "20 ft".into()),
    }
}

fn window(name: &str, x: [f64; 2], z: [f64; 2]) -> Opening {
    Opening { name: name.into(), x, z, door: false, cut: false }
}

/// The same building from above.
pub fn axonometric() -> Axonometric {
    let wall = |a: [f64; 2], b: [f64; 2], z: [f64; 2], kind, number: Option<usize>, windows: &[[f64; 4]]| {
        let at = |s: f64, h: f64| {
            let length = ((b[0] - a[0]) * (b[0] - a[0]) + (b[1] - a[1]) * (b[1] - a[1])).sqrt();
            [a[0] + (b[0] - a[0]) * s / length, a[1] + (b[1] - a[1]) * s / length, h]
        };
        Face {
            corners: vec![[a[0], a[1], z[0]], [b[0], b[1], z[0]], [b[0], b[1], z[1]], [a[0], a[1], z[1]]],
            kind,
            parts: vec![],
            openings: windows
                .iter()
                .map(|w| vec![at(w[0], w[2]), at(w[1], w[2]), at(w[1], w[3]), at(w[0], w[3])])
                .collect(),
            number,
            label: "upper wall, S".into(),
            href: number.map(|_| "#upper-wall".into()),
        }
    };
    let (l, d) = (24.384, 13.411);
    let level = |z: f64, kind, number| Face {
        corners: vec![[0.0, 0.0, z], [l, 0.0, z], [l, d, z], [0.0, d, z]],
        kind,
        parts: vec![],
        openings: vec![],
        number,
        label: "roof".into(),
        href: Some("#deck-roof".into()),
    };
    let south: Vec<[f64; 4]> =
        (0..6).map(|k| 2.4 + 3.4 * f64::from(k)).map(|x| [x, x + 1.22, 4.9, 6.88]).collect();
    Axonometric {
        id: "axo".into(),
        title: "The enclosure from the south-east, upper storey lifted".into(),
        description: "Two storeys; the lower one is the neighbour's except for the lobby.".into(),
        pieces: vec![
            Piece {
                faces: vec![
                    wall([0.0, 0.0], [l, 0.0], [0.0, 3.6], FaceKind::Neighbour, None, &[]),
                    wall([l, 0.0], [l, d], [0.0, 3.6], FaceKind::Neighbour, None, &[]),
                    level(3.6, FaceKind::Party, Some(1)),
                ],
                lift: 0.0,
                feet: vec![],
            },
            Piece {
                faces: vec![
                    wall([0.0, 0.0], [l, 0.0], [3.6, 8.0], FaceKind::Ours, Some(2), &south),
                    wall(
                        [l, 0.0],
                        [l, d],
                        [3.6, 8.0],
                        FaceKind::Ours,
                        Some(3),
                        &[[3.4, 4.92, 4.6, 6.73], [8.2, 9.72, 4.6, 6.73]],
                    ),
                    level(8.0, FaceKind::Ours, Some(4)),
                ],
                lift: 4.2,
                feet: vec![[0.0, 0.0, 3.6], [l, 0.0, 3.6], [l, d, 3.6]],
            },
        ],
        north: [0.2079, 0.9781],
    }
}
