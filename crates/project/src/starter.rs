//! A first book from about a dozen facts, and the blank sheet of what to measure.
//!
//! Everything that was not said is written out as a wide, visible default with the words "assumed", so that a first
//! answer comes within minutes and shows how much is still unknown. Start at [`Facts`] and [`book`].

use std::fmt::Write as _;

/// What walls are made of, as far as one sees from the street.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Walls {
    /// Solid brick.
    #[default]
    SolidBrick,
    /// Two leaves of brick with an air space.
    CavityBrick,
    /// Light timber frame with boards.
    TimberFrame,
    /// Natural stone.
    Stone,
    /// Concrete block, rendered.
    Block,
}

/// What lies under the ground floor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Below {
    /// A slab on the ground.
    #[default]
    Ground,
    /// An unheated cellar.
    Cellar,
    /// A ventilated crawl space.
    CrawlSpace,
}

/// Form of the roof.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Roof {
    /// Flat.
    Flat,
    /// Two slopes with rooms under them.
    #[default]
    Gable,
    /// A cold loft above the top ceiling.
    ColdLoft,
}

/// The facts of a first visit. Texts are quantities as the builder writes them.
#[derive(Clone, Debug, PartialEq)]
pub struct Facts {
    /// What the job is called.
    pub name: String,
    /// Outside size on plan, `10 m × 8 m`; the first runs along the side that faces south.
    pub footprint: String,
    /// Storeys with rooms.
    pub storeys: u32,
    /// Clear height of a storey.
    pub height: String,
    /// Kind of wall.
    pub walls: Walls,
    /// Thickness of the outer wall.
    pub wall_thickness: String,
    /// Form of the roof.
    pub roof: Roof,
    /// What lies below.
    pub below: Below,
    /// Sides shared with a heated neighbour, from S, E, N, W.
    pub attached: Vec<String>,
    /// Windows on each free side and storey, and their usual size.
    pub windows: u32,
    /// Frame size of a usual window.
    pub window_size: String,
    /// Panes of the present glazing.
    pub panes: u32,
    /// Turn of plan-up from true north.
    pub north: String,
    /// People at home or at work there.
    pub people: u32,
    /// Weather file of the folder, or a built-in year.
    pub climate: String,
    /// Display: `us` or `si`.
    pub units: String,
}

impl Default for Facts {
    fn default() -> Self {
        Self {
            name: "Unnamed building".to_owned(),
            footprint: "10 m × 8 m".to_owned(),
            storeys: 2,
            height: "2.5 m".to_owned(),
            walls: Walls::default(),
            wall_thickness: "330 mm".to_owned(),
            roof: Roof::default(),
            below: Below::default(),
            attached: Vec::new(),
            windows: 2,
            window_size: "1.2 m × 1.3 m".to_owned(),
            panes: 2,
            north: "0 deg".to_owned(),
            people: 4,
            climate: "embedded: Greensboro".to_owned(),
            units: "us".to_owned(),
        }
    }
}

/// Writes the first book. Its texts come from the facts as they are; `check` says what is wrong with them.
pub fn book(facts: &Facts) -> String {
    let mut out = String::new();
    head(&mut out, facts);
    assemblies(&mut out, facts);
    neighbours(&mut out, facts);
    storeys(&mut out, facts);
    windows(&mut out, facts);
    rest(&mut out, facts);
    out
}

/// Puts text between quotes as TOML wants it.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn head(out: &mut String, facts: &Facts) {
    let _ = write!(
        out,
        "# First book of {name}, from what a first visit tells. Everything marked \"assumed\" is a wide default:\n\
         # measure what matters, write it here with a narrower spread and a better basis, and the answer sharpens.\n\
         # A quantity is text with its unit; ± a is the 95 % half-width, a..b a range, ×/÷ f a factor.\n\n\
         [project]\nname   = {name_q}\nunits  = {units}\nlimits = [\"retrofit\"]      # or \"new-build\", the harder set\n\
         stage  = \"survey\"\n\n[site]\nclimate = {climate}\n{place}north   = {north}             # plan-up from true north\n\
         terrain = \"suburb\"          # open, country, suburb, town\n\n",
        name = facts.name.replace(char::is_control, " "),
        name_q = quoted(&facts.name),
        units = quoted(&facts.units),
        climate = quoted(&facts.climate),
        north = quoted(&facts.north),
        place = if facts.climate.starts_with("embedded:") {
            "# The built-in year is a warm, humid one. Put the weather file of your place into this folder and name it.\n"
        } else {
            ""
        },
    );
}

