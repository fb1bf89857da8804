//! Wind on façades, and the flow network of a building from plain inputs: façade leaks, party leaks, stack and fans.
//!
//! Pressure coefficients are surface averages by side and shelter, from memory of published low-rise tables: good for
//! ranking and yearly sums, not for one gust. Start at [`Plan`] and [`Air::at`]; tables of the result over weather are in
//! [`crate::response`].

use crate::leakage::PowerLaw;
use crate::network::{Law, Link, Network, NetworkError, Node, air_density_kg_m3, wind_pressure_pa};

/// How sheltered a building stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shelter {
    /// Open ground around.
    Exposed,
    /// Obstacles half as high as the building.
    HalfHeight,
    /// Obstacles as high as the building.
    FullHeight,
}

/// Kind of ground the wind has come over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Terrain {
    /// Open flat country: where weather stations stand.
    Open,
    /// Country with scattered windbreaks.
    Country,
    /// Town.
    Urban,
    /// City centre.
    City,
}

/// Angles of the coefficient table between wind and the outward normal, degrees.
const ANGLES_DEG: [f64; 5] = [0.0, 45.0, 90.0, 135.0, 180.0];

/// Returns the mean pressure coefficient of a wall at an angle between the wind's direction and the wall's outward
/// normal, degrees; linear between the table's angles.
///
/// Low-rise buildings with sides of about equal length, reference wind at eaves height. From memory of the tables of the
/// Air Infiltration and Ventilation Centre (1986 guide); corner points rounded.
pub fn wall_coefficient(angle_deg: f64, shelter: Shelter) -> f64 {
    let table = match shelter {
        Shelter::Exposed => [0.70, 0.35, -0.50, -0.40, -0.20],
        Shelter::HalfHeight => [0.40, 0.10, -0.30, -0.35, -0.20],
        Shelter::FullHeight => [0.20, 0.05, -0.25, -0.30, -0.25],
    };
    let turned = angle_deg.rem_euclid(360.0);
    let angle = if turned > 180.0 { 360.0 - turned } else { turned };
    let k = ANGLES_DEG.iter().rposition(|a| *a <= angle).unwrap_or(0).min(3);
    let share = (angle - ANGLES_DEG[k]) / (ANGLES_DEG[k + 1] - ANGLES_DEG[k]);
    table[k] + share * (table[k + 1] - table[k])
}

/// Returns the mean pressure coefficient of a flat or shallow roof (below 10°), for any wind. From memory, as above.
pub fn roof_coefficient(shelter: Shelter) -> f64 {
    match shelter {
        Shelter::Exposed => -0.70,
        Shelter::HalfHeight => -0.60,
        Shelter::FullHeight => -0.40,
    }
}

/// Returns the wind at a height over a terrain, m/s, from that of a weather station (10 m over open country).
///
/// `U = U_10·k·z^a`. Source: BS 5925 / LBL tables, from memory.
pub fn local_wind_m_s(station_m_s: f64, height_m: f64, terrain: Terrain) -> f64 {
    let (k, a) = match terrain {
        Terrain::Open => (0.68, 0.17),
        Terrain::Country => (0.52, 0.20),
        Terrain::Urban => (0.35, 0.25),
        Terrain::City => (0.21, 0.33),
    };
    station_m_s * k * numeric::pow(height_m.max(1.0), a)
}

/// Where a façade looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Face {
    /// A wall whose outward normal points this way, degrees clockwise from north.
    Wall(f64),
    /// A flat or shallow roof.
    Roof,
    /// Out of the wind: crawl space, ground, courtyard.
    Still,
}

/// A leak of a zone to outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FacadeLeak {
    /// Index of the zone.
    pub zone: usize,
    /// Where it looks.
    pub face: Face,
    /// The leak.
    pub leak: PowerLaw,
    /// Height of its middle, m.
    pub height_m: f64,
    /// Height it is spread over, m.
    pub spread_m: f64,
}

/// A leak or opening between two zones, or between a zone and a neighbour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartyLeak {
    /// Index of the zone.
    pub zone: usize,
    /// What lies beyond.
    pub beyond: Beyond,
    /// The leak.
    pub leak: PowerLaw,
    /// Height of its middle, m.
    pub height_m: f64,
}

