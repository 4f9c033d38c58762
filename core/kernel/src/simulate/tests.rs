//! The settling semantics, rule by rule, on circuits small enough to follow by hand.
use super::*;
use crate::circuit::*;

pub(crate) struct Bench {
    pub(crate) c: Circuit,
    label: u16,
}

impl Bench {
    pub(crate) fn new(name: &str) -> Self {
        Bench { c: Circuit::new(name), label: 0 }
    }
    pub(crate) fn input(&mut self, name: &str) -> Expr {
        let net = self.c.add_net(name, Origin::Nowhere);
        self.contact(name, net, Direction::Input);
        self.c.net(net)
    }
    pub(crate) fn contact(&mut self, name: &str, net: NetId, direction: Direction) {
        self.label += 1;
        let label = Label::from(self.label);
        let name = name.to_owned();
        self.c.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere });
    }
    pub(crate) fn output(&mut self, name: &str, level: Expr) -> NetId {
        let net = self.c.add_node(name, level, Origin::Nowhere);
        self.contact(name, net, Direction::Output);
        net
    }
    /// A driver that floats while it is not enabled.
    pub(crate) fn drive(&mut self, net: NetId, enable: Expr, level: Expr) {
        let stage = if enable == Expr::HIGH { Stage::PushPull } else { Stage::ThreeState };
        let by = By::signal(format!("driver {}", self.c.nets()[net.index()].drivers.len()));
        self.c.drive(net, Driver { enable, level, stage, by, origin: Origin::Nowhere });
    }
    /// Two gates that hold each other, each with an input of its own: the net that the first one sets.
    pub(crate) fn cross_coupled(&mut self, set: &str, reset: &str) -> NetId {
        let (s, r) = (self.input(set), self.input(reset));
        let [q, q_n] = [r, s].map(|a| self.c.add_net(format!("without {}", a.index()), Origin::Nowhere));
        for (net, a, other) in [(q, r, q_n), (q_n, s, q)] {
            let other = self.c.net(other);
            let either = self.c.or(a, other);
            let level = self.c.not(either);
            self.drive(net, Expr::HIGH, level);
        }
        q
    }
    pub(crate) fn latch(&mut self, name: &str, open: Expr, data: Expr, clear: Expr, preset: Expr) -> (ElementId, Expr) {
        let e = self.c.add_element(Element {
            name: name.into(),
            kind: Kind::Latch { open, data },
            clear,
            preset,
            unknown_load: Expr::LOW,
            start: Start::Any,
            origin: Origin::Nowhere,
        });
        (e, self.c.q(e))
    }
    pub(crate) fn register(
        &mut self,
        name: &str,
        clock: Expr,
        data: Expr,
        clear: Expr,
        preset: Expr,
    ) -> (ElementId, Expr) {
        let e = self.c.add_element(Element {
            name: name.into(),
            kind: Kind::Register { clock, data },
            clear,
            preset,
            unknown_load: Expr::LOW,
            start: Start::Low,
            origin: Origin::Nowhere,
        });
        (e, self.c.q(e))
    }
    pub(crate) fn feed(&mut self, e: ElementId, data: Expr, clear: Expr) {
        let element = self.c.element_mut(e).unwrap();
        let Kind::Register { clock, .. } = element.kind else { panic!() };
        element.kind = Kind::Register { clock, data };
        element.clear = clear;
    }
}

fn l(n: u16) -> Label {
    n.into()
}

