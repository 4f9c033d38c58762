//! Orders that typical delays decide, and orders that somebody measured and acknowledged.
use crate::order::Rule;

use super::time::{late_gate, made, skewed};
use super::*;

/// Gates of 15 ns, registers of 25 to 40, setup of 20 and hold of 5: a 74LS04 and a 74LS74 (Motorola, FAST AND LS TTL DATA).
pub(super) fn timed(mut c: Circuit) -> Circuit {
    let stored: Vec<(NetId, bool)> = c
        .numbered_nets()
        .filter(|(_, n)| !n.drivers.is_empty())
        .map(|(id, n)| (id, n.drivers.iter().any(|d| matches!(c.op(d.level), Op::Q(_)))))
        .collect();
    let elements = c.elements().len();
    let delays = c.delays_mut();
    for (net, stored) in stored {
        delays.output(net, None, if stored { Span { least: 25.0, most: 40.0 } } else { Span::of(15.0) });
    }
    for e in 0..elements {
        delays.steady(ElementId::at(e), Steady { setup: Some(20.0), hold: Some(5.0) });
    }
    c
}

/// A wire from the input to the output.
fn wire() -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        b.output(2, "out", x);
    })
}

/// What follows a rise, and never falls again.
fn sticky() -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let kept = b.latch("q", x, Expr::HIGH);
        b.output(2, "out", kept);
    })
}

/// So many registers in a row on one clock.
fn stages(count: usize) -> Circuit {
    made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let level =
            (0..count).fold(data, |level, i| b.register(&format!("r{i}"), clock, level, Expr::LOW, Start::Any).1);
        b.output(3, "out", level);
    })
}

pub(super) fn proved(question: Question) -> Proof {
    question.ask().unwrap_or_else(|e| panic!("{e}"))
}

pub(super) fn refuted(question: Question) {
    let answer = question.ask();
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
}

fn withheld(question: Question) -> Withheld {
    match question.ask() {
        Err(Failure::Withheld(w)) => *w,
        other => panic!("{other:?}"),
    }
}

/// By hand: the gate comes 18 ns after the data, typically, and the latch needs 10; 0.44 of 18 is left for the spread.
#[test]
fn a_latch_that_closes_late_follows_by_typical_delays() {
    let proof = proved(Question::new(timed(late_gate()), wire()));
    let [typical] = &proof.typical[..] else { panic!("{proof}") };
    assert!(typical.by.new && (typical.by.spread - 8.0 / 18.0).abs() < 1e-9, "{typical}");
    assert!(proof.to_string().starts_with("Proved, by typical delays at 1 place: "), "{proof}");
    refuted(Question::new(timed(late_gate()), sticky()));
    // nobody knows without figures, or if they are not to count
    for original in [late_gate(), timed(late_gate())] {
        for replacement in [wire(), sticky()] {
            let question = Question::new(original.clone(), replacement).by_causality_alone();
            assert!(withheld(question).hidden.iter().any(|h| h.of == Of::Original));
        }
    }
}

/// By hand: the new bit is there after 15 to 24 ns, the late clock after 54, and 10 of setup: 20 of 78 is left.
#[test]
fn a_register_clocked_late_takes_the_new_bit() {
    let one = proved(Question::new(timed(skewed(6)), stages(1)));
    let [typical] = &one.typical[..] else { panic!("{one}") };
    assert!(typical.by.new && (typical.by.spread - 20.0 / 78.0).abs() < 1e-9, "{typical}");
    // and a refutation says that it rests on that
    let Err(Failure::Refuted(refutation)) = Question::new(timed(skewed(6)), stages(2)).ask() else {
        panic!("one stage")
    };
    assert_eq!(refutation.orders, ["data of two of the original when 1 clock changes: new"]);
    let told = refutation.explain().run();
    assert!(
        told.contains("by typical delays or as it was acknowledged:") && told.contains("in another order, it may"),
        "{told}"
    );
    // four inverters are too close to tell
    withheld(Question::new(timed(skewed(4)), stages(1)));
    withheld(Question::new(timed(skewed(4)), stages(2)));
    // typical delays of the replacement prove nothing: it holds either way, or it is withheld
    assert!(withheld(Question::new(stages(1), timed(skewed(6)))).hidden.iter().all(|h| h.of == Of::Replacement));
}

