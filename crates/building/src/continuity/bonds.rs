//! What joins must stick to what it joins, and let vapour through as its panels do.

use std::collections::BTreeMap;

use quantity::AIR_VAPOUR_PERMEABILITY;

use super::{lines, list, pair, rides_on_air, threshold};
use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{Assembly, AssemblyId, Building, Junction, Layer, LayerKind};
use crate::plan::{Carrier, JointPlan, ProductPlan};

/// Layers that hold by sticking more often than not: for these a carrier without a product is a question.
const STUCK: [ControlKind; 2] = [ControlKind::Air, ControlKind::Vapour];

pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let mut groups: BTreeMap<(usize, String), Vec<&Junction>> = BTreeMap::new();
    for junction in building.junctions.iter().filter(|j| super::crosses(j.kind)) {
        if let Some(n) = junction.joint {
            groups.entry((n, pair(building, junction))).or_default().push(junction);
        }
    }
    let mut out = Vec::new();
    for ((n, pair), junctions) in &groups {
        let meeting = Meeting { building, joint: &building.joints[*n], pair, junctions };
        for control in [ControlKind::Air, ControlKind::Vapour, ControlKind::Rain] {
            if let Some(carrier) = meeting.joint.carrier(control) {
                out.extend(meeting.bond(carrier));
                out.extend(meeting.permeance(carrier));
            }
        }
    }
    out.extend(penetrations(building));
    out
}

/// A joint where it is used.
struct Meeting<'a> {
    building: &'a Building,
    joint: &'a JointPlan,
    pair: &'a str,
    junctions: &'a [&'a Junction],
}

impl Meeting<'_> {
    /// Materials joined: those the joint names, else the two layers that do the job; a frame for an opening.
    fn joined(&self, control: ControlKind) -> Vec<Joined> {
        if !self.joint.joins.is_empty() {
            return self.joint.joins.iter().map(|name| named(self.building, name)).collect();
        }
        let mut out: Vec<Joined> = Vec::new();
        for junction in self.junctions {
            let sides = [Some(junction.first), junction.second].into_iter().flatten();
            let mut found: Vec<Joined> =
                sides.filter_map(|id| material(self.building, id, control)).collect();
            if junction.opening.is_some() {
                found.push(Joined { word: "frame".to_owned(), library: None });
            }
            for joined in found {
                if !out.contains(&joined) {
                    out.push(joined);
                }
            }
        }
        out
    }

    fn bond(&self, carrier: &Carrier) -> Option<Gap> {
        let joined = self.joined(carrier.control);
        let Some(name) = &carrier.product else {
            if !STUCK.contains(&carrier.control) {
                return None;
            }
            let words: Vec<&str> = joined.iter().map(|j| j.word.as_str()).collect();
            let sentence = format!(
                "At {} nobody has said which product it is, nor that it bonds to {}: \"{}\".",
                self.pair,
                list(&words),
                carrier.how
            );
            let close = format!(
                "[joint.\"{}\"] {} = {{ how = \"…\", with = \"name\" }} and [product.name] bonds-to = [{}]",
                self.joint.pair(),
                carrier.control.word(),
                words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ")
            );
            return Some(self.gap(carrier.control, GapKind::CompatibilityUnknown, sentence, close));
        };
        let product = self.building.products.iter().find(|p| p.name == *name)?;
        let (kind, sentence, close) = judge(product, &joined, self.pair)?;
        Some(self.gap(carrier.control, kind, sentence, close))
    }

    /// Compares what spans the joint with the panels beside it, where the panel is the vapour layer.
    fn permeance(&self, carrier: &Carrier) -> Option<Gap> {
        let rides = self.junctions.iter().all(|j| rides_on_air(self.building, j));
        let spans = carrier.control == ControlKind::Vapour || carrier.control == ControlKind::Air && rides;
        let name = carrier.product.as_ref().filter(|_| spans)?;
        let product = self.building.products.iter().find(|p| p.name == *name && p.kind.spans())?;
        let own = self.building.values.nominal_of(product.permeance?);
        let limit = threshold("vapour-ratio");
        for junction in self.junctions {
            for id in [Some(junction.first), junction.second].into_iter().flatten() {
                let assembly = &self.building.assemblies[id.0];
                let Some(layer) = control_layer(assembly, carrier.control) else { continue };
                let Some(panel) = panel_permeance(self.building, layer) else { continue };
                let ratio = own / panel;
                if ratio * limit >= 1.0 && ratio <= limit {
                    continue;
                }
                let (times, word) = if ratio < 1.0 { (1.0 / ratio, "tighter") } else { (ratio, "looser") };
                let sentence = format!(
                    "At {} {} is {times:.0} times {word} to vapour than the {} it spans; more than {limit:.0} times is \
                     this tool's own mark.",
                    self.pair, product.name, layer.name
                );
                let close = format!(
                    "choose a product nearer the panel, or correct [product.{}] vapour = \"…\"",
                    product.name
                );
                return Some(self.gap(carrier.control, GapKind::VapourMismatch, sentence, close));
            }
        }
        None
    }

    fn gap(&self, control: ControlKind, kind: GapKind, sentence: String, close: String) -> Gap {
        let at = self.joint.at.as_ref().map_or_else(String::new, |at| format!(", {at}"));
        Gap {
            id: format!("{}.{}.{}{at}", control.word(), kind.word(), self.pair),
            control,
            also: Vec::new(),
            kind,
            item: format!("joint.\"{}\"", self.joint.pair()),
            sentence,
            close,
            places: self.junctions.iter().map(|j| j.name.clone()).collect(),
            count: 1,
            length_m: self.junctions.iter().map(|j| j.length_m).sum(),
            lines_m: self.junctions.iter().flat_map(|j| lines(j)).collect(),
            outlines_m: Vec::new(),
        }
    }
}

