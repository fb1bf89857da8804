//! Outdoor air required by published methods.
//!
//! Each answer names its terms so that the working can be shown. Space rates are data of the caller
//! (see [`SpaceRate`] and [`rate_for`]), since editions differ. Flows here are L/s, areas m², as the tables print them.

/// Outdoor-air rate of a kind of space: per person and per floor area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpaceRate {
    /// Kind of space, as the table names it.
    pub space: &'static str,
    /// Per person, L/s.
    pub person_l_s: f64,
    /// Per floor area, L/(s·m²).
    pub area_l_s_m2: f64,
    /// Default occupants per 100 m²; `None` where the table has none.
    pub density_per_100_m2: Option<f64>,
    /// How far the row was read in its source.
    pub status: &'static str,
}

const SEEN: &str = "rate seen second-hand; density from memory";
const MEMORY: &str = "from memory";

/// Space rates of ANSI/ASHRAE 62.1-2019 Table 6-1 (SI). Check the edition your code official uses.
pub const SPACE_RATES: &[SpaceRate] = &[
    row("office", 2.5, 0.3, 5.0, SEEN),
    row("meeting", 2.5, 0.3, 50.0, SEEN),
    row("corridor", 0.0, 0.3, 0.0, MEMORY),
    row("lobby", 2.5, 0.3, 10.0, MEMORY),
    row("storage", 2.5, 0.3, 0.0, MEMORY),
    row("classroom", 5.0, 0.6, 35.0, SEEN),
    row("lecture hall", 3.8, 0.3, 150.0, SEEN),
    row("music, theatre and dance", 5.0, 0.3, 35.0, SEEN),
    row("assembly, multi-use", 3.8, 0.3, 100.0, SEEN),
    row("kitchenette", 2.5, 0.3, 0.0, MEMORY),
    row("dwelling", 2.5, 0.3, 0.0, MEMORY),
];

const fn row(
    space: &'static str,
    person_l_s: f64,
    area_l_s_m2: f64,
    density: f64,
    status: &'static str,
) -> SpaceRate {
    let density_per_100_m2 = if density > 0.0 { Some(density) } else { None };
    SpaceRate { space, person_l_s, area_l_s_m2, density_per_100_m2, status }
}

/// Returns the rate of a kind of space by its name.
pub fn rate_for(space: &str) -> Option<&'static SpaceRate> {
    SPACE_RATES.iter().find(|rate| rate.space == space)
}

/// Returns the outdoor air a breathing zone needs, L/s: `V_bz = R_p·P + R_a·A`.
///
/// Source: ANSI/ASHRAE 62.1-2019 eq. 6-1, from memory.
pub fn breathing_zone_l_s(person_l_s: f64, people: f64, area_l_s_m2: f64, area_m2: f64) -> f64 {
    person_l_s * people + area_l_s_m2 * area_m2
}

/// Returns the people a breathing-zone flow serves, not rounded; negative when the area rate alone exceeds the flow.
pub fn people_served(flow_l_s: f64, person_l_s: f64, area_l_s_m2: f64, area_m2: f64) -> f64 {
    (flow_l_s - area_l_s_m2 * area_m2) / person_l_s
}

/// Returns the averaging time over which a short peak may be spread, h: `T = 3·V / V_bz`.
///
/// V in m³, V_bz in m³/h. Source: ANSI/ASHRAE 62.1 short-term conditions, from memory. A peak longer than T earns no
/// credit.
pub fn averaging_time_h(volume_m3: f64, breathing_zone_m3_h: f64) -> f64 {
    3.0 * volume_m3 / breathing_zone_m3_h
}

/// One zone of a system that mixes return air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixedZone {
    /// Outdoor air of the breathing zone, L/s.
    pub breathing_l_s: f64,
    /// Zone air-distribution effectiveness.
    pub effectiveness: f64,
    /// Least primary air of the zone, L/s.
    pub primary_l_s: f64,
    /// People and their per-person rate, for the uncorrected sum: `R_p·P`, L/s.
    pub people_part_l_s: f64,
    /// Area part `R_a·A`, L/s.
    pub area_part_l_s: f64,
}

/// Outdoor air of a multiple-zone recirculating system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SystemIntake {
    /// Uncorrected outdoor air, L/s.
    pub uncorrected_l_s: f64,
    /// System ventilation efficiency.
    pub efficiency: f64,
    /// Outdoor air at the intake, L/s.
    pub intake_l_s: f64,
}

