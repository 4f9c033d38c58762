//! What a machine answers about its structure: the proof leaves out what it says is not there.
use std::collections::BTreeSet;

use crate::circuit::{Direction, ElementId, Expr, NetId, Origin, Pull};
use crate::figures::OpenInput;
use crate::machine::ternary::{Careful, Ternary};
use crate::machine::{Lanes, Limits, Machine, Unknown};
use crate::simulate::tests::Bench;

/// Contacts 0 to 4: a clock and its gate, a clear, data through a floating net, and one that nothing reads.
fn gated() -> (Bench, ElementId) {
    let mut b = Bench::new("gated");
    let [clock, gate, clear, data] = ["clock", "gate", "clear", "data"].map(|name| b.input(name));
    b.input("unused");
    let gated = b.c.and(clock, gate);
    let net = b.c.add_net("floats", Origin::Nowhere);
    b.c.net_mut(net).unwrap().open_read = OpenInput::Unknown;
    let read = b.c.net(net);
    let both = b.c.xor(data, read);
    let (e, q) = b.register("r", gated, both, clear, Expr::LOW);
    b.output("q", q);
    (b, e)
}

#[test]
fn ports_are_told_apart_by_what_they_reach() {
    let (mut b, e) = gated();
    let machine = Machine::new(&b.c);
    assert_eq!(BTreeSet::from_iter(machine.clocking_ports()), BTreeSet::from([0, 1]));
    assert_eq!(machine.forcing_ports(), [2]);
    let all = |of: fn(&Machine, usize) -> bool| (0..7).map(|p| of(&machine, p)).collect::<Vec<bool>>();
    let inputs = [true, true, true, true, false, false, false];
    assert_eq!(all(|m, p| m.reaches(p)), inputs);
    assert_eq!(all(|m, p| m.reads_outside(p)), inputs);
    let output = [false, false, false, false, false, true, false];
    assert_eq!(all(|m, p| m.may_drive(p)), output);
    assert_eq!(all(|m, p| m.always_drives(p)), output);
    assert_eq!(machine.floats_behind(Unknown::Race(0)), [0]);
    assert!(machine.floats_behind(Unknown::Floating(0)).is_empty());
    assert!(!machine.may_load_unknown(0) && !machine.may_load_unknown(1) && !machine.is_opened(0));
    let levels = [(2.into(), true), (99.into(), true)];
    assert_eq!(machine.event_by_label(&levels, |high| high), [(1, true)]);
    assert_eq!(machine.outside_by_label(&levels, |high| high), [false, true, false, false, false, false]);
    b.c.load_unknown_while(e, Expr::HIGH);
    assert!(Machine::new(&b.c).may_load_unknown(0));
}

#[test]
fn an_enabled_output_may_drive_and_does_not_always() {
    let mut b = Bench::new("bus");
    let (enable, level) = (b.input("enable"), b.input("level"));
    let bus = b.c.add_net("bus", Origin::Nowhere);
    b.contact("bus", bus, Direction::Output);
    b.drive(bus, enable, level);
    let machine = Machine::new(&b.c);
    assert!(machine.may_drive(2) && !machine.always_drives(2));
    assert!((0..2).all(|p| machine.reaches(p) && machine.reads_outside(p)));
}

#[test]
fn data_alone_clears_presets_and_open_loads_reach_a_cell() {
    let mut b = Bench::new("each");
    let [clock, data, clear, preset, open] = ["clock", "data", "clear", "preset", "open"].map(|name| b.input(name));
    let (e, _) = b.register("r", clock, data, clear, preset);
    b.c.load_unknown_while(e, open);
    b.latch("l", open, data, Expr::LOW, Expr::LOW);
    let machine = Machine::new(&b.c);
    assert!((0..5).all(|p| machine.reaches(p) && machine.reads_outside(p)));
}

