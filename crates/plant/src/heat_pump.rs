//! Air-source heat pump that warms or cools room air (or water): how much it can, and what that takes.
//!
//! Two ways to the same questions: a maker's table ([`Map`]) read by straight lines between its points, or a law with
//! physical limits fitted to one to a few rated points ([`SecondLaw`]):
//! ```text
//! heating:  COP = η T_h/(T_h − T_c)    T_h = θ_room + σ Q/K      T_c = θ_out − σ a
//! cooling:  EER = η T_c/(T_h − T_c)    T_c = θ_room − σ f Q/K    T_h = θ_out + σ a     σ = (1 + s)/2
//! full capacity  Q = Q₁ (1 + c_o (θ_out − θ₁) + c_r (θ_r − θ_r1))
//! ```
//! | symbol | meaning | unit |
//! |---|---|---|
//! | η | share of the reversible machine | – |
//! | s | load over full capacity, least [`Limits::least_share`] | – |
//! | f | sensible share of the load: a wet coil stays warmer | – |
//! | K | room-side heat per kelvin between air and refrigerant | W/K |
//! | a | outdoor-side difference at full load | K |
//! | θ_r | refrigerant on the room side at full load | °C |
//!
//! Half of the differences stays at small load, standing for compressors that lose at low speed (judgement).
//! Below its least share the machine cycles ([`cycling_factor`]). Limits of the law: steady states; oil return, noise
//! modes and refrigerant pressure limits are not in it.

use crate::error::within;
use crate::{KELVIN, PlantError};

/// Which way heat goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Into the room.
    Heating,
    /// Out of the room.
    Cooling,
}

/// Smallest lift that the law works with, K: no machine works across nothing.
const LEAST_LIFT_K: f64 = 5.0;
/// Room-side difference at full load when only points at one room temperature are known, K. Judgement.
const ROOM_APPROACH_K: f64 = 12.0;
/// Outdoor-side difference at full load, K. Judgement.
const OUTDOOR_APPROACH_K: f64 = 10.0;
/// Growth of capacity with the outdoor temperature when one point says nothing, 1/K: warmer outdoors helps heating and
/// hinders cooling. Judgement from common sheets.
const PER_OUTDOOR_K: [f64; 2] = [0.015, -0.008];

/// Returns COP of the reversible machine heating between two temperatures, °C.
pub fn reversible_heating(cold_c: f64, hot_c: f64) -> f64 {
    (hot_c + KELVIN) / (hot_c - cold_c).max(1e-9)
}

/// Returns EER of the reversible machine cooling between two temperatures, °C.
pub fn reversible_cooling(cold_c: f64, hot_c: f64) -> f64 {
    (cold_c + KELVIN) / (hot_c - cold_c).max(1e-9)
}

/// A rated point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatedPoint {
    /// Outdoor air, °C.
    pub outdoor_c: f64,
    /// Room air (or water on its way out), °C.
    pub indoor_c: f64,
    /// Heat given or taken at full speed, W.
    pub capacity_w: f64,
    /// Electric power, fans included, W.
    pub power_w: f64,
}

/// The fitted law.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SecondLaw {
    /// Which way heat goes.
    pub mode: Mode,
    /// η at the reference outdoor temperature.
    pub efficiency: f64,
    /// Its change with the outdoor temperature, 1/K.
    pub efficiency_per_k: f64,
    /// θ₁, °C.
    pub reference_outdoor_c: f64,
    /// θ_r1, refrigerant on the room side at the reference, °C.
    pub reference_coil_c: f64,
    /// a, K.
    pub outdoor_approach_k: f64,
    /// K, W/K.
    pub room_w_k: f64,
    /// Q₁, W.
    pub capacity_w: f64,
    /// c_o, 1/K.
    pub per_outdoor_k: f64,
    /// c_r, 1/K.
    pub per_coil_k: f64,
}

