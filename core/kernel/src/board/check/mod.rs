//! What can be wrong with a trace, beyond what its single rows say.
mod nets;
mod packages;
mod refused;
mod untraced;

pub(super) use refused::refusals;

use super::Board;
use super::finding::{Finding, FindingKind, Findings};

/// Runs all checks.
pub(super) fn all(board: &Board, findings: &mut Findings) {
    packages::check(board, findings);
    nets::check(board, findings);
    untraced::check(board, findings);
    for refusal in refusals(board) {
        findings.push(refusal);
    }
    for package in &board.packages {
        for doubt in package.chip().into_iter().flat_map(|part| part.doubts()) {
            let message = format!("{}: {doubt}", package.called());
            findings.push(Finding::note(FindingKind::Doubt, &package.origin, message, ""));
        }
    }
}

/// `1, 2 and 5`, and how many more there are if there are many.
fn list(mut of: Vec<String>) -> String {
    const SHOWN: usize = 8;
    let more = of.len().saturating_sub(SHOWN);
    if more > 0 {
        of.truncate(SHOWN);
        return format!("{} and {more} more", of.join(", "));
    }
    match of.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => of.concat(),
    }
}

/// `pin` or `pins`.
fn pins(count: usize) -> &'static str {
    if count == 1 { "pin" } else { "pins" }
}
