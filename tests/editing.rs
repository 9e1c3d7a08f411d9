//! The files for editors, `engine/cli/editing`, held against libraries that read such files: a worksheet's metadata is valid by
//! the schema where the parser takes it, and nowhere else; the grammar finds in a line what the engine reads there.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::{collections::BTreeMap, fs};

use benchleaf_core::{
    problem::Code,
    sheet::{self, BlockBody, METADATA, Part},
    units,
};
use benchleaf_tests::outside::{node, python, tests};
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

/// Every worksheet and every chapter of the guide, in an editor's own libraries: words of fences, comments, quoted texts, and
/// the units of givens have their colours, and prose has none of these.
#[test]
#[ignore = "needs packages of npm's: run tests/run"]
fn editors_colour_what_the_engine_reads() {
    let folders = ["worksheets", "book", "tests/messages"].map(|folder| tests().join("..").join(folder));
    let files = folders.iter().flat_map(|folder| fs::read_dir(folder).unwrap()).map(|file| file.unwrap().path());
    let mut sheets = Vec::new();
    let mut counts = BTreeMap::new();
    for path in files.filter(|path| path.extension().is_some_and(|ending| ending == "md")) {
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let text = with_remarks(&text);
        let (wanted, prose) = coloured(&text);
        wanted.iter().for_each(|(.., scope)| *counts.entry(*scope).or_insert(0) += 1);
        sheets
            .push(json!({"name": path.file_name().unwrap().to_str(), "text": text, "wanted": wanted, "prose": prose}));
    }
    assert!(counts.len() == 4 && counts.values().all(|count| *count > 50), "{counts:?}");
    let folder = tempfile::tempdir().unwrap();
    let asked = folder.path().join("asked.json");
    let grammar = fs::read_to_string(tests().join("../engine/cli/editing/benchleaf.tmLanguage.json")).unwrap();
    let grammar: Value = serde_json::from_str(&grammar).unwrap();
    fs::write(&asked, json!({"grammar": grammar, "sheets": sheets}).to_string()).unwrap();
    let output = node(None).arg("grammar.js").arg(&asked).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["different"], json!([]));
}

/// A worksheet with a remark behind every calculation.
fn with_remarks(text: &str) -> String {
    let sheet = sheet::read(text).0;
    let mut remarked = text.to_owned();
    for block in sheet.blocks.iter().rev().filter(|block| matches!(block.body, BlockBody::Calc(_))) {
        let content = block.content.text(text);
        let lines = content.lines().map(|line| match line {
            "" => "\n".to_owned(),
            line => format!("{line} # as \"before\", 3 V\n"),
        });
        remarked.replace_range(
            block.content.start..block.content.start + content.trim_end().len(),
            lines.collect::<String>().trim_end(),
        );
    }
    remarked
}

/// A line from 0, a first column and that behind the last, in UTF-16 units as editors count them, and the scope of what stands there.
type Coloured = (usize, usize, usize, &'static str);

/// Places with the scopes that they should have, and lines of prose.
fn coloured(text: &str) -> (Vec<Coloured>, Vec<usize>) {
    let place = |start: usize, end: usize, scope| {
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let column = |at: usize| text[line_start..at].encode_utf16().count();
        (text[..start].matches('\n').count(), column(start), column(end), scope)
    };
    let sheet = sheet::read(text).0;
    let mut wanted = Vec::new();
    let mut is_prose = vec![true; text.lines().count()];
    let line = |at: usize| text[..at].matches('\n').count();
    is_prose.iter_mut().take(line(sheet.body_start)).for_each(|is_prose| *is_prose = false);
    for part in &sheet.parts {
        if let Part::Fence(fence) = part {
            let range = line(fence.span.start)..=line(fence.span.end.saturating_sub(1).max(fence.span.start));
            is_prose[range].iter_mut().for_each(|is_prose| *is_prose = false);
        }
    }
    for block in &sheet.blocks {
        let head = block.span.text(text).lines().next().unwrap_or_default();
        let fence = head.trim_start_matches(['`', '~']);
        let word = fence.trim_start().split(' ').next().unwrap_or_default();
        let start = block.span.start + head.len() - fence.trim_start().len();
        wanted.push(place(start, start + word.len(), "keyword.control.block.benchleaf"));
        if matches!(block.body, BlockBody::Note(_) | BlockBody::Rust(_)) {
            continue;
        }
        let mut at = block.content.start;
        for line in block.content.text(text).split_inclusive('\n') {
            let mut rest = at;
            let mut parts = line.trim_end().split('"').peekable();
            let mut is_text = false;
            while let Some(part) = parts.next() {
                let end = rest + part.len();
                if is_text && parts.peek().is_some() {
                    wanted.push(place(rest - 1, end + 1, "string.quoted.double.benchleaf"));
                } else if let Some(comment) = part.find('#').filter(|_| !is_text) {
                    let end = at + line.trim_end().len();
                    wanted.push(place(rest + comment, end, "comment.line.number-sign.benchleaf"));
                    break;
                }
                (rest, is_text) = (end + 1, !is_text);
            }
            at += line.len();
        }
    }
    for given in sheet.givens() {
        if let Some(unit) = given.literal().and_then(|(quantity, _)| quantity.unit.as_ref())
            && unit.span.text(text) == unit.item
            && units::parse(&unit.item).is_some()
        {
            wanted.push(place(unit.span.start, unit.span.end, "keyword.other.unit.benchleaf"));
        }
    }
    let prose = is_prose.iter().enumerate().filter(|(_, is_prose)| **is_prose).map(|(line, _)| line).collect();
    (wanted, prose)
}

fn asked(metadata: &[String], lines: &[String]) -> Value {
    let read = |name: &str| -> Value {
        let path = tests().join("../engine/cli/editing").join(name);
        serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
    };
    let (schema, grammar) = (read("metadata.schema.json"), read("benchleaf.tmLanguage.json"));
    python("editing.py", &json!({"schema": schema, "grammar": grammar, "metadata": metadata, "lines": lines}))
}
