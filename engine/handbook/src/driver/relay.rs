//! A relay's coil: whether it pulls in, cold and hot, and what becomes of the energy in it when it is let go.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Energy, Inductance, Power, Ratio,
    ThermodynamicTemperature, Time,
};

use crate::{
    declare::model,
    physics::{copper_growth, not_negative, plain},
};

model! {
    /// A relay's coil on a supply: current, power, and whether it pulls in with its winding that warm
    "driver.relay_coil" as RELAY_COIL, by relay_coil;
    source "published: IEC 60028 (copper's resistance over temperature, 0.00393 /K); pull-in at three quarters of the \
        rated voltage, and what a pin gives (about 10 mA from a CMOS timer or a microcontroller, 100 mA to 200 mA into a bipolar \
        timer, whose datasheet gives its greatest output current as 200 mA): common practice";
    takes RelayCoil {
        /// Supply of the coil and its driver
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Voltage that the coil is made for
        rated_voltage as "V_r": ElectricPotential, "V" in 1.5..=48.0;
        /// Resistance of the coil at 20 °C
        coil_resistance as "R_20": ElectricalResistance, "Ω" in 5.0..=20_000.0;
        /// Drop in the driver: a saturated transistor's
        driver_drop as "V_dr": ElectricPotential, "V" in 0.0..=3.0 or 0.2;
        /// Temperature of the winding
        winding as "T_w": ThermodynamicTemperature, "°C" in -40.0..=155.0 or 20.0;
        /// Voltage that pulls in at 20 °C, in proportion to the rated voltage
        pull_in as "p": Ratio, "%" in 40.0..=90.0 or 75.0;
        /// Current that the pin gives, above which a transistor drives the coil: by default a CMOS timer's or a
        /// microcontroller's; a bipolar timer gives 100 mA to 200 mA
        pin_limit as "I_pin": ElectricCurrent, "mA" in 0.0..=200.0 or 10.0;
    }
    by {
        /// Growth of copper's resistance from 20 °C (IEC 60028)
        growth as "g", "" = "1 + 0.00393 1/K * (winding - 20 °C)";
    }
    gives RelayCoilRecord {
        /// Resistance of the winding that warm
        resistance as "R": ElectricalResistance, "Ω" = "coil_resistance * growth";
        /// Voltage at the coil
        voltage as "V_c": ElectricPotential, "V" = "max(0 V, supply - driver_drop)";
        /// Current in the coil
        current as "I": ElectricCurrent, "A" = "voltage / resistance";
        /// Heat in the coil
        power as "P": Power, "W" = "voltage * current";
        /// Voltage that pulls in with the winding that warm
        pull_in_voltage as "V_p": ElectricPotential, "V" = "rated_voltage * pull_in * growth";
        /// What the coil's voltage is above that by, in proportion to it
        pull_in_margin as "m": Ratio, "%" = "voltage / pull_in_voltage - 1";
        /// Whether it pulls in
        pulls_in: bool, condition = "voltage >= pull_in_voltage";
        /// Current above what the pin gives
        above_pin as "ΔI": ElectricCurrent, "A" = "current - pin_limit";
        /// Whether the coil takes more than the pin gives
        transistor_wanted: bool, condition = "current > pin_limit";
    }
    needs {
        "the supply is above the driver's drop", |given| given.supply > given.driver_drop;
        "the coil's voltage is at most a tenth above the rated voltage",
            |given| given.supply - given.driver_drop <= given.rated_voltage * 1.1;
    }
}

/// Evaluates `driver.relay_coil`.
pub fn relay_coil(given: &RelayCoil) -> RelayCoilRecord {
    let growth = copper_growth(given.winding);
    let resistance = given.coil_resistance * growth;
    let voltage = not_negative(given.supply - given.driver_drop);
    let current: ElectricCurrent = voltage / resistance;
    // It is a current that pulls in, and the voltage for it grows as the winding's resistance does.
    let pull_in_voltage = given.rated_voltage * given.pull_in * growth;
    RelayCoilRecord {
        resistance,
        voltage,
        current,
        power: voltage * current,
        pull_in_voltage,
        pull_in_margin: Ratio::from(voltage / pull_in_voltage) - plain(1.0),
        pulls_in: voltage >= pull_in_voltage,
        above_pin: current - given.pin_limit,
        transistor_wanted: current > given.pin_limit,
    }
}

