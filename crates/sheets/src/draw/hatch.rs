//! Hatches for material families, of our own making.
//!
//! Each hatch hints at how the stuff is made: courses for masonry, strands for batts, tossed strokes for blown
//! fibre, cells for foam, plies for boards. They differ in form, not only in density, so that they stay apart in
//! grey print and in sunlight. The legend is [`legend`]; every section draws with the same patterns.

use crate::svg::{Anchor, Drawing, Node, PAPER, Path, number, rect, text};

/// How a family of materials is drawn where a section cuts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hatch {
    /// Brick, block and stone laid in courses.
    Masonry,
    /// Concrete and screed.
    Concrete,
    /// Plaster, render, gypsum and cement board.
    Plaster,
    /// Solid timber.
    Timber,
    /// Plywood and other glued wood panels.
    Panel,
    /// Blown or packed fibre.
    BlownFibre,
    /// Mats and batts of long fibre.
    Batt,
    /// Pressed fibre board.
    FibreBoard,
    /// Foam.
    Foam,
    /// Cellular or foamed mineral: glass foam, aerated block, perlite.
    Cellular,
    /// Air space.
    Air,
    /// Sheet, felt or membrane; drawn solid.
    Membrane,
    /// Metal.
    Metal,
    /// Glass.
    Glass,
    /// Soil, sand and gravel.
    Soil,
    /// Tile and other hard finishes.
    Tile,
    /// A space that belongs to a neighbour.
    Neighbour,
    /// A family without a hatch of its own.
    Other,
}

impl Hatch {
    /// Every hatch, in the order of the legend.
    pub const ALL: [Self; 18] = [
        Self::Masonry,
        Self::Concrete,
        Self::Plaster,
        Self::Tile,
        Self::Timber,
        Self::Panel,
        Self::FibreBoard,
        Self::BlownFibre,
        Self::Batt,
        Self::Foam,
        Self::Cellular,
        Self::Glass,
        Self::Metal,
        Self::Membrane,
        Self::Air,
        Self::Soil,
        Self::Neighbour,
        Self::Other,
    ];

    /// Name in the legend.
    pub fn name(self) -> &'static str {
        match self {
            Self::Masonry => "brick, block, stone",
            Self::Concrete => "concrete, screed",
            Self::Plaster => "plaster, board",
            Self::Timber => "timber",
            Self::Panel => "plywood, wood panel",
            Self::BlownFibre => "blown fibre",
            Self::Batt => "mats and batts",
            Self::FibreBoard => "pressed fibre board",
            Self::Foam => "foam",
            Self::Cellular => "cellular mineral",
            Self::Air => "air space",
            Self::Membrane => "membrane, felt",
            Self::Metal => "metal",
            Self::Glass => "glass",
            Self::Soil => "soil, gravel",
            Self::Tile => "tile, hard finish",
            Self::Neighbour => "a neighbour's space",
            Self::Other => "other",
        }
    }

    /// Short key, used in pattern ids.
    fn key(self) -> &'static str {
        match self {
            Self::Masonry => "masonry",
            Self::Concrete => "concrete",
            Self::Plaster => "plaster",
            Self::Timber => "timber",
            Self::Panel => "panel",
            Self::BlownFibre => "blown",
            Self::Batt => "batt",
            Self::FibreBoard => "fibreboard",
            Self::Foam => "foam",
            Self::Cellular => "cellular",
            Self::Air => "air",
            Self::Membrane => "membrane",
            Self::Metal => "metal",
            Self::Glass => "glass",
            Self::Soil => "soil",
            Self::Tile => "tile",
            Self::Neighbour => "neighbour",
            Self::Other => "other",
        }
    }
}

/// Which way a layer runs on the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Run {
    /// The layer stands: its faces are vertical lines.
    Standing,
    /// The layer lies: its faces are horizontal lines.
    Lying,
}

/// Draws a rectangle filled with a hatch, adding the hatch's pattern to the drawing when needed.
pub fn hatched(
    drawing: &mut Drawing,
    x: f64,
    y: f64,
    width: f64,
    height: f64,
    hatch: Hatch,
    run: Run,
    outline: &'static str,
) -> Vec<Node> {
    let mut nodes = vec![rect(x, y, width, height, "paper")];
    if let Some(fill) = fill(drawing, hatch, run) {
        // The tile begins at the rectangle's own corner, so that courses and plies start whole.
        let place = format!("translate({} {})", number(x), number(y));
        nodes.push(rect(0.0, 0.0, width, height, "fill").with("fill", fill).with("transform", place));
    }
    if !outline.is_empty() {
        nodes.push(rect(x, y, width, height, outline));
    }
    nodes
}

