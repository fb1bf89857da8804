//! Steady transmittance of layered plane elements, homogeneous and bridged (ISO 6946).
//!
//! Start at [`Assembly::transmittance`]. Layers run inside → outside. [`Assembly::transient_stack`] gives the
//! homogeneous layers that stand for the assembly in time.
//!
//! Not here: thermal bridges that are no layer (`thermal_bridge`), the ground (`ground`), glazing (`glazing`).
//! Not for: layers bridged by metal, façades that are part of a ventilation system.

pub mod air;
pub mod correction;
pub mod film;
pub mod taper;

use crate::error::{FabricError, positive, within};
use crate::transient::ConductionLayer;
use crate::working::Working;
use air::{AirSpace, Ventilation};
use correction::{Fasteners, Gaps};
use film::Direction;

/// A solid, as conduction sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Substance {
    /// Conductivity, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat capacity, J/(kg·K).
    pub specific_heat_j_kgk: f64,
}

/// What fills a layer, or a share of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Filling {
    /// A solid.
    Solid(Substance),
    /// Air; its thickness is the layer's.
    Air(AirSpace),
}

/// A second filling that crosses a layer: studs, joists, battens, mortar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bridge {
    /// What it is made of.
    pub filling: Filling,
    /// Share of the area, 0..1.
    pub fraction: f64,
    /// Layers with the same mark have their bridges over one another, as battens that stand on the studs; layers
    /// with unlike marks, or none, cross at random.
    pub line: Option<u8>,
}

/// One layer of an assembly.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name, for the working.
    pub name: String,
    /// What it is.
    pub body: Body,
}

/// Kinds of layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Body {
    /// One filling, perhaps crossed by a bridge.
    Filled {
        /// Thickness, m.
        thickness_m: f64,
        /// The filling.
        main: Filling,
        /// What crosses it.
        bridge: Option<Bridge>,
    },
    /// A stated resistance without mass, m²·K/W.
    Resistance(f64),
}

impl Layer {
    /// Returns a layer of one solid.
    pub fn solid(name: impl Into<String>, thickness_m: f64, substance: Substance) -> Self {
        let body = Body::Filled { thickness_m, main: Filling::Solid(substance), bridge: None };
        Self { name: name.into(), body }
    }

    /// Returns a layer of one solid crossed by another.
    pub fn bridged(
        name: impl Into<String>,
        thickness_m: f64,
        main: Substance,
        bridge: Substance,
        fraction: f64,
        line: Option<u8>,
    ) -> Self {
        let bridge = Some(Bridge { filling: Filling::Solid(bridge), fraction, line });
        Self { name: name.into(), body: Body::Filled { thickness_m, main: Filling::Solid(main), bridge } }
    }

    /// Returns an air space.
    pub fn air(name: impl Into<String>, space: AirSpace) -> Self {
        let body = Body::Filled { thickness_m: space.thickness_m, main: Filling::Air(space), bridge: None };
        Self { name: name.into(), body }
    }

    /// Returns a layer that only resists.
    pub fn resistance(name: impl Into<String>, resistance_m2k_w: f64) -> Self {
        Self { name: name.into(), body: Body::Resistance(resistance_m2k_w) }
    }

    fn air_space(&self) -> Option<&AirSpace> {
        match &self.body {
            Body::Filled { main: Filling::Air(space), .. } => Some(space),
            _ => None,
        }
    }
}

/// Corrections that apply to an assembly; the numbers are layer indices, from 0 at the inside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Corrections {
    /// How well a layer of insulation is fitted.
    pub gaps: Vec<(usize, Gaps)>,
    /// Metal fasteners through a layer of insulation.
    pub fasteners: Vec<(usize, Fasteners)>,
    /// Rain under inverted insulation: layer, rain in mm/day, f·x in W·day/(m²·K·mm).
    pub inverted: Option<(usize, f64, f64)>,
}

/// A plane element.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// Layers, inside → outside.
    pub layers: Vec<Layer>,
    /// Direction of heat flow.
    pub direction: Direction,
    /// Inside surface resistance, m²·K/W.
    pub rsi_m2k_w: f64,
    /// Outside surface resistance, m²·K/W; that of the inside for elements between rooms.
    pub rse_m2k_w: f64,
    /// Corrections.
    pub corrections: Corrections,
}

