use super::*;
use crate::demo::MUSIC_SCHOOL;
use building::records::{Body, Figure, FlowReading, Instrument, PressureTest, Record, TestPoint};

/// The invented school with its log up to 3 September, lengthened by records of a later day, which the book then calls
/// today.
fn school(today: &str, extra: &[Record]) -> (tempfile::TempDir, Project) {
    let dir = tempfile::tempdir().unwrap();
    MUSIC_SCHOOL.write(dir.path()).unwrap();
    let book = dir.path().join("building.toml");
    let text = std::fs::read_to_string(&book).unwrap().replace("2025-09-03", today);
    std::fs::write(&book, text).unwrap();
    let log = dir.path().join("log/records.jsonl");
    let until =
        |line: &&str| Record::from_line(line).is_ok_and(|r| r.head.client_time.as_str() < "2025-09-04");
    let mut lines: String = std::fs::read_to_string(&log)
        .unwrap()
        .lines()
        .filter(until)
        .map(|line| format!("{line}\n"))
        .collect();
    for record in extra {
        lines.push_str(&record.to_line().unwrap());
        lines.push('\n');
    }
    std::fs::write(&log, lines).unwrap();
    let (project, _) = crate::open(dir.path()).unwrap_or_else(|report| {
        panic!("{}", report.render(crate::diagnostic::Style { width: 100, ..Default::default() }))
    });
    (dir, project)
}

fn figure(value: f64) -> Figure {
    Figure { written: String::new(), value, half_width: None }
}

fn tested(n: u32, day: &str, neighbour: &str, down: bool, points: &[(f64, f64)]) -> Record {
    let body = PressureTest {
        depressurised: down,
        flows_corrected: true,
        neighbour: neighbour.to_owned(),
        points: points
            .iter()
            .map(|(p, q)| TestPoint {
                pressure: figure(*p),
                flow: figure(q / 3600.0),
                ..TestPoint::default()
            })
            .collect(),
        ..PressureTest::default()
    };
    let id = format!("10000000-0000-4000-8000-{n:012}");
    let mut record = Record::new(id, format!("{day}T10:00:00-05:00"), Body::PressureTest(body));
    record.head.name = "K.R.".to_owned();
    record
}

const DOWN: [(f64, f64); 8] = [
    (20.2, 289.0),
    (26.5, 347.0),
    (33.9, 406.0),
    (40.7, 455.0),
    (47.7, 511.0),
    (55.6, 561.0),
    (62.4, 604.0),
    (69.8, 654.0),
];
const UP: [(f64, f64); 8] = [
    (19.7, 299.0),
    (27.3, 366.0),
    (33.8, 420.0),
    (40.8, 469.0),
    (47.5, 526.0),
    (54.5, 568.0),
    (62.1, 622.0),
    (69.7, 670.0),
];

#[test]
fn both_directions_of_a_day_are_one_test_and_its_set_ups_are_parted() {
    let day = "2026-01-20";
    let (_dir, project) = school(
        day,
        &[
            tested(1, day, "guarded", true, &DOWN),
            tested(2, day, "guarded", false, &UP),
            tested(3, day, "opened", true, &[(50.0, 743.0)]),
        ],
    );
    let air = Air::of(&project);
    let (logged, told) = air.latest().unwrap();
    assert_eq!((logged.day.as_str(), told.directions.len(), told.standard_test), (day, 2, true));
    // The invented final test: fits of 524 and 540 m³/h, mean 532, 0.557 on the limit's own volume.
    assert!((told.flow.value - 532.0).abs() < 1.0, "{}", told.flow.value);
    assert!((told.result.figure.value - 0.557).abs() < 5e-4 && told.result.met == Some(true));
    // The band is the whole budget's: some per cent, not the half per cent of the scatter.
    let band = told.flow.half_width_95 / told.flow.value;
    assert!((0.03..0.08).contains(&band), "{band}");
    let parted = separation(&project, &air).unwrap();
    assert!((parted.party_m3_h[0] - (743.0 - 532.0)).abs() < 15.0, "{parted:?}");
    assert!(parted.assumed.is_none());
}

