//! What a practised eye sees in a circuit: pins left open, outputs that meet, parts the wrong way round, coils without a clamp.

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

fn warning(span: crate::span::Span, message: String, help: impl Into<String>) -> Problem {
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
                let message = format!("the pin `{name}` is joined to nothing");
                let help =
                    format!("join it: @{name} -> …; a pin that stays open on purpose has a name that begins with nc");
                problems.push(warning(open.span, message, help));
            }
            ([], Some(name)) if net.role != Role::Ground => {
                problems.push(warning(
                    net.span,
                    format!("nothing is joined to `{name}`"),
                    "leave it out, or join a part to it",
                ));
            }
            ([_], Some(name))
                if net.role == Role::Signal
                    && net.label.is_none()
                    && !circuit.drives.iter().any(|drive| drive.net == index) =>
            {
                let message = format!("the net `{name}` has one end");
                problems.push(warning(net.span, message, "a net joins two pins or more: join the other one"));
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
        let names: Vec<String> =
            outputs.iter().map(|(part, pin)| format!("`{}`", circuit.pin_name(*part, *pin))).collect();
        let message = format!("{} are outputs, and are joined", names.join(" and "));
        let help = "where one drives high and the other low, a short-circuit current flows: join one of them only, or put a diode or a resistor into each";
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
            let message = format!(
                "`{}` stands the wrong way round: its {} is on the side of {}, its {} on the side of {}, which is higher",
                part.name(),
                first.name,
                circuit.net_name(from),
                second.name,
                circuit.net_name(to),
            );
            problems.push(warning(part.span, message, "turn it round: add or remove `reversed` behind it"));
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
                let message = format!("nothing takes over the current of `{name}` when it is switched off");
                let help = format!("put a diode across it: diode @D1 across @{name}, reversed");
                problems.push(warning(part.span, message, help));
                break;
            }
        }
    }
    problems
}
