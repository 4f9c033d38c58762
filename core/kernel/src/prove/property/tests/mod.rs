//! What is said of properties of small cards, each proved one beside a mutant that is refuted.
mod judged;

use super::*;
use crate::prelude::*;

/// Answers reads on a shared bus while its register is full, and says so.
#[derive(Circuit)]
struct Mailbox {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    read: Input<ActiveLow>,
    #[contact(3)]
    write: Input<ActiveLow>,
    #[contact(4)]
    reset: Input<ActiveLow>,
    #[contact(5..=6)]
    data: [Output<Data, ThreeState>; 2],
    #[contact(7)]
    full: Output<ActiveLow>,
    #[contact(8..=9)]
    given: [Input<Data>; 2],
}

impl Wiring for Mailbox {
    fn wire(&self) -> MailboxWiring {
        let clock = self.clock.rises();
        let (reading, writing) = (self.read.asserted(), self.write.asserted());
        let full = self.full.asserted();
        MailboxWiring {
            data: each(|i| on(clock).load_if(writing & !full, self.given[i].level()).drive_while(reading & full)),
            full: on(clock).load(writing | (full & !reading)).release_while(self.reset.asserted()),
        }
    }
}

fn text(verdict: &Result<Held, Broken>) -> String {
    match verdict {
        Ok(held) => held.to_string(),
        Err(broken) => broken.to_string(),
    }
}

fn steps(broken: &Broken) -> usize {
    match broken {
        Broken::Refuted(run) => {
            assert!(run.shortest, "{run}");
            run.events.len()
        }
        other => panic!("{other}"),
    }
}

#[test]
fn drivers_of_two_sides_exclude_each_other_under_what_the_host_keeps() {
    // the host drives the bus while it writes; that it never reads and writes at once is its own promise
    let exclusive = |c: &Mailbox| never(drives(c.data) & c.write.asserted());
    let promised = |c: &Mailbox| never(c.read.asserted() & c.write.asserted());
    let held = prove::<Mailbox>().assuming(promised).that(exclusive).run().expect("it is so");
    let text = held[0].to_string();
    assert!(text.starts_with("Proved: never"), "{text}");
    assert_eq!(held[0].assumptions.len(), 1);
    // without the promise: full, and both at once
    let refuted = prove::<Mailbox>().that(exclusive).run().expect_err("nothing forbids it");
    assert_eq!(steps(&refuted), 0, "{refuted}");
    let shown = refuted.to_string();
    assert!(shown.contains("data[0] to data[1] driven") && shown.contains("contact 2 read"), "{shown}");
}

#[test]
fn after_an_edge_what_was_written_is_full() {
    let verdicts = prove::<Mailbox>()
        .that(|c| after(c.clock.rises()).when(c.write.asserted() & !c.reset.asserted()).holds(c.full.asserted()))
        .that(|c| after(c.clock.rises()).when(c.read.asserted()).holds(!c.full.asserted()))
        .that(|c| true_only_while(drives(c.data), c.full.asserted()))
        .that(|c| goes_high_only_while(drives(c.data), c.read.asserted()))
        .that(|c| changes_only_while(c.data[0].level().is_high(), !c.full.asserted()))
        .verdicts();
    let all: Vec<String> = verdicts.iter().map(text).collect();
    for proved in [0, 2] {
        assert!(verdicts[proved].is_ok(), "{}", all[proved]);
    }
    // both at once: the write wins, as written
    assert_eq!(steps(verdicts[1].as_ref().expect_err("the write wins")), 1, "{}", all[1]);
    // it goes high with `full`, or with `read`: before the change it is not yet
    assert!(matches!(verdicts[3], Err(Broken::Refuted(_))), "{}", all[3]);
    // what it holds changes with the edge that fills it
    assert!(matches!(verdicts[4], Err(Broken::Refuted(_))), "{}", all[4]);
}

#[test]
fn until_and_within_speak_of_what_comes_later() {
    let verdicts = prove::<Mailbox>()
        .assuming(|c| never(c.reset.asserted()))
        .that(|c| whenever(c.full.asserted()).holds(c.full.asserted()).until(c.read.asserted()))
        .that(|c| whenever(c.full.asserted()).holds(c.full.asserted()).until(c.given[0].level().is_high()))
        .verdicts();
    assert!(verdicts[0].is_err(), "an assumption that holds a contact for ever is refused");
    let verdicts = prove::<Mailbox>()
        .that(|c| {
            let over = c.read.asserted() | c.reset.asserted();
            whenever(c.full.asserted()).holds(c.full.asserted()).until(over)
        })
        .that(|c| whenever(c.full.asserted()).holds(c.full.asserted()).until(c.read.asserted()))
        .that(|c| whenever(c.reset.asserted()).within(1, c.clock.rises()).holds(!c.full.asserted()))
        .that(|c| whenever(c.read.asserted()).within(2, c.clock.rises()).holds(!c.full.asserted()))
        .verdicts();
    let all: Vec<String> = verdicts.iter().map(text).collect();
    assert!(verdicts[0].is_ok(), "{}", all[0]);
    assert_eq!(steps(verdicts[1].as_ref().expect_err("a reset empties it")), 1, "{}", all[1]);
    assert!(verdicts[2].is_ok(), "{}", all[2]);
    // reading may end before the edge, or a write come with it
    assert!(matches!(verdicts[3], Err(Broken::Refuted(_))), "{}", all[3]);
}

/// Counts to three, and stays there.
#[derive(Circuit)]
struct Three {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    enough: Output<ActiveHigh>,
    low: Buried<Register, ActiveHigh>,
    high: Buried<Register, ActiveHigh>,
}

