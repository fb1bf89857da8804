//! A year of each machine by the hour (or quarter-hour), one call a step.
#![allow(missing_docs)]

use plant::heat_pump::{Figures, HeatPump, Limits, Mode, RatedPoint, SecondLaw};
use plant::tank::Tank;
use plant::water_heater::{HeaterInput, SourceAir, WaterHeater};

fn main() {
    divan::main();
}

fn machine() -> HeatPump {
    let point = RatedPoint { outdoor_c: 7.0, indoor_c: 20.0, capacity_w: 3200.0, power_w: 740.0 };
    let figures = match SecondLaw::fit(Mode::Heating, &[point]) {
        Ok(law) => Figures::Law(law),
        Err(_) => Figures::Even { ratio: 3.0, capacity_w: 3200.0 },
    };
    HeatPump { mode: Mode::Heating, figures, limits: Limits::default() }
}

/// 8 760 states of a heat pump.
#[divan::bench]
fn heat_pump_year(bencher: divan::Bencher) {
    let machine = machine();
    bencher.bench(|| {
        (0..8760)
            .map(|h| machine.meet(f64::from(h % 3000), f64::from(h % 30) - 10.0, 20.0, 1.0).power_w)
            .sum::<f64>()
    });
}

/// 35 040 steps of a nine-node water heater.
#[divan::bench]
fn water_heater_year(bencher: divan::Bencher) {
    bencher.bench(|| {
        let Ok(tank) = Tank::new(0.19, 1.3, 1.3, 9, 50.0) else { return 0.0 };
        let mut heater = WaterHeater::new(tank, Some(machine()), 2000.0, 52.0);
        let source = SourceAir { temperature_c: 20.0, kg_kg: 0.008, pressure_pa: 101_325.0 };
        let mut sum = 0.0;
        for q in 0..35_040 {
            let draw_m3 = if q % 96 < 4 { 0.02 } else { 0.0 };
            let input =
                HeaterInput { step_s: 900.0, draw_m3, cold_c: 12.0, use_c: 40.0, around_c: 20.0, source };
            sum += heater.step(&input).map_or(0.0, |s| s.machine_j);
        }
        sum
    });
}
