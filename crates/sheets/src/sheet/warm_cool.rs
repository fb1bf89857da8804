//! Warm & cool: what takes and gives heat month by month, the temperatures of the year, the peaks and their cause.

use maud::{Markup, PreEscaped, html};
use quantity::Dimension;

use crate::draw::chart::{
    Format, LineChart, Reference, Series, YearStrip, length_rule, line_chart, year_strip,
};
use crate::draw::decimate::{Reach, gather};
use crate::draw::scale::{MONTH_DAYS, MONTHS, month_marks};
use crate::page::{figure, table, working};
use crate::reader::{Reader, plain};
use crate::sheet::where_we_stand::capital;

/// One thing that gives or takes heat.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Name, fit for the middle of a sentence: "fresh air".
    pub name: String,
    /// Heat to the rooms, J in a month or W in a peak; negative when it takes.
    pub amount: f64,
}

/// Name of what the fabric gives back or keeps: it evens out and is nobody's doing, so no sentence leads with it.
pub const STORED: &str = "stored warmth";

impl Cause {
    /// Whether a sentence may name it as what gives or takes most.
    fn moves(&self) -> bool {
        self.name != STORED
    }
}

/// A month.
#[derive(Clone, Debug, PartialEq)]
pub struct Month {
    /// Causes in any order; the plant is not among them.
    pub causes: Vec<Cause>,
    /// Heat the plant gave, J.
    pub heating_j: f64,
    /// Heat the plant took, drying included, J.
    pub cooling_j: f64,
}

/// A zone's year.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoneYear {
    /// Name.
    pub name: String,
    /// Operative temperature of each day, °C.
    pub days_c: Vec<Reach>,
    /// Hours above the warm threshold.
    pub warm_hours: f64,
    /// Warmest operative temperature, °C, and its hour of the year.
    pub warmest: (f64, usize),
    /// Coldest operative temperature, °C, and its hour of the year.
    pub coldest: (f64, usize),
}

/// A peak of the plant.
#[derive(Clone, Debug, PartialEq)]
pub struct Peak {
    /// What: "heating", "cooling".
    pub what: String,
    /// Power, W.
    pub power_w: f64,
    /// Hour of the year.
    pub hour: usize,
    /// What drives it in that time, W to the rooms; negative when it takes.
    pub causes: Vec<Cause>,
    /// Temperature outdoors, °C.
    pub outdoors_c: f64,
}

/// All of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmCool {
    /// January to December.
    pub months: Vec<Month>,
    /// Zones.
    pub zones: Vec<ZoneYear>,
    /// Outdoors, mean of each day, °C.
    pub outdoor_days_c: Vec<f64>,
    /// Heating set point, °C.
    pub heating_set_c: f64,
    /// Cooling set point, °C.
    pub cooling_set_c: f64,
    /// Threshold of warm hours, °C.
    pub warm_above_c: f64,
    /// Peaks.
    pub peaks: Vec<Peak>,
    /// Which use and run the figures belong to.
    pub basis: String,
}

/// Draws the content of the sheet.
pub fn content(input: &WarmCool, reader: Reader) -> Markup {
    html! {
        h1 { (headline(input)) }
        p.lead { (lead(input, reader)) }
        @for zone in &input.zones { (zone_strip(input, zone, reader)) }
        (outdoor_line(input, reader))
        (peaks(input, reader))
        h2 { "Month by month" }
        p.kicker {
            "Causes in the order of their size, " (reader.energy_unit())
            " of the month; a whole bar takes heat from the rooms, a broken bar gives."
        }
        (months(input, reader))
        (months_table(input, reader))
        @if !input.basis.is_empty() { p.soft { (input.basis) } }
    }
}

/// The sheet when no year was run: it says so and shows nothing.
pub fn without_a_year() -> Markup {
    html! {
        h1 { "No year was run yet." }
        p.lead { "Temperatures, peaks and the causes of each month stand here once the book can be simulated." }
    }
}

fn headline(input: &WarmCool) -> String {
    let sum = |f: fn(&Month) -> f64| -> f64 { input.months.iter().map(f).sum() };
    let (heating, cooling) = (sum(|m| m.heating_j), sum(|m| m.cooling_j));
    if heating <= 0.0 && cooling <= 0.0 {
        "The rooms need neither heating nor cooling.".to_owned()
    } else if cooling > heating {
        "Cooling is the bigger job here.".to_owned()
    } else {
        "Heating is the bigger job here.".to_owned()
    }
}

