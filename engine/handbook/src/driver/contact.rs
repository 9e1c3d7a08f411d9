//! How long a relay's contact lasts.

use uom::si::f64::{ElectricCurrent, Ratio, Time};

use crate::{declare::model, physics::lesser};

model! {
    /// Life of a contact at a current between two points of the datasheet's curve; a worn contact may stay closed
    "driver.contact_life" as CONTACT_LIFE, by contact_life;
    source "common practice: datasheets draw the operations over the current on logarithmic axes, nearly as a straight line between \
        two near points; no further than these, and for the kind of load that the curve is for";
    takes ContactLife {
        /// Current that the contact switches
        load as "I": ElectricCurrent, "A" in 0.001..=100.0;
        /// Lower current of the curve
        lower_current as "I_1": ElectricCurrent, "A" in 0.001..=50.0;
        /// Operations at it
        lower_operations as "N_1": Ratio, "" in 100.0..=1_000_000_000.0;
        /// Higher current of the curve
        higher_current as "I_2": ElectricCurrent, "A" in 0.01..=100.0;
        /// Operations at that
        higher_operations as "N_2": Ratio, "" in 100.0..=1_000_000_000.0;
        /// Operations without a load
        mechanical as "N_m": Ratio, "" in 1000.0..=1_000_000_000.0 or 10_000_000.0;
        /// Time from one operation to the next
        interval as "t": Time, "s" in 0.01..=10_000_000.0;
    }
    by {
        /// Slope of the curve on logarithmic axes
        slope as "p", "" = "ln(higher_operations / lower_operations) / ln(higher_current / lower_current)";
    }
    gives ContactLifeRecord {
        /// Operations to be expected
        operations as "N": Ratio, "" = "min(mechanical, lower_operations * exp(slope * ln(load / lower_current)))"
            unless "a curve needs two different currents";
        /// Time that these take
        duration as "t_N": Time, "s" = "operations * interval"
            unless "a curve needs two different currents";
    }
    needs {
        "the lower current of the curve is below the higher one", |given| given.lower_current < given.higher_current;
        "a higher current wears the contact more", |given| given.lower_operations >= given.higher_operations;
        "the current is between the two of the curve",
            |given| given.load >= given.lower_current && given.load <= given.higher_current;
    }
}

/// Evaluates `driver.contact_life`.
pub fn contact_life(given: &ContactLife) -> ContactLifeRecord {
    let ln = |ratio: Ratio| libm::log(ratio.value);
    let slope = ln(given.higher_operations / given.lower_operations) / ln(given.higher_current / given.lower_current);
    let on_curve = given.lower_operations * libm::exp(slope * ln(given.load / given.lower_current));
    let operations = lesser(given.mechanical, on_curve);
    ContactLifeRecord { operations, duration: given.interval * operations }
}

#[cfg(test)]
mod tests {
    use crate::check::{Record, close, record};

    fn at(load: f64, mechanical: f64) -> Record {
        let given = [
            ("load", load, "A"),
            ("lower_current", 1.0, "A"),
            ("lower_operations", 400_000.0, ""),
            ("higher_current", 4.0, "A"),
            ("higher_operations", 100_000.0, ""),
            ("mechanical", mechanical, ""),
            ("interval", 60.0, "s"),
        ];
        record("driver.contact_life", &given)
    }

    /// Worked by hand: a quarter of the operations at four times the current is a slope of −1, so half of them at twice.
    #[test]
    fn the_curve_is_straight_on_logarithmic_axes() {
        close(at(2.0, 1e7).get("operations", ""), 200_000.0, 1e-12);
        close(at(2.0, 1e7).get("duration", "s"), 12_000_000.0, 1e-12);
        close(at(1.0, 1e7).get("operations", ""), 400_000.0, 1e-12);
        close(at(4.0, 1e7).get("operations", ""), 100_000.0, 1e-12);
        close(at(1.0, 300_000.0).get("operations", ""), 300_000.0, 1e-12);
    }
}
