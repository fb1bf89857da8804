//! What the tests of whole commands share.
#![allow(dead_code, reason = "each test program uses some of it")]

use std::path::Path;
use std::process::{Command, Output};

/// Runs the command.
pub fn run(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_windtight"))
        .args(arguments)
        .current_dir(dir)
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .env("LC_ALL", "C.UTF-8")
        .output()
        .expect("the command runs")
}

/// Returns what it printed.
pub fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

/// Returns what it said.
pub fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

/// Returns an empty folder.
pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// A folder with the small example in `narrow-house`.
pub fn house() -> tempfile::TempDir {
    let dir = folder();
    let wrote = run(dir.path(), &["demo", "--house"]);
    assert_eq!(wrote.status.code(), Some(0), "{}", err(&wrote));
    dir
}

/// Holds JSON against a promised shape.
pub fn holds(schema: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema").join(schema);
    let schema = serde_json::from_str(&std::fs::read_to_string(path).expect("readable")).expect("JSON");
    let value = serde_json::from_str(text).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let wrong: Vec<String> =
        validator.iter_errors(&value).map(|e| format!("{e} at {}", e.instance_path())).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}
