//! Devices of logic blocks: blocks, borrowed terms, global pins, latches, locks, and clear reasons.
use super::bench::Bench;
use gluewright::circuit::{By, Direction, Expr, Kind, Label, Stage, Start};
use gluewright::device::{Function, find};
use gluewright::fit::{Drive, Fitted, FittedCell, NoFit, Wishes, fit};

fn fitted(b: &Bench, wishes: &Wishes) -> Result<Fitted, NoFit> {
    fit(&b.c, find("CPLD-32").unwrap(), wishes)
}

fn fits(b: &Bench) -> Fitted {
    b.check_on("CPLD-32")
}

fn cell<'a>(fitted: &'a Fitted, name: &str) -> &'a FittedCell {
    fitted.cells.iter().find(|c| c.name == name).unwrap()
}

/// No macrocell twice, none beyond its block, no more signals in a block than it reads.
fn sound(f: &Fitted) {
    let blocks = find(f.device).unwrap().blocks.as_ref().unwrap();
    let mut taken: Vec<u16> = Vec::new();
    for c in &f.cells {
        let control = c.control.as_ref().unwrap();
        assert!(c.terms.len() <= c.capacity, "{}", c.name);
        taken.extend(control.borrowed.iter().chain([&c.macrocell]));
        let chain = |m: u16| (m - 1) / blocks.chain.value as u16;
        assert!(control.borrowed.iter().all(|&m| chain(m) == chain(c.macrocell)), "{}", c.name);
        assert_eq!(c.pin.is_some(), c.label.is_some());
        assert!(c.pin.is_none_or(|p| blocks.macrocell_at(p) == Some(c.macrocell)));
    }
    let all = taken.len();
    taken.sort_unstable();
    taken.dedup();
    assert_eq!(taken.len(), all, "a macrocell twice");
    let mut pins: Vec<u16> = f.wires.iter().map(|w| w.pin).collect();
    let all = pins.len();
    pins.dedup();
    assert_eq!(pins.len(), all, "a pin twice");
    for kept in &f.port {
        assert!(!pins.contains(&kept.pin));
    }
}

#[test]
fn a_latch_is_a_latch_and_takes_no_loop_of_product_terms() {
    let mut b = Bench::new();
    let (gate, clear) = (b.input("gate"), b.input("clear"));
    let data: [Expr; 8] = b.inputs("d");
    for (i, &d) in data.iter().enumerate() {
        let latch = b.element(&format!("l{i}"), Kind::Latch { open: gate, data: d });
        b.c.element_mut(latch).unwrap().clear = clear;
        let q = b.c.q(latch);
        b.output(&format!("q{i}"), q);
    }
    let f = fits(&b);
    sound(&f);
    assert_eq!(f.cells.len(), 8);
    for c in &f.cells {
        assert_eq!((c.function, c.terms.len()), (Function::Latch, 1));
        let control = c.control.as_ref().unwrap();
        assert_eq!(control.gate.as_ref().unwrap().pin, Some(43), "the gate is on a global pin");
        assert_eq!(control.clear.as_ref().unwrap().pin, None, "a clear that acts while high takes a term");
        assert_eq!(c.capacity, 4);
    }
}

#[test]
fn clocks_of_terms_a_global_clear_and_inverted_storage() {
    let mut b = Bench::new();
    let [a, c, d, reset_n] = b.inputs("i");
    let reset = b.c.not(reset_n);
    let gated = b.c.and(a, c);
    let falls = b.c.not(a);
    let first = b.register("first", gated, d, reset, Start::Any);
    let second = b.register("second", falls, d, Expr::LOW, Start::Any);
    b.c.element_mut(second).unwrap().preset = reset;
    let third = b.register("third", falls, d, Expr::LOW, Start::High);
    let [x, y, z] = [first, second, third].map(|e| b.c.q(e));
    b.output("x", x);
    let both = b.c.any([y, z]);
    b.output("both", both);
    let f = fits(&b);
    sound(&f);
    let first = cell(&f, "x").control.clone().unwrap();
    assert_eq!((first.gate.as_ref().unwrap().product.len(), first.gate.as_ref().unwrap().pin), (2, None));
    assert_eq!(first.clear.as_ref().unwrap().pin, Some(1));
    let second = cell(&f, "second");
    assert_eq!(second.pin, None, "a buried register leaves its pin alone");
    assert_eq!(second.control.as_ref().unwrap().clear.as_ref().unwrap().pin, Some(1));
    assert!(second.holds[0].1, "held as its complement, so that the clear pin presets it");
    assert!(cell(&f, "third").holds[0].1, "starts high in a device whose registers start low");
}

/// A clock, `n` data inputs with a buried register each, and an output that reads all of these.
fn buried(n: usize) -> Bench {
    let mut b = Bench::new();
    let clock = b.input("clock");
    let mut all = Vec::new();
    for i in 0..n {
        let d = b.input(&format!("d{i}"));
        let r = b.register(&format!("r{i}"), clock, d, Expr::LOW, Start::Any);
        all.push(b.c.q(r));
    }
    let all = b.c.all(all);
    b.output("all", all);
    b
}

#[test]
fn a_buried_node_leaves_its_pin_free_as_an_input() {
    let f = fits(&buried(24));
    sound(&f);
    let blocks = find("CPLD-32").unwrap().blocks.as_ref().unwrap();
    assert_eq!((f.cells.len(), f.wires.len()), (25, 26));
    let shared = f.cells.iter().filter(|c| c.pin.is_none()).filter_map(|c| {
        let pin = blocks.macrocells[usize::from(c.macrocell) - 1]?;
        f.wires.iter().find(|w| w.pin == pin)
    });
    assert!(shared.count() >= 14, "25 macrocells and 22 inputs share 32 places");
}

