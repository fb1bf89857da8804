//! Elements, windows and joints sorted into zones, with the films on their faces.

use building::model::{
    AssemblyId, Beyond, Building, Element, ElementKind, JunctionKind, LayerKind, Opening, OpeningId, UnitId,
    UnitSolar, UnitThermal,
};
use building::{Resolved, ValueKey};
use climate::shade::Skyline;
use climate::{Climate, ground as soil_temperature};
use fabric::ground::{FloorPlan, hourly, monthly};
use fabric::layers::film::{Direction, RSE_M2K_W, black_radiative_w_m2k, rsi_m2k_w};
use fabric::transient::ModalElement;
use matter::moist_air;
use numeric::pow;
use numeric::scalar::{atan, cos, sin};

use super::fabric_of::{AssemblyUse, Back, ground_transfer, own_layers, refused, soil};
use super::sun::{Facing, Sun, facing};
use super::zones::Zones;
use super::{Frame, airflow};
use crate::error::YearError;
use crate::kernel::input::{
    Blind, Buffer, Drivers, Element as KernelElement, GivenSeries, Glass, InsideFace, Model, NO_FILM_W_M2K,
    Outside, OutsideFilm, Part, Surroundings,
};

/// Long-wave emissivity of inside faces, glass included.
const INSIDE_EMISSIVITY: f64 = 0.9;
/// Temperature at which inside radiation is linearised, °C.
const INSIDE_RADIANT_C: f64 = 20.0;
/// Solar absorptance of inside faces.
const INSIDE_ABSORPTANCE: f64 = 0.6;
/// Share of diffuse sun inside that leaves again through glass it falls on. Judgement for coated units.
const GLASS_LOSS: f64 = 0.4;
/// Share of the sun that light furnishing gives to the air at once: EN ISO 52016-1, from memory.
const SUN_TO_AIR: f64 = 0.10;
/// Convective part of the outside film: `4 + 4 v`, ISO 6946 Annex A, v at the surface.
const STILL_FILM_W_M2K: f64 = 4.0;
const FILM_PER_M_S: f64 = 4.0;
/// Convective share of the panes' inward heat: inside convection over the whole inside coefficient.
const INWARD_CONVECTIVE: f64 = 0.33;
/// Period of the daily moisture buffer, s, and vapour transfer coefficient of inside surfaces, kg/(m²·s·Pa).
const BUFFER_PERIOD_S: f64 = 86_400.0;
const SURFACE_VAPOUR_KG_M2SPA: f64 = 2.5e-8;
/// Vapour permeability of still air, kg/(m·s·Pa).
const AIR_PERMEABILITY_KG_MSPA: f64 = 2.0e-10;

