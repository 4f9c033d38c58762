//! Five mistakes in the sample card's stand-in, as a bench sees them: what is said of each must name its condition.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::mend::Mending;
use std::cell::Cell;

use gluewright::board::Board;
use gluewright::mend::{Mends, Place};
use gluewright::prelude::*;
use gluewright::prove::Refutation;
use gluewright_examples::sample_card::lost_card;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Slip {
    None,
    /// An enable taken with the wrong polarity.
    Enable,
    /// The flag `missed` made low by a reset, for that is what "clear" sounds like.
    Missed,
    /// The gauge sampled when the strobe begins instead of when it has ended.
    Ended,
    /// The flag `fresh` kept while nobody reads only if it is not set.
    Fresh,
    /// One register on the other edge.
    Edge,
    /// The bits of the gauge the other way round.
    Reversed,
    /// One word wrong: the second sample of the strobe taken from the strobe itself.
    Was,
}

thread_local!(static SLIP: Cell<Slip> = const { Cell::new(Slip::None) });

#[derive(Circuit)]
#[rustfmt::skip]
struct SampleCard {
    #[contact(1)]       clock:  Input<Clock>,
    #[contact(2)]       select: Input<ActiveLow>,
    #[contact(3)]       read:   Input<ActiveLow>,
    #[contact(6)]       reset:  Input<ActiveLow>,
    #[contact(7)]       strobe: Input<ActiveHigh>,
    #[contact(8..=11)]  gauge:  [Input<Data>; 4],
    #[contact(13..=16)] data:   [Output<Data, ThreeState>; 4],
    #[contact(17)]      wait:   Output<ActiveLow>,
    #[contact(18)]      irq:    Output<ActiveLow, OpenCollector>,
    #[contact(19)]      missed: Output<ActiveLow>,
    seen:  Buried<Register>,
    was:   Buried<Register>,
    fresh: Buried<Register, ActiveHigh>,
}

impl Wiring for SampleCard {
    fn wire(&self) -> SampleCardWiring {
        let slip = |s: Slip| SLIP.get() == s;
        let clock = self.clock.rises();
        let reset = self.reset.asserted();
        let reading = self.select.asserted() & self.read.asserted();
        let enable = if slip(Slip::Enable) { self.select.asserted() & self.read.level().is_high() } else { reading };
        let ended = match slip(Slip::Ended) {
            true => self.was.q().is_low() & self.seen.q().is_high(),
            false => self.was.q().is_high() & self.seen.q().is_low(),
        };
        let gauge = |i: usize| self.gauge[if slip(Slip::Reversed) { 3 - i } else { i }].level();
        let (fresh, missed) = (self.fresh.asserted(), self.missed.asserted());
        let missing = on(clock).load((ended & fresh & !missed) | (!reading & missed));
        let kept = if slip(Slip::Fresh) { !reading & !fresh } else { !reading & fresh };
        SampleCardWiring {
            seen: on(if slip(Slip::Edge) { self.clock.falls() } else { clock })
                .load(self.strobe.level())
                .clear_while(reset),
            was: on(clock).load(if slip(Slip::Was) { self.strobe.level() } else { self.seen.q() }).clear_while(reset),
            fresh: on(clock).load((ended & !fresh) | kept).release_while(reset),
            data: each(|i| on(clock).load_if(ended, gauge(i)).clear_while(reset).drive_while(enable)),
            wait: assert_while(reading & self.strobe.asserted()),
            irq: assert_while(fresh),
            missed: if slip(Slip::Missed) { missing.assert_while(reset) } else { missing.release_while(reset) },
        }
    }
}

fn refuted(slip: Slip, card: &Board) -> (Refutation, Mends) {
    SLIP.set(slip);
    match prove::<SampleCard>().against(card).run() {
        Err(Failure::Refuted(r)) => {
            println!("{r}\n");
            let mends = r.mend_with_trace(card, std::time::Duration::from_secs(120));
            println!("{mends}");
            // to be looked at: GLUEWRIGHT_PICTURES=folder
            if let Ok(folder) = std::env::var("GLUEWRIGHT_PICTURES") {
                let page = gluewright::report::refutation_page(&r.explain(), Some(&mends));
                for (end, text) in [("svg", r.explain().svg()), ("html", page)] {
                    std::fs::write(format!("{folder}/{}.{end}", slip as u8), text).expect("the folder is there");
                }
            }
            (*r, mends)
        }
        other => panic!("expected a refutation: {other:?}"),
    }
}

