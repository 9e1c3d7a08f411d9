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

model! {
    /// Least prescaler that lets a counter hold an interval, of those that small microcontrollers have
    "timing.prescaler" as PRESCALER, by prescaler;
    source "common practice: the least prescaler counts finest; 1, 8, 64, 256 and 1024 are those of many 8-bit microcontrollers";
    takes Prescaled {
        /// Interval wanted
        wanted as "t_w": Time, "s" in 0.000_000_001..=100_000_000.0;
        /// Frequency that the timer is fed with
        clock as "f_clk": Frequency, "MHz" in 0.001..=1000.0;
        /// Bits of the counter
        bits as "b": Ratio, "" in 8.0..=64.0 or 16.0;
    }
    by {
        /// What the clock would have to be divided by for the counter to be just full
        needed as "k_0", "" = "wanted * clock / 2^bits";
    }
    gives PrescaledRecord {
        /// What the clock is divided by
        prescaler as "k": Ratio, ""
            = "if needed <= 1 then 1 else if needed <= 8 then 8 else if needed <= 64 then 64 else if needed <= 256 then 256 else 1024";
        /// Ticks to count, at least one
        counts as "n": Ratio, "" = "max(1, round(wanted * clock / prescaler))";
        /// Interval that they make
        interval as "t": Time, "s" = "counts * prescaler / clock";
        /// What it is longer than wanted by, in proportion
        error as "δ": Ratio, "ppm" = "(interval - wanted) / wanted";
        /// Whether the counter holds the interval at all
        fits: bool, condition = "needed <= 1024";
    }
    needs {
        "the counter holds the interval; else software counts the overflows", |given| prescaler(&given).fits;
        "the interval is at least one tick of the clock", |given| given.wanted * given.clock >= plain(1.0);
    }
}

/// Evaluates `timing.prescaler`.
pub fn prescaler(given: &Prescaled) -> PrescaledRecord {
    let ticks: Ratio = given.wanted * given.clock;
    let needed = ticks / libm::exp2(given.bits.value);
    let prescaler = [1.0, 8.0, 64.0, 256.0].into_iter().find(|step| needed.value <= *step);
    let prescaler = prescaler.unwrap_or(if needed.value.is_nan() { f64::NAN } else { 1024.0 });
    let exact = ticks.value / prescaler;
    let counts = if exact < 1.0 { 1.0 } else { libm::round(exact) };
    let interval = plain(counts) * prescaler / given.clock;
    PrescaledRecord {
        prescaler: plain(prescaler),
        counts: plain(counts),
        interval,
        error: (interval - given.wanted) / given.wanted,
        fits: needed.value <= 1024.0,
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

    /// Common practice, worked by hand: 16 bits of 16 MHz hold 4.1 ms without a prescaler, a second with 256, and 4.2 s at most.
    #[test]
    fn the_least_prescaler_that_holds_a_second_is_256() {
        let of = |wanted| record("timing.prescaler", &[("wanted", wanted, "s"), ("clock", 16.0, "MHz")]);
        let second = of(1.0);
        assert_eq!([second.get("prescaler", ""), second.get("counts", "")], [256.0, 62_500.0]);
        close(second.get("interval", "s"), 1.0, 1e-15);
        assert_eq!(of(0.004).get("prescaler", ""), 1.0);
        assert_eq!(of(0.005).get("prescaler", ""), 8.0);
        assert!(of(4.19).is("fits") && !of(4.2).is("fits"));
        assert_eq!(of(4.2).get("prescaler", ""), 1024.0);
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
