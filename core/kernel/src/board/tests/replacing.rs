//! Contacts of a replacement against those of the original.
use super::*;
use crate::circuit::{Contact, Direction, Origin, Polarity, Rail};
use FindingKind::*;

fn original() -> Circuit {
    board(INVERTER).circuit().expect("a circuit")
}

/// A replacement with these contacts and supplies.
fn replacement(contacts: &[(u16, Direction)], supplies: &[(u16, Rail)]) -> Circuit {
    let mut circuit = Circuit::new("replacement");
    for &(label, direction) in contacts {
        let name = format!("s{label}");
        let net = circuit.add_net(name.clone(), Origin::Nowhere);
        let origin = Origin::line(&"stand_in.rs".into(), label.into());
        circuit.add_contact(Contact { label: label.into(), name, net, polarity: Polarity::Data, direction, origin });
    }
    for &(label, rail) in supplies {
        circuit.add_supply(label.into(), rail);
    }
    circuit
}

const SUPPLIES: [(u16, Rail); 2] = [(7, Rail::Gnd), (14, Rail::Vcc)];

#[track_caller]
fn says(contacts: &[(u16, Direction)], supplies: &[(u16, Rail)], kind: FindingKind, severity: Severity, words: &str) {
    let found = compare_contacts(&original(), &replacement(contacts, supplies));
    let [only] = &found[..] else { panic!("{found:#?}") };
    assert_eq!((only.kind, only.severity), (kind, severity), "{only}");
    assert!(only.to_string().contains(words), "{only}");
}

#[test]
fn the_same_contacts_are_fine() {
    let same = replacement(&[(1, Direction::Input), (2, Direction::Output)], &SUPPLIES);
    assert_eq!(compare_contacts(&original(), &same), []);
    assert_eq!(compare_contacts(&original(), &original()), []);
}

#[test]
fn missing_and_extra_contacts_are_errors() {
    says(
        &[(1, Direction::Input)],
        &SUPPLIES,
        ContactMissing,
        Severity::Error,
        "card.csv:3: error: the original drives contact 2 (`y`)",
    );
    says(
        &[(2, Direction::Output)],
        &SUPPLIES,
        ContactMissing,
        Severity::Error,
        "card.csv:2: error: the original reads contact 1 (`a`)",
    );
    let more = [(1, Direction::Input), (2, Direction::Output), (3, Direction::Input)];
    says(&more, &SUPPLIES, ContactExtra, Severity::Error, "stand_in.rs:3: error: the replacement has contact 3 (`s3`)");
}

#[test]
fn a_contact_that_the_card_leaves_open_may_be_missing() {
    let open = board(&format!("{INVERTER}J1,contacts,9,open\n")).circuit().expect("a circuit");
    let same = replacement(&[(1, Direction::Input), (2, Direction::Output)], &SUPPLIES);
    let found = compare_contacts(&open, &same);
    assert_eq!(found.iter().map(|f| (f.kind, f.severity)).collect::<Vec<_>>(), [(ContactMissing, Severity::Note)]);
}

#[test]
fn directions_must_agree() {
    use Direction::{InOut, Input, Output};
    says(
        &[(1, Output), (2, Output)],
        &SUPPLIES,
        ContactDirection,
        Severity::Error,
        "stand_in.rs:1: error: the replacement drives",
    );
    says(&[(1, InOut), (2, Output)], &SUPPLIES, ContactDirection, Severity::Error, "nothing on the original drives");
    says(
        &[(1, Input), (2, Input)],
        &SUPPLIES,
        ContactDirection,
        Severity::Error,
        "stand_in.rs:2: error: the replacement only reads",
    );
    says(&[(1, Input), (2, InOut)], &SUPPLIES, ContactDirection, Severity::Warning, "which the original only drives");
}

#[test]
fn supplies_must_agree() {
    use Direction::{Input, Output};
    let both = [(1, Input), (2, Output)];
    says(
        &both,
        &[(7, Rail::Gnd), (14, Rail::Gnd)],
        ContactSupply,
        Severity::Error,
        "VCC of the original and GND of the replacement",
    );
    says(&both, &[(7, Rail::Gnd)], ContactSupply, Severity::Warning, "contact 14 is VCC of the original");
    says(&both, &[(7, Rail::Gnd), (14, Rail::Vcc), (20, Rail::Vcc)], ContactSupply, Severity::Warning, "contact 20");
    says(
        &[(1, Input), (2, Output), (14, Input)],
        &[(7, Rail::Gnd)],
        ContactSupply,
        Severity::Error,
        "stand_in.rs:14: error",
    );
    says(
        &[(1, Input)],
        &[(2, Rail::Gnd), (7, Rail::Gnd), (14, Rail::Vcc)],
        ContactSupply,
        Severity::Error,
        "the signal `y`",
    );
}
