//! One small circuit for each rule of the lowering.
use gluewright::circuit::{Circuit, Direction, Driver, Element, Expr, Kind, Op, Polarity, Stage, Start};
use gluewright::prelude::*;

use super::evaluate::{driver, element, means};

/// Every kind of definition on every kind of element.
#[derive(Circuit)]
#[rustfmt::skip]
struct Rules {
    #[contact(1)]  clock: Input<Clock>,
    #[contact(2)]  a: Input<Data>,
    #[contact(3)]  low: Input<ActiveLow>,
    #[contact(4)]  high: Input<ActiveHigh>,
    #[contact(10)] bus: InOut<Data>,
    #[contact(11)] shared: InOut<ActiveLow, OpenCollector>,
    #[contact(12)] lamp: Output<ActiveHigh, OpenCollector>,
    #[contact(13)] line: Output<Data, OpenCollector>,
    #[contact(14)] gate: Output<Data>,
    #[contact(15)] flag: Output<ActiveLow>,
    #[contact(16)] alarm: Output<ActiveHigh>,
    #[contact(17)] held: Output<Data, ThreeState>,
    #[contact(18)] tick: Output<Clock>,
    #[contact(19)] complement: Output<Data>,
    #[contact(20..=23)] reads: [Output<Data>; 4],
    node: Buried<Node>,
    dark: Buried<Node, ActiveLow>,
    toggling: Buried<Register>,
    stepping: Buried<Register>,
    jk: Buried<Register>,
    low_jk: Buried<Register, ActiveLow>,
    falling: Buried<Register>,
    gated: Buried<Register>,
    ended: Buried<Register>,
    latch: Buried<Latch>,
    low_latch: Buried<Latch, ActiveLow>,
    started: Buried<Register, ActiveLow>,
}

impl Wiring for Rules {
    fn wire(&self) -> RulesWiring {
        let clock = self.clock.rises();
        let (low, high) = (self.low.asserted(), self.high.asserted());
        RulesWiring {
            bus: open_while(high).follow(self.a.level()).drive_while(low),
            shared: assert_while(high),
            lamp: assert_while(high),
            line: follow(self.a.level()),
            gate: follow(choose(high, self.a.level(), self.bus.level())),
            flag: on(clock).load_if(high, self.a.level().is_high()).release_while(low).assert_while(high),
            alarm: on(clock).load(high).release_while(low).assert_while(high).starts_asserted(),
            held: follow(!self.a.level()).drive_while(low),
            tick: follow(high_while(low)),
            complement: follow(self.latch.q_inverted()),
            reads: [
                follow(self.bus.level()),
                follow(self.bus.held()),
                follow(self.held.level()),
                follow(low_while(self.shared.asserted() ^ self.dark.asserted())),
            ],
            node: follow(self.a.level()),
            dark: follow(high),
            toggling: on(clock).toggle().starts_low(),
            stepping: on(clock).toggle_if(high).starts_high(),
            jk: on(clock).jk(low, high),
            low_jk: on(clock).jk(low, high),
            falling: on(self.clock.falls()).load(self.a.level()).clear_while(low).clear_while(high),
            gated: on((low & high).begins()).load(self.a.level()),
            ended: on((low & high).ends()).load(self.a.level()),
            latch: open_while(high).follow(self.a.level()).clear_while(low).preset_while(high),
            low_latch: open_while(high).follow(low).assert_while(low).starts_released(),
            started: on(clock).load(high).starts_asserted(),
        }
    }
}

fn rules() -> Circuit {
    gluewright::circuit_of::<Rules>().unwrap()
}

#[track_caller]
fn register(element: &Element) -> (Expr, Expr) {
    match element.kind {
        Kind::Register { clock, data } => (clock, data),
        Kind::Latch { .. } => panic!("{element:?} is a latch"),
    }
}

#[track_caller]
fn latch(element: &Element) -> (Expr, Expr) {
    match element.kind {
        Kind::Latch { open, data } => (open, data),
        Kind::Register { .. } => panic!("{element:?} is a register"),
    }
}

/// The value that an output drives, seen through its own net.
#[track_caller]
fn value<'a>(c: &'a Circuit, name: &str) -> &'a Driver {
    driver(c, &format!("{name} (value)"))
}

#[test]
fn every_net_that_a_definition_drives_has_one_driver() {
    let c = rules();
    for net in c.nets() {
        let input = net.contact.is_some_and(|id| c.contacts()[id.index()].direction == Direction::Input);
        assert_eq!(net.drivers.len(), usize::from(!input), "{}", net.name);
    }
    let mut names: Vec<_> = c.nets().iter().map(|n| &n.name).chain(c.elements().iter().map(|e| &e.name)).collect();
    let all = names.len();
    names.sort();
    names.dedup();
    // an element behind a pin has the name of the pin's net, and nothing else shares one
    assert_eq!(all - names.len(), ["bus", "flag", "alarm"].len());
}

#[test]
fn a_contact_that_both_sides_drive_is_read_on_the_wire() {
    let c = rules();
    means(&c, value(&c, "reads[0]").level, &["bus"], |of| of("bus"));
    means(&c, value(&c, "reads[1]").level, &["bus (value)"], |of| of("bus (value)"));
    means(&c, driver(&c, "bus").enable, &["low"], |of| !of("low"));
    assert_eq!(driver(&c, "bus").stage, Stage::ThreeState);
    let contact = &c.contacts()[c.find_contact(&10.into()).unwrap().index()];
    assert_eq!((contact.direction, contact.polarity), (Direction::InOut, Polarity::Data));
}

