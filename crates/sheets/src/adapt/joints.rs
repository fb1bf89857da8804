//! The model's joints as a sheet: the barrier's line, who does what, and a page for each kind of joint.

use building::Building;
use building::continuity::{Edge, EdgeAt, EdgeState, edge_word, edges, pair};
use building::control::{ControlKind, Gap};
use building::model::{Beyond, Element, Junction, JunctionId, JunctionKind, Opening, Penetration};
use building::plan::{AssemblyPlace, Carrier, JointPlan, Lap, ProductPlan, SillPlan, Way, WorkClass};
use quantity::Dimension;

use super::assemblies::sections;
use crate::draw::barrier::{Barrier, EdgeLine, Mark};
use crate::draw::joint::{FrameCut, JointDrawing, Meeting};
use crate::draw::section::Section;
use crate::reader::Reader;
use crate::sheet::joints::{
    Card, CrewPage, GapLine, JointsSheet, LayerLine, LayerState, Legend, RowLine, SillLine, TradeRow,
    TradeRows,
};
use crate::svg::slug;

/// Makes the sheet. `number` gives the number under which a gap stands on the first sheet, `closed` says that the site
/// log has closed it.
pub fn joints(
    building: &Building,
    reader: Reader,
    number: impl Fn(&str) -> Option<usize>,
    closed: impl Fn(&str) -> bool,
) -> JointsSheet {
    let open: Vec<&Gap> = building.gaps.iter().filter(|g| !closed(&g.id)).collect();
    let known = open.iter().all(|g| number(&g.id).is_some());
    let numbered: Vec<(usize, &Gap)> = open
        .iter()
        .enumerate()
        .map(|(place, gap)| (number(&gap.id).filter(|_| known).unwrap_or(place + 1), *gap))
        .collect();
    let edges = edges(building);
    let draft = Draft { building, reader, edges: &edges, open: &numbered, sections: drawn(building, reader) };
    let groups = draft.groups();
    JointsSheet {
        barrier: draft.barrier(),
        gaps: numbered.iter().map(|(number, gap)| gap_line(*number, gap)).collect(),
        closed_on_site: building.gaps.len() - open.len(),
        trades: draft.trades(&groups),
        crew: groups.iter().map(|group| draft.page(group)).collect(),
    }
}

fn drawn(building: &Building, reader: Reader) -> Vec<(usize, Section)> {
    sections(building, reader).into_iter().map(|(id, section)| (id.0, section)).collect()
}

fn gap_line(number: usize, gap: &Gap) -> GapLine {
    GapLine {
        number,
        id: format!("gap-{}", slug(&gap.id)),
        sentence: gap.sentence.clone(),
        close: gap.close.clone(),
        layer: gap.control.word(),
        breaks_air: gap.control == ControlKind::Air && gap.kind.breaks_line(),
        question: gap.kind.is_question(),
        rated: gap.kind == building::control::GapKind::NoTestedSystem,
    }
}

/// Junctions of one pair and kind of edge.
struct Group<'a> {
    kind: &'static str,
    pair: String,
    junctions: Vec<(JunctionId, &'a Junction)>,
}

impl Group<'_> {
    fn id(&self) -> String {
        format!("joint-{}", slug(&format!("{} {}", self.pair, self.kind)))
    }

    fn length_m(&self) -> f64 {
        self.junctions.iter().map(|(_, j)| j.length_m).sum()
    }
}

struct Draft<'a> {
    building: &'a Building,
    reader: Reader,
    edges: &'a [Edge],
    open: &'a [(usize, &'a Gap)],
    sections: Vec<(usize, Section)>,
}

