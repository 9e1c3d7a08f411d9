//! A motor that is fed with pulses.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Inductance, Power, Ratio, Time,
};

use crate::{declare::model, physics::plain};

model! {
    /// Ripple of a motor's current under pulse-width modulation, and the heat that it adds
    "motor.pwm_ripple" as PWM_RIPPLE, by pwm_ripple;
    source "published: power electronics textbooks (V·D·(1 − D)/(f·L), with straight slopes, which overstates the ripple by at most \
        2.2 % where the period is within L/R; a triangle's square mean is a twelfth)";
    takes PwmRipple {
        /// Voltage of the pulses
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Part of the period that the pulse takes
        duty as "D": Ratio, "%" in 0.0..=100.0;
        /// Frequency of the pulses
        frequency as "f": Frequency, "kHz" in 0.02..=200.0;
        /// Inductance of the winding
        inductance as "L": Inductance, "mH" in 0.001..=100.0;
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Mean current
        current as "I": ElectricCurrent, "A" in 0.001..=50.0;
    }
    gives PwmRippleRecord {
        /// Ripple from trough to peak
        ripple as "ΔI": ElectricCurrent, "A" = "supply * duty * (1 - duty) / (frequency * inductance)";
        /// Ripple at half of the period, where it is greatest
        greatest_ripple as "ΔI_max": ElectricCurrent, "A" = "supply / (4 * frequency * inductance)";
        /// Highest current
        peak_current as "I_pk": ElectricCurrent, "A" = "current + ripple / 2";
        /// Heat that the ripple adds in the winding
        added_heat as "P_Δ": Power, "W" = "winding_resistance * ripple^2 / 12";
        /// Inductance over resistance
        time_constant as "τ": Time, "s" = "inductance / winding_resistance";
        /// Whether current flows all the time
        continuous: bool, condition = "ripple / 2 <= current";
    }
    needs {
        "the period is within the winding's time constant",
            |given| given.frequency * given.inductance >= given.winding_resistance;
        "current flows all the time", |given| pwm_ripple(&given).continuous;
    }
}

/// Evaluates `motor.pwm_ripple`.
pub fn pwm_ripple(given: &PwmRipple) -> PwmRippleRecord {
    let whole: ElectricCurrent = given.supply / (given.frequency * given.inductance);
    let ripple = whole * (given.duty * (plain(1.0) - given.duty));
    PwmRippleRecord {
        ripple,
        greatest_ripple: whole / 4.0,
        peak_current: given.current + ripple / 2.0,
        added_heat: given.winding_resistance * ripple * ripple / 12.0,
        time_constant: given.inductance / given.winding_resistance,
        continuous: ripple / 2.0 <= given.current,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn pulsed(duty: f64, frequency: f64) -> Record {
        let given = [
            ("supply", 12.0, "V"),
            ("duty", duty, "%"),
            ("frequency", frequency, "kHz"),
            ("inductance", 2.0, "mH"),
            ("winding_resistance", 4.0, "Ω"),
            ("current", 0.5, "A"),
        ];
        record("motor.pwm_ripple", &given)
    }

    /// Worked by hand: 12 V for 0.25 · 50 µs less what the mean takes, 9 V over 2 mH for 12.5 µs: 56.25 mA.
    #[test]
    fn a_quarter_pulse_at_20_khz() {
        let it = pulsed(25.0, 20.0);
        close(it.get("ripple", "mA"), 56.25, 1e-12);
        close(it.get("greatest_ripple", "mA"), 75.0, 1e-12);
        close(it.get("peak_current", "mA"), 528.125, 1e-12);
        close(it.get("added_heat", "W"), 4.0 * 0.056_25 * 0.056_25 / 12.0, 1e-12);
        close(it.get("time_constant", "ms"), 0.5, 1e-12);
        assert!(it.is("continuous") && !pulsed(50.0, 1.0).is("continuous"));
        close(pulsed(50.0, 20.0).get("ripple", "A"), it.get("greatest_ripple", "A"), 1e-12);
    }

    proptest! {
        /// The exact ripple of R and L between two exponentials is less, by 2.2 % at most while the period is within L/R.
        #[test]
        fn straight_slopes_overstate_the_ripple_a_little(duty in 1.0..99.0, periods in 1.0..50.0) {
            // A period of 0.5 ms over `periods`.
            let it = pulsed(duty, 2.0 * periods);
            let (t, d) = (1.0 / periods, duty / 100.0);
            let fallen = |x: f64| 1.0 - (-x).exp();
            let exact = 12.0 / 4.0 * fallen(d * t) * fallen((1.0 - d) * t) / fallen(t);
            let simple = it.get("ripple", "A");
            prop_assert!(exact <= simple * (1.0 + 1e-9) && simple <= 1.022 * exact, "{} {}", exact, simple);
        }
    }
}
