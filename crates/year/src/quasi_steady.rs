//! Feeds the monthly method from the same model as the hourly balance.
//!
//! Areas, films, sun, people, air and neighbours are those of the hourly run; only the time steps are months. Storage
//! enters by each element's capacity at the daily period.

use building::Resolved;
use fabric::Complex;
use fabric::layers::film::{Direction, RSE_M2K_W, rsi_m2k_w};

use crate::assemble::Frame;
use crate::kernel::input::{Element, LeakFrom, MONTH_ENDS_H, Model, Outside, Part};
use crate::kernel::{leakages_m3_s, wind_levels};
use crate::monthly::{Conventions, Envelope, Month, MonthBalance, year};

/// The monthly method's year.
#[derive(Clone, Debug, PartialEq)]
pub struct MonthlyYear {
    /// What stays the same.
    pub envelope: Envelope,
    /// What each month brings.
    pub inputs: [Month; 12],
    /// What each month needs.
    pub months: [MonthBalance; 12],
    /// Heating demand of the year, J.
    pub heating_j: f64,
    /// Sensible cooling demand of the year, J.
    pub cooling_j: f64,
}

/// What months of a frame's drivers add up to, shared by all samples.
#[derive(Clone, Debug)]
pub struct Months {
    /// Mean outdoor temperature, °C.
    outdoor_c: [f64; 12],
    /// Mean of each given temperature, °C, month by month.
    given_c: Vec<[f64; 12]>,
    /// Sums of each aperture's transmitted sun and of its inward part, W·h/m², month by month.
    sun_wh_m2: Vec<[(f64, f64); 12]>,
    /// Steps in each state of use, month by month.
    state_steps: Vec<[f64; 12]>,
    /// Wind speeds that occur, m/s, and which of them each hour has.
    winds: (Vec<f64>, Vec<usize>),
}

impl Months {
    /// Adds up a frame's drivers.
    pub fn of(frame: &Frame<'_>) -> Self {
        let d = &frame.drivers;
        let n = d.steps_per_hour;
        let mut months = Self {
            outdoor_c: [0.0; 12],
            given_c: vec![[0.0; 12]; d.given.len()],
            sun_wh_m2: vec![[(0.0, 0.0); 12]; d.apertures.len()],
            state_steps: vec![[0.0; 12]; d.uses.len()],
            winds: wind_levels(d),
        };
        for (month, hours) in months_of(d.hours).enumerate() {
            let steps = hours.start * n..hours.end * n;
            months.outdoor_c[month] = d.outdoor_c[steps.clone()].iter().sum::<f64>() / steps.len() as f64;
            for (mean, series) in months.given_c.iter_mut().zip(&d.given) {
                mean[month] = series.temperature_c[hours.clone()].iter().sum::<f64>() / hours.len() as f64;
            }
            for (sum, a) in months.sun_wh_m2.iter_mut().zip(&d.apertures) {
                sum[month] = (
                    a.transmitted_w_m2[hours.clone()].iter().sum(),
                    a.inward_w_m2[hours.clone()].iter().sum(),
                );
            }
            for step in steps {
                months.state_steps[usize::from(d.use_of_step[step])][month] += 1.0;
            }
        }
        months
    }
}

fn months_of(hours: usize) -> impl Iterator<Item = std::ops::Range<usize>> {
    let ends = MONTH_ENDS_H.map(|end| end.min(hours));
    (0..12).map(move |m| if m == 0 { 0..ends[0] } else { ends[m - 1]..ends[m] })
}

/// Runs the monthly method on a frame's model.
pub fn run(frame: &Frame<'_>, model: &Model, resolved: &Resolved, conventions: Conventions) -> MonthlyYear {
    run_on(&Months::of(frame), frame, model, resolved, conventions)
}

/// As [`run`], with the sums of the drivers at hand.
pub fn run_on(
    months: &Months,
    frame: &Frame<'_>,
    model: &Model,
    resolved: &Resolved,
    conventions: Conventions,
) -> MonthlyYear {
    let asked = &frame.drivers.uses[0].zones[0];
    let zone = &model.zones[0];
    let heating_c = asked.heat_above_c + zone.heating_shift_k;
    // Without cooling plant the demand that plant would have is worked out at the book's set point.
    let cooling_c = if asked.cool_below_c.is_finite() {
        asked.cool_below_c + zone.cooling_shift_k
    } else {
        resolved[frame.building.set_points.cooling]
    };
    let envelope = envelope(model, heating_c, cooling_c);
    let leaks = mean_leaks(months, frame, model, heating_c);
    let mut inputs = [Month::default(); 12];
    for (at, input) in inputs.iter_mut().enumerate() {
        *input = month(months, frame, model, &envelope, at, &leaks);
    }
    let balances = year(envelope, &inputs, conventions);
    MonthlyYear {
        envelope,
        inputs,
        months: balances,
        heating_j: balances.iter().map(|m| m.heating_j).sum(),
        cooling_j: balances.iter().map(|m| m.cooling_j).sum(),
    }
}

/// Mean flows through leaks by source and month, at the heating set point, m³/s.
fn mean_leaks(
    months: &Months,
    frame: &Frame<'_>,
    model: &Model,
    heating_c: f64,
) -> Vec<(LeakFrom, [f64; 12])> {
    let mut sources: Vec<LeakFrom> = Vec::new();
    for leak in &model.leaks {
        if !sources.contains(&leak.from) {
            sources.push(leak.from);
        }
    }
    sources.into_iter().map(|from| (from, mean_leak(months, frame, model, heating_c, from))).collect()
}

