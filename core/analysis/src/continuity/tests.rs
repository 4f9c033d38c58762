//! Readings by hand: what contradicts, what is asked for, what comes of it.
use std::sync::Arc;

use gluewright_kernel::board::{Library, Part};
use gluewright_kernel::circuit::{By, Circuit, Contact, Direction, Driver, Expr, Label, Origin, Polarity, Rail, Stage};

use super::*;

/// A drawer of two types of six pins: `BUFFER` drives pin 2 from 1 and 5 from 4, `TURNED` drives 1 from 2 and 4 from 5.
struct Drawer;

fn part(name: &str, pairs: [(u16, u16); 2]) -> Part {
    let mut circuit = Circuit::new(name);
    for (input, output) in pairs {
        let mut at = |pin: u16, direction| {
            let net = circuit.add_net(format!("pin {pin}"), Origin::Nowhere);
            let (label, name) = (Label::from(pin), format!("pin {pin}"));
            let polarity = Polarity::Data;
            circuit.add_contact(Contact { label, name, net, polarity, direction, origin: Origin::Nowhere });
            net
        };
        let (from, to) = (at(input, Direction::Input), at(output, Direction::Output));
        let level = circuit.net(from);
        let by = By::signal(name);
        circuit.drive(to, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by, origin: Origin::Nowhere });
    }
    circuit.add_supply(Label::from(3), Rail::Gnd);
    circuit.add_supply(Label::from(6), Rail::Vcc);
    Part::logic(name, Arc::new(circuit))
}

impl Library for Drawer {
    fn part(&self, type_number: &str) -> Option<Part> {
        match type_number {
            "BUFFER" => Some(part("BUFFER", [(1, 2), (4, 5)])),
            "TURNED" => Some(part("TURNED", [(2, 1), (5, 4)])),
            _ => None,
        }
    }

    fn names(&self) -> Vec<String> {
        vec!["BUFFER".to_owned(), "TURNED".to_owned()]
    }
}

const PARTS: &str = "ref,part,pins\nJ1,contacts,1-4\nU1,BUFFER,\nU2,BUFFER,\n";

fn studied(parts: &str, rows: &str) -> Study {
    let parts = Parts::from_csv("parts.csv", parts, &Drawer).unwrap_or_else(|e| panic!("{e}"));
    let rows = format!("from,to,ohms\n{rows}");
    study(&Readings::from_csv("continuity.csv", rows, parts).unwrap_or_else(|e| panic!("{e}")), &Drawer)
}

/// Two buffers between four contacts: U1 from 1 to 2 and on to U2, which drives 4; 3 is VCC. The other halves are open.
const JOINTS: &str =
    "U1.1,1,0.2\nU1.2,2,0.2\nU1.2,U2.1,0.3\nU2.2,4,0.1\nU1.3,GND,0\nU1.3,U2.3,0\nU1.6,3,0\nU2.6,U1.6,0\nU1.6,VCC,0\n";
const SWEEPS: &str = "U1.1,others,open\nU1.2,others,open\nU1.4,others,open\nU1.5,others,open\nU2.4,others,open\nU2.5,others,open\nU2.2,others,open\n";

#[test]
fn joints_become_the_trace_once_neighbours_are_apart() {
    let study = studied(PARTS, JOINTS);
    assert!(!study.is_settled() && study.contradictions.is_empty());
    assert_eq!(study.joints, 9);
    let open: Vec<String> = study.open_pins.iter().map(ToString::to_string).collect();
    assert_eq!(open, ["U1.4", "U1.5", "U2.4", "U2.5"]);
    assert!(study.next.iter().all(|n| n.reason == Reason::Pin && n.to == To::Others), "{study}");
    let study = studied(PARTS, &(JOINTS.to_owned() + SWEEPS));
    let rest: Vec<String> = study.next.iter().map(ToString::to_string).collect();
    assert_eq!(rest, Vec::<String>::new(), "{study}");
    assert!(study.is_settled(), "{study}");
    let trace = String::from_utf8_lossy(study.trace()).into_owned();
    for row in [
        "J1,contacts,1,J1_1",
        "U1,BUFFER,2,U1_2",
        "U2,BUFFER,1,U1_2",
        "J1,contacts,3,VCC",
        "U2,BUFFER,3,GND",
        "U1,BUFFER,4,open",
    ] {
        assert!(trace.contains(&format!("{row}\n")), "no {row} in\n{trace}");
    }
    assert!(!study.on_trust.is_empty() && !study.before_it_goes.is_empty());
}

