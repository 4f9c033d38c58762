//! The prover's verdicts against a general-purpose BDD package, which shares no code with it.
use biodivine_lib_bdd::{Bdd, BddVariableSet};
use gluewright::prove::{Failure, Question};
use gluewright_tests::gates::{Gate, Netlist, Numbers};

fn diagrams(n: &Netlist) -> Vec<Bdd> {
    let set = BddVariableSet::new_anonymous(n.inputs as u16);
    let mut signals: Vec<Bdd> = set.variables().into_iter().map(|v| set.mk_var(v)).collect();
    for gate in &n.gates {
        signals.push(match *gate {
            Gate::Nand(a, b) => signals[a].and(&signals[b]).not(),
            Gate::Nor(a, b) => signals[a].or(&signals[b]).not(),
            Gate::And(a, b) => signals[a].and(&signals[b]),
            Gate::Or(a, b) => signals[a].or(&signals[b]),
            Gate::Xor(a, b) => signals[a].xor(&signals[b]),
        });
    }
    n.outputs.iter().map(|&o| signals[o].clone()).collect()
}

/// Asks, and holds every refutation to its replay.
fn is_proved(a: &Netlist, b: &Netlist) -> bool {
    // drawn gates stand for functions: what settles to a constant hides nothing
    match Question::new(a.circuit("original"), b.circuit("replacement")).settled_only().ask() {
        Ok(_) => true,
        Err(Failure::Refuted(r)) => {
            assert_eq!(r.replay().expect("nothing is unknown here").last(), Some(&0), "{r}");
            false
        }
        Err(other) => panic!("{other}"),
    }
}

#[test]
fn three_hundred_pairs_get_the_same_verdict_from_decision_diagrams() {
    let mut numbers = Numbers(7400);
    let (mut equal, mut different) = (0, 0);
    for round in 0..300 {
        let (inputs, gates) = (3 + numbers.below(6), 8 + numbers.below(25));
        let one = Netlist::drawn(&mut numbers, inputs, gates, 3);
        let other = match round % 2 {
            0 => one.in_nands(),
            _ => one.with_one_gate_changed(&mut numbers).in_nands(),
        };
        let truth = diagrams(&one) == diagrams(&other);
        assert_eq!(is_proved(&one, &other), truth, "round {round}: {one:?}");
        if truth {
            equal += 1;
        } else {
            different += 1;
        }
    }
    println!("{equal} equal, {different} different");
    assert!(equal >= 150 && different >= 60, "both kinds occur: {equal}, {different}");
}

/// The netlist c17 of the ISCAS-85 benchmarks (Brglez, Fujiwara 1985): six NAND gates, against the equations that one
/// reads off it by hand: 22 = 1·3 + 2·¬(3·6), 23 = ¬(3·6)·(2 + 7). Inputs 1, 2, 3, 6, 7 are signals 0 to 4.
#[test]
fn c17_is_its_equations() {
    let nands = [(0, 2), (2, 3), (1, 6), (6, 4), (5, 7), (7, 8)].map(|(a, b)| Gate::Nand(a, b));
    let c17 = Netlist { inputs: 5, gates: nands.into(), outputs: vec![9, 10] };
    let equations = |either: fn(usize, usize) -> Gate| Netlist {
        inputs: 5,
        gates: vec![Gate::And(0, 2), Gate::Nand(2, 3), Gate::And(1, 6), Gate::Or(5, 7), either(1, 4), Gate::And(6, 9)],
        outputs: vec![8, 10],
    };
    assert!(is_proved(&c17, &equations(Gate::Or)));
    assert!(!is_proved(&c17, &equations(Gate::Xor)), "its mutant is refuted");
}
