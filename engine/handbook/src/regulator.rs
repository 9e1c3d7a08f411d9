//! Regulators and the wall adapters that feed them: what they turn into heat, how hot that makes a junction, and what
//! voltage is left under load. The thermal chain is JEDEC JESD51's.

use uom::si::f64::{
    ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio, TemperatureInterval, ThermalResistance,
    ThermodynamicTemperature,
};

use super::{
    declare::model,
    physics::{lesser, not_negative, plain, warmer},
};

model! {
    /// What a linear regulator turns into heat, how hot its junction gets by it, and what heatsink it wants
    "regulator.linear" as LINEAR, by linear;
    source "published: JEDEC JESD51 and any regulator's datasheet (junction temperature over the thermal chain); \
        defaults of a 1 A, three-pin, TO-220 type: common practice";
    takes Linear {
        /// Voltage at the input pin
        input as "V_in": ElectricPotential, "V" in 2.0..=40.0;
        /// Voltage that the output is made for
        output as "V_nom": ElectricPotential, "V" in 1.2..=37.0;
        /// Current that the load draws from the output
        load as "I_load": ElectricCurrent, "mA" in 0.0..=5000.0;
        /// Current that the regulator itself draws, to ground
        quiescent as "I_Q": ElectricCurrent, "mA" in 0.0..=20.0 or 5.0;
        /// What the input must be above the output by
        dropout as "V_do": ElectricPotential, "V" in 0.0..=3.0 or 2.0;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0;
        /// Thermal resistance from junction to ambient, as mounted
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" in 0.5..=500.0;
        /// Thermal resistance from junction to case, for the heatsink wanted
        junction_to_case as "θ_JC": ThermalResistance, "K/W" in 0.1..=50.0 or 5.0;
        /// Thermal resistance from case to heatsink, greased
        case_to_sink as "θ_CS": ThermalResistance, "K/W" in 0.0..=10.0 or 0.5;
        /// Temperature that the junction must stay under
        junction_limit as "T_J_max": ThermodynamicTemperature, "°C" in 70.0..=200.0 or 125.0;
    }
    by {
        /// What the junction is warmer than the air by
        rise as "ΔT", "K" = "dissipation * junction_to_ambient";
        /// What it may be warmer by
        allowed_rise as "ΔT_max", "K" = "junction_limit - ambient";
    }
    gives LinearRecord {
        /// Voltage at the output, which follows the input where that is too low
        voltage as "V_out": ElectricPotential, "V" = "max(0 V, min(output, input - dropout))";
        /// Input voltage to spare above output and dropout
        headroom as "ΔV": ElectricPotential, "V" = "input - output - dropout";
        /// Whether the input is high enough
        regulates: bool, condition = "input >= output + dropout";
        /// Current drawn at the input
        input_current as "I_in": ElectricCurrent, "A" = "load + quiescent";
        /// Heat in the regulator
        dissipation as "P": Power, "W" = "(input - voltage) * load + input * quiescent";
        /// Output power in proportion to input power
        efficiency as "η": Ratio, "%"
            = "voltage * load / (input * input_current)"
            unless "nothing is drawn at the input";
        /// Temperature of the junction
        junction as "T_J": ThermodynamicTemperature, "°C" = "ambient + rise";
        /// What the junction is below its limit by
        junction_margin as "ΔT_J": TemperatureInterval, "K" = "junction_limit - junction";
        /// Greatest heat as mounted, with the junction at its limit
        greatest_dissipation as "P_max": Power, "W" = "allowed_rise / junction_to_ambient";
        /// Whether it gets too hot as mounted
        heatsink_wanted: bool, condition = "junction > junction_limit";
        /// What a heatsink's thermal resistance must be below; negative where none is good enough
        sink_to_ambient_wanted as "θ_SA": ThermalResistance, "K/W"
            = "allowed_rise / dissipation - junction_to_case - case_to_sink"
            unless "there is no heat to carry off";
    }
    needs {
        "the input is above the output by the dropout voltage", |given| given.input >= given.output + given.dropout;
        "the ambient is below the junction's limit", |given| given.ambient < given.junction_limit;
    }
}

