//! A small invented house in two zones, written as a plan: living and sleeping storeys, a floor on the ground, a flat
//! roof, windows south and north, a ventilation unit with recovery, a heat pump that heats and cools.

use building::Building;
use building::calendar::{Rule, TimeSpan};
use building::plan::{
    BeyondPlan, BypassPlan, FloorOpeningPlan, GatheringPlan, ModeWhen, PlantKind, PlantPlan, TerminalPlan,
    UnitPlan, UsePlan, VentilationMode, VentilationPlan,
};
use building::sample::{Maker, flat_roof, floor};
use quantity::Dimension;

/// What a test changes.
#[derive(Clone, Copy)]
pub struct House {
    /// Insulation of the walls, mm.
    pub insulation_mm: f64,
    /// Air change at 50 Pa, 1/h.
    pub leak_per_h: f64,
    /// Recovery ratio of temperature.
    pub recovery: f64,
    /// Whether something cools.
    pub cools: bool,
}

impl House {
    pub const USUAL: Self = Self { insulation_mm: 180.0, leak_per_h: 1.0, recovery: 0.80, cools: true };

    pub fn building(self) -> Building {
        let (building, problems) = Building::derive(self.plan());
        assert!(Building::may_run(&problems), "{problems:?}");
        building
    }

    fn plan(self) -> building::plan::Plan {
        let mut k = Maker::new();
        k.assembly(
            "wall",
            &[
                ("soft brick", 200.0, 0.0, &[]),
                ("mineral wool", self.insulation_mm, 0.10, &[]),
                ("gypsum board", 12.5, 0.0, &[]),
            ],
        );
        k.assembly(
            "roof",
            &[
                ("mineral wool", 280.0, 0.08, &[]),
                ("softwood", 24.0, 0.0, &[]),
                ("gypsum board", 12.5, 0.0, &[]),
            ],
        );
        k.assembly("slab", &[("extruded polystyrene", 120.0, 0.0, &[]), ("concrete", 100.0, 0.0, &[])]);
        k.assembly(
            "ceiling",
            &[
                ("softwood", 22.0, 0.0, &[]),
                ("mineral wool", 100.0, 0.0, &[]),
                ("gypsum board", 12.5, 0.0, &[]),
            ],
        );
        k.assembly("partition", &[("gypsum board", 25.0, 0.0, &[])]);
        let unit = UnitPlan {
            name: "window".to_owned(),
            glazing_u: Some(k.number(0.7, Dimension::Transmittance)),
            glazing_g: Some(k.number(0.5, Dimension::Ratio)),
            frame_u: Some(k.number(1.1, Dimension::Transmittance)),
            frame_face: Some(k.m(0.11)),
            edge_psi: Some(k.number(0.04, Dimension::LinearTransmittance)),
            panes: Some(3),
            ..UnitPlan::default()
        };
        k.plan.units.push(unit);
        self.shape(&mut k);
        self.services(&mut k);
        k.plan
    }

    fn shape(self, k: &mut Maker) {
        let footprint = k.rectangle(9.0, 7.0, [0.0, 0.0]);
        let below = k.storey("below", 0.0, 2.5, footprint.clone(), "wall");
        below.floor = Some(floor("slab", BeyondPlan::Ground));
        below.partitions = Some("partition".to_owned());
        let above = k.storey("above", 2.8, 2.5, footprint, "wall");
        above.roof = Some(flat_roof("roof"));
        above.floor = Some(floor("ceiling", BeyondPlan::Outside));
        for (name, storey, zone) in [("living", "below", "day"), ("sleeping", "above", "night")] {
            let thick = 0.2 + self.insulation_mm / 1000.0 + 0.0125;
            let (width, depth) = (9.0 - 2.0 * thick, 7.0 - 2.0 * thick);
            let outline = k.rectangle(width, depth, [0.0, 0.0]);
            k.space(name, storey, outline, None, zone);
        }
        let stair = FloorOpeningPlan {
            name: "stair".to_owned(),
            upper: "sleeping".to_owned(),
            lower: "living".to_owned(),
            width: k.m(1.0),
            depth: k.m(2.5),
            thickness: None,
        };
        k.plan.floor_openings.push(stair);
        k.openings(&["S1", "S2"], ("below", "S"), (1.4, 1.4), 0.9, &[2.2, 6.5], "window");
        k.openings(&["S3"], ("above", "S"), (1.4, 1.2), 0.9, &[4.5], "window");
        k.openings(&["N1"], ("below", "N"), (1.0, 1.2), 0.9, &[4.5], "window");
    }

    fn services(self, k: &mut Maker) {
        k.plan.airtightness.expected = Some(k.number(self.leak_per_h, Dimension::AirChange));
        let family = k.number(3.0, Dimension::Count);
        let machines = k.number(2.0, Dimension::PowerPerArea);
        k.plan.uses.push(UsePlan {
            name: "living".to_owned(),
            days: Rule::read("every day").unwrap_or_default(),
            people: vec![
                (TimeSpan { from_minute: 0, to_minute: 480 }, family),
                (TimeSpan { from_minute: 1020, to_minute: 1440 }, family),
            ],
            standby: Some(machines),
            ..UsePlan::default()
        });
        let guests = Some(k.number(12.0, Dimension::Count));
        k.plan.gatherings.push(GatheringPlan {
            name: "feast".to_owned(),
            space: "living".to_owned(),
            when: Rule::read("1st Sat, 18:00–22:00").unwrap_or_default(),
            people: guests,
            ..GatheringPlan::default()
        });
        let flow = |k: &mut Maker, m3_h: f64| k.number(m3_h / 3600.0, Dimension::VolumeFlow);
        let mode = |k: &mut Maker, name: &str, m3_h: f64, when: Vec<ModeWhen>| VentilationMode {
            name: name.to_owned(),
            supply: flow(k, m3_h),
            extract: None,
            temperature_recovery: Some(k.number(self.recovery, Dimension::Ratio)),
            moisture_recovery: None,
            power: Some(k.number(0.4, Dimension::SpecificFanPower)),
            when,
        };
        let modes = vec![
            mode(k, "usual", 120.0, Vec::new()),
            mode(k, "feast", 240.0, vec![ModeWhen::Gathering("feast".to_owned())]),
        ];
        let mut terminals = Vec::new();
        for (supply, space, m3_h) in
            [(true, "living", 40.0), (true, "sleeping", 80.0), (false, "living", 120.0)]
        {
            terminals.push(TerminalPlan {
                mode: "usual".to_owned(),
                supply,
                space: Some(space.to_owned()),
                flow: flow(k, m3_h),
            });
        }
        let bypass = BypassPlan {
            extract_above: k.number(23.0, Dimension::Temperature),
            only_when_outdoors_cooler: true,
        };
        k.plan.ventilation.push(VentilationPlan {
            name: "main".to_owned(),
            modes,
            bypass: Some(bypass),
            terminals,
            ..VentilationPlan::default()
        });
        let head = PlantPlan {
            name: "head".to_owned(),
            kind: PlantKind::HeatPumpHead,
            place: None,
            heating: Some(k.number(3000.0, Dimension::Power)),
            cooling: self.cools.then(|| k.number(3000.0, Dimension::Power)),
            sensible_share: None,
            seasonal_heating: Some(k.number(3.5, Dimension::Ratio)),
            seasonal_cooling: Some(k.number(4.0, Dimension::Ratio)),
            primary_factor: None,
            ..PlantPlan::default()
        };
        k.plan.plant.push(head);
    }
}
