//! Circuits as people draw them: a controller board of twenty parts, and three such boards on one supply. What is timed is the
//! page of a worksheet that holds the circuit alone; its floor is the evaluation of the same worksheet, which checks the
//! circuit and draws nothing.

use std::fmt::Write;

use benchleaf::render_worksheet;
use benchleaf_core::{Evaluator, parallel::with_threads};

use crate::{
    paired::{measure, ms},
    rendering::SETTING,
};

pub(crate) fn table() -> String {
    let mut text =
        "| parts | evaluated / ms | as a page with its drawing / ms | drawn / ms |\n| ---: | ---: | ---: | ---: |\n"
            .to_owned();
    for boards in [1, 3] {
        let source = worksheet(boards);
        let parts =
            Evaluator::default().evaluate(&source).circuits.iter().map(|circuit| circuit.parts.len()).sum::<usize>();
        let evaluated = || Evaluator::default().evaluate(&source);
        let page = || render_worksheet(&source, "board", &SETTING).map(|page| page.html);
        let (floor, subject) = with_threads(1, || measure(200, evaluated, page)).least();
        let _ = writeln!(text, "| {parts} | {} | {} | {} |", ms(floor), ms(subject), ms(subject.saturating_sub(floor)));
    }
    text
}

fn worksheet(boards: usize) -> String {
    let lines: String = (1..=boards).map(board).collect();
    format!("```circuit\nrail V_in V_rail\n{lines}```\n")
}

/// A controller that reads a button and a divider, lights an LED, and switches a motor.
fn board(n: usize) -> String {
    format!(
        "connector @J{n}1 \"supply\": right plus minus
@J{n}1.plus -> fuse @F{n}1 -> diode @D{n}1 -> V_in
@J{n}1.minus -> ground
V_in -> polarised capacitor @C{n}1 -> ground
regulator @U{n}1 \"7805-type\"
V_in -> @U{n}1.input, @U{n}1.ground -> ground
@U{n}1.output -> V_rail
V_rail -> capacitor @C{n}2 -> ground
chip @U{n}2 \"controller\": left key level; right gate light; top supply; bottom ground
V_rail -> @U{n}2.supply, @U{n}2.ground -> ground
V_rail -> capacitor @C{n}3 -> ground
V_rail -> resistor @R{n}1 -> @U{n}2.key -> button @S{n}1 -> ground
@U{n}2.key -> capacitor @C{n}4 -> ground
V_in -> resistor @R{n}2 -> @U{n}2.level -> resistor @R{n}3 -> ground
@U{n}2.light -> resistor @R{n}4 -> led @D{n}2 -> ground
@U{n}2.gate -> resistor @R{n}5 -> @Q{n}1.gate -> resistor @R{n}6 -> ground
V_in -> motor @M{n}1 -> @Q{n}1.drain, nmos @Q{n}1, @Q{n}1.source -> ground
diode @D{n}3 across @M{n}1, reversed
"
    )
}
