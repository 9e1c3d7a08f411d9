//! Requirements: the relation in symbols and in numbers, the verdict in a word, a shape and a colour, the range bar with
//! its forbidden zones, and a sentence that says how much room there is and which given costs most of it.

#[cfg(feature = "markdown")]
use benchleaf_core::results::Evaluation;
use benchleaf_core::{
    bill::Rating,
    lang::ast::{Expr, Keep, KeepBound, Node},
    results::{LimitValue, Status, Verdict},
    units::ValueType,
};
use maud::{Markup, html};

use crate::{
    builds,
    context::PageContext,
    format::{difference, percent},
    icons,
    mathml::{self, Names},
    rangebar::RangeBar,
    sentence::Sentences,
    typography,
};

/// The id of a requirement, which the head of the page links to.
pub(crate) fn anchor(index: usize) -> String {
    format!("keep-{}", index + 1)
}

/// What a link calls a requirement: its label, or what it keeps as written.
pub(crate) fn title(context: &PageContext<'_>, verdict: &Verdict) -> String {
    match &verdict.label {
        Some(label) => typography::apostrophes(label),
        None => {
            let written = verdict.span.text(context.source).trim();
            let bare = written.strip_prefix("keep ").or_else(|| written.strip_prefix("agree "));
            bare.unwrap_or(written).to_owned()
        }
    }
}

/// The relation, in one or two steps.
pub(crate) fn relation(context: &PageContext<'_>, keep: &Keep, verdict: &Verdict) -> Markup {
    let symbol = |expr: &Expr| mathml::expression(context, expr, Names::Symbols).markup;
    let bound = |expr: &Expr, limit: Option<LimitValue>| match limit {
        Some(limit) if !is_literal(expr) => quantity(verdict, limit.nominal),
        _ => symbol(expr),
    };
    let subject = quantity(verdict, verdict.nominal);
    let holds = verdict.status != Status::Broken;
    let (below, above) = (mathml::operator("≤"), mathml::operator("≥"));
    let (symbols, numbers) = match &keep.bound {
        KeepBound::Below(upper) => (
            html! { mrow { (symbol(&keep.subject)) (below) (symbol(upper)) } },
            html! { mrow { (subject) (mathml::operator(if holds { "≤" } else { "≰" })) (bound(upper, verdict.upper)) } },
        ),
        KeepBound::Above(lower) => (
            html! { mrow { (symbol(&keep.subject)) (above) (symbol(lower)) } },
            html! { mrow { (subject) (mathml::operator(if holds { "≥" } else { "≱" })) (bound(lower, verdict.lower)) } },
        ),
        KeepBound::Rating { at, derating } => {
            let rating = match verdict.value_type {
                ValueType::Quantity(quantity) => Rating::field_of(quantity).map_or("rating", |(field, _)| field),
                ValueType::Condition => "rating",
            };
            let field = format!("{}.{rating}", keep.subject.span.text(context.source));
            let part = derating.as_ref().map(|part| Expr { node: Node::Quantity(part.clone()), span: part.span });
            (
                html! {
                    mrow {
                        (symbol(at)) (below)
                        @if let Some(part) = &part { (symbol(part)) (mathml::operator("·")) }
                        (mathml::name(&field))
                    }
                },
                html! {
                    mrow {
                        (subject) (mathml::operator(if holds { "≤" } else { "≰" }))
                        @if let Some(limit) = verdict.upper { (quantity(verdict, limit.nominal)) }
                    }
                },
            )
        }
        KeepBound::Agree { with, within } => {
            let values = |expr: &Expr| mathml::expression(context, expr, Names::Values).markup;
            let within = Expr { node: Node::Quantity(within.clone()), span: within.span };
            let (alike, apart) = (mathml::operator("≈"), mathml::operator(if holds { "≈" } else { "≉" }));
            (
                html! { mrow { (symbol(&keep.subject)) (alike) (symbol(with)) (mathml::words(" ± ")) (symbol(&within)) } },
                html! { mrow { (values(&keep.subject)) (apart) (values(with)) (mathml::words(", off by ")) (subject) } },
            )
        }
        KeepBound::True => {
            let symbols = symbol(&keep.subject);
            let numbers = match &keep.subject.node {
                // A bare name would only be followed by its yes or no.
                Node::Name(_) | Node::Field(..) => symbols.clone(),
                _ => mathml::expression(context, &keep.subject, Names::Values).markup,
            };
            (symbols, numbers)
        }
        KeepBound::Between(lower, upper) => {
            let outside = |limit: Option<LimitValue>, low: bool| {
                !holds
                    && limit
                        .is_some_and(|l| if low { verdict.nominal < l.nominal } else { verdict.nominal > l.nominal })
            };
            let sign = |broken: bool| mathml::operator(if broken { "≰" } else { "≤" });
            (
                html! { mrow { (symbol(lower)) (below) (symbol(&keep.subject)) (below) (symbol(upper)) } },
                html! {
                    mrow {
                        (bound(lower, verdict.lower)) (sign(outside(verdict.lower, true))) (subject)
                        (sign(outside(verdict.upper, false))) (bound(upper, verdict.upper))
                    }
                },
            )
        }
    };
    html! {
        div.formula {
            div.step { (mathml::display(&symbols)) }
            @if numbers.0 != symbols.0 { div.step { (mathml::display(&numbers)) } }
        }
    }
}

