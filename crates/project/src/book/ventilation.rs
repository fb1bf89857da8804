//! `[ventilation.x]`: speeds, recovery, fans, terminals.

use super::storeys::{Of, checked, reference};
use super::usage::{as_word, rule};
use super::{Book, How, Want, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Names, Node, refer};
use building::plan::{
    BypassPlan, DemandPlan, FrostKind, FrostPlan, ModeWhen, TerminalPlan, VentilationMode, VentilationPlan,
};
use building::stated::{Basis, ValueKey};
use quantity::Dimension;
use std::collections::BTreeMap;

const FLOW: Bounds = Bounds::within(0.0, 100.0, "lies between 0 and 100 m³/s");
const CO2: Bounds = Bounds::within(300.0, 10_000.0, "lies between 300 and 10 000 ppm");
const ROOM: Bounds = Bounds::within(-20.0, 60.0, "lies between -20 °C and 60 °C");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("ventilation") {
        return;
    }
    for (name, f) in sections(book, top, "ventilation") {
        unit(book, name, f);
    }
}

fn unit(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let flow = want(Dimension::VolumeFlow, FLOW, "air flow");
    let ratio = want(Dimension::Ratio, Bounds::SHARE, "recovery");
    let fan = want(Dimension::SpecificFanPower, Bounds::NOT_NEGATIVE, "fan energy");
    let space = reference(book, &mut f, "where", Of::Space);
    if !f.has("flow") {
        f.missing(&mut book.cx, "flow", "flow = { usual = \"120 m³/h\" }");
        book.taint(f.path());
    }
    let before = book.cx.len();
    let mut names = Names::default();
    let supply = by_mode(book, &mut f, "flow", flow, &how, &mut names, true);
    let extract = by_mode(book, &mut f, "extract-flow", flow, &how, &mut names, false);
    let temperature = by_mode(book, &mut f, "recovery-temperature", ratio, &how, &mut names, false);
    let moisture = by_mode(book, &mut f, "recovery-moisture", ratio, &how, &mut names, false);
    let power = by_mode(book, &mut f, "power", fan, &how, &mut names, false);
    let when = when(book, &mut f, &names);
    let mut plan = VentilationPlan {
        name,
        space,
        modes: Vec::new(),
        moisture_recovery: moisture.all,
        power: power.all,
        rating: how.rating.clone(),
        bypass: bypass(book, &mut f, &how),
        demand: demand(book, &mut f, &how),
        sensors: sensors(book, &mut f),
        terminals: Vec::new(),
        exhaust_transfer: book.value(&mut f, "exhaust-transfer", ratio, &how),
        sound: super::air::sound(book, &mut f, &names),
        frost: frost(book, &mut f, &how),
    };
    for (mode, supply) in supply.order {
        plan.modes.push(VentilationMode {
            supply,
            extract: extract.get(&mode),
            temperature_recovery: temperature.get(&mode),
            moisture_recovery: moisture.named.get(&mode).copied(),
            power: power.named.get(&mode).copied(),
            when: when.get(&mode).cloned().unwrap_or_default(),
            name: mode,
        });
    }
    for (key, is_supply) in [("supply", true), ("extract", false)] {
        plan.terminals.extend(terminals(book, &mut f, key, is_supply, &names, &how));
    }
    check_sums(book, &f, &plan);
    if book.cx.len() > before {
        book.taint(f.path());
    }
    f.finish(&mut book.cx);
    book.plan.ventilation.push(plan);
}

/// A quantity given once for all modes, or by mode.
struct ByMode {
    all: Option<ValueKey>,
    named: BTreeMap<String, ValueKey>,
    order: Vec<(String, ValueKey)>,
}

impl ByMode {
    fn get(&self, mode: &str) -> Option<ValueKey> {
        self.named.get(mode).copied().or(self.all)
    }
}

/// Reads `{ empty = …, lessons = … }` or one value. `defines` makes its keys the modes' names; a single value then
/// is the mode "usual".
fn by_mode(
    book: &mut Book<'_>,
    f: &mut Fields<'_>,
    key: &str,
    w: Want,
    how: &How,
    names: &mut Names,
    defines: bool,
) -> ByMode {
    let mut found = ByMode { all: None, named: BTreeMap::new(), order: Vec::new() };
    let Some(entry) = f.entry(key) else { return found };
    if !matches!(entry.node.kind, Kind::Table(_)) {
        found.all = book.value(f, key, w, how);
        if defines && let Some(value) = found.all {
            let _ = names.add("usual", &entry.key_place);
            found.order.push(("usual".to_owned(), value));
        }
        return found;
    }
    let Some(mut t) = f.table(&mut book.cx, key) else { return found };
    for entry in t.entries() {
        if defines {
            let _ = names.add(&entry.key, &entry.key_place);
        } else if !refer(&mut book.cx, &as_word(entry), names, "mode under \"flow\"") {
            continue;
        }
        if let Some(value) = book.value(&mut t, &entry.key, w, how) {
            found.named.insert(entry.key.clone(), value);
            found.order.push((entry.key.clone(), value));
        }
    }
    found
}

/// Reads `mode.lessons = "Mon–Fri 9:00–20:30"` and `mode.surge = ["gathering recital"]`.
fn when(book: &mut Book<'_>, f: &mut Fields<'_>, names: &Names) -> BTreeMap<String, Vec<ModeWhen>> {
    let mut all = BTreeMap::new();
    let Some(mut t) = f.table(&mut book.cx, "mode") else { return all };
    for entry in t.entries() {
        if !refer(&mut book.cx, &as_word(entry), names, "mode under \"flow\"") {
            continue;
        }
        let items = match &entry.node.kind {
            Kind::List(items) => items.as_slice(),
            _ => std::slice::from_ref(&entry.node),
        };
        let whens: Vec<ModeWhen> = items.iter().filter_map(|item| one_when(book, &entry.key, item)).collect();
        all.insert(entry.key.clone(), whens);
    }
    all
}

