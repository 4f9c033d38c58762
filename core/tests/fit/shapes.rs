//! Circuits that fit: what each macrocell becomes, and that the burned device does the same.
use super::bench::Bench;
use gluewright::circuit::{By, Direction, Expr, Kind, Label, Stage, Start};
use gluewright::device::{Enable, Function};
use gluewright::fit::{Drive, Fitted, FittedCell, Note, Wishes};

fn cell<'a>(fitted: &'a Fitted, name: &str) -> &'a FittedCell {
    fitted.cells.iter().find(|c| c.name == name).unwrap()
}

fn texts(fitted: &Fitted, name: &str) -> Vec<String> {
    cell(fitted, name).terms.iter().map(|t| fitted.logic.term_text(&t.product)).collect()
}

#[test]
fn the_polarity_with_fewer_terms_is_taken() {
    let mut b = Bench::new();
    let [a, c, d] = b.inputs("i");
    let all = b.c.all([a, c, d]);
    let level = b.c.not(all);
    b.output("y_n", level);
    let any = b.c.any([a, c, d]);
    let none = b.c.not(any);
    b.output("none", none);
    let fitted = b.check();
    assert!(cell(&fitted, "y_n").inverted);
    assert_eq!(texts(&fitted, "y_n").len(), 1);
    assert!(!cell(&fitted, "none").inverted);
    assert_eq!(texts(&fitted, "none").len(), 1);
}

#[test]
fn constants_and_straight_copies() {
    let mut b = Bench::new();
    let a = b.input("a");
    b.output("high", Expr::HIGH);
    b.output("low", Expr::LOW);
    b.output("same", a);
    let fitted = b.check();
    assert_eq!(fitted.term_count(), 1, "{:?}", fitted.cells);
}

#[test]
fn a_register_sits_at_its_pin_and_its_complement_copies_it() {
    let mut b = Bench::new();
    let (clock, d, reset) = (b.input("clock"), b.input("d"), b.input("reset"));
    let r = b.register("r", clock, d, reset, Start::Any);
    let (q, q_n) = (b.c.q(r), b.c.q_inverted(r));
    b.output("q", q);
    b.output("q_n", q_n);
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 2);
    assert_eq!(cell(&fitted, "q").function, Function::Registered);
    assert_eq!(cell(&fitted, "q_n").function, Function::Combinational);
    assert!(fitted.notes.contains(&Note::Copied { name: "q_n".into(), of: "r".into() }));
    assert_eq!(fitted.pins_of(&Label::from(1)), [1], "the clock is on pin 1");
}

#[test]
fn storage_is_inverted_for_a_preset_and_for_a_high_start() {
    let mut b = Bench::new();
    let (clock, d, reset) = (b.input("clock"), b.input("d"), b.input("reset"));
    let cleared = b.register("cleared", clock, d, reset, Start::Any);
    let preset = b.register("preset", clock, d, Expr::LOW, Start::High);
    b.c.element_mut(preset).unwrap().preset = reset;
    let (x, y) = (b.c.q(cleared), b.c.q(preset));
    let both = b.c.xor(x, y);
    b.output("x", x);
    b.output("both", both);
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 3, "x, both, and the buried register");
    assert!(!cell(&fitted, "x").inverted);
    assert!(cell(&fitted, "preset").inverted);
    assert_eq!(fitted.plan.reset.as_ref().map(|t| t.0.len()), Some(1));
    let pin = cell(&fitted, "preset").macrocell;
    assert_eq!(fitted.plan.cells[&pin].enable, Enable::Never);
    assert!(fitted.wires.iter().all(|w| w.pin != pin));
    assert!(fitted.notes.contains(&Note::BuriedRegister { pin, name: "preset".into() }));
}

#[test]
fn starts_are_honoured_without_a_reset() {
    for start in [Start::Low, Start::High] {
        let mut b = Bench::new();
        let (clock, step) = (b.input("clock"), b.input("step"));
        let bits: Vec<_> = (0..3).map(|i| b.register(&format!("b{i}"), clock, Expr::LOW, Expr::LOW, start)).collect();
        let mut carry = step;
        for &bit in &bits {
            let q = b.c.q(bit);
            let next = b.c.xor(q, carry);
            b.load(bit, next);
            carry = b.c.and(carry, q);
            b.output(&format!("q{}", bit.index()), q);
        }
        let fitted = b.check();
        assert!(fitted.cells.iter().all(|c| c.inverted == (start == Start::High)));
    }
}

