//! Changes that bring in what stands nearby: another signal in the place of one, a condition added, a clear, a hold, an
//! enable, another kind of driver. There are many, so only those are listed on which a difference hangs.
use std::collections::BTreeSet;

use super::inside::polarity;
use super::known::{formulas, signals, written};
use super::list::{slots, without_numbers};
use super::near::{How, Near, index};
use super::substitute::cone;
use super::words::{level, literal, signal, verb};
use super::{Change, Edit, EditKind, Slot};
use gluewright_kernel::circuit::{Circuit, Cone, Expr, Label, NetId, Op, Stage, Vertex};

/// Every such change at a place on which one of these contacts hangs, or one of the same array, the same change of all bits of
/// an array first: what
/// is brought in for a whole formula or a signal, then what is brought in for a part of a formula, then two together, then
/// three, then what is of one bit of several or takes a signal at a level at which nothing else takes it.
pub(crate) fn edits_from_near(circuit: &Circuit, contacts: &[Label]) -> [Vec<Edit>; 5] {
    let nets = nets_of(circuit, contacts);
    let shown = circuit.cone(nets.iter().copied(), |v: Vertex| !v.is_element());
    let within = circuit.cone(nets, |_: Vertex| true);
    // a signal counts at the level at which it counts elsewhere, first
    let written = written(circuit);
    let lister = NearLister { circuit, signals: signals(circuit), formulas: formulas(circuit), written, within, shown };
    let [mut whole, mut inside, mut two, mut three] = [Vec::new(), Vec::new(), Vec::new(), Vec::new()];
    for slot in slots(circuit) {
        if NearLister::hangs(&lister.within, slot) {
            lister.slot(slot, &mut whole);
            lister.parts(slot, &mut inside);
            lister.two(slot, &mut two);
        }
        if NearLister::hangs(&lister.shown, slot) {
            lister.three(slot, &mut three);
        }
    }
    lister.everywhere(&mut inside);
    let usual = |e: &Edit| match e.changes.as_slice() {
        [Change::Near(slot, how, near)] => lister.is_usual_there(slot.read(circuit), *how, *near),
        [Change::NearEverywhere(of, how, near, _)] => lister.is_usual_there(*of, *how, *near),
        _ => true,
    };
    let [(whole, mut rest), (inside, more)] = [whole, inside].map(|all| all.into_iter().partition::<Vec<_>, _>(usual));
    rest.extend(more);
    let [[whole, bits], [inside, more], [two, _], [three, _], [rest, others]] =
        [whole, inside, two, three, rest].map(|all| super::list::lines_and_bits(circuit, all));
    [whole, inside, two, three, [bits, more, rest, others].concat()]
}

/// The nets of these contacts, and of all others of their arrays: where one bit differs, all may be written wrong.
fn nets_of(circuit: &Circuit, contacts: &[Label]) -> Vec<NetId> {
    let all = || circuit.contacts().iter().map(|c| (c, without_numbers(&c.name)));
    let differ: BTreeSet<String> = all().filter(|(c, _)| contacts.contains(&c.label)).map(|(_, stem)| stem).collect();
    all().filter(|(_, stem)| differ.contains(stem)).map(|(c, _)| c.net).collect()
}

pub(super) struct NearLister<'c> {
    pub(super) circuit: &'c Circuit,
    pub(super) signals: Vec<Near>,
    pub(super) formulas: Vec<Near>,
    pub(super) written: BTreeSet<(Near, bool)>,
    within: Cone,
    /// What the contacts show, back to the registers and latches.
    shown: Cone,
}

