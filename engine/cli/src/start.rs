//! `benchleaf new`: a small worksheet that works, to be changed line by line into one's own.

use std::path::{Path, PathBuf};

use benchleaf_publish::{
    failure::{Failure, name},
    write,
};
use benchleaf_words::{Phrase, key, phrase, say};

use crate::{args::NewRequest, message::harmless, outcome::Outcome, terminal::Terminal};

/// Run `benchleaf new`.
pub(crate) fn start(request: &NewRequest, terminal: &mut Terminal<'_>) -> Outcome {
    match write_starter(request) {
        Ok(path) => {
            let path = harmless(&name(&path)).into_owned();
            let wrote = say!(terminal.words(), NEW_WROTE, path = path);
            terminal.say(&format!("{wrote}\n  benchleaf check {path}\n  benchleaf render {path}\n"));
            Outcome::Fine
        }
        Err(failure) => terminal.fail(&failure),
    }
}

fn write_starter(request: &NewRequest) -> Result<PathBuf, Failure> {
    let stem = stem(&request.name)?;
    let title = match &request.title {
        Some(title) => checked_title(title)?.to_owned(),
        None => title_from(&stem),
    };
    let path = request.name.with_file_name(format!("{stem}.md"));
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.is_dir()) {
        return Err(Failure::NoFolder { path: folder.to_owned() });
    }
    let summary = json_text(&summary(&title))?;
    write::write_new(&path, &STARTER.replacen("TITLE", &json_text(&title)?, 1).replacen("SUMMARY", &summary, 1))?;
    Ok(path)
}

/// A text in quotes: a JSON string is a TOML string too, for text without control characters.
fn json_text(text: &str) -> Result<String, Failure> {
    serde_json::to_string(text).map_err(|cause| Failure::Json { cause })
}

/// What the example has become so far: true of every title until its author writes another.
fn summary(title: &str) -> String {
    let subject = title.trim_end_matches(['.', ',', ';', ':', '!', '?']);
    let subject = if subject.is_empty() { title } else { subject };
    format!(
        "{subject}: still the example, a light-emitting diode on five volts. Say here in a sentence what the worksheet works out."
    )
}

/// The worksheet's name without its ending, if it is one that works as a file's name and in links everywhere.
fn stem(given: &Path) -> Result<String, Failure> {
    let refused = |why| Failure::Name { name: name(given), why: Phrase::from(why) };
    if given.to_string_lossy().ends_with(['/', '\\']) {
        return Err(refused(key::WHY_NO_NAME_FOLDER));
    }
    let file = given.file_name().ok_or_else(|| refused(key::WHY_NO_NAME_EMPTY))?;
    let file = file.to_str().ok_or_else(|| refused(key::WHY_NO_NAME_NOT_TEXT))?;
    let stem = match file.rsplit_once('.') {
        Some((stem, ending)) if ending.eq_ignore_ascii_case("md") => stem,
        _ => file,
    };
    let first = stem.split('.').next().unwrap_or_default();
    if !stem.starts_with(char::is_alphanumeric) {
        Err(refused(key::WHY_NO_NAME_FIRST))
    } else if !stem.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.')) {
        Err(refused(key::WHY_NO_NAME_CHARACTER))
    } else if stem.ends_with('.') {
        Err(refused(key::WHY_NO_NAME_DOT))
    } else if stem.len() > LONGEST {
        Err(refused(key::WHY_NO_NAME_LONG))
    } else if stem.eq_ignore_ascii_case("readme") {
        Err(refused(key::WHY_NO_NAME_README))
    } else if RESERVED.iter().any(|reserved| first.eq_ignore_ascii_case(reserved)) {
        Err(refused(key::WHY_NO_NAME_RESERVED))
    } else {
        Ok(stem.to_owned())
    }
}

fn checked_title(title: &str) -> Result<&str, Failure> {
    let title = title.trim();
    if title.is_empty() {
        Err(Failure::Title { message: phrase!(FAILURE_TITLE_EMPTY) })
    } else if title.chars().any(char::is_control) {
        Err(Failure::Title { message: phrase!(FAILURE_TITLE_CONTROL) })
    } else {
        Ok(title)
    }
}

/// `lamp-driver` reads `Lamp driver`.
fn title_from(stem: &str) -> String {
    let words = stem.replace(['-', '_'], " ");
    let mut letters = words.trim_end().chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The worksheet that `new` writes; `TITLE` and `SUMMARY` stand for the title and the summary, quotes and all.
const STARTER: &str = include_str!("starter.md");
/// Bytes of a name: with the ending and a temporary file's additions, still within what file systems take.
const LONGEST: usize = 200;
/// Names of devices, which Windows allows for no file whatever its ending.
const RESERVED: [&str; 22] = [
    "con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "com5", "com6", "com7", "com8", "com9", "lpt1", "lpt2",
    "lpt3", "lpt4", "lpt5", "lpt6", "lpt7", "lpt8", "lpt9",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_work_everywhere_are_taken() {
        for (given, wanted) in [
            ("lamp", "lamp"),
            ("lamp.md", "lamp"),
            ("lamp.MD", "lamp"),
            ("sheets/lamp-driver_2.b", "lamp-driver_2.b"),
            ("Größe", "Größe"),
            ("7", "7"),
        ] {
            assert_eq!(stem(Path::new(given)).unwrap(), wanted, "{given}");
        }
    }

    #[test]
    fn names_that_do_not_are_refused() {
        let long = "a".repeat(LONGEST + 1);
        for given in ["", ".", "..", "/", "a/", "a\\", ".md", ".a", "_a", "-a", "a b", "a:b", "a?", "a\n", "a\u{202e}b"]
        {
            assert!(matches!(stem(Path::new(given)), Err(Failure::Name { .. })), "{given:?}");
        }
        for given in ["README", "readme.md", "CON", "nul.md", "com1.x", "a..", &long] {
            assert!(matches!(stem(Path::new(given)), Err(Failure::Name { .. })), "{given:?}");
        }
    }

    #[test]
    fn titles_are_one_line_of_text() {
        assert_eq!(title_from("lamp-driver_2"), "Lamp driver 2");
        assert_eq!(title_from("öse"), "Öse");
        assert_eq!(checked_title(" Lamp ").unwrap(), "Lamp");
        for wrong in ["", "  ", "a\nb", "a\u{7f}"] {
            assert!(checked_title(wrong).is_err(), "{wrong:?}");
        }
    }
}
