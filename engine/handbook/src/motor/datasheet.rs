//! A motor's constants from two lines of its datasheet.

use uom::si::f64::{AngularVelocity, ElectricCurrent, ElectricPotential, ElectricalResistance, Ratio, Torque};

use crate::{declare::model, physics::TorqueConstant};

model! {
    /// A motor's constants from two points of its datasheet at one voltage: without load, and loaded
    "motor.from_datasheet" as FROM_DATASHEET, by from_datasheet;
    source "published: any machines handbook (V = I·R + k·ω at both points, torque k·I less friction)";
    takes FromDatasheet {
        /// Voltage at the motor's terminals, at both points
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Speed without load
        no_load_speed as "ω_0": AngularVelocity, "rev/min" in 10.0..=100_000.0;
        /// Current without load
        no_load_current as "I_0": ElectricCurrent, "A" in 0.001..=5.0;
        /// Speed under the load
        loaded_speed as "ω_1": AngularVelocity, "rev/min" in 5.0..=100_000.0;
        /// Current under the load
        loaded_current as "I_1": ElectricCurrent, "A" in 0.001..=50.0;
    }
    by {
        /// Speeds' proportion
        slowed as "q", "" = "loaded_speed / no_load_speed";
    }
    gives FromDatasheetRecord {
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω"
            = "supply * (1 - slowed) / (loaded_current - slowed * no_load_current)" unless "the points are on no falling line";
        /// Torque in a current, which is also volts in a speed
        torque_constant as "k": TorqueConstant, "mN·m/A"
            = "(supply - no_load_current * winding_resistance) / no_load_speed" unless "the points are on no falling line";
        /// Current with the shaft held
        stall_current as "I_s": ElectricCurrent, "A"
            = "supply / winding_resistance" unless "the points are on no falling line";
        /// Torque at the shaft when held
        stall_torque as "M_s": Torque, "N·m"
            = "torque_constant * (stall_current - no_load_current)" unless "the points are on no falling line";
        /// Torque that friction takes
        friction_torque as "M_f": Torque, "N·m"
            = "torque_constant * no_load_current" unless "the points are on no falling line";
        /// Torque at the shaft at the loaded point, which the datasheet gives too: a check
        load_torque as "M_1": Torque, "N·m"
            = "torque_constant * (loaded_current - no_load_current)" unless "the points are on no falling line";
    }
    needs {
        "the loaded motor is slower than without load", |given| given.loaded_speed < given.no_load_speed;
        "the loaded motor draws more than without load", |given| given.loaded_current > given.no_load_current;
    }
}

/// Evaluates `motor.from_datasheet`.
pub fn from_datasheet(given: &FromDatasheet) -> FromDatasheetRecord {
    let slowed: Ratio = given.loaded_speed / given.no_load_speed;
    let kept = 1.0 - slowed.value;
    let winding_resistance: ElectricalResistance =
        given.supply * kept / (given.loaded_current - given.no_load_current * slowed);
    let induced = given.supply - given.no_load_current * winding_resistance;
    let torque_constant: TorqueConstant = induced / uom::si::f64::Frequency::from(given.no_load_speed);
    let stall_current = given.supply / winding_resistance;
    let torque = |current: ElectricCurrent| Torque::from(torque_constant * current);
    FromDatasheetRecord {
        winding_resistance,
        torque_constant,
        stall_current,
        stall_torque: torque(stall_current - given.no_load_current),
        friction_torque: torque(given.no_load_current),
        load_torque: torque(given.loaded_current - given.no_load_current),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    proptest! {
        /// Two points of a known motor's line, as `motor.permanent_magnet` has it, give that motor back.
        #[test]
        fn two_points_give_the_motor_back(
            resistance in 0.5..20.0, constant in 2.0..50.0, idle in 0.01..0.08, part in 0.1..0.9
        ) {
            let stall = constant * (12.0 / resistance - idle);
            let motor = |load: f64| record("motor.permanent_magnet", &[
                ("supply", 12.0, "V"),
                ("winding_resistance", resistance, "Ω"),
                ("torque_constant", constant, "mN·m/A"),
                ("load_torque", load, "mN·m"),
                ("no_load_current", idle, "A"),
            ]);
            let (free, loaded) = (motor(0.0), motor(part * stall));
            let it = record("motor.from_datasheet", &[
                ("supply", 12.0, "V"),
                ("no_load_speed", free.get("speed", "rev/min"), "rev/min"),
                ("no_load_current", idle, "A"),
                ("loaded_speed", loaded.get("speed", "rev/min"), "rev/min"),
                ("loaded_current", loaded.get("current", "A"), "A"),
            ]);
            close(it.get("winding_resistance", "Ω"), resistance, 1e-9);
            close(it.get("torque_constant", "mN·m/A"), constant, 1e-9);
            close(it.get("stall_current", "A"), 12.0 / resistance, 1e-9);
            close(it.get("stall_torque", "mN·m"), stall, 1e-9);
            close(it.get("friction_torque", "mN·m"), constant * idle, 1e-9);
            close(it.get("load_torque", "mN·m"), part * stall, 1e-9);
        }
    }

    /// Worked by hand: 12 V; 600 rad/s at 0.1 A and 500 rad/s at 0.35 A. So R = 12·100/(0.35·600 − 0.1·500) = 7.5 Ω, and k =
    /// 11.25/600 = 18.75 mN·m/A.
    #[test]
    fn two_points_worked_by_hand() {
        let it = record(
            "motor.from_datasheet",
            &[
                ("supply", 12.0, "V"),
                ("no_load_speed", 600.0, "rad/s"),
                ("no_load_current", 0.1, "A"),
                ("loaded_speed", 500.0, "rad/s"),
                ("loaded_current", 0.35, "A"),
            ],
        );
        close(it.get("winding_resistance", "Ω"), 7.5, 1e-12);
        close(it.get("torque_constant", "mN·m/A"), 18.75, 1e-12);
        close(it.get("stall_current", "A"), 1.6, 1e-12);
        close(it.get("stall_torque", "mN·m"), 28.125, 1e-12);
        close(it.get("load_torque", "mN·m"), 4.6875, 1e-12);
    }
}