/// A steady transmittance with all that led to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Transmittance {
    /// U with corrections, W/(m²·K).
    pub u_w_m2k: f64,
    /// U before corrections, W/(m²·K).
    pub uncorrected_u_w_m2k: f64,
    /// Total resistance before corrections, m²·K/W.
    pub total_m2k_w: f64,
    /// Upper limit of the total resistance (heat flows straight through), m²·K/W.
    pub upper_m2k_w: f64,
    /// Lower limit (each layer's faces are isothermal), m²·K/W.
    pub lower_m2k_w: f64,
    /// Largest relative error of the total: `(upper − lower) / (2 total)`.
    pub relative_error: f64,
    /// Resistance of each layer that counts, in the lower limit, m²·K/W.
    pub layers_m2k_w: Vec<f64>,
    /// What a reader must know about the method's limits here.
    pub notes: Vec<String>,
    /// The working.
    pub working: Working,
}

/// The homogeneous layers that stand for an assembly in time, with its surface resistances.
#[derive(Clone, Debug, PartialEq)]
pub struct TransientStack {
    /// Layers, inside → outside.
    pub layers: Vec<ConductionLayer>,
    /// Inside surface resistance in the steady transmittance, m²·K/W.
    pub rsi_m2k_w: f64,
    /// Outside surface resistance in the steady transmittance, m²·K/W.
    pub rse_m2k_w: f64,
}

impl Assembly {
    /// Returns an assembly with the conventional surface resistances, outdoors outside.
    pub fn new(layers: Vec<Layer>, direction: Direction) -> Self {
        Self {
            layers,
            direction,
            rsi_m2k_w: film::rsi_m2k_w(direction),
            rse_m2k_w: film::RSE_M2K_W,
            corrections: Corrections::default(),
        }
    }

    /// Returns an assembly between two rooms: the inside resistance on both faces.
    pub fn between_rooms(layers: Vec<Layer>, direction: Direction) -> Self {
        let rs = film::rsi_m2k_w(direction);
        Self { rse_m2k_w: rs, ..Self::new(layers, direction) }
    }

    /// Works out the transmittance by the combined method.
    ///
    /// ```text
    /// 1/R′ = Σ_paths f / (Rsi + Σ R + Rse)        straight paths
    /// 1/R_j = Σ_parts f / R                       R″ = Rsi + Σ R_j + Rse
    /// R_T = (R′ + R″) / 2                         U = 1 / R_T + ΔU
    /// ```
    /// A well-ventilated air space ends the element, with Rsi outside it; a slightly ventilated one counts in
    /// proportion between both. ΔU is left out while it is under 3 % of U.
    ///
    /// # Errors
    /// [`FabricError`] names the layer and quantity at fault.
    /// # Source
    /// ISO 6946:2017, 6.7, 6.9 and Annex F (from memory).
    pub fn transmittance(&self) -> Result<Transmittance, FabricError> {
        self.check()?;
        let mut working = Working::new();
        let mut notes = Vec::new();
        let parts = self.parts(&mut notes)?;
        let core = self.core(&parts, &mut working);
        note_limits(&core, &mut notes);
        let plain = 1.0 / core.total;
        working.step("U₀", "transmittance before corrections", plain, "W/(m²·K)", "ISO 6946 6.4");
        let addition = self.addition(&core, &mut working)?;
        let counts = addition >= 0.03 * plain;
        if addition > 0.0 && !counts {
            notes.push(format!("corrections of {addition:.4} W/(m²·K) are under 3 % of U and left out"));
        }
        let u = if counts { plain + addition } else { plain };
        working.step("U", "transmittance", u, "W/(m²·K)", "ISO 6946 6.4, Annex F");
        Ok(Transmittance {
            u_w_m2k: u,
            uncorrected_u_w_m2k: plain,
            total_m2k_w: core.total,
            upper_m2k_w: core.upper,
            lower_m2k_w: core.lower,
            relative_error: (core.upper - core.lower) / (2.0 * core.total),
            layers_m2k_w: core.layers,
            notes,
            working,
        })
    }

