//! Parts that stay, house numbers, printed supply pins, and findings that are one line.
use super::*;
use crate::circuit::Direction;
use FindingKind::*;

fn read(reading: &Reading, rows: &str) -> Result<Board, TraceError> {
    reading.csv("card.csv", format!("ref,part,pin,net\n{rows}"), &Drawer)
}

/// The inverter between a memory that stays and contact 2: `U9-11` is its input.
const BESIDE_A_MEMORY: &str = "J1,contacts,2,y\nJ1,contacts,7,GND\nJ1,contacts,14,VCC\nJ1,contacts,20,address\n\
    U9,27C128,11,a\nU9,27C128,12,address\nU9,27C128,28,VCC\n\
    U1,74LS04,1,a\nU1,74LS04,2,y\nU1,74LS04,7,GND\nU1,74LS04,14,VCC\nU1,74LS04,3,GND\nU1,74LS04,5,GND\n\
    U1,74LS04,9,GND\nU1,74LS04,11,GND\nU1,74LS04,13,GND\nU1,74LS04,others,open\n";

fn contacts(circuit: &Circuit) -> Vec<(&str, Direction)> {
    circuit.contacts().iter().map(|c| (c.label.as_str(), c.direction)).collect()
}

#[test]
fn the_pins_of_a_part_that_stays_are_the_outside() {
    let wanted = [("2", Direction::Output), ("U9-11", Direction::Input)];
    let said = BESIDE_A_MEMORY.replace("27C128", "stays 27C128");
    let listed = Reading::new().staying(["27c*"]);
    let list = Reading::new().staying_list("stays.txt", "# memories\n27C128, 16 KiB\n").expect("a list");
    for (reading, rows) in [
        (Reading::new(), said.as_str()),
        (listed, BESIDE_A_MEMORY),
        (list, BESIDE_A_MEMORY),
        (Reading::new().others_stay(), BESIDE_A_MEMORY),
    ] {
        let board = read(&reading, rows).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(contacts(&board.circuit().expect("a circuit")), wanted);
        assert_eq!(board.untraced(), []);
        assert!(board.findings().iter().all(|f| f.kind == Stays), "{:#?}", board.findings());
        // what a slip would have made of it is read in the same way
        let other = board.alterations().into_iter().find_map(|a| board.altered(&a)).expect("some change is sound");
        assert_eq!(contacts(&other.circuit().expect("a circuit")).last(), wanted.last());
    }
    assert!(read(&Reading::new(), BESIDE_A_MEMORY).is_err());
}

#[test]
fn all_that_is_no_logic_stays_at_a_word_and_is_named_in_one_line() {
    let rows = format!(
        "{BESIDE_A_MEMORY}Y1,crystal 4M,1,y\nY1,crystal 4M,2,GND\nU8,ZX81,1,a\nU7,ZX81,1,a\nU6,74LS123,13,a\nC1,capacitor 1n,1,a\nC1,,2,GND\n"
    );
    let board = read(&Reading::new().others_stay(), &rows).unwrap_or_else(|e| panic!("{e}"));
    let said: Vec<&Finding> = board.findings().iter().filter(|f| f.kind == Stays).collect();
    let [only] = said[..] else { panic!("{said:#?}") };
    for part in ["`27C128`", "2 × `ZX81`", "`crystal 4M`", "`74LS123`", "`capacitor 1n`"] {
        assert!(only.message.contains(part), "{part}: {only}");
    }
    assert!(board.circuit().is_ok());
}

#[test]
fn a_near_miss_is_no_part_that_stays() {
    let reading = Reading::new().others_stay();
    for near in ["74LS0O", "SN74LSO4N", "74L04", "74SL04", "74LS044"] {
        let rows = BESIDE_A_MEMORY.replace("74LS04", near);
        let error = read(&reading, &rows).expect_err(near);
        let first = error.errors().next().expect("an error");
        assert_eq!(first.kind, UnknownPart, "{first}");
        assert!(first.mend.contains("did you mean 74LS0") && first.mend.contains("stays"), "{first}");
        // said on purpose, it is another part
        let listed = Reading::new().others_stay().staying([near]);
        assert!(read(&listed, &rows).is_ok(), "{near}");
    }
    // another number is another type, which is said
    let rows = BESIDE_A_MEMORY.replace("74LS04", "74LS03");
    let board = read(&reading, &rows).unwrap_or_else(|e| panic!("{e}"));
    let said: Vec<String> = board.findings().iter().filter(|f| f.kind == UnknownPart).map(Finding::to_string).collect();
    assert!(said.len() == 1 && said[0].contains("warning") && said[0].contains("74LS04"), "{said:?}");
    for other in ["7404X5", "LM7805CT", "LM741CN", "IDT7381"] {
        let rows = format!("{BESIDE_A_MEMORY}U5,{other},1,a\n");
        assert!(read(&reading, &rows).is_ok(), "{other}");
    }
}

