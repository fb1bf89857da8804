//! What heats the tank, when, and what that takes from where it stands.
//!
//! One step: the draw leaves, the thermostat asks, the machine gives up to what it can in this state, an element helps
//! where the machine may not or cannot. A heat pump takes `heat − electricity` from its source; where the source is a
//! room, part of that is water condensed from its air ([`coil_split`]). Every step closes ([`HeaterStep::residual_j`]).

use matter::moist_air;

use crate::PlantError;
use crate::heat_pump::HeatPump;
use crate::tank::{Given, Tank, WATER_J_M3K};

/// Air that a machine draws heat from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SourceAir {
    /// °C.
    pub temperature_c: f64,
    /// kg/kg.
    pub kg_kg: f64,
    /// Pa.
    pub pressure_pa: f64,
}

/// Mean difference between air and coil surface, K. Judgement.
const COIL_DIFFERENCE_K: f64 = 10.0;

/// Returns the sensible share of heat taken from air by a coil, and water condensed a joule taken, kg/J.
///
/// Air goes straight towards saturation at the coil's surface, [`COIL_DIFFERENCE_K`] below it.
pub fn coil_split(air: &SourceAir) -> (f64, f64) {
    let surface = air.temperature_c - COIL_DIFFERENCE_K;
    let dry = air.kg_kg - moist_air::humidity_ratio_of(surface, 1.0, air.pressure_pa);
    if dry <= 0.0 {
        return (1.0, 0.0);
    }
    let evaporation = moist_air::evaporation_heat(surface.max(0.0));
    let sensible = moist_air::specific_heat(air.kg_kg) * COIL_DIFFERENCE_K;
    let share = sensible / (sensible + evaporation * dry);
    (share, (1.0 - share) / evaporation)
}

/// Heat taken against legionella.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disinfection {
    /// The whole tank reaches this, °C.
    pub at_c: f64,
    /// Days between two.
    pub every_days: f64,
}

/// A heater.
#[derive(Clone, Debug, PartialEq)]
pub struct WaterHeater {
    /// The tank.
    pub tank: Tank,
    /// Heat pump; `None` heats by resistance alone. Its "indoor" temperature is the water's.
    pub machine: Option<HeatPump>,
    /// Resistance element, W.
    pub element_w: f64,
    /// Wanted at the sensor, °C.
    pub set_c: f64,
    /// Heating starts this far below, K.
    pub dead_band_k: f64,
    /// Height of the sensor, 0 bottom to 1 top.
    pub sensor: f64,
    /// The machine stops below this source temperature, °C.
    pub source_least_c: f64,
    /// The machine warms water to this at most, °C.
    pub machine_most_c: f64,
    /// Against legionella.
    pub disinfection: Option<Disinfection>,
    /// Heat lost by a circulation loop and by pipes while warm, W.
    pub loop_w: f64,
    state: State,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct State {
    heating: bool,
    hot_since_days: f64,
    disinfecting: bool,
}

/// What a step is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeaterInput {
    /// s.
    pub step_s: f64,
    /// Water drawn from the tank, m³.
    pub draw_m3: f64,
    /// Cold water, °C.
    pub cold_c: f64,
    /// Temperature wanted at the tap, °C: what is drawn cooler than that is short.
    pub use_c: f64,
    /// Around the tank, °C.
    pub around_c: f64,
    /// Source of the machine.
    pub source: SourceAir,
}

/// What a step did; J of the step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HeaterStep {
    /// Electricity of the machine.
    pub machine_j: f64,
    /// Electricity of the element.
    pub element_j: f64,
    /// Heat to the water by the machine.
    pub heat_j: f64,
    /// Sensible heat taken from the source.
    pub taken_sensible_j: f64,
    /// Latent heat taken from the source.
    pub taken_latent_j: f64,
    /// Water condensed from the source's air, kg.
    pub condensed_kg: f64,
    /// Heat of the water drawn.
    pub drawn_j: f64,
    /// Heat missing in water drawn too cool.
    pub short_j: f64,
    /// Loss of the tank to what is around it.
    pub lost_j: f64,
    /// Loss of loop and pipes.
    pub loop_j: f64,
    /// Growth of the heat stored.
    pub stored_j: f64,
    /// What does not close.
    pub residual_j: f64,
}

