//! Every command and option. `docs/cli.md` is made from these definitions and a test fails when it is stale.

mod site;

pub use site::{Log, LogAdd, LogCommand, LogExport, LogImport, LogList, LogShow, LogVerify, Takeoff, Works};

use crate::terminal::Colour;
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const AFTER: &str = "\
Exit codes: 0 all limits met, 1 a limit is not met, 2 the input or the command line needs mending, 3 a mistake of this program.
Data goes to standard output, talk to standard error. Nothing here is a certificate.";

/// From what is drawn and what is found on site: will this building meet its limits, and what is worth doing next?
#[derive(Debug, Parser)]
#[command(name = "windtight", version, after_help = AFTER, max_term_width = 100)]
pub struct Args {
    /// Colour; it only repeats what the words say.
    #[arg(long, global = true, value_enum, default_value_t, value_name = "WHEN")]
    pub color: Colour,
    /// Draw frames with plain ASCII signs.
    #[arg(long, global = true)]
    pub ascii: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Start a project: about a dozen facts make a commented building.toml with wide, visible defaults.
    New(New),
    /// What to measure on a first visit.
    Survey(Survey),
    /// Write an invented example, work out where it stands, draw its sheets.
    Demo(Demo),
    /// Read a book as a compiler reads code: where, what, why, what to write instead.
    Check(Check),
    /// Where a project stands: each limit with its figure and margin, what is open, what to do next.
    Status(Status),
    /// Whether the walls, roofs and floors stay dry, and how they dry once wet.
    Dry(Dry),
    /// How the chances moved through the job, day by day of its site log, and why.
    Story(Story),
    /// A substitution, an omission, a failed part: limits, chances and findings before and after.
    Compare(Compare),
    /// How a number came about: symbols, values, units.
    Why(Why),
    /// A pressure test: readings to a number with its band, its chance, and every validity rule by name.
    PressureTest(PressureTest),
    /// The site log: append-only records with their photos.
    Log(Log),
    /// The works: what is done when, what it covers, whether its proof comes first.
    Works(Works),
    /// Quantities by trade with waste, each traced to its elements.
    Takeoff(Takeoff),
    /// A crowd minute by minute: what fails first, the air it needs, what airing is worth, how many its air serves.
    Gathering(Gathering),
    /// Commissioned flows against design: imbalance, terminals, the damper to move next.
    Commission(Commission),
    /// What heads must be able to do, which rooms they leave cold or hot, where the water heater stands best.
    Size(Size),
    /// Draw the sheets as self-contained pages.
    Sheets(Sheets),
    /// Open the project as pages: sheets, book, site log; on this machine only.
    Serve(Serve),
    /// Work a joint drawn in a small file out: its extra loss, its coldest inside spot, its picture.
    Detail(Detail),
    /// Run the published checks: ours beside theirs, with source and tolerance.
    Verify(Verify),
}

/// Facts of a new project. Without --footprint the open form is printed and nothing is written.
#[derive(Debug, ClapArgs)]
pub struct New {
    /// Folder to make; it must not hold a book yet.
    pub folder: PathBuf,
    /// What the job is called [default: the folder's name].
    #[arg(long)]
    pub name: Option<String>,
    /// Outside size on plan, along the south side first, such as "30 ft x 24 ft".
    #[arg(long, value_name = "SIZE")]
    pub footprint: Option<String>,
    /// Storeys with rooms.
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=20))]
    pub storeys: u32,
    /// Clear height of a storey.
    #[arg(long, value_name = "LENGTH", default_value = "2.5 m")]
    pub height: String,
    /// What the outer walls are.
    #[arg(long, value_enum, default_value = "brick")]
    pub walls: WallsArg,
    /// Thickness of the outer walls.
    #[arg(long, value_name = "LENGTH", default_value = "330 mm")]
    pub wall_thickness: String,
    /// Form of the roof.
    #[arg(long, value_enum, default_value = "gable")]
    pub roof: RoofArg,
    /// What lies under the ground floor.
    #[arg(long, value_enum, default_value = "ground")]
    pub below: BelowArg,
    /// Sides shared with a heated neighbour, such as E,W.
    #[arg(long, value_enum, value_delimiter = ',', value_name = "SIDES")]
    pub attached: Vec<SideArg>,
    /// Windows on each free side of each storey.
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(0..=20))]
    pub windows: u32,
    /// Frame size of a usual window.
    #[arg(long, value_name = "SIZE", default_value = "1.2 m × 1.3 m")]
    pub window_size: String,
    /// Panes of the present glazing.
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=4))]
    pub panes: u32,
    /// Turn of plan-up from true north.
    #[arg(long, value_name = "ANGLE", default_value = "0 deg", allow_hyphen_values = true)]
    pub north: String,
    /// People there on an ordinary day.
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=5000))]
    pub people: u32,
    /// Weather file inside the folder, or a year that is built in.
    #[arg(long, value_name = "FILE", default_value = "embedded: Greensboro")]
    pub climate: String,
    /// How results are shown.
    #[arg(long, value_enum, default_value = "us")]
    pub units: UnitsArg,
}

