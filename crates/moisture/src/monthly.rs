//! Monthly condensation by ISO 13788, with its working, and the surface temperature that keeps mould away.
//!
//! What the method leaves out: storage of water in materials, liquid flow, sun, rain, air leaks, change of properties.
//! Where it disagrees with the run in time (`transport`), one of these is why. Formulas, films and classes recalled from
//! memory.

use crate::error::{MoistureError, within};
use crate::glaser;
use crate::material::AIR_PERMEABILITY_KG_MSPA;
use crate::vapour::{iso13788_dew_point_c, iso13788_saturation_pa};
use crate::wall::inconsistent;

/// Surface resistance inside for condensation in the construction, m²·K/W.
pub const RSI_INTERSTITIAL_M2K_W: f64 = 0.13;
/// Surface resistance outside, m²·K/W.
pub const RSE_M2K_W: f64 = 0.04;
/// Relative humidity at a surface that keeps mould away, by the method.
pub const MOULD_HUMIDITY: f64 = 0.8;
/// Layers are divided until no strip has more thermal resistance than this, m²·K/W.
const STRIP_M2K_W: f64 = 0.25;

/// One layer of the method, inside to outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name shown in the working.
    pub name: String,
    /// Thermal resistance, m²·K/W.
    pub resistance_m2k_w: f64,
    /// Equivalent air layer, m.
    pub air_layer_m: f64,
}

/// A month's mean climate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Month {
    /// Days of the month.
    pub days: f64,
    /// Outdoor temperature, °C.
    pub outdoor_c: f64,
    /// Outdoor vapour pressure, Pa.
    pub outdoor_pa: f64,
    /// Indoor temperature, °C.
    pub indoor_c: f64,
    /// Indoor vapour pressure, Pa.
    pub indoor_pa: f64,
}

/// A plane that holds water in a month.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane {
    /// Where, in words: `inner face of plywood`.
    pub name: String,
    /// Equivalent air layer from outside, m.
    pub from_outside_m: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Saturation pressure, Pa.
    pub saturation_pa: f64,
    /// Condensed (evaporated, negative) in the month, kg/m².
    pub condensed_kg_m2: f64,
    /// Held at the month's end, kg/m².
    pub held_kg_m2: f64,
}

/// One month's result with its working.
#[derive(Clone, Debug, PartialEq)]
pub struct MonthResult {
    /// Number of the month, 0 January.
    pub month: usize,
    /// Temperatures at the strips' edges, outside face to inside face, °C.
    pub temperatures_c: Vec<f64>,
    /// Saturation pressures there, Pa.
    pub saturation_pa: Vec<f64>,
    /// Vapour pressures there, Pa.
    pub vapour_pa: Vec<f64>,
    /// Equivalent air layers from outside there, m.
    pub air_layer_m: Vec<f64>,
    /// Wet planes.
    pub planes: Vec<Plane>,
}

/// A year by the monthly method.
#[derive(Clone, Debug, PartialEq)]
pub struct YearResult {
    /// Twelve months from the first one with condensation (from January where there is none).
    pub months: Vec<MonthResult>,
    /// Most water held at the end of a month, kg/m².
    pub peak_kg_m2: f64,
    /// Water left after twelve months, kg/m²; above zero: it gathers year on year.
    pub left_kg_m2: f64,
}

impl YearResult {
    /// Returns the verdict in a sentence.
    pub fn sentence(&self) -> String {
        if self.peak_kg_m2 == 0.0 {
            "no condensation inside the construction by the monthly method".to_owned()
        } else if self.left_kg_m2 == 0.0 {
            format!("up to {:.0} g/m² condenses and dries again within the year", 1000.0 * self.peak_kg_m2)
        } else {
            format!(
                "up to {:.0} g/m² condenses and {:.0} g/m² is left after a year: water gathers",
                1000.0 * self.peak_kg_m2,
                1000.0 * self.left_kg_m2
            )
        }
    }
}

/// Strips of all layers, outside to inside.
struct Strips {
    resistance: Vec<f64>,
    air_layer: Vec<f64>,
    names: Vec<String>,
}