/// What lies beyond an inner boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// Another zone, by index.
    Zone(usize),
    /// A neighbour, by index.
    Neighbour(usize),
}

/// A building as the network sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Number of zones.
    pub zones: usize,
    /// Number of neighbours.
    pub neighbours: usize,
    /// Leaks to outside.
    pub facades: Vec<FacadeLeak>,
    /// Leaks inside.
    pub parties: Vec<PartyLeak>,
    /// Height of the eaves, m: the wind's reference.
    pub eaves_m: f64,
    /// Ground the wind comes over.
    pub terrain: Terrain,
    /// How sheltered it stands.
    pub shelter: Shelter,
}

/// One moment's weather, temperatures and fans.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// Wind at the station, m/s.
    pub wind_m_s: f64,
    /// Direction it comes from, degrees clockwise from north.
    pub from_deg: f64,
    /// Outdoor temperature, °C.
    pub outside_c: f64,
    /// Temperature of each zone, °C.
    pub zones_c: Vec<f64>,
    /// Pressure (against outdoor air at rest, at height zero), Pa, and temperature, °C, of each neighbour.
    pub neighbours: Vec<(f64, f64)>,
    /// Supply less extract of each zone, m³/h.
    pub surplus_m3_h: Vec<f64>,
    /// Barometric pressure, Pa.
    pub barometer_pa: f64,
}

/// Air of one zone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ZoneAir {
    /// Outdoor air in through leaks, kg/s.
    pub from_outside_kg_s: f64,
    /// Air in from neighbours, kg/s.
    pub from_neighbours_kg_s: f64,
    /// Air in from other zones, kg/s.
    pub from_zones_kg_s: f64,
    /// Pressure against outdoor air at rest, at height zero, Pa.
    pub pressure_pa: f64,
}

/// The network of a plan, laid out for many moments.
#[derive(Clone, Debug)]
pub struct Air {
    plan: Plan,
    network: Network,
    /// Zone and node of the other side, for each link.
    ends: Vec<(usize, usize)>,
    /// Index of the first fan link; one a zone.
    first_fan: usize,
    start: Vec<f64>,
    /// Flows of the last moment.
    flows: Vec<f64>,
}

impl Air {
    /// Lays out the network. Nodes: zones, then neighbours, then one outside a façade leak, then still air.
    ///
    /// # Errors
    /// [`NetworkError`] for a zone or neighbour that is not there, a leak outside its range, or a zone without any way out.
    pub fn new(plan: Plan) -> Result<Self, NetworkError> {
        let still = plan.zones + plan.neighbours + plan.facades.len();
        let bad =
            |at| NetworkError::BadValue { at, what: "a leak names a zone or neighbour that is not there" };
        let law = |leak: PowerLaw| Law::Leak {
            coefficient: leak.coefficient_m3_h / 3600.0,
            exponent: leak.exponent,
        };
        let half = |leak: PowerLaw| Law::Leak {
            coefficient: leak.coefficient_m3_h / 7200.0,
            exponent: leak.exponent,
        };
        let mut links = Vec::new();
        let mut ends = Vec::new();
        for (i, f) in plan.facades.iter().enumerate() {
            if f.zone >= plan.zones {
                return Err(bad(i));
            }
            let node = plan.zones + plan.neighbours + i;
            // Two halves at the Gauss points of the height: exact for a linear stack with n = 1, within 1 % else.
            for side in [-1.0, 1.0] {
                let height_m = f.height_m + side * f.spread_m / 12.0_f64.sqrt();
                links.push(Link { from: node, to: f.zone, height_m, law: half(f.leak) });
                ends.push((f.zone, node));
            }
        }
        for (i, p) in plan.parties.iter().enumerate() {
            let beyond = match p.beyond {
                Beyond::Zone(z) if z < plan.zones => z,
                Beyond::Neighbour(n) if n < plan.neighbours => plan.zones + n,
                _ => return Err(bad(i)),
            };
            if p.zone >= plan.zones {
                return Err(bad(i));
            }
            links.push(Link { from: beyond, to: p.zone, height_m: p.height_m, law: law(p.leak) });
            ends.push((p.zone, beyond));
        }
        let first_fan = links.len();
        for zone in 0..plan.zones {
            links.push(Link { from: still, to: zone, height_m: 0.0, law: Law::Fan { flow_kg_s: 0.0 } });
        }
        let nodes: Vec<Node> = (0..=still)
            .map(|i| Node { pressure_pa: (i >= plan.zones).then_some(0.0), density_kg_m3: 1.2 })
            .collect();
        let network = Network::new(&nodes, links)?;
        Ok(Self { start: vec![0.0; still + 1], flows: Vec::new(), plan, network, ends, first_fan })
    }

