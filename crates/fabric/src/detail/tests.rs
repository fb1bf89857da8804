use super::*;

fn environment(name: &str, temperature_c: f64, surface_m2k_w: f64) -> Environment {
    Environment { name: name.into(), temperature_c, surface_m2k_w }
}

/// Half a square column, three cold faces and a hot one (ISO 10211 case 1).
fn column() -> Detail {
    Detail {
        plane: true,
        regions: vec![
            Region::rectangle("column", [0.0, 0.0], [0.4, 0.8], Body::solid(1.0)),
            Region::rectangle("hot", [0.0, 0.8], [0.4, 0.9], Body::Environment(0)),
            Region::rectangle("cold left", [-0.1, 0.0], [0.0, 0.9], Body::Environment(1)),
            Region::rectangle("cold below", [-0.1, -0.1], [0.4, 0.0], Body::Environment(1)),
        ],
        environments: vec![environment("hot", 20.0, 0.0), environment("cold", 0.0, 0.0)],
    }
}

/// Concrete, timber, insulation and aluminium (ISO 10211 case 2).
fn composite() -> Detail {
    let r = |name: &str, low, high, k| Region::rectangle(name, low, high, Body::solid(k));
    Detail {
        plane: true,
        regions: vec![
            r("insulation", [0.0, 0.0], [0.5, 0.0415], 0.029),
            r("concrete", [0.0, 0.0415], [0.5, 0.0475], 1.15),
            r("timber", [0.0, 0.0365], [0.015, 0.0415], 0.12),
            r("flange", [0.0, 0.035], [0.015, 0.0365], 230.0),
            r("web", [0.0, 0.0015], [0.0015, 0.035], 230.0),
            r("plate", [0.0, 0.0], [0.5, 0.0015], 230.0),
            Region::rectangle("outdoors", [0.0, 0.0475], [0.5, 0.0575], Body::Environment(0)),
            Region::rectangle("room", [0.0, -0.01], [0.5, 0.0], Body::Environment(1)),
        ],
        environments: vec![environment("outdoors", 0.0, 0.06), environment("room", 20.0, 0.11)],
    }
}

#[test]
fn composite_flow_and_corner() {
    let s = solve(&composite(), &Accuracy::default()).unwrap();
    assert!((s.flows_w[1] - 9.4915).abs() < 0.01, "{:?} {} cells", s.flows_w, s.cells);
    assert!((s.flows_w[0] + s.flows_w[1]).abs() < 1e-7 * s.flows_w[1]);
    assert!(s.settled && s.effort.residual <= 1e-10);
    let a = s.temperature_at([0.0, 0.0475, 0.5]).unwrap();
    assert!((a - 7.064).abs() < 0.05, "{a}");
    assert!((s.coupling[0][1] - s.flows_w[1] / 20.0).abs() < 1e-8);
}

#[test]
fn other_temperatures_need_no_new_solution() {
    let solved = solve(&composite(), &Accuracy::default()).unwrap();
    let mut colder = composite();
    colder.environments[0].temperature_c = -10.0;
    let anew = solve(&colder, &Accuracy::default()).unwrap();
    let moved = solved.at_temperatures(&[-10.0, 20.0]).unwrap();
    assert!((anew.flows_w[1] - moved.flows_w[1]).abs() < 1e-7);
    let (a, m) = (anew.coldest[1].unwrap(), moved.coldest[1].unwrap());
    assert!((a.temperature_c - m.temperature_c).abs() < 1e-7 && a.at_m == m.at_m);
    assert!(solved.at_temperatures(&[0.0]).is_err());
}

#[test]
fn order_is_two_where_nothing_is_singular() {
    // Films all round a bar: no step in the boundary temperature at its corners.
    let bar = Detail {
        plane: true,
        regions: vec![
            Region::rectangle("bar", [0.0, 0.0], [0.3, 0.2], Body::solid(1.0)),
            Region::rectangle("hot", [0.0, 0.2], [0.3, 0.3], Body::Environment(0)),
            Region::rectangle("cold", [0.0, -0.1], [0.3, 0.0], Body::Environment(1)),
            Region::rectangle("cool", [-0.1, -0.1], [0.0, 0.3], Body::Environment(2)),
        ],
        environments: vec![
            environment("hot", 20.0, 0.2),
            environment("cold", 0.0, 0.2),
            environment("cool", 5.0, 0.2),
        ],
    };
    let flow = |halvings: usize| {
        let mut grid = grid::Grid::graded(&bar, 4);
        for _ in 0..halvings {
            grid = grid.halved(true);
        }
        solution::solve_on(&bar, grid, &Accuracy { residual: 1e-13, ..Accuracy::default() }, None)
            .unwrap()
            .flows_w[0]
    };
    let flows: Vec<f64> = (0..4).map(flow).collect();
    let order = numeric::ln((flows[1] - flows[2]) / (flows[2] - flows[3])) / numeric::ln(2.0);
    assert!((1.8..2.2).contains(&order), "order {order}, flows {flows:?}");
}