/// The margin's entry: shape and word, the bar, and how much room.
pub(crate) fn margin(verdict: &Verdict) -> Markup {
    html! {
        p.verdict data-status=(verdict.status.word()) { (icons::verdict(verdict.status)) strong { (icons::word(verdict.status)) } }
        @if verdict.value_type != ValueType::Condition { (RangeBar::of_verdict(verdict).draw()) }
        @if let Some(room) = room(verdict) { p.room { (room) } }
    }
}

/// `margin 27 %, at worst −21 %`; where the bound is zero, in the unit.
fn room(verdict: &Verdict) -> Option<String> {
    if verdict.spare.is_some_and(f64::is_infinite) {
        return Some("no margin: the value is infinite".to_owned());
    }
    if verdict.spare_worst == Some(f64::NEG_INFINITY) {
        let nominal = finite(verdict.margin).map(percent);
        let spare = || finite(verdict.spare).map(|si| difference(&verdict.unit, si, SPARE_DIGITS));
        return nominal
            .or_else(spare)
            .map(|nominal| format!("margin {}, at worst none: no end", typography::held_together(&nominal)));
    }
    let (nominal, worst) = match finite(verdict.margin) {
        Some(nominal) => (percent(nominal), finite(verdict.margin_worst).map(percent)),
        None => {
            let spare = |si: f64| typography::held_together(&difference(&verdict.unit, si, SPARE_DIGITS));
            (finite(verdict.spare).map(spare)?, finite(verdict.spare_worst).map(spare))
        }
    };
    let mut text = format!("margin {nominal}");
    if let Some(worst) = worst.filter(|worst| *worst != nominal) {
        text.push_str(", at worst ");
        text.push_str(&worst);
    }
    Some(text)
}

/// A margin without its sign; where the bound is zero, in the unit.
fn distance(verdict: &Verdict, margin: Option<f64>, spare: Option<f64>) -> Option<String> {
    let in_unit = |spare: f64| difference(&verdict.unit, spare.abs(), SPARE_DIGITS);
    finite(margin).map(|margin| percent(margin.abs())).or_else(|| finite(spare).map(in_unit))
}

/// The verdict in sentences for somebody who has never seen one.
pub(crate) fn sentence(context: &PageContext<'_>, verdict: &Verdict) -> Markup {
    html! { p.says { (sentences(context, verdict).markup()) } }
}

/// A requirement in plain words, as the page says it.
#[cfg(feature = "markdown")]
pub struct Explanation {
    /// `margin 27 %, at worst −21 %`.
    pub room: Option<String>,
    /// Whether it holds, what is most to blame, in how many builds it fails, and what would make it hold.
    pub sentences: String,
}

/// Every requirement in plain words, in the order of `evaluation.keeps`.
#[cfg(feature = "markdown")]
pub fn explanations(evaluation: &Evaluation, source: &str) -> Vec<Explanation> {
    let context = PageContext::new(evaluation, source);
    let explained = |verdict: &Verdict| Explanation {
        room: room(verdict).map(|room| room.replace('\u{202f}', " ")),
        sentences: sentences(&context, verdict).plain(),
    };
    evaluation.keeps.iter().map(explained).collect()
}

/// The verdict, what is most to blame, in how many builds it fails, and what would mend it.
fn sentences(context: &PageContext<'_>, verdict: &Verdict) -> Sentences {
    let mut said = Sentences::default();
    let condition = verdict.value_type == ValueType::Condition;
    said.say(&if condition { condition_in_words(verdict).to_owned() } else { quantity_in_words(verdict) });
    let sure = if verdict.proven { verdict.status } else { Status::Holds };
    if let Some(blame) = verdict.blame.as_ref().filter(|_| !condition || verdict.status != Status::Holds) {
        said.say(if sure == Status::Holds { " Costs most of the room: " } else { " Most to blame: " });
        said.given(context, blame);
        said.say(".");
    }
    if let Some(failing) = builds::failing(context, verdict) {
        said.say(&format!(" {failing}"));
    }
    builds::remedies(context, &verdict.remedies, &mut said);
    said
}

