//! Elements, openings, junctions, penetrations.

use super::{AssemblyId, Beyond, ElementId, OpeningId, SpaceId, StoreyId, UnitId};
use crate::plan;
use crate::stated::ValueKey;

/// What an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ElementKind {
    /// Wall.
    Wall,
    /// Edge of a floor between two storeys, seen as wall.
    FloorBand,
    /// Roof or ceiling.
    Roof,
    /// Floor over something that is not ground.
    Floor,
    /// Floor on the ground.
    GroundFloor,
    /// Wall between two rooms.
    Partition,
    /// Floor between two rooms.
    InnerFloor,
}

/// An opaque element: one face of one room, to one thing beyond.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Name made of storey, side and room: `upper.S.studio-a`.
    pub name: String,
    /// Kind.
    pub kind: ElementKind,
    /// Assembly.
    pub assembly: AssemblyId,
    /// Room on its inner side.
    pub space: SpaceId,
    /// What lies beyond.
    pub beyond: Beyond,
    /// Storey, for the drawn ones.
    pub storey: Option<StoreyId>,
    /// Place of the side in `Storey::sides`, for walls on a side.
    pub side: Option<usize>,
    /// Inside faces, m², openings included.
    pub gross_m2: f64,
    /// Inside faces, m², openings taken out.
    pub net_m2: f64,
    /// Outside faces, m², openings taken out (edges of floors and corners included).
    pub net_outside_m2: f64,
    /// Azimuth of the outward normal, degrees from true north; 0 for level ones.
    pub azimuth_deg: f64,
    /// Tilt of the outward normal: 0 up, 90 sideways, 180 down.
    pub tilt_deg: f64,
    /// Openings in it.
    pub openings: Vec<OpeningId>,
    /// Exposed perimeter of a ground floor, m.
    pub exposed_perimeter_m: f64,
    /// Depth below ground, m: of a ground floor, or mean of a wall against ground.
    pub depth_below_ground_m: f64,
    /// Height of its middle over the ground outside, m.
    pub mid_height_m: f64,
    /// Corners in space (x, y on plan, z up), m, for drawing; empty for listed elements.
    pub outline_m: Vec<[f64; 3]>,
    /// Part of the enclosure that a pressure test sees (its air barrier).
    pub in_enclosure: bool,
}

/// One window or door.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: plan::OpeningKind,
    /// Element it sits in.
    pub element: ElementId,
    /// Room.
    pub space: SpaceId,
    /// Unit.
    pub unit: UnitId,
    /// Frame width, m.
    pub width_m: f64,
    /// Frame height, m.
    pub height_m: f64,
    /// Underside of the frame over the floor, m.
    pub sill_m: f64,
    /// Middle along the side, m, from its left end seen from outside (outside faces).
    pub at_m: f64,
    /// Azimuth, degrees from true north.
    pub azimuth_deg: f64,
    /// Tilt, degrees.
    pub tilt_deg: f64,
    /// Frame area, m².
    pub area_m2: f64,
    /// Area of the glass (or panel) inside the frame, m².
    pub glass_m2: f64,
    /// Its edge, m.
    pub glass_edge_m: f64,
    /// Wall face outside to frame's outer face, m.
    pub reveal_outside_m: f64,
    /// Frame's inner face to wall face inside, m.
    pub reveal_inside_m: f64,
    /// Fixed shading around it.
    pub shading: Shading,
    /// Movable shade.
    pub blind: Option<plan::BlindPlan>,
    /// Can be opened for airing.
    pub opens: bool,
    /// Height of its middle over the ground outside, m.
    pub mid_height_m: f64,
    /// Middle of the frame in space, m.
    pub centre_m: [f64; 3],
}

