//! Verdicts on drawn properties of drawn circuits beside a judge that walks through all states, event by event, in the
//! simulator, and knows the words of a property from their description alone.
use std::collections::{BTreeMap, VecDeque};

use crate::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, Label, Origin, Polarity, Stage, Start,
};
use crate::prove::Question;
use crate::prove::hidden::Of;
use crate::prove::property::words::Shape;
use crate::prove::property::{Broken, How, Property};
use crate::random::SplitMix;
use crate::simulate::Simulator;

/// A circuit of a clock, two or three inputs and up to three registers or latches over drawn functions, and conditions.
struct Drawn {
    circuit: Circuit,
    inputs: Vec<Label>,
    conditions: Vec<Expr>,
    clock: Expr,
}

fn input(c: &mut Circuit, label: u16, name: &str) -> (Label, Expr) {
    let net = c.add_net(name, Origin::Nowhere);
    let contact = Label::from(label);
    c.add_contact(Contact {
        label: contact.clone(),
        name: name.to_owned(),
        net,
        polarity: Polarity::Data,
        direction: Direction::Input,
        origin: Origin::Nowhere,
    });
    let level = c.net(net);
    (contact, level)
}

fn function(c: &mut Circuit, draw: &mut SplitMix, of: &[Expr]) -> Expr {
    let mut pool: Vec<Expr> = of.to_vec();
    for _ in 0..3 {
        let (a, b) = (pool[draw.below(pool.len())], pool[draw.below(pool.len())]);
        let a = if draw.one_in(2) { c.not(a) } else { a };
        pool.push(match draw.below(3) {
            0 => c.and(a, b),
            1 => c.or(a, b),
            _ => c.xor(a, b),
        });
    }
    pool[pool.len() - 1]
}

fn drawn(seed: u64) -> Drawn {
    let mut draw = SplitMix::new(seed);
    let mut c = Circuit::new("drawn");
    let (clock_label, clock) = input(&mut c, 1, "clock");
    let mut inputs = vec![clock_label];
    let mut data = Vec::new();
    for i in 0..1 + draw.below(2) as u16 {
        let (label, level) = input(&mut c, 2 + i, &format!("x{i}"));
        inputs.push(label);
        data.push(level);
    }
    let count = 1 + draw.below(3);
    let elements: Vec<_> = (0..count)
        .map(|i| {
            c.add_element(Element {
                name: format!("r{i}"),
                kind: Kind::Register { clock, data: Expr::LOW },
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: if draw.one_in(2) { Start::Any } else { Start::Low },
                origin: Origin::Nowhere,
            })
        })
        .collect();
    let held: Vec<Expr> = elements.iter().map(|&e| c.q(e)).collect();
    let all: Vec<Expr> = data.iter().chain(&held).copied().collect();
    for &e in &elements {
        let next = function(&mut c, &mut draw, &all);
        let clear = if draw.one_in(3) { data[draw.below(data.len())] } else { Expr::LOW };
        if let Some(e) = c.element_mut(e) {
            e.kind = Kind::Register { clock, data: next };
            e.clear = clear;
        }
    }
    let shown = c.add_net("shown", Origin::Nowhere);
    let level = held[0];
    c.drive(
        shown,
        Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("shown"), origin: Origin::Nowhere },
    );
    c.add_contact(Contact {
        label: Label::from(9),
        name: "shown".to_owned(),
        net: shown,
        polarity: Polarity::Data,
        direction: Direction::Output,
        origin: Origin::Nowhere,
    });
    let conditions = (0..3).map(|_| function(&mut c, &mut draw, &all)).collect();
    Drawn { circuit: c, inputs, conditions, clock }
}

fn shape(seed: u64, d: &Drawn) -> Shape {
    let [p, q, r] = d.conditions[..] else { panic!("three conditions") };
    match seed % 7 {
        0 => Shape::Never(p),
        1 => Shape::Always(p),
        2 => Shape::Whenever(p, q),
        3 => Shape::Changes(p, crate::prove::Way::Up, q),
        4 => Shape::After(d.clock, p, q),
        5 => Shape::Within { from: p, edges: 1 + (seed / 7 % 3) as u32, edge: d.clock, holds: q },
        _ => Shape::Until { from: p, holds: q, until: r },
    }
}

/// What was seen by then: obligations that are open, each with the edges that it has left; or the one that binds.
type Seen = Vec<u32>;