/// Through the same words as a user: what was measured is followed, and may refute.
#[test]
fn what_is_acknowledged_with_its_outcome_is_followed() {
    let call = "data of q of the original when 1 x changes";
    let ask = |replacement: Circuit, outcome: &str| {
        Question::new(late_gate(), replacement).acknowledging(format!("{call}{outcome}"))
    };
    assert!(withheld(Question::new(late_gate(), wire())).hidden.iter().any(|h| h.call == call));
    proved(ask(wire(), ": new"));
    refuted(ask(sticky(), ": new"));
    proved(ask(sticky(), ": old"));
    refuted(ask(wire(), ": old"));
    for outcome in ["", ": either"] {
        proved(ask(wire(), outcome));
        proved(ask(sticky(), outcome));
    }
    let answer = ask(wire(), ": pulse").ask();
    assert!(
        matches!(&answer, Err(Failure::Refused(Refusal::Acknowledgement(why))) if why.contains("`old`")),
        "{answer:?}"
    );
    let answer = ask(wire(), ": sometimes").ask();
    assert!(matches!(answer, Err(Failure::Refused(Refusal::Acknowledgement(_)))), "{answer:?}");
    // one side: there is nothing like it in the replacement
    let other = Question::new(late_gate(), wire()).acknowledging("data of q of the replacement when 1 x changes: new");
    assert!(matches!(other.ask(), Err(Failure::Refused(Refusal::Acknowledgement(_)))));
}

/// A toggle that a pulse of a gate may clock: whoever has seen it says so.
#[test]
fn a_pulse_that_was_seen_or_was_not_is_followed() {
    let former = || {
        made(|b| {
            let a = b.input(1, "a");
            let late = b.inverters("late", a, 3);
            let both = b.c.and(a, late);
            let pulse = b.net("pulse", both);
            b.toggle_at(3, "toggle", pulse, Expr::LOW);
        })
    };
    let divider = made(|b| {
        let a = b.input(1, "a");
        b.toggle_at(3, "toggle", a, Expr::LOW);
    });
    let still = made(|b| {
        b.input(1, "a");
        let (_, q) = b.register("toggle", Expr::LOW, Expr::LOW, Expr::LOW, Start::Any);
        b.output(3, "toggle", q);
    });
    let ask = |replacement: &Circuit, outcome: &str| {
        let question = Question::new(former(), replacement.clone());
        question.acknowledging(format!("pulse of pulse of the original when 1 a changes{outcome}"))
    };
    refuted(ask(&divider, ": no pulse"));
    let answer = ask(&still, ": no pulse").ask();
    assert!(!matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
    refuted(ask(&still, ": pulse"));
}

/// A name is one register; what races in two is acknowledged by its own call.
#[test]
fn a_name_acknowledges_no_other_register() {
    let two = |c: &mut Build| {
        let (x, data) = (c.input(1, "x"), c.input(2, "data"));
        let late = c.inverters("late", x, 2);
        let both = c.c.and(x, data);
        let both = c.net("both", both);
        for i in 0..2 {
            let (_, q) = c.register(&format!("q{i}"), late, both, Expr::LOW, Start::Any);
            c.output(3 + i, &format!("out{i}"), q);
        }
    };
    let question = || Question::new(made(two), made(two));
    let calls: Vec<String> = withheld(question()).hidden.into_iter().map(|h| h.call).collect();
    let call = "data of q0 and another of the original when 1 x changes";
    assert!(calls.iter().any(|c| c == call), "{calls:?}");
    for name in ["q0", "q1", "register q0", "q0 of the original"] {
        let answer = question().acknowledging(name).ask();
        let is_withheld = matches!(&answer, Err(Failure::Withheld(w)) if w.hidden.iter().any(|h| h.call == call));
        assert!(is_withheld, "{name}: {answer:?}");
    }
    let rest = calls.iter().fold(question(), |q, call| q.acknowledging(call));
    proved(rest);
}

/// Its outcome moves its own data: what is said of it holds for the edge, once.
#[test]
fn an_outcome_that_moves_its_own_data_is_taken_once() {
    let own = || {
        made(|b| {
            let x = b.input(1, "x");
            let late = b.inverters("late", x, 2);
            let (e, q) = b.register("q", late, Expr::LOW, Expr::LOW, Start::Any);
            let (no_x, no_q) = (b.c.not(x), b.c.not(q));
            let (one, other) = (b.c.and(x, no_q), b.c.and(no_x, q));
            let data = b.c.or(one, other);
            let data = b.net("data", data);
            b.feed(e, data);
            b.output(2, "out", q);
        })
    };
    let toggles = made(|b| {
        let x = b.input(1, "x");
        b.toggle_at(2, "out", x, Expr::LOW);
    });
    let holds = made(|b| {
        let x = b.input(1, "x");
        let (e, q) = b.register("out", x, Expr::LOW, Expr::LOW, Start::Any);
        b.feed(e, q);
        b.output(2, "out", q);
    });
    let ask = |replacement: &Circuit, outcome: &str| {
        let question = Question::new(own(), replacement.clone());
        question.acknowledging(format!("data of q of the original when 1 x changes: {outcome}"))
    };
    proved(ask(&toggles, "new"));
    refuted(ask(&toggles, "old"));
    proved(ask(&holds, "old"));
    refuted(ask(&holds, "new"));
}

/// Registers in a row, each clocked so many inverters after the one before.
fn row(lengths: &[usize]) -> Circuit {
    made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let (mut clock, mut level) = (clock, data);
        for (i, &length) in lengths.iter().enumerate() {
            clock = b.inverters(&format!("late{i}_"), clock, length);
            let (_, q) = b.register(&format!("r{i}"), clock, level, Expr::LOW, Start::Any);
            level = b.net(&format!("pin{i}"), q);
        }
        b.output(3, "out", level);
    })
}

