//! What is marked as not yet traced, unknown or empty: said once for each, so that nobody takes the card for whole.
use super::super::Board;
use super::super::finding::{Finding, FindingKind, Findings, Subject, shown};
use super::super::package::Fitted;
use super::{list, pins};

const MEND: &str = "a proof leaves out the contacts that this reaches";

pub(super) fn check(board: &Board, findings: &mut Findings) {
    for package in &board.packages {
        let what = match &package.fitted {
            Fitted::Unknown => Some("is of unknown type"),
            Fitted::Empty => Some("is an empty position; if nothing belongs there take its rows out"),
            _ => None,
        };
        if let Some(what) = what {
            let message = format!("{} {what}", shown(&package.reference));
            findings.push(Finding::warning(FindingKind::Untraced, &package.origin, message, MEND));
        }
        let (waiting, origin) = package.waiting();
        if !waiting.is_empty() {
            let message = format!(
                "{}: {} {} not yet traced",
                package.called(),
                pins(waiting.len()),
                list(waiting.iter().map(|label| label.to_string()).collect())
            );
            findings.push(Finding::warning(FindingKind::Untraced, &origin, message, MEND));
        }
    }
    for net in board.nets.all() {
        if let Some((why, origin)) = &net.untraced {
            let message = format!("{} is not fully traced: {why}", shown(&net.name));
            let note =
                Finding::note(FindingKind::Untraced, origin, message, "").about([Subject::Net(net.name.clone())]);
            findings.push(note.folding(4, "", format!(" are not fully traced: {why}")));
        }
    }
}
