//! The prover's verdict on one pair, held against the walk.
use std::time::{Duration, Instant};

use gluewright::circuit::{Circuit, Label};
use gluewright::prove::{Failure, Question, Refutation};
use gluewright::solver::Effort;

use crate::gates::Numbers;
use crate::walk::{Found, Sequence, Walk};

/// Verdicts counted, and everything that was wrong with one.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Pairs that were asked about.
    pub tried: usize,
    /// Refuted, and the sequence replays in the walk.
    pub refuted: usize,
    /// Of these, those whose sequence was found to be the shortest, too.
    pub shortest: usize,
    /// Proved, and the walk agrees.
    pub equal: usize,
    /// Proved, too large for the walk, and drawn runs of it are explained.
    pub sampled: usize,
    /// Refuted or proved where the walk could not follow: too many states, or a critical race.
    pub unconfirmed: usize,
    /// Of these, proved.
    pub unconfirmed_proofs: usize,
    /// Undecided.
    pub undecided: Vec<String>,
    /// Undecided, and the walk finds that the replacement does not always come to rest: neither verdict would be right.
    pub restless: Vec<String>,
    /// Refused: the question makes no sense, as a replacement that never rests.
    pub refused: Vec<String>,
    /// Proved, though a critical race of the replacement decides: the two orders of settling that the walk tries are both
    /// explained, but the rules ask for none.
    pub raced: Vec<String>,
    /// Wrong, with what it was.
    pub wrong: Vec<String>,
}

impl Tally {
    /// Adds another's counts.
    pub fn add(&mut self, other: Tally) {
        self.tried += other.tried;
        self.refuted += other.refuted;
        self.shortest += other.shortest;
        self.equal += other.equal;
        self.sampled += other.sampled;
        self.unconfirmed += other.unconfirmed;
        self.unconfirmed_proofs += other.unconfirmed_proofs;
        self.undecided.extend(other.undecided);
        self.restless.extend(other.restless);
        self.refused.extend(other.refused);
        self.raced.extend(other.raced);
        self.wrong.extend(other.wrong);
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(
            f,
            "tried {}: refuted and replayed {} (shortest by both {}), proved and walked {}, proved and drawn {}, beyond the walk {} (proved \
             {}), undecided {}, undecided as it never rests {}, refused {}, proved in spite of a race {}, wrong {}",
            self.tried,
            self.refuted,
            self.shortest,
            self.equal,
            self.sampled,
            self.unconfirmed,
            self.unconfirmed_proofs,
            self.undecided.len(),
            self.restless.len(),
            self.refused.len(),
            self.raced.len(),
            self.wrong.len()
        )?;
        let lists = [&self.undecided, &self.refused, &self.raced, &self.wrong];
        for (word, list) in ["undecided", "refused", "race", "WRONG"].iter().zip(lists) {
            for what in list.iter().take(20) {
                writeln!(f, "  {word}: {what}")?;
            }
        }
        Ok(())
    }
}

/// A refutation's sequence, as the walk takes it.
pub fn sequence(r: &Refutation) -> Sequence {
    let plain = |l: &[(Label, String, bool)]| l.iter().map(|(label, _, high)| (label.clone(), *high)).collect();
    Sequence { levels: plain(&r.levels), events: r.events.iter().map(|e| plain(&e.changes)).collect() }
}

/// How far a question goes.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Joint states of the walk.
    pub states: usize,
    /// Events of the prover's search.
    pub depth: usize,
    /// For the prover with one question, and once more for the walk.
    pub time: Duration,
}

/// Asks the prover and the walk about one pair.
pub fn judge(what: &str, original: &Circuit, replacement: &Circuit, bounds: Bounds) -> Tally {
    let question = Question::new(original.clone(), replacement.clone()).settled_only().to_depth(bounds.depth);
    let question = question.within(Effort { milliseconds: 3_000, ..Effort::default() }).in_time(bounds.time);
    let mut t = Tally { tried: 1, ..Tally::default() };
    let answer = question.ask();
    let walk = Walk { until: Some(Instant::now() + bounds.time), ..Walk::new(original, replacement, bounds.states) };
    match answer {
        Ok(_) => match walk.run() {
            Found::Refines(_) => t.equal = 1,
            Found::TooLarge | Found::Race("original") => {
                let mut numbers = Numbers(1);
                let runs: Vec<_> = (0..6).map(|_| walk.explains_drawn(&mut numbers, 60)).collect();
                if runs.contains(&Some(false)) {
                    t.wrong.push(format!("{what}: proved, but a drawn run is not explained"));
                } else if runs.contains(&Some(true)) {
                    t.sampled = 1;
                } else {
                    (t.unconfirmed, t.unconfirmed_proofs) = (1, 1);
                }
            }
            Found::Race(_) => t.raced.push(what.to_owned()),
            other => t.wrong.push(format!("{what}: proved, but {other:?}")),
        },
        Err(Failure::Refuted(r)) => match walk.replays(&sequence(&r), &r.start) {
            Some(false) => t.wrong.push(format!("{what}: refuted, but the walk explains it, {:?}: {r}", walk.run())),
            None => t.unconfirmed = 1,
            Some(true) => {
                t.refuted = 1;
                if let Some(counts) = r.replay()
                    && counts.last() != Some(&0)
                {
                    t.wrong.push(format!("{what}: the simulator finds a start that explains {r}"));
                }
                match walk.run() {
                    Found::Differs(s) if r.shortest && s.events.len() != r.events.len() => {
                        let (claimed, found) = (r.events.len(), s.events.len());
                        t.wrong.push(format!("{what}: no shorter than {claimed} claimed, {found} found: {s:?} {r}"));
                    }
                    Found::Differs(_) => t.shortest = usize::from(r.shortest),
                    Found::Refines(_) => t.wrong.push(format!("{what}: refuted, but the walk finds nothing: {r}")),
                    _ => {}
                }
            }
        },
        Err(Failure::Undecided(u)) => match walk.run() {
            Found::Restless => t.restless.push(format!("{what}: {}", u.tried.join("; "))),
            found => t.undecided.push(format!("{what}: {found:?}: {}", u.tried.join("; "))),
        },
        Err(Failure::Refused(why)) if why.contains("mistake of the prover") => t.wrong.push(format!("{what}: {why}")),
        Err(other) => t.refused.push(format!("{what}: {other}")),
    }
    t
}
