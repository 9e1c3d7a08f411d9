//! The Rust types of a worksheet's values, as the code around a block writes them.

use benchleaf_core::{host::Holds, units::Kind};

/// The type of a value, by the names of the prelude.
pub(crate) fn of(holds: Holds) -> String {
    match holds {
        Holds::Condition => "bool".to_owned(),
        Holds::Quantity(_, Kind::Temperature) => "ThermodynamicTemperature".to_owned(),
        Holds::Quantity(_, Kind::Torque) => "Torque".to_owned(),
        Holds::Quantity(_, Kind::Angle) => "Angle".to_owned(),
        Holds::Quantity(_, Kind::AngularVelocity) => "AngularVelocity".to_owned(),
        // What `uom` does not distinguish.
        Holds::Quantity(
            exponents,
            Kind::Plain
            | Kind::TemperatureDifference
            | Kind::Energy
            | Kind::Frequency
            | Kind::ActivePower
            | Kind::ApparentPower
            | Kind::ReactivePower
            | Kind::LuminousIntensity
            | Kind::LuminousFlux
            | Kind::Illuminance
            | Kind::Luminance,
        ) => {
            let exponents: Vec<String> = exponents.iter().map(|exponent| whole(*exponent)).collect();
            format!("glue::Of<{}>", exponents.iter().map(|e| format!("glue::{e}")).collect::<Vec<_>>().join(", "))
        }
    }
}

/// The expression that makes a plain `f64` of a result, which is checked against what it must hold.
pub(crate) fn to_si(holds: Holds, value: &str) -> String {
    match holds {
        Holds::Quantity([0, 0, 0, 0, 0, 0, 0], Kind::Plain) => format!("glue::number({value})"),
        Holds::Quantity(_, Kind::Torque | Kind::Angle | Kind::AngularVelocity) => {
            format!("glue::of_kind::<{}, _>({value})", of(holds))
        }
        _ => format!("{{ let benchleaf_result: {} = {value}; glue::plain(benchleaf_result) }}", of(holds)),
    }
}

/// The expression that makes a series.
pub(crate) fn to_series(holds: Holds, value: &str) -> String {
    let number = to_si(holds, "point");
    match holds {
        Holds::Quantity([0, 0, 0, 0, 0, 0, 0], Kind::Plain)
        | Holds::Quantity(_, Kind::Torque | Kind::Angle | Kind::AngularVelocity) => {
            format!("glue::series(glue::Points::points(&{value}), |point| {number})")
        }
        _ => format!("glue::series(glue::Points::<{}>::points(&{value}), |point| {number})", of(holds)),
    }
}

/// A whole number as `typenum` writes it.
fn whole(exponent: i8) -> String {
    match exponent {
        0 => "Z0".to_owned(),
        1..=9 => format!("P{exponent}"),
        -9..=-1 => format!("N{}", -exponent),
        // Beyond the names there are sums.
        10.. => format!("Z0 as out of range {exponent}"),
        _ => format!("Z0 as out of range {exponent}"),
    }
}
