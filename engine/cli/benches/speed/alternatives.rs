//! A worksheet with two builds side by side against the same worksheet without them.

use benchleaf_core::{Evaluator, parallel::with_threads};

use crate::paired::{measure, ms};

pub(crate) fn table() -> String {
    let source = include_str!("../../../../worksheets/whole-mister.md");
    let both = format!("{source}\n```builds\n{BUILDS}```\n");
    let evaluate = |source: &str| Evaluator::default().evaluate(source);
    let paired = with_threads(1, || measure(15, || evaluate(source), || evaluate(&both)));
    let (one, two) = paired.least();
    format!(
        "| one build / ms | two builds / ms | ratio: least | median |\n| ---: | ---: | ---: | ---: |\n| {} | {} | {} |\n",
        ms(one),
        ms(two),
        paired.ratio()
    )
}

/// The second one changes what the rail, the dose and the heat hang on.
const BUILDS: &str = "build \"as it is\"\nbuild \"other\": V_ad = 9 V ± 3 %, C_t = 42.5 µF ± 1 %, R_motor = 7 Ω ± 5 %, T_box = min 10 °C typ 25 °C max 35 °C\n\
    compare D_chip, low.headroom, hot.junction, E_idle, part, switch.junction\n";
