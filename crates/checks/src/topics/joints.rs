//! Frame sections, cavities, and a corner with a closed form.

use super::iso10211::{Shared, air, air_box, boxes};
use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::detail::cavity::{Opening, conductivity_w_mk};
use fabric::detail::{Accuracy, Body, Detail, Region};

const FRAMES: &str = include_str!("../../../../reference/fabric/iso10077_2_frames.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(FRAMES);
    let mut checks: Vec<Check> = data.list("defined_section").iter().flat_map(frame).collect();
    checks.push(cavity(&data));
    checks.push(corner());
    checks
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
        id: format!("joints.{id}"),
        topic: "Frames and joints",
        quantity,
        unit,
        reference,
        tolerance,
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

/// A timber frame with a calibration panel; the reduced zone is an environment of its own.
fn frame(case: &Data) -> Vec<Check> {
    let mut regions = vec![
        air_box([0.0, -0.02], [0.3, 0.0], 0),
        air_box([0.11, 0.0], [0.3, 0.02], 0),
        air_box([0.0, 0.048], [0.3, 0.088], 1),
        air_box([0.11, 0.048], [0.13, 0.088], 2),
    ];
    regions.extend(boxes(case, "rect"));
    let environments = vec![air("outdoors", 0.0, 0.04), air("room", 20.0, 0.13), air("edge", 20.0, 0.2)];
    let accuracy = Accuracy { flow: 3e-4, surface: 2e-3, ..Accuracy::default() };
    let shared = Shared::new(accuracy, 1, Detail { plane: true, regions, environments });
    let id = case.text("id");
    let source = "quadratic finite elements, graded to 28 933 and 60 069 unknowns";
    let panel = case.number("U_panel");
    let l2d = |s: &fabric::detail::Solution| s.flows_w.first().map(|q| -q / 20.0);
    vec![
        check(
            format!("{id}.l2d"),
            format!("{}: coupling of the section", case.text("title")),
            "W/(m·K)",
            case.number("L2D"),
            Tolerance::Relative(case.number("tolerance_percent_L2D") / 100.0),
            Kind::OwnConverged,
            source,
            shared.compute(l2d),
        ),
        check(
            format!("{id}.uf"),
            format!("{}: Uf", case.text("title")),
            "W/(m²·K)",
            case.number("U_f"),
            Tolerance::Absolute(case.number("tolerance_U_f")),
            Kind::OwnConverged,
            source,
            shared.compute(move |s| l2d(s).map(|l| (l - panel * 0.19) / 0.11)),
        ),
        check(
            format!("{id}.coldest"),
            format!("{}: lowest indoor surface temperature", case.text("title")),
            "°C",
            case.number("lowest_indoor_surface_T"),
            Tolerance::Absolute(case.number("tolerance_K")),
            Kind::OwnConverged,
            source,
            shared.compute(|s| s.temperature_at([0.11, 0.048, 0.5])),
        ),
    ]
}

fn cavity(data: &Data) -> Check {
    check(
        "cavity".into(),
        "equivalent conductivity of a closed cavity 40 mm × 20 mm".into(),
        "W/(m·K)",
        data.number("defined_section.1.regions.2.conductivity"),
        // Six printed decimals.
        Tolerance::Absolute(6e-7),
        Kind::ClosedForm,
        "formula of ISO 10077-2:2012 clause 6 (constants seen, form from memory), worked out apart",
        Box::new(|nudge| conductivity_w_mk(0.020 * nudge, 0.040, Opening::Closed).map_err(|e| e.to_string())),
    )
}

/// The corner of two walls with fixed surface temperatures conducts 1 − (2/π) ln 2 squares more than its inside lengths.
fn corner() -> Check {
    let (d, arm) = (0.3, 1.5);
    let regions = vec![
        air_box([-d - 0.1, -d - 0.1], [arm, arm], 1),
        Region::rectangle("corner", [-d, -d], [arm, arm], Body::solid(1.0)),
        air_box([0.0, 0.0], [arm, arm], 0),
    ];
    let environments = vec![air("inside", 1.0, 0.0), air("outside", 0.0, 0.0)];
    let accuracy = Accuracy { flow: 2e-5, surface: 1.0, ..Accuracy::default() };
    let shared = Shared::new(accuracy, 0, Detail { plane: true, regions, environments });
    check(
        "corner".into(),
        "squares added by a corner between faces of fixed temperature".into(),
        "",
        1.0 - 2.0 * std::f64::consts::LN_2 / std::f64::consts::PI,
        // The flow of ten squares stands still to 2e-5 at the last halving.
        Tolerance::Absolute(5e-4),
        Kind::ClosedForm,
        "conformal map of the right-angle bend: 1 − (2/π) ln 2",
        shared.compute(move |s| s.flows_w.first().map(|q| q - 2.0 * arm / d)),
    )
}
