//! Handbook models: the formulas of small electromechanical builds, each typed with `uom` quantities, with its published
//! source and the range it is good for. Worksheets call them by name with named arguments and read the fields of the
//! record they give; the [`Model`] table is what the checker, the guide and the messages all read.

#[cfg(test)]
mod check;
mod declare;
pub mod directions;
pub mod divider;
pub mod driver;
pub mod motor;
pub mod physics;
pub mod regulator;
pub mod supply;
pub mod thermal;
pub mod timing;
pub mod wiring;

/// A model that worksheets call.
#[derive(Debug)]
pub struct Model {
    /// Name in worksheets: `regulator.linear`.
    pub name: &'static str,
    /// What it works out, in a sentence.
    pub summary: &'static str,
    /// Where its formulas are published; or `common practice`, or `from memory`.
    pub source: &'static str,
    /// What it takes, in the order of `evaluate`'s inputs.
    pub parameters: &'static [Parameter],
    /// What its formulas use besides inputs and fields, each over those above it.
    pub steps: &'static [Step],
    /// What it gives, in the order of `evaluate`'s outputs.
    pub fields: &'static [Field],
    /// Conditions between inputs that the model needs to be good.
    pub conditions: &'static [Condition],
    /// Inputs in SI base units (a choice as its index) to outputs in SI base units (a condition as 1 or 0).
    pub evaluate: fn(&[f64], &mut [f64]),
    /// The same for [`LANES`] calls at once, so that they go through the processor's wide registers where the formulas
    /// have no branch.
    pub lanes: fn(&[&[f64; LANES]], &mut [[f64; LANES]]),
}

/// Calls of a model that are run at once.
pub const LANES: usize = 32;

/// An argument of a model.
#[derive(Debug)]
pub struct Parameter {
    /// Name before `=`.
    pub name: &'static str,
    /// The trade's symbol, as formulas are set: what follows the first `_` is a subscript.
    pub symbol: &'static str,
    /// What it is, for the guide and for messages.
    pub summary: &'static str,
    /// What it accepts.
    pub input: Input,
    /// Value where the worksheet gives none, in the unit of `input` (for a choice, its index).
    pub default: Option<f64>,
    /// Range the model is good for, in the unit of `input`.
    pub valid: Option<(f64, f64)>,
}

/// What an argument accepts.
#[derive(Debug)]
pub enum Input {
    /// A quantity of the dimension and kind of this unit; empty for a plain number.
    Quantity(&'static str),
    /// One of these words.
    Choice(&'static [&'static str]),
}

/// A value between inputs and fields, which formulas use and worksheets do not see.
#[derive(Debug)]
pub struct Step {
    /// Name in formulas.
    pub name: &'static str,
    /// The trade's symbol.
    pub symbol: &'static str,
    /// What it is, for pages and the guide.
    pub summary: &'static str,
    /// The unit that it is shown in; empty for a plain number.
    pub unit: &'static str,
    /// Its formula, as of [`Field::formula`].
    pub formula: &'static str,
}

/// A field of a model's record.
#[derive(Debug)]
pub struct Field {
    /// Name after the dot.
    pub name: &'static str,
    /// The trade's symbol; none for a condition.
    pub symbol: Option<&'static str>,
    /// What `evaluate` does for it, in the language of worksheets, over the names of inputs, steps and other fields.
    pub formula: &'static str,
    /// What it is, for pages and the guide.
    pub summary: &'static str,
    /// What it gives.
    pub output: Output,
    /// Why it may have no finite value, for a message.
    pub without_value: Option<&'static str>,
}

/// What a field gives.
#[derive(Debug)]
pub enum Output {
    /// A quantity of the dimension and kind of this unit; empty for a plain number.
    Quantity(&'static str),
    /// Yes or no.
    Condition,
}

/// Something that must hold between inputs for the model to be good.
#[derive(Debug)]
pub struct Condition {
    /// What must hold, in words: `the input is above the output by the dropout voltage`.
    pub says: &'static str,
    /// Whether it does, for inputs as `evaluate` takes them.
    pub holds: fn(&[f64]) -> bool,
}

/// Every model, in the order of the guide.
pub fn models() -> &'static [&'static Model] {
    MODELS
}

/// A model by its name in worksheets.
pub fn find(name: &str) -> Option<&'static Model> {
    models().iter().copied().find(|model| model.name == name)
}

static MODELS: &[&Model] = &[
    &timing::ONE_SHOT,
    &timing::ASTABLE,
    &timing::TRIGGER,
    &timing::CONTROL_PIN,
    &timing::DEBOUNCE,
    &timing::TICKS,
    &timing::COUNT,
    &timing::PRESCALER,
    &timing::CRYSTAL,
    &timing::RESONATOR,
    &timing::RC_OSCILLATOR,
    &driver::BASE_RESISTOR,
    &driver::BIPOLAR_SWITCH,
    &driver::DARLINGTON,
    &driver::OPTOCOUPLER,
    &driver::MOSFET_SWITCH,
    &driver::MOSFET_GATE,
    &driver::HIGH_SIDE,
    &driver::H_BRIDGE,
    &driver::RELAY_COIL,
    &driver::FLYBACK,
    &driver::CLAMP,
    &driver::SNUBBER,
    &driver::CONTACT_LIFE,
    &driver::LED_RESISTOR,
    &driver::LED_CURRENT,
    &driver::LED_STRING,
    &driver::LED_MULTIPLEX,
    &supply::BATTERY,
    &supply::BULK_RIPPLE,
    &supply::INRUSH,
    &supply::REVERSE_POLARITY,
    &supply::USB,
    &divider::LOADED,
    &regulator::LINEAR,
    &regulator::HEATSINK,
    &regulator::ADAPTER,
    &thermal::STEP,
    &thermal::DERATING,
    &thermal::COPPER_AREA,
    &thermal::PULSE,
    &motor::CONSTANTS,
    &motor::FROM_DATASHEET,
    &motor::PERMANENT_MAGNET,
    &motor::GEAR,
    &motor::WORM,
    &motor::PWM_RIPPLE,
    &motor::BRUSH_DROP,
    &motor::START_UP,
    &motor::STALL_HEAT,
    &motor::PROTECTION,
    &wiring::COPPER,
    &wiring::GAUGE,
    &wiring::VOLTAGE_DROP,
    &wiring::TRACK,
    &wiring::TRACK_WIDTH,
];
