//! Circuits: what their nodes and branches come to, against closed forms, against a dense solve by `numpy` on random networks
//! (`tests/reference/circuits.py`), and against the handbook; and what is said of networks that have no solution.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::disallowed_methods)]

use benchleaf_core::{
    Evaluator,
    host::NoHost,
    results::{Evaluation, Status},
};
use benchleaf_publish::folder::Folder;
use benchleaf_tests::{Random, close, codes, nominal, outside, range};
use serde_json::json;

fn evaluated(above: &str, circuit: &str, below: &str) -> Evaluation {
    let source = format!("```calc\n{above}\n```\n\n```circuit\n{circuit}\n```\n\n```calc\n{below}\n```\n");
    Evaluator::default().evaluate(&source)
}

fn sound(above: &str, circuit: &str, below: &str) -> Evaluation {
    let it = evaluated(above, circuit, below);
    assert!(it.problems.is_empty(), "{circuit}\n{below}\n{:#?}", it.problems);
    it
}

#[test]
fn a_divider_is_what_its_formula_says_with_range_and_shares() {
    let it = sound(
        "V_s = 12 V ± 5 %\nR_1 = 10 kΩ ± 1 %\nR_2 = 4.7 kΩ ± 5 %",
        "rail V_s\nnet middle\nV_s -> R_1 -> middle -> R_2 -> ground",
        "V_m = V(middle)\nV_f = V_s * R_2 / (R_1 + R_2)\nI_m = I(R_1)\nagree V_m with V_f within 1 %",
    );
    close(nominal(&it, "V_m"), 12.0 * 4.7 / 14.7, 1e-14);
    close(nominal(&it, "I_m"), 12.0 / 14.7e3, 1e-14);
    let ends = |v: f64, r1: f64, r2: f64| v * r2 / (r1 + r2);
    let (low, high) = range(&it, "V_m");
    close(low, ends(11.4, 10.1, 4.465), 1e-12);
    close(high, ends(12.6, 9.9, 4.935), 1e-12);
    assert_eq!(it.keeps[0].status, Status::Holds, "{:?}", it.keeps[0]);
    // The builds are the same, so that the two have the same spread and the same shares.
    let (by_circuit, by_hand) = (it.value("V_m").unwrap(), it.value("V_f").unwrap());
    close(by_circuit.spread.unwrap().std.unwrap(), by_hand.spread.unwrap().std.unwrap(), 1e-12);
    for (one, other) in by_circuit.shares.iter().zip(&by_hand.shares) {
        assert_eq!(one.name, other.name);
        assert!((one.first - other.first).abs() < 1e-9);
    }
    assert!(by_circuit.shares.len() == 3);
}

#[test]
fn a_bridge_has_the_voltage_of_its_two_dividers() {
    let it = sound(
        "V_s = 5 V\nR_1 = 100 Ω\nR_2 = 120 Ω\nR_3 = 330 Ω\nR_4 = 470 Ω\nR_5 = 1 kΩ",
        "rail V_s\nnet left right\nV_s -> R_1 -> left -> R_2 -> ground\nV_s -> R_3 -> right -> R_4 -> ground\nleft -> R_5 -> right",
        "I_5 = I(R_5)\nU = V(left, right)\nI_s = I(R_1) + I(R_3)",
    );
    // Thévenin's theorem, from left to right.
    let open = 5.0 * 120.0 / 220.0 - 5.0 * 470.0 / 800.0;
    let inner = 100.0 * 120.0 / 220.0 + 330.0 * 470.0 / 800.0;
    close(nominal(&it, "I_5"), open / (inner + 1000.0), 1e-12);
    close(nominal(&it, "U"), 1000.0 * open / (inner + 1000.0), 1e-12);
}

