//! The engine's blocks, each by the part of the page that sets it.

use benchleaf_core::{
    results::BlockOutcome,
    sheet::{Block, BlockBody},
};
use maud::{Markup, html};

use crate::{
    alternatives, bench, calc, circuit, context::PageContext, exercises, notes, parts, plot, problems, rust, steps,
    transient,
};

/// A block in the place of its fence.
pub(crate) fn block(context: &PageContext<'_>, index: usize, block: &Block) -> Markup {
    let evaluation = context.evaluation;
    let outcome = evaluation.block_outcomes.get(index).unwrap_or(&BlockOutcome::NotEvaluated);
    let set = match (&block.body, outcome) {
        (BlockBody::Calc(statements), _) => calc::block(context, index, statements),
        (BlockBody::Parts(parts), _) => parts::block(context, index, parts),
        (BlockBody::Note(note), BlockOutcome::Note(number)) => {
            let state = evaluation.notes.get(*number).map(|state| (*number, state));
            notes::block(context, block, note, state)
        }
        // A note that could not be decided is shown.
        (BlockBody::Note(note), _) => notes::block(context, block, note, None),
        (BlockBody::Plot(_), BlockOutcome::Plot(number)) => {
            let waits = context.waits(block.span);
            html! {
                @if waits { (plot::waiting(context.words, *number)) }
                @else if let Some(plot) = evaluation.plots.get(*number) { (plot::figure(context, *number, plot)) }
            }
        }
        (BlockBody::Plot(_), _) => html! {},
        (BlockBody::Exercise(exercise), BlockOutcome::Exercise(number)) => {
            let task = evaluation.exercises.get(*number);
            exercises::block(context, *number, exercise, task)
        }
        // One that cannot be marked is a question all the same.
        (BlockBody::Exercise(exercise), _) => exercises::block(context, index, exercise, None),
        (BlockBody::Bench(_), BlockOutcome::Bench(number)) => match evaluation.benches.get(*number) {
            Some(log) => bench::block(context, *number, log),
            None => html! {},
        },
        (BlockBody::Bench(_), _) => html! { pre { code { (block.content.text(context.source)) } } },
        (BlockBody::Steps(block), BlockOutcome::Steps(number)) => match evaluation.steps.get(*number) {
            Some(set) => steps::block(context, *number, block, set),
            None => html! {},
        },
        (BlockBody::Steps(_), _) => html! {},
        (BlockBody::Transient(transient), _) => transient::block(context, index, block, transient),
        (BlockBody::Circuit(_), BlockOutcome::Circuit(number)) => match evaluation.circuits.get(*number) {
            Some(found) => circuit::block(context, *number, found),
            None => html! {},
        },
        (BlockBody::Circuit(_), _) => html! { pre { code { (block.content.text(context.source)) } } },
        (BlockBody::Rust(rust), _) => rust::block(context, index, block, rust),
        (BlockBody::Builds(_), BlockOutcome::Builds(number)) => match evaluation.builds.get(*number) {
            Some(set) => alternatives::block(context, *number, set),
            None => html! {},
        },
        (BlockBody::Builds(_), _) => html! { pre { code { (block.content.text(context.source)) } } },
    };
    html! { (set) (problems::inside(context, block.span)) }
}
