//! The specimen's pages: a standing, months and evenings, all made up.

use maud::Markup;
use project::standing::{
    Cause as Driver, Comparison, CountedBeside, Finding, FindingKind, Headline, NextStep, Outcome,
    ProjectLine, SCHEMA, Stage, StageState, Standing,
};
use sheets::draw::decimate::reaches;
use sheets::page::{TitleBlock, frame};
use sheets::reader::Reader;
use sheets::sheet::fabric::{AssemblySheet, FaceLine, WorkingLine};
use sheets::sheet::gatherings::{Course, Evening, Expected};
use sheets::sheet::warm_cool::{Cause, Month, Peak, WarmCool, ZoneYear};
use sheets::sheet::{INDEX, fabric, gatherings, hot_water, joints, warm_cool, where_we_stand};
use year::services::places::Place;
use year::services::{WaterMonth, WaterYear};

/// Hot water of a year, made up.
fn water() -> WaterYear {
    let month = |k: usize| WaterMonth {
        drawn_j: (130.0 - 4.0 * k as f64) * 3.6e6,
        electricity_j: 55.0 * 3.6e6,
        taken_sensible_j: 80.0 * 3.6e6,
        taken_latent_j: k as f64 * 3.6e6,
        given_j: 21.0 * 3.6e6,
        condensed_kg: 2.0 * k as f64,
        cold_water_c: 11.0 + k as f64,
    };
    WaterYear {
        months: (0..12).map(month).collect(),
        drawn_j: 1300.0 * 3.6e6,
        lost_j: 250.0 * 3.6e6,
        machine_j: 610.0 * 3.6e6,
        coldest_around_c: 19.6,
        ..WaterYear::default()
    }
}

fn places() -> Vec<Place> {
    let place = |name: &str, drawn, water: f64, heating: f64| Place {
        name: name.into(),
        drawn,
        water_j: water * 3.6e6,
        heating_j: heating * 3.6e6,
        cooling_j: 1150.0 * 3.6e6,
        electricity_j: (6700.0 + water + heating) * 3.6e6,
        cost: Some(1.2e-1 * (6700.0 + water + heating)),
        currency: "$".into(),
        coldest_c: 19.6,
        ..Place::default()
    };
    vec![
        place("in the room", true, 612.0, 1410.0),
        place("ducted to outdoors", false, 670.0, 1330.0),
        place("outdoors", false, 690.0, 1330.0),
        place("resistance", false, 1700.0, 1330.0),
    ]
}

fn finding(id: &str, kind: FindingKind, subject: &str, sentence: &str, stage: &str) -> Finding {
    Finding {
        status: Outcome::NotMet,
        sentence: sentence.into(),
        stage: stage.into(),
        ..Finding::new(id, kind, subject)
    }
}

fn limit(
    id: &str,
    subject: &str,
    [value, threshold]: [f64; 2],
    unit: &str,
    dimension: &str,
    causes: &[(&str, f64)],
) -> Finding {
    let met = value <= threshold;
    Finding {
        value: Some(value),
        threshold: Some(threshold),
        unit: unit.into(),
        dimension: dimension.into(),
        comparison: Some(Comparison::AtMost),
        status: if met { Outcome::Met } else { Outcome::NotMet },
        margin: Some((threshold - value) / threshold),
        r#use: "standard".into(),
        rule: "certification-style".into(),
        method: "monthly".into(),
        causes: causes
            .iter()
            .map(|(name, share)| Driver {
                stated: (*name).into(),
                share: *share,
                value: Some(share * value),
                unit: unit.into(),
            })
            .collect(),
        beside: vec![CountedBeside {
            r#use: "real".into(),
            rule: "certification-style".into(),
            method: "hourly".into(),
            value: value * 1.12,
        }],
        source: "common practice, check your certifying body's current edition".into(),
        ..finding(
            id,
            FindingKind::Limit,
            subject,
            &format!("{subject}: {value} {unit}, at most {threshold}."),
            "",
        )
    }
}

