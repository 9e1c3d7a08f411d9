//! Tokens to expressions, by binding power. The parser holds one statement's tokens; statements, plots and conditions
//! all read their expressions through it.

use benchleaf_words::{Phrase, phrase};

use super::{
    ast::{Argument, BinaryOp, Expr, Node, Quantity, UnaryOp},
    token::{Item, Line, Token},
};
use crate::{
    problem::{Code, Problem},
    span::{Span, Spanned},
    units,
};

/// How deeply an expression may nest. Far beyond any formula that a person writes, and far from the end of the stack.
const DEEPEST: usize = 200;

/// Words that cannot be used as names.
pub(crate) const RESERVED: &[&str] =
    &["keep", "below", "above", "between", "if", "then", "else", "and", "or", "not", "correlation", "against"];

/// Reads one statement's tokens from left to right.
pub(crate) struct Parser {
    tokens: Vec<Token>,
    at: usize,
    end: usize,
    depth: usize,
    /// Whether a tolerance may end the expression (`22 µF -20 % +50 %`).
    tolerance_may_follow: bool,
}

pub(crate) type Read<T> = Result<T, Problem>;

impl Parser {
    pub(crate) fn new(line: Line) -> Self {
        let end = line.span.end;
        Self { tokens: line.tokens, at: 0, end, depth: 0, tolerance_may_follow: false }
    }

    pub(crate) fn peek(&self) -> Option<&Item> {
        self.peek_at(0)
    }

    pub(crate) fn peek_at(&self, ahead: usize) -> Option<&Item> {
        self.token_at(ahead).map(|token| &token.item)
    }

    pub(crate) fn token_at(&self, ahead: usize) -> Option<&Token> {
        self.tokens.get(self.at + ahead)
    }

    /// Where the next token stands; the end of the statement behind the last.
    pub(crate) fn here(&self) -> Span {
        self.token_at(0).map_or(Span::new(self.end, self.end), |token| token.span)
    }

    /// Where the token stands that was read last.
    pub(crate) fn behind(&self) -> Span {
        self.at.checked_sub(1).and_then(|at| self.tokens.get(at)).map_or_else(|| self.here(), |token| token.span)
    }

    pub(crate) fn next(&mut self) -> Option<Token> {
        let token = self.tokens.get(self.at).cloned();
        self.at += usize::from(token.is_some());
        token
    }

    pub(crate) fn at_end(&self) -> bool {
        self.at >= self.tokens.len()
    }

    /// Takes the next token if it is this one.
    pub(crate) fn take(&mut self, item: &Item) -> Option<Span> {
        (self.peek() == Some(item)).then(|| self.here()).inspect(|_| self.at += 1)
    }

    /// Takes the next token if it is this word.
    pub(crate) fn take_word(&mut self, word: &str) -> Option<Span> {
        matches!(self.peek(), Some(Item::Word(found)) if found == word).then(|| self.here()).inspect(|_| self.at += 1)
    }

    pub(crate) fn is_word(&self, word: &str) -> bool {
        matches!(self.peek(), Some(Item::Word(found)) if found == word)
    }

    /// A name, as the thing that `what` calls for.
    pub(crate) fn name(&mut self, what: impl Into<Phrase>) -> Read<Spanned<String>> {
        match self.token_at(0).cloned() {
            Some(Token { item: Item::Word(word), span, .. }) if RESERVED.contains(&word.as_str()) => {
                Err(Problem::new(Code::Syntax, span, phrase!(LANG_EXPRESSION_IS_A_WORD, word = word))
                    .help(phrase!(SHARED_CHOOSE_ANOTHER_NAME)))
            }
            Some(Token { item: Item::Word(word), span, .. }) => {
                self.at += 1;
                Ok(Spanned { item: word, span })
            }
            _ => Err(self.unexpected(what)),
        }
    }

    /// A quoted text, if one stands next.
    pub(crate) fn label(&mut self) -> Option<String> {
        match self.peek() {
            Some(Item::Text(text)) => {
                let text = text.clone();
                self.at += 1;
                Some(text)
            }
            _ => None,
        }
    }

