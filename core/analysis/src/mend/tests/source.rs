//! Slips of what a source says once and uses in several places: a declared polarity, an edge. The source is built again
//! with the slip undone, so the circuit need not tell which reads went through it.
use super::minute;
use crate::mend::Mending;
use crate::mend::Mends;
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::{Refutation, prove};

/// The signal box of a narrow-gauge railway: a lever is taken up at a clock and shown while selected, an alarm is kept
/// until it is acknowledged.
#[derive(Circuit)]
#[rustfmt::skip]
struct Right {
    #[contact(1)] clock:  Input<Clock>,
    #[contact(2)] select: Input<ActiveLow>,
    #[contact(3)] lever:  Input<Data>,
    #[contact(4)] reset:  Input<ActiveLow>,
    #[contact(5)] arm:    Output<Data, ThreeState>,
    #[contact(6)] alarm:  Output<ActiveLow>,
    #[contact(7)] echo:   Output<Data>,
    seen: Buried<Register>,
}

impl Wiring for Right {
    fn wire(&self) -> RightWiring {
        let clock = self.clock.rises();
        let (selected, alarm) = (self.select.asserted(), self.alarm.asserted());
        RightWiring {
            seen: on(clock).load(self.lever.level()),
            arm: on(clock).load(self.seen.q()).drive_while(selected),
            alarm: on(self.clock.rises())
                .load((self.seen.q().is_high() & !selected) | (alarm & !selected))
                .release_while(self.reset.asserted()),
            echo: follow(self.select.level()),
        }
    }
}

fn right() -> Circuit {
    gluewright_kernel::circuit_of::<Right>().expect("it builds")
}

fn refute<C: Wiring>() -> Refutation {
    match prove::<C>().against(&right()).run() {
        Err(Failure::Refuted(r)) => *r,
        other => panic!("expected a refutation: {other:?}"),
    }
}

fn mends<C: Wiring>() -> Mends {
    let mends = refute::<C>().mend(minute());
    println!("{mends}");
    mends
}

/// The same circuit with the words of its source at choice.
macro_rules! written {
    ($name:ident, $wiring:ident, $select:ident, $alarm:ident, |$s:ident| $clock:expr, $other:expr, $selected:expr, $echo:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)] clock:  Input<Clock>,
            #[contact(2)] select: Input<$select>,
            #[contact(3)] lever:  Input<Data>,
            #[contact(4)] reset:  Input<ActiveLow>,
            #[contact(5)] arm:    Output<Data, ThreeState>,
            #[contact(6)] alarm:  Output<$alarm>,
            #[contact(7)] echo:   Output<Data>,
            seen: Buried<Register>,
        }
        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                let clock = $clock;
                let (selected, alarm) = ($selected, self.alarm.asserted());
                $wiring {
                    seen: on(clock).load(self.lever.level()),
                    arm: on(clock).load(self.seen.q()).drive_while(selected),
                    alarm: on($other)
                        .load((self.seen.q().is_high() & !selected) | (alarm & !selected))
                        .release_while(self.reset.asserted()),
                    echo: follow($echo),
                }
            }
        }
    };
}

written!(
    ByName,
    ByNameWiring,
    ActiveLow,
    ActiveLow,
    |s| s.clock.rises(),
    s.clock.rises(),
    s.select.asserted(),
    s.select.level()
);

#[test]
fn without_a_slip_it_is_proved() {
    prove::<ByName>().against(&right()).run().expect("it is the same");
}

/// What reads the level of the contact is right, and stays as it is.
#[test]
fn an_input_declared_with_the_wrong_polarity_is_named_with_its_declaration() {
    #[derive(Circuit)]
    struct Declared {
        #[contact(1)]
        clock: Input<Clock>,
        #[contact(2)]
        select: Input<ActiveHigh>,
        #[contact(3)]
        lever: Input<Data>,
        #[contact(4)]
        reset: Input<ActiveLow>,
        #[contact(5)]
        arm: Output<Data, ThreeState>,
        #[contact(6)]
        alarm: Output<ActiveLow>,
        #[contact(7)]
        echo: Output<Data>,
        seen: Buried<Register>,
    }
    let line = line!() - 13;
    impl Wiring for Declared {
        fn wire(&self) -> DeclaredWiring {
            let clock = self.clock.rises();
            let (selected, alarm) = (self.select.asserted(), self.alarm.asserted());
            DeclaredWiring {
                seen: on(clock).load(self.lever.level()),
                arm: on(clock).load(self.seen.q()).drive_while(selected),
                alarm: on(clock)
                    .load((self.seen.q().is_high() & !selected) | (alarm & !selected))
                    .release_while(self.reset.asserted()),
                echo: follow(self.select.level()),
            }
        }
    }
    let mends = mends::<Declared>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}")).to_string();
    let words = format!("proved equal if `select` is declared `ActiveLow` instead of `ActiveHigh` (line {line})");
    assert_eq!(first, words, "{mends}");
}

written!(
    Alarm,
    AlarmWiring,
    ActiveLow,
    ActiveHigh,
    |s| s.clock.rises(),
    s.clock.rises(),
    s.select.asserted(),
    s.select.level()
);

/// Its register holds the other level then, and what clears it presets it.
#[test]
fn an_output_declared_with_the_wrong_polarity_is_named() {
    let mends = mends::<Alarm>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("`alarm` is declared `ActiveLow` instead of `ActiveHigh`"), "{mends}");
}