#[test]
fn a_ladder_of_equal_parts_divides_as_fibonacci_numbers() {
    // Ten sections of R in series and R to ground: the last node has V / F(20) of V·F(1), F being Fibonacci's numbers.
    let nodes: Vec<String> = (1..=10).map(|i| format!("n{i}")).collect();
    let mut lines = vec!["rail V_s".to_owned(), format!("net {}", nodes.join(" "))];
    let mut before = "V_s".to_owned();
    for (i, node) in nodes.iter().enumerate() {
        lines.push(format!("{before} -> R @S{i} -> {node} -> R @P{i} -> ground"));
        before.clone_from(node);
    }
    let it = sound("V_s = 10946 V\nR = 1 kΩ", &lines.join("\n"), "V_last = V(n10)\nV_first = V(n1)\nI_s = I(@S0)");
    // F(21) = 10946.
    close(nominal(&it, "V_last"), 1.0, 1e-12);
    close(nominal(&it, "V_first"), 4181.0, 1e-12);
    close(nominal(&it, "I_s"), (10946.0 - 4181.0) / 1000.0, 1e-12);
}

#[test]
fn drops_sources_and_loads_are_what_they_say() {
    let it = sound(
        "V_s = 9 V\nV_LED = 2 V\nR = 350 Ω\nI_l = 10 mA\nV_b = 1.5 V\nR_i = 0.5 Ω\nR_on = 0.1 Ω\nV_g = 5 V",
        "rail V_s\nnet tap cell x gate\nV_s -> R -> led V_LED @D1 -> ground\nV_s -> R @R2 -> tap -> load I_l @G1 -> ground\n\
         ground -> battery V_b @B1 reversed -> cell -> R_i -> x -> R @R3 -> ground\n\
         V_s -> R @R4 -> fuse @F1 -> switch @S1 closed -> nmos R_on @Q1 -> ground\ndrive gate at V_g\n@Q1.gate -> gate",
        "I_LED = I(@D1)\nV_tap = V(tap)\nI_b = I(@B1)\nV_x = V(x)\nV_d = V(@Q1.drain)\nI_F = I(@F1)\nI_g = I(@Q1.gate)\nI_src = I(@Q1.source)",
    );
    close(nominal(&it, "I_LED"), 7.0 / 350.0, 1e-13);
    close(nominal(&it, "V_tap"), 9.0 - 3.5, 1e-13);
    // Into the battery's plus flows what leaves it with the sign turned.
    close(nominal(&it, "I_b"), -1.5 / 350.5, 1e-13);
    close(nominal(&it, "V_x"), 1.5 * 350.0 / 350.5, 1e-13);
    close(nominal(&it, "V_d"), 9.0 * 0.1 / 350.1, 1e-12);
    close(nominal(&it, "I_F"), 9.0 / 350.1, 1e-12);
    close(nominal(&it, "I_src"), -9.0 / 350.1, 1e-12);
    assert_eq!(nominal(&it, "I_g"), 0.0);
}

#[test]
fn a_saturated_transistor_agrees_with_the_handbook() {
    let above = "V_rail = 9 V ± 4 %\nV_pin = min 7 V typ 7.6 V max 8 V\nV_BE = 0.72 V\nV_CE = 0.15 V\nR_coil = 145 Ω ± 10 %\nR_b = 1.5 kΩ ± 5 %\n\
        q = driver.bjt_switch(drive = V_pin, base_resistance = R_b, base_emitter = V_BE, saturation = V_CE, supply = V_rail, load_resistance = R_coil)";
    let circuit = "rail V_rail\nchip @U1 \"timer\": right out; bottom gnd\n@U1.gnd -> ground\n@U1.out -> R_b -> @Q1.base\n\
        V_rail -> coil R_coil @K1 -> npn V_BE V_CE @Q1 -> ground\ndiode @D1 across @K1, reversed\ndrive @U1.out at V_pin";
    let below = "I_b = I(R_b)\nI_c = I(@Q1.collector)\nI_e = I(@Q1.emitter)\nI_pin = I(@U1.out)\nV_b = V(@Q1.base)\n\
        agree (V_pin - V_BE) / R_b with I(R_b) within 0.01 %\nagree 2 * I_b with I(R_b) within 1 %";
    let it = evaluated(&above.lines().take(6).collect::<Vec<_>>().join("\n"), circuit, below);
    assert!(it.problems.is_empty(), "{:#?}", it.problems);
    close(nominal(&it, "I_b"), (7.6 - 0.72) / 1500.0, 1e-12);
    close(nominal(&it, "I_c"), (9.0 - 0.15) / 145.0, 1e-12);
    close(nominal(&it, "I_e"), -(nominal(&it, "I_b") + nominal(&it, "I_c")), 1e-12);
    close(nominal(&it, "I_pin"), -nominal(&it, "I_b"), 1e-12);
    close(nominal(&it, "V_b"), 0.72, 1e-14);
    let (low, high) = range(&it, "I_b");
    close(low, (7.0 - 0.72) / 1575.0, 1e-12);
    close(high, (8.0 - 0.72) / 1425.0, 1e-12);
    assert_eq!([it.keeps[0].status, it.keeps[1].status], [Status::Holds, Status::Broken]);
    close(it.keeps[1].nominal, 1.0, 1e-12);
}

