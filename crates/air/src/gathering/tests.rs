use super::answers::*;
use super::*;
use crate::contaminant::{Segment, Space};
use proptest::prelude::*;

/// CO2 of one person, L/s: 16.2 L/h.
const PERSON_L_S: f64 = 16.2 / 3600.0;

fn span(minutes: usize, people: f64) -> Span {
    Span { minutes, people, other_w: 0.0, set_flow_m3_h: None, airing_m3_h: 0.0, doors_m3_h: 0.0 }
}

fn recital() -> Gathering {
    Gathering {
        room: Room {
            volume_m3: 377.0,
            heat_capacity_j_k: 8e6,
            loss_w_k: 60.0,
            cooling_w: 3500.0,
            cool_above_c: 24.0,
        },
        adjoining: None,
        outdoors: Outdoors {
            co2_ppm: 420.0,
            temperature_c: 8.0,
            humidity_ratio: 0.004,
            pressure_pa: 98_800.0,
        },
        person: Person { co2_l_s: PERSON_L_S, sensible_w: 70.0, vapour_kg_s: 1.8e-5 },
        spans: vec![span(75, 90.0)],
        control: Control::Fixed(900.0),
        recovery: Recovery { heat: 0.77, vapour: 0.0, carried_over: 0.0 },
        start_ppm: 600.0,
        start_c: 21.0,
        start_humidity_ratio: 0.006,
    }
}

fn demand() -> Control {
    Control::Demand {
        ramp: Ramp { from_ppm: 700.0, to_ppm: 1100.0, least_m3_h: 150.0, most_m3_h: 900.0 },
        sensor: Sensor { lag_min: 3.0, error_ppm: 0.0, drift_ppm_year: 0.0, age_years: 0.0 },
        fastest_m3_h_min: 300.0,
    }
}

#[test]
fn fixed_flow_is_the_exact_solution() {
    let course = recital().run().unwrap();
    let hall = Space { volume_m3: 377.0, outdoor_ppm: 420.0 };
    for minute in [30, 60, 75] {
        let segment =
            Segment { duration_h: minute as f64 / 60.0, generation_l_s: 90.0 * PERSON_L_S, flow_m3_h: 900.0 };
        assert!((course[minute - 1].co2_ppm - hall.after(600.0, segment)).abs() < 1e-6);
    }
}

#[test]
fn an_adjoining_space_with_wide_doors_is_one_room() {
    let mut g = recital();
    g.adjoining = Some(Adjoining { volume_m3: 578.0, flow_m3_h: 0.0, temperature_c: 21.0 });
    g.spans[0].doors_m3_h = 1e6;
    let one = Gathering {
        room: Room { volume_m3: 955.0, ..g.room },
        adjoining: None,
        spans: vec![span(75, 90.0)],
        ..recital()
    };
    let (two, one) = (g.run().unwrap(), one.run().unwrap());
    assert!((two[74].co2_ppm - one[74].co2_ppm).abs() < 2.0, "{} {}", two[74].co2_ppm, one[74].co2_ppm);
    g.adjoining = None;
    assert_eq!(g.run().unwrap_err(), GatheringError::NoAdjoining);
}

#[test]
fn demand_control_follows_with_its_lag() {
    let g = Gathering { control: demand(), ..recital() };
    let course = g.run().unwrap();
    assert!(course[0].flow_m3_h < 200.0 && course[60].flow_m3_h > 890.0);
    // The sensor trails a rising room.
    assert!(course.iter().take(40).all(|m| m.sensor_ppm <= m.co2_ppm));
    let (best, worst) = sensor_band_ppm(&g, 100.0).unwrap();
    let plain = peak_ppm(&course);
    assert!(best <= plain && plain <= worst && worst > best, "{best} {plain} {worst}");
    let drifted = Control::Demand {
        ramp: Ramp { from_ppm: 700.0, to_ppm: 1100.0, least_m3_h: 150.0, most_m3_h: 900.0 },
        sensor: Sensor { lag_min: 3.0, error_ppm: 0.0, drift_ppm_year: -40.0, age_years: 5.0 },
        fastest_m3_h_min: 300.0,
    };
    assert!(peak_ppm(&Gathering { control: drifted, ..recital() }.run().unwrap()) > plain);
}

#[test]
fn the_first_failure_is_named() {
    let limits = Limits { co2_ppm: 1200.0, temperature_c: 26.0, relative_humidity: 0.7 };
    let course = recital().run().unwrap();
    let f = failures(&course, limits);
    assert_eq!(f[0].0, Failing::Co2);
    assert!((10..30).contains(&f[0].1), "{f:?}");
}

