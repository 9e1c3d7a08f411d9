//! The line at the head of a page: how many requirements hold, are at risk, are broken, and each linked to its place;
//! and the problems, if there are any.

use benchleaf_core::{
    problem::{Problem, Severity},
    results::{Status, Verdict},
    summary::Summary,
};
use benchleaf_words::{count, key, say};
use maud::{Markup, html};

use crate::{context::PageContext, format::listed, icons, problems, verdicts};

/// The summing-up, worst news first.
pub(crate) fn line(context: &PageContext<'_>, counts: &Summary) -> Markup {
    let errors = counts.errors + counts.warnings;
    let keeps = &context.evaluation.keeps;
    let standings: Vec<(Status, Vec<&Verdict>)> = [Status::Broken, Status::AtRisk, Status::Holds]
        .into_iter()
        .map(|status| (status, keeps.iter().filter(|keep| keep.status == status).collect()))
        .filter(|(_, with): &(Status, Vec<_>)| !with.is_empty())
        .collect();
    html! {
        @if !keeps.is_empty() || errors > 0 {
            ul.standing aria-label=(context.words.text(key::HEAD_STANDING)) {
                @for (i, (status, with)) in standings.iter().enumerate() { (standing(context, *status, with, i == 0)) }
                @if errors > 0 {
                    li.wrong {
                        (problems_counted(context, counts)) ": "
                        @for (i, (number, problem)) in counted_problems(context).enumerate() {
                            @if i > 0 { ", " }
                            a href={ "#" (problems::anchor(number)) } {
                                (say!(context.words, HEAD_LINE, n = context.evaluation.lines.line(problem.span.start)))
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What counts at the head: not what was only left undone.
fn counted_problems<'a>(context: &PageContext<'a>) -> impl Iterator<Item = (usize, &'a Problem)> {
    let problems = context.evaluation.problems.iter().enumerate();
    problems.filter(|(_, problem)| problem.severity() != Severity::Note)
}

/// One status with its requirements; the first of the list says what is counted.
fn standing(context: &PageContext<'_>, status: Status, with: &[&Verdict], first: bool) -> Markup {
    let (words, n) = (context.words, with.len());
    let counted = match (first, status) {
        (true, Status::Holds) => count!(words, HEAD_HOLDS, n, n = n),
        (true, Status::AtRisk) => count!(words, HEAD_AT_RISK, n, n = n),
        (true, Status::Broken) => count!(words, HEAD_BROKEN, n, n = n),
        (false, Status::Holds) => count!(words, HEAD_ALSO_HOLDS, n, n = n),
        (false, Status::AtRisk) => count!(words, HEAD_ALSO_AT_RISK, n, n = n),
        (false, Status::Broken) => count!(words, HEAD_ALSO_BROKEN, n, n = n),
    };
    html! {
        li data-status=(status.word()) {
            (icons::verdict(status)) strong { (counted) } ": "
            @for (i, verdict) in with.iter().enumerate() {
                @if i > 0 { "; " }
                a href={ "#" (verdicts::anchor(context.keep_number(verdict))) } { (verdicts::title(context, verdict)) }
            }
        }
    }
}

fn problems_counted(context: &PageContext<'_>, counts: &Summary) -> String {
    let words = context.words;
    let errors = (counts.errors > 0).then(|| count!(words, HEAD_ERRORS, counts.errors, n = counts.errors));
    let warnings = (counts.warnings > 0).then(|| count!(words, HEAD_WARNINGS, counts.warnings, n = counts.warnings));
    listed(words, &[errors, warnings].into_iter().flatten().collect::<Vec<_>>())
}
