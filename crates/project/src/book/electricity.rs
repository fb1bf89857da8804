//! `[solar.x]`, `[battery]`, `[tariff]`, `[energy]`: electricity made, kept, paid for and weighted.

use super::usage::rule;
use super::{Book, How, sections, want};
use crate::reader::{Bounds, Fields};
use building::plan::{BatteryPlan, PriceBandPlan, SolarPlan, TariffPlan};
use building::stated::Basis;
use quantity::Dimension;

const SLOPE: Bounds = Bounds::within(0.0, 180.0, "lies between 0 and 180 degrees");
const AZIMUTH: Bounds = Bounds::within(-180.0, 360.0, "lies between -180 and 360 degrees");
const PRICE: Bounds = Bounds::within(0.0, 1000.0, "is zero or more");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if top.has("solar") {
        for (name, f) in sections(book, top, "solar") {
            solar(book, name, f);
        }
    }
    battery(book, top);
    tariff(book, top);
    factors(book, top);
}

fn solar(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let plan = SolarPlan {
        name,
        peak: book.need(&mut f, "peak", want(Dimension::Power, Bounds::POSITIVE, "capacity"), &how),
        tilt: book.need(&mut f, "tilt", want(Dimension::Angle, SLOPE, "fixed"), &how),
        azimuth: book.need(&mut f, "azimuth", want(Dimension::Angle, AZIMUTH, "fixed"), &how),
    };
    f.finish(&mut book.cx);
    book.plan.electricity.solar.push(plan);
}

fn battery(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "battery") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let plan = BatteryPlan {
        capacity: book.need(&mut f, "capacity", want(Dimension::Energy, Bounds::POSITIVE, "capacity"), &how),
        power: book.need(&mut f, "power", want(Dimension::Power, Bounds::POSITIVE, "capacity"), &how),
        efficiency: book.value(
            &mut f,
            "efficiency",
            want(Dimension::Ratio, Bounds::SHARE, "efficiency"),
            &how,
        ),
    };
    f.finish(&mut book.cx);
    book.plan.electricity.battery = Some(plan);
}

/// Reads `[tariff]` with `price`, `sold`, `standing` and bands under `[tariff.band.x]`.
fn tariff(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "tariff") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let currency = f.text(&mut book.cx, "currency").map_or_else(|| "$".to_owned(), |w| w.text);
    let price = want(Dimension::EnergyPrice, PRICE, "cost");
    let mut plan = TariffPlan {
        currency,
        price: book.need(&mut f, "price", price, &how),
        sold: book.value(&mut f, "sold", price, &how),
        standing: book.value(&mut f, "standing", want(Dimension::Money, PRICE, "cost"), &how),
        bands: Vec::new(),
    };
    if let Some(mut bands) = f.table(&mut book.cx, "band") {
        for entry in bands.entries() {
            let Some(mut b) = bands.table(&mut book.cx, &entry.key) else { continue };
            let price = book.need(&mut b, "price", price, &how);
            if !b.has("when") {
                b.missing(&mut book.cx, "when", "when = \"Mon–Fri 15:00–20:00\"");
            }
            let when = b.node("when").and_then(|node| rule(book, "when", node));
            b.finish(&mut book.cx);
            plan.bands.extend(when.map(|when| PriceBandPlan { name: entry.key.clone(), price, when }));
        }
    }
    f.finish(&mut book.cx);
    book.plan.electricity.tariff = Some(plan);
}

/// Reads `[energy]` with the set of primary energy factors.
fn factors(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "energy") else { return };
    if let Some(word) = f.text(&mut book.cx, "factors") {
        let known = year::services::factor_sets();
        if known.iter().any(|set| set.starts_with(word.text.trim())) {
            book.plan.electricity.factors = Some(word.text.trim().to_owned());
        } else {
            let message = format!("no set of primary energy factors is called \"{}\"", word.text);
            book.cx.error("name", &word.place, message, format!("there are: {}", known.join("; ")));
        }
    }
    f.finish(&mut book.cx);
}