#[test]
fn todays_reading_leaves_too_little_and_its_target_is_the_books() {
    let (_dir, project) = school("2025-09-03", &[]);
    let story = Story::of(&project);
    let stage = story.stage.unwrap();
    // About 35 m³/h of holes still to come leave some 505 m³/h for nine chances in ten.
    let target = stage.reading_m3_h.unwrap();
    assert!((495.0..520.0).contains(&target), "{target}");
    assert!(stage.own_estimate && stage.chance_as_it_is < 0.05 && stage.today_m3_h > target);
    assert_eq!(stage.ahead.len(), 3);
}

#[test]
fn no_step_is_advised_that_the_guard_hides() {
    let (_dir, project) = school("2025-09-03", &[]);
    let story = Story::of(&project);
    let report = story.suspects.unwrap();
    assert_eq!(report.setup, "equal pressure");
    let hidden: Vec<&str> = report.suspects.iter().filter(|s| !s.visible).map(|s| s.id.as_str()).collect();
    assert!(hidden.iter().any(|id| id.contains("sleeves")), "{hidden:?}");
    assert!(!report.steps.is_empty());
    assert!(report.steps.iter().all(|s| !hidden.contains(&s.step.as_str())), "{:?}", report.steps);
    // What the suspects leak outdoors is what was read.
    let seen: f64 = report.suspects.iter().filter(|s| s.visible).map(|s| s.mean_m3_h).sum();
    assert!((seen / 601.0 - 1.0).abs() < 0.06, "{seen}");
    assert!(report.suspects.iter().any(|s| s.found));
}

#[test]
fn an_untouched_neighbour_is_assumed_and_said() {
    let (_dir, project) = school("2025-09-03", &[]);
    // 19 August: 906 m³/h guarded, 1 158 m³/h untouched.
    let story = Story::of(&project);
    let parted = story.separation.unwrap();
    assert_eq!(parted.day, "2025-08-19");
    assert!((240.0..300.0).contains(&parted.party_m3_h[0]), "{parted:?}");
    assert!(parted.assumed.unwrap().contains("judgement"));
}

#[test]
fn every_room_with_people_has_its_air_by_both_standards() {
    let (_dir, project) = school("2025-09-03", &[]);
    let story = Story::of(&project);
    let of = |room: &str, occasion: &str| {
        story.rooms.iter().find(|r| r.room == room && r.occasion == occasion).unwrap()
    };
    let recital = of("hall", "Recital");
    // 90·5 + 104.75·0.3 L/s; EN 16798-1 II: 90·7 + 104.75·0.7 L/s.
    assert!((recital.ashrae_62_1_m3_h - 3.6 * (450.0 + 0.3 * 104.748)).abs() < 0.1);
    assert!((recital.en_16798_1_m3_h - 3.6 * (630.0 + 0.7 * 104.748)).abs() < 0.1);
    assert!((recital.supply_m3_h - 820.0).abs() < 1e-6 && !recital.averages());
    // Children drum in the percussion room with its terminal open.
    assert!(of("percussion", "Summer camp, percussion").share > 1.0);
    assert!(story.rooms.windows(2).all(|w| w[0].share <= w[1].share));
}

#[test]
fn kilns_next_door_stand_under_suction() {
    let (_dir, project) = school("2025-09-03", &[]);
    let story = Story::of(&project);
    let kiln = &story.make_up[0];
    assert_eq!(kiln.pressure_pa, Some(-6.2));
    assert_eq!(kiln.spills(), Some(true));
    let closed = MakeUp { room_air: false, ..kiln.clone() };
    assert_eq!(closed.spills(), Some(false));
    let unread = MakeUp { pressure_pa: None, ..kiln.clone() };
    assert_eq!(unread.spills(), None);
}

fn flow(n: u32, at: &str, mode: &str, m3_h: f64) -> Record {
    let body = FlowReading {
        unit: "main".to_owned(),
        mode: mode.to_owned(),
        at: at.to_owned(),
        flow: figure(m3_h / 3600.0),
        power: (at == "outdoor duct").then(|| figure(251.0)),
    };
    let id = format!("20000000-0000-4000-8000-{n:012}");
    let mut record = Record::new(id, "2026-02-06T10:00:00-05:00", Body::FlowReading(body));
    record.head.instrument = Some(Instrument {
        id: "hood (invented)".to_owned(),
        calibrated: None,
        uncertainty: Some("± 3 %".to_owned()),
    });
    record
}

