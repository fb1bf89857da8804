//! Adds up heat and vapour by cause. Sums of temperatures are kept step by step; what depends on coefficients that
//! hold over an epoch is multiplied out once an epoch, so the time loop stays lean.

use super::flows::{Flows, ModeFlows};
use super::input::{Drivers, Model, Options, Outside, Part};
use super::lane::F;
use super::prepare::Prepared;
use super::result::{KernelYear, PartHeat, Peak, Watched, ZoneBalance};
use super::solve::Column;

/// Sums over the steps of an epoch.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
pub(crate) struct EpochSums<const Z: usize, const L: usize> {
    pub air: Column<Z, L>,
    pub star: Column<Z, L>,
    pub x: Column<Z, L>,
    pub heating: Column<Z, L>,
    pub cooling: Column<Z, L>,
    pub dried: Column<Z, L>,
    pub moistened: Column<Z, L>,
    pub buffered: Column<Z, L>,
    pub warm: Column<Z, L>,
    pub humid: Column<Z, L>,
    pub steps: f64,
    pub outdoor_c: f64,
    pub outdoor_x: f64,
}

impl<const Z: usize, const L: usize> EpochSums<Z, L> {
    pub const EMPTY: Self = Self {
        steps: 0.0,
        outdoor_c: 0.0,
        outdoor_x: 0.0,
        air: [F::ZERO; Z],
        star: [F::ZERO; Z],
        x: [F::ZERO; Z],
        heating: [F::ZERO; Z],
        cooling: [F::ZERO; Z],
        dried: [F::ZERO; Z],
        moistened: [F::ZERO; Z],
        buffered: [F::ZERO; Z],
        warm: [F::ZERO; Z],
        humid: [F::ZERO; Z],
    };
}

/// Gains of an epoch, W and kg/s.
pub(crate) struct EpochGains<const Z: usize, const L: usize> {
    pub people: Column<Z, L>,
    pub equipment: Column<Z, L>,
    pub lights: Column<Z, L>,
    /// Sun kept inside, with the panes' inward heat.
    pub sun: Column<Z, L>,
    /// Transmitted sun before the faces' shares.
    pub transmitted: Column<Z, L>,
    /// Radiant gains before the faces' shares.
    pub radiant: Column<Z, L>,
    pub vapour: Column<Z, L>,
}

impl<const Z: usize, const L: usize> EpochGains<Z, L> {
    pub fn new() -> Self {
        Self {
            people: [F::ZERO; Z],
            equipment: [F::ZERO; Z],
            lights: [F::ZERO; Z],
            sun: [F::ZERO; Z],
            transmitted: [F::ZERO; Z],
            radiant: [F::ZERO; Z],
            vapour: [F::ZERO; Z],
        }
    }
}

/// Rows of a zone's sums over a period.
#[derive(Clone, Copy)]
enum Row {
    Air,
    Star,
    X,
    Heating,
    Cooling,
    Dried,
    Moistened,
    Buffered,
    Warm,
    Humid,
    People,
    Equipment,
    Lights,
    Sun,
    Transmitted,
    Radiant,
    Vapour,
    Leaks,
    Ventilation,
    Airing,
    Between,
    VapourLeaks,
    VapourVentilation,
    VapourAiring,
    VapourBetween,
}
const ROWS: usize = Row::VapourBetween as usize + 1;

/// Greatest value of a lane and its hour.
#[derive(Clone, Copy)]
struct LanePeak<const L: usize> {
    value: F<L>,
    hour: F<L>,
}

impl<const L: usize> LanePeak<L> {
    const NONE: Self = Self { value: F::ZERO, hour: F::ZERO };
    #[inline(always)]
    fn offer(&mut self, value: F<L>, hour: usize) {
        let higher = value.above(self.value);
        self.value = higher.select(value, self.value);
        self.hour = higher.select(F::all(hour as f64), self.hour);
    }
    fn lane(&self, lane: usize) -> Peak {
        Peak { value: self.value.0[lane], hour: self.hour.0[lane] as usize }
    }
}

/// States at the beginning of a period.
#[derive(Clone)]
pub(crate) struct Snapshot<const Z: usize, const L: usize> {
    pub air: Column<Z, L>,
    pub x: Column<Z, L>,
    /// Heat stored in each element of the model, J.
    pub stored: Vec<F<L>>,
    /// Sums of the inside faces since the period began, in the order of the tables.
    pub outer_face: Vec<F<L>>,
    pub inner_face: Vec<[F<L>; 2]>,
}

