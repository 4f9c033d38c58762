//! Small pairs whose verdict is known by thought.
use std::sync::Arc;
use std::time::Duration;

use super::*;
use crate::circuit::*;
use crate::simulate::Shown;
use crate::solver::Solver;

struct Build {
    c: Circuit,
}

impl Build {
    fn new(name: &str) -> Self {
        Build { c: Circuit::new(name) }
    }
    fn contact(&mut self, label: u16, name: &str, net: NetId, direction: Direction) {
        self.c.add_contact(Contact {
            label: label.into(),
            name: name.into(),
            net,
            polarity: Polarity::Data,
            direction,
            origin: Origin::Nowhere,
        });
    }
    fn input(&mut self, label: u16, name: &str) -> Expr {
        let net = self.c.add_net(name, Origin::Nowhere);
        self.contact(label, name, net, Direction::Input);
        self.c.net(net)
    }
    fn output(&mut self, label: u16, name: &str, level: Expr) {
        self.driven(label, name, Expr::HIGH, level);
    }
    fn driven(&mut self, label: u16, name: &str, enable: Expr, level: Expr) -> NetId {
        let net = self.c.add_net(name, Origin::Nowhere);
        let stage = if enable == Expr::HIGH { Stage::PushPull } else { Stage::ThreeState };
        self.c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin: Origin::Nowhere });
        self.contact(label, name, net, Direction::Output);
        net
    }
    fn register(&mut self, name: &str, clock: Expr, data: Expr, clear: Expr, start: Start) -> (ElementId, Expr) {
        let e = self.c.add_element(Element {
            name: name.into(),
            kind: Kind::Register { clock, data },
            clear,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start,
            origin: Origin::Nowhere,
        });
        (e, self.c.q(e))
    }
    fn feed(&mut self, e: ElementId, data: Expr) {
        let element = self.c.element_mut(e).unwrap();
        let Kind::Register { clock, .. } = element.kind else { panic!() };
        element.kind = Kind::Register { clock, data };
    }
}

/// A two-stage shift register with clear: contacts clock 1, data 2, clear 3, out 4.
fn shift(start: Start, invert_second: bool) -> Circuit {
    let mut b = Build::new("shift");
    let (clock, data, clear) = (b.input(1, "clock"), b.input(2, "data"), b.input(3, "clear"));
    let (_, q1) = b.register("first", clock, data, clear, start);
    let fed = if invert_second { b.c.not(q1) } else { q1 };
    let (e, q2) = b.register("second", clock, fed, clear, start);
    let out = if invert_second {
        // stored inverted: cleared to high, shown inverted
        let element = b.c.element_mut(e).unwrap();
        (element.clear, element.preset) = (Expr::LOW, clear);
        element.start = match start {
            Start::Low => Start::High,
            other => other,
        };
        b.c.not(q2)
    } else {
        q2
    };
    b.output(4, "out", out);
    b.c
}

