//! A motor's running point: torque is proportional to current, and speed to the voltage that the winding's drop leaves.

use uom::si::f64::{AngularVelocity, ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, Torque};

use crate::{
    declare::model,
    physics::{TorqueConstant, lesser, not_negative},
};

model! {
    /// A permanent-magnet motor under load: speed, current, powers, and the ends of its line from no load to stall
    "motor.permanent_magnet" as PERMANENT_MAGNET, by permanent_magnet;
    source "published: any machines handbook (stall current V/R, torque k·I, speed (V − I·R)/k, greatest shaft power at \
        half the no-load speed); friction taken as the torque of the no-load current: common practice";
    takes PermanentMagnet {
        /// Voltage at the motor's terminals
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Torque in a current, which is also volts in a speed
        torque_constant as "k": TorqueConstant, "mN·m/A" in 0.1..=1000.0;
        /// Torque that the load takes from the shaft
        load_torque as "M": Torque, "mN·m" in 0.0..=10_000.0;
        /// Current that friction takes
        no_load_current as "I_0": ElectricCurrent, "A" in 0.0..=5.0 or 0.0;
    }
    gives PermanentMagnetRecord {
        /// Current with the shaft held
        stall_current as "I_s": ElectricCurrent, "A" = "supply / winding_resistance";
        /// Torque at the shaft when held
        stall_torque as "M_s": Torque, "N·m" = "torque_constant * max(0 A, stall_current - no_load_current)";
        /// Speed without load
        no_load_speed as "ω_0": AngularVelocity, "rev/min"
            = "max(0 V, supply - no_load_current * winding_resistance) / torque_constant";
        /// Whether it turns against the load
        turns: bool, condition = "load_torque < stall_torque";
        /// Current under the load
        current as "I": ElectricCurrent, "A" = "min(stall_current, load_torque / torque_constant + no_load_current)";
        /// Speed under the load
        speed as "ω": AngularVelocity, "rev/min" = "max(0 V, supply - current * winding_resistance) / torque_constant";
        /// Power at the shaft
        shaft_power as "P_out": Power, "W" = "load_torque * speed";
        /// Power from the supply
        input_power as "P_in": Power, "W" = "supply * current";
        /// Heat in the winding
        winding_dissipation as "P_R": Power, "W" = "current^2 * winding_resistance";
        /// Shaft power in proportion to input power
        efficiency as "η": Ratio, "%" = "shaft_power / input_power" unless "the motor takes no power";
        /// Greatest shaft power, at half the stall torque
        greatest_shaft_power as "P_max": Power, "W" = "stall_torque * no_load_speed / 4";
        /// Stall current in proportion to the current under the load
        stall_ratio as "k_s": Ratio, "" = "stall_current / current" unless "the running motor takes no current";
    }
    needs {
        "the load's torque is below the stall torque", |given| permanent_magnet(&given).turns;
    }
}

/// Evaluates `motor.permanent_magnet`. A motor that its load holds draws its stall current at no speed.
pub fn permanent_magnet(given: &PermanentMagnet) -> PermanentMagnetRecord {
    let PermanentMagnet { supply, winding_resistance, torque_constant, load_torque, no_load_current } = *given;
    let stall_current: ElectricCurrent = supply / winding_resistance;
    let stall_torque = Torque::from(torque_constant * not_negative(stall_current - no_load_current));
    let speed_at = |current: ElectricCurrent| {
        AngularVelocity::from(not_negative((supply - current * winding_resistance) / torque_constant))
    };
    let current = lesser(stall_current, load_torque / torque_constant + no_load_current);
    let (no_load_speed, speed) = (speed_at(lesser(stall_current, no_load_current)), speed_at(current));
    let shaft_power: Power = Power::from(load_torque * speed);
    let input_power: Power = supply * current;
    PermanentMagnetRecord {
        stall_current,
        stall_torque,
        no_load_speed,
        turns: load_torque < stall_torque,
        current,
        speed,
        shaft_power,
        input_power,
        winding_dissipation: current * current * winding_resistance,
        efficiency: shaft_power / input_power,
        greatest_shaft_power: Power::from(stall_torque * no_load_speed) / 4.0,
        stall_ratio: stall_current / current,
    }
}

model! {
    /// A motor's constants from what can be measured: no-load speed and current, and winding resistance
    "motor.constants" as CONSTANTS, by constants;
    source "published: any machines handbook (k = (V − I·R)/ω, torque k·I)";
    takes Constants {
        /// Voltage at the motor's terminals
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Speed without load at that voltage
        no_load_speed as "ω_0": AngularVelocity, "rev/min" in 10.0..=100_000.0;
        /// Current without load at that voltage
        no_load_current as "I_0": ElectricCurrent, "A" in 0.0..=5.0 or 0.0;
    }
    by {
        /// Voltage that the turning winding induces
        induced as "E", "V" = "supply - no_load_current * winding_resistance";
    }
    gives ConstantsRecord {
        /// Torque in a current, which is also volts in a speed
        torque_constant as "k": TorqueConstant, "mN·m/A" = "induced / no_load_speed";
        /// Torque that friction takes
        friction_torque as "M_f": Torque, "N·m" = "torque_constant * no_load_current";
        /// Current with the shaft held
        stall_current as "I_s": ElectricCurrent, "A" = "supply / winding_resistance";
        /// Torque at the shaft when held
        stall_torque as "M_s": Torque, "N·m" = "torque_constant * (stall_current - no_load_current)";
    }
    needs {
        "the no-load current is below the stall current",
            |given| given.no_load_current * given.winding_resistance < given.supply;
    }
}