impl SecondLaw {
    /// Fits rated points: two or three fix capacity and efficiency against the outdoor temperature, one fixes both at
    /// its own and leaves the slopes to common sheets.
    ///
    /// # Errors
    /// [`PlantError`] without points, for figures that are none, and for a point better than the reversible machine.
    pub fn fit(mode: Mode, points: &[RatedPoint]) -> Result<Self, PlantError> {
        let Some(first) = points.first() else {
            return Err(PlantError::TooFew { what: "a heat pump", least: 1, found: 0 });
        };
        let sign = if mode == Mode::Heating { 1.0 } else { -1.0 };
        for p in points {
            within("capacity of a rated point", p.capacity_w, 1.0, 1e7, "is more than zero, W")?;
            within("power of a rated point", p.power_w, 1.0, 1e7, "is more than zero, W")?;
            within(
                "outdoor temperature of a rated point",
                p.outdoor_c,
                -60.0,
                70.0,
                "lies from −60 to 70 °C",
            )?;
            within("indoor temperature of a rated point", p.indoor_c, -30.0, 90.0, "lies from −30 to 90 °C")?;
            let most = match mode {
                Mode::Heating => reversible_heating(p.outdoor_c, p.indoor_c.max(p.outdoor_c + LEAST_LIFT_K)),
                Mode::Cooling => reversible_cooling(p.indoor_c, p.outdoor_c.max(p.indoor_c + LEAST_LIFT_K)),
            };
            if p.capacity_w / p.power_w > most {
                let what = format!("rated point at {} °C outdoors", p.outdoor_c);
                return Err(PlantError::SecondLaw { what, found: p.capacity_w / p.power_w, most });
            }
        }
        let n = points.len() as f64;
        let mean_capacity = points.iter().map(|p| p.capacity_w).sum::<f64>() / n;
        let room_w_k = mean_capacity / ROOM_APPROACH_K;
        let coil = |p: &RatedPoint| p.indoor_c + sign * p.capacity_w / room_w_k;
        let reference_outdoor_c = points.iter().map(|p| p.outdoor_c).sum::<f64>() / n;
        let mut it = Self {
            mode,
            efficiency: 1.0,
            efficiency_per_k: 0.0,
            reference_outdoor_c,
            reference_coil_c: coil(first),
            outdoor_approach_k: OUTDOOR_APPROACH_K,
            room_w_k,
            capacity_w: mean_capacity,
            per_outdoor_k: PER_OUTDOOR_K[usize::from(mode == Mode::Cooling)],
            per_coil_k: 0.0,
        };
        let efficiency =
            |p: &RatedPoint| (p.capacity_w / p.power_w) / it.reversible(p.outdoor_c, coil(p), 1.0);
        let line = |y: &dyn Fn(&RatedPoint) -> f64| slope_and_mean(points, y);
        let (slope, mean) = line(&|p| p.capacity_w);
        let (efficiency_slope, efficiency_mean) = line(&efficiency);
        it.capacity_w = mean;
        it.efficiency = efficiency_mean;
        if let Some(slope) = slope {
            it.per_outdoor_k = slope / mean;
        } else {
            it.capacity_w = first.capacity_w;
            it.reference_outdoor_c = first.outdoor_c;
        }
        it.efficiency_per_k = efficiency_slope.unwrap_or(0.0);
        Ok(it)
    }

    /// Reversible ratio between outdoor air and the room-side refrigerant at a share of the full differences.
    fn reversible(&self, outdoor_c: f64, coil_c: f64, share: f64) -> f64 {
        let other = share * self.outdoor_approach_k;
        match self.mode {
            Mode::Heating => {
                let cold = outdoor_c - other;
                reversible_heating(cold.min(coil_c - LEAST_LIFT_K), coil_c)
            }
            Mode::Cooling => {
                let hot = outdoor_c + other;
                reversible_cooling(coil_c, hot.max(coil_c + LEAST_LIFT_K))
            }
        }
    }

    /// Returns the full capacity, W, with this sensible share of the load (heating: 1).
    pub fn capacity_w(&self, outdoor_c: f64, indoor_c: f64, sensible_share: f64) -> f64 {
        let sign = if self.mode == Mode::Heating { 1.0 } else { -1.0 };
        let shift = 1.0 + self.per_outdoor_k * (outdoor_c - self.reference_outdoor_c);
        // θ_r = θ_room ± f Q/K stands on both sides: one linear equation for Q.
        let numerator = shift + self.per_coil_k * (indoor_c - self.reference_coil_c);
        let slope = -sign * self.per_coil_k * self.capacity_w * sensible_share / self.room_w_k;
        (self.capacity_w * numerator / (1.0 + slope)).max(0.05 * self.capacity_w)
    }

