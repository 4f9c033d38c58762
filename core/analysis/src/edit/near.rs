//! Changes that bring in what stands nearby: another signal in the place of one, a condition added, a clear, a hold, an
//! enable, another kind of driver. There are many, so only those are listed on which a difference hangs.
use std::collections::BTreeSet;

use super::inside::polarity;
use super::list::slots;
use super::substitute::{Swap, cone, substitute};
use super::words::{level, literal, signal, verb};
use super::{Change, Edit, EditKind, Slot};
use gluewright_kernel::circuit::{Circuit, Cone, Driver, ElementId, Expr, Label, NetId, Op, Stage, Vertex};

/// A signal that stands nearby.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Near {
    Net(NetId),
    Bit(ElementId),
}

/// How it is brought in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum How {
    /// In the place of this signal.
    Instead(Expr),
    /// Only while it is so too.
    And,
    /// Also while it is so.
    Or,
    /// A register keeps what it holds unless it is so.
    Hold,
}

impl Near {
    /// The signal that a leaf reads.
    fn of(circuit: &Circuit, leaf: Expr) -> Option<Self> {
        match circuit.op(leaf) {
            Op::Net(n) => Some(Near::Net(n)),
            Op::Q(e) | Op::QInverted(e) => Some(Near::Bit(e)),
            _ => None,
        }
    }

    /// The signal that a slot makes: of a net that shows a stored bit alone, that bit.
    fn of_slot(circuit: &Circuit, slot: Slot) -> Option<Self> {
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
        }
    }

    fn name(self, circuit: &Circuit) -> String {
        match self {
            Near::Net(n) => circuit.called(n).to_owned(),
            Near::Bit(e) => circuit.elements().get(e.index()).map_or_else(String::new, |e| e.name.clone()),
        }
    }
}

