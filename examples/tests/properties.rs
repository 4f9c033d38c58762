//! Properties of the traced sample card by itself, as a user sees them, and of a mutant of its stand-in.
//! `cargo test -p gluewright-examples --test checks properties:: -- --nocapture` prints them. Those of the stand-in are beside it.
#![allow(clippy::expect_used, clippy::panic, reason = "a check stops at what it did not expect")]
use gluewright::prelude::*;
use gluewright::prove::{Broken, Held, How};
use gluewright_examples::sample_card::{SampleCard, lost_card};

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

/// The one assumption of a property, as a page has it.
fn held_assumption(held: &Held) -> String {
    assert_eq!(held.assumptions.len(), 1);
    held.assumptions[0].replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// What a job states stands in its record, read back here as whoever gets the folder reads it.
#[test]
fn a_jobs_record_has_the_properties_of_its_source() {
    let reading = |c: &SampleCard| c.select.asserted() & c.read.asserted();
    let job = || gluewright::job::<SampleCard>(lost_card()).testing(None);
    let kept = prove::<SampleCard>()
        .assuming(|c| never(c.strobe.asserted() & c.reset.asserted()))
        .that(move |c| true_only_while(drives(c.data), reading(c)).called("the bus is the reader's"))
        .that(|c| reachable(c.missed.asserted()).once(c.reset.asserted()));
    let made = job().stating(kept).make().expect("they hold");
    let record: serde_json::Value = serde_json::from_slice(made.file("proof.json").expect("made")).expect("JSON");
    let all = record["properties_of_the_source"].as_array().expect("a list");
    assert_eq!(all.len(), 2, "{record:#}");
    assert_eq!((&all[0]["property"], &all[0]["verdict"]), (&"the bus is the reader's".into(), &"proved".into()));
    assert_eq!(all[0]["by"], "induction");
    assert!(all[0]["cases"][0]["after_events"].is_u64(), "{:#}", all[0]);
    assert_eq!(all[0]["assumptions"].as_array().map(Vec::len), Some(1));
    assert_eq!(all[1]["verdict"], "reached");
    assert!(all[1]["run"]["events"].as_array().is_some_and(|events| events.len() > 6), "{:#}", all[1]);
    // the proofs beside them are those of the card
    assert_eq!(record["proofs"][0]["verdict"], "proved");

    // and on the page, with what they assume
    let page = std::str::from_utf8(made.file("report.html").expect("made")).expect("text");
    let (_, own) = page.split_once("What the source keeps by itself").expect("a section of their own");
    let (own, _) = own.split_once("</section>").expect("it ends");
    assert!(own.contains("the bus is the reader&#39;s") || own.contains("the bus is the reader's"), "{own}");
    assert!(own.contains("proved, by induction") && own.contains("reached, by a run of"), "{own}");
    assert!(own.contains(&held_assumption(&made.properties[0])), "{own}");

    // one that does not hold: nothing is made, and the error is the verdict
    let broken = prove::<SampleCard>().that(|c| never(drives(c.data) & c.strobe.asserted()));
    let error = job().stating(broken).make().expect_err("refuted");
    assert_eq!((error.kind(), error.status()), ("property", 1));
    let value = serde_json::to_value(&error).expect("JSON");
    assert_eq!((&value["kind"], &value["property"]["verdict"]), (&"property".into(), &"refuted".into()), "{value:#}");
    let refused = prove::<SampleCard>().that(|c| never(drives(c.data))).acknowledging("nothing of that name");
    assert_eq!(job().stating(refused).make().expect_err("refused").status(), 2);

    // while packages stay, the device is derived from the trace: then nothing is said of the source
    let stated = prove::<SampleCard>().that(move |c| true_only_while(drives(c.data), reading(c)));
    let kept = job().keeping(["U1"]).stating(stated).make().expect("the rest fits");
    assert!(kept.properties.is_empty() && kept.findings.contains(&gluewright::job::Finding::PropertiesNotAsked));
}
