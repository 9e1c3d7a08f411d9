//! A circuit in words: what stands beside each symbol, what a part is joined to, and the connections in order.

use benchleaf_core::{
    check::shown_unit,
    circuit::{Circuit, Kind, Part, Role},
};
use benchleaf_words::{Word, Words, key, say};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    format::{listed, narrow},
    mathml,
};

/// What stands beside symbols and nets.
pub(super) struct Texts {
    parts: Vec<(String, Option<String>)>,
    nets: Vec<(String, Option<String>)>,
    tests: Vec<Vec<(String, Option<String>)>>,
    /// The potential of each net that no value of the worksheet says.
    solved: Vec<Option<String>>,
}

impl Texts {
    pub(super) fn new(context: &PageContext<'_>, number: usize, circuit: &Circuit) -> Self {
        let shown = |name: &str| context.value(name).map(|value| narrow(&value.shown_in(context.words)));
        let of = |name: &str| (name.to_owned(), shown(name));
        let parts = circuit.parts.iter().map(|part| {
            // A transistor's voltages say how it is counted, not which one it is.
            let value = part.values.first().filter(|_| !part.kind.is_transistor()).and_then(|value| shown(value));
            let short = |label: &String| label.chars().count() <= LONGEST;
            (part.name().to_owned(), value.or_else(|| part.label.clone().filter(short)))
        });
        let nets = circuit.nets.iter().enumerate().map(|(index, net)| {
            let drive = circuit.drives.iter().find(|drive| drive.net == index);
            let name = circuit.net_name(index);
            let value = if net.role == Role::Rail { shown(&name) } else { drive.and_then(|drive| shown(&drive.value)) };
            (name, value)
        });
        let tests = circuit.nets.iter().map(|net| net.tests.iter().map(|test| of(test)).collect());
        let potentials = context.evaluation.potentials.get(number).map_or(&[][..], Vec::as_slice);
        let digits = context.evaluation.sheet.metadata.digits;
        let in_volts = |si: f64| narrow(&shown_unit("V", si).show(si, digits));
        let solved = potentials.iter().map(|potential| potential.map(in_volts)).collect();
        Self { parts: parts.collect(), nets: nets.collect(), tests: tests.collect(), solved }
    }

    pub(super) fn part(&self, part: usize) -> (String, Option<String>) {
        self.parts[part].clone()
    }

    #[cfg(feature = "markdown")]
    pub(super) fn net(&self, net: usize) -> (String, Option<String>) {
        self.nets[net].clone()
    }

    #[cfg(feature = "markdown")]
    pub(super) fn test(&self, net: usize, test: usize) -> (String, Option<String>) {
        self.tests[net][test].clone()
    }

    /// How many characters are kept for a text: a value may grow.
    #[cfg(feature = "markdown")]
    pub(super) fn width(&self, (name, value): (String, Option<String>)) -> usize {
        let value = value.map_or(0, |value| value.chars().count().max(LEAST));
        value.max(name.chars().count())
    }

    /// How the text beside a part is found when its value changes.
    pub(super) fn part_key(part: usize) -> String {
        format!("p{part}")
    }

    pub(super) fn net_key(net: usize) -> String {
        format!("n{net}")
    }

    pub(super) fn flag_key(&self, net: usize, test: Option<usize>) -> String {
        test.map_or_else(|| Self::net_key(net), |test| format!("t{net}-{test}"))
    }

    /// Every text that follows a value, by its key.
    pub(super) fn following(&self) -> Vec<(String, String)> {
        let parts = self.parts.iter().enumerate().filter_map(|(at, text)| Some((Self::part_key(at), text.1.clone()?)));
        let nets = self.nets.iter().enumerate().filter_map(|(at, text)| Some((Self::net_key(at), text.1.clone()?)));
        let tests = self.tests.iter().enumerate().flat_map(|(net, tests)| {
            let keyed = tests.iter().enumerate();
            keyed.filter_map(move |(at, text)| Some((self.flag_key(net, Some(at)), text.1.clone()?)))
        });
        parts.chain(nets).chain(tests).collect()
    }
}

/// Characters that are kept for any value.
#[cfg(feature = "markdown")]
const LEAST: usize = 8;

/// The longest label that stands beside a symbol, in characters.
const LONGEST: usize = 16;

/// A part in words: what it is, and what each of its pins is joined to.
#[cfg(feature = "markdown")]
pub(super) fn describe(words: Words<'_>, circuit: &Circuit, texts: &Texts, index: usize) -> String {
    let part = &circuit.parts[index];
    let (name, value) = texts.part(index);
    let mut said = format!("{name}: {}", words.text(what(part.kind)));
    for more in value.iter().chain(part.label.as_ref().filter(|label| Some(*label) != value.as_ref())) {
        said.push_str(", ");
        said.push_str(more);
    }
    let pins = part.pins.iter().enumerate().map(|(pin, joined)| {
        say!(words, CIRCUIT_JOINED, pin = joined.name, others = others(words, circuit, (index, pin)))
    });
    said.push_str("; ");
    said.push_str(&pins.collect::<Vec<_>>().join(", "));
    said
}

