//! Refuses drivers and models the kernel could not run, naming what is wrong.

use super::input::{Drivers, LeakFrom, LeakLaw, Model, Outside};

/// Why a run cannot start.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum KernelError {
    /// A list has another length than the drivers or the model ask for.
    #[error("{what} has {found} values, {expected} are needed")]
    Length {
        /// Which list.
        what: String,
        /// Its length.
        found: usize,
        /// The length needed.
        expected: usize,
    },
    /// An index points past its list.
    #[error("{what} points to number {index} of {count}")]
    Index {
        /// Which index.
        what: String,
        /// Its value.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// A number that must be finite, and positive or at least zero, is not.
    #[error("{what} is {value}, which is not {needed}")]
    Number {
        /// Which number.
        what: String,
        /// Its value.
        value: f64,
        /// What it must be.
        needed: &'static str,
    },
    /// Two lanes have different zones, elements or modes.
    #[error("lane {lane} has another structure than lane 0: {what}")]
    Structure {
        /// The lane.
        lane: usize,
        /// What differs.
        what: &'static str,
    },
    /// More zones than the kernel is compiled for.
    #[error("{zones} zones, at most {most} are possible")]
    TooManyZones {
        /// Zones asked for.
        zones: usize,
        /// The greatest number.
        most: usize,
    },
    /// A trace was asked of several lanes.
    #[error("a trace keeps every step of one lane; {lanes} were given")]
    TraceOfLanes {
        /// Lanes given.
        lanes: usize,
    },
}

type Checked = Result<(), KernelError>;

fn length(what: &str, found: usize, expected: usize) -> Checked {
    if found == expected {
        Ok(())
    } else {
        Err(KernelError::Length { what: what.to_owned(), found, expected })
    }
}

fn index(what: &str, index: usize, count: usize) -> Checked {
    if index < count { Ok(()) } else { Err(KernelError::Index { what: what.to_owned(), index, count }) }
}

fn positive(what: &str, value: f64) -> Checked {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(KernelError::Number { what: what.to_owned(), value, needed: "a number above zero" })
    }
}

fn not_negative(what: &str, value: f64) -> Checked {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(KernelError::Number { what: what.to_owned(), value, needed: "zero or a number above" })
    }
}

/// Checks drivers against themselves.
pub(crate) fn drivers(d: &Drivers) -> Checked {
    if d.steps_per_hour == 0 || d.hours == 0 || !d.hours.is_multiple_of(24) {
        return Err(KernelError::Number {
            what: "the number of hours (or steps an hour)".into(),
            value: d.hours as f64,
            needed: "a whole number of days",
        });
    }
    length("outdoor temperature", d.outdoor_c.len(), d.steps())?;
    length("outdoor humidity", d.outdoor_kg_kg.len(), d.steps())?;
    length("state of use", d.use_of_step.len(), d.steps())?;
    length("wind", d.wind_m_s.len(), d.hours)?;
    positive("air pressure", d.pressure_pa)?;
    for (i, s) in d.surroundings.iter().enumerate() {
        length(&format!("irradiance of surroundings {i}"), s.irradiance_w_m2.len(), d.hours)?;
        length(&format!("radiant temperature of surroundings {i}"), s.radiant_c.len(), d.hours)?;
    }
    for (i, s) in d.given.iter().enumerate() {
        length(&format!("given temperature {i}"), s.temperature_c.len(), d.hours)?;
        if !s.humidity_kg_kg.is_empty() {
            length(&format!("given humidity {i}"), s.humidity_kg_kg.len(), d.hours)?;
        }
    }
    for (i, a) in d.apertures.iter().enumerate() {
        length(&format!("incident sun of aperture {i}"), a.incident_w_m2.len(), d.hours)?;
        length(&format!("transmitted sun of aperture {i}"), a.transmitted_w_m2.len(), d.hours)?;
        length(&format!("inward heat of aperture {i}"), a.inward_w_m2.len(), d.hours)?;
    }
    for (i, m) in d.machines.iter().enumerate() {
        length(&format!("heat of machine {i}"), m.heat_w.len(), d.hours)?;
        length(&format!("vapour of machine {i}"), m.vapour_kg_s.len(), d.hours)?;
    }
    for (what, series) in [("outdoor temperature", &d.outdoor_c), ("outdoor humidity", &d.outdoor_kg_kg)] {
        if let Some(value) = series.iter().find(|v| !v.is_finite()) {
            return Err(KernelError::Number { what: what.into(), value: *value, needed: "a finite number" });
        }
    }
    for wind in &d.wind_m_s {
        not_negative("wind", *wind)?;
    }
    let highest = d.use_of_step.iter().copied().max().unwrap_or(0) as usize;
    index("a step's state of use", highest, d.uses.len())?;
    let mut before = 0;
    for end in &d.bin_ends {
        if *end <= before {
            return Err(KernelError::Number {
                what: "the end of a balance period".into(),
                value: *end as f64,
                needed: "later than the one before",
            });
        }
        before = *end;
    }
    length("the last balance period's end", before, d.hours)
}

