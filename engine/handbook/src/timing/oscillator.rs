//! How far off an oscillator is, and an interval counted by it: the sum of what makes it so at the worst, and the root of
//! the sum of squares where the causes have nothing to do with one another.

use uom::si::f64::{Capacitance, ElectricPotential, Ratio, TemperatureCoefficient, TemperatureInterval, Time};

use crate::{
    declare::model,
    physics::{PerVolt, not_negative, plain},
};

/// An oscillator's model: what it takes, and the fields of its own beside those that all have.
macro_rules! oscillator {
    (
        $(#[doc = $summary:literal])+
        $name:literal as $model:ident, by $function:ident;
        source $source:literal;
        sums $sum:literal;
        squares $root:literal;
        takes $Given:ident { $($takes:tt)+ }
        gives $Record:ident { $($gives:tt)* }
    ) => {
        model! {
            $(#[doc = $summary])+
            $name as $model, by $function;
            source $source;
            takes $Given {
                /// Interval that is counted by it
                interval as "t": Time, "s" in 0.000_001..=100_000_000.0;
                $($takes)+
            }
            gives $Record {
                /// Greatest error, all causes in one direction
                error as "δ": Ratio, "ppm" = $sum;
                /// Root of the sum of the squares of the causes
                error_rss as "δ_rss": Ratio, "ppm" = $root;
                /// What the interval is off by at the greatest error, to first order
                interval_error as "Δt": Time, "s" = "interval * error";
                /// The same for the root of the sum of squares
                interval_error_rss as "Δt_rss": Time, "s" = "interval * error_rss";
                /// Interval when the oscillator is as fast as it may be
                shortest as "t_min": Time, "s" = "interval / (1 + error)";
                /// Interval when the oscillator is as slow as it may be
                longest as "t_max": Time, "s" = "interval / max(0, 1 - error)" unless "the error comes to 100 %, so the oscillator may stand still";
                $($gives)*
            }
        }
    };
}

oscillator! {
    /// Error of a quartz crystal's frequency and of an interval counted by it
    "timing.crystal" as CRYSTAL, by crystal;
    source "from memory: the crystal's equivalent circuit, pulled by √(1 + C_m/(C_0 + C_L)); defaults of an 8 MHz to \
        20 MHz crystal: common practice";
    sums "tolerance + stability + ageing_per_year * years + abs(pulling)";
    squares "sqrt(tolerance^2 + stability^2 + (ageing_per_year * years)^2 + pulling^2)";
    takes Crystal {
        /// Tolerance of the frequency as made, at 25 °C
        tolerance as "δ_0": Ratio, "ppm" in 0.0..=200.0 or 30.0;
        /// Greatest departure over the temperature range
        stability as "δ_T": Ratio, "ppm" in 0.0..=500.0 or 50.0;
        /// Drift in a year
        ageing_per_year as "a": Ratio, "ppm" in 0.0..=50.0 or 5.0;
        /// Years since it was made, a plain number
        years as "n": Ratio, "" in 0.0..=30.0 or 5.0;
        /// Load capacitance that the crystal is made for
        load_capacitance as "C_L": Capacitance, "pF" in 4.0..=50.0 or 18.0;
        /// Load capacitance that it is given: the two capacitors in series, with the stray
        load_fitted as "C_F": Capacitance, "pF" in 4.0..=50.0 or 18.0;
        /// Motional capacitance of the crystal
        motional_capacitance as "C_m": Capacitance, "pF" in 0.001..=0.1 or 0.01;
        /// Shunt capacitance of the crystal
        shunt_capacitance as "C_0": Capacitance, "pF" in 0.5..=10.0 or 5.0;
    }
    gives CrystalRecord {
        /// How much faster it runs for the load capacitance that it is given
        pulling as "δ_p": Ratio, "ppm"
            = "sqrt(1 + motional_capacitance / (shunt_capacitance + load_fitted)) / sqrt(1 + motional_capacitance / (shunt_capacitance + load_capacitance)) - 1";
    }
}

/// Evaluates `timing.crystal`.
pub fn crystal(given: &Crystal) -> CrystalRecord {
    let above_series = |load: Capacitance| -> f64 {
        let share: Ratio = given.motional_capacitance / (given.shunt_capacitance + load);
        libm::sqrt(1.0 + share.value)
    };
    let pulling = plain(above_series(given.load_fitted) / above_series(given.load_capacitance) - 1.0);
    let causes = [given.tolerance, given.stability, given.ageing_per_year * given.years, pulling];
    let Summed { error, error_rss, interval_error, interval_error_rss, shortest, longest } =
        summed(given.interval, causes);
    CrystalRecord { error, error_rss, interval_error, interval_error_rss, shortest, longest, pulling }
}

oscillator! {
    /// Error of a ceramic resonator's frequency and of an interval counted by it
    "timing.resonator" as RESONATOR, by resonator;
    source "common practice: causes added up; defaults of a resonator with its capacitors built in";
    sums "tolerance + stability + ageing_per_year * years";
    squares "sqrt(tolerance^2 + stability^2 + (ageing_per_year * years)^2)";
    takes Resonator {
        /// Tolerance of the frequency as made, at 25 °C
        tolerance as "δ_0": Ratio, "%" in 0.0..=3.0 or 0.5;
        /// Greatest departure over the temperature range
        stability as "δ_T": Ratio, "%" in 0.0..=3.0 or 0.3;
        /// Drift in a year
        ageing_per_year as "a": Ratio, "%" in 0.0..=1.0 or 0.03;
        /// Years since it was made, a plain number
        years as "n": Ratio, "" in 0.0..=30.0 or 5.0;
    }
    gives ResonatorRecord {}
}

/// Evaluates `timing.resonator`.
pub fn resonator(given: &Resonator) -> ResonatorRecord {
    let causes = [given.tolerance, given.stability, given.ageing_per_year * given.years];
    let Summed { error, error_rss, interval_error, interval_error_rss, shortest, longest } =
        summed(given.interval, causes);
    ResonatorRecord { error, error_rss, interval_error, interval_error_rss, shortest, longest }
}

oscillator! {
    /// Error of an RC oscillator, such as a microcontroller has inside, and of an interval counted by it
    "timing.rc_oscillator" as RC_OSCILLATOR, by rc_oscillator;
    source "common practice: causes added up; defaults of a microcontroller's own oscillator, calibrated by its maker";
    sums "calibration + temperature_drift * temperature_departure + supply_drift * supply_departure";
    squares "sqrt(calibration^2 + (temperature_drift * temperature_departure)^2 + (supply_drift * supply_departure)^2)";
    takes RcOscillator {
        /// Error left by the calibration, at its temperature and supply
        calibration as "δ_0": Ratio, "%" in 0.0..=20.0 or 2.0;
        /// Drift with temperature
        temperature_drift as "α": TemperatureCoefficient, "%/K" in 0.0..=1.0 or 0.03;
        /// Greatest departure from the temperature of the calibration
        temperature_departure as "ΔT": TemperatureInterval, "K" in 0.0..=150.0 or 20.0;
        /// Drift with the supply
        supply_drift as "β": PerVolt, "%/V" in 0.0..=10.0 or 1.0;
        /// Greatest departure from the supply of the calibration
        supply_departure as "ΔV": ElectricPotential, "V" in 0.0..=5.0 or 0.25;
    }
    gives RcOscillatorRecord {}
}

/// Evaluates `timing.rc_oscillator`.
pub fn rc_oscillator(given: &RcOscillator) -> RcOscillatorRecord {
    let causes = [
        given.calibration,
        given.temperature_drift * given.temperature_departure,
        given.supply_drift * given.supply_departure,
    ];
    let Summed { error, error_rss, interval_error, interval_error_rss, shortest, longest } =
        summed(given.interval, causes);
    RcOscillatorRecord { error, error_rss, interval_error, interval_error_rss, shortest, longest }
}

struct Summed {
    error: Ratio,
    error_rss: Ratio,
    interval_error: Time,
    interval_error_rss: Time,
    shortest: Time,
    longest: Time,
}

fn summed<const N: usize>(interval: Time, causes: [Ratio; N]) -> Summed {
    let error: f64 = causes.iter().map(|cause| cause.value.abs()).sum();
    let error_rss = libm::sqrt(causes.iter().map(|cause| cause.value * cause.value).sum());
    Summed {
        error: plain(error),
        error_rss: plain(error_rss),
        interval_error: interval * error,
        interval_error_rss: interval * error_rss,
        shortest: interval / (1.0 + error),
        // An oscillator that may be slow by all of its frequency may stand still.
        longest: interval / not_negative(plain(1.0 - error)),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    /// Worked by hand: 30 ppm, 50 ppm and five times 5 ppm are 105 ppm, 9.07 s in a day; by squares 63.4 ppm.
    #[test]
    fn a_crystal_is_seconds_a_day_off_at_the_worst() {
        let crystal = record("timing.crystal", &[("interval", 24.0, "h")]);
        close(crystal.get("error", "ppm"), 105.0, 1e-12);
        close(crystal.get("error_rss", "ppm"), (900.0 + 2500.0 + 625.0f64).sqrt(), 1e-12);
        close(crystal.get("interval_error", "s"), 9.072, 1e-12);
        close(crystal.get("interval_error_rss", "s"), 86_400.0 * crystal.get("error_rss", ""), 1e-12);
        assert_eq!(crystal.get("pulling", "ppm"), 0.0);
    }

    /// From memory: the trim sensitivity −C_m / (2·(C_0 + C_L)²) of crystal makers' application notes; 10 fF and
    /// 5 pF + 18 pF come to −9.45 ppm/pF.
    #[test]
    fn a_crystal_with_too_little_load_runs_fast() {
        let pulled = |load| {
            record("timing.crystal", &[("interval", 1.0, "s"), ("load_fitted", load, "pF")]).get("pulling", "ppm")
        };
        close((pulled(18.01) - pulled(17.99)) / 0.02, -9.45, 1e-3);
        assert!(pulled(12.0) > 50.0 && pulled(22.0) < 0.0);
    }

    /// Common practice: a crystal is tens of ppm off, a ceramic resonator half a per cent or so, an RC oscillator some
    /// per cent.
    #[test]
    fn crystals_are_better_than_resonators_and_these_than_rc() {
        let error = |name| record(name, &[("interval", 1.0, "s")]).get("error", "%");
        let (crystal, resonator, rc) =
            (error("timing.crystal"), error("timing.resonator"), error("timing.rc_oscillator"));
        assert!(crystal < 0.02 && (0.3..1.5).contains(&resonator) && (2.0..10.0).contains(&rc));
        close(rc, 2.0 + 0.03 * 20.0 + 0.25, 1e-12);
        close(resonator, 0.5 + 0.3 + 0.03 * 5.0, 1e-12);
    }

    proptest! {
        /// A wanted number of cycles at the fastest and the slowest takes the shortest and the longest interval.
        #[test]
        fn the_interval_stands_between_its_extremes(calibration in 0.0..20.0, interval in 0.1..100.0) {
            let rc = record("timing.rc_oscillator", &[("interval", interval, "s"), ("calibration", calibration, "%")]);
            let error = rc.get("error", "");
            close(rc.get("shortest", "s") * (1.0 + error), interval, 1e-12);
            close(rc.get("longest", "s") * (1.0 - error), interval, 1e-12);
            prop_assert!(rc.get("error_rss", "") <= error);
            prop_assert!(rc.get("longest", "s") - interval >= rc.get("interval_error", "s"));
        }
    }
}
