//! Samples' years say what told years say, limit by limit.

mod support;

use building::limits;
use support::House;
use year::judge::Sizes;
use year::sampled::Kept;
use year::{Frame, Grain, Known, Use, YearOptions, Years};

#[test]
fn a_sample_is_judged_as_a_told_year() {
    let building = House::USUAL.building();
    let climate = climate::demo_year();
    let frame = |of| Frame::new(&building, &climate, of, Grain::Limits, &YearOptions::default()).unwrap();
    let (standard, real) = (frame(Use::Standard), frame(Use::Real));
    let nominal = building.values.nominal();
    let told = (standard.year(&nominal).unwrap(), real.year(&nominal).unwrap());
    let set = limits::built_in("new-build").unwrap();
    let years = Years { standard: &told.0, real: &told.1 };
    let judged = year::judge(&building, &climate, &nominal, years, &Known::default(), &set);
    let sizes = Sizes::of(&building);
    let leak = nominal[building.airtightness.expected] * sizes.count("").unwrap().volume_m3;
    let sample = standard.sampled(&Kept::new(&standard), std::slice::from_ref(&nominal), 8).unwrap()[0];
    let mut compared = 0;
    for row in &judged.rows {
        let (Some(told), Some(found)) = (row.value, sizes.result(&row.limit, &nominal, &sample, leak)) else {
            continue;
        };
        compared += 1;
        assert!((found - told).abs() <= 1e-9 * told.abs(), "{}: {found} {told}", row.limit.id);
    }
    assert!(compared >= 8, "{compared}");
}