/// 74LS93 (TI SDLS940, count sequence table): A toggles on CKA falling, B, C, D ripple; R0(1), R0(2) clear.
/// Wired QA to CKB, and QA, QD to the resets: it counts 0 to 8 and clears itself on nine.
#[test]
fn a_counter_that_clears_itself_on_nine_counts_to_eight() {
    let mut b = Bench::new("self-clearing");
    let cka = b.input("cka");
    let mut clock = b.c.not(cka);
    let mut q = Vec::new();
    for name in ["A", "B", "C", "D"] {
        let (e, level) = b.register(name, clock, Expr::LOW, Expr::LOW, Expr::LOW);
        q.push((e, level));
        clock = b.c.not(level);
    }
    let reset = b.c.and(q[0].1, q[3].1);
    for &(e, level) in &q {
        let toggled = b.c.not(level);
        b.feed(e, toggled, reset);
    }
    for (i, &(_, level)) in q.iter().enumerate() {
        b.output(["qa", "qb", "qc", "qd"][i], level);
    }
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let mut counts = Vec::new();
    for _ in 0..12 {
        sim.event(&[(l(1), true)]).unwrap();
        let happened = sim.event(&[(l(1), false)]).unwrap();
        assert_eq!(happened.restless, 0);
        counts.push((0..4u16).fold(0, |n, i| n | (u32::from(sim.shown(&l(2 + i), 0).unwrap() == Shown::High) << i)));
    }
    assert_eq!(counts, [1, 2, 3, 4, 5, 6, 7, 8, 0, 1, 2, 3]);
}

#[test]
fn a_flip_flop_that_clears_itself_pulses_its_contact() {
    let mut b = Bench::new("pulse");
    let clock = b.input("clock");
    let (e, q) = b.register("r", clock, Expr::HIGH, Expr::LOW, Expr::LOW);
    b.feed(e, Expr::HIGH, q);
    b.output("q", q);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let happened = sim.event(&[(l(1), true)]).unwrap();
    let high = (u64::MAX, u64::MAX);
    assert_eq!(happened.shown, [(1, vec![(u64::MAX, 0), high, (u64::MAX, 0)])]);
}

#[test]
fn a_shift_register_shifts_by_one() {
    let mut b = Bench::new("shift");
    let (clock, d) = (b.input("clock"), b.input("d"));
    let (_, q1) = b.register("q1", clock, d, Expr::LOW, Expr::LOW);
    let (_, q2) = b.register("q2", clock, q1, Expr::LOW, Expr::LOW);
    b.output("out", q2);
    let (mut sim, _) = Simulator::new(&b.c, &[(l(2), true)], |_, _| false).unwrap();
    sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(sim.shown(&l(3), 0).unwrap(), Shown::Low);
    sim.event(&[(l(1), false)]).unwrap();
    sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(sim.shown(&l(3), 0).unwrap(), Shown::High);
}

#[test]
fn clear_and_preset_together_show_high_twice_and_their_joint_release_is_unknown() {
    let mut b = Bench::new("74LS74 half");
    let (clear, preset) = (b.input("clear"), b.input("preset"));
    let (e, q) = b.register("r", Expr::LOW, Expr::LOW, clear, preset);
    let inverted = b.c.q_inverted(e);
    b.output("q", q);
    b.output("q_n", inverted);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let mut shows = |levels: &[(Label, bool)]| {
        let happened = sim.event(levels).unwrap();
        let pair = (sim.shown(&l(3), 0).unwrap(), sim.shown(&l(4), 0).unwrap());
        (pair, happened)
    };
    assert_eq!(shows(&[(l(1), true)]).0, (Shown::Low, Shown::High));
    assert_eq!(shows(&[(l(2), true)]).0, (Shown::High, Shown::High));
    let (pair, happened) = shows(&[(l(1), false)]);
    assert_eq!(pair, (Shown::High, Shown::Low), "the one still asserted decides");
    assert!(happened.unknowns.is_empty());
    assert!(happened.shown.iter().all(|(_, seen)| seen.len() == 2), "and nothing pulses: {:?}", happened.shown);
    shows(&[(l(1), true)]);
    let (_, happened) = shows(&[(l(1), false), (l(2), false)]);
    assert_eq!(happened.unknowns, [(Unknown::JointRelease(0), u64::MAX)]);
}