/// One kernel element and where its numbers come from.
#[derive(Clone, Debug)]
struct Group {
    usage: usize,
    zone: usize,
    area_m2: f64,
    /// Area times radiative coefficient, to be divided by the area.
    area_hr: f64,
    convection: f64,
    outside: Behind,
    part: Part,
    floor_area_m2: f64,
    planes: Vec<(Facing, f64)>,
    /// Face in the other zone: zone, Σ area·h_r, convection.
    far: Option<(usize, f64, f64)>,
    roof: bool,
    sun_share: f64,
    far_sun_share: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Behind {
    Air,
    Given(usize),
    Zone(usize),
}

/// Windows of a zone that share what is behind them.
#[derive(Clone, Debug)]
struct WindowGroup {
    zone: usize,
    openings: Vec<OpeningId>,
    area_m2: f64,
    area_hr: f64,
    given: Option<usize>,
    surroundings: usize,
}

/// Glass of one unit and blind in one zone.
#[derive(Clone, Debug)]
struct GlassGroup {
    zone: usize,
    unit: UnitId,
    blind: Option<building::plan::BlindPlan>,
    openings: Vec<OpeningId>,
    glass_m2: f64,
    area_m2: f64,
    aperture: usize,
}

/// Geometry of all surfaces, sorted.
#[derive(Clone, Debug)]
pub(crate) struct Surfaces {
    usages: Vec<AssemblyUse>,
    groups: Vec<Group>,
    surroundings_of_group: Vec<usize>,
    windows: Vec<WindowGroup>,
    glass: Vec<GlassGroup>,
    joints: Vec<(usize, f64, ValueKey)>,
    corrections: Vec<(usize, f64, ValueKey)>,
    /// Joints without a stated Ψ: zone, usage, outside area over inside area, m².
    unstated: Vec<(usize, usize, f64)>,
    /// Length of joints without a stated Ψ, m.
    pub unstated_m: f64,
    buffers: Vec<Option<Buffer>>,
    wind_factor: f64,
}

fn direction_of(element: &Element) -> Direction {
    match element.kind {
        ElementKind::GroundFloor | ElementKind::InnerFloor => Direction::Downwards,
        ElementKind::Partition => Direction::Horizontal,
        _ => Direction::of_tilt(element.tilt_deg),
    }
}

/// Inside convection by direction, W/(m²·K): EN ISO 52016-1, from memory. Between rooms the flow turns, so the
/// horizontal figure stands for both faces.
fn convection(direction: Direction, between: bool) -> f64 {
    if between {
        return 2.5;
    }
    match direction {
        Direction::Upwards => 5.0,
        Direction::Horizontal => 2.5,
        Direction::Downwards => 0.7,
    }
}

fn part_of(element: &Element, between_zones: bool) -> Part {
    match (element.beyond, element.kind) {
        (Beyond::Space(_), _) => {
            if between_zones {
                Part::Between
            } else {
                Part::Mass
            }
        }
        (Beyond::Neighbour(_), _) => Part::Party,
        (Beyond::Ground, _) => Part::Ground,
        (Beyond::Outside, ElementKind::Roof) => Part::Roof,
        (Beyond::Outside, _) => Part::Walls,
    }
}

impl Surfaces {
    pub fn new(
        building: &Building,
        climate: &Climate,
        nominal: &Resolved,
        zones: &Zones,
        drivers: &mut Drivers,
    ) -> Result<Self, YearError> {
        let radiation = Radiation::new(building, zones);
        let mut it = Self {
            usages: Vec::new(),
            groups: Vec::new(),
            surroundings_of_group: Vec::new(),
            windows: Vec::new(),
            glass: Vec::new(),
            joints: joints(building, zones),
            corrections: Vec::new(),
            unstated: Vec::new(),
            unstated_m: 0.0,
            buffers: buffers(building, nominal, zones),
            wind_factor: airflow::wind_factor(building, climate),
        };
        for (i, element) in building.elements.iter().enumerate() {
            if element.net_m2 > 1e-6 {
                it.place(building, climate, nominal, zones, &radiation, i, element, drivers)?;
            }
        }
        it.place_unstated(building, zones);
        it.place_openings(building, zones, &radiation);
        it.share_sun(building, zones);
        it.place_sun(building, climate, drivers);
        Ok(it)
    }

    fn place(
        &mut self,
        building: &Building,
        climate: &Climate,
        nominal: &Resolved,
        zones: &Zones,
        radiation: &Radiation,
        index: usize,
        element: &Element,
        drivers: &mut Drivers,
    ) -> Result<(), YearError> {
        let direction = direction_of(element);
        let zone = zones.zone_of(element.space);
        let (outside, back) = match element.beyond {
            Beyond::Outside => (Behind::Air, Back::Open),
            Beyond::Neighbour(n) => (Behind::Given(n.0), Back::Open),
            Beyond::Space(space) => (Behind::Zone(zones.zone_of(space)), Back::Room),
            Beyond::Ground => {
                let back = ground_back(building, element);
                (Behind::Given(usize::MAX), back)
            }
        };
        let usage = self.usage(building, nominal, element.assembly, direction, back)?;
        if let Some(key) = building.assemblies[element.assembly.0].correction {
            self.corrections.push((zone, element.net_m2, key));
        }
        let floor = matches!(self.usages[usage].back, Back::Floor(_));
        let beside = self.groups.iter().find(|g| floor && g.usage == usage).map(|g| g.outside);
        let outside = if let Some(known) = beside {
            known
        } else if element.beyond == Beyond::Ground {
            let series = ground_series(building, climate, nominal, element, &self.usages[usage])?;
            drivers.given.push(series);
            Behind::Given(drivers.given.len() - 1)
        } else {
            outside
        };
        let between = matches!(outside, Behind::Zone(_));
        let part = part_of(element, matches!(outside, Behind::Zone(other) if other != zone));
        let roof = element.kind == ElementKind::Roof;
        // Faces towards the open with one film are merged: their sol-air temperatures then average exactly.
        let found = self.groups.iter().position(|g| {
            g.usage == usage
                && g.zone == zone
                && g.outside == outside
                && g.part == part
                && g.roof == roof
                && (element.beyond != Beyond::Ground || floor)
        });
        let place = found.unwrap_or_else(|| {
            self.groups.push(Group {
                usage,
                zone,
                area_m2: 0.0,
                area_hr: 0.0,
                convection: convection(direction, between),
                outside,
                part,
                floor_area_m2: 0.0,
                planes: Vec::new(),
                far: None,
                roof,
                sun_share: 0.0,
                far_sun_share: 0.0,
            });
            self.groups.len() - 1
        });
        let group = &mut self.groups[place];
        group.area_m2 += element.net_m2;
        group.area_hr += element.net_m2 * radiation.of_element[index][0];
        if direction == Direction::Downwards {
            group.floor_area_m2 += element.net_m2;
        }
        if outside == Behind::Air {
            add_plane(&mut group.planes, facing(element.azimuth_deg, element.tilt_deg), element.net_m2);
        }
        if let Behind::Zone(other) = outside {
            let far = group.far.get_or_insert((other, 0.0, convection(direction, true)));
            far.1 += element.net_m2 * radiation.of_element[index][1];
        }
        Ok(())
    }

