//! What mutation begins with: every worksheet, chapter and message of the project, and the parts of these.

use std::{fs, path::Path, sync::LazyLock};

/// Whole texts, and their parts: a few blocks each with what stands before them.
pub(super) static SEEDS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut seeds = Vec::new();
    for folder in ["../worksheets", "../book", "messages", "."] {
        let mut paths: Vec<_> =
            fs::read_dir(tests.join(folder)).expect(folder).map(|entry| entry.expect("an entry").path()).collect();
        paths.sort();
        for path in paths.iter().filter(|path| path.extension().is_some_and(|ending| ending == "md")) {
            seeds.extend(parts(&fs::read_to_string(path).expect("a text")));
        }
    }
    seeds.push(EXERCISES.to_owned());
    seeds
});

/// A text's blocks, three and three in their order, with the prose before each.
fn parts(text: &str) -> Vec<String> {
    let mut blocks = Vec::new();
    let (mut block, mut fence) = (String::new(), None);
    for line in text.split_inclusive('\n') {
        let ticks = line.len() - line.trim_start_matches('`').len();
        block.push_str(line);
        match fence {
            None if ticks >= 3 => fence = Some(ticks),
            Some(opened) if ticks >= opened && line.trim() == "`".repeat(ticks) => {
                fence = None;
                // Blocks that are shown as text only say what the next one does.
                let block = std::mem::take(&mut block);
                if !block.contains("````text") {
                    blocks.push(block);
                }
            }
            _ => {}
        }
    }
    blocks.push(block);
    let mut parts: Vec<String> = blocks.chunks(3).map(<[String]>::concat).collect();
    parts.extend(blocks.into_iter().filter(|block| block.len() < 600));
    parts.retain(|part| !part.trim().is_empty());
    parts
}

/// Exercises of every sort.
pub(super) const EXERCISES: &str = "```calc\nR_t = 910 kΩ ± 5 % \"timing resistor\"\nt_on [s] = R_t * 22 µF * ln(3) \"pulse\"\n```\n\n\
    ```exercise pulse\nask \"How long with {R_t}?\"\nanswer [s] = t_on within 2 %\nslip \"used ln 2 for ln 3\" = R_t * 22 µF * ln(2)\n\
    hint \"One.\"\npoints 2\nvary R_t in 100 kΩ … 820 kΩ E24\n```\n\n```exercise current\nask \"What current?\"\nanswer = 12 V / R_t\n```\n";
