//! Which share of a window the sun reaches past its overhang and fins.
//!
//! Each board casts a parallelogram on the window's plane. The shadowed area is that of their union inside the
//! window, worked out exactly: between two neighbouring corners or crossings every edge is straight, so the width
//! of a strip times the shadowed height at its middle is the strip's area.
//!
//! Start at [`Shades::sunlit`]; [`Shades::sky_share`] does the same for the light of the whole sky.

use numeric::scalar::sin_cos;

use crate::sun::Direction;

/// A level board over the window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overhang {
    /// How far it stands out, m.
    pub depth_m: f64,
    /// How far above the window's head, m.
    pub gap_m: f64,
    /// How far it reaches beyond the window's left edge, seen from inside looking out, m.
    pub left_m: f64,
    /// How far beyond the right edge, m.
    pub right_m: f64,
}

/// An upright board beside the window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fin {
    /// How far it stands out, m.
    pub depth_m: f64,
    /// How far sideways from the window's edge, m.
    pub gap_m: f64,
    /// Height of its lower end above the sill, m; negative below it.
    pub bottom_m: f64,
    /// Height of its upper end above the sill, m.
    pub top_m: f64,
}

/// A window in a wall and the boards around it. Left and right are seen from inside looking out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shades {
    /// Width of the window, m, above zero.
    pub width_m: f64,
    /// Height of the window, m, above zero.
    pub height_m: f64,
    /// The board above.
    pub overhang: Option<Overhang>,
    /// The board to the left.
    pub left: Option<Fin>,
    /// The board to the right.
    pub right: Option<Fin>,
}

/// Corners of a shadow: two level or upright edges joined by slanted ones. x to the right, y up from the sill.
#[derive(Clone, Copy)]
struct Shadow([[f64; 2]; 4]);

impl Shadow {
    /// Shadow of the edge from `a` to `b` of a board whose outer edge falls at the offset.
    fn of(a: [f64; 2], b: [f64; 2], offset: [f64; 2]) -> Self {
        let moved = |p: [f64; 2]| [p[0] + offset[0], p[1] + offset[1]];
        Self([a, b, moved(b), moved(a)])
    }

    fn edges(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
        (0..4).map(|i| (self.0[i], self.0[(i + 1) % 4]))
    }

    /// True when its box meets the window's inside.
    fn meets(&self, width: f64, height: f64) -> bool {
        let range = |axis: usize| {
            let values = self.0.map(|p| p[axis]);
            (
                values.into_iter().fold(f64::INFINITY, f64::min),
                values.into_iter().fold(f64::NEG_INFINITY, f64::max),
            )
        };
        let ((x0, x1), (y0, y1)) = (range(0), range(1));
        x1 > x0 && y1 > y0 && x1 > 0.0 && x0 < width && y1 > 0.0 && y0 < height
    }

    /// Heights between which it darkens the line at x, if it does.
    fn at(&self, x: f64) -> Option<(f64, f64)> {
        let mut range: Option<(f64, f64)> = None;
        for (a, b) in self.edges() {
            if (a[0] - x) * (b[0] - x) < 0.0 {
                let y = a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
                range = Some(range.map_or((y, y), |(low, high)| (low.min(y), high.max(y))));
            }
        }
        range
    }
}

impl Shades {
    /// A window without boards.
    pub fn none(width_m: f64, height_m: f64) -> Self {
        Self { width_m, height_m, overhang: None, left: None, right: None }
    }

    /// A window set back in its wall: head and both jambs cast the shadow.
    pub fn reveal(width_m: f64, height_m: f64, depth_m: f64) -> Self {
        let fin = Some(Fin { depth_m, gap_m: 0.0, bottom_m: 0.0, top_m: height_m });
        let overhang = Some(Overhang { depth_m, gap_m: 0.0, left_m: 0.0, right_m: 0.0 });
        Self { width_m, height_m, overhang, left: fin, right: fin }
    }

    /// Returns the share of the window in the sun, 0 to 1; 0 when the sun is behind the wall.
    ///
    /// # Valid for
    /// Upright windows. The boards' thickness and light passing over the outer edge of a fin above an overhang are
    /// left out.
    pub fn sunlit(&self, sun: &Direction, wall_azimuth_deg: f64) -> f64 {
        let (sin, cos) = sin_cos(wall_azimuth_deg.to_radians());
        self.sunlit_from(WallFrame { sin, cos }.turn(sun))
    }

