//! The site log at the command line: added, listed, shown, handed on and taken in.

mod common;

use common::{err, folder, holds, house, out, run};

#[test]
fn a_record_is_added_listed_and_shown() {
    let dir = house();
    let added = run(
        dir.path(),
        &[
            "log",
            "add",
            "leak-found",
            "--dir",
            "narrow-house",
            "at=eaves, N side",
            "flow=95 m³/h",
            "at-pressure=50 Pa",
            "sealed=no",
            "--name",
            "K.R.",
            "--place",
            "eaves",
            "--time",
            "2025-09-03T08:30:00-05:00",
            "--id",
            "leak-1",
            "--instrument",
            "fan A",
            "--uncertainty",
            "± 3 %",
            "--json",
        ],
    );
    assert_eq!(added.status.code(), Some(0), "{}", err(&added));
    holds("log-add.schema.json", &out(&added));
    let again = run(
        dir.path(),
        &[
            "log",
            "add",
            "note",
            "--dir",
            "narrow-house",
            "text=fan running",
            "--time",
            "2025-09-03T09:00:00-05:00",
        ],
    );
    assert!(out(&again).starts_with("record 2 kept: fan running"), "{}", out(&again));
    let list = run(dir.path(), &["log", "list", "narrow-house"]);
    insta::assert_snapshot!("log_list", out(&list));
    holds("log-list.schema.json", &out(&run(dir.path(), &["log", "list", "narrow-house", "--json"])));
    let one = run(dir.path(), &["log", "list", "narrow-house", "--kind", "note"]);
    assert_eq!(out(&one).lines().count(), 1);
    let shown = run(dir.path(), &["log", "show", "leak", "narrow-house"]);
    assert!(out(&shown).contains("95 m³/h") && out(&shown).contains("fan A, ± 3 %"), "{}", out(&shown));
    holds("log-list.schema.json", &out(&run(dir.path(), &["log", "show", "1", "narrow-house", "--json"])));
    assert_eq!(run(dir.path(), &["log", "show", "nothing", "narrow-house"]).status.code(), Some(2));
    // The leak is on the first sheet of the next status.
    let status = run(dir.path(), &["status", "narrow-house", "--json"]);
    assert!(out(&status).contains("leak at eaves, N side"), "the log reaches the standing");
    let verified = run(dir.path(), &["log", "verify", "narrow-house"]);
    assert!(out(&verified).starts_with("2 records"), "{}", out(&verified));
}

#[test]
fn what_cannot_be_taken_is_said() {
    let dir = house();
    let form = run(dir.path(), &["log", "add", "moisture-reading", "--dir", "narrow-house"]);
    assert_eq!(form.status.code(), Some(2));
    insta::assert_snapshot!("log_form", err(&form));
    let wrong = run(
        dir.path(),
        &["log", "add", "leak-found", "--dir", "narrow-house", "flow=95 kg", "where=x", "odd"],
    );
    assert_eq!(wrong.status.code(), Some(2));
    insta::assert_snapshot!("log_wrong", err(&wrong));
    assert!(!dir.path().join("narrow-house/log").exists(), "nothing was made for nothing");
    assert_eq!(run(folder().path(), &["log", "list"]).status.code(), Some(2));
}

