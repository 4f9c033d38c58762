//! Bounded comparison in one query over all events at once: the plain way, to compare with.
use crate::solver::Effort;

use super::Proof;
use super::search::{Search, Searched};

impl Proof {
    /// Asks the solver in one query whether any run of at most this many events tells the two apart, with the original's
    /// start given by the matching. Weaker than the proof, and slower: a second look, and a measure of what induction
    /// saves.
    ///
    /// # Errors
    /// If there is no matching, or the solver gives up.
    pub fn unrolled(&self, events: usize, effort: Effort) -> Result<bool, String> {
        let certificate = self.certificate.as_ref().ok_or("it was not proved by a matching")?;
        let mut search = Search::new(&certificate.pair, &[], effort);
        search.follow(&certificate.relation, &certificate.begins);
        match search.at_once(events) {
            Searched::Found(_) => Ok(false),
            Searched::NothingTo(_) => Ok(true),
            Searched::GaveUp(_, why) => Err(why),
        }
    }
}
