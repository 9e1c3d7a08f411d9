//! A battery as a voltage behind a resistance.

use uom::si::f64::{ElectricCharge, ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, Time};

use crate::{
    declare::model,
    physics::{lesser, not_negative},
};

model! {
    /// A battery at a load: voltage, heat inside, run time, and the current of a short circuit, which can cause a fire where
    /// no fuse is fitted close to the battery
    "supply.battery" as BATTERY, by battery;
    source "published: any circuits handbook (a voltage behind a resistance); run time from the capacity at that load, of \
        which a part is used: common practice";
    takes Battery {
        /// Voltage without load, of all cells in series
        no_load as "V_0": ElectricPotential, "V" in 0.8..=60.0;
        /// Resistance inside, of all cells; several times as high in a cold or nearly empty battery
        internal_resistance as "R_i": ElectricalResistance, "Ω" in 0.001..=100.0;
        /// Current drawn
        load as "I": ElectricCurrent, "mA" in 0.001..=20_000.0;
        /// Charge that the datasheet gives for such a current
        capacity as "Q": ElectricCharge, "mA·h" in 10.0..=200_000.0;
        /// Part of the charge that is used before the voltage is too low for the load
        usable as "u": Ratio, "%" in 5.0..=100.0 or 80.0;
    }
    gives BatteryRecord {
        /// Voltage at the load
        voltage as "V": ElectricPotential, "V" = "max(0 V, no_load - internal_resistance * load)";
        /// Power into the load
        power as "P": Power, "W" = "voltage * load";
        /// Heat in the battery
        dissipation as "P_i": Power, "W" = "min(no_load, internal_resistance * load) * load";
        /// Current of a short circuit, which fuse and wires must be chosen for
        short_circuit_current as "I_sc": ElectricCurrent, "A" = "no_load / internal_resistance";
        /// Time that the battery lasts
        run_time as "t": Time, "h" = "usable * capacity / load";
    }
    needs {
        "the load takes at most half of the current of a short circuit",
            |given| given.load * given.internal_resistance * 2.0 <= given.no_load;
    }
}

/// Evaluates `supply.battery`.
pub fn battery(given: &Battery) -> BatteryRecord {
    let inside: ElectricPotential = given.internal_resistance * given.load;
    let voltage = not_negative(given.no_load - inside);
    BatteryRecord {
        voltage,
        power: voltage * given.load,
        dissipation: lesser(given.no_load, inside) * given.load,
        short_circuit_current: given.no_load / given.internal_resistance,
        run_time: given.usable * given.capacity / given.load,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::BATTERY;
    use crate::check::{Record, close, record};

    fn nine_volts(load: f64) -> Record {
        let given = [
            ("no_load", 9.0, "V"),
            ("internal_resistance", 2.0, "Ω"),
            ("load", load, "mA"),
            ("capacity", 500.0, "mA·h"),
        ];
        record("supply.battery", &given)
    }

    /// Worked by hand: 2 Ω and 250 mA are 0.5 V of 9 V; four fifths of 500 mA·h last 1.6 h at 250 mA; 4.5 A at most.
    #[test]
    fn a_battery_drops_its_resistance_times_the_current() {
        let battery = nine_volts(250.0);
        close(battery.get("voltage", "V"), 8.5, 1e-12);
        close(battery.get("power", "W"), 2.125, 1e-12);
        close(battery.get("dissipation", "mW"), 125.0, 1e-12);
        close(battery.get("run_time", "min"), 96.0, 1e-12);
        close(battery.get("short_circuit_current", "A"), 4.5, 1e-12);
        let holds = |load| (BATTERY.conditions[0].holds)(&[9.0, 2.0, load, 1800.0, 0.8]);
        assert!(holds(2.2) && !holds(2.3));
    }

    proptest! {
        /// Published: circuits handbooks: a source gives most power where the load has its own resistance, V²/(4·R).
        #[test]
        fn power_is_greatest_at_half_the_current_of_a_short_circuit(load in 0.0..4500.0) {
            let most = 9.0 * 9.0 / (4.0 * 2.0);
            prop_assert!(nine_volts(load).get("power", "W") <= most * (1.0 + 1e-12));
            close(nine_volts(2250.0).get("power", "W"), most, 1e-12);
            let total = nine_volts(load).get("power", "W") + nine_volts(load).get("dissipation", "W");
            prop_assert!((total - 9.0 * load * 1e-3).abs() < 1e-12);
        }
    }
}
