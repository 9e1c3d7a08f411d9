//! A motor that is held: how fast its winding heats, and whether fuse, adapter and contacts are chosen for it.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Mass, Power, Ratio, TemperatureInterval,
    ThermalResistance, ThermodynamicTemperature, Time,
};

use crate::{
    declare::model,
    physics::{HeatingRate, copper_specific_heat, lesser, not_negative, plain, warmer},
};

model! {
    /// Temperature of a winding while the motor is held, and the time until it is at its limit
    "motor.stall_heat" as STALL_HEAT, by stall_heat;
    source "published: any machines handbook (one body heated at constant power, P·θ·(1 − e^(−t/τ))), with copper's \
        385 J/(kg·K); limit of insulation class A, IEC 60085. That the winding's resistance grows, which lowers the \
        power, is left out, so that times come out short: common practice";
    takes StallHeat {
        /// Voltage at the motor's terminals
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Resistance of the winding with its brushes
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Copper in the winding
        copper_mass as "m": Mass, "g" in 0.1..=5000.0;
        /// Thermal resistance from winding to ambient
        thermal_resistance as "θ": ThermalResistance, "K/W" in 1.0..=200.0;
        /// Temperature of the air around, and of the winding as it is held
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=80.0 or 25.0;
        /// Time that it is held for
        duration as "t": Time, "s" in 0.0..=86_400.0 or 10.0;
        /// Temperature that the winding must stay under
        limit as "T_max": ThermodynamicTemperature, "°C" in 60.0..=250.0 or 105.0;
    }
    by {
        /// Heat capacity of the copper
        heat_capacity as "C", "J/K" = "385 J/(kg·K) * copper_mass";
        /// Rise that it comes to in the end
        final_rise as "ΔT_∞", "K" = "power * thermal_resistance";
        /// Rise that is allowed
        allowed as "ΔT_max", "K" = "max(0 K, limit - ambient)";
    }
    gives StallHeatRecord {
        /// Heat in the winding
        power as "P": Power, "W" = "supply^2 / winding_resistance";
        /// Rise in a time as long as no heat gets away
        heating_rate as "r": HeatingRate, "K/s" = "power / heat_capacity";
        /// Rise after the time held, if no heat gets away
        adiabatic_rise as "ΔT_a": TemperatureInterval, "K" = "heating_rate * duration";
        /// Time constant of the winding
        time_constant as "τ": Time, "s" = "heat_capacity * thermal_resistance";
        /// Temperature of the winding after the time held
        temperature as "T": ThermodynamicTemperature, "°C"
            = "ambient + final_rise * (1 - exp(-duration / time_constant))";
        /// Temperature that it comes to in the end
        final_temperature as "T_∞": ThermodynamicTemperature, "°C" = "ambient + final_rise";
        /// What the winding is below its limit by, after the time held
        margin as "ΔT": TemperatureInterval, "K" = "limit - temperature";
        /// Time to the limit, if no heat gets away: never longer than the time with it
        adiabatic_time_to_limit as "t_a": Time, "s" = "allowed / heating_rate";
        /// Time to the limit; infinite where it is never reached
        time_to_limit as "t_lim": Time, "s"
            = "-time_constant * ln(1 - allowed / final_rise)"
            unless "the winding settles below its limit, so the time never comes";
    }
    needs {
        "the ambient is below the winding's limit", |given| given.ambient < given.limit;
    }
}

/// Evaluates `motor.stall_heat`.
pub fn stall_heat(given: &StallHeat) -> StallHeatRecord {
    let power: Power = given.supply * given.supply / given.winding_resistance;
    let heat_capacity = given.copper_mass * copper_specific_heat();
    let heating_rate: HeatingRate = power / heat_capacity;
    let time_constant: Time = heat_capacity * given.thermal_resistance;
    let final_rise = TemperatureInterval::from(power * given.thermal_resistance);
    let held: Ratio = given.duration / time_constant;
    let temperature = given.ambient + final_rise * -libm::expm1(-held.value);
    let allowed = not_negative(warmer(given.limit, given.ambient));
    let share: Ratio = allowed / final_rise;
    let time_constants = if share >= plain(1.0) { f64::INFINITY } else { -libm::log1p(-share.value) };
    StallHeatRecord {
        power,
        heating_rate,
        adiabatic_rise: TemperatureInterval::from(heating_rate * given.duration),
        time_constant,
        temperature,
        final_temperature: given.ambient + final_rise,
        margin: warmer(given.limit, temperature),
        adiabatic_time_to_limit: allowed / heating_rate,
        time_to_limit: time_constant * time_constants,
    }
}