impl<'a> Draft<'a> {
    /// Kinds of joint in the order in which the model meets them.
    fn groups(&self) -> Vec<Group<'a>> {
        let mut groups: Vec<Group<'a>> = Vec::new();
        for edge in self.edges.iter().filter(|e| e.control == ControlKind::Air) {
            let EdgeAt::Junction(id) = edge.at else { continue };
            let junction = &self.building.junctions[id.0];
            let (kind, pair) = (edge_word(junction.kind), pair(self.building, junction));
            match groups.iter_mut().find(|g| g.kind == kind && g.pair == pair) {
                Some(group) => group.junctions.push((id, junction)),
                None => groups.push(Group { kind, pair, junctions: vec![(id, junction)] }),
            }
        }
        groups
    }

    /// The joint of most of a group's length, without exceptions by place.
    fn joint(&self, group: &Group<'_>) -> Option<&'a JointPlan> {
        let of = |j: &Junction| j.joint.and_then(|n| self.building.joints.get(n));
        let usual = group.junctions.iter().filter_map(|(_, j)| of(j)).find(|p| p.at.is_none());
        usual.or_else(|| group.junctions.iter().find_map(|(_, j)| of(j)))
    }

    fn barrier(&self) -> Option<Barrier> {
        let b = self.building;
        let faces: Vec<Vec<[f64; 3]>> = b
            .elements
            .iter()
            .filter(|e| e.in_enclosure && !e.outline_m.is_empty())
            .map(|e| e.outline_m.clone())
            .collect();
        if faces.is_empty() {
            return None;
        }
        let mut lines = Vec::new();
        for edge in self.edges.iter().filter(|e| e.control == ControlKind::Air) {
            let EdgeAt::Junction(id) = edge.at else { continue };
            let junction = &b.junctions[id.0];
            for ends in junction.line_m.chunks_exact(2) {
                lines.push(EdgeLine {
                    ends: [ends[0], ends[1]],
                    closed: edge.state != EdgeState::Open,
                    fine: junction.opening.is_some(),
                });
            }
        }
        let marks: Vec<Mark> = self
            .open
            .iter()
            .filter(|(_, g)| g.control == ControlKind::Air && g.kind.breaks_line())
            .enumerate()
            .filter_map(|(place, (number, gap))| {
                let at = middle(gap, place)?;
                let href = format!("#gap-{}", slug(&gap.id));
                Some(Mark { number: *number, at, href, label: gap.sentence.clone() })
            })
            .collect();
        let north = b.site.north_deg.to_radians();
        let count = marks.len();
        Some(Barrier {
            id: "air-barrier".into(),
            title: format!("The air barrier of {} from above", b.project.name),
            description: format!(
                "Every edge that the air barrier must cross, as one line: {} edges, {}.",
                lines.len(),
                match count {
                    0 => "none broken".to_owned(),
                    1 => "one break marked".to_owned(),
                    n => format!("{n} breaks marked"),
                }
            ),
            outlines: b
                .storeys
                .iter()
                .flat_map(|s| {
                    let at = |z: f64| s.outside.corners().iter().map(|c| [c[0], c[1], z]).collect::<Vec<_>>();
                    [at(s.floor_level_m), at(s.floor_level_m + s.height_m)]
                })
                .collect(),
            faces,
            edges: lines,
            marks,
            north: [-numeric::scalar::sin(north), numeric::scalar::cos(north)],
        })
    }

    /// Who does what, in the order of the stages.
    fn trades(&self, groups: &[Group<'_>]) -> Vec<TradeRows> {
        let stages = &self.building.project.stages;
        let mut rows: Vec<(String, usize, TradeRow)> = Vec::new();
        for group in groups {
            let joint = self.joint(group);
            let stage = self.stage(joint);
            let order = stages.iter().position(|s| *s == stage).unwrap_or(stages.len());
            for control in needed(self.edges, group) {
                let carrier = joint.and_then(|j| j.carrier(control));
                if carrier.is_none() && self.state(group, control) != EdgeState::Open {
                    continue;
                }
                let own = |c: &Carrier| c.trade.as_ref().or(joint.and_then(|j| j.trade.as_ref())).cloned();
                let trade = carrier.and_then(own).unwrap_or_default();
                let line = RowLine {
                    layer: control.word(),
                    how: carrier.map(|c| c.how.clone()),
                    product: carrier.and_then(|c| c.product.as_deref()).map(plain).unwrap_or_default(),
                };
                let href = format!("#{}", group.id());
                match rows.iter_mut().find(|(t, _, row)| *t == trade && row.href == href) {
                    Some((_, _, row)) => row.lines.push(line),
                    None => rows.push((trade, order, self.row(group, &stage, line, href))),
                }
            }
        }
        for p in &self.building.penetrations {
            let stage = self.stage(None);
            let order = stages.iter().position(|s| *s == stage).unwrap_or(stages.len());
            rows.push((p.plan.trade.clone().unwrap_or_default(), order, self.penetration(p, stage)));
        }
        // Whoever starts first comes first; work nobody has taken comes last.
        let mut trades: Vec<(usize, String)> = Vec::new();
        for (trade, order, _) in &rows {
            match trades.iter_mut().find(|(_, name)| name == trade) {
                Some(found) => found.0 = found.0.min(*order),
                None => trades.push((*order, trade.clone())),
            }
        }
        trades.sort_by_key(|(order, name)| (name.is_empty(), *order));
        trades
            .into_iter()
            .map(|(_, trade)| {
                let mut own: Vec<(usize, TradeRow)> =
                    rows.iter().filter(|(t, ..)| *t == trade).map(|(_, o, r)| (*o, r.clone())).collect();
                own.sort_by_key(|(order, _)| *order);
                TradeRows { trade, rows: own.into_iter().map(|(_, row)| row).collect() }
            })
            .collect()
    }

    fn row(&self, group: &Group<'_>, stage: &str, line: RowLine, href: String) -> TradeRow {
        TradeRow {
            stage: stage.to_owned(),
            joint: plain(&group.pair),
            kind: group.kind.to_owned(),
            lines: vec![line],
            length: self.reader.show(group.length_m(), Dimension::Length),
            proof: self.joint(group).map(|j| j.proof.join(", ")).unwrap_or_default(),
            href,
        }
    }

    fn penetration(&self, p: &Penetration, stage: String) -> TradeRow {
        let air = RowLine {
            layer: ControlKind::Air.word(),
            how: p.plan.seal.clone(),
            product: p.plan.product.as_deref().map(plain).unwrap_or_default(),
        };
        let others = p.plan.carries.iter().map(|c| RowLine {
            layer: c.control.word(),
            how: Some(c.how.clone()),
            product: c.product.as_deref().map(plain).unwrap_or_default(),
        });
        let count = if p.plan.count == 1 { String::new() } else { format!("{} × ", p.plan.count) };
        TradeRow {
            stage,
            joint: format!("{count}{}", p.plan.name),
            kind: format!("through {}", plain(&self.building.assemblies[p.through.0].name)),
            lines: std::iter::once(air).chain(others).collect(),
            length: String::new(),
            proof: String::new(),
            href: String::new(),
        }
    }

    /// Stage in which a joint is made: its own, else the barrier's where the job has one.
    fn stage(&self, joint: Option<&JointPlan>) -> String {
        let own = joint.and_then(|j| j.stage.clone());
        let barrier = || self.building.project.stages.iter().find(|s| *s == "barrier").cloned();
        own.or_else(barrier).unwrap_or_default()
    }

    /// The worst state of a layer over a group.
    fn state(&self, group: &Group<'_>, control: ControlKind) -> EdgeState {
        let of = self.edges.iter().filter(|e| {
            e.control == control
                && matches!(e.at, EdgeAt::Junction(id) if group.junctions.iter().any(|(own, _)| *own == id))
        });
        let mut state = EdgeState::Carried;
        for edge in of {
            state = match (state, edge.state) {
                (_, EdgeState::Open) | (EdgeState::Open, _) => EdgeState::Open,
                (EdgeState::Carried, other) => other,
                (own, _) => own,
            };
        }
        state
    }

    fn page(&self, group: &Group<'_>) -> CrewPage {
        let joint = self.joint(group);
        let open: Vec<String> = self
            .open
            .iter()
            .filter(|(_, gap)| {
                gap.places.iter().any(|p| group.junctions.iter().any(|(_, j)| j.name == *p))
                    && gap.kind != building::control::GapKind::NoTestedSystem
            })
            .map(|(_, gap)| gap.sentence.clone())
            .collect();
        let rated = group.junctions.iter().any(|(_, j)| {
            [Some(j.first), j.second].into_iter().flatten().any(|id| {
                let assembly = &self.building.assemblies[id.0];
                assembly.fire_rated || assembly.sound_rated
            })
        });
        let drawing = self.drawing(group);
        CrewPage {
            id: group.id(),
            title: plain(&group.pair),
            kind: group.kind.to_owned(),
            length: self.reader.show(group.length_m(), Dimension::Length),
            places: places(self.building, group),
            trade: joint.and_then(|j| j.trade.clone()).unwrap_or_default(),
            stage: self.stage(joint),
            covered: joint.map(|j| self.covered(j)).unwrap_or_default(),
            work: joint.map_or("unknown", |j| work_word(j.work)),
            layers: needed(self.edges, group).into_iter().map(|c| self.layer(group, joint, c)).collect(),
            cards: self.cards(group, joint),
            sill: self.sill(group),
            photograph: joint.map(|j| j.photograph.clone()).unwrap_or_default(),
            proof: joint.map(|j| j.proof.clone()).unwrap_or_default(),
            rated,
            tested_system: joint.and_then(|j| j.tested_system.clone()).unwrap_or_default(),
            exceptions: self.exceptions(group),
            legend: drawing.as_ref().map(legend).unwrap_or_default(),
            drawing,
            open,
        }
    }

    fn layer(&self, group: &Group<'_>, joint: Option<&JointPlan>, control: ControlKind) -> LayerLine {
        let state = match (joint.and_then(|j| j.carrier(control)), self.state(group, control)) {
            (Some(c), _) => LayerState::Said {
                how: c.how.clone(),
                product: c.product.as_deref().map(plain).unwrap_or_default(),
                trade: c.trade.clone().unwrap_or_default(),
                lap: c.lap.map(lap_words),
            },
            (None, EdgeState::WithAir) => LayerState::WithAir,
            (None, EdgeState::Counted) => LayerState::Counted,
            (None, _) => LayerState::Open,
        };
        LayerLine { layer: control.word(), state }
    }

    /// What each product asks for.
    fn cards(&self, group: &Group<'_>, joint: Option<&JointPlan>) -> Vec<Card> {
        let mut names: Vec<&str> = Vec::new();
        let own = group.junctions.iter().filter_map(|(_, j)| j.joint).map(|n| &self.building.joints[n]);
        for joint in joint.into_iter().chain(own) {
            for name in joint.carries.iter().filter_map(|c| c.product.as_deref()) {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
        let product = |name: &&str| self.building.products.iter().find(|p| p.name == **name);
        names.iter().filter_map(product).map(|p| self.card(p)).collect()
    }

    fn card(&self, p: &ProductPlan) -> Card {
        let show = |key: Option<building::ValueKey>, dimension| {
            key.map(|key| self.reader.show(self.building.values.nominal_of(key), dimension))
                .unwrap_or_default()
        };
        let list = |words: &[String]| words.iter().map(|w| plain(w)).collect::<Vec<_>>().join(", ");
        let primer = match (&p.primer, p.primer_on.is_empty()) {
            (Some(primer), false) => format!("{primer}: {}", list(&p.primer_on)),
            (Some(primer), true) => primer.clone(),
            (None, false) => list(&p.primer_on),
            (None, true) => String::new(),
        };
        Card {
            name: plain(&p.name),
            about: p.about.clone(),
            kind: p.kind.word(),
            bonds: p.kind.bonds(),
            surface: p.surface.clone().unwrap_or_default(),
            primer,
            lowest: show(p.lowest_temperature, Dimension::Temperature),
            dryness: p.dryness.clone().unwrap_or_default(),
            cure: show(p.cure, Dimension::Time),
            sticks_to: list(&p.bonds_to),
            not_on: list(&p.not_on),
            vapour: show(p.permeance, Dimension::Permeance),
            source: p.source.clone().unwrap_or_default(),
        }
    }

    fn sill(&self, group: &Group<'_>) -> Vec<SillLine> {
        let drainage = &self.building.drainage;
        let has = |kind| group.junctions.iter().any(|(_, j)| j.kind == kind);
        let plans: &[SillPlan] = if has(JunctionKind::Sill) {
            &drainage.sills
        } else if has(JunctionKind::Threshold) {
            &drainage.thresholds
        } else {
            return Vec::new();
        };
        let ours = |p: &&SillPlan| {
            p.at.as_ref().is_none_or(|at| {
                group.junctions.iter().any(|(_, j)| opening(self.building, j).is_some_and(|o| o.name == *at))
            })
        };
        plans
            .iter()
            .filter(ours)
            .map(|p| SillLine {
                at: p.at.clone().unwrap_or_default(),
                pan: p.pan.as_ref().map(way_words),
                end_dams: p.end_dams,
                slope: p
                    .slope
                    .map(|key| self.reader.show(self.building.values.nominal_of(key), Dimension::Angle)),
                out: p.out.as_ref().map(way_words),
            })
            .collect()
    }

    fn exceptions(&self, group: &Group<'_>) -> Vec<(String, String)> {
        let used = group.junctions.iter().filter_map(|(_, j)| j.joint);
        let mut found: Vec<(String, String)> = Vec::new();
        for n in used {
            let joint = &self.building.joints[n];
            let Some(at) = &joint.at else { continue };
            let usual = self.joint(group);
            let differs: Vec<&str> = joint
                .carries
                .iter()
                .filter(|c| usual.is_none_or(|u| !u.carries.contains(c)))
                .map(|c| c.how.as_str())
                .collect();
            let line = (at.clone(), differs.join("; "));
            if !found.contains(&line) {
                found.push(line);
            }
        }
        found
    }

    /// The activity that covers a joint for good, when the works name it.
    fn covered(&self, joint: &JointPlan) -> String {
        let item = format!("joint.{}", joint.pair());
        let names = [item, joint.pair(), format!("joint.\"{}\"", joint.pair())];
        let work = self.building.works.iter().find(|w| w.covers.iter().any(|c| names.contains(c)));
        work.map_or_else(String::new, |w| match w.start {
            Some(start) => format!("{}, {start}", w.activity),
            None => w.activity.clone(),
        })
    }

    fn drawing(&self, group: &Group<'_>) -> Option<JointDrawing> {
        let (_, junction) = group.junctions.first()?;
        let section = |id: usize| self.sections.iter().find(|(own, _)| *own == id).map(|(_, s)| s.clone());
        let closed = self.state(group, ControlKind::Air) != EdgeState::Open;
        let draw = |meeting, first: Section, second, frame| JointDrawing {
            id: format!("{}-drawn", group.id()),
            title: format!("{}, {}", plain(&group.pair), group.kind),
            meeting,
            first,
            second,
            frame,
            closed,
            sides: ["outside".to_owned(), "inside".to_owned()],
        };
        if let Some(opening) = opening(self.building, junction) {
            let unit = &self.building.units[opening.unit.0];
            let number = |key| self.building.values.nominal_of(key);
            let frame = FrameCut {
                behind_m: opening.reveal_outside_m,
                depth_m: number(unit.frame_depth),
                face_m: number(unit.frame_face),
                pan: self.sill(group).iter().any(|s| s.pan.as_ref().is_some_and(Option::is_some)),
            };
            return Some(draw(Meeting::Frame, section(junction.first.0)?, None, Some(frame)));
        }
        let second_id = junction.second?;
        let (mut a, mut b) = (junction.first.0, second_id.0);
        let place = |id: usize| self.building.assemblies[id].place;
        let stands = |id: usize| matches!(place(id), AssemblyPlace::Wall | AssemblyPlace::Partition);
        // The one that stands comes first; of two walls the one to the open.
        let outside = |id: usize| {
            self.building.elements.iter().any(|e: &Element| e.assembly.0 == id && e.beyond == Beyond::Outside)
        };
        if stands(b) && (!stands(a) || outside(b) && !outside(a)) {
            std::mem::swap(&mut a, &mut b);
        }
        let meeting = match junction.kind {
            JunctionKind::InnerFloorEdge => Meeting::OutOver,
            JunctionKind::Ridge => Meeting::InLine,
            _ if stands(a) && stands(b) => Meeting::OnPlan,
            _ if !stands(a) => Meeting::InLine,
            _ if place(b) == AssemblyPlace::Roof => Meeting::OnTop,
            _ => Meeting::AtFoot,
        };
        Some(draw(meeting, section(a)?, Some(section(b)?), None))
    }
}

/// Layers that a group needs, air first.
fn needed(edges: &[Edge], group: &Group<'_>) -> Vec<ControlKind> {
    let has = |control: ControlKind| {
        edges.iter().any(|e| {
            e.control == control
                && matches!(e.at, EdgeAt::Junction(id) if group.junctions.iter().any(|(own, _)| *own == id))
        })
    };
    [ControlKind::Air, ControlKind::Rain, ControlKind::Vapour, ControlKind::Heat]
        .into_iter()
        .filter(|c| has(*c))
        .collect()
}

fn opening<'b>(building: &'b Building, junction: &Junction) -> Option<&'b Opening> {
    junction.opening.and_then(|id| building.openings.get(id.0))
}

/// Openings or rooms at which a joint lies, each once.
fn places(building: &Building, group: &Group<'_>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for (_, junction) in &group.junctions {
        let name = opening(building, junction).map_or_else(
            || building.spaces.get(junction.space.0).map_or_else(String::new, |s| s.label.clone()),
            |o| o.name.clone(),
        );
        if !name.is_empty() && !found.contains(&name) {
            found.push(name);
        }
    }
    found
}

