//! After a refutation: the single change that would mend it.
use gluewright_analysis::mend::Mending;
use gluewright_analysis::mend::{Mends, Work};
use gluewright_kernel::board::Board;
use gluewright_kernel::prove::Failure;

use super::error::{JobError, Of};

/// Searches, with so many times the usual work, for what would mend a refuted source; nothing for any other error.
pub(super) fn search(error: &JobError, card: Option<&Board>, times: u32) -> Option<Mends> {
    let (JobError::Proof { of: Of::Source | Of::Boundary(_), failure: Failure::Refuted(r) }, Some(card)) =
        (error, card)
    else {
        return None;
    };
    (times > 0).then(|| r.mend_with_trace(card, Work::times(times)))
}

#[cfg(test)]
mod tests {
    use super::super::explained;
    use super::super::options::Options;
    use super::*;
    use clap::Parser;
    use gluewright_kernel::board::{Library, Part};

    struct NoParts;

    impl Library for NoParts {
        fn part(&self, _: &str) -> Option<Part> {
            None
        }

        fn names(&self) -> Vec<String> {
            Vec::new()
        }
    }

    #[test]
    fn the_command_line_says_how_hard_to_look() {
        let effort = |arguments: &[&str]| {
            Options::try_parse_from(["wire"].iter().chain(arguments)).map(|o| o.mend_effort).map_err(|e| e.to_string())
        };
        assert_eq!(effort(&[]), Ok(1));
        assert_eq!(effort(&["--mend-effort", "0"]), Ok(0));
        assert!(effort(&["--mend-effort", "lots"]).is_err_and(|e| e.contains("--mend-effort")));

        let card = Board::builder("wire").contacts("J1", [(1, "a"), (2, "y")]).finish(&NoParts).unwrap();
        let error = JobError::Proof { of: Of::Source, failure: explained::tests::refuted() };
        assert!(search(&error, Some(&card), 0).is_none());
        let mends = search(&error, Some(&card), 1).unwrap();
        assert!(!mends.found.is_empty(), "{mends}");
    }
}
