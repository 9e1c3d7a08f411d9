//! A logic-level MOSFET as a switch: the loss while it is on, which heats it and by that grows, and what it takes to
//! switch its gate.

use uom::si::{
    f64::{
        ElectricCharge, ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Power, Ratio,
        TemperatureCoefficient, TemperatureInterval, ThermalResistance, ThermodynamicTemperature, Time,
    },
    temperature_interval::kelvin,
    thermodynamic_temperature::degree_celsius,
};

use crate::{
    declare::model,
    physics::{not_negative, plain, warmer},
};

model! {
    /// A MOSFET that is on: its loss and temperature, with the resistance that it has when that warm
    "driver.mosfet_switch" as MOSFET_SWITCH, by mosfet_switch;
    source "common practice: loss I²·R with a resistance that grows in a straight line, by half from 25 °C to 125 °C, \
        as datasheets' curves show; junction temperature published: JEDEC JESD51";
    takes MosfetSwitch {
        /// Voltage at the gate when on
        gate_drive as "V_GS": ElectricPotential, "V" in 1.2..=20.0;
        /// Greatest gate threshold voltage, from the datasheet
        threshold as "V_th": ElectricPotential, "V" in 0.3..=5.0;
        /// Gate voltage that the datasheet gives the on-resistance at
        rated_drive as "V_GS_0": ElectricPotential, "V" in 1.2..=15.0 or 4.5;
        /// Greatest on-resistance at 25 °C and that gate voltage
        on_resistance as "R_25": ElectricalResistance, "mΩ" in 0.2..=20_000.0;
        /// Growth of the on-resistance with temperature, of its value at 25 °C
        resistance_growth as "α": TemperatureCoefficient, "%/K" in 0.0..=1.5 or 0.5;
        /// Current through the load
        load_current as "I_D": ElectricCurrent, "A" in 0.001..=100.0;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0 or 25.0;
        /// Thermal resistance from junction to ambient
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" in 0.5..=500.0;
        /// Temperature that the junction must stay under
        junction_limit as "T_J_max": ThermodynamicTemperature, "°C" in 70.0..=200.0 or 150.0;
    }
    by {
        /// Rise of the junction if it kept its resistance of 25 °C
        cold_rise as "ΔT_0", "K" = "load_current^2 * on_resistance * junction_to_ambient";
        /// Part of a rise that comes back as more rise
        feedback as "g", "" = "cold_rise * resistance_growth";
    }
    gives MosfetSwitchRecord {
        /// What the gate is driven above its threshold by
        overdrive as "V_ov": ElectricPotential, "V" = "gate_drive - threshold";
        /// What the gate is driven above the voltage that the on-resistance is given at by
        drive_margin as "ΔV": ElectricPotential, "V" = "gate_drive - rated_drive";
        /// Whether the gate voltage is enough for the on-resistance to be as given
        fully_on: bool, condition = "gate_drive >= rated_drive and gate_drive > threshold";
        /// On-resistance at the temperature that it comes to
        hot_resistance as "R_T": ElectricalResistance, "Ω"
            = "on_resistance * (1 + resistance_growth * (junction - 25 °C))"
            unless "the loss grows faster with temperature than it is carried off: it runs away";
        /// Drop from drain to source
        drop as "V_DS": ElectricPotential, "V"
            = "load_current * hot_resistance"
            unless "the loss grows faster with temperature than it is carried off: it runs away";
        /// Loss while on
        dissipation as "P": Power, "W"
            = "drop * load_current"
            unless "the loss grows faster with temperature than it is carried off: it runs away";
        /// Temperature of the junction; infinite where the loss runs away
        junction as "T_J": ThermodynamicTemperature, "°C"
            = "25 °C + (ambient - 25 °C + cold_rise) / (1 - feedback)"
            unless "the loss grows faster with temperature than it is carried off: it runs away";
        /// What the junction is below its limit by
        junction_margin as "ΔT_J": TemperatureInterval, "K"
            = "junction_limit - junction"
            unless "the loss grows faster with temperature than it is carried off: it runs away";
    }
    needs {
        "the gate is driven above its threshold", |given| given.gate_drive > given.threshold;
        "the gate is driven with what the on-resistance is given at, or more",
            |given| given.gate_drive >= given.rated_drive;
    }
}

