//! What settling hides, what is not traced, and what the board is taken not to do.
use super::*;
use crate::order::{Role, Rule};

/// A pulse former in the clear of a register: high while the input and its inversion overlap. `delays`: inverters in a
/// row, three as on a real card.
fn former(delays: usize, used: bool) -> Circuit {
    let mut b = Build::new("former");
    let (clock, start) = (b.input(1, "clock"), b.input(2, "start"));
    let mut late = start;
    for i in 0..delays {
        let level = b.c.not(late);
        let net = b.c.add_net(format!("late{i}"), Origin::Nowhere);
        b.c.drive(net, gate(level));
        late = b.c.net(net);
    }
    let level = b.c.and(start, late);
    let pulse = b.c.add_net("pulse", Origin::Nowhere);
    b.c.drive(pulse, gate(level));
    let pulse = b.c.net(pulse);
    let clear = if used { pulse } else { Expr::LOW };
    let (e, q) = b.register("q", clock, Expr::LOW, clear, Start::Any);
    let n = b.c.not(q);
    b.feed(e, n);
    b.output(3, "q", q);
    b.c
}

fn gate(level: Expr) -> Driver {
    Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("gate"), origin: Origin::Nowhere }
}

#[test]
fn a_pulse_former_withholds_the_proof_until_it_is_acknowledged() {
    // the clear that nobody sees once settled: without it the replacement would be proved
    let question = Question::new(former(3, true), former(3, false));
    match question.ask() {
        Err(Failure::Withheld(w)) => {
            let [h] = &w.hidden[..] else { panic!("{w}") };
            assert_eq!((h.name.as_str(), h.of), ("pulse", Of::Original));
            assert!(
                matches!(&h.why, Why::Order { rule: Rule::Pulse(Role::Clear), event, .. } if event == "2 start"),
                "{w}"
            );
            assert_eq!(h.reaches, ["the clear of `q`"]);
            let call = "pulse of pulse of the original when 2 start changes";
            assert!(w.to_string().contains(&format!(".acknowledging(\"{call}\")")), "{w}");
        }
        other => panic!("{other:?}"),
    }
    for name in ["pulse", "net pulse of the original", "pulse of pulse of the original when 2 start changes"] {
        let proof = question.clone().acknowledging(name).ask().unwrap();
        assert_eq!(proof.acknowledged, [name]);
    }
    // another event, the other side or another doubt is another matter: there is none
    for (side, event, doubt) in
        [("original", "1 clock", "pulse"), ("replacement", "2 start", "pulse"), ("original", "2 start", "data")]
    {
        let name = format!("{doubt} of pulse of the {side} when {event} changes");
        let answer = question.clone().acknowledging(name).ask();
        assert!(matches!(answer, Err(Failure::Refused(Refusal::Acknowledgement(_)))), "{answer:?}");
    }
    // in the replacement it is hidden as well
    let turned = Question::new(former(3, false), former(3, true)).ask();
    assert!(matches!(turned, Err(Failure::Withheld(w)) if w.hidden[0].of == Of::Replacement));
    // where it reaches nothing, nothing is hidden; a copy that moves the same way makes no pulse
    assert!(Question::new(former(3, false), former(3, false)).ask().is_ok());
    assert!(Question::new(former(2, true), former(0, true)).ask().is_ok());
    assert!(Question::new(former(0, true), former(0, true)).ask().is_ok());
}

#[test]
fn an_acknowledgement_of_nothing_is_refused_with_what_was_meant() {
    let answer = Question::new(former(3, true), former(3, true)).acknowledging("puls").ask();
    assert!(
        matches!(&answer, Err(Failure::Refused(why)) if why.to_string().contains("did you mean pulse")),
        "{answer:?}"
    );
}

