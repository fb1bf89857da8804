//! `windtight pressure-test`: what it says of good readings and of bad ones, its JSON, and a test followed live.

use serde_json::Value;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn command(dir: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_windtight"));
    command
        .args(arguments)
        .current_dir(dir)
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .env("LC_ALL", "C.UTF-8");
    command
}

fn run(dir: &Path, arguments: &[&str]) -> Output {
    command(dir, arguments).output().expect("the command runs")
}

fn fed(dir: &Path, arguments: &[&str], input: &str) -> Output {
    let mut child = command(dir, arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    child.stdin.take().expect("piped").write_all(input.as_bytes()).expect("written");
    child.wait_with_output().expect("it ends")
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

fn holds(text: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/pressure-test.schema.json");
    let schema = serde_json::from_str(&std::fs::read_to_string(path).expect("readable")).expect("JSON");
    let value = serde_json::from_str(text).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let wrong: Vec<String> =
        validator.iter_errors(&value).map(|e| format!("{e} at {}", e.instance_path())).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    value
}

/// An invented test of both directions.
const FINAL: &str = "\
test, final, guarded (invented)
date, 2026-01-20
flows, corrected
inside temperature, 21 °C
outside temperature, 4 °C
barometer, 990 hPa
wind near ground, 2.1 m/s
height, 4.0 m
volume, 954.9 m³ ± 1 %
envelope area, 919.6 m²
floor area, 293.6 m²
method, 1
neighbour, equal pressure
guard residual, 0.4 Pa
gauge, G7
gauge accuracy, 1 %
fan, F2
fan accuracy, 4 %

direction, pressure [Pa], flow [m³/h]
depressurisation, -1.4,
depressurisation, -21.45, 289
depressurisation, -27.75, 347
depressurisation, -35.15, 406
depressurisation, -41.95, 455
depressurisation, -48.95, 511
depressurisation, -56.85, 561
depressurisation, -63.65, 604
depressurisation, -71.05, 654
depressurisation, -1.1,
pressurisation, -1.2,
pressurisation, 18.35, 299
pressurisation, 25.95, 366
pressurisation, 32.45, 420
pressurisation, 39.45, 469
pressurisation, 46.15, 526
pressurisation, 53.15, 568
pressurisation, 60.75, 622
pressurisation, 68.35, 670
pressurisation, -1.5,
";

/// An invented quick reading, the one the volume rule turns.
const QUICK: &str = "\
test, after round 2 (invented)
kind, single point
flows, corrected
neighbour, equal pressure
guard residual, 0.4 Pa
wind near ground, 0.9 m/s
pressure [Pa], flow [m³/h]
-50.0, 601
";

fn folder_with(name: &str, text: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join(name), text).expect("written");
    dir
}

#[test]
fn a_whole_test_says_number_band_chance_and_every_rule() {
    let dir = folder_with("final.csv", FINAL);
    let arguments = ["pressure-test", "final.csv", "--limit", "0.6 1/h", "--party", "219 m³/h"];
    let told = run(dir.path(), &arguments);
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    insta::assert_snapshot!("final", out(&told));
    let json = run(dir.path(), &[&arguments[..], &["--json"]].concat());
    let value = holds(&out(&json));
    let near = |pointer: &str, wanted: f64, within: f64| {
        let found = value.pointer(pointer).and_then(Value::as_f64).unwrap_or(f64::NAN);
        assert!((found - wanted).abs() < within, "{pointer}: {found}");
    };
    // The invented test's own figures, to the last digit they are printed with.
    near("/directions/0/iso_9972/c_env/value", 40.4, 0.05);
    near("/directions/0/iso_9972/exponent/value", 0.655, 0.0005);
    near("/directions/0/iso_9972/flow/value", 524.0, 0.5);
    near("/directions/1/iso_9972/flow/value", 540.0, 0.5);
    near("/result/figure/value", 0.557, 0.0005);
    assert!(value["rules"].as_array().expect("rules").len() > 30);
    // The regression alone is far narrower than the full budget.
    let narrow = value.pointer("/mean/regression_half_width_m3_h").and_then(Value::as_f64).expect("a mean");
    assert!(narrow < 0.2 * value.pointer("/flow/half_width_95").and_then(Value::as_f64).expect("a band"));
}

#[test]
fn raw_flows_show_the_density() {
    let raw = FINAL.replace("flows, corrected", "flows, raw");
    let dir = folder_with("raw.csv", &raw);
    let value = holds(&out(&run(dir.path(), &["pressure-test", "raw.csv", "--json"])));
    let first = value.pointer("/directions/0/points/0/flow_m3_h").and_then(Value::as_f64).expect("a point");
    // Air drawn out at 21 °C came in at 4 °C: the envelope passed fewer cubic metres, by the ratio of temperatures.
    assert!((first / 289.0 - (273.15 + 4.0) / (273.15 + 21.0)).abs() < 1e-3, "{first}");
}

#[test]
fn a_quick_reading_under_each_counting_rule() {
    let dir = folder_with("quick.csv", QUICK);
    assert_eq!(run(dir.path(), &["demo", "school"]).status.code(), Some(0));
    let arguments = ["pressure-test", "quick.csv", "--project", "school"];
    let told = run(dir.path(), &arguments);
    assert_eq!(told.status.code(), Some(1), "{}", err(&told));
    insta::assert_snapshot!("quick", out(&told));
    let value = holds(&out(&run(dir.path(), &[&arguments[..], &["--json"]].concat())));
    assert_eq!(value["standard_test"], Value::Bool(false));
    let met: Vec<&Value> =
        value["counting_rules"].as_array().expect("rules").iter().map(|r| &r["met"]).collect();
    assert!(met.contains(&&Value::Bool(true)) && met.contains(&&Value::Bool(false)), "{met:?}");
    assert!(!value["flips"].as_array().expect("items").is_empty());
}

#[test]
fn other_reference_pressures_and_sizes() {
    let dir = folder_with("final.csv", FINAL);
    let at = |pressure: &str| {
        let json = run(dir.path(), &["pressure-test", "final.csv", "--json", "--pressure", pressure]);
        holds(&out(&json)).pointer("/flow/value").and_then(Value::as_f64).expect("a flow")
    };
    let (a, b, c) = (at("25 Pa"), at("50 Pa"), at("75 Pa"));
    assert!(a < b && b < c, "{a} {b} {c}");
    assert!((c / a - 3.0_f64.powf(0.648)).abs() < 0.01);
    let bad = run(dir.path(), &["pressure-test", "final.csv", "--pressure", "5 kPa"]);
    assert_eq!(bad.status.code(), Some(2));
    let bad = run(dir.path(), &["pressure-test", "final.csv", "--limit", "0.6"]);
    assert_eq!(bad.status.code(), Some(2));
    assert!(err(&bad).contains("0.6 1/h"), "{}", err(&bad));
    let bad = run(dir.path(), &["pressure-test", "nowhere.csv"]);
    assert_eq!(bad.status.code(), Some(2));
}

/// Ten readings that lie on one line, as rows.
fn rows(of: impl Fn(usize, f64, f64) -> Option<String>) -> String {
    let mut text = "flows, corrected\ndirection, pressure [Pa], flow [m³/h]\n".to_owned();
    for k in 0..8_u32 {
        let p = 20.0 + 7.0 * f64::from(k);
        let q = 40.4 * p.powf(0.655);
        if let Some(row) = of(k as usize, p, q) {
            text.push_str(&row);
            text.push('\n');
        }
    }
    text
}

#[test]
fn bad_files_name_the_line_and_the_likely_mistake() {
    let plain = |p: f64, q: f64| Some(format!("depressurisation, {:.1}, {q:.0}", -p));
    let cases = [
        ("swapped columns", rows(|_, p, q| Some(format!("depressurisation, {:.0}, {p:.1}", -q)))),
        ("inches of water", rows(|_, p, q| Some(format!("depressurisation, {:.3}, {q:.0}", -p / 249.089)))),
        ("falling flow", rows(|k, p, q| plain(p, if k >= 5 { 0.72 * q } else { q }))),
        ("an absurd outlier", rows(|k, p, q| plain(p, if k == 3 { 10.0 * q } else { q }))),
        ("too few points", rows(|k, p, q| if k < 2 { plain(p, q) } else { None })),
        ("unknown name", rows(|_, p, q| plain(p, q)).replace("flows", "moisture, 3 %\nflows")),
    ];
    let mut all = String::new();
    for (name, text) in cases {
        let dir = folder_with("readings.csv", &text);
        let told = run(dir.path(), &["pressure-test", "readings.csv"]);
        assert_eq!(told.status.code(), Some(2), "{name}: {}", out(&told));
        assert!(told.stdout.is_empty(), "{name}");
        all.push_str(&format!("=== {name}\n{}", err(&told)));
    }
    insta::assert_snapshot!("bad_files", all);
}

#[test]
fn live_follows_line_by_line() {
    let dir = tempfile::tempdir().expect("a folder");
    let typed = "inside 21 °C\noutside 4 °C\nheight 4 m\nwind 1.5\nzero -1.2\n-71.2 654\n-13.4 217\nsomething else\n\
        -42.0 455\n-27.7 347\n-56.8 561\n-35.1 406\n-48.9 511\n-63.6 604\n-20.5 276\nzero -1.1\nturn\nzero -1.2\n68.3 670\n9.0 199\n39.5 469\n53.2 568\n\
        26.0 366\nwind 12\nend\nnever read\n";
    let arguments = ["pressure-test", "--live", "--volume", "955 m³ ± 1 %", "--limit", "0.6 1/h"];
    let told = fed(dir.path(), &arguments, typed);
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    insta::assert_snapshot!("live", out(&told));
    assert!(out(&told).contains("line 8: `something else` is no reading"));
    assert!(!out(&told).contains("never read"));
}

#[test]
fn live_follows_a_growing_file() {
    let dir = folder_with("growing.csv", "zero -1.0\n-70.0 650\n");
    let path = dir.path().join("growing.csv");
    let child = command(dir.path(), &["pressure-test", "growing.csv", "--live"])
        .stdout(Stdio::piped())
        .spawn()
        .expect("the command starts");
    for more in ["-15.0 2", "40\n-40.0 452\nend\n"] {
        std::thread::sleep(std::time::Duration::from_millis(400));
        let mut file = std::fs::OpenOptions::new().append(true).open(&path).expect("there");
        // The first piece ends in the middle of a line: only whole lines are taken.
        file.write_all(more.as_bytes()).expect("written");
    }
    let told = child.wait_with_output().expect("it ends");
    assert_eq!(told.status.code(), Some(0));
    let text = out(&told);
    assert!(!text.contains("is no reading"), "{text}");
    assert!(text.contains("no line yet") && text.lines().count() >= 6, "{text}");
}
