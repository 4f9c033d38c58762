//! Limits of time and work, and a token that stops: what is kept, and what is said of what was reached.
use std::time::Instant;

use super::*;
use crate::limit::{Limit, Stop};
use crate::machine::Machine;
use crate::prove::sanity;
use crate::solver::Effort;

/// More bits than any walk visits, each mixed with others: hard without a matching. Contacts clock 1, clear 2, data 4, and
/// the parity of what is held at 3.
fn tangle(count: usize) -> Circuit {
    let mut b = Build::new("tangle");
    let (clock, clear, data) = (b.input(1, "clock"), b.input(2, "clear"), b.input(4, "data"));
    let cells: Vec<_> = (0..count).map(|i| b.register(&format!("t{i}"), clock, Expr::LOW, clear, Start::Any)).collect();
    let mut carry = Expr::HIGH;
    let mut parity = Expr::LOW;
    for (i, &(e, q)) in cells.iter().enumerate() {
        let other = cells[(i * 7 + 3) % count].1;
        let mixed = b.c.and(other, carry);
        let before = if i == 0 { data } else { cells[i - 1].1 };
        let next = b.c.xor(before, mixed);
        b.feed(e, next);
        carry = b.c.xor(carry, q);
        parity = b.c.xor(parity, q);
    }
    b.output(3, "parity", parity);
    b.c
}

/// The same with its bits held as the exclusive or with their neighbours: nothing corresponds.
fn recoded(count: usize) -> Circuit {
    let mut b = Build::new("recoded");
    let (clock, clear, data) = (b.input(1, "clock"), b.input(2, "clear"), b.input(4, "data"));
    let cells: Vec<_> = (0..count).map(|i| b.register(&format!("s{i}"), clock, Expr::LOW, clear, Start::Low)).collect();
    // held bit i is the exclusive or of what the other holds from i on
    let mut values = vec![Expr::LOW; count];
    for i in 0..count {
        let above = if i + 1 < count { cells[i + 1].1 } else { Expr::LOW };
        values[i] = b.c.xor(cells[i].1, above);
    }
    let mut carry = Expr::HIGH;
    let mut next = Vec::new();
    for i in 0..count {
        let mixed = b.c.and(values[(i * 7 + 3) % count], carry);
        let before = if i == 0 { data } else { values[i - 1] };
        next.push(b.c.xor(before, mixed));
        carry = b.c.xor(carry, values[i]);
    }
    let parity = values.iter().fold(Expr::LOW, |parity, &value| b.c.xor(parity, value));
    let mut sum = Expr::LOW;
    for i in (0..count).rev() {
        sum = b.c.xor(sum, next[i]);
        b.feed(cells[i].0, sum);
    }
    b.output(3, "parity", parity);
    b.c
}

fn undecided(question: &Question) -> Undecided {
    match question.ask() {
        Err(Failure::Undecided(undecided)) => undecided,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_time_limit_is_kept_and_what_was_reached_is_said() {
    let time = Duration::from_secs(2);
    let began = Instant::now();
    let undecided = undecided(&Question::new(tangle(40), recoded(40)).to_depth(1000).in_time(time));
    let took = began.elapsed();
    // a tenth is promised; a machine that is busy with other things gets more
    assert!(took < time * 2, "{took:?}: {undecided}");
    assert!(undecided.searched.is_some() || undecided.tried.iter().any(|t| t.contains("no time left")), "{undecided}");
}

#[test]
fn work_is_bounded_where_time_is_not() {
    let effort = Effort { steps: 20_000, ..Effort::default() };
    let question = Question::new(tangle(24), recoded(24)).within(effort).in_time(Duration::MAX).walking(1 << 10);
    let undecided = undecided(&question.to_depth(4));
    assert!(undecided.to_string().contains("runs over one event") || undecided.to_string().contains("starts"));
}

#[test]
fn a_token_that_is_used_before_stops_at_once_and_one_of_another_question_does_not() {
    let stop = Stop::new();
    stop.stop();
    let question = Question::new(shift(Start::Any, false), shift(Start::Any, false));
    assert!(question.clone().ask().is_ok());
    assert!(question.clone().stopped_by(Stop::new()).ask().is_ok());
    let verdict = question.clone().stopped_by(stop).ask();
    assert!(verdict.is_err(), "{verdict:?}");
    let limit = Limit::default().or_when(Some(stop));
    assert!(question.within(Effort { limit, ..Effort::default() }).ask().is_err());
}

#[test]
fn a_token_stops_a_long_proof() {
    let stop = Stop::new();
    let question = Question::new(tangle(40), recoded(40)).to_depth(1000).stopped_by(stop);
    let waker = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(500));
        stop.stop();
        Instant::now()
    });
    let undecided = undecided(&question);
    let took = waker.join().expect("it ran").elapsed();
    assert!(took < Duration::from_secs(2), "{took:?}: {undecided}");
}

#[test]
fn a_part_that_is_proved_is_named_beside_one_that_stays_open() {
    let beside = |mut b: Circuit| {
        let net = b.add_net("x", Origin::Nowhere);
        let contact = |label: u16, name: &str, net, direction| Contact {
            label: label.into(),
            name: name.into(),
            net,
            polarity: Polarity::Data,
            direction,
            origin: Origin::Nowhere,
        };
        b.add_contact(contact(10, "x", net, Direction::Input));
        let x = b.net(net);
        let y = b.not(x);
        let shown = b.add_net("y", Origin::Nowhere);
        let (stage, origin) = (Stage::PushPull, Origin::Nowhere);
        b.drive(shown, Driver { enable: Expr::HIGH, level: y, stage, by: By::signal("gate"), origin });
        b.add_contact(contact(11, "y", shown, Direction::Output));
        b
    };
    let effort = Effort { steps: 20_000, ..Effort::default() };
    let question = Question::new(beside(tangle(24)), beside(recoded(24))).within(effort).walking(1 << 10);
    let undecided = undecided(&question.to_depth(3));
    assert_eq!(undecided.proved, ["11 y"], "{undecided}");
    assert!(undecided.obligation.contains("3 parity"), "{undecided}");
}

/// The check of the prover itself takes no verdict away: without time for it the proof says so, and stands by itself.
#[test]
fn what_checks_the_prover_withholds_nothing_for_want_of_time() {
    let circuit = shift(Start::Any, false);
    let machine = Machine::new(&circuit);
    let none = Effort { limit: Limit::within(Duration::ZERO), ..Effort::default() };
    let open = sanity::reflexive(&circuit, &machine, none).expect("nothing is wrong");
    assert!(open.is_some_and(|open| open.contains("equals itself")));
    assert!(sanity::reflexive(&circuit, &machine, Effort::default()).expect("nothing is wrong").is_none());
}
