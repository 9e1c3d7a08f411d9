//! The line at the head of a page: how many requirements hold, are at risk, are broken, and each linked to its place;
//! and the problems, if there are any.

use benchleaf_core::{
    problem::{Problem, Severity},
    results::{Status, Verdict},
    summary::Summary,
};
use maud::{Markup, html};

use crate::{context::PageContext, icons, problems, verdicts};

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
            ul.standing aria-label="Where this worksheet stands" {
                @for (i, (status, with)) in standings.iter().enumerate() { (standing(context, *status, with, i == 0)) }
                @if errors > 0 {
                    li.wrong {
                        (problems_counted(counts)) ": "
                        @for (i, (number, problem)) in counted_problems(context).enumerate() {
                            @if i > 0 { ", " }
                            a href={ "#" (problems::anchor(number)) } {
                                "line " (context.evaluation.lines.line(problem.span.start))
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
    let one = with.len() == 1;
    let counted = match (first, one) {
        (false, _) => format!("{}", with.len()),
        (true, true) => "1 requirement".to_owned(),
        (true, false) => format!("{} requirements", with.len()),
    };
    let verb = match (status, one) {
        (Status::Holds, true) => "holds",
        (Status::Holds, false) => "hold",
        (Status::AtRisk, true) => "is at risk",
        (Status::AtRisk, false) => "are at risk",
        (Status::Broken, true) => "is broken",
        (Status::Broken, false) => "are broken",
    };
    html! {
        li data-status=(status.word()) {
            (icons::verdict(status)) strong { (counted) " " (verb) } ": "
            @for (i, verdict) in with.iter().enumerate() {
                @if i > 0 { "; " }
                a href={ "#" (verdicts::anchor(context.keep_number(verdict))) } { (verdicts::title(context, verdict)) }
            }
        }
    }
}

fn problems_counted(counts: &Summary) -> String {
    let errors = match counts.errors {
        0 => None,
        1 => Some("1 error".to_owned()),
        n => Some(format!("{n} errors")),
    };
    let warnings = match counts.warnings {
        0 => None,
        1 => Some("1 line worth a look".to_owned()),
        n => Some(format!("{n} lines worth a look")),
    };
    [errors, warnings].into_iter().flatten().collect::<Vec<_>>().join(" and ")
}