impl WaterHeater {
    /// Puts a heater together with usual control: sensor at a third, 5 K of dead band, element helping only.
    pub fn new(tank: Tank, machine: Option<HeatPump>, element_w: f64, set_c: f64) -> Self {
        Self {
            tank,
            machine,
            element_w,
            set_c,
            dead_band_k: 5.0,
            sensor: 0.33,
            source_least_c: 5.0,
            machine_most_c: 60.0,
            disinfection: None,
            loop_w: 0.0,
            state: State::default(),
        }
    }

    /// Goes one step.
    ///
    /// # Errors
    /// [`PlantError`] of the tank.
    pub fn step(&mut self, i: &HeaterInput) -> Result<HeaterStep, PlantError> {
        let days = i.step_s / 86_400.0;
        let target_c = self.target(days);
        let sensed = self.tank.at_height_c(if self.state.disinfecting { 0.0 } else { self.sensor });
        if sensed < target_c - if self.state.disinfecting { 0.0 } else { self.dead_band_k } {
            self.state.heating = true;
        }
        let mut out = HeaterStep::default();
        let n = self.tank.nodes_c.len();
        let mut given = Given {
            step_s: i.step_s,
            draw_m3: i.draw_m3,
            cold_c: i.cold_c,
            around_c: i.around_c,
            // Warmed from the bottom, the column mixes upwards as far as it has become warmer than what lies above.
            main_to: 0,
            upper_at: n * 2 / 3,
            loop_w: self.loop_w,
            ..Given::default()
        };
        out.loop_j = self.loop_w * i.step_s;
        let before = self.tank.heat_j();
        if self.state.heating {
            self.heat(i, target_c, &mut given, &mut out);
        }
        let step = self.tank.step(&given)?;
        if self.tank.at_height_c(if self.state.disinfecting { 0.0 } else { self.sensor }) >= target_c - 0.2 {
            self.state.heating = false;
            self.state.disinfecting = false;
        }
        out.drawn_j = step.drawn_j;
        out.lost_j = step.lost_j;
        out.stored_j = self.tank.heat_j() - before;
        if i.draw_m3 > 0.0 {
            out.short_j = i.draw_m3 * WATER_J_M3K * (i.use_c - step.drawn_c).max(0.0);
        }
        out.residual_j = out.heat_j + out.element_j - out.drawn_j - out.lost_j - out.loop_j - out.stored_j;
        Ok(out)
    }

    /// Temperature wanted now; begins a disinfection when one is due.
    fn target(&mut self, days: f64) -> f64 {
        let Some(d) = self.disinfection else { return self.set_c };
        self.state.hot_since_days += days;
        if self.tank.nodes_c.iter().all(|t| *t >= d.at_c - 0.5) {
            self.state.hot_since_days = 0.0;
        }
        if self.state.hot_since_days >= d.every_days {
            self.state.disinfecting = true;
        }
        if self.state.disinfecting { d.at_c } else { self.set_c }
    }

