//! Transients: closed forms of textbook circuits, random systems and stiff ones against `scipy.integrate` (a general-purpose
//! library; `tests/reference/transients.py` answers for it), the balance of energy, and what cannot be followed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(clippy::disallowed_methods)] // What is wanted comes from another library than what is tested.

use benchleaf_core::{
    Evaluator, Options,
    problem::Code,
    results::{EndedBy, Evaluation},
};
use benchleaf_tests::outside;
use serde_json::{Value, json};

fn nominal(source: &str) -> Evaluation {
    Evaluator::with(&Options { samples: Some(2), ..Options::default() }).evaluate(source)
}

fn sound(it: &Evaluation) {
    assert!(it.problems.is_empty(), "{:#?}", it.problems);
}

fn close(found: f64, wanted: f64, relative: f64, what: &str) {
    assert!((found - wanted).abs() <= relative * wanted.abs(), "{what}: {found}, wanted {wanted}");
}

fn value(evaluation: &Evaluation, name: &str) -> f64 {
    evaluation.value(name).unwrap_or_else(|| panic!("no {name}: {:#?}", evaluation.problems)).nominal
}

/// V(t) = V_s (1 − e^(−t/RC)): handbook formula. The event, the value at a time, the time of a condition and the last value.
#[test]
fn a_capacitor_charges_as_the_handbook_says() {
    for (r, c, v) in [(470e3, 10e-6, 5.0), (1e3, 1e-9, 12.0), (22e6, 470e-6, 3.3)] {
        let tau: f64 = r * c;
        let source = format!(
            "```calc\nV_s = {v} V\nR = {r} Ω\nC = {c} F\n```\n```transient\nstate V_c = 0 V\nd V_c = (V_s - V_c)/(R*C)\n\
             until V_c > 2/3*V_s within {} s\nt_end = end\nt_half = first(V_c > V_s/2)\nV_1 = at(V_c, R*C/2)\n\
             V_last = last(V_c)\nV_top = max(V_c)\nV_low = min(V_c)\n```\n",
            10.0 * tau
        );
        let it = nominal(&source);
        sound(&it);
        for (name, wanted) in [
            ("t_end", tau * 3f64.ln()),
            ("t_half", tau * 2f64.ln()),
            ("V_1", v * (1.0 - (-0.5f64).exp())),
            ("V_last", v * 2.0 / 3.0),
            ("V_top", v * 2.0 / 3.0),
        ] {
            close(value(&it, name), wanted, 1e-8, name);
        }
        assert_eq!(value(&it, "V_low"), 0.0);
        assert_eq!(it.transients[0].run.as_ref().unwrap().ended_by, EndedBy::Event);
    }
}

/// A lossless L-C circuit: the energy ½CV² + ½LI² stays, the greatest current is V√(C/L), and the voltage passes zero after
/// a quarter of 2π√(LC) (handbook formulas).
#[test]
fn energy_goes_to_and_fro_and_is_kept() {
    let source = "```calc\nL = 10 mH\nC = 1 µF\nW_0 = C*(10 V)^2/2\n```\n```transient\nstate V = 10 V\nstate I = 0 A\n\
                  d V = -I/C\nd I = V/L\nW = C*V^2/2 + L*I^2/2\nuntil 20 ms\nI_top = max(I)\nI_low = min(I)\nt_zero = first(V < 0 V)\n\
                  W_low = min(W)\nW_top = max(W)\nV_last = last(V)\n```\n";
    let it = nominal(source);
    sound(&it);
    let (l, c): (f64, f64) = (10e-3, 1e-6);
    let omega = 1.0 / (l * c).sqrt();
    close(value(&it, "I_top"), 10.0 * (c / l).sqrt(), 1e-7, "greatest current");
    close(value(&it, "I_low"), -10.0 * (c / l).sqrt(), 1e-7, "least current");
    close(value(&it, "t_zero"), std::f64::consts::FRAC_PI_2 / omega, 1e-7, "a quarter");
    close(value(&it, "V_last"), 10.0 * (omega * 20e-3).cos(), 1e-5, "last");
    for name in ["W_low", "W_top"] {
        // Some thousand steps, each with a local error of 1e-8 at most.
        close(value(&it, name), value(&it, "W_0"), 5e-6, name);
    }
}