/// A register that takes the new bit makes the next one's data move: in one event the bit passes them all. By hand: a row
/// of four whose clocks come later and later is one stage; with the last one old it is two.
#[test]
fn an_outcome_that_opens_another_is_followed_to_the_end() {
    let four = row(&[0, 6, 6, 6]);
    let ask = |stages: Circuit, last: &str| {
        let say = |register: &str, outcome: &str| {
            format!("data of {register} of the original when 1 clock changes: {outcome}")
        };
        let question = Question::new(four.clone(), stages).acknowledging(say("r1", "new"));
        question.acknowledging(say("r2", "new")).acknowledging(say("r3", last))
    };
    proved(ask(stages(1), "new"));
    refuted(ask(stages(2), "new"));
    proved(ask(stages(2), "old"));
    refuted(ask(stages(1), "old"));
    // by typical delays just the same
    assert_eq!(proved(Question::new(timed(four), stages(1))).typical.len(), 3);
}

/// Registers in a row, each clocked so many inverters after the one before. All but the last are cleared while the clock is low:
/// what one passes on is what it takes itself at that very rise.
fn gated_row(lengths: &[usize]) -> Circuit {
    made(|b| {
        let (clock, data, other) = (b.input(1, "clock"), b.input(2, "data"), b.input(4, "other"));
        let (mut late, mut level) = (clock, data);
        let rests = b.c.not(clock);
        for (i, &length) in lengths.iter().enumerate() {
            late = b.inverters(&format!("late{i}_"), late, length);
            let last = i + 1 == lengths.len();
            let clear = if last { Expr::LOW } else { rests };
            let (_, q) = b.register(&format!("r{i}"), late, level, clear, Start::Low);
            level = b.net(&format!("pin{i}"), q);
        }
        let out = b.c.or(level, other);
        b.output(3, "out", out);
    })
}

fn shows_other() -> Circuit {
    made(|b| {
        let other = b.input(4, "other");
        b.output(3, "out", other);
    })
}

/// Either outcome of each is the same at the contacts, but for what comes after it.
#[test]
fn an_outcome_that_only_another_opens_withholds() {
    // two that can both take the new bit reach the third
    let question = Question::new(shows_other(), gated_row(&[0, 6, 6]));
    let names = |w: &Withheld| w.hidden.iter().map(|h| h.name.clone()).collect::<Vec<_>>();
    assert_eq!(names(&withheld(question.clone())), ["r0", "r1", "r1"]);
    let said = ["data of r1", "release of r1", "release of r0"];
    let said = said.map(|what| format!("{what} of the replacement when 1 clock changes: new"));
    let question = said.into_iter().fold(question, |q, s| q.acknowledging(s));
    assert_eq!(names(&withheld(question)), ["r2"]);
    // on one clock nothing passes: only the releases are in doubt
    let w = withheld(Question::new(shows_other(), gated_row(&[0, 0, 0])));
    assert!(w.hidden.iter().all(|h| matches!(h.why, Why::Order { rule: Rule::Recovery, .. })), "{w}");
}

