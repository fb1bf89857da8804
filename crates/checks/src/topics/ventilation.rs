//! Required outdoor air, infiltration models, infection estimates: published equations worked on stated cases.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use air::infection::{self, Exposure};
use air::infiltration::{
    EnhancedModel, Shielding, Superposition, basic_model_m3_s, design_infiltration_m3_h, enhanced_model,
    excess_infiltration_per_h,
};
use air::outdoor_air::{
    Category, MixedZone, Pollution, breathing_zone_l_s, dwelling_l_s, intake_by_zone, intake_simplified,
    perceived_quality_l_s,
};

const EXAMPLES: &str = include_str!("../../../../reference/air/ventilation_examples.toml");
const INFILTRATION: &str = include_str!("../../../../reference/air/infiltration.toml");
const INFECTION: &str = include_str!("../../../../reference/air/wells_riley.toml");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = outdoor_air();
    checks.extend(infiltration());
    checks.extend(infection());
    checks
}

/// What all checks of this file share: arithmetic on a published equation, so round-off is the tolerance.
fn arithmetic(
    id: String,
    topic: &'static str,
    quantity: String,
    unit: &'static str,
    reference: f64,
    source: &str,
    compute: impl Fn(f64) -> f64 + Send + Sync + 'static,
) -> Check {
    Check {
        id,
        topic,
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(1e-12),
        kind: Kind::PublishedMemory,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| Ok(compute(nudge))) as Compute,
    }
}

fn outdoor_air() -> Vec<Check> {
    const TOPIC: &str = "Outdoor air";
    let data = Data::read(EXAMPLES);
    let mut checks = Vec::new();
    let system = data.at("vrp_multizone");
    let standard = "ANSI/ASHRAE 62.1-2019 clause 6.2 and Appendix A, from memory; case derived";
    for (key, by_zone) in [("Vot_simplified_L_s", false), ("Vot_appendixA_L_s", true)] {
        let s = system.clone();
        let how = if by_zone { "zone by zone" } else { "simplified" };
        checks.push(arithmetic(
            format!("outdoor-air.system.{}", how.replace(' ', "-")),
            TOPIC,
            format!("outdoor air at the intake of a four-zone system, {how}"),
            "L/s",
            s.number(key),
            standard,
            move |nudge| {
                let zones = mixed_zones(&s, nudge);
                if by_zone {
                    intake_by_zone(&zones, s.number("D"), s.number("Vps_L_s")).intake_l_s
                } else {
                    intake_simplified(&zones, s.number("D")).intake_l_s
                }
            },
        ));
    }
    let seen = data.at("vrp_single_zone_seen.0");
    checks.push(Check {
        kind: Kind::PublishedSeen,
        seen: true,
        ..arithmetic(
            "outdoor-air.office".to_owned(),
            TOPIC,
            "breathing-zone outdoor air of an office, 8 people on 100 m²".to_owned(),
            "L/s",
            seen.number("Vbz_L_s"),
            "explanatory page on ANSI/ASHRAE 62.1-2022, seen second-hand",
            move |nudge| {
                breathing_zone_l_s(
                    seen.number("Rp"),
                    seen.number("persons") * nudge,
                    seen.number("Ra"),
                    seen.number("A_m2"),
                )
            },
        )
    });
    let quality = data.at("en16798_1_method1");
    for case in quality.list("cases").into_iter().filter(|c| c.text("space") == "rehearsal") {
        let category = match case.text("category").as_str() {
            "I" => Category::I,
            "II" => Category::II,
            "III" => Category::III,
            _ => Category::IV,
        };
        checks.push(arithmetic(
            format!("outdoor-air.en16798.{}", case.text("category")),
            TOPIC,
            format!(
                "design outdoor air of a rehearsal room, category {}, low polluting",
                case.text("category")
            ),
            "L/s",
            case.number("q_low_L_s"),
            "EN 16798-1:2019 method 1, Annex B defaults, from memory",
            move |nudge| {
                perceived_quality_l_s(
                    category,
                    Pollution::Low,
                    case.number("persons") * nudge,
                    case.number("area_m2"),
                )
            },
        ));
    }
    let dwelling = data.at("ashrae_62_2.cases.0");
    checks.push(arithmetic(
        "outdoor-air.dwelling".to_owned(),
        TOPIC,
        "whole-dwelling outdoor air, 150 m², 3 bedrooms".to_owned(),
        "L/s",
        dwelling.number("Qtot_L_s"),
        "ANSI/ASHRAE 62.2, formula seen second-hand",
        move |nudge| dwelling_l_s(dwelling.number("A_floor_m2") * nudge, dwelling.number("bedrooms")),
    ));
    checks
}

fn mixed_zones(system: &Data, nudge: f64) -> Vec<MixedZone> {
    let read = |z: &Data| MixedZone {
        breathing_l_s: z.number("Rp") * z.number("Pz") + z.number("Ra") * z.number("Az_m2"),
        effectiveness: z.number("Ez"),
        primary_l_s: z.number("Vpz_min_L_s"),
        people_part_l_s: z.number("Rp") * z.number("Pz"),
        area_part_l_s: z.number("Ra") * z.number("Az_m2") * nudge,
    };
    system.list("zones").iter().map(read).collect()
}

