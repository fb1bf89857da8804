//! `windtight pressure-test --live`: a test as it is read.
//!
//! Lines come from standard input or from a file that somebody goes on writing: settings as in a reading file
//! (`inside temperature, 21 °C`), then `zero -1.2`, `-50.3 511`, `wind 2.5`, `turn`; rows of a table
//! (`depressurisation, -50.3, 511`) are taken too. `end` ends.

use super::words::{Show, chances};
use crate::Ended;
use crate::args::{DirectionArg, PressureTest};
use crate::failure::Failure;
use crate::terminal::Terminal;
use air::fan_test::{Conditions, Direction, FlowState};
use air::live::{Aim, Event, Live, Next, Rig, Update, WindSays, read_line};
use air::test_budget::{Circumstances, Instruments};
use project::air::{Ask, Figure, Per};
use quantity::{Dimension, System};
use std::io::{BufRead as _, Read as _, Seek as _, SeekFrom};
use std::path::Path;
use std::time::Duration;

/// Time between two looks at a growing file.
const LOOK_EVERY: Duration = Duration::from_millis(300);
/// Highest pressure advised, Pa (common practice: ISO 9972 does not recommend more than 100 Pa, from memory).
const HIGHEST_PA: f64 = 70.0;

/// Follows a test.
pub fn run(options: &PressureTest, ask: &Ask, system: System, terminal: &Terminal) -> Result<Ended, Failure> {
    let mut session = Session::begin(options, ask, system)?;
    terminal.print(&session.welcome(terminal))?;
    match options.file.as_deref() {
        None => from_input(&mut session, terminal)?,
        Some(path) if path == Path::new("-") => from_input(&mut session, terminal)?,
        Some(path) => from_file(&mut session, path, terminal)?,
    }
    Ok(if session.missed() { Ended::NotMet } else { Ended::Well })
}

fn from_input(session: &mut Session, terminal: &Terminal) -> Result<(), Failure> {
    for line in std::io::stdin().lock().lines() {
        let line = line.map_err(Failure::while_doing("reading standard input"))?;
        if session.take(&line, terminal)? {
            return Ok(());
        }
    }
    Ok(())
}

/// Reads whole lines as the file grows; ends with a line `end`.
fn from_file(session: &mut Session, path: &Path, terminal: &Terminal) -> Result<(), Failure> {
    let doing = || Failure::while_doing(format!("reading {}", path.display()));
    let mut file = std::fs::File::open(path).map_err(doing())?;
    let (mut read, mut pending) = (0_u64, Vec::<u8>::new());
    loop {
        let length = file.metadata().map_err(doing())?.len();
        if length < read {
            // Somebody began the file anew: what was read stays read.
            read = 0;
            pending.clear();
            terminal.say("the file became shorter; reading it from its beginning again\n");
        }
        file.seek(SeekFrom::Start(read)).map_err(doing())?;
        let mut bytes = Vec::new();
        read += file.read_to_end(&mut bytes).map_err(doing())? as u64;
        pending.extend(bytes);
        while let Some(at) = pending.iter().position(|b| *b == b'\n') {
            let line: Vec<u8> = pending.drain(..=at).collect();
            if session.take(&String::from_utf8_lossy(&line), terminal)? {
                return Ok(());
            }
        }
        std::thread::sleep(LOOK_EVERY);
    }
}

/// A running test with what it is for.
struct Session {
    live: Option<Live>,
    aim: Aim,
    rig: Rig,
    direction: Direction,
    id: &'static str,
    show: Show,
    last: Option<Update>,
    line: usize,
}

