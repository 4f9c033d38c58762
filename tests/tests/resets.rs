//! A resistor and a capacitor at a clear, by both readings: the prover's and the checker's, which was written apart from it.
use gluewright::prove::{Failure, Question};
use gluewright_tests::boards::board;
use gluewright_tests::checked::{certificate, checked, judged};

/// A flip-flop that a late net clears when power comes on, through a Schmitt trigger twice; a second one hangs on nothing.
const CARD: &str = "ref,part,pin,net
U1,74LS14,1,late
U1,74LS14,2,turned
U1,74LS14,3,turned
U1,74LS14,4,reset_n
U1,74LS14,7,GND
U1,74LS14,14,VCC
U2,74LS74,1,reset_n
U2,74LS74,2,d
U2,74LS74,3,clk
U2,74LS74,4,high
U2,74LS74,5,q
U2,74LS74,7,GND
U2,74LS74,14,VCC
R1,resistor 47k,1,VCC
R1,,2,late
R2,resistor 1k,1,VCC
R2,,2,high
C1,capacitor 10u,1,late
C1,,2,GND
J1,contacts,1,d
J1,,2,clk
J1,,3,q
";

/// The same card without the capacitor: whatever its flip-flop holds when power comes on, it may show.
fn without() -> String {
    CARD.replace("C1,capacitor 10u,1,late\nC1,,2,GND\n", "")
}

/// The same card with clear and preset exchanged: it begins high.
fn preset() -> String {
    CARD.replace("U2,74LS74,1,reset_n", "U2,74LS74,1,high").replace("U2,74LS74,4,high", "U2,74LS74,4,reset_n")
}

fn question(original: &str, replacement: &str) -> Question {
    Question::new(board(original).expect("a board"), board(replacement).expect("a board")).settled_only()
}

#[test]
fn where_a_card_starts_is_read_alike() {
    for (original, replacement) in
        [(CARD.to_owned(), CARD.to_owned()), (without(), CARD.to_owned()), (preset(), preset())]
    {
        let proof = question(&original, &replacement).ask().expect("it is proved");
        let verdict = judged(&proof, &original, &replacement);
        assert!(verdict.stands(), "{verdict}\n{original}");
    }
}

#[test]
fn another_start_is_refuted_and_objected_to() {
    for (original, replacement) in [(CARD.to_owned(), without()), (CARD.to_owned(), preset()), (preset(), without())] {
        assert!(
            matches!(question(&original, &replacement).ask(), Err(Failure::Refuted(_))),
            "{original}\n{replacement}"
        );
        // a certificate that is right for the one is put beside the other
        let proof = question(&replacement, &replacement).ask().expect("it is proved");
        let verdict = checked(&certificate(&proof, &original, &replacement), &original, &replacement);
        assert!(!verdict.stands(), "{original}\n{replacement}");
        println!("{:#?}", verdict.objections);
    }
}