impl Wiring for Three {
    fn wire(&self) -> ThreeWiring {
        let (clock, reset) = (self.clock.rises(), self.reset.asserted());
        let (low, high) = (self.low.asserted(), self.high.asserted());
        ThreeWiring {
            low: on(clock).load(!low | high).release_while(reset),
            high: on(clock).load(low | high).release_while(reset),
            enough: assert_while(low & high),
        }
    }
}

#[test]
fn within_counts_edges_and_no_more() {
    let comes = |n: u32| {
        move |c: &Three| {
            let over = c.enough.asserted() | c.reset.asserted();
            whenever(!c.reset.asserted()).within(n, c.clock.rises()).holds(over)
        }
    };
    // from 0 it takes three edges to 3
    let held = prove::<Three>().that(comes(3)).run();
    assert!(held.is_ok(), "{}", text(&held.map(|mut h| h.remove(0))));
    let refuted = prove::<Three>().that(comes(2)).run().expect_err("two are too few");
    // the clock goes up and down between: power-up low, up, down, up
    assert_eq!(steps(&refuted), 3, "{refuted}");
}

#[test]
fn what_can_happen_has_a_witness_and_what_cannot_is_proved_so() {
    let run = prove::<Three>().that(|c| reachable(c.enough.asserted())).run().expect("it can");
    assert!(matches!(&run[0].how, How::Reached(run) if run.shortest), "{}", run[0]);
    // from power-up any state: only after a reset is it a matter of counting
    let run = prove::<Three>().that(|c| reachable(c.enough.asserted()).once(c.reset.asserted())).run().expect("it can");
    let How::Reached(sequence) = &run[0].how else { panic!("{}", run[0]) };
    // reset at power-up, released, and three rises with two falls between
    assert_eq!(sequence.events.len(), 6, "{}", run[0]);
    let low_alone = |c: &Three| reachable(c.high.asserted() & !c.low.asserted() & c.reset.asserted());
    let never_so = prove::<Three>().that(low_alone).run().expect_err("a reset clears both");
    assert!(matches!(never_so, Broken::Unreachable(_)), "{never_so}");
}

#[test]
fn that_a_part_of_it_never_comes_about_is_said() {
    // a reset clears both, and `high` is never without one
    let apart = |c: &Three| never(c.high.asserted() & c.reset.asserted() & c.enough.asserted());
    let held = prove::<Three>().that(apart).run().expect("it holds");
    assert!(held[0].findings.is_empty(), "each comes about by itself: {}", held[0]);
    let both = |c: &Three| {
        let never_so = c.low.asserted() & c.reset.asserted();
        never((never_so | never_so) & c.enough.asserted())
    };
    assert!(prove::<Three>().that(both).run().is_ok());
}

#[test]
fn a_premise_that_never_comes_about_is_told() {
    // after a reset `high` never stands alone with the reset: the premise can't come about
    let verdict =
        prove::<Three>().that(|c| whenever(c.reset.asserted() & c.high.asserted()).holds(c.enough.asserted())).run();
    let broken = verdict.expect_err("it says nothing");
    assert!(matches!(broken, Broken::Vacuous { .. }), "{broken}");
    assert!(broken.to_string().contains("never comes about: (reset low ∧ high high)"), "{broken}");
}

/// A latch that closes on the same contact as its data move, through a gate: what it keeps is a matter of delays.
#[derive(Circuit)]
struct Closing {
    #[contact(1)]
    x: Input<Data>,
    #[contact(2)]
    q: Output<Data>,
    #[contact(3)]
    spare: Output<Data>,
    #[contact(4)]
    y: Input<Data>,
}

impl Wiring for Closing {
    fn wire(&self) -> ClosingWiring {
        ClosingWiring { q: open_while(self.x.level().is_high()).follow(self.x.level()), spare: follow(self.y.level()) }
    }
}

#[test]
fn what_delays_decide_withholds_a_property_that_hangs_on_it() {
    // once settled it is a copy of x; a gate that closes early keeps it high
    let verdict = prove::<Closing>().that(|c| always(c.q.level().same_as(c.x.level()))).run();
    let shown = text(&verdict.map(|mut h| h.remove(0)));
    assert!(!shown.starts_with("Proved"), "{shown}");
    // what does not depend on it is proved
    let held = prove::<Closing>().that(|c| always(c.spare.level().same_as(c.y.level()))).run();
    assert!(held.is_ok(), "{held:?}");
    let named = prove::<Closing>().that(|c| whenever(c.x.level().is_high()).holds(c.q.level().is_high())).run();
    assert!(named.is_ok(), "an open latch follows whatever comes first: {named:?}");
}

#[test]
fn verdicts_are_values_for_another_program() {
    let held = prove::<Three>().that(|c| never(c.enough.asserted() & c.reset.asserted())).run().expect("it holds");
    let json = serde_json::to_value(&held[0]).expect("a value");
    assert_eq!(json["verdict"], "proved");
    assert_eq!(json["property"], "never reset low ∧ enough high");
    let refuted = prove::<Three>().that(|c| never(c.enough.asserted())).run().expect_err("it counts");
    let json = serde_json::to_value(&refuted).expect("a value");
    assert_eq!((json["verdict"].as_str(), json["run"]["shortest"].as_bool()), (Some("refuted"), Some(true)));
}

#[test]
fn drives_is_for_properties_and_not_for_wirings() {
    #[derive(Circuit)]
    struct Circle {
        #[contact(1)]
        x: Input<Data>,
        #[contact(2)]
        q: Output<Data, ThreeState>,
    }
    impl Wiring for Circle {
        fn wire(&self) -> CircleWiring {
            CircleWiring { q: follow(self.x.level()).drive_while(drives(self.q)) }
        }
    }
    let refused = crate::signals::build::<Circle>().expect_err("it goes round");
    assert!(refused.to_string().contains("what drives `q` is being defined here"), "{refused}");
}