/// All sums of a run.
pub(crate) struct Tally<const Z: usize, const L: usize> {
    pub epoch: EpochSums<Z, L>,
    period: Vec<[F<L>; ROWS]>,
    period_steps: usize,
    outdoor_c: f64,
    hour_heating: Column<Z, L>,
    hour_cooling: Column<Z, L>,
    day_heating: F<L>,
    day_cooling: F<L>,
    heating_peak: LanePeak<L>,
    cooling_peak: LanePeak<L>,
    heating_day_peak: LanePeak<L>,
    cooling_day_peak: LanePeak<L>,
    zone_heating_peak: [LanePeak<L>; Z],
    zone_cooling_peak: [LanePeak<L>; Z],
    pub watched_co2: Vec<F<L>>,
    pub watched_step: Vec<F<L>>,
    pub watched_operative: Vec<F<L>>,
    pub watched_x: Vec<F<L>>,
    balances: Vec<Vec<ZoneBalance>>,
    start: Option<Snapshot<Z, L>>,
}

impl<const Z: usize, const L: usize> Tally<Z, L> {
    pub fn new(watches: usize) -> Self {
        Self {
            epoch: EpochSums::EMPTY,
            period: vec![[F::ZERO; ROWS]; Z],
            period_steps: 0,
            outdoor_c: 0.0,
            hour_heating: [F::ZERO; Z],
            hour_cooling: [F::ZERO; Z],
            day_heating: F::ZERO,
            day_cooling: F::ZERO,
            heating_peak: LanePeak::NONE,
            cooling_peak: LanePeak::NONE,
            heating_day_peak: LanePeak::NONE,
            cooling_day_peak: LanePeak::NONE,
            zone_heating_peak: [LanePeak::NONE; Z],
            zone_cooling_peak: [LanePeak::NONE; Z],
            watched_co2: vec![F::ZERO; watches],
            watched_step: vec![F::ZERO; watches],
            watched_operative: vec![F::all(-1e9); watches],
            watched_x: vec![F::ZERO; watches],
            balances: vec![Vec::new(); L],
            start: None,
        }
    }

    /// Forgets what the warm-up added and starts the first period.
    pub fn begin(&mut self, snapshot: Snapshot<Z, L>) {
        self.epoch = EpochSums::EMPTY;
        self.clear_period();
        self.hour_heating = [F::ZERO; Z];
        self.hour_cooling = [F::ZERO; Z];
        self.day_heating = F::ZERO;
        self.day_cooling = F::ZERO;
        self.start = Some(snapshot);
    }

    fn clear_period(&mut self) {
        self.period.fill([F::ZERO; ROWS]);
        self.period_steps = 0;
        self.outdoor_c = 0.0;
    }

    /// Multiplies out an epoch.
    #[inline(always)]
    pub fn flush(
        &mut self,
        zones: usize,
        flows: &Flows<Z, L>,
        mode: &ModeFlows<Z, L>,
        gains: &EpochGains<Z, L>,
        heat_unit: F<L>,
        density: F<L>,
        vapour: bool,
    ) {
        let e = self.epoch;
        if e.steps == 0.0 {
            return;
        }
        let given = |sum: &Column<Z, L>| {
            let mut scaled = *sum;
            for z in 0..zones {
                scaled[z] = sum[z] * e.steps;
            }
            scaled
        };
        let heat =
            flows.carried(mode, heat_unit, flows.recovery, e.outdoor_c, &e.air, &given(&flows.given_heat));
        for z in 0..zones {
            let p = &mut self.period[z];
            let mut add = |row: Row, value: F<L>| p[row as usize] += value;
            add(Row::Air, e.air[z]);
            add(Row::Star, e.star[z]);
            add(Row::Heating, e.heating[z]);
            add(Row::Cooling, e.cooling[z]);
            add(Row::Warm, e.warm[z]);
            add(Row::People, gains.people[z] * e.steps);
            add(Row::Equipment, gains.equipment[z] * e.steps);
            add(Row::Lights, gains.lights[z] * e.steps);
            add(Row::Sun, gains.sun[z] * e.steps);
            add(Row::Transmitted, gains.transmitted[z] * e.steps);
            add(Row::Radiant, gains.radiant[z] * e.steps);
            for (row, values) in
                [Row::Leaks, Row::Ventilation, Row::Airing, Row::Between].into_iter().zip(&heat)
            {
                add(row, values[z]);
            }
            self.hour_heating[z] += e.heating[z];
            self.hour_cooling[z] += e.cooling[z];
        }
        if vapour {
            let carried = flows.carried(
                mode,
                density,
                flows.moisture_recovery,
                e.outdoor_x,
                &e.x,
                &given(&flows.given_vapour),
            );
            for z in 0..zones {
                let p = &mut self.period[z];
                let mut add = |row: Row, value: F<L>| p[row as usize] += value;
                add(Row::X, e.x[z]);
                add(Row::Dried, e.dried[z]);
                add(Row::Moistened, e.moistened[z]);
                add(Row::Buffered, e.buffered[z]);
                add(Row::Humid, e.humid[z]);
                add(Row::Vapour, gains.vapour[z] * e.steps);
                for (row, values) in
                    [Row::VapourLeaks, Row::VapourVentilation, Row::VapourAiring, Row::VapourBetween]
                        .into_iter()
                        .zip(&carried)
                {
                    add(row, values[z]);
                }
            }
        }
        self.outdoor_c += e.outdoor_c;
        self.period_steps += e.steps as usize;
        self.epoch = EpochSums::EMPTY;
    }

