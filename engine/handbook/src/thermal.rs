//! How hot things get: warming up as one body, what a part may take at a temperature, cooling by a board, pulses.

mod board;

pub use board::{
    COPPER_AREA, CopperCooled, CopperCooledRecord, PULSE, Package, Pulsed, PulsedRecord, copper_area, pulse,
};

use uom::si::f64::{
    HeatCapacity, Power, Ratio, TemperatureInterval, ThermalConductance, ThermalResistance, ThermodynamicTemperature,
    Time,
};

use crate::{
    declare::model,
    physics::{lesser, not_negative, plain, warmer},
};

model! {
    /// Temperature of one body that is heated by a constant power from the start on; bare metal of 55 °C burns skin within some ten
    /// seconds
    "thermal.step" as STEP, by step;
    source "published: any heat transfer textbook (one body of even temperature, P·θ·(1 − e^(−t/τ))); threshold of burns on bare \
        metal: from memory of ISO 13732-1";
    takes Heated {
        /// Power that becomes heat
        power as "P": Power, "W" in 0.01..=1000.0;
        /// Thermal resistance from the body to the air around
        thermal_resistance as "θ": ThermalResistance, "K/W" in 0.1..=1000.0;
        /// Heat that the body takes for a rise of temperature: mass times specific heat
        heat_capacity as "C": HeatCapacity, "J/K" in 0.01..=100_000.0;
        /// Temperature of the air around, and of the body at the start
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0 or 25.0;
        /// Time from the start
        duration as "t": Time, "s" in 0.0..=1_000_000.0;
        /// Temperature that the body must stay under
        limit as "T_max": ThermodynamicTemperature, "°C" in 30.0..=400.0 or 55.0;
    }
    by {
        /// Rise that it comes to in the end
        final_rise as "ΔT_∞", "K" = "power * thermal_resistance";
        /// Rise that is allowed
        allowed as "ΔT_max", "K" = "max(0 K, limit - ambient)";
    }
    gives StepRecord {
        /// Time in which the rise comes to 63 % of what it ends at
        time_constant as "τ": Time, "s" = "heat_capacity * thermal_resistance";
        /// Temperature after the time
        temperature as "T": ThermodynamicTemperature, "°C"
            = "ambient + final_rise * (1 - exp(-duration / time_constant))";
        /// Temperature that it comes to in the end
        final_temperature as "T_∞": ThermodynamicTemperature, "°C" = "ambient + final_rise";
        /// What it is below its limit by, after the time
        margin as "ΔT": TemperatureInterval, "K" = "limit - temperature";
        /// Time to the limit; infinite where it is never reached
        time_to_limit as "t_lim": Time, "s" = "-time_constant * ln(1 - allowed / final_rise)"
            unless "the body settles below its limit, so the time never comes";
    }
    needs {
        "the ambient is below the limit", |given| given.ambient < given.limit;
    }
}

/// Evaluates `thermal.step`.
pub fn step(given: &Heated) -> StepRecord {
    let final_rise = TemperatureInterval::from(given.power * given.thermal_resistance);
    let time_constant: Time = given.heat_capacity * given.thermal_resistance;
    let elapsed: Ratio = given.duration / time_constant;
    let temperature = given.ambient + final_rise * -libm::expm1(-elapsed.value);
    let allowed: Ratio = not_negative(warmer(given.limit, given.ambient)) / final_rise;
    StepRecord {
        time_constant,
        temperature,
        final_temperature: given.ambient + final_rise,
        margin: warmer(given.limit, temperature),
        time_to_limit: time_constant * if allowed.value >= 1.0 { f64::INFINITY } else { -libm::log1p(-allowed.value) },
    }
}

model! {
    /// Power that a part may take at a temperature, derated in a straight line to nothing
    "thermal.derating" as DERATING, by derating;
    source "published: IEC 60115-1 (fixed resistors: rated dissipation up to 70 °C, from there in a straight line to nothing at \
        the highest temperature); transistors alike, from a case or air of 25 °C: common practice of datasheets";
    takes Derated {
        /// Power that the part may take up to the rated temperature
        rated_power as "P_r": Power, "W" in 0.001..=1000.0;
        /// Temperature up to which it may
        rated_temperature as "T_r": ThermodynamicTemperature, "°C" in 20.0..=100.0 or 70.0;
        /// Temperature at which it may take nothing
        zero_temperature as "T_0": ThermodynamicTemperature, "°C" in 105.0..=300.0 or 155.0;
        /// Temperature of the air around, or of the case where the rating is for that
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=250.0;
        /// Power that the part takes
        dissipation as "P": Power, "W" in 0.000_1..=1000.0;
    }
    gives DerationRecord {
        /// Power that it may take at that temperature
        allowed as "P_max": Power, "W"
            = "rated_power * max(0, min(1, (zero_temperature - ambient) / (zero_temperature - rated_temperature)))";
        /// What is left of that
        margin as "ΔP": Power, "W" = "allowed - dissipation";
        /// Power that it takes in proportion to what it may
        loading as "k": Ratio, "%" = "dissipation / allowed"
            unless "the part may take no power at that temperature";
        /// Power lost for a rise of temperature, above the rated temperature
        slope as "g": ThermalConductance, "mW/K" = "rated_power / (zero_temperature - rated_temperature)";
        /// Whether it takes no more than it may
        within: bool, condition = "dissipation <= allowed";
    }
    needs {
        "the power is within what is allowed at that temperature", |given| derating(&given).within;
    }
}

