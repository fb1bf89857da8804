//! From what a person typed to a record: every field read with its unit, every problem said with its field.

use super::kinds::{Field, Holds, Kind};
use building::records::{Attachment, Record};
use quantity::Dimension;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Longest words of one field, characters.
const LONGEST: usize = 4000;
/// Most attachments of one record.
const MOST_ATTACHMENTS: usize = 20;

/// What a phone or a form sends.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Filled {
    /// Made where the record was made; sending again sends the same.
    pub id: String,
    /// When it was made, by the clock there.
    pub client_time: String,
    /// Kind.
    pub kind: String,
    /// Who; initials are enough.
    pub name: String,
    /// Where.
    pub place: String,
    /// Stage of the job.
    pub stage: String,
    /// In words.
    pub note: String,
    /// Id of the record that this one completes or corrects.
    pub corrects: String,
    /// Instrument: the owner's mark on it, its last calibration, its uncertainty.
    pub instrument: String,
    /// Day of its last calibration.
    pub calibrated: String,
    /// Its uncertainty as its certificate says it.
    pub uncertainty: String,
    /// Photos and files kept before.
    pub attachments: Vec<Attachment>,
    /// Fields of the kind, as typed.
    pub fields: BTreeMap<String, String>,
}

/// One thing wrong with what was filled in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Wrong {
    /// Field; empty for the record as a whole.
    pub field: String,
    /// What, and what to write instead.
    pub words: String,
}

/// Tells the dimension of a stated value by its id.
pub type Dimensions<'a> = &'a dyn Fn(&str) -> Option<Dimension>;

impl Filled {
    /// Makes the record.
    ///
    /// # Errors
    /// Everything that is wrong, at once.
    pub fn record(&self, kind: &Kind, dimensions: Dimensions<'_>) -> Result<Record, Vec<Wrong>> {
        let mut wrong = Vec::new();
        self.look_over(&mut wrong);
        let mut body = Map::new();
        for field in kind.fields {
            let typed = self.fields.get(field.key).map_or("", |t| t.trim());
            match read(field, typed, dimensions) {
                Ok(Some(value)) => {
                    body.insert(field.key.to_owned(), value);
                }
                Ok(None) => {}
                Err(words) => wrong.push(Wrong { field: field.key.to_owned(), words }),
            }
        }
        if !wrong.is_empty() {
            return Err(wrong);
        }
        let whole = |words: String| vec![Wrong { field: String::new(), words }];
        self.head(kind.word, Value::Object(body)).map_err(whole)
    }

    /// Makes a record of a body that was made elsewhere.
    ///
    /// # Errors
    /// What is wrong with the whole.
    pub fn head(&self, kind: &str, body: Value) -> Result<Record, String> {
        let mut all = json!({
            "schema": building::records::SCHEMA,
            "id": self.id,
            "client-time": self.client_time,
            "kind": kind,
            "name": self.name.trim(),
            "place": self.place.trim(),
            "stage": self.stage.trim(),
            "note": self.note.trim(),
            "attachments": self.attachments,
            "body": body,
        });
        if !self.corrects.is_empty() {
            all["corrects"] = json!(self.corrects);
        }
        if !self.instrument.trim().is_empty() {
            let mut instrument = json!({ "id": self.instrument.trim() });
            for (key, value) in [("calibrated", &self.calibrated), ("uncertainty", &self.uncertainty)] {
                if !value.trim().is_empty() {
                    instrument[key] = json!(value.trim());
                }
            }
            all["instrument"] = instrument;
        }
        Record::from_line(&all.to_string())
    }

    /// Looks at what every record has.
    pub fn look_over(&self, wrong: &mut Vec<Wrong>) {
        let mut say = |field: &str, words: &str| {
            wrong.push(Wrong { field: field.to_owned(), words: words.to_owned() });
        };
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
        if self.id.len() < 16 || self.id.len() > 64 || !self.id.chars().all(plain) {
            say("", "the record has no proper id; load the page again");
        }
        if !is_time(&self.client_time) {
            say("", "the record has no proper time; look at the clock of this device");
        }
        if self.attachments.len() > MOST_ATTACHMENTS {
            say("", "twenty photos and files a record are the most; make a second record");
        }
        let words = [
            ("name", &self.name),
            ("place", &self.place),
            ("stage", &self.stage),
            ("note", &self.note),
            ("corrects", &self.corrects),
            ("instrument", &self.instrument),
            ("calibrated", &self.calibrated),
            ("uncertainty", &self.uncertainty),
        ];
        for (field, text) in words.into_iter().chain(self.fields.iter().map(|(k, v)| (k.as_str(), v))) {
            if text.chars().count() > LONGEST {
                say(field, "more than 4000 signs; a longer text goes in as a file");
            }
        }
    }
}

