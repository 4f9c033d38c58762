//! What a proof rests on, written for other solvers, read back by this one.
use super::*;

/// The answers of Z3's own reader to a script of the prover.
fn answers(proof: &Proof) -> Vec<bool> {
    proof.obligations().iter().map(|o| Solver::refutes(&o.text)).collect()
}

#[test]
fn every_obligation_has_no_solution_and_says_what_it_is() {
    let proof = Question::new(shift(Start::Any, false), shift(Start::Low, true)).ask().unwrap();
    let all = proof.obligations();
    assert!(answers(&proof).iter().all(|&a| a), "{}", proof.smt2());
    assert!(all.iter().any(|o| o.event == "contact 1 clock changes"), "{all:?}");
    let script = proof.smt2();
    assert_eq!(script.matches("(check-sat)").count(), all.len());
    assert_eq!(script.matches("(push 1)").count(), script.matches("(pop 1)").count());
    let files = proof.obligation_files();
    assert_eq!(files.len(), all.len() + 1);
    assert_eq!(files.last().unwrap().1.lines().count(), all.len() + 1);
}

#[test]
fn a_matching_that_does_not_hold_leaves_an_obligation_with_a_solution() {
    let mut proof = Question::new(shift(Start::Any, false), shift(Start::Low, true)).ask().unwrap();
    for class in &mut proof.certificate.as_mut().unwrap().relation.classes {
        for (bit, opposite) in &mut class.bits {
            *opposite ^= *bit == (1, 1);
        }
    }
    assert!(answers(&proof).iter().any(|&a| !a));
}

#[test]
fn a_proof_by_structure_alone_does_not_say_that_every_state_was_visited() {
    let proof = Question::new(shift(Start::Any, false), shift(Start::Any, false)).walking(0).ask().unwrap();
    assert_eq!(proof.obligations(), []);
    assert!(proof.smt2().contains("closed by structure"), "{}", proof.smt2());
}
