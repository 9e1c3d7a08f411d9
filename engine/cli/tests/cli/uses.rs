//! Worksheets that use one another, as files: every command reads them, and a page carries what it needs.

use std::{collections::BTreeMap, fmt::Write};

use serde_json::Value as Json;

use crate::bench::{Bench, Random, amount};

const BASE: &str = "# The base\n\n```calc\nR = 100 kΩ ± 10 % \"timing resistor\"\nt [s] = R * 10 µF \"pulse\"\n```\n";
const TOP: &str = "# The top\n\n```calc\nuse \"base.md\": t, R\nratio [µF] = t / R\nkeep t below 1.2 s\n```\n\n```exercise e\nask \"Twice?\"\nanswer [s] = 2 * t within 1 %\n```\n";

#[test]
fn a_page_carries_the_worksheets_that_it_uses() {
    let bench = Bench::with(&[("base.md", BASE), ("top.md", TOP)]);
    bench.run(&["render", "top.md", "-o", "out"]).exits(0);
    let page = bench.read("out/top.html");
    assert!(page.contains("<a href=\"base.html\">The base</a>"), "{page}");
    // Without the files beside it, and though they are others by now.
    bench.put("base.md", BASE.replace("100 kΩ", "50 kΩ"));
    bench.run(&["verify", "out/top.html"]).exits(0);
    assert_eq!(bench.run(&["source", "out/top.html"]).out, TOP);
    let differs = bench.run(&["diff", "out/top.html", "top.md"]);
    assert!(differs.out.contains('t') && differs.out.contains("0.500"), "{}", differs.out);
    // A page that was changed by hand is found out.
    bench.put("out/top.html", page.replace("R = 100 kΩ", "R = 120 kΩ"));
    bench.run(&["verify", "out/top.html"]).exits(1);
}

#[test]
fn a_change_in_a_used_worksheet_sets_the_pages_anew_that_depend_on_it() {
    let apart = "# Apart\n\n```calc\nx = 1 V\n```\n";
    let bench = Bench::with(&[("sheets/base.md", BASE), ("sheets/top.md", TOP), ("sheets/apart.md", apart)]);
    bench.run(&["render", "sheets", "-o", "out"]).exits(0);
    let before = ["base", "top", "apart"].map(|name| bench.read(&format!("out/{name}.html")));
    bench.put("sheets/base.md", BASE.replace("100 kΩ", "130 kΩ"));
    bench.run(&["render", "sheets", "-o", "out"]).exits(0);
    let after = ["base", "top", "apart"].map(|name| bench.read(&format!("out/{name}.html")));
    assert!(before[0] != after[0] && before[1] != after[1] && before[2] == after[2]);
    assert!(after[1].contains("data-status=\"broken\""), "1.3 s is more than 1.2 s");
}

#[test]
fn every_command_takes_values_from_other_worksheets() {
    let answers = "learner,exercise,answer\nA,e,2 s\n";
    let bench = Bench::with(&[("base.md", BASE), ("top.md", TOP), ("answers.csv", answers)]);
    bench.run(&["check", "top.md"]).exits(0);
    let json = bench.run(&["check", "--json", "top.md"]).out;
    assert!(json.contains("\"from\":{\"file\":\"base.md\",\"name\":\"t\"}"), "{json}");
    bench.run(&["parts", "top.md"]).exits(0);
    let marked = bench.run(&["mark", "top.md", "answers.csv"]).exits(0);
    assert!(marked.out.contains("A,e,2 s,right"), "{}", marked.out);
    std::fs::remove_file(bench.path("base.md")).unwrap();
    let missing = bench.run(&["check", "top.md"]).exits(2);
    assert!(missing.err.contains("there is no worksheet `base.md`"), "{}", missing.err);
}

/// Folders of worksheets that use one another at random: in circles, files and names that are not there, under other names than before, by
/// links and paths that lead out. What rests on sound worksheets alone has the value that the test adds up; what names something
/// wrong has an error at that line. `BENCHLEAF_GRAPHS=3000` is a long run.
#[test]
fn no_folder_of_worksheets_ends_the_work_or_comes_to_something_else() {
    let mut random = Random(7);
    let mut counts = [0, 0, 0];
    for _ in 0..amount("BENCHLEAF_GRAPHS", 12) {
        let mut sheets = sheets(&mut random);
        let bench = Bench::new();
        bench.put("secret.md", "```calc\ny = 7777 V\n```\n");
        bench.put("sheets/README.md", "# Sheets\n");
        #[cfg(unix)]
        std::os::unix::fs::symlink(bench.path("secret.md"), bench.path("sheets/link.md")).unwrap();
        sheets.iter().for_each(|sheet| bench.put(&format!("sheets/{}", sheet.path), sheet.text()));
        compare(&bench, &sheets, &mut counts);
        // One is called otherwise from now on.
        let renamed = random.below(sheets.len());
        std::fs::remove_file(bench.path(&format!("sheets/{}", sheets[renamed].path))).unwrap();
        sheets[renamed].path = format!("renamed-{}", sheets[renamed].path.replace('/', "-"));
        bench.put(&format!("sheets/{}", sheets[renamed].path), sheets[renamed].text());
        compare(&bench, &sheets, &mut counts);
    }
    assert!(counts.iter().all(|count| *count > 10), "{counts:?}");
}

/// A worksheet: its own number, and what it uses.
struct Using {
    path: String,
    number: usize,
    uses: Vec<(String, &'static str)>,
}

impl Using {
    fn text(&self) -> String {
        let mut text = "```calc\n".to_owned();
        for (i, (path, name)) in self.uses.iter().enumerate() {
            let _ = writeln!(text, "use \"{path}\": {name} as u_{i}");
        }
        let sum: String = (0..self.uses.len()).map(|i| format!(" + u_{i}")).collect();
        let _ = writeln!(text, "x = {} V ± 1 %\ny [V] = x{sum}\nz = x\nkeep y below 1 GV\n```", self.number);
        text
    }

