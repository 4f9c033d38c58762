//! What resistors between signals do: join, hold, or stay on the card.
use super::*;
use crate::circuit::{Direction, Op, Stage};
use FindingKind::*;

/// Four inverters from contacts 1 to 4 to the nets `o1` to `o4`, and what stands behind these.
fn four(behind: &str) -> String {
    let mut rows = String::from(
        "J1,contacts,7,GND\nJ1,,14,VCC\nU1,74LS04,7,GND\nU1,,14,VCC\nU1,,11,GND\nU1,,13,GND\nU1,,others,open\n",
    );
    for (contact, (input, output)) in [(1, 2), (3, 4), (5, 6), (9, 8)].into_iter().enumerate() {
        let n = contact + 1;
        rows += &format!("J1,contacts,{n},i{n}\nU1,,{input},i{n}\nU1,,{output},o{n}\n");
    }
    rows + behind
}

fn labels(circuit: &Circuit, direction: Direction) -> Vec<&str> {
    circuit.contacts().iter().filter(|c| c.direction == direction).map(|c| c.label.as_str()).collect()
}

/// Weighted resistors from four outputs to one net.
const WEIGHTED: &str = "R1,resistor 1k,1,o1\nR1,,2,dac\nR2,resistor 2k,1,o2\nR2,,2,dac\n\
    R3,resistor 4k,1,o3\nR3,,2,dac\nR4,resistor 8k,1,o4\nR4,,2,dac\n";

#[test]
fn weighted_resistors_are_no_fight_of_outputs() {
    let rows = four(&format!("{WEIGHTED}J1,contacts,20,dac\n"));
    assert_eq!(said(&rows, SeveralDrivers), [""; 0]);
    says(&rows, Stays, &["R1 (resistor 1k), R2 (resistor 2k)", "several outputs", "outside"]);
    let circuit = board(&rows).circuit().expect("a circuit");
    assert_eq!(labels(&circuit, Direction::Output), ["R1-1", "R2-1", "R3-1", "R4-1"], "each output is compared");
    assert_eq!(labels(&circuit, Direction::Input), ["1", "2", "3", "4"], "contact 20 is none of the logic");
    // a ladder of small ones too, whose inner nets no output is on
    let ladder = "R1,resistor 220,1,o1\nR1,,2,n1\nR2,resistor 220,1,o2\nR2,,2,n2\nR3,resistor 110,1,n1\nR3,,2,n2\nR4,resistor 220,1,n1\nR4,,2,GND\n";
    let circuit = board(&four(ladder)).circuit().expect("a circuit");
    assert_eq!(labels(&circuit, Direction::Output), ["R1-1", "R2-1"]);
    // what reads the common net reads anything
    let read = rows.replace("U1,,11,GND", "U1,,11,dac\nU1,,10,o5\nJ1,contacts,21,o5");
    let circuit = board(&read).circuit().expect("a circuit");
    assert!(labels(&circuit, Direction::Input).contains(&"20"));
}

#[test]
fn small_resistors_still_damp_a_line_and_weak_ones_to_the_outside_stay() {
    let circuit = |value: &str| {
        let behind = format!("R1,resistor {value},1,o1\nR1,,2,far\nJ1,contacts,20,far\n");
        board(&four(&behind)).circuit().expect("a circuit")
    };
    assert_eq!(labels(&circuit("33"), Direction::Output), ["20"]);
    assert_eq!(labels(&circuit("470"), Direction::Output), ["20"]);
    assert_eq!(labels(&circuit("4k7"), Direction::Output), ["R1-1"]);
    // where logic reads what the outside may override, only a resistor that damps is no matter
    let read = |value: &str| {
        let behind = format!("R1,resistor {value},1,o1\nR1,,2,far\nJ1,contacts,20,far\nJ1,,21,o5\n");
        board(&four(&behind).replace("U1,,11,GND", "U1,,11,far\nU1,,10,o5")).circuit().expect("a circuit")
    };
    assert_eq!(labels(&read("33"), Direction::Output), ["20", "21"]);
    assert_eq!(labels(&read("470"), Direction::Output), ["21", "R1-1"]);
    assert!(labels(&read("470"), Direction::Input).contains(&"20"));
}

#[test]
fn a_resistor_that_feeds_an_output_back_holds() {
    // a driver that lets go, two inverters, and a resistor from their output back
    let bus = "J1,contacts,15,d\nJ1,,16,en\nU2,74LS373,3,d\nU2,,2,bus\nU2,,1,en\nU2,,11,en\nU2,,10,GND\nU2,,20,VCC\nU2,,others,open\n";
    let rows =
        four("").replace("J1,contacts,1,i1\nU1,,1,i1", "U1,,1,bus").replace("J1,contacts,2,i2\nU1,,3,i2", "U1,,3,o1");
    let rows = format!("{rows}{bus}R1,resistor 10k,1,o2\nR1,,2,bus\n");
    says(&rows, Held, &["R1 (resistor 10k) holds `bus`", "`o2`", "nothing else drives"]);
    let circuit = board(&rows).circuit().expect("a circuit");
    let bus = &circuit.nets()[circuit.find_net("bus").expect("it").index()];
    let [driver, hold] = &bus.drivers[..] else { panic!("{:#?}", bus.drivers) };
    assert_eq!(hold.stage, Stage::ThreeState);
    assert_eq!(circuit.op(hold.enable), Op::Not(driver.enable), "only while the other lets go");
    assert_eq!(circuit.op(hold.level), Op::Net(circuit.find_net("o2").expect("it")));
    // beside a pull-up nobody knows which of the two is stronger
    let both = format!("{rows}R2,resistor 10k,1,bus\nR2,,2,VCC\n");
    says(&both, Stays, &["R1 (resistor 10k)", "others hold or pull"]);
    // and a bus that leaves the card has its say
    let out = format!("{rows}J1,contacts,21,bus\n");
    says(&out, Stays, &["R1 (resistor 10k)"]);
    let circuit = board(&out).circuit().expect("a circuit");
    assert!(labels(&circuit, Direction::Output).contains(&"R1-1"));
}

#[test]
fn a_capacitor_behind_a_resistor_cuts() {
    let rows = four("R1,resistor 1k,1,o1\nR1,,2,late\nC1,capacitor 1n,1,late\nC1,,2,GND\nJ1,contacts,30,o6\n")
        .replace("U1,,11,GND", "U1,,11,late\nU1,,10,o6");
    let board = Reading::new()
        .others_stay()
        .csv("card.csv", format!("ref,part,pin,net\n{rows}"), &Drawer)
        .unwrap_or_else(|e| panic!("{e}"));
    let circuit = board.circuit().expect("a circuit");
    assert!(labels(&circuit, Direction::Output).contains(&"R1-1"), "what goes into the delay is compared");
    let behind = labels(&circuit, Direction::Input);
    assert!(behind.iter().any(|l| ["C1-1", "R1-2"].contains(l)), "what comes out of it is free: {behind:?}");
}

#[test]
fn two_outputs_that_never_let_go_do_not_see_a_weak_resistor() {
    let rows = four("R1,resistor 10k,1,o1\nR1,,2,o2\n");
    says(&rows, Ignored, &["R1 (resistor 10k)", "two outputs"]);
}
