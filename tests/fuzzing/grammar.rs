//! Worksheets that check: statements whose units fit, over numbers and tolerances at the ends of what there is. Mutated
//! text seldom gets past the checker; these reach the evaluation, the search, the simulation and the drawings.

use std::fmt::Write;

use super::{mutate::Chance, words};

/// A worksheet of some statements, a plot, a note, an exercise.
pub(super) fn worksheet(chance: &mut Chance) -> String {
    let mut sheet = Sheet { chance, names: Default::default(), text: String::new(), next: 0 };
    sheet.write();
    sheet.text
}

/// An expression over the names of the target `expression`.
pub(super) fn expression(chance: &mut Chance) -> String {
    let mut names: [Vec<String>; KINDS] = Default::default();
    for (kind, name) in [
        (Kind::Plain, "k"),
        (Kind::Plain, "n"),
        (Kind::Voltage, "V"),
        (Kind::Resistance, "R"),
        (Kind::Capacitance, "C"),
        (Kind::Temperature, "T"),
    ] {
        names[kind as usize].push(name.to_owned());
    }
    let kind = chance.pick(&ALL);
    Sheet { chance, names, text: String::new(), next: 0 }.expression(kind, 4)
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Plain,
    Voltage,
    Current,
    Resistance,
    Capacitance,
    Time,
    Temperature,
}

const KINDS: usize = 7;
const ALL: [Kind; KINDS] =
    [Kind::Plain, Kind::Voltage, Kind::Current, Kind::Resistance, Kind::Capacitance, Kind::Time, Kind::Temperature];

impl Kind {
    fn units(self) -> &'static [&'static str] {
        match self {
            Kind::Plain => &["", "%", "ppm"],
            Kind::Voltage => &["V", "mV", "kV"],
            Kind::Current => &["A", "µA"],
            Kind::Resistance => &["Ω", "kΩ", "MΩ"],
            Kind::Capacitance => &["F", "pF"],
            Kind::Time => &["s", "ns", "h"],
            Kind::Temperature => &["°C", "°C", "°F"],
        }
    }
}

struct Sheet<'a> {
    chance: &'a mut Chance,
    names: [Vec<String>; KINDS],
    text: String,
    next: usize,
}

