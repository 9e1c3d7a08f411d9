//! `benchleaf lsp` as an editor meets it: the program is driven over its streams.

use std::{
    fs,
    io::{BufRead, BufReader, Read, Write},
    path::Path,
    process::{Child, ChildStdin, ChildStdout, Stdio},
};

use serde_json::{Value, json};

use crate::bench::{Bench, Random, amount};

#[test]
fn a_session_from_start_to_end() {
    let mut editor = Editor::started();
    let said = editor.open("a.md", SHEET);
    assert_eq!(said["diagnostics"], json!([]));
    assert_eq!(said["version"], 1);

    // What is under the pointer.
    let hover = |editor: &mut Editor, at: &str| {
        editor.at("textDocument/hover", SHEET, at)["contents"]["value"].as_str().unwrap_or_default().to_owned()
    };
    let value = hover(&mut editor, "t_‸on [s]");
    for part in ["Pulse.", "`t_on` = **24.2 s**", "worst case 18.4 s to 38.1 s", "a time (s)"] {
        assert!(value.contains(part), "no `{part}` in {value}");
    }
    assert!(hover(&mut editor, "It lasts {t_‸on}").contains("24.2 s"));
    let model = hover(&mut editor, "timing.one_‸shot");
    for part in [
        "`resistance` [kΩ]",
        "good from 1 to 10000 kΩ",
        "`leakage` [µA]",
        "0 µA where none is given",
        "Source: published",
        "resistance * capacitance * ln(",
    ] {
        assert!(model.contains(part), "no `{part}` in {model}");
    }
    assert!(hover(&mut editor, "resist‸ance = R_t").contains("Timing resistor"));
    assert!(hover(&mut editor, "pulse.pul‸se").contains("`pulse.pulse` = **"));
    assert!(hover(&mut editor, "‸ln(3)").contains("natural logarithm"));
    assert!(hover(&mut editor, "22 µ‸F").contains("capacitance"));
    assert!(hover(&mut editor, "tit‸le =").contains("Title of the page"));
    assert_eq!(editor.at("textDocument/hover", SHEET, "It ‸lasts"), Value::Null);

    // Where a name comes from: the range is that of the name, in UTF-16 units.
    let place = editor.at("textDocument/definition", SHEET, "= R_‸t * C_t");
    assert_eq!(place["range"], json!({"start": {"line": 7, "character": 0}, "end": {"line": 7, "character": 3}}));
    let place = editor.at("textDocument/definition", SHEET, "keep pul‸se.pulse");
    assert_eq!(place["range"]["start"], json!({"line": 10, "character": 0}));
    assert_eq!(editor.at("textDocument/definition", SHEET, "It ‸lasts"), Value::Null);

    // The outline.
    let outline = editor.ask("textDocument/documentSymbol", json!({"textDocument": {"uri": URI}}));
    assert_eq!(outline[0]["name"], "A 𝄞 pulse");
    let inside = &outline[0]["children"];
    assert_eq!((&inside[0]["name"], &inside[0]["detail"]), (&"R_t".into(), &"1 MΩ".into()));
    assert_eq!(inside[4]["name"], "keep long enough");
    assert_eq!((&inside[5]["name"], &inside[5]["children"][0]["name"]), (&"Parts".into(), &"later".into()));

    assert_eq!(editor.ask("shutdown", Value::Null), Value::Null);
    assert_eq!(editor.error("textDocument/hover", json!({})), -32600);
    editor.notify("exit", Value::Null);
    assert_eq!(editor.process.wait().unwrap().code(), Some(0));
}

