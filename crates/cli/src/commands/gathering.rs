//! `windtight gathering`.

use crate::Ended;
use crate::args::Gathering;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::Project;
use project::air::{GatheringAsk, GatheringReport, MinuteLine};
use project::diagnostic::{clean, list};
use quantity::{Dimension, System, show};

/// Runs one gathering of a book, or all.
pub fn run(options: &Gathering, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let names = chosen(&project, options.name.as_deref())?;
    let ask = asked(options)?;
    let mut reports = Vec::new();
    for name in &names {
        let report = project::air::gathering(&project, name, ask)
            .ok_or_else(|| Failure::Internal(format!("the gathering {name} was there a moment ago")))?
            .map_err(|error| Failure::CommandLine {
                message: format!("{name}: {error}"),
                hint: "look at the numbers of that gathering and its room".to_owned(),
            })?;
        reports.push(report);
    }
    if options.json {
        let text = serde_json::to_string_pretty(&reports).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        let system = project.building.project.units;
        for (n, report) in reports.iter().enumerate() {
            let gap = if n > 0 { "\n" } else { "" };
            let every = options.every.max(1);
            terminal.print(&format!("{gap}{}", page(report, system, every, terminal)))?;
        }
    }
    let fails = reports.iter().any(|r| !r.failures.is_empty());
    Ok(if fails { Ended::NotMet } else { Ended::Well })
}

fn chosen(project: &Project, name: Option<&str>) -> Result<Vec<String>, Failure> {
    let names = project::air::gathering_names(project);
    let hint = match names.as_slice() {
        [] => "write one under [gathering.NAME] in the book".to_owned(),
        names => format!("the book has {}", list(names)),
    };
    match name {
        None if names.is_empty() => {
            Err(Failure::CommandLine { message: "the book names no gathering".to_owned(), hint })
        }
        None => Ok(names),
        Some(name) if names.iter().any(|n| n == name) => Ok(vec![name.to_owned()]),
        Some(name) => Err(Failure::CommandLine { message: format!("no gathering is called {name}"), hint }),
    }
}

fn asked(options: &Gathering) -> Result<GatheringAsk, Failure> {
    let read = |name: &str, text: &str, dimension: Dimension| {
        quantity::read(text, dimension).map(|r| r.value).map_err(|error| Failure::CommandLine {
            message: format!("{name} {text}: {error}"),
            hint: format!("write it like {name} \"{}\"", dimension.example()),
        })
    };
    let flow = |name: &str, text: &str| read(name, text, Dimension::VolumeFlow).map(|v| 3600.0 * v);
    let doors_m3_h = match options.doors.as_deref() {
        None | Some("shut") => 0.0,
        Some("open") => project::air::open_doors_m3_h(),
        Some(text) => flow("--doors", text)?,
    };
    let purge = match &options.purge {
        Some(text) => read("--purge", text, Dimension::Time)? / 60.0,
        None => 0.0,
    };
    let airing_m3_h = match &options.airing {
        Some(text) => flow("--airing", text)?,
        None => 0.0,
    };
    let optional = |name: &str, text: &Option<String>, dimension: Dimension| {
        text.as_ref().map(|text| read(name, text, dimension)).transpose()
    };
    if !(0.0..=600.0).contains(&purge) || doors_m3_h < 0.0 || airing_m3_h < 0.0 {
        return Err(Failure::CommandLine {
            message: "a pre-purge lasts up to ten hours, and flows are not below zero".to_owned(),
            hint: "write --purge \"30 min\", --doors \"2000 m³/h\", --airing \"900 m³/h\"".to_owned(),
        });
    }
    Ok(GatheringAsk {
        doors_m3_h,
        purge_minutes: purge.round() as usize,
        airing_m3_h,
        co2_ppm: optional("--co2", &options.co2, Dimension::Concentration)?,
        warmest_c: optional("--warmest", &options.warmest, Dimension::Temperature)?,
        people: options.people.map(f64::from),
    })
}