/// Checks one model against the drivers.
pub(crate) fn model(d: &Drivers, m: &Model) -> Checked {
    let zones = m.zones.len();
    index("the first zone", 0, zones)?;
    for machine in &d.machines {
        index("the zone of a machine", machine.zone, zones)?;
    }
    index("the first air mode", 0, m.air_modes.len())?;
    positive("heat of air", m.air_heat_j_m3k)?;
    positive("density of air", m.air_density_kg_m3)?;
    for (i, z) in m.zones.iter().enumerate() {
        positive(&format!("volume of zone {i}"), z.volume_m3)?;
        not_negative(&format!("heat capacity of zone {i}"), z.heat_capacity_j_k)?;
        not_negative(&format!("bridges of zone {i}"), z.bridges_w_k)?;
        if z.buffers.len() > 2 {
            return Err(KernelError::Length {
                what: format!("moisture buffers of zone {i} (at most two)"),
                found: z.buffers.len(),
                expected: 2,
            });
        }
    }
    for (i, e) in m.elements.iter().enumerate() {
        let name = format!("element {i}");
        index(&format!("assembly of {name}"), e.assembly, m.assemblies.len())?;
        index(&format!("zone of {name}"), e.inside.zone, zones)?;
        positive(&format!("area of {name}"), e.area_m2)?;
        positive(&format!("inside film of {name}"), e.inside.convection_w_m2k + e.inside.radiation_w_m2k)?;
        match e.outside {
            Outside::Air { surroundings, .. } => {
                index(&format!("surroundings of {name}"), surroundings, d.surroundings.len())?;
            }
            Outside::Given { series, film_w_m2k } => {
                index(&format!("given temperature of {name}"), series, d.given.len())?;
                positive(&format!("outside film of {name}"), film_w_m2k)?;
            }
            Outside::Zone(face) => index(&format!("far zone of {name}"), face.zone, zones)?,
            Outside::Adiabatic => {}
        }
    }
    for (i, a) in m.assemblies.iter().enumerate() {
        positive(&format!("conductance of assembly {i}"), a.conductance_w_m2k)?;
        for mode in &a.modes {
            positive(&format!("a mode's rate in assembly {i}"), mode.rate_per_s)?;
        }
    }
    for (i, g) in m.glass.iter().enumerate() {
        index(&format!("zone of glass {i}"), g.zone, zones)?;
        index(&format!("aperture of glass {i}"), g.aperture, d.apertures.len())?;
    }
    for (i, l) in m.leaks.iter().enumerate() {
        index(&format!("zone of leak {i}"), l.zone, zones)?;
        if let LeakFrom::Given(series) = l.from {
            index(&format!("source of leak {i}"), series, d.given.len())?;
            length(
                &format!("humidity of the air behind leak {i}"),
                d.given[series].humidity_kg_kg.len(),
                d.hours,
            )?;
        }
        if let LeakLaw::Hourly { table, .. } = l.law {
            index(&format!("flow table of leak {i}"), table, d.hourly_flows.tables.len())?;
        }
    }
    for (i, a) in m.air_modes.iter().enumerate() {
        length(&format!("supply of air mode {i}"), a.supply_m3_s.len(), zones)?;
        length(&format!("extract of air mode {i}"), a.extract_m3_s.len(), zones)?;
        for (from, to, _) in &a.between_m3_s {
            index(&format!("air between zones in mode {i}"), *from.max(to), zones)?;
        }
    }
    for (i, u) in d.uses.iter().enumerate() {
        length(&format!("zones of state of use {i}"), u.zones.len(), zones)?;
        index(&format!("air mode of state of use {i}"), u.air_mode, m.air_modes.len())?;
    }
    if m.leaks.iter().any(|l| matches!(l.law, LeakLaw::Hourly { .. })) {
        hourly_flows(d)?;
    }
    for watch in &d.watches {
        index("zone of a watched stretch", watch.zone, zones)?;
    }
    Ok(())
}