/// Returns the fill of a hatch, adding its pattern to the drawing; `None` for an air space, which stays paper.
pub fn fill(drawing: &mut Drawing, hatch: Hatch, run: Run) -> Option<String> {
    match hatch {
        Hatch::Air => None,
        Hatch::Membrane => Some(crate::svg::INK.to_owned()),
        _ => {
            let way = match run {
                Run::Standing => "s",
                Run::Lying => "l",
            };
            let id = format!("{}-{}-{way}", drawing.id(), hatch.key());
            drawing.pattern(pattern(&id, hatch, run));
            Some(format!("url(#{id})"))
        }
    }
}

/// A tile that repeats, with strokes that run over its edges drawn on both sides.
struct Tile {
    width: f64,
    height: f64,
    nodes: Vec<Node>,
}

impl Tile {
    fn new(width: f64, height: f64) -> Self {
        Self { width, height, nodes: Vec::new() }
    }

    /// Draws a stroke at a place and, where it reaches over an edge by up to `reach`, again on the other side.
    fn stroke(&mut self, x: f64, y: f64, reach: f64, draw: impl Fn(f64, f64) -> Node) {
        for dx in [-self.width, 0.0, self.width] {
            for dy in [-self.height, 0.0, self.height] {
                let (px, py) = (x + dx, y + dy);
                let near_x = px > -reach && px < self.width + reach;
                let near_y = py > -reach && py < self.height + reach;
                if near_x && near_y {
                    self.nodes.push(draw(px, py));
                }
            }
        }
    }

    /// Scatters strokes evenly but without rows, by the additive recurrence of the plastic number.
    fn scatter(&mut self, count: u32, reach: f64, draw: impl Fn(u32, f64, f64) -> Node) {
        for k in 0..count {
            let step = f64::from(k) + 0.5;
            let x = (step * 0.754_877_666_2).fract() * self.width;
            let y = (step * 0.569_840_290_9).fract() * self.height;
            self.stroke(x, y, reach, |px, py| draw(k, px, py));
        }
    }
}

/// Unit vectors in twelve directions, so that strokes can turn without trigonometry at run time.
const TURNS: [[f64; 2]; 12] = [
    [1.0, 0.0],
    [0.866, 0.5],
    [0.5, 0.866],
    [0.0, 1.0],
    [-0.5, 0.866],
    [-0.866, 0.5],
    [-1.0, 0.0],
    [-0.866, -0.5],
    [-0.5, -0.866],
    [0.0, -1.0],
    [0.5, -0.866],
    [0.866, -0.5],
];

fn direction(k: u32) -> [f64; 2] {
    // Steps of five around twelve visit every direction before repeating.
    TURNS[(k * 5 % 12) as usize]
}

/// Makes the pattern of a hatch. Patterns are drawn for standing layers and turned for lying ones.
fn pattern(id: &str, hatch: Hatch, run: Run) -> Node {
    let tile = tile(hatch);
    let mut node = Node::new("pattern")
        .with("id", id)
        .num("width", tile.width)
        .num("height", tile.height)
        .with("patternUnits", "userSpaceOnUse");
    let turns =
        !matches!(hatch, Hatch::Masonry | Hatch::Concrete | Hatch::Plaster | Hatch::BlownFibre | Hatch::Soil);
    if run == Run::Lying && turns {
        node = node.with("patternTransform", "rotate(90)");
    }
    node.extend(tile.nodes);
    node
}

fn tile(hatch: Hatch) -> Tile {
    match hatch {
        Hatch::Masonry => masonry(),
        Hatch::Concrete => concrete(),
        Hatch::Plaster => {
            let mut tile = Tile::new(22.0, 22.0);
            tile.scatter(18, 1.0, |k, x, y| dot(x, y, if k % 4 == 0 { 0.75 } else { 0.5 }));
            tile
        }
        Hatch::Timber => timber(),
        Hatch::Panel => panel(),
        Hatch::BlownFibre => blown(),
        Hatch::Batt => batt(),
        Hatch::FibreBoard => fibre_board(),
        Hatch::Foam => foam(),
        Hatch::Cellular => {
            let mut tile = Tile::new(26.0, 26.0);
            tile.scatter(9, 4.0, |k, x, y| {
                crate::svg::circle(x, y, [1.3, 2.3, 1.7][(k % 3) as usize], "thin")
            });
            tile
        }
        Hatch::Metal => strokes(5.0, 2.5, &[[0.0, 2.5, 5.0, 0.0]]),
        Hatch::Glass => strokes(26.0, 34.0, &[[6.0, 16.0, 12.0, 4.0], [10.0, 16.0, 16.0, 4.0]]),
        Hatch::Soil => soil(),
        Hatch::Tile => strokes(7.0, 7.0, &[[0.0, 0.0, 0.0, 7.0], [0.0, 3.5, 7.0, 3.5]]),
        Hatch::Neighbour => {
            let mut tile = Tile::new(11.0, 11.0);
            tile.nodes.push(dot(2.75, 2.75, 0.7));
            tile.nodes.push(dot(8.25, 8.25, 0.7));
            tile
        }
        Hatch::Other => strokes(14.0, 14.0, &[[2.0, 12.0, 6.0, 8.0], [9.0, 5.0, 12.0, 2.0]]),
        // Both are handled before a pattern is asked for; an empty tile draws nothing.
        Hatch::Air | Hatch::Membrane => Tile::new(10.0, 10.0),
    }
}

