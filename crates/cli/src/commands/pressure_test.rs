//! `windtight pressure-test`.

mod live;
mod words;

use crate::Ended;
use crate::args::PressureTest;
use crate::failure::Failure;
use crate::terminal::Terminal;
use air::readings::{Size, TestFile};
use project::Project;
use project::air::{Ask, Per, TestReport};
use quantity::{Dimension, Reading, System};
use std::io::Read as _;
use std::path::Path;

/// Evaluates a reading file, or follows a test as it is read.
pub fn run(options: &PressureTest, terminal: &Terminal) -> Result<Ended, Failure> {
    let project = match &options.project {
        Some(folder) => {
            let (project, report) = project::open(folder)?;
            terminal.say(&report.render(terminal.style()));
            Some(project)
        }
        None => None,
    };
    let ask = asked(options, project.as_ref())?;
    let system = system(options, project.as_ref());
    if options.live {
        return live::run(options, &ask, system, terminal);
    }
    let Some(path) = &options.file else {
        return Err(Failure::CommandLine {
            message: "no reading file is named".to_owned(),
            hint: "windtight pressure-test readings.csv, or - for standard input; the format: docs/pressure-test-file.md"
                .to_owned(),
        });
    };
    let (name, text) = text_of(path)?;
    // What is odd without being wrong stands among the report's notes.
    let (file, _) = project::air::read(&name, &text)?;
    let report = evaluated(&name, &file, &ask)?;
    if options.json {
        let text = serde_json::to_string_pretty(&report).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        terminal.print(&words::page(&report, system, terminal))?;
    }
    let missed = report.rates.iter().any(|r| r.met == Some(false));
    Ok(if missed || report.valid == Some(false) { Ended::NotMet } else { Ended::Well })
}

fn evaluated(name: &str, file: &TestFile, ask: &Ask) -> Result<TestReport, Failure> {
    project::air::report(file, ask).map_err(|error| Failure::CommandLine {
        message: format!("{name}: {error}"),
        hint: "look at the readings of that direction; docs/pressure-test-file.md shows a whole file"
            .to_owned(),
    })
}

/// Reads a file, or standard input for `-`.
fn text_of(path: &Path) -> Result<(String, String), Failure> {
    let bytes = if path == Path::new("-") {
        let mut bytes = Vec::new();
        std::io::stdin().read_to_end(&mut bytes).map_err(Failure::while_doing("reading standard input"))?;
        bytes
    } else {
        std::fs::read(path).map_err(Failure::while_doing(format!("reading {}", path.display())))?
    };
    let name = if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() };
    let text = String::from_utf8(bytes).map_err(|_| Failure::CommandLine {
        message: format!("{name} is no text"),
        hint: "save it as CSV or TOML in UTF-8".to_owned(),
    })?;
    Ok((name, text))
}

fn system(options: &PressureTest, project: Option<&Project>) -> System {
    match (options.units, project) {
        (Some(crate::args::UnitsArg::Us), _) => System::Us,
        (Some(crate::args::UnitsArg::Si), _) => System::Si,
        (None, Some(project)) => project.building.project.units,
        (None, None) => System::Si,
    }
}

/// What the options and the project ask of the readings.
fn asked(options: &PressureTest, project: Option<&Project>) -> Result<Ask, Failure> {
    let mut ask = match project {
        Some(project) => project::air::ask_of(project, options.rule.as_deref()).ok_or_else(|| {
            let rules: Vec<String> = building::counting::rules().iter().map(|r| r.id.clone()).collect();
            Failure::CommandLine {
                message: format!("no counting rule is called {}", options.rule.as_deref().unwrap_or("")),
                hint: format!("rules are {}", project::diagnostic::list(&rules)),
            }
        })?,
        None if options.rule.is_some() => {
            return Err(Failure::CommandLine {
                message: "a counting rule counts a project".to_owned(),
                hint: "name its folder with --project, or give --volume".to_owned(),
            });
        }
        None => Ask::default(),
    };
    if let Some(text) = &options.pressure {
        ask.pressure_pa = read("--pressure", text, Dimension::Pressure)?.value;
        if !(1.0..=200.0).contains(&ask.pressure_pa) {
            return Err(Failure::CommandLine {
                message: format!("--pressure {text}: a reference pressure lies between 1 and 200 Pa"),
                hint: "25 Pa, 50 Pa and 75 Pa are usual".to_owned(),
            });
        }
        // A project's limits speak of their own reference pressure.
        if (ask.pressure_pa - project::air::REFERENCE_PA).abs() > 1e-9 {
            ask.limits.clear();
        }
    }
    let mut stated = false;
    for (name, text, dimension, size) in [
        ("--volume", &options.volume, Dimension::Volume, &mut ask.volume),
        ("--area", &options.area, Dimension::Area, &mut ask.envelope_area),
        ("--floor-area", &options.floor_area, Dimension::Area, &mut ask.floor_area),
    ] {
        if let Some(text) = text {
            *size = Some(positive(name, text, &read(name, text, dimension)?)?);
            stated = true;
        }
    }
    if stated {
        "as stated".clone_into(&mut ask.rule);
    }
    if let Some(text) = &options.limit {
        ask.limits = vec![limit(text)?];
    }
    if let Some(text) = &options.party {
        let flow = 3600.0 * read("--party", text, Dimension::VolumeFlow)?.value;
        ask.party = Some(air::leakage::PowerLaw::through(flow, ask.pressure_pa, ask.exponent.value));
    }
    Ok(ask)
}

fn read(name: &str, text: &str, dimension: Dimension) -> Result<Reading, Failure> {
    quantity::read(text, dimension).map_err(|error| Failure::CommandLine {
        message: format!("{name} {text}: {error}"),
        hint: format!("write it like {name} \"{}\"", dimension.example()),
    })
}

fn positive(name: &str, text: &str, reading: &Reading) -> Result<Size, Failure> {
    if reading.value > 0.0 {
        return Ok(Size::of(reading));
    }
    Err(Failure::CommandLine {
        message: format!("{name} {text}: it must be above zero"),
        hint: "mend the value".to_owned(),
    })
}

/// A limit says by its unit what it speaks of.
fn limit(text: &str) -> Result<(Per, f64), Failure> {
    let kinds = [
        (Dimension::AirChange, Per::Volume, 1.0),
        (Dimension::AirPermeability, Per::Envelope, 1.0),
        (Dimension::VolumeFlow, Per::One, 3600.0),
    ];
    for (dimension, per, factor) in kinds {
        if let Ok(reading) = quantity::read(text, dimension)
            && reading.value > 0.0
        {
            return Ok((per, factor * reading.value));
        }
    }
    Err(Failure::CommandLine {
        message: format!(
            "--limit {text}: neither an air-change rate, a leakage per envelope area, nor a flow"
        ),
        hint: "write \"0.6 1/h\", \"1.0 m³/(h·m²)\" or \"350 cfm\"".to_owned(),
    })
}

/// One cubic foot a minute, m³/h, by the unit table.
fn cfm_m3_h() -> f64 {
    quantity::read("1 cfm", Dimension::VolumeFlow).map_or(f64::NAN, |r| 3600.0 * r.value)
}
