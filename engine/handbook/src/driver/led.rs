//! LEDs with a series resistor.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Power};

use crate::{declare::model, physics::not_negative};

model! {
    /// Series resistor that gives an LED a wanted current
    "driver.led_resistor" as LED_RESISTOR, by led_resistor;
    source "common practice: (supply − forward voltage − driver's drop) / current";
    takes LedResistor {
        /// Supply of the LED and its resistor
        supply as "V_S": ElectricPotential, "V" in 1.8..=60.0;
        /// Forward voltage of the LED at the current, or of all in series
        forward as "V_F": ElectricPotential, "V" in 1.0..=50.0;
        /// Current wanted
        current as "I": ElectricCurrent, "mA" in 0.1..=1000.0;
        /// Drop in the pin or transistor that switches it
        driver_drop as "V_dr": ElectricPotential, "V" in 0.0..=3.0 or 0.0;
    }
    by {
        /// Voltage across the resistor
        across as "V_R", "V" = "supply - forward - driver_drop";
    }
    gives LedResistorRecord {
        /// Resistor
        resistance as "R": ElectricalResistance, "Ω" = "across / current";
        /// Heat in the resistor
        resistor_dissipation as "P_R": Power, "W" = "across * current";
        /// Power in the LED
        led_power as "P_LED": Power, "W" = "forward * current";
    }
    needs {
        "the supply is above the forward voltage and the driver's drop",
            |given| given.supply > given.forward + given.driver_drop;
    }
}

/// Evaluates `driver.led_resistor`. Without enough supply the resistance comes out negative.
pub fn led_resistor(given: &LedResistor) -> LedResistorRecord {
    let across = given.supply - given.forward - given.driver_drop;
    LedResistorRecord {
        resistance: across / given.current,
        resistor_dissipation: across * given.current,
        led_power: given.forward * given.current,
    }
}

model! {
    /// Current of an LED with a chosen series resistor
    "driver.led_current" as LED_CURRENT, by led_current;
    source "common practice: (supply − forward voltage − driver's drop) / resistance";
    takes LedCurrent {
        /// Supply of the LED and its resistor
        supply as "V_S": ElectricPotential, "V" in 1.8..=60.0;
        /// Forward voltage of the LED, or of all in series
        forward as "V_F": ElectricPotential, "V" in 1.0..=50.0;
        /// Series resistor
        resistance as "R": ElectricalResistance, "Ω" in 1.0..=100_000.0;
        /// Drop in the pin or transistor that switches it
        driver_drop as "V_dr": ElectricPotential, "V" in 0.0..=3.0 or 0.0;
    }
    by {
        /// Voltage across the resistor
        across as "V_R", "V" = "max(0 V, supply - forward - driver_drop)";
    }
    gives LedCurrentRecord {
        /// Current through both
        current as "I": ElectricCurrent, "A" = "across / resistance";
        /// Heat in the resistor
        resistor_dissipation as "P_R": Power, "W" = "across * current";
        /// Power in the LED
        led_power as "P_LED": Power, "W" = "forward * current";
    }
    needs {
        "the supply is above the forward voltage and the driver's drop",
            |given| given.supply > given.forward + given.driver_drop;
    }
}

/// Evaluates `driver.led_current`. Without enough supply no current flows.
pub fn led_current(given: &LedCurrent) -> LedCurrentRecord {
    let across = not_negative(given.supply - given.forward - given.driver_drop);
    let current: ElectricCurrent = across / given.resistance;
    LedCurrentRecord { current, resistor_dissipation: across * current, led_power: given.forward * current }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    /// Common practice: (supply − forward voltage) / current; 5 V, 2 V and 20 mA want 150 Ω.
    #[test]
    fn a_red_led_on_five_volts_wants_150_ohms() {
        let led =
            record("driver.led_resistor", &[("supply", 5.0, "V"), ("forward", 2.0, "V"), ("current", 20.0, "mA")]);
        close(led.get("resistance", "Ω"), 150.0, 1e-12);
        close(led.get("resistor_dissipation", "mW"), 60.0, 1e-12);
        close(led.get("led_power", "mW"), 40.0, 1e-12);
    }

    /// Common practice: an LED does not light on less than its forward voltage.
    #[test]
    fn no_current_flows_below_the_forward_voltage() {
        let led =
            record("driver.led_current", &[("supply", 2.0, "V"), ("forward", 3.2, "V"), ("resistance", 100.0, "Ω")]);
        assert_eq!(led.get("current", "A"), 0.0);
    }

    proptest! {
        /// The resistor for a current gives that current.
        #[test]
        fn resistor_and_current_are_inverses(supply in 5.0..24.0, current in 1.0..50.0, drop in 0.0..1.0) {
            let common = [("supply", supply, "V"), ("forward", 3.1, "V"), ("driver_drop", drop, "V")];
            let chosen = record("driver.led_resistor", &[&common[..], &[("current", current, "mA")]].concat());
            let resistance = ("resistance", chosen.get("resistance", "Ω"), "Ω");
            let led = record("driver.led_current", &[&common[..], &[resistance]].concat());
            close(led.get("current", "mA"), current, 1e-12);
            let total = led.get("current", "A") * (supply - drop);
            close(led.get("led_power", "W") + led.get("resistor_dissipation", "W"), total, 1e-12);
        }
    }
}
