//! Small permanent-magnet motors with brushes: where they run, what they draw and heat up to when they are held, how they
//! start, and what must stand between them and their supply.

mod brushes;
mod datasheet;
mod gears;
mod pulsed;
mod running;
mod stall;
mod start;

pub use brushes::{BRUSH_DROP, BrushDrop, BrushDropRecord, brush_drop};
pub use datasheet::{FROM_DATASHEET, FromDatasheet, FromDatasheetRecord, from_datasheet};
pub use gears::{GEAR, Gear, GearRecord, WORM, Worm, WormRecord, gear, worm};
pub use pulsed::{PWM_RIPPLE, PwmRipple, PwmRippleRecord, pwm_ripple};
pub use running::{
    CONSTANTS, Constants, ConstantsRecord, PERMANENT_MAGNET, PermanentMagnet, PermanentMagnetRecord, constants,
    permanent_magnet,
};
pub use stall::{
    PROTECTION, Protection, ProtectionRecord, STALL_HEAT, StallHeat, StallHeatRecord, protection, stall_heat,
};
pub use start::{START_UP, StartUp, StartUpRecord, start_up};