    /// Returns the homogeneous layers that stand for the assembly in time.
    ///
    /// Rule: every layer keeps its thickness and its whole mass (densities and heat by area share). Layers that
    /// count keep the resistance of the lower limit; what the combined method and the corrections add or take is
    /// shared among the bridged layers in proportion to their resistance, or, without any, given to the layer of
    /// largest resistance. So the steady transmittance equals [`transmittance`](Self::transmittance) exactly and
    /// the mass is right; the spread of temperatures along a bridged layer is averaged out. Air spaces resist
    /// only. What lies outside a well-ventilated space is left out.
    ///
    /// # Errors
    /// As [`transmittance`](Self::transmittance), and [`FabricError::Inconsistent`] when the corrections leave a
    /// layer no resistance.
    pub fn transient_stack(&self) -> Result<TransientStack, FabricError> {
        let steady = self.transmittance()?;
        let counted = steady.layers_m2k_w.len();
        let rse = if counted < self.layers.len() { self.rsi_m2k_w } else { self.rse_m2k_w };
        let rest = 1.0 / steady.u_w_m2k - self.rsi_m2k_w - rse;
        let mut resistances = steady.layers_m2k_w.clone();
        let excess = rest - resistances.iter().sum::<f64>();
        let bridged: Vec<usize> = (0..counted)
            .filter(|&k| matches!(self.layers[k].body, Body::Filled { bridge: Some(_), .. }))
            .collect();
        let takers = if bridged.is_empty() { largest(&resistances) } else { bridged };
        let base: f64 = takers.iter().map(|&k| resistances[k]).sum();
        let factor = 1.0 + excess / base;
        if factor <= 0.0 || factor.is_nan() {
            return Err(FabricError::Inconsistent {
                what: "assembly in time".into(),
                detail: format!(
                    "corrections to U take more resistance ({:.3} m²·K/W) than the layers they act on have ({base:.3})",
                    -excess
                ),
            });
        }
        for k in takers {
            resistances[k] *= factor;
        }
        let layers =
            self.layers[..counted].iter().zip(&resistances).map(|(layer, r)| in_time(layer, *r)).collect();
        Ok(TransientStack { layers, rsi_m2k_w: self.rsi_m2k_w, rse_m2k_w: rse })
    }

    fn check(&self) -> Result<(), FabricError> {
        for (quantity, value) in [("Rsi, m²·K/W", self.rsi_m2k_w), ("Rse, m²·K/W", self.rse_m2k_w)] {
            within(|| "assembly".into(), quantity, value, 0.0, 1.0)?;
        }
        if self.layers.is_empty() {
            return Err(FabricError::NoResistance { what: "assembly".into() });
        }
        let count = self.layers.len();
        let c = &self.corrections;
        let named = c.gaps.iter().map(|(k, _)| *k).chain(c.fasteners.iter().map(|(k, _)| *k));
        for k in named.chain(c.inverted.iter().map(|(k, _, _)| *k)) {
            if k >= count {
                return Err(FabricError::Inconsistent {
                    what: "corrections".into(),
                    detail: format!("layer {} is named, but there are only {count}", k + 1),
                });
            }
        }
        Ok(())
    }

    /// Resistance of every part of every layer, as if unventilated.
    fn parts(&self, notes: &mut Vec<String>) -> Result<Vec<Parts>, FabricError> {
        self.layers
            .iter()
            .enumerate()
            .map(|(k, layer)| {
                let what = || format!("layer {} ({})", k + 1, layer.name);
                match layer.body {
                    Body::Resistance(r) => {
                        within(what, "resistance, m²·K/W", r, 0.0, 1e3)?;
                        Ok(Parts { main: r, bridge: None })
                    }
                    Body::Filled { thickness_m, main, bridge } => {
                        positive(what, "thickness, m", thickness_m)?;
                        let own = self.part(&what, thickness_m, &main)?;
                        let bridge = match bridge {
                            None => None,
                            Some(b) => {
                                within(what, "share of the bridge", b.fraction, 0.0, 1.0)?;
                                note_metal(&b, &layer.name, notes);
                                Some((self.part(&what, thickness_m, &b.filling)?, b.fraction, b.line))
                            }
                        };
                        Ok(Parts { main: own, bridge })
                    }
                }
            })
            .collect()
    }

    fn part(
        &self,
        what: &dyn Fn() -> String,
        thickness_m: f64,
        filling: &Filling,
    ) -> Result<f64, FabricError> {
        match filling {
            Filling::Solid(s) => {
                Ok(thickness_m / positive(what, "conductivity, W/(m·K)", s.conductivity_w_mk)?)
            }
            Filling::Air(space) => {
                if space.thickness_m != thickness_m {
                    return Err(FabricError::Inconsistent {
                        what: what(),
                        detail: format!(
                            "the air space is {} m thick in a layer of {thickness_m} m; give both alike",
                            space.thickness_m
                        ),
                    });
                }
                space.resistance_m2k_w(self.direction)
            }
        }
    }

