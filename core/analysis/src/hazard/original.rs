//! The original: its clocks, latch gates, clears, presets and enables by the gates that make them.
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};

use super::step::{Watched, look};
use super::ternary::Ternary;
use super::{Cause, Hazards, Margin, Role};
use gluewright_devices::logic::{Diagrams, Logic, LogicError, Signal, collapse};
use gluewright_kernel::circuit::{Circuit, Driver, Expr, Kind, NetId, Op, Stage};
use gluewright_kernel::graph::post_order;

/// How deep gates may stand behind one another here.
const DEPTH: usize = 2000;

/// The hazards of a circuit as it is built of gates, in what clocks, holds, clears or drives.
///
/// # Errors
/// If the circuit has no form in which it can be looked at.
pub fn of_original(circuit: &Circuit) -> Result<Hazards, LogicError> {
    let logic = collapse(circuit, &BTreeSet::new())?;
    let gates = Gates { circuit, logic: &logic, memo: RefCell::default() };
    let mut watched = Vec::new();
    for register in &logic.registers {
        let Some(element) = circuit.elements().get(register.element.index()) else { continue };
        if let Kind::Register { clock, .. } = element.kind {
            watched.push(gates.watch(&element.name, Role::Clock, clock));
        }
        watched.extend([element.clear, element.preset].map(|e| gates.watch(&element.name, Role::AtOnce, e)));
    }
    for latch in &logic.latches {
        let Some(element) = circuit.elements().get(latch.element.index()) else { continue };
        watched.extend([element.clear, element.preset].map(|e| gates.watch(&element.name, Role::AtOnce, e)));
        let Kind::Latch { open, data } = element.kind else { continue };
        watched.push(gates.watch(&element.name, Role::Clock, open));
        let (gate, read) = (gates.reads(open), gates.reads(data));
        let own = latch.variable;
        let g = &gates;
        watched.push(Watched {
            name: element.name.clone(),
            role: Role::Latch,
            reads: gate.union(&read).copied().chain([own]).collect(),
            own: Some(own),
            silicon: true,
            level: Box::new(move |d: &mut Diagrams, leaf: &dyn Fn(usize) -> Ternary| {
                let (open, data) = (g.level(d, open, leaf), g.level(d, data, leaf));
                open.choose(d, data, leaf(own))
            }),
            margin: Some(Box::new(move |cause| {
                Some(Margin { closes: g.distance(cause, open)?, moves: g.distance(cause, data)? })
            })),
        });
    }
    for node in &logic.nodes {
        let Some(drivers) = node.net.and_then(|n| circuit.nets().get(n.index())).map(|n| &n.drivers) else { continue };
        if logic.closes_loop(node.variable)
            && let [Driver { level, stage: Stage::PushPull, .. }] = drivers.as_slice()
        {
            let mut watch = gates.watch(&node.name, Role::Latch, *level);
            if watch.reads.contains(&node.variable) {
                watch.own = Some(node.variable);
                watched.push(watch);
            }
        }
    }
    for output in &logic.outputs {
        let Some(net) = circuit.nets().get(output.net.index()) else { continue };
        watched.extend(net.drivers.iter().map(|d| gates.watch(&output.name, Role::Enable, d.enable)));
    }
    watched.retain(|w| !w.reads.is_empty());
    Ok(look(&logic, &watched, false))
}

struct Gates<'a> {
    circuit: &'a Circuit,
    logic: &'a Logic,
    /// What each expression reads.
    memo: RefCell<HashMap<Expr, BTreeSet<usize>>>,
}

