//! From recorded runs to what is told: points, levels, strips, sentences.

use building::model::Assembly;
use climate::calendar;
use moisture::judge::{self, Finding, Outcome, Rain, Request, YearOnYear};
use moisture::monthly;
use moisture::mould::DEFAULT_DECLINE;
use moisture::thresholds;
use moisture::transport::Trace;
use moisture::vapour_open::{self, Element};
use moisture::wall::Place;

use super::report::{
    Estimate, LayerYear, LevelYear, Monthly, Openness, PlaneYear, Point, Status, Water, YearVerdict,
};
use super::walls::Built;

/// Weeks shown; the year's last day belongs to the last.
const WEEKS: usize = 52;
const WEEK_H: usize = 168;

/// The day of an hour, in words.
pub(crate) fn day(hour: f64) -> String {
    let words = calendar::words(hour.max(0.0) as usize);
    words.rsplit_once(' ').map_or(words.clone(), |(day, _)| day.to_owned())
}

/// Place of an interface in the assembly's list: k lies outside of layer k.
fn level_of(built: &Built, assembly: &Assembly, interface: usize) -> usize {
    match interface.checked_sub(1).and_then(|k| built.model_layer.get(k)) {
        Some(place) => *place,
        None => assembly.layers.len(),
    }
}

/// Layer of the assembly's list that a place belongs to.
fn layer_of(built: &Built, place: Place) -> usize {
    let k = match place {
        Place::Layer(k) => k,
        Place::Interface(k) => k.saturating_sub(1),
    };
    built.model_layer.get(k).copied().unwrap_or(0)
}

/// Judges a recorded year.
pub(crate) fn verdict(
    built: &Built,
    trace: &Trace,
    before: Option<&Trace>,
    rain: Rain,
    pocketed_timber: bool,
) -> YearVerdict {
    let request = Request {
        surfaces: built.surfaces.clone(),
        decline: DEFAULT_DECLINE,
        timber: built.timber.clone(),
        masonry: built.masonry.clone(),
        rain,
        pocketed_timber,
    };
    let judged = judge::judge_after(&built.wall, trace, before, &request);
    let dry_film = |f: &Finding| f.limit.id == thresholds::FILM.id && f.value == 0.0;
    let points: Vec<Point> =
        judged.findings.iter().filter(|f| !dry_film(f)).map(|f| point(built, f)).collect();
    // Frost that nobody tested stays open without hiding what is known of the rest.
    let open = |p: &&Point| p.status == Status::NotJudged && p.limit != "frost.cycles";
    let status = if points.iter().any(|p| p.status == Status::NotMet) {
        Status::NotMet
    } else if points.iter().find(open).is_some() {
        Status::NotJudged
    } else {
        Status::Met
    };
    YearVerdict { status, points }
}

fn point(built: &Built, f: &Finding) -> Point {
    let status = match f.outcome {
        Outcome::Meets => Status::Met,
        Outcome::Fails => Status::NotMet,
        Outcome::NotJudged(_) => Status::NotJudged,
    };
    let known = |x: f64| x.is_finite().then_some(x);
    let recalled = if f.limit.seen { "" } else { ", recalled" };
    Point {
        place: built.wall.name(f.place),
        layer: layer_of(built, f.place),
        limit: f.limit.id.to_owned(),
        meaning: f.limit.meaning.to_owned(),
        threshold: f.limit.value,
        unit: f.limit.unit.to_owned(),
        value: known(f.value),
        margin: known(f.margin),
        status,
        sentence: f.sentence.clone(),
        when: f.when_h.map(day),
        source: format!("{}{recalled}", f.limit.source),
    }
}

/// Layers over the year, outside to inside.
pub(crate) fn layers(built: &Built, trace: &Trace) -> Vec<LayerYear> {
    let weekly = |hourly: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..WEEKS)
            .map(|week| {
                let end = if week + 1 == WEEKS { trace.periods() } else { (week + 1) * WEEK_H };
                let start = (week * WEEK_H).min(end);
                let sum: f64 = (start..end).map(hourly).sum();
                sum / (end - start).max(1) as f64
            })
            .collect()
    };
    (0..built.wall.layers.len())
        .rev()
        .map(|k| LayerYear {
            name: built.wall.layers[k].name.clone(),
            thickness_m: built.wall.layers[k].thickness_m,
            layer: built.model_layer[k],
            weekly_humidity: weekly(&|h| {
                trace.interfaces[k][h].humidity.max(trace.interfaces[k + 1][h].humidity)
            }),
            weekly_water_kg_m2: weekly(&|h| trace.layer_water_kg_m2[k][h]),
        })
        .collect()
}

