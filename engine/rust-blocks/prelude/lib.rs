//! What a Rust block has in scope: the quantities and units of `uom`, and the handbook's models with their typed
//! signatures. [`glue`] is for the code around a block.

pub use benchleaf_handbook::{divider, driver, motor, regulator, supply, thermal, timing, wiring};
pub use uom;
pub use uom::si;
pub use uom::si::f64::*;
pub use uom::si::{
    acceleration, amount_of_substance, angle, angular_acceleration, angular_velocity, area, capacitance, electric_charge,
    electric_current, electric_field, electric_potential, electrical_conductance, electrical_resistance,
    electrical_resistivity, energy, force, frequency, heat_capacity, heat_flux_density, inductance, length,
    luminous_intensity, magnetic_flux, magnetic_flux_density, mass, mass_density, mass_rate, moment_of_inertia, momentum,
    power, pressure, ratio, specific_heat_capacity, temperature_interval, thermal_conductance, thermal_conductivity, thermal_resistance,
    thermodynamic_temperature, time, torque, velocity, volume, volume_rate,
};

/// For the code around a block.
pub mod glue {
    use std::io::Write;

    pub use uom::typenum::{N1, N2, N3, N4, N5, N6, N7, N8, N9, P1, P2, P3, P4, P5, P6, P7, P8, P9, Z0};
    use uom::si::{Dimension, ISQ, Quantity, SI};

    /// A quantity by the exponents of its dimension.
    pub type Of<L, M, T, I, Th, N, J> = Quantity<ISQ<L, M, T, I, Th, N, J>, SI<f64>, f64>;

    /// From a number in SI base units.
    pub trait FromSi {
        fn from_si(number: f64) -> Self;
    }

    impl<D: Dimension + ?Sized> FromSi for Quantity<D, SI<f64>, f64> {
        fn from_si(number: f64) -> Self {
            Self { dimension: std::marker::PhantomData, units: std::marker::PhantomData, value: number }
        }
    }

    impl FromSi for bool {
        fn from_si(number: f64) -> Self {
            number != 0.0
        }
    }

    /// A value of the worksheet.
    pub fn given<T: FromSi>(row: &[f64], place: usize) -> T {
        T::from_si(row.get(place).copied().unwrap_or(f64::NAN))
    }

    /// What may stand for a plain number.
    pub trait Number {
        fn number(self) -> f64;
    }

    impl Number for uom::si::f64::Ratio {
        fn number(self) -> f64 {
            self.value
        }
    }

    impl Number for bool {
        fn number(self) -> f64 {
            f64::from(u8::from(self))
        }
    }

    macro_rules! numbers {
        ($($Type:ty),+) => { $(impl Number for $Type { fn number(self) -> f64 { self as f64 } })+ };
    }
    numbers!(f64, f32, u8, u16, u32, u64, usize, i8, i16, i32, i64, isize);

    /// What may stand for a quantity of a kind: itself, and a product, which has dropped its kind.
    pub trait OfKind<T> {
        fn of_kind(self) -> f64;
    }

    macro_rules! kinds {
        ($($Kind:ident or $Plain:ident),+) => { $(
            impl OfKind<uom::si::f64::$Kind> for uom::si::f64::$Kind { fn of_kind(self) -> f64 { self.value } }
            impl OfKind<uom::si::f64::$Kind> for uom::si::f64::$Plain { fn of_kind(self) -> f64 { self.value } }
        )+ };
    }
    kinds!(Angle or Ratio, AngularVelocity or Frequency, Torque or Energy);

    /// A result: a plain number, a quantity of a kind, or any other quantity.
    pub fn number<T: Number>(value: T) -> f64 {
        value.number()
    }

    pub fn of_kind<T, V: OfKind<T>>(value: V) -> f64 {
        value.of_kind()
    }

    pub fn plain<D: Dimension + ?Sized>(value: Quantity<D, SI<f64>, f64>) -> f64 {
        value.value
    }

    /// Says nothing: a first program that calls it has the prelude built and linked.
    pub fn ready() {}

    /// What a block is compiled to: a row of inputs, a row of outputs, and the series.
    pub type Block = fn(&[f64], &mut Vec<f64>, &mut Vec<Vec<f64>>);

    /// Answers the host's questions until it wants no more. Each block comes with its number; the program's own text begins
    /// so many lines below the first of its file.
    pub fn serve(above: u32, blocks: &[(u32, Block)]) {
        std::panic::set_hook(Box::new(|_| {}));
        let mut answer = "ready".to_owned();
        while let Some(question) = ask(&answer) {
            let mut words = question.split(' ');
            let what = words.next().unwrap_or("");
            let number: u32 = words.next().and_then(|word| word.parse().ok()).unwrap_or(0);
            let rows: usize = words.next().and_then(|word| word.parse().ok()).unwrap_or(0);
            let inputs = words.next().map(unhex).unwrap_or_default();
            let Some((_, block)) = blocks.iter().find(|row| row.0 == number).filter(|_| what != "stop") else { return };
            answer = if what == "once" { once(*block, &inputs, above) } else { many(*block, &inputs, rows) };
        }
    }

