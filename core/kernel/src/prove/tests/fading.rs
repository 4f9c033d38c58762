//! Pulses at contacts: certain where one change is the cause of the other, and nobody's to know where it is not.
use super::time::made;
use super::typical::{proved, refuted};
use super::*;

/// `out` is high while the clock, so many inverters late, is high and the data differ from what a register took of them.
fn differs(late: usize) -> Circuit {
    made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let (_, q) = b.register("q", clock, data, Expr::LOW, Start::Any);
        let pin = b.net("pin", q);
        let apart = b.c.xor(pin, data);
        let apart = b.net("apart", apart);
        let late = b.inverters("late", clock, late);
        let level = b.c.and(late, apart);
        b.output(3, "out", level);
    })
}

/// The same without a pulse at the clock: a latch has the data before the clock rises.
fn differs_without_a_pulse() -> Circuit {
    made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let open = b.c.not(clock);
        let kept = b.latch("kept", open, data);
        let apart = b.c.xor(kept, data);
        let level = b.c.and(clock, apart);
        b.output(3, "out", level);
    })
}

#[test]
fn a_pulse_that_one_change_causes_is_certain() {
    proved(Question::new(differs(0), differs(0)));
    refuted(Question::new(differs(0), differs_without_a_pulse()));
    refuted(Question::new(differs_without_a_pulse(), differs(0)));
}

#[test]
fn a_pulse_that_hangs_on_an_order_withholds_whatever_the_replacement_does() {
    for late in [2, 12] {
        for replacement in [differs(0), differs_without_a_pulse()] {
            let question = Question::new(differs(late), replacement);
            let Err(Failure::Withheld(withheld)) = question.ask() else { panic!("{late}") };
            let [hidden] = &withheld.hidden[..] else { panic!("{withheld}") };
            assert!(matches!(&hidden.why, Why::Fades { event, .. } if event == "1 clock"), "{hidden:?}");
            assert_eq!(hidden.call, "contact 3");
            let told = hidden.to_string();
            assert!(told.contains("late2") && told.contains("→ apart"), "{told}");
            proved(question.acknowledging("contact 3"));
        }
        // what differs besides is refuted all the same
        let stuck = made(|b| {
            b.input(1, "clock");
            b.input(2, "data");
            b.output(3, "out", Expr::LOW);
        });
        refuted(Question::new(differs(late), stuck));
    }
}

/// A pulse that goes on through gates is as certain as it was.
#[test]
fn a_pulse_is_as_certain_behind_a_gate() {
    let inverted = |of: Circuit| {
        let mut b = Build { c: of };
        let net = b.c.contacts().iter().find(|c| c.label == Label::from(3)).map(|c| c.net).unwrap();
        let level = b.c.net(net);
        let level = b.c.not(level);
        b.output(4, "inverted", level);
        b.c
    };
    proved(Question::new(inverted(differs(0)), inverted(differs(0))));
    let answer = Question::new(inverted(differs(2)), inverted(differs(0))).ask();
    let Err(Failure::Withheld(withheld)) = answer else { panic!("{answer:?}") };
    let calls: Vec<&str> = withheld.hidden.iter().map(|h| h.call.as_str()).collect();
    assert_eq!(calls, ["contact 3", "contact 4"]);
}
