//! Lines where elements meet: kinds, lengths along inside faces, linear transmittances, and the joints that carry
//! the control layers across them.

use quantity::Dimension;

use super::Derivation;
use super::shape::Shape;
use super::walls;
use crate::model::{
    Assembly, AssemblyId, Beyond, Building, Element, ElementKind, Junction, JunctionKind, Opening, OpeningId,
    RoofShape, StoreyId,
};
use crate::plan::OpeningKind;
use crate::stated::ValueKey;

impl Derivation<'_> {
    pub(super) fn junctions(
        &mut self,
        assemblies: &[Assembly],
        shape: &Shape,
        elements: &[Element],
        openings: &[Opening],
    ) -> Vec<Junction> {
        let mut out = Vec::new();
        for i in 0..shape.storeys.len() {
            let storey = StoreyId(i);
            self.corners(shape, storey, elements, &mut out);
            roof_lines(shape, storey, elements, &mut out);
            floor_lines(shape, storey, elements, &mut out);
            self.partition_lines(shape, storey, elements, &mut out);
        }
        self.opening_lines(elements, openings, &mut out);
        self.transmittances(assemblies, &mut out);
        out.retain(|junction| junction.length_m > 1e-6);
        out
    }

    /// Vertical edges: corners of the footprint, and party walls where they meet an outside wall.
    fn corners(&self, shape: &Shape, storey: StoreyId, elements: &[Element], out: &mut Vec<Junction>) {
        let s = &shape.storeys[storey.0];
        let walls: Vec<&Element> =
            elements.iter().filter(|e| e.storey == Some(storey) && e.kind == ElementKind::Wall).collect();
        for (n, a) in walls.iter().enumerate() {
            for b in &walls[n + 1..] {
                let Some((p, q)) = ends(a).zip(ends(b)).and_then(|(x, y)| touching(x, y)) else { continue };
                let same_side = a.side.is_some() && a.side == b.side;
                if same_side || a.beyond != Beyond::Outside && b.beyond != Beyond::Outside {
                    continue;
                }
                let top = s.roof.as_ref().map_or(0.0, |roof| roof.form.rise_m(&s.inside, p));
                let both_out = a.beyond == Beyond::Outside && b.beyond == Beyond::Outside;
                // The wall to the open comes first: what goes out through the joint counts.
                let (a, b) = if a.beyond == Beyond::Outside { (*a, *b) } else { (*b, *a) };
                let inward = s.inside.corners().iter().enumerate().any(|(i, c)| {
                    s.inside.is_reentrant(i) && (c[0] - p[0]).abs() + (c[1] - p[1]).abs() < 0.1
                });
                let kind = match (both_out, inward) {
                    (false, _) => JunctionKind::PartyLine,
                    (true, true) => JunctionKind::InnerCorner,
                    (true, false) => JunctionKind::Corner,
                };
                let height = s.height_m + top;
                let mut junction = line(kind, a, b.assembly, height, &s.name);
                junction.line_m = vec![[p[0], p[1], s.floor_level_m], [q[0], q[1], s.floor_level_m + height]];
                out.push(junction);
            }
        }
    }

    fn partition_lines(
        &self,
        shape: &Shape,
        storey: StoreyId,
        elements: &[Element],
        out: &mut Vec<Junction>,
    ) {
        let s = &shape.storeys[storey.0];
        let roof = elements.iter().find(|e| e.storey == Some(storey) && e.kind == ElementKind::Roof);
        let floor = elements.iter().find(|e| {
            e.storey == Some(storey) && matches!(e.kind, ElementKind::Floor | ElementKind::GroundFloor)
        });
        for wall in elements.iter().filter(|e| e.storey == Some(storey) && e.kind == ElementKind::Partition) {
            let Some((a, b)) = ends(wall) else { continue };
            let length = numeric::scalar::hypot(b[0] - a[0], b[1] - a[1]);
            for (kind, other) in [(JunctionKind::PartitionRoof, roof), (JunctionKind::PartitionFloor, floor)]
            {
                if let Some(other) = other {
                    let z = if kind == JunctionKind::PartitionRoof {
                        s.floor_level_m + s.height_m
                    } else {
                        s.floor_level_m
                    };
                    let mut junction = line(kind, wall, other.assembly, length, &s.name);
                    junction.beyond = other.beyond;
                    junction.line_m = vec![[a[0], a[1], z], [b[0], b[1], z]];
                    out.push(junction);
                }
            }
        }
        // A partition meets an outside wall wherever two rooms part along a side.
        let pieces = walls::pieces(shape, storey, self.has_rest(shape, storey));
        for pair in pieces.windows(2).filter(|p| p[0].side == p[1].side && p[0].space != p[1].space) {
            let between = |e: &&Element| {
                e.kind == ElementKind::Partition
                    && [(pair[0].space, pair[1].space), (pair[1].space, pair[0].space)].contains(&(
                        e.space,
                        match e.beyond {
                            Beyond::Space(o) => o,
                            _ => e.space,
                        },
                    ))
            };
            let side = &s.sides[pair[0].side];
            if let Some(wall) = elements.iter().find(between) {
                let p = s.inside.point_at(pair[0].side, pair[0].to);
                let mut junction =
                    line(JunctionKind::PartitionWall, wall, side.assembly, s.height_m, &s.name);
                junction.beyond = side.beyond;
                junction.line_m =
                    vec![[p[0], p[1], s.floor_level_m], [p[0], p[1], s.floor_level_m + s.height_m]];
                out.push(junction);
            }
        }
    }

    fn opening_lines(&mut self, elements: &[Element], openings: &[Opening], out: &mut Vec<Junction>) {
        let plan = &self.plan.install;
        let dimension = Dimension::LinearTransmittance;
        if openings.is_empty() {
            return;
        }
        let jamb = self.or_default(plan.jamb, "install.jamb", "install.jamb", dimension);
        let head = self.or_default(plan.head, "install.head", "install.head", dimension);
        let sill = self.or_default(plan.sill, "install.sill", "install.sill", dimension);
        let doors = openings.iter().any(|o| matches!(o.kind, OpeningKind::Door | OpeningKind::GlazedDoor));
        let threshold = doors
            .then(|| self.or_default(plan.threshold, "install.threshold", "install.threshold", dimension));
        for (i, opening) in openings.iter().enumerate() {
            let element = &elements[opening.element.0];
            let door = matches!(opening.kind, OpeningKind::Door | OpeningKind::GlazedDoor);
            let bottom = if door {
                (JunctionKind::Threshold, opening.width_m, threshold)
            } else {
                (JunctionKind::Sill, opening.width_m, Some(sill))
            };
            let edges = [
                (JunctionKind::Head, opening.width_m, Some(head)),
                (JunctionKind::Jamb, 2.0 * opening.height_m, Some(jamb)),
                bottom,
            ];
            for (kind, length_m, psi) in edges {
                out.push(Junction {
                    name: format!("{}.{}", opening.name, kind.word()),
                    kind,
                    first: element.assembly,
                    second: None,
                    opening: Some(OpeningId(i)),
                    space: opening.space,
                    beyond: element.beyond,
                    length_m,
                    psi,
                    joint: None,
                    line_m: frame_lines(opening, element, kind),
                });
            }
        }
    }

    /// Names that joints and drainage use: products, assemblies, openings.
    pub(super) fn check_joints(&mut self, building: &Building) {
        let products: Vec<&str> = building.products.iter().map(|p| p.name.as_str()).collect();
        let mut used: Vec<(String, String)> = Vec::new();
        for joint in &building.joints {
            for carrier in &joint.carries {
                let item = format!("joint.\"{}\".{}", joint.pair(), carrier.control.word());
                used.extend(carrier.product.clone().map(|name| (name, item)));
            }
        }
        for p in &building.penetrations {
            let item = format!("penetration.{}.with", p.plan.name);
            used.extend(p.plan.product.clone().map(|name| (name, item)));
        }
        for (name, item) in used {
            self.find("product", &name, &products, &item);
        }
        let assemblies: Vec<&str> = building.assemblies.iter().map(|a| a.name.as_str()).collect();
        let gaps = building.drainage.gaps.iter().map(|g| ("gap", &g.assembly));
        for (key, name) in gaps.chain(building.drainage.roofs.iter().map(|(name, _)| ("roof", name))) {
            self.find("assembly", name, &assemblies, &format!("drainage.{key}.{name}"));
        }
        let openings: Vec<&str> = building.openings.iter().map(|o| o.name.as_str()).collect();
        let sills = building.drainage.sills.iter().map(|s| ("sill", s));
        for (key, sill) in sills.chain(building.drainage.thresholds.iter().map(|s| ("threshold", s))) {
            if let Some(at) = &sill.at {
                self.find("opening", at, &openings, &format!("drainage.{key}.except.{at}"));
            }
        }
    }

    /// Linear transmittances and lengths that the book states, by kind or by pair.
    fn transmittances(&mut self, assemblies: &[Assembly], out: &mut [Junction]) {
        for plan in &self.plan.junctions {
            let pair = plan.what.split_once('/').map(|(a, b)| (a.trim(), b.trim()));
            let meant = |j: &Junction| match pair {
                Some((a, b)) => pair_is(j, assemblies, a, b),
                None => j.kind.word() == plan.what,
            };
            let total: f64 = out.iter().filter(|j| meant(j)).map(|j| j.length_m).sum();
            if total == 0.0 {
                let message = format!("no junction is a \"{}\"", plan.what);
                let mut kinds: Vec<&str> = out.iter().map(|j| j.kind.word()).collect();
                kinds.dedup();
                kinds.sort_unstable();
                kinds.dedup();
                let help = super::names::help(&plan.what, kinds.iter().copied());
                self.error("name", format!("junction.{}", plan.what), message, help);
                continue;
            }
            let factor = plan.length.map_or(1.0, |key| self.number(key) / total);
            for junction in out.iter_mut().filter(|j| meant(j)) {
                junction.psi = plan.psi.or(junction.psi);
                junction.length_m *= factor;
            }
        }
    }

    /// Gives each junction the joint that the book states for its pair; exceptions by place win.
    pub(super) fn match_joints(&mut self, building: &mut Building) {
        let mut used = vec![false; building.joints.len()];
        for i in 0..building.junctions.len() {
            let junction = &building.junctions[i];
            let fits = |joint: &crate::plan::JointPlan| {
                let place =
                    joint.at.as_ref().is_none_or(|at| junction.name.split('.').any(|part| part == at));
                place && pair_is(junction, &building.assemblies, &joint.first, &joint.second)
            };
            let mut best: Option<usize> = None;
            for (n, joint) in building.joints.iter().enumerate().filter(|(_, joint)| fits(joint)) {
                // A place says more than an edge, an edge more than "opening".
                let weight = |j: &crate::plan::JointPlan| {
                    let edge =
                        EDGES[1..].contains(&j.first.as_str()) || EDGES[1..].contains(&j.second.as_str());
                    2 * usize::from(j.at.is_some()) + usize::from(edge)
                };
                let better = best.is_none_or(|b| weight(joint) > weight(&building.joints[b]));
                if better {
                    best = Some(n);
                }
            }
            if let Some(n) = best {
                used[n] = true;
            }
            building.junctions[i].joint = best;
        }
        for (n, _) in used.iter().enumerate().filter(|(_, used)| !**used) {
            let joint = &building.joints[n];
            let item = format!("joint.\"{} / {}\"", joint.first, joint.second);
            let names: Vec<String> = building.assemblies.iter().map(|a| a.name.clone()).collect();
            let unknown = [&joint.first, &joint.second]
                .into_iter()
                .find(|side| !EDGES.contains(&side.as_str()) && !names.contains(side));
            match unknown {
                Some(side) => {
                    let message = format!("no assembly called \"{side}\"");
                    let help = super::names::help(side, names.iter().map(String::as_str));
                    self.error("name", item, message, help);
                }
                None => {
                    let message = "these two meet nowhere".to_owned();
                    self.warning("joint", item, message, "check the pair, or leave the joint out");
                }
            }
        }
    }
}

