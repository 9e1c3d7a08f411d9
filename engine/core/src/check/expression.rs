//! Expressions: what each operator asks of its operands' dimensions and kinds, and the step it becomes.

use std::collections::HashSet;

use super::{Binding, Checker, Entry, Typed};
use crate::{
    lang::ast::{BinaryOp, Expr, Node, UnaryOp},
    problem::Code,
    program::{Comparison, Reg, Step, Unary},
    span::{LineIndex, Span},
    units::{Dimension, DisplayUnit, Kind, QuantityType, TEMPERATURE, ValueType, parse, table},
};

impl Checker<'_> {
    /// Checks an expression and appends its steps; `None` where a problem was reported.
    pub(super) fn expression(&mut self, expr: &Expr) -> Option<Typed> {
        match &expr.node {
            Node::Quantity(quantity) => {
                let (si, unit) = self.literal(quantity, false)?;
                Some(self.constant(si, unit.quantity))
            }
            Node::Name(name) => self.name(name, expr.span),
            Node::Field(record, field) => self.field(record, field),
            Node::Unary(operator, inner) => self.unary(*operator, inner),
            Node::Binary(operator, left, right) => self.binary(*operator, left, right, expr.span),
            Node::Call(name, arguments) => self.call(name, arguments, expr.span),
            Node::Pin(..) => {
                let message = "a part of a circuit is no value";
                let help = "ask for a voltage or a current: V(@Q1.base), I(@R1)";
                self.fail_with_help(Code::TypeMismatch, expr.span, message, help);
                None
            }
            Node::If(condition, yes, no) => self.choice(condition, yes, no),
        }
    }

    /// An expression that must be a quantity.
    pub(super) fn quantity(&mut self, expr: &Expr) -> Option<(Reg, QuantityType)> {
        let typed = self.expression(expr)?;
        match typed.value_type {
            ValueType::Quantity(quantity) => Some((typed.reg, quantity)),
            ValueType::Condition => {
                let message = "a condition (true or false) stands where a quantity should";
                self.fail_with_help(Code::TypeMismatch, expr.span, message, "choose with `if … then … else …`");
                None
            }
        }
    }

    /// An expression that must be a condition: the register of its truth, and of its margin.
    pub(super) fn condition(&mut self, expr: &Expr) -> Option<Typed> {
        let typed = self.expression(expr)?;
        if typed.value_type == ValueType::Condition {
            return Some(typed);
        }
        let message = format!("{} stands where a condition should", typed.value_type.describe());
        self.fail_with_help(Code::TypeMismatch, expr.span, message, "compare it with something: x > 5 V");
        None
    }

    pub(super) fn push(&mut self, step: Step) -> Reg {
        self.checked.program.push(step)
    }

    pub(super) fn constant(&mut self, si: f64, quantity: QuantityType) -> Typed {
        quantity_in(self.push(Step::Constant(si)), quantity)
    }

    fn unary(&mut self, operator: UnaryOp, inner: &Expr) -> Option<Typed> {
        match operator {
            UnaryOp::Not => {
                let typed = self.condition(inner)?;
                let reg = self.push(Step::Not(typed.reg));
                let margin = typed.margin.map(|margin| self.push(Step::Negate(margin)));
                Some(Typed { reg, margin, ..typed })
            }
            UnaryOp::Negate => {
                // -5 °C is a literal; its number is negated, not its kelvin.
                if let Node::Quantity(quantity) = &inner.node {
                    let (si, unit) = self.literal(quantity, true)?;
                    return Some(self.constant(si, unit.quantity));
                }
                let (reg, quantity) = self.quantity(inner)?;
                if quantity.kind == Kind::Temperature {
                    let message = "a temperature has no opposite: its zero is arbitrary";
                    self.fail_with_help(Code::KindMismatch, inner.span, message, "subtract another temperature first");
                    return None;
                }
                Some(quantity_in(self.push(Step::Negate(reg)), quantity))
            }
        }
    }

    fn binary(&mut self, operator: BinaryOp, left: &Expr, right: &Expr, span: Span) -> Option<Typed> {
        if matches!(operator, BinaryOp::And | BinaryOp::Or) {
            let (a, b) = (self.condition(left), self.condition(right));
            return Some(self.joined_conditions(operator, a?, b?));
        }
        if operator == BinaryOp::Power {
            return self.power(left, right, span);
        }
        let (a, b) = (self.quantity(left), self.quantity(right));
        let ((a, a_type), (b, b_type)) = (a?, b?);
        if operator.compares() {
            self.alike(a_type, b_type, left, right, "compare")?;
            return Some(self.comparison(operator, a, b));
        }
        match operator {
            BinaryOp::Add | BinaryOp::Subtract => {
                let quantity = self.sum_type(operator, a_type, b_type, left, right)?;
                let step = if operator == BinaryOp::Add { Step::Add(a, b) } else { Step::Subtract(a, b) };
                Some(quantity_in(self.push(step), quantity))
            }
            BinaryOp::Multiply => {
                let quantity = QuantityType::product(a_type.dimension.times(b_type.dimension));
                self.is_no_multiple_of_a_temperature(quantity, &[(a_type, left), (b_type, right)])?;
                Some(quantity_in(self.push(Step::Multiply(a, b)), quantity))
            }
            BinaryOp::Divide => {
                let quantity = QuantityType::product(a_type.dimension.over(b_type.dimension));
                self.is_no_multiple_of_a_temperature(quantity, &[(a_type, left)])?;
                let reg = self.push(Step::Divide(a, b));
                self.checked.divisors.push((reg, right.span));
                Some(quantity_in(reg, quantity))
            }
            _ => {
                let quantity = self.alike(a_type, b_type, left, right, "stand in parallel")?;
                self.may_stand_in_parallel(quantity, span)?;
                Some(quantity_in(self.in_parallel(a, b, quantity.dimension), quantity))
            }
        }
    }

    /// Twice a point on a scale means nothing, since the zero of the scale is arbitrary. (In a product of another dimension,
    /// as in Boltzmann's constant times a temperature, it is counted from absolute zero.)
    fn is_no_multiple_of_a_temperature(
        &mut self,
        product: QuantityType,
        factors: &[(QuantityType, &Expr)],
    ) -> Option<()> {
        let point = factors.iter().find(|factor| factor.0.kind == Kind::Temperature);
        let Some((_, point)) = point.filter(|_| product.dimension == TEMPERATURE) else { return Some(()) };
        let written = point.span.text(self.text).to_owned();
        let message = format!("`{written}` is a temperature, and has no multiples: its zero is arbitrary");
        let help = format!("multiply a difference: ({written} - 0 °C), or from absolute zero ({written} - -273.15 °C)");
        self.fail_with_help(Code::KindMismatch, point.span, message, help);
        None
    }

    /// Voltages, currents and temperatures in parallel would come out as nonsense.
    pub(super) fn may_stand_in_parallel(&mut self, quantity: QuantityType, span: Span) -> Option<()> {
        let refused = ["V", "A", "W", "K", "s"];
        let found =
            refused.iter().find(|symbol| parse(symbol).is_some_and(|u| u.quantity.dimension == quantity.dimension));
        if found.is_none() {
            return Some(());
        }
        let message = format!("`∥` joins parts; {} is none", quantity.describe());
        self.fail_with_help(
            Code::UnitMismatch,
            span,
            message,
            "resistances, capacitances and their like stand in parallel",
        );
        None
    }

    /// Capacitances and conductances add where they stand in parallel; everything else by reciprocals.
    pub(super) fn in_parallel(&mut self, a: Reg, b: Reg, dimension: Dimension) -> Reg {
        let step = if adds_in_parallel(dimension) { Step::Add(a, b) } else { Step::Parallel(a, b) };
        self.push(step)
    }

    fn joined_conditions(&mut self, operator: BinaryOp, a: Typed, b: Typed) -> Typed {
        let and = operator == BinaryOp::And;
        let reg = self.push(if and { Step::And(a.reg, b.reg) } else { Step::Or(a.reg, b.reg) });
        let margin = match (a.margin, b.margin) {
            (Some(a), Some(b)) => Some(self.push(if and { Step::Minimum(a, b) } else { Step::Maximum(a, b) })),
            _ => None,
        };
        Typed { reg, value_type: ValueType::Condition, margin }
    }

    fn comparison(&mut self, operator: BinaryOp, a: Reg, b: Reg) -> Typed {
        use Comparison::{Equal, Less, LessOrEqual};
        let (truth, margin) = match operator {
            BinaryOp::Less => (Step::Compare(Less, a, b), Step::Subtract(b, a)),
            BinaryOp::LessOrEqual => (Step::Compare(LessOrEqual, a, b), Step::Subtract(b, a)),
            BinaryOp::Greater => (Step::Compare(Less, b, a), Step::Subtract(a, b)),
            BinaryOp::GreaterOrEqual => (Step::Compare(LessOrEqual, b, a), Step::Subtract(a, b)),
            _ => (Step::Compare(Equal, a, b), Step::Subtract(a, b)),
        };
        let (mut reg, mut margin) = (self.push(truth), self.push(margin));
        if matches!(operator, BinaryOp::Equal | BinaryOp::NotEqual) {
            margin = self.push(Step::Apply(Unary::Abs, margin));
            if operator == BinaryOp::Equal {
                margin = self.push(Step::Negate(margin));
            } else {
                reg = self.push(Step::Not(reg));
            }
        }
        Typed { reg, value_type: ValueType::Condition, margin: Some(margin) }
    }

    fn choice(&mut self, condition: &Expr, yes: &Expr, no: &Expr) -> Option<Typed> {
        let (condition, a, b) = (self.condition(condition), self.expression(yes), self.expression(no));
        let (condition, a, b) = (condition?, a?, b?);
        let value_type = match (a.value_type, b.value_type) {
            (ValueType::Quantity(x), ValueType::Quantity(y)) => {
                ValueType::Quantity(self.alike(x, y, yes, no, "be the two sides of a choice")?)
            }
            (ValueType::Condition, ValueType::Condition) => ValueType::Condition,
            (x, y) => {
                let message = format!("the choice is between {} and {}", x.describe(), y.describe());
                self.fail(Code::TypeMismatch, yes.span.to(no.span), message);
                return None;
            }
        };
        let reg = self.push(Step::Select(condition.reg, a.reg, b.reg));
        let margin = match (a.margin, b.margin) {
            (Some(a), Some(b)) => Some(self.push(Step::Select(condition.reg, a, b))),
            _ => None,
        };
        Some(Typed { reg, value_type, margin })
    }

    /// The common type of two quantities that must be alike; `together` says what they cannot do otherwise.
    pub(super) fn alike(
        &mut self,
        a: QuantityType,
        b: QuantityType,
        left: &Expr,
        right: &Expr,
        together: &str,
    ) -> Option<QuantityType> {
        let span = left.span.to(right.span);
        let (first, second) = (left.span.text(self.text).to_owned(), right.span.text(self.text).to_owned());
        if a.dimension != b.dimension {
            let message =
                format!("`{first}` is {} and `{second}` is {}: they do not {together}", a.describe(), b.describe());
            let help = self.lacking_unit([(a, left), (b, right)]).unwrap_or_else(|| {
                let mut regs = Vec::new();
                [left, right].into_iter().for_each(|side| self.regs_named(side, &mut regs));
                self.or_a_unit(lacking(a, b, &first, &second), regs)
            });
            self.fail_with_help(Code::UnitMismatch, span, message, help);
            return None;
        }
        match a.kind.joined(b.kind) {
            Some(kind) => Some(QuantityType { kind, ..a }),
            None => {
                let message = format!(
                    "`{first}` is {} and `{second}` is {}: they do not {together}",
                    a.kind.name(),
                    b.kind.name()
                );
                self.fail_with_help(Code::KindMismatch, span, message, kind_help(a.kind, b.kind));
                None
            }
        }
    }

    /// The registers of the names in an expression.
    fn regs_named(&self, expr: &Expr, regs: &mut Vec<Reg>) {
        expr.names(&mut |name| {
            if let Some(Entry { binding: Binding::Value(typed), .. }) = self.names.get(name) {
                regs.push(typed.reg);
            }
        });
    }

    /// Advice on a formula that has the wrong dimension, with the first given behind it that has no unit.
    pub(super) fn or_a_unit(&self, advice: String, mut open: Vec<Reg>) -> String {
        let mut seen = HashSet::new();
        let mut sources = HashSet::new();
        while let Some(reg) = open.pop() {
            if seen.insert(reg) {
                if let Step::Source(source) = self.checked.program.steps[reg as usize] {
                    sources.insert(source);
                }
                self.checked.program.inputs(reg, |input| open.push(input));
            }
        }
        let number = ValueType::Quantity(QuantityType::NUMBER);
        let without = self.names.iter().filter(|(_, entry)| {
            matches!(entry.binding, Binding::Value(typed) if typed.value_type == number)
                && entry.source.is_some_and(|source| sources.contains(&source))
        });
        match without.min_by_key(|(_, entry)| entry.span.start) {
            Some((name, entry)) => {
                format!("{advice}; or a unit: `{name}` is given without one in line {}", self.line_of(entry.span))
            }
            None => advice,
        }
    }

    /// Where one of two values that are not alike is a given without a unit: which, and where it is written.
    fn lacking_unit(&self, sides: [(QuantityType, &Expr); 2]) -> Option<String> {
        let [(a, left), (b, right)] = sides;
        let (number, other) = if a == QuantityType::NUMBER { (left, b) } else { (right, a) };
        if [a, b].iter().filter(|side| **side == QuantityType::NUMBER).count() != 1 {
            return None;
        }
        let Node::Name(name) = &number.node else { return None };
        let given = self.names.get(name).filter(|entry| entry.source.is_some())?;
        let line = self.line_of(given.span);
        let unit = DisplayUnit::picked(other, 0.0).unit.symbol;
        Some(format!("`{name}` is given without a unit in line {line}: write it there, such as {name} = 5 {unit}"))
    }

    pub(super) fn line_of(&self, span: Span) -> usize {
        let lines = self.lines.get_or_init(|| LineIndex::new(self.text));
        lines.line(span.start) - lines.line(self.begin()) + 1
    }

    fn sum_type(
        &mut self,
        operator: BinaryOp,
        a: QuantityType,
        b: QuantityType,
        left: &Expr,
        right: &Expr,
    ) -> Option<QuantityType> {
        use Kind::{Temperature, TemperatureDifference};
        let adds = operator == BinaryOp::Add;
        if a.dimension == b.dimension && (a.kind == Temperature || b.kind == Temperature) {
            let kind = match (a.kind, b.kind, adds) {
                (Temperature, TemperatureDifference, _) => Some(Temperature),
                (TemperatureDifference, Temperature, true) => Some(Temperature),
                (Temperature, Temperature, false) => Some(TemperatureDifference),
                _ => None,
            };
            if let Some(kind) = kind {
                return Some(QuantityType { kind, ..a });
            }
            let span = left.span.to(right.span);
            let (message, help) = if adds {
                ("two temperatures do not add", "add a temperature difference in kelvin: 25 °C + 40 K")
            } else {
                ("a temperature cannot be taken from a temperature difference", "turn the two round")
            };
            self.fail_with_help(Code::KindMismatch, span, message, help);
            return None;
        }
        let per_cent =
            matches!(&right.node, Node::Quantity(part) if part.unit.as_ref().is_some_and(|unit| unit.item == "%"));
        if per_cent && a.dimension != b.dimension {
            let message = format!("`{}` is a part, but it is not said of what", right.span.text(self.text));
            let help = "a tolerance is ± 5 %, or -20 % +50 % with one of each sign; of a value take 0.95 * V_s";
            self.fail_with_help(Code::UnitMismatch, left.span.to(right.span), message, help);
            return None;
        }
        self.alike(a, b, left, right, if adds { "add" } else { "subtract" })
    }

    fn power(&mut self, base: &Expr, exponent: &Expr, span: Span) -> Option<Typed> {
        let (a, b) = (self.quantity(base), self.quantity(exponent));
        let ((a, a_type), (b, b_type)) = (a?, b?);
        if !b_type.dimension.is_none() {
            let message = format!("the exponent is {}", b_type.describe());
            self.fail_with_help(Code::Exponent, exponent.span, message, "an exponent is a plain number");
            return None;
        }
        let known = known_number(exponent);
        let quantity = if a_type.dimension.is_none() {
            QuantityType::NUMBER
        } else {
            let Some(n) = known else {
                let message = format!("{} is raised to a power that is not known in advance", a_type.describe());
                let help = "a quantity with a unit takes a number as exponent; divide by a unit first: (A / 1 mm^2)^x";
                self.fail_with_help(Code::Exponent, span, message, help);
                return None;
            };
            let Some(dimension) = a_type.dimension.power(n) else {
                let message = format!("{} has no unit when raised to {n}", a_type.describe());
                let help = "divide by a unit first, so that a plain number is raised: (A / 1 mm^2)^0.725";
                self.fail_with_help(Code::Exponent, span, message, help);
                return None;
            };
            let quantity = QuantityType::product(dimension);
            self.is_no_multiple_of_a_temperature(quantity, &[(a_type, base)])?;
            quantity
        };
        let step = match known {
            Some(n) if n.fract() == 0.0 && n.abs() <= 64.0 => Step::WholePower(a, n as i32),
            Some(0.5) => Step::Apply(Unary::Sqrt, a),
            _ => Step::Power(a, b),
        };
        let reg = self.push(step);
        if known.is_some_and(|n| n < 0.0) {
            self.checked.divisors.push((reg, base.span));
        }
        Some(quantity_in(reg, quantity))
    }
}