/// RFC 3339 to the second, with offset.
fn is_time(text: &str) -> bool {
    let shape = "0000-00-00T00:00:00";
    let head = text.get(..shape.len()).unwrap_or("");
    let fits = head.len() == shape.len()
        && head.chars().zip(shape.chars()).all(|(c, s)| if s == '0' { c.is_ascii_digit() } else { c == s });
    let rest = text.get(shape.len()..).unwrap_or("");
    let offset = rest.trim_start_matches(|c: char| c == '.' || c.is_ascii_digit());
    fits && text.len() < 40 && (offset == "Z" || (offset.len() == 6 && offset.starts_with(['+', '-'])))
}

/// Reads one field; `None` when nothing was typed.
fn read(field: &Field, typed: &str, dimensions: Dimensions<'_>) -> Result<Option<Value>, String> {
    if typed.is_empty() {
        return match field.holds {
            Holds::Needed(_) => Err(format!("{} is what this record is for", lower(field.label))),
            _ => Ok(None),
        };
    }
    let some = |value: Value| Ok(Some(value));
    match &field.holds {
        Holds::Words | Holds::Text | Holds::Item | Holds::Choice(_) => some(json!(typed)),
        Holds::Lines => {
            let lines: Vec<&str> = typed.lines().map(str::trim).filter(|l| !l.is_empty()).collect();
            some(json!(lines))
        }
        Holds::YesNo => match typed {
            "yes" => some(json!(true)),
            "no" => some(json!(false)),
            _ => Ok(None),
        },
        Holds::Tick => some(json!(true)),
        Holds::Count => {
            typed.parse::<u32>().map(|n| Some(json!(n))).map_err(|_| format!("a whole number, not “{typed}”"))
        }
        Holds::Day => match building::calendar::Date::read(typed) {
            Some(day) => some(json!(day.to_string())),
            None => Err(format!("a day such as 2026-03-14, not “{typed}”")),
        },
        Holds::Needed(among) | Holds::Quantity(among) => figure(typed, among).map(Some),
        Holds::Values => values(typed, dimensions).map(Some),
    }
}

/// Reads a quantity as the first dimension that fits, keeping what was typed and any half-width.
fn figure(typed: &str, among: &[Dimension]) -> Result<Value, String> {
    let mut first = None;
    for dimension in among {
        match quantity::read(typed, *dimension) {
            Ok(reading) => {
                let mut figure = json!({ "written": typed, "value": reading.value });
                if let Some(half) = reading.spread.and_then(|s| half_width(s, reading.value)) {
                    figure["half-width"] = json!(half);
                }
                return Ok(figure);
            }
            Err(error) => first = first.or(Some(error.to_string())),
        }
    }
    Err(first.unwrap_or_default())
}

/// The 95 % half-width of a spread that is even on both sides; others have none.
fn half_width(spread: quantity::Spread, value: f64) -> Option<f64> {
    match spread {
        quantity::Spread::HalfWidth95(half) => Some(half),
        // 95 % of an even spread lie within 0.95 of its half-width.
        quantity::Spread::Tolerance(half) => Some(0.95 * half),
        quantity::Spread::Range { low, high } => Some(0.95 * 0.5 * (high - low)),
        quantity::Spread::Factor95(factor) => Some(0.5 * value * (factor - 1.0 / factor)),
    }
}

/// Reads lines of `id = value with unit`.
fn values(typed: &str, dimensions: Dimensions<'_>) -> Result<Value, String> {
    let mut all = Vec::new();
    for line in typed.lines().map(str::trim).filter(|l| !l.is_empty()) {
        let (id, value) =
            line.rsplit_once('=').map(|(id, value)| (id.trim(), value.trim())).ok_or_else(|| {
                format!("“{line}”: write the stated value's name, =, and the figure with its unit")
            })?;
        let dimension = dimensions(id).ok_or_else(|| format!("the book states nothing called “{id}”"))?;
        all.push(json!([id, figure(value, &[dimension])?]));
    }
    Ok(Value::Array(all))
}