/// Words that stand for an edge of any opening.
const EDGES: [&str; 5] = ["opening", "threshold", "head", "jamb", "sill"];

/// Says whether a junction is between two names, in either order. `opening` stands for any edge of a window or door but
/// the threshold: that one is crossed by feet and closed by other hands, so it is named itself.
pub(super) fn pair_is(junction: &Junction, assemblies: &[Assembly], a: &str, b: &str) -> bool {
    let first = assemblies[junction.first.0].name.as_str();
    let is_edge = |word: &str| {
        word == junction.kind.word() && EDGES.contains(&word)
            || word == "opening" && junction.kind != JunctionKind::Threshold
    };
    match (junction.opening, junction.second) {
        (Some(_), _) => first == b && is_edge(a) || first == a && is_edge(b),
        (None, Some(id)) => {
            let second = assemblies[id.0].name.as_str();
            (first, second) == (a, b) || (second, first) == (a, b)
        }
        (None, None) => false,
    }
}

fn line(kind: JunctionKind, element: &Element, second: AssemblyId, length_m: f64, storey: &str) -> Junction {
    let place = element.name.strip_prefix(&format!("{storey}.")).unwrap_or(&element.name);
    Junction {
        name: format!("{storey}.{}.{place}", kind.word()),
        kind,
        first: element.assembly,
        second: Some(second),
        opening: None,
        space: element.space,
        beyond: element.beyond,
        length_m,
        psi: None::<ValueKey>,
        joint: None,
        line_m: Vec::new(),
    }
}

