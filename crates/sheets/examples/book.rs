//! Draws the sheets of a project folder with the made-up standing of the specimen, to look at the drawings of a
//! real model before any year was run.
//!
//! Run `cargo run -p sheets --example book -- PROJECT FOLDER`.

#[allow(dead_code, reason = "only the standing is wanted here")]
#[path = "../tests/specimen/mod.rs"]
mod specimen;

use building::Building;
use project::{book, source::Folder};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (from, to) = (arguments.next().unwrap_or_default(), arguments.next().unwrap_or_else(|| ".".into()));
    let folder = Folder::open(from.as_ref()).map_err(|_| "no project folder there")?;
    let (building, problems) = Building::derive(book::read(&folder).plan);
    for problem in problems {
        eprintln!("{problem:?}");
    }
    let mut standing = specimen::pages::standing("us");
    standing.findings.retain(|f| f.kind != project::standing::FindingKind::Gap);
    for gap in &building.gaps {
        let mut finding = specimen::pages::standing("us").findings[6].clone();
        finding.id = format!("gap.{}", gap.id);
        finding.sentence = gap.sentence.clone();
        standing.findings.push(finding);
    }
    let workings = sheets::workings(&building, &building.values.nominal());
    let input = sheets::Input {
        standing: &standing,
        building: &building,
        workings: &workings,
        year: None,
        revision: "0000000000",
    };
    for sheet in sheets::render(&input) {
        std::fs::write(format!("{to}/{}", sheet.file_name), sheet.html)?;
    }
    Ok(())
}