fn quantity_in_words(verdict: &Verdict) -> String {
    let nominal = verdict.unit.show(verdict.nominal, verdict.digits);
    let worst = nearer_end(verdict);
    let shown = |si: f64| verdict.unit.show(si, verdict.digits);
    let margin = distance(verdict, verdict.margin, verdict.spare);
    let margin_worst = distance(verdict, verdict.margin_worst, verdict.spare_worst);
    match (verdict.status, worst) {
        (Status::Holds, Some((worst, side))) => match margin_worst {
            Some(room) => format!("Even at worst, at {}, it keeps {room} clear of the {}.", shown(worst), side.limit()),
            None => format!("Even at worst, at {}, it stays inside the {}.", shown(worst), side.limit()),
        },
        (Status::Holds, None) => match margin {
            Some(room) => format!("It keeps {room} clear of the limit."),
            None => "It stays inside the limit.".to_owned(),
        },
        (Status::AtRisk, _) if !verdict.proven => NOT_PROVEN.to_owned(),
        (Status::AtRisk, Some((worst, side))) if worst.is_infinite() => {
            format!("Nominally it holds, but within the tolerances it {}.", side.endlessly())
        }
        (Status::AtRisk, Some((worst, side))) => {
            let (worst, beyond, limit) = (shown(worst), side.beyond(), side.limit());
            match margin_worst {
                Some(room) => {
                    format!(
                        "Nominally it holds, but over the tolerances it can be {worst}: {room} {beyond} the {limit}."
                    )
                }
                None => format!("Nominally it holds, but over the tolerances it can be {worst}, {beyond} the {limit}."),
            }
        }
        (Status::AtRisk, None) => {
            "Nominally it holds, but over the tolerances the limit itself can move past it.".to_owned()
        }
        (Status::Broken, worst) => {
            let side = broken_side(verdict);
            let (beyond, limit) = (side.beyond(), side.limit());
            let worst = match worst {
                Some((worst, side)) if worst.is_infinite() => {
                    format!("; within the tolerances it {}", side.endlessly())
                }
                Some((worst, _)) => format!("; at worst it is {}", shown(worst)),
                None => String::new(),
            };
            match margin {
                _ if verdict.nominal.is_infinite() => {
                    format!("Even at the nominal values it has no finite value{worst}.")
                }
                Some(room) => format!("The nominal value, {nominal}, is already {room} {beyond} the {limit}{worst}."),
                None => format!("The nominal value, {nominal}, is already {beyond} the {limit}{worst}."),
            }
        }
    }
}

/// What is kept is that something is true.
fn condition_in_words(verdict: &Verdict) -> &'static str {
    match verdict.status {
        Status::Holds if verdict.fails.is_some_and(|fails| fails.share > 0.0) => "Nominally it is true.",
        Status::Holds => "It is true over all tolerances.",
        Status::AtRisk if !verdict.proven => NOT_PROVEN,
        Status::AtRisk => "Nominally it is true, but not everywhere within the tolerances.",
        Status::Broken => "It is not true even at the nominal values.",
    }
}

/// Which limit.
#[derive(Clone, Copy, Debug, PartialEq)]
enum LimitSide {
    Lower,
    Upper,
}

impl LimitSide {
    fn limit(self) -> &'static str {
        match self {
            LimitSide::Lower => "lower limit",
            LimitSide::Upper => "upper limit",
        }
    }

    /// What a value does that has no end on this side.
    fn endlessly(self) -> &'static str {
        match self {
            LimitSide::Lower => "can fall below any limit",
            LimitSide::Upper => "can grow beyond any limit",
        }
    }

    fn beyond(self) -> &'static str {
        match self {
            LimitSide::Lower => "below",
            LimitSide::Upper => "above",
        }
    }
}

/// The end of the worst case that is nearest to its limit, or furthest beyond it.
fn nearer_end(verdict: &Verdict) -> Option<(f64, LimitSide)> {
    let worst = verdict.worst.as_ref().filter(|worst| worst.low < worst.high)?;
    let lower =
        verdict.lower.map(|limit| (worst.low, LimitSide::Lower, relative(worst.low - limit.tightest, limit.tightest)));
    let upper = verdict
        .upper
        .map(|limit| (worst.high, LimitSide::Upper, relative(limit.tightest - worst.high, limit.tightest)));
    let nearest = [lower, upper].into_iter().flatten().min_by(|a, b| a.2.total_cmp(&b.2))?;
    Some((nearest.0, nearest.1))
}

fn broken_side(verdict: &Verdict) -> LimitSide {
    match (verdict.lower, verdict.upper) {
        (Some(lower), _) if verdict.nominal < lower.nominal => LimitSide::Lower,
        (Some(_), None) => LimitSide::Lower,
        _ => LimitSide::Upper,
    }
}

fn relative(room: f64, limit: f64) -> f64 {
    if limit == 0.0 { room } else { room / limit.abs() }
}

fn finite(margin: Option<f64>) -> Option<f64> {
    margin.filter(|margin| margin.is_finite())
}

fn quantity(verdict: &Verdict, si: f64) -> Markup {
    mathml::quantity_text(&verdict.unit.number(si, verdict.digits), verdict.unit.symbol())
}

fn is_literal(expr: &Expr) -> bool {
    matches!(expr.node, Node::Quantity(_))
}

/// Of a requirement that nothing breaks as far as was searched.
const NOT_PROVEN: &str =
    "Not proven: nothing within the tolerances was found that breaks it, but it is not certain that nothing does.";

/// What is spare is reported roughly.
const SPARE_DIGITS: u8 = 2;