/// What a pin is joined to, but for itself.
fn others(words: Words<'_>, circuit: &Circuit, own: (usize, usize)) -> String {
    let index = circuit.parts[own.0].pins[own.1].net;
    let net = &circuit.nets[index];
    if net.role != Role::Signal {
        return net.name.clone().unwrap_or_default();
    }
    let pins = net.pins.iter().filter(|pin| **pin != own).map(|(part, pin)| circuit.pin_name(*part, *pin));
    let named: Vec<String> = net.name.clone().into_iter().chain(pins).collect();
    if named.is_empty() { words.text(key::CIRCUIT_NOTHING).to_owned() } else { listed(words, &named) }
}

/// The connections in order, part by part, for readers who cannot see the drawing; and what each net joins.
pub(super) fn connections(words: Words<'_>, circuit: &Circuit, texts: &Texts) -> Markup {
    let keys = texts.following();
    let shown = |key: String| {
        keys.iter().find(|row| row.0 == key).map(|(key, text)| html! { span data-circuit-key=(key) { (text) } })
    };
    html! {
        details.numbers {
            summary { (words.text(key::CIRCUIT_CONNECTIONS)) }
            ol.connections {
                @for (index, part) in circuit.parts.iter().enumerate() {
                    li data-part=(part.name()) {
                        (named(part)) ", " (words.text(what(part.kind)))
                        @if let Some(value) = shown(Texts::part_key(index)) { ", " (value) }
                        @if let Some(label) = part.label.as_ref().filter(|label| Some(*label) != texts.part(index).1.as_ref()) { ", " (label) }
                        ": "
                        @for (pin, joined) in part.pins.iter().enumerate() {
                            @if pin > 0 { "; " }
                            (say!(words, CIRCUIT_JOINED, pin = joined.name, others = others(words, circuit, (index, pin))))
                        }
                        "."
                    }
                }
            }
        }
        details.numbers {
            summary { (words.text(key::CIRCUIT_NETS)) }
            div.scroll {
                table.figures {
                    caption.unseen { (words.text(key::CIRCUIT_NETS_JOIN)) }
                    thead { tr { th scope="col" { (words.text(key::CIRCUIT_NET)) } th scope="col" { (words.text(key::CIRCUIT_POTENTIAL)) } th scope="col" { (words.text(key::CIRCUIT_JOINS)) } } }
                    tbody {
                        @for (index, net) in circuit.nets.iter().enumerate().filter(|(_, net)| !net.pins.is_empty()) {
                            tr {
                                th scope="row" { @match &net.name { Some(name) => (net_name(name)), None => (index) } }
                                td { @if net.role == Role::Ground { "0\u{202f}V" } @else if let Some(value) = shown(Texts::net_key(index)) { (value) } @else if let Some(solved) = texts.solved.get(index).and_then(Option::as_ref) { (solved) } @else { "–" } }
                                td { (joined(circuit, index)) }
                            }
                        }
                    }
                }
            }
            @for (key, text) in keys.iter().filter(|row| row.0.starts_with('t')) { span.unseen data-circuit-key=(key) { (text) } }
        }
    }
}

/// A net's name, as the drawing has it.
fn net_name(name: &str) -> Markup {
    match name.split_once('_') {
        Some((letter, more)) => html! { i { (letter) } sub { (more) } },
        None => html! { (name) },
    }
}

fn joined(circuit: &Circuit, net: usize) -> String {
    let pins = circuit.nets[net].pins.iter().map(|(part, pin)| circuit.pin_name(*part, *pin));
    pins.collect::<Vec<_>>().join(", ")
}

/// What a part is called: a designator as it is, a value's name as a symbol.
fn named(part: &Part) -> Markup {
    match &part.designator {
        Some(designator) => html! { (designator) },
        None => mathml::symbol(part.name()),
    }
}

/// What a reader calls a kind of part.
fn what(kind: Kind) -> Word<0> {
    match kind {
        Kind::Resistor => key::KIND_RESISTOR,
        Kind::Capacitor => key::KIND_CAPACITOR,
        Kind::PolarisedCapacitor => key::KIND_POLARISED_CAPACITOR,
        Kind::Inductor => key::KIND_INDUCTOR,
        Kind::Diode => key::KIND_DIODE,
        Kind::Zener => key::KIND_ZENER,
        Kind::Led => key::KIND_LED,
        Kind::Npn => key::KIND_NPN,
        Kind::Pnp => key::KIND_PNP,
        Kind::Nmos => key::KIND_NMOS,
        Kind::Pmos => key::KIND_PMOS,
        Kind::Switch => key::KIND_SWITCH,
        Kind::Button => key::KIND_BUTTON,
        Kind::Coil => key::KIND_COIL,
        Kind::Contact => key::KIND_CONTACT,
        Kind::Motor => key::KIND_MOTOR,
        Kind::Lamp => key::KIND_LAMP,
        Kind::Fuse => key::KIND_FUSE,
        Kind::Battery => key::KIND_BATTERY,
        Kind::Supply => key::KIND_SUPPLY,
        Kind::Load => key::KIND_LOAD,
        Kind::Regulator => key::KIND_REGULATOR,
        Kind::Connector => key::KIND_CONNECTOR,
        Kind::Chip => key::KIND_CHIP,
    }
}