/// Ends of a frame's edges in space: one pair for head and sill, two for the jambs; none for an element that is not
/// drawn.
fn frame_lines(opening: &Opening, element: &Element, kind: JunctionKind) -> Vec<[f64; 3]> {
    let Some((a, b)) = ends(element) else { return Vec::new() };
    let length = numeric::scalar::hypot(b[0] - a[0], b[1] - a[1]);
    // The first edge of a face gives its level direction; a face that begins with a slope is not drawn on.
    if length < 1e-9 || (element.outline_m[0][2] - element.outline_m[1][2]).abs() > 1e-6 {
        return Vec::new();
    }
    let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
    // Uphill within the element: straight up for a wall, leaning in with its slope for a roof.
    let tilt = opening.tilt_deg.to_radians();
    let (rise, lean) = (numeric::scalar::sin(tilt), numeric::scalar::cos(tilt));
    let inward = [-along[1], along[0]];
    let (half, tall) = (0.5 * opening.width_m, 0.5 * opening.height_m);
    let corner = |s: f64, t: f64| {
        let c = opening.centre_m;
        [
            c[0] + along[0] * half * s + inward[0] * lean * tall * t,
            c[1] + along[1] * half * s + inward[1] * lean * tall * t,
            c[2] + rise * tall * t,
        ]
    };
    match kind {
        JunctionKind::Head => vec![corner(-1.0, 1.0), corner(1.0, 1.0)],
        JunctionKind::Jamb => {
            vec![corner(-1.0, -1.0), corner(-1.0, 1.0), corner(1.0, -1.0), corner(1.0, 1.0)]
        }
        _ => vec![corner(-1.0, -1.0), corner(1.0, -1.0)],
    }
}

