//! Random networks: whatever is joined to whatever, the drawing must say it, and nothing in it may lie on anything else.

use benchleaf_core::{Evaluator, circuit::Circuit};

use super::{Drawing, Widths, draw, reads_back};

/// Numbers that look random and are the same each time.
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) as usize % limit
    }
}

/// A circuit of so many parts, as text: kinds, joints and turns at random.
fn network(dice: &mut Dice, parts: usize) -> String {
    let nets = 2 + dice.below(parts + 2);
    let node = |dice: &mut Dice| match dice.below(6) {
        0 => "ground".to_owned(),
        1 => "V_a".to_owned(),
        2 if dice.below(2) == 0 => "V_b".to_owned(),
        _ => format!("n{}", dice.below(nets)),
    };
    let two =
        ["resistor", "capacitor", "polarised capacitor", "led", "diode", "zener", "coil", "motor", "fuse", "switch"];
    let three = [
        ("npn", ["collector", "base", "emitter"]),
        ("nmos", ["drain", "gate", "source"]),
        ("pmos", ["source", "gate", "drain"]),
    ];
    let names: Vec<String> = (0..nets).map(|net| format!("n{net}")).collect();
    let mut lines = vec!["rail V_a V_b".to_owned(), format!("net {}", names.join(" "))];
    let mut placed = 0;
    while placed < parts {
        placed += 1;
        match dice.below(10) {
            0 => {
                let pins = 2 + dice.below(9);
                let sides = ["left", "right", "top", "bottom"];
                let mut by_side = [const { Vec::new() }; 4];
                for pin in 0..pins {
                    by_side[dice.below(4)].push(format!("pin{pin}"));
                }
                let written = by_side.iter().zip(sides).filter(|(pins, _)| !pins.is_empty());
                let written: Vec<String> = written.map(|(pins, side)| format!("{side} {}", pins.join(" "))).collect();
                lines.push(format!("chip @U{placed} \"box\": {}", written.join("; ")));
                for pin in 0..pins {
                    lines.push(format!("@U{placed}.pin{pin} -> {}", node(dice)));
                }
            }
            1 | 2 => {
                let (kind, pins) = three[dice.below(3)];
                lines.push(format!("{kind} @Q{placed}"));
                for pin in pins {
                    lines.push(format!("@Q{placed}.{pin} -> {}", node(dice)));
                }
            }
            _ => {
                let mut path = node(dice);
                let long = 1 + dice.below(3);
                for at in 0..long.min(parts - placed + 1) {
                    placed += usize::from(at > 0);
                    let turn = if dice.below(4) == 0 { " reversed" } else { "" };
                    path += &format!(" -> {} @X{placed}{turn}", two[dice.below(two.len())]);
                    if dice.below(2) == 0 {
                        path += &format!(" -> {}", node(dice));
                    }
                }
                lines.push(format!("{path} -> {}", node(dice)));
            }
        }
    }
    lines.join("\n")
}

fn circuit(lines: &str) -> Circuit {
    let evaluation = Evaluator::default().evaluate(&format!("```circuit\n{lines}\n```\n"));
    evaluation.circuits.into_iter().next().unwrap()
}

fn widths(circuit: &Circuit) -> Widths {
    let tests = circuit.nets.iter().map(|net| vec![8; net.tests.len()]).collect();
    Widths { parts: vec![8; circuit.parts.len()], nets: vec![8; circuit.nets.len()], tests }
}

fn drawn(circuit: &Circuit, lines: &str) -> Drawing {
    draw(circuit, &widths(circuit)).unwrap_or_else(|| panic!("not drawn:\n{lines}"))
}

#[test]
fn five_hundred_random_networks_are_drawn_as_they_are_joined() {
    let (mut parts_drawn, mut crossings) = (0, 0);
    for seed in 0..500 {
        let mut dice = Dice::new(seed + 1);
        let parts = 1 + dice.below(30);
        let lines = network(&mut dice, parts);
        let circuit = circuit(&lines);
        if circuit.parts.is_empty() {
            continue;
        }
        let drawing = drawn(&circuit, &lines);
        assert!(reads_back(&circuit, &drawing), "{lines}");
        parts_drawn += drawing.symbols.len();
        crossings += drawing.crossings;
    }
    assert!(parts_drawn > 5000, "{parts_drawn}");
    // Joined at random, a part has more crossings than any circuit that somebody would build.
    assert!(crossings < parts_drawn, "{crossings} crossings of {parts_drawn} parts");
}

#[test]
fn the_same_network_gives_the_same_drawing() {
    let lines = network(&mut Dice::new(77), 25);
    let circuit = circuit(&lines);
    let (one, other) = (drawn(&circuit, &lines), drawn(&circuit, &lines));
    assert_eq!(format!("{one:?}"), format!("{other:?}"));
}

/// What reads drawings back must see what is wrong with one.
#[test]
fn a_drawing_that_says_something_else_is_seen() {
    let lines = "rail V_a\nV_a -> resistor @R1 -> resistor @R2 -> ground\nV_a -> resistor @R3 -> ground\n\
        @R1.2 -> capacitor @C1 -> ground";
    let circuit = circuit(lines);
    let sound = drawn(&circuit, lines);
    assert!(reads_back(&circuit, &sound));
    for dot in 0..sound.dots.len() {
        let mut wrong = sound.clone();
        wrong.dots.remove(dot);
        assert!(!reads_back(&circuit, &wrong), "without dot {dot}");
    }
    for wire in 0..sound.wires.len() {
        let mut wrong = sound.clone();
        wrong.wires.remove(wire);
        assert!(!reads_back(&circuit, &wrong), "without wire {wire}");
    }
    let mut moved = sound.clone();
    moved.symbols[0] = moved.symbols[0].moved(1, 0);
    assert!(!reads_back(&circuit, &moved));
    let mut swapped = sound.clone();
    swapped.symbols[2].pins.swap(0, 1);
    assert!(!reads_back(&circuit, &swapped));
    let mut covered = sound;
    covered.symbols[0].labels[0] = covered.symbols[1].body;
    assert!(!reads_back(&circuit, &covered));
}
