//! Which rows of a page a symbol in a drawing lights.

use benchleaf_core::lang::ast::Statement;

use crate::context::PageContext;

/// What a statement reads that a circuit draws: names of values, and designators.
pub(crate) fn uses(context: &PageContext<'_>, statement: &Statement) -> Option<String> {
    let parts = || context.evaluation.circuits.iter().flat_map(|circuit| &circuit.parts);
    let is_drawn = |name: &&str| {
        parts().any(|part| {
            part.values.iter().map(String::as_str).chain(part.designator.as_deref()).any(|own| own == *name)
        })
    };
    let mut names: Vec<&str> = Vec::new();
    for formula in statement.body.formulas() {
        formula.names(&mut |name| names.push(name));
        formula.pins(&mut |part| names.push(part));
    }
    names.retain(is_drawn);
    names.sort_unstable();
    names.dedup();
    Some(names.join(" ")).filter(|names| !names.is_empty())
}
