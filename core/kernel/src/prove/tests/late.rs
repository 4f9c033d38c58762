//! Chains of gates that delay: what settling hides though no net is constant.
use super::*;

fn gate(level: Expr) -> Driver {
    Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, name: "gate".into(), origin: Origin::Nowhere }
}

impl Build {
    /// A gate of its own package.
    fn gate(&mut self, name: &str, level: Expr) -> Expr {
        let net = self.c.add_net(name, Origin::Nowhere);
        self.c.drive(net, gate(level));
        self.c.net(net)
    }

    /// So many buffers in a row, or inverters.
    fn chain(&mut self, name: &str, from: Expr, gates: usize, inverts: bool) -> Expr {
        (1..=gates).fold(from, |level, i| {
            let level = if inverts { self.c.not(level) } else { level };
            self.gate(&format!("{name}{i}"), level)
        })
    }

    /// A toggle at contact 9 with this clock and clear.
    fn toggle(&mut self, clock: Expr, clear: Expr) {
        let (e, q) = self.register("toggle", clock, Expr::LOW, clear, Start::Any);
        let n = self.c.not(q);
        self.feed(e, n);
        self.output(9, "q", q);
    }
}

/// What is hidden in a circuit, which is its own replacement: once for each side.
fn hidden(c: &Circuit) -> Vec<(String, Why, Vec<String>)> {
    match Question::new(c.clone(), c.clone()).ask() {
        Ok(_) => Vec::new(),
        Err(Failure::Withheld(w)) => {
            let of = |of: Of| w.hidden.iter().filter(move |h| h.of == of);
            let all: Vec<_> = of(Of::Original).map(|h| (h.name.clone(), h.why.clone(), h.reaches.clone())).collect();
            assert_eq!(all.len(), of(Of::Replacement).count(), "{w}");
            all
        }
        other => panic!("{other:?}"),
    }
}

fn late(beside: &str) -> Why {
    Why::Late { beside: format!("`{beside}`") }
}

/// A clock that waits for its own buffers: `both` sees a rise when the last of them has passed it on.
fn waits(buffers: usize, inverts: bool, or: bool) -> Circuit {
    let mut b = Build::new("waits");
    let a = b.input(1, "a");
    let passed = b.chain("late", a, buffers, inverts);
    let both = if or { b.c.or(a, passed) } else { b.c.and(a, passed) };
    let clock = b.gate("both", both);
    b.toggle(clock, Expr::LOW);
    b.c
}

#[test]
fn a_clock_that_waits_for_its_own_buffers_withholds_the_proof_on_either_side() {
    let plain = waits(0, false, false);
    for (buffers, inverts, or) in
        [(2, false, false), (1, false, false), (2, true, false), (2, true, true), (3, false, true)]
    {
        let chain = waits(buffers, inverts, or);
        let name = format!("late{buffers}");
        for (of, original, replacement) in [(Of::Original, &chain, &plain), (Of::Replacement, &plain, &chain)] {
            let question = Question::new(original.clone(), replacement.clone());
            match question.ask() {
                Err(Failure::Withheld(w)) => {
                    let [h] = &w.hidden[..] else { panic!("{w}") };
                    assert_eq!((h.of, &h.name, &h.why), (of, &name, &late("a")));
                    assert_eq!(h.reaches, ["the clock of `toggle`"]);
                    assert!(w.to_string().contains(&format!(".acknowledging({name:?})")), "{w}");
                }
                other => panic!("{other:?}"),
            }
            let proof = question.acknowledging(name.clone()).ask().unwrap();
            assert_eq!(proof.acknowledged, std::slice::from_ref(&name));
        }
    }
    // without the chain there is nothing to acknowledge
    assert!(Question::new(plain.clone(), plain.clone()).ask().is_ok());
    let answer = Question::new(plain.clone(), plain).acknowledging("late2").ask();
    assert!(matches!(answer, Err(Failure::Refused(_))), "{answer:?}");
}

