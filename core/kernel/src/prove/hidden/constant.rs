//! Nets that are constant once everything has come to rest, although what they depend on changes.
use std::collections::BTreeMap;

use crate::circuit::{Circuit, Expr, NetId, Op};
use crate::machine::{Freedom, Lanes, Limits, Machine, Stepped, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::super::draw::Draw;
use super::super::hypothesis::Hypothesis;
use super::reach::Reached;
use super::{Hidden, Of, Why};

/// Which nets have a level that depends on nothing but the rails, and on nets that are taken to be constant.
fn tied(circuit: &Circuit, taken: &BTreeMap<usize, bool>) -> Vec<bool> {
    let count = circuit.expression_count();
    let mut values: Vec<Option<bool>> = vec![None; count];
    let mut nets: Vec<Option<bool>> = (0..circuit.nets().len()).map(|n| taken.get(&n).copied()).collect();
    loop {
        let mut moved = false;
        for i in 0..count {
            if values[i].is_some() {
                continue;
            }
            let at = |e: Expr| values.get(e.index()).copied().flatten();
            values[i] = match circuit.op(Expr::at(i)) {
                Op::Constant(v) => Some(v),
                Op::Net(n) => nets.get(n.index()).copied().flatten(),
                Op::Q(_) | Op::QInverted(_) => None,
                Op::Not(a) => at(a).map(|v| !v),
                Op::And(a, b) => match (at(a), at(b)) {
                    (Some(false), _) | (_, Some(false)) => Some(false),
                    (Some(true), other) | (other, Some(true)) => other,
                    _ => None,
                },
                Op::Or(a, b) => match (at(a), at(b)) {
                    (Some(true), _) | (_, Some(true)) => Some(true),
                    (Some(false), other) | (other, Some(false)) => other,
                    _ => None,
                },
                Op::Xor(a, b) => at(a).zip(at(b)).map(|(a, b)| a ^ b),
                Op::Choose(c, a, b) => at(c).and_then(|c| at(if c { a } else { b })),
            };
            moved |= values[i].is_some();
        }
        for (n, net) in circuit.nets().iter().enumerate() {
            if nets[n].is_some() {
                continue;
            }
            let at = |e: Expr| values.get(e.index()).copied().flatten();
            let on: Vec<_> = net.drivers.iter().filter(|d| at(d.enable) != Some(false)).collect();
            nets[n] = match on.as_slice() {
                [] if net.contact.is_none() => net.undriven_level(),
                [only] if at(only.enable) == Some(true) => at(only.level),
                _ => None,
            };
            moved |= nets[n].is_some();
        }
        if !moved {
            return nets.into_iter().map(|n| n.is_some()).collect();
        }
    }
}

/// Nets of one circuit that are constant once settled although what they depend on changes, and that reach a contact or its
/// drive: it shows nothing but their pulses. Whether they pulse at clocks, gates and clears is asked for itself.
pub(in super::super) fn constants(
    of: Of,
    circuit: &Circuit,
    machine: &Machine,
    limits: Limits,
    effort: Effort,
) -> Vec<Hidden> {
    let fixed = tied(circuit, &BTreeMap::new());
    let nets: Vec<NetId> = (0..circuit.nets().len() as u32)
        .map(NetId)
        .filter(|n| !fixed[n.index()] && !circuit.nets()[n.index()].drivers.is_empty())
        .collect();
    // drawn settled states first: few nets never move in them
    let mut draw = Draw::new(1886);
    let mut seen = vec![(u64::MAX, 0u64); circuit.nets().len()];
    for _ in 0..4 {
        let outside: Vec<u64> = machine.ports().iter().map(|_| draw.word()).collect();
        let cells: Vec<u64> = machine.cells().iter().map(|_| draw.word()).collect();
        let mut lanes = Lanes::default();
        let Stepped { point, unsettled, .. } = machine.power_up(&mut lanes, &outside, &cells, limits);
        for &n in &nets {
            if let Some(node) = machine.node_of_net(n) {
                let word = machine.value(&point, node);
                let (low, high) = &mut seen[n.index()];
                *low &= word | unsettled;
                *high |= word & !unsettled;
            }
        }
    }
    let still: Vec<NetId> = nets.into_iter().filter(|n| matches!(seen[n.index()], (u64::MAX, _) | (_, 0))).collect();
    if still.is_empty() {
        return Vec::new();
    }
    let mut terms = Terms::new();
    let outside: Vec<Term> = machine.ports().iter().map(|_| terms.variable()).collect();
    let cells: Vec<Term> = machine.cells().iter().map(|_| terms.variable()).collect();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    let point = machine.point(&mut algebra, &outside, &cells);
    // a register answers one phase later, and phases are seen: only what answers at once is taken to have settled
    let at_once = (0..cells.len()).filter(|&c| !machine.cells()[c].is_register);
    let settled: Vec<Term> = at_once.map(|c| machine.rests(&mut algebra, &point, c)).collect();
    let settled = Hypothesis::of(&terms, settled);
    let mut solver = Solver::new(effort);
    let mut constant: BTreeMap<usize, bool> = BTreeMap::new();
    for n in still {
        let Some(node) = machine.node_of_net(n) else { continue };
        let high = seen[n.index()].0 == u64::MAX;
        let goal = machine.value(&point, node).inverted_if(high);
        if !matches!(settled.ask(&mut solver, &terms, &[goal]), Answer::Yes(_)) {
            constant.insert(n.index(), high);
        }
    }
    // a net that follows from others that are constant hides nothing more than they do
    let mut roots = constant.clone();
    for &n in constant.keys() {
        let mut others = roots.clone();
        others.remove(&n);
        if tied(circuit, &others)[n] {
            roots.remove(&n);
        }
    }
    let name = |n: usize| circuit.nets().get(n).map_or("", |net| net.name.as_str());
    let mut all = Vec::new();
    for (n, high) in roots {
        let reaches = Reached::from(circuit, &[NetId(n as u32)], &[]).answering(circuit);
        if reaches.is_empty() {
            continue;
        }
        // a package's inner net and the wire on its pin are one: the wire's name is the shorter one
        let node = machine.node_of_net(NetId(n as u32));
        let mut names: Vec<&str> =
            constant.keys().filter(|&&m| machine.node_of_net(NetId(m as u32)) == node).map(|&m| name(m)).collect();
        names.sort_by_key(|n| (n.len(), *n));
        let mut names = names.into_iter().map(str::to_owned);
        let name = names.next().unwrap_or_else(|| name(n).to_owned());
        all.push(Hidden { of, call: name.clone(), name, others: names.collect(), why: Why::Constant(high), reaches });
    }
    all
}
