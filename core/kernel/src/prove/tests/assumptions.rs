//! Assumptions, restrictions and groups over contacts that neither side reads, or that nobody has.
use super::*;

/// A register that loads this of `a`, `b` and, where it is there, `spare`, clocked by contact 1.
fn loads(data: &dyn Fn(&mut Circuit, [Expr; 2]) -> Expr) -> Circuit {
    let mut b = Build::new("loader");
    let (clock, a, c) = (b.input(1, "clock"), b.input(2, "a"), b.input(3, "b"));
    b.input(4, "spare");
    let data = data(&mut b.c, [a, c]);
    let (_, q) = b.register("q", clock, data, Expr::LOW, Start::Low);
    b.output(5, "q", q);
    b.c
}

fn high(label: u16) -> Formula {
    Formula::High(label.into())
}

fn and(a: Formula, b: Formula) -> Formula {
    Formula::And(Arc::new(a), Arc::new(b))
}

fn not(a: Formula) -> Formula {
    Formula::Not(Arc::new(a))
}

/// By thought: a, b and spare must not be high together, but a and b alone may be.
#[test]
fn a_contact_that_only_an_assumption_names_is_free() {
    let (original, replacement) = (loads(&|c, [a, b]| c.and(a, b)), loads(&|_, _| Expr::LOW));
    let all = Assumption { text: "not all".into(), holds: not(and(and(high(2), high(3)), high(4))) };
    let ask = |assumption: Assumption| {
        Question::new(original.clone(), replacement.clone()).assuming(assumption).settled_only().ask()
    };
    for by_walk in [false, true] {
        let question = Question::new(original.clone(), replacement.clone()).assuming(all.clone());
        let answer = if by_walk { question.ask_by_walk() } else { question.ask() };
        match answer {
            Err(Failure::Refuted(r)) => {
                assert_eq!(r.levels.len(), 4, "the spare contact is told: {r}");
                assert_eq!(r.replay().unwrap().last(), Some(&0));
            }
            other => panic!("{other:?}"),
        }
    }
    // with the two never together the same holds
    let both = Assumption { text: "not both".into(), holds: not(and(high(2), high(3))) };
    assert!(!matches!(ask(both), Err(Failure::Refuted(_))));
}

#[test]
fn a_restriction_and_a_group_free_the_contacts_that_they_name() {
    let (original, replacement) = (loads(&|c, [a, b]| c.and(a, b)), loads(&|_, [a, _]| a));
    let question = || Question::new(original.clone(), replacement.clone());
    // b stays as it is while the spare contact is low: that it is never high is nowhere said
    let still = Restriction {
        text: "b changes only while spare is high".into(),
        contacts: vec![3.into()],
        way: Way::Either,
        only_while: high(4),
    };
    assert!(matches!(question().restricted(still).ask(), Err(Failure::Refuted(_))));
    assert!(matches!(question().together([3.into(), 4.into()]).ask(), Err(Failure::Refuted(_))));
}

#[test]
fn each_way_of_a_restriction_forbids_its_own_changes_and_no_other() {
    // all combinations of a level and a condition, before and after, a lane each
    let [before, after, was, is] = [0xaaaa_u64, 0xcccc, 0xf0f0, 0xff00];
    for (way, changes) in [(Way::Either, before ^ after), (Way::Up, !before & after), (Way::Down, before & !after)] {
        let rule = Restriction { text: String::new(), contacts: vec![1.into()], way, only_while: high(2) };
        let at = |level: u64, condition: u64| move |l: &Label| Some(if *l == 1.into() { level } else { condition });
        let (then, now) = (at(before, was), at(after, is));
        let kept = rule.keeps(&mut crate::machine::Lanes::default(), [&then, &now], [&then, &now]);
        assert_eq!(kept & 0xffff, (!changes | (was & is)) & 0xffff, "{way:?}");
    }
}

/// Exactly one of three selects is high, and neither side reads the third: the other two are both low then.
#[test]
fn a_one_hot_group_over_a_contact_that_nobody_reads_works() {
    let with = |or: bool| loads(&|c, [a, b]| if or { c.or(a, b) } else { c.xor(a, b) });
    let group = || [2u16, 3, 4].map(Label::from);
    let ask = |o: bool, r: bool| Question::new(with(o), with(r)).one_of(group(), true).ask();
    assert!(ask(true, false).is_ok(), "{:?}", ask(true, false));
    assert!(matches!(Question::new(with(true), with(false)).ask(), Err(Failure::Refuted(_))));
    // neither may be high, by the third
    let replacement = loads(&|_, _| Expr::HIGH);
    let answer = Question::new(with(true), replacement).one_of(group(), true).ask();
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
}

