//! From readings to a [`TestReport`]: each number by its law, nothing computed twice.

use super::report::{
    About, Area, Band, BudgetLine, CountedRate, DirectionReport, Excess, Figure, Flip, InstrumentLine,
    LineReport, Mean, OtherFit, PointLine, Quick, Rate, RuleLine, SCHEMA, TestReport,
};
use ::air::fan_test::{
    Direction, Evaluation, Fit, FlowState, Interval, Rule, Series, Standard, TestError, combine, evaluate,
    plain_points,
};
use ::air::leakage::{PowerLaw, REFERENCE_DENSITY_KG_M3, SHARP_EDGE_DISCHARGE, sharp_hole_m2};
use ::air::readings::{Neighbour, Size, TestFile, TestKind};
use ::air::single_point::{StatedExponent, quick_reading};
use ::air::test_budget::{
    Budget, Circumstances, Estimate, Guard, Instruments, Source, Test, budget, regression_only,
};
use building::counting::Count;

/// Square inches in a square centimetre, by the exact inch.
const IN2_PER_CM2: f64 = 1.0 / 6.4516;
/// Level of every band.
const LEVEL: f64 = 0.95;

/// What is asked of a test.
#[derive(Clone, Debug)]
pub struct Ask {
    /// Reference pressure, Pa.
    pub pressure_pa: f64,
    /// Limits, the one the sentence speaks of first.
    pub limits: Vec<(Per, f64)>,
    /// Sizes that go before those of the file.
    pub volume: Option<Size>,
    /// Envelope area.
    pub envelope_area: Option<Size>,
    /// Floor area.
    pub floor_area: Option<Size>,
    /// Counting rule the sizes come from, for the words.
    pub rule: String,
    /// Counts of the project by each rule, with their names.
    pub counts: Vec<(String, Count)>,
    /// Leak through the party boundary, for the guard's residual.
    pub party: Option<PowerLaw>,
    /// Exponent taken for one and two points.
    pub exponent: StatedExponent,
}

impl Default for Ask {
    fn default() -> Self {
        Self {
            pressure_pa: super::REFERENCE_PA,
            limits: Vec::new(),
            volume: None,
            envelope_area: None,
            floor_area: None,
            rule: "as stated".to_owned(),
            counts: Vec::new(),
            party: None,
            exponent: StatedExponent::default(),
        }
    }
}

/// What the flow is divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Volume: 1/h.
    Volume,
    /// Envelope area: m³/(h·m²).
    Envelope,
    /// Floor area: m³/(h·m²).
    Floor,
    /// Nothing: m³/h.
    One,
}

impl Per {
    fn words(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Volume => ("air-change", "air-change rate", "1/h"),
            Self::Envelope => ("per-envelope", "leakage per envelope area", "m³/(h·m²)"),
            Self::Floor => ("per-floor", "leakage per floor area", "m³/(h·m²)"),
            Self::One => ("flow", "leakage flow", "m³/h"),
        }
    }
}

/// Returns the 95 % accuracy certificates state as the instruments of the budget, defaults where they state none.
pub fn instruments(file: &TestFile) -> Instruments {
    let mut all = Instruments::default();
    if let Some(share) = file.gauge.accuracy {
        all.gauge_share = 0.5 * share;
    }
    // Several fans: the worst certificate stands for all, since shares of flow are not written down.
    let worst = file.fans.iter().filter_map(|f| f.instrument.accuracy).fold(0.0, f64::max);
    if worst > 0.0 {
        all.fan_share = 0.5 * worst;
    }
    all
}

/// Returns what else is uncertain about a file's test.
pub fn circumstances(file: &TestFile, party: Option<PowerLaw>) -> Circumstances {
    let guarded = file.neighbour == Neighbour::EqualPressure;
    let guard = party
        .zip(file.guard_residual_pa)
        .filter(|_| guarded)
        .map(|(party, residual_pa)| Guard { party, residual_pa });
    Circumstances { guard, ..Circumstances::default() }
}

/// Evaluates a test by every standard it can be judged by.
///
/// # Errors
/// Any [`TestError`].
pub fn report(file: &TestFile, ask: &Ask) -> Result<TestReport, TestError> {
    let full = file.kind == TestKind::Full && file.series.iter().any(|s| s.readings.len() >= 3);
    if full { whole(file, ask) } else { quick(file, ask) }
}