written!(
    Both,
    BothWiring,
    ActiveHigh,
    ActiveLow,
    |s| s.clock.rises(),
    s.clock.rises(),
    s.select.asserted(),
    !s.select.level()
);

/// The polarity is wrong and so is a level that is not read through it: only both at once would mend that.
#[test]
fn a_declaration_that_would_leave_a_level_wrong_is_not_the_mend() {
    let mends = mends::<Both>();
    assert!(!mends.to_string().contains("proved equal if `select` is declared"), "{mends}");
    assert!(mends.tried().contains("single changes of the replacement"), "{mends}");
}

written!(
    Falls,
    FallsWiring,
    ActiveLow,
    ActiveLow,
    |s| s.clock.falls(),
    s.clock.rises(),
    s.select.asserted(),
    s.select.level()
);

/// One `let` for two registers; a third on the same clock is right.
#[test]
fn an_edge_that_registers_share_is_changed_where_it_is_written() {
    let mends = mends::<Falls>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("each of `seen`, `arm` loads when `clock` rises instead of falls"), "{mends}");
}

/// A gated clock has words too.
#[test]
fn an_edge_of_a_condition_is_said_with_the_condition() {
    macro_rules! gated {
        ($name:ident, $wiring:ident, $edge:ident) => {
#[derive(Circuit)]
            #[rustfmt::skip]
            struct $name {
                #[contact(1)]    strobe: Input<ActiveHigh>,
                #[contact(2)]    select: Input<ActiveLow>,
                #[contact(3..=4)] lever: [Input<Data>; 2],
                #[contact(5)]    arm:    Output<Data>,
                #[contact(6)]    lamp:   Output<Data>,
            }
            impl Wiring for $name {
                fn wire(&self) -> $wiring {
                    let edge = (self.strobe.asserted() & self.select.asserted()).$edge();
                    $wiring { arm: on(edge).load(self.lever[0].level()), lamp: on(edge).load(self.lever[1].level()) }
                }
            }
        };
    }
    gated!(Ends, EndsWiring, ends);
    gated!(Begins, BeginsWiring, begins);
    let right = gluewright_kernel::circuit_of::<Ends>().expect("it builds");
    let Err(Failure::Refuted(r)) = prove::<Begins>().against(&right).run() else { panic!("refuted") };
    let mends = r.mend(minute());
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    let words = "each of `arm`, `lamp` loads when (`strobe` is low ∨ `select` is high) begins instead of ends";
    assert!(first.words.contains(words), "{mends}");
}

written!(
    Lever,
    LeverWiring,
    ActiveLow,
    ActiveLow,
    |s| s.clock.rises(),
    s.clock.rises(),
    s.reset.asserted(),
    s.select.level()
);

/// Nothing that is declared or clocked is wrong here.
#[test]
fn a_slip_elsewhere_is_not_laid_to_a_declaration_or_an_edge() {
    let mends = mends::<Lever>().to_string();
    assert!(!mends.contains("proved equal if `select` is declared"), "{mends}");
    assert!(!mends.contains("proved equal if each of `seen`, `arm` loads when"), "{mends}");
}

/// The lever and its echo, with the number of keys as a parameter: `select` is declared with the wrong polarity.
#[derive(Circuit)]
#[contacts(clock: 1, select: 2, lever: 3, reset: 4, arm: 5, alarm: 6, echo: 7)]
struct Parametrised {
    clock: Input<Clock>,
    select: Input<ActiveHigh>,
    lever: Input<Data>,
    reset: Input<ActiveLow>,
    arm: Output<Data, ThreeState>,
    alarm: Output<ActiveLow>,
    echo: Output<Data>,
    seen: Buried<Register>,
    /// Whether the alarm waits for the lever.
    #[parameter]
    waits: bool,
}

impl Wiring for Parametrised {
    fn wire(&self) -> ParametrisedWiring {
        let clock = self.clock.rises();
        let (selected, alarm) = (self.select.asserted(), self.alarm.asserted());
        let begins = if self.waits { self.seen.q().is_high() & !selected } else { !selected };
        ParametrisedWiring {
            seen: on(clock).load(self.lever.level()),
            arm: on(clock).load(self.seen.q()).drive_while(selected),
            alarm: on(clock).load(begins | (alarm & !selected)).release_while(self.reset.asserted()),
            echo: follow(self.select.level()),
        }
    }
}

#[test]
fn a_source_with_parameters_is_built_again_with_its_values() {
    let refuted =
        |waits: bool| match prove::<Parametrised>().with(ParametrisedParameters { waits }).against(&right()).run() {
            Err(Failure::Refuted(r)) => r.mend(minute()),
            other => panic!("expected a refutation: {other:?}"),
        };
    let mends = refuted(true);
    let found: Vec<String> = mends.found.iter().map(ToString::to_string).collect();
    assert!(found.iter().any(|m| m.contains("`select` is declared `ActiveLow` instead of `ActiveHigh`")), "{mends}");
    // with other values the source says another thing: turning the polarity does not mend that
    let mends = refuted(false);
    let found: Vec<String> = mends.found.iter().map(ToString::to_string).collect();
    assert!(!found.iter().any(|m| m.contains("`select` is declared")), "{mends}");
}
