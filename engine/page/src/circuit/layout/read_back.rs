//! Reads a drawing as its reader does, by its lines, dots and pins alone, and holds it against the netlist. A drawing that
//! says something else is worse than none.

use std::collections::HashMap;

use benchleaf_core::circuit::Circuit;

use super::{
    Drawing, Wire,
    geometry::{Point, Rect},
};

/// Whether the drawing says what the netlist says, and nothing in it lies on anything else.
pub(crate) fn reads_back(circuit: &Circuit, drawing: &Drawing) -> bool {
    is_clear(drawing) && joins_as_said(circuit, drawing)
}

/// Whether no symbol or label meets another, and no wire runs through one or along another wire.
fn is_clear(drawing: &Drawing) -> bool {
    let mut boxes: Vec<(usize, Rect)> = Vec::new();
    for (owner, symbol) in drawing.symbols.iter().enumerate() {
        boxes.push((owner, symbol.body));
        boxes.extend(symbol.labels.iter().map(|label| (owner, *label)));
    }
    let first = drawing.symbols.len();
    for (number, flag) in drawing.flags.iter().enumerate() {
        boxes.push((first + number, flag.label));
    }
    let first = first + drawing.flags.len();
    boxes.extend(drawing.buses.iter().enumerate().map(|(number, bus)| (first + number, bus.label)));
    for (at, (owner, one)) in boxes.iter().enumerate() {
        let others = boxes[at + 1..].iter();
        if others.filter(|(other, _)| other != owner).any(|(_, other)| one.meets(*other)) {
            return false;
        }
    }
    // A wire may end on the edge of a symbol, at its pin.
    let pins: Vec<Point> = drawing.symbols.iter().flat_map(|symbol| symbol.pins.iter().copied()).collect();
    let ends: Vec<Point> =
        drawing.flags.iter().map(|flag| flag.at).chain(drawing.buses.iter().map(|bus| bus.at)).collect();
    let touches = |wire: &Wire, rect: &Rect| {
        line(wire).meets(*rect) && points(wire).any(|at| rect.holds(at) && !pins.contains(&at) && !ends.contains(&at))
    };
    if drawing.wires.iter().any(|wire| boxes.iter().any(|(_, rect)| touches(wire, rect))) {
        return false;
    }
    let along = |a: &Wire, b: &Wire| {
        let (a, b) = (line(a), line(b));
        let shared = (a.right.min(b.right) - a.left.max(b.left)) + (a.bottom.min(b.bottom) - a.top.max(b.top));
        a.meets(b) && shared > 0
    };
    let mut pairs =
        drawing.wires.iter().enumerate().flat_map(|(at, a)| drawing.wires[at + 1..].iter().map(move |b| (a, b)));
    !pairs.any(|(a, b)| along(a, b))
}

/// Whether the pins that wires and dots join are those of one net.
fn joins_as_said(circuit: &Circuit, drawing: &Drawing) -> bool {
    let mut joined = Joined::default();
    let mut ends: HashMap<Point, Vec<usize>> = HashMap::new();
    for (number, wire) in drawing.wires.iter().enumerate() {
        joined.add();
        ends.entry(wire.from).or_default().push(number);
        ends.entry(wire.to).or_default().push(number);
    }
    // Wires that end at one point are one wire; where three or more meet, only with a dot.
    for (at, wires) in &ends {
        if wires.len() > 2 && !drawing.dots.contains(at) {
            return false;
        }
        wires.windows(2).for_each(|pair| joined.join(pair[0], pair[1]));
    }
    // A dot joins whatever runs through it.
    for dot in &drawing.dots {
        let through: Vec<usize> =
            (0..drawing.wires.len()).filter(|number| line(&drawing.wires[*number]).holds(*dot)).collect();
        through.windows(2).for_each(|pair| joined.join(pair[0], pair[1]));
    }
    // Without one, a wire's end may not lie on another wire.
    for (at, wires) in &ends {
        let passes = |wire: &Wire| line(wire).holds(*at) && wire.from != *at && wire.to != *at;
        if !drawing.dots.contains(at) && drawing.wires.iter().any(passes) {
            return false;
        }
        if wires.is_empty() {
            return false;
        }
    }
    let wire_of = |at: Point| ends.get(&at).and_then(|wires| wires.first()).map(|wire| joined.root(*wire));
    let mut net_of_wires: HashMap<usize, usize> = HashMap::new();
    let mut found: HashMap<usize, Vec<usize>> = HashMap::new();
    let pins = drawing.symbols.iter().flat_map(|symbol| {
        let part = &circuit.parts[symbol.part];
        part.pins.iter().map(|pin| pin.net).zip(symbol.pins.iter().copied())
    });
    let flags = drawing.flags.iter().map(|flag| (flag.net, flag.at));
    let buses = drawing.buses.iter().map(|bus| (bus.net, bus.at));
    let mut places: HashMap<Point, usize> = HashMap::new();
    for (net, at) in pins.chain(flags).chain(buses) {
        if places.insert(at, net).is_some_and(|other| other != net) {
            return false;
        }
        match wire_of(at) {
            Some(wire) => {
                if net_of_wires.insert(wire, net).is_some_and(|other| other != net) {
                    return false;
                }
                found.entry(net).or_default().push(wire);
            }
            None => found.entry(net).or_default().push(usize::MAX),
        }
    }
    found
        .values()
        .all(|wires| wires.len() < 2 || (wires[0] != usize::MAX && wires.iter().all(|wire| *wire == wires[0])))
}

fn line(wire: &Wire) -> Rect {
    let (a, b) = (wire.from, wire.to);
    Rect::new(a.x.min(b.x), a.y.min(b.y), a.x.max(b.x), a.y.max(b.y))
}

fn points(wire: &Wire) -> impl Iterator<Item = Point> + use<> {
    let line = line(wire);
    (line.left..=line.right).flat_map(move |x| (line.top..=line.bottom).map(move |y| Point::new(x, y)))
}

/// Wires that are one.
#[derive(Default)]
struct Joined {
    parents: Vec<usize>,
}

impl Joined {
    fn add(&mut self) {
        self.parents.push(self.parents.len());
    }

    fn root(&self, mut at: usize) -> usize {
        while self.parents[at] != at {
            at = self.parents[at];
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.parents[a.max(b)] = a.min(b);
    }
}