fn whole(file: &TestFile, ask: &Ask) -> Result<TestReport, TestError> {
    let test = Test {
        series: &file.series,
        conditions: file.conditions,
        fit: Fit::Unweighted,
        standard: Standard::Iso9972,
    };
    let p = ask.pressure_pa;
    let found = budget(test, p, instruments(file), circumstances(file, ask.party))?;
    let regression = regression_only(test, p)?;
    let e779 = evaluations(file, Standard::AstmE779)?;
    let mut out = begin(file, ask, figure(found.flow));
    out.standard_test = true;
    out.valid = Some(found.evaluations.iter().all(Evaluation::valid));
    out.directions = directions(file, ask, &found, &e779)?;
    out.mean = combine(&found.evaluations, p).map(|m| Mean {
        directions: found.evaluations.len(),
        flow_m3_h: m.flow_m3_h,
        regression_half_width_m3_h: regression.half_width(LEVEL),
        difference_share: m.difference_share,
    });
    out.areas = areas(&found.evaluations, &e779);
    out.budget = found
        .causes()
        .into_iter()
        .map(|(source, share_of_variance)| BudgetLine {
            source: source_words(source),
            share: found.items.iter().find(|i| i.source == source).map_or(0.0, |i| i.share()),
            share_of_variance,
        })
        .collect();
    out.rules = rules(file, &found.evaluations, &e779);
    finish(&mut out, file, ask, |size, share| found.per(size, share));
    Ok(out)
}

fn quick(file: &TestFile, ask: &Ask) -> Result<TestReport, TestError> {
    let series =
        file.series.iter().max_by_key(|s| s.readings.len()).ok_or(TestError::TooFewPoints { found: 0 })?;
    let quick = quick_reading(
        series,
        file.conditions,
        ask.exponent,
        ask.pressure_pa,
        Standard::Iso9972,
        instruments(file),
        circumstances(file, ask.party),
    )?;
    let mut out = begin(file, ask, figure(quick.flow));
    out.quick = Some(Quick {
        points: quick.points,
        method: "ASTM E1827 (from memory), exponent stated",
        stated_exponent: [ask.exponent.value, ask.exponent.standard_uncertainty],
        exponent: [quick.exponent.value, quick.exponent.standard_uncertainty],
    });
    let leak = quick.leak(ask.pressure_pa);
    out.areas = [("ASTM E779", 4.0), ("ISO 9972", 10.0)].map(|(s, p)| area(s, p, leak)).to_vec();
    for series in &file.series {
        let points = plain_points(series, file.conditions)?;
        out.directions.push(direction(series, &points, None));
    }
    finish(&mut out, file, ask, |size, share| {
        let own = quick.flow.standard_uncertainty / quick.flow.value;
        let value = quick.flow.value / size;
        Estimate {
            value,
            standard_uncertainty: value * (own * own + share * share).sqrt(),
            degrees_of_freedom: f64::INFINITY,
        }
    });
    Ok(out)
}

fn evaluations(file: &TestFile, standard: Standard) -> Result<Vec<Evaluation>, TestError> {
    file.series.iter().map(|s| evaluate(s, file.conditions, Fit::Unweighted, standard)).collect()
}

fn begin(file: &TestFile, ask: &Ask, flow: Figure) -> TestReport {
    let points = file.series.iter().map(|s| s.readings.len()).max().unwrap_or(0);
    let line = |i: &::air::readings::Instrument| InstrumentLine {
        id: i.id.clone(),
        calibrated: i.calibrated.clone(),
        accuracy: i.accuracy,
    };
    let test = About {
        title: file.title.clone(),
        date: file.date.clone(),
        kind: match (file.kind, points) {
            (TestKind::Full, 3..) => "full",
            (_, 1) => "one point",
            _ => "two points",
        },
        preparation_method: file.method,
        neighbour: neighbour_words(file.neighbour),
        guard_residual_pa: file.guard_residual_pa,
        flows: match file.series.first().map(|s| s.flows) {
            Some(FlowState::AtFan) => "raw",
            _ => "corrected",
        },
        gauge: line(&file.gauge),
        fans: file.fans.iter().map(|f| line(&f.instrument)).collect(),
    };
    TestReport {
        schema: SCHEMA,
        test,
        standard_test: false,
        valid: None,
        reference_pressure_pa: ask.pressure_pa,
        flow,
        result: rate(Per::One, "", None, flow),
        rates: Vec::new(),
        directions: Vec::new(),
        mean: None,
        areas: Vec::new(),
        quick: None,
        budget: Vec::new(),
        rules: Vec::new(),
        counting_rules: Vec::new(),
        flips: Vec::new(),
        excess: None,
        notes: file.notes.iter().map(ToString::to_string).collect(),
        not_checked: Vec::new(),
    }
}

