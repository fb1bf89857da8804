//! Gatherings of the demonstration building: CO2 minute by minute against the printed table.

use crate::reference::Data;
use crate::{Check, Kind, Tolerance};
use air::contaminant::Space;
use air::gathering::{Control, Gathering, Outdoors, Person, Recovery, Room, Span};

const CASES: &str = include_str!("../../../../reference/air/demonstration_gatherings.toml");
/// 16.2 L/h a person.
const PERSON_L_S: f64 = 16.2 / 3600.0;

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(CASES);
    let tolerance = data.number("tolerance_ppm");
    let mut checks = Vec::new();
    for case in data.list("case") {
        for (i, minutes) in case.numbers("minutes").into_iter().enumerate() {
            let c = case.clone();
            checks.push(check(
                &case,
                &format!("{minutes}-min"),
                case.number(&format!("ppm.{i}")),
                tolerance,
                move |nudge| {
                    let course = gathering(&c, minutes as usize, nudge).run().map_err(|e| e.to_string())?;
                    course.last().map(|m| m.co2_ppm).ok_or_else(|| "no minutes".to_owned())
                },
            ));
        }
        let c = case.clone();
        checks.push(check(&case, "steady", case.number("steady_ppm"), tolerance, move |nudge| {
            let space = Space { volume_m3: c.number("volume_m3"), outdoor_ppm: 420.0 };
            Ok(space.steady_ppm(c.number("people") * PERSON_L_S, flow(&c) * nudge))
        }));
    }
    checks
}

fn airing(case: &Data) -> f64 {
    if case.has("airing_m3_h") { case.number("airing_m3_h") } else { 0.0 }
}

fn flow(case: &Data) -> f64 {
    case.number("flow_m3_h") + airing(case)
}

fn gathering(case: &Data, minutes: usize, nudge: f64) -> Gathering {
    Gathering {
        room: Room {
            volume_m3: case.number("volume_m3"),
            heat_capacity_j_k: 8e6,
            loss_w_k: 60.0,
            cooling_w: 0.0,
            cool_above_c: 25.0,
        },
        adjoining: None,
        outdoors: Outdoors {
            co2_ppm: 420.0,
            temperature_c: 8.0,
            humidity_ratio: 0.004,
            pressure_pa: 98_800.0,
        },
        person: Person { co2_l_s: PERSON_L_S, sensible_w: 70.0, vapour_kg_s: 1.8e-5 },
        spans: vec![Span {
            minutes,
            people: case.number("people"),
            other_w: 0.0,
            set_flow_m3_h: None,
            airing_m3_h: airing(case),
            doors_m3_h: 0.0,
        }],
        control: Control::Fixed(case.number("flow_m3_h") * nudge),
        recovery: Recovery { heat: 0.77, vapour: 0.62, carried_over: 0.0 },
        start_ppm: 600.0,
        start_c: 21.0,
        start_humidity_ratio: 0.006,
    }
}

fn check(
    case: &Data,
    what: &str,
    reference: f64,
    tolerance: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id: format!("gathering.{}.{what}", case.text("name")),
        topic: "Gatherings, demonstration",
        quantity: format!("CO2 in the hall: {}, {what}", case.text("name")),
        unit: "ppm",
        reference,
        tolerance: Tolerance::Absolute(tolerance),
        kind: Kind::ClosedForm,
        source: "exact solution of the well-mixed balance, worked by hand calculator to the whole ppm"
            .to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}
