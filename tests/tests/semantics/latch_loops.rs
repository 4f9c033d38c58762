//! Loops of two gates each of which may be something else that does the same: an open latch, a latch that is cleared and
//! preset, a wired net, a three-state bus. Whether the order of two delays decides where they end does not hang on what
//! they are made of. Judged by an exhaustive walk in which every net and latch moves on its own.
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, Label, NetId, Origin, Polarity, Pull, Stage, Start,
};
use gluewright::prove::{Failure, Proof, Question};
use gluewright_tests::walk::{Found, Walk};

/// What makes ¬(input ∧ other).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Half {
    Gate,
    /// A latch that is always open.
    Open,
    /// A latch that is open while a contact is high, and is kept so.
    Gated,
    /// A latch that is never open: cleared and preset by gates.
    Forced,
    /// An open collector on a net that is pulled up.
    Wired,
    /// Two three-state drivers, one of which is on.
    Bus,
}

const HALVES: [Half; 6] = [Half::Gate, Half::Open, Half::Gated, Half::Forced, Half::Wired, Half::Bus];

fn contact(c: &mut Circuit, label: u16, name: &str, net: NetId, direction: Direction) {
    let (polarity, origin) = (Polarity::Data, Origin::Nowhere);
    c.add_contact(Contact { label: label.into(), name: name.into(), net, polarity, direction, origin });
}

fn drive(c: &mut Circuit, net: NetId, enable: Expr, level: Expr, stage: Stage) {
    let name = format!("driver {} of {}", c.nets()[net.index()].drivers.len(), c.nets()[net.index()].name);
    c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin: Origin::Nowhere });
}

/// Contacts 1 and 2 are the inputs, 5 is a gate of latches, 3 and 4 show what the halves make.
fn pair(halves: [Half; 2]) -> Circuit {
    let mut c = Circuit::new(format!("{} and {}", word(halves[0]), word(halves[1])));
    let inputs = ["a", "b", "hold"].map(|n| c.add_net(n, Origin::Nowhere));
    let made = ["one", "other"].map(|n| c.add_net(n, Origin::Nowhere));
    for (k, half) in halves.into_iter().enumerate() {
        let (input, hold, other) = (c.net(inputs[k]), c.net(inputs[2]), c.net(made[1 - k]));
        let both = c.and(input, other);
        let not_both = c.not(both);
        let latch = |c: &mut Circuit, open, data, clear, preset| {
            let (start, origin) = (Start::Any, Origin::Nowhere);
            let e = Element {
                name: format!("latch {k}"),
                kind: Kind::Latch { open, data },
                clear,
                preset,
                unknown_load: Expr::LOW,
                start,
                origin,
            };
            let e = c.add_element(e);
            c.q(e)
        };
        match half {
            Half::Gate => drive(&mut c, made[k], Expr::HIGH, not_both, Stage::PushPull),
            Half::Open => {
                let q = latch(&mut c, Expr::HIGH, not_both, Expr::LOW, Expr::LOW);
                drive(&mut c, made[k], Expr::HIGH, q, Stage::PushPull);
            }
            Half::Gated => {
                let open = c.or(hold, input);
                let closed = c.not(open);
                // open whenever it matters: while both are low its gate presets it
                let q = latch(&mut c, open, not_both, Expr::LOW, closed);
                drive(&mut c, made[k], Expr::HIGH, q, Stage::PushPull);
            }
            Half::Forced => {
                let q = latch(&mut c, Expr::LOW, Expr::LOW, both, not_both);
                drive(&mut c, made[k], Expr::HIGH, q, Stage::PushPull);
            }
            Half::Wired => {
                drive(&mut c, made[k], both, Expr::LOW, Stage::OpenCollector);
                c.net_mut(made[k]).unwrap().pull = Pull::Up;
            }
            Half::Bus => {
                let off = c.not(input);
                let not_other = c.not(other);
                drive(&mut c, made[k], input, not_other, Stage::ThreeState);
                drive(&mut c, made[k], off, Expr::HIGH, Stage::ThreeState);
            }
        }
    }
    for (label, name, net) in [(1, "a", inputs[0]), (2, "b", inputs[1]), (5, "hold", inputs[2])] {
        contact(&mut c, label, name, net, Direction::Input);
    }
    // what is shown is read back behind a gate of its own, so that every half drives alike
    for (label, name, net) in [(3u16, "y", made[0]), (4, "z", made[1])] {
        let shown = c.add_net(name, Origin::Nowhere);
        let level = c.net(net);
        drive(&mut c, shown, Expr::HIGH, level, Stage::PushPull);
        contact(&mut c, label, name, shown, Direction::Output);
    }
    c
}