fn lead(input: &WarmCool, reader: Reader) -> String {
    let heating: f64 = input.months.iter().map(|m| m.heating_j).sum();
    let cooling: f64 = input.months.iter().map(|m| m.cooling_j).sum();
    let warmest = warmest_hour(input);
    let warm = warmest.map_or_else(String::new, |(zone, hour, value)| {
        format!(
            " {} is warmest, {} on {}.",
            capital(zone),
            reader.show(value, Dimension::Temperature),
            reader.moment(hour)
        )
    });
    format!(
        "Over the year the plant gives {} and takes {}.{warm}",
        reader.energy_a_year(heating),
        reader.energy_a_year(cooling)
    )
}

/// Zone, hour and temperature of the warmest of all.
fn warmest_hour(input: &WarmCool) -> Option<(&str, usize, f64)> {
    let all = input.zones.iter().filter(|z| z.warmest.0.is_finite());
    all.map(|z| (z.name.as_str(), z.warmest.1, z.warmest.0)).max_by(|a, b| a.2.total_cmp(&b.2))
}

fn zone_strip(input: &WarmCool, zone: &ZoneYear, reader: Reader) -> Markup {
    let share = plain((zone.warm_hours / 8760.0 * 1000.0).round() / 10.0, "%");
    let warm = plain(zone.warm_hours.round(), "");
    let unit = reader.temperature_unit();
    let temperature = |celsius: f64| reader.show(celsius, Dimension::Temperature);
    let threshold = temperature(input.warm_above_c);
    let sentence = format!(
        "{}: {warm} hours over {threshold}, {share} of the year. Each stroke is a day's reach, {unit}.",
        capital(&zone.name)
    );
    let reference =
        |celsius: f64| Reference { value: reader.temperature(celsius), name: temperature(celsius) };
    let mut references = vec![reference(input.heating_set_c), reference(input.cooling_set_c)];
    if (input.warm_above_c - input.cooling_set_c).abs() > 0.05 {
        references.push(reference(input.warm_above_c));
    }
    let day = |r: &Reach| {
        let [low, high, mean] = [r.low, r.high, r.mean].map(|t| reader.temperature(t));
        (low.is_finite() && high.is_finite() && mean.is_finite()).then_some(Reach { low, high, mean })
    };
    let strip = YearStrip {
        id: format!("year-{}", zone.name),
        title: format!("{} over the year, {unit}", zone.name),
        description: sentence.clone(),
        days: zone.days_c.iter().map(day).collect(),
        name: zone.name.clone(),
        references,
        notes: vec![(zone.warmest.1 / 24, format!("warmest, {}", reader.moment(zone.warmest.1)))],
    };
    html! {
        div.evening {
            div { (figure(&sentence, |format: Format| year_strip(&strip, format))) }
            div {
                dl.facts {
                    dt { "Coldest" } dd.num { (temperature(zone.coldest.0)) ", " (reader.moment(zone.coldest.1)) }
                    dt { "Warmest" } dd.num { (temperature(zone.warmest.0)) ", " (reader.moment(zone.warmest.1)) }
                    dt { "Over " (threshold) } dd.num { (warm) " h, " (share) }
                }
                (working("the months in figures", &zone_table(zone, reader)))
            }
        }
    }
}

/// Outdoors once, on a scale of its own.
fn outdoor_line(input: &WarmCool, reader: Reader) -> Markup {
    let points: Vec<[f64; 2]> = input
        .outdoor_days_c
        .iter()
        .enumerate()
        .filter(|(_, t)| t.is_finite())
        .map(|(day, t)| [24.0 * day as f64 + 12.0, reader.temperature(*t)])
        .collect();
    let reach = points.iter().fold(None, |reach: Option<[f64; 2]>, p| {
        Some(reach.map_or([p[1], p[1]], |[low, high]| [low.min(p[1]), high.max(p[1])]))
    });
    let Some([low, high]) = reach else { return html! {} };
    let unit = reader.temperature_unit();
    let sentence = format!("Outdoors: days of {low:.0} to {high:.0} {unit} in the mean.");
    let chart = |format: Format| LineChart {
        id: "year-of-outdoor-days".to_owned(),
        title: format!("Outdoors over the year, {unit}"),
        description: sentence.clone(),
        series: vec![Series { name: "outdoors".to_owned(), points: points.clone() }],
        references: Vec::new(),
        marks: month_marks(if format == Format::Desk { 3 } else { 1 }),
        spans: Vec::new(),
        hours: [0.0, 8760.0],
        floor: None,
    };
    html! {
        div.evening { div { (figure(&sentence, |format: Format| line_chart(&chart(format), format))) } }
    }
}