#[test]
fn cross_coupled_gates_remember() {
    let mut b = Bench::new("set-reset");
    let q = b.cross_coupled("set", "reset");
    b.contact("q", q, Direction::Output);
    let (mut sim, happened) = Simulator::new(&b.c, &[], |_, lane| lane & 1 == 1).unwrap();
    // each start is one that the pair may have: no race decides
    assert_eq!((happened.restless, happened.unknowns), (0, Vec::new()));
    assert_ne!(sim.shown(&l(3), 0).unwrap(), sim.shown(&l(3), 1).unwrap(), "either start is at rest");
    for (level, contact) in [(Shown::High, 1), (Shown::Low, 2), (Shown::High, 1)] {
        for high in [true, false] {
            // what is forced depends on no delay
            assert_eq!(sim.event(&[(l(contact), high)]).unwrap().unknowns, []);
        }
        assert_eq!([0, 1].map(|lane| sim.shown(&l(3), lane).unwrap()), [level; 2]);
    }
}

#[test]
fn a_ring_of_one_inverter_never_rests() {
    let mut b = Bench::new("ring");
    let net = b.c.add_net("ring", Origin::Nowhere);
    let level = b.c.net(net);
    let level = b.c.not(level);
    b.drive(net, Expr::HIGH, level);
    let (_, happened) = Simulator::new(&b.c, &[], |_, lane| lane & 1 == 1).unwrap();
    assert_eq!(happened.restless, u64::MAX);
}

#[test]
fn data_that_moves_with_a_derived_clock_is_a_race() {
    let mut b = Bench::new("race");
    let (clock, da, db) = (b.input("clock"), b.input("da"), b.input("db"));
    let (_, a) = b.register("a", clock, da, Expr::LOW, Expr::LOW);
    let (_, derived) = b.register("b", clock, db, Expr::LOW, Expr::LOW);
    b.register("c", derived, a, Expr::LOW, Expr::LOW);
    let (mut sim, _) = Simulator::new(&b.c, &[(l(2), true), (l(3), true)], |_, _| false).unwrap();
    let happened = sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(happened.unknowns, [(Unknown::Race(2), u64::MAX)]);
}

#[test]
fn a_clear_released_by_the_clock_edge_itself_is_unknown() {
    let mut b = Bench::new("recovery");
    let clock = b.input("clock");
    let clear = b.c.not(clock);
    let (_, q) = b.register("r", clock, Expr::HIGH, clear, Expr::LOW);
    b.output("q", q);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let happened = sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(happened.unknowns, [(Unknown::Recovery(0), u64::MAX)]);
    assert_eq!(sim.shown(&l(2), 0).unwrap(), Shown::Low, "the edge does not count unless somebody says so");
}

/// The data stood low, as the cleared register does, and rise in the moment that releases it and clocks it: if the edge
/// counts, it races the data.
#[test]
fn a_clear_released_by_an_edge_is_unknown_too_where_only_the_new_data_differ() {
    let mut b = Bench::new("recovery");
    let clock = b.input("clock");
    let clear = b.c.not(clock);
    let (_, q) = b.register("r", clock, clock, clear, Expr::LOW);
    b.output("q", q);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let happened = sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(happened.unknowns, [(Unknown::Recovery(0), u64::MAX)]);
    assert_eq!(sim.shown(&l(2), 0).unwrap(), Shown::Low, "the edge does not count unless somebody says so");
    // data that stand as the register does and stay: whether the edge counts is all one
    let mut b = Bench::new("no recovery");
    let clock = b.input("clock");
    let clear = b.c.not(clock);
    let (e, q) = b.register("r", clock, Expr::LOW, clear, Expr::LOW);
    b.output("q", q);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    assert_eq!(sim.event(&[(l(1), true)]).unwrap().unknowns, []);
    // unless the data sheet leaves open what an edge loads here
    b.c.load_unknown_while(e, Expr::HIGH);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    assert_eq!(sim.event(&[(l(1), true)]).unwrap().unknowns, [(Unknown::Recovery(0), u64::MAX)]);
}

