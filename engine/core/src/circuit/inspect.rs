//! What a practised eye sees in a circuit: pins left open, outputs that meet, parts the wrong way round, coils without a clamp.

use benchleaf_words::{Phrase, phrase};

use super::{Circuit, Kind, Pole, Role};
use crate::problem::{Code, Problem};

/// What is known of a net's potential at the nominal values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Potential {
    /// So many volts.
    Volts(f64),
    /// Not known.
    Unknown,
}

/// Looks a circuit over; `potentials` are those of its nets.
pub(crate) fn inspect(circuit: &Circuit, potentials: &[Potential]) -> Vec<Problem> {
    let mut problems = open_pins(circuit);
    problems.extend(outputs(circuit));
    problems.extend(poles(circuit, potentials));
    problems.extend(clamps(circuit));
    problems
}

fn warning(span: crate::span::Span, message: Phrase, help: impl Into<Phrase>) -> Problem {
    Problem::new(Code::CircuitCheck, span, message).help(help)
}

/// Pins that nothing is joined to, and named nets that join nothing.
fn open_pins(circuit: &Circuit) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, net) in circuit.nets.iter().enumerate() {
        let alone = net.role == Role::Signal && net.name.is_none();
        match (net.pins.as_slice(), &net.name) {
            ([(part, pin)], None) if alone && net.tests.is_empty() => {
                let name = circuit.pin_name(*part, *pin);
                let open = &circuit.parts[*part].pins[*pin];
                if open.name.starts_with("nc") {
                    continue;
                }
                let message = phrase!(CIRCUIT_INSPECT_THE_PIN_IS_JOINED, name = name);
                let help = phrase!(CIRCUIT_INSPECT_JOIN_IT_A_PIN, name = name);
                problems.push(warning(open.span, message, help));
            }
            ([], Some(name)) if net.role != Role::Ground => {
                problems.push(warning(
                    net.span,
                    phrase!(CIRCUIT_INSPECT_NOTHING_IS_JOINED_TO, name = name),
                    phrase!(CIRCUIT_INSPECT_LEAVE_IT_OUT_OR_JOIN),
                ));
            }
            ([_], Some(name))
                if net.role == Role::Signal
                    && net.label.is_none()
                    && !circuit.drives.iter().any(|drive| drive.net == index) =>
            {
                let message = phrase!(CIRCUIT_INSPECT_THE_NET_HAS_ONE_END, name = name);
                problems.push(warning(net.span, message, phrase!(CIRCUIT_INSPECT_A_NET_JOINS_TWO_PINS)));
            }
            _ => {}
        }
    }
    problems
}

/// Whether a pin is an output: its name begins with `out`.
fn is_output(circuit: &Circuit, (part, pin): (usize, usize)) -> bool {
    let part = &circuit.parts[part];
    part.kind.is_box() && part.kind != Kind::Connector && part.pins[pin].name.to_lowercase().starts_with("out")
}

fn outputs(circuit: &Circuit) -> Vec<Problem> {
    let mut problems = Vec::new();
    for net in &circuit.nets {
        let outputs: Vec<(usize, usize)> = net.pins.iter().copied().filter(|pin| is_output(circuit, *pin)).collect();
        let Some((part, pin)) = outputs.get(1).copied() else { continue };
        let names = outputs.iter().map(|(part, pin)| Phrase::from(format!("`{}`", circuit.pin_name(*part, *pin))));
        let names = names.reduce(|first, last| phrase!(FORMAT_LIST, first = first, last = last));
        let Some(names) = names else { continue };
        let message = phrase!(CIRCUIT_INSPECT_ARE_OUTPUTS_AND_ARE_JOINED, names = names);
        let help = phrase!(CIRCUIT_INSPECT_WHERE_ONE_DRIVES_HIGH);
        problems.push(warning(circuit.parts[part].pins[pin].span, message, help));
    }
    problems
}