impl NearLister<'_> {
    fn hangs(within: &Cone, slot: Slot) -> bool {
        match slot {
            Slot::Enable(n, _) | Slot::Level(n, _) => within.contains(n),
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => within.contains(e),
        }
    }

    /// Signals that may stand at a place: of an array, the one of the same number.
    pub(super) fn for_place<'s>(&'s self, slot: Slot, place: &'s str) -> impl Iterator<Item = (Near, String)> + 's {
        // a register may load what depends on itself; a pin shows that only if it is read somewhere
        let own = Near::of_slot(self.circuit, slot).filter(|own| match slot {
            Slot::Data(_) => false,
            _ => ![true, false].iter().any(|high| self.written.contains(&(*own, *high))),
        });
        let all = self.signals.iter().chain(&self.formulas);
        all.filter(move |&&near| Some(near) != own).filter_map(move |&near| {
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
                            let so = near.so(&with, p == high);
                            format!("{verb} while {so} instead of while {stands} is {}", level(p))
                        }
                        _ if high => format!("{verb} with {with} instead of {stands}"),
                        _ => format!("{verb} with {with} inverted instead of {stands}"),
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
            let is_read = leaves.iter().any(|&e| Near::of(circuit, e) == Some(near)) || near == Near::Formula(root);
            for high in [true, false] {
                let so = near.so(&with, high);
                let change = |how| Change::Near(slot, how, (near, high));
                match slot {
                    Slot::Clear(_) | Slot::Preset(_) => {
                        add(EditKind::ClearAdded, format!("also {verb} while {so}"), change(How::Or(root)));
                        if root != Expr::LOW && !is_read {
                            add(
                                EditKind::ConditionAdded,
                                format!("{verb} only while {so} too"),
                                change(How::And(root)),
                            );
                        }
                    }
                    Slot::Enable(..) if !is_pin || is_read => {}
                    Slot::Enable(..) if root == Expr::HIGH => {
                        add(EditKind::DriveAdded, format!("driven only while {so}"), change(How::And(root)));
                    }
                    Slot::Enable(..) => {
                        add(EditKind::ConditionAdded, format!("{verb} only while {so} too"), change(How::And(root)));
                        add(EditKind::TermAdded, format!("also {verb} while {so}"), change(How::Or(root)));
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
                        add(EditKind::ConditionAdded, format!("{verb} only while {so} too"), change(How::And(root)));
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

    /// The same for what is brought into a formula: what stands in the place of a signal counts at that one's levels.
    fn is_usual_there(&self, root: Expr, how: How, (near, high): (Near, bool)) -> bool {
        match how {
            How::Instead(of) => {
                read_at(self.circuit, root, of).into_iter().any(|plain| self.is_usual(near, high == plain))
            }
            How::And(_) | How::Or(_) | How::OrAll(..) | How::At(..) | How::Hold => self.is_usual(near, high),
        }
    }

    pub(super) fn is_usual(&self, near: Near, high: bool) -> bool {
        self.written.contains(&(near, high)) || !self.written.contains(&(near, !high))
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
            Change::Near(slot, How::And(slot.read(self.circuit)), (near, high)),
        );
        add(
            EditKind::TermAdded,
            format!("{what} also while {so}"),
            Change::Near(slot, How::Or(slot.read(self.circuit)), (near, high)),
        );
    }
}

/// At which levels a formula reads a part of it: as it is, or inverted.
fn read_at(circuit: &Circuit, root: Expr, part: Expr) -> Vec<bool> {
    let within = cone(circuit, root);
    let is_operand = |e: &Expr| !matches!(circuit.op(*e), Op::Not(_)) && circuit.op(*e).operands().any(|o| o == part);
    let plain = root == part || within.iter().any(is_operand);
    let inverted = within.iter().any(|&e| circuit.op(e) == Op::Not(part));
    [(plain, true), (inverted, false)].into_iter().filter(|(is_read, _)| *is_read).map(|(_, plain)| plain).collect()
}

fn staged(stage: Stage) -> &'static str {
    match stage {
        Stage::PushPull => "a driver of both levels",
        Stage::ThreeState => "a three-state driver",
        Stage::OpenCollector => "an open collector",
    }
}
