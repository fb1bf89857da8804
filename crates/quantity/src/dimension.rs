//! What a number can be a number of: [`Dimension`], each with its one internal unit.

use crate::signature::{Signature, Slot};

/// The kind of a quantity. Every value inside the engine is a plain `f64` in the dimension's
/// [canonical unit](Dimension::canonical_unit).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Length, m.
    Length,
    /// Area, m².
    Area,
    /// Volume, m³.
    Volume,
    /// Volume flow, m³/s.
    VolumeFlow,
    /// Mass flow, kg/s.
    MassFlow,
    /// Mass, kg.
    Mass,
    /// Temperature on a scale, °C.
    Temperature,
    /// Difference between two temperatures, K.
    TemperatureDifference,
    /// Thermal conductivity, W/(m·K).
    Conductivity,
    /// Thermal resistance of a layer or surface, m²·K/W.
    Resistance,
    /// Thermal transmittance or surface coefficient, W/(m²·K).
    Transmittance,
    /// Linear thermal transmittance, W/(m·K).
    LinearTransmittance,
    /// Point thermal transmittance, W/K.
    PointTransmittance,
    /// Density, or mass of water in a volume, kg/m³.
    Density,
    /// Mass per area, kg/m².
    ArealDensity,
    /// Specific heat capacity, J/(kg·K).
    SpecificHeat,
    /// Heat capacity per area, J/(m²·K).
    ArealHeatCapacity,
    /// Heat capacity of a thing, J/K.
    HeatCapacity,
    /// Heat capacity per volume, J/(m³·K).
    VolumetricHeatCapacity,
    /// Water vapour permeance, kg/(m²·s·Pa).
    Permeance,
    /// Water vapour permeability, kg/(m·s·Pa).
    Permeability,
    /// Water vapour diffusion-equivalent air layer thickness (s_d), m.
    AirLayer,
    /// Water vapour resistance factor µ, a plain number.
    VapourFactor,
    /// Power, W.
    Power,
    /// Power per area, W/m².
    PowerPerArea,
    /// Energy, J.
    Energy,
    /// Energy per area, J/m²; "per year" in its unit marks an annual sum and is not divided by.
    EnergyPerArea,
    /// Pressure or pressure difference, Pa.
    Pressure,
    /// Air change rate, 1/h.
    AirChange,
    /// Concentration by volume, ppm.
    Concentration,
    /// Money, in the currency it was written in; amounts are never converted.
    Money,
    /// Price of energy, currency per kWh.
    EnergyPrice,
    /// Duration, s. A year is the 8760 h of a weather file.
    Time,
    /// Share or ratio, a plain fraction (12 % is 0.12).
    Ratio,
    /// Angle or slope, degrees.
    Angle,
    /// Speed, m/s.
    Speed,
    /// Electrical energy for moving a volume of air, Wh/m³.
    SpecificFanPower,
    /// Air flow through an envelope's area at the test pressure, m³/(h·m²).
    AirPermeability,
    /// Air flow for each person, m³/s.
    FlowPerPerson,
    /// Air flow for each area, m³/(s·m²).
    FlowPerArea,
    /// Air flow for each length of joint, m³/(s·m).
    FlowPerLength,
    /// Depth of rain, mm.
    Precipitation,
    /// Water absorption coefficient, kg/(m²·s^0.5).
    AbsorptionCoefficient,
    /// Mass of emissions per energy, kg/kWh.
    EmissionFactor,
    /// Events or decay per time, 1/s.
    Rate,
    /// A number of things or people.
    Count,
}

/// Everything the crate knows about one dimension; one row each in [`facts`].
struct Facts {
    name: &'static str,
    canonical: &'static str,
    example: &'static str,
    signature: Signature,
    /// The canonical unit in base units of the slots.
    factor: f64,
}

impl Dimension {
    /// Every dimension, in a fixed order; of two that share their units the more common comes first.
    pub const ALL: [Self; 46] = [
        Self::Length,
        Self::Area,
        Self::Volume,
        Self::VolumeFlow,
        Self::MassFlow,
        Self::Mass,
        Self::Temperature,
        Self::TemperatureDifference,
        Self::Conductivity,
        Self::Resistance,
        Self::Transmittance,
        Self::LinearTransmittance,
        Self::PointTransmittance,
        Self::Density,
        Self::ArealDensity,
        Self::SpecificHeat,
        Self::ArealHeatCapacity,
        Self::HeatCapacity,
        Self::VolumetricHeatCapacity,
        Self::Permeance,
        Self::Permeability,
        Self::AirLayer,
        Self::VapourFactor,
        Self::Power,
        Self::PowerPerArea,
        Self::Energy,
        Self::EnergyPerArea,
        Self::Pressure,
        Self::AirChange,
        Self::Concentration,
        Self::Money,
        Self::EnergyPrice,
        Self::Time,
        Self::Ratio,
        Self::Angle,
        Self::Speed,
        Self::SpecificFanPower,
        Self::AirPermeability,
        Self::FlowPerPerson,
        Self::FlowPerArea,
        Self::FlowPerLength,
        Self::Precipitation,
        Self::AbsorptionCoefficient,
        Self::EmissionFactor,
        Self::Rate,
        Self::Count,
    ];

