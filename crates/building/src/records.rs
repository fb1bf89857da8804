//! Records of the site log: versioned, append-only, as JSON Lines.
//!
//! A [`Record`] is a common head (id, times, name, place, stage, instrument, attachments, hash of the record before)
//! and a [`Body`] by kind. Unknown kinds and unknown keys are kept and written again unchanged, so that an older
//! program loses nothing of a newer one. Storage, hashing and photos are the business of `project`; here are types
//! and text only. Figures keep what was written on site beside the number it was read as.

mod body;

pub use body::*;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Schema number written with new records.
pub const SCHEMA: u32 = 1;

/// One record.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// What every record has.
    pub head: Head,
    /// What its kind has.
    pub body: Body,
    /// Keys of the head that this program does not know, kept.
    pub extra: Map<String, Value>,
    /// Keys of the body that this program does not know, kept.
    pub extra_body: Map<String, Value>,
}

/// What every record has.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Head {
    /// Schema it was written under.
    pub schema: u32,
    /// Identifier made by the client (a UUID as text): a retry writes the same one.
    pub id: String,
    /// When it was made, by the client's clock: RFC 3339 with offset.
    pub client_time: String,
    /// When it was received, by the server's clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub server_time: Option<String>,
    /// Who, as remembered by the device; initials are enough.
    #[serde(default)]
    pub name: String,
    /// Where: a plan item (`opening.N4`, `space.hall`) or words.
    #[serde(default)]
    pub place: String,
    /// Stage of the job.
    #[serde(default)]
    pub stage: String,
    /// What it was measured with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
    /// Photos and files.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub attachments: Vec<Attachment>,
    /// Id of the record that this one corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<String>,
    /// Stated value or plan item it speaks of, when it speaks of one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// In words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Hash of the record before, hexadecimal; empty for the first.
    #[serde(default)]
    pub previous: String,
}

/// What something was measured with.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Instrument {
    /// The owner's mark on it.
    pub id: String,
    /// Day of its last calibration, `2025-08-01`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibrated: Option<String>,
    /// Its uncertainty as written on its certificate, such as `± 3 %`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<String>,
}

/// A photo or file, kept by the hash of its bytes as received.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Attachment {
    /// SHA-256 of the original, hexadecimal.
    pub sha256: String,
    /// Kind of file, such as `image/jpeg`.
    pub media_type: String,
    /// Name it came with.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub file_name: String,
    /// Words under it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub caption: String,
    /// When the camera took it, if it said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<String>,
    /// Orientation the camera noted, 1 to 8.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orientation: Option<u8>,
    /// Where the camera says it was; only kept when the person chose so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub location: Option<Location>,
}

/// A place on the globe, as a camera noted it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Location {
    /// North positive, degrees.
    pub latitude_deg: f64,
    /// East positive, degrees.
    pub longitude_deg: f64,
}

/// A line that is no record.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {message}")]
pub struct RecordError {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub message: String,
}

/// What reading a log gave: every readable record, and every line that is none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Log {
    /// Records, in order.
    pub records: Vec<Record>,
    /// Unreadable lines.
    pub errors: Vec<RecordError>,
    /// Lines whose kind or keys this program does not know; they are in `records` and will be written unchanged.
    pub unknown: Vec<RecordError>,
}

impl Record {
    /// Makes a record under the present schema.
    pub fn new(id: impl Into<String>, client_time: impl Into<String>, body: Body) -> Self {
        let head = Head { schema: SCHEMA, id: id.into(), client_time: client_time.into(), ..Head::default() };
        Self { head, body, extra: Map::new(), extra_body: Map::new() }
    }

    /// Writes one line of JSON, without the line end. Keys come in alphabetical order, so equal records give equal
    /// bytes.
    ///
    /// # Errors
    /// When a number is NaN or infinite, which JSON cannot hold.
    pub fn to_line(&self) -> Result<String, String> {
        let mut out = self.extra.clone();
        match serde_json::to_value(&self.head).map_err(|e| e.to_string())? {
            Value::Object(head) => out.extend(head),
            _ => return Err("a head is an object".to_owned()),
        }
        let (kind, mut body) = self.body.to_json()?;
        if let Value::Object(map) = &mut body {
            map.extend(self.extra_body.clone());
        }
        out.insert("kind".to_owned(), Value::String(kind));
        out.insert("body".to_owned(), body);
        let mut sorted: Vec<(String, Value)> = out.into_iter().collect();
        sorted.sort_by(|a, b| a.0.cmp(&b.0));
        serde_json::to_string(&sorted.into_iter().collect::<Map<String, Value>>()).map_err(|e| e.to_string())
    }

