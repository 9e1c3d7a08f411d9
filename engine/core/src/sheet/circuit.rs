//! The lines of a `circuit` block: rails, parts with named pins, and paths such as `V_rail -> R_t -> @U1.discharge -> C_t ->
//! ground`. What a name stands for is settled later, when values are known.

use benchleaf_words::{Phrase, Word, key, phrase};

use crate::{
    circuit::{Kind, Side},
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// A `circuit` block as read.
#[derive(Clone, Debug, Default)]
pub struct CircuitBlock {
    /// Its title.
    pub title: Option<String>,
    /// Its clauses, in order.
    pub clauses: Vec<CircuitClause>,
    /// Whether a line of it did not read.
    pub broken: bool,
}

/// One thing that a line says.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum CircuitClause {
    /// `rail V_rail "logic supply"`
    Rail { names: Vec<Spanned<String>>, label: Option<String> },
    /// `net middle`
    Net { names: Vec<Spanned<String>>, label: Option<String> },
    /// `npn @Q1`, `chip @U1 "timer": left trigger; right output`
    Part(PartRequest),
    /// `V_rail -> R_t -> ground`
    Path(Vec<Element>),
    /// `diode @D1 across @K1, reversed`
    Across { part: PartRequest, host: Vec<Spanned<Node>> },
    /// `test V_rail at @U1.supply`
    Test { value: Spanned<String>, at: Spanned<Node> },
    /// `drive @U1.output at V_pin`
    Drive { at: Spanned<Node>, value: Spanned<String> },
}

/// A place that can be joined to others.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Node {
    /// `ground`
    Ground,
    /// A rail, a net, or a value's part.
    Name(String),
    /// `@U1.output`
    Pin { part: String, pin: String },
    /// `@K1`
    Part(String),
}

/// One element of a path.
#[derive(Clone, Debug)]
pub enum Element {
    /// Places that are joined here.
    Nodes(Vec<Spanned<Node>>),
    /// A part that the path goes through.
    Part(PartRequest),
}

/// A part as written: `coil R_coil @K1 closed "relay"`.
#[derive(Clone, Debug, Default)]
pub struct PartRequest {
    /// Its kind, where it is written.
    pub kind: Option<Kind>,
    /// Its values.
    pub values: Vec<Spanned<String>>,
    /// Its designator.
    pub designator: Option<Spanned<String>>,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Its pins by their sides, where they are written.
    pub pins: Vec<(Side, Spanned<String>)>,
    /// `closed` or `open`.
    pub state: Option<crate::circuit::State>,
    /// Whether it is turned round.
    pub turn: Turn,
    /// Where it stands.
    pub span: Span,
}

/// Which way round a part stands in a path.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Turn {
    /// First pin first.
    #[default]
    AsWritten,
    /// `reversed`
    Reversed,
}

/// How the block is written.
const FORM: Word<0> = key::SHEET_CIRCUIT_A_PATH_READS;
const CHIP: Word<0> = key::SHEET_CIRCUIT_IT_READS_CHIP_U1_TIMER;
const ACROSS: Word<0> = key::SHEET_CIRCUIT_IT_READS_DIODE_D1_ACROSS;
const TEST: Word<0> = key::SHEET_CIRCUIT_IT_READS_TEST_V_RAIL;
const DRIVE: Word<0> = key::SHEET_CIRCUIT_IT_READS_DRIVE_U1_OUTPUT;

type Read<T> = Result<T, Problem>;

/// Reads a `circuit` block.
pub(super) fn read(source: &str, content: Span, problems: &mut Vec<Problem>) -> CircuitBlock {
    let mut block = CircuitBlock::default();
    for tokens in lines(source, content) {
        let mut line = Line { tokens: &tokens, at: 0 };
        if let Err(problem) = line.clauses(&mut block) {
            problems.push(problem);
            block.broken = true;
        }
    }
    block
}

#[derive(Clone, Debug, PartialEq)]
enum Item {
    Word(String),
    Designator(String),
    Text(String),
    Arrow,
    Comma,
    Colon,
    Semicolon,
    Dot,
    Other(char),
}

type Token = Spanned<Item>;

