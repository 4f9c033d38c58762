//! What a board becomes: nets, contacts, directions, rails, names and origins.
use super::*;
use crate::circuit::{Direction, Expr, Label, Op, Polarity, Rail, Stage};

fn circuit(rows: &str) -> Circuit {
    board(rows).circuit().unwrap_or_else(|error| panic!("{error}"))
}

fn direction(circuit: &Circuit, label: &str) -> Direction {
    let id = circuit.find_contact(&Label::new(label)).unwrap_or_else(|| panic!("no contact {label}"));
    circuit.contacts()[id.index()].direction
}

#[test]
fn the_inverter_inverts() {
    let card = circuit(INVERTER);
    assert_eq!(card.name, "card");
    assert_eq!(card.supplies(), [("7".into(), Rail::Gnd), ("14".into(), Rail::Vcc)]);
    let [a, y] = ["1", "2"].map(|label| &card.contacts()[card.find_contact(&label.into()).expect("it").index()]);
    assert_eq!((a.name.as_str(), a.direction, a.polarity), ("a", Direction::Input, Polarity::Data));
    assert_eq!((y.name.as_str(), y.direction), ("y", Direction::Output));
    let [driver] = &card.nets()[y.net.index()].drivers[..] else { panic!("one driver") };
    let Op::Not(inner) = card.op(driver.level) else { panic!("{:?}", card.op(driver.level)) };
    assert_eq!(card.op(inner), Op::Net(a.net));
    assert_eq!((driver.by.to_string().as_str(), driver.origin.to_string().as_str()), ("U1 pin 2", "card.csv:7"));
    assert_eq!(a.origin.to_string(), "card.csv:2");
}

#[test]
fn tied_inputs_are_constants_and_open_ones_float() {
    let card =
        circuit(&INVERTER.replace("U1,74LS04,5,GND", "U1,74LS04,5,open").replace("U1,74LS04,3,GND", "U1,74LS04,3,+5V"));
    let drivers = |name: &str| card.nets()[card.find_net(name).expect("it").index()].drivers.clone();
    assert_eq!(drivers("U1 pin 4")[0].level, Expr::LOW);
    let floating = card.find_net("U1 pin 5").expect("it");
    assert!(drivers("U1 pin 5").is_empty());
    let level = drivers("U1 pin 6")[0].level;
    let Op::Not(inner) = card.op(level) else { panic!("{:?}", card.op(level)) };
    assert_eq!(card.op(inner), Op::Net(floating));
    assert_eq!(card.find_net("VCC"), None, "a rail that only inputs are on needs no net");
}

#[test]
fn directions_follow_what_is_on_the_net() {
    // 74LS245: a contact on each side; 74LS05: one that is read and one that is not
    let card = circuit(
        "J1,contacts,1,dir\nJ1,,2,left\nJ1,,3,right\nJ1,,4,wire_or\nJ1,,5,out\nJ1,,6,open\nJ1,,7,unused\nJ1,,8,both\n\
         U1,74LS245,1,dir\nU1,,2,left\nU1,,18,right\nU1,,19,GND\nU1,,10,GND\nU1,,20,VCC\nU1,,others,open\n\
         U2,74LS05,1,dir\nU2,,2,wire_or\nU2,,3,wire_or\nU2,,4,out\nU2,,7,GND\nU2,,14,VCC\nU2,,others,open\n\
         U3,74LS04,1,dir\nU3,,2,both\nU3,,3,both\nU3,,7,GND\nU3,,14,VCC\nU3,,others,open\n",
    );
    let expected = [
        ("1", Direction::Input),
        ("2", Direction::InOut),
        ("3", Direction::InOut),
        ("4", Direction::InOut),
        ("5", Direction::Output),
        ("6", Direction::Input),
        ("7", Direction::Input),
        ("8", Direction::Output),
    ];
    for (label, wanted) in expected {
        assert_eq!(direction(&card, label), wanted, "contact {label}");
    }
    let open = &card.contacts()[card.find_contact(&"6".into()).expect("it").index()];
    assert_eq!(open.name, "contact 6");
    assert!(card.nets()[open.net.index()].drivers.is_empty());
}

#[test]
fn an_output_that_can_let_go_meets_the_rail_in_the_circuit() {
    let card =
        circuit(&format!("{INVERTER}U2,74LS245,1,a\nU2,,2,GND\nU2,,19,GND\nU2,,10,GND\nU2,,20,VCC\nU2,,others,open\n"));
    let gnd = &card.nets()[card.find_net("GND").expect("a rail with an output on it").index()];
    let mut stages: Vec<_> = gnd.drivers.iter().map(|d| (d.stage, d.level == Expr::LOW)).collect();
    stages.sort_by_key(|(stage, _)| *stage != Stage::PushPull);
    assert_eq!(stages, [(Stage::PushPull, true), (Stage::ThreeState, false)], "the fight shows as a fight");
}

#[test]
fn registers_carry_the_row_of_their_package() {
    let card = circuit("J1,contacts,1,q\nU7,74LS74,5,q\nU7,,7,GND\nU7,,14,VCC\n");
    let element = &card.elements()[0];
    assert!(element.name.starts_with("U7."), "{}", element.name);
    assert_eq!(element.origin.to_string(), "card.csv:3");
}

#[test]
fn names_stay_unique_whatever_the_trace_calls_its_nets() {
    let rows = INVERTER.replace(",a\n", ",U1 pin 4\n").replace(",y\n", ",U1.p3\n");
    let card = circuit(&rows);
    let mut names: Vec<_> = card.nets().iter().map(|net| &net.name).collect();
    let count = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), count);
    assert!(card.find_net("U1 pin 4 (2)").is_some());
}