fn infiltration() -> Vec<Check> {
    const TOPIC: &str = "Infiltration";
    let data = Data::read(INFILTRATION);
    let mut checks = Vec::new();
    let basic = data.at("lbl_basic");
    for case in basic.list("cases") {
        let (storeys, shelter) = (case.number("storeys") as usize, case.number("shelter_class") as usize);
        let stack = basic.numbers("C_s_by_storeys")[storeys - 1];
        let wind = basic.numbers(&format!("C_w_storeys{storeys}_class1to5"))[shelter - 1];
        checks.push(arithmetic(
            format!("infiltration.basic.{}", case.text("name").replace('_', "-")),
            TOPIC,
            format!("flow by the basic leakage-area model, {}", case.text("name").replace('_', " ")),
            "m³/s",
            case.number("Q_m3_s"),
            "Sherman and Grimsrud 1980; ASHRAE Fundamentals 2005 ch. 27, from memory",
            move |nudge| {
                basic_model_m3_s(
                    case.number("A_L_cm2") * nudge,
                    stack,
                    wind,
                    case.number("dT_K"),
                    case.number("U_m_s"),
                )
            },
        ));
    }
    for case in data.list("aim2.cases") {
        for (key, how) in [
            ("Q_quadrature_m3_s", Superposition::Quadrature),
            ("Q_walker_wilson_m3_s", Superposition::Original),
        ] {
            let c = case.clone();
            checks.push(arithmetic(
                format!("infiltration.enhanced.{}.{how:?}", case.text("name").replace('_', "-"))
                    .to_lowercase(),
                TOPIC,
                format!("flow by the enhanced model, {}, {how:?}", case.text("name").replace('_', " ")),
                "m³/s",
                case.number(key),
                "Walker and Wilson 1998, from memory",
                move |nudge| {
                    let model = EnhancedModel {
                        coefficient_m3_s: c.number("c_m3_s_Pan") * nudge,
                        exponent: c.number("n"),
                        stack: c.number("C_s"),
                        wind: c.number("C_w"),
                        shelter: c.number("s"),
                    };
                    enhanced_model(model, c.number("dT_K"), c.number("U_local_m_s"), how)
                },
            ));
        }
    }
    for (i, case) in data.list("iso13789_annexC.cases").into_iter().enumerate() {
        let shielding = match case.number("e") {
            e if e > 0.09 => Shielding::Open,
            e if e > 0.05 => Shielding::Moderate,
            _ => Shielding::Heavy,
        };
        checks.push(arithmetic(
            format!("infiltration.excess.{}", i + 1),
            TOPIC,
            format!("air change by leaks beside ventilation, case {}", i + 1),
            "1/h",
            case.number("n_x_per_h"),
            "EN ISO 13789 Annex C, from memory",
            move |nudge| {
                excess_infiltration_per_h(
                    case.number("n50") * nudge,
                    shielding,
                    true,
                    case.number("q_sup_m3h"),
                    case.number("q_ext_m3h"),
                    case.number("V_m3"),
                )
            },
        ));
    }
    let design = data.at("en12831_2003.example");
    checks.push(arithmetic(
        "infiltration.design".to_owned(),
        TOPIC,
        "design infiltration of a heated room".to_owned(),
        "m³/h",
        design.number("V_inf_m3h"),
        "EN 12831:2003, from memory",
        move |nudge| {
            design_infiltration_m3_h(
                design.number("V_m3") * nudge,
                design.number("n50"),
                design.number("e"),
                design.number("eps"),
            )
        },
    ));
    checks
}

fn infection() -> Vec<Check> {
    let source = "Riley 1978, Rudnick and Milton 2003; equations from memory, cases derived";
    let mut checks = Vec::new();
    for case in Data::read(INFECTION).list("case") {
        for (key, clean) in [("P_steady", false), ("P_buildup_from_zero", true)] {
            let c = case.clone();
            let start = if clean { "from clean air" } else { "steady" };
            checks.push(arithmetic(
                format!("infection.{}.{}", case.text("name"), start.replace(' ', "-")).replace('_', "-"),
                "Infection estimate",
                format!("infection probability, {}, {start}", case.text("name").replace('_', " ")),
                "–",
                case.number(key),
                source,
                move |nudge| {
                    let e = Exposure {
                        infectors: c.number("infectors"),
                        quanta_per_h: c.number("quanta_per_h") * nudge,
                        breathing_m3_h: c.number("breathing_m3h"),
                        time_h: c.number("t_h"),
                        flow_m3_h: c.number("Q_m3h"),
                        volume_m3: c.number("V_m3"),
                    };
                    if clean { infection::from_clean_air(e) } else { infection::steady(e) }
                },
            ));
        }
    }
    checks
}
