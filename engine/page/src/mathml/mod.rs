//! Formulas as presentation MathML (MathML Core): an expression set in its symbols, or with numbers put in for the names.
//! Each part carries how tightly it binds, so that parentheses stand where precedence needs them and nowhere else, and
//! roughly how wide it is, so that a long step can be folded away.

mod call;
mod name;

use benchleaf_core::{
    lang::ast::{Argument, BinaryOp, Expr, Node, UnaryOp},
    results::Value,
};
use benchleaf_words::{Word, Words, key};
use maud::{Markup, html};

pub(crate) use name::{name, number_and_unit, quantity_text, symbol, written};

use crate::context::PageContext;

/// How the names of an expression are set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Names {
    /// As symbols.
    Symbols,
    /// As the values they stand for.
    Values,
}

/// What the names in a handbook model's formula are set as, instead of the worksheet's names.
pub(crate) trait Scope {
    /// The trade's symbol.
    fn symbol<'n>(&self, name: &'n str) -> std::borrow::Cow<'n, str>;
    /// The value that it stands for.
    fn value(&self, name: &str) -> Option<Piece>;
}

/// An expression, set.
pub(crate) struct Piece {
    /// The elements, without `<math>`.
    pub(crate) markup: Markup,
    /// Roughly how many characters wide.
    pub(crate) width: usize,
    binding: u8,
    leading_minus: bool,
}

/// Sets an expression.
pub(crate) fn expression(context: &PageContext<'_>, expr: &Expr, names: Names) -> Piece {
    Setter { context, names, scope: None }.set(expr)
}

/// Sets a formula of a handbook model.
pub(crate) fn formula(context: &PageContext<'_>, expr: &Expr, names: Names, scope: &dyn Scope) -> Piece {
    Setter { context, names, scope: Some(scope) }.set(expr)
}

/// Words, as a value.
pub(crate) fn word(text: &str) -> Piece {
    Piece::atom(words(text), text.len())
}

/// A number of a unit, as a value.
pub(crate) fn quantity(number: &str, unit: &str) -> Piece {
    name::piece(number, unit)
}

/// A value, as it stands in formulas.
pub(crate) fn piece_of(words: Words<'_>, value: &Value) -> Piece {
    name::value(words, value)
}

/// A value as it is shown: a quantity, or yes or no.
pub(crate) fn value(words: Words<'_>, value: &Value) -> Markup {
    name::value(words, value).markup
}

/// A formula on a line of its own.
pub(crate) fn display(inner: &Markup) -> Markup {
    html! { math display="block" { (inner) } }
}

/// A formula in running text.
pub(crate) fn inline(inner: &Markup) -> Markup {
    html! { math { (inner) } }
}

/// A relation or an operator between two parts.
pub(crate) fn operator(symbol: &str) -> Markup {
    html! { mo { (symbol) } }
}

/// Words inside a formula, with room around them.
pub(crate) fn words(text: &str) -> Markup {
    html! { mtext { (format!("\u{a0}{text}\u{a0}")) } }
}

impl Piece {
    fn atom(markup: Markup, width: usize) -> Self {
        Self { markup, width, binding: ATOM, leading_minus: false }
    }

    fn bound(markup: Markup, width: usize, binding: u8) -> Self {
        Self { markup, width, binding, leading_minus: false }
    }

    /// In parentheses if it binds less tightly than its place asks.
    fn at_least(self, binding: u8) -> Self {
        if self.binding < binding { self.parenthesised() } else { self }
    }

    /// The same, where a leading minus would meet an operator.
    fn after_operator(self, binding: u8) -> Self {
        if self.leading_minus { self.parenthesised() } else { self.at_least(binding) }
    }

    fn parenthesised(self) -> Self {
        let markup = html! { mrow { mo { "(" } (self.markup) mo { ")" } } };
        Self::atom(markup, self.width + 2)
    }
}

/// Whether a call is `V(…)` or `I(…)` of places in a circuit.
fn asks_a_circuit(function: &str, arguments: &[Argument]) -> bool {
    let is_place = |argument: &Argument| matches!(argument.value.node, Node::Name(_) | Node::Pin(..));
    matches!(function, "V" | "I") && arguments.iter().all(is_place)
}

struct Setter<'m, 's> {
    context: &'m PageContext<'s>,
    names: Names,
    scope: Option<&'m dyn Scope>,
}

