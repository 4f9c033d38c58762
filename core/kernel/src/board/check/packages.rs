//! Checks of single packages: power pins, and pins that the trace leaves out or leaves open.
use super::super::Board;
use super::super::finding::{Finding, FindingKind, Findings, Subject, shown};
use super::super::library::{Part, PinRole};
use super::super::package::{Fitted, Package};
use super::super::vocabulary::{Supply, Wire};
use super::{list, pins};
use crate::circuit::{Label, Origin, Rail};

pub(super) fn check(board: &Board, findings: &mut Findings) {
    for package in &board.packages {
        if let Some(part) = package.chip() {
            power(board, package, part, findings);
            left_out(package, findings);
        }
    }
    let has_contacts = board.packages.iter().any(|p| matches!(p.fitted, Fitted::Contacts));
    if !has_contacts && !board.nets.all().iter().any(|net| net.boundary.is_some()) {
        let message = "the trace has no contacts, so there is nothing to compare".to_owned();
        let mend = "give the socket's contacts rows whose part is `contacts`: `J1,contacts,1,clk`";
        findings.push(Finding::warning(FindingKind::NoContacts, &Origin::Nowhere, message, mend));
    }
}

fn called(rail: Rail) -> &'static str {
    match rail {
        Rail::Vcc => "VCC",
        Rail::Gnd => "GND",
    }
}

fn power(board: &Board, package: &Package, part: &Part, findings: &mut Findings) {
    for (label, role) in part.pins() {
        let PinRole::Supply(rail) = role else { continue };
        let (who, name) = (format!("{} pin {label}", package.called()), called(rail));
        let mend = format!("write `{},{},{label},{name}` once you have measured it", package.reference, package.part);
        let (wire, origin) = match (package.pin(label), &package.others) {
            (Some(pin), _) => (Some(&pin.wire), &pin.origin),
            (None, Some((wire, origin))) => (Some(wire), origin),
            (None, None) => (None, &package.origin),
        };
        match wire {
            None if board.reading.has_printed_supplies() => {
                let message = format!("{who} has no row and is on {name}, as its data sheet prints it");
                let note = Finding::note(FindingKind::PrintedSupply, origin, message, "");
                let after = ": their supply pins have no rows and are on VCC and GND as their data sheets print them";
                findings.push(note.about([Subject::Package(package.reference.clone())]).folding(2, "", after));
            }
            None => {
                let message = format!("{who} is {name} and has no row");
                findings.push(Finding::error(FindingKind::PowerMissing, origin, message, mend));
            }
            Some(Wire::Open) => {
                let message = format!("{who} is {name} and is marked open");
                findings.push(Finding::error(FindingKind::PowerMissing, origin, message, mend));
            }
            // reported with all that is not yet traced
            Some(Wire::Untraced) => {}
            Some(Wire::Net(net)) => {
                let on = board.nets.get(net).and_then(|n| n.supply);
                if on != Some(if rail == Rail::Vcc { Supply::Vcc } else { Supply::Gnd }) {
                    let message = format!("{who} is {name} and is on {}", shown(net));
                    let mend = "is the package counted from the wrong end, or the type number another one?";
                    findings.push(Finding::error(FindingKind::PowerWrong, origin, message, mend));
                }
            }
        }
    }
}

/// Pins without a row, when no row `others` speaks of them.
fn left_out(package: &Package, findings: &mut Findings) {
    if package.others.is_some() {
        return;
    }
    let missing = |wanted: fn(PinRole) -> bool| -> Vec<&Label> {
        package.pins_without_row().filter(|&(_, role)| wanted(role)).map(|(label, _)| label).collect()
    };
    let outputs = missing(|role| matches!(role, PinRole::Output(_) | PinRole::InOut(_)));
    if !outputs.is_empty() {
        let message = format!(
            "{}: output {} {} left out of the trace and taken as open",
            package.called(),
            pins(outputs.len()),
            list(outputs.iter().map(|label| label.to_string()).collect())
        );
        let mend = "measure, then write their nets, or `open` where nothing is joined (`others` for all of them)";
        let warning = Finding::warning(FindingKind::PinLeftOut, &package.origin, message, mend);
        let warning = warning.about(outputs.iter().map(|label| package.subject(label)));
        findings.push(warning.folding(4, "outputs left out of the trace and taken as open: ", ""));
    }
}
