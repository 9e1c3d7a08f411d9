//! A site of a thousand small worksheets in twenty folders, made whole and made again with nothing changed, against writing as
//! many files of a page's size.

use std::{fmt::Write, fs};

use crate::{
    paired::{measure, ms},
    process::{benchleaf, files, run},
};

pub(crate) fn table() -> String {
    let folder = tempfile::tempdir().unwrap();
    for i in 0..WORKSHEETS {
        let section = folder.path().join(format!("part-{:02}", i % 20));
        fs::create_dir_all(&section).unwrap();
        fs::write(section.join(format!("sheet-{i:04}.md")), small(i)).unwrap();
    }
    let render = |fresh: &[&str]| {
        let arguments = [&["render", ".", "-o", "site", "--base-url", "https://example.org/"], fresh].concat();
        run(benchleaf(folder.path(), &arguments));
    };
    let mut text = format!(
        "| {WORKSHEETS} small worksheets | writing alone / ms | ours / ms | ratio, least | ratio, median |\n\
         | --- | ---: | ---: | ---: | ---: |\n"
    );
    for (name, fresh) in [("all made", &["--fresh"][..]), ("nothing changed", &[])] {
        let paired = measure(ROUNDS, || files(folder.path(), 2), || render(fresh));
        let (floor, subject) = paired.least();
        let _ = writeln!(text, "| {name} | {} | {} | {} |", ms(floor), ms(subject), paired.ratio());
    }
    text
}

fn small(i: usize) -> String {
    let (r, c) = ([10, 22, 47, 100][i % 4], [10, 22, 47][i % 3]);
    format!(
        "+++\ntitle = \"One-shot {i}\"\nsummary = \"The pulse of {r} kΩ and {c} µF.\"\ndate = 2026-01-{:02}\norder = {i}\n+++\n\n\
         ## The pulse\n\n```calc\nR_t = {r} kΩ ± 5 % \"timing resistor\"\nC_t = {c} µF ± 20 % \"timing capacitor\"\n\
         t_on [s] = R_t * C_t * ln(3) \"length of the pulse\"\nkeep t_on below 9 s \"not too long\"\n```\n\n\
         It lasts {{t_on}}. See [this](#the-pulse).\n",
        1 + i % 28
    )
}

const WORKSHEETS: usize = 1000;
const ROUNDS: u32 = 5;
