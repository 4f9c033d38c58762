//! Circuits that don't fit: the reason and the mend.
use super::bench::Bench;
use gluewright::circuit::{Expr, Kind, Stage, Start};
use gluewright::fit::{NoFit, Wishes};
use gluewright::limit::{Limit, Over, Stop};
use std::time::Duration;

fn refused(b: &Bench) -> NoFit {
    b.fit(&Wishes::none()).unwrap_err()
}

fn said(no: &NoFit, words: &[&str]) {
    let text = no.to_string();
    for word in words {
        assert!(text.contains(word), "`{word}` is missing in: {text}");
    }
}

#[test]
fn a_falling_clock() {
    let mut b = Bench::new();
    let (clock, d) = (b.input("clock"), b.input("d"));
    let falls = b.c.not(clock);
    let r = b.register("r", falls, d, Expr::LOW, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    let no = refused(&b);
    assert!(matches!(no, NoFit::FallingClock { .. }), "{no}");
    said(&no, &["bench.rs:100", "`r`", "`clock`", "inverter ahead of pin 1"]);
}

#[test]
fn a_gated_clock() {
    let mut b = Bench::new();
    let (clock, gate, d) = (b.input("clock"), b.input("gate"), b.input("d"));
    let gated = b.c.and(clock, gate);
    let r = b.register("r", gated, d, Expr::LOW, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    let no = refused(&b);
    assert!(matches!(no, NoFit::GatedClock { .. }), "{no}");
    said(&no, &["`clock`", "`gate`", "load condition"]);
}

#[test]
fn two_clocks() {
    let mut b = Bench::new();
    let (one, two, d) = (b.input("one"), b.input("two"), b.input("d"));
    for (name, clock) in [("a", one), ("b", two)] {
        let r = b.register(name, clock, d, Expr::LOW, Start::Any);
        let q = b.c.q(r);
        b.output(&format!("q_{name}"), q);
    }
    let no = refused(&b);
    assert!(matches!(no, NoFit::TwoClocks { .. }), "{no}");
    said(&no, &["`a`", "`b`", "`one`", "`two`"]);
}

#[test]
fn registers_that_disagree_about_the_reset() {
    for with_other_reset in [false, true] {
        let mut b = Bench::new();
        let (clock, reset, other, d) = (b.input("clock"), b.input("reset"), b.input("other"), b.input("d"));
        let x = b.register("x", clock, d, reset, Start::Any);
        let y = b.register("y", clock, d, if with_other_reset { other } else { Expr::LOW }, Start::Any);
        let (x, y) = (b.c.q(x), b.c.q(y));
        b.output("x", x);
        b.output("y", y);
        let no = refused(&b);
        assert!(matches!(no, NoFit::TwoResets { .. }), "{no}");
        said(&no, &["`x`", "`y`", "`reset`", if with_other_reset { "`other`" } else { "not at all" }]);
    }
}

#[test]
fn a_clear_beside_a_preset() {
    let mut b = Bench::new();
    let (clock, c, p) = (b.input("clock"), b.input("c"), b.input("p"));
    let r = b.register("r", clock, Expr::LOW, c, Start::Any);
    b.c.element_mut(r).unwrap().preset = p;
    let q = b.c.q(r);
    b.output("q", q);
    assert!(matches!(refused(&b), NoFit::ClearAndPreset { .. }));
}

#[test]
fn a_start_against_the_reset() {
    let mut b = Bench::new();
    let (clock, reset, d) = (b.input("clock"), b.input("reset"), b.input("d"));
    let r = b.register("r", clock, d, reset, Start::High);
    let q = b.c.q(r);
    b.output("q", q);
    let no = refused(&b);
    assert!(matches!(no, NoFit::Start { .. }), "{no}");
    said(&no, &["starts high and is reset to low"]);
}

#[test]
fn a_latch_with_a_start() {
    let mut b = Bench::new();
    let (open, data) = (b.input("open"), b.input("data"));
    let latch = b.element("held", Kind::Latch { open, data });
    b.c.element_mut(latch).unwrap().start = Start::High;
    let q = b.c.q(latch);
    b.output("q", q);
    assert!(matches!(refused(&b), NoFit::LatchStart { .. }));
}

#[test]
fn eleven_macrocells() {
    let mut b = Bench::new();
    let a = b.input("a");
    for i in 0..11 {
        b.output(&format!("y{i}"), a);
    }
    let no = refused(&b);
    assert!(matches!(no, NoFit::TooManyMacrocells { needed: 11, available: 10, .. }), "{no}");
    said(&no, &["one output less would do", "`y10`"]);
}

#[test]
fn a_node_for_a_drive_condition_can_be_one_macrocell_too_many() {
    let mut b = Bench::new();
    let [a, c] = b.inputs("i");
    let either = b.c.or(a, c);
    for i in 0..10 {
        b.driven(&format!("y{i}"), either, a, Stage::ThreeState);
    }
    let no = refused(&b);
    said(&no, &["11 macrocells", "`drive_y0` would need none if the condition were one product term"]);
}

#[test]
fn more_signals_than_pins() {
    let mut b = Bench::new();
    let inputs: [Expr; 20] = b.inputs("i");
    let all = b.c.all(inputs);
    for i in 0..3 {
        b.output(&format!("y{i}"), all);
    }
    let no = refused(&b);
    assert!(matches!(no, NoFit::TooManyPins { inputs: 20, macrocells: 3, available: 22, over: 1, .. }), "{no}");
    said(&no, &["leave out 1 input,"]);
}

#[test]
fn too_wide_with_no_macrocell_left_to_split_it() {
    let mut b = Bench::new();
    let bits: [Expr; 6] = b.inputs("i");
    let odd = bits.into_iter().fold(Expr::LOW, |a, x| b.c.xor(a, x));
    b.output("odd", odd);
    for i in 0..9 {
        b.output(&format!("y{i}"), bits[0]);
    }
    let no = refused(&b);
    assert!(matches!(no, NoFit::TooWide { needed: 32, widest: 16, .. }), "{no}");
    said(&no, &["`odd`", "32 product terms", "no other macrocells are free"]);
}

#[test]
fn wishes_that_cannot_be() {
    let mut b = Bench::new();
    let a = b.input("a");
    b.output("y", a);
    let fit = |w: Wishes| b.fit(&w).unwrap_err();
    said(&fit(Wishes::none().pin(9, 2)), &["no contact `9`"]);
    said(&fit(Wishes::none().bury("z", 14)), &["no signal `z`"]);
    said(&fit(Wishes::none().keep("z")), &["no node `z`"]);
    said(&fit(Wishes::none().pin(2, 5)), &["`y`", "pin 5", "can't drive"]);
    said(&fit(Wishes::none().pin(1, 24)), &["supply pin"]);
    said(&fit(Wishes::none().pin(1, 40)), &["no such pin"]);
    said(&fit(Wishes::none().pin(1, 20).pin(2, 20)), &["`y` is to be there too"]);
}

/// What was found when the time is over may not be what more time would find: it is no fit, and is said.
#[test]
fn no_time() {
    let mut b = Bench::new();
    let (x, y) = (b.input("x"), b.input("y"));
    let both = b.c.and(x, y);
    b.output("q", both);
    let (used, unused) = (Stop::new(), Stop::new());
    used.stop();
    let no = b.fit(&Wishes::none().within(Limit::default().or_when(Some(used)))).unwrap_err();
    assert!(matches!(no, NoFit::Over { over: Over::Stopped, .. }), "{no}");
    let no = b.fit(&Wishes::none().within(Limit::within(Duration::ZERO))).unwrap_err();
    assert!(matches!(no, NoFit::Over { over: Over::Time, .. }), "{no}");
    let ample = Limit::within(Duration::MAX).or_when(Some(unused));
    let (with, without) = (b.fit(&Wishes::none().within(ample)), b.fit(&Wishes::none()));
    assert_eq!(with.unwrap().plan, without.unwrap().plan);
}

/// Sums of sixty drawn terms over eleven inputs: their covers are looked for for long.
#[test]
fn a_token_ends_a_long_fit() {
    let mut b = Bench::new();
    let x: Vec<Expr> = (0..9).map(|i| b.input(&format!("x{i}"))).collect();
    for out in 0..6 {
        let mut sum = Expr::LOW;
        for term in 0..40u32 {
            let mut product = Expr::HIGH;
            for (i, &input) in x.iter().enumerate() {
                let draw = term.wrapping_mul(2_654_435_761).rotate_left(out * 5 + i as u32) % 5;
                if draw < 2 {
                    let literal = if draw == 0 { input } else { b.c.not(input) };
                    product = b.c.and(product, literal);
                }
            }
            sum = b.c.or(sum, product);
        }
        b.output(&format!("y{out}"), sum);
    }
    let stop = Stop::new();
    let waker = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(100));
        stop.stop();
    });
    let fitted = b.fit(&Wishes::none().within(Limit::default().or_when(Some(stop))));
    waker.join().expect("it ran");
    assert!(matches!(fitted, Err(NoFit::Over { over: Over::Stopped, .. })));
}
