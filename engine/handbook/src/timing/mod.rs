//! Time: pulses of a bipolar timer, intervals counted by a microcontroller, and the error of the oscillator that it
//! counts.

mod bipolar_timer;
mod counter;
mod inputs;
mod oscillator;

pub use bipolar_timer::{ASTABLE, Astable, AstableRecord, ONE_SHOT, OneShot, OneShotRecord, astable, one_shot};
pub use counter::{
    COUNT, Count, CountRecord, PRESCALER, Prescaled, PrescaledRecord, TICKS, Ticks, TicksRecord, count, prescaler,
    ticks,
};
pub use inputs::{
    CONTROL_PIN, ControlPin, ControlPinRecord, DEBOUNCE, Debounce, DebounceRecord, TRIGGER, Trigger, TriggerRecord,
    control_pin, debounce, trigger,
};
pub use oscillator::{
    CRYSTAL, Crystal, CrystalRecord, RC_OSCILLATOR, RESONATOR, RcOscillator, RcOscillatorRecord, Resonator,
    ResonatorRecord, crystal, rc_oscillator, resonator,
};