fn stages() -> Vec<Stage> {
    let stage = |id: &str, name: &str, state, open| Stage {
        id: id.into(),
        name: name.into(),
        state,
        findings: open + 1,
        open,
        records: 0,
    };
    vec![
        stage("survey", "Survey", StageState::Past, 0),
        stage("design", "Design", StageState::Past, 0),
        stage("order", "Order", StageState::Past, 1),
        stage("repair", "Repair", StageState::Past, 0),
        stage("barrier", "Barrier", StageState::Now, 2),
        stage("rough-in", "Rough-in", StageState::ToCome, 1),
        stage("insulate", "Insulate", StageState::ToCome, 0),
        stage("close-in", "Close-in", StageState::ToCome, 0),
        stage("test", "Test", StageState::ToCome, 1),
        stage("commission", "Commission", StageState::ToCome, 0),
        stage("in-use", "In use", StageState::ToCome, 0),
    ]
}

fn findings() -> Vec<Finding> {
    let demand = "kWh/(m²·a)";
    vec![
        limit(
            "limit.n50",
            "air change at 50 Pa",
            [0.63, 0.60],
            "1/h",
            "air change rate",
            &[("beam pockets", 0.4)],
        ),
        Finding {
            any_of: "heat".into(),
            ..limit(
                "limit.load",
                "heating load",
                [9.1, 10.0],
                "W/m²",
                "power per area",
                &[("fresh air at 17 °F", 0.4)],
            )
        },
        limit(
            "limit.cooling",
            "cooling demand, drying included",
            [14.2, 17.0],
            demand,
            "energy per area",
            &[("glass in E1", 0.3), ("ninety people", 0.25), ("drying", 0.2)],
        ),
        Finding {
            any_of: "heat".into(),
            ..limit(
                "limit.heating",
                "heating demand",
                [11.6, 15.0],
                demand,
                "energy per area",
                &[("fresh air", 0.31), ("windows", 0.27), ("upper wall", 0.2)],
            )
        },
        Finding {
            comparison: Some(Comparison::AtLeast),
            margin: Some(0.09),
            status: Outcome::Met,
            ..limit("limit.recovery", "heat recovered", [0.82, 0.75], "", "ratio", &[])
        },
        Finding {
            value: None,
            margin: None,
            status: Outcome::NotKnown,
            causes: vec![],
            ..limit("limit.mould", "coldest inside spot", [0.0, 0.7], "", "ratio", &[])
        },
        finding(
            "gap.lobby",
            FindingKind::Gap,
            "lobby threshold",
            "Lobby threshold: no gasket yet.",
            "barrier",
        ),
        finding(
            "gap.pockets",
            FindingKind::Gap,
            "beam pockets",
            "Beam pockets B3N to B5N: tape ends at brick, no primer recorded.",
            "barrier",
        ),
        finding(
            "proof.glass",
            FindingKind::Proof,
            "glass in E1",
            "The label of E1 names a solar factor of 0.50; the order says 0.34.",
            "order",
        ),
        finding(
            "proof.sleeves",
            FindingKind::Proof,
            "sleeves",
            "Nine sleeves through the party floor need a photo.",
            "rough-in",
        ),
        finding(
            "proof.report",
            FindingKind::Proof,
            "report",
            "The final test needs both directions.",
            "test",
        ),
        finding(
            "caution.timber",
            FindingKind::Caution,
            "embedded timber",
            "Beam ends in the north wall: moisture was not simulated; a licensed designer decides.",
            "",
        ),
    ]
}

