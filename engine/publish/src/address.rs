//! Where a site is published: its address, and what pages say of it when it is known. A site without an address says nothing.

use std::{fmt, str::FromStr};

use serde::Serialize;

/// The address of a site's folder, with a slash at its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BaseUrl(String);

impl BaseUrl {
    /// The address of a page by its link from the front page, whose own address is the folder's.
    pub fn to(&self, link: &str) -> String {
        let link = match link.strip_suffix(crate::site::INDEX) {
            Some(folder) if folder.is_empty() || folder.ends_with('/') => folder,
            _ => link,
        };
        format!("{}{link}", self.0)
    }
}

impl FromStr for BaseUrl {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let behind = text.strip_prefix("https://").or_else(|| text.strip_prefix("http://"));
        let behind = behind.ok_or("an address begins with https:// or http://")?;
        let host = behind.split('/').next().unwrap_or_default();
        if host.is_empty() || host.contains('@') {
            return Err("an address names a host: https://example.org/mister/");
        }
        // RFC 3986: what a path and an authority are made of; all else stands in `%` form.
        let may_stand = |c: char| c.is_ascii_alphanumeric() || "-._~:/@!$&'()*+,;=%[]".contains(c);
        if !text.chars().all(may_stand) {
            return Err("an address has no blanks, and neither ? nor #; other characters stand in % form");
        }
        Ok(Self(format!("{}/", text.trim_end_matches('/'))))
    }
}

impl fmt::Display for BaseUrl {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a page says of its address.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Address {
    /// The page's own address.
    pub url: String,
    /// The title of its site.
    pub site: String,
    /// The address of the site's feed, where it has one.
    pub feed: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_read_and_joined() {
        for (text, link, wanted) in [
            ("https://example.org", "index.html", "https://example.org/"),
            ("https://example.org/mister/", "a/b.html", "https://example.org/mister/a/b.html"),
            ("http://localhost:8000/x", "a/index.html", "http://localhost:8000/x/a/"),
            ("http://[::1]/", "my-index.html", "http://[::1]/my-index.html"),
        ] {
            assert_eq!(text.parse::<BaseUrl>().unwrap().to(link), wanted);
        }
        for wrong in [
            "",
            "example.org",
            "ftp://example.org",
            "https://",
            "https:///x",
            "https://a b",
            "https://a/?q",
            "https://a/#x",
            "https://me@a/",
            "https://ä/",
            "https://a/\"><script>",
        ] {
            assert!(wrong.parse::<BaseUrl>().is_err(), "{wrong}");
        }
    }
}
