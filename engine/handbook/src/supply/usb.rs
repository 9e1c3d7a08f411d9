//! What a USB port gives to a device.

use uom::si::{
    capacitance::farad,
    electric_current::ampere,
    f64::{Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Power},
};

use crate::{
    declare::{choice, model},
    physics::not_negative,
};

choice! {
    /// What a device is fed by over USB, and the current that it may take.
    Port {
        /// A port of USB 2.0 before the device is configured: one unit load, 100 mA.
        Unconfigured = "usb2_unconfigured",
        /// A port of USB 2.0 that granted five unit loads: 500 mA.
        Usb2 = "usb2",
        /// A port of USB 3.2 that granted six unit loads: 900 mA.
        Usb3 = "usb3",
        /// A dedicated charging port: 1.5 A.
        Charging = "charging_port",
        /// A USB Type-C source that announces 1.5 A.
        TypeC1A5 = "type_c_1a5",
        /// A USB Type-C source that announces 3 A.
        TypeC3A = "type_c_3a",
    }
}

model! {
    /// Current, voltage and capacitor that a USB port leaves to a device
    "supply.usb" as USB, by usb;
    source "published: USB 2.0, 7.2 (unit load 100 mA, at most five; 4.40 V at least at a low-power port, 4.75 V at a high-power \
        one; at most 10 µF at the device without a limiter), USB 3.2 (unit load 150 mA, at most six), Battery Charging 1.2 (1.5 A), \
        USB Type-C (1.5 A and 3 A): from memory";
    takes UsbDevice {
        /// What the device is fed by
        port as "p": Port, (Port) or 1.0;
        /// Current drawn
        load as "I": ElectricCurrent, "A" in 0.000_1..=5.0;
        /// Lowest voltage at the port
        port_voltage as "V_bus": ElectricPotential, "V" in 4.0..=5.5 or 4.4;
        /// Resistance of the cable, both wires, with its contacts
        cable_resistance as "R_c": ElectricalResistance, "Ω" in 0.0..=2.0 or 0.25;
        /// Lowest voltage that the device works with
        needed as "V_min": ElectricPotential, "V" in 1.0..=5.25 or 4.0;
        /// Capacitance that is connected with the plug
        capacitance as "C": Capacitance, "µF" in 0.0..=1000.0 or 10.0;
    }
    gives UsbDeviceRecord {
        /// Current that the device may take
        allowed as "I_max": ElectricCurrent, "A"
            = "if port == usb2_unconfigured then 100 mA else if port == usb2 then 500 mA else if port == usb3 then 900 mA \
                else if port == type_c_3a then 3 A else 1.5 A";
        /// What is left of that
        margin as "ΔI": ElectricCurrent, "A" = "allowed - load";
        /// Lowest voltage at the device
        voltage as "V": ElectricPotential, "V" = "max(0 V, port_voltage - cable_resistance * load)";
        /// What that is above the voltage that the device needs by
        voltage_margin as "ΔV": ElectricPotential, "V" = "voltage - needed";
        /// What the capacitance is below the 10 µF that a port must charge
        capacitance_margin as "ΔC": Capacitance, "µF" = "10 µF - capacitance";
        /// Power that the device takes
        power as "P": Power, "W" = "voltage * load";
    }
    needs {
        "the device takes no more than the port gives", |given| given.load <= allowed(given.port);
        "the voltage at the device is enough", |given| usb(&given).voltage >= given.needed;
        "no more than 10 µF are connected with the plug; above that a limiter of the inrush is needed",
            |given| given.capacitance <= limiter_from();
    }
}

fn allowed(port: Port) -> ElectricCurrent {
    ElectricCurrent::new::<ampere>(match port {
        Port::Unconfigured => 0.1,
        Port::Usb2 => 0.5,
        Port::Usb3 => 0.9,
        Port::Charging | Port::TypeC1A5 => 1.5,
        Port::TypeC3A => 3.0,
    })
}

/// The greatest capacitance that may be connected without a limiter of the inrush.
fn limiter_from() -> Capacitance {
    Capacitance::new::<farad>(1e-5)
}

/// Evaluates `supply.usb`.
pub fn usb(given: &UsbDevice) -> UsbDeviceRecord {
    let allowed = allowed(given.port);
    let voltage = not_negative(given.port_voltage - given.cable_resistance * given.load);
    UsbDeviceRecord {
        allowed,
        margin: allowed - given.load,
        voltage,
        voltage_margin: voltage - given.needed,
        capacitance_margin: limiter_from() - given.capacitance,
        power: voltage * given.load,
    }
}

#[cfg(test)]
mod tests {
    use super::USB;
    use crate::check::{close, record};

    /// Published (USB 2.0, 7.2, from memory): five unit loads of 100 mA, 10 µF. Worked by hand: 0.4 A over 0.25 Ω are 0.1 V.
    #[test]
    fn a_port_gives_five_unit_loads_once_it_is_configured() {
        let it = record("supply.usb", &[("load", 0.4, "A"), ("capacitance", 4.7, "µF")]);
        close(it.get("allowed", "mA"), 500.0, 1e-12);
        close(it.get("margin", "mA"), 100.0, 1e-12);
        close(it.get("voltage", "V"), 4.3, 1e-12);
        close(it.get("voltage_margin", "V"), 0.3, 1e-12);
        close(it.get("capacitance_margin", "µF"), 5.3, 1e-12);
        close(it.get("power", "W"), 1.72, 1e-12);
        let of = |port: f64, load: f64, needed: f64, capacitance: f64| -> Vec<bool> {
            USB.conditions.iter().map(|c| (c.holds)(&[port, load, 4.4, 0.25, needed, capacitance])).collect()
        };
        assert_eq!(of(0.0, 0.4, 4.0, 4.7e-6), [false, true, true]);
        assert_eq!(of(1.0, 0.4, 4.35, 4.7e-6), [true, false, true]);
        assert_eq!(of(5.0, 1.4, 4.0, 100e-6), [true, true, false]);
    }
}