/// Layers outside to inside: material, share of the wall's thickness or a thickness of its own, and its controls.
fn wall_layers(walls: Walls, thickness: &str) -> String {
    let thick = quoted(&format!("{thickness} ± 10 %"));
    match walls {
        Walls::SolidBrick => format!(
            "  {{ material = \"soft brick\",   thickness = {thick}, existing = true, basis = \"assumed\", controls = [\"rain\", \"heat\"] }},\n  \
             {{ material = \"lime plaster\", thickness = \"15..25 mm\", existing = true, basis = \"assumed\", controls = [\"air\", \"vapour\"] }},\n"
        ),
        Walls::CavityBrick => "  { material = \"clay brick, exposed outer leaf\", thickness = \"105 mm\", existing = true, controls = [\"rain\"] },\n  \
             { air = \"unventilated\",          thickness = \"50 mm ± 20 mm\", basis = \"assumed\" },\n  \
             { material = \"clay brick, protected inner leaf\", thickness = \"105 mm\", existing = true, controls = [\"heat\"] },\n  \
             { material = \"lime plaster\",      thickness = \"15 mm\", existing = true, controls = [\"air\", \"vapour\"] },\n"
            .to_owned(),
        Walls::TimberFrame => "  { material = \"softwood\",          thickness = \"20 mm\", existing = true, name = \"boards outside\", controls = [\"rain\"] },\n  \
             { material = \"mineral wool\",      thickness = \"89 mm ± 20 mm\", existing = true, basis = \"assumed\", controls = [\"heat\"], bridged = { material = \"softwood\", share = \"15 % ± 5 %\" } },\n  \
             { material = \"gypsum board\",      thickness = \"12.5 mm\", existing = true, controls = [\"air\", \"vapour\"] },\n"
            .to_owned(),
        Walls::Stone => format!(
            "  {{ material = \"limestone, hard\", thickness = {thick}, existing = true, basis = \"assumed\", controls = [\"rain\", \"heat\"] }},\n  \
             {{ material = \"lime plaster\", thickness = \"20..40 mm\", existing = true, basis = \"assumed\", controls = [\"air\", \"vapour\"] }},\n"
        ),
        Walls::Block => format!(
            "  {{ material = \"cement and sand render\", thickness = \"15 mm\", existing = true, controls = [\"rain\"] }},\n  \
             {{ material = \"dense aggregate concrete block\", thickness = {thick}, existing = true, basis = \"assumed\", controls = [\"heat\"] }},\n  \
             {{ material = \"lime plaster\", thickness = \"15 mm\", existing = true, controls = [\"air\", \"vapour\"] }},\n"
        ),
    }
}

