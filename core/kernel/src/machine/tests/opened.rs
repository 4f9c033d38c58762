//! What the order of changes leaves open is a matter of the state: of all states at once, and of one alone.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::circuit::{Circuit, Expr, Origin};
use crate::machine::{Freedom, Lanes, Limits, Machine, Symbolic, Unknown};
use crate::order::{Moving, Opened, Outcome, Ways};
use crate::random::SplitMix;
use crate::simulate::tests::Bench;
use crate::terms::{Assignment, Term, Terms};

const REGISTERS: usize = 4;

/// Toggles and others, each clocked by a gate over two contacts and what stands before it.
fn drawn(numbers: &mut SplitMix) -> Circuit {
    let mut below = |n: usize| numbers.below(n);
    let mut b = Bench::new("drawn");
    let mut levels = vec![b.input("x"), b.input("y")];
    for i in 0..REGISTERS {
        let clock = (0..3).fold(levels[0], |level, _| {
            let other = levels[below(levels.len())];
            let other = if below(2) == 0 { other } else { b.c.not(other) };
            match below(5) {
                0 => b.c.xor(level, other),
                1 | 2 => b.c.and(level, other),
                _ => b.c.or(level, other),
            }
        });
        let net = b.c.add_net(format!("clock{i}"), Origin::Nowhere);
        b.drive(net, Expr::HIGH, clock);
        let clock = b.c.net(net);
        let clear = if below(4) == 0 { levels[below(levels.len())] } else { Expr::LOW };
        let data = levels[below(levels.len())];
        let data = b.c.not(data);
        let (_, q) = b.register(&format!("q{i}"), clock, data, clear, Expr::LOW);
        let net = b.c.add_net(format!("pin{i}"), Origin::Nowhere);
        b.drive(net, Expr::HIGH, q);
        let pin = b.c.net(net);
        levels.push(pin);
    }
    if let Some(&last) = levels.last() {
        b.output("out", last);
    }
    b.c
}

#[test]
fn what_may_go_either_way_depends_on_the_state_alone() {
    let mut numbers = SplitMix::new(193);
    let mut open = 0;
    for round in 0..60 {
        let circuit = drawn(&mut numbers);
        let ways = Arc::new(Ways::new(&circuit));
        let doubts = Moving::of(&ways, &[0]).doubts().into_iter().map(|d| (d, Outcome::Either)).collect();
        let mut machine = Machine::new(&circuit);
        machine.opened = Some(Arc::new(Opened::new(&ways, [(vec![0], doubts)])));
        for (x, y) in [(false, false), (false, true), (true, false), (true, true)] {
            let mut terms = Terms::new();
            let cells: Vec<_> = (0..machine.cells().len()).map(|_| terms.variable()).collect();
            let mut all = Symbolic::new(&mut terms, Freedom::Usual);
            let outside = [x, y, false].map(Term::constant);
            let point = machine.point(&mut all, &outside, &cells);
            let limits = Limits::ample(&machine);
            machine.step(&mut all, &point, &[(0, Term::constant(!x))], limits);
            let met = all.met.clone();
            for n in 0..1u64 << cells.len() {
                let word = |level: bool| if level { u64::MAX } else { 0 };
                let held: Vec<u64> = (0..cells.len()).map(|i| word((n >> i) & 1 == 1)).collect();
                let point = machine.point(&mut Lanes::default(), &[x, y, false].map(word), &held);
                if machine.held(&machine.rest(&mut Lanes::default(), &point, limits).point) != held {
                    continue; // it is cleared
                }
                let mut alone = Lanes::default();
                machine.step(&mut alone, &point, &[(0, word(!x))], limits);
                let at = Assignment::new(&terms, |v| (n >> v) & 1 == 1);
                let of_order = |site: &Unknown| matches!(site, Unknown::Order(_));
                let together = met.iter().filter(|(_, when, _)| at.value(*when)).map(|m| m.0);
                let together: BTreeSet<Unknown> = together.filter(of_order).collect();
                let alone: BTreeSet<Unknown> = alone.met.iter().map(|m| m.0).filter(of_order).collect();
                assert_eq!(together, alone, "round {round}, x {x}, y {y}, cells {n:b}: {circuit:?}");
                open += alone.len();
            }
        }
    }
    assert!(open > 500, "{open}");
}
