//! The kinds of parts: one table that reading, drawing, checks and the guide all use.

/// A kind of part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Kind {
    Resistor,
    Capacitor,
    PolarisedCapacitor,
    Inductor,
    Diode,
    Zener,
    Led,
    Npn,
    Pnp,
    Nmos,
    Pmos,
    Switch,
    Button,
    Coil,
    Contact,
    Motor,
    Lamp,
    Fuse,
    Battery,
    Supply,
    Load,
    Regulator,
    Connector,
    Chip,
}

/// What the table says of a kind.
#[derive(Clone, Copy, Debug)]
pub struct KindRow {
    /// The kind.
    pub kind: Kind,
    /// The word in a `circuit` block.
    pub word: &'static str,
    /// What a reader calls it.
    pub what: &'static str,
    /// The letters of its designator.
    pub letters: &'static str,
    /// Its pins, in order, each with its side; none where the block names them. In a path, the first pin is the one towards
    /// the path's beginning.
    pub pins: &'static [(&'static str, Side)],
    /// Whether it matters which way round it stands.
    pub pole: Pole,
    /// The number of its symbol in IEC 60617, from memory.
    pub symbol: &'static str,
}

/// The side of a symbol that a pin stands on, as the symbol is drawn upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Side {
    Left,
    Right,
    Top,
    Bottom,
}

impl Side {
    /// The side across from it.
    pub fn opposite(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
            Side::Top => Side::Bottom,
            Side::Bottom => Side::Top,
        }
    }

    /// Every side with its word.
    pub const TABLE: [(Side, &'static str); 4] =
        [(Side::Left, "left"), (Side::Right, "right"), (Side::Top, "top"), (Side::Bottom, "bottom")];
}

/// Whether it matters which way round a part stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pole {
    /// It does not.
    Either,
    /// Its first pin belongs at the higher potential.
    FirstHigher,
}

const PLAIN: &[(&str, Side)] = &[("1", Side::Top), ("2", Side::Bottom)];
const POLES: &[(&str, Side)] = &[("plus", Side::Top), ("minus", Side::Bottom)];
const DIODE: &[(&str, Side)] = &[("anode", Side::Top), ("cathode", Side::Bottom)];
const ZENER: &[(&str, Side)] = &[("cathode", Side::Top), ("anode", Side::Bottom)];
const NPN: &[(&str, Side)] = &[("collector", Side::Top), ("emitter", Side::Bottom), ("base", Side::Left)];
const PNP: &[(&str, Side)] = &[("emitter", Side::Top), ("collector", Side::Bottom), ("base", Side::Left)];
const NMOS: &[(&str, Side)] = &[("drain", Side::Top), ("source", Side::Bottom), ("gate", Side::Left)];
const PMOS: &[(&str, Side)] = &[("source", Side::Top), ("drain", Side::Bottom), ("gate", Side::Left)];
const REGULATOR: &[(&str, Side)] = &[("input", Side::Left), ("output", Side::Right), ("ground", Side::Bottom)];

use Kind::*;

impl Kind {
    /// Every kind. Words that begin alike stand with the longer one first.
    #[rustfmt::skip]
    pub const TABLE: &'static [KindRow] = &[
        row(Resistor, "resistor", "resistor", "R", PLAIN, Pole::Either, "04-01-01"),
        row(Capacitor, "capacitor", "capacitor", "C", PLAIN, Pole::Either, "04-02-01"),
        row(PolarisedCapacitor, "polarised capacitor", "polarised capacitor", "C", POLES, Pole::FirstHigher, "04-02-05"),
        row(Inductor, "inductor", "inductor", "L", PLAIN, Pole::Either, "04-03-01"),
        row(Diode, "diode", "diode", "D", DIODE, Pole::FirstHigher, "05-03-01"),
        row(Zener, "zener", "Zener diode", "D", ZENER, Pole::FirstHigher, "05-03-06"),
        row(Led, "led", "LED", "D", DIODE, Pole::FirstHigher, "05-03-02"),
        row(Npn, "npn", "npn transistor", "Q", NPN, Pole::Either, "05-05-02"),
        row(Pnp, "pnp", "pnp transistor", "Q", PNP, Pole::Either, "05-05-01"),
        row(Nmos, "nmos", "n-channel MOSFET", "Q", NMOS, Pole::Either, "05-05-14"),
        row(Pmos, "pmos", "p-channel MOSFET", "Q", PMOS, Pole::Either, "05-05-13"),
        row(Switch, "switch", "switch", "S", PLAIN, Pole::Either, "07-02-01"),
        row(Button, "button", "push button", "S", PLAIN, Pole::Either, "07-07-02"),
        row(Coil, "coil", "relay coil", "K", PLAIN, Pole::Either, "07-15-01"),
        row(Contact, "contact", "relay contact", "K", PLAIN, Pole::Either, "07-02-01"),
        row(Motor, "motor", "motor", "M", POLES, Pole::Either, "06-04-01"),
        row(Lamp, "lamp", "lamp", "E", PLAIN, Pole::Either, "08-10-01"),
        row(Fuse, "fuse", "fuse", "F", PLAIN, Pole::Either, "07-21-01"),
        row(Battery, "battery", "battery", "BT", POLES, Pole::FirstHigher, "06-15-01"),
        row(Supply, "supply", "voltage source", "G", POLES, Pole::FirstHigher, "02-16-02"),
        row(Load, "load", "current source", "G", PLAIN, Pole::Either, "02-16-01"),
        row(Regulator, "regulator", "voltage regulator", "U", REGULATOR, Pole::Either, "outline 12-05-01"),
        row(Connector, "connector", "connector", "J", &[], Pole::Either, "outline 12-05-01"),
        row(Chip, "chip", "chip", "U", &[], Pole::Either, "outline 12-05-01"),
    ];

    /// What the table says of it.
    pub fn row(self) -> &'static KindRow {
        Self::TABLE.iter().find(|row| row.kind == self).unwrap_or(&Self::TABLE[0])
    }

    /// Whether it is a transistor: two main pins and one that controls it.
    pub fn is_transistor(self) -> bool {
        matches!(self, Npn | Pnp | Nmos | Pmos)
    }

    /// Whether it is drawn as a box with named pins.
    pub fn is_box(self) -> bool {
        matches!(self, Chip | Connector | Regulator)
    }

    /// Whether current flows through it in one direction.
    pub fn is_junction(self) -> bool {
        matches!(self, Diode | Zener | Led)
    }

    /// Whether it is a switch of some sort: open or closed.
    pub fn is_switch(self) -> bool {
        matches!(self, Switch | Button | Contact)
    }
}

const fn row(
    kind: Kind,
    word: &'static str,
    what: &'static str,
    letters: &'static str,
    pins: &'static [(&'static str, Side)],
    pole: Pole,
    symbol: &'static str,
) -> KindRow {
    KindRow { kind, word, what, letters, pins, pole, symbol }
}