impl<'a> Gates<'a> {
    fn watch<'g>(&'g self, name: &str, role: Role, e: Expr) -> Watched<'g> {
        Watched {
            name: name.to_owned(),
            role,
            reads: self.reads(e),
            own: None,
            silicon: false,
            level: Box::new(move |d: &mut Diagrams, leaf: &dyn Fn(usize) -> Ternary| self.level(d, e, leaf)),
            margin: None,
        }
    }

    /// The variable that an expression is, if it is one.
    fn variable(&self, e: Expr) -> Option<(usize, bool)> {
        let (signal, high) = match self.circuit.op(e) {
            Op::Net(net) => (Signal::Wire(net), true),
            Op::Q(element) => (Signal::Held(element), true),
            Op::QInverted(element) => (Signal::Held(element), false),
            _ => return None,
        };
        self.logic.signals.iter().position(|s| s.signal == signal).map(|v| (v, high))
    }

    /// What the level of a net is made of, unless it is a variable.
    fn behind(&self, net: NetId) -> Vec<(Expr, bool)> {
        let Some(net) = self.circuit.nets().get(net.index()) else { return Vec::new() };
        let drivers = net.drivers.iter().filter(|d| d.enable != Expr::LOW);
        // an open collector pulls low while enabled
        drivers.map(|d| if d.stage == Stage::OpenCollector { (d.enable, true) } else { (d.level, false) }).collect()
    }

    fn below(&self, e: Expr) -> Vec<Expr> {
        match self.circuit.op(e) {
            Op::Net(net) => self.behind(net).into_iter().map(|(e, _)| e).collect(),
            op => op.operands().collect(),
        }
    }

    /// The variables that an expression reads.
    fn reads(&self, root: Expr) -> BTreeSet<usize> {
        if let Some(known) = self.memo.borrow().get(&root) {
            return known.clone();
        }
        let below = |e| if self.variable(e).is_some() { Vec::new() } else { self.below(e) };
        let read = post_order([root], below).into_iter();
        let all: BTreeSet<usize> = read.filter_map(|e| self.variable(e)).map(|(v, _)| v).collect();
        self.memo.borrow_mut().insert(root, all.clone());
        all
    }

    /// The level of an expression, gate by gate.
    fn level(&self, d: &mut Diagrams, root: Expr, leaf: &dyn Fn(usize) -> Ternary) -> Ternary {
        let mut done: HashMap<Expr, Ternary> = HashMap::new();
        let mut open = vec![(root, false)];
        while let Some((e, ready)) = open.pop() {
            if done.contains_key(&e) || open.len() > DEPTH {
                continue;
            }
            if let Some((v, high)) = self.variable(e) {
                let level = leaf(v);
                done.insert(e, if high { level } else { level.not() });
            } else if ready {
                let level = self.combined(d, e, &done);
                done.insert(e, level);
            } else {
                open.push((e, true));
                open.extend(self.below(e).into_iter().map(|b| (b, false)));
            }
        }
        done.get(&root).copied().unwrap_or(Ternary::OPEN)
    }

    fn combined(&self, d: &mut Diagrams, e: Expr, done: &HashMap<Expr, Ternary>) -> Ternary {
        let at = |e: Expr| done.get(&e).copied().unwrap_or(Ternary::OPEN);
        match self.circuit.op(e) {
            Op::Constant(high) => Ternary::constant(high),
            Op::Q(_) | Op::QInverted(_) => Ternary::LOW,
            Op::Net(net) => {
                let behind = self.behind(net);
                match behind.as_slice() {
                    [(one, false)] => at(*one),
                    [] => Ternary::HIGH,
                    pulls => pulls.iter().fold(Ternary::LOW, |any, (e, _)| any.or(d, at(*e))).not(),
                }
            }
            Op::Not(a) => at(a).not(),
            Op::And(a, b) => at(a).and(d, at(b)),
            Op::Or(a, b) => at(a).or(d, at(b)),
            Op::Xor(a, b) => at(a).xor(d, at(b)),
            Op::Choose(c, a, b) => at(c).choose(d, at(a), at(b)),
        }
    }

    /// Parts between a cause and an expression: the nets on the way.
    fn distance(&self, cause: &Cause, to: Expr) -> Option<(usize, usize)> {
        let mut all: Option<(usize, usize)> = None;
        for (v, nets) in self.leaves(to) {
            if let Some((few, many)) = self.parts(cause, v, &mut BTreeSet::new()) {
                let (few, many) = (few + nets, many + nets);
                all = Some(all.map_or((few, many), |(a, b)| (a.min(few), b.max(many))));
            }
        }
        all
    }

    fn parts(&self, cause: &Cause, v: usize, path: &mut BTreeSet<usize>) -> Option<(usize, usize)> {
        let begins = match cause {
            Cause::Contact(name) => self.logic.name_of(v) == name,
            Cause::Load(_) | Cause::Reset(_) => self.logic.registers.iter().any(|r| r.variable == v),
        };
        if begins {
            return Some((0, 0));
        }
        if !path.insert(v) {
            return None;
        }
        let roots: Vec<Expr> = match self.logic.signals.get(v).map(|s| s.signal) {
            Some(Signal::Wire(net)) => {
                self.circuit.nets().get(net.index()).map(|n| n.inputs().collect()).unwrap_or_default()
            }
            Some(Signal::Held(element)) => match self.circuit.elements().get(element.index()).map(|e| e.kind) {
                Some(Kind::Latch { open, data }) => vec![open, data],
                _ => Vec::new(),
            },
            _ => Vec::new(),
        };
        // a latch is within its part, whose pin is counted
        let hop = usize::from(matches!(self.logic.signals.get(v).map(|s| s.signal), Some(Signal::Wire(_))));
        let mut all: Option<(usize, usize)> = None;
        for root in roots {
            for (u, nets) in self.leaves(root) {
                if let Some((few, many)) = self.parts(cause, u, path) {
                    let (few, many) = (few + nets + hop, many + nets + hop);
                    all = Some(all.map_or((few, many), |(a, b)| (a.min(few), b.max(many))));
                }
            }
        }
        path.remove(&v);
        all
    }

    /// Whether a part drives a net from a pin; nets within parts aren't counted. Of a circuit without parts every net is.
    fn is_pin(&self, net: NetId) -> bool {
        let from_pin = |n: &gluewright_kernel::circuit::Net| n.drivers.iter().any(|d| d.by.is_pin());
        self.circuit.nets().get(net.index()).is_some_and(from_pin) || !self.circuit.nets().iter().any(from_pin)
    }

    /// The variables behind an expression, each with the nets on the longest way to it.
    fn leaves(&self, root: Expr) -> Vec<(usize, usize)> {
        let (mut leaves, mut open) = (Vec::new(), vec![(root, 0)]);
        let mut steps = 0;
        while let Some((e, nets)) = open.pop() {
            steps += 1;
            if steps > DEPTH {
                break;
            }
            match (self.variable(e), self.circuit.op(e)) {
                (Some((v, _)), _) => leaves.push((v, nets)),
                (None, op) => {
                    let more = usize::from(op.as_net().is_some_and(|net| self.is_pin(net)));
                    open.extend(self.below(e).into_iter().map(|b| (b, nets + more)));
                }
            }
        }
        leaves
    }
}
