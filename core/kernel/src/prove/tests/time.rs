//! What delays decide: never proved silently, and nothing said where they don't matter.
use super::*;

fn gate(level: Expr) -> Driver {
    Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("gate"), origin: Origin::Nowhere }
}

impl Build {
    pub(super) fn net(&mut self, name: &str, level: Expr) -> Expr {
        let net = self.c.add_net(name, Origin::Nowhere);
        self.c.drive(net, gate(level));
        self.c.net(net)
    }

    pub(super) fn inverters(&mut self, name: &str, from: Expr, count: usize) -> Expr {
        (1..=count).fold(from, |level, i| {
            let level = self.c.not(level);
            self.net(&format!("{name}{i}"), level)
        })
    }

    pub(super) fn latch(&mut self, name: &str, open: Expr, data: Expr) -> Expr {
        let kind = Kind::Latch { open, data };
        let (name, origin) = (name.to_owned(), Origin::Nowhere);
        let (clear, preset, unknown_load) = (Expr::LOW, Expr::LOW, Expr::LOW);
        let e = Element { name, kind, clear, preset, unknown_load, start: Start::Any, origin };
        let e = self.c.add_element(e);
        self.c.q(e)
    }

    pub(super) fn toggle_at(&mut self, label: u16, name: &str, clock: Expr, clear: Expr) -> Expr {
        let (e, q) = self.register(name, clock, Expr::LOW, clear, Start::Any);
        let n = self.c.not(q);
        self.feed(e, n);
        self.output(label, name, q);
        q
    }
}

/// What is open in a circuit that is its own replacement: for the original, by name and rule.
fn open(c: &Circuit) -> Vec<(String, String)> {
    match Question::new(c.clone(), c.clone()).ask() {
        Ok(_) => Vec::new(),
        Err(Failure::Withheld(w)) => {
            println!("{w}\n{}", w.proof);
            let named = |h: &Hidden| match &h.why {
                Why::Order { rule, .. } => (h.name.clone(), format!("{rule:?}")),
                why => (h.name.clone(), format!("{why:?}")),
            };
            w.hidden.iter().filter(|h| h.of == Of::Original).map(named).collect()
        }
        other => panic!("{other:?}"),
    }
}

pub(super) fn made(make: impl FnOnce(&mut Build)) -> Circuit {
    let mut b = Build::new("made");
    make(&mut b);
    b.c
}

#[test]
fn ordinary_clocking_leaves_nothing_open() {
    let shift = made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let mut level = data;
        for i in 0..3 {
            let (_, q) = b.register(&format!("q{i}"), clock, level, Expr::LOW, Start::Any);
            level = b.net(&format!("pin{i}"), q);
        }
        b.output(3, "out", level);
    });
    assert_eq!(open(&shift), []);
    // what two registers of one clock make together comes after the edge too
    let ended = made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let (_, one) = b.register("one", clock, data, Expr::LOW, Start::Any);
        let (_, two) = b.register("two", clock, one, Expr::LOW, Start::Any);
        let not = b.c.not(two);
        let both = b.c.and(one, not);
        let both = b.net("both", both);
        let (_, q) = b.register("three", clock, both, Expr::LOW, Start::Any);
        b.output(3, "out", q);
    });
    assert_eq!(open(&ended), []);
    let ripple = made(|b| {
        let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
        let mut from = clock;
        for i in 0..4 {
            let falls = b.c.not(from);
            let q = b.toggle_at(3 + i, &format!("q{i}"), falls, clear);
            from = b.net(&format!("pin{i}"), q);
        }
    });
    assert_eq!(open(&ripple), []);
    let gated = made(|b| {
        let (clock, enable, data) = (b.input(1, "clock"), b.input(2, "enable"), b.input(3, "data"));
        let both = b.c.and(clock, enable);
        let gated = b.net("gated", both);
        let (_, q) = b.register("q", gated, data, Expr::LOW, Start::Any);
        b.output(4, "out", q);
    });
    assert_eq!(open(&gated), []);
    // an enable that changes on the other edge
    let opposite = made(|b| {
        let (clock, enable, data) = (b.input(1, "clock"), b.input(2, "enable"), b.input(3, "data"));
        let falls = b.c.not(clock);
        let (_, on) = b.register("on", falls, enable, Expr::LOW, Start::Any);
        let on = b.net("on_pin", on);
        let both = b.c.and(clock, on);
        let gated = b.net("gated", both);
        let (_, q) = b.register("q", gated, data, Expr::LOW, Start::Any);
        b.output(4, "out", q);
    });
    assert_eq!(open(&opposite), []);
    // latches whose data keep still while they close
    let latch = made(|b| {
        let (gate, data) = (b.input(1, "gate"), b.input(2, "data"));
        let late = b.inverters("late", gate, 2);
        let q = b.latch("q", late, data);
        b.output(3, "out", q);
    });
    assert_eq!(open(&latch), []);
    // R10: a copy that comes later by a latch that is always open, or by buffers that nothing else meets
    let copy = made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let late = b.latch("open", Expr::HIGH, clock);
        let late = b.net("late", late);
        let (_, q) = b.register("q", late, data, Expr::LOW, Start::Any);
        b.output(3, "out", q);
    });
    assert_eq!(open(&copy), []);
}

