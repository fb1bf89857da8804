//! The invented music school as a plan written in Rust: shape, assemblies and openings only. Tests and checks use it
//! to hold geometry and counting against sums made by hand; the whole building is the demonstration book.

use quantity::Dimension;

use crate::calendar::{CalendarPlan, Rule, TimeSpan, Weekday};
use crate::control::ControlKind;
use crate::plan::{
    AssemblyPlan, BeyondPlan, BridgePlan, Carrier, Compass, FloorOpeningPlan, FloorPlan, GatheringPlan,
    JointPlan, LayerMaterial, LayerPlan, NeighbourPlan, NeighbourTemperature, ObstructionPlan, OpeningKind,
    OpeningPlan, Outline, PenetrationPlan, Placement, Plan, RoofForm, RoofPlan, Scheduled, SetIn, SpaceKind,
    SpacePlan, StoreyPlan, UnitPlan, UseEnd, UseEndDays, UsePlan, WallsPlan, WhenPlan, WorkClass,
};
use crate::stated::{Basis, Enters, Source, Statement, ValueKey};

/// States numbers under running ids.
pub struct Maker {
    /// The plan being made.
    pub plan: Plan,
    /// Every length is stated times this; 1 for the building as drawn.
    pub scale: f64,
}

impl Maker {
    /// Starts an empty plan at a stated place.
    pub fn new() -> Self {
        let mut maker = Self { plan: Plan::default(), scale: 1.0 };
        maker.plan.project.name = "Sample, invented".to_owned();
        maker.plan.project.invented = true;
        maker.plan.site.latitude = Some(maker.number(36.0, Dimension::Angle));
        maker.plan.site.longitude = Some(maker.number(-79.4, Dimension::Angle));
        maker
    }

    /// States a drawn number without spread.
    pub fn number(&mut self, value: f64, dimension: Dimension) -> ValueKey {
        let id = format!("sample.{}", self.plan.values.len());
        let statement = Statement {
            id,
            value: if dimension == Dimension::Length { self.scale * value } else { value },
            spread: None,
            kind: "fixed",
            dimension,
            basis: Basis::Drawn,
            rating: None,
            source: Source::Default("sample".to_owned()),
            group: None,
            enters: Enters::NEITHER,
        };
        // Running ids are unique; only a number that is not finite could fail, and key 0 then stands for it.
        self.plan.values.state(statement).unwrap_or(ValueKey(0))
    }

    /// States a length, m.
    pub fn m(&mut self, value: f64) -> ValueKey {
        self.number(value, Dimension::Length)
    }

    /// A rectangle with its lower left corner at a point.
    pub fn rectangle(&mut self, width: f64, depth: f64, at: [f64; 2]) -> Outline {
        let at = Placement::Point([self.m(at[0]), self.m(at[1])]);
        Outline::Rectangle { width: self.m(width), depth: self.m(depth), at }
    }

    /// Adds an assembly of layers: material, thickness in mm, share of softwood through it, what it keeps out.
    pub fn assembly(&mut self, name: &str, layers: &[(&str, f64, f64, &[ControlKind])]) {
        let layers = layers
            .iter()
            .map(|&(material, mm, share, controls)| LayerPlan {
                name: material.to_owned(),
                material: LayerMaterial::Named(material.to_owned()),
                thickness: self.m(mm / 1000.0),
                bridged: (share > 0.0).then(|| BridgePlan {
                    material: "softwood".to_owned(),
                    share: self.number(share, Dimension::Ratio),
                    with: None,
                }),
                controls: controls.to_vec(),
                existing: false,
                service_cavity: false,
                record: None,
            })
            .collect();
        self.plan.assemblies.push(AssemblyPlan { name: name.to_owned(), layers, ..AssemblyPlan::default() });
    }

    /// Adds a storey of one wall assembly.
    pub fn storey(
        &mut self,
        name: &str,
        level: f64,
        height: f64,
        footprint: Outline,
        wall: &str,
    ) -> &mut StoreyPlan {
        let storey = StoreyPlan {
            name: name.to_owned(),
            floor_level: self.m(level),
            height: self.m(height),
            footprint: Some(footprint),
            inside: None,
            side_names: Vec::new(),
            walls: WallsPlan { assembly: Some(wall.to_owned()), sides: Vec::new() },
            rest: None,
            inner_walls: None,
            partitions: None,
            roof: None,
            floor: None,
            obstructions: Vec::new(),
        };
        let place = self.plan.storeys.len();
        self.plan.storeys.push(storey);
        &mut self.plan.storeys[place]
    }

