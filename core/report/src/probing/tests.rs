//! What the probing sheet promises holds from every start, and its steps are such as a person can do.
use std::collections::BTreeSet;

use super::*;
use gluewright_kernel::circuit::{By, Contact, Driver, Element, Expr, Kind, Label, NetId, Origin, Stage, Start};
use gluewright_kernel::prove::Formula;
use gluewright_kernel::simulate::{Shown, Simulator};

/// Two registers in a row with a clear, an output of the second that is driven on request, and one that nothing clears.
fn card() -> Circuit {
    use Direction::{Input, Output};
    use Polarity::{ActiveHigh, ActiveLow, Clock, Data};
    let mut c = Circuit::new("card");
    let contact = |c: &mut Circuit, label: u16, name: &str, direction, polarity| -> NetId {
        let net = c.add_net(name, Origin::Nowhere);
        let (label, name) = (Label::from(label), name.to_owned());
        c.add_contact(Contact { label, name, net, polarity, direction, origin: Origin::Nowhere });
        net
    };
    let clock = contact(&mut c, 1, "clock", Input, Clock);
    let reset = contact(&mut c, 2, "reset", Input, ActiveLow);
    let show = contact(&mut c, 3, "show", Input, ActiveHigh);
    let data = contact(&mut c, 4, "data", Input, Data);
    let shown = contact(&mut c, 5, "shown", Output, Data);
    let other = contact(&mut c, 6, "other", Output, Data);
    let [clock, reset, show, data] = [clock, reset, show, data].map(|n| c.net(n));
    let clear = c.not(reset);
    let register = |c: &mut Circuit, name: &str, data: Expr, clear: Expr| {
        let kind = Kind::Register { clock, data };
        let (name, preset, origin) = (name.to_owned(), Expr::LOW, Origin::Nowhere);
        let e =
            c.add_element(Element { name, kind, clear, preset, unknown_load: Expr::LOW, start: Start::Any, origin });
        c.q(e)
    };
    let first = register(&mut c, "first", data, clear);
    let second = register(&mut c, "second", first, clear);
    let free = register(&mut c, "free", first, Expr::LOW);
    for (net, enable, level) in [(shown, show, second), (other, Expr::HIGH, free)] {
        let (stage, name) = (Stage::ThreeState, "driver".to_owned());
        c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin: Origin::Nowhere });
    }
    c
}

fn sheet(circuit: &Circuit, assumptions: &[Assumption]) -> Probing {
    let question = Question::new(circuit.clone(), circuit.clone());
    let question = assumptions.iter().fold(question, |q, a| q.assuming(a.clone()));
    Probing::new(&question, circuit)
}

fn row(sheet: &Probing, name: &str) -> usize {
    sheet.rows.iter().position(|r| r.name == name).unwrap()
}

fn shows(sheet: &Probing, title: &str, name: &str) -> Expect {
    let row = row(sheet, name);
    sheet.moments.iter().find(|m| m.title == title).unwrap().readings[row].original
}

#[test]
fn a_reset_is_found_and_tells_what_was_unknown_before() {
    let sheet = sheet(&card(), &[]);
    assert_eq!(shows(&sheet, "at rest", "shown"), Expect::Floating(Pull::None));
    assert_eq!(shows(&sheet, "at rest", "other"), Expect::HighOrLow, "nothing clears it");
    assert_eq!(shows(&sheet, "reset asserted", "other"), Expect::HighOrLow, "no clock has come");
    assert!(sheet.remarks.iter().any(|r| r.contains("2 reset")), "{:?}", sheet.remarks);
}

#[test]
fn the_steps_show_both_levels_and_floating() {
    let sheet = sheet(&card(), &[]);
    let row = row(&sheet, "shown");
    let seen: Vec<Expect> = sheet.moments.iter().map(|m| m.readings[row].original).collect();
    for wanted in [Expect::Floating(Pull::None), Expect::High, Expect::Low] {
        assert!(seen.contains(&wanted), "{wanted} in {seen:?}");
    }
    assert!(sheet.moments.len() <= 3 + STEPS);
}

/// What no step brings is said: from the readings themselves, for every contact that something drives.
#[test]
fn a_level_that_no_step_brings_is_said() {
    let sheet = sheet(&card(), &[]);
    let said = sheet.remarks.iter().find(|r| r.contains("never bring")).cloned().unwrap_or_default();
    let mut missing = 0;
    for (i, r) in sheet.rows.iter().enumerate().filter(|(_, r)| r.direction == Direction::Output) {
        for (level, word) in [(Expect::Low, "low"), (Expect::High, "high")] {
            let seen = sheet.moments.iter().any(|m| m.readings[i].device == level);
            let here = said.split(", ").any(|s| s.contains(&format!("{} {}", r.label, r.name)) && s.contains(word));
            assert_eq!(here, !seen, "{} {word}: {said}", r.name);
            missing += usize::from(!seen);
        }
    }
    assert_eq!(said.is_empty(), missing == 0);
}

