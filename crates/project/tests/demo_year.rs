//! The demonstration's year: closes, agrees between grains, and lies where the hand balance of its invented story puts it.

use project::Project;
use year::result::YearResult;
use year::{Grain, Known, Shown, Use, Years};

fn demo() -> Project {
    // A folder of its own: what is worked out is kept beside the book.
    let folder = tempfile::tempdir().expect("a temporary folder");
    project::demo::MUSIC_SCHOOL.write(folder.path()).expect("written");
    match project::open(folder.path()) {
        Ok((project, _)) => project,
        Err(report) => panic!("{report:?}"),
    }
}

fn run(project: &Project, use_case: Use) -> YearResult {
    year::run(&project.building, &climate::demo_year(), use_case, Grain::Limits).unwrap()
}

fn kwh(joules: f64) -> f64 {
    joules / 3.6e6
}

#[test]
fn the_year_closes_and_lies_near_the_hand_balance() {
    let project = demo();
    for use_case in [Use::Standard, Use::Real] {
        let year = run(&project, use_case);
        assert!(year.closure < 1e-6, "{}", year.closure);
        for month in year.zones.iter().flat_map(|zone| &zone.months).chain(&year.months) {
            assert!(month.balance.residual_j().abs() < 1e-6 * month.balance.gross_j());
        }
        // By hand: about 158 W/K for fabric and air, 3,400 kWh of useful heat. The hand balance knows neither joints
        // beside the windows' (about 400 kWh here), nor the sky, nor what the water heater takes from its room. While
        // joints were guessed by outside dimensions they made 1,300 kWh and hid the difference; worked out, the monthly
        // figure lies a fifth below the hand's.
        // It takes leaks by the rule of thumb; the network finds less outdoor air, because some comes up from the warm
        // pottery. That difference is taken off: 0.33 Wh/(m³·K) over 2,150 K·d.
        let leaks = &year.leaks;
        let less = 3600.0 * (leaks.rule_of_thumb_m3_s - leaks.outdoors_m3_s) * 0.33 * 2150.0 * 24.0 / 1000.0;
        assert!(less > 0.0 && less < 400.0, "{less}");
        let hand = 3_400.0 - less;
        assert!((kwh(year.demand.heating_j) / hand - 1.0).abs() < 0.30, "{}", kwh(year.demand.heating_j));
        assert!((kwh(year.monthly.heating_j) / hand - 1.0).abs() < 0.30, "{}", kwh(year.monthly.heating_j));
    }
}

#[test]
fn zones_stand_for_their_rooms() {
    let project = demo();
    let of = |r#use| year::compare_grains(&project.building, &climate::demo_year(), r#use).unwrap();
    for row in of(Use::Standard).into_iter().chain(of(Use::Real)) {
        // Two parts in a hundred is the aim. Heating misses it by a little: rooms share by their doors only, zones share
        // all; the plant room is heated against what the water heater takes from it.
        let most = if row.result.starts_with("heating") { 0.03 } else { year::tell::GOOD_MERGE };
        assert!(row.relative.abs() < most, "{row:?}");
    }
}

#[test]
fn the_reading_of_september_fails_by_one_volume_and_passes_by_the_other() {
    let project = demo();
    let climate = climate::demo_year();
    let (standard, real) = (run(&project, Use::Standard), run(&project, Use::Real));
    let leak = Shown { value: 601.0, source: "reading of 2 September, guarded (invented)".to_owned() };
    let known = Known { leak_m3_h: Some(leak), ..Known::default() };
    let building = &project.building;
    let set = project.limits.as_ref().unwrap();
    let years = Years { standard: &standard, real: &real };
    let judgement = year::judge(building, &climate, &building.values.nominal(), years, &known, set);
    let row = |id: &str| judgement.rows.iter().find(|row| row.limit.id == id).unwrap();
    let tight = row("air-change");
    assert_eq!(tight.met, Some(false));
    assert!((tight.value.unwrap() - 0.629).abs() < 0.001);
    assert!((tight.beside[0].value - 0.567).abs() < 0.001 && tight.beside[0].value < tight.threshold);
    // The book's own figure stands as agreed: no allowance for drying on top.
    let cooling = row("cooling-demand");
    assert!(cooling.own_figure && cooling.allowance == 0.0);
    assert!((kwh(cooling.threshold) - 17.0).abs() < 1e-9);
    // Ninety people need about twice the air the hall gets.
    let air = row("outdoor-air");
    assert_eq!(air.met, Some(false));
    let recital = air.beside.iter().find(|b| b.count.starts_with("Recital")).unwrap();
    assert!((recital.value - 820.0 / 1733.0).abs() < 0.01);
}
