//! A call of each handbook model, for the reference tables: usual values of small builds, within validity and conditions.

/// The arguments of a model's example, as a worksheet writes them.
pub(crate) fn arguments(model: &str) -> Option<&'static str> {
    EXAMPLES.iter().find(|(name, _)| *name == model).map(|(_, arguments)| *arguments)
}

const EXAMPLES: &[(&str, &str)] = &[
    ("timing.one_shot", "resistance = 120 kΩ, capacitance = 100 µF, supply = 9 V, leakage = 2 µA"),
    ("timing.astable", "resistance_a = 4.7 kΩ, resistance_b = 68 kΩ, capacitance = 10 µF, supply = 9 V"),
    ("timing.trigger", "supply = 9 V, edge = 9 V, resistance = 10 kΩ, capacitance = 10 nF, pulse = 10 s"),
    ("timing.control_pin", "supply = 9 V, control = 4.5 V, resistance = 120 kΩ, capacitance = 100 µF"),
    (
        "timing.debounce",
        "supply = 5 V, pull_up = 10 kΩ, series = 10 kΩ, capacitance = 1 µF, upper = 2.9 V, lower = 1.8 V, bounce = 5 ms",
    ),
    ("timing.ticks", "clock = 16 MHz, prescaler = 64, counts = 250"),
    ("timing.count", "wanted = 50 ms, clock = 16 MHz, prescaler = 64"),
    ("timing.crystal", "interval = 1 d, load_fitted = 15 pF"),
    ("timing.resonator", "interval = 1 h"),
    ("timing.rc_oscillator", "interval = 10 s"),
    ("driver.base_resistor", "pin_high = 4.5 V, load_current = 30 mA, minimum_gain = 100"),
    ("driver.bipolar_switch", "pin_high = 4.5 V, base_resistor = 3.9 kΩ, load_current = 30 mA, minimum_gain = 100"),
    ("driver.darlington", "supply = 12 V, pin_high = 4.5 V, base_resistor = 2.2 kΩ, load_current = 0.5 A"),
    ("driver.optocoupler", "pin_high = 4.5 V, resistor = 680 Ω, transfer_ratio = 50 %, supply = 12 V, pull_up = 10 kΩ"),
    (
        "driver.mosfet_switch",
        "gate_drive = 5 V, threshold = 2.5 V, on_resistance = 35 mΩ, load_current = 3 A, junction_to_ambient = 62 K/W",
    ),
    (
        "driver.mosfet_gate",
        "gate_drive = 5 V, plateau = 3 V, gate_charge = 20 nC, gate_resistor = 150 Ω, supply = 12 V, load_current = 3 A, \
         frequency = 1 kHz",
    ),
    (
        "driver.h_bridge",
        "supply = 12 V, load = 3 A, on_resistance = 30 mΩ, frequency = 20 kHz, edge = 80 ns, dead_time = 500 ns, \
         longest_off = 300 ns",
    ),
    ("driver.relay_coil", "supply = 12 V, rated_voltage = 12 V, coil_resistance = 400 Ω, winding = 60 °C"),
    ("driver.flyback", "current = 30 mA, inductance = 400 mH, resistance = 400 Ω, supply = 12 V"),
    ("driver.clamp", "current = 30 mA, inductance = 400 mH, resistance = 400 Ω, supply = 12 V, clamp = 36 V"),
    (
        "driver.snubber",
        "supply = 12 V, current = 30 mA, inductance = 400 mH, resistance = 100 Ω, capacitance = 0.47 µF",
    ),
    ("driver.led_resistor", "supply = 9 V, forward = 2 V, current = 10 mA"),
    ("driver.led_current", "supply = 9 V, forward = 2 V, resistance = 680 Ω"),
    ("driver.led_string", "supply = 12 V, forward = 3.1 V, count = 3, current = 20 mA"),
    ("driver.led_multiplex", "average = 2 mA, rows = 8, columns = 8, blanking = 5 %, peak_limit = 60 mA"),
    ("supply.battery", "no_load = 9 V, internal_resistance = 2 Ω, load = 50 mA, capacity = 500 mA·h"),
    ("supply.bulk_ripple", "winding = 9 V, load = 0.3 A, capacitance = 2200 µF"),
    ("supply.inrush", "supply = 12 V, resistance = 0.2 Ω, capacitance = 1000 µF, melting = 4 A^2·s"),
    ("supply.reverse_polarity", "supply = 12 V, load = 1 A, on_resistance = 50 mΩ"),
    ("supply.usb", "port = usb2, load = 350 mA, capacitance = 4.7 µF"),
    (
        "driver.high_side",
        "supply = 12 V, pull_up = 10 kΩ, threshold = 2.5 V, gate_charge = 20 nC, on_resistance = 40 mΩ, load = 2 A",
    ),
    (
        "driver.contact_life",
        "load = 2 A, lower_current = 1 A, lower_operations = 500000, higher_current = 5 A, higher_operations = 100000, \
         interval = 10 min",
    ),
    ("thermal.copper_area", "area = 3 cm^2, dissipation = 1 W"),
    ("thermal.pulse", "power = 20 W, single_pulse = 0.6 K/W, steady = 3 K/W, duty = 10 %"),
    ("motor.brush_drop", "supply = 6 V, current = 0.4 A, winding_resistance = 2 Ω"),
    ("timing.prescaler", "wanted = 0.5 s, clock = 16 MHz"),
    ("divider.loaded", "supply = 12 V, upper = 20 kΩ, lower = 10 kΩ, load = 100 kΩ"),
    ("regulator.linear", "input = 9 V, output = 5 V, load = 200 mA, ambient = 25 °C, junction_to_ambient = 65 K/W"),
    ("regulator.heatsink", "dissipation = 3 W, ambient = 25 °C, sink_to_ambient = 15 K/W"),
    ("regulator.adapter", "no_load = 16 V, rated_voltage = 12 V, rated_current = 0.5 A, load = 0.2 A"),
    (
        "thermal.step",
        "power = 1.8 W, thermal_resistance = 20 K/W, heat_capacity = 8 J/K, duration = 60 s, limit = 55 °C",
    ),
    ("thermal.derating", "rated_power = 0.25 W, ambient = 100 °C, dissipation = 0.1 W"),
    (
        "motor.constants",
        "supply = 6 V, winding_resistance = 2 Ω, no_load_speed = 9000 rev/min, no_load_current = 120 mA",
    ),
    (
        "motor.from_datasheet",
        "supply = 6 V, no_load_speed = 9000 rev/min, no_load_current = 120 mA, loaded_speed = 7600 rev/min, \
         loaded_current = 550 mA",
    ),
    (
        "motor.permanent_magnet",
        "supply = 6 V, winding_resistance = 2 Ω, torque_constant = 6 mN·m/A, load_torque = 3 mN·m, no_load_current = 120 mA",
    ),
    ("motor.gear", "motor_torque = 3 mN·m, motor_speed = 7600 rev/min, ratio = 48, stages = 3"),
    ("motor.worm", "worm_torque = 3 mN·m, worm_speed = 7600 rev/min, ratio = 30, lead_angle = 4°"),
    (
        "motor.pwm_ripple",
        "supply = 6 V, duty = 50 %, frequency = 20 kHz, inductance = 1 mH, winding_resistance = 2 Ω, current = 0.5 A",
    ),
    ("motor.start_up", "supply = 6 V, inertia = 10 g·cm^2, winding_resistance = 2 Ω, torque_constant = 6 mN·m/A"),
    (
        "motor.stall_heat",
        "supply = 6 V, winding_resistance = 2 Ω, copper_mass = 8 g, thermal_resistance = 25 K/W, duration = 20 s",
    ),
    (
        "motor.protection",
        "running_current = 0.6 A, stall_current = 3 A, fuse_rating = 1 A, adapter_rating = 3.5 A, contact_rating = 5 A",
    ),
    ("wiring.copper", "length = 5 m, area = 0.5 mm^2"),
    ("wiring.gauge", "gauge = 24"),
    ("wiring.drop", "supply = 12 V, current = 2 A, length = 3 m, area = 0.5 mm^2"),
    ("wiring.track", "width = 1 mm"),
    ("wiring.track_width", "current = 2 A"),
];