#[test]
fn a_definition_may_stand_in_another_worksheet() {
    let mut editor = Editor::started();
    editor.bench.put("a.md", SHEET);
    editor.bench.put("wrong.md", "# W\n\n```calc\nx = µ + 2 V\n```\n");
    let uri = |name: &str| format!("file://{}", editor.bench.path(name).display());
    let (own, other, wrong) = (uri("b.md"), uri("a.md"), uri("wrong.md"));
    let text = "# B\n\n```calc\nuse \"a.md\": t_on, R_t as R\ny = 2 * R\nuse \"wrong.md\": x\n```\n";
    let opened = json!({"textDocument": {"uri": own, "languageId": "markdown", "version": 1, "text": text}});
    editor.notify("textDocument/didOpen", opened);
    let said = editor.published();
    let related = &said["diagnostics"][0]["relatedInformation"][0]["location"];
    assert_eq!(
        (&related["uri"], &related["range"]["start"]),
        (&wrong.into(), &json!({"line": 3, "character": 4})),
        "{said}"
    );
    for (at, line) in [("a.m", 0), ("t_on,", 9), ("R_t as", 7), ("R\ny", 7), ("R\nuse", 7)] {
        let position = position(text, text.find(at).unwrap());
        let place = editor.ask("textDocument/definition", json!({"textDocument": {"uri": own}, "position": position}));
        assert_eq!((&place["uri"], &place["range"]["start"]["line"]), (&other.clone().into(), &line.into()), "{at}");
    }
}

#[test]
fn problems_come_with_their_place_their_cause_and_a_cure() {
    let mut editor = Editor::started();
    let source = SHEET.replace("t_on [s] =", "t_on [V] =");
    let said = editor.open("a.md", &source);
    let diagnostics = said["diagnostics"].as_array().unwrap();
    let of = |code: &str| {
        diagnostics.iter().find(|diagnostic| diagnostic["code"] == code).unwrap_or_else(|| panic!("{said}"))
    };
    let mismatch = of("E-unit-mismatch");
    assert_eq!((&mismatch["severity"], &mismatch["source"]), (&1.into(), &"benchleaf".into()));
    // `t_on [V] = ` has eleven characters.
    assert_eq!(mismatch["range"]["start"], json!({"line": 9, "character": 11}));
    assert_eq!(mismatch["range"]["end"], json!({"line": 9, "character": 28}));
    assert!(mismatch["message"].as_str().unwrap().ends_with("\nthe declared unit is V"), "{mismatch}");
    let follows = of("E-depends-on-error");
    assert_eq!(follows["relatedInformation"][0]["location"], json!({"uri": URI, "range": mismatch["range"]}));

    // Mended, and the editor's version comes back.
    let said = editor.change(2, SHEET);
    assert_eq!((&said["version"], &said["diagnostics"]), (&2.into(), &json!([])));
    let warned = editor.change(3, &SHEET.replace("resistance = R_t", "resistance = 0.5 kΩ"));
    assert_eq!(
        (&warned["diagnostics"][0]["code"], &warned["diagnostics"][0]["severity"]),
        (&"W-validity".into(), &2.into())
    );
    // In the middle of a character of two units.
    let part =
        json!({"text": "x", "range": {"start": {"line": 4, "character": 5}, "end": {"line": 4, "character": 6}}});
    editor.notify(
        "textDocument/didChange",
        json!({"textDocument": {"uri": URI, "version": 4}, "contentChanges": [part]}),
    );
    assert_eq!(editor.published()["version"], 4);
    editor.notify("textDocument/didClose", json!({"textDocument": {"uri": URI}}));
    assert_eq!(editor.published()["diagnostics"], json!([]));
    assert_eq!(
        editor
            .ask("textDocument/hover", json!({"textDocument": {"uri": URI}, "position": {"line": 0, "character": 0}})),
        Value::Null
    );
}