/// Tolerances: the closed form of the same time, evaluated beside it, has the same range, spread and shares.
#[test]
fn a_time_of_an_event_varies_as_its_closed_form_does() {
    let source = "```calc\nV_s = 5 V ± 5 %\nR = 470 kΩ ± 5 %\nC = 10 µF -10 % +30 %\nI_leak = 1 µA ± 80 %\n```\n\
                  ```transient\nstate V_c = 0 V\nd V_c = ((V_s - V_c)/R - I_leak)/C\nuntil V_c > 2/3*V_s within 60 s\nt_end = end\n```\n\
                  ```calc\nt_closed = -R*C*ln(1 - 2/3*V_s/(V_s - I_leak*R))\n```\n";
    let it = Evaluator::default().evaluate(source);
    sound(&it);
    let (run, closed) = (it.value("t_end").unwrap(), it.value("t_closed").unwrap());
    close(run.nominal, closed.nominal, 1e-8, "nominal");
    let (a, b) = (run.worst.as_ref().unwrap(), closed.worst.as_ref().unwrap());
    close(a.low, b.low, 1e-6, "least");
    close(a.high, b.high, 1e-6, "greatest");
    let (a, b) = (run.spread.unwrap(), closed.spread.unwrap());
    close(a.std.unwrap(), b.std.unwrap(), 1e-6, "standard uncertainty");
    close(a.interval.symmetric.0, b.interval.symmetric.0, 1e-6, "interval");
    for (a, b) in run.shares.iter().zip(&closed.shares) {
        assert_eq!(a.name, b.name);
        assert!((a.first - b.first).abs() < 0.01, "{a:?} {b:?}");
    }
    // A run is a black box: no range of it is proven.
    assert!(run.worst.as_ref().unwrap().certainty != benchleaf_core::results::Certainty::Proven);
}

/// In some builds the threshold is never reached: they count as endless.
#[test]
fn an_event_that_some_builds_do_not_reach_is_endless_there() {
    let source = "```calc\nV_s = 5 V ± 20 %\nR = 10 kΩ\nC = 10 µF\n```\n```transient\nstate V_c = 0 V\n\
                  d V_c = (V_s - V_c)/(R*C)\nuntil V_c > 4.5 V within 60 s\nt_end = end\n```\n```calc\nkeep t_end below 10 s\n```\n";
    let it = Evaluator::default().evaluate(source);
    let t = it.value("t_end").unwrap();
    // 4 V to 6 V, rectangular: a quarter of the builds stays below 4.5 V.
    assert!((t.spread.unwrap().infinite - 0.25).abs() < 0.02, "{:?}", t.spread);
    assert_eq!(t.worst.as_ref().unwrap().high, f64::INFINITY);
    assert_eq!(it.keeps[0].status, benchleaf_core::results::Status::AtRisk);
}

/// Numbers that follow one another by Marsaglia's xorshift.
struct Numbers(u64);

impl Numbers {
    fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, n: u64) -> u64 {
        self.bits() % n
    }

    /// A number with two decimals.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        let x = low + (high - low) * (self.below(10_001) as f64 / 10_000.0);
        (x * 100.0).round() / 100.0
    }
}

/// A system as the worksheet and as Python write it.
struct System {
    rates: Vec<(String, String)>,
    starts: Vec<f64>,
    end: f64,
    at: f64,
    level: f64,
    method: &'static str,
}