/// The gates by hand: a clear that is stretched, a gate of three inputs, outputs that are wired together, a selector, and
/// a delayed level that hangs on something else too.
#[test]
fn a_level_meets_itself_by_a_longer_way_in_every_kind_of_gate() {
    let build = |make: &dyn Fn(&mut Build, [Expr; 3]) -> Expr| {
        let mut b = Build::new("meets");
        let all = [b.input(1, "a"), b.input(2, "b"), b.input(3, "c")];
        let clear = make(&mut b, all);
        b.toggle(all[2], clear);
        hidden(&b.c)
    };
    let clears =
        |name: &str, beside: &str| vec![(name.to_owned(), late(beside), vec!["the clear of `toggle`".to_owned()])];
    // a pulse that is made longer, by inverters and a gate that inverts
    let found = build(&|b, [a, ..]| {
        let passed = b.chain("late", a, 3, true);
        let opposite = b.c.not(a);
        let either = b.c.and(opposite, passed);
        let either = b.c.not(either);
        b.gate("longer", either)
    });
    assert_eq!(found, clears("late3", "a"));
    let found = build(&|b, [a, x, _]| {
        let passed = b.chain("late", a, 2, false);
        let two = b.c.and(x, passed);
        let three = b.c.and(a, two);
        b.gate("three", three)
    });
    assert_eq!(found, clears("late2", "a"));
    let found = build(&|b, [a, ..]| {
        let wired = b.c.add_net("wired", Origin::Nowhere);
        let passed = b.chain("late", a, 2, true);
        let pulls = |enable| Driver { enable, stage: Stage::OpenCollector, ..gate(Expr::LOW) };
        b.c.drive(wired, pulls(a));
        b.c.drive(wired, pulls(passed));
        b.c.net_mut(wired).unwrap().pull = Pull::Up;
        b.c.net(wired)
    });
    assert_eq!(found, clears("late2", "a"));
    let found = build(&|b, [a, x, _]| {
        let passed = b.chain("late", a, 1, true);
        let chosen = b.c.choose(a, passed, x);
        b.gate("chosen", chosen)
    });
    assert_eq!(found, clears("late1", "a"));
    let found = build(&|b, [a, x, _]| {
        let either = b.c.or(a, x);
        let passed = b.chain("late", either, 2, false);
        let both = b.c.and(a, passed);
        b.gate("both", both)
    });
    assert_eq!(found, clears("late2", "a"));
    // what two gates make in different ways
    let found = build(&|b, [a, x, _]| {
        let both = b.c.and(a, x);
        let one = b.gate("one", both);
        let neither = b.c.not(both);
        let nand = b.gate("nand", neither);
        let back = b.c.not(nand);
        let other = b.gate("other", back);
        let all = b.c.and(one, other);
        b.gate("all", all)
    });
    assert_eq!(found, clears("other", "one"));
}

