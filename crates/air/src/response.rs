//! Infiltration of each zone tabulated over weather and fans, for runs that cannot afford a network each step.
//!
//! The table is built on the nominal building by solving the network at every grid point; between them it is linear. A
//! sample whose leaks are all `f` times the nominal ones is answered exactly but for the interpolation: scaling every leak
//! and every fan by the same factor leaves the pressures alone, so `q(f, fan) = f·q(1, fan/f)`. Another exponent is not
//! followed. The error against solving directly is a few tenths of a per cent of the year's infiltration heat
//! (tested: at most 2 %).

use crate::network::NetworkError;
use crate::wind::{Air, Moment, ZoneAir};

/// Grid of winds at the station, m/s; above the last, the table is extended along its end.
const WINDS_M_S: [f64; 12] = [0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.5, 7.5, 10.0, 14.0, 20.0];
/// Grid of inside less outside temperature, K.
const DIFFERENCES_K: [f64; 15] =
    [-20.0, -12.0, -7.0, -4.0, -2.0, 0.0, 2.0, 4.0, 7.0, 11.0, 16.0, 22.0, 28.0, 36.0, 46.0];
/// Directions, evenly spaced.
const DIRECTIONS: usize = 16;
/// Grid of the fans' surplus as a multiple of the mode's own.
const FAN_SCALES: [f64; 7] = [0.0, 0.4, 0.7, 1.0, 1.4, 2.2, 4.0];

/// What the table answers for one zone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Infiltration {
    /// Outdoor air in through leaks, kg/s.
    pub from_outside_kg_s: f64,
    /// Air in from neighbours, kg/s.
    pub from_neighbours_kg_s: f64,
}

/// Temperatures and neighbours the table holds fast.
#[derive(Clone, Debug, PartialEq)]
pub struct Fast {
    /// Zone temperature, °C: only its difference to outdoors is followed, the same for all zones.
    pub inside_c: f64,
    /// Pressure, Pa, and temperature, °C, of each neighbour.
    pub neighbours: Vec<(f64, f64)>,
    /// Barometric pressure, Pa.
    pub barometer_pa: f64,
}

/// The table.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    zones: usize,
    /// Whether each mode has any surplus; balanced modes keep one fan level only.
    unbalanced: Vec<bool>,
    /// Start of each mode in `values`.
    starts: Vec<usize>,
    /// Order: mode, fan level, difference, wind, direction, zone.
    values: Vec<Infiltration>,
}

/// Place on a grid: lower index and share of the way to the next.
fn place(grid: &[f64], x: f64) -> (usize, f64) {
    let k = grid.iter().rposition(|g| *g <= x).unwrap_or(0).min(grid.len() - 2);
    // Beyond the ends the last value is kept: no invented weather.
    (k, ((x - grid[k]) / (grid[k + 1] - grid[k])).clamp(0.0, 1.0))
}

impl Response {
    /// Tabulates a network over weather for each fan mode: `modes[m][zone]` is supply less extract, m³/h.
    ///
    /// # Errors
    /// As [`Air::at`].
    pub fn new(air: &mut Air, modes: &[Vec<f64>], fast: &Fast) -> Result<Self, NetworkError> {
        let zones = air.plan().zones;
        let mut table = Self { zones, unbalanced: Vec::new(), starts: Vec::new(), values: Vec::new() };
        for mode in modes {
            let unbalanced = mode.iter().any(|s| *s != 0.0);
            table.unbalanced.push(unbalanced);
            table.starts.push(table.values.len());
            let scales = if unbalanced { &FAN_SCALES[..] } else { &FAN_SCALES[..1] };
            for scale in scales {
                for difference in DIFFERENCES_K {
                    for wind_m_s in WINDS_M_S {
                        for direction in 0..DIRECTIONS {
                            let moment = Moment {
                                wind_m_s,
                                from_deg: 360.0 * direction as f64 / DIRECTIONS as f64,
                                outside_c: fast.inside_c - difference,
                                zones_c: vec![fast.inside_c; zones],
                                neighbours: fast.neighbours.clone(),
                                surplus_m3_h: mode.iter().map(|s| s * scale).collect(),
                                barometer_pa: fast.barometer_pa,
                            };
                            table.values.extend(air.at(&moment)?.iter().map(of_zone));
                        }
                    }
                }
            }
        }
        Ok(table)
    }

