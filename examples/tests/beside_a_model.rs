//! The sample card on a bench, driven by random input, beside a model of it in plain Rust: what a user writes who has no
//! traced original, or who wants to see more of it than a proof says.
use gluewright::bench::{Bench, BenchError};
use gluewright::simulate::Shown;
use gluewright_examples::sample_card::SampleCard;
use proptest::prelude::*;

/// The card as a programmer would tell it.
#[derive(Clone, Debug, Default)]
struct Model {
    selected: bool,
    read: bool,
    resetting: bool,
    strobe: bool,
    gauge: u64,
    seen: bool,
    was: bool,
    fresh: bool,
    missed: bool,
    data: u64,
}

impl Model {
    fn reading(&self) -> bool {
        self.selected && self.read
    }

    fn clock(&mut self) {
        let before = self.clone();
        let ended = before.was && !before.seen;
        self.seen = before.strobe;
        self.was = before.seen;
        self.fresh = (ended && !before.fresh) || (!before.reading() && before.fresh);
        self.missed = (ended && before.fresh && !before.missed) || (!before.reading() && before.missed);
        if ended {
            self.data = before.gauge;
        }
        self.reset();
    }

    /// A reset holds everything down for as long as it is there.
    fn reset(&mut self) {
        if self.resetting {
            (self.seen, self.was, self.fresh, self.missed, self.data) = (false, false, false, false, 0);
        }
    }
}

/// What happens at the socket.
#[derive(Clone, Copy, Debug)]
enum Happens {
    Clock,
    Selects(bool),
    Reads(bool),
    Resets(bool),
    Strobes(bool),
    Measures(u64),
}

fn happens() -> impl Strategy<Value = Happens> {
    prop_oneof![
        6 => Just(Happens::Clock),
        2 => any::<bool>().prop_map(Happens::Selects),
        2 => any::<bool>().prop_map(Happens::Reads),
        1 => prop::bool::weighted(0.2).prop_map(Happens::Resets),
        4 => any::<bool>().prop_map(Happens::Strobes),
        2 => (0u64..16).prop_map(Happens::Measures),
    ]
}

/// The card on its bench, reset once, as the recorder does at power-up.
fn bench() -> Result<Bench<SampleCard>, BenchError> {
    let mut bench = Bench::of()?;
    bench.release_the_rest().assert("reset")?.release("reset")?;
    Ok(bench)
}

fn happen(bench: &mut Bench<SampleCard>, model: &mut Model, what: Happens) -> Result<(), BenchError> {
    let turn = |bench: &mut Bench<SampleCard>, contact: &str, on: bool| {
        if on { bench.assert(contact).map(|_| ()) } else { bench.release(contact).map(|_| ()) }
    };
    match what {
        Happens::Clock => {
            bench.pulse("clock")?;
            model.clock();
        }
        Happens::Selects(on) => {
            turn(bench, "select", on)?;
            model.selected = on;
        }
        Happens::Reads(on) => {
            turn(bench, "read", on)?;
            model.read = on;
        }
        Happens::Resets(on) => {
            turn(bench, "reset", on)?;
            model.resetting = on;
            model.reset();
        }
        Happens::Strobes(on) => {
            turn(bench, "strobe", on)?;
            model.strobe = on;
        }
        Happens::Measures(number) => {
            bench.set_number("gauge", number)?;
            model.gauge = number;
        }
    }
    Ok(())
}

/// What differs, in words.
fn differs(bench: &mut Bench<SampleCard>, model: &Model) -> Result<Option<String>, BenchError> {
    let seen = (
        bench.see_number("data")?,
        bench.is_asserted("wait")?,
        bench.is_asserted("irq")?,
        bench.is_asserted("missed")?,
        bench.see("irq")? == Shown::High,
    );
    let told = (
        model.reading().then_some(model.data),
        model.reading() && model.strobe,
        model.fresh,
        model.missed,
        false, // an open collector never drives high
    );
    Ok((seen != told).then(|| format!("the card shows {seen:?}, the model {told:?}")))
}

fn run(all: &[Happens], mut model: Model) -> Result<Option<String>, BenchError> {
    let mut bench = bench()?;
    for &what in all {
        happen(&mut bench, &mut model, what)?;
        if let Some(differs) = differs(&mut bench, &model)? {
            return Ok(Some(format!("after {what:?}: {differs}")));
        }
    }
    assert_eq!(bench.remarks(), [""; 0]);
    Ok(None)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_card_does_what_the_model_does(all in prop::collection::vec(happens(), 1..200)) {
        prop_assert_eq!(run(&all, Model::default()).expect("the bench runs"), None);
    }
}

/// A model that holds something else from the start is found out.
#[test]
fn a_model_with_a_slip_differs() -> Result<(), BenchError> {
    let wrong = Model { fresh: true, ..Model::default() };
    let found = run(&[Happens::Measures(3)], wrong)?;
    assert!(found.is_some_and(|said| said.starts_with("after Measures(3)")));
    Ok(())
}