/// Evaluates `regulator.linear`.
pub fn linear(given: &Linear) -> LinearRecord {
    let voltage = not_negative(lesser(given.output, given.input - given.dropout));
    let input_current = given.load + given.quiescent;
    let dissipation: Power = (given.input - voltage) * given.load + given.input * given.quiescent;
    let budget = warmer(given.junction_limit, given.ambient);
    let junction = given.ambient + TemperatureInterval::from(dissipation * given.junction_to_ambient);
    LinearRecord {
        voltage,
        headroom: given.input - given.output - given.dropout,
        regulates: given.input >= given.output + given.dropout,
        input_current,
        dissipation,
        efficiency: voltage * given.load / (given.input * input_current),
        junction,
        junction_margin: warmer(given.junction_limit, junction),
        greatest_dissipation: budget / given.junction_to_ambient,
        heatsink_wanted: junction > given.junction_limit,
        sink_to_ambient_wanted: budget / dissipation - given.junction_to_case - given.case_to_sink,
    }
}

model! {
    /// Temperatures down the chain from a hot junction over case and heatsink to the air
    "regulator.heatsink" as HEATSINK, by heatsink;
    source "published: JEDEC JESD51 (thermal resistances in series); defaults of a greased TO-220: common practice";
    takes Heatsink {
        /// Heat to be carried off
        dissipation as "P": Power, "W" in 0.0..=100.0;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0;
        /// Thermal resistance from junction to case
        junction_to_case as "θ_JC": ThermalResistance, "K/W" in 0.1..=50.0 or 5.0;
        /// Thermal resistance from case to heatsink
        case_to_sink as "θ_CS": ThermalResistance, "K/W" in 0.0..=10.0 or 0.5;
        /// Thermal resistance from heatsink to air
        sink_to_ambient as "θ_SA": ThermalResistance, "K/W" in 0.1..=100.0;
        /// Temperature that the junction must stay under
        junction_limit as "T_J_max": ThermodynamicTemperature, "°C" in 70.0..=200.0 or 125.0;
    }
    gives HeatsinkRecord {
        /// Temperature of the heatsink, which fingers may touch
        sink as "T_S": ThermodynamicTemperature, "°C" = "ambient + dissipation * sink_to_ambient";
        /// Temperature of the case
        case as "T_C": ThermodynamicTemperature, "°C" = "sink + dissipation * case_to_sink";
        /// Temperature of the junction
        junction as "T_J": ThermodynamicTemperature, "°C" = "case + dissipation * junction_to_case";
        /// What the junction is below its limit by
        junction_margin as "ΔT_J": TemperatureInterval, "K" = "junction_limit - junction";
        /// Thermal resistance of the whole chain
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" = "junction_to_case + case_to_sink + sink_to_ambient";
        /// Greatest heat with the junction at its limit
        greatest_dissipation as "P_max": Power, "W" = "(junction_limit - ambient) / junction_to_ambient";
    }
    needs {
        "the ambient is below the junction's limit", |given| given.ambient < given.junction_limit;
    }
}

/// Evaluates `regulator.heatsink`.
pub fn heatsink(given: &Heatsink) -> HeatsinkRecord {
    let junction_to_ambient = given.junction_to_case + given.case_to_sink + given.sink_to_ambient;
    let above_ambient =
        |resistance: ThermalResistance| given.ambient + TemperatureInterval::from(given.dissipation * resistance);
    let junction = above_ambient(junction_to_ambient);
    HeatsinkRecord {
        sink: above_ambient(given.sink_to_ambient),
        case: above_ambient(given.case_to_sink + given.sink_to_ambient),
        junction,
        junction_margin: warmer(given.junction_limit, junction),
        junction_to_ambient,
        greatest_dissipation: warmer(given.junction_limit, given.ambient) / junction_to_ambient,
    }
}

