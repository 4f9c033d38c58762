//! Parts that settled logic can't stand for: named in a trace, refused in a proof.
use super::super::Board;
use super::super::finding::{Finding, FindingKind, Subject, shown};
use super::super::library::Behaviour;
use super::super::package::{Fitted, Package};
use super::super::reset::Begins;
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
        Fitted::Passive(Passive::Capacitor { ignored, .. }) => return capacitor(board, package, *ignored),
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

/// What a resistor and a capacitor do when power comes on.
fn power_up(package: &Package, name: &str, held_high: bool, begins: &Begins) -> String {
    let level = |high: bool| if high { "high" } else { "low" };
    let mut text = format!("{} with its resistor holds {name} {} at power-up", package.called(), level(held_high));
    let starts: Vec<String> = begins.names.iter().map(|(name, high)| format!("{name} {}", level(*high))).collect();
    match starts.is_empty() {
        true => text.push_str(", which resets nothing that holds a level"),
        false => text.push_str(&format!(": the card starts with {}", list(starts))),
    }
    if let Some([least, most]) = begins.lasts {
        text.push_str(&format!("; that lasts {} to {} after the supply stands", time(least), time(most)));
    }
    text.push_str(". The proof begins when it has ended: until then the board must give the card nothing to do");
    if !begins.plain.is_empty() {
        text.push_str(&format!(
            ". {} has no Schmitt trigger: at so slow an edge its output may change several times",
            list(begins.plain.clone())
        ));
    }
    text
}

/// `36 ms`, `4.7 µs`.
fn time(seconds: f64) -> String {
    let (value, unit) = match seconds {
        s if s >= 1.0 => (s, "s"),
        s if s >= 1e-3 => (s * 1e3, "ms"),
        s if s >= 1e-6 => (s * 1e6, "µs"),
        s => (s * 1e9, "ns"),
    };
    let digits = if value >= 10.0 { 1.0 } else { 10.0 };
    format!("{} {unit}", (value * digits).round() / digits)
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
    let late = board.late(package);
    let begins = late.as_ref().map(|late| board.begins(late));
    let about = |finding: Finding| finding.about([Subject::Package(package.reference.clone())]);
    if let Some(Ok(Begins { names, .. })) = &begins
        && ignored
        && !names.is_empty()
    {
        let message = format!(
            "{} on {name} is taken to mean nothing to logic, as the trace says; but at power-up it resets the card, and where \
             that starts is then not compared",
            package.called()
        );
        let mend = "leave `ignored` out, so that a replacement that starts elsewhere is refuted";
        return Some(about(Finding::warning(FindingKind::PowerUp, &package.origin, message, mend)));
    }
    if ignored {
        let message = format!("{} on {name} is taken to mean nothing to logic, as the trace says", package.called());
        return Some(Finding::note(FindingKind::Ignored, &package.origin, message, ""));
    }
    if let (Some(late), Some(Ok(begins))) = (&late, &begins) {
        let message = power_up(package, &name, late.held_high, begins);
        return Some(about(Finding::note(FindingKind::PowerUp, &package.origin, message, "")));
    }
    if let Some(Err(why)) = begins {
        let message = format!(
            "{} on {name} is refused in a proof: with the resistor there it resets the card at power-up, but {why}",
            package.called()
        );
        let mend = format!(
            "make {name} a contact and put # before the rows of {}: then the proof covers every time at which it comes, and the \
             reset stays on the board",
            package.reference
        );
        return Some(about(Finding::warning(FindingKind::NotLogic, &package.origin, message, mend)));
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
