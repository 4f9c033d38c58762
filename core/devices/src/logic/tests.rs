//! Circuits built by hand, collapsed, and compared with what their expressions say.
use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::*;
use gluewright_kernel::circuit::{By, Circuit, Contact, Direction, Driver, Element, Expr, Kind};

fn contact(c: &mut Circuit, label: u16, name: &str, direction: Direction) -> NetId {
    let net = c.add_net(name, Origin::Nowhere);
    let (label, name) = (label.into(), name.into());
    c.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere });
    net
}

fn input(c: &mut Circuit, label: u16, name: &str) -> Expr {
    let net = contact(c, label, name, Direction::Input);
    c.net(net)
}

fn drive(c: &mut Circuit, net: NetId, enable: Expr, level: Expr, stage: Stage) {
    c.drive(net, Driver { enable, level, stage, by: By::signal("d"), origin: Origin::Nowhere });
}

fn output(c: &mut Circuit, label: u16, name: &str, level: Expr) -> NetId {
    let net = contact(c, label, name, Direction::Output);
    drive(c, net, Expr::HIGH, level, Stage::PushPull);
    net
}

fn register(c: &mut Circuit, name: &str, clock: Expr, data: Expr) -> gluewright_kernel::circuit::ElementId {
    c.add_element(Element {
        name: name.into(),
        kind: Kind::Register { clock, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    })
}

fn all(c: &Circuit) -> Logic {
    collapse(c, &BTreeSet::new()).unwrap()
}

#[test]
fn nodes_dissolve_into_their_readers() {
    let mut c = Circuit::new("c");
    let (a, b) = (input(&mut c, 1, "a"), input(&mut c, 2, "b"));
    let both = c.and(a, b);
    let node = c.add_node("both", both, Origin::Nowhere);
    let level = c.net(node);
    let level = c.not(level);
    output(&mut c, 3, "y", level);
    let l = all(&c);
    assert!(l.nodes.is_empty());
    let mut d = l.diagrams.clone();
    let expected = d.product([(0, true), (1, true)]);
    assert_eq!(d.not(expected), l.outputs[0].level);
    assert_eq!([l.name_of(0), l.name_of(1)], ["b", "a"]);

    let kept = collapse(&c, &BTreeSet::from([node])).unwrap();
    assert_eq!(kept.nodes[0].name, "both");
    assert_eq!(kept.outputs[0].shows, Some((kept.nodes[0].variable, true)));
}

#[test]
fn a_register_at_a_pin_is_recognised_inverted_too() {
    let mut c = Circuit::new("c");
    let (clock, d) = (input(&mut c, 1, "clock"), input(&mut c, 2, "d"));
    let r = register(&mut c, "r", clock, d);
    let q = c.q(r);
    let inverted = c.q_inverted(r);
    output(&mut c, 3, "q", q);
    output(&mut c, 4, "q_n", inverted);
    let l = all(&c);
    let v = l.registers[0].variable;
    assert_eq!([l.outputs[0].shows, l.outputs[1].shows], [Some((v, false)), Some((v, true))]);
    assert_eq!(l.diagrams.as_literal(l.registers[0].clock).map(|(v, up)| (l.name_of(v), up)), Some(("clock", true)));
}

#[test]
fn both_outputs_are_high_while_clear_and_preset_are() {
    let mut c = Circuit::new("c");
    let [clock, clear, preset] = [(1, "clock"), (2, "clear"), (3, "preset")].map(|(n, s)| input(&mut c, n, s));
    let r = register(&mut c, "r", clock, Expr::LOW);
    let e = c.element_mut(r).unwrap();
    (e.clear, e.preset) = (clear, preset);
    let inverted = c.q_inverted(r);
    output(&mut c, 4, "q_n", inverted);
    let l = all(&c);
    let names: Vec<_> = l.diagrams.support(l.outputs[0].level).into_iter().map(|v| l.name_of(v)).collect();
    assert_eq!(BTreeSet::from_iter(names), BTreeSet::from(["r", "clear", "preset"]));
    assert_eq!(l.outputs[0].shows, None);
}

#[test]
fn a_three_state_wire_is_read_at_its_pin() {
    let mut c = Circuit::new("c");
    let (a, on) = (input(&mut c, 1, "a"), input(&mut c, 2, "on"));
    let bus = contact(&mut c, 3, "bus", Direction::InOut);
    drive(&mut c, bus, on, a, Stage::ThreeState);
    let level = c.net(bus);
    output(&mut c, 4, "y", level);
    let l = all(&c);
    assert_eq!(l.outputs[0].read_as, l.outputs[1].shows.map(|(v, _)| v));
    let v = l.outputs[0].read_as.unwrap();
    assert_eq!(l.signals[v].signal, Signal::Wire(bus));
    assert!(!l.closes_loop(v));
    let on = l.inputs.iter().find(|i| i.name == "on").unwrap().variable;
    assert!(l.follow_up(on).contains(&v), "the bus moves with its enable");
}

#[test]
fn cross_coupled_gates_keep_one_net() {
    let mut c = Circuit::new("c");
    let (s, r) = (input(&mut c, 1, "s_n"), input(&mut c, 2, "r_n"));
    let (q, q_n) = (contact(&mut c, 3, "q", Direction::Output), c.add_net("q_n", Origin::Nowhere));
    let (read_q, read_n) = (c.net(q), c.net(q_n));
    let (a, b) = (c.and(s, read_n), c.and(r, read_q));
    let (a, b) = (c.not(a), c.not(b));
    drive(&mut c, q, Expr::HIGH, a, Stage::PushPull);
    drive(&mut c, q_n, Expr::HIGH, b, Stage::PushPull);
    let l = all(&c);
    assert!(l.nodes.is_empty(), "the net with a contact is the one that is kept");
    let v = l.outputs[0].read_as.unwrap();
    assert!(l.closes_loop(v));
    // q = ¬s_n ∨ (r_n ∧ q)
    let at = |name: &str, values: &BTreeMap<&str, bool>| values[name];
    for bits in 0..8 {
        let values = BTreeMap::from([("s_n", bits & 1 > 0), ("r_n", bits & 2 > 0), ("q", bits & 4 > 0)]);
        let expected = !at("s_n", &values) || (at("r_n", &values) && at("q", &values));
        assert_eq!(l.diagrams.value(l.outputs[0].level, |v| values[l.name_of(v)]), expected);
    }
}

#[test]
fn a_latch_is_also_one_function() {
    let mut c = Circuit::new("c");
    let (open, data) = (input(&mut c, 1, "open"), input(&mut c, 2, "data"));
    let latch = c.add_element(Element {
        name: "held".into(),
        kind: Kind::Latch { open, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = c.q(latch);
    output(&mut c, 3, "y", q);
    let l = all(&c);
    assert!(l.closes_loop(l.latches[0].variable));
    assert_eq!(l.diagrams.support(l.latches[0].follow).len(), 3);
}

#[test]
fn what_no_contact_depends_on_is_left_out_and_named() {
    let mut c = Circuit::new("c");
    let (clock, d) = (input(&mut c, 1, "clock"), input(&mut c, 2, "d"));
    register(&mut c, "dead", clock, d);
    output(&mut c, 3, "y", Expr::HIGH);
    let l = all(&c);
    assert_eq!(l.unread, ["dead"]);
    assert!(l.registers.is_empty());
    assert_eq!(l.idle.iter().map(|(_, n)| n.as_str()).collect::<Vec<_>>(), ["clock", "d"]);
}

#[test]
fn what_cannot_be_inside_is_said() {
    let mut c = Circuit::new("c");
    let a = input(&mut c, 1, "a");
    let open = c.add_net("open", Origin::Nowhere);
    let level = c.net(open);
    output(&mut c, 2, "y", level);
    assert_eq!(
        collapse(&c, &BTreeSet::new()).unwrap_err(),
        LogicError::Undriven { net: "open".into(), origin: Origin::Nowhere }
    );
    drive(&mut c, open, a, a, Stage::ThreeState);
    assert!(matches!(collapse(&c, &BTreeSet::new()), Err(LogicError::FloatsInside { .. })));
    drive(&mut c, open, a, a, Stage::ThreeState);
    assert!(matches!(collapse(&c, &BTreeSet::new()), Err(LogicError::SeveralDrivers { .. })));
}

#[test]
fn a_complement_that_clears_itself_is_refused() {
    let mut c = Circuit::new("c");
    let (clock, p) = (input(&mut c, 1, "clock"), input(&mut c, 2, "p"));
    let r = register(&mut c, "r", clock, Expr::HIGH);
    let inverted = c.q_inverted(r);
    let e = c.element_mut(r).unwrap();
    (e.clear, e.preset) = (inverted, p);
    output(&mut c, 3, "y", inverted);
    assert!(
        matches!(collapse(&c, &BTreeSet::new()), Err(LogicError::ComplementLoop { element, .. }) if element == "r")
    );
}

/// A random acyclic net list: each gate reads earlier nets, some through nodes.
fn arbitrary() -> impl Strategy<Value = Vec<(u8, usize, usize, usize, bool)>> {
    proptest::collection::vec((0u8..5, 0usize..64, 0usize..64, 0usize..64, any::<bool>()), 1..24)
}

proptest! {
    #[test]
    fn the_collapsed_function_is_what_the_gates_say(gates in arbitrary(), keep in any::<u32>()) {
        let mut c = Circuit::new("c");
        let mut wires: Vec<Expr> = (0..5).map(|i| input(&mut c, i + 1, &format!("i{i}"))).collect();
        let mut kept = BTreeSet::new();
        for (k, &(op, x, y, z, node)) in gates.iter().enumerate() {
            let [x, y, z] = [x, y, z].map(|i| wires[i % wires.len()]);
            let e = match op {
                0 => c.and(x, y),
                1 => c.or(x, y),
                2 => c.xor(x, y),
                3 => c.not(x),
                _ => c.choose(x, y, z),
            };
            let e = if node {
                let net = c.add_node(format!("n{k}"), e, Origin::Nowhere);
                if keep >> k & 1 == 1 { kept.insert(net); }
                c.net(net)
            } else { e };
            wires.push(e);
        }
        output(&mut c, 9, "y", *wires.last().unwrap());
        let l = collapse(&c, &kept).unwrap();
        for bits in 0..32u32 {
            let level = |name: &str| name.strip_prefix('i').map(|i| bits >> i.parse::<u32>().unwrap() & 1 == 1);
            let mut kept_levels: BTreeMap<usize, bool> = BTreeMap::new();
            for _ in 0..=l.nodes.len() {
                for n in &l.nodes {
                    let value = l.diagrams.value(n.level, |v| level(l.name_of(v)).unwrap_or_else(|| kept_levels.get(&v).copied().unwrap_or(false)));
                    kept_levels.insert(n.variable, value);
                }
            }
            let got = l.diagrams.value(l.outputs[0].level, |v| level(l.name_of(v)).unwrap_or_else(|| kept_levels[&v]));
            prop_assert_eq!(got, evaluate(&c, *wires.last().unwrap(), &level));
        }
    }
}

/// The plain reading of an expression, by recursion through nets.
fn evaluate(c: &Circuit, e: Expr, level: &impl Fn(&str) -> Option<bool>) -> bool {
    use gluewright_kernel::circuit::Op;
    let at = |e| evaluate(c, e, level);
    match c.op(e) {
        Op::Constant(v) => v,
        Op::Net(n) => {
            let net = &c.nets()[n.index()];
            level(&net.name).unwrap_or_else(|| at(net.drivers[0].level))
        }
        Op::Q(_) | Op::QInverted(_) => unreachable!("no elements here"),
        Op::Not(a) => !at(a),
        Op::And(a, b) => at(a) && at(b),
        Op::Or(a, b) => at(a) || at(b),
        Op::Xor(a, b) => at(a) != at(b),
        Op::Choose(s, a, b) => {
            if at(s) {
                at(a)
            } else {
                at(b)
            }
        }
    }
}
