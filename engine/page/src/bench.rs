//! Readings on the bench: what each day came to and whether it agrees with the prediction, in words, as a table, as dots on
//! the range bar and as a log over the days; behind disclosures every reading, and what could explain the last ones; and the
//! givens that the readings imply.

use benchleaf_core::{
    results::{BenchDay, BenchLog, Comparison, Fit, Fitted, ReadingRow, Shown, Suspect, Suspects, Value},
    units::{DisplayUnit, number},
};
use benchleaf_words::{Words, count, key, say, set, set_count};
use maud::{Markup, PreEscaped, html};

use crate::{
    context::PageContext,
    format::{self, difference, percent, to_its_uncertainty},
    mathml, plot,
    rangebar::RangeBar,
    rows::two_columns,
    typography::{apostrophes, held_together},
};

/// A bench in the place of its block.
pub(crate) fn block(context: &PageContext<'_>, number: usize, log: &BenchLog) -> Markup {
    let Some(value) = context.evaluation.values.get(log.value) else { return html! {} };
    let (words, name) = (context.words, mathml::symbol(&value.name));
    let what = match &log.label {
        Some(label) => set!(words, BENCH_READINGS_OF_LABELLED, name = name, label = apostrophes(label)),
        None => set!(words, BENCH_READINGS_OF, name = name),
    };
    let reasoning = html! {
        p.what { (what) }
        @if let Some(last) = log.days.last() {
            p.says { (held_together(&judged(words, log, value, last))) }
            (days(words, log, value))
        } @else if log.fits.is_empty() {
            p.not-evaluated { (words.text(key::BENCH_NO_READING)) }
        }
    };
    let margin = html! { @if !log.days.is_empty() { (bar(words, log, value)) } };
    let drawn = plot::log(words, log, value);
    html! {
        section.bench id={ "bench-" (number + 1) } data-bench=(number) {
            div.row { (two_columns(&reasoning, &margin)) }
            @if !drawn.0.is_empty() { figure.plot { (drawn) } }
            @if !log.rows.is_empty() { (readings(words, log, value)) }
            @if let Some(suspects) = &log.suspects { (explained(context, log, suspects, value)) }
            @for fit in &log.fits { (fitted(context, fit)) }
        }
    }
}

/// The range bar of the value with every reading as a dot.
fn bar(words: Words<'_>, log: &BenchLog, value: &Value) -> Markup {
    let readings: Vec<f64> = log.rows.iter().filter_map(|row| row.reading.as_ref().ok().copied()).collect();
    RangeBar::of_readings(value, readings).draw(words)
}

/// The last day, in words.
fn judged(words: Words<'_>, log: &BenchLog, value: &Value, last: &BenchDay) -> String {
    let unit = &value.unit;
    let (day, n) = (format::day(words, last.day), last.n);
    let mean = |u: f64| to_its_uncertainty(unit, last.mean, u);
    let plus_minus = |u: f64| difference(unit, u, UNCERTAINTY);
    let plain = unit.show(last.mean, value.digits.max(3));
    let student = (last.student > 2.05).then(|| number(last.student, 3));
    let read = match (n, last.u) {
        (1, None) => say!(words, BENCH_ONE_UNJUDGED, day = day, mean = plain),
        (1, Some(u)) => say!(words, BENCH_ONE_READING, day = day, mean = mean(u), u = plus_minus(K * u)),
        (n, Some(u)) if u > 0.0 => {
            let (mean, u) = (mean(u), plus_minus(last.student * u));
            match student {
                Some(factor) => say!(words, BENCH_SEVERAL_FEW, day = day, n = n, mean = mean, u = u, factor = factor),
                None => say!(words, BENCH_SEVERAL, day = day, n = n, mean = mean, u = u),
            }
        }
        (n, _) => match student {
            Some(factor) => say!(words, BENCH_SEVERAL_EXACT_FEW, day = day, n = n, mean = plain, factor = factor),
            None => say!(words, BENCH_SEVERAL_EXACT, day = day, n = n, mean = plain),
        },
    };
    match &last.against {
        Some(against) => format!("{read} {}", verdict(words, log, value, last, against)),
        None => read,
    }
}

