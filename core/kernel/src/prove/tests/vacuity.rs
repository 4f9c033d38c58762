//! Proofs that hold only because the original's freedom was used up, and honest ones that look like them.
use super::*;

/// A counter 0, 1, 2, 0 at contacts 2 and 3, clocked by contact 1, with a clear at contact 4; what follows on 3 nobody
/// knows, where `open`.
fn three(open: bool, start: Start) -> Circuit {
    let mut b = Build::new("three");
    let (clock, clear) = (b.input(1, "clock"), b.input(4, "clear"));
    let (low, q0) = b.register("q0", clock, Expr::LOW, clear, start);
    let (high, q1) = b.register("q1", clock, Expr::LOW, clear, start);
    let either = b.c.or(q0, q1);
    let next = b.c.not(either);
    b.feed(low, next);
    b.feed(high, q0);
    if open {
        let both = b.c.and(q0, q1);
        b.c.load_unknown_while(low, both);
        b.c.load_unknown_while(high, both);
    }
    b.output(2, "y0", q0);
    b.output(3, "y1", q1);
    b.c
}

/// Nothing but constants, or one of them behind a register that is never set.
fn constants(high: bool, registered: bool, clears: bool) -> Circuit {
    let mut b = Build::new("constants");
    let (clock, clear) = (b.input(1, "clock"), b.input(4, "clear"));
    let level = Expr::constant(high);
    let mut y0 = level;
    if registered {
        let (e, q) = b.register("r", clock, Expr::LOW, Expr::LOW, if high { Start::High } else { Start::Low });
        b.feed(e, q);
        y0 = q;
    }
    let shown = |b: &mut Build, level| {
        if clears {
            let keep = b.c.not(clear);
            b.c.and(level, keep)
        } else {
            level
        }
    };
    let (y0, y1) = (shown(&mut b, y0), shown(&mut b, level));
    b.output(2, "y0", y0);
    b.output(3, "y1", y1);
    b.c
}

fn never_cleared() -> Assumption {
    Assumption { text: "clear low".into(), holds: Formula::Not(Arc::new(Formula::High(4.into()))) }
}

fn vacuous(original: &Circuit, replacement: &Circuit) -> Vec<Hidden> {
    match Question::new(original.clone(), replacement.clone()).ask() {
        Err(Failure::Withheld(w)) => w.hidden.clone(),
        other => panic!("{other:?}"),
    }
}

/// The clear cut off: the trace of a card on which nothing resets the counter.
fn unreset(mut c: Circuit) -> Circuit {
    for name in ["q0", "q1"] {
        let e = c.find_element(name).unwrap();
        c.element_mut(e).unwrap().clear = Expr::LOW;
    }
    c
}

#[test]
fn a_constant_is_no_counter_that_never_leaves_what_no_sheet_follows_up() {
    let original = unreset(three(true, Start::Any));
    for registered in [false, true] {
        let replacement = constants(true, registered, false);
        let hidden = vacuous(&original, &replacement);
        let is = |what: &dyn Fn(&Hidden) -> bool| hidden.iter().any(what);
        if !registered {
            assert!(is(&|h| h.name == "clock" && matches!(h.why, Why::Ignored { .. })), "{hidden:?}");
        }
        for y in ["y0", "y1"] {
            assert!(is(&|h| h.name == y && matches!(h.why, Why::Still { runs } if runs >= 58)), "{hidden:?}");
        }
        assert!(is(&|h| h.why == Why::OpenAgain), "{hidden:?}");
        // each by its own words, and not by the name alone
        let calls = hidden.iter().map(|h| h.call.clone()).collect::<Vec<_>>();
        assert!(calls.contains(&"y0 never moving".to_owned()), "{calls:?}");
        let mut question = Question::new(original.clone(), replacement.clone());
        for (k, call) in calls.iter().enumerate() {
            match question.ask() {
                Err(Failure::Withheld(w)) => assert_eq!(w.hidden.len(), calls.len() - k, "{w}"),
                other => panic!("{other:?}"),
            }
            question = question.acknowledging(call.clone());
        }
        assert!(question.ask().is_ok());
        let by_name = Question::new(original.clone(), replacement).acknowledging("contact y0").ask();
        assert!(matches!(by_name, Err(Failure::Withheld(w)) if w.hidden.len() == calls.len()));
    }
}

#[test]
fn an_honest_counter_raises_no_alarm() {
    for start in [Start::Any, Start::Low] {
        let proof = Question::new(three(true, Start::Any), three(false, start)).ask();
        assert!(proof.is_ok(), "{proof:?}");
        let proof = Question::new(unreset(three(true, Start::Any)), unreset(three(false, start))).ask();
        assert!(proof.is_ok(), "{proof:?}");
    }
    // and a constant is refuted where a clear tells
    let answer = Question::new(three(true, Start::Any), constants(true, false, true)).ask();
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
}

#[test]
fn an_input_that_nothing_hangs_on_may_be_left_out() {
    // b is read and makes no difference; c would, were r ever high
    let mut b = Build::new("redundant");
    let (a, extra, c) = (b.input(1, "a"), b.input(2, "b"), b.input(3, "c"));
    let not = b.c.not(extra);
    let (with, without) = (b.c.and(a, extra), b.c.and(a, not));
    let y = b.c.or(with, without);
    let (e, r) = b.register("r", a, Expr::LOW, Expr::LOW, Start::Low);
    b.feed(e, r);
    let never = b.c.and(r, c);
    let y = b.c.or(y, never);
    b.output(4, "y", y);
    let mut plain = Build::new("plain");
    let a = plain.input(1, "a");
    plain.output(4, "y", a);
    let answer = Question::new(b.c.clone(), plain.c).settled_only().ask();
    assert!(answer.is_ok(), "{answer:?}");
    // where r may start high it does: somebody should look
    let e = b.c.find_element("r").unwrap();
    b.c.element_mut(e).unwrap().start = Start::Any;
    let mut plain = Build::new("plain");
    let a = plain.input(1, "a");
    plain.output(4, "y", a);
    match Question::new(b.c, plain.c).settled_only().ask() {
        Err(Failure::Withheld(w)) => {
            let names: Vec<_> =
                w.hidden.iter().map(|h| (h.name.as_str(), matches!(h.why, Why::Ignored { .. }))).collect();
            assert_eq!(names, [("c", true)], "{w}");
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_assumed_never_to_happen_is_no_dependence() {
    // with the clear low for ever the replacement need not read it
    let replacement = unreset(three(false, Start::Any));
    let question = Question::new(three(true, Start::Any), replacement).assuming(never_cleared());
    assert!(matches!(question.ask(), Err(Failure::Refused(Refusal::Stuck { .. }))), "a contact must move");
}
