//! Inputs that nothing drives because nothing else is on their net: what they read, and whether it matters.
use std::collections::HashMap;

use super::super::Board;
use super::super::finding::{Finding, FindingKind, Findings, Subject, shown};
use super::super::library::PinRole;
use super::super::package::Package;
use super::super::vocabulary::Wire;
use super::{Late, list, pins};
use crate::circuit::{Label, Origin};
use crate::figures::OpenInput;

/// How it comes that inputs are open.
#[derive(Clone, Debug, PartialEq, Eq)]
enum How {
    Open,
    LeftOut,
    /// On this net, and nothing else is.
    Alone(String),
}

/// Inputs of one package that are open in one way.
struct Floating<'b> {
    package: &'b Package,
    labels: Vec<Label>,
    how: How,
    origin: Origin,
}

pub(super) fn check(board: &Board, composed: &Late<'_>, findings: &mut Findings) {
    let all: Vec<(usize, Floating<'_>)> = board
        .packages
        .iter()
        .enumerate()
        .flat_map(|(at, package)| floating_of(board, package).into_iter().map(move |floating| (at, floating)))
        .collect();
    if all.is_empty() {
        return;
    }
    let composed = composed.get();
    let read = composed.circuit.read_nets();
    let open: HashMap<(usize, &Label), bool> = composed
        .open
        .iter()
        .map(|(package, label, net)| ((*package, label), read.get(net.index()) != Some(&false)))
        .collect();
    for (at, floating) in all {
        let matters = |label: &Label| match &floating.how {
            How::Alone(net) => board
                .nets
                .find(net)
                .and_then(|at| composed.nets.get(at).copied().flatten())
                .is_none_or(|id| read.get(id.index()) != Some(&false)),
            // a part without logic may read anything
            How::Open | How::LeftOut => open.get(&(at, label)).copied().unwrap_or(true),
        };
        let (matter, idle): (Vec<Label>, Vec<Label>) = floating.labels.iter().cloned().partition(matters);
        if !idle.is_empty() {
            findings.push(without_effect(floating.package, &idle, &floating.origin));
        }
        if !matter.is_empty() {
            findings.push(said(&Floating { labels: matter, ..floating }));
        }
    }
}

/// The open inputs of a package, sorted by how they are open.
fn floating_of<'b>(board: &Board, package: &'b Package) -> Vec<Floating<'b>> {
    let Some(part) = package.chip() else { return Vec::new() };
    let mut all = Vec::new();
    for pin in package.pins.iter().filter(|pin| part.pin(&pin.label) == Some(PinRole::Input)) {
        let how = match &pin.wire {
            Wire::Open => How::Open,
            Wire::Net(name) => match board.nets.get(name) {
                Some(net) if net.uses.len() == 1 && net.supply.is_none() && net.untraced.is_none() => {
                    How::Alone(net.name.clone())
                }
                _ => continue,
            },
            Wire::Untraced => continue,
        };
        all.push(Floating { package, labels: vec![pin.label.clone()], how, origin: pin.origin.clone() });
    }
    let rest = package.pins_without_row().filter(|&(_, role)| role == PinRole::Input);
    let labels: Vec<Label> = rest.map(|(label, _)| label.clone()).collect();
    let (how, origin) = match &package.others {
        None => (How::LeftOut, &package.origin),
        Some((Wire::Open, origin)) => (How::Open, origin),
        Some(_) => return all,
    };
    if !labels.is_empty() {
        all.push(Floating { package, labels, how, origin: origin.clone() });
    }
    all
}

fn about(package: &Package, labels: &[Label]) -> Vec<Subject> {
    labels.iter().map(|label| package.subject(label)).collect()
}

/// Inputs whose level makes no difference as their package is wired: data of a counter whose load is tied off.
fn without_effect(package: &Package, labels: &[Label], origin: &Origin) -> Finding {
    let named = list(labels.iter().map(Label::to_string).collect());
    let message = format!(
        "{}: open input {} {named} {} no effect as the package is wired",
        package.called(),
        pins(labels.len()),
        if labels.len() == 1 { "has" } else { "have" },
    );
    let note = Finding::note(FindingKind::IdleInput, origin, message, "").about(about(package, labels));
    note.folding(2, "open inputs that have no effect as their packages are wired: ", "")
}

fn said(floating: &Floating<'_>) -> Finding {
    let Floating { package, labels, how, origin } = floating;
    let is_cmos = package.chip().is_some_and(|part| part.open_inputs() == OpenInput::Unknown);
    let one = labels.len() == 1;
    let is_low = package.chip().is_some_and(|part| part.open_inputs() == OpenInput::Low);
    let reads = match (is_cmos, one) {
        _ if is_low => "reads low, by a resistor inside",
        (false, true) => "reads high (common practice, no source)",
        (false, false) => "read high (common practice, no source)",
        (true, true) => "reads what nobody knows: an input of CMOS must be driven",
        (true, false) => "read what nobody knows: inputs of CMOS must be driven",
    };
    let named = list(labels.iter().map(Label::to_string).collect());
    let (is, word) = (if one { "is" } else { "are" }, pins(labels.len()));
    let (message, mend) = match how {
        How::Alone(net) => (
            format!(
                "{} is alone on {} and {reads}",
                package.pin_called(labels.first().unwrap_or(&Label::from(0))),
                shown(net)
            ),
            "most likely a pin of this net is missing in the trace, or two names stand for one net",
        ),
        How::Open | How::LeftOut => (
            format!(
                "{}: input {word} {named} {is} {} and {reads}",
                package.called(),
                if *how == How::Open { "open" } else { "left out of the trace" },
            ),
            match is_cmos {
                false => "measure again: few cards leave an input of TTL floating on purpose",
                true => "measure again: an open input of CMOS is a fault of the card or of the trace",
            },
        ),
    };
    let before = match (how, is_cmos) {
        (How::Alone(_), false) => "inputs that are alone on their nets and read high (common practice, no source): ",
        (How::Alone(_), true) => "inputs of CMOS that are alone on their nets, so that nobody knows what they read: ",
        (_, false) => "open inputs, which read high (common practice, no source): ",
        (_, true) => "open inputs of CMOS, so that nobody knows what they read: ",
    };
    let warning = Finding::warning(FindingKind::FloatingInput, origin, message, mend);
    let mut subjects = about(package, labels);
    if let How::Alone(net) = how {
        subjects.push(Subject::Net(net.clone()));
    }
    warning.about(subjects).folding(4, before, "")
}