model! {
    /// Whether fuse, adapter and switch suit a motor, running and held
    "motor.protection" as PROTECTION, by protection;
    source "common practice: a fuse is loaded to three quarters of its rating, and melts within seconds at about twice \
        its rating; an adapter that limits its current to little more than its rating melts no fuse above half of that";
    takes Protection {
        /// Current of the motor under its load
        running_current as "I": ElectricCurrent, "A" in 0.001..=100.0;
        /// Current of the motor with its shaft held
        stall_current as "I_s": ElectricCurrent, "A" in 0.005..=500.0;
        /// Rated current of the fuse
        fuse_rating as "I_F": ElectricCurrent, "A" in 0.02..=100.0;
        /// Rated current of the adapter
        adapter_rating as "I_A": ElectricCurrent, "A" in 0.02..=100.0;
        /// Rated current of what switches the motor: a relay's contact or a transistor
        contact_rating as "I_C": ElectricCurrent, "A" in 0.02..=100.0;
        /// Part of its rating that a fuse is loaded with
        fuse_loading as "p": Ratio, "%" in 30.0..=100.0 or 75.0;
        /// Times its rating that melts a fuse within seconds
        melting_ratio as "k_m": Ratio, "" in 1.2..=10.0 or 2.0;
    }
    gives ProtectionRecord {
        /// Stall current in proportion to the running current
        stall_ratio as "k_s": Ratio, "" = "stall_current / running_current";
        /// Current that melts the fuse within seconds
        melting_current as "I_m": ElectricCurrent, "A" = "fuse_rating * melting_ratio";
        /// Current that flows in a stall, where the adapter gives no more than its rating
        fault_current as "I_f": ElectricCurrent, "A" = "min(stall_current, adapter_rating)";
        /// What the running current is below the fuse's loading by, in proportion to that
        fuse_running_margin as "m_F": Ratio, "%" = "1 - running_current / (fuse_rating * fuse_loading)";
        /// Whether the fuse stands the running current
        fuse_stands_running: bool, condition = "running_current <= fuse_rating * fuse_loading";
        /// What the stall current is above the melting current by, in proportion to that
        fuse_stall_margin as "m_m": Ratio, "%" = "stall_current / melting_current - 1";
        /// Whether a stall melts the fuse, on an adapter that gives all of the stall current
        fuse_melts: bool, condition = "stall_current >= melting_current";
        /// Whether a stall melts the fuse on an adapter that gives no more than its rating
        fuse_melts_on_adapter: bool, condition = "fault_current >= melting_current";
        /// What the running current is below the adapter's rating by, in proportion to that
        adapter_running_margin as "m_A": Ratio, "%" = "1 - running_current / adapter_rating";
        /// Whether the adapter stands the running current
        adapter_stands_running: bool, condition = "running_current <= adapter_rating";
        /// What the stall current is below the adapter's rating by, in proportion to that
        adapter_stall_margin as "m_As": Ratio, "%" = "1 - stall_current / adapter_rating";
        /// Whether the adapter stands the stall current
        adapter_stands_stall: bool, condition = "stall_current <= adapter_rating";
        /// What the stall current, which each start draws, is below the switch's rating by, in proportion to that
        contact_margin as "m_C": Ratio, "%" = "1 - stall_current / contact_rating";
        /// Whether the switch stands the stall current
        contacts_stand_stall: bool, condition = "stall_current <= contact_rating";
    }
    needs {
        "the running current is below the stall current", |given| given.running_current < given.stall_current;
    }
}

