//! What limits the voltage as a coil is switched off, besides a diode across the coil: a resistor with a capacitor, and a
//! Zener diode across the switch.

use uom::si::f64::{
    Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Energy, Frequency, Inductance, Power, Ratio,
    Time,
};

use crate::declare::model;

model! {
    /// An RC snubber across a contact that switches a coil at low voltage: how high the voltage goes, and the heat
    "driver.snubber" as SNUBBER, by snubber;
    source "published: any circuits handbook (energy of coil and capacitor; without losses, so that the voltage stays below). A \
        resistor of the load's size: common practice";
    takes Snubber {
        /// Supply of the coil
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Current in the coil as it is switched off
        current as "I_0": ElectricCurrent, "mA" in 0.1..=10_000.0;
        /// Inductance of the coil
        inductance as "L": Inductance, "mH" in 0.001..=100_000.0;
        /// Resistor of the snubber
        resistance as "R": ElectricalResistance, "Ω" in 0.1..=10_000.0;
        /// Capacitor of the snubber
        capacitance as "C": Capacitance, "µF" in 0.000_1..=100.0;
        /// How often the contact closes and opens
        frequency as "f": Frequency, "Hz" in 0.0..=100_000.0 or 1.0;
    }
    gives SnubberRecord {
        /// Voltage across the contact as it opens
        opening_voltage as "V_0": ElectricPotential, "V" = "resistance * current";
        /// Voltage that the capacitor stays below
        peak_voltage as "V_pk": ElectricPotential, "V"
            = "supply + sqrt(supply^2 + current^2 * inductance / capacitance)";
        /// Highest current in the contact as it closes and empties the capacitor
        closing_current as "I_cl": ElectricCurrent, "A" = "supply / resistance";
        /// Energy of the coil
        energy as "W": Energy, "J" = "inductance * current^2 / 2";
        /// Heat that the resistor stays below
        dissipation as "P": Power, "W" = "(energy + capacitance * supply^2) * frequency";
    }
    needs {
        "the contact opens at no more than the supply", |given| given.resistance * given.current <= given.supply;
    }
}

/// Evaluates `driver.snubber`.
pub fn snubber(given: &Snubber) -> SnubberRecord {
    let squared = given.current * given.current * given.inductance;
    let swing: ElectricPotential = (given.supply * given.supply + squared / given.capacitance).sqrt();
    let energy: Energy = squared * 0.5;
    let stored: Energy = given.supply * given.supply * given.capacitance;
    SnubberRecord {
        opening_voltage: given.resistance * given.current,
        peak_voltage: given.supply + swing,
        closing_current: given.supply / given.resistance,
        energy,
        dissipation: (energy + stored) * given.frequency,
    }
}

model! {
    /// A Zener diode, or a transistor's own avalanche, across the switch of a coil: voltage, time to release, energy
    "driver.clamp" as CLAMP, by clamp;
    source "published: any circuits handbook (decay of an inductance's current through its resistance against a constant \
        voltage, which is the clamp's less the supply); release at a tenth to a third of the rated current: common practice";
    takes Clamp {
        /// Current in the coil as it is switched off
        current as "I_0": ElectricCurrent, "mA" in 0.1..=10_000.0;
        /// Inductance of the coil, pulled in
        inductance as "L": Inductance, "mH" in 0.001..=100_000.0;
        /// Resistance of the coil
        resistance as "R": ElectricalResistance, "Ω" in 0.1..=20_000.0;
        /// Supply of the coil
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Voltage of the clamp
        clamp as "V_Z": ElectricPotential, "V" in 2.0..=200.0;
        /// Voltage that the switch stands
        switch_limit as "V_max": ElectricPotential, "V" in 5.0..=1000.0 or 60.0;
        /// Current that a relay releases at, in proportion to the current at the start; without meaning for a motor
        release as "r": Ratio, "%" in 1.0..=90.0 or 10.0;
        /// How often it is switched off
        frequency as "f": Frequency, "Hz" in 0.0..=100_000.0 or 1.0;
    }
    by {
        /// Current that the clamp's voltage above the supply would drive through the coil
        beyond as "I_V", "A" = "(clamp - supply) / resistance";
    }
    gives ClampRecord {
        /// What the switch stands above the clamp's voltage
        margin as "ΔV": ElectricPotential, "V" = "switch_limit - clamp";
        /// Inductance over resistance
        time_constant as "τ": Time, "s" = "inductance / resistance";
        /// Time until the current falls to what a relay releases at
        release_time as "t_r": Time, "s" = "time_constant * ln((current + beyond) / (release * current + beyond))"
            unless "the clamp is not above the supply, so current flows on";
        /// Time until no current flows
        decay_time as "t_0": Time, "s" = "time_constant * ln(1 + current / beyond)"
            unless "the clamp is not above the supply, so current flows on";
        /// Energy that ends in the clamp at each release, some of it the supply's
        clamp_energy as "W_Z": Energy, "J" = "clamp * time_constant * (current - beyond * ln(1 + current / beyond))"
            unless "the clamp is not above the supply, so current flows on";
        /// Heat in the clamp
        dissipation as "P": Power, "W" = "clamp_energy * frequency"
            unless "the clamp is not above the supply, so current flows on";
    }
    needs {
        "the clamp is above the supply", |given| given.clamp > given.supply;
        "the switch stands the clamp's voltage", |given| given.switch_limit >= given.clamp;
    }
}

