//! Details in two and three dimensions.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::detail::{Accuracy, Body, Detail, Environment, Region, Solution, solve};
use std::sync::{Arc, Mutex};

const DATA: &str = include_str!("../../../../reference/fabric/iso10211_cases.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = column(&data.at("case1"));
    checks.extend(composite(&data.at("case2")));
    checks.extend(balcony(&data.at("case3")));
    checks.extend(bar(&data.at("case4")));
    checks
}

/// Solves a case once for all its checks. The nudge scales the temperature of one environment, which moves flows and
/// temperatures without solving again.
#[derive(Clone)]
pub(super) struct Shared {
    detail: Detail,
    accuracy: Accuracy,
    nudged: usize,
    kept: Arc<Mutex<Option<Arc<Solution>>>>,
}

impl Shared {
    pub(super) fn new(accuracy: Accuracy, nudged: usize, detail: Detail) -> Self {
        Self { detail, accuracy, nudged, kept: Arc::default() }
    }

    fn solved(&self, nudge: f64) -> Result<Arc<Solution>, String> {
        let mut kept = self.kept.lock().map_err(|e| e.to_string())?;
        let solution = match &*kept {
            Some(solution) => solution.clone(),
            None => {
                let solution = Arc::new(solve(&self.detail, &self.accuracy).map_err(|e| e.to_string())?);
                *kept = Some(solution.clone());
                solution
            }
        };
        if nudge == 1.0 {
            return Ok(solution);
        }
        let mut temperatures: Vec<f64> = self.detail.environments.iter().map(|e| e.temperature_c).collect();
        temperatures[self.nudged] *= nudge;
        solution.at_temperatures(&temperatures).map(Arc::new).map_err(|e| e.to_string())
    }

    pub(super) fn compute(&self, pick: impl Fn(&Solution) -> Option<f64> + Send + Sync + 'static) -> Compute {
        let shared = self.clone();
        Box::new(move |nudge| {
            pick(shared.solved(nudge)?.as_ref()).ok_or_else(|| "no solid at that place".to_owned())
        })
    }
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("iso10211.{id}"),
        topic: "ISO 10211",
        quantity,
        unit,
        reference,
        tolerance,
        kind,
        source: source.to_owned(),
        seen: kind == Kind::PublishedSeen,
        known_gap: None,
        compute,
    }
}

pub(super) fn air(name: &str, temperature_c: f64, surface_m2k_w: f64) -> Environment {
    Environment { name: name.to_owned(), temperature_c, surface_m2k_w }
}

pub(super) fn air_box(low: [f64; 2], high: [f64; 2], environment: usize) -> Region {
    Region::rectangle("air", low, high, Body::Environment(environment))
}

fn air_block(name: &str, low_m: [f64; 3], high_m: [f64; 3], environment: usize) -> Region {
    Region::cuboid(name, low_m, high_m, Body::Environment(environment))
}

/// Case 1: half a square column with prescribed surface temperatures.
fn column(case: &Data) -> Vec<Check> {
    // The series holds to 1e-4 K on a fine grid: the step of the boundary temperature at the corner asks for it.
    let fine = Accuracy {
        flow: 0.0,
        surface: 0.0,
        first_cells: 8,
        most_cells: 700_000,
        residual: 1e-11,
        ..Accuracy::default()
    };
    let regions = vec![
        Region::rectangle("column", [0.0, 0.0], [0.4, 0.8], Body::solid(1.0)),
        air_box([0.0, 0.8], [0.4, 0.9], 0),
        air_box([-0.1, 0.0], [0.0, 0.9], 1),
        air_box([-0.1, -0.1], [0.4, 0.0], 1),
    ];
    let environments = vec![air("hot", 20.0, 0.0), air("cold", 0.0, 0.0)];
    let shared = Shared::new(fine, 0, Detail { plane: true, regions, environments });
    let mut checks = Vec::new();
    for (column, row) in [(0_usize, 0_usize), (1, 1), (2, 2), (3, 3)] {
        let at = [0.1 * (column as f64 + 1.0), 0.8 - 0.1 * (row as f64 + 1.0), 0.5];
        for (key, tolerance, kind, source) in [
            (
                "published_T",
                case.number("tolerance_K"),
                Kind::PublishedMemory,
                "ISO 10211:2007 Annex A, case 1",
            ),
            ("analytic_T", 1e-4, Kind::ClosedForm, "sine series of the square with one hot side"),
        ] {
            if key == "published_T" && row % 3 != 0 {
                continue;
            }
            checks.push(check(
                format!("case-1.{key}.{}-{}", column + 1, row + 1),
                format!("temperature at x = {:.1}, y = {:.1} m", at[0], at[1]),
                "°C",
                case.number(&format!("{key}.{row}.{column}")),
                Tolerance::Absolute(tolerance),
                kind,
                source,
                shared.compute(move |s| s.temperature_at(at)),
            ));
        }
    }
    checks
}

