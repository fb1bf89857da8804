//! Drawings, charts and pages: the set of sheets a builder looks at.
//!
//! [`render`] makes the whole set from a [`project::standing::Standing`], the building and, where a year was run,
//! what came of it. Each sheet is one HTML file with its style, typeface and pictures inside; nothing is fetched,
//! and equal inputs give equal bytes.
//!
//! The way through: [`svg`] writes elements, [`draw`] turns plain structs into pictures, [`adapt`] turns the model
//! into those structs, [`reader`] says figures in the reader's units, [`page`] holds the frame, [`sheet`] the
//! content of each sheet.
//!
//! Nothing here computes physics: a figure that does not come with the input is not shown.
#![forbid(unsafe_code)]

pub mod adapt;
pub mod draw;
pub mod page;
pub mod reader;
pub mod sheet;
pub mod svg;

use building::calendar::Date;
use building::model::AssemblyId;
use building::{Building, Resolved};
use project::air::Story;
use project::details::Details;
use project::standing::Standing;
use year::YearResult;

use draw::scale::MONTHS;
use page::{TitleBlock, frame};
use reader::Reader;
use sheet::INDEX;
use sheet::fabric::{AssemblySheet, WorkingLine};

/// Transmittance of an assembly with its working, as the laws gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct AssemblyWorking {
    /// Name of the assembly in the model.
    pub assembly: String,
    /// W/(m²·K).
    pub u_w_m2k: f64,
    /// Steps, in their order.
    pub steps: Vec<WorkingLine>,
    /// What a reader must know about the method's limits here.
    pub notes: Vec<String>,
}

impl AssemblyWorking {
    /// Takes over a layered transmittance with its working.
    pub fn new(assembly: &str, transmittance: &fabric::layers::Transmittance) -> Self {
        let step = |line: &fabric::working::Line| WorkingLine {
            symbol: line.symbol.clone(),
            words: line.meaning.clone(),
            value: line.value,
            unit: line.unit.to_owned(),
            clause: line.clause.to_owned(),
        };
        Self {
            assembly: assembly.to_owned(),
            u_w_m2k: transmittance.u_w_m2k,
            steps: transmittance.working.lines.iter().map(step).collect(),
            notes: transmittance.notes.clone(),
        }
    }
}

/// Asks the year's law for the transmittance of every layered assembly, with one set of numbers.
///
/// An assembly that the law refuses (known by its U alone, layers that make no sense) is left out; the book's own
/// check says why.
pub fn workings(building: &Building, resolved: &Resolved) -> Vec<AssemblyWorking> {
    (0..building.assemblies.len())
        .filter_map(|place| {
            let found = year::transmittance(building, AssemblyId(place), resolved).ok()?;
            Some(AssemblyWorking::new(&building.assemblies[place].name, &found))
        })
        .collect()
}

/// What the sheets are made from.
#[derive(Clone, Copy, Debug)]
pub struct Input<'a> {
    /// Limits, gaps, stages, next steps.
    pub standing: &'a Standing,
    /// The model.
    pub building: &'a Building,
    /// Transmittances with their workings; an assembly without one shows no figure.
    pub workings: &'a [AssemblyWorking],
    /// Joints worked out.
    pub details: &'a Details,
    /// The year of the building as it will be used, when one was run.
    pub year: Option<&'a YearResult>,
    /// Whether the assemblies stay dry, when that was run.
    pub moisture: Option<&'a year::dry::DryReport>,
    /// Loads, rooms left cold or hot, places of the water heater, when they were worked out.
    pub machines: Option<&'a project::standing::Machines>,
    /// Tests, leaks, fresh air and flows; `None` leaves the sheet of air to say so.
    pub air: Option<&'a Story>,
    /// Hash of the inputs; its first eight digits are the revision.
    pub revision: &'a str,
}

/// One file of the set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// File name; `index.html` comes first.
    pub file_name: &'static str,
    /// The page.
    pub html: String,
}

/// Makes every sheet of the set that follows from book and standing, in the order of their index.
pub fn render(input: &Input<'_>) -> Vec<Sheet> {
    render_with(input, None)
}