/// Every hour has a slot for each air mode that runs in it, and every table a number for each slot.
fn hourly_flows(d: &Drivers) -> Checked {
    let slots = d.hourly_flows.mode.len();
    for (i, table) in d.hourly_flows.tables.iter().enumerate() {
        length(&format!("flows of table {i}"), table.flow_m3_s.len(), slots)?;
        length(&format!("flows per kelvin of table {i}"), table.per_k.len(), slots)?;
    }
    for (step, place) in d.use_of_step.iter().enumerate() {
        let (hour, mode) = (step / d.steps_per_hour, d.uses[usize::from(*place)].air_mode);
        if d.hourly_flows.slot(hour, mode).is_none() {
            return Err(KernelError::Index {
                what: format!("flow through leaks in hour {hour}, air mode {mode},"),
                index: mode,
                count: 0,
            });
        }
    }
    Ok(())
}

/// Checks that a lane has the structure of the first.
pub(crate) fn same_structure(lane: usize, first: &Model, other: &Model) -> Checked {
    let differs = |what| Err(KernelError::Structure { lane, what });
    if first.zones.len() != other.zones.len() {
        return differs("zones");
    }
    if first.elements.len() != other.elements.len() || first.assemblies.len() != other.assemblies.len() {
        return differs("elements");
    }
    let alike = |a: &Outside, b: &Outside| match (a, b) {
        (Outside::Air { surroundings: x, .. }, Outside::Air { surroundings: y, .. }) => x == y,
        (Outside::Given { series: x, .. }, Outside::Given { series: y, .. }) => x == y,
        (Outside::Zone(x), Outside::Zone(y)) => x.zone == y.zone,
        (Outside::Adiabatic, Outside::Adiabatic) => true,
        _ => false,
    };
    for (a, b) in first.elements.iter().zip(&other.elements) {
        if a.assembly != b.assembly || a.inside.zone != b.inside.zone || !alike(&a.outside, &b.outside) {
            return differs("an element's place");
        }
    }
    if first.glass.len() != other.glass.len()
        || first.glass.iter().zip(&other.glass).any(|(a, b)| a.zone != b.zone || a.aperture != b.aperture)
    {
        return differs("glass");
    }
    if first.leaks.len() != other.leaks.len()
        || first.leaks.iter().zip(&other.leaks).any(|(a, b)| {
            a.zone != b.zone
                || a.from != b.from
                || std::mem::discriminant(&a.law) != std::mem::discriminant(&b.law)
        })
    {
        return differs("leaks");
    }
    if first.air_modes.len() != other.air_modes.len()
        || first.air_modes.iter().zip(&other.air_modes).any(|(a, b)| {
            a.between_m3_s.len() != b.between_m3_s.len()
                || a.between_m3_s.iter().zip(&b.between_m3_s).any(|(x, y)| (x.0, x.1) != (y.0, y.1))
        })
    {
        return differs("air modes");
    }
    if first
        .zones
        .iter()
        .zip(&other.zones)
        .any(|(a, b)| a.buffers.len() != b.buffers.len() || a.airing.is_some() != b.airing.is_some())
    {
        return differs("buffers or airing");
    }
    Ok(())
}
