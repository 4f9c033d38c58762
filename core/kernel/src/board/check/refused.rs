//! Parts that settled logic can't stand for: named in a trace, refused in a proof.
use super::super::Board;
use super::super::finding::{Finding, FindingKind, Subject, shown};
use super::super::library::Behaviour;
use super::super::package::{Fitted, Package};
use super::super::vocabulary::{Passive, Wire};
use super::list;
use crate::circuit::Pull;

/// One finding for each part that a proof refuses.
pub(in super::super) fn refusals(board: &Board) -> Vec<Finding> {
    board.packages.iter().filter_map(|package| refusal(board, package)).collect()
}

fn refusal(board: &Board, package: &Package) -> Option<Finding> {
    let (why, mend) = match &package.fitted {
        Fitted::Chip(part) => match part.behaviour() {
            Behaviour::Logic => return None,
            Behaviour::Refused { why, mend } => (why.clone(), mend.clone()),
        },
        Fitted::Passive(Passive::Foreign(foreign)) => (foreign.why().to_owned(), foreign.mend().to_owned()),
        Fitted::Passive(Passive::Capacitor { ignored }) => return capacitor(board, package, *ignored),
        _ => return None,
    };
    let nets = signals(board, package);
    let on = if nets.is_empty() { String::new() } else { format!(" (on {})", list(nets)) };
    let message = format!("{}{on} is refused in a proof: {why}", package.called());
    let warning = Finding::warning(FindingKind::NotLogic, &package.origin, message, mend);
    let warning = warning.about([Subject::Package(package.reference.clone())]);
    Some(warning.folding(4, "", format!(" are refused in a proof: {why}")))
}

/// The nets that it touches and that are no rails.
fn signals(board: &Board, package: &Package) -> Vec<String> {
    let mut nets: Vec<String> = Vec::new();
    for pin in &package.pins {
        let Wire::Net(name) = &pin.wire else { continue };
        let net = board.nets.get(name).filter(|net| net.supply.is_none()).map(|net| shown(&net.name));
        nets.extend(net.filter(|net| !nets.contains(net) && nets.len() < 20));
    }
    nets
}

/// Between rails a capacitor means nothing to logic; on a signal it makes a delay or a pulse.
fn capacitor(board: &Board, package: &Package, ignored: bool) -> Option<Finding> {
    let [a, b] = &package.pins[..] else {
        let message = format!("{} has a row for one of its pins only", package.called());
        let mend = "write where both go: a net, `open` if it was measured open, `untraced` if nobody has looked";
        let polarised = package.pins.iter().any(|pin| ["+", "-"].contains(&pin.label.as_str()));
        let on_rail = package.pins.iter().all(|pin| match &pin.wire {
            Wire::Net(name) => board.nets.get(name).is_some_and(|net| net.supply.is_some()),
            Wire::Open | Wire::Untraced => false,
        });
        if polarised && on_rail {
            let note = Finding::note(FindingKind::Ignored, &package.origin, message, "");
            let note = note.about([Subject::Package(package.reference.clone())]);
            return Some(note.folding(2, "polarised capacitors with a row for one pin, on a rail: ", ""));
        }
        return Some(Finding::error(FindingKind::Row, &package.origin, message, mend));
    };
    let (Wire::Net(a), Wire::Net(b)) = (&a.wire, &b.wire) else { return None };
    let (x, y) = (board.nets.find(a)?, board.nets.find(b)?);
    let nets: Vec<_> =
        [x, y].iter().filter_map(|&at| board.nets.all().get(at)).filter(|net| net.supply.is_none()).collect();
    let signal = nets.first().filter(|_| x != y)?;
    let name = shown(&signal.name);
    if ignored {
        let message = format!("{} on {name} is taken to mean nothing to logic, as the trace says", package.called());
        return Some(Finding::note(FindingKind::Ignored, &package.origin, message, ""));
    }
    let with = if nets.iter().any(|net| net.pull != Pull::None) { " with the resistor that is there" } else { "" };
    let message = format!(
        "{} on {name} is refused in a proof: it makes a delay or a pulse{with}, and settled logic has no time",
        package.called()
    );
    let mend = format!(
        "make {name} a contact and put # before the rows of {}; or write `{} ignored` if it only keeps noise away",
        package.reference, package.part
    );
    let warning = Finding::warning(FindingKind::NotLogic, &package.origin, message, mend);
    let warning = warning.about([Subject::Package(package.reference.clone())]);
    let after =
        " are capacitors on signals, refused in a proof: they make delays or pulses, and settled logic has no time";
    Some(warning.folding(4, "", after))
}
