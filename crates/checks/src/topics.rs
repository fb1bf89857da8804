//! The checks by subject, one file each. A topic's `checks()` returns its list; add it to [`all`].

use crate::Check;

mod analytic_zone;
mod buffering;
mod comfort;
mod commissioning;
mod contaminants;
mod degree_days;
mod details;
mod ducts;
mod electricity;
mod flow_networks;
mod gatherings;
mod geometry;
mod glazing;
mod heat_pumps;
mod hot_water;
mod iso10211;
mod iso10456;
mod iso13370;
mod iso13786;
mod iso13788;
mod iso6946;
mod joints;
mod line_fits;
mod moisture_properties;
mod moisture_transport;
mod monthly;
mod mould;
mod odds_beliefs;
mod odds_causes;
mod odds_numbers;
mod pressure_tests;
mod psychrometrics;
mod shading;
mod simple_hourly;
mod sun;
mod test_budgets;
mod tilted;
mod transient;
mod units;
mod ventilation;
mod whole_building;

/// Returns every check of every topic, in a fixed order.
pub(crate) fn all() -> Vec<Check> {
    let topics: &[fn() -> Vec<Check>] = &[
        line_fits::checks,
        odds_numbers::checks,
        odds_causes::checks,
        odds_beliefs::checks,
        contaminants::checks,
        gatherings::checks,
        flow_networks::checks,
        commissioning::checks,
        ducts::checks,
        heat_pumps::checks,
        hot_water::checks,
        electricity::checks,
        monthly::checks,
        whole_building::checks,
        simple_hourly::checks,
        buffering::checks,
        analytic_zone::checks,
        pressure_tests::checks,
        test_budgets::checks,
        ventilation::checks,
        comfort::checks,
        degree_days::checks,
        geometry::checks,
        psychrometrics::checks,
        shading::checks,
        sun::checks,
        tilted::checks,
        units::checks,
        iso6946::checks,
        iso13370::checks,
        iso13786::checks,
        transient::checks,
        glazing::checks,
        iso10456::checks,
        moisture_transport::checks,
        moisture_properties::checks,
        iso13788::checks,
        mould::checks,
        iso10211::checks,
        joints::checks,
        details::checks,
    ];
    topics.iter().flat_map(|topic| topic()).collect()
}
