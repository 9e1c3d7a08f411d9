//! Inline results: a number in running text, with what a program needs to find it again; or what is wrong with it, where
//! it stands.

use std::ops::Range;

use benchleaf_core::{
    problem::Code,
    sheet::{InlineFormat, InlineRequest, Part, inline::request_of},
    span::Span,
};
use benchleaf_words::Phrase;
use maud::{Markup, html};

use crate::{context::PageContext, problems, typography::held_together};

/// The inline results with where they stand.
pub(crate) fn inlines(context: &PageContext<'_>) -> impl Iterator<Item = (usize, String)> {
    let inlines = context.evaluation.sheet.parts.iter().filter_map(|part| match part {
        Part::Inline(inline) => Some(inline),
        Part::Fence(_) => None,
    });
    inlines.enumerate().map(|(number, asked)| {
        let place = asked.span.start..asked.span.end;
        let set = inline(context, Some(number), &asked.written, request_of(&asked.written), place);
        (asked.span.start, set.markup.into_string())
    })
}

/// An inline result, set.
pub(crate) struct Inline {
    pub(crate) markup: Markup,
    /// Where only text can stand: a title, an image's description.
    #[cfg_attr(not(feature = "markdown"), allow(dead_code))]
    pub(crate) text: String,
}

/// Sets one; `number` is its place among those of the worksheet, `written` its text in braces, `range` where to look for
/// it.
pub(crate) fn inline(
    context: &PageContext<'_>,
    number: Option<usize>,
    written: &str,
    request: Result<InlineRequest, Phrase>,
    range: Range<usize>,
) -> Inline {
    let answered =
        request.and_then(|request| Ok((context.evaluation.inline_in(&request, context.words)?.text, request)));
    match answered {
        Ok((shown, request)) => {
            let text = held_together(&shown);
            let si = context.value(&request.name).map(|value| value.nominal);
            let format = match &request.format {
                InlineFormat::Plain => None,
                InlineFormat::Unit(unit) => Some(unit.clone()),
                InlineFormat::Digits(digits) => Some(digits.to_string()),
                InlineFormat::Range => Some("range".to_owned()),
                InlineFormat::Least => Some("least".to_owned()),
                InlineFormat::Greatest => Some("greatest".to_owned()),
            };
            let markup = html! { data.result value=[si] data-inline=[number] data-name=(request.name) data-format=[format] { (text) } };
            Inline { markup, text }
        }
        Err(message) => {
            let taken = context.take_problems(place(context.source, written, &range));
            let first = taken.first();
            let help = first.and_then(|(_, problem)| problem.help.as_ref()).map(|help| help.say(context.words));
            let said = first.map_or(&message, |(_, problem)| &problem.message).say(context.words);
            let id = first.map(|(problem, _)| problems::anchor(*problem));
            let code = first.map(|(_, problem)| problem.code.text());
            // Where more is wrong than is listed, the rest is marked without a word each.
            let problems = &context.evaluation.problems;
            let is_listed = first.is_some() || !problems.iter().any(|problem| problem.code == Code::MoreErrors);
            let waits = first.is_some_and(|(_, problem)| problem.code == Code::RustAwaited);
            let markup = html! {
                span.problem-inline id=[id] data-inline=[number] data-code=[code] data-waits[waits] {
                    mark { (written) }
                    @if is_listed {
                        " "
                        small {
                            "(" (problems::message(&said)) @if let Some(help) = &help { "; " (problems::message(help)) } ")"
                        }
                    }
                }
            };
            Inline { markup, text: written.to_owned() }
        }
    }
}

/// The first place in the text where the request is written.
fn place(source: &str, written: &str, range: &Range<usize>) -> Span {
    let at = source.get(range.clone()).and_then(|text| text.find(written)).map(|at| range.start + at);
    at.map_or(Span::new(range.start, range.end), |at| Span::new(at, at + written.len()))
}