fn zone_table(zone: &ZoneYear, reader: Reader) -> Markup {
    let mut from = 0;
    let rows: Vec<Vec<String>> = MONTH_DAYS
        .iter()
        .zip(MONTHS)
        .map(|(days, name)| {
            let to = (from + *days as usize).min(zone.days_c.len());
            let month: Vec<Option<Reach>> = zone.days_c[from.min(to)..to].iter().copied().map(Some).collect();
            from = to;
            let show = |value: f64| reader.show(value, Dimension::Temperature);
            match gather(&month, 1).first().copied().flatten() {
                Some(r) => vec![name.to_owned(), show(r.low), show(r.mean), show(r.high)],
                None => vec![name.to_owned(), "–".to_owned(), "–".to_owned(), "–".to_owned()],
            }
        })
        .collect();
    table("Operative temperature", &["month", "lowest", "mean", "highest"], &rows)
}

fn peaks(input: &WarmCool, reader: Reader) -> Markup {
    html! {
        @if !input.peaks.is_empty() {
            h2 { "Peaks" }
            @for peak in &input.peaks {
                p { (peak_sentence(peak, reader)) }
                @let rows: Vec<Vec<String>> = ranked(&peak.causes).iter().map(|c| {
                    vec![c.name.clone(), reader.show(c.amount, Dimension::Power)]
                }).collect();
                @if !rows.is_empty() {
                    (working("working", &table("In that hour, to the rooms", &["cause", "power"], &rows)))
                }
            }
        }
    }
}

fn peak_sentence(peak: &Peak, reader: Reader) -> String {
    let cooling = peak.what == "cooling";
    let ranked = ranked(&peak.causes);
    let first = ranked.iter().find(|c| c.moves() && (c.amount > 0.0) == cooling);
    let cause = first.map_or_else(String::new, |c| {
        format!("; most {} {}", if cooling { "comes from" } else { "goes to" }, c.name)
    });
    format!(
        "{} peaks at {} on {}, with {} outdoors{cause}.",
        capital(&peak.what),
        reader.show(peak.power_w, Dimension::Power),
        reader.moment(peak.hour),
        reader.show(peak.outdoors_c, Dimension::Temperature)
    )
}

/// Causes by size, largest first, nothing left out but zeros.
fn ranked(causes: &[Cause]) -> Vec<&Cause> {
    let mut sorted: Vec<&Cause> = causes.iter().filter(|c| c.amount.is_finite() && c.amount != 0.0).collect();
    sorted.sort_by(|a, b| b.amount.abs().total_cmp(&a.amount.abs()));
    sorted
}

