//! A test day: readings typed as they are read, today's number and its band, the next pressure, the chance.
//!
//! The readings are text, one a line, so that they can be put right, kept and read again by anything; the laws are
//! `air::live`'s. Where the book and its limits could be worked out, the number is judged against them.

use super::state::json;
use super::{Desk, Page, aside, token};
use crate::access::Role;
use crate::bench::{Bench, Good, View};
use crate::guard::Visitor;
use crate::log::filled::{Filled, Wrong};
use air::fan_test::{Conditions, Direction, FlowState, Wind};
use air::live::{Aim, Event, Live, Next, Rig, Update, WindSays, read_line};
use air::test_budget::{Circumstances, Instruments};
use axum::extract::State;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::{Extension, Form};
use building::counting;
use building::records::{Body, Record};
use maud::{Markup, PreEscaped, html};
use project::standing::Comparison;
use quantity::Dimension;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sheets::draw::scale::{Scale, ticks};
use sheets::draw::tally::{Chances, tally};
use sheets::svg::{Anchor, Drawing, decimal, line, text};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Reference pressure of the limits, Pa (ISO 9972).
const REFERENCE_PA: f64 = 50.0;
/// Highest pressure asked for unless said otherwise, Pa.
const HIGHEST_PA: f64 = 70.0;
/// Enough is known at this 95 % half-width, as a share. Judgement: a careful test in calm air reaches 4 to 6 %.
const WANTED_SHARE: f64 = 0.05;
/// Standard uncertainty of the volume, as a share. Judgement, for a volume counted from drawings.
const SIZE_SHARE: f64 = 0.01;
/// Longest list of readings, lines.
const MOST_LINES: usize = 400;
/// One cubic foot a minute in m³/h.
const CFM_M3_H: f64 = 60.0 * 0.3048 * 0.3048 * 0.3048;

/// The form as it comes back.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Typed {
    token: String,
    direction: String,
    unit: String,
    inside: String,
    outside: String,
    highest: String,
    readings: String,
}

/// What was asked, read.
struct Day {
    direction: Direction,
    factor: f64,
    conditions: Conditions,
    highest_pa: f64,
}

impl Typed {
    fn day(&self, wrong: &mut Vec<String>) -> Day {
        let mut temperature = |text: &str, what: &str| {
            if text.trim().is_empty() {
                return 20.0;
            }
            match quantity::read(text, Dimension::Temperature) {
                Ok(reading) => reading.value,
                Err(error) => {
                    wrong.push(format!("{what}: {error}"));
                    20.0
                }
            }
        };
        let inside_c = temperature(&self.inside, "inside");
        let outside_c = temperature(&self.outside, "outside");
        let highest_pa = match self.highest.trim().trim_end_matches("Pa").trim() {
            "" => HIGHEST_PA,
            text => text.parse::<f64>().ok().filter(|p| (20.0..=120.0).contains(p)).unwrap_or_else(|| {
                wrong.push("highest pressure: a number of Pa from 20 to 120".to_owned());
                HIGHEST_PA
            }),
        };
        Day {
            direction: if self.direction == "up" {
                Direction::Pressurisation
            } else {
                Direction::Depressurisation
            },
            factor: if self.unit == "cfm" { CFM_M3_H } else { 1.0 },
            conditions: Conditions {
                inside_c,
                outside_c,
                barometer_pa: 101_325.0,
                height_m: None,
                wind: None,
            },
            highest_pa,
        }
    }
}

/// What the number is held against.
#[derive(Clone, Debug, PartialEq)]
struct Target {
    /// m³; the flow is divided by it.
    volume_m3: f64,
    /// The limit, 1/h; `None` where none is in force.
    limit: Option<f64>,
    /// Where volume and limit come from.
    from: String,
    /// Air pressure at the site's height above the sea, Pa.
    barometer_pa: f64,
}

fn target(good: &Good) -> Option<Target> {
    let finding = good.standing.limits().find(|f| f.id == "limit.air-change");
    let at_most = finding.filter(|f| f.comparison == Some(Comparison::AtMost));
    let rule = finding.and_then(|f| counting::rule(&f.rule)).unwrap_or_else(counting::certification_style);
    let volume_m3 = counting::count(&good.project.building, rule).volume_m3;
    let building = &good.project.building;
    let elevation_m = building.values.nominal_of(building.site.elevation);
    (volume_m3 > 0.0).then(|| Target {
        volume_m3,
        limit: at_most.and_then(|f| f.threshold),
        from: at_most.map_or_else(String::new, |f| f.source.clone()),
        barometer_pa: matter::moist_air::altitude_pressure(elevation_m),
    })
}

