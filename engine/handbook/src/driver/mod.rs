//! What stands between a pin that gives milliamperes and a load that takes more: transistors, relay coils, LEDs.

mod bipolar;
mod contact;
mod darlington;
mod h_bridge;
mod high_side;
mod led;
mod led_array;
mod mosfet;
mod optocoupler;
mod relay;
mod suppression;

pub use bipolar::{
    BASE_RESISTOR, BIPOLAR_SWITCH, BaseResistor, BaseResistorRecord, BipolarSwitch, BipolarSwitchRecord, base_resistor,
    bipolar_switch,
};
pub use contact::{CONTACT_LIFE, ContactLife, ContactLifeRecord, contact_life};
pub use darlington::{DARLINGTON, Darlington, DarlingtonRecord, darlington};
pub use h_bridge::{H_BRIDGE, HBridge, HBridgeRecord, h_bridge};
pub use high_side::{HIGH_SIDE, HighSide, HighSideRecord, high_side};
pub use led::{
    LED_CURRENT, LED_RESISTOR, LedCurrent, LedCurrentRecord, LedResistor, LedResistorRecord, led_current, led_resistor,
};
pub use led_array::{
    LED_MULTIPLEX, LED_STRING, LedMultiplex, LedMultiplexRecord, LedString, LedStringRecord, led_multiplex, led_string,
};
pub use mosfet::{
    MOSFET_GATE, MOSFET_SWITCH, MosfetGate, MosfetGateRecord, MosfetSwitch, MosfetSwitchRecord, mosfet_gate,
    mosfet_switch,
};
pub use optocoupler::{OPTOCOUPLER, Optocoupler, OptocouplerRecord, optocoupler};
pub use relay::{FLYBACK, Flyback, FlybackRecord, RELAY_COIL, RelayCoil, RelayCoilRecord, flyback, relay_coil};
pub use suppression::{CLAMP, Clamp, ClampRecord, SNUBBER, Snubber, SnubberRecord, clamp, snubber};
