//! A proof as a problem of hardware model checking: its product machine in AIGER 1.9, decided by a general model checker by
//! property-directed reachability without the invariant, and its witness, checked by a base case and a step.
//!
//! Refinement is lost for every choice of the original's start and unknowns once it is lost at all: so of a refuted pair the
//! product of a false claim must have a counterexample.
//!
//! A sample runs by default; `cargo test -p gluewright-tests --test checks model_checker:: -- --ignored --nocapture` asks about 300
//! proved pairs. Without the model checker (`apt-get install berkeley-abc`) its part is left out, but fails where `CI` is set.
use std::fs;
use std::process::Command;
use std::time::{Duration, Instant};

use batsat::{BasicSolver, Lit, SolverInterface, lbool};
use gluewright::prove::{Failure, Proof, Question};
use gluewright_kernel::solver::Effort;
use gluewright_tests::boards::{board, rewritten, trace};
use gluewright_tests::gates::Numbers;

/// A circuit in AIGER 1.9, binary form, with one bad state.
struct Aig {
    inputs: usize,
    next: Vec<usize>,
    bad: usize,
    ands: Vec<(usize, usize)>,
}

fn read(bytes: &[u8]) -> Aig {
    let mut at = 0;
    let mut line = || {
        let end = at + bytes[at..].iter().position(|&b| b == b'\n').unwrap();
        let text = std::str::from_utf8(&bytes[at..end]).unwrap().to_owned();
        at = end + 1;
        text
    };
    let head = line();
    let numbers: Vec<usize> = head.strip_prefix("aig ").unwrap().split(' ').map(|n| n.parse().unwrap()).collect();
    let [m, i, l, 0, a, 1] = numbers[..] else { panic!("{head}") };
    assert_eq!(m, i + l + a);
    let next: Vec<usize> = (0..l).map(|_| line().parse().unwrap()).collect();
    let bad = line().parse().unwrap();
    let mut delta = || {
        let (mut value, mut shift) = (0, 0);
        loop {
            let byte = bytes[at];
            at += 1;
            value |= usize::from(byte & 127) << shift;
            shift += 7;
            if byte < 128 {
                return value;
            }
        }
    };
    let mut ands = Vec::new();
    for k in 0..a {
        let gate = 2 * (i + l + k + 1);
        let x = gate - delta();
        let y = x - delta();
        assert!(x < gate && y <= x);
        ands.push((x, y));
    }
    Aig { inputs: i, next, bad, ands }
}

/// One moment of a circuit in a solver: the solver's literal of an AIGER literal.
struct Moment(Vec<Lit>);

impl Moment {
    fn new(solver: &mut BasicSolver, aig: &Aig) -> Moment {
        let count = 1 + aig.inputs + aig.next.len() + aig.ands.len();
        let all: Vec<Lit> = (0..count).map(|_| Lit::new(solver.new_var_default(), true)).collect();
        let m = Moment(all);
        solver.add_clause_reuse(&mut vec![!m.0[0]]);
        for (k, &(x, y)) in aig.ands.iter().enumerate() {
            let gate = m.0[1 + aig.inputs + aig.next.len() + k];
            let (x, y) = (m.at(x), m.at(y));
            for clause in [vec![!gate, x], vec![!gate, y], vec![gate, !x, !y]] {
                solver.add_clause_reuse(&mut clause.clone());
            }
        }
        m
    }

    fn at(&self, literal: usize) -> Lit {
        let lit = self.0[literal / 2];
        if literal % 2 == 1 { !lit } else { lit }
    }

    fn latch(&self, aig: &Aig, k: usize) -> Lit {
        self.0[1 + aig.inputs + k]
    }
}

fn never(solver: &mut BasicSolver, all: &[Lit]) -> bool {
    solver.solve_limited(all) == lbool::FALSE
}

