//! An LED and a transistor that see each other and share no wire.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Ratio};

use crate::{declare::model, physics::not_negative};

model! {
    /// An optocoupler at its least transfer ratio: whether its transistor pulls the output low; it isolates no further than
    /// the gaps on the board do
    "driver.optocoupler" as OPTOCOUPLER, by optocoupler;
    source "common practice: collector current from LED current by the datasheet's least transfer ratio, of which temperature \
        and years leave a half";
    takes Optocoupler {
        /// Voltage of the driving pin when high
        pin_high as "V_H": ElectricPotential, "V" in 1.8..=30.0;
        /// Resistor in series with the LED
        resistor as "R": ElectricalResistance, "Ω" in 10.0..=100_000.0;
        /// Forward voltage of the LED
        forward as "V_F": ElectricPotential, "V" in 0.9..=1.8 or 1.2;
        /// Least current transfer ratio at such an LED current, from the datasheet
        transfer_ratio as "CTR": Ratio, "%" in 5.0..=1000.0;
        /// Part of it that temperature and ageing leave
        remaining as "a": Ratio, "%" in 10.0..=100.0 or 50.0;
        /// Supply on the transistor's side
        supply as "V_S": ElectricPotential, "V" in 1.8..=30.0;
        /// Resistor from that supply to the collector
        pull_up as "R_C": ElectricalResistance, "kΩ" in 0.05..=1000.0;
        /// Drop from collector to emitter when the output counts as low
        low_level as "V_low": ElectricPotential, "V" in 0.1..=1.5 or 0.4;
    }
    gives OptocouplerRecord {
        /// Current in the LED
        led_current as "I_F": ElectricCurrent, "A" = "max(0 V, pin_high - forward) / resistor";
        /// Current that the transistor surely sinks
        sink_current as "I_C": ElectricCurrent, "A" = "transfer_ratio * remaining * led_current";
        /// Current that the pull-up resistor gives at the low level
        wanted_current as "I_w": ElectricCurrent, "A" = "max(0 V, supply - low_level) / pull_up";
        /// How many times the current wanted
        overdrive as "k": Ratio, "" = "sink_current / wanted_current";
        /// Whether the output surely goes low
        pulls_low: bool, condition = "sink_current >= wanted_current";
        /// Least pull-up resistor that the transistor surely pulls low
        least_pull_up as "R_min": ElectricalResistance, "Ω"
            = "max(0 V, supply - low_level) / sink_current" unless "the LED has no current";
    }
    needs {
        "the pin's high level is above the LED's forward voltage", |given| given.pin_high > given.forward;
        "the supply is above the low level", |given| given.supply > given.low_level;
    }
}

/// Evaluates `driver.optocoupler`.
pub fn optocoupler(given: &Optocoupler) -> OptocouplerRecord {
    let led_current: ElectricCurrent = not_negative(given.pin_high - given.forward) / given.resistor;
    let sink_current = led_current * (given.transfer_ratio * given.remaining);
    let across = not_negative(given.supply - given.low_level);
    let wanted_current: ElectricCurrent = across / given.pull_up;
    OptocouplerRecord {
        led_current,
        sink_current,
        wanted_current,
        overdrive: sink_current / wanted_current,
        pulls_low: sink_current >= wanted_current,
        least_pull_up: across / sink_current,
    }
}

#[cfg(test)]
mod tests {
    use crate::check::{Record, close, record};

    fn coupled(pull_up: f64) -> Record {
        let given = [
            ("pin_high", 5.0, "V"),
            ("resistor", 380.0, "Ω"),
            ("transfer_ratio", 50.0, "%"),
            ("supply", 5.0, "V"),
            ("pull_up", pull_up, "kΩ"),
        ];
        record("driver.optocoupler", &given)
    }

    /// Worked by hand: 3.8 V over 380 Ω are 10 mA; half of 50 % of it is 2.5 mA; 4.6 V over 4.6 kΩ are 1 mA, and 2.5 mA pull
    /// down 1.84 kΩ.
    #[test]
    fn ten_milliamperes_pull_down_two_and_a_half() {
        let it = coupled(4.6);
        close(it.get("led_current", "mA"), 10.0, 1e-12);
        close(it.get("sink_current", "mA"), 2.5, 1e-12);
        close(it.get("wanted_current", "mA"), 1.0, 1e-12);
        close(it.get("overdrive", ""), 2.5, 1e-12);
        close(it.get("least_pull_up", "kΩ"), 1.84, 1e-12);
        assert!(coupled(1.85).is("pulls_low") && !coupled(1.83).is("pulls_low"));
    }
}