#[test]
fn first_pass_of_commissioning_is_told_with_the_next_damper() {
    let mut readings =
        vec![flow(1, "outdoor duct", "lessons", 498.0), flow(2, "exhaust duct", "lessons", 566.0)];
    let supply = [
        ("hall", 168.0),
        ("studio-a", 52.0),
        ("studio-b", 50.0),
        ("studio-c", 49.0),
        ("studio-d", 47.0),
        ("percussion", 40.0),
        ("office", 35.0),
        ("store", 22.0),
    ];
    readings.extend(
        supply
            .iter()
            .zip(3..)
            .map(|((room, q), n)| flow(n, &format!("supply terminal, {room}"), "lessons", *q)),
    );
    let (_dir, project) = school("2026-02-07", &readings);
    let told = commission(&project, &Air::of(&project));
    let mode = told.units[0].modes.iter().find(|m| m.mode == "lessons").unwrap();
    // The invented first pass: 12.0 % of the larger flow, 7 % lost in the ducts.
    assert!((mode.imbalance.unwrap() - 0.120).abs() < 5e-4);
    assert!((mode.duct_leak.unwrap() - (498.0 - 463.0) / 498.0).abs() < 1e-9);
    assert!((mode.fan_wh_m3.unwrap() - 251.0 / 498.0).abs() < 1e-9);
    assert!(mode.pressure_pa.unwrap() < 0.0 && mode.lost_w.unwrap() > 0.0);
    let percussion = mode.terminals.iter().find(|t| t.room == "percussion" && t.way == "supply").unwrap();
    assert!((percussion.design_m3_h - 90.0).abs() < 1e-6 && percussion.inside == Some(false));
    let advice = &mode.advice[0];
    // The hall takes too much: closing it is the move that helps all the others.
    assert_eq!(advice.room.as_deref(), Some("hall"));
    assert!(advice.opening_ratio.unwrap() < 1.0 && advice.lands_at_m3_h.unwrap() < 168.0);
}

#[test]
fn a_recital_minute_by_minute() {
    let (_dir, project) = school("2025-09-03", &[]);
    let run = |ask: GatheringAsk| gathering(&project, "recital", ask).unwrap().unwrap();
    let shut = run(GatheringAsk::default());
    assert_eq!(shut.minutes.len(), 105);
    assert_eq!(shut.flow_needed_m3_h.map(|q| (q / shut.code_m3_h - 1.0).abs() < 0.01), Some(true));
    // Open doors take some hundreds of ppm off, more people need more, and nobody is counted above the posted load.
    let open = run(GatheringAsk { doors_m3_h: 2000.0, ..Default::default() });
    assert!(open.peaks[0] < shut.peaks[0] - 200.0);
    let few = run(GatheringAsk { people: Some(20.0), ..Default::default() });
    assert!(few.peaks[0] < shut.peaks[0] && few.failures.iter().all(|f| f.what != "CO2"));
    assert!(shut.heads.sentence.contains("ask the code official"));
    assert!(shut.sound.iter().all(|s| s.level_db.is_none()));
    let mut posted = project.clone();
    for g in &mut posted.building.gatherings {
        g.posted_load = Some(12);
    }
    let told = gathering(&posted, "recital", GatheringAsk::default()).unwrap().unwrap();
    assert!(told.heads.air_only <= 12 && told.heads.sentence.contains("posted occupant load 12"));
    assert!(gathering(&project, "nobody", GatheringAsk::default()).is_none());
}

#[test]
fn the_closed_hall_shows_the_invented_figures() {
    // 88 people, 820 m³/h, hall shut: 1 853 ppm at the interval.
    let (_dir, project) = school("2025-09-03", &[]);
    let told = gathering(&project, "recital", GatheringAsk { people: Some(88.0), ..Default::default() });
    let told = told.unwrap().unwrap();
    assert!((told.minutes[44].co2_ppm - 1853.0).abs() < 2.0, "{}", told.minutes[44].co2_ppm);
}
