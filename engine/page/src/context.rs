//! What every part of a page is set from: the evaluation, the worksheet's text, and how names are looked up in them.

use std::{
    collections::{BTreeMap, HashMap, HashSet},
    sync::Mutex,
};

use benchleaf_core::{
    lang::ast::{Bounds, Definition, Expr, KeepBound, Node, Quantity, StatementBody, Tolerance},
    problem::{Code, Problem},
    results::{Evaluation, Value, Verdict},
    sheet::BlockBody,
    span::Span,
    threads::locked,
};

#[cfg(feature = "markdown")]
use {crate::RawHtml, benchleaf_core::sheet::Part};

/// An evaluated worksheet on its way to the page.
pub(crate) struct PageContext<'a> {
    pub(crate) evaluation: &'a Evaluation,
    pub(crate) source: &'a str,
    #[cfg(feature = "markdown")]
    pub(crate) raw_html: RawHtml,
    /// The number of the first inline result of each text that has one, by where the text begins.
    #[cfg(feature = "markdown")]
    inlines: HashMap<usize, usize>,
    values: HashMap<&'a str, &'a Value>,
    givens: HashMap<&'a str, &'a Definition>,
    fields_used: HashSet<String>,
    /// Where each requirement of the worksheet begins.
    keeps: Vec<usize>,
    /// Numbers of the problems that have not been shown, by where they begin.
    unreported: Mutex<BTreeMap<(usize, usize), &'a Problem>>,
}

impl<'a> PageContext<'a> {
    pub(crate) fn new(evaluation: &'a Evaluation, source: &'a str) -> Self {
        let mut givens = HashMap::new();
        for block in &evaluation.sheet.blocks {
            let BlockBody::Calc(statements) = &block.body else { continue };
            for statement in statements {
                if let StatementBody::Definition(definition) = &statement.body
                    && definition.is_given()
                {
                    givens.entry(definition.name.item.as_str()).or_insert(definition);
                }
            }
        }
        let mut values = HashMap::new();
        for value in &evaluation.values {
            values.entry(value.name.as_str()).or_insert(value);
        }
        let numbered = evaluation.problems.iter().enumerate();
        let unreported = numbered.map(|(number, problem)| ((problem.span.start, number), problem)).collect();
        let unreported = Mutex::new(unreported);
        let fields_used = fields_used(evaluation);
        let keeps = keeps(evaluation);
        Self {
            evaluation,
            source,
            #[cfg(feature = "markdown")]
            raw_html: RawHtml::ShownAsText,
            #[cfg(feature = "markdown")]
            inlines: inlines(evaluation),
            values,
            givens,
            fields_used,
            keeps,
            unreported,
        }
    }

    /// The place among the worksheet's inline results of the `nth` one of the text that begins here.
    #[cfg(feature = "markdown")]
    pub(crate) fn inline_number(&self, text_start: usize, nth: usize) -> Option<usize> {
        self.inlines.get(&text_start).map(|first| first + nth)
    }

    /// A value by its name.
    pub(crate) fn value(&self, name: &str) -> Option<&'a Value> {
        self.values.get(name).copied()
    }

    /// What stands in the worksheet for a given, and whether it is negated; nothing where only its bounds are written.
    pub(crate) fn literal(&self, name: &str) -> Option<(&'a Quantity, bool)> {
        let definition = self.givens.get(name).copied()?;
        match &definition.tolerance {
            Some(Tolerance { bounds: Bounds::MinTypMax { typ: None, .. }, .. }) => None,
            _ => definition.literal(),
        }
    }

    /// Whether anything in the worksheet reads this field of a record.
    pub(crate) fn uses_field(&self, name: &str) -> bool {
        self.fields_used.contains(name)
    }

    /// What a reader calls a value: its label where it has one, else nothing.
    pub(crate) fn label(&self, name: &str) -> Option<&'a str> {
        self.value(name)?.label.as_deref()
    }

    /// The place of a requirement among all of the worksheet, those that could not be decided included.
    pub(crate) fn keep_number(&self, verdict: &Verdict) -> usize {
        self.keeps.iter().position(|start| *start == verdict.span.start).unwrap_or(self.keeps.len())
    }

    /// Whether something in a span waits for a Rust block that was not run.
    pub(crate) fn waits(&self, span: Span) -> bool {
        let waits = |problem: &Problem| problem.code == Code::RustAwaited && span.contains(problem.span);
        self.evaluation.problems.iter().any(waits)
    }

    /// The problems inside a span that no part of the page has shown yet, with their numbers; they count as shown from
    /// now on.
    pub(crate) fn take_problems(&self, span: Span) -> Vec<(usize, &'a Problem)> {
        let mut unreported = locked(&self.unreported);
        let within = unreported.range((span.start, 0)..=(span.end, usize::MAX));
        let taken: Vec<(usize, &'a Problem)> = within
            .filter(|(_, problem)| span.contains(problem.span))
            .map(|((_, number), problem)| (*number, *problem))
            .collect();
        for (number, problem) in &taken {
            unreported.remove(&(problem.span.start, *number));
        }
        taken
    }
}

