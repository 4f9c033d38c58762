//! 16V8 and 20V8: the mode is chosen, and each mode's rules are kept.
use super::bench::Bench;
use gluewright::circuit::{Expr, Kind, Label, Rail, Stage, Start};
use gluewright::device::{Enable, Function};
use gluewright::fit::{Fitted, FittedCell, NoFit, Note};

fn cell<'a>(fitted: &'a Fitted, name: &str) -> &'a FittedCell {
    fitted.cells.iter().find(|c| c.name == name).unwrap()
}

#[test]
fn eight_terms_without_an_enable_are_simple_mode() {
    for device in ["16V8", "20V8"] {
        let mut b = Bench::new();
        let bits: [Expr; 4] = b.inputs("i");
        let odd = bits.into_iter().fold(Expr::LOW, |a, x| b.c.xor(a, x));
        b.output("odd", odd);
        let fitted = b.check_on(device);
        assert_eq!(fitted.mode, "simple");
        assert_eq!(cell(&fitted, "odd").terms.len(), 8);
    }
}

#[test]
fn a_drive_condition_is_complex_mode() {
    for device in ["16V8", "20V8"] {
        let mut b = Bench::new();
        let (a, on) = (b.input("a"), b.input("on"));
        b.driven("bus", on, a, Stage::ThreeState);
        let sink = b.c.not(a);
        b.driven("irq_n", sink, Expr::LOW, Stage::OpenCollector);
        assert_eq!(b.check_on(device).mode, "complex");
    }
}

#[test]
fn all_eight_outputs_and_every_input_of_complex_mode() {
    let mut b = Bench::new();
    let inputs: [Expr; 10] = b.inputs("i");
    let on = b.c.and(inputs[0], inputs[9]);
    for i in 0..8 {
        let level = b.c.and(inputs[i], inputs[i + 1]);
        b.driven(&format!("y{i}"), on, level, Stage::ThreeState);
    }
    let fitted = b.check_on("16V8");
    assert_eq!((fitted.mode, fitted.cells.len(), fitted.unused.len()), ("complex", 8, 0));
}

#[test]
fn a_latch_avoids_pins_without_feedback() {
    for device in ["16V8", "20V8"] {
        let mut b = Bench::new();
        let (data, open, on) = (b.input("data"), b.input("open"), b.input("on"));
        let latch = b.element("held", Kind::Latch { open, data });
        let q = b.c.q(latch);
        b.driven("y", on, q, Stage::ThreeState);
        let fitted = b.check_on(device);
        let outer = if device == "16V8" { [12, 19] } else { [15, 22] };
        assert_eq!(fitted.mode, "complex");
        assert!(!outer.contains(&cell(&fitted, "held").macrocell), "complex mode doesn't read those back");
    }
}

#[test]
fn registers_that_always_drive_tie_the_enable_pin_to_ground() {
    for (device, enable) in [("16V8", 11), ("20V8", 13)] {
        let mut b = Bench::new();
        let (clock, d) = (b.input("clock"), b.input("d"));
        let buried = b.register("buried", clock, d, Expr::LOW, Start::High);
        let q = b.c.q(buried);
        let r = b.register("r", clock, q, Expr::LOW, Start::High);
        let level = b.c.q(r);
        b.output("q", level);
        let copy = b.c.q_inverted(r);
        b.output("q_n", copy);
        let fitted = b.check_on(device);
        assert_eq!(fitted.mode, "registered");
        assert_eq!(fitted.ties, [(enable, Rail::Gnd)]);
        assert_eq!(fitted.pins_of(&Label::from(1)), [1]);
        let pin = cell(&fitted, "buried").macrocell;
        assert_eq!(fitted.plan.cells[&pin].enable, Enable::Pin);
        assert!(fitted.notes.contains(&Note::DrivenRegister { pin, name: "buried".into() }));
        assert!(fitted.notes.contains(&Note::Tied { pin: enable, rail: Rail::Gnd }));
    }
}

#[test]
fn an_active_low_enable_contact_is_the_enable_pin() {
    let mut b = Bench::new();
    let (clock, d, oe_n) = (b.input("clock"), b.input("d"), b.input("oe_n"));
    let on = b.c.not(oe_n);
    for i in 0..3 {
        let r = b.register(&format!("r{i}"), clock, d, Expr::LOW, Start::High);
        let q = b.c.q(r);
        b.driven(&format!("q{i}"), on, q, Stage::ThreeState);
    }
    let fitted = b.check_on("16V8");
    assert_eq!(fitted.cells.len(), 3);
    assert_eq!(fitted.pins_of(&Label::from(3)), [11]);
    assert!(fitted.ties.is_empty());
}

