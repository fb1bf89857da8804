//! What a recorded run means: mould, wood moisture, frost, standing water, gathering from year to year.
//!
//! Every answer is a sentence with a number, a margin and a place. A masonry face that rain reaches is not judged on a
//! run without rain; frost is not judged without a tested critical saturation. Nothing here is a proof of safety:
//! embedded timber and structure belong to a licensed designer; salts and rising damp are not modelled.

use crate::mould::{self, Sensitivity};
use crate::thresholds::{self, Threshold};
use crate::transport::Trace;
use crate::wall::{Place, Wall};

/// What is known of the rain in a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rain {
    /// None was in the data.
    Unknown,
    /// Recorded with the weather.
    Recorded,
    /// Made up from monthly sums or the like; its year's sum is uncertain by this share.
    Synthetic {
        /// Half-width of the spread, share.
        spread: f64,
    },
}

/// A surface to hold against the mould index.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Interface.
    pub interface: usize,
    /// How readily it grows mould.
    pub sensitivity: Sensitivity,
    /// Whether people see it (stricter limit).
    pub visible: bool,
}

/// A masonry layer exposed to weather.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Masonry {
    /// Layer.
    pub layer: usize,
    /// Critical degree of saturation for frost, 0 to 1 of free saturation, where it was tested.
    pub tested_critical_saturation: Option<f64>,
}

/// What is to be judged in a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Surfaces that may grow mould.
    pub surfaces: Vec<Surface>,
    /// Share of the mould model's decline in dry times; [`mould::DEFAULT_DECLINE`] where nothing is known.
    pub decline: f64,
    /// Layers of wood or wood-based board.
    pub timber: Vec<usize>,
    /// Masonry exposed to weather.
    pub masonry: Vec<Masonry>,
    /// Rain in the run.
    pub rain: Rain,
    /// Names the layer that holds timber ends pocketed in masonry, where there are any.
    pub pocketed_timber: bool,
}

/// How a point came out.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Inside its limit.
    Meets,
    /// Beyond its limit.
    Fails,
    /// Cannot be said, and why.
    NotJudged(String),
}

/// One judged point.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Where.
    pub place: Place,
    /// The limit.
    pub limit: Threshold,
    /// The value found, in the limit's unit; NaN where not judged.
    pub value: f64,
    /// Share of the limit that is left: 1 untouched, 0 at the limit, negative beyond.
    pub margin: f64,
    /// How it came out.
    pub outcome: Outcome,
    /// The answer in a sentence.
    pub sentence: String,
    /// When it was worst, h from the beginning of the run, where there is such a time.
    pub when_h: Option<f64>,
}

impl Finding {
    fn new(place: Place, limit: Threshold, value: f64, sentence: String, when_h: Option<f64>) -> Self {
        let outcome = if value <= limit.value { Outcome::Meets } else { Outcome::Fails };
        Self { place, limit, value, margin: 1.0 - value / limit.value, outcome, sentence, when_h }
    }

    fn not_judged(place: Place, limit: Threshold, why: &str, sentence: String) -> Self {
        Self {
            place,
            limit,
            value: f64::NAN,
            margin: f64::NAN,
            outcome: Outcome::NotJudged(why.to_owned()),
            sentence,
            when_h: None,
        }
    }
}

/// Findings of a run, nearest to failing first, and what was left out of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The findings; not judged ones first, then by margin.
    pub findings: Vec<Finding>,
    /// Cautions to show beside them.
    pub cautions: Vec<&'static str>,
}

impl Verdict {
    /// Returns the finding nearest to failing among the judged ones.
    pub fn governing(&self) -> Option<&Finding> {
        self.findings.iter().find(|f| !f.margin.is_nan())
    }
}

/// Why a rained-on wall has no answer.
const NO_RAIN: &str = "not judged: no rain in the weather data";

/// Judges a recorded run (a whole year or whole years). Mould of a whole year is carried from year to year until it
/// repeats; see [`mould::settled`].
pub fn judge(wall: &Wall, trace: &Trace, request: &Request) -> Verdict {
    judge_after(wall, trace, None, request)
}

