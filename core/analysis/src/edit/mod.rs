//! Single changes of a circuit, each in words: what a slip of the pen would have made of it, and what would mend one.
//!
//! [`edits`] lists every change of one thing at one place; [`edits_by_line`] takes together what one line of the source
//! wrote for all bits of an array. The changes are of the circuit, not of its text, so boards and lifted devices have
//! them too.
mod bring;
mod effect;
mod fingerprint;
mod inside;
mod known;
mod list;
mod near;
mod partly;
mod products;
mod shared;
mod source;
mod substitute;
#[cfg(test)]
mod tests;
mod words;

use std::fmt;

pub(crate) use bring::edits_from_near;
pub(crate) use effect::effect;
pub(crate) use fingerprint::fingerprint;
use gluewright_kernel::circuit::{
    Circuit, ContactId, Element, ElementId, Expr, Kind, Label, NetId, Op, Origin, Stage, Start,
};
use inside::polarity;
pub(crate) use list::exchanges_of_ways;
pub use list::{edits, edits_by_line};
use near::{How, Near, bring_in, restage};
pub(crate) use source::{OfSource, edits_of_source};
use substitute::{Swap, substitute};

/// What kind of change it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum EditKind {
    /// A contact declared with the other polarity.
    PolarityDeclared,
    /// Another number that a word is compared with.
    NumberChanged,
    /// A condition, or one signal in it, read at its other level.
    ConditionInverted,
    /// A level that is shown, loaded or followed, or one signal in it, inverted.
    LevelInverted,
    /// A register's other clock edge.
    EdgeSwapped,
    /// Never cleared.
    ClearDropped,
    /// Never preset.
    PresetDropped,
    /// Cleared or preset by a condition that already clears or presets something else.
    ClearAdded,
    /// Cleared when it should be preset, and the other way round.
    OverridesExchanged,
    /// Never driven.
    DriveDropped,
    /// Always driven.
    DriveForced,
    /// One factor of a product left out.
    LiteralDropped,
    /// One alternative of a sum left out.
    TermDropped,
    /// *Or* instead of *and*, or the other way round.
    OperatorExchanged,
    /// Two signals exchanged in one expression.
    SignalsExchanged,
    /// Two contacts exchanged.
    ContactsExchanged,
    /// A latch instead of a register.
    RegisterMadeLatch,
    /// A register instead of a latch.
    LatchMadeRegister,
    /// The other level, or a declared one, at power-up.
    StartChanged,
    /// Another signal in the place of one.
    SignalReplaced,
    /// Another kind of driver.
    StageChanged,
    /// Driven always where it should be let go at times.
    DriveAdded,
    /// Loads at every edge where it should hold at times.
    HoldAdded,
    /// A factor that is missing.
    ConditionAdded,
    /// An alternative that is missing.
    TermAdded,
}

impl EditKind {
    /// What is done, in words for a list of what was tried.
    pub fn words(self) -> &'static str {
        match self {
            EditKind::PolarityDeclared => "a contact declared with the other polarity",
            EditKind::ConditionInverted => "a condition inverted",
            EditKind::LevelInverted => "a level inverted",
            EditKind::EdgeSwapped => "the other clock edge",
            EditKind::ClearDropped => "a clear dropped",
            EditKind::PresetDropped => "a preset dropped",
            EditKind::ClearAdded => "a known clear or preset added",
            EditKind::OverridesExchanged => "clear and preset exchanged",
            EditKind::DriveDropped => "never driven",
            EditKind::DriveForced => "always driven",
            EditKind::LiteralDropped => "a condition left out",
            EditKind::TermDropped => "an alternative left out",
            EditKind::OperatorExchanged => "another operator",
            EditKind::SignalsExchanged => "two signals exchanged",
            EditKind::ContactsExchanged => "two contacts exchanged",
            EditKind::RegisterMadeLatch => "a latch for a register",
            EditKind::LatchMadeRegister => "a register for a latch",
            EditKind::StartChanged => "another level at power-up",
            EditKind::SignalReplaced => "another signal in place of one",
            EditKind::DriveAdded => "an enable added",
            EditKind::StageChanged => "another kind of driver",
            EditKind::HoldAdded => "a hold added",
            EditKind::ConditionAdded => "a condition added",
            EditKind::TermAdded => "an alternative added",
            EditKind::NumberChanged => "another number",
        }
    }
}