#[test]
fn a_name_that_a_contact_shares_must_stand_after_its_kind() {
    // contact 4 shows the pulse, and is called as the net is
    let shown = || {
        let mut c = former(3, true);
        let pulse = (0..c.nets().len() as u32).map(NetId).find(|n| c.nets()[n.index()].name == "pulse").unwrap();
        let contact = c.contacts()[0].clone();
        c.add_contact(Contact {
            label: 4.into(),
            name: "pulse".into(),
            net: pulse,
            direction: Direction::Output,
            ..contact
        });
        c
    };
    let question = || Question::new(shown(), shown());
    match question().ask() {
        Err(Failure::Withheld(w)) => {
            assert!(w.hidden.iter().all(|h| h.name == "pulse"), "{w}");
        }
        other => panic!("{other:?}"),
    }
    let Err(Failure::Refused(why)) = question().acknowledging("pulse").ask() else { panic!("which of the two?") };
    let why = why.to_string();
    assert!(why.contains("`contact pulse`") && why.contains("`net pulse`"), "{why}");
    // each acknowledges its own and nothing else
    assert!(matches!(question().acknowledging("contact pulse").ask(), Err(Failure::Withheld(_))));
    assert!(matches!(question().acknowledging("register pulse").ask(), Err(Failure::Refused(_))));
    // and one side
    let [of_original, of_replacement] = ["net pulse of the original", "net pulse of the replacement"];
    assert!(matches!(question().acknowledging(of_original).ask(), Err(Failure::Withheld(w)) if w.hidden.len() == 1));
    assert!(question().acknowledging(of_original).acknowledging(of_replacement).ask().is_ok());
}

#[test]
fn a_difference_in_pulses_alone_is_acknowledged_by_the_contact() {
    let mut b = Build::new("one-shot by itself");
    let clock = b.input(1, "clock");
    let (e, q) = b.register("r", clock, Expr::HIGH, Expr::LOW, Start::Any);
    b.c.element_mut(e).unwrap().clear = q;
    b.output(2, "q", q);
    let original = b.c;
    let constant = |level| {
        let mut b = Build::new("constant");
        b.input(1, "clock");
        b.output(2, "q", level);
        b.c
    };
    for name in ["contact q", "contact 2", "2"] {
        let proof = Question::new(original.clone(), constant(Expr::LOW)).acknowledging(name).ask().unwrap();
        assert_eq!(proof.acknowledged, [name]);
    }
    let answer = Question::new(original, constant(Expr::HIGH)).acknowledging("contact q").ask();
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
}

/// A register clocked by another, with data that a third sets in the same phase.
fn ripple() -> Circuit {
    let mut b = Build::new("ripple");
    let clock = b.input(1, "clock");
    let (e, q) = b.register("first", clock, Expr::LOW, Expr::LOW, Start::Any);
    let n = b.c.not(q);
    b.feed(e, n);
    let (_, second) = b.register("second", q, q, Expr::LOW, Start::Any);
    b.output(2, "q", q);
    // it reaches the contact, which shows the same whatever the race gave it
    let gone = b.c.not(second);
    let [there, gone] = [second, gone].map(|s| b.c.and(s, q));
    let either = b.c.or(there, gone);
    b.output(3, "either", either);
    b.c
}

#[test]
fn data_that_race_a_clock_withhold_the_proof_by_the_name_of_the_register() {
    match Question::new(ripple(), ripple()).ask() {
        Err(Failure::Withheld(w)) => {
            let races = |h: &Hidden| h.name == "second" && matches!(h.why, Why::Order { rule: Rule::Race, .. });
            assert!(w.hidden.iter().all(races), "{w}");
            assert_eq!(w.hidden.len(), 2, "{w}");
        }
        other => panic!("{other:?}"),
    }
    // one acknowledgement is of one side
    let question = || Question::new(ripple(), ripple());
    let Err(Failure::Refused(Refusal::Acknowledgement(why))) = question().acknowledging("second").ask() else {
        panic!("of which side?")
    };
    let [of_original, of_replacement] = ["second of the original", "second of the replacement"];
    let call = |name: &str| format!("`data of {name} when 1 clock changes`");
    assert!(why.contains(&call(of_original)) && why.contains(&call(of_replacement)), "{why}");
    match question().acknowledging(of_original).ask() {
        Err(Failure::Withheld(w)) => {
            assert!(w.hidden.iter().all(|h| h.of == Of::Replacement), "{w}");
            let call = "data of second of the replacement when 1 clock changes";
            assert!(w.to_string().contains(&format!(".acknowledging(\"{call}\")")), "{w}");
        }
        other => panic!("{other:?}"),
    }
    assert!(question().acknowledging(of_original).acknowledging(of_replacement).ask().is_ok());
}