/// The demonstration's own circuit against the handbook's models beside it.
#[test]
fn the_pumps_switch_agrees_with_the_handbook() {
    let path = outside::tests().join("../worksheets/driver.md");
    let source = std::fs::read_to_string(&path).unwrap();
    let it = Evaluator::default().host(&Folder::of(&path, &NoHost)).evaluate(&source);
    // The model leaves out the drain's voltage, 17 mV of 6.9 V.
    let (drawn, model) = (nominal(&it, "I_D2"), nominal(&it, "led.current"));
    let left_out = nominal(&it, "V_drain") / nominal(&it, "R_LED");
    close(drawn + left_out, model, 1e-12);
    // Its on-resistance has grown with its heat by a few per cent.
    let drop = nominal(&it, "run.drop");
    let drain = nominal(&it, "V_drain");
    assert!((1.0..1.1).contains(&(drop / drain * 1.02)), "{drop} {drain}");
}

/// `agree` knows one function in two ways of writing, and two functions that are close.
#[test]
fn agreement_is_of_functions() {
    let circuit = "rail V_s\nnet middle\nV_s -> R_1 -> middle -> R_2 -> ground\nmiddle -> R_3 -> ground";
    let given = "V_s = 12 V ± 5 %\nR_1 = 10 kΩ ± 5 %\nR_2 = 4.7 kΩ ± 5 %\nR_3 = 22 kΩ ± 10 %";
    let below = "agree V_s * (R_2 ∥ R_3) / (R_1 + R_2 ∥ R_3) with V(middle) within 1 ppm\n\
        agree V_s * R_2 / (R_1 + R_2) with V(middle) within 5 %\nagree 1.0001 * V(middle) with V(middle) within 1 ppm";
    let it = sound(given, circuit, below);
    assert_eq!(it.keeps[0].status, Status::Holds);
    assert!(it.keeps[0].proven && it.keeps[0].nominal == 0.0);
    assert_eq!([it.keeps[1].status, it.keeps[2].status], [Status::Broken; 2]);
    let (r2, r3) = (4.7e3, 22e3);
    let (alone, loaded) = (r2 / (10e3 + r2), (r2 * r3 / (r2 + r3)) / (10e3 + r2 * r3 / (r2 + r3)));
    close(it.keeps[1].nominal, alone / loaded - 1.0, 1e-9);
    close(it.keeps[2].nominal, 1e-4, 1e-9);
}

