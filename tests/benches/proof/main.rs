//! How long proofs take, and how they grow: `cargo bench -p gluewright-tests --bench proof`.
//!
//! Beside each stands the plain way on the same pair: one query unrolled over events, with the original's start given
//! away, and a walk over all states where it ends. The cards are the examples' own sources.
use std::time::{Duration, Instant};

use gluewright::circuit::{Circuit, Contact, Label, Landing, Origin};
use gluewright::prove::{Failure, Proof, Question, prove};
use gluewright_kernel::solver::Effort;

#[allow(dead_code, unused_imports)]
#[path = "../../../examples/src/loom_bridge.rs"]
mod loom_bridge;
#[allow(dead_code, unused_imports)]
#[path = "../../../examples/src/sample_card.rs"]
mod sample_card;

/// The best of a few runs, in milliseconds.
fn best<T>(times: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let mut found: Option<(Duration, T)> = None;
    for _ in 0..times {
        let began = Instant::now();
        let value = run();
        let time = began.elapsed();
        if found.as_ref().is_none_or(|(t, _)| time < *t) {
            found = Some((time, value));
        }
    }
    let (time, value) = found.expect("it ran");
    (time.as_secs_f64() * 1e3, value)
}

/// Copies of one circuit side by side. These contacts are tied together, as on a backplane; the cards have nothing else
/// in common.
fn beside(one: &Circuit, count: usize, tied: &[u16]) -> Circuit {
    let mut all = Circuit::new(format!("{} x {count}", one.name));
    let is_tied = |label: &Label| tied.iter().any(|&t| Label::from(t) == *label);
    let shared: Vec<_> = one
        .contacts()
        .iter()
        .map(|c| is_tied(&c.label).then(|| all.add_net(c.name.clone(), Origin::Nowhere)))
        .collect();
    for (c, net) in one.contacts().iter().zip(&shared) {
        if let Some(net) = *net {
            all.add_contact(Contact { net, ..c.clone() });
        }
    }
    for i in 0..count {
        let name = |label: &Label| format!("{i}.{label}");
        let nets: Vec<_> = one
            .contacts()
            .iter()
            .zip(&shared)
            .map(|(c, s)| s.unwrap_or_else(|| all.add_net(name(&c.label), Origin::Nowhere)))
            .collect();
        let at = |label: &Label| one.contacts().iter().position(|c| &c.label == label);
        all.place(&format!("C{i}"), one, |label| at(label).map_or(Landing::Open, |k| Landing::Net(nets[k])));
        for ((c, &net), _) in one.contacts().iter().zip(&nets).zip(&shared).filter(|(_, s)| s.is_none()) {
            all.add_contact(Contact { label: name(&c.label).as_str().into(), net, ..c.clone() });
        }
    }
    all
}

struct Pair {
    name: &'static str,
    original: Circuit,
    replacement: Circuit,
    /// Contacts that cards on one backplane have in common.
    tied: &'static [u16],
}

impl Pair {
    fn question(&self, count: usize, tied: &[u16]) -> Question {
        Question::new(beside(&self.original, count, tied), beside(&self.replacement, count, tied))
    }
}

/// The proof; the bridge's, which is withheld until its open orders are acknowledged, takes as long.
fn proved(answer: Result<Proof, Failure>) -> Proof {
    match answer {
        Ok(proof) => proof,
        Err(Failure::Withheld(withheld)) => withheld.proof,
        Err(other) => panic!("{other}"),
    }
}

fn pairs() -> [Pair; 2] {
    let card = sample_card::lost_card().expect("sound").circuit().expect("a circuit");
    let (stand_in, _) = prove::<sample_card::SampleCard>().question(&card).expect("a question");
    let bridge = loom_bridge::lost_bridge().expect("sound").circuit().expect("a circuit");
    let (new_bridge, _) = prove::<loom_bridge::LoomBridge>().question(&bridge).expect("a question");
    [
        Pair { name: "sample card", original: card, replacement: stand_in, tied: &[1, 3, 6] },
        Pair { name: "loom bridge", original: bridge, replacement: new_bridge, tied: &[1, 2, 3] },
    ]
}

/// Events of the unrolled query.
const DEPTH: usize = 12;

/// Milliseconds that a plain way gets.
const LIMIT: u32 = 60_000;

