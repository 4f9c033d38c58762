//! What settling hides: nets that are constant once everything has come to rest, although what they hang on changes. A
//! pulse former or an edge detector made of gate delays is such a net, and a proof over settled levels would erase it.
use std::collections::BTreeMap;

use crate::circuit::{Circuit, Expr, Kind, NetId, Op, Pull};
use crate::machine::{Freedom, Lanes, Limits, Machine, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::acknowledge::{Kind as Named, is_among};
use super::draw::Draw;

/// Which circuit of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Of {
    /// The traced one.
    Original,
    /// The one that was written.
    Replacement,
}

impl std::fmt::Display for Of {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Of::Original => "original",
            Of::Replacement => "replacement",
        })
    }
}

/// What a proof over settled levels can't see.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// The net has this level whenever everything is at rest, although its inputs change: a pulse on it is not seen.
    Constant(bool),
    /// Data, clear or preset of this register can change together with its clock: what it does then is not known.
    Race,
}

/// Something that settling hides, by the name with which it is acknowledged.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hidden {
    /// Which circuit it is in.
    pub of: Of,
    /// The net's name, or the register's.
    pub name: String,
    /// What acknowledges it: the name, after `net` or `register` if a contact bears the same.
    pub call: String,
    /// Other names of the same net.
    pub others: Vec<String>,
    /// What is hidden.
    pub why: Why,
    /// What it reaches: clocks, clears and presets, latch gates, drive conditions, contacts.
    pub reaches: Vec<String>,
}

impl Hidden {
    /// Whether one of these names acknowledges it.
    pub(super) fn is_among(&self, names: &[String]) -> bool {
        std::iter::once(&self.name).chain(&self.others).any(|n| is_among(names, self.kind(), n))
    }

    /// What bears the name.
    pub(super) fn kind(&self) -> Named {
        match self.why {
            Why::Constant(_) => Named::Net,
            Why::Race => Named::Register,
        }
    }
}

impl std::fmt::Display for Hidden {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.why {
            Why::Constant(high) => write!(
                f,
                "net `{}` of the {} is always {} once settled, although what drives it changes; it reaches {}",
                self.name,
                self.of,
                if high { "high" } else { "low" },
                self.reaches.join(", ")
            ),
            Why::Race => write!(
                f,
                "data, clear or preset of `{}` of the {} can change in the same moment as its clock",
                self.name, self.of
            ),
        }
    }
}

/// The operands of an operation.
fn operands(op: Op) -> Vec<Expr> {
    match op {
        Op::Not(a) => vec![a],
        Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => vec![a, b],
        Op::Choose(a, b, c) => vec![a, b, c],
        Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => vec![],
    }
}

/// Which nets have a level that hangs on nothing but the rails, and on nets that are taken to be constant.
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
            values[i] = match circuit.op(Expr(i as u32)) {
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
                [] if net.contact.is_none() => Some(net.pull != Pull::Down),
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

/// What a net reaches through gates.
fn reaches(circuit: &Circuit, from: NetId) -> Vec<String> {
    let count = circuit.expression_count();
    let mut expressions = vec![false; count];
    let mut nets = vec![false; circuit.nets().len()];
    nets[from.index()] = true;
    loop {
        let mut moved = false;
        for i in 0..count {
            if expressions[i] {
                continue;
            }
            let op = circuit.op(Expr(i as u32));
            let reached = match op {
                Op::Net(n) => nets.get(n.index()).copied().unwrap_or(false),
                _ => operands(op).iter().any(|o| expressions[o.index()]),
            };
            expressions[i] = reached;
            moved |= reached;
        }
        for (n, net) in circuit.nets().iter().enumerate() {
            if !nets[n] && net.drivers.iter().any(|d| expressions[d.enable.index()] || expressions[d.level.index()]) {
                nets[n] = true;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    let mut all = Vec::new();
    let at = |e: Expr| expressions.get(e.index()).copied().unwrap_or(false);
    for e in circuit.elements() {
        let (edge, what) = match e.kind {
            Kind::Register { clock, .. } => (clock, "the clock"),
            Kind::Latch { open, .. } => (open, "the gate"),
        };
        for (condition, what) in [(edge, what), (e.clear, "the clear"), (e.preset, "the preset")] {
            if at(condition) {
                all.push(format!("{what} of `{}`", e.name));
            }
        }
    }
    for (contact, net) in circuit.contacts().iter().filter_map(|c| Some((c, circuit.nets().get(c.net.index())?))) {
        if net.drivers.iter().any(|d| at(d.enable)) {
            all.push(format!("the drive condition of contact {} {}", contact.label, contact.name));
        } else if net.drivers.iter().any(|d| at(d.level)) {
            all.push(format!("contact {} {}", contact.label, contact.name));
        }
    }
    all
}

/// Nets of one circuit that are constant once settled although what they hang on changes, and that reach something that
/// answers to a pulse.
pub(super) fn constants(of: Of, circuit: &Circuit, machine: &Machine, limits: Limits, effort: Effort) -> Vec<Hidden> {
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
        let asleep = machine.point(&mut lanes, &outside, &cells);
        let point = machine.rest(&mut lanes, &asleep, limits).point;
        for &n in &nets {
            if let Some(node) = machine.node_of_net(n) {
                let word = machine.value(&point, node);
                let (low, high) = &mut seen[n.index()];
                *low &= word;
                *high |= word;
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
    let supports: Vec<Vec<u32>> = settled.iter().map(|&s| terms.support(s)).collect();
    let mut solver = Solver::new(effort);
    let mut constant: BTreeMap<usize, bool> = BTreeMap::new();
    for n in still {
        let Some(node) = machine.node_of_net(n) else { continue };
        let high = seen[n.index()].0 == u64::MAX;
        let goal = machine.value(&point, node).inverted_if(high);
        if !matches!(super::world::ask(&mut solver, &terms, (&settled, &supports), &[goal]), Answer::Yes(_)) {
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
        let reaches = reaches(circuit, NetId(n as u32));
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

/// At most three names that are near to one that nobody has.
pub(super) fn near<'n>(text: &str, names: impl IntoIterator<Item = &'n str>) -> Vec<&'n str> {
    let wanted = text.to_lowercase();
    let mut all: Vec<(usize, &str)> = names
        .into_iter()
        .map(|n| (strsim::osa_distance(&wanted, &n.to_lowercase()), n))
        .filter(|&(far, n)| far <= 3 && far < n.chars().count())
        .collect();
    all.sort_unstable();
    all.dedup();
    all.truncate(3);
    all.into_iter().map(|(_, n)| n).collect()
}
