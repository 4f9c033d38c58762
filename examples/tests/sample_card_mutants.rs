//! Every single change of the sample card's stand-in is refuted with a run that replays, or is no change at all.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::circuit::{Circuit, Expr, Kind, Start};
use gluewright::prelude::*;
use gluewright::prove::Question;
use gluewright_examples::sample_card::{SampleCard, lost_card};

/// The circuit with one thing changed, and what.
fn mutants(circuit: &Circuit) -> Vec<(String, Circuit)> {
    let mut all = Vec::new();
    let mut add = |what: String, change: &dyn Fn(&mut Circuit)| {
        let mut c = circuit.clone();
        change(&mut c);
        all.push((what, c));
    };
    for e in circuit.elements() {
        let id = circuit.find_element(&e.name).expect("its own element");
        let Kind::Register { clock, data } = e.kind else { continue };
        add(format!("{}: the other edge", e.name), &|c| {
            let clock = c.not(clock);
            c.element_mut(id).expect("there").kind = Kind::Register { clock, data };
        });
        add(format!("{}: data inverted", e.name), &|c| {
            let data = c.not(data);
            c.element_mut(id).expect("there").kind = Kind::Register { clock, data };
        });
        add(format!("{}: neither cleared nor preset", e.name), &|c| {
            let e = c.element_mut(id).expect("there");
            (e.clear, e.preset) = (Expr::LOW, Expr::LOW);
        });
        add(format!("{}: clear and preset exchanged", e.name), &|c| {
            let e = c.element_mut(id).expect("there");
            std::mem::swap(&mut e.clear, &mut e.preset);
        });
        add(format!("{}: starts high", e.name), &|c| c.element_mut(id).expect("there").start = Start::High);
    }
    for contact in circuit.contacts() {
        let drivers = &circuit.nets()[contact.net.index()].drivers;
        for (k, d) in drivers.iter().enumerate() {
            let (enable, level) = (d.enable, d.level);
            let net = contact.net;
            let mut set = |what: &str, change: &dyn Fn(&mut Circuit) -> (Expr, Expr)| {
                add(format!("{}: {what}", contact.name), &|c| {
                    let (enable, level) = change(c);
                    let d = &mut c.net_mut(net).expect("there").drivers[k];
                    (d.enable, d.level) = (enable, level);
                });
            };
            set("level inverted", &|c| (enable, c.not(level)));
            set("never driven", &|_| (Expr::LOW, level));
            if enable != Expr::HIGH {
                set("always driven", &|_| (Expr::HIGH, level));
                set("enable inverted", &|c| (c.not(enable), level));
            }
        }
    }
    all
}

#[test]
fn every_mutant_is_refuted_or_equal() {
    let original = lost_card().expect("sound").circuit().expect("logic");
    let replacement = gluewright::circuit_of::<SampleCard>().expect("it builds");
    Question::new(original.clone(), replacement.clone()).ask().expect("the stand-in itself is proved");
    let (mut refuted, mut equal) = (0, Vec::new());
    for (what, mutant) in mutants(&replacement) {
        match Question::new(original.clone(), mutant).ask() {
            Ok(_) => equal.push(what),
            Err(Failure::Refuted(r)) => {
                assert!(r.shortest, "{what}: {r}");
                assert_eq!(r.replay().expect("nothing unknown").last(), Some(&0), "{what}: {r}");
                println!("{what}: {} events", r.events.len());
                refuted += 1;
            }
            Err(other) => panic!("{what}: {other}"),
        }
    }
    println!("{refuted} refuted, {} proved equal: {equal:?}", equal.len());
    // a flip-flop of the card may start either way, so its stand-in may start high
    assert!(equal.iter().all(|what| what.ends_with("starts high")), "{equal:?}");
    assert!(refuted >= 50);
}
