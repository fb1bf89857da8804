//! A change held against the book: limits, chances, findings and properties before and after.
//!
//! Both are sampled on the same random numbers, cause by cause, so that what differs is what the change does.

use super::{Asked, Chances, work_out_like};
use crate::book::change::Change;
use crate::check::Project;
use crate::standing::{Finding, FindingKind, Odds, Outcome, Years, standing};
use building::stated::Stated;
use quantity::{System, show};
use serde::{Deserialize, Serialize};

/// One state of a limit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct State {
    /// Result at the stated values, in the row's unit.
    pub value: Option<f64>,
    /// Chance on paper.
    pub odds: Option<Odds>,
    /// Chance in use.
    pub odds_in_use: Option<Odds>,
}

/// A limit before and after.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitRow {
    /// Id.
    pub limit: String,
    /// What it is called.
    pub title: String,
    /// Threshold, in `unit`.
    pub threshold: Option<f64>,
    /// Unit, SI.
    pub unit: String,
    /// Dimension, as named by the quantity crate.
    pub dimension: String,
    /// As the book stands.
    pub before: State,
    /// With the change.
    pub after: State,
}

/// A stated number that the change moves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Property {
    /// Its id.
    pub id: String,
    /// In words.
    pub words: String,
    /// As the book has it; absent when it is new.
    pub before: Option<String>,
    /// With the change; absent when it goes.
    pub after: Option<String>,
    /// Ratings of the two, when they differ or are missing.
    pub ratings: String,
}

/// A finding that comes, goes or turns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Turned {
    /// Its id.
    pub finding: String,
    /// What happens to it: `new`, `gone`, or the verdicts.
    pub how: String,
    /// Its sentence with the change, or the old one when it is gone.
    pub sentence: String,
}

/// The comparison, ready for a one-page sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// What the change says of itself.
    pub change: Change,
    /// Name of the job.
    pub project: String,
    /// True when the book says it is invented.
    pub invented: bool,
    /// Limits, as ordered with the change.
    pub limits: Vec<LimitRow>,
    /// All binding limits together, before and after, on paper and in use.
    pub together: [[Option<Odds>; 2]; 2],
    /// Stated numbers that move.
    pub properties: Vec<Property>,
    /// Findings that turn.
    pub findings: Vec<Turned>,
    /// For the contractor's declaration: each departure in one line.
    pub deviations: Vec<String>,
    /// Samples of each chance.
    pub samples: usize,
    /// What is judgement, and what was not checked.
    pub notes: Vec<String>,
}

/// Compares a project with itself changed.
///
/// # Errors
/// In words, when chances cannot be worked out for one of the two.
pub fn compare(
    before: &Project,
    after: &Project,
    change: Change,
    asked: Asked,
) -> Result<Comparison, String> {
    let (years_before, years_after) = (Years::run(before), Years::run(after));
    let old = work_out_like(before, &years_before, asked, None)?;
    let new = work_out_like(after, &years_after, asked, Some(&old))?;
    let (was, is) = (standing(before, &years_before), standing(after, &years_after));
    let state = |finding: Option<&Finding>, chances: &Chances, id: &str| {
        let limit = chances.limits.iter().find(|l| l.id == id);
        let wire = super::told::odds_of;
        State {
            value: finding.and_then(|f| f.value),
            odds: limit.and_then(|l| l.paper.odds).map(wire),
            odds_in_use: limit.and_then(|l| l.in_use.odds).map(wire),
        }
    };
    let row = |f: &Finding| {
        let id = f.id.trim_start_matches("limit.").to_owned();
        LimitRow {
            title: f.subject.clone(),
            threshold: f.threshold,
            unit: f.unit.clone(),
            dimension: f.dimension.clone(),
            before: state(was.finding(&f.id), &old, &id),
            after: state(Some(f), &new, &id),
            limit: id,
        }
    };
    let mut limits: Vec<LimitRow> = is.limits().filter(|f| !f.advisory).map(row).collect();
    // What the change moves most comes first.
    let moves = |r: &LimitRow| {
        let of = |a: Option<Odds>, b: Option<Odds>| a.zip(b).map_or(0.0, |(a, b)| (a.p - b.p).abs());
        of(r.before.odds, r.after.odds).max(of(r.before.odds_in_use, r.after.odds_in_use))
    };
    limits.sort_by(|a, b| moves(b).total_cmp(&moves(a)));
    let properties = properties(before, after);
    let deviations = deviations(&change, &properties);
    let mut notes = new.notes.clone();
    notes.push(
        "A change is not accepted by being computed: what touches structure, fire, smoke, combustion air or refrigerant \
         is for licensed designers and the code official."
            .to_owned(),
    );
    let together = |c: &Chances| c.together.map(|o| o.map(super::told::odds_of));
    Ok(Comparison {
        project: before.building.project.name.clone(),
        invented: before.building.project.invented,
        together: [together(&old), together(&new)],
        findings: turned(&was.findings, &is.findings),
        limits,
        properties,
        deviations,
        samples: asked.samples,
        notes,
        change,
    })
}