/// A material that is joined, by the names it may go by.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Joined {
    word: String,
    library: Option<String>,
}

impl Joined {
    fn is(&self, name: &str) -> bool {
        let plain = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
        plain(&self.word) == plain(name) || self.library.as_ref().is_some_and(|l| plain(l) == plain(name))
    }
}

fn named(building: &Building, name: &str) -> Joined {
    let library = building.materials.iter().find(|m| m.name == name).and_then(|m| m.library.clone());
    Joined { word: name.to_owned(), library }
}

fn material(building: &Building, id: AssemblyId, control: ControlKind) -> Option<Joined> {
    let layer = control_layer(&building.assemblies[id.0], control)?;
    match layer.kind {
        LayerKind::Solid(material) => Some(named(building, &building.materials.get(material.0)?.name)),
        LayerKind::Air { .. } => None,
    }
}

/// The layer that a joint is made at: the outermost for rain, the innermost for air and vapour.
fn control_layer(assembly: &Assembly, control: ControlKind) -> Option<&Layer> {
    let mut places = assembly.control_layers(control);
    let place = if control == ControlKind::Rain { places.next() } else { places.last() };
    place.and_then(|n| assembly.layers.get(n))
}

/// Judges a product on what it joins: said not to bond, said to bond, or not said.
fn judge(product: &ProductPlan, joined: &[Joined], place: &str) -> Option<(GapKind, String, String)> {
    if !product.kind.bonds() {
        return None;
    }
    let name = &product.name;
    let against: Vec<&str> = words(joined, |j| product.not_on.iter().any(|m| j.is(m)));
    if !against.is_empty() {
        let sentence = format!("At {place} {name} is said not to bond to {}.", list(&against));
        let close = "choose another product, or another surface to join to: joins = [\"…\"]".to_owned();
        return Some((GapKind::NotCompatible, sentence, close));
    }
    let silent: Vec<&str> = words(joined, |j| !product.bonds_to.iter().any(|m| j.is(m)));
    if silent.is_empty() {
        return None;
    }
    let sentence = format!("At {place} nobody has stated that {name} bonds to {}.", list(&silent));
    let close = format!(
        "read its sheet, then [product.{name}] bonds-to = [{}]; or record a peel test that passed",
        silent.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ")
    );
    Some((GapKind::CompatibilityUnknown, sentence, close))
}

fn words(joined: &[Joined], keep: impl Fn(&Joined) -> bool) -> Vec<&str> {
    joined.iter().filter(|j| keep(j)).map(|j| j.word.as_str()).collect()
}

/// Permeance of a layer, kg/(m²·s·Pa): geometric mean of its dry-cup and wet-cup values. `None`: tight, or not known.
fn panel_permeance(building: &Building, layer: &Layer) -> Option<f64> {
    let LayerKind::Solid(id) = layer.kind else { return None };
    let material = building.materials.get(id.0)?;
    let thickness_m = building.values.nominal_of(layer.thickness);
    let of = |key| AIR_VAPOUR_PERMEABILITY / (building.values.nominal_of(key) * thickness_m);
    let cups: Vec<f64> =
        [material.vapour_factor_dry, material.vapour_factor_wet].into_iter().flatten().map(of).collect();
    let mean = match cups.as_slice() {
        [dry, wet] => (dry * wet).sqrt(),
        [one] => *one,
        _ => return None,
    };
    (mean.is_finite() && mean > 0.0).then_some(mean)
}

/// Products around things that pass through: they stick to the element's layer.
fn penetrations(building: &Building) -> Vec<Gap> {
    let mut out = Vec::new();
    for p in &building.penetrations {
        let Some(product) =
            p.plan.product.as_ref().and_then(|n| building.products.iter().find(|q| q.name == *n))
        else {
            continue;
        };
        let joined: Vec<Joined> = material(building, p.through, ControlKind::Air).into_iter().collect();
        let Some((kind, sentence, close)) = judge(product, &joined, &p.plan.name) else { continue };
        out.push(Gap {
            id: format!("air.{}.{}", kind.word(), p.plan.name),
            control: ControlKind::Air,
            also: Vec::new(),
            kind,
            item: format!("penetration.{}", p.plan.name),
            sentence,
            close,
            places: vec![p.plan.name.clone()],
            count: 1,
            length_m: 0.0,
            lines_m: Vec::new(),
            outlines_m: Vec::new(),
        });
    }
    out
}
