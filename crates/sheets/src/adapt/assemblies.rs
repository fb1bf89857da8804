//! Assemblies of the model as sections.

use building::Building;
use building::control::ControlKind;
use building::model::{
    Assembly, AssemblyId, Beyond, ElementKind, Layer as ModelLayer, LayerKind, NeighbourId,
};
use building::plan::AssemblyPlace;
use matter::Family;
use quantity::Dimension;

use crate::draw::hatch::Hatch;
use crate::draw::section::{Bridge, Layer, Lie, Section};
use crate::reader::Reader;
use crate::svg::slug;

/// Id of an assembly's section on the Fabric sheet.
pub fn anchor(building: &Building, id: AssemblyId) -> String {
    format!("assembly-{}", building.assemblies.get(id.0).map_or_else(String::new, |a| slug(&a.name)))
}

/// Sections of every assembly that has layers, the enclosure's first.
pub fn sections(building: &Building, reader: Reader) -> Vec<(AssemblyId, Section)> {
    let mut ids: Vec<AssemblyId> = (0..building.assemblies.len())
        .map(AssemblyId)
        .filter(|id| !building.assemblies[id.0].layers.is_empty())
        .collect();
    let inside = |id: &AssemblyId| {
        !building.elements.iter().any(|e| e.assembly == *id && !matches!(e.beyond, Beyond::Space(_)))
    };
    ids.sort_by_key(inside);
    ids.into_iter().map(|id| (id, section(building, id, reader))).collect()
}

fn section(building: &Building, id: AssemblyId, reader: Reader) -> Section {
    let assembly = &building.assemblies[id.0];
    let barrier = air_layer(assembly);
    Section {
        id: anchor(building, id),
        title: assembly.name.replace(['-', '_'], " "),
        lie: match assembly.place {
            AssemblyPlace::Wall | AssemblyPlace::Partition => Lie::Wall,
            AssemblyPlace::Roof => Lie::Roof,
            AssemblyPlace::Floor | AssemblyPlace::GroundFloor => Lie::Floor,
        },
        outside: beyond_words(building, id),
        layers: assembly
            .layers
            .iter()
            .enumerate()
            .map(|(place, l)| layer(building, l, barrier == Some(place), reader))
            .collect(),
        total: reader.show(assembly.thickness_m, Dimension::Length),
        levels: Vec::new(),
    }
}

/// Place of the layer that the air barrier is drawn on: the innermost that is named one.
pub fn air_layer(assembly: &Assembly) -> Option<usize> {
    assembly.control_layers(ControlKind::Air).last()
}

fn layer(building: &Building, layer: &ModelLayer, air_barrier: bool, reader: Reader) -> Layer {
    let thickness_m = building.values.nominal_of(layer.thickness);
    let bridge = layer.bridge.as_ref().and_then(|b| {
        let material = building.materials.get(b.material.0)?;
        let share = building.values.nominal_of(b.share);
        let words = format!("{} {} through it", reader.show(share, Dimension::Ratio), material.name);
        Some(Bridge { words, share, hatch: material_hatch(material) })
    });
    Layer {
        name: layer.name.replace('_', " "),
        thickness_m,
        thickness: reader.thickness(thickness_m),
        hatch: layer_hatch(building, layer),
        bridge,
        air_barrier,
        existing: layer.existing,
    }
}

/// Hatch of a material, by the library row it starts from; a material of nobody's family gets the plain one.
fn material_hatch(material: &building::model::Material) -> Hatch {
    let row = material.library.as_deref().and_then(matter::find);
    let words = format!("{} {}", material.name, material.library.as_deref().unwrap_or_default());
    row.map_or(Hatch::Other, |row| hatch(row.family, &words))
}

/// Hatch of a layer.
pub fn layer_hatch(building: &Building, layer: &ModelLayer) -> Hatch {
    match layer.kind {
        LayerKind::Air { .. } => Hatch::Air,
        LayerKind::Solid(id) => building.materials.get(id.0).map_or(Hatch::Other, material_hatch),
    }
}

