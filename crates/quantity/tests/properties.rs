//! What holds for every text and every value.

mod entry;

use entry::{read_as_everything, same_bits};
use proptest::prelude::*;
use quantity::{Currency, Dimension as D, Reading, Spread, read, write_exact};

/// Bits of text that quantities are made of, to reach deeper than random characters do.
fn pieces() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "1",
        "0",
        "7 1/2",
        "5.",
        ".5",
        "1e9",
        "1e-320",
        "33,722",
        "½",
        "-",
        "−",
        "–",
        "±",
        "+/-",
        "..",
        "…",
        "×/÷",
        "x/",
        "tolerance",
        "tol.",
        "%",
        "mm",
        "in",
        "ft",
        "'",
        "\"",
        "°",
        "°F",
        "C",
        "K",
        "F°",
        "R-",
        "RSI",
        "sd",
        "$",
        "USD",
        "€",
        "W",
        "m",
        "m²",
        "m2",
        "^",
        "^0.5",
        "⁻¹",
        "²",
        "/",
        "(",
        ")",
        "·",
        "*",
        " ",
        " ",
        " ",
        "h",
        "kWh",
        "Btu",
        "perm",
        "in. w.g.",
        "ACH50",
        "per",
        "person",
        "a",
        "Pa",
        "ng",
        "√",
        "1:24",
        ":",
        ",",
        "×10",
        "cfm",
        "ppm",
        "d",
        "min",
        "s",
        "kg",
        "\u{202f}000",
        "е",
        "𝟙",
        "\0",
        "ﬃ",
    ]);
    prop::collection::vec(word, 0..9).prop_map(|words| words.concat())
}

fn any_spread() -> impl Strategy<Value = Option<Spread>> {
    let positive = || (1.0..9.999f64, -30i32..30).prop_map(|(m, e)| m * 10f64.powi(e));
    prop_oneof![
        Just(None),
        positive().prop_map(|half| Some(Spread::HalfWidth95(half))),
        positive().prop_map(|half| Some(Spread::Tolerance(half))),
        (1.0000001..100.0f64).prop_map(|factor| Some(Spread::Factor95(factor))),
        (-1e9..1e9f64, positive())
            .prop_filter("apart", |(low, width)| low + width > *low)
            .prop_map(|(low, width)| Some(Spread::Range { low, high: low + width })),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn no_text_panics(text in "\\PC{0,60}") {
        read_as_everything(&text);
    }

    #[test]
    fn no_pile_of_pieces_panics(text in pieces()) {
        read_as_everything(&text);
    }

    /// Value, spread and currency survive text to the bit, whatever float it is.
    #[test]
    fn exact_round_trip(index in 0..D::ALL.len(), bits: u64, spread in any_spread()) {
        let dimension = D::ALL[index];
        let mut value = f64::from_bits(bits);
        prop_assume!(value.is_finite() && !(dimension == D::Temperature && value < -273.0));
        if let Some(Spread::Range { low, high }) = spread {
            prop_assume!(dimension != D::Temperature || low > -273.0);
            value = low / 2.0 + high / 2.0;
        }
        if matches!(spread, Some(Spread::Factor95(_))) {
            prop_assume!(dimension != D::Temperature && value != 0.0);
            value = value.abs();
        }
        let currency = matches!(dimension, D::Money | D::EnergyPrice).then_some(Currency::Eur);
        let first = Reading { value, spread, dimension, system: None, currency, written: String::new() };
        let text = write_exact(&first);
        let second = read(&text, dimension);
        prop_assert!(second.as_ref().is_ok_and(|second| same_bits(&first, second)), "{text}: {second:?}");
    }

    /// Every unit is read the same whether the figure is whole, a decimal or a power of ten.
    #[test]
    fn figures_agree(thousandths in 1u32..1_000_000) {
        let decimal = format!("{}.{:03} ft", thousandths / 1000, thousandths % 1000);
        let power = format!("{thousandths}e-3 ft");
        let fraction = format!("{thousandths}/1000 ft");
        let values = [decimal, power, fraction].map(|text| read(&text, D::Length).unwrap().value);
        prop_assert!(values.iter().all(|v| v.to_bits() == values[0].to_bits()), "{values:?}");
    }
}

#[test]
fn examples_and_canonical_units_read_as_their_own_dimension() {
    for dimension in D::ALL {
        let example = read(dimension.example(), dimension);
        assert!(example.is_ok(), "{dimension:?}: {example:?}");
        let one = format!("1 {}", dimension.canonical_unit());
        assert_eq!(read(&one, dimension).map(|r| r.value), Ok(1.0), "{one}");
        if dimension.needs_unit() {
            assert!(read("1", dimension).is_err(), "{dimension:?} takes a bare number");
        }
    }
}

#[test]
fn no_unit_is_spelled_like_another() {
    let names: Vec<&str> = quantity::units().map(|row| row.name).collect();
    for (i, name) in names.iter().enumerate() {
        assert!(!names[i + 1..].contains(name) || matches!(*name, "C" | "F"), "{name} stands twice");
    }
}
