//! Problems where they stand: what was found and wanted, the line of the worksheet with the offending text marked, and
//! the way out.

use benchleaf_core::{
    problem::{Code, Problem, Severity},
    span::Span,
};
use maud::{Markup, html};

use crate::context::PageContext;

/// Every problem inside a span that has not been shown yet. What waits for a Rust block says so in its own place.
pub(crate) fn inside(context: &PageContext<'_>, span: Span) -> Markup {
    let taken = context.take_problems(span).into_iter().filter(|(_, problem)| problem.code != Code::RustAwaited);
    html! { @for (number, problem) in taken { (block(context, number, problem)) } }
}

/// What stands where something waits for a Rust block.
pub(crate) const WAITS: &str = "waits for a Rust block that was not run";

/// The id that the head of the page links to.
pub(crate) fn anchor(number: usize) -> String {
    format!("problem-{}", number + 1)
}

fn block(context: &PageContext<'_>, number: usize, problem: &Problem) -> Markup {
    let position = context.evaluation.lines.position(context.source, problem.span.start);
    html! {
        div.problem id=(anchor(number)) data-code=(problem.code.text()) data-line=(position.line) data-column=(position.column) {
            p {
                strong { (severity(problem)) } " "
                span.code { (problem.code.text()) }
                ", line " (position.line) ": "
                (message(&problem.message))
            }
            (excerpt(context.source, problem.span))
            @if let Some(help) = &problem.help { p.help { (message(help)) } }
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

/// A word for how much it weighs.
pub(crate) fn severity(problem: &Problem) -> &'static str {
    match problem.severity() {
        Severity::Error => "Error",
        Severity::Warning => "Worth a look",
        Severity::Note => "Note",
    }
}

/// The first line that a span touches, with the span marked.
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
    html! {
        pre.excerpt { code { (before.trim_start()) mark { @if marked.is_empty() { " " } @else { (marked) } } (after) } }
    }
}

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

    #[test]
    fn spans_that_do_not_fit_show_nothing() {
        assert_eq!(excerpt("ab", Span::new(7, 9)).into_string(), "");
        assert_eq!(excerpt("", Span::new(0, 0)).into_string(), "");
    }
}
