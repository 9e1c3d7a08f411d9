//! From the lines of a `circuit` block to its netlist: names are found, parts are placed once, and what is joined becomes nets.

use std::collections::HashMap;

use crate::{
    circuit::{Circuit, Drive, Kind, Net, Part, Pin, Role, Side, Step},
    problem::{Code, Problem},
    sheet::{CircuitBlock, CircuitClause, Element, Node, PartRequest, Turn},
    span::{Span, Spanned},
    suggest::nearest,
    units::{QuantityType, parse},
};

/// What the worksheet above knows.
pub(crate) trait Known {
    /// What a value is; `None` where there is no quantity of this name.
    fn quantity(&self, name: &str) -> Option<QuantityType>;
    /// The designators of a part of the worksheet that has this name.
    fn designators(&self, name: &str) -> Vec<String>;
    /// The value of the part that has this designator.
    fn value_of(&self, designator: &str) -> Option<String>;
    /// Whether a name is one whose own definition has a problem.
    fn failed(&self, name: &str) -> bool;
}

/// Builds the netlist. Clauses that make no sense are reported and left out.
pub(crate) fn build(block: &CircuitBlock, span: Span, known: &dyn Known, problems: &mut Vec<Problem>) -> Circuit {
    let circuit = Circuit { span, title: block.title.clone(), ..Circuit::default() };
    let mut builder =
        Builder { circuit, known, problems, joints: Vec::new(), named: HashMap::new(), placed: HashMap::new() };
    builder.joint(Role::Ground, Some("ground"), None, span);
    builder.declare(block);
    builder.place(block);
    for clause in &block.clauses {
        if let Err(problem) = builder.clause(clause) {
            builder.problems.push(problem);
        }
    }
    builder.finish()
}

type Read<T> = Result<T, Problem>;

/// A place that is joined to others: pins and named nets each have one.
struct Joint {
    parent: usize,
    role: Role,
    name: Option<String>,
    label: Option<String>,
    tests: Vec<String>,
    span: Span,
}

struct Builder<'a> {
    circuit: Circuit,
    known: &'a dyn Known,
    problems: &'a mut Vec<Problem>,
    joints: Vec<Joint>,
    /// The joint of each rail and each named net.
    named: HashMap<String, usize>,
    /// The part that each place in the text makes.
    placed: HashMap<Span, usize>,
}