impl Session {
    fn begin(options: &PressureTest, ask: &Ask, system: System) -> Result<Self, Failure> {
        let wanted = super::read("--wanted", &options.wanted, Dimension::Ratio)?.value;
        let limit = ask.limits.first().copied();
        let (id, size) = match limit.map(|l| l.0) {
            Some(Per::Volume) => ("air-change", ask.volume),
            Some(Per::Envelope) => ("per-envelope", ask.envelope_area),
            Some(Per::Floor) => ("per-floor", ask.floor_area),
            Some(Per::One) => ("flow", None),
            None => ask.volume.map_or(("flow", None), |v| ("air-change", Some(v))),
        };
        if size.is_none() && !matches!(limit, None | Some((Per::One, _))) {
            return Err(Failure::CommandLine {
                message: "the limit needs a volume or an area to divide the flow by".to_owned(),
                hint: "give --volume \"955 m³\" or --area, or --project".to_owned(),
            });
        }
        let aim = Aim {
            pressure_pa: ask.pressure_pa,
            size: size.map_or(1.0, |s| s.value),
            size_share: size.map_or(0.0, |s| s.share),
            limit: limit.map(|l| l.1),
            wanted_share: wanted,
            sure: 0.95,
            both_directions: true,
            highest_pa: HIGHEST_PA.max(ask.pressure_pa),
        };
        let rig = Rig {
            conditions: Conditions {
                inside_c: air::leakage::REFERENCE_TEMPERATURE_C,
                outside_c: air::leakage::REFERENCE_TEMPERATURE_C,
                barometer_pa: air::leakage::REFERENCE_PRESSURE_PA,
                height_m: None,
                wind: None,
            },
            flows: FlowState::Corrected,
            instruments: Instruments::default(),
            circumstances: Circumstances::default(),
        };
        let direction = match options.direction {
            DirectionArg::Depressurisation => Direction::Depressurisation,
            DirectionArg::Pressurisation => Direction::Pressurisation,
        };
        let show = Show::new(system, ask.pressure_pa);
        Ok(Self { live: None, aim, rig, direction, id, show, last: None, line: 0 })
    }

    fn welcome(&self, terminal: &Terminal) -> String {
        terminal.paragraph(
            "Type `zero -1.2`, `-50.3 511` (Pa, m³/h; `511 cfm` works too), `wind 2.5` (m/s near the ground), `turn`, `end`. \
             Before the first reading also `inside 21 °C`, `outside 4 °C`, `height 4 m`, `raw` or `corrected` flows \
             (corrected unless said). Hold point: burners, kilns and fireplaces off, cold, locked out, on both sides.",
            "",
        )
    }

    /// Takes a line in; true at the end.
    fn take(&mut self, line: &str, terminal: &Terminal) -> Result<bool, Failure> {
        self.line += 1;
        let line = line.trim().trim_start_matches('\u{feff}');
        if line.eq_ignore_ascii_case("end") {
            return Ok(true);
        }
        match self.understood(line) {
            Ok(Some(event)) => {
                let live = self.live.get_or_insert_with(|| Live::new(self.aim, self.rig, self.direction));
                let update = live.push(event);
                terminal.print(&told(&update, &self.aim, self.id, self.show, terminal))?;
                self.last = Some(update);
            }
            Ok(None) => {}
            // A mistyped line ends nothing: it is said and the test goes on.
            Err(what) => terminal.print(&terminal.paragraph(&format!("! line {}: {what}", self.line), ""))?,
        }
        Ok(false)
    }

    fn understood(&mut self, line: &str) -> Result<Option<Event>, String> {
        if line.is_empty() || line.starts_with('#') {
            return Ok(None);
        }
        if let Some(done) = self.setting(line) {
            return done.map(|()| None);
        }
        let (row, turned) = self.row(line);
        if turned {
            return Err("rows of the other direction: type `turn` once the fan is turned".to_owned());
        }
        let us = row.to_lowercase().contains("cfm");
        let row = row.replace("cfm", "").replace("CFM", "").replace("m³/h", "").replace("Pa", "");
        let factor = if us { super::cfm_m3_h() } else { 1.0 };
        read_line(row.trim(), factor).map_err(|e| e.to_string())
    }

    /// Cuts the direction off a table's row and the blank cell off a zero-flow reading.
    fn row(&self, line: &str) -> (String, bool) {
        let cells: Vec<&str> = line.split([',', ';', '\t']).map(str::trim).collect();
        let first = cells[0].to_lowercase();
        let way = match first.as_str() {
            w if w.starts_with("depress") => Some(Direction::Depressurisation),
            w if w.starts_with("press") => Some(Direction::Pressurisation),
            _ => None,
        };
        let now = self.live.as_ref().and_then(|l| l.series().last().map(|s| s.direction));
        let turned = way.is_some_and(|w| w != now.unwrap_or(w));
        match (way, cells.get(1..).unwrap_or(&[])) {
            (Some(_), [pa]) | (Some(_), [pa, ""]) => (format!("zero {pa}"), turned),
            (Some(_), rest) => (rest.join(" "), turned),
            (None, _) => (line.to_owned(), false),
        }
    }

