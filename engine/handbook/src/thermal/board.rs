//! Parts that a printed board cools, and parts that are heated in pulses.

use uom::si::{
    area::square_centimeter,
    f64::{Area, Power, Ratio, TemperatureInterval, ThermalResistance, ThermodynamicTemperature},
    thermal_resistance::kelvin_per_watt,
};

use crate::{
    declare::{choice, model},
    physics::{not_negative, plain, warmer},
};

choice! {
    /// A package whose tab is soldered to copper of the board.
    Package {
        /// TO-252, also called DPAK.
        To252 = "to_252",
        /// TO-263, also called D2PAK.
        To263 = "to_263",
    }
}

model! {
    /// A part that copper of its board cools: temperature, and the copper that it needs
    "thermal.copper_area" as COPPER_AREA, by copper_area;
    source "published, from memory: transistor makers' datasheets fit θ = 33.32 + 154/(1.73 + A) for TO-252 and \
        θ = 26.51 + 128/(1.69 + A) for TO-263, in K/W with A in cm², for one square of copper of 70 µm on one side in still air; other \
        boards are worse or better by a third: measure";
    takes CopperCooled {
        /// Package
        package as "p": Package, (Package) or 0.0;
        /// Copper at its tab
        area as "A": Area, "cm^2" in 0.1..=65.0;
        /// Power that becomes heat
        dissipation as "P": Power, "W" in 0.01..=10.0;
        /// Temperature of the air around
        ambient as "T_A": ThermodynamicTemperature, "°C" in -40.0..=125.0 or 25.0;
        /// Temperature that the junction must stay under
        limit as "T_J_max": ThermodynamicTemperature, "°C" in 70.0..=200.0 or 125.0;
    }
    by {
        /// What no copper makes better
        least as "θ_0", "K/W" = "if package == to_252 then 33.32 K/W else 26.51 K/W";
        /// How much copper helps
        gain as "g", "K*cm^2/W" = "if package == to_252 then 154 K*cm^2/W else 128 K*cm^2/W";
        /// What the part itself counts as
        own as "A_0", "cm^2" = "if package == to_252 then 1.73 cm^2 else 1.69 cm^2";
        /// Thermal resistance that is allowed
        allowed as "θ_max", "K/W" = "max(0 K, limit - ambient) / dissipation";
    }
    gives CopperCooledRecord {
        /// Thermal resistance from junction to the air around
        junction_to_ambient as "θ_JA": ThermalResistance, "K/W" = "least + gain / (own + area)";
        /// Temperature of the junction
        junction as "T_J": ThermodynamicTemperature, "°C" = "ambient + dissipation * junction_to_ambient";
        /// What the junction is below its limit by
        margin as "ΔT_J": TemperatureInterval, "K" = "limit - junction";
        /// Copper that it needs to stay under the limit
        area_wanted as "A_w": Area, "cm^2" = "max(0 cm^2, gain / max(0 K/W, allowed - least) - own)"
            unless "no area of copper is enough: it takes a heatsink, or less power";
    }
    needs {
        "the junction stays under its limit", |given| copper_area(&given).junction <= given.limit;
    }
}

/// Evaluates `thermal.copper_area`.
pub fn copper_area(given: &CopperCooled) -> CopperCooledRecord {
    let (least, gain, own) = match given.package {
        Package::To252 => (33.32, 154.0, 1.73),
        Package::To263 => (26.51, 128.0, 1.69),
    };
    let resistance = least + gain / (own + given.area.get::<square_centimeter>());
    let junction_to_ambient = ThermalResistance::new::<kelvin_per_watt>(resistance);
    let junction = given.ambient + TemperatureInterval::from(given.dissipation * junction_to_ambient);
    let rise = not_negative(warmer(given.limit, given.ambient));
    let allowed: ThermalResistance = rise / given.dissipation;
    let left = not_negative(allowed - ThermalResistance::new::<kelvin_per_watt>(least)).get::<kelvin_per_watt>();
    CopperCooledRecord {
        junction_to_ambient,
        junction,
        margin: warmer(given.limit, junction),
        area_wanted: not_negative(Area::new::<square_centimeter>(gain / left - own)),
    }
}

