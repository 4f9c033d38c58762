//! The obligations of a proof, read as any solver would read them and answered again by two that are not Z3: a SAT solver
//! after Tseitin's transformation (G. S. Tseitin, On the complexity of derivation in propositional calculus, 1968), and
//! decision diagrams.

use gluewright::circuit::Circuit;
use gluewright::prelude::*;
use gluewright::prove::{Proof, Question};
use gluewright_tests::script::{Answer, Check, Script};

/// A card with a bit of everything: a 74LS173 that is written on one clock and read on a three-state bus, and a 74LS74
/// that says that it was.
fn card() -> Circuit {
    let trace = "ref,part,pin,net\n\
        J1,contacts,1,clk\nJ1,contacts,2,write_n\nJ1,contacts,3,read_n\nJ1,contacts,4,clear\n\
        J1,contacts,5,d0\nJ1,contacts,6,d1\nJ1,contacts,7,q0\nJ1,contacts,8,q1\nJ1,contacts,9,full\n\
        U1,74LS173,1,read_n\nU1,74LS173,2,read_n\nU1,74LS173,3,q0\nU1,74LS173,4,q1\nU1,74LS173,7,clk\n\
        U1,74LS173,9,write_n\nU1,74LS173,10,write_n\nU1,74LS173,14,d0\nU1,74LS173,13,d1\nU1,74LS173,15,clear\n\
        U1,74LS173,16,VCC\nU1,74LS173,8,GND\n\
        U2,74LS00,1,write_n\nU2,74LS00,2,full_n\nU2,74LS00,3,next\nU2,74LS00,4,clear\nU2,74LS00,5,clear\n\
        U2,74LS00,6,clear_n\nU2,74LS00,14,VCC\nU2,74LS00,7,GND\n\
        U3,74LS74,1,clear_n\nU3,74LS74,2,next\nU3,74LS74,3,clk\nU3,74LS74,4,VCC\nU3,74LS74,5,full\nU3,74LS74,6,full_n\n\
        U3,74LS74,14,VCC\nU3,74LS74,7,GND\n";
    let board = gluewright::board::Board::from_csv("card.csv", trace, gluewright_parts::ttl());
    board.expect("the trace is sound").circuit().expect("it is logic")
}

#[derive(Circuit)]
#[rustfmt::skip]
struct StandIn {
    #[contact(1)]    clk:   Input<Clock>,
    #[contact(2)]    write: Input<ActiveLow>,
    #[contact(3)]    read:  Input<ActiveLow>,
    #[contact(4)]    clear: Input<ActiveHigh>,
    #[contact(5, 6)] d:     [Input<Data>; 2],
    #[contact(7, 8)] q:     [Output<Data, ThreeState>; 2],
    #[contact(9)]    full:  Output<ActiveHigh>,
}

impl Wiring for StandIn {
    fn wire(&self) -> StandInWiring {
        let (clock, write, clear) = (self.clk.rises(), self.write.asserted(), self.clear.asserted());
        // sums with a term to spare: equal to the card's multiplexers, and not by their looks
        let next = |i: usize| {
            let (d, q) = (self.d[i].level().is_high(), self.q[i].held().is_high());
            high_while((write & d) | (!write & q) | (d & q))
        };
        let full = self.full.asserted();
        StandInWiring {
            q: each(|i| on(clock).load(next(i)).clear_while(clear).drive_while(self.read.asserted())),
            full: on(clock).load(write | (full & !write)).release_while(clear),
        }
    }
}

fn proof() -> Proof {
    let stand_in = gluewright::circuit_of::<StandIn>().expect("it builds");
    Question::new(card(), stand_in).walking(0).ask().unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_sat_solver_and_decision_diagrams_agree_with_every_obligation() {
    let proof = proof();
    let text = proof.smt2();
    let script = Script::read(&text).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let obligations = proof.obligations();
    assert!(obligations.len() >= 3, "an induction has obligations: {proof}");
    assert_eq!(script.checks.len(), obligations.len());
    for (check, obligation) in script.checks.iter().zip(&obligations) {
        assert_eq!(check.by_sat(), Answer::Unsat, "{obligation:?}");
        assert_eq!(check.by_diagram(), Answer::Unsat, "{obligation:?}");
    }
    println!("{} obligations, {} definitions", script.checks.len(), script.definitions());
}

#[test]
fn each_obligation_file_stands_alone() {
    let files = proof().obligation_files();
    let scripts: Vec<_> = files.iter().filter(|(name, _)| name.ends_with(".smt2")).collect();
    assert_eq!(scripts.len() + 1, files.len(), "and the manifest");
    for (name, text) in scripts {
        let script = Script::read(text).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(matches!(script.checks.as_slice(), [one] if one.by_sat() == Answer::Unsat), "{name}");
    }
}

/// What was asserted, turned round: if no assertion bore on an answer, this would change none.
#[test]
fn an_obligation_with_an_assertion_turned_round_has_a_solution() {
    let turned = proof().obligations().into_iter().filter(|o| {
        let (before, last) = o.text.trim_end().rsplit_once("(assert ").expect("something is asserted");
        let last = last.strip_suffix(')').expect("and closed");
        let text = format!("{before}(assert (not {last}))\n(check-sat)\n");
        let script = Script::read(&text).unwrap_or_else(|e| panic!("{e}"));
        let [check] = script.checks.as_slice() else { panic!("one question") };
        assert_eq!(check.by_sat(), check.by_diagram());
        check.by_sat() == Answer::Sat
    });
    assert!(turned.count() >= 3);
}

/// The reader itself, on what can be seen by eye.
#[test]
fn the_reader_answers_small_questions_rightly() {
    let answers = |text: &str| {
        let script = Script::read(text).unwrap_or_else(|e| panic!("{e}"));
        let sat: Vec<_> = script.checks.iter().map(Check::by_sat).collect();
        assert_eq!(sat, script.checks.iter().map(Check::by_diagram).collect::<Vec<_>>());
        sat
    };
    let (sat, unsat) = (Answer::Sat, Answer::Unsat);
    assert_eq!(answers("(declare-const a Bool)(assert a)(check-sat)(assert (not a))(check-sat)"), [sat, unsat]);
    // scopes end with their assertions
    let scoped = "(declare-const a Bool)(push 1)(assert a)(assert (not a))(check-sat)(pop 1)(check-sat)";
    assert_eq!(answers(scoped), [unsat, sat]);
    // three pigeons, two holes
    let mut text = String::new();
    for p in 0..3 {
        text += &format!("(declare-const p{p}0 Bool)(declare-const p{p}1 Bool)(assert (or p{p}0 p{p}1))\n");
    }
    for hole in 0..2 {
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            text += &format!("(assert (not (and p{p}{hole} p{q}{hole}))) ; no two in one\n");
        }
    }
    assert_eq!(answers(&format!("{text}(check-sat)")), [unsat]);
    let two = text.replace("(assert (or p20 p21))", "");
    assert_eq!(answers(&format!("{two}(check-sat)")), [sat]);
    let defined = "(declare-const a Bool)(declare-const b Bool)(define-fun x () Bool (xor a b))\
        (define-fun y () Bool (or (and a (not b)) (and b (not a))))(assert (not (= x y)))(check-sat)";
    assert_eq!(answers(defined), [unsat]);
    assert!(Script::read("(assert (f a))(check-sat)").is_err(), "what is not understood is an error");
    assert!(Script::read("(assert a").is_err());
}
