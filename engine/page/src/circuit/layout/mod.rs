//! Where everything in the drawing of a circuit stands, from its netlist alone: symbols in columns in reading order, rails
//! above, ground below, wires on a grid between them. Nothing here knows a value or a picture; the same netlist gives the
//! same drawing. Lengths are steps of the grid.

mod columns;
mod geometry;
mod grid;
mod order;
mod place;
mod read_back;
mod route;

use benchleaf_core::circuit::Circuit;

pub(crate) use geometry::{Orientation, Point, Rect, Symbol};
pub(crate) use read_back::reads_back;

/// A drawing.
#[derive(Clone, Debug, Default)]
pub(crate) struct Drawing {
    /// All of it.
    pub(crate) frame: Rect,
    /// The parts, in the order of the netlist's.
    pub(crate) symbols: Vec<Symbol>,
    /// Test points and names of nets.
    pub(crate) flags: Vec<Flag>,
    /// Wires, each a straight line.
    pub(crate) wires: Vec<Wire>,
    /// Where wires of one net meet.
    pub(crate) dots: Vec<Point>,
    /// Rails and ground.
    pub(crate) buses: Vec<Bus>,
    /// How often wires of two nets cross.
    pub(crate) crossings: usize,
}

/// A wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Wire {
    pub(crate) net: usize,
    pub(crate) from: Point,
    pub(crate) to: Point,
}

/// A mark that says something of a net.
#[derive(Clone, Debug)]
pub(crate) struct Flag {
    pub(crate) net: usize,
    /// Which of the net's test points; its name where absent.
    pub(crate) test: Option<usize>,
    pub(crate) at: Point,
    pub(crate) label: Rect,
}

/// The line of a rail or of ground.
#[derive(Clone, Debug)]
pub(crate) struct Bus {
    pub(crate) net: usize,
    /// Its left end, where its name or the symbol of ground stands.
    pub(crate) at: Point,
    pub(crate) label: Rect,
}

/// How wide texts are, in characters.
pub(crate) struct Widths {
    /// Of each part: what stands beside it.
    pub(crate) parts: Vec<usize>,
    /// Of each net: its name with its value.
    pub(crate) nets: Vec<usize>,
    /// Of each net's test points.
    pub(crate) tests: Vec<Vec<usize>>,
}

/// Draws a circuit. `None` where there is nothing to draw, or where what was drawn would not say what the netlist says.
pub(crate) fn draw(circuit: &Circuit, widths: &Widths) -> Option<Drawing> {
    if circuit.parts.is_empty() {
        return None;
    }
    (0..MOST_SPREADS).find_map(|spread| {
        let columns = columns::columns(circuit, widths, spread);
        let columns = place::rows(circuit, columns);
        let columns = order::ordered(circuit, columns);
        let placed = place::place(circuit, &columns, widths, spread);
        route::route(circuit, placed).filter(|drawing| reads_back(circuit, drawing))
    })
}

/// How often the drawing is spread further where wires find no way.
const MOST_SPREADS: i32 = 12;

#[cfg(test)]
mod tests;
