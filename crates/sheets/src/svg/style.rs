//! One paper, one ink, one accent, and the pens they are drawn with.

/// Paper ground.
pub const PAPER: &str = "#f7f4ec";
/// Ink of lines and words.
pub const INK: &str = "#1f2a33";
/// Softer ink for what is read second; 5.6 to 1 on the paper.
pub const SOFT: &str = "#56616b";
/// Faint lines and what is missing.
pub const FAINT: &str = "#c9c4b6";
/// Thin rules.
pub const RULE: &str = "#8d948f";
/// The one accent: the air barrier and what needs action; 5.0 to 1 on the paper.
pub const ACCENT: &str = "#b4471d";

/// Returns the style of every class that drawings use.
///
/// Pens from heavy to light: `cut` (what the section cuts), `edge` (what is seen beyond), `thin` (hatches,
/// dimensions), `hair` (guides). Written without quotes and brackets, so that it can stand in an SVG file.
pub fn drawing_css() -> String {
    format!(
        "\
.drawing text{{font-family:Overpass,sans-serif;font-size:14px;fill:{INK}}}\
.drawing .t{{font-weight:400}}\
.drawing .tb{{font-weight:600}}\
.drawing .th{{font-weight:700}}\
.drawing .ts{{font-size:13px;fill:{SOFT}}}\
.drawing .td{{font-size:13px;fill:{SOFT}}}\
.drawing .tdb{{font-size:13px;font-weight:600}}\
.drawing .fr{{font-variant-numeric:diagonal-fractions}}\
.drawing .tsb{{font-size:13px;font-weight:600}}\
.drawing .ta{{font-weight:700;fill:{ACCENT}}}\
.drawing .tn{{font-size:13px;font-weight:700;fill:{PAPER}}}\
.drawing .halo{{paint-order:stroke;stroke:{PAPER};stroke-width:5px;stroke-linejoin:round}}\
.drawing .halo-line{{fill:none;stroke:{PAPER};stroke-width:2.6}}\
.drawing .bar{{fill:{INK}}}\
.drawing .body{{fill:none;stroke:{INK};stroke-linecap:round}}\
.drawing a{{cursor:pointer}}\
.drawing a:hover text,.drawing a:focus text{{text-decoration:underline}}\
.drawing .cut{{fill:none;stroke:{INK};stroke-width:1.9;stroke-linejoin:round}}\
.drawing .edge{{fill:none;stroke:{INK};stroke-width:1}}\
.drawing .thin{{fill:none;stroke:{INK};stroke-width:.6}}\
.drawing .hair{{fill:none;stroke:{RULE};stroke-width:.6}}\
.drawing .dash{{fill:none;stroke:{SOFT};stroke-width:.9;stroke-dasharray:6 3 1.5 3}}\
.drawing .broken{{fill:none;stroke:{SOFT};stroke-width:1;stroke-dasharray:4 3}}\
.drawing .dim{{fill:none;stroke:{SOFT};stroke-width:.8}}\
.drawing .dot{{fill:{INK};stroke:none}}\
.drawing .paper{{fill:{PAPER};stroke:none}}\
.drawing .face{{fill:{PAPER};stroke:{INK};stroke-width:1;stroke-linejoin:round}}\
.drawing .heavy{{stroke-width:1.5}}\
.drawing .light{{stroke:{SOFT};stroke-width:.7}}\
.drawing .pane{{fill:{PAPER};stroke:{INK};stroke-width:1}}\
.drawing .solid{{fill:{INK};stroke:none}}\
.drawing .barrier{{fill:none;stroke:{ACCENT};stroke-width:3.2;stroke-linejoin:round;stroke-linecap:butt}}\
.drawing .seam{{fill:none;stroke:{ACCENT};stroke-width:1.5}}\
.drawing .joint{{fill:none;stroke:{ACCENT};stroke-width:6.5;stroke-linejoin:round;stroke-linecap:round}}\
.drawing .gap-under{{fill:none;stroke:{PAPER};stroke-width:7}}\
.drawing .paper-line{{fill:none;stroke:{PAPER};stroke-width:5}}\
.drawing .gap{{fill:none;stroke:{ACCENT};stroke-width:1.6;stroke-dasharray:3 2.4}}\
.drawing .flag{{fill:{ACCENT};stroke:none}}\
.drawing .over{{fill:none;stroke:{ACCENT};stroke-width:2.4}}\
.drawing .yes{{fill:none;stroke:{INK};stroke-width:1.6}}\
.drawing .no{{fill:none;stroke:{FAINT};stroke-width:1.2}}\
.drawing .run{{fill:none;stroke:{INK};stroke-width:1.7;stroke-linejoin:round}}\
.drawing .run2{{fill:none;stroke:{INK};stroke-width:1.5;stroke-dasharray:7 3;stroke-linejoin:round}}\
.drawing .run3{{fill:none;stroke:{INK};stroke-width:1.5;stroke-dasharray:1.8 2.6;stroke-linejoin:round}}\
.drawing .band{{fill:none;stroke:{INK};stroke-width:1.1}}\
.drawing .bound{{fill:none;stroke:{INK};stroke-width:1;stroke-dasharray:10 3 2 3}}"
    )
}