/// One step of the day, for the picture and its table.
struct Step {
    what: String,
    update: Update,
}

/// The whole day so far.
struct Run {
    steps: Vec<Step>,
    wrong: Vec<String>,
    target: Option<Target>,
    cfm: bool,
}

fn run(typed: &Typed, target: Option<Target>) -> Run {
    let mut wrong = Vec::new();
    let mut day = typed.day(&mut wrong);
    if let Some(target) = &target {
        day.conditions.barometer_pa = target.barometer_pa;
    }
    let aim = Aim {
        pressure_pa: REFERENCE_PA,
        size: target.as_ref().map_or(1.0, |t| t.volume_m3),
        size_share: if target.is_some() { SIZE_SHARE } else { 0.0 },
        limit: target.as_ref().and_then(|t| t.limit),
        wanted_share: WANTED_SHARE,
        sure: 0.95,
        both_directions: true,
        highest_pa: day.highest_pa,
    };
    let rig = Rig {
        conditions: day.conditions,
        flows: FlowState::AtFan,
        instruments: Instruments::default(),
        circumstances: Circumstances::default(),
    };
    let mut live = Live::new(aim, rig, day.direction);
    let mut steps = Vec::new();
    let mut direction = day.direction;
    for (number, typed_line) in typed.readings.lines().take(MOST_LINES).enumerate() {
        match read_line(typed_line, day.factor) {
            Ok(None) => {}
            Ok(Some(event)) => {
                if let Some(problem) = against_sign(&event, direction) {
                    wrong.push(format!("line {}: {problem}", number + 1));
                    continue;
                }
                if event == Event::Turn {
                    direction = turned(direction);
                }
                steps.push(Step { what: typed_line.trim().to_owned(), update: live.push(event) });
            }
            Err(error) => wrong.push(format!("line {}: {error}", number + 1)),
        }
    }
    Run { steps, wrong, target, cfm: typed.unit == "cfm" }
}

fn turned(direction: Direction) -> Direction {
    match direction {
        Direction::Depressurisation => Direction::Pressurisation,
        Direction::Pressurisation => Direction::Depressurisation,
    }
}

/// A pressure with the sign of the other direction is a slip of the hand, or a fan that was turned unsaid.
fn against_sign(event: &Event, direction: Direction) -> Option<String> {
    let Event::Point(reading) = event else { return None };
    let down = direction == Direction::Depressurisation;
    ((reading.pressure_pa < 0.0) != down).then(|| {
        let sign = if down { "negative" } else { "positive" };
        format!(
            "{} Pa: with the fan this way inside less outside is {sign}; if the fan was turned, write `turn` first",
            decimal(reading.pressure_pa, 1)
        )
    })
}

impl Run {
    fn last(&self) -> Option<&Update> {
        self.steps.last().map(|s| &s.update)
    }

    fn unit(&self) -> &'static str {
        match (&self.target, self.cfm) {
            (Some(_), _) => "1/h",
            (None, true) => "cfm",
            (None, false) => "m³/h",
        }
    }

    /// A number of the day in the unit it is shown in.
    fn shown(&self, value: f64) -> f64 {
        if self.target.is_none() && self.cfm { value / CFM_M3_H } else { value }
    }

    fn words(&self, value: f64) -> String {
        decimal(self.shown(value), if self.target.is_some() { 2 } else { 0 })
    }

    /// Today's number in one sentence.
    fn number(&self) -> Option<String> {
        let number = self.last()?.number?;
        let half = number.half_width(0.95);
        Some(format!("{} ± {} {} at 50 Pa", self.words(number.value), self.words(half), self.unit()))
    }

    fn next(&self) -> String {
        match self.last().map(|u| u.next) {
            None | Some(Next::ZeroBefore) => {
                "Cover the fan and read the zero-flow pressure: zero -1.2".to_owned()
            }
            Some(Next::Pressure(pa)) => format!("Next: {} Pa", decimal(pa, 0)),
            Some(Next::ZeroAfter) => "Cover the fan and read the zero-flow pressure again".to_owned(),
            Some(Next::Turn) => "Turn the fan round, write turn, and begin again".to_owned(),
            Some(Next::Done) => "Enough is known".to_owned(),
        }
    }

    fn wind(&self) -> Option<String> {
        match self.last()?.wind {
            WindSays::Fine => None,
            WindSays::Widens(half) => {
                Some(format!("Wind is the largest part of the doubt: ± {} %.", decimal(100.0 * half, 0)))
            }
            WindSays::Useless(half) => Some(format!(
                "No further reading helps today: wind alone gives ± {} %. Wait for calmer air.",
                decimal(100.0 * half, 0)
            )),
            WindSays::ZeroTooHigh(pa) => Some(format!(
                "The zero-flow pressure is {} Pa; beyond 5 Pa a test is not valid (ISO 9972, from memory). Wait.",
                decimal(pa, 1)
            )),
        }
    }
}

