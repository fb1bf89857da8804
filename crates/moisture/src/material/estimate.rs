//! From a library row to a description: what is known, what is estimated, what is refused.
//!
//! An estimate is a plausible value for the family, good enough to see whether a layer matters; each is listed so that
//! it can be shown, questioned and replaced. Values marked "from memory" in [`Filled`] have no source at hand.

use super::{Description, Liquid, Storage, Vapour};
use crate::error::MoistureError;
use matter::{Family, Hygric};
use numeric::pow;

/// A property that was not known and has been estimated.
#[derive(Clone, Debug, PartialEq)]
pub struct Filled {
    /// The material.
    pub material: String,
    /// The property, with its unit.
    pub property: &'static str,
    /// The value used.
    pub value: f64,
    /// Where the estimate comes from.
    pub basis: &'static str,
}

/// What a builder of descriptions may do where a row is silent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LibraryOptions {
    /// Fill by estimates of the family; false refuses instead.
    pub estimate: bool,
    /// Share of liquid transport left without rain, for rows that know only their absorption coefficient.
    pub redistribution: f64,
}

impl Default for LibraryOptions {
    /// Estimates on; a third of the suction transport left for redistribution (judgement: measured ratios run from a
    /// tenth to one).
    fn default() -> Self {
        Self { estimate: true, redistribution: 0.3 }
    }
}

/// A thin sheet between layers: its vapour resistance as an equivalent air layer, falling with humidity.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Name shown in messages.
    pub name: String,
    /// Equivalent air layer at points of mean relative humidity, [φ, m], rising in φ; constant beyond the ends.
    pub air_layer_m: Vec<[f64; 2]>,
}

impl Sheet {
    /// Returns a sheet whose resistance does not change.
    pub fn constant(name: &str, air_layer_m: f64) -> Self {
        Self { name: name.to_owned(), air_layer_m: vec![[0.5, air_layer_m]] }
    }

    /// Returns a sheet known by its dry (mean φ 0.25) and wet (0.75) figures.
    pub fn dry_wet(name: &str, dry_m: f64, wet_m: f64) -> Self {
        if dry_m == wet_m {
            return Self::constant(name, dry_m);
        }
        Self { name: name.to_owned(), air_layer_m: vec![[0.25, dry_m], [0.75, wet_m]] }
    }

    /// Returns the equivalent air layer, m, at a mean relative humidity: straight in its logarithm between points.
    pub fn at(&self, humidity: f64) -> f64 {
        let p = &self.air_layer_m;
        let k = p.partition_point(|q| q[0] <= humidity);
        match (k.checked_sub(1).and_then(|i| p.get(i)), p.get(k)) {
            (Some(a), Some(b)) if a[1] > 0.0 && b[1] > 0.0 => {
                a[1] * pow(b[1] / a[1], (humidity - a[0]) / (b[0] - a[0]))
            }
            (Some(a), _) => a[1],
            (None, Some(b)) => b[1],
            (None, None) => 0.0,
        }
    }
}

/// Returns the sheet a library row describes by its equivalent air layer; `None` for a row that is not a sheet.
pub fn sheet_from_library(row: &matter::Material) -> Option<Sheet> {
    let dry = row.sd_dry_m?;
    Some(Sheet::dry_wet(&row.name, dry, row.sd_wet_m.unwrap_or(dry).min(dry)))
}

/// Estimates of a family: sorption at 80 %, saturation, absorption, volume factor of conductivity (m³/m³).
struct FamilyEstimate {
    w80: f64,
    saturation: f64,
    absorption: Option<f64>,
    volume_factor: f64,
    basis: &'static str,
}

const WOODY: &str = "woody sorption of 13 % by mass at 80 % (common practice, no source)";
const MINERAL: &str = "mineral, in proportion to density (judgement)";
const CLOSED: &str = "takes up next to nothing (judgement)";

