//! Assemblies as a section shows them.

use super::{BEARING_M, direction};
use crate::assemble::fabric_of::own_layers;
use building::model::{AssemblyId, Building};
use building::{Resolved, plan};
use fabric::detail::template::{Leaf, Stack};
use fabric::layers::film::{RSE_M2K_W, rsi_m2k_w};

/// Layers thinner than this join their neighbour, m: sheets and membranes change no flow along an element that matters.
const THIN_M: f64 = 0.004;

/// An assembly with what is old in it.
pub(crate) struct Wall {
    /// Leaves, inside → outside.
    pub stack: Stack,
    /// Whether each leaf was there before.
    existing: Vec<bool>,
}

/// Takes an assembly's counted layers.
pub(crate) fn wall(building: &Building, id: AssemblyId, r: &Resolved) -> Result<Wall, String> {
    let a = &building.assemblies[id.0];
    let direction = direction(a.place);
    let between = a.place == plan::AssemblyPlace::Partition;
    if a.layers.is_empty() {
        return Err(format!("{} has no layers to draw", a.name));
    }
    let own = own_layers(building, a, direction, between, r).map_err(|e| e.to_string())?;
    let ventilated = own.len() < a.layers.len();
    let mut leaves: Vec<Leaf> = Vec::new();
    let mut existing = Vec::new();
    let mut thin = (0.0, 0.0);
    for (layer, conduction) in a.layers.iter().rev().zip(&own) {
        let thickness_m = r[layer.thickness];
        let resistance = conduction.resistance_m2k_w();
        if thickness_m < THIN_M || resistance <= 0.0 {
            match leaves.last_mut() {
                Some(last) => join(last, thickness_m, resistance),
                None => thin = (thin.0 + thickness_m, thin.1 + resistance),
            }
            continue;
        }
        let mut leaf = Leaf {
            name: format!("{} / {}", a.name, layer.name),
            thickness_m,
            conductivity_w_mk: thickness_m / resistance,
        };
        join(&mut leaf, thin.0, thin.1);
        thin = (0.0, 0.0);
        leaves.push(leaf);
        existing.push(layer.existing);
    }
    if leaves.is_empty() {
        return Err(format!("{} has no layer thick enough to draw", a.name));
    }
    let rsi_m2k_w = rsi_m2k_w(direction);
    let rse_m2k_w = if ventilated || between { rsi_m2k_w } else { RSE_M2K_W };
    Ok(Wall { stack: Stack { leaves, rsi_m2k_w, rse_m2k_w }, existing })
}

fn join(leaf: &mut Leaf, thickness_m: f64, resistance: f64) {
    let all = leaf.thickness_m / leaf.conductivity_w_mk + resistance;
    leaf.thickness_m += thickness_m;
    leaf.conductivity_w_mk = leaf.thickness_m / all;
}

impl Wall {
    /// Old layers that reach the outside face, m.
    pub fn shell_m(&self) -> f64 {
        let old = self.stack.leaves.iter().zip(&self.existing).rev();
        old.take_while(|(_, old)| **old).map(|(leaf, _)| leaf.thickness_m).sum()
    }

    /// The old part, as distances from the outside face: from the outermost to the innermost old layer.
    fn old_m(&self) -> Option<(f64, f64)> {
        let mut at = 0.0;
        let mut found: Option<(f64, f64)> = None;
        for (leaf, old) in self.stack.leaves.iter().zip(&self.existing).rev() {
            if *old {
                found = Some((found.map_or(at, |f| f.0), at + leaf.thickness_m));
            }
            at += leaf.thickness_m;
        }
        found
    }

    /// Where each leaf of a floor or roof begins, from the outside face.
    pub fn starts(&self, floor: &Self) -> Vec<f64> {
        let inner = self.old_m().map_or(self.stack.thickness_m(), |(_, to)| to);
        let bearing = self.old_m().map_or(inner, |(from, to)| to - BEARING_M.min(0.5 * (to - from)));
        floor.existing.iter().map(|old| if *old { bearing } else { inner }).collect()
    }

    /// Where each leaf of a partition begins, from the outside face.
    pub fn stops(&self, partition: &Self) -> Vec<f64> {
        let face = self.stack.thickness_m();
        let inner = self.old_m().map_or(face, |(_, to)| to);
        partition.existing.iter().map(|old| if *old { inner } else { face }).collect()
    }

    /// The innermost leaf, when it is thin enough to line a reveal.
    pub fn lining(&self) -> Option<Leaf> {
        self.stack.leaves.first().filter(|l| l.thickness_m <= 0.03).cloned()
    }
}