/// Writes the change into a slot.
pub(super) fn bring_in(circuit: &mut Circuit, slot: Slot, how: How, (near, high): (Near, bool)) {
    let root = slot.read(circuit);
    let plain = near.expression(circuit);
    let it = if high { plain } else { circuit.not(plain) };
    let value = match how {
        How::Instead(of) => substitute(circuit, root, &[(of, Swap::Other(it))]),
        How::And => circuit.and(root, it),
        How::Or => circuit.or(root, it),
        How::Hold => match slot {
            Slot::Data(e) => {
                let holds = circuit.q(e);
                circuit.choose(it, root, holds)
            }
            _ => root,
        },
    };
    slot.write(circuit, value);
    if let Slot::Enable(net, k) = slot
        && let Some(d) = circuit.net_mut(net).and_then(|n| n.drivers.get_mut(k))
        && d.enable != Expr::HIGH
        && d.stage == Stage::PushPull
    {
        d.stage = Stage::ThreeState;
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

/// Every such change at a place on which one of these contacts hangs, the same change of all bits of an array first.
pub(crate) fn edits_from_near(circuit: &Circuit, contacts: &[Label]) -> Vec<Edit> {
    let nets: Vec<NetId> = contacts
        .iter()
        .filter_map(|label| circuit.find_contact(label))
        .filter_map(|id| circuit.contacts().get(id.index()).map(|c| c.net))
        .collect();
    let within = circuit.cone(nets, |_: Vertex| true);
    let lister = NearLister { circuit, signals: signals(circuit), within };
    let mut single = Vec::new();
    for slot in slots(circuit) {
        if lister.hangs(slot) {
            lister.slot(slot, &mut single);
        }
    }
    let mut all = super::list::by_line(&single);
    all.extend(single);
    all
}

/// What a person may have meant: contacts that are read, stored bits, and values that have a name.
fn signals(circuit: &Circuit) -> Vec<Near> {
    let mut all: Vec<Near> = Vec::new();
    let mut shown = BTreeSet::new();
    for (id, net) in circuit.numbered_nets() {
        let bit = match net.drivers.as_slice() {
            [d] => match circuit.op(d.level) {
                Op::Q(e) => Some(e),
                _ => None,
            },
            _ => None,
        };
        match bit {
            // it is the bit itself
            Some(e) => {
                shown.insert(e);
                all.push(Near::Bit(e));
            }
            None if net.value_of.is_none() => all.push(Near::Net(id)),
            None => {}
        }
    }
    all.extend(circuit.numbered_elements().map(|(id, _)| id).filter(|id| !shown.contains(id)).map(Near::Bit));
    all.sort();
    all.dedup();
    all
}

struct NearLister<'c> {
    circuit: &'c Circuit,
    signals: Vec<Near>,
    within: Cone,
}

/// The number in the last brackets of a name.
fn index(name: &str) -> Option<&str> {
    let (_, rest) = name.rsplit_once('[')?;
    rest.strip_suffix(']')
}

impl NearLister<'_> {
    fn hangs(&self, slot: Slot) -> bool {
        match slot {
            Slot::Enable(n, _) | Slot::Level(n, _) => self.within.contains(n),
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => self.within.contains(e),
        }
    }

    /// Signals that may stand at a place: of an array, the one of the same number.
    fn for_place<'s>(&'s self, slot: Slot, place: &'s str) -> impl Iterator<Item = (Near, String)> + 's {
        let own = Near::of_slot(self.circuit, slot);
        self.signals.iter().filter(move |&&near| Some(near) != own).filter_map(move |&near| {
            let name = near.name(self.circuit);
            let fits = match (index(place), index(&name)) {
                (Some(i), Some(k)) => i == k,
                _ => true,
            };
            fits.then_some((near, name))
        })
    }

    fn slot(&self, slot: Slot, all: &mut Vec<Edit>) {
        let circuit = self.circuit;
        let (name, origin) = slot.place(circuit);
        let root = slot.read(circuit);
        let (verb, is_condition) = verb(circuit, slot);
        let is = if matches!(slot, Slot::Data(_)) { "" } else { "is " };
        let mut add = |kind: EditKind, words: String, change: Change| {
            all.push(Edit {
                kind,
                words: format!("`{name}` {is}{words}"),
                name: name.clone(),
                origin: origin.clone(),
                changes: vec![change],
            });
        };
        // another signal in the place of one
        let leaves: Vec<Expr> = cone(circuit, root).into_iter().filter(|&e| signal(circuit, e).is_some()).collect();
        for &leaf in &leaves {
            let stands = signal(circuit, leaf).unwrap_or_default();
            let stands_for = Near::of(circuit, leaf);
            // the pin shows what it is the value of
            if matches!((slot, stands_for), (Slot::Level(shown, _), Some(Near::Net(n)))
                if circuit.nets().get(n.index()).is_some_and(|net| net.value_of == Some(shown)))
            {
                continue;
            }
            let plain = polarity(circuit, root, leaf);
            for (near, with) in self.for_place(slot, &name) {
                if stands_for == Some(near) {
                    continue;
                }
                for high in [true, false] {
                    let words = match (is_condition, plain) {
                        (true, Some(p)) => {
                            format!(
                                "{verb} while `{with}` is {} instead of while {stands} is {}",
                                level(p == high),
                                level(p)
                            )
                        }
                        _ if high => format!("{verb} with `{with}` instead of {stands}"),
                        _ => format!("{verb} with `{with}` inverted instead of {stands}"),
                    };
                    add(EditKind::SignalReplaced, words, Change::Near(slot, How::Instead(leaf), (near, high)));
                }
            }
        }
        let stage = match slot {
            Slot::Enable(net, k) => {
                circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k)).map(|d| (net, k, d.stage))
            }
            _ => None,
        };
        // a name for a value is no driver
        let is_pin = stage.is_some_and(|(n, ..)| circuit.nets().get(n.index()).is_some_and(|n| n.contact.is_some()));
        for (near, with) in self.for_place(slot, &name) {
            let is_read = leaves.iter().any(|&e| Near::of(circuit, e) == Some(near));
            for high in [true, false] {
                let so = format!("`{with}` is {}", level(high));
                let change = |how| Change::Near(slot, how, (near, high));
                match slot {
                    Slot::Clear(_) | Slot::Preset(_) => {
                        add(EditKind::ClearAdded, format!("also {verb} while {so}"), change(How::Or));
                        if root != Expr::LOW && !is_read {
                            add(EditKind::ConditionAdded, format!("{verb} only while {so} too"), change(How::And));
                        }
                    }
                    Slot::Enable(..) if !is_pin || is_read => {}
                    Slot::Enable(..) if root == Expr::HIGH => {
                        add(EditKind::DriveAdded, format!("driven only while {so}"), change(How::And));
                    }
                    Slot::Enable(..) => {
                        add(EditKind::ConditionAdded, format!("{verb} only while {so} too"), change(How::And));
                        add(EditKind::TermAdded, format!("also {verb} while {so}"), change(How::Or));
                    }
                    Slot::Data(e) => {
                        let is_register = circuit.elements().get(e.index()).is_some_and(|e| e.is_register());
                        if is_register && near != Near::Bit(e) {
                            add(
                                EditKind::HoldAdded,
                                format!("loads only while {so}, and else keeps what it holds"),
                                change(How::Hold),
                            );
                        }
                        self.more(&mut add, verb, &so, is_read, (slot, near, high));
                    }
                    Slot::Level(..) => self.more(&mut add, verb, &so, is_read, (slot, near, high)),
                    Slot::Clock(_) if !is_read && literal(circuit, root).is_none() => {
                        add(EditKind::ConditionAdded, format!("{verb} only while {so} too"), change(How::And));
                    }
                    Slot::Clock(_) => {}
                }
            }
        }
        if let Some((net, k, was)) = stage.filter(|_| is_pin) {
            for to in [Stage::OpenCollector, Stage::PushPull] {
                if to != was && !(was == Stage::ThreeState && to == Stage::PushPull) {
                    let words = format!("{} instead of {}", staged(to), staged(was));
                    add(EditKind::StageChanged, words, Change::Stage(net, k, to));
                }
            }
        }
    }

    /// High only while something is so too, or also while it is.
    fn more(
        &self,
        add: &mut dyn FnMut(EditKind, String, Change),
        verb: &str,
        so: &str,
        is_read: bool,
        (slot, near, high): (Slot, Near, bool),
    ) {
        if is_read {
            return;
        }
        let what = format!("{verb} high");
        add(
            EditKind::ConditionAdded,
            format!("{what} only while {so} too"),
            Change::Near(slot, How::And, (near, high)),
        );
        add(EditKind::TermAdded, format!("{what} also while {so}"), Change::Near(slot, How::Or, (near, high)));
    }
}

fn staged(stage: Stage) -> &'static str {
    match stage {
        Stage::PushPull => "a driver of both levels",
        Stage::ThreeState => "a three-state driver",
        Stage::OpenCollector => "an open collector",
    }
}
