//! Permission to run Rust blocks. Off, unless the command line says otherwise or the worksheet lies in a folder that the
//! user's own configuration names. Both are compared with all links resolved, so that no link in a permitted folder
//! lets a worksheet in from elsewhere.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::Permission;
use benchleaf_publish::failure::{Failure, name};
use benchleaf_words::{Phrase, phrase};

use crate::args::EvaluationOptions;

/// Which worksheets' Rust blocks are run.
#[derive(Debug)]
pub(crate) enum Consent {
    /// Those of every worksheet of this call.
    All,
    /// Those in these folders, all links resolved.
    Folders(Vec<PathBuf>),
}

/// The user's configuration.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Configuration {
    allow_rust_in: Vec<PathBuf>,
}

impl Consent {
    /// What the user permits.
    ///
    /// # Errors
    /// Where the configuration is there and cannot be read.
    pub(crate) fn of_call(options: &EvaluationOptions) -> Result<Self, Failure> {
        if options.allow_rust {
            return Ok(Consent::All);
        }
        match dirs::config_dir() {
            Some(folder) => Self::of_file(&folder.join("benchleaf").join("config.toml")),
            None => Ok(Consent::Folders(Vec::new())),
        }
    }

    fn of_file(path: &Path) -> Result<Self, Failure> {
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(Consent::Folders(Vec::new())),
            Err(cause) => return Err(Failure::Unreadable { path: path.to_owned(), cause }),
        };
        let wrong = |why: Phrase| Failure::Configuration { path: path.to_owned(), why };
        let configuration: Configuration =
            toml::from_str(&text).map_err(|cause| wrong(Phrase::from(cause.message())))?;
        if let Some(folder) = configuration.allow_rust_in.iter().find(|folder| !folder.is_absolute()) {
            return Err(wrong(phrase!(WHY_OTHER_WHOLE_PATHS, path = name(folder))));
        }
        // One that is not there permits nothing.
        let folders = configuration.allow_rust_in.iter().filter_map(|folder| folder.canonicalize().ok());
        Ok(Consent::Folders(folders.collect()))
    }

    /// Whether a worksheet's blocks are run.
    pub(crate) fn covers(&self, worksheet: &Path) -> Permission {
        let covered = match self {
            Consent::All => true,
            Consent::Folders(folders) => worksheet
                .canonicalize()
                .is_ok_and(|worksheet| folders.iter().any(|folder| worksheet.starts_with(folder))),
        };
        if covered { Permission::Given } else { Permission::Withheld }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn consent(folder: &Path, text: &str) -> Result<Consent, Failure> {
        let file = folder.join("config.toml");
        fs::write(&file, text).unwrap();
        Consent::of_file(&file)
    }

    #[test]
    fn only_named_folders_permit_and_only_what_is_really_in_them() {
        let place = tempfile::tempdir().unwrap();
        let (named, other) = (place.path().join("named"), place.path().join("named too"));
        for folder in [&named, &other] {
            fs::create_dir_all(folder.join("deeper")).unwrap();
            fs::write(folder.join("deeper/a.md"), "# a").unwrap();
        }
        let found = consent(place.path(), &format!("allow_rust_in = [{:?}]", named.to_str().unwrap())).unwrap();
        assert_eq!(found.covers(&named.join("deeper/a.md")), Permission::Given);
        assert_eq!(found.covers(&other.join("deeper/a.md")), Permission::Withheld);
        assert_eq!(found.covers(&named.join("../named too/deeper/a.md")), Permission::Withheld);
        assert_eq!(found.covers(&named.join("missing.md")), Permission::Withheld);
        #[cfg(unix)]
        {
            // A link inside leads out, and a link outside leads in.
            std::os::unix::fs::symlink(other.join("deeper/a.md"), named.join("link.md")).unwrap();
            std::os::unix::fs::symlink(&named, place.path().join("way in")).unwrap();
            assert_eq!(found.covers(&named.join("link.md")), Permission::Withheld);
            assert_eq!(found.covers(&place.path().join("way in/deeper/a.md")), Permission::Given);
        }
    }

    #[test]
    fn without_a_word_nothing_is_permitted_and_a_wrong_word_is_told() {
        let place = tempfile::tempdir().unwrap();
        let sheet = place.path().join("a.md");
        fs::write(&sheet, "# a").unwrap();
        let missing = Consent::of_file(&place.path().join("none.toml")).unwrap();
        assert_eq!(missing.covers(&sheet), Permission::Withheld);
        assert_eq!(consent(place.path(), "").unwrap().covers(&sheet), Permission::Withheld);
        for (text, reported) in [
            ("allow_rust = true", "unknown field `allow_rust`"),
            ("allow_rust_in = [\"sheets\"]", "`sheets` is none"),
            ("allow_rust_in = \"/\"", "invalid type"),
            ("allow_rust_in = [", "array"),
        ] {
            let failure = consent(place.path(), text).unwrap_err().to_string();
            assert!(failure.contains(reported), "{text}: {failure}");
        }
        assert_eq!(
            consent(place.path(), "allow_rust_in = [\"/no/such/folder\"]").unwrap().covers(&sheet),
            Permission::Withheld
        );
    }
}