impl Sheet<'_> {
    fn write(&mut self) {
        self.text.push_str("```calc\n");
        let givens = 1 + self.chance.below(6);
        for _ in 0..givens {
            self.given();
        }
        for _ in 0..1 + self.chance.below(7) {
            self.statement();
        }
        self.text.push_str("```\n\n");
        if self.chance.below(3) == 0 {
            self.plot();
        }
        if self.chance.below(6) == 0 {
            let condition = self.condition(2);
            let name = self.any_name();
            let _ = writeln!(self.text, "```warning when {condition}\nIt is {{{name}}}.\n```\n");
        }
        if self.chance.below(8) == 0 {
            let kind = self.kind();
            let (answer, slip) = (self.expression(kind, 2), self.expression(kind, 2));
            let _ = writeln!(
                self.text,
                "```exercise ex\nask \"q\"\nanswer = {answer} within 2 %\nslip \"s\" = {slip}\n```\n"
            );
        }
        let name = self.any_name();
        let _ = writeln!(self.text, "It is {{{name}}}, {{{name}:range}}, {{{name}:3}}.");
    }

    fn given(&mut self) {
        let kind = self.chance.pick(&ALL);
        let (unit, tolerance) = (self.chance.pick(kind.units()), self.chance.pick(words::TOLERANCES));
        let number = self.number();
        let name = self.name(kind);
        let _ = match self.chance.below(5) {
            0 => {
                let (low, high) = (self.number(), self.number());
                writeln!(self.text, "{name} = min {low} {unit} typ {number} {unit} max {high} {unit}")
            }
            1 => {
                let spread = self.number();
                let unit = if kind == Kind::Temperature { "K" } else { unit };
                let own = if kind == Kind::Temperature { "°C" } else { unit };
                writeln!(self.text, "{name} = {number} {own} ± {spread} {unit}")
            }
            _ if kind == Kind::Temperature => writeln!(self.text, "{name} = {number} {unit} ± 10 K"),
            _ => writeln!(self.text, "{name} = {number} {unit} {tolerance}"),
        };
    }

    fn statement(&mut self) {
        let kind = self.kind();
        match self.chance.below(14) {
            0..4 => {
                let expression = self.expression(kind, 3);
                let name = self.name(kind);
                let _ = writeln!(self.text, "{name} = {expression}");
            }
            4..7 => {
                let [x, low, high] = [3, 1, 1].map(|depth| self.expression(kind, depth));
                let _ = match self.chance.below(4) {
                    0 => writeln!(self.text, "keep {x} below {low}"),
                    1 => writeln!(self.text, "keep {x} above {low}"),
                    2 => writeln!(self.text, "keep {x} between {low} and {high}"),
                    _ => {
                        let condition = self.condition(2);
                        writeln!(self.text, "keep {condition}")
                    }
                };
            }
            7 => {
                let [left, right] = [2, 1].map(|depth| self.expression(kind, depth));
                let (given, unit) = (self.any_name(), self.chance.pick(kind.units()));
                let (low, high) = (self.number(), self.number());
                let _ =
                    writeln!(self.text, "solve {given} so that {left} = {right} from {low} {unit} to {high} {unit}");
            }
            8 => {
                let [left, right] = [2, 1].map(|depth| self.expression(kind, depth));
                let (series, given) = (self.chance.pick(&["E3", "E12", "E192"]), self.any_name());
                let _ = writeln!(self.text, "choose {series} for {given} so that {left} is {right}");
            }
            9 => {
                let (one, other, number) =
                    (self.any_name(), self.any_name(), self.chance.pick(&["0.5", "1", "-1", "0", "0.9999999999", "2"]));
                let _ = writeln!(self.text, "correlation({one}, {other}) = {number}");
            }
            10 => {
                let expression = self.expression(kind, 2);
                let (name, unit) = (self.name(kind), self.chance.pick(kind.units()));
                let unit = if unit.is_empty() { "%" } else { unit };
                let _ = writeln!(self.text, "{name} [{unit}] = {expression}");
            }
            11 => {
                let [one, other, third] = [1, 1, 1].map(|depth| self.expression(kind, depth));
                let name = self.name(kind);
                let _ = writeln!(self.text, "{name} = interpolate({one}, {other}, 1 V, {third}, 2 V)");
            }
            12 => {
                let voltage = self.expression(Kind::Voltage, 1);
                let (resistance, capacitance) =
                    (self.expression(Kind::Resistance, 1), self.expression(Kind::Capacitance, 1));
                let name = format!("m{}", self.next);
                self.next += 1;
                let _ = writeln!(
                    self.text,
                    "{name} = timing.one_shot(resistance = {resistance}, capacitance = {capacitance}, supply = {voltage})"
                );
                self.names[Kind::Time as usize].push(format!("{name}.pulse"));
                self.names[Kind::Current as usize].push(format!("{name}.final_current"));
            }
            _ => {
                let (name, expression) = (self.name(Kind::Plain), self.condition(2));
                self.names[Kind::Plain as usize].pop();
                let _ = writeln!(self.text, "{name} = {expression}");
            }
        }
    }

    fn plot(&mut self) {
        self.text.push_str("```plot\n");
        for _ in 0..1 + self.chance.below(3) {
            let (name, other) = (self.any_name(), self.any_name());
            let (low, high) = (self.number(), self.number());
            let _ = match self.chance.below(4) {
                0 => writeln!(self.text, "spread of {name}"),
                1 => writeln!(self.text, "shares of {name}"),
                2 => {
                    let (at, kind) = (self.number(), self.kind());
                    writeln!(self.text, "bound {at} {}", kind.units()[0])
                }
                _ => {
                    let kind = self.kind();
                    let (unit, log) = (kind.units()[0], self.chance.pick(&["", " log"]));
                    writeln!(self.text, "{name} against {other} from {low} {unit} to {high} {unit}{log}")
                }
            };
        }
        self.text.push_str("```\n\n");
    }

    /// A new name of a kind.
    fn name(&mut self, kind: Kind) -> String {
        let name = format!("{}_{}", ["k", "V", "I", "R", "C", "t", "T"][kind as usize], self.next);
        self.next += 1;
        self.names[kind as usize].push(name.clone());
        name
    }

    fn any_name(&mut self) -> String {
        let all: Vec<String> = self.names.iter().flatten().cloned().collect();
        all.get(self.chance.below(all.len().max(1) as u64) as usize).cloned().unwrap_or_else(|| "x".to_owned())
    }

    /// A kind that has names, mostly.
    fn kind(&mut self) -> Kind {
        for _ in 0..4 {
            let kind = self.chance.pick(&ALL);
            if !self.names[kind as usize].is_empty() {
                return kind;
            }
        }
        Kind::Plain
    }

    fn number(&mut self) -> String {
        match self.chance.below(4) {
            0 => self.chance.pick(words::NUMBERS).to_owned(),
            1 => format!("{}e{}", 1 + self.chance.below(999), self.chance.below(616) as i64 - 308),
            _ => format!("{}", self.chance.below(2000) as f64 / 8.0),
        }
    }

    fn leaf(&mut self, kind: Kind) -> String {
        let names = &self.names[kind as usize];
        if !names.is_empty() && self.chance.below(5) > 0 {
            return self.chance.pick(names);
        }
        format!("{} {}", self.number(), self.chance.pick(kind.units()))
    }

    fn condition(&mut self, depth: u32) -> String {
        let kind = self.kind();
        let [a, b] = [1, 1].map(|less| self.expression(kind, depth.saturating_sub(less)));
        let sign = self.chance.pick(&["<", "<=", ">", ">=", "==", "!="]);
        match self.chance.below(5) {
            0 if depth > 0 => format!("not ({})", self.condition(depth - 1)),
            1 if depth > 0 => {
                format!("{a} {sign} {b} {} ({})", self.chance.pick(&["and", "or"]), self.condition(depth - 1))
            }
            _ => format!("{a} {sign} {b}"),
        }
    }

    fn expression(&mut self, kind: Kind, depth: u32) -> String {
        if depth == 0 {
            return self.leaf(kind);
        }
        let choice = self.chance.below(16);
        let mut part = |kind| self.expression(kind, depth - 1);
        match (choice, kind) {
            (0..2, Kind::Temperature) => part(kind),
            (0, _) => format!("({} + {})", part(kind), part(kind)),
            (1, _) => format!("({} - {})", part(kind), part(kind)),
            (2, Kind::Temperature) => format!("max({}, {})", part(kind), part(kind)),
            (2, _) => format!("{} * {}", part(Kind::Plain), part(kind)),
            (3, Kind::Temperature) => format!("min({}, {})", part(kind), part(kind)),
            (3, _) => format!("{} / ({})", part(kind), part(Kind::Plain)),
            (4, _) => format!("clamp({}, {}, {})", part(kind), part(kind), part(kind)),
            (5, _) => format!("min({}, {})", part(kind), part(kind)),
            (6, _) => {
                let (one, other) = (part(kind), part(kind));
                format!("(if {} then {one} else {other})", self.condition(depth - 1))
            }
            (7, Kind::Resistance | Kind::Voltage | Kind::Capacitance | Kind::Current) => {
                let (direction, series) =
                    (self.chance.pick(&["nearest", "below", "above"]), self.chance.pick(&["E3", "E24", "E192"]));
                format!("preferred_{direction}({series}, {})", self.expression(kind, depth - 1))
            }
            (8, Kind::Resistance) => format!("({} ∥ {})", part(kind), part(kind)),
            (8, Kind::Capacitance) => format!("series({}, {})", part(kind), part(kind)),
            (9, Kind::Temperature) => part(kind),
            (9, _) => format!("abs({})", part(kind)),
            (10, Kind::Temperature) => format!("mean({}, {})", part(kind), part(kind)),
            (10, _) => format!("sqrt(({}) * ({}))", part(kind), part(kind)),
            (_, Kind::Voltage) => format!("({}) * ({})", part(Kind::Current), part(Kind::Resistance)),
            (_, Kind::Current) => format!("({}) / ({})", part(Kind::Voltage), part(Kind::Resistance)),
            (_, Kind::Resistance) => format!("({}) / ({})", part(Kind::Voltage), part(Kind::Current)),
            (_, Kind::Capacitance) => format!("({}) / ({})", part(Kind::Time), part(Kind::Resistance)),
            (_, Kind::Time) => format!("({}) * ({})", part(Kind::Resistance), part(Kind::Capacitance)),
            (_, Kind::Temperature) => part(kind),
            (11, Kind::Plain) => {
                let f = self.chance.pick(&["exp", "ln", "log10", "sin", "cos", "tan", "floor", "ceil", "round"]);
                format!("{f}({})", self.expression(kind, depth - 1))
            }
            (12, Kind::Plain) => {
                let power = self.chance.pick(&["2", "3", "0.5", "-1", "0", "1e9", "-0.5", "128", "k_0"]);
                format!("({})^{power}", self.expression(kind, depth - 1))
            }
            (13, Kind::Plain) => format!("{} / {}", part(Kind::Voltage), part(Kind::Voltage)),
            (14, Kind::Plain) => format!("atan2({}, {})", part(Kind::Voltage), part(Kind::Voltage)),
            (_, Kind::Plain) => format!("({}) * ({})", part(kind), part(kind)),
        }
    }
}
