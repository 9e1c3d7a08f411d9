//! Which way each field of a model goes when one of its inputs grows, all others held, within the ranges that the model is
//! good for. Models are functions of plain numbers that no interval goes through: where the directions of all inputs that
//! vary are declared here, a field's range over a box is what it comes to at two corners, and proven. The declarations
//! follow from the formulas; the test holds each against a dense scatter of inputs.

use super::Model;

/// Which way a field goes when an input grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// It rises or stays.
    Rises,
    /// It falls or stays.
    Falls,
    /// It does not depend on it.
    Level,
    /// This way or that, or not declared.
    Unknown,
}

/// The directions of a field, and where they hold.
#[derive(Clone, Debug)]
pub struct Directions {
    /// Parameter by parameter.
    pub by: Vec<Direction>,
    /// Whether they hold for such inputs, in SI; linear in each input, so that it holds over a box if it does at all
    /// corners. Absent where they hold for all.
    pub where_: Option<Guard>,
}

/// The directions of a field, as they hold everywhere first; all unknown where nothing is declared.
pub fn directions(model: &Model, field: usize) -> Vec<Directions> {
    let name = model.fields.get(field).map_or("", |field| field.name);
    let signs = |fields: &Fields| fields.iter().find(|(field, _)| *field == name).map(|(_, signs)| *signs);
    let declared = DECLARED.iter().find(|(other, ..)| *other == model.name);
    let everywhere = declared.and_then(|(_, fields)| signs(fields)).unwrap_or_default();
    let mut found = vec![Directions { by: read(model, everywhere), where_: None }];
    for (_, where_, fields) in GUARDED.iter().filter(|(other, ..)| *other == model.name) {
        found.extend(signs(fields).map(|signs| Directions { by: read(model, signs), where_: Some(*where_) }));
    }
    found
}

fn read(model: &Model, signs: &str) -> Vec<Direction> {
    let mut signs = signs.chars();
    let direction = |sign: Option<char>| match sign {
        Some('+') => Direction::Rises,
        Some('-') => Direction::Falls,
        Some('0') => Direction::Level,
        _ => Direction::Unknown,
    };
    model.parameters.iter().map(|_| direction(signs.next())).collect()
}

type Fields = &'static [(&'static str, &'static str)];

/// Whether some inputs (SI) are of the kind that directions hold for.
type Guard = fn(&[f64]) -> bool;

/// Directions that hold for some inputs only, as [`DECLARED`].
static GUARDED: &[(&str, Guard, Fields)] = &[
    // Pulse and what the losses add to it, by V: the leakage's part 2·I·R over the saturation's, or under it.
    ("timing.one_shot", |x| 2.0 * x[3] * x[0] >= x[4], &[("pulse", "++-+-0"), ("lengthened", "++-+-0")]),
    ("timing.one_shot", |x| 2.0 * x[3] * x[0] <= x[4], &[("pulse", "++++-0")]),
    // Without losses the supply makes no difference.
    (
        "timing.astable",
        |x| x[4] <= 0.0 && x[5] <= 0.0,
        &[("low", "0++0??"), ("period", "+++0??"), ("frequency", "---0??"), ("duty", "+-00??")],
    ),
    // V_be·(V_pin - V_be) rises up to half of the pin's level.
    ("driver.bipolar_switch", |x| 2.0 * x[4] <= x[0], &[("dissipation", "+-+0++00"), ("junction", "+-+0++++")]),
    ("regulator.linear", |x| x[0] >= x[1] + x[4], &[("dissipation", "+-++000000"), ("efficiency", "-++-000000")]),
    ("regulator.linear", |x| x[0] >= x[1] + x[4] && x[9] >= x[5], &[("sink_to_ambient_wanted", "-+--0-0--+")]),
    ("regulator.linear", |x| x[9] >= x[5], &[("greatest_dissipation", "00000--00+")]),
    ("regulator.heatsink", |x| x[5] >= x[1], &[("greatest_dissipation", "0----+")]),
    (
        "regulator.adapter",
        |x| x[0] >= x[1] && x[3] <= x[2],
        &[("voltage", "+++-"), ("droop", "+--+"), ("source_resistance", "+--0")],
    ),
    (
        "regulator.adapter",
        |x| x[0] >= x[1] && x[3] <= x[2] && 2.0 * (x[0] - x[1]) * x[3] <= x[0] * x[2],
        &[("power", "++++")],
    ),
];