fn family_estimate(row: &matter::Material) -> Option<FamilyEstimate> {
    let rho = row.density_kg_m3;
    // Plant matter shows by its specific heat: 1.4 kJ/(kg·K) and above, minerals about 0.8 to 1.1.
    let woody = row.specific_heat_j_kgk >= 1_350.0;
    let of = |w80, saturation, absorption, volume_factor, basis| {
        Some(FamilyEstimate { w80, saturation, absorption, volume_factor, basis })
    };
    match row.family {
        Family::Timber => of(0.15 * rho, 1.25 * rho, Some(0.006), 1.4 * 1000.0 / rho, WOODY),
        Family::Board if woody => of(0.13 * rho, 0.8 * rho, Some(0.003), 1.4, WOODY),
        Family::FibreInsulation if woody => of(0.13 * rho, 0.65 * rho, None, 1.4, WOODY),
        Family::FloorFinish if woody => of(0.10 * rho, 0.6 * rho, None, 1.4, WOODY),
        Family::Masonry => of(0.004 * rho, 0.13 * rho, Some(0.1), 10.0, MINERAL),
        Family::Stone => of(0.002 * rho, 0.05 * rho, Some(0.02), 4.0, MINERAL),
        Family::Concrete => of(0.025 * rho, 0.055 * rho, Some(0.02), 4.0, MINERAL),
        Family::Plaster => of(0.01 * rho, 0.15 * rho, Some(0.03), 4.0, MINERAL),
        Family::Board => of(0.011 * rho, 0.5 * rho, Some(0.01), 4.0, MINERAL),
        Family::FibreInsulation | Family::LooseFill => of(0.3, 1.5, None, 4.0, CLOSED),
        Family::Foam => of(0.4, 2.0, None, 4.0, CLOSED),
        Family::Metal | Family::Glass | Family::Plastic | Family::Membrane | Family::FloorFinish => {
            of(0.05, 0.25, None, 0.0, CLOSED)
        }
        Family::Tile => of(0.003 * rho, 0.02 * rho, None, 4.0, MINERAL),
        Family::Soil | Family::Water | Family::Air => None,
    }
}

/// Returns a description made from a library row, and what was estimated in it.
///
/// Known figures are kept. Conductivity is the row's at its rating; its rise with water follows the volume factors
/// of ISO 10456 (recalled), as a straight line. A row without liquid data in a family that does not suck gets none.
///
/// # Errors
/// What is missing and cannot be estimated, or may not be by `options`.
pub fn from_library(
    row: &matter::Material,
    options: LibraryOptions,
) -> Result<(Description, Vec<Filled>), Vec<MoistureError>> {
    let mut work =
        Fill { row, options, filled: Vec::new(), missing: Vec::new(), estimate: family_estimate(row) };
    let vapour = work.vapour();
    let liquid = work.liquid();
    let storage = work.storage(matches!(liquid, Liquid::None));
    let redistribution = if matches!(liquid, Liquid::Absorption { .. }) {
        let basis = "measured ratios run from a tenth to one (judgement)";
        work.note("share of liquid transport without rain", options.redistribution, basis);
        options.redistribution
    } else {
        1.0
    };
    let factor = work.estimate.as_ref().map_or(0.0, |e| e.volume_factor);
    let conductivity_rise = row.conductivity_w_mk * factor / 1000.0;
    if !work.missing.is_empty() {
        return Err(work.missing);
    }
    let description = Description {
        name: row.name.clone(),
        density_kg_m3: row.density_kg_m3,
        specific_heat_j_kgk: row.specific_heat_j_kgk,
        conductivity_w_mk: row.conductivity_w_mk,
        conductivity_rise,
        storage,
        vapour,
        liquid,
        redistribution,
    };
    Ok((description, work.filled))
}

struct Fill<'a> {
    row: &'a matter::Material,
    options: LibraryOptions,
    filled: Vec<Filled>,
    missing: Vec<MoistureError>,
    estimate: Option<FamilyEstimate>,
}