model! {
    /// A coil or a motor's winding switched off with a diode across it: the energy, the diode's current, and how long the
    /// current flows on
    "driver.flyback" as FLYBACK, by flyback;
    source "published: any circuits handbook (decay of an inductance's current through its resistance and a constant \
        drop); release at a tenth to a third of the rated current: common practice";
    takes Flyback {
        /// Current in the coil as it is switched off
        current as "I_0": ElectricCurrent, "mA" in 0.1..=10_000.0;
        /// Inductance of the coil, pulled in
        inductance as "L": Inductance, "mH" in 0.001..=100_000.0;
        /// Resistance of the coil
        resistance as "R": ElectricalResistance, "Ω" in 0.1..=20_000.0;
        /// Supply of the coil
        supply as "V_S": ElectricPotential, "V" in 1.5..=60.0;
        /// Drop of the diode, or of diode and Zener diode in series
        diode_drop as "V_D": ElectricPotential, "V" in 0.1..=100.0 or 0.7;
        /// Current that a relay releases at, in proportion to the current at the start; without meaning for a motor
        release as "r": Ratio, "%" in 1.0..=90.0 or 10.0;
    }
    by {
        /// Current that the diode's drop would drive through the coil
        beyond as "I_V", "A" = "diode_drop / resistance";
    }
    gives FlybackRecord {
        /// Energy in the coil
        energy as "W": Energy, "J" = "inductance * current^2 / 2";
        /// Part of it that ends in the diode
        diode_energy as "W_D": Energy, "J"
            = "diode_drop * time_constant * (current - beyond * ln(1 + current / beyond))";
        /// Greatest current in the diode: that of the coil
        diode_current as "I_D": ElectricCurrent, "A" = "current";
        /// Voltage that the switch stands while the diode conducts
        switch_voltage as "V_sw": ElectricPotential, "V" = "supply + diode_drop";
        /// Inductance over resistance
        time_constant as "τ": Time, "s" = "inductance / resistance";
        /// Time until the current falls to what a relay releases at
        release_time as "t_r": Time, "s" = "time_constant * ln((current + beyond) / (release * current + beyond))";
        /// Time until no current flows
        decay_time as "t_0": Time, "s" = "time_constant * ln(1 + current / beyond)";
    }
}