fn verdict(words: Words<'_>, log: &BenchLog, value: &Value, last: &BenchDay, against: &Comparison) -> String {
    let (unit, prediction) = (&value.unit, &log.prediction);
    let stands = words.text(match (against.agrees, last.n) {
        (true, 1) => key::BENCH_IT_AGREES,
        (true, _) => key::BENCH_THEY_AGREE,
        (false, 1) => key::BENCH_IT_DISAGREES,
        (false, _) => key::BENCH_THEY_DISAGREE,
    });
    let interval = |ends: (f64, f64)| format::range(words, unit, ends, value.digits);
    let plain = || unit.show(prediction.mean, value.digits.max(3));
    let mut text = match (against.e_n, prediction.u, prediction.interval) {
        (Some(e_n), Some(u), _) if u > 0.0 => say!(
            words,
            BENCH_PREDICTION,
            stands = stands,
            mean = to_its_uncertainty(unit, prediction.mean, u),
            u = difference(unit, K * u, UNCERTAINTY),
            e_n = number(e_n, 2),
        ),
        (Some(e_n), ..) => {
            say!(words, BENCH_PREDICTION_EXACT, stands = stands, mean = plain(), e_n = number(e_n, 2))
        }
        (None, _, Some(ends)) if prediction.fails_to_exist > 0.0 => {
            say!(words, BENCH_PREDICTION_INFINITE, stands = stands, interval = interval(ends))
        }
        (None, _, Some(ends)) => say!(words, BENCH_PREDICTION_STUDENT, stands = stands, interval = interval(ends)),
        (None, _, None) => say!(words, BENCH_PREDICTION_BARE, stands = stands, mean = plain()),
    };
    if let (Some(e_n), Some(student)) = (against.e_n, against.e_n_student)
        && (e_n.abs() <= 1.0) != (student.abs() <= 1.0)
    {
        text.push(' ');
        text.push_str(&say!(words, BENCH_NOT_CERTAIN, e_n = number(student, 2)));
    }
    if prediction.shown == Shown::Shortest
        && let (Some(_), Some(ends), Some(inside)) = (against.e_n, prediction.interval, against.inside)
    {
        text.push(' ');
        text.push_str(&match inside {
            true => say!(words, BENCH_SKEWED_INSIDE, interval = interval(ends)),
            false => say!(words, BENCH_SKEWED_OUTSIDE, interval = interval(ends)),
        });
    }
    text
}