/// A quantity in a register.
pub(super) fn quantity_in(reg: Reg, quantity: QuantityType) -> Typed {
    Typed { reg, value_type: ValueType::Quantity(quantity), margin: None }
}

/// Whether parts of this dimension add where they stand in parallel: capacitances and conductances.
pub(super) fn adds_in_parallel(dimension: Dimension) -> bool {
    ["F", "S", "W/K"].iter().any(|symbol| parse(symbol).is_some_and(|unit| unit.quantity.dimension == dimension))
}

/// A plain number that stands in the text: a literal, or arithmetic on literals.
fn known_number(expr: &Expr) -> Option<f64> {
    match &expr.node {
        Node::Quantity(quantity) if quantity.unit.is_none() => Some(quantity.number),
        Node::Unary(UnaryOp::Negate, inner) => Some(-known_number(inner)?),
        Node::Binary(operator, left, right) => {
            let (a, b) = (known_number(left)?, known_number(right)?);
            match operator {
                BinaryOp::Add => Some(a + b),
                BinaryOp::Subtract => Some(a - b),
                BinaryOp::Multiply => Some(a * b),
                BinaryOp::Divide => Some(a / b),
                _ => None,
            }
        }
        _ => None,
    }
}

/// What may be missing from two quantities that are not alike: a unit, or a factor that has a name.
fn lacking(a: QuantityType, b: QuantityType, first: &str, second: &str) -> String {
    let plain = |(quantity, _): &&(QuantityType, &str)| quantity.dimension.is_none();
    if let Some((_, number)) = [(a, first), (b, second)].iter().find(plain) {
        return format!("a unit is missing from `{number}`, or a factor");
    }
    let lacks = |whole: QuantityType, part: QuantityType, name: &str| {
        let factor = QuantityType { dimension: whole.dimension.over(part.dimension), kind: Kind::Plain };
        table().quantity_name(factor).map(|_| {
            let (factor, whole) = (factor.describe(), whole.describe());
            format!("times {factor}, `{name}` would be {whole}: look for a factor that is missing")
        })
    };
    let help = lacks(a, b, second).or_else(|| lacks(b, a, first));
    help.unwrap_or_else(|| "like goes with like: look at both names, and at what stands between them".to_owned())
}