#[test]
fn a_latch_follows_while_open_and_a_bus_floats_when_nobody_drives() {
    let mut b = Bench::new("latch");
    let (open, data, drive) = (b.input("open"), b.input("data"), b.input("drive"));
    let (_, q) = b.latch("q", open, data, Expr::LOW, Expr::LOW);
    let net = b.c.add_net("bus", Origin::Nowhere);
    b.contact("bus", net, Direction::Output);
    b.drive(net, drive, q);
    let (mut sim, _) = Simulator::new(&b.c, &[(l(1), true), (l(3), true)], |_, _| false).unwrap();
    sim.event(&[(l(2), true)]).unwrap();
    assert_eq!(sim.shown(&l(4), 0).unwrap(), Shown::High);
    sim.event(&[(l(1), false)]).unwrap();
    sim.event(&[(l(2), false)]).unwrap();
    assert_eq!(sim.shown(&l(4), 0).unwrap(), Shown::High);
    sim.event(&[(l(3), false)]).unwrap();
    assert_eq!(sim.shown(&l(4), 0).unwrap(), Shown::Floating);
}

#[test]
fn a_latch_that_is_cleared_and_preset_at_once_shows_high_twice_as_a_register_does() {
    let mut b = Bench::new("latch");
    let (clear, preset) = (b.input("clear"), b.input("preset"));
    let e = b.c.add_element(Element {
        name: "q".into(),
        kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
        clear,
        preset,
        unknown_load: Expr::LOW,
        start: Start::Low,
        origin: Origin::Nowhere,
    });
    let (q, inverted) = (b.c.q(e), b.c.q_inverted(e));
    b.output("q", q);
    b.output("q_n", inverted);
    let (mut sim, _) = Simulator::new(&b.c, &[(l(1), true), (l(2), true)], |_, _| false).unwrap();
    assert_eq!([3, 4].map(|c| sim.shown(&l(c), 0).unwrap()), [Shown::High, Shown::High]);
    sim.event(&[(l(1), false)]).unwrap();
    assert_eq!([3, 4].map(|c| sim.shown(&l(c), 0).unwrap()), [Shown::High, Shown::Low]);
}

#[test]
fn a_latch_whose_clear_and_preset_are_released_together_is_unknown_unless_it_follows() {
    for (open_then, releases, unknown) in
        [(false, [1, 2].as_slice(), true), (false, &[1], false), (true, &[1, 2], false)]
    {
        let mut b = Bench::new("latch");
        let (clear, preset, open) = (b.input("clear"), b.input("preset"), b.input("open"));
        let (_, q) = b.latch("q", open, Expr::HIGH, clear, preset);
        b.output("y", q);
        let (mut sim, _) = Simulator::new(&b.c, &[(l(1), true), (l(2), true)], |_, _| false).unwrap();
        let event: Vec<_> = releases.iter().map(|&c| (l(c), false)).chain([(l(3), open_then)]).collect();
        let expected = if unknown { vec![(Unknown::JointRelease(0), u64::MAX)] } else { Vec::new() };
        assert_eq!(sim.event(&event).unwrap().unknowns, expected, "{event:?}");
    }
}

