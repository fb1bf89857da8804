//! Time of what every run prepares once: reading the year, the sun of a year, its light on planes, shaded windows.
//! Sizes are named in each benchmark. Run with `cargo bench -p climate`.

use climate::shade::{Overhang, Shades};
use climate::sun::SunYear;
use climate::tilted::{self, Plane};

fn main() {
    divan::main();
}

/// 8 760 rows of 71 columns.
#[divan::bench]
fn read_tmy3() -> climate::Climate {
    climate::demo_year()
}

/// 35 040 directions.
#[divan::bench]
fn sun_quarter_hours(bencher: divan::Bencher) {
    let year = climate::demo_year();
    bencher.bench(|| SunYear::new(&year.place, 4));
}

/// 35 040 steps on six planes.
#[divan::bench]
fn tilted_six_planes_quarter_hours(bencher: divan::Bencher) {
    let year = climate::demo_year();
    let mut planes =
        vec![Plane { tilt_deg: 2.4, azimuth_deg: 168.0 }, Plane { tilt_deg: 45.0, azimuth_deg: 168.0 }];
    planes.extend([78.0, 168.0, 258.0, 348.0].map(|azimuth_deg| Plane { tilt_deg: 90.0, azimuth_deg }));
    bencher.bench(|| tilted::year(&year, &planes, 4));
}

/// One window with reveal and overhang, every quarter hour with the sun before it.
#[divan::bench]
fn one_shaded_window_quarter_hours(bencher: divan::Bencher) {
    let year = climate::demo_year();
    let sun = SunYear::new(&year.place, 4);
    let mut shades = Shades::reveal(1.22, 1.98, 0.2);
    shades.overhang = Some(Overhang { depth_m: 0.6, gap_m: 0.1, left_m: 0.5, right_m: 0.5 });
    bencher
        .bench(|| sun.directions.iter().filter(|d| d.up > 0.0).map(|d| shades.sunlit(d, 168.0)).sum::<f64>());
}

/// The sky and ground shares of one window.
#[divan::bench]
fn sky_share(bencher: divan::Bencher) {
    let shades = Shades::reveal(1.22, 1.98, 0.2);
    bencher.bench(|| shades.sky_share());
}