fn dot(x: f64, y: f64, r: f64) -> Node {
    crate::svg::circle(x, y, r, "dot")
}

fn strokes(width: f64, height: f64, lines: &[[f64; 4]]) -> Tile {
    let mut tile = Tile::new(width, height);
    for [x1, y1, x2, y2] in lines {
        tile.nodes.push(crate::svg::line(*x1, *y1, *x2, *y2, "thin"));
    }
    tile
}

/// Courses with joints drawn as the gap between two lines, and the cut of the wire on each brick.
fn masonry() -> Tile {
    let mut tile = Tile::new(44.0, 24.0);
    for y in [0.0, 12.0] {
        let shift = if y > 0.0 { 22.0 } else { 0.0 };
        tile.stroke(shift, y, 44.0, |x, y| {
            Path::new()
                .to(x + 1.5, y + 1.2)
                .line(x + 42.5, y + 1.2)
                .line(x + 42.5, y + 10.8)
                .line(x + 1.5, y + 10.8)
                .close()
                .node("thin")
        });
        tile.stroke(shift + 9.0, y, 20.0, |x, y| {
            Path::new()
                .to(x, y + 8.4)
                .line(x + 4.0, y + 3.6)
                .to(x + 4.0, y + 8.4)
                .line(x + 8.0, y + 3.6)
                .node("thin")
        });
    }
    tile
}

/// Crushed stone of three sizes in a dotted matrix.
fn concrete() -> Tile {
    let mut tile = Tile::new(46.0, 46.0);
    tile.scatter(30, 1.0, |_, x, y| dot(x, y, 0.5));
    tile.scatter(9, 6.0, |k, x, y| {
        let size = [4.2, 2.6, 3.4][(k % 3) as usize];
        let corner = |turn: u32| {
            let [dx, dy] = TURNS[((turn + k * 7) % 12) as usize];
            [x + dx * size, y + dy * size * 0.8]
        };
        let mut path = Path::through(&[corner(0), corner(3), corner(5), corner(9)]);
        path = path.close();
        path.node("thin").with("fill", PAPER)
    });
    tile
}

/// Year rings passing through, close together and apart.
fn timber() -> Tile {
    let mut tile = Tile::new(17.0, 60.0);
    for (x, bend) in [(1.5, 1.6), (4.0, 1.9), (7.5, 2.2), (12.0, 1.8), (14.6, 1.7)] {
        tile.nodes.push(
            Path::new().to(x, 0.0).curve(x + bend, 15.0, x, 30.0).curve(x - bend, 45.0, x, 60.0).node("thin"),
        );
    }
    tile
}

/// Plies along and across by turns.
fn panel() -> Tile {
    let mut tile = Tile::new(8.0, 6.0);
    tile.nodes.push(crate::svg::line(0.5, 0.0, 0.5, 6.0, "thin"));
    tile.nodes.push(crate::svg::line(4.5, 0.0, 4.5, 6.0, "thin"));
    for y in [1.5, 4.5] {
        tile.nodes.push(crate::svg::line(0.5, y, 4.5, y, "thin"));
    }
    tile
}

/// Tossed strokes, every way.
fn blown() -> Tile {
    let mut tile = Tile::new(40.0, 40.0);
    tile.scatter(26, 7.0, |k, x, y| {
        let [dx, dy] = direction(k);
        let bow = if k % 2 == 0 { 2.2 } else { -2.2 };
        Path::new()
            .to(x - dx * 4.2, y - dy * 4.2)
            .curve(x - dy * bow, y + dx * bow, x + dx * 4.2, y + dy * 4.2)
            .node("thin")
    });
    tile
}

