//! Intervals that a microcontroller counts in ticks of its clock.

use uom::si::f64::{Frequency, Ratio, Time};

use crate::{declare::model, physics::plain};

model! {
    /// Interval that a number of ticks makes
    "timing.ticks" as TICKS, by ticks;
    source "common practice: a prescaled timer counts one in prescaler / clock; microcontrollers' reference manuals";
    takes Ticks {
        /// Frequency that the timer is fed with
        clock as "f_clk": Frequency, "MHz" in 0.001..=1000.0;
        /// What the clock is divided by ahead of the counter
        prescaler as "k": Ratio, "" in 1.0..=65_536.0 or 1.0;
        /// Ticks counted
        counts as "n": Ratio, "" in 1.0..=4_294_967_296.0;
    }
    gives TicksRecord {
        /// Time that the ticks take
        interval as "t": Time, "s" = "resolution * counts";
        /// One tick, which an interval can be set to the nearest of
        resolution as "t_1": Time, "s" = "prescaler / clock";
        /// Intervals in a time, end to end
        frequency as "f": Frequency, "Hz" = "1 / interval";
    }
}

/// Evaluates `timing.ticks`.
pub fn ticks(given: &Ticks) -> TicksRecord {
    let resolution = given.prescaler / given.clock;
    let interval = resolution * given.counts;
    TicksRecord { interval, resolution, frequency: (plain(1.0) / interval) }
}

model! {
    /// Ticks that come nearest to a wanted interval, and the error that is left
    "timing.count" as COUNT, by count;
    source "common practice: the nearest whole number of ticks; microcontrollers' reference manuals";
    takes Count {
        /// Interval wanted
        wanted as "t_w": Time, "s" in 0.000_000_001..=100_000_000.0;
        /// Frequency that the timer is fed with
        clock as "f_clk": Frequency, "MHz" in 0.001..=1000.0;
        /// What the clock is divided by ahead of the counter
        prescaler as "k": Ratio, "" in 1.0..=65_536.0 or 1.0;
        /// Bits of the counter
        bits as "b": Ratio, "" in 8.0..=64.0 or 16.0;
    }
    gives CountRecord {
        /// Ticks to count, at least one
        counts as "n": Ratio, "" = "max(1, round(wanted / resolution))";
        /// Interval that they make
        interval as "t": Time, "s" = "resolution * counts";
        /// What it is longer than wanted by
        rounding as "Δt": Time, "s" = "interval - wanted";
        /// The same in proportion to the interval wanted
        error as "δ": Ratio, "ppm" = "rounding / wanted";
        /// One tick
        resolution as "t_1": Time, "s" = "prescaler / clock";
        /// Interval of the counter's whole range
        longest as "t_max": Time, "s" = "resolution * 2^bits";
        /// Whether the counter's range holds the interval without help from software
        fits: bool, condition = "counts <= 2^bits";
    }
    needs {
        "the interval is at least one tick", |given| given.wanted * given.clock >= given.prescaler;
    }
}

/// Evaluates `timing.count`.
pub fn count(given: &Count) -> CountRecord {
    let resolution = given.prescaler / given.clock;
    let exact: Ratio = given.wanted / resolution;
    let counts = if exact.value < 1.0 { plain(1.0) } else { plain(libm::round(exact.value)) };
    let interval = resolution * counts;
    let range = libm::exp2(given.bits.value);
    CountRecord {
        counts,
        interval,
        rounding: interval - given.wanted,
        error: (interval - given.wanted) / given.wanted,
        resolution,
        longest: resolution * range,
        fits: counts.value <= range,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    /// Common practice, worked by hand: 16 MHz over 1024 ticks every 64 µs; 15 625 ticks are one second.
    #[test]
    fn a_second_is_15625_ticks_of_16_mhz_over_1024() {
        let clock = [("clock", 16.0, "MHz"), ("prescaler", 1024.0, "")];
        let ticks = record("timing.ticks", &[&clock[..], &[("counts", 15_625.0, "")]].concat());
        close(ticks.get("interval", "s"), 1.0, 1e-15);
        close(ticks.get("resolution", "µs"), 64.0, 1e-12);
        let count = record("timing.count", &[&clock[..], &[("wanted", 1.0, "s")]].concat());
        assert_eq!(count.get("counts", ""), 15_625.0);
        assert!(count.is("fits"));
        close(count.get("longest", "s"), 65_536.0 * 64e-6, 1e-12);
        let long = record("timing.count", &[&clock[..], &[("wanted", 10.0, "s")]].concat());
        assert!(!long.is("fits"));
        assert_eq!(long.get("counts", ""), 156_250.0);
    }

    proptest! {
        /// Rounding to the nearest tick is never off by more than half of one.
        #[test]
        fn rounding_is_at_most_half_a_tick(wanted in 0.001..10.0, clock in 0.1..20.0) {
            let count = record("timing.count", &[("wanted", wanted, "s"), ("clock", clock, "MHz")]);
            let half = count.get("resolution", "s") / 2.0;
            prop_assert!(count.get("rounding", "s").abs() <= half * (1.0 + 1e-6));
            close(count.get("error", "ppm"), 1e6 * count.get("rounding", "s") / wanted, 1e-9);
        }
    }
}