/// What to do about two kinds that clash.
pub(crate) fn kind_help(a: Kind, b: Kind) -> &'static str {
    use Kind::{
        ActivePower, AngularVelocity, ApparentPower, Energy, Frequency, Illuminance, Luminance, LuminousFlux,
        LuminousIntensity, ReactivePower, Temperature, TemperatureDifference, Torque,
    };
    match (a, b) {
        (Temperature, TemperatureDifference) | (TemperatureDifference, Temperature) => {
            "a point on the scale is written in °C, a difference in K; subtract two temperatures to get a difference"
        }
        (Torque, Energy) | (Energy, Torque) => "a torque works through an angle: multiply it by the angle in rad",
        (Frequency, AngularVelocity) | (AngularVelocity, Frequency) => {
            "angular velocity is 2 * π * frequency: write the factor out"
        }
        (ActivePower | ApparentPower | ReactivePower, ActivePower | ApparentPower | ReactivePower) => {
            "active (W) and reactive power (var) make up the apparent (VA) by their squares: S = sqrt(P^2 + Q^2)"
        }
        (Illuminance | Luminance, Illuminance | Luminance) => {
            "light that falls on an area is in lx, light that an area sends in cd/m²; a matt surface sends reflectance / π \
             of what falls on it"
        }
        (LuminousFlux | LuminousIntensity, LuminousFlux | LuminousIntensity) => {
            "a flux in lm is an intensity in cd times a solid angle: I * 4 * π in all directions"
        }
        _ => "the same unit, but not the same kind of quantity",
    }
}
