//! A site's search, which needs no server: a file with the index, which the search page loads as a script, so that it works
//! from a folder of files too. The index has a bound; what is least looked for is left out first.

use serde::Serialize;

use crate::{kept::Kept, marks::INDEX_MARK, text::in_script};

/// The most bytes of an index.
pub const LARGEST_INDEX: usize = 1_000_000;

/// An index as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SearchIndex {
    /// The whole file.
    pub text: String,
    /// How many places found no room in it.
    pub left_out: usize,
}

/// The index of these pages: each with its link from the front page and the title of its section.
pub fn search_index(pages: &[(&str, &str, &Kept)], largest: usize) -> SearchIndex {
    let shown: Vec<Page<'_>> = pages
        .iter()
        .map(|(link, section, kept)| Page(link, &kept.title, section, cut(kept.summary.as_deref())))
        .collect();
    let mut size = written(&shown).len() + ENVELOPE;
    let mut places: Vec<String> = Vec::new();
    let mut left_out = 0;
    for (kind, class) in CLASSES.iter().enumerate() {
        for (number, (_, _, kept)) in pages.iter().enumerate() {
            for (id, text) in class(kept) {
                let place = written(&(kind, number, id, cut(Some(text))));
                if size + place.len() < largest {
                    size += place.len() + 1;
                    places.push(place);
                } else {
                    left_out += 1;
                }
            }
        }
    }
    let text = format!(
        "{INDEX_MARK}\nself.benchleafIndex = {{\"pages\":{},\"places\":[{}]}};\n",
        written(&shown),
        places.join(",")
    );
    SearchIndex { text, left_out }
}

/// Link, title, title of the section, summary.
#[derive(Serialize)]
struct Page<'a>(&'a str, &'a str, &'a str, &'a str);

/// The places of a page, each an anchor and a text; the kinds in the order in which they find room. The search page names
/// them in the same order.
const CLASSES: [Class; 5] = [
    |kept| kept.register.headings.iter().map(|place| (&*place.id, &*place.text)).collect(),
    |kept| kept.register.notes.iter().map(|note| (&*note.place.id, &*note.place.text)).collect(),
    |kept| kept.register.exercises.iter().map(|task| (&*task.place.id, &*task.place.text)).collect(),
    |kept| kept.register.models.iter().map(|place| (&*place.id, &*place.text)).collect(),
    |kept| kept.register.values.iter().map(|place| (&*place.id, &*place.text)).collect(),
];

/// Gives the places of one kind.
type Class = fn(&Kept) -> Vec<(&str, &str)>;

/// As JSON that may stand in a script, whatever it says.
fn written(value: &impl Serialize) -> String {
    in_script(&serde_json::to_string(value).unwrap_or_default())
}

fn cut(text: Option<&str>) -> &str {
    let text = text.unwrap_or_default();
    text.char_indices().nth(LONGEST).map_or(text, |(at, _)| text.get(..at).unwrap_or(text))
}

/// Characters of a place that are searched.
const LONGEST: usize = 240;
/// Bytes of an index around its pages and places.
const ENVELOPE: usize = INDEX_MARK.len() + 60;

#[cfg(test)]
mod tests {
    use benchleaf_page::{Place, Register};
    use proptest::prelude::*;

    use super::*;

    fn kept(title: &str, headings: &[String], values: &[String]) -> Kept {
        let places = |texts: &[String]| {
            texts.iter().enumerate().map(|(i, text)| Place { id: format!("p-{i}"), text: text.clone() }).collect()
        };
        let register = Register { headings: places(headings), values: places(values), ..Register::default() };
        Kept { title: title.to_owned(), register, ..Kept::default() }
    }

    proptest! {
        #[test]
        fn an_index_is_json_in_a_script_and_keeps_its_bound(
            title in ".*", headings in prop::collection::vec(".{0,400}", 0..20), values in prop::collection::vec(".*", 0..20),
            largest in 500usize..4000,
        ) {
            let kept = kept(&title, &headings, &values);
            let index = search_index(&[("a.html", "", &kept)], largest);
            prop_assert!(!index.text.contains("</") && !index.text.contains("<!"));
            let json = index.text.strip_prefix(INDEX_MARK).unwrap().trim().strip_prefix("self.benchleafIndex = ").unwrap();
            let read: serde_json::Value = serde_json::from_str(json.strip_suffix(';').unwrap()).unwrap();
            let places = read["places"].as_array().unwrap();
            prop_assert_eq!(places.len() + index.left_out, headings.len() + values.len());
            prop_assert!(index.text.len() <= largest || places.is_empty());
            // Headings find room before values.
            let short = headings.iter().all(|heading| heading.len() < 50) && values.iter().all(|value| value.len() > 200);
            if short && places.iter().any(|place| place[0] == 4) {
                prop_assert_eq!(places.iter().filter(|place| place[0] == 0).count(), headings.len());
            }
            let whole = search_index(&[("a.html", "", &kept)], usize::MAX);
            prop_assert_eq!(whole.left_out, 0);
        }
    }
}
