//! Steady conduction through a detail in two or three dimensions (ISO 10211).
//!
//! A [`Detail`] is a list of boxes, later ones over earlier ones: solids, and environments that touch them. What no box
//! covers is an error; the outer faces of the whole are adiabatic. Start at [`solve`]: it grades a grid to the boxes,
//! refines it until the flows and the coldest spots stand still, and returns flows, coupling coefficients, surface
//! temperatures and an error estimate.
//!
//! Cell-centred finite volumes, conjugate gradients behind a multigrid cycle; conductivities and flows balance in every
//! cell. [`joint`] reads Ψ and f_Rsi from a solution, [`template`] lays out common joints from the layers that meet.
//! Sloping parts are polygons, laid over the cells by sub-cells; a cut part is adiabatic all round.
//! Not here: cavities whose conductivity depends on temperature ([`cavity`]), the ground's yearly wave.

pub mod cavity;
mod coarse;
mod grid;
pub mod joint;
mod multigrid;
pub(crate) mod polygon;
mod solution;
mod stencil;
pub mod template;

pub use multigrid::Effort;
pub use solution::{Coldest, Solution, solve};

use crate::error::{FabricError, positive, within};
use std::fmt;

/// What a box holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Body {
    /// A solid; conductivities along x, y, z, W/(m·K), unlike for timber along its grain.
    Solid([f64; 3]),
    /// An environment, by its number in [`Detail::environments`].
    Environment(usize),
    /// Nothing: cut away, adiabatic on all sides.
    Cut,
}

/// One box, or a polygon drawn along z. In two dimensions z runs from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Name, for messages.
    pub name: String,
    /// Lower corner, m; of a polygon, of the box around it.
    pub low_m: [f64; 3],
    /// Upper corner, m.
    pub high_m: [f64; 3],
    /// What it holds.
    pub body: Body,
    /// Corners of a polygon in x and y, m; none for a box.
    pub outline: Option<Vec<[f64; 2]>>,
    /// Surface resistances towards environments that differ from their own: (environment, m²·K/W). Of a solid and the air
    /// before it the solid's counts.
    pub films: Vec<(usize, f64)>,
    /// Glass or frame: its coldest spot is judged with another film than an opaque part's (ISO 13788).
    pub glazed: bool,
}

/// Air or ground at one temperature, behind one surface resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct Environment {
    /// Name.
    pub name: String,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Surface resistance, m²·K/W; 0 holds the surface at the temperature.
    pub surface_m2k_w: f64,
}

/// A detail.
#[derive(Clone, Debug, PartialEq)]
pub struct Detail {
    /// True for a plane section: flows are then per metre of its length.
    pub plane: bool,
    /// Boxes; later ones lie over earlier ones.
    pub regions: Vec<Region>,
    /// Environments.
    pub environments: Vec<Environment>,
}

/// When the grid is fine enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Largest relative change of the total flow over the last halving of the cells.
    pub flow: f64,
    /// Largest change of the lowest and highest surface temperatures, relative to the span of temperatures.
    pub surface: f64,
    /// Cells across the thinnest box on the first grid; at least 1.
    pub first_cells: u32,
    /// Most cells; the solution says when they did not suffice.
    pub most_cells: usize,
    /// Relative residual of the linear solver.
    pub residual: f64,
    /// Largest change of any coupling over the last halving, W/(m·K) or W/K: that of Ψ and χ too.
    pub coupling: f64,
    /// The environment whose coldest spot must stand still; all coldest and warmest spots when none is named.
    pub spot: Option<usize>,
}

impl Default for Accuracy {
    /// ISO 10211 asks for 1 % of the flow; ten times less is cheap. A two-hundredth of the span on surfaces.
    fn default() -> Self {
        Self {
            flow: 1e-3,
            surface: 5e-3,
            first_cells: 3,
            most_cells: 4_000_000,
            residual: 1e-10,
            coupling: f64::INFINITY,
            spot: None,
        }
    }
}

impl Accuracy {
    /// What a joint of a building needs: flow 1 %, Ψ 0.002 W/(m·K) (χ 0.001 W/K in a solid detail), f_Rsi 0.005.
    pub fn of_joint(plane: bool) -> Self {
        Self {
            flow: 1e-2,
            surface: 5e-3,
            first_cells: if plane { 2 } else { 1 },
            most_cells: if plane { 150_000 } else { 300_000 },
            residual: 1e-10,
            coupling: if plane { 0.002 } else { 0.001 },
            spot: Some(0),
        }
    }
}