#[test]
fn couplings_are_symmetric_and_superpose() {
    let mut detail = column();
    detail.environments =
        vec![environment("hot", 20.0, 0.1), environment("cold", 0.0, 0.2), environment("ground", 9.0, 0.3)];
    detail.regions[3].body = Body::Environment(2);
    let s = solve(&detail, &Accuracy::default()).unwrap();
    let t = [20.0, 0.0, 9.0];
    for i in 0..3 {
        let sum: f64 = (0..3).filter(|&j| j != i).map(|j| s.coupling[i][j] * (t[i] - t[j])).sum();
        assert!((sum - s.flows_w[i]).abs() < 1e-7 * s.flows_w[0], "{i}: {sum} {}", s.flows_w[i]);
        for j in 0..3 {
            assert!((s.coupling[i][j] - s.coupling[j][i]).abs() < 1e-8);
        }
    }
}

#[test]
fn mistakes_are_named() {
    let mut hole = composite();
    hole.regions.remove(0);
    let text = solve(&hole, &Accuracy::default()).err().map(|e| e.to_string()).unwrap();
    assert!(text.contains("no box covers the place"), "{text}");
    let mut thin = composite();
    thin.regions[4].high_m[0] = 0.0;
    let text = solve(&thin, &Accuracy::default()).err().map(|e| e.to_string()).unwrap();
    assert_eq!(text, "box 'web': width along x, m is 0, but must be above zero and finite");
    let mut shut = column();
    shut.regions.truncate(1);
    let text = solve(&shut, &Accuracy::default()).err().map(|e| e.to_string()).unwrap();
    assert!(text.contains("no solid touches an environment"), "{text}");
}

#[test]
fn nothing_flows_between_equals() {
    let mut detail = composite();
    detail.environments[0].temperature_c = 20.0;
    let s = solve(&detail, &Accuracy::default()).unwrap();
    assert!(s.flows_w.iter().all(|q| q.abs() < 1e-9));
    assert!(s.temperature_factor(1, 0).is_err());
}

/// A slab at an angle between two airs, cut square at both ends.
fn leaning(slope_deg: f64, layers: &[(f64, f64)]) -> Detail {
    let a = slope_deg.to_radians();
    let (c, s) = (numeric::scalar::cos(a), numeric::scalar::sin(a));
    let at = |along: f64, up: f64| [along * c - up * s, along * s + up * c];
    let thick: f64 = layers.iter().map(|l| l.0).sum();
    let mut regions = vec![
        Region::rectangle("cut", [-3.0, -3.0], [3.0, 3.0], Body::Cut),
        Region::polygon(
            "below",
            vec![at(0.0, -0.3), at(1.0, -0.3), at(1.0, 0.0), at(0.0, 0.0)],
            Body::Environment(0),
        ),
        Region::polygon(
            "above",
            vec![at(0.0, thick), at(1.0, thick), at(1.0, thick + 0.3), at(0.0, thick + 0.3)],
            Body::Environment(1),
        ),
    ];
    let mut up = 0.0;
    for (d, k) in layers {
        regions.push(Region::polygon(
            "layer",
            vec![at(0.0, up), at(1.0, up), at(1.0, up + d), at(0.0, up + d)],
            Body::solid(*k),
        ));
        up += d;
    }
    Detail {
        plane: true,
        regions,
        environments: vec![environment("in", 1.0, 0.1), environment("out", 0.0, 0.04)],
    }
}

#[test]
fn a_slab_at_any_angle_conducts_as_an_upright_one() {
    for (layers, tolerance) in [(vec![(0.3, 0.5)], 3e-3), (vec![(0.1, 0.1), (0.2, 1.0)], 1.2e-2)] {
        let exact = 1.0 / (0.14 + layers.iter().map(|l| l.0 / l.1).sum::<f64>());
        for slope in [0.0, 10.0, 38.0, 45.0] {
            let error = |first_cells| {
                let accuracy = Accuracy { first_cells, most_cells: 0, ..Accuracy::default() };
                let s = solve(&leaning(slope, &layers), &accuracy).unwrap();
                assert!((s.flows_w[0] + s.flows_w[1]).abs() < 1e-8 * s.flows_w[0]);
                (s.flows_w[0] / exact - 1.0).abs()
            };
            let (coarse, fine) = (error(8), error(32));
            assert!(coarse < tolerance && fine < 0.5 * tolerance, "{slope}: {coarse} {fine}");
        }
    }
}