#[test]
fn a_set_reset_latch_of_gates_may_clock() {
    let debounced = made(|b| {
        let (set, reset, data) = (b.input(1, "set_n"), b.input(2, "reset_n"), b.input(3, "data"));
        let (q, n) = (b.c.add_net("q", Origin::Nowhere), b.c.add_net("n", Origin::Nowhere));
        let (ql, nl) = (b.c.net(q), b.c.net(n));
        for (net, a, c) in [(q, set, nl), (n, reset, ql)] {
            let both = b.c.and(a, c);
            let not = b.c.not(both);
            b.c.drive(net, gate(not));
        }
        let (_, kept) = b.register("kept", ql, data, Expr::LOW, Start::Any);
        b.output(4, "out", kept);
    });
    assert_eq!(open(&debounced), []);
}

/// A latch whose gate comes through two inverters from its own data: real boards follow.
pub(super) fn late_gate() -> Circuit {
    made(|b| {
        let x = b.input(1, "x");
        let late = b.inverters("late", x, 2);
        let q = b.latch("q", late, x);
        b.output(2, "out", q);
    })
}

#[test]
fn a_latch_that_closes_while_its_data_moves_is_open() {
    assert_eq!(open(&late_gate()), [("q".to_owned(), "Race".to_owned())]);
    // once high it sticks, if the latch closes first
    let sticky = made(|b| {
        let x = b.input(1, "x");
        let q = b.latch("q", x, Expr::HIGH);
        b.output(2, "out", q);
    });
    let answer = Question::new(late_gate(), sticky.clone()).ask();
    assert!(matches!(answer, Err(Failure::Withheld(_))), "{answer:?}");
    let direct = made(|b| {
        let x = b.input(1, "x");
        let q = b.latch("q", x, x);
        b.output(2, "out", q);
    });
    assert!(matches!(Question::new(direct, sticky).ask(), Err(Failure::Withheld(_))));
}

/// A second register whose clock comes so many inverters after the first one's.
pub(super) fn skewed(inverters: usize) -> Circuit {
    made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let (_, one) = b.register("one", clock, data, Expr::LOW, Start::Any);
        let one = b.net("one_pin", one);
        let late = b.inverters("late", clock, inverters);
        let (_, two) = b.register("two", late, one, Expr::LOW, Start::Any);
        b.output(3, "out", two);
    })
}

#[test]
pub(super) fn skewed_clocks_are_open() {
    assert_eq!(open(&skewed(0)), []);
    assert_eq!(open(&skewed(6)), [("two".to_owned(), "Race".to_owned())]);
    let answer = Question::new(skewed(6), skewed(0)).ask();
    assert!(matches!(answer, Err(Failure::Withheld(_))), "{answer:?}");
    // of a replacement as well
    let answer = Question::new(skewed(0), skewed(6)).ask();
    assert!(matches!(answer, Err(Failure::Withheld(_))), "{answer:?}");
}

/// A toggle whose clock, or clear, is made of two ways from one contact.
fn meets(make: impl FnOnce(&mut Build, Expr) -> Expr, clears: bool) -> Vec<(String, String)> {
    let c = made(|b| {
        let (a, clock) = (b.input(1, "a"), b.input(2, "clock"));
        let pulse = make(b, a);
        let pulse = b.net("pulse", pulse);
        let (clock, clear) = if clears { (clock, pulse) } else { (pulse, Expr::LOW) };
        b.toggle_at(3, "toggle", clock, clear);
    });
    open(&c)
}