    /// Joints whose Ψ nobody stated get what outside dimensions would have: `U (A_outside − A_inside)` of the elements
    /// that meet there, shared by the length of their joints without Ψ. For joints insulated through, Ψ by outside
    /// dimensions is near zero (common practice, no source); a detail worked out replaces this.
    fn place_unstated(&mut self, building: &Building, zones: &Zones) {
        let inner = |kind: JunctionKind| {
            matches!(
                kind,
                JunctionKind::PartitionRoof | JunctionKind::PartitionFloor | JunctionKind::PartitionWall
            )
        };
        // Stated and unstated length by assembly.
        let mut lengths = vec![[0.0; 2]; building.assemblies.len()];
        for j in &building.junctions {
            if j.opening.is_some() || inner(j.kind) || matches!(j.beyond, Beyond::Space(_)) {
                continue;
            }
            for id in std::iter::once(j.first).chain(j.second) {
                lengths[id.0][usize::from(j.psi.is_none())] += j.length_m;
            }
            if j.psi.is_none() {
                self.unstated_m += j.length_m;
            }
        }
        for e in building.elements.iter().filter(|e| e.beyond == Beyond::Outside) {
            let [stated, open] = lengths[e.assembly.0];
            let share = if stated + open > 0.0 { open / (stated + open) } else { 1.0 };
            let extra = share * (e.net_outside_m2 - e.net_m2);
            let usage = self.usages.iter().position(|u| u.is(e.assembly, direction_of(e), &Back::Open));
            if let Some(usage) = usage.filter(|_| extra.abs() > 1e-9) {
                self.unstated.push((zones.zone_of(e.space), usage, extra));
            }
        }
    }

    fn usage(
        &mut self,
        building: &Building,
        nominal: &Resolved,
        assembly: AssemblyId,
        direction: Direction,
        back: Back,
    ) -> Result<usize, YearError> {
        if let Some(found) = self.usages.iter().position(|u| u.is(assembly, direction, &back)) {
            return Ok(found);
        }
        self.usages.push(AssemblyUse::new(building, nominal, assembly, direction, back)?);
        Ok(self.usages.len() - 1)
    }