    /// Returns the plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Returns the air of every zone at a moment.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`] where the moment's lists do not fit the plan; else as [`Network::solve`].
    pub fn at(&mut self, moment: &Moment) -> Result<Vec<ZoneAir>, NetworkError> {
        let plan = &self.plan;
        let lists = [
            (moment.zones_c.len(), plan.zones),
            (moment.surplus_m3_h.len(), plan.zones),
            (moment.neighbours.len(), plan.neighbours),
        ];
        if let Some(at) = lists.iter().position(|(a, b)| a != b) {
            return Err(NetworkError::BadValue { at, what: "a moment must give every zone and neighbour" });
        }
        let density = |t| air_density_kg_m3(t, moment.barometer_pa);
        let outside = density(moment.outside_c);
        let mut nodes: Vec<Node> =
            moment.zones_c.iter().map(|&t| Node { pressure_pa: None, density_kg_m3: density(t) }).collect();
        nodes.extend(
            moment.neighbours.iter().map(|&(p, t)| Node { pressure_pa: Some(p), density_kg_m3: density(t) }),
        );
        let wind = local_wind_m_s(moment.wind_m_s, plan.eaves_m, plan.terrain);
        nodes.extend(plan.facades.iter().map(|f| {
            let coefficient = match f.face {
                Face::Wall(azimuth) => wall_coefficient(moment.from_deg - azimuth, plan.shelter),
                Face::Roof => roof_coefficient(plan.shelter),
                Face::Still => 0.0,
            };
            let pressure = wind_pressure_pa(coefficient, outside, wind);
            Node { pressure_pa: Some(pressure), density_kg_m3: outside }
        }));
        nodes.push(Node { pressure_pa: Some(0.0), density_kg_m3: outside });
        for (zone, surplus) in moment.surplus_m3_h.iter().enumerate() {
            let flow_kg_s = surplus / 3600.0 * nodes[zone].density_kg_m3;
            self.network.set_law(self.first_fan + zone, Law::Fan { flow_kg_s });
        }
        let solution = self.network.solve(&nodes, &self.start)?;
        self.start.copy_from_slice(&solution.pressures_pa);
        self.flows = solution.flows_kg_s;
        Ok(self.gather(&self.flows, &solution.pressures_pa))
    }

    /// Returns the flows through [`Plan::parties`] at the last moment solved, kg/s, positive into the leak's own zone;
    /// empty before the first.
    pub fn party_flows_kg_s(&self) -> &[f64] {
        let facades = 2 * self.plan.facades.len();
        self.flows.get(facades..facades + self.plan.parties.len()).unwrap_or(&[])
    }

