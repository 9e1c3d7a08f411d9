//! What must hold of a report and of a page.

use serde_json::Value;

/// A report is one line of JSON with all its parts, and its text is whole.
pub(super) fn is_json_report(line: &str) {
    let report: Value = serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}"));
    for part in ["values", "keeps", "cautions", "exercises", "problems"] {
        assert!(report[part].is_array(), "no {part}: {line}");
    }
    assert!(!line.contains('\n'));
}

/// Every element that begins ends, in order; attributes are closed; no number is shown as Rust prints one that is none.
pub(super) fn is_balanced(html: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        if let Some(behind) = rest.strip_prefix("<!--") {
            rest = behind.split_once("-->").unwrap_or_else(|| panic!("a comment never closes: {html}")).1;
            continue;
        }
        let (tag, behind) = tag(rest).unwrap_or_else(|| panic!("a tag never closes: {rest}"));
        rest = behind;
        if tag.starts_with('!') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            let last = open.pop();
            assert_eq!(last, Some(name.trim()), "</{name}> closes {last:?} at {}", start(rest));
            continue;
        }
        let name = tag.split(|c: char| c.is_whitespace() || c == '/').next().unwrap_or_default();
        assert!(name.starts_with(|c: char| c.is_ascii_alphabetic()), "<{tag}> is no tag, before {}", start(rest));
        if tag.ends_with('/') || VOID.contains(&name) {
            continue;
        }
        open.push(name);
        if RAW.contains(&name) {
            let end = format!("</{name}");
            rest = &rest[rest.find(&end).unwrap_or_else(|| panic!("<{name}> never ends"))..];
        }
        for attribute in
            ["d=\"", "points=\"", "x=\"", "y=\"", "x1=\"", "x2=\"", "y1=\"", "y2=\"", "width=\"", "height=\""]
        {
            for value in tag.split(&format!(" {attribute}")).skip(1) {
                let value = value.split('"').next().unwrap_or_default();
                assert!(!value.contains("NaN") && !value.contains("inf"), "<{tag}>");
            }
        }
    }
    assert!(open.is_empty(), "{open:?} never end: {}", start(html));
}

/// A tag without its brackets, and what follows; quotation marks hide a bracket.
fn tag(text: &str) -> Option<(&str, &str)> {
    let mut quoted = false;
    for (at, byte) in text.bytes().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b'>' if !quoted => return Some((&text[1..at], &text[at + 1..])),
            _ => {}
        }
    }
    None
}

fn start(text: &str) -> String {
    text.chars().take(200).collect()
}

const VOID: &[&str] = &["area", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"];
/// Elements whose text is no markup.
const RAW: &[&str] = &["script", "style"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_balanced_is_found() {
        for html in
            ["<p>a<br><b>c</b></p>", "<!-- < --><i title=\"a > b\"></i><style>a > b</style>", "<path d=\"M0 0\"/>"]
        {
            is_balanced(html);
        }
        for html in ["<p>", "</p>", "<p><b></p></b>", "<a title=\"x>", "a < b", "<i x=\"NaN\"></i>"] {
            assert!(std::panic::catch_unwind(|| is_balanced(html)).is_err(), "{html}");
        }
    }
}
