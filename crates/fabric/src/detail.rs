//! Steady conduction through a detail in two or three dimensions (ISO 10211).
//!
//! A [`Detail`] is a list of boxes, later ones over earlier ones: solids, and environments that touch them. What no box
//! covers is an error; the outer faces of the whole are adiabatic. Start at [`solve`]: it grades a grid to the boxes,
//! refines it until the flows and the coldest spots stand still, and returns flows, coupling coefficients, surface
//! temperatures and an error estimate.
//!
//! Cell-centred finite volumes, conjugate gradients behind a multigrid cycle; conductivities and flows balance in every
//! cell. [`joint`] reads Ψ and f_Rsi from a solution, [`template`] lays out common joints from the layers that meet.
//! Not here: polygons, cavities whose conductivity depends on temperature, the ground's yearly wave.

pub mod cavity;
mod coarse;
mod grid;
pub mod joint;
mod multigrid;
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
}

/// One box. In two dimensions z runs from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Name, for messages.
    pub name: String,
    /// Lower corner, m.
    pub low_m: [f64; 3],
    /// Upper corner, m.
    pub high_m: [f64; 3],
    /// What it holds.
    pub body: Body,
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
}

impl Default for Accuracy {
    /// ISO 10211 asks for 1 % of the flow; ten times less is cheap. A two-hundredth of the span on surfaces.
    fn default() -> Self {
        Self { flow: 1e-3, surface: 5e-3, first_cells: 3, most_cells: 4_000_000, residual: 1e-10 }
    }
}

impl Region {
    /// Returns a rectangle of a plane section.
    pub fn rectangle(name: impl Into<String>, low: [f64; 2], high: [f64; 2], body: Body) -> Self {
        Self { name: name.into(), low_m: [low[0], low[1], 0.0], high_m: [high[0], high[1], 1.0], body }
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
            match region.body {
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
