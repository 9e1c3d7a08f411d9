//! Copper between the parts: the resistance of wire over its temperature, wire gauges, and the drop along a pair of wires.

use uom::si::f64::{
    Area, ElectricCurrent, ElectricPotential, ElectricalResistance, Length, Power, Ratio, ThermodynamicTemperature,
};
use uom::si::length::millimeter;

use crate::{
    declare::model,
    physics::{LinearResistance, copper_excess, copper_growth, copper_resistivity, not_negative, plain},
};

model! {
    /// Resistance of a copper conductor at a temperature
    "wiring.copper" as COPPER, by copper;
    source "published: IEC 60028 (annealed copper: 1/58 Ω·mm²/m at 20 °C, 0.00393 /K)";
    takes Copper {
        /// Length of the conductor
        length as "l": Length, "m" in 0.001..=10_000.0;
        /// Cross-section of the conductor
        area as "A": Area, "mm²" in 0.000_1..=1000.0;
        /// Temperature of the conductor
        temperature as "T": ThermodynamicTemperature, "°C" in -55.0..=200.0 or 20.0;
    }
    by {
        /// Resistivity of annealed copper at 20 °C (IEC 60028)
        resistivity as "ρ_20", "Ω·mm²/m" = "1 Ω·mm²/m / 58";
    }
    gives CopperRecord {
        /// Resistance
        resistance as "R": ElectricalResistance, "Ω" = "resistance_per_length * length";
        /// Resistance in a length
        resistance_per_length as "r": LinearResistance, "mΩ/m" = "resistivity * (1 + growth) / area";
        /// What the temperature makes it more by than at 20 °C
        growth as "g": Ratio, "%" = "0.00393 1/K * (temperature - 20 °C)";
    }
}

/// Evaluates `wiring.copper`.
pub fn copper(given: &Copper) -> CopperRecord {
    let growth = copper_growth(given.temperature);
    let resistance_per_length: LinearResistance = copper_resistivity() / given.area * growth;
    CopperRecord {
        resistance: resistance_per_length * given.length,
        resistance_per_length,
        growth: copper_excess(given.temperature),
    }
}

model! {
    /// Diameter, cross-section and resistance of a solid copper wire by its American gauge number
    "wiring.gauge" as GAUGE, by gauge;
    source "published: ASTM B258 (diameter 0.127 mm · 92^((36 − n)/39)); IEC 60028 (annealed copper at 20 °C)";
    takes Gauge {
        /// Gauge number; 0, −1, −2 and −3 for 1/0 to 4/0
        gauge as "n": Ratio, "" in -3.0..=40.0;
    }
    by {
        /// Resistivity of annealed copper at 20 °C (IEC 60028)
        resistivity as "ρ_20", "Ω·mm²/m" = "1 Ω·mm²/m / 58";
    }
    gives GaugeRecord {
        /// Diameter of the bare wire
        diameter as "d": Length, "mm" = "0.127 mm * 92^((36 - gauge) / 39)";
        /// Cross-section
        area as "A": Area, "mm²" = "π * diameter^2 / 4";
        /// Resistance in a length, at 20 °C
        resistance_per_length as "r": LinearResistance, "mΩ/m" = "resistivity / area";
    }
}

/// Evaluates `wiring.gauge`.
pub fn gauge(given: &Gauge) -> GaugeRecord {
    let diameter = Length::new::<millimeter>(0.127 * libm::pow(92.0, (36.0 - given.gauge.value) / 39.0));
    let area: Area = diameter * diameter * std::f64::consts::FRAC_PI_4;
    GaugeRecord { diameter, area, resistance_per_length: copper_resistivity() / area }
}

model! {
    /// Drop along a pair of copper wires, there and back
    "wiring.drop" as VOLTAGE_DROP, by voltage_drop;
    source "published: IEC 60028 (annealed copper: 1/58 Ω·mm²/m at 20 °C, 0.00393 /K), with Ohm's law";
    takes VoltageDrop {
        /// Voltage that the wires are fed with
        supply as "V_S": ElectricPotential, "V" in 1.0..=60.0;
        /// Current in the wires
        current as "I": ElectricCurrent, "A" in 0.0..=100.0;
        /// Length from the supply to the load, one way
        length as "l": Length, "m" in 0.01..=1000.0;
        /// Cross-section of each wire
        area as "A": Area, "mm²" in 0.01..=100.0;
        /// Temperature of the wires
        temperature as "T": ThermodynamicTemperature, "°C" in -55.0..=200.0 or 20.0;
    }
    by {
        /// Resistivity of annealed copper at 20 °C (IEC 60028)
        resistivity as "ρ_20", "Ω·mm²/m" = "1 Ω·mm²/m / 58";
        /// Growth of copper's resistance from 20 °C (IEC 60028)
        growth as "g", "" = "1 + 0.00393 1/K * (temperature - 20 °C)";
    }
    gives VoltageDropRecord {
        /// Resistance of both wires
        resistance as "R": ElectricalResistance, "Ω" = "2 * length * resistivity * growth / area";
        /// Voltage lost along both wires
        drop as "ΔV": ElectricPotential, "V" = "resistance * current";
        /// The same in proportion to the supply
        fraction as "δ": Ratio, "%" = "drop / supply";
        /// Voltage left at the load
        voltage as "V_L": ElectricPotential, "V" = "max(0 V, supply - drop)";
        /// Heat in both wires
        dissipation as "P": Power, "W" = "drop * current";
    }
    needs {
        "the drop is below the supply", |given| voltage_drop(&given).fraction < plain(1.0);
    }
}