#[test]
fn an_output_is_read_as_the_value_it_would_drive() {
    let c = rules();
    means(&c, value(&c, "reads[2]").level, &["held (value)"], |of| of("held (value)"));
    means(&c, driver(&c, "held").level, &["held (value)"], |of| of("held (value)"));
    means(&c, driver(&c, "held").enable, &["low"], |of| !of("low"));
    means(&c, value(&c, "held").level, &["a"], |of| !of("a"));
}

#[test]
fn a_buried_node_is_a_net_of_its_own_name() {
    let c = rules();
    means(&c, driver(&c, "node").level, &["a"], |of| of("a"));
    means(&c, driver(&c, "dark").level, &["high"], |of| !of("high"));
    means(&c, value(&c, "reads[3]").level, &["shared", "dark"], |of| !of("shared") == !of("dark"));
}

#[test]
fn a_multiplexer_stays_one() {
    let c = rules();
    let level = value(&c, "gate").level;
    assert!(matches!(c.op(level), Op::Choose(..)), "{:?}", c.op(level));
    means(&c, level, &["high", "a", "bus"], |of| if of("high") { of("a") } else { of("bus") });
}

#[test]
fn an_open_collector_asserted_high_pulls_low_while_it_is_not() {
    let c = rules();
    for name in ["lamp", "shared", "line"] {
        let pin = driver(&c, name);
        assert_eq!((pin.level, pin.stage), (Expr::LOW, Stage::OpenCollector));
        let own = format!("{name} (value)");
        means(&c, pin.enable, &[&own], |of| !of(&own));
    }
    means(&c, value(&c, "lamp").level, &["high"], |of| of("high"));
    means(&c, value(&c, "shared").level, &["high"], |of| !of("high"));
    means(&c, value(&c, "line").level, &["a"], |of| of("a"));
}

#[test]
fn the_polarity_decides_what_clears_and_what_presets() {
    let c = rules();
    let (flag, alarm) = (element(&c, "flag"), element(&c, "alarm"));
    for (release, assert) in [(flag.preset, flag.clear), (alarm.clear, alarm.preset)] {
        means(&c, release, &["low"], |of| !of("low"));
        means(&c, assert, &["high"], |of| of("high"));
    }
    means(&c, register(flag).1, &["high", "a", "flag"], |of| if of("high") { !of("a") } else { of("flag") });
    means(&c, register(alarm).1, &["high"], |of| of("high"));
}

#[test]
fn the_polarity_decides_the_level_of_a_start() {
    let c = rules();
    let starts = ["toggling", "stepping", "started", "alarm", "low_latch", "jk"].map(|e| element(&c, e).start);
    assert_eq!(starts, [Start::Low, Start::High, Start::Low, Start::High, Start::High, Start::Any]);
}

#[test]
fn a_register_toggles() {
    let c = rules();
    means(&c, register(element(&c, "toggling")).1, &["toggling"], |of| !of("toggling"));
    means(&c, register(element(&c, "stepping")).1, &["high", "stepping"], |of| of("stepping") != of("high"));
}

/// J, K and the truth before give the truth after: function table of the 74LS109 with K active low (Motorola, FAST AND
/// LS TTL DATA), read with K inverted.
fn jk(j: bool, k: bool, before: bool) -> bool {
    match (j, k) {
        (false, false) => before,
        (false, true) => false,
        (true, false) => true,
        (true, true) => !before,
    }
}

#[test]
fn a_jk_flip_flop_sets_resets_holds_and_toggles() {
    let c = rules();
    means(&c, register(element(&c, "jk")).1, &["low", "high", "jk"], |of| jk(!of("low"), of("high"), of("jk")));
    means(&c, register(element(&c, "low_jk")).1, &["low", "high", "low_jk"], |of| {
        !jk(!of("low"), of("high"), !of("low_jk"))
    });
}

#[test]
fn edges_are_rises_of_an_expression() {
    let c = rules();
    let clock = |name: &str| register(element(&c, name)).0;
    means(&c, clock("falling"), &["clock"], |of| !of("clock"));
    means(&c, clock("gated"), &["low", "high"], |of| !of("low") && of("high"));
    means(&c, clock("ended"), &["low", "high"], |of| !(!of("low") && of("high")));
}

#[test]
fn conditions_given_twice_add_up() {
    let c = rules();
    means(&c, element(&c, "falling").clear, &["low", "high"], |of| !of("low") || of("high"));
}

#[test]
fn latches_open_follow_and_are_overridden() {
    let c = rules();
    let plain = element(&c, "latch");
    let (open, data) = latch(plain);
    means(&c, open, &["high"], |of| of("high"));
    means(&c, data, &["a"], |of| of("a"));
    means(&c, plain.clear, &["low"], |of| !of("low"));
    means(&c, plain.preset, &["high"], |of| of("high"));
    let low = element(&c, "low_latch");
    means(&c, latch(low).1, &["low"], |of| of("low"));
    means(&c, low.clear, &["low"], |of| !of("low"));
    assert_eq!(low.preset, Expr::LOW);
    let pin = element(&c, "bus");
    means(&c, latch(pin).0, &["high"], |of| of("high"));
}

#[test]
fn the_complementary_output_is_not_just_the_inverse() {
    let c = rules();
    let latch = c.find_element("latch").unwrap();
    assert_eq!(c.op(value(&c, "complement").level), Op::QInverted(latch));
}

#[test]
fn a_clock_can_leave_the_circuit() {
    let c = rules();
    means(&c, value(&c, "tick").level, &["low"], |of| !of("low"));
}