#[test]
fn each_pair_of_gates_that_is_released_together_races_by_itself_beside_a_latch() {
    let mut b = Bench::new("pairs");
    let (clear, preset) = (b.input("clear"), b.input("preset"));
    b.latch("latch", Expr::LOW, Expr::LOW, clear, preset);
    b.cross_coupled("s0", "r0");
    b.cross_coupled("s1", "r1");
    let high: Vec<(Label, bool)> = (1..7).map(|c| (l(c), true)).collect();
    let (mut sim, _) = Simulator::new(&b.c, &high, |_, _| false).unwrap();
    let mut released = |one: u16, other: u16| {
        let found = sim.event(&[(l(one), false), (l(other), false)]).unwrap().unknowns;
        found.iter().map(|(u, lanes)| (matches!(u, Unknown::Loop(_)), *lanes)).collect::<Vec<_>>()
    };
    assert_eq!(released(5, 6), [(true, u64::MAX)]);
    assert_eq!(released(3, 4), [(true, u64::MAX)]);
    assert_eq!(released(1, 2), [(false, u64::MAX)]);
}

/// A net that follows another one comes later than it: where both meet, the level between them counts.
#[test]
fn a_net_of_a_loop_that_only_follows_another_has_a_delay_of_its_own() {
    let mut b = Bench::new("follower");
    let enable = b.input("enable");
    let (first, follower) = (b.c.add_net("first", Origin::Nowhere), b.c.add_net("follower", Origin::Nowhere));
    let (x, y) = (b.c.net(first), b.c.net(follower));
    let unlike = b.c.xor(x, y);
    let alike = b.c.not(unlike);
    let level = b.c.and(enable, alike);
    b.drive(first, Expr::HIGH, level);
    b.drive(follower, Expr::HIGH, x);
    b.contact("q", first, Direction::Output);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    let unknowns = sim.event(&[(l(1), true)]).unwrap().unknowns;
    assert!(matches!(unknowns[..], [(Unknown::Loop(_), u64::MAX), ..]), "{unknowns:?}");
}

/// Two registers that toggle at either edge of what they hold together: each edge makes the next one.
#[test]
fn registers_that_clock_each_other_for_ever_never_rest() {
    let mut b = Bench::new("swings");
    let start = b.input("start");
    let cells = ["rise", "fall"].map(|name| b.register(name, Expr::LOW, Expr::LOW, Expr::LOW, Expr::LOW));
    let both = b.c.xor(cells[0].1, cells[1].1);
    let clock = b.c.xor(both, start);
    let falls = b.c.not(clock);
    for ((e, q), clock) in cells.into_iter().zip([clock, falls]) {
        let data = b.c.not(q);
        b.c.element_mut(e).unwrap().kind = Kind::Register { clock, data };
    }
    let (mut sim, happened) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    assert_eq!(happened.restless, 0);
    assert_eq!(sim.event(&[(l(1), true)]).unwrap().restless, u64::MAX);
}

/// What an open latch held before power settled it was never a level, so there is no edge from there.
#[test]
fn power_up_is_no_edge() {
    let mut b = Bench::new("power-up");
    let (_, level) = b.latch("latch", Expr::HIGH, Expr::HIGH, Expr::LOW, Expr::LOW);
    let (_, q) = b.register("r", level, Expr::HIGH, Expr::LOW, Expr::LOW);
    b.output("level", level);
    b.output("q", q);
    let (sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    assert_eq!([1, 2].map(|c| sim.shown(&l(c), 0).unwrap()), [Shown::High, Shown::Low]);
}

/// A floating TTL input reads high (common practice): what the simulator takes where nobody knows.
#[test]
fn what_floats_usually_reads_high() {
    let mut b = Bench::new("floats");
    b.input("a");
    let net = b.c.add_net("floats", Origin::Nowhere);
    b.c.net_mut(net).unwrap().open_read = crate::figures::OpenInput::Unknown;
    let read = b.c.net(net);
    b.output("y", read);
    let (mut sim, _) = Simulator::new(&b.c, &[], |_, _| false).unwrap();
    assert_eq!(sim.shown(&l(2), 0).unwrap(), Shown::High);
    let happened = sim.event(&[(l(1), true)]).unwrap();
    assert_eq!(happened.unknowns, [(Unknown::Floating(0), u64::MAX)]);
    assert_eq!(sim.shown(&l(2), 0).unwrap(), Shown::High);
}