model! {
    /// Junction of a part that is heated in pulses, at the end of a pulse
    "thermal.pulse" as PULSE, by pulse;
    source "common practice, as in makers' application notes on transient thermal impedance: of equal pulses without end, the mean \
        power heats by the steady resistance, and what a pulse is above the mean by the impedance of the single pulse";
    takes Pulsed {
        /// Power during a pulse
        power as "P": Power, "W" in 0.01..=10_000.0;
        /// Transient thermal impedance of the datasheet's curve for one pulse of this length
        single_pulse as "Z": ThermalResistance, "K/W" in 0.001..=500.0;
        /// Thermal resistance without pulses
        steady as "θ": ThermalResistance, "K/W" in 0.01..=500.0;
        /// Part of the time that is pulse; 0 for a single pulse
        duty as "d": Ratio, "%" in 0.0..=100.0 or 0.0;
        /// Temperature that both are counted from: case or air
        reference as "T_0": ThermodynamicTemperature, "°C" in -40.0..=150.0 or 25.0;
        /// Temperature that the junction must stay under
        limit as "T_J_max": ThermodynamicTemperature, "°C" in 70.0..=200.0 or 150.0;
    }
    gives PulsedRecord {
        /// Impedance that the power during a pulse counts with
        impedance as "Z_d": ThermalResistance, "K/W" = "duty * steady + (1 - duty) * single_pulse";
        /// Mean power
        mean_power as "P_m": Power, "W" = "duty * power";
        /// Temperature of the junction at the end of a pulse
        junction as "T_J": ThermodynamicTemperature, "°C" = "reference + power * impedance";
        /// What it is below its limit by
        margin as "ΔT_J": TemperatureInterval, "K" = "limit - junction";
        /// Power during a pulse that brings the junction to its limit
        greatest_power as "P_max": Power, "W" = "max(0 K, limit - reference) / impedance";
    }
    needs {
        "a pulse heats no more than steady power", |given| given.single_pulse <= given.steady;
        "the junction stays under its limit", |given| pulse(&given).junction <= given.limit;
    }
}

/// Evaluates `thermal.pulse`.
pub fn pulse(given: &Pulsed) -> PulsedRecord {
    let impedance = given.steady * given.duty + given.single_pulse * (plain(1.0) - given.duty);
    let junction = given.reference + TemperatureInterval::from(given.power * impedance);
    PulsedRecord {
        impedance,
        mean_power: given.power * given.duty,
        junction,
        margin: warmer(given.limit, junction),
        greatest_power: not_negative(warmer(given.limit, given.reference)) / impedance,
    }
}

#[cfg(test)]
mod tests {
    use crate::check::{close, record};

    /// The datasheets' own table, from memory: 1 in² (6.45 cm²) of copper give a TO-252 some 52 K/W, the smallest pad some 96 to 125.
    #[test]
    fn copper_cools_as_datasheets_tables_say() {
        let at = |area: f64| {
            record("thermal.copper_area", &[("area", area, "cm^2"), ("dissipation", 1.0, "W")])
                .get("junction_to_ambient", "K/W")
        };
        assert!((at(6.45) - 52.0).abs() < 1.0, "{}", at(6.45));
        assert!((96.0..125.0).contains(&at(0.1)), "{}", at(0.1));
        // The copper that is wanted brings the junction to its limit.
        let given = [("area", 1.0, "cm^2"), ("dissipation", 1.5, "W"), ("ambient", 40.0, "°C"), ("limit", 125.0, "°C")];
        let wanted = record("thermal.copper_area", &given).get("area_wanted", "cm^2");
        let mut exact = given;
        exact[0].1 = wanted;
        close(record("thermal.copper_area", &exact).get("junction", "°C"), 125.0, 1e-12);
    }

    /// Worked by hand: a tenth of the time at 20 W with 0.5 K/W for the pulse and 3 K/W for the rest: 0.75 K/W, 15 K.
    #[test]
    fn a_pulse_heats_by_its_own_impedance_and_the_mean_by_the_steady_one() {
        let given = [("power", 20.0, "W"), ("single_pulse", 0.5, "K/W"), ("steady", 3.0, "K/W"), ("duty", 10.0, "%")];
        let it = record("thermal.pulse", &given);
        close(it.get("impedance", "K/W"), 0.75, 1e-12);
        close(it.get("mean_power", "W"), 2.0, 1e-12);
        close(it.get("junction", "°C"), 40.0, 1e-12);
        close(it.get("margin", "K"), 110.0, 1e-12);
        close(it.get("greatest_power", "W"), 125.0 / 0.75, 1e-12);
    }
}
