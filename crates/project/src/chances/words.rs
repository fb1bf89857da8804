//! Causes in a builder's words.

use building::Building;

/// Names under which the book lists one kind of number for several states or hours.
const LISTS: [&str; 7] =
    ["flow", "recovery-temperature", "recovery-moisture", "power-density", "people", "supply", "extract"];

/// Names a cause: a stated value's id, a group, or a cause of our own.
pub(super) fn cause(building: &Building, id: &str) -> String {
    if let Some(group) = id.strip_prefix("group:") {
        return format!("{} (shared)", plain(group));
    }
    for (own, words) in [
        ("airtightness.expected", "the leak at the end"),
        ("airtightness.exponent", "how the leak grows with pressure"),
        ("airtightness.party", "the leak to the neighbour"),
        ("test:final", "the final reading itself"),
    ] {
        if id == own {
            return words.to_owned();
        }
    }
    if let Some(result) = id.strip_prefix("model:") {
        return format!("the calculation of {result} itself");
    }
    if let Some(result) = id.strip_prefix("weather:") {
        return format!("the weather of one year ({result})");
    }
    if id.starts_with("rule:") {
        return "which counting rule is accepted".to_owned();
    }
    if let Some(item) = id.strip_prefix("choice:") {
        return format!("whether {item} stays");
    }
    value(building, id)
}

/// `unit.sun-glass.g` → "solar gain of sun glass".
fn value(building: &Building, id: &str) -> String {
    let mut parts = split(id);
    // A list's own name says what the number is; its last part which one of the list.
    let list = parts.len().checked_sub(2).filter(|at| *at > 0 && LISTS.contains(&parts[*at].as_str()));
    if let Some(at) = list {
        parts.swap(at, at + 1);
    }
    let last = parts.last().map_or("", String::as_str);
    let what = match last {
        "g" | "glazing-g" => "solar gain",
        "u" | "glazing-u" => "U-value of the glass",
        "frame-u" => "U-value of the frame",
        "edge-psi" => "glass edge",
        "supply" => "outdoor air flow",
        "extract" => "exhaust air flow",
        "power" => "fan power",
        "co2" => "CO2 of a person",
        "heating" | "cooling" if parts.first().is_some_and(|p| p == "set-points") => {
            return format!("set point of {last}");
        }
        other => other,
    };
    let name =
        |p: &str| building.spaces.iter().find(|s| s.name == p).map_or_else(|| plain(p), |s| plain(&s.label));
    // The first part names the list it comes from; the rest says which one, inmost first.
    let mut of: Vec<String> =
        parts[..parts.len().saturating_sub(1)].iter().skip(1).map(|p| name(p)).collect();
    of.reverse();
    let of: Vec<String> = of.into_iter().filter(|p| !p.is_empty()).collect();
    if of.is_empty() {
        let list = parts.first().filter(|_| parts.len() > 1).map(|p| plain(p));
        return list.map_or_else(|| plain(what), |list| format!("{} ({list})", plain(what)));
    }
    format!("{} of {}", plain(what), of.join(", "))
}

/// Splits an id at dots outside brackets; `layer[x]` becomes `x`.
fn split(id: &str) -> Vec<String> {
    let (mut parts, mut part, mut depth) = (Vec::new(), String::new(), 0);
    for c in id.chars() {
        match c {
            '[' => {
                depth += 1;
                part.clear();
            }
            ']' => depth -= 1,
            '.' if depth == 0 => parts.push(std::mem::take(&mut part)),
            '"' => {}
            c => part.push(c),
        }
    }
    parts.push(part);
    parts
}

fn plain(name: &str) -> String {
    name.replace('-', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_become_words() {
        let (building, _) = Building::derive(building::sample::school());
        for (id, words) in [
            ("unit.sun-glass.g", "solar gain of sun glass"),
            (
                "assembly.upper-wall.layer[dense-cellulose].thickness",
                "thickness of dense cellulose, upper wall",
            ),
            ("group:taping crew", "taping crew (shared)"),
            ("ventilation.main.recovery-temperature.lessons", "recovery temperature of lessons, main"),
            ("set-points.heating", "set point of heating"),
            ("surface.wall-absorptance", "wall absorptance (surface)"),
            ("model:heating demand", "the calculation of heating demand itself"),
            ("airtightness.expected", "the leak at the end"),
        ] {
            assert_eq!(cause(&building, id), words);
        }
    }
}
