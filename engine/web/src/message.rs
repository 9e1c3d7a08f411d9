//! Requests and answers: texts in a row, each with its length in front (four bytes, the least first). A request
//! begins with a worksheet and its outline; an answer begins with its own length.

use benchleaf_core::{Options, change::Change, sheet::Worksheet};
use benchleaf_page::exercises::{Attempt, GivesUp};
use benchleaf_words::Words;

/// What every request begins with: the worksheet's text, its outline, and samples and seed in place of the worksheet's
/// own (empty where they are its own). What is missing is empty. A page that is not in English puts the words of its language
/// before all that.
pub(crate) struct Request<'a> {
    /// Nothing where the outline does not fit the text.
    pub(crate) worksheet: Option<Worksheet>,
    pub(crate) options: Options,
    /// The words of the page's language, a line each; none for English.
    pub(crate) words: Vec<&'a str>,
    rest: Texts<'a>,
}

impl<'a> Request<'a> {
    pub(crate) fn read(bytes: &'a [u8]) -> Self {
        let mut rest = Texts(bytes);
        let mut behind = Texts(bytes);
        let table = behind.borrowed().filter(|text| Words::are_lines(text));
        if table.is_some() {
            rest = behind;
        }
        let words = table.map(|table| table.split('\n').collect()).unwrap_or_default();
        let (source, outline) = (rest.text(), rest.text());
        let (samples, seed) = (rest.text().parse().ok(), rest.text().parse().ok());
        let worksheet = Worksheet::from_outline(source, &outline);
        Self { worksheet, options: Options { samples, seed, ..Options::default() }, words, rest }
    }

    /// What a reader changed: name and text of each.
    pub(crate) fn changes(self) -> Vec<Change> {
        self.readings().into_iter().map(|(name, text)| Change { name, text }).collect()
    }

    /// What a reader read at test points: name of the value, and text of the reading.
    pub(crate) fn readings(mut self) -> Vec<(String, String)> {
        let mut readings = Vec::new();
        while let Some(name) = self.rest.next() {
            readings.push((name, self.rest.text()));
        }
        readings
    }

    /// For how many builds a reader wants to know what the parts cost, as typed.
    pub(crate) fn builds(mut self) -> String {
        self.rest.text()
    }

    /// What a learner does: the exercise, who it is, the answer behind a sign that there is one, and whether the solution
    /// is wanted.
    pub(crate) fn attempt(mut self) -> Attempt {
        let exercise = self.rest.text();
        let learner = Some(self.rest.text()).filter(|learner| !learner.is_empty());
        let answer = self.rest.text().strip_prefix('=').map(str::to_owned);
        let gives_up = if self.rest.text() == "yes" { GivesUp::Yes } else { GivesUp::No };
        Attempt { exercise, learner, answer, gives_up }
    }
}

/// The texts of a message; reading ends where it does not fit.
struct Texts<'a>(&'a [u8]);

impl<'a> Texts<'a> {
    /// The next one, where it is whole.
    fn borrowed(&mut self) -> Option<&'a str> {
        let (length, behind) = self.0.split_first_chunk::<LENGTH>()?;
        let (text, behind) = behind.split_at_checked(u32::from_le_bytes(*length) as usize)?;
        self.0 = behind;
        str::from_utf8(text).ok()
    }

    fn text(&mut self) -> String {
        self.next().unwrap_or_default()
    }
}

impl Iterator for Texts<'_> {
    type Item = String;

    fn next(&mut self) -> Option<String> {
        let (length, behind) = self.0.split_first_chunk::<LENGTH>()?;
        let (text, behind) = behind.split_at_checked(u32::from_le_bytes(*length) as usize)?;
        self.0 = behind;
        Some(String::from_utf8_lossy(text).into_owned())
    }
}

/// An answer that is being written.
pub(crate) struct Answer(Vec<u8>);

impl Answer {
    pub(crate) fn new() -> Self {
        Self(vec![0; LENGTH])
    }

    /// Adds a text.
    pub(crate) fn say(&mut self, text: &str) {
        self.0.extend_from_slice(&(text.len() as u32).to_le_bytes());
        self.0.extend_from_slice(text.as_bytes());
    }

    /// The whole answer with its length in front.
    pub(crate) fn finish(mut self) -> Vec<u8> {
        let length = (self.0.len() as u32).to_le_bytes();
        self.0[..LENGTH].copy_from_slice(&length);
        self.0
    }
}

const LENGTH: usize = 4;

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes(texts: &[&str]) -> Vec<u8> {
        let mut answer = Answer::new();
        texts.iter().for_each(|text| answer.say(text));
        answer.finish()[LENGTH..].to_vec()
    }

    #[test]
    fn a_request_is_read_as_it_was_written_and_half_of_one_as_far_as_it_goes() {
        let sheet = ["# Sheet", "100\t1\t3\t0\n", "100", ""];
        let asked = bytes(&[&sheet[..], &["R_t", "470k"]].concat());
        let request = Request::read(&asked);
        assert_eq!(request.worksheet.as_ref().unwrap().source, "# Sheet");
        assert_eq!((request.options.samples, request.options.seed), (Some(100), None));
        assert_eq!(request.changes(), [Change { name: "R_t".to_owned(), text: "470k".to_owned() }]);
        for end in 0..asked.len() {
            Request::read(&asked[..end]).changes();
        }
        let attempt = Request::read(&bytes(&[&sheet[..], &["pulse", "", "=", "yes"]].concat())).attempt();
        assert_eq!(attempt.answer.as_deref(), Some(""));
        assert_eq!((attempt.learner, attempt.gives_up), (None, GivesUp::Yes));
        assert_eq!(Request::read(&bytes(&["short", "1\t1\t3\t0\nfence\t0\t9\t0\t1\tcalc"])).worksheet, None);
    }
}
