//! Hot water drawn over a day: published patterns as data, people's as shares of a day.

/// A draw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Minute of the day it begins.
    pub minute: f64,
    /// Volume at the tap, m³, of water at the temperature that counts.
    pub volume_m3: f64,
    /// Flow, m³/s.
    pub flow_m3_s: f64,
}

impl Draw {
    /// Returns how long it runs, s.
    pub fn duration_s(&self) -> f64 {
        self.volume_m3 / self.flow_m3_s
    }
}

/// Returns the heat in a day's draws, J, with water warmed from `cold_c` to `hot_c`.
pub fn heat_j(draws: &[Draw], cold_c: f64, hot_c: f64) -> f64 {
    draws.iter().map(|d| d.volume_m3).sum::<f64>() * crate::tank::WATER_J_M3K * (hot_c - cold_c)
}

/// Returns each hour's share of a day's hot water in a building used as the published medium pattern: its volumes by
/// the hour they begin in, turned so that the first falls on `first_hour`.
pub fn hourly_shares(draws: &[Draw], first_hour: usize) -> [f64; 24] {
    let mut shares = [0.0; 24];
    let sum: f64 = draws.iter().map(|d| d.volume_m3).sum();
    for d in draws {
        let hour = (d.minute / 60.0) as usize % 24;
        shares[(hour + first_hour) % 24] += if sum > 0.0 { d.volume_m3 / sum } else { 0.0 };
    }
    shares
}

/// Returns shares of a day's hot water that follow the people who are there, hour by hour; even when nobody is.
pub fn shares_of_people(people: &[f64; 24]) -> [f64; 24] {
    let sum: f64 = people.iter().sum();
    if sum > 0.0 { people.map(|p| p / sum) } else { [1.0 / 24.0; 24] }
}

/// Returns volume at the tank for a volume mixed at the tap: `V (T_use − T_cold)/(T_hot − T_cold)`; all of it when the
/// tank is no hotter than the use.
pub fn tank_share(use_c: f64, hot_c: f64, cold_c: f64) -> f64 {
    if hot_c <= use_c { 1.0 } else { ((use_c - cold_c) / (hot_c - cold_c)).clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_add_up_and_turn() {
        let draw = |minute: f64, l: f64| Draw { minute, volume_m3: l * 1e-3, flow_m3_s: 1e-4 };
        let shares = hourly_shares(&[draw(0.0, 10.0), draw(30.0, 10.0), draw(630.0, 20.0)], 7);
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((shares[7] - 0.5).abs() < 1e-12 && (shares[17] - 0.5).abs() < 1e-12);
        assert_eq!(tank_share(40.0, 55.0, 10.0), 30.0 / 45.0);
    }
}
