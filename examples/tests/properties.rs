//! Properties of the traced sample card by itself, as a user sees them, and of a mutant of its stand-in.
//! `cargo test -p gluewright-examples --test properties -- --nocapture` prints them. Those of the stand-in are beside it.
#![allow(clippy::expect_used, clippy::panic, reason = "a check stops at what it did not expect")]
use gluewright::prelude::*;
use gluewright::prove::{Broken, Held, How};
use gluewright_examples::sample_card::lost_card;

fn show(verdicts: &[Result<Held, Broken>]) {
    for verdict in verdicts {
        match verdict {
            Ok(held) => println!("{held}\n"),
            Err(broken) => println!("{broken}\n"),
        }
    }
}

#[test]
fn a_mutant_of_the_card_is_refuted() {
    /// The sample card's bus driver, enabled by `select` alone.
    #[derive(Circuit)]
    #[contacts(select: 2, read: 3, value: 8, data: 13)]
    struct TooEager {
        select: Input<ActiveLow>,
        read: Input<ActiveLow>,
        value: Input<Data>,
        data: Output<Data, ThreeState>,
    }
    impl Wiring for TooEager {
        fn wire(&self) -> TooEagerWiring {
            TooEagerWiring { data: follow(self.value.level()).drive_while(self.select.asserted()) }
        }
    }
    let only = |c: &TooEager| true_only_while(drives(c.data), c.select.asserted() & c.read.asserted());
    assert!(matches!(prove::<TooEager>().that(only).run(), Err(Broken::Refuted(_))));
}

#[test]
fn the_traced_card_keeps_what_its_stand_in_does() {
    let board = lost_card().expect("the trace is sound");
    let verdicts = prove_of(&board)
        .that(|b| {
            let reading = b.level("2").is_low() & b.level("3").is_low();
            true_only_while(b.drives("13"), reading)
        })
        .that(|b| {
            let over = (b.level("2").is_low() & b.level("3").is_low()) | b.level("6").is_low();
            whenever(b.drives("18")).holds(b.drives("18")).until(over)
        })
        .that(|b| reachable(b.level("19").is_low()).once(b.level("6").is_low()))
        .that(|b| never(b.drives("13") & b.level("7").is_high()))
        .verdicts();
    show(&verdicts);
    assert!(verdicts[..3].iter().all(Result::is_ok));
    let Ok(Held { how: How::Reached(run), .. }) = &verdicts[2] else { panic!("{:?}", verdicts[2]) };
    assert!(run.events.len() > 6, "{run}");
    assert!(matches!(verdicts[3], Err(Broken::Refuted(_))));
    // a name that nothing has
    let refused = prove_of(&board).that(|b| never(b.level("strobbe").is_high())).run().expect_err("no such net");
    assert!(refused.to_string().contains("has no net, register or latch `strobbe`"), "{refused}");
}
