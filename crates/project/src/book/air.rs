//! `[[airtightness.to-come]]`, `[[airtightness.to-go]]`, `[[appliance]]`, and the sound of a ventilation unit.

use super::{Book, How, listed, want};
use crate::reader::{Bounds, Fields, Kind, Names, Word, choose, refer};
use building::plan::{AheadPlan, ApplianceKind, AppliancePlan, SoundPlan};
use building::stated::{Basis, Enters};
use quantity::Dimension;

/// Quietest and loudest that a maker's sheet gives for a room, dB(A).
const SOUND: (f64, f64) = (0.0, 90.0);

/// Reads what is still to be holed or closed before the last test.
pub(super) fn ahead(book: &mut Book<'_>, f: &mut Fields<'_>) {
    for (key, goes) in [("to-come", false), ("to-go", true)] {
        for (n, (item, table)) in listed(book, f, key).into_iter().enumerate() {
            let path = format!("airtightness.{key}[{}]", n + 1);
            let mut one = Fields::new(table, "a change ahead", item.place.clone(), path);
            let how = How { enters: Enters::BOTH, ..How::read(&mut book.cx, &mut one, Basis::Assumed) };
            let what = one.need_text(&mut book.cx, "what", "what = \"holes for blowing in, plugged after\"");
            let flow = want(Dimension::VolumeFlow, Bounds::NOT_NEGATIVE, "leak");
            let flow = one.has("flow").then(|| book.need(&mut one, "flow", flow, &how)).or_else(|| {
                one.missing(&mut book.cx, "flow", "flow = \"15 m³/h ×/÷ 2\"");
                None
            });
            let stage = stage(book, &mut one);
            one.finish(&mut book.cx);
            if let (Some(what), Some(flow)) = (what, flow) {
                book.plan.ahead.push(AheadPlan { what: what.text, flow, goes, stage });
            }
        }
    }
}

fn stage(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    let word = f.text(&mut book.cx, "stage")?;
    let stages = book.plan.project.stages.clone();
    let known: Vec<(&str, ())> = stages.iter().map(|s| (s.as_str(), ())).collect();
    choose(&mut book.cx, "stage", &word, &known).map(|()| word.text)
}

/// Reads every `[[appliance]]`.
pub(super) fn appliances(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("appliance") {
        return;
    }
    for (n, (item, table)) in listed(book, top, "appliance").into_iter().enumerate() {
        let path = format!("appliance[{}]", n + 1);
        let mut f = Fields::new(table, "an appliance", item.place.clone(), path);
        let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
        let name = f.need_text(&mut book.cx, "name", "name = \"big kiln\"");
        if !f.has("kind") {
            f.missing(&mut book.cx, "kind", "kind = \"kiln\"");
        }
        let kind = f.choice(&mut book.cx, "kind", &ApplianceKind::ALL);
        let place = place(book, &mut f);
        let own_air = f.choice(&mut book.cx, "air", &[("room", false), ("own duct", true)]).unwrap_or(false);
        let exhaust = want(Dimension::VolumeFlow, Bounds::NOT_NEGATIVE, "air flow");
        let exhaust = book.value(&mut f, "exhaust", exhaust, &how);
        let at = f.at().clone();
        f.finish(&mut book.cx);
        let (Some(name), Some(kind), Some(place)) = (name, kind, place) else { continue };
        book.cx.remember(format!("appliance.{}", name.text), &at);
        book.plan.appliances.push(AppliancePlan { name: name.text, kind, place, own_air, exhaust });
    }
}

/// Reads the room or neighbour it stands in.
fn place(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    let word = f.need_text(&mut book.cx, "where", "where = \"kitchen\"")?;
    let mut names: Names = book.names.spaces.clone();
    let neighbours: Vec<String> = book.plan.neighbours.iter().map(|n| n.name.clone()).collect();
    for neighbour in &neighbours {
        let _ = names.add(neighbour, &word.place);
    }
    refer(&mut book.cx, &word, &names, "space or neighbour").then_some(word.text)
}

/// Reads `[ventilation.x.sound]`: by mode and room, `hall = "29 dB(A)"`.
pub(super) fn sound(book: &mut Book<'_>, f: &mut Fields<'_>, modes: &Names) -> Vec<SoundPlan> {
    let mut all = Vec::new();
    let Some(mut by_mode) = f.table(&mut book.cx, "sound") else { return all };
    for mode in by_mode.entries() {
        let word = Word { text: mode.key.clone(), place: mode.key_place.clone() };
        if !refer(&mut book.cx, &word, modes, "mode under \"flow\"") {
            continue;
        }
        let Some(mut rooms) = by_mode.table(&mut book.cx, &mode.key) else { continue };
        for room in rooms.entries() {
            let word = Word { text: room.key.clone(), place: room.key_place.clone() };
            if !refer(&mut book.cx, &word, &book.names.spaces, "space") {
                continue;
            }
            if !matches!(room.node.kind, Kind::Text { .. }) {
                let _ = rooms.text(&mut book.cx, &room.key);
                continue;
            }
            let Some(text) = rooms.text(&mut book.cx, &room.key) else { continue };
            match decibels(&text.text) {
                Some(level_db) => {
                    all.push(SoundPlan { mode: mode.key.clone(), room: room.key.clone(), level_db });
                }
                None => book.cx.error(
                    "unit",
                    &text.place,
                    format!("\"{}\" is no sound level", text.text),
                    "write the maker's figure for this room and speed, like \"29 dB(A)\"",
                ),
            }
        }
    }
    all
}

fn decibels(text: &str) -> Option<f64> {
    let number = ["dB(A)", "dBA", "dB"].iter().find_map(|unit| text.trim().strip_suffix(unit))?;
    let level = number.trim().parse::<f64>().ok()?;
    (SOUND.0..=SOUND.1).contains(&level).then_some(level)
}

#[cfg(test)]
mod tests {
    use super::decibels;

    #[test]
    fn levels_need_their_unit() {
        assert_eq!(decibels("29 dB(A)"), Some(29.0));
        assert_eq!(decibels(" 31.5dBA "), Some(31.5));
        assert_eq!(decibels("29"), None);
        assert_eq!(decibels("290 dB"), None);
        assert_eq!(decibels("quiet dB(A)"), None);
    }
}