model! {
    /// What voltage a wall adapter gives under load, on the line from no load to its rating
    "regulator.adapter" as ADAPTER, by adapter;
    source "common practice: the straight line through the no-load and the rated point; a transformer adapter without \
        regulation stands a third or so above its rating at no load, a regulated one a few per cent at most";
    takes Adapter {
        /// Voltage with nothing connected
        no_load as "V_0": ElectricPotential, "V" in 1.5..=60.0;
        /// Voltage on the label, at the rated current
        rated_voltage as "V_r": ElectricPotential, "V" in 1.5..=48.0;
        /// Current on the label
        rated_current as "I_r": ElectricCurrent, "A" in 0.05..=10.0;
        /// Current drawn
        load as "I": ElectricCurrent, "A" in 0.0..=10.0;
    }
    gives AdapterRecord {
        /// Voltage at the load
        voltage as "V": ElectricPotential, "V" = "max(0 V, no_load - source_resistance * load)";
        /// What the voltage is below that at no load by
        droop as "ΔV": ElectricPotential, "V" = "no_load - voltage";
        /// Resistance that the adapter seems to have inside
        source_resistance as "R_i": ElectricalResistance, "Ω" = "(no_load - rated_voltage) / rated_current";
        /// Power into the load
        power as "P": Power, "W" = "voltage * load";
        /// Load in proportion to the rated current
        loading as "k": Ratio, "%" = "load / rated_current";
        /// Whether the load is within the rated current
        within_rating: bool, condition = "loading <= 1";
    }
    needs {
        "the voltage at no load is not below the rated voltage", |given| given.no_load >= given.rated_voltage;
        "the load is within the rated current", |given| given.load <= given.rated_current;
    }
}