/// Networks that have no solution are said to have none, by name.
#[test]
fn what_cannot_be_solved_names_the_nets() {
    let one = |above: &str, circuit: &str, below: &str, wanted: &str| {
        let it = evaluated(above, circuit, below);
        let said: Vec<String> = it.problems.iter().map(|problem| problem.message.english()).collect();
        assert!(said.iter().any(|said| said.contains(wanted)), "{wanted}: {said:?}");
        assert!(it.value("x").is_none());
    };
    let given = "V_s = 9 V\nV_b = 3 V\nR_1 = 1 kΩ\nR_2 = 1 kΩ\nC_1 = 1 µF\nV_F = 0.7 V";
    let rail = "rail V_s\nnet a b\n";
    one(
        given,
        &format!("{rail}V_s -> C_1 -> a -> R_1 -> b -> capacitor @C2 -> ground"),
        "x = V(a)",
        "nothing fixes the potential of `a`",
    );
    let island =
        format!("{rail}ground -> battery V_b @B1 reversed -> a\na -> battery V_b @B2 -> ground\na -> R_1 -> ground");
    one(given, &island, "x = V(a)", "form a loop");
    one(given, &island, "x = I(@B1)", "is not determined");
    one(
        given,
        &format!("{rail}V_s -> R_1 -> a -> npn @Q1 -> ground\n@Q1.base -> R_2 -> b"),
        "x = V(a)",
        "what flows through `Q1` is not known",
    );
    one(given, &format!("{rail}V_s -> R_1 -> a -> resistor @R9 -> ground"), "x = V(a)", "`R9` is not known");
    one(
        given,
        &format!("{rail}chip @U1 \"c\": right out\n@U1.out -> R_1 -> a -> R_2 -> ground"),
        "x = V(a)",
        "the voltage of its pin `out` is not said",
    );
    one(
        "R_1 = 1 kΩ\nR_2 = 1 kΩ",
        "rail V_s\nnet a\nV_s -> R_1 -> a -> R_2 -> ground",
        "x = V(a)",
        "the potential of `V_s` is not known",
    );
    one(given, &format!("{rail}V_s -> R_1 -> a -> R_2 -> ground"), "x = V(c)", "no circuit above has `c`");
    one(given, &format!("{rail}V_s -> R_1 -> a -> R_2 -> ground"), "x = I(a)", "a current flows through a part");
}

/// What was taken for granted and is not so.
#[test]
fn junctions_that_behave_otherwise_are_seen() {
    let given = "V_s = 9 V\nV_low = 1 V ± 50 %\nV_F = 0.7 V\nR_1 = 1 kΩ\nR_2 = 1 kΩ\nx = 1";
    let warned = |circuit: &str, below: &str| {
        let it = evaluated(given, circuit, below);
        it.problems.iter().map(|problem| (problem.code.text(), problem.message.english())).collect::<Vec<_>>()
    };
    let conducts = warned("rail V_s\nnet a\nV_s -> R_1 -> a -> diode @D1 -> ground", "y = V(a)");
    assert!(
        conducts.iter().any(|(_, said)| said.contains("`D1` is taken to block, but it would conduct")),
        "{conducts:?}"
    );
    let blocks = warned("rail V_s\nnet a\nground -> R_1 -> a -> diode V_F @D1 -> V_s", "y = V(a)");
    assert!(blocks.iter().any(|(_, said)| said.contains("would flow backwards")), "{blocks:?}");
    let somewhere = warned("rail V_low\nnet a\nV_low -> R_1 -> a -> diode V_F @D1 -> ground", "y = V(a)");
    assert!(
        somewhere.iter().any(|(_, said)| said.contains("backwards, somewhere within the tolerances")),
        "{somewhere:?}"
    );
    let sound = warned(
        "rail V_s\nnet a\nV_s -> R_1 -> a -> diode V_F @D1 -> ground\nV_s -> R_2 -> diode @D2 reversed -> ground",
        "y = V(a)",
    );
    assert_eq!(sound, []);
}

