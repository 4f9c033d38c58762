//! What nobody knows about loops and latches, on both sides.
use super::structure::crossed;
use super::*;

/// What the crossed gates show, with one gate as the memory: when both inputs are released at once, the other one falls.
fn decided() -> Circuit {
    let mut b = Build::new("decided");
    let (set, reset) = (b.input(1, "set"), b.input(2, "reset"));
    let one = b.c.add_net("one", Origin::Nowhere);
    let held = b.c.net(one);
    let kept = b.c.and(reset, held);
    let other = b.c.not(kept);
    let active = b.c.not(set);
    let level = b.c.or(active, kept);
    let drive = |name: &str, level| Driver {
        enable: Expr::HIGH,
        level,
        stage: Stage::PushPull,
        by: By::signal(name),
        origin: Origin::Nowhere,
    };
    b.c.drive(one, drive("one", level));
    b.contact(3, "one", one, Direction::Output);
    b.output(4, "other", other);
    b.c
}

fn together(original: &Circuit, replacement: &Circuit) -> Result<Proof, Failure> {
    Question::new(original.clone(), replacement.clone()).together([Label::from(1), Label::from(2)]).ask()
}

/// Contacts of a group change in any order: which of them comes first decides what the replacement's one gate holds, and so
/// it is said. The crossed gates may end either way too.
fn either_way(original: &Circuit) -> Proof {
    match together(original, &decided()) {
        Err(Failure::Withheld(w)) => {
            assert!(w.hidden.iter().all(|h| matches!(h.why, Why::Order { .. }) && h.of == Of::Replacement), "{w}");
            w.proof.clone()
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn gates_released_together_are_unknown_and_whichever_way_is_allowed() {
    let proof = either_way(&crossed(false));
    assert!(proof.unknowns.iter().any(|u| u.contains("race")), "{proof}");
    // the same by one contact at a time: nothing races
    let proof = Question::new(crossed(false), decided()).ask().unwrap();
    assert!(proof.unknowns.is_empty(), "{proof}");
    // one that ends in neither is not
    let mut broken = decided();
    let other = broken.find_net("other").unwrap();
    let level = broken.net_mut(other).unwrap().drivers[0].level;
    let set = broken.find_net("set").unwrap();
    let set = broken.net(set);
    let level = broken.or(level, set);
    broken.net_mut(other).unwrap().drivers[0].level = level;
    assert!(matches!(together(&crossed(false), &broken), Err(Failure::Refuted(_))));
}

#[test]
fn a_replacement_whose_gates_race_must_hold_either_way() {
    assert!(Question::new(decided(), crossed(false)).ask().is_ok());
    match together(&decided(), &crossed(false)) {
        Err(Failure::Refuted(r)) => assert!(r.events.len() <= 2, "{r}"),
        other => panic!("{other:?}"),
    }
    // and the crossed gates do not stand in for themselves where they race: one may fall where the other does not; the
    // promise is about every run of the replacement, and each of its runs is one of the original's
    assert!(!matches!(together(&crossed(false), &crossed(false)), Err(Failure::Refuted(_))));
}

/// The crossed gates, one of them behind a latch that is always open.
fn crossed_through_a_latch() -> Circuit {
    let mut b = Build::new("crossed through a latch");
    let (set, reset) = (b.input(1, "set"), b.input(2, "reset"));
    let one = b.c.add_net("one", Origin::Nowhere);
    let level = b.c.net(one);
    let both = b.c.and(reset, level);
    let data = b.c.not(both);
    let e = b.c.add_element(Element {
        name: "q".into(),
        kind: Kind::Latch { open: Expr::HIGH, data },
        clear: Expr::LOW,
        preset: Expr::LOW,
        unknown_load: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = b.c.q(e);
    let both = b.c.and(set, q);
    let level = b.c.not(both);
    let (stage, name, origin) = (Stage::PushPull, "gate".to_owned(), Origin::Nowhere);
    b.c.drive(one, Driver { enable: Expr::HIGH, level, stage, by: By::signal(name), origin });
    b.contact(3, "one", one, Direction::Output);
    b.output(4, "other", q);
    b.c
}

#[test]
fn an_open_latch_in_a_loop_races_as_a_gate_does() {
    let latched = crossed_through_a_latch();
    assert!(Question::new(decided(), latched.clone()).ask().is_ok(), "one after the other nothing races");
    let answer = together(&decided(), &latched);
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
    let proof = either_way(&latched);
    assert!(proof.unknowns.iter().any(|u| u.contains("`q`") && u.contains("race")), "{proof}");
}

/// A bus that feeds itself by two inverting gates, held low while contact 1 is high. When that falls, the bus is let go and
/// the second gate let through in one moment: whether the gate is sooner than the bus decides where it ends.
fn let_go() -> Circuit {
    let mut b = Build::new("let go");
    let pulls = b.input(1, "pulls");
    let [bus, first, second] = ["bus", "first", "second"].map(|n| b.c.add_net(n, Origin::Nowhere));
    let drive = |enable, level, stage, name: &str| Driver {
        enable,
        level,
        stage,
        by: By::signal(name),
        origin: Origin::Nowhere,
    };
    let back = b.c.net(bus);
    let low_bus = b.c.not(back);
    b.c.drive(first, drive(Expr::HIGH, low_bus, Stage::PushPull, "first"));
    let (one, idle) = (b.c.net(first), b.c.not(pulls));
    let both = b.c.and(one, idle);
    let not_both = b.c.not(both);
    b.c.drive(second, drive(Expr::HIGH, not_both, Stage::PushPull, "second"));
    let two = b.c.net(second);
    b.c.drive(bus, drive(Expr::HIGH, two, Stage::PushPull, "buffer"));
    b.c.drive(bus, drive(pulls, Expr::LOW, Stage::OpenCollector, "open collector"));
    b.contact(2, "bus", bus, Direction::Output);
    b.c
}

/// Each net has a delay of its own, by hand: the buffer passes on what the second gate still shows, though folded logic
/// has the bus made from the first one's level at once.
#[test]
fn a_bus_that_is_let_go_while_its_own_gate_opens_may_end_either_way() {
    let shows = |level: &dyn Fn(&mut Build, Expr) -> Expr| {
        let mut b = Build::new("replacement");
        let pulls = b.input(1, "pulls");
        let level = level(&mut b, pulls);
        b.output(2, "bus", level);
        Question::new(let_go(), b.c).ask()
    };
    let proof = shows(&|b, pulls| b.c.not(pulls)).unwrap();
    assert!(proof.unknowns.iter().any(|u| u.contains("race")), "{proof}");
    // a constant could be it too, but only because the race ends the same way every time
    match shows(&|_, _| Expr::LOW) {
        Err(Failure::Withheld(w)) => {
            assert!(w.hidden.iter().all(|h| matches!(h.why, Why::Ignored { .. } | Why::Still { .. })), "{w}");
            assert!(w.proof.unknowns.iter().any(|u| u.contains("race")), "{w}");
        }
        other => panic!("{other:?}"),
    }
    assert!(matches!(shows(&|_, pulls| pulls), Err(Failure::Refuted(_))));
}

/// A contact that a three-state driver holds high while contact 1 is, and that pulls itself low once it is low and let go.
fn keeper() -> Circuit {
    let mut b = Build::new("keeper");
    let gate = b.input(1, "gate");
    let [bus, low] = ["bus", "low"].map(|n| b.c.add_net(n, Origin::Nowhere));
    let drive = |enable, level, stage, name: &str| Driver {
        enable,
        level,
        stage,
        by: By::signal(name),
        origin: Origin::Nowhere,
    };
    let (back, free) = (b.c.net(bus), b.c.not(gate));
    let low_bus = b.c.not(back);
    b.c.drive(low, drive(Expr::HIGH, low_bus, Stage::PushPull, "gate"));
    let is_low = b.c.net(low);
    let pulls = b.c.and(is_low, free);
    b.c.drive(bus, drive(gate, Expr::HIGH, Stage::ThreeState, "buffer"));
    b.c.drive(bus, drive(pulls, Expr::LOW, Stage::OpenCollector, "open collector"));
    b.contact(2, "bus", bus, Direction::InOut);
    b.c
}

/// By hand: let go while the board pulls it low, the contact is low and held low, whatever comes first. It was said to be
/// allowed to float, high in the circuit's own eyes while it read a low level.
#[test]
fn a_bus_that_is_let_go_ends_where_it_rests() {
    assert!(Question::new(keeper(), keeper()).ask().is_ok());
    // pulls low from power-up on until contact 1 is high, and then never
    let mut b = Build::new("lets go");
    let gate = b.input(1, "gate");
    let (_, q) = b.register("q", Expr::LOW, Expr::LOW, gate, Start::High);
    let free = b.c.not(gate);
    let pulls = b.c.and(q, free);
    let bus = b.c.add_net("bus", Origin::Nowhere);
    for (enable, level, stage) in [(gate, Expr::HIGH, Stage::ThreeState), (pulls, Expr::LOW, Stage::OpenCollector)] {
        b.c.drive(bus, Driver { enable, level, stage, by: By::signal("bus"), origin: Origin::Nowhere });
    }
    b.contact(2, "bus", bus, Direction::InOut);
    let only = Restriction {
        text: "2 only while 1 is high".to_owned(),
        contacts: vec![2.into()],
        way: Way::Either,
        only_while: Formula::High(1.into()),
    };
    let verdict = Question::new(keeper(), b.c).restricted(only).ask();
    assert!(matches!(verdict, Err(Failure::Refuted(_))), "{verdict:?}");
}

/// A latch element with clear and preset and both outputs at contacts.
fn latch(decides: Option<bool>) -> Circuit {
    let mut b = Build::new("latch");
    let (clear, preset) = (b.input(1, "clear"), b.input(2, "preset"));
    // who decides holds the other back while it is active itself
    let free = [b.c.not(clear), b.c.not(preset)];
    let (wins_clear, wins_preset) = match decides {
        None => (clear, preset),
        Some(true) => (b.c.and(clear, free[1]), preset),
        Some(false) => (clear, b.c.and(preset, free[0])),
    };
    let e = b.c.add_element(Element {
        name: "q".into(),
        kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
        clear: wins_clear,
        unknown_load: Expr::LOW,
        preset: wins_preset,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = b.c.q(e);
    // while both are active the original shows high: only what follows is compared
    let both = b.c.and(clear, preset);
    let y = b.c.or(q, both);
    b.output(3, "y", y);
    b.c
}

#[test]
fn a_latch_released_from_clear_and_preset_at_once_may_hold_either() {
    for decides in [true, false] {
        // contacts of a group may reach the gates one after the other: who decides may pulse on the way
        let answer = together(&latch(None), &latch(Some(decides)));
        assert!(matches!(answer, Err(Failure::Withheld(_))), "{answer:?}");
        let settled = |original: Circuit, replacement: Circuit| {
            Question::new(original, replacement).together([Label::from(1), Label::from(2)]).settled_only().ask()
        };
        let proof = settled(latch(None), latch(Some(decides))).unwrap();
        assert!(proof.unknowns.iter().any(|u| u.contains("released together")), "{proof}");
        let r = settled(latch(Some(decides)), latch(None));
        assert!(matches!(r, Err(Failure::Refuted(_))), "{r:?}");
        let other = settled(latch(Some(decides)), latch(Some(!decides)));
        assert!(matches!(other, Err(Failure::Refuted(_))), "{other:?}");
    }
}

/// By hand: while its preset is asserted, an output is high whether its clear is or not, though the clear hangs on the output
/// itself. It was said to race: what the latch holds and the mark of both were told apart.
#[test]
fn a_latch_that_is_preset_stays_high_when_its_output_clears_it() {
    let mut b = Build::new("preset");
    let (preset, clears) = (b.input(1, "preset"), b.input(2, "clears"));
    let e = b.c.add_element(Element {
        name: "q".into(),
        kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = b.c.q(e);
    let back = b.driven(3, "back", Expr::HIGH, q);
    let back = b.c.net(back);
    let clear = b.c.and(back, clears);
    b.c.element_mut(e).unwrap().clear = clear;
    let (mut sim, _) = crate::simulate::Simulator::new(&b.c, &[(1.into(), true)], |_, _| false).unwrap();
    for level in [true, false] {
        let happened = sim.event(&[(2.into(), level)]).unwrap();
        assert_eq!(happened.unknowns, [], "{level}");
        assert_eq!(sim.shown(&3.into(), 0).unwrap(), Shown::High);
    }
}

#[test]
fn an_original_that_never_rests_refutes_nobody() {
    let mut b = Build::new("ring");
    let on = b.input(1, "on");
    let net = b.c.add_net("ring", Origin::Nowhere);
    let held = b.c.net(net);
    let both = b.c.and(held, on);
    let level = b.c.not(both);
    b.c.drive(
        net,
        Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("ring"), origin: Origin::Nowhere },
    );
    b.contact(2, "y", net, Direction::Output);
    let ring = b.c;
    let mut b = Build::new("constant");
    b.input(1, "on");
    b.output(2, "y", Expr::HIGH);
    let constant = b.c;
    for (original, replacement, of) in
        [(&ring, &constant, Of::Original), (&constant, &ring, Of::Replacement), (&ring, &ring, Of::Replacement)]
    {
        for runs in [1 << 20, 0] {
            match Question::new(original.clone(), replacement.clone()).to_depth(3).walking(runs).ask() {
                Err(Failure::Undecided(u)) => {
                    let told = u.restless.as_ref().unwrap_or_else(|| panic!("{u}"));
                    assert!(told.of == of || (runs == 0 && original.name == replacement.name), "{u}");
                    assert_eq!(told.through, ["ring"], "{u}");
                    let text = u.to_string();
                    assert!(text.contains("1 on high") && !text.contains("deeper search"), "{text}");
                }
                other => panic!("{other:?}"),
            }
        }
    }
}

/// What a ring shows where the rounds end is no level: neither of two originals that stand still while it turns is one
/// that a refutation could lean on, also where the pair is too large for a walk to say why.
#[test]
fn a_replacement_that_never_rests_is_not_refuted_by_what_it_shows_on_the_way() {
    let turning = |level: fn(&mut Build, Expr) -> Expr| {
        let mut b = Build::new("original");
        let on = b.input(1, "on");
        let level = level(&mut b, on);
        b.output(2, "y", level);
        b.c
    };
    let ring = turning(|b, on| {
        let e = b.c.add_element(Element {
            name: "ring".into(),
            kind: Kind::Latch { open: on, data: Expr::LOW },
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start: Start::Any,
            origin: Origin::Nowhere,
        });
        let q = b.c.q(e);
        let data = b.c.not(q);
        b.c.element_mut(e).unwrap().kind = Kind::Latch { open: on, data };
        b.c.and(on, q)
    });
    for original in [turning(|_, _| Expr::LOW), turning(|_, on| on)] {
        let answer = Question::new(original, ring.clone()).to_depth(3).walking(0).ask();
        match answer {
            Err(Failure::Undecided(u)) => {
                let told = u.restless.as_ref().unwrap_or_else(|| panic!("{u}"));
                assert_eq!((told.of, told.through.contains(&"ring".to_owned())), (Of::Replacement, true), "{u}");
            }
            other => panic!("{other:?}"),
        }
    }
}

/// A latch that is open from power-up on takes its high data, unless a second one is first, whose high then clears it for good.
fn held_low_if_slow(start: Start) -> Circuit {
    let mut b = Build::new("held low if slow");
    let gate = b.input(1, "gate");
    let mut latch = |name: &str, open: Expr| {
        b.c.add_element(Element {
            name: name.into(),
            kind: Kind::Latch { open, data: Expr::HIGH },
            clear: Expr::LOW,
            preset: Expr::LOW,
            unknown_load: Expr::LOW,
            start,
            origin: Origin::Nowhere,
        })
    };
    let (hook, out) = (latch("hook", gate), latch("out", Expr::HIGH));
    let (hooked, held) = (b.c.q(hook), b.c.q(out));
    let low = b.c.not(held);
    let clear = b.c.and(hooked, low);
    if let Some(e) = b.c.element_mut(out) {
        e.clear = clear;
    }
    b.output(2, "y", held);
    b.c
}

fn races_at_power_up(start: Start) {
    let mut high = Build::new("high");
    high.input(1, "gate");
    high.output(2, "y", Expr::HIGH);
    let answer = Question::new(high.c, held_low_if_slow(start)).ask();
    assert!(answer.is_err(), "{start:?}: {answer:?}");
}

#[test]
fn latches_that_race_as_power_comes_on_may_end_either_way() {
    races_at_power_up(Start::Any);
}

/// Not so yet where they are declared to start at a level: the guide's page on time says it.
#[test]
#[ignore = "a known defect: the order of changes at power-up is not asked about"]
fn latches_with_a_declared_start_that_race_as_power_comes_on_may_end_either_way() {
    races_at_power_up(Start::Low);
}
