//! What can be wrong with a trace, beyond what its single rows say.
mod floating;
mod nets;
mod packages;
mod refused;
mod untraced;

pub(super) use refused::refusals;

use std::cell::OnceCell;

use super::Board;
use super::compose::{Composed, compose};
use super::finding::{Finding, FindingKind, Findings, Subject, list};
use super::nets::Use;

/// Runs all checks.
pub(super) fn all(board: &Board, findings: &mut Findings) {
    let composed = Late { board, circuit: OnceCell::new() };
    packages::check(board, findings);
    nets::check(board, &composed, findings);
    floating::check(board, &composed, findings);
    untraced::check(board, findings);
    for refusal in refusals(board) {
        findings.push(refusal);
    }
    for package in &board.packages {
        let Some(part) = package.chip() else { continue };
        for doubt in part.doubts() {
            let message = format!("{}: {doubt}", package.called());
            let note = Finding::note(FindingKind::Doubt, &package.origin, message, "");
            let after = format!(" ({}): {doubt}", part.name());
            findings.push(note.about([Subject::Package(package.reference.clone())]).folding(2, "", after));
        }
    }
}

/// The board as a circuit, made when a check first asks for it.
struct Late<'b> {
    board: &'b Board,
    circuit: OnceCell<Composed>,
}

impl Late<'_> {
    fn get(&self) -> &Composed {
        self.circuit.get_or_init(|| compose(self.board))
    }
}

/// A pin on a net, for those who ask what a finding is about.
fn subject(board: &Board, used: Use) -> Option<Subject> {
    let package = board.packages.get(used.package)?;
    Some(package.subject(&package.pins.get(used.pin)?.label))
}

/// `pin` or `pins`.
fn pins(count: usize) -> &'static str {
    if count == 1 { "pin" } else { "pins" }
}