#[test]
fn a_joint_that_was_not_noticed_is_named_and_measured_again() {
    // line 8 says that U1.1 and contact 1 are apart
    let rows = JOINTS.replace("U1.1,1,0.2", "U1.1,1,0.2\nU1.1,U2.4,0.2\nU2.4,1,open");
    let study = studied(PARTS, &rows);
    let [only] = study.contradictions.as_slice() else { panic!("{study}") };
    assert_eq!((&only.apart[..], &only.joined[..]), (&[4][..], &[2, 3][..]));
    assert_eq!([only.from.to_string(), only.to.to_string()], ["J1.1", "U2.4"]);
    // measured again, it is settled; the first reading counts for nothing
    let study = studied(PARTS, &(rows.clone() + "U2.4,1,0.2\n"));
    assert!(study.contradictions.is_empty(), "{study}");
    assert_eq!(study.overruled, [4]);
    // had it been right, one of the two joints would be wrong: the one that is asked for next
    let study = studied(PARTS, &(rows + "U2.4,1,open\n"));
    let [only] = study.contradictions.as_slice() else { panic!("{study}") };
    assert_eq!(only.joined, [2, 3]);
    assert_eq!([only.from.to_string(), only.to.to_string()], ["J1.1", "U1.1"]);
}

#[test]
fn a_wrong_joint_is_found_by_the_readings_around_it() {
    // U1.1 to U1.2: two nets that two readings keep apart
    let rows = format!("{JOINTS}U1.1,U2.1,open\n1,2,open\nU2.2,U1.1,0.2\nU1.2,4,0.3\n");
    let study = studied(PARTS, &rows);
    assert_eq!(study.contradictions.len(), 1, "{study}");
    // outputs of two packages are on the net as well
    assert!(study.contradictions[0].parts.iter().any(|p| p.contains("outputs that always drive")), "{study}");
    let (mut rows, truth) = (rows, |from: &str, to: &str| {
        let net =
            |p: &str| ["U1.1 J1.1", "U1.2 J1.2 U2.1", "U2.2 J1.4"].iter().position(|n| n.split(' ').any(|q| q == p));
        net(from).is_some() && net(from) == net(to)
    });
    for _ in 0..12 {
        let study = studied(PARTS, &rows);
        let Some(next) = study.contradictions.first() else { break };
        let (from, to) = (next.from.to_string(), next.to.to_string());
        rows += &format!("{from},{to},{}\n", if truth(&from, &to) { "0.2" } else { "open" });
    }
    let study = studied(PARTS, &rows);
    assert!(study.contradictions.is_empty(), "{rows}{study}");
    assert_eq!(study.overruled, [13, 14], "{rows}{study}");
}

#[test]
fn joined_rails_are_not_believed_at_once() {
    let rows = format!("{JOINTS}U2.3,U2.6,0\n");
    let study = studied(PARTS, &rows);
    let [only] = study.contradictions.as_slice() else { panic!("{study}") };
    assert!(only.apart.is_empty() && !only.parts.is_empty());
    assert_eq!([only.from.to_string(), only.to.to_string()], ["U2.3", "U2.6"]);
    let study = studied(PARTS, &(rows.clone() + "U2.3,U2.6,open\n"));
    assert!(study.contradictions.is_empty() && study.overruled == [11], "{study}");
    // twice may be wrong twice; three times is believed, and said
    let twice = rows + "U2.3,U2.6,0\n";
    assert_eq!(studied(PARTS, &twice).contradictions.len(), 1);
    let study = studied(PARTS, &(twice + "U2.3,U2.6,0\n"));
    assert!(study.contradictions.is_empty() && study.confirmed.len() == 1, "{study}");
}