/// Model by model and field by field, a sign a parameter, in their order: `+` rises, `-` falls, `0` level, `?` unknown.
static DECLARED: &[(&str, Fields)] = &[
    (
        "timing.one_shot",
        &[
            ("pulse", "++?+-0"),
            ("lengthened", "???+-0"),
            ("threshold", "00+000"),
            ("charge_current", "-0+0-0"),
            ("final_current", "-0+000"),
            ("recovery", "0++0--"),
        ],
    ),
    (
        "timing.astable",
        &[
            ("high", "+++-+0"),
            ("low", "0++?-+"),
            ("period", "+++??+"),
            ("frequency", "---??-"),
            ("duty", "+?0?+-"),
            ("discharge_current", "--0+00"),
        ],
    ),
    ("timing.ticks", &[("interval", "-++"), ("resolution", "-+0"), ("frequency", "+--")]),
    (
        "timing.count",
        &[
            ("counts", "++-0"),
            ("interval", "+??0"),
            ("rounding", "???0"),
            ("error", "???0"),
            ("resolution", "0-+0"),
            ("longest", "0-++"),
            ("fits", "--++"),
        ],
    ),
    (
        "timing.crystal",
        &[
            ("error", "0++++??+-"),
            ("error_rss", "0++++??+-"),
            ("interval_error", "+++++??+-"),
            ("interval_error_rss", "+++++??+-"),
            ("shortest", "+----??-+"),
            ("longest", "+++++??+-"),
            ("pulling", "00000+-??"),
        ],
    ),
    (
        "timing.resonator",
        &[
            ("error", "0++++"),
            ("error_rss", "0++++"),
            ("interval_error", "+++++"),
            ("interval_error_rss", "+++++"),
            ("shortest", "+----"),
            ("longest", "+++++"),
        ],
    ),
    (
        "timing.rc_oscillator",
        &[
            ("error", "0+++++"),
            ("error_rss", "0+++++"),
            ("interval_error", "++++++"),
            ("interval_error_rss", "++++++"),
            ("shortest", "+-----"),
            ("longest", "++++++"),
        ],
    ),
    (
        "driver.base_resistor",
        &[
            ("resistance", "+???-"),
            ("pin_current", "0+-+0"),
            ("forced_beta", "00+-0"),
            ("resistor_dissipation", "+???-"),
        ],
    ),
    (
        "driver.bipolar_switch",
        &[
            ("pin_current", "+-00-000"),
            ("forced_beta", "-++0+000"),
            ("overdrive", "+--+-000"),
            ("saturated", "+--+-000"),
            ("greatest_load", "+-0+-000"),
            ("dissipation", "+-+0?+00"),
            ("resistor_dissipation", "+-00-000"),
            ("junction", "+-+0?+++"),
        ],
    ),
    (
        "driver.mosfet_switch",
        &[
            ("overdrive", "+-0000000"),
            ("drive_margin", "+0-000000"),
            ("fully_on", "+--000000"),
            ("hot_resistance", "000+?+++0"),
            ("drop", "000+?+++0"),
            ("dissipation", "000+?+++0"),
            ("junction", "000+?+++0"),
            ("junction_margin", "000-?---+"),
        ],
    ),
    (
        "driver.mosfet_gate",
        &[
            ("peak_current", "+00-000"),
            ("turn_on_time", "-+++000"),
            ("turn_off_time", "0-++000"),
            ("switching_dissipation", "-?+++++"),
            ("gate_power", "+0+000+"),
        ],
    ),
    (
        "driver.relay_coil",
        &[
            ("resistance", "00+0+00"),
            ("voltage", "+00-000"),
            ("current", "+0---00"),
            ("power", "+0---00"),
            ("pull_in_voltage", "0+00++0"),
            ("pull_in_margin", "+-0---0"),
            ("pulls_in", "+-0---0"),
            ("above_pin", "+0---0-"),
            ("transistor_wanted", "+0---0-"),
        ],
    ),
    (
        "driver.flyback",
        &[
            ("energy", "++0000"),
            ("diode_energy", "++?0?0"),
            ("diode_current", "+00000"),
            ("switch_voltage", "000++0"),
            ("time_constant", "0+-000"),
            ("release_time", "++-0--"),
            ("decay_time", "++-0-0"),
        ],
    ),
    ("driver.led_resistor", &[("resistance", "+-?-"), ("resistor_dissipation", "+-?-"), ("led_power", "0++0")]),
    ("driver.led_current", &[("current", "+---"), ("resistor_dissipation", "+---"), ("led_power", "+?--")]),
    (
        "regulator.linear",
        &[
            ("voltage", "++00-00000"),
            ("headroom", "+-00-00000"),
            ("regulates", "+-00-00000"),
            ("input_current", "00++000000"),
            ("dissipation", "?-+++00000"),
            ("efficiency", "?++--00000"),
            ("junction", "+-+++++000"),
            ("junction_margin", "-+-----00+"),
            ("greatest_dissipation", "00000-?00+"),
            ("heatsink_wanted", "+-+++++00-"),
            ("sink_to_ambient_wanted", "?????-0--+"),
        ],
    ),
    (
        "regulator.heatsink",
        &[
            ("sink", "++00+0"),
            ("case", "++0++0"),
            ("junction", "+++++0"),
            ("junction_margin", "-----+"),
            ("junction_to_ambient", "00+++0"),
            ("greatest_dissipation", "0-???+"),
        ],
    ),
    (
        "regulator.adapter",
        &[
            ("voltage", "?+??"),
            ("droop", "+-??"),
            ("source_resistance", "+-?0"),
            ("power", "?+??"),
            ("loading", "00-+"),
            ("within_rating", "00+-"),
        ],
    ),
    (
        "motor.constants",
        &[
            ("torque_constant", "+-?-"),
            ("friction_torque", "+-??"),
            ("stall_current", "+-00"),
            ("stall_torque", "??-?"),
        ],
    ),
    (
        "motor.permanent_magnet",
        &[
            ("stall_current", "+-000"),
            ("stall_torque", "+-+0-"),
            ("no_load_speed", "??-0-"),
            ("turns", "+-+--"),
            ("current", "+--++"),
            ("speed", "???--"),
            ("shaft_power", "????-"),
            ("input_power", "+--++"),
            ("winding_dissipation", "+?-++"),
            ("efficiency", "????-"),
            ("greatest_shaft_power", "+-00-"),
            ("stall_ratio", "+-+--"),
        ],
    ),
    (
        "motor.start_up",
        &[
            ("start_current", "+0-000"),
            ("final_speed", "+00-00"),
            ("mechanical_time_constant", "0++-00"),
            ("electrical_time_constant", "00-0+0"),
            ("time_to_fraction", "0++-0+"),
        ],
    ),
    (
        "motor.stall_heat",
        &[
            ("power", "+-00000"),
            ("heating_rate", "+--0000"),
            ("adiabatic_rise", "+--00+0"),
            ("time_constant", "00++000"),
            ("temperature", "+--+++0"),
            ("final_temperature", "+-0++00"),
            ("margin", "-++---+"),
            ("adiabatic_time_to_limit", "-++0-0+"),
            ("time_to_limit", "-++--0+"),
        ],
    ),
    (
        "motor.protection",
        &[
            ("stall_ratio", "-+00000"),
            ("melting_current", "00+000+"),
            ("fault_current", "0+0+000"),
            ("fuse_running_margin", "-0+00+0"),
            ("fuse_stands_running", "-0+00+0"),
            ("fuse_stall_margin", "0+-000-"),
            ("fuse_melts", "0+-000-"),
            ("fuse_melts_on_adapter", "0+-+00-"),
            ("adapter_running_margin", "-00+000"),
            ("adapter_stands_running", "-00+000"),
            ("adapter_stall_margin", "0-0+000"),
            ("adapter_stands_stall", "0-0+000"),
            ("contact_margin", "0-00+00"),
            ("contacts_stand_stall", "0-00+00"),
        ],
    ),
    ("wiring.copper", &[("resistance", "+-+"), ("resistance_per_length", "0-+"), ("growth", "00+")]),
    ("wiring.gauge", &[("diameter", "-"), ("area", "-"), ("resistance_per_length", "+")]),
    (
        "wiring.drop",
        &[
            ("resistance", "00+-+"),
            ("drop", "0++-+"),
            ("fraction", "-++-+"),
            ("voltage", "+--+-"),
            ("dissipation", "0++-+"),
        ],
    ),
    ("wiring.track", &[("current", "+++?"), ("area", "++0?"), ("resistance_per_length", "--0?")]),
    ("wiring.track_width", &[("width", "+--?"), ("area", "+0-?"), ("resistance_per_length", "-0+?")]),
];