/// However many open each other.
#[test]
fn a_long_row_of_outcomes_that_open_each_other_withholds() {
    for length in 4..=9 {
        let lengths: Vec<usize> = (0..length).map(|i| if i == 0 { 0 } else { 6 }).collect();
        let answer = Question::new(shows_other(), gated_row(&lengths)).ask();
        assert!(matches!(answer, Err(Failure::Withheld(_))), "{length}: {answer:?}");
    }
}

/// Two registers: `en` toggles at the clock, and `q` at the rise of the clock six inverters later while `en` is high. While
/// `en` was high it is low before the late clock comes: by the delays of a 74LS74 and 74LS04 no pulse comes.
fn gated_late() -> Circuit {
    made(|b| {
        let clock = b.input(1, "clock");
        let (e, en) = b.register("en", clock, Expr::LOW, Expr::LOW, Start::Low);
        let en = b.net("en_pin", en);
        let next = b.c.not(en);
        b.feed(e, next);
        let late = b.inverters("late", clock, 6);
        let both = b.c.and(late, en);
        let gated = b.net("gated", both);
        b.toggle_at(3, "q", gated, Expr::LOW);
    })
}

/// The same told in one clock: `q` toggles at every edge, or only at those before which `en` was low.
fn gated_at_once(every: bool) -> Circuit {
    made(|b| {
        let clock = b.input(1, "clock");
        let (e, en) = b.register("en", clock, Expr::LOW, Expr::LOW, Start::Low);
        let next = b.c.not(en);
        b.feed(e, next);
        let (e, q) = b.register("q", clock, Expr::LOW, Expr::LOW, Start::Any);
        let turned = b.c.not(q);
        let next = if every { turned } else { b.c.choose(en, q, turned) };
        b.feed(e, next);
        b.output(3, "q", q);
    })
}

/// A register that clears itself, and one that its pulse toggles.
fn cleared_by_itself() -> Circuit {
    made(|b| {
        let clock = b.input(1, "clock");
        let net = b.c.add_net("p", Origin::Nowhere);
        let p = b.c.net(net);
        let (_, q) = b.register("first", clock, Expr::HIGH, p, Start::Low);
        b.c.drive(
            net,
            Driver {
                enable: Expr::HIGH,
                level: q,
                stage: Stage::PushPull,
                by: By::signal("first"),
                origin: Origin::Nowhere,
            },
        );
        b.toggle_at(3, "second", p, Expr::LOW);
    })
}

/// What the phases of the machine show by themselves is no measurement: that no pulse comes is followed where they have one,
/// and one that comes there acts once.
#[test]
fn a_pulse_that_the_phases_have_too_is_followed_as_it_was_seen() {
    let ask = |replacement: Circuit, outcome: &str| {
        let question = Question::new(gated_late(), replacement);
        question.acknowledging(format!("pulse of gated of the original when 1 clock changes: {outcome}"))
    };
    proved(ask(gated_at_once(false), "no pulse"));
    refuted(ask(gated_at_once(true), "no pulse"));
    proved(ask(gated_at_once(true), "pulse"));
    refuted(ask(gated_at_once(false), "pulse"));

    let divider = made(|b| {
        let clock = b.input(1, "clock");
        b.toggle_at(3, "second", clock, Expr::LOW);
    });
    let still = made(|b| {
        let clock = b.input(1, "clock");
        let (e, q) = b.register("second", clock, Expr::LOW, Expr::LOW, Start::Any);
        b.feed(e, q);
        b.output(3, "second", q);
    });
    let w = withheld(Question::new(cleared_by_itself(), divider.clone()));
    println!("{w}");
    let ask = |replacement: &Circuit, outcome: &str| {
        let question = Question::new(cleared_by_itself(), replacement.clone());
        let calls: Vec<String> = w.hidden.iter().map(|h| h.call.clone()).collect();
        calls.iter().fold(question, |q, call| q.acknowledging(format!("{call}: {outcome}")))
    };
    for (replacement, outcome) in [(&divider, "pulse"), (&still, "no pulse")] {
        proved(ask(replacement, outcome));
    }
    for (replacement, outcome) in [(&divider, "no pulse"), (&still, "pulse")] {
        refuted(ask(replacement, outcome));
    }
}
