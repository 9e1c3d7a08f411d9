//! Directions that hold for some inputs only, model by model.

use super::{Fields, Guard};

/// Directions that hold for some inputs only, as [`DECLARED`](super::declared::DECLARED).
pub(super) static GUARDED: &[(&str, Guard, Fields)] = &[
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
    ("timing.debounce", |x| x[5] <= x[0], &[("closing_delay", "+0++0-0"), ("margin", "?++++--")]),
    ("driver.darlington", |x| 2.0 * x[5] <= x[1], &[("dissipation", "0+-+0++00"), ("junction", "0+-+0++++")]),
    (
        "driver.clamp",
        |x| x[4] > x[3],
        &[
            ("release_time", "++-+-0-0"),
            ("decay_time", "++-+-000"),
            ("clamp_energy", "++?+?000"),
            ("dissipation", "++?+?00+"),
        ],
    ),
    (
        "driver.led_string",
        |x| x[0] >= x[1] * x[2],
        &[("resistance", "+---0"), ("resistor_dissipation", "+--+0"), ("sensitivity", "-++00")],
    ),
    (
        "motor.from_datasheet",
        |x| x[3] < x[1] && x[4] > x[2],
        &[
            ("winding_resistance", "+++--"),
            ("torque_constant", "+--++"),
            ("stall_current", "0--++"),
            ("stall_torque", "+--++"),
            ("friction_torque", "+-?++"),
            ("load_torque", "+--++"),
        ],
    ),
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