/// Makes every sheet of the set, the site log among them when it is given ([`adapt::site_log`]).
pub fn render_with(input: &Input<'_>, site_log: Option<&sheet::site_log::SiteLog>) -> Vec<Sheet> {
    let reader = Reader::new(&input.standing.project.units, &input.standing.project.words);
    let said = Said::new(input);
    let block = said.block(input, reader);
    let mut contents = contents(input, reader);
    let mut index = INDEX.to_vec();
    if let Some(log) = site_log {
        contents.push(sheet::site_log::content(log));
        index.push(sheet::SITE_LOG);
    }
    contents
        .iter()
        .enumerate()
        .map(|(place, content)| Sheet {
            file_name: index[place].file,
            html: frame(block, &index, place, content),
        })
        .collect()
}

/// What stands on each sheet, in the order of their index, without the frame.
pub fn contents(input: &Input<'_>, reader: Reader) -> Vec<maud::Markup> {
    let revision = revision_words(input.revision);
    vec![
        where_we_stand(input, reader),
        fabric(input, reader),
        joints(input, reader, &revision),
        air(input, reader, &revision),
        sheet::gatherings::content(&adapt::evenings(input.building, input.year, reader), reader),
        match input.year {
            Some(year) => warm_cool(input, year, reader),
            None => sheet::warm_cool::without_a_year(),
        },
        hot_water(input, reader),
    ]
}

/// What the title block of a set says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// Stage and the book's date.
    pub status: String,
    /// Revision, as it is read aloud.
    pub revision: String,
}

impl Said {
    /// Words it for an input.
    pub fn new(input: &Input<'_>) -> Self {
        Self { status: status_line(input), revision: revision_words(input.revision) }
    }

    /// Returns the title block.
    pub fn block<'a>(&'a self, input: &Input<'a>, reader: Reader) -> TitleBlock<'a> {
        let project = &input.standing.project;
        TitleBlock {
            project: &project.name,
            about: if project.invented { "invented demonstration" } else { "" },
            status: &self.status,
            revision: &self.revision,
            language: reader.language(),
        }
    }
}

fn warm_cool(input: &Input<'_>, year: &YearResult, reader: Reader) -> maud::Markup {
    let (layouts, sizing) = match input.machines {
        Some(m) => (m.layouts.as_slice(), m.sizing.as_ref()),
        None => (&[][..], None),
    };
    maud::html! {
        (sheet::warm_cool::content(&adapt::warm_cool(input.building, year), reader))
        (sheet::machines::content(&year.machines, layouts, sizing, reader))
    }
}

fn hot_water(input: &Input<'_>, reader: Reader) -> maud::Markup {
    let water = input.year.map(|y| &y.machines.water).filter(|w| w.drawn_j > 0.0);
    let Some(water) = water else { return sheet::hot_water::without_water() };
    let (places, room) = match input.machines {
        Some(m) => (m.places.as_slice(), m.tank_room.as_ref()),
        None => (&[][..], None),
    };
    let said = |f: &&project::standing::Finding| f.id == "caution.hot-water";
    let cautions: Vec<String> =
        input.standing.findings.iter().filter(said).map(|f| f.sentence.clone()).collect();
    sheet::hot_water::content(water, places, room, &cautions, reader)
}

/// Joints with the numbers that their gaps have on the first sheet; what the standing holds settled is closed.
fn joints(input: &Input<'_>, reader: Reader, revision: &str) -> maud::Markup {
    let number = gap_number(input.standing);
    let closed = |gap: &str| {
        let own = |id: &str| id.ends_with(gap);
        input.standing.findings.iter().any(|f| own(&f.id) && f.status == project::standing::Outcome::Met)
    };
    let sheet = adapt::joints(input.building, reader, number, closed);
    sheet::joints::content(&sheet, &input.standing.project.name, revision)
}

/// Air: the same section as the first sheet, beside where the leak is.
fn air(input: &Input<'_>, reader: Reader, revision: &str) -> maud::Markup {
    let Some(story) = input.air else { return sheet::air::without_a_story() };
    let number = gap_number(input.standing);
    let sheet = sheet::air::AirSheet {
        section: adapt::long_section(input.building, reader, number).map(|mut section| {
            // The first sheet has a section of its own in the same set of pages.
            "air-section".clone_into(&mut section.id);
            section
        }),
        day: adapt::test_day(input.building, story),
        project: &input.standing.project.name,
        revision,
    };
    sheet::air::content(story, &sheet, reader)
}