fn main() {
    // with `--test`, as `cargo test --benches` calls it, only that everything runs
    let quick = std::env::args().any(|a| a == "--test");
    // a name restricts the run to one family and one way of standing: `-- "loom bridge, tied"`
    let only = std::env::args().skip(1).find(|a| !a.starts_with("--"));
    let pairs = pairs();
    if let Some(only) = only {
        for pair in pairs.iter().filter(|p| only.starts_with(p.name)) {
            growth(pair, only.ends_with("tied"), quick);
        }
        return;
    }
    println!("milliseconds, best of some runs in one process; large boards share their events over threads\n");
    println!("{:<14} {:>10} {:>10}", "one card", "first", "again");
    let mut proofs = Vec::new();
    for pair in &pairs {
        let question = pair.question(1, &[]);
        let (first, _) = best(1, || proved(question.ask()));
        let (again, proof) = best(if quick { 1 } else { 9 }, || proved(question.ask()));
        println!("{:<14} {first:>10.2} {again:>10.2}", pair.name);
        proofs.push((again, proof));
    }
    for is_tied in [false, true] {
        for pair in &pairs {
            growth(pair, is_tied, quick);
        }
    }
    println!("\nthe plain ways, at most {LIMIT} ms each, and how many times the proof's own time they take");
    println!("{:<14} {:>26}   walk over all states", "one card", format!("unrolled to {DEPTH} events"));
    for (pair, (again, proof)) in pairs.iter().zip(proofs) {
        let ratio = |ms: f64, why: Option<String>| match why {
            None => format!("{ms:.1} ({:.0} times)", ms / again),
            Some(why) => format!("not told in {ms:.1}: {why}"),
        };
        let effort = Effort { milliseconds: LIMIT, ..Effort::default() };
        let (plain, answer) = best(1, || proof.unrolled(if quick { 2 } else { DEPTH }, effort));
        assert_ne!(answer, Ok(false), "the unrolled query finds nothing either");
        let question = pair.question(1, &[]).walking(if quick { 1 << 10 } else { 1 << 25 });
        let question = question.in_time(Duration::from_millis(LIMIT.into()));
        let (walk, walked) = best(1, || question.ask_by_walk());
        let why = match walked {
            Ok(_) => None,
            Err(Failure::Undecided(u)) => Some(u.obligation),
            Err(other) => panic!("the walk says the same or nothing: {other}"),
        };
        println!("{:<14} {:>26}   {}", pair.name, ratio(plain, answer.err()), ratio(walk, why));
    }
}

/// How the time of a proof grows with the number of cards.
fn growth(pair: &Pair, is_tied: bool, quick: bool) {
    let tied = if is_tied { pair.tied } else { &[] };
    let names: Vec<_> =
        pair.original.contacts().iter().filter(|c| tied.iter().any(|&t| Label::from(t) == c.label)).collect();
    let names: Vec<_> = names.into_iter().map(|c| c.name.as_str()).collect();
    let how = match names.as_slice() {
        [] => "side by side, no wire in common".to_owned(),
        names => format!("on one backplane, {} tied together", names.join(", ")),
    };
    println!("\n{}: {how}", pair.name);
    println!(
        "{:>6} {:>12} {:>10} {:>12} {:>12} {:>8}",
        "cards", "state bits", "time", "exponent", "questions", "rounds"
    );
    let mut last: Option<(usize, f64)> = None;
    let mut points: Vec<(f64, f64)> = Vec::new();
    for count in if quick { &[1, 2][..] } else { &[1, 2, 4, 8, 16][..] } {
        let question = pair.question(*count, tied);
        let (time, proof) = best(if quick { 1 } else { 5 }, || proved(question.ask()));
        let exponent =
            last.map_or(String::new(), |(n, t)| format!("{:.2}", (time / t).ln() / (*count as f64 / n as f64).ln()));
        let bits = pair.original.elements().len() * count;
        let figures = &proof.figures;
        println!(
            "{count:>6} {bits:>12} {time:>10.2} {exponent:>12} {:>12} {:>8}",
            figures.questions + figures.tables,
            figures.rounds
        );
        last = Some((*count, time));
        points.push(((*count as f64).ln(), time.ln()));
    }
    let n = points.len() as f64;
    let (x, y) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>()
        / points.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>();
    println!("       least squares: time grows as n^{slope:.2}");
}
