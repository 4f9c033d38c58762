//! The change that would mend a refuted replacement: single edits of it, and of the trace, that turn the refutation into a
//! proof.
//!
//! Runs that refute come first: a change that leaves one of them unexplained is dropped without a question to the
//! solver. What passes is proved, with the same assumptions, or is not named.
mod sieve;
#[cfg(test)]
mod tests;

use std::fmt;
use std::time::{Duration, Instant};

use crate::board::{Board, Library};
use crate::circuit::Origin;
use crate::edit::edits_by_line;
use crate::prove::{Failure, Proof, Question, Refutation};
use crate::solver::Effort;

use sieve::Sieve;

/// Where a change is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// In the replacement's source.
    Replacement,
    /// In the trace of the original: the trace is wrong, or the card was changed.
    Trace,
}

/// One change that makes the two equal.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Mend {
    /// Where it is made.
    pub place: Place,
    /// The change in words, as it reads after it was made.
    pub words: String,
    /// The line of the source or the row of the trace that it changes.
    pub origin: Origin,
    /// The proof with the change.
    pub proof: Proof,
}

impl fmt::Display for Mend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "proved equal if {}", self.words)?;
        match &self.origin {
            Origin::Nowhere => Ok(()),
            Origin::Line { line, .. } if self.place == Place::Replacement => write!(f, " (line {line})"),
            origin => write!(f, " ({origin})"),
        }
    }
}

/// What the search for a mend found.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Mends {
    /// The changes that were proved, likelier ones first.
    pub found: Vec<Mend>,
    /// Changes of the replacement that were tried.
    pub edits: usize,
    /// Changes of the trace that were tried.
    pub alterations: usize,
    /// Changes that passed every run and had to be asked about.
    pub asked: usize,
    /// Changes that could neither be proved nor refuted.
    pub undecided: usize,
    /// Whether the time was too short for all of them.
    pub cut_short: bool,
    /// How long it took.
    pub time: Duration,
}

/// More mends than this are not looked for: they are ways to write the same.
const MOST: usize = 6;

/// How long a search may take, unless it is told otherwise.
pub const WITHIN: Duration = Duration::from_secs(10);

impl Refutation {
    /// Searches for the single change of the replacement that would mend it, for no longer than `within`.
    pub fn mend(&self, within: Duration) -> Mends {
        self.search(None, None, within)
    }

    /// The same, and for the single change of the trace that would: `board` must be what was proved against. With a
    /// `library`, neighbouring types are tried too.
    pub fn mend_with_trace(&self, board: &Board, library: Option<&dyn Library>, within: Duration) -> Mends {
        self.search(Some(board), library, within)
    }

    fn search(&self, board: Option<&Board>, library: Option<&dyn Library>, within: Duration) -> Mends {
        let began = Instant::now();
        let question = &*self.evidence.question;
        let mut mends = Mends::default();
        let mut search = Search {
            sieve: Sieve::new(question, self),
            question: question
                .clone()
                .to_depth(6)
                .walking(1 << 14)
                .within(Effort { milliseconds: 500, ..question.effort() }),
            ends: began + within,
            mends: &mut mends,
        };
        search.edits(self);
        if let Some(board) = board {
            search.alterations(board, library);
        }
        mends.time = began.elapsed();
        mends
    }
}

struct Search<'m> {
    sieve: Sieve,
    question: Question,
    ends: Instant,
    mends: &'m mut Mends,
}

impl Search<'_> {
    fn is_over(&mut self) -> bool {
        let over = Instant::now() >= self.ends;
        self.mends.cut_short |= over;
        over
    }

    fn edits(&mut self, refutation: &Refutation) {
        let replacement = self.question.replacement().clone();
        let mut edits = edits_by_line(&replacement);
        // what the chain of cause named comes first, then the kinds in the order of their list
        let named: Vec<Origin> = refutation.named_lines();
        edits.sort_by_key(|e| (!named.contains(&e.origin), e.kind));
        let mut found = Vec::new();
        for edit in &edits {
            if found.len() >= MOST || self.is_over() {
                break;
            }
            self.mends.edits += 1;
            let changed = edit.apply(&replacement);
            if self.sieve.refutes_replacement(&changed) {
                continue;
            }
            if let Some(proof) = self.ask(&self.question.clone().about(changed)) {
                let (words, origin) = (edit.words().to_owned(), edit.origin.clone());
                found.push(Mend { place: Place::Replacement, words, origin, proof });
            }
        }
        self.mends.found.append(&mut found);
    }

    fn alterations(&mut self, board: &Board, library: Option<&dyn Library>) {
        let mut found = Vec::new();
        for alteration in board.alterations(library) {
            if found.len() >= MOST || self.is_over() {
                break;
            }
            self.mends.alterations += 1;
            let Some(changed) = board.altered(&alteration, library) else { continue };
            let Ok(original) = changed.circuit() else { continue };
            if self.sieve.refutes_original(&original) {
                continue;
            }
            if let Some(proof) = self.ask(&self.question.clone().against(original)) {
                let (words, origin) = (alteration.words.clone(), alteration.origin.clone());
                found.push(Mend { place: Place::Trace, words, origin, proof });
            }
        }
        self.mends.found.append(&mut found);
    }

    fn ask(&mut self, question: &Question) -> Option<Proof> {
        self.mends.asked += 1;
        match question.ask() {
            Ok(proof) => Some(proof),
            Err(Failure::Refuted(r)) => {
                self.sieve.learn(&r);
                None
            }
            Err(Failure::Undecided(_)) => {
                self.mends.undecided += 1;
                None
            }
            Err(_) => None,
        }
    }
}

impl Refutation {
    /// The lines that the chain of cause in the replacement names.
    fn named_lines(&self) -> Vec<Origin> {
        let causes = self.explain().probes.into_iter().flat_map(|p| p.replacement_why);
        causes.map(|c| c.origin).filter(|o| *o != Origin::Nowhere).collect()
    }
}

impl fmt::Display for Mends {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tried = match (self.edits, self.alterations) {
            (edits, 0) => format!("{edits} single changes of the replacement"),
            (edits, alterations) => format!("{edits} single changes of the replacement and {alterations} of the trace"),
        };
        let time = self.time.as_secs_f64();
        let asked = match self.asked {
            0 => String::new(),
            n => format!(", {n} of them by proof"),
        };
        match self.found.is_empty() {
            true => writeln!(f, "No single change mends it: {tried} were tried in {time:.1} s{asked}.")?,
            false => writeln!(f, "What would mend it ({tried} were tried in {time:.1} s{asked}):")?,
        }
        for mend in self.found.iter().filter(|m| m.place == Place::Replacement) {
            writeln!(f, "  {mend}")?;
        }
        let trace: Vec<_> = self.found.iter().filter(|m| m.place == Place::Trace).collect();
        if !trace.is_empty() {
            writeln!(f, "Or, if the source is right and the trace is not (look at the card before you believe it):")?;
        }
        for mend in trace {
            writeln!(f, "  {mend}")?;
        }
        if self.undecided > 0 {
            writeln!(f, "  {} changes could be neither proved nor refuted", self.undecided)?;
        }
        if self.cut_short {
            writeln!(f, "  the time was too short for all of them")?;
        }
        Ok(())
    }
}
