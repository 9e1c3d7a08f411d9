//! Quantities in words that a reader knows: `a voltage (V)`, `a torque (N·m)`.

use benchleaf_words::{Phrase, Word, key, phrase};

use super::{CURRENCIES, DisplayUnit, Kind, QuantityType, ValueType, table};

/// What the trade calls the quantities of `uom`'s list.
const NAMES: &[(&str, Word<0>)] = &[
    ("length", key::QUANTITY_LENGTH),
    ("area", key::QUANTITY_AREA),
    ("volume", key::QUANTITY_VOLUME),
    ("mass", key::QUANTITY_MASS),
    ("time", key::QUANTITY_TIME),
    ("frequency", key::QUANTITY_FREQUENCY),
    ("angle", key::QUANTITY_ANGLE),
    ("electric current", key::QUANTITY_CURRENT),
    ("electric potential", key::QUANTITY_VOLTAGE),
    ("electrical resistance", key::QUANTITY_RESISTANCE),
    ("electrical conductance", key::QUANTITY_CONDUCTANCE),
    ("capacitance", key::QUANTITY_CAPACITANCE),
    ("inductance", key::QUANTITY_INDUCTANCE),
    ("electric charge", key::QUANTITY_CHARGE),
    ("power", key::QUANTITY_POWER),
    ("energy", key::QUANTITY_ENERGY),
    ("torque", key::QUANTITY_TORQUE),
    ("temperature interval", key::QUANTITY_TEMPERATURE_DIFFERENCE),
    ("thermodynamic temperature", key::QUANTITY_TEMPERATURE),
    ("thermal resistance", key::QUANTITY_THERMAL_RESISTANCE),
    ("thermal conductance", key::QUANTITY_THERMAL_CONDUCTANCE),
    ("thermal conductivity", key::QUANTITY_THERMAL_CONDUCTIVITY),
    ("heat capacity", key::QUANTITY_HEAT_CAPACITY),
    ("specific heat capacity", key::QUANTITY_SPECIFIC_HEAT_CAPACITY),
    ("temperature coefficient", key::QUANTITY_TEMPERATURE_COEFFICIENT),
    ("velocity", key::QUANTITY_VELOCITY),
    ("acceleration", key::QUANTITY_ACCELERATION),
    ("force", key::QUANTITY_FORCE),
    ("pressure", key::QUANTITY_PRESSURE),
    ("angular velocity", key::QUANTITY_ANGULAR_VELOCITY),
    ("angular acceleration", key::QUANTITY_ANGULAR_ACCELERATION),
    ("moment of inertia", key::QUANTITY_MOMENT_OF_INERTIA),
    ("magnetic flux", key::QUANTITY_MAGNETIC_FLUX),
    ("magnetic flux density", key::QUANTITY_MAGNETIC_FLUX_DENSITY),
    ("magnetic field strength (H field)", key::QUANTITY_MAGNETIC_FIELD_STRENGTH_FIELD),
    ("electric field", key::QUANTITY_ELECTRIC_FIELD),
    ("electrical resistivity", key::QUANTITY_ELECTRICAL_RESISTIVITY),
    ("electrical conductivity", key::QUANTITY_ELECTRICAL_CONDUCTIVITY),
    ("volume rate", key::QUANTITY_VOLUME_RATE),
    ("mass rate", key::QUANTITY_MASS_RATE),
    ("mass density", key::QUANTITY_MASS_DENSITY),
    ("amount of substance", key::QUANTITY_AMOUNT_OF_SUBSTANCE),
    ("luminous intensity", key::QUANTITY_LUMINOUS_INTENSITY),
    ("luminance", key::QUANTITY_LUMINANCE),
    ("illuminance", key::QUANTITY_ILLUMINANCE),
    ("information", key::QUANTITY_AMOUNT_OF_DATA),
    ("information rate", key::QUANTITY_DATA_RATE),
    ("apparent power", key::QUANTITY_APPARENT_POWER),
    ("reactive power", key::QUANTITY_REACTIVE_POWER),
    ("luminous flux", key::QUANTITY_LUMINOUS_FLUX),
];

impl QuantityType {
    /// What it is, with its unit: `a voltage (V)`.
    pub fn describe(self) -> Phrase {
        let unit = DisplayUnit::picked(self, 0.0).unit.symbol;
        let name = table().quantity_name(self).and_then(|name| NAMES.iter().find(|row| row.0 == name));
        match name {
            _ if self == QuantityType::NUMBER => phrase!(QUANTITY_PLAIN_NUMBER),
            Some((_, name)) => phrase!(QUANTITY_WITH_UNIT, quantity = name, unit = unit),
            None if CURRENCIES.contains(&unit.as_str()) => phrase!(QUANTITY_MONEY, unit = unit),
            None => phrase!(QUANTITY_IN_UNIT, unit = unit),
        }
    }

    /// The same, or the kind in words where the dimension alone does not say it.
    pub fn describe_kind(self) -> Phrase {
        match self.kind {
            Kind::Plain => self.describe(),
            kind => {
                let unit = DisplayUnit::picked(self, 0.0).unit.symbol;
                phrase!(QUANTITY_WITH_UNIT, quantity = kind.describe(), unit = unit)
            }
        }
    }
}

impl ValueType {
    /// What it is, in words.
    pub fn describe(self) -> Phrase {
        match self {
            ValueType::Quantity(quantity) => quantity.describe(),
            ValueType::Condition => phrase!(QUANTITY_CONDITION),
        }
    }
}

impl Kind {
    /// What it is, in words: `a torque`.
    pub fn describe(self) -> Phrase {
        Phrase::from(match self {
            Kind::Plain => key::QUANTITY_PLAIN,
            Kind::Temperature => key::QUANTITY_TEMPERATURE,
            Kind::TemperatureDifference => key::QUANTITY_TEMPERATURE_DIFFERENCE,
            Kind::Torque => key::QUANTITY_TORQUE,
            Kind::Energy => key::QUANTITY_ENERGY,
            Kind::Frequency => key::QUANTITY_FREQUENCY,
            Kind::AngularVelocity => key::QUANTITY_ANGULAR_VELOCITY,
            Kind::Angle => key::QUANTITY_ANGLE,
            Kind::ActivePower => key::QUANTITY_ACTIVE_POWER,
            Kind::ApparentPower => key::QUANTITY_APPARENT_POWER,
            Kind::ReactivePower => key::QUANTITY_REACTIVE_POWER,
            Kind::LuminousIntensity => key::QUANTITY_LUMINOUS_INTENSITY,
            Kind::LuminousFlux => key::QUANTITY_LUMINOUS_FLUX,
            Kind::Illuminance => key::QUANTITY_ILLUMINANCE,
            Kind::Luminance => key::QUANTITY_LUMINANCE,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quantity_of_the_list_has_a_name() {
        for (quantity, name) in &table().names {
            let said = quantity.describe();
            let has_name = matches!(&said, Phrase::Text(_, values) if values.len() == 2);
            assert!(*quantity == QuantityType::NUMBER || has_name, "{name}: {}", said.english());
        }
    }
}