#[test]
fn a_sweep_that_missed_something_is_contradicted_by_what_is_found_later() {
    let rows = format!("{JOINTS}{SWEEPS}U2.5,U2.4,0.2\n");
    let study = studied(PARTS, &rows);
    assert_eq!(study.contradictions.len(), 1, "{study}");
    let all = &study.contradictions[0];
    assert!(all.apart.iter().all(|line| (11..=17).contains(line)) && all.joined == [18], "{study}");
}

#[test]
fn resistances_of_one_pair_of_nets_agree_or_are_measured_again() {
    let parts = format!("{PARTS}R1,resistor,\nR2,resistor 330,\n");
    let rows = format!("{JOINTS}R1.1,U1.1,0\nR1.2,VCC,0\nR1.1,R1.2,4.68k\n");
    let study = studied(&parts, &rows);
    assert!(study.contradictions.is_empty(), "{study}");
    assert!(String::from_utf8_lossy(study.trace()).contains("R1,resistor 4.7k,1,"));
    let study = studied(&parts, &(rows.clone() + "1,3,open\n"));
    let [only] = study.contradictions.as_slice() else { panic!("{study}") };
    assert_eq!(only.apart, [13, 14]);
    assert!(studied(&parts, &(rows + "1,3,4k6\n")).contradictions.is_empty());
}

#[test]
fn an_unknown_package_is_narrowed_by_its_supplies_and_outputs() {
    let parts = "ref,part,pins\nJ1,contacts,1-4\nU1,BUFFER,\nU3,unknown,6\n";
    let rails = "U1.3,GND,0\nU3.3,GND,0\nU1.6,VCC,0\nU3.6,VCC,0\n";
    let types = |rows: &str| studied(parts, rows).narrowed.first().map(|n| n.types.clone()).unwrap_or_default();
    assert_eq!(types(rails), ["BUFFER", "TURNED"]);
    // U1 drives what would be an output of the other
    assert_eq!(types(&format!("{rails}U1.2,U3.1,0\n")), ["BUFFER"]);
    assert_eq!(types(&format!("{rails}U1.2,U3.2,0\n")), ["TURNED"]);
    assert!(types("U1.3,GND,0\nU3.6,GND,0\n").is_empty());
}

#[test]
fn rows_that_no_meter_makes_are_refused_with_their_line() {
    let error = |rows: &str| {
        let parts = Parts::from_csv("parts.csv", PARTS, &Drawer).unwrap();
        Readings::from_csv("continuity.csv", format!("from,to,ohms\n{rows}\n"), parts).unwrap_err()
    };
    use ContinuityErrorKind::*;
    for (row, kind) in [
        ("U1.1,U1.1,0", Point),
        ("U1.7,U1.1,0", Point),
        ("U9.1,U1.1,0", Point),
        ("U1-1,U1.2,0", Point),
        ("open,U1.1,0", Point),
        (",U1.1,0", Point),
        ("U1.1,others,0.2", Value),
        ("U1.1,U1.2,beep", Value),
        ("U1.1,U1.2,-3", Value),
        ("U1.1,U1.2,9V", Value),
        ("U1.1,U1.2", Value),
    ] {
        let error = error(row);
        assert_eq!((error.kind, error.line), (kind, 2), "{row}: {error}");
        assert!(error.to_string().starts_with("continuity.csv:2: "), "{error}");
    }
    // all of a file's wrong rows at once
    let both = error("U9.1,U1.1,0\nU1.1,U2.3,0\nU1.1,U1.2,beep");
    assert_eq!(both.others.iter().map(|e| (e.kind, e.line)).collect::<Vec<_>>(), [(Value, 4)]);
    assert_eq!(both.to_string().lines().count(), 2, "{both}");
    let parts =
        |rows: &str| Parts::from_csv("parts.csv", format!("ref,part,pins\n{rows}"), &Drawer).map(|_| ()).unwrap_err();
    for row in ["U1,BUFFER,\nU1,BUFFER,", "1,BUFFER,", "U1,,", "U1,resistor of gold,", "U1,unknown,A1-B9"] {
        assert_eq!(parts(row).kind, Part, "{row}");
    }
    assert_eq!(Parts::from_csv("p.csv", "a,b\n", &Drawer).unwrap_err().kind, Header);
    assert_eq!(Readings::from_csv("c.csv", "a,b\n", Parts::none()).unwrap_err().kind, Header);
}
