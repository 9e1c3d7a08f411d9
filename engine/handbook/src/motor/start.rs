//! A motor that starts: the time constants of its winding and of its inertia.

use uom::si::f64::{
    AngularVelocity, ElectricCurrent, ElectricPotential, ElectricalResistance, Inductance, MomentOfInertia, Ratio, Time,
};

use crate::{
    declare::model,
    physics::{TorqueConstant, plain},
};

model! {
    /// How a motor comes up to speed without load: its time constants and the time to a part of its speed
    "motor.start_up" as START_UP, by start_up;
    source "published: any machines handbook (mechanical time constant J·R/(k_t·k_e), electrical L/R; with the first far \
        above the second, speed comes up as 1 − e^(−t/τ))";
    takes StartUp {
        /// Voltage at the motor's terminals
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Inertia of the rotor with what it turns
        inertia as "J": MomentOfInertia, "g·cm²" in 0.01..=1_000_000.0;
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Torque in a current, which is also volts in a speed
        torque_constant as "k": TorqueConstant, "mN·m/A" in 0.1..=1000.0;
        /// Inductance of the winding
        inductance as "L": Inductance, "mH" in 0.0..=1000.0 or 0.0;
        /// Part of the speed in the end that is waited for
        fraction as "p": Ratio, "%" in 0.0..=99.99 or 95.0;
    }
    gives StartUpRecord {
        /// Current as it starts: the stall current
        start_current as "I_s": ElectricCurrent, "A" = "supply / winding_resistance";
        /// Speed that it comes up to
        final_speed as "ω_0": AngularVelocity, "rev/min" = "supply / torque_constant";
        /// Time constant of the speed
        mechanical_time_constant as "τ_m": Time, "s" = "inertia * winding_resistance / torque_constant^2";
        /// Time constant of the current
        electrical_time_constant as "τ_e": Time, "s" = "inductance / winding_resistance";
        /// Time to the part of the speed waited for
        time_to_fraction as "t_p": Time, "s" = "-mechanical_time_constant * ln(1 - fraction)";
    }
    needs {
        "the electrical time constant is at most a tenth of the mechanical one", |given| {
            let start = start_up(&given);
            start.electrical_time_constant * 10.0 <= start.mechanical_time_constant
        };
    }
}

/// Evaluates `motor.start_up`.
pub fn start_up(given: &StartUp) -> StartUpRecord {
    let k = given.torque_constant;
    // Inertia counts radians in uom, time constants do not: plain numbers meet here, in SI base units.
    let damping = k * k / given.winding_resistance;
    let mechanical_time_constant: Time = PlainInertia::from(given.inertia) / damping;
    let left = plain(1.0) - given.fraction;
    StartUpRecord {
        start_current: given.supply / given.winding_resistance,
        final_speed: AngularVelocity::from(given.supply / k),
        mechanical_time_constant,
        electrical_time_constant: given.inductance / given.winding_resistance,
        time_to_fraction: mechanical_time_constant * -libm::log(left.value),
    }
}

/// An inertia with its radians dropped: mass by area.
type PlainInertia = <uom::si::f64::Mass as std::ops::Mul<uom::si::f64::Area>>::Output;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::START_UP;
    use crate::check::{Record, close, record};

    fn started(fraction: f64) -> Record {
        record(
            "motor.start_up",
            &[
                ("supply", 12.0, "V"),
                ("inertia", 20.0, "g·cm²"),
                ("winding_resistance", 8.0, "Ω"),
                ("torque_constant", 20.0, "mN·m/A"),
                ("inductance", 4.0, "mH"),
                ("fraction", fraction, "%"),
            ],
        )
    }

    /// Published: machines handbook: J·R/(k_t·k_e); 20 g·cm², 8 Ω and 20 mN·m/A make 40 ms; 4 mH over 8 Ω 0.5 ms.
    #[test]
    fn time_constants_of_speed_and_current() {
        close(started(95.0).get("mechanical_time_constant", "ms"), 40.0, 1e-12);
        close(started(95.0).get("electrical_time_constant", "ms"), 0.5, 1e-12);
        close(started(95.0).get("final_speed", "rad/s"), 600.0, 1e-12);
        close(started(95.0).get("start_current", "A"), 1.5, 1e-12);
        let slow_current = [12.0, 2e-6, 8.0, 0.02, 0.04, 0.95];
        assert!(!START_UP.conditions.iter().all(|condition| (condition.holds)(&slow_current)));
    }

    /// Published: handbook table of the exponential: 63.2 % after one time constant, 95.0 % after three.
    #[test]
    fn speed_comes_up_by_the_table_of_the_exponential() {
        close(started(63.2).get("time_to_fraction", "ms"), 40.0, 1e-3);
        close(started(95.0).get("time_to_fraction", "ms"), 120.0, 5e-3);
    }

    proptest! {
        /// The closed form is what the rotor's differential equation steps to, J·dω/dt = k·(V − k·ω)/R.
        #[test]
        fn the_rotor_s_differential_equation_comes_to_the_fraction(fraction in 1.0..99.0) {
            let (steps, time) = (4000, started(fraction).get("time_to_fraction", "s"));
            let step = time / f64::from(steps);
            let slope = |speed: f64| 0.02 * (12.0 - 0.02 * speed) / 8.0 / 2e-6;
            let speed = (0..steps).fold(0.0, |speed, _| speed + step * slope(speed + step / 2.0 * slope(speed)));
            close(speed, 600.0 * fraction / 100.0, 1e-5);
        }
    }
}
