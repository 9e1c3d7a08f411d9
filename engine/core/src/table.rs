//! A table of a file beside the worksheet, as spreadsheets and meters write one (RFC 4180): cells between commas,
//! semicolons or tabs, quoted where they hold one of these or a line's end.

/// A row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Row {
    /// The line that it begins on, from 1.
    pub(crate) line: usize,
    /// Its cells, without quotes and blanks around them.
    pub(crate) cells: Vec<String>,
    /// Whether a quote is never closed, or stands where none belongs.
    pub(crate) broken: bool,
}

/// The rows of a table; lines without anything are left out. What parts the cells is taken from the first line: the one
/// of comma, semicolon and tab that it has most of outside quotes.
pub(crate) fn rows(text: &str) -> Vec<Row> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let outside = || first.split('"').step_by(2).flat_map(str::chars);
    let count = |mark: char| outside().filter(|c| *c == mark).count();
    let comma = [',', ';', '\t'].into_iter().rev().max_by_key(|mark| count(*mark)).unwrap_or(',');
    let mut rows = Vec::new();
    let (mut line, mut rest) = (1, text);
    while !rest.is_empty() {
        let mut row = Row { line, cells: Vec::new(), broken: false };
        rest = read(rest, comma, &mut row, &mut line);
        if row.cells.iter().any(|cell| !cell.is_empty()) {
            rows.push(row);
        }
    }
    rows
}

/// Reads one row and gives what stands behind it.
fn read<'t>(mut rest: &'t str, comma: char, row: &mut Row, line: &mut usize) -> &'t str {
    loop {
        let mut cell = String::new();
        let opened = rest.trim_start_matches(' ').strip_prefix('"');
        if let Some(mut inside) = opened {
            loop {
                let Some(end) = inside.find('"') else {
                    row.broken = true;
                    cell.push_str(inside);
                    inside = "";
                    break;
                };
                cell.push_str(&inside[..end]);
                inside = &inside[end + 1..];
                match inside.strip_prefix('"') {
                    Some(behind) => {
                        cell.push('"');
                        inside = behind;
                    }
                    None => break,
                }
            }
            *line += cell.matches('\n').count();
            rest = inside;
        }
        let end = rest.find([comma, '\n']).unwrap_or(rest.len());
        let (plain, behind) = rest.split_at(end);
        let plain = plain.trim();
        match opened {
            Some(_) => row.broken |= !plain.is_empty(),
            None => cell.push_str(plain),
        }
        row.cells.push(cell.trim().to_owned());
        let mut behind_mark = behind.chars();
        match behind_mark.next() {
            Some('\n') => {
                *line += 1;
                return behind_mark.as_str();
            }
            Some(_) => rest = behind_mark.as_str(),
            None => return "",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> Vec<Vec<String>> {
        rows(text).into_iter().map(|row| row.cells).collect()
    }

    #[test]
    fn what_spreadsheets_write_is_read() {
        let wanted = [["date", "t / s"], ["2026-11-25", "23.1"]];
        for text in [
            "date,t / s\n2026-11-25,23.1\n",
            "\u{feff}date;t / s\r\n\r\n2026-11-25;23.1",
            "date\tt / s\n 2026-11-25 \t 23.1 \n\n",
            "\"date\",\"t / s\"\n\"2026-11-25\", \"23.1\"\n",
        ] {
            assert_eq!(cells(text), wanted, "{text:?}");
        }
        assert_eq!(cells("a,\"b,\"\"c\"\"\nd\",e\n"), [["a", "b,\"c\"\nd", "e"]]);
        assert_eq!(cells("\"a,b\";c\n1;2\n"), [["a,b", "c"], ["1", "2"]]);
    }

    #[test]
    fn lines_are_counted_and_bad_quotes_told() {
        let read = rows("a,b\n\n\"x\ny\",1\n2,3\n\"never,4\n5,6\n");
        let lines: Vec<(usize, bool)> = read.iter().map(|row| (row.line, row.broken)).collect();
        assert_eq!(lines, [(1, false), (3, false), (5, false), (6, true)]);
        assert!(rows("\"a\" b,c\n")[0].broken);
        assert_eq!(rows("").len() + rows("\n\r\n").len() + rows(",,\n").len(), 0);
    }
}
