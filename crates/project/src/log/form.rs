//! What each kind of record asks for, and a record's body from what a person typed.
//!
//! One table serves the command line and the pages: key, shape, and the words of its question. A test holds it against
//! the record types.

use building::records::{Body, Record};
use quantity::{Dimension, Spread};
use serde_json::{Map, Value, json};

/// What a field takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Words.
    Text,
    /// A date, `2025-09-03`.
    Date,
    /// Yes or no.
    YesNo,
    /// A whole number.
    Count,
    /// Words, several, divided by semicolons.
    List,
    /// A figure with its unit, of one of these dimensions.
    Figure(&'static [Dimension]),
    /// Figures of one dimension, divided by semicolons.
    Figures(Dimension),
    /// Readings of a pressure test: `50 Pa 601 m³/h; 43 Pa 540 m³/h`.
    Points,
    /// Values by the id of the stated value they speak of: `unit.sun-glass.g = 0.50`.
    Properties,
}

/// A field of a kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Its key in the record.
    pub key: &'static str,
    /// What it takes.
    pub shape: Shape,
    /// What it asks.
    pub words: &'static str,
}

const fn f(key: &'static str, shape: Shape, words: &'static str) -> Field {
    Field { key, shape, words }
}

use Dimension as D;
use Shape::{Count, Date, Figure, Figures, List, Points, Properties, Text, YesNo};

