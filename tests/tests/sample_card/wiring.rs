//! The wiring list, read back as CSV.
use gluewright::circuit::{Label, Rail};
use gluewright::emit::{wires, wiring};

use super::fitted::fitted;

fn rows(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap(), ["contact", "signal", "device", "pin"].as_slice());
    reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn every_contact_of_the_card_has_its_pin() {
    let (circuit, fitted) = fitted();
    let rows = rows(&wiring(&wires([&fitted], &[])).unwrap());
    let (supplies, signals): (Vec<_>, Vec<_>) = rows.into_iter().partition(|r| r[1] == "VCC" || r[1] == "GND");
    assert_eq!(supplies, [["12", "GND", "D1", "12"], ["24", "VCC", "D1", "24"]]);
    let contacts: Vec<String> = circuit.contacts().iter().map(|c| c.label.to_string()).collect();
    assert_eq!(signals.iter().map(|r| r[0].clone()).collect::<Vec<_>>(), contacts, "in the order of contacts");
    for row in &signals {
        assert_eq!(row[2], "D1");
        let wire = fitted.wires.iter().find(|w| w.label.to_string() == row[0]).unwrap();
        assert_eq!((&row[1], &row[3]), (&wire.signal, &wire.pin.to_string()));
    }
}

#[test]
fn the_boards_supplies_reach_every_device() {
    let (_, fitted) = fitted();
    let supplies = [(Label::from(24), Rail::Vcc), (Label::from(12), Rail::Gnd)];
    let rows = rows(&wiring(&wires([&fitted, &fitted], &supplies)).unwrap());
    let supply: Vec<_> = rows.iter().filter(|r| r[1] == "VCC" || r[1] == "GND").map(|r| r.join(" ")).collect();
    assert_eq!(supply, ["12 GND D1 12", "12 GND D2 12", "24 VCC D1 24", "24 VCC D2 24"]);
}
