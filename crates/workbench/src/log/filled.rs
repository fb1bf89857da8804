//! From what a person typed to a record: every field read with its unit, every problem said with its field.

use super::kinds;
use building::records::{Attachment, Body, Head, Instrument, Record};
use project::log::Shape;
use quantity::Dimension;
use serde::{Deserialize, Serialize};
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
    pub fn record(&self, dimensions: Dimensions<'_>) -> Result<Record, Vec<Wrong>> {
        let mut wrong = Vec::new();
        self.look_over(&mut wrong);
        let Some(form) = kinds::form(&self.kind) else {
            return Err(vec![Wrong {
                field: String::new(),
                words: format!("“{}” is no kind of record", self.kind),
            }]);
        };
        let typed = |key: &str| self.fields.get(key).map_or("", |t| t.trim());
        for field in form.iter().filter(|f| kinds::is_needed(&self.kind, f.key) && typed(f.key).is_empty()) {
            let words = "this is what the record is for".to_owned();
            wrong.push(Wrong { field: field.key.to_owned(), words });
        }
        // The page divides entries by lines, the log's form by semicolons.
        let entries = |field: &project::log::Field| match field.shape {
            Shape::List | Shape::Properties => typed(field.key).lines().collect::<Vec<_>>().join(";"),
            _ => typed(field.key).to_owned(),
        };
        let all: Vec<(String, String)> = form.iter().map(|f| (f.key.to_owned(), entries(f))).collect();
        let body = project::log::body(&self.kind, &all, dimensions);
        match body {
            Ok(body) if wrong.is_empty() => Ok(self.with(body)),
            Ok(_) => Err(wrong),
            Err(problems) => {
                wrong.extend(problems.into_iter().map(|p| Wrong { field: p.key, words: p.reason }));
                Err(wrong)
            }
        }
    }

    /// Puts the head before a body.
    pub fn with(&self, body: Body) -> Record {
        let some = |text: &str| (!text.trim().is_empty()).then(|| text.trim().to_owned());
        let plain = Record::new(self.id.clone(), self.client_time.clone(), body);
        let instrument = some(&self.instrument).map(|id| Instrument {
            id,
            calibrated: some(&self.calibrated),
            uncertainty: some(&self.uncertainty),
        });
        let head = Head {
            name: self.name.trim().to_owned(),
            place: self.place.trim().to_owned(),
            stage: self.stage.trim().to_owned(),
            note: self.note.trim().to_owned(),
            corrects: some(&self.corrects),
            instrument,
            attachments: self.attachments.clone(),
            ..plain.head
        };
        Record { head, ..plain }
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

#[cfg(test)]
mod tests {
    use super::*;

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
        filled(kind, fields).record(&dimensions)
    }

    #[test]
    fn figures_keep_what_was_typed_beside_what_it_means() {
        let made =
            record("flow-reading", &[("flow", "120 cfm ± 5 %"), ("at", "outdoor duct")]).expect("a record");
        let Body::FlowReading(reading) = &made.body else { panic!("{:?}", made.body) };
        assert_eq!(reading.flow.written, "120 cfm ± 5 %");
        assert!((reading.flow.value - 120.0 * 0.3048_f64.powi(3) / 60.0).abs() < 1e-12);
        let half = reading.flow.half_width.expect("stated");
        assert!((half / reading.flow.value - 0.05).abs() < 1e-9);
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
            let typed: Vec<(&str, String)> = kinds::form(kind)
                .expect("a form")
                .iter()
                .map(|f| {
                    let typed = match f.shape {
                        Shape::YesNo => "no".to_owned(),
                        Shape::Count => "3".to_owned(),
                        Shape::Date => "2026-03-14".to_owned(),
                        Shape::List => "one\ntwo".to_owned(),
                        Shape::Properties => "unit.sun.glazing.g = 41 %".to_owned(),
                        Shape::Figure(d) => format!("12 {}", d[0].canonical_unit()),
                        _ => "words <b>&amp;</b> \u{202e}".to_owned(),
                    };
                    (f.key, typed)
                })
                .collect();
            let fields: Vec<(&str, &str)> = typed.iter().map(|(k, v)| (*k, v.as_str())).collect();
            let made = record(kind, &fields).unwrap_or_else(|w| panic!("{kind}: {w:?}"));
            assert!(made.is_known(), "{kind}: {:?} {:?}", made.extra, made.extra_body);
            assert_eq!(made.body.kind(), kind);
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
