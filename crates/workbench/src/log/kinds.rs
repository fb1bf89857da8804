//! The kinds of record as a person fills them in: which fields, in which words, with which unit.
//!
//! One table serves the form, the reading of what comes back and the words in the list. Pressure tests have a page of
//! their own. Start at [`KINDS`].

use quantity::Dimension as D;

/// One kind of record.
#[derive(Debug)]
pub struct Kind {
    /// Its word in the log.
    pub word: &'static str,
    /// Its name on the page.
    pub name: &'static str,
    /// Its fields, the ones needed most first.
    pub fields: &'static [Field],
}

/// One field.
#[derive(Debug)]
pub struct Field {
    /// Its key in the record's body.
    pub key: &'static str,
    /// Its label.
    pub label: &'static str,
    /// What goes in.
    pub holds: Holds,
}

/// What goes into a field.
#[derive(Debug)]
pub enum Holds {
    /// A line of words.
    Words,
    /// Several lines of words.
    Text,
    /// A plan item or words; the page offers the items of the book.
    Item,
    /// Several lines, each an entry.
    Lines,
    /// Yes, no, or nobody looked.
    YesNo,
    /// A tick: true or nothing.
    Tick,
    /// A whole number.
    Count,
    /// A day.
    Day,
    /// One of these words, or others.
    Choice(&'static [&'static str]),
    /// A quantity with its unit; without it the record says nothing.
    Needed(&'static [D]),
    /// A quantity with its unit, when it was read.
    Quantity(&'static [D]),
    /// Values found, each by the id of the stated value it speaks of.
    Values,
}

use Holds::{Choice, Count, Day, Item, Lines, Needed, Quantity, Text, Tick, Values, Words, YesNo};

const fn field(key: &'static str, label: &'static str, holds: Holds) -> Field {
    Field { key, label, holds }
}

const fn kind(word: &'static str, name: &'static str, fields: &'static [Field]) -> Kind {
    Kind { word, name, fields }
}

/// Every kind with a form, the ones written most often first.
pub const KINDS: &[Kind] = &[
    kind(
        "photo",
        "Photo",
        &[field("shows", "What it shows", Words), field("proves", "What it proves, if anything", Item)],
    ),
    kind(
        "delivery",
        "Delivery",
        &[
            field("product", "What the label says it is", Words),
            field("quantity", "How much", Words),
            field("for-item", "What it is for", Item),
            field("as-ordered", "Is it what was ordered?", YesNo),
            field("held", "Held back until something is settled", Tick),
            field("batch", "Batch or lot", Words),
            field("properties", "Values on the label or sheet", Values),
        ],
    ),
    kind("note", "Note", &[field("text", "Words", Text)]),
    kind(
        "joint-inspection",
        "Joint looked at",
        &[
            field("joint", "Joint", Item),
            field("passed", "Found good?", YesNo),
            field("method", "How it was looked at", Choice(&["seen", "touched", "smoke", "fan running"])),
            field("about-to-be-covered", "Will be covered soon", Tick),
            field("length", "Length looked at", Quantity(&[D::Length])),
            field("count", "How many, of a thing that passes through several times", Count),
            field("primed", "Surface primed?", YesNo),
            field("surface-temperature", "Temperature of the surface", Quantity(&[D::Temperature])),
            field("tested-system", "Tested system, where the element is fire- or sound-rated", Words),
        ],
    ),
    kind(
        "leak-found",
        "Leak found",
        &[
            field("at", "Joint or penetration", Item),
            field("size", "Size", Choice(&["hair", "pencil", "finger", "hand"])),
            field(
                "method",
                "How it was found",
                Choice(&["hand", "smoke", "infrared", "sound", "by difference"]),
            ),
            field("leads-to", "It leads to", Choice(&["outdoors", "neighbour", "not known"])),
            field("sealed", "Sealed since?", YesNo),
            field("flow", "Flow, when measured by difference", Quantity(&[D::VolumeFlow])),
            field("at-pressure", "At this pressure", Quantity(&[D::Pressure])),
        ],
    ),
    kind(
        "barrier-damage",
        "Barrier damaged",
        &[
            field("state", "State", Choice(&["found", "repaired", "re-tested"])),
            field("size", "Size", Words),
            field("cause", "What did it", Words),
            field("trade", "Trade", Words),
            field("repair", "How it was repaired", Words),
        ],
    ),
    kind(
        "defect",
        "Defect",
        &[
            field("what", "What is wrong", Text),
            field("weight", "How bad", Choice(&["must be mended", "should be mended", "may be mended"])),
            field("trade", "Trade", Words),
            field("mended", "Mended", Tick),
        ],
    ),
    kind(
        "question",
        "Question",
        &[
            field("question", "The question", Text),
            field("to", "To whom (role)", Words),
            field("due", "Due", Day),
            field("holds", "What waits for it, one a line", Lines),
            field("answer", "Its answer; empty while open", Text),
        ],
    ),
    kind(
        "decision",
        "Decision",
        &[
            field("decision", "What was decided", Text),
            field("reason", "Why", Text),
            field("by", "By whom (role)", Words),
            field("touches", "What it touches, one a line", Lines),
            field("properties", "Values it settles", Values),
        ],
    ),
    kind(
        "substitution",
        "Substitution",
        &[
            field("specified", "What the book says", Words),
            field("offered", "What is offered", Words),
            field("accepted", "Accepted?", YesNo),
            field("decided-by", "By whom (role)", Words),
            field("reason", "Why", Text),
            field("used-at", "Where it has been used already, one a line", Lines),
            field("properties", "Values of the offer", Values),
        ],
    ),
    kind(
        "moisture-reading",
        "Moisture reading",
        &[
            field("moisture", "Moisture, mass of water over dry mass, such as 18 %", Needed(&[D::Ratio])),
            field("material", "Material", Words),
            field("method", "How", Choice(&["pins", "probe", "weighed"])),
            field("depth", "Depth", Quantity(&[D::Length])),
            field("temperature", "Temperature of the material", Quantity(&[D::Temperature])),
        ],
    ),
    kind(
        "flow-reading",
        "Air flow",
        &[
            field("flow", "Flow, such as 120 cfm or 200 m³/h", Needed(&[D::VolumeFlow])),
            field("at", "Where: outdoor duct, exhaust duct, terminal of a room", Words),
            field("unit", "Ventilation unit", Words),
            field("mode", "Mode", Words),
            field("power", "Fan power at the time", Quantity(&[D::Power])),
        ],
    ),
    kind(
        "insulation-density",
        "Insulation density",
        &[
            field("density", "Density, such as 55 kg/m³ or 3.4 lb/ft³", Needed(&[D::Density])),
            field("material", "Material", Words),
            field("bay", "Bay or field", Words),
            field("method", "How", Choice(&["cut out and weighed", "counted bags", "probe"])),
            field("reblown", "Blown again", Tick),
        ],
    ),
    kind(
        "opened-up",
        "Opened up",
        &[
            field("item", "Element or assembly", Item),
            field("how", "How: core hole, lifted board", Words),
            field("expected", "What the book said", Words),
            field("found", "What was there", Text),
            field("properties", "Sizes and values found", Values),
        ],
    ),
    kind(
        "opening-as-built",
        "Opening as built",
        &[
            field("opening", "Window or door", Item),
            field("rough-width", "Rough width", Quantity(&[D::Length])),
            field("rough-height", "Rough height", Quantity(&[D::Length])),
            field("sill-slope", "Slope of the sill, such as 5 deg", Quantity(&[D::Angle])),
            field("set-in", "Frame behind the outside face", Quantity(&[D::Length])),
            field("sill-film", "Wet film of the sill pan", Quantity(&[D::Length])),
            field("drains", "Sill pan, end dams and way out complete?", YesNo),
        ],
    ),
    kind(
        "pressure-log",
        "Pressure over time",
        &[
            field("between", "From where to where", Words),
            field("state", "State of the building", Words),
            field("mean", "Mean pressure difference", Quantity(&[D::Pressure])),
            field("duration", "How long", Quantity(&[D::Time])),
        ],
    ),
    kind(
        "meter-reading",
        "Meter reading",
        &[
            field("reading", "Its figure with its unit", Needed(&[D::Energy, D::Volume])),
            field("meter", "Meter", Words),
            field("carrier", "What it counts", Choice(&["electricity", "gas", "water"])),
            field("serves", "What it serves", Words),
        ],
    ),
    kind(
        "commissioning-setting",
        "Setting made",
        &[
            field("device", "Device", Words),
            field("setting", "Setting", Words),
            field("before", "Before", Words),
            field("after", "After", Words),
        ],
    ),
    kind(
        "official-inspection",
        "Official inspection",
        &[
            field("of", "What of", Words),
            field("state", "State", Choice(&["booked", "passed", "failed", "corrections due"])),
            field("office", "Office (no person)", Words),
            field("on", "Day", Day),
            field("corrections", "Corrections, one a line", Lines),
            field("due", "Due", Day),
        ],
    ),
    kind(
        "sign-off",
        "Sign-off",
        &[
            field("of", "What", Item),
            field("role", "As whom (role)", Words),
            field("reservation", "Said with it", Text),
        ],
    ),
];

/// Returns the kind of that word.
pub fn of(word: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|k| k.word == word)
}

/// Returns the words for a kind, also one without a form.
pub fn name(word: &str) -> &str {
    match word {
        "pressure-test" => "Pressure test",
        "logger-file" => "Logger file",
        _ => of(word).map_or(word, |k| k.name),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use building::records::Body;

    #[test]
    fn every_kind_of_the_log_has_a_form_or_a_page() {
        for word in Body::KINDS {
            assert!(of(word).is_some() || ["pressure-test", "logger-file"].contains(word), "{word}");
        }
        for kind in KINDS {
            assert!(Body::KINDS.contains(&kind.word), "{}", kind.word);
        }
    }
}