/// Evaluates `driver.flyback`.
pub fn flyback(given: &Flyback) -> FlybackRecord {
    let time_constant: Time = given.inductance / given.resistance;
    // The current heads for minus this, and the diode stops it at nothing.
    let beyond: ElectricCurrent = given.diode_drop / given.resistance;
    let released = given.current * given.release;
    let to_release: Ratio = (given.current - released) / (released + beyond);
    let to_nothing: Ratio = given.current / beyond;
    let in_diode = given.current - beyond * libm::log1p(to_nothing.value);
    FlybackRecord {
        energy: given.inductance * given.current * given.current * 0.5,
        diode_energy: given.diode_drop * time_constant * in_diode,
        diode_current: given.current,
        switch_voltage: given.supply + given.diode_drop,
        time_constant,
        release_time: time_constant * libm::log1p(to_release.value),
        decay_time: time_constant * libm::log1p(to_nothing.value),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::RELAY_COIL;
    use crate::check::{Record, close, record};

    fn coil(supply: f64, winding: f64) -> Record {
        record(
            "driver.relay_coil",
            &[
                ("supply", supply, "V"),
                ("rated_voltage", 12.0, "V"),
                ("coil_resistance", 400.0, "Ω"),
                ("winding", winding, "°C"),
            ],
        )
    }

    fn let_go(diode_drop: f64, release: f64) -> Record {
        record(
            "driver.flyback",
            &[
                ("current", 30.0, "mA"),
                ("inductance", 400.0, "mH"),
                ("resistance", 400.0, "Ω"),
                ("supply", 12.0, "V"),
                ("diode_drop", diode_drop, "V"),
                ("release", release, "%"),
            ],
        )
    }

    /// Published: datasheets of the 555-type timer give 200 mA as the greatest output current of the bipolar version, and
    /// of its CMOS version 10 mA as a source. A small relay can stand on the one, and wants a transistor on the other.
    #[test]
    fn a_bipolar_timer_drives_what_a_cmos_timer_does_not() {
        let on = |limit| {
            let common = [("supply", 12.2, "V"), ("rated_voltage", 12.0, "V"), ("coil_resistance", 400.0, "Ω")];
            record("driver.relay_coil", &[&common[..], &[("pin_limit", limit, "mA")]].concat())
        };
        assert!(!on(200.0).is("transistor_wanted") && !on(100.0).is("transistor_wanted"));
        assert!(on(10.0).is("transistor_wanted") && coil(12.2, 20.0).is("transistor_wanted"));
    }

    /// Common practice: a small relay's coil draws more than 10 mA: drive it through a transistor.
    #[test]
    fn a_small_relay_wants_a_transistor() {
        let relay = coil(12.2, 20.0);
        close(relay.get("current", "mA"), 30.0, 1e-12);
        close(relay.get("power", "mW"), 360.0, 1e-12);
        close(relay.get("pull_in_voltage", "V"), 9.0, 1e-12);
        close(relay.get("pull_in_margin", "%"), 100.0 / 3.0, 1e-9);
        close(relay.get("above_pin", "mA"), 20.0, 1e-12);
        assert!(relay.is("transistor_wanted") && relay.is("pulls_in"));
        let holds =
            |supply| RELAY_COIL.conditions.iter().all(|c| (c.holds)(&[supply, 12.0, 400.0, 0.2, 293.15, 0.75, 0.01]));
        assert!(holds(12.0) && !holds(14.0) && !holds(0.1));
    }

    /// Published: IEC 60028: 0.00393 /K: at 100 °C copper has 1.3144 times its resistance at 20 °C.
    #[test]
    fn a_hot_coil_wants_more_voltage() {
        let relay = coil(11.5, 100.0);
        close(relay.get("resistance", "Ω"), 400.0 * 1.3144, 1e-12);
        close(relay.get("pull_in_voltage", "V"), 9.0 * 1.3144, 1e-12);
        assert!(!relay.is("pulls_in") && coil(11.5, 60.0).is("pulls_in"));
    }

    /// Published: handbook table of the exponential: without the diode's drop 63.2 % is gone after one time constant.
    #[test]
    fn a_coil_releases_by_its_time_constant() {
        let shorted = let_go(1e-12, 36.787_944_117_144_23);
        close(shorted.get("time_constant", "ms"), 1.0, 1e-12);
        close(shorted.get("release_time", "ms"), 1.0, 1e-9);
        close(let_go(0.7, 10.0).get("energy", "µJ"), 180.0, 1e-12);
        assert_eq!(let_go(0.7, 10.0).get("diode_current", "mA"), 30.0);
        close(let_go(24.0, 10.0).get("switch_voltage", "V"), 36.0, 1e-12);
    }

    /// Common practice: a Zener diode in series with the diode lets the relay go sooner.
    #[test]
    fn a_zener_diode_releases_sooner() {
        assert!(let_go(24.7, 10.0).get("release_time", "s") < 0.3 * let_go(0.7, 10.0).get("release_time", "s"));
    }

    proptest! {
        /// Conservation of energy, by stepping the current down: what the coil held is heat in winding and diode.
        #[test]
        fn the_coil_s_energy_ends_in_winding_and_diode(diode_drop in 0.5..30.0) {
            let (inductance, resistance, steps) = (0.4, 400.0, 20_000);
            let coil = let_go(diode_drop, 10.0);
            let step = coil.get("decay_time", "s") / f64::from(steps);
            let (mut current, mut winding, mut diode) = (0.03f64, 0.0, 0.0);
            for _ in 0..steps {
                let slope = |i: f64| -(i * resistance + diode_drop) / inductance;
                let middle = current + slope(current) * step / 2.0;
                winding += middle * middle * resistance * step;
                diode += middle * diode_drop * step;
                current += slope(middle) * step;
            }
            prop_assert!(current.abs() < 1e-6);
            close(coil.get("diode_energy", "J"), diode, 1e-4);
            close(coil.get("energy", "J"), winding + diode, 1e-4);
        }
    }
}