/// Whole chances of a probability worked out from a band rather than counted from samples.
fn whole_chances(p: f64) -> Option<Chances> {
    (0.0..=1.0).contains(&p).then(|| Chances::said((100.0 * p).round() as u8))
}

/// The part of the page that readings change.
fn told(run: &Run) -> Markup {
    let chance = run.last().and_then(|u| u.chance).and_then(whole_chances);
    html! {
        @if !run.wrong.is_empty() { ul.wrong role="alert" { @for w in &run.wrong { li { (w) } } } }
        p.next-pressure { (run.next()) }
        @if let Some(number) = run.number() { p.big id="number" { (number) } }
        @if let Some(limit) = run.target.as_ref().and_then(|t| t.limit) {
            p { "Limit: at most " (decimal(limit, 2)) " 1/h. "
                @if let Some(target) = &run.target { span.soft { (decimal(target.volume_m3, 0)) " m³ by the limit's rule; " (target.from) } }
            }
        }
        @if let Some(chance) = chance {
            (PreEscaped(tally("tally-now", chance).inline()))
            p { b { (chance.words()) } " that the building as it stands is at or under the limit." }
        }
        @if let Some(last) = run.last() {
            @if last.number.is_some() && !last.fitted {
                p.soft { "From one or two points with a stated exponent; a line needs three." }
            }
            @if let Some(trouble) = &last.trouble { p.act { (trouble) } }
        }
        @if let Some(wind) = run.wind() { p.act { (wind) } }
        @if run.steps.iter().any(|s| s.update.number.is_some()) { (band(run)) }
    }
}

/// The band after each reading, and the limit: how it narrows.
fn band(run: &Run) -> Markup {
    let known: Vec<(usize, f64, f64, &str)> = run
        .steps
        .iter()
        .enumerate()
        .filter_map(|(place, s)| {
            s.update.number.map(|n| (place, n.value, n.half_width(0.95), s.what.as_str()))
        })
        .collect();
    let limit = run.target.as_ref().and_then(|t| t.limit);
    let ends = known.iter().flat_map(|(_, v, h, _)| [run.shown(v - h), run.shown(v + h)]).chain(limit);
    let (low, high) = ends.fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
    let pad = 0.06 * (high - low).max(1e-6);
    let (width, height) = (620.0, 260.0);
    let y = Scale::new(low - pad, high + pad, height - 26.0, 12.0);
    let x = Scale::new(-0.5, run.steps.len() as f64 - 0.5, 56.0, width - 100.0);
    let mut drawing = Drawing::new("band", "The number after each reading with its 95 % band", width, height);
    let grid = ticks(low, high, 4);
    for tick in grid.values {
        drawing.push(line(56.0, y.at(tick), width - 100.0, y.at(tick), "hair"));
        drawing.push(text(48.0, y.at(tick) + 4.0, &decimal(tick, grid.decimals), Anchor::End, "ts"));
    }
    for (place, value, half, _) in &known {
        let at = x.at(*place as f64);
        drawing.push(line(at, y.at(run.shown(value - half)), at, y.at(run.shown(value + half)), "cut"));
        drawing.push(line(at - 6.0, y.at(run.shown(*value)), at + 6.0, y.at(run.shown(*value)), "cut"));
    }
    if let Some(limit) = limit {
        drawing.push(line(56.0, y.at(limit), width - 96.0, y.at(limit), "over"));
        drawing.push(text(width - 92.0, y.at(limit) + 4.0, "limit", Anchor::Start, "ta"));
    }
    drawing.push(text(width - 100.0, height - 6.0, "readings, in order", Anchor::End, "ts"));
    let rows: Vec<Vec<String>> = known
        .iter()
        .map(|(_, v, h, what)| vec![(*what).to_owned(), run.words(*v), format!("± {}", run.words(*h))])
        .collect();
    html! {
        figure {
            figcaption { "The number after each reading, " (run.unit()) ", with the band that holds it 95 times in 100." }
            div.pan tabindex="0" role="region" aria-label="Drawing, moves sideways" { (PreEscaped(drawing.inline())) }
        }
        details { summary { "the same as a table" } (sheets::page::table("", &["after reading", "number", "95 % band"], &rows)) }
    }
}

