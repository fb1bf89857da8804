//! The test-day page: who has been told, what is off, what is closed, what the fan must do; boxes to tick, lines to fill in.

use maud::{Markup, html};
use project::air::FanNeed;
use quantity::Dimension;

use super::air::Says;
use crate::sheet::where_we_stand::capital;
use crate::svg::decimal;

/// What the page is made from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TestDay {
    /// Doors and windows to outside, by name.
    pub openings: Vec<String>,
    /// Ventilation units and their rooms.
    pub units: Vec<String>,
    /// What passes through the barrier.
    pub penetrations: Vec<String>,
    /// Everything that burns, here and next door.
    pub burning: Vec<String>,
    /// Neighbours.
    pub neighbours: Vec<String>,
    /// What the fan must do.
    pub fan: Option<FanNeed>,
    /// Sealed for the last test, or unfinished then.
    pub seals: Vec<String>,
}

/// Rows of preparation: what, then what methods 1, 2 and 3 of ISO 9972 ask (from memory).
const PREPARATION: [(&str, &str, &str, &str); 9] = [
    ("Windows, doors, hatches to outside", "shut", "shut", "shut"),
    ("Doors inside", "open", "open", "open"),
    ("Openings for natural ventilation, trickle vents", "shut", "sealed", "by the rule"),
    ("Ducts of ventilation that runs all the time", "sealed", "sealed", "by the rule"),
    ("Ducts and hoods that run now and then", "shut", "sealed", "by the rule"),
    ("Flues, chimneys, dampers", "shut", "sealed", "by the rule"),
    ("Letter boxes, pet doors, shafts", "shut", "sealed", "by the rule"),
    ("Traps and drains", "filled", "filled", "filled"),
    ("Doors to unheated rooms, to the neighbour", "shut", "shut", "by the rule"),
];

fn tick(words: &str) -> Markup {
    html! { li { span.box {} (words) } }
}

/// Draws the page.
pub(super) fn test_day(day: &TestDay, says: Says, project: &str, revision: &str) -> Markup {
    html! {
        section.crew.day id="test-day" aria-label="Test-day page" {
            header {
                p.kicker { "Test day · " (project) @if !revision.is_empty() { " · " (revision) } }
                h2.flush { "Nothing runs until the hold point is ticked" }
                p.soft { "A memory aid. It replaces neither the standard nor the appliances' instructions nor the people licensed for them." }
            }
            div.stop {
                h3 { "Hold point, in the tested space and next door" }
                ul.ticks {
                    @for line in hold_point(day) { (tick(&line)) }
                }
            }
            div {
                h3 { "What the fan must do" }
                (fan(day, says))
                h3 { "Before you come" }
                ul.ticks {
                    (tick("Method of preparation and counting rule, in writing"))
                    (tick("Gauge and fan certificates in date, numbers into the reading file"))
                    (tick("Wind near the ground under 3 m/s, height × temperature difference under 250 m·K"))
                    @if !day.neighbours.is_empty() { (tick("Second fan and second gauge for the guard, or doors that can stand open")) }
                }
                h3 { "Read" }
                ul.ticks {
                    (tick("Zero-flow pressure, fan covered, half a minute: under 5 Pa"))
                    (tick("Highest pressure, lowest allowed, then between in steps of 10 Pa at most"))
                    (tick("Zero-flow pressure again; turn the fan; all again"))
                    @if !day.neighbours.is_empty() { (tick("Neighbour held within 0.5 Pa, logged; then opened, and read once more")) }
                }
            }
            div {
                h3 { "Prepare, photograph" }
                div.wide {
                    table {
                        thead { tr { th scope="col" { "done" } th scope="col" { "what" } th scope="col" { "1" } th scope="col" { "2" } th scope="col" { "3" } } }
                        tbody {
                            @for (what, one, two, three) in PREPARATION {
                                tr { td { span.box {} } th scope="row" { (what) } td { (one) } td { (two) } td { (three) } }
                            }
                        }
                    }
                }
                p.soft { "Methods of ISO 9972: 1 building in use, 2 envelope alone, 3 as the rule asks. From memory; the edition your contract names decides." }
                (named("Openings", &day.openings))
                (named("Ventilation", &day.units))
                (named("Through the barrier", &day.penetrations))
                (named("Sealed or unfinished last time", &day.seals))
            }
            div.photos {
                h3 { "Afterwards" }
                ul.ticks {
                    (tick("Every numbered temporary seal off, traps filled, dampers and controls back"))
                    (tick("Burners, kilns and water heaters back on by whoever is responsible, flues drawing, CO alarm quiet"))
                    (tick("Neighbours told it is over; ash and dust swept"))
                    (tick("Reading file saved as read: a reading you mistrust gets a # and a reason"))
                }
            }
            dl.signed {
                @for word in ["Done", "Date", "Initials", "Wind, temperatures"] { div { dt { (word) } dd {} } }
            }
        }
    }
}

fn hold_point(day: &TestDay) -> Vec<String> {
    let mut lines = vec![match day.neighbours.as_slice() {
        [] => "People in the building told the hour".to_owned(),
        names => format!(
            "{} told the hour, and asked what burns, spins or vents there",
            capital(&names.join(", "))
        ),
    }];
    lines.push("Every burner, boiler, kiln, stove and fireplace off, cold and locked out".to_owned());
    lines.extend(day.burning.iter().map(|what| format!("{}: off, cold, locked out", capital(what))));
    lines.extend(
        [
            "CO alarm present and tested, in the tested space and beside the guard fan",
            "Ash out or sealed in; clay, silica, glaze and sawdust swept, wetted or covered",
            "Suspected asbestos or lead dust: no fan; call whoever is licensed",
            "Kitchen and process exhausts and dryers off",
            "Way out open, nobody behind a door the fan will slam, someone at the switch",
            "Loose membranes, ceilings, films and fresh plaster looked at",
        ]
        .map(str::to_owned),
    );
    lines
}

fn fan(day: &TestDay, says: Says) -> Markup {
    let Some(need) = &day.fan else {
        return html! { p { "Nothing is known of the leak: bring a fan that reads widely." } };
    };
    html! {
        p {
            "By " (need.from) ": it must reach " b { (says.flow(need.largest_m3_h)) }
            " and still read " b { (says.flow(need.smallest_m3_h)) } "."
            @if let Some(party) = need.party_m3_h {
                " Unguarded, " (says.leak(party)) " more come through the party boundary at 50 Pa; the guard fan must hold the neighbour, whose own leak nobody has stated."
            }
        }
        div.wide {
            table {
                thead { tr { th scope="col" { "pressure" } th.n scope="col" { "expect" } th.n scope="col" { "from, to" } th scope="col" { "read" } } }
                tbody {
                    @for f in &need.flows {
                        tr {
                            th scope="row" { (decimal(f.pressure_pa, 0)) " Pa" }
                            td.n { (says.0.show(f.best_m3_h / 3600.0, Dimension::VolumeFlow)) }
                            td.n { (says.flow(f.low_m3_h)) ", " (says.flow(f.high_m3_h)) }
                            td.blank {}
                        }
                    }
                }
            }
        }
    }
}

fn named(title: &str, names: &[String]) -> Markup {
    html! {
        @if !names.is_empty() {
            p { b { (title) ": " } @for (n, name) in names.iter().enumerate() { @if n > 0 { ", " } (name) } "." }
        }
    }
}
