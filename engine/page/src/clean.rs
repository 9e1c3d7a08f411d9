//! Raw HTML of a worksheet, cleaned by `ammonia` where the person running the engine lets it through: no script, no
//! style, no form, nothing that asks the network as a program would. A block is cleaned whole. In running text the tags
//! come one by one, so each is judged by itself, and what is left open is closed where its text ends.

pub(crate) use ammonia::clean as block;

/// The tags of a running text that are open; an empty name stands where an element of the Markdown begins.
#[derive(Default)]
pub(crate) struct Tags(Vec<String>);

impl Tags {
    /// An element of the Markdown begins.
    pub(crate) fn begin(&mut self) {
        self.0.push(String::new());
    }

    /// What closes those that were opened in the element that ends.
    pub(crate) fn end(&mut self) -> String {
        let begun = self.0.iter().rposition(String::is_empty).unwrap_or(0);
        self.0.drain(begun..).rev().filter(|name| !name.is_empty()).map(|name| format!("</{name}>")).collect()
    }

    /// What stands for the next tag.
    pub(crate) fn clean(&mut self, tag: &str) -> String {
        if let Some(rest) = tag.strip_prefix("</") {
            let name = name(rest);
            // An end without its beginning, or across another, is left out.
            return self
                .0
                .pop_if(|last| !name.is_empty() && *last == name)
                .map(|name| format!("</{name}>"))
                .unwrap_or_default();
        }
        let html = block(tag);
        let name = html.strip_prefix('<').map(name).unwrap_or_default();
        match html.strip_suffix(&format!("</{name}>")) {
            Some(opening) if !name.is_empty() => {
                self.0.push(name);
                opening.to_owned()
            }
            _ => html,
        }
    }
}

fn name(tag: &str) -> String {
    tag.chars().take_while(char::is_ascii_alphanumeric).collect::<String>().to_ascii_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tags(tags: &[&str]) -> String {
        let mut open = Tags::default();
        let cleaned: String = tags.iter().map(|tag| open.clean(tag)).collect();
        cleaned + &open.end()
    }

    #[test]
    fn a_tag_does_not_outlast_the_element_that_it_stands_in() {
        let mut open = Tags::default();
        open.begin();
        assert_eq!(open.clean("<b>"), "<b>");
        open.begin();
        assert_eq!(open.clean("<i>") + &open.clean("</b>") + &open.clean("</>"), "<i>");
        assert_eq!(open.end(), "</i>");
        assert_eq!(open.clean("</b>") + &open.end(), "</b>");
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
        let written = "<div id=worksheet style=x onload=y><script>z</script><p>text";
        assert_eq!(block(written), "<div><p>text</p></div>");
    }
}