#[test]
fn a_wire_is_a_jumper() {
    says("W1,wire,1,a\n", UnknownPart, &["did you mean jumper?"]);
    says("W1,Link,1,a\n", UnknownPart, &["did you mean jumper?"]);
}

#[test]
fn house_numbers_stand_for_types() {
    let rows = INVERTER.replace("74LS04", "1820-1199");
    let reading = Reading::new().house_numbers("house.csv", "number,type\n1820-1199,74LS04\n").expect("a list");
    let board = read(&reading, &rows).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(board.chips().map(|(_, part)| part.name()).collect::<Vec<_>>(), ["74LS04"]);
    assert_eq!(board.findings().iter().map(|f| f.kind).collect::<Vec<_>>(), [HouseNumber]);
    let other = board.alterations().into_iter().find_map(|a| board.altered(&a)).expect("some change is sound");
    assert_eq!(other.chips().count(), 1);
    for (list, wrong) in [("1820-1199\n", "1 columns"), ("a,b\na,c\n", "stands for `b`"), (",b\n", "missing")] {
        let error = Reading::new().house_numbers("house.csv", list).expect_err(wrong);
        assert!(error.to_string().contains("house.csv:") && error.to_string().contains(wrong), "{error}");
    }
    assert!(Reading::new().house_numbers("house.csv", [0xff, 0xfe]).is_err());
}

#[test]
fn hidden_supply_pins_are_where_the_sheet_prints_them() {
    let rows = INVERTER.replace("U1,74LS04,7,GND\nU1,74LS04,14,VCC\n", "").replace("U1,74LS04,others,open\n", "");
    assert_eq!(said(&rows, PowerMissing).len(), 2);
    let two =
        format!("{rows}U2,74LS00,1,a\nU2,,2,a\nU2,,3,y2\nU2,,4,a\nU2,,5,a\nU2,,9,a\nU2,,10,a\nU2,,12,a\nU2,,13,a\n");
    let board = read(&Reading::new().printed_supplies(), &two).unwrap_or_else(|e| panic!("{e}"));
    let said: Vec<&Finding> = board.findings().iter().filter(|f| f.kind == PrintedSupply).collect();
    let [only] = said[..] else { panic!("{said:#?}") };
    assert!(only.message.contains("U1 and U2"), "{only}");
    // a row that is there still counts
    let wrong = INVERTER.replace("U1,74LS04,14,VCC", "U1,74LS04,14,y2");
    let error = read(&Reading::new().printed_supplies(), &wrong).expect_err("wrong");
    assert!(error.errors().any(|f| f.kind == PowerWrong));
}

#[test]
fn one_cause_is_one_line() {
    let mut rows = INVERTER.to_owned();
    for n in 2..7 {
        rows += &format!("U{n},74LS00,1,a\nU{n},,2,a\nU{n},,3,lone{n}\nU{n},,7,GND\nU{n},,14,VCC\nU{n},,others,open\n");
    }
    for kind in [SinglePin, FloatingInput] {
        let said = said(&rows, kind);
        assert_eq!(said.len(), 1, "{said:#?}");
    }
    says(&rows, SinglePin, &["U2 pin 3, U3 pin 3", "U6 pin 3"]);
    let caps = "C1,capacitor 100uF,+,VCC\nC1,,-,GND\nC2,capacitor 100uF,-,GND\nC3,capacitor 100uF,-,GND\n";
    says(&format!("{INVERTER}{caps}"), Ignored, &["polarised capacitors", "C2 and C3"]);
}

#[test]
fn inputs_that_have_no_effect_are_a_note() {
    // a NAND with one input low does not read the other
    let rows = format!(
        "{INVERTER}U2,74LS00,1,GND\nU2,,2,open\nU2,,3,y2\nU2,,4,GND\nU2,,5,alone\nU2,,6,y3\nU2,,9,GND\nU2,,10,GND\nU2,,12,GND\nU2,,13,GND\nU2,,7,GND\nU2,,14,VCC\nU2,,others,open\n"
    );
    says(&rows, IdleInput, &["note", "U2 pin 2 and U2 pin 5"]);
    assert_eq!(said(&rows, FloatingInput), [""; 0]);
}

/// Nothing goes by the words of a message.
#[test]
fn other_words_change_no_decision() {
    let rows =
        INVERTER.replace("U1,74LS04,3,GND", "U1,74LS04,3,strange").replace("U1,74LS04,11,GND", "U1,74LS04,11,strange");
    let plain = board(&rows);
    let mut reworded = plain.clone();
    for (at, finding) in reworded.findings.iter_mut().enumerate() {
        finding.message = format!("{at}: U1 pin 1 `a` `y` open");
        finding.mend = "U1 pin 2".into();
    }
    let words = |board: &Board| board.alterations().into_iter().map(|a| a.words).collect::<Vec<_>>();
    assert_eq!(words(&plain), words(&reworded));
    assert_eq!(plain.untraced(), reworded.untraced());
    let unsaid = Board { findings: Vec::new(), ..plain.clone() };
    assert_ne!(words(&plain), words(&unsaid), "what is found does count");
}