#[test]
fn each_slip_is_told_with_both_conditions() {
    let card = lost_card().expect("the trace is sound");
    SLIP.set(Slip::None);
    prove::<SampleCard>().against(&card).run().expect("without a slip it is proved");

    let (r, mends) = refuted(Slip::Enable, &card);
    let text = r.to_string();
    assert!(text.contains("U1 pin 3 drives while contact 2 select_n low ∧ contact 3 read_n low"), "{text}");
    assert!(text.contains("`data[0]` drives only while contact 2 select low ∧ contact 3 read high"), "{text}");
    assert!(
        mends.to_string().contains("proved equal if `data[…]` is driven while `read` is low instead of high"),
        "{mends}"
    );

    let (r, mends) = refuted(Slip::Missed, &card);
    let text = r.to_string();
    assert!(text.contains("`missed` is cleared, because contact 6 reset low"), "{text}");
    assert!(mends.to_string().contains("`missed` is cleared when it should be preset"), "{mends}");

    for (slip, mend) in [
        // one definition, used at three places
        (Slip::Ended, "proved equal if each of `fresh`, `data[…]`, `missed` loads with `was` and `seen` exchanged"),
        (
            Slip::Fresh,
            "proved equal if `fresh` loads with `fresh` inverted in ((`select` is high ∨ `read` is high) ∧ `fresh` is low)",
        ),
        (Slip::Edge, "proved equal if `seen` loads when `clock` rises instead of falls"),
    ] {
        let (r, mends) = refuted(slip, &card);
        let e = r.explain();
        assert!(e.probes.iter().all(|p| !p.original_why.is_empty() && !p.replacement_why.is_empty()), "{r}");
        assert_eq!(r.replay().expect("nothing unknown").last(), Some(&0));
        assert!(mends.to_string().contains(mend), "{mends}");
    }
}

/// The original could also have begun so that it shows the turned bits and lacks what tells of a sample: nobody is helped by
/// that.
#[test]
fn what_differs_is_what_the_slip_is_about() {
    let card = lost_card().expect("the trace is sound");
    let (r, mends) = refuted(Slip::Reversed, &card);
    let names: Vec<&str> = r.differences.iter().map(|d| d.name.as_str()).collect();
    assert!(!names.is_empty() && names.iter().all(|n| n.starts_with("data")), "{r}");
    let text = r.to_string();
    assert!(text.contains("gauge"), "{text}");
    assert!(mends.to_string().contains("proved equal if"), "{mends}");
    assert_eq!(r.replay().expect("nothing unknown").last(), Some(&0));
}

/// The stand-in is right here, and the trace has the slip.
#[test]
fn a_slip_of_the_trace_is_found_in_the_trace() {
    SLIP.set(Slip::None);
    let right = include_str!("../src/sample_card.csv");
    let slips = [
        // two inputs of one gate package, exchanged between gates
        ("U5,74LS02,5,was_n", "U5,74LS02,5,ended_n", "U5,74LS02,8,ended_n", "U5,74LS02,8,was_n", "pins 5 and 8 of U5"),
        // a pin put down on the wrong net
        ("U1,74LS173,15,reset\n", "U1,74LS173,15,reading\n", "", "", "U1 pin 15 is on the net `reset`"),
    ];
    for (from, to, other, instead, words) in slips {
        let mut csv = right.replace(from, to);
        if !other.is_empty() {
            csv = csv.replace(other, instead);
        }
        assert_ne!(csv, right);
        let card = Board::from_csv("sample_card.csv", csv, gluewright_parts::ttl()).expect("sound, though wrong");
        let Err(Failure::Refuted(r)) = prove::<SampleCard>().against(&card).run() else { panic!("refuted: {to}") };
        let mends = r.mend_with_trace(&card, std::time::Duration::from_secs(120));
        println!("{mends}");
        assert!(mends.found.iter().any(|m| m.place == Place::Trace && m.to_string().contains(words)), "{to}: {mends}");
    }
}

/// What was found by drawing is no run that a person would set up: events that need not be there go, and registers begin as
/// those of a device that clears itself.
#[test]
fn one_wrong_word_is_shown_by_a_short_run_from_cleared_registers() {
    let card = lost_card().expect("the trace is sound");
    SLIP.set(Slip::Was);
    let Err(Failure::Refuted(r)) = prove::<SampleCard>().against(&card).run() else { panic!("a slip is refuted") };
    println!("{r}");
    assert!(r.events.len() <= 7, "{r}");
    assert!(r.start.iter().all(|(_, high)| !high), "{r}");
    assert_eq!(r.replay().expect("nothing unknown").last(), Some(&0), "{r}");
    // whoever sees only what is drawn sees it all
    let e = r.explain();
    let drawn = |label: &gluewright::circuit::Label| e.waveform.rows.iter().any(|row| row.label == *label);
    assert!(e.together.iter().all(|(label, _)| drawn(label)), "{r}");
    let decision = e.probes[0].decision.as_ref().expect("both sides have lines");
    assert!(!decision.source.is_empty() && !decision.trace.is_empty(), "{decision:?}");
}