#[cfg(test)]
mod tests {
    #![allow(clippy::disallowed_methods)]

    use super::*;
    use benchleaf_core::units::{Unit, parse};

    use crate::{Input, models};

    /// Scattered numbers, the same in every run (xorshift; G. Marsaglia, 2003).
    struct Scatter(u64);

    impl Scatter {
        fn share(&mut self) -> f64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 >> 11) as f64 / (1u64 << 53) as f64
        }

        /// A value of an input: evenly or by decades between the ends of its range, now and then an end.
        fn input(&mut self, input: &Input, valid: Option<(f64, f64)>) -> f64 {
            let symbol = match input {
                Input::Choice(words) => return (self.share() * words.len() as f64).floor(),
                Input::Quantity(symbol) => symbol,
            };
            let (low, high) = valid.unwrap();
            // A range without end is looked at over many decades.
            let high = if high.is_finite() { high } else { low.abs().max(1.0) * 1e6 };
            let share = self.share();
            let number = match (self.share() * 10.0) as u32 {
                0 => {
                    if share < 0.5 {
                        low
                    } else {
                        high
                    }
                }
                1..=5 if low > 0.0 => (low.ln() + (high / low).ln() * share).exp(),
                1..=5 if low == 0.0 => high * (-14.0 * share).exp(),
                _ => low + (high - low) * share,
            };
            parse(symbol).unwrap_or_else(Unit::one).to_si(number.clamp(low, high))
        }
    }

    /// How a field was seen to go with an input.
    #[derive(Clone, Copy, Default)]
    struct Seen {
        fell: bool,
        rose: bool,
        /// Without a value between two places with one.
        gap: bool,
    }

    /// Field by field and parameter by parameter.
    fn seen(model: &Model, where_: Option<Guard>, rounds: usize) -> Vec<Vec<Seen>> {
        let (n, m) = (model.parameters.len(), model.fields.len());
        let mut seen = vec![vec![Seen::default(); n]; m];
        let mut scatter = Scatter(0x2545_f491_4f6c_dd1d);
        let mut out = [vec![0.0; m], vec![0.0; m], vec![0.0; m]];
        for _ in 0..rounds {
            let mut base: Vec<f64> = model.parameters.iter().map(|p| scatter.input(&p.input, p.valid)).collect();
            for (j, parameter) in model.parameters.iter().enumerate() {
                let Input::Quantity(_) = parameter.input else { continue };
                let mut next = || scatter.input(&parameter.input, parameter.valid);
                let mut places = [base[j], next(), next()];
                // Near one another as often as far apart.
                if places[2] > places[1] {
                    places[1] = places[0] + (places[1] - places[0]) * 1e-3;
                    places[2] = 0.5 * (places[0] + places[1]);
                }
                places.sort_by(f64::total_cmp);
                let kept = base[j];
                let holds = |place: &f64| {
                    let mut there = base.clone();
                    there[j] = *place;
                    where_.is_none_or(|holds| holds(&there))
                };
                if !places.iter().all(holds) {
                    continue;
                }
                for (place, out) in places.iter().zip(&mut out) {
                    base[j] = *place;
                    (model.evaluate)(&base, out);
                }
                base[j] = kept;
                for (f, seen) in seen.iter_mut().enumerate() {
                    let y = [out[0][f], out[1][f], out[2][f]];
                    let size = y.iter().filter(|y| y.is_finite()).fold(0.0, |size: f64, y| size.max(y.abs()));
                    for (a, b) in [(y[0], y[1]), (y[1], y[2]), (y[0], y[2])] {
                        seen[j].fell |= b < a - ROUNDING * size;
                        seen[j].rose |= b > a + ROUNDING * size;
                    }
                    seen[j].gap |= y[1].is_nan() && !y[0].is_nan() && !y[2].is_nan();
                }
            }
        }
        seen
    }

    /// What a model's own rounding may do to a value.
    const ROUNDING: f64 = 1e-11;

    #[test]
    fn what_is_declared_holds_wherever_it_is_tried() {
        let rounds = std::env::var("BENCHLEAF_ROUNDS").map_or(3000, |rounds| rounds.parse().unwrap());
        let (mut declared, mut moving) = (0, 0);
        for model in models() {
            let guards = GUARDED.iter().filter(|(name, ..)| *name == model.name).map(|(_, where_, _)| Some(*where_));
            let ways: Vec<Option<Guard>> = std::iter::once(None).chain(guards).collect();
            let seen: Vec<Vec<Vec<Seen>>> = ways.iter().map(|where_| seen(model, *where_, rounds)).collect();
            let fields = model.fields.iter().enumerate();
            for (f, field, directions) in
                fields.flat_map(|(f, field)| directions(model, f).into_iter().map(move |d| (f, field, d)))
            {
                let same = |where_: &Option<Guard>| match (where_, directions.where_) {
                    (None, None) => true,
                    (Some(a), Some(b)) => std::ptr::fn_addr_eq(*a, b),
                    _ => false,
                };
                let seen = &seen[ways.iter().position(same).unwrap()];
                for ((direction, seen), parameter) in directions.by.iter().zip(&seen[f]).zip(model.parameters) {
                    let what = format!("{}.{} with {}", model.name, field.name, parameter.name);
                    declared += usize::from(*direction != Direction::Unknown);
                    moving += usize::from(seen.rose || seen.fell);
                    match direction {
                        Direction::Rises => assert!(!seen.fell && !seen.gap, "{what} falls somewhere"),
                        Direction::Falls => assert!(!seen.rose && !seen.gap, "{what} rises somewhere"),
                        Direction::Level => assert!(!seen.rose && !seen.fell && !seen.gap, "{what} moves somewhere"),
                        Direction::Unknown => {}
                    }
                }
            }
        }
        assert!(declared > 400 && moving > 300, "{declared} declared, {moving} move");
    }

    #[test]
    fn declarations_name_models_and_fields_that_are() {
        let guarded = GUARDED.iter().map(|(name, _, fields)| (name, fields));
        for (name, fields) in DECLARED.iter().map(|(name, fields)| (name, fields)).chain(guarded) {
            let model = models().iter().find(|model| model.name == *name).unwrap();
            for (field, signs) in *fields {
                assert!(model.fields.iter().any(|known| known.name == *field), "{name}.{field}");
                assert_eq!(signs.len(), model.parameters.len(), "{name}.{field}");
            }
        }
    }
}