#[test]
fn ordinary_logic_delays_nothing() {
    let build = |what: &str, make: &dyn Fn(&mut Build, [Expr; 3]) -> Expr| {
        let mut b = Build::new("ordinary");
        let all = [b.input(1, "a"), b.input(2, "b"), b.input(3, "c")];
        let clear = make(&mut b, all);
        b.toggle(all[2], clear);
        let found = hidden(&b.c);
        assert!(found.is_empty(), "{what}: {found:?}");
    };
    build("the same enable at two levels of a decoder", &|b, [en, x, _]| {
        let inner = b.c.and(en, x);
        let inner = b.gate("inner", inner);
        let outer = b.c.and(en, inner);
        b.gate("outer", outer)
    });
    // the terms a·b, ¬a·c and, against the hazard while a changes, b·c: in one gate, and in two with the third behind more
    // gates than the others; and the same with products of sums
    for (apart, dual) in [(false, false), (true, false), (true, true)] {
        build("a term that is kept against a hazard", &|b, [a, x, c]| {
            let not_a = b.c.not(a);
            let two = |b: &mut Build, dual: bool, p, q| if dual { b.c.or(p, q) } else { b.c.and(p, q) };
            let first = two(b, dual, a, x);
            let second = two(b, dual, not_a, c);
            let third = two(b, dual, x, c);
            let mut sum = two(b, !dual, first, second);
            let mut kept = third;
            if apart {
                sum = b.gate("sum", sum);
                kept = b.chain("kept", third, 3, false);
            }
            let all = two(b, !dual, sum, kept);
            b.gate("all", all)
        });
    }
    build("inverters side by side", &|b, [a, ..]| {
        let not = b.c.not(a);
        let (one, other) = (b.gate("one", not), b.gate("other", not));
        let both = b.c.and(one, other);
        b.gate("both", both)
    });
    build("a chain that nothing else meets", &|b, [a, x, _]| {
        let passed = b.chain("late", a, 3, true);
        let both = b.c.and(passed, x);
        b.gate("both", both)
    });
    build("pins on a rail", &|b, [a, ..]| {
        let high = b.chain("high", Expr::HIGH, 2, false);
        let both = b.c.and(a, high);
        b.gate("both", both)
    });
    build("an exclusive or of four gates", &|b, [a, x, _]| {
        let nand = |b: &mut Build, name: &str, p, q| {
            let both = b.c.and(p, q);
            let not = b.c.not(both);
            b.gate(name, not)
        };
        let n1 = nand(b, "n1", a, x);
        let (n2, n3) = (nand(b, "n2", a, n1), nand(b, "n3", x, n1));
        nand(b, "n4", n2, n3)
    });
    build("a latch of gates, and a gate that is true with it and with what sets it", &|b, [set, reset, _]| {
        let held = b.c.add_net("held", Origin::Nowhere);
        let back = b.c.net(held);
        let set = b.chain("set", set, 2, false);
        let kept = b.c.not(reset);
        let kept = b.c.and(back, kept);
        let kept = b.gate("kept", kept);
        let level = b.c.or(set, kept);
        b.c.drive(held, gate(level));
        let busy = b.c.or(back, set);
        b.gate("busy", busy)
    });
}

/// The chain of a clock that no contact hangs on.
#[test]
fn a_chain_in_dead_logic_withholds_nothing() {
    let mut b = Build::new("dead");
    let a = b.input(1, "a");
    let passed = b.chain("late", a, 2, false);
    let both = b.c.and(a, passed);
    let clock = b.gate("both", both);
    b.register("dead", clock, Expr::LOW, Expr::LOW, Start::Any);
    b.toggle(a, Expr::LOW);
    assert_eq!(hidden(&b.c), []);
}

/// Nothing answers to an edge of data.
#[test]
fn a_chain_that_only_data_hang_on_withholds_nothing() {
    let mut b = Build::new("data");
    let (a, clock) = (b.input(1, "a"), b.input(2, "clock"));
    let passed = b.chain("late", a, 2, false);
    let both = b.c.and(a, passed);
    let data = b.gate("both", both);
    let (_, q) = b.register("kept", clock, data, Expr::LOW, Start::Any);
    b.output(9, "q", q);
    assert_eq!(hidden(&b.c), []);
}

/// Behind a loop of gates too: what it holds meets itself later.
#[test]
fn what_a_latch_of_gates_holds_may_meet_itself_later() {
    let mut c = structure::crossed(false);
    let mut b = Build { c: std::mem::replace(&mut c, Circuit::new("")) };
    let held = b.c.find_net("one").unwrap();
    let held = b.c.net(held);
    let passed = b.chain("late", held, 2, true);
    let either = b.c.or(held, passed);
    let clock = b.gate("either", either);
    b.toggle(clock, Expr::LOW);
    assert_eq!(hidden(&b.c).into_iter().map(|h| (h.0, h.1)).collect::<Vec<_>>(), [("late2".to_owned(), late("one"))]);
}