/// Chooses a hatch by family; words of the name decide where a family holds unlike stuff.
pub fn hatch(family: Family, name: &str) -> Hatch {
    let words = name.to_lowercase();
    let has = |list: &[&str]| list.iter().any(|w| words.contains(w));
    let fibre_board = ["fibreboard", "fiberboard", "wood-fibre", "wood fibre", "wood-fiber", "soft board"];
    match family {
        Family::Masonry | Family::Stone => Hatch::Masonry,
        Family::Concrete if has(&["aerated", "lightweight", "foam"]) => Hatch::Cellular,
        Family::Concrete => Hatch::Concrete,
        Family::Timber => Hatch::Timber,
        Family::Board if has(&["gypsum", "plaster", "fibre-cement", "fiber-cement", "calcium"]) => {
            Hatch::Plaster
        }
        Family::Board if has(&fibre_board) => Hatch::FibreBoard,
        Family::Board => Hatch::Panel,
        Family::Plaster => Hatch::Plaster,
        Family::FibreInsulation if has(&["blown", "loose", "dense-pack", "cellulose"]) => Hatch::BlownFibre,
        Family::FibreInsulation if has(&["board", "slab", "rigid"]) => Hatch::FibreBoard,
        Family::FibreInsulation => Hatch::Batt,
        Family::Foam if has(&["cellular glass", "perlite", "cork"]) => Hatch::Cellular,
        Family::Foam => Hatch::Foam,
        Family::LooseFill if has(&["cellulose", "wool", "fibre", "fiber"]) => Hatch::BlownFibre,
        Family::LooseFill => Hatch::Cellular,
        Family::Membrane | Family::Plastic => Hatch::Membrane,
        Family::Metal => Hatch::Metal,
        Family::Glass => Hatch::Glass,
        Family::Tile | Family::FloorFinish => Hatch::Tile,
        Family::Soil => Hatch::Soil,
        Family::Air => Hatch::Air,
        Family::Water => Hatch::Other,
    }
}

/// Name of a neighbour as it reads in a sentence.
pub fn neighbour_words(building: &Building, id: NeighbourId) -> String {
    building.neighbours.get(id.0).map_or_else(
        || "a neighbour".to_owned(),
        |n| if n.about.is_empty() { n.name.clone() } else { n.about.clone() },
    )
}

fn beyond_words(building: &Building, id: AssemblyId) -> String {
    let mut words: Vec<String> = Vec::new();
    for element in building.elements.iter().filter(|e| e.assembly == id) {
        let word = match element.beyond {
            Beyond::Outside => "outdoors".to_owned(),
            Beyond::Ground => "ground".to_owned(),
            Beyond::Neighbour(n) => neighbour_words(building, n),
            Beyond::Space(_) => "the next room".to_owned(),
        };
        if !words.contains(&word) {
            words.push(word);
        }
    }
    match (words.is_empty(), building.assemblies[id.0].place) {
        (false, _) => words.join(", "),
        (true, AssemblyPlace::GroundFloor) => "ground".to_owned(),
        (true, AssemblyPlace::Partition) => "the next room".to_owned(),
        (true, _) => "outside".to_owned(),
    }
}

/// Areas of an assembly's elements, m²: all, and those of the enclosure; and where they face, in words.
pub fn area_and_use(building: &Building, id: AssemblyId) -> ([f64; 2], String) {
    let elements: Vec<_> = building.elements.iter().filter(|e| e.assembly == id).collect();
    let area = elements.iter().map(|e| e.net_m2).sum();
    let enclosure = elements.iter().filter(|e| !matches!(e.beyond, Beyond::Space(_))).map(|e| e.net_m2).sum();
    let mut kinds: Vec<&str> = Vec::new();
    for element in &elements {
        let word = match element.kind {
            ElementKind::Wall => "walls",
            ElementKind::FloorBand => "floor edges",
            ElementKind::Roof => "roof",
            ElementKind::Floor => "floor",
            ElementKind::GroundFloor => "ground floor",
            ElementKind::Partition => "inside walls",
            ElementKind::InnerFloor => "inside floors",
        };
        if !kinds.contains(&word) {
            kinds.push(word);
        }
    }
    ([area, enclosure], format!("{} to {}", kinds.join(", "), beyond_words(building, id)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hatches_follow_family_and_name() {
        for (family, name, expected) in [
            (Family::Board, "Plywood 500", Hatch::Panel),
            (Family::Board, "Gypsum plasterboard 900", Hatch::Plaster),
            (Family::Board, "Fibreboard incl. MDF 250", Hatch::FibreBoard),
            (Family::FibreInsulation, "Cellulose fibre, blown", Hatch::BlownFibre),
            (Family::FibreInsulation, "Rigid wood-fibre board", Hatch::FibreBoard),
            (Family::FibreInsulation, "Mineral wool, stone", Hatch::Batt),
            (Family::Concrete, "Autoclaved aerated concrete 400", Hatch::Cellular),
            (Family::Foam, "PIR board", Hatch::Foam),
        ] {
            assert_eq!(hatch(family, name), expected, "{name}");
        }
    }
}
