//! The known name that is nearest to a misspelt one.

use crate::case::lower;

/// The candidate within a third of the word's length in edits, if one is; the first of the nearest.
pub(crate) fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    let allowed = (length / 3).max(1);
    candidates
        .into_iter()
        .filter(|candidate| *candidate != word)
        .map(|candidate| (distance(word, candidate), candidate))
        .filter(|(distance, candidate)| *distance <= allowed && *distance < candidate.chars().count().max(length))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Edits between two words; a change of case alone counts as one.
fn distance(a: &str, b: &str) -> usize {
    if a.chars().map(lower).eq(b.chars().map(lower)) {
        return 1;
    }
    strsim::damerau_levenshtein(a, b)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_of_the_finger_finds_its_name() {
        let names = ["t_on", "R_t", "resistance", "calc"];
        assert_eq!(nearest("t_onn", names), Some("t_on"));
        assert_eq!(nearest("resistence", names), Some("resistance"));
        assert_eq!(nearest("clac", names), Some("calc"));
        assert_eq!(nearest("r_t", names), Some("R_t"));
        assert_eq!(nearest("voltage", names), None);
        assert_eq!(nearest("x", ["y"]), None);
    }
}
