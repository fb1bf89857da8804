//! The machines' year: sums that close, couplings that settle.

mod support;

use support::House;
use year::result::EndUse;
use year::services::{layout, places, size};
use year::{Grain, Use};

#[test]
fn end_uses_are_the_sum_of_their_hours_and_months() {
    let building = House::USUAL.building();
    for use_case in [Use::Standard, Use::Real] {
        let year = year::run(&building, &climate::demo_year(), use_case, Grain::Limits).unwrap();
        let sum = year.machines.year();
        let delivered: f64 = year.energy.end_uses.iter().map(|e| e.delivered_j).sum();
        assert!((delivered / sum.used_j() - 1.0).abs() < 1e-9);
        assert!(year.machines.residual_j < 1e-3, "{}", year.machines.residual_j);
        let told = year.end_use(EndUse::Equipment).unwrap().delivered_j;
        let booked = year::assemble::equipment_electricity_j(&building, &building.values.nominal());
        assert!((told - booked).abs() <= 1e-9 * booked.max(1.0));
        let balance =
            sum.bought_j + sum.solar_j - sum.sold_j - sum.battery_lost_j - (sum.used_j() - sum.fuel_j);
        assert!((balance - year.machines.battery_stored_j).abs() < 1.0, "{balance}");
    }
}

#[test]
fn rooms_and_loads_are_told() {
    let building = House::USUAL.building();
    let (climate, r) = (climate::demo_year(), building.values.nominal());
    let layouts = layout::layouts(&building, &climate, &r).unwrap();
    for pair in layouts.chunks(2) {
        assert_eq!((pair[0].doors_open, pair[1].doors_open), (false, true));
    }
    let sizing = size::size(&building, &climate, &r).unwrap();
    assert!(sizing.heating_range.from_w > 0.0 && sizing.heating_range.to_w >= sizing.heating_range.from_w);
    let (low, high) = sizing.heating_range.spread_w;
    assert!(low < sizing.heating[0].power_w && high > sizing.heating[0].power_w, "{low} {high}");
    assert!(places::compare(&building, &climate, &r).unwrap().is_empty());
}
