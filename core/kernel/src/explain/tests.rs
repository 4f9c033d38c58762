//! What an explanation says of small circuits whose fault is known.
use crate::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, ElementId, Expr, Kind, Origin, Polarity, Pull, Stage, Start,
};
use crate::explain::Side;
use crate::prove::{Failure, Question, Refutation};

/// A register behind a three-state contact: clock 1, data 2, enable 3 (active low), spare 4, out 5.
fn card(change: impl Fn(&mut Circuit, &mut Wires)) -> Circuit {
    let mut c = Circuit::new("card");
    let input = |c: &mut Circuit, label: u16, name: &str| {
        let net = c.add_net(name, Origin::Nowhere);
        let polarity = Polarity::Data;
        let (name, direction, origin) = (name.to_owned(), Direction::Input, Origin::Nowhere);
        c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin });
        c.net(net)
    };
    let (clock, data, enable) = (input(&mut c, 1, "clock"), input(&mut c, 2, "data"), input(&mut c, 3, "enable_n"));
    let spare = input(&mut c, 4, "spare");
    let enable = c.not(enable);
    let mut wires = Wires { clock, data, enable, spare, pull: Pull::None };
    change(&mut c, &mut wires);
    let e = c.add_element(Element {
        name: "held".to_owned(),
        kind: Kind::Register { clock: wires.clock, data: wires.data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Line { file: "card.rs".into(), line: 12 },
    });
    let level = c.q(e);
    let out = c.add_net("out", Origin::Nowhere);
    c.net_mut(out).expect("just made").pull = wires.pull;
    c.drive(
        out,
        Driver {
            enable: wires.enable,
            level,
            stage: Stage::ThreeState,
            by: By::Pin { package: "U7".into(), pin: 5.into() },
            origin: Origin::Line { file: "card.rs".into(), line: 13 },
        },
    );
    let (name, polarity, direction) = ("out".to_owned(), Polarity::Data, Direction::Output);
    c.add_contact(Contact { label: 5.into(), name, net: out, polarity, direction, origin: Origin::Nowhere });
    c
}

struct Wires {
    clock: Expr,
    data: Expr,
    enable: Expr,
    spare: Expr,
    pull: Pull,
}

fn refute(change: impl Fn(&mut Circuit, &mut Wires)) -> Refutation {
    match Question::new(card(|_, _| {}), card(change)).ask() {
        Err(Failure::Refuted(r)) => *r,
        other => panic!("expected a refutation: {other:?}"),
    }
}

#[test]
fn a_forgotten_inversion_names_both_conditions_with_their_lines() {
    let r = refute(|c, w| w.enable = c.not(w.enable));
    let e = r.explain();
    let probe = e.probes.first().expect("one contact differs");
    assert!(probe.original_why[0].text.contains("while contact 3 enable_n low"), "{r}");
    assert!(probe.replacement_why[0].text.contains("while contact 3 enable_n high"), "{r}");
    assert_eq!(probe.replacement_why[0].origin.to_string(), "card.rs:13");
    assert_eq!(probe.places[0].original, ["U7 pin 5"]);
    assert!(r.to_string().contains("U7 pin 5"));
}

#[test]
fn levels_that_do_not_matter_are_left_out_and_those_that_do_are_not() {
    let r = refute(|c, w| w.enable = c.not(w.enable));
    let e = r.explain();
    let any: Vec<_> = e.any_level.iter().map(|(l, _)| l.to_string()).collect();
    assert_eq!(any, ["1", "2"], "nothing reads contact 4, so it is not spoken of: {r}");
    assert!(e.waveform.rows.iter().any(|row| row.label == 3.into() && row.side == Side::Board), "{r}");
    assert_eq!(e.any_bit, ["held"], "{r}");
    assert!(
        r.to_string().contains("All other contacts may be at any level") && !r.to_string().contains("2 data"),
        "{r}"
    );
}

