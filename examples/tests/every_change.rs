//! Every single change of an example's stand-in is refuted with a sequence that replays, or proved and confirmed by judges
//! that share nothing with the prover: a walk through every state (of the pair, or contact by contact where the whole is
//! too large), a second solver on the proof's obligations, and both circuits in a simulator from outside.
//!
//! A sample of the changes runs by default; the whole, with the changes that a line of the source makes to all bits of an
//! array: `cargo test -p gluewright-examples --release --test checks every_change:: -- --ignored --nocapture`, over machines with
//! `cargo nextest run -p gluewright-examples --release --test checks every_change:: --run-ignored only --partition count:1/4`.
//!
//! How long the sequences are, over all changes of all examples: the same with `lengths -- --ignored --nocapture`.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::time::Duration;

use gluewright::prove::{Claim, Failure, prove};
use gluewright::{Wiring, board::Board, edit::edits_by_line};
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};
use gluewright_tests::judge::{Bounds, Case, Known, Tally, judge_answer};
use gluewright_tests::walk::Allowed;

const WHOLE: Bounds = Bounds {
    states: 100_000,
    depth: 24,
    time: Duration::from_secs(30),
    whole: Duration::from_secs(2),
    shortest: false,
    outside: (2, 1_000),
};

/// For the sample that runs with every other test.
const SHORT: Bounds = Bounds {
    states: 500,
    depth: 24,
    time: Duration::from_secs(2),
    whole: Duration::from_millis(100),
    shortest: false,
    outside: (1, 100),
};

/// What the judges are told of a question's assumptions.
struct Example<'a, C> {
    lost: Board,
    claim: Claim<C>,
    allowed: &'a Allowed,
    assumes: bool,
}

impl<C: Wiring> Example<'_, C> {
    /// Asks about every so many changes, from one of them.
    fn judge(&self, changes: impl Fn(usize) -> bool, bounds: Bounds) -> Tally {
        let original = self.lost.circuit().expect("logic");
        let (replacement, question) = self.claim.question(&self.lost).expect("it can be asked");
        let (mut tally, known) = (Tally::default(), Known::default());
        // what is known of slices bears only on those under no assumption
        let known = (!self.assumes).then_some(&known);
        let mut ask = |what: &str, mutant: &gluewright::circuit::Circuit| {
            let answer =
                question.clone().about(mutant.clone()).in_another_form().in_time(Duration::from_secs(60)).ask();
            let case = Case { what, original: &original, replacement: mutant, allowed: self.allowed, known };
            tally.add(judge_answer(case, answer, bounds));
            if tally.tried % 20 == 0 {
                println!("{}", tally.line());
            }
        };
        ask("as it is", &replacement);
        for (_, edit) in edits_by_line(&replacement).iter().enumerate().filter(|(k, _)| changes(*k)) {
            ask(&edit.to_string(), &edit.apply(&replacement));
        }
        println!("{}: {tally}", replacement.name);
        tally
    }
}

/// Of refutations: how many events, whether none shorter is there, how many registers begin high.
#[derive(Default)]
struct Lengths(Vec<(usize, bool, usize)>);

impl Lengths {
    /// Of every so many changes of an example, from one of them.
    fn of<C: Wiring>(example: &Example<'_, C>, changes: impl Fn(usize) -> bool) -> Lengths {
        let (replacement, question) = example.claim.question(&example.lost).expect("it can be asked");
        let question = question.in_another_form().in_time(Duration::from_secs(60));
        let ask = |mutant| match question.clone().about(mutant).ask() {
            Err(Failure::Refuted(r)) => {
                Some((r.events.len(), r.shortest, r.start.iter().filter(|(_, high)| *high).count()))
            }
            _ => None,
        };
        let edits = edits_by_line(&replacement);
        let chosen = edits.iter().enumerate().filter(|(k, _)| changes(*k));
        Lengths(chosen.filter_map(|(_, edit)| ask(edit.apply(&replacement))).collect())
    }

    fn at(&self, share: f64) -> usize {
        let mut events: Vec<usize> = self.0.iter().map(|l| l.0).collect();
        events.sort_unstable();
        events.get((events.len() as f64 * share) as usize).or(events.last()).copied().unwrap_or(0)
    }

    fn line(&self, name: &str) -> String {
        let count = |is: fn(&(usize, bool, usize)) -> bool| self.0.iter().filter(|l| is(l)).count();
        format!(
            "{name:14} {:5} refuted, events: median {:2}, 95 % {:2}, worst {:3}; none shorter {:5}; registers high at power-up {:4}",
            self.0.len(),
            self.at(0.5),
            self.at(0.95),
            self.at(1.0),
            count(|l| l.1),
            count(|l| l.2 > 0),
        )
    }
}