    /// Settings of the day, before the first reading.
    fn setting(&mut self, line: &str) -> Option<Result<(), String>> {
        let plain = line.to_lowercase();
        let (name, value) = plain.split_once([',', ' ']).unwrap_or((plain.as_str(), ""));
        let value = value.trim_start_matches("temperature").trim_start_matches([',', ' ']);
        let number = |dimension: Dimension| {
            let text = value.replace("pa", "Pa").replace("°c", "°C").replace("°f", "°F");
            quantity::read(text.trim(), dimension).map(|r| r.value).map_err(|e| e.to_string())
        };
        let done = match name {
            "inside" => number(Dimension::Temperature).map(|v| self.rig.conditions.inside_c = v),
            "outside" => number(Dimension::Temperature).map(|v| self.rig.conditions.outside_c = v),
            "height" => number(Dimension::Length).map(|v| self.rig.conditions.height_m = Some(v)),
            "barometer" => number(Dimension::Pressure).map(|v| self.rig.conditions.barometer_pa = v),
            "raw" => {
                self.rig.flows = FlowState::AtFan;
                Ok(())
            }
            "corrected" => {
                self.rig.flows = FlowState::Corrected;
                Ok(())
            }
            // The heading of a table that is followed as it grows.
            "direction" | "pressure" => return Some(Ok(())),
            _ => return None,
        };
        Some(match (&self.live, done) {
            (Some(_), Ok(())) => Err("settings come before the first reading".to_owned()),
            (_, done) => done,
        })
    }

    fn missed(&self) -> bool {
        let number = self.last.as_ref().and_then(|u| u.number);
        number.zip(self.aim.limit).is_some_and(|(n, limit)| n.value > limit)
    }
}

/// One line for each reading: the number so far, its chance, what to do next.
fn told(update: &Update, aim: &Aim, id: &str, show: Show, terminal: &Terminal) -> String {
    let mut parts = Vec::new();
    if let Some(n) = update.number {
        let figure = Figure {
            value: n.value,
            standard_uncertainty: n.standard_uncertainty,
            half_width_95: n.half_width(0.95),
            degrees_of_freedom: None,
        };
        let kind = if update.fitted { "" } else { " (stated exponent, no line yet)" };
        parts.push(format!("{}{kind}", show.banded(id, &figure)));
    }
    if let (Some(chance), Some(limit)) = (update.chance, aim.limit) {
        parts.push(format!("{} at or under {}", chances(chance), show.rate(id, limit)));
    }
    if update.enough {
        parts.push("enough is known".to_owned());
    }
    match update.wind {
        WindSays::Fine => {}
        WindSays::Widens(half) => parts.push(format!("wind is most of the doubt, ± {:.1} %", 100.0 * half)),
        WindSays::Useless(half) => parts.push(format!(
            "wind alone makes it ± {:.1} %: no further reading helps, wait for calmer air",
            100.0 * half
        )),
        WindSays::ZeroTooHigh(pa) => {
            parts.push(format!("zero-flow pressure {pa:.1} Pa is over 5 Pa: not valid by ISO 9972, wait"));
        }
    }
    if let Some(trouble) = &update.trouble {
        parts.push(trouble.clone());
    }
    parts.push(match update.next {
        Next::ZeroBefore => "next: fan covered, zero-flow pressure".to_owned(),
        Next::Pressure(pa) => format!("next: {pa:.0} Pa"),
        Next::ZeroAfter => "next: fan covered, zero-flow pressure again".to_owned(),
        Next::Turn => "next: turn the fan, type `turn`".to_owned(),
        Next::Done => "done: restore everything, tick the sheet".to_owned(),
    });
    terminal.paragraph(&parts.join("; "), "")
}
