//! The language of a call: the one that is asked for, else the one that the environment names, else English.

use std::ffi::OsString;

use benchleaf_words::Language;

/// The language that the environment asks for, as POSIX has it: the first of `LC_ALL`, `LC_MESSAGES` and `LANG` that is set and
/// not empty decides (`de_DE.UTF-8` asks for German); English where it names none of the languages there are.
pub fn language_of_environment(variable: impl Fn(&str) -> Option<OsString>) -> Language {
    let set = VARIABLES.iter().find_map(|name| variable(name).filter(|value| !value.is_empty()));
    let locale = set.unwrap_or_default().to_string_lossy().into_owned();
    Language::of_locale(&locale).unwrap_or_default()
}

/// The language of this code, as an option names it.
///
/// # Errors
/// Those that there are, where it is none of them.
pub(crate) fn named(code: &str) -> Result<Language, String> {
    Language::find(code).ok_or_else(|| {
        let known: Vec<String> =
            Language::all().map(|language| format!("{} ({})", language.code(), language.name())).collect();
        format!("the languages are {}", known.join(", "))
    })
}

const VARIABLES: [&str; 3] = ["LC_ALL", "LC_MESSAGES", "LANG"];

#[cfg(test)]
mod tests {
    use super::*;

    fn code(set: &[(&str, &str)]) -> &'static str {
        let variable = |name: &str| set.iter().find(|(set, _)| *set == name).map(|(_, value)| value.into());
        language_of_environment(variable).code()
    }

    #[test]
    fn the_first_variable_that_says_something_decides() {
        assert_eq!(code(&[]), "en");
        assert_eq!(code(&[("LANG", "de_DE.UTF-8")]), "de");
        assert_eq!(code(&[("LANG", "de_DE.UTF-8"), ("LC_MESSAGES", "en_GB.UTF-8")]), "en");
        assert_eq!(code(&[("LANG", "en_GB.UTF-8"), ("LC_MESSAGES", "de_AT")]), "de");
        assert_eq!(code(&[("LC_ALL", "C"), ("LC_MESSAGES", "de_AT"), ("LANG", "de")]), "en");
        assert_eq!(code(&[("LC_ALL", ""), ("LC_MESSAGES", ""), ("LANG", "de")]), "de");
        assert_eq!(code(&[("LANGUAGE", "de"), ("LC_TIME", "de_DE")]), "en");
    }

    #[test]
    fn a_locale_is_of_its_language_and_an_unknown_one_is_english() {
        for locale in ["de", "de_DE", "de_CH.UTF-8", "de.UTF-8", "de@euro", "de_DE@euro"] {
            assert_eq!(code(&[("LC_ALL", locale)]), "de", "{locale}");
        }
        for locale in ["C", "POSIX", "C.UTF-8", "xx_XX.UTF-8", "deu", "d", "_DE", "DE", "é", "/usr/share/de"] {
            assert_eq!(code(&[("LC_ALL", locale)]), "en", "{locale}");
        }
    }

    #[test]
    fn an_option_takes_a_code_and_says_which_there_are() {
        assert_eq!(named("de"), Ok(Language::find("de").unwrap()));
        for wrong in ["xx", "", "de_DE", "Deutsch"] {
            assert_eq!(named(wrong), Err("the languages are en (English), de (Deutsch)".to_owned()));
        }
    }
}