/// Interfaces over the year, outside to inside.
pub(crate) fn levels(built: &Built, assembly: &Assembly, trace: &Trace) -> Vec<LevelYear> {
    (0..=built.wall.layers.len())
        .rev()
        .map(|k| {
            let states = &trace.interfaces[k];
            let (mut coldest, mut cold_h) = (f64::INFINITY, 0);
            for (h, s) in states.iter().enumerate() {
                if s.temperature_c < coldest {
                    (coldest, cold_h) = (s.temperature_c, h);
                }
            }
            let mean = |of: &dyn Fn(usize) -> f64, range: std::ops::Range<usize>| {
                let n = range.len().max(1) as f64;
                range.map(of).sum::<f64>() / n
            };
            let humidity = |h: usize| states[h].humidity;
            let (mut wettest, mut wet_day) = (0.0, 0);
            for d in 0..states.len() / 24 {
                let of_day = mean(&humidity, d * 24..d * 24 + 24);
                if of_day > wettest {
                    (wettest, wet_day) = (of_day, d);
                }
            }
            LevelYear {
                interface: level_of(built, assembly, k),
                place: built.wall.name(Place::Interface(k)),
                coldest_c: coldest,
                coldest_when: day(cold_h as f64),
                usual_c: mean(&|h| states[h].temperature_c, 0..states.len()),
                usual_humidity: mean(&humidity, 0..states.len()),
                wettest_humidity: wettest,
                wettest_when: day((wet_day * 24) as f64),
            }
        })
        .collect()
}

/// How the water goes from year to year.
pub(crate) fn water(ends_kg_m2: &[f64], repeats: bool) -> Water {
    // The coarse grid's last year and the fine grid's first are not comparable to a part in a hundred.
    let last = *ends_kg_m2.last().unwrap_or(&0.0);
    let (course, sentence) = if repeats {
        (
            "settled",
            format!("The water repeats itself from year to year, at {last:.1} kg/m² on New Year's Eve."),
        )
    } else {
        match judge::year_on_year(ends_kg_m2) {
            YearOnYear::Settled(end) => (
                "settled",
                format!("The wall's water is steady at {end:.1} kg/m², single layers still shift."),
            ),
            YearOnYear::Drying(to) => (
                "drying",
                format!("The wall still dries after {} years, toward {to:.1} kg/m².", ends_kg_m2.len()),
            ),
            YearOnYear::Gathering(Some(to)) => {
                ("gathering", format!("Water grows from year to year, toward {to:.1} kg/m²."))
            }
            YearOnYear::Gathering(None) => {
                ("gathering", "Water grows from year to year without an end in sight.".to_owned())
            }
            YearOnYear::Unknown => ("unknown", "Too few years were run to say.".to_owned()),
        }
    };
    Water { course: course.to_owned(), ends_kg_m2: ends_kg_m2.to_vec(), sentence }
}

/// Estimates made, as told.
pub(crate) fn estimates(built: &Built) -> Vec<Estimate> {
    built
        .filled
        .iter()
        .map(|f| Estimate {
            material: f.material.clone(),
            property: f.property.to_owned(),
            value: f.value,
            basis: f.basis.to_owned(),
        })
        .collect()
}

/// The monthly method, and why it differs from the run where it does.
pub(crate) fn monthly_beside(
    built: &Built,
    months: &[monthly::Month],
    run: &YearVerdict,
    rained: bool,
) -> Monthly {
    let layers: Vec<monthly::Layer> = built
        .planes
        .iter()
        .map(|(name, r, dry, _)| monthly::Layer {
            name: name.clone(),
            resistance_m2k_w: *r,
            air_layer_m: *dry,
        })
        .collect();
    let year = match monthly::year(&layers, months) {
        Ok(year) => year,
        Err(errors) => {
            let why: Vec<String> = errors.iter().map(ToString::to_string).collect();
            let sentence = format!("the monthly method refuses this construction: {}", why.join("; "));
            return Monthly { peak_kg_m2: 0.0, left_kg_m2: 0.0, sentence, beside: String::new() };
        }
    };
    let wet = run.status == Status::NotMet;
    let beside = match (year.peak_kg_m2 > 0.005, wet) {
        (true, false) => {
            "It sees condensation that the run does not: boards and masonry soak such water up and give it back, and \
             liquid spreads away from where it condenses; the method knows neither."
        }
        (false, true) if rained => {
            "It sees nothing of what the run finds: rain, sun that drives water inward, and damp spells shorter than a \
             month are not in it."
        }
        (false, true) => {
            "It sees nothing of what the run finds: damp spells shorter than a month, changing resistance and water \
             stored from one season to the next are not in it."
        }
        (true, true) => "It agrees that the construction gets wet.",
        (false, false) => "It agrees.",
    };
    Monthly {
        peak_kg_m2: year.peak_kg_m2,
        left_kg_m2: year.left_kg_m2,
        sentence: year.sentence(),
        beside: beside.to_owned(),
    }
}