/// A random network as a worksheet, and as conductances, currents and known potentials.
fn network(random: &mut Random) -> (String, String, usize, serde_json::Value) {
    let nodes = 2 + random.below(14) as usize;
    let number = |random: &mut Random, low: f64, high: f64| low * (high / low).powf(random.share());
    let (mut givens, mut lines) = (vec!["V_s = 9 V".to_owned()], vec!["rail V_s".to_owned()]);
    lines.push(format!("net {}", (0..nodes).map(|n| format!("n{n}")).collect::<Vec<_>>().join(" ")));
    let (mut resistors, mut loads, mut sources) = (Vec::new(), Vec::new(), Vec::new());
    let name = |node: usize| match node {
        0 => "ground".to_owned(),
        1 => "V_s".to_owned(),
        node => format!("n{}", node - 2),
    };
    let mut resistor = |random: &mut Random, a: usize, b: usize| {
        let at = resistors.len();
        let ohms = number(random, 10.0, 1e5);
        givens.push(format!("R_{at} = {ohms} Ω"));
        lines.push(format!("{} -> R_{at} -> {}", name(a), name(b)));
        resistors.push(json!([a, b, ohms]));
    };
    // Every node hangs on one before it, so that nothing floats.
    for node in 2..nodes + 2 {
        let to = random.below(node as u64) as usize;
        resistor(random, node, to);
    }
    for _ in 0..random.below(2 * nodes as u64) {
        let (a, b) = (random.below(nodes as u64 + 2) as usize, random.below(nodes as u64 + 2) as usize);
        if a != b {
            resistor(random, a, b);
        }
    }
    for at in 0..random.below(3) {
        let (a, b) = (random.below(nodes as u64 + 2) as usize, 2 + random.below(nodes as u64) as usize);
        let amperes = number(random, 1e-6, 1e-2);
        if a != b {
            givens.push(format!("I_{at} = {amperes} A"));
            lines.push(format!("{} -> load I_{at} @G{at} -> {}", name(a), name(b)));
            loads.push(json!([a, b, amperes]));
        }
    }
    // Sources between nodes that no other source ties: a chain that rises.
    // It may begin at ground or at the rail.
    let mut node = random.below(nodes as u64 + 2) as usize;
    for at in 0..random.below(4) {
        let next = node + 1 + random.below(3) as usize;
        if next >= nodes + 2 || next == 1 {
            break;
        }
        let volts = number(random, 0.1, 10.0);
        givens.push(format!("V_{at} = {volts} V"));
        lines.push(format!("{} -> supply V_{at} @P{at} -> {}", name(next), name(node)));
        sources.push(json!([next, node, volts]));
        node = next;
    }
    let question = json!({"nodes": nodes + 2, "resistors": resistors, "loads": loads, "sources": sources});
    (givens.join("\n"), lines.join("\n"), nodes, question)
}

#[test]
#[ignore = "needs Python with numpy: tests/run sets it up"]
fn random_networks_as_numpy_solves_them() {
    let mut random = Random(20_261_127);
    let (mut questions, mut found) = (Vec::new(), Vec::new());
    for _ in 0..300 {
        let (above, circuit, nodes, question) = network(&mut random);
        let resistors = question["resistors"].as_array().unwrap().len();
        let sources = question["sources"].as_array().unwrap().len();
        let mut below: Vec<String> = (0..nodes).map(|n| format!("x{n} = V(n{n})")).collect();
        below.extend((0..resistors).map(|r| format!("i{r} = I(R_{r})")));
        below.extend((0..sources).map(|s| format!("j{s} = I(@P{s})")));
        let it = evaluated(&above, &circuit, &below.join("\n"));
        assert!(!codes(&it).iter().any(|code| code.starts_with('E')), "{circuit}\n{:#?}", it.problems);
        let values = |letter: char, count: usize| -> Vec<f64> {
            (0..count).map(|at| nominal(&it, &format!("{letter}{at}"))).collect()
        };
        found.push((values('x', nodes), values('i', resistors), values('j', sources)));
        questions.push(question);
    }
    let answer = outside::python("circuits.py", &json!(questions));
    let mut compared = 0;
    let asked = questions.iter().zip(answer.as_array().unwrap());
    for ((potentials, currents, through), (question, wanted)) in found.iter().zip(asked) {
        let numbers = |key: &str| -> Vec<f64> {
            wanted[key].as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
        };
        let largest = |all: &[f64]| all.iter().fold(0.0_f64, |most, number| most.max(number.abs()));
        let volts = largest(&numbers("potentials")).max(9.0);
        let ohms = question["resistors"].as_array().unwrap().iter().map(|resistor| resistor[2].as_f64().unwrap());
        let conductance: f64 = ohms.map(|ohms| 1.0 / ohms).sum();
        for (which, ours) in [("potentials", potentials), ("currents", currents), ("through", through)] {
            let theirs = numbers(which);
            assert_eq!(ours.len(), theirs.len());
            for (at, (one, other)) in ours.iter().zip(&theirs).enumerate() {
                // Where no current flows, a dense solve leaves the rounding of its potentials.
                let rounding = match which {
                    "potentials" => 1e-11 * volts,
                    "currents" => 1e-11 * volts / question["resistors"][at][2].as_f64().unwrap(),
                    _ => 1e-11 * volts * conductance,
                };
                assert!((one - other).abs() <= 1e-9 * other.abs() + rounding, "{which} {one} {other}");
                compared += 1;
            }
        }
    }
    assert!(compared > 5000, "{compared}");
}

