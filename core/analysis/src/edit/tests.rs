//! What is listed for a small circuit, word by word, and what each change does.
use super::*;
use gluewright_kernel::circuit::{By, Label};
use gluewright_kernel::prelude::*;
use gluewright_kernel::simulate::{Shown, Simulator};

#[derive(Circuit)]
struct Port {
    #[contact(1)]
    read: Input<ActiveLow>,
    #[contact(2)]
    select: Input<ActiveLow>,
    #[contact(3)]
    clock: Input<Clock>,
    #[contact(4)]
    reset: Input<ActiveLow>,
    #[contact(5, 6)]
    d: [Input<Data>; 2],
    #[contact(7, 8)]
    data: [Output<Data, ThreeState>; 2],
    #[contact(9)]
    irq: Output<ActiveLow, OpenCollector>,
    held: Buried<Latch>,
}

impl Wiring for Port {
    fn wire(&self) -> PortWiring {
        let reading = self.read.asserted() & self.select.asserted();
        PortWiring {
            data: each(|i| {
                on(self.clock.rises()).load(self.d[i].level()).clear_while(self.reset.asserted()).drive_while(reading)
            }),
            irq: assert_while(self.held.q().is_high()),
            held: open_while(self.select.asserted()).follow(self.d[0].level()),
        }
    }
}

/// One build of it: a change is one of the circuit that it was listed for, or of its copies.
fn port() -> gluewright_kernel::circuit::Circuit {
    static PORT: std::sync::LazyLock<gluewright_kernel::circuit::Circuit> =
        std::sync::LazyLock::new(|| gluewright_kernel::circuit_of::<Port>().expect("it builds"));
    PORT.clone()
}

fn find(words: &str) -> Edit {
    let all = edits_by_line(&port());
    let found = all.iter().find(|e| e.words() == words).cloned();
    found
        .unwrap_or_else(|| panic!("{words}: not among\n{}", all.iter().map(Edit::words).collect::<Vec<_>>().join("\n")))
}

fn shows(
    circuit: &gluewright_kernel::circuit::Circuit,
    levels: &[(u16, bool)],
    events: &[&[(u16, bool)]],
    contact: u16,
) -> Shown {
    let of = |l: &[(u16, bool)]| l.iter().map(|&(c, h)| (Label::from(c), h)).collect::<Vec<_>>();
    let (mut sim, _) = Simulator::new(circuit, &of(levels), |_, _| false).expect("its contacts");
    for event in events {
        sim.event(&of(event)).expect("its contacts");
    }
    sim.shown(&contact.into(), 0).expect("its contact")
}

#[test]
fn changes_read_as_a_person_would_say_them() {
    for words in [
        "`data[0]` is driven while `read` is high instead of low",
        "`data[0]` is driven without the condition that `select` is low",
        "`data[0]` is always driven",
        "`data[0]` is never driven",
        "`data[0]` loads with `d[0]` inverted",
        "`data[0]` loads when `clock` falls instead of rises",
        "`data[0]` is cleared while `reset` is high instead of low",
        "`data[0]` is never cleared",
        "`data[0]` is also preset while `reset` is low",
        "`data[0]` is a latch that is open while `clock` is high, instead of a register",
        "`data[0]` starts high",
        "`held` is open while `select` is high instead of low",
        "`held` follows with `d[0]` inverted",
        "`held` is also cleared while `reset` is low",
        "contacts 1 `read` and 2 `select` are exchanged",
        "`data[…]` is driven while `read` is high instead of low",
        "`data[…]` is never cleared",
    ] {
        find(words);
    }
}

#[test]
fn a_change_names_its_line() {
    let edit = find("`held` is open while `select` is high instead of low");
    let Origin::Line { file, line } = &edit.origin else { panic!("{:?}", edit.origin) };
    let text = include_str!("tests.rs").lines().nth(*line as usize - 1).expect("a line of this file");
    assert!(file.ends_with("tests.rs") && text.contains("held: open_while"), "{text}");
    assert_eq!(edit.to_string(), format!("{} (line {line})", edit.words()));
}

