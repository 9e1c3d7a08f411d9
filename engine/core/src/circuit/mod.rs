//! A circuit as a netlist: its parts, their pins, and the nets that join them. It comes from the connections of a `circuit`
//! block, and everything else about a circuit is made from it: the drawing, the list of connections, the checks, and what
//! its nodes and branches come to.

mod inspect;
mod kind;

pub(crate) use inspect::{Potential, inspect};
pub use kind::{Kind, KindRow, Pole, Side};

use crate::span::Span;

/// A circuit.
#[derive(Clone, Debug, Default)]
pub struct Circuit {
    /// Where its block stands.
    pub span: Span,
    /// Its title.
    pub title: Option<String>,
    /// Its parts, in the order in which the block names them.
    pub parts: Vec<Part>,
    /// Its nets: ground first, then in the order in which the block names them.
    pub nets: Vec<Net>,
    /// Its paths, as they were written: the parts of each in order, with the pins by which the path enters and leaves them.
    pub paths: Vec<Vec<Step>>,
    /// Known potentials that are no rails.
    pub drives: Vec<Drive>,
}

/// A part in a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The part.
    pub part: usize,
    /// The pin by which the path enters it.
    pub enters: usize,
    /// The pin by which the path leaves it.
    pub leaves: usize,
}

/// A part.
#[derive(Clone, Debug)]
pub struct Part {
    /// What it is.
    pub kind: Kind,
    /// What drawing and board call it.
    pub designator: Option<String>,
    /// The values of the worksheet that are written with it; the first is the one that is shown.
    pub values: Vec<String>,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Its pins.
    pub pins: Vec<Pin>,
    /// How it stands where that matters: a closed switch, a MOSFET that is off.
    pub state: Option<State>,
    /// Where it is named first.
    pub span: Span,
}

impl Part {
    /// What it is called: its designator, else its value's name, else its kind.
    pub fn name(&self) -> &str {
        let value = self.values.first().map(String::as_str);
        self.designator.as_deref().or(value).unwrap_or(self.kind.row().word)
    }

    /// Its pin of this name.
    pub fn pin(&self, name: &str) -> Option<usize> {
        self.pins.iter().position(|pin| pin.name == name)
    }
}

/// A pin.
#[derive(Clone, Debug)]
pub struct Pin {
    /// Its name; unique in its part.
    pub name: String,
    /// The side of the symbol that it stands on.
    pub side: Side,
    /// The net that it is joined to: its index in [`Circuit::nets`].
    pub net: usize,
    /// Where the block joins it; the part's place where it does not.
    pub span: Span,
}

/// How a switch or a transistor stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It conducts.
    Closed,
    /// It does not.
    Open,
}

/// A net: what is joined by wires.
#[derive(Clone, Debug)]
pub struct Net {
    /// What it is.
    pub role: Role,
    /// The name that the block gives it.
    pub name: Option<String>,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Its pins: part and pin, by their indices.
    pub pins: Vec<(usize, usize)>,
    /// Where the block names or makes it first.
    pub span: Span,
    /// The values that can be read at it with a meter: test points.
    pub tests: Vec<String>,
}

/// What a net is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Potentials count from here.
    Ground,
    /// A supply of this name.
    Rail,
    /// Any other.
    Signal,
}

/// A net whose potential a value of the worksheet says: what an output drives, a signal from elsewhere.
#[derive(Clone, Debug)]
pub struct Drive {
    /// The net.
    pub net: usize,
    /// The value's name.
    pub value: String,
    /// Where the line stands.
    pub span: Span,
}

impl Circuit {
    /// A net as a reader finds it: its name, else its first pins.
    pub fn net_name(&self, net: usize) -> String {
        let Some(found) = self.nets.get(net) else { return String::new() };
        if let Some(name) = &found.name {
            return name.clone();
        }
        let pins: Vec<String> = found.pins.iter().take(3).map(|(part, pin)| self.pin_name(*part, *pin)).collect();
        let more = if found.pins.len() > 3 { ", …" } else { "" };
        format!("{}{more}", pins.join(", "))
    }

    /// A pin as a reader finds it: `U1.output`.
    pub fn pin_name(&self, part: usize, pin: usize) -> String {
        let Some(part) = self.parts.get(part) else { return String::new() };
        format!("{}.{}", part.name(), part.pins.get(pin).map_or("", |pin| pin.name.as_str()))
    }

    /// The part of this name: a designator, or the name of a value that one part has.
    pub fn part(&self, name: &str) -> Option<usize> {
        let designated = self.parts.iter().position(|part| part.designator.as_deref() == Some(name));
        designated.or_else(|| self.parts.iter().position(|part| part.values.first().is_some_and(|value| value == name)))
    }
}
