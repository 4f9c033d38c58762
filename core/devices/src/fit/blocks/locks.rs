//! The pins that a user locks, and whether each lock is possible by itself.
use std::collections::BTreeMap;

use super::Site;
use super::needs::Needs;
use crate::device::{PinNumber, Role};
use crate::fit::NoFit;
use gluewright_kernel::circuit::Label;

/// What a user locks.
#[derive(Clone, Debug, Default)]
pub(super) struct Locks {
    /// Contacts that are only read, by variable.
    pub(super) inputs: BTreeMap<usize, PinNumber>,
    /// Macrocells with a contact, by index of the need.
    pub(super) outputs: BTreeMap<usize, PinNumber>,
    /// Buried macrocells, by index of the need.
    pub(super) buried: BTreeMap<usize, PinNumber>,
}

impl Locks {
    /// The pin of a contact that is only read.
    pub(super) fn input(&self, variable: usize) -> Option<PinNumber> {
        self.inputs.get(&variable).copied()
    }

    /// Whether nobody else is locked to a pin.
    pub(super) fn free_for_input(&self, pin: PinNumber, variable: usize) -> bool {
        self.inputs.iter().all(|(&v, &p)| p != pin || v == variable) && !self.outputs.values().any(|&p| p == pin)
    }

    fn names<'a>(&'a self, needs: &'a Needs) -> impl Iterator<Item = (String, PinNumber)> + 'a {
        let of = |index: usize| needs.list.get(index).map_or_else(String::new, |n| n.name.clone());
        let inputs = self.inputs.iter().map(|(&v, &p)| (needs.logic.name_of(v).to_owned(), p));
        inputs.chain(self.outputs.iter().map(move |(&i, &p)| (of(i), p)))
    }

    /// Everything that is locked, in words.
    pub(super) fn list(&self, needs: &Needs) -> String {
        let of = |index: usize| needs.list.get(index).map_or_else(String::new, |n| n.name.clone());
        let buried = self.buried.keys().map(|&i| of(i));
        let all: Vec<String> = self.names(needs).map(|(n, _)| n).chain(buried).map(|n| format!("`{n}`")).collect();
        all.join(", ")
    }

    pub(super) fn is_empty(&self) -> bool {
        self.inputs.is_empty() && self.outputs.is_empty() && self.buried.is_empty()
    }
}

/// Reads the wishes; in a socket without an adapter every contact is locked to its number.
pub(super) fn locks(needs: &Needs, site: Site<'_>) -> Locks {
    let wish = |label: &Label| match site.wishes.straight {
        true => label.number(),
        false => site.wishes.contacts.get(label).copied(),
    };
    let mut locks = Locks::default();
    for input in &needs.logic.inputs {
        if let Some(pin) = wish(&input.label) {
            locks.inputs.insert(input.variable, pin);
        }
    }
    for (index, need) in needs.list.iter().enumerate() {
        match need.output.and_then(|o| needs.logic.outputs.get(o)) {
            Some(output) => {
                locks.outputs.extend(wish(&output.label).map(|pin| (index, pin)));
            }
            None => {
                locks.buried.extend(site.wishes.buried.get(&need.name).map(|&pin| (index, pin)));
            }
        }
    }
    locks
}

/// Whether each lock is possible by itself.
pub(super) fn check(needs: &Needs, site: Site<'_>, locks: &Locks) -> Result<(), NoFit> {
    let name = |index: usize| needs.list.get(index).map_or_else(String::new, |n| n.name.clone());
    let no = |signal: String, pin: PinNumber, why: String| {
        Err(NoFit::Pinned { signal, pin, device: site.device.name, mode: "", why })
    };
    let mut taken: BTreeMap<PinNumber, String> = BTreeMap::new();
    for (signal, pin) in locks.names(needs) {
        match site.device.role(pin) {
            None => return no(signal, pin, "there is no such pin: choose another".into()),
            Some(Role::Vcc | Role::Gnd) => return no(signal, pin, "it carries a supply: choose another".into()),
            Some(_) => {}
        }
        if let Some(port) = site.blocks.port_signal(pin).filter(|_| site.wishes.port) {
            let why = format!(
                "it is {port} of the programming port: choose another, or give the port up in the wishes and program the device in a programmer"
            );
            return no(signal, pin, why);
        }
        if let Some(other) = taken.insert(pin, signal.clone()) {
            return no(signal, pin, format!("`{other}` is there: choose another"));
        }
    }
    for (&index, &pin) in &locks.outputs {
        if site.blocks.macrocell_at(pin).is_none() {
            return no(
                name(index),
                pin,
                "no macrocell is behind it, so it can only be an input: choose another".into(),
            );
        }
    }
    let mut used: BTreeMap<PinNumber, String> = BTreeMap::new();
    for (&index, &pin) in locks.outputs.iter().chain(&locks.buried) {
        if site.blocks.macrocell_at(pin).is_none() {
            return no(name(index), pin, "no macrocell is behind it: choose another".into());
        }
        if let Some(other) = used.insert(pin, name(index)) {
            return no(name(index), pin, format!("its macrocell holds `{other}`: choose another"));
        }
    }
    Ok(())
}
