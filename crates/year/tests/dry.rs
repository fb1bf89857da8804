//! Moisture of a small invented house: every outer assembly told of, refused where rain is not known, wetter when damper.

mod support;

use building::Building;
use support::House;
use year::dry::report::{DryReport, Status};
use year::dry::{Wetting, closely, judge};

fn judged(building: &Building) -> DryReport {
    judge(building, &climate::demo_year(), &building.values.nominal()).unwrap()
}

#[test]
fn every_outer_assembly_is_told_of_and_rained_on_masonry_without_rain_is_not_judged() {
    let building = House::USUAL.building();
    let report = judged(&building);
    for name in ["wall", "roof"] {
        assert!(report.cases.iter().any(|c| c.assembly == name), "{name}");
    }
    assert!(report.not_run.is_empty(), "{:?}", report.not_run);
    assert_eq!(report.rain, "none");
    for case in &report.cases {
        let strips =
            case.layers.iter().all(|l| l.weekly_humidity.len() == 52 && l.weekly_water_kg_m2.len() == 52);
        assert!(strips && case.levels.len() == case.layers.len() + 1, "{}", case.id);
        assert!(case.levels.iter().all(|l| l.coldest_c <= l.usual_c), "{}", case.id);
        assert!(!case.estimates.is_empty() && case.sentence.len() > 20, "{}", case.id);
        let open = case.assembly == "wall";
        assert_eq!(case.status() == Status::NotJudged, open, "{}: {}", case.id, case.sentence);
        assert!(!open || case.sentence.contains("no rain"), "{}", case.sentence);
        assert!((0.05..0.8).contains(&case.winter_air[1]), "{:?}", case.winter_air);
    }
    // One drying test an assembly.
    assert_eq!(report.cases.iter().filter(|c| c.drying.is_some()).count(), 2);
    // What parts rooms of ours is none of its business.
    assert!(report.cases.iter().all(|c| c.assembly != "ceiling" && c.assembly != "partition"));
}

#[test]
fn one_assembly_closely_has_its_scenarios_and_the_layer_that_was_asked_for() {
    let building = House::USUAL.building();
    let climate = climate::demo_year();
    let r = building.values.nominal();
    let wet = |layer: &str| Wetting { layer: layer.to_owned(), added_kg_m2: 0.3 };
    let report = closely(&building, &climate, &r, "roof", Some(&wet("softwood"))).unwrap();
    let worst = &report.cases[0];
    let test = worst.drying.as_ref().unwrap();
    assert_eq!((test.wetted.as_str(), test.added_kg_m2), ("softwood", 0.3));
    let days = |way: &str, month: usize| {
        test.cases.iter().find(|c| c.way == way && c.month == month).unwrap().days.unwrap_or(u32::MAX)
    };
    for month in [0, 6] {
        assert!(
            days("both", month) <= days("inside", month).min(days("outside", month)),
            "{:?}",
            test.sentence
        );
    }
    assert!(worst.scenarios.len() >= 6, "{:?}", worst.scenarios.len());
    for (assembly, layer) in [("no such", "softwood"), ("roof", "no such"), ("partition", "gypsum board")] {
        assert!(closely(&building, &climate, &r, assembly, Some(&wet(layer))).is_err(), "{assembly} {layer}");
    }
}
