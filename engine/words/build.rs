//! Makes the tables of words from the files in `words`, and refuses a language that does not have the keys and placeholders
//! of the English one.

#[path = "src/file.rs"]
mod file;

use std::{env, fmt::Write, fs, path::Path, process::ExitCode};

use file::{Entry, Group, compared, read};

fn main() -> ExitCode {
    match made() {
        Ok(()) => ExitCode::SUCCESS,
        Err(faults) => {
            let mut shown = String::new();
            for fault in faults {
                let _ = writeln!(shown, "cargo::error={fault}");
            }
            let _ = std::io::Write::write_all(&mut std::io::stdout(), shown.as_bytes());
            ExitCode::FAILURE
        }
    }
}

fn made() -> Result<(), Vec<String>> {
    let io = |error: std::io::Error| vec![error.to_string()];
    let _ = std::io::Write::write_all(&mut std::io::stdout(), b"cargo::rerun-if-changed=words\n");
    let mut codes: Vec<String> = Vec::new();
    for file in fs::read_dir("words").map_err(io)? {
        let path = file.map_err(io)?.path();
        if let (Some(stem), Some("txt")) =
            (path.file_stem().and_then(|s| s.to_str()), path.extension().and_then(|e| e.to_str()))
        {
            codes.push(stem.to_owned());
        }
    }
    // English is the first; the others follow in order of their codes.
    codes.sort_by_key(|code| (code != "en", code.clone()));
    let mut faults = Vec::new();
    let mut languages: Vec<(String, Vec<Entry>)> = Vec::new();
    for code in codes {
        let text = fs::read_to_string(format!("words/{code}.txt")).map_err(io)?;
        match read(&text) {
            Ok(entries) => languages.push((code, entries)),
            Err(found) => faults.extend(found.into_iter().map(|fault| format!("words/{code}.txt: {fault}"))),
        }
    }
    let Some(((_, english), others)) = languages.split_first() else { return Err(faults) };
    for (code, entries) in others {
        faults.extend(compared(english, entries).into_iter().map(|fault| format!("words/{code}.txt: {fault}")));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let out = env::var("OUT_DIR").map_err(|error| vec![error.to_string()])?;
    fs::write(Path::new(&out).join("tables.rs"), tables(&languages)).map_err(io)
}

fn tables(languages: &[(String, Vec<Entry>)]) -> String {
    let mut out = String::new();
    let english = &languages[0].1;
    // What a page's engine needs comes first.
    let mut order: Vec<&Entry> = english.iter().collect();
    order.sort_by_key(|entry| entry.group != Group::Engine);
    let engine = order.iter().filter(|entry| entry.group == Group::Engine).count();
    out.push_str("/// The keys of the words, in capitals: `verdict.holds` is `VERDICT_HOLDS`.\n#[allow(missing_docs)]\npub mod key {\nuse super::{Counted, Word};\n");
    let at = |key: &str| order.iter().position(|entry| entry.key == key).unwrap_or_default();
    let named = order.iter().enumerate().filter(|(_, entry)| !entry.key.ends_with(".other"));
    for (place, entry) in named {
        // A program without the other words cannot name them.
        if place >= engine {
            out.push_str("#[cfg(feature = \"whole\")]\n");
        }
        if let Some(base) = entry.key.strip_suffix(".one") {
            let other = at(&format!("{base}.other"));
            let names = &order[other].names;
            let _ = writeln!(
                out,
                "pub const {}: Counted<{}> = Counted {{ one: {place}, other: {other}, names: {names:?} }};",
                constant(base),
                names.len()
            );
        } else {
            let _ = writeln!(
                out,
                "pub const {}: Word<{}> = Word {{ at: {place}, names: {:?} }};",
                constant(&entry.key),
                entry.names.len(),
                entry.names
            );
        }
    }
    out.push_str("}\n");
    let _ = writeln!(out, "const FINGERPRINT: &str = \"{:016x}\";", fingerprint(&order[..engine]));
    let _ = writeln!(out, "#[cfg(feature = \"whole\")]\nstatic KEYS: &[(&str, &str, &[&str])] = &[");
    for entry in &order {
        let names = &names_of(english, entry);
        let _ = writeln!(out, "({:?}, {:?}, &{names:?}),", entry.group.word(), entry.key);
    }
    out.push_str("];\n");
    for (number, (_, entries)) in languages.iter().enumerate() {
        let encoded = |wanted: &&Entry| {
            let own = entries.iter().find(|entry| entry.key == wanted.key);
            own.map_or_else(String::new, |own| encoded(&own.text, &names_of(english, wanted)))
        };
        let (first, rest) = order.split_at(engine);
        if number > 0 {
            out.push_str("#[cfg(feature = \"whole\")]\n");
        }
        let _ = writeln!(
            out,
            "static ENGINE_{number}: [&str; {engine}] = {:?};",
            first.iter().map(encoded).collect::<Vec<_>>()
        );
        let _ = writeln!(
            out,
            "#[cfg(feature = \"whole\")]\nstatic REST_{number}: [&str; {}] = {:?};",
            rest.len(),
            rest.iter().map(encoded).collect::<Vec<_>>()
        );
    }
    let codes: Vec<&String> = languages.iter().map(|(code, _)| code).collect();
    let _ = writeln!(out, "static CODES: [&str; {}] = {codes:?};", codes.len());
    out.push_str("#[cfg(feature = \"whole\")]\nstatic TABLES: &[Words<'static>] = &[\n");
    for (number, (code, _)) in languages.iter().enumerate() {
        let _ = writeln!(out, "Words {{ lang: {code:?}, engine: &ENGINE_{number}, rest: &REST_{number} }},");
    }
    out.push_str("];\n");
    out
}

/// The placeholders of an entry in their order: those of `key.other` hold for `key.one` too.
fn names_of(english: &[Entry], entry: &Entry) -> Vec<String> {
    let other = entry.key.strip_suffix(".one").map(|base| format!("{base}.other"));
    let holds = other.and_then(|key| english.iter().find(|entry| entry.key == key)).unwrap_or(entry);
    holds.names.clone()
}

/// A text with each placeholder as its place in `names`: a character from U+0001 on.
fn encoded(text: &str, names: &[String]) -> String {
    let mut text = text.to_owned();
    for (place, name) in names.iter().enumerate() {
        let sign = char::from_u32(place as u32 + 1).unwrap_or('\u{1}');
        text = text.replace(&format!("{{{name}}}"), &sign.to_string());
    }
    text
}

fn constant(key: &str) -> String {
    key.replace('.', "_").to_ascii_uppercase()
}

/// Of keys and placeholders: two programs whose tables have the same one mean the same by a place in them (FNV-1a).
fn fingerprint(entries: &[&Entry]) -> u64 {
    let texts = entries.iter().flat_map(|entry| std::iter::once(&entry.key).chain(&entry.names));
    texts
        .flat_map(|text| text.bytes().chain([0]))
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}
