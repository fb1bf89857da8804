use super::*;
use crate::leakage::PowerLaw;
use crate::wind::{Beyond, FacadeLeak, Face, PartyLeak, Plan, Shelter, Terrain};
use numeric::counter::Stream;

/// Two storeys joined by a stair, and a neighbour below.
fn plan(factor: f64) -> Plan {
    let mut facades = Vec::new();
    for (zone, base) in [(0, 0.0), (1, 3.6)] {
        for (azimuth, flow) in [(168.0, 60.0), (348.0, 75.0), (78.0, 35.0), (258.0, 45.0)] {
            facades.push(FacadeLeak {
                zone,
                face: Face::Wall(azimuth),
                leak: PowerLaw::through(factor * flow, 50.0, 0.65),
                height_m: base + 1.5,
                spread_m: 3.0,
            });
        }
    }
    facades.push(FacadeLeak {
        zone: 1,
        face: Face::Roof,
        leak: PowerLaw::through(factor * 120.0, 50.0, 0.65),
        height_m: 7.2,
        spread_m: 0.0,
    });
    let party = |beyond, flow: f64, zone, height_m| PartyLeak {
        zone,
        beyond,
        leak: PowerLaw::through(factor * flow, 50.0, 0.6),
        height_m,
    };
    Plan {
        zones: 2,
        neighbours: 1,
        facades,
        parties: vec![party(Beyond::Zone(1), 900.0, 0, 3.4), party(Beyond::Neighbour(0), 219.0, 0, 0.0)],
        eaves_m: 8.0,
        terrain: Terrain::Urban,
        shelter: Shelter::HalfHeight,
    }
}

fn modes() -> Vec<Vec<f64>> {
    vec![vec![0.0, 0.0], vec![-10.0, -25.0], vec![15.0, -40.0]]
}

fn fast() -> Fast {
    Fast { inside_c: 20.0, neighbours: vec![(0.0, 20.0)], barometer_pa: 98_800.0 }
}

/// A made-up year: a yearly and a daily swing with noise, gusty wind from changing directions, modes by the hour.
fn year() -> Vec<Hour> {
    let s = Stream::new(5, "year");
    let turn = 2.0 * std::f64::consts::PI;
    (0..8760u64)
        .map(|h| {
            let day = h as f64 / 24.0;
            let outside_c = 14.0
                - 11.0 * numeric::scalar::cos(turn * day / 365.0)
                - 4.0 * numeric::scalar::cos(turn * day)
                + 3.0 * s.normal(3 * h);
            // Weibull with shape 2: most hours light, some strong.
            let wind_m_s = 3.5 * (-numeric::ln(s.uniform(3 * h + 1))).sqrt();
            let from_deg = 360.0 * s.uniform(3 * h + 2);
            let mode = match h % 24 {
                9..=19 => 1,
                20..=21 => 2,
                _ => 0,
            };
            Hour { wind_m_s, from_deg, outside_c, mode }
        })
        .collect()
}

#[test]
fn the_years_heat_is_within_two_per_cent() {
    let mut air = Air::new(plan(1.0)).unwrap();
    let table = Response::new(&mut air, &modes(), &fast()).unwrap();
    let (by_table, direct) = heat_compared_j(&table, &mut air, &fast(), &modes(), &year()).unwrap();
    assert!((by_table / direct - 1.0).abs() < 0.02, "{by_table} {direct}");
}

#[test]
fn a_sample_with_other_leaks_is_followed() {
    let mut nominal = Air::new(plan(1.0)).unwrap();
    let table = Response::new(&mut nominal, &modes(), &fast()).unwrap();
    for factor in [0.5, 0.8, 1.5] {
        let mut air = Air::new(plan(factor)).unwrap();
        let (mut a, mut b) = (0.0, 0.0);
        for hour in year().iter().step_by(37) {
            let difference = 20.0 - hour.outside_c;
            let moment = Moment {
                wind_m_s: hour.wind_m_s,
                from_deg: hour.from_deg,
                outside_c: hour.outside_c,
                zones_c: vec![20.0; 2],
                neighbours: fast().neighbours,
                surplus_m3_h: modes()[hour.mode].clone(),
                barometer_pa: 98_800.0,
            };
            let direct = air.at(&moment).unwrap();
            for zone in 0..2 {
                let at = table.at(hour.mode, zone, hour.wind_m_s, hour.from_deg, difference, factor).unwrap();
                a += at.from_outside_kg_s * difference.max(0.0);
                b += direct[zone].from_outside_kg_s * difference.max(0.0);
            }
        }
        assert!((a / b - 1.0).abs() < 0.02, "factor {factor}: {a} {b}");
    }
}

#[test]
fn grid_points_are_exact_and_unknown_modes_are_none() {
    let mut air = Air::new(plan(1.0)).unwrap();
    let table = Response::new(&mut air, &modes(), &fast()).unwrap();
    let moment = Moment {
        wind_m_s: 4.0,
        from_deg: 90.0,
        outside_c: 4.0,
        zones_c: vec![20.0; 2],
        neighbours: fast().neighbours,
        surplus_m3_h: modes()[1].clone(),
        barometer_pa: 98_800.0,
    };
    let direct = air.at(&moment).unwrap();
    let at = table.at(1, 1, 4.0, 90.0, 16.0, 1.0).unwrap();
    assert!((at.from_outside_kg_s - direct[1].from_outside_kg_s).abs() < 1e-8);
    assert!(table.at(9, 0, 1.0, 0.0, 0.0, 1.0).is_none() && table.at(0, 0, 1.0, 0.0, 0.0, 0.0).is_none());
}