    /// Returns the infiltration of a zone, for leaks `leak_factor` times the nominal ones.
    ///
    /// `None` for a mode or zone that is not in the table or a factor not above zero. Winds and differences beyond the
    /// grid are answered by its end.
    pub fn at(
        &self,
        mode: usize,
        zone: usize,
        wind_m_s: f64,
        from_deg: f64,
        difference_k: f64,
        leak_factor: f64,
    ) -> Option<Infiltration> {
        if mode >= self.starts.len() || zone >= self.zones || !(leak_factor > 0.0) {
            return None;
        }
        let (fan, fan_share) =
            if self.unbalanced[mode] { place(&FAN_SCALES, 1.0 / leak_factor) } else { (0, 0.0) };
        let (dt, dt_share) = place(&DIFFERENCES_K, difference_k);
        let (wind, wind_share) = place(&WINDS_M_S, wind_m_s);
        let turn = from_deg.rem_euclid(360.0) / 360.0 * DIRECTIONS as f64;
        let (way, way_share) = (turn.floor() as usize % DIRECTIONS, turn - turn.floor());
        let mut sum = Infiltration::default();
        for (f, wf) in [(fan, 1.0 - fan_share), (fan + 1, fan_share)] {
            for (d, wd) in [(dt, 1.0 - dt_share), (dt + 1, dt_share)] {
                for (w, ww) in [(wind, 1.0 - wind_share), (wind + 1, wind_share)] {
                    for (a, wa) in [(way, 1.0 - way_share), ((way + 1) % DIRECTIONS, way_share)] {
                        let weight = wf * wd * ww * wa;
                        if weight == 0.0 {
                            continue;
                        }
                        let cell = ((f * DIFFERENCES_K.len() + d) * WINDS_M_S.len() + w) * DIRECTIONS + a;
                        let value = self.values[self.starts[mode] + cell * self.zones + zone];
                        sum.from_outside_kg_s += weight * value.from_outside_kg_s;
                        sum.from_neighbours_kg_s += weight * value.from_neighbours_kg_s;
                    }
                }
            }
        }
        Some(Infiltration {
            from_outside_kg_s: leak_factor * sum.from_outside_kg_s,
            from_neighbours_kg_s: leak_factor * sum.from_neighbours_kg_s,
        })
    }

    /// Returns how many numbers the table holds.
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Says whether the table is empty.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }
}

fn of_zone(air: &ZoneAir) -> Infiltration {
    Infiltration { from_outside_kg_s: air.from_outside_kg_s, from_neighbours_kg_s: air.from_neighbours_kg_s }
}

/// Returns table and direct sums of infiltration heat over given hours, J, all zones together: (table, direct). The
/// measure of the table's error.
///
/// # Errors
/// As [`Air::at`].
pub fn heat_compared_j(
    table: &Response,
    air: &mut Air,
    fast: &Fast,
    modes: &[Vec<f64>],
    hours: &[Hour],
) -> Result<(f64, f64), NetworkError> {
    const AIR_HEAT_J_KGK: f64 = 1006.0;
    let zones = air.plan().zones;
    let (mut by_table, mut direct) = (0.0, 0.0);
    for hour in hours {
        let difference = fast.inside_c - hour.outside_c;
        let heat = |kg_s: f64| kg_s * AIR_HEAT_J_KGK * difference.max(0.0) * 3600.0;
        for zone in 0..zones {
            let at = table.at(hour.mode, zone, hour.wind_m_s, hour.from_deg, difference, 1.0);
            by_table += at.map_or(f64::NAN, |i| heat(i.from_outside_kg_s));
        }
        let moment = Moment {
            wind_m_s: hour.wind_m_s,
            from_deg: hour.from_deg,
            outside_c: hour.outside_c,
            zones_c: vec![fast.inside_c; zones],
            neighbours: fast.neighbours.clone(),
            surplus_m3_h: modes.get(hour.mode).cloned().unwrap_or_default(),
            barometer_pa: fast.barometer_pa,
        };
        direct += air.at(&moment)?.iter().map(|z| heat(z.from_outside_kg_s)).sum::<f64>();
    }
    Ok((by_table, direct))
}

/// An hour for [`heat_compared_j`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hour {
    /// Wind at the station, m/s.
    pub wind_m_s: f64,
    /// Direction it comes from, degrees.
    pub from_deg: f64,
    /// Outdoor temperature, °C.
    pub outside_c: f64,
    /// Index of the fan mode.
    pub mode: usize,
}

#[cfg(test)]
mod tests;
