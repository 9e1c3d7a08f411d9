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
use benchleaf_words::{Words, key, say};
use maud::{Markup, html};

use crate::{
    builds,
    context::PageContext,
    format::{difference, percent},
    icons,
    mathml::{self, Names},
    rangebar::RangeBar,
    sentence::{NAME, Piece, Sentences},
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
                html! { mrow { (values(&keep.subject)) (apart) (values(with)) (mathml::words(&format!("{} ", context.words.text(key::VERDICT_OFF_BY)))) (subject) } },
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
pub(crate) fn margin(words: Words<'_>, verdict: &Verdict) -> Markup {
    html! {
        p.verdict data-status=(verdict.status.word()) { (icons::verdict(verdict.status)) strong { (icons::word(words, verdict.status)) } }
        @if verdict.value_type != ValueType::Condition { (RangeBar::of_verdict(verdict).draw(words)) }
        @if let Some(room) = room(words, verdict) { p.room { (room) } }
    }
}

/// `margin 27 %, at worst −21 %`; where the bound is zero, in the unit.
fn room(words: Words<'_>, verdict: &Verdict) -> Option<String> {
    if verdict.spare.is_some_and(f64::is_infinite) {
        return Some(words.text(key::VERDICT_INFINITE).to_owned());
    }
    if verdict.spare_worst == Some(f64::NEG_INFINITY) {
        let nominal = finite(verdict.margin).map(percent);
        let spare = || finite(verdict.spare).map(|si| difference(&verdict.unit, si, SPARE_DIGITS));
        return nominal
            .or_else(spare)
            .map(|nominal| say!(words, VERDICT_MARGIN_ENDLESS, nominal = typography::held_together(&nominal)));
    }
    let (nominal, worst) = match finite(verdict.margin) {
        Some(nominal) => (percent(nominal), finite(verdict.margin_worst).map(percent)),
        None => {
            let spare = |si: f64| typography::held_together(&difference(&verdict.unit, si, SPARE_DIGITS));
            (finite(verdict.spare).map(spare)?, finite(verdict.spare_worst).map(spare))
        }
    };
    Some(match worst.filter(|worst| *worst != nominal) {
        Some(worst) => say!(words, VERDICT_MARGIN_WORST, nominal = nominal, worst = worst),
        None => say!(words, VERDICT_MARGIN, nominal = nominal),
    })
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
pub fn explanations(words: Words<'_>, evaluation: &Evaluation, source: &str) -> Vec<Explanation> {
    let context = PageContext::new(evaluation, source, words);
    let explained = |verdict: &Verdict| Explanation {
        room: room(context.words, verdict).map(|room| room.replace('\u{202f}', " ")),
        sentences: sentences(&context, verdict).plain(),
    };
    evaluation.keeps.iter().map(explained).collect()
}

/// The verdict, what is most to blame, in how many builds it fails, and what would mend it.
fn sentences(context: &PageContext<'_>, verdict: &Verdict) -> Sentences {
    let mut said = Sentences::default();
    let condition = verdict.value_type == ValueType::Condition;
    let words = context.words;
    let stands = if condition { condition_in_words(words, verdict) } else { quantity_in_words(words, verdict) };
    said.say(&stands, []);
    let sure = if verdict.proven { verdict.status } else { Status::Holds };
    if let Some(blame) = verdict.blame.as_ref().filter(|_| !condition || verdict.status != Status::Holds) {
        let sentence = match sure {
            Status::Holds => say!(words, VERDICT_COSTS_MOST, given = NAME),
            Status::AtRisk | Status::Broken => say!(words, VERDICT_TO_BLAME, given = NAME),
        };
        said.say(&sentence, [Piece::given(context, blame)]);
    }
    if let Some(failing) = builds::failing(context, verdict) {
        said.say(&failing, []);
    }
    builds::remedies(context, &verdict.remedies, &mut said);
    said
}

fn quantity_in_words(words: Words<'_>, verdict: &Verdict) -> String {
    use LimitSide::{Lower, Upper};
    let nominal = verdict.unit.show(verdict.nominal, verdict.digits);
    let shown = |si: f64| verdict.unit.show(si, verdict.digits);
    let margin = distance(verdict, verdict.margin, verdict.spare);
    let margin_worst = distance(verdict, verdict.margin_worst, verdict.spare_worst);
    match (verdict.status, nearer_end(verdict)) {
        (Status::Holds, Some((worst, side))) => match (margin_worst, side) {
            (Some(room), Lower) => say!(words, VERDICT_CLEAR_ABOVE, worst = shown(worst), room = room),
            (Some(room), Upper) => say!(words, VERDICT_CLEAR_BELOW, worst = shown(worst), room = room),
            (None, Lower) => say!(words, VERDICT_INSIDE_ABOVE, worst = shown(worst)),
            (None, Upper) => say!(words, VERDICT_INSIDE_BELOW, worst = shown(worst)),
        },
        (Status::Holds, None) => match margin {
            Some(room) => say!(words, VERDICT_CLEAR, room = room),
            None => words.text(key::VERDICT_INSIDE).to_owned(),
        },
        (Status::AtRisk, _) if !verdict.proven => words.text(key::VERDICT_NOT_PROVEN).to_owned(),
        (Status::AtRisk, Some((worst, side))) if worst.is_infinite() => words
            .text(match side {
                Lower => key::VERDICT_RISK_ENDLESS_LOW,
                Upper => key::VERDICT_RISK_ENDLESS_HIGH,
            })
            .to_owned(),
        (Status::AtRisk, Some((worst, side))) => match (margin_worst, side) {
            (Some(room), Lower) => say!(words, VERDICT_RISK_LOW, worst = shown(worst), room = room),
            (Some(room), Upper) => say!(words, VERDICT_RISK_HIGH, worst = shown(worst), room = room),
            (None, Lower) => say!(words, VERDICT_RISK_LOW_BARE, worst = shown(worst)),
            (None, Upper) => say!(words, VERDICT_RISK_HIGH_BARE, worst = shown(worst)),
        },
        (Status::AtRisk, None) => words.text(key::VERDICT_RISK_LIMIT).to_owned(),
        (Status::Broken, worst) => {
            let stands = match (margin, broken_side(verdict)) {
                _ if verdict.nominal.is_infinite() => words.text(key::VERDICT_BROKEN_INFINITE).to_owned(),
                (Some(room), Lower) => say!(words, VERDICT_BROKEN_LOW, nominal = nominal, room = room),
                (Some(room), Upper) => say!(words, VERDICT_BROKEN_HIGH, nominal = nominal, room = room),
                (None, Lower) => say!(words, VERDICT_BROKEN_LOW_BARE, nominal = nominal),
                (None, Upper) => say!(words, VERDICT_BROKEN_HIGH_BARE, nominal = nominal),
            };
            let clause = stands.trim_end_matches('.');
            match worst {
                Some((worst, Lower)) if worst.is_infinite() => say!(words, VERDICT_ENDLESS_LOW, sentence = clause),
                Some((worst, Upper)) if worst.is_infinite() => say!(words, VERDICT_ENDLESS_HIGH, sentence = clause),
                Some((worst, _)) => say!(words, VERDICT_AT_WORST, sentence = clause, worst = shown(worst)),
                None => stands,
            }
        }
    }
}

/// What is kept is that something is true.
fn condition_in_words(words: Words<'_>, verdict: &Verdict) -> String {
    let said = match verdict.status {
        Status::Holds if verdict.fails.is_some_and(|fails| fails.share > 0.0) => key::VERDICT_TRUE_NOMINALLY,
        Status::Holds => key::VERDICT_TRUE_ALWAYS,
        Status::AtRisk if !verdict.proven => key::VERDICT_NOT_PROVEN,
        Status::AtRisk => key::VERDICT_TRUE_NOT_ALWAYS,
        Status::Broken => key::VERDICT_NOT_TRUE,
    };
    words.text(said).to_owned()
}

/// Which limit.
#[derive(Clone, Copy, Debug, PartialEq)]
enum LimitSide {
    Lower,
    Upper,
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

/// What is spare is reported roughly.
const SPARE_DIGITS: u8 = 2;
