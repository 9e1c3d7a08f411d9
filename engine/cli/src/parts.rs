//! `benchleaf parts`: a worksheet's list of parts as a table (CSV), for buying by. Pieces and costs stand in columns for 1, 10,
//! 100 and 1000 builds.

use std::io;

use benchleaf_core::{
    bill::{Amount, Bought, Part, QUANTITIES, total},
    summary::Summary,
};
use benchleaf_publish::{
    failure::{Failure, name},
    text, write,
};
use benchleaf_words::say;
use csv::{Terminator, Writer, WriterBuilder};

use crate::{args::PartsRequest, mark::disarmed, message::harmless, outcome::Outcome, reading, terminal::Terminal};

/// Run `benchleaf parts`.
pub(crate) fn parts(request: &PartsRequest, terminal: &mut Terminal<'_>) -> Outcome {
    listed(request, terminal).unwrap_or_else(|failure| terminal.fail(&failure))
}

fn listed(request: &PartsRequest, terminal: &mut Terminal<'_>) -> Result<Outcome, Failure> {
    let source = text::read(&request.sheet)?;
    let (_, evaluation) = reading::read(&request.sheet, &source, terminal);
    let table = table(&evaluation.parts)?;
    match &request.output {
        None => terminal.say(&String::from_utf8_lossy(&table)),
        Some(path) => {
            write::write_marked(path, &table, is_list)?;
            terminal.say(&(say!(terminal.words(), RENDER_PARTS, path = harmless(&name(path))) + "\n"));
        }
    }
    Ok(if Summary::of(&evaluation).errors > 0 { Outcome::WorksheetError } else { Outcome::Fine })
}

/// The list as CSV with a header, a line a part, and a line of totals a currency.
fn table(parts: &[Part]) -> Result<Vec<u8>, Failure> {
    let mut csv = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    let totals = |what: &str| QUANTITIES.map(|builds| format!("{what} for {builds}"));
    let head = HEAD.map(str::to_owned).into_iter().chain(totals("pieces")).chain(totals("cost"));
    put(&mut csv, head.chain(["currency".to_owned()]))?;
    for part in parts {
        let ratings: Vec<&str> = part.ratings.iter().map(|rating| rating.shown.as_str()).collect();
        let once = if part.bought == Bought::Once { "yes" } else { "no" };
        let cells = [
            part.name.clone().unwrap_or_default(),
            part.label.clone().unwrap_or_default(),
            part.value.clone().unwrap_or_default(),
            ratings.join(", "),
            part.designators.join(" "),
            once.to_owned(),
        ];
        let pieces = QUANTITIES.map(|builds| part.pieces(builds).to_string());
        let costs = QUANTITIES.map(|builds| part.amount(builds).map_or_else(String::new, Amount::figures));
        let code = part.amount(1).map_or("", |amount| amount.code()).to_owned();
        put(&mut csv, cells.into_iter().chain(pieces).chain(costs).chain([code]))?;
    }
    for (nth, one) in total(parts, 1).into_iter().enumerate() {
        let blank = std::iter::repeat_n(String::new(), HEAD.len() + QUANTITIES.len() - 1);
        let costs =
            QUANTITIES.map(|builds| total(parts, builds).get(nth).map_or_else(String::new, |all| all.figures()));
        let cells = ["total".to_owned()].into_iter().chain(blank).chain(costs);
        put(&mut csv, cells.chain([one.code().to_owned()]))?;
    }
    csv.into_inner().map_err(|error| Failure::Answer { cause: io::Error::other(error.to_string()) })
}

fn put(csv: &mut Writer<Vec<u8>>, cells: impl Iterator<Item = String>) -> Result<(), Failure> {
    let cells = cells.map(|cell| disarmed(&cell).into_owned());
    csv.write_record(cells).map_err(|error| Failure::Answer { cause: io::Error::other(error.to_string()) })
}

/// Whether a file is a list of parts that this command wrote.
fn is_list(head: &[u8]) -> bool {
    head.starts_with(HEAD.join(",").as_bytes())
}

const HEAD: [&str; 6] = ["name", "part", "value", "rated for", "designators", "bought once"];

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;

    #[test]
    fn the_table_adds_up_and_runs_nothing() {
        let source = "```parts\nR_t = 910 kΩ ± 5 %, 0.25 W, 0.03 EUR, 100+ 0.01 EUR \"=1+1, of carbon\" @R1 @R4\n\
            \"timer\" 0.45 EUR @U1\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        let table = String::from_utf8(table(&evaluation.parts).unwrap()).unwrap();
        let lines: Vec<&str> = table.lines().collect();
        assert!(is_list(table.as_bytes()));
        assert_eq!(
            lines[1],
            "R_t,\"'=1+1, of carbon\",910 kΩ ± 5 %,0.25 W,R1 R4,no,2,20,200,2000,0.06,0.60,2.00,20.00,EUR"
        );
        assert_eq!(lines[3], "total,,,,,,,,,,0.51,5.10,47.00,470.00,EUR");
    }
}
