//! Pairs that do the same with different registers: inverted, merged, split, in another code, or idle.
use super::*;
use crate::machine::Machine;
use crate::prove::pair::Pair;

/// A ring of registers through which one high bit walks: contacts clock 1, clear 2, outputs from 3.
pub(super) fn ring(n: usize, broken: bool) -> Circuit {
    let mut b = Build::new("ring");
    let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
    let cells: Vec<_> = (0..n)
        .map(|i| b.register(&format!("r{i}"), clock, Expr::LOW, if i == 0 { Expr::LOW } else { clear }, Start::Any))
        .collect();
    b.c.element_mut(cells[0].0).unwrap().preset = clear;
    for i in 0..n {
        let from = cells[(i + n - 1) % n].1;
        b.feed(cells[i].0, from);
        let shown = if broken && i == 1 { b.c.or(cells[1].1, cells[2].1) } else { cells[i].1 };
        b.output(3 + i as u16, &format!("y{i}"), shown);
    }
    b.c
}

/// The same with a binary counter and a decoder. `skips`: from the state before the last it goes to the first.
pub(super) fn counter(bits: usize, start: Start, skips: bool) -> Circuit {
    let mut b = Build::new("counter");
    let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
    let cells: Vec<_> = (0..bits).map(|i| b.register(&format!("c{i}"), clock, Expr::LOW, clear, start)).collect();
    let is = |b: &mut Build, k: usize| {
        (0..bits).fold(Expr::HIGH, |all, i| {
            let bit = if (k >> i) & 1 == 1 { cells[i].1 } else { b.c.not(cells[i].1) };
            b.c.and(all, bit)
        })
    };
    let early = is(&mut b, (1 << bits) - 2);
    let keep = if skips { b.c.not(early) } else { Expr::HIGH };
    let mut carry = Expr::HIGH;
    for &(e, q) in &cells {
        let sum = b.c.xor(q, carry);
        carry = b.c.and(carry, q);
        let data = b.c.and(sum, keep);
        b.feed(e, data);
    }
    for k in 0..1 << bits {
        let y = is(&mut b, k);
        b.output(3 + k as u16, &format!("y{k}"), y);
    }
    b.c
}

#[test]
fn a_counter_with_a_decoder_replaces_a_ring_in_which_one_bit_walks() {
    for start in [Start::Low, Start::Any] {
        // no bits correspond, but what the contacts show says what both hold
        let proof = Question::new(ring(4, false), counter(2, start, false)).ask().unwrap();
        assert_eq!(proof.method, Method::Induction, "{proof}");
        let mut obligations = proof.obligations();
        obligations.retain(|o| o.never.contains("fail to match"));
        // a counter that starts anyhow needs more than one start of the ring
        assert_eq!(obligations.len(), usize::from(start == Start::Any), "{proof}");
        assert!(obligations.iter().all(|o| Solver::refutes(&o.text)), "{proof}");
        let walked = Question::new(ring(4, false), counter(2, start, false)).ask_by_walk().unwrap();
        assert!(matches!(walked.method, Method::Walk { .. }), "{walked}");
        let r = refuted(ring(4, false), counter(2, start, true));
        assert!(r.shortest, "{r}");
        refuted(ring(4, true), counter(2, start, false));
    }
}

#[test]
fn a_ring_does_not_replace_a_counter_unless_it_starts_with_one_bit() {
    // the ring may start with two bits high, which no counter with a decoder shows
    let r = refuted(counter(2, Start::Any, false), ring(4, false));
    assert_eq!(r.events.len(), 0, "{r}");
    let mut declared = ring(4, false);
    for i in 0..4 {
        let e = declared.find_element(&format!("r{i}")).unwrap();
        declared.element_mut(e).unwrap().start = if i == 2 { Start::High } else { Start::Low };
    }
    assert!(Question::new(counter(2, Start::Any, false), declared).ask().is_ok());
}

