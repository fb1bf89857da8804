//! The machines over a year: what they take, give and cost, hour by hour, beside the balance of the rooms.
//!
//! Order of a told year: [`water`] follows the hot-water tank with the air of the room it stands in and hands what it
//! takes from that room back to the balance (which then runs again); [`hours`] meets every hour's heat, cold and drying
//! with the heads of [`machines`] and adds fans, frost protection, light and plugs, solar electricity, weighting and
//! cost. [`layout`] asks which rooms the drawn heads leave cold or hot, [`places`] where the water heater would stand
//! best, [`size`] what the heads should be able to do.
//!
//! # What is assumed
//! * The rooms' demand is that of an ideal plant; heads meet it in the hour it arises, and [`layout`] says where their
//!   real places would not. What no head can give counts as resistance heat, or as cold at the head's own ratio.
//! * A head serves the zone or room it is placed in; zones without a head are carried by all heads by their size.
//! * Drying that asks for more than the cold brings runs the coil slowly, half of its work being drying.

mod coupled;
pub mod hours;
pub mod layout;
pub mod machines;
pub mod places;
mod results;
pub mod size;
pub mod water;

pub(crate) use coupled::{couple, settle};
pub use results::{Cost, EnergyMonth, EnergyYear, FrostYear, HeadYear, WaterMonth, WaterYear, Weighting};

/// Returns the sets of primary energy factors that hold one for electricity from the grid, by name.
pub fn factor_sets() -> Vec<&'static str> {
    let mut names: Vec<&str> = plant::primary::rows()
        .iter()
        .filter(|row| row.carrier == "electricity grid" && row.not_renewable.is_some())
        .map(|row| row.source.as_str())
        .collect();
    names.dedup();
    names
}
