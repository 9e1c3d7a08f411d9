//! The 555-type bipolar timer, whose comparators switch at one and two thirds of the supply.

use uom::si::{
    electric_potential::volt,
    electrical_resistance::megaohm,
    f64::{Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Ratio, Time},
};

use crate::{
    declare::model,
    physics::{not_negative, plain},
};

model! {
    /// Pulse of a bipolar timer as a one-shot: a capacitor charging through a resistor to two thirds of the supply
    "timing.one_shot" as ONE_SHOT, by one_shot;
    source "published: maker's datasheet of the 555-type timer (pulse 1.1·R·C, which is R·C·ln 3; supply 4.5 V to 16 V); \
        leakage and saturation from the same charging curve, which then starts above 0 V and heads for V − I·R; largest R \
        published there for 5 V and 15 V, in a straight line between; ranges of R and C and the discharge current: common \
        practice";
    takes OneShot {
        /// Timing resistor, from the supply to the capacitor
        resistance as "R": ElectricalResistance, "kΩ" in 1.0..=10_000.0;
        /// Timing capacitor
        capacitance as "C": Capacitance, "µF" in 0.000_1..=1000.0;
        /// Supply of the timer
        supply as "V_S": ElectricPotential, "V" in 4.5..=16.0;
        /// Current lost from the charge: the capacitor's leakage and the threshold pin's
        leakage as "I_L": ElectricCurrent, "µA" in 0.0..=100.0 or 0.0;
        /// Voltage that the discharge transistor leaves on the capacitor
        discharge_saturation as "V_sat": ElectricPotential, "V" in 0.0..=0.5 or 0.0;
        /// Current that the discharge transistor draws from the capacitor after the pulse
        discharge_current as "I_dis": ElectricCurrent, "mA" in 1.0..=200.0 or 15.0;
    }
    by {
        /// Voltage that the capacitor heads for
        heads_for as "V_∞", "V" = "supply - leakage * resistance";
    }
    gives OneShotRecord {
        /// Length of the pulse; infinite where leakage holds the capacitor below the threshold
        pulse as "t_p": Time, "s"
            = "resistance * capacitance * ln((heads_for - discharge_saturation) / (heads_for - threshold))"
            unless "the leakage holds the capacitor below two thirds of the supply, so the pulse never ends";
        /// What leakage and saturation make the pulse longer by
        lengthened as "Δt": Time, "s"
            = "pulse - resistance * capacitance * ln(3)"
            unless "the leakage holds the capacitor below two thirds of the supply, so the pulse never ends";
        /// Voltage that ends the pulse
        threshold as "V_th": ElectricPotential, "V" = "2 / 3 * supply";
        /// Current through the timing resistor as the pulse starts
        charge_current as "I_0": ElectricCurrent, "A" = "(supply - discharge_saturation) / resistance";
        /// Current through the timing resistor as the pulse ends, which leakage must be far below
        final_current as "I_1": ElectricCurrent, "A" = "(supply - threshold) / resistance";
        /// Time that the discharge takes, before which a new pulse comes out short
        recovery as "t_r": Time, "s" = "capacitance * (threshold - discharge_saturation) / discharge_current";
    }
    needs {
        "the leakage is below the charging current at two thirds of the supply",
            |given| given.leakage * given.resistance * 3.0 < given.supply;
        "the resistor still feeds the threshold pin: at most 3.4 MΩ at 5 V, 10 MΩ at 15 V, in a straight line between",
            |given| given.resistance <= largest_resistance(given.supply);
    }
}

/// Evaluates `timing.one_shot`.
pub fn one_shot(given: &OneShot) -> OneShotRecord {
    let ideal: Time = given.resistance * given.capacitance * libm::log(THIRD.recip());
    // In parts of the supply, so that the supply drops out where nothing depends on it.
    let lost: Ratio = given.leakage * given.resistance / given.supply;
    let start: Ratio = given.discharge_saturation / given.supply;
    let constants = time_constants(1.0 - start.value - lost.value, THIRD - lost.value);
    let pulse: Time = not_negative(given.resistance * given.capacitance * constants);
    let threshold = given.supply * (1.0 - THIRD);
    OneShotRecord {
        pulse,
        lengthened: pulse - ideal,
        threshold,
        charge_current: (given.supply - given.discharge_saturation) / given.resistance,
        final_current: (given.supply - threshold) / given.resistance,
        recovery: given.capacitance * (threshold - given.discharge_saturation) / given.discharge_current,
    }
}

