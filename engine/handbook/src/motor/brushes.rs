//! What a motor's brushes, or other sliding contacts, take.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio};

use crate::{declare::model, physics::not_negative};

model! {
    /// Voltage and power that sliding contacts take, and the speed that they cost a motor
    "motor.brush_drop" as BRUSH_DROP, by brush_drop;
    source "published: IEC 60034-2-1, from memory (1.0 V a polarity for carbon and graphite brushes, 0.3 V for metal-carbon, taken as the \
        same at any current); very small motors with metal fingers lose less: measure";
    takes BrushDrop {
        /// Supply at the motor's terminals
        supply as "V": ElectricPotential, "V" in 0.5..=60.0;
        /// Current through the motor
        current as "I": ElectricCurrent, "A" in 0.001..=50.0;
        /// Resistance of the winding
        winding_resistance as "R": ElectricalResistance, "Ω" in 0.01..=1000.0;
        /// Drop of one contact
        contact_drop as "V_b": ElectricPotential, "V" in 0.0..=2.0 or 0.3;
        /// Contacts in series
        contacts as "n": Ratio, "" in 1.0..=8.0 or 2.0;
    }
    gives BrushDropRecord {
        /// Voltage across all contacts
        drop as "V_c": ElectricPotential, "V" = "contacts * contact_drop";
        /// Heat in the contacts
        dissipation as "P_c": Power, "W" = "drop * current";
        /// Voltage that is left to make speed
        inner_voltage as "V_i": ElectricPotential, "V" = "max(0 V, supply - drop - winding_resistance * current)";
        /// Speed in proportion to that without the contacts' drop
        speed_share as "k": Ratio, "%" = "inner_voltage / max(0 V, supply - winding_resistance * current)"
            unless "the winding alone takes the whole supply: the motor is stuck";
    }
    needs {
        "the motor turns: contacts and winding leave some voltage", |given| brush_drop(&given).inner_voltage.value > 0.0;
    }
}

/// Evaluates `motor.brush_drop`.
pub fn brush_drop(given: &BrushDrop) -> BrushDropRecord {
    let drop = given.contact_drop * given.contacts;
    let winding: ElectricPotential = given.winding_resistance * given.current;
    let inner_voltage = not_negative(given.supply - drop - winding);
    BrushDropRecord {
        drop,
        dissipation: drop * given.current,
        inner_voltage,
        speed_share: inner_voltage / not_negative(given.supply - winding),
    }
}

#[cfg(test)]
mod tests {
    use super::BRUSH_DROP;
    use crate::check::{close, record};

    /// Worked by hand: of 6 V, 0.6 V in two brushes and 1 V in the winding: 4.4 V of 5 V are left.
    #[test]
    fn two_brushes_cost_a_part_of_the_speed() {
        let it = record(
            "motor.brush_drop",
            &[("supply", 6.0, "V"), ("current", 0.5, "A"), ("winding_resistance", 2.0, "Ω")],
        );
        close(it.get("drop", "V"), 0.6, 1e-12);
        close(it.get("dissipation", "W"), 0.3, 1e-12);
        close(it.get("inner_voltage", "V"), 4.4, 1e-12);
        close(it.get("speed_share", "%"), 88.0, 1e-12);
        let turns = |current| (BRUSH_DROP.conditions[0].holds)(&[6.0, current, 2.0, 0.3, 2.0]);
        assert_eq!([turns(0.5), turns(2.9)], [true, false]);
    }
}
