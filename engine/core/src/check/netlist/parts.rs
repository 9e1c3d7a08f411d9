//! The parts of a netlist: each is placed once, with its kind and its pins.

use benchleaf_words::phrase;

use super::{Builder, Read};
use crate::{
    circuit::{Kind, Part, Pin, Role},
    problem::{Code, Problem},
    sheet::{CircuitBlock, CircuitClause, Element, PartRequest},
    span::Spanned,
    suggest::nearest,
    units::parse,
};

impl Builder<'_> {
    pub(super) fn place(&mut self, block: &CircuitBlock) {
        let mut requests: Vec<&PartRequest> = Vec::new();
        for clause in &block.clauses {
            match clause {
                CircuitClause::Part(part) | CircuitClause::Across { part, .. } => requests.push(part),
                CircuitClause::Path(elements) => requests.extend(elements.iter().filter_map(|element| match element {
                    Element::Part(part) => Some(part),
                    Element::Nodes(_) => None,
                })),
                _ => {}
            }
        }
        for request in requests {
            match self.part(request) {
                Ok(Some(part)) => {
                    self.placed.insert(request.span, part);
                }
                Ok(None) => {}
                Err(problem) => self.problems.push(problem),
            }
        }
    }

    /// The part that a request makes; `None` where it names a net instead.
    fn part(&mut self, request: &PartRequest) -> Read<Option<usize>> {
        if let (None, None, [name]) = (request.kind, &request.designator, request.values.as_slice())
            && self.named.contains_key(&name.item)
        {
            return Ok(None);
        }
        let mut values: Vec<String> = Vec::new();
        for value in &request.values {
            match self.known.quantity(&value.item) {
                Some(_) => values.push(value.item.clone()),
                None if self.known.failed(&value.item) => values.push(value.item.clone()),
                None => return Err(self.unknown(value)),
            }
        }
        let mut designator = request.designator.as_ref().map(|name| name.item.clone());
        if let (Some(name), true) = (&designator, values.is_empty()) {
            values.extend(self.known.value_of(name));
        }
        if let (None, Some(value)) = (&designator, values.first()) {
            let known = self.known.designators(value);
            match known.as_slice() {
                [one] => designator = Some(one.clone()),
                [first, ..] if request.kind.is_none_or(|kind| kind != Kind::Regulator) => {
                    let message = phrase!(CHECK_PARTS_STANDS_FOR_PARTS_ON, value = value, known = known.len());
                    let help = phrase!(CHECK_PARTS_SAY_WHICH_ONE_STANDS_HERE, value = value, first = first);
                    return Err(Problem::new(Code::Circuit, request.span, message).help(help));
                }
                _ => {}
            }
        }
        let kind = match request.kind {
            Some(kind) => kind,
            // A part whose kind is known stands somewhere else already.
            None if self
                .circuit
                .parts
                .iter()
                .any(|part| part.designator.is_some() && part.designator == designator) =>
            {
                Kind::Resistor
            }
            None => self.kind_of(request, &values, designator.as_deref())?,
        };
        let same = |part: &Part| match (&part.designator, &designator) {
            (Some(a), Some(b)) => a == b,
            (None, None) => part.kind == kind && !values.is_empty() && part.values == values,
            _ => false,
        };
        // A relay's coil and its contacts have one designator.
        let relay = |part: &Part| {
            let of_a_relay = |kind: Kind| matches!(kind, Kind::Coil | Kind::Contact);
            of_a_relay(part.kind) && of_a_relay(kind) && (part.kind != kind || kind == Kind::Contact)
        };
        if let Some(first) = self.circuit.parts.iter().find(|part| same(part) && !relay(part)) {
            let message = phrase!(CHECK_PARTS_STANDS_IN_THE_CIRCUIT_ALREADY, name = first.name());
            let help = phrase!(CHECK_PARTS_A_PART_IS_PLACED_ONCE);
            return Err(Problem::new(Code::Circuit, request.span, message).help(help));
        }
        let pins = self.pins(request, kind)?;
        let (label, state, span) = (request.label.clone(), request.state, request.span);
        self.circuit.parts.push(Part { kind, designator, values, label, pins, state, span });
        Ok(Some(self.circuit.parts.len() - 1))
    }

    pub(super) fn unknown(&self, value: &Spanned<String>) -> Problem {
        let message = phrase!(CHECK_PARTS_IS_NEITHER_A_VALUE_ABOVE, value = value.item);
        let known = self.named.keys().map(String::as_str).chain(Kind::TABLE.iter().map(|row| row.word));
        let mut known: Vec<&str> = known.chain(["ground", "rail", "net", "test", "drive"]).collect();
        known.sort_unstable();
        let help = match nearest(&value.item, known) {
            Some(near) => phrase!(SHARED_DID_YOU_MEAN, known = near),
            None => phrase!(CHECK_PARTS_DEFINE_IT_ABOVE_OR_NAME, value = value.item),
        };
        Problem::new(Code::Circuit, value.span, message).help(help)
    }

    /// The kind that follows from the unit of a part's value.
    fn kind_of(&self, request: &PartRequest, values: &[String], designator: Option<&str>) -> Read<Kind> {
        let quantity = values.first().and_then(|value| self.known.quantity(value));
        let is = |unit: &str| {
            let dimension = parse(unit).map(|unit| unit.quantity.dimension);
            quantity.is_some_and(|quantity| Some(quantity.dimension) == dimension)
        };
        let known = [("Ω", Kind::Resistor), ("F", Kind::Capacitor), ("H", Kind::Inductor), ("A", Kind::Load)];
        if let Some((_, kind)) = known.into_iter().find(|(unit, _)| is(unit)) {
            return Ok(kind);
        }
        let written = match (values.first(), designator) {
            (Some(value), _) => value.clone(),
            (None, Some(designator)) => format!("@{designator}"),
            (None, None) => String::new(),
        };
        if values.first().is_some_and(|value| self.known.failed(value)) {
            let message = phrase!(CHECK_PARTS_COULD_NOT_BE_EVALUATED_SO, written = written);
            return Err(Problem::new(Code::DependsOnError, request.span, message));
        }
        let message = phrase!(CHECK_PARTS_NOTHING_SAYS_WHAT_KIND, written = written);
        let help = phrase!(CHECK_PARTS_WRITE_ITS_KIND_BEFORE_IT, written = written);
        Err(Problem::new(Code::Circuit, request.span, message).help(help))
    }

    fn pins(&mut self, request: &PartRequest, kind: Kind) -> Read<Vec<Pin>> {
        let fixed = kind.row().pins;
        let mut pins: Vec<Pin> = Vec::new();
        match (fixed, request.pins.as_slice()) {
            ([], []) => {
                let message = phrase!(CHECK_PARTS_A_HAS_THE_PINS, word = kind.row().word);
                let help = phrase!(CHECK_PARTS_NAME_THEM_BY_THEIR_SIDES);
                return Err(Problem::new(Code::Circuit, request.span, message).help(help));
            }
            (fixed, []) => {
                for (name, side) in fixed {
                    let net = self.joint(Role::Signal, None, None, request.span);
                    pins.push(Pin { name: (*name).to_owned(), side: *side, net, span: request.span });
                }
            }
            ([], written) => {
                for (side, name) in written {
                    if pins.iter().any(|pin| pin.name == name.item) {
                        let message = phrase!(CHECK_PARTS_THE_PIN_STANDS_HERE_TWICE, name = name.item);
                        let help = phrase!(CHECK_PARTS_GIVE_EACH_PIN_A_NAME);
                        return Err(Problem::new(Code::Circuit, name.span, message).help(help));
                    }
                    let net = self.joint(Role::Signal, None, None, name.span);
                    pins.push(Pin { name: name.item.clone(), side: *side, net, span: name.span });
                }
            }
            (fixed, _) => {
                let names: Vec<&str> = fixed.iter().map(|pin| pin.0).collect();
                let message = phrase!(CHECK_PARTS_THE_PINS_OF_A_HAVE, word = kind.row().word, names = names.join(", "));
                let help = phrase!(CHECK_PARTS_LEAVE_THEM_OUT_A_CHIP);
                return Err(Problem::new(Code::Circuit, request.span, message).help(help));
            }
        }
        Ok(pins)
    }
}
