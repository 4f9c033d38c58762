//! A circuit's gates as a bench sees them: which levels meet in each, and how many gates each comes through.
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Cone, Expr, NetId, Op, Stage, Through};

/// A level at a gate, or its opposite: of a gate that is true while all its pins are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Pin {
    pub(super) level: Expr,
    pub(super) inverted: bool,
}

/// Where levels meet: in an expression, or in outputs that are wired together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Where {
    Gate(Expr),
    Wire(NetId),
}

/// Levels that meet.
pub(super) struct Gate {
    pub(super) at: Where,
    pub(super) pins: Vec<Pin>,
    /// The first pin selects the second: this one adds nothing if it is always true then, or never.
    pub(super) selects: bool,
}

impl Pin {
    fn is(level: Expr) -> Pin {
        Pin { level, inverted: false }
    }

    pub(super) fn opposite(self) -> Pin {
        Pin { inverted: !self.inverted, ..self }
    }

    /// The two pins of which this one is the conjunction, if it is one; inversions are gone through.
    fn halves(self, circuit: &Circuit) -> Result<[Pin; 2], Pin> {
        let mut pin = self;
        while let Op::Not(a) = circuit.op(pin.level) {
            pin = Pin { level: a, inverted: !pin.inverted };
        }
        match (circuit.op(pin.level), pin.inverted) {
            (Op::And(a, b), false) | (Op::Or(a, b), true) => {
                Ok([a, b].map(|level| Pin { level, inverted: pin.inverted }))
            }
            _ => Err(pin),
        }
    }

    /// The pins of which this one is the conjunction, within its package.
    fn split(self, circuit: &Circuit, into: &mut Vec<Pin>) {
        let mut open = vec![self];
        while let Some(pin) = open.pop() {
            match pin.halves(circuit) {
                Ok(halves) => open.extend(halves),
                Err(pin) => into.push(pin),
            }
        }
    }

    /// The same through the gates of other packages too, but through no loop.
    pub(super) fn split_through(self, circuit: &Circuit, depths: &Depths) -> Vec<Pin> {
        let (mut all, mut open, mut seen) = (Vec::new(), vec![self], BTreeSet::new());
        while let Some(pin) = open.pop() {
            let mut pins = Vec::new();
            pin.split(circuit, &mut pins);
            for pin in pins {
                match depths.behind(circuit, pin.level) {
                    Some(level) if seen.insert(pin) => open.push(Pin { level, ..pin }),
                    Some(_) => {}
                    None => all.push(pin),
                }
            }
        }
        all
    }
}

/// All gates in which more than one level meets. A gate of several inputs is one, however it is written down.
pub(super) fn gates(circuit: &Circuit) -> Vec<Gate> {
    let count = circuit.expression_count();
    let mut within = vec![false; count];
    for i in 0..count {
        let inverted = matches!(circuit.op(Expr(i as u32)), Op::Or(..));
        for half in (Pin { level: Expr(i as u32), inverted }).halves(circuit).into_iter().flatten() {
            let mut inner = half;
            while let Op::Not(a) = circuit.op(inner.level) {
                inner = Pin { level: a, inverted: !inner.inverted };
            }
            if half.halves(circuit).is_ok() {
                within[inner.level.index()] = true;
            }
        }
    }
    let mut all = Vec::new();
    for e in (0..count).map(|i| Expr(i as u32)) {
        let at = Where::Gate(e);
        match circuit.op(e) {
            Op::And(..) | Op::Or(..) if !within[e.index()] => {
                let mut pins = Vec::new();
                Pin { level: e, inverted: matches!(circuit.op(e), Op::Or(..)) }.split(circuit, &mut pins);
                all.push(Gate { at, pins, selects: false });
            }
            // one input of a selector and what selects it
            Op::Choose(when, then, otherwise) => {
                all.push(Gate { at, pins: vec![Pin::is(when), Pin::is(then)], selects: true });
                all.push(Gate { at, pins: vec![Pin::is(when).opposite(), Pin::is(otherwise)], selects: true });
            }
            _ => {}
        }
    }
    for (n, net) in circuit.nets().iter().enumerate() {
        let pulls = net.drivers.iter().filter(|d| d.stage == Stage::OpenCollector).map(|d| d.enable);
        let mut pins = Vec::new();
        for level in pulls {
            Pin { level, inverted: true }.split(circuit, &mut pins);
        }
        if net.drivers.len() > 1 {
            all.push(Gate { at: Where::Wire(NetId(n as u32)), pins, selects: false });
        }
    }
    all
}

impl Gate {
    /// Where two of its pins meet first.
    pub(super) fn meeting(&self, circuit: &Circuit, pins: [Pin; 2]) -> Where {
        let holds = |pin: Pin| {
            let mut all = Vec::new();
            pin.split(circuit, &mut all);
            pins.iter().all(|p| all.contains(p))
        };
        let mut at = self.at;
        let mut open: Vec<Pin> = match self.at {
            Where::Gate(e) => vec![Pin { level: e, inverted: matches!(circuit.op(e), Op::Or(..)) }],
            Where::Wire(n) => {
                let drivers = circuit.nets().get(n.index()).into_iter().flat_map(|n| &n.drivers);
                drivers.map(|d| Pin { level: d.enable, inverted: true }).collect()
            }
        };
        while let Some(pin) = open.pop() {
            if holds(pin) {
                at = Where::Gate(pin.level);
                open = pin.halves(circuit).map(Vec::from).unwrap_or_default();
            }
        }
        at
    }
}

/// Through how many nets that something drives each level comes from contacts, registers, latches and loops, the longest
/// way.
pub(super) struct Depths {
    expressions: Vec<usize>,
    nets: Vec<usize>,
    /// Nets that may feed themselves: what they settle to is theirs.
    feedback: Cone,
}

impl Depths {
    pub(super) fn of(circuit: &Circuit) -> Self {
        let mut depths = Depths {
            expressions: vec![0; circuit.expression_count()],
            nets: vec![0; circuit.nets().len()],
            feedback: circuit.feedback(Through::Gates),
        };
        loop {
            for e in circuit.expressions() {
                let op = circuit.op(e);
                let net = op.as_net().and_then(|n| depths.nets.get(n.index())).copied();
                let operands = op.operands().map(|o| depths.at(o)).max();
                depths.expressions[e.index()] = net.or(operands).unwrap_or(0);
            }
            let mut moved = false;
            for (n, net) in
                circuit.nets().iter().enumerate().filter(|&(n, _)| !depths.feedback.contains(NetId(n as u32)))
            {
                let deepest = net.drivers.iter().map(|d| 1 + depths.at(d.enable).max(depths.at(d.level))).max();
                moved |= std::mem::replace(&mut depths.nets[n], deepest.unwrap_or(0)) != depths.nets[n];
            }
            if !moved {
                return depths;
            }
        }
    }

    pub(super) fn at(&self, level: Expr) -> usize {
        self.expressions.get(level.index()).copied().unwrap_or(0)
    }

    pub(super) fn of_net(&self, net: NetId) -> usize {
        self.nets.get(net.index()).copied().unwrap_or(0)
    }

    pub(super) fn in_feedback(&self, net: NetId) -> bool {
        self.feedback.contains(net)
    }

    /// What drives a net at all times and alone, if the level is that of such a net.
    fn behind(&self, circuit: &Circuit, level: Expr) -> Option<Expr> {
        let n = circuit.op(level).as_net()?;
        match circuit.nets().get(n.index())?.drivers.as_slice() {
            [d] if d.enable == Expr::HIGH && !self.in_feedback(n) => Some(d.level),
            _ => None,
        }
    }
}
