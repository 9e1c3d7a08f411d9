//! Prints what a worksheet comes to: a look inside for contributors.
#![allow(clippy::unwrap_used, clippy::print_stdout)]
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let source = std::fs::read_to_string(path).unwrap();
    let t = std::time::Instant::now();
    let e = benchleaf_core::Evaluator::default().evaluate(&source);
    let t1 = t.elapsed();
    let t = std::time::Instant::now();
    let e2 = benchleaf_core::Evaluator::default().evaluate(&source);
    println!("{t1:?} then {:?} {}", t.elapsed(), e2.values.len());
    for v in &e.values {
        println!(
            "{:14} = {:12} [{:?}] {:?} {:?}",
            v.name,
            v.shown(),
            v.shown_range(),
            v.worst.as_ref().map(|w| w.found),
            v.label
        );
    }
    for v in e.values.iter().filter(|v| v.spread.is_some()) {
        let s = v.spread.as_ref().unwrap();
        let shares: Vec<_> = v
            .shares
            .iter()
            .map(|s| format!("{} {:.3}{}", s.name, s.first, s.total.map_or(String::new(), |t| format!("/{t:.3}"))))
            .collect();
        println!(
            "{:14} mean {} u {:.4e} 95 {:?} {:?} gum {:?} {shares:?}",
            v.name,
            v.unit.show(s.mean, 4),
            s.std,
            s.interval.ends(),
            s.interval.shown,
            v.first_order.as_ref().map(|f| (f.std, f.agreement))
        );
    }
    for k in e.keeps.iter().filter(|k| k.fails.is_some()) {
        println!("fails {:?} remedies {:?}", k.fails, k.remedies);
    }
    for k in &e.keeps {
        println!("{:?} m={:?} mw={:?} blame={:?} {:?}", k.status, k.margin, k.margin_worst, k.blame, k.label);
    }
    for c in &e.choices {
        println!("{c:#?}");
    }
    for n in &e.notes {
        println!("{:?} shown={} {:?}", n.signal, n.shown, n.met_by);
    }
    for p in &e.plots {
        println!(
            "{:?} {:?} {:?} {}",
            p.title,
            p.x.as_ref().map(|a| (&a.quantity, a.unit.symbol())),
            p.y.as_ref().map(|a| (&a.quantity, a.unit.symbol())),
            p.curves.len()
        );
        for c in &p.curves {
            println!("   {:?} {:?} {:?}", c.points[0], c.points[60], c.nominal);
        }
    }
    for p in &e.problems {
        let at = e.lines.position(&source, p.span.start);
        println!(
            "{} {}:{} `{}` {} | {}",
            p.code.text(),
            at.line,
            at.column,
            p.span.text(&source),
            p.message,
            p.help.clone().unwrap_or_default()
        );
    }
}