/// Evaluates `wiring.drop`.
pub fn voltage_drop(given: &VoltageDrop) -> VoltageDropRecord {
    let wires = copper(&Copper { length: given.length * 2.0, area: given.area, temperature: given.temperature });
    let drop: ElectricPotential = wires.resistance * given.current;
    VoltageDropRecord {
        resistance: wires.resistance,
        drop,
        fraction: drop / given.supply,
        voltage: not_negative(given.supply - drop),
        dissipation: drop * given.current,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::check::{close, record};

    /// Published: IEC 60028: a metre of 1 mm² has 1/58 Ω at 20 °C, and 1.3144 times that at 100 °C.
    #[test]
    fn a_metre_of_a_square_millimetre_is_a_58th_of_an_ohm() {
        let at = |temperature| {
            record("wiring.copper", &[("length", 1.0, "m"), ("area", 1.0, "mm²"), ("temperature", temperature, "°C")])
        };
        close(at(20.0).get("resistance", "Ω"), 1.0 / 58.0, 1e-12);
        close(at(100.0).get("resistance_per_length", "mΩ/m"), 1000.0 / 58.0 * 1.3144, 1e-12);
        close(at(100.0).get("growth", "%"), 31.44, 1e-10);
    }

    /// Published: ASTM B258: 4/0 is 0.46 in and 36 is 0.005 in by definition; AWG 24 is 0.511 mm, with IEC 60028 copper
    /// 84.2 mΩ/m.
    #[test]
    fn gauges_have_their_listed_diameters() {
        let wire = |gauge| record("wiring.gauge", &[("gauge", gauge, "")]);
        close(wire(-3.0).get("diameter", "mm"), 0.46 * 25.4, 1e-12);
        close(wire(36.0).get("diameter", "mm"), 0.005 * 25.4, 1e-12);
        assert_eq!((wire(24.0).get("diameter", "mm") * 1000.0).round(), 511.0);
        assert_eq!((wire(24.0).get("resistance_per_length", "mΩ/m") * 10.0).round(), 842.0);
    }

    /// Common practice: three gauge numbers halve the cross-section, ten take it to a tenth, both to a per cent or so.
    #[test]
    fn three_numbers_halve_and_ten_take_to_a_tenth() {
        let area = |gauge| record("wiring.gauge", &[("gauge", gauge, "")]).get("area", "mm²");
        close(area(20.0) / area(23.0), 2.0, 0.01);
        close(area(20.0) / area(30.0), 10.0, 0.02);
    }

    /// Worked by hand from IEC 60028: 5 m there and 5 m back of 0.5 mm² are 20/58 Ω; 1 A drops 0.345 V of 12 V.
    #[test]
    fn current_flows_there_and_back() {
        let wires = record(
            "wiring.drop",
            &[("supply", 12.0, "V"), ("current", 1.0, "A"), ("length", 5.0, "m"), ("area", 0.5, "mm²")],
        );
        close(wires.get("resistance", "Ω"), 20.0 / 58.0, 1e-12);
        close(wires.get("drop", "V"), 20.0 / 58.0, 1e-12);
        close(wires.get("fraction", "%"), 100.0 * 20.0 / 58.0 / 12.0, 1e-12);
    }

    proptest! {
        /// Conservation of energy: what the supply gives reaches the load or warms the wires.
        #[test]
        fn the_supply_s_power_is_the_load_s_and_heat(current in 0.0..5.0, temperature in -40.0..80.0) {
            let wires = record("wiring.drop", &[
                ("supply", 12.0, "V"),
                ("current", current, "A"),
                ("length", 3.0, "m"),
                ("area", 0.75, "mm²"),
                ("temperature", temperature, "°C"),
            ]);
            let out = wires.get("voltage", "V") * current + wires.get("dissipation", "W");
            prop_assert!((12.0 * current - out).abs() < 1e-12 * 60.0);
        }
    }
}