#[test]
fn a_gray_counter_replaces_a_binary_one() {
    let gray = |slip: bool| {
        let mut b = Build::new("gray");
        let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
        let (low, q0) = b.register("g0", clock, Expr::LOW, clear, Start::Low);
        let (high, q1) = b.register("g1", clock, Expr::LOW, clear, Start::Low);
        let next = b.c.not(q1);
        b.feed(low, next);
        b.feed(high, q0);
        let binary = b.c.xor(q0, q1);
        let binary = if slip { b.c.not(binary) } else { binary };
        b.output(3, "y0", binary);
        b.output(4, "y1", q1);
        b.c
    };
    let binary = {
        let mut b = Build::new("binary");
        let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
        let (low, q0) = b.register("b0", clock, Expr::LOW, clear, Start::Any);
        let (high, q1) = b.register("b1", clock, Expr::LOW, clear, Start::Any);
        let (n, x) = (b.c.not(q0), b.c.xor(q0, q1));
        b.feed(low, n);
        b.feed(high, x);
        b.output(3, "y0", q0);
        b.output(4, "y1", q1);
        b.c
    };
    assert!(Question::new(binary.clone(), gray(false)).ask().is_ok());
    refuted(binary, gray(true));
}

/// Contacts clock 1, data 2, and one register for each of two outputs, or one for both; `idle` adds one that nothing
/// reads.
fn copies(registers: usize, start: Start, inverted: bool, idle: bool) -> Circuit {
    let mut b = Build::new("copies");
    let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
    let mut q = b.register("q0", clock, data, Expr::LOW, start).1;
    b.output(3, "y0", q);
    if registers == 2 {
        let fed = if inverted { b.c.not(data) } else { data };
        q = b.register("q1", clock, fed, Expr::LOW, start).1;
    }
    if idle {
        b.register("idle", data, clock, Expr::LOW, Start::Any);
    }
    b.output(4, "y1", q);
    b.c
}

#[test]
fn registers_are_merged_split_and_left_idle() {
    let ask = |original, replacement| Question::new(original, replacement).ask();
    // two that always agree after the first clock become one
    assert!(ask(copies(2, Start::Any, false, true), copies(1, Start::Any, false, false)).is_ok());
    // one becomes two that start alike
    assert!(ask(copies(1, Start::Any, false, false), copies(2, Start::Low, false, true)).is_ok());
    // two that may start apart are not one
    let r = refuted(copies(1, Start::Any, false, false), copies(2, Start::Any, false, false));
    assert_eq!(r.events.len(), 0, "{r}");
    refuted(copies(2, Start::Any, false, false), copies(2, Start::Any, true, false));
}

/// Original: which of two clocks came first does not matter, a hidden bit tells what is shown then.
fn hidden() -> Circuit {
    let mut b = Build::new("hidden");
    let (one, other) = (b.input(1, "one"), b.input(2, "other"));
    let (a, c) = (
        b.register("a", one, Expr::HIGH, Expr::LOW, Start::Any).1,
        b.register("c", other, Expr::HIGH, Expr::LOW, Start::Any).1,
    );
    let (e, h) = b.register("h", one, Expr::LOW, Expr::LOW, Start::Any);
    b.feed(e, h);
    let any = b.c.or(a, c);
    let y = b.c.and(any, h);
    b.output(3, "y", y);
    b.c
}

/// Replacement: what is shown tells which clock came first. `forgets`: the second clock takes it back.
fn first_of_two(forgets: bool) -> Circuit {
    let mut b = Build::new("first of two");
    let (one, other) = (b.input(1, "one"), b.input(2, "other"));
    let (e, a) = b.register("a", one, Expr::LOW, Expr::LOW, Start::Low);
    let (f, c) = b.register("c", other, Expr::LOW, Expr::LOW, Start::Low);
    let (not_a, not_c) = (b.c.not(a), b.c.not(c));
    let (first, second) = (b.c.or(a, not_c), b.c.or(c, not_a));
    b.feed(e, first);
    b.feed(f, if forgets { Expr::HIGH } else { second });
    let y = if forgets { b.c.and(a, not_c) } else { a };
    b.output(3, "y", y);
    b.c
}

