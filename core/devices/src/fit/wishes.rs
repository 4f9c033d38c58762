//! What a user may ask of a fit: pins, and nodes that stay.
use std::collections::{BTreeMap, BTreeSet};

use crate::device::PinNumber;
use gluewright_kernel::circuit::{Circuit, Label, NetId};
use gluewright_kernel::limit::Limit;

/// Contacts that may change within one settling step although nothing in the circuit says so: the circuit is a share of
/// a larger one, and another share makes some of them follow others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moves {
    /// The contacts.
    pub contacts: BTreeSet<Label>,
    /// Together with the registers: they follow a clock edge.
    pub registers: bool,
}

/// What a user asks of a fit. Without wishes everything is free.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wishes {
    pub(super) contacts: BTreeMap<Label, PinNumber>,
    pub(super) buried: BTreeMap<String, PinNumber>,
    pub(super) keep: BTreeSet<String>,
    pub(super) signature: Vec<u8>,
    pub(super) straight: bool,
    pub(super) open: BTreeSet<Label>,
    pub(super) port: bool,
    pub(super) moves: Vec<Moves>,
    pub(super) limit: Limit,
}

impl Default for Wishes {
    fn default() -> Self {
        Wishes {
            contacts: BTreeMap::new(),
            buried: BTreeMap::new(),
            keep: BTreeSet::new(),
            signature: Vec::new(),
            straight: false,
            open: BTreeSet::new(),
            port: true,
            moves: Vec::new(),
            limit: Limit::default(),
        }
    }
}

impl Wishes {
    /// No wishes.
    pub fn none() -> Self {
        Wishes::default()
    }

    /// Until this limit: then it is no fit, whatever was found.
    #[must_use]
    pub fn within(mut self, limit: Limit) -> Self {
        self.limit = limit;
        self
    }

    /// The limit of everything that is done for these wishes.
    pub fn limit(&self) -> Limit {
        self.limit
    }

    /// This contact goes to this pin of the device.
    pub fn pin(mut self, contact: impl Into<Label>, pin: PinNumber) -> Self {
        self.contacts.insert(contact.into(), pin);
        self
    }

    /// This buried register, latch or node goes to the macrocell with this pin.
    pub fn bury(mut self, name: impl Into<String>, pin: PinNumber) -> Self {
        self.buried.insert(name.into(), pin);
        self
    }

    /// This plain node gets a macrocell of its own even where it could be dissolved.
    pub fn keep(mut self, node: impl Into<String>) -> Self {
        self.keep.insert(node.into());
        self
    }

    /// The device goes into the socket as it is: pin numbers are contact numbers. Nothing may be driven that the socket
    /// connects, so what has to be driven inside the device needs contacts that are [open](Wishes::open).
    pub fn straight_through(mut self) -> Self {
        self.straight = true;
        self
    }

    /// Nothing on the board is connected to this contact of the socket. Only needed without an adapter.
    pub fn open(mut self, contact: impl Into<Label>) -> Self {
        self.open.insert(contact.into());
        self
    }

    /// The pins of the programming port carry signals like others; the device can then be programmed in a programmer
    /// only, and not in its circuit.
    pub fn without_programming_port(mut self) -> Self {
        self.port = false;
        self
    }

    /// What the device's signature fuses hold.
    pub fn signature(mut self, bytes: impl Into<Vec<u8>>) -> Self {
        self.signature = bytes.into();
        self
    }

    /// The nets of the nodes that get a macrocell of their own, or the first that isn't there.
    pub fn kept_nets(&self, circuit: &Circuit) -> Result<BTreeSet<NetId>, String> {
        self.keep.iter().map(|name| circuit.find_net(name).ok_or_else(|| name.clone())).collect()
    }

    /// What holds for a share of the circuit: the pins of its contacts and of what is buried in it, its nodes, the
    /// signature, the programming port; the socket is the adapter's.
    pub fn for_share(&self, share: &Circuit, moves: Vec<Moves>) -> Wishes {
        let inside = |name: &&String| {
            let net = share.find_net(name).and_then(|id| share.nets().get(id.index()));
            net.is_some_and(|n| n.contact.is_none())
        };
        let keep = self.keep.iter().filter(inside).cloned().collect();
        let has = |label: &Label| share.contacts().iter().any(|c| c.label == *label);
        let holds = |name: &str| share.elements().iter().any(|e| e.name == name) || share.find_net(name).is_some();
        let contacts = self.contacts.iter().filter(|(label, _)| has(label)).map(|(l, p)| (l.clone(), *p)).collect();
        let buried = self.buried.iter().filter(|(name, _)| holds(name)).map(|(n, p)| (n.clone(), *p)).collect();
        let (signature, port) = (self.signature.clone(), self.port);
        Wishes { contacts, buried, keep, moves, signature, port, ..Wishes::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_gives_up_the_programming_port_as_the_whole_does() {
        let share = Circuit::new("share");
        assert!(!Wishes::none().without_programming_port().for_share(&share, Vec::new()).port);
        assert!(Wishes::none().for_share(&share, Vec::new()).port);
    }
}
