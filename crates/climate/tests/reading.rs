//! Whole files through the readers: what comes in well, and what is said of broken ones.

use climate::{CloudOrigin, HOURS, LongwaveOrigin, ReadOptions, WeatherProblem, read, read_with};
use proptest::prelude::*;

mod entry;

const DENVER: &str = include_str!("../../../reference/building/denver_725650.csv");
const NORTH_ITALY: &str = include_str!("../../../reference/building/pvgis_45N_8E.csv");

fn listed(text: &str) -> String {
    match read(text) {
        Ok(year) => format!("read: {}\n{}", year.source, year.notes.join("\n")),
        Err(problems) => problems.iter().map(WeatherProblem::to_string).collect::<Vec<_>>().join("\n"),
    }
}

/// Replaces a line, counted from 1.
fn with_line(text: &str, line: usize, new: &str) -> String {
    text.lines().enumerate().map(|(i, l)| if i + 1 == line { new } else { l }).collect::<Vec<_>>().join("\n")
}

/// Takes lines out, counted from 1.
fn without_lines(text: &str, lines: std::ops::RangeInclusive<usize>) -> String {
    let kept = text.lines().enumerate().filter(|(i, _)| !lines.contains(&(i + 1)));
    kept.map(|(_, l)| l).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_plain_table_is_read() {
    let year = read(DENVER).expect("sound");
    assert_eq!(year.hours.len(), HOURS);
    assert_eq!(year.place.utc_offset_h, -7.0);
    // First row of the file, and row 12 of the first day (hour ending 12).
    assert_eq!(year.hours[0].dry_bulb_c, -18.0);
    assert_eq!(year.hours[0].pressure_pa, 83_700.0);
    assert_eq!(year.longwave, LongwaveOrigin::Modelled);
    assert_eq!(year.cloud, CloudOrigin::Observed);
    assert!(year.hours.iter().all(|h| h.albedo == 0.2 && h.rain_mm.is_none()));
    insta::assert_snapshot!("plain_notes", listed(DENVER));
}

#[test]
fn the_embedded_year_is_read() {
    let year = climate::demo_year();
    assert_eq!(year.place.name, "GREENSBORO PIEDMONT TRIAD INT, NC");
    assert_eq!(year.hours[0].dry_bulb_c, 10.0);
    assert_eq!(year.hours[0].dew_point_c, 6.1);
    assert_eq!(year.hours[0].opaque_cloud, 1.0);
    insta::assert_snapshot!("embedded_notes", listed(climate::demo_year_text()));
}

#[test]
fn universal_time_becomes_local_time() {
    let year = read(NORTH_ITALY).expect("sound");
    assert_eq!(year.place.utc_offset_h, 1.0);
    // The row labelled 00:00 in universal time holds at 01:00 local time: the end of hour 0.
    assert_eq!(year.hours[0].dry_bulb_c, 2.04);
    assert_eq!(year.hours[1].dry_bulb_c, 1.98);
    // And the last row, 23:00, holds at midnight: the end of the last hour.
    assert_eq!(year.hours[HOURS - 1].dry_bulb_c, 2.1);
    assert_eq!(year.longwave, LongwaveOrigin::Measured);
    assert_eq!(year.cloud, CloudOrigin::FromLongwave);
    let sum: f64 = year.hours.iter().map(|h| h.global_w_m2).sum();
    let in_file: f64 = NORTH_ITALY
        .lines()
        .filter(|l| l.starts_with("20"))
        .map(|l| l.split(',').nth(3).and_then(|f| f.parse::<f64>().ok()).expect("a number"))
        .sum();
    assert!((sum - in_file).abs() < 1e-6 * in_file, "{sum} {in_file}");
    // The sun is highest near 12:27 local standard time at 8° E; the day's light must lie evenly round that.
    let weight = |k: usize| year.hours[k].global_w_m2;
    let centre = (0..HOURS).map(|k| weight(k) * ((k % 24) as f64 + 0.5)).sum::<f64>() / sum;
    assert!((centre - 12.45).abs() < 0.25, "{centre}");
    insta::assert_snapshot!("pvgis_notes", listed(NORTH_ITALY));
}

#[test]
fn relative_humidity_and_dew_point_agree() {
    for year in [read(DENVER).expect("sound"), read(NORTH_ITALY).expect("sound")] {
        for h in &year.hours {
            let over_water = matter::moist_air::saturation_pressure_over_water;
            let from_dew = over_water(h.dew_point_c) / over_water(h.dry_bulb_c);
            assert!((from_dew - h.relative_humidity).abs() < 1e-6, "{h:?}");
        }
    }
}

#[test]
fn problems_name_row_and_cure() {
    let mut text = with_line(DENVER, 20, "1,1,13,1995,abc,-19.7,85,83700,0,0,0,0,0,0,0,2,2");
    text = with_line(&text, 40, "1,2,9,1995,-18,25,85,83700,0,0,0,0,0,0,0,2,2");
    text = with_line(&text, 60, "1,3,29,1995,-18,-19,85,83700,0,0,0,0,0,0,0,2,2");
    text = with_line(&text, 80, "1,3,2,1995,-18,-19,85,837,0,0,0,0,0,0,0,2,2");
    insta::assert_snapshot!("broken_values", listed(&text));
}

#[test]
fn gaps_are_refused_with_their_rows() {
    let text = without_lines(DENVER, 100..=103);
    let text = with_line(&text, 300, "1,13,9,1995,,-19.7,85,83700,0,0,0,0,0,0,0,2,2");
    insta::assert_snapshot!("gaps_refused", listed(&text));
}

#[test]
fn gaps_are_filled_when_asked_and_listed() {
    let text = without_lines(DENVER, 100..=103);
    let options = ReadOptions { fill_gaps: true, ..ReadOptions::default() };
    let year = read_with(&text, &options).expect("filled");
    let whole = read(DENVER).expect("sound");
    // Lines 100 to 103 are labels 92 to 95.
    let (before, after) = (whole.hours[91].dry_bulb_c, whole.hours[96].dry_bulb_c);
    for (i, k) in (92..96).enumerate() {
        let straight = before + (after - before) * (i + 1) as f64 / 5.0;
        assert!((year.hours[k].dry_bulb_c - straight).abs() < 1e-9);
    }
    assert!(year.notes.iter().any(|n| n.contains("4 hours, after row 99")), "{:?}", year.notes);
    assert_eq!(year.hours[91], whole.hours[91]);
    assert_eq!(year.hours[96], whole.hours[96]);
}

#[test]
fn an_hour_of_the_day_that_is_never_there_is_bridged() {
    let kept = DENVER.lines().filter(|l| l.split(',').nth(2) != Some("12"));
    let text = kept.collect::<Vec<_>>().join("\n");
    let options = ReadOptions { fill_gaps: true, ..ReadOptions::default() };
    let year = read_with(&text, &options).expect("filled");
    assert!(year.hours.iter().all(|h| h.global_w_m2.is_finite() && h.dry_bulb_c.is_finite()));
    let noon = &year.hours[200 * 24 + 11];
    let (before, after) = (year.hours[200 * 24 + 10].global_w_m2, year.hours[200 * 24 + 12].global_w_m2);
    assert!((noon.global_w_m2 - 0.5 * (before + after)).abs() < 1e-9);
}

#[test]
fn headings_are_explained() {
    let text = "# latitude: north\nmonth, day, hour ending, dry bulb (m/s), dew point, wind speed (m/s)\n";
    insta::assert_snapshot!("broken_headings", listed(text));
    insta::assert_snapshot!("no_format", listed("Dear reader,\nthis is a letter.\n"));
}

#[test]
fn units_and_separators_of_other_lands_are_understood() {
    // The same readings in Fahrenheit, miles an hour and inches of mercury, with semicolons and decimal commas.
    let mut text = String::from(
        "# latitude: 40\n# longitude: -105\n# elevation: 1600\n# utc offset: -7\n\
         month;day;hour starting;dry bulb (°F);relative humidity (%);pressure (inHg);wind speed (mph);\
         wind direction (°);beam normal (W/m²);diffuse horizontal (W/m²);rain (in)\n",
    );
    for hour in 0..HOURS {
        let month = climate::calendar::month_of_hour(hour);
        let day = hour / 24 - climate::calendar::DAYS_BEFORE_MONTH[month] + 1;
        text.push_str(&format!("{};{day};{};68,0;50;24,9;10;270;0;0;0,01\n", month + 1, hour % 24));
    }
    let year = read(&text).expect("sound");
    let h = year.hours[4_000];
    assert!((h.dry_bulb_c - 20.0).abs() < 1e-9 && (h.wind_speed_m_s - 4.4704).abs() < 1e-9);
    assert!((h.pressure_pa - 84_320.9).abs() < 1.0 && (h.relative_humidity - 0.5).abs() < 1e-9);
    assert!((h.rain_mm.expect("given") - 0.254).abs() < 1e-12);
    // No cloud and no long-wave: polar night or not, a cover is found and said to be derived.
    assert_eq!(year.cloud, CloudOrigin::FromSun);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn arbitrary_text_never_panics(text in "\\PC{0,400}") {
        entry::read_any(&text);
    }

    #[test]
    fn arbitrary_tables_never_panic(
        head in prop::sample::select(vec![
            "Latitude (decimal degrees): 45\n",
            "1,\"A\",NC,-5,36,-79,273\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)\n",
            "month,day,hour ending,dry bulb (°C)\n",
            "# latitude: 40\nmonth;day;hour starting;rain (in)\n",
            "time(UTC),T2m\n",
        ]),
        body in "[-0-9a-z,;:/ \\n\"µ°.]{0,300}",
    ) {
        entry::read_any(&format!("{head}{body}"));
    }

    #[test]
    fn a_damaged_cell_is_named_by_its_row(row in 8_usize..8_767, field in 4_usize..10) {
        let line = DENVER.lines().nth(row - 1).expect("a row");
        let mut fields: Vec<&str> = line.split(',').collect();
        fields[field] = "x";
        let problems = read(&with_line(DENVER, row, &fields.join(","))).expect_err("damaged");
        prop_assert!(problems.iter().any(|p| p.row == Some(row)), "{problems:?}");
    }
}