/// The locale of LSP 3.16 is a tag such as `de` or `de-AT`.
#[test]
fn an_editor_is_answered_in_its_own_language() {
    let mut editor = Editor::spawned();
    editor.initialize_with(json!({"processId": null, "rootUri": null, "capabilities": {}, "locale": "de-AT"}));
    let said = editor.open("a.md", &SHEET.replace("t_on [s] =", "t_on [V] ="));
    let mismatch = said["diagnostics"][0]["message"].as_str().unwrap();
    assert!(mismatch.contains("das Ergebnis der Formel ist eine Zeit (s)"), "{mismatch}");
    editor.change(2, SHEET);
    let hover = editor.at("textDocument/hover", SHEET, "t_‸on [s]")["contents"]["value"].to_string();
    assert!(hover.contains("im ungünstigsten Fall") && hover.contains("Das ist eine Zeit (s)."), "{hover}");

    let mut other = Editor::spawned();
    other.initialize_with(json!({"processId": null, "rootUri": null, "capabilities": {}, "locale": "fr"}));
    other.open("a.md", SHEET);
    let hover = other.at("textDocument/hover", SHEET, "t_‸on [s]")["contents"]["value"].to_string();
    assert!(hover.contains("worst case"), "{hover}");
}

#[test]
fn what_may_stand_at_a_place_is_offered() {
    let mut editor = Editor::started();
    editor.open("a.md", SHEET);
    let mut version = 1;
    let mut offered = |before: &str, with: &str| {
        version += 1;
        let marked = SHEET.replacen(before, &format!("{with}‸"), 1);
        assert_ne!(marked, SHEET);
        let text = marked.replace('‸', "");
        editor.change(version, &text);
        let list = editor.at("textDocument/completion", &text, &marked[..marked.find('‸').unwrap() + '‸'.len_utf8()]);
        let labels = list["items"].as_array().unwrap().iter().map(|item| item["label"].as_str().unwrap().to_owned());
        labels.collect::<Vec<_>>()
    };
    let has = |labels: &[String], wanted: &[&str], unwanted: &[&str]| {
        for label in wanted {
            assert!(labels.iter().any(|other| other == label), "no {label} in {labels:?}");
        }
        for label in unwanted {
            assert!(labels.iter().all(|other| other != label), "{label} in {labels:?}");
        }
    };
    let end = "keep pulse.pulse above 5 s";
    has(
        &offered(end, &format!("{end} \"x\"\ny = ")),
        &["R_t", "t_on", "pulse.pulse", "sqrt", "π", "timing.one_shot"],
        &["keep", "title", "later"],
    );
    has(&offered(end, &format!("{end} \"x\"\n")), &["keep", "solve", "choose"], &["then"]);
    has(&offered(end, &format!("{end} \"x\"\ny = R")), &["R_t"], &["t_on", "sqrt"]);
    has(
        &offered(end, &format!("{end} \"x\"\ny = pulse.")),
        &["pulse.pulse", "pulse.recovery"],
        &["R_t", "timing.one_shot"],
    );
    has(&offered(end, &format!("{end} \"x\"\ny = timing.")), &["timing.one_shot", "timing.astable"], &["R_t"]);
    has(&offered(end, &format!("{end} \"x\"\ny = 22 k")), &["kΩ", "kHz", "kV"], &["keep", "k_B", "R_t"]);
    has(&offered(end, &format!("{end} \"x\"\ny = 22k")), &["kΩ"], &["k_B"]);
    has(&offered(end, &format!("{end} \"x\"\ny [")), &["Ω", "mA"], &["R_t"]);
    has(&offered(end, &format!("{end} \"x\"\ny = timing.one_shot(")), &["resistance", "supply"], &["R_t"]);
    has(&offered(end, &format!("{end} \"x\"\ny = timing.one_shot(resistance = R_t, s")), &["supply"], &["resistance"]);
    has(&offered(end, &format!("{end} \"x\"\ny = timing.one_shot(resistance = ")), &["R_t"], &["supply"]);
    has(&offered("It lasts {t_on}", "It lasts {"), &["t_on", "later"], &["sqrt", "keep"]);
    has(&offered("It lasts {t_on}", "It lasts "), &[], &["t_on"]);
    has(&offered("It lasts {t_on}", "```"), &["calc", "rust calc", "transient"], &["t_on"]);
    has(&offered("title = ", "s"), &["samples", "seed", "summary"], &["title", "R_t"]);
    has(&offered("title = ", ""), &["digits"], &["R_t"]);
}