/// Polarised parts that stand the wrong way round between known potentials.
fn poles(circuit: &Circuit, potentials: &[Potential]) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, part) in circuit.parts.iter().enumerate() {
        // A diode that blocks is turned round on purpose; a source sets its own potentials.
        let turned = matches!(part.kind, Kind::PolarisedCapacitor | Kind::Led | Kind::Zener);
        let ([first, second], Pole::FirstHigher, true) = (part.pins.as_slice(), part.kind.row().pole, turned) else {
            continue;
        };
        let ends = (reached(circuit, potentials, index, 0), reached(circuit, potentials, index, 1));
        let (Some((high, from)), Some((low, to))) = ends else { continue };
        if high < low {
            let message = phrase!(
                CIRCUIT_INSPECT_STANDS_THE_WRONG_WAY_ROUND,
                name = part.name(),
                upper = first.name,
                net = circuit.net_name(from),
                lower = second.name,
                other_net = circuit.net_name(to)
            );
            problems.push(warning(part.span, message, phrase!(CIRCUIT_INSPECT_TURN_IT_ROUND)));
        }
    }
    problems
}

/// The known potential on one side of a part, through parts in series with it; and the net that has it.
fn reached(circuit: &Circuit, potentials: &[Potential], part: usize, pin: usize) -> Option<(f64, usize)> {
    let (mut part, mut net) = (part, circuit.parts[part].pins[pin].net);
    for _ in 0..circuit.parts.len() + 1 {
        if let Potential::Volts(volts) = potentials.get(net)? {
            return Some((*volts, net));
        }
        let [a, b] = circuit.nets[net].pins.as_slice() else { return None };
        let (next, at) = if a.0 == part { *b } else { *a };
        let [first, second] = circuit.parts[next].pins.as_slice() else { return None };
        if next == part
            || matches!(
                circuit.parts[next].kind,
                Kind::Battery | Kind::Supply | Kind::Capacitor | Kind::PolarisedCapacitor
            )
        {
            return None;
        }
        (part, net) = (next, if at == 0 { second.net } else { first.net });
    }
    None
}

/// Coils and motors that a transistor or a chip switches, without anything across them that takes over the current.
fn clamps(circuit: &Circuit) -> Vec<Problem> {
    let mut problems = Vec::new();
    for part in &circuit.parts {
        let ([first, second], true) = (part.pins.as_slice(), matches!(part.kind, Kind::Coil | Kind::Motor)) else {
            continue;
        };
        let switches = |net: usize| {
            circuit.nets[net].role == Role::Signal
                && circuit.nets[net].pins.iter().any(|(other, pin)| {
                    let transistor = circuit.parts[*other].kind.is_transistor() && *pin < 2;
                    transistor || is_output(circuit, (*other, *pin))
                })
        };
        let clamped = |a: usize, b: usize| {
            let between = |other: &super::Part| {
                let [c, d] = other.pins.as_slice() else { return false };
                other.kind.is_junction()
                    && other.kind != Kind::Led
                    && [(c.net, d.net), (d.net, c.net)].contains(&(a, b))
            };
            circuit.parts.iter().any(between)
        };
        // In a bridge, diodes lead from the coil's ends to the rails.
        let to_rails = |net: usize| {
            circuit.nets[net].pins.iter().any(|(other, _)| {
                let other = &circuit.parts[*other];
                let ends = other.pins.iter().any(|pin| circuit.nets[pin.net].role != Role::Signal);
                other.kind.is_junction() && other.kind != Kind::Led && ends
            })
        };
        for (net, far) in [(first.net, second.net), (second.net, first.net)] {
            if switches(net) && !clamped(net, far) && !to_rails(net) {
                let name = part.name();
                let message = phrase!(CIRCUIT_INSPECT_NOTHING_TAKES_OVER_THE_CURRENT, name = name);
                let help = phrase!(CIRCUIT_INSPECT_PUT_A_DIODE_ACROSS_IT, name = name);
                problems.push(warning(part.span, message, help));
                break;
            }
        }
    }
    problems
}