#[test]
fn every_sequence_has_its_start_though_no_start_has_them_all() {
    let proof = Question::new(hidden(), first_of_two(false)).ask().unwrap();
    assert!(matches!(proof.method, Method::Walk { .. }), "{proof}");
    let r = refuted(hidden(), first_of_two(true));
    assert_eq!(r.events.len(), 2, "{r}");
    // without a walk nobody may say that it is refuted
    let short = Question::new(hidden(), first_of_two(false)).walking(0).to_depth(6).ask();
    assert!(!matches!(short, Err(Failure::Refuted(_))), "{short:?}");
}

/// Two cross-coupled NAND gates: contacts set 1 and reset 2 (both low when active), outputs 3 and 4.
pub(super) fn crossed(swapped: bool) -> Circuit {
    let mut b = Build::new("crossed gates");
    let (set, reset) = (b.input(1, "set"), b.input(2, "reset"));
    let (set, reset) = if swapped { (reset, set) } else { (set, reset) };
    let (one, other) = (b.c.add_net("one", Origin::Nowhere), b.c.add_net("other", Origin::Nowhere));
    for (net, input, from) in [(one, set, other), (other, reset, one)] {
        let from = b.c.net(from);
        let both = b.c.and(input, from);
        let level = b.c.not(both);
        b.c.drive(
            net,
            Driver {
                enable: Expr::HIGH,
                level,
                stage: Stage::PushPull,
                by: By::signal("gate"),
                origin: Origin::Nowhere,
            },
        );
    }
    b.contact(3, "one", one, Direction::Output);
    b.contact(4, "other", other, Direction::Output);
    b.c
}

#[test]
fn a_loop_starts_in_any_value_in_which_it_settles() {
    assert!(Question::new(crossed(false), crossed(false)).ask().is_ok());
    refuted(crossed(false), crossed(true));
    // a latch element that never shows both outputs high can't stand in for the gates; one of whose starts is one of
    // theirs can, if the inputs are never active together
    let latch = |start| {
        let mut b = Build::new("latch");
        let (set, reset) = (b.input(1, "set"), b.input(2, "reset"));
        let (set, reset) = (b.c.not(set), b.c.not(reset));
        let e = b.c.add_element(Element {
            name: "q".into(),
            kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
            clear: reset,
            preset: set,
            unknown_load: Expr::LOW,
            start,
            origin: Origin::Nowhere,
        });
        let (q, n) = (b.c.q(e), b.c.q(e));
        let n = b.c.not(n);
        b.output(3, "one", q);
        b.output(4, "other", n);
        b.c
    };
    let apart = Assumption {
        text: "set and reset never both".into(),
        holds: Formula::Or(Arc::new(Formula::High(1.into())), Arc::new(Formula::High(2.into()))),
    };
    for start in [Start::Low, Start::High, Start::Any] {
        assert!(Question::new(crossed(false), latch(start)).assuming(apart.clone()).ask().is_ok());
    }
    refuted(crossed(false), latch(Start::Low));
}

#[test]
fn a_start_that_the_first_runs_never_see_tells_bits_apart() {
    // registers that hold what they power up with: in any one run each is constant, and looks like every other
    let held = |slip: bool| {
        let mut b = Build::new("held");
        let clock = b.input(1, "clock");
        let cells: Vec<_> =
            (0..6).map(|i| b.register(&format!("r{i}"), clock, Expr::LOW, Expr::LOW, Start::Any)).collect();
        for (i, &(cell, q)) in cells.iter().enumerate() {
            let other = if slip && i == 4 { cells[5].1 } else { q };
            b.feed(cell, other);
            b.output(2 + i as u16, &format!("y{i}"), q);
        }
        b.c
    };
    let ask = |slip| Question::new(held(false), held(slip)).walking(0).ask();
    let proof = ask(false).unwrap();
    assert_eq!(proof.method, Method::Induction, "{proof}");
    assert!(matches!(ask(true), Err(Failure::Refuted(_))));
}

