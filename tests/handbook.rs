//! Handbook models and functions of the language against published values, through the language as a worksheet calls
//! them. Each check names its source; those without one say *common practice* or *from memory*.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::problem::Code;
use benchleaf_tests::{calc, close, nominal, range, sound};

/// Maker's datasheet for the 555-type timer: t = 1.1·R·C, the product of ln 3 rounded to two figures.
#[test]
fn one_shot_of_a_bipolar_timer() {
    let it = sound("t = timing.one_shot(resistance = 1 MΩ, capacitance = 10 µF, supply = 12 V)\nx = t.pulse");
    close(nominal(&it, "x"), 1.1 * 10.0, 0.005);
    close(nominal(&it, "x"), 10.0 * 3f64.ln(), 1e-12);
}

/// The same datasheet: high 0.693 (R_a+R_b) C, low 0.693 R_b C, f ≈ 1.44/((R_a+2 R_b) C).
#[test]
fn astable_of_a_bipolar_timer() {
    let it = sound(
        "t = timing.astable(resistance_a = 10 kΩ, resistance_b = 47 kΩ, capacitance = 1 µF, supply = 9 V)\nhi = t.high\nl = t.low\nf = t.frequency",
    );
    close(nominal(&it, "hi"), 0.693 * 57e3 * 1e-6, 0.001);
    close(nominal(&it, "l"), 0.693 * 47e3 * 1e-6, 0.001);
    close(nominal(&it, "f"), 1.44 / (104e3 * 1e-6), 0.003);
}

/// Handbook table: an RC reaches 63.2, 86.5, 95.0, 98.2 and 99.3 % after one to five time constants.
#[test]
fn charging_through_a_resistor() {
    let it = sound("f(n) = 1 - exp(-n)\na = f(1)\nb = f(2)\nc = f(3)\nd = f(4)\ng = f(5)");
    for (name, per_cent) in [("a", 63.2), ("b", 86.5), ("c", 95.0), ("d", 98.2), ("g", 99.3)] {
        assert_eq!((nominal(&it, name) * 1000.0).round() / 10.0, per_cent);
    }
}

/// IEC 60028: 1/58 Ω·mm²/m at 20 °C, 0.00393 /K.
#[test]
fn resistance_of_copper() {
    let it = sound(
        "a = wiring.copper(length = 58 m, area = 1 mm^2)\nb = wiring.copper(length = 58 m, area = 1 mm^2, temperature = 120 °C)\nx = a.resistance\ny = b.resistance",
    );
    close(nominal(&it, "x"), 1.0, 1e-12);
    close(nominal(&it, "y"), 1.393, 1e-12);
}

/// ASTM B258: AWG 24 is 0.511 mm, 84.2 mΩ/m.
#[test]
fn wire_gauge() {
    let it = sound("w = wiring.gauge(gauge = 24)\nd = w.diameter\nr = w.resistance_per_length");
    close(nominal(&it, "d"), 0.511e-3, 0.001);
    close(nominal(&it, "r"), 84.2e-3, 0.002);
}

/// IPC-2221: I = k ΔT^0.44 A^0.725 with A in square mils; k 0.048 outside, 0.024 inside.
#[test]
fn printed_track() {
    let it = sound(
        "o = wiring.track(width = 100 mil, thickness = 1 mil, rise = 10 K, side = outer)\ni = wiring.track(width = 100 mil, thickness = 1 mil, rise = 10 K, side = inner)\nx = o.current\ny = i.current",
    );
    close(nominal(&it, "x"), 0.048 * 10f64.powf(0.44) * 100f64.powf(0.725), 1e-9);
    close(nominal(&it, "y"), 0.024 * 10f64.powf(0.44) * 100f64.powf(0.725), 1e-9);
}

/// JEDEC JESD51: T_j = T_a + P (θ_jc + θ_cs + θ_sa).
#[test]
fn junction_over_the_thermal_chain() {
    let it = sound(
        "r = regulator.heatsink(dissipation = 3 W, ambient = 40 °C, junction_to_case = 5 K/W, case_to_sink = 1 K/W, sink_to_ambient = 14 K/W)\nx = r.junction",
    );
    close(nominal(&it, "x"), 273.15 + 40.0 + 3.0 * 20.0, 1e-12);
}

/// Machines handbook: stall current V/R; the greatest shaft power stands at half the no-load speed and is τ_s ω_0 / 4.
#[test]
fn permanent_magnet_motor() {
    let it = sound(
        "m = motor.permanent_magnet(supply = 12 V, winding_resistance = 6 Ω, torque_constant = 20 mN·m/A, load_torque = 20 mN·m)\ni = m.stall_current\np = m.greatest_shaft_power\nw = m.speed / m.no_load_speed\nq = m.shaft_power",
    );
    close(nominal(&it, "i"), 2.0, 1e-12);
    close(nominal(&it, "p"), 0.02 * 2.0 * (12.0 / 0.02) / 4.0, 1e-12);
    close(nominal(&it, "w"), 0.5, 1e-12);
    close(nominal(&it, "q"), nominal(&it, "p"), 1e-12);
}

/// Machines handbook: mechanical time constant J R / (k_t k_e).
#[test]
fn motor_start_up() {
    let it = sound(
        "m = motor.start_up(supply = 12 V, inertia = 10 g·cm^2, winding_resistance = 6 Ω, torque_constant = 20 mN·m/A)\nx = m.mechanical_time_constant",
    );
    close(nominal(&it, "x"), 1e-6 * 6.0 / (0.02 * 0.02), 1e-12);
}

