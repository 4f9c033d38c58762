//! Which nets and stored bits each signal depends on without a clock edge between.
use std::sync::Arc;

use crate::circuit::{Circuit, Driver, ElementId, Expr, Kind, NetId, Op, Through};

/// A net or a stored bit of one circuit: nets first, then elements.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Signal(pub(super) u32);

impl Signal {
    pub(super) fn index(self) -> usize {
        self.0 as usize
    }
}

/// What a signal is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    Net(NetId),
    Element(ElementId),
}

/// What moves a signal, by part.
#[derive(Clone, Debug, Default)]
pub(super) struct Inputs {
    /// The clock of a register, the gate of a latch.
    pub(super) clock: Vec<Signal>,
    /// Of a net: all that its drivers read.
    pub(super) data: Vec<Signal>,
    pub(super) clear: Vec<Signal>,
    pub(super) preset: Vec<Signal>,
    pub(super) is_register: bool,
}

impl Inputs {
    /// All that can make it change by itself: a register's data wait for its clock.
    pub(super) fn acting(&self) -> Vec<Signal> {
        let data = if self.is_register { &[][..] } else { &self.data };
        let mut all: Vec<Signal> =
            self.clock.iter().chain(&self.clear).chain(&self.preset).chain(data).copied().collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// A circuit as signals that act on each other.
#[derive(Clone, Debug)]
pub(crate) struct Ways {
    pub(super) circuit: Arc<Circuit>,
    nets: usize,
    pub(super) inputs: Vec<Inputs>,
    pub(super) acting: Vec<Vec<Signal>>,
    pub(super) users: Vec<Vec<Signal>>,
}

impl Ways {
    /// The ways of a circuit.
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let nets = circuit.nets().len();
        let mut ways = Ways {
            circuit: Arc::new(circuit.clone()),
            nets,
            inputs: Vec::new(),
            acting: Vec::new(),
            users: Vec::new(),
        };
        let mut inputs: Vec<Inputs> = Vec::with_capacity(nets + circuit.elements().len());
        for net in circuit.nets() {
            let read: Vec<Expr> = net.drivers.iter().flat_map(|d: &Driver| [d.enable, d.level]).collect();
            inputs.push(Inputs { data: ways.leaves(&read), ..Inputs::default() });
        }
        for (i, e) in circuit.elements().iter().enumerate() {
            let (is_register, clock, data) = match e.kind {
                Kind::Register { clock, data } => (true, clock, data),
                Kind::Latch { open, data } => (false, open, data),
            };
            inputs.push(Inputs {
                clock: ways.leaves(&[clock]),
                data: ways.leaves(&[data, circuit.loads_unknown(ElementId(i as u32))]),
                clear: ways.leaves(&[e.clear]),
                preset: ways.leaves(&[e.preset]),
                is_register,
            });
        }
        ways.acting = inputs.iter().map(Inputs::acting).collect();
        ways.users = vec![Vec::new(); inputs.len()];
        for (i, all) in ways.acting.iter().enumerate() {
            for &s in all {
                if let Some(users) = ways.users.get_mut(s.index()) {
                    users.push(Signal(i as u32));
                }
            }
        }
        ways.inputs = inputs;
        ways
    }

    /// Whether a net moves anything.
    pub(crate) fn has_users(&self, net: NetId) -> bool {
        self.users.get(net.index()).is_some_and(|u| !u.is_empty())
    }

    /// Whether what an element holds reaches, through gates outside of loops, nothing but the data of registers: a
    /// pulse of it can't clock, clear or pass on.
    pub(crate) fn acts_on_nothing(&self, element: usize) -> bool {
        let Some(from) = (self.nets + element < self.users.len()).then(|| Signal((self.nets + element) as u32)) else {
            return true;
        };
        let feedback = self.circuit.feedback(Through::Gates);
        let (mut seen, mut open) = (vec![false; self.users.len()], vec![from]);
        while let Some(s) = open.pop() {
            for &user in &self.users[s.index()] {
                if !self.is_net(user) || feedback.contains(NetId(user.0)) {
                    return false;
                }
                if !std::mem::replace(&mut seen[user.index()], true) {
                    open.push(user);
                }
            }
        }
        true
    }

    pub(super) fn count(&self) -> usize {
        self.inputs.len()
    }

    pub(super) fn of_net(&self, net: NetId) -> Signal {
        Signal(net.index() as u32)
    }

    pub(super) fn of_element(&self, element: ElementId) -> Signal {
        Signal((self.nets + element.index()) as u32)
    }

    /// The signal that an expression reads, if it is one or the complement of a stored bit.
    pub(super) fn leaf(&self, e: Expr) -> Option<Signal> {
        match self.circuit.op(e) {
            Op::Net(n) => Some(self.of_net(n)),
            Op::Q(x) | Op::QInverted(x) => Some(self.of_element(x)),
            _ => None,
        }
    }

    pub(super) fn what(&self, s: Signal) -> What {
        match s.index().checked_sub(self.nets) {
            None => What::Net(NetId(s.0)),
            Some(e) => What::Element(ElementId(e as u32)),
        }
    }

    pub(crate) fn is_net(&self, s: Signal) -> bool {
        s.index() < self.nets
    }

    pub(super) fn is_register(&self, s: Signal) -> bool {
        self.inputs.get(s.index()).is_some_and(|i| i.is_register)
    }

    /// The name of a net or element.
    pub(crate) fn name(&self, s: Signal) -> &str {
        match self.what(s) {
            What::Net(n) => self.circuit.nets().get(n.index()).map_or("?", |n| &n.name),
            What::Element(e) => self.circuit.elements().get(e.index()).map_or("?", |e| &e.name),
        }
    }

    /// All expressions below these, themselves included, operands before what uses them.
    pub(super) fn below(&self, roots: &[Expr]) -> Vec<Expr> {
        let (mut seen, mut open) = (std::collections::BTreeSet::new(), roots.to_vec());
        while let Some(e) = open.pop() {
            if seen.insert(e) {
                match self.circuit.op(e) {
                    Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => {}
                    Op::Not(a) => open.push(a),
                    Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => open.extend([a, b]),
                    Op::Choose(c, a, b) => open.extend([c, a, b]),
                }
            }
        }
        seen.into_iter().collect()
    }

    /// The signals that these expressions read, in order.
    pub(super) fn leaves(&self, roots: &[Expr]) -> Vec<Signal> {
        let mut all: Vec<Signal> = self.below(roots).into_iter().filter_map(|e| self.leaf(e)).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}
