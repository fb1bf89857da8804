//! Conduction in time: the exact step response, and the few modes that the year engine steps with.

use super::iso13786::layers;
use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::periodic::{Side, StepResponse, step_response};
use fabric::transient::{ConductionLayer, ModalElement, Tolerance as Reduction, reduce};

const DATA: &str = include_str!("../../../../reference/fabric/transient.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = exact_steps(&data);
    checks.extend(half_space(&data));
    checks.extend(plane_wall(&data));
    checks.extend(modal_steps(&data));
    checks
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("transient.{id}"),
        topic: "Conduction in time",
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Absolute(tolerance),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

fn text(e: impl std::fmt::Display) -> String {
    e.to_string()
}

type Pick = fn(&StepResponse) -> f64;

fn exact_steps(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    let picks: [(usize, &str, &str, Pick); 3] = [
        (1, "flow into the room", "W/m²", |r| r.into_room_w_m2),
        (2, "flow from outdoors", "W/m²", |r| r.from_outdoors_w_m2),
        (4, "outside surface", "K", |r| r.outside_surface),
    ];
    for case in data.list("step_response") {
        for (row, (column, what, unit, pick)) in [1_usize, 3, 5].into_iter().zip(picks) {
            let values = case.numbers(&format!("rows.{row}"));
            let (Some(&hours), Some(&expected)) = (values.first(), values.get(column)) else { continue };
            let c = case.clone();
            checks.push(check(
                format!("step.{}.{hours}h", case.text("id")),
                format!("{what} {hours} h after outdoors steps by 1 K"),
                unit,
                expected,
                // Exact on both sides: eight printed decimals.
                1e-7,
                Kind::OwnConverged,
                "layer matrices inverted by 30-digit Talbot, another program; a finite-volume run agrees",
                Box::new(move |nudge| {
                    let r = step_response(&layers(&c, nudge), 0.13, 0.04, Side::Outside, hours * 3600.0);
                    r.map(|r| pick(&r)).map_err(text)
                }),
            ));
        }
    }
    checks
}

/// Ten metres of a solid behave as a half-space for a week.
fn half_space(data: &Data) -> Vec<Check> {
    let case = data.at("semi_infinite_convection");
    let mut checks = Vec::new();
    for row in case.list("x_t_T") {
        let (x, t, expected) = (row.number("0"), row.number("1"), row.number("2"));
        if x != 0.0 {
            continue;
        }
        let c = case.clone();
        let solid = move |nudge: f64| {
            vec![ConductionLayer::solid(
                10.0,
                c.number("conductivity") * nudge,
                c.number("rho"),
                c.number("cp"),
            )]
        };
        let (film, start) = (1.0 / case.number("h"), case.number("T_start"));
        let exact = solid.clone();
        checks.push(check(
            format!("half-space.exact.{}h", t / 3600.0),
            format!("surface of a half-space {} h after its air steps", t / 3600.0),
            "°C",
            expected,
            // Eight printed digits.
            1e-6,
            Kind::ClosedForm,
            "erfc formula of the half-space with a film, 30-digit arithmetic",
            Box::new(move |nudge| {
                let r = step_response(&exact(nudge), 0.13, film, Side::Outside, t).map_err(text)?;
                Ok(start * (1.0 - r.outside_surface))
            }),
        ));
        if t < 1e5 {
            checks.push(check(
                format!("half-space.modes.{}h", t / 3600.0),
                format!("the same by modes in steps of 60 s, {} h", t / 3600.0),
                "°C",
                expected,
                // 0.05 K for a step of 10 K; this one is 20 K.
                0.1,
                Kind::ClosedForm,
                "erfc formula of the half-space with a film, 30-digit arithmetic",
                Box::new(move |nudge| {
                    let element = reduce(&solid(nudge), &Reduction::default()).map_err(text)?;
                    let [_, outside] = stepped(&element, 0.13, film, [0.0, 1.0], t);
                    Ok(start * (1.0 - outside))
                }),
            ));
        }
    }
    checks
}

/// A wall cooled on both sides: a unit step of both airs, whatever its size; here 0.2 m of k = 2 W/(m·K).
fn plane_wall(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for case in data.list("plane_wall") {
        let bi = case.number("Bi");
        for row in [2_usize, 4] {
            let values = case.numbers(&format!("rows.{row}"));
            let (Some(&fo), Some(&theta)) = (values.first(), values.get(3)) else { continue };
            checks.push(check(
                format!("plane-wall.bi-{bi}.fo-{fo}"),
                format!("surface of a plane wall, Bi = {bi}, Fo = {fo}"),
                "",
                theta,
                case.number("tolerance"),
                Kind::ClosedForm,
                "series of the plane wall, 400 terms, 30 digits",
                Box::new(move |nudge| {
                    let (half, k, rho, cp) = (0.1, 2.0, 2000.0, 1000.0);
                    let film = half / (bi * k);
                    let t = fo * half * half * rho * cp / k;
                    let wall = [ConductionLayer::solid(2.0 * half, k * nudge, rho, cp)];
                    let mut rise = 0.0;
                    for side in [Side::Inside, Side::Outside] {
                        rise += step_response(&wall, film, film, side, t).map_err(text)?.inside_surface;
                    }
                    Ok(1.0 - rise)
                }),
            ));
        }
    }
    checks
}

/// The reduced element between films, stepped in time after a unit step of the air outdoors.
fn modal_steps(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for case in data.list("step_response") {
        for row in [0_usize, 3] {
            let values = case.numbers(&format!("rows.{row}"));
            let (Some(&hours), Some(&expected)) = (values.first(), values.get(4)) else { continue };
            let c = case.clone();
            checks.push(check(
                format!("modes.{}.{hours}h", case.text("id")),
                format!("outside surface by modes in steps of 60 s, {hours} h after outdoors steps by 1 K"),
                "K",
                expected,
                // 0.05 K for a step of 10 K.
                0.005,
                Kind::OwnConverged,
                "layer matrices inverted by 30-digit Talbot, another program; a finite-volume run agrees",
                Box::new(move |nudge| {
                    let element = reduce(&layers(&c, nudge), &Reduction::default()).map_err(text)?;
                    let [_, outside] = stepped(&element, 0.13, 0.04, [0.0, 1.0], hours * 3600.0);
                    Ok(outside)
                }),
            ));
        }
    }
    checks
}

/// Surface temperatures at a time after the airs step from zero, by backward Euler steps of 60 s.
fn stepped(element: &ModalElement, rsi: f64, rse: f64, air: [f64; 2], time_s: f64) -> [f64; 2] {
    let dt = 60.0;
    let steps: Vec<_> = element.modes.iter().map(|m| m.implicit_step(dt)).collect();
    let k = element.conductance_w_m2k;
    let (mut gi, mut go, mut gx) = (
        k + element.inside_residual / dt,
        k + element.outside_residual / dt,
        element.cross_residual / dt - k,
    );
    for (m, s) in element.modes.iter().zip(&steps) {
        gi += s.gain * m.inside * m.inside;
        go += s.gain * m.outside * m.outside;
        gx += s.gain * m.inside * m.outside;
    }
    let mut z = vec![0.0; steps.len()];
    let (mut ti, mut to) = (0.0, 0.0);
    let mut t = 0.0;
    while t < time_s - 0.5 * dt {
        // Fluxes at the new time are linear in the new surface temperatures: q = G T + what is known.
        let (mut qi, mut qo) = (-(gi - k) * ti - (gx + k) * to, -(go - k) * to - (gx + k) * ti);
        for ((m, s), z) in element.modes.iter().zip(&steps).zip(&z) {
            qi += m.inside * s.decay * z;
            qo += m.outside * s.decay * z;
        }
        let (a, d) = (1.0 / rsi + gi, 1.0 / rse + go);
        let (bi, bo) = (air[0] / rsi - qi, air[1] / rse - qo);
        let det = a * d - gx * gx;
        let (ni, no) = ((bi * d - gx * bo) / det, (a * bo - gx * bi) / det);
        for ((m, s), z) in element.modes.iter().zip(&steps).zip(&mut z) {
            *z = s.decay * *z + s.gain * (m.inside * (ni - ti) + m.outside * (no - to));
        }
        (ti, to) = (ni, no);
        t += dt;
    }
    [ti, to]
}
