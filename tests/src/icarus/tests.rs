//! The judge itself, on pairs whose verdict can be seen by eye.
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, Origin, Polarity, Stage, Start,
};

use super::*;

const NOWHERE: Origin = Origin::Nowhere;

/// One register or latch between contacts 1 (clock), 2 (data), 3 (clear) and 4 (what it holds), on as many bits as wished.
fn held(is_register: bool, start: Start, clears: bool, inverted: bool) -> Circuit {
    let mut c = Circuit::new("held");
    let polarity = Polarity::Data;
    let inputs = ["clock", "data", "clear"].into_iter().zip(1u16..).map(|(name, label)| {
        let net = c.add_net(name, NOWHERE);
        let (name, label) = (name.to_owned(), label.into());
        c.add_contact(Contact { label, name, net, polarity, direction: Direction::Input, origin: NOWHERE });
        c.net(net)
    });
    let inputs: Vec<Expr> = inputs.collect();
    let (clock, data) = (inputs[0], if inverted { c.not(inputs[1]) } else { inputs[1] });
    let kind = if is_register { Kind::Register { clock, data } } else { Kind::Latch { open: clock, data } };
    let cleared = if clears { inputs[2] } else { Expr::LOW };
    let (clear, preset) = if inverted { (Expr::LOW, cleared) } else { (cleared, Expr::LOW) };
    let e = c.add_element(Element {
        name: "q".into(),
        kind,
        clear,
        preset,
        unknown_load: Expr::LOW,
        start,
        origin: NOWHERE,
    });
    let net = c.add_net("y", NOWHERE);
    let q = c.q(e);
    let level = if inverted { c.not(q) } else { q };
    c.drive(net, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("y"), origin: NOWHERE });
    let name = "y".to_owned();
    c.add_contact(Contact { label: 4.into(), name, net, polarity, direction: Direction::Output, origin: NOWHERE });
    c
}

fn count(original: &Circuit, replacement: &Circuit) -> Vec<Counted> {
    let walk = Walk::new(original, replacement, 100);
    let runs = drawn(&walk, 4, 200, &mut Numbers(7));
    Pair::new(original, replacement, 8).expect("few starts").count(&runs, true).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn equal_registers_stay_together_and_others_do_not() {
    if !is_there() {
        return;
    }
    let register = held(true, Start::Any, true, false);
    let shows = |c: &Circuit| count(&register, c);
    // as it is, and stored inverted under a preset: one of two starts each time, over everything
    for same in [register.clone(), held(true, Start::Any, true, true), held(true, Start::Low, true, false)] {
        for c in shows(&same) {
            assert!(c.alive >= 1 && c.dead <= 1 && c.open == 0 && c.events > 190, "{c:?}");
        }
    }
    // a latch, and a register that is never cleared
    for other in [held(false, Start::Any, true, false), held(true, Start::Any, false, false)] {
        let all = shows(&other);
        assert!(all.iter().any(|c| c.alive == 0 && c.dead == 2), "{all:?}");
    }
}

#[test]
fn an_unknown_counts_neither_way() {
    if !is_there() {
        return;
    }
    // clock and data at one moment: the sheet does not say what is loaded
    let register = held(true, Start::Low, false, false);
    let set = held(true, Start::High, false, false);
    let labels = |l: &[(u16, bool)]| l.iter().map(|&(l, high)| (l.into(), high)).collect::<Vec<(Label, bool)>>();
    let run = |events: &[&[(u16, bool)]]| Run {
        sequence: Sequence {
            levels: labels(&[(1, false), (2, false), (3, false)]),
            events: events.iter().map(|e| labels(e)).collect(),
        },
        start: Vec::new(),
    };
    let pair = Pair::new(&register, &register, 8).expect("few starts");
    let both = run(&[&[(1, true), (2, true)]]);
    let counted = pair.count(&[both], true).expect("it runs");
    assert!(matches!(counted[..], [Counted { alive: 1, guessed: true, events: 1, .. }]), "{counted:?}");
    // from different starts they differ at once, and that is no unknown
    let pair = Pair::new(&register, &set, 8).expect("few starts");
    let counted = pair.count(&[run(&[&[(2, true)]])], true).expect("it runs");
    assert!(matches!(counted[..], [Counted { alive: 0, dead: 1, open: 0, .. }]), "{counted:?}");
}

/// Two gates that hold each other, set and reset by contacts 1 and 2 while these are low; contact 4 shows one of them.
fn cross_coupled(other: bool) -> Circuit {
    let mut c = Circuit::new("pair");
    let polarity = Polarity::Data;
    let mut inputs = Vec::new();
    for (name, label) in [("set", 1u16), ("reset", 2)] {
        let net = c.add_net(name, NOWHERE);
        let (name, label) = (name.to_owned(), label.into());
        c.add_contact(Contact { label, name, net, polarity, direction: Direction::Input, origin: NOWHERE });
        inputs.push(c.net(net));
    }
    let nets = ["q", "q_n"].map(|n| c.add_net(n, NOWHERE));
    for (k, name) in ["q", "q_n"].into_iter().enumerate() {
        let back = c.net(nets[1 - k]);
        let both = c.and(back, inputs[k]);
        let level = c.not(both);
        c.drive(
            nets[k],
            Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin: NOWHERE },
        );
    }
    let (net, name) = (nets[usize::from(other)], "y".to_owned());
    c.add_contact(Contact { label: 4.into(), name, net, polarity, direction: Direction::Output, origin: NOWHERE });
    c
}

#[test]
fn gates_that_hold_each_other_start_either_way() {
    if !is_there() {
        return;
    }
    let (one, other) = (cross_coupled(false), cross_coupled(true));
    assert!(count(&one, &one).iter().all(|c| c.alive > 0), "{:?}", count(&one, &one));
    assert!(count(&one, &other).iter().any(|c| c.alive == 0 && c.dead > 0), "{:?}", count(&one, &other));
}
