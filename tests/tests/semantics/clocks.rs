//! Gated clocks, derived clocks, both edges.
use gluewright::prelude::*;

use super::bench::{Bench, circuit, of, proved, refuted};

/// A 74LS08 gates the clock of a 74LS74 that toggles.
fn gated() -> gluewright::circuit::Circuit {
    circuit(&[
        ("J1", "contacts", "1 clk, 2 en, 3 q"),
        ("U1", "74LS08", "1 clk, 2 en, 3 gated, 14 VCC, 7 GND"),
        ("U2", "74LS74", "1 VCC, 4 VCC, 2 q_n, 3 gated, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ])
}

#[derive(Circuit)]
struct Gated {
    #[contact(1)]
    clk: Input<Data>,
    #[contact(2)]
    en: Input<ActiveHigh>,
    #[contact(3)]
    q: Output<Data>,
}

impl Wiring for Gated {
    fn wire(&self) -> GatedWiring {
        let gated = self.clk.level().is_high() & self.en.asserted();
        GatedWiring { q: on(gated.begins()).toggle() }
    }
}

/// The usual rewrite, with an enable instead of a gate: it misses the edge that the enable makes.
#[derive(Circuit)]
struct Enabled {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    en: Input<ActiveHigh>,
    #[contact(3)]
    q: Output<Data>,
}

impl Wiring for Enabled {
    fn wire(&self) -> EnabledWiring {
        EnabledWiring { q: on(self.clk.rises()).toggle_if(self.en.asserted()) }
    }
}

/// By hand: the register sees clk ∧ en. With en low nothing counts; en rising while clk is high is an edge; clk rising
/// while en is high is one; falls are none.
#[test]
fn a_gated_clock_counts_the_edges_of_its_gate() {
    let mut b = Bench::on(&gated(), "1L 2L");
    let events = ["1H", "1L", "1H", "2H", "1L", "1H", "2L", "1L", "2H", "1H"];
    assert_eq!(b.run(&events, &[3]), ["L", "L", "L", "H", "H", "L", "L", "L", "L", "H"]);
}

#[test]
fn a_gate_in_the_clock_is_not_an_enable() {
    proved(&gated(), &of::<Gated>());
    let r = refuted(&gated(), &of::<Enabled>());
    // power on with en low and clk high, then en: one event shows it
    assert!(r.shortest && r.events.len() == 1, "{r}");
}

/// Two halves of a 74LS74, each fed by its own complement; the second is clocked by the first one's complement, as in
/// any ripple counter. QA, QB are contacts 2, 3.
fn rippling() -> gluewright::circuit::Circuit {
    circuit(&[
        ("J1", "contacts", "1 clk, 2 qa, 3 qb"),
        (
            "U1",
            "74LS74",
            "1 VCC, 4 VCC, 2 qa_n, 3 clk, 5 qa, 6 qa_n, 13 VCC, 10 VCC, 12 qb_n, 11 qa_n, 9 qb, 8 qb_n, 14 VCC, 7 GND",
        ),
    ])
}

#[derive(Circuit)]
struct Count {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2, 3)]
    q: [Output<Data>; 2],
}

impl Wiring for Count {
    fn wire(&self) -> CountWiring {
        let next = Word::of(self.q).plus_one();
        CountWiring { q: each(|i| on(self.clk.rises()).load(next[i])) }
    }
}

#[derive(Circuit)]
struct CountDown {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2, 3)]
    q: [Output<Data>; 2],
}

impl Wiring for CountDown {
    fn wire(&self) -> CountDownWiring {
        let next = Word::of(self.q).minus_one();
        CountDownWiring { q: each(|i| on(self.clk.rises()).load(next[i])) }
    }
}

/// By hand: QA toggles on each rise, QB when the complement of QA rises, that is when QA falls: 0, 1, 2, 3.
#[test]
fn a_clock_made_by_a_register_comes_a_phase_later() {
    let mut b = Bench::on(&rippling(), "1L");
    let counts: Vec<u32> = (0..6)
        .map(|_| {
            b.set("1H");
            b.set("1L");
            b.number(&[2, 3])
        })
        .collect();
    assert_eq!(counts, [1, 2, 3, 0, 1, 2]);
}

/// Contact by contact nothing shows that the stages change one after the other.
#[test]
fn a_ripple_counter_may_be_replaced_by_a_synchronous_one() {
    proved(&rippling(), &of::<Count>());
    let r = refuted(&rippling(), &of::<CountDown>());
    // both count from any start; from a start that shows the same, one edge tells up from down
    assert!(r.shortest && r.events.len() == 1, "{r}");
}

/// Rising edges load one half of a 74LS74, falling edges (through a 74LS04) the other.
fn both_edges() -> gluewright::circuit::Circuit {
    circuit(&[
        ("J1", "contacts", "1 clk, 2 d, 3 up, 4 down"),
        ("U1", "74LS04", "1 clk, 2 clk_n, 14 VCC, 7 GND"),
        ("U2", "74LS74", "1 VCC, 4 VCC, 2 d, 3 clk, 5 up, 13 VCC, 10 VCC, 12 d, 11 clk_n, 9 down, 14 VCC, 7 GND"),
    ])
}

#[derive(Circuit)]
struct BothEdges {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    d: Input<Data>,
    #[contact(3)]
    up: Output<Data>,
    #[contact(4)]
    down: Output<Data>,
}

impl Wiring for BothEdges {
    fn wire(&self) -> BothEdgesWiring {
        BothEdgesWiring {
            up: on(self.clk.rises()).load(self.d.level()),
            down: on(self.clk.falls()).load(self.d.level()),
        }
    }
}

#[derive(Circuit)]
struct OneEdge {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    d: Input<Data>,
    #[contact(3)]
    up: Output<Data>,
    #[contact(4)]
    down: Output<Data>,
}

impl Wiring for OneEdge {
    fn wire(&self) -> OneEdgeWiring {
        OneEdgeWiring { up: on(self.clk.rises()).load(self.d.level()), down: on(self.clk.rises()).load(self.d.level()) }
    }
}

/// By hand: d is sampled by `up` when clk rises and by `down` when it falls.
#[test]
fn each_edge_loads_its_own_register() {
    let mut b = Bench::on(&both_edges(), "1L 2L");
    let events = ["2H", "1H", "2L", "1L", "1H", "2H", "1L"];
    assert_eq!(b.run(&events, &[3, 4]), ["LL", "HL", "HL", "HL", "LL", "LL", "LH"]);
    proved(&both_edges(), &of::<BothEdges>());
    refuted(&both_edges(), &of::<OneEdge>());
}
