//! The statements of a `plot` block.

use benchleaf_words::{key, phrase};

use super::Scale;
use crate::{
    lang::{
        Item, Parser,
        ast::{Expr, Node},
        lines, whole,
    },
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// A plot block.
#[derive(Clone, Debug, Default)]
pub struct Plot {
    /// Its title.
    pub title: Option<String>,
    /// The curves, in order.
    pub curves: Vec<CurveRequest>,
    /// The series drawn, in order.
    pub series: Vec<SeriesRequest>,
    /// The traces drawn over time.
    pub traces: Vec<TraceRequest>,
    /// The lines drawn across.
    pub bounds: Vec<BoundRequest>,
    /// `spread of t_on`.
    pub spreads: Vec<SpreadRequest>,
    /// `shares of t_on`.
    pub budgets: Vec<SpreadRequest>,
}

/// `spread of t_on [ms]`, `shares of t_on`.
#[derive(Clone, Debug)]
pub struct SpreadRequest {
    /// Of what.
    pub subject: Expr,
    /// Unit of the axis.
    pub unit: Option<Spanned<String>>,
    /// Where the line stands.
    pub span: Span,
}

/// `t_on [s] against R_t from 100 kΩ to 2 MΩ log`.
#[derive(Clone, Debug)]
pub struct CurveRequest {
    /// What is drawn.
    pub subject: Expr,
    /// Unit of the vertical axis.
    pub unit: Option<Spanned<String>>,
    /// The given that runs along the horizontal axis.
    pub against: Spanned<String>,
    /// Left end.
    pub from: Expr,
    /// Right end.
    pub to: Expr,
    /// Spacing along the horizontal axis.
    pub scale: Scale,
    /// What the reader sees in the legend.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `v [V] against t [ms] "supply"`: one series of a Rust block against another.
#[derive(Clone, Debug)]
pub struct SeriesRequest {
    /// What is drawn.
    pub subject: Spanned<String>,
    /// Unit of the vertical axis.
    pub unit: Option<Spanned<String>>,
    /// What runs along the horizontal axis.
    pub against: Spanned<String>,
    /// Unit of the horizontal axis.
    pub against_unit: Option<Spanned<String>>,
    /// What the reader sees in the legend.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `V_c [V] over time "capacitor"`: a state, or a formula over time, of a `transient` block.
#[derive(Clone, Debug)]
pub struct TraceRequest {
    /// What is drawn.
    pub subject: Spanned<String>,
    /// Unit of the vertical axis.
    pub unit: Option<Spanned<String>>,
    /// Unit of the time.
    pub time_unit: Option<Spanned<String>>,
    /// What the reader sees in the legend.
    pub label: Option<String>,
    /// Where the line stands.
    pub span: Span,
}

/// `bound 30 s "flood"`.
#[derive(Clone, Debug)]
pub struct BoundRequest {
    /// Where the line is.
    pub value: Expr,
    /// What it says.
    pub label: Option<String>,
    /// Where it stands.
    pub span: Span,
}

enum PlotLine {
    Title(String),
    Bound(BoundRequest),
    Curve(Box<CurveRequest>),
    Series(SeriesRequest),
    Trace(TraceRequest),
    Spread(SpreadRequest),
    Shares(SpreadRequest),
}

/// Reads a `plot` block.
pub(super) fn read(source: &str, content: Span, problems: &mut Vec<Problem>) -> Plot {
    let mut plot = Plot::default();
    for line in lines(source, content) {
        let span = line.span;
        match whole(line, |parser| plot_line(parser, span)) {
            Ok(PlotLine::Title(title)) => plot.title = Some(title),
            Ok(PlotLine::Bound(bound)) => plot.bounds.push(bound),
            Ok(PlotLine::Curve(curve)) => plot.curves.push(*curve),
            Ok(PlotLine::Series(series)) => plot.series.push(series),
            Ok(PlotLine::Trace(trace)) => plot.traces.push(trace),
            Ok(PlotLine::Spread(spread)) => plot.spreads.push(spread),
            Ok(PlotLine::Shares(shares)) => plot.budgets.push(shares),
            Err(problem) => problems.push(problem),
        }
    }
    if plot.curves.is_empty()
        && plot.series.is_empty()
        && plot.traces.is_empty()
        && plot.spreads.is_empty()
        && plot.budgets.is_empty()
    {
        let message = phrase!(SHEET_PLOT_THE_PLOT_HAS_NOTHING);
        let help = phrase!(SHEET_PLOT_A_CURVE_READS);
        problems.push(Problem::new(Code::Plot, content, message).help(help));
    }
    plot
}

fn plot_line(parser: &mut Parser, span: Span) -> Result<PlotLine, Problem> {
    if parser.take_word("title").is_some() {
        let wants = |parser: &Parser| {
            parser
                .unexpected(phrase!(SHEET_PLOT_THE_TITLE_BETWEEN_QUOTES))
                .help(phrase!(SHEET_PLOT_WRITE_TITLE_CURRENT))
        };
        let title = parser.label().ok_or_else(|| wants(parser))?;
        return Ok(PlotLine::Title(title));
    }
    if parser.take_word("bound").is_some() {
        let value = parser.expression()?;
        if let Some(Item::Word(word)) = parser.peek() {
            let help = phrase!(SHEET_PLOT_WRITE_BOUND_MA, word = word);
            return Err(parser.unexpected(phrase!(SHEET_PLOT_THE_LABEL_BETWEEN_QUOTES)).help(help));
        }
        return Ok(PlotLine::Bound(BoundRequest { value, label: parser.label(), span }));
    }
    for (word, line) in [("spread", PlotLine::Spread as fn(SpreadRequest) -> PlotLine), ("shares", PlotLine::Shares)] {
        let of = parser.is_word(word) && matches!(parser.peek_at(1), Some(Item::Word(of)) if of == "of");
        if of {
            parser.next();
            parser.next();
            let subject = parser.expression()?;
            return Ok(line(SpreadRequest { subject, unit: parser.bracket(), span }));
        }
    }
    let subject = parser.expression()?;
    let unit = parser.bracket();
    let wanted = key::SHEET_PLOT_A_CURVE_READS_2;
    if let Node::Name(name) = &subject.node
        && parser.take_word("over").is_some()
    {
        let missing = parser.unexpected("`time`").help(phrase!(SHEET_PLOT_A_TRACE_READS));
        parser.take_word("time").ok_or(missing)?;
        let subject = Spanned { item: name.clone(), span: subject.span };
        let (time_unit, label) = (parser.bracket(), parser.label());
        return Ok(PlotLine::Trace(TraceRequest { subject, unit, time_unit, label, span }));
    }
    let word = |parser: &mut Parser, word: &str| {
        let missing = parser.unexpected(format!("`{word}`")).help(wanted);
        parser.take_word(word).ok_or(missing)
    };
    word(parser, "against")?;
    let against = parser.name(phrase!(SHARED_THE_NAME_OF_A_GIVEN))?;
    if let Node::Name(name) = &subject.node
        && !parser.is_word("from")
    {
        // Without ends, it is one series against another.
        let subject = Spanned { item: name.clone(), span: subject.span };
        let against_unit = parser.bracket();
        let label = parser.label();
        if parser.at_end() {
            return Ok(PlotLine::Series(SeriesRequest { subject, unit, against, against_unit, label, span }));
        }
    }
    word(parser, "from")?;
    let from = parser.expression()?;
    word(parser, "to")?;
    let to = parser.expression()?;
    let scale = if parser.take_word("log").is_some() { Scale::Logarithmic } else { Scale::Linear };
    let label = parser.label();
    Ok(PlotLine::Curve(Box::new(CurveRequest { subject, unit, against, from, to, scale, label, span })))
}
