//! A p-channel MOSFET between the supply and its load.

use uom::si::f64::{ElectricCharge, ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, Time};

use crate::{declare::model, physics::not_negative};

model! {
    /// A p-channel MOSFET as a high-side switch, with a resistor from gate to source and a transistor that pulls the gate down
    /// through another: gate drive, loss, and how long it takes to let go
    "driver.high_side" as HIGH_SIDE, by high_side;
    source "common practice: the two resistors divide the supply; the gate, taken as a capacitor of its charge over the rated drive, \
        discharges through the upper resistor down to the threshold";
    takes HighSide {
        /// Supply, at the source
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Resistor from gate to source
        pull_up as "R_up": ElectricalResistance, "Ω" in 100.0..=1_000_000.0;
        /// Resistor from the gate to the transistor that pulls it down
        pull_down as "R_dn": ElectricalResistance, "Ω" in 0.0..=1_000_000.0 or 0.0;
        /// Voltage that the pulling transistor leaves
        saturation as "V_sat": ElectricPotential, "V" in 0.0..=1.5 or 0.2;
        /// Greatest gate threshold voltage, as a positive number
        threshold as "V_th": ElectricPotential, "V" in 0.3..=5.0;
        /// Gate voltage that the datasheet gives the on-resistance at, as a positive number
        rated_drive as "V_dr": ElectricPotential, "V" in 1.2..=12.0 or 10.0;
        /// Gate voltage that the MOSFET stands
        gate_limit as "V_GS_max": ElectricPotential, "V" in 6.0..=30.0 or 20.0;
        /// Gate charge at the rated drive
        gate_charge as "Q_G": ElectricCharge, "nC" in 0.1..=1000.0;
        /// Resistance when on, hot
        on_resistance as "R_on": ElectricalResistance, "mΩ" in 0.5..=20_000.0;
        /// Current through the load
        load as "I": ElectricCurrent, "A" in 0.001..=50.0;
    }
    gives HighSideRecord {
        /// Gate voltage when on, as a positive number
        drive as "V_GS": ElectricPotential, "V" = "max(0 V, supply - saturation) * pull_up / (pull_up + pull_down)";
        /// What that is above the rated drive by
        drive_margin as "ΔV_dr": ElectricPotential, "V" = "drive - rated_drive";
        /// What it is below the gate's limit by
        gate_margin as "ΔV_GS": ElectricPotential, "V" = "gate_limit - drive";
        /// Current through the two resistors when on
        pull_current as "I_g": ElectricCurrent, "A" = "drive / pull_up";
        /// Voltage at the load
        output as "V_out": ElectricPotential, "V" = "max(0 V, supply - on_resistance * load)";
        /// Loss when on
        dissipation as "P": Power, "W" = "on_resistance * load^2";
        /// Time from when the gate is let go until it is down at the threshold
        release_time as "t_off": Time, "s" = "pull_up * gate_charge / rated_drive * ln(max(1, drive / threshold))";
    }
    needs {
        "the gate is driven with what the on-resistance is given at, or more", |given| high_side(&given).drive >= given.rated_drive;
        "the gate's voltage is within its limit; above it the lower resistor must take more",
            |given| high_side(&given).drive <= given.gate_limit;
    }
}

/// Evaluates `driver.high_side`.
pub fn high_side(given: &HighSide) -> HighSideRecord {
    let share: Ratio = given.pull_up / (given.pull_up + given.pull_down);
    let drive = not_negative(given.supply - given.saturation) * share;
    let above: Ratio = drive / given.threshold;
    let time_constant: Time = given.pull_up * (given.gate_charge / given.rated_drive);
    HighSideRecord {
        drive,
        drive_margin: drive - given.rated_drive,
        gate_margin: given.gate_limit - drive,
        pull_current: drive / given.pull_up,
        output: not_negative(given.supply - given.on_resistance * given.load),
        dissipation: given.on_resistance * given.load * given.load,
        release_time: time_constant * if above.value < 1.0 { 0.0 } else { libm::log(above.value) },
    }
}

#[cfg(test)]
mod tests {
    use super::HIGH_SIDE;
    use crate::check::{close, record};

    /// Worked by hand: of 24.2 V the pull-down takes a third; 10 kΩ with 2 nF let 16 V down to 2 V in three times ln 2 of 20 µs.
    #[test]
    fn two_resistors_keep_the_gate_within_its_limit() {
        let given = [
            ("supply", 24.2, "V"),
            ("pull_up", 10.0, "kΩ"),
            ("pull_down", 5.0, "kΩ"),
            ("threshold", 2.0, "V"),
            ("gate_charge", 20.0, "nC"),
            ("on_resistance", 50.0, "mΩ"),
            ("load", 2.0, "A"),
        ];
        let it = record("driver.high_side", &given);
        close(it.get("drive", "V"), 16.0, 1e-12);
        close(it.get("drive_margin", "V"), 6.0, 1e-12);
        close(it.get("gate_margin", "V"), 4.0, 1e-12);
        close(it.get("pull_current", "mA"), 1.6, 1e-12);
        close(it.get("output", "V"), 24.1, 1e-12);
        close(it.get("dissipation", "mW"), 200.0, 1e-12);
        close(it.get("release_time", "µs"), 20.0 * libm::log(8.0), 1e-12);
        let holds = |supply, pull_down| -> Vec<bool> {
            let inputs = [supply, 10e3, pull_down, 0.2, 2.0, 10.0, 20.0, 20e-9, 0.05, 2.0];
            HIGH_SIDE.conditions.iter().map(|c| (c.holds)(&inputs)).collect()
        };
        assert_eq!(
            [holds(9.0, 0.0), holds(12.0, 0.0), holds(24.2, 0.0)],
            [vec![false, true], vec![true, true], vec![true, false]]
        );
    }
}
