//! What came of a check, in words and in figures.
use std::collections::BTreeMap;
use std::fmt;

use crate::sat::Counts;

/// What came of a check.
#[derive(Clone, Debug, Default)]
pub struct Verdict {
    /// What does not hold; nothing if the claim stands.
    pub objections: Vec<String>,
    /// Orders of changes that the proof follows and this checker does not, if all objections may come of them.
    pub orders: Vec<String>,
    /// What is taken on the user's word or on trust.
    pub taken: Vec<String>,
    /// What nobody knows of the original, where a choice was made in the replacement's favour.
    pub chosen: Vec<String>,
    /// Obligations, by kind: initial, step, output, rest, settles.
    pub obligations: BTreeMap<&'static str, usize>,
    /// Questions to the solver, its proofs that were checked, and lemmas in them.
    pub counts: Counts,
    /// What was done.
    pub figures: Vec<String>,
}

impl Verdict {
    /// Whether the claim stands.
    pub fn stands(&self) -> bool {
        self.objections.is_empty()
    }

    /// Adds an objection.
    pub fn objects(&mut self, why: impl Into<String>) {
        self.objections.push(why.into());
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (head, lines) in [
            ("Objections:", &self.objections),
            ("Orders of changes that the proof follows, as measured or by typical delays:", &self.orders),
            ("Taken on the word of the user, or on trust:", &self.taken),
            ("Where the sheets leave the original a choice, it was taken to do this:", &self.chosen),
            ("Done:", &self.figures),
        ] {
            if !lines.is_empty() {
                writeln!(f, "{head}")?;
                lines.iter().try_for_each(|line| writeln!(f, "  {line}"))?;
            }
        }
        f.write_str(match (self.stands(), self.orders.is_empty()) {
            (true, _) => "The claim stands: whatever the replacement shows at the contacts the original could show.\n",
            (_, true) => "The claim does not stand.\n",
            _ => "Not judged: the objections may come of orders of changes that this checker does not follow.\n",
        })
    }
}