    /// A declared unit, if one stands next.
    pub(crate) fn bracket(&mut self) -> Option<Spanned<String>> {
        match self.peek() {
            Some(Item::Bracket(unit)) => {
                let unit = unit.clone();
                self.at += 1;
                Some(unit)
            }
            _ => None,
        }
    }

    /// The problem of finding something else than `wanted`.
    pub(crate) fn unexpected(&self, wanted: impl Into<Phrase>) -> Problem {
        let wanted = wanted.into();
        let span = self.here();
        match self.token_at(0).map(|token| &token.item) {
            None => Problem::new(Code::Syntax, span, phrase!(SHARED_THE_LINE_ENDS_WHERE_SHOULD, wanted = wanted)),
            Some(Item::Junk) => {
                Problem::new(Code::Syntax, span, phrase!(LANG_EXPRESSION_SHOULD_STAND_HERE, wanted = wanted))
            }
            Some(item) => Problem::new(
                Code::Syntax,
                span,
                phrase!(LANG_EXPRESSION_FOUND_WHERE_SHOULD_STAND, found = describe(item), wanted = wanted),
            ),
        }
    }

    /// The problem of something left over behind a complete statement.
    pub(crate) fn left_over(&self) -> Problem {
        let span = self.here();
        match self.peek() {
            Some(Item::Quantity(_) | Item::Word(_) | Item::Open) => {
                let problem = Problem::new(Code::ImpliedProduct, span, phrase!(LANG_EXPRESSION_TWO_THINGS_STAND_SIDE));
                match self.unit_in_two_words() {
                    Some(unit) => problem.help(phrase!(LANG_EXPRESSION_JOIN_THE_FACTORS, unit = unit)),
                    None => problem.help(phrase!(LANG_EXPRESSION_WRITE_A_PRODUCT_WITH)),
                }
            }
            Some(Item::Close) => Problem::new(Code::Unclosed, span, phrase!(LANG_EXPRESSION_A_CLOSING_BRACKET_WITHOUT))
                .help(phrase!(SHARED_REMOVE_IT)),
            Some(Item::Dot) => Problem::new(Code::Syntax, span, phrase!(LANG_EXPRESSION_A_FIELD_IS_READ))
                .help(phrase!(LANG_EXPRESSION_NAME_THE_RECORD_ON)),
            Some(Item::PlusMinus) => Problem::new(Code::Syntax, span, phrase!(LANG_EXPRESSION_A_TOLERANCE_STANDS))
                .help(phrase!(LANG_EXPRESSION_DEFINE_THE_VALUE)),
            Some(Item::Equals) => Problem::new(Code::Syntax, span, phrase!(LANG_EXPRESSION_A_SECOND_IN_ONE_STATEMENT))
                .help(phrase!(LANG_EXPRESSION_ONE_STATEMENT_DEFINES_ONE_NAME)),
            _ => self.unexpected(phrase!(LANG_EXPRESSION_THE_END_OF_THE_STATEMENT)),
        }
    }

    /// The unit that two words come to when they are joined: `N·m` of `10 N m`.
    fn unit_in_two_words(&self) -> Option<String> {
        let (Some(Item::Word(word)), Some(before)) = (self.peek(), self.at.checked_sub(1)) else { return None };
        let Some(Token { item: Item::Quantity(Quantity { unit: Some(unit), .. }), .. }) = self.tokens.get(before)
        else {
            return None;
        };
        let joined = format!("{}·{word}", unit.item);
        units::parse(&joined).map(|_| joined)
    }

    /// An expression behind which a tolerance may stand.
    pub(crate) fn expression_before_tolerance(&mut self) -> Read<Expr> {
        self.tolerance_may_follow = true;
        let read = self.expression();
        self.tolerance_may_follow = false;
        read
    }

    /// An expression.
    pub(crate) fn expression(&mut self) -> Read<Expr> {
        self.binding(0).map(|(expr, _)| expr)
    }

    /// An expression that ends before `and`.
    pub(crate) fn bound(&mut self) -> Read<Expr> {
        self.binding(BinaryOp::Less.binding()).map(|(expr, _)| expr)
    }

    /// An expression whose operators bind at least so tightly, and how deep it is.
    fn binding(&mut self, least: u8) -> Read<(Expr, usize)> {
        self.depth += 1;
        let read = if self.depth > DEEPEST { Err(self.too_deep()) } else { self.binding_within(least) };
        self.depth -= 1;
        read
    }

