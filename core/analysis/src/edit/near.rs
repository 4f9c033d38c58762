//! What is brought in from nearby, and how it is written into a circuit.
use super::Slot;
use super::substitute::{Swap, substitute};
use super::words::{condition, level};
use gluewright_kernel::circuit::{Circuit, Driver, ElementId, Expr, NetId, Op, Stage};

/// A signal that stands nearby, or a condition that something else depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Near {
    Net(NetId),
    Bit(ElementId),
    Formula(Expr),
}

/// How it is brought in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum How {
    /// In the place of this signal or formula.
    Instead(Expr),
    /// This part of the formula, or the whole, only while it is so too.
    And(Expr),
    /// This part of the formula, or the whole, also while it is so.
    Or(Expr),
    /// This part of the formula, or the whole, also while it and another one are so, and a third if there is one.
    OrAll(Expr, (Near, bool), Option<(Near, bool)>),
    /// The same at one place of several where this operand stands, in this formula.
    At(Expr, Expr, Join),
    /// A register keeps what it holds unless it is so.
    Hold,
}

/// How it is joined to what stands at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Join {
    Instead,
    And,
    Or,
}

impl How {
    /// What it takes the place of, or is joined to.
    pub(super) fn of(self) -> Option<Expr> {
        match self {
            How::Instead(of) | How::And(of) | How::Or(of) | How::OrAll(of, ..) | How::At(_, of, _) => Some(of),
            How::Hold => None,
        }
    }
}

impl Near {
    /// The signal that a leaf reads.
    pub(super) fn of(circuit: &Circuit, leaf: Expr) -> Option<Self> {
        match circuit.op(leaf) {
            Op::Net(n) => Some(Near::Net(n)),
            Op::Q(e) | Op::QInverted(e) => Some(Near::Bit(e)),
            _ => None,
        }
    }

    /// The signal that a slot makes: of a net that shows a stored bit alone, that bit.
    pub(super) fn of_slot(circuit: &Circuit, slot: Slot) -> Option<Self> {
        match slot {
            Slot::Enable(net, _) | Slot::Level(net, _) => match circuit.nets().get(net.index())?.drivers.as_slice() {
                [d] if matches!(circuit.op(d.level), Op::Q(_)) => Near::of(circuit, d.level),
                _ => Some(Near::Net(net)),
            },
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => Some(Near::Bit(e)),
        }
    }

    fn expression(self, circuit: &mut Circuit) -> Expr {
        match self {
            Near::Net(n) => circuit.net(n),
            Near::Bit(e) => circuit.q(e),
            Near::Formula(e) => e,
        }
    }

    /// As it stands in a sentence.
    pub(super) fn name(self, circuit: &Circuit) -> String {
        match self {
            Near::Net(n) => format!("`{}`", circuit.called(n)),
            Near::Bit(e) => circuit.elements().get(e.index()).map_or_else(String::new, |e| format!("`{}`", e.name)),
            Near::Formula(e) => format!("({})", condition(circuit, e)),
        }
    }

    /// That it is so, or that it is not.
    pub(super) fn so(self, name: &str, high: bool) -> String {
        match self {
            Near::Formula(_) if high => name.to_owned(),
            Near::Formula(_) => format!("not {name}"),
            _ => format!("{name} is {}", level(high)),
        }
    }
}

/// Writes the change into a slot.
pub(super) fn bring_in(circuit: &mut Circuit, slot: Slot, how: How, near: (Near, bool)) {
    let root = slot.read(circuit);
    let holds = match slot {
        Slot::Data(e) => Some(e),
        _ => None,
    };
    let value = brought_in(circuit, (root, holds), how, near);
    slot.write(circuit, value);
    if let Slot::Enable(net, k) = slot
        && let Some(d) = circuit.net_mut(net).and_then(|n| n.drivers.get_mut(k))
        && d.enable != Expr::HIGH
        && d.stage == Stage::PushPull
    {
        d.stage = Stage::ThreeState;
    }
}

/// A formula with it brought in; a register that loads the formula may hold.
pub(super) fn brought_in(
    circuit: &mut Circuit,
    (root, holds): (Expr, Option<ElementId>),
    how: How,
    (near, high): (Near, bool),
) -> Expr {
    let plain = near.expression(circuit);
    let it = if high { plain } else { circuit.not(plain) };
    match how {
        How::Instead(of) => substitute(circuit, root, &[(of, Swap::Other(it))]),
        How::And(of) => {
            let both = circuit.and(of, it);
            substitute(circuit, root, &[(of, Swap::Other(both))])
        }
        How::Or(of) => {
            let either = circuit.or(of, it);
            substitute(circuit, root, &[(of, Swap::Other(either))])
        }
        How::At(within, of, join) => {
            let new = match join {
                Join::Instead => it,
                Join::And => circuit.and(of, it),
                Join::Or => circuit.or(of, it),
            };
            let op = circuit.op(within).map(|operand| if operand == of { new } else { operand });
            let new = circuit.expression(op);
            substitute(circuit, root, &[(within, Swap::Other(new))])
        }
        How::OrAll(of, second, third) => {
            let mut all = it;
            for (other, high) in [Some(second), third].into_iter().flatten() {
                let plain = other.expression(circuit);
                let other = if high { plain } else { circuit.not(plain) };
                all = circuit.and(all, other);
            }
            let either = circuit.or(of, all);
            substitute(circuit, root, &[(of, Swap::Other(either))])
        }
        How::Hold => match holds {
            Some(e) => {
                let holds = circuit.q(e);
                circuit.choose(it, root, holds)
            }
            None => root,
        },
    }
}

/// Gives a driver another stage.
pub(super) fn restage(circuit: &mut Circuit, net: NetId, k: usize, stage: Stage) {
    let Some(d) = circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k)).cloned() else { return };
    let (enable, level) = match (d.stage, stage) {
        // it pulls low where it drove low
        (_, Stage::OpenCollector) => {
            let low = circuit.not(d.level);
            (circuit.and(d.enable, low), Expr::LOW)
        }
        // it drives high where it let go
        (Stage::OpenCollector, _) => {
            let low = circuit.not(d.level);
            let pulls = circuit.and(d.enable, low);
            (Expr::HIGH, circuit.not(pulls))
        }
        _ => (d.enable, d.level),
    };
    if let Some(d) = circuit.net_mut(net).and_then(|n| n.drivers.get_mut(k)) {
        *d = Driver { enable, level, stage, ..d.clone() };
    }
}

/// The number in the last brackets of a name.
pub(super) fn index(name: &str) -> Option<&str> {
    let (_, rest) = name.trim_matches('`').rsplit_once('[')?;
    rest.strip_suffix(']')
}
