//! Two transistors that make one of high gain, and what that costs in voltage and heat.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, ThermalResistance, ThermodynamicTemperature,
};

use super::bipolar::{BipolarSwitch, bipolar_switch};
use crate::{declare::model, physics::not_negative};

model! {
    /// A saturated Darlington transistor: what the pin gives, what is left for the load, how hot it gets
    "driver.darlington" as DARLINGTON, by darlington;
    source "common practice: as a single transistor, with a gain of a thousand and more, two base-emitter drops, and never less \
        than one of them from collector to emitter; defaults of a medium power transistor in TO-220 without heatsink";
    takes Darlington {
        /// Supply of the load
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Voltage of the driving pin when high, under the base current
        pin_high as "V_H": ElectricPotential, "V" in 1.8..=16.0;
        /// Resistor from the pin to the base
        base_resistor as "R_B": ElectricalResistance, "kΩ" in 0.01..=1000.0;
        /// Current that the load takes through the collector
        load_current as "I_C": ElectricCurrent, "A" in 0.001..=20.0;
        /// Least current gain of both together at that collector current, from the datasheet
        minimum_gain as "β_min": Ratio, "" in 50.0..=50_000.0 or 1000.0;
        /// Drop from base to emitter when on
        base_emitter as "V_BE": ElectricPotential, "V" in 1.0..=3.5 or 1.5;
        /// Drop from collector to emitter in saturation
        collector_emitter_saturation as "V_CE": ElectricPotential, "V" in 0.6..=4.0 or 1.0;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0 or 25.0;
        /// Thermal resistance from junction to ambient
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" in 1.0..=300.0 or 62.5;
    }
    by {
        /// What the junction is warmer than the air by
        rise as "ΔT", "K" = "dissipation * junction_to_ambient";
    }
    gives DarlingtonRecord {
        /// Current that the pin must source, all of it into the base
        pin_current as "I_B": ElectricCurrent, "A" = "max(0 V, pin_high - base_emitter) / base_resistor";
        /// How many times the base current that just saturates it
        overdrive as "k": Ratio, "" = "pin_current * minimum_gain / load_current";
        /// Whether the base current saturates even a transistor of the least gain
        saturated: bool, condition = "overdrive >= 1";
        /// Voltage that is left for the load
        load_voltage as "V_L": ElectricPotential, "V" = "max(0 V, supply - collector_emitter_saturation)";
        /// Heat in the transistor while it is saturated
        dissipation as "P": Power, "W" = "collector_emitter_saturation * load_current + base_emitter * pin_current";
        /// Temperature of the junction
        junction as "T_J": ThermodynamicTemperature, "°C" = "ambient + rise";
    }
    needs {
        "the pin's high level is above the base-emitter drop", |given| given.pin_high > given.base_emitter;
        "the base current saturates the transistor at its least gain", |given| darlington(&given).saturated;
    }
}

/// Evaluates `driver.darlington`.
pub fn darlington(given: &Darlington) -> DarlingtonRecord {
    let switch = bipolar_switch(&BipolarSwitch {
        pin_high: given.pin_high,
        base_resistor: given.base_resistor,
        load_current: given.load_current,
        minimum_gain: given.minimum_gain,
        base_emitter: given.base_emitter,
        collector_emitter_saturation: given.collector_emitter_saturation,
        ambient: given.ambient,
        junction_to_ambient: given.junction_to_ambient,
    });
    DarlingtonRecord {
        pin_current: switch.pin_current,
        overdrive: switch.overdrive,
        saturated: switch.saturated,
        load_voltage: not_negative(given.supply - given.collector_emitter_saturation),
        dissipation: switch.dissipation,
        junction: switch.junction,
    }
}

#[cfg(test)]
mod tests {
    use crate::check::{Record, close, record};

    fn switch(load: f64) -> Record {
        let given = [("supply", 12.0, "V"), ("pin_high", 5.0, "V"), ("base_resistor", 3.5, "kΩ")];
        record("driver.darlington", &[&given[..], &[("load_current", load, "A")]].concat())
    }

    /// Worked by hand: 3.5 V over 3.5 kΩ are 1 mA, good for 1 A at a gain of 1000; 0.5 A at 1 V and 1 mA at 1.5 V are
    /// 0.5015 W, by 62.5 K/W 31.34 K above 25 °C.
    #[test]
    fn a_milliampere_switches_an_ampere() {
        let it = switch(0.5);
        close(it.get("pin_current", "mA"), 1.0, 1e-12);
        close(it.get("overdrive", ""), 2.0, 1e-12);
        close(it.get("load_voltage", "V"), 11.0, 1e-12);
        close(it.get("dissipation", "W"), 0.5015, 1e-12);
        close(it.get("junction", "°C"), 56.343_75, 1e-12);
        assert!(switch(0.999).is("saturated") && !switch(1.001).is("saturated"));
    }
}
