//! Typical parts in general use, for a worksheet to start from: `D_1 = parts.typical(part = diode_1N4007)`. The values are
//! written as a worksheet writes givens; each says what kind of source it has. They take the place of no datasheet.

/// A part in general use.
#[derive(Debug)]
pub struct TypicalPart {
    /// Its name in worksheets.
    pub name: &'static str,
    /// What it is.
    pub summary: &'static str,
    /// Where its values come from.
    pub source: &'static str,
    /// What is known of it.
    pub values: &'static [TypicalValue],
}

/// A value of a part.
#[derive(Debug)]
pub struct TypicalValue {
    /// Its name after the dot.
    pub name: &'static str,
    /// The value with its tolerance, as a given is written.
    pub written: &'static str,
    /// What it is.
    pub summary: &'static str,
}

/// What a worksheet calls to have one.
pub const TYPICAL: &str = "parts.typical";
/// The argument that names the part.
pub const PART: &str = "part";

/// A part by its name.
pub fn find(name: &str) -> Option<&'static TypicalPart> {
    PARTS.iter().find(|part| part.name == name)
}

macro_rules! parts {
    ($($part:ident $summary:literal $source:literal { $($name:ident = $written:literal $what:literal,)+ })+) => {
        /// Every part, in the order of the guide.
        pub static PARTS: &[TypicalPart] = &[$(TypicalPart {
            name: stringify!($part),
            summary: $summary,
            source: $source,
            values: &[$(TypicalValue { name: stringify!($name), written: $written, summary: $what },)+],
        },)+];
    };
}

