//! The units of `uom`, read from its own lists: every quantity of the trade with its units, and the SI prefixes off the
//! list of metres.

use std::str::FromStr;

use uom::si::f64 as si;

use super::{Dimension, Kind, QuantityType, Unit, UnitTable, table::PREFIXES, unraise};

/// Reads quantities, units and prefixes into an empty table.
pub(super) fn read(table: &mut UnitTable) {
    quantities(table);
    for unit in uom::si::length::units() {
        if let Some(prefix) = unit.abbreviation().strip_suffix('m').filter(|_| unit.singular().ends_with("meter")) {
            let factor = si::Length::from_str(&format!("1 {}", unit.abbreviation())).map_or(1.0, |l| l.value);
            if !prefix.is_empty() && prefix.chars().count() <= 2 {
                table.prefixes.push((prefix.to_owned(), factor));
            }
        }
    }
}

macro_rules! quantities {
    ($($module:ident : $quantity:ident = $kind:ident,)+) => {
        fn quantities(table: &mut UnitTable) {
            $({
                let (exponents, kind) = (exponents_of::<dimension_of::$module>(), Kind::$kind);
                let description = uom::si::$module::description();
                let quantity = QuantityType { dimension: Dimension::of_quantity(description, exponents), kind };
                table.names.push((quantity, description));
                for unit in uom::si::$module::units() {
                    let abbreviation = unit.abbreviation();
                    let symbol = normal(abbreviation);
                    if !can_be_typed(&symbol)
                        || !has_a_symbol(&symbol, unit.singular())
                        || is_part_of_a_byte(stringify!($module), &symbol)
                        || LEFT_OUT.contains(&(stringify!($module), abbreviation))
                    {
                        continue;
                    }
                    if is_one_word(unit.singular()) {
                        table.spelt.push((unit.singular(), unit.plural(), symbol.clone()));
                    }
                    let at = |n: u8| si::$quantity::from_str(&format!("{n} {abbreviation}")).map(|q| q.value);
                    // Temperatures alone have zero points of their own.
                    let zero = if kind == Kind::Temperature { at(0) } else { Ok(0.0) };
                    if let (Ok(zero), Ok(one)) = (zero, at(1)) {
                        // A scale with a zero point of its own loses digits in the difference; its degree is exact in
                        // the list of intervals, which stands above it.
                        let interval = table.units.get(&symbol).map(|unit| unit.factor);
                        let factor = if zero == 0.0 { one } else { interval.unwrap_or(one - zero) };
                        let unit = Unit { symbol, factor, offset: zero, quantity };
                        if zero == 0.0 { table.insert(unit) } else { table.insert_over(unit) }
                    }
                }
            })+
        }

        mod dimension_of {
            $(#[allow(non_camel_case_types)] pub(super) type $module = uom::si::$module::Dimension;)+
        }
    };
}

// The order decides what a symbol means that two quantities share.
quantities! {
    ratio: Ratio = Plain,
    length: Length = Plain,
    area: Area = Plain,
    volume: Volume = Plain,
    mass: Mass = Plain,
    time: Time = Plain,
    frequency: Frequency = Frequency,
    angle: Angle = Angle,
    electric_current: ElectricCurrent = Plain,
    electric_potential: ElectricPotential = Plain,
    electrical_resistance: ElectricalResistance = Plain,
    electrical_conductance: ElectricalConductance = Plain,
    capacitance: Capacitance = Plain,
    inductance: Inductance = Plain,
    electric_charge: ElectricCharge = Plain,
    power: Power = ActivePower,
    energy: Energy = Energy,
    torque: Torque = Torque,
    temperature_interval: TemperatureInterval = TemperatureDifference,
    thermodynamic_temperature: ThermodynamicTemperature = Temperature,
    thermal_resistance: ThermalResistance = Plain,
    thermal_conductance: ThermalConductance = Plain,
    thermal_conductivity: ThermalConductivity = Plain,
    heat_capacity: HeatCapacity = Plain,
    specific_heat_capacity: SpecificHeatCapacity = Plain,
    temperature_coefficient: TemperatureCoefficient = Plain,
    velocity: Velocity = Plain,
    acceleration: Acceleration = Plain,
    force: Force = Plain,
    pressure: Pressure = Plain,
    angular_velocity: AngularVelocity = AngularVelocity,
    angular_acceleration: AngularAcceleration = Plain,
    moment_of_inertia: MomentOfInertia = Plain,
    magnetic_flux: MagneticFlux = Plain,
    magnetic_flux_density: MagneticFluxDensity = Plain,
    magnetic_field_strength: MagneticFieldStrength = Plain,
    electric_field: ElectricField = Plain,
    electrical_resistivity: ElectricalResistivity = Plain,
    electrical_conductivity: ElectricalConductivity = Plain,
    volume_rate: VolumeRate = Plain,
    mass_rate: MassRate = Plain,
    mass_density: MassDensity = Plain,
    amount_of_substance: AmountOfSubstance = Plain,
    luminous_intensity: LuminousIntensity = LuminousIntensity,
    luminance: Luminance = Luminance,
    illuminance: Illuminance = Illuminance,
    information: Information = Plain,
    information_rate: InformationRate = Plain,
}

fn exponents_of<D: uom::si::Dimension + ?Sized>() -> [i8; 7] {
    use uom::typenum::Integer;
    [D::L::I8, D::M::I8, D::T::I8, D::I::I8, D::Th::I8, D::N::I8, D::J::I8]
}

/// Whether a symbol can stand behind a number: no blanks, and brackets only as a denominator (`W/(m·K)`).
fn can_be_typed(symbol: &str) -> bool {
    let known = |c: char| c.is_alphabetic() || unraise(c).is_some() || "°%‰′″·/()".contains(c);
    !symbol.is_empty() && symbol.chars().all(known) && symbol.matches('(').count() == symbol.matches("/(").count()
}

/// Whether a name can be typed behind a number, and is not made of a prefix and another.
fn is_one_word(name: &str) -> bool {
    let prefixed = PREFIXES.iter().any(|(_, word)| name.starts_with(word) && name.len() > word.len());
    !prefixed && !name.contains(' ')
}

/// Whether a unit is written by a symbol, and not by its whole name: those that are not are Roman or out of use, and a slip
/// of the finger would make quantities of them.
fn has_a_symbol(symbol: &str, name: &str) -> bool {
    symbol != name || ["bar", "slug", "fathom"].contains(&symbol)
}

/// Parts of a bit or byte mean nothing; and `dB` would read as a tenth of a byte.
fn is_part_of_a_byte(module: &str, symbol: &str) -> bool {
    module == "information"
        && symbol.starts_with(['d', 'c', 'm', 'µ', 'n', 'p', 'f', 'a', 'z', 'y'])
        && symbol.ends_with(['b', 'B'])
}

/// `N · m` as the engine writes it: `N·m`.
fn normal(abbreviation: &str) -> String {
    let plain = abbreviation.trim();
    if plain.is_ascii() { plain.to_owned() } else { plain.replace(" · ", "·").replace('μ', "µ") }
}

/// Symbols that are left out: they would hide a more usual meaning, or read like a value's name.
const LEFT_OUT: &[(&str, &str)] = &[
    ("angle", "mil"),
    ("area", "b"),
    ("length", "M"),
    ("length", "l."),
    ("length", "rd"),
    ("length", "ch"),
    ("length", "μ"),
    ("length", "μin"),
    ("area", "b"),
    ("heat_capacity", "k"),
    ("velocity", "c"),
    ("electric_charge", "e"),
];
