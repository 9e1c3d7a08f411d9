//! What was sought: the value of a given that makes two sides alike, and the best preferred values of several givens.

use benchleaf_core::{
    lang::ast::{Choose, Solve, Statement},
    results::{ChoiceTable, Status, Value},
};
use benchleaf_words::{Words, key, say, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    mathml::{self, Names},
    rows::{came_to, equals, two_columns},
};

/// `solve R_t so that t_on = 5 s`: the condition as an equation, and what was found.
pub(crate) fn solved(
    context: &PageContext<'_>,
    statement: &Statement,
    solve: &Solve,
    value: Option<&Value>,
    what: &Markup,
) -> Markup {
    let set = |expr| mathml::expression(context, expr, Names::Symbols).markup;
    let condition = html! { mrow { (set(&solve.left)) mo { "=" } (set(&solve.right)) } };
    let name = solve.result_name().item;
    let sought = set!(
        context.words,
        SOLVE_SOUGHT,
        given = mathml::symbol(&solve.given.item),
        condition = mathml::inline(&condition),
        from = mathml::inline(&set(&solve.from)),
        to = mathml::inline(&set(&solve.to))
    );
    let reasoning = html! {
        (what)
        p.sought {
            (sought)
        }
        div.formula {
            div.left { (mathml::display(&mathml::name(&name))) }
            @if let Some(value) = value { div.step { (equals(&mathml::value(context.words, value))) } }
        }
    };
    let margin = html! { @if let Some(value) = value { (came_to(context, value)) } };
    let content = two_columns(&reasoning, &margin);
    html! { div.row id={ "value-" (name) } data-statement=(statement.id.0) { (content) } }
}

/// `choose E24 for R_a, R_b so that f is 1 kHz`: the best combinations as a table.
pub(crate) fn chosen(
    context: &PageContext<'_>,
    statement: &Statement,
    choose: &Choose,
    table: &ChoiceTable,
    what: &Markup,
) -> Markup {
    let subject = mathml::expression(context, &choose.subject, Names::Symbols).markup;
    let target = mathml::expression(context, &choose.target, Names::Symbols).markup;
    let number = |si: f64| table.unit.show(si, table.digits.saturating_add(1));
    let judged = table.rows.iter().any(|row| row.status.is_some());
    let words = context.words;
    let worst = |row: &(f64, f64)| say!(words, FORMAT_RANGE, low = number(row.0), high = number(row.1));
    let (subject, target) = (mathml::inline(&subject), mathml::inline(&target));
    let sought = match judged {
        true => set!(words, SOLVE_HOLDING, series = table.series, subject = subject, target = target),
        false => set!(words, SOLVE_BEST, series = table.series, subject = subject, target = target),
    };
    html! {
        div.row.choice data-statement=(statement.id.0) {
            div.reasoning {
                (what)
                p.sought {
                    (sought)
                }
                div.scroll {
                    table.choices {
                        thead {
                            tr {
                                @for given in &table.givens { th scope="col" { span.unseen { (given) } (mathml::symbol(given)) } }
                                th scope="col" { span.unseen { (words.text(key::SOLVE_GIVES)) } (subject) }
                                th scope="col" { (words.text(key::SOLVE_OFF_BY)) }
                                th scope="col" { (words.text(key::VARIES_WORST_CASE)) }
                                @if judged { th scope="col" { (words.text(key::SOLVE_REQUIREMENTS)) } }
                            }
                        }
                        tbody {
                            @for row in &table.rows {
                                tr {
                                    @for shown in &row.shown { td { (shown) } }
                                    td { (number(row.result)) }
                                    td { (row.error.map_or_else(String::new, per_cent)) }
                                    td { @if let Some(range) = &row.worst { (worst(range)) } }
                                    @if let Some(status) = row.status { td { (standing(words, status)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// How the requirements stand with a combination.
fn standing(words: Words<'_>, status: Status) -> &str {
    words.text(match status {
        Status::Holds => key::SOLVE_ALL_HOLD,
        Status::AtRisk => key::VERDICT_AT_RISK,
        Status::Broken => key::VERDICT_BROKEN,
    })
}

/// A signed fraction in per cent, two figures.
fn per_cent(fraction: f64) -> String {
    let number = benchleaf_core::units::number(fraction * 100.0, 2);
    if fraction > 0.0 { format!("+{number} %") } else { format!("{number} %") }
}
