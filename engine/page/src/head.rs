//! The line at the head of a page: how many requirements hold, are at risk, are broken, and each linked to its place;
//! and the problems, if there are any.

use benchleaf_core::{problem::Severity, results::Status};
use maud::{Markup, html};

use crate::{Tally, manuscript::Manuscript, problems, signs, verdicts};

/// Counts what the head sums up.
pub(crate) fn tally(manuscript: &Manuscript<'_>) -> Tally {
    let evaluation = manuscript.evaluation;
    let keeps = |status| evaluation.keeps.iter().filter(|verdict| verdict.status == status).count();
    let problems = |severity| evaluation.problems.iter().filter(|problem| problem.severity() == severity).count();
    Tally {
        holds: keeps(Status::Holds),
        at_risk: keeps(Status::AtRisk),
        broken: keeps(Status::Broken),
        errors: problems(Severity::Error),
        warnings: problems(Severity::Warning),
    }
}

/// The summing-up, worst news first.
pub(crate) fn line(manuscript: &Manuscript<'_>, tally: &Tally) -> Markup {
    let errors = tally.errors + tally.warnings;
    html! {
        @if !manuscript.evaluation.keeps.is_empty() || errors > 0 {
            ul.standing aria-label="Where this worksheet stands" {
                @for status in [Status::Broken, Status::AtRisk, Status::Holds] { (standing(manuscript, status)) }
                @if errors > 0 {
                    li.wrong {
                        (counted(tally)) ": "
                        @for (number, problem) in manuscript.evaluation.problems.iter().enumerate() {
                            @if number > 0 { ", " }
                            a href={ "#" (problems::anchor(number)) } {
                                "line " (manuscript.evaluation.lines.line(problem.span.start))
                            }
                        }
                    }
                }
            }
        }
    }
}

fn standing(manuscript: &Manuscript<'_>, status: Status) -> Markup {
    let with: Vec<_> =
        manuscript.evaluation.keeps.iter().enumerate().filter(|(_, verdict)| verdict.status == status).collect();
    let verb = match (status, with.len()) {
        (_, 0) => return html! {},
        (Status::Holds, 1) => "1 requirement holds".to_owned(),
        (Status::Holds, n) => format!("{n} requirements hold"),
        (Status::AtRisk, 1) => "1 is at risk".to_owned(),
        (Status::AtRisk, n) => format!("{n} are at risk"),
        (Status::Broken, 1) => "1 is broken".to_owned(),
        (Status::Broken, n) => format!("{n} are broken"),
    };
    html! {
        li data-status=(status.word()) {
            (signs::verdict(status)) " " strong { (verb) } ": "
            @for (i, (index, verdict)) in with.iter().enumerate() {
                @if i > 0 { "; " }
                a href={ "#" (verdicts::anchor(*index)) } { (verdicts::title(manuscript, verdict)) }
            }
        }
    }
}

fn counted(tally: &Tally) -> String {
    let errors = match tally.errors {
        0 => None,
        1 => Some("1 error".to_owned()),
        n => Some(format!("{n} errors")),
    };
    let warnings = match tally.warnings {
        0 => None,
        1 => Some("1 line worth a look".to_owned()),
        n => Some(format!("{n} lines worth a look")),
    };
    [errors, warnings].into_iter().flatten().collect::<Vec<_>>().join(" and ")
}
