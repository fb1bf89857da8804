//! Windows and doors: transmittance from glazing, frame and edge (ISO 10077-1), ratings, sun through the glass.
//!
//! Start at [`Window::transmittance`] when the parts are known, or at [`WholeWindow`] when only a rating is. Angle
//! dependence is in `glazing::optics`. Not here: frame sections in two dimensions, shading from geometry.

use crate::error::{FabricError, positive, within};
use crate::working::Working;
use std::fmt;

/// Rules a product figure was declared under. Figures under unlike rules do not compare.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rating {
    /// ISO 10077 (U at 0/20 °C, at the stated size) and EN 410 (solar factor g of the glass alone, head on).
    Iso,
    /// NFRC 100 and 200 (U at −18/21 °C and 5.5 m/s, at a model size; solar gain of the whole window).
    Nfrc,
}

impl fmt::Display for Rating {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Iso => "ISO 10077 / EN 410",
            Self::Nfrc => "NFRC 100 / 200",
        })
    }
}

/// A declared figure with its rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Declared {
    /// The figure.
    pub value: f64,
    /// The rules it was declared under.
    pub rating: Rating,
}

impl Declared {
    /// Returns the figure when it was declared under the rating asked for.
    ///
    /// There is no conversion: temperatures, wind, size and reference area all differ, and the difference depends on
    /// the product.
    ///
    /// # Errors
    /// [`FabricError::UnlikeRatings`] otherwise, with what to do instead.
    pub fn by(self, rating: Rating, quantity: &'static str) -> Result<f64, FabricError> {
        if self.rating == rating {
            return Ok(self.value);
        }
        Err(FabricError::UnlikeRatings {
            quantity,
            found: self.rating.to_string(),
            wanted: rating.to_string(),
            hint: "ask the maker for the other figure, or give panes, frame and edge so that it can be worked out",
        })
    }
}

/// Widths of the visible frame, seen from outside, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameWidths {
    /// Left and right.
    pub jambs_m: f64,
    /// Above.
    pub head_m: f64,
    /// Below.
    pub sill_m: f64,
}

impl FrameWidths {
    /// Returns a frame of one width all round.
    pub const fn all(width_m: f64) -> Self {
        Self { jambs_m: width_m, head_m: width_m, sill_m: width_m }
    }
}

/// Bars that divide the glass.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dividers {
    /// Number of upright bars.
    pub upright: u32,
    /// Number of level bars.
    pub level: u32,
    /// Width of a bar, m.
    pub width_m: f64,
}

/// A window or glazed door made of frame and glass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Width over the frame, m.
    pub width_m: f64,
    /// Height over the frame, m.
    pub height_m: f64,
    /// Frame.
    pub frame: FrameWidths,
    /// Dividing bars.
    pub dividers: Dividers,
    /// Transmittance of frame and bars Uf, W/(m²·K).
    pub frame_u_w_m2k: f64,
    /// Transmittance at the centre of the glass Ug, W/(m²·K).
    pub glass_u_w_m2k: f64,
    /// Linear transmittance of the glass edge Ψg, W/(m·K).
    pub edge_w_mk: f64,
}

/// Areas, edge length and transmittance of a window.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowTransmittance {
    /// Uw, W/(m²·K).
    pub u_w_m2k: f64,
    /// Visible glass, m².
    pub glass_m2: f64,
    /// Visible frame and bars, m².
    pub frame_m2: f64,
    /// Length of glass edge, m.
    pub edge_m: f64,
    /// The working.
    pub working: Working,
}

impl Window {
    /// Returns the area over the frame, m².
    pub fn area_m2(&self) -> f64 {
        self.width_m * self.height_m
    }