/// Returns the intake by the simplified system efficiency: `0.88·D + 0.22` below D = 0.6, else 0.75.
///
/// Source: ANSI/ASHRAE 62.1-2019 clause 6.2.5, from memory. A supply of outdoor air only (a recovery unit) needs no
/// such correction: its zone flows simply add.
pub fn intake_simplified(zones: &[MixedZone], diversity: f64) -> SystemIntake {
    let uncorrected = uncorrected(zones, diversity);
    let efficiency = if diversity < 0.6 { 0.88 * diversity + 0.22 } else { 0.75 };
    SystemIntake { uncorrected_l_s: uncorrected, efficiency, intake_l_s: uncorrected / efficiency }
}

/// Returns the intake by the zone-by-zone efficiency of a single supply path: `E_v = min(1 + X_s − Z_pz)`.
///
/// `system_primary_l_s` is the system's primary air V_ps. Source: ANSI/ASHRAE 62.1-2019 Normative Appendix A, from
/// memory.
pub fn intake_by_zone(zones: &[MixedZone], diversity: f64, system_primary_l_s: f64) -> SystemIntake {
    let uncorrected = uncorrected(zones, diversity);
    let mean_share = uncorrected / system_primary_l_s;
    let efficiency = zones
        .iter()
        .map(|zone| 1.0 + mean_share - zone.breathing_l_s / zone.effectiveness / zone.primary_l_s)
        .fold(f64::INFINITY, f64::min);
    SystemIntake { uncorrected_l_s: uncorrected, efficiency, intake_l_s: uncorrected / efficiency }
}

fn uncorrected(zones: &[MixedZone], diversity: f64) -> f64 {
    zones.iter().map(|zone| diversity * zone.people_part_l_s + zone.area_part_l_s).sum()
}

/// Category of indoor environment in EN 16798-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Category {
    /// High expectation.
    I,
    /// Normal.
    II,
    /// Moderate.
    III,
    /// Low.
    IV,
}

/// How much the building itself pollutes the air, EN 16798-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pollution {
    /// Very low polluting.
    VeryLow,
    /// Low polluting.
    Low,
    /// Not low polluting.
    NotLow,
}

/// Returns the design outdoor air by perceived quality, L/s: `q = n·q_p + A·q_B`.
///
/// Source: EN 16798-1:2019 method 1, Annex B defaults, from memory.
pub fn perceived_quality_l_s(category: Category, pollution: Pollution, people: f64, area_m2: f64) -> f64 {
    let column = match category {
        Category::I => 0,
        Category::II => 1,
        Category::III => 2,
        Category::IV => 3,
    };
    let person = [10.0, 7.0, 4.0, 2.5][column];
    let area = match pollution {
        Pollution::VeryLow => [0.5, 0.35, 0.2, 0.15],
        Pollution::Low => [1.0, 0.7, 0.4, 0.3],
        Pollution::NotLow => [2.0, 1.4, 0.8, 0.6],
    }[column];
    people * person + area_m2 * area
}

/// Returns the whole-dwelling outdoor air, L/s: `0.15·A + 3.5·(bedrooms + 1)`.
///
/// Source: ANSI/ASHRAE 62.2 (2013 and later); formula seen second-hand.
pub fn dwelling_l_s(floor_area_m2: f64, bedrooms: f64) -> f64 {
    0.15 * floor_area_m2 + 3.5 * (bedrooms + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// L/s in one cubic foot a minute: (0.3048 m)³ a minute, by definition of the foot.
    const L_S_PER_CFM: f64 = 0.3048 * 0.3048 * 0.3048 * 1000.0 / 60.0;

    #[test]
    fn ninety_in_the_hall_by_the_music_rate() {
        // 90 people at 10 cfm and 1 127 ft² at 0.06 cfm/ft²: 968 cfm. The SI table rounds 10 cfm to 5 L/s, so the
        // inch-pound figure is worked with its own rates.
        let cfm = breathing_zone_l_s(10.0, 90.0, 0.06, 1127.0);
        assert!((cfm - 967.6).abs() < 0.1);
        let si = breathing_zone_l_s(5.0, 90.0, 0.3, 104.75) / L_S_PER_CFM;
        assert!((si / cfm - 1.0).abs() < 0.06);
    }

    #[test]
    fn short_peaks_earn_no_credit_in_a_small_hall() {
        // 377 m³ and 1 644 m³/h: 41 minutes, shorter than a recital.
        assert!((averaging_time_h(377.0, 1644.0) * 60.0 - 41.3).abs() < 0.1);
    }

    proptest! {
        #[test]
        fn people_and_flow_undo_each_other(people in 1.0..500.0f64, area in 1.0..2000.0f64) {
            let flow = breathing_zone_l_s(5.0, people, 0.3, area);
            prop_assert!((people_served(flow, 5.0, 0.3, area) - people).abs() < 1e-9 * people);
        }
    }
}
