//! The drawer as a board sees it.
use gluewright::board::{Behaviour, Board, FindingKind, Library, PinRole};
use gluewright::circuit::{Label, Rail, Stage};
use gluewright::figures::{Levels, OpenInput};
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
    for other in ["74H01", "74L85", "74C86", "74L90", "74H78"] {
        assert!(matches!(ttl().find(other), Err(NotFound::OtherPins { .. })), "{other}");
    }
}

#[test]
fn a_letter_that_is_missing_makes_no_part_of_an_old_family() {
    for other in ["74L373", "74H138", "74C245", "74L245", "74H374"] {
        let said = ttl().find(other).map(|f| f.number.to_string()).map_err(|e| e.to_string());
        assert!(said.as_ref().is_err_and(|e| e.contains("is a letter missing")), "{other}: {said:?}");
    }
}

#[test]
fn every_family_of_a_function_is_found() {
    for (written, type_number) in [
        ("74AC138", "74AC138"),
        ("74LVC245", "74LVC245"),
        ("SN74ACT374N", "74ACT374"),
        ("74AHC595", "74AHC595"),
        ("74AHCT16245", "74AHCT16245"),
        ("74ABT377", "74ABT377"),
        ("74FCT244", "74FCT244"),
        ("74C00", "74C00"),
        ("74H10", "74H10"),
        ("74L04", "74L04"),
        ("74AHC1G08", "74AHC1G08"),
        ("74HCT4060", "74HCT4060"),
    ] {
        let found = ttl().find(written).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(found.number.to_string(), type_number);
        assert!(found.kind.logic().is_some() && found.refusal.is_none(), "{written}");
    }
}

/// National Semiconductor and Texas Instruments sheets of CMOS families say that every unused input must be tied (common
/// practice, no source seen); an open bipolar input reads high.
#[test]
fn what_an_open_input_does_follows_the_family() {
    for family in Family::ALL {
        let bipolar = matches!(
            family,
            Family::Standard | Family::S | Family::Ls | Family::As | Family::Als | Family::F | Family::H | Family::L
        );
        let figures = ttl().family(family).unwrap_or_else(|| panic!("no figures of {family}"));
        assert_eq!(family.open_input(), if bipolar { OpenInput::High } else { OpenInput::Unknown }, "{family}");
        // thresholds of TTL go with TTL inputs and with the T families, halves of the supply with the others
        let vih = figures.vih_min_v.unwrap().value;
        assert_eq!(vih > 3.0, family.levels() == Levels::Cmos, "{family}: {vih}");
        let vil = figures.vil_max_v.unwrap().value;
        assert!((0.7..=1.65).contains(&vil) && vil < vih, "{family}: {vil}");
    }
    let open = |part: &str| ttl().part(part).unwrap().figures().unwrap().open_input;
    assert_eq!(open("74LS00"), OpenInput::High);
    assert_eq!(open("74HC00"), OpenInput::Unknown);
    assert_eq!(open("CD4011"), OpenInput::Unknown);
    assert_eq!(open("74ABT16245"), OpenInput::Unknown);
    assert_eq!(open("8T26A"), OpenInput::High);
    assert_eq!(open("ULN2003"), OpenInput::Low);
}

#[test]
fn numbers_of_makers_are_found() {
    for (printed, type_number) in [
        ("N82S123N", "74S288"),
        ("82S129", "74S287"),
        ("6331-1J", "74S288"),
        ("TBP24S10N", "74S287"),
        ("82S131", "74S571"),
        ("MC1489AP", "75189"),
        ("SN75451BP", "75451"),
        ("ULN2003AN", "ULN2003"),
        ("N8T26AB", "8T26A"),
        ("DM8T28N", "8T28"),
        ("MC6887P", "8T97"),
        ("AM25LS2518PC", "25LS2518"),
        ("74LS2518", "25LS2518"),
        ("NE555P", "555"),
        ("555N", "555"),
        ("DM9602N", "9602"),
        ("CD4066BE", "CD4066"),
    ] {
        let found = ttl().find(printed).unwrap_or_else(|e| panic!("{printed}: {e}"));
        assert_eq!(found.number.to_string(), type_number, "{printed}");
        assert!(found.sheet.is_some(), "{printed}");
    }
    // transistors and other things with such numbers
    for other in ["BC556", "BC555", "2N5551", "1N4001", "TIP6331", "82S1230", "5551", "6331-0012"] {
        let found = ttl().find(other).map(|f| f.number.to_string());
        assert!(found.is_err(), "{other} is taken for {found:?}");
    }
}

#[test]
fn parts_that_are_no_logic_say_so_and_where_to_cut() {
    for (part, why) in [
        ("74121", "resistor and a capacitor"),
        ("9602", "resistor and a capacitor"),
        ("NE555", "voltages at a capacitor"),
        ("TD100", "some time later"),
        ("CD4066", "in no direction"),
        ("75107", "voltages beyond"),
        ("MC1488", "voltages beyond"),
        ("75189", "voltages beyond"),
        ("ULN2003", "relays"),
        ("MAX232ACPE", "voltages beyond"),
    ] {
        let part = ttl().part(part).unwrap_or_else(|| panic!("{part}"));
        let Behaviour::Refused { why: said, mend } = part.behaviour() else { panic!("{} is not refused", part.name()) };
        assert!(said.contains(why), "{}: {said}", part.name());
        assert!(mend.contains("outputs contacts"), "{mend}");
    }
    let refusal = ttl().find("74121").unwrap().refusal.unwrap();
    assert!(
        refusal.mend.contains("pins 1 (Q_N), 6 (Q)") && refusal.mend.contains("3 (A1), 4 (A2), 5 (B)"),
        "{}",
        refusal.mend
    );
}

/// Signetics N74121: 0.693 · R · C; 10 kΩ and 1 nF make 6.93 µs. TI and Motorola, 74LS123: 0.45 · R · C (from memory).
#[test]
fn the_times_of_one_shots_are_known() {
    let pulses = |part: &str| ttl().part(part).unwrap().figures().unwrap().pulses.clone();
    let near = |a: Option<f64>, b: f64| a.is_some_and(|a| (a / b - 1.0).abs() < 1e-6);
    assert!(near(pulses("74121")[0].seconds(10e3, 1e-9), 6.93e-6));
    assert!(!pulses("74121")[0].retriggerable && pulses("74LS123")[0].retriggerable);
    let by_maker: Vec<Option<f64>> = pulses("74LS123").iter().take(2).map(|p| p.seconds(10e3, 1e-9)).collect();
    assert!(near(by_maker[0], 4.5e-6) && near(by_maker[1], 3.7e-6), "{by_maker:?}");
    assert!(near(pulses("74LS123")[2].seconds(10e3, 1e-9), 0.28 * 10.7e3 * 1e-9));
    assert!(near(pulses("555")[0].seconds(1e6, 1e-6), 1.1));
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