/// The word of what was done with a neighbour.
pub fn neighbour_words(neighbour: Neighbour) -> &'static str {
    match neighbour {
        Neighbour::None => "none",
        Neighbour::EqualPressure => "equal pressure",
        Neighbour::Opened => "opened",
        Neighbour::Untouched => "untouched",
    }
}

fn figure(estimate: Estimate) -> Figure {
    Figure {
        value: estimate.value,
        standard_uncertainty: estimate.standard_uncertainty,
        half_width_95: estimate.half_width(LEVEL),
        degrees_of_freedom: estimate.degrees_of_freedom.is_finite().then_some(estimate.degrees_of_freedom),
    }
}

fn rate(per: Per, rule: &str, size: Option<f64>, figure: Figure) -> Rate {
    let (id, words, unit) = per.words();
    Rate { id, words, rule: rule.to_owned(), size, unit, figure, limit: None, met: None, chance: None }
}

fn band(interval: Interval) -> Band {
    Band { value: interval.value, low: interval.low, high: interval.high }
}

fn direction_words(direction: Direction) -> &'static str {
    match direction {
        Direction::Depressurisation => "depressurisation",
        Direction::Pressurisation => "pressurisation",
    }
}

fn directions(
    file: &TestFile,
    ask: &Ask,
    found: &Budget,
    e779: &[Evaluation],
) -> Result<Vec<DirectionReport>, TestError> {
    let gauge = instruments(file);
    let mut all = Vec::new();
    for ((series, iso), astm) in file.series.iter().zip(&found.evaluations).zip(e779) {
        let points: Vec<(f64, f64)> = iso.points.iter().map(|p| (p.pressure_pa, p.envelope_m3_h)).collect();
        let mut one = direction(series, &points, Some(iso));
        one.iso_9972 = Some(line(iso, ask.pressure_pa));
        one.astm_e779 = Some(line(astm, ask.pressure_pa));
        let others = [
            ("weighted by flow squared", Fit::WeightedByFlow),
            ("line of organic correlation", Fit::OrganicCorrelation),
            (
                "errors in both axes",
                Fit::ErrorsInBoth {
                    pressure_pa: gauge.gauge_pa.max(0.05),
                    flow_share: ::air::single_point::READING_SHARE,
                },
            ),
        ];
        for (name, fit) in others {
            let other = evaluate(series, file.conditions, fit, Standard::Iso9972)?;
            let flow_m3_h = other.leak().flow_m3_h(ask.pressure_pa);
            one.other_fits.push(OtherFit { fit: name, exponent: other.exponent.value, flow_m3_h });
        }
        all.push(one);
    }
    Ok(all)
}

fn direction(series: &Series, points: &[(f64, f64)], line: Option<&Evaluation>) -> DirectionReport {
    let off = |pressure: f64, flow: f64| {
        line.map(|e| {
            let law = PowerLaw { coefficient_m3_h: e.envelope_coefficient.value, exponent: e.exponent.value };
            flow / law.flow_m3_h(pressure) - 1.0
        })
    };
    DirectionReport {
        direction: direction_words(series.direction),
        zero_before_pa: series.zero_before_pa.clone(),
        zero_after_pa: series.zero_after_pa.clone(),
        zero_pa: line.map_or_else(
            || series.readings.first().zip(points.first()).map_or(0.0, |(r, p)| r.pressure_pa.abs() - p.0),
            |e| e.zero_pa,
        ),
        points: series
            .readings
            .iter()
            .zip(points)
            .map(|(read, &(pressure_pa, flow_m3_h))| PointLine {
                read_pa: read.pressure_pa,
                read_m3_h: read.flow_m3_h,
                pressure_pa,
                flow_m3_h,
                off_the_line: off(pressure_pa, flow_m3_h),
            })
            .collect(),
        iso_9972: None,
        astm_e779: None,
        other_fits: Vec::new(),
    }
}