fn lower(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| c.to_lowercase().collect::<String>() + letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::super::kinds;
    use super::*;
    use building::records::Body;

    fn filled(kind: &str, fields: &[(&str, &str)]) -> Filled {
        Filled {
            id: "0190c3a0-0000-7000-8000-000000000001".into(),
            client_time: "2026-03-14T09:30:00.123-05:00".into(),
            kind: kind.into(),
            fields: fields.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect(),
            ..Filled::default()
        }
    }

    fn record(kind: &str, fields: &[(&str, &str)]) -> Result<Record, Vec<Wrong>> {
        let dimensions = |id: &str| (id == "unit.sun.glazing.g").then_some(Dimension::Ratio);
        filled(kind, fields).record(kinds::of(kind).expect("a kind"), &dimensions)
    }

    #[test]
    fn figures_keep_what_was_typed_beside_what_it_means() {
        let made =
            record("flow-reading", &[("flow", "120 cfm ± 5 %"), ("at", "outdoor duct")]).expect("a record");
        let Body::FlowReading(reading) = &made.body else { panic!("{:?}", made.body) };
        assert_eq!(reading.flow.written, "120 cfm ± 5 %");
        assert!((reading.flow.value - 120.0 * 0.3048_f64.powi(3) / 60.0).abs() < 1e-12);
        let half = reading.flow.half_width.expect("stated");
        assert!((half / reading.flow.value - 0.05).abs() < 1e-12);
    }

    #[test]
    fn values_found_carry_the_id_they_speak_of() {
        let made = record("delivery", &[("product", "glass"), ("properties", "unit.sun.glazing.g = 0.41\n")]);
        let Body::Delivery(delivery) = made.expect("a record").body else { panic!("a delivery") };
        assert_eq!(delivery.properties[0].0, "unit.sun.glazing.g");
        assert!((delivery.properties[0].1.value - 0.41).abs() < 1e-12);
        let lost = record("delivery", &[("properties", "unit.moon.g = 0.4")]).expect_err("not stated");
        assert_eq!(lost[0].field, "properties");
    }

    #[test]
    fn everything_wrong_is_said_at_once_with_its_field() {
        let wrong =
            record("moisture-reading", &[("depth", "three"), ("temperature", "20 kg")]).expect_err("wrong");
        let fields: Vec<&str> = wrong.iter().map(|w| w.field.as_str()).collect();
        assert_eq!(fields, ["moisture", "depth", "temperature"]);
        let bare = Filled { id: "../../x".into(), client_time: "yesterday".into(), ..Filled::default() };
        let mut said = Vec::new();
        bare.look_over(&mut said);
        assert_eq!(said.len(), 2);
    }

    #[test]
    fn every_kind_makes_a_record_the_log_can_read() {
        for kind in kinds::KINDS {
            let fields: Vec<(&str, &str)> = kind
                .fields
                .iter()
                .map(|f| {
                    let typed = match &f.holds {
                        Holds::YesNo => "no",
                        Holds::Tick => "yes",
                        Holds::Count => "3",
                        Holds::Day => "2026-03-14",
                        Holds::Lines => "one\ntwo",
                        Holds::Values => "unit.sun.glazing.g = 41 %",
                        Holds::Needed(d) | Holds::Quantity(d) => match d[0] {
                            Dimension::Length => "12 mm",
                            Dimension::Temperature => "12 °C",
                            Dimension::VolumeFlow => "12 m³/h",
                            Dimension::Pressure => "12 Pa",
                            Dimension::Ratio => "12 %",
                            Dimension::Power => "12 W",
                            Dimension::Density => "12 kg/m³",
                            Dimension::Angle => "12 deg",
                            Dimension::Time => "12 h",
                            _ => "12 kWh",
                        },
                        _ => "words <b>&amp;</b> \u{202e}",
                    };
                    (f.key, typed)
                })
                .collect();
            let made = record(kind.word, &fields).unwrap_or_else(|w| panic!("{}: {w:?}", kind.word));
            assert!(made.is_known(), "{}: {:?} {:?}", kind.word, made.extra, made.extra_body);
            assert_eq!(made.body.kind(), kind.word);
        }
    }

    #[test]
    fn times_have_an_offset() {
        for good in ["2026-03-14T09:30:00Z", "2026-03-14T09:30:00.123Z", "2026-03-14T09:30:00-05:00"] {
            assert!(is_time(good), "{good}");
        }
        for bad in ["", "2026-03-14", "2026-03-14T09:30:00", "14.3.2026 09:30", "2026-03-14T09:30:00-05:00\n"]
        {
            assert!(!is_time(bad), "{bad}");
        }
    }
}