/// Vapour resistance and drying reserve.
pub(crate) fn openness(built: &Built, roof: bool) -> Openness {
    let planes: Vec<vapour_open::Plane> = built
        .planes
        .iter()
        .map(|(name, r, dry, wet)| vapour_open::Plane {
            name: name.clone(),
            resistance_m2k_w: *r,
            dry_m: *dry,
            wet_m: *wet,
        })
        .collect();
    let told = planes
        .iter()
        .map(|p| {
            let (dry, wet) = p.perms();
            PlaneYear { name: p.name.clone(), air_layer_m: [p.dry_m, p.wet_m], perms: [dry, wet] }
        })
        .collect();
    let (element, limit) = if roof {
        (Element::Roof, thresholds::RESERVE_ROOF)
    } else {
        (Element::Wall, thresholds::RESERVE_WALL)
    };
    match vapour_open::check(&planes, element) {
        Ok(found) => {
            let tightest = planes[found.tightest].name.clone();
            let (at, reserve) = found.reserve().unwrap_or((0, 0.0));
            let place = format!("between {} and {}", planes[at].name, planes[at + 1].name);
            let meets = if reserve >= limit.value { "enough" } else { "too little" };
            let sentence = format!(
                "Tightest to vapour: {tightest}. A wet spot {place} can dry {:.0} g/m² more in a summer season than it \
                 condenses in a winter one; {:.0} g/m² is wanted: {meets}.",
                1000.0 * reserve,
                1000.0 * limit.value
            );
            Openness {
                planes: told,
                tightest,
                reserve_kg_m2: reserve,
                wanted_kg_m2: limit.value,
                place,
                sentence,
            }
        }
        Err(_) => Openness {
            planes: told,
            tightest: planes.first().map(|p| p.name.clone()).unwrap_or_default(),
            reserve_kg_m2: 0.0,
            wanted_kg_m2: limit.value,
            place: String::new(),
            sentence: "One plane alone has no place inside it that could be wet.".to_owned(),
        },
    }
}

/// The answer in a sentence or two.
pub(crate) fn sentence(mean: &YearVerdict, design: &YearVerdict) -> String {
    if let Some(open) = mean.open().filter(|_| mean.governing().is_none() || mean.status == Status::NotJudged)
    {
        return format!("{} {}", capital(&open.sentence), "No verdict.").replace("  ", " ");
    }
    let Some(g) = design.governing().or_else(|| mean.governing()) else {
        return "Nothing in it was judged.".to_owned();
    };
    if g.margin.is_some_and(|m| m > 0.99) {
        return "Nothing in it comes near a limit, not even in a year in ten.".to_owned();
    }
    let same = mean.points.iter().find(|p| p.place == g.place && p.limit == g.limit);
    let margin = g.margin.unwrap_or(0.0);
    let room = if margin >= 0.0 {
        format!("{:.0} % of the limit left", 100.0 * margin)
    } else {
        format!("{:.0} % over the limit", -100.0 * margin)
    };
    let limit = match g.unit.as_str() {
        "index" => format!("limit {}", g.threshold),
        "kg/kg" => format!("limit {:.0} %", 100.0 * g.threshold),
        "kg/m²" => format!("limit {:.0} g/m²", 1000.0 * g.threshold),
        unit => format!("limit {} {unit}", g.threshold),
    };
    let mean_words = same.and_then(|p| p.value).map_or_else(String::new, |v| match g.unit.as_str() {
        "index" => format!(" In a mean year {v:.1}."),
        "kg/kg" => format!(" In a mean year {:.0} %.", 100.0 * v),
        "kg/m²" => format!(" In a mean year {:.0} g/m².", 1000.0 * v),
        unit => format!(" In a mean year {v:.0} {unit}."),
    });
    let when = g.when.as_ref().map_or_else(String::new, |w| format!(", worst about {w}"));
    let said = g.sentence.trim_end_matches('.');
    format!("In a year in ten: {}{when} ({limit}, {room}).{mean_words}", lower(said))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().collect::<String>() + letters.as_str())
}
