//! Nodes and the links between them: cells of the layers, and films without volume at every interface.

use crate::material::Sheet;
use crate::wall::{Contact, Place, Wall};
use std::ops::Range;

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum NodeKind {
    /// A slice of a layer.
    Cell { layer: usize, width_m: f64 },
    /// The face between two layers, or of the wall. Holds water only as a film.
    Film { interface: usize, drained: bool },
}

/// What joins a node to the next one.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Link {
    /// Material of a layer: this much of it from the left node, this much to the right one.
    Solid { layer: usize, left_m: f64, right_m: f64 },
    /// A sheet or gap.
    Break { conductance_w_m2k: f64, sheet: Sheet },
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mesh {
    pub nodes: Vec<NodeKind>,
    /// `links[i]` joins node i to node i + 1.
    pub links: Vec<Link>,
    /// First and last film of each interface (the same where contact is perfect).
    pub films: Vec<(usize, usize)>,
    /// Cells of each layer.
    pub cells: Vec<Range<usize>>,
}

/// A sheet without thermal resistance still needs a finite conductance; this one is a ten-thousandth of a usual wall.
const SHEET_RESISTANCE_M2K_W: f64 = 1e-4;

impl Mesh {
    /// Lays out the nodes for cells of these widths, layer by layer.
    pub fn new(wall: &Wall, widths: &[Vec<f64>]) -> Self {
        let n = wall.layers.len();
        let mut mesh = Self { nodes: Vec::new(), links: Vec::new(), films: Vec::new(), cells: Vec::new() };
        mesh.nodes.push(NodeKind::Film { interface: 0, drained: true });
        mesh.films.push((0, 0));
        for (layer, w) in widths.iter().enumerate() {
            let first = mesh.nodes.len();
            for (i, &width_m) in w.iter().enumerate() {
                let left_m = if i == 0 { 0.0 } else { 0.5 * w[i - 1] };
                mesh.links.push(Link::Solid { layer, left_m, right_m: 0.5 * width_m });
                mesh.nodes.push(NodeKind::Cell { layer, width_m });
            }
            mesh.cells.push(first..mesh.nodes.len());
            mesh.links.push(Link::Solid { layer, left_m: 0.5 * w[w.len() - 1], right_m: 0.0 });
            mesh.interface(wall, layer + 1, layer + 1 == n);
        }
        mesh
    }

    fn interface(&mut self, wall: &Wall, interface: usize, face: bool) {
        let film = NodeKind::Film { interface, drained: face || wall.drained.contains(&interface) };
        let first = self.nodes.len();
        self.nodes.push(film);
        let broken = if face { None } else { wall.contacts.get(interface - 1) };
        match broken {
            None | Some(Contact::Perfect) => {}
            Some(Contact::Gap { resistance_m2k_w, air_layer_m }) => {
                self.links.push(Link::Break {
                    conductance_w_m2k: 1.0 / resistance_m2k_w.max(SHEET_RESISTANCE_M2K_W),
                    sheet: Sheet::constant("gap", air_layer_m.max(1e-4)),
                });
                self.nodes.push(film);
            }
            Some(Contact::Sheet(sheet)) => {
                let mut sheet = sheet.clone();
                sheet.air_layer_m.iter_mut().for_each(|p| p[1] = p[1].max(1e-4));
                self.links.push(Link::Break { conductance_w_m2k: 1.0 / SHEET_RESISTANCE_M2K_W, sheet });
                self.nodes.push(film);
            }
        }
        self.films.push((first, self.nodes.len() - 1));
    }

    /// Returns the width of a node, m; 0 for a film.
    pub fn width_m(&self, node: usize) -> f64 {
        match self.nodes[node] {
            NodeKind::Cell { width_m, .. } => width_m,
            NodeKind::Film { .. } => 0.0,
        }
    }

    /// Returns the node that stands for a place.
    pub fn node(&self, place: Place) -> usize {
        match place {
            Place::Interface(k) => self.films[k].1,
            Place::Layer(k) => {
                let cells = &self.cells[k];
                (cells.start + cells.end) / 2
            }
        }
    }

    /// Returns the place a node belongs to.
    pub fn place(&self, node: usize) -> Place {
        match self.nodes[node] {
            NodeKind::Cell { layer, .. } => Place::Layer(layer),
            NodeKind::Film { interface, .. } => Place::Interface(interface),
        }
    }
}