    /// Returns heat over electricity at a share of the full capacity; never above the reversible machine between
    /// room and outdoor air.
    pub fn ratio(&self, outdoor_c: f64, indoor_c: f64, share: f64, sensible_share: f64) -> f64 {
        let sign = if self.mode == Mode::Heating { 1.0 } else { -1.0 };
        let capacity = self.capacity_w(outdoor_c, indoor_c, sensible_share);
        let part = 0.5 * (1.0 + share.clamp(0.0, 1.0));
        let coil = indoor_c + sign * part * sensible_share * capacity / self.room_w_k;
        let shift = self.efficiency_per_k * (outdoor_c - self.reference_outdoor_c);
        let efficiency = (self.efficiency + shift).clamp(0.05, 0.95);
        efficiency * self.reversible(outdoor_c, coil, part)
    }
}

/// Least-squares slope over the outdoor temperature (`None` where all are alike) and the mean.
fn slope_and_mean(points: &[RatedPoint], y: &dyn Fn(&RatedPoint) -> f64) -> (Option<f64>, f64) {
    let n = points.len() as f64;
    let (mx, my) =
        (points.iter().map(|p| p.outdoor_c).sum::<f64>() / n, points.iter().map(y).sum::<f64>() / n);
    let (mut xx, mut xy) = (0.0, 0.0);
    for p in points {
        xx += (p.outdoor_c - mx) * (p.outdoor_c - mx);
        xy += (p.outdoor_c - mx) * (y(p) - my);
    }
    ((xx > 1.0).then(|| xy / xx), my)
}

/// A maker's table on a full grid of outdoor temperature, indoor temperature and speed.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    mode: Mode,
    outdoor_c: Vec<f64>,
    indoor_c: Vec<f64>,
    share: Vec<f64>,
    capacity_w: Vec<f64>,
    power_w: Vec<f64>,
}

impl Map {
    /// Reads CSV with the columns `outdoor_c, indoor_c, speed, capacity_w, power_w` (`speed` from 0 to 1 may be left
    /// out); lines that begin with `#` are notes. Every combination of the temperatures and speeds named must be there.
    ///
    /// # Errors
    /// [`PlantError`] with the row.
    pub fn read(mode: Mode, text: &str) -> Result<Self, PlantError> {
        let mut reader =
            csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
        let fail = |row: usize, why: String| PlantError::Row { row, why };
        let header = reader.headers().map_err(|e| fail(1, e.to_string()))?.clone();
        let column = |name: &str| header.iter().position(|h| h == name);
        let need = |name: &str| column(name).ok_or_else(|| fail(1, format!("no column \"{name}\"")));
        let places = [need("outdoor_c")?, need("indoor_c")?, need("capacity_w")?, need("power_w")?];
        let speed = column("speed");
        let mut rows: Vec<[f64; 5]> = Vec::new();
        for (i, record) in reader.records().enumerate() {
            let record = record.map_err(|e| fail(i + 2, e.to_string()))?;
            let number = |place: usize| {
                let text = record.get(place).unwrap_or_default();
                text.parse::<f64>()
                    .ok()
                    .filter(|x| x.is_finite())
                    .ok_or_else(|| fail(i + 2, format!("\"{text}\" is not a number")))
            };
            let share = speed.map_or(Ok(1.0), number)?;
            let row = [number(places[0])?, number(places[1])?, share, number(places[2])?, number(places[3])?];
            if !(row[2] > 0.0 && row[2] <= 1.0 && row[3] > 0.0 && row[4] > 0.0) {
                return Err(fail(
                    i + 2,
                    "speed lies in 0..1, capacity and power are more than zero".to_owned(),
                ));
            }
            rows.push(row);
        }
        let axis = |k: usize| {
            let mut values: Vec<f64> = rows.iter().map(|r| r[k]).collect();
            values.sort_by(f64::total_cmp);
            values.dedup();
            values
        };
        let (outdoor_c, indoor_c, share) = (axis(0), axis(1), axis(2));
        if rows.is_empty() {
            return Err(PlantError::TooFew { what: "a map", least: 1, found: 0 });
        }
        let (mut capacity_w, mut power_w) = (Vec::new(), Vec::new());
        for o in &outdoor_c {
            for i in &indoor_c {
                for s in &share {
                    let found = rows.iter().find(|r| r[0] == *o && r[1] == *i && r[2] == *s);
                    let Some(row) = found else {
                        return Err(fail(
                            1,
                            format!("no row for {o} °C outdoors, {i} °C indoors, speed {s}"),
                        ));
                    };
                    capacity_w.push(row[3]);
                    power_w.push(row[4]);
                }
            }
        }
        Ok(Self { mode, outdoor_c, indoor_c, share, capacity_w, power_w })
    }

