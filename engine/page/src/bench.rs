//! Readings on the bench: what each day came to and whether it agrees with the prediction, in words, as a table, as dots on
//! the range bar and as a log over the days; behind disclosures every reading, and what could explain the last ones; and the
//! givens that the readings imply.

use benchleaf_core::{
    results::{BenchDay, BenchLog, Comparison, Fit, Fitted, ReadingRow, Shown, Suspect, Suspects, Value},
    summary::counted,
    units::{DisplayUnit, number},
};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    format::{difference, percent, to_its_uncertainty},
    labels, mathml, plot,
    rangebar::RangeBar,
    rows::two_columns,
    typography::{apostrophes, held_together},
};

/// A bench in the place of its block.
pub(crate) fn block(context: &PageContext<'_>, number: usize, log: &BenchLog) -> Markup {
    let Some(value) = context.evaluation.values.get(log.value) else { return html! {} };
    let reasoning = html! {
        p.what { "Readings of " (mathml::symbol(&value.name)) @if let Some(label) = &log.label { ": " (apostrophes(label)) } }
        @if let Some(last) = log.days.last() {
            p.says { (held_together(&judged(log, value, last))) }
            (days(log, value))
        } @else if log.fits.is_empty() {
            p.not-evaluated { "No reading counts." }
        }
    };
    let margin = html! { @if !log.days.is_empty() { (bar(log, value)) } };
    let drawn = plot::log(log, value);
    html! {
        section.bench id={ "bench-" (number + 1) } data-bench=(number) {
            div.row { (two_columns(&reasoning, &margin)) }
            @if !drawn.0.is_empty() { figure.plot { (drawn) } }
            @if !log.rows.is_empty() { (readings(log, value)) }
            @if let Some(suspects) = &log.suspects { (explained(context, log, suspects, value)) }
            @for fit in &log.fits { (fitted(context, fit)) }
        }
    }
}

/// The range bar of the value with every reading as a dot.
fn bar(log: &BenchLog, value: &Value) -> Markup {
    let readings: Vec<f64> = log.rows.iter().filter_map(|row| row.reading.as_ref().ok().copied()).collect();
    RangeBar::of_readings(value, readings).draw()
}

/// The last day, in words.
fn judged(log: &BenchLog, value: &Value, last: &BenchDay) -> String {
    let unit = &value.unit;
    let uncertain = |si: f64, u: f64| to_its_uncertainty(unit, si, u);
    let plus_minus = |u: f64| difference(unit, u, UNCERTAINTY);
    let read = match (last.n, last.u) {
        (1, None) => format!("one reading of {}", unit.show(last.mean, value.digits.max(3))),
        (1, Some(u)) => format!("one reading of {} ± {}", uncertain(last.mean, u), plus_minus(K * u)),
        (n, Some(u)) if u > 0.0 => {
            format!("{n} readings with the mean {} ± {}", uncertain(last.mean, u), plus_minus(last.student * u))
        }
        (n, _) => format!("{n} readings with the mean {}", unit.show(last.mean, value.digits.max(3))),
    };
    let mut text = format!("On {}, {read}", last.day.in_words());
    text.push_str(match (last.n, last.u) {
        (1, None) => ". With one reading, and nothing said of the instrument, its uncertainty is not known: nothing can be judged.",
        (1, Some(_)) => " (of the instrument alone: one reading has no scatter).",
        _ if last.student > 2.05 => " (95 %, with Student’s factor ",
        _ => " (95 %).",
    });
    if last.n > 1 && last.student > 2.05 {
        text.push_str(&format!("{} for so few).", number(last.student, 3)));
    }
    let Some(against) = &last.against else { return text };
    text.push(' ');
    text.push_str(&verdict(log, value, last, against));
    text
}