#[test]
fn a_change_does_what_its_words_say() {
    let original = port();
    let reading = [(1, false), (2, false), (4, true), (5, true)];
    let clocked: [&[(u16, bool)]; 1] = [&[(3, true)]];
    let after =
        |words: &str, levels: &[(u16, bool)], contact| shows(&find(words).apply(&original), levels, &clocked, contact);
    assert_eq!(shows(&original, &reading, &clocked, 7), Shown::High);
    assert_eq!(after("`data[0]` is driven while `read` is high instead of low", &reading, 7), Shown::Floating);
    assert_eq!(after("`data[0]` loads with `d[0]` inverted", &reading, 7), Shown::Low);
    assert_eq!(after("`data[0]` loads when `clock` falls instead of rises", &reading, 7), Shown::Low);
    assert_eq!(after("`data[0]` is cleared while `reset` is high instead of low", &reading, 7), Shown::Low);
    assert_eq!(after("contacts 7 `data[0]` and 8 `data[1]` are exchanged", &reading, 7), Shown::Low);
    let deselected = [(1, false), (2, true), (4, true), (5, true)];
    assert_eq!(shows(&original, &deselected, &clocked, 7), Shown::Floating);
    assert_eq!(after("`data[0]` is driven without the condition that `select` is low", &deselected, 7), Shown::High);
    assert_eq!(
        after("`data[0]` is driven with *or* instead of *and* in (`read` is low ∧ `select` is low)", &deselected, 7),
        Shown::High
    );
}

#[test]
fn a_line_changes_all_bits_of_an_array_at_once() {
    let original = port();
    let changed = find("`data[…]` is never cleared").apply(&original);
    assert_eq!(changed.elements().iter().filter(|e| e.clear != Expr::LOW).count(), 0);
    assert_eq!(original.elements().iter().filter(|e| e.clear != Expr::LOW).count(), 2);
}

#[test]
fn every_change_changes_the_circuit() {
    let original = port();
    let all = edits(&original);
    for edit in &all {
        let changed = edit.apply(&original);
        let same = changed.elements() == original.elements()
            && changed.nets() == original.nets()
            && changed.contacts() == original.contacts();
        assert!(!same, "{edit}");
    }
    let words: std::collections::BTreeSet<&str> = all.iter().map(Edit::words).collect();
    assert_eq!(words.len(), all.len(), "each is said in words of its own");
}

#[test]
fn what_an_inverted_product_lacks_is_told_by_its_own_level() {
    let mut c = gluewright_kernel::circuit::Circuit::new("nand");
    let nets = ["a", "b", "y"].map(|n| c.add_net(n, Origin::Nowhere));
    let (a, b) = (c.net(nets[0]), c.net(nets[1]));
    // ¬a ∨ ¬b written as ¬(a ∧ b): the inner product is a sum of lows
    let both = c.and(a, b);
    let level = c.not(both);
    let (name, origin, stage) = ("y".to_owned(), Origin::Nowhere, gluewright_kernel::circuit::Stage::PushPull);
    c.drive(
        nets[2],
        gluewright_kernel::circuit::Driver { enable: Expr::HIGH, level, stage, by: By::signal(name), origin },
    );
    let words: Vec<String> = edits(&c).iter().map(Edit::to_string).collect();
    assert!(words.contains(&"`y` is shown without the alternative that `a` is low".to_owned()), "{words:?}");
}

#[test]
fn circuits_that_differ_in_an_unknown_load_alone_are_not_alike() {
    let known = port();
    let mut open = known.clone();
    let (register, _) = known.numbered_elements().find(|(_, e)| e.is_register()).expect("data");
    let condition = open.elements()[register.index()].clear;
    open.load_unknown_while(register, condition);
    assert_eq!(fingerprint(&known), fingerprint(&known.clone()));
    assert_ne!(fingerprint(&known), fingerprint(&open), "`mend` would throw one of them away");
}