fn strips(layers: &[Layer]) -> Strips {
    let mut out =
        Strips { resistance: Vec::new(), air_layer: Vec::new(), names: vec!["outside face".to_owned()] };
    for layer in layers.iter().rev() {
        let count = (layer.resistance_m2k_w / STRIP_M2K_W - 1e-9).ceil().max(1.0);
        for k in 1..=count as usize {
            out.resistance.push(layer.resistance_m2k_w / count);
            out.air_layer.push(layer.air_layer_m / count);
            out.names.push(if k as f64 == count {
                format!("inner face of {}", layer.name)
            } else {
                format!("in {}, {k} of {count} parts from outside", layer.name)
            });
        }
    }
    out
}

/// Works the year out.
///
/// Twelve months begin with the first in which water condenses; a wet plane is held at saturation, and a month in which
/// it would dry beyond nothing ends at nothing (months are not split). Condensation planes that come to rest inside
/// a strip's neighbour each keep their own water.
///
/// # Errors
/// No layers, resistances out of range, or other than twelve months.
/// # Source
/// ISO 13788:2012 clauses 6.3 and 6.4; recalled.
pub fn year(layers: &[Layer], months: &[Month]) -> Result<YearResult, Vec<MoistureError>> {
    check(layers, months)?;
    let s = strips(layers);
    let first = (0..12)
        .find(|&m| {
            let dry = vec![0.0; s.names.len()];
            month(&s, m, &months[m], &dry).0.planes.iter().any(|p| p.condensed_kg_m2 > 0.0)
        })
        .map(|m| first_of_spell(&s, months, m));
    let mut held = vec![0.0; s.names.len()];
    let mut out = YearResult { months: Vec::new(), peak_kg_m2: 0.0, left_kg_m2: 0.0 };
    for k in 0..12 {
        let m = (first.unwrap_or(0) + k) % 12;
        let (result, now) = month(&s, m, &months[m], &held);
        held = now;
        let total: f64 = held.iter().sum();
        out.peak_kg_m2 = out.peak_kg_m2.max(total);
        out.left_kg_m2 = total;
        out.months.push(result);
    }
    Ok(out)
}

/// Goes back from a month with condensation to the first one of its spell.
fn first_of_spell(s: &Strips, months: &[Month], mut m: usize) -> usize {
    let dry = vec![0.0; s.names.len()];
    for _ in 0..11 {
        let before = (m + 11) % 12;
        if !month(s, before, &months[before], &dry).0.planes.iter().any(|p| p.condensed_kg_m2 > 0.0) {
            break;
        }
        m = before;
    }
    m
}

fn month(s: &Strips, number: usize, climate: &Month, held: &[f64]) -> (MonthResult, Vec<f64>) {
    let n = s.names.len();
    let total: f64 = RSE_M2K_W + s.resistance.iter().sum::<f64>() + RSI_INTERSTITIAL_M2K_W;
    let mut r = RSE_M2K_W;
    let mut z = 0.0;
    let (mut temperatures, mut air) = (Vec::with_capacity(n), Vec::with_capacity(n));
    for i in 0..n {
        if i > 0 {
            r += s.resistance[i - 1];
            z += s.air_layer[i - 1];
        }
        temperatures.push(climate.outdoor_c + r / total * (climate.indoor_c - climate.outdoor_c));
        air.push(z);
    }
    let saturation: Vec<f64> = temperatures.iter().map(|t| iso13788_saturation_pa(*t)).collect();
    let wet: Vec<bool> = held.iter().map(|h| *h > 0.0).collect();
    let ends = [climate.outdoor_pa, climate.indoor_pa];
    let p = glaser::profile(&air, &saturation, &wet, ends, AIR_PERMEABILITY_KG_MSPA);
    let seconds = climate.days * 86_400.0;
    let mut now = held.to_vec();
    let mut planes = Vec::new();
    for i in 0..n {
        let condensed = p.condensation_kg_m2s[i] * seconds;
        if condensed > 1e-12 || wet[i] {
            now[i] = (held[i] + condensed).max(0.0);
            planes.push(Plane {
                name: s.names[i].clone(),
                from_outside_m: air[i],
                temperature_c: temperatures[i],
                saturation_pa: saturation[i],
                condensed_kg_m2: condensed,
                held_kg_m2: now[i],
            });
        }
    }
    let result = MonthResult {
        month: number,
        temperatures_c: temperatures,
        saturation_pa: saturation,
        vapour_pa: p.vapour_pressure_pa,
        air_layer_m: air,
        planes,
    };
    (result, now)
}