fn verdict(log: &BenchLog, value: &Value, last: &BenchDay, against: &Comparison) -> String {
    let (unit, prediction) = (&value.unit, &log.prediction);
    let verb = match (against.agrees, last.n) {
        (true, 1) => "It agrees with",
        (true, _) => "They agree with",
        (false, 1) => "It does not agree with",
        (false, _) => "They do not agree with",
    };
    let interval = |(low, high): (f64, f64)| crate::format::range(unit, (low, high), value.digits);
    let mut text = match (against.e_n, prediction.u, prediction.interval) {
        (Some(e_n), Some(u), _) if u > 0.0 => format!(
            "{verb} the prediction, {} ± {}: Eₙ is {} (from −1 to 1, the two agree).",
            to_its_uncertainty(unit, prediction.mean, u),
            difference(unit, K * u, UNCERTAINTY),
            number(e_n, 2),
        ),
        (Some(e_n), ..) => format!(
            "{verb} the prediction, {}, which does not vary: Eₙ is {}.",
            unit.show(prediction.mean, value.digits.max(3)),
            number(e_n, 2)
        ),
        (None, _, Some(ends)) => format!(
            "{verb} the prediction: there is no Eₙ, since the value {}, and what counts is whether the mean lies within {}, give or take its own uncertainty.",
            if prediction.fails_to_exist > 0.0 {
                "is not finite in some builds"
            } else {
                "has no standard uncertainty"
            },
            interval(ends)
        ),
        (None, _, None) => format!("{verb} the prediction, {}.", unit.show(prediction.mean, value.digits.max(3))),
    };
    if let (Some(e_n), Some(student)) = (against.e_n, against.e_n_student)
        && (e_n.abs() <= 1.0) != (student.abs() <= 1.0)
    {
        text.push_str(&format!(
            " That takes k = 2; with Student’s factor for so few readings Eₙ is {}, and nothing is certain yet.",
            number(student, 2)
        ));
    }
    if prediction.shown == Shown::Shortest
        && let (Some(_), Some(ends), Some(inside)) = (against.e_n, prediction.interval, against.inside)
    {
        let (lies, but) = if inside { ("lies within", "") } else { ("lies outside", ", whatever Eₙ says") };
        text.push_str(&format!(
            " The prediction is skewed: 95 % of builds lie within {}, and the mean {lies} that{but}.",
            interval(ends)
        ));
    }
    text
}

/// What each day came to.
fn days(log: &BenchLog, value: &Value) -> Markup {
    let unit = &value.unit;
    let spread = |si: Option<f64>| si.map_or_else(|| "–".to_owned(), |si| difference(unit, si, UNCERTAINTY));
    html! {
        div.scroll {
            table.figures {
                caption.unseen { "Readings of " (value.name) " by day" }
                thead { tr {
                    th scope="col" { "date" }
                    th scope="col" { "n" }
                    th scope="col" { "mean" }
                    th scope="col" { "sd" }
                    th scope="col" { "u" }
                    th scope="col" { i { "E" } sub { "n" } }
                    th scope="col" { "agrees" }
                } }
                tbody {
                    @for day in &log.days {
                        tr {
                            th scope="row" { (day.day) }
                            td { (day.n) }
                            td { data value=(day.mean) { (mean(unit, value, day)) } }
                            td { (spread(day.sd)) }
                            td { (spread(day.u)) }
                            td { (day.against.and_then(|against| against.e_n).map_or_else(|| "–".to_owned(), |e_n| number(e_n, 2))) }
                            td { (day.against.map_or("not judged", |against| if against.agrees { "yes" } else { "no" })) }
                        }
                    }
                }
            }
        }
    }
}

fn mean(unit: &DisplayUnit, value: &Value, day: &BenchDay) -> String {
    match day.u.filter(|u| *u > 0.0) {
        Some(u) => to_its_uncertainty(unit, day.mean, u),
        None => unit.show(day.mean, value.digits.max(3)),
    }
}

/// Every reading, those that do not count with the reason.
fn readings(log: &BenchLog, value: &Value) -> Markup {
    let not = log.rows.iter().filter(|row| row.reading.is_err()).count();
    let place = |row: &ReadingRow| match &row.file {
        Some(file) => format!("{file}, line {}", row.line),
        None => format!("line {}", row.line),
    };
    html! {
        details.numbers {
            summary {
                (counted(log.rows.len(), "reading"))
                @if not > 0 { ", " (not) " not counted" }
            }
            div.scroll {
                table.figures {
                    caption.unseen { "All readings of " (value.name) }
                    thead { tr { th scope="col" { "date" } th scope="col" { "reading" } th scope="col" { "from" } th scope="col" { "remark" } } }
                    tbody {
                        @for row in log.rows.iter().take(MOST_ROWS) {
                            tr {
                                td { @if let Some(day) = row.day { (day) } }
                                td { (row.written) }
                                td { (place(row)) }
                                td {
                                    @if let Err(why) = &row.reading { "not counted: " (crate::problems::message(why)) }
                                    @else if let Some(label) = &row.label { (apostrophes(label)) }
                                }
                            }
                        }
                    }
                }
            }
            @if log.rows.len() > MOST_ROWS { p { "Further readings are left out of this table; they count." } }
        }
    }
}