fn anything(_: &dyn Fn(&str) -> bool) -> bool {
    true
}

/// The setter's changeover contact, contacts 9 and 10, breaks before it makes; both are active low.
fn breaks_before_it_makes(high: &dyn Fn(&str) -> bool) -> bool {
    high("9") || high("10")
}

fn sample_card() -> Example<'static, sample_card::SampleCard> {
    Example { lost: sample_card::lost_card().expect("sound"), claim: prove(), allowed: &anything, assumes: false }
}

fn loom_bridge() -> Example<'static, loom_bridge::LoomBridge> {
    let claim = prove()
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes");
    Example { lost: loom_bridge::lost_bridge().expect("sound"), claim, allowed: &anything, assumes: false }
}

fn organ_memory() -> Example<'static, organ_memory::OrganMemory> {
    Example { lost: organ_memory::lost_card().expect("sound"), claim: prove(), allowed: &anything, assumes: false }
}

fn organ_pistons() -> Example<'static, organ_pistons::OrganPistons> {
    let claim = prove().assuming(organ_pistons::breaks_before_it_makes);
    Example { lost: organ_pistons::lost_card().expect("sound"), claim, allowed: &breaks_before_it_makes, assumes: true }
}

/// Nothing wrong, nothing open, and every verdict seen by somebody else.
fn check(tally: &Tally) {
    assert!(tally.wrong.is_empty() && tally.undecided.is_empty(), "{tally}");
    assert!(tally.alone.is_empty() && tally.unseen.is_empty(), "{tally}");
    assert!(tally.refuted > tally.tried / 2 && tally.equal > 0, "{tally}");
}

#[test]
fn a_sample_of_changes_gets_the_right_verdict() {
    check(&sample_card().judge(|k| k % 60 == 0, SHORT));
    check(&organ_pistons().judge(|k| k % 60 == 1, SHORT));
}

#[test]
fn sequences_of_a_sample_are_short() {
    let lengths = Lengths::of(&sample_card(), |k| k % 40 == 7);
    println!("{}", lengths.line("sample_card"));
    assert!(lengths.0.len() > 5 && lengths.at(0.5) <= 5 && lengths.at(1.0) <= 16, "{}", lengths.line("sample_card"));
}

#[test]
#[ignore = "it takes minutes: see the head of this file"]
fn lengths() {
    let every = |_: usize| true;
    let all = [
        ("sample_card", Lengths::of(&sample_card(), every)),
        ("loom_bridge", Lengths::of(&loom_bridge(), every)),
        ("organ_memory", Lengths::of(&organ_memory(), every)),
        ("organ_pistons", Lengths::of(&organ_pistons(), every)),
    ];
    all.iter().for_each(|(name, lengths)| println!("{}", lengths.line(name)));
    let whole = Lengths(all.into_iter().flat_map(|(_, lengths)| lengths.0).collect());
    println!("{}", whole.line("all"));
    for events in 0..=whole.at(1.0) {
        let count = whole.0.iter().filter(|l| l.0 == events).count();
        println!("{events:4} events: {count}");
    }
}

macro_rules! whole {
    ($($name:ident: $example:ident, $part:literal;)+) => {$(
        #[test]
        #[ignore = "a campaign: see the head of this file"]
        fn $name() {
            check(&$example().judge(|k| k % 4 == $part, WHOLE));
        }
    )+};
}

whole! {
    sample_card_1_of_4: sample_card, 0;
    sample_card_2_of_4: sample_card, 1;
    sample_card_3_of_4: sample_card, 2;
    sample_card_4_of_4: sample_card, 3;
    loom_bridge_1_of_4: loom_bridge, 0;
    loom_bridge_2_of_4: loom_bridge, 1;
    loom_bridge_3_of_4: loom_bridge, 2;
    loom_bridge_4_of_4: loom_bridge, 3;
    organ_memory_1_of_4: organ_memory, 0;
    organ_memory_2_of_4: organ_memory, 1;
    organ_memory_3_of_4: organ_memory, 2;
    organ_memory_4_of_4: organ_memory, 3;
    organ_pistons_1_of_4: organ_pistons, 0;
    organ_pistons_2_of_4: organ_pistons, 1;
    organ_pistons_3_of_4: organ_pistons, 2;
    organ_pistons_4_of_4: organ_pistons, 3;
}
