//! Contacts that change together on one side and one after the other on the other.
use super::time::made;
use super::*;

/// A counter of three bits on one clock, low bit first.
fn together() -> Circuit {
    made(|b| {
        let clock = b.input(1, "clock");
        let mut carry = Expr::HIGH;
        for i in 0..3 {
            let (e, q) = b.register(&format!("q{i}"), clock, Expr::LOW, Expr::LOW, Start::Low);
            let data = b.c.xor(q, carry);
            b.feed(e, data);
            carry = b.c.and(carry, q);
            b.output(2 + i, &format!("q{i}"), q);
        }
    })
}

/// The same, each bit clocked by the fall of the one before it.
fn in_turn() -> Circuit {
    made(|b| {
        let mut clock = b.input(1, "clock");
        for i in 0..3 {
            let (e, q) = b.register(&format!("q{i}"), clock, Expr::LOW, Expr::LOW, Start::Low);
            let data = b.c.not(q);
            b.feed(e, data);
            b.output(2 + i, &format!("q{i}"), q);
            clock = data;
        }
    })
}

/// Eight follows seven by way of six and four, or at once: the levels at rest do not tell.
#[test]
fn a_ripple_counter_is_no_synchronous_one_for_who_reads_a_word() {
    let call = "order of 2 q0 and 2 others of the replacement when 1 clock changes";
    let question = || Question::new(together(), in_turn());
    match question().ask() {
        Err(Failure::Withheld(w)) => {
            let calls: Vec<&str> = w.hidden.iter().map(|h| h.call.as_str()).collect();
            assert_eq!(calls, [call], "{w}");
        }
        other => panic!("{other:?}"),
    }
    question().acknowledging(call).ask().unwrap_or_else(|e| panic!("{e}"));
    let other = question().acknowledging(call.replace("2 others", "another")).ask();
    assert!(matches!(other, Err(Failure::Refused(Refusal::Acknowledgement(_)))), "{other:?}");
    // the other way round the words between are fewer: said, and no more
    let proof = Question::new(in_turn(), together()).ask().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(proof.findings.iter().filter(|f| f.contains("one after the other")).count(), 1, "{proof}");
    for same in [together(), in_turn()] {
        let proof = Question::new(same.clone(), same).ask().unwrap_or_else(|e| panic!("{e}"));
        assert!(proof.findings.is_empty(), "{proof}");
    }
}

/// Two bits in a Gray code, of which never both move: no word is read between.
#[test]
fn contacts_that_never_move_in_one_event_are_in_no_order() {
    let gray = |one_is_late: bool| {
        made(|b| {
            let clock = b.input(1, "clock");
            let (e, odd) = b.register("odd", clock, Expr::LOW, Expr::LOW, Start::Low);
            let even = b.c.not(odd);
            b.feed(e, even);
            let (e, low) = b.register("low", clock, Expr::LOW, Expr::LOW, Start::Low);
            let data = b.c.xor(low, even);
            b.feed(e, data);
            b.output(2, "low", low);
            let (at, step) = if one_is_late { (even, Expr::HIGH) } else { (clock, odd) };
            let (e, high) = b.register("high", at, Expr::LOW, Expr::LOW, Start::Low);
            let data = b.c.xor(high, step);
            b.feed(e, data);
            b.output(3, "high", high);
        })
    };
    let proof = Question::new(gray(false), gray(true)).ask().unwrap_or_else(|e| panic!("{e}"));
    assert!(proof.findings.is_empty(), "{proof}");
}
