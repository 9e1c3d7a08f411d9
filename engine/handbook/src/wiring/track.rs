//! Printed tracks: the current that warms one by so much, and the width for a current.

use uom::si::{
    electric_current::ampere,
    f64::{Area, ElectricCurrent, Length, TemperatureInterval},
};

use crate::{
    declare::{choice, model},
    physics::{LinearResistance, copper_resistivity},
};

choice! {
    /// Where on the board a track runs.
    Side {
        /// On the outside, in air.
        Outer = "outer",
        /// Inside, between layers.
        Inner = "inner",
    }
}

impl Side {
    /// The factor of IPC-2221's formula.
    fn factor(self) -> f64 {
        match self {
            Side::Outer => 0.048,
            Side::Inner => 0.024,
        }
    }
}

model! {
    /// Current that warms a printed track by so much
    "wiring.track" as TRACK, by track;
    source "published: IPC-2221 (I = k·ΔT^0.44·A^0.725, k 0.048 outside and 0.024 inside, A in square mils); resistance \
        at 20 °C, IEC 60028";
    takes Track {
        /// Width of the track
        width as "w": Length, "mm" in 0.1..=10.0;
        /// Thickness of its copper: 35 µm is an ounce a square foot
        thickness as "d": Length, "µm" in 17.0..=105.0 or 35.0;
        /// Rise of its temperature that is allowed
        rise as "ΔT": TemperatureInterval, "K" in 10.0..=100.0 or 10.0;
        /// Where it runs
        side as "s": Side, (Side) or 0.0;
    }
    by {
        /// Factor of IPC-2221
        factor as "k", "" = "if side == outer then 0.048 else 0.024";
        /// Resistivity of annealed copper at 20 °C (IEC 60028)
        resistivity as "ρ_20", "Ω·mm²/m" = "1 Ω·mm²/m / 58";
    }
    gives TrackRecord {
        /// Current that warms it by that
        current as "I": ElectricCurrent, "A" = "1 A * factor * (rise / 1 K)^0.44 * (area / 1 mil^2)^0.725";
        /// Cross-section
        area as "A": Area, "mm²" = "width * thickness";
        /// Resistance in a length, at 20 °C
        resistance_per_length as "r": LinearResistance, "mΩ/m" = "resistivity / area";
    }
    needs {
        "the current is at most 35 A, where IPC-2221's charts end",
            |given| track(&given).current <= ElectricCurrent::new::<ampere>(35.0);
    }
}

/// Evaluates `wiring.track`.
pub fn track(given: &Track) -> TrackRecord {
    let area: Area = given.width * given.thickness;
    let warmed = given.side.factor() * libm::pow(given.rise.value, RISE_EXPONENT);
    TrackRecord {
        current: ElectricCurrent::new::<ampere>(warmed * libm::pow(area.value / SQUARE_MIL, AREA_EXPONENT)),
        area,
        resistance_per_length: copper_resistivity() / area,
    }
}

model! {
    /// Width of a printed track that a current warms by no more than so much
    "wiring.track_width" as TRACK_WIDTH, by track_width;
    source "published: IPC-2221 (I = k·ΔT^0.44·A^0.725, k 0.048 outside and 0.024 inside, A in square mils)";
    takes TrackWidth {
        /// Current in the track
        current as "I": ElectricCurrent, "A" in 0.01..=35.0;
        /// Thickness of its copper: 35 µm is an ounce a square foot
        thickness as "d": Length, "µm" in 17.0..=105.0 or 35.0;
        /// Rise of its temperature that is allowed
        rise as "ΔT": TemperatureInterval, "K" in 10.0..=100.0 or 10.0;
        /// Where it runs
        side as "s": Side, (Side) or 0.0;
    }
    by {
        /// Factor of IPC-2221
        factor as "k", "" = "if side == outer then 0.048 else 0.024";
        /// Resistivity of annealed copper at 20 °C (IEC 60028)
        resistivity as "ρ_20", "Ω·mm²/m" = "1 Ω·mm²/m / 58";
    }
    gives TrackWidthRecord {
        /// Least width that does
        width as "w": Length, "mm" = "area / thickness";
        /// Cross-section
        area as "A": Area, "mm²" = "1 mil^2 * (current / 1 A / (factor * (rise / 1 K)^0.44))^(1 / 0.725)";
        /// Resistance in a length, at 20 °C
        resistance_per_length as "r": LinearResistance, "mΩ/m" = "resistivity / area";
    }
    needs {
        "the width is at most 10 mm, where IPC-2221's charts end", |given| track_width(&given).width.value <= 0.01;
    }
}

/// Evaluates `wiring.track_width`.
pub fn track_width(given: &TrackWidth) -> TrackWidthRecord {
    let warmed = given.side.factor() * libm::pow(given.rise.value, RISE_EXPONENT);
    let square_mils = libm::pow(given.current.get::<ampere>() / warmed, 1.0 / AREA_EXPONENT);
    let area = Area::new::<uom::si::area::square_meter>(square_mils * SQUARE_MIL);
    TrackWidthRecord { width: area / given.thickness, area, resistance_per_length: copper_resistivity() / area }
}

const RISE_EXPONENT: f64 = 0.44;
const AREA_EXPONENT: f64 = 0.725;
/// A square mil in square metres.
const SQUARE_MIL: f64 = 2.54e-5 * 2.54e-5;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{Record, close, record};

    fn width_for(current: f64, rise: f64, side: &'static str) -> Record {
        record("wiring.track_width", &[("current", current, "A"), ("rise", rise, "K"), ("side", 0.0, side)])
    }

    /// Published: IPC-2221's formula, worked by hand in its own units: 10 mil of 1.378 mil copper (35 µm) are 13.78 square
    /// mils, 0.048·10^0.44·13.78^0.725 = 0.885 A outside, half of it inside.
    #[test]
    fn ten_mils_of_an_ounce_carry_nine_tenths_of_an_ampere() {
        let track = |side| record("wiring.track", &[("width", 10.0, "mil"), ("side", 0.0, side)]);
        close(track("outer").get("current", "A"), 0.885, 2e-3);
        close(track("outer").get("current", "A"), 2.0 * track("inner").get("current", "A"), 1e-12);
        close(track("outer").get("area", "mm²"), 0.254 * 0.035, 1e-12);
        close(track("outer").get("resistance_per_length", "mΩ/m"), 1000.0 / 58.0 / (0.254 * 0.035), 1e-12);
    }

    /// Common practice: an ampere on an ounce of copper wants 0.3 mm outside and some 0.8 mm inside, for 10 K.
    #[test]
    fn an_ampere_wants_a_third_of_a_millimetre() {
        close(width_for(1.0, 10.0, "outer").get("width", "mm"), 0.3, 0.05);
        close(width_for(1.0, 10.0, "inner").get("width", "mm"), 0.78, 0.05);
    }

    proptest! {
        /// The width for a current carries that current.
        #[test]
        fn width_and_current_are_inverses(current in 0.1..10.0, rise in 10.0..100.0, inner: bool) {
            let side = if inner { "inner" } else { "outer" };
            let width = width_for(current, rise, side).get("width", "mm");
            let track = record("wiring.track", &[("width", width, "mm"), ("rise", rise, "K"), ("side", 0.0, side)]);
            close(track.get("current", "A"), current, 1e-12);
        }
    }
}
