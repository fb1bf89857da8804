//! The drying test: wet one layer by a stated amount, close the wall, and count the days until it is dry enough.
//!
//! Days depend on where the water may go (inside, outside, both), on the month it begins in, and on every sheet and tape
//! in its way: run the test on the wall as drawn and on the wall with the other tape, and compare.

use crate::drive::{Drive, SideState};
use crate::error::{MoistureError, within};
use crate::transport::{Cells, Options, Simulation, Start};
use crate::wall::{Side, Wall};
use rayon::prelude::*;

/// Which ways out are open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To the room only.
    Inside,
    /// To outdoors only.
    Outside,
    /// Both.
    Both,
}

/// When the wetted layer counts as dry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dry {
    /// When no more than this share of the added water is left over the same wall that was not wetted.
    ShareLeft(f64),
    /// When its wettest spot holds no more than this, kg/m³.
    Water(f64),
    /// When its wettest spot holds no more than this share of the dry mass (wood: 0.20).
    MassShare(f64),
}

/// A drying test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Test {
    /// Layer wetted.
    pub layer: usize,
    /// Water added, kg/m².
    pub added_kg_m2: f64,
    /// When it counts as dry.
    pub dry: Dry,
    /// Give up after this many days.
    pub most_days: u32,
}

/// How one test came out.
#[derive(Clone, Debug, PartialEq)]
pub struct Drying {
    /// Way open.
    pub way: Way,
    /// Period of the drive it began in.
    pub begins: usize,
    /// Days until dry; `None` when it was not within the days allowed.
    pub days: Option<u32>,
    /// Water in the layer before wetting, just after, and at the end, kg/m².
    pub water_kg_m2: [f64; 3],
    /// Water in the layer day by day, kg/m².
    pub daily_kg_m2: Vec<f64>,
    /// What of it is there only because the layer was wetted, day by day, kg/m²; empty where dryness is not judged by it.
    pub left_kg_m2: Vec<f64>,
}

impl Drying {
    /// Returns the result in a sentence.
    pub fn sentence(&self, name: &str) -> String {
        let way = match self.way {
            Way::Inside => "to the inside",
            Way::Outside => "to the outside",
            Way::Both => "to both sides",
        };
        match self.days {
            Some(days) => format!("{name} is dry after {days} days {way}."),
            None => format!(
                "{name} is not dry after {} days {way}: {:.0} g/m² above where it began.",
                self.daily_kg_m2.len(),
                1000.0 * (self.water_kg_m2[2] - self.water_kg_m2[0])
            ),
        }
    }
}

/// Runs one test from a start, beginning in a period of the drive. No rain falls on the wall while it dries.
///
/// # Errors
/// Those of the run.
pub fn run(
    wall: &Wall,
    cells: &Cells,
    options: Options,
    drive: &Drive,
    (temperature_c, start): (f64, &[Start]),
    test: &Test,
    way: Way,
    begins: usize,
) -> Result<Drying, Vec<MoistureError>> {
    let one = |e: MoistureError| vec![e];
    within("drying test", "days allowed", f64::from(test.most_days), 1.0, 4000.0).map_err(one)?;
    let drive = drying_drive(drive, way, begins);
    let mut s = Simulation::new(wall, cells, options)?;
    s.start(temperature_c, start)?;
    if test.layer >= wall.layers.len() {
        return Err(one(s.wet(test.layer, test.added_kg_m2).err().unwrap_or_else(|| {
            crate::wall::inconsistent("drying test", format!("there is no layer {}", test.layer + 1))
        })));
    }
    let mut unwetted = Simulation::new(wall, cells, options)?;
    unwetted.start(temperature_c, start)?;
    let before = s.layer_water_kg_m2(test.layer);
    s.wet(test.layer, test.added_kg_m2).map_err(one)?;
    let after = s.layer_water_kg_m2(test.layer);
    let material = &wall.layers[test.layer].material;
    let mut out = Drying {
        way,
        begins,
        days: None,
        water_kg_m2: [before, after, after],
        daily_kg_m2: Vec::with_capacity(test.most_days as usize),
        left_kg_m2: Vec::new(),
    };
    for day in 1..=test.most_days {
        s.run(&drive, 86_400.0, |_| {})?;
        let left = s.layer_water_kg_m2(test.layer);
        out.daily_kg_m2.push(left);
        out.water_kg_m2[2] = left;
        let wettest = s.profile(test.layer).iter().map(|p| p[3]).fold(0.0, f64::max);
        let dry = match test.dry {
            Dry::ShareLeft(share) => {
                unwetted.run(&drive, 86_400.0, |_| {})?;
                let more = left - unwetted.layer_water_kg_m2(test.layer);
                out.left_kg_m2.push(more);
                more <= share * test.added_kg_m2
            }
            Dry::Water(water) => wettest <= water,
            Dry::MassShare(share) => wettest <= material.water_of_mass_share(share),
        };
        if dry {
            out.days = Some(day);
            break;
        }
    }
    Ok(out)
}

