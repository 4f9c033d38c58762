//! Each check of packages and nets, with the row that offends; and what is marked as not yet traced.
use super::*;
use FindingKind::*;

/// The inverter with one text exchanged for another.
fn but(from: &str, to: &str) -> String {
    assert!(INVERTER.contains(from), "{from}");
    INVERTER.replace(from, to)
}

#[test]
fn an_unknown_part_gets_its_neighbours() {
    let rows = but("U1,74LS04,", "U1,74LS40,");
    says(&rows, UnknownPart, &["card.csv:6: error", "`74LS40`", "did you mean", "74LS04"]);
    says("R7,4k7 ohm,1,a\n", UnknownPart, &["`resistor 4k7`"]);
    says("X7,resister 4k7,1,a\n", UnknownPart, &["did you mean resistor?"]);
    says("U7,ZX81,1,a\n", UnknownPart, &["write `unknown`"]);
    says("U7,SN74LS138N,1,a\n", UnknownPart, &["`SN74LS138N`"]);
}

#[test]
fn one_reference_is_one_part() {
    let rows = but("U1,74LS04,2,y", "U1,74LS00,2,y");
    says(&rows, PartDisagrees, &["card.csv:7: error", "`74LS00` here and `74LS04` at card.csv:6"]);
}

#[test]
fn a_pin_has_one_row() {
    let rows = but("U1,74LS04,3,GND", "U1,74LS04,2,z");
    says(&rows, PinTwice, &["card.csv:10: error", "`U1` pin `2`", "on another net", "card.csv:7"]);
    says(&format!("{INVERTER}U1,74LS04,others,open\n"), PinTwice, &["card.csv:16: error", "card.csv:15"]);
    says(&format!("{INVERTER}J2,contacts,2,q\n"), PinTwice, &["card.csv:16: error", "`J1`", "card.csv:3", "`A1`"]);
    says(&format!("{INVERTER}U1,74LS04,02,y\n"), PinTwice, &["card.csv:16: error", "listed again"]);
}

#[test]
fn power_pins_are_rows_like_any_other() {
    let missing = but("U1,74LS04,14,VCC\n", "").replace("U1,74LS04,others,open\n", "");
    says(&missing, PowerMissing, &["card.csv:6: error", "pin 14 is VCC", "`U1,74LS04,14,VCC`"]);
    says(&but("U1,74LS04,14,VCC\n", ""), PowerMissing, &["card.csv:14: error", "marked open"]);
    says(&but("U1,74LS04,14,VCC", "U1,74LS04,14,open"), PowerMissing, &["card.csv:9: error", "marked open"]);
    says(&but("U1,74LS04,14,VCC", "U1,74LS04,14,y2"), PowerWrong, &["card.csv:9: error", "is on `y2`"]);
    let swapped =
        INVERTER.replace("U1,74LS04,7,GND", "U1,74LS04,7,VCC").replace("U1,74LS04,14,VCC", "U1,74LS04,14,GND");
    let said = said(&swapped, PowerWrong);
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].contains("card.csv:8: error: U1 (74LS04) pin 7 is GND and is on `VCC`"), "{said:?}");
    // the rails have other names too
    assert_eq!(findings(&but("GND", "0V").replace("VCC", "+5V")), []);
    // a jumper to the rail is as good as the rail
    let jumper = format!("{}X1,jumper,1,VCC\nX1,jumper,2,vcc1\n", but("U1,74LS04,14,VCC", "U1,74LS04,14,vcc1"));
    assert_eq!(findings(&jumper), []);
}

#[test]
fn pins_left_out_are_reported_by_package() {
    let rows = but("U1,74LS04,others,open\n", "").replace("U1,74LS04,5,GND\n", "");
    says(&rows, PinLeftOut, &["card.csv:6: warning", "output pins 4, 6, 8, 10 and 12", "`others`"]);
    says(
        &rows,
        FloatingInput,
        &["card.csv:6: warning", "input pin 5 is left out", "reads high", "common practice, no source"],
    );
}

