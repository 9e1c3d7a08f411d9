//! A quantity as a person types it: an answer to an exercise, a reading at a test point.

mod feedback;
mod read;

pub use feedback::Feedback;

use crate::{
    check,
    units::{Kind, QuantityType},
};

/// A number with its unit as somebody typed it, SI, which is to be of a quantity; `unit` is the symbol that it is asked for in.
///
/// # Errors
/// What is wrong with how it is written, or with its unit.
pub(crate) fn quantity(typed: &str, wanted: QuantityType, unit: &str) -> Result<f64, Feedback> {
    let answer = read::read(typed)?;
    let found = answer.quantity;
    if !answer.has_unit && !wanted.dimension.is_none() {
        return Err(Feedback::NoUnit { wanted: wanted.describe_kind(), unit: unit.to_owned() });
    }
    if found.dimension != wanted.dimension {
        return Err(Feedback::Dimension { found: found.describe(), wanted: wanted.describe() });
    }
    // Where a point on the scale is asked for in kelvin, kelvin are one.
    let kelvin_point = wanted.kind == Kind::Temperature && unit == "K" && answer.is_kelvin;
    if found.kind.joined(wanted.kind).is_none() && !kelvin_point {
        let help = check::kind_help(found.kind, wanted.kind);
        return Err(Feedback::Kind { found: found.describe_kind(), wanted: wanted.describe_kind(), help });
    }
    Ok(answer.si)
}
