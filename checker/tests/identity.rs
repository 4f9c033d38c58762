//! Every part of the tables, and whole boards, beside themselves: the relation that ties each bit to itself must stand, and
//! must not once a bit is turned round.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::collections::HashSet;

use gluewright_checker::certificate::{Bit as Named, Claim, Group, Relation, Side};
use gluewright_checker::induction::check;
use gluewright_checker::machine::{Bit, Machine};
use gluewright_checker::pair::Pair;
use gluewright_checker::part::{Library, Role};
use gluewright_checker::trace::Trace;
use gluewright_checker::verdict::Verdict;

fn claim() -> Claim {
    serde_json::from_str(
        r#"{"original": "a", "replacement": "b", "assumptions": [], "restrictions": [], "groups": [],
            "settled_contacts": [], "left_out": [], "acknowledged": []}"#,
    )
    .unwrap()
}

fn machine(library: &Library, text: &str) -> Machine {
    let model = Trace::read(text).unwrap().model(library).unwrap_or_else(|e| panic!("{e}\n{text}"));
    Machine::new(model, |_| true, &HashSet::new(), &HashSet::new())
}

/// The names of all bits that a circuit holds.
fn bits(m: &Machine) -> Vec<String> {
    let looked_at = |bit: &Bit| match *bit {
        Bit::Held(e) | Bit::Mark(e) => m.live[e],
        Bit::Cut(_) => true,
        Bit::Float(_) => false,
    };
    m.bits.iter().filter(|b| looked_at(b)).map(|&b| m.names(b)[0].clone()).collect()
}

fn beside_itself(library: &Library, original: &str, replacement: &str, turned: Option<usize>) -> Verdict {
    let models = [original, replacement].map(|text| Trace::read(text).unwrap().model(library).unwrap());
    let bit = |side, bit: &String, inverted| Named { side, bit: bit.clone(), inverted };
    let names = bits(&machine(library, original));
    let classes = names.iter().enumerate().map(|(i, b)| Group {
        bits: vec![bit(Side::Original, b, false), bit(Side::Replacement, b, turned == Some(i))],
        ..Group::default()
    });
    let relation =
        Relation { classes: classes.collect(), combinations: Vec::new(), alike: Vec::new(), starts: vec![Vec::new()] };
    let claim = claim();
    let pair = Pair::new(models, Default::default(), &claim).unwrap();
    let mut verdict = Verdict::default();
    check(&pair, &relation, &mut verdict);
    verdict
}

/// A board of one part, every pin on a contact; outputs that let go have a resistor where `pulled`.
fn alone(library: &Library, kind: &str) -> String {
    let part = library.part(kind).unwrap();
    let mut rows = "ref,part,pin,net\n".to_owned();
    for (i, pin) in part.pins.iter().enumerate() {
        let net = match pin.role {
            Role::Vcc => "VCC".to_owned(),
            Role::Gnd => "GND".to_owned(),
            Role::Nc => continue,
            _ => format!("n{i}"),
        };
        rows.push_str(&format!("U1,{kind},{},{net}\n", pin.number));
        if net.starts_with('n') {
            rows.push_str(&format!("J1,contacts,{},{net}\n", pin.number));
        }
    }
    rows
}

/// Every part beside itself. What the sheets leave open is against the one and for the other: an objection is right where
/// the checker says that there was a choice, and nowhere else.
#[test]
fn every_part_equals_itself_unless_it_is_turned() {
    let library = Library::read().unwrap();
    let (mut equal, mut open, mut turned) = (0, 0, 0);
    for kind in library.types() {
        let text = alone(&library, &kind);
        let machine = machine(&library, &text);
        let report = beside_itself(&library, &text, &text, None);
        if !report.objections.is_empty() {
            assert!(!report.chosen.is_empty(), "{kind}: {:?}", report.objections);
            println!("{kind}: {:?} for {:?}", report.objections, report.chosen);
            open += 1;
            continue;
        }
        equal += 1;
        if !bits(&machine).is_empty() {
            let report = beside_itself(&library, &text, &text, Some(0));
            assert!(!report.objections.is_empty(), "{kind} with a bit turned");
            turned += 1;
        }
    }
    println!("{equal} parts equal themselves, {open} leave something open; {turned} with a bit turned are objected to");
    assert!(equal > 200 && turned > 60 && open < 12, "{equal} {turned} {open}");
}

#[test]
fn the_boards_of_the_examples_equal_themselves() {
    let library = Library::read().unwrap();
    for (name, text) in [
        ("sample card", include_str!("../../examples/src/sample_card.csv")),
        ("organ memory", include_str!("../../examples/src/organ_memory.csv")),
        ("loom bridge", include_str!("../../examples/src/loom_bridge.csv")),
    ] {
        let began = std::time::Instant::now();
        let report = beside_itself(&library, text, text, None);
        println!("{name}: {:?} {:?} {:?}", report.objections, report.counts, began.elapsed());
    }
}
