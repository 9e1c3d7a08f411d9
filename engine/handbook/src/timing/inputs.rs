//! What an RC does at an input: contacts that bounce, edges that trigger, and the timer's control pin.

use uom::si::f64::{Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Ratio, Time};

use super::bipolar_timer::time_constants;
use crate::{declare::model, physics::not_negative};

model! {
    /// A contact to ground with pull-up resistor, series resistor and capacitor ahead of a Schmitt trigger: how long it is deaf to
    /// bounces
    "timing.debounce" as DEBOUNCE, by debounce;
    source "published: any circuits handbook (charging and discharging through a resistor to a threshold); that a delay above the \
        time of bouncing is enough, and bounces of up to 10 ms: common practice";
    takes Debounce {
        /// Supply of the pull-up resistor
        supply as "V_S": ElectricPotential, "V" in 1.8..=16.0;
        /// Resistor from the supply to the contact
        pull_up as "R_1": ElectricalResistance, "kΩ" in 0.1..=1000.0;
        /// Resistor from the contact to the capacitor
        series as "R_2": ElectricalResistance, "kΩ" in 0.01..=1000.0;
        /// Capacitor at the input
        capacitance as "C": Capacitance, "µF" in 0.001..=100.0;
        /// Threshold of the rising input
        upper as "V_up": ElectricPotential, "V" in 0.5..=12.0;
        /// Threshold of the falling input
        lower as "V_low": ElectricPotential, "V" in 0.2..=10.0;
        /// Longest time that the contact bounces
        bounce as "t_b": Time, "ms" in 0.01..=100.0 or 10.0;
    }
    gives DebounceRecord {
        /// Time from closing to the input's going low
        closing_delay as "t_cl": Time, "s" = "series * capacitance * ln(supply / lower)";
        /// Time from opening to the input's going high
        opening_delay as "t_op": Time, "s" = "(pull_up + series) * capacitance * ln(supply / (supply - upper))"
            unless "the upper threshold is not below the supply";
        /// What the shorter delay is above the bounce by
        margin as "Δt": Time, "s" = "min(closing_delay, opening_delay) - bounce";
        /// Whether both delays outlast the bounce
        outlasts: bool, condition = "margin >= 0 s";
        /// Highest current in the contact, as it empties the capacitor
        contact_current as "I_k": ElectricCurrent, "A" = "supply / pull_up + supply / series";
    }
    needs {
        "the lower threshold is below the upper one", |given| given.lower < given.upper;
        "the upper threshold is below the supply", |given| given.upper < given.supply;
    }
}

/// Evaluates `timing.debounce`.
pub fn debounce(given: &Debounce) -> DebounceRecord {
    let lower: Ratio = given.lower / given.supply;
    let upper: Ratio = given.upper / given.supply;
    let closing_delay: Time = given.series * given.capacitance * time_constants(1.0, lower.value);
    let opening_delay: Time =
        (given.pull_up + given.series) * given.capacitance * time_constants(1.0, 1.0 - upper.value);
    let margin = crate::physics::lesser(closing_delay, opening_delay) - given.bounce;
    DebounceRecord {
        closing_delay,
        opening_delay,
        margin,
        outlasts: margin.value >= 0.0,
        contact_current: given.supply / given.pull_up + given.supply / given.series,
    }
}

model! {
    /// Trigger of a 555-type one-shot through a capacitor, with a resistor from pin to supply: whether the edge is seen, and over
    /// before the pulse is
    "timing.trigger" as TRIGGER, by trigger;
    source "published: maker's datasheet of the 555-type timer (trigger below a third of the supply; it must be over before the \
        pulse); return of the pin through R and C from any circuits handbook; least width of 1 µs: from memory";
    takes Trigger {
        /// Supply of the timer, which the resistor goes to
        supply as "V_S": ElectricPotential, "V" in 4.5..=16.0;
        /// Height of the falling edge ahead of the capacitor
        edge as "ΔV": ElectricPotential, "V" in 3.0..=16.0;
        /// Resistor from the supply to the trigger pin
        resistance as "R": ElectricalResistance, "kΩ" in 0.5..=1000.0;
        /// Capacitor from the edge to the trigger pin
        capacitance as "C": Capacitance, "nF" in 0.01..=10_000.0;
        /// Pulse of the one-shot
        pulse as "t_p": Time, "s" in 0.000_01..=10_000.0;
        /// Least time below the threshold that triggers for sure
        least_width as "t_min": Time, "µs" in 0.05..=100.0 or 1.0;
    }
    gives TriggerRecord {
        /// Voltage that the pin goes down to; below 0 V it needs a diode
        lowest as "V_low": ElectricPotential, "V" = "supply - edge";
        /// Time that the pin is below a third of the supply
        width as "t_w": Time, "s" = "max(0 s, resistance * capacitance * ln(edge / (2 / 3 * supply)))";
        /// Time after which the next edge goes as deep, to a per cent
        recovery as "t_r": Time, "s" = "5 * resistance * capacitance";
        /// Whether the edge triggers
        triggers: bool, condition = "width >= least_width";
        /// Whether the trigger is over before the pulse is
        in_time: bool, condition = "width < pulse";
        /// What the width is above the least one by
        width_margin as "Δt": Time, "s" = "width - least_width";
        /// Width in proportion to the pulse
        share as "k": Ratio, "%" = "width / pulse";
    }
    needs {
        "the edge is above two thirds of the supply", |given| given.edge * 1.5 > given.supply;
        "the edge is no higher than the supply, so that the pin is not drawn below ground",
            |given| given.edge <= given.supply;
        "the trigger is over before the pulse is", |given| trigger(&given).in_time;
    }
}