#[test]
fn what_is_no_protocol_is_refused_and_the_session_goes_on() {
    let mut editor = Editor::spawned();
    assert_eq!(editor.error("textDocument/hover", json!({})), -32002, "before initialize");
    editor.notify("textDocument/didOpen", json!({"textDocument": {"uri": URI, "text": "x"}}));
    editor.initialize();
    assert_eq!(editor.error("initialize", json!({})), -32600);
    assert_eq!(editor.error("textDocument/rename", json!({})), -32601);
    for params in [Value::Null, json!([]), json!({}), json!({"textDocument": 3}), json!({"textDocument": {"uri": 4}})] {
        assert_eq!(editor.error("textDocument/hover", params), -32602);
    }
    let elsewhere = json!({"textDocument": {"uri": "file:///nowhere.md"}, "position": {"line": 0, "character": 0}});
    assert_eq!(editor.ask("textDocument/hover", elsewhere), Value::Null);
    editor.open("a.md", SHEET);
    for position in [json!({}), json!({"line": -1, "character": 0}), json!({"line": 0}), json!("x")] {
        assert_eq!(
            editor.error("textDocument/completion", json!({"textDocument": {"uri": URI}, "position": position})),
            -32602
        );
    }
    for (line, character) in [(9999, 0), (0, 9999), (u64::MAX, u64::MAX), (4, 3)] {
        let params = json!({"textDocument": {"uri": URI}, "position": {"line": line, "character": character}});
        for method in ["textDocument/hover", "textDocument/completion", "textDocument/definition"] {
            editor.ask(method, params.clone());
        }
    }
    for (raw, code) in [
        ("Content-Length: 3\r\n\r\n{x}", -32700),
        ("Content-Length: 2\r\n\r\n[]", -32600),
        ("Content-Length: 4\r\n\r\n\u{fffd}x", -32700),
        ("Content-Length: 8\r\n\r\n{\"ab\":1}", -32600),
        ("Content-Length: many\r\n\r\n", -32700),
    ] {
        editor.write(raw);
        let answer = editor.read();
        assert_eq!((&answer["id"], &answer["error"]["code"]), (&Value::Null, &code.into()), "{raw:?}");
        if raw.contains("many") {
            assert_eq!(editor.read()["error"]["code"], -32700, "the empty line is a head without a length");
        }
    }
    editor.notify("$/cancelRequest", json!({"id": 99}));
    editor.notify("no/such/notification", json!({}));
    editor.notify(
        "textDocument/didChange",
        json!({"textDocument": {"uri": URI, "version": 2}, "contentChanges": [{"text": 3}]}),
    );
    assert_eq!(editor.published()["version"], 2);
    editor.notify("exit", Value::Null);
    assert_eq!(editor.process.wait().unwrap().code(), Some(1), "it was not shut down before");

    let mut editor = Editor::started();
    editor.input = None;
    assert_eq!(editor.process.wait().unwrap().code(), Some(1));
}

/// Whatever is typed into the demonstration worksheets, every place that is told lies in the text, and the session goes on.
#[test]
fn no_edit_ends_a_session_or_names_a_place_outside_the_text() {
    let edits = amount("BENCHLEAF_EDITS", 60);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../worksheets");
    let mut sheets: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    sheets.sort();
    let mut random = Random(20_260_101);
    let mut editor = Editor::started();
    let (mut version, mut told) = (1, 0);
    let mut text = sheets[0].clone();
    editor.open("a.md", &text);
    for edit in 0..edits {
        if edit % 12 == 0 {
            text = sheets[random.below(sheets.len())].clone();
        }
        text = random.edited(&text, &sheets);
        version += 1;
        let said = editor.change(version, &text);
        let mut ranges = Vec::new();
        ranges_of(&said, &mut ranges);
        told += ranges.len();
        let at = random.place(&text);
        let params = json!({"textDocument": {"uri": URI}, "position": position(&text, at)});
        for method in
            ["textDocument/hover", "textDocument/completion", "textDocument/definition", "textDocument/documentSymbol"]
        {
            ranges_of(&editor.ask(method, params.clone()), &mut ranges);
        }
        for range in ranges {
            let (start, end) = (utf16_place(&text, &range["start"]), utf16_place(&text, &range["end"]));
            assert!(start.is_some() && end.is_some() && start <= end, "edit {edit}: {range} is not in the text");
        }
    }
    assert!(told > edits, "hardly anything was told: {told}");
}

