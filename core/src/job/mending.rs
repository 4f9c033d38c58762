//! After a refutation: the single change that would mend it.
use std::fmt;

use crate::board::{Board, Library};
use crate::mend::{self, Mends};
use crate::prove::Failure;

use super::JobError;

/// The parts that may stand in the place of those of the trace.
#[derive(Clone, Copy, Default)]
pub(super) struct Parts(pub(super) Option<&'static dyn Library>);

impl fmt::Debug for Parts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Parts(…)" } else { "Parts" })
    }
}

/// Searches for what would mend a refuted source; nothing for any other error.
pub(super) fn search(error: &JobError, card: Option<&Board>, parts: Parts) -> Option<Mends> {
    let (JobError::Proof { what: "", failure: Failure::Refuted(r) }, Some(card)) = (error, card) else { return None };
    Some(r.mend_with_trace(card, parts.0, mend::WITHIN))
}
