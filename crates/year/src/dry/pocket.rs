//! Timber ends pocketed in masonry: a bound, not a simulation of the pocket.
//!
//! The end of a joist or beam in a masonry pocket sees more than one dimension. What is done instead brings three things
//! together at the end's face, hour by hour:
//!
//! 1. *temperature*: that of the masonry at pocket depth, warmed by the timber by a fixed share of the difference to the
//!    room (a timber passes little heat: 0.08, judgement after three-dimensional results of common pockets);
//! 2. *moisture of the masonry* at pocket depth, from the one-dimensional run with its rain: the pocket's air tends to it;
//! 3. *room air* that comes through the gap round the timber: a share of the pocket's air, none where the gap is sealed.
//!
//! The timber's moisture follows the sorption curve of softwood at the pocket's air with a lag of some weeks. Both the
//! sealed and the open pocket are told. It errs wet where the pocket is lined or ventilated, dry where mortar touches end
//! grain and rain reaches the pocket through open joints: liquid from brick to end grain is not in it.

use building::model::Beyond;
use matter::moist_air::saturation_pressure;
use moisture::judge::Rain;
use moisture::material::{LibraryOptions, Material, from_library};
use moisture::thresholds;
use moisture::transport::Trace;

use super::report::PocketReport;
use super::{Done, Scene};

/// Share of the difference to the room by which the timber warms its end (judgement).
const WARMED: f64 = 0.08;
/// Share of room air in the pocket's air where the gap is open (judgement).
const OPEN_SHARE: f64 = 0.25;
/// Time constant of the timber's moisture at its end, h (judgement: 20 mm of softwood, a month).
const LAG_H: f64 = 720.0;
/// Library row of the timber.
const TIMBER: &str = "timber-450";
/// Vapour alone takes wood no further than the saturation of its fibres, kg/kg (common practice, no source).
const FIBRES_FULL: f64 = 0.30;
/// Decay needs warmth: °C (common practice, no source).
const DECAY_ABOVE_C: f64 = 5.0;

/// Bounds every kind of timber end of a building on every side its assembly faces.
pub(super) fn pockets(scene: &Scene<'_>, done: &[Done]) -> Vec<PocketReport> {
    let Some(timber) = matter::find(TIMBER).and_then(|row| {
        from_library(row, LibraryOptions::default()).ok().and_then(|(d, _)| d.prepare().ok())
    }) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for p in scene.building.penetrations.iter().filter(|p| p.plan.embedded_timber) {
        let mut sides: Vec<&str> = Vec::new();
        for d in done.iter().filter(|d| d.case.assembly == p.through && d.case.beyond == Beyond::Outside) {
            // One case a side is enough: the masonry is the same, the rooms differ little. They come dampest first.
            if sides.contains(&d.report.side.as_str()) {
                continue;
            }
            sides.push(&d.report.side);
            for open in [false, true] {
                out.push(bound(scene, d, &p.plan.name, &timber, open));
            }
        }
    }
    out
}

fn bound(scene: &Scene<'_>, d: &Done, name: &str, timber: &Material, open: bool) -> PocketReport {
    let pocket = if open { "open to the room" } else { "sealed" };
    let case = format!("{}, {}", d.report.assembly, d.report.side);
    let caution = "A bound, not a simulation of the pocket; a licensed designer judges the timber.";
    let mut report = PocketReport {
        name: name.to_owned(),
        case,
        pocket: pocket.to_owned(),
        monthly_moisture: [0.0; 12],
        highest: 0.0,
        watch_h: 0.0,
        decay_h: 0.0,
        sentence: String::new(),
    };
    // The end lies at the inner face of the outer leaf of masonry.
    let Some(interface) = d.built.behind_masonry.filter(|_| d.rain != Rain::Unknown) else {
        report.sentence = format!("Not judged: no rain, or no masonry it ends in. {caution}");
        return report;
    };
    let moisture = end_moisture(scene, d, &d.ran.mean, interface, timber, open);
    let states = &d.ran.mean.interfaces[interface];
    let mut sums = [(0.0, 0.0); 12];
    for (h, u) in moisture.iter().enumerate() {
        let month = climate::calendar::month_of_hour(h);
        sums[month].0 += u;
        sums[month].1 += 1.0;
        report.highest = report.highest.max(*u);
        if *u > thresholds::WOOD_WATCH.value {
            report.watch_h += 1.0;
        }
        if *u > thresholds::WOOD_DECAY.value && states[h].temperature_c > DECAY_ABOVE_C {
            report.decay_h += 1.0;
        }
    }
    report.monthly_moisture = sums.map(|(sum, n)| if n > 0.0 { sum / n } else { 0.0 });
    report.sentence = format!(
        "{name}, pocket {pocket}: up to {:.0} % by mass, {:.0} days above 20 %, {:.0} days above 26 % while warmer than \
         {DECAY_ABOVE_C} °C. {caution}",
        100.0 * report.highest,
        report.watch_h / 24.0,
        report.decay_h / 24.0
    );
    report
}

/// Moisture of the end, kg/kg, hour by hour; the year is gone through twice so that it closes on itself.
fn end_moisture(
    scene: &Scene<'_>,
    d: &Done,
    trace: &Trace,
    interface: usize,
    timber: &Material,
    open: bool,
) -> Vec<f64> {
    let room = &scene.rooms[d.case.air_of.0];
    let share = if open { OPEN_SHARE } else { 0.0 };
    let target: Vec<f64> = trace.interfaces[interface]
        .iter()
        .enumerate()
        .map(|(h, masonry)| {
            let t = masonry.temperature_c + WARMED * (room.temperature_c[h] - masonry.temperature_c);
            let of_masonry = masonry.humidity * saturation_pressure(masonry.temperature_c);
            let pv = of_masonry + share * (room.vapour_pressure_pa[h] - of_masonry);
            let humidity = (pv / saturation_pressure(t)).clamp(0.0, 0.999);
            (timber.water_kg_m3(humidity, t) / timber.density_kg_m3).min(FIBRES_FULL)
        })
        .collect();
    let mut now = numeric::sum::mean(&target);
    let mut out = Vec::with_capacity(target.len());
    for round in 0..2 {
        for u in &target {
            now += (u - now) / LAG_H;
            if round == 1 {
                out.push(now);
            }
        }
    }
    out
}
