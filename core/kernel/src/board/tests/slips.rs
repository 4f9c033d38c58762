//! In which order the single changes of a trace are tried, and which types stand in for which.
use super::*;

/// What is changed, in the order of the trying, of the changes whose words hold this.
fn changes(rows: &str, holding: &str) -> Vec<String> {
    board(rows).alterations().into_iter().map(|a| a.words).filter(|w| w.contains(holding)).collect()
}

#[test]
fn types_with_the_same_pins_stand_in_for_each_other() {
    // of the drawer, the 74LS05 has the pins of the 74LS04, and none of the others has
    assert_eq!(changes(INVERTER, "instead of a"), ["U1 is a 74LS05 instead of a 74LS04"]);
    let gates = "J1,contacts,1,a\nJ1,contacts,2,y\nJ1,contacts,7,GND\nJ1,contacts,14,VCC\nU1,74LS00,1,a\nU1,74LS00,2,a\n\
                 U1,74LS00,3,y\nU1,74LS00,7,GND\nU1,74LS00,14,VCC\nU1,74LS00,others,open\n";
    assert_eq!(changes(gates, "instead of a"), ["U1 is a 74LS08 instead of a 74LS00"]);
}

#[test]
fn a_type_that_stands_in_makes_another_board() {
    let card = board(INVERTER);
    let all = card.alterations();
    let other = all.iter().find(|a| a.words.contains("74LS05")).expect("it has the pins");
    let altered = card.altered(other).expect("sound");
    let types: Vec<&str> = altered.chips().map(|(_, part)| part.name()).collect();
    assert_eq!(types, ["74LS05"]);
}

/// The net `strange` has two readers and no driver: what would put another net in its place comes first of its kind.
#[test]
fn what_a_finding_names_comes_first_of_its_kind() {
    let rows =
        INVERTER.replace("U1,74LS04,3,GND", "U1,74LS04,3,strange").replace("U1,74LS04,11,GND", "U1,74LS04,11,strange");
    assert_eq!(said(&rows, FindingKind::NoDriver).len(), 1);
    let moved = changes(&rows, "is on the net");
    let inputs = |of: &[String]| of.iter().filter(|w| w.contains("`strange`")).count();
    let named = inputs(&moved);
    assert!(named > 5 && named < moved.len(), "{moved:#?}");
    assert_eq!(inputs(&moved[..named]), named, "{moved:#?}");
    // the kinds keep their order
    let kinds = |rows: &str| {
        let mut kinds: Vec<&str> = board(rows).alterations().iter().map(|a| a.kind).collect();
        kinds.dedup();
        kinds
    };
    assert!(kinds(INVERTER).iter().all(|kind| kinds(&rows).contains(kind)));
    let order = kinds(&rows);
    assert_eq!(order.iter().collect::<std::collections::BTreeSet<_>>().len(), order.len(), "{order:?}");
}
