//! Slips whose mend is known, and one that no single change mends.
mod named;
mod near;
mod several;
mod source;
mod written;

use crate::mend::Mending;
use crate::mend::filter::Filter;
use std::time::Duration;

use crate::edit::{EditKind, edits};
use crate::mend::{Place, Work};
use gluewright_kernel::circuit::{Circuit, Expr, Kind};
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::{Question, Refutation};
use gluewright_kernel::solver::Effort;

/// A port of an organ's relay room: data kept at a clock, shown while selected.
#[derive(Circuit)]
#[rustfmt::skip]
struct Port {
    #[contact(1)]      clock:  Input<Clock>,
    #[contact(2)]      select: Input<ActiveLow>,
    #[contact(3)]      reset:  Input<ActiveLow>,
    #[contact(4..=5)]  key:    [Input<Data>; 2],
    #[contact(6..=7)]  relay:  [Output<Data, ThreeState>; 2],
    #[contact(8)]      busy:   Output<ActiveLow>,
}

impl Wiring for Port {
    fn wire(&self) -> PortWiring {
        let reset = self.reset.asserted();
        let selected = self.select.asserted();
        PortWiring {
            relay: each(|i| on(self.clock.rises()).load(self.key[i].level()).clear_while(reset).drive_while(selected)),
            busy: assert_while(selected & !reset),
        }
    }
}

fn port() -> Circuit {
    gluewright_kernel::circuit_of::<Port>().expect("it builds")
}

fn refute(replacement: Circuit) -> Refutation {
    match Question::new(port(), replacement).ask() {
        Err(Failure::Refuted(r)) => *r,
        other => panic!("expected a refutation: {other:?}"),
    }
}

fn minute() -> Duration {
    Duration::from_secs(60)
}

#[test]
fn what_undoes_itself_mends_itself() {
    use EditKind::{ConditionInverted, ContactsExchanged, EdgeSwapped, LevelInverted, OverridesExchanged};
    let right = port();
    let (mut refuted, mut kinds) = (0, std::collections::BTreeSet::new());
    for edit in edits(&right) {
        let kind = edit.kind;
        let undone =
            [ConditionInverted, ContactsExchanged, EdgeSwapped, LevelInverted, OverridesExchanged].contains(&kind);
        if !undone || (kind == ConditionInverted && refuted % 3 != 0) {
            continue;
        }
        let Err(Failure::Refuted(r)) = Question::new(right.clone(), edit.apply(&right)).ask() else { continue };
        let mends = r.mend(minute());
        assert!(!mends.found.is_empty(), "{}: {mends}", edit.words());
        refuted += 1;
        kinds.insert(kind);
    }
    assert!(refuted >= 10 && kinds.len() >= 4, "{refuted} {kinds:?}");
}

#[test]
fn an_enable_with_the_wrong_polarity_is_mended_by_name_and_line() {
    let mut wrong = port();
    for i in 0..wrong.nets().len() {
        let name = wrong.nets()[i].name.clone();
        let Some(d) = wrong.nets()[i].drivers.first().cloned().filter(|d| d.enable != Expr::HIGH) else { continue };
        let enable = wrong.not(d.enable);
        let id = wrong.find_net(&name).expect("its own");
        wrong.net_mut(id).expect("there").drivers[0].enable = enable;
    }
    let mends = refute(wrong).mend(minute());
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert_eq!(first.place, Place::Replacement);
    assert!(first.words.contains("`relay[…]` is driven while `select` is low instead of high"), "{mends}");
    assert!(first.to_string().contains("(line "), "{first}");
}