/// Both ends of a wall on the plan.
fn ends(wall: &Element) -> Option<([f64; 2], [f64; 2])> {
    match wall.outline_m.as_slice() {
        [a, b, ..] => Some(([a[0], a[1]], [b[0], b[1]])),
        _ => None,
    }
}

type Ends = ([f64; 2], [f64; 2]);

/// The ends of two walls that lie in one place, within a wall's snap.
fn touching(a: Ends, b: Ends) -> Option<Ends> {
    let near = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).abs() + (p[1] - q[1]).abs() < 0.06;
    [(a.0, b.0), (a.0, b.1), (a.1, b.0), (a.1, b.1)].into_iter().find(|(p, q)| near(*p, *q))
}

/// Lines along the roof's edge, wall by wall, and the ridge.
fn roof_lines(shape: &Shape, storey: StoreyId, elements: &[Element], out: &mut Vec<Junction>) {
    let s = &shape.storeys[storey.0];
    let Some(roof) = &s.roof else { return };
    for wall in elements.iter().filter(|e| e.storey == Some(storey) && e.kind == ElementKind::Wall) {
        // A band above the wall means that a storey of ours stands on it, not the roof.
        let banded = elements.iter().any(|e| {
            e.kind == ElementKind::FloorBand
                && e.storey == Some(storey)
                && e.side == wall.side
                && e.space == wall.space
        });
        let Some((a, b)) = ends(wall).filter(|_| !banded) else { continue };
        let (_, length) = roof.form.along_edge(&s.inside, a, b, s.height_m);
        let (ra, rb) = (roof.form.rise_m(&s.inside, a), roof.form.rise_m(&s.inside, b));
        let mid = roof.form.rise_m(&s.inside, [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]);
        let kind = match roof.form {
            RoofShape::Flat => JunctionKind::RoofEdge,
            _ if (ra - rb).abs() > 1e-6 || (mid - 0.5 * (ra + rb)).abs() > 1e-6 => JunctionKind::Verge,
            RoofShape::Shed { .. } if mid > 0.5 * (roof.top_m - s.height_m) => JunctionKind::HighEaves,
            _ => JunctionKind::Eaves,
        };
        let z = |p: [f64; 2], rise: f64| [p[0], p[1], s.floor_level_m + s.height_m + rise];
        let mut junction = line(kind, wall, roof.assembly, length, &s.name);
        junction.line_m = vec![z(a, ra), z(b, rb)];
        out.push(junction);
    }
    let ridge = crate::geometry::roof_geometry(&roof.form, &s.inside, &s.inside, s.height_m).ridge_m;
    let first = elements.iter().find(|e| e.storey == Some(storey) && e.kind == ElementKind::Roof);
    if let Some(element) = first.filter(|_| ridge > 0.0) {
        out.push(line(JunctionKind::Ridge, element, roof.assembly, ridge, &s.name));
    }
}

