//! What each kind of record holds.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A figure as written on site, with the number it was read as.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Figure {
    /// As written: `551 m³/h`, `324 cfm`.
    pub written: String,
    /// In the canonical unit of its dimension (`quantity`).
    pub value: f64,
    /// 95 % half-width, same unit, when someone stated it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub half_width: Option<f64>,
}

/// Declares the kinds with their words in the log.
macro_rules! kinds {
    ($($(#[$doc:meta])* $variant:ident($body:ty) = $word:literal),* $(,)?) => {
        /// What a record holds, by kind.
        #[derive(Clone, Debug, PartialEq)]
        #[non_exhaustive]
        pub enum Body {
            $($(#[$doc])* $variant($body),)*
            /// A kind of a newer program, kept as it came.
            Unknown {
                /// Its word.
                kind: String,
                /// What it holds.
                body: Value,
            },
        }

        impl Body {
            /// Every known kind's word.
            pub const KINDS: &'static [&'static str] = &[$($word),*];

            /// Keys of the body by field name (dashes are underscores here); `None` for an unknown kind.
            pub(super) fn keys(&self) -> Option<&'static [&'static str]> {
                match self {
                    $(Self::$variant(_) => Some(<$body>::KEYS),)*
                    Self::Unknown { .. } => None,
                }
            }

            /// Keys of a kind's body, by its word, as fields are named (dashes are underscores here); `None` for an
            /// unknown kind.
            pub fn keys_of(kind: &str) -> Option<&'static [&'static str]> {
                match kind {
                    $($word => Some(<$body>::KEYS),)*
                    _ => None,
                }
            }

            /// The kind's word.
            pub fn kind(&self) -> &str {
                match self {
                    $(Self::$variant(_) => $word,)*
                    Self::Unknown { kind, .. } => kind,
                }
            }

            pub(super) fn to_json(&self) -> Result<(String, Value), String> {
                let body = match self {
                    $(Self::$variant(body) => serde_json::to_value(body).map_err(|e| e.to_string())?,)*
                    Self::Unknown { body, .. } => body.clone(),
                };
                Ok((self.kind().to_owned(), body))
            }

            pub(super) fn from_json(kind: &str, body: Value) -> Result<Self, String> {
                match kind {
                    $($word => serde_json::from_value(body).map(Self::$variant).map_err(|e| e.to_string()),)*
                    _ => Ok(Self::Unknown { kind: kind.to_owned(), body }),
                }
            }
        }
    };
}

kinds! {
    /// Something arrived.
    Delivery(Delivery) = "delivery",
    /// Something else is offered or used.
    Substitution(Substitution) = "substitution",
    /// A joint was looked at.
    JointInspection(JointInspection) = "joint-inspection",
    /// A photo for its own sake.
    Photo(Photo) = "photo",
    /// A leak was found.
    LeakFound(LeakFound) = "leak-found",
    /// A pressure test, whole or a single reading.
    PressureTest(PressureTest) = "pressure-test",
    /// Pressure difference over time.
    PressureLog(PressureLog) = "pressure-log",
    /// An air flow.
    FlowReading(FlowReading) = "flow-reading",
    /// Moisture of a material.
    MoistureReading(MoistureReading) = "moisture-reading",
    /// Density of blown insulation.
    InsulationDensity(InsulationDensity) = "insulation-density",
    /// Something opened up to see.
    OpenedUp(OpenedUp) = "opened-up",
    /// A file of a logger.
    LoggerFile(LoggerFile) = "logger-file",
    /// A meter.
    MeterReading(MeterReading) = "meter-reading",
    /// A setting made at commissioning.
    CommissioningSetting(CommissioningSetting) = "commissioning-setting",
    /// The barrier was damaged.
    BarrierDamage(BarrierDamage) = "barrier-damage",
    /// An opening as it was built.
    OpeningAsBuilt(OpeningAsBuilt) = "opening-as-built",
    /// An official came.
    OfficialInspection(OfficialInspection) = "official-inspection",
    /// A question and perhaps its answer.
    Question(Question) = "question",
    /// Something is wrong.
    Defect(Defect) = "defect",
    /// Something was decided.
    Decision(Decision) = "decision",
    /// Someone signed.
    SignOff(SignOff) = "sign-off",
    /// A note.
    Note(Note) = "note",
}

/// Declares a body: every key may be missing, and empty ones are not written.
macro_rules! body {
    ($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $kind:ty),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
        pub struct $name {
            $($(#[$fdoc])*
            #[serde(default, skip_serializing_if = "is_default")]
            pub $field: $kind,)*
        }

        impl $name {
            /// Field names, for telling known keys from those of a newer program.
            #[allow(dead_code, reason = "bodies inside other bodies are not asked")]
            const KEYS: &'static [&'static str] = &[$(stringify!($field)),*];
        }
    };
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

body!(
    /// Something arrived.
    Delivery {
        /// What the label says it is.
        product: String,
        /// How much, as written.
        quantity: String,
        /// Batch or lot.
        batch: String,
        /// Assembly, unit or material of the book it is for.
        for_item: String,
        /// Properties on the label or sheet, by the id of the stated value they speak of.
        properties: Vec<(String, Figure)>,
        /// True when it is what was ordered; absent: nobody compared.
        as_ordered: Option<bool>,
        /// Held back until something is settled.
        held: bool,
    }
);

body!(
    /// Something else is offered or used.
    Substitution {
        /// What the book says.
        specified: String,
        /// What is offered.
        offered: String,
        /// Properties of the offer, by the id of the stated value.
        properties: Vec<(String, Figure)>,
        /// Where it has been used already.
        used_at: Vec<String>,
        /// Accepted, rejected; absent: open.
        accepted: Option<bool>,
        /// By whom.
        decided_by: String,
        /// Why.
        reason: String,
    }
);

body!(
    /// A joint was looked at.
    JointInspection {
        /// Joint of the book, `upper-wall / party-floor`.
        joint: String,
        /// How: seen, touched, smoke, fan running.
        method: String,
        /// Found good.
        passed: Option<bool>,
        /// Length looked at.
        length: Option<Figure>,
        /// How many were looked at, of a thing that passes through several times; absent: one.
        count: Option<u32>,
        /// Surface primed.
        primed: Option<bool>,
        /// Temperature of the surface.
        surface_temperature: Option<Figure>,
        /// Covered soon after.
        about_to_be_covered: bool,
        /// Tested system, where the element is fire- or sound-rated.
        tested_system: String,
    }
);

body!(
    /// A photo for its own sake.
    Photo {
        /// What it shows.
        shows: String,
        /// Plan item it proves.
        proves: String,
    }
);

body!(
    /// A leak was found.
    LeakFound {
        /// How: hand, smoke, infrared, sound, by difference.
        method: String,
        /// Guess of its size: hair, pencil, finger, hand.
        size: String,
        /// Flow, when measured by difference.
        flow: Option<Figure>,
        /// At this pressure.
        at_pressure: Option<Figure>,
        /// Outdoors, neighbour, or not known.
        leads_to: String,
        /// Sealed since.
        sealed: Option<bool>,
        /// Joint or penetration of the book.
        at: String,
    }
);

body!(
    /// One pressure and its flow.
    TestPoint {
        /// Pressure difference.
        pressure: Figure,
        /// Flow through the fan.
        flow: Figure,
        /// Which fan, when several ran.
        fan: String,
    }
);

body!(
    /// A pressure test, whole or a single reading.
    PressureTest {
        /// Standard followed, if one was.
        standard: String,
        /// Method of preparation, `ISO 9972 method 1`.
        preparation: String,
        /// True: air was drawn out.
        depressurised: bool,
        /// Neighbour: guarded, open to outside, untouched; empty: none or not said.
        neighbour: String,
        /// Pressure left between building and guarded neighbour.
        guard_residual: Option<Figure>,
        /// Readings.
        points: Vec<TestPoint>,
        /// True when flows are already corrected to reference conditions.
        flows_corrected: bool,
        /// Zero-flow pressures before.
        zero_flow_before: Vec<Figure>,
        /// Zero-flow pressures after.
        zero_flow_after: Vec<Figure>,
        /// Inside.
        temperature_inside: Option<Figure>,
        /// Outside.
        temperature_outside: Option<Figure>,
        /// Barometer.
        barometer: Option<Figure>,
        /// Wind.
        wind: Option<Figure>,
        /// Sealed for the test only.
        temporary_seals: Vec<String>,
        /// Not finished yet.
        unfinished: Vec<String>,
    }
);

body!(
    /// Pressure difference over time.
    PressureLog {
        /// From where to where: `pottery to outdoors`.
        between: String,
        /// State of the building: `both exhausts on`.
        state: String,
        /// Mean.
        mean: Option<Figure>,
        /// How long.
        duration: Option<Figure>,
        /// File of the logger, by its hash among the attachments.
        file: String,
    }
);

body!(
    /// An air flow.
    FlowReading {
        /// Unit and mode: `main, lessons`.
        unit: String,
        /// Mode.
        mode: String,
        /// Where: outdoor duct, exhaust duct, terminal of a room.
        at: String,
        /// Flow.
        flow: Figure,
        /// Fan power at the time.
        power: Option<Figure>,
    }
);

body!(
    /// Moisture of a material.
    MoistureReading {
        /// Material.
        material: String,
        /// Mass of water over dry mass.
        moisture: Figure,
        /// Pins, probe, weighed.
        method: String,
        /// Depth.
        depth: Option<Figure>,
        /// Of the material.
        temperature: Option<Figure>,
    }
);

body!(
    /// Density of blown insulation.
    InsulationDensity {
        /// Material.
        material: String,
        /// Bay or field.
        bay: String,
        /// Density.
        density: Figure,
        /// Cut out and weighed, counted bags, probe.
        method: String,
        /// Blown again.
        reblown: bool,
    }
);

body!(
    /// Something opened up to see.
    OpenedUp {
        /// Element or assembly.
        item: String,
        /// How: core hole, lifted board.
        how: String,
        /// What the book said.
        expected: String,
        /// What was there.
        found: String,
        /// Sizes and properties found, by the id of the stated value.
        properties: Vec<(String, Figure)>,
    }
);

body!(
    /// A file of a logger.
    LoggerFile {
        /// What it logs: temperature, CO2, energy.
        quantities: Vec<String>,
        /// First reading.
        from: String,
        /// Last reading.
        to: String,
        /// Its hash among the attachments.
        file: String,
    }
);

body!(
    /// A meter.
    MeterReading {
        /// Meter.
        meter: String,
        /// What it counts: electricity, gas, water.
        carrier: String,
        /// What it serves.
        serves: String,
        /// Its figure.
        reading: Figure,
    }
);

body!(
    /// A setting made at commissioning.
    CommissioningSetting {
        /// Device.
        device: String,
        /// Setting.
        setting: String,
        /// Before.
        before: String,
        /// After.
        after: String,
    }
);

body!(
    /// The barrier was damaged.
    BarrierDamage {
        /// Found, repaired, re-tested.
        state: String,
        /// What did it.
        cause: String,
        /// Trade.
        trade: String,
        /// Size.
        size: String,
        /// How it was repaired.
        repair: String,
        /// Id of the record that found it.
        found_in: String,
    }
);

body!(
    /// An opening as it was built.
    OpeningAsBuilt {
        /// Opening of the book.
        opening: String,
        /// Rough width.
        rough_width: Option<Figure>,
        /// Rough height.
        rough_height: Option<Figure>,
        /// Slope of the sill.
        sill_slope: Option<Figure>,
        /// Depth of the frame behind the outside face.
        set_in: Option<Figure>,
        /// Wet film of the sill pan.
        sill_film: Option<Figure>,
        /// Sill pan, end dams, way out: complete.
        drains: Option<bool>,
    }
);

body!(
    /// An official came.
    OfficialInspection {
        /// Booked, passed, failed, corrections due.
        state: String,
        /// By whom (office, not person).
        office: String,
        /// What of.
        of: String,
        /// When it is or was.
        on: String,
        /// Corrections.
        corrections: Vec<String>,
        /// Due on.
        due: String,
    }
);

body!(
    /// A question and perhaps its answer.
    Question {
        /// To whom.
        to: String,
        /// The question.
        question: String,
        /// Due on.
        due: String,
        /// Its answer; empty: open.
        answer: String,
        /// Plan items and limits that wait for it.
        holds: Vec<String>,
    }
);

body!(
    /// Something is wrong.
    Defect {
        /// What.
        what: String,
        /// Trade.
        trade: String,
        /// Mended.
        mended: bool,
        /// How bad: must, should, may.
        weight: String,
    }
);

body!(
    /// Something was decided.
    Decision {
        /// What.
        decision: String,
        /// Why.
        reason: String,
        /// By whom (role).
        by: String,
        /// Plan items it touches.
        touches: Vec<String>,
        /// Values it settles, by id.
        properties: Vec<(String, Figure)>,
    }
);

body!(
    /// Someone signed.
    SignOff {
        /// What.
        of: String,
        /// As whom (role).
        role: String,
        /// Hash of what was signed.
        hash: String,
        /// Said with it.
        reservation: String,
    }
);

body!(
    /// A note.
    Note {
        /// Words.
        text: String,
    }
);