/// Fixed shading around an opening, m; 0 where there is none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shading {
    /// How far the head (reveal or overhang) stands before the glass.
    pub overhang_depth_m: f64,
    /// From the top of the glass to the overhang.
    pub overhang_gap_m: f64,
    /// How far the left jamb or fin stands before the glass.
    pub left_depth_m: f64,
    /// From the glass to it.
    pub left_gap_m: f64,
    /// How far the right jamb or fin stands before the glass.
    pub right_depth_m: f64,
    /// From the glass to it.
    pub right_gap_m: f64,
}

/// Kind of junction (words of ISO 14683, and ours for parties).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum JunctionKind {
    /// Two walls, corner standing out.
    Corner,
    /// Two walls, corner standing in.
    InnerCorner,
    /// Floor between storeys at an outside wall.
    FloorEdge,
    /// Floor over a neighbour or the open at an outside wall.
    PartyFloorEdge,
    /// Ground floor at a wall: plinth, base of wall.
    Plinth,
    /// Eaves: sloped roof at its low edge.
    Eaves,
    /// Verge, rake.
    Verge,
    /// Ridge.
    Ridge,
    /// High edge of a shed roof.
    HighEaves,
    /// Flat roof at a wall, with or without parapet.
    RoofEdge,
    /// Party wall at outside wall, floor or roof.
    PartyLine,
    /// Wall of an upper storey on the roof of a lower one.
    RoofStep,
    /// Edge of a floor hole or of an inner floor at a party boundary.
    InnerFloorEdge,
    /// Inside wall at the roof.
    PartitionRoof,
    /// Inside wall at a floor over ground, neighbour or the open.
    PartitionFloor,
    /// Inside wall at an outside wall.
    PartitionWall,
    /// Head of an opening.
    Head,
    /// Jamb, reveal.
    Jamb,
    /// Sill.
    Sill,
    /// Threshold of a door.
    Threshold,
}

impl JunctionKind {
    /// Its word in ids and in the book.
    pub fn word(self) -> &'static str {
        match self {
            Self::Corner => "corner",
            Self::InnerCorner => "inner corner",
            Self::FloorEdge => "floor edge",
            Self::PartyFloorEdge => "party floor edge",
            Self::Plinth => "plinth",
            Self::Eaves => "eaves",
            Self::Verge => "verge",
            Self::Ridge => "ridge",
            Self::HighEaves => "high eaves",
            Self::RoofEdge => "roof edge",
            Self::PartyLine => "party line",
            Self::RoofStep => "roof step",
            Self::InnerFloorEdge => "inner floor edge",
            Self::PartitionRoof => "partition at roof",
            Self::PartitionFloor => "partition at floor",
            Self::PartitionWall => "partition at wall",
            Self::Head => "head",
            Self::Jamb => "jamb",
            Self::Sill => "sill",
            Self::Threshold => "threshold",
        }
    }
}

/// A line where two elements meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Junction {
    /// Stable name: `upper.roof edge.S`.
    pub name: String,
    /// Kind.
    pub kind: JunctionKind,
    /// First assembly (or the wall of an opening).
    pub first: AssemblyId,
    /// Second; `None` for openings.
    pub second: Option<AssemblyId>,
    /// Opening, for its four edges.
    pub opening: Option<OpeningId>,
    /// Room that feels it; the largest share when several.
    pub space: SpaceId,
    /// What lies beyond.
    pub beyond: Beyond,
    /// Length along inside faces, m.
    pub length_m: f64,
    /// Linear transmittance, W/(m·K), for lengths and areas by inside faces.
    pub psi: Option<ValueKey>,
    /// Place of the joint in `Building::joints` that carries the control layers across.
    pub joint: Option<usize>,
    /// Ends of its line in space, m, for drawing; the two jambs of an opening are two pairs.
    pub line_m: Vec<[f64; 3]>,
}

/// What passes through an element.
#[derive(Clone, Debug, PartialEq)]
pub struct Penetration {
    /// As the plan says.
    pub plan: plan::PenetrationPlan,
    /// Assembly.
    pub through: AssemblyId,
}
