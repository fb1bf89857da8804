//! A small house through a year: balances that close, properties that must hold, limits judged.

mod support;

use building::limits;
use support::House;
use year::result::{Cause, YearResult};
use year::{Frame, Grain, Known, Shown, Use, YearOptions, Years};

fn run(house: House, use_case: Use) -> YearResult {
    let building = house.building();
    year::run(&building, &climate::demo_year(), use_case, Grain::Limits).unwrap()
}

fn heating(house: House) -> f64 {
    let building = house.building();
    let climate = climate::demo_year();
    let frame =
        Frame::new(&building, &climate, Use::Standard, Grain::Limits, &YearOptions::default()).unwrap();
    frame.figures(&[building.values.nominal()], 1).unwrap()[0].demand.heating_j
}

#[test]
fn every_month_and_zone_closes() {
    for use_case in [Use::Standard, Use::Real] {
        let year = run(House::USUAL, use_case);
        assert!(year.closure < 1e-6, "{}", year.closure);
        for zone in &year.zones {
            for month in &zone.months {
                assert!(month.balance.residual_j().abs() < 1e-6 * month.balance.gross_j());
            }
        }
        for month in &year.months {
            assert!(month.balance.residual_j().abs() < 1e-6 * month.balance.gross_j());
            // Zones added up exchange nothing with each other.
            assert_eq!(month.balance.get(Cause::OtherZones), 0.0);
        }
        let demand: f64 = year.months.iter().map(|m| m.demand.heating_j).sum();
        assert!((demand / year.demand.heating_j - 1.0).abs() < 1e-9);
        assert!((year.balance().get(Cause::Heating) / year.demand.heating_j - 1.0).abs() < 1e-9);
    }
}

#[test]
fn peaks_are_told_with_what_made_them() {
    let year = run(House::USUAL, Use::Standard);
    for peak in [year.peaks.heating, year.peaks.cooling, year.peaks.heating_day, year.peaks.cooling_day] {
        assert!(peak.power_w > 0.0);
        assert!(peak.balance.residual_j().abs() < 1e-6 * peak.balance.gross_j());
    }
    assert!(year.peaks.heating.power_w >= year.peaks.heating_day.power_w);
    assert!(year.peaks.heating_day.power_w >= year.design_heating_load_w * (1.0 - 1e-9));
    assert!(year.peaks.heating_day.outdoor.temperature_c < 0.0);
    assert!(year.peaks.cooling_day.outdoor.temperature_c > 20.0);
    assert!(year.design_heating_load_w > 0.0);
}

#[test]
fn the_same_numbers_give_the_same_year_in_any_company() {
    let building = House::USUAL.building();
    let climate = climate::demo_year();
    let frame = Frame::new(&building, &climate, Use::Real, Grain::Limits, &YearOptions::default()).unwrap();
    let nominal = building.values.nominal();
    let mut other = nominal.clone();
    other.0[building.airtightness.expected.0 as usize] *= 2.0;
    let alone = frame.figures(std::slice::from_ref(&nominal), 1).unwrap()[0];
    let beside = frame.figures(&[other, nominal.clone()], 8).unwrap();
    assert_eq!(alone, beside[1]);
    assert!(beside[0].demand.heating_j > alone.demand.heating_j);
    let told = frame.year(&nominal).unwrap();
    assert_eq!(told, frame.year(&nominal).unwrap());
    assert!((told.demand.heating_j / alone.demand.heating_j - 1.0).abs() < 1e-9);
}

#[test]
fn a_better_house_needs_no_more_heat() {
    let usual = heating(House::USUAL);
    for better in [
        House { insulation_mm: 240.0, ..House::USUAL },
        House { leak_per_h: 0.5, ..House::USUAL },
        House { recovery: 0.90, ..House::USUAL },
    ] {
        assert!(heating(better) < usual);
    }
    // The joints' share of outside dimensions grows with thickness, but never eats up what insulation saves.
    assert!(heating(House { insulation_mm: 60.0, ..House::USUAL }) > 1.2 * usual);
}

