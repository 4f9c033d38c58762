//! A property as a machine beside the circuit: what it has seen so far, and when it is broken.
use crate::circuit::{By, Circuit, Contact, Direction, Driver, Expr, Label, NetId, Origin, Polarity, Stage, Vertex};
use crate::machine::{Algebra, Machine, Point};
use crate::prove::Way;

use super::words::{Property, Shape, conjuncts, words};

/// The part of a circuit that a property depends on, with a contact for each condition that it reads.
#[derive(Clone, Debug)]
pub(in crate::prove) struct Watched {
    /// The part; its last contacts are the conditions.
    pub(super) circuit: Circuit,
    pub(super) monitor: Monitor,
    /// What must be able to happen, in words.
    pub(super) cases: Vec<String>,
    /// The conditions of the property itself: number, words.
    pub(super) said: Vec<(usize, String)>,
}

/// What is watched of a circuit, by the number of each condition.
#[derive(Clone, Debug)]
pub(in crate::prove) struct Monitor {
    shape: Watch,
    once: Option<usize>,
    /// How many conditions there are.
    count: usize,
    /// Conditions that must be able to hold, beside what the shape itself asks for.
    apart: Vec<usize>,
}

#[derive(Clone, Copy, Debug)]
enum Watch {
    Never(usize),
    Always(usize),
    Whenever(usize, usize),
    Changes(usize, Way, usize),
    After(usize, usize, usize),
    Within { from: usize, edges: u32, edge: usize, holds: usize },
    Until { from: usize, holds: usize, until: usize },
    Reachable(usize),
}

/// What a monitor says at one point.
#[derive(Clone, Debug)]
pub(super) struct Told<V> {
    /// What it has seen so far.
    pub(super) marks: Vec<V>,
    /// The property is broken here; of a reachable one: here it is.
    pub(super) broken: V,
    /// Where each case of it comes about.
    pub(super) cases: Vec<V>,
}

impl Watched {
    /// The cone of influence of a property and of these contacts, which assumptions name.
    pub(super) fn new(circuit: &Circuit, property: &Property, named: &[Label]) -> Watched {
        let mut whole = circuit.clone();
        let mut conditions = property.shape.conditions();
        let mut apart = Vec::new();
        match property.shape {
            Shape::Never(e) => conjuncts(&mut whole, e, true, &mut apart),
            Shape::Always(e) => conjuncts(&mut whole, e, false, &mut apart),
            _ => {}
        }
        // a single one is what is claimed itself
        if apart.len() < 2 {
            apart.clear();
        }
        conditions.extend(&apart);
        conditions.extend(property.once);
        conditions.sort_unstable();
        conditions.dedup();
        let at = |e: Expr| conditions.binary_search(&e).unwrap_or(0);
        let shape = match property.shape {
            Shape::Never(a) => Watch::Never(at(a)),
            Shape::Always(a) => Watch::Always(at(a)),
            Shape::Whenever(a, b) => Watch::Whenever(at(a), at(b)),
            Shape::Changes(a, way, b) => Watch::Changes(at(a), way, at(b)),
            Shape::After(a, b, c) => Watch::After(at(a), at(b), at(c)),
            Shape::Within { from, edges, edge, holds } => {
                Watch::Within { from: at(from), edges, edge: at(edge), holds: at(holds) }
            }
            Shape::Until { from, holds, until } => Watch::Until { from: at(from), holds: at(holds), until: at(until) },
            Shape::Reachable(a) => Watch::Reachable(at(a)),
        };
        let say = |e: Expr| words(circuit, e);
        let mut cases: Vec<String> = apart.iter().map(|&e| words(&whole, e)).collect();
        match property.shape {
            Shape::Never(_) | Shape::Always(_) | Shape::Reachable(_) => {}
            Shape::Whenever(a, _) | Shape::Within { from: a, .. } => cases.push(say(a)),
            Shape::Changes(..) => cases.push("such a change".to_owned()),
            Shape::After(_, when, _) if when == Expr::HIGH => cases.push("such an edge".to_owned()),
            Shape::After(_, when, _) => cases.push(format!("such an edge with {} before it", say(when))),
            Shape::Until { from, until, .. } => cases.push(format!("{}, and not {} at once", say(from), say(until))),
        }
        if let Some(once) = property.once {
            cases.push(say(once));
        }
        let monitor = Monitor {
            shape,
            once: property.once.map(at),
            count: conditions.len(),
            apart: apart.iter().map(|&e| at(e)).collect(),
        };
        let own = property.shape.conditions().into_iter().chain(property.once).filter(|e| e.as_constant().is_none());
        let mut said: Vec<(usize, String)> = own.map(|e| (at(e), words(circuit, e))).collect();
        said.dedup();
        let mut roots: Vec<NetId> = Vec::new();
        for (i, &e) in conditions.iter().enumerate() {
            roots.push(add_condition(&mut whole, i, e));
        }
        let joined: Vec<&Label> = circuit.joined_contacts().iter().flatten().collect();
        let wanted = circuit.contacts().iter().filter(|c| named.contains(&c.label) || joined.contains(&&c.label));
        let all = roots.into_iter().chain(wanted.map(|c| c.net)).map(Vertex::Net);
        let cone = whole.cone(all, |_| true);
        // the value of an output whose contact is cut away goes by the output's name
        let bare: Vec<(NetId, NetId)> = whole
            .numbered_nets()
            .filter_map(|(id, net)| Some((id, net.value_of?)))
            .filter(|&(value, wire)| cone.contains(value) && !cone.contains(wire))
            .collect();
        for (value, wire) in bare {
            let name = whole.net_mut(wire).map(|net| std::mem::take(&mut net.name));
            if let (Some(net), Some(name)) = (whole.net_mut(value), name) {
                net.name = name;
            }
        }
        Watched { circuit: whole.kept(&cone), monitor, cases, said }
    }
}

