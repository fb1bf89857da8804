//! Distinct mistakes, one small book each, and the message each one gets.
//!
//! Every `mistakes/*.toml` is laid into a folder of its own as `building.toml`, beside `with/` and the files
//! made below that a text file cannot hold, and checked. The messages are snapshots.

use project::diagnostic::Style;
use project::source::Folder;
use std::path::Path;

fn lay_out(case: &Path) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let root = dir.path();
    std::fs::copy(case, root.join("building.toml")).expect("copied");
    std::fs::create_dir(root.join("with")).expect("made");
    let with = case.parent().expect("a folder").join("with");
    for file in std::fs::read_dir(with).expect("readable") {
        let file = file.expect("readable").path();
        std::fs::copy(&file, root.join("with").join(file.file_name().expect("a name"))).expect("copied");
    }
    std::fs::write(root.join("latin.toml"), b"[material.board]\nlike = \"plywood\"\nabout = \"25 \xb0C\"\n")
        .expect("written");
    let huge = std::fs::File::create(root.join("huge.toml")).expect("made");
    huge.set_len(200_000_000).expect("sparse");
    std::fs::write(root.join("gap.csv"), year_with_a_gap()).expect("written");
    dir
}

/// The built-in year without the hours of one afternoon.
fn year_with_a_gap() -> String {
    let lines: Vec<&str> = climate::demo_year_text().lines().collect();
    let kept = lines[..4000].iter().chain(&lines[4006..]);
    kept.fold(String::new(), |text, line| text + line + "\n")
}

fn told(case: &Path) -> String {
    let dir = lay_out(case);
    let folder = Folder::open(dir.path()).expect("opened");
    project::check(&folder).report.render(Style { width: 100, ..Style::default() })
}

#[test]
fn every_mistake_gets_its_message() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mistakes");
    let mut cases: Vec<_> = std::fs::read_dir(&here)
        .expect("readable")
        .map(|f| f.expect("readable").path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .collect();
    cases.sort();
    assert!(cases.len() >= 40, "{} cases", cases.len());
    let mut unnoticed = Vec::new();
    for case in cases {
        let name = case.file_stem().expect("a name").to_string_lossy().into_owned();
        let told = told(&case);
        if told.contains("error[") {
            insta::assert_snapshot!(name, told);
        } else {
            unnoticed.push(name);
        }
    }
    assert!(unnoticed.is_empty(), "not noticed: {unnoticed:?}");
}
