//! From the lines of a `circuit` block to its netlist: names are found, parts are placed once, and what is joined becomes nets.

mod parts;
mod paths;

use std::collections::HashMap;

use benchleaf_words::{Phrase, phrase};

use crate::{
    circuit::{Circuit, Net, Role},
    problem::{Code, Problem},
    sheet::{CircuitBlock, CircuitClause},
    span::{Span, Spanned},
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
            let message = phrase!(CHECK_NETLIST_THIS_JOINS, name = name(first), other_name = name(second));
            return Err(
                Problem::new(Code::Circuit, span, message).help(phrase!(CHECK_NETLIST_NAME_THE_PART_THAT_STANDS))
            );
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
                    let message = phrase!(CHECK_NETLIST_IS_A_RAIL, name = name.item);
                    self.problems.push(
                        Problem::new(Code::Circuit, name.span, message)
                            .help(phrase!(CHECK_NETLIST_NAME_EACH_OF_THEM_ONCE)),
                    );
                    continue;
                }
                if role == Role::Rail {
                    self.wants(name, "V", phrase!(CHECK_NETLIST_A_RAIL_HAS_A_VOLTAGE));
                }
                let joint = self.joint(role, Some(&name.item), label.as_deref(), name.span);
                self.named.insert(name.item.clone(), joint);
            }
        }
    }

    /// Reports a value that is of another quantity.
    fn wants(&mut self, name: &Spanned<String>, unit: &str, rule: Phrase) -> bool {
        let wanted = parse(unit).map(|unit| unit.quantity.dimension);
        match self.known.quantity(&name.item) {
            Some(found) if Some(found.dimension) != wanted => {
                let message = phrase!(CHECK_NETLIST_IS, name = name.item, found = found.describe(), rule = rule);
                let help = phrase!(CHECK_NETLIST_WRITE_THE_NAME, unit = unit);
                self.problems.push(Problem::new(Code::Circuit, name.span, message).help(help));
                false
            }
            found => found.is_some(),
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
