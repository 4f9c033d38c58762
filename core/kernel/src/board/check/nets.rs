//! Checks of nets: who drives them, who reads them, and who fights.
use std::collections::BTreeMap;

use super::super::Board;
use super::super::compose::{Composed, compose};
use super::super::finding::{Finding, FindingKind, Findings, shown};
use super::super::library::PinRole;
use super::super::nets::{Net, Role, Use};
use super::super::package::Fitted;
use super::super::vocabulary::{Passive, Supply};
use super::list;
use crate::circuit::{Origin, Pull, Stage};

pub(super) fn check(board: &Board, findings: &mut Findings) {
    let mut composed = None;
    for (at, net) in board.nets.all().iter().enumerate() {
        match net.supply {
            Some(supply) => rail(board, net, supply, findings),
            None => {
                contacts(board, net, findings);
                several_drivers(board, (at, net), &mut composed, findings);
                nobody_drives(board, net, findings);
                single_pin(board, net, findings);
            }
        }
    }
    names_alike(board, findings);
}

/// The pin and its row, as a message names them.
fn named(board: &Board, used: Use) -> (String, Origin) {
    let package = board.packages.get(used.package);
    match package.and_then(|p| Some((p, p.pins.get(used.pin)?))) {
        Some((package, pin)) => (package.pin_called(&pin.label), pin.origin.clone()),
        None => Default::default(),
    }
}

/// The pins, each with its row, and the row of the last.
fn all_named(board: &Board, uses: &[Use]) -> (String, Origin) {
    let named: Vec<_> = uses.iter().map(|&u| named(board, u)).collect();
    let last = named.last().map(|(_, origin)| origin.clone()).unwrap_or_default();
    (list(named.iter().map(|(pin, origin)| format!("{pin} ({origin})")).collect()), last)
}

fn rail(board: &Board, net: &Net, supply: Supply, findings: &mut Findings) {
    for &used in &net.uses {
        let (who, origin) = named(board, used);
        let name = shown(&net.name);
        let stage = used.role.stage();
        if matches!(supply, Supply::Higher | Supply::Negative) {
            if matches!(used.role, Role::Pin(_) | Role::Contact) {
                let message = format!("{who} is on {name}, which is neither VCC nor GND");
                let mend = "no part of the logic is: take the row out (a leading # keeps it as a comment)";
                findings.push(Finding::error(FindingKind::OtherSupply, &origin, message, mend));
            }
        } else if stage == Some(Stage::PushPull) && !matches!(used.role, Role::Pin(PinRole::InOut(_)))
            || stage == Some(Stage::OpenCollector) && supply == Supply::Vcc
        {
            let message = format!("{who} is an output and is on {name}");
            let mend = "one of the two would burn: is the pin's number or its net wrong?";
            findings.push(Finding::error(FindingKind::ShortedOutput, &origin, message, mend));
        } else if let Some(stage) = stage {
            let message = format!("{who} is an output that can let go and is on {name}");
            let mend = match stage {
                Stage::OpenCollector => "it can never show anything there; check the pin's number",
                _ => "it must never be enabled against it; check the pin's number",
            };
            findings.push(Finding::warning(FindingKind::ShortedOutput, &origin, message, mend));
        }
    }
}

fn contacts(board: &Board, net: &Net, findings: &mut Findings) {
    let contacts: Vec<Use> = net.uses.iter().copied().filter(|u| u.role == Role::Contact).collect();
    if contacts.len() > 1 {
        let (who, origin) = all_named(board, &contacts);
        let message = format!("the card joins {who} on {}", shown(&net.name));
        let mend = "keep the row of one, put # before the others, and join them again in the replacement's wiring";
        findings.push(Finding::error(FindingKind::ContactsJoined, &origin, message, mend));
    }
}

fn several_drivers(board: &Board, (at, net): (usize, &Net), composed: &mut Option<Composed>, findings: &mut Findings) {
    let drivers: Vec<(Use, Stage)> = net.drivers().collect();
    let push_pull: Vec<Use> =
        drivers.iter().filter(|(_, stage)| *stage == Stage::PushPull).map(|&(used, _)| used).collect();
    let name = shown(&net.name);
    if push_pull.len() > 1 {
        let (who, origin) = all_named(board, &push_pull);
        if agree(composed.get_or_insert_with(|| compose(board)), at, push_pull.len()) {
            let message = format!("{who} drive {name} together and always agree");
            findings.push(Finding::note(FindingKind::ParallelDrivers, &origin, message, ""));
        } else {
            let message = format!("{name} is driven by {who}, all push-pull");
            let mend = "outputs that can't let go never share a net: is one of the pins or nets wrong?";
            findings.push(Finding::error(FindingKind::SeveralDrivers, &origin, message, mend));
        }
    } else if push_pull.len() == 1 && drivers.len() > 1 {
        let all: Vec<Use> = drivers.iter().map(|&(used, _)| used).collect();
        let (who, origin) = all_named(board, &all);
        let message = format!("{name} is driven by {who}, one of them push-pull");
        let mend = "the others must never drive against it, which the proof checks; is a pin or a type number wrong?";
        findings.push(Finding::warning(FindingKind::MixedDrivers, &origin, message, mend));
    }
}

