//! Raw HTML of a worksheet, cleaned by `ammonia` where the person running the engine lets it through: no script, no
//! style, no form, nothing that asks the network as a program would. A block is cleaned whole. In running text the tags
//! come one by one, so each is judged by itself, and what is left open is closed where its text ends.

use ammonia::clean;
use benchleaf_page::RawPiece;

/// What stands for each piece.
pub(crate) fn cleaned(pieces: &[RawPiece]) -> Vec<String> {
    let mut open: Vec<String> = Vec::new();
    pieces.iter().map(|piece| one(piece, &mut open)).collect()
}

fn one(piece: &RawPiece, open: &mut Vec<String>) -> String {
    match piece {
        RawPiece::Block(html) => clean(html),
        RawPiece::TextEnd => open.drain(..).rev().map(|name| format!("</{name}>")).collect(),
        RawPiece::Tag(tag) => match tag.strip_prefix("</") {
            Some(rest) => {
                let name = name(rest);
                // An end without its beginning, or across another, is left out.
                open.pop_if(|last| *last == name).map(|name| format!("</{name}>")).unwrap_or_default()
            }
            None => {
                let html = clean(tag);
                let name = html.strip_prefix('<').map(name).unwrap_or_default();
                match html.strip_suffix(&format!("</{name}>")) {
                    Some(opening) if !name.is_empty() => {
                        open.push(name);
                        opening.to_owned()
                    }
                    _ => html,
                }
            }
        },
    }
}

fn name(tag: &str) -> String {
    tag.chars().take_while(char::is_ascii_alphanumeric).collect::<String>().to_ascii_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tags(tags: &[&str]) -> String {
        let mut pieces: Vec<RawPiece> = tags.iter().map(|tag| RawPiece::Tag((*tag).to_owned())).collect();
        pieces.push(RawPiece::TextEnd);
        cleaned(&pieces).concat()
    }

    #[test]
    fn tags_in_text_are_judged_one_by_one_and_closed() {
        assert_eq!(tags(&["<b>", "</b>"]), "<b></b>");
        assert_eq!(tags(&["<b onclick=x>", "<i>"]), "<b><i></i></b>");
        assert_eq!(tags(&["<b>", "</i>", "</b>", "</b>"]), "<b></b>");
        assert_eq!(tags(&["<br>", "<script>", "</script>", "<KBD>", "</kbd>"]), "<br><kbd></kbd>");
        assert_eq!(tags(&["<a href=javascript:x>", "</a>"]), "<a rel=\"noopener noreferrer\"></a>");
    }

    #[test]
    fn blocks_are_cleaned_whole() {
        let block = "<div id=worksheet style=x onload=y><script>z</script><p>text".to_owned();
        assert_eq!(cleaned(&[RawPiece::Block(block)]), ["<div><p>text</p></div>"]);
    }
}