    fn place_openings(&mut self, building: &Building, zones: &Zones, radiation: &Radiation) {
        for (i, o) in building.openings.iter().enumerate() {
            let zone = zones.zone_of(o.space);
            let given = match building.elements[o.element.0].beyond {
                Beyond::Neighbour(n) => Some(n.0),
                Beyond::Outside => None,
                // A door between rooms is part of its wall.
                Beyond::Space(_) | Beyond::Ground => continue,
            };
            let found = self.windows.iter().position(|w| w.zone == zone && w.given == given);
            let place = found.unwrap_or_else(|| {
                self.windows.push(WindowGroup {
                    zone,
                    openings: Vec::new(),
                    area_m2: 0.0,
                    area_hr: 0.0,
                    given,
                    surroundings: 0,
                });
                self.windows.len() - 1
            });
            let group = &mut self.windows[place];
            group.openings.push(OpeningId(i));
            group.area_m2 += o.area_m2;
            group.area_hr += o.area_m2 * radiation.of_opening[i];
            if given.is_some() || matches!(building.units[o.unit.0].solar, UnitSolar::None) {
                continue;
            }
            let found =
                self.glass.iter().position(|g| g.zone == zone && g.unit == o.unit && g.blind == o.blind);
            let place = found.unwrap_or_else(|| {
                self.glass.push(GlassGroup {
                    zone,
                    unit: o.unit,
                    blind: o.blind.clone(),
                    openings: Vec::new(),
                    glass_m2: 0.0,
                    area_m2: 0.0,
                    aperture: 0,
                });
                self.glass.len() - 1
            });
            let group = &mut self.glass[place];
            group.openings.push(OpeningId(i));
            group.glass_m2 += o.glass_m2;
            group.area_m2 += o.area_m2;
        }
    }

    /// Transmitted sun falls on floors first; what they reflect is spread over all faces by area and absorptance, and
    /// glass lets part of it out again. A zone without a floor spreads all of it.
    fn share_sun(&mut self, building: &Building, zones: &Zones) {
        for zone in 0..zones.count() {
            let mut floors = 0.0;
            let mut faces = 0.0;
            for g in &self.groups {
                if g.zone == zone {
                    faces += g.area_m2;
                    floors += g.floor_area_m2;
                }
                if let Some((far, ..)) = g.far
                    && far == zone
                {
                    faces += g.area_m2;
                }
            }
            let glass: f64 =
                building.openings.iter().filter(|o| zones.zone_of(o.space) == zone).map(|o| o.glass_m2).sum();
            let left = 1.0 - SUN_TO_AIR;
            let first = if floors > 0.0 { INSIDE_ABSORPTANCE * left } else { 0.0 };
            let spread = faces * INSIDE_ABSORPTANCE + glass * GLASS_LOSS;
            if spread <= 0.0 {
                continue;
            }
            let per_area = (left - first) * INSIDE_ABSORPTANCE / spread;
            for g in &mut self.groups {
                if g.zone == zone {
                    let on_floor = if floors > 0.0 { first * g.floor_area_m2 / floors } else { 0.0 };
                    g.sun_share = on_floor + per_area * g.area_m2;
                }
                if let Some((far, ..)) = g.far
                    && far == zone
                {
                    g.far_sun_share = per_area * g.area_m2;
                }
            }
        }
    }

    fn place_sun(&mut self, building: &Building, climate: &Climate, drivers: &mut Drivers) {
        let mut facings: Vec<Facing> =
            self.groups.iter().flat_map(|g| g.planes.iter().map(|(f, _)| *f)).collect();
        facings.extend(building.openings.iter().map(|o| facing(o.azimuth_deg, o.tilt_deg)));
        let sun = Sun::new(climate, &facings);
        let mut known: Vec<Vec<(Facing, f64)>> = Vec::new();
        let mut surroundings: Vec<Surroundings> = Vec::new();
        let mut seen = |planes: &[(Facing, f64)]| {
            let whole: f64 = planes.iter().map(|(_, a)| a).sum();
            let shares: Vec<(Facing, f64)> = planes.iter().map(|(f, a)| (*f, a / whole)).collect();
            if let Some(i) = known.iter().position(|k| *k == shares) {
                return i;
            }
            surroundings.push(sun.surroundings(planes));
            known.push(shares);
            surroundings.len() - 1
        };
        self.surroundings_of_group =
            self.groups.iter().map(|g| if g.planes.is_empty() { 0 } else { seen(&g.planes) }).collect();
        for w in &mut self.windows {
            let mut planes = Vec::new();
            for id in &w.openings {
                let o = &building.openings[id.0];
                add_plane(&mut planes, facing(o.azimuth_deg, o.tilt_deg), o.area_m2);
            }
            w.surroundings = seen(&planes);
        }
        drivers.surroundings = surroundings;
        for g in &mut self.glass {
            let openings: Vec<&Opening> = g.openings.iter().map(|id| &building.openings[id.0]).collect();
            drivers.apertures.push(sun.aperture(building, &openings, building.units[g.unit.0].panes));
            g.aperture = drivers.apertures.len() - 1;
        }
    }