    fn once(block: Block, inputs: &[f64], above: u32) -> String {
        // Where a panic came from and what it said.
        let panic = std::sync::Arc::new(std::sync::Mutex::new((0, String::new())));
        let sent = std::sync::Arc::clone(&panic);
        std::panic::set_hook(Box::new(move |info| {
            if let Ok(mut panic) = sent.lock() {
                let said = info.payload();
                let said = said.downcast_ref::<&str>().map(|text| (*text).to_owned()).or_else(|| said.downcast_ref::<String>().cloned());
                // Of several, the first is the cause.
                if panic.1.is_empty() {
                    *panic = (info.location().filter(|place| std::path::Path::new(place.file()).is_relative()).map_or(0, std::panic::Location::line), said.unwrap_or_default());
                }
            }
        }));
        let (mut outputs, mut series) = (Vec::new(), Vec::new());
        let run = std::panic::AssertUnwindSafe(|| block(inputs, &mut outputs, &mut series));
        let whole = std::panic::catch_unwind(run).is_ok();
        std::panic::set_hook(Box::new(|_| {}));
        if whole {
            let mut answer = format!("ran {}", hex(&outputs));
            for one in &series {
                answer.push(' ');
                answer.push_str(&hex(one));
            }
            return answer;
        }
        let (line, said) = panic.lock().map(|panic| panic.clone()).unwrap_or_default();
        let said: String = said.bytes().map(|byte| format!("{byte:02x}")).collect();
        format!("panicked {} {said}", line.saturating_sub(above))
    }

    /// A row that panics is of NaN: the others stand.
    fn many(block: Block, inputs: &[f64], rows: usize) -> String {
        let width = inputs.len().checked_div(rows).unwrap_or(0);
        let mut all: Vec<Option<Vec<f64>>> = Vec::with_capacity(rows);
        let mut series = Vec::new();
        for row in 0..rows {
            let mut outputs = Vec::new();
            series.clear();
            let run = std::panic::AssertUnwindSafe(|| block(&inputs[row * width..(row + 1) * width], &mut outputs, &mut series));
            all.push(std::panic::catch_unwind(run).is_ok().then_some(outputs));
        }
        let longest = all.iter().flatten().map(Vec::len).max().unwrap_or(0);
        let whole = |row: &Option<Vec<f64>>| match row {
            Some(row) if row.len() == longest => row.clone(),
            _ => vec![f64::NAN; longest],
        };
        let flat: Vec<f64> = all.iter().flat_map(whole).collect();
        format!("rows {}", hex(&flat))
    }

    /// Says something to the host, and waits for what it says.
    fn ask(answer: &str) -> Option<String> {
        let mut out = std::io::stdout();
        // A line of its own, whatever the block printed last.
        write!(out, "\nEVCXR_INPUT_REQUEST:{answer}\n").ok()?;
        out.flush().ok()?;
        let mut line = String::new();
        std::io::stdin().read_line(&mut line).ok().filter(|length| *length > 0)?;
        Some(line.trim().to_owned())
    }

    fn hex(numbers: &[f64]) -> String {
        use std::fmt::Write;
        let mut text = String::with_capacity(numbers.len() * 16 + 1);
        for number in numbers {
            let _ = write!(text, "{:016x}", number.to_bits());
        }
        if text.is_empty() { "-".to_owned() } else { text }
    }

    fn unhex(text: &str) -> Vec<f64> {
        let digits = text.as_bytes().chunks_exact(16);
        digits
            .map(|digits| std::str::from_utf8(digits).ok().and_then(|digits| u64::from_str_radix(digits, 16).ok()))
            .map(|bits| bits.map_or(f64::NAN, f64::from_bits))
            .collect()
    }

    /// The points of a series.
    pub trait Points<T> {
        fn points(&self) -> Vec<T>;
    }

    impl<T: Copy> Points<T> for Vec<T> {
        fn points(&self) -> Vec<T> {
            self.clone()
        }
    }

    impl<T: Copy> Points<T> for &[T] {
        fn points(&self) -> Vec<T> {
            self.to_vec()
        }
    }

    impl<T: Copy, const N: usize> Points<T> for [T; N] {
        fn points(&self) -> Vec<T> {
            self.to_vec()
        }
    }

    /// A series as it is reported: so many points at most.
    pub fn series<T>(points: Vec<T>, number: impl Fn(T) -> f64) -> Vec<f64> {
        points.into_iter().take(MOST_POINTS).map(number).collect()
    }

    const MOST_POINTS: usize = 100_000;
}
