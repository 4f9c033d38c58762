//! Resistors, jumpers and capacitors: what pulls, what joins, what means nothing, and what is refused.
use super::*;
use crate::circuit::{Expr, Pull};
use FindingKind::*;

/// A net of the circuit of these rows: how it is pulled, and how many drive it.
fn net(rows: &str, name: &str) -> (Pull, usize) {
    let circuit = board(rows).circuit().unwrap_or_else(|e| panic!("{e}"));
    let id = circuit.find_net(name).unwrap_or_else(|| panic!("no net {name}"));
    let net = &circuit.nets()[id.index()];
    (net.pull, net.drivers.len())
}

#[test]
fn a_resistor_to_a_rail_pulls() {
    let with = |rows: &str| net(&format!("{INVERTER}{rows}"), "a").0;
    assert_eq!(with(""), Pull::None);
    assert_eq!(with("R1,resistor 4k7,1,VCC\nR1,resistor 4k7,2,a\n"), Pull::Up);
    assert_eq!(with("R1,Resistor,1,a\nR1,resistor,2,+5V\n"), Pull::Up);
    assert_eq!(with("R1,resistor 330,1,0V\nR1,resistor 330,2,a\n"), Pull::Down);
    assert_eq!(with("R1,resistor 4k7,1,open\nR1,resistor 4k7,2,a\n"), Pull::None);
    let terminator = "R1,resistor 220,1,VCC\nR1,resistor 220,2,a\nR2,resistor 330,1,a\nR2,resistor 330,2,GND\n";
    assert_eq!(with(terminator), Pull::Up);
}

#[test]
fn a_divider_between_the_levels_is_an_error() {
    let rows =
        format!("{INVERTER}R1,resistor 1k,1,VCC\nR1,resistor 1k,2,a\nR2,resistor 330,1,a\nR2,resistor 330,2,GND\n");
    says(&rows, PullUndecided, &["card.csv:17: error", "`a`", "write their values"]);
}

#[test]
fn networks_pull_pin_by_pin() {
    let common = "RN1,resistor network 3x4k7 common 1,1,VCC\nRN1,,2,a\nRN1,,4,y\n";
    let rows = format!("{INVERTER}{common}");
    assert_eq!((net(&rows, "a").0, net(&rows, "y").0), (Pull::Up, Pull::Up));
    let common = "RN1,resistor network 3x4k7 common 4,4,GND\nRN1,,2,a\n";
    assert_eq!(net(&format!("{INVERTER}{common}"), "a").0, Pull::Down);
    let pairs = "RN1,resistor network 2x4k7 adjacent,3,VCC\nRN1,,4,a\n";
    assert_eq!(net(&format!("{INVERTER}{pairs}"), "a").0, Pull::Up);
    let across = "RN1,resistor network 2x4k7 opposite,2,VCC\nRN1,,3,a\n";
    assert_eq!(net(&format!("{INVERTER}{across}"), "a").0, Pull::Up);
}

#[test]
fn a_resistor_needs_both_its_ends() {
    says(&format!("{INVERTER}R1,resistor 4k7,2,a\n"), Row, &["card.csv:16: error", "no row for pin 1"]);
    let common = "RN1,resistor network 8x4k7 common 1,2,a\nRN1,,3,y\n";
    says(&format!("{INVERTER}{common}"), Row, &["card.csv:16: error", "no row for pin 1"]);
    says(&format!("{INVERTER}R1,resistor 4k7,3,a\n"), UnknownPin, &["pin `3`", "pins 1 to 2"]);
}

#[test]
fn values_and_settings_that_are_none_are_told_how_to_write_them() {
    for (part, mend) in [
        ("resistor 4q7", "`resistor 4k7`"),
        ("resistor 4m7 k", "`resistor 4k7`"),
        ("resistor network", "common 1"),
        ("resistor network 8 4k7", "common 1"),
        ("resistor network 8x4k7 common 10", "common 1"),
        ("resistor network 9999x4k7 adjacent", "common 1"),
        ("jumper closed", "`jumper open`"),
    ] {
        says(&format!("{INVERTER}X1,{part},1,a\n"), Value, &["card.csv:16: error", part, mend]);
    }
}

#[test]
fn series_resistors_and_jumpers_make_one_net() {
    for part in ["resistor 100", "jumper", "resistor 0", "jumper 1-2"] {
        let rows = INVERTER.replace("U1,74LS04,1,a", "U1,74LS04,1,behind");
        let rows = format!("{rows}X1,{part},1,a\nX1,{part},2,behind\n");
        let circuit = board(&rows).circuit().expect("a circuit");
        assert_eq!(circuit.find_net("behind"), None, "{part}: the contact's name stays");
        let (a, y) = (circuit.find_net("a").expect("a"), circuit.find_net("y").expect("y"));
        let level = circuit.nets()[y.index()].drivers[0].level;
        assert_eq!(circuit.op(level), crate::circuit::Op::Not(net_expr(&circuit, a)), "{part}");
        assert_eq!(said(&rows, Joined).len(), usize::from(part == "resistor 100"));
    }
    let rows = INVERTER.replace("U1,74LS04,1,a", "U1,74LS04,1,behind");
    // the contact's name stays, wherever its row stands
    let late = rows.replace("J1,contacts,1,a\n", "") + "X1,jumper,1,behind\nX1,jumper,2,a\nJ2,contacts,1,a\n";
    let circuit = board(&late).circuit().expect("a circuit");
    assert!(circuit.find_net("a").is_some() && circuit.find_net("behind").is_none());
    let apart = format!("{rows}X1,jumper open,1,a\nX1,jumper open,2,behind\n");
    assert!(board(&apart).circuit().expect("a circuit").find_net("behind").is_some());
    let three = format!("{rows}X1,jumper 2-3,1,GND\nX1,,2,a\nX1,,3,behind\n");
    assert_eq!(board(&three).circuit().expect("a circuit").find_net("behind"), None);
}