#[test]
fn the_flow_needed_just_meets_the_limit() {
    let g = recital();
    let flow = flow_needed_m3_h(&g, 1200.0).unwrap().unwrap();
    let peak = peak_ppm(&Gathering { control: Control::Fixed(flow), ..g.clone() }.run().unwrap());
    assert!((peak - 1200.0).abs() < 0.1, "{flow} {peak}");
    assert_eq!(flow_needed_m3_h(&g, 400.0).unwrap(), None);
    assert_eq!(flow_needed_m3_h(&g, 1e6).unwrap(), Some(0.0));
}

#[test]
fn recovery_by_the_logarithm() {
    let g = recital();
    let minutes = minutes_to_recover(&g, 800.0).unwrap().unwrap();
    let hall = Space { volume_m3: 377.0, outdoor_ppm: 420.0 };
    let exact = 60.0 * hall.hours_to_decay(peak_ppm(&g.run().unwrap()), 800.0, 900.0).unwrap();
    assert_eq!(minutes, exact.ceil() as usize);
    let none = Gathering { control: Control::Fixed(0.0), ..g };
    assert_eq!(minutes_to_recover(&none, 800.0).unwrap(), None);
}

#[test]
fn purge_and_doors_help_and_say_how_much() {
    let mut g = recital();
    let purge = worth_of_pre_purge_ppm(&g, 30, 900.0).unwrap();
    assert!(purge > 1.0 && purge < 180.0, "{purge}");
    g.adjoining = Some(Adjoining { volume_m3: 578.0, flow_m3_h: 0.0, temperature_c: 21.0 });
    let doors = worth_of_open_doors_ppm(&g, 2000.0).unwrap();
    assert!(doors > 100.0, "{doors}");
    let plain = recital().run().unwrap();
    let aired = {
        let mut g = recital();
        g.spans[0].airing_m3_h = 900.0;
        g.run().unwrap()
    };
    let ratio = infection_ratio(&aired, &plain, 420.0, 20.0).unwrap();
    assert!(ratio > 0.4 && ratio < 0.8, "{ratio}");
}

#[test]
fn head_counts_never_pass_the_posted_load() {
    let limits = Limits { co2_ppm: 1200.0, temperature_c: 28.0, relative_humidity: 0.7 };
    // 530 cfm at 10 cfm a person and 0.06 cfm/ft²: 46 people in the demonstration's hall.
    let code = CodeRate {
        person_l_s: 10.0 * 0.471_947,
        area_l_s_m2: 0.06 * 5.08,
        floor_m2: 104.75,
        delivered_l_s: 530.0 * 0.471_947,
    };
    let free = head_count(&recital(), limits, code, None).unwrap();
    assert_eq!(free.code, 46);
    assert_eq!(free.air_only, free.co2.min(free.heat).min(free.code));
    assert!(free.sentence().contains("ask the code official"));
    let posted = head_count(&recital(), limits, code, Some(40)).unwrap();
    assert!(posted.co2 <= 40 && posted.heat <= 40 && posted.code <= 40 && posted.air_only <= 40);
    assert!(posted.sentence().contains("posted occupant load 40"));
}

#[test]
fn heat_rises_to_its_balance() {
    let mut g = recital();
    g.spans = vec![span(60 * 24 * 10, 90.0)];
    g.room.cooling_w = 0.0;
    let last = *g.run().unwrap().last().unwrap();
    let air = 900.0 / 3600.0 * 1.2 * 1006.0 * 0.23;
    let steady = 8.0 + 6300.0 / (60.0 + air);
    assert!((last.temperature_c - steady).abs() < 0.05, "{} {steady}", last.temperature_c);
    // Vapour: 90·1.8e-5 kg/s over 0.3 kg/s of air.
    assert!((last.humidity_ratio - (0.004 + 90.0 * 1.8e-5 / 0.3)).abs() < 1e-6);
}

#[test]
fn bad_numbers_are_named() {
    let mut g = recital();
    g.room.volume_m3 = f64::NAN;
    assert!(g.run().unwrap_err().to_string().contains("volume"));
    let mut g = recital();
    g.spans.clear();
    assert_eq!(g.run().unwrap_err(), GatheringError::Empty);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn more_people_never_less_co2(n in 1.0..150.0f64, more in 0.0..50.0f64) {
        let peak = |n| peak_ppm(&Gathering { control: demand(), spans: vec![span(40, n)], ..recital() }.run().unwrap());
        prop_assert!(peak(n + more) >= peak(n) - 1e-9);
    }

    #[test]
    fn co2_stays_between_outdoors_and_steady(n in 0.0..150.0f64, q in 100.0..3000.0f64) {
        let g = Gathering { control: Control::Fixed(q), spans: vec![span(60, n)], ..recital() };
        let top = 600.0_f64.max(420.0 + n * PERSON_L_S * 3.6e6 / q);
        for m in g.run().unwrap() {
            prop_assert!(m.co2_ppm >= 420.0 && m.co2_ppm <= top + 1e-6);
        }
    }
}
