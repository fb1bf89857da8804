//! The same bits for any number of threads and any width.

use building::Building;
use odds::cause::{Causes, Chance};
use odds::evidence::Belief;
use odds::sample::{Draw, years};
use year::sampled::Kept;
use year::{Frame, Grain, Use, YearOptions};

#[test]
fn threads_and_lanes_move_nothing() {
    let (building, _) = Building::derive(building::sample::school());
    let climate = climate::demo_year();
    let frame =
        Frame::new(&building, &climate, Use::Real, Grain::Limits, &YearOptions::default()).expect("a frame");
    let mut causes = Causes::of(&building.values, Chance::InUse, 11);
    causes.place_by(64, |_| 1.0);
    assert!(causes.len() > 10);
    let belief = Belief::default();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| {
            let draw = Draw::new(&building.values, &causes, &belief);
            let (scores, samples) = draw.columns(11);
            (scores, years(&frame, &samples).expect("years"), samples)
        })
    };
    let (one, three) = (on(1), on(3));
    assert_eq!((&one.0, &one.1), (&three.0, &three.1));
    let kept = Kept::new(&frame);
    let alone = frame.sampled(&kept, &one.2, 1).expect("years");
    assert_eq!(alone, one.1);
    assert!(one.1.windows(2).any(|w| w[0] != w[1]));
}
