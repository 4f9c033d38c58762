//! Changes of what stands at several places: a signal taken at its other level throughout, a definition that several
//! outputs use, the same slip in one expression after the other.
use std::collections::{BTreeMap, BTreeSet};

use super::list::{slots, without_numbers};
use super::substitute::{Swap, cone, substitute};
use super::words::{condition, level, literal, signal};
use super::{Change, Edit, EditKind, Slot, polarity};
use gluewright_kernel::circuit::{Circuit, ElementId, Expr, NetId, Op, Origin, Stage};

/// Changes at all uses of one thing at once, where the uses stand in different lines, or in one line (of a macro, say) at
/// different places; `single` are the changes one by one.
pub(super) fn edits_at_all_uses(circuit: &Circuit, single: &[Edit]) -> Vec<Edit> {
    let uses = uses(circuit);
    let mut all = alike(circuit, single);
    for (&e, places) in &uses {
        if places.len() < 2 {
            continue;
        }
        match literal(circuit, e) {
            Some((leaf, true)) => all.extend(signal_inverted(circuit, leaf)),
            Some(_) => {}
            None => all.extend(inside(circuit, e)),
        }
    }
    all
}

/// A line of the source, what is defined there (all bits of an array are one), and what of it.
type Use = (String, String, Does);

/// For each expression, the places that depend on it.
fn uses(circuit: &Circuit) -> BTreeMap<Expr, BTreeSet<Use>> {
    let mut uses: BTreeMap<Expr, BTreeSet<Use>> = BTreeMap::new();
    for slot in slots(circuit) {
        let at = match slot {
            Slot::Enable(net, k) | Slot::Level(net, k) => {
                let driver = circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k));
                driver.map(|d| (d.origin.clone(), d.by.to_string()))
            }
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => {
                circuit.elements().get(e.index()).map(|e| (e.origin.clone(), e.name.clone()))
            }
        };
        let Some((origin, name)) = at else { continue };
        let what = Does::by(circuit, slot);
        let place = (origin.to_string(), without_numbers(&name), what);
        for e in cone(circuit, slot.read(circuit)) {
            uses.entry(e).or_default().insert(place.clone());
        }
    }
    uses
}

/// What happens by a slot, as two places share it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Does {
    Drives,
    PullsLow,
    Shows,
    Clocks,
    Opens,
    Loads,
    Follows,
    Clears,
    Presets,
}

impl Does {
    fn by(circuit: &Circuit, slot: Slot) -> Does {
        let is_latch = |e: ElementId| circuit.elements().get(e.index()).is_some_and(|e| !e.is_register());
        let stage =
            |net: NetId, k: usize| circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k)).map(|d| d.stage);
        match slot {
            Slot::Enable(net, k) if stage(net, k) == Some(Stage::OpenCollector) => Does::PullsLow,
            Slot::Enable(..) => Does::Drives,
            Slot::Level(..) => Does::Shows,
            Slot::Clock(e) if is_latch(e) => Does::Opens,
            Slot::Clock(_) => Does::Clocks,
            Slot::Data(e) if is_latch(e) => Does::Follows,
            Slot::Data(_) => Does::Loads,
            Slot::Clear(_) => Does::Clears,
            Slot::Preset(_) => Does::Presets,
        }
    }
}

/// What is changed inside a slot, as two places share it whatever else their formulas hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Slip {
    /// All of a formula, inverted.
    Whole,
    /// A signal or a formula, inverted, and whether it counts as it is.
    Inverted(Expr, Option<bool>),
    /// A factor or an alternative left out.
    LeftOut(Expr, Option<bool>),
    /// Another expression in the place of one.
    Replaced(Expr, Expr),
    /// *Or* for *and*, or the other way round.
    Operator(Expr),
    /// One operand inverted.
    Operand(Expr, usize),
}

impl Slip {
    fn of(circuit: &Circuit, root: Expr, (of, swap): (Expr, Swap)) -> Slip {
        match (swap, circuit.op(of)) {
            (Swap::Not, _) => match literal(circuit, root).filter(|_| of == root) {
                Some((leaf, high)) => Slip::Inverted(leaf, Some(high)),
                None if of == root => Slip::Whole,
                None => Slip::Inverted(of, polarity(circuit, root, of)),
            },
            (Swap::Other(kept), Op::And(a, b) | Op::Or(a, b)) if kept == a || kept == b => {
                Slip::LeftOut(if kept == a { b } else { a }, polarity(circuit, root, of))
            }
            (Swap::Other(other), _) => Slip::Replaced(of, other),
            (Swap::OtherOperator, _) => Slip::Operator(of),
            (Swap::Operand(k), _) => Slip::Operand(of, k),
        }
    }
}