model! {
    /// A bipolar timer that runs free: charging through two resistors, discharging through one of them
    "timing.astable" as ASTABLE, by astable;
    source "published: maker's datasheet of the 555-type timer (high 0.693·(R_a + R_b)·C, low 0.693·R_b·C, \
        1.44/((R_a + 2·R_b)·C); supply 4.5 V to 16 V), with ln 2 for 0.693; leakage and saturation from the same curves, \
        which then head for V − I·R and for the saturation less I·R_b; largest R_a + R_b published there for 5 V and 15 V, \
        in a straight line between; ranges of R and C: common practice";
    takes Astable {
        /// Resistor from the supply to the discharge pin
        resistance_a as "R_a": ElectricalResistance, "kΩ" in 1.0..=10_000.0;
        /// Resistor from the discharge pin to the capacitor
        resistance_b as "R_b": ElectricalResistance, "kΩ" in 1.0..=10_000.0;
        /// Timing capacitor
        capacitance as "C": Capacitance, "µF" in 0.000_1..=1000.0;
        /// Supply of the timer
        supply as "V_S": ElectricPotential, "V" in 4.5..=16.0;
        /// Current lost from the capacitor: its leakage and the threshold pin's
        leakage as "I_L": ElectricCurrent, "µA" in 0.0..=100.0 or 0.0;
        /// Voltage that the discharge transistor draws the capacitor towards
        discharge_saturation as "V_sat": ElectricPotential, "V" in 0.0..=0.5 or 0.0;
    }
    by {
        /// Voltage that the capacitor heads for as it charges
        charges_to as "V_up", "V" = "supply - leakage * (resistance_a + resistance_b)";
        /// Voltage that it heads for as it discharges
        discharges_to as "V_down", "V" = "discharge_saturation - leakage * resistance_b";
    }
    gives AstableRecord {
        /// Time with the output high; infinite where leakage holds the capacitor below the upper threshold
        high as "t_H": Time, "s"
            = "(resistance_a + resistance_b) * capacitance * ln((charges_to - supply / 3) / (charges_to - 2 / 3 * supply))"
            unless "the leakage holds the capacitor below two thirds of the supply, so the output stays high";
        /// Time with the output low
        low as "t_L": Time, "s"
            = "resistance_b * capacitance * ln((2 / 3 * supply - discharges_to) / (supply / 3 - discharges_to))"
            unless "the discharge transistor does not bring the capacitor down to a third of the supply";
        /// Both together
        period as "T": Time, "s"
            = "high + low"
            unless "the capacitor does not reach both thresholds, so the timer does not run";
        /// Periods in a time
        frequency as "f": Frequency, "Hz" = "1 / period";
        /// Part of the period with the output high, always above a half
        duty as "D": Ratio, "%" = "1 / (1 + low / high)";
        /// Greatest current into the discharge pin
        discharge_current as "I_dis": ElectricCurrent, "A" = "supply / resistance_a + 2 / 3 * supply / resistance_b";
    }
    needs {
        "the leakage is below the charging current at two thirds of the supply",
            |given| given.leakage * (given.resistance_a + given.resistance_b) * 3.0 < given.supply;
        "both resistors together still feed the threshold pin: at most 3.4 MΩ at 5 V, 10 MΩ at 15 V, in a straight line \
         between",
            |given| given.resistance_a + given.resistance_b <= largest_resistance(given.supply);
    }
}

/// Evaluates `timing.astable`.
pub fn astable(given: &Astable) -> AstableRecord {
    let charged_through = given.resistance_a + given.resistance_b;
    let lost = |resistance: ElectricalResistance| Ratio::from(given.leakage * resistance / given.supply).value;
    let (in_high, in_low) = (lost(charged_through), lost(given.resistance_b));
    let start = Ratio::from(given.discharge_saturation / given.supply).value;
    let high_constants = time_constants(1.0 - THIRD - in_high, THIRD - in_high);
    let low_constants = time_constants(1.0 - THIRD - start + in_low, THIRD - start + in_low);
    let high: Time = not_negative(charged_through * given.capacitance * high_constants);
    let low: Time = not_negative(given.resistance_b * given.capacitance * low_constants);
    let period = high + low;
    AstableRecord {
        high,
        low,
        period,
        frequency: (plain(1.0) / period),
        // With an output that stays high, all of it.
        duty: plain(1.0) / (plain(1.0) + low / high),
        discharge_current: given.supply / given.resistance_a + given.supply * (1.0 - THIRD) / given.resistance_b,
    }
}

