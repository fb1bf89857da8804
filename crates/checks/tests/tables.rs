//! The tables of checks as a whole: how many, of what kind; and the page that lists them, kept true.

use checks::{Check, Kind, Status, all};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

/// No table may count more than this: a long table of one kind would hide a short one.
const MOST_IN_A_TABLE: usize = 25;
const LEAST_CHECKS: usize = 150;

fn tables() -> BTreeMap<&'static str, Vec<Check>> {
    let mut tables: BTreeMap<&'static str, Vec<Check>> = BTreeMap::new();
    for check in all() {
        tables.entry(check.topic).or_default().push(check);
    }
    tables
}

#[test]
fn there_are_enough_and_no_table_outweighs_the_others() {
    let tables = tables();
    let total: usize = tables.values().map(Vec::len).sum();
    assert!(total >= LEAST_CHECKS, "{total} checks");
    for (topic, checks) in &tables {
        assert!(checks.len() <= MOST_IN_A_TABLE, "{topic}: {}", checks.len());
    }
}

#[test]
fn known_gaps_are_few_and_none_where_none_may_be() {
    let mut gaps = Vec::new();
    let mut total = 0;
    for check in all() {
        total += 1;
        if check.run().status == Status::KnownGap {
            gaps.push((check.topic, check.id));
        }
    }
    assert!(gaps.len() * 20 <= total, "more than 5 in 100 are known gaps: {gaps:?}");
    for (topic, id) in gaps {
        let closed = ["Moist air", "Saturation pressure", "ISO 6946", "Sun"].contains(&topic);
        assert!(!closed, "{id} may not be a known gap");
    }
}

#[test]
fn the_page_lists_what_there_is() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/checks.md");
    let page = page();
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(&path, &page).expect("docs/checks.md is written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
    assert!(kept == page, "docs/checks.md is stale: run UPDATE_DOCS=1 cargo test -p checks --test tables");
}

fn page() -> String {
    let tables = tables();
    let total: usize = tables.values().map(Vec::len).sum();
    let mut text = format!(
        "# The published checks\n\n\
         {total} numbers of ours stand beside numbers from elsewhere. `windtight verify` prints each with its deviation,\n\
         tolerance and source; `windtight verify --self-test` nudges an input of each until the result has moved three\n\
         tolerances, and demands that the check then says so. The same list runs as tests. The outside numbers, their\n\
         sources and the reasons of their tolerances lie under `reference/`.\n\n\
         Kinds: *published, seen* was read in its source (or in a copy or quotation of it, which the reference file then\n\
         says); *published, from memory* was recalled; *independent library* was computed by a general-purpose library;\n\
         *closed form* is exact; *own converged* is our own solution by another method.\n\n\
         This page is written by a test (`UPDATE_DOCS=1 cargo test -p checks --test tables`).\n\n\
         | table | checks | seen | from memory | library | closed form | own converged |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n"
    );
    for (topic, checks) in &tables {
        let of = |kind| checks.iter().filter(|c| c.kind == kind).count();
        let kinds = [
            Kind::PublishedSeen,
            Kind::PublishedMemory,
            Kind::IndependentLibrary,
            Kind::ClosedForm,
            Kind::OwnConverged,
        ];
        let counts: Vec<String> = kinds.map(|kind| of(kind).to_string()).to_vec();
        let _ = writeln!(text, "| {topic} | {} | {} |", checks.len(), counts.join(" | "));
    }
    text
}
