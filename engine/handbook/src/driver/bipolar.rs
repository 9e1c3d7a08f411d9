//! A bipolar transistor as a switch: driven into saturation through a base resistor.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, TemperatureInterval, ThermalResistance,
    ThermodynamicTemperature,
};

use crate::{
    declare::model,
    physics::{not_negative, plain},
};

model! {
    /// A saturated transistor with a chosen base resistor: what the pin gives, how deep it saturates, how hot it gets
    "driver.bipolar_switch" as BIPOLAR_SWITCH, by bipolar_switch;
    source "common practice: base current from the drop at the base resistor, saturated with a forced beta well under \
        the least gain; defaults of a small-signal transistor in TO-92";
    takes BipolarSwitch {
        /// Voltage of the driving pin when high, under the base current
        pin_high as "V_H": ElectricPotential, "V" in 1.2..=16.0;
        /// Resistor from the pin to the base
        base_resistor as "R_B": ElectricalResistance, "kΩ" in 0.01..=1000.0;
        /// Current that the load takes through the collector
        load_current as "I_C": ElectricCurrent, "mA" in 0.001..=10_000.0;
        /// Least current gain at that collector current, from the datasheet
        minimum_gain as "β_min": Ratio, "" in 5.0..=1000.0;
        /// Drop from base to emitter when on
        base_emitter as "V_BE": ElectricPotential, "V" in 0.5..=1.5 or 0.7;
        /// Drop from collector to emitter in saturation
        collector_emitter_saturation as "V_CE": ElectricPotential, "V" in 0.02..=1.5 or 0.2;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0 or 25.0;
        /// Thermal resistance from junction to ambient
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" in 1.0..=500.0 or 200.0;
    }
    by {
        /// What the junction is warmer than the air by
        rise as "ΔT", "K" = "dissipation * junction_to_ambient";
    }
    gives BipolarSwitchRecord {
        /// Current that the pin must source, all of it into the base
        pin_current as "I_B": ElectricCurrent, "A" = "max(0 V, pin_high - base_emitter) / base_resistor";
        /// Collector current in proportion to base current
        forced_beta as "β_F": Ratio, "" = "load_current / pin_current" unless "the pin gives no base current";
        /// How many times the base current that just saturates it
        overdrive as "k": Ratio, "" = "greatest_load / load_current";
        /// Whether the base current saturates even a transistor of the least gain
        saturated: bool, condition = "overdrive >= 1";
        /// Greatest collector current that the base current saturates at the least gain
        greatest_load as "I_C_max": ElectricCurrent, "A" = "pin_current * minimum_gain";
        /// Heat in the transistor while it is saturated
        dissipation as "P": Power, "W" = "collector_emitter_saturation * load_current + base_emitter * pin_current";
        /// Heat in the base resistor
        resistor_dissipation as "P_R": Power, "W" = "pin_current^2 * base_resistor";
        /// Temperature of the junction
        junction as "T_J": ThermodynamicTemperature, "°C" = "ambient + rise";
    }
    needs {
        "the pin's high level is above the base-emitter drop", |given| given.pin_high > given.base_emitter;
        "the base current saturates the transistor at its least gain", |given| bipolar_switch(&given).saturated;
    }
}

/// Evaluates `driver.bipolar_switch`.
pub fn bipolar_switch(given: &BipolarSwitch) -> BipolarSwitchRecord {
    let pin_current: ElectricCurrent = not_negative((given.pin_high - given.base_emitter) / given.base_resistor);
    let greatest_load = pin_current * given.minimum_gain;
    let overdrive: Ratio = greatest_load / given.load_current;
    let dissipation: Power = given.collector_emitter_saturation * given.load_current + given.base_emitter * pin_current;
    BipolarSwitchRecord {
        pin_current,
        forced_beta: given.load_current / pin_current,
        overdrive,
        saturated: overdrive >= plain(1.0),
        greatest_load,
        dissipation,
        resistor_dissipation: pin_current * pin_current * given.base_resistor,
        junction: given.ambient + TemperatureInterval::from(dissipation * given.junction_to_ambient),
    }
}

