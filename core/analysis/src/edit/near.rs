//! Changes that bring in what stands nearby: another signal in the place of one, a condition added, a clear, a hold, an
//! enable, another kind of driver. There are many, so only those are listed on which a difference hangs.
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::inside::polarity;
use super::list::slots;
use super::substitute::{Swap, cone, substitute};
use super::words::{condition, level, literal, signal, verb};
use super::{Change, Edit, EditKind, Slot};
use gluewright_kernel::circuit::{Circuit, Cone, Driver, ElementId, Expr, Label, NetId, Op, Origin, Stage, Vertex};

/// A signal that stands nearby, or a condition that something else hangs on.
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
    /// A register keeps what it holds unless it is so.
    Hold,
}

impl How {
    /// What it takes the place of, or is joined to.
    pub(super) fn of(self) -> Option<Expr> {
        match self {
            How::Instead(of) | How::And(of) | How::Or(of) | How::OrAll(of, ..) => Some(of),
            How::Hold => None,
        }
    }
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

/// Every such change at a place on which one of these contacts hangs, the same change of all bits of an array first: what
/// is brought in for a whole formula or a signal, then what is brought in for a part of a formula, then two together, then
/// three, then what is of one bit of several or takes a signal at a level at which nothing else takes it.
pub(crate) fn edits_from_near(circuit: &Circuit, contacts: &[Label]) -> [Vec<Edit>; 5] {
    let nets: Vec<NetId> = contacts
        .iter()
        .filter_map(|label| circuit.find_contact(label))
        .filter_map(|id| circuit.contacts().get(id.index()).map(|c| c.net))
        .collect();
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
        [Change::Near(_, _, (near, high)) | Change::NearEverywhere(_, _, (near, high))] => {
            lister.is_usual(*near, *high)
        }
        _ => true,
    };
    let [(whole, mut rest), (inside, more)] = [whole, inside].map(|all| all.into_iter().partition::<Vec<_>, _>(usual));
    rest.extend(more);
    let [[whole, bits], [inside, more], [two, _], [three, _], [rest, others]] =
        [whole, inside, two, three, rest].map(|all| super::list::lines_and_bits(circuit, all));
    [whole, inside, two, three, [bits, more, rest, others].concat()]
}

/// The signals and formulas that something reads, and at which level.
fn written(circuit: &Circuit) -> BTreeSet<(Near, bool)> {
    let mut all = BTreeSet::new();
    for slot in slots(circuit) {
        let root = slot.read(circuit);
        let operands = cone(circuit, root).into_iter().flat_map(|e| match circuit.op(e) {
            Op::Not(_) => Vec::new(),
            op => op.operands().collect(),
        });
        for e in operands.chain([root]) {
            let (of, high) = match circuit.op(e) {
                Op::Not(a) => (a, false),
                _ => (e, true),
            };
            all.insert((Near::of(circuit, of).unwrap_or(Near::Formula(of)), high));
        }
    }
    all
}

/// Formulas at most that are brought in.
const MOST_FORMULAS: usize = 16;

/// Conditions that have more than one use, or are the whole of what something hangs on: those used most first.
fn formulas(circuit: &Circuit) -> Vec<Near> {
    let whole: BTreeSet<Expr> =
        slots(circuit).into_iter().filter(|s| !matches!(s, Slot::Level(..))).map(|s| s.read(circuit)).collect();
    let is_formula = |e: &Expr| matches!(circuit.op(*e), Op::And(..) | Op::Or(..));
    let mut all: Vec<(Expr, usize)> = uses(circuit).into_iter().filter(|(e, _)| is_formula(e)).collect();
    all.retain(|(e, uses)| *uses > 1 || whole.contains(e));
    all.sort_by_key(|(e, uses)| (Reverse(*uses), *e));
    all.into_iter().take(MOST_FORMULAS).map(|(e, _)| Near::Formula(e)).collect()
}

/// For each expression, at how many places it is used; all bits of an array are one place.
fn uses(circuit: &Circuit) -> Vec<(Expr, usize)> {
    let mut uses: BTreeMap<Expr, BTreeSet<(String, String)>> = BTreeMap::new();
    for slot in slots(circuit) {
        let (name, origin) = slot.place(circuit);
        for e in cone(circuit, slot.read(circuit)) {
            uses.entry(e).or_default().insert((super::list::without_numbers(&name), origin.to_string()));
        }
    }
    uses.into_iter().map(|(e, of)| (e, of.len())).collect()
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

pub(super) struct NearLister<'c> {
    pub(super) circuit: &'c Circuit,
    signals: Vec<Near>,
    formulas: Vec<Near>,
    pub(super) written: BTreeSet<(Near, bool)>,
    within: Cone,
    /// What the contacts show, back to the registers and latches.
    shown: Cone,
}