    /// Adds a room.
    pub fn space(&mut self, name: &str, storey: &str, plan: Outline, ceiling: Option<f64>, zone: &str) {
        let ceiling = ceiling.map(|c| self.m(c));
        self.plan.spaces.push(SpacePlan {
            name: name.to_owned(),
            label: name.to_owned(),
            storey: storey.to_owned(),
            plan: Some(plan),
            area: None,
            ceiling,
            kind: SpaceKind::Main,
            zone: (!zone.is_empty()).then(|| zone.to_owned()),
            from_table: false,
        });
    }

    /// Adds openings alike: names, storey, side, width and height, sill, middles along the side, all in m.
    pub fn openings(
        &mut self,
        names: &[&str],
        on: (&str, &str),
        size: (f64, f64),
        sill: f64,
        at: &[f64],
        unit: &str,
    ) {
        let opening = OpeningPlan {
            pattern: names.join(","),
            names: names.iter().map(|n| (*n).to_owned()).collect(),
            kind: OpeningKind::Window,
            storey: Some(on.0.to_owned()),
            side: on.1.to_owned(),
            width: self.m(size.0),
            height: self.m(size.1),
            sill: self.m(sill),
            at: at.iter().map(|&a| self.m(a)).collect(),
            unit: unit.to_owned(),
            set_in: SetIn::Depth(self.m(0.33)),
            blind: None,
            overhang: None,
            fin_left: None,
            fin_right: None,
            opens: true,
        };
        self.plan.openings.push(opening);
    }
}

impl Default for Maker {
    fn default() -> Self {
        Self::new()
    }
}

/// A flat roof of an assembly.
pub fn flat_roof(assembly: &str) -> RoofPlan {
    RoofPlan {
        form: RoofForm::Flat,
        slope: None,
        assembly: assembly.to_owned(),
        parapet: None,
        beyond: BeyondPlan::Outside,
    }
}

/// A floor of an assembly over something.
pub fn floor(assembly: &str, beyond: BeyondPlan) -> FloorPlan {
    FloorPlan {
        assembly: assembly.to_owned(),
        beyond,
        exposed_perimeter: None,
        area: None,
        depth: None,
        edge: None,
    }
}

/// The music school's rooms: name, size, place from the inside south-west corner, dropped ceiling, zone.
type Room = (&'static str, [f64; 2], [f64; 2], Option<f64>, &'static str);

const ROOMS: [Room; 14] = [
    ("hall", [8.40, 12.47], [15.04, 0.0], None, "hall"),
    ("studio-a", [3.60, 4.10], [11.24, 0.0], Some(3.0), "teaching"),
    ("studio-b", [3.60, 4.10], [7.44, 0.0], Some(3.0), "teaching"),
    ("studio-c", [3.60, 4.10], [3.64, 0.0], Some(3.0), "teaching"),
    ("studio-d", [3.44, 4.10], [0.0, 0.0], Some(3.0), "teaching"),
    ("percussion", [3.80, 6.47], [2.80, 6.0], Some(3.0), "teaching"),
    ("office", [4.24, 3.67], [6.80, 8.80], Some(3.0), "teaching"),
    ("store", [3.60, 3.67], [11.24, 8.80], Some(3.0), "teaching"),
    ("wc-1", [2.00, 2.60], [6.80, 6.0], Some(2.7), "service"),
    ("wc-2", [1.60, 2.60], [9.00, 6.0], Some(2.7), "service"),
    ("kitchenette", [1.80, 2.60], [10.80, 6.0], Some(2.7), "service"),
    ("plant-room", [2.04, 2.60], [12.80, 6.0], None, "service"),
    ("corridor", [14.84, 1.50], [0.0, 4.30], Some(2.7), "service"),
    ("stair", [2.60, 6.47], [0.0, 6.0], Some(3.3), "service"),
];

/// Returns the music school: two storeys, fifteen rooms, eighteen openings, party floor and walls to a pottery.
pub fn school() -> Plan {
    school_scaled(1.0)
}

/// Returns the music school with every length times a factor: areas grow with its square, volumes with its cube.
pub fn school_scaled(scale: f64) -> Plan {
    let mut k = Maker { scale, ..Maker::new() };
    k.plan.site.north = Some(k.number(-12.0, Dimension::Angle));
    school_assemblies(&mut k);
    school_shape(&mut k);
    school_openings(&mut k);
    school_use(&mut k);
    k.plan
}