/// The checks of a witness: from the reset on its property holds, keeps itself, and is no weaker than the model's.
fn witnessed(model: &Aig, witness: &Aig) -> Result<(), &'static str> {
    let mut solver = BasicSolver::default();
    let first = Moment::new(&mut solver, witness);
    let reset: Vec<Lit> = (0..witness.next.len()).map(|k| !first.latch(witness, k)).collect();
    let mut base = reset;
    base.push(first.at(witness.bad));
    if !never(&mut solver, &base) {
        return Err("base");
    }
    let second = Moment::new(&mut solver, witness);
    for (k, &next) in witness.next.iter().enumerate() {
        let (a, b) = (second.latch(witness, k), first.at(next));
        solver.add_clause_reuse(&mut vec![!a, b]);
        solver.add_clause_reuse(&mut vec![a, !b]);
    }
    if !never(&mut solver, &[!first.at(witness.bad), second.at(witness.bad)]) {
        return Err("step");
    }
    // inputs, latches and transitions are the model's, so that only the properties are to be compared
    if model.inputs != witness.inputs || model.next != witness.next {
        return Err("another machine");
    }
    let mut solver = BasicSolver::default();
    let (m, w) = (Moment::new(&mut solver, model), Moment::new(&mut solver, witness));
    for k in 0..1 + model.inputs + model.next.len() {
        solver.add_clause_reuse(&mut vec![!m.0[k], w.0[k]]);
        solver.add_clause_reuse(&mut vec![m.0[k], !w.0[k]]);
    }
    if never(&mut solver, &[m.at(model.bad), !w.at(witness.bad)]) { Ok(()) } else { Err("a weaker property") }
}

#[derive(Debug, PartialEq)]
enum Decided {
    Safe,
    Unsafe,
    Open(String),
}

/// What the model checker says; nothing if it is not there.
fn decided(model: &[u8]) -> Option<Decided> {
    let room = tempfile::tempdir().unwrap();
    let file = room.path().join("product.aig");
    fs::write(&file, model).unwrap();
    let command = format!("read_aiger {}; pdr -T 20", file.display());
    let Ok(output) = Command::new("berkeley-abc").args(["-q", &command]).output() else {
        assert!(std::env::var_os("CI").is_none(), "berkeley-abc is missing");
        return None;
    };
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    Some(if told.contains("Property proved") {
        Decided::Safe
    } else if told.contains("was asserted in frame") {
        Decided::Unsafe
    } else {
        Decided::Open(told)
    })
}

fn ask(question: Question) -> Question {
    let effort = Effort { milliseconds: 2_000, ..Effort::default() };
    question.settled_only().within(effort).in_time(Duration::from_secs(6)).to_depth(12).walking(1 << 14)
}

fn campaign(pairs: usize) {
    let seed: u64 = std::env::var("GLUEWRIGHT_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(1);
    let (mut proved, mut refuted, mut open, mut number) = (0, 0, Vec::new(), 0);
    let (mut safe, mut caught) = (0, 0);
    let began = Instant::now();
    while proved < pairs {
        number += 1;
        let mut n = Numbers(seed.wrapping_mul(6_151).wrapping_add(number).wrapping_mul(1_000_003));
        let packages = 3 + n.below(6);
        let most_bits = 2 + n.below(5);
        let Some(original) = board(&trace(&mut n, packages, most_bits)) else { continue };
        let replacement = rewritten(&mut n, &original);
        let edits = gluewright::edit::edits(&replacement);
        if let Ok(proof) = ask(Question::new(original.clone(), replacement.clone())).ask()
            && let Some(product) = proof.product()
        {
            proved += 1;
            let (model, witness) = (read(&product.model), read(&product.witness));
            assert_eq!(witnessed(&model, &witness), Ok(()), "pair {number}");
            match decided(&product.model) {
                Some(Decided::Safe) => safe += 1,
                Some(Decided::Unsafe) => panic!("pair {number}: proved, and the model checker has a counterexample"),
                Some(Decided::Open(told)) => open.push((number, told)),
                None => {}
            }
        }
        let Some(edit) = edits.get(n.below(edits.len())) else { continue };
        let question = ask(Question::new(original, edit.apply(&replacement)));
        if !matches!(question.ask(), Err(Failure::Refuted(_))) {
            continue;
        }
        let Some(product) = question.ask_a_liar().ok().as_ref().and_then(Proof::product) else { continue };
        refuted += 1;
        assert!(
            witnessed(&read(&product.model), &read(&product.witness)).is_err(),
            "pair {number}: a false witness stands"
        );
        match decided(&product.model) {
            Some(Decided::Unsafe) => caught += 1,
            Some(Decided::Safe) => panic!("pair {number}: refuted, and the model checker finds nothing"),
            Some(Decided::Open(told)) => open.push((number, told)),
            None => {}
        }
    }
    println!(
        "seed {seed}: {proved} proved pairs, the model checker proves {safe}; {refuted} refuted pairs, it refutes {caught}; \
         open {open:?}; {:.0} s",
        began.elapsed().as_secs_f64()
    );
}

#[test]
fn a_sample_of_proofs_is_decided_by_a_model_checker() {
    campaign(6);
}

#[test]
#[ignore = "300 pairs: minutes"]
fn every_proof_of_the_campaign_is_decided_by_a_model_checker() {
    campaign(300);
}