/// Evaluates `timing.trigger`.
pub fn trigger(given: &Trigger) -> TriggerRecord {
    let time_constant: Time = given.resistance * given.capacitance;
    let width = not_negative(time_constant * libm::log(Ratio::from(given.edge * 1.5 / given.supply).value));
    TriggerRecord {
        lowest: given.supply - given.edge,
        width,
        recovery: time_constant * 5.0,
        triggers: width >= given.least_width,
        in_time: width < given.pulse,
        width_margin: width - given.least_width,
        share: width / given.pulse,
    }
}

model! {
    /// A 555-type one-shot with a voltage at its control pin: thresholds, and the pulse
    "timing.control_pin" as CONTROL_PIN, by control_pin;
    source "published: maker's datasheet of the 555-type timer (the control pin is the upper threshold, and half of it the lower; \
        from 45 % to 90 % of the supply as a one-shot: from memory)";
    takes ControlPin {
        /// Supply of the timer
        supply as "V_S": ElectricPotential, "V" in 4.5..=16.0;
        /// Voltage at the control pin
        control as "V_c": ElectricPotential, "V" in 1.5..=15.0;
        /// Timing resistor, from the supply to the capacitor
        resistance as "R": ElectricalResistance, "kΩ" in 1.0..=10_000.0;
        /// Timing capacitor
        capacitance as "C": Capacitance, "µF" in 0.000_1..=1000.0;
    }
    gives ControlPinRecord {
        /// Voltage that ends the pulse
        threshold as "V_th": ElectricPotential, "V" = "control";
        /// Voltage that the trigger must fall below
        trigger_level as "V_tr": ElectricPotential, "V" = "control / 2";
        /// Length of the pulse; infinite where the threshold is not below the supply
        pulse as "t_p": Time, "s" = "resistance * capacitance * ln(supply / (supply - control))"
            unless "the control voltage is not below the supply, so the pulse never ends";
        /// Pulse in proportion to that with the pin left open
        against_open as "k": Ratio, "%" = "pulse / (resistance * capacitance * ln(3))"
            unless "the control voltage is not below the supply, so the pulse never ends";
    }
    needs {
        "the control voltage is 45 % to 90 % of the supply",
            |given| given.control >= given.supply * 0.45 && given.control <= given.supply * 0.9;
    }
}

