//! A record in words, for the list: label and figure of each thing it says.

use super::kinds;
use building::records::Record;
use serde_json::Value;

/// One thing a record says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Says {
    /// Label of the field.
    pub label: String,
    /// In words.
    pub words: String,
}

/// Returns what a record says, in the order of its kind's form.
pub fn says(record: &Record) -> Vec<Says> {
    let Some(body) = body(record) else { return Vec::new() };
    let kind = kinds::of(record.body.kind());
    let label = |key: &str| {
        let field = kind.and_then(|k| k.fields.iter().find(|f| f.key == key));
        field.map_or_else(|| key.replace('-', " "), |f| f.label.to_owned())
    };
    let order = |key: &String| kind.and_then(|k| k.fields.iter().position(|f| f.key == key)).unwrap_or(99);
    let mut keys: Vec<(&String, &Value)> = body.iter().collect();
    keys.sort_by_key(|(key, _)| order(key));
    keys.into_iter()
        .map(|(key, value)| Says { label: label(key), words: words(value) })
        .filter(|s| !s.words.is_empty())
        .collect()
}

fn body(record: &Record) -> Option<serde_json::Map<String, Value>> {
    let line = record.to_line().ok()?;
    match serde_json::from_str::<Value>(&line).ok()?.get_mut("body")?.take() {
        Value::Object(map) => Some(map),
        _ => None,
    }
}

fn words(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Number(n) => n.to_string(),
        Value::Array(all) => match all.as_slice() {
            // A stated value and what was found for it.
            [Value::String(id), Value::Object(figure)] if figure.contains_key("written") => {
                format!("{id} = {}", words(&figure["written"]))
            }
            all => all.iter().map(words).collect::<Vec<_>>().join("; "),
        },
        Value::Object(map) => match map.get("written").and_then(Value::as_str) {
            Some(written) if !written.is_empty() => written.to_owned(),
            _ => match (map.get("pressure"), map.get("flow")) {
                (Some(pressure), Some(flow)) => format!("{} at {}", words(flow), words(pressure)),
                _ => map.get("value").map(words).unwrap_or_default(),
            },
        },
        Value::Null => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_read_as_they_were_written() {
        let line = r#"{"kind":"pressure-test","id":"a","schema":1,"client-time":"t","body":{"depressurised":true,
            "points":[{"pressure":{"written":"-50 Pa","value":-50.0},"flow":{"written":"551 m³/h","value":0.153}}]}}"#;
        let record = Record::from_line(line).expect("a record");
        let all = says(&record);
        assert!(all.iter().any(|s| s.words == "551 m³/h at -50 Pa"), "{all:?}");
        let line = r#"{"kind":"delivery","id":"a","schema":1,"client-time":"t","body":{"held":true,"product":"glass",
            "properties":[["unit.a.glazing.g",{"written":"0.41","value":0.41}]]}}"#;
        let all = says(&Record::from_line(line).expect("a record"));
        assert_eq!(all[0].words, "glass");
        assert!(all.iter().any(|s| s.words == "unit.a.glazing.g = 0.41"), "{all:?}");
    }
}