#[test]
fn a_wide_drive_condition_goes_through_a_node() {
    let mut b = Bench::new();
    let [a, c, d] = b.inputs("i");
    let either = b.c.or(a, c);
    b.driven("bus", either, d, Stage::ThreeState);
    let other = b.c.not(d);
    b.driven("other", either, other, Stage::ThreeState);
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 3, "both share the node");
    let node = cell(&fitted, "drive_bus");
    assert_eq!((node.drive.clone(), node.label.clone()), (Drive::Always, None));
    assert!(fitted.notes.contains(&Note::Isolated { pin: node.macrocell, name: "drive_bus".into() }));
}

#[test]
fn a_drive_condition_that_an_output_shows_is_read_there() {
    let mut b = Bench::new();
    let [a, c, d] = b.inputs("i");
    let either = b.c.or(a, c);
    let released = b.c.not(either);
    b.output("either_n", released);
    b.driven("bus", either, d, Stage::ThreeState);
    assert_eq!(b.check().cells.len(), 2);
}

#[test]
fn an_open_collector_is_a_constant_low_with_its_condition_as_enable() {
    let mut b = Bench::new();
    let (clock, d, reset) = (b.input("clock"), b.input("d"), b.input("reset"));
    let flag = b.register("flag", clock, d, reset, Start::Any);
    let q = b.c.q(flag);
    b.driven("irq_n", q, Expr::LOW, Stage::OpenCollector);
    let fitted = b.check();
    let irq = cell(&fitted, "irq_n");
    assert_eq!((irq.terms.len(), irq.inverted, irq.function), (0, false, Function::Combinational));
    assert!(matches!(&irq.drive, Drive::While(p) if p.len() == 1));
    assert_eq!(cell(&fitted, "flag").label, None);
}

#[test]
fn a_wire_that_the_board_drives_too_is_read_at_its_pin() {
    let mut b = Bench::new();
    let (clock, on, reset) = (b.input("clock"), b.input("on"), b.input("reset"));
    let bus = b.contact("bus", Direction::InOut);
    let level = b.c.net(bus);
    let kept = b.register("kept", clock, level, reset, Start::Any);
    let q = b.c.q(kept);
    let driver = gluewright::circuit::Driver {
        enable: on,
        level: q,
        stage: Stage::ThreeState,
        by: By::signal("bus"),
        origin: Default::default(),
    };
    b.c.drive(bus, driver);
    let fitted = b.check();
    assert_eq!(cell(&fitted, "bus").function, Function::Combinational, "a register's feedback is not its pin");
    assert_eq!(fitted.cells.len(), 2);
}

#[test]
fn a_latch_keeps_its_consensus_term_in_either_polarity() {
    for inverted in [false, true] {
        let mut b = Bench::new();
        let (data, open) = (b.input("data"), b.input("open"));
        let latch = b.element("held", Kind::Latch { open, data });
        let q = b.c.q(latch);
        let level = if inverted { b.c.not(q) } else { q };
        b.output("y", level);
        let fitted = b.check();
        assert_eq!(fitted.cells.len(), 1, "the latch is the output's own macrocell");
        let y = cell(&fitted, "y");
        assert_eq!(y.terms.len(), 3);
        let extra: Vec<_> = y.terms.iter().filter(|t| !t.steadies.is_empty()).collect();
        assert_eq!(extra.len(), 1);
        let names: Vec<_> = extra[0].steadies.iter().map(|&v| fitted.logic.name_of(v)).collect();
        assert_eq!(names, ["open"], "it holds while the gate changes");
        assert!(extra[0].product.iter().all(|(v, _)| fitted.logic.name_of(*v) != "open"));
    }
}

