//! The equations: their wording, and that a person who evaluates them by hand gets what the circuit does.
use std::collections::BTreeMap;

use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, NetId, Origin, Polarity, Stage, Start,
};
use gluewright::device::find;
use gluewright::emit::equations;
use gluewright::fit::{Wishes, fit};
use proptest::prelude::*;

use super::fitted::fitted;

#[test]
fn each_signal_is_told_in_its_own_polarity() {
    let text = equations(&fitted().1);
    for line in [
        "wait (low when true) = select ∧ read ∧ strobe",
        "irq (low when true) = fresh",
        "open collector: a constant low, driven while fresh, floating otherwise",
        "data[0], after the rise of clock = ",
        "driven while select ∧ read, floating otherwise",
        "missed (low when true), after the rise of clock = ",
        "at once false (the pin high) while reset",
        "seen, after the rise of clock = strobe",
        "buried register, pin 21 is never driven: leave it open",
        "reset: contact 6, pin 6, low when true",
        "without a signal, never driven: 4, 5, 13",
    ] {
        assert!(text.contains(line), "`{line}` is missing in\n{text}");
    }
}

#[test]
fn no_operator_of_a_keyboard_or_of_a_programming_language() {
    let text = equations(&fitted().1);
    let strange: Vec<char> = text.chars().filter(|c| "&|!*+/#~^$@{}<>\\\"'%".contains(*c)).collect();
    assert!(strange.is_empty(), "{strange:?}");
    // a dot ends a sentence and nothing else
    for (at, _) in text.match_indices('.') {
        assert!(text[at + 1..].starts_with(['\n', ' ']), "{}", &text[..=at]);
    }
}

#[test]
fn a_latch_says_which_term_must_stay_and_why() {
    let mut c = Circuit::new("latch");
    let data = contact(&mut c, 1, "data", Direction::Input, Polarity::Data);
    let open = contact(&mut c, 2, "gate", Direction::Input, Polarity::ActiveHigh);
    let (data, open) = (c.net(data), c.net(open));
    let latch = c.add_element(Element {
        name: "held".into(),
        kind: Kind::Latch { open, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = c.q(latch);
    output(&mut c, 3, "held", q, Polarity::Data);
    let text = equations(&fit(&c, find("22V10").unwrap(), &Wishes::none()).unwrap());
    let line = "(data ∧ held)   must stay: it alone keeps the pin high while gate changes";
    assert!(text.contains(line), "{text}");
}

/// A register that another equation reads goes by its own name there: the pin that shows it says so.
#[test]
fn a_pin_says_what_it_shows_of_what_others_read() {
    let mut c = Circuit::new("counted");
    let clock = contact(&mut c, 1, "clock", Direction::Input, Polarity::Clock);
    let data = contact(&mut c, 2, "data", Direction::Input, Polarity::Data);
    let (clock, data) = (c.net(clock), c.net(data));
    let count = c.add_element(Element {
        name: "count".into(),
        kind: Kind::Register { clock, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let q = c.q(count);
    output(&mut c, 3, "shown", q, Polarity::Data);
    let both = c.and(q, data);
    output(&mut c, 4, "both", both, Polarity::Data);
    let text = equations(&fit(&c, find("22V10").unwrap(), &Wishes::none()).unwrap());
    assert!(text.contains("both = data ∧ count"), "{text}");
    assert!(text.contains("; the pin shows count"), "{text}");
}

fn contact(c: &mut Circuit, label: u16, name: &str, direction: Direction, polarity: Polarity) -> NetId {
    let net = c.add_net(name, Origin::Nowhere);
    let (label, name) = (label.into(), name.into());
    c.add_contact(Contact { label, name, net, polarity, direction, origin: Origin::Nowhere });
    net
}

fn output(c: &mut Circuit, label: u16, name: &str, level: Expr, polarity: Polarity) {
    let net = contact(c, label, name, Direction::Output, polarity);
    c.drive(
        net,
        Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin: Origin::Nowhere },
    );
}

/// The equation of a signal: whether its sum is complemented, and the terms of literals, each with whether it is.
fn read(text: &str, name: &str) -> (bool, Vec<Vec<(String, bool)>>) {
    let starts = |line: &str| line.trim_start().split([' ', ',']).next() == Some(name) && line.contains(" = ");
    let mut lines = text.lines().skip_while(|l| !starts(l));
    let first = lines.next().unwrap();
    let (_, right) = first.split_once(" = ").unwrap();
    let (complement, right) = right.strip_prefix("¬(").map_or((false, right), |right| (true, right));
    let mut sum = right.to_owned();
    sum.extend(lines.take_while(|l| l.trim_start().starts_with('∨')).flat_map(|l| [" ", l.trim()]));
    let literal = |t: &str| (t.trim_start_matches('¬').to_owned(), t.starts_with('¬'));
    let plain = |t: &str| t.split("   must stay").next().unwrap_or(t).trim().trim_matches(['(', ')']).to_owned();
    let terms = match sum.as_str() {
        "false" => vec![],
        "true" => vec![vec![]],
        sum => sum.split('∨').map(plain).map(|t| t.split('∧').map(|l| literal(l.trim())).collect()).collect(),
    };
    (complement, terms)
}

proptest! {
    #[test]
    fn the_text_means_what_the_circuit_does(table in any::<u16>(), low_inputs in 0u8..16, low_output in any::<bool>()) {
        let mut c = Circuit::new("table");
        let polarity = |low: bool| if low { Polarity::ActiveLow } else { Polarity::ActiveHigh };
        let inputs: Vec<Expr> = (0..4u16)
            .map(|i| {
                let net = contact(&mut c, i + 1, &format!("i{i}"), Direction::Input, polarity(low_inputs >> i & 1 == 1));
                c.net(net)
            })
            .collect();
        let mut level = Expr::LOW;
        for row in (0..16u16).filter(|r| table >> r & 1 == 1) {
            let term = (0..4).fold(Expr::HIGH, |all, i| {
                let one = if row >> i & 1 == 1 { inputs[i] } else { c.not(inputs[i]) };
                c.and(all, one)
            });
            level = c.or(level, term);
        }
        output(&mut c, 9, "y", level, polarity(low_output));
        let text = equations(&fit(&c, find("22V10").unwrap(), &Wishes::none()).unwrap());
        let (complement, terms) = read(&text, "y");
        for row in 0..16u16 {
            let truth: BTreeMap<String, bool> =
                (0..4).map(|i| (format!("i{i}"), (row >> i & 1 == 1) != (low_inputs >> i & 1 == 1))).collect();
            let sum = terms.iter().any(|t| t.iter().all(|(name, not)| truth[name] != *not));
            let high = (sum != complement) != low_output;
            prop_assert_eq!(high, table >> row & 1 == 1, "row {} of\n{}", row, text);
        }
    }
}