fn school_assemblies(k: &mut Maker) {
    use ControlKind::{Air, Heat, Rain, Vapour};
    k.assembly(
        "upper-wall",
        &[
            ("soft brick", 203.0, 0.0, &[Rain]),
            ("lime plaster", 25.0, 0.0, &[]),
            ("dense-cellulose", 38.0, 0.0, &[Heat]),
            ("dense-cellulose", 140.0, 0.12, &[]),
            ("plywood", 12.7, 0.0, &[Air, Vapour]),
            ("mineral wool", 38.0, 0.12, &[]),
            ("gypsum board", 15.9, 0.0, &[]),
        ],
    );
    k.assembly(
        "deck-roof",
        &[
            ("wood-fibre board", 240.0, 0.0, &[Heat, Rain]),
            ("plywood", 15.9, 0.0, &[Air, Vapour]),
            ("softwood", 57.0, 0.0, &[]),
        ],
    );
    k.assembly(
        "party-floor",
        &[
            ("mineral wool", 140.0, 0.104, &[Heat]),
            ("plywood", 19.0, 0.0, &[Air, Vapour]),
            ("oak", 22.0, 0.0, &[]),
        ],
    );
    k.assembly(
        "lobby-wall",
        &[
            ("soft brick", 318.0, 0.0, &[Rain]),
            ("lime plaster", 10.0, 0.0, &[]),
            ("dense-cellulose", 178.0, 0.12, &[Heat]),
            ("plywood", 12.7, 0.0, &[Air, Vapour]),
            ("gypsum board", 15.9, 0.0, &[]),
        ],
    );
    k.assembly(
        "lobby-party-wall",
        &[
            ("soft brick", 203.0, 0.0, &[]),
            ("wood-fibre board", 50.0, 0.0, &[Heat]),
            ("plywood", 12.7, 0.0, &[Air, Vapour]),
        ],
    );
    k.assembly(
        "lobby-slab",
        &[("concrete", 100.0, 0.0, &[Air, Vapour]), ("extruded polystyrene", 120.0, 0.0, &[Heat])],
    );
    k.assembly("partition", &[("gypsum board", 12.7, 0.0, &[]), ("mineral wool", 175.0, 0.0, &[])]);
    for assembly in &mut k.plan.assemblies {
        assembly.fire_rated = assembly.name == "party-floor";
    }
    let unit = UnitPlan {
        name: "triple".to_owned(),
        glazing_u: Some(k.number(0.60, Dimension::Transmittance)),
        glazing_g: Some(k.number(0.40, Dimension::Ratio)),
        frame_u: Some(k.number(1.00, Dimension::Transmittance)),
        frame_face: Some(k.m(0.115)),
        edge_psi: Some(k.number(0.035, Dimension::LinearTransmittance)),
        panes: Some(3),
        ..UnitPlan::default()
    };
    k.plan.units.push(unit);
}

fn school_shape(k: &mut Maker) {
    let usual = k.number(21.0, Dimension::Temperature);
    let firing = k.number(31.0, Dimension::Temperature);
    let temperature = Scheduled { usual, states: vec![("firing".to_owned(), firing)] };
    let rule = Rule::read("Tue, Thu 16:00–23:00").unwrap_or_default();
    k.plan.neighbours.push(NeighbourPlan {
        name: "pottery".to_owned(),
        about: "Pottery studio below".to_owned(),
        temperature: NeighbourTemperature::Stated { temperature, floats_up_with_outdoors: true, decay: None },
        pressure: None,
        when: vec![WhenPlan { state: "firing".to_owned(), rule }],
    });
    let footprint = k.rectangle(24.384, 13.411, [0.0, 0.0]);
    let ground = k.storey("ground", 0.13, 3.45, footprint.clone(), "lobby-wall");
    ground.rest = Some("pottery".to_owned());
    ground.inner_walls = Some("lobby-party-wall".to_owned());
    ground.floor = Some(floor("lobby-slab", BeyondPlan::Ground));
    let beams = ObstructionPlan {
        name: "roof beams".to_owned(),
        space: None,
        section: k.number(0.203 * 0.305, Dimension::Area),
        volume: k.number(6.9, Dimension::Volume),
        floor_area: None,
    };
    let upper = k.storey("upper", 4.03, 3.60, footprint, "upper-wall");
    upper.partitions = Some("partition".to_owned());
    upper.roof = Some(flat_roof("deck-roof"));
    upper.floor = Some(floor("party-floor", BeyondPlan::Neighbour("pottery".to_owned())));
    upper.obstructions.push(beams);
    for (name, [x, y], at, ceiling, zone) in ROOMS {
        let outline = k.rectangle(x, y, at);
        k.space(name, "upper", outline, ceiling, zone);
    }
    let lobby = Outline::Rectangle { width: k.m(2.60), depth: k.m(7.20), at: Placement::Side(Compass::NW) };
    k.space("lobby", "ground", lobby, None, "service");
    let hole = FloorOpeningPlan {
        name: "stair".to_owned(),
        upper: "stair".to_owned(),
        lower: "lobby".to_owned(),
        width: k.m(2.60),
        depth: k.m(4.60),
        thickness: None,
    };
    k.plan.floor_openings.push(hole);
}

