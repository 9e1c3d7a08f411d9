//! Expressions: what each operator asks of its operands' dimensions and kinds, and the step it becomes.

use std::collections::HashSet;

use benchleaf_words::{Phrase, phrase};

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
                let message = phrase!(CHECK_EXPRESSION_A_PART_OF_A_CIRCUIT);
                let help = phrase!(CHECK_EXPRESSION_ASK_FOR_A_VOLTAGE);
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
                let message = phrase!(CHECK_EXPRESSION_A_CONDITION_TRUE_OR_FALSE);
                self.fail_with_help(
                    Code::TypeMismatch,
                    expr.span,
                    message,
                    phrase!(CHECK_EXPRESSION_CHOOSE_WITH_IF_THEN_ELSE),
                );
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
        let message = phrase!(CHECK_EXPRESSION_STANDS_WHERE_A_CONDITION_SHOULD, found = typed.value_type.describe());
        self.fail_with_help(
            Code::TypeMismatch,
            expr.span,
            message,
            phrase!(CHECK_EXPRESSION_COMPARE_IT_WITH_SOMETHING),
        );
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
                    let message = phrase!(CHECK_EXPRESSION_A_TEMPERATURE_HAS_NO_OPPOSITE);
                    self.fail_with_help(
                        Code::KindMismatch,
                        inner.span,
                        message,
                        phrase!(CHECK_EXPRESSION_SUBTRACT_ANOTHER_TEMPERATURE_FIRST),
                    );
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
            self.alike(a_type, b_type, left, right, phrase!(CHECK_EXPRESSION_COMPARE))?;
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
                let quantity = self.alike(a_type, b_type, left, right, phrase!(CHECK_EXPRESSION_STAND_IN_PARALLEL))?;
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
        let message = phrase!(CHECK_EXPRESSION_IS_A_TEMPERATURE, written = written);
        let help = phrase!(CHECK_EXPRESSION_MULTIPLY_A_DIFFERENCE, written = written);
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
        let message = phrase!(CHECK_EXPRESSION_JOINS_PARTS_IS_NONE, found = quantity.describe());
        self.fail_with_help(
            Code::UnitMismatch,
            span,
            message,
            phrase!(CHECK_EXPRESSION_RESISTANCES_CAPACITANCES_AND_THEIR_LIKE),
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
                ValueType::Quantity(self.alike(x, y, yes, no, phrase!(CHECK_EXPRESSION_BE_THE_TWO_SIDES))?)
            }
            (ValueType::Condition, ValueType::Condition) => ValueType::Condition,
            (x, y) => {
                let message =
                    phrase!(CHECK_EXPRESSION_THE_CHOICE_IS_BETWEEN_AND, found = x.describe(), wanted = y.describe());
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
        together: Phrase,
    ) -> Option<QuantityType> {
        let span = left.span.to(right.span);
        let (first, second) = (left.span.text(self.text).to_owned(), right.span.text(self.text).to_owned());
        if a.dimension != b.dimension {
            let message = phrase!(
                CHECK_EXPRESSION_IS_AND_IS,
                first = first,
                first_is = a.describe(),
                second = second,
                second_is = b.describe(),
                together = together
            );
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
                let message = phrase!(
                    CHECK_EXPRESSION_IS_AND_IS,
                    first = first,
                    first_is = a.kind.describe(),
                    second = second,
                    second_is = b.kind.describe(),
                    together = together
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
    pub(super) fn or_a_unit(&self, advice: Phrase, mut open: Vec<Reg>) -> Phrase {
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
                phrase!(CHECK_EXPRESSION_OR_A_UNIT, advice = advice, name = name, line = self.line_of(entry.span))
            }
            None => advice,
        }
    }

    /// Where one of two values that are not alike is a given without a unit: which, and where it is written.
    fn lacking_unit(&self, sides: [(QuantityType, &Expr); 2]) -> Option<Phrase> {
        let [(a, left), (b, right)] = sides;
        let (number, other) = if a == QuantityType::NUMBER { (left, b) } else { (right, a) };
        if [a, b].iter().filter(|side| **side == QuantityType::NUMBER).count() != 1 {
            return None;
        }
        let Node::Name(name) = &number.node else { return None };
        let given = self.names.get(name).filter(|entry| entry.source.is_some())?;
        let line = self.line_of(given.span);
        let unit = DisplayUnit::picked(other, 0.0).unit.symbol;
        Some(phrase!(CHECK_EXPRESSION_IS_GIVEN_WITHOUT_A_UNIT, name = name, line = line, unit = unit))
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
                (
                    phrase!(CHECK_EXPRESSION_TWO_TEMPERATURES_DO_NOT_ADD),
                    phrase!(CHECK_EXPRESSION_ADD_A_TEMPERATURE_DIFFERENCE),
                )
            } else {
                (phrase!(CHECK_EXPRESSION_A_TEMPERATURE_CANNOT_BE_TAKEN), phrase!(CHECK_EXPRESSION_TURN_THE_TWO_ROUND))
            };
            self.fail_with_help(Code::KindMismatch, span, message, help);
            return None;
        }
        let per_cent =
            matches!(&right.node, Node::Quantity(part) if part.unit.as_ref().is_some_and(|unit| unit.item == "%"));
        if per_cent && a.dimension != b.dimension {
            let message = phrase!(CHECK_EXPRESSION_IS_A_PART_BUT, written = right.span.text(self.text));
            let help = phrase!(CHECK_EXPRESSION_A_TOLERANCE);
            self.fail_with_help(Code::UnitMismatch, left.span.to(right.span), message, help);
            return None;
        }
        self.alike(
            a,
            b,
            left,
            right,
            if adds { phrase!(CHECK_EXPRESSION_ADD) } else { phrase!(CHECK_EXPRESSION_SUBTRACT) },
        )
    }

    fn power(&mut self, base: &Expr, exponent: &Expr, span: Span) -> Option<Typed> {
        let (a, b) = (self.quantity(base), self.quantity(exponent));
        let ((a, a_type), (b, b_type)) = (a?, b?);
        if !b_type.dimension.is_none() {
            let message = phrase!(CHECK_EXPRESSION_THE_EXPONENT_IS, found = b_type.describe());
            self.fail_with_help(
                Code::Exponent,
                exponent.span,
                message,
                phrase!(CHECK_EXPRESSION_AN_EXPONENT_IS_A_PLAIN),
            );
            return None;
        }
        let known = known_number(exponent);
        let quantity = if a_type.dimension.is_none() {
            QuantityType::NUMBER
        } else {
            let Some(n) = known else {
                let message = phrase!(CHECK_EXPRESSION_IS_RAISED_TO_A_POWER, found = a_type.describe());
                let help = phrase!(CHECK_EXPRESSION_A_QUANTITY_WITH_A_UNIT);
                self.fail_with_help(Code::Exponent, span, message, help);
                return None;
            };
            let Some(dimension) = a_type.dimension.power(n) else {
                let message = phrase!(CHECK_EXPRESSION_HAS_NO_UNIT_WHEN_RAISED, found = a_type.describe(), n = n);
                let help = phrase!(CHECK_EXPRESSION_DIVIDE_BY_A_UNIT_FIRST);
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
fn lacking(a: QuantityType, b: QuantityType, first: &str, second: &str) -> Phrase {
    let plain = |(quantity, _): &&(QuantityType, &str)| quantity.dimension.is_none();
    if let Some((_, number)) = [(a, first), (b, second)].iter().find(plain) {
        return phrase!(CHECK_EXPRESSION_A_UNIT_IS_MISSING, number = number);
    }
    let lacks = |whole: QuantityType, part: QuantityType, name: &str| {
        let factor = QuantityType { dimension: whole.dimension.over(part.dimension), kind: Kind::Plain };
        table().quantity_name(factor).map(|_| {
            let (factor, whole) = (factor.describe(), whole.describe());
            phrase!(CHECK_EXPRESSION_TIMES_WOULD_BE, factor = factor, name = name, whole = whole)
        })
    };
    let help = lacks(a, b, second).or_else(|| lacks(b, a, first));
    help.unwrap_or_else(|| phrase!(CHECK_EXPRESSION_LIKE_GOES_WITH_LIKE))
}

/// What to do about two kinds that clash.
pub(crate) fn kind_help(a: Kind, b: Kind) -> Phrase {
    use Kind::{
        ActivePower, AngularVelocity, ApparentPower, Energy, Frequency, Illuminance, Luminance, LuminousFlux,
        LuminousIntensity, ReactivePower, Temperature, TemperatureDifference, Torque,
    };
    match (a, b) {
        (Temperature, TemperatureDifference) | (TemperatureDifference, Temperature) => {
            phrase!(CHECK_EXPRESSION_A_POINT_ON_THE_SCALE)
        }
        (Torque, Energy) | (Energy, Torque) => phrase!(CHECK_EXPRESSION_A_TORQUE_WORKS_THROUGH),
        (Frequency, AngularVelocity) | (AngularVelocity, Frequency) => {
            phrase!(CHECK_EXPRESSION_ANGULAR_VELOCITY_IS_FREQUENCY)
        }
        (ActivePower | ApparentPower | ReactivePower, ActivePower | ApparentPower | ReactivePower) => {
            phrase!(CHECK_EXPRESSION_ACTIVE_W_AND_REACTIVE_POWER)
        }
        (Illuminance | Luminance, Illuminance | Luminance) => {
            phrase!(CHECK_EXPRESSION_LIGHT_THAT_FALLS_ON)
        }
        (LuminousFlux | LuminousIntensity, LuminousFlux | LuminousIntensity) => {
            phrase!(CHECK_EXPRESSION_A_FLUX_IN_LM)
        }
        _ => phrase!(CHECK_EXPRESSION_THE_SAME_UNIT_BUT_NOT),
    }
}