    /// Value of a table by straight lines; held at its edges beyond them.
    fn at(&self, table: &[f64], outdoor_c: f64, indoor_c: f64, share: f64) -> f64 {
        let axes = [(&self.outdoor_c, outdoor_c), (&self.indoor_c, indoor_c), (&self.share, share)];
        let [o, i, s] = axes.map(|(axis, x)| bracket(axis, x));
        let (ni, ns) = (self.indoor_c.len(), self.share.len());
        let mut sum = 0.0;
        for (a, wa) in [(o.0, 1.0 - o.2), (o.1, o.2)] {
            for (b, wb) in [(i.0, 1.0 - i.2), (i.1, i.2)] {
                for (c, wc) in [(s.0, 1.0 - s.2), (s.1, s.2)] {
                    sum += wa * wb * wc * table[(a * ni + b) * ns + c];
                }
            }
        }
        sum
    }

    /// Returns the full capacity, W.
    pub fn capacity_w(&self, outdoor_c: f64, indoor_c: f64) -> f64 {
        self.at(&self.capacity_w, outdoor_c, indoor_c, 1.0)
    }

    /// Returns heat over electricity at a share of the full capacity: at the speed that gives it. Held below the
    /// reversible machine.
    pub fn ratio(&self, outdoor_c: f64, indoor_c: f64, share: f64) -> f64 {
        let wanted = share * self.capacity_w(outdoor_c, indoor_c);
        let gives = |speed: f64| self.at(&self.capacity_w, outdoor_c, indoor_c, speed) - wanted;
        let (low, high) = (self.share[0], self.share[self.share.len() - 1]);
        let speed = if gives(low) >= 0.0 {
            low
        } else {
            numeric::root::brent(gives, low, high, 1e-9).unwrap_or(high)
        };
        let (heat, power) = (
            self.at(&self.capacity_w, outdoor_c, indoor_c, speed),
            self.at(&self.power_w, outdoor_c, indoor_c, speed),
        );
        let most = match self.mode {
            Mode::Heating => reversible_heating(outdoor_c.min(indoor_c - LEAST_LIFT_K), indoor_c),
            Mode::Cooling => reversible_cooling(indoor_c, outdoor_c.max(indoor_c + LEAST_LIFT_K)),
        };
        (heat / power).min(most)
    }
}

/// Neighbours of a value on an axis and the weight of the second.
fn bracket(axis: &[f64], x: f64) -> (usize, usize, f64) {
    let last = axis.len() - 1;
    let right = axis.iter().position(|a| *a >= x).unwrap_or(last);
    if right == 0 || axis[right] <= x {
        return (right, right, 0.0);
    }
    let left = right - 1;
    (left, right, (x - axis[left]) / (axis[right] - axis[left]))
}

/// Where a machine's figures come from.
#[derive(Clone, Debug, PartialEq)]
pub enum Figures {
    /// The law.
    Law(SecondLaw),
    /// The maker's table.
    Map(Map),
    /// One ratio and one capacity, whatever the weather.
    Even {
        /// Heat over electricity.
        ratio: f64,
        /// Capacity, W.
        capacity_w: f64,
    },
}

/// Returns efficiency of a cycling machine over that of the same one running: `1 − C_d (1 − r)`, r its running share.
///
/// C_d 0.25 for air-to-air by EN 14825 (from memory); 0.229 in the published cooling-equipment cases.
pub fn cycling_factor(running_share: f64, degradation: f64) -> f64 {
    1.0 - degradation * (1.0 - running_share.clamp(0.0, 1.0))
}

