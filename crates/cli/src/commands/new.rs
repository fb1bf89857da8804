//! `windtight new` and `windtight survey`.

use crate::Ended;
use crate::args::{BelowArg, New, RoofArg, SideArg, Survey, UnitsArg, WallsArg};
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::source::Folder;
use project::starter::{self, Below, Facts, Roof, Walls};

/// Starts a project from its facts.
pub fn run(options: &New, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = &options.folder;
    let shown = folder.display();
    let Some(footprint) = &options.footprint else {
        terminal.say(&form(options, terminal));
        return Err(Failure::CommandLine {
            message: "nothing was written: the size on plan is the one fact without a default".to_owned(),
            hint: format!("windtight new {shown} --footprint \"30 ft x 24 ft\""),
        });
    };
    let book = folder.join("building.toml");
    if book.exists() {
        return Err(Failure::CommandLine {
            message: format!("{} is there already and was left alone", book.display()),
            hint: "name another folder, or edit the book that is there".to_owned(),
        });
    }
    let facts = facts(options, footprint);
    let text = starter::book(&facts);
    let reading = project::book::read_text(&text);
    let (sources, problems, _) = reading.problems.into_parts();
    let report = project::diagnostic::Report::new(sources, problems);
    if report.errors() > 0 {
        terminal.say("These facts do not make a book yet; this is what it would say:\n");
        return Err(Failure::Input(Box::new(report)));
    }
    let doing = || format!("writing {}", book.display());
    std::fs::create_dir_all(folder).map_err(Failure::while_doing(format!("making the folder {shown}")))?;
    std::fs::write(&book, &text).map_err(Failure::while_doing(doing()))?;
    terminal.print(&format!("wrote {}\n", book.display()))?;
    let checked = Folder::open(folder).map(|f| project::check(&f));
    if let Ok(checked) = checked
        && !checked.report.diagnostics().is_empty()
    {
        terminal.say(&checked.report.render(terminal.style()));
    }
    let words = format!(
        "Everything marked \"assumed\" is a wide default: it shows how much is still unknown. Next:\n\
         \x20 windtight status {shown}           where it stands on these assumptions\n\
         \x20 windtight survey --print            what to measure on the next visit\n"
    );
    terminal.say(&words);
    Ok(Ended::Well)
}

fn facts(options: &New, footprint: &str) -> Facts {
    let folder_name = options.folder.file_name().map(|n| n.to_string_lossy().into_owned());
    Facts {
        name: options.name.clone().or(folder_name).unwrap_or_else(|| "Unnamed building".to_owned()),
        footprint: footprint.to_owned(),
        storeys: options.storeys,
        height: options.height.clone(),
        walls: match options.walls {
            WallsArg::Brick => Walls::SolidBrick,
            WallsArg::CavityBrick => Walls::CavityBrick,
            WallsArg::TimberFrame => Walls::TimberFrame,
            WallsArg::Stone => Walls::Stone,
            WallsArg::Block => Walls::Block,
        },
        wall_thickness: options.wall_thickness.clone(),
        roof: match options.roof {
            RoofArg::Flat => Roof::Flat,
            RoofArg::Gable => Roof::Gable,
            RoofArg::ColdLoft => Roof::ColdLoft,
        },
        below: match options.below {
            BelowArg::Ground => Below::Ground,
            BelowArg::Cellar => Below::Cellar,
            BelowArg::CrawlSpace => Below::CrawlSpace,
        },
        attached: options.attached.iter().map(|s| side(*s).to_owned()).collect(),
        windows: options.windows,
        window_size: options.window_size.clone(),
        panes: options.panes,
        north: options.north.clone(),
        people: options.people,
        climate: options.climate.clone(),
        units: match options.units {
            UnitsArg::Us => "us".to_owned(),
            UnitsArg::Si => "si".to_owned(),
        },
    }
}

fn side(side: SideArg) -> &'static str {
    match side {
        SideArg::S => "S",
        SideArg::E => "E",
        SideArg::N => "N",
        SideArg::W => "W",
    }
}

/// The open form: every fact, what holds without it, and the option that gives it.
fn form(options: &New, terminal: &Terminal) -> String {
    let facts = facts(options, "");
    let attached = if facts.attached.is_empty() { "none".to_owned() } else { facts.attached.join(",") };
    let row =
        |fact: &str, value: &str, option: &str| vec![fact.to_owned(), value.to_owned(), option.to_owned()];
    let value = |v: &dyn std::fmt::Debug| format!("{v:?}");
    let lower = |v: &dyn std::fmt::Debug| {
        value(v)
            .chars()
            .flat_map(|c| if c.is_uppercase() { vec![' ', c.to_ascii_lowercase()] } else { vec![c] })
            .collect::<String>()
            .trim()
            .to_owned()
    };
    let rows = vec![
        row("fact", "as it stands", "say otherwise with"),
        row("size on plan", "?", "--footprint \"30 ft x 24 ft\""),
        row("name", &facts.name, "--name"),
        row("storeys with rooms", &facts.storeys.to_string(), "--storeys"),
        row("clear height", &facts.height, "--height"),
        row("outer walls", &lower(&facts.walls), "--walls"),
        row("wall thickness", &facts.wall_thickness, "--wall-thickness"),
        row("roof", &lower(&facts.roof), "--roof"),
        row("under the ground floor", &lower(&facts.below), "--below"),
        row("shared sides", &attached, "--attached E,W"),
        row("windows a side and storey", &facts.windows.to_string(), "--windows"),
        row("usual window", &facts.window_size, "--window-size"),
        row("panes", &facts.panes.to_string(), "--panes"),
        row("plan-up from true north", &facts.north, "--north"),
        row("people", &facts.people.to_string(), "--people"),
        row("weather", &facts.climate, "--climate"),
        row("display", &facts.units, "--units"),
    ];
    columns(&rows, terminal.width(), 2)
}

/// Prints the blank sheet, or says how to.
pub fn survey(options: &Survey, terminal: &Terminal) -> Result<Ended, Failure> {
    if options.print {
        terminal.print(starter::survey_sheet())?;
        return Ok(Ended::Well);
    }
    Err(Failure::CommandLine {
        message: "the survey is a sheet of paper".to_owned(),
        hint: "windtight survey --print, and pipe it to your printer".to_owned(),
    })
}