model! {
    /// Base resistor that saturates a transistor with a wanted overdrive
    "driver.base_resistor" as BASE_RESISTOR, by base_resistor;
    source "common practice: two to five times the base current that just saturates a transistor of the least gain";
    takes BaseResistor {
        /// Voltage of the driving pin when high, under the base current
        pin_high as "V_H": ElectricPotential, "V" in 1.2..=16.0;
        /// Current that the load takes through the collector
        load_current as "I_C": ElectricCurrent, "mA" in 0.001..=10_000.0;
        /// Least current gain at that collector current, from the datasheet
        minimum_gain as "β_min": Ratio, "" in 5.0..=1000.0;
        /// How many times the base current that just saturates it
        overdrive as "k": Ratio, "" in 1.0..=20.0 or 3.0;
        /// Drop from base to emitter when on
        base_emitter as "V_BE": ElectricPotential, "V" in 0.5..=1.5 or 0.7;
    }
    by {
        /// Voltage across the resistor
        across as "V_R", "V" = "pin_high - base_emitter";
    }
    gives BaseResistorRecord {
        /// Greatest base resistor that does it
        resistance as "R_B": ElectricalResistance, "Ω" = "across / pin_current";
        /// Current that the pin must source
        pin_current as "I_B": ElectricCurrent, "A" = "load_current / forced_beta";
        /// Collector current in proportion to base current
        forced_beta as "β_F": Ratio, "" = "minimum_gain / overdrive";
        /// Heat in the resistor
        resistor_dissipation as "P_R": Power, "W" = "across * pin_current";
    }
    needs {
        "the pin's high level is above the base-emitter drop", |given| given.pin_high > given.base_emitter;
    }
}

/// Evaluates `driver.base_resistor`.
pub fn base_resistor(given: &BaseResistor) -> BaseResistorRecord {
    let forced_beta = given.minimum_gain / given.overdrive;
    let pin_current: ElectricCurrent = given.load_current / forced_beta;
    let across = given.pin_high - given.base_emitter;
    BaseResistorRecord {
        resistance: across / pin_current,
        pin_current,
        forced_beta,
        resistor_dissipation: across * pin_current,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::BIPOLAR_SWITCH;
    use crate::check::{close, record};

    /// Common practice, worked by hand: a relay of 30 mA from a 5 V pin over 4.3 kΩ is 1 mA into the base, forced beta 30.
    #[test]
    fn a_transistor_of_gain_100_is_overdriven_three_times() {
        let switch = record(
            "driver.bipolar_switch",
            &[
                ("pin_high", 5.0, "V"),
                ("base_resistor", 4.3, "kΩ"),
                ("load_current", 30.0, "mA"),
                ("minimum_gain", 100.0, ""),
            ],
        );
        close(switch.get("pin_current", "mA"), 1.0, 1e-12);
        close(switch.get("forced_beta", ""), 30.0, 1e-12);
        close(switch.get("overdrive", ""), 100.0 / 30.0, 1e-12);
        close(switch.get("greatest_load", "mA"), 100.0, 1e-12);
        close(switch.get("dissipation", "mW"), 6.7, 1e-12);
        close(switch.get("resistor_dissipation", "mW"), 4.3, 1e-12);
        close(switch.get("junction", "°C"), 25.0 + 1.34, 1e-12);
        assert!(switch.is("saturated"));
    }

    /// Common practice: a load above base current times gain takes the transistor out of saturation, and the model warns.
    #[test]
    fn too_great_a_load_leaves_saturation() {
        let switch = record(
            "driver.bipolar_switch",
            &[
                ("pin_high", 5.0, "V"),
                ("base_resistor", 4.3, "kΩ"),
                ("load_current", 101.0, "mA"),
                ("minimum_gain", 100.0, ""),
            ],
        );
        assert!(!switch.is("saturated"));
        let holds = |load| {
            let inputs = [5.0, 4300.0, load, 100.0, 0.7, 0.2, 298.15, 200.0];
            BIPOLAR_SWITCH.conditions.iter().all(|condition| (condition.holds)(&inputs))
        };
        assert!(holds(0.099) && !holds(0.101));
    }

    proptest! {
        /// The resistor for a wanted overdrive, put into the switch, gives that overdrive.
        #[test]
        fn the_base_resistor_gives_its_overdrive(pin in 1.5..15.0, load in 1.0..500.0, overdrive in 1.0..10.0) {
            let common = [("pin_high", pin, "V"), ("load_current", load, "mA"), ("minimum_gain", 80.0, "")];
            let chosen = record("driver.base_resistor", &[&common[..], &[("overdrive", overdrive, "")]].concat());
            let resistor = ("base_resistor", chosen.get("resistance", "Ω"), "Ω");
            let switch = record("driver.bipolar_switch", &[&common[..], &[resistor]].concat());
            close(switch.get("overdrive", ""), overdrive, 1e-12);
            close(switch.get("pin_current", "A"), chosen.get("pin_current", "A"), 1e-12);
            close(switch.get("forced_beta", ""), chosen.get("forced_beta", ""), 1e-12);
            close(switch.get("resistor_dissipation", "W"), chosen.get("resistor_dissipation", "W"), 1e-12);
        }
    }
}
