//! The unit table: every unit by itself ("atom"), its spellings, its factor and where the factor comes from.
//!
//! Combined units such as `Btu·in/(h·ft²·°F)` are put together from these by [`unit`](crate::unit).
//! Factors are to the base of each slot: m, kg, s, K, J, Pa, degree of angle, ppm.

use crate::signature::{Signature, Slot};

/// Where a unit's factor comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FactorSource {
    /// Exact by its definition (SI Brochure, or the 1959 yard and pound).
    Definition,
    /// NIST Special Publication 811 (2008), Appendix B.
    Nist811,
    /// Computed from units above by what its name says, such as cubic feet per minute.
    Derived,
    /// Common practice of the trade, no source.
    CommonPractice,
}

/// Which system a unit belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Both,
    Us,
    Si,
}

/// Zero and size of a temperature scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Scale {
    Celsius,
    Fahrenheit,
    Kelvin,
}

/// A currency; amounts are kept in it and never converted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
#[allow(missing_docs, reason = "the codes of ISO 4217 are their own documentation")]
pub enum Currency {
    Usd,
    Eur,
    Gbp,
    Cad,
    Aud,
    Nzd,
    Chf,
    Sek,
    Nok,
    Dkk,
    Jpy,
}

impl Currency {
    /// Returns the code of ISO 4217.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Usd => "USD",
            Self::Eur => "EUR",
            Self::Gbp => "GBP",
            Self::Cad => "CAD",
            Self::Aud => "AUD",
            Self::Nzd => "NZD",
            Self::Chf => "CHF",
            Self::Sek => "SEK",
            Self::Nok => "NOK",
            Self::Dkk => "DKK",
            Self::Jpy => "JPY",
        }
    }

    /// Returns the sign written before an amount, for the currencies that have one of their own here.
    pub const fn sign(self) -> Option<&'static str> {
        match self {
            Self::Usd => Some("$"),
            Self::Eur => Some("€"),
            Self::Gbp => Some("£"),
            _ => None,
        }
    }
}

/// One unit.
#[derive(Debug)]
pub(crate) struct Atom {
    /// Spellings that must match exactly and may touch their neighbours, as in `kWh` or `mK`.
    pub symbols: &'static [&'static str],
    /// Spellings in any case that end at a word's end; a blank in them matches blanks, dots and hyphens or nothing.
    pub words: &'static [&'static str],
    pub factor: f64,
    pub signature: Signature,
    pub side: Side,
    pub source: FactorSource,
    pub scale: Option<Scale>,
    pub currency: Option<Currency>,
    /// A share of something: `%` after `±` is relative.
    pub percent: bool,
}

impl Atom {
    /// Returns the spelling to show.
    pub(crate) fn name(&self) -> &'static str {
        self.symbols.first().or(self.words.first()).copied().unwrap_or_default()
    }
}

const fn atom(
    symbols: &'static [&'static str],
    words: &'static [&'static str],
    factor: f64,
    signature: Signature,
    side: Side,
    source: FactorSource,
) -> Atom {
    Atom { symbols, words, factor, signature, side, source, scale: None, currency: None, percent: false }
}

const fn scale(symbols: &'static [&'static str], words: &'static [&'static str], scale: Scale) -> Atom {
    let (factor, side) = match scale {
        Scale::Celsius => (1.0, Si),
        Scale::Fahrenheit => (DEGREE_F_K, Us),
        Scale::Kelvin => (1.0, Si),
    };
    let out = atom(symbols, words, factor, TEMPERATURE, side, Definition);
    Atom { scale: Some(scale), ..out }
}

const fn money(symbols: &'static [&'static str], words: &'static [&'static str], currency: Currency) -> Atom {
    let out = atom(symbols, words, 1.0, Signature::of(&[(Slot::Money, 1)]), Both, Definition);
    Atom { currency: Some(currency), ..out }
}

use FactorSource::{CommonPractice, Definition, Derived, Nist811};
use Side::{Both, Si, Us};