#[test]
fn an_enable_that_is_read_as_well_needs_two_pins() {
    let mut b = Bench::new();
    let (clock, d, oe_n) = (b.input("clock"), b.input("d"), b.input("oe_n"));
    let on = b.c.not(oe_n);
    let next = b.c.xor(d, oe_n);
    let r = b.register("r", clock, next, Expr::LOW, Start::High);
    let q = b.c.q(r);
    b.driven("q", on, q, Stage::ThreeState);
    let gated = b.c.and(clock, d);
    b.output("gated", gated);
    let fitted = b.check_on("16V8");
    assert_eq!(fitted.pins_of(&Label::from(3)).len(), 2);
    assert_eq!(fitted.pins_of(&Label::from(1)).len(), 2, "nor does the clock reach the array");
    assert!(fitted.notes.iter().any(|n| matches!(n, Note::TwoPins { name, .. } if name == "oe_n")));
}

#[test]
fn registers_that_the_enable_pin_does_not_suit_get_a_second_macrocell() {
    let mut b = Bench::new();
    let (clock, d, x, y) = (b.input("clock"), b.input("d"), b.input("x"), b.input("y"));
    let both = b.c.and(x, y);
    for i in 0..2 {
        let r = b.register(&format!("r{i}"), clock, d, Expr::LOW, Start::High);
        let q = b.c.q(r);
        b.output(&format!("q{i}"), q);
    }
    let r = b.register("r2", clock, d, Expr::LOW, Start::High);
    let q = b.c.q(r);
    b.driven("q2", both, q, Stage::ThreeState);
    let fitted = b.check_on("16V8");
    assert_eq!(fitted.cells.len(), 4);
    assert_eq!(cell(&fitted, "q2").function, Function::Combinational);
    assert!(fitted.notes.contains(&Note::Copied { name: "q2".into(), of: "r2".into() }));
}

#[test]
fn a_register_that_starts_low_can_only_be_shown_by_a_second_macrocell() {
    let mut b = Bench::new();
    let (clock, d) = (b.input("clock"), b.input("d"));
    let low = b.register("low", clock, d, Expr::LOW, Start::Low);
    let q = b.c.q(low);
    b.output("q", q);
    let fitted = b.check_on("16V8");
    assert_eq!(fitted.cells.len(), 2, "its registered pins wake up high");
}

#[test]
fn a_reset_is_refused_by_name() {
    let mut b = Bench::new();
    let (clock, d, reset) = (b.input("clock"), b.input("d"), b.input("reset"));
    let r = b.register("r", clock, d, reset, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    let no = b.fit_on("16V8").unwrap_err();
    assert!(matches!(&no, NoFit::NoReset { register, what: "clear", .. } if register == "r"), "{no}");
}

#[test]
fn the_bipolar_originals_take_what_they_can_show() {
    let mut b = Bench::new();
    let (a, c) = (b.input("a"), b.input("c"));
    let both = b.c.and(a, c);
    b.output("y", both);
    let fitted = b.check_on("16L8");
    assert!(cell(&fitted, "y").inverted, "no polarity fuse: the pin shows the complement of the sum");
    assert_eq!(cell(&fitted, "y").terms.len(), 2);

    let mut b = Bench::new();
    let (clock, d) = (b.input("clock"), b.input("d"));
    let r = b.register("r", clock, d, Expr::LOW, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    b.output("d_seen", d);
    assert!(b.fit_on("16R4").is_ok());
    assert!(matches!(b.fit_on("16L8").unwrap_err(), NoFit::NoRegisters { .. }));
    let no = b.fit_on("16R8").unwrap_err();
    assert!(matches!(&no, NoFit::NoMacrocellFor { signal, .. } if signal == "d_seen"), "{no}");
}

#[test]
fn inputs_fill_macrocell_pins_that_can_be_read() {
    let mut b = Bench::new();
    let inputs: [Expr; 15] = b.inputs("i");
    let all = b.c.all(inputs);
    b.output("y", all);
    assert_eq!(b.check_on("16V8").mode, "simple");
    let more: [Expr; 2] = b.inputs("j");
    let either = b.c.or(more[0], more[1]);
    b.output("either", either);
    let no = b.fit_on("16V8").unwrap_err();
    assert!(matches!(no, NoFit::TooManyPins { inputs: 17, macrocells: 2, available: 18, .. }), "{no}");
}