#[test]
fn a_latch_whose_pin_floats_needs_a_second_macrocell() {
    let mut b = Bench::new();
    let (data, open, on) = (b.input("data"), b.input("open"), b.input("on"));
    let latch = b.element("held", Kind::Latch { open, data });
    let q = b.c.q(latch);
    b.driven("y", on, q, Stage::ThreeState);
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 2);
    let held = cell(&fitted, "held");
    assert_eq!((held.drive.clone(), held.label.clone()), (Drive::Always, None));
}

#[test]
fn a_multiplexer_at_a_pin_has_no_hazard_and_a_loaded_one_needs_no_extra_term() {
    let mut b = Bench::new();
    let (clock, reset) = (b.input("clock"), b.input("reset"));
    let [s, x, y] = b.inputs("i");
    let chosen = b.c.choose(s, x, y);
    b.output("out", chosen);
    let r = b.register("r", clock, chosen, reset, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    let fitted = b.check();
    assert_eq!(cell(&fitted, "out").terms.len(), 3);
    assert_eq!(cell(&fitted, "q").terms.len(), 2);
}

#[test]
fn inputs_spill_onto_macrocell_pins_that_are_not_used() {
    let mut b = Bench::new();
    let inputs: [Expr; 20] = b.inputs("i");
    let all = b.c.all(inputs);
    b.output("y", all);
    let fitted = b.check();
    let spilled = fitted.wires.iter().filter(|w| w.pin >= 14 && w.pin != cell(&fitted, "y").macrocell).count();
    assert_eq!(spilled, 8, "twelve pins are inputs only");
    assert_eq!(fitted.plan.cells.len(), 1);
}

#[test]
fn a_sum_wider_than_any_macrocell_is_cut_in_two() {
    let mut b = Bench::new();
    let bits: [Expr; 6] = b.inputs("i");
    let odd = bits.into_iter().fold(Expr::LOW, |a, x| b.c.xor(a, x));
    b.output("odd", odd);
    let fitted = b.check();
    // 32 terms in either polarity: 16 + 16 + 1 would be one too many for two macrocells
    assert_eq!(fitted.cells.len(), 3, "{:?}", fitted.notes);
    assert!(fitted.cells.iter().all(|c| c.terms.len() <= c.capacity));
    assert!(fitted.notes.iter().any(|n| matches!(n, Note::Added { .. })));
    // a wish for its pin is no reason not to cut it, and one that can't be says so
    let wished = b.check_with(&Wishes::none().pin(7, 18));
    assert_eq!(wished.pins_of(&7.into()), [18]);
    let refused = b.fit(&Wishes::none().pin(7, 2)).unwrap_err().to_string();
    assert!(refused.contains("can't drive, and no other can"), "{refused}");
}

#[test]
fn a_node_of_the_users_is_kept_only_where_it_helps() {
    let mut b = Bench::new();
    let bits: [Expr; 8] = b.inputs("i");
    let odd = bits[..4].iter().fold(Expr::LOW, |a, &x| b.c.xor(a, x));
    let node = b.c.add_node("half", odd, Default::default());
    let half = b.c.net(node);
    b.output("half_seen", half);
    let narrow = b.check();
    assert_eq!(narrow.cells.len(), 1, "dissolved: {:?}", narrow.cells);
    let odd = bits[4..].iter().fold(half, |a, &x| b.c.xor(a, x));
    b.output("odd", odd);
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 2, "the node shares the macrocell of the contact that shows it");
    assert_eq!(cell(&fitted, "odd").terms.len(), 16);
    let kept = b.check_with(&Wishes::none().keep("half"));
    assert_eq!(kept.cells.len(), 2);
}

#[test]
fn wishes_are_fulfilled() {
    let mut b = Bench::new();
    let (clock, d, reset) = (b.input("clock"), b.input("d"), b.input("reset"));
    let r = b.register("r", clock, d, reset, Start::Any);
    let q = b.c.q(r);
    let level = b.c.and(q, d);
    b.output("y", level);
    let fitted = b.check_with(&Wishes::none().pin(2, 20).pin(4, 17).bury("r", 23).signature(*b"bench"));
    assert_eq!(fitted.pins_of(&2.into()), [20]);
    assert_eq!(fitted.pins_of(&4.into()), [17]);
    assert_eq!(cell(&fitted, "r").macrocell, 23);
    assert_eq!(fitted.plan.signature, b"bench");
}