#[test]
fn floating_inputs_are_reported_at_their_rows() {
    says(&but("U1,74LS04,3,GND", "U1,74LS04,3,open"), FloatingInput, &["card.csv:10: warning", "input pin 3 is open"]);
    says(
        &but("U1,74LS04,3,GND", "U1,74LS04,3,lone"),
        FloatingInput,
        &["card.csv:10: warning", "U1 pin 3", "alone on `lone`"],
    );
    says(&but("U1,74LS04,5,GND\n", ""), FloatingInput, &["card.csv:14: warning", "input pin 5 is open"]);
}

#[test]
fn a_net_without_a_driver_is_reported() {
    let rows = but("U1,74LS04,3,GND\nU1,74LS04,5,GND", "U1,74LS04,3,lost\nU1,74LS04,5,lost");
    says(
        &rows,
        NoDriver,
        &["card.csv:11: warning", "`lost`", "U1 pin 3 (card.csv:10) and U1 pin 5 (card.csv:11)", "high"],
    );
    let pulled = format!("{rows}R1,resistor 1k,1,lost\nR1,,2,VCC\n");
    assert_eq!(findings(&pulled), []);
    // a transistor may drive it; that it is there is said once
    let transistor = format!("{rows}Q1,transistor 2N3904,C,lost\nQ1,,E,GND\nQ1,,B,a\n");
    assert_eq!(findings(&transistor).iter().map(|f| f.kind).collect::<Vec<_>>(), [NotLogic]);
}

#[test]
fn two_push_pull_outputs_fight() {
    let rows = but("U1,74LS04,3,GND", "U1,74LS04,3,VCC").replace("U1,74LS04,others", "U1,74LS04,4,y\nU1,74LS04,others");
    says(&rows, SeveralDrivers, &["card.csv:15: error", "`y`", "U1 pin 2 (card.csv:7) and U1 pin 4 (card.csv:15)"]);
}

#[test]
fn gates_in_parallel_never_fight() {
    let rows = but("U1,74LS04,3,GND", "U1,74LS04,3,a").replace("U1,74LS04,others", "U1,74LS04,4,y\nU1,74LS04,others");
    says(&rows, ParallelDrivers, &["card.csv:15: note", "always agree"]);
    assert_eq!(said(&rows, SeveralDrivers), [""; 0]);
    let nand = "U2,74LS00,1,a\nU2,,2,a\nU2,,3,y\nU2,,7,GND\nU2,,14,VCC\nU2,,others,open\n";
    // of a part without logic nobody can say that it agrees
    let shot = "U2,74LS123,13,y\nU2,,8,GND\nU2,,16,VCC\nU2,,others,open\n";
    says(&format!("{INVERTER}{shot}"), SeveralDrivers, &["card.csv:16: error", "U1 pin 2", "U2 pin 13"]);
    says(&format!("{INVERTER}{nand}"), ParallelDrivers, &["card.csv:18: note", "U1 pin 2", "U2 pin 3"]);
}

/// A 74LS245 between two groups of contacts, with pin 2 on the net given.
fn both_ways(net: &str) -> String {
    format!("{INVERTER}U2,74LS245,1,a\nU2,,2,{net}\nU2,,18,a\nU2,,19,GND\nU2,,10,GND\nU2,,20,VCC\nU2,,others,open\n")
}

#[test]
fn a_push_pull_output_beside_one_that_can_let_go_is_a_warning() {
    says(&both_ways("y"), MixedDrivers, &["card.csv:17: warning", "`y`", "one of them push-pull"]);
}

#[test]
fn outputs_on_rails_are_shorted() {
    says(&but("U1,74LS04,2,y", "U1,74LS04,2,VCC"), ShortedOutput, &["card.csv:7: error", "U1 pin 2", "`VCC`"]);
    says(&but("U1,74LS04,2,y", "U1,74LS04,2,GND"), ShortedOutput, &["card.csv:7: error"]);
    says(&but("74LS04", "74LS05").replace("2,y\nU1", "2,VCC\nU1"), ShortedOutput, &["card.csv:7: error"]);
    let harmless = INVERTER.replace("74LS04", "74LS05").replace("U1,74LS05,2,y", "U1,74LS05,2,GND");
    says(&harmless, ShortedOutput, &["card.csv:7: warning", "can let go"]);
    says(&both_ways("GND"), ShortedOutput, &["card.csv:17: warning", "never be enabled"]);
}

