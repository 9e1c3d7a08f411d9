//! What a `circuit` block joins: paths, parts across others, test points and outputs that are driven.

use benchleaf_words::phrase;

use super::{Builder, Read};
use crate::{
    circuit::{Drive, Kind, Part, Step},
    problem::{Code, Problem},
    sheet::{CircuitClause, Element, Node, PartRequest, Turn},
    span::{Span, Spanned},
    suggest::nearest,
};

impl Builder<'_> {
    pub(super) fn clause(&mut self, clause: &CircuitClause) -> Read<()> {
        match clause {
            CircuitClause::Rail { .. } | CircuitClause::Net { .. } | CircuitClause::Part(_) => Ok(()),
            CircuitClause::Path(elements) => self.path(elements),
            CircuitClause::Across { part, host } => self.across(part, host),
            CircuitClause::Test { value, at } => {
                if !self.wants(value, "V", phrase!(CHECK_PATHS_A_TEST_POINT_SHOWS))
                    && self.known.quantity(&value.item).is_none()
                {
                    return Err(self.unknown(value));
                }
                let joint = self.node(at)?;
                let root = self.root(joint);
                self.joints[root].tests.push(value.item.clone());
                Ok(())
            }
            CircuitClause::Drive { at, value } => {
                if !self.wants(value, "V", phrase!(CHECK_PATHS_AN_OUTPUT_IS_DRIVEN)) {
                    return match self.known.quantity(&value.item) {
                        Some(_) => Ok(()),
                        None => Err(self.unknown(value)),
                    };
                }
                let net = self.node(at)?;
                let span = at.span.to(value.span);
                self.circuit.drives.push(Drive { net, value: value.item.clone(), span });
                Ok(())
            }
        }
    }

    fn path(&mut self, elements: &[Element]) -> Read<()> {
        let mut last: Option<(usize, Span)> = None;
        let mut through: Vec<Step> = Vec::new();
        for element in elements {
            let (before, behind, span) = match element {
                Element::Nodes(nodes) => {
                    let mut joints = Vec::new();
                    for node in nodes {
                        joints.push((self.node(node)?, node.span));
                    }
                    let Some(&(first, span)) = joints.first() else { continue };
                    for (joint, span) in &joints[1..] {
                        self.join(first, *joint, *span)?;
                    }
                    (first, first, joints.iter().fold(span, |all, (_, span)| all.to(*span)))
                }
                Element::Part(request) => match self.placed.get(&request.span).copied() {
                    Some(part) => {
                        let step = self.ends(part, request)?;
                        through.push(step);
                        let pins = &self.circuit.parts[part].pins;
                        (pins[step.enters].net, pins[step.leaves].net, request.span)
                    }
                    None => match request.values.first().and_then(|name| self.named.get(&name.item)) {
                        Some(joint) => (*joint, *joint, request.span),
                        // It is reported already; what stands on both sides of it is not joined.
                        None => {
                            last = None;
                            continue;
                        }
                    },
                },
            };
            if let Some((last, last_span)) = last {
                self.join(last, before, last_span.to(span))?;
            }
            last = Some((behind, span));
        }
        self.circuit.paths.push(through);
        Ok(())
    }

    /// How a path goes through a part.
    fn ends(&self, index: usize, request: &PartRequest) -> Read<Step> {
        let part = &self.circuit.parts[index];
        let passes = part.kind.is_transistor() || part.kind == Kind::Regulator;
        if part.pins.len() != 2 && !passes {
            let message = phrase!(CHECK_PATHS_A_PATH_DOES_NOT_SAY, name = part.name());
            let help = phrase!(
                CHECK_PATHS_NAME_THE_PINS,
                name = part.name(),
                pin = part.pins.first().map_or("1", |pin| pin.name.as_str())
            );
            return Err(Problem::new(Code::Circuit, request.span, message).help(help));
        }
        let (enters, leaves) = match request.turn {
            Turn::AsWritten => (0, 1),
            Turn::Reversed => (1, 0),
        };
        Ok(Step { part: index, enters, leaves })
    }

    fn across(&mut self, request: &PartRequest, host: &[Spanned<Node>]) -> Read<()> {
        let Some(part) = self.placed.get(&request.span).copied() else { return Ok(()) };
        let step = self.ends(part, request)?;
        let pins = &self.circuit.parts[part].pins;
        let (first, second) = (pins[step.enters].net, pins[step.leaves].net);
        let (upper, lower) = match host {
            [one] => {
                let name = match &one.item {
                    Node::Part(name) | Node::Name(name) => name.as_str(),
                    _ => "",
                };
                let Some(found) = self.circuit.part(name) else {
                    let message = phrase!(CHECK_PATHS_NO_PART_OF_THIS_CIRCUIT, name = name);
                    let help = phrase!(CHECK_PATHS_A_PART_STANDS_ACROSS_ANOTHER);
                    return Err(Problem::new(Code::Circuit, one.span, message).help(help));
                };
                let ends = &self.circuit.parts[found];
                match ends.pins.as_slice() {
                    [first, second] => (first.net, second.net),
                    [first, second, _] if ends.kind.is_transistor() => (first.net, second.net),
                    _ => {
                        let message = phrase!(CHECK_PATHS_HAS_MORE_THAN_TWO_PINS, name = name);
                        let help = phrase!(
                            CHECK_PATHS_NAME_THE_TWO_NETS,
                            name = name,
                            pin = ends.pins.first().map_or("1", |pin| pin.name.as_str())
                        );
                        return Err(Problem::new(Code::Circuit, one.span, message).help(help));
                    }
                }
            }
            [upper, lower, ..] => (self.node(upper)?, self.node(lower)?),
            [] => return Ok(()),
        };
        self.join(upper, first, request.span)?;
        self.join(lower, second, request.span)?;
        self.circuit.paths.push(vec![step]);
        Ok(())
    }

    fn node(&mut self, node: &Spanned<Node>) -> Read<usize> {
        match &node.item {
            Node::Ground => Ok(0),
            Node::Name(name) => self
                .named
                .get(name)
                .copied()
                .ok_or_else(|| self.unknown(&Spanned { item: name.clone(), span: node.span })),
            Node::Part(name) => {
                let message = phrase!(CHECK_PATHS_IS_A_PART, name = name);
                let pin = self.circuit.part(name).and_then(|part| self.circuit.parts[part].pins.first());
                let pin = pin.map_or("1", |pin| pin.name.as_str());
                Err(Problem::new(Code::Circuit, node.span, message).help(phrase!(
                    CHECK_PATHS_WRITE,
                    name = name,
                    pin = pin
                )))
            }
            Node::Pin { part, pin } => {
                let parts = self.circuit.parts.iter().enumerate();
                let mut called: Vec<usize> =
                    parts.filter(|(_, known)| known.name() == part).map(|(index, _)| index).collect();
                // Of a relay, the coil comes first.
                called.sort_by_key(|index| self.circuit.parts[*index].kind == Kind::Contact);
                let Some(first) = called.first().copied() else {
                    let message = phrase!(CHECK_PATHS_NO_PART_OF_THIS_CIRCUIT, name = part);
                    let names = self.circuit.parts.iter().map(Part::name);
                    let help = match nearest(part, names) {
                        Some(near) => phrase!(SHARED_DID_YOU_MEAN_DESIGNATOR, near = near),
                        None => phrase!(CHECK_PATHS_SAY_WHAT_IT_IS_FIRST, part = part, pin = pin),
                    };
                    return Err(Problem::new(Code::Circuit, node.span, message).help(help));
                };
                let found = self.circuit.parts[first].pin(pin).map(|pin| (first, pin));
                let Some((found, pin)) = found else {
                    let known: Vec<&str> = self.circuit.parts[first].pins.iter().map(|pin| pin.name.as_str()).collect();
                    let message =
                        phrase!(CHECK_PATHS_HAS_NO_PIN_IT_HAS, part = part, pin = pin, known = known.join(", "));
                    let problem = Problem::new(Code::Circuit, node.span, message);
                    return Err(match nearest(pin, known.iter().copied()) {
                        Some(near) => problem.help(phrase!(CHECK_PATHS_DID_YOU_MEAN, part = part, near = near)),
                        None => problem.help(phrase!(CHECK_PATHS_NAME_ITS_PINS_AS_THEY)),
                    });
                };
                let pin = &mut self.circuit.parts[found].pins[pin];
                pin.span = node.span;
                Ok(pin.net)
            }
        }
    }
}
