//! Slips that leave something out, or write another signal: the change that mends them brings in what stands nearby.
use super::minute;
use crate::mend::Mending;
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::prove;

/// The alarm of a harbour's fog horn: armed while selected, held until it is acknowledged.
macro_rules! horn {
    ($name:ident, $wiring:ident, $bus:ident, $line:ident, |$s:ident| $seen:expr, $bus_by:expr, $alarm:expr, $echo:expr, $pulled:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)] clock:  Input<Clock>,
            #[contact(2)] select: Input<ActiveLow>,
            #[contact(3)] fog:    Input<Data>,
            #[contact(4)] reset:  Input<ActiveLow>,
            #[contact(5)] hold:   Input<ActiveHigh>,
            #[contact(6)] bus:    Output<Data, $bus>,
            #[contact(7)] alarm:  Output<ActiveLow>,
            #[contact(8)] echo:   Output<Data>,
            #[contact(9)] line:   Output<ActiveLow, $line>,
            seen: Buried<Register>,
        }
        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                $wiring { seen: $seen, bus: $bus_by, alarm: $alarm, echo: $echo, line: $pulled }
            }
        }
    };
}

horn!(
    Right,
    RightWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    NoHold,
    NoHoldWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load(s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    NoClear,
    NoClearWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    NoEnable,
    NoEnableWiring,
    PushPull,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    NoCondition,
    NoConditionWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high())
);
horn!(
    NoTerm,
    NoTermWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    OtherSignal,
    OtherSignalWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.seen.q()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);
horn!(
    OtherStage,
    OtherStageWiring,
    ThreeState,
    PushPull,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.reset.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);

horn!(
    ClearedBySelect,
    ClearedBySelectWiring,
    ThreeState,
    OpenCollector,
    |s| on(s.clock.rises()).load_if(s.hold.asserted(), s.fog.level()).clear_while(s.select.asserted()),
    follow(s.seen.q()).drive_while(s.select.asserted()),
    assert_while(s.seen.q().is_high() & s.hold.asserted() | s.reset.asserted()),
    follow(s.fog.level()),
    assert_while(s.seen.q().is_high() & s.select.asserted())
);

fn right() -> Circuit {
    gluewright_kernel::circuit_of::<Right>().expect("it builds")
}

fn first<C: Wiring>() -> String {
    let refutation = match prove::<C>().against(&right()).run() {
        Err(Failure::Refuted(r)) => r,
        other => panic!("expected a refutation: {other:?}"),
    };
    let mends = refutation.mend(minute());
    println!("{mends}");
    mends.found.first().map(|m| m.words.clone()).unwrap_or_default()
}

#[test]
fn what_was_left_out_is_named() {
    assert_eq!(first::<NoHold>(), "`seen` loads only while `hold` is high, and else keeps what it holds");
    assert_eq!(first::<NoClear>(), "`seen` is also cleared while `reset` is low");
    assert_eq!(first::<NoEnable>(), "`bus` is driven only while `select` is low");
    assert_eq!(first::<NoCondition>(), "`line` is pulled low only while `select` is low too");
    assert_eq!(
        first::<NoTerm>(),
        "`alarm` is shown with the alternative that `reset` is low added to (`hold` is high ∧ `seen` is high)"
    );
}

#[test]
fn another_signal_and_another_stage_are_named() {
    assert_eq!(first::<OtherSignal>(), "`echo` is shown with `fog` instead of `seen`");
    assert_eq!(first::<OtherStage>(), "`line` is an open collector instead of a driver of both levels");
}

/// What stands in the place of an active-low signal counts at that one's level: it is no rarity that is tried last.
#[test]
fn another_active_low_signal_is_among_the_first() {
    let wrong = gluewright_kernel::circuit_of::<ClearedBySelect>().expect("it builds");
    let contacts = [gluewright_kernel::circuit::Label::from(6)];
    let [whole, ..] = crate::edit::edits_from_near(&wrong, &contacts);
    let words = "`seen` is cleared while `reset` is low instead of while `select` is low";
    assert!(
        whole.iter().any(|e| e.words() == words),
        "{:?}",
        whole.iter().map(crate::edit::Edit::words).collect::<Vec<_>>()
    );
    assert_eq!(first::<ClearedBySelect>(), "`reset` is read instead of `select`");
}