/// What one more point says, by the words of the property; true if it is broken there.
fn judge(shape: Shape, seen: &Seen, before: Option<&dyn Fn(Expr) -> bool>, now: &dyn Fn(Expr) -> bool) -> (Seen, bool) {
    let rises = |e: Expr| before.is_some_and(|b| !b(e) && now(e));
    match shape {
        Shape::Never(p) => (Vec::new(), now(p)),
        Shape::Always(p) => (Vec::new(), !now(p)),
        Shape::Whenever(p, q) => (Vec::new(), now(p) && !now(q)),
        Shape::Changes(p, _, q) => (Vec::new(), rises(p) && !(before.is_some_and(|b| b(q)) && now(q))),
        Shape::After(e, p, q) => (Vec::new(), rises(e) && before.is_some_and(|b| b(p)) && !now(q)),
        Shape::Within { from, edges, edge, holds } => {
            let mut left: Vec<u32> = seen.iter().map(|&n| if rises(edge) { n - 1 } else { n }).collect();
            if now(holds) {
                return (Vec::new(), false);
            }
            let broken = left.contains(&0);
            if now(from) {
                left.push(edges);
            }
            left.sort_unstable();
            left.dedup();
            (left, broken)
        }
        Shape::Until { from, holds, until } => {
            let bound = !seen.is_empty() || now(from);
            if !bound || now(until) { (Vec::new(), false) } else { (vec![1], !now(holds)) }
        }
        Shape::Reachable(p) => (Vec::new(), now(p)),
    }
}

/// The fewest events after which some run breaks it, by walking through everything; nothing if none does.
fn walked(d: &Drawn, shape: Shape) -> Option<usize> {
    let bits = d.inputs.len() + d.circuit.elements().len();
    let mut open: VecDeque<(Simulator, Seen, usize)> = VecDeque::new();
    let mut known: BTreeMap<(Vec<u64>, Vec<u64>, Seen), ()> = BTreeMap::new();
    let value = |s: &Simulator, e: Expr| {
        let node = s.machine().node_of(e).expect("of this circuit");
        s.machine().value(s.point(), node) & 1 == 1
    };
    let key = |s: &Simulator, seen: &Seen| {
        let low = |all: Vec<u64>| all.into_iter().map(|w| w & 1).collect::<Vec<u64>>();
        (low(s.machine().outside(s.point())), low(s.machine().held(s.point())), seen.clone())
    };
    let mut found: Option<usize> = None;
    for start in 0..1u32 << bits {
        let levels: Vec<(Label, bool)> =
            d.inputs.iter().enumerate().map(|(i, l)| (l.clone(), (start >> i) & 1 == 1)).collect();
        let held = |cell: usize, _| (start >> (d.inputs.len() + cell)) & 1 == 1;
        let (s, _) = Simulator::new(&d.circuit, &levels, held).expect("it runs");
        let (seen, broken) = judge(shape, &Vec::new(), None, &|e| value(&s, e));
        if broken {
            return Some(0);
        }
        if known.insert(key(&s, &seen), ()).is_none() {
            open.push_back((s, seen, 0));
        }
    }
    while let Some((s, seen, depth)) = open.pop_front() {
        if found.is_some_and(|f| f <= depth + 1) {
            break;
        }
        let outside = s.machine().outside(s.point());
        for label in &d.inputs {
            let port = s.machine().port(label).expect("a contact");
            let mut next = s.clone();
            next.event(&[(label.clone(), outside[port] & 1 == 0)]).expect("a contact");
            let (then, broken) = judge(shape, &seen, Some(&|e| value(&s, e)), &|e| value(&next, e));
            if broken {
                found = Some(depth + 1);
            } else if known.insert(key(&next, &then), ()).is_none() {
                open.push_back((next, then, depth + 1));
            }
        }
    }
    found
}

#[test]
fn drawn_properties_are_told_as_a_walk_through_all_states_tells_them() {
    let (mut proved, mut refuted, mut vacuous, mut invariants, mut longest) = (0, 0, 0, 0, 0);
    for seed in 0..420u64 {
        let d = drawn(seed / 7);
        let shape = shape(seed, &d);
        let truth = walked(&d, shape);
        let question = Question::new(Circuit::new("nothing"), d.circuit.clone());
        let said = question.keeps(&Property::new(shape), Of::Replacement);
        match (&said, truth) {
            (Ok(held), None) => {
                proved += 1;
                invariants += usize::from(matches!(held.how, How::Invariant { .. }));
            }
            (Err(Broken::Vacuous { .. }), None) => vacuous += 1,
            (Err(Broken::Refuted(run)), Some(events)) => {
                refuted += 1;
                longest = longest.max(events);
                assert!(run.shortest && run.events.len() == events, "{seed}: {events} events would do\n{run}");
            }
            (Ok(held), Some(events)) => panic!("{seed}: broken after {events} events, and yet\n{held}"),
            (Err(broken), truth) => panic!("{seed}: by walking {truth:?}, and yet\n{broken}"),
        }
    }
    println!(
        "proved {proved} ({invariants} with an invariant), for want of cases {vacuous}, refuted {refuted} (up to {longest} events)"
    );
    assert!(proved > 60 && refuted > 100 && vacuous > 0 && invariants > 5 && longest > 2);
}