#[test]
fn a_level_that_does_matter_stays_in() {
    // the data passes only while the spare contact is high: with it low there is no refutation
    let r = refute(|c, w| {
        let inverted = c.not(w.data);
        w.data = c.choose(w.spare, inverted, w.data);
    });
    let e = r.explain();
    assert!(!e.any_level.iter().any(|(l, _)| *l == 4.into()), "{r}");
    assert!(e.waveform.rows.iter().any(|row| row.label == 4.into()), "{r}");
}

#[test]
fn the_chain_reaches_the_edge_and_what_was_loaded() {
    let r = refute(|c, w| w.data = c.not(w.data));
    let probe = r.explain().probes.remove(0);
    let told = |why: &[super::Cause]| why.iter().map(|c| c.text.clone()).collect::<Vec<_>>().join("\n");
    let (original, replacement) = (told(&probe.original_why), told(&probe.replacement_why));
    for (why, told) in [(&original, "original"), (&replacement, "replacement")] {
        assert!(why.contains("`held` loads "), "{told}: {why}");
        assert!(
            why.contains(" when contact 1 clock goes high, because before that contact 2 data was "),
            "{told}: {why}"
        );
    }
    assert!(probe.replacement_why.iter().any(|c| c.origin.to_string() == "card.rs:12"));
}

#[test]
fn the_other_edge_is_told_by_its_step() {
    let r = refute(|c, w| w.clock = c.not(w.clock));
    let text = r.to_string();
    let edge = "`held` holds high since power-up: it would load when contact 1 clock goes low";
    let other = " when contact 1 clock goes low, because before that";
    assert!(text.contains(edge) || text.contains(other), "{text}");
}

#[test]
fn a_level_that_hangs_on_how_the_original_powered_up_is_not_promised() {
    let r = refute(|c, w| w.enable = c.not(w.enable));
    let (e, text) = (r.explain(), r.to_string());
    assert_eq!(e.probes[0].may, [crate::simulate::Shown::Low, crate::simulate::Shown::High], "{text}");
    assert!(text.contains("the original is     low or high, as it happened to power up"), "{text}");
    assert!(text.contains("═ high or low"), "{text}");
    // and one that depends on nothing is: what was loaded at the edge
    let r = refute(|c, w| w.data = c.not(w.data));
    assert_eq!(r.explain().probes[0].may.len(), 1, "{r}");
    assert!(!r.to_string().contains("power up"), "{r}");
}

#[test]
fn a_lost_pull_up_is_told_as_such() {
    let original = card(|_, w| w.pull = Pull::Up);
    let Err(Failure::Refuted(r)) = Question::new(original, card(|_, _| {})).ask() else { panic!("refuted") };
    let text = r.to_string();
    assert!(text.contains("a resistor pulls it high") && text.contains("no resistor pulls it"), "{text}");
}

#[test]
fn the_picture_holds_every_row_and_no_foreign_markup() {
    let mut original = card(|_, _| {});
    let contact = original.find_contact(&3.into()).expect("there");
    original.contact_mut(contact).expect("there").name = "<&\">".to_owned();
    let mut replacement = card(|c, w| w.enable = c.not(w.enable));
    replacement.contact_mut(contact).expect("there").name = "<&\">".to_owned();
    let Err(Failure::Refuted(r)) = Question::new(original, replacement).ask() else { panic!("refuted") };
    let e = r.explain().with_device_pins([(5.into(), 19)]);
    let svg = e.svg();
    assert!(svg.contains("&lt;&amp;&quot;&gt;") && svg.contains("device pin 19"), "{svg}");
    assert_eq!(svg.matches("font-size=\"11\">original<").count(), 1);
    assert!(!svg.contains("id="));
}

