//! Values for public boundaries: each type holds one `f64` in the canonical unit of its [`Dimension`], is made by a
//! constructor that names its unit and read back the same way.
//!
//! Only the arithmetic that physics needs: sums and multiples of one kind, and the few products and quotients
//! below. Inside kernels use bare `f64` with the unit in the name.

use crate::units::{FOOT_M, INCH_M};
use crate::{Dimension, System, show};
use std::ops::{Add, Div, Mul, Sub};

/// Makes one type; `scale` types (temperatures) get no sums and multiples.
macro_rules! quantity_type {
    (@type $(#[$doc:meta])* $name:ident { $($make:ident / $get:ident = $factor:expr, $unit:literal;)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// What it is a quantity of.
            pub const DIMENSION: Dimension = Dimension::$name;
            $(
                #[doc = concat!("Makes it from a figure in ", $unit, ".")]
                pub const fn $make(value: f64) -> Self {
                    Self(value * $factor)
                }

                #[doc = concat!("Returns the figure in ", $unit, ".")]
                pub const fn $get(self) -> f64 {
                    self.0 / $factor
                }
            )+

            /// Returns the text in a system's usual unit.
            pub fn show(self, system: System) -> String {
                show(self.0, Self::DIMENSION, system)
            }
        }
    };
    (scale $($rest:tt)*) => { quantity_type!(@type $($rest)*); };
    ($(#[$doc:meta])* $name:ident { $($units:tt)+ }) => {
        quantity_type!(@type $(#[$doc])* $name { $($units)+ });

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        /// Two of a kind divide to a plain ratio.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

/// Writes `A * B = C` in both orders, canonical units being coherent for these types.
macro_rules! product {
    ($a:ident * $b:ident = $c:ident) => {
        impl Mul<$b> for $a {
            type Output = $c;
            fn mul(self, other: $b) -> $c {
                $c(self.0 * other.0)
            }
        }

        impl Mul<$a> for $b {
            type Output = $c;
            fn mul(self, other: $a) -> $c {
                $c(self.0 * other.0)
            }
        }
    };
}

quantity_type! {
    /// Length, m.
    Length { m / to_m = 1.0, "m"; mm / to_mm = 1e-3, "mm"; inches / to_inches = INCH_M, "in"; ft / to_ft = FOOT_M, "ft"; }
}
quantity_type! {
    /// Area, m².
    Area { m2 / to_m2 = 1.0, "m²"; ft2 / to_ft2 = FOOT_M * FOOT_M, "ft²"; }
}
quantity_type! {
    /// Volume, m³.
    Volume { m3 / to_m3 = 1.0, "m³"; ft3 / to_ft3 = FOOT_M * FOOT_M * FOOT_M, "ft³"; }
}
quantity_type! {
    /// Volume flow, m³/s.
    VolumeFlow {
        m3_per_s / to_m3_per_s = 1.0, "m³/s";
        m3_per_h / to_m3_per_h = 1.0 / 3600.0, "m³/h";
        cfm / to_cfm = FOOT_M * FOOT_M * FOOT_M / 60.0, "ft³/min";
    }
}
quantity_type! {
    /// Time span, s.
    Time { s / to_s = 1.0, "s"; h / to_h = 3600.0, "h"; }
}
quantity_type! {
    scale
    /// Temperature on the Celsius scale.
    Temperature { c / to_c = 1.0, "°C"; }
}
quantity_type! {
    /// Difference between two temperatures, K.
    TemperatureDifference { k / to_k = 1.0, "K"; }
}
quantity_type! {
    /// Thermal conductivity, W/(m·K).
    Conductivity { w_per_mk / to_w_per_mk = 1.0, "W/(m·K)"; }
}
quantity_type! {
    /// Thermal resistance of a layer or surface, m²·K/W.
    Resistance { m2k_per_w / to_m2k_per_w = 1.0, "m²·K/W"; }
}
quantity_type! {
    /// Thermal transmittance or surface coefficient, W/(m²·K).
    Transmittance { w_per_m2k / to_w_per_m2k = 1.0, "W/(m²·K)"; }
}
quantity_type! {
    /// Power, W.
    Power { w / to_w = 1.0, "W"; kw / to_kw = 1e3, "kW"; }
}
quantity_type! {
    /// Energy, J.
    Energy { j / to_j = 1.0, "J"; kwh / to_kwh = 3.6e6, "kWh"; }
}
quantity_type! {
    /// Pressure or pressure difference, Pa.
    Pressure { pa / to_pa = 1.0, "Pa"; }
}
quantity_type! {
    /// Air change rate, 1/h.
    AirChange { per_h / to_per_h = 1.0, "1/h"; }
}
quantity_type! {
    /// Water vapour permeance, kg/(m²·s·Pa).
    Permeance { kg_per_m2spa / to_kg_per_m2spa = 1.0, "kg/(m²·s·Pa)"; }
}

product!(Length * Area = Volume);
product!(Power * Time = Energy);
product!(VolumeFlow * Time = Volume);

impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Self) -> Area {
        Area(self.0 * other.0)
    }
}

impl Div<Conductivity> for Length {
    type Output = Resistance;
    fn div(self, conductivity: Conductivity) -> Resistance {
        Resistance(self.0 / conductivity.0)
    }
}

impl Resistance {
    /// Returns the transmittance of this resistance, films included as given.
    pub const fn to_transmittance(self) -> Transmittance {
        Transmittance(1.0 / self.0)
    }
}

impl Sub for Temperature {
    type Output = TemperatureDifference;
    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference(self.0 - other.0)
    }
}

impl Add<TemperatureDifference> for Temperature {
    type Output = Self;
    fn add(self, difference: TemperatureDifference) -> Self {
        Self(self.0 + difference.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wall_by_types() {
        let wall = Length::mm(200.0) / Conductivity::w_per_mk(0.04) + Resistance::m2k_per_w(0.17);
        assert!((wall.to_m2k_per_w() - 5.17).abs() < 1e-12);
        assert!((wall.to_transmittance().to_w_per_m2k() * 5.17 - 1.0).abs() < 1e-12);
        let across = Temperature::c(20.0) - Temperature::c(-5.0);
        assert_eq!(across, TemperatureDifference::k(25.0));
        assert_eq!((Temperature::c(-5.0) + across).to_c(), 20.0);
        assert_eq!((Power::kw(2.0) * Time::h(3.0)).to_kwh(), 6.0);
        assert_eq!(Length::inches(7.5).show(System::Us), "7 1/2 in");
        assert_eq!(Length::m(3.0) * Length::m(4.0) * Length::m(2.0), Volume::m3(24.0));
    }

    #[test]
    fn constructors_agree_with_the_reader() {
        let read = |text, dimension| crate::read(text, dimension).unwrap().value;
        assert_eq!(Length::inches(7.5).to_m(), read("7.5 in", Dimension::Length));
        assert_eq!(VolumeFlow::cfm(85.0).to_m3_per_s(), read("85 cfm", Dimension::VolumeFlow));
        assert_eq!(Area::ft2(120.0).to_m2(), read("120 sq ft", Dimension::Area));
        assert_eq!(Volume::ft3(120.0).to_m3(), read("120 cu ft", Dimension::Volume));
    }
}