#[test]
fn cross_coupled_gates_become_a_loop_at_a_pin() {
    let mut b = Bench::new();
    let (s, r) = (b.input("s"), b.input("r"));
    let q = b.contact("q", Direction::Output);
    let q_n = b.c.add_net("q_n", Default::default());
    let (read_q, read_n) = (b.c.net(q), b.c.net(q_n));
    let (a, z) = (b.c.or(r, read_n), b.c.or(s, read_q));
    let (a, z) = (b.c.not(a), b.c.not(z));
    for (net, level) in [(q, a), (q_n, z)] {
        let name = "gate".to_owned();
        let origin = Default::default();
        b.c.drive(
            net,
            gluewright::circuit::Driver {
                enable: Expr::HIGH,
                level,
                stage: Stage::PushPull,
                by: By::signal(name),
                origin,
            },
        );
    }
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 1);
}

#[test]
fn a_counter_with_load_fills_wide_macrocells() {
    let mut b = Bench::new();
    let (clock, reset, load, run) = (b.input("clock"), b.input("reset"), b.input("load"), b.input("run"));
    let data: [Expr; 8] = b.inputs("d");
    let bits: Vec<_> = (0..8).map(|i| b.register(&format!("c{i}"), clock, Expr::LOW, reset, Start::Any)).collect();
    let mut carry = run;
    for (i, &bit) in bits.iter().enumerate() {
        let q = b.c.q(bit);
        let count = b.c.xor(q, carry);
        let next = b.c.choose(load, data[i], count);
        b.load(bit, next);
        carry = b.c.and(carry, q);
        b.output(&format!("q{i}"), q);
    }
    let fitted = b.check();
    assert_eq!(fitted.cells.len(), 8);
    assert!(fitted.cells.iter().any(|c| c.terms.len() > 8));
    assert!(fitted.cells.iter().all(|c| c.terms.len() <= c.capacity));
}

/// The parity of five inputs and a condition on two others: 17 terms, 32 for the complement.
fn wide(b: &mut Bench) -> (Expr, Expr) {
    let [p, q, r, s, t, u, v] = b.inputs("i");
    let parity = [q, r, s, t].into_iter().fold(p, |sum, one| b.c.xor(sum, one));
    let condition = b.c.and(u, v);
    (parity, condition)
}

#[test]
fn the_preset_of_all_registers_takes_the_term_for_which_a_sum_is_too_wide() {
    let mut b = Bench::new();
    let clock = b.input("clock");
    let (parity, condition) = wide(&mut b);
    let data = b.c.or(parity, condition);
    let r = b.register("r", clock, data, Expr::LOW, Start::Any);
    let q = b.c.q(r);
    b.output("q", q);
    let fitted = b.check();
    assert_eq!((fitted.cells.len(), texts(&fitted, "q").len()), (1, 17));
    assert_eq!((fitted.plan.cells.values().next().unwrap().terms.len(), fitted.plan.preset.is_some()), (16, true));
    let note = fitted.notes.iter().find(|n| matches!(n, Note::Preset { .. })).expect("it is said").to_string();
    assert!(note.starts_with("the term i5 ∧ i6 of q is the preset of all registers"), "{note}");
}

#[test]
fn a_register_that_is_not_set_with_the_others_keeps_the_preset_out() {
    let mut b = Bench::new();
    let clock = b.input("clock");
    let (parity, condition) = wide(&mut b);
    let other = b.input("other");
    let data = b.c.or(parity, condition);
    for (name, data) in [("r", data), ("s", other)] {
        let r = b.register(name, clock, data, Expr::LOW, Start::Any);
        let q = b.c.q(r);
        b.output(&format!("q_{name}"), q);
    }
    let fitted = b.check();
    assert_eq!((fitted.cells.len(), fitted.plan.preset.is_some()), (3, false), "a node takes part of the sum");
    let note = fitted.notes.iter().find(|n| matches!(n, Note::Added { .. })).expect("it is said").to_string();
    assert!(note.contains("so that the circuit fits; q_r takes one propagation delay more through it"), "{note}");
}