/// Evaluates `driver.mosfet_switch`.
pub fn mosfet_switch(given: &MosfetSwitch) -> MosfetSwitchRecord {
    let reference = ThermodynamicTemperature::new::<degree_celsius>(25.0);
    // The loss heats the junction and a hotter junction loses more: T − T_a = θ·I²·R·(1 + α·(T − 25 °C)), solved for T.
    let cold_loss: Power = given.load_current * given.load_current * given.on_resistance;
    let cold_rise = TemperatureInterval::from(cold_loss * given.junction_to_ambient);
    let feedback: Ratio = cold_rise * given.resistance_growth;
    let above_reference = if feedback >= plain(1.0) {
        TemperatureInterval::new::<kelvin>(f64::INFINITY)
    } else {
        (warmer(given.ambient, reference) + cold_rise) / (plain(1.0) - feedback)
    };
    let junction = reference + above_reference;
    let hot_resistance = given.on_resistance * (plain(1.0) + given.resistance_growth * above_reference);
    let drop: ElectricPotential = given.load_current * hot_resistance;
    MosfetSwitchRecord {
        overdrive: given.gate_drive - given.threshold,
        drive_margin: given.gate_drive - given.rated_drive,
        fully_on: given.gate_drive >= given.rated_drive && given.gate_drive > given.threshold,
        hot_resistance,
        drop,
        dissipation: drop * given.load_current,
        junction,
        junction_margin: warmer(given.junction_limit, junction),
    }
}

model! {
    /// Switching a MOSFET's gate: the current it takes at its peak, the time, and the loss at a frequency
    "driver.mosfet_gate" as MOSFET_GATE, by mosfet_gate;
    source "common practice, as in makers' application notes on gate drive: the charge moved by the current that the \
        resistor passes at the plateau, (drive − plateau)/R as it turns on and plateau/R as it turns off; loss of half the \
        product of voltage and current over each edge, as an inductive load with a diode across it makes it; the whole \
        gate charge for the part that is moved during the edges errs on the safe side";
    takes MosfetGate {
        /// Voltage that drives the gate
        gate_drive as "V_dr": ElectricPotential, "V" in 1.2..=20.0;
        /// Gate voltage while the drain swings
        plateau as "V_pl": ElectricPotential, "V" in 0.5..=8.0;
        /// Whole gate charge, from the datasheet
        gate_charge as "Q_G": ElectricCharge, "nC" in 0.1..=1000.0;
        /// Resistor at the gate, with the driver's own resistance
        gate_resistor as "R_G": ElectricalResistance, "Ω" in 1.0..=100_000.0;
        /// Supply of the load, which the drain swings by
        supply as "V_S": ElectricPotential, "V" in 0.0..=100.0;
        /// Current through the load
        load_current as "I_D": ElectricCurrent, "A" in 0.001..=100.0;
        /// Times switched on in a time
        frequency as "f": Frequency, "Hz" in 0.0..=1_000_000.0 or 0.0;
    }
    gives MosfetGateRecord {
        /// Greatest current that the driver must give, as the edge begins
        peak_current as "I_pk": ElectricCurrent, "A" = "gate_drive / gate_resistor";
        /// Time that turning on takes
        turn_on_time as "t_on": Time, "s"
            = "gate_charge * gate_resistor / max(0 V, gate_drive - plateau)"
            unless "the drive does not pass the plateau, so the transistor does not turn on";
        /// Time that turning off takes, longer than turning on where the plateau is below half of the drive
        turn_off_time as "t_off": Time, "s"
            = "gate_charge * gate_resistor / plateau"
            unless "at a plateau of 0 V nothing draws the charge out of the gate";
        /// Loss in the transistor by switching
        switching_dissipation as "P_sw": Power, "W"
            = "supply * load_current * (turn_on_time + turn_off_time) * frequency / 2"
            unless "an edge takes without end, so the switching loss has no value";
        /// Power that the driver gives to the gate
        gate_power as "P_G": Power, "W" = "gate_charge * gate_drive * frequency";
    }
    needs {
        "the gate is driven above its plateau", |given| given.gate_drive > given.plateau;
        "the two edges are short against a period", |given| {
            let edges = mosfet_gate(&given);
            (edges.turn_on_time + edges.turn_off_time) * given.frequency <= plain(0.5)
        };
    }
}

