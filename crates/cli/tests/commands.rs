//! Whole commands: what they print, how they end, and that their JSON has the promised shape.

mod common;

use common::{err, folder, holds, house, out, run};
use std::process::Command;

#[test]
fn a_first_book_from_a_dozen_facts() {
    let dir = folder();
    let form = run(dir.path(), &["new", "mill"]);
    assert_eq!(form.status.code(), Some(2));
    assert!(!dir.path().join("mill").exists());
    insta::assert_snapshot!("open_form", err(&form));
    let made = run(
        dir.path(),
        &["new", "mill", "--footprint", "30 ft x 24 ft", "--attached", "E", "--below", "cellar"],
    );
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    let book = std::fs::read_to_string(dir.path().join("mill/building.toml")).expect("written");
    insta::assert_snapshot!("first_book", book);
    let again = run(dir.path(), &["new", "mill", "--footprint", "30 ft x 24 ft"]);
    assert_eq!(again.status.code(), Some(2));
    let bad = run(dir.path(), &["new", "mull", "--footprint", "30 kg x 24 ft"]);
    assert_eq!(bad.status.code(), Some(2));
    assert!(!dir.path().join("mull").exists());
    assert!(err(&bad).contains("expected a length"), "{}", err(&bad));
}

#[test]
fn the_survey_sheet_fits_the_page() {
    let printed = run(folder().path(), &["survey", "--print"]);
    assert_eq!(printed.status.code(), Some(0));
    assert!(out(&printed).lines().all(|l| l.chars().count() <= 112));
    assert_eq!(run(folder().path(), &["survey"]).status.code(), Some(2));
}

#[test]
fn check_speaks_json_and_words() {
    let dir = house();
    let good = run(dir.path(), &["check", "narrow-house"]);
    assert_eq!(good.status.code(), Some(0), "{}", err(&good));
    holds("check.schema.json", &out(&run(dir.path(), &["check", "narrow-house", "--json"])));
    let book = dir.path().join("narrow-house/building.toml");
    let text = std::fs::read_to_string(&book).expect("readable").replace("\"20 mm\"", "\"20 kg\"");
    std::fs::write(&book, text).expect("written");
    let bad = run(dir.path(), &["check", "narrow-house"]);
    assert_eq!(bad.status.code(), Some(2));
    assert!(out(&bad).is_empty());
    insta::assert_snapshot!("broken_house", err(&bad));
    let json = run(dir.path(), &["check", "narrow-house", "--json"]);
    assert_eq!(json.status.code(), Some(2));
    holds("check.schema.json", &out(&json));
    let plain = run(dir.path(), &["check", "narrow-house", "--ascii"]);
    assert!(!err(&plain).contains('╭'));
}

#[test]
fn size_speaks_json_and_words() {
    let dir = house();
    assert!(run(dir.path(), &["demo", "alder-ford"]).status.code().is_some());
    let told = run(dir.path(), &["size", "alder-ford"]);
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    let text = out(&told);
    assert!(text.contains("choose ") && text.contains("Where the water heater could stand"), "{text}");
    holds("size.schema.json", &out(&run(dir.path(), &["size", "alder-ford", "--json"])));
    holds("size.schema.json", &out(&run(dir.path(), &["size", "narrow-house", "--json"])));
}

#[test]
fn status_speaks_json_and_words() {
    let dir = house();
    let told = run(dir.path(), &["status", "narrow-house"]);
    assert!(matches!(told.status.code(), Some(0 | 1)), "{}", err(&told));
    assert!(!out(&told).contains('\u{1b}'), "no colour into a pipe");
    assert!(run(dir.path(), &["status", "narrow-house", "--color", "always"]).stdout.contains(&0x1b));
    let json = run(dir.path(), &["status", "narrow-house", "--json"]);
    holds("status.schema.json", &out(&json));
    // A kept result and a fresh one are the same.
    std::fs::remove_dir_all(dir.path().join("narrow-house/.windtight")).expect("removed");
    assert_eq!(out(&run(dir.path(), &["status", "narrow-house", "--json"])), out(&json));
}

/// Puts # for every figure, so that a golden text moves with its words and not with the last digit of a year.
fn without_figures(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '0'..='9' if out.ends_with('#') => {}
            '0'..='9' => out.push('#'),
            '.' if out.ends_with('#') => {}
            c => out.push(c),
        }
    }
    // Columns move with the width of figures.
    out.lines()
        .map(|l| {
            l.split("  ").filter(|p| !p.trim().is_empty()).map(str::trim).collect::<Vec<_>>().join("  ")
                + "\n"
        })
        .collect()
}

#[test]
fn both_examples_say_where_they_stand() {
    let dir = folder();
    for (arguments, name) in [(&["demo"][..], "school"), (&["demo", "--house"][..], "house")] {
        let told = run(dir.path(), arguments);
        assert_eq!(told.status.code(), Some(0), "{}", err(&told));
        insta::assert_snapshot!(name, without_figures(&out(&told)));
    }
    // The school misses its tightness on the day its book speaks of, so its status ends with 1.
    assert_eq!(run(dir.path(), &["status", "alder-ford"]).status.code(), Some(1));
    holds("status.schema.json", &out(&run(dir.path(), &["status", "alder-ford", "--nominal", "--json"])));
    let why = run(dir.path(), &["why", "air-change", "alder-ford"]);
    insta::assert_snapshot!("school_air_change", out(&why));
    let u = run(dir.path(), &["why", "u-value.upper-wall", "alder-ford"]);
    assert!(out(&u).contains("ISO 6946"), "{}", out(&u));
}