/// Evaluates `motor.constants`.
pub fn constants(given: &Constants) -> ConstantsRecord {
    let induced = given.supply - given.no_load_current * given.winding_resistance;
    let torque_constant: TorqueConstant = induced / PlainSpeed::from(given.no_load_speed);
    let stall_current: ElectricCurrent = given.supply / given.winding_resistance;
    ConstantsRecord {
        torque_constant,
        friction_torque: Torque::from(torque_constant * given.no_load_current),
        stall_current,
        stall_torque: Torque::from(torque_constant * (stall_current - given.no_load_current)),
    }
}

/// A speed with its radians dropped, as quotients of it are.
type PlainSpeed = uom::si::f64::Frequency;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn motor(load: f64, no_load_current: f64) -> Record {
        record(
            "motor.permanent_magnet",
            &[
                ("supply", 12.0, "V"),
                ("winding_resistance", 8.0, "Ω"),
                ("torque_constant", 20.0, "mN·m/A"),
                ("load_torque", load, "mN·m"),
                ("no_load_current", no_load_current, "A"),
            ],
        )
    }

    /// Published: machines handbook: stall current V/R; stall torque k·V/R; no-load speed V/k.
    #[test]
    fn the_ends_of_the_line() {
        let free = motor(0.0, 0.0);
        close(free.get("stall_current", "A"), 1.5, 1e-12);
        close(free.get("stall_torque", "mN·m"), 30.0, 1e-12);
        close(free.get("no_load_speed", "rad/s"), 600.0, 1e-12);
        close(free.get("speed", "rev/min"), 600.0 * 60.0 / std::f64::consts::TAU, 1e-12);
        assert_eq!(free.get("current", "A"), 0.0);
    }

    /// Published: machines handbook: greatest shaft power at half the no-load speed, τ_s·ω_0/4.
    #[test]
    fn the_greatest_shaft_power_is_at_half_the_no_load_speed() {
        let half = motor(15.0, 0.0);
        close(half.get("speed", "rad/s"), 300.0, 1e-12);
        close(half.get("shaft_power", "W"), 0.03 * 600.0 / 4.0, 1e-12);
        close(half.get("greatest_shaft_power", "W"), half.get("shaft_power", "W"), 1e-12);
        close(half.get("efficiency", "%"), 50.0, 1e-12);
        close(half.get("stall_ratio", ""), 2.0, 1e-12);
        for load in [13.0, 14.0, 16.0, 17.0] {
            assert!(motor(load, 0.0).get("shaft_power", "W") < half.get("shaft_power", "W"));
        }
    }

    /// Common practice: a held motor draws its stall current, several times its running current.
    #[test]
    fn a_motor_that_its_load_holds_does_not_turn() {
        let held = motor(40.0, 0.1);
        assert!(!held.is("turns") && motor(5.0, 0.1).is("turns"));
        assert_eq!(held.get("speed", "rad/s"), 0.0);
        close(held.get("current", "A"), 1.5, 1e-12);
        assert!(motor(5.0, 0.1).get("stall_ratio", "") > 4.0);
    }

    proptest! {
        /// Conservation of energy: input is shaft power, heat in the winding, and friction.
        #[test]
        fn input_is_shaft_power_heat_and_friction(load in 0.0..27.0, no_load_current in 0.0..0.1) {
            let motor = motor(load, no_load_current);
            let friction = 0.02 * no_load_current * motor.get("speed", "rad/s");
            let out = motor.get("shaft_power", "W") + motor.get("winding_dissipation", "W") + friction;
            prop_assert!((motor.get("input_power", "W") - out).abs() < 1e-12);
        }

        /// Constants worked out from a motor's no-load run give that motor back.
        #[test]
        fn a_no_load_run_gives_the_constants_back(no_load_current in 0.0..0.5) {
            let motor = motor(0.0, no_load_current);
            let constants = record("motor.constants", &[
                ("supply", 12.0, "V"),
                ("winding_resistance", 8.0, "Ω"),
                ("no_load_speed", motor.get("no_load_speed", "rad/s"), "rad/s"),
                ("no_load_current", no_load_current, "A"),
            ]);
            close(constants.get("torque_constant", "mN·m/A"), 20.0, 1e-12);
            close(constants.get("stall_torque", "N·m"), motor.get("stall_torque", "N·m"), 1e-12);
            close(constants.get("stall_current", "A"), 1.5, 1e-12);
            close(constants.get("friction_torque", "mN·m"), 20.0 * no_load_current, 1e-12);
        }
    }
}
