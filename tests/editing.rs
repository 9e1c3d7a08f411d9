//! The files for editors, `engine/cli/editing`, held against libraries that read such files: a worksheet's metadata is valid by
//! the schema where the parser takes it, and nowhere else; the grammar finds in a line what the engine reads there.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::fs;

use benchleaf_core::{
    problem::Code,
    sheet::{self, METADATA},
};
use benchleaf_tests::outside::{python, tests};
use serde_json::{Value, json};

#[test]
#[ignore = "needs jsonschema: run tests/run"]
fn the_schema_takes_what_the_parser_takes() {
    let mut metadata: Vec<String> = fs::read_dir(tests().join("../worksheets"))
        .unwrap()
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .filter_map(|path| {
            let source = fs::read_to_string(path).unwrap();
            let (head, _) = source.strip_prefix("+++\n")?.split_once("\n+++")?;
            Some(head.to_owned())
        })
        .collect();
    let of_worksheets = metadata.len();
    assert!(of_worksheets > 5);
    let values = [
        "\"text\"",
        "2026-01-02",
        "0",
        "1",
        "3",
        "15",
        "16",
        "99",
        "100",
        "-1",
        "100000000",
        "100000001",
        "3.5",
        "true",
        "[]",
        "[\"t_on:ms:u32\"]",
        "[1]",
        "[\"a\", 2]",
        "{ a = 1 }",
        "9223372036854775807",
        "4294967296",
        "1000001",
        "0x10",
        "'x'",
    ];
    for key in METADATA.iter().map(|key| key.name).chain(["titel", "x"]) {
        metadata.extend(values.iter().map(|value| format!("{key} = {value}")));
    }
    for (i, value) in values.iter().enumerate() {
        let (one, other) = (&METADATA[i % METADATA.len()].name, &METADATA[(i + 3) % METADATA.len()].name);
        metadata.push(format!("{one} = {value}\n{other} = {}", values[(i * 7 + 1) % values.len()]));
    }
    let valid = asked(&metadata, &[])["valid"].clone();
    let mut counts = [0, 0];
    for (i, text) in metadata.iter().enumerate() {
        let problems = sheet::read(&format!("+++\n{text}\n+++\n\n# T\n")).1;
        let refused = problems
            .iter()
            .any(|problem| matches!(problem.code, Code::Metadata | Code::MetadataKey | Code::LanguageVersion));
        assert_eq!(valid[i], !refused, "{text}: {problems:?}");
        assert!(i >= of_worksheets || !refused, "{text}");
        counts[usize::from(refused)] += 1;
    }
    assert!(counts.iter().all(|count| *count > 50), "{counts:?}");
}

#[test]
#[ignore = "needs a library of Python's: run tests/run"]
fn the_grammar_finds_what_the_engine_reads() {
    let lines = [
        (
            "R_t = 910 kΩ ± 5 %  \"timing resistor\" # a comment",
            "R_t variable.other.definition; = keyword.operator; 910 constant.numeric; kΩ keyword.other.unit; ± keyword.operator; 5 constant.numeric; % keyword.other.unit; \"timing resistor\" string.quoted.double; # a comment comment.line.number-sign",
        ),
        (
            "keep t_on between 15 s and 2.5e1 ms",
            "keep keyword.control.statement; between keyword.operator.word; 15 constant.numeric; s keyword.other.unit; and keyword.operator.word; 2.5e1 constant.numeric; ms keyword.other.unit",
        ),
        (
            "p = timing.one_shot(supply = 12 V)",
            "p variable.other.definition; = keyword.operator; timing.one_shot entity.name.function.handbook; = keyword.operator; 12 constant.numeric; V keyword.other.unit",
        ),
        (
            "x [N·m] = 2 N·m * sqrt(π)",
            "x variable.other.definition; N·m keyword.other.unit; = keyword.operator; 2 constant.numeric; N·m keyword.other.unit; * keyword.operator; sqrt support.function; π constant.language",
        ),
        (
            "R = preferred_below(E24, min_x)",
            "R variable.other.definition; = keyword.operator; preferred_below support.function; E24 support.constant.series",
        ),
        (
            "V_be = min 0.6 V typ 0.7 V",
            "V_be variable.other.definition; = keyword.operator; min storage.modifier.tolerance; 0.6 constant.numeric; V keyword.other.unit; typ storage.modifier.tolerance; 0.7 constant.numeric; V keyword.other.unit",
        ),
        (
            "place @R1 @C2",
            "place keyword.control.statement; @R1 variable.other.designator; @C2 variable.other.designator",
        ),
    ];
    let texts: Vec<String> = lines.iter().map(|(line, _)| (*line).to_owned()).collect();
    let answer = asked(&[], &texts);
    for (i, (line, wanted)) in lines.iter().enumerate() {
        let found = answer["scopes"][i].as_array().unwrap().iter().map(|part| {
            let scope = part[1].as_str().unwrap().trim_end_matches(".benchleaf");
            format!("{} {scope}", part[0].as_str().unwrap())
        });
        assert_eq!(found.collect::<Vec<_>>().join("; "), *wanted, "{line}");
    }
}

fn asked(metadata: &[String], lines: &[String]) -> Value {
    let read = |name: &str| -> Value {
        let path = tests().join("../engine/cli/editing").join(name);
        serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
    };
    let (schema, grammar) = (read("metadata.schema.json"), read("benchleaf.tmLanguage.json"));
    python("editing.py", &json!({"schema": schema, "grammar": grammar, "metadata": metadata, "lines": lines}))
}