/// The time that a capacitor takes through a resistor, in time constants, from one distance off where it heads for to
/// another; infinite where it does not get there.
pub(super) fn time_constants(from: f64, to: f64) -> f64 {
    if to <= 0.0 { f64::INFINITY } else { libm::log(from / to) }
}

/// The largest timing resistance at a supply: datasheets of the 555-type timer give 3.4 MΩ in all at 5 V and 10 MΩ at 15 V,
/// for the sake of the threshold pin's current; between them and a little beyond in a straight line.
fn largest_resistance(supply: ElectricPotential) -> ElectricalResistance {
    let above_5_v = supply - ElectricPotential::new::<volt>(5.0);
    let per_volt = ElectricalResistance::new::<megaohm>(10.0 - 3.4) / ElectricPotential::new::<volt>(15.0 - 5.0);
    ElectricalResistance::new::<megaohm>(3.4) + per_volt * above_5_v
}

/// What is left of the supply above the upper threshold.
const THIRD: f64 = 1.0 / 3.0;

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn mister(leakage: f64, saturation: f64, supply: f64) -> Record {
        record(
            "timing.one_shot",
            &[
                ("resistance", 120.0, "kΩ"),
                ("capacitance", 47.0, "µF"),
                ("supply", supply, "V"),
                ("leakage", leakage, "µA"),
                ("discharge_saturation", saturation, "V"),
            ],
        )
    }

    /// The pulse by stepping the capacitor's differential equation (fourth-order Runge-Kutta), as a second opinion.
    fn stepped(resistance: f64, capacitance: f64, supply: f64, leakage: f64, start: f64) -> f64 {
        let slope = |v: f64| ((supply - v) / resistance - leakage) / capacitance;
        let step = resistance * capacitance / 2000.0;
        let (mut v, mut t) = (start, 0.0);
        loop {
            let k1 = slope(v);
            let k2 = slope(v + step / 2.0 * k1);
            let k3 = slope(v + step / 2.0 * k2);
            let k4 = slope(v + step * k3);
            let next = v + step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            if next >= supply * 2.0 / 3.0 {
                return t + step * (supply * 2.0 / 3.0 - v) / (next - v);
            }
            (v, t) = (next, t + step);
        }
    }

    /// Published: the datasheet of the 555-type timer gives 1.1·R·C, which is ln 3 to two figures.
    #[test]
    fn a_pulse_is_1_1_rc_to_the_datasheet_s_rounding() {
        let time_constants = mister(0.0, 0.0, 9.0).get("pulse", "s") / (120e3 * 47e-6);
        assert_eq!((time_constants * 10.0).round() / 10.0, 1.1);
        close(time_constants, 3f64.ln(), 1e-15);
        assert_eq!(mister(0.0, 0.0, 9.0).get("lengthened", "s"), 0.0);
        assert_eq!(mister(0.0, 0.0, 5.0).get("pulse", "s"), mister(0.0, 0.0, 15.0).get("pulse", "s"));
    }

    /// Worked by hand: 10 µA through 100 kΩ is 1 V of 5 V. So the capacitor heads for 4 V, the threshold of 10/3 V is five
    /// sixths of that, and the pulse is R·C·ln 6. From a third of the charging current, it never ends.
    #[test]
    fn leakage_lengthens_a_pulse_and_can_make_it_endless() {
        let timer = |leakage| {
            record(
                "timing.one_shot",
                &[
                    ("resistance", 100.0, "kΩ"),
                    ("capacitance", 47.0, "µF"),
                    ("supply", 5.0, "V"),
                    ("leakage", leakage, "µA"),
                ],
            )
        };
        close(timer(0.0).get("pulse", "s"), 4.7 * 3f64.ln(), 1e-12);
        close(timer(10.0).get("pulse", "s"), 4.7 * 6f64.ln(), 1e-12);
        close(timer(10.0).get("lengthened", "s"), 4.7 * 2f64.ln(), 1e-12);
        assert_eq!(timer(17.0).get("pulse", "s"), f64::INFINITY);
    }

    /// Worked by hand: 9 V through 120 kΩ is 75 µA, a third of it at the threshold of 6 V; 47 µF from 6 V at 15 mA takes
    /// 18.8 ms.
    #[test]
    fn currents_and_recovery() {
        let timer = mister(0.0, 0.0, 9.0);
        close(timer.get("charge_current", "µA"), 75.0, 1e-12);
        close(timer.get("final_current", "µA"), 25.0, 1e-12);
        close(timer.get("threshold", "V"), 6.0, 1e-15);
        close(timer.get("recovery", "ms"), 18.8, 1e-12);
        let saturated = mister(0.0, 0.3, 9.0);
        close(saturated.get("charge_current", "A"), 8.7 / 120e3, 1e-12);
        close(saturated.get("recovery", "s"), 47e-6 * 5.7 / 0.015, 1e-12);
    }

    /// Published: the same datasheet: high 0.693·(R_a + R_b)·C, low 0.693·R_b·C, frequency 1.44/((R_a + 2·R_b)·C).
    #[test]
    fn an_astable_runs_as_the_datasheet_says() {
        let (a, b, c) = (4.7e3, 10e3, 100e-9);
        let timer = record(
            "timing.astable",
            &[
                ("resistance_a", 4.7, "kΩ"),
                ("resistance_b", 10.0, "kΩ"),
                ("capacitance", 100.0, "nF"),
                ("supply", 9.0, "V"),
            ],
        );
        close(timer.get("high", "s"), 0.693 * (a + b) * c, 5e-4);
        close(timer.get("low", "s"), 0.693 * b * c, 5e-4);
        close(timer.get("frequency", "Hz"), 1.44 / ((a + 2.0 * b) * c), 2e-3);
        close(timer.get("duty", "%"), 100.0 * (a + b) / (a + 2.0 * b), 1e-12);
        close(timer.get("discharge_current", "mA"), 9.0 / 4.7 + 6.0 / 10.0, 1e-12);
    }

    /// Published: the datasheet of the 555-type timer, total timing resistance of 3.4 MΩ at 5 V and 10 MΩ at 15 V.
    #[test]
    fn the_largest_resistance_depends_on_the_supply() {
        let fits = |model: &crate::Model, inputs: &[f64]| (model.conditions[1].holds)(inputs);
        for (supply, megaohms) in [(5.0, 3.4), (10.0, 6.7), (15.0, 10.0)] {
            for (factor, wanted) in [(0.999, true), (1.001, false)] {
                let resistance = megaohms * 1e6 * factor;
                assert_eq!(fits(&super::ONE_SHOT, &[resistance, 1e-6, supply, 0.0, 0.0, 0.015]), wanted);
                let halves = [resistance / 2.0, resistance / 2.0, 1e-6, supply, 0.0, 0.0];
                assert_eq!(fits(&super::ASTABLE, &halves), wanted);
            }
        }
    }

    proptest! {
        /// Charging and discharging are what their differential equations step to; leakage makes the one longer and the
        /// other shorter.
        #[test]
        fn an_astable_with_leakage_solves_its_differential_equations(leakage in 0.0..10.0, saturation in 0.0..0.5) {
            let (a, b, c, supply) = (100e3, 150e3, 1e-6, 9.0);
            let timer = record(
                "timing.astable",
                &[
                    ("resistance_a", 100.0, "kΩ"),
                    ("resistance_b", 150.0, "kΩ"),
                    ("capacitance", 1.0, "µF"),
                    ("supply", supply, "V"),
                    ("leakage", leakage, "µA"),
                    ("discharge_saturation", saturation, "V"),
                ],
            );
            close(timer.get("high", "s"), stepped(a + b, c, supply, leakage * 1e-6, supply / 3.0), 1e-5);
            // Discharging is charging upside down: from the upper threshold's mirror image, with the leakage's help.
            let slope = |v: f64| -((v - saturation) / b + leakage * 1e-6) / c;
            let (mut v, mut t, step) = (supply * 2.0 / 3.0, 0.0, b * c / 20_000.0);
            while v > supply / 3.0 {
                v += step * slope(v + step / 2.0 * slope(v));
                t += step;
            }
            close(timer.get("low", "s"), t, 2e-4);
        }

        /// The closed form is what the differential equation steps to.
        #[test]
        fn a_pulse_with_leakage_solves_its_differential_equation(
            leakage in 0.0..15.0, saturation in 0.0..0.5, supply in 9.0..16.0
        ) {
            let pulse = mister(leakage, saturation, supply).get("pulse", "s");
            close(pulse, stepped(120e3, 47e-6, supply, leakage * 1e-6, saturation), 1e-5);
        }
    }
}