/// True if all push-pull outputs of the net have one and the same function.
fn agree(composed: &Composed, net: usize, count: usize) -> bool {
    let id = composed.nets.get(net).copied().flatten();
    let drivers = id.and_then(|id| composed.circuit.nets().get(id.index())).map_or(&[][..], |net| &net.drivers);
    let mut levels = drivers.iter().filter(|d| d.stage == Stage::PushPull).map(|d| (d.level, d.enable));
    let Some(first) = levels.next() else { return false };
    let mut others = 0;
    levels.all(|other| {
        others += 1;
        other == first
    }) && others + 1 == count
}

fn nobody_drives(board: &Board, net: &Net, findings: &mut Findings) {
    let readers: Vec<Use> = net.uses.iter().copied().filter(|u| u.role.reads()).collect();
    if readers.is_empty() || net.has_contact() || net.untraced.is_some() {
        return;
    }
    let name = shown(&net.name);
    let drivers: Vec<(Use, Stage)> = net.drivers().collect();
    if drivers.is_empty() {
        if net.pull != Pull::None || net.uses.iter().any(|&used| no_logic_may_drive(board, used)) {
            return;
        }
        let (who, origin) = all_named(board, &readers);
        let (kind, message) = if let [_] = net.uses[..] {
            (
                FindingKind::FloatingInput,
                format!("{who} is alone on {name} and reads high (common practice, no source)"),
            )
        } else {
            (
                FindingKind::NoDriver,
                format!("nothing drives {name}, which {who} read as high (common practice, no source)"),
            )
        };
        let mend = "most likely a pin of this net is missing in the trace, or two names stand for one net";
        findings.push(Finding::warning(kind, &origin, message, mend));
    } else if drivers.iter().all(|&(_, stage)| stage == Stage::OpenCollector) && net.pull != Pull::Up {
        let all: Vec<Use> = drivers.iter().map(|&(used, _)| used).collect();
        let (who, origin) = all_named(board, &all);
        let message = format!("no resistor pulls {name} up, which only open collectors drive: {who}");
        let mend = "look for it and write `R1,resistor 4k7,1,VCC` and its other end; without it the net reads high (common practice, no source)";
        findings.push(Finding::warning(FindingKind::MissingPullUp, &origin, message, mend));
    }
}

/// True for a pin that may drive its net although it is no logic output; a proof refuses its part anyway.
fn no_logic_may_drive(board: &Board, used: Use) -> bool {
    let foreign =
        board.packages.get(used.package).is_some_and(|p| matches!(p.fitted, Fitted::Passive(Passive::Foreign(_))));
    foreign || used.role == Role::Pin(PinRole::Analog)
}

fn single_pin(board: &Board, net: &Net, findings: &mut Findings) {
    let &[used] = &net.uses[..] else { return };
    if net.untraced.is_some() || used.role.reads() && used.role.stage().is_none() {
        return; // reported as not traced, or as floating
    }
    let (who, origin) = named(board, used);
    let (message, mend) = match used.role {
        Role::Contact => (format!("{who} ({}) is joined to nothing on the card", shown(&net.name)), ""),
        _ => (
            format!("{who} is alone on {}", shown(&net.name)),
            "is another pin of this net missing, or its name written in two ways?",
        ),
    };
    findings.push(Finding::note(FindingKind::SinglePin, &origin, message, mend));
}

fn names_alike(board: &Board, findings: &mut Findings) {
    let mut alike: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for name in board.nets.names() {
        alike.entry(name.to_lowercase()).or_default().push(name);
    }
    for names in alike.into_values().filter(|names| names.len() > 1) {
        let mut nets: Vec<(usize, &str)> = names.iter().filter_map(|n| Some((board.nets.find(n)?, *n))).collect();
        nets.sort_unstable();
        nets.dedup_by_key(|(net, _)| *net);
        let Some(last) = nets.last().and_then(|&(at, _)| board.nets.all().get(at)).filter(|_| nets.len() > 1) else {
            continue;
        };
        let names = list(nets.iter().map(|(_, name)| shown(name)).collect());
        let message = format!("{names} differ only in upper and lower case and are different nets");
        let mend = "write the name in one way if they are one net";
        findings.push(Finding::warning(FindingKind::NamesAlike, &last.origin, message, mend));
    }
}
