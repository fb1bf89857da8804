//! Prints how often the intervals of 20 000 simulated pressure tests hold the truth.
use air::simulated_test::{Days, coverage};

fn main() -> Result<(), air::fan_test::TestError> {
    let days = Days::default();
    for level in [0.80, 0.90, 0.95] {
        let c = coverage(20_000, 20_000, level, 50.0, &days, days.instruments)?;
        println!("{level}: full budget {:.4}, regression alone {:.4}", c.budget, c.regression_only);
    }
    Ok(())
}
