//! Many LEDs: in series at one resistor, and row by row in turn.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Power, Ratio, Time};

use crate::{declare::model, physics::plain};

model! {
    /// LEDs in series at one resistor: how many the supply allows, the resistor, and how far the current moves with the supply
    "driver.led_string" as LED_STRING, by led_string;
    source "common practice: (supply − forward voltages) / current, with a volt or more left for the resistor";
    takes LedString {
        /// Supply of the string
        supply as "V_S": ElectricPotential, "V" in 1.8..=60.0;
        /// Forward voltage of one LED at the current
        forward as "V_F": ElectricPotential, "V" in 1.0..=12.0;
        /// LEDs in series
        count as "n": Ratio, "" in 1.0..=30.0;
        /// Current wanted
        current as "I": ElectricCurrent, "mA" in 0.1..=1000.0;
        /// Least voltage to leave for the resistor
        least_across as "V_min": ElectricPotential, "V" in 0.1..=10.0 or 1.0;
    }
    by {
        /// Voltage across the resistor
        across as "V_R", "V" = "supply - string";
    }
    gives LedStringRecord {
        /// Forward voltage of the string
        string as "V_n": ElectricPotential, "V" = "count * forward";
        /// Most LEDs that leave the resistor its voltage
        most as "n_max": Ratio, "" = "max(0, floor((supply - least_across) / forward))";
        /// Resistor
        resistance as "R": ElectricalResistance, "Ω" = "across / current";
        /// Heat in the resistor
        resistor_dissipation as "P_R": Power, "W" = "across * current";
        /// Power in the LEDs in proportion to power from the supply
        efficiency as "η": Ratio, "%" = "string / supply";
        /// Change of the current for a small change of the supply, both in proportion
        sensitivity as "S": Ratio, "" = "supply / across" unless "the LEDs leave no voltage for the resistor";
    }
    needs {
        "the supply is above the forward voltages by what the resistor needs",
            |given| given.supply >= given.count * given.forward + given.least_across;
    }
}

/// Evaluates `driver.led_string`. Without enough supply the resistance comes out negative.
pub fn led_string(given: &LedString) -> LedStringRecord {
    let string = given.forward * given.count;
    let across = given.supply - string;
    let fit: Ratio = (given.supply - given.least_across) / given.forward;
    LedStringRecord {
        string,
        most: crate::physics::not_negative(plain(libm::floor(fit.value))),
        resistance: across / given.current,
        resistor_dissipation: across * given.current,
        efficiency: string / given.supply,
        sensitivity: given.supply / across,
    }
}

model! {
    /// LEDs lit row by row in turn: the peak current for an average, and what a row's driver carries; if the turn stops, one row
    /// gets its peak current all the time
    "driver.led_multiplex" as LED_MULTIPLEX, by led_multiplex;
    source "common practice: brightness follows the average current; rows share the time left by the blanking; above some 100 \
        turns a second eyes see no flicker";
    takes LedMultiplex {
        /// Average current wanted in each LED
        average as "I_av": ElectricCurrent, "mA" in 0.01..=100.0;
        /// Rows that share the time
        rows as "n": Ratio, "" in 1.0..=64.0;
        /// LEDs of a row that may be lit at once
        columns as "m": Ratio, "" in 1.0..=256.0;
        /// Part of the time that all rows are dark, so that none shines into the next
        blanking as "b": Ratio, "%" in 0.0..=50.0 or 0.0;
        /// Turns through all rows in a time
        refresh as "f": Frequency, "Hz" in 30.0..=10_000.0 or 100.0;
        /// Peak current that the LED stands at such pulses
        peak_limit as "I_max": ElectricCurrent, "mA" in 1.0..=2000.0;
    }
    gives LedMultiplexRecord {
        /// Part of the time that a row is lit
        duty as "D": Ratio, "%" = "(1 - blanking) / rows";
        /// Current in an LED while it is lit
        peak as "I_pk": ElectricCurrent, "A" = "average / duty";
        /// What the peak is below its limit by
        peak_margin as "ΔI": ElectricCurrent, "A" = "peak_limit - peak";
        /// Current in a row's driver with all its LEDs lit
        row_current as "I_row": ElectricCurrent, "A" = "columns * peak";
        /// Average current of all LEDs
        total_current as "I_sum": ElectricCurrent, "A" = "rows * columns * average";
        /// Time of a row's light in one turn
        lit_time as "t": Time, "s" = "duty / refresh";
        /// Whether the peak is within its limit
        within_limit: bool, condition = "peak <= peak_limit";
    }
    needs {
        "the peak is within the LED's limit", |given| led_multiplex(&given).within_limit;
    }
}

