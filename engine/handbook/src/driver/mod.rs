//! What stands between a pin that gives milliamperes and a load that takes more: transistors, relay coils, LEDs.

mod bipolar;
mod led;
mod mosfet;
mod relay;

pub use bipolar::{
    BASE_RESISTOR, BIPOLAR_SWITCH, BaseResistor, BaseResistorRecord, BipolarSwitch, BipolarSwitchRecord, base_resistor,
    bipolar_switch,
};
pub use led::{
    LED_CURRENT, LED_RESISTOR, LedCurrent, LedCurrentRecord, LedResistor, LedResistorRecord, led_current, led_resistor,
};
pub use mosfet::{
    MOSFET_GATE, MOSFET_SWITCH, MosfetGate, MosfetGateRecord, MosfetSwitch, MosfetSwitchRecord, mosfet_gate,
    mosfet_switch,
};
pub use relay::{FLYBACK, Flyback, FlybackRecord, RELAY_COIL, RelayCoil, RelayCoilRecord, flyback, relay_coil};