/// A made-up standing.
pub fn standing(units: &str) -> Standing {
    Standing {
        schema: SCHEMA.into(),
        engine: "0.1.0".into(),
        project: ProjectLine {
            name: "Alder Ford music school".into(),
            invented: true,
            stage: "barrier".into(),
            units: units.into(),
            words: "us".into(),
            climate: "an invented year".into(),
            limits: vec!["new-build".into()],
        },
        headline: Headline {
            decision: "Do not close the walls yet.".into(),
            because: "Today's guarded 0.63 ACH50 is past the limit of 0.60: 56 cfm at 50 Pa, a sharp-edged hole of \
                      7 in², is still to be found."
                .into(),
            finding: Some("limit.n50".into()),
        },
        stages: stages(),
        findings: findings(),
        results: std::collections::BTreeMap::new(),
        next: vec![
            NextStep {
                what: "Bag the lobby door and read again".into(),
                why: "splits the threshold from the beam pockets".into(),
                finding: "limit.n50".into(),
                hours: Some(0.5),
                outlay: None,
                worth: None,
            },
            NextStep {
                what: "Ask the certifier which volume counts".into(),
                why: "moves the reading from 0.63 to 0.57".into(),
                finding: "limit.n50".into(),
                hours: Some(1.0),
                outlay: None,
                worth: None,
            },
            NextStep {
                what: "Exchange the glass in E1".into(),
                why: "cooling falls under its limit with room to spare".into(),
                finding: "limit.cooling".into(),
                hours: Some(16.0),
                outlay: None,
                worth: None,
            },
        ],
        chances: None,
        not_checked: vec![
            "Fire and smoke separation to the pottery was not checked; the code official decides.".into(),
            "The roof's weight under the new build-up was not checked; a licensed designer decides.".into(),
            "Combustion air and carbon monoxide of the kilns were not checked.".into(),
        ],
        notices: vec!["Every figure of this specimen is made up.".into()],
    }
}

fn assemblies() -> Vec<AssemblySheet> {
    let line = |symbol: &str, words: &str, value: f64, unit: &str| WorkingLine {
        symbol: symbol.into(),
        words: words.into(),
        value,
        unit: unit.into(),
        clause: "ISO 6946 6.7".into(),
    };
    let sheet = |section, u: f64, area: f64, used: &str| AssemblySheet {
        section,
        u_w_m2k: Some(u),
        working: vec![
            line("Rsi", "inside surface", 0.13, "m²·K/W"),
            line("R′", "upper limit", 5.61, "m²·K/W"),
            line("R″", "lower limit", 5.32, "m²·K/W"),
            line("U", "transmittance", u, "W/(m²·K)"),
        ],
        area_m2: area,
        enclosure_m2: area,
        where_used: used.into(),
        cautions: vec![],
        moisture: None,
    };
    vec![
        sheet(super::wall_with_levels(), 0.183, 222.0, "walls to outdoors"),
        sheet(super::roof(), 0.147, 292.0, "roof to outdoors"),
        sheet(super::party_floor(), 0.202, 273.6, "floor to pottery studio"),
    ]
}

/// Made-up hourly temperatures, °C.
pub fn hourly(base: f64, swing: f64) -> Vec<f64> {
    (0..8760)
        .map(|h| {
            let t = f64::from(h) / 8760.0 * std::f64::consts::TAU;
            let day = f64::from(h % 24) / 24.0 * std::f64::consts::TAU;
            base - swing * t.cos() - swing * 0.3 * day.cos() + (t * 37.0).sin() * swing * 0.2
        })
        .collect()
}