#[test]
fn pulses_at_clocks_gates_and_clears_are_open_whatever_makes_them() {
    let both = |b: &mut Build, a: Expr| {
        let late = b.inverters("late", a, 3);
        b.c.and(a, late)
    };
    let doubler = |b: &mut Build, a: Expr| {
        let late = b.inverters("late", a, 4);
        b.c.xor(a, late)
    };
    // inside one package: a·¬a + x·0
    let and_or = |b: &mut Build, a: Expr| {
        let late = b.inverters("late", a, 3);
        let one = b.c.and(a, late);
        let idle = b.input(5, "idle");
        let other = b.c.and(idle, late);
        b.c.or(one, other)
    };
    let selector = |b: &mut Build, a: Expr| {
        let late = b.inverters("late", a, 3);
        b.c.choose(a, late, Expr::LOW)
    };
    let through_latch = |b: &mut Build, a: Expr| {
        let not = b.c.not(a);
        let late = b.latch("open", Expr::HIGH, not);
        let late = b.net("late", late);
        b.c.and(a, late)
    };
    let has = |found: Vec<(String, String)>, rule: &str| {
        assert!(found.contains(&("pulse".to_owned(), rule.to_owned())), "{found:?}");
    };
    has(meets(both, false), "Pulse(Clock)");
    has(meets(doubler, false), "Pulse(Clock)");
    has(meets(and_or, false), "Pulse(Clock)");
    has(meets(selector, false), "Pulse(Clock)");
    has(meets(through_latch, false), "Pulse(Clock)");
    has(meets(both, true), "Pulse(Clear)");
    // two registers on skewed clocks
    let twin = made(|b| {
        let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
        let late = b.inverters("late", clock, 2);
        let (_, one) = b.register("one", clock, data, Expr::LOW, Start::Any);
        let (_, two) = b.register("two", late, data, Expr::LOW, Start::Any);
        let pulse = b.c.xor(one, two);
        let pulse = b.net("pulse", pulse);
        b.toggle_at(3, "toggle", pulse, Expr::LOW);
    });
    has(open(&twin), "Pulse(Clock)");
}

#[test]
fn a_pulse_that_can_only_come_in_states_that_are_never_reached_is_not_said() {
    // one and two are always the same, so one without two never comes, and no order of their changes shows it: both are
    // still while the second clock, on which they hang, is
    let never = |same: bool| {
        made(|b| {
            let (clock, data, other) = (b.input(1, "clock"), b.input(2, "data"), b.input(5, "other"));
            let (_, one) = b.register("one", clock, data, Expr::LOW, Start::Low);
            let (_, two) = b.register("two", clock, if same { data } else { other }, Expr::LOW, Start::Low);
            let differ = b.c.xor(one, two);
            let (tick, on) = (b.input(6, "tick"), b.inverters("on", other, 1));
            // while the two differ, `other` and its opposite meet
            let meet = b.c.xor(other, on);
            let meet = b.c.not(meet);
            let pulse = b.c.and(differ, meet);
            let pulse = b.c.or(pulse, tick);
            let pulse = b.net("pulse", pulse);
            b.toggle_at(3, "toggle", pulse, Expr::LOW);
            b.output(4, "two", two);
        })
    };
    assert!(open(&never(false)).contains(&("pulse".to_owned(), "Pulse(Clock)".to_owned())));
    assert_eq!(open(&never(true)).iter().filter(|f| f.1 != "Pulse(Clock)").count(), 0);
    let events = |c: &Circuit| match Question::new(c.clone(), c.clone()).ask() {
        Err(Failure::Withheld(w)) => {
            w.hidden.iter().filter(|h| matches!(&h.why, Why::Order { event, .. } if event == "5 other")).count()
        }
        _ => 0,
    };
    assert_eq!((events(&never(true)), events(&never(false)) > 0), (0, true));
}