    /// Works out areas and transmittance.
    ///
    /// ```text
    /// Uw = (Ag Ug + Af Uf + lg Ψg) / (Ag + Af)
    /// ```
    ///
    /// # Errors
    /// [`FabricError`] names what is out of range, also when frame and bars leave no glass.
    /// # Source
    /// ISO 10077-1:2017, 5.2 (from memory).
    pub fn transmittance(&self) -> Result<WindowTransmittance, FabricError> {
        let what = || "window".to_string();
        let width = positive(what, "width, m", self.width_m)?;
        let height = positive(what, "height, m", self.height_m)?;
        for (quantity, value) in [
            ("jamb width, m", self.frame.jambs_m),
            ("head width, m", self.frame.head_m),
            ("sill width, m", self.frame.sill_m),
            ("divider width, m", self.dividers.width_m),
        ] {
            within(what, quantity, value, 0.0, 1.0)?;
        }
        positive(what, "Uf, W/(m²·K)", self.frame_u_w_m2k)?;
        positive(what, "Ug, W/(m²·K)", self.glass_u_w_m2k)?;
        within(what, "Ψg, W/(m·K)", self.edge_w_mk, 0.0, 1.0)?;
        let (columns, rows) = (f64::from(self.dividers.upright), f64::from(self.dividers.level));
        let glass_width = width - 2.0 * self.frame.jambs_m - columns * self.dividers.width_m;
        let glass_height = height - self.frame.head_m - self.frame.sill_m - rows * self.dividers.width_m;
        if glass_width <= 0.0 || glass_height <= 0.0 {
            return Err(FabricError::Inconsistent {
                what: what(),
                detail: format!(
                    "frame and bars leave {glass_width:.3} m × {glass_height:.3} m of glass in {width} m × {height} m"
                ),
            });
        }
        let mut w = Working::new();
        let glass = w.step("Ag", "glass", glass_width * glass_height, "m²", "ISO 10077-1 5.1");
        let frame = w.step("Af", "frame and bars", width * height - glass, "m²", "ISO 10077-1 5.1");
        let edge = 2.0 * (glass_width * (rows + 1.0) + glass_height * (columns + 1.0));
        w.step("lg", "glass edge", edge, "m", "ISO 10077-1 5.1");
        w.step("Ug", "centre of the glass", self.glass_u_w_m2k, "W/(m²·K)", "");
        w.step("Uf", "frame", self.frame_u_w_m2k, "W/(m²·K)", "");
        w.step("Ψg", "glass edge", self.edge_w_mk, "W/(m·K)", "");
        let loss = glass * self.glass_u_w_m2k + frame * self.frame_u_w_m2k + edge * self.edge_w_mk;
        let u = w.step("Uw", "window", loss / (glass + frame), "W/(m²·K)", "ISO 10077-1 5.2");
        Ok(WindowTransmittance { u_w_m2k: u, glass_m2: glass, frame_m2: frame, edge_m: edge, working: w })
    }
}

/// Linear transmittances around an installed window, W/(m·K).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Installation {
    /// Each jamb.
    pub jamb_w_mk: f64,
    /// Head.
    pub head_w_mk: f64,
    /// Sill.
    pub sill_w_mk: f64,
}

impl Installation {
    /// Returns the loss of the joint all round a window of this size, W/K.
    pub fn loss_w_k(&self, width_m: f64, height_m: f64) -> f64 {
        2.0 * height_m * self.jamb_w_mk + width_m * (self.head_w_mk + self.sill_w_mk)
    }
}

/// A window known only by the figures on its label.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WholeWindow {
    /// Transmittance of the whole window, W/(m²·K).
    pub u_w_m2k: Declared,
    /// Solar factor (ISO: of the glass) or solar heat gain coefficient (NFRC: of the whole window).
    pub solar: Declared,
    /// Visible glass over the whole area, 0..1.
    pub glass_share: f64,
}

impl WholeWindow {
    /// Returns the share of the sun on the whole window area that comes in head on, whichever way it was declared.
    ///
    /// By ISO it is g times the glass share; by NFRC the label's figure already is that share. This is no conversion
    /// between ratings: it brings both to the area the sun falls on.
    ///
    /// # Errors
    /// [`FabricError::OutOfRange`] for shares outside 0..1.
    pub fn solar_share(&self) -> Result<f64, FabricError> {
        let what = || "window".to_string();
        within(what, "glass share", self.glass_share, 0.0, 1.0)?;
        within(what, "solar factor", self.solar.value, 0.0, 1.0)?;
        Ok(match self.solar.rating {
            Rating::Iso => self.solar.value * self.glass_share,
            Rating::Nfrc => self.solar.value,
        })
    }
}

/// A door leaf of opaque parts and glass.
#[derive(Clone, Debug, PartialEq)]
pub struct Door {
    /// Parts: area m², transmittance W/(m²·K).
    pub parts: Vec<(f64, f64)>,
    /// Edges between them: length m, linear transmittance W/(m·K).
    pub edges: Vec<(f64, f64)>,
}

impl Door {
    /// Returns `U_D = (Σ A U + Σ l Ψ) / Σ A`, W/(m²·K).
    ///
    /// # Errors
    /// [`FabricError`] when a part has no area or transmittance, or there is none.
    /// # Source
    /// ISO 10077-1:2017, 5.4 (from memory).
    pub fn u_w_m2k(&self) -> Result<f64, FabricError> {
        if self.parts.is_empty() {
            return Err(FabricError::NoResistance { what: "door".into() });
        }
        let (mut area, mut loss) = (0.0, 0.0);
        for (k, &(a, u)) in self.parts.iter().enumerate() {
            let what = || format!("door part {}", k + 1);
            area += positive(what, "area, m²", a)?;
            loss += a * positive(what, "transmittance, W/(m²·K)", u)?;
        }
        for (k, &(l, psi)) in self.edges.iter().enumerate() {
            let what = || format!("door edge {}", k + 1);
            within(what, "length, m", l, 0.0, 1e3)?;
            within(what, "Ψ, W/(m·K)", psi, 0.0, 1.0)?;
            loss += l * psi;
        }
        Ok(loss / area)
    }
}

/// Frame material, for the tabulated edge values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameKind {
    /// Wood or plastic.
    WoodOrPlastic,
    /// Metal with a thermal break.
    MetalBroken,
    /// Metal without one.
    MetalPlain,
}