/// Kinds of wall.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum WallsArg {
    /// Solid brick.
    Brick,
    /// Two leaves of brick with an air space.
    CavityBrick,
    /// Light timber frame with boards.
    TimberFrame,
    /// Natural stone.
    Stone,
    /// Concrete block, rendered.
    Block,
}

/// Forms of roof.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum RoofArg {
    /// Flat.
    Flat,
    /// Two slopes with rooms under them.
    Gable,
    /// A cold loft above the top ceiling.
    ColdLoft,
}

/// What lies below.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum BelowArg {
    /// A slab on the ground.
    Ground,
    /// An unheated cellar.
    Cellar,
    /// A ventilated crawl space.
    CrawlSpace,
}

/// Sides of a plan.
#[derive(Clone, Copy, Debug, ValueEnum)]
#[value(rename_all = "UPPER")]
pub enum SideArg {
    /// South.
    S,
    /// East.
    E,
    /// North.
    N,
    /// West.
    W,
}

/// Display systems.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum UnitsArg {
    /// US customary units lead.
    Us,
    /// SI.
    Si,
}

/// Options of `survey`.
#[derive(Debug, ClapArgs)]
pub struct Survey {
    /// Print the blank sheet.
    #[arg(long)]
    pub print: bool,
}

/// Options of `demo`.
#[derive(Debug, ClapArgs)]
pub struct Demo {
    /// Folder to write to [default: alder-ford, or narrow-house].
    pub folder: Option<PathBuf>,
    /// The everyday job instead: a narrow house between two others.
    #[arg(long)]
    pub house: bool,
}

/// Options of `check`.
#[derive(Debug, ClapArgs)]
pub struct Check {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// One JSON list of problems on standard output.
    #[arg(long)]
    pub json: bool,
    /// Also list what the book leaves to the tool: default values and spreads, library materials, limits in force.
    #[arg(long, conflicts_with = "json")]
    pub explain: bool,
}

/// Options of `status`.
#[derive(Debug, ClapArgs)]
pub struct Status {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Years at the values the book states: without what the site log says of them, without chances.
    #[arg(long)]
    pub nominal: bool,
    /// Sampled buildings behind each chance; more make finer digits and take longer.
    #[arg(long, value_name = "N", default_value_t = project::chances::SAMPLES, conflicts_with = "nominal", value_parser = sample_count)]
    pub samples: usize,
    /// The whole standing as JSON, in SI.
    #[arg(long)]
    pub json: bool,
    /// Every finding, not only the first of each kind.
    #[arg(long)]
    pub all: bool,
}

/// Options of `dry`.
#[derive(Debug, ClapArgs)]
pub struct Dry {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// One assembly closely: every point, other suppositions, the drying test.
    #[arg(long, value_name = "NAME")]
    pub assembly: Option<String>,
    /// Wet another layer in the drying test, such as "plywood=200 g/m²".
    #[arg(long, value_name = "LAYER=WATER", requires = "assembly")]
    pub wet: Option<String>,
    /// Also run the chances of the worst three (about a minute).
    #[arg(long, conflicts_with = "assembly")]
    pub chances: bool,
    /// The whole report as JSON, in SI.
    #[arg(long)]
    pub json: bool,
}