/// A register that loads from a bus that nothing drives while contact 2 is low.
fn from_a_bus() -> Circuit {
    let mut b = Build::new("from a bus");
    let (clock, on, x) = (b.input(1, "clock"), b.input(2, "on"), b.input(3, "x"));
    let bus = b.c.add_net("bus", Origin::Nowhere);
    for (k, enable) in [on, Expr::LOW].into_iter().enumerate() {
        let (stage, name, origin) = (Stage::ThreeState, format!("driver {k}"), Origin::Nowhere);
        b.c.drive(bus, Driver { enable, level: x, stage, by: By::signal(name), origin });
    }
    let level = b.c.net(bus);
    let (_, q) = b.register("q", clock, level, Expr::LOW, Start::Any);
    b.output(4, "q", q);
    b.c
}

#[test]
fn what_is_loaded_from_a_floating_bus_is_told_as_that() {
    match Question::new(from_a_bus(), from_a_bus()).ask() {
        Err(Failure::Withheld(w)) => {
            assert!(w.hidden.iter().all(|h| h.why == Why::Floats { nets: vec!["bus".into()] }), "{w}");
            assert!(w.to_string().contains("net `bus`, which nothing drives at times"), "{w}");
        }
        other => panic!("{other:?}"),
    }
}

/// The same race in a register that no contact hangs on.
#[test]
fn what_no_contact_can_show_withholds_nothing() {
    let dead = || {
        let mut b = Build::new("dead ripple");
        let clock = b.input(1, "clock");
        let (e, q) = b.register("first", clock, Expr::LOW, Expr::LOW, Start::Any);
        let n = b.c.not(q);
        b.feed(e, n);
        b.register("second", q, q, Expr::LOW, Start::Any);
        b.output(2, "q", q);
        b.c
    };
    let proof = Question::new(dead(), dead()).ask().unwrap();
    assert!(proof.matches.iter().all(|m| !m.contains("second")), "{proof}");
    assert!(matches!(Question::new(dead(), ripple()).ask(), Err(Failure::Refuted(_))), "a contact more");
}

/// Two gates side by side: contacts a 1, b 2, c 3, sum 4, other 5; the second may hang on a net that nobody traced.
fn two(traced: bool, broken: bool) -> Circuit {
    let mut b = Build::new("two");
    let (a, x, c) = (b.input(1, "a"), b.input(2, "b"), b.input(3, "c"));
    let sum = if broken { b.c.or(a, x) } else { b.c.xor(a, x) };
    b.output(4, "sum", sum);
    let other = if traced {
        b.c.not(c)
    } else {
        let gap = b.c.add_net("gap", Origin::Nowhere);
        let gap = b.c.net(gap);
        b.c.and(c, gap)
    };
    let (_, kept) = b.register("kept", x, other, Expr::LOW, Start::Any);
    b.output(5, "other", kept);
    b.c
}