    /// Offers the hour's and the day's means to the peaks.
    #[inline(always)]
    pub fn end_hour(&mut self, hour: usize, zones: usize, steps_per_hour: usize) {
        let per_step = 1.0 / steps_per_hour as f64;
        let (mut heating, mut cooling) = (F::ZERO, F::ZERO);
        for z in 0..zones {
            let (h, c) = (self.hour_heating[z] * per_step, self.hour_cooling[z] * per_step);
            self.zone_heating_peak[z].offer(h, hour);
            self.zone_cooling_peak[z].offer(c, hour);
            heating += h;
            cooling += c;
            self.hour_heating[z] = F::ZERO;
            self.hour_cooling[z] = F::ZERO;
        }
        self.heating_peak.offer(heating, hour);
        self.cooling_peak.offer(cooling, hour);
        self.day_heating += heating;
        self.day_cooling += cooling;
        if hour % 24 == 23 {
            self.heating_day_peak.offer(self.day_heating * (1.0 / 24.0), hour - 23);
            self.cooling_day_peak.offer(self.day_cooling * (1.0 / 24.0), hour - 23);
            self.day_heating = F::ZERO;
            self.day_cooling = F::ZERO;
        }
    }

    /// Closes a period: turns its sums into balances, lane by lane.
    pub fn end_period(
        &mut self,
        prepared: &Prepared<Z, L>,
        models: &[&Model],
        drivers: &Drivers,
        now: Snapshot<Z, L>,
    ) {
        let Some(start) = self.start.replace(now.clone()) else { return };
        let step_s = drivers.step_s();
        let zones = prepared.zones.len();
        for lane in 0..models.len() {
            let mut balances: Vec<ZoneBalance> =
                (0..zones).map(|z| self.zone_balance(prepared, z, lane, step_s, &start, &now)).collect();
            self.element_balances(prepared, models[lane], lane, step_s, &start, &now, &mut balances);
            self.balances[lane].extend(balances);
        }
        self.clear_period();
    }

    fn zone_balance(
        &self,
        prepared: &Prepared<Z, L>,
        z: usize,
        lane: usize,
        step_s: f64,
        start: &Snapshot<Z, L>,
        now: &Snapshot<Z, L>,
    ) -> ZoneBalance {
        let steps = self.period_steps as f64;
        let sum = |row: Row| self.period[z][row as usize].0[lane];
        let over = |row: Row| sum(row) * step_s;
        let zone = &prepared.zones[z];
        ZoneBalance {
            steps: self.period_steps,
            mean_air_c: sum(Row::Air) / steps,
            mean_operative_c: 0.5 * (sum(Row::Air) + sum(Row::Star)) / steps,
            mean_kg_kg: sum(Row::X) / steps,
            people_j: over(Row::People),
            equipment_j: over(Row::Equipment),
            lights_j: over(Row::Lights),
            sun_j: over(Row::Sun),
            leaks_j: over(Row::Leaks),
            ventilation_j: over(Row::Ventilation),
            airing_j: over(Row::Airing),
            air_between_j: over(Row::Between),
            bridges_j: zone.bridges.0[lane] * (self.outdoor_c - sum(Row::Air)) * step_s,
            heating_j: over(Row::Heating),
            cooling_j: over(Row::Cooling),
            air_stored_j: zone.capacity_rate.0[lane] * step_s * (now.air[z].0[lane] - start.air[z].0[lane]),
            parts: [PartHeat::default(); Part::ALL.len()],
            vapour_people_kg: over(Row::Vapour),
            vapour_leaks_kg: over(Row::VapourLeaks),
            vapour_ventilation_kg: over(Row::VapourVentilation),
            vapour_airing_kg: over(Row::VapourAiring),
            vapour_between_kg: over(Row::VapourBetween),
            vapour_buffered_kg: over(Row::Buffered),
            vapour_stored_kg: zone.vapour_capacity_rate.0[lane]
                * step_s
                * (now.x[z].0[lane] - start.x[z].0[lane]),
            dried_kg: over(Row::Dried),
            moistened_kg: over(Row::Moistened),
            warm_steps: sum(Row::Warm),
            humid_steps: sum(Row::Humid),
        }
    }

