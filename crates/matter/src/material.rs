//! The material library: one row a material, parsed once from data embedded in the program.
//!
//! Start at [`library`] or [`find`]. The rows live in `data/materials.toml`; a project may copy a row and change
//! what is known about its own delivery.

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// What a material is made of, as far as drawing and sorting go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Fired or unfired bricks, blocks and their mortar.
    Masonry,
    /// Concrete of any density, screed.
    Concrete,
    /// Natural and artificial stone.
    Stone,
    /// Solid timber.
    Timber,
    /// Sheets: plywood, gypsum board, fibreboard, cement board.
    Board,
    /// Plaster and render.
    Plaster,
    /// Insulation of fibres, woven, blown or pressed.
    FibreInsulation,
    /// Insulation of closed or open cells.
    Foam,
    /// Insulation poured as grains.
    LooseFill,
    /// Thin sheets, coats and tapes that hold back air, water or vapour.
    Membrane,
    /// Metals.
    Metal,
    /// Glass.
    Glass,
    /// Plastics and rubbers.
    Plastic,
    /// Floor and roof tiles.
    Tile,
    /// Soft floor finishes.
    FloorFinish,
    /// Ground.
    Soil,
    /// Water, ice, snow.
    Water,
    /// Air at rest.
    Air,
}

/// How a row's vapour figures were rated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum VapourRating {
    /// Dry cup (0 and 50 % relative humidity) and wet cup (50 and 100 %), as in ISO 12572 and ISO 10456.
    Iso,
    /// One figure only, used for both.
    One,
    /// An equivalent air layer of a thin sheet, dry and wet.
    Sd,
    /// Not applicable (water, ice, snow).
    None,
}

/// The conditions under which a row's figures hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rating {
    /// Mean temperature of the conductivity, °C; `None` where conductivity does not matter.
    pub mean_temperature_c: Option<f64>,
    /// How the vapour figures were rated.
    pub vapour: VapourRating,
}

/// What is known of a material's way with water. Starting values only: samples of the same name differ widely.
#[derive(Clone, Debug, PartialEq)]
pub struct Hygric {
    /// Water content in balance with 80 % relative humidity, kg/m³ of material.
    pub w80_kg_m3: Option<f64>,
    /// Free water saturation, kg/m³ of material.
    pub free_saturation_kg_m3: Option<f64>,
    /// Water absorption coefficient, kg/(m²·s^0.5).
    pub absorption_kg_m2s05: Option<f64>,
    /// Share of open and closed pores in the volume, 0 to 1.
    pub porosity: Option<f64>,
    /// Sorption points: relative humidity (0 to 1, rising) and water content, kg/m³ of material.
    pub sorption: Vec<[f64; 2]>,
    /// Where these figures come from.
    pub source: String,
    /// True when they were read in that source; false when they are recalled from it.
    pub seen: bool,
}

/// One row of the library.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Stable key, such as `dense-cellulose`.
    pub id: String,
    /// Name shown.
    pub name: String,
    /// Other names it answers to.
    pub aliases: Vec<String>,
    /// What it is made of.
    pub family: Family,
    /// Thermal conductivity, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat capacity, J/(kg·K).
    pub specific_heat_j_kgk: f64,
    /// Vapour resistance factor, dry cup; infinite when treated as vapour-tight, `None` where it has no meaning.
    /// A thin sheet's is its equivalent air layer over its thickness.
    pub mu_dry: Option<f64>,
    /// Vapour resistance factor, wet cup.
    pub mu_wet: Option<f64>,
    /// Equivalent air layer of a thin sheet, dry side, m.
    pub sd_dry_m: Option<f64>,
    /// Equivalent air layer of a thin sheet, wet side, m.
    pub sd_wet_m: Option<f64>,
    /// Thickness of a material that only comes in one, m.
    pub thickness_m: Option<f64>,
    /// Storage and transport of water, where known.
    pub hygric: Option<Hygric>,
    /// Document and table.
    pub source: String,
    /// Conditions the figures hold for.
    pub rating: Rating,
    /// True when the thermal figures (or those in `seen_fields`) were read in the source; false when recalled.
    pub seen: bool,
    /// The fields read in the source, when not all were.
    pub seen_fields: Vec<String>,
    /// A remark for the reader.
    pub note: Option<String>,
}