/// The lines of the block as tokens. One that ends in an arrow, a comma, a colon or a semicolon goes on.
fn lines(source: &str, content: Span) -> Vec<Vec<Token>> {
    let mut lines: Vec<Vec<Token>> = vec![Vec::new()];
    let mut at = content.start;
    while let Some(c) = source.get(at..content.end).and_then(|rest| rest.chars().next()) {
        let rest = source.get(at..content.end).unwrap_or("");
        let run = |from: usize, belongs: &dyn Fn(char) -> bool| {
            let text = rest.get(from..).unwrap_or("");
            &text[..text.find(|c| !belongs(c)).unwrap_or(text.len())]
        };
        let (item, length) = match c {
            '\n' => {
                let last = lines.last().and_then(|line| line.last()).map(|token| &token.item);
                if !matches!(last, None | Some(Item::Arrow | Item::Comma | Item::Colon | Item::Semicolon)) {
                    lines.push(Vec::new());
                }
                (None, 1)
            }
            c if c.is_whitespace() => (None, c.len_utf8()),
            '#' => (None, run(0, &|c| c != '\n').len()),
            '"' => {
                let text = run(1, &|c| c != '"' && c != '\n');
                let closed = rest.get(1 + text.len()..).is_some_and(|rest| rest.starts_with('"'));
                (Some(Item::Text(text.trim().to_owned())), 1 + text.len() + usize::from(closed))
            }
            '→' => (Some(Item::Arrow), c.len_utf8()),
            '-' if rest.starts_with("->") => (Some(Item::Arrow), 2),
            '@' => {
                let name = run(1, &|c| c.is_alphanumeric() || c == '_');
                (Some(Item::Designator(name.to_owned())), 1 + name.len())
            }
            c if is_name(c) => {
                let name = run(0, &is_name);
                (Some(Item::Word(name.to_owned())), name.len())
            }
            ',' => (Some(Item::Comma), 1),
            ':' => (Some(Item::Colon), 1),
            ';' => (Some(Item::Semicolon), 1),
            '.' => (Some(Item::Dot), 1),
            c => (Some(Item::Other(c)), c.len_utf8()),
        };
        if let (Some(item), Some(line)) = (item, lines.last_mut()) {
            line.push(Spanned { item, span: Span::new(at, at + length) });
        }
        at += length;
    }
    lines.retain(|line| !line.is_empty());
    lines
}

/// Characters of names; those of pins have signs too.
fn is_name(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '_' | '+' | '/')
}

struct Line<'a> {
    tokens: &'a [Token],
    at: usize,
}

