//! Random formulas of givens, which the tests evaluate for themselves.

#![allow(clippy::disallowed_methods)]

use crate::Random;

/// A formula on plain numbers: the test's own, evaluated with the standard library.
pub enum Formula {
    /// `g_0`, `g_1` and so on.
    Given(usize),
    /// A constant.
    Number(f64),
    /// A sign between two, or `min` or `max`.
    Two(&'static str, Box<Formula>, Box<Formula>),
    /// A function; `square` is a power.
    One(&'static str, Box<Formula>),
    /// A comparison of the first two, which chooses between the last two.
    Choice(&'static str, [Box<Formula>; 4]),
}

impl Formula {
    /// One of so many givens, no deeper than asked.
    pub fn random(random: &mut Random, givens: usize, depth: usize) -> Self {
        if depth == 0 || random.below(7) == 0 {
            return match random.below(5) {
                0 => Formula::Number((1 + random.below(30)) as f64 / 4.0),
                _ => Formula::Given(random.below(givens as u64) as usize),
            };
        }
        let mut part = || Box::new(Self::random(random, givens, depth - 1));
        let (a, b, c, d) = (part(), part(), part(), part());
        match random.below(16) {
            0..=1 => Formula::Two("+", a, b),
            2..=3 => Formula::Two("-", a, b),
            4..=6 => Formula::Two("*", a, b),
            7 => Formula::Two("/", a, b),
            8 => Formula::Two("min", a, b),
            9 => Formula::Two("max", a, b),
            10 => Formula::One(["sin", "cos", "sin"][random.below(3) as usize], a),
            11 => Formula::One(
                ["sin", "cos"][random.below(2) as usize],
                Box::new(Formula::Two("*", Box::new(Formula::Number((2 + random.below(20)) as f64)), a)),
            ),
            12 => Formula::One(["abs", "atan", "exp"][random.below(3) as usize], a),
            13 => Formula::One("sqrt", Box::new(Formula::One("abs", a))),
            14 => Formula::One("square", a),
            _ => Formula::Choice([">", "<"][random.below(2) as usize], [a, b, c, d]),
        }
    }

    /// As a worksheet has it.
    pub fn text(&self) -> String {
        match self {
            Formula::Given(i) => format!("g_{i}"),
            Formula::Number(n) => format!("{n}"),
            Formula::Two(name @ ("min" | "max"), a, b) => format!("{name}({}, {})", a.text(), b.text()),
            Formula::Two(sign, a, b) => format!("({} {sign} {})", a.text(), b.text()),
            Formula::One("square", a) => format!("({})^2", a.text()),
            Formula::One(name, a) => format!("{name}({})", a.text()),
            Formula::Choice(sign, [a, b, c, d]) => {
                format!("(if {} {sign} {} then {} else {})", a.text(), b.text(), c.text(), d.text())
            }
        }
    }

    /// Its value.
    pub fn at(&self, givens: &[f64]) -> f64 {
        match self {
            Formula::Given(i) => givens[*i],
            Formula::Number(n) => *n,
            Formula::Two(sign, a, b) => {
                let (a, b) = (a.at(givens), b.at(givens));
                match *sign {
                    "+" => a + b,
                    "-" => a - b,
                    "*" => a * b,
                    "/" => a / b,
                    _ if a.is_nan() || b.is_nan() => f64::NAN,
                    "min" => a.min(b),
                    _ => a.max(b),
                }
            }
            Formula::One(name, a) => {
                let x = a.at(givens);
                match *name {
                    "sin" => x.sin(),
                    "cos" => x.cos(),
                    "atan" => x.atan(),
                    "abs" => x.abs(),
                    "sqrt" => x.sqrt(),
                    "square" => x * x,
                    _ => x.exp(),
                }
            }
            Formula::Choice(sign, [a, b, c, d]) => {
                let (a, b) = (a.at(givens), b.at(givens));
                if if *sign == ">" { a > b } else { a < b } { c.at(givens) } else { d.at(givens) }
            }
        }
    }
}
