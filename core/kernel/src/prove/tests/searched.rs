//! Runs that are found by search: how many starts of the original one look stands for.
use super::*;
use crate::prove::draw::Draw;
use crate::prove::pair::Pair;

/// Registers that take what stands at their contacts while they were asked: contacts clock 1, request 2, reset 3, data
/// from 4, shown from 24. All that the search sees at power-up may hold anything.
fn store(width: u16, is_cleared: bool) -> Circuit {
    let mut b = Build::new("store");
    let (clock, request, reset) = (b.input(1, "clock"), b.input(2, "request"), b.input(3, "reset"));
    let clear = if is_cleared { reset } else { Expr::LOW };
    let (_, asked) = b.register("asked", clock, request, clear, Start::Any);
    for i in 0..width {
        let data = b.input(4 + i, &format!("d{i}"));
        let (e, held) = b.register(&format!("held{i}"), clock, Expr::LOW, Expr::LOW, Start::Any);
        let next = b.c.choose(asked, data, held);
        b.feed(e, next);
        b.output(24 + i, &format!("y{i}"), held);
    }
    b.c
}

#[test]
fn a_clear_that_is_lost_beside_many_bits_that_may_start_anyhow_is_refuted() {
    // one start of the original at a time, there would be 2^18 to be refuted
    let question = Question::new(store(18, true), store(18, false)).in_time(Duration::from_secs(60));
    let Err(Failure::Refuted(r)) = question.ask() else { panic!("{:?}", question.ask()) };
    assert!(r.shortest && r.events.len() == 1, "{r}");
    assert_eq!(r.replay().and_then(|left| left.last().copied()), Some(0), "{r}");
    assert!(Question::new(store(18, true), store(18, true)).ask().is_ok());
}

/// A counter that a pulse loads from contacts; `slips` takes the pulse from the wrong register, so that nothing that runs
/// side by side stays alike. The first bit is stored inverted if `inverts`. Contacts: clock 1, strobe 2, data from 3, out
/// from 7.
fn loaded(slips: bool, inverts: bool) -> Circuit {
    let mut b = Build::new("loaded");
    let (clock, strobe) = (b.input(1, "clock"), b.input(2, "strobe"));
    let (_, seen) = b.register("seen", clock, strobe, Expr::LOW, Start::Any);
    let (_, was) = b.register("was", clock, if slips { strobe } else { seen }, Expr::LOW, Start::Any);
    let over = b.c.not(was);
    let begins = b.c.and(seen, over);
    let mut carry = Expr::HIGH;
    for i in 0..4 {
        let data = b.input(3 + i, &format!("d{i}"));
        let (e, q) = b.register(&format!("c{i}"), clock, Expr::LOW, Expr::LOW, Start::Any);
        let turned = |b: &mut Build, level| if inverts && i == 0 { b.c.not(level) } else { level };
        let bit = turned(&mut b, q);
        let sum = b.c.xor(bit, carry);
        carry = b.c.and(carry, bit);
        let next = b.c.choose(begins, data, sum);
        let next = turned(&mut b, next);
        b.feed(e, next);
        b.output(7 + i, &format!("q{i}"), bit);
    }
    b.c
}

#[test]
fn partners_are_found_where_runs_soon_part() {
    let machine = |circuit: &Circuit| crate::machine::Machine::new(circuit);
    let (original, replacement) = (loaded(false, false), loaded(true, true));
    let pair = Pair::new(machine(&original), machine(&replacement), Vec::new(), Vec::new(), &[]);
    let name = |side: usize, cell: usize| pair.machines[side].cells()[cell].name.clone();
    let mut found: Vec<_> = correspond::likely(&pair, &[], &mut Draw::new(1))
        .into_iter()
        .map(|(o, r, opposite)| (name(0, o), name(1, r), opposite))
        .collect();
    found.sort();
    let bits = [("c0", true), ("c1", false), ("c2", false), ("c3", false)];
    for (bit, opposite) in bits {
        assert!(found.contains(&(bit.to_owned(), bit.to_owned(), opposite)), "{bit}: {found:?}");
    }
    let r = refuted(original, replacement);
    assert!(r.shortest, "{r}");
}
