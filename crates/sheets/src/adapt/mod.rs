//! From the model to drawings: what is cut, what is seen, what it is called. No number is computed here but places
//! on paper.

mod above;
mod air;
mod assemblies;
mod details;
mod joints;
mod long;
mod rings;
mod site_log;
mod year;

pub use above::axonometric;
pub use air::test_day;
pub use assemblies::{anchor, area_and_use, hatch, layer_hatch, sections};
pub use details::{details, drawn_detail};
pub use joints::joints;
pub use long::long_section;
pub use site_log::site_log;
pub use year::{evenings, warm_cool};