/// Shows the page.
pub async fn page(State(bench): State<Arc<Bench>>, Extension(visitor): Extension<Visitor>) -> Response {
    let view = bench.view();
    if view.folder.is_none() {
        return Redirect::to("/new").into_response();
    }
    let us = view.good.as_ref().is_none_or(|g| g.standing.project.units != "si");
    let unit = if us { "cfm" } else { "m3h" };
    let typed = Typed { unit: unit.to_owned(), ..Typed::default() };
    let content = whole(&view, &visitor, &typed);
    let page =
        Page { file: "test-day", name: "", scripts: &["queue.js", "test-day.js"], live: false, content };
    Desk { view: &view, visitor: &visitor }.page(&page)
}

fn whole(view: &View, visitor: &Visitor, typed: &Typed) -> Markup {
    let target = view.good.as_deref().and_then(target);
    let run = run(typed, target);
    let may = visitor.session.role >= Role::Log;
    html! {
        h1 { "A test day" }
        p.lead { "Type what the gauges show, as it is read. Pressures are inside less outside." }
        p.act { "Before the fan runs: burners, kilns and stoves off, cold and locked; a CO alarm in each space; neighbours told. "
            "Nothing here checks combustion air; whoever is licensed for it does." }
        div.test-day {
            form id="test" method="post" action="test-day" {
                (token(visitor))
                p.next-pressure.near id="next-near" hidden { (run.next()) }
                div.quick hidden {
                    div.field { label for="q-pressure" { "Pressure, Pa" } input id="q-pressure" inputmode="text" autocomplete="off" enterkeyhint="next"; }
                    div.field { label for="q-flow" { "Flow" } input id="q-flow" inputmode="decimal" autocomplete="off" enterkeyhint="done"; }
                    button id="q-add" type="button" { "Add" }
                    button.second id="q-zero" type="button" { "Fan covered" }
                    button.second id="q-turn" type="button" { "Fan turned" }
                }
                div.field {
                    label for="readings" { "Readings, one a line" }
                    textarea id="readings" name="readings" rows="12" spellcheck="false" autocapitalize="off" autocomplete="off"
                        placeholder="zero -1.2\n-70 655\n-60 592" { "\n" (typed.readings) }
                    small { "zero -1.2 with the fan covered; pressure and flow; wind 2.5 (m/s near the ground); turn. A reading you mistrust gets a # before it and stays." }
                }
                div.settings {
                    div.field {
                        label for="direction" { "Fan" }
                        select id="direction" name="direction" {
                            option value="down" selected[typed.direction != "up"] { "draws air out" }
                            option value="up" selected[typed.direction == "up"] { "blows air in" }
                        }
                    }
                    div.field {
                        label for="unit" { "Flows in" }
                        select id="unit" name="unit" {
                            option value="cfm" selected[typed.unit == "cfm"] { "cfm" }
                            option value="m3h" selected[typed.unit != "cfm"] { "m³/h" }
                        }
                    }
                    (setting("inside", "Inside", &typed.inside, "68 °F"))
                    (setting("outside", "Outside", &typed.outside, "40 °F"))
                    (setting("highest", "Highest pressure", &typed.highest, "70 Pa"))
                }
                div.tools {
                    button.second id="work-out" { "Work out" }
                    @if may { button id="keep" type="button" hidden { "Keep in the site log" } }
                    span id="told" role="status" {}
                }
            }
            section id="now" aria-live="polite" aria-label="Where the test stands" { (told(&run)) }
        }
        p.soft { "The band holds the instruments, the wind as read, the preparation and the volume, not only the scatter of the points. "
            "It is this program's own estimate; the certifying body's rules decide." }
    }
}

fn setting(id: &str, label: &str, value: &str, example: &str) -> Markup {
    html! { div.field { label for=(id) { (label) } input id=(id) name=(id) value=(value) placeholder=(example) autocomplete="off"; } }
}

/// Works out for a browser without a script.
pub async fn work_out(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(typed): Form<Typed>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Log, Some(&typed.token)) {
        return *answer;
    }
    let view = bench.view();
    let content = whole(&view, &visitor, &typed);
    Desk { view: &view, visitor: &visitor }.page(&Page {
        file: "test-day",
        name: "",
        scripts: &["queue.js", "test-day.js"],
        live: false,
        content,
    })
}

