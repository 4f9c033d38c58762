//! The two traced cards that the examples use, as they stand.
use super::stub::Drawer;
use super::*;
use crate::circuit::Direction;
use FindingKind::*;

const SAMPLE_CARD: &[u8] = include_bytes!("../../../../../examples/src/sample_card.csv");
const LOOM_BRIDGE: &[u8] = include_bytes!("../../../../../examples/src/loom_bridge.csv");

fn read(name: &str, content: &[u8]) -> Board {
    Board::from_csv(name, content, &Drawer).unwrap_or_else(|error| panic!("{error}"))
}

/// Directions by label, as `i`, `o` and `b`.
fn directions(circuit: &Circuit) -> String {
    let mut contacts: Vec<_> = circuit.contacts().iter().collect();
    contacts.sort_by(|a, b| a.label.cmp(&b.label));
    let letter = |d: Direction| match d {
        Direction::Input => "i",
        Direction::Output => "o",
        Direction::InOut => "b",
    };
    contacts.iter().map(|c| format!("{}{} ", c.label, letter(c.direction))).collect::<String>().trim_end().to_owned()
}

#[test]
fn the_sample_card_reads() {
    let card = read("examples/src/sample_card.csv", SAMPLE_CARD);
    assert_eq!(card.name(), "sample_card");
    assert_eq!(
        card.chips().map(|(r, p)| format!("{r} {}", p.name())).collect::<Vec<_>>().join(", "),
        "U1 74LS173, U2 74LS74, U3 74LS109, U4 74LS00, U5 74LS02, U6 74LS05"
    );
    let found: Vec<_> = card.findings().iter().map(|f| (f.kind, f.message.as_str())).collect();
    let expected = [
        (PinLeftOut, "U2 (74LS74): output pin 6 left out of the trace and taken as open"),
        (SinglePin, "U2 pin 9 is alone on `was`"),
        (SinglePin, "U3 pin 10 is alone on `missed`"),
        (PinLeftOut, "U5 (74LS02): output pin 13 left out of the trace and taken as open"),
        (PinLeftOut, "U6 (74LS05): output pins 4, 6, 8, 10 and 12 left out of the trace and taken as open"),
    ];
    assert_eq!(found, expected);
    assert_eq!(card.untraced(), []);
    let circuit = card.circuit().expect("a circuit");
    assert_eq!(directions(&circuit), "1i 2i 3i 6i 7i 8i 9i 10i 11i 13o 14o 15o 16o 17o 18o 19o");
    assert_eq!(circuit.supplies().len(), 2);
}

#[test]
fn the_loom_bridge_reads() {
    let card = read("loom_bridge.csv", LOOM_BRIDGE);
    assert!(card.findings().iter().all(|f| f.kind == PinLeftOut), "{:#?}", card.findings());
    let circuit = card.circuit().expect("a circuit");
    let expected = "1i 2i 3i 4i 5i 6o 7o 10b 11b 12b 13b 14b 15b 16b 17b 20b 21b 22b 23b 24b 25b 26b 27b";
    assert_eq!(directions(&circuit), expected);
    let b0 = circuit.find_net("b0").expect("b0");
    let drivers: Vec<_> = circuit.nets()[b0.index()].drivers.iter().map(|d| d.by.to_string()).collect();
    assert_eq!(drivers, ["U1 pin 2"]);
}