#[test]
fn an_inner_open_collector_net_wants_its_resistor() {
    let rows = INVERTER.replace("74LS04", "74LS05").replace("U1,74LS05,3,GND", "U1,74LS05,3,inner");
    let rows = rows.replace("U1,74LS05,2,y", "U1,74LS05,2,inner").replace("others", "4,y\nU1,74LS05,others");
    says(&rows, MissingPullUp, &["card.csv:7: warning", "`inner`", "U1 pin 2 (card.csv:7)", "resistor 4k7"]);
    let down = format!("{rows}R1,resistor 1k,1,inner\nR1,,2,GND\n");
    says(&down, MissingPullUp, &["`inner`"]);
    let up = format!("{rows}R1,resistor 1k,1,inner\nR1,,2,VCC\n");
    assert_eq!(findings(&up), []);
    // a contact may be pulled up outside
    assert_eq!(findings(&INVERTER.replace("74LS04", "74LS05")), []);
}

#[test]
fn a_net_with_a_single_pin_is_a_note() {
    let rows = but("U1,74LS04,others", "U1,74LS04,4,lone\nU1,74LS04,others");
    says(&rows, SinglePin, &["card.csv:15: note", "U1 pin 4 is alone on `lone`"]);
    says(&format!("{INVERTER}J1,contacts,9,spare\n"), SinglePin, &["card.csv:16: note", "contact 9 (`spare`)"]);
}

#[test]
fn names_that_differ_in_case_only_are_reported() {
    let rows = but("U1,74LS04,1,a", "U1,74LS04,1,A");
    says(&rows, NamesAlike, &["card.csv:6: warning", "`a` and `A`"]);
}

#[test]
fn two_contacts_on_one_net_are_joined() {
    says(
        &format!("{INVERTER}J1,contacts,9,a\n"),
        ContactsJoined,
        &["card.csv:16: note", "contact 1", "contact 9", "`a`", "may read either"],
    );
    let circuit = board(&format!("{INVERTER}J1,contacts,9,a\nJ1,,10,y\n")).circuit().expect("a circuit");
    let wires: Vec<Vec<&str>> =
        circuit.joined_contacts().iter().map(|wire| wire.iter().map(crate::circuit::Label::as_str).collect()).collect();
    assert_eq!(wires, [["1", "9"], ["2", "10"]]);
    let level = |label: &str| {
        let contact = &circuit.contacts()[circuit.find_contact(&label.into()).expect("it").index()];
        circuit.nets()[contact.net.index()].drivers.iter().map(|d| d.level).collect::<Vec<_>>()
    };
    assert_eq!((level("2"), level("9")), (level("10"), vec![]), "both are driven alike");
}

#[test]
fn a_trace_without_contacts_is_reported() {
    let rows: String = INVERTER.lines().filter(|l| !l.starts_with('J')).map(|l| format!("{l}\n")).collect();
    says(&rows, NoContacts, &["warning", "J1,contacts,1,clk"]);
}

#[test]
fn others_is_no_net() {
    says(&but("U1,74LS04,others,open", "U1,74LS04,others,GND"), Word, &["card.csv:15: error", "`GND`"]);
    says(&format!("{INVERTER}J1,contacts,others,open\n"), Word, &["card.csv:16: error", "means nothing"]);
}

#[test]
fn a_timing_part_is_read_and_refused_in_a_proof() {
    let shot = "U2,74LS123,1,a\nU2,,2,VCC\nU2,,3,VCC\nU2,,13,pulse\nU2,,14,c\nU2,,15,rc\nU2,,8,GND\nU2,,16,VCC\nU2,,others,open\n";
    let rows = format!("{}{shot}C1,capacitor 1n ignored,1,c\nC1,,2,rc\n", but("U1,74LS04,3,GND", "U1,74LS04,3,pulse"));
    says(
        &rows,
        NotLogic,
        &["card.csv:16: warning", "U2 (74LS123)", "`pulse`", "a one-shot has time", "make its output a contact"],
    );
    let error = board(&rows).circuit().expect_err("refused");
    assert_eq!(error.errors().count(), 1);
    assert!(error.to_string().starts_with("card.csv: 1 error in the trace\n  card.csv:16: error: U2"), "{error}");
}