fn warm_and_cool() -> WarmCool {
    let cause = |name: &str, kwh: f64| Cause { name: name.into(), amount: kwh * 3.6e6 };
    let month = |k: usize| {
        let cold = [1.0, 0.85, 0.6, 0.35, 0.12, -0.05, -0.15, -0.12, 0.05, 0.3, 0.6, 0.9][k];
        let sun = [0.5, 0.6, 0.8, 0.9, 0.95, 0.9, 0.95, 0.95, 0.9, 0.8, 0.55, 0.45][k];
        Month {
            causes: vec![
                cause("fresh air", -510.0 * cold),
                cause("windows", -420.0 * cold),
                cause("walls", -360.0 * cold),
                cause("roof", -310.0 * cold),
                cause("leaks", -140.0 * cold),
                cause("sun", 620.0 * sun),
                cause("people", 330.0),
                cause("lights and equipment", 280.0),
                cause("the pottery below", 40.0),
            ],
            heating_j: (740.0 * cold - 300.0).max(0.0) * 3.6e6,
            cooling_j: (500.0 - 900.0 * cold).max(0.0) * 3.6e6,
        }
    };
    WarmCool {
        months: (0..12).map(month).collect(),
        zones: vec![ZoneYear {
            name: "recital hall".into(),
            days_c: reaches(&hourly(22.6, 2.0), 365).into_iter().flatten().collect(),
            warm_hours: 330.0,
            warmest: (25.6, 4332),
            coldest: (19.6, 300),
        }],
        outdoor_days_c: reaches(&hourly(15.0, 12.0), 365).into_iter().flatten().map(|r| r.mean).collect(),
        heating_set_c: 20.0,
        cooling_set_c: 25.0,
        warm_above_c: 25.0,
        peaks: vec![
            Peak {
                what: "heating".into(),
                power_w: 2650.0,
                hour: 439,
                causes: vec![cause("fresh air", -900.0), cause("walls", -700.0)],
                outdoors_c: -9.0,
            },
            Peak {
                what: "cooling".into(),
                power_w: 6240.0,
                hour: 4700,
                causes: vec![cause("people", 6300.0), cause("sun", 800.0)],
                outdoors_c: 31.0,
            },
        ],
        basis: "Real use, hourly run.".into(),
    }
}

fn evenings() -> Vec<Evening> {
    let rise = |k: f64| -> Vec<[f64; 2]> {
        (0..=105)
            .map(|m| [19.0 + f64::from(m) / 60.0, 600.0 + k * f64::from(m) / (30.0 + f64::from(m))])
            .collect()
    };
    vec![Evening {
        name: "recital".into(),
        room: "hall".into(),
        people: 90.0,
        times_a_year: 24,
        day: 4,
        hours: [19.0, 20.75],
        interval: Some([19.75, 20.0]),
        courses: vec![
            Course { name: "doors shut".into(), points: rise(1700.0) },
            Course { name: "doors open to the corridor".into(), points: rise(1200.0) },
        ],
        expected: Some(Expected {
            peak_ppm: 1967.0,
            steady_ppm: 2040.0,
            condition: "shut off, with 530 cfm of outdoor air".into(),
        }),
        warmest_c: Some(26.4),
        outdoor_air_m3_s: Some(0.25),
        posted_load: None,
    }]
}

/// The joints of the invented school's own book, nothing of it closed on site.
fn school_joints(reader: Reader) -> joints::JointsSheet {
    let book = project::book::read_text(project::demo::MUSIC_SCHOOL.files[0].text);
    let (building, _) = building::Building::derive(book.plan);
    sheets::adapt::joints(&building, reader, |_| None, |_| false)
}

/// Every page of the made-up set: file name and text.
pub fn pages(units: &str) -> Vec<(&'static str, String)> {
    let standing = standing(units);
    let reader = Reader::new(&standing.project.units, &standing.project.words);
    let block = TitleBlock {
        project: &standing.project.name,
        about: "invented specimen",
        status: "barrier, 2 September 2025",
        revision: "4f1c 9a02",
        language: reader.language(),
    };
    let above = super::axonometric();
    let faces: Vec<FaceLine> = [
        "Upper floor, party to pottery studio: party floor",
        "Upper wall S: upper wall",
        "Upper wall E: upper wall",
        "Upper roof: deck roof",
    ]
    .iter()
    .enumerate()
    .map(|(k, words)| FaceLine { number: k + 1, words: (*words).into(), href: "#upper-wall".into() })
    .collect();
    let contents: [Markup; 6] = [
        where_we_stand::content(&standing, Some(&super::long_section()), reader),
        fabric::content(&assemblies(), &[], Some((&above, &faces)), reader),
        joints::content(&school_joints(reader), &standing.project.name, "4f1c 9a02"),
        gatherings::content(&evenings(), reader),
        warm_cool::content(&warm_and_cool(), reader),
        hot_water::content(&water(), &places(), None, &[], reader),
    ];
    contents
        .iter()
        .enumerate()
        .map(|(k, content)| (INDEX[k].file, frame(block, &INDEX, k, content)))
        .collect()
}