    /// As [`Shades::sunlit`], for a direction already in the wall's frame.
    pub fn sunlit_from(&self, sun: InWall) -> f64 {
        if sun.out <= 0.0 {
            return 0.0;
        }
        // A board's outer edge, d before the wall, falls d·tan to the left of a sun from the right, and lower.
        let (tan_right, tan_up) = (sun.right / sun.out, sun.up / sun.out);
        let offset = |depth: f64| [-depth * tan_right, -depth * tan_up];
        let (w, h) = (self.width_m, self.height_m);
        let overhang = self.overhang.map(|o| {
            let y = h + o.gap_m;
            Shadow::of([-o.left_m, y], [w + o.right_m, y], offset(o.depth_m))
        });
        let upright = |f: Fin, x: f64| Shadow::of([x, f.bottom_m], [x, f.top_m], offset(f.depth_m));
        let left = self.left.map(|f| upright(f, -f.gap_m));
        let right = self.right.map(|f| upright(f, w + f.gap_m));
        let mut shadows = [None; 3];
        let mut count = 0;
        for shadow in [overhang, left, right].into_iter().flatten().filter(|s| s.meets(w, h)) {
            shadows[count] = Some(shadow);
            count += 1;
        }
        if count == 0 {
            return 1.0;
        }
        (1.0 - shadowed_area(&shadows, w, h) / (w * h)).clamp(0.0, 1.0)
    }

    /// Returns the share of an even sky's light that reaches the window past its boards, 0 to 1.
    ///
    /// Midpoint sum over 24 heights by 48 sides, each direction weighted by its incidence; within 0.003 of a sum
    /// four times as fine.
    pub fn sky_share(&self) -> f64 {
        self.dome_share(1.0)
    }

    /// Returns the share of an even ground's light that reaches the window past its boards, 0 to 1.
    pub fn ground_share(&self) -> f64 {
        self.dome_share(-1.0)
    }

    fn dome_share(&self, sign: f64) -> f64 {
        const HEIGHTS: usize = 24;
        const SIDES: usize = 48;
        let (mut seen, mut all) = (0.0, 0.0);
        for i in 0..HEIGHTS {
            let (sin_h, cos_h) = sin_cos(((i as f64 + 0.5) / HEIGHTS as f64 * 90.0).to_radians());
            for j in 0..SIDES {
                let (sin_s, cos_s) = sin_cos(((j as f64 + 0.5) / SIDES as f64 * 180.0 - 90.0).to_radians());
                let from = InWall { right: cos_h * sin_s, up: sign * sin_h, out: cos_h * cos_s };
                let weight = from.out * cos_h;
                seen += weight * self.sunlit_from(from);
                all += weight;
            }
        }
        seen / all
    }
}

/// A direction in a wall's frame: along it to the right (seen from inside), up, and out of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InWall {
    /// Towards the right, seen from inside looking out.
    pub right: f64,
    /// Up.
    pub up: f64,
    /// Square to the wall: the cosine of incidence.
    pub out: f64,
}

struct WallFrame {
    sin: f64,
    cos: f64,
}

impl WallFrame {
    fn turn(&self, d: &Direction) -> InWall {
        // Right is towards the wall's azimuth + 90°.
        InWall {
            right: d.east * self.cos - d.north * self.sin,
            up: d.up,
            out: d.east * self.sin + d.north * self.cos,
        }
    }
}

/// Places where the shadowed height may change its slope: at most 2 window sides, 12 corners, 24 crossings with sill
/// and head, and 48 of shadows with each other.
const BREAKS: usize = 2 + 12 + 24 + 48;

fn shadowed_area(shadows: &[Option<Shadow>; 3], width: f64, height: f64) -> f64 {
    let mut breaks = [0.0; BREAKS];
    let mut count = 2;
    breaks[1] = width;
    let mut add = |x: f64| {
        if x > 0.0 && x < width {
            breaks[count] = x;
            count += 1;
        }
    };
    let present = || shadows.iter().flatten();
    for (i, shadow) in present().enumerate() {
        for (a, b) in shadow.edges() {
            add(a[0]);
            for level in [0.0, height] {
                if (a[1] - level) * (b[1] - level) < 0.0 {
                    add(a[0] + (b[0] - a[0]) * (level - a[1]) / (b[1] - a[1]));
                }
            }
        }
        for other in present().skip(i + 1) {
            for one in shadow.edges() {
                for two in other.edges() {
                    if let Some(x) = crossing(one, two) {
                        add(x);
                    }
                }
            }
        }
    }
    let breaks = &mut breaks[..count];
    breaks.sort_unstable_by(f64::total_cmp);
    breaks
        .windows(2)
        .map(|pair| (pair[1] - pair[0]) * shadowed_height(shadows, 0.5 * (pair[0] + pair[1]), height))
        .sum()
}

/// Returns where two edges cross, if they do inside both.
fn crossing(one: ([f64; 2], [f64; 2]), two: ([f64; 2], [f64; 2])) -> Option<f64> {
    let ((a, b), (c, d)) = (one, two);
    let (r, s) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]]);
    let cross = r[0] * s[1] - r[1] * s[0];
    if cross == 0.0 {
        return None;
    }
    let q = [c[0] - a[0], c[1] - a[1]];
    let t = (q[0] * s[1] - q[1] * s[0]) / cross;
    let u = (q[0] * r[1] - q[1] * r[0]) / cross;
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then(|| a[0] + t * r[0])
}