#[test]
fn a_register_that_toggles_is_not_said_to_keep() {
    let toggles = |c: &mut Circuit, w: &mut Wires| {
        let q = c.q(ElementId(0));
        let opposite = c.not(q);
        w.data = c.choose(w.spare, opposite, q);
    };
    let plain = |c: &mut Circuit, w: &mut Wires| w.data = c.q(ElementId(0));
    let r = match Question::new(card(plain), card(toggles)).ask() {
        Err(Failure::Refuted(r)) => *r,
        other => panic!("expected a refutation: {other:?}"),
    };
    let text = r.to_string();
    assert!(text.contains("`held` loads") && text.contains("`held` held"), "{text}");
    assert!(!text.contains("keeps"), "{text}");
}

/// Two outputs show the same register in the original and two in the replacement: either level of the second is explained by
/// some start, but not beside the first.
#[test]
fn the_contact_that_convicts_is_drawn_and_named() {
    let two = |apart: bool| {
        card(move |c, w| {
            let low = Expr::LOW;
            let held = |c: &mut Circuit, name: &str| {
                let (name, start, origin) = (name.to_owned(), Start::Any, Origin::Nowhere);
                let kind = Kind::Register { clock: w.clock, data: low };
                let e = Element { name, kind, clear: low, unknown_load: low, preset: low, start, origin };
                let e = c.add_element(e);
                c.q(e)
            };
            let one = held(c, "one");
            let other = if apart { held(c, "other") } else { one };
            for (label, name, level) in [(6u16, "first", one), (7, "second", other)] {
                let net = c.add_net(name, Origin::Nowhere);
                let by = By::Pin { package: "U8".into(), pin: label.into() };
                c.drive(net, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by, origin: Origin::Nowhere });
                let (name, polarity, direction) = (name.to_owned(), Polarity::Data, Direction::Output);
                c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin: Origin::Nowhere });
            }
        })
    };
    let Err(Failure::Refuted(r)) = Question::new(two(false), two(true)).ask() else { panic!("refuted") };
    let e = r.explain();
    let labels: Vec<String> = e.differing_and_convicting();
    assert_eq!(labels, ["6", "7"], "{r}");
    let text = r.to_string();
    assert!(text.contains("but not ") && text.contains(" together with what contact "), "{text}");
    assert!(e.waveform.rows.iter().any(|row| row.side == Side::Both), "{text}");
    // the other way round the two of the original do all that the one does
    assert!(Question::new(two(true), two(false)).ask().is_ok());
}

/// The replacement pulls a bus low once it has read it high; the original never does. The contact that differs is the one whose
/// level the run needs.
#[test]
fn the_level_of_a_contact_that_differs_and_is_read_back_is_stated() {
    let bus = |reads: bool| {
        card(move |c, w| {
            let net = c.add_net("bus", Origin::Nowhere);
            let data = if reads { c.net(net) } else { Expr::LOW };
            let low = Expr::LOW;
            let (name, start, origin) = ("read".to_owned(), Start::Low, Origin::Nowhere);
            let kind = Kind::Register { clock: w.clock, data };
            let e = c.add_element(Element { name, kind, clear: low, unknown_load: low, preset: low, start, origin });
            let by = By::Pin { package: "U8".into(), pin: 6.into() };
            let driver =
                Driver { enable: c.q(e), level: low, stage: Stage::OpenCollector, by, origin: Origin::Nowhere };
            c.drive(net, driver);
            let (name, polarity, direction) = ("bus".to_owned(), Polarity::Data, Direction::InOut);
            c.add_contact(Contact { label: 6.into(), name, net, polarity, direction, origin: Origin::Nowhere });
        })
    };
    let Err(Failure::Refuted(r)) = Question::new(bus(false), bus(true)).ask() else { panic!("refuted") };
    let e = r.explain();
    assert_eq!(e.probes[0].places[0].label, 6.into(), "{r}");
    assert!(e.levels.iter().any(|(label, _, high)| *label == 6.into() && *high), "{r}");
}

impl super::Explanation {
    fn differing_and_convicting(&self) -> Vec<String> {
        let differing = self.probes.iter().flat_map(|p| &p.places).map(|p| p.label.to_string());
        let mut all: Vec<String> = differing.chain(self.together.iter().map(|(l, _)| l.to_string())).collect();
        all.sort();
        all
    }
}
