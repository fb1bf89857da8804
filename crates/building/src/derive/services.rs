//! Ventilation laid out over the year, with its air by room.

use quantity::Dimension;

use super::Derivation;
use super::shape::Shape;
use crate::calendar::{Calendar, QUARTERS};
use crate::model::{Gathering, Mode, SpaceId, Ventilation};
use crate::plan::{ModeWhen, VentilationPlan};
use crate::stated::ValueKey;

impl Derivation<'_> {
    pub(super) fn ventilation(
        &mut self,
        calendar: &Calendar,
        shape: &Shape,
        gatherings: &[Gathering],
    ) -> Vec<Ventilation> {
        let mut out = Vec::new();
        for plan in &self.plan.ventilation {
            let item = format!("ventilation.{}", plan.name);
            if plan.modes.is_empty() || plan.modes.len() > 250 {
                let help = "write flow = { empty = \"150 m³/h\", lessons = \"560 m³/h\" }";
                self.error("ventilation", format!("{item}.flow"), "the unit has no flow".to_owned(), help);
                continue;
            }
            let running = self.running(plan, calendar, gatherings, &item);
            let names = shape.space_names();
            let space = match &plan.space {
                Some(name) => self.find("room", name, &names, &format!("{item}.where")).map(SpaceId),
                None => None,
            };
            let mut sensors = Vec::new();
            for name in &plan.sensors {
                if let Some(space) = self.find("room", name, &names, &format!("{item}.co2-sensors")) {
                    sensors.push(SpaceId(space));
                }
            }
            let recoveries: Vec<_> = plan.modes.iter().map(|mode| mode.temperature_recovery).collect();
            self.check_ratings(&recoveries, plan.rating.as_ref(), &format!("{item}.rating"));
            let modes = (0..plan.modes.len()).map(|i| self.mode(plan, i, shape, &item)).collect();
            out.push(Ventilation {
                name: plan.name.clone(),
                space,
                modes,
                running,
                rating: plan.rating.clone(),
                bypass: plan.bypass.clone(),
                demand: plan.demand.clone(),
                sensors,
                exhaust_transfer: plan.exhaust_transfer,
                sound: plan.sound.clone(),
                frost: plan.frost,
            });
        }
        out
    }

    fn running(
        &mut self,
        plan: &VentilationPlan,
        calendar: &Calendar,
        gatherings: &[Gathering],
        item: &str,
    ) -> Vec<u8> {
        let mut running = vec![0u8; QUARTERS];
        let names: Vec<&str> = gatherings.iter().map(|g| g.name.as_str()).collect();
        for (number, mode) in plan.modes.iter().enumerate() {
            for when in &mode.when {
                match when {
                    ModeWhen::Calendar(rule) => {
                        let held = calendar.quarters(rule, false);
                        for (place, _) in held.iter().enumerate().filter(|(_, held)| **held) {
                            running[place] = number as u8;
                        }
                    }
                    ModeWhen::Gathering(name) => {
                        let place = format!("{item}.mode.{}", mode.name);
                        let Some(found) = self.find("gathering", name, &names, &place) else { continue };
                        for &day in &gatherings[found].days {
                            running[gatherings[found].quarters_of_day(day)].fill(number as u8);
                        }
                    }
                }
            }
        }
        running
    }

    fn mode(&mut self, plan: &VentilationPlan, number: usize, shape: &Shape, item: &str) -> Mode {
        let mode = &plan.modes[number];
        let id = |key: &str| format!("{item}.{key}.{}", mode.name);
        let ratio =
            |d: &mut Self, own: Option<ValueKey>, all: Option<ValueKey>, key: &str, row: &str, dimension| {
                match own.or(all) {
                    Some(key) => key,
                    None => d.state_default(&id(key), row, dimension),
                }
            };
        let temperature_recovery = ratio(
            self,
            mode.temperature_recovery,
            None,
            "recovery-temperature",
            "ventilation.temperature-recovery",
            Dimension::Ratio,
        );
        let moisture_recovery = ratio(
            self,
            mode.moisture_recovery,
            plan.moisture_recovery,
            "recovery-moisture",
            "ventilation.moisture-recovery",
            Dimension::Ratio,
        );
        let power =
            ratio(self, mode.power, plan.power, "power", "ventilation.power", Dimension::SpecificFanPower);
        for (key, what) in
            [(temperature_recovery, "recovery-temperature"), (moisture_recovery, "recovery-moisture")]
        {
            if !(0.0..=1.0).contains(&self.number(key)) {
                let message = format!("a recovery of {:.0} %", 100.0 * self.number(key));
                self.error(
                    "range",
                    format!("{item}.{what}"),
                    message,
                    "a recovery ratio lies from 0 % to 100 %",
                );
            }
        }
        if self.number(mode.supply) < 0.0 {
            let message = format!("the flow in mode \"{}\" is below zero", mode.name);
            self.error("range", format!("{item}.flow.{}", mode.name), message, "a flow is zero or more");
        }
        Mode {
            name: mode.name.clone(),
            supply: mode.supply,
            extract: mode.extract.unwrap_or(mode.supply),
            temperature_recovery,
            moisture_recovery,
            power,
            supply_shares: self.shares(plan, number, true, shape, item),
            extract_shares: self.shares(plan, number, false, shape, item),
        }
    }

    /// Shares of a mode's air by room: as stated for it, else as for the next mode that states them, else by floor
    /// area.
    fn shares(
        &mut self,
        plan: &VentilationPlan,
        number: usize,
        supply: bool,
        shape: &Shape,
        item: &str,
    ) -> Vec<(SpaceId, f64)> {
        let stated = |mode: &str| plan.terminals.iter().any(|t| t.mode == mode && t.supply == supply);
        let order = (number..plan.modes.len()).chain(0..number);
        let source = order.map(|i| plan.modes[i].name.as_str()).find(|mode| stated(mode));
        let flows = match source {
            Some(mode) => self.terminal_flows(plan, mode, supply, shape, item),
            None => shape.spaces.iter().enumerate().map(|(i, s)| (SpaceId(i), s.area_m2)).collect(),
        };
        let sum: f64 = flows.iter().map(|(_, flow)| flow).sum();
        if source == Some(plan.modes[number].name.as_str()) {
            let mode = &plan.modes[number];
            let whole = self.number(if supply { mode.supply } else { mode.extract.unwrap_or(mode.supply) });
            if whole > 0.0 && (sum / whole - 1.0).abs() > 0.02 {
                let way = if supply { "supply" } else { "extract" };
                let message = format!(
                    "the rooms' {way} air in mode \"{}\" adds up to {:.0} m³/h, the unit moves {:.0} m³/h",
                    mode.name,
                    3600.0 * sum,
                    3600.0 * whole
                );
                self.warning("ventilation", format!("{item}.{way}"), message, "check the terminals");
            }
        }
        if sum > 0.0 { flows.into_iter().map(|(id, flow)| (id, flow / sum)).collect() } else { Vec::new() }
    }

    fn terminal_flows(
        &mut self,
        plan: &VentilationPlan,
        mode: &str,
        supply: bool,
        shape: &Shape,
        item: &str,
    ) -> Vec<(SpaceId, f64)> {
        let names = shape.space_names();
        let mut flows: Vec<(SpaceId, f64)> = Vec::new();
        let mut rest = None;
        for terminal in plan.terminals.iter().filter(|t| t.mode == mode && t.supply == supply) {
            match &terminal.space {
                None => rest = Some(self.number(terminal.flow)),
                Some(name) => {
                    let way = if supply { "supply" } else { "extract" };
                    if let Some(space) = self.find("room", name, &names, &format!("{item}.{way}.{mode}")) {
                        flows.push((SpaceId(space), self.number(terminal.flow)));
                    }
                }
            }
        }
        if let Some(rest) = rest {
            // Rooms that have such a terminal in another mode and none of their own here share what is left.
            let mut others: Vec<(SpaceId, f64)> = Vec::new();
            for terminal in plan.terminals.iter().filter(|t| t.mode != mode && t.supply == supply) {
                let place = terminal.space.as_ref().and_then(|n| names.iter().position(|name| name == n));
                let Some(id) = place.map(SpaceId) else { continue };
                if !flows.iter().chain(&others).any(|(s, _)| *s == id) {
                    others.push((id, self.number(terminal.flow)));
                }
            }
            let sum: f64 = others.iter().map(|(_, flow)| flow).sum();
            if sum > 0.0 {
                flows.extend(others.into_iter().map(|(id, flow)| (id, rest * flow / sum)));
            }
        }
        flows
    }
}