/// What could explain the last readings, each given alone.
fn explained(context: &PageContext<'_>, log: &BenchLog, suspects: &Suspects, value: &Value) -> Markup {
    let disagrees = log.days.last().and_then(|day| day.against).is_some_and(|against| !against.agrees);
    html! {
        details.numbers open[disagrees] {
            summary { "What would explain the last mean, " (held_together(&value.unit.show(suspects.reading, value.digits.max(3)))) }
            @if !suspects.ranked.is_empty() {
                p { "Each given alone, all others at their nominal values; the likeliest first:" }
                (suspected(&context.evaluation.values, suspects))
            }
            (cleared(suspects))
        }
    }
}

/// The givens that cannot explain a reading.
pub(crate) fn cleared(suspects: &Suspects) -> Markup {
    html! {
        @if !suspects.cannot.is_empty() {
            p {
                @for (i, given) in suspects.cannot.iter().enumerate() { @if i > 0 { ", " } (mathml::symbol(given)) }
                @if suspects.cannot.len() == 1 { " alone cannot explain it, whatever its value." }
                @else { " cannot explain it, whatever the value of each." }
            }
        }
    }
}

/// The givens that could explain a reading, as a table; `values` are those that their indices are of.
pub(crate) fn suspected(values: &[Value], suspects: &Suspects) -> Markup {
    let needed = |suspect: &Suspect| match suspect.value.and_then(|value| values.get(value)) {
        Some(value) => value.unit.for_range(suspect.needed, suspect.needed).show(suspect.needed, 3),
        None if suspect.nominal == 1.0 => format!("{} off", percent(suspect.needed - 1.0)),
        None => format!("{} off", number(suspect.needed, 3)),
    };
    html! {
        div.scroll {
            table.figures {
                caption.unseen { "What would explain the last readings" }
                thead { tr {
                    th scope="col" { "given" }
                    th scope="col" { "must be" }
                    th scope="col" { "off by, in its standard uncertainties" }
                    th scope="col" { "its tolerance" }
                } }
                tbody {
                    @for suspect in &suspects.ranked {
                        tr {
                            td.symbol { (mathml::symbol(&suspect.given)) }
                            td { (held_together(&needed(suspect))) }
                            td { @if suspect.sigmas > 0.0 { "+" } (number(suspect.sigmas, 2)) }
                            td { @if suspect.allowed { "allows it" } @else { "does not allow it" } }
                        }
                    }
                }
            }
        }
    }
}

/// The givens that readings imply.
fn fitted(context: &PageContext<'_>, fit: &Fit) -> Markup {
    let one = |given: &Fitted| {
        let unit = context.evaluation.values.get(given.value).map(|value| value.unit.for_range(given.si, given.si));
        let unit = unit.unwrap_or_else(|| DisplayUnit::declared(benchleaf_core::units::Unit::one()));
        let shown = match given.u.filter(|u| *u > 0.0) {
            Some(u) => format!(
                "{}, with a standard uncertainty of {}",
                to_its_uncertainty(&unit, given.si, u),
                difference(&unit, u, UNCERTAINTY)
            ),
            None => unit.show(given.si, 4),
        };
        let off = (given.nominal != 0.0 && unit.unit.offset == 0.0).then(|| given.si / given.nominal - 1.0);
        html! {
            (mathml::symbol(&given.given)) " = " (held_together(&shown))
            @if let Some(off) = off { " (" @if off > 0.0 { "+" } (percent(off)) " from nominal)" }
            @if given.allowed { ", within its tolerance" } @else { ", outside its tolerance" }
        }
    };
    html! {
        div.row.fit {
            div.reasoning {
                p.what { (labels::opening("what the readings imply")) }
                p.says {
                    "From " (counted(fit.readings, "reading")) " of "
                    @for (i, name) in fit.from.iter().enumerate() { @if i > 0 { ", " } (mathml::symbol(name)) }
                    ", all other givens nominal and their uncertainties counted in: "
                    @for (i, given) in fit.givens.iter().enumerate() { @if i > 0 { "; " } (one(given)) }
                    "."
                    @if let Some((squares, degrees)) = fit.left {
                        " More was read than is fitted: the weighted squares that are left come to " (number(squares, 3))
                        ", where " (degrees) " would be usual."
                    }
                }
            }
        }
    }
}

/// The coverage factor of ISO 13528.
const K: f64 = 2.0;
/// Significant digits of an uncertainty (JCGM 100, 7.2.6).
const UNCERTAINTY: u8 = 2;
/// Readings that are listed one by one.
const MOST_ROWS: usize = 400;
