//! Draws the sheets of a project folder with its year run once, as it will be used.
//!
//! Run `cargo run -p sheets --example book -- PROJECT FOLDER`. The command does the same with its cache and its
//! limits; this is for looking at pages while working on them.

use project::standing::{Years, standing};
use year::{Grain, Use};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (from, to) = (arguments.next().unwrap_or_default(), arguments.next().unwrap_or_else(|| ".".into()));
    let (project, _) = project::open(from.as_ref()).map_err(|report| format!("{report:?}"))?;
    let building = &project.building;
    let year = year::run(building, &project.weather.climate, Use::Real, Grain::Limits)
        .map_err(|error| eprintln!("no year: {error}"))
        .ok();
    let years = Years::run(&project);
    let standing = standing(&project, &years);
    let workings = sheets::workings(building, &building.values.nominal());
    let moisture = project::dry::at_hand(&project);
    let air = project::air::Story::of(&project);
    let input = sheets::Input {
        air: Some(&air),
        standing: &standing,
        building,
        workings: &workings,
        details: &project.details,
        year: year.as_ref(),
        moisture: moisture.as_ref(),
        machines: years.machines.as_ref(),
        revision: project.inputs.text(),
    };
    let log = sheets::adapt::site_log(&project)?;
    for sheet in sheets::render_with(&input, Some(&log)) {
        std::fs::write(format!("{to}/{}", sheet.file_name), sheet.html)?;
    }
    Ok(())
}
