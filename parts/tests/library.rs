//! The drawer as a board sees it.
use gluewright::board::{Behaviour, Board, FindingKind, Library, PinRole};
use gluewright::circuit::{Label, Rail, Stage};
use gluewright_parts::{Family, NotFound, ttl};

#[test]
fn a_traced_card_finds_its_parts() {
    let card = "ref,part,pin,net\n\
        J1,contacts,1,a\nJ1,contacts,2,b\nJ1,contacts,3,y\nJ1,contacts,4,GND\nJ1,contacts,5,VCC\n\
        U1,SN74LS00N,1,a\nU1,SN74LS00N,2,b\nU1,SN74LS00N,3,y\nU1,SN74LS00N,7,GND\nU1,SN74LS00N,14,VCC\n\
        U1,SN74LS00N,others,open\n";
    let board = Board::from_csv("gate.csv", card, ttl());
    if let Err(error) = board {
        panic!("{error}");
    }
}

#[test]
fn families_share_logic_but_not_figures() {
    let (ls, f) = (ttl().find("74LS138").unwrap(), ttl().find("MC74F138N").unwrap());
    assert!(std::ptr::eq(ls.kind, f.kind));
    assert!(ls.sheet.is_some());
    assert!(f.sheet.is_none(), "no figures of the F family are known");
    assert_eq!(ttl().part("74F138").unwrap().name(), "74F138");
    assert!(ttl().find("7406").unwrap().sheet.is_some_and(|s| s.type_number == "7406"));
    assert!(ttl().find("54LS138").unwrap().sheet.is_none(), "figures are those of the 74 series");
}

#[test]
fn a_package_has_all_its_pins() {
    let part = ttl().part("74LS90").unwrap();
    let pin = |n: u16| part.pin(&Label::from(n));
    assert_eq!(pin(5), Some(PinRole::Supply(Rail::Vcc)));
    assert_eq!(pin(10), Some(PinRole::Supply(Rail::Gnd)));
    assert_eq!(pin(4), Some(PinRole::Unconnected));
    assert_eq!(pin(12), Some(PinRole::Output(Stage::PushPull)));
    for kind in ttl().types() {
        let part = ttl().part(kind.type_number()).unwrap();
        let package = kind.sheets()[0].package;
        assert_eq!(part.pins().count(), usize::from(package), "{}", kind.type_number());
        for pin in &kind.sheets()[0].pins {
            // the pinout of a part that is refused says that a pin is an output, not of which kind
            let role = match pin.role {
                PinRole::Output(_) if kind.logic().is_none() => PinRole::Output(Stage::PushPull),
                role => role,
            };
            assert_eq!(part.pin(&pin.label), Some(role), "{} pin {}", kind.type_number(), pin.label);
        }
    }
}

#[test]
fn a_timing_part_is_known_and_refused() {
    for one_shot in ["74LS122", "74LS123", "SN74LS221N", "74123"] {
        let part = ttl().part(one_shot).unwrap();
        let Behaviour::Refused { why, mend } = part.behaviour() else { panic!("{one_shot} is not refused") };
        assert!(why.contains("resistor and a capacitor"), "{why}");
        assert!(mend.contains("outputs contacts"), "{mend}");
    }
    assert_eq!(ttl().part("74LS123").unwrap().pin(&Label::from(15)), Some(PinRole::Analog));
}

#[test]
fn a_type_that_is_another_thing_in_its_family_is_not_taken_for_it() {
    assert!(matches!(ttl().find("7451"), Err(NotFound::OtherPins { .. })));
    assert!(ttl().part("SN7451N").is_none());
    let pulse_triggered = ttl().part("7473").unwrap();
    assert!(matches!(pulse_triggered.behaviour(), Behaviour::Refused { why, .. } if why.contains("pulse-triggered")));
    assert!(matches!(ttl().part("74HC73").unwrap().behaviour(), Behaviour::Logic));
    assert!(matches!(ttl().find("74LS9999"), Err(NotFound::Function(_))));
    assert!(matches!(ttl().find("LM741"), Err(NotFound::Number(_))));
}

#[test]
fn a_trace_repeats_what_is_doubtful_about_its_parts() {
    let card = "ref,part,pin,net\n\
        J1,contacts,1,clk\nJ1,contacts,2,q\nJ1,contacts,3,GND\nJ1,contacts,4,VCC\n\
        U7,SN7493AN,14,clk\nU7,SN7493AN,12,q\nU7,SN7493AN,5,VCC\nU7,SN7493AN,10,GND\nU7,SN7493AN,others,open\n";
    let notes = |card: &str| {
        let board = Board::from_csv("divider.csv", card, ttl()).unwrap();
        let doubts = board.findings().iter().filter(|f| f.kind == FindingKind::Doubt);
        doubts.map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(notes(card), [] as [&str; 0]);
    let decade = notes(&card.replace("7493A", "74LS90"));
    assert_eq!(decade.len(), 1);
    assert!(decade[0].starts_with("divider.csv:6: note: U7 (74LS90): Counts 5, 6 and 7"), "{decade:?}");
}

#[test]
fn doubts_follow_the_family() {
    let counter = ttl().function("161").unwrap();
    assert_eq!(counter.doubts(Family::Ls).count(), 0);
    assert_eq!(counter.doubts(Family::Standard).count(), 1);
    assert!(ttl().function("160").unwrap().doubts(Family::Ls).any(|d| d.contains("from 10 to 15")));
}