/// How a machine is bounded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Least share of the full capacity it can run at.
    pub least_share: f64,
    /// C_d of cycling below that.
    pub degradation: f64,
    /// Heating stops below this outdoor temperature, °C.
    pub cut_out_c: f64,
    /// Largest loss of capacity by defrosting, near 1 °C outdoors in damp air; 0 where the figures hold it already.
    pub defrost: f64,
    /// Power while it waits, W.
    pub standby_w: f64,
    /// Resistance backup, W.
    pub backup_w: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            least_share: 0.25,
            degradation: 0.25,
            cut_out_c: -20.0,
            defrost: 0.0,
            standby_w: 8.0,
            backup_w: 0.0,
        }
    }
}

/// A machine.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatPump {
    /// Which way heat goes.
    pub mode: Mode,
    /// Capacity and power.
    pub figures: Figures,
    /// Bounds.
    pub limits: Limits,
}

/// What a machine does in a state.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Running {
    /// Heat given or taken by the machine, W.
    pub heat_w: f64,
    /// Its electric power, W.
    pub power_w: f64,
    /// Heat (and power) of the backup, W.
    pub backup_w: f64,
    /// Load that nothing meets, W.
    pub unmet_w: f64,
    /// Full capacity in this state, W.
    pub capacity_w: f64,
    /// Share of the time it runs; below 1 it cycles.
    pub on_share: f64,
}

impl HeatPump {
    /// Returns the full capacity in a state, W: zero below the cut-out.
    pub fn capacity_w(&self, outdoor_c: f64, indoor_c: f64, sensible_share: f64) -> f64 {
        if self.mode == Mode::Heating && outdoor_c < self.limits.cut_out_c {
            return 0.0;
        }
        let full = match &self.figures {
            Figures::Law(law) => law.capacity_w(outdoor_c, indoor_c, sensible_share),
            Figures::Map(map) => map.capacity_w(outdoor_c, indoor_c),
            Figures::Even { capacity_w, .. } => *capacity_w,
        };
        full * self.defrost_factor(outdoor_c)
    }

    /// Full loss at 1 °C, none below −8 and above 6 °C: dry cold carries no rime. Shape from common sheets, judgement.
    fn defrost_factor(&self, outdoor_c: f64) -> f64 {
        let shape = if outdoor_c < 1.0 { (outdoor_c + 8.0) / 9.0 } else { (6.0 - outdoor_c) / 5.0 };
        if self.mode == Mode::Heating { 1.0 - self.limits.defrost * shape.clamp(0.0, 1.0) } else { 1.0 }
    }

