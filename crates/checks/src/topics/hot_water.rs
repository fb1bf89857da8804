//! Hot water: draw patterns, tanks, standing-loss classes, mains water by season.

use plant::draws::{Draw, heat_j};
use plant::mains::Mains;
use plant::tank::{
    Given, Tank, WATER_J_M3K, loss_from_cooldown, mixed_at_40, standing_loss_bound_w, time_between_s,
};

use crate::reference::{Data, Row, rows};
use crate::{Check, Kind, Tolerance};

const US: &str = include_str!("../../../../reference/plant/draw_patterns_us.csv");
const EU: &str = include_str!("../../../../reference/plant/draw_patterns_eu.csv");
const HOT_WATER: &str = include_str!("../../../../reference/plant/hot_water.toml");
const TANKS: &str = include_str!("../../../../reference/plant/tank_cases.toml");
const MAINS: &str = include_str!("../../../../reference/plant/mains_water_temperature.csv");
const TOLERANCES: &str = include_str!("../../../../reference/plant/tolerances.toml");

const KWH: f64 = 3.6e6;
const LITRES_A_GALLON: f64 = 3.785_411_784;

pub(crate) fn checks() -> Vec<Check> {
    let mut all = draw_patterns();
    all.extend(tanks());
    all.extend(classes());
    all.extend(mains());
    all
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    kind: Kind,
    source: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        topic: match id.split('.').next() {
            Some("draws") => "Hot water drawn",
            Some("tank") => "Hot water tanks",
            Some("mains") => "Cold water by season",
            _ => "Standing losses",
        },
        id: format!("hot-water.{id}"),
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(Data::read(TOLERANCES).number("closed_form")),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}

fn us_draws(pattern: &str) -> Vec<Draw> {
    let of = |r: &Row| Draw {
        minute: r.number("start_min"),
        volume_m3: r.number("volume_gal") * LITRES_A_GALLON * 1e-3,
        flow_m3_s: r.number("flow_gpm") * LITRES_A_GALLON * 1e-3 / 60.0,
    };
    rows(US).iter().filter(|r| r.text("pattern") == pattern).map(of).collect()
}

/// Taps whose energy the profile states: volume behind it at a useful rise above 10 °C.
fn eu_draws(profile: &str) -> Vec<Draw> {
    let of = |r: &Row| {
        let peak = r.number("T_p_C");
        let useful = if peak.is_finite() { peak } else { r.number("T_m_C").max(40.0) };
        Draw {
            minute: r.number("start_min"),
            volume_m3: r.number("Q_tap_kWh") * KWH / WATER_J_M3K / (useful - 10.0),
            flow_m3_s: r.number("f_L_min") * 1e-3 / 60.0,
        }
    };
    rows(EU).iter().filter(|r| r.text("profile") == profile).map(of).collect()
}

