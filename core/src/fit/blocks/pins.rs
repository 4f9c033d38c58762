//! Pins: what a user locks, what is kept, and which contact that is only read goes where.
use std::collections::{BTreeMap, BTreeSet};

use super::Site;
use super::globals::Globals;
use super::needs::Needs;
use crate::circuit::Label;
use crate::device::{PinNumber, Role};
use crate::fit::NoFit;

/// What a user locks.
#[derive(Clone, Debug, Default)]
pub(super) struct Locks {
    /// Contacts that are only read, by variable.
    inputs: BTreeMap<usize, PinNumber>,
    /// Macrocells with a contact, by index of the need.
    outputs: BTreeMap<usize, PinNumber>,
    /// Buried macrocells, by index of the need.
    buried: BTreeMap<usize, PinNumber>,
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

/// Which pins are open to outputs, and which macrocell is locked to whom.
#[derive(Clone, Debug)]
pub(super) struct Pins {
    locks: Locks,
    closed: BTreeSet<PinNumber>,
}

impl Pins {
    pub(super) fn new(needs: &Needs, site: Site<'_>, globals: &Globals, locks: Locks) -> Self {
        let kept = site.blocks.port.iter().map(|p| p.pin).filter(|&p| site.keeps(p));
        let read: BTreeSet<usize> = needs.inputs().into_iter().collect();
        let locked = locks.inputs.iter().filter(|(v, _)| read.contains(v)).map(|(_, &p)| p);
        let closed = kept.chain(locked).chain(globals.used()).collect();
        Pins { locks, closed }
    }

    /// The same without what the user locked.
    pub(super) fn unlocked(needs: &Needs, site: Site<'_>, globals: &Globals) -> Self {
        Pins::new(needs, site, globals, Locks::default())
    }

    /// The macrocell that a need is locked to.
    pub(super) fn lock(&self, site: Site<'_>, need: usize) -> Option<u16> {
        let pin = self.locks.outputs.get(&need).or_else(|| self.locks.buried.get(&need))?;
        site.blocks.macrocell_at(*pin)
    }

    /// Whether an output can be on the pin of this macrocell.
    pub(super) fn can_drive(&self, site: Site<'_>, macrocell: u16, need: usize) -> bool {
        let pin = site.blocks.macrocells.get(usize::from(macrocell).wrapping_sub(1)).copied().flatten();
        pin.is_some_and(|pin| {
            let locked = self.locks.outputs.iter().find(|(_, p)| **p == pin).map(|(&i, _)| i);
            !self.closed.contains(&pin) && locked.is_none_or(|i| i == need)
        })
    }

    /// A pin for every contact that is only read: globals and locks first, then pins that can do nothing else.
    pub(super) fn inputs(
        &self,
        needs: &Needs,
        site: Site<'_>,
        globals: &Globals,
        outputs: &BTreeSet<PinNumber>,
    ) -> Vec<(usize, PinNumber)> {
        let read = needs.inputs();
        let fixed = |v: usize| globals.pin_of(v).or_else(|| self.locks.input(v));
        let mut taken: BTreeSet<PinNumber> =
            read.iter().filter_map(|&v| fixed(v)).chain(outputs.iter().copied()).collect();
        let mut free: Vec<PinNumber> = site.signal_pins().collect();
        free.sort_by_key(|&p| (site.device.role(p) == Some(Role::Io), p));
        let mut places = Vec::with_capacity(read.len());
        for variable in read {
            let number = needs.logic.inputs.iter().find(|i| i.variable == variable).and_then(|i| i.label.number());
            let open = |p: &&PinNumber| !taken.contains(*p);
            let same = free.iter().find(|p| Some(**p) == number && open(p));
            let Some(pin) = fixed(variable).or_else(|| same.or_else(|| free.iter().find(open)).copied()) else {
                continue;
            };
            taken.insert(pin);
            places.push((variable, pin));
        }
        places
    }
}