fn school_openings(k: &mut Maker) {
    let up = |side| ("upper", side);
    k.openings(
        &["S1", "S2", "S3", "S4", "S5", "S6"],
        up("S"),
        (1.22, 1.98),
        0.86,
        &[2.19, 5.91, 9.71, 13.51, 17.60, 21.60],
        "triple",
    );
    k.openings(
        &["N1", "N2", "N3", "N4", "N5"],
        up("N"),
        (1.22, 1.68),
        0.91,
        &[19.21, 10.87, 14.99, 6.90, 2.90],
        "triple",
    );
    k.openings(&["E1", "E2"], up("E"), (1.52, 2.13), 0.81, &[4.00, 9.40], "triple");
    k.openings(&["W1"], up("W"), (0.91, 1.68), 0.91, &[3.80], "triple");
    k.openings(&["W2"], ("ground", "W"), (0.96, 2.13), 0.0, &[4.00], "triple");
    k.openings(&["W3"], ("ground", "W"), (0.61, 2.13), 0.0, &[4.95], "triple");
    if let Some(door) = k.plan.openings.iter_mut().find(|o| o.pattern == "W2") {
        door.kind = OpeningKind::GlazedDoor;
    }
    for (first, second) in [
        ("upper-wall", "party-floor"),
        ("upper-wall", "deck-roof"),
        ("upper-wall", "upper-wall"),
        ("opening", "upper-wall"),
        ("lobby-wall", "lobby-slab"),
    ] {
        k.plan.joints.push(JointPlan {
            first: first.to_owned(),
            second: second.to_owned(),
            carries: vec![Carrier::words(ControlKind::Air, "tape")],
            work: WorkClass::Careful,
            ..JointPlan::default()
        });
    }
    k.plan.penetrations.push(PenetrationPlan {
        name: "conduit sleeves".to_owned(),
        count: 9,
        through: "party-floor".to_owned(),
        ..PenetrationPlan::default()
    });
}

fn school_use(k: &mut Maker) {
    k.plan.calendar = CalendarPlan {
        first_weekday: Some(Weekday::Thu),
        closed: Rule::read("24 Dec – 1 Jan").into_iter().collect(),
        holidays: Vec::new(),
    };
    for (name, when, people) in [
        ("recital", "1st and 3rd Fri, 19:00–20:45", 90.0),
        ("song-night", "last Thu, 19:00–21:30", 60.0),
        ("ensemble", "Sat 9:00–13:00", 28.0),
    ] {
        let people = Some(k.number(people, Dimension::Count));
        k.plan.gatherings.push(GatheringPlan {
            name: name.to_owned(),
            space: "hall".to_owned(),
            when: Rule::read(when).unwrap_or_default(),
            people,
            ..GatheringPlan::default()
        });
    }
    let (day, evening) = (k.number(2.0, Dimension::Count), k.number(9.0, Dimension::Count));
    let early = |name: &str| UseEnd { on: UseEndDays::Gathering(name.to_owned()), at_minute: None };
    let span = |from: u16, to: u16| TimeSpan { from_minute: from * 60, to_minute: to * 60 };
    k.plan.uses.push(UsePlan {
        name: "lessons".to_owned(),
        days: Rule::read("Mon–Fri").unwrap_or_default(),
        people: vec![
            (span(9, 14), day),
            (TimeSpan { from_minute: 14 * 60, to_minute: 20 * 60 + 30 }, evening),
        ],
        ends: vec![early("recital"), early("song-night")],
        ..UsePlan::default()
    });
}
