//! A ventilation unit in one state: what it does to both streams, with fans, carry-over, frost, bypass and condensate.
//!
//! Order on the way in: frost protection, exchanger, extract air carried over, supply fan. On the way out: exchanger
//! (condensing where it must), extract fan. All heat is counted in enthalpy, so [`Operation::residual_w`] is rounding.

use matter::moist_air;

use crate::PlantError;
use crate::error::within;
use crate::exchanger::Exchanger;

/// Air by temperature and humidity ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// °C.
    pub temperature_c: f64,
    /// kg/kg.
    pub kg_kg: f64,
}

impl Air {
    fn enthalpy(self) -> f64 {
        moist_air::enthalpy(self.temperature_c, self.kg_kg)
    }
}

/// How ice is kept out of the exchanger when outdoor air is below the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Frost {
    /// Nothing is done.
    None,
    /// Outdoor air is warmed to the limit by resistance.
    Preheat,
    /// The supply is throttled until the exhaust stays above the limit for ice; the missing air comes through leaks.
    ReduceSupply,
    /// Extract air is mixed into the outdoor air up to the limit: outdoor air is lost, no heat is used.
    Recirculate,
    /// Part of the outdoor air passes the exchanger by until the exhaust stays above the limit for ice.
    CoreBypass,
}

/// A unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// Exchange of heat.
    pub heat: Exchanger,
    /// Exchange of moisture; `None` for a plain plate.
    pub moisture: Option<Exchanger>,
    /// Share of the supply that is extract air carried over (inside leakage, wheel).
    pub carry_over: f64,
    /// Frost protection.
    pub frost: Frost,
    /// Outdoor air the exchanger bears, °C ([`Frost::Preheat`], [`Frost::Recirculate`]).
    pub frost_below_c: f64,
    /// Exhaust air kept at least, °C ([`Frost::ReduceSupply`], [`Frost::CoreBypass`]).
    pub exhaust_least_c: f64,
    /// Share of the fans' power that is the supply fan's and warms the supply.
    pub supply_fan_share: f64,
}

/// What comes to the unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inlets {
    /// Outdoor air.
    pub outdoor: Air,
    /// Extract air.
    pub extract: Air,
    /// Supply flow wanted, m³/s.
    pub supply_m3_s: f64,
    /// Extract flow, m³/s.
    pub extract_m3_s: f64,
    /// Power of both fans, W.
    pub fans_w: f64,
    /// Exchanger passed by.
    pub bypassed: bool,
    /// Air pressure, Pa.
    pub pressure_pa: f64,
}

/// What leaves it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Operation {
    /// Supply at the spigot.
    pub supply: Air,
    /// Exhaust at the spigot.
    pub exhaust: Air,
    /// Supply flow, m³/s.
    pub supply_m3_s: f64,
    /// Outdoor air in it, m³/s: less carry-over and recirculation.
    pub fresh_m3_s: f64,
    /// Power of the preheater, W.
    pub preheat_w: f64,
    /// Water condensed in the exhaust, kg/s.
    pub condensate_kg_s: f64,
    /// (supply − outdoor)/(extract − outdoor), fan heat included; 0 where the two are alike.
    pub supply_ratio: f64,
    /// Energy in less energy out, W: rounding.
    pub residual_w: f64,
}

/// Enthalpy of liquid water, J/(kg·K) times °C.
const LIQUID_J_KGK: f64 = 4186.0;