/// Judges one year after many like `before`: mould begins with what those left.
pub fn judge_after(wall: &Wall, trace: &Trace, before: Option<&Trace>, request: &Request) -> Verdict {
    let mut findings = Vec::new();
    let exposed_without_rain = request.rain == Rain::Unknown && !request.masonry.is_empty();
    for s in &request.surfaces {
        findings.push(if exposed_without_rain {
            let limit = mould_limit(s);
            Finding::not_judged(Place::Interface(s.interface), limit, NO_RAIN, NO_RAIN.to_owned())
        } else {
            mould_finding(wall, trace, before, s, request.decline)
        });
    }
    for &layer in &request.timber {
        findings.push(if exposed_without_rain {
            Finding::not_judged(Place::Layer(layer), thresholds::WOOD_DECAY, NO_RAIN, NO_RAIN.to_owned())
        } else {
            wood_finding(wall, trace, layer)
        });
    }
    for m in &request.masonry {
        findings.push(frost_finding(wall, trace, m, request.rain));
    }
    for k in 1..wall.layers.len() {
        findings.push(film_finding(wall, trace, k));
    }
    if let Rain::Synthetic { spread } = request.rain
        && !request.masonry.is_empty()
    {
        for f in &mut findings {
            let said = f.sentence.trim_end_matches('.');
            f.sentence = format!("{said} (rain made up, uncertain by {:.0} %).", 100.0 * spread);
        }
    }
    // Not judged first: an open question is nearer to failing than any number.
    findings.sort_by(|a, b| {
        let key = |f: &Finding| if f.margin.is_nan() { f64::NEG_INFINITY } else { f.margin };
        key(a).total_cmp(&key(b))
    });
    let mut cautions = vec![
        "Salts and rising damp are not modelled; deal with them before insulating.",
        "Properties marked estimated are plausible values, not measured ones.",
    ];
    if !request.timber.is_empty() || request.pocketed_timber {
        cautions.push("Load-bearing timber: have it inspected and judged by a licensed designer.");
    }
    if request.pocketed_timber {
        cautions.push(
            "Timber ends pocketed in masonry see more than one dimension: this run does not judge them.",
        );
    }
    Verdict { findings, cautions }
}

fn mould_limit(s: &Surface) -> Threshold {
    if s.visible { thresholds::MOULD_VISIBLE } else { thresholds::MOULD_HIDDEN }
}

fn mould_finding(wall: &Wall, trace: &Trace, before: Option<&Trace>, s: &Surface, decline: f64) -> Finding {
    let place = Place::Interface(s.interface);
    let states = |t: &Trace| -> Vec<(f64, f64)> {
        let list = t.interfaces.get(s.interface).map_or(&[][..], Vec::as_slice);
        list.iter().map(|f| (f.temperature_c, f.humidity)).collect()
    };
    let years = |t: &Trace| t.periods() as f64 * t.period_h / 8_760.0;
    let now = states(trace);
    let (index, period) = match before {
        Some(before) => {
            let (_, _, left) = mould::settled(s.sensitivity, decline, &states(before), before.period_h, 0.0);
            mould::once_from(s.sensitivity, decline, &now, trace.period_h, left)
        }
        None if years(trace) > 0.999 => {
            let (index, period, _) = mould::settled(s.sensitivity, decline, &now, trace.period_h, 0.0);
            (index, period)
        }
        None => mould::once_from(s.sensitivity, decline, &now, trace.period_h, 0.0),
    };
    let (sentence, when_h) = if index < 0.01 {
        (format!("No mould growth {}.", wall.whereabouts(place)), None)
    } else {
        let words = format!("Mould index up to {index:.1} {}.", wall.whereabouts(place));
        (words, Some((period as f64 + 0.5) * trace.period_h))
    };
    Finding::new(place, mould_limit(s), index, sentence, when_h)
}