#[test]
fn ordinary_logic_makes_no_pulse() {
    let none = |what: &str, make: &dyn Fn(&mut Build, [Expr; 3]) -> Expr| {
        let c = made(|b| {
            let all = [b.input(1, "a"), b.input(2, "b"), b.input(3, "c")];
            let clear = make(b, all);
            b.toggle_at(9, "toggle", all[2], clear);
        });
        let found = open(&c);
        assert!(found.is_empty(), "{what}: {found:?}");
    };
    none("the same enable at two levels of a decoder", &|b, [en, x, _]| {
        let inner = b.c.and(en, x);
        let inner = b.net("inner", inner);
        let outer = b.c.and(en, inner);
        b.net("outer", outer)
    });
    none("inverters side by side", &|b, [a, ..]| {
        let not = b.c.not(a);
        let (one, other) = (b.net("one", not), b.net("other", not));
        let both = b.c.and(one, other);
        b.net("both", both)
    });
    none("a clear that waits for its own buffers", &|b, [a, ..]| {
        let late = b.inverters("late", a, 4);
        let both = b.c.and(a, late);
        b.net("both", both)
    });
    none("a chain that nothing else meets", &|b, [a, x, _]| {
        let late = b.inverters("late", a, 3);
        let both = b.c.and(late, x);
        b.net("both", both)
    });
    // the terms a·b and ¬a·b, and against the pulse while a changes b alone
    none("a term that is kept against a hazard", &|b, [a, x, _]| {
        let not = b.c.not(a);
        let not = b.net("not", not);
        let (first, second) = (b.c.and(a, x), b.c.and(not, x));
        let sum = b.c.or(first, second);
        let sum = b.c.or(sum, x);
        b.net("sum", sum)
    });
    none("a latch of gates, and a gate that is true with it and with what sets it", &|b, [set, reset, _]| {
        let held = b.c.add_net("held", Origin::Nowhere);
        let back = b.c.net(held);
        let set = b.inverters("set", set, 2);
        let kept = b.c.not(reset);
        let kept = b.c.and(back, kept);
        let kept = b.net("kept", kept);
        let level = b.c.or(set, kept);
        b.c.drive(held, gate(level));
        let busy = b.c.or(back, set);
        b.net("busy", busy)
    });
    // without the third term a clock may, and so may one by the exclusive or of four gates (by hand: the first of them
    // may answer late)
    let pulses = |make: &dyn Fn(&mut Build, Expr, Expr) -> Expr| {
        let c = made(|b| {
            let all = [b.input(1, "a"), b.input(2, "b")];
            let clock = make(b, all[0], all[1]);
            b.toggle_at(9, "toggle", clock, Expr::LOW);
        });
        let found = open(&c);
        assert!(found.iter().any(|f| f.1 == "Pulse(Clock)"), "{found:?}");
    };
    pulses(&|b, a, x| {
        let not = b.c.not(a);
        let not = b.net("not", not);
        let (first, second) = (b.c.and(a, x), b.c.and(not, x));
        let sum = b.c.or(first, second);
        b.net("sum", sum)
    });
    pulses(&|b, a, x| {
        let nand = |b: &mut Build, name: &str, p, q| {
            let both = b.c.and(p, q);
            let not = b.c.not(both);
            b.net(name, not)
        };
        let n1 = nand(b, "n1", a, x);
        let (n2, n3) = (nand(b, "n2", a, n1), nand(b, "n3", x, n1));
        nand(b, "n4", n2, n3)
    });
}

#[test]
fn what_no_contact_hangs_on_and_what_only_data_hang_on_withholds_nothing() {
    let dead = made(|b| {
        let a = b.input(1, "a");
        let late = b.inverters("late", a, 3);
        let both = b.c.and(a, late);
        let clock = b.net("both", both);
        b.register("dead", clock, Expr::LOW, Expr::LOW, Start::Any);
        b.toggle_at(9, "toggle", a, Expr::LOW);
    });
    assert_eq!(open(&dead), []);
    let data = made(|b| {
        let (a, clock) = (b.input(1, "a"), b.input(2, "clock"));
        let late = b.inverters("late", a, 4);
        let differ = b.c.xor(a, late);
        let differ = b.net("differ", differ);
        let (_, q) = b.register("kept", clock, differ, Expr::LOW, Start::Any);
        b.output(9, "q", q);
    });
    assert_eq!(open(&data), []);
}

#[test]
fn what_clears_itself_and_what_is_released_one_after_the_other_is_open() {
    // a clear that comes back while the clock that it made is on its way
    let recovery = made(|b| {
        let (a, data) = (b.input(1, "a"), b.input(2, "data"));
        let clear = b.inverters("clear", a, 3);
        let clock = b.inverters("clock", a, 4);
        let (_, q) = b.register("q", clock, data, clear, Start::Any);
        b.output(3, "q", q);
    });
    assert!(open(&recovery).iter().any(|f| f.1 == "Recovery" || f.1 == "Race"), "{:?}", open(&recovery));
    // a clear that is certainly asserted before its own clock comes round is no matter
    let asserted = made(|b| {
        let (clear, clock, data) = (b.input(1, "clear"), b.input(2, "clock"), b.input(3, "data"));
        let (_, one) = b.register("one", clock, data, clear, Start::Any);
        let falls = b.c.not(one);
        let falls = b.net("falls", falls);
        let (_, two) = b.register("two", falls, data, clear, Start::Any);
        b.output(4, "two", two);
    });
    assert_eq!(open(&asserted), []);
}