impl Unit {
    /// Returns what a state does.
    ///
    /// # Errors
    /// [`PlantError::Range`] for flows or shares that are none.
    pub fn operate(&self, i: &Inlets) -> Result<Operation, PlantError> {
        within("supply flow", i.supply_m3_s, 1e-9, 1e3, "is more than zero, m³/s")?;
        within("extract flow", i.extract_m3_s, 1e-9, 1e3, "is more than zero, m³/s")?;
        within("carry-over", self.carry_over, 0.0, 0.9, "lies from 0 to 0.9")?;
        let frosty = !i.bypassed && i.outdoor.temperature_c < self.frost_below_c;
        match self.frost {
            Frost::Preheat if frosty => {
                Ok(self.pass(i, self.frost_below_c - i.outdoor.temperature_c, 0.0, 1.0))
            }
            Frost::Recirculate if frosty => {
                let span = i.extract.temperature_c - i.outdoor.temperature_c;
                let share =
                    if span > 0.0 { (self.frost_below_c - i.outdoor.temperature_c) / span } else { 0.0 };
                Ok(self.pass(i, 0.0, share.clamp(0.0, 0.9), 1.0))
            }
            Frost::ReduceSupply if self.too_cold(i, i.supply_m3_s, 1.0) => {
                let part = |share: f64| !self.too_cold(i, share * i.supply_m3_s, 1.0);
                let share = largest(part, 0.02);
                let less = Inlets { supply_m3_s: share * i.supply_m3_s, ..*i };
                Ok(self.pass(&less, 0.0, 0.0, 1.0))
            }
            Frost::CoreBypass if self.too_cold(i, i.supply_m3_s, 1.0) => {
                let part = |share: f64| !self.too_cold(i, i.supply_m3_s, share);
                Ok(self.pass(i, 0.0, 0.0, largest(part, 0.0)))
            }
            _ => Ok(self.pass(i, 0.0, 0.0, 1.0)),
        }
    }

    fn too_cold(&self, i: &Inlets, supply_m3_s: f64, through: f64) -> bool {
        let state = self.pass(&Inlets { supply_m3_s, fans_w: 0.0, ..*i }, 0.0, 0.0, through);
        !i.bypassed && state.exhaust.temperature_c < self.exhaust_least_c
    }

    /// One pass: outdoor air warmed by `preheat_k`, mixed with a share `mixed` of extract air; a share `through` of it
    /// takes part in the exchange.
    fn pass(&self, i: &Inlets, preheat_k: f64, mixed: f64, through: f64) -> Operation {
        let dry = |air: Air, flow: f64| {
            flow / moist_air::specific_volume(air.temperature_c, air.kg_kg, i.pressure_pa)
        };
        // All streams are counted as volumes at extract conditions, like the kernel's.
        let supply_kg_s = dry(i.extract, i.supply_m3_s);
        let extract_kg_s = dry(i.extract, i.extract_m3_s);
        let fresh = 1.0 - mixed;
        let preheat_w = fresh * supply_kg_s * moist_air::specific_heat(i.outdoor.kg_kg) * preheat_k;
        let warmed = Air { temperature_c: i.outdoor.temperature_c + preheat_k, ..i.outdoor };
        let inlet = blend(warmed, i.extract, mixed);
        // What is mixed in or carried over never reaches the exhaust side as exhaust.
        let carried = self.carry_over;
        let core_kg_s = supply_kg_s * (1.0 - carried) * through;
        let hot_kg_s = (extract_kg_s - supply_kg_s * (carried + mixed * (1.0 - carried))).max(1e-9);
        let mean_c = 0.5 * (inlet.temperature_c + i.extract.temperature_c);
        let volume = i.extract_m3_s / extract_kg_s;
        let (core_m3_s, hot_m3_s) = (core_kg_s * volume, hot_kg_s * volume);
        let on = if i.bypassed || core_kg_s <= 0.0 { 0.0 } else { 1.0 };
        let ratio = on * self.heat.supply_ratio(core_m3_s, hot_m3_s, mean_c);
        let wet = on * self.moisture.map_or(0.0, |m| m.supply_ratio(core_m3_s, hot_m3_s, mean_c));
        let toward = |a: f64, b: f64, share: f64| a + share * (b - a);
        let core_out = Air {
            temperature_c: toward(inlet.temperature_c, i.extract.temperature_c, ratio),
            kg_kg: toward(inlet.kg_kg, i.extract.kg_kg, wet),
        };
        let gained_w = core_kg_s * (core_out.enthalpy() - inlet.enthalpy());
        let gained_kg_s = core_kg_s * (core_out.kg_kg - inlet.kg_kg);
        let (cold, condensate_kg_s) =
            cooled(i.extract, gained_w / hot_kg_s, gained_kg_s / hot_kg_s, i.pressure_pa);
        let joined = blend(inlet, core_out, through);
        let mixed_supply = blend(joined, i.extract, carried);
        let supply_fan_w = self.supply_fan_share * i.fans_w;
        let supply = warmed_by(mixed_supply, supply_fan_w / supply_kg_s);
        let hot_out_kg_s = hot_kg_s;
        let exhaust = warmed_by(cold, (i.fans_w - supply_fan_w) / hot_out_kg_s);
        let span = i.extract.temperature_c - i.outdoor.temperature_c;
        let fresh_kg_s = supply_kg_s * (1.0 - carried) * fresh;
        let taken_extract = supply_kg_s - fresh_kg_s;
        let energy_in = fresh_kg_s * i.outdoor.enthalpy()
            + (hot_kg_s + taken_extract) * i.extract.enthalpy()
            + preheat_w * (1.0 - carried)
            + i.fans_w;
        let energy_out = supply_kg_s * supply.enthalpy()
            + hot_out_kg_s * exhaust.enthalpy()
            + condensate_kg_s * hot_kg_s * LIQUID_J_KGK * cold.temperature_c.max(0.0);
        Operation {
            supply,
            exhaust,
            supply_m3_s: i.supply_m3_s,
            fresh_m3_s: fresh_kg_s * volume,
            preheat_w: preheat_w * (1.0 - carried),
            condensate_kg_s: condensate_kg_s * hot_kg_s,
            supply_ratio: if span.abs() > 0.1 {
                (supply.temperature_c - i.outdoor.temperature_c) / span
            } else {
                0.0
            },
            residual_w: energy_in - energy_out,
        }
    }
}