/// Spacer between panes, for the tabulated edge values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spacer {
    /// Aluminium or steel.
    Metal,
    /// Thermally improved: Σ d λ of its walls at most 0.007 W/K.
    Improved,
}

/// Returns the tabulated Ψg for an edge whose value is not known, W/(m·K).
///
/// `coated` is true for units with a low-emissivity coating. Source: ISO 10077-1:2006 Annex E, Tables E.1 and E.2 (from
/// memory).
pub fn tabulated_edge_w_mk(frame: FrameKind, spacer: Spacer, coated: bool) -> f64 {
    let (plain, low_e) = match (spacer, frame) {
        (Spacer::Metal, FrameKind::WoodOrPlastic) => (0.06, 0.08),
        (Spacer::Metal, FrameKind::MetalBroken) => (0.08, 0.11),
        (Spacer::Metal, FrameKind::MetalPlain) => (0.02, 0.05),
        (Spacer::Improved, FrameKind::WoodOrPlastic) => (0.05, 0.06),
        (Spacer::Improved, FrameKind::MetalBroken) => (0.06, 0.08),
        (Spacer::Improved, FrameKind::MetalPlain) => (0.01, 0.04),
    };
    if coated { low_e } else { plain }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn demo(width_m: f64, height_m: f64) -> Window {
        Window {
            width_m,
            height_m,
            frame: FrameWidths::all(0.115),
            dividers: Dividers::default(),
            frame_u_w_m2k: 1.00,
            glass_u_w_m2k: 0.60,
            edge_w_mk: 0.035,
        }
    }

    #[test]
    fn demo_windows_round_to_the_hand_calculation() {
        for (w, h, u) in [
            (1.22, 1.98, 0.79),
            (1.22, 1.68, 0.80),
            (1.52, 2.13, 0.77),
            (0.91, 1.68, 0.84),
            (0.96, 2.13, 0.82),
            (0.61, 2.13, 0.90),
        ] {
            let t = demo(w, h).transmittance().unwrap();
            assert!((t.u_w_m2k - u).abs() <= 0.0051, "{w} × {h}: {} for {u}", t.u_w_m2k);
        }
    }

    #[test]
    fn dividers_add_edge_and_frame() {
        let plain = demo(1.2, 1.8).transmittance().unwrap();
        let barred = Window { dividers: Dividers { upright: 1, level: 2, width_m: 0.03 }, ..demo(1.2, 1.8) };
        let barred = barred.transmittance().unwrap();
        assert!(barred.glass_m2 < plain.glass_m2 && barred.edge_m > 2.0 * plain.edge_m);
        // Six panes: three across the height, two across the width.
        let (pane_w, pane_h): (f64, f64) = ((0.97 - 0.03) / 2.0, (1.57 - 0.06) / 3.0);
        assert!((barred.edge_m - 12.0 * (pane_w + pane_h)).abs() < 1e-12);
        assert!((barred.glass_m2 - 6.0 * pane_w * pane_h).abs() < 1e-12);
    }

    #[test]
    fn frame_without_glass_is_refused() {
        let text = demo(0.2, 1.0).transmittance().unwrap_err().to_string();
        assert!(text.contains("of glass in 0.2 m × 1 m"), "{text}");
    }

    #[test]
    fn unlike_ratings_are_refused() {
        let u = Declared { value: 0.17, rating: Rating::Nfrc };
        let text = u.by(Rating::Iso, "window U").unwrap_err().to_string();
        assert!(
            text.starts_with("window U: declared by NFRC 100 / 200, wanted by ISO 10077 / EN 410"),
            "{text}"
        );
        assert_eq!(u.by(Rating::Nfrc, "window U"), Ok(0.17));
    }

    #[test]
    fn solar_share_refers_to_the_whole_area() {
        let mut window = WholeWindow {
            u_w_m2k: Declared { value: 0.8, rating: Rating::Iso },
            solar: Declared { value: 0.5, rating: Rating::Iso },
            glass_share: 0.7,
        };
        assert!((window.solar_share().unwrap() - 0.35).abs() < 1e-15);
        window.solar.rating = Rating::Nfrc;
        assert_eq!(window.solar_share().unwrap(), 0.5);
    }

    #[test]
    fn door_of_one_part_is_that_part() {
        let door = Door { parts: vec![(2.0, 0.9)], edges: vec![] };
        assert!((door.u_w_m2k().unwrap() - 0.9).abs() < 1e-15);
        let glazed = Door { parts: vec![(1.5, 0.9), (0.5, 1.2)], edges: vec![(3.0, 0.05)] };
        assert!((glazed.u_w_m2k().unwrap() - (1.35 + 0.6 + 0.15) / 2.0).abs() < 1e-15);
    }

    #[test]
    fn installation_counts_jambs_twice() {
        let i = Installation { jamb_w_mk: 0.030, head_w_mk: 0.025, sill_w_mk: 0.045 };
        assert!((i.loss_w_k(1.22, 1.98) - (2.0 * 1.98 * 0.030 + 1.22 * 0.070)).abs() < 1e-15);
    }
}
