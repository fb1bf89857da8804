//! Air: what leaks, what is blown, what people put into it.
//!
//! - [`infiltration`]: rules of thumb and published models from a leak to a yearly or momentary air change.
//! - [`contaminant`]: well-mixed balances of CO2 (or any passive gas) in time, exact per segment.
//! - [`gathering`]: a full room minute by minute, with demand control, and how many people its air serves.
//! - [`generation`]: CO2 and heat from people by age, sex and activity.
//! - [`leakage`]: a leak as a power law, and the areas read from it.
//! - [`network`]: pressures and flows of spaces joined by leaks, openings and fans.
//! - [`wind`]: façade pressures and the network of a building from plain inputs; [`response`]: its infiltration tabulated.
//! - [`commissioning`]: measured flows against design, balance, the next damper.
//! - [`outdoor_air`]: outdoor air required by published methods, with their working.
//! - [`duct`]: pressure drop in ducts, fan power, equivalent diameters.
//! - [`recovery`]: effectiveness laws and ratings of heat recovery.
//! - [`fan_test`]: a pressure test's readings to leak, rates and rules, those of [`astm_e779`] and [`astm_e3158`] beside them; [`test_budget`]: its full uncertainty and chances;
//!   [`simulated_test`]: tests with a known truth, to try intervals on; [`readings`]: the file it comes in;
//!   [`single_point`]: quick readings; [`guarded`]: the party boundary apart from the outside;
//!   [`live`]: a test as it is read.
//! - [`components`], [`forecast`]: what joints leak by class of work, and their sum; [`stage_target`]: what to read today;
//!   [`suspects`]: where the rest is, and what to isolate next.
//! - [`infection`]: relative infection risk, a labelled estimate.
//!
//! The crate knows no project: numbers in, numbers out. Flows are m³/s and pressures Pa unless a name says otherwise;
//! a flow into a space and a pressure inside above outside are positive.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod astm_e3158;
pub mod astm_e779;
pub mod commissioning;
pub mod components;
pub mod contaminant;
pub mod duct;
pub mod fan_test;
pub mod forecast;
pub mod gathering;
pub mod generation;
pub mod guarded;
pub mod infection;
pub mod infiltration;
pub mod leakage;
pub mod live;
pub mod network;
pub mod outdoor_air;
pub mod readings;
pub mod recovery;
pub mod response;
pub mod simulated_test;
pub mod single_point;
pub mod stage_target;
pub mod suspects;
pub mod test_budget;
pub mod wind;