/// Mixes dry-air masses: `1 − share` of the first, `share` of the second; enthalpy and water are kept.
fn blend(a: Air, b: Air, share: f64) -> Air {
    let kg_kg = a.kg_kg + share * (b.kg_kg - a.kg_kg);
    let enthalpy = a.enthalpy() + share * (b.enthalpy() - a.enthalpy());
    Air { temperature_c: moist_air::temperature_of_enthalpy(enthalpy, kg_kg), kg_kg }
}

fn warmed_by(air: Air, j_kg: f64) -> Air {
    Air { temperature_c: moist_air::temperature_of_enthalpy(air.enthalpy() + j_kg, air.kg_kg), ..air }
}

/// Takes enthalpy and vapour out of air and lets what it cannot hold condense; returns the air and the water, kg/kg.
fn cooled(air: Air, taken_j_kg: f64, taken_kg_kg: f64, pressure_pa: f64) -> (Air, f64) {
    let enthalpy = air.enthalpy() - taken_j_kg;
    let kg_kg = (air.kg_kg - taken_kg_kg).max(0.0);
    let dry_out = Air { temperature_c: moist_air::temperature_of_enthalpy(enthalpy, kg_kg), kg_kg };
    let holds = |t: f64| moist_air::humidity_ratio_of(t, 1.0, pressure_pa);
    if kg_kg <= holds(dry_out.temperature_c) {
        return (dry_out, 0.0);
    }
    // Condensing warms the air: the temperature at which saturated air and liquid together hold the enthalpy.
    let excess = |t: f64| {
        let x = holds(t);
        moist_air::enthalpy(t, x) + (kg_kg - x) * LIQUID_J_KGK * t.max(0.0) - enthalpy
    };
    let low = dry_out.temperature_c;
    let high = air.temperature_c.max(low + 60.0);
    let t = numeric::root::brent(excess, low, high, 1e-10).unwrap_or(low);
    (Air { temperature_c: t, kg_kg: holds(t) }, (kg_kg - holds(t)).max(0.0))
}