/// A latch of an and-or-invert gate and a nor gate: set by `x` while `m` says so, reset by `r`. With `late` the gate reads `x`
/// and `x` again through what makes `m`, so that it may see both high as `x` rises, which no settled level shows.
fn set_by(late: bool) -> Circuit {
    made(|b| {
        let (x, y, r) = (b.input(1, "x"), b.input(2, "y"), b.input(3, "r"));
        let masked = if late { b.c.and(x, y) } else { y };
        let m = b.c.not(masked);
        let m = b.net("m", m);
        let [set, reset] = ["set gate", "reset gate"].map(|n| b.c.add_net(n, Origin::Nowhere));
        let (s, q) = (b.c.net(set), b.c.net(reset));
        let sets = b.c.and(x, m);
        for (net, one, other) in [(set, sets, q), (reset, r, s)] {
            let any = b.c.or(one, other);
            let neither = b.c.not(any);
            b.c.drive(net, gate(neither));
        }
        b.output(4, "q", q);
    })
}

/// What a gate of a loop reads in one phase may come one after the other all the same.
#[test]
fn a_pulse_that_the_gate_of_a_latch_makes_itself_is_seen() {
    assert_eq!(open(&set_by(false)), []);
    assert_eq!(open(&set_by(true)), [("set gate".to_owned(), "Loop".to_owned())]);
    for (original, replacement) in [(false, true), (true, false)] {
        let verdict = Question::new(set_by(original), set_by(replacement)).ask();
        assert!(matches!(verdict, Err(Failure::Withheld(_) | Failure::Refuted(_))), "{verdict:?}");
    }
}

/// A latch that keeps itself high once `x` has set it while `m` said so, until `g` shuts it and `r` clears it. With `late` what
/// sets it is a pulse that its own data gate makes as `x` rises. `netted`: a net stands between the gate and the latch.
fn kept_by(late: bool, netted: bool) -> Circuit {
    made(|b| {
        let (x, y, r) = (b.input(1, "x"), b.input(2, "y"), b.input(3, "r"));
        let masked = if late { b.c.and(x, y) } else { y };
        let m = b.c.not(masked);
        let m = b.net("m", m);
        let keeps = b.latch("keeps", Expr::HIGH, Expr::LOW);
        let sets = b.c.and(x, m);
        let any = b.c.or(sets, keeps);
        let run = b.c.not(r);
        let data = b.c.and(any, run);
        let data = if netted { b.net("data", data) } else { data };
        let e = b.c.find_element("keeps").unwrap();
        b.c.element_mut(e).unwrap().kind = Kind::Latch { open: Expr::HIGH, data };
        b.output(4, "q", keeps);
    })
}

/// A loop that goes through an open latch takes a pulse of its own gates as well.
#[test]
fn a_pulse_in_a_loop_that_goes_through_a_latch_is_seen() {
    for netted in [true, false] {
        assert_eq!(open(&kept_by(false, netted)), []);
        assert_eq!(open(&kept_by(true, netted)).len(), 1, "{netted}");
        for (original, replacement) in [(false, true), (true, false)] {
            let verdict = Question::new(kept_by(original, netted), kept_by(replacement, netted)).ask();
            assert!(matches!(verdict, Err(Failure::Withheld(_) | Failure::Refuted(_))), "{verdict:?}");
        }
    }
}

/// A register that loads `c`, which moves on `up`, when the clock of a second stage ends. The stage below gates `up`, or is
/// the clock itself: it moves on `up` too.
fn second(gated: bool) -> Circuit {
    made(|b| {
        let (up, x) = (b.input(1, "up"), b.input(2, "x"));
        let a = b.toggle_at(3, "a", up, Expr::LOW);
        let (_, c) = b.register("c", up, x, Expr::LOW, Start::Any);
        let low = b.c.not(up);
        let clock = if gated { b.c.and(low, a) } else { a };
        let clock = b.c.not(clock);
        let (_, q) = b.register("q", clock, c, Expr::LOW, Start::Any);
        b.output(4, "q", q);
    })
}

/// A stage that moves after the clock by which it is masked makes no edge; where it is not masked it does, and what it
/// loads may come before it or after it.
#[test]
fn a_stage_that_moves_after_what_masks_it_makes_no_edge() {
    assert_eq!(open(&second(true)), []);
    assert_eq!(open(&second(false)), [("q".to_owned(), "Race".to_owned())]);
}