/// Long strands that lean on each other.
fn batt() -> Tile {
    let mut tile = Tile::new(24.0, 64.0);
    for (x, phase) in [(1.5, 0.0), (6.0, 21.0), (11.0, 44.0), (15.5, 11.0), (20.5, 33.0)] {
        // The strand is drawn one tile too long on both ends, so that any phase fills the tile.
        let mut path = Path::new().to(x, phase - 64.0);
        for wave in 0..3 {
            let y = phase - 64.0 + 64.0 * f64::from(wave);
            path = path.curve(x + 4.6, y + 16.0, x, y + 32.0).curve(x - 4.6, y + 48.0, x, y + 64.0);
        }
        tile.nodes.push(path.node("thin"));
    }
    tile
}

/// Short dashes pressed parallel to the face.
fn fibre_board() -> Tile {
    let mut tile = Tile::new(12.0, 26.0);
    for (x, y, length) in [
        (1.5, 1.0, 9.0),
        (1.5, 15.0, 7.0),
        (5.5, 7.0, 10.0),
        (5.5, 21.0, 4.0),
        (9.5, 2.0, 5.0),
        (9.5, 12.0, 10.0),
    ] {
        tile.stroke(x, y, 12.0, |x, y| crate::svg::line(x, y, x, y + length, "thin"));
    }
    tile
}

/// Closed cells in close packing: three sides of each hexagon, the neighbours draw the others.
fn foam() -> Tile {
    let mut tile = Tile::new(9.0, 15.6);
    tile.nodes.push(
        Path::new()
            .to(0.0, 2.6)
            .line(4.5, 0.0)
            .line(9.0, 2.6)
            .to(0.0, 2.6)
            .line(0.0, 7.8)
            .line(4.5, 10.4)
            .line(9.0, 7.8)
            .to(4.5, 10.4)
            .line(4.5, 15.6)
            .node("thin"),
    );
    tile
}

/// Tufts of three strokes and a pebble.
fn soil() -> Tile {
    let mut tile = Tile::new(38.0, 20.0);
    for (x, y) in [(4.0, 9.0), (23.0, 19.0)] {
        tile.stroke(x, y, 14.0, |x, y| {
            Path::new()
                .to(x, y)
                .line(x + 5.0, y - 6.5)
                .to(x + 3.6, y)
                .line(x + 8.6, y - 6.5)
                .to(x + 7.2, y)
                .line(x + 12.2, y - 6.5)
                .node("thin")
        });
    }
    tile.nodes.push(crate::svg::circle(27.0, 5.5, 1.4, "thin"));
    tile.nodes.push(crate::svg::circle(9.0, 15.0, 1.0, "thin"));
    tile
}

/// Draws the legend of the hatches given, in columns that fit `width`.
pub fn legend(id: &str, hatches: &[Hatch], width: f64) -> Drawing {
    const CELL: f64 = 172.0;
    const ROW: f64 = 40.0;
    let columns = (width / CELL).floor().max(1.0) as usize;
    let rows = hatches.len().div_ceil(columns);
    let mut drawing = Drawing::new(id, "Legend of hatches", width, rows as f64 * ROW + 2.0);
    let names: Vec<&str> = hatches.iter().map(|h| h.name()).collect();
    drawing.describe(format!("One swatch for each family of materials: {}.", names.join("; ")));
    for (index, hatch) in hatches.iter().enumerate() {
        let x = (index % columns) as f64 * (width / columns as f64) + 1.0;
        let y = (index / columns) as f64 * ROW + 2.0;
        let swatch = hatched(&mut drawing, x, y, 44.0, 28.0, *hatch, Run::Standing, "edge");
        drawing.extend(swatch);
        drawing.push(text(x + 52.0, y + 19.0, hatch.name(), Anchor::Start, "ts"));
    }
    drawing
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_hatch_has_its_own_key_name_and_picture() {
        for (index, a) in Hatch::ALL.iter().enumerate() {
            for b in &Hatch::ALL[index + 1..] {
                assert_ne!(a.key(), b.key());
                assert_ne!(a.name(), b.name());
                let plain = |h: &Hatch| matches!(h, Hatch::Air | Hatch::Membrane);
                if !plain(a) && !plain(b) {
                    assert_ne!(pattern("x", *a, Run::Standing), pattern("x", *b, Run::Standing));
                }
            }
        }
    }

    #[test]
    fn a_pattern_is_added_once() {
        let mut drawing = Drawing::new("d", "d", 10.0, 10.0);
        for _ in 0..3 {
            assert_eq!(fill(&mut drawing, Hatch::Foam, Run::Standing), Some("url(#d-foam-s)".to_owned()));
        }
        assert_eq!(drawing.inline().matches("<pattern").count(), 1);
    }

    #[test]
    fn the_legend_is_stable() {
        insta::assert_snapshot!(legend("legend", &[Hatch::Foam, Hatch::Panel], 360.0).inline());
    }
}