/// Largest share in `least..1` that is good, by bisection; `least` when none is.
fn largest(good: impl Fn(f64) -> bool, least: f64) -> f64 {
    let (mut low, mut high) = (least, 1.0);
    if !good(low) {
        return low;
    }
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if good(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchanger::{Rated, TestPoint};
    use proptest::prelude::*;

    fn exchanger(ratio: f64) -> Exchanger {
        let q = 560.0 / 3600.0;
        let point = TestPoint {
            supply_m3_s: q,
            extract_m3_s: q,
            outdoor_c: 7.0,
            extract_c: 20.0,
            ratio,
            rated: Rated::SupplyBare,
            fans_w: 0.0,
            carry_over: 0.0,
        };
        Exchanger::fit(&[point]).unwrap()
    }

    fn unit(frost: Frost) -> Unit {
        Unit {
            heat: exchanger(0.82),
            moisture: None,
            carry_over: 0.0,
            frost,
            frost_below_c: -3.0,
            exhaust_least_c: 1.0,
            supply_fan_share: 0.5,
        }
    }

    fn cold(outdoor_c: f64) -> Inlets {
        Inlets {
            outdoor: Air { temperature_c: outdoor_c, kg_kg: 0.001 },
            extract: Air { temperature_c: 21.0, kg_kg: 0.006 },
            supply_m3_s: 0.15,
            extract_m3_s: 0.15,
            fans_w: 200.0,
            bypassed: false,
            pressure_pa: 101_325.0,
        }
    }

    #[test]
    fn each_frost_protection_has_its_price() {
        let at = |frost| unit(frost).operate(&cold(-12.0)).unwrap();
        let (none, preheat) = (at(Frost::None), at(Frost::Preheat));
        assert!(none.preheat_w == 0.0 && preheat.preheat_w > 1000.0);
        assert!((preheat.fresh_m3_s - 0.15).abs() < 1e-12);
        let (reduce, mix) = (at(Frost::ReduceSupply), at(Frost::Recirculate));
        assert!(reduce.fresh_m3_s < 0.15 && mix.fresh_m3_s < 0.15, "{reduce:?} {mix:?}");
        let bypass = at(Frost::CoreBypass);
        assert!(
            (bypass.fresh_m3_s - 0.15).abs() < 1e-12
                && bypass.supply.temperature_c < none.supply.temperature_c
        );
        for state in [reduce, bypass] {
            assert!(state.exhaust.temperature_c > 1.0 - 1e-6);
        }
    }

    #[test]
    fn a_cold_plate_condenses_and_the_water_warms_the_exhaust() {
        let i = Inlets { extract: Air { temperature_c: 21.0, kg_kg: 0.010 }, ..cold(-2.0) };
        let out = unit(Frost::None).operate(&i).unwrap();
        assert!(out.condensate_kg_s > 0.0);
        let dry = unit(Frost::None).operate(&cold(-2.0)).unwrap();
        assert!(out.exhaust.temperature_c > dry.exhaust.temperature_c);
    }

    proptest! {
        #[test]
        fn energy_in_is_energy_out(
            out in -25.0..38.0f64, x in 0.0005..0.002f64, xe in 0.004..0.014f64, s in 0.05..0.3f64, e in 0.05..0.3f64,
            carry in 0.0..0.1f64, wet in any::<bool>(), bypassed in any::<bool>(), kind in 0usize..5,
        ) {
            let frost = [Frost::None, Frost::Preheat, Frost::ReduceSupply, Frost::Recirculate, Frost::CoreBypass][kind];
            let u = Unit { carry_over: carry * e / s.max(e), moisture: wet.then(|| exchanger(0.6)), ..unit(frost) };
            let i = Inlets { outdoor: Air { temperature_c: out, kg_kg: x }, extract: Air { temperature_c: 22.0, kg_kg: xe }, supply_m3_s: s, extract_m3_s: e, bypassed, ..cold(0.0) };
            let o = u.operate(&i).unwrap();
            prop_assert!(o.residual_w.abs() < 1e-6 * (1.0 + s.max(e) * 5e4), "{o:?}");
        }

        #[test]
        fn without_fans_no_stream_leaves_beyond_the_others_inlet(out in -25.0..38.0f64, s in 0.05..0.3f64, e in 0.05..0.3f64) {
            let i = Inlets { outdoor: Air { temperature_c: out, kg_kg: 0.001 }, supply_m3_s: s, extract_m3_s: e, fans_w: 0.0, ..cold(0.0) };
            let o = unit(Frost::None).operate(&i).unwrap();
            let (low, high) = (out.min(21.0), out.max(21.0));
            for t in [o.supply.temperature_c, o.exhaust.temperature_c] {
                prop_assert!(t >= low - 0.05 && t <= high + 0.05, "{t}");
            }
        }
    }
}