/// The list of nets has the potentials that `V(…)` gives, also where no formula asks for one.
#[test]
fn the_list_of_nets_has_the_potentials_that_formulas_get() {
    let mut random = Random(7);
    let mut compared = 0;
    for _ in 0..60 {
        let (above, circuit, nodes, _) = network(&mut random);
        let below: Vec<String> = (0..nodes).map(|n| format!("x{n} = V(n{n})")).collect();
        let asked = evaluated(&above, &circuit, &below.join("\n"));
        let listed = evaluated(&above, &circuit, "");
        let nets = listed.circuits[0].nets.iter().zip(&listed.potentials[0]);
        for (net, potential) in nets.filter(|(net, _)| !net.pins.is_empty()) {
            let Some(node) = net.name.as_deref().and_then(|name| name.strip_prefix('n')) else { continue };
            // Another order of questions may solve the nets in another order.
            let wanted = nominal(&asked, &format!("x{node}"));
            let found = potential.unwrap();
            assert!((found - wanted).abs() <= 1e-9 * wanted.abs() + 1e-10, "{circuit}: n{node}: {found} {wanted}");
            compared += 1;
        }
    }
    assert!(compared > 150, "{compared}");
}

/// What is not known, or rests on something that is not so, has no potential; and nothing is reported where nobody asked.
#[test]
fn the_list_of_nets_claims_nothing_that_is_not_known() {
    let potential = |it: &Evaluation, name: &str| {
        let at = it.circuits[0].nets.iter().position(|net| net.name.as_deref() == Some(name)).unwrap();
        it.potentials[0][at]
    };
    let rails = "rail V_s\nnet a b\nV_s -> R_1 -> a -> R_2 -> ground\n";
    let given = "V_s = 9 V\nR_1 = 1 kΩ\nR_2 = 2 kΩ\nV_F = 0.7 V";
    let it = sound(given, &format!("{rails}a -> capacitor @C1 -> b -> resistor @R3 -> ground"), "");
    assert_eq!(potential(&it, "V_s"), Some(9.0));
    close(potential(&it, "a").unwrap(), 6.0, 1e-14);
    // The resistor has no value.
    assert_eq!(potential(&it, "b"), None);
    // The diode is said to conduct 0.7 V, and cannot: the potentials that rest on it are not shown.
    let backwards = format!("{rails}ground -> diode V_F @D1 -> b -> R_2 @R4 -> a");
    let it = evaluated(given, &backwards, "");
    assert_eq!([potential(&it, "a"), potential(&it, "b")], [None, None]);
    let asked = evaluated(given, &backwards, "V_b = V(b)");
    assert!(
        asked.problems.iter().any(|problem| problem.message.english().contains("backwards")),
        "{:#?}",
        asked.problems
    );
}