/// Fields of every kind, the first one or two being what it is about.
const FORMS: &[(&str, &[Field])] = &[
    (
        "delivery",
        &[
            f("product", Text, "What the label says it is"),
            f("quantity", Text, "How much"),
            f("for-item", Text, "Assembly, unit, opening or material of the book it is for"),
            f("as-ordered", YesNo, "Is it what was ordered"),
            f("held", YesNo, "Held back until something is settled"),
            f("batch", Text, "Batch or lot"),
            f("properties", Properties, "Figures on the label"),
        ],
    ),
    (
        "substitution",
        &[
            f("specified", Text, "What the book says"),
            f("offered", Text, "What is offered"),
            f("accepted", YesNo, "Accepted"),
            f("decided-by", Text, "Decided by"),
            f("reason", Text, "Why"),
            f("used-at", List, "Where it has been used already"),
            f("properties", Properties, "Figures of the offer"),
        ],
    ),
    (
        "joint-inspection",
        &[
            f("joint", Text, "Joint of the book, such as upper-wall / party-floor"),
            f("method", Text, "How: seen, touched, smoke, fan running"),
            f("passed", YesNo, "Found good"),
            f("primed", YesNo, "Surface primed"),
            f("about-to-be-covered", YesNo, "Covered soon after"),
            f("length", Figure(&[D::Length]), "Length looked at"),
            f("count", Count, "How many were looked at"),
            f("surface-temperature", Figure(&[D::Temperature]), "Temperature of the surface"),
            f("tested-system", Text, "Tested system, where fire- or sound-rated"),
        ],
    ),
    ("photo", &[f("shows", Text, "What it shows"), f("proves", Text, "Plan item it proves")]),
    (
        "leak-found",
        &[
            f("at", Text, "Joint or penetration, or where"),
            f("method", Text, "How: hand, smoke, infrared, sound, by difference"),
            f("size", Text, "Guess: hair, pencil, finger, hand"),
            f("flow", Figure(&[D::VolumeFlow]), "Flow"),
            f("at-pressure", Figure(&[D::Pressure]), "At this pressure"),
            f("leads-to", Text, "Outdoors, neighbour, not known"),
            f("sealed", YesNo, "Sealed since"),
        ],
    ),
    (
        "pressure-test",
        &[
            f("points", Points, "Readings: pressure and flow"),
            f("depressurised", YesNo, "Air was drawn out"),
            f("standard", Text, "Standard followed"),
            f("preparation", Text, "Method of preparation"),
            f("neighbour", Text, "Neighbour: guarded, open to outside, untouched"),
            f("guard-residual", Figure(&[D::Pressure]), "Pressure left to the guarded neighbour"),
            f("flows-corrected", YesNo, "Flows are at reference conditions already"),
            f("zero-flow-before", Figures(D::Pressure), "Zero-flow pressures before"),
            f("zero-flow-after", Figures(D::Pressure), "Zero-flow pressures after"),
            f("temperature-inside", Figure(&[D::Temperature]), "Inside"),
            f("temperature-outside", Figure(&[D::Temperature]), "Outside"),
            f("barometer", Figure(&[D::Pressure]), "Barometer"),
            f("wind", Figure(&[D::Speed]), "Wind"),
            f("temporary-seals", List, "Sealed for the test only"),
            f("unfinished", List, "Not finished yet"),
        ],
    ),
    (
        "pressure-log",
        &[
            f("between", Text, "From where to where"),
            f("state", Text, "State of the building"),
            f("mean", Figure(&[D::Pressure]), "Mean"),
            f("duration", Figure(&[D::Time]), "How long"),
            f("file", Text, "Logger file, by its hash among the attachments"),
        ],
    ),
    (
        "flow-reading",
        &[
            f("at", Text, "Where: outdoor duct, exhaust duct, terminal of a room"),
            f("flow", Figure(&[D::VolumeFlow]), "Flow"),
            f("unit", Text, "Unit"),
            f("mode", Text, "Mode"),
            f("power", Figure(&[D::Power]), "Fan power"),
        ],
    ),
    (
        "moisture-reading",
        &[
            f("material", Text, "Material"),
            f("moisture", Figure(&[D::Ratio]), "Water over dry mass"),
            f("method", Text, "Pins, probe, weighed"),
            f("depth", Figure(&[D::Length]), "Depth"),
            f("temperature", Figure(&[D::Temperature]), "Of the material"),
        ],
    ),
    (
        "insulation-density",
        &[
            f("bay", Text, "Bay or field"),
            f("density", Figure(&[D::Density]), "Density"),
            f("material", Text, "Material"),
            f("method", Text, "Cut out and weighed, counted bags, probe"),
            f("reblown", YesNo, "Blown again"),
        ],
    ),
    (
        "opened-up",
        &[
            f("item", Text, "Element or assembly"),
            f("found", Text, "What was there"),
            f("expected", Text, "What the book said"),
            f("how", Text, "How: core hole, lifted board"),
            f("properties", Properties, "Sizes and properties found"),
        ],
    ),
    (
        "logger-file",
        &[
            f("quantities", List, "What it logs"),
            f("from", Text, "First reading"),
            f("to", Text, "Last reading"),
            f("file", Text, "Its hash among the attachments"),
        ],
    ),
    (
        "meter-reading",
        &[
            f("meter", Text, "Meter"),
            f("reading", Figure(&[D::Energy, D::Volume]), "Its figure"),
            f("carrier", Text, "Electricity, gas, water"),
            f("serves", Text, "What it serves"),
        ],
    ),
    (
        "commissioning-setting",
        &[
            f("device", Text, "Device"),
            f("setting", Text, "Setting"),
            f("before", Text, "Before"),
            f("after", Text, "After"),
        ],
    ),
    (
        "barrier-damage",
        &[
            f("state", Text, "Found, repaired, re-tested"),
            f("cause", Text, "What did it"),
            f("trade", Text, "Trade"),
            f("size", Text, "Size"),
            f("repair", Text, "How it was repaired"),
            f("found-in", Text, "Id of the record that found it"),
        ],
    ),
    (
        "opening-as-built",
        &[
            f("opening", Text, "Opening of the book"),
            f("rough-width", Figure(&[D::Length]), "Rough width"),
            f("rough-height", Figure(&[D::Length]), "Rough height"),
            f("sill-slope", Figure(&[D::Angle, D::Ratio]), "Slope of the sill"),
            f("set-in", Figure(&[D::Length]), "Depth of the frame behind the outside face"),
            f("sill-film", Figure(&[D::Length]), "Wet film of the sill pan"),
            f("drains", YesNo, "Sill pan, end dams, way out: complete"),
        ],
    ),
    (
        "official-inspection",
        &[
            f("of", Text, "What of"),
            f("state", Text, "Booked, passed, failed, corrections due"),
            f("office", Text, "Office"),
            f("on", Date, "When it is or was"),
            f("corrections", List, "Corrections"),
            f("due", Date, "Due on"),
        ],
    ),
    (
        "question",
        &[
            f("question", Text, "The question"),
            f("to", Text, "To whom"),
            f("due", Date, "Due on"),
            f("answer", Text, "Its answer"),
            f("holds", List, "Plan items and limits that wait for it"),
        ],
    ),
    (
        "defect",
        &[
            f("what", Text, "What is wrong"),
            f("trade", Text, "Trade"),
            f("weight", Text, "Must, should, may"),
            f("mended", YesNo, "Mended"),
        ],
    ),
    (
        "decision",
        &[
            f("decision", Text, "What was decided"),
            f("reason", Text, "Why"),
            f("by", Text, "By whom (role)"),
            f("touches", List, "Plan items it touches"),
            f("properties", Properties, "Values it settles"),
        ],
    ),
    (
        "sign-off",
        &[
            f("of", Text, "What"),
            f("role", Text, "As whom (role)"),
            f("reservation", Text, "Said with it"),
            f("hash", Text, "Hash of what was signed"),
        ],
    ),
    ("note", &[f("text", Text, "Words")]),
];

