use super::*;
use proptest::prelude::*;

fn figure() -> impl Strategy<Value = Figure> {
    ("[ -~µ°³]{0,12}", -1e6..1e6_f64, prop::option::of(0.0..10.0_f64))
        .prop_map(|(written, value, half_width)| Figure { written, value, half_width })
}

fn words() -> impl Strategy<Value = String> {
    "[ -~äß–µ\"\\\\\n]{0,20}"
}

fn body() -> impl Strategy<Value = Body> {
    prop_oneof![
        words().prop_map(|text| Body::Note(Note { text })),
        (words(), figure(), any::<bool>()).prop_map(|(product, f, held)| Body::Delivery(Delivery {
            product,
            properties: vec![("unit.sun-glass.glazing.g".to_owned(), f)],
            held,
            as_ordered: Some(!held),
            ..Delivery::default()
        })),
        (prop::collection::vec((figure(), figure()), 0..8), any::<bool>(), prop::option::of(figure()))
            .prop_map(|(points, depressurised, guard_residual)| Body::PressureTest(PressureTest {
                points: points
                    .into_iter()
                    .map(|(pressure, flow)| TestPoint { pressure, flow, fan: String::new() })
                    .collect(),
                depressurised,
                guard_residual,
                ..PressureTest::default()
            })),
        (words(), figure()).prop_map(|(bay, density)| Body::InsulationDensity(InsulationDensity {
            bay,
            density,
            ..InsulationDensity::default()
        })),
        (words(), words()).prop_map(|(question, to)| Body::Question(Question {
            question,
            to,
            holds: vec!["limit.air-change".to_owned()],
            ..Question::default()
        })),
    ]
}

proptest! {
    #[test]
    fn what_is_written_is_read_again(body in body(), note in words(), place in words()) {
        let mut record = Record::new("0190-a", "2025-08-27T14:05:00-04:00", body);
        record.head.note = note;
        record.head.place = place;
        let line = record.to_line().unwrap();
        prop_assert!(!line.contains('\n'));
        let back = Record::from_line(&line).unwrap();
        prop_assert_eq!(&back, &record);
        prop_assert_eq!(back.to_line().unwrap(), line);
    }
}

#[test]
fn every_kind_survives_empty_and_by_its_word() {
    assert_eq!(Body::KINDS.len(), 22);
    for kind in Body::KINDS {
        // A pressure or a flow is what these records are for, so those must be there.
        let body = match *kind {
            "flow-reading" => r#"{"flow":{"written":"1 L/s","value":0.001}}"#,
            _ => "{}",
        };
        let line = format!(r#"{{"kind":"{kind}","id":"a","schema":1,"client-time":"","body":{body}}}"#);
        let record = Record::from_line(&line).unwrap_or_else(|e| panic!("{kind}: {e}"));
        assert!(record.is_known(), "{kind}");
        assert_eq!(Record::from_line(&record.to_line().unwrap()).unwrap(), record);
    }
}

#[test]
fn unknown_kinds_and_keys_are_kept_and_reported() {
    let text = concat!(
        r#"{"kind":"drone-flight","id":"a","schema":9,"client-time":"t","body":{"height":3,"x":[1,2]},"weather":"fog"}"#,
        "\n\n",
        r#"{"kind":"note","id":"b","schema":1,"client-time":"t","body":{"text":"dry","colour":"red"}}"#,
        "\n",
        "not json\n",
    );
    let log = read_log(text);
    assert_eq!((log.records.len(), log.errors.len(), log.unknown.len()), (2, 1, 2));
    assert_eq!(log.errors[0].line, 4);
    assert!(log.unknown[1].message.contains("colour"));
    let again = read_log(&write_log(&log.records).unwrap());
    assert_eq!(again.records, log.records);
    assert_eq!(write_log(&again.records).unwrap(), write_log(&log.records).unwrap());
    assert!(write_log(&log.records).unwrap().contains(r#""weather":"fog""#));
}

#[test]
fn numbers_that_json_cannot_hold_are_refused_or_read_back() {
    let reading = FlowReading {
        flow: Figure { written: "?".into(), value: f64::NAN, half_width: None },
        ..Default::default()
    };
    let line = Record::new("a", "t", Body::FlowReading(reading)).to_line();
    assert!(line.is_err() || Record::from_line(&line.unwrap()).is_err());
}