/// Boxes of a case: name, corners, one conductivity.
pub(super) fn boxes(case: &Data, key: &str) -> Vec<Region> {
    let mut list: Vec<(bool, Region)> = case
        .list("regions")
        .iter()
        .map(|r| {
            let c = r.numbers(key);
            let half = c.len() / 2;
            let corner = |from: usize| -> [f64; 3] {
                [0, 1, 2]
                    .map(|d| if d < half { c.get(from + d).copied().unwrap_or(f64::NAN) } else { f64::NAN })
            };
            let (low, high) = (corner(0), corner(half));
            let body = Body::solid(r.number("conductivity"));
            let name = r.text("name");
            let region = if half == 2 {
                Region::rectangle(name, [low[0], low[1]], [high[0], high[1]], body)
            } else {
                Region::cuboid(name, low, high, body)
            };
            (r.has("fill"), region)
        })
        .collect();
    // What fills the rest lies under all others.
    list.sort_by_key(|(fill, _)| !fill);
    list.into_iter().map(|(_, region)| region).collect()
}

/// Case 2: concrete, timber, insulation and aluminium.
fn composite(case: &Data) -> Vec<Check> {
    let mut regions = boxes(case, "rect");
    regions.push(air_box([0.0, 0.0475], [0.5, 0.06], 0));
    regions.push(air_box([0.0, -0.01], [0.5, 0.0], 1));
    let environments = vec![air("outdoors", 0.0, 0.06), air("room", 20.0, 0.11)];
    let accuracy = Accuracy { flow: 2e-4, surface: 1e-3, ..Accuracy::default() };
    let shared = Shared::new(accuracy, 1, Detail { plane: true, regions, environments });
    let source = case.text("source");
    let mut checks = vec![
        check(
            "case-2.flow".into(),
            "heat flow".into(),
            "W/m",
            case.number("heat_flow_W_per_m"),
            Tolerance::Absolute(case.number("tolerance_W_per_m")),
            Kind::PublishedSeen,
            &source,
            shared.compute(|s| s.flows_w.get(1).copied()),
        ),
        check(
            "case-2.flow-converged".into(),
            "heat flow against converged finite elements".into(),
            "W/m",
            case.number("own_fe_heat_flow_W_per_m"),
            // The last change over a halving is allowed 1e-4 of it.
            Tolerance::Absolute(2e-3),
            Kind::OwnConverged,
            "quadratic finite elements, 82 333 unknowns",
            shared.compute(|s| s.flows_w.get(1).copied()),
        ),
    ];
    // The corners on the symmetry axis and at the far end; D, B and G lie between.
    for point in case.list("points").into_iter().filter(|p| !"BDG".contains(&p.text("id"))) {
        let at = point.numbers("at");
        let (Some(&x), Some(&y)) = (at.first(), at.get(1)) else { continue };
        checks.push(check(
            format!("case-2.{}", point.text("id")),
            format!("temperature at {}", point.text("id")),
            "°C",
            point.number("T"),
            Tolerance::Absolute(case.number("tolerance_K")),
            Kind::PublishedSeen,
            &source,
            shared.compute(move |s| s.temperature_at([x, y, 0.5])),
        ));
    }
    checks
}

