//! From plan to model. Each step below has its file; all share the [`Derivation`], which collects the values that
//! defaults and the library add, and every problem with the plan item it belongs to. Nothing stops at the first
//! problem: what cannot be made is left out, so that all problems are told at once.

mod decks;
mod elements;
mod fabric;
mod junctions;
mod names;
mod openings;
mod rooms;
mod services;
mod shape;
mod usage;
mod walls;

use quantity::Dimension;

use crate::calendar::Calendar;
use crate::defaults;
use crate::model::{self, Building};
use crate::plan::Plan;
use crate::problem::{ModelProblem, Severity};
use crate::stated::{Basis, Enters, Source, StatedValues, Statement, ValueKey};

impl Building {
    /// Derives the model from a plan.
    ///
    /// Problems come in the order they were met; with an [`Severity::Error`] among them the building lacks what was
    /// wrong and must not be simulated.
    pub fn derive(plan: Plan) -> (Self, Vec<ModelProblem>) {
        let mut plan = plan;
        let values = std::mem::take(&mut plan.values);
        let mut d = Derivation { plan: &plan, values, problems: Vec::new(), materials: Vec::new() };
        let building = d.building();
        (building, d.problems)
    }

    /// Says whether a list of problems lets the model be run.
    pub fn may_run(problems: &[ModelProblem]) -> bool {
        problems
            .iter()
            .all(|problem| problem.severity < Severity::Error || problem.severity == Severity::Warning)
    }
}

/// State of a derivation.
struct Derivation<'p> {
    plan: &'p Plan,
    values: StatedValues,
    problems: Vec<ModelProblem>,
    /// Materials met so far.
    materials: Vec<model::Material>,
}

impl Derivation<'_> {
    fn building(&mut self) -> Building {
        let site = self.site();
        let neighbours = self.neighbours();
        let assemblies = self.assemblies();
        let units = self.units();
        let mut shape = self.shape(&site, &neighbours, &assemblies);
        self.obstructions(&mut shape);
        let mut elements = self.elements(&site, &assemblies, &neighbours, &shape);
        let openings = self.openings(&site, &assemblies, &units, &shape, &mut elements);
        self.check_elements(&elements, &shape);
        let junctions = self.junctions(&assemblies, &shape, &elements, &openings);
        let calendar = Calendar::new(&self.plan.calendar);
        let gatherings = self.gatherings(&calendar, &shape);
        let uses = self.uses(&calendar, &shape, &gatherings);
        let ventilation = self.ventilation(&calendar, &shape, &gatherings);
        let penetrations = self.penetrations(&assemblies);
        let mut building = Building {
            project: self.plan.project.clone(),
            site,
            materials: Vec::new(),
            assemblies,
            units,
            zones: shape.zones,
            storeys: shape.storeys,
            spaces: shape.spaces,
            floor_openings: shape.floor_openings,
            obstructions: shape.obstructions,
            neighbours,
            elements,
            openings,
            junctions,
            penetrations,
            shades: self.shades(),
            ground: self.ground(),
            airtightness: self.airtightness(),
            surfaces: self.surfaces(),
            calendar,
            uses,
            gatherings,
            set_points: self.set_points(),
            ventilation,
            plant: self.plan.plant.iter().filter(|p| p.option.is_none()).cloned().collect(),
            plant_options: self.plan.plant.iter().filter(|p| p.option.is_some()).cloned().collect(),
            electricity: self.plan.electricity.clone(),
            hot_water: self.plan.hot_water.clone(),
            joints: self.plan.joints.clone(),
            products: self.plan.products.clone(),
            drainage: self.plan.drainage.clone(),
            gaps: Vec::new(),
            limits: self.plan.limits.clone(),
            ahead: self.plan.ahead.clone(),
            appliances: self.plan.appliances.clone(),
            works: self.plan.works.clone(),
            values: StatedValues::new(),
        };
        self.match_joints(&mut building);
        self.check_joints(&building);
        building.materials = std::mem::take(&mut self.materials);
        building.values = std::mem::take(&mut self.values);
        building.gaps = crate::continuity::gaps(&building);
        building
    }

    fn error(
        &mut self,
        code: &'static str,
        item: impl Into<String>,
        message: String,
        help: impl Into<String>,
    ) {
        self.tell(ModelProblem::error(code, item, message, help));
    }

    fn warning(
        &mut self,
        code: &'static str,
        item: impl Into<String>,
        message: String,
        help: impl Into<String>,
    ) {
        self.tell(ModelProblem::warning(code, item, message, help));
    }

    /// Four windows alike have one mistake, and a material is met by each layer of it: what was told is not repeated.
    fn tell(&mut self, problem: ModelProblem) {
        if !self.problems.contains(&problem) {
            self.problems.push(problem);
        }
    }

    /// Nominal number under a key.
    fn number(&self, key: ValueKey) -> f64 {
        self.values.nominal_of(key)
    }

    /// Returns the key, or states the default row under `id`.
    fn or_default(&mut self, key: Option<ValueKey>, id: &str, row: &str, dimension: Dimension) -> ValueKey {
        match key.or_else(|| self.values.key(id)) {
            Some(key) => key,
            None => self.state_default(id, row, dimension),
        }
    }

    fn state_default(&mut self, id: &str, row: &str, dimension: Dimension) -> ValueKey {
        // Rows are part of the program; a test states every one of them.
        let (value, kind) = match defaults::row(row) {
            Some(found) => (quantity::read(&found.value, dimension).map(|r| r.value), found.kind.as_str()),
            None => (Ok(f64::NAN), "fixed"),
        };
        let value = value.unwrap_or(f64::NAN);
        let kind = crate::spreads::table().kind(kind);
        self.state(Statement {
            id: id.to_owned(),
            value,
            spread: None,
            kind,
            dimension,
            basis: Basis::Assumed,
            rating: None,
            source: Source::Default(row.to_owned()),
            group: None,
            enters: if kind == "fixed" { Enters::NEITHER } else { Enters::IN_USE },
        })
    }

    /// States a value that must work; a failure is a problem of the model, told as such.
    fn state(&mut self, statement: Statement) -> ValueKey {
        let (id, dimension) = (statement.id.clone(), statement.dimension);
        match self.values.state(statement) {
            Ok(key) => key,
            Err(why) => {
                self.error("value", id.clone(), why.to_string(), "state this value in the book");
                // A zero under a free id keeps the rest of the plan readable; the error above forbids a run.
                let spare = Statement {
                    id: format!("{id}#{}", self.values.len()),
                    value: 0.0,
                    spread: None,
                    kind: "fixed",
                    dimension,
                    basis: Basis::Assumed,
                    rating: None,
                    source: Source::Default("unusable".to_owned()),
                    group: None,
                    enters: Enters::NEITHER,
                };
                self.values.state(spare).unwrap_or(ValueKey(0))
            }
        }
    }
}

#[cfg(test)]
mod tests;
