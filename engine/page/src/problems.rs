//! Problems where they stand: what was found and wanted, the line of the worksheet with the offending text marked, and
//! the way out.

use benchleaf_core::{
    problem::{Code, Problem, Severity},
    span::Span,
};
use benchleaf_words::{Words, key, set};
use maud::{Markup, html};

use crate::context::PageContext;

/// Every problem inside a span that has not been shown yet. What waits for a Rust block says so in its own place.
pub(crate) fn inside(context: &PageContext<'_>, span: Span) -> Markup {
    let taken = context.take_problems(span).into_iter().filter(|(_, problem)| problem.code != Code::RustAwaited);
    html! { @for (number, problem) in taken { (block(context, number, problem)) } }
}

/// The id that the head of the page links to.
pub(crate) fn anchor(number: usize) -> String {
    format!("problem-{}", number + 1)
}

fn block(context: &PageContext<'_>, number: usize, problem: &Problem) -> Markup {
    let position = context.evaluation.lines.position(context.source, problem.span.start);
    let (place, words) = (problem.file.as_deref(), context.words);
    let severity = html! { strong { (severity(words, problem)) } };
    let code = html! { span.code { (problem.code.text()) } };
    let said = message(&problem.message.say(words));
    html! {
        div.problem id=(anchor(number)) data-code=(problem.code.text()) data-line=(position.line) data-column=(position.column) {
            p {
                @match place {
                    Some(place) => (set!(
                        words,
                        PROBLEM_AT_LINE_OF,
                        severity = severity,
                        code = code,
                        n = place.position.line,
                        file = html! { code { (place.path) } },
                        message = said
                    )),
                    None => (set!(words, PROBLEM_AT_LINE, severity = severity, code = code, n = position.line, message = said)),
                }
            }
            @match place {
                Some(place) => (excerpt(&place.line, place.marked)),
                None => (excerpt(context.source, problem.span)),
            }
            @if let Some(help) = &problem.help { p.help { (message(&help.say(words))) } }
        }
    }
}

/// A message; what it quotes from the worksheet between backticks is set as code.
pub(crate) fn message(text: &str) -> Markup {
    html! {
        @for (i, part) in text.split('`').enumerate() {
            @if i % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

/// What the engine says in English alone, marked as English on a page in another language.
pub(crate) fn in_english(words: Words<'_>, said: Markup) -> Markup {
    if words.lang() == Words::ENGLISH.lang() {
        said
    } else {
        html! { span lang="en" { (said) } }
    }
}

/// A word for how much it weighs.
fn severity<'w>(words: Words<'w>, problem: &Problem) -> &'w str {
    words.text(match problem.severity() {
        Severity::Error => key::PROBLEM_ERROR,
        Severity::Warning => key::PROBLEM_WARNING,
        Severity::Note => key::PROBLEM_NOTE,
    })
}

/// The first line that a span touches (a part of it, where the line is very long), with the span marked.
fn excerpt(source: &str, span: Span) -> Markup {
    let start = source.get(..span.start).map_or(0, |before| before.rfind('\n').map_or(0, |at| at + 1));
    let end = source.get(span.start..).and_then(|rest| rest.find('\n')).map_or(source.len(), |at| span.start + at);
    let (Some(before), Some(marked), Some(after)) =
        (source.get(start..span.start), source.get(span.start..span.end.min(end)), source.get(span.end.min(end)..end))
    else {
        return html! {};
    };
    if before.trim().is_empty() && marked.is_empty() && after.trim().is_empty() {
        return html! {};
    }
    let before = match before.char_indices().rev().nth(REACH) {
        Some((at, _)) => html! { "…" (&before[at..]) },
        None => html! { (before.trim_start()) },
    };
    html! {
        pre.excerpt { code { (before) mark { @if marked.is_empty() { " " } @else { (beginning(marked)) } } (beginning(after)) } }
    }
}

/// As much of a text as an excerpt has room for.
fn beginning(text: &str) -> Markup {
    match text.char_indices().nth(REACH) {
        Some((at, _)) => html! { (&text[..at]) "…" },
        None => html! { (text) },
    }
}

/// Characters of a line that are shown on each side of a place, and of what is marked.
const REACH: usize = 160;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_offending_text_is_marked_and_escaped() {
        let source = "one\n  a < <b>\nthree";
        assert_eq!(
            excerpt(source, Span::new(10, 13)).into_string(),
            r#"<pre class="excerpt"><code>a &lt; <mark>&lt;b&gt;</mark></code></pre>"#
        );
    }

    /// A worksheet of 100 kB in one line, with a problem at every character, made a page of 600 MB.
    #[test]
    fn of_a_very_long_line_a_part_is_shown() {
        let source = format!("{}µ{}", "é".repeat(5000), "x".repeat(5000));
        let shown = excerpt(&source, Span::new(10_000, 10_002)).into_string();
        let of = |wanted: char| shown.chars().filter(|c| *c == wanted).count();
        // One x stands in the markup.
        assert!(of('é').abs_diff(REACH) < 2 && of('x').abs_diff(REACH + 1) < 2, "{shown}");
        assert!(shown.contains("…é") && shown.contains("<mark>µ</mark>xxx"), "{shown}");
    }

    #[test]
    fn spans_that_do_not_fit_show_nothing() {
        assert_eq!(excerpt("ab", Span::new(7, 9)).into_string(), "");
        assert_eq!(excerpt("", Span::new(0, 0)).into_string(), "");
    }
}