    /// The combined method, with ventilated spaces resolved.
    fn core(&self, parts: &[Parts], working: &mut Working) -> Core {
        let vented = self.layers.iter().enumerate().find_map(|(k, layer)| {
            match layer.air_space().map(AirSpace::ventilation) {
                None | Some(Ventilation::Unventilated) => None,
                Some(other) => Some((k, other)),
            }
        });
        let rsi = working.step("Rsi", "inside surface", self.rsi_m2k_w, "m²·K/W", "ISO 6946 6.8");
        let core = match vented {
            None => Core::of(parts, rsi, self.rse_m2k_w),
            Some((k, Ventilation::Well)) => Core::of(&parts[..k], rsi, rsi),
            Some((k, Ventilation::Slightly(share))) => {
                let shut = Core::of(parts, rsi, self.rse_m2k_w);
                let open = Core::of(&parts[..k], rsi, rsi);
                working.step("R_T,u", "total, air space shut", shut.total, "m²·K/W", "ISO 6946 6.9.3");
                working.step("R_T,v", "total, air space open", open.total, "m²·K/W", "ISO 6946 6.9.3");
                Core::between(shut, &open, share, k)
            }
            Some((_, Ventilation::Unventilated)) => Core::of(parts, rsi, self.rse_m2k_w),
        };
        for (k, r) in core.layers.iter().enumerate() {
            working.step(format!("R{}", k + 1), self.layers[k].name.clone(), *r, "m²·K/W", "ISO 6946 6.7.1");
        }
        working.step("Rse", "outside surface", core.rse, "m²·K/W", "ISO 6946 6.8");
        working.step("R′", "upper limit", core.upper, "m²·K/W", "ISO 6946 6.7.2.3");
        working.step("R″", "lower limit", core.lower, "m²·K/W", "ISO 6946 6.7.2.4");
        working.step("R_T", "total resistance", core.total, "m²·K/W", "ISO 6946 6.7.2.2");
        core
    }

    fn addition(&self, core: &Core, working: &mut Working) -> Result<f64, FabricError> {
        let mut sum = 0.0;
        let r1 = |k: usize| core.layers.get(k).copied().unwrap_or(0.0);
        for &(k, gaps) in &self.corrections.gaps {
            let add = correction::gap_addition_w_m2k(gaps, r1(k), core.total);
            sum += working.step("ΔUg", "gaps in the insulation", add, "W/(m²·K)", "ISO 6946 F.2");
        }
        for (k, fasteners) in &self.corrections.fasteners {
            let add = correction::fastener_addition_w_m2k(fasteners, r1(*k), core.total)?;
            sum += working.step("ΔUf", "metal fasteners", add, "W/(m²·K)", "ISO 6946 F.3");
        }
        if let Some((k, rain, fx)) = self.corrections.inverted {
            let add = correction::inverted_roof_addition_w_m2k(rain, fx, r1(k), core.total)?;
            sum += working.step("ΔUr", "rain under the insulation", add, "W/(m²·K)", "ISO 6946 F.4");
        }
        Ok(sum)
    }
}

/// Resistances of a layer's main part and of its bridge, with the bridge's share and line.
struct Parts {
    main: f64,
    bridge: Option<(f64, f64, Option<u8>)>,
}

/// Limits and layers of one reading of the assembly.
struct Core {
    upper: f64,
    lower: f64,
    total: f64,
    rse: f64,
    layers: Vec<f64>,
}

impl Core {
    fn of(parts: &[Parts], rsi: f64, rse: f64) -> Self {
        let layers: Vec<f64> = parts.iter().map(Parts::mean).collect();
        let lower = rsi + layers.iter().sum::<f64>() + rse;
        let upper = 1.0 / conductance_of_paths(parts, rsi + rse);
        Self { upper, lower, total: 0.5 * (upper + lower), rse, layers }
    }

    /// Slightly ventilated: `R_T = share · R_T,u + (1 − share) · R_T,v`. The layers from the space outwards keep
    /// the share, so that what counts still adds up.
    fn between(shut: Self, open: &Self, share: f64, from: usize) -> Self {
        let mix = |a: f64, b: f64| share * a + (1.0 - share) * b;
        let layers =
            shut.layers.iter().enumerate().map(|(k, r)| if k < from { *r } else { share * r }).collect();
        Self {
            upper: mix(shut.upper, open.upper),
            lower: mix(shut.lower, open.lower),
            total: mix(shut.total, open.total),
            rse: mix(shut.rse, open.rse),
            layers,
        }
    }
}

