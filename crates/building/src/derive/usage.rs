//! People, equipment and gatherings laid out over the year; set points.

use quantity::Dimension;

use super::Derivation;
use super::shape::Shape;
use crate::calendar::{Calendar, Profile, TimeSpan};
use crate::model::{Gathering, Person, SetPoints, SpaceId, Use};
use crate::plan::{UseEndDays, UsePlan};
use crate::stated::ValueKey;

impl Derivation<'_> {
    fn person(&mut self, wanted: Option<&str>, item: &str) -> Person {
        let names: Vec<&str> = self.plan.people.iter().map(|p| p.name.as_str()).collect();
        let place = match wanted {
            Some(name) => self.find("kind of person", name, &names, item),
            None => (!names.is_empty()).then_some(0),
        };
        let plan = place.map(|i| self.plan.people[i].clone()).unwrap_or_default();
        let name = if plan.name.is_empty() { "adult" } else { &plan.name };
        let id = |key: &str| format!("people.{name}.{key}");
        Person {
            sensible: self.or_default(plan.sensible, &id("sensible"), "person.sensible", Dimension::Power),
            latent: self.or_default(plan.latent, &id("latent"), "person.latent", Dimension::Power),
            co2: self.or_default(plan.co2, &id("co2"), "person.co2", Dimension::VolumeFlow),
        }
    }

    pub(super) fn gatherings(&mut self, calendar: &Calendar, shape: &Shape) -> Vec<Gathering> {
        let mut out: Vec<Gathering> = Vec::new();
        for plan in &self.plan.gatherings {
            let item = format!("gathering.{}", plan.name);
            if out.iter().any(|g| g.name == plan.name) {
                self.error(
                    "name",
                    item,
                    format!("two gatherings are called \"{}\"", plan.name),
                    "rename one",
                );
                continue;
            }
            let space = self.find("room", &plan.space, &shape.space_names(), &format!("{item}.where"));
            let Some(people) = plan.people else {
                self.error(
                    "gathering",
                    item,
                    "how many people come is not said".to_owned(),
                    "write people = \"90 ± 10\"",
                );
                continue;
            };
            let [span] = plan.when.spans.as_slice() else {
                let message = "a gathering needs one span of hours".to_owned();
                self.error(
                    "gathering",
                    format!("{item}.when"),
                    message,
                    "write when = \"last Thu, 19:00–21:30\"",
                );
                continue;
            };
            if let Some(pause) = plan.interval
                && (pause.from_minute < span.from_minute || pause.to_minute > span.to_minute)
            {
                let message = format!("the interval {pause} lies outside {span}");
                self.error(
                    "gathering",
                    format!("{item}.interval"),
                    message,
                    "an interval lies inside its gathering",
                );
            }
            let Some(space) = space else { continue };
            let mut person = self.person(plan.person.as_deref(), &format!("{item}.person"));
            person.co2 = plan.co2.unwrap_or(person.co2);
            let gathering = Gathering {
                name: plan.name.clone(),
                label: if plan.label.is_empty() { plan.name.clone() } else { plan.label.clone() },
                space: SpaceId(space),
                rule: plan.when.clone(),
                days: calendar.open_days(&plan.when),
                span: *span,
                interval: plan.interval,
                people,
                person,
                power_density: plan.power_density,
                posted_load: plan.posted_load,
            };
            if gathering.days.is_empty() {
                let message = "the gathering happens on no day of the year".to_owned();
                self.warning(
                    "gathering",
                    format!("{item}.when"),
                    message,
                    "check its days and the closed days",
                );
            }
            for other in &out {
                if other.space == gathering.space && clash(other, &gathering) {
                    let message =
                        format!("\"{}\" and \"{}\" fill one room at one time", other.name, gathering.name);
                    self.warning("gathering", format!("{item}.when"), message, "check days and hours");
                }
            }
            out.push(gathering);
        }
        out
    }

    pub(super) fn uses(&mut self, calendar: &Calendar, shape: &Shape, gatherings: &[Gathering]) -> Vec<Use> {
        let mut out: Vec<Use> = Vec::new();
        for plan in &self.plan.uses {
            let item = format!("use.{}", plan.name);
            let mut spaces = Vec::new();
            for name in &plan.spaces {
                if let Some(space) = self.find("room", name, &shape.space_names(), &format!("{item}.spaces"))
                {
                    spaces.push(SpaceId(space));
                }
            }
            if plan.spaces.is_empty() {
                spaces = (0..shape.spaces.len()).map(SpaceId).collect();
            }
            let area: f64 = spaces.iter().map(|id| shape.spaces[id.0].area_m2).sum();
            let shares = spaces.iter().map(|id| shape.spaces[id.0].area_m2 / area).collect();
            let days = calendar.open_days(&plan.days);
            let (mut people, mut density, mut power) = (Profile::none(), Profile::none(), Profile::none());
            for (levels, profile) in
                [(&plan.people, &mut people), (&plan.power_density, &mut density), (&plan.power, &mut power)]
            {
                for (span, value) in levels {
                    profile.set(&days, *span, *value);
                }
            }
            self.early_ends(plan, calendar, gatherings, &item, [&mut people, &mut density, &mut power]);
            let person = self.person(plan.person.as_deref(), &format!("{item}.person"));
            out.push(Use {
                name: plan.name.clone(),
                spaces,
                shares,
                people,
                person,
                peak: plan.peak,
                power_density: density,
                power,
                standby: plan.standby,
            });
        }
        out
    }

    fn early_ends(
        &mut self,
        plan: &UsePlan,
        calendar: &Calendar,
        gatherings: &[Gathering],
        item: &str,
        profiles: [&mut Profile<ValueKey>; 3],
    ) {
        let names: Vec<&str> = gatherings.iter().map(|g| g.name.as_str()).collect();
        let mut cleared: Vec<(Vec<usize>, TimeSpan)> = Vec::new();
        for end in &plan.ends {
            let (days, from) = match &end.on {
                UseEndDays::Days(rule) => (calendar.open_days(rule), end.at_minute),
                UseEndDays::Gathering(name) => {
                    let Some(found) = self.find("gathering", name, &names, &format!("{item}.except")) else {
                        continue;
                    };
                    let gathering = &gatherings[found];
                    (gathering.days.clone(), end.at_minute.or(Some(gathering.span.from_minute)))
                }
            };
            cleared.push((days, TimeSpan { from_minute: from.unwrap_or(0), to_minute: 1440 }));
        }
        for profile in profiles {
            for (days, span) in &cleared {
                profile.clear(days, *span);
            }
        }
    }

    pub(super) fn set_points(&mut self) -> SetPoints {
        let plan = &self.plan.set_points;
        let t = Dimension::Temperature;
        let points = SetPoints {
            heating: self.or_default(plan.heating, "set-points.heating", "set-point.heating", t),
            cooling: self.or_default(plan.cooling, "set-points.cooling", "set-point.cooling", t),
            dehumidify_above: self.or_default(
                plan.dehumidify_above,
                "set-points.dehumidify-above",
                "set-point.dehumidify-above",
                Dimension::Ratio,
            ),
            warm_above: self.or_default(plan.warm_above, "set-points.warm-above", "set-point.warm-above", t),
        };
        let (heating, cooling) = (self.number(points.heating), self.number(points.cooling));
        if heating >= cooling {
            let message = format!("heated to {heating:.1} °C and cooled to {cooling:.1} °C");
            self.error(
                "range",
                "set-points.cooling",
                message,
                "the cooling set point lies above the heating one",
            );
        }
        points
    }
}

fn clash(a: &Gathering, b: &Gathering) -> bool {
    let hours = a.span.from_minute < b.span.to_minute && b.span.from_minute < a.span.to_minute;
    hours && a.days.iter().any(|day| b.days.contains(day))
}