impl Builder<'_> {
    fn joint(&mut self, role: Role, name: Option<&str>, label: Option<&str>, span: Span) -> usize {
        let parent = self.joints.len();
        let (name, label) = (name.map(str::to_owned), label.map(str::to_owned));
        self.joints.push(Joint { parent, role, name, label, tests: Vec::new(), span });
        parent
    }

    fn root(&self, mut joint: usize) -> usize {
        while self.joints[joint].parent != joint {
            joint = self.joints[joint].parent;
        }
        joint
    }

    fn join(&mut self, a: usize, b: usize, span: Span) -> Read<()> {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return Ok(());
        }
        let (first, second) = (a.min(b), a.max(b));
        let fixed = |joint: &Joint| joint.role != Role::Signal;
        if fixed(&self.joints[first]) && fixed(&self.joints[second]) {
            let name = |joint: usize| self.joints[joint].name.clone().unwrap_or_default();
            let message = format!("this joins {} to {} by a wire: a short circuit", name(first), name(second));
            return Err(Problem::new(Code::Circuit, span, message).help("name the part that stands between them"));
        }
        // What has a name stays, ground and rails first.
        let keeps = |joint: &Joint| (fixed(joint), joint.name.is_some());
        let (kept, gone) = match keeps(&self.joints[second]) > keeps(&self.joints[first]) {
            true => (second, first),
            false => (first, second),
        };
        self.joints[gone].parent = kept;
        let tests = std::mem::take(&mut self.joints[gone].tests);
        self.joints[kept].tests.extend(tests);
        Ok(())
    }

    fn declare(&mut self, block: &CircuitBlock) {
        for clause in &block.clauses {
            let (role, names, label) = match clause {
                CircuitClause::Rail { names, label } => (Role::Rail, names, label),
                CircuitClause::Net { names, label } => (Role::Signal, names, label),
                _ => continue,
            };
            for name in names {
                if self.named.contains_key(&name.item) || name.item == "ground" {
                    let message = format!("`{}` is a rail or a net already", name.item);
                    self.problems.push(Problem::new(Code::Circuit, name.span, message).help("name each of them once"));
                    continue;
                }
                if role == Role::Rail {
                    self.wants(name, "V", "a rail has a voltage");
                }
                let joint = self.joint(role, Some(&name.item), label.as_deref(), name.span);
                self.named.insert(name.item.clone(), joint);
            }
        }
    }

    /// Reports a value that is of another quantity.
    fn wants(&mut self, name: &Spanned<String>, unit: &str, rule: &str) -> bool {
        let wanted = parse(unit).map(|unit| unit.quantity.dimension);
        match self.known.quantity(&name.item) {
            Some(found) if Some(found.dimension) != wanted => {
                let message = format!("`{}` is {}: {rule}", name.item, found.describe());
                let help = format!("write the name of a value in {unit}");
                self.problems.push(Problem::new(Code::Circuit, name.span, message).help(help));
                false
            }
            found => found.is_some(),
        }
    }

    fn place(&mut self, block: &CircuitBlock) {
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

    fn unknown(&self, value: &Spanned<String>) -> Problem {
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

    fn clause(&mut self, clause: &CircuitClause) -> Read<()> {
        match clause {
            CircuitClause::Rail { .. } | CircuitClause::Net { .. } | CircuitClause::Part(_) => Ok(()),
            CircuitClause::Path(elements) => self.path(elements),
            CircuitClause::Across { part, host } => self.across(part, host),
            CircuitClause::Test { value, at } => {
                if !self.wants(value, "V", "a test point shows a voltage") && self.known.quantity(&value.item).is_none()
                {
                    return Err(self.unknown(value));
                }
                let joint = self.node(at)?;
                let root = self.root(joint);
                self.joints[root].tests.push(value.item.clone());
                Ok(())
            }
            CircuitClause::Drive { at, value } => {
                if !self.wants(value, "V", "an output is driven at a voltage") {
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
            let message = format!("a path does not say by which pins it goes through `{}`", part.name());
            let help = format!(
                "name the pins: … -> @{}.{} -> …",
                part.name(),
                part.pins.first().map_or("1", |pin| pin.name.as_str())
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
                    let message = format!("no part of this circuit is called `{name}`");
                    let help = "a part stands across another one, or across two nets: C_1 across V_rail and ground";
                    return Err(Problem::new(Code::Circuit, one.span, message).help(help));
                };
                let ends = &self.circuit.parts[found];
                match ends.pins.as_slice() {
                    [first, second] => (first.net, second.net),
                    [first, second, _] if ends.kind.is_transistor() => (first.net, second.net),
                    _ => {
                        let message = format!("`{name}` has more than two pins: it is not clear what lies across it");
                        let help = format!(
                            "name the two nets: … across @{name}.{} and ground",
                            ends.pins.first().map_or("1", |pin| pin.name.as_str())
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
                let message = format!("`@{name}` is a part: what is joined are its pins");
                let pin = self.circuit.part(name).and_then(|part| self.circuit.parts[part].pins.first());
                let pin = pin.map_or("1", |pin| pin.name.as_str());
                Err(Problem::new(Code::Circuit, node.span, message).help(format!("write @{name}.{pin}")))
            }
            Node::Pin { part, pin } => {
                let parts = self.circuit.parts.iter().enumerate();
                let mut called: Vec<usize> =
                    parts.filter(|(_, known)| known.name() == part).map(|(index, _)| index).collect();
                // Of a relay, the coil comes first.
                called.sort_by_key(|index| self.circuit.parts[*index].kind == Kind::Contact);
                let Some(first) = called.first().copied() else {
                    let message = format!("no part of this circuit is called `{part}`");
                    let names = self.circuit.parts.iter().map(Part::name);
                    let help = match nearest(part, names) {
                        Some(near) => format!("did you mean `@{near}`?"),
                        None => format!("say what it is first: chip @{part} \"timer\": left {pin}"),
                    };
                    return Err(Problem::new(Code::Circuit, node.span, message).help(help));
                };
                let found = self.circuit.parts[first].pin(pin).map(|pin| (first, pin));
                let Some((found, pin)) = found else {
                    let known: Vec<&str> = self.circuit.parts[first].pins.iter().map(|pin| pin.name.as_str()).collect();
                    let message = format!("`{part}` has no pin `{pin}`; it has {}", known.join(", "));
                    let problem = Problem::new(Code::Circuit, node.span, message);
                    return Err(match nearest(pin, known.iter().copied()) {
                        Some(near) => problem.help(format!("did you mean `@{part}.{near}`?")),
                        None => problem.help("name its pins as they stand behind the part"),
                    });
                };
                let pin = &mut self.circuit.parts[found].pins[pin];
                pin.span = node.span;
                Ok(pin.net)
            }
        }
    }

    /// Joints become nets, numbered in the order in which the block names them.
    fn finish(mut self) -> Circuit {
        let mut numbers: HashMap<usize, usize> = HashMap::new();
        let mut nets: Vec<Net> = Vec::new();
        let mut number = |builder: &mut Self, joint: usize| {
            let root = builder.root(joint);
            *numbers.entry(root).or_insert_with(|| {
                let Joint { role, name, label, tests, span, .. } = &mut builder.joints[root];
                let (name, label, tests) = (name.take(), label.take(), std::mem::take(tests));
                nets.push(Net { role: *role, name, label, pins: Vec::new(), span: *span, tests });
                nets.len() - 1
            })
        };
        number(&mut self, 0);
        let named: Vec<usize> = {
            let mut named: Vec<usize> = self.named.values().copied().collect();
            named.sort_unstable();
            named
        };
        for joint in named {
            number(&mut self, joint);
        }
        for part in 0..self.circuit.parts.len() {
            for pin in 0..self.circuit.parts[part].pins.len() {
                let joint = self.circuit.parts[part].pins[pin].net;
                self.circuit.parts[part].pins[pin].net = number(&mut self, joint);
            }
        }
        for drive in 0..self.circuit.drives.len() {
            let joint = self.circuit.drives[drive].net;
            self.circuit.drives[drive].net = number(&mut self, joint);
        }
        for (index, part) in self.circuit.parts.iter().enumerate() {
            for (pin, joined) in part.pins.iter().enumerate() {
                nets[joined.net].pins.push((index, pin));
            }
        }
        self.circuit.nets = nets;
        self.circuit
    }
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
}