    /// Heat into an inside face over the period, J, from the sums of its temperature and its zone's.
    fn face_heat(
        &self,
        zone: usize,
        lane: usize,
        step_s: f64,
        face_sum: f64,
        area_hc: F<L>,
        area_hr: F<L>,
        area_sun: f64,
        area_gain: f64,
    ) -> f64 {
        let sum = |row: Row| self.period[zone][row as usize].0[lane];
        step_s
            * (area_hc.0[lane] * (sum(Row::Air) - face_sum)
                + area_hr.0[lane] * (sum(Row::Star) - face_sum)
                + area_sun * sum(Row::Transmitted)
                + area_gain * sum(Row::Radiant))
    }

    fn element_balances(
        &self,
        prepared: &Prepared<Z, L>,
        model: &Model,
        lane: usize,
        step_s: f64,
        start: &Snapshot<Z, L>,
        now: &Snapshot<Z, L>,
        balances: &mut [ZoneBalance],
    ) {
        let stored = |element: usize| now.stored[element].0[lane] - start.stored[element].0[lane];
        for (i, o) in prepared.outer.iter().enumerate() {
            let (area, face) = (o.area.0[lane], now.outer_face[i].0[lane]);
            let entered = self.face_heat(
                o.zone,
                lane,
                step_s,
                face,
                o.area_hc,
                o.area_hr,
                area * o.sun_share.0[lane],
                area * o.gain_share.0[lane],
            );
            let part = &mut balances[o.zone].parts[model.elements[o.element].part as usize];
            let kept = stored(o.element);
            // An adiabatic back lets nothing through, whatever rounding says.
            let through =
                if model.elements[o.element].outside == Outside::Adiabatic { 0.0 } else { entered - kept };
            part.stored_j += kept;
            part.through_j += through;
        }
        for (i, inner) in prepared.inner.iter().enumerate() {
            let part = model.elements[inner.element].part as usize;
            for (face, side) in inner.side.iter().enumerate() {
                let area = inner.area.0[lane];
                let entered = self.face_heat(
                    side.zone,
                    lane,
                    step_s,
                    now.inner_face[i][face].0[lane],
                    side.area_hc,
                    side.area_hr,
                    area * side.sun_share.0[lane],
                    area * side.gain_share.0[lane],
                );
                // Each zone answers for half of what the element between them stores.
                let kept = 0.5 * stored(inner.element);
                balances[side.zone].parts[part].stored_j += kept;
                balances[side.zone].parts[part].through_j += entered - kept;
            }
        }
    }

    /// Hands the sums over, lane by lane.
    pub fn finish(self, zones: usize, lanes: usize, watches: usize, options: &Options) -> Vec<KernelYear> {
        let peaks = |all: &[LanePeak<L>; Z], lane: usize| all[..zones].iter().map(|p| p.lane(lane)).collect();
        let mut balances = self.balances;
        (0..lanes)
            .map(|lane| KernelYear {
                zones,
                balances: std::mem::take(&mut balances[lane]),
                heating_peak_w: self.heating_peak.lane(lane),
                cooling_peak_w: self.cooling_peak.lane(lane),
                heating_day_peak_w: self.heating_day_peak.lane(lane),
                cooling_day_peak_w: self.cooling_day_peak.lane(lane),
                zone_heating_peak_w: peaks(&self.zone_heating_peak, lane),
                zone_cooling_peak_w: peaks(&self.zone_cooling_peak, lane),
                watched: (0..watches)
                    .map(|w| Watched {
                        co2_ppm: if options.co2 { self.watched_co2[w].0[lane] } else { f64::NAN },
                        co2_step: self.watched_step[w].0[lane] as usize,
                        operative_c: self.watched_operative[w].0[lane],
                        kg_kg: self.watched_x[w].0[lane],
                    })
                    .collect(),
                trace: None,
                factored: 0,
            })
            .collect()
    }
}