/// The nets that nobody has traced to their ends, sorted.
fn untraced(rows: &str) -> Vec<String> {
    let mut nets: Vec<String> = board(rows).untraced().into_iter().map(|u| u.net.unwrap_or("-".into())).collect();
    nets.sort();
    nets
}

#[test]
fn marks_are_kept_with_the_nets_that_they_touch() {
    assert_eq!(untraced(INVERTER), [""; 0]);
    // an input, an output, a contact
    assert_eq!(untraced(&but("U1,74LS04,3,GND", "U1,74LS04,3,untraced")), ["U1 pin 3"]);
    assert_eq!(untraced(&but("U1,74LS04,2,y", "U1,74LS04,2,UNTRACED")), ["U1 pin 2"]);
    assert_eq!(untraced(&but("J1,contacts,2,y", "J1,contacts,2,untraced")), ["contact 2"]);
    assert_eq!(untraced(&but("others,open", "others,untraced")).len(), 5);
    // a marked net
    assert_eq!(untraced(&format!("{INVERTER},untraced,,y\n")), ["y"]);
    // a package of unknown type, an empty position: their signals, not the rails
    for part in ["unknown", "unknown 16 pins", "empty"] {
        assert_eq!(untraced(&format!("{INVERTER}U9,{part},1,a\nU9,{part},7,GND\n")), ["a"]);
    }
    // a package that nobody has looked at touches no net that is known, and the card is not whole
    assert_eq!(untraced(&format!("{INVERTER}U9,unknown,others,untraced\n")), ["-"]);
    // a part that leads away to somewhere
    assert_eq!(untraced(&format!("{INVERTER}R1,resistor 1k,1,a\nR1,resistor 1k,2,untraced\n")), ["a"]);
    assert_eq!(untraced(&format!("{INVERTER}X1,jumper,1,untraced\nX1,jumper,2,y\n")), ["y"]);
}

#[test]
fn a_net_without_a_driver_is_not_known_while_an_output_waits() {
    let lost = but("U1,74LS04,3,GND\nU1,74LS04,5,GND", "U1,74LS04,3,lost\nU1,74LS04,5,lost");
    assert_eq!(untraced(&lost), [""; 0]);
    let waiting = lost.replace("U1,74LS04,others", "U1,74LS04,6,untraced\nU1,74LS04,others");
    assert_eq!(untraced(&waiting), ["U1 pin 6", "lost"]);
    assert_eq!(said(&waiting, NoDriver), [""; 0], "the trace says so itself");
    let unknown = format!("{lost}U9,unknown,1,a\n");
    assert_eq!(untraced(&unknown), ["a", "lost"]);
    let whole = format!("{unknown}U9,unknown,others,open\n");
    assert_eq!(untraced(&whole), ["a"]);
}

#[test]
fn marks_are_reported() {
    says(
        &but("U1,74LS04,3,GND", "U1,74LS04,3,untraced"),
        Untraced,
        &["card.csv:10: warning", "pin 3 not yet traced", "leaves out"],
    );
    let said = said(&format!("{INVERTER}U9,unknown,1,a\n"), Untraced);
    assert!(said[0].contains("card.csv:16: warning: `U9` is of unknown type"), "{said:?}");
    assert!(said[1].contains("card.csv:16: note: `a` is not fully traced"), "{said:?}");
    says(&format!("{INVERTER}U9,untraced,1,\n"), Word, &["card.csv:16: error", "`U9,unknown,others,untraced`"]);
    // pins that are joined to nothing inside need no tracing
    let nand = format!("{INVERTER}U2,74LS30,others,untraced\n");
    says(&nand, Untraced, &["card.csv:16: warning", "pins 1, 2, 3, 4, 5, 6, 7, 8 and 3 more not yet traced"]);
    // an untraced power pin is not a missing one
    let power = but("U1,74LS04,14,VCC", "U1,74LS04,14,untraced");
    assert_eq!(super::said(&power, PowerMissing), [""; 0]);
}