fn page(r: &GatheringReport, system: System, every: usize, terminal: &Terminal) -> String {
    let flow = |m3_h: f64| show(m3_h / 3600.0, Dimension::VolumeFlow, system);
    let warm = |c: f64| show(c, Dimension::Temperature, system);
    let ppm = |v: f64| format!("{v:.0} ppm");
    let mut out = String::new();
    for line in terminal.paragraph(&clean(&sentence(r, &ppm, &warm)), "").lines() {
        out.push_str(&terminal.strong(line));
        out.push('\n');
    }
    out.push_str(&terminal.paragraph(&format!("{}.", r.heads.sentence), ""));
    out.push('\n');
    let [co2, warmest, humidity] = r.limits;
    let mut rows = vec![
        vec!["held to".to_owned(), format!("{} ({})", ppm(co2), r.co2_limit_from)],
        vec![String::new(), format!("{}, {:.0} % relative humidity", warm(warmest), 100.0 * humidity)],
        vec![
            "air".to_owned(),
            format!(
                "speed \"{}\"; at most {} to this room; code asks {}",
                clean(&r.mode),
                flow(r.most_m3_h),
                flow(r.code_m3_h)
            ),
        ],
        vec![
            "flow needed".to_owned(),
            r.flow_needed_m3_h.map_or_else(
                || "no flow keeps it: the room starts above the limit".to_owned(),
                |q| format!("{} keeps CO2 at its limit", flow(q)),
            ),
        ],
        vec![
            "half an hour of pre-purge".to_owned(),
            format!("{:.0} ppm off the peak", r.purge_worth_ppm.max(0.0)),
        ],
        vec![
            "doors open".to_owned(),
            r.doors_worth_ppm.map_or_else(
                || "no space of ours lies beyond them".to_owned(),
                |w| format!("{:.0} ppm off the peak", w.max(0.0)),
            ),
        ],
        vec![
            "recovers".to_owned(),
            r.recovery_minutes.map_or_else(
                || format!("not within a day, to {}", ppm(r.recovered_ppm)),
                |m| format!("{m} min after the end, to {}", ppm(r.recovered_ppm)),
            ),
        ],
        vec![
            "sensor error".to_owned(),
            r.sensor_band_ppm.map_or_else(
                || "changes nothing: the flow follows the timetable".to_owned(),
                |[low, high]| format!("peak {} to {} (95 %)", ppm(low), ppm(high)),
            ),
        ],
        vec![
            "infection risk".to_owned(),
            r.infection_ratio.map_or_else(
                || "nobody is in the room".to_owned(),
                |x| format!("{x:.2} times that with code air; an estimate for comparing, says nothing about safety"),
            ),
        ],
        vec![
            "people, for air only".to_owned(),
            format!("CO2 {}, heat {}, code rate {}", r.heads.co2, r.heads.heat, r.heads.code),
        ],
        vec![
            String::new(),
            match r.heads.posted {
                Some(posted) => format!("posted occupant load {posted}"),
                None => "posted occupant load not given: ask the code official".to_owned(),
            },
        ],
    ];
    rows.extend(r.sound.iter().map(|s| {
        let level = s.level_db.map_or_else(
            || "not checked: the book has no figure".to_owned(),
            |l| format!("{l:.0} dB(A), maker's figure"),
        );
        vec![format!("sound at \"{}\"", clean(&s.mode)), level]
    }));
    out.push_str(&columns(&rows, terminal.width(), 2));
    out.push('\n');
    let last = r.minutes.len();
    let shown = r.minutes.iter().enumerate().filter(|(k, _)| (k + 1) % every == 0 || k + 1 == last);
    let head = ["time", "people", "CO2", "temperature", "humidity", "flow"].map(str::to_owned).to_vec();
    let table: Vec<Vec<String>> =
        std::iter::once(head).chain(shown.map(|(_, m)| minute_row(m, &flow, &warm))).collect();
    out.push_str(&columns(&table, terminal.width(), 2));
    out.push('\n');
    for line in &r.assumed {
        out.push_str(&terminal.paragraph(&format!("assumed: {line}"), "  "));
    }
    for line in &r.not_checked {
        out.push_str(&terminal.paragraph(&format!("not checked: {line}"), "  "));
    }
    out
}

fn sentence(r: &GatheringReport, ppm: &impl Fn(f64) -> String, warm: &impl Fn(f64) -> String) -> String {
    let head = format!("{}, {:.0} people in {}", r.label, r.people, r.room);
    let peaks = format!("peaks {} and {}", ppm(r.peaks[0]), warm(r.peaks[1]));
    let more: Vec<String> =
        r.failures.iter().skip(1).map(|f| format!("{} after {} min", f.what, f.after_minutes)).collect();
    match r.failures.first() {
        None => format!("{head}: nothing passes its limit; {peaks}."),
        Some(first) => {
            let rest = if more.is_empty() { String::new() } else { format!(", then {}", list(&more)) };
            format!("{head}: {} fails first, after {} min{rest}; {peaks}.", first.what, first.after_minutes)
        }
    }
}

fn minute_row(m: &MinuteLine, flow: &impl Fn(f64) -> String, warm: &impl Fn(f64) -> String) -> Vec<String> {
    vec![
        format!("{}:{:02}", m.minute_of_day / 60 % 24, m.minute_of_day % 60),
        format!("{:.0}", m.people),
        format!("{:.0} ppm", m.co2_ppm),
        warm(m.temperature_c),
        format!("{:.0} %", 100.0 * m.relative_humidity),
        flow(m.flow_m3_h),
    ]
}