fn legend(drawing: &JointDrawing) -> Vec<Legend> {
    let barrier = |s: &Section, n: usize| s.layers[n].air_barrier;
    let of = |section: &Section, mark: &dyn Fn(usize) -> String| Legend {
        title: section.title.clone(),
        layers: section
            .layers
            .iter()
            .enumerate()
            .map(|(n, l)| (mark(n), l.name.clone(), l.thickness.clone(), barrier(section, n)))
            .collect(),
    };
    let numbers = of(&drawing.first, &|n| (n + 1).to_string());
    let letters = drawing.second.as_ref().map(|s| of(s, &crate::draw::joint::letter));
    [Some(numbers), letters].into_iter().flatten().collect()
}

/// Where a gap is marked: on its longest line, or on one of its faces.
fn middle(gap: &Gap, place: usize) -> Option<[f64; 3]> {
    let length = |l: &[[f64; 3]]| match l {
        [a, .., b] => (0..3).map(|k| (a[k] - b[k]) * (a[k] - b[k])).sum::<f64>(),
        _ => 0.0,
    };
    let longest = gap.lines_m.iter().max_by(|a, b| length(a).total_cmp(&length(b)));
    let face = || gap.outlines_m.get(place % gap.outlines_m.len().max(1));
    let points = longest.or_else(face)?;
    let count = points.len() as f64;
    (!points.is_empty()).then(|| [0, 1, 2].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / count))
}

fn lap_words(lap: Lap) -> &'static str {
    match lap {
        Lap::Over => "upper piece over lower piece",
        Lap::Under => "upper piece behind lower piece: wrong, stop",
        Lap::Through => "one piece runs past, no lap",
    }
}

fn work_word(work: WorkClass) -> &'static str {
    match work {
        WorkClass::Careful => "careful",
        WorkClass::Ordinary => "ordinary",
        WorkClass::Unknown => "unknown",
    }
}

/// What is there, in words; `None`: it is said to be missing.
fn way_words(way: &Way) -> Option<String> {
    match way {
        Way::Is(words) => Some(words.clone()),
        Way::Missing => None,
    }
}

/// A name of the book as words.
fn plain(name: &str) -> String {
    name.replace(['-', '_'], " ")
}