/// Metres in an inch, exact since 1959.
pub(crate) const INCH_M: f64 = 0.0254;
/// Metres in a foot, exact since 1959.
pub(crate) const FOOT_M: f64 = 0.3048;
/// Kilograms in a pound avoirdupois, exact since 1959.
const POUND_KG: f64 = 0.453_592_37;
/// Kilograms in a grain: 1/7000 pound, exact.
const GRAIN_KG: f64 = 6.479_891e-5;
/// Joules in a Btu of the International Table: 1 lb·°F of 4186.8 J/(kg·K), exact.
const BTU_J: f64 = 1_055.055_852_62;
/// Kelvins in a degree Fahrenheit, exact.
const DEGREE_F_K: f64 = 5.0 / 9.0;
/// Newtons in a pound-force: the pound times standard gravity 9.806 65 m/s², exact.
const POUND_FORCE_N: f64 = 4.448_221_615_260_5;
/// Pascals in a conventional millimetre of mercury (13 595.1 kg/m³ under standard gravity), exact.
const MILLIMETRE_MERCURY_PA: f64 = 133.322_387_415;
/// Pascals in a conventional inch of mercury.
const INCH_MERCURY_PA: f64 = 25.4 * MILLIMETRE_MERCURY_PA;
/// Pascals in a conventional millimetre of water (1000 kg/m³ under standard gravity), exact.
const MILLIMETRE_WATER_PA: f64 = 9.806_65;
/// Cubic metres in a US gallon: 231 cubic inches, exact.
const GALLON_M3: f64 = 3.785_411_784e-3;
/// kg/(m²·s·Pa) in a perm: a grain through a square foot in an hour under a conventional inch of mercury
/// (the perm at 0 °C).
const PERM: f64 = GRAIN_KG / (3600.0 * FOOT_M * FOOT_M * INCH_MERCURY_PA);
/// Seconds in the year of a weather file, 8760 h.
pub(crate) const YEAR_S: f64 = 31_536_000.0;

const NONE: Signature = Signature::NONE;
const LENGTH: Signature = Signature::of(&[(Slot::Length, 1)]);
const AREA: Signature = Signature::of(&[(Slot::Length, 2)]);
const VOLUME: Signature = Signature::of(&[(Slot::Length, 3)]);
const FLOW: Signature = Signature::of(&[(Slot::Length, 3), (Slot::Time, -1)]);
const SPEED: Signature = Signature::of(&[(Slot::Length, 1), (Slot::Time, -1)]);
const MASS: Signature = Signature::of(&[(Slot::Mass, 1)]);
const TIME: Signature = Signature::of(&[(Slot::Time, 1)]);
const PER_TIME: Signature = Signature::of(&[(Slot::Time, -1)]);
const TEMPERATURE: Signature = Signature::of(&[(Slot::Temperature, 1)]);
const ENERGY: Signature = Signature::of(&[(Slot::Energy, 1)]);
const POWER: Signature = Signature::of(&[(Slot::Energy, 1), (Slot::Time, -1)]);
const FLUX: Signature = Signature::of(&[(Slot::Energy, 1), (Slot::Time, -1), (Slot::Length, -2)]);
const RESISTANCE: Signature =
    Signature::of(&[(Slot::Length, 2), (Slot::Temperature, 1), (Slot::Time, 1), (Slot::Energy, -1)]);
const PRESSURE: Signature = Signature::of(&[(Slot::Pressure, 1)]);
const PERMEANCE: Signature =
    Signature::of(&[(Slot::Mass, 1), (Slot::Length, -2), (Slot::Time, -1), (Slot::Pressure, -1)]);
const ANGLE: Signature = Signature::of(&[(Slot::Angle, 1)]);