fn word(half: Half) -> &'static str {
    match half {
        Half::Gate => "gate",
        Half::Open => "open latch",
        Half::Gated => "gated latch",
        Half::Forced => "forced latch",
        Half::Wired => "wired net",
        Half::Bus => "bus",
    }
}

/// One net alone is the memory: when both inputs rise at once, it ends low.
fn decided() -> Circuit {
    let mut c = Circuit::new("decided");
    let [a, b, hold, one] = ["a", "b", "hold", "one"].map(|n| c.add_net(n, Origin::Nowhere));
    let (x, y, held) = (c.net(a), c.net(b), c.net(one));
    let kept = c.and(y, held);
    let other = c.not(kept);
    let both = c.and(x, other);
    let level = c.not(both);
    drive(&mut c, one, Expr::HIGH, level, Stage::PushPull);
    for (label, name, net) in [(1, "a", a), (2, "b", b), (5, "hold", hold)] {
        contact(&mut c, label, name, net, Direction::Input);
    }
    for (label, name, level) in [(3u16, "y", held), (4, "z", other)] {
        let shown = c.add_net(name, Origin::Nowhere);
        drive(&mut c, shown, Expr::HIGH, level, Stage::PushPull);
        contact(&mut c, label, name, shown, Direction::Output);
    }
    c
}

fn together() -> Vec<Vec<Label>> {
    vec![vec![Label::from(1), Label::from(2)]]
}

fn ask(original: &Circuit, replacement: &Circuit, at_once: bool) -> Result<Proof, Failure> {
    let question = Question::new(original.clone(), replacement.clone());
    let question = if at_once { question.together([Label::from(1), Label::from(2)]) } else { question };
    question.ask()
}

/// Asks the prover and the walk; both must say this.
fn judged(original: &Circuit, replacement: &Circuit, at_once: bool, equal: bool) {
    let what = format!("{} in place of {}, at once {at_once}", replacement.name, original.name);
    let groups = if at_once { together() } else { Vec::new() };
    let found = Walk { together: &groups, ..Walk::new(original, replacement, 100_000) }.run();
    let walked = match found {
        Found::Refines(_) => true,
        Found::Differs(_) => false,
        other => panic!("{what}: {other:?}"),
    };
    assert_eq!(walked, equal, "{what}: the walk");
    match ask(original, replacement, at_once) {
        Ok(proof) => assert!(equal, "{what}: {proof}"),
        Err(Failure::Refuted(r)) => assert!(!equal, "{what}: {r}"),
        // where the order of changes decides it is asked for, and nothing is granted
        Err(Failure::Withheld(_)) => {}
        Err(other) => panic!("{what}: {other}"),
    }
}

#[test]
fn released_one_after_the_other_every_pair_is_a_latch() {
    for halves in HALVES.into_iter().flat_map(|a| HALVES.map(|b| [a, b])) {
        judged(&decided(), &pair(halves), false, true);
    }
}

#[test]
fn released_together_every_pair_may_end_either_way() {
    for halves in HALVES.into_iter().flat_map(|a| HALVES.map(|b| [a, b])) {
        judged(&decided(), &pair(halves), true, false);
        judged(&pair(halves), &decided(), true, true);
    }
}