    fn too_deep(&self) -> Problem {
        Problem::new(
            Code::TooDeep,
            self.here(),
            phrase!(LANG_EXPRESSION_THE_FORMULA_NESTS_MORE_THAN, deepest = DEEPEST),
        )
        .help(phrase!(LANG_EXPRESSION_NAME_ITS_PARTS_ON_LINES))
    }

    fn binding_within(&mut self, least: u8) -> Read<(Expr, usize)> {
        let (mut left, mut depth) = self.operand()?;
        while let Some(Item::Operator(operator)) = self.peek() {
            let operator = *operator;
            let binding = operator.binding();
            if binding < least || self.tolerance_stands_here() {
                break;
            }
            self.at += 1;
            // A power groups from the right, everything else from the left.
            let (right, right_depth) = self.binding(if operator == BinaryOp::Power { binding } else { binding + 1 })?;
            depth = depth.max(right_depth) + 1;
            if depth > DEEPEST {
                return Err(self.too_deep());
            }
            let span = left.span.to(right.span);
            left = Expr { node: Node::Binary(operator, Box::new(left), Box::new(right)), span };
            if operator.compares() && matches!(self.peek(), Some(Item::Operator(next)) if next.compares()) {
                return Err(Problem::new(Code::Syntax, self.here(), phrase!(LANG_EXPRESSION_COMPARISONS_DO_NOT_CHAIN))
                    .help(phrase!(LANG_EXPRESSION_JOIN_TWO_COMPARISONS_WITH)));
            }
        }
        Ok((left, depth))
    }

    fn tolerance_stands_here(&self) -> bool {
        self.tolerance_may_follow && self.depth == 1 && self.asymmetric_ahead().is_some()
    }

    fn operand(&mut self) -> Read<(Expr, usize)> {
        let Some(token) = self.token_at(0).cloned() else {
            return Err(self.unexpected(phrase!(LANG_EXPRESSION_A_VALUE)));
        };
        match token.item {
            Item::Quantity(quantity) => {
                self.at += 1;
                Ok((Expr { node: Node::Quantity(quantity), span: token.span }, 1))
            }
            Item::Operator(BinaryOp::Subtract) => {
                self.at += 1;
                // Looser than a power, tighter than a product: -x^2 is -(x^2).
                let (inner, depth) = self.binding(BinaryOp::Power.binding() - 1)?;
                let span = token.span.to(inner.span);
                Ok((Expr { node: Node::Unary(UnaryOp::Negate, Box::new(inner)), span }, depth + 1))
            }
            Item::Operator(BinaryOp::Add) => {
                self.at += 1;
                self.binding(BinaryOp::Power.binding() - 1)
            }
            Item::Open => {
                self.at += 1;
                let (mut inner, depth) = self.binding(0)?;
                inner.span = token.span.to(self.close(token.span)?);
                Ok((inner, depth))
            }
            Item::Designator(part) => {
                self.at += 1;
                let part = Spanned { item: part, span: token.span };
                let dotted = self.peek() == Some(&Item::Dot) && matches!(self.peek_at(1), Some(Item::Word(_)));
                self.at += usize::from(dotted);
                let pin = if dotted { Some(self.name(phrase!(SHARED_A_PIN))?) } else { None };
                let span = pin.as_ref().map_or(part.span, |pin| part.span.to(pin.span));
                Ok((Expr { node: Node::Pin(part, pin), span }, 1))
            }
            Item::Word(word) if word == "not" => {
                self.at += 1;
                let (inner, depth) = self.binding(BinaryOp::Less.binding())?;
                let span = token.span.to(inner.span);
                Ok((Expr { node: Node::Unary(UnaryOp::Not, Box::new(inner)), span }, depth + 1))
            }
            Item::Word(word) if word == "if" => self.choice(token.span),
            Item::Word(_) => self.named(),
            _ => Err(self.unexpected(phrase!(LANG_EXPRESSION_A_VALUE))),
        }
    }