fn net_expr(circuit: &Circuit, net: crate::circuit::NetId) -> Expr {
    circuit.clone().net(net)
}

#[test]
fn joined_outputs_fight_over_a_series_resistor() {
    let rows =
        INVERTER.replace("U1,74LS04,3,GND", "U1,74LS04,3,a").replace("14,VCC\nU1", "14,VCC\nJ1,contacts,3,y2\nU1");
    let rows =
        rows.replace("U1,74LS04,3,a", "U1,74LS04,3,y").replace("U1,74LS04,others", "U1,74LS04,4,far\nU1,74LS04,others");
    let rows = format!("{rows}R1,resistor 100,1,y\nR1,resistor 100,2,far\n");
    says(&rows, SeveralDrivers, &["`y`", "U1 pin 2 (card.csv:", "U1 pin 4 (card.csv:"]);
}

#[test]
fn a_jumper_to_a_rail_ties() {
    let rows = INVERTER.replace("U1,74LS04,3,GND", "U1,74LS04,3,link");
    let rows = format!("{rows}X1,jumper,1,link\nX1,jumper,2,GND\nJ1,contacts,3,link\n");
    let circuit = board(&rows).circuit().expect("a circuit");
    assert!(circuit.supplies().contains(&("3".into(), crate::circuit::Rail::Gnd)));
    says(
        &format!("{INVERTER}X1,jumper,1,VCC\nX1,jumper,2,GND\n"),
        RailsShorted,
        &["card.csv:17: error", "`VCC` and `GND`"],
    );
    says(&format!("{INVERTER}X1,resistor 0,1,VCC\nX1,resistor 0,2,0V\n"), RailsShorted, &["card.csv:17: error"]);
}

#[test]
fn other_supplies_are_no_logic() {
    let up = format!("{INVERTER}R1,resistor 1k,1,+12V\nR1,resistor 1k,2,y\n");
    says(&up, OtherSupply, &["card.csv:17: warning", "more than VCC", "must stand"]);
    assert_eq!(net(&up, "y"), (Pull::Up, 1));
    // two pulls to it don't join the nets that they pull
    let two = format!("{up}R2,resistor 1k,1,+12V\nR2,resistor 1k,2,a\n");
    assert_eq!((net(&two, "y").1, net(&two, "a")), (1, (Pull::Up, 0)));
    says(
        &format!("{INVERTER}R1,resistor 1k,1,-5V\nR1,resistor 1k,2,y\n"),
        OtherSupply,
        &["card.csv:17: error", "below GND"],
    );
    says(&format!("{INVERTER}J1,contacts,9,+12V\n"), OtherSupply, &["card.csv:16: note", "contact 9"]);
    let chip = INVERTER.replace("U1,74LS04,1,a", "U1,74LS04,1,-12V");
    says(&chip, OtherSupply, &["card.csv:6: error", "U1 pin 1"]);
}

#[test]
fn capacitors_between_rails_mean_nothing_and_on_signals_are_refused() {
    let fine = format!("{INVERTER}C1,capacitor 100n,1,VCC\nC1,capacitor 100n,2,GND\nC2,capacitor,1,open\nC2,,2,a\n");
    assert_eq!(findings(&fine), []);
    let delay = format!("{INVERTER}C1,capacitor 1n,1,a\nC1,,2,GND\nR1,resistor 10k,1,VCC\nR1,,2,a\n");
    says(
        &delay,
        NotLogic,
        &["card.csv:16: warning", "C1 (capacitor 1n) on `a`", "with the resistor", "make `a` a contact"],
    );
    let error = board(&delay).circuit().expect_err("refused");
    assert!(error.to_string().contains("card.csv:16: error: C1"), "{error}");
    let said_so = delay.replace("capacitor 1n", "capacitor 1n ignored");
    says(&said_so, Ignored, &["card.csv:16: note", "C1"]);
    assert!(board(&said_so).circuit().is_ok());
    says(&format!("{INVERTER}C1,capacitor 1n,1,a\n"), Row, &["card.csv:16: error", "one of its pins"]);
}

#[test]
fn foreign_parts_are_named_and_refused_with_a_way_out() {
    for (part, why, mend) in [
        ("diode 1N4148", "one direction", "as a contact"),
        ("transistor 2N3904", "currents", "as a contact"),
        ("inductor 10u", "time", "`jumper`"),
        ("crystal 4M", "oscillates", "as a contact"),
        ("switch", "two settings", "`jumper open`"),
    ] {
        let rows = format!("{INVERTER}X1,{part},1,a\nX1,{part},2,y\n");
        says(&rows, NotLogic, &["card.csv:16: warning", part, "`a` and `y`", why, mend]);
        assert_eq!(board(&rows).circuit().expect_err("refused").errors().count(), 1);
    }
}

#[test]
fn resistors_that_logic_does_not_see_are_notes() {
    says(&format!("{INVERTER}R1,resistor 1k,1,VCC\nR1,,2,GND\n"), Ignored, &["rail to rail"]);
    says(&format!("{INVERTER}R1,resistor 1k,1,a\nR1,,2,a\n"), Ignored, &["one net"]);
}