/// A contact of the monitor's own that shows a condition.
fn add_condition(circuit: &mut Circuit, number: usize, e: Expr) -> NetId {
    let mut name = format!("condition {}", number + 1);
    while circuit.find_net(&name).is_some() || circuit.find_contact(&Label::new(&name)).is_some() {
        name.push('\'');
    }
    let origin = Origin::Nowhere;
    let net = circuit.add_net(name.clone(), origin.clone());
    let by = By::signal("it");
    circuit.drive(net, Driver { enable: Expr::HIGH, level: e, stage: Stage::PushPull, by, origin: origin.clone() });
    let (polarity, direction) = (Polarity::Data, Direction::Output);
    circuit.add_contact(Contact { label: Label::new(&name), name, net, polarity, direction, origin });
    net
}

impl Monitor {
    /// How many of its cases are conjuncts of what is never so: that one of them never comes about is a reason for it to hold,
    /// and is said; of the others it is want of cases.
    pub(super) fn conjuncts(&self) -> usize {
        self.apart.len()
    }

    /// How many conditions it reads.
    pub(super) fn count(&self) -> usize {
        self.count
    }

    /// Whether what it looks for is to be found, not to be kept.
    pub(super) fn is_reachable(&self) -> bool {
        matches!(self.shape, Watch::Reachable(_))
    }

    /// How many bits it remembers.
    pub(super) fn mark_count(&self) -> usize {
        let own = match self.shape {
            Watch::Within { edges, .. } => edges as usize,
            Watch::Until { .. } => 1,
            _ => 0,
        };
        own + usize::from(self.once.is_some())
    }

    /// What the conditions are at a point.
    pub(super) fn read<V: Copy>(&self, machine: &Machine, point: &Point<V>) -> Vec<V> {
        let first = machine.ports().len().saturating_sub(self.count);
        (first..machine.ports().len()).map(|p| machine.shown(point, p).1).collect()
    }

    /// What there is before power comes on.
    pub(super) fn nothing<A: Algebra>(&self, algebra: &mut A) -> Vec<A::Value> {
        (0..self.mark_count()).map(|_| algebra.constant(false)).collect()
    }

