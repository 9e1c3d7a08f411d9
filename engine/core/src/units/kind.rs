//! Kinds: what distinguishes quantities of one dimension. A torque is not an energy, a frequency not an angular velocity,
//! and a temperature (a point on a scale) not a temperature difference. Kinds are checked where values are added,
//! compared, passed on or given a declared unit; products drop them, so that `2 * π * f` can be an angular velocity.

use serde::{Deserialize, Serialize};

use super::Dimension;

/// What a quantity is, beside its dimension.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Kind {
    /// Nothing beyond its dimension.
    Plain,
    /// A point on a temperature scale.
    Temperature,
    /// A distance between two temperatures.
    TemperatureDifference,
    /// Force at a lever arm.
    Torque,
    /// Work or heat.
    Energy,
    /// Cycles in a time.
    Frequency,
    /// Angle in a time.
    AngularVelocity,
    /// A plane angle.
    Angle,
    /// Power that turns into work or heat (W).
    ActivePower,
    /// Voltage times current of an alternating current, whatever their phase (VA).
    ApparentPower,
    /// The part of the apparent power that goes back and forth (var).
    ReactivePower,
    /// Light that a source sends in one direction (cd).
    LuminousIntensity,
    /// Light that a source sends in all directions together (lm).
    LuminousFlux,
    /// Light that falls on an area (lx).
    Illuminance,
    /// Light that an area sends in one direction (cd/m²).
    Luminance,
}

impl Kind {
    /// Every kind.
    pub(super) const ALL: [Kind; 15] = [
        Kind::Plain,
        Kind::Temperature,
        Kind::TemperatureDifference,
        Kind::Torque,
        Kind::Energy,
        Kind::Frequency,
        Kind::AngularVelocity,
        Kind::Angle,
        Kind::ActivePower,
        Kind::ApparentPower,
        Kind::ReactivePower,
        Kind::LuminousIntensity,
        Kind::LuminousFlux,
        Kind::Illuminance,
        Kind::Luminance,
    ];

    /// The kind in words.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Plain => "a plain quantity",
            Kind::Temperature => "a temperature",
            Kind::TemperatureDifference => "a temperature difference",
            Kind::Torque => "a torque",
            Kind::Energy => "an energy",
            Kind::Frequency => "a frequency",
            Kind::AngularVelocity => "an angular velocity",
            Kind::Angle => "an angle",
            Kind::ActivePower => "an active power",
            Kind::ApparentPower => "an apparent power",
            Kind::ReactivePower => "a reactive power",
            Kind::LuminousIntensity => "a luminous intensity",
            Kind::LuminousFlux => "a luminous flux",
            Kind::Illuminance => "an illuminance",
            Kind::Luminance => "a luminance",
        }
    }

    /// The kind of a product: none, but that a product in kelvin can only be a difference.
    pub fn of_product(dimension: Dimension) -> Self {
        if dimension == TEMPERATURE { Kind::TemperatureDifference } else { Kind::Plain }
    }

    /// The kind of two values that stand side by side (added, compared, chosen between); `None` where they clash.
    pub fn joined(self, other: Self) -> Option<Self> {
        match (self, other) {
            (a, b) if a == b => Some(a),
            (Kind::Plain, k) | (k, Kind::Plain) => Some(k),
            _ => None,
        }
    }
}

/// The dimension of temperatures.
pub const TEMPERATURE: Dimension = Dimension::new([0, 0, 0, 0, 1, 0, 0]);

/// The dimension and kind of a quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct QuantityType {
    /// Its dimension.
    pub dimension: Dimension,
    /// Its kind.
    pub kind: Kind,
}

impl QuantityType {
    /// A plain number.
    pub const NUMBER: QuantityType = QuantityType { dimension: Dimension::NONE, kind: Kind::Plain };

    /// A quantity that a product or a power came to.
    pub fn product(dimension: Dimension) -> Self {
        Self { dimension, kind: Kind::of_product(dimension) }
    }
}

/// What a value is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ValueType {
    /// A quantity.
    Quantity(QuantityType),
    /// True or false.
    Condition,
}
