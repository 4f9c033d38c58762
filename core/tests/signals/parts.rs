//! How packages read in this language: one of each sort, checked against the function table of its data sheet
//! (Motorola, FAST AND LS TTL DATA).
use gluewright::circuit::{Circuit, Kind};
use gluewright::prelude::*;

use super::evaluate::{driver, element, means};

/// 3-to-8 line decoder.
#[derive(Circuit)]
#[circuit(part = "74LS138", vcc = 16, gnd = 8)]
struct Ls138 {
    #[contact(1..=3)]
    select: [Input<Data>; 3],
    #[contact(4, 5)]
    g2: [Input<ActiveLow>; 2],
    #[contact(6)]
    g1: Input<ActiveHigh>,
    #[contact(15..=9, 7)]
    y: [Output<ActiveLow>; 8],
}

impl Wiring for Ls138 {
    fn wire(&self) -> Ls138Wiring {
        let enabled = self.g1.asserted() & all_of(self.g2.map(|g| g.asserted()));
        let line = Word::of(self.select);
        Ls138Wiring { y: each(|i| assert_while(enabled & line.is(i as u64))) }
    }
}

/// Synchronous four-bit counter with asynchronous clear.
#[derive(Circuit)]
#[circuit(part = "74LS161", vcc = 16, gnd = 8)]
struct Ls161 {
    #[contact(1)]
    clear: Input<ActiveLow>,
    #[contact(2)]
    clock: Input<Clock>,
    #[contact(3..=6)]
    start: [Input<Data>; 4],
    #[contact(7)]
    count_p: Input<ActiveHigh>,
    #[contact(9)]
    load: Input<ActiveLow>,
    #[contact(10)]
    count_t: Input<ActiveHigh>,
    #[contact(14..=11)]
    q: [Output<Data>; 4],
    #[contact(15)]
    carry: Output<ActiveHigh>,
}

impl Wiring for Ls161 {
    fn wire(&self) -> Ls161Wiring {
        let (load, q) = (self.load.asserted(), Word::of(self.q));
        let counting = self.count_p.asserted() & self.count_t.asserted();
        let next = choose(load, Word::of(self.start), q.plus_one());
        Ls161Wiring {
            q: each(|i| on(self.clock.rises()).load_if(load | counting, next[i]).clear_while(self.clear.asserted())),
            carry: assert_while(q.is(15) & self.count_t.asserted()),
        }
    }
}

/// 8-input multiplexer, with both outputs.
#[derive(Circuit)]
#[circuit(part = "74LS151", vcc = 16, gnd = 8)]
struct Ls151 {
    #[contact(4..=1, 15..=12)]
    d: [Input<Data>; 8],
    #[contact(5)]
    y: Output<Data>,
    #[contact(6)]
    w: Output<Data>,
    #[contact(7)]
    strobe: Input<ActiveLow>,
    #[contact(11..=9)]
    select: [Input<Data>; 3],
}

impl Wiring for Ls151 {
    fn wire(&self) -> Ls151Wiring {
        let picked = Word::of(self.select).pick(self.d.map(|d| d.level()));
        let y = self.strobe.asserted() & picked.is_high();
        Ls151Wiring { y: follow(high_while(y)), w: follow(low_while(y)) }
    }
}

/// One half of a dual JK flip-flop with the K input asserted low.
#[derive(Circuit)]
struct HalfLs109 {
    #[contact(1)]
    clear: Input<ActiveLow>,
    #[contact(2)]
    j: Input<ActiveHigh>,
    #[contact(3)]
    k: Input<ActiveLow>,
    #[contact(4)]
    clock: Input<Clock>,
    #[contact(5)]
    preset: Input<ActiveLow>,
    #[contact(6, 7)]
    q: [Output<Data>; 2],
    held: Buried<Register>,
}

impl Wiring for HalfLs109 {
    fn wire(&self) -> HalfLs109Wiring {
        HalfLs109Wiring {
            held: on(self.clock.rises())
                .jk(self.j.asserted(), self.k.asserted())
                .clear_while(self.clear.asserted())
                .preset_while(self.preset.asserted()),
            q: [follow(self.held.q()), follow(self.held.q_inverted())],
        }
    }
}