#[test]
fn what_is_not_traced_is_never_proved_for_the_whole() {
    let ask =
        |broken| Question::new(two(false, false), two(true, broken)).untraced(Some("gap".into()), "U7 is missing");
    match ask(false).ask() {
        Err(Failure::InPart(proof)) => {
            assert_eq!(proof.left_out, ["5 other: U7 is missing"]);
            assert!(!proof.is_whole());
            assert!(proof.to_string().starts_with("Proved in part"), "{proof}");
        }
        other => panic!("{other:?}"),
    }
    assert!(!ask(false).in_part().ask().unwrap().is_whole());
    // what is covered is proved in earnest
    assert!(matches!(ask(true).in_part().ask(), Err(Failure::Refuted(_))));
    // without the gap the other contact would have been refuted
    assert!(matches!(Question::new(two(false, false), two(true, false)).ask(), Err(Failure::Refuted(_))));
    // something is missing that touches nothing: still not the whole
    let answer = Question::new(two(true, false), two(true, false)).untraced(None, "an empty position").ask();
    assert!(matches!(answer, Err(Failure::InPart(_))), "{answer:?}");
}

#[test]
fn a_restriction_of_events_is_needed_used_and_named() {
    // a latch that follows, against a register that loads when the gate closes: the same while the data keep still
    // under the gate
    let with = |register: bool| {
        let mut b = Build::new("keeper");
        let (open, data) = (b.input(1, "gate"), b.input(2, "data"));
        let kind = if register { Kind::Register { clock: open, data } } else { Kind::Latch { open, data } };
        let e = b.c.add_element(Element {
            name: "q".into(),
            kind,
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start: Start::Any,
            origin: Origin::Nowhere,
        });
        let q = b.c.q(e);
        b.output(3, "q", q);
        b.c
    };
    let still = Restriction {
        text: "data change only while the gate is low".into(),
        contacts: vec![2.into()],
        way: Way::Either,
        only_while: Formula::Not(Arc::new(Formula::High(1.into()))),
    };
    assert!(matches!(Question::new(with(false), with(true)).ask(), Err(Failure::Refuted(_))));
    let answer = Question::new(with(true), with(false)).restricted(still.clone()).ask().unwrap();
    assert_eq!(answer.assumptions, ["data change only while the gate is low"]);
    assert!(matches!(Question::new(with(true), with(false)).ask(), Err(Failure::Refuted(_))));
    let never = Restriction { only_while: Formula::Constant(false), ..still };
    let answer = Question::new(with(true), with(false)).restricted(never).ask();
    assert!(
        matches!(&answer, Err(Failure::Refused(Refusal::Stuck { by, .. })) if *by == ["data change only while the gate is low"]),
        "{answer:?}"
    );
}

#[test]
fn a_one_hot_group_moves_and_keeps_to_itself() {
    let with = |or: bool| {
        let mut b = Build::new("group");
        let all: Vec<Expr> = (1..=3).map(|i| b.input(i, &format!("s{i}"))).collect();
        let y = if or { b.c.or(all[0], all[1]) } else { b.c.not(all[2]) };
        b.output(4, "y", y);
        b.c
    };
    let group = || (1u16..=3).map(Label::from);
    assert!(matches!(Question::new(with(false), with(true)).ask(), Err(Failure::Refuted(_))));
    let proof = Question::new(with(false), with(true)).one_of(group(), true).ask().unwrap();
    assert_eq!(proof.assumptions, ["exactly one of 1 s1, 2 s2, 3 s3 high"]);
    assert!(matches!(Question::new(with(false), with(true)).one_of(group(), false).ask(), Err(Failure::Refuted(_))));
}

#[test]
fn no_time_is_undecided_and_says_what_was_tried() {
    let (ring, counter) = (structure::ring(4, false), structure::counter(2, Start::Low, false));
    match Question::new(ring, counter).in_time(Duration::ZERO).ask() {
        Err(Failure::Undecided(u)) => assert!(u.tried.iter().any(|t| t.contains("no time left")), "{u}"),
        Err(Failure::Refused(why)) => assert!(why.to_string().contains("no time left"), "{why}"),
        other => panic!("{other:?}"),
    }
}