impl Line<'_> {
    fn clauses(&mut self, block: &mut CircuitBlock) -> Read<()> {
        while self.at < self.tokens.len() {
            if self.is_word("title") && matches!(self.ahead(1), Some(Item::Text(_))) {
                self.at += 1;
                block.title = self.text();
            } else if self.is_word("reversed") && self.turns(block.clauses.last_mut()) {
                self.at += 1;
            } else {
                let clause = self.clause()?;
                block.clauses.push(clause);
            }
            match self.peek() {
                None => break,
                Some(Item::Comma) => self.at += 1,
                Some(_) => return Err(self.unexpected(phrase!(SHEET_CIRCUIT_A_COMMA_OR_THE_END)).help(FORM)),
            }
        }
        Ok(())
    }

    /// `…, reversed` behind a clause that places a part.
    fn turns(&self, clause: Option<&mut CircuitClause>) -> bool {
        let part = match clause {
            Some(CircuitClause::Across { part, .. }) => part,
            Some(CircuitClause::Path(elements)) => {
                match elements.iter_mut().rev().find_map(|element| match element {
                    Element::Part(part) => Some(part),
                    Element::Nodes(_) => None,
                }) {
                    Some(part) => part,
                    None => return false,
                }
            }
            _ => return false,
        };
        part.turn = Turn::Reversed;
        true
    }

    fn clause(&mut self) -> Read<CircuitClause> {
        if self.takes_word("rail") {
            let names = self.names(key::SHEET_CIRCUIT_THE_RAILS_NAME)?;
            return Ok(CircuitClause::Rail { names, label: self.text() });
        }
        if self.is_word("net") && matches!(self.ahead(1), Some(Item::Word(_))) {
            self.at += 1;
            let names = self.names(key::SHEET_CIRCUIT_THE_NETS_NAME)?;
            return Ok(CircuitClause::Net { names, label: self.text() });
        }
        if self.takes_word("test") {
            let value = self.name(phrase!(SHARED_THE_NAME_OF_A_VALUE)).map_err(|problem| problem.help(TEST))?;
            let at = self.at_node(TEST)?;
            return Ok(CircuitClause::Test { value, at });
        }
        if self.takes_word("drive") {
            let at = self.node().map_err(|problem| problem.help(DRIVE))?;
            if !self.takes_word("at") {
                return Err(self.unexpected("`at`").help(DRIVE));
            }
            let value = self.name(phrase!(SHARED_THE_NAME_OF_A_VALUE)).map_err(|problem| problem.help(DRIVE))?;
            return Ok(CircuitClause::Drive { at, value });
        }
        let first = self.element()?;
        match (first, self.peek()) {
            (Element::Part(part), Some(Item::Word(word))) if word == "across" => {
                self.at += 1;
                let mut host = vec![self.node().map_err(|problem| problem.help(ACROSS))?];
                if self.takes_word("and") {
                    host.push(self.node().map_err(|problem| problem.help(ACROSS))?);
                }
                Ok(CircuitClause::Across { part, host })
            }
            (Element::Part(part), Some(Item::Colon)) => Ok(CircuitClause::Part(self.sides(part)?)),
            (first, Some(Item::Arrow)) => {
                let mut elements = vec![first];
                while self.peek() == Some(&Item::Arrow) {
                    self.at += 1;
                    elements.push(self.element()?);
                }
                Ok(CircuitClause::Path(elements))
            }
            (Element::Part(part), _) if part.kind.is_some() => Ok(CircuitClause::Part(part)),
            (_, _) => Err(self.unexpected(phrase!(SHEET_CIRCUIT_AN_ARROW)).help(FORM)),
        }
    }

    /// `: left trigger threshold; right output`
    fn sides(&mut self, mut part: PartRequest) -> Read<PartRequest> {
        let mut side = None;
        let start = self.at;
        self.at += 1;
        loop {
            let named = self.word().and_then(|word| Side::TABLE.iter().find(|row| row.1 == word));
            match (named, self.peek()) {
                (Some((found, _)), _) if !matches!(self.behind(), Some(Item::Word(_))) => {
                    side = Some(*found);
                    self.at += 1;
                }
                (_, Some(Item::Word(_))) => {
                    let Some(side) = side else {
                        return Err(self.unexpected(phrase!(SHEET_CIRCUIT_A_SIDE)).help(CHIP));
                    };
                    part.pins.push((side, self.name(phrase!(SHARED_A_PIN))?));
                }
                (_, Some(Item::Semicolon)) => self.at += 1,
                _ => break,
            }
        }
        if part.pins.is_empty() {
            let span = self.tokens[start].span;
            return Err(Problem::new(Code::Circuit, span, phrase!(SHEET_CIRCUIT_NO_PIN_STANDS)).help(CHIP));
        }
        part.span = part.span.to(self.tokens[self.at - 1].span);
        Ok(part)
    }

    fn element(&mut self) -> Read<Element> {
        let start = self.span();
        let kind = self.kind();
        if kind.is_none()
            && let Some(nodes) = self.nodes()?
        {
            return Ok(Element::Nodes(nodes));
        }
        let mut part = PartRequest { kind, ..PartRequest::default() };
        loop {
            match self.peek().cloned() {
                Some(Item::Word(word)) => match word.as_str() {
                    "reversed" => part.turn = Turn::Reversed,
                    "closed" => part.state = Some(crate::circuit::State::Closed),
                    "open" => part.state = Some(crate::circuit::State::Open),
                    "across" => break,
                    _ => part.values.push(Spanned { item: word, span: self.span() }),
                },
                Some(Item::Designator(_)) if self.ahead(1) == Some(&Item::Dot) && part.kind.is_none() => {
                    // `middle @U1.output`: a net and a pin are joined here.
                    let named =
                        part.values.into_iter().map(|name| Spanned { item: Node::Name(name.item), span: name.span });
                    let mut nodes: Vec<_> = named.collect();
                    nodes.extend(self.nodes()?.into_iter().flatten());
                    return Ok(Element::Nodes(nodes));
                }
                Some(Item::Designator(name)) => {
                    if let Some(first) = &part.designator {
                        let message = phrase!(SHEET_CIRCUIT_STANDS_BEHIND_A_PART, name = name, first = first.item);
                        let help = phrase!(SHEET_CIRCUIT_TWO_PARTS_OF_ONE_VALUE);
                        return Err(Problem::new(Code::Circuit, self.span(), message).help(help));
                    }
                    if name.is_empty() {
                        return Err(Problem::new(
                            Code::Circuit,
                            self.span(),
                            phrase!(SHEET_CIRCUIT_NO_DESIGNATOR_STANDS_BEHIND),
                        )
                        .help(phrase!(SHEET_CIRCUIT_A_DESIGNATOR_READS_R1)));
                    }
                    part.designator = Some(Spanned { item: name, span: self.span() });
                }
                Some(Item::Text(text)) => part.label = Some(text),
                _ => break,
            }
            part.span = start.to(self.span());
            self.at += 1;
        }
        if part.kind.is_none() && part.values.is_empty() && part.designator.is_none() {
            return Err(self.unexpected(phrase!(SHEET_CIRCUIT_A_PART_A_PIN)).help(FORM));
        }
        if part.span == Span::default() {
            part.span = start;
        }
        Ok(Element::Part(part))
    }

    /// A kind's words, where they stand here.
    fn kind(&mut self) -> Option<Kind> {
        let word = self.word()?.to_owned();
        let next = match self.ahead(1) {
            Some(Item::Word(next)) => format!("{word} {next}"),
            _ => String::new(),
        };
        let row = Kind::TABLE.iter().find(|row| row.word == next || row.word.eq_ignore_ascii_case(&word))?;
        let two = row.word == next;
        self.at += 1 + usize::from(two);
        Some(row.kind)
    }

    /// Pins and `ground`, as many as stand here; `None` where a part stands here.
    fn nodes(&mut self) -> Read<Option<Vec<Spanned<Node>>>> {
        let is_node = |line: &Self| {
            line.is_word("ground")
                || (matches!(line.peek(), Some(Item::Designator(_))) && line.ahead(1) == Some(&Item::Dot))
        };
        let mut nodes = Vec::new();
        while is_node(self) {
            nodes.push(self.node()?);
        }
        Ok((!nodes.is_empty()).then_some(nodes))
    }

    fn node(&mut self) -> Read<Spanned<Node>> {
        let span = self.span();
        match self.peek().cloned() {
            Some(Item::Word(word)) => {
                self.at += 1;
                let node = if word == "ground" { Node::Ground } else { Node::Name(word) };
                Ok(Spanned { item: node, span })
            }
            Some(Item::Designator(part)) if self.ahead(1) == Some(&Item::Dot) => {
                self.at += 2;
                let pin = self.name(phrase!(SHEET_CIRCUIT_THE_NAME_OF_A_PIN))?;
                Ok(Spanned { item: Node::Pin { part, pin: pin.item }, span: span.to(pin.span) })
            }
            Some(Item::Designator(part)) => {
                self.at += 1;
                Ok(Spanned { item: Node::Part(part), span })
            }
            _ => Err(self.unexpected(phrase!(SHEET_CIRCUIT_A_PIN_A_RAIL_OR))),
        }
    }

    fn at_node(&mut self, form: Word<0>) -> Read<Spanned<Node>> {
        if !self.takes_word("at") {
            return Err(self.unexpected("`at`").help(form));
        }
        self.node().map_err(|problem| problem.help(form))
    }

    fn names(&mut self, wanted: Word<0>) -> Read<Vec<Spanned<String>>> {
        let mut names = vec![self.name(wanted)?];
        while let Some(Item::Word(_)) = self.peek() {
            names.push(self.name(wanted)?);
        }
        Ok(names)
    }

    fn name(&mut self, wanted: impl Into<Phrase>) -> Read<Spanned<String>> {
        match self.peek().cloned() {
            Some(Item::Word(word)) => {
                let span = self.span();
                self.at += 1;
                Ok(Spanned { item: word, span })
            }
            _ => Err(self.unexpected(wanted)),
        }
    }

    fn text(&mut self) -> Option<String> {
        let Some(Item::Text(text)) = self.peek().cloned() else { return None };
        self.at += 1;
        Some(text)
    }

    fn peek(&self) -> Option<&Item> {
        self.ahead(0)
    }

    fn ahead(&self, by: usize) -> Option<&Item> {
        self.tokens.get(self.at + by).map(|token| &token.item)
    }

    fn behind(&self) -> Option<&Item> {
        self.tokens.get(self.at.checked_sub(1)?).map(|token| &token.item)
    }

    fn word(&self) -> Option<&str> {
        match self.peek() {
            Some(Item::Word(word)) => Some(word),
            _ => None,
        }
    }

    fn is_word(&self, word: &str) -> bool {
        self.word() == Some(word)
    }

    fn takes_word(&mut self, word: &str) -> bool {
        let found = self.is_word(word);
        self.at += usize::from(found);
        found
    }

    fn span(&self) -> Span {
        let end = self.tokens.last().map_or(Span::default(), |last| Span::new(last.span.end, last.span.end));
        self.tokens.get(self.at).map_or(end, |token| token.span)
    }

    fn unexpected(&self, wanted: impl Into<Phrase>) -> Problem {
        let wanted = wanted.into();
        let message = match self.peek() {
            None => phrase!(SHARED_THE_LINE_ENDS_WHERE_SHOULD, wanted = wanted),
            Some(Item::Text(_)) => phrase!(SHEET_CIRCUIT_A_QUOTED_TEXT_STANDS_WHERE, wanted = wanted),
            Some(item) => phrase!(SHEET_CIRCUIT_STANDS_WHERE_SHOULD, written = written(item), wanted = wanted),
        };
        Problem::new(Code::Circuit, self.span(), message)
    }
}

fn written(item: &Item) -> String {
    match item {
        Item::Word(text) | Item::Text(text) => text.clone(),
        Item::Designator(name) => format!("@{name}"),
        Item::Arrow => "->".to_owned(),
        Item::Comma => ",".to_owned(),
        Item::Colon => ":".to_owned(),
        Item::Semicolon => ";".to_owned(),
        Item::Dot => ".".to_owned(),
        Item::Other(c) => c.to_string(),
    }
}
