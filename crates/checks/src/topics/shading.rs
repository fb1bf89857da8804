//! Sunlit share of a window under an overhang and between fins.

use crate::reference::{Row, rows};
use crate::{Check, Compute, Kind, Tolerance};
use climate::shade::{Fin, Overhang, Shades};
use climate::sun::Direction;

const CASES: &str = include_str!("../../../../reference/building/shading_sunlit.csv");

pub(crate) fn checks() -> Vec<Check> {
    rows(CASES).iter().map(check).collect()
}

fn check(row: &Row) -> Check {
    let n = |column: &str| row.number(column);
    let shades = shades(row);
    let sun = Direction::from_angles(n("zenith_deg"), n("sun_azimuth_deg"));
    let wall = n("wall_azimuth_deg");
    // One board without end effects: the shadow is a rectangle, and one line of arithmetic gives its share.
    let by_hand = matches!(row.text("id"), "s1" | "s2" | "s6" | "s10");
    let (kind, source) = if by_hand {
        (Kind::ClosedForm, "1 − (depth·tan(shadow angle) − gap)/extent, held within 0 and 1")
    } else {
        (
            Kind::OwnConverged,
            "exact union of polygons by another program of ours; ray sampling agrees to 2e-3",
        )
    };
    Check {
        id: format!("shading.{}", row.text("id")),
        topic: "Shading",
        quantity: format!("sunlit share: {}", row.text("description")),
        unit: "-",
        reference: n("sunlit_fraction"),
        tolerance: Tolerance::Absolute(1e-6),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| Ok(deeper(shades, nudge).sunlit(&sun, wall))) as Compute,
    }
}

fn shades(row: &Row) -> Shades {
    let n = |column: &str| row.number(column);
    let fin = |side: &str| {
        let depth_m = n(&format!("fin{side}_depth"));
        (!depth_m.is_nan()).then(|| Fin {
            depth_m,
            gap_m: n(&format!("fin{side}_gap")),
            bottom_m: n(&format!("fin{side}_bottom_z")),
            top_m: n(&format!("fin{side}_top_z")),
        })
    };
    let depth_m = n("overhang_depth");
    Shades {
        width_m: n("window_width_m"),
        height_m: n("window_height_m"),
        overhang: (!depth_m.is_nan()).then(|| Overhang {
            depth_m,
            gap_m: n("overhang_gap_above_head"),
            left_m: n("overhang_ext_left"),
            right_m: n("overhang_ext_right"),
        }),
        left: fin("L"),
        right: fin("R"),
    }
}

/// All boards deeper by a factor.
fn deeper(mut shades: Shades, factor: f64) -> Shades {
    if let Some(board) = &mut shades.overhang {
        board.depth_m *= factor;
    }
    for fin in [&mut shades.left, &mut shades.right].into_iter().flatten() {
        fin.depth_m *= factor;
    }
    shades
}