#[test]
fn the_demonstrations_log_goes_out_and_comes_in() {
    let dir = folder();
    let wrote = run(dir.path(), &["demo"]);
    assert_eq!(wrote.status.code(), Some(0), "{}", err(&wrote));
    let before = out(&run(dir.path(), &["log", "list", "alder-ford"]));
    assert_eq!(before.lines().filter(|l| l.chars().next().is_some_and(|c| c.is_ascii_digit())).count(), 50);
    let photo = dir.path().join("sill.csv");
    std::fs::write(&photo, "time,CO2\n0,420\n").expect("written");
    let status = out(&run(dir.path(), &["status", "alder-ford", "--json"]));
    let added = run(
        dir.path(),
        &[
            "log",
            "add",
            "logger-file",
            "--dir",
            "alder-ford",
            "quantities=CO2",
            "--photo",
            "sill.csv",
            "--time",
            "2026-01-03T08:30:00-05:00",
        ],
    );
    assert_eq!(added.status.code(), Some(0), "{}", err(&added));
    // The text is shipped; the store took it in; each record counts once.
    let listed = out(&run(dir.path(), &["log", "list", "alder-ford"]));
    assert!(listed.starts_with(before.as_str().lines().next().expect("a line")));
    let counts = |text: &str| text.matches("\"kind\"").count();
    let json = out(&run(dir.path(), &["log", "list", "alder-ford", "--json"]));
    let shipped = std::fs::read_to_string(dir.path().join("alder-ford/log/records.jsonl")).expect("readable");
    assert_eq!(counts(&json), shipped.lines().count() + 1);
    let later = out(&run(dir.path(), &["status", "alder-ford", "--json"]));
    assert_eq!(
        findings(&status),
        findings(&later),
        "a record after the day the book speaks of changes nothing"
    );
    let exported = run(dir.path(), &["log", "export", "out", "alder-ford", "--json"]);
    assert_eq!(exported.status.code(), Some(0), "{}", err(&exported));
    holds("log-manifest.schema.json", &out(&exported));
    let other = house();
    let from = dir.path().join("out");
    let from = from.to_str().expect("a path");
    let taken = run(other.path(), &["log", "import", from, "narrow-house", "--json"]);
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    holds("log-import.schema.json", &out(&taken));
    let back = run(other.path(), &["log", "export", "back", "narrow-house"]);
    assert_eq!(back.status.code(), Some(0), "{}", err(&back));
    for file in ["records.jsonl", "manifest.json"] {
        let read = |folder: &std::path::Path| std::fs::read(folder.join(file)).expect("there");
        assert!(read(&dir.path().join("out")) == read(&other.path().join("back")), "{file}");
    }
}

/// Returns the findings of a status, without the hash of its inputs.
fn findings(status: &str) -> serde_json::Value {
    let all: serde_json::Value = serde_json::from_str(status).expect("JSON");
    all["findings"].clone()
}

#[test]
fn the_works_are_shown_ahead_for_a_day_and_handed_on() {
    let dir = folder();
    assert_eq!(run(dir.path(), &["demo"]).status.code(), Some(0));
    let ahead = run(dir.path(), &["works", "alder-ford"]);
    assert_eq!(ahead.status.code(), Some(1), "{}", err(&ahead));
    insta::assert_snapshot!("works_ahead", out(&ahead));
    let day = run(dir.path(), &["works", "alder-ford", "--day", "2025-09-18"]);
    insta::assert_snapshot!("works_day", out(&day));
    holds("works.schema.json", &out(&run(dir.path(), &["works", "alder-ford", "--json"])));
    let calendar = out(&run(dir.path(), &["works", "alder-ford", "--ics"]));
    assert!(calendar.starts_with("BEGIN:VCALENDAR\r\n") && calendar.ends_with("END:VCALENDAR\r\n"));
    let list = out(&run(dir.path(), &["works", "alder-ford", "--csv"]));
    assert_eq!(list.lines().count(), 9);
    assert_eq!(run(dir.path(), &["works", "alder-ford", "--day", "soon"]).status.code(), Some(2));
    let bare = house();
    let none = run(bare.path(), &["works", "narrow-house"]);
    assert!(out(&none).contains("the book has no works"), "{}", out(&none));
}

#[test]
fn quantities_are_listed_by_trade() {
    let dir = house();
    let list = run(dir.path(), &["takeoff", "narrow-house"]);
    assert_eq!(list.status.code(), Some(0), "{}", err(&list));
    insta::assert_snapshot!("takeoff", out(&list));
    holds("takeoff.schema.json", &out(&run(dir.path(), &["takeoff", "narrow-house", "--json"])));
    let csv = out(&run(dir.path(), &["takeoff", "narrow-house", "--csv"]));
    assert!(csv.starts_with("trade,item,unit,net,waste,to order,measured on"), "{csv}");
}
