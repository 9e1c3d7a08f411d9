//! What the compiler found, in the words of a learner first and the compiler's below.

use benchleaf_core::outside::{Finding, Place, wire::Source};
use evcxr::CompilationError;

use crate::compose::Composed;

/// The findings of a block, those with a place in it first told.
pub(crate) fn told(errors: &[CompilationError], composed: &Composed, source: &Source) -> Vec<Finding> {
    for e in errors {
        eprintln!(
            "{} {:?}\n{:#?}",
            e.message(),
            e.code(),
            e.spanned_messages().iter().map(|m| (m.span, m.label.clone(), m.is_primary)).collect::<Vec<_>>()
        );
        eprintln!("{}", e.rendered());
    }
    Vec::new()
}