    /// Returns the plain name, such as `length`.
    pub fn name(self) -> &'static str {
        self.facts().name
    }

    /// Returns the name with its article, such as `an area`.
    pub fn with_article(self) -> String {
        let name = self.name();
        let article = if name.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
        format!("{article} {name}")
    }

    /// Returns the unit every value of this dimension has inside the engine; empty for plain numbers.
    /// For money it is the dollar, standing for whichever currency was written.
    pub fn canonical_unit(self) -> &'static str {
        self.facts().canonical
    }

    /// Returns a text that reads as this dimension, as people write it.
    pub fn example(self) -> &'static str {
        self.facts().example
    }

    /// Tells whether a bare number is an error.
    pub fn needs_unit(self) -> bool {
        !matches!(self, Self::Ratio | Self::Count | Self::VapourFactor)
    }

    pub(crate) fn factor(self) -> f64 {
        self.facts().factor
    }

    pub(crate) fn signature(self) -> Signature {
        self.facts().signature
    }

    /// Tells whether a unit with this signature can be a unit of the dimension.
    pub(crate) fn accepts(self, found: Signature) -> bool {
        let own = self.signature();
        let marker = |slot, halves: &[i8]| halves.contains(&found.halves(slot));
        match self {
            Self::Energy | Self::EnergyPerArea | Self::Precipitation => {
                marker(Slot::Year, &[0, -2]) && found.without(Slot::Year) == own
            }
            Self::FlowPerPerson => marker(Slot::Person, &[0, -2]) && found.without(Slot::Person) == own,
            Self::Count => marker(Slot::Person, &[0, 2]) && found.without(Slot::Person) == own,
            Self::Time => found == own || found == Signature::of(&[(Slot::Year, 1)]),
            _ => found == own,
        }
    }

    fn facts(self) -> Facts {
        use Slot::{Angle, Energy, Length, Mass, Money, Parts, Pressure, Temperature, Time};
        let row = |name, canonical, example, factor, pairs: &[(Slot, i8)]| Facts {
            name,
            canonical,
            example,
            signature: Signature::of(pairs),
            factor,
        };
        let per_hour = 1.0 / 3600.0;
        match self {
            Self::Length => row("length", "m", "7 1/2 in", 1.0, &[(Length, 1)]),
            Self::Area => row("area", "m²", "120 ft²", 1.0, &[(Length, 2)]),
            Self::Volume => row("volume", "m³", "40 m³", 1.0, &[(Length, 3)]),
            Self::VolumeFlow => row("volume flow", "m³/s", "85 cfm", 1.0, &[(Length, 3), (Time, -1)]),
            Self::MassFlow => row("mass flow", "kg/s", "0.2 kg/s", 1.0, &[(Mass, 1), (Time, -1)]),
            Self::Mass => row("mass", "kg", "12 kg", 1.0, &[(Mass, 1)]),
            Self::Temperature => row("temperature", "°C", "21 °C", 1.0, &[(Temperature, 1)]),
            Self::TemperatureDifference => {
                row("temperature difference", "K", "5 K", 1.0, &[(Temperature, 1)])
            }
            Self::Conductivity => row(
                "thermal conductivity",
                "W/(m·K)",
                "0.035 W/(m·K)",
                1.0,
                &[(Energy, 1), (Time, -1), (Length, -1), (Temperature, -1)],
            ),
            Self::Resistance => row(
                "thermal resistance",
                "m²·K/W",
                "R-31",
                1.0,
                &[(Length, 2), (Temperature, 1), (Time, 1), (Energy, -1)],
            ),
            Self::Transmittance => row(
                "thermal transmittance",
                "W/(m²·K)",
                "0.18 W/(m²·K)",
                1.0,
                &[(Energy, 1), (Time, -1), (Length, -2), (Temperature, -1)],
            ),
            Self::LinearTransmittance => row(
                "linear thermal transmittance",
                "W/(m·K)",
                "0.03 W/(m·K)",
                1.0,
                &[(Energy, 1), (Time, -1), (Length, -1), (Temperature, -1)],
            ),
            Self::PointTransmittance => row(
                "point thermal transmittance",
                "W/K",
                "0.005 W/K",
                1.0,
                &[(Energy, 1), (Time, -1), (Temperature, -1)],
            ),
            Self::Density => row("density", "kg/m³", "56 kg/m³", 1.0, &[(Mass, 1), (Length, -3)]),
            Self::ArealDensity => row("mass per area", "kg/m²", "350 g/m²", 1.0, &[(Mass, 1), (Length, -2)]),
            Self::SpecificHeat => row(
                "specific heat capacity",
                "J/(kg·K)",
                "1600 J/(kg·K)",
                1.0,
                &[(Energy, 1), (Mass, -1), (Temperature, -1)],
            ),
            Self::ArealHeatCapacity => row(
                "heat capacity per area",
                "J/(m²·K)",
                "60 kJ/(m²·K)",
                1.0,
                &[(Energy, 1), (Length, -2), (Temperature, -1)],
            ),
            Self::HeatCapacity => {
                row("heat capacity", "J/K", "12 MJ/K", 1.0, &[(Energy, 1), (Temperature, -1)])
            }
            Self::VolumetricHeatCapacity => row(
                "heat capacity per volume",
                "J/(m³·K)",
                "2.0 MJ/(m³·K)",
                1.0,
                &[(Energy, 1), (Length, -3), (Temperature, -1)],
            ),
            Self::Permeance => row(
                "vapour permeance",
                "kg/(m²·s·Pa)",
                "1 perm",
                1.0,
                &[(Mass, 1), (Length, -2), (Time, -1), (Pressure, -1)],
            ),
            Self::Permeability => row(
                "vapour permeability",
                "kg/(m·s·Pa)",
                "2 perm·in",
                1.0,
                &[(Mass, 1), (Length, -1), (Time, -1), (Pressure, -1)],
            ),
            Self::AirLayer => row("equivalent air layer", "m", "sd 2 m", 1.0, &[(Length, 1)]),
            Self::VapourFactor => row("vapour resistance factor", "", "10", 1.0, &[]),
            Self::Power => row("power", "W", "1.2 kW", 1.0, &[(Energy, 1), (Time, -1)]),
            Self::PowerPerArea => {
                row("power per area", "W/m²", "10 W/m²", 1.0, &[(Energy, 1), (Time, -1), (Length, -2)])
            }
            Self::Energy => row("energy", "J", "3 kWh", 1.0, &[(Energy, 1)]),
            Self::EnergyPerArea => {
                row("energy per area", "J/m²", "15 kWh/(m²·a)", 1.0, &[(Energy, 1), (Length, -2)])
            }
            Self::Pressure => row("pressure", "Pa", "50 Pa", 1.0, &[(Pressure, 1)]),
            Self::AirChange => row("air change rate", "1/h", "0.6 1/h", per_hour, &[(Time, -1)]),
            Self::Concentration => row("concentration", "ppm", "1000 ppm", 1.0, &[(Parts, 1)]),
            Self::Money => row("sum of money", "$", "$900", 1.0, &[(Money, 1)]),
            Self::EnergyPrice => {
                row("price of energy", "$/kWh", "0.18 $/kWh", 1.0 / 3.6e6, &[(Money, 1), (Energy, -1)])
            }
            Self::Time => row("time", "s", "15 min", 1.0, &[(Time, 1)]),
            Self::Ratio => row("ratio", "", "12 %", 1.0, &[]),
            Self::Angle => row("angle", "°", "30°", 1.0, &[(Angle, 1)]),
            Self::Speed => row("speed", "m/s", "4 m/s", 1.0, &[(Length, 1), (Time, -1)]),
            Self::SpecificFanPower => {
                row("specific fan power", "Wh/m³", "0.40 Wh/m³", 3600.0, &[(Energy, 1), (Length, -3)])
            }
            Self::AirPermeability => {
                row("air permeability", "m³/(h·m²)", "0.6 m³/(h·m²)", per_hour, &[(Length, 1), (Time, -1)])
            }
            Self::FlowPerPerson => {
                row("air flow per person", "m³/(s·person)", "20 cfm/person", 1.0, &[(Length, 3), (Time, -1)])
            }
            Self::FlowPerArea => {
                row("air flow per area", "m³/(s·m²)", "0.06 cfm/ft²", 1.0, &[(Length, 1), (Time, -1)])
            }
            Self::FlowPerLength => {
                row("air flow per length", "m³/(s·m)", "0.5 m³/(h·m)", 1.0, &[(Length, 2), (Time, -1)])
            }
            Self::Precipitation => row("depth of rain", "mm", "12 mm", 1e-3, &[(Length, 1)]),
            Self::AbsorptionCoefficient => Facts {
                signature: Signature::of(&[(Mass, 1), (Length, -2)]).with_half(Time, -1),
                ..row("water absorption coefficient", "kg/(m²·s^0.5)", "0.05 kg/(m²·s^0.5)", 1.0, &[])
            },
            Self::EmissionFactor => {
                row("emission factor", "kg/kWh", "0.35 kg/kWh", 1.0 / 3.6e6, &[(Mass, 1), (Energy, -1)])
            }
            Self::Rate => row("rate", "1/s", "2 1/h", 1.0, &[(Time, -1)]),
            Self::Count => row("number", "", "9", 1.0, &[]),
        }
    }
}