fn wood_finding(wall: &Wall, trace: &Trace, layer: usize) -> Finding {
    let place = Place::Layer(layer);
    let density = wall.layers[layer].material.density_kg_m3;
    let (mut worst, mut watch_h, mut decay_h, mut when) = (0.0_f64, 0.0, 0.0, 0);
    let states = trace.layer_peak_kg_m3[layer].iter().zip(&trace.layer_coldest_c[layer]);
    for (period, (&peak, &coldest)) in states.enumerate() {
        let share = peak / density;
        if share > worst {
            (worst, when) = (share, period);
        }
        if share > thresholds::WOOD_WATCH.value {
            watch_h += trace.period_h;
        }
        // Decay fungi rest in the cold: 5 °C is the usual line (common practice, no source).
        if share > thresholds::WOOD_DECAY.value && coldest > 5.0 {
            decay_h += trace.period_h;
        }
    }
    let sentence = format!(
        "{}: wettest spot {:.0} % by mass; {:.0} days above 20 %, {:.0} days above 26 % while warmer than 5 °C.",
        wall.name(place),
        100.0 * worst,
        watch_h / 24.0,
        decay_h / 24.0
    );
    let years = (trace.periods() as f64 * trace.period_h / 8_760.0).max(1e-9);
    let days = watch_h / 24.0 / years;
    let when_h = Some((when as f64 + 0.5) * trace.period_h);
    if decay_h > 0.0 || worst > thresholds::WOOD_DECAY.value {
        Finding::new(place, thresholds::WOOD_DECAY, worst, sentence, when_h)
    } else {
        Finding::new(place, thresholds::WOOD_WATCH_DAYS, days, sentence, when_h)
    }
}

/// Counts passages below the freezing line while the layer is wetter than its tested critical saturation.
fn frost_finding(wall: &Wall, trace: &Trace, m: &Masonry, rain: Rain) -> Finding {
    let place = Place::Layer(m.layer);
    let name = wall.name(place);
    let limit = Threshold {
        id: "frost.cycles",
        value: 0.5,
        unit: "cycles",
        meaning: "no freezing while wetter than the tested critical saturation",
        source: "common practice, no source",
        seen: false,
    };
    if rain == Rain::Unknown {
        return Finding::not_judged(place, limit, NO_RAIN, format!("Frost in {name}: {NO_RAIN}."));
    }
    let Some(critical) = m.tested_critical_saturation else {
        let why = "not judged: no tested critical saturation";
        return Finding::not_judged(
            place,
            limit,
            why,
            format!("Frost in {name}: unknown, have a sample tested."),
        );
    };
    let full = wall.layers[m.layer].material.saturation_kg_m3;
    let (mut cycles, mut frozen) = (0.0, false);
    for (&peak, &coldest) in trace.layer_peak_kg_m3[m.layer].iter().zip(&trace.layer_coldest_c[m.layer]) {
        let now = coldest < thresholds::FROST.value && peak > critical * full;
        if now && !frozen {
            cycles += 1.0;
        }
        // Thawed only once it is above 0 °C again, so that wavering at the line counts once.
        frozen = now || (frozen && coldest < 0.0);
    }
    let sentence = format!("{name}: {cycles:.0} freezings while wetter than its tested critical saturation.");
    Finding::new(place, limit, cycles, sentence, None)
}

fn film_finding(wall: &Wall, trace: &Trace, interface: usize) -> Finding {
    let place = Place::Interface(interface);
    let states = &trace.interfaces[interface];
    let (mut most, mut when) = (0.0, None);
    for (period, f) in states.iter().enumerate() {
        if f.film_kg_m2 > most {
            (most, when) = (f.film_kg_m2, Some((period as f64 + 0.5) * trace.period_h));
        }
    }
    let hours = states.iter().filter(|f| f.film_kg_m2 > 0.0).count() as f64 * trace.period_h;
    let sentence = if hours == 0.0 {
        format!("No liquid water {}.", wall.whereabouts(place))
    } else {
        format!(
            "Liquid water {} for {hours:.0} h, at most {:.0} g/m².",
            wall.whereabouts(place),
            1000.0 * most
        )
    };
    Finding::new(place, thresholds::FILM, most, sentence, when)
}

/// How the water in a wall goes from year to year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum YearOnYear {
    /// It repeats itself, at this content at the year's end, kg/m².
    Settled(f64),
    /// It still falls: the wall dries out, toward about this content (extrapolated), kg/m².
    Drying(f64),
    /// It grows, toward about this content (extrapolated) or without end in sight, kg/m².
    Gathering(Option<f64>),
    /// Fewer than two years were run.
    Unknown,
}