fn assemblies(out: &mut String, facts: &Facts) {
    let _ = write!(
        out,
        "# ── what it is made of: layers run outside → inside ──\n\n[assembly.wall]\nplace  = \"wall\"\nlayers = [\n{}\
         # what you might add inside, once the wall is dry:\n#  {{ material = \"wood-fibre board\", thickness = \"100 mm\", controls = [\"heat\"] }},\n]\n\n",
        wall_layers(facts.walls, &facts.wall_thickness)
    );
    let roof = match facts.roof {
        Roof::Flat => {
            "  { material = \"bitumen felt or sheet\", thickness = \"10 mm\", existing = true, controls = [\"rain\"] },\n  \
             { material = \"mineral wool\", thickness = \"80 mm ± 40 mm\", existing = true, basis = \"assumed\", controls = [\"heat\"] },\n  \
             { material = \"softwood\",     thickness = \"24 mm\", existing = true },\n  \
             { material = \"gypsum board\", thickness = \"12.5 mm\", existing = true, controls = [\"air\", \"vapour\"] },\n"
        }
        Roof::Gable => {
            "  { material = \"clay roof tile\", thickness = \"15 mm\", existing = true, controls = [\"rain\"] },\n  \
             { air = \"well ventilated\",   thickness = \"40 mm\" },\n  \
             { material = \"mineral wool\", thickness = \"80 mm ± 40 mm\", existing = true, basis = \"assumed\", controls = [\"heat\"], bridged = { material = \"softwood\", share = \"12 % ± 4 %\" } },\n  \
             { material = \"gypsum board\", thickness = \"12.5 mm\", existing = true, controls = [\"air\", \"vapour\"] },\n"
        }
        Roof::ColdLoft => {
            "  { material = \"mineral wool\", thickness = \"100 mm ± 50 mm\", existing = true, basis = \"assumed\", controls = [\"heat\"], bridged = { material = \"softwood\", share = \"10 % ± 4 %\" } },\n  \
             { material = \"gypsum board\", thickness = \"12.5 mm\", existing = true, controls = [\"air\", \"vapour\"] },\n"
        }
    };
    let _ = write!(out, "[assembly.roof]\nplace  = \"roof\"\nlayers = [\n{roof}]\n\n");
    let (place, floor) = match facts.below {
        Below::Ground => (
            "ground floor",
            "  { material = \"concrete\", thickness = \"100 mm\", existing = true, basis = \"assumed\", controls = [\"air\", \"vapour\", \"heat\"] },\n  \
             { material = \"cement and sand screed\", thickness = \"50 mm\", existing = true, basis = \"assumed\" },\n",
        ),
        Below::Cellar | Below::CrawlSpace => (
            "floor",
            "  { material = \"softwood\", thickness = \"22 mm\", existing = true, controls = [\"air\", \"vapour\", \"heat\"] },\n",
        ),
    };
    let _ = write!(out, "[assembly.lowest-floor]\nplace  = \"{place}\"\nlayers = [\n{floor}]\n\n");
}

fn neighbours(out: &mut String, facts: &Facts) {
    if !facts.attached.is_empty() {
        out.push_str("[neighbour.next-door]\ntemperature = \"19 °C ± 3 °C\"\n\n");
    }
    if facts.roof == Roof::ColdLoft {
        out.push_str("[neighbour.loft]                 # unheated: share of the way from indoors to outdoors\ntemperature = { floating = \"0.9 ± 0.1\" }\n\n");
    }
    match facts.below {
        Below::Ground => {}
        Below::Cellar => out.push_str("[neighbour.below]                # unheated: share of the way from indoors to outdoors\ntemperature = { floating = \"0.6 ± 0.2\" }\n\n"),
        Below::CrawlSpace => out.push_str("[neighbour.below]                # ventilated crawl space, likewise\ntemperature = { floating = \"0.8 ± 0.2\" }\n\n"),
    }
}

fn storeys(out: &mut String, facts: &Facts) {
    out.push_str("# ── what shape it has: outside sizes, clear heights ──\n\n");
    for n in 1..=facts.storeys.max(1) {
        let sides: String =
            facts.attached.iter().map(|side| format!(", {side} = {{ beyond = \"next-door\" }}")).collect();
        let walls = if sides.is_empty() {
            "\"wall\"".to_owned()
        } else {
            format!("{{ assembly = \"wall\"{sides} }}")
        };
        let _ = write!(
            out,
            "[storey.floor-{n}]\nfloor-level = {level}\nheight      = {height}\nfootprint   = {footprint}\nwalls       = {walls}\n",
            level = if n == 1 { "\"0 m\"".to_owned() } else { quoted(&level(&facts.height, n)) },
            height = quoted(&facts.height),
            footprint = quoted(&format!("rectangle {}", facts.footprint)),
        );
        if n == 1 {
            let floor = match facts.below {
                Below::Ground => "on = \"ground\"",
                Below::Cellar | Below::CrawlSpace => "over = \"below\"",
            };
            let _ = writeln!(out, "floor       = {{ assembly = \"lowest-floor\", {floor} }}");
        }
        if n == facts.storeys.max(1) {
            let roof = match facts.roof {
                Roof::Flat => "form = \"flat\", assembly = \"roof\"",
                Roof::Gable => "form = \"gable\", slope = \"38 deg\", ridge = \"E–W\", assembly = \"roof\"",
                Roof::ColdLoft => "form = \"flat\", assembly = \"roof\", under = \"loft\"",
            };
            let _ = writeln!(out, "roof        = {{ {roof} }}");
        }
        out.push('\n');
    }
}

