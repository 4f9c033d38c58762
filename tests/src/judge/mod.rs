//! The prover's verdict on one pair, held against judges that share nothing with it: the walk, the second solver on the
//! obligations, and a simulator from outside.
mod case;
mod proved;
mod refuted;
mod tally;

use gluewright::circuit::Circuit;
use gluewright::prove::{Failure, Proof, Question, Refusal};
use gluewright_kernel::solver::Effort;

use crate::walk::Found;
use case::Judging;
pub use case::{Bounds, Case, Known};
pub use refuted::sequence;
pub use tally::Tally;

/// Asks the prover and the others about one pair, of settled levels alone.
pub fn judge(what: &str, original: &Circuit, replacement: &Circuit, bounds: Bounds) -> Tally {
    let question = Question::new(original.clone(), replacement.clone()).settled_only().to_depth(bounds.depth);
    let question = question.within(Effort { milliseconds: 3_000, ..Effort::default() }).in_time(bounds.time);
    judge_answer(Case { what, original, replacement, allowed: &|_| true, known: None }, question.ask(), bounds)
}

/// Asks the others about what the prover has answered.
pub fn judge_answer(case: Case<'_>, answer: Result<Proof, Failure>, bounds: Bounds) -> Tally {
    let mut judging = Judging { case, bounds, t: Tally { tried: 1, ..Tally::default() } };
    match answer {
        Ok(proof) => judging.proved(&proof),
        Err(Failure::Withheld(w)) => {
            let names: Vec<&str> = w.hidden.iter().map(|h| h.name.as_str()).collect();
            judging.t.withheld.push(format!("{}: {}", case.what, names.join(", ")));
            judging.proved(&w.proof);
        }
        Err(Failure::Refuted(r)) => judging.refuted(&r),
        Err(Failure::Undecided(u)) => {
            let what = format!("{}; {}", u.obligation, u.tried.join("; "));
            match judging.walk().run() {
                Found::Restless => judging.t.restless.push(format!("{}: {what}", case.what)),
                found => judging.t.undecided.push(format!("{}: {found:?}: {what}", case.what)),
            }
        }
        Err(Failure::Refused(why @ Refusal::Mistake(_))) => judging.wrong(&why.to_string()),
        Err(other) => judging.t.refused.push(format!("{}: {other}", case.what)),
    }
    judging.t
}