    /// The file that one of its paths leads to.
    fn leads_to(&self, path: &str) -> String {
        match self.path.rsplit_once('/') {
            Some((folder, _)) => format!("{folder}/{path}"),
            None => path.to_owned(),
        }
    }

    fn is_fault(path: &str, name: &str, all: &BTreeMap<&str, &Self>, to: &str) -> bool {
        path.contains("..") || path.starts_with('/') || !matches!(name, "x" | "y" | "z") || !all.contains_key(to)
    }

    /// What `y` comes to; nothing where it rests on something wrong or on itself. `looks` says at which worksheets it looks:
    /// at all that are used, or only at those whose results it takes.
    fn value(&self, all: &BTreeMap<&str, &Self>, looks: Looks, above: &mut Vec<String>) -> Option<f64> {
        if above.contains(&self.path) {
            return None;
        }
        above.push(self.path.clone());
        let mut sum = self.number as f64;
        for (path, name) in &self.uses {
            let to = self.leads_to(path);
            if Self::is_fault(path, name, all, &to) {
                return None;
            }
            let used = all.get(to.as_str())?;
            sum += match (*name, looks) {
                ("y", _) => used.value(all, looks, above)?,
                (_, Looks::AtAll) => used.value(all, looks, above).map(|_| used.number as f64)?,
                (_, Looks::WhereNeeded) => used.number as f64,
            };
        }
        above.pop();
        Some(sum)
    }
}

#[derive(Clone, Copy)]
enum Looks {
    AtAll,
    WhereNeeded,
}

fn sheets(random: &mut Random) -> Vec<Using> {
    let count = 2 + random.below(9);
    let path = |i: usize| format!("{}f{i}.md", ["", "", "d/", "d/e/"][i % 4]);
    let sheet = |i: usize| {
        let uses = (0..random.below(4)).map(|_| {
            let own = path(i);
            let folder = own.rsplit_once('/').map_or("", |(folder, _)| folder);
            // As a rule one that comes later, so that not all go in circles, and one that can be reached.
            let mut other =
                || if random.below(6) == 0 { random.below(count + 1) } else { i + 1 + random.below(count - i) };
            let to = (0..6).map(|_| path(other())).find(|to| to.starts_with(folder)).unwrap_or_else(|| path(i + 1));
            let within = to.strip_prefix(folder).map(|rest| rest.trim_start_matches('/').to_owned());
            let to = match random.below(60) {
                0 => "link.md".to_owned(),
                1 => "../secret.md".to_owned(),
                2 => "/etc/passwd.md".to_owned(),
                3 => format!("d/../{to}"),
                _ => within.unwrap_or(to),
            };
            (to, random.one_of(NAMES))
        });
        Using { path: path(i), number: i + 1, uses: uses.collect() }
    };
    (0..count).map(sheet).collect()
}

const CODES: [&str; 3] = ["E-use", "E-unknown-field", "E-depends-on-error"];
/// Two of them wrong.
const NAMES: &[&str] = &["y", "y", "y", "y", "y", "y", "x", "x", "x", "z", "z", "z", "w", "y.z"];

fn compare(bench: &Bench, sheets: &[Using], counts: &mut [usize; 3]) {
    let all: BTreeMap<&str, &Using> = sheets.iter().map(|sheet| (sheet.path.as_str(), sheet)).collect();
    let run = bench.run(&["check", "--json", "--samples", "100", "sheets"]);
    let texts = || sheets.iter().map(|sheet| format!("{}:\n{}", sheet.path, sheet.text())).collect::<String>();
    assert!(matches!(run.status, 0 | 2 | 3) && !run.err.contains("fault of Benchleaf"), "{}\n{}", run.err, texts());
    let mut seen = 0;
    for line in run.out.lines() {
        let report: Json = serde_json::from_str(line).unwrap();
        let name = report["worksheet"].as_str().unwrap();
        let Some(sheet) = all.get(name.trim_start_matches("sheets/")) else { continue };
        seen += 1;
        let value = report["values"].as_array().unwrap().iter().find(|value| value["name"] == "y");
        let problems = report["problems"].as_array().unwrap();
        let fault = sheet.uses.iter().position(|(path, name)| Using::is_fault(path, name, &all, &sheet.leads_to(path)));
        let value_when = |looks| sheet.value(&all, looks, &mut Vec::new());
        let found = value.and_then(|value| value["si"].as_f64());
        if let Some(wanted) = value_when(Looks::AtAll) {
            assert!(problems.is_empty(), "{name}: {problems:?}\n{}", texts());
            assert_eq!(found, Some(wanted), "{name}\n{}", texts());
            counts[0] += 1;
        } else if let Some(at) = fault {
            // A field of a value that failed is not looked for.
            let is_told = |problem: &Json| {
                problem["line"] == at + 2 && problem["code"].as_str().is_some_and(|code| CODES.contains(&code))
            };
            assert!(problems.iter().any(is_told), "{name}, line {}: {problems:?}\n{}", at + 2, texts());
            counts[1] += 1;
        } else if problems.is_empty() {
            // What is wrong elsewhere keeps nothing away from it.
            assert_eq!(found, value_when(Looks::WhereNeeded), "{name}\n{}", texts());
            assert!(found.is_some(), "{name}\n{}", texts());
        } else {
            counts[2] += 1;
        }
    }
    assert_eq!(seen, sheets.len(), "{}\n{}", run.out, texts());
}