fn refuted(original: Circuit, replacement: Circuit) -> Refutation {
    match Question::new(original, replacement).ask() {
        Err(Failure::Refuted(r)) => {
            let alive = r.replay();
            assert!(alive.as_ref().is_none_or(|a| a.last() == Some(&0)), "{r}\n{alive:?}");
            *r
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_same_circuit_is_proved_and_so_is_one_with_an_inverted_register() {
    for start in [Start::Low, Start::Any] {
        for inverted in [false, true] {
            let proof = Question::new(shift(Start::Any, false), shift(start, inverted)).ask().unwrap();
            assert!(
                proof.matches.iter().any(|m| m.contains("second (original)") && m.contains("second (replacement)"))
            );
        }
    }
}

#[test]
fn a_dropped_inversion_is_refuted_with_the_shortest_sequence() {
    let mut broken = shift(Start::Low, false);
    let q = broken.q(broken.find_element("second").unwrap());
    let level = broken.not(q);
    let net = broken.find_net("out").unwrap();
    broken.net_mut(net).unwrap().drivers[0].level = level;
    // cleared at power-up or not, nothing but the contact itself tells: an uncleared original may show either level
    // until two clocks have passed, but a clear forces it at once
    let r = refuted(shift(Start::Any, false), broken);
    assert!(r.shortest);
    assert!(r.events.len() <= 1, "{r}");
}

#[test]
fn a_wrong_clock_edge_is_refuted() {
    let mut broken = shift(Start::Low, false);
    for name in ["first", "second"] {
        let e = broken.find_element(name).unwrap();
        let Kind::Register { clock, data } = broken.elements()[e.index()].kind else { panic!() };
        let clock = broken.not(clock);
        broken.element_mut(e).unwrap().kind = Kind::Register { clock, data };
    }
    refuted(shift(Start::Any, false), broken);
}

#[test]
fn a_dropped_clear_is_refuted() {
    let mut broken = shift(Start::Low, false);
    let e = broken.find_element("second").unwrap();
    broken.element_mut(e).unwrap().clear = Expr::LOW;
    refuted(shift(Start::Any, false), broken);
}

#[test]
fn a_start_that_the_original_cannot_have_is_refuted_and_one_that_it_can_is_proved() {
    let toggle = |start: [Start; 2]| {
        // two registers that are always opposite in the original: it starts either way round
        let mut b = Build::new("pair");
        let clock = b.input(1, "clock");
        let (a, qa) = b.register("a", clock, Expr::LOW, Expr::LOW, start[0]);
        let na = b.c.not(qa);
        b.feed(a, na);
        b.output(2, "a", qa);
        let level = if start[1] == Start::Any { na } else { b.register("b", clock, qa, Expr::LOW, start[1]).1 };
        b.output(3, "b", level);
        b.c
    };
    let original = toggle([Start::Any, Start::Any]);
    assert!(Question::new(original.clone(), toggle([Start::Low, Start::High])).ask().is_ok());
    let r = refuted(original, toggle([Start::Low, Start::Low]));
    assert_eq!(r.events.len(), 0, "{r}");
}

/// Two registers that keep what they begin with, each shown.
fn keeps(starts: [Start; 2]) -> Circuit {
    let mut b = Build::new("keeps");
    let clock = b.input(1, "clock");
    for (i, start) in starts.into_iter().enumerate() {
        let (e, q) = b.register(&format!("q{i}"), clock, Expr::LOW, Expr::LOW, start);
        b.feed(e, q);
        b.output(2 + i as u16, &format!("y{i}"), q);
    }
    b.c
}

#[test]
fn a_walk_begins_where_each_register_does() {
    use Start::{Any, High, Low};
    let given = [[Low, Low], [Low, High], [High, Low], [High, High]];
    for original in given {
        for replacement in given {
            let answer = Question::new(keeps(original), keeps(replacement)).ask_by_walk();
            assert_eq!(answer.is_ok(), original == replacement, "{original:?}, {replacement:?}");
            assert!(matches!(answer, Ok(_) | Err(Failure::Refuted(_))));
        }
        assert!(Question::new(keeps([Any, original[1]]), keeps(original)).ask_by_walk().is_ok());
        let answer = Question::new(keeps(original), keeps([original[0], Any])).ask_by_walk();
        assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
    }
}

/// Contacts clock 1, data 2, what a register loads 3, and where `floats`, a net that nobody drives 4.
fn beside_a_float(inverts: bool, floats: bool) -> Circuit {
    let mut b = Build::new("beside");
    let (clock, mut data) = (b.input(1, "clock"), b.input(2, "data"));
    if inverts {
        data = b.c.not(data);
    }
    let (_, q) = b.register("q", clock, data, Expr::LOW, Start::Low);
    b.output(3, "q", q);
    if floats {
        let net = b.c.add_net("floats", Origin::Nowhere);
        b.c.net_mut(net).unwrap().open_read = crate::figures::OpenInput::Unknown;
        let read = b.c.net(net);
        b.output(4, "y", read);
    }
    b.c
}

#[test]
fn starts_are_counted_only_where_what_they_do_is_determined() {
    for floats in [false, true] {
        let answer = Question::new(beside_a_float(false, floats), beside_a_float(true, floats)).ask();
        let Err(Failure::Refuted(r)) = answer else { panic!("{answer:?}") };
        assert_eq!(r.replay(), if floats { None } else { Some(vec![1, 0]) }, "{r}");
        let differs = r.differences.iter().find(|d| d.label == 3.into()).unwrap();
        assert!(!differs.pulse_only && differs.original.last() != differs.replacement.last(), "{r}");
    }
}

/// What floats may change at any event, also at one of a contact with which it has nothing to do.
#[test]
fn what_floats_beside_another_part_is_not_constant() {
    let card = |floats: bool| {
        let mut b = Build::new("apart");
        let (other, clock) = (b.input(1, "other"), b.input(2, "clock"));
        b.output(3, "follows", other);
        let (e, mut shown) = b.register("kept", clock, Expr::LOW, Expr::LOW, Start::Any);
        b.feed(e, shown);
        if floats {
            let net = b.c.add_net("floats", Origin::Nowhere);
            b.c.net_mut(net).unwrap().open_read = crate::figures::OpenInput::Unknown;
            shown = b.c.net(net);
        }
        b.output(4, "y", shown);
        b.c
    };
    assert!(Question::new(card(false), card(false)).ask().is_ok());
    let r = refuted(card(false), card(true));
    assert_eq!(r.events.len(), 1, "{r}");
    // the other way round a net that floats explains any level
    assert!(!matches!(Question::new(card(true), card(false)).ask(), Err(Failure::Refuted(_))));
}

#[test]
fn a_driver_that_is_on_where_the_original_floats_is_refuted() {
    let with = |condition: bool| {
        let mut b = Build::new("buffer");
        let (a, on) = (b.input(1, "a"), b.input(2, "on"));
        let enable = if condition { on } else { Expr::HIGH };
        b.driven(3, "y", enable, a);
        b.c
    };
    assert!(Question::new(with(true), with(true)).ask().is_ok());
    let r = refuted(with(true), with(false));
    assert_eq!(r.differences[0].original, [Shown::Floating]);
}

#[test]
fn a_lost_pull_up_is_refuted() {
    let with = |pull: Pull| {
        let mut b = Build::new("buffer");
        let (a, on) = (b.input(1, "a"), b.input(2, "on"));
        let net = b.driven(3, "y", on, a);
        b.c.net_mut(net).unwrap().pull = pull;
        b.c
    };
    assert!(Question::new(with(Pull::Up), with(Pull::Up)).ask().is_ok());
    refuted(with(Pull::Up), with(Pull::None));
}

#[test]
fn a_pulse_is_not_a_constant() {
    let mut b = Build::new("one-shot by itself");
    let clock = b.input(1, "clock");
    let (e, q) = b.register("r", clock, Expr::HIGH, Expr::LOW, Start::Any);
    b.c.element_mut(e).unwrap().clear = q;
    b.output(2, "q", q);
    let original = b.c;
    let mut b = Build::new("constant");
    b.input(1, "clock");
    b.output(2, "q", Expr::LOW);
    let r = refuted(original.clone(), b.c);
    assert!(r.differences.iter().all(|d| d.pulse_only), "{r}");
    assert!(Question::new(original.clone(), original).ask().is_ok());
}

#[test]
fn a_ring_oscillator_is_not_a_constant() {
    let mut b = Build::new("constant");
    b.input(1, "x");
    b.output(2, "y", Expr::LOW);
    let constant = b.c;
    let mut b = Build::new("ring");
    b.input(1, "x");
    let net = b.c.add_net("ring", Origin::Nowhere);
    let level = b.c.net(net);
    let level = b.c.not(level);
    b.c.drive(
        net,
        Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("ring"), origin: Origin::Nowhere },
    );
    b.contact(2, "y", net, Direction::Output);
    assert!(Question::new(constant, b.c).to_depth(2).ask().is_err());
}

#[test]
fn an_assumption_is_needed_used_and_named() {
    let with = |xor: bool| {
        let mut b = Build::new("gate");
        let (a, c) = (b.input(1, "a"), b.input(2, "b"));
        let y = if xor { b.c.xor(a, c) } else { b.c.or(a, c) };
        b.output(3, "y", y);
        b.c
    };
    refuted(with(false), with(true));
    let both = Formula::And(Arc::new(Formula::High(1.into())), Arc::new(Formula::High(2.into())));
    let never = Assumption { text: "never a and b".into(), holds: Formula::Not(Arc::new(both)) };
    let proof = Question::new(with(false), with(true)).assuming(never).ask().unwrap();
    assert_eq!(proof.assumptions, ["never a and b"]);
}

#[test]
fn a_contradiction_is_refused() {
    let mut b = Build::new("wire");
    let a = b.input(1, "a");
    b.output(2, "y", a);
    let high = Assumption { text: "a high".into(), holds: Formula::High(1.into()) };
    let low = Assumption { text: "a low".into(), holds: Formula::Not(Arc::new(Formula::High(1.into()))) };
    let both = Question::new(b.c.clone(), b.c.clone()).assuming(high.clone()).assuming(low).ask();
    assert!(
        matches!(&both, Err(Failure::Refused(Refusal::Contradiction(by))) if by.join("; ") == "a high; a low"),
        "{both:?}"
    );
    let stuck = Question::new(b.c.clone(), b.c).assuming(high).ask();
    assert!(
        matches!(&stuck, Err(Failure::Refused(why @ Refusal::Stuck { high: false, .. })) if why.to_string().contains("can never go low")),
        "{stuck:?}"
    );
}

/// The first of two contacts of one label alone would be compared.
#[test]
fn two_contacts_of_one_label_are_refused_on_either_side() {
    let build = |second: bool| {
        let mut b = Build::new("gate");
        let a = b.input(1, "a");
        b.output(2, "y", a);
        if second {
            let not = b.c.not(a);
            b.output(2, "z", not);
        }
        b.c
    };
    for (original, replacement, side) in
        [(build(true), build(false), Of::Original), (build(false), build(true), Of::Replacement)]
    {
        match Question::new(original, replacement).ask() {
            Err(Failure::Refused(Refusal::Malformed { side: of, what: Malformed::ContactTwice { label, .. } })) => {
                assert_eq!((of, label.as_str()), (side, "2"));
            }
            other => panic!("{other:?}"),
        }
    }
    assert!(Question::new(build(false), build(false)).ask().is_ok());
}

/// A handle of a longer circuit, by which a driver would be low for ever.
#[test]
fn an_expression_of_another_circuit_is_refused() {
    let mut long = Build::new("long");
    let all: Vec<Expr> = (10..20).map(|i| long.input(i, &format!("x{i}"))).collect();
    let foreign = long.c.any(all);
    let mut b = Build::new("gate");
    b.input(1, "a");
    b.output(2, "y", foreign);
    let mut low = Build::new("low");
    low.input(1, "a");
    low.output(2, "y", Expr::LOW);
    let answer = Question::new(low.c, b.c).ask();
    let foreign =
        |f: &Failure| matches!(f, Failure::Refused(Refusal::Malformed { what: Malformed::Foreign { .. }, .. }));
    assert!(answer.as_ref().is_err_and(foreign), "{answer:?}");
}

mod assumptions;
mod beside;
mod codes;
mod drawn;
mod fading;
mod forced;
mod hides;
mod limits;
mod obligations;
mod races;
mod searched;
mod structure;
mod time;
mod turns;
mod typical;
mod vacuity;
