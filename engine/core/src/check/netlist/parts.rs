//! The parts of a netlist: each is placed once, with its kind and its pins.

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
                    let message = format!("`{value}` stands for {} parts on the board", known.len());
                    let help = format!("say which one stands here: {value} @{first}");
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
            let message = format!("`{}` stands in the circuit already", first.name());
            let help =
                "a part is placed once; give a second one a designator of its own, or join its pins by name: @K1.1";
            return Err(Problem::new(Code::Circuit, request.span, message).help(help));
        }
        let pins = self.pins(request, kind)?;
        let (label, state, span) = (request.label.clone(), request.state, request.span);
        self.circuit.parts.push(Part { kind, designator, values, label, pins, state, span });
        Ok(Some(self.circuit.parts.len() - 1))
    }

    pub(super) fn unknown(&self, value: &Spanned<String>) -> Problem {
        let message = format!("`{}` is neither a value above nor a rail or a net of this circuit", value.item);
        let known = self.named.keys().map(String::as_str).chain(Kind::TABLE.iter().map(|row| row.word));
        let mut known: Vec<&str> = known.chain(["ground", "rail", "net", "test", "drive"]).collect();
        known.sort_unstable();
        let help = match nearest(&value.item, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("define it above, or name the net first: net {}", value.item),
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
            let message = format!("`{written}` could not be evaluated, so its kind of part is not known");
            return Err(Problem::new(Code::DependsOnError, request.span, message));
        }
        let message = format!("nothing says what kind of part `{written}` is");
        let help = format!("write its kind before it: diode {written}; a value in Ω, F, H or A says it by its unit");
        Err(Problem::new(Code::Circuit, request.span, message).help(help))
    }

    fn pins(&mut self, request: &PartRequest, kind: Kind) -> Read<Vec<Pin>> {
        let fixed = kind.row().pins;
        let mut pins: Vec<Pin> = Vec::new();
        match (fixed, request.pins.as_slice()) {
            ([], []) => {
                let message = format!("a {} has the pins that are named behind it, and none is", kind.row().word);
                let help = "name them by their sides: chip @U1 \"timer\": left trigger; right output; bottom ground";
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
                        let message = format!("the pin `{}` stands here twice", name.item);
                        let help = "give each pin a name of its own: gnd1, gnd2";
                        return Err(Problem::new(Code::Circuit, name.span, message).help(help));
                    }
                    let net = self.joint(Role::Signal, None, None, name.span);
                    pins.push(Pin { name: name.item.clone(), side: *side, net, span: name.span });
                }
            }
            (fixed, _) => {
                let names: Vec<&str> = fixed.iter().map(|pin| pin.0).collect();
                let message = format!("the pins of a {} have names already: {}", kind.row().word, names.join(", "));
                let help = "leave them out; a chip has pins of your own";
                return Err(Problem::new(Code::Circuit, request.span, message).help(help));
            }
        }
        Ok(pins)
    }
}
