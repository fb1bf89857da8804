//! What a test day has to do with in this building.

use building::Building;
use project::air::Story;

use crate::sheet::test_day::TestDay;

/// Gathers the names a test day goes through.
pub fn test_day(building: &Building, story: &Story) -> TestDay {
    let plain = |name: &str| name.replace('-', " ");
    let count = |n: u32| if n > 1 { format!("{n} × ") } else { String::new() };
    TestDay {
        openings: building.openings.iter().map(|o| o.name.clone()).collect(),
        units: building
            .ventilation
            .iter()
            .map(|unit| match unit.space {
                Some(space) => format!("{} in {}", unit.name, building.spaces[space.0].label),
                None => unit.name.clone(),
            })
            .collect(),
        penetrations: building
            .penetrations
            .iter()
            .map(|p| format!("{}{}", count(p.plan.count), p.plan.name))
            .collect(),
        burning: building.appliances.iter().map(|a| format!("{}, {}", a.name, plain(&a.place))).collect(),
        neighbours: building.neighbours.iter().map(|n| plain(&n.name)).collect(),
        fan: story.fan.clone(),
        seals: story.air.latest().map(|(l, _)| l.unfinished.clone()).unwrap_or_default(),
    }
}
