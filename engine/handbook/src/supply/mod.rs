//! Where the power comes from: batteries, rectifiers with their capacitors, what flows as they are connected, and what
//! guards against the wrong polarity.

mod battery;
mod capacitor;
mod polarity;
mod usb;

pub use battery::{BATTERY, Battery, BatteryRecord, battery};
pub use capacitor::{
    BULK_RIPPLE, BulkRipple, BulkRippleRecord, INRUSH, Inrush, InrushRecord, Rectifier, bulk_ripple, inrush,
};
pub use polarity::{REVERSE_POLARITY, ReversePolarity, ReversePolarityRecord, reverse_polarity};
pub use usb::{Port, USB, UsbDevice, UsbDeviceRecord, usb};