fn sample_count(text: &str) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(n) if (64..=1_000_000).contains(&n) => Ok(n),
        _ => Err("write a whole number from 64 to 1000000".to_owned()),
    }
}

/// Options of `story`.
#[derive(Debug, ClapArgs)]
pub struct Story {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Sampled buildings behind each chance of each day.
    #[arg(long, value_name = "N", default_value_t = project::chances::story::SAMPLES, value_parser = sample_count)]
    pub samples: usize,
    /// The story as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `compare`.
#[derive(Debug, ClapArgs)]
pub struct Compare {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// The change: parts of a book that replace the book's, and a [change] table that says what it is.
    #[arg(long, value_name = "CHANGE.TOML")]
    pub with: PathBuf,
    /// Sampled buildings behind each chance.
    #[arg(long, value_name = "N", default_value_t = project::chances::SAMPLES, value_parser = sample_count)]
    pub samples: usize,
    /// The comparison as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `why`.
#[derive(Debug, ClapArgs)]
pub struct Why {
    /// Result or limit, such as heating-demand.
    pub result: String,
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
}

/// Options of `pressure-test`.
#[derive(Debug, ClapArgs)]
pub struct PressureTest {
    /// Reading file, CSV or TOML (docs/pressure-test-file.md); - for standard input.
    pub file: Option<PathBuf>,
    /// Every number and every rule as JSON, in SI.
    #[arg(long)]
    pub json: bool,
    /// Follow the test line by line from the file as it grows, or from standard input.
    #[arg(long)]
    pub live: bool,
    /// Project whose limits, volume and counting rules the readings are held against.
    #[arg(long, value_name = "FOLDER")]
    pub project: Option<PathBuf>,
    /// Limit, by its unit: "0.6 1/h", "1.0 m³/(h·m²)" or "350 cfm".
    #[arg(long, value_name = "LIMIT")]
    pub limit: Option<String>,
    /// Inside air volume, such as "955 m³ ± 1 %"; goes before the file's.
    #[arg(long, value_name = "VOLUME")]
    pub volume: Option<String>,
    /// Envelope area, inside faces.
    #[arg(long, value_name = "AREA")]
    pub area: Option<String>,
    /// Floor area.
    #[arg(long, value_name = "AREA")]
    pub floor_area: Option<String>,
    /// Counting rule of the project's sizes, such as test-standard [default: the limit's own].
    #[arg(long, value_name = "RULE")]
    pub rule: Option<String>,
    /// Reference pressure: 25 Pa, 50 Pa or 75 Pa are usual [default: 50 Pa].
    #[arg(long, value_name = "PRESSURE")]
    pub pressure: Option<String>,
    /// Leak through the party boundary at the reference pressure, for the guard's residual [default: the project's].
    #[arg(long, value_name = "FLOW")]
    pub party: Option<String>,
    /// How figures are shown [default: the project's, else si].
    #[arg(long, value_enum)]
    pub units: Option<UnitsArg>,
    /// With --live: the direction it begins with.
    #[arg(long, value_enum, default_value = "depressurisation")]
    pub direction: DirectionArg,
    /// With --live: enough is known when the 95 % half-width is at most this share.
    #[arg(long, value_name = "SHARE", default_value = "6 %")]
    pub wanted: String,
}

/// Which way the fan blows.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum DirectionArg {
    /// Air drawn out.
    Depressurisation,
    /// Air blown in.
    Pressurisation,
}

/// Options of `gathering`.
#[derive(Debug, ClapArgs)]
pub struct Gathering {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Name of the gathering in the book [default: all].
    pub name: Option<String>,
    /// Everything as JSON, minute by minute, in SI.
    #[arg(long)]
    pub json: bool,
    /// Doors to the rest of the building: shut, open (a usual pair), or the exchange each way, such as "2000 m³/h".
    #[arg(long, value_name = "DOORS")]
    pub doors: Option<String>,
    /// Run at the highest speed this long before, such as "30 min".
    #[arg(long, value_name = "TIME")]
    pub purge: Option<String>,
    /// Outdoor air through windows while people are in, such as "900 m³/h".
    #[arg(long, value_name = "FLOW")]
    pub airing: Option<String>,
    /// Other number of people.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=5000))]
    pub people: Option<u32>,
    /// CO2 to stay under [default: what the code's outdoor air would show].
    #[arg(long, value_name = "PPM")]
    pub co2: Option<String>,
    /// Temperature to stay under [default: 26 °C].
    #[arg(long, value_name = "TEMPERATURE")]
    pub warmest: Option<String>,
    /// Print every so many minutes.
    #[arg(long, value_name = "MINUTES", default_value_t = 15)]
    pub every: usize,
}

/// Options of `commission`.
#[derive(Debug, ClapArgs)]
pub struct Commission {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Every figure as JSON, in SI.
    #[arg(long)]
    pub json: bool,
}

/// Options of `size`.
#[derive(Debug, ClapArgs)]
pub struct Size {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Everything as JSON, in SI.
    #[arg(long)]
    pub json: bool,
}

/// Options of `sheets`.
#[derive(Debug, ClapArgs)]
pub struct Sheets {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Where to write [default: sheets/ in the project].
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
}

/// Options of `serve`. A folder without a book begins with the open form of a new one.
#[derive(Debug, ClapArgs)]
pub struct Serve {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Port on this machine; 0 takes any that is free.
    #[arg(long, default_value_t = 8600)]
    pub port: u16,
    /// Open the pages in the browser.
    #[arg(long)]
    pub open: bool,
}

/// Options of `detail`.
#[derive(Debug, ClapArgs)]
pub struct Detail {
    /// File of the detail; docs/guide/draw-a-detail.md tells how to write one.
    pub file: PathBuf,
    /// One JSON object on standard output, in SI.
    #[arg(long)]
    pub json: bool,
    /// Draw it to scale.
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Draw lines of equal temperature too.
    #[arg(long, requires = "svg")]
    pub heat_lines: bool,
}

/// Options of `verify`.
#[derive(Debug, ClapArgs)]
pub struct Verify {
    /// One JSON list of checks on standard output.
    #[arg(long)]
    pub json: bool,
    /// Nudge one engine input of each check until it must notice; a check that does not proves nothing.
    #[arg(long)]
    pub self_test: bool,
    /// Only topics whose name holds this text.
    #[arg(long, value_name = "TEXT")]
    pub topic: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{CommandFactory as _, builder::StyledStr};
    use std::fmt::Write as _;

