//! The one entry of fuzzing and of the property test: any numbers taken for a material.

use moisture::drive::{Drive, SideState};
use moisture::material::{Description, Liquid, Storage, Vapour};
use moisture::transport::{Cells, Options, Resolution, Simulation, Start};
use moisture::wall::{Layer, Wall};
use std::sync::Arc;

/// Numbers from bytes, wild ones included.
struct Numbers<'a>(&'a [u8]);

impl Numbers<'_> {
    fn byte(&mut self) -> u8 {
        match self.0.split_first() {
            Some((first, rest)) => {
                self.0 = rest;
                *first
            }
            None => 0,
        }
    }

    /// One of a few kinds: plausible, small, huge, negative, not a number.
    fn number(&mut self, usual: f64) -> f64 {
        let kind = self.byte();
        let share = f64::from(self.byte()) / 64.0;
        match kind % 12 {
            0 => f64::NAN,
            1 => -usual,
            2 => 0.0,
            3 => usual * 1e9,
            4 => usual * 1e-9,
            5 => f64::INFINITY,
            _ => usual * share,
        }
    }
}

/// Reads a description, prepares it; what is accepted must hold rising water, finite functions, and survive a wet day. What is
/// refused must say why.
pub fn take_any_material(bytes: &[u8]) {
    let mut n = Numbers(bytes);
    let storage = match n.byte() % 3 {
        0 => Storage::LogPower { saturation_kg_m3: n.number(200.0), b: n.number(0.2), c: n.number(0.9) },
        1 => Storage::Retention {
            saturation_kg_m3: n.number(200.0),
            terms: (0..n.byte() % 4).map(|_| [n.number(0.5), n.number(1e5), n.number(2.0)]).collect(),
        },
        _ => Storage::Sorption {
            points: (0..n.byte() % 5).map(|_| [n.number(0.5), n.number(20.0)]).collect(),
            saturation_kg_m3: n.number(200.0),
        },
    };
    let vapour = match n.byte() % 3 {
        0 => Vapour::Factor(n.number(10.0)),
        1 => Vapour::Cups { dry: n.number(20.0), wet: n.number(10.0) },
        _ => Vapour::ClosingPores { factor: n.number(10.0), p: n.number(0.3) },
    };
    let liquid = match n.byte() % 4 {
        0 => Liquid::None,
        1 => Liquid::Diffusivity(n.number(1e-8)),
        2 => Liquid::Absorption { coefficient_kg_m2s05: n.number(0.1) },
        _ => Liquid::LogPolynomial {
            coefficients: (0..n.byte() % 5).map(|_| n.number(-40.0)).collect(),
            offset_kg_m3: n.number(73.0),
            scale_kg_m3: n.number(100.0),
        },
    };
    let description = Description {
        name: "any".into(),
        density_kg_m3: n.number(1000.0),
        specific_heat_j_kgk: n.number(1000.0),
        conductivity_w_mk: n.number(0.5),
        conductivity_rise: n.number(0.004),
        storage,
        vapour,
        liquid,
        redistribution: n.number(0.5),
    };
    match description.prepare() {
        Err(problems) => {
            assert!(!problems.is_empty());
            assert!(problems.iter().all(|p| p.to_string().contains("any") || !p.to_string().is_empty()));
        }
        Ok(material) => {
            let mut before = -1e-6;
            for percent in 1..=99 {
                let humidity = f64::from(percent) / 100.0;
                let water = material.water_kg_m3(humidity, 20.0);
                // A table of cubics may fall by a rounding of what it holds, not by more.
                assert!(water.is_finite() && water >= before - 1e-6 * material.saturation_kg_m3);
                assert!(material.resistance_factor(humidity) > 0.0);
                before = water;
            }
            weather(Arc::new(material));
        }
    }
}

/// A wet day on a slice of it: solved, or ended with a reason; nothing else.
fn weather(material: Arc<moisture::material::Material>) {
    let wall = Wall::new(vec![Layer { name: "any".into(), thickness_m: 0.05, material }]);
    let cells = Cells::graded(&wall, Resolution::default());
    let options = Options { most_steps: 400, ..Options::default() };
    let Ok(mut s) = Simulation::new(&wall, &cells, options) else { return };
    if s.start(15.0, &[Start::Humidity(0.6)]).is_err() {
        return;
    }
    let mut outside = SideState::air(5.0, 700.0, 15.0, 8e-8);
    outside.rain_kg_m2s = 1e-4;
    let drive = Drive::new(3600.0, vec![SideState::air(20.0, 1000.0, 8.0, 3e-8); 24], vec![outside; 24]);
    match s.run(&drive, 86_400.0, |_| {}) {
        Ok(()) => assert!(s.water_kg_m2().is_finite() && s.effort().worst_water <= 1e-9),
        Err(problems) => assert!(!problems.is_empty()),
    }
}