/// Runs the test for every way and several beginnings, in parallel; the order is by way, then beginning.
///
/// # Errors
/// Those of the first run that fails.
pub fn compare(
    wall: &Wall,
    cells: &Cells,
    options: Options,
    drive: &Drive,
    start: (f64, &[Start]),
    test: &Test,
    begins: &[usize],
) -> Result<Vec<Drying>, Vec<MoistureError>> {
    let cases: Vec<(Way, usize)> = [Way::Both, Way::Inside, Way::Outside]
        .iter()
        .flat_map(|way| begins.iter().map(move |b| (*way, *b)))
        .collect();
    cases
        .into_par_iter()
        .map(|(way, begins)| run(wall, cells, options, drive, start, test, way, begins))
        .collect::<Vec<_>>()
        .into_iter()
        .collect()
}

/// Returns the first periods of the twelve months of a drive that holds one year.
pub fn month_starts(periods: usize) -> [usize; 12] {
    const DAYS: [usize; 12] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
    DAYS.map(|d| d * periods / 365)
}

/// The drive from a period on, without rain and air flows through the closed side's face.
fn drying_drive(drive: &Drive, way: Way, begins: usize) -> Drive {
    let n = drive.inside.len().max(1);
    let close = |state: &SideState, side: Side| {
        let mut s = *state;
        s.rain_kg_m2s = 0.0;
        let shut = matches!((way, side), (Way::Inside, Side::Outside) | (Way::Outside, Side::Inside));
        if shut {
            s.vapour_film_kg_m2spa = 0.0;
        }
        s
    };
    let turned = |list: &[SideState], side: Side| -> Vec<SideState> {
        (0..list.len()).map(|k| close(&list[(k + begins) % n], side)).collect()
    };
    let turned_flow = |list: &[f64]| -> Vec<f64> {
        (0..list.len()).map(|k| list[(k + begins) % list.len().max(1)]).collect()
    };
    Drive {
        period_s: drive.period_s,
        inside: turned(&drive.inside, Side::Inside),
        outside: turned(&drive.outside, Side::Outside),
        exchange_kg_m2s: drive.exchange_kg_m2s.iter().map(|f| turned_flow(f)).collect(),
        through_kg_m2s: turned_flow(&drive.through_kg_m2s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::{LibraryOptions, Sheet, from_library};
    use crate::transport::Resolution;
    use crate::wall::{Contact, Layer};
    use std::sync::Arc;

    fn layer(name: &str, thickness_m: f64) -> Layer {
        let row = matter::find(name).expect("a library row");
        let (d, _) = from_library(row, LibraryOptions::default()).expect("estimates cover it");
        Layer { name: name.into(), thickness_m, material: Arc::new(d.prepare().expect("valid")) }
    }

    #[test]
    fn a_tighter_sheet_outside_makes_drying_slower_and_both_ways_are_fastest() {
        let air =
            |t: f64, h: f64| SideState::air(t, h * matter::moist_air::saturation_pressure(t), 8.0, 3e-8);
        let drive = Drive::steady(air(21.0, 0.4), air(10.0, 0.75));
        let start = [Start::Humidity(0.5); 3];
        let test = Test { layer: 1, added_kg_m2: 0.3, dry: Dry::ShareLeft(0.1), most_days: 400 };
        let days = |outer: f64| {
            let mut wall = Wall::new(vec![
                layer("gypsum board", 0.0125),
                layer("plywood", 0.0127),
                layer("osb", 0.0111),
            ]);
            wall.contacts[1] = Contact::Sheet(Sheet::constant("sheet", outer));
            let cells = Cells::graded(&wall, Resolution::default());
            let options = Options { longest_step_s: 14_400.0, ..Options::default() };
            compare(&wall, &cells, options, &drive, (18.0, &start), &test, &[0]).expect("solved")
        };
        let (open, tight) = (days(0.05), days(20.0));
        let of = |list: &[Drying], way: Way| {
            list.iter().find(|d| d.way == way).and_then(|d| d.days).unwrap_or(u32::MAX)
        };
        assert!(of(&open, Way::Both) <= of(&open, Way::Inside).min(of(&open, Way::Outside)));
        assert!(of(&tight, Way::Outside) > of(&open, Way::Outside), "{open:?}");
        assert!(of(&open, Way::Both) > 1 && of(&open, Way::Both) < 200, "{:?}", open[0].days);
        assert!(open[0].sentence("plywood").contains("both sides"));
    }
}