fn random_system(numbers: &mut Numbers) -> System {
    let n = 1 + numbers.below(4) as usize;
    let mut rates = Vec::new();
    for i in 0..n {
        let mut ours = format!("-{}*x{i}", numbers.between(0.05, 3.0));
        for _ in 0..1 + numbers.below(3) {
            let (j, k) = (numbers.below(n as u64), numbers.below(n as u64));
            let a = numbers.between(-3.0, 3.0);
            ours += &match numbers.below(6) {
                0 => format!(" + ({a})*sin(x{j})"),
                1 => format!(" + ({a})*x{j}/(1 + x{k}*x{k})"),
                2 => format!(" + ({a})*cos({}*t)", numbers.between(0.2, 8.0)),
                3 => format!(" + ({a})*atan(x{j} - x{k})"),
                4 => format!(" + ({a})*exp(-x{j}*x{j})"),
                _ => format!(" + ({a})*x{j}/sqrt(1 + x{j}*x{j})"),
            };
        }
        rates.push((ours.replace("*t)", "*time/(1 s))"), ours));
    }
    let end = numbers.between(0.5, 20.0);
    System {
        rates,
        starts: (0..n).map(|_| numbers.between(-2.0, 2.0)).collect(),
        end,
        at: (end * 33.0).round() / 100.0,
        level: numbers.between(-1.0, 1.5),
        method: "DOP853",
    }
}

/// Stiff systems: the test of H. H. Robertson (1966), decay to a moving target a million times faster than it moves, and the
/// oscillator of van der Pol (E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, section IV.1).
fn stiff_systems() -> Vec<System> {
    let system = |rates: &[&str], starts: &[f64], end: f64, at: f64, level: f64| System {
        rates: rates.iter().map(|rate| (rate.replace("(t)", "(time/(1 s))"), (*rate).to_owned())).collect(),
        starts: starts.to_vec(),
        end,
        at,
        level,
        method: "Radau",
    };
    vec![
        system(
            &["-0.04*x0 + 1e4*x1*x2", "0.04*x0 - 1e4*x1*x2 - 3e7*x1*x1", "3e7*x1*x1"],
            &[1.0, 0.0, 0.0],
            40.0,
            4.0,
            2.0,
        ),
        system(&["-1e6*(x0 - cos(t))"], &[0.0], 2.0, 1.5, 0.5),
        system(&["-x0 + x1", "-1e6*(x1 - sin(t))"], &[1.0, 1.0], 10.0, 5.0, 0.4),
        system(&["x1", "500*((1 - x0*x0)*x1) - x0"], &[2.0, 0.0], 100.0, 50.0, 3.0),
    ]
}

#[test]
#[ignore = "needs scipy: tests/run installs it"]
fn systems_are_followed_as_a_reference_library_does() {
    let count: usize = std::env::var("BENCHLEAF_SYSTEMS").ok().and_then(|n| n.parse().ok()).unwrap_or(100);
    let mut numbers = Numbers(0x9E37_79B9_7F4A_7C15);
    let mut systems: Vec<System> = (0..count).map(|_| random_system(&mut numbers)).collect();
    systems.extend(stiff_systems());
    let asked: Vec<Value> = systems
        .iter()
        .map(|system| {
            let rates: Vec<&str> = system.rates.iter().map(|rate| rate.1.as_str()).collect();
            json!({"rates": rates, "starts": system.starts, "end": system.end, "at": system.at, "level": system.level,
                   "method": system.method})
        })
        .collect();
    let answers = outside::python("transients.py", &json!({ "systems": asked }));
    let mut firsts = 0;
    for (system, answer) in systems.iter().zip(answers.as_array().unwrap()) {
        let mut lines = String::new();
        for (i, ((ours, _), start)) in system.rates.iter().zip(&system.starts).enumerate() {
            lines += &format!(
                "state x{i} = {start}\nd x{i} = ({ours})/(1 s)\nlast_{i} = last(x{i})\nat_{i} = at(x{i}, {} s)\n",
                system.at
            );
        }
        lines +=
            &format!("until {} s\ntop = max(x0)\nlow = min(x0)\nt_first = first(x0 > {})\n", system.end, system.level);
        let it = nominal(&format!("```transient\n{lines}```\n"));
        let found = |name: &str| it.value(name).unwrap_or_else(|| panic!("{lines}{:#?}", it.problems)).nominal;
        // Errors are held against the largest value of a run.
        let start = system.starts.iter().map(|x| x.abs()).fold(1e-3, f64::max);
        let size = |numbers: &Value| {
            numbers.as_array().unwrap().iter().map(|x| x.as_f64().unwrap().abs()).fold(start, f64::max)
        };
        for (kind, name) in [("last", "last"), ("at", "at")] {
            let allowed = 1e-6 * size(&answer[kind]);
            for (i, wanted) in answer[kind].as_array().unwrap().iter().enumerate() {
                let (ours, wanted) = (found(&format!("{name}_{i}")), wanted.as_f64().unwrap());
                assert!((ours - wanted).abs() <= allowed, "{kind} {i}: {ours} {wanted}\n{lines}");
            }
        }
        let allowed = 1e-6 * answer["greatest"].as_f64().unwrap().abs().max(answer["least"].as_f64().unwrap().abs());
        for (kind, name) in [("greatest", "top"), ("least", "low")] {
            let (ours, wanted) = (found(name), answer[kind].as_f64().unwrap());
            assert!((ours - wanted).abs() <= allowed, "{kind}: {ours} {wanted}\n{lines}");
        }
        if let Some(wanted) = answer["first"].as_f64() {
            firsts += 1;
            let ours = found("t_first");
            assert!((ours - wanted).abs() <= 1e-5 * system.end, "first: {ours} {wanted}\n{lines}");
        }
    }
    assert!(firsts > count / 10, "{firsts}");
}