#[test]
fn a_house_without_cooling_plant_is_warm_instead() {
    let cooled = run(House::USUAL, Use::Standard);
    let free = run(House { cools: false, ..House::USUAL }, Use::Standard);
    // What the solver leaves of a power that is not there is rounding.
    assert!(free.demand.cooling_j() < 1.0);
    assert!(cooled.demand.cooling_j() > 0.0);
    assert!(free.comfort.warm_hours > cooled.comfort.warm_hours);
    assert!(free.uncooled.is_none() && cooled.uncooled.is_some());
    assert_eq!(cooled.comfort.warm_hours, 0.0);
}

#[test]
fn rooms_and_zones_agree() {
    let building = House::USUAL.building();
    let climate = climate::demo_year();
    // Two rooms in two zones: both grains are the same building.
    for row in year::compare_grains(&building, &climate, Use::Standard).unwrap() {
        assert!(row.relative.abs() < 1e-9, "{row:?}");
    }
}

#[test]
fn a_gathering_shows_in_its_room() {
    let year = run(House::USUAL, Use::Real);
    let feast = &year.gatherings[0];
    assert_eq!(feast.occurrences, 12);
    assert!(feast.co2_peak_ppm > 600.0 && feast.co2_peak_ppm < 5000.0, "{feast:?}");
    assert_eq!(feast.worst.co2_ppm.len(), feast.worst.people.len());
    assert_eq!(feast.worst.people.iter().filter(|p| **p > 0.0).count(), 16);
    let highest = feast.worst.co2_ppm.iter().copied().fold(0.0, f64::max);
    assert!((highest - feast.co2_peak_ppm).abs() < 1e-9);
    // The zone holds the room alone; it began below 600 ppm or so, and shares air with upstairs.
    assert!(feast.co2_peak_ppm < 1.1 * feast.shut_peak_ppm);
}

#[test]
fn limits_are_judged_by_the_count_they_name() {
    let building = House::USUAL.building();
    let climate = climate::demo_year();
    let of = |use_case| year::run(&building, &climate, use_case, Grain::Limits).unwrap();
    let (standard, real) = (of(Use::Standard), of(Use::Real));
    let years = Years { standard: &standard, real: &real };
    let set = limits::built_in("new-build").unwrap();
    let nominal = building.values.nominal();
    let judge = |known: &Known| year::judge(&building, &climate, &nominal, years, known, &set);
    let judged = judge(&Known::default());
    assert_eq!(judged.rows.len(), set.for_climate(None).len());
    let row = |id: &str| judged.rows.iter().find(|row| row.limit.id == id).unwrap();
    let area = standard.counted[0].floor_area_m2;
    assert_eq!(row("heating-demand").value, Some(standard.monthly.heating_j / area));
    let hourly = row("heating-demand").beside.iter().find(|b| b.count == "hourly method").unwrap();
    assert_eq!(hourly.value, standard.demand.heating_j / area);
    assert_eq!(row("air-change").value, Some(1.0));
    assert_eq!(row("air-change").met, Some(false));
    assert!(row("cooling-demand").allowance > 0.0);
    assert_eq!(row("surface-temperature").met, None);
    assert!(row("renewable-primary-energy").value.is_some_and(|v| v > 0.0));
    for row in judged.rows.iter().filter(|row| !row.causes.is_empty()) {
        let sum: f64 = row.causes.iter().map(|c| c.share).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{}", row.limit.id);
        assert!(row.causes.windows(2).all(|pair| pair[0].share >= pair[1].share));
    }
    let heating = &judged.groups[0];
    assert_eq!((heating.name.as_str(), heating.rows.len()), ("heating", 2));
    let verdicts: Vec<_> = heating.rows.iter().map(|place| judged.rows[*place].met).collect();
    assert_eq!(heating.met, Some(verdicts.contains(&Some(true))));

    // A reading replaces the stated leak.
    let leak = Shown { value: 0.5 * standard.counted[0].volume_m3, source: "a test, invented".to_owned() };
    let read = judge(&Known { leak_m3_h: Some(leak), ..Known::default() });
    let row = read.rows.iter().find(|row| row.limit.id == "air-change").unwrap();
    assert!((row.value.unwrap() - 0.5).abs() < 1e-12 && row.met == Some(true));
}