impl Material {
    /// Returns how the row's figures are known, in words.
    pub fn provenance(&self) -> String {
        let how = match (self.seen, self.seen_fields.as_slice()) {
            (true, []) => "read in the source".to_owned(),
            (true, fields) => format!("{} read in the source, the rest from memory", fields.join(", ")),
            (false, _) => "from memory".to_owned(),
        };
        format!("{} ({how})", self.source)
    }
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    id: String,
    name: String,
    #[serde(default)]
    aliases: Vec<String>,
    family: Family,
    density: f64,
    conductivity: f64,
    specific_heat: f64,
    mu_dry: Option<f64>,
    mu_wet: Option<f64>,
    sd: Option<f64>,
    sd_wet: Option<f64>,
    thickness: Option<f64>,
    vapour: VapourRating,
    rated_at: Option<f64>,
    source: String,
    seen: bool,
    #[serde(default)]
    seen_fields: Vec<String>,
    w80: Option<f64>,
    free_saturation: Option<f64>,
    absorption: Option<f64>,
    porosity: Option<f64>,
    #[serde(default)]
    sorption: Vec<[f64; 2]>,
    hygric_source: Option<String>,
    #[serde(default)]
    hygric_seen: bool,
    note: Option<String>,
}

#[derive(serde::Deserialize)]
struct Table {
    material: Vec<Row>,
}

impl From<Row> for Material {
    fn from(row: Row) -> Self {
        let of_sheet = |sd: Option<f64>| Some(sd? / row.thickness?);
        let hygric = row.hygric_source.map(|source| Hygric {
            w80_kg_m3: row.w80,
            free_saturation_kg_m3: row.free_saturation,
            absorption_kg_m2s05: row.absorption,
            porosity: row.porosity,
            sorption: row.sorption,
            source,
            seen: row.hygric_seen,
        });
        Self {
            mu_dry: row.mu_dry.or(of_sheet(row.sd)),
            mu_wet: row.mu_wet.or(of_sheet(row.sd_wet)),
            id: row.id,
            name: row.name,
            aliases: row.aliases,
            family: row.family,
            conductivity_w_mk: row.conductivity,
            density_kg_m3: row.density,
            specific_heat_j_kgk: row.specific_heat,
            sd_dry_m: row.sd,
            sd_wet_m: row.sd_wet,
            thickness_m: row.thickness,
            hygric,
            source: row.source,
            rating: Rating { mean_temperature_c: row.rated_at, vapour: row.vapour },
            seen: row.seen,
            seen_fields: row.seen_fields,
            note: row.note,
        }
    }
}

struct Library {
    rows: Vec<Material>,
    by_key: BTreeMap<String, usize>,
}

fn embedded() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(|| {
        let text = include_str!("../data/materials.toml");
        // The text is part of the program and a test parses it, so this cannot fail where that test has passed.
        let table: Table =
            toml::from_str(text).unwrap_or_else(|e| unreachable!("embedded material table: {e}"));
        let rows: Vec<Material> = table.material.into_iter().map(Material::from).collect();
        let mut by_key = BTreeMap::new();
        for (index, row) in rows.iter().enumerate() {
            for name in names(row) {
                by_key.entry(key(name)).or_insert(index);
            }
        }
        Library { rows, by_key }
    })
}

/// Returns every material, in the order of the data file.
pub fn library() -> &'static [Material] {
    &embedded().rows
}

/// Returns the material of that id, name or alias; case, hyphens and spaces do not matter.
pub fn find(name: &str) -> Option<&'static Material> {
    let library = embedded();
    library.by_key.get(&key(name)).map(|&index| &library.rows[index])
}

/// Returns the materials whose names come nearest to a name that [`find`] does not know, best first, three at
/// most; empty when nothing comes near.
pub fn nearest(name: &str) -> Vec<&'static Material> {
    let wanted = key(name);
    let mut scored: Vec<(f64, usize)> = Vec::new();
    for (index, row) in library().iter().enumerate() {
        let best = names(row).map(|n| likeness(&wanted, &key(n))).fold(0.0, f64::max);
        if best >= 0.55 {
            scored.push((best, index));
        }
    }
    // Equal scores keep the order of the library.
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    scored.into_iter().take(3).map(|(_, index)| &library()[index]).collect()
}