fn one_when(book: &mut Book<'_>, key: &str, node: &Node) -> Option<ModeWhen> {
    if let Kind::Text { value, .. } = &node.kind
        && let Some(name) = value.trim().strip_prefix("gathering ")
    {
        let word = crate::reader::Word { text: name.trim().to_owned(), place: node.place.clone() };
        let known = refer(&mut book.cx, &word, &book.names.gatherings, "gathering");
        return known.then_some(ModeWhen::Gathering(word.text));
    }
    rule(book, key, node).map(ModeWhen::Calendar)
}

fn bypass(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<BypassPlan> {
    let mut b = f.table(&mut book.cx, "bypass")?;
    let extract_above =
        book.need(&mut b, "extract-above", want(Dimension::Temperature, ROOM, "set point"), how);
    let whens = [("outdoors cooler", true), ("always", false)];
    let only_when_outdoors_cooler = b.choice(&mut book.cx, "when", &whens).unwrap_or(true);
    b.finish(&mut book.cx);
    Some(BypassPlan { extract_above, only_when_outdoors_cooler })
}

/// Reads `frost = { protection = "preheat", below = "-4 °C" }`.
fn frost(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<FrostPlan> {
    let mut t = f.table(&mut book.cx, "frost")?;
    if !t.has("protection") {
        t.missing(&mut book.cx, "protection", "protection = \"preheat\"");
    }
    let kinds = [
        ("preheat", FrostKind::Preheat),
        ("less supply", FrostKind::ReduceSupply),
        ("recirculation", FrostKind::Recirculate),
    ];
    let kind = t.choice(&mut book.cx, "protection", &kinds);
    let below = book.need(&mut t, "below", want(Dimension::Temperature, ROOM, "set point"), how);
    t.finish(&mut book.cx);
    kind.map(|kind| FrostPlan { kind, below })
}

fn demand(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<DemandPlan> {
    let mut d = f.table(&mut book.cx, "ramp")?;
    let sensor = match d.has("sensor") {
        true => reference(book, &mut d, "sensor", Of::Space),
        false => {
            d.missing(&mut book.cx, "sensor", "sensor = \"hall\"");
            None
        }
    };
    let from = book.need(&mut d, "from", want(Dimension::Concentration, CO2, "set point"), how);
    let to = book.need(&mut d, "to", want(Dimension::Concentration, CO2, "set point"), how);
    let (low, high) = (book.plan.values.nominal_of(from), book.plan.values.nominal_of(to));
    if low >= high && low > 2.0 {
        let at = d.at().clone();
        book.cx.error(
            "range",
            &at,
            "the ramp ends before it starts",
            "let \"from\" be the lower concentration",
        );
    }
    d.finish(&mut book.cx);
    sensor.map(|sensor| DemandPlan { sensor, from, to })
}

fn sensors(book: &mut Book<'_>, f: &mut Fields<'_>) -> Vec<String> {
    let words = f.texts(&mut book.cx, "co2-sensors");
    words.into_iter().filter_map(|w| checked(book, w, Of::Space)).collect()
}

/// Reads the terminals of one direction by mode and room; `rest` spreads what is left over the other rooms.
fn terminals(
    book: &mut Book<'_>,
    f: &mut Fields<'_>,
    key: &str,
    supply: bool,
    names: &Names,
    how: &How,
) -> Vec<TerminalPlan> {
    let mut all = Vec::new();
    let w = want(Dimension::VolumeFlow, FLOW, "air flow");
    let Some(mut by_mode) = f.table(&mut book.cx, key) else { return all };
    for mode in by_mode.entries() {
        if !refer(&mut book.cx, &as_word(mode), names, "mode under \"flow\"") {
            continue;
        }
        let Some(mut t) = by_mode.table(&mut book.cx, &mode.key) else { continue };
        for room in t.entries() {
            let space = match room.key.as_str() {
                "rest" => None,
                _ if refer(&mut book.cx, &as_word(room), &book.names.spaces, "space") => {
                    Some(room.key.clone())
                }
                _ => continue,
            };
            if let Some(flow) = book.value(&mut t, &room.key, w, how) {
                all.push(TerminalPlan { mode: mode.key.clone(), supply, space, flow });
            }
        }
    }
    all
}

/// The terminals of a mode may not give more than the mode's flow.
fn check_sums(book: &mut Book<'_>, f: &Fields<'_>, plan: &VentilationPlan) {
    for mode in &plan.modes {
        for (supply, key) in [(true, "supply"), (false, "extract")] {
            let total = book.plan.values.nominal_of(if supply {
                mode.supply
            } else {
                mode.extract.unwrap_or(mode.supply)
            });
            let of = plan.terminals.iter().filter(|t| t.mode == mode.name && t.supply == supply);
            let sum: f64 = of.map(|t| book.plan.values.nominal_of(t.flow)).sum();
            if sum > total * 1.005 {
                let item = format!("{}.{key}.{}", f.path(), mode.name);
                let place = book.cx.place_of(&item).unwrap_or(f.at()).clone();
                let shown = |v: f64| format!("{:.0} m³/h", v * 3600.0);
                let d = Diagnostic::error(
                    "sum",
                    &place,
                    format!("the {key} terminals of \"{}\" add up to {}", mode.name, shown(sum)),
                )
                .with_label(format!("the unit moves {}", shown(total)))
                .with_help("the rooms' shares may not exceed the whole");
                book.cx.add(d);
            }
        }
    }
}