    fn close(&mut self, open: Span) -> Read<Span> {
        if let Some(span) = self.take(&Item::Close) {
            return Ok(span);
        }
        match self.peek() {
            Some(Item::Quantity(_) | Item::Word(_) | Item::Open | Item::PlusMinus) => Err(self.left_over()),
            _ => Err(Problem::new(Code::Unclosed, open, phrase!(LANG_EXPRESSION_THIS_BRACKET_IS_NEVER_CLOSED))
                .help(phrase!(LANG_EXPRESSION_CLOSE_IT_WITH_A_LINE))),
        }
    }

    fn choice(&mut self, start: Span) -> Read<(Expr, usize)> {
        self.at += 1;
        let (condition, a) = self.binding(0)?;
        self.take_word("then").ok_or_else(|| self.unexpected("`then`"))?;
        let (yes, b) = self.binding(0)?;
        self.take_word("else").ok_or_else(|| self.unexpected("`else`"))?;
        let (no, c) = self.binding(0)?;
        let span = start.to(no.span);
        let node = Node::If(Box::new(condition), Box::new(yes), Box::new(no));
        Ok((Expr { node, span }, a.max(b).max(c) + 1))
    }

    /// A name, a field, a function or a model.
    fn named(&mut self) -> Read<(Expr, usize)> {
        let name = self.name(phrase!(LANG_EXPRESSION_A_VALUE))?;
        let dotted = self.peek() == Some(&Item::Dot) && matches!(self.peek_at(1), Some(Item::Word(_)));
        if !dotted {
            if self.peek() == Some(&Item::Open) {
                return self.call(name);
            }
            return Ok((Expr { span: name.span, node: Node::Name(name.item) }, 1));
        }
        self.at += 1;
        let field = self.name(phrase!(SHARED_A_FIELD))?;
        let span = name.span.to(field.span);
        if self.peek() == Some(&Item::Open) {
            return self.call(Spanned { item: format!("{}.{}", name.item, field.item), span });
        }
        Ok((Expr { node: Node::Field(name, field), span }, 1))
    }

    fn call(&mut self, name: Spanned<String>) -> Read<(Expr, usize)> {
        let open = self.here();
        self.at += 1;
        let mut arguments = Vec::new();
        let mut depth = 1;
        if let Some(close) = self.take(&Item::Close) {
            let span = name.span.to(close);
            return Ok((Expr { node: Node::Call(name, arguments), span }, depth));
        }
        loop {
            let named = matches!(self.peek(), Some(Item::Word(_))) && self.peek_at(1) == Some(&Item::Equals);
            let argument_name = if named { Some(self.name(phrase!(LANG_EXPRESSION_AN_ARGUMENT))?) } else { None };
            self.at += usize::from(named);
            let (value, value_depth) = self.binding(0)?;
            depth = depth.max(value_depth + 1);
            arguments.push(Argument { name: argument_name, value });
            if self.take(&Item::Comma).is_none() {
                break;
            }
            if self.peek() == Some(&Item::Close) {
                break;
            }
        }
        let span = name.span.to(self.close(open)?);
        Ok((Expr { node: Node::Call(name, arguments), span }, depth))
    }
}

/// An item in words.
pub(crate) fn describe(item: &Item) -> Phrase {
    match item {
        Item::Quantity(_) => phrase!(LANG_EXPRESSION_A_NUMBER),
        Item::Word(word) => format!("`{word}`").into(),
        Item::Text(_) => phrase!(LANG_EXPRESSION_A_QUOTED_TEXT),
        Item::Bracket(_) => phrase!(LANG_EXPRESSION_A_UNIT_IN_SQUARE_BRACKETS),
        Item::Operator(operator) => format!("`{}`", operator.symbol()).into(),
        Item::Open => "`(`".into(),
        Item::Close => "`)`".into(),
        Item::Comma => phrase!(SHARED_A_COMMA),
        Item::Colon => "`:`".into(),
        Item::Dot => phrase!(LANG_EXPRESSION_A_DOT),
        Item::Equals => "`=`".into(),
        Item::PlusMinus => "`±`".into(),
        Item::Ellipsis => "`…`".into(),
        Item::Designator(designator) => format!("`@{designator}`").into(),
        Item::Junk => phrase!(LANG_EXPRESSION_A_CHARACTER_WITHOUT_MEANING),
    }
}