/// Lines along the foot of each wall, and along the edges of floors over rooms of ours.
fn floor_lines(shape: &Shape, storey: StoreyId, elements: &[Element], out: &mut Vec<Junction>) {
    let s = &shape.storeys[storey.0];
    let floor = elements.iter().find(|e| {
        e.storey == Some(storey) && matches!(e.kind, ElementKind::Floor | ElementKind::GroundFloor)
    });
    let inner = elements.iter().find(|e| e.storey == Some(storey) && e.kind == ElementKind::InnerFloor);
    for wall in elements.iter().filter(|e| e.storey == Some(storey) && e.kind == ElementKind::Wall) {
        let Some((a, b)) = ends(wall) else { continue };
        let length = numeric::scalar::hypot(b[0] - a[0], b[1] - a[1]);
        // What stands on a band of ours below is the edge of an inner floor.
        let on_ours = bands_under(shape, storey, wall, elements);
        let rest = (length - on_ours).max(0.0);
        let mut push = |kind, second, length| {
            let mut junction = line(kind, wall, second, length, &s.name);
            junction.line_m = vec![[a[0], a[1], s.floor_level_m], [b[0], b[1], s.floor_level_m]];
            out.push(junction);
        };
        if let Some(inner) = inner.or(floor).filter(|_| on_ours > 0.0) {
            push(JunctionKind::FloorEdge, inner.assembly, on_ours);
        }
        if let Some(floor) = floor.filter(|_| rest > 0.0) {
            let kind = match (wall.beyond, floor.kind) {
                (Beyond::Neighbour(_), _) => JunctionKind::PartyLine,
                (_, ElementKind::GroundFloor) => JunctionKind::Plinth,
                _ => JunctionKind::PartyFloorEdge,
            };
            push(kind, floor.assembly, rest);
        }
    }
    // Party walls below end under the floor of this storey: there the party floor begins.
    let Some(floor) = floor else { return };
    let bands = elements.iter().filter(|e| {
        e.kind == ElementKind::FloorBand
            && e.storey.is_some_and(|low| low.0 < storey.0)
            && matches!(e.beyond, Beyond::Neighbour(_))
    });
    for band in bands {
        let Some((a, b)) = ends(band) else { continue };
        let length = numeric::scalar::hypot(b[0] - a[0], b[1] - a[1]);
        let mut junction = line(JunctionKind::InnerFloorEdge, band, floor.assembly, length, &s.name);
        junction.line_m = vec![[a[0], a[1], s.floor_level_m], [b[0], b[1], s.floor_level_m]];
        out.push(junction);
    }
}

/// Length of a wall that stands over the band of a lower storey on the same outer line, m.
fn bands_under(shape: &Shape, storey: StoreyId, wall: &Element, elements: &[Element]) -> f64 {
    let (Some(side), Some((a, b))) = (wall.side, ends(wall)) else { return 0.0 };
    let s = &shape.storeys[storey.0];
    let (ta, tb) = (s.inside.coordinate(side, a), s.inside.coordinate(side, b));
    let below = elements.iter().filter(|e| {
        e.kind == ElementKind::FloorBand
            && e.storey.is_some_and(|low| low.0 < storey.0)
            && e.beyond == Beyond::Outside
    });
    below
        .filter_map(|band| {
            let (p, q) = ends(band)?;
            let low = &shape.storeys[band.storey?.0];
            let low_side = band.side?;
            let facing = s.outside.outward(side);
            let other = low.outside.outward(low_side);
            let parallel = facing[0] * other[0] + facing[1] * other[1] > 0.999;
            let flush = s.outside.distance_out(side, low.outside.edge(low_side).0).abs() < 0.3;
            let (tp, tq) = (s.inside.coordinate(side, p), s.inside.coordinate(side, q));
            (parallel && flush).then(|| (tb.min(tp.max(tq)) - ta.max(tp.min(tq))).max(0.0))
        })
        .sum()
}