/// Common practice: (supply − forward voltage) / current.
#[test]
fn led_resistor() {
    let it = sound("l = driver.led_resistor(supply = 12 V, forward = 2 V, current = 10 mA)\nx = l.resistance");
    close(nominal(&it, "x"), 1000.0, 1e-12);
}

/// SI brochure, 9th edition, table 1: the defining constants.
#[test]
fn defining_constants() {
    let it = sound("a = c_0 / (1 m/s)\nb = h / (1 J·s)\nc = q_e / (1 C)\nd = k_B / (1 J/K)\ng = N_A * (1 mol)");
    for (name, value) in [
        ("a", 299_792_458.0),
        ("b", 6.626_070_15e-34),
        ("c", 1.602_176_634e-19),
        ("d", 1.380_649e-23),
        ("g", 6.022_140_76e23),
    ] {
        close(nominal(&it, name), value, 1e-15);
    }
}

/// IEC 60062: the letters of symmetric tolerances, B 0.1 % to N 30 %, behind a value's code.
#[test]
fn tolerance_letters_of_part_marking() {
    for (letter, per_cent) in
        [("B", 0.1), ("C", 0.25), ("D", 0.5), ("F", 1.0), ("G", 2.0), ("J", 5.0), ("K", 10.0), ("M", 20.0), ("N", 30.0)]
    {
        let it = sound(&format!("x = 4k7{letter}"));
        let (low, high) = range(&it, "x");
        close(low, 4700.0 * (1.0 - per_cent / 100.0), 1e-12);
        close(high, 4700.0 * (1.0 + per_cent / 100.0), 1e-12);
    }
}

/// IEC 60063, table of E24: each of its values is a preferred one over several decades, and what lies between two goes to
/// the nearer by ratio, or to the side that was asked for.
#[test]
fn preferred_values_of_the_table() {
    const E24: [f64; 24] = [
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5,
        8.2, 9.1,
    ];
    for unit in ["mΩ", "Ω", "kΩ"] {
        for (i, value) in E24.iter().enumerate() {
            let next = E24.get(i + 1).copied().unwrap_or(10.0);
            let middle = (value * next).sqrt();
            let it = sound(&format!(
                "a = preferred_nearest(E24, {value} {unit}) / (1 {unit})\nb = preferred_below(E24, {middle} {unit}) / (1 {unit})\nc = preferred_above(E24, {middle} {unit}) / (1 {unit})\nd = preferred_nearest(E24, {} {unit}) / (1 {unit})\ng = preferred_nearest(E24, {} {unit}) / (1 {unit})",
                middle * 0.999,
                middle * 1.001
            ));
            for (name, wanted) in [("a", *value), ("b", *value), ("c", next), ("d", *value), ("g", next)] {
                close(nominal(&it, name), wanted, 1e-12);
            }
        }
    }
}

/// IEC 60063: E48, E96 and E192 are 10^(i/n) rounded to three figures, but for 9.20 in E192.
#[test]
fn preferred_values_by_rounding() {
    for (series, near, wanted) in [
        ("E48", 1.20, 1.21),
        ("E48", 9.5, 9.53),
        ("E96", 1.0, 1.0),
        ("E96", 1.03, 1.02),
        ("E96", 4.7, 4.75),
        ("E96", 9.7, 9.76),
        ("E192", 9.19, 9.20),
        ("E192", 1.01, 1.01),
        ("E192", 9.87, 9.88),
    ] {
        let it = sound(&format!("x = preferred_nearest({series}, {near} kΩ) / (1 kΩ)"));
        close(nominal(&it, "x"), wanted, 1e-12);
    }
}

/// ASTM B258, its table of nominal diameters in mils (from memory, but for 36, which is 5 mils by definition).
#[test]
fn wire_gauges_of_the_table() {
    for (gauge, mils) in
        [(10, 101.9), (12, 80.8), (16, 50.8), (20, 32.0), (22, 25.3), (28, 12.6), (30, 10.0), (36, 5.0)]
    {
        let it = sound(&format!("w = wiring.gauge(gauge = {gauge})\nd = w.diameter / (1 mil)"));
        close((nominal(&it, "d") * 10.0).round() / 10.0, mils, 1e-12);
    }
}

/// A field without a value says why in the problem's text.
#[test]
fn a_field_without_a_value_says_why() {
    for (line, why) in [
        (
            "x = timing.rc_oscillator(interval = 1 s, calibration = 20 %, temperature_drift = 1 %/K, temperature_departure = 100 K)\ny = x.longest",
            "stand still",
        ),
        (
            "x = regulator.linear(input = 12 V, output = 8 V, load = 0 mA, quiescent = 0 mA, ambient = 25 °C, junction_to_ambient = 65 K/W)\ny = x.efficiency",
            "nothing is drawn",
        ),
        (
            "x = timing.astable(resistance_a = 1 MΩ, resistance_b = 1 MΩ, capacitance = 1 µF, supply = 5 V, leakage = 2 µA)\ny = x.high",
            "the output stays high",
        ),
    ] {
        let it = calc(line);
        let problem = it.problems.iter().find(|problem| problem.code == Code::NotFinite);
        assert!(problem.is_some_and(|problem| problem.message.english().contains(why)), "{line}: {:?}", it.problems);
    }
}
