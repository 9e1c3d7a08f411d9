//! What keeps a supply with its wires swapped from doing damage.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Power};

use crate::{declare::model, physics::not_negative};

model! {
    /// Protection against a supply with its wires swapped: a series diode beside a p-channel MOSFET, with the drop and the
    /// heat of each
    "supply.reverse_polarity" as REVERSE_POLARITY, by reverse_polarity;
    source "common practice: a diode drops its forward voltage; a p-channel MOSFET with its gate at ground, its drain at the \
        supply and its source at the load drops current times resistance, and its gate stands the whole supply";
    takes ReversePolarity {
        /// Supply
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Current drawn
        load as "I": ElectricCurrent, "A" in 0.001..=20.0;
        /// Forward voltage of the diode: by default a silicon diode's, about 0.4 V of a Schottky diode
        diode_drop as "V_F": ElectricPotential, "V" in 0.15..=1.5 or 0.8;
        /// Resistance of the MOSFET when on, hot
        on_resistance as "R_on": ElectricalResistance, "mΩ" in 0.5..=5000.0;
        /// Gate voltage that the datasheet gives this resistance at, as a positive number
        rated_drive as "V_dr": ElectricPotential, "V" in 1.8..=12.0 or 10.0;
        /// Gate voltage that the MOSFET stands
        gate_limit as "V_GS_max": ElectricPotential, "V" in 6.0..=30.0 or 20.0;
    }
    gives ReversePolarityRecord {
        /// Voltage behind the diode
        behind_diode as "V_D": ElectricPotential, "V" = "max(0 V, supply - diode_drop)";
        /// Heat in the diode
        diode_dissipation as "P_D": Power, "W" = "diode_drop * load";
        /// Voltage behind the MOSFET
        behind_mosfet as "V_Q": ElectricPotential, "V" = "max(0 V, supply - on_resistance * load)";
        /// Heat in the MOSFET
        mosfet_dissipation as "P_Q": Power, "W" = "on_resistance * load^2";
        /// What the supply is above the rated drive by
        drive_margin as "ΔV_dr": ElectricPotential, "V" = "supply - rated_drive";
        /// What the supply is below the gate's limit by
        gate_margin as "ΔV_GS": ElectricPotential, "V" = "gate_limit - supply";
    }
    needs {
        "the supply turns the MOSFET fully on", |given| given.supply >= given.rated_drive;
        "the supply is within the gate's limit; above it the gate needs a resistor and a Zener diode",
            |given| given.supply <= given.gate_limit;
    }
}

/// Evaluates `supply.reverse_polarity`.
pub fn reverse_polarity(given: &ReversePolarity) -> ReversePolarityRecord {
    let mosfet_drop: ElectricPotential = given.on_resistance * given.load;
    ReversePolarityRecord {
        behind_diode: not_negative(given.supply - given.diode_drop),
        diode_dissipation: given.diode_drop * given.load,
        behind_mosfet: not_negative(given.supply - mosfet_drop),
        mosfet_dissipation: mosfet_drop * given.load,
        drive_margin: given.supply - given.rated_drive,
        gate_margin: given.gate_limit - given.supply,
    }
}

#[cfg(test)]
mod tests {
    use super::REVERSE_POLARITY;
    use crate::check::{close, record};

    /// Worked by hand: at 12 V and 2 A a silicon diode takes 1.6 W; 30 mΩ drop 60 mV and take 120 mW.
    #[test]
    fn a_mosfet_stays_cooler_than_a_diode() {
        let it = record(
            "supply.reverse_polarity",
            &[("supply", 12.0, "V"), ("load", 2.0, "A"), ("on_resistance", 30.0, "mΩ")],
        );
        close(it.get("behind_diode", "V"), 11.2, 1e-12);
        close(it.get("diode_dissipation", "W"), 1.6, 1e-12);
        close(it.get("behind_mosfet", "V"), 11.94, 1e-12);
        close(it.get("mosfet_dissipation", "mW"), 120.0, 1e-12);
        close(it.get("drive_margin", "V"), 2.0, 1e-12);
        close(it.get("gate_margin", "V"), 8.0, 1e-12);
        let broken = |supply| -> Vec<bool> {
            REVERSE_POLARITY.conditions.iter().map(|c| (c.holds)(&[supply, 2.0, 0.8, 0.03, 10.0, 20.0])).collect()
        };
        assert_eq!([broken(9.0), broken(12.0), broken(24.0)], [vec![false, true], vec![true, true], vec![true, false]]);
    }
}
