//! `windtight size`.

use crate::Ended;
use crate::args::Size;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::diagnostic::clean;
use project::standing::Machines;
use quantity::{Dimension, System, show};
use serde_json::json;
use year::services::layout::Layout;
use year::services::places::Place;
use year::services::size::{Load, Range, Sizing};

/// Tells loads, ranges, the rooms that miss, and the places of the water heater.
pub fn run(options: &Size, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let building = project::best::best_estimate(&project);
    let machines = terminal
        .busy("running the design days", |_| Machines::run(&building, &project.weather.climate))
        .map_err(|e| Failure::Internal(e.to_string()))?;
    if options.json {
        let value = json!({
            "schema": "windtight/size/1",
            "sizing": machines.sizing,
            "layouts": machines.layouts,
            "water_heater_places": machines.places,
            "tank_room": machines.tank_room,
        });
        let text = serde_json::to_string_pretty(&value).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
        return Ok(Ended::Well);
    }
    let page = Page { system: project.building.project.units, terminal };
    let mut out = terminal.paragraph(&clean(&project.building.project.name), "");
    match &machines.sizing {
        Some(sizing) => out.push_str(&page.sizing(sizing)),
        None => out.push_str(
            "\nNo head is in the book: there is nothing to size. [plant.x] kind = \"heat pump head\"\n",
        ),
    }
    out.push_str(&page.layouts(&machines.layouts));
    out.push_str(&page.places(&machines.places));
    out.push_str(&terminal.quiet(&terminal.paragraph(
        "At the stated values; design days are picked from the weather year, and where the code official names a design \
         temperature that one rules. A licensed designer answers for the choice.",
        "",
    )));
    terminal.print(&out)?;
    Ok(Ended::Well)
}

struct Page<'a> {
    system: System,
    terminal: &'a Terminal,
}

impl Page<'_> {
    fn power(&self, w: f64) -> String {
        show(w, Dimension::Power, self.system)
    }

    fn heading(&self, text: &str) -> String {
        format!("\n{}\n", self.terminal.strong(text))
    }

    fn rows(&self, rows: &[Vec<String>]) -> String {
        columns(rows, self.terminal.width(), 2)
    }

    fn sizing(&self, s: &Sizing) -> String {
        let temperature = |c: f64| show(c, Dimension::Temperature, self.system);
        let mut out = self.heading(&format!("Heating at {}", temperature(s.cold_c)));
        out.push_str(&self.loads(&s.heating, s.floor_m2));
        out.push_str(&self.range(&s.heating_range));
        out.push_str(&self.heading(&format!("Cooling, drying included, up to {}", temperature(s.hot_c))));
        out.push_str(&self.loads(&s.cooling, s.floor_m2));
        out.push_str(&self.range(&s.cooling_range));
        if !s.supply.is_empty() {
            out.push_str(&self.heading("What the supply air alone could bring"));
            let row = |r: &year::services::size::Reach| {
                let words = format!(
                    "heat {}, cold {}, drying {}",
                    self.power(r.heat_w),
                    self.power(r.cold_w),
                    self.power(r.drying_w)
                );
                vec![clean(&r.mode), show(r.flow_m3_s, Dimension::VolumeFlow, self.system), words]
            };
            out.push_str(&self.rows(&s.supply.iter().map(row).collect::<Vec<_>>()));
        }
        if let Some(first) = s.oversize.first() {
            out.push_str(&self.heading("Larger heads"));
            let row = |o: &year::services::size::Oversize| {
                let more = 100.0 * (o.electricity_j / first.electricity_j - 1.0);
                vec![
                    format!("× {}", o.scale),
                    format!("{:.0} h cycling", o.cycling_h),
                    format!("{more:+.1} % electricity; a cycling coil also dries less"),
                ]
            };
            out.push_str(&self.rows(&s.oversize.iter().map(row).collect::<Vec<_>>()));
        }
        out
    }

    fn loads(&self, loads: &[Load], floor_m2: f64) -> String {
        let row = |l: &Load| {
            let whole = l.power_w + l.drying_w;
            let zones: Vec<String> =
                l.zones.iter().map(|(name, w)| format!("{} {}", clean(name), self.power(*w))).collect();
            vec![
                clean(&l.name),
                self.power(whole),
                show(whole / floor_m2, Dimension::PowerPerArea, self.system),
                zones.join(", "),
            ]
        };
        self.rows(&loads.iter().map(row).collect::<Vec<_>>())
    }

    fn range(&self, r: &Range) -> String {
        if r.from_w <= 0.0 {
            return String::new();
        }
        let text = format!(
            "choose {} to {}: {}. Nine chances in ten that the first lies within {} to {}. Drawn: {}.",
            self.power(r.from_w),
            self.power(r.to_w),
            clean(&r.reason),
            self.power(r.spread_w.0),
            self.power(r.spread_w.1),
            self.power(r.drawn_w)
        );
        self.terminal.paragraph(&text, "  ")
    }

    fn layouts(&self, layouts: &[Layout]) -> String {
        if layouts.is_empty() {
            return String::new();
        }
        let mut out = self.heading("Rooms that miss their set point");
        let kelvin = |k: f64| show(k, Dimension::TemperatureDifference, self.system);
        for l in layouts {
            let mut rooms: Vec<_> = l.rooms.iter().filter(|r| r.cold_h + r.hot_h > 100.0).collect();
            rooms.sort_by(|a, b| (b.cold_h + b.hot_h).total_cmp(&(a.cold_h + a.hot_h)));
            let doors = if l.doors_open { "open" } else { "shut" };
            out.push_str(&format!(
                "  {}, doors {doors}: {} of {}\n",
                clean(&l.name),
                rooms.len(),
                l.rooms.len()
            ));
            let row = |r: &&year::services::layout::RoomMiss| {
                let mend = if r.transfer_m3_s > 0.0 {
                    let flow = show(r.transfer_m3_s, Dimension::VolumeFlow, self.system);
                    format!("{flow} from a room 2 K better would mend it")
                } else {
                    String::new()
                };
                vec![
                    format!("  {}", clean(&r.label)),
                    format!("cold {:.0} h, {}", r.cold_h, kelvin(r.coldest_k)),
                    format!("hot {:.0} h, {}", r.hot_h, kelvin(r.hottest_k)),
                    mend,
                ]
            };
            out.push_str(&self.rows(&rooms.iter().take(4).map(row).collect::<Vec<_>>()));
        }
        out
    }

    fn places(&self, places: &[Place]) -> String {
        if places.is_empty() {
            return String::new();
        }
        let mut out = self.heading("Where the water heater could stand");
        let row = |p: &Place| {
            let kwh = |j: f64| format!("{:.0} kWh", j / 3.6e6);
            let cost = p.cost.map_or_else(String::new, |c| format!(", {}{c:.0} a year", clean(&p.currency)));
            vec![
                format!("{}{}", p.name, if p.drawn { " (drawn)" } else { "" }),
                format!("water {}", kwh(p.water_j)),
                format!("heating {}", kwh(p.heating_j)),
                format!("cooling {}", kwh(p.cooling_j)),
                format!("all electricity {}{cost}", kwh(p.electricity_j)),
            ]
        };
        out.push_str(&self.rows(&places.iter().map(row).collect::<Vec<_>>()));
        out.push('\n');
        out
    }
}
