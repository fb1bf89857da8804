//! Feeds the monthly method from the same model as the hourly balance.
//!
//! Areas, films, sun, people, air and neighbours are those of the hourly run; only the time steps are months. Storage
//! enters by each element's capacity at the daily period.

use building::Resolved;
use fabric::Complex;
use fabric::layers::film::{Direction, RSE_M2K_W, rsi_m2k_w};

use crate::assemble::Frame;
use crate::kernel::input::{Element, MONTH_ENDS_H, Model, Outside, Part};
use crate::kernel::leakage_m3_s;
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

/// Runs the monthly method on a frame's model.
pub fn run(frame: &Frame<'_>, model: &Model, resolved: &Resolved, conventions: Conventions) -> MonthlyYear {
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
    let mut inputs = [Month::default(); 12];
    let mut from = 0;
    for (input, end) in inputs.iter_mut().zip(MONTH_ENDS_H) {
        *input = month(frame, model, &envelope, from..end.min(frame.drivers.hours));
        from = end;
    }
    let months = year(envelope, &inputs, conventions);
    MonthlyYear {
        envelope,
        inputs,
        months,
        heating_j: months.iter().map(|m| m.heating_j).sum(),
        cooling_j: months.iter().map(|m| m.cooling_j).sum(),
    }
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

fn month(frame: &Frame<'_>, model: &Model, envelope: &Envelope, hours: std::ops::Range<usize>) -> Month {
    let d = &frame.drivers;
    let n = d.steps_per_hour;
    let count = hours.len() as f64;
    let steps = hours.start * n..hours.end * n;
    let outdoor_c = d.outdoor_c[steps.clone()].iter().sum::<f64>() / steps.len() as f64;
    let mut m = Month { outdoor_c, ..Month::default() };
    for e in &model.elements {
        if let Outside::Given { series, .. } = e.outside {
            let mean = d.given[series].temperature_c[hours.clone()].iter().sum::<f64>() / count;
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
    for g in &model.glass {
        let kept: f64 = kept_sun(model, g.zone);
        let a = &d.apertures[g.aperture];
        for hour in hours.clone() {
            m.solar_j += 3600.0 * g.area_m2 * (a.transmitted_w_m2[hour] * kept + a.inward_w_m2[hour]);
        }
    }
    let mut leak = 0.0;
    for hour in hours.clone() {
        let difference = envelope.heating_c - d.outdoor_c[hour * n];
        leak += leakage_m3_s(model, d.wind_m_s[hour], difference) / count;
    }
    let (mut recovered, mut full) = (0.0, 0.0);
    for step in steps.clone() {
        let state = &d.uses[usize::from(d.use_of_step[step])];
        let mode = &model.air_modes[state.air_mode];
        let supply: f64 = mode.supply_m3_s.iter().sum::<f64>() / steps.len() as f64;
        recovered += supply * (1.0 - mode.recovery);
        full += supply;
        for (zone, u) in model.zones.iter().zip(&state.zones) {
            m.internal_j += d.step_s()
                * (zone.people_factor * u.people_w + zone.equipment_factor * (u.equipment_w + u.lights_w));
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