fn draw_patterns() -> Vec<Check> {
    let data = Data::read(HOT_WATER);
    let source = "10 CFR 430 Subpart B Appendix E, from memory";
    let mut all = Vec::new();
    for pattern in ["very_small", "low", "medium", "high"] {
        let words = pattern.replace('_', " ");
        all.push(check(
            format!("draws.{pattern}.volume"),
            format!("volume of the {words} day"),
            "gal",
            data.number(&format!("us_uniform_energy_factor.totals_gal.{pattern}")),
            Kind::PublishedMemory,
            source,
            move |nudge| {
                let sum: f64 = us_draws(pattern).iter().map(|d| d.volume_m3).sum();
                Ok(sum * nudge * 1e3 / LITRES_A_GALLON)
            },
        ));
        let cases = data.list("us_uniform_energy_factor.energy_case");
        let Some(case) = cases.into_iter().find(|c| c.text("pattern") == pattern) else { continue };
        let (cold, hot) = (
            data.number("us_uniform_energy_factor.inlet_C"),
            data.number("us_uniform_energy_factor.setpoint_C"),
        );
        all.push(check(
            format!("draws.{pattern}.heat"),
            format!("heat of the {words} day"),
            "kWh",
            case.number("Q_delivered_kWh_rho0988_cp4183"),
            Kind::ClosedForm,
            "volume, 988 kg/m³, 4183 J/(kg·K), 58 to 125 °F",
            move |nudge| Ok(heat_j(&us_draws(pattern), cold, hot * nudge) / KWH),
        ));
        for (key, factor) in [("E_at_UEF_0_92_kWh", 0.92), ("E_at_UEF_3_5_kWh", 3.5)] {
            all.push(check(
                format!("draws.{pattern}.factor-{factor}"),
                format!("energy of the {words} day at a uniform energy factor of {factor}"),
                "kWh",
                case.number(key),
                Kind::ClosedForm,
                "heat over factor",
                move |nudge| Ok(heat_j(&us_draws(pattern), cold, hot) / KWH / (factor * nudge)),
            ));
        }
    }
    for profile in ["S", "M", "L", "XL"] {
        all.push(check(
            format!("draws.{profile}"),
            format!("heat of tapping profile {profile}"),
            "kWh",
            data.number(&format!("eu_load_profiles.totals_kWh.{profile}")),
            Kind::PublishedMemory,
            "(EU) 812/2013 Annex VII, from memory",
            move |nudge| {
                // Each tap's volume at its own rise carries its energy.
                let energy = |d: &Draw, r: &Row| {
                    let peak = r.number("T_p_C");
                    let useful = if peak.is_finite() { peak } else { r.number("T_m_C").max(40.0) };
                    heat_j(&[*d], 10.0, useful) / KWH
                };
                let table: Vec<Row> = rows(EU).into_iter().filter(|r| r.text("profile") == profile).collect();
                Ok(nudge * eu_draws(profile).iter().zip(&table).map(|(d, r)| energy(d, r)).sum::<f64>())
            },
        ));
    }
    all
}

fn case(name: &str) -> Data {
    let found = Data::read(TANKS).list("case").into_iter().find(|c| c.text("name") == name);
    found.unwrap_or_else(|| Data::read(""))
}

fn tank(volume: f64, loss: f64, nodes: usize, start: f64) -> Result<Tank, String> {
    Ok(Tank::new(volume, 1.2, loss, nodes, start).map_err(|e| e.to_string())?.without_conduction())
}

/// Runs steps of one length; returns the tank, heat drawn and heat lost, kWh.
fn steps(mut tank: Tank, given: &Given, count: usize) -> Result<(Tank, f64, f64), String> {
    let (mut drawn, mut lost) = (0.0, 0.0);
    for _ in 0..count {
        let s = tank.step(given).map_err(|e| e.to_string())?;
        drawn += s.drawn_j / KWH;
        lost += s.lost_j / KWH;
    }
    Ok((tank, drawn, lost))
}

fn cooldown(nudge: f64) -> Result<(f64, f64), String> {
    let c = case("t01_cooldown");
    let given = Given { step_s: 60.0, around_c: c.number("T_amb_C"), ..Given::default() };
    let t = tank(c.number("V_m3"), c.number("UA_W_K") * nudge, 1, c.number("T0_C"))?;
    let (t, _, lost) = steps(t, &given, 1440)?;
    Ok((t.mean_c(), lost))
}

fn one_second_draw(c: &Data) -> Given {
    Given {
        step_s: 1.0,
        draw_m3: c.number("draw_L_min") * 1e-3 / 60.0,
        cold_c: c.number("T_in_C"),
        around_c: c.number("T_amb_C"),
        ..Given::default()
    }
}

fn mixed_draw(nudge: f64) -> Result<(Tank, f64, f64), String> {
    let c = case("t02_draw_mixed");
    let mut given = one_second_draw(&c);
    given.draw_m3 *= nudge;
    let t = tank(c.number("V_m3"), c.number("UA_W_K"), 1, c.number("T0_C"))?;
    steps(t, &given, c.number("draw_s") as usize)
}

fn two_nodes(nudge: f64) -> Result<Tank, String> {
    let c = case("t05_two_node");
    let mut given = one_second_draw(&c);
    given.draw_m3 *= nudge;
    let mut t = tank(2.0 * c.number("V_node_m3"), 2.0 * c.number("UA_node_W_K"), 2, 0.0)?;
    t.nodes_c = vec![c.number("T0_bottom_C"), c.number("T0_top_C")];
    Ok(steps(t, &given, c.number("draw_s") as usize)?.0)
}

