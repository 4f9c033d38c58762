//! The whole board around packages that are replaced: asked where their boundary does not suffice.
use gluewright_kernel::board::{Board, Remainder};
use gluewright_kernel::circuit::{Circuit, Label, Landing};
use gluewright_kernel::prove::{Failure, Proof, Question, Refusal};

use super::JobError;
use super::error::Of;
use super::finding::Finding;
use super::lay::{Begun, free_reference};
use super::made::Package;

/// A board of which some packages are replaced.
#[derive(Clone, Debug)]
pub(super) struct Around {
    pub(super) board: Board,
    pub(super) packages: Vec<String>,
}

/// The same job in the whole board.
struct Whole {
    original: Circuit,
    remainder: Remainder,
    question: Question,
}

impl Around {
    /// The question about the whole board: on both sides the packages that stay are the same ones.
    fn whole(&self, replacement: &Circuit, question: &Question) -> Result<Whole, String> {
        let words = |e: &dyn std::error::Error| e.to_string();
        let original = self.board.circuit().map_err(|e| words(&e))?;
        let cluster = self.board.replacing(&self.packages).map_err(|e| words(&e))?;
        let staying: Vec<&String> = cluster.kept.iter().map(|(reference, _)| reference).collect();
        let remainder = self.board.keeping(&staying).map_err(|e| words(&e))?;
        let of = |label: &Label| {
            let net = &cluster.joints.iter().find(|joint| joint.label == *label)?.net;
            let joint = remainder.joints.iter().find(|joint| joint.net == *net && joint.label == *label)?;
            remainder.nets.iter().find(|(label, _)| *label == joint.label).map(|&(_, net)| net)
        };
        if let Some(lost) = replacement.contacts().iter().find(|c| of(&c.label).is_none()) {
            return Err(format!("the net of {} is none between logic or contacts", lost.label));
        }
        let placed = remainder
            .with(&free_reference(&self.board), replacement, |label| of(label).map_or(Landing::Open, Landing::Net));
        let mut question = question.clone().around(original.clone(), placed).staying(remainder.names());
        for untraced in self.board.untraced() {
            question = question.untraced(untraced.net, untraced.why);
        }
        Ok(Whole { original, remainder, question })
    }
}

impl Begun {
    /// Proves the source at its contacts; if it stands in for packages of a board and their boundary does not suffice, in the
    /// whole board, with what is to be said of that. The job is then one of the whole board.
    pub(super) fn prove_source(&mut self) -> Result<(Proof, Option<Finding>), JobError> {
        let failure = match self.question.ask() {
            Ok(proof) => return Ok((proof, None)),
            Err(failure) => failure,
        };
        // a name that is acknowledged may be one of the whole board
        let may_hold = match &failure {
            Failure::Refuted(_)
            | Failure::Undecided(_)
            | Failure::Withheld(_)
            | Failure::Refused(Refusal::Acknowledgement(_)) => true,
            Failure::InPart(_) | Failure::Refused(_) => false,
        };
        let Some(around) = self.around.take().filter(|_| may_hold) else {
            return Err(JobError::Proof { of: Of::Source, failure });
        };
        if self.is_split() {
            let why =
                "devices of a split are proved at the boundary only, and not beside packages that stay".to_owned();
            return Err(JobError::Proof { of: Of::Boundary(why), failure });
        }
        let mut whole = match around.whole(&self.replacement, &self.question) {
            Ok(whole) => whole,
            Err(why) => return Err(JobError::Proof { of: Of::Boundary(why), failure }),
        };
        match whole.question.ask() {
            Ok(proof) => {
                let finding = Finding::InWholeBoard {
                    replaced: whole.remainder.replaced.clone(),
                    staying: whole.remainder.kept.clone(),
                    boundary: failure.to_string(),
                };
                self.board = around.board;
                self.original = whole.original;
                self.question = whole.question;
                // what is left to the device is what the source says, and not what the trace does
                whole.remainder.rest.clone_from(&self.replacement);
                self.remainder = Some(whole.remainder);
                Ok((proof, Some(finding)))
            }
            Err(in_board @ (Failure::Refuted(_) | Failure::Withheld(_) | Failure::InPart(_))) => {
                Err(JobError::Proof { of: Of::Board, failure: in_board })
            }
            Err(open) => Err(JobError::Proof { of: Of::Boundary(open.to_string()), failure }),
        }
    }
}

/// `U1 (74LS00), U2 (74LS04)`.
pub(super) fn listed(packages: &[Package]) -> String {
    packages.iter().map(|(r, p)| format!("{r} ({p})")).collect::<Vec<_>>().join(", ")
}
