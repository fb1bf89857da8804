//! The sheets of the set, each on plain structs or the standing alone.

pub mod air;
pub mod crew_words;
pub mod fabric;
mod fresh_air;
pub mod gatherings;
pub mod hot_water;
pub mod joint_details;
pub mod joints;
pub mod machines;
pub mod moisture;
pub mod site_log;
pub mod test_day;
pub mod warm_cool;
pub mod where_we_stand;

use crate::page::Entry;

/// Index of the set, in order, each sheet with its question.
pub const INDEX: [Entry; 7] = [
    Entry { file: "index.html", name: "Where we stand", question: "what holds us back?" },
    Entry { file: "fabric.html", name: "Fabric", question: "what is it made of, and how warm?" },
    Entry { file: "joints.html", name: "Joints", question: "one unbroken line?" },
    Entry { file: "air.html", name: "Air", question: "how tight, and where not?" },
    Entry { file: "gatherings.html", name: "Gatherings", question: "what when the room fills?" },
    Entry { file: "warm-and-cool.html", name: "Warm & cool", question: "every room, every hour?" },
    Entry { file: "hot-water.html", name: "Hot water", question: "where should it be made?" },
];

/// The sheet that a set has when the project's log comes with it.
pub const SITE_LOG: Entry =
    Entry { file: "site-log.html", name: "Site log", question: "what did the site answer?" };