impl Fill<'_> {
    fn note(&mut self, property: &'static str, value: f64, basis: &'static str) {
        self.filled.push(Filled { material: self.row.name.clone(), property, value, basis });
    }

    fn refuse(&mut self, property: &'static str, hint: &'static str) {
        self.missing.push(MoistureError::Missing { material: self.row.name.clone(), property, hint });
    }

    /// Uses the estimate, listing it, or refuses.
    fn estimated(&mut self, property: &'static str, pick: fn(&FamilyEstimate) -> f64) -> f64 {
        let found = self.estimate.as_ref().map(|e| (pick(e), e.basis));
        match found {
            Some((value, basis)) if self.options.estimate => {
                self.note(property, value, basis);
                value
            }
            _ => {
                self.refuse(property, "give it in the material's row, or allow estimates");
                f64::NAN
            }
        }
    }

    fn hygric(&self) -> Option<&Hygric> {
        self.row.hygric.as_ref()
    }

    fn vapour(&mut self) -> Vapour {
        match (self.row.mu_dry, self.row.mu_wet) {
            (Some(dry), Some(wet)) if dry == wet => Vapour::Factor(dry),
            (Some(dry), Some(wet)) => Vapour::Cups { dry, wet },
            (Some(dry), None) => Vapour::Factor(dry),
            _ => {
                self.refuse("vapour resistance factor", "give mu, dry and wet, or an equivalent air layer");
                Vapour::Factor(1.0)
            }
        }
    }

    fn liquid(&mut self) -> Liquid {
        if let Some(a) = self.hygric().and_then(|h| h.absorption_kg_m2s05) {
            // Below this a day's soaking is under 0.15 kg/m²: foams that only wet their faces.
            return if a < 5e-4 { Liquid::None } else { Liquid::Absorption { coefficient_kg_m2s05: a } };
        }
        match self.estimate.as_ref().and_then(|e| e.absorption) {
            Some(_) => {
                let value = self.estimated("water absorption coefficient, kg/(m²·s^0.5)", |e| {
                    e.absorption.unwrap_or(f64::NAN)
                });
                Liquid::Absorption { coefficient_kg_m2s05: value }
            }
            None => Liquid::None,
        }
    }

    fn storage(&mut self, inert: bool) -> Storage {
        let known = self.hygric().cloned();
        let points = known.as_ref().map_or(Vec::new(), |h| h.sorption.clone());
        let w80 = match known.as_ref().and_then(|h| h.w80_kg_m3) {
            Some(w) => w,
            None if points.is_empty() => {
                self.estimated("water content at 80 % relative humidity, kg/m³", |e| e.w80)
            }
            None => f64::NAN,
        };
        let saturation = match known.as_ref().and_then(|h| h.free_saturation_kg_m3) {
            Some(w) => w,
            None => self.saturation(inert, w80, &points),
        };
        let points = if points.is_empty() { self.curve_of_w80(w80, saturation) } else { points };
        Storage::Sorption { points, saturation_kg_m3: saturation }
    }

    fn saturation(&mut self, inert: bool, w80: f64, points: &[[f64; 2]]) -> f64 {
        let top = points.last().map_or(w80, |p| p[1]);
        let property = "water content at saturation, kg/m³";
        if inert {
            // What does not suck holds little at the edge of saturation; more than this sits free between fibres.
            let value = (5.0 * w80).max(2.0 * top);
            let value = if value.is_finite() { value } else { 2.0 * top };
            self.note(property, value, "five times the content at 80 %: nothing is sucked in (judgement)");
            return value;
        }
        if let Some(porosity) = self.hygric().and_then(|h| h.porosity) {
            let value = (700.0 * porosity).max(1.5 * top);
            self.note(property, value, "seven tenths of the pores (judgement)");
            return value;
        }
        self.estimated(property, |e| e.saturation).max(1.5 * top)
    }

    /// A sorption curve from one point: `w = w_f (b − 1) φ/(b − φ)`, b fixed by the content at 80 %.
    fn curve_of_w80(&mut self, w80: f64, saturation: f64) -> Vec<[f64; 2]> {
        if !(w80 < 0.8 * saturation) {
            self.missing.push(MoistureError::Inconsistent {
                what: self.row.name.clone(),
                detail: format!(
                    "the content at 80 % relative humidity ({w80} kg/m³) must stay below 0.8 of saturation \
                     ({saturation} kg/m³)"
                ),
            });
            return vec![[0.8, 0.0]];
        }
        let basis = "hyperbola through the content at 80 % and saturation (common practice, no source)";
        self.note(
            "shape of the sorption curve (content at 50 %, kg/m³)",
            hyperbola(0.5, w80, saturation),
            basis,
        );
        [0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95].map(|h| [h, hyperbola(h, w80, saturation)]).to_vec()
    }
}

fn hyperbola(humidity: f64, w80: f64, saturation: f64) -> f64 {
    let b = 0.8 * (saturation - w80) / (0.8 * saturation - w80);
    saturation * (b - 1.0) * humidity / (b - humidity)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_solid_of_the_library_becomes_a_material_or_says_what_it_lacks() {
        let mut refused = Vec::new();
        for row in matter::library() {
            match from_library(row, LibraryOptions::default()) {
                Ok((description, filled)) => {
                    let m = description.prepare().unwrap_or_else(|e| panic!("{}: {e:?}", row.id));
                    assert!(m.water_kg_m3(0.8, 20.0) > 0.0, "{}", row.id);
                    assert!(filled.iter().all(|f| f.value.is_finite()), "{}: {filled:?}", row.id);
                }
                Err(missing) => refused.push((row.family, missing.len())),
            }
        }
        // Ground, water and air are no layers of this law.
        assert!(
            refused.iter().all(|(f, _)| matches!(f, Family::Soil | Family::Water | Family::Air)),
            "{refused:?}"
        );
        assert!(!refused.is_empty());
    }

    #[test]
    fn without_estimates_a_silent_row_is_refused() {
        let row = matter::find("oak").expect("a library row");
        let strict = LibraryOptions { estimate: false, redistribution: 1.0 };
        assert!(from_library(row, strict).is_err());
        let (_, filled) = from_library(row, LibraryOptions::default()).expect("estimated");
        assert!(filled.iter().any(|f| f.property.contains("80 %")), "{filled:?}");
    }

    #[test]
    fn a_sheet_opens_as_it_gets_humid() {
        let sheet = Sheet::dry_wet("variable", 10.0, 0.3);
        assert_eq!(sheet.at(0.1), 10.0);
        assert!((sheet.at(0.75) - 0.3).abs() < 1e-12 && sheet.at(1.0) == 0.3);
        assert!((sheet.at(0.5) - 3.0_f64.sqrt()).abs() < 1e-9);
    }
}