#[test]
fn narrow_terminals_are_kept_to() {
    let dir = house();
    for width in ["60", "80"] {
        let told = Command::new(env!("CARGO_BIN_EXE_windtight"))
            .args(["status", "narrow-house", "--all"])
            .current_dir(dir.path())
            .env("COLUMNS", width)
            .env("LC_ALL", "C.UTF-8")
            .output()
            .expect("the command runs");
        let limit: usize = width.parse().expect("a number");
        for line in out(&told).lines().filter(|l| !l.contains("narrow-house")) {
            assert!(line.chars().count() <= limit, "{width}: {line}");
        }
    }
}

#[test]
fn why_explains_sizes_and_stated_values() {
    let dir = house();
    let volume = run(dir.path(), &["why", "volume", "narrow-house"]);
    assert_eq!(volume.status.code(), Some(0), "{}", err(&volume));
    assert!(out(&volume).contains("m³"));
    let stated = run(dir.path(), &["why", "storey.ground.height", "narrow-house"]);
    assert!(out(&stated).contains("building.toml:"), "{}", out(&stated));
    let slip = run(dir.path(), &["why", "heating-demnd", "narrow-house"]);
    assert_eq!(slip.status.code(), Some(2));
    assert!(err(&slip).contains("did you mean heating-demand?"), "{}", err(&slip));
}

#[test]
fn sheets_are_whole_pages() {
    let dir = house();
    let drawn = run(dir.path(), &["sheets", "narrow-house", "--out", "drawn"]);
    assert_eq!(drawn.status.code(), Some(0), "{}", err(&drawn));
    let index = std::fs::read_to_string(dir.path().join("drawn/index.html")).expect("written");
    assert!(index.trim_end().ends_with("</html>"));
}

#[test]
fn the_demonstration_leaves_edits_alone() {
    let dir = folder();
    let first = run(dir.path(), &["demo", "school"]);
    assert_eq!(first.status.code(), Some(0), "{}", err(&first));
    assert!(out(&first).contains("index.html"));
    let book = dir.path().join("school/building.toml");
    let edited = std::fs::read_to_string(&book)
        .expect("readable")
        .replace("stage    = \"barrier\"", "stage    = \"test\"");
    std::fs::write(&book, &edited).expect("written");
    let second = run(dir.path(), &["demo", "school"]);
    assert_eq!(second.status.code(), Some(0));
    assert!(err(&second).contains("left as they are"), "{}", err(&second));
    assert_eq!(std::fs::read_to_string(&book).expect("readable"), edited);
}

#[test]
fn one_topic_of_checks_in_both_forms() {
    let dir = folder();
    let table = run(dir.path(), &["verify", "--topic", "CO2"]);
    assert_eq!(table.status.code(), Some(0), "{}{}", out(&table), err(&table));
    holds("verify.schema.json", &out(&run(dir.path(), &["verify", "--topic", "CO2", "--json"])));
    assert_eq!(run(dir.path(), &["verify", "--topic", "no such topic"]).status.code(), Some(2));
}

#[test]
fn the_command_line_is_explained() {
    let dir = folder();
    assert_eq!(run(dir.path(), &["--help"]).status.code(), Some(0));
    assert_eq!(run(dir.path(), &["stauts"]).status.code(), Some(2));
    let nowhere = run(dir.path(), &["status", "nowhere"]);
    assert_eq!(nowhere.status.code(), Some(2));
    assert!(err(&nowhere).contains("there is no folder"), "{}", err(&nowhere));
}

#[test]
fn what_the_book_leaves_out_is_listed() {
    let dir = house();
    let listed = run(dir.path(), &["check", "narrow-house", "--explain"]);
    assert_eq!(listed.status.code(), Some(0), "{}", err(&listed));
    insta::assert_snapshot!("left_out", out(&listed));
    let both = run(dir.path(), &["check", "narrow-house", "--explain", "--json"]);
    assert_eq!(both.status.code(), Some(2), "a list for people and one for programs are not mixed");
}

#[test]
fn dry_speaks_json_and_words_and_status_shows_what_was_run() {
    let dir = house();
    let before = out(&run(dir.path(), &["status", "narrow-house", "--json"]));
    assert!(before.contains("not yet run: windtight dry"), "{before}");
    let told = run(dir.path(), &["dry", "narrow-house"]);
    assert!(matches!(told.status.code(), Some(0 | 1)), "{}", err(&told));
    assert!(out(&told).contains("licensed designer"), "{}", out(&told));
    let json = out(&run(dir.path(), &["dry", "narrow-house", "--json"]));
    holds("dry.schema.json", &json);
    let after = out(&run(dir.path(), &["status", "narrow-house", "--json"]));
    holds("status.schema.json", &after);
    assert!(after.contains("moisture.street-wall") && !after.contains("not yet run"), "{after}");
    for wrong in [
        &["dry", "narrow-house", "--assembly", "no-such"][..],
        &["dry", "narrow-house", "--assembly", "roof", "--wet", "no-such=200 g/m²"],
        &["dry", "narrow-house", "--assembly", "roof", "--wet", "200 g/m²"],
    ] {
        assert_eq!(run(dir.path(), wrong).status.code(), Some(2), "{wrong:?}");
    }
}