parts! {
    diode_1N4007 "rectifier diode for 1 A" "typical datasheet values, from memory" {
        forward_voltage = "min 0.7 V typ 0.9 V max 1.1 V" "forward voltage, up to its rated current",
        current_rating = "1 A" "rated current",
        reverse_rating = "1000 V" "rated reverse voltage",
    }
    diode_1N4148 "fast signal diode" "typical datasheet values, from memory" {
        forward_voltage = "min 0.6 V typ 0.75 V max 1 V" "forward voltage, up to 10 mA",
        current_rating = "200 mA" "rated current",
        reverse_rating = "75 V" "rated reverse voltage",
    }
    schottky_1N5819 "Schottky diode for 1 A" "typical datasheet values, from memory" {
        forward_voltage = "min 0.25 V typ 0.4 V max 0.6 V" "forward voltage, up to its rated current",
        current_rating = "1 A" "rated current",
        reverse_rating = "40 V" "rated reverse voltage",
    }
    npn_2N3904 "small bipolar transistor, npn" "typical datasheet values, from memory" {
        gain = "min 70 typ 150 max 300" "current gain, at 50 mA and below",
        base_emitter = "min 0.6 V typ 0.72 V max 0.9 V" "base-emitter voltage",
        saturation = "min 0.05 V typ 0.15 V max 0.3 V" "collector-emitter voltage, fully on",
        current_rating = "200 mA" "rated collector current",
        voltage_rating = "40 V" "rated collector-emitter voltage",
    }
    npn_2N2222 "bipolar switching transistor, npn" "typical datasheet values, from memory" {
        gain = "min 75 typ 150 max 300" "current gain, at 150 mA and below",
        base_emitter = "min 0.6 V typ 0.75 V max 1.2 V" "base-emitter voltage",
        saturation = "min 0.05 V typ 0.2 V max 0.4 V" "collector-emitter voltage, fully on at 150 mA",
        current_rating = "600 mA" "rated collector current",
        voltage_rating = "40 V" "rated collector-emitter voltage",
    }
    nmos_2N7000 "small n-channel MOSFET" "typical datasheet values, from memory" {
        threshold = "min 0.8 V typ 2.1 V max 3 V" "gate threshold voltage",
        on_resistance = "min 1 Ω typ 1.8 Ω max 5 Ω" "on-resistance with 10 V at the gate",
        current_rating = "200 mA" "rated drain current",
        voltage_rating = "60 V" "rated drain-source voltage",
    }
    regulator_7805 "linear regulator for 5 V, in a TO-220 case" "typical datasheet values, from memory" {
        output = "5 V ± 4 %" "output voltage",
        dropout = "min 1.5 V typ 2 V max 2.5 V" "dropout voltage",
        own_current = "min 3 mA typ 5 mA max 8 mA" "current of its own",
        current_rating = "1 A" "rated current, with a heatsink",
        junction_to_case = "5 K/W" "thermal resistance, junction to case",
        junction_to_ambient = "65 K/W" "thermal resistance without a heatsink",
        junction_rating = "125 °C" "highest junction temperature",
    }
    regulator_7808 "linear regulator for 8 V, in a TO-220 case" "typical datasheet values, from memory" {
        output = "8 V ± 4 %" "output voltage",
        dropout = "min 1.5 V typ 2 V max 2.5 V" "dropout voltage",
        own_current = "min 3 mA typ 5 mA max 8 mA" "current of its own",
        current_rating = "1 A" "rated current, with a heatsink",
        junction_to_case = "5 K/W" "thermal resistance, junction to case",
        junction_to_ambient = "65 K/W" "thermal resistance without a heatsink",
        junction_rating = "125 °C" "highest junction temperature",
    }
    regulator_7812 "linear regulator for 12 V, in a TO-220 case" "typical datasheet values, from memory" {
        output = "12 V ± 4 %" "output voltage",
        dropout = "min 1.5 V typ 2 V max 2.5 V" "dropout voltage",
        own_current = "min 3 mA typ 5 mA max 8 mA" "current of its own",
        current_rating = "1 A" "rated current, with a heatsink",
        junction_to_case = "5 K/W" "thermal resistance, junction to case",
        junction_to_ambient = "65 K/W" "thermal resistance without a heatsink",
        junction_rating = "125 °C" "highest junction temperature",
    }
    timer_555_bipolar "bipolar 555-type timer" "typical datasheet values at 5 V, from memory" {
        threshold = "min 65 % typ 66.7 % max 68 %" "upper threshold, part of the supply",
        trigger = "min 32 % typ 33.3 % max 35 %" "lower threshold, part of the supply",
        threshold_current = "min 0 µA typ 0.1 µA max 0.25 µA" "current into the threshold pin",
        own_current = "min 2 mA typ 3 mA max 6 mA" "current of its own, at 5 V",
        output_drop = "min 1.2 V typ 1.6 V max 2.2 V" "drop from the supply to a high output",
        output_rating = "200 mA" "rated output current, at a drop of several volts",
    }
    timer_555_cmos "CMOS 555-type timer" "typical datasheet values at 5 V, from memory" {
        threshold = "min 65 % typ 66.7 % max 68 %" "upper threshold, part of the supply",
        trigger = "min 32 % typ 33.3 % max 35 %" "lower threshold, part of the supply",
        threshold_current = "min 0 nA typ 0.01 nA max 1 nA" "current into the threshold pin",
        own_current = "min 50 µA typ 100 µA max 300 µA" "current of its own, at 5 V",
        source_rating = "10 mA" "rated current out of a high output",
        sink_rating = "100 mA" "rated current into a low output",
    }
    relay_5V "small relay with a 5 V coil, one change-over contact" "typical datasheet values, from memory" {
        coil_resistance = "70 Ω ± 10 %" "coil resistance, at 20 °C",
        pull_in = "3.75 V" "voltage at which it surely pulls in",
        release = "0.5 V" "voltage at which it surely lets go",
        contact_rating = "10 A" "rated contact current, resistive load",
    }
    led_red "red LED, 5 mm" "typical datasheet values, from memory" {
        forward_voltage = "min 1.7 V typ 1.9 V max 2.3 V" "forward voltage, at 10 to 20 mA",
        current_rating = "20 mA" "rated current",
    }
    led_green "green LED, 5 mm" "typical datasheet values, from memory" {
        forward_voltage = "min 1.9 V typ 2.2 V max 2.6 V" "forward voltage, at 10 to 20 mA",
        current_rating = "20 mA" "rated current",
    }
    led_white "white LED, 5 mm" "typical datasheet values, from memory" {
        forward_voltage = "min 2.8 V typ 3.1 V max 3.6 V" "forward voltage, at 20 mA",
        current_rating = "20 mA" "rated current",
    }
    wire_AWG24 "copper wire AWG 24, 0.205 mm²" "ASTM B258 for the diameter, IEC 60028 for copper; rating: common practice" {
        resistance = "84.2 mΩ/m ± 2 %" "resistance per length, at 20 °C",
        current_rating = "1 A" "current in a bundle without much warming",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Evaluator;

    #[test]
    fn every_part_is_a_record_of_sound_values() {
        for part in PARTS {
            let source = format!("```calc\nx = {TYPICAL}({PART} = {})\n```\n", part.name);
            let evaluation = Evaluator::default().evaluate(&source);
            assert!(evaluation.problems.is_empty(), "{source}{:#?}", evaluation.problems);
            assert_eq!(evaluation.values.len(), part.values.len());
            for (value, known) in evaluation.values.iter().zip(part.values) {
                // The same as a given of its own.
                let given = Evaluator::default().evaluate(&format!("```calc\ny = {}\n```\n", known.written));
                let given = given.value("y").unwrap();
                assert_eq!(value.name, format!("x.{}", known.name));
                assert_eq!((value.nominal, value.shown()), (given.nominal, given.shown()), "{}", known.written);
                assert_eq!(
                    value.worst.as_ref().map(|w| (w.low, w.high)),
                    given.worst.as_ref().map(|w| (w.low, w.high))
                );
            }
        }
    }
}
