//! A bulk capacitor: the ripple that it leaves behind a rectifier, and the surge that fills it.

use uom::si::f64::{
    Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Energy, Frequency, Ratio, Time,
};

use crate::{
    declare::{choice, model},
    physics::{JouleIntegral, not_negative, plain},
};

choice! {
    /// How a rectifier is built.
    Rectifier {
        /// Four diodes, two of them in series at any time; a pulse each half period.
        Bridge = "bridge",
        /// A winding with a centre tap and two diodes; a pulse each half period.
        CentreTap = "centre_tap",
        /// One diode; a pulse each period.
        HalfWave = "half_wave",
    }
}

model! {
    /// Bulk capacitor behind a rectifier, fed at low voltage by a safety isolating transformer: ripple, and the lowest voltage
    /// that is left
    "supply.bulk_ripple" as BULK_RIPPLE, by bulk_ripple;
    source "published: any circuits handbook (ripple I/(f·C), which is a little more than there is, since the capacitor is \
        charged for a part of the time)";
    takes BulkRipple {
        /// Voltage of the winding under this load (of one half, with a centre tap), root mean square
        winding as "V_ac": ElectricPotential, "V" in 3.0..=48.0;
        /// Current drawn
        load as "I": ElectricCurrent, "A" in 0.001..=10.0;
        /// Bulk capacitor
        capacitance as "C": Capacitance, "µF" in 10.0..=100_000.0;
        /// Rectifier
        rectifier as "r": Rectifier, (Rectifier) or 0.0;
        /// Drop of one diode
        diode_drop as "V_F": ElectricPotential, "V" in 0.2..=1.5 or 0.9;
        /// Frequency of the mains
        mains as "f": Frequency, "Hz" in 40.0..=400.0 or 50.0;
    }
    by {
        /// Diodes in series
        diodes as "n_D", "" = "if rectifier == bridge then 2 else 1";
        /// Charging pulses in a period
        pulses as "n_p", "" = "if rectifier == half_wave then 1 else 2";
    }
    gives BulkRippleRecord {
        /// Highest voltage at the capacitor
        peak as "V_p": ElectricPotential, "V" = "max(0 V, sqrt(2) * winding - diodes * diode_drop)";
        /// Ripple from peak to trough
        ripple as "ΔV": ElectricPotential, "V" = "load / (pulses * mains * capacitance)";
        /// Lowest voltage at the capacitor
        trough as "V_min": ElectricPotential, "V" = "peak - ripple";
        /// Mean voltage at the capacitor
        mean as "V_m": ElectricPotential, "V" = "peak - ripple / 2";
    }
    needs {
        "the ripple is at most a quarter of the highest voltage",
            |given| {
                let record = bulk_ripple(&given);
                record.ripple * 4.0 <= record.peak
            };
    }
}

/// Evaluates `supply.bulk_ripple`.
pub fn bulk_ripple(given: &BulkRipple) -> BulkRippleRecord {
    let diodes = if given.rectifier == Rectifier::Bridge { 2.0 } else { 1.0 };
    let pulses = if given.rectifier == Rectifier::HalfWave { 1.0 } else { 2.0 };
    let peak = not_negative(given.winding * std::f64::consts::SQRT_2 - given.diode_drop * diodes);
    let ripple: ElectricPotential = given.load / (given.mains * given.capacitance * pulses);
    BulkRippleRecord { peak, ripple, trough: peak - ripple, mean: peak - ripple / 2.0 }
}

model! {
    /// Surge as an empty capacitor is connected: current, energy, and what of it a fuse stands; contacts that close on it may
    /// weld
    "supply.inrush" as INRUSH, by inrush;
    source "published: any circuits handbook (current V/R that decays with R·C, energy C·V²/2, I²·t of it C·V²/(2·R)); a fuse \
        that is to stand 100,000 surges takes 22 % of its melting I²·t: from memory of fuse makers' guides";
    takes Inrush {
        /// Supply that the capacitor is connected to
        supply as "V": ElectricPotential, "V" in 1.0..=60.0;
        /// Resistance of all in the loop: source, wires, contacts, capacitor, and a cold thermistor if there is one
        resistance as "R": ElectricalResistance, "Ω" in 0.005..=1000.0;
        /// Capacitor, empty at first
        capacitance as "C": Capacitance, "µF" in 0.1..=1_000_000.0;
        /// Melting I²·t of the fuse, from its datasheet
        melting as "J_m": JouleIntegral, "A^2·s" in 0.000_1..=10_000.0;
        /// Part of it that one surge may take
        surge_share as "s": Ratio, "%" in 5.0..=100.0 or 22.0;
    }
    gives InrushRecord {
        /// Highest current, at the start
        peak_current as "I_pk": ElectricCurrent, "A" = "supply / resistance";
        /// Resistance times capacitance
        time_constant as "τ": Time, "s" = "resistance * capacitance";
        /// Energy in the charged capacitor; as much is heat in the resistance
        energy as "W": Energy, "J" = "capacitance * supply^2 / 2";
        /// I²·t of the surge
        surge as "J": JouleIntegral, "A^2·s" = "peak_current^2 * time_constant / 2";
        /// Surge in proportion to what the fuse may take
        loading as "k": Ratio, "%" = "surge / (surge_share * melting)";
        /// Whether the fuse stands it
        fuse_stands: bool, condition = "loading <= 1";
    }
}

