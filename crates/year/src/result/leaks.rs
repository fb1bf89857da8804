//! Air through leaks over a year.

use serde::Serialize;

/// Air through leaks over a year, by the air flow network.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LeakAir {
    /// Mean inflow from outdoors, m³/s.
    pub outdoors_m3_s: f64,
    /// The same by the rule of thumb: the enhanced stack-and-wind model of the whole shell, m³/s.
    pub rule_of_thumb_m3_s: f64,
    /// Air exchanged with each neighbour, in the book's order.
    pub neighbours: Vec<NeighbourAir>,
}

/// Air exchanged with one neighbour.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct NeighbourAir {
    /// Name.
    pub name: String,
    /// A pressure is stated, so that air is exchanged at all.
    pub stated: bool,
    /// Mean inflow from it, m³/s.
    pub into_us_m3_s: f64,
    /// Mean flow it takes from us, m³/s.
    pub from_us_m3_s: f64,
    /// Hours a year in which its stated pressure is not zero.
    pub driven_h: f64,
    /// Mean inflow in these hours, m³/s.
    pub driven_into_us_m3_s: f64,
    /// Mean flow it takes in these hours, m³/s: beside the fans it acts like an imbalance.
    pub driven_from_us_m3_s: f64,
    /// Its air in ours, volume share: mean of the year, were all rooms mixed.
    pub tracer_mean: f64,
    /// The same on days with driven hours.
    pub tracer_driven_days: f64,
    /// Highest hour.
    pub tracer_highest: f64,
    /// That hour, from 0.
    pub tracer_highest_hour: usize,
}