/// The same change of the same signals at different places.
fn alike(circuit: &Circuit, single: &[Edit]) -> Vec<Edit> {
    let mut groups: BTreeMap<(EditKind, Does, Vec<Slip>), Vec<&Edit>> = BTreeMap::new();
    for edit in single {
        if let [Change::Inside(slot, swaps)] = edit.changes.as_slice() {
            let root = slot.read(circuit);
            let slips = swaps.iter().map(|&swap| Slip::of(circuit, root, swap)).collect();
            groups.entry((edit.kind, Does::by(circuit, *slot), slips)).or_default().push(edit);
        }
    }
    let mut all = Vec::new();
    for ((kind, ..), group) in groups {
        let Some(said) = group.first().and_then(|e| e.words.get(e.name.len() + "`` ".len()..)) else { continue };
        let places: BTreeSet<&str> = group.iter().map(|e| e.name.as_str()).collect();
        let mut lines: Vec<&Origin> = group.iter().map(|e| &e.origin).collect();
        lines.dedup();
        let mut names: Vec<String> = group.iter().map(|e| format!("`{}`", without_numbers(&e.name))).collect();
        names.dedup();
        if places.len() < group.len() || (lines.len() < 2 && names.len() < 2) {
            continue;
        }
        let numbers: BTreeSet<u32> = group.iter().filter_map(|e| line(&e.origin)).collect();
        let at = match numbers.is_empty() {
            true => String::new(),
            false => format!(" (lines {})", numbers.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")),
        };
        all.push(Edit {
            kind,
            name: names.join(", "),
            origin: Origin::Nowhere,
            words: format!("each of {} {said}{at}", names.join(", ")),
            changes: group.iter().flat_map(|e| e.changes.iter().cloned()).collect(),
        });
    }
    all
}

fn line(origin: &Origin) -> Option<u32> {
    match origin {
        Origin::Line { line, .. } => Some(*line),
        Origin::Nowhere => None,
    }
}

fn signal_inverted(circuit: &Circuit, leaf: Expr) -> Option<Edit> {
    let name = signal(circuit, leaf)?;
    let origin = match circuit.op(leaf) {
        Op::Net(n) => {
            let net = circuit.nets().get(n.index())?;
            let contact = net.contact.and_then(|c| circuit.contacts().get(c.index()));
            contact.map_or_else(|| net.origin.clone(), |c| c.origin.clone())
        }
        Op::Q(e) => circuit.elements().get(e.index())?.origin.clone(),
        _ => return None,
    };
    Some(Edit {
        kind: EditKind::LevelInverted,
        words: format!("{name} counts at its other level wherever it is used"),
        name: name.trim_matches('`').to_owned(),
        origin,
        changes: vec![Change::Everywhere(leaf, vec![(leaf, Swap::Not)])],
    })
}

/// Changes inside a product or a sum that several lines use.
fn inside(circuit: &Circuit, of: Expr) -> Vec<Edit> {
    let whole = condition(circuit, of);
    let mut trial = circuit.clone();
    let mut all = Vec::new();
    let mut add = |kind: EditKind, swaps: Vec<(Expr, Swap)>, what: String| {
        if substitute(&mut trial, of, &swaps) != of {
            all.push(Edit {
                kind,
                words: format!("{what} in ({whole}), wherever that is used"),
                name: whole.clone(),
                origin: Origin::Nowhere,
                changes: vec![Change::Everywhere(of, swaps)],
            });
        }
    };
    for e in cone(circuit, of) {
        if let Some(name) = signal(circuit, e) {
            let what = match polarity(circuit, of, e) {
                Some(high) => format!("{name} is {} instead of {}", level(!high), level(high)),
                None => format!("{name} is inverted"),
            };
            add(EditKind::ConditionInverted, vec![(e, Swap::Not)], what);
        }
        let (Op::And(a, b) | Op::Or(a, b)) = circuit.op(e) else { continue };
        let what = format!("({}) is inverted", condition(circuit, e));
        add(EditKind::LevelInverted, vec![(e, Swap::Not)], what);
        for (dropped, kept) in [(a, b), (b, a)] {
            let what = format!("({}) is left out", condition(circuit, dropped));
            add(EditKind::LiteralDropped, vec![(e, Swap::Other(kept))], what);
        }
        let what = format!("*and* and *or* are exchanged in ({})", condition(circuit, e));
        add(EditKind::OperatorExchanged, vec![(e, Swap::OtherOperator)], what);
    }
    all
}