    fn gather(&self, flows: &[f64], pressures: &[f64]) -> Vec<ZoneAir> {
        let plan = &self.plan;
        let mut air: Vec<ZoneAir> =
            (0..plan.zones).map(|z| ZoneAir { pressure_pa: pressures[z], ..ZoneAir::default() }).collect();
        for (&(zone, beyond), &flow) in self.ends.iter().zip(flows) {
            if beyond < plan.zones {
                air[zone].from_zones_kg_s += flow.max(0.0);
                air[beyond].from_zones_kg_s += (-flow).max(0.0);
            } else if beyond < plan.zones + plan.neighbours {
                air[zone].from_neighbours_kg_s += flow.max(0.0);
            } else {
                air[zone].from_outside_kg_s += flow.max(0.0);
            }
        }
        air
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn school() -> Plan {
        // The demonstration's boundary: four walls, roof, party floor; flows at 50 Pa as its final test.
        let facade = |face, flow: f64, height_m: f64, spread_m: f64| FacadeLeak {
            zone: 0,
            face,
            leak: PowerLaw::through(flow, 50.0, 0.65),
            height_m,
            spread_m,
        };
        Plan {
            zones: 1,
            neighbours: 1,
            facades: vec![
                facade(Face::Wall(168.0), 120.0, 1.8, 3.6),
                facade(Face::Wall(348.0), 140.0, 1.8, 3.6),
                facade(Face::Wall(78.0), 70.0, 1.8, 3.6),
                facade(Face::Wall(258.0), 80.0, 1.8, 3.6),
                facade(Face::Roof, 122.0, 3.6, 0.0),
            ],
            parties: vec![PartyLeak {
                zone: 0,
                beyond: Beyond::Neighbour(0),
                leak: PowerLaw::through(219.0, 50.0, 0.66),
                height_m: 0.0,
            }],
            eaves_m: 8.0,
            terrain: Terrain::Urban,
            shelter: Shelter::HalfHeight,
        }
    }

    fn moment(wind: f64, from: f64, outside: f64, surplus: f64) -> Moment {
        Moment {
            wind_m_s: wind,
            from_deg: from,
            outside_c: outside,
            zones_c: vec![20.0],
            neighbours: vec![(0.0, 20.0)],
            surplus_m3_h: vec![surplus],
            barometer_pa: 98_800.0,
        }
    }

    #[test]
    fn still_and_even_air_does_not_move() {
        let mut air = Air::new(school()).unwrap();
        let zone = air.at(&moment(0.0, 0.0, 20.0, 0.0)).unwrap()[0];
        assert!(zone.from_outside_kg_s < 1e-9 && zone.from_neighbours_kg_s < 1e-9, "{zone:?}");
    }

    #[test]
    fn a_hood_below_draws_air_down() {
        let mut air = Air::new(school()).unwrap();
        let mut m = moment(1.0, 200.0, 20.0, 0.0);
        let quiet = air.at(&m).unwrap()[0];
        m.neighbours[0].0 = 6.0;
        let pushed = air.at(&m).unwrap()[0];
        // With the neighbour at +6 Pa its air comes up: 219·(6/50)^0.66 = 54 m³/h, less what the zone's own pressure rises.
        assert!(pushed.from_neighbours_kg_s > quiet.from_neighbours_kg_s);
        assert!(pushed.from_neighbours_kg_s * 3000.0 > 25.0, "{pushed:?}");
    }

    #[test]
    fn what_is_not_there_is_named() {
        let mut plan = school();
        plan.parties[0].beyond = Beyond::Zone(4);
        assert!(Air::new(plan).is_err());
        let mut air = Air::new(school()).unwrap();
        let mut m = moment(1.0, 0.0, 0.0, 0.0);
        m.zones_c.clear();
        assert!(air.at(&m).is_err());
    }

    proptest! {
        #[test]
        fn coefficients_are_even_and_continuous(a in -720.0..720.0f64) {
            for s in [Shelter::Exposed, Shelter::HalfHeight, Shelter::FullHeight] {
                prop_assert!((wall_coefficient(a, s) - wall_coefficient(-a, s)).abs() < 1e-9);
                prop_assert!((wall_coefficient(a, s) - wall_coefficient(a + 0.01, s)).abs() < 1e-3);
                prop_assert!((-0.7..=0.7).contains(&wall_coefficient(a, s)));
            }
        }

        #[test]
        fn more_wind_never_less_air(u in 0.0..10.0f64, from in 0.0..360.0f64) {
            let mut air = Air::new(school()).unwrap();
            let a = air.at(&moment(u, from, 20.0, 0.0)).unwrap()[0];
            let b = air.at(&moment(u + 0.5, from, 20.0, 0.0)).unwrap()[0];
            prop_assert!(b.from_outside_kg_s + b.from_neighbours_kg_s + 1e-9 >= a.from_outside_kg_s + a.from_neighbours_kg_s);
        }

        #[test]
        fn mass_closes_zone_by_zone(u in 0.0..10.0f64, t in -15.0..35.0f64, surplus in -100.0..100.0f64) {
            let mut air = Air::new(school()).unwrap();
            // All that comes in must drive out: with a large surplus nothing comes in through the walls.
            let zone = air.at(&moment(u, 0.0, t, surplus)).unwrap()[0];
            prop_assert!(zone.from_outside_kg_s >= 0.0);
            let huge = air.at(&moment(u, 0.0, t, 5000.0)).unwrap()[0];
            prop_assert!(huge.from_outside_kg_s < 1e-9, "{:?}", huge);
        }
    }
}