/// Evaluates `thermal.derating`.
pub fn derating(given: &Derated) -> DerationRecord {
    let span = warmer(given.zero_temperature, given.rated_temperature);
    let left: Ratio = warmer(given.zero_temperature, given.ambient) / span;
    let allowed = given.rated_power * not_negative(lesser(plain(1.0), left));
    DerationRecord {
        allowed,
        margin: allowed - given.dissipation,
        loading: given.dissipation / allowed,
        slope: given.rated_power / span,
        within: given.dissipation <= allowed,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn heated(duration: f64, limit: f64) -> Record {
        let given = [
            ("power", 1.8, "W"),
            ("thermal_resistance", 20.0, "K/W"),
            ("heat_capacity", 5.0, "J/K"),
            ("duration", duration, "s"),
            ("limit", limit, "°C"),
        ];
        record("thermal.step", &given)
    }

    fn resistor(ambient: f64, dissipation: f64) -> Record {
        let given = [("rated_power", 0.25, "W"), ("ambient", ambient, "°C"), ("dissipation", dissipation, "W")];
        record("thermal.derating", &given)
    }

    /// Published: handbook table of the exponential: 63.2 % after one time constant, 95.0 % after three. Worked by hand: 1.8 W by
    /// 20 K/W are 36 K; half of it is there after ln 2 time constants of 100 s.
    #[test]
    fn a_body_is_63_per_cent_there_after_a_time_constant() {
        let it = heated(100.0, 43.0);
        close(it.get("time_constant", "s"), 100.0, 1e-12);
        close(it.get("temperature", "°C"), 25.0 + 36.0 * 0.632, 1e-3);
        close(heated(300.0, 43.0).get("temperature", "°C"), 25.0 + 36.0 * 0.950, 1e-3);
        close(it.get("final_temperature", "°C"), 61.0, 1e-12);
        close(it.get("time_to_limit", "s"), 69.314_718_055_994_53, 1e-9);
        close(it.get("margin", "K"), 43.0 - it.get("temperature", "°C"), 1e-9);
        assert_eq!(heated(100.0, 61.5).get("time_to_limit", "s"), f64::INFINITY);
    }

    /// Published: IEC 60115-1: full power up to 70 °C; at 155 °C none. Half way, at 112.5 °C, half of it.
    #[test]
    fn a_resistor_may_take_half_its_power_half_way_to_its_highest_temperature() {
        close(resistor(70.0, 0.1).get("allowed", "W"), 0.25, 1e-12);
        close(resistor(-20.0, 0.1).get("allowed", "W"), 0.25, 1e-12);
        let it = resistor(112.5, 0.1);
        close(it.get("allowed", "W"), 0.125, 1e-9);
        close(it.get("margin", "mW"), 25.0, 1e-9);
        close(it.get("loading", "%"), 80.0, 1e-9);
        close(it.get("slope", "mW/K"), 250.0 / 85.0, 1e-9);
        assert!(it.is("within") && !resistor(130.0, 0.1).is("within"));
        assert_eq!(resistor(160.0, 0.1).get("allowed", "W"), 0.0);
    }

    proptest! {
        /// The body's differential equation, stepped (midpoint rule): C·dT/dt = P − (T − T_A)/θ.
        #[test]
        fn a_step_solves_its_differential_equation(duration in 1.0..600.0) {
            let (mut rise, steps) = (0.0, 4000);
            let slope = |rise: f64| (1.8 - rise / 20.0) / 5.0;
            let step = duration / f64::from(steps);
            for _ in 0..steps {
                rise += step * slope(rise + step / 2.0 * slope(rise));
            }
            let it = heated(duration, 300.0);
            close(it.get("temperature", "°C") - 25.0, rise, 1e-5);
            // The time to the temperature that it has then is the time.
            let back = heated(1.0, it.get("temperature", "°C"));
            close(back.get("time_to_limit", "s"), duration, 1e-6);
        }
    }
}