/// An expression that something depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Slot {
    /// When a net's driver drives.
    Enable(NetId, usize),
    /// The level that a net's driver drives.
    Level(NetId, usize),
    /// A register's clock, or when a latch is open.
    Clock(ElementId),
    /// What a register loads or a latch follows.
    Data(ElementId),
    /// When an element is cleared.
    Clear(ElementId),
    /// When an element is preset.
    Preset(ElementId),
}

impl Slot {
    /// What stands there; low if the circuit has no such place.
    pub fn read(self, circuit: &Circuit) -> Expr {
        let driver = |net: NetId, k: usize| circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k));
        let element = |e: ElementId| circuit.elements().get(e.index());
        let found = match self {
            Slot::Enable(net, k) => driver(net, k).map(|d| d.enable),
            Slot::Level(net, k) => driver(net, k).map(|d| d.level),
            Slot::Clock(e) => element(e).map(Element::gate),
            Slot::Data(e) => element(e).map(Element::data),
            Slot::Clear(e) => element(e).map(|e| e.clear),
            Slot::Preset(e) => element(e).map(|e| e.preset),
        };
        found.unwrap_or(Expr::LOW)
    }

    /// Whether it is of a net's driver, and not of what stores something.
    fn is_of_driver(self) -> bool {
        matches!(self, Slot::Enable(..) | Slot::Level(..))
    }

    /// The name of the driver or element that it is of, and where that was written.
    fn place(self, circuit: &Circuit) -> (String, Origin) {
        match self {
            Slot::Enable(net, k) | Slot::Level(net, k) => {
                let net = circuit.nets().get(net.index());
                net.and_then(|n| n.drivers.get(k)).map(|d| (d.by.to_string(), d.origin.clone()))
            }
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => {
                circuit.elements().get(e.index()).map(|e| (e.name.clone(), e.origin.clone()))
            }
        }
        .unwrap_or_default()
    }

    fn write(self, circuit: &mut Circuit, value: Expr) {
        match self {
            Slot::Enable(net, k) | Slot::Level(net, k) => {
                if let Some(d) = circuit.net_mut(net).and_then(|n| n.drivers.get_mut(k)) {
                    *(if matches!(self, Slot::Enable(..)) { &mut d.enable } else { &mut d.level }) = value;
                }
            }
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => {
                let Some(element) = circuit.element_mut(e) else { return };
                let at = match (self, &mut element.kind) {
                    (Slot::Clear(_), _) => &mut element.clear,
                    (Slot::Preset(_), _) => &mut element.preset,
                    (Slot::Clock(_), Kind::Register { clock: at, .. } | Kind::Latch { open: at, .. }) => at,
                    (_, Kind::Register { data: at, .. } | Kind::Latch { data: at, .. }) => at,
                };
                *at = value;
            }
        }
    }
}

#[derive(Clone, Debug)]
enum Change {
    /// Some expressions inside a slot become others.
    Inside(Slot, Vec<(Expr, Swap)>),
    /// Inside one expression, wherever it stands, some become others.
    Everywhere(Expr, Vec<(Expr, Swap)>),
    /// A slot becomes an expression of the same circuit.
    Set(Slot, Expr),
    /// A slot gets an alternative.
    Also(Slot, Expr),
    /// A signal from nearby is brought into a slot, at this level.
    Near(Slot, How, (Near, bool)),
    /// The same inside one expression, wherever that stands, or wherever it stands inside another one.
    NearEverywhere(Expr, How, (Near, bool), Uses),
    /// A driver gets another output stage.
    Stage(NetId, usize, Stage),
    /// Clear and preset change places.
    ExchangeOverrides(ElementId),
    /// Register to latch or latch to register.
    OtherKind(ElementId),
    Start(ElementId, Start),
    ExchangeContacts(ContactId, ContactId),
    /// The source builds another circuit.
    Whole(source::Built),
}