/// Replays the sheet from every start of the registers: what is promised is what is there.
#[test]
fn what_the_sheet_promises_holds_from_every_start() {
    let circuit = card();
    let sheet = sheet(&circuit, &[]);
    // eight starts of three registers, one in each lane
    let level = |m: &Moment, row: usize| m.readings[row].applied;
    let first: Vec<(Label, bool)> = sheet
        .rows
        .iter()
        .enumerate()
        .filter_map(|(i, r)| Some((r.label.clone(), level(&sheet.moments[0], i)?)))
        .collect();
    let (mut run, _) = Simulator::new(&circuit, &first, |cell, lane| lane >> cell & 1 == 1).unwrap();
    let mut promised = 0;
    for (index, moment) in sheet.moments.iter().enumerate() {
        if index > 0 {
            for (i, r) in sheet.rows.iter().enumerate() {
                if let Some(high) = level(moment, i) {
                    run.event(&[(r.label.clone(), high)]).unwrap();
                }
            }
            if moment.actions.iter().any(|a| a.contains("pulse")) {
                run.event(&[(Label::from(1), true)]).unwrap();
                run.event(&[(Label::from(1), false)]).unwrap();
            }
        }
        for (i, r) in sheet.rows.iter().enumerate().filter(|(_, r)| r.direction == Direction::Output) {
            let seen: BTreeSet<String> = (0..8).map(|lane| run.shown(&r.label, lane).unwrap().to_string()).collect();
            let expect = moment.readings[i].original;
            if expect.is_known() {
                promised += 1;
                let word = expect.to_string().replace("floats", &Shown::Floating.to_string());
                assert_eq!(seen.into_iter().collect::<Vec<_>>(), [word], "{} in {}", r.name, moment.title);
            }
        }
    }
    assert!(promised > 6, "the sheet says something");
}

#[test]
fn no_step_breaks_an_assumption() {
    let circuit = card();
    let high = |n: u16| Formula::High(Label::from(n)).into();
    let both = Formula::And(high(3), high(4));
    let never = Assumption { text: "never both".to_owned(), holds: Formula::Not(both.into()) };
    let sheet = sheet(&circuit, &[never]);
    let (show, data) = (row(&sheet, "show"), row(&sheet, "data"));
    for m in &sheet.moments {
        assert!(!(m.readings[show].applied == Some(true) && m.readings[data].applied == Some(true)), "{}", m.title);
    }
    assert!(sheet.moments.iter().any(|m| m.readings[data].applied == Some(true)), "one of them is tried");
}

/// A shift register without a clear: a clock pulse alone makes its first bit known, whatever its data are.
#[test]
fn a_contact_that_only_goes_along_with_the_clock_is_no_reset() {
    let mut c = Circuit::new("shift");
    let mut nets = Vec::new();
    for (label, name, direction, polarity) in [
        (1, "clock", Direction::Input, Polarity::Clock),
        (2, "data", Direction::Input, Polarity::Data),
        (3, "out", Direction::Output, Polarity::Data),
    ] {
        let net = c.add_net(name, Origin::Nowhere);
        let (label, name) = (Label::from(label), name.to_owned());
        c.add_contact(Contact { label, name, net, polarity, direction, origin: Origin::Nowhere });
        nets.push(net);
    }
    let [clock, data] = [nets[0], nets[1]].map(|n| c.net(n));
    let kind = Kind::Register { clock, data };
    let (clear, preset, origin) = (Expr::LOW, Expr::LOW, Origin::Nowhere);
    let q = c.add_element(Element {
        name: "q".to_owned(),
        kind,
        clear,
        preset,
        unknown_load: Expr::LOW,
        start: Start::Any,
        origin,
    });
    let level = c.q(q);
    let (stage, name) = (Stage::PushPull, "out".to_owned());
    c.drive(nets[2], Driver { enable: Expr::HIGH, level, stage, by: By::signal(name), origin: Origin::Nowhere });
    let sheet = sheet(&c, &[]);
    let titles: Vec<&str> = sheet.moments.iter().map(|m| m.title.as_str()).collect();
    assert_eq!(titles, ["at rest", "after a pulse", "step 1", "step 2"], "{:?}", sheet.remarks);
    assert_eq!(shows(&sheet, "after a pulse", "out"), Expect::Low);
    assert_eq!(shows(&sheet, "step 1", "out"), Expect::High);
}

#[test]
fn no_step_does_what_a_restriction_excludes() {
    // data changes only while show is high
    let circuit = card();
    let restriction = gluewright_kernel::prove::Restriction {
        text: "data moves only while show is high".to_owned(),
        contacts: vec![Label::from(4)],
        way: gluewright_kernel::prove::Way::Either,
        only_while: Formula::High(Label::from(3)),
    };
    let question = Question::new(circuit.clone(), circuit.clone()).restricted(restriction);
    let sheet = Probing::new(&question, &circuit);
    let (show, data) = (row(&sheet, "show"), row(&sheet, "data"));
    let mut changed = 0;
    for pair in sheet.moments.windows(2) {
        if pair[0].readings[data].applied != pair[1].readings[data].applied {
            changed += 1;
            assert!(
                pair[1].actions.iter().any(|a| a.contains("3 show high"))
                    || pair[0].readings[show].applied == Some(true)
            );
        }
    }
    assert!(changed > 0, "data are tried");
}

/// Nothing is put where it stands already: a person would look for what was missed.
#[test]
fn a_step_names_only_what_it_changes() {
    let put = |rows: &[(usize, bool)]| Action::Put { rows: rows.to_vec(), together: false };
    let mut levels = [Some(true), None, Some(false)];
    assert_eq!(put(&[(0, true), (1, false)]).news(&mut levels), Some(put(&[(1, false)])));
    assert_eq!(put(&[(1, false), (0, true)]).news(&mut levels), None);
    // a pulse leaves its contact where it was
    let pulse = Action::Pulse { row: 2, first: true };
    assert_eq!(pulse.news(&mut levels), Some(pulse.clone()));
    assert_eq!(put(&[(2, false)]).news(&mut levels), None);
    assert_eq!(levels, [Some(true), Some(false), Some(false)]);
}