fn months(input: &WarmCool, reader: Reader) -> Markup {
    let largest = input
        .months
        .iter()
        .flat_map(|m| &m.causes)
        .map(|c| c.amount.abs())
        .filter(|v| v.is_finite())
        .fold(0.0, f64::max);
    html! {
        ol.months {
            @for (month, name) in input.months.iter().zip(MONTHS) {
                li {
                    p.said { (month_sentence(month, name, reader)) }
                    ol.rank {
                        @for cause in shown(month, largest) {
                            @let share = if largest > 0.0 { cause.amount.abs() / largest } else { 0.0 };
                            li {
                                (PreEscaped(length_rule(share, 150.0, cause.amount > 0.0)))
                                (cause.name) " " b { (whole(reader.energy(cause.amount).abs())) }
                                span.unseen { (if cause.amount > 0.0 { " given" } else { " taken" }) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Causes worth a place in the row: those of at least one part in a hundred of the year's largest.
fn shown(month: &Month, largest: f64) -> Vec<&Cause> {
    ranked(&month.causes).into_iter().filter(|c| c.amount.abs() >= largest * 0.01).collect()
}

fn whole(value: f64) -> String {
    if value >= 10.0 { plain(value.round(), "") } else { plain((value * 10.0).round() / 10.0, "") }
}

fn month_sentence(month: &Month, name: &str, reader: Reader) -> String {
    let ranked = ranked(&month.causes);
    let takes = ranked.iter().find(|c| c.moves() && c.amount < 0.0);
    let gives = ranked.iter().find(|c| c.moves() && c.amount > 0.0);
    let lead = match (gives, takes) {
        (Some(g), Some(t)) => format!("most heat is lost to {}, most comes from {}", t.name, g.name),
        (Some(g), None) => format!("most heat comes from {}", g.name),
        (None, Some(t)) => format!("most heat is lost to {}", t.name),
        (None, None) => "nothing moves".to_owned(),
    };
    let amount = |joules: f64| format!("{} {}", whole(reader.energy(joules)), reader.energy_unit());
    // Less than a hundredth of a kilowatt-hour is rounding, not a job for the plant.
    let plant = match (month.heating_j > 36_000.0, month.cooling_j > 36_000.0) {
        (true, true) => {
            format!("the plant heats {} and cools {}", amount(month.heating_j), amount(month.cooling_j))
        }
        (true, false) => format!("the plant heats {}", amount(month.heating_j)),
        (false, true) => format!("the plant cools {}", amount(month.cooling_j)),
        (false, false) => "the plant rests".to_owned(),
    };
    format!("{name}: {lead}; {plant}.")
}

fn months_table(input: &WarmCool, reader: Reader) -> Markup {
    let mut names: Vec<&str> = Vec::new();
    for cause in input.months.iter().flat_map(|m| &m.causes) {
        if !names.contains(&cause.name.as_str()) {
            names.push(&cause.name);
        }
    }
    let mut head = vec!["month"];
    head.extend(names.iter().copied());
    head.extend(["plant heats", "plant cools"]);
    let figure = |joules: f64| whole_signed(reader.energy(joules));
    let rows: Vec<Vec<String>> = input
        .months
        .iter()
        .zip(MONTHS)
        .map(|(month, name)| {
            let of = |n: &str| month.causes.iter().filter(|c| c.name == n).map(|c| c.amount).sum::<f64>();
            let mut row = vec![name.to_owned()];
            row.extend(names.iter().map(|n| figure(of(n))));
            row.extend([figure(month.heating_j), figure(month.cooling_j)]);
            row
        })
        .collect();
    let caption = format!("Heat to the rooms, {}; what takes heat is negative", reader.energy_unit());
    working("all twelve months in figures", &table(&caption, &head, &rows))
}

fn whole_signed(value: f64) -> String {
    let rounded = plain(value.round(), "");
    rounded.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::System;

    const SI: Reader = Reader { system: System::Si, british: true, served: false };

    fn month() -> Month {
        let cause = |name: &str, kwh: f64| Cause { name: name.into(), amount: kwh * 3.6e6 };
        Month {
            causes: vec![
                cause("walls", -310.0),
                cause("sun", 450.0),
                cause("fresh air", -520.0),
                cause("people", 90.0),
            ],
            heating_j: 290.0 * 3.6e6,
            cooling_j: 0.0,
        }
    }

    #[test]
    fn a_month_is_one_sentence() {
        assert_eq!(
            month_sentence(&month(), "January", SI),
            "January: most heat is lost to fresh air, most comes from sun; the plant heats 290 kWh."
        );
        let idle = Month { causes: vec![], heating_j: 0.0, cooling_j: 0.0 };
        assert_eq!(month_sentence(&idle, "May", SI), "May: nothing moves; the plant rests.");
    }

    #[test]
    fn causes_rank_by_size() {
        let month = month();
        let names: Vec<&str> = ranked(&month.causes).iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["fresh air", "sun", "walls", "people"]);
    }

    #[test]
    fn a_peak_names_its_cause() {
        let cause = |name: &str, w: f64| Cause { name: name.into(), amount: w };
        let peak = Peak {
            what: "cooling".into(),
            power_w: 6200.0,
            hour: 4700,
            causes: vec![cause("people", 6300.0), cause("fresh air", -900.0)],
            outdoors_c: 31.0,
        };
        assert_eq!(
            peak_sentence(&peak, SI),
            "Cooling peaks at 6.2 kW on 15 July, 20:00, with 31.0 °C outdoors; most comes from people."
        );
    }
}
