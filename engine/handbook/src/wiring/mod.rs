//! Copper between the parts: wires, and printed tracks.

mod conductor;
mod track;

pub use conductor::{
    COPPER, Copper, CopperRecord, GAUGE, Gauge, GaugeRecord, VOLTAGE_DROP, VoltageDrop, VoltageDropRecord, copper,
    gauge, voltage_drop,
};
pub use track::{Side, TRACK, TRACK_WIDTH, Track, TrackRecord, TrackWidth, TrackWidthRecord, track, track_width};
