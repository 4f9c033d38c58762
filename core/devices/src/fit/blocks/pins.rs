//! Pins: what is kept, and which contact that is only read goes where.
use std::collections::BTreeSet;

use super::Site;
use super::globals::Globals;
use super::locks::Locks;
use super::needs::Needs;
use crate::device::{PinNumber, Role};

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