/// An editor that has started the program.
struct Editor {
    process: Child,
    /// Nothing once it is closed.
    input: Option<ChildStdin>,
    output: BufReader<ChildStdout>,
    asked: i64,
    bench: Bench,
}

impl Editor {
    fn spawned() -> Self {
        let bench = Bench::new();
        let mut process = bench.command(&["lsp"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let (input, output) = (process.stdin.take(), BufReader::new(process.stdout.take().unwrap()));
        Self { process, input, output, asked: 0, bench }
    }

    fn started() -> Self {
        let mut editor = Self::spawned();
        editor.initialize();
        editor
    }

    fn initialize(&mut self) {
        self.initialize_with(json!({"processId": null, "rootUri": null, "capabilities": {}}));
    }

    fn initialize_with(&mut self, params: Value) {
        let said = self.ask("initialize", params);
        assert_eq!(said["capabilities"]["textDocumentSync"]["change"], 1);
        self.notify("initialized", json!({}));
    }

    fn send(&mut self, message: &Value) {
        let body = message.to_string();
        self.write(&format!("Content-Length: {}\r\n\r\n{body}", body.len()));
    }

    fn write(&mut self, raw: &str) {
        let input = self.input.as_mut().unwrap();
        input.write_all(raw.as_bytes()).unwrap();
        input.flush().unwrap();
    }

    fn read(&mut self) -> Value {
        let mut length = 0;
        loop {
            let mut line = String::new();
            assert!(self.output.read_line(&mut line).unwrap() > 0, "the server has ended");
            if let Some(value) = line.strip_prefix("Content-Length: ") {
                length = value.trim().parse().unwrap();
            }
            if line == "\r\n" {
                break;
            }
        }
        let mut body = vec![0; length];
        self.output.read_exact(&mut body).unwrap();
        serde_json::from_slice(&body).unwrap()
    }

    fn answer(&mut self, method: &str, params: Value) -> Value {
        self.asked += 1;
        let id = self.asked;
        self.send(&json!({"jsonrpc": "2.0", "id": id, "method": method, "params": params}));
        loop {
            let message = self.read();
            if message["id"] == id {
                return message;
            }
        }
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        let answer = self.answer(method, params);
        assert!(answer.get("error").is_none(), "{method}: {answer}");
        answer["result"].clone()
    }

    fn error(&mut self, method: &str, params: Value) -> i64 {
        self.answer(method, params)["error"]["code"].as_i64().unwrap()
    }

    fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({"jsonrpc": "2.0", "method": method, "params": params}));
    }

    fn published(&mut self) -> Value {
        loop {
            let message = self.read();
            if message["method"] == "textDocument/publishDiagnostics" {
                return message["params"].clone();
            }
        }
    }

    fn open(&mut self, _: &str, text: &str) -> Value {
        self.notify(
            "textDocument/didOpen",
            json!({"textDocument": {"uri": URI, "languageId": "markdown", "version": 1, "text": text}}),
        );
        self.published()
    }

    fn change(&mut self, version: i64, text: &str) -> Value {
        self.notify(
            "textDocument/didChange",
            json!({"textDocument": {"uri": URI, "version": version}, "contentChanges": [{"text": text}]}),
        );
        let said = self.published();
        assert_eq!(said["version"], version);
        said
    }

    /// Asks about the place of `‸` in a part of the text.
    fn at(&mut self, method: &str, text: &str, marked: &str) -> Value {
        let at = marked.find('‸').unwrap();
        let start = text.find(&marked.replace('‸', "")).unwrap();
        self.ask(method, json!({"textDocument": {"uri": URI}, "position": position(text, start + at)}))
    }
}