/// Times to cool and to heat between the thermostat's limits, s.
fn cycle(nudge: f64) -> Result<(f64, f64), String> {
    let c = case("t04_hysteresis");
    let of = |power: f64, from: &str, to: &str| {
        time_between_s(
            c.number("V_m3"),
            c.number("UA_W_K"),
            c.number("T_amb_C"),
            power * nudge,
            c.number(from),
            c.number(to),
        )
        .ok_or_else(|| "never".to_owned())
    };
    Ok((of(0.0, "T_off_C", "T_on_C")?, of(c.number("P_W"), "T_on_C", "T_off_C")?))
}

fn tanks() -> Vec<Check> {
    let tolerances = Data::read(TOLERANCES);
    let (first_order, cooled, energy) = (
        Tolerance::Absolute(tolerances.number("tank_first_order_k")),
        Tolerance::Absolute(tolerances.number("tank_cooldown_k")),
        Tolerance::Relative(tolerances.number("tank_energy")),
    );
    let closed = "closed form of a mixed tank";
    let make = |id: &str,
                words: &str,
                unit,
                reference: f64,
                tolerance: Option<Tolerance>,
                compute: fn(f64) -> Result<f64, String>| {
        let base =
            check(format!("tank.{id}"), words.to_owned(), unit, reference, Kind::ClosedForm, closed, compute);
        Check { tolerance: tolerance.unwrap_or(base.tolerance), ..base }
    };
    let n = |name: &str, key: &str| case(name).number(key);
    vec![
        make(
            "cooldown",
            "tank after a day without draw",
            "°C",
            n("t01_cooldown", "T_24h_C"),
            Some(cooled),
            |f| Ok(cooldown(f)?.0),
        ),
        make(
            "cooldown-loss",
            "heat lost in that day",
            "kWh",
            n("t01_cooldown", "loss_24h_kWh"),
            Some(energy),
            |f| Ok(cooldown(f)?.1),
        ),
        make(
            "draw",
            "mixed tank after ten minutes of draw",
            "°C",
            n("t02_draw_mixed", "T_end_C"),
            Some(first_order),
            |f| Ok(mixed_draw(f)?.0.mean_c()),
        ),
        make(
            "draw-heat",
            "heat drawn in them",
            "kWh",
            n("t02_draw_mixed", "E_drawn_kWh"),
            Some(energy),
            |f| Ok(mixed_draw(f)?.1),
        ),
        make("draw-loss", "heat lost in them", "kWh", n("t02_draw_mixed", "E_loss_kWh"), Some(energy), |f| {
            let c = case("t02_draw_mixed");
            let t = tank(c.number("V_m3"), c.number("UA_W_K") * f, 1, c.number("T0_C"))?;
            Ok(steps(t, &one_second_draw(&c), c.number("draw_s") as usize)?.2)
        }),
        make("heat-up", "time to warm a tank by 10 K", "s", n("t03_heatup", "time_s"), None, |f| {
            let c = case("t03_heatup");
            let of = |k: &str| c.number(k);
            time_between_s(
                of("V_m3"),
                of("UA_W_K"),
                of("T_amb_C"),
                of("P_W") * f,
                of("T0_C"),
                of("T_target_C"),
            )
            .ok_or_else(|| "never".to_owned())
        }),
        make("cycle-off", "time between firings", "h", n("t04_hysteresis", "t_off_h"), None, |f| {
            let c = case("t04_hysteresis");
            let of = |k: &str| c.number(k);
            time_between_s(of("V_m3"), of("UA_W_K") * f, of("T_amb_C"), 0.0, of("T_off_C"), of("T_on_C"))
                .map(|s| s / 3600.0)
                .ok_or_else(|| "never".to_owned())
        }),
        make("cycle-on", "time a firing takes", "h", n("t04_hysteresis", "t_on_h"), None, |f| {
            Ok(cycle(f)?.1 / 3600.0)
        }),
        make(
            "cycle-power",
            "mean power of a tank kept by a thermostat",
            "W",
            n("t04_hysteresis", "mean_power_W"),
            None,
            |f| {
                let (off, on) = cycle(f)?;
                Ok(case("t04_hysteresis").number("P_W") * f * on / (on + off))
            },
        ),
        make(
            "two-nodes-top",
            "upper of two nodes after ten minutes of draw",
            "°C",
            n("t05_two_node", "T_top_end_C"),
            Some(first_order),
            |f| Ok(two_nodes(f)?.top_c()),
        ),
        make(
            "two-nodes-bottom",
            "lower of two nodes after ten minutes of draw",
            "°C",
            n("t05_two_node", "T_bottom_end_C"),
            Some(first_order),
            |f| Ok(two_nodes(f)?.nodes_c[0]),
        ),
        make("mixed-at-40", "water at 40 °C from a tank", "L", n("t06_v40", "V40_L"), None, |f| {
            let c = case("t06_v40");
            Ok(mixed_at_40(c.number("V_L"), c.number("T_hot_C") * f, c.number("T_cold_C")))
        }),
        make(
            "loss-from-cooldown",
            "loss told from a cool-down",
            "W/K",
            n("t08_UA_from_cooldown", "UA_W_K"),
            None,
            |f| {
                let c = case("t08_UA_from_cooldown");
                let of = |k: &str| c.number(k);
                Ok(loss_from_cooldown(
                    of("V_m3"),
                    of("T0_C"),
                    of("T1_C"),
                    of("T_amb_C"),
                    of("hours") * 3600.0 * f,
                ))
            },
        ),
        make(
            "daily-balance",
            "electricity of a day's water by a heat pump",
            "kWh",
            n("t07_daily_balance", "E_el_kWh"),
            Some(energy),
            daily_balance,
        ),
    ]
}