    fn heat(&self, i: &HeaterInput, target_c: f64, given: &mut Given, out: &mut HeaterStep) {
        let n = self.tank.nodes_c.len();
        let node = self.tank.heat_j() / self.tank.nodes_c.iter().sum::<f64>().max(1e-9);
        // Heat that brings the nodes from one upwards to a temperature.
        let lack = |to: f64, from: usize| -> f64 {
            self.tank.nodes_c[from..].iter().map(|t| (to - t).max(0.0) * node).sum()
        };
        if let Some(machine) = &self.machine {
            let reach = lack(target_c.min(self.machine_most_c), 0);
            if i.source.temperature_c >= self.source_least_c && reach > 0.0 {
                // The coil wraps the lower half.
                let half = n.div_ceil(2);
                let water_c = self.tank.nodes_c[..half].iter().sum::<f64>() / half as f64;
                let run = machine.meet(f64::MAX, i.source.temperature_c, water_c, 1.0);
                let heat_w = run.heat_w.min(reach / i.step_s);
                let power_w = if run.heat_w > 0.0 { run.power_w * heat_w / run.heat_w } else { 0.0 };
                given.main_w += heat_w;
                out.heat_j = heat_w * i.step_s;
                out.machine_j = power_w * i.step_s;
                let taken = out.heat_j - out.machine_j;
                let (sensible, kg_j) = coil_split(&i.source);
                out.taken_sensible_j = sensible * taken;
                out.taken_latent_j = (1.0 - sensible) * taken;
                out.condensed_kg = kg_j * taken;
            }
        }
        // The element does what the machine cannot: a disinfection from the bottom, all of it where the machine is idle,
        // the top alone where that runs cold.
        let top_cold = self.tank.top_c() < self.set_c - 12.0;
        let at = if target_c > self.machine_most_c {
            0
        } else if out.heat_j == 0.0 {
            n / 4
        } else if top_cold {
            n * 2 / 3
        } else {
            return;
        };
        let left = (lack(target_c, at) - if at == n * 2 / 3 { 0.0 } else { out.heat_j }).max(0.0);
        let power_w = self.element_w.min(left / i.step_s);
        out.element_j = power_w * i.step_s;
        given.upper_w += power_w;
        given.upper_at = at;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat_pump::{Figures, Limits, Mode, RatedPoint, SecondLaw};
    use proptest::prelude::*;

    fn heater(with_machine: bool) -> WaterHeater {
        let tank = Tank::new(0.19, 1.3, 1.3, 9, 50.0).unwrap();
        let point = RatedPoint { outdoor_c: 20.0, indoor_c: 50.0, capacity_w: 1500.0, power_w: 500.0 };
        let law = SecondLaw::fit(Mode::Heating, &[point]).unwrap();
        let limits = Limits { standby_w: 0.0, ..Limits::default() };
        let machine = HeatPump { mode: Mode::Heating, figures: Figures::Law(law), limits };
        WaterHeater::new(tank, with_machine.then_some(machine), 2000.0, 52.0)
    }

    fn day(heater: &mut WaterHeater, room_c: f64, days: usize) -> HeaterStep {
        let mut sum = HeaterStep::default();
        for q in 0..96 * days {
            let draw = if [28, 29, 80, 81].contains(&(q % 96)) { 0.03 } else { 0.0 };
            let source = SourceAir { temperature_c: room_c, kg_kg: 0.011, pressure_pa: 101_325.0 };
            let s = heater
                .step(&HeaterInput {
                    step_s: 900.0,
                    draw_m3: draw,
                    cold_c: 12.0,
                    use_c: 40.0,
                    around_c: room_c,
                    source,
                })
                .unwrap();
            assert!(s.residual_j.abs() < 1e-3, "{s:?}");
            sum.machine_j += s.machine_j;
            sum.element_j += s.element_j;
            sum.heat_j += s.heat_j;
            sum.drawn_j += s.drawn_j;
            sum.short_j += s.short_j;
            sum.condensed_kg += s.condensed_kg;
        }
        sum
    }

    #[test]
    fn a_heat_pump_takes_a_third_of_what_resistance_takes() {
        let (pump, element) = (day(&mut heater(true), 20.0, 20), day(&mut heater(false), 20.0, 20));
        assert!((pump.drawn_j / element.drawn_j - 1.0).abs() < 0.05, "{pump:?} {element:?}");
        let ratio = (pump.machine_j + pump.element_j) / element.element_j;
        assert!((0.2..0.5).contains(&ratio), "{ratio}");
        assert!(pump.condensed_kg > 0.0 && pump.short_j < 0.01 * pump.drawn_j);
    }

    #[test]
    fn a_cold_source_leaves_it_to_the_element() {
        let cold = day(&mut heater(true), 2.0, 5);
        assert!(cold.machine_j == 0.0 && cold.element_j > 0.0);
    }

    #[test]
    fn disinfection_is_hot_and_comes_back() {
        let mut h = heater(true);
        h.disinfection = Some(Disinfection { at_c: 65.0, every_days: 7.0 });
        let plain = day(&mut heater(true), 20.0, 21);
        let sum = day(&mut h, 20.0, 21);
        assert!(sum.element_j > plain.element_j + 1e6, "{sum:?}");
    }

    proptest! {
        #[test]
        fn what_a_coil_takes_is_sensible_and_latent(t in 5.0..32.0f64, rh in 0.1..0.95f64) {
            let air = SourceAir { temperature_c: t, kg_kg: moist_air::humidity_ratio_of(t, rh, 101_325.0), pressure_pa: 101_325.0 };
            let (share, kg) = coil_split(&air);
            prop_assert!(share > 0.0 && share <= 1.0 && kg >= 0.0);
        }
    }
}
