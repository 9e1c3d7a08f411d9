//! Four MOSFETs that turn a motor both ways.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Power, Time};

use crate::{declare::model, physics::not_negative};

model! {
    /// An H-bridge of MOSFETs, one leg of which is switched fast: voltage at the motor, losses, and the dead time that keeps a leg
    /// from shorting the supply
    "driver.h_bridge" as H_BRIDGE, by h_bridge;
    source "published: makers' application notes on bridges (2·R·I² for two switches in series; V·I·t·f for two edges a period of \
        half V·I·t each; the body diode's drop in two dead times a period); what diode and switch take at once is counted twice: \
        common practice";
    takes HBridge {
        /// Supply of the bridge
        supply as "V_S": ElectricPotential, "V" in 1.8..=60.0;
        /// Current in the motor
        load as "I": ElectricCurrent, "A" in 0.001..=50.0;
        /// Resistance of one switch when on, hot
        on_resistance as "R_on": ElectricalResistance, "mΩ" in 0.5..=5000.0;
        /// Frequency of the pulses
        frequency as "f": Frequency, "kHz" in 0.0..=200.0;
        /// Time of one edge
        edge as "t_e": Time, "ns" in 1.0..=10_000.0;
        /// Time for which both switches of a leg are told to be off
        dead_time as "t_d": Time, "ns" in 0.0..=20_000.0;
        /// Shortest delay of a switch's turning on
        shortest_on as "t_on": Time, "ns" in 0.0..=5000.0 or 0.0;
        /// Longest delay of a switch's turning off, its edge included
        longest_off as "t_off": Time, "ns" in 1.0..=20_000.0;
        /// Drop of a body diode
        diode_drop as "V_F": ElectricPotential, "V" in 0.3..=1.5 or 0.9;
    }
    gives HBridgeRecord {
        /// Voltage at the motor while it is driven
        motor_voltage as "V_M": ElectricPotential, "V" = "max(0 V, supply - 2 * on_resistance * load)";
        /// Heat in the two switches that carry the current
        conduction as "P_c": Power, "W" = "2 * on_resistance * load^2";
        /// Heat of the edges
        switching as "P_s": Power, "W" = "supply * load * edge * frequency";
        /// Heat in the body diodes during the dead times
        diodes as "P_d": Power, "W" = "2 * diode_drop * load * dead_time * frequency";
        /// Heat in the bridge
        dissipation as "P": Power, "W" = "conduction + switching + diodes";
        /// What the dead time is longer than needed by
        dead_time_margin as "Δt": Time, "ns" = "dead_time + shortest_on - longest_off";
        /// Whether both switches of a leg can conduct at once
        shoots_through: bool, condition = "dead_time_margin < 0 s";
    }
    needs {
        "the dead time outlasts the turning off: otherwise both switches of a leg short the supply, and may burst",
            |given| !h_bridge(&given).shoots_through;
    }
}

/// Evaluates `driver.h_bridge`.
pub fn h_bridge(given: &HBridge) -> HBridgeRecord {
    let drop: ElectricPotential = given.on_resistance * given.load * 2.0;
    let conduction: Power = drop * given.load;
    let switching: Power = given.supply * given.load * (given.edge * given.frequency);
    let diodes: Power = given.diode_drop * given.load * (given.dead_time * given.frequency) * 2.0;
    let dead_time_margin = given.dead_time + given.shortest_on - given.longest_off;
    HBridgeRecord {
        motor_voltage: not_negative(given.supply - drop),
        conduction,
        switching,
        diodes,
        dissipation: conduction + switching + diodes,
        dead_time_margin,
        shoots_through: dead_time_margin.value < 0.0,
    }
}

#[cfg(test)]
mod tests {
    use crate::check::{Record, close, record};

    fn bridge(dead_time: f64) -> Record {
        let given = [
            ("supply", 12.0, "V"),
            ("load", 5.0, "A"),
            ("on_resistance", 20.0, "mΩ"),
            ("frequency", 20.0, "kHz"),
            ("edge", 100.0, "ns"),
            ("dead_time", dead_time, "ns"),
            ("shortest_on", 50.0, "ns"),
            ("longest_off", 400.0, "ns"),
        ];
        record("driver.h_bridge", &given)
    }

    /// Worked by hand: two switches of 20 mΩ at 5 A take 1 W and drop 0.2 V; edges of 100 ns at 60 W and 20 kHz take 0.12 W; the
    /// diodes 4.5 W for a fiftieth of the time, 0.09 W.
    #[test]
    fn a_bridge_at_five_amperes_takes_some_1_2_watts() {
        let it = bridge(500.0);
        close(it.get("motor_voltage", "V"), 11.8, 1e-12);
        close(it.get("conduction", "W"), 1.0, 1e-12);
        close(it.get("switching", "W"), 0.12, 1e-12);
        close(it.get("diodes", "W"), 0.09, 1e-12);
        close(it.get("dissipation", "W"), 1.21, 1e-12);
        close(it.get("dead_time_margin", "ns"), 150.0, 1e-9);
        assert!(!bridge(351.0).is("shoots_through") && bridge(349.0).is("shoots_through"));
    }
}