fn check(layers: &[Layer], months: &[Month]) -> Result<(), Vec<MoistureError>> {
    let mut found = Vec::new();
    if layers.is_empty() {
        found.push(inconsistent("construction", "it has no layers".into()));
    }
    for l in layers {
        found.extend(within(&l.name, "thermal resistance in m²·K/W", l.resistance_m2k_w, 0.0, 100.0).err());
        found.extend(within(&l.name, "equivalent air layer in m", l.air_layer_m, 0.0, 1e7).err());
    }
    if months.len() != 12 {
        found.push(inconsistent("climate", format!("twelve months are needed, {} are given", months.len())));
    }
    for (k, m) in months.iter().enumerate() {
        let what = format!("month {}", k + 1);
        for t in [m.outdoor_c, m.indoor_c] {
            found.extend(within(&what, "temperature in °C", t, -60.0, 60.0).err());
        }
        for p in [m.outdoor_pa, m.indoor_pa] {
            found.extend(within(&what, "vapour pressure in Pa", p, 0.0, 2e4).err());
        }
        found.extend(within(&what, "days", m.days, 1.0, 366.0).err());
    }
    if found.is_empty() { Ok(()) } else { Err(found) }
}

/// Returns the lowest surface temperature, °C, and temperature factor f_Rsi that keep a surface at or below a relative
/// humidity (0.8 against mould on opaque elements, 1.0 against condensation on windows).
///
/// `None` where indoors and outdoors are equally warm: the factor has no meaning then.
/// # Source
/// ISO 13788:2012 clause 5.3; recalled.
pub fn surface_requirement(month: &Month, humidity_limit: f64) -> Option<(f64, f64)> {
    let t = iso13788_dew_point_c(month.indoor_pa / humidity_limit);
    let drop = month.indoor_c - month.outdoor_c;
    (drop.abs() > 1e-9).then(|| (t, (t - month.outdoor_c) / drop))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn months(outdoor_c: f64, indoor_pa: f64) -> Vec<Month> {
        (0..12)
            .map(|_| Month { days: 30.0, outdoor_c, outdoor_pa: 400.0, indoor_c: 20.0, indoor_pa })
            .collect()
    }

    fn layer(name: &str, resistance_m2k_w: f64, air_layer_m: f64) -> Layer {
        Layer { name: name.into(), resistance_m2k_w, air_layer_m }
    }

    #[test]
    fn a_tight_skin_outside_gathers_water_and_a_tight_skin_inside_does_not() {
        let (wool, skin) = (layer("wool", 4.0, 0.2), layer("sheet", 0.01, 20.0));
        let bad = year(&[wool.clone(), skin.clone()], &months(0.0, 1200.0)).expect("valid");
        assert!(bad.left_kg_m2 > 0.5 && bad.sentence().contains("gathers"), "{}", bad.sentence());
        assert_eq!(bad.months[0].planes[0].name, "inner face of sheet");
        let good = year(&[skin, wool], &months(0.0, 1200.0)).expect("valid");
        assert_eq!(good.peak_kg_m2, 0.0);
    }

    #[test]
    fn faults_are_told_at_once() {
        let e = year(&[layer("x", -1.0, f64::NAN)], &[]).expect_err("three");
        assert_eq!(e.len(), 3, "{e:?}");
    }

    #[test]
    fn the_surface_rule_of_thumb() {
        // 20 °C and 50 % inside, −5 °C outside: 12.6 °C, f_Rsi 0.70.
        let pa = 0.5 * iso13788_saturation_pa(20.0);
        let m = Month { days: 31.0, outdoor_c: -5.0, outdoor_pa: 300.0, indoor_c: 20.0, indoor_pa: pa };
        let (t, f) = surface_requirement(&m, MOULD_HUMIDITY).expect("a difference");
        assert!((t - 12.6246).abs() < 1e-3 && (f - 0.70498).abs() < 1e-4);
    }
}