    /// Fills a model with one sample's surfaces.
    pub fn fill(&self, frame: &Frame<'_>, r: &Resolved, model: &mut Model) -> Result<(), YearError> {
        let building = frame.building;
        for usage in &self.usages {
            model.assemblies.push(usage.element(building, r)?);
        }
        let film = |emissivity: f64| OutsideFilm {
            still_w_m2k: STILL_FILM_W_M2K,
            per_m_s: FILM_PER_M_S * self.wind_factor,
            radiation_w_m2k: emissivity * black_radiative_w_m2k(10.0),
        };
        for (g, surroundings) in self.groups.iter().zip(&self.surroundings_of_group) {
            let face = InsideFace {
                zone: g.zone,
                convection_w_m2k: g.convection,
                radiation_w_m2k: g.area_hr / g.area_m2,
                sun_share: g.sun_share,
                gain_share: 0.0,
            };
            let s = &building.surfaces;
            let (absorptance, emissivity) = if g.roof {
                (s.roof_absorptance, s.roof_emissivity)
            } else {
                (s.wall_absorptance, s.wall_emissivity)
            };
            let outside = match g.outside {
                Behind::Air => Outside::Air {
                    surroundings: *surroundings,
                    absorptance: r[absorptance],
                    film: film(r[emissivity]),
                },
                Behind::Given(series) => Outside::Given {
                    series,
                    film_w_m2k: if g.part == Part::Ground {
                        NO_FILM_W_M2K
                    } else {
                        1.0 / rsi_m2k_w(self.usages[g.usage].direction)
                    },
                },
                Behind::Zone(zone) => {
                    let (_, area_hr, convection) = g.far.unwrap_or((zone, g.area_hr, g.convection));
                    Outside::Zone(InsideFace {
                        zone,
                        convection_w_m2k: convection,
                        radiation_w_m2k: area_hr / g.area_m2,
                        sun_share: g.far_sun_share,
                        gain_share: 0.0,
                    })
                }
            };
            model.elements.push(KernelElement {
                assembly: g.usage,
                area_m2: g.area_m2,
                inside: face,
                outside,
                part: g.part,
            });
        }
        self.fill_windows(building, r, model, film(INSIDE_EMISSIVITY))?;
        for (zone, length, key) in self.joints.iter().chain(&self.corrections) {
            model.zones[*zone].bridges_w_k += length * r[*key];
        }
        for (zone, usage, area) in &self.unstated {
            let films = rsi_m2k_w(self.usages[*usage].direction) + RSE_M2K_W;
            let u = 1.0 / (1.0 / model.assemblies[*usage].conductance_w_m2k + films);
            model.zones[*zone].bridges_w_k += area * u;
        }
        for zone in &mut model.zones {
            // A negative sum (outside-corner conventions) would heat the room; inside lengths never give one.
            zone.bridges_w_k = zone.bridges_w_k.max(0.0);
            zone.sun_to_air = SUN_TO_AIR;
        }
        for (zone, buffer) in model.zones.iter_mut().zip(&self.buffers) {
            zone.buffers.extend(buffer);
        }
        Ok(())
    }