fn mean_leak(months: &Months, frame: &Frame<'_>, model: &Model, heating_c: f64, from: LeakFrom) -> [f64; 12] {
    let d = &frame.drivers;
    let flows = leakages_m3_s(d, model, Some(from), &months.winds, heating_c);
    let mut means = [0.0; 12];
    for (mean, hours) in means.iter_mut().zip(months_of(d.hours)) {
        let count = hours.len() as f64;
        for hour in hours {
            let mode = d.uses[usize::from(d.use_of_step[hour * d.steps_per_hour])].air_mode;
            *mean += flows(hour, mode) / count;
        }
    }
    means
}

/// U of an element with the standard films, W/(m²·K).
fn u_w_m2k(model: &Model, e: &Element) -> f64 {
    let between = 1.0 / model.assemblies[e.assembly].conductance_w_m2k;
    let direction = match e.part {
        Part::Roof => Direction::Upwards,
        Part::Ground => Direction::Downwards,
        _ => Direction::Horizontal,
    };
    let outside = match e.outside {
        Outside::Air { .. } => RSE_M2K_W,
        Outside::Given { film_w_m2k, .. } => 1.0 / film_w_m2k,
        Outside::Zone(_) | Outside::Adiabatic => rsi_m2k_w(direction),
    };
    1.0 / (rsi_m2k_w(direction) + between + outside)
}

fn envelope(model: &Model, heating_c: f64, cooling_c: f64) -> Envelope {
    let mut transmission: f64 = model.zones.iter().map(|z| z.bridges_w_k).sum();
    let mut capacity: f64 = model.zones.iter().map(|z| z.heat_capacity_j_k).sum();
    let omega = std::f64::consts::TAU / 86_400.0;
    for e in &model.elements {
        if matches!(e.outside, Outside::Air { .. }) {
            transmission += e.area_m2 * u_w_m2k(model, e);
        }
        // Heat taken up at a face a day's swing of both faces brings in, per kelvin and radian.
        let y = model.assemblies[e.assembly].admittance(Complex::new(0.0, omega));
        capacity += e.area_m2 * (y.inside + y.cross).abs() / omega;
        if matches!(e.outside, Outside::Zone(_)) {
            capacity += e.area_m2 * (y.outside + y.cross).abs() / omega;
        }
    }
    Envelope { transmission_w_k: transmission, capacity_j_k: capacity, heating_c, cooling_c }
}

fn month(
    months: &Months,
    frame: &Frame<'_>,
    model: &Model,
    envelope: &Envelope,
    at: usize,
    leaks: &[(LeakFrom, [f64; 12])],
) -> Month {
    let d = &frame.drivers;
    let outdoor_c = months.outdoor_c[at];
    let mut m = Month { outdoor_c, ..Month::default() };
    for e in &model.elements {
        if let Outside::Given { series, .. } = e.outside {
            let mean = months.given_c[series][at];
            let ua = e.area_m2 * u_w_m2k(model, e);
            let flows = [ua * (envelope.heating_c - mean), ua * (envelope.cooling_c - mean)];
            if e.part == Part::Ground {
                m.ground_heating_w += flows[0];
                m.ground_cooling_w += flows[1];
            } else {
                m.neighbours_heating_w += flows[0];
                m.neighbours_cooling_w += flows[1];
            }
        }
    }
    let mut leak = 0.0;
    for (from, flows) in leaks {
        match from {
            LeakFrom::Outdoors => leak += flows[at],
            LeakFrom::Given(series) => {
                let (carried, mean) = (model.air_heat_j_m3k * flows[at], months.given_c[*series][at]);
                m.neighbours_heating_w += carried * (envelope.heating_c - mean);
                m.neighbours_cooling_w += carried * (envelope.cooling_c - mean);
            }
        }
    }
    for g in &model.glass {
        let (transmitted, inward) = months.sun_wh_m2[g.aperture][at];
        m.solar_j += 3600.0 * g.area_m2 * (transmitted * kept_sun(model, g.zone) + inward);
    }
    let steps: f64 = months.state_steps.iter().map(|s| s[at]).sum();
    let (mut recovered, mut full) = (0.0, 0.0);
    for (state, counts) in d.uses.iter().zip(&months.state_steps) {
        let mode = &model.air_modes[state.air_mode];
        let supply: f64 = mode.supply_m3_s.iter().sum::<f64>() * counts[at] / steps;
        recovered += supply * (1.0 - mode.recovery);
        full += supply;
        for (zone, u) in model.zones.iter().zip(&state.zones) {
            let power =
                zone.people_factor * u.people_w + zone.equipment_factor * (u.equipment_w + u.lights_w);
            m.internal_j += counts[at] * d.step_s() * power;
        }
    }
    m.ventilation_heating_w_k = model.air_heat_j_m3k * (leak + recovered);
    // With a bypass the cold outdoor air of the cooling season comes in as it is.
    let passes_by = model.bypass.is_some() && outdoor_c < envelope.cooling_c;
    m.ventilation_cooling_w_k = model.air_heat_j_m3k * (leak + if passes_by { full } else { recovered });
    m
}

/// Share of transmitted sun that stays in a zone.
fn kept_sun(model: &Model, zone: usize) -> f64 {
    let mut kept = model.zones[zone].sun_to_air;
    for e in &model.elements {
        if e.inside.zone == zone {
            kept += e.inside.sun_share;
        }
        if let Outside::Zone(far) = e.outside
            && far.zone == zone
        {
            kept += far.sun_share;
        }
    }
    kept
}