/// What each day came to.
fn days(words: Words<'_>, log: &BenchLog, value: &Value) -> Markup {
    let unit = &value.unit;
    let spread = |si: Option<f64>| si.map_or_else(|| "–".to_owned(), |si| difference(unit, si, UNCERTAINTY));
    html! {
        div.scroll {
            table.figures {
                caption.unseen { (say!(words, BENCH_BY_DAY, name = value.name)) }
                thead { tr {
                    th scope="col" { (words.text(key::BENCH_DATE)) }
                    th scope="col" { "n" }
                    th scope="col" { (words.text(key::BENCH_MEAN)) }
                    th scope="col" { (words.text(key::BENCH_SD)) }
                    th scope="col" { "u" }
                    th scope="col" { i { "E" } sub { "n" } }
                    th scope="col" { (words.text(key::BENCH_AGREES)) }
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
                            td { (words.text(day.against.map_or(key::BENCH_NOT_JUDGED, |against| if against.agrees { key::FORMAT_YES } else { key::FORMAT_NO }))) }
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
fn readings(words: Words<'_>, log: &BenchLog, value: &Value) -> Markup {
    let not = log.rows.iter().filter(|row| row.reading.is_err()).count();
    let place = |row: &ReadingRow| match &row.file {
        Some(file) => say!(words, BENCH_LINE_OF, file = file, n = row.line),
        None => say!(words, HEAD_LINE, n = row.line),
    };
    html! {
        details.numbers {
            summary {
                (count!(words, BENCH_READINGS, log.rows.len(), n = log.rows.len()))
                @if not > 0 { ", " (count!(words, BENCH_LEFT_OUT, not, n = not)) }
            }
            div.scroll {
                table.figures {
                    caption.unseen { (say!(words, BENCH_ALL_READINGS, name = value.name)) }
                    thead { tr { th scope="col" { (words.text(key::BENCH_DATE)) } th scope="col" { (words.text(key::BENCH_READING)) } th scope="col" { (words.text(key::BENCH_FROM)) } th scope="col" { (words.text(key::BENCH_REMARK)) } } }
                    tbody {
                        @for row in log.rows.iter().take(MOST_ROWS) {
                            tr {
                                td { @if let Some(day) = row.day { (day) } }
                                td { (row.written) }
                                td { (place(row)) }
                                td {
                                    @if let Err(why) = &row.reading { (set!(words, BENCH_NOT_COUNTED, why = crate::problems::message(&why.say(words)))) }
                                    @else if let Some(label) = &row.label { (apostrophes(label)) }
                                }
                            }
                        }
                    }
                }
            }
            @if log.rows.len() > MOST_ROWS { p { (words.text(key::BENCH_FURTHER)) } }
        }
    }
}

/// What could explain the last readings, each given alone.
fn explained(context: &PageContext<'_>, log: &BenchLog, suspects: &Suspects, value: &Value) -> Markup {
    let words = context.words;
    let disagrees = log.days.last().and_then(|day| day.against).is_some_and(|against| !against.agrees);
    html! {
        details.numbers open[disagrees] {
            summary { (say!(words, BENCH_EXPLAINS_MEAN, mean = held_together(&value.unit.show(suspects.reading, value.digits.max(3))))) }
            @if !suspects.ranked.is_empty() {
                p { (words.text(key::BENCH_EACH_ALONE)) }
                (suspected(words, &context.evaluation.values, suspects))
            }
            (cleared(words, suspects))
        }
    }
}

/// The givens that cannot explain a reading.
pub(crate) fn cleared(words: Words<'_>, suspects: &Suspects) -> Markup {
    html! {
        @if !suspects.cannot.is_empty() {
            p { (set_count!(words, BENCH_CANNOT, suspects.cannot.len(), givens = symbols(&suspects.cannot))) }
        }
    }
}

/// The givens that could explain a reading, as a table; `values` are those that their indices are of.
pub(crate) fn suspected(words: Words<'_>, values: &[Value], suspects: &Suspects) -> Markup {
    let needed = |suspect: &Suspect| match suspect.value.and_then(|value| values.get(value)) {
        Some(value) => value.unit.for_range(suspect.needed, suspect.needed).show(suspect.needed, 3),
        None if suspect.nominal == 1.0 => say!(words, BENCH_OFF, amount = percent(suspect.needed - 1.0)),
        None => say!(words, BENCH_OFF, amount = number(suspect.needed, 3)),
    };
    html! {
        div.scroll {
            table.figures {
                caption.unseen { (words.text(key::BENCH_EXPLAINS)) }
                thead { tr {
                    th scope="col" { (words.text(key::BENCH_GIVEN)) }
                    th scope="col" { (words.text(key::BENCH_MUST_BE)) }
                    th scope="col" { (words.text(key::BENCH_SIGMAS)) }
                    th scope="col" { (words.text(key::BENCH_TOLERANCE)) }
                } }
                tbody {
                    @for suspect in &suspects.ranked {
                        tr {
                            td.symbol { (mathml::symbol(&suspect.given)) }
                            td { (held_together(&needed(suspect))) }
                            td { @if suspect.sigmas > 0.0 { "+" } (number(suspect.sigmas, 2)) }
                            td { (words.text(if suspect.allowed { key::BENCH_ALLOWS } else { key::BENCH_DOES_NOT_ALLOW })) }
                        }
                    }
                }
            }
        }
    }
}

fn symbols(names: &[String]) -> Markup {
    html! { @for (i, name) in names.iter().enumerate() { @if i > 0 { ", " } (mathml::symbol(name)) } }
}

/// The givens that readings imply.
fn fitted(context: &PageContext<'_>, fit: &Fit) -> Markup {
    let words = context.words;
    let one = |given: &Fitted| {
        let unit = context.evaluation.values.get(given.value).map(|value| value.unit.for_range(given.si, given.si));
        let unit = unit.unwrap_or_else(|| DisplayUnit::declared(benchleaf_core::units::Unit::one()));
        let shown = match given.u.filter(|u| *u > 0.0) {
            Some(u) => say!(
                words,
                BENCH_FITTED,
                mean = to_its_uncertainty(&unit, given.si, u),
                u = difference(&unit, u, UNCERTAINTY)
            ),
            None => unit.show(given.si, 4),
        };
        let off = (given.nominal != 0.0 && unit.unit.offset == 0.0).then(|| given.si / given.nominal - 1.0);
        let sign = if off.is_some_and(|off| off > 0.0) { "+" } else { "" };
        let found = html! {
            (mathml::symbol(&given.given)) " = " (held_together(&shown))
            @if let Some(off) = off { " " (say!(words, BENCH_FROM_NOMINAL, off = format!("{sign}{}", percent(off)))) }
        };
        match given.allowed {
            true => set!(words, BENCH_FIT_WITHIN, found = found),
            false => set!(words, BENCH_FIT_OUTSIDE, found = found),
        }
    };
    let givens: Vec<String> = fit.givens.iter().map(|given| one(given).into_string()).collect();
    let said = set_count!(
        words,
        BENCH_FIT,
        fit.readings,
        n = fit.readings,
        names = symbols(&fit.from),
        givens = PreEscaped(givens.join("; "))
    );
    html! {
        div.row.fit {
            div.reasoning {
                p.what { (words.text(key::BENCH_IMPLIED)) }
                p.says {
                    (said)
                    @if let Some((squares, degrees)) = fit.left {
                        " " (say!(words, BENCH_FIT_LEFT, squares = number(squares, 3), degrees = degrees))
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