impl Drop for Editor {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Random {
    fn place(&mut self, text: &str) -> usize {
        let at = self.below(text.len() + 1);
        (0..=at).rev().find(|at| text.is_char_boundary(*at)).unwrap()
    }

    fn edited(&mut self, text: &str, sheets: &[String]) -> String {
        let (a, b) = (self.place(text), self.place(text));
        let (start, end) = (a.min(b), a.max(b));
        let near = start + text[start..].char_indices().nth(self.below(9)).map_or(0, |(at, _)| at);
        let other = &sheets[self.below(sheets.len())];
        match self.below(8) {
            0 => [&text[..start], &text[near..]].concat(),
            1 => [&text[..start], &text[end..]].concat(),
            2 => [&text[..start], WORDS[self.below(WORDS.len())], &text[start..]].concat(),
            3 => [&text[..start], WORDS[self.below(WORDS.len())], &text[near..]].concat(),
            4 => {
                let line = other.lines().nth(self.below(other.lines().count())).unwrap_or_default();
                [&text[..start], "\n", line, "\n", &text[start..]].concat()
            }
            5 => text.replacen('\n', ["\r\n", "\r", "\n\n"][self.below(3)], self.below(40)),
            6 => text[..start].to_owned(),
            _ => text.replacen(" = ", [" == ", " [V] = ", "=", " "][self.below(4)], self.below(4)),
        }
    }
}

fn position(text: &str, at: usize) -> Value {
    let before = text[..at].replace("\r\n", "\n").replace('\r', "\n");
    let line = before.matches('\n').count();
    let last = before.rsplit('\n').next().unwrap();
    json!({"line": line, "character": last.encode_utf16().count()})
}

/// A place in the text as line and unit, if it is one; in plain counting that knows nothing of the server's.
fn utf16_place(text: &str, place: &Value) -> Option<(usize, usize)> {
    let plain = text.replace("\r\n", "\n").replace('\r', "\n");
    let (line, unit) = (place["line"].as_u64()? as usize, place["character"].as_u64()? as usize);
    let units: Vec<u16> = plain.split('\n').nth(line)?.encode_utf16().collect();
    let splits_pair = units.get(unit).is_some_and(|unit| (0xdc00..0xe000).contains(unit));
    (unit <= units.len() && !splits_pair).then_some((line, unit))
}

fn ranges_of(value: &Value, found: &mut Vec<Value>) {
    match value {
        Value::Object(fields) => {
            for (name, inner) in fields {
                if name == "range" || name == "selectionRange" {
                    found.push(inner.clone());
                } else {
                    ranges_of(inner, found);
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| ranges_of(item, found)),
        _ => {}
    }
}

const URI: &str = "file:///sheets/a.md";

const SHEET: &str = "+++\ntitle = \"A 𝄞 pulse\"\n+++\n\n# A 𝄞 pulse\n\n```calc\nR_t = 1 MΩ ± 5 % \"timing resistor\"\nC_t = 22 µF -20 % +50 % \"timing capacitor\"\n\
    t_on [s] = R_t * C_t * ln(3) \"pulse\"\npulse = timing.one_shot(resistance = R_t, capacitance = C_t, supply = 12 V)\n\
    keep pulse.pulse above 5 s \"long enough\"\n```\n\n## Parts\n\nIt lasts {t_on}.\n\n```calc\nlater = 2 * t_on\n```\n";

const WORDS: &[&str] = &[
    "```",
    "```calc\n",
    "+++\n",
    "{",
    "}",
    "{t_on}",
    "𝄞",
    "\u{301}",
    "\u{202e}",
    "\0",
    "\t",
    "(",
    ")",
    "[",
    "]",
    "\"",
    " ± ",
    " ± 5 %",
    "R_t",
    "keep ",
    " = ",
    "1e308",
    "22 µF",
    "\u{feff}",
    "# ",
    "\n\n",
    "-20 % +50 %",
    "timing.one_shot(",
    "@R1",
    "|",
    "~~~",
    "<!--",
    "regulator.",
];