impl Change {
    fn apply(&self, circuit: &mut Circuit) {
        match self {
            Change::Inside(slot, swaps) => {
                let root = slot.read(circuit);
                let value = substitute(circuit, root, swaps);
                slot.write(circuit, value);
            }
            Change::Everywhere(of, swaps) => {
                let new = substitute(circuit, *of, swaps);
                exchange(circuit, (*of, Uses::All), new);
            }
            Change::NearEverywhere(of, how, near, uses) => {
                let new = near::brought_in(circuit, (*of, None), *how, *near);
                exchange(circuit, (*of, *uses), new);
            }
            Change::Set(slot, value) => slot.write(circuit, *value),
            Change::Also(slot, more) => {
                let value = slot.read(circuit);
                let value = circuit.or(value, *more);
                slot.write(circuit, value);
            }
            Change::Near(slot, how, near) => bring_in(circuit, *slot, *how, *near),
            Change::Stage(net, k, stage) => restage(circuit, *net, *k, *stage),
            Change::ExchangeOverrides(e) => {
                if let Some(e) = circuit.element_mut(*e) {
                    std::mem::swap(&mut e.clear, &mut e.preset);
                }
            }
            Change::OtherKind(e) => {
                if let Some(e) = circuit.element_mut(*e) {
                    e.kind = match e.kind {
                        Kind::Register { clock, data } => Kind::Latch { open: clock, data },
                        Kind::Latch { open, data } => Kind::Register { clock: open, data },
                    };
                }
            }
            Change::Start(e, start) => {
                if let Some(e) = circuit.element_mut(*e) {
                    e.start = *start;
                }
            }
            Change::Whole(other) => circuit.clone_from(&other.circuit),
            Change::ExchangeContacts(a, b) => {
                let label = |c: &Circuit, id: &ContactId| c.contacts().get(id.index()).map(|c| c.label.clone());
                let (Some(la), Some(lb)) = (label(circuit, a), label(circuit, b)) else { return };
                for (id, label) in [(a, lb), (b, la)] {
                    if let Some(contact) = circuit.contact_mut(*id) {
                        contact.label = label;
                    }
                }
            }
        }
    }
}

/// Which uses of an expression are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Uses {
    All,
    /// Where it is a part of something, and not the whole.
    AsPart,
    /// Where something is driven by it, and not where something is stored.
    InDrivers,
}

/// Another expression in the place of one, wherever that stands.
fn exchange(circuit: &mut Circuit, (of, uses): (Expr, Uses), new: Expr) {
    for slot in list::slots(circuit) {
        let root = slot.read(circuit);
        let is_meant = match uses {
            Uses::All => true,
            Uses::AsPart => root != of && circuit.op(root) != Op::Not(of),
            Uses::InDrivers => slot.is_of_driver(),
        };
        if !is_meant {
            continue;
        }
        let value = substitute(circuit, root, &[(of, Swap::Other(new))]);
        slot.write(circuit, value);
    }
}

/// One change of a circuit.
#[derive(Clone, Debug)]
pub struct Edit {
    /// What kind it is.
    pub kind: EditKind,
    /// The signal, element or driver that it changes.
    pub name: String,
    /// Where that was written.
    pub origin: Origin,
    words: String,
    changes: Vec<Change>,
}

impl Edit {
    /// The circuit with this change. It is meant for the circuit whose edits were listed.
    #[must_use]
    pub fn apply(&self, circuit: &Circuit) -> Circuit {
        let mut changed = circuit.clone();
        for change in &self.changes {
            change.apply(&mut changed);
        }
        changed
    }

    /// Whether it is made by building the source again.
    pub(crate) fn is_of_source(&self) -> bool {
        matches!(self.changes.as_slice(), [Change::Whole(_)])
    }

    /// The circuit with all of these changes; nothing if they can't be made together.
    pub(crate) fn apply_all(edits: &[&Edit], circuit: &Circuit) -> Option<Circuit> {
        let mut whole = Vec::new();
        let mut others = Vec::new();
        for edit in edits {
            match edit.changes.as_slice() {
                [Change::Whole(built)] => whole.push(built),
                _ => others.push(*edit),
            }
        }
        if whole.is_empty() {
            return Some(others.iter().fold(circuit.clone(), |made, edit| edit.apply(&made)));
        }
        let built = source::Built::together(&whole)?;
        // another circuit has other handles: the same change of it reads the same
        let mut known = if others.is_empty() { Vec::new() } else { edits_by_line(&built) };
        let is_near = |e: &&Edit| matches!(e.changes.first(), Some(Change::Near(..) | Change::NearEverywhere(..)));
        if others.iter().any(is_near) {
            let contacts: Vec<Label> = built.contacts().iter().map(|c| c.label.clone()).collect();
            known.extend(edits_from_near(&built, &contacts).into_iter().flatten());
        }
        let same = |edit: &&Edit| known.iter().find(|e| e.words == edit.words && e.origin == edit.origin);
        others.iter().try_fold(built.clone(), |made, edit| same(edit).map(|same| same.apply(&made)))
    }

    /// The change in words, as it reads after it was made: `` `data` is driven while `read` is low instead of high ``.
    pub fn words(&self) -> &str {
        &self.words
    }
}

impl fmt::Display for Edit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)?;
        match &self.origin {
            Origin::Nowhere => Ok(()),
            Origin::Line { line, .. } => write!(f, " (line {line})"),
        }
    }
}