/// Case 3: wall corner, slab and balcony between two rooms and outdoors.
fn balcony(case: &Data) -> Vec<Check> {
    let accuracy = Accuracy { flow: 1e-2, surface: 2e-2, most_cells: 600_000, ..Accuracy::default() };
    let mut regions = vec![
        air_block("gamma", [-0.2, -0.8, 0.0], [1.2, 1.2, 2.15], 2),
        air_block("alpha", [0.2, 0.2, 0.0], [1.2, 1.2, 1.0], 0),
        air_block("beta", [0.2, 0.2, 1.0], [1.2, 1.2, 2.15], 1),
    ];
    regions.extend(boxes(case, "box"));
    let environments = vec![air("alpha", 20.0, 0.2), air("beta", 15.0, 0.2), air("gamma", 0.0, 0.05)];
    let shared = Shared::new(accuracy, 0, Detail { plane: false, regions, environments });
    let source = case.text("source");
    let mut checks = Vec::new();
    for (e, name) in ["alpha", "beta", "gamma"].into_iter().enumerate() {
        checks.push(check(
            format!("case-3.flow-{name}"),
            format!("heat flow from {name}"),
            "W",
            case.number(&format!("heat_flow_W.{name}")),
            // The standard's own rule for this case.
            Tolerance::Relative(0.01),
            Kind::PublishedSeen,
            &source,
            shared.compute(move |s| s.flows_w.get(e).copied()),
        ));
    }
    for point in case.list("annex_points") {
        let at = point.numbers("at");
        let [x, y, z] = [0, 1, 2].map(|d| at.get(d).copied().unwrap_or(f64::NAN));
        let id = point.text("id");
        let floor = case.number(&format!("own_fe_points.{id}"));
        checks.push(check(
            format!("case-3.{id}"),
            format!("surface temperature at {id}"),
            "°C",
            floor,
            Tolerance::Absolute(case.number("annex_points_tolerance_K")),
            Kind::OwnConverged,
            "quadratic finite elements, 698 829 unknowns; the annex's own values (memory) round to them within 0.1 K",
            shared.compute(move |s| s.temperature_at([x, y, z])),
        ));
    }
    checks
}

/// Case 4: an iron bar through insulation.
fn bar(case: &Data) -> Vec<Check> {
    let accuracy = Accuracy { flow: 1e-2, surface: 5e-3, most_cells: 600_000, ..Accuracy::default() };
    let mut regions = vec![
        air_block("indoors", [0.0, 0.0, 0.0], [1.0, 0.7, 1.0], 1),
        air_block("outdoors", [0.0, -0.1, 0.0], [1.0, 0.0, 1.0], 0),
    ];
    regions.extend(boxes(case, "box"));
    let environments = vec![air("outdoors", 0.0, 0.1), air("indoors", 1.0, 0.1)];
    let shared = Shared::new(accuracy, 1, Detail { plane: false, regions, environments });
    let source = case.text("source");
    vec![
        check(
            "case-4.flow".into(),
            "heat flow".into(),
            "W",
            case.number("heat_flow_W"),
            Tolerance::Relative(0.01),
            Kind::PublishedSeen,
            &source,
            shared.compute(|s| s.flows_w.get(1).copied()),
        ),
        check(
            "case-4.warmest-outside".into(),
            "highest external surface temperature".into(),
            "°C",
            case.number("highest_external_surface_temperature"),
            Tolerance::Absolute(case.number("temperature_tolerance_K")),
            Kind::PublishedSeen,
            &source,
            shared.compute(|s| s.warmest.first().copied().flatten().map(|w| w.temperature_c)),
        ),
    ]
}