impl Parts {
    fn mean(&self) -> f64 {
        match self.bridge {
            None => self.main,
            Some((r, fraction, _)) => {
                if self.main == 0.0 || r == 0.0 {
                    0.0
                } else {
                    1.0 / ((1.0 - fraction) / self.main + fraction / r)
                }
            }
        }
    }
}

/// Conductance of all straight paths: layers on one line share their cuts, others cross at random.
fn conductance_of_paths(parts: &[Parts], start: f64) -> f64 {
    let mut paths = vec![(1.0, start)];
    let mut done: Vec<u8> = Vec::new();
    for part in parts {
        match part.bridge {
            None => paths.iter_mut().for_each(|p| p.1 += part.main),
            Some((r, fraction, None)) => cross(&mut paths, &[(fraction, r), (1.0 - fraction, part.main)]),
            Some((_, _, Some(line))) => {
                if !done.contains(&line) {
                    done.push(line);
                    cross(&mut paths, &sections_of_line(parts, line));
                }
            }
        }
    }
    paths.iter().map(|(f, r)| f / r).sum()
}

/// Splits every path by the sections (share, resistance) of an independent group of layers.
fn cross(paths: &mut Vec<(f64, f64)>, sections: &[(f64, f64)]) {
    *paths = paths
        .iter()
        .flat_map(|&(f, r)| sections.iter().map(move |&(share, add)| (f * share, r + add)))
        .filter(|(f, _)| *f > 0.0)
        .collect();
}

/// Sections of the layers on one line: bridges lie over one another, a narrow one within a wide one.
fn sections_of_line(parts: &[Parts], line: u8) -> Vec<(f64, f64)> {
    let on_line: Vec<(f64, f64, f64)> = parts
        .iter()
        .filter_map(|p| match p.bridge {
            Some((r, fraction, Some(l))) if l == line => Some((fraction, r, p.main)),
            _ => None,
        })
        .collect();
    let mut cuts: Vec<f64> = on_line.iter().map(|s| s.0).chain([1.0]).collect();
    cuts.sort_by(f64::total_cmp);
    let mut from = 0.0;
    let mut sections = Vec::new();
    for to in cuts {
        if to > from {
            let middle = 0.5 * (from + to);
            let r = on_line.iter().map(|&(f, bridge, main)| if middle < f { bridge } else { main }).sum();
            sections.push((to - from, r));
            from = to;
        }
    }
    sections
}

fn note_metal(bridge: &Bridge, name: &str, notes: &mut Vec<String>) {
    if let Filling::Solid(s) = bridge.filling
        && s.conductivity_w_mk > 10.0
    {
        notes.push(format!(
            "{name} is bridged by metal: the combined method does not hold; use a detail in two dimensions"
        ));
    }
}

fn note_limits(core: &Core, notes: &mut Vec<String>) {
    if core.upper / core.lower > 1.5 {
        notes.push(format!(
            "upper and lower limit differ by a factor of {:.2} (above 1.5): the combined method does not hold",
            core.upper / core.lower
        ));
    }
}

fn largest(resistances: &[f64]) -> Vec<usize> {
    let mut best = 0;
    for (k, r) in resistances.iter().enumerate() {
        if *r > resistances[best] {
            best = k;
        }
    }
    vec![best]
}

/// A layer of the stated resistance with its whole mass.
fn in_time(layer: &Layer, resistance: f64) -> ConductionLayer {
    let Body::Filled { thickness_m, main, bridge } = layer.body else {
        return ConductionLayer::resistance(resistance);
    };
    let fraction = bridge.map_or(0.0, |b| b.fraction);
    let mut density = 0.0;
    let mut heat = 0.0;
    for (share, filling) in [(1.0 - fraction, Some(main)), (fraction, bridge.map(|b| b.filling))] {
        if let Some(Filling::Solid(s)) = filling {
            density += share * s.density_kg_m3;
            heat += share * s.density_kg_m3 * s.specific_heat_j_kgk;
        }
    }
    if heat > 0.0 && resistance > 0.0 {
        ConductionLayer::solid(thickness_m, thickness_m / resistance, density, heat / density)
    } else {
        ConductionLayer::resistance(resistance)
    }
}

#[cfg(test)]
mod tests;
