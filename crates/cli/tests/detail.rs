//! `windtight detail`: words, JSON by its schema, a picture, and mistakes.

use std::path::Path;
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_windtight"))
        .args(arguments)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples"))
        .env_remove("NO_COLOR")
        .env("LC_ALL", "C.UTF-8")
        .output()
        .expect("the command runs")
}

#[test]
fn json_has_the_promised_shape() {
    let schema = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/detail.schema.json");
    let schema = serde_json::from_str(&std::fs::read_to_string(schema).expect("readable")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    for file in ["corner.toml", "roof-edge-over-porch.toml"] {
        let output = run(&["detail", file, "--json"]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        let value = serde_json::from_slice(&output.stdout).expect("JSON");
        let wrong: Vec<String> = validator.iter_errors(&value).map(|e| e.to_string()).collect();
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
}

#[test]
fn words_and_a_picture() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let svg = dir.path().join("out.svg");
    let output = run(&["detail", "balcony-slab.toml", "--svg", &svg.display().to_string(), "--heat-lines"]);
    assert_eq!(output.status.code(), Some(0));
    let text = String::from_utf8(output.stdout).expect("text");
    assert!(text.contains("coldest inside spot") && text.contains("inside dimensions"), "{text}");
    let svg = std::fs::read_to_string(svg).expect("written");
    assert!(svg.starts_with("<svg") || svg.starts_with("<?xml"), "{}", &svg[..80.min(svg.len())]);
    assert!(svg.contains("coldest inside spot") && svg.contains("<text"));
}

#[test]
fn a_missing_file_is_told() {
    let output = run(&["detail", "none.toml"]);
    assert_eq!(output.status.code(), Some(2));
}