/// Reads the contents at successive years' ends, kg/m²; change below a hundredth of the content a year is none.
pub fn year_on_year(ends_kg_m2: &[f64]) -> YearOnYear {
    let [.., a, b] = *ends_kg_m2 else { return YearOnYear::Unknown };
    let change = b - a;
    if change.abs() <= thresholds::ACCUMULATION.value * b.abs() {
        return YearOnYear::Settled(b);
    }
    // Aitken: changes that shrink by one ratio lead to a limit.
    let limit = match ends_kg_m2 {
        [.., z, _, _] => {
            let ratio = change / (a - z);
            (ratio > 0.0 && ratio < 0.95).then(|| b + change * ratio / (1.0 - ratio))
        }
        _ => None,
    };
    if change > 0.0 { YearOnYear::Gathering(limit) } else { YearOnYear::Drying(limit.unwrap_or(b).max(0.0)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_are_read() {
        assert_eq!(year_on_year(&[1.0]), YearOnYear::Unknown);
        assert_eq!(year_on_year(&[10.0, 10.05]), YearOnYear::Settled(10.05));
        assert_eq!(year_on_year(&[8.0, 4.0, 2.0]), YearOnYear::Drying(0.0));
        assert_eq!(year_on_year(&[1.0, 3.0, 4.0]), YearOnYear::Gathering(Some(5.0)));
        assert_eq!(year_on_year(&[1.0, 2.0, 3.0]), YearOnYear::Gathering(None));
    }

    /// The demonstration's upper wall in shortened form, through the first winter months of the invented year.
    fn winter(rain: bool) -> (Wall, Trace) {
        use crate::material::{LibraryOptions, from_library};
        use crate::transport::{Cells, Options, Resolution, Simulation, Start};
        let layers =
            [("gypsum board", 0.0159), ("plywood", 0.0127), ("dense-cellulose", 0.14), ("soft brick", 0.203)]
                .iter()
                .map(|&(name, thickness_m)| {
                    let row = matter::find(name).expect("a library row");
                    let (d, _) = from_library(row, LibraryOptions::default()).expect("estimates cover it");
                    crate::wall::Layer {
                        name: name.into(),
                        thickness_m,
                        material: std::sync::Arc::new(d.prepare().expect("valid")),
                    }
                })
                .collect();
        let wall = Wall::new(layers);
        let mut drive = crate::invented::drive(&crate::surfaces::OutsideFace::default()).expect("whole");
        if !rain {
            drive.outside.iter_mut().for_each(|s| s.rain_kg_m2s = 0.0);
        }
        let cells = Cells::graded(&wall, Resolution::default());
        let mut s = Simulation::new(&wall, &cells, Options::default()).expect("valid");
        let trace = s.record(8.0, &[Start::Humidity(0.7); 4], &drive, 2_000.0 * 3600.0).expect("solved");
        (wall, trace)
    }

    #[test]
    fn a_rained_on_wall_is_judged_only_with_rain() {
        let request = |rain| Request {
            surfaces: vec![Surface { interface: 3, sensitivity: Sensitivity::Medium, visible: false }],
            decline: mould::DEFAULT_DECLINE,
            timber: vec![1],
            masonry: vec![Masonry { layer: 3, tested_critical_saturation: None }],
            rain,
            pocketed_timber: true,
        };
        let (wall, dry) = winter(false);
        let unknown = judge(&wall, &dry, &request(Rain::Unknown));
        let refused = unknown.findings.iter().filter(|f| matches!(f.outcome, Outcome::NotJudged(_))).count();
        assert_eq!(refused, 3, "{:#?}", unknown.findings);
        assert!(unknown.cautions.iter().any(|c| c.contains("licensed designer")));

        let (wall, wet) = winter(true);
        let known = judge(&wall, &wet, &request(Rain::Synthetic { spread: 0.3 }));
        // Frost stays open: nobody tested the brick.
        let open: Vec<_> = known.findings.iter().filter(|f| f.margin.is_nan()).collect();
        assert!(open.len() == 1 && open[0].sentence.contains("have a sample tested"), "{open:?}");
        let governing = known.governing().expect("judged points");
        assert!(known.findings.iter().all(|f| f.margin.is_nan() || f.margin >= governing.margin));
        assert!(governing.sentence.contains("uncertain by 30 %"), "{}", governing.sentence);
        // Rain through the brick makes what stands behind it damper.
        let humidity = |t: &Trace| t.interfaces[3].iter().map(|f| f.humidity).sum::<f64>();
        assert!(humidity(&wet) > humidity(&dry));
    }
}