#[test]
fn clear_and_preset_that_the_rails_hold_leave_no_mark() {
    let cells = |clear: fn(&mut Bench) -> Expr, is_latch: bool| {
        let mut b = Bench::new("marks");
        let preset = b.input("preset");
        let clear = clear(&mut b);
        if is_latch {
            b.latch("e", preset, preset, clear, preset);
        } else {
            b.register("e", preset, preset, clear, preset);
        }
        Machine::new(&b.c).cells().iter().map(|c| c.is_register).collect::<Vec<bool>>()
    };
    fn tied(b: &mut Bench, level: Expr) -> Expr {
        let net = b.c.add_node(format!("tied {}", b.c.nets().len()), level, Origin::Nowhere);
        b.c.net(net)
    }
    // both may be asserted: the mark acts when the element itself does
    assert_eq!(cells(|b| b.input("clear"), false), [true, true]);
    assert_eq!(cells(|b| b.input("clear"), true), [false, false]);
    assert_eq!(cells(|b| tied(b, Expr::HIGH), false), [true, true]);
    let low: [fn(&mut Bench) -> Expr; 6] = [
        |b| tied(b, Expr::LOW),
        |b| {
            let high = tied(b, Expr::HIGH);
            b.c.not(high)
        },
        |b| {
            let (low, any) = (tied(b, Expr::LOW), b.input("any"));
            b.c.and(low, any)
        },
        |b| {
            let (one, other) = (tied(b, Expr::LOW), tied(b, Expr::LOW));
            b.c.or(one, other)
        },
        |b| {
            let net = b.c.add_net("open", Origin::Nowhere);
            b.c.net_mut(net).unwrap().open_read = OpenInput::Low;
            b.c.net(net)
        },
        |b| {
            let (one, other, any) = (tied(b, Expr::HIGH), tied(b, Expr::HIGH), b.input("any"));
            let (both, either) = (b.c.and(one, other), b.c.or(one, any));
            let high = b.c.and(both, either);
            b.c.not(high)
        },
    ];
    for (n, clear) in low.into_iter().enumerate() {
        assert_eq!(cells(clear, false), [true], "{n}");
    }
    // what somebody else may pull is not held
    let driven: [fn(&mut Bench) -> Expr; 2] = [
        |b| {
            let (enable, net) = (b.input("enable"), b.c.add_net("bus", Origin::Nowhere));
            b.drive(net, enable, Expr::LOW);
            b.c.net(net)
        },
        |b| {
            let net = b.c.add_net("contact", Origin::Nowhere);
            b.contact("contact", net, Direction::Input);
            b.c.net_mut(net).unwrap().open_read = OpenInput::Low;
            b.c.net(net)
        },
    ];
    for (n, clear) in driven.into_iter().enumerate() {
        assert_eq!(cells(clear, false), [true, true], "{n}");
    }
}

#[test]
fn every_net_has_a_node_and_a_net_behind_another_has_its_value() {
    let mut b = Bench::new("nets");
    b.input("unread");
    let a = b.input("a");
    let inverted = b.c.not(a);
    let shown = b.output("y", inverted);
    let machine = Machine::new(&b.c);
    assert_eq!(machine.node_of_net(shown), machine.node_of(inverted));
    assert!(machine.node_of_net(NetId::at(0)).is_some());
    assert_eq!(machine.node_of_net(NetId::at(3)), None);
}

#[test]
fn drivers_that_disagree_are_named_and_those_that_can_not_are_no_fight() {
    let mut b = Bench::new("fights");
    let [one, other, level] = ["one", "other", "level"].map(|name| b.input(name));
    let opposite = b.c.not(one);
    for (name, [first, second], [x, y]) in [
        ("alike", [one, other], [level, level]),
        ("in turn", [one, opposite], [Expr::LOW, Expr::HIGH]),
        ("fight", [one, other], [Expr::LOW, Expr::HIGH]),
    ] {
        let net = b.c.add_net(name, Origin::Nowhere);
        b.contact(name, net, Direction::Output);
        b.drive(net, first, x);
        b.drive(net, second, y);
    }
    let machine = Machine::new(&b.c);
    let (limits, algebra) = (Limits::ample(&machine), &mut Lanes::default());
    // in lanes 0 to 3 all combinations of the two enables
    let woken = machine.power_up(algebra, &[0b1010, 0b1100, 0, 0, 0, 0], &[], limits);
    let fights: Vec<(&str, u64)> = machine
        .fights()
        .iter()
        .enumerate()
        .map(|(i, f)| (f.net.as_str(), machine.fights_at(&woken.point, i) & 15))
        .collect();
    assert_eq!(fights.iter().filter(|f| f.1 != 0).collect::<Vec<_>>(), [&("fight", 0b1000)]);
    assert!(fights.iter().all(|f| f.0 != "alike"), "where both say the same nothing is watched");
    assert_eq!(fights.last().map(|_| machine.fights().last().unwrap().drivers.len()), Some(2));
    // driven: by any of them; the level: low wins
    assert_eq!(machine.shown(&woken.point, 5).0 & 15, 0b1110);
    assert_eq!(machine.shown(&woken.point, 5).1 & 0b1110, 0b0100);
}