/// Stated values that differ, by id.
fn properties(before: &Project, after: &Project) -> Vec<Property> {
    let system = after.building.project.units;
    let (old, new) = (&before.building.values, &after.building.values);
    let mut all = Vec::new();
    for (_, stated) in new.iter() {
        match old.key(&stated.id).map(|key| old.get(key)) {
            Some(was) if same(was, stated) => {}
            Some(was) => all.push(property(
                after,
                stated,
                Some(told(was, system)),
                Some(told(stated, system)),
                ratings(was, stated),
            )),
            None => all.push(property(after, stated, None, Some(told(stated, system)), String::new())),
        }
    }
    for (_, was) in old.iter() {
        if new.key(&was.id).is_none() {
            all.push(property(before, was, Some(told(was, system)), None, String::new()));
        }
    }
    all
}

fn property(
    of: &Project,
    stated: &Stated,
    before: Option<String>,
    after: Option<String>,
    ratings: String,
) -> Property {
    let words = super::words::cause(&of.building, &stated.id);
    Property { id: stated.id.clone(), words, before, after, ratings }
}

fn same(a: &Stated, b: &Stated) -> bool {
    a.value == b.value && a.distribution == b.distribution && a.rating == b.rating
}

fn told(stated: &Stated, system: System) -> String {
    let spread = stated.distribution.sd();
    let size = stated.value.abs();
    let about = if spread > 0.0 && size > 0.0 {
        format!(" ± {:.0} %", 200.0 * spread / size)
    } else {
        String::new()
    };
    format!("{}{about} ({})", show(stated.value, stated.dimension, system), stated.basis)
}

fn ratings(a: &Stated, b: &Stated) -> String {
    match (&a.rating, &b.rating) {
        (Some(x), Some(y)) if !x.comparable(y) => format!("not comparable: {x} against {y}"),
        (Some(x), None) => format!("{x} against no rating stated"),
        (None, Some(y)) => format!("no rating stated against {y}"),
        _ => String::new(),
    }
}

fn turned(was: &[Finding], is: &[Finding]) -> Vec<Turned> {
    let word = |o: Outcome| match o {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NotKnown => "not known",
    };
    let mut all = Vec::new();
    for f in is {
        let how = match was.iter().find(|w| w.id == f.id) {
            None => "new".to_owned(),
            Some(w) if w.status != f.status => format!("{} → {}", word(w.status), word(f.status)),
            // A caution that stays says the same of both.
            Some(w) if f.kind != FindingKind::Limit && w.sentence != f.sentence => {
                "says other than before".to_owned()
            }
            Some(_) => continue,
        };
        all.push(Turned { finding: f.id.clone(), how, sentence: f.sentence.clone() });
    }
    for w in was.iter().filter(|w| is.iter().all(|f| f.id != w.id)) {
        all.push(Turned { finding: w.id.clone(), how: "gone".to_owned(), sentence: w.sentence.clone() });
    }
    all
}

/// One line for each departure from what was designed.
fn deviations(change: &Change, properties: &[Property]) -> Vec<String> {
    let mut all: Vec<String> = change.remove.iter().map(|r| format!("left out: {r}")).collect();
    for p in properties {
        let text = match (&p.before, &p.after) {
            (Some(a), Some(b)) => format!("{}: designed {a}, built {b}", p.words),
            (None, Some(b)) => format!("{}: not designed, built {b}", p.words),
            (Some(a), None) => format!("{}: designed {a}, not built", p.words),
            (None, None) => continue,
        };
        let rating = if p.ratings.is_empty() { String::new() } else { format!("; {}", p.ratings) };
        all.push(format!("{text}{rating}"));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Folder;

    const CHANGE: &str = r#"
[change]
about = "less on the roof, no hatch"
agree = "designer"
remove = ["penetration.roof hatch"]

[assembly.deck-roof]
layers = [ { name = "wood-fibre, three staggered layers", thickness = "120 mm" } ]
"#;

    #[test]
    fn a_thinner_roof_costs_heat_and_is_a_deviation() {
        let dir = tempfile::tempdir().expect("a temporary folder");
        crate::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        let before = crate::check(&folder).project.expect("a whole book");
        let (after, change, _) = crate::open_changed(&folder, "change.toml", CHANGE).expect("a whole change");
        assert_eq!(change.agree, ["designer"]);
        assert_eq!(after.building.penetrations.len() + 1, before.building.penetrations.len());
        let asked = Asked { samples: 64, seed: 1 };
        let got = compare(&before, &after, change, asked).expect("compared");
        let row = got.limits.iter().find(|r| r.limit == "heating-demand").expect("a row");
        assert!(row.after.value > row.before.value);
        let p = |s: &State| s.odds_in_use.expect("a chance").p;
        assert!(p(&row.after) < p(&row.before));
        // What the change does not touch has the same chance to the last sample.
        let tight = got.limits.iter().find(|r| r.limit == "air-change").expect("a row");
        assert_eq!(tight.before, tight.after);
        assert!(
            got.deviations.iter().any(|d| d.starts_with("thickness of wood fibre")),
            "{:?}",
            got.deviations
        );
        assert!(got.deviations.contains(&"left out: penetration.roof hatch".to_owned()));
    }

    #[test]
    fn a_change_that_names_nothing_is_told_in_its_own_file() {
        let dir = tempfile::tempdir().expect("a temporary folder");
        crate::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        let text = "[change]\nabout = \"x\"\nremove = [\"penetration.chimney\"]\ncolour = \"red\"\n";
        let report = crate::open_changed(&folder, "change.toml", text).expect_err("two mistakes");
        let shown = report.render(crate::diagnostic::Style { width: 80, ..Default::default() });
        assert!(
            shown.contains("change.toml:3") && shown.contains("chimney") && shown.contains("colour"),
            "{shown}"
        );
    }
}
