//! Torques among products. A force times a length has no kind, since it may be an energy as well, and would be shown in J;
//! but most such products in a worksheet are torques. This says which formulas are shown in N·m. What may be added to
//! them does not change.

use super::{Binding, Checker, Typed};
use crate::{
    lang::ast::{BinaryOp, Expr, Node, UnaryOp},
    units::{Dimension, DisplayUnit, Kind, Unit, ValueType, parse},
};

impl Checker<'_> {
    /// N·m for a formula that is a torque, unless its label speaks of energy; with a prefix where its value is known by now.
    pub(super) fn torque_unit(&self, formula: &Expr, label: Option<&str>) -> Option<Unit> {
        if label.is_some_and(|label| ENERGY.iter().any(|word| label.to_lowercase().contains(word))) {
            return None;
        }
        let nominal = self.torque(formula)?;
        let unit = parse("N·m")?;
        Some(nominal.map_or(unit.clone(), |si| DisplayUnit::picked(unit.quantity, si).unit))
    }

    /// Whether an expression is a torque, and its nominal value where that is known.
    fn torque(&self, expr: &Expr) -> Option<Option<f64>> {
        match &expr.node {
            Node::Name(name) => {
                let is_torque = self.names.get(name)?.unit.as_ref()?.quantity.kind == Kind::Torque;
                is_torque.then(|| self.factor(expr).and_then(|(_, nominal)| nominal))
            }
            Node::Unary(UnaryOp::Negate, inner) => self.torque(inner).map(|nominal| nominal.map(|si| -si)),
            Node::Binary(operator, left, right) => {
                let [(one, _), (other, _)] = [self.factor(left)?, self.factor(right)?];
                let is_torque = match operator {
                    BinaryOp::Add | BinaryOp::Subtract => self.torque(left).is_some() && self.torque(right).is_some(),
                    BinaryOp::Divide => other.is_none() && self.torque(left).is_some(),
                    BinaryOp::Multiply if one.is_none() => self.torque(right).is_some(),
                    BinaryOp::Multiply if other.is_none() => self.torque(left).is_some(),
                    BinaryOp::Multiply => {
                        let [force, length] = [parse("N")?.quantity.dimension, parse("m")?.quantity.dimension];
                        // A mass times its fall, lifted, is an energy more often than not.
                        let is_product = |side: &Expr| matches!(side.node, Node::Binary(BinaryOp::Multiply, ..));
                        [(one, other), (other, one)].contains(&(force, length))
                            && !is_product(left)
                            && !is_product(right)
                    }
                    _ => false,
                };
                is_torque.then(|| self.factor(expr).and_then(|(_, nominal)| nominal))
            }
            _ => None,
        }
    }

    /// The dimension of an expression, and its nominal value where it is made of givens and numbers alone.
    fn factor(&self, expr: &Expr) -> Option<(Dimension, Option<f64>)> {
        let dimension = |typed: Typed| match typed.value_type {
            ValueType::Quantity(quantity) => Some(quantity.dimension),
            ValueType::Condition => None,
        };
        match &expr.node {
            Node::Quantity(quantity) => {
                let unit = quantity.unit.as_ref().map_or_else(|| Some(Unit::one()), |unit| parse(&unit.item))?;
                Some((unit.quantity.dimension, Some(unit.to_si(quantity.number))))
            }
            Node::Name(name) => {
                let entry = self.names.get(name)?;
                let Binding::Value(typed) = entry.binding else { return None };
                let source = entry.source.and_then(|source| self.checked.program.sources.get(source as usize));
                Some((dimension(typed)?, source.map(|source| source.nominal)))
            }
            Node::Field(record, field) => {
                let name = format!("{}.{}", record.item, field.item);
                let value = self.checked.values.iter().rev().find(|value| value.name == name)?;
                Some((dimension(value.typed)?, None))
            }
            Node::Unary(UnaryOp::Negate, inner) => self.factor(inner).map(|(of, nominal)| (of, nominal.map(|si| -si))),
            Node::Binary(operator, left, right) => {
                let [(one, a), (other, b)] = [self.factor(left)?, self.factor(right)?];
                let both = a.zip(b);
                match operator {
                    BinaryOp::Add => Some((one, both.map(|(a, b)| a + b))),
                    BinaryOp::Subtract => Some((one, both.map(|(a, b)| a - b))),
                    BinaryOp::Multiply => Some((one.times(other), both.map(|(a, b)| a * b))),
                    BinaryOp::Divide => Some((one.over(other), both.map(|(a, b)| a / b))),
                    _ => None,
                }
            }
            _ => None,
        }
    }
}

/// Words of labels that speak of energy.
const ENERGY: [&str; 3] = ["energy", "work", "heat"];

#[cfg(test)]
mod tests {
    use crate::Evaluator;

    #[test]
    fn a_force_at_an_arm_is_shown_as_a_torque_and_an_energy_as_an_energy() {
        for (line, wanted) in [
            ("x = F * r", "360 mN·m"),
            ("x = (F + F) * r", "720 mN·m"),
            ("x = r * F / n", "36.0 mN·m"),
            ("M = F * r\nx = M / n + M", "0.396 N·m"),
            ("x = F * r \"work of a stroke\"", "360 mJ"),
            ("x = 2 kg * 9.81 m/s^2 * r", "589 mJ"),
            ("x [J] = F * r", "0.360 J"),
            ("M = F * r\nx = M + 1 J", "1.36 J"),
        ] {
            let source = format!("```calc\nF = 12 N\nr = 30 mm\nn = 10\n{line}\n```\n");
            let evaluation = Evaluator::default().evaluate(&source);
            let value = evaluation.values.iter().find(|value| value.name == "x").unwrap();
            assert_eq!(value.unit.show(value.nominal, 3), wanted, "{line}");
        }
    }
}
