//! Small letters and capitals of the Latin, Greek and Cyrillic alphabets. The standard library's tables know every script,
//! and would be a twentieth of the module that each page carries.

/// Capitals that stand elsewhere than a rule would have them, with their small letters.
const APART: [(char, char); 8] =
    [('Ÿ', 'ÿ'), ('Ά', 'ά'), ('Έ', 'έ'), ('Ή', 'ή'), ('Ί', 'ί'), ('Ό', 'ό'), ('Ύ', 'ύ'), ('Ώ', 'ώ')];

/// The small letter of a capital; any other character as it is.
pub fn lower(c: char) -> char {
    match c {
        'A'..='Z' | 'À'..='Ö' | 'Ø'..='Þ' | 'Α'..='Ρ' | 'Σ'..='Ϋ' | 'А'..='Я' => moved(c, 0x20),
        'Ѐ'..='Џ' => moved(c, 0x50),
        _ if paired(c) && capital_of_pair(c) => moved(c, 1),
        _ => APART.iter().find(|pair| pair.0 == c).map_or(c, |pair| pair.1),
    }
}

/// The capital of a small letter; any other character as it is.
pub fn upper(c: char) -> char {
    match c {
        'a'..='z' | 'à'..='ö' | 'ø'..='þ' | 'α'..='ρ' | 'σ'..='ϋ' | 'а'..='я' => moved(c, -0x20),
        'ѐ'..='џ' => moved(c, -0x50),
        'ς' => 'Σ',
        _ if paired(c) && !capital_of_pair(c) => moved(c, -1),
        _ => APART.iter().find(|pair| pair.1 == c).map_or(c, |pair| pair.0),
    }
}

/// A text in small letters.
pub fn lowercase(text: &str) -> String {
    text.chars().map(lower).collect()
}

/// A text whose first letter is a capital.
pub fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(upper).into_iter().chain(chars).collect()
}

/// Of Latin Extended-A, where a small letter follows its capital; but for the few that have no such neighbour.
fn paired(c: char) -> bool {
    matches!(c, 'Ā'..='ķ' | 'Ĺ'..='ň' | 'Ŋ'..='ŷ' | 'Ź'..='ž') && !matches!(c, 'İ' | 'ı' | 'ĸ')
}

/// Capitals have even numbers, but in two stretches.
fn capital_of_pair(c: char) -> bool {
    let odd = u32::from(c) % 2 == 1;
    odd == matches!(c, 'Ĺ'..='ň' | 'Ź'..='ž')
}

fn moved(c: char, by: i32) -> char {
    u32::from(c).checked_add_signed(by).and_then(char::from_u32).unwrap_or(c)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the standard library's tables (the Unicode Character Database), over all of these alphabets' blocks.
    #[test]
    fn letters_are_those_of_unicode() {
        let one = |mut chars: Box<dyn Iterator<Item = char>>| (chars.next(), chars.next());
        for c in ('\0'..='ž').chain('Ά'..='ώ').chain('Ѐ'..='џ') {
            if matches!(c, 'µ' | 'ß' | 'İ' | 'ı' | 'ŉ' | 'ΐ' | 'ΰ') {
                // Their partner is in another script's block, or two letters.
                assert_eq!((lower(c), upper(c)), (c, c));
                continue;
            }
            assert_eq!((Some(lower(c)), None), one(Box::new(c.to_lowercase())), "{c}");
            assert_eq!((Some(upper(c)), None), one(Box::new(c.to_uppercase())), "{c}");
        }
        assert_eq!(lowercase("Łukasz ÉMILE Ωμέγα Жук"), "łukasz émile ωμέγα жук");
        assert_eq!(capitalised("élan"), "Élan");
    }
}