/// Every unit. Order decides nothing but which of two equally near spellings a hint names.
pub(crate) static ATOMS: &[Atom] = &[
    // Length
    atom(&["m"], &["metre", "metres", "meter", "meters"], 1.0, LENGTH, Si, Definition),
    atom(&["mm"], &["millimetre", "millimetres", "millimeter", "millimeters"], 1e-3, LENGTH, Si, Definition),
    atom(&["cm"], &["centimetre", "centimetres", "centimeter", "centimeters"], 1e-2, LENGTH, Si, Definition),
    atom(&["dm"], &[], 0.1, LENGTH, Si, Definition),
    atom(&["km"], &["kilometre", "kilometres", "kilometer", "kilometers"], 1e3, LENGTH, Si, Definition),
    atom(&["µm", "um"], &["micron", "microns"], 1e-6, LENGTH, Si, Definition),
    atom(&["nm"], &[], 1e-9, LENGTH, Si, Definition),
    atom(&["in", "\""], &["inch", "inches"], INCH_M, LENGTH, Us, Definition),
    atom(&["ft", "'"], &["foot", "feet"], FOOT_M, LENGTH, Us, Definition),
    atom(&["yd"], &["yard", "yards", "yds"], 0.9144, LENGTH, Us, Definition),
    atom(&["mi"], &["mile", "miles"], 1609.344, LENGTH, Us, Definition),
    atom(&["mil"], &["mils"], 2.54e-5, LENGTH, Us, Definition),
    // Area
    atom(&["ha"], &["hectare", "hectares"], 1e4, AREA, Si, Definition),
    atom(&[], &["sq m"], 1.0, AREA, Si, Definition),
    atom(
        &["sf"],
        &["sq ft", "sqft", "sq feet", "square feet", "square foot"],
        FOOT_M * FOOT_M,
        AREA,
        Us,
        Derived,
    ),
    atom(&[], &["sq in", "square inches", "square inch"], INCH_M * INCH_M, AREA, Us, Derived),
    // Volume
    atom(&["L", "l"], &["litre", "litres", "liter", "liters"], 1e-3, VOLUME, Si, Definition),
    atom(&["mL", "ml"], &[], 1e-6, VOLUME, Si, Definition),
    atom(&["gal"], &["gallon", "gallons", "us gal", "us gallons"], GALLON_M3, VOLUME, Us, Definition),
    atom(&[], &["cu ft", "cubic feet", "cubic foot"], FOOT_M * FOOT_M * FOOT_M, VOLUME, Us, Derived),
    atom(&[], &["cu m", "cubic metres", "cubic meters"], 1.0, VOLUME, Si, Derived),
    atom(&[], &["cu yd", "cubic yards"], 0.9144 * 0.9144 * 0.9144, VOLUME, Us, Derived),
    // Flow and speed
    atom(&[], &["cfm", "cfm50", "cfm 50"], FOOT_M * FOOT_M * FOOT_M / 60.0, FLOW, Us, Derived),
    atom(&[], &["gpm"], GALLON_M3 / 60.0, FLOW, Us, Derived),
    atom(&[], &["lps"], 1e-3, FLOW, Si, Derived),
    atom(&[], &["cmh"], 1.0 / 3600.0, FLOW, Si, Derived),
    atom(&[], &["mph"], 1609.344 / 3600.0, SPEED, Us, Derived),
    atom(&[], &["fpm"], FOOT_M / 60.0, SPEED, Us, Derived),
    atom(&["kn"], &["knot", "knots"], 1852.0 / 3600.0, SPEED, Both, Definition),
    // Mass
    atom(&["kg"], &["kilogram", "kilograms"], 1.0, MASS, Si, Definition),
    atom(&["g"], &["gram", "grams"], 1e-3, MASS, Si, Definition),
    atom(&["mg"], &[], 1e-6, MASS, Si, Definition),
    atom(&["µg", "ug"], &[], 1e-9, MASS, Si, Definition),
    atom(&["ng"], &[], 1e-12, MASS, Si, Definition),
    atom(&["t"], &["tonne", "tonnes"], 1e3, MASS, Si, Definition),
    atom(&["lb"], &["lbs", "lbm", "pound", "pounds"], POUND_KG, MASS, Us, Definition),
    atom(&["oz"], &["ounce", "ounces"], POUND_KG / 16.0, MASS, Us, Definition),
    atom(&["gr"], &["grain", "grains"], GRAIN_KG, MASS, Us, Definition),
    // Time
    atom(&["s"], &["sec", "secs", "second", "seconds"], 1.0, TIME, Both, Definition),
    atom(&["min"], &["mins", "minute", "minutes"], 60.0, TIME, Both, Definition),
    atom(&["h"], &["hr", "hrs", "hour", "hours"], 3600.0, TIME, Both, Definition),
    atom(&["d"], &["day", "days"], 86_400.0, TIME, Both, Definition),
    atom(&["wk"], &["week", "weeks"], 604_800.0, TIME, Both, Definition),
    atom(
        &["a"],
        &["yr", "yrs", "year", "years"],
        1.0,
        Signature::of(&[(Slot::Year, 1)]),
        Both,
        CommonPractice,
    ),
    // Air change
    atom(&[], &["ach", "ach50", "ach 50"], 1.0 / 3600.0, PER_TIME, Both, Derived),
    // Temperature
    scale(&["°C"], &["deg c", "celsius", "c"], Scale::Celsius),
    scale(&["°F"], &["deg f", "fahrenheit", "f"], Scale::Fahrenheit),
    scale(&["K"], &["kelvin", "kelvins"], Scale::Kelvin),
    atom(&["C°"], &["c deg"], 1.0, TEMPERATURE, Si, Definition),
    atom(&["F°"], &["f deg"], DEGREE_F_K, TEMPERATURE, Us, Definition),
    // `F` and `C` also close up to their neighbours, as in `ft²F`.
    atom(&["F"], &[], DEGREE_F_K, TEMPERATURE, Us, Definition),
    atom(&["C"], &[], 1.0, TEMPERATURE, Si, Definition),
    // Energy
    atom(&["J"], &["joule", "joules"], 1.0, ENERGY, Si, Definition),
    atom(&["kJ"], &[], 1e3, ENERGY, Si, Definition),
    atom(&["MJ"], &[], 1e6, ENERGY, Si, Definition),
    atom(&["GJ"], &[], 1e9, ENERGY, Si, Definition),
    atom(&["Wh"], &[], 3.6e3, ENERGY, Both, Definition),
    atom(&["kWh"], &["kwh", "kwhr"], 3.6e6, ENERGY, Both, Definition),
    atom(&["MWh"], &[], 3.6e9, ENERGY, Both, Definition),
    atom(&["Btu", "BTU"], &["btu", "btus"], BTU_J, ENERGY, Us, Definition),
    atom(&["kBtu"], &["kbtu"], 1e3 * BTU_J, ENERGY, Us, Definition),
    atom(&["MMBtu"], &["mmbtu"], 1e6 * BTU_J, ENERGY, Us, Definition),
    atom(&[], &["therm", "therms"], 1.054_804e8, ENERGY, Us, Nist811),
    atom(&["kcal"], &[], 4186.8, ENERGY, Both, Definition),
    // Power
    atom(&["W"], &["watt", "watts"], 1.0, POWER, Both, Definition),
    atom(&["kW"], &["kw"], 1e3, POWER, Both, Definition),
    atom(&["MW"], &[], 1e6, POWER, Both, Definition),
    atom(&[], &["btuh"], BTU_J / 3600.0, POWER, Us, Derived),
    atom(&["kBtuh", "MBH"], &["kbtuh", "mbh"], 1e3 * BTU_J / 3600.0, POWER, Us, Derived),
    atom(
        &[],
        &[
            "ton",
            "tons",
            "ton of cooling",
            "tons of cooling",
            "ton of refrigeration",
            "tons of refrigeration",
        ],
        12e3 * BTU_J / 3600.0,
        POWER,
        Us,
        Definition,
    ),
    atom(&["hp"], &["horsepower"], 550.0 * FOOT_M * POUND_FORCE_N, POWER, Us, Definition),
    atom(&[], &["met"], 58.2, FLUX, Both, CommonPractice),
    atom(&[], &["clo"], 0.155, RESISTANCE, Both, Nist811),
    // Pressure
    atom(&["Pa"], &["pascal", "pascals"], 1.0, PRESSURE, Si, Definition),
    atom(&["hPa"], &[], 1e2, PRESSURE, Si, Definition),
    atom(&["kPa"], &[], 1e3, PRESSURE, Si, Definition),
    atom(&["MPa"], &[], 1e6, PRESSURE, Si, Definition),
    atom(&["mbar"], &[], 1e2, PRESSURE, Si, Definition),
    atom(&["bar"], &[], 1e5, PRESSURE, Si, Definition),
    atom(&["atm"], &[], 101_325.0, PRESSURE, Both, Definition),
    atom(&["psi"], &[], POUND_FORCE_N / (INCH_M * INCH_M), PRESSURE, Us, Derived),
    atom(&["psf"], &[], POUND_FORCE_N / (FOOT_M * FOOT_M), PRESSURE, Us, Derived),
    atom(
        &["inH2O", "in wc"],
        &[
            "in w g",
            "in w c",
            "in h2o",
            "in water",
            "inch w g",
            "inch w c",
            "inches of water",
            "inches w c",
            "iwc",
        ],
        25.4 * MILLIMETRE_WATER_PA,
        PRESSURE,
        Us,
        Nist811,
    ),
    atom(&["mmH2O"], &["mm h2o", "mm w c", "mm w g"], MILLIMETRE_WATER_PA, PRESSURE, Si, Nist811),
    atom(&["inHg"], &["in hg", "inches of mercury"], INCH_MERCURY_PA, PRESSURE, Us, Nist811),
    atom(&["mmHg"], &["mm hg"], MILLIMETRE_MERCURY_PA, PRESSURE, Si, Nist811),
    // Vapour
    atom(&[], &["perm", "perms", "us perm", "us perms"], PERM, PERMEANCE, Us, Derived),
    // Money
    money(&["$", "US$"], &["usd", "dollar", "dollars"], Currency::Usd),
    money(&["€"], &["eur", "euro", "euros"], Currency::Eur),
    money(&["£"], &["gbp"], Currency::Gbp),
    money(&[], &["cad"], Currency::Cad),
    money(&[], &["aud"], Currency::Aud),
    money(&[], &["nzd"], Currency::Nzd),
    money(&[], &["chf"], Currency::Chf),
    money(&[], &["sek"], Currency::Sek),
    money(&[], &["nok"], Currency::Nok),
    money(&[], &["dkk"], Currency::Dkk),
    money(&[], &["jpy"], Currency::Jpy),
    // Shares, counts, angles
    Atom { percent: true, ..atom(&["%"], &["percent", "per cent", "pct"], 0.01, NONE, Both, Definition) },
    atom(&["‰"], &[], 0.001, NONE, Both, Definition),
    atom(&[], &["ppm"], 1.0, Signature::of(&[(Slot::Parts, 1)]), Both, Definition),
    atom(&[], &["ppb"], 1e-3, Signature::of(&[(Slot::Parts, 1)]), Both, Definition),
    atom(
        &[],
        &["person", "persons", "people", "pers"],
        1.0,
        Signature::of(&[(Slot::Person, 1)]),
        Both,
        Definition,
    ),
    atom(&["°"], &["deg", "degree", "degrees"], 1.0, ANGLE, Both, Definition),
    atom(&["rad"], &[], 180.0 / std::f64::consts::PI, ANGLE, Both, Definition),
];

/// One row of the unit table, for documentation and checks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitRow {
    /// Usual spelling.
    pub name: &'static str,
    /// Size in metres, kilograms, seconds, kelvins, joules, pascals, degrees of angle or ppm.
    pub factor: f64,
    /// Where the factor comes from.
    pub source: FactorSource,
}

/// Returns the whole unit table.
pub fn units() -> impl Iterator<Item = UnitRow> {
    ATOMS.iter().map(|atom| UnitRow { name: atom.name(), factor: atom.factor, source: atom.source })
}

/// Minutes and seconds of arc; they take the place of feet and inches where an angle is read.
pub(crate) static ARC_MARKS: &[Atom] = &[
    atom(&["'"], &[], 1.0 / 60.0, ANGLE, Both, Definition),
    atom(&["\""], &[], 1.0 / 3600.0, ANGLE, Both, Definition),
];
