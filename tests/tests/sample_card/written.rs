//! The sample card of the design, part by part.
use gluewright::circuit::{Circuit, Direction, Expr, Kind, Op, Origin, Polarity, Pull, Stage, Start};

use super::evaluate::{driver, element, means};
use super::source::SampleCard;

fn card() -> Circuit {
    gluewright::circuit_of::<SampleCard>().unwrap()
}

#[test]
fn contacts_carry_their_labels_directions_and_lines() {
    let c = card();
    let row = |i: usize| {
        let contact = &c.contacts()[i];
        (contact.label.to_string(), contact.name.clone(), contact.direction, contact.polarity)
    };
    assert_eq!(c.name, "sample_card");
    assert_eq!(c.contacts().len(), 16);
    assert_eq!(row(0), ("1".into(), "clock".into(), Direction::Input, Polarity::Clock));
    assert_eq!(row(5), ("8".into(), "gauge[0]".into(), Direction::Input, Polarity::Data));
    assert_eq!(row(12), ("16".into(), "data[3]".into(), Direction::Output, Polarity::Data));
    assert_eq!(row(14), ("18".into(), "irq".into(), Direction::Output, Polarity::ActiveLow));
    for (contact, field) in c.contacts().iter().zip(["clock:", "select:", "read:", "reset:", "strobe:", "gauge:"]) {
        assert!(line_of(&contact.origin).contains(field), "{}", contact.origin);
        let net = &c.nets()[contact.net.index()];
        assert_eq!((net.name.as_str(), net.pull), (contact.name.as_str(), Pull::None));
    }
}

/// The line of the source that an origin names.
fn line_of(origin: &Origin) -> &'static str {
    let Origin::Line { file, line } = origin else { panic!("nowhere") };
    assert!(file.ends_with("sample_card.rs"), "{file}");
    include_str!("../../../examples/src/sample_card.rs").lines().nth(*line as usize - 1).unwrap()
}

#[test]
fn a_buried_register_loads_levels_and_clears() {
    let c = card();
    let seen = element(&c, "seen");
    let Kind::Register { clock, data } = seen.kind else { panic!("{seen:?}") };
    assert_eq!(c.op(clock), Op::Net(c.find_net("clock").unwrap()));
    means(&c, data, &["strobe"], |of| of("strobe"));
    means(&c, seen.clear, &["reset"], |of| !of("reset"));
    assert_eq!((seen.preset, seen.start), (Expr::LOW, Start::Any));
    assert!(line_of(&seen.origin).contains("seen: on(clock)"));
    assert_eq!(c.find_net("seen"), None, "a buried register is no net");
}

#[test]
fn the_reset_of_a_flag_asserted_high_clears_it() {
    let c = card();
    let fresh = element(&c, "fresh");
    means(&c, fresh.clear, &["reset"], |of| !of("reset"));
    assert_eq!(fresh.preset, Expr::LOW);
}

#[test]
fn the_reset_of_a_flag_asserted_low_presets_its_level() {
    let c = card();
    let missed = element(&c, "missed");
    means(&c, missed.preset, &["reset"], |of| !of("reset"));
    assert_eq!(missed.clear, Expr::LOW);
    let Kind::Register { data, .. } = missed.kind else { panic!("{missed:?}") };
    means(&c, data, &["was", "seen", "fresh", "missed (value)", "select", "read"], |of| {
        let (ended, missed) = (of("was") && !of("seen"), !of("missed (value)"));
        let reading = !of("select") && !of("read");
        !((ended && of("fresh") && !missed) || (!reading && missed))
    });
}

#[test]
fn a_pin_is_driven_with_its_own_value() {
    let c = card();
    let inner = driver(&c, "missed (value)");
    assert_eq!((inner.enable, inner.stage), (Expr::HIGH, Stage::PushPull));
    assert_eq!(c.op(inner.level), Op::Q(c.find_element("missed").unwrap()));
    let pin = driver(&c, "missed");
    assert_eq!((pin.enable, pin.stage, pin.by.to_string().as_str()), (Expr::HIGH, Stage::PushPull, "missed"));
    assert_eq!(c.op(pin.level), Op::Net(c.find_net("missed (value)").unwrap()));
    assert!(line_of(&pin.origin).contains("missed: on(clock)"));
}

#[test]
fn a_three_state_register_keeps_what_it_holds_and_drives_while_told() {
    let c = card();
    let pin = driver(&c, "data[2]");
    assert_eq!(pin.stage, Stage::ThreeState);
    means(&c, pin.enable, &["select", "read"], |of| !of("select") && !of("read"));
    let data = element(&c, "data[2]");
    let Kind::Register { data: next, .. } = data.kind else { panic!("{data:?}") };
    assert!(matches!(c.op(next), Op::Choose(..)), "a load condition is a multiplexer");
    means(&c, next, &["was", "seen", "gauge[2]", "data[2]"], |of| {
        if of("was") && !of("seen") { of("gauge[2]") } else { of("data[2]") }
    });
}

#[test]
fn a_gate_asserted_low_is_low_while_its_condition_is_true() {
    let c = card();
    means(&c, driver(&c, "wait (value)").level, &["select", "read", "strobe"], |of| {
        !(!of("select") && !of("read") && of("strobe"))
    });
}

#[test]
fn an_open_collector_output_pulls_low_while_asserted_and_never_drives_high() {
    let c = card();
    let irq = driver(&c, "irq");
    assert_eq!((irq.level, irq.stage), (Expr::LOW, Stage::OpenCollector));
    means(&c, irq.enable, &["irq (value)"], |of| !of("irq (value)"));
    means(&c, driver(&c, "irq (value)").level, &["fresh"], |of| !of("fresh"));
}
