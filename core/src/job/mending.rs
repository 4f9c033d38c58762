//! After a refutation: the single change that would mend it.
use crate::board::Board;
use crate::mend::{Mends, Work};
use crate::prove::Failure;

use super::JobError;

/// Searches, with so many times the usual work, for what would mend a refuted source; nothing for any other error.
pub(super) fn search(error: &JobError, card: Option<&Board>, times: u32) -> Option<Mends> {
    let (JobError::Proof { what: "", failure: Failure::Refuted(r) }, Some(card)) = (error, card) else { return None };
    (times > 0).then(|| r.mend_with_trace(card, Work::times(times)))
}
