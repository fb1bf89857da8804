//! A record in one sentence, for lists, sheets and pages.

use building::records::{Body, Figure, Record};

/// Says a record in one sentence, without its place, name and time.
pub fn sentence(record: &Record) -> String {
    let said = of_body(&record.body);
    let note = record.head.note.trim();
    match (said.trim().is_empty(), note.is_empty()) {
        (false, true) => said,
        (true, false) => note.to_owned(),
        (false, false) => format!("{}. {note}", said.trim_end_matches('.')),
        (true, true) => kind_words(record.body.kind()),
    }
}

/// Returns a kind as words: "pressure test".
pub fn kind_words(kind: &str) -> String {
    kind.replace('-', " ")
}

fn of_body(body: &Body) -> String {
    let w = |f: &Option<Figure>| f.as_ref().map(|f| f.written.clone()).unwrap_or_default();
    let yes = |v: Option<bool>, yes: &str, no: &str| match v {
        Some(true) => yes.to_owned(),
        Some(false) => no.to_owned(),
        None => String::new(),
    };
    match body {
        Body::Delivery(d) => join(&[
            &d.product,
            &d.quantity,
            &yes(d.as_ordered, "as ordered", "not as ordered"),
            if d.held { "held" } else { "" },
            &properties(&d.properties),
        ]),
        Body::Substitution(s) => join(&[
            &format!("{} for {}", s.offered, s.specified),
            &yes(s.accepted, "accepted", "rejected"),
            &s.reason,
        ]),
        Body::JointInspection(j) => join(&[
            &j.joint,
            &j.method,
            &yes(j.passed, "found good", "not good"),
            &w(&j.length),
            &j.tested_system,
        ]),
        Body::Photo(p) => join(&[&p.shows, &before("proves ", &p.proves)]),
        Body::LeakFound(l) => join(&[
            &l.at,
            &w(&l.flow),
            &before("at ", &w(&l.at_pressure)),
            &l.size,
            &before("to ", &l.leads_to),
            &yes(l.sealed, "sealed", "not sealed"),
        ]),
        Body::PressureTest(t) => {
            let readings: Vec<String> = t
                .points
                .iter()
                .take(2)
                .map(|p| format!("{} at {}", p.flow.written, p.pressure.written))
                .collect();
            let more = t.points.len().saturating_sub(2);
            let more = if more > 0 { format!("and {more} more readings") } else { String::new() };
            join(&[&t.standard, &readings.join(", "), &more, &t.neighbour])
        }
        Body::PressureLog(p) => join(&[&p.between, &w(&p.mean), &p.state, &before("over ", &w(&p.duration))]),
        Body::FlowReading(r) => join(&[&r.unit, &r.mode, &r.at, &r.flow.written, &w(&r.power)]),
        Body::MoistureReading(m) => {
            join(&[&m.material, &m.moisture.written, &m.method, &before("at ", &w(&m.depth))])
        }
        Body::InsulationDensity(d) => join(&[
            &d.material,
            &d.bay,
            &d.density.written,
            &d.method,
            if d.reblown { "blown again" } else { "" },
        ]),
        Body::OpenedUp(o) => join(&[
            &o.item,
            &before("found ", &o.found),
            &before("expected ", &o.expected),
            &o.how,
            &properties(&o.properties),
        ]),
        Body::LoggerFile(l) => {
            join(&[&l.quantities.join(", "), &before("from ", &l.from), &before("to ", &l.to)])
        }
        Body::MeterReading(m) => join(&[&m.meter, &m.carrier, &m.reading.written, &m.serves]),
        Body::CommissioningSetting(c) => {
            join(&[&c.device, &c.setting, &before("was ", &c.before), &before("now ", &c.after)])
        }
        Body::BarrierDamage(b) => join(&[&b.state, &before("by ", &b.cause), &b.trade, &b.size, &b.repair]),
        Body::OpeningAsBuilt(o) => join(&[
            &o.opening,
            &before("set in ", &w(&o.set_in)),
            &before("film ", &w(&o.sill_film)),
            &yes(o.drains, "drains", "does not drain"),
        ]),
        Body::OfficialInspection(i) => join(&[
            &i.of,
            &i.state,
            &i.office,
            &before("on ", &i.on),
            &i.corrections.join("; "),
            &before("due ", &i.due),
        ]),
        Body::Question(q) => {
            let answer = if q.answer.is_empty() { "open".to_owned() } else { q.answer.clone() };
            join(&[&before("to the ", &q.to), &q.question, &before("due ", &q.due), &answer])
        }
        Body::Defect(d) => join(&[&d.what, &d.trade, &d.weight, if d.mended { "mended" } else { "" }]),
        Body::Decision(d) => {
            join(&[&d.decision, &d.reason, &before("by the ", &d.by), &properties(&d.properties)])
        }
        Body::SignOff(s) => join(&[&s.of, &before("as ", &s.role), &s.reservation]),
        Body::Note(n) => n.text.clone(),
        Body::Unknown { kind, .. } => format!("a {} of a newer program, kept as it came", kind_words(kind)),
        _ => String::new(),
    }
}

fn properties(all: &[(String, Figure)]) -> String {
    all.iter().map(|(id, f)| format!("{id} {}", f.written)).collect::<Vec<_>>().join(", ")
}

fn before(word: &str, text: &str) -> String {
    if text.is_empty() { String::new() } else { format!("{word}{text}") }
}

fn join(parts: &[&str]) -> String {
    let said: Vec<&str> = parts.iter().copied().filter(|p| !p.is_empty()).collect();
    said.join(", ")
}