fn line(e: &Evaluation, pressure_pa: f64) -> LineReport {
    let leak = e.leak();
    LineReport {
        exponent: band(e.exponent),
        c_env: band(e.envelope_coefficient),
        c_l: leak.coefficient_m3_h,
        r2: e.r2,
        flow: band(e.flow_at(pressure_pa)),
        ela_4_pa_cm2: 1e4 * leak.effective_leakage_area_m2(4.0),
        ela_10_pa_cm2: 1e4 * leak.effective_leakage_area_m2(10.0),
    }
}

fn area(standard: &'static str, pressure_pa: f64, leak: PowerLaw) -> Area {
    let cm2 = 1e4 * leak.effective_leakage_area_m2(pressure_pa);
    Area { standard, pressure_pa, cm2, in2: cm2 * IN2_PER_CM2 }
}

/// Mean of the directions' areas, each at the pressure its standard refers to.
fn areas(iso: &[Evaluation], e779: &[Evaluation]) -> Vec<Area> {
    let mean = |standard, pressure_pa: f64, all: &[Evaluation]| {
        let cm2 = all.iter().map(|e| area(standard, pressure_pa, e.leak()).cm2).sum::<f64>()
            / all.len().max(1) as f64;
        Area { standard, pressure_pa, cm2, in2: cm2 * IN2_PER_CM2 }
    };
    vec![mean("ASTM E779", 4.0, e779), mean("ISO 9972", 10.0, iso)]
}

/// Plain words of a source of uncertainty.
pub fn source_words(source: Source) -> &'static str {
    match source {
        Source::Regression => "scatter about the line",
        Source::Gauge => "pressure gauge",
        Source::Fan => "fan calibration",
        Source::ZeroDrift => "drift of the zero-flow pressure",
        Source::WindZero => "wind on the zero-flow pressure",
        Source::WindFacades => "wind and stack over the façades",
        Source::Preparation => "preparation of the building",
        Source::GuardResidual => "pressure left across the guard",
        Source::Size => "volume or area",
    }
}

fn rules(file: &TestFile, iso: &[Evaluation], e779: &[Evaluation]) -> Vec<RuleLine> {
    let line = |rule: &Rule, direction| RuleLine {
        standard: rule.standard,
        id: rule.id,
        ok: rule.ok,
        value: rule.value.is_finite().then_some(rule.value),
        limit: rule.limit,
        direction,
        words: rule.text,
    };
    let mut all: Vec<RuleLine> = iso
        .iter()
        .flat_map(|e| e.rules.iter().map(|r| line(r, direction_words(e.direction))).collect::<Vec<_>>())
        .collect();
    let whole = ::air::astm_e779::rules(e779, file.conditions)
        .into_iter()
        .chain(::air::astm_e3158::rules(iso, &file.series));
    all.extend(whole.map(|r| line(&r, "")));
    all
}

/// Rates, limits, counting rules, excess and words, the same for whole tests and quick readings.
fn finish(out: &mut TestReport, file: &TestFile, ask: &Ask, per: impl Fn(f64, f64) -> Estimate) {
    let volume = ask.volume.or(file.volume);
    let envelope = ask.envelope_area.or(file.envelope_area);
    let floor = ask.floor_area.or(file.floor_area);
    let limit_of = |of: Per| ask.limits.iter().find(|(p, _)| *p == of).map(|l| l.1);
    let judged = |of: Per, size: Option<Size>| -> Option<Rate> {
        let size = match of {
            Per::One => Size { value: 1.0, share: 0.0 },
            _ => size?,
        };
        let estimate = per(size.value, size.share);
        let shown = (of != Per::One).then_some(size.value);
        let rule = if of == Per::One { "" } else { &ask.rule };
        let mut rate = rate(of, rule, shown, figure(estimate));
        rate.limit = limit_of(of);
        rate.met = rate.limit.map(|l| estimate.value <= l);
        rate.chance = rate.limit.map(|l| estimate.chance_at_or_under(l));
        Some(rate)
    };
    let sizes = [(Per::Volume, volume), (Per::Envelope, envelope), (Per::Floor, floor), (Per::One, None)];
    out.rates = sizes.into_iter().filter_map(|(of, size)| judged(of, size)).collect();
    let asked = ask.limits.first().map(|(of, _)| of.words().0);
    let leading = out.rates.iter().find(|r| asked == Some(r.id)).or_else(|| out.rates.first()).cloned();
    if let Some(leading) = leading {
        out.result = leading;
    }
    if asked.is_some_and(|a| a != out.result.id) {
        out.notes.push(format!(
            "the limit speaks of {}, but nothing to divide the flow by is known: give --volume, --area, or a project",
            ask.limits.first().map_or("", |(of, _)| of.words().1)
        ));
    }
    counted(out, ask, limit_of(Per::Volume), &per);
    out.excess = excess(out);
    notes(out, file, ask);
}

