//! Writes every kind of drawing of the invented specimen into a folder, to be looked at.
//!
//! The four sheets of the specimen lie beside it. Run `cargo run -p sheets --example gallery -- FOLDER`; open `gallery.html`.

#[path = "../tests/specimen/mod.rs"]
mod specimen;

use maud::{PreEscaped, html};
use sheets::draw::chart::{Format, LineChart, Reference, Series, YearStrip, line_chart, year_strip};
use sheets::draw::decimate::reaches;
use sheets::draw::hatch::{Hatch, legend};
use sheets::draw::scale::clock_marks;
use sheets::draw::tally::{Chances, Stick, stick, tally};
use sheets::draw::{axonometric::axonometric, long_section::long_section, section::section};
use sheets::page::{Entry, TitleBlock, figure, figure_to_pan, frame};

const INDEX: [Entry; 1] = [Entry { file: "gallery.html", name: "Gallery", question: "does it look right?" }];

fn main() -> std::io::Result<()> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| ".".into());
    let evening = |k: f64| -> Vec<[f64; 2]> {
        (0..=90)
            .map(|m| [19.0 + f64::from(m) / 60.0, 600.0 + k * f64::from(m) / (30.0 + f64::from(m))])
            .collect()
    };
    let chart = LineChart {
        id: "co2".into(),
        title: "CO2 in the hall".into(),
        description: "Two lines rise from 600 ppm.".into(),
        series: vec![
            Series { name: "doors shut".into(), points: evening(1900.0) },
            Series { name: "doors open to the corridor".into(), points: evening(1300.0) },
        ],
        references: vec![Reference { value: 2040.0, name: "where ninety people end".into() }],
        marks: clock_marks(18.5, 21.0, 5),
        spans: vec![(19.0, 20.5, "90 people".into())],
        hours: [18.5, 21.0],
        floor: Some(400.0),
    };
    let hourly = specimen::pages::hourly;
    let strip = YearStrip {
        id: "strip".into(),
        title: "Recital hall over the year".into(),
        description: "Between 68 and 79 °F.".into(),
        days: reaches(&hourly(72.5, 3.0), 365),
        name: "hall".into(),
        references: vec![Reference { value: 77.0, name: "77 °F".into() }],
        notes: vec![(195, "warmest, 15 July".into())],
    };
    let content = html! {
        h1 { "Every kind of drawing" }
        p.lead { "An invented specimen; its figures are made up to fill the pictures." }
        (figure_to_pan("ls", "The air barrier is one line with two gaps.", |f| long_section(&specimen::long_section(), f).drawing))
        (figure_to_pan("ax", "The enclosure.", |f| axonometric(&specimen::axonometric(), f)))
        @for s in [specimen::upper_wall(), specimen::wall_with_levels(), specimen::roof(), specimen::party_floor()] {
            (figure(&s.title.clone(), |f| section(&s, f)))
        }
        (figure("Hatches", |f| legend(&format!("legend-{}", f.suffix()), &Hatch::ALL, Format::width(f))))
        (figure("CO2 climbs to 1 900 ppm with the doors shut.", |f| line_chart(&chart, f)))
        (figure("The hall stays under 77 °F but for July.", |f| year_strip(&strip, f)))
        @for (id, s) in [
            Stick { value: 0.63, limit: 0.60, at_most: true, decimals: 2 },
            Stick { value: 11.5, limit: 15.0, at_most: true, decimals: 0 },
            Stick { value: 82.0, limit: 75.0, at_most: false, decimals: 0 },
            Stick { value: 0.61, limit: 0.70, at_most: false, decimals: 2 },
        ].into_iter().enumerate() {
            p { (PreEscaped(stick(&format!("stick-{id}"), s).inline())) }
        }
        @for (id, (met, missed)) in [(31, 69), (97, 3), (54, 20), (0, 100)].into_iter().enumerate() {
            @if let Some(c) = Chances::new(met, missed) {
                div style="width:309px" { (PreEscaped(tally(&format!("tally-{id}"), c).inline())) }
                p { (c.words()) }
            }
        }
    };
    let block = TitleBlock {
        project: "Alder Ford music school",
        about: "invented specimen",
        status: "barrier · 2 September 2025",
        revision: "4f1c 9a02",
        language: "en-US",
    };
    for (file, page) in specimen::pages::pages("us") {
        std::fs::write(format!("{folder}/{file}"), page)?;
    }
    std::fs::write(format!("{folder}/gallery.html"), frame(block, &INDEX, 0, &content))
}