/// A day at steady mean temperature: a mixed tank held by a heater against draw and loss, in short steps.
fn daily_balance(nudge: f64) -> Result<f64, String> {
    let c = case("t07_daily_balance");
    let (mean, around) = (c.number("T_mean_C"), c.number("T_amb_C"));
    // A tank so big that a day's cycle does not move its temperature.
    let mut t = tank(900.0, c.number("UA_W_K") * nudge, 1, mean)?;
    let heat_w = c.number("Q_draw_kWh") * KWH / 86_400.0;
    let draw_m3 = heat_w * 60.0 / WATER_J_M3K / (mean - 10.0);
    let given = Given { step_s: 60.0, draw_m3, cold_c: 10.0, around_c: around, ..Given::default() };
    let (mut drawn, mut lost) = (0.0, 0.0);
    for _ in 0..1440 {
        let s = t.step(&given).map_err(|e| e.to_string())?;
        drawn += s.drawn_j;
        lost += s.lost_j;
    }
    Ok((drawn + lost) / KWH / c.number("COP"))
}

fn classes() -> Vec<Check> {
    let mut all = Vec::new();
    for case in Data::read(HOT_WATER).list("standing_loss_classes_812_2013.case") {
        let volume = case.number("V_L");
        for (key, class) in [("A_plus", "A+"), ("A", "A"), ("B", "B"), ("C", "C")] {
            all.push(check(
                format!("standing-loss.{class}.{volume}"),
                format!("bound of class {class} at {volume} L"),
                "W",
                case.number(key),
                Kind::PublishedMemory,
                "(EU) 812/2013, standing-loss classes, from memory",
                move |nudge| {
                    standing_loss_bound_w(class, volume * nudge).ok_or_else(|| "no class".to_owned())
                },
            ));
        }
    }
    all
}

fn mains() -> Vec<Check> {
    let of = |r: Row| {
        let (mean, swing, day) =
            (r.number("T_air_annual_mean_C"), r.number("max_diff_monthly_means_K"), r.number("day"));
        check(
            format!("mains.{}.{day}", r.text("climate")),
            format!("mains water, {} climate, day {day}", r.text("climate")),
            "°C",
            r.number("T_mains_C"),
            Kind::PublishedMemory,
            "Burch and Christensen 2007; offset and swing seen in the abstract, coefficients from memory",
            move |nudge| Ok(Mains::new(mean * nudge, swing).on_day_c(day)),
        )
    };
    // Every third row: all climates and seasons appear.
    rows(MAINS).into_iter().step_by(3).map(of).collect()
}
