//! `[material.x]`, `[surface]`, `[ground]`.

use super::{Book, How, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Word, nearest};
use building::plan::MaterialPlan;
use building::stated::Basis;
use quantity::Dimension;

/// From the best vacuum panel to copper.
const CONDUCTIVITY: Bounds = Bounds::above(0.0, 500.0, "lies above 0 and under 500 W/(m·K)");
const DENSITY: Bounds = Bounds::above(0.0, 25_000.0, "lies above 0 and under 25 000 kg/m³");
const SPECIFIC_HEAT: Bounds = Bounds::within(50.0, 6_000.0, "lies between 50 and 6000 J/(kg·K)");
const FACTOR: Bounds = Bounds::within(1.0, 1e8, "is 1 (still air) or more");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    for (name, f) in sections(book, top, "material") {
        material(book, name, f);
    }
    surface(book, top);
    ground(book, top);
}

fn material(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let like = f.text(&mut book.cx, "like");
    let asked = like.is_some();
    let like = like.filter(|word| in_library(book, word)).map(|w| w.text);
    if asked && like.is_none() {
        book.taint(f.path());
    }
    let any = Bounds::POSITIVE;
    let mut get = |key, dimension, bounds, kind| book.value(&mut f, key, want(dimension, bounds, kind), &how);
    let material = MaterialPlan {
        name,
        like,
        conductivity: get("conductivity", Dimension::Conductivity, CONDUCTIVITY, "conductivity"),
        density: get("density", Dimension::Density, DENSITY, "density"),
        specific_heat: get("specific-heat", Dimension::SpecificHeat, SPECIFIC_HEAT, "specific heat"),
        vapour_factor_dry: get("vapour-factor", Dimension::VapourFactor, FACTOR, "vapour factor"),
        vapour_factor_wet: get("vapour-factor-wet", Dimension::VapourFactor, FACTOR, "vapour factor"),
        absorption: get("absorption", Dimension::AbsorptionCoefficient, Bounds::NOT_NEGATIVE, "absorption"),
        emissivity: get("emissivity", Dimension::Ratio, Bounds::SHARE, "emissivity"),
        air_permeability: get("air-permeability", Dimension::AirPermeability, any, "leak"),
    };
    let known = material.like.is_some() || f.has("like");
    if !known && !f.has("conductivity") {
        f.missing(&mut book.cx, "conductivity", "conductivity = \"0.12 W/(m·K)\", or like = \"softwood\"");
    }
    f.finish(&mut book.cx);
    book.plan.materials.push(material);
}

/// Says whether the library has a row of that name; notes the nearest when not.
fn in_library(book: &mut Book<'_>, word: &Word) -> bool {
    if matter::find(&word.text).is_some() {
        return true;
    }
    let mut d =
        Diagnostic::error("name", &word.place, format!("the library has no material \"{}\"", word.text));
    d = match matter::nearest(&word.text).first() {
        Some(near) => d.with_label(format!("did you mean \"{}\"?", near.name)),
        None => d.with_help("leave `like` out and give conductivity, density and specific-heat"),
    };
    book.cx.add(d);
    false
}

/// Notes a material that neither the book nor the library knows.
pub(super) fn check_material(book: &mut Book<'_>, word: &Word) -> bool {
    if book.names.materials.contains(&word.text) || matter::find(&word.text).is_some() {
        return true;
    }
    let library = matter::library();
    let own = book.names.materials.iter();
    let near = nearest(&word.text, own.chain(library.iter().map(|m| &*m.name)));
    let mut d = Diagnostic::error("name", &word.place, format!("no material called \"{}\"", word.text));
    d = match near {
        Some(near) => {
            let at = book.names.materials.place(near);
            let at =
                at.map_or_else(|| " (library)".to_owned(), |p| format!(" ({})", book.sources().file_line(p)));
            d.with_label(format!("did you mean \"{near}\"{at}?"))
        }
        None => d.with_help(format!("define it under [material.{}]", word.text.replace(' ', "-"))),
    };
    book.cx.add(d);
    false
}

fn surface(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "surface") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let mut get = |key, kind| book.value(&mut f, key, want(Dimension::Ratio, Bounds::SHARE, kind), &how);
    let wall_absorptance = get("wall-absorptance", "absorptance");
    let roof_absorptance = get("roof-absorptance", "absorptance");
    let wall_emissivity = get("wall-emissivity", "emissivity");
    let roof_emissivity = get("roof-emissivity", "emissivity");
    let ground_reflectance = get("ground-reflectance", "absorptance");
    book.plan.surfaces = building::plan::SurfacePlan {
        wall_absorptance,
        roof_absorptance,
        wall_emissivity,
        roof_emissivity,
        ground_reflectance,
    };
    f.finish(&mut book.cx);
}

fn ground(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "ground") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let conductivity = want(Dimension::Conductivity, CONDUCTIVITY, "ground");
    book.plan.ground.conductivity = book.value(&mut f, "conductivity", conductivity, &how);
    let heat = want(Dimension::VolumetricHeatCapacity, Bounds::POSITIVE, "ground");
    book.plan.ground.volumetric_heat = book.value(&mut f, "heat-capacity", heat, &how);
    f.finish(&mut book.cx);
}
