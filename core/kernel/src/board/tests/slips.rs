//! In which order the single changes of a trace are tried, and which types stand in for which.
use super::*;
use crate::circuit::{Circuit, Label};

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

/// Two gates in a row on one package, and an inverter of an open collector with its pull-up.
const GATES: &str = "\
J1,contacts,1,a
J1,contacts,2,b
J1,contacts,3,c
J1,contacts,4,y
J1,contacts,5,z
J1,contacts,7,GND
J1,contacts,14,VCC
U1,74LS00,1,a
U1,74LS00,2,b
U1,74LS00,3,m
U1,74LS00,4,m
U1,74LS00,5,c
U1,74LS00,6,y
U1,74LS00,9,b
U1,74LS00,10,c
U1,74LS00,8,n
U1,74LS00,12,GND
U1,74LS00,13,GND
U1,74LS00,11,open
U1,74LS00,7,GND
U1,74LS00,14,VCC
U2,74LS05,1,n
U2,74LS05,2,z
U2,74LS05,7,GND
U2,74LS05,14,VCC
U2,74LS05,others,open
R1,resistor 4k7,1,z
R1,resistor 4k7,2,VCC
";

/// What is changed without reading the rows again is what they would say.
#[test]
fn the_circuit_of_a_change_is_that_of_its_trace() {
    let card = board(GATES);
    let mut sound = 0;
    for change in card.alterations() {
        let Some(altered) = card.altered(&change) else { continue };
        let written = String::from_utf8(altered.sheet()).expect("text");
        let read = Board::from_csv("card.csv", &written, &Drawer).unwrap_or_else(|e| panic!("{}: {e}", change.words));
        let circuit = card.altered_circuit(&change).expect("it is sound");
        let said = |c: &Circuit| {
            let labels = ["1", "2", "3", "4", "5"].map(Label::new);
            labels.map(|label| cone(c, &label))
        };
        assert_eq!(said(&circuit), said(&read.circuit().expect("logic")), "{}", change.words);
        sound += 1;
    }
    assert!(sound > 60, "{sound}");
}

/// What a contact depends on, as text: each net once, with what drives it.
fn cone(circuit: &Circuit, label: &Label) -> Vec<String> {
    let Some(contact) = circuit.find_contact(label).and_then(|c| circuit.contacts().get(c.index())) else {
        return Vec::new();
    };
    let cone = circuit.cone([contact.net], |_| true);
    let mut all = vec![format!("{:?}", contact.direction)];
    for net in cone.nets().filter_map(|n| circuit.nets().get(n.index())) {
        let label = net.contact.and_then(|c| circuit.contacts().get(c.index())).map(|c| c.label.to_string());
        let mut drivers: Vec<String> = net
            .drivers
            .iter()
            .map(|d| {
                let read = |e| {
                    let within = circuit.cone([e], crate::circuit::Vertex::is_expression);
                    let mut ops: Vec<String> = within
                        .expressions()
                        .map(|e| match circuit.op(e) {
                            crate::circuit::Op::Net(n) => circuit.called(n).to_owned(),
                            op => format!("{:?}", op.map(|_| crate::circuit::Expr::LOW)),
                        })
                        .collect();
                    ops.sort();
                    ops
                };
                format!("{} {:?} {:?} {:?}", d.by, d.stage, read(d.enable), read(d.level))
            })
            .collect();
        drivers.sort();
        all.push(format!("{label:?} {:?} {:?} {drivers:?}", net.pull, net.open_read));
    }
    all.sort();
    all
}

/// A change that does not touch what a contact depends on leaves all of that as it is.
#[test]
fn what_does_not_touch_a_contact_leaves_it_alone() {
    let card = board(GATES);
    let before = card.circuit().expect("logic");
    let (mut alone, mut changed) = (0, 0);
    for label in ["4", "5"].map(Label::new) {
        let reach = card.reach(&label);
        for change in card.alterations() {
            let Some(after) = card.altered_circuit(&change) else { continue };
            let is_same = cone(&before, &label) == cone(&after, &label);
            assert!(is_same || reach.is_touched_by(&change), "{}: contact {label} changes", change.words);
            alone += usize::from(!reach.is_touched_by(&change));
            changed += usize::from(!is_same);
        }
    }
    assert!(alone > 40 && changed > 100, "{alone} {changed}");
}

/// A pin whose row is missing, and that the check of the trace names, comes before all other changes; an output that was left
/// out because it leads nowhere does not.
#[test]
fn a_row_that_a_finding_misses_comes_first() {
    let without = |row: &str| GATES.replace(row, "").replace("U1,74LS00,11,open\n", "");
    let kind = |rows: &str| board(rows).alterations().into_iter().map(|a| a.words).next().expect("there are changes");
    assert!(kind(&without("U1,74LS00,5,c\n")).starts_with("U1 pin 5, which has no row, is on the net"));
    // an output: its net is without a driver
    assert_eq!(kind(&without("U1,74LS00,3,m\n")), "U1 pin 3, which has no row, is on the net `m`");
    let whole = kind(&without(""));
    assert!(!whole.contains("has no row"), "{whole}");
}

/// A misspelt net has two readers and no driver, and its right name no reader: the change that makes the two one is what the
/// findings speak for, and one that leaves one of them or brings another is not.
#[test]
fn findings_speak_for_the_change_that_answers_them() {
    let card = board(&GATES.replace("U1,74LS00,4,m", "U1,74LS00,4,mm"));
    let kinds = |words: &str| -> Vec<FindingKind> {
        let change = card.alterations().into_iter().find(|a| a.words.starts_with(words)).expect("it is tried");
        let altered = card.altered(&change).expect("sound");
        card.answered_by(&altered).iter().map(|f| f.kind).collect()
    };
    assert!(!kinds("the nets `mm` and `m` of the trace are one").is_empty());
    assert!(kinds("pins 9 and 10 of U1").is_empty());
    assert!(kinds("U1 pin 9 is not on the net `b`, but open").is_empty(), "an input that floats now");
    let reach = card.reach(&Label::new("4"));
    let named = |f: &&Finding| f.about.contains(&Subject::Net("mm".to_owned()));
    let about: Vec<&Finding> = card.findings().iter().filter(named).collect();
    assert!(!about.is_empty() && about.iter().all(|f| reach.is_about(f)), "{about:?}");
    assert!(!about.iter().any(|f| card.reach(&Label::new("5")).is_about(f)), "{about:?}");
}