    fn fill_windows(
        &self,
        building: &Building,
        r: &Resolved,
        model: &mut Model,
        film: OutsideFilm,
    ) -> Result<(), YearError> {
        for w in &self.windows {
            let mut conductance = 0.0;
            for id in &w.openings {
                let o = &building.openings[id.0];
                conductance += o.area_m2 * face_to_face(building, o, r)?;
            }
            model.assemblies.push(ModalElement::massless(conductance / w.area_m2));
            model.elements.push(KernelElement {
                assembly: model.assemblies.len() - 1,
                area_m2: w.area_m2,
                inside: InsideFace {
                    zone: w.zone,
                    convection_w_m2k: convection(Direction::Horizontal, false),
                    radiation_w_m2k: w.area_hr / w.area_m2,
                    sun_share: 0.0,
                    gain_share: 0.0,
                },
                outside: match w.given {
                    Some(series) => {
                        Outside::Given { series, film_w_m2k: 1.0 / rsi_m2k_w(Direction::Horizontal) }
                    }
                    // The sun on the panes is counted with the glass, not here.
                    None => Outside::Air { surroundings: w.surroundings, absorptance: 0.0, film },
                },
                part: if w.given.is_some() { Part::Party } else { Part::Windows },
            });
        }
        for g in &self.glass {
            let unit = &building.units[g.unit.0];
            let opaque = unit.opaque_share.map_or(0.0, |key| r[key]);
            let area = match unit.solar {
                UnitSolar::Glazing(key) => r[key] * g.glass_m2,
                UnitSolar::Whole(key) => r[key] * g.area_m2,
                UnitSolar::None => 0.0,
            };
            model.glass.push(Glass {
                zone: g.zone,
                aperture: g.aperture,
                area_m2: area * (1.0 - opaque),
                inward_convective: INWARD_CONVECTIVE,
                blind: g.blind.as_ref().map(|b| Blind {
                    above_w_m2: b.above.map_or(0.0, |key| r[key]),
                    above_c: b.when_warmer_than.map_or(f64::NEG_INFINITY, |key| r[key]),
                    factor: r[b.factor],
                }),
            });
        }
        Ok(())
    }
}

fn add_plane(planes: &mut Vec<(Facing, f64)>, facing: Facing, area: f64) {
    match planes.iter_mut().find(|(f, _)| *f == facing) {
        Some((_, sum)) => *sum += area,
        None => planes.push((facing, area)),
    }
}

/// Whole-window transmittance, W/(m²·K).
pub fn window_u_w_m2k(building: &Building, o: &Opening, r: &Resolved) -> f64 {
    match building.units[o.unit.0].thermal {
        UnitThermal::Whole(key) => r[key],
        UnitThermal::Parts { glazing, frame, edge } => {
            let frame_m2 = (o.area_m2 - o.glass_m2).max(0.0);
            (o.glass_m2 * r[glazing] + frame_m2 * r[frame] + o.glass_edge_m * r[edge]) / o.area_m2
        }
    }
}

/// Conductance between a window's faces: its U without the standard films.
fn face_to_face(building: &Building, o: &Opening, r: &Resolved) -> Result<f64, YearError> {
    let u = window_u_w_m2k(building, o, r);
    let rest = 1.0 / u - rsi_m2k_w(Direction::Horizontal) - RSE_M2K_W;
    if rest > 0.0 {
        Ok(1.0 / rest)
    } else {
        Err(YearError::Missing {
            item: format!("unit.{}", building.units[o.unit.0].name),
            why: format!(
                "U of {u:.2} W/(m²·K) leaves no resistance beside the surface films; write a U below 5.8"
            ),
        })
    }
}

/// Joints towards outdoors and ground, by zone, and points by the zones' shares of what they pass through. Joints towards
/// neighbours count with the neighbour's element only.
fn joints(building: &Building, zones: &Zones) -> Vec<(usize, f64, ValueKey)> {
    let mut all: Vec<(usize, f64, ValueKey)> = building
        .junctions
        .iter()
        .filter(|j| matches!(j.beyond, Beyond::Outside | Beyond::Ground))
        .filter_map(|j| j.psi.map(|psi| (zones.zone_of(j.space), j.length_m, psi)))
        .collect();
    for p in &building.penetrations {
        let Some(chi) = p.plan.chi else { continue };
        let mut area_m2 = std::collections::BTreeMap::new();
        for e in building.elements.iter().filter(|e| e.assembly == p.through && e.beyond == Beyond::Outside) {
            *area_m2.entry(zones.zone_of(e.space)).or_insert(0.0) += e.net_m2;
        }
        let whole: f64 = area_m2.values().sum();
        for (zone, part) in area_m2.iter().filter(|_| whole > 0.0) {
            all.push((*zone, f64::from(p.plan.count) * part / whole, chi));
        }
    }
    all
}

/// Floors of one storey and assembly lie on the ground together: their areas and exposed edges make one plan.
fn ground_back(building: &Building, element: &Element) -> Back {
    let upright = (60.0..120.0).contains(&element.tilt_deg);
    let together = building.elements.iter().filter(|e| {
        e.beyond == Beyond::Ground
            && e.kind == ElementKind::GroundFloor
            && e.storey == element.storey
            && e.assembly == element.assembly
    });
    let (mut area_m2, mut perimeter_m) = (0.0, 0.0);
    for e in together {
        area_m2 += e.net_m2;
        perimeter_m += e.exposed_perimeter_m;
    }
    if upright || perimeter_m <= 0.0 {
        return Back::Soil;
    }
    let wall = element.storey.and_then(|s| building.storeys[s.0].sides.first().map(|side| side.assembly));
    Back::Floor(FloorPlan {
        area_m2,
        perimeter_m,
        wall_thickness_m: wall.map_or(0.3, |a| building.assemblies[a.0].thickness_m),
    })
}

/// Temperature behind an element against ground: the virtual one of ISO 13370 for floors, undisturbed soil one metre
/// behind walls (and floors without exposed edge) at their mean depth.
fn ground_series(
    building: &Building,
    climate: &Climate,
    nominal: &Resolved,
    element: &Element,
    usage: &AssemblyUse,
) -> Result<GivenSeries, YearError> {
    let hours = climate.hours.len();
    let wrap = |why| refused(building, element.assembly, why);
    let temperature_c = match usage.back {
        Back::Floor(plan) => {
            let assembly = &building.assemblies[element.assembly.0];
            let own = own_layers(building, assembly, usage.direction, false, nominal).map_err(wrap)?;
            let transfer = ground_transfer(building, &own, plan, nominal).map_err(wrap)?;
            let inside = monthly::YearlyTemperature::constant(nominal[building.set_points.heating]);
            let outside = monthly::YearlyTemperature::of_months(&climate.monthly_means_c());
            let ground = hourly::floor_element(&transfer, &own, &soil(building, nominal), &inside, &outside)
                .map_err(wrap)?
                .ground;
            (0..hours).map(|h| ground.at_hour(h as f64 + 0.5)).collect()
        }
        _ => {
            let soil = soil(building, nominal);
            let wave = soil_temperature::Harmonic::of_air(climate);
            let depth = element.depth_below_ground_m.max(0.5) + 0.5;
            let diffusivity = soil.conductivity_w_mk / soil.heat_capacity_j_m3k;
            (0..hours)
                .map(|h| soil_temperature::undisturbed_c(&wave, depth, diffusivity, (h as f64 + 0.5) / 24.0))
                .collect()
        }
    };
    Ok(GivenSeries { temperature_c, ..GivenSeries::default() })
}

/// Radiative coefficients of faces: `4 σ T³ / (1/F + (1 − ε)/ε)` with F from `F = 1 / (1 − A F / Σ A F)`.
///
/// Carroll, J. A., 1980, An "MRT method" of computing radiant energy exchange in rooms (from memory). F tends to 1 for
/// a face among many and grows for one that is most of the room.
struct Radiation {
    of_element: Vec<[f64; 2]>,
    of_opening: Vec<f64>,
}

impl Radiation {
    fn new(building: &Building, zones: &Zones) -> Self {
        let mut of_element = vec![[0.0; 2]; building.elements.len()];
        let mut of_opening = vec![0.0; building.openings.len()];
        for zone in 0..zones.count() {
            let mut areas = Vec::new();
            let mut targets: Vec<(bool, usize, usize)> = Vec::new();
            for (i, e) in building.elements.iter().enumerate() {
                let mut face = |side: usize| {
                    areas.push(e.net_m2);
                    targets.push((true, i, side));
                };
                if zones.zone_of(e.space) == zone {
                    face(0);
                }
                if let Beyond::Space(space) = e.beyond
                    && zones.zone_of(space) == zone
                {
                    face(1);
                }
            }
            for (i, o) in building.openings.iter().enumerate() {
                if zones.zone_of(o.space) == zone {
                    areas.push(o.area_m2);
                    targets.push((false, i, 0));
                }
            }
            for ((element, i, side), f) in targets.iter().zip(carroll(&areas)) {
                let black = black_radiative_w_m2k(INSIDE_RADIANT_C);
                let h = black / (1.0 / f + (1.0 - INSIDE_EMISSIVITY) / INSIDE_EMISSIVITY);
                if *element {
                    of_element[*i][*side] = h;
                } else {
                    of_opening[*i] = h;
                }
            }
        }
        Self { of_element, of_opening }
    }
}

/// F of each face. A face larger than all others together has no F; it is held at 4.
fn carroll(areas: &[f64]) -> Vec<f64> {
    let mut f = vec![1.0; areas.len()];
    for _ in 0..60 {
        let sum: f64 = areas.iter().zip(&f).map(|(a, f)| a * f).sum();
        for (f, a) in f.iter_mut().zip(areas) {
            let share = (a * *f / sum).min(0.75);
            *f = 1.0 / (1.0 - share);
        }
    }
    f
}

/// Daily moisture buffer of each zone's inside faces, by [`Buffer::effective_penetration`].
///
/// The slope of the sorption curve is taken from the water content at 80 %, the permeability is the innermost layer's.
/// Faces whose material has no hygric figures do not buffer.
fn buffers(building: &Building, nominal: &Resolved, zones: &Zones) -> Vec<Option<Buffer>> {
    let saturation = moist_air::saturation_pressure(20.0);
    let mut buffers: Vec<Option<Buffer>> = vec![None; zones.count()];
    for e in &building.elements {
        let layers = &building.assemblies[e.assembly.0].layers;
        let mut face = |zone: usize, layer: Option<&building::model::Layer>| {
            let Some(LayerKind::Solid(id)) = layer.map(|l| &l.kind) else { return };
            let material = &building.materials[id.0];
            let slope = material
                .library
                .as_deref()
                .and_then(matter::find)
                .and_then(|m| m.hygric.as_ref())
                .and_then(|h| h.w80_kg_m3)
                .map(|w80| w80 / 0.8);
            let factor = material.vapour_factor_dry.map(|key| nominal[key]);
            if let (Some(slope), Some(factor)) = (slope, factor)
                && slope > 0.0
                && factor.is_finite()
                && factor > 0.0
            {
                let face = Buffer::effective_penetration(
                    e.net_m2,
                    slope,
                    AIR_PERMEABILITY_KG_MSPA / factor,
                    SURFACE_VAPOUR_KG_M2SPA,
                    BUFFER_PERIOD_S,
                    saturation,
                );
                let zone = buffers[zone].get_or_insert(Buffer { capacity_kg: 0.0, conductance_kg_s_pa: 0.0 });
                zone.capacity_kg += face.capacity_kg;
                zone.conductance_kg_s_pa += face.conductance_kg_s_pa;
            }
        };
        face(zones.zone_of(e.space), layers.last());
        if let Beyond::Space(space) = e.beyond {
            face(zones.zone_of(space), layers.first());
        }
    }
    buffers
}

/// What stands on each opening's horizon: the building's shades, seen from the middle of its frame.
pub(super) fn skylines(building: &Building, openings: &[&Opening]) -> Vec<Option<Skyline>> {
    openings.iter().map(|o| skyline(building, o)).collect()
}

fn skyline(building: &Building, o: &Opening) -> Option<Skyline> {
    if building.shades.is_empty() {
        return None;
    }
    let [x, y, z] = o.centre_m;
    let points: Vec<[f64; 2]> = (0..180)
        .map(|i| {
            let azimuth = f64::from(i) * 2.0;
            let on_plan = (azimuth - building.site.north_deg).to_radians();
            let (dx, dy) = (sin(on_plan), cos(on_plan));
            let mut height: f64 = 0.0;
            for shade in &building.shades {
                for (a, b) in shade.outline.edges() {
                    if let Some(distance) = ray([x, y], [dx, dy], a, b) {
                        height = height.max(atan((shade.top_m - z) / distance.max(0.1)).to_degrees());
                    }
                }
            }
            [azimuth, height.clamp(0.0, 90.0)]
        })
        .collect();
    // Azimuths rise and heights are clamped, so this is always `Ok`.
    Skyline::new(points).ok()
}

/// Distance along a ray to an edge, if it meets it.
fn ray(from: [f64; 2], d: [f64; 2], a: [f64; 2], b: [f64; 2]) -> Option<f64> {
    let e = [b[0] - a[0], b[1] - a[1]];
    let across = d[0] * e[1] - d[1] * e[0];
    if across.abs() < 1e-12 {
        return None;
    }
    let to = [a[0] - from[0], a[1] - from[1]];
    let along_ray = (to[0] * e[1] - to[1] * e[0]) / across;
    let along_edge = (to[0] * d[1] - to[1] * d[0]) / across;
    (along_ray > 0.0 && (0.0..=1.0).contains(&along_edge)).then_some(along_ray)
}

/// Power law used by [`airflow::wind_factor`]; here because it needs nothing else.
pub(super) fn power_law(height_m: f64, layer_m: f64, exponent: f64) -> f64 {
    pow(height_m / layer_m, exponent)
}
