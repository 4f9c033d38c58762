//! Clear and preset beside an order of changes that is known: what forces a register has the last word while it is asserted.
use super::time::made;
use super::typical::{proved, refuted, timed};
use super::*;

/// Its data change with its clock, and the inverter that makes them clears it while the clock is high. So it is low whatever
/// it loads.
fn cleared_while_high(data: impl FnOnce(&mut Build, Expr) -> Expr) -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let n = b.c.not(x);
        let n = b.net("n", n);
        let (data, clear) = (data(b, n), b.c.not(n));
        let (_, q) = b.register("q", x, data, clear, Start::Low);
        b.output(2, "out", q);
    })
}

fn low() -> Circuit {
    made(|b| {
        b.input(1, "x");
        b.output(2, "out", Expr::LOW);
    })
}

fn loads_high() -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let (_, q) = b.register("out", x, Expr::HIGH, Expr::LOW, Start::Low);
        b.output(2, "out", q);
    })
}

#[test]
fn old_data_do_not_override_a_clear_that_comes_with_the_edge() {
    let cleared = || cleared_while_high(|_, n| n);
    let said = "data of q of the original when 1 x changes: old";
    for question in [
        |replacement| Question::new(timed(cleared_while_high(|_, n| n)), replacement),
        |replacement| Question::new(cleared_while_high(|_, n| n), replacement),
    ] {
        let ask = |replacement: Circuit| question(replacement);
        assert!(!matches!(ask(low()).ask(), Err(Failure::Refuted(_))));
        assert!(ask(loads_high()).ask().is_err());
    }
    proved(Question::new(timed(cleared()), low()));
    refuted(Question::new(timed(cleared()), loads_high()));
    proved(Question::new(cleared(), low()).acknowledging(said));
    refuted(Question::new(cleared(), loads_high()).acknowledging(said));
    // what it loads makes no difference, on either side
    for data in [Expr::LOW, Expr::HIGH] {
        proved(Question::new(timed(cleared()), cleared_while_high(|_, _| data)));
        proved(Question::new(cleared_while_high(|_, _| data), timed(cleared())));
    }
}

/// A latch that closes while it is cleared holds a low, whatever its data were.
#[test]
fn a_latch_that_is_cleared_as_it_closes_is_low() {
    let latch = |data_follow: bool| {
        made(|b| {
            let x = b.input(1, "x");
            let n = b.c.not(x);
            let n = b.net("n", n);
            let data = if data_follow { n } else { Expr::LOW };
            let kind = Kind::Latch { open: n, data };
            let (name, origin, start) = ("q".to_owned(), Origin::Nowhere, Start::Low);
            let clear = b.c.not(n);
            let e = Element { name, kind, clear, preset: Expr::LOW, unknown_load: Expr::LOW, start, origin };
            let e = b.c.add_element(e);
            let q = b.c.q(e);
            b.output(2, "out", q);
        })
    };
    let follows = made(|b| {
        let x = b.input(1, "x");
        let n = b.c.not(x);
        b.output(2, "out", n);
    });
    let ask = |replacement: Circuit| Question::new(timed(latch(true)), replacement);
    proved(ask(follows.clone()));
    refuted(ask(low()));
    proved(Question::new(latch(false), low()));
    refuted(Question::new(latch(false), follows));
}

/// A toggle clears another register while it is high. The clock comes to that one six inverters late, so by the delays of a
/// 74LS74 and a 74LS04 the clear is released before the edge, and what it loads follows the toggle too.
fn released_before_a_late_edge(data: impl FnOnce(Expr) -> Expr) -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let (e, q0) = b.register("first", x, Expr::LOW, Expr::LOW, Start::High);
        let pin = b.net("first_pin", q0);
        let n = b.c.not(pin);
        b.feed(e, n);
        let late = b.inverters("late", x, 6);
        let (_, q) = b.register("q", late, data(n), pin, Start::Low);
        b.output(2, "out", q);
    })
}

/// High after every other edge, from the first on.
fn every_other() -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let (e, q) = b.register("out", x, Expr::LOW, Expr::LOW, Start::Low);
        let n = b.c.not(q);
        b.feed(e, n);
        b.output(2, "out", q);
    })
}

#[test]
fn an_edge_that_counts_after_a_release_loads_what_the_data_are_then() {
    let released = "release of q of the original when 1 x changes";
    let data = "data of q of the original when 1 x changes";
    let constant = || Question::new(released_before_a_late_edge(|_| Expr::HIGH), every_other());
    proved(constant().acknowledging(format!("{released}: new")));
    refuted(constant().acknowledging(format!("{released}: old")));
    let ask = |replacement: Circuit, counts: &str, loads: &str| {
        let question = Question::new(released_before_a_late_edge(|n| n), replacement);
        question.acknowledging(format!("{released}: {counts}")).acknowledging(format!("{data}: {loads}"))
    };
    // old data are high at the edge that the clear follows: that is a pulse
    for (counts, loads) in [("new", "old"), ("old", "new"), ("old", "old")] {
        refuted(ask(every_other(), counts, loads));
    }
    proved(ask(low(), "old", "new"));
    proved(ask(every_other(), "new", "new"));
    refuted(ask(low(), "new", "new"));
    // by typical delays the new bit is there
    let typical = |replacement: Circuit| {
        let question = Question::new(timed(released_before_a_late_edge(|n| n)), replacement);
        question.acknowledging(format!("{released}: new"))
    };
    proved(typical(every_other()));
    refuted(typical(low()));
}
