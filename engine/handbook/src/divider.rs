//! Voltage dividers.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio};

use crate::{declare::model, physics::plain};

model! {
    /// A voltage divider with a load at its lower resistor
    "divider.loaded" as LOADED, by loaded;
    source "published: any circuits handbook (V·R_2/(R_1 + R_2) behind R_1 and R_2 in parallel, by Thévenin)";
    takes Loaded {
        /// Voltage across the divider
        supply as "V": ElectricPotential, "V" in 0.1..=60.0;
        /// Resistor from the supply to the tap
        upper as "R_1": ElectricalResistance, "kΩ" in 0.001..=100_000.0;
        /// Resistor from the tap to ground
        lower as "R_2": ElectricalResistance, "kΩ" in 0.001..=100_000.0;
        /// Resistance of the load, from the tap to ground
        load as "R_L": ElectricalResistance, "kΩ" in 0.001..=10_000_000.0;
    }
    gives LoadedRecord {
        /// Voltage at the tap without load
        no_load as "V_0": ElectricPotential, "V" = "supply * lower / (upper + lower)";
        /// Voltage at the tap
        voltage as "V_out": ElectricPotential, "V" = "no_load * load / (load + source_resistance)";
        /// What the load takes off the voltage, in proportion
        error as "δ": Ratio, "%" = "source_resistance / (load + source_resistance)";
        /// Resistance that the load sees
        source_resistance as "R_i": ElectricalResistance, "Ω" = "upper ∥ lower";
        /// Current through the load
        load_current as "I_L": ElectricCurrent, "A" = "voltage / load";
        /// Current from the supply
        current as "I": ElectricCurrent, "A" = "supply / (upper + (lower ∥ load))";
        /// Power from the supply
        power as "P": Power, "W" = "supply * current";
    }
}

/// Evaluates `divider.loaded`.
pub fn loaded(given: &Loaded) -> LoadedRecord {
    let no_load = given.supply * Ratio::from(given.lower / (given.upper + given.lower));
    let source_resistance = parallel(given.upper, given.lower);
    let voltage = no_load * Ratio::from(given.load / (given.load + source_resistance));
    let current: ElectricCurrent = given.supply / (given.upper + parallel(given.lower, given.load));
    LoadedRecord {
        no_load,
        voltage,
        error: source_resistance / (given.load + source_resistance),
        source_resistance,
        load_current: voltage / given.load,
        current,
        power: given.supply * current,
    }
}

fn parallel(one: ElectricalResistance, other: ElectricalResistance) -> ElectricalResistance {
    one / (plain(1.0) + one / other)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    /// Worked by hand: 10 kΩ over 10 kΩ halve 10 V; 10 kΩ beside the lower one make 10/3 V of it, a third less.
    #[test]
    fn a_load_like_the_divider_takes_a_third_off() {
        let given = [("supply", 10.0, "V"), ("upper", 10.0, "kΩ"), ("lower", 10.0, "kΩ"), ("load", 10.0, "kΩ")];
        let it = record("divider.loaded", &given);
        close(it.get("no_load", "V"), 5.0, 1e-12);
        close(it.get("voltage", "V"), 10.0 / 3.0, 1e-12);
        close(it.get("error", "%"), 100.0 / 3.0, 1e-12);
        close(it.get("source_resistance", "kΩ"), 5.0, 1e-12);
        close(it.get("load_current", "mA"), 1.0 / 3.0, 1e-12);
        close(it.get("current", "mA"), 2.0 / 3.0, 1e-12);
        close(it.get("power", "mW"), 20.0 / 3.0, 1e-12);
    }

    proptest! {
        /// Kirchhoff's laws: the voltages add up to the supply, and the currents at the tap to nothing.
        #[test]
        fn kirchhoff_s_laws_hold(upper in 0.1..1000.0, lower in 0.1..1000.0, load in 0.1..1000.0) {
            let given = [("supply", 9.0, "V"), ("upper", upper, "kΩ"), ("lower", lower, "kΩ"), ("load", load, "kΩ")];
            let it = record("divider.loaded", &given);
            let (voltage, current) = (it.get("voltage", "V"), it.get("current", "mA"));
            close(current * upper + voltage, 9.0, 1e-9);
            close(voltage / lower + it.get("load_current", "mA"), current, 1e-9);
            close(it.get("no_load", "V") * (1.0 - it.get("error", "")), voltage, 1e-9);
        }
    }
}
