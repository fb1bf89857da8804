//! The lower half of the sheet of air: fresh air by room, what burns, commissioned flows.

use maud::{Markup, html};
use project::air::{ModeReport, Story, TerminalReport};

use super::air::{Says, percent};
use crate::page::{table, working};
use crate::sheet::where_we_stand::capital;
use crate::svg::decimal;

/// Outdoor air of every room with people, by both standards.
pub(super) fn rooms(story: &Story, says: Says) -> Markup {
    if story.rooms.is_empty() {
        return html! {};
    }
    let rows: Vec<Vec<String>> = story
        .rooms
        .iter()
        .map(|r| {
            vec![
                format!("{}, {}", r.label, r.occasion),
                decimal(r.people, 0),
                format!("{}, {}", says.flow(r.supply_m3_h), r.mode),
                format!("{} ({})", says.flow(r.ashrae_62_1_m3_h), percent(r.share)),
                says.flow(r.en_16798_1_m3_h),
            ]
        })
        .collect();
    let transfer = story.transfers.iter().find_map(|t| t.share);
    html! {
        h2 id="fresh-air" { "Outdoor air, room by room" }
        p { "What the terminals give beside what two standards ask. In brackets the share of ASHRAE 62.1 that is given; distribution \
             effectiveness is taken as 1. "
            @match transfer {
                Some(share) => { "Extract air carried over, " (percent(share)) ", is taken off." }
                None => { "No figure for extract air carried over is stated: none is taken off." }
            }
        }
        (table("", &["room, occasion", "people", "given", "ASHRAE 62.1", "EN 16798-1, II"], &rows))
    }
}

/// What burns, and the suction it must draw against.
pub(super) fn burning(story: &Story) -> Markup {
    html! {
        @if !story.make_up.is_empty() {
            h2 { "What burns" }
            @for m in &story.make_up {
                div class=[(m.spills() == Some(true)).then_some("stop")] {
                    p {
                        b { (capital(&m.appliance)) } ", " (m.kind) ", " (m.place) ": "
                        @match (m.room_air, m.pressure_pa) {
                            (false, _) => { "air by a duct of its own." }
                            (true, Some(pa)) => { (decimal(pa, 1)) " Pa, " (m.basis) "; flues of such appliances are known to spill beyond −" (decimal(m.spills_beyond_pa, 0)) " Pa (common practice)." }
                            (true, None) => { (m.basis) "." }
                        }
                    }
                    p.soft { "Draught, make-up air and carbon monoxide were not checked: a licensed fitter tests with every fan running; a CO alarm stays on." }
                }
            }
        }
    }
}

/// Flows against design, with the damper to move next.
pub(super) fn commissioning(story: &Story, says: Says) -> Markup {
    let read = |m: &&ModeReport| {
        m.read_m3_h.iter().any(Option::is_some) || m.terminals.iter().any(|t| t.read_m3_h.is_some())
    };
    html! {
        @for unit in &story.commission.units {
            h2 { "Commissioning of " (unit.unit) }
            @if !unit.modes.iter().any(|m| read(&m)) {
                p { "No flow is on record yet. What the terminals should give:" }
            }
            @for mode in &unit.modes { (one_mode(mode, says, read(&mode))) }
        }
    }
}

fn one_mode(mode: &ModeReport, says: Says, read: bool) -> Markup {
    let row = |t: &TerminalReport| {
        let mut cells = vec![format!("{}, {}", t.label, t.way), says.flow(t.design_m3_h)];
        if read {
            cells.push(t.read_m3_h.map_or_else(|| "not read".to_owned(), |q| says.flow(q)));
            cells.push(t.deviation.map_or_else(|| "–".to_owned(), |d| format!("{:+.0} %", 100.0 * d)));
            cells.push(match t.inside {
                Some(true) => "inside".to_owned(),
                Some(false) => "out".to_owned(),
                None => "–".to_owned(),
            });
        }
        cells
    };
    let rows: Vec<Vec<String>> = mode.terminals.iter().map(row).collect();
    let head: &[&str] =
        if read { &["terminal", "design", "read", "off", "so"] } else { &["terminal", "design"] };
    let summary = format!(
        "{}: {} out of {}",
        mode.mode,
        mode.read_m3_h[0].map_or_else(|| says.flow(mode.design_m3_h[0]), |q| says.flow(q)),
        if read { "the fan, as read" } else { "the fan, by design" }
    );
    let words = html! {
        @if let (Some(i), Some(u)) = (mode.imbalance, mode.imbalance_uncertainty) {
            p {
                b { (decimal(100.0 * i, 1)) " % ± " (decimal(200.0 * u, 1)) " % out of balance" } " (95 %)"
                @if let (Some(pa), Some(q)) = (mode.pressure_pa, mode.through_leaks_m3_h) {
                    ": rooms at " (decimal(pa, 1)) " Pa, " (says.flow(q)) " through leaks"
                }
                "."
            }
        }
        @for a in &mode.advice {
            @if let (Some(room), Some(opening), Some(lands)) = (&a.room, a.opening_ratio, a.lands_at_m3_h) {
                p.act { "Next: " (if opening < 1.0 { "close" } else { "open" }) " the " (a.way) " damper of " (room) " to " (percent(opening)) " of its present opening; it should then read " (says.flow(lands)) "." }
            }
        }
    };
    html! {
        @if read { h3 { (capital(&mode.mode)) } (words) (table("", head, &rows)) }
        @else { (working(&summary, &table("", head, &rows))) }
    }
}