/// A chain of registers, each clocked by the one before, and as many that load what a contact says on that clock; in this
/// order. Contacts: clock 1, data 2, outputs from 3.
fn ripple(order: &[usize]) -> Circuit {
    let mut b = Build::new("ripple");
    let (clock, data) = (b.input(1, "clock"), b.input(2, "data"));
    let n = order.len();
    let mut cells = vec![None; 2 * n];
    for &i in order {
        for (k, kind) in ["toggles", "loads"].iter().enumerate() {
            cells[2 * i + k] = Some(b.register(&format!("{kind}{i}"), Expr::LOW, Expr::LOW, Expr::LOW, Start::Any));
        }
    }
    let cells: Vec<_> = cells.into_iter().flatten().collect();
    let mut by = clock;
    for i in 0..n {
        let (toggles, loads) = (cells[2 * i], cells[2 * i + 1]);
        let other = b.c.not(toggles.1);
        b.c.element_mut(toggles.0).unwrap().kind = Kind::Register { clock: by, data: other };
        b.c.element_mut(loads.0).unwrap().kind = Kind::Register { clock: by, data };
        b.output(3 + 2 * i as u16, &format!("t{i}"), toggles.1);
        b.output(4 + 2 * i as u16, &format!("l{i}"), loads.1);
        by = toggles.1;
    }
    b.c
}

#[test]
fn registers_are_paired_by_what_they_take_whatever_their_order() {
    let (one, other) = (ripple(&[0, 1, 2, 3]), ripple(&[2, 0, 3, 1]));
    let pair = Pair::new(Machine::new(&one), Machine::new(&other), Vec::new(), Vec::new(), &[]);
    let found = signature::partners(&pair, &mut draw::Draw::new(1));
    assert_eq!(found.len(), 8);
    for (o, r, opposite) in found {
        assert_eq!(pair.machines[0].cells()[o].name, pair.machines[1].cells()[r].name);
        assert!(!opposite);
    }
    // each stage moves after the one before: that many phases, and one in which nothing moves, are followed at once
    assert_eq!(pair.machines[0].depth(), 4);
    assert!(pair.limits.phases > 4, "{:?}", pair.limits);
    let proof = Question::new(ripple(&(0..12).collect::<Vec<_>>()), ripple(&(0..12).rev().collect::<Vec<_>>()))
        .settled_only()
        .ask();
    assert!(matches!(&proof, Ok(p) if p.method == Method::Induction), "{proof:?}");
    assert!(matches!(Question::new(one, ripple(&[0, 1, 2])).ask(), Err(Failure::Refuted(_))));
}

/// Two registers that take the same are told apart by what they show.
#[test]
fn registers_that_take_the_same_are_paired_by_what_they_change() {
    let twins = |exchanged: bool| {
        let mut b = Build::new("twins");
        let (clock, data, select) = (b.input(1, "clock"), b.input(2, "data"), b.input(3, "select"));
        let qs: Vec<Expr> = ["a", "b"].iter().map(|n| b.register(n, clock, data, Expr::LOW, Start::Any).1).collect();
        let (first, second) = if exchanged { (qs[1], qs[0]) } else { (qs[0], qs[1]) };
        let chosen = b.c.choose(select, first, second);
        b.output(4, "y", chosen);
        b.c
    };
    for exchanged in [false, true] {
        let [one, other] = [false, exchanged].map(|exchanged| Machine::new(&twins(exchanged)));
        let pair = Pair::new(one, other, Vec::new(), Vec::new(), &[]);
        let mut found = signature::partners(&pair, &mut draw::Draw::new(1));
        found.sort_unstable();
        let expected = if exchanged { [(0, 1, false), (1, 0, false)] } else { [(0, 0, false), (1, 1, false)] };
        assert_eq!(found, expected);
    }
}