#[test]
fn two_slips_at_once_have_no_single_mend_and_that_is_said() {
    let mut wrong = port();
    let busy = wrong.find_net("busy").expect("there");
    let level = wrong.nets()[busy.index()].drivers[0].level;
    let inverted = wrong.not(level);
    wrong.net_mut(busy).expect("there").drivers[0].level = inverted;
    for i in 0..wrong.elements().len() {
        let name = wrong.elements()[i].name.clone();
        let id = wrong.find_element(&name).expect("its own");
        let Kind::Register { clock, data } = wrong.elements()[i].kind else { continue };
        let clock = wrong.not(clock);
        wrong.element_mut(id).expect("there").kind = Kind::Register { clock, data };
    }
    let mends = refute(wrong).mend(minute());
    assert!(mends.found.iter().all(|m| m.words.contains(", and ")), "{mends}");
    let first = mends.found.first().expect("a pair");
    assert!(first.words.contains("`busy`") && first.words.contains("loads when `clock` rises"), "{mends}");
    let differ = mends.agreement.as_ref().map(|a| a.differ.len());
    assert_eq!(differ, Some(3), "two relays and `busy`: {mends}");
}

/// A contact that swings is not one that agrees.
#[test]
fn a_change_that_never_rests_is_no_part_of_a_mend() {
    /// Two gates of a telephone exchange; what they miss is the slip.
    fn gates(misses: bool) -> Circuit {
        #[derive(Circuit)]
        #[rustfmt::skip]
        struct Gates {
            #[contact(1)] line: Input<Data>,
            #[contact(2)] idle: Input<Data>,
            #[contact(3)] ring: Input<Data>,
            #[contact(4)] held: Input<Data>,
            #[contact(5)] call: Output<ActiveHigh>,
            #[contact(6)] lamp: Output<ActiveHigh>,
        }
        impl Wiring for Gates {
            fn wire(&self) -> GatesWiring {
                GatesWiring {
                    call: assert_while(self.line.level().is_high() & self.idle.level().is_high()),
                    lamp: assert_while(self.ring.level().is_high() | self.held.level().is_high()),
                }
            }
        }
        let mut c = gluewright_kernel::circuit_of::<Gates>().expect("it builds");
        for (from, to) in [("line", "call"), ("ring", "lamp")].into_iter().filter(|_| misses) {
            let [from, to] = [from, to].map(|name| c.find_net(name).expect("its own"));
            let level = c.net(from);
            c.net_mut(to).expect("there").drivers[0].level = level;
        }
        c
    }
    let question = Question::new(gates(false), gates(true));
    let Err(Failure::Refuted(r)) = question.ask() else { panic!("slips") };
    let filter = Filter::new(&question, &r, Effort::default());
    let both = filter.contacts();
    let (failing, rests) = filter.failing(&gates(true), &both);
    assert_eq!((filter.called(&failing), rests), (vec![5.into(), 6.into()], true));
    let mut swings = gates(true);
    let [line, call] = ["line", "call"].map(|name| swings.find_net(name).expect("its own"));
    let (line, back) = (swings.net(line), swings.net(call));
    let low = swings.not(back);
    let level = swings.and(line, low);
    swings.net_mut(call).expect("there").drivers[0].level = level;
    assert!(!filter.failing(&swings, &both).1);
    let mends = r.mend(minute());
    let parts = &mends.agreement.as_ref().expect("two contacts differ").parts;
    assert!(!parts.is_empty(), "{mends}");
}

/// What one `let` decides for several outputs, or one field's polarity for the whole circuit.
#[test]
fn a_slip_at_the_definition_is_mended_at_all_its_uses() {
    #[derive(Circuit)]
    #[rustfmt::skip]
    struct Wrong {
        #[contact(1)]      clock:  Input<Clock>,
        #[contact(2)]      select: Input<ActiveHigh>,
        #[contact(3)]      reset:  Input<ActiveLow>,
        #[contact(4..=5)]  key:    [Input<Data>; 2],
        #[contact(6..=7)]  relay:  [Output<Data, ThreeState>; 2],
        #[contact(8)]      busy:   Output<ActiveLow>,
    }
    impl Wiring for Wrong {
        fn wire(&self) -> WrongWiring {
            let reset = self.reset.asserted();
            let selected = self.select.asserted();
            WrongWiring {
                relay: each(|i| {
                    on(self.clock.rises()).load(self.key[i].level()).clear_while(reset).drive_while(selected)
                }),
                busy: assert_while(selected & !reset),
            }
        }
    }
    let mends = refute(gluewright_kernel::circuit_of::<Wrong>().expect("it builds")).mend(minute());
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("`select` counts at its other level wherever it is used"), "{mends}");
}