#[test]
fn a_label_that_nobody_has_is_refused_with_what_was_meant() {
    let circuit = loads(&|_, [a, _]| a);
    let question = || Question::new(circuit.clone(), circuit.clone());
    let assumption = Assumption { text: "never a and 44".into(), holds: not(and(high(2), high(44))) };
    let restriction =
        Restriction { text: "33 keeps still".into(), contacts: vec![33.into()], way: Way::Either, only_while: high(1) };
    for (question, wrong, meant) in [
        (question().assuming(assumption), "44", "4"),
        (question().restricted(restriction), "33", "3"),
        (question().together([2.into(), 22.into()]), "22", "2"),
        (question().one_of([2.into(), 22.into()], false), "22", "2"),
    ] {
        match question.ask() {
            Err(Failure::Refused(ref why @ Refusal::NoContact { ref label, ref near, .. })) => {
                assert_eq!((label.as_str(), near.contains(&meant.to_owned())), (wrong, true), "{why}");
                assert!(why.to_string().contains("did you mean"), "{why}");
            }
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn a_contact_that_a_restriction_pins_is_told_with_what_pins_it() {
    let circuit = loads(&|_, [a, _]| a);
    let pinned = Restriction {
        text: "spare changes only while it is high".into(),
        contacts: vec![4.into()],
        way: Way::Either,
        only_while: high(4),
    };
    let other = Assumption { text: "never a and b".into(), holds: not(and(high(2), high(3))) };
    match Question::new(circuit.clone(), circuit).assuming(other).restricted(pinned).ask() {
        Err(Failure::Refused(Refusal::Stuck { label, by, .. })) => {
            assert_eq!((label.as_str(), by), ("4", vec!["spare changes only while it is high".to_owned()]));
        }
        other => panic!("{other:?}"),
    }
}

/// Contact 3 shows WAIT, which each clock turns over; contact 4 what was on the data contact when it last came on, kept in a
/// register or followed by a latch while it is on.
fn waits(latch: bool, inverted: bool) -> Circuit {
    let mut b = Build::new(if latch { "follows" } else { "loads" });
    let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
    let (e, wait) = b.register("wait", clock, Expr::LOW, Expr::LOW, Start::Any);
    let other = b.c.not(wait);
    b.feed(e, other);
    b.output(3, "wait", wait);
    let data = if inverted { b.c.not(data) } else { data };
    let kind = if latch { Kind::Latch { open: wait, data } } else { Kind::Register { clock: wait, data } };
    let (start, origin) = (Start::Any, Origin::Nowhere);
    let (clear, preset, unknown_load) = (Expr::LOW, Expr::LOW, Expr::LOW);
    let q = b.c.add_element(Element { name: "q".into(), kind, clear, preset, unknown_load, start, origin });
    let q = b.c.q(q);
    b.output(4, "q", q);
    b.c
}

fn only_while(condition: Formula) -> Restriction {
    Restriction { text: "data by WAIT".into(), contacts: vec![2.into()], way: Way::Either, only_while: condition }
}

/// By hand: while WAIT is on the latch follows what the register does not, so the two are the same if the data keep still
/// then, and only then.
#[test]
fn what_the_board_does_may_hang_on_what_the_card_shows() {
    let ask = |replacement: Circuit, by_walk: bool, condition: Option<Formula>| {
        let question = Question::new(waits(false, false), replacement).settled_only();
        let question = condition.map_or(question.clone(), |c| question.restricted(only_while(c)));
        if by_walk { question.ask_by_walk() } else { question.ask() }
    };
    for by_walk in [false, true] {
        let off = || Some(not(high(3)));
        let proof = ask(waits(true, false), by_walk, off());
        assert!(proof.is_ok(), "{proof:?}");
        for (replacement, condition) in
            [(waits(true, false), None), (waits(true, false), Some(high(3))), (waits(true, true), off())]
        {
            match ask(replacement, by_walk, condition) {
                Err(Failure::Refuted(r)) => assert_eq!(r.replay().unwrap().last(), Some(&0), "{r}"),
                other => panic!("{other:?}"),
            }
        }
    }
}

/// Contact 3 shows `busy`, which a clock turns over, while contact 2 is low or at any time; contact 4 shows whether contact 2
/// is high then.
fn busy(held: bool, shows: bool, start: Start) -> Circuit {
    let mut b = Build::new("busy");
    let (clock, x) = (b.input(1, "clock"), b.input(2, "x"));
    let (e, busy) = b.register("busy", clock, Expr::LOW, Expr::LOW, start);
    let other = b.c.not(busy);
    let data = if held { b.c.choose(x, busy, other) } else { other };
    b.feed(e, data);
    b.output(3, "busy", busy);
    let both = b.c.and(x, busy);
    b.output(4, "y", if shows { both } else { Expr::LOW });
    b.c
}

/// The board never raises x while busy is shown. What the card itself does, or how it starts, is no assumption.
#[test]
fn an_assumption_over_the_card_binds_the_board_alone() {
    let never = || Assumption { text: "never x while busy".into(), holds: not(and(high(2), high(3))) };
    let ask = |held: bool, start: Start, by_walk: bool| {
        let question = Question::new(busy(held, false, start), busy(held, true, start)).assuming(never());
        let question = question.settled_only();
        if by_walk { question.ask_by_walk() } else { question.ask() }
    };
    for by_walk in [false, true] {
        assert!(ask(true, Start::Low, by_walk).is_ok(), "{:?}", ask(true, Start::Low, by_walk));
        // the card itself goes busy while x is high; or it starts so
        assert!(matches!(ask(false, Start::Low, by_walk), Err(Failure::Refuted(_))));
        assert!(matches!(ask(true, Start::High, by_walk), Err(Failure::Refuted(_))));
    }
    let free = Question::new(busy(true, false, Start::Low), busy(true, true, Start::Low)).settled_only().ask();
    assert!(matches!(free, Err(Failure::Refuted(_))), "{free:?}");
}

#[test]
fn what_the_card_always_drives_is_not_the_boards_to_move() {
    let circuit = waits(false, false);
    let question = || Question::new(circuit.clone(), circuit.clone());
    let moved = Restriction { contacts: vec![3.into()], ..only_while(high(2)) };
    for question in [question().together([2.into(), 3.into()]), question().restricted(moved)] {
        match question.ask() {
            Err(Failure::Refused(Refusal::Driven { label, .. })) => assert_eq!(label.as_str(), "3"),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn what_an_output_drives_stands_for_its_contact() {
    let mut b = Build::new("outputs");
    let a = b.input(1, "a");
    let value = b.c.add_node("y (value)", a, Origin::Nowhere);
    let value = b.c.net(value);
    b.output(2, "y", value);
    let pulled = b.c.add_node("z (value)", a, Origin::Nowhere);
    let pulled = b.c.net(pulled);
    let pulls = b.c.not(pulled);
    let net = b.c.add_net("z", Origin::Nowhere);
    let (stage, name, origin) = (Stage::OpenCollector, "z".to_owned(), Origin::Nowhere);
    b.c.drive(net, Driver { enable: pulls, level: Expr::LOW, stage, by: By::signal(name), origin });
    b.contact(3, "z", net, Direction::Output);
    let both = b.c.and(value, pulled);
    let formula = Formula::from_circuit(&b.c, both).unwrap();
    assert_eq!(formula, and(high(2), high(3)));
    let hidden = b.c.add_node("inside", both, Origin::Nowhere);
    let hidden = b.c.net(hidden);
    assert_eq!(Formula::from_circuit(&b.c, hidden), None);
}

/// A contact that both sides always drive, and whose net a gate of theirs reads: no row of a run puts a level on it.
#[test]
fn what_a_side_always_drives_is_no_contact_that_the_board_moves() {
    let card = |turned: bool| {
        let mut b = Build::new("card");
        let x = b.input(1, "x");
        let not = b.c.not(x);
        b.output(2, "first", not);
        let net = b.c.contacts()[1].net;
        let first = b.c.net(net);
        let second = if turned { b.c.not(first) } else { first };
        b.output(3, "second", second);
        b.c
    };
    let answer = Question::new(card(false), card(true)).ask();
    let Err(Failure::Refuted(refutation)) = answer else { panic!("{answer:?}") };
    let labels: Vec<&str> = refutation.levels.iter().map(|(label, ..)| label.as_str()).collect();
    assert_eq!(labels, ["1"], "{refutation}");
}