fn keeps(evaluation: &Evaluation) -> Vec<usize> {
    let statements = evaluation.sheet.blocks.iter().flat_map(|block| match &block.body {
        BlockBody::Calc(statements) => statements.as_slice(),
        _ => &[],
    });
    statements
        .filter(|statement| matches!(statement.body, StatementBody::Keep(_)))
        .map(|statement| statement.span.start)
        .collect()
}

#[cfg(feature = "markdown")]
fn inlines(evaluation: &Evaluation) -> HashMap<usize, usize> {
    let mut inlines = HashMap::new();
    let starts = evaluation.sheet.parts.iter().filter_map(|part| match part {
        Part::Inline(inline) => Some(inline.text_start),
        Part::Fence(_) => None,
    });
    for (number, start) in starts.enumerate() {
        inlines.entry(start).or_insert(number);
    }
    inlines
}

/// The fields that formulas, requirements, conditions, plots and prose read, as `record.field`.
fn fields_used(evaluation: &Evaluation) -> HashSet<String> {
    let mut used: HashSet<String> = evaluation
        .sheet
        .inlines
        .iter()
        .map(|inline| inline.item.name.clone())
        .filter(|name| name.contains('.'))
        .collect();
    for block in &evaluation.sheet.blocks {
        match &block.body {
            BlockBody::Calc(statements) => {
                for statement in statements {
                    match &statement.body {
                        StatementBody::Definition(definition) => collect(&definition.value, &mut used),
                        StatementBody::Function(function) => collect(&function.value, &mut used),
                        StatementBody::Keep(keep) => {
                            collect(&keep.subject, &mut used);
                            match &keep.bound {
                                KeepBound::Below(bound) | KeepBound::Above(bound) => collect(bound, &mut used),
                                KeepBound::Between(low, high) => {
                                    collect(low, &mut used);
                                    collect(high, &mut used);
                                }
                                KeepBound::True => {}
                            }
                        }
                        StatementBody::Solve(solve) => {
                            collect(&solve.left, &mut used);
                            collect(&solve.right, &mut used);
                        }
                        StatementBody::Choose(choose) => {
                            collect(&choose.subject, &mut used);
                            // What was chosen is the point of it: it is always shown.
                            if let Some(name) = &choose.name {
                                let fields = choose.givens.iter().map(|given| format!("{}.{}", name.item, given.item));
                                used.extend(fields);
                            }
                        }
                        StatementBody::Correlation(_) | StatementBody::Unreadable => {}
                    }
                }
            }
            BlockBody::Note(note) => {
                if let Some(condition) = &note.condition {
                    collect(condition, &mut used);
                }
            }
            BlockBody::Plot(plot) => plot.curves.iter().for_each(|curve| collect(&curve.subject, &mut used)),
            BlockBody::Exercise(exercise) => {
                if let Some(answer) = &exercise.answer {
                    collect(&answer.value, &mut used);
                }
            }
            BlockBody::Rust(_) | BlockBody::NotEvaluated(_) => {}
        }
    }
    used
}

fn collect(expr: &Expr, used: &mut HashSet<String>) {
    match &expr.node {
        Node::Field(record, field) => {
            used.insert(format!("{}.{}", record.item, field.item));
        }
        Node::Unary(_, operand) => collect(operand, used),
        Node::Binary(_, left, right) => {
            collect(left, used);
            collect(right, used);
        }
        Node::Call(_, arguments) => arguments.iter().for_each(|argument| collect(&argument.value, used)),
        Node::If(condition, then, otherwise) => {
            collect(condition, used);
            collect(then, used);
            collect(otherwise, used);
        }
        Node::Quantity(_) | Node::Name(_) => {}
    }
}
