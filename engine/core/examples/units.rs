//! Prints the table of units: symbol, SI factor, zero point, dimension and kind.
#![allow(clippy::print_stdout)]
fn main() {
    for symbol in benchleaf_core::units::table().symbols() {
        if let Some(unit) = benchleaf_core::units::parse(symbol) {
            println!(
                "{symbol}\t{:e}\t{}\t{}\t{:?}",
                unit.factor, unit.offset, unit.quantity.dimension, unit.quantity.kind
            );
        }
    }
}