/// Length of the union of the shadows on the upright line at x, inside the window.
fn shadowed_height(shadows: &[Option<Shadow>; 3], x: f64, height: f64) -> f64 {
    let mut spans = [(f64::INFINITY, f64::INFINITY); 3];
    for (span, shadow) in spans.iter_mut().zip(shadows) {
        if let Some((low, high)) = shadow.as_ref().and_then(|s| s.at(x)) {
            let (low, high) = (low.max(0.0), high.min(height));
            if high > low {
                *span = (low, high);
            }
        }
    }
    spans.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let (mut covered, mut top) = (0.0, f64::NEG_INFINITY);
    for (low, high) in spans.into_iter().filter(|s| s.0.is_finite()) {
        covered += (high - low.max(top)).max(0.0);
        top = top.max(high);
    }
    covered
}

/// The height of what stands on the horizon, by direction: hills, trees, other buildings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Skyline {
    /// Azimuth clockwise from north and height above the horizon, degrees; azimuths rise within 0 to 360.
    points: Vec<[f64; 2]>,
}

impl Skyline {
    /// Takes points of azimuth and height, degrees; straight between them, closed round the circle.
    ///
    /// # Errors
    /// A sentence when azimuths do not rise within 0 to 360 or heights are not within 0 to 90.
    pub fn new(points: Vec<[f64; 2]>) -> Result<Self, String> {
        if !points.iter().all(|p| (0.0..360.0).contains(&p[0]) && (0.0..=90.0).contains(&p[1])) {
            return Err("azimuths must lie within 0 to 360 and heights within 0 to 90 degrees".to_owned());
        }
        if points.windows(2).any(|p| p[1][0] <= p[0][0]) {
            return Err("azimuths must rise from point to point".to_owned());
        }
        Ok(Self { points })
    }

    /// Returns the height in a direction, degrees.
    pub fn height_deg(&self, azimuth_deg: f64) -> f64 {
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else { return 0.0 };
        let azimuth = azimuth_deg.rem_euclid(360.0);
        let after = self.points.iter().position(|p| p[0] > azimuth);
        let (a, b) = match after {
            Some(0) => ([last[0] - 360.0, last[1]], *first),
            Some(i) => (self.points[i - 1], self.points[i]),
            None => (*last, [first[0] + 360.0, first[1]]),
        };
        a[1] + (b[1] - a[1]) * (azimuth - a[0]) / (b[0] - a[0])
    }

    /// Returns true when the sun stands above what is on the horizon.
    pub fn clears(&self, sun: &Direction) -> bool {
        sun.up > 0.0
            && (self.points.is_empty() || 90.0 - sun.zenith_deg() > self.height_deg(sun.azimuth_deg()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_overhang_takes_sky_but_no_ground() {
        let mut shades = Shades::none(1.2, 1.5);
        assert_eq!(shades.sky_share(), 1.0);
        shades.overhang = Some(Overhang { depth_m: 1.0, gap_m: 0.0, left_m: 5.0, right_m: 5.0 });
        // A long overhang of depth 1 over a height of 1.5: view factor 1 − (1 + d/h − √(1 + (d/h)²))/2 of the sky
        // quarter, that is a share of √(1 + a²) − a with a = d/h (two-dimensional crossed strings).
        let a = 1.0_f64 / 1.5;
        let expected = (1.0 + a * a).sqrt() - a;
        assert!((shades.sky_share() - expected).abs() < 0.03, "{} {expected}", shades.sky_share());
        assert!((shades.ground_share() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn skyline_closes_round_the_circle() {
        let line = Skyline::new(vec![[90.0, 10.0], [180.0, 20.0], [270.0, 10.0]]).expect("rises");
        assert_eq!(line.height_deg(135.0), 15.0);
        assert_eq!(line.height_deg(0.0), 10.0);
        assert_eq!(Skyline::default().height_deg(77.0), 0.0);
        assert!(Skyline::new(vec![[20.0, 1.0], [10.0, 1.0]]).is_err());
        assert!(line.clears(&Direction::from_angles(60.0, 135.0)));
        assert!(!line.clears(&Direction::from_angles(80.0, 135.0)));
    }

    proptest! {
        #[test]
        fn a_share_is_a_share(
            zenith in 0.0..95.0_f64, azimuth in 0.0..360.0_f64, depth in 0.0..3.0_f64, gap in 0.0..1.0_f64,
            fin in 0.0..2.0_f64, side in 0.0..1.0_f64,
        ) {
            let board = Some(Fin { depth_m: fin, gap_m: side, bottom_m: -0.2, top_m: 2.1 });
            let shades = Shades {
                width_m: 1.5,
                height_m: 1.8,
                overhang: Some(Overhang { depth_m: depth, gap_m: gap, left_m: side, right_m: 0.3 }),
                left: board,
                right: board,
            };
            let sun = Direction::from_angles(zenith, azimuth);
            let share = shades.sunlit(&sun, 170.0);
            prop_assert!((0.0..=1.0).contains(&share));
            // Taking a board away never darkens the window.
            let fewer = Shades { left: None, ..shades };
            prop_assert!(fewer.sunlit(&sun, 170.0) >= share - 1e-12);
        }
    }
}