    /// Writes the reference page of all commands.
    fn page() -> String {
        let mut root = Args::command().term_width(100);
        root.build();
        let mut out = String::from(
            "# Commands\n\nMade from the program's own definitions; to make it anew: `UPDATE_DOCS=1 cargo test -p windtight`.\n",
        );
        let mut section = |name: &str, help: StyledStr| {
            let _ = write!(out, "\n## {name}\n\n```text\n{}\n```\n", help.to_string().trim_end());
        };
        section("windtight", root.render_long_help());
        for command in root.get_subcommands_mut().filter(|c| c.get_name() != "help") {
            let name = format!("windtight {}", command.get_name());
            section(&name, command.render_help());
            let parts = command.get_subcommands_mut().filter(|c| c.get_name() != "help");
            for part in parts {
                section(&format!("{name} {}", part.get_name()), part.render_help());
            }
        }
        // Trailing blanks of the layout carry nothing.
        out.lines().map(|l| l.trim_end().to_owned() + "\n").collect()
    }

    #[test]
    fn the_reference_page_is_fresh() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/cli.md");
        let page = page();
        if std::env::var_os("UPDATE_DOCS").is_some() {
            std::fs::write(path, &page).expect("written");
        }
        let committed = std::fs::read_to_string(path).unwrap_or_default().replace("\r\n", "\n");
        assert!(committed == page, "docs/cli.md is stale: UPDATE_DOCS=1 cargo test -p windtight");
    }

    #[test]
    fn definitions_are_sound() {
        Args::command().debug_assert();
    }
}