#[test]
fn a_block_that_would_read_too_much_is_named() {
    // the output reads 29 registers, and in its block are at least 13 of them with their inputs
    let no = fitted(&buried(29), &Wishes::none()).unwrap_err();
    assert!(matches!(no, NoFit::BlockInputs { found, limit: 40, .. } if found >= 42), "{no}");
}

#[test]
fn wide_sums_borrow_the_terms_of_neighbours() {
    let mut b = Bench::new();
    let [p, q, r, s] = b.inputs("i");
    let odd = b.c.xor(p, q);
    let odd = b.c.xor(odd, r);
    let odd = b.c.xor(odd, s);
    b.driven("y", p, odd, Stage::ThreeState);
    let f = fits(&b);
    sound(&f);
    let y = cell(&f, "y");
    assert_eq!(y.control.as_ref().unwrap().borrowed.len(), 1, "eight terms and one for the enable");
    assert_eq!(y.capacity, 9);
    assert!(matches!(y.drive, Drive::While(_)));
}

#[test]
fn blocks_read_a_limited_number_of_signals() {
    // two groups of functions, each over its own 16 inputs: only one way to spread them
    let mut b = Bench::new();
    let inputs: [Expr; 16] = b.inputs("i");
    for g in 0..2 {
        for k in 0..5 {
            let own: Vec<Expr> = inputs.iter().skip(g * 8).take(8).copied().collect();
            let one = b.c.any(own[k % 3..].iter().copied());
            let two = b.c.and(one, own[k]);
            b.output(&format!("y{g}{k}"), two);
        }
    }
    let f = fits(&b);
    sound(&f);
    let blocks = find("CPLD-32").unwrap().blocks.as_ref().unwrap();
    for c in &f.cells {
        let same = f.cells.iter().filter(|o| o.name[..2] == c.name[..2]);
        for other in same {
            assert_eq!(blocks.block_of(other.macrocell), blocks.block_of(c.macrocell), "least signals over all blocks");
        }
    }
}

#[test]
fn locks_are_kept_and_impossible_ones_are_named() {
    let mut b = Bench::new();
    let (a, c) = (b.input("a"), b.input("c"));
    let both = b.c.and(a, c);
    b.output("y", both);
    let f = fitted(&b, &Wishes::none().pin(1u16, 20).pin(3u16, 29)).unwrap();
    sound(&f);
    assert_eq!((f.pins_of(&Label::from(1)), f.pins_of(&Label::from(3))), (vec![20], vec![29]));
    for (contact, pin, why) in
        [(3u16, 32, "programming port"), (3, 44, "no macrocell"), (3, 10, "supply"), (1, 60, "no such pin")]
    {
        let no = fitted(&b, &Wishes::none().pin(contact, pin)).unwrap_err().to_string();
        assert!(no.contains(why), "{no}");
    }
    let f = fitted(&b, &Wishes::none().pin(3u16, 32).without_programming_port()).unwrap();
    assert_eq!(f.pins_of(&Label::from(3)), [32]);
    assert!(f.port.is_empty());
    let no = fitted(&b, &Wishes::none().pin(3u16, 20).pin(1u16, 20)).unwrap_err();
    assert!(no.to_string().contains("is there"), "{no}");
}

#[test]
fn what_does_not_fit_says_why() {
    let mut b = Bench::new();
    let inputs: [Expr; 20] = b.inputs("i");
    for (i, &level) in inputs.iter().enumerate() {
        b.output(&format!("y{i}"), level);
    }
    let no = fitted(&b, &Wishes::none()).unwrap_err();
    assert_eq!(
        no.to_string(),
        "20 input pins and 20 output pins are needed, a CPLD-32 has 32 beside 4 that are kept for the programming port: leave out 8 signals, or choose a larger device"
    );
    let mut b = Bench::new();
    let (clock, d) = (b.input("clock"), b.input("d"));
    let mut last = d;
    for i in 0..33 {
        let r = b.register(&format!("r{i}"), clock, last, Expr::LOW, Start::Any);
        last = b.c.q(r);
    }
    b.output("y", last);
    let no = fitted(&b, &Wishes::none()).unwrap_err();
    assert!(matches!(no, NoFit::TooManyMacrocells { needed: 33, available: 32, .. }), "{no}");
    assert!(fit(&b.c, find("CPLD-64").unwrap(), &Wishes::none()).is_ok());
    let mut b = Bench::new();
    let bits: [Expr; 7] = b.inputs("i");
    let odd = bits.into_iter().reduce(|x, y| b.c.xor(x, y)).unwrap();
    b.output("odd", odd);
    let no = fitted(&b, &Wishes::none()).unwrap_err();
    assert!(matches!(no, NoFit::TooWide { needed: 64, widest: 40, .. }), "{no}");
}

#[test]
fn a_bus_pin_is_read_beside_what_its_macrocell_holds() {
    let mut b = Bench::new();
    let (gate, on) = (b.input("gate"), b.input("on"));
    let bus = b.contact("bus", Direction::InOut);
    let level = b.c.net(bus);
    let latch = b.element("kept", Kind::Latch { open: gate, data: level });
    let q = b.c.q(latch);
    b.c.drive(
        bus,
        gluewright::circuit::Driver {
            enable: on,
            level: q,
            stage: Stage::ThreeState,
            by: By::signal("bus"),
            origin: Default::default(),
        },
    );
    let f = fits(&b);
    sound(&f);
    assert_eq!(f.cells.len(), 1, "latch and driver in one macrocell");
    assert_eq!(cell(&f, "bus").function, Function::Latch);
}