/// Evaluates `driver.led_multiplex`.
pub fn led_multiplex(given: &LedMultiplex) -> LedMultiplexRecord {
    let duty: Ratio = (plain(1.0) - given.blanking) / given.rows;
    let peak = given.average / duty;
    LedMultiplexRecord {
        duty,
        peak,
        peak_margin: given.peak_limit - peak,
        row_current: peak * given.columns,
        total_current: given.average * given.rows * given.columns,
        lit_time: (duty / given.refresh),
        within_limit: peak <= given.peak_limit,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn string(supply: f64, count: f64) -> Record {
        let given = [("supply", supply, "V"), ("forward", 2.0, "V"), ("count", count, ""), ("current", 20.0, "mA")];
        record("driver.led_string", &given)
    }

    fn matrix(average: f64) -> Record {
        let given = [
            ("average", average, "mA"),
            ("rows", 8.0, ""),
            ("columns", 8.0, ""),
            ("blanking", 20.0, "%"),
            ("peak_limit", 60.0, "mA"),
        ];
        record("driver.led_multiplex", &given)
    }

    /// Worked by hand: four LEDs of 2 V leave 4 V of 12 V for 200 Ω; five would leave 2 V, and a sixth none.
    #[test]
    fn five_red_leds_fit_on_twelve_volts() {
        let it = string(12.0, 4.0);
        close(it.get("resistance", "Ω"), 200.0, 1e-12);
        close(it.get("resistor_dissipation", "mW"), 80.0, 1e-12);
        close(it.get("efficiency", "%"), 200.0 / 3.0, 1e-12);
        close(it.get("sensitivity", ""), 3.0, 1e-12);
        assert_eq!(it.get("most", ""), 5.0);
        // The same model says what the current does when the supply moves: R stays, and the current is the rest over it.
        let moved = (12.12 - 8.0) / it.get("resistance", "Ω");
        close(moved, 0.020 * (1.0 + 0.01 * it.get("sensitivity", "")), 1e-12);
    }

    /// Worked by hand: an eighth of four fifths is a tenth, so 5 mA on average are 50 mA at the peak, 0.4 A a row, 0.32 A in all.
    #[test]
    fn eight_rows_want_ten_times_the_average_with_a_fifth_dark() {
        let it = matrix(5.0);
        close(it.get("duty", "%"), 10.0, 1e-12);
        close(it.get("peak", "mA"), 50.0, 1e-12);
        close(it.get("peak_margin", "mA"), 10.0, 1e-12);
        close(it.get("row_current", "A"), 0.4, 1e-12);
        close(it.get("total_current", "A"), 0.32, 1e-12);
        close(it.get("lit_time", "ms"), 1.0, 1e-12);
        assert!(it.is("within_limit") && !matrix(6.1).is("within_limit"));
    }

    proptest! {
        /// The most LEDs is the largest whole number that leaves the resistor its volt.
        #[test]
        fn one_more_led_than_the_most_is_too_many(supply in 3.5..60.0) {
            let most = string(supply, 1.0).get("most", "");
            prop_assert!(supply - 2.0 * most >= 1.0 && supply - 2.0 * (most + 1.0) < 1.0);
        }
    }
}
