//! `windtight gathering` and `windtight commission`: words, JSON, exit codes.

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn run(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_windtight"))
        .args(arguments)
        .current_dir(dir)
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .env("LC_ALL", "C.UTF-8")
        .output()
        .expect("the command runs")
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

fn holds(schema: &str, text: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema").join(schema);
    let schema = serde_json::from_str(&std::fs::read_to_string(path).expect("readable")).expect("JSON");
    let value = serde_json::from_str(text).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let wrong: Vec<String> =
        validator.iter_errors(&value).map(|e| format!("{e} at {}", e.instance_path())).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    value
}

fn school() -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    let wrote = run(dir.path(), &["demo", "school"]);
    assert_eq!(wrote.status.code(), Some(0), "{}", err(&wrote));
    dir
}

#[test]
fn a_gathering_in_words_and_json() {
    let dir = school();
    let told = run(dir.path(), &["gathering", "school", "recital"]);
    assert_eq!(told.status.code(), Some(1), "{}", err(&told));
    insta::assert_snapshot!("recital", out(&told));
    let all = holds("gathering.schema.json", &out(&run(dir.path(), &["gathering", "school", "--json"])));
    assert_eq!(all.as_array().map(Vec::len), Some(5));
    let peak = |more: &[&str]| {
        let arguments = [&["gathering", "school", "recital", "--json"], more].concat();
        let value = holds("gathering.schema.json", &out(&run(dir.path(), &arguments)));
        value.pointer("/0/peaks/0").and_then(Value::as_f64).expect("a peak")
    };
    let shut = peak(&[]);
    assert!(peak(&["--doors", "2000 m³/h"]) < peak(&["--doors", "open"]));
    assert!(peak(&["--doors", "open"]) < shut && peak(&["--airing", "900 m³/h"]) < shut);
    assert!(peak(&["--purge", "30 min"]) <= shut && peak(&["--people", "30"]) < shut);
}

#[test]
fn what_a_gathering_cannot_be_is_told() {
    let dir = school();
    for arguments in [
        &["gathering", "school", "nobody"][..],
        &["gathering", "school", "recital", "--doors", "ajar"],
        &["gathering", "school", "recital", "--purge", "12 days"],
    ] {
        let told = run(dir.path(), arguments);
        assert_eq!(told.status.code(), Some(2), "{arguments:?}: {}", out(&told));
        assert!(!err(&told).is_empty() && told.stdout.is_empty());
    }
    assert!(err(&run(dir.path(), &["gathering", "school", "nobody"])).contains("recital"));
}

#[test]
fn commissioning_without_readings_shows_designs() {
    let dir = school();
    let told = run(dir.path(), &["commission", "school"]);
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    assert!(
        out(&told).contains("design 88.3 cfm") && out(&told).contains("No flow reading is on record yet")
    );
    holds("commission.schema.json", &out(&run(dir.path(), &["commission", "school", "--json"])));
}

#[test]
fn the_sheet_of_air_holds_test_suspects_rooms_and_the_test_day() {
    let dir = school();
    let page = std::fs::read_to_string(dir.path().join("school/sheets/air.html")).expect("drawn");
    for wanted in [
        "Where the rest probably is",
        "tally-air",
        "air-test-d",
        "every rule by name",
        "Outdoor air, room by room",
        "Hold point, in the tested space and next door",
        "What today's reading must be",
    ] {
        assert!(page.contains(wanted) || page.contains(&wanted.replace('\'', "&#39;")), "{wanted}");
    }
    assert!(!page.contains("NaN"));
}
