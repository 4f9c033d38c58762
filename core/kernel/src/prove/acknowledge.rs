//! Acknowledgements by name: of what settling hides in a net or a register, or of the pulses of a contact.
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Label};
use crate::nearest::{did_you_mean, nearest};

use super::hidden::Of;

/// What an acknowledgement can be about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Net,
    Register,
    Contact,
}

const KINDS: [(Kind, &str); 3] = [(Kind::Net, "net"), (Kind::Register, "register"), (Kind::Contact, "contact")];

/// All names of a pair of circuits.
pub(super) struct Names {
    of: [BTreeSet<String>; 3],
    /// Contacts by label and name together.
    contacts: BTreeSet<String>,
}

impl Names {
    pub(super) fn new(circuits: [&Circuit; 2]) -> Self {
        let nets = circuits.iter().flat_map(|c| c.nets().iter().map(|n| n.name.clone()));
        let elements = circuits.iter().flat_map(|c| c.elements().iter().map(|e| e.name.clone()));
        let contacts =
            circuits.iter().flat_map(|c| c.contacts().iter().flat_map(|c| [c.name.clone(), c.label.to_string()]));
        let named = circuits.iter().flat_map(|c| c.contacts().iter().map(|c| contact(&c.label, &c.name))).collect();
        Names { of: [nets.collect(), elements.collect(), contacts.collect()], contacts: named }
    }

    fn has(&self, kind: Kind, name: &str) -> bool {
        KINDS.iter().zip(&self.of).any(|((k, _), names)| *k == kind && names.contains(name))
    }

    /// Whether it is of a kind of event on one side, the contacts given as findings give them.
    fn is_event(&self, acknowledged: &str) -> bool {
        [Of::Original, Of::Replacement].iter().any(|&of| {
            let events = acknowledged.strip_suffix(event_call("", of).as_str());
            events.is_some_and(|all| all.split(", ").all(|contact| self.contacts.contains(contact)))
        })
    }

    /// Whether a contact bears this name, and a net or register too: then the kind must be said.
    fn is_shared(&self, name: &str) -> bool {
        self.has(Kind::Contact, name) && (self.has(Kind::Net, name) || self.has(Kind::Register, name))
    }

    /// What acknowledges this: the name, with its kind before it where that must be said.
    pub(super) fn call(&self, kind: Kind, name: &str) -> String {
        match KINDS.iter().find(|(k, _)| *k == kind) {
            Some((_, word)) if self.is_shared(name) => format!("{word} {name}"),
            _ => name.to_owned(),
        }
    }

    /// Whether an acknowledgement is of one thing that is there; else why not, with the mend.
    pub(super) fn check(&self, acknowledged: &str) -> Result<(), String> {
        if self.is_event(acknowledged) {
            return Ok(());
        }
        if self.is_shared(acknowledged) {
            let others: Vec<String> = KINDS
                .iter()
                .filter(|(k, _)| *k != Kind::Contact && self.has(*k, acknowledged))
                .map(|(_, word)| format!("`{word} {acknowledged}`"))
                .collect();
            return Err(format!(
                "`{acknowledged}` is acknowledged, but a contact bears that name and something else too: say `contact \
                 {acknowledged}` if the contact's pulses do not matter, {} if what settling hides there does not",
                others.join(" or ")
            ));
        }
        let is_known = KINDS.iter().any(|&(kind, word)| {
            self.has(kind, acknowledged) || within(acknowledged, word).is_some_and(|name| self.has(kind, name))
        });
        if is_known {
            return Ok(());
        }
        let bare = KINDS.iter().find_map(|(_, word)| within(acknowledged, word)).unwrap_or(acknowledged);
        let is_near = |slips, name: &str| slips <= 3 && slips < name.chars().count();
        let near = nearest(bare, self.of.iter().flatten().map(String::as_str), is_near);
        let near = did_you_mean(&near).map_or(String::new(), |question| format!(": {question}"));
        Err(format!("`{acknowledged}` is acknowledged, but no net, register or contact has that name{near}"))
    }
}

/// A contact by label and name.
pub(super) fn contact(label: &Label, name: &str) -> String {
    if name == label.as_str() { name.to_owned() } else { format!("{label} {name}") }
}

/// What acknowledges all that the order of changes leaves open in one kind of event, on one side.
pub(super) fn event_call(event: &str, of: Of) -> String {
    format!("{event} of the {of}")
}

/// The name after the word of its kind.
fn within<'a>(acknowledged: &'a str, word: &str) -> Option<&'a str> {
    acknowledged.strip_prefix(word)?.strip_prefix(' ')
}

/// Whether one of these acknowledges the thing of this kind and name.
pub(super) fn is_among(acknowledged: &[String], kind: Kind, name: &str) -> bool {
    let word = KINDS.iter().find(|(k, _)| *k == kind).map_or("", |k| k.1);
    acknowledged.iter().any(|a| a == name || within(a, word) == Some(name))
}