/// Evaluates `regulator.adapter`.
pub fn adapter(given: &Adapter) -> AdapterRecord {
    let loading: Ratio = given.load / given.rated_current;
    let source_resistance = (given.no_load - given.rated_voltage) / given.rated_current;
    let voltage = not_negative(given.no_load - source_resistance * given.load);
    AdapterRecord {
        voltage,
        droop: given.no_load - voltage,
        source_resistance,
        power: voltage * given.load,
        loading,
        within_rating: loading <= plain(1.0),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uom::si::{
        electric_current::ampere, electric_potential::volt, thermal_resistance::kelvin_per_watt,
        thermodynamic_temperature::degree_celsius,
    };

    use super::*;
    use crate::check::{close, record};

    fn typical(input: f64, load: f64, junction_to_ambient: f64) -> Linear {
        Linear {
            input: ElectricPotential::new::<volt>(input),
            output: ElectricPotential::new::<volt>(5.0),
            load: ElectricCurrent::new::<ampere>(load),
            quiescent: ElectricCurrent::new::<ampere>(0.005),
            dropout: ElectricPotential::new::<volt>(2.0),
            ambient: ThermodynamicTemperature::new::<degree_celsius>(35.0),
            junction_to_ambient: ThermalResistance::new::<kelvin_per_watt>(junction_to_ambient),
            junction_to_case: ThermalResistance::new::<kelvin_per_watt>(5.0),
            case_to_sink: ThermalResistance::new::<kelvin_per_watt>(0.5),
            junction_limit: ThermodynamicTemperature::new::<degree_celsius>(125.0),
        }
    }

    /// Published: JESD51, T_j = T_a + P θ_ja, worked by hand: 4 V at 60 mA and 9 V at 5 mA are 0.285 W, by 60 K/W 17.1 K.
    #[test]
    fn a_junction_is_above_ambient_by_power_times_thermal_resistance() {
        let reg = record(
            "regulator.linear",
            &[
                ("input", 9.0, "V"),
                ("output", 5.0, "V"),
                ("load", 60.0, "mA"),
                ("ambient", 35.0, "°C"),
                ("junction_to_ambient", 60.0, "K/W"),
            ],
        );
        close(reg.get("dissipation", "W"), 0.285, 1e-12);
        close(reg.get("junction", "°C"), 52.1, 1e-12);
        close(reg.get("junction_margin", "K"), 72.9, 1e-12);
        close(reg.get("greatest_dissipation", "W"), 90.0 / 60.0, 1e-12);
        close(reg.get("sink_to_ambient_wanted", "K/W"), 90.0 / 0.285 - 5.5, 1e-12);
        close(reg.get("efficiency", "%"), 100.0 * 5.0 * 0.06 / (9.0 * 0.065), 1e-12);
        close(reg.get("headroom", "V"), 2.0, 1e-12);
        assert!(reg.is("regulates") && !reg.is("heatsink_wanted"));
    }

    /// Common practice: too low an input comes out less the dropout, and the model says that it does not regulate.
    #[test]
    fn in_dropout_the_output_follows_the_input() {
        let reg = linear(&typical(6.0, 0.1, 65.0));
        assert_eq!(reg.voltage.get::<volt>(), 4.0);
        assert!(!reg.regulates && reg.headroom.get::<volt>() == -1.0);
        assert_eq!(linear(&typical(1.0, 0.1, 65.0)).voltage.get::<volt>(), 0.0);
        let broken: Vec<_> = LINEAR
            .conditions
            .iter()
            .filter(|c| !(c.holds)(&[6.0, 5.0, 0.1, 0.005, 2.0, 308.15, 65.0, 5.0, 0.5, 398.15]))
            .map(|c| c.says)
            .collect();
        assert_eq!(broken, ["the input is above the output by the dropout voltage"]);
    }

    /// Published: JESD51, resistances in series. A heatsink of exactly what is wanted puts the junction at its limit.
    #[test]
    fn the_heatsink_wanted_is_just_good_enough() {
        let reg = linear(&typical(11.0, 0.8, 65.0));
        assert!(reg.heatsink_wanted);
        let chain = heatsink(&Heatsink {
            dissipation: reg.dissipation,
            ambient: ThermodynamicTemperature::new::<degree_celsius>(35.0),
            junction_to_case: ThermalResistance::new::<kelvin_per_watt>(5.0),
            case_to_sink: ThermalResistance::new::<kelvin_per_watt>(0.5),
            sink_to_ambient: reg.sink_to_ambient_wanted,
            junction_limit: ThermodynamicTemperature::new::<degree_celsius>(125.0),
        });
        close(chain.junction.get::<degree_celsius>(), 125.0, 1e-12);
        close(chain.greatest_dissipation.value, reg.dissipation.value, 1e-12);
        assert!(chain.sink < chain.case && chain.case < chain.junction);
    }

    /// Common practice, worked by hand: 16 V unloaded and 12 V at 500 mA is 8 Ω inside, so 14 V at 250 mA.
    #[test]
    fn an_adapter_droops_on_a_straight_line() {
        let at = |load| {
            record(
                "regulator.adapter",
                &[
                    ("no_load", 16.0, "V"),
                    ("rated_voltage", 12.0, "V"),
                    ("rated_current", 500.0, "mA"),
                    ("load", load, "mA"),
                ],
            )
        };
        close(at(250.0).get("voltage", "V"), 14.0, 1e-12);
        close(at(250.0).get("droop", "V"), 2.0, 1e-12);
        close(at(250.0).get("loading", "%"), 50.0, 1e-12);
        close(at(250.0).get("source_resistance", "Ω"), 8.0, 1e-12);
        close(at(250.0).get("power", "W"), 3.5, 1e-12);
        close(at(500.0).get("voltage", "V"), 12.0, 1e-12);
        assert!(at(500.0).is("within_rating") && !at(501.0).is("within_rating"));
        assert_eq!(at(5000.0).get("voltage", "V"), 0.0);
    }

    proptest! {
        /// First law: what comes in goes out or is heat.
        #[test]
        fn input_power_is_output_power_and_heat(input in 0.5..40.0, load in 0.0..2.0) {
            let given = typical(input, load, 65.0);
            let reg = linear(&given);
            let into: Power = given.input * reg.input_current;
            let out: Power = reg.voltage * given.load;
            prop_assert!((into - out - reg.dissipation).abs().value <= 1e-12 * into.value);
        }
    }
}
