//! CO2 in well-mixed spaces: exact transients, demand control, and people's generation.

use crate::reference::{Data, rows};
use crate::{Check, Compute, Kind, Tolerance};
use air::contaminant::{Network, Ramp, Segment, Space};
use air::generation::{Sex, basal_metabolic_rate_mj_day, co2_l_s};

const CASES: &str = include_str!("../../../../reference/air/co2_transients.toml");
const GENERATION: &str = include_str!("../../../../reference/air/co2_generation.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for case in Data::read(CASES).list("case") {
        let name = case.text("name");
        if case.has("segments") {
            let c = case.clone();
            checks.push(exact(&case, "end", "C_end_ppm", move |nudge| {
                let ends = space(&c).run(c.number("C0_ppm"), &segments(&c, nudge));
                ends.last().copied().ok_or_else(|| "no segments".to_owned())
            }));
        }
        let c = case.clone();
        match name.as_str() {
            "c01_step" => checks.push(exact(&case, "mean", "time_mean_ppm", move |nudge| {
                let segment = *segments(&c, nudge).first().ok_or("no segment")?;
                Ok(space(&c).mean_over(c.number("C0_ppm"), segment))
            })),
            "c06_linear_ramp" => checks.push(Check {
                kind: Kind::IndependentLibrary,
                // 2 000 segments of a second-order scheme leave about 1e-5 ppm.
                tolerance: Tolerance::Absolute(1e-3),
                source: "integrating factor by quadrature, checked with an ODE solver (scipy)".to_owned(),
                ..exact(&case, "end", "C_end_ppm", move |nudge| Ok(linear_ramp(&c, nudge)))
            }),
            "c07_dcv_ramp" => {
                checks
                    .push(exact(&case, "steady", "C_steady_ppm", move |nudge| Ok(demand_control(&c, nudge))));
            }
            "c08_periodic_day" => {
                checks.push(exact(&case, "evening", "excess_end_of_occupancy_ppm", move |nudge| {
                    Ok(periodic_evening(&c, nudge))
                }))
            }
            "c09_two_zone" => {
                checks.push(exact(&case, "steady", "C2_steady_ppm", move |nudge| Ok(two_zone(&c, nudge))));
            }
            _ => {}
        }
    }
    checks.extend(generation());
    checks
}

fn exact(
    case: &Data,
    what: &str,
    key: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id: format!("co2.{}.{what}", case.text("name")),
        topic: "CO2 in rooms",
        quantity: format!("CO2, {what}: {}", case.text("note")),
        unit: "ppm",
        reference: case.number(key),
        tolerance: Tolerance::Absolute(1e-6),
        kind: Kind::ClosedForm,
        source: "exact solution of the well-mixed balance".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn space(case: &Data) -> Space {
    Space { volume_m3: case.number("V_m3"), outdoor_ppm: case.number("C_out_ppm") }
}

fn segments(case: &Data, nudge: f64) -> Vec<Segment> {
    let read = |s: &Data| Segment {
        duration_h: s.number("duration_h"),
        generation_l_s: s.number("G_L_s"),
        flow_m3_h: s.number("Q_m3h") * nudge,
    };
    // A case without any flow is nudged in its people instead.
    let still = case.list("segments").iter().all(|s| s.number("Q_m3h") == 0.0);
    let people = if still { nudge } else { 1.0 };
    case.list("segments")
        .iter()
        .map(read)
        .map(|s| Segment { generation_l_s: s.generation_l_s * people, ..s })
        .collect()
}

/// Flow that rises linearly in time, in short exact segments at mid-segment flow: second order.
fn linear_ramp(case: &Data, nudge: f64) -> f64 {
    let pieces = 2000;
    let (from, to) = (case.number("Q_start_m3h"), case.number("Q_end_m3h"));
    (0..pieces).fold(case.number("C0_ppm"), |now, i| {
        let segment = Segment {
            duration_h: case.number("ramp_h") / f64::from(pieces),
            generation_l_s: case.number("G_L_s") * nudge,
            flow_m3_h: from + (to - from) * (f64::from(i) + 0.5) / f64::from(pieces),
        };
        space(case).after(now, segment)
    })
}

fn demand_control(case: &Data, nudge: f64) -> f64 {
    let ramp = Ramp {
        from_ppm: case.number("C_low_ppm"),
        to_ppm: case.number("C_high_ppm"),
        least_m3_h: case.number("Q_min_m3h"),
        most_m3_h: case.number("Q_max_m3h"),
    };
    space(case).after_on_ramp(420.0, case.number("G_L_s") * nudge, ramp, 24.0, 1.0 / 120.0)
}

fn periodic_evening(case: &Data, nudge: f64) -> f64 {
    let day = [
        Segment {
            duration_h: 9.0,
            generation_l_s: case.number("G_occ_L_s") * nudge,
            flow_m3_h: case.number("Q_occ_m3h"),
        },
        Segment { duration_h: 15.0, generation_l_s: 0.0, flow_m3_h: case.number("Q_empty_m3h") },
    ];
    let room = space(case);
    let mut start = room.outdoor_ppm;
    let mut evening = start;
    for _ in 0..30 {
        let ends = room.run(start, &day);
        (evening, start) = (ends[0], ends[1]);
    }
    evening - room.outdoor_ppm
}

fn two_zone(case: &Data, nudge: f64) -> f64 {
    let (through, exchange) = (case.number("Q_through_m3h"), case.number("Q_exchange_m3h"));
    let rooms = Network {
        volumes_m3: vec![case.number("V1_m3"), case.number("V2_m3")],
        flows_m3_h: vec![vec![0.0, through + exchange], vec![exchange, 0.0]],
        outdoor_m3_h: vec![through, 0.0],
        outdoor_ppm: case.number("C_out_ppm"),
    };
    rooms.after(&[420.0, 420.0], &[case.number("G1_L_s") * nudge, 0.0], 60.0)[1]
}

/// Every seventh row of the generation table: each sex and age at a different activity.
fn generation() -> Vec<Check> {
    let row_check = |row: crate::reference::Row| {
        let sex = if row.text("sex") == "m" { Sex::Male } else { Sex::Female };
        let (age, mass, met) = (row.number("age"), row.number("mass_kg"), row.number("met"));
        Check {
            id: format!("co2.generation.{}-{age}-{met}met", row.text("sex")),
            topic: "CO2 in rooms",
            quantity: format!("CO2 one person gives off: {}, {age} years, {met} met, 20 °C", row.text("sex")),
            unit: "L/s",
            reference: row.number("V_CO2_L_s_at_20C_101kPa"),
            tolerance: Tolerance::Relative(1e-12),
            kind: Kind::PublishedMemory,
            source: "Persily and de Jonge 2017, Indoor Air 27:868-879; formula and coefficients from memory"
                .to_owned(),
            seen: false,
            known_gap: None,
            compute: Box::new(move |nudge| {
                let bmr = basal_metabolic_rate_mj_day(sex, age, mass * nudge);
                Ok(co2_l_s(bmr, met, 20.0, 101_325.0))
            }),
        }
    };
    rows(GENERATION).into_iter().step_by(8).take(6).map(row_check).collect()
}