/// Evaluates `driver.mosfet_gate`.
pub fn mosfet_gate(given: &MosfetGate) -> MosfetGateRecord {
    let charged_by: ElectricCurrent = not_negative((given.gate_drive - given.plateau) / given.gate_resistor);
    let discharged_by: ElectricCurrent = not_negative(given.plateau / given.gate_resistor);
    let turn_on_time: Time = given.gate_charge / charged_by;
    let turn_off_time: Time = given.gate_charge / discharged_by;
    let edges: Ratio =
        if given.frequency.value == 0.0 { plain(0.0) } else { (turn_on_time + turn_off_time) * given.frequency };
    MosfetGateRecord {
        peak_current: given.gate_drive / given.gate_resistor,
        turn_on_time,
        turn_off_time,
        switching_dissipation: given.supply * given.load_current * edges / 2.0,
        gate_power: given.gate_charge * given.gate_drive * given.frequency,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn switch(load: f64, ambient: f64) -> Record {
        record(
            "driver.mosfet_switch",
            &[
                ("gate_drive", 5.0, "V"),
                ("threshold", 2.5, "V"),
                ("on_resistance", 50.0, "mΩ"),
                ("load_current", load, "A"),
                ("ambient", ambient, "°C"),
                ("junction_to_ambient", 62.0, "K/W"),
            ],
        )
    }

    /// Common practice: datasheets' curves show the on-resistance half as much again at 125 °C.
    #[test]
    fn a_hot_junction_has_half_as_much_resistance_again() {
        let hot = switch(1e-6, 125.0);
        close(hot.get("hot_resistance", "mΩ"), 75.0, 1e-9);
        assert!(hot.is("fully_on"));
        close(hot.get("overdrive", "V"), 2.5, 1e-12);
        close(hot.get("drive_margin", "V"), 0.5, 1e-12);
    }

    /// Common practice: with each kelvin adding more loss than a kelvin takes, there is no temperature to settle at.
    #[test]
    fn too_great_a_current_runs_away() {
        assert_eq!(switch(9.0, 25.0).get("junction", "°C"), f64::INFINITY);
        assert!(switch(3.0, 25.0).get("junction", "°C").is_finite());
    }

    /// Common practice (makers' application notes on gate drive), worked by hand: 10 nC over (5 − 3) V / 100 Ω = 20 mA
    /// take 0.5 µs, and over 3 V / 100 Ω = 30 mA a third of a microsecond; at 12 V, 1 A and 20 kHz the half of
    /// V·I·(t_on + t_off)·f is 0.1 W.
    #[test]
    fn a_gate_takes_its_charge_over_the_current_at_its_plateau() {
        let gate = record(
            "driver.mosfet_gate",
            &[
                ("gate_drive", 5.0, "V"),
                ("plateau", 3.0, "V"),
                ("gate_charge", 10.0, "nC"),
                ("gate_resistor", 100.0, "Ω"),
                ("supply", 12.0, "V"),
                ("load_current", 1.0, "A"),
                ("frequency", 20.0, "kHz"),
            ],
        );
        close(gate.get("peak_current", "mA"), 50.0, 1e-12);
        close(gate.get("turn_on_time", "µs"), 0.5, 1e-12);
        close(gate.get("turn_off_time", "µs"), 1.0 / 3.0, 1e-12);
        close(gate.get("switching_dissipation", "W"), 0.1, 1e-12);
        close(gate.get("gate_power", "mW"), 1.0, 1e-12);
    }

    proptest! {
        /// From memory: a driver at 2·V_plateau turns on and off in the same time; the higher the drive above that, the
        /// longer is turning off against turning on, (V_drive − V_plateau) / V_plateau times as long.
        #[test]
        fn turning_off_is_slower_than_turning_on_at_a_high_drive(drive in 4.0..20.0, plateau in 0.6..3.9) {
            let gate = record(
                "driver.mosfet_gate",
                &[
                    ("gate_drive", drive, "V"),
                    ("plateau", plateau, "V"),
                    ("gate_charge", 10.0, "nC"),
                    ("gate_resistor", 100.0, "Ω"),
                    ("supply", 12.0, "V"),
                    ("load_current", 1.0, "A"),
                    ("frequency", 1.0, "kHz"),
                ],
            );
            let (on, off) = (gate.get("turn_on_time", "s"), gate.get("turn_off_time", "s"));
            close(off / on, (drive - plateau) / plateau, 1e-9);
            close(gate.get("switching_dissipation", "W"), 0.5 * 12.0 * (on + off) * 1000.0, 1e-9);
        }

        /// The junction that the closed form gives is the one at which loss and temperature agree (JESD51).
        #[test]
        fn loss_and_temperature_agree(load in 0.0..4.0, ambient in -20.0..60.0) {
            let on = switch(load, ambient);
            let junction = on.get("junction", "°C");
            close(on.get("hot_resistance", "mΩ"), 50.0 * (1.0 + 0.005 * (junction - 25.0)), 1e-9);
            close(on.get("dissipation", "W"), load * load * on.get("hot_resistance", "Ω"), 1e-9);
            prop_assert!((junction - ambient - 62.0 * on.get("dissipation", "W")).abs() < 1e-7);
            close(on.get("junction_margin", "K"), 150.0 - junction, 1e-9);
        }
    }
}