/// A macro that writes all definitions has them all in one line.
#[test]
fn a_slip_in_a_macro_is_mended_at_all_its_uses() {
    #[derive(Circuit)]
    #[rustfmt::skip]
    struct Wrong {
        #[contact(1)]      clock:  Input<Clock>,
        #[contact(2)]      select: Input<ActiveHigh>,
        #[contact(3)]      reset:  Input<ActiveLow>,
        #[contact(4..=5)]  key:    [Input<Data>; 2],
        #[contact(6..=7)]  relay:  [Output<Data, ThreeState>; 2],
        #[contact(8)]      busy:   Output<ActiveLow>,
    }
    macro_rules! definitions {
        ($s:ident, $reset:ident, $selected:ident) => {
            WrongWiring {
                relay: each(|i| {
                    on($s.clock.rises()).load($s.key[i].level()).clear_while($reset).drive_while($selected)
                }),
                busy: assert_while($selected & !$reset),
            }
        };
    }
    impl Wiring for Wrong {
        fn wire(&self) -> WrongWiring {
            let reset = self.reset.asserted();
            let selected = self.select.asserted();
            definitions!(self, reset, selected)
        }
    }
    let wrong = gluewright_kernel::circuit_of::<Wrong>().expect("it builds");
    let drivers = wrong.nets().iter().filter(|n| n.value_of.is_none()).flat_map(|n| &n.drivers);
    let lines: std::collections::BTreeSet<String> = drivers.map(|d| d.origin.to_string()).collect();
    assert_eq!(lines.len(), 1, "{lines:?}");
    let mends = refute(wrong).mend(minute());
    let mended = mends.found.iter().any(|m| m.words.contains("`select` counts at its other level wherever it is used"));
    assert!(mended, "{mends}");
}

#[test]
fn work_bounds_what_is_asked() {
    let mut wrong = port();
    let busy = wrong.find_net("busy").expect("there");
    let level = wrong.nets()[busy.index()].drivers[0].level;
    let inverted = wrong.not(level);
    wrong.net_mut(busy).expect("there").drivers[0].level = inverted;
    let r = refute(wrong);
    let idle = r.mend(Work::times(0).within(minute()));
    assert!(idle.asked == 0 && idle.found.is_empty() && idle.undecided > 0, "{idle}");
    let patient = r.mend(Work::times(3).within(minute()));
    assert!(patient.asked > 0 && !patient.found.is_empty(), "{patient}");
}

/// The lowest bit taken for the highest.
#[test]
fn an_array_in_the_wrong_order_is_turned_round() {
    #[derive(Circuit)]
    struct Right {
        #[contact(1..=4)]
        key: [Input<Data>; 4],
        #[contact(5..=8)]
        pipe: [Output<Data>; 4],
    }
    impl Wiring for Right {
        fn wire(&self) -> RightWiring {
            RightWiring { pipe: each(|i| follow(self.key[i].level())) }
        }
    }
    #[derive(Circuit)]
    struct Turned {
        #[contact(4..=1)]
        key: [Input<Data>; 4],
        #[contact(5..=8)]
        pipe: [Output<Data>; 4],
    }
    impl Wiring for Turned {
        fn wire(&self) -> TurnedWiring {
            TurnedWiring { pipe: each(|i| follow(self.key[i].level())) }
        }
    }
    let [right, turned] = [gluewright_kernel::circuit_of::<Right>(), gluewright_kernel::circuit_of::<Turned>()]
        .map(|c| c.expect("it builds"));
    let Err(Failure::Refuted(r)) = Question::new(right, turned).ask() else { panic!("refuted") };
    let mends = r.mend(minute());
    assert!(mends.found[0].words.contains("contacts 4 to 1 are `key[…]` in the other order"), "{mends}");
}

#[test]
fn no_time_is_said_to_be_too_short() {
    let mut wrong = port();
    let busy = wrong.find_net("busy").expect("there");
    wrong.net_mut(busy).expect("there").drivers[0].level = Expr::HIGH;
    let mends = refute(wrong).mend(Duration::ZERO);
    assert!(mends.cut_short && mends.to_string().contains("the time was over before"), "{mends}");
}