/// Steps are spent where they are needed: a slow decay takes few, and a stiff system changes its method and takes few too.
#[test]
fn the_method_follows_the_system() {
    let slow = nominal("```transient\nstate x = 1\nd x = -x/(1 s)\nuntil 10 s\na = last(x)\n```\n");
    let run = slow.transients[0].run.clone().unwrap();
    assert!(run.steps < 200 && run.method.starts_with("Dormand"), "{run:?}");
    let stiff =
        nominal("```transient\nstate x = 0\nd x = -1e6*(x - cos(time/(1 s)))/(1 s)\nuntil 2 s\na = last(x)\n```\n");
    let run = stiff.transients[0].run.clone().unwrap();
    assert!(run.steps < 2000 && run.method.starts_with("Radau"), "{run:?}");
}

/// A decay over ten time constants, with a local error of 1e-8 of the largest value, is exact to 1e-7 of it, for some hundred
/// evaluations.
#[test]
fn accuracy_is_worth_its_work() {
    let it = nominal("```transient\nstate x = 1\nd x = -x/(1 s)\nuntil 10 s\na = last(x)\n```\n");
    assert!((value(&it, "a") - (-10f64).exp()).abs() < 1e-7);
    assert!(it.transients[0].run.as_ref().unwrap().evaluations < 1000);
}

/// What cannot be followed is reported, at its end's line, and ends.
#[test]
fn what_cannot_be_followed_is_reported() {
    for (lines, wanted) in [
        ("state x = 1 V\nd x = x*x/(1 V*(1 s))\nuntil 10 s\na = last(x)", "does not get beyond 1"),
        (
            "state x = 0 V\nd x = if x > 0 V then -1 V/(1 s) else 1 V/(1 s)\nuntil 10 s\na = last(x)",
            "does not get beyond 0 s",
        ),
        ("state x = 0 V\nd x = 1 V^2/x/(1 s)\nuntil 10 s\na = last(x)", "no finite value at the start"),
    ] {
        let lines = lines.replace("x*x/(1 V*(1 s))", "x*x/(1 V)/(1 s)");
        let it = nominal(&format!("```transient\n{lines}\n```\n```calc\nb = 2*a\n```\n"));
        let codes: Vec<Code> = it.problems.iter().map(|problem| problem.code).collect();
        assert!(
            it.problems.iter().any(|p| p.code == Code::Transient && p.message.english().contains(wanted)),
            "{:#?}",
            it.problems
        );
        assert!(codes.contains(&Code::DependsOnError), "{:#?}", it.problems);
    }
}
