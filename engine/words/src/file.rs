//! A language's file: groups of `key = text`, whose placeholders are names in braces.

/// A text with its key.
pub(crate) struct Entry {
    /// Its group and its name: `verdict.holds`.
    pub(crate) key: String,
    /// Who needs it.
    pub(crate) group: Group,
    /// As written, escapes resolved.
    pub(crate) text: String,
    /// Its placeholders, in the order in which they first stand in it.
    pub(crate) names: Vec<String>,
}

/// Who needs a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Group {
    /// What a page's own engine sets anew.
    Engine,
    /// What is set once, when a page is written.
    Page,
    /// A page's script.
    Script,
    /// The pages of a site.
    Site,
    /// The script of its search.
    Search,
    /// The preview's script.
    Preview,
    /// The command line.
    Command,
}

impl Group {
    pub(crate) const ALL: [Group; 7] =
        [Group::Engine, Group::Page, Group::Script, Group::Site, Group::Search, Group::Preview, Group::Command];

    /// The word in a heading.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Group::Engine => "engine",
            Group::Page => "page",
            Group::Script => "script",
            Group::Site => "site",
            Group::Search => "search",
            Group::Preview => "preview",
            Group::Command => "command",
        }
    }
}

/// Reads a file: `[subject: group]` opens a subject, whose keys begin with it; a line that begins with `#` is a remark.
pub(crate) fn read(text: &str) -> Result<Vec<Entry>, Vec<String>> {
    let (mut entries, mut faults): (Vec<Entry>, Vec<String>) = (Vec::new(), Vec::new());
    let mut subject: Option<(&str, Group)> = None;
    for (number, line) in text.lines().enumerate().map(|(at, line)| (at + 1, line.trim())) {
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        if let Some(head) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
            let found = head.split_once(':').and_then(|(name, group)| {
                Some((name.trim(), Group::ALL.into_iter().find(|known| known.word() == group.trim())?))
            });
            if found.is_none() {
                faults.push(format!("line {number}: a heading reads [subject: group]"));
            }
            subject = found;
            continue;
        }
        let (Some((name, text)), Some((subject, group))) = (line.split_once('='), subject) else {
            faults.push(format!("line {number}: a line below a heading reads key = text"));
            continue;
        };
        let key = format!("{subject}.{}", name.trim());
        if entries.iter().any(|entry| entry.key == key) {
            faults.push(format!("line {number}: `{key}` stands twice"));
        }
        let text = text.trim().replace("\\u{202f}", "\u{202f}").replace("\\u{a0}", "\u{a0}");
        let names = names(&text);
        entries.push(Entry { key, group, text, names });
    }
    let has = |key: String| entries.iter().any(|entry| entry.key == key);
    for entry in &entries {
        let halves = [(".one", ".other"), (".other", ".one")];
        for base in halves.iter().filter_map(|(own, other)| Some(format!("{}{other}", entry.key.strip_suffix(own)?))) {
            if !has(base.clone()) {
                faults.push(format!("`{}` stands without `{base}`", entry.key));
            }
        }
    }
    if faults.is_empty() { Ok(entries) } else { Err(faults) }
}

/// What a language lacks, has too much, or says with other placeholders than English.
pub(crate) fn compared(english: &[Entry], other: &[Entry]) -> Vec<String> {
    let mut faults = Vec::new();
    for wanted in english {
        let Some(own) = other.iter().find(|entry| entry.key == wanted.key) else {
            faults.push(format!("`{}` is missing", wanted.key));
            continue;
        };
        if own.group != wanted.group {
            faults.push(format!(
                "`{}` is in the group {}, in English in {}",
                own.key,
                own.group.word(),
                wanted.group.word()
            ));
        }
        // One of a thing may be said without its number.
        let is_one = wanted.key.ends_with(".one");
        let differs =
            |a: &Entry, b: &Entry| a.names.iter().any(|name| !(b.names.contains(name) || is_one && name == "n"));
        if differs(own, wanted) || differs(wanted, own) {
            faults.push(format!("`{}` has the placeholders {:?}, in English {:?}", own.key, own.names, wanted.names));
        }
        if own.text.is_empty() {
            faults.push(format!("`{}` is empty", own.key));
        }
    }
    let unknown = other.iter().filter(|entry| !english.iter().any(|known| known.key == entry.key));
    faults.extend(unknown.map(|entry| format!("`{}` is not in English", entry.key)));
    faults
}

fn names(text: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for piece in text.split('{').skip(1) {
        let Some((name, _)) = piece.split_once('}') else { continue };
        if !names.iter().any(|known| known == name) {
            names.push(name.to_owned());
        }
    }
    names
}