impl Setter<'_, '_> {
    fn set(&self, expr: &Expr) -> Piece {
        match &expr.node {
            Node::Quantity(quantity) => name::quantity(quantity),
            Node::Name(text) => self.name(text),
            Node::Field(record, field) => self.name(&format!("{}.{}", record.item, field.item)),
            Node::Unary(UnaryOp::Negate, operand) => {
                let operand = self.set(operand).after_operator(BinaryOp::Multiply.binding());
                let binding = operand.binding.min(NEGATION);
                let markup = html! { mrow { mo form="prefix" { "−" } (operand.markup) } };
                Piece { markup, width: operand.width + 1, binding, leading_minus: true }
            }
            Node::Unary(UnaryOp::Not, operand) => {
                let operand = self.set(operand).at_least(BinaryOp::Less.binding());
                let markup = html! { mrow { (self.word(key::FORMULA_NOT)) (operand.markup) } };
                Piece::bound(markup, operand.width + 4, BinaryOp::And.binding())
            }
            Node::Binary(op, left, right) => self.binary(*op, left, right),
            // A circuit is asked about a place, not about the value that stands there.
            Node::Call(function, arguments)
                if self.names == Names::Values && asks_a_circuit(&function.item, arguments) =>
            {
                Setter { names: Names::Symbols, ..*self }.call(&function.item, arguments)
            }
            Node::Call(function, arguments) => self.call(&function.item, arguments),
            Node::If(..) => self.cases(expr),
            Node::Pin(part, pin) => {
                let pin = pin.as_ref().map_or_else(String::new, |pin| format!(".{}", pin.item));
                let text = format!("{}{pin}", part.item);
                Piece::atom(html! { mtext { (text) } }, text.chars().count())
            }
        }
    }

    fn binary(&self, op: BinaryOp, left_expr: &Expr, right: &Expr) -> Piece {
        let (left, right) = (self.set(left_expr), self.set(right));
        let binding = op.binding();
        match op {
            BinaryOp::Divide => {
                let width = left.width.max(right.width) + 1;
                let markup = html! { mfrac { mrow { (left.markup) } mrow { (right.markup) } } };
                Piece::bound(markup, width, FRACTION)
            }
            BinaryOp::Power => {
                if let Some(markup) = self.subscripted(left_expr, &right.markup) {
                    return Piece::bound(markup, left.width + right.width, binding);
                }
                let base = left.at_least(ATOM);
                let width = base.width + right.width;
                let markup = html! { msup { mrow { (base.markup) } mrow { (right.markup) } } };
                Piece::bound(markup, width, binding)
            }
            _ => {
                // Sums and products may be grouped either way; a difference may not.
                let right_binding = if matches!(
                    op,
                    BinaryOp::Add | BinaryOp::Multiply | BinaryOp::Parallel | BinaryOp::And | BinaryOp::Or
                ) {
                    binding
                } else {
                    binding + 1
                };
                let left_binding = if op.compares() { binding + 1 } else { binding };
                let left = left.at_least(left_binding);
                let right =
                    if op.compares() { right.at_least(right_binding) } else { right.after_operator(right_binding) };
                let width = left.width + right.width + 3;
                let leading_minus = left.leading_minus;
                let markup = html! { mrow { (left.markup) (self.operator(op)) (right.markup) } };
                Piece { markup, width, binding, leading_minus }
            }
        }
    }

    /// A power of a name that is set as a symbol with a subscript.
    fn subscripted(&self, base: &Expr, power: &Markup) -> Option<Markup> {
        match (&base.node, self.scope) {
            (Node::Name(text), Some(scope)) if self.names == Names::Symbols => {
                return name::raised_name(&scope.symbol(text), power);
            }
            (_, Some(_)) => return None,
            _ => {}
        }
        match &base.node {
            Node::Name(text) if self.names == Names::Symbols || self.context.value(text).is_none() => {
                name::raised_name(text, power)
            }
            _ => None,
        }
    }

    fn word(&self, word: Word<0>) -> Markup {
        words(self.context.words.text(word))
    }

    fn operator(&self, op: BinaryOp) -> Markup {
        match op {
            BinaryOp::And => self.word(key::FORMULA_AND),
            BinaryOp::Or => self.word(key::FORMULA_OR),
            BinaryOp::Multiply if self.names == Names::Values => operator("×"),
            BinaryOp::Multiply => operator("·"),
            BinaryOp::Subtract => operator("−"),
            BinaryOp::LessOrEqual => operator("≤"),
            BinaryOp::GreaterOrEqual => operator("≥"),
            BinaryOp::Equal => operator("="),
            BinaryOp::NotEqual => operator("≠"),
            _ => operator(op.symbol()),
        }
    }

    fn name(&self, text: &str) -> Piece {
        if let Some(scope) = self.scope {
            let value = if self.names == Names::Values { scope.value(text) } else { None };
            return value.unwrap_or_else(|| {
                let symbol = scope.symbol(text);
                Piece::atom(name::name(&symbol), symbol.chars().count())
            });
        }
        if self.names == Names::Values
            && let Some(value) = self.context.value(text)
        {
            return match self.context.literal(text) {
                Some((quantity, negative)) => negated(name::quantity(quantity), negative),
                None => name::value(self.context.words, value),
            };
        }
        Piece::atom(name::name(text), text.chars().count())
    }

