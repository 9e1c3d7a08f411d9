//! Gears between a motor and what it moves.

use uom::si::{
    angle::radian,
    f64::{Angle, AngularVelocity, Power, Ratio, Torque},
};

use crate::{
    declare::model,
    physics::{not_negative, plain},
};

model! {
    /// A spur or planetary gearbox: torque, speed and loss; what is geared down injures fingers with its stall torque
    "motor.gear" as GEAR, by gear;
    source "published: any machines handbook (torque by ratio and efficiency, speed over ratio); 90 % a stage of small gears: \
        common practice";
    takes Gear {
        /// Torque of the motor
        motor_torque as "M_1": Torque, "mN·m" in 0.0..=10_000.0;
        /// Speed of the motor
        motor_speed as "ω_1": AngularVelocity, "rev/min" in 0.0..=100_000.0;
        /// Turns of the motor for one turn of the output
        ratio as "i": Ratio, "" in 1.0..=10_000.0;
        /// Stages
        stages as "n": Ratio, "" in 1.0..=8.0 or 1.0;
        /// Efficiency of one stage
        stage_efficiency as "η_1": Ratio, "%" in 30.0..=100.0 or 90.0;
    }
    gives GearRecord {
        /// Efficiency of all stages
        efficiency as "η": Ratio, "%" = "stage_efficiency^stages";
        /// Torque at the output
        torque as "M_2": Torque, "N·m" = "motor_torque * ratio * efficiency";
        /// Speed of the output
        speed as "ω_2": AngularVelocity, "rev/min" = "motor_speed / ratio";
        /// Power at the output
        power as "P_2": Power, "W" = "torque * speed";
        /// Heat in the gears
        loss as "P_l": Power, "W" = "motor_torque * motor_speed * (1 - efficiency)";
    }
}

/// Evaluates `motor.gear`.
pub fn gear(given: &Gear) -> GearRecord {
    let efficiency = plain(libm::pow(given.stage_efficiency.value, given.stages.value));
    let torque = Torque::from(given.motor_torque * (given.ratio * efficiency));
    let speed = AngularVelocity::from(given.motor_speed / given.ratio);
    GearRecord {
        efficiency,
        torque,
        speed,
        power: Power::from(torque * speed),
        loss: Power::from(given.motor_torque * given.motor_speed) * (plain(1.0) - efficiency),
    }
}

model! {
    /// A worm and its wheel: efficiency both ways, torque and speed. Shaking lets a worm slip that locks at rest: let no load that
    /// can injure rest on it alone
    "motor.worm" as WORM, by worm;
    source "published: any machines handbook (η = (cos α − µ·tan γ)/(cos α + µ/tan γ), backwards (cos α − µ/tan γ)/(cos α + µ·tan γ), \
        locked where µ ≥ cos α·tan γ); friction of 0.05 to 0.15: common practice";
    takes Worm {
        /// Torque at the worm
        worm_torque as "M_1": Torque, "mN·m" in 0.0..=10_000.0;
        /// Speed of the worm
        worm_speed as "ω_1": AngularVelocity, "rev/min" in 0.0..=100_000.0;
        /// Teeth of the wheel over threads of the worm
        ratio as "i": Ratio, "" in 3.0..=200.0;
        /// Lead angle of the worm's thread
        lead_angle as "γ": Angle, "°" in 0.5..=45.0;
        /// Friction in the mesh
        friction as "µ": Ratio, "" in 0.01..=0.5 or 0.1;
        /// Pressure angle of the thread's flank
        pressure_angle as "α": Angle, "°" in 0.0..=30.0 or 20.0;
    }
    by {
        /// Lead of the thread as a slope
        lead as "p", "" = "tan(lead_angle)";
        /// What the flank leaves of the force that presses it
        flank as "c", "" = "cos(pressure_angle)";
    }
    gives WormRecord {
        /// Efficiency with the worm driving
        efficiency as "η": Ratio, "%" = "(flank - friction * lead) / (flank + friction / lead)";
        /// Efficiency with the wheel driving; 0 where the worm locks
        back_efficiency as "η_b": Ratio, "%" = "max(0, (flank - friction / lead) / (flank + friction * lead))";
        /// Whether the wheel cannot turn the worm
        locks: bool, condition = "friction >= flank * lead";
        /// Torque at the wheel
        torque as "M_2": Torque, "N·m" = "worm_torque * ratio * efficiency";
        /// Speed of the wheel
        speed as "ω_2": AngularVelocity, "rev/min" = "worm_speed / ratio";
    }
}