#[test]
fn a_cell_rests_where_nothing_asynchronous_would_change_it() {
    let mut b = Bench::new("rest");
    let (clear, preset) = (b.input("clear"), b.input("preset"));
    b.register("r", Expr::LOW, Expr::LOW, clear, preset);
    let machine = Machine::new(&b.c);
    let algebra = &mut Lanes::default();
    // every combination of clear, preset, what is held, and the mark
    let point = machine.point(algebra, &[0xaaaa, 0xcccc], &[0xf0f0, 0xff00]);
    assert_eq!(machine.node_of_cell(1).map(|n| machine.value(&point, n)), Some(0xff00));
    assert_eq!(machine.node_of_cell(2), None);
    let (cleared, set) = (0xaaaa_u64, 0xcccc & !0xaaaa);
    let expected = !((cleared & 0xf0f0) | (set & !0xf0f0)) & 0xffff;
    assert_eq!(machine.rests(algebra, &point, 0) & 0xffff, expected);
    assert_eq!(machine.rests(algebra, &point, 1) & 0xffff, !((0xaaaa & 0xcccc) ^ 0xff00) & 0xffff);
}

#[test]
fn every_unknown_is_described_by_its_cell() {
    let (b, _) = gated();
    let machine = Machine::new(&b.c);
    let of_cell = [
        Unknown::JointRelease(0),
        Unknown::Recovery(0),
        Unknown::Race(0),
        Unknown::Load(0),
        Unknown::Loop(0),
        Unknown::Order(0),
    ];
    for unknown in of_cell {
        assert_eq!(machine.cell_of(unknown).map(|c| c.name.as_str()), Some("r"));
        assert!(machine.describe(unknown).starts_with("`r`: "));
    }
    assert!(machine.cell_of(Unknown::Floating(0)).is_none());
    assert!(machine.describe(Unknown::Floating(0)).starts_with("`floats`: "));
}

#[test]
fn a_loop_is_cut_at_a_net_that_has_a_node_and_is_no_register() {
    let mut b = Bench::new("loop");
    b.cross_coupled("s", "r");
    let machine = Machine::new(&b.c);
    assert_eq!(machine.cells().iter().map(|c| (c.is_register, c.net().is_some())).collect::<Vec<_>>(), [(false, true)]);
    assert!(b.c.numbered_nets().all(|(n, _)| machine.node_of_net(n).is_some()));
}

#[test]
fn what_floats_at_the_enable_of_a_net_that_nobody_reads_is_asked() {
    let mut b = Bench::new("hidden fight");
    let float = b.c.add_net("floats", Origin::Nowhere);
    b.c.net_mut(float).unwrap().open_read = OpenInput::Unknown;
    let (enable, net) = (b.c.net(float), b.c.add_net("hidden", Origin::Nowhere));
    b.drive(net, enable, Expr::LOW);
    b.drive(net, enable, Expr::HIGH);
    let machine = Machine::new(&b.c);
    let algebra = &mut Lanes::default();
    machine.point(algebra, &[], &[]);
    assert_eq!(algebra.met, [(Unknown::Floating(0), u64::MAX)]);
}

#[test]
fn a_bus_that_may_be_pulled_low_and_reads_low_anyway_is_low() {
    let mut b = Bench::new("bus");
    let [one, other] = ["one", "other"].map(|name| b.input(name));
    let bus = b.c.add_net("bus", Origin::Nowhere);
    b.c.net_mut(bus).unwrap().pull = Pull::Down;
    b.drive(bus, one, Expr::LOW);
    b.drive(bus, other, Expr::LOW);
    let read = b.c.net(bus);
    b.output("y", read);
    let machine = Machine::new(&b.c);
    let algebra = &mut Careful::default();
    let point = machine.point(algebra, &[Ternary::Either; 3], &[]);
    assert_eq!(machine.shown(&point, 2).1, Ternary::Low);
}