/// Evaluates `supply.inrush`.
pub fn inrush(given: &Inrush) -> InrushRecord {
    let peak_current: ElectricCurrent = given.supply / given.resistance;
    let time_constant: Time = given.resistance * given.capacitance;
    let surge: JouleIntegral = peak_current * peak_current * time_constant * 0.5;
    let loading: Ratio = surge / (given.surge_share * given.melting);
    InrushRecord {
        peak_current,
        time_constant,
        energy: given.supply * given.supply * given.capacitance * 0.5,
        surge,
        loading,
        fuse_stands: loading <= plain(1.0),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn rectified(capacitance: f64, rectifier: &str) -> Record {
        let given = [("winding", 12.0, "V"), ("load", 0.5, "A"), ("capacitance", capacitance, "µF")];
        record("supply.bulk_ripple", &[&given[..], &[("rectifier", 0.0, rectifier)]].concat())
    }

    /// The ripple by stepping through a few periods of a rectified sine into a capacitor with a constant load.
    fn stepped(peak: f64, load: f64, capacitance: f64, pulses: f64) -> f64 {
        let steps = 40_000;
        let (mut v, mut low) = (peak, peak);
        for i in 0..4 * steps {
            let phase = std::f64::consts::TAU * f64::from(i) / f64::from(steps);
            // Diodes' drops are taken off the peak alone: near it, where they conduct, that is the same.
            let fed = if pulses == 2.0 { peak * phase.cos().abs() } else { peak * phase.cos() };
            v = (v - load / capacitance / 50.0 / f64::from(steps)).max(fed);
            low = low.min(v);
        }
        peak - low
    }

    /// Worked by hand: 12 V are 16.97 V at the peak, less two diodes 15.17 V; 0.5 A over 10 ms out of 2.2 mF is 2.27 V.
    #[test]
    fn twelve_volts_ac_make_fifteen_of_dc() {
        let bridge = rectified(2200.0, "bridge");
        close(bridge.get("peak", "V"), 15.170_562_748_477_14, 1e-12);
        close(bridge.get("ripple", "V"), 0.5 * 0.01 / 2.2e-3, 1e-12);
        close(bridge.get("trough", "V"), 12.897_835_475_749_87, 1e-12);
        close(bridge.get("mean", "V"), 14.034_199_112_113_5, 1e-12);
        close(rectified(2200.0, "half_wave").get("ripple", "V"), 2.0 * bridge.get("ripple", "V"), 1e-12);
        close(rectified(2200.0, "centre_tap").get("peak", "V"), bridge.get("peak", "V") + 0.9, 1e-12);
    }

    /// Worked by hand: 12 V over 0.1 Ω are 120 A, for a time constant of 0.1 ms; C·V²/2 is 72 mJ, and C·V²/(2·R) 0.72 A²·s.
    #[test]
    fn a_millifarad_on_twelve_volts_is_a_surge_of_120_amperes() {
        let surge = |melting| {
            let given = [("supply", 12.0, "V"), ("resistance", 0.1, "Ω"), ("capacitance", 1000.0, "µF")];
            record("supply.inrush", &[&given[..], &[("melting", melting, "A^2·s")]].concat())
        };
        let it = surge(4.0);
        close(it.get("peak_current", "A"), 120.0, 1e-12);
        close(it.get("time_constant", "ms"), 0.1, 1e-12);
        close(it.get("energy", "mJ"), 72.0, 1e-12);
        close(it.get("surge", "A^2·s"), 0.72, 1e-12);
        close(it.get("loading", "%"), 100.0 * 0.72 / 0.88, 1e-12);
        assert!(it.is("fuse_stands") && !surge(3.0).is("fuse_stands"));
    }

    proptest! {
        /// The straight line overstates the ripple, by at most a quarter of it (a half with half waves) in its range.
        #[test]
        fn ripple_is_what_a_rectified_sine_leaves_or_a_little_more(capacitance in 1500.0..20_000.0) {
            for (rectifier, pulses) in [("bridge", 2.0), ("half_wave", 1.0)] {
                let it = rectified(capacitance, rectifier);
                let exact = stepped(it.get("peak", "V"), 0.5, capacitance * 1e-6, pulses);
                let simple = it.get("ripple", "V");
                prop_assert!(exact <= simple * (1.0 + 1e-6) && exact >= 0.7 * simple, "{} {}", exact, simple);
            }
        }

        /// I²·t, integrated in steps over the decaying current; the heat in the resistance is the energy in the capacitor.
        #[test]
        fn a_surge_is_the_integral_of_its_current_squared(supply in 1.0..60.0, resistance in 0.01..10.0) {
            let given = [
                ("supply", supply, "V"),
                ("resistance", resistance, "Ω"),
                ("capacitance", 470.0, "µF"),
                ("melting", 1.0, "A^2·s"),
            ];
            let it = record("supply.inrush", &given);
            let step = resistance * 470e-6 / 200.0;
            let current = |t: f64| supply / resistance * (-t / (resistance * 470e-6)).exp();
            let sum: f64 = (0..4000).map(|i| current((f64::from(i) + 0.5) * step).powi(2) * step).sum();
            close(it.get("surge", "A^2·s"), sum, 1e-5);
            close(it.get("energy", "J"), it.get("surge", "A^2·s") * resistance, 1e-12);
        }
    }
}