/// The number in the last brackets of a name.
pub(super) fn index(name: &str) -> Option<&str> {
    let (_, rest) = name.trim_matches('`').rsplit_once('[')?;
    rest.strip_suffix(']')
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
        // a register may load what hangs on itself; a pin shows that only if it is read somewhere
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

    pub(super) fn is_usual(&self, near: Near, high: bool) -> bool {
        self.written.contains(&(near, high)) || !self.written.contains(&(near, !high))
    }

    /// What was written once and is used in several places.
    fn everywhere(&self, all: &mut Vec<Edit>) {
        let circuit = self.circuit;
        for (of, uses) in uses(circuit) {
            let is_formula = matches!(circuit.op(of), Op::And(..) | Op::Or(..));
            if uses < 2 || !(is_formula || literal(circuit, of).is_some()) {
                continue;
            }
            let whole = condition(circuit, of);
            let leaves: Vec<Expr> = match is_formula {
                true => cone(circuit, of).into_iter().filter(|&e| signal(circuit, e).is_some()).collect(),
                false => Vec::new(),
            };
            for &near in self.signals.iter().chain(&self.formulas).filter(|&&n| n != Near::Formula(of)) {
                let name = near.name(circuit);
                for high in [true, false] {
                    let mut add = |kind: EditKind, words: String, how: How| {
                        all.push(Edit {
                            kind,
                            words: format!("{words}, wherever ({whole}) is used"),
                            name: whole.clone(),
                            origin: Origin::Nowhere,
                            changes: vec![Change::NearEverywhere(of, how, (near, high))],
                        });
                    };
                    for &leaf in leaves.iter().filter(|&&leaf| Near::of(circuit, leaf) != Some(near)) {
                        let stands = signal(circuit, leaf).unwrap_or_default();
                        let words = match polarity(circuit, of, leaf) {
                            Some(p) => format!("{} instead of {stands} is {}", near.so(&name, p == high), level(p)),
                            None => format!("{} instead of {stands} is high", near.so(&name, high)),
                        };
                        add(EditKind::SignalReplaced, words, How::Instead(leaf));
                    }
                    let so = near.so(&name, high);
                    add(EditKind::ConditionAdded, format!("it counts only while {so} too"), How::And(of));
                    add(EditKind::TermAdded, format!("{so} counts as well"), How::Or(of));
                }
            }
        }
    }

    /// Parts of a formula: another one in the place of one, and what is missing in one.
    fn parts(&self, slot: Slot, all: &mut Vec<Edit>) {
        let circuit = self.circuit;
        let root = slot.read(circuit);
        let (name, origin) = slot.place(circuit);
        let (verb, _) = verb(circuit, slot);
        let is = if matches!(slot, Slot::Data(_)) { "" } else { "is " };
        let parts: Vec<Expr> = cone(circuit, root)
            .into_iter()
            .filter(|&e| matches!(circuit.op(e), Op::And(..) | Op::Or(..)) || literal(circuit, e).is_some())
            .collect();
        let mut add = |kind: EditKind, words: String, how: How, near: (Near, bool)| {
            all.push(Edit {
                kind,
                words: format!("`{name}` {is}{verb} {words}"),
                name: name.clone(),
                origin: origin.clone(),
                changes: vec![Change::Near(slot, how, near)],
            });
        };
        for &part in &parts {
            let is_formula = literal(circuit, part).is_none();
            let stands = match is_formula {
                true => format!("({})", condition(circuit, part)),
                false => condition(circuit, part),
            };
            for (near, with) in self.for_place(slot, &name) {
                if near == Near::Formula(part) || Near::of(circuit, part) == Some(near) {
                    continue;
                }
                for high in [true, false] {
                    let so = near.so(&with, high);
                    if is_formula {
                        let words = format!("with the condition that {so} in place of {stands}");
                        add(EditKind::SignalReplaced, words, How::Instead(part), (near, high));
                    }
                    if part != root {
                        let words = format!("where {stands} counts only while {so} too");
                        add(EditKind::ConditionAdded, words, How::And(part), (near, high));
                        let words = format!("where {so} counts as well as {stands}");
                        add(EditKind::TermAdded, words, How::Or(part), (near, high));
                    }
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
            Change::Near(slot, How::And(slot.read(self.circuit)), (near, high)),
        );
        add(
            EditKind::TermAdded,
            format!("{what} also while {so}"),
            Change::Near(slot, How::Or(slot.read(self.circuit)), (near, high)),
        );
    }
}

fn staged(stage: Stage) -> &'static str {
    match stage {
        Stage::PushPull => "a driver of both levels",
        Stage::ThreeState => "a three-state driver",
        Stage::OpenCollector => "an open collector",
    }
}