/// Returns the fields of a kind; `None` for a kind that is not known.
pub fn fields(kind: &str) -> Option<&'static [Field]> {
    FORMS.iter().find(|(k, _)| *k == kind).map(|(_, fields)| *fields)
}

/// Something typed that cannot be taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{key}: {reason}")]
pub struct FormProblem {
    /// Field.
    pub key: String,
    /// What is wrong and what to write instead.
    pub reason: String,
}

/// Makes a body from what was typed, key by key. `dimension_of` knows the dimension of a stated value by its id.
///
/// # Errors
/// Every field that cannot be taken.
pub fn body(
    kind: &str,
    typed: &[(String, String)],
    dimension_of: &dyn Fn(&str) -> Option<Dimension>,
) -> Result<Body, Vec<FormProblem>> {
    let problem = |key: &str, reason: String| FormProblem { key: key.to_owned(), reason };
    let Some(form) = fields(kind) else {
        let near = crate::reader::nearest(kind, Body::KINDS.iter().copied());
        let hint = near
            .map_or_else(|| format!("one of {}", Body::KINDS.join(", ")), |n| format!("did you mean {n}?"));
        return Err(vec![problem("kind", format!("there is no kind \"{kind}\"; {hint}"))]);
    };
    let (mut out, mut wrong) = (Map::new(), Vec::new());
    for (key, text) in typed.iter().filter(|(_, text)| !text.trim().is_empty()) {
        let Some(field) = form.iter().find(|f| f.key == key) else {
            let known: Vec<&str> = form.iter().map(|f| f.key).collect();
            wrong.push(problem(key, format!("a {kind} has no such field; it has {}", known.join(", "))));
            continue;
        };
        match value(field.shape, text.trim(), dimension_of) {
            Ok(value) => drop(out.insert(key.clone(), value)),
            Err(reason) => wrong.push(problem(key, reason)),
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let line = json!({ "id": "x", "client-time": "", "schema": building::records::SCHEMA, "kind": kind, "body": out });
    Record::from_line(&line.to_string()).map(|r| r.body).map_err(|reason| vec![problem(kind, reason)])
}

fn value(
    shape: Shape,
    text: &str,
    dimension_of: &dyn Fn(&str) -> Option<Dimension>,
) -> Result<Value, String> {
    let several = || text.split(';').map(str::trim).filter(|t| !t.is_empty());
    match shape {
        Text => Ok(json!(text)),
        Date => match building::calendar::Date::read(text) {
            Some(date) => Ok(json!(date.to_string())),
            None => Err(format!("\"{text}\" is no date; write 2025-09-03")),
        },
        YesNo => match text.to_lowercase().as_str() {
            "yes" | "y" | "true" => Ok(json!(true)),
            "no" | "n" | "false" => Ok(json!(false)),
            _ => Err(format!("\"{text}\": write yes or no")),
        },
        Count => text.parse::<u32>().map(|n| json!(n)).map_err(|_| format!("\"{text}\" is no whole number")),
        List => Ok(several().map(|t| json!(t)).collect()),
        Figure(dimensions) => figure(text, dimensions),
        Figures(dimension) => several().map(|t| figure(t, &[dimension])).collect(),
        Points => several().map(point).collect(),
        Properties => several().map(|t| property(t, dimension_of)).collect(),
    }
}

/// Reads a figure by the first dimension whose unit fits.
fn figure(text: &str, dimensions: &[Dimension]) -> Result<Value, String> {
    let mut first = None;
    for dimension in dimensions {
        match quantity::read(text, *dimension) {
            Ok(reading) => {
                let mut out = json!({ "written": text, "value": reading.value });
                if let Some(Spread::HalfWidth95(half)) = reading.spread {
                    out["half-width"] = json!(half);
                }
                return Ok(out);
            }
            Err(error) => drop(first.get_or_insert(error)),
        }
    }
    Err(first.map_or_else(|| "it takes no figure".to_owned(), |e| format!("\"{text}\": {e}")))
}

/// Reads `50 Pa 601 m³/h`, parted after the unit of pressure.
fn point(text: &str) -> Result<Value, String> {
    let cuts = text.match_indices([' ', ',', ':']).map(|(at, _)| at);
    for at in cuts {
        let (left, right) = (text[..at].trim(), text[at + 1..].trim());
        if let (Ok(pressure), Ok(flow)) = (figure(left, &[D::Pressure]), figure(right, &[D::VolumeFlow])) {
            return Ok(json!({ "pressure": pressure, "flow": flow }));
        }
    }
    Err(format!("\"{text}\" is no pressure and flow; write 50 Pa 601 m³/h; 43 Pa 540 m³/h"))
}

fn property(text: &str, dimension_of: &dyn Fn(&str) -> Option<Dimension>) -> Result<Value, String> {
    let (id, written) = text
        .split_once('=')
        .ok_or_else(|| format!("\"{text}\": write the id of the stated value, =, and its figure"))?;
    let (id, written) = (id.trim(), written.trim());
    let dimension = dimension_of(id)
        .ok_or_else(|| format!("the book states no value \"{id}\"; windtight why {id} would show it"))?;
    Ok(json!([id, figure(written, &[dimension])?]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_every_field_of_every_kind() {
        let kinds: Vec<&str> = FORMS.iter().map(|(k, _)| *k).collect();
        assert_eq!(kinds, Body::KINDS);
        for (kind, form) in FORMS {
            let mut ours: Vec<String> = form.iter().map(|f| f.key.replace('-', "_")).collect();
            let mut theirs: Vec<&str> = Body::keys_of(kind).expect("known").to_vec();
            ours.sort_unstable();
            theirs.sort_unstable();
            assert_eq!(ours, theirs, "{kind}");
        }
    }

    #[test]
    fn every_shape_fits_its_field() {
        for (kind, form) in FORMS {
            for field in *form {
                let typed = match field.shape {
                    Text => "words".to_owned(),
                    Date => "2025-09-03".to_owned(),
                    YesNo => "yes".to_owned(),
                    Count => "3".to_owned(),
                    List => "one; two".to_owned(),
                    Figure(d) => format!("1 {}", d[0].canonical_unit()),
                    Figures(d) => format!("1 {0}; 2 {0}", d.canonical_unit()),
                    Points => "50 Pa 601 m³/h; 43 Pa, 300 cfm".to_owned(),
                    Properties => "unit.a.g = 0.5".to_owned(),
                };
                let typed = [(field.key.to_owned(), typed)];
                let made = body(kind, &typed, &|_| Some(D::Ratio));
                let made = made.unwrap_or_else(|e| panic!("{kind}.{}: {e:?}", field.key));
                let line = Record::new("a", "", made).to_line().expect("text");
                assert!(line.contains(field.key), "{line}");
                assert!(Record::from_line(&line).expect("read").is_known());
            }
        }
    }

    #[test]
    fn what_cannot_be_taken_is_said_all_at_once() {
        let typed = [("flow", "95 kg"), ("sealed", "perhaps"), ("flaw", "x")]
            .map(|(k, v)| (k.to_owned(), v.to_owned()));
        let wrong = body("leak-found", &typed, &|_| None).expect_err("refused");
        assert_eq!(wrong.len(), 3, "{wrong:?}");
        assert!(wrong[0].to_string().contains("volume flow"), "{}", wrong[0]);
        let near = body("leak-fund", &[], &|_| None).expect_err("refused");
        assert!(near[0].reason.contains("did you mean leak-found?"), "{near:?}");
    }
}
