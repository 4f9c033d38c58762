//! Compares the contacts of an original with those of its replacement.
use std::collections::BTreeMap;

use super::finding::{Finding, FindingKind};
use crate::circuit::{Circuit, Contact, Direction, Label, Origin, Rail};

/// What keeps a replacement from sitting in the original's place: contacts that one of them lacks, contacts that they
/// drive from different sides, supply contacts that differ. Contacts are the same if their labels are; names don't count.
///
/// With an error among the findings the two can't be compared in a proof.
pub fn compare_contacts(original: &Circuit, replacement: &Circuit) -> Vec<Finding> {
    let before = side(original);
    let after = side(replacement);
    let mut findings = Vec::new();
    for (label, was) in &before {
        match (was, after.get(label)) {
            (Pin::Signal(was), None) => findings.push(missing(original, replacement, was)),
            (Pin::Signal(was), Some(Pin::Signal(is))) => findings.extend(direction(was, is)),
            (Pin::Signal(was), Some(Pin::Supply(rail))) => findings.push(Finding::error(
                FindingKind::ContactSupply,
                &was.origin,
                format!(
                    "contact {label} is the signal `{}` of the original and {} of the replacement",
                    was.name,
                    called(*rail)
                ),
                "declare the supply pins that the original has",
            )),
            (Pin::Supply(rail), Some(Pin::Signal(is))) => findings.push(Finding::error(
                FindingKind::ContactSupply,
                &is.origin,
                format!(
                    "contact {label} is {} of the original and the signal `{}` of the replacement",
                    called(*rail),
                    is.name
                ),
                "give the signal the number of its own contact",
            )),
            (Pin::Supply(was), Some(Pin::Supply(is))) if was != is => findings.push(Finding::error(
                FindingKind::ContactSupply,
                &Origin::Nowhere,
                format!("contact {label} is {} of the original and {} of the replacement", called(*was), called(*is)),
                "swap the two where the supply pins are declared",
            )),
            (Pin::Supply(_), Some(Pin::Supply(_))) => {}
            (Pin::Supply(rail), None) => findings.push(Finding::warning(
                FindingKind::ContactSupply,
                &Origin::Nowhere,
                format!(
                    "contact {label} is {} of the original, which holds it there, and the replacement leaves it open",
                    called(*rail)
                ),
                "declare it with `#[circuit(vcc = …, gnd = …)]` above the struct; several are written `gnd = [3, 15]`",
            )),
        }
    }
    for (label, is) in after.iter().filter(|(label, _)| !before.contains_key(*label)) {
        findings.push(match is {
            Pin::Signal(is) => Finding::error(
                FindingKind::ContactExtra,
                &is.origin,
                format!("the replacement has contact {label} (`{}`), and the original has none of that label", is.name),
                "mend its number, or give the contact a row in the trace: `open` if the card leaves it open",
            ),
            Pin::Supply(rail) => Finding::warning(
                FindingKind::ContactSupply,
                &Origin::Nowhere,
                format!("contact {label} is {} of the replacement, and the trace has no row for it", called(*rail)),
                "give it a row in the trace once you have measured it",
            ),
        });
    }
    findings
}

enum Pin<'a> {
    Signal(&'a Contact),
    Supply(Rail),
}

fn side(circuit: &Circuit) -> BTreeMap<&Label, Pin<'_>> {
    let signals = circuit.contacts().iter().map(|c| (&c.label, Pin::Signal(c)));
    signals.chain(circuit.supplies().iter().map(|(label, rail)| (label, Pin::Supply(*rail)))).collect()
}

fn called(rail: Rail) -> &'static str {
    match rail {
        Rail::Vcc => "VCC",
        Rail::Gnd => "GND",
    }
}

/// A contact of the original that the replacement lacks.
fn missing(original: &Circuit, replacement: &Circuit, was: &Contact) -> Finding {
    let (label, name) = (&was.label, &was.name);
    let kind = FindingKind::ContactMissing;
    let wire = original.joined_contacts().iter().find(|wire| wire.contains(label));
    let other = wire.into_iter().flatten().find(|other| *other != label && replacement.find_contact(other).is_some());
    if let Some(other) = other.filter(|_| was.direction == Direction::Input) {
        let message =
            format!("contacts {label} and {other} are one wire on the original; the replacement has {other} only");
        return Finding::warning(kind, &was.origin, message, "join the two by a wire on the adapter");
    }
    let mend = "give the replacement a field with this contact";
    if was.direction != Direction::Input {
        let message = format!("the original drives contact {label} (`{name}`), and the replacement does not have it");
        return Finding::error(kind, &was.origin, message, mend);
    }
    // an input that nothing on the card reads
    let read = original.expressions().any(|e| original.op(e).as_net() == Some(was.net));
    if read {
        let message = format!("the original reads contact {label} (`{name}`), and the replacement does not have it");
        Finding::error(
            kind,
            &was.origin,
            message,
            "give the replacement an input with this contact, even if it ignores it",
        )
    } else {
        let message =
            format!("contact {label} is joined to nothing on the original, and the replacement does not have it");
        Finding::note(kind, &was.origin, message, "")
    }
}

fn direction(was: &Contact, is: &Contact) -> Option<Finding> {
    let (label, name) = (&was.label, &is.name);
    let kind = FindingKind::ContactDirection;
    let (message, mend) = match (was.direction, is.direction) {
        (a, b) if a == b => return None,
        (Direction::Input, _) => (
            format!(
                "the replacement drives contact {label} (`{name}`), which nothing on the original drives: there it is on net `{}`",
                was.name
            ),
            "look at that net's name in the trace: a misspelt one joins nothing; if the trace is right, the board may drive \
             the contact: make it an input",
        ),
        (Direction::Output | Direction::InOut, Direction::Input) => (
            format!("the replacement only reads contact {label} (`{name}`), which the original drives"),
            "make it an output, or an input and output if it is read too",
        ),
        (Direction::Output, _) => {
            let message = format!("the replacement reads contact {label} (`{name}`), which the original only drives");
            return Some(Finding::warning(
                kind,
                &is.origin,
                message,
                "make it an output unless its level from outside matters",
            ));
        }
        (Direction::InOut, _) => {
            let message =
                format!("the replacement only drives contact {label} (`{name}`), which the original reads too");
            return Some(Finding::warning(
                kind,
                &is.origin,
                message,
                "make it an input and output, if the level from outside matters",
            ));
        }
    };
    Some(Finding::error(kind, &is.origin, message, mend))
}