fn counted(out: &mut TestReport, ask: &Ask, limit: Option<f64>, per: &impl Fn(f64, f64) -> Estimate) {
    let share = ask.volume.map_or(0.0, |v| v.share);
    out.counting_rules = ask
        .counts
        .iter()
        .filter(|(_, count)| count.volume_m3 > 0.0)
        .map(|(name, count)| {
            let estimate = per(count.volume_m3, share);
            CountedRate {
                rule: count.rule.clone(),
                name: name.clone(),
                size: count.volume_m3,
                figure: figure(estimate),
                met: limit.map(|l| estimate.value <= l),
                chance: limit.map(|l| estimate.chance_at_or_under(l)),
            }
        })
        .collect();
    let Some(first) = out.counting_rules.iter().find(|c| c.rule == ask.rule).or(out.counting_rules.first())
    else {
        return;
    };
    let turned = out.counting_rules.iter().find(|c| c.met != first.met);
    let count_of = |rule: &str| ask.counts.iter().find(|(_, c)| c.rule == rule).map(|(_, c)| c);
    let Some((turned, (a, b))) = turned.and_then(|t| Some((t, (count_of(&first.rule)?, count_of(&t.rule)?))))
    else {
        return;
    };
    let between = [first.rule.clone(), turned.rule.clone()];
    out.flips = building::counting::differences(a, b)
        .into_iter()
        .filter(|d| d.volume_m3.abs() > 0.005)
        .map(|d| Flip { between: between.clone(), item: d.item, volume_m3: d.volume_m3, why: d.why })
        .collect();
}

fn excess(out: &TestReport) -> Option<Excess> {
    let limit = out.result.limit?;
    let over = out.result.figure.value - limit;
    if over <= 0.0 {
        return None;
    }
    let p = out.reference_pressure_pa;
    let flow_m3_h = over * out.result.size.unwrap_or(1.0);
    let hole_cm2 = 1e4 * sharp_hole_m2(flow_m3_h, p);
    Some(Excess {
        flow_m3_h,
        hole_cm2,
        hole_in2: hole_cm2 * IN2_PER_CM2,
        formula: format!(
            "A = q/(C_d·√(2·Δp/ρ0)) = {flow_m3_h:.0}/3600 m³/s / ({SHARP_EDGE_DISCHARGE}·√(2·{p:.0} Pa/{REFERENCE_DENSITY_KG_M3:.3} kg/m³))"
        ),
    })
}

fn notes(out: &mut TestReport, file: &TestFile, ask: &Ask) {
    let guarded = file.neighbour == Neighbour::EqualPressure;
    if guarded && ask.party.is_none() {
        out.notes.push(
            "guarded: the leak through the party boundary is not known here, so what the guard's residual pressure drives \
             through it is not in the band"
                .to_owned(),
        );
    }
    if file.gauge.accuracy.is_none() || file.fans.iter().all(|f| f.instrument.accuracy.is_none()) {
        out.notes.push(
            "no certificate states the accuracy of gauge or fan: common practice is taken (gauge ± 1 %, fan ± 4 %, 95 %), no source"
                .to_owned(),
        );
    }
    let beyond =
        out.directions.iter().flat_map(|d| d.points.iter().map(|p| p.pressure_pa)).fold(0.0_f64, f64::max);
    if beyond > 0.0 && beyond < 0.98 * ask.pressure_pa {
        out.notes.push(format!(
            "the highest pressure read is {beyond:.1} Pa: the result at {:.0} Pa lies beyond the readings",
            ask.pressure_pa
        ));
    }
    out.not_checked = vec![
        "Neither ISO 9972, ASTM E779, E1827 nor E3158 was open while this was written: their equations and limits are from \
         memory. Check the edition your contract names."
            .to_owned(),
        "How the building was prepared, what was sealed only for the test, and whether burners, kilns and fireplaces were off, \
         cold and locked out: the tester says that."
            .to_owned(),
        "The certifying body decides which volume, which preparation and which test count. Nothing here is a certificate."
            .to_owned(),
    ];
}