/// Level of a floor: clear heights with a floor of 0.3 m between. A height that cannot be read leaves its own text,
/// and `check` says what is wrong with it.
fn level(height: &str, storey: u32) -> String {
    match quantity::read(height, quantity::Dimension::Length) {
        Ok(reading) => format!("{:.2} m", f64::from(storey - 1) * (reading.value + 0.3)),
        Err(_) => height.to_owned(),
    }
}

fn windows(out: &mut String, facts: &Facts) {
    let (u, g) = match facts.panes {
        1 => ("5.6 W/(m²·K) ± 10 %", "0.85 ± 0.03"),
        2 => ("2.7 W/(m²·K) ± 20 %", "0.75 ± 0.08"),
        _ => ("0.7 W/(m²·K) ± 10 %", "0.50 ± 0.08"),
    };
    let _ = write!(
        out,
        "# ── windows and doors, as they are; the size is that of the frame ──\n\n[unit.present]\n\
         glazing = {{ u = \"{u}\", g = \"{g}\", panes = {} }}\nframe   = {{ u = \"1.8 W/(m²·K) ± 30 %\", face = \"90 mm ± 30 mm\" }}\n\
         edge    = \"0.08 W/(m·K) ± 30 %\"\nbasis   = \"assumed\"\n\n",
        facts.panes.max(1)
    );
    for n in 1..=facts.storeys.max(1) {
        for side in ["S", "E", "N", "W"] {
            if facts.windows == 0 || facts.attached.iter().any(|s| s == side) {
                continue;
            }
            let name = if facts.windows == 1 {
                format!("{side}{n}1")
            } else {
                format!("{side}{n}1..{side}{n}{}", facts.windows)
            };
            let _ = write!(
                out,
                "[[opening]]\nname   = \"{name}\"\nstorey = \"floor-{n}\"\nside   = \"{side}\"\nsize   = {}\nsill   = \"0.85 m\"\nunit   = \"present\"\n\n",
                quoted(&facts.window_size)
            );
        }
    }
}

fn rest(out: &mut String, facts: &Facts) {
    let _ = write!(
        out,
        "# ── air, people ──\n\n[airtightness]\nexpected = \"6 1/h ×/÷ 2.5\"     # at 50 Pa; nobody has measured: a fan test is worth the morning\n\
         exponent = \"0.65 ± 0.06\"\n\n[set-points]\nheating = \"20 °C\"\ncooling = \"25 °C\"\n\n[use.everyday]\n\
         people = {{ \"0:00–8:00\" = \"{p}\", \"8:00–16:00\" = \"{half} ± {half}\", \"16:00–24:00\" = \"{p}\" }}\npower-density = \"2.5 W/m² ± 40 %\"\n\n\
         # Without a [ventilation.…] the building breathes through its leaks. When you know the unit:\n\
         # [ventilation.main]\n# flow = \"120 m³/h\"\n# recovery-temperature = \"80 %\"\n# power = \"0.4 Wh/m³\"\n",
        p = facts.people.max(1),
        half = facts.people.max(1).div_ceil(2),
    );
}

/// Returns the blank sheet of what to measure on a first visit, for print.
pub fn survey_sheet() -> &'static str {
    include_str!("survey.txt")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_first_book_can_be_read() {
        for walls in [Walls::SolidBrick, Walls::CavityBrick, Walls::TimberFrame, Walls::Stone, Walls::Block] {
            for (roof, below) in [
                (Roof::Flat, Below::Ground),
                (Roof::Gable, Below::Cellar),
                (Roof::ColdLoft, Below::CrawlSpace),
            ] {
                for attached in [vec![], vec!["E".to_owned(), "W".to_owned()]] {
                    let facts = Facts { walls, roof, below, attached, ..Facts::default() };
                    let text = book(&facts);
                    let reading = crate::book::read_text(&text);
                    assert!(reading.problems.is_empty(), "{text}\n{:#?}", reading.problems.list());
                }
            }
        }
    }

    #[test]
    fn hostile_names_stay_inside_their_quotes() {
        let name = "a\"\n[evil]\nb = \"\\".to_owned();
        let reading = crate::book::read_text(&book(&Facts { name: name.clone(), ..Facts::default() }));
        assert!(reading.problems.is_empty(), "{:?}", reading.problems.list());
        assert_eq!(reading.plan.project.name, name);
    }
}