/// Evaluates `driver.clamp`.
pub fn clamp(given: &Clamp) -> ClampRecord {
    let time_constant: Time = given.inductance / given.resistance;
    let beyond: ElectricCurrent = (given.clamp - given.supply) / given.resistance;
    let released = given.current * given.release;
    let to_release: Ratio = (given.current - released) / (released + beyond);
    let to_nothing = libm::log1p(Ratio::from(given.current / beyond).value);
    let clamp_energy: Energy = given.clamp * time_constant * (given.current - beyond * to_nothing);
    ClampRecord {
        margin: given.switch_limit - given.clamp,
        time_constant,
        release_time: time_constant * libm::log1p(to_release.value),
        decay_time: time_constant * to_nothing,
        clamp_energy,
        dissipation: clamp_energy * given.frequency,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn snubbed(resistance: f64) -> Record {
        let given = [
            ("supply", 12.0, "V"),
            ("current", 100.0, "mA"),
            ("inductance", 100.0, "mH"),
            ("resistance", resistance, "Ω"),
            ("capacitance", 1.0, "µF"),
            ("frequency", 10.0, "Hz"),
        ];
        record("driver.snubber", &given)
    }

    fn clamped(clamp: f64) -> Record {
        let given = [
            ("current", 30.0, "mA"),
            ("inductance", 400.0, "mH"),
            ("resistance", 400.0, "Ω"),
            ("supply", 12.0, "V"),
            ("clamp", clamp, "V"),
            ("frequency", 5.0, "Hz"),
        ];
        record("driver.clamp", &given)
    }

    /// Highest voltages of capacitor and contact after the contact opens, by stepping coil and snubber (midpoint rule).
    fn swung(coil_resistance: f64, resistance: f64) -> f64 {
        let (supply, inductance, capacitance, step) = (12.0, 0.1, 1e-6, 2e-7);
        let (mut i, mut v, mut peak) = (0.1, 0.0, 0.0f64);
        let slopes = |i: f64, v: f64| ((supply - v - i * (coil_resistance + resistance)) / inductance, i / capacitance);
        for _ in 0..10_000 {
            let (di, dv) = slopes(i, v);
            let (di, dv) = slopes(i + di * step / 2.0, v + dv * step / 2.0);
            (i, v) = (i + di * step, v + dv * step);
            peak = peak.max(v);
        }
        peak
    }

    /// Worked by hand: √(L/C) is 316 Ω, so 0.1 A swing 31.6 V, with the supply's 12 V √1144 V = 33.82 V; 0.5 mJ and 0.144 mJ ten
    /// times a second are 6.44 mW.
    #[test]
    fn a_snubber_s_voltage_is_the_energy_s() {
        let it = snubbed(47.0);
        close(it.get("opening_voltage", "V"), 4.7, 1e-12);
        close(it.get("peak_voltage", "V"), 45.823_069_050_575_53, 1e-12);
        close(it.get("closing_current", "A"), 12.0 / 47.0, 1e-12);
        close(it.get("energy", "mJ"), 0.5, 1e-12);
        close(it.get("dissipation", "mW"), 6.44, 1e-12);
        close(swung(0.0, 0.0), it.get("peak_voltage", "V"), 1e-4);
    }

    /// Worked by hand: 36 V are 24 V above the supply, which would drive 60 mA: ln(1 + 30/60) time constants of 1 ms to no
    /// current. A diode across the coil that drops 24 V does the same to the coil.
    #[test]
    fn a_clamp_at_three_times_the_supply_ends_the_current_in_0_4_time_constants() {
        let it = clamped(36.0);
        close(it.get("decay_time", "ms"), 0.405_465_108_108_164_4, 1e-12);
        close(it.get("margin", "V"), 24.0, 1e-12);
        let given = [
            ("current", 30.0, "mA"),
            ("inductance", 400.0, "mH"),
            ("resistance", 400.0, "Ω"),
            ("supply", 12.0, "V"),
            ("diode_drop", 24.0, "V"),
        ];
        let diode = record("driver.flyback", &given);
        close(it.get("release_time", "s"), diode.get("release_time", "s"), 1e-12);
        close(it.get("clamp_energy", "J"), diode.get("diode_energy", "J") * 36.0 / 24.0, 1e-12);
        close(it.get("dissipation", "W"), it.get("clamp_energy", "J") * 5.0, 1e-12);
    }

    proptest! {
        /// Losses only lower the capacitor's voltage.
        #[test]
        fn losses_keep_the_voltage_below(coil_resistance in 0.0..120.0, resistance in 1.0..120.0) {
            prop_assert!(swung(coil_resistance, resistance) <= snubbed(resistance).get("peak_voltage", "V"));
        }

        /// Conservation of energy, by stepping the current down: what coil and supply give is heat in winding and clamp.
        #[test]
        fn coil_and_supply_give_what_winding_and_clamp_take(clamp in 13.0..60.0) {
            let it = clamped(clamp);
            let steps = 20_000;
            let step = it.get("decay_time", "s") / f64::from(steps);
            let (mut current, mut winding, mut charge) = (0.03f64, 0.0, 0.0);
            for _ in 0..steps {
                let slope = |i: f64| (12.0 - clamp - i * 400.0) / 0.4;
                let middle = current + slope(current) * step / 2.0;
                winding += middle * middle * 400.0 * step;
                charge += middle * step;
                current += slope(middle) * step;
            }
            prop_assert!(current.abs() < 1e-6);
            close(it.get("clamp_energy", "J"), clamp * charge, 1e-4);
            close(0.5 * 0.4 * 0.03 * 0.03 + 12.0 * charge, winding + clamp * charge, 1e-4);
        }
    }
}