    /// What a point says after what was seen before it; `before` is what the conditions were at the point before, if there
    /// was one.
    pub(super) fn tell<A: Algebra>(
        &self,
        a: &mut A,
        marks: &[A::Value],
        before: Option<&[A::Value]>,
        now: &[A::Value],
    ) -> Told<A::Value> {
        let no = a.constant(false);
        let yes = a.constant(true);
        let of = |all: &[A::Value], i: usize| all.get(i).copied().unwrap_or(no);
        let n = |i: usize| of(now, i);
        let b = |i: usize| before.map(|all| of(all, i));
        let mut next: Vec<A::Value> = Vec::with_capacity(marks.len());
        // since when it counts
        let (was_armed, armed) = match self.once {
            None => (yes, yes),
            Some(once) => {
                let was = marks.last().copied().unwrap_or(no);
                (was, a.or(was, n(once)))
            }
        };
        let mut cases: Vec<A::Value> = Vec::new();
        for &i in &self.apart {
            cases.push(a.and(armed, n(i)));
        }
        let broken = match self.shape {
            Watch::Never(p) | Watch::Reachable(p) => a.and(armed, n(p)),
            Watch::Always(p) => {
                let not = a.not(n(p));
                a.and(armed, not)
            }
            Watch::Whenever(p, q) => {
                let comes = a.and(armed, n(p));
                cases.push(comes);
                let not = a.not(n(q));
                a.and(comes, not)
            }
            Watch::Changes(p, way, q) => match (b(p), b(q)) {
                (Some(p0), Some(q0)) => {
                    let moves = match way {
                        Way::Either => a.xor(p0, n(p)),
                        Way::Up => {
                            let low = a.not(p0);
                            a.and(low, n(p))
                        }
                        Way::Down => {
                            let low = a.not(n(p));
                            a.and(p0, low)
                        }
                    };
                    let moves = a.and(was_armed, moves);
                    cases.push(moves);
                    let holds = a.and(q0, n(q));
                    let not = a.not(holds);
                    a.and(moves, not)
                }
                _ => {
                    cases.push(no);
                    no
                }
            },
            Watch::After(edge, when, holds) => {
                let comes = self.edge(a, edge, before, now);
                let counts = a.and(was_armed, b(when).unwrap_or(no));
                let comes = a.and(comes, counts);
                cases.push(comes);
                let not = a.not(n(holds));
                a.and(comes, not)
            }
            Watch::Within { from, edges, edge, holds } => {
                let comes = self.edge(a, edge, before, now);
                let still = a.not(n(holds));
                let edges = edges as usize;
                let over = a.and(comes, of(marks, edges.saturating_sub(1)));
                for k in 0..edges {
                    let stays = of(marks, k);
                    let moved = if k == 0 { stays } else { of(marks, k - 1) };
                    let waits = a.choose(comes, moved, stays);
                    let waits = if k == 0 {
                        let fresh = a.and(armed, n(from));
                        cases.push(fresh);
                        a.or(waits, fresh)
                    } else {
                        waits
                    };
                    next.push(a.and(waits, still));
                }
                a.and(over, still)
            }
            Watch::Until { from, holds, until } => {
                let fresh = a.and(armed, n(from));
                let bound = a.or(of(marks, 0), fresh);
                let not_yet = a.not(n(until));
                let bound = a.and(bound, not_yet);
                next.push(bound);
                cases.push(a.and(fresh, not_yet));
                let not = a.not(n(holds));
                a.and(bound, not)
            }
        };
        if self.once.is_some() {
            next.push(armed);
            cases.push(armed);
        }
        Told { marks: next, broken, cases }
    }

    fn edge<A: Algebra>(&self, a: &mut A, edge: usize, before: Option<&[A::Value]>, now: &[A::Value]) -> A::Value {
        let no = a.constant(false);
        match before {
            None => no,
            Some(before) => {
                let low = a.not(before.get(edge).copied().unwrap_or(no));
                a.and(low, now.get(edge).copied().unwrap_or(no))
            }
        }
    }
}