/// Number under which a gap of the model stands on the first sheet. A finding's id may carry a prefix before the gap's.
fn gap_number(standing: &Standing) -> impl Fn(&str) -> Option<usize> {
    let numbered: Vec<&str> = sheet::where_we_stand::gap_findings(standing).map(|f| f.id.as_str()).collect();
    move |gap: &str| numbered.iter().position(|id| id.ends_with(gap)).map(|place| place + 1)
}

fn where_we_stand(input: &Input<'_>, reader: Reader) -> maud::Markup {
    let number = gap_number(input.standing);
    let section = adapt::long_section(input.building, reader, number);
    sheet::where_we_stand::content(input.standing, section.as_ref(), reader)
}

fn fabric(input: &Input<'_>, reader: Reader) -> maud::Markup {
    let assemblies: Vec<AssemblySheet> = adapt::sections(input.building, reader)
        .into_iter()
        .map(|(id, mut section)| {
            let assembly = &input.building.assemblies[id.0];
            let working = input.workings.iter().find(|w| w.assembly == assembly.name);
            let ([area_m2, enclosure_m2], where_used) = adapt::area_and_use(input.building, id);
            let moisture =
                if enclosure_m2 > 0.0 { sheet::moisture::part(input.moisture, &assembly.name) } else { None };
            sheet::moisture::levels(&mut section, moisture.as_ref(), reader);
            AssemblySheet {
                section,
                u_w_m2k: working.map(|w| w.u_w_m2k),
                working: working.map(|w| w.steps.clone()).unwrap_or_default(),
                area_m2,
                enclosure_m2,
                where_used,
                cautions: ratings(assembly)
                    .into_iter()
                    .chain(working.iter().flat_map(|w| w.notes.clone()))
                    .collect(),
                moisture,
            }
        })
        .collect();
    let above = adapt::axonometric(input.building);
    let joints = adapt::details(input.building, input.details, reader);
    sheet::fabric::content(
        &assemblies,
        &joints,
        above.as_ref().map(|(drawing, faces)| (drawing, faces.as_slice())),
        reader,
    )
}

fn ratings(assembly: &building::model::Assembly) -> Vec<String> {
    let what = match (assembly.fire_rated, assembly.sound_rated) {
        (true, true) => "fire and sound",
        (true, false) => "fire",
        (false, true) => "sound",
        (false, false) => return Vec::new(),
    };
    vec![format!(
        "Said to separate {what}: the rating was not checked here. It stays open until a record names the tested \
         system; the code official decides."
    )]
}

fn status_line(input: &Input<'_>) -> String {
    let project = &input.standing.project;
    let stage = input.standing.stages.iter().find(|s| s.id == project.stage);
    let stage = stage.map_or(project.stage.as_str(), |s| s.name.as_str());
    match input.building.project.today {
        Some(date) => format!("{stage}, {}", date_words(date, project.words == "uk")),
        None => stage.to_owned(),
    }
}

fn date_words(date: Date, british: bool) -> String {
    let month = MONTHS.get(usize::from(date.month).wrapping_sub(1)).copied().unwrap_or("?");
    if british {
        format!("{} {month} {}", date.day, date.year)
    } else {
        format!("{month} {}, {}", date.day, date.year)
    }
}

/// The first eight digits in two groups, as they are read aloud.
fn revision_words(hash: &str) -> String {
    let digits: Vec<char> = hash.chars().filter(|c| c.is_ascii_alphanumeric()).take(8).collect();
    digits.chunks(4).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_title_block_is_said_not_coded() {
        assert_eq!(revision_words("4f1c9a02deadbeef"), "4f1c 9a02");
        assert_eq!(revision_words(""), "");
        let date = Date { year: 2025, month: 9, day: 2 };
        assert_eq!(date_words(date, false), "September 2, 2025");
        assert_eq!(date_words(date, true), "2 September 2025");
    }
}
