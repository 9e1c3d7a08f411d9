//! How a model is declared: names, summaries, units, defaults, ranges and conditions stand once, in [`model!`], which
//! makes of them the typed input and output structs for Rust callers, and the [`Model`](super::Model) that worksheets
//! call with plain numbers in SI base units.

use uom::si::{Dimension, Quantity, SI};

/// A value as worksheets' programs hold it: one number in SI base units.
pub(crate) trait Flat: Copy {
    /// From a number in SI base units.
    fn from_si(number: f64) -> Self;
    /// As a number in SI base units.
    fn to_si(self) -> f64;
    /// Exponents of the base quantities and the name of uom's kind; `None` for what has no dimension to check.
    #[cfg(test)]
    fn shape() -> Shape {
        None
    }
}

/// See [`Flat::shape`].
#[cfg(test)]
pub(crate) type Shape = Option<([i8; 7], &'static str)>;

impl<D: Dimension + ?Sized> Flat for Quantity<D, SI<f64>, f64> {
    fn from_si(number: f64) -> Self {
        Self { dimension: std::marker::PhantomData, units: std::marker::PhantomData, value: number }
    }

    fn to_si(self) -> f64 {
        self.value
    }

    #[cfg(test)]
    fn shape() -> Shape {
        use uom::typenum::Integer;
        let exponents = [D::L::I8, D::M::I8, D::T::I8, D::I::I8, D::Th::I8, D::N::I8, D::J::I8];
        Some((exponents, std::any::type_name::<D::Kind>()))
    }
}

impl Flat for bool {
    fn from_si(number: f64) -> Self {
        number != 0.0
    }

    fn to_si(self) -> f64 {
        f64::from(u8::from(self))
    }
}

/// Declares a model. An input's line reads `name as "symbol": Type, "unit" in LOWEST..=HIGHEST or DEFAULT;`, range and
/// default each left out where there is none; a choice's `name as "symbol": Type, (Type) or INDEX;`. A field's line reads
/// `name as "symbol": Type, "unit" = "formula";`, with `unless "why it has none"` behind where it may have no finite
/// value; a yes-or-no field's `name: bool, condition = "formula";`. What formulas use besides inputs and fields stands under
/// `by`: `name as "symbol", "unit" = "formula";`, each formula over inputs, fields and lines above.
macro_rules! model {
    (
        $(#[doc = $summary:literal])+
        $name:literal as $model:ident, by $function:ident;
        source $source:literal;
        takes $Given:ident {
            $(
                $(#[doc = $taken:literal])+
                $parameter:ident as $input_symbol:literal: $Taken:ty, $input:tt
                    $(in $lowest:literal ..= $highest:literal)? $(or $default:literal)?;
            )+
        }
        $(by { $( $(#[doc = $stepped:literal])+ $step:ident as $step_symbol:literal, $step_unit:literal = $step_formula:literal; )+ })?
        gives $Record:ident {
            $(
                $(#[doc = $given:literal])+
                $field:ident $(as $symbol:literal)?: $Field:ty, $output:tt = $formula:literal $(unless $without:literal)?;
            )+
        }
        $(needs { $( $says:literal, |$named:ident| $holds:expr; )+ })?
    ) => {
        #[doc = concat!("What `", $name, "` takes. ", $($summary),+)]
        #[doc = ""]
        #[doc = concat!("Source: ", $source, ".")]
        #[derive(Clone, Copy, Debug)]
        pub struct $Given {
            $(
                #[doc = concat!($($taken),+, ".")]
                #[doc = ""]
                #[doc = concat!(
                    "Declared in ", stringify!($input),
                    $(", good from ", $lowest, " to ", $highest,)?
                    $(", by default ", $default,)?
                    "."
                )]
                pub $parameter: $Taken,
            )+
        }

        #[doc = concat!("What `", $name, "` gives.")]
        #[derive(Clone, Copy, Debug)]
        pub struct $Record {
            $(
                #[doc = concat!($($given),+, " (", stringify!($output), "): `", $formula, "`.")]
                pub $field: $Field,
            )+
        }

        impl $Given {
            fn from_flat(flat: &[f64]) -> Self {
                let mut numbers = flat.iter().copied();
                Self {
                    $($parameter: $crate::declare::Flat::from_si(numbers.next().unwrap_or(f64::NAN)),)+
                }
            }
        }

        #[doc = concat!("The model `", $name, "`.")]
        pub static $model: $crate::Model = $crate::Model {
            name: $name,
            summary: concat!($($summary),+).trim_ascii(),
            source: $source,
            parameters: &[
                $($crate::Parameter {
                    name: stringify!($parameter),
                    symbol: $input_symbol,
                    summary: concat!($($taken),+).trim_ascii(),
                    input: $crate::declare::input!($input),
                    default: $crate::declare::perhaps!($($default)?),
                    valid: $crate::declare::perhaps!($(($lowest, $highest))?),
                },)+
            ],
            steps: &[$($(
                $crate::Step {
                    name: stringify!($step),
                    symbol: $step_symbol,
                    summary: concat!($($stepped),+).trim_ascii(),
                    unit: $step_unit,
                    formula: $step_formula,
                },
            )+)?],
            fields: &[
                $($crate::Field {
                    name: stringify!($field),
                    symbol: $crate::declare::perhaps!($($symbol)?),
                    formula: $formula,
                    summary: concat!($($given),+).trim_ascii(),
                    output: $crate::declare::output!($output),
                    without_value: $crate::declare::perhaps!($($without)?),
                },)+
            ],
            conditions: &[$($(
                $crate::Condition {
                    says: $says,
                    holds: |flat| {
                        let $named = $Given::from_flat(flat);
                        $holds
                    },
                },
            )+)?],
            evaluate: |flat, out| {
                let record: $Record = $function(&$Given::from_flat(flat));
                if let Some(out) = out.first_chunk_mut() {
                    *out = [$($crate::declare::Flat::to_si(record.$field)),+];
                }
            },
            lanes: |flat, out| {
                let (Some(flat), Some(out)) = (flat.first_chunk(), out.first_chunk_mut()) else { return };
                for i in 0..$crate::LANES {
                    let given = {
                        let [$($parameter),+] = flat;
                        $Given { $($parameter: $crate::declare::Flat::from_si($parameter[i])),+ }
                    };
                    let record: $Record = $function(&given);
                    let [$($field),+] = &mut *out;
                    $($field[i] = $crate::declare::Flat::to_si(record.$field);)+
                }
            },
        };

        #[cfg(test)]
        mod $function {
            #[test]
            fn is_declared_soundly() {
                use super::*;
                $crate::check::declaration(
                    &$model,
                    &[$(<$Taken as $crate::declare::Flat>::shape()),+],
                    &[$(<$Field as $crate::declare::Flat>::shape()),+],
                );
            }
        }
    };
}

/// Declares the words that an argument chooses between.
macro_rules! choice {
    ($(#[$outer:meta])* $Choice:ident { $($(#[$inner:meta])* $Variant:ident = $word:literal,)+ }) => {
        $(#[$outer])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $Choice { $($(#[$inner])* $Variant,)+ }

        impl $Choice {
            /// The words in worksheets, in the order of the variants.
            pub const WORDS: &'static [&'static str] = &[$($word),+];
        }

        impl $crate::declare::Flat for $Choice {
            /// The variant of an index; the last where there is none.
            fn from_si(number: f64) -> Self {
                let variants = [$(Self::$Variant),+];
                variants[(number.max(0.0) as usize).min(variants.len() - 1)]
            }

            fn to_si(self) -> f64 {
                f64::from(self as u8)
            }
        }
    };
}

macro_rules! input {
    (($Choice:ident)) => {
        $crate::Input::Choice($Choice::WORDS)
    };
    ($unit:literal) => {
        $crate::Input::Quantity($unit)
    };
}

macro_rules! output {
    (condition) => {
        $crate::Output::Condition
    };
    ($unit:literal) => {
        $crate::Output::Quantity($unit)
    };
}

macro_rules! perhaps {
    () => {
        None
    };
    ($value:expr) => {
        Some($value)
    };
}

pub(crate) use {choice, input, model, output, perhaps};