/// Bus transceiver.
#[derive(Circuit)]
#[circuit(part = "74LS245", vcc = 20, gnd = 10)]
struct Ls245 {
    #[contact(1)]
    a_to_b: Input<ActiveHigh>,
    #[contact(2..=9)]
    a: [InOut<Data>; 8],
    #[contact(18..=11)]
    b: [InOut<Data>; 8],
    #[contact(19)]
    enable: Input<ActiveLow>,
}

impl Wiring for Ls245 {
    fn wire(&self) -> Ls245Wiring {
        let (enabled, a_to_b) = (self.enable.asserted(), self.a_to_b.asserted());
        Ls245Wiring {
            a: each(|i| follow(self.b[i].level()).drive_while(enabled & !a_to_b)),
            b: each(|i| follow(self.a[i].level()).drive_while(enabled & a_to_b)),
        }
    }
}

fn part<C: gluewright::Wiring>() -> Circuit {
    gluewright::circuit_of::<C>().unwrap()
}

#[test]
fn a_decoder() {
    let c = part::<Ls138>();
    for line in 0..8 {
        let level = driver(&c, &format!("y[{line}] (value)")).level;
        means(&c, level, &["select[0]", "select[1]", "select[2]", "g1", "g2[0]", "g2[1]"], |of| {
            let selected = (0..3).all(|i| of(&format!("select[{i}]")) == (line >> i & 1 == 1));
            !(selected && of("g1") && !of("g2[0]") && !of("g2[1]"))
        });
    }
}

#[test]
fn a_counter() {
    let c = part::<Ls161>();
    let names = ["load", "count_p", "count_t", "start[3]", "q[3]"];
    let lower = ["q[0] (value)", "q[1] (value)", "q[2] (value)", "q[3] (value)"];
    let Kind::Register { data, .. } = element(&c, "q[3]").kind else { panic!() };
    means(&c, data, &[&names[..], &lower[..]].concat(), |of| match (of("load"), of("count_p") && of("count_t")) {
        (false, _) => of("start[3]"),
        (true, true) => of("q[3] (value)") != lower[..3].iter().all(|q| of(q)),
        (true, false) => of("q[3]"),
    });
    means(&c, driver(&c, "carry (value)").level, &[&["count_t"], &lower[..]].concat(), |of| {
        of("count_t") && lower.iter().all(|q| of(q))
    });
}

#[test]
fn a_multiplexer() {
    let c = part::<Ls151>();
    let names = [
        "select[0]",
        "select[1]",
        "select[2]",
        "strobe",
        "d[0]",
        "d[1]",
        "d[2]",
        "d[3]",
        "d[4]",
        "d[5]",
        "d[6]",
        "d[7]",
    ];
    let picked = |of: &dyn Fn(&str) -> bool| {
        let line: usize = (0..3).map(|i| usize::from(of(names[i])) << i).sum();
        !of("strobe") && of(&format!("d[{line}]"))
    };
    means(&c, driver(&c, "y (value)").level, &names, picked);
    means(&c, driver(&c, "w (value)").level, &names, |of| !picked(of));
}

#[test]
fn a_flip_flop() {
    let c = part::<HalfLs109>();
    let Kind::Register { data, .. } = element(&c, "held").kind else { panic!() };
    means(&c, data, &["j", "k", "held"], |of| match (of("j"), of("k")) {
        (false, false) => false,
        (true, false) => !of("held"),
        (false, true) => of("held"),
        (true, true) => true,
    });
}

#[test]
fn a_transceiver() {
    let c = part::<Ls245>();
    means(&c, driver(&c, "a[7]").enable, &["enable", "a_to_b"], |of| !of("enable") && !of("a_to_b"));
    means(&c, driver(&c, "b[0]").enable, &["enable", "a_to_b"], |of| !of("enable") && of("a_to_b"));
    means(&c, driver(&c, "b[0] (value)").level, &["a[0]"], |of| of("a[0]"));
}