    /// Returns how a load is met.
    pub fn meet(&self, load_w: f64, outdoor_c: f64, indoor_c: f64, sensible_share: f64) -> Running {
        let load = load_w.max(0.0);
        let capacity_w = self.capacity_w(outdoor_c, indoor_c, sensible_share);
        if load == 0.0 {
            return Running { power_w: self.limits.standby_w, capacity_w, ..Running::default() };
        }
        let heat_w = load.min(capacity_w);
        let (mut power_w, mut on_share) = (self.limits.standby_w, 0.0);
        if heat_w > 0.0 {
            let share = heat_w / capacity_w;
            let least = self.limits.least_share.clamp(0.01, 1.0);
            on_share = (share / least).min(1.0);
            let ratio = match &self.figures {
                Figures::Law(law) => law.ratio(outdoor_c, indoor_c, share.max(least), sensible_share),
                Figures::Map(map) => map.ratio(outdoor_c, indoor_c, share.max(least)),
                Figures::Even { ratio, .. } => *ratio,
            };
            // A figure for the year has cycling and defrosting in it already.
            let lessened = match self.figures {
                Figures::Even { .. } => 1.0,
                _ => cycling_factor(on_share, self.limits.degradation) * self.defrost_factor(outdoor_c),
            };
            power_w = heat_w / (ratio * lessened) + self.limits.standby_w * (1.0 - on_share);
        }
        let backup_w = (load - heat_w).min(self.limits.backup_w);
        Running { heat_w, power_w, backup_w, unmet_w: load - heat_w - backup_w, capacity_w, on_share }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn points() -> [RatedPoint; 3] {
        [(7.0, 3200.0, 740.0), (2.0, 2700.0, 760.0), (-8.0, 2500.0, 960.0)].map(
            |(outdoor_c, capacity_w, power_w)| RatedPoint { outdoor_c, indoor_c: 20.0, capacity_w, power_w },
        )
    }

    fn heater(points: &[RatedPoint]) -> HeatPump {
        let law = SecondLaw::fit(Mode::Heating, points).unwrap();
        HeatPump { mode: Mode::Heating, figures: Figures::Law(law), limits: Limits::default() }
    }

    #[test]
    fn two_rated_points_are_met() {
        let two = [points()[0], points()[2]];
        let machine = heater(&two);
        for p in two {
            let run = machine.meet(1e9, p.outdoor_c, p.indoor_c, 1.0);
            assert!((run.heat_w / p.capacity_w - 1.0).abs() < 1e-9, "{run:?}");
            assert!((run.power_w / p.power_w - 1.0).abs() < 0.01, "{run:?}");
        }
    }

    #[test]
    fn a_point_better_than_reversible_is_refused() {
        let bad = RatedPoint { power_w: 50.0, ..points()[0] };
        assert!(matches!(SecondLaw::fit(Mode::Heating, &[bad]), Err(PlantError::SecondLaw { .. })));
    }

    #[test]
    fn below_the_cut_out_only_the_backup_heats() {
        let mut machine = heater(&points());
        machine.limits.backup_w = 1000.0;
        let run = machine.meet(1500.0, -25.0, 20.0, 1.0);
        assert_eq!((run.heat_w, run.backup_w, run.unmet_w), (0.0, 1000.0, 500.0));
    }

    #[test]
    fn a_map_is_read_and_its_points_are_met() {
        let text = "# invented\noutdoor_c, indoor_c, speed, capacity_w, power_w\n-8,20,1,2500,960\n7,20,1,3200,740\n-8,20,0.3,800,250\n7,20,0.3,1000,170\n";
        let map = Map::read(Mode::Heating, text).unwrap();
        assert_eq!(map.capacity_w(-8.0, 20.0), 2500.0);
        assert!((map.ratio(7.0, 20.0, 1.0) - 3200.0 / 740.0).abs() < 1e-9);
        assert!((map.ratio(7.0, 20.0, 1000.0 / 3200.0) - 1000.0 / 170.0).abs() < 1e-6);
        assert!(Map::read(Mode::Heating, "outdoor_c,indoor_c,capacity_w\n1,2,3").is_err());
        assert!(
            Map::read(Mode::Heating, "outdoor_c,indoor_c,capacity_w,power_w\n1,20,3,1\n2,21,3,1").is_err()
        );
    }

    #[test]
    fn cycling_costs() {
        let machine = heater(&points());
        let full = machine.meet(800.0, 7.0, 20.0, 1.0);
        let little = machine.meet(150.0, 7.0, 20.0, 1.0);
        assert!(full.on_share == 1.0 && little.on_share < 1.0);
        assert!(little.heat_w / little.power_w < full.heat_w / full.power_w);
    }

    proptest! {
        #[test]
        fn energy_in_is_energy_out_and_the_second_law_holds(
            outdoor in -24.0..45.0f64, room in 10.0..30.0f64, load in 1.0..9000.0f64, wet in 0.4..1.0f64, cooling in any::<bool>(),
        ) {
            let machine = if cooling {
                let p = [(35.0, 3500.0, 950.0), (25.0, 3700.0, 700.0)].map(|(outdoor_c, capacity_w, power_w)| RatedPoint { outdoor_c, indoor_c: 27.0, capacity_w, power_w });
                HeatPump { mode: Mode::Cooling, figures: Figures::Law(SecondLaw::fit(Mode::Cooling, &p).unwrap()), limits: Limits::default() }
            } else { heater(&points()) };
            let run = machine.meet(load, outdoor, room, wet);
            prop_assert!((run.heat_w + run.backup_w + run.unmet_w - load).abs() < 1e-9 * load);
            prop_assert!(run.heat_w <= run.capacity_w + 1e-9);
            if run.heat_w > 0.0 {
                let ratio = run.heat_w / run.power_w;
                let (cold, hot) = if cooling { (room, outdoor) } else { (outdoor, room) };
                if hot > cold + LEAST_LIFT_K {
                    let most = if cooling { reversible_cooling(cold, hot) } else { reversible_heating(cold, hot) };
                    prop_assert!(ratio < most, "{ratio} {most}");
                }
            }
        }
    }
}