/// Evaluates `motor.worm`.
pub fn worm(given: &Worm) -> WormRecord {
    let lead = plain(libm::tan(given.lead_angle.get::<radian>()));
    let flank = plain(libm::cos(given.pressure_angle.get::<radian>()));
    let friction = given.friction;
    let efficiency = (flank - friction * lead) / (flank + friction / lead);
    WormRecord {
        efficiency,
        back_efficiency: not_negative((flank - friction / lead) / (flank + friction * lead)),
        locks: friction >= flank * lead,
        torque: Torque::from(given.worm_torque * (given.ratio * efficiency)),
        speed: AngularVelocity::from(given.worm_speed / given.ratio),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn worm(lead_angle: f64, friction: f64, pressure_angle: f64) -> Record {
        let given = [
            ("worm_torque", 10.0, "mN·m"),
            ("worm_speed", 3000.0, "rev/min"),
            ("ratio", 30.0, ""),
            ("lead_angle", lead_angle, "°"),
            ("friction", friction, ""),
            ("pressure_angle", pressure_angle, "°"),
        ];
        record("motor.worm", &given)
    }

    /// Worked by hand: three stages of 90 % leave 72.9 %; 10 mN·m at 100 rad/s are 1 W, of which 0.271 W is heat.
    #[test]
    fn three_stages_lose_a_quarter() {
        let given =
            [("motor_torque", 10.0, "mN·m"), ("motor_speed", 100.0, "rad/s"), ("ratio", 50.0, ""), ("stages", 3.0, "")];
        let it = record("motor.gear", &given);
        close(it.get("efficiency", "%"), 72.9, 1e-12);
        close(it.get("torque", "mN·m"), 364.5, 1e-12);
        close(it.get("speed", "rad/s"), 2.0, 1e-12);
        close(it.get("power", "W"), 0.729, 1e-12);
        close(it.get("loss", "W"), 0.271, 1e-12);
    }

    /// From memory: a textbook of machine design tabulates the efficiency for a friction of 0.05: at lead angles of 1, 2.5, 10
    /// and 30 degrees 25.2, 45.7, 76.6 and 89.1 %, which are those of a pressure angle of 14.5 degrees.
    #[test]
    fn a_worm_is_as_efficient_as_the_table_says() {
        for (lead_angle, per_cent) in [(1.0, 25.2), (2.5, 45.7), (10.0, 76.6), (30.0, 89.1)] {
            let found = worm(lead_angle, 0.05, 14.5).get("efficiency", "%");
            assert!((found - per_cent).abs() <= 0.051, "{found} for {per_cent}");
        }
    }

    proptest! {
        /// Published: machines handbook: on a square thread η is tan γ / tan(γ + ρ), and backwards tan(γ − ρ) / tan γ, with the angle
        /// of friction ρ; a flank at an angle has the friction µ / cos α. The worm locks where the lead angle is within ρ.
        #[test]
        fn a_worm_is_a_wedge_with_an_angle_of_friction(
            lead_angle in 0.5..45.0f64, friction in 0.01..0.5f64, pressure_angle in 0.0..30.0f64
        ) {
            let it = worm(lead_angle, friction, pressure_angle);
            let (lead, rho) = (lead_angle.to_radians(), (friction / pressure_angle.to_radians().cos()).atan());
            close(it.get("efficiency", ""), lead.tan() / (lead + rho).tan(), 1e-9);
            let back = ((lead - rho).tan() / lead.tan()).max(0.0);
            prop_assert!((it.get("back_efficiency", "") - back).abs() < 1e-9);
            prop_assert_eq!(it.is("locks"), lead <= rho);
            close(it.get("torque", "mN·m"), 300.0 * it.get("efficiency", ""), 1e-12);
            close(it.get("speed", "rev/min"), 100.0, 1e-12);
        }
    }
}