fn names(row: &Material) -> impl Iterator<Item = &str> {
    [row.id.as_str(), row.name.as_str()].into_iter().chain(row.aliases.iter().map(String::as_str))
}

/// Folds a name: lower case, one space between words, punctuation dropped.
fn key(name: &str) -> String {
    let folded: String =
        name.chars().map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { ' ' }).collect();
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Scores how alike two folded names are, 0 to 1: by letters, or by the words they share, whichever says more.
fn likeness(a: &str, b: &str) -> f64 {
    let letters = strsim::normalized_damerau_levenshtein(a, b);
    let words = |s: &str| s.split(' ').map(str::to_owned).collect::<Vec<_>>();
    let (wa, wb) = (words(a), words(b));
    let close = |x: &String, y: &String| strsim::normalized_damerau_levenshtein(x, y) > 0.74;
    let shared = wa.iter().filter(|x| wb.iter().any(|y| close(x, y))).count();
    let by_words = 2.0 * shared as f64 / (wa.len() + wb.len()) as f64 * 0.95;
    letters.max(by_words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_plausible() {
        assert!(library().len() >= 150, "{} rows", library().len());
        for m in library() {
            assert!(m.conductivity_w_mk > 0.004 && m.conductivity_w_mk < 500.0, "{}", m.id);
            assert!(m.density_kg_m3 > 1.0 && m.density_kg_m3 < 12_000.0, "{}", m.id);
            assert!(m.specific_heat_j_kgk > 100.0 && m.specific_heat_j_kgk < 4_300.0, "{}", m.id);
            assert!(!m.source.is_empty(), "{}", m.id);
            if let (Some(dry), Some(wet)) = (m.mu_dry, m.mu_wet) {
                assert!(dry >= wet && wet >= 0.99, "{}: {dry} {wet}", m.id);
            }
            assert_eq!(m.rating.vapour == VapourRating::None, m.mu_dry.is_none(), "{}", m.id);
            if let Some(h) = &m.hygric {
                let rises = h.sorption.windows(2).all(|p| p[0][0] < p[1][0] && p[0][1] < p[1][1]);
                assert!(rises, "{}", m.id);
                if let (Some(w80), Some(free)) = (h.w80_kg_m3, h.free_saturation_kg_m3) {
                    assert!(w80 < free, "{}", m.id);
                }
            }
        }
    }

    #[test]
    fn no_name_belongs_to_two_rows() {
        let mut owner: BTreeMap<String, &str> = BTreeMap::new();
        for m in library() {
            for name in names(m) {
                if let Some(before) = owner.insert(key(name), &m.id) {
                    assert_eq!(before, m.id, "{name}");
                }
            }
        }
    }

    #[test]
    fn plain_names_are_found() {
        let wanted = [
            "soft brick",
            "soft brick, two wythes",
            "lime plaster",
            "lime levelling coat",
            "dense cellulose",
            "Cellulose, blown",
            "softwood",
            "plywood",
            "mineral wool",
            "gypsum board",
            "wood-fibre board",
            "wood fibre board",
            "wood-fibre impact board",
            "cover board",
            "roofing membrane",
            "oak",
            "maple",
            "timber plank",
            "concrete",
            "tile",
            "felt",
            "EPS",
            "xps",
            "air",
            "sealing tape",
            "steel",
            "aluminium",
            "glass",
            "soil",
        ];
        let missing: Vec<_> = wanted.iter().filter(|n| find(n).is_none()).collect();
        assert!(missing.is_empty(), "{missing:?}");
    }

    #[test]
    fn misspellings_lead_home() {
        for (wrong, right) in
            [("soft brik", "soft-brick"), ("plywod", "plywood-500"), ("lime plastr", "lime-plaster")]
        {
            assert!(find(wrong).is_none());
            assert_eq!(nearest(wrong)[0].id, right, "{wrong}");
        }
        assert!(nearest("zzzz qqqq").is_empty());
    }
}
