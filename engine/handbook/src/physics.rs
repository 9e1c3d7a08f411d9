//! What several subjects rest on: copper, sums of temperatures, and the quantities that `uom` has no name for.

use std::ops::{Div, Mul};

use uom::si::{
    Dimension, Quantity, SI,
    electrical_resistivity::ohm_meter,
    f64::{
        ElectricCurrent, ElectricPotential, ElectricalResistance, ElectricalResistivity, Length, Ratio,
        SpecificHeatCapacity, TemperatureCoefficient, TemperatureInterval, ThermodynamicTemperature, Time, Torque,
    },
    ratio::ratio,
    specific_heat_capacity::joule_per_kilogram_kelvin,
    temperature_coefficient::per_kelvin,
    temperature_interval::kelvin as kelvin_apart,
    thermodynamic_temperature::degree_celsius,
};

/// Torque in a current: a motor's constant, in newton metres per ampere or volts per radian and second.
pub type TorqueConstant = <Torque as Div<ElectricCurrent>>::Output;
/// Resistance in a length, in ohms per metre.
pub type LinearResistance = <ElectricalResistance as Div<Length>>::Output;
/// Fraction in a voltage.
pub type PerVolt = <Ratio as Div<ElectricPotential>>::Output;
/// Rise of temperature in a time, in kelvin per second.
pub type HeatingRate = <TemperatureInterval as Div<Time>>::Output;

/// Square of a current over time, which melts fuses: the Joule integral, in A²·s.
pub type JouleIntegral = <<ElectricCurrent as Mul<ElectricCurrent>>::Output as Mul<Time>>::Output;

/// How much warmer one temperature is than another.
pub(crate) fn warmer(hot: ThermodynamicTemperature, than: ThermodynamicTemperature) -> TemperatureInterval {
    TemperatureInterval::new::<kelvin_apart>(hot.value - than.value)
}

/// A number as a plain ratio.
pub(crate) fn plain(number: f64) -> Ratio {
    Ratio::new::<ratio>(number)
}

/// A quantity, or nothing where it is negative. A number that is not one stays so, unlike with `max`: an answer must not
/// come out of a question that has none.
pub(crate) fn not_negative<D: Dimension + ?Sized>(quantity: Quantity<D, SI<f64>, f64>) -> Quantity<D, SI<f64>, f64> {
    if quantity.value < 0.0 { Quantity { value: 0.0, ..quantity } } else { quantity }
}

/// The lesser of two, with what is not a number kept as in [`not_negative`].
pub(crate) fn lesser<D: Dimension + ?Sized>(
    one: Quantity<D, SI<f64>, f64>,
    other: Quantity<D, SI<f64>, f64>,
) -> Quantity<D, SI<f64>, f64> {
    if one.value < other.value || one.value.is_nan() { one } else { other }
}

/// Resistivity of annealed copper at 20 °C (IEC 60028: 1/58 Ω·mm²/m).
pub(crate) fn copper_resistivity() -> ElectricalResistivity {
    ElectricalResistivity::new::<ohm_meter>(1e-6 / 58.0)
}

/// What a copper conductor's resistance is multiplied by from 20 °C to a temperature (IEC 60028: 0.00393 /K).
pub(crate) fn copper_growth(temperature: ThermodynamicTemperature) -> Ratio {
    plain(1.0) + copper_excess(temperature)
}

/// The same less one: what the temperature adds, in proportion.
pub(crate) fn copper_excess(temperature: ThermodynamicTemperature) -> Ratio {
    let coefficient = TemperatureCoefficient::new::<per_kelvin>(0.00393);
    let reference = ThermodynamicTemperature::new::<degree_celsius>(20.0);
    coefficient * warmer(temperature, reference)
}

/// Specific heat of copper near room temperature (published: handbook tables of the metals).
pub(crate) fn copper_specific_heat() -> SpecificHeatCapacity {
    SpecificHeatCapacity::new::<joule_per_kilogram_kelvin>(385.0)
}
