//! Steady vapour diffusion through layers with condensation: where vapour pressure would pass saturation, it is held
//! there and what arrives in excess condenses.
//!
//! The pressure profile is the largest convex curve over the equivalent air layers that stays at or below saturation:
//! the lower hull of the points (s, p_sat), pulled tight between the two airs. Planes already wet stay at saturation.

/// Vapour profile and condensation in one steady state.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Vapour pressure at each point, Pa.
    pub vapour_pressure_pa: Vec<f64>,
    /// Condensation at each point, kg/(m²·s); negative where a wet plane dries.
    pub condensation_kg_m2s: Vec<f64>,
}

/// Returns the vapour profile between two airs.
///
/// `s_m` are the cumulated equivalent air layers from one face (rising, first 0), `saturation_pa` the saturation
/// pressures there, `wet` the points that hold water; `ends_pa` the vapour pressures of the two airs (films are
/// neglected, as ISO 13788 does). Lists of unlike length are cut to the shortest.
pub fn profile(s_m: &[f64], saturation_pa: &[f64], wet: &[bool], ends_pa: [f64; 2], delta: f64) -> Profile {
    let n = s_m.len().min(saturation_pa.len()).min(wet.len());
    let mut p = vec![0.0; n];
    let mut g = vec![0.0; n];
    if n < 2 {
        return Profile { vapour_pressure_pa: p, condensation_kg_m2s: g };
    }
    let height = |i: usize| match i {
        0 => ends_pa[0],
        i if i == n - 1 => ends_pa[1],
        i => saturation_pa[i],
    };
    let held = |i: usize| i == 0 || i == n - 1 || wet[i];
    // Lower hull, begun anew at every point that is held.
    let mut corners: Vec<usize> = Vec::with_capacity(n);
    let mut floor = 0;
    for i in 0..n {
        // Planes without any resistance between them count once: the last one is the one kept.
        while corners.len() > floor + 1 {
            let (a, b) = (corners[corners.len() - 2], corners[corners.len() - 1]);
            let above =
                (height(b) - height(a)) * (s_m[i] - s_m[a]) >= (height(i) - height(a)) * (s_m[b] - s_m[a]);
            if above {
                corners.pop();
            } else {
                break;
            }
        }
        corners.push(i);
        if held(i) {
            floor = corners.len() - 1;
        }
    }
    for pair in corners.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let width = s_m[b] - s_m[a];
        for i in a..=b {
            let x = if width > 0.0 { (s_m[i] - s_m[a]) / width } else { 0.0 };
            p[i] = height(a) + x * (height(b) - height(a));
        }
    }
    for triple in corners.windows(3) {
        let (a, b, c) = (triple[0], triple[1], triple[2]);
        let slope = |i: usize, j: usize| {
            let d = s_m[j] - s_m[i];
            if d > 0.0 { (height(j) - height(i)) / d } else { 0.0 }
        };
        g[b] = delta * (slope(b, c) - slope(a, b));
    }
    Profile { vapour_pressure_pa: p, condensation_kg_m2s: g }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_cold_plane_catches_the_excess() {
        let s = [0.0, 1.0, 3.0];
        let p = profile(&s, &[600.0, 700.0, 2300.0], &[false; 3], [500.0, 1200.0], 2e-10);
        // Straight would pass 733 Pa at the middle: held at 700.
        assert_eq!(p.vapour_pressure_pa, vec![500.0, 700.0, 1200.0]);
        let expected = 2e-10 * ((1200.0 - 700.0) / 2.0 - 200.0);
        assert!((p.condensation_kg_m2s[1] - expected).abs() < 1e-20);
        let dry = profile(&s, &[600.0, 800.0, 2300.0], &[false; 3], [500.0, 1200.0], 2e-10);
        assert!(dry.condensation_kg_m2s.iter().all(|g| *g == 0.0));
        let drying = profile(&s, &[600.0, 900.0, 2300.0], &[false, true, false], [500.0, 1200.0], 2e-10);
        assert!(drying.condensation_kg_m2s[1] < 0.0);
    }

    proptest! {
        #[test]
        fn pressure_never_passes_saturation_and_dry_planes_only_gain(
            steps in prop::collection::vec((0.01_f64..5.0, 300.0_f64..2500.0), 2..12), a in 100.0_f64..300.0, b in 100.0_f64..300.0,
        ) {
            let mut s = vec![0.0];
            for (d, _) in &steps { s.push(s[s.len() - 1] + d); }
            let mut sat = vec![400.0];
            sat.extend(steps.iter().map(|x| x.1));
            let n = s.len();
            let p = profile(&s, &sat, &vec![false; n], [a, b], 2e-10);
            for i in 0..n {
                prop_assert!(p.vapour_pressure_pa[i] <= sat[i] + 1e-9);
                prop_assert!(p.condensation_kg_m2s[i] >= -1e-25);
            }
        }
    }
}
