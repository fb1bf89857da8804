//! Joints that were made while the sheet of their product said not to: too cold, or without the primer.

use super::evidence::{day, records};
use super::site::{known_stage, place};
use super::types::{Finding, FindingKind, Outcome};
use super::words::{Words, plain};
use crate::check::Project;
use building::plan::{JointPlan, ProductPlan};
use building::records::{Body, JointInspection, Record};
use quantity::Dimension;

/// Findings of inspections whose conditions were not those of the sheet, however good the joint looked.
pub(super) fn broken(project: &Project) -> Vec<Finding> {
    let mut all = Vec::new();
    for record in records(project) {
        let Body::JointInspection(inspection) = &record.body else { continue };
        let Some(joint) = joint_of(project, &inspection.joint) else { continue };
        for product in products(project, joint) {
            let wrong = wrong(project, inspection, product);
            if !wrong.is_empty() {
                all.push(finding(project, record, joint, product, &wrong));
            }
        }
    }
    all
}

/// The joint a record names, in either order of its pair.
fn joint_of<'p>(project: &'p Project, name: &str) -> Option<&'p JointPlan> {
    let name = name.strip_prefix("joint.").unwrap_or(name).trim_matches('"').trim();
    project.building.joints.iter().find(|joint| {
        joint.at.is_none() && (joint.pair() == name || format!("{} / {}", joint.second, joint.first) == name)
    })
}

fn products<'p>(project: &'p Project, joint: &'p JointPlan) -> impl Iterator<Item = &'p ProductPlan> {
    let used = |p: &&ProductPlan| joint.carries.iter().any(|c| c.product.as_deref() == Some(p.name.as_str()));
    project.building.products.iter().filter(used)
}

fn wrong(project: &Project, inspection: &JointInspection, product: &ProductPlan) -> Vec<String> {
    let words = Words::of(&project.building);
    let mut wrong = Vec::new();
    let lowest = product.lowest_temperature.map(|key| project.building.values.nominal_of(key));
    if let (Some(lowest), Some(surface)) = (lowest, &inspection.surface_temperature)
        && surface.value < lowest
    {
        wrong.push(format!(
            "the surface was at {}, below its {}",
            surface.written,
            words.show(lowest, Dimension::Temperature)
        ));
    }
    if inspection.primed == Some(false) && !product.primer_on.is_empty() {
        wrong.push(format!("no primer was used; it asks for one on {}", product.primer_on.join(", ")));
    }
    wrong
}

fn finding(
    project: &Project,
    record: &Record,
    joint: &JointPlan,
    product: &ProductPlan,
    wrong: &[String],
) -> Finding {
    let name = joint.pair();
    let subject = format!("conditions at {}", plain(&name));
    let mut f =
        Finding::new(format!("conditions.{}.{}", record.head.id, product.name), FindingKind::Proof, subject);
    f.status = Outcome::NotMet;
    f.sentence = format!(
        "Joint {}: {} ({}). What looks good may let go later.",
        plain(&name),
        wrong.join(", and "),
        plain(&product.name)
    );
    f.stage = known_stage(project, "barrier");
    f.source = format!("site log, {}", day(record));
    f.place = Some(place(project, "joint", &name, &format!("joint.\"{name}\"")));
    f
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Folder;
    use building::records::Figure;

    /// The music school with records of our own in its log.
    fn school(change: impl Fn(&mut JointInspection)) -> (tempfile::TempDir, Project) {
        let dir = tempfile::tempdir().expect("a temporary folder");
        crate::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
        let folder = Folder::open(dir.path()).expect("opened");
        let mut project = crate::check(&folder).project.expect("a whole book");
        let mut body = JointInspection { passed: Some(true), ..JointInspection::default() };
        change(&mut body);
        project.log.records =
            vec![Record::new("r1", "2025-08-01T09:00:00-05:00", Body::JointInspection(body))];
        (dir, project)
    }

    #[test]
    fn a_joint_made_too_cold_is_told_however_good_it_looks() {
        let at = |celsius: f64, primed| {
            let (_dir, project) = school(|j| {
                j.joint = "party-floor / upper-wall".to_owned();
                j.primed = primed;
                j.surface_temperature =
                    Some(Figure { value: celsius, written: format!("{celsius} °C"), half_width: None });
            });
            broken(&project)
        };
        assert!(at(5.0, Some(true)).is_empty());
        let cold = at(-9.0, Some(true));
        assert!(cold[0].sentence.contains("-9 °C, below its 23.0 °F"), "{}", cold[0].sentence);
        assert!(at(5.0, Some(false))[0].sentence.contains("asks for one on soft-brick"));
    }

    #[test]
    fn a_tested_system_on_record_settles_its_gap_and_smoke_alone_does_not() {
        let open = |system: &str| {
            let (_dir, project) = school(|j| {
                j.joint = "conduit sleeves near the post line".to_owned();
                j.method = "smoke".to_owned();
                j.tested_system = system.to_owned();
                j.count = Some(9);
            });
            let gaps = super::super::site::gaps(&project);
            let of = |id: &str| gaps.iter().find(|f| f.id.ends_with(id)).expect("a gap").status;
            (
                of("air.rated.conduit sleeves near the post line"),
                of("air.penetration.conduit sleeves near the post line"),
            )
        };
        // Smoke shows that the sleeves are tight; only the system's name shows that they keep a fire.
        assert_eq!(open(""), (Outcome::NotMet, Outcome::Met));
        assert_eq!(open("system 12 (invented)"), (Outcome::Met, Outcome::Met));
    }

    #[test]
    fn every_finding_of_the_school_has_an_id_of_its_own() {
        let (_dir, project) = school(|j| j.joint = "upper-wall / deck-roof".to_owned());
        let all = super::super::site::gaps(&project).into_iter().chain(super::super::site::proof(&project));
        let mut ids: Vec<String> = all.map(|f| f.id).collect();
        let count = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), count);
    }

    /// What stays open on the invented job, so that its book keeps to its story.
    #[test]
    fn only_what_the_story_leaves_open_is_open() {
        let (_dir, project) = school(|j| j.joint = "none".to_owned());
        let ids: Vec<&str> = project.building.gaps.iter().map(|g| g.id.as_str()).collect();
        assert_eq!(
            ids,
            [
                "air.threshold.threshold / lobby-wall",
                "air.penetration.conduit sleeves near the post line",
                "air.penetration.roof beam ends, pocketed in brick",
                "air.penetration.floor beam ends, pocketed in brick",
                "air.rated.lobby-party-wall / lobby-slab",
                "air.rated.lobby-party-wall / party-floor",
                "air.rated.lobby-wall / lobby-party-wall",
                "air.rated.upper-wall / party-floor",
                "air.rated.conduit sleeves near the post line",
            ]
        );
    }
}
