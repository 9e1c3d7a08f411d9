//! The lines that have arrived. A batch is what can be read without waiting for more than one line.

use std::io::{self, BufRead, ErrorKind};

/// Most bytes of a line; what is beyond is dropped, and the line with it.
pub(super) const LONGEST: usize = 1 << 20;

/// Lines of an input, by batches.
pub(super) struct Lines<R> {
    input: R,
    batch: Vec<u8>,
    /// The line that has begun to arrive.
    begun: Vec<u8>,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(input: R) -> Self {
        Self { input, batch: Vec::new(), begun: Vec::new() }
    }

    /// The whole lines that have arrived, each with its end but perhaps the last line of all; nothing at the end of the input.
    /// Waits for one line where none has arrived.
    pub(super) fn batch(&mut self) -> io::Result<Option<&[u8]>> {
        std::mem::swap(&mut self.batch, &mut self.begun);
        self.begun.clear();
        loop {
            let arrived = match self.input.fill_buf() {
                Ok(arrived) => arrived,
                Err(cause) if cause.kind() == ErrorKind::Interrupted => continue,
                Err(cause) => return Err(cause),
            };
            if arrived.is_empty() {
                return Ok((!self.batch.is_empty()).then_some(&self.batch));
            }
            let length = arrived.len();
            let Some(end) = arrived.iter().rposition(|byte| *byte == b'\n') else {
                take(&mut self.batch, arrived);
                self.input.consume(length);
                continue;
            };
            let first = arrived.iter().position(|byte| *byte == b'\n').unwrap_or(end);
            take(&mut self.batch, &arrived[..first]);
            self.batch.extend_from_slice(&arrived[first..=end]);
            self.begun.extend_from_slice(&arrived[end + 1..]);
            self.input.consume(length);
            return Ok(Some(&self.batch));
        }
    }
}

/// Adds to a line that is not too long yet; one byte more than the longest says that it was cut.
fn take(line: &mut Vec<u8>, more: &[u8]) {
    let room = (LONGEST + 1).saturating_sub(line.len());
    line.extend_from_slice(&more[..more.len().min(room)]);
}

#[cfg(test)]
mod tests {
    use std::io::BufReader;

    use super::*;

    fn lines(text: &[u8], at_once: usize) -> Vec<Vec<u8>> {
        let mut lines = Lines::new(BufReader::with_capacity(at_once, text));
        let mut all = Vec::new();
        while let Some(batch) = lines.batch().unwrap() {
            let batch = batch.strip_suffix(b"\n").unwrap_or(batch);
            all.extend(batch.split(|byte| *byte == b'\n').map(<[u8]>::to_vec));
        }
        all
    }

    #[test]
    fn lines_are_the_same_however_they_arrive() {
        for text in ["a\nbb\n\nccc\n", "a\nbb\n\nccc", "\n", "\n\n", "", "alone", "é\nü\n"] {
            let wanted: Vec<Vec<u8>> = text.lines().map(|line| line.as_bytes().to_vec()).collect();
            for at_once in 1..12 {
                assert_eq!(lines(text.as_bytes(), at_once), wanted, "{text:?} by {at_once}");
            }
        }
    }

    #[test]
    fn a_line_without_end_takes_no_more_memory_than_the_longest() {
        let mut text = vec![b'x'; 3 * LONGEST];
        text.extend_from_slice(b"\nshort\n");
        let lines = lines(&text, 4096);
        assert_eq!(lines.iter().map(Vec::len).collect::<Vec<_>>(), [LONGEST + 1, 5]);
    }
}