/// What a script is told.
#[derive(Debug, Serialize)]
struct Answer {
    html: String,
    number: String,
    next: String,
}

/// Works out for a script, and tells the Talk page.
pub async fn evaluate(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(typed): Form<Typed>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Log, Some(&typed.token)) {
        return *answer;
    }
    let view = bench.view();
    let worked = aside(move || {
        let run = run(&typed, view.good.as_deref().and_then(target));
        let answer = Answer {
            html: told(&run).into_string(),
            number: run.number().unwrap_or_default(),
            next: run.next(),
        };
        if !answer.number.is_empty() {
            bench.set_fan(format!("{}. {}", answer.number, answer.next));
        }
        answer
    });
    match worked.await {
        Ok(answer) => json(&answer),
        Err(answer) => *answer,
    }
}

/// Makes the records of a day, one a direction, from what the page sent: fields `direction`, `unit`, `inside`,
/// `outside`, `readings`.
///
/// # Errors
/// Everything that is wrong.
pub fn records(filled: &Filled) -> Result<Vec<Record>, Vec<Wrong>> {
    let of = |key: &str| filled.fields.get(key).cloned().unwrap_or_default();
    let typed = Typed {
        direction: of("direction"),
        unit: of("unit"),
        inside: of("inside"),
        outside: of("outside"),
        readings: of("readings"),
        ..Typed::default()
    };
    let mut wrong = Vec::new();
    filled.look_over(&mut wrong);
    let checked = run(&typed, None);
    wrong.extend(checked.wrong.into_iter().map(|words| Wrong { field: "readings".to_owned(), words }));
    let mut direction =
        if typed.direction == "up" { Direction::Pressurisation } else { Direction::Depressurisation };
    let mut bodies = vec![Side::new(direction)];
    for typed_line in typed.readings.lines().take(MOST_LINES) {
        let Ok(Some(event)) = read_line(typed_line, if typed.unit == "cfm" { CFM_M3_H } else { 1.0 }) else {
            continue;
        };
        if event == Event::Turn {
            direction = turned(direction);
            bodies.push(Side::new(direction));
        } else if let Some(side) = bodies.last_mut() {
            side.take(&event, &typed.unit);
        }
    }
    bodies.retain(|side| !side.points.is_empty());
    if bodies.is_empty() {
        wrong.push(Wrong {
            field: "readings".to_owned(),
            words: "no pressure with its flow was read yet".to_owned(),
        });
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let temperatures = [("temperature-inside", &typed.inside), ("temperature-outside", &typed.outside)];
    bodies
        .iter()
        .enumerate()
        .map(|(place, side)| {
            let mut body = side.body();
            for (key, text) in temperatures {
                if let Ok(reading) = quantity::read(text, Dimension::Temperature) {
                    body.insert(key.to_owned(), json!({ "written": text, "value": reading.value }));
                }
            }
            // A retry makes the same ids again.
            let id = if place == 0 { filled.id.clone() } else { format!("{}-{place}", filled.id) };
            let head = Filled { id, ..filled.clone() };
            let body = serde_json::from_value(Value::Object(body.into_iter().collect()));
            let body = body.map_err(|e| vec![Wrong { field: String::new(), words: e.to_string() }])?;
            Ok(head.with(Body::PressureTest(body)))
        })
        .collect()
}

/// One direction of a day, as the log writes it.
struct Side {
    direction: Direction,
    points: Vec<Value>,
    before: Vec<Value>,
    after: Vec<Value>,
    wind: Option<Value>,
}

impl Side {
    fn new(direction: Direction) -> Self {
        Self { direction, points: Vec::new(), before: Vec::new(), after: Vec::new(), wind: None }
    }

    fn take(&mut self, event: &Event, unit: &str) {
        let pressure = |pa: f64| json!({ "written": format!("{} Pa", decimal(pa, 2)), "value": pa });
        match event {
            Event::Zero(pa) if self.points.is_empty() => self.before.push(pressure(*pa)),
            Event::Zero(pa) => self.after.push(pressure(*pa)),
            Event::Point(reading) => {
                let written = match unit {
                    "cfm" => format!("{} cfm", decimal(reading.flow_m3_h / CFM_M3_H, 1)),
                    _ => format!("{} m³/h", decimal(reading.flow_m3_h, 1)),
                };
                let flow = json!({ "written": written, "value": reading.flow_m3_h / 3600.0 });
                self.points
                    .push(json!({ "pressure": pressure(reading.pressure_pa), "flow": flow, "fan": "" }));
            }
            Event::Wind(Wind::NearGround(speed) | Wind::Station(speed)) => {
                self.wind = Some(json!({ "written": format!("{} m/s", decimal(*speed, 1)), "value": speed }));
            }
            Event::Turn => {}
        }
    }

    fn body(&self) -> BTreeMap<String, Value> {
        let mut body = BTreeMap::new();
        body.insert("depressurised".to_owned(), json!(self.direction == Direction::Depressurisation));
        body.insert("points".to_owned(), json!(self.points));
        body.insert("zero-flow-before".to_owned(), json!(self.before));
        body.insert("zero-flow-after".to_owned(), json!(self.after));
        if let Some(wind) = &self.wind {
            body.insert("wind".to_owned(), wind.clone());
        }
        body
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DOWN: &str =
        "zero -1.0\n-70 655\n-60 592\n-50 527\n-40 456\n-30 379\n-20 292\n-12 210\nzero -1.0\n";

    fn typed(readings: &str) -> Typed {
        Typed { unit: "m3h".into(), readings: readings.into(), ..Typed::default() }
    }

    fn house() -> Option<Target> {
        Some(Target { volume_m3: 950.0, limit: Some(0.6), from: "test".into(), barometer_pa: 101_325.0 })
    }

    #[test]
    fn the_band_narrows_and_the_chance_follows() {
        let run = run(&typed(DOWN), house());
        assert!(run.wrong.is_empty(), "{:?}", run.wrong);
        let half: Vec<f64> =
            run.steps.iter().filter_map(|s| s.update.number.map(|n| n.half_width(0.95) / n.value)).collect();
        assert!(half[half.len() - 1] < half[0], "{half:?}");
        let last = run.last().expect("read");
        assert!(last.fitted);
        // About 527 m³/h over 950 m³ is 0.555 1/h.
        let number = last.number.expect("a number").value;
        assert!((0.5..0.6).contains(&number), "{number}");
        assert!(last.chance.is_some_and(|c| c > 0.5));
        let page = told(&run).into_string();
        assert!(page.contains("1/h at 50 Pa") && page.contains("chances in 100"));
    }

    #[test]
    fn a_slip_of_the_hand_is_told_with_its_line() {
        let run = run(&typed("zero -1\n-70 655\n60 592\nfan broke"), house());
        assert_eq!(run.wrong.len(), 2);
        assert!(run.wrong[0].starts_with("line 3:") && run.wrong[1].starts_with("line 4:"));
    }

    #[test]
    fn cubic_feet_a_minute_are_the_same_air() {
        let metric = run(&typed(DOWN), house());
        let feet: String = DOWN
            .lines()
            .map(|l| match l.split_once(' ') {
                Some((p, q)) if p != "zero" => {
                    format!("{p} {:.6}\n", q.parse::<f64>().expect("a number") / CFM_M3_H)
                }
                _ => format!("{l}\n"),
            })
            .collect();
        let us = run(&Typed { unit: "cfm".into(), ..typed(&feet) }, house());
        let number = |r: &Run| r.last().and_then(|u| u.number).expect("a number").value;
        assert!((number(&metric) / number(&us) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_day_becomes_one_record_a_direction() {
        let up = DOWN.replace('-', "").replace("zero 1.0", "zero -1.0");
        let fields = [
            ("unit", "m3h"),
            ("inside", "20 °C"),
            ("outside", "41 °F"),
            ("readings", &format!("{DOWN}turn\n{up}")),
        ];
        let filled = Filled {
            id: "0190c3a0-0000-7000-8000-000000000001".into(),
            client_time: "2026-03-14T09:30:00-05:00".into(),
            fields: fields.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect(),
            ..Filled::default()
        };
        let records = records(&filled).expect("records");
        assert_eq!(records.len(), 2);
        assert_ne!(records[0].head.id, records[1].head.id);
        for (record, down) in records.iter().zip([true, false]) {
            let Body::PressureTest(test) = &record.body else { panic!("a test") };
            assert_eq!((test.depressurised, test.points.len()), (down, 7));
            assert_eq!((test.zero_flow_before.len(), test.zero_flow_after.len()), (1, 1));
            assert!((test.temperature_outside.as_ref().expect("read").value - 5.0).abs() < 1e-9);
            assert!(record.is_known());
        }
        let none = Filled { fields: BTreeMap::new(), ..filled };
        assert!(super::records(&none).is_err());
    }
}