    /// Reads one line of JSON.
    ///
    /// # Errors
    /// What is wrong with the line: no JSON, no object, no id, no kind, or a known kind with a body of another shape.
    pub fn from_line(text: &str) -> Result<Self, String> {
        let value: Value = serde_json::from_str(text).map_err(|e| e.to_string())?;
        let Value::Object(mut all) = value else { return Err("a record is a JSON object".to_owned()) };
        let kind = match all.remove("kind") {
            Some(Value::String(kind)) => kind,
            _ => return Err("\"kind\" is missing".to_owned()),
        };
        let body = all.remove("body").unwrap_or(Value::Object(Map::new()));
        let head: Head = serde_json::from_value(Value::Object(all.clone())).map_err(|e| e.to_string())?;
        if head.id.is_empty() {
            return Err("\"id\" is empty".to_owned());
        }
        let extra = unread(&all, &serde_json::to_value(&head).map_err(|e| e.to_string())?);
        let parsed = Body::from_json(&kind, body.clone()).map_err(|e| format!("{kind}: {e}"))?;
        let extra_body = match (&parsed, &body) {
            (Body::Unknown { .. }, _) => Map::new(),
            (_, Value::Object(map)) => unknown_keys(map, parsed.keys().unwrap_or_default()),
            _ => return Err(format!("{kind}: \"body\" is not an object")),
        };
        Ok(Self { head, body: parsed, extra, extra_body })
    }

    /// Says whether kind and keys are all known to this program.
    pub fn is_known(&self) -> bool {
        !matches!(self.body, Body::Unknown { .. }) && self.extra.is_empty() && self.extra_body.is_empty()
    }
}

/// Keys of a body that its kind does not have. A known key at its default (`false`, 0) is not written again, and is
/// not unknown for that.
fn unknown_keys(given: &Map<String, Value>, known: &[&str]) -> Map<String, Value> {
    let has = |key: &str| known.contains(&key.replace('-', "_").as_str());
    given
        .iter()
        .filter(|(key, v)| !has(key) && !v.is_null())
        .map(|(key, v)| (key.clone(), v.clone()))
        .collect()
}

/// Keys of `given` that `known` does not have; `null` says nothing and is dropped.
fn unread(given: &Map<String, Value>, known: &Value) -> Map<String, Value> {
    let has = |key: &String| known.as_object().is_some_and(|k| k.contains_key(key));
    // A default that was written out (an empty list, an empty text) is known but not written again.
    let empty = |v: &Value| match v {
        Value::Null => true,
        Value::String(s) => s.is_empty(),
        Value::Array(a) => a.is_empty(),
        _ => false,
    };
    given.iter().filter(|(key, v)| !has(key) && !empty(v)).map(|(key, v)| (key.clone(), v.clone())).collect()
}

/// Reads a log of JSON Lines; blank lines are passed over.
pub fn read_log(text: &str) -> Log {
    let mut log = Log::default();
    for (number, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let line_number = number + 1;
        match Record::from_line(line) {
            Ok(record) => {
                if !record.is_known() {
                    log.unknown.push(RecordError { line: line_number, message: what_is_unknown(&record) });
                }
                log.records.push(record);
            }
            Err(message) => log.errors.push(RecordError { line: line_number, message }),
        }
    }
    log
}

fn what_is_unknown(record: &Record) -> String {
    match &record.body {
        Body::Unknown { kind, .. } => format!("the kind \"{kind}\" is not known here; kept unchanged"),
        _ => {
            let keys: Vec<&str> =
                record.extra.keys().chain(record.extra_body.keys()).map(String::as_str).collect();
            format!("not known here, kept unchanged: {}", keys.join(", "))
        }
    }
}

/// Writes a log as JSON Lines.
///
/// # Errors
/// As [`Record::to_line`], with the record's id.
pub fn write_log(records: &[Record]) -> Result<String, String> {
    let mut out = String::new();
    for record in records {
        out.push_str(&record.to_line().map_err(|e| format!("{}: {e}", record.head.id))?);
        out.push('\n');
    }
    Ok(out)
}

#[cfg(test)]
mod tests;