/// Evaluates `motor.protection`.
pub fn protection(given: &Protection) -> ProtectionRecord {
    let Protection { running_current, stall_current, fuse_rating, adapter_rating, contact_rating, .. } = *given;
    let loaded = fuse_rating * given.fuse_loading;
    let melting_current = fuse_rating * given.melting_ratio;
    let fault_current = lesser(stall_current, adapter_rating);
    let below = |current: ElectricCurrent, bound: ElectricCurrent| plain(1.0) - Ratio::from(current / bound);
    ProtectionRecord {
        stall_ratio: stall_current / running_current,
        melting_current,
        fault_current,
        fuse_running_margin: below(running_current, loaded),
        fuse_stands_running: running_current <= loaded,
        fuse_stall_margin: -below(stall_current, melting_current),
        fuse_melts: stall_current >= melting_current,
        fuse_melts_on_adapter: fault_current >= melting_current,
        adapter_running_margin: below(running_current, adapter_rating),
        adapter_stands_running: running_current <= adapter_rating,
        adapter_stall_margin: below(stall_current, adapter_rating),
        adapter_stands_stall: stall_current <= adapter_rating,
        contact_margin: below(stall_current, contact_rating),
        contacts_stand_stall: stall_current <= contact_rating,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn held(duration: f64, limit: f64) -> Record {
        record(
            "motor.stall_heat",
            &[
                ("supply", 12.0, "V"),
                ("winding_resistance", 8.0, "Ω"),
                ("copper_mass", 10.0, "g"),
                ("thermal_resistance", 20.0, "K/W"),
                ("duration", duration, "s"),
                ("limit", limit, "°C"),
            ],
        )
    }

    /// Published: handbook table of the exponential: 63.2, 86.5, 95.0, 98.2, 99.3 % after 1 to 5 time constants.
    #[test]
    fn a_winding_warms_by_the_table_of_the_exponential() {
        let time_constant = held(1.0, 105.0).get("time_constant", "s");
        close(time_constant, 0.01 * 385.0 * 20.0, 1e-12);
        for (n, percent) in [(1.0, 63.2), (2.0, 86.5), (3.0, 95.0), (4.0, 98.2), (5.0, 99.3)] {
            let winding = held(n * time_constant, 105.0);
            let share = (winding.get("temperature", "°C") - 25.0) / (winding.get("final_temperature", "°C") - 25.0);
            assert_eq!((share * 1000.0).round() / 10.0, percent);
        }
    }

    /// Worked by hand: 12 V over 8 Ω is 18 W; 10 g of copper hold 3.85 J/K, so 4.675 K/s and 80 K in 17.1 s.
    #[test]
    fn a_held_winding_heats_by_kelvin_a_second() {
        let winding = held(10.0, 105.0);
        close(winding.get("power", "W"), 18.0, 1e-12);
        close(winding.get("heating_rate", "K/s"), 18.0 / 3.85, 1e-12);
        close(winding.get("adiabatic_rise", "K"), 180.0 / 3.85, 1e-12);
        close(winding.get("adiabatic_time_to_limit", "s"), 17.11, 1e-3);
        close(winding.get("final_temperature", "°C"), 385.0, 1e-12);
        assert_eq!(held(10.0, 400.0).get("time_to_limit", "s"), f64::INFINITY);
    }

    fn protected(running: f64, stall: f64, fuse: f64, adapter: f64) -> Record {
        record(
            "motor.protection",
            &[
                ("running_current", running, "A"),
                ("stall_current", stall, "A"),
                ("fuse_rating", fuse, "A"),
                ("adapter_rating", adapter, "A"),
                ("contact_rating", 2.0, "A"),
            ],
        )
    }

    /// Common practice: a motor at stall draws several times its running current; adapter and contacts must stand it.
    #[test]
    fn fuse_adapter_and_contacts_each_have_their_say() {
        let good = protected(0.3, 1.5, 0.5, 2.0);
        for said in [
            "fuse_stands_running",
            "fuse_melts",
            "fuse_melts_on_adapter",
            "adapter_stands_running",
            "adapter_stands_stall",
            "contacts_stand_stall",
        ] {
            assert!(good.is(said), "{said}");
        }
        close(good.get("fuse_running_margin", "%"), 20.0, 1e-12);
        close(good.get("fuse_stall_margin", "%"), 50.0, 1e-12);
        close(good.get("adapter_stall_margin", "%"), 25.0, 1e-12);
        close(good.get("stall_ratio", ""), 5.0, 1e-12);

        let weak_adapter = protected(0.3, 1.5, 0.5, 0.9);
        assert!(weak_adapter.is("fuse_melts") && !weak_adapter.is("fuse_melts_on_adapter"));
        assert!(!weak_adapter.is("adapter_stands_stall"));
        assert!(!protected(0.4, 1.5, 0.5, 2.0).is("fuse_stands_running"));
        assert!(!protected(0.3, 1.5, 0.8, 2.0).is("fuse_melts"));
        assert!(!protected(0.3, 2.1, 0.5, 3.0).is("contacts_stand_stall"));
    }

    proptest! {
        /// Held for its time to the limit, a winding is at the limit, and no sooner than if no heat got away.
        #[test]
        fn the_time_to_the_limit_ends_at_the_limit(limit in 60.0..250.0) {
            let time = held(1.0, limit).get("time_to_limit", "s");
            let winding = held(time, limit);
            close(winding.get("temperature", "°C"), limit, 1e-9);
            prop_assert!(winding.get("margin", "K").abs() < 1e-9);
            prop_assert!(winding.get("adiabatic_time_to_limit", "s") < time);
        }
    }
}
