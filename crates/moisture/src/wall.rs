//! A wall, roof or floor as moisture sees it: layers, what lies between them, and what enters where.
//!
//! Layers run from inside to outside, as in crate `fabric`. Interface k lies before layer k: interface 0 is the inside
//! face, the last one the outside face.

use std::sync::Arc;

use crate::error::{MoistureError, within};
use crate::material::{Material, Sheet};

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name shown in messages.
    pub name: String,
    /// Thickness, m.
    pub thickness_m: f64,
    /// What it is made of.
    pub material: Arc<Material>,
}

/// What lies between two layers.
#[derive(Clone, Debug, PartialEq)]
pub enum Contact {
    /// Pore to pore: suction, vapour pressure and temperature carry over.
    Perfect,
    /// A thin gap: vapour and heat cross it, liquid does not.
    Gap {
        /// Thermal resistance, m²·K/W.
        resistance_m2k_w: f64,
        /// Equivalent air layer, m.
        air_layer_m: f64,
    },
    /// A sheet: vapour crosses it by its equivalent air layer, liquid does not; no thermal resistance of its own.
    Sheet(Sheet),
}

/// A place in a wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// The interface before layer k (its outer side where a sheet or gap splits it).
    Interface(usize),
    /// The middle of layer k.
    Layer(usize),
}

/// One of the two sides of a wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The room.
    Inside,
    /// Outdoors.
    Outside,
}

/// A share of the driving rain that reaches an interface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainEntry {
    /// Interface it reaches; the outside face for the rain that wets the wall itself.
    pub interface: usize,
    /// Share of the rain on the wall, 0 to 1: 0.01 is the penetration ASHRAE 160 supposes (recalled).
    pub share: f64,
}

/// Air that comes from one side, meets a place of the wall, takes up its state and leaves again to where it came from
/// (a ventilated cavity) or through a leak beyond it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirExchange {
    /// Where it passes.
    pub place: Place,
    /// Where it comes from.
    pub from: Side,
}

/// A wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Wall {
    /// Layers, inside to outside.
    pub layers: Vec<Layer>,
    /// What lies between them: one fewer than layers.
    pub contacts: Vec<Contact>,
    /// Where rain goes. Empty: no rain enters.
    pub rain: Vec<RainEntry>,
    /// Interfaces (besides the two faces) from which standing water drains away.
    pub drained: Vec<usize>,
    /// Air that meets places of the wall; its flows come with the drive.
    pub exchanges: Vec<AirExchange>,
}

impl Wall {
    /// Returns a wall of layers in perfect contact, all rain on its outside face.
    pub fn new(layers: Vec<Layer>) -> Self {
        let contacts = vec![Contact::Perfect; layers.len().saturating_sub(1)];
        let rain = vec![RainEntry { interface: layers.len(), share: 1.0 }];
        Self { layers, contacts, rain, drained: Vec::new(), exchanges: Vec::new() }
    }

    /// Returns the name of a place, for messages and sheets.
    pub fn name(&self, place: Place) -> String {
        match place {
            Place::Layer(k) => {
                self.layers.get(k).map_or_else(|| format!("layer {}", k + 1), |l| l.name.clone())
            }
            Place::Interface(0) => "the inside face".to_owned(),
            Place::Interface(k) if k == self.layers.len() => "the outside face".to_owned(),
            Place::Interface(k) => match (self.layers.get(k.wrapping_sub(1)), self.layers.get(k)) {
                (Some(a), Some(b)) => format!("between {} and {}", a.name, b.name),
                _ => format!("interface {k}"),
            },
        }
    }

    /// Returns where a place is, to stand behind a verb: `in plywood`, `between plywood and brick`, `at the inside face`.
    pub fn whereabouts(&self, place: Place) -> String {
        let name = self.name(place);
        match place {
            Place::Layer(_) => format!("in {name}"),
            Place::Interface(_) if name.starts_with("between") => name,
            Place::Interface(_) => format!("at {name}"),
        }
    }

    /// Checks that the parts fit.
    ///
    /// # Errors
    /// Everything that does not, at once.
    pub fn check(&self) -> Result<(), Vec<MoistureError>> {
        let mut found = Vec::new();
        let n = self.layers.len();
        if n == 0 {
            found.push(inconsistent("wall", "it has no layers".into()));
        }
        for (k, layer) in self.layers.iter().enumerate() {
            let what = format!("layer {} ({})", k + 1, layer.name);
            found.extend(within(&what, "thickness in m", layer.thickness_m, 5e-5, 100.0).err());
        }
        if self.contacts.len() + 1 != n && n > 0 {
            let detail = format!("{n} layers need {} contacts, but {} are given", n - 1, self.contacts.len());
            found.push(inconsistent("contacts", detail));
        }
        for (k, contact) in self.contacts.iter().enumerate() {
            let what = format!("contact {}", k + 1);
            match contact {
                Contact::Perfect => {}
                Contact::Gap { resistance_m2k_w, air_layer_m } => {
                    found.extend(
                        within(&what, "thermal resistance in m²·K/W", *resistance_m2k_w, 0.0, 10.0).err(),
                    );
                    found.extend(within(&what, "equivalent air layer in m", *air_layer_m, 0.0, 1e6).err());
                }
                Contact::Sheet(sheet) => {
                    let rises = sheet.air_layer_m.windows(2).all(|p| p[0][0] < p[1][0]);
                    if sheet.air_layer_m.is_empty() || !rises {
                        let detail = "its points need rising relative humidities, at least one".to_owned();
                        found.push(inconsistent(&sheet.name, detail));
                    }
                    for p in &sheet.air_layer_m {
                        found.extend(within(&sheet.name, "equivalent air layer in m", p[1], 0.0, 1e6).err());
                    }
                }
            }
        }
        let mut shares = 0.0;
        for entry in &self.rain {
            shares += entry.share;
            found.extend(within("rain", "share", entry.share, 0.0, 1.0).err());
            self.check_place("rain", Place::Interface(entry.interface), &mut found);
        }
        found.extend(within("rain", "sum of shares", shares, 0.0, 1.0 + 1e-9).err());
        for &k in &self.drained {
            self.check_place("drained interface", Place::Interface(k), &mut found);
        }
        for e in &self.exchanges {
            self.check_place("air exchange", e.place, &mut found);
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }

    fn check_place(&self, what: &str, place: Place, found: &mut Vec<MoistureError>) {
        let n = self.layers.len();
        let (index, limit) = match place {
            Place::Interface(k) => (k, n + 1),
            Place::Layer(k) => (k, n),
        };
        if index >= limit {
            found.push(inconsistent(what, format!("{place:?} does not exist in a wall of {n} layers")));
        }
    }
}

pub(crate) fn inconsistent(what: &str, detail: String) -> MoistureError {
    MoistureError::Inconsistent { what: what.to_owned(), detail }
}