    /// `if a then x else if b then y else z`, as cases after one brace.
    fn cases(&self, expr: &Expr) -> Piece {
        let mut rows = Vec::new();
        let mut width = 0;
        let mut rest = expr;
        while let Node::If(condition, then, otherwise) = &rest.node {
            let (then, condition) = (self.set(then), self.set(condition));
            width = width.max(then.width + condition.width + 4);
            rows.push((then.markup, html! { (self.word(key::FORMULA_IF)) (condition.markup) }));
            rest = otherwise;
        }
        rows.push((self.set(rest).markup, self.word(key::FORMULA_OTHERWISE)));
        let markup = html! {
            mrow {
                mo { "{" }
                mtable class="cases" {
                    @for (value, condition) in &rows {
                        mtr { mtd { (value) } mtd { (condition) } }
                    }
                }
            }
        };
        Piece::bound(markup, width, BinaryOp::Or.binding())
    }
}

fn negated(piece: Piece, negative: bool) -> Piece {
    if !negative {
        return piece;
    }
    let markup = html! { mrow { mo form="prefix" { "−" } (piece.markup) } };
    Piece { markup, width: piece.width + 1, binding: piece.binding.min(NEGATION), leading_minus: true }
}

const ATOM: u8 = 10;
/// A number with its unit is a product, but one that nothing splits short of a power.
const QUANTITY: u8 = 7;
const FRACTION: u8 = 7;
const NEGATION: u8 = 7;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::sample::{context_of, definition};

    fn set(expr: &str, names: Names) -> String {
        let source = format!("```calc\nV_s = 12 V\nR_t = -5 Ω\nn = 2 * 3\nx_0 = {expr}\n```\n");
        let evaluation = Evaluator::default().evaluate(&source);
        let context = context_of(&evaluation, &source);
        expression(&context, &definition(&evaluation, 3).value, names).markup.into_string()
    }

    /// The text alone, `|` between the parts of a fraction or a power.
    fn text(set: &str) -> String {
        let set = set.replace("</mrow><mrow>", "|");
        let visible = set.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text));
        visible.collect::<String>().replace('\u{a0}', " ").replace("&lt;", "<").replace("&gt;", ">")
    }

    #[test]
    fn parentheses_stand_where_precedence_needs_them() {
        for (expr, wanted) in [
            ("(a + b) * c", "(a+b)·c"),
            ("a + b * c", "a+b·c"),
            ("a - (b - c)", "a−(b−c)"),
            ("a - b - c", "a−b−c"),
            ("a + (b + c)", "a+b+c"),
            ("(a + b) / c", "a+b|c"),
            ("a / b * c", "a|b·c"),
            ("a * b / c", "a·b|c"),
            ("(a + b)^c", "(a+b)|c"),
            ("(a / b)^c", "(a|b)|c"),
            ("(-a)^c", "(−a)|c"),
            ("-a^c", "−a|c"),
            ("(12 V)^c", "(12V)|c"),
            ("a * -b", "a·(−b)"),
            ("-a * b", "−a·b"),
            ("-(a + b)", "−(a+b)"),
            ("(a + b) ∥ c", "(a+b)∥c"),
            ("a + b < c", "a+b<c"),
            ("not (a < b) and c > d", " not a<b and c>d"),
        ] {
            assert_eq!(text(&set(expr, Names::Symbols)), wanted, "{expr}");
        }
    }

    #[test]
    fn numbers_put_in_for_names_keep_their_sign_and_their_unit() {
        for (expr, wanted) in [
            ("V_s * 2", "12V×2"),
            ("V_s^2", "(12V)|2"),
            ("V_s / R_t", "12V|−5Ω"),
            ("V_s - R_t", "12V−(−5Ω)"),
            ("n * V_s", "6×12V"),
            ("n^2", "6|2"),
        ] {
            assert_eq!(text(&set(expr, Names::Values)), wanted, "{expr}");
        }
    }

    #[test]
    fn functions_have_the_forms_of_mathematics() {
        let symbols = |expr| set(expr, Names::Symbols);
        assert_eq!(symbols("sqrt(x)"), r#"<msqrt><mi class="letter">x</mi></msqrt>"#);
        assert!(symbols("R_t^2").starts_with("<msubsup>"));
        assert_eq!(text(&symbols("parallel(a, b + c, d)")), "a∥(b+c)∥d");
        assert_eq!(text(&symbols("preferred_below(E24, x)")), "E24 value at or below x");
        assert_eq!(text(&symbols("ln(3)")), "ln\u{2061}(3)");
        assert_eq!(text(&symbols("abs(a - b)")), "|a−b|");
        assert_eq!(text(&symbols("if x > 1 then a else b")), "{a if x>1b otherwise ");
    }
}