impl Region {
    /// Returns a rectangle of a plane section.
    pub fn rectangle(name: impl Into<String>, low: [f64; 2], high: [f64; 2], body: Body) -> Self {
        Self::cuboid(name, [low[0], low[1], 0.0], [high[0], high[1], 1.0], body)
    }

    /// Returns a box of a solid detail.
    pub fn cuboid(name: impl Into<String>, low_m: [f64; 3], high_m: [f64; 3], body: Body) -> Self {
        Self { name: name.into(), low_m, high_m, body, outline: None, films: Vec::new(), glazed: false }
    }

    /// Returns a polygon of a plane section, corners in either sense.
    pub fn polygon(name: impl Into<String>, corners: Vec<[f64; 2]>, body: Body) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for corner in &corners {
            for d in 0..2 {
                low[d] = low[d].min(corner[d]);
                high[d] = high[d].max(corner[d]);
            }
        }
        Self { outline: Some(corners), ..Self::rectangle(name, low, high, body) }
    }

    /// Returns the region with another surface resistance towards an environment.
    #[must_use]
    pub fn with_film(mut self, environment: usize, resistance_m2k_w: f64) -> Self {
        self.films.retain(|(e, _)| *e != environment);
        self.films.push((environment, resistance_m2k_w));
        self
    }

    /// Says whether a place lies inside.
    pub fn covers(&self, [x, y, z]: [f64; 3]) -> bool {
        let boxed = x > self.low_m[0]
            && x < self.high_m[0]
            && y > self.low_m[1]
            && y < self.high_m[1]
            && z > self.low_m[2]
            && z < self.high_m[2];
        boxed && self.outline.as_ref().is_none_or(|o| polygon::holds(o, [x, y]))
    }

    fn film(&self, environment: usize) -> Option<f64> {
        self.films.iter().find(|(e, _)| *e == environment).map(|(_, r)| *r)
    }
}

impl Body {
    /// Returns a solid that conducts alike in all directions.
    pub const fn solid(conductivity_w_mk: f64) -> Self {
        Self::Solid([conductivity_w_mk; 3])
    }
}

impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "box '{}'", self.name)
    }
}

impl Detail {
    /// Surface resistance between a solid and the air before it, m²·K/W.
    pub(crate) fn film_m2k_w(&self, solid: usize, air: usize, environment: usize) -> f64 {
        let own = self.regions[solid].film(environment).or_else(|| self.regions[air].film(environment));
        own.unwrap_or(self.environments[environment].surface_m2k_w)
    }

    /// Checks boxes and environments by themselves; holes show when the grid is made.
    fn check(&self) -> Result<(), FabricError> {
        for (k, e) in self.environments.iter().enumerate() {
            let what = || format!("environment {} ('{}')", k + 1, e.name);
            within(what, "temperature, °C", e.temperature_c, -273.15, 2000.0)?;
            within(what, "surface resistance, m²·K/W", e.surface_m2k_w, 0.0, 10.0)?;
        }
        for region in &self.regions {
            let what = || region.to_string();
            for d in 0..3 {
                let width = region.high_m[d] - region.low_m[d];
                positive(what, ["width along x, m", "width along y, m", "width along z, m"][d], width)?;
            }
            for (e, film) in &region.films {
                within(what, "surface resistance, m²·K/W", *film, 0.0, 10.0)?;
                within(
                    what,
                    "number of an environment",
                    *e as f64,
                    0.0,
                    self.environments.len() as f64 - 1.0,
                )?;
            }
            if let Some(outline) = &region.outline {
                positive(what, "area of the polygon, m²", polygon::area_m2(outline).abs())?;
            }
            match region.body {
                Body::Cut => {}
                Body::Solid(k) => {
                    for k in k {
                        positive(what, "conductivity, W/(m·K)", k)?;
                    }
                }
                Body::Environment(e) if e >= self.environments.len() => {
                    return Err(FabricError::Inconsistent {
                        what: what(),
                        detail: format!(
                            "it is environment {}, but only {} are given",
                            e + 1,
                            self.environments.len()
                        ),
                    });
                }
                Body::Environment(_) => {}
            }
            if self.plane && (region.low_m[2] != 0.0 || region.high_m[2] != 1.0) {
                return Err(FabricError::Inconsistent {
                    what: what(),
                    detail: "in a plane section every box runs from z = 0 to z = 1".into(),
                });
            }
        }
        if self.regions.is_empty() {
            return Err(FabricError::NoResistance { what: "detail".into() });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