/// Evaluates `timing.control_pin`.
pub fn control_pin(given: &ControlPin) -> ControlPinRecord {
    let up: Ratio = given.control / given.supply;
    let constants = time_constants(1.0, 1.0 - up.value);
    ControlPinRecord {
        threshold: given.control,
        trigger_level: given.control / 2.0,
        pulse: given.resistance * given.capacitance * constants,
        against_open: crate::physics::plain(constants / libm::log(3.0)),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn button(bounce: f64, lower: f64, upper: f64) -> Record {
        let given = [
            ("supply", 5.0, "V"),
            ("pull_up", 10.0, "kΩ"),
            ("series", 20.0, "kΩ"),
            ("capacitance", 1.0, "µF"),
            ("upper", upper, "V"),
            ("lower", lower, "V"),
            ("bounce", bounce, "ms"),
        ];
        record("timing.debounce", &given)
    }

    fn edge(height: f64, resistance: f64, pulse: f64) -> Record {
        let given = [
            ("supply", 9.0, "V"),
            ("edge", height, "V"),
            ("resistance", resistance, "kΩ"),
            ("capacitance", 10.0, "nF"),
            ("pulse", pulse, "s"),
        ];
        record("timing.trigger", &given)
    }

    fn controlled(control: f64) -> Record {
        let given =
            [("supply", 9.0, "V"), ("control", control, "V"), ("resistance", 100.0, "kΩ"), ("capacitance", 10.0, "µF")];
        record("timing.control_pin", &given)
    }

    /// Voltage of a capacitor that heads for another, stepped (midpoint rule) for a time in time constants.
    fn headed(from: f64, to: f64, constants: f64) -> f64 {
        let (mut v, steps) = (from, 4000);
        let step = constants / f64::from(steps);
        for _ in 0..steps {
            v += step * (to - v - step / 2.0 * (to - v));
        }
        v
    }

    /// Worked by hand: 5 V to 1.25 V through 20 kΩ is ln 4 times 20 ms, 27.7 ms; up to 3.75 V through 30 kΩ ln 4 times 30 ms.
    #[test]
    fn a_button_is_deaf_for_its_shorter_delay() {
        let it = button(10.0, 1.25, 3.75);
        close(it.get("closing_delay", "ms"), 27.725_887_222_397_81, 1e-12);
        close(it.get("opening_delay", "ms"), 41.588_830_833_596_72, 1e-12);
        close(it.get("margin", "ms"), 17.725_887_222_397_81, 1e-9);
        close(it.get("contact_current", "mA"), 0.75, 1e-12);
        assert!(button(27.7, 1.25, 3.75).is("outlasts") && !button(27.8, 1.25, 3.75).is("outlasts"));
        assert_eq!(button(10.0, 1.25, 6.0).get("opening_delay", "s"), f64::INFINITY);
    }

    /// Worked by hand: a 9 V edge at 9 V stays ln 1.5 = 0.405 time constants below 3 V; 10 kΩ and 10 nF are 0.1 ms.
    #[test]
    fn a_full_edge_is_0_4_time_constants_long() {
        let it = edge(9.0, 10.0, 1.0);
        close(it.get("width", "µs"), 40.546_510_810_816_44, 1e-12);
        close(it.get("width_margin", "µs"), 39.546_510_810_816_44, 1e-9);
        close(it.get("share", "%"), 4.054_651_081_081_644e-3, 1e-9);
        close(it.get("recovery", "ms"), 0.5, 1e-12);
        assert_eq!(it.get("lowest", "V"), 0.0);
        assert!(it.is("triggers") && it.is("in_time"));
        assert!(!edge(9.0, 10.0, 40e-6).is("in_time"));
        let small = edge(5.9, 10.0, 1.0);
        assert!(small.get("width", "s") == 0.0 && !small.is("triggers"));
    }

    /// Published: the datasheet of the 555-type timer: open, the pin is at two thirds of the supply. Worked by hand: at half the supply the
    /// pulse is ln 2 time constants.
    #[test]
    fn the_control_pin_moves_both_thresholds() {
        close(controlled(6.0).get("against_open", "%"), 100.0, 1e-12);
        let open = [("resistance", 100.0, "kΩ"), ("capacitance", 10.0, "µF"), ("supply", 9.0, "V")];
        close(controlled(6.0).get("pulse", "s"), record("timing.one_shot", &open).get("pulse", "s"), 1e-12);
        let half = controlled(4.5);
        close(half.get("pulse", "s"), std::f64::consts::LN_2, 1e-12);
        close(half.get("trigger_level", "V"), 2.25, 1e-12);
        close(half.get("threshold", "V"), 4.5, 1e-12);
        assert_eq!(controlled(9.5).get("pulse", "s"), f64::INFINITY);
    }

    proptest! {
        /// After each delay the capacitor, stepped, is at the threshold.
        #[test]
        fn delays_end_at_the_threshold(lower in 0.3..2.0, upper in 2.1..4.9, control in 4.1..8.1, height in 6.2..9.0) {
            let it = button(1.0, lower, upper);
            close(headed(5.0, 0.0, it.get("closing_delay", "s") / 0.02), lower, 1e-5);
            close(headed(0.0, 5.0, it.get("opening_delay", "s") / 0.03), upper, 1e-5);
            close(headed(0.0, 9.0, controlled(control).get("pulse", "s")), control, 1e-5);
            close(headed(9.0 - height, 9.0, edge(height, 10.0, 1.0).get("width", "s") / 1e-4), 3.0, 1e-5);
        }
    }
}
