//! Checks of nets: who drives them, who reads them, and who fights.
use std::collections::BTreeMap;

use super::super::Board;
use super::super::compose::Composed;
use super::super::finding::{Finding, FindingKind, Findings, Subject, shown};
use super::super::library::PinRole;
use super::super::nets::{Net, Role, Use};
use super::super::package::Fitted;
use super::super::vocabulary::{Passive, Supply};
use super::{Late, list, subject};
use crate::circuit::{Origin, Pull, Stage};
use crate::figures::OpenInput;

pub(super) fn check(board: &Board, composed: &Late<'_>, findings: &mut Findings) {
    for (at, net) in board.nets.all().iter().enumerate() {
        match net.supply {
            Some(supply) => rail(board, net, supply, findings),
            None => {
                contacts(board, net, findings);
                several_drivers(board, (at, net), composed, findings);
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
            if used.role == Role::Contact {
                let message = format!("{who} is on {name}, which is neither VCC nor GND: no part of the logic");
                let note = Finding::note(FindingKind::OtherSupply, &origin, message, "");
                let note = note.about(subject(board, used));
                findings.push(note.folding(
                    2,
                    "on supplies that are neither VCC nor GND, and no part of the logic: ",
                    "",
                ));
            } else if matches!(used.role, Role::Pin(_)) {
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
        let mend =
            "the replacement drives all of them alike, and may read either; if it drives none, a wire joins them";
        let note =
            Finding::note(FindingKind::ContactsJoined, &origin, message, mend).about([Subject::Net(net.name.clone())]);
        findings.push(note.folding(4, "the card joins several contacts on each of ", ""));
    }
}

fn several_drivers(board: &Board, (at, net): (usize, &Net), composed: &Late<'_>, findings: &mut Findings) {
    let drivers: Vec<(Use, Stage)> = net.drivers().collect();
    let push_pull: Vec<Use> =
        drivers.iter().filter(|(_, stage)| *stage == Stage::PushPull).map(|&(used, _)| used).collect();
    let name = shown(&net.name);
    if push_pull.len() > 1 {
        let (who, origin) = all_named(board, &push_pull);
        if agree(composed.get(), at, push_pull.len()) {
            let message = format!("{who} drive {name} together and always agree");
            let note = Finding::note(FindingKind::ParallelDrivers, &origin, message, "");
            findings.push(note.about([Subject::Net(net.name.clone())]).folding(
                4,
                "several outputs that always agree drive ",
                "",
            ));
        } else {
            let message = format!("{name} is driven by {who}, all push-pull");
            let mend = "outputs that can't let go never share a net: is one of the pins or nets wrong?";
            let error = Finding::error(FindingKind::SeveralDrivers, &origin, message, mend);
            findings.push(error.about(about(board, net, &push_pull)));
        }
    } else if push_pull.len() == 1 && drivers.len() > 1 {
        let all: Vec<Use> = drivers.iter().map(|&(used, _)| used).collect();
        let (who, origin) = all_named(board, &all);
        let message = format!("{name} is driven by {who}, one of them push-pull");
        let mend = "the others must never drive against it, which the proof checks; is a pin or a type number wrong?";
        let warning =
            Finding::warning(FindingKind::MixedDrivers, &origin, message, mend).about(about(board, net, &all));
        findings.push(warning.folding(4, "driven by a push-pull output and by others: ", ""));
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

/// What a finding about a net and some of its pins is about.
fn about(board: &Board, net: &Net, uses: &[Use]) -> Vec<Subject> {
    let net = Subject::Net(net.name.clone());
    std::iter::once(net).chain(uses.iter().filter_map(|&used| subject(board, used))).collect()
}

fn nobody_drives(board: &Board, net: &Net, findings: &mut Findings) {
    let readers: Vec<Use> = net.uses.iter().copied().filter(|u| u.role.reads()).collect();
    if readers.is_empty() || net.has_outside() || net.untraced.is_some() || net.uses.len() == 1 {
        return; // a net with one pin alone is a floating input
    }
    let name = shown(&net.name);
    let drivers: Vec<(Use, Stage)> = net.drivers().collect();
    if drivers.is_empty() {
        if net.pull != Pull::None || net.uses.iter().any(|&used| no_logic_may_drive(board, used)) {
            return;
        }
        let (who, origin) = all_named(board, &readers);
        let message = match net.open_read {
            OpenInput::High => format!("nothing drives {name}, which {who} read as high (common practice, no source)"),
            OpenInput::Low => format!("nothing drives {name}, which {who} read as low, by resistors inside"),
            OpenInput::Unknown => format!("nothing drives {name}, and what {who} read there nobody knows: CMOS"),
        };
        let mend = "most likely a pin of this net is missing in the trace, or two names stand for one net";
        let warning =
            Finding::warning(FindingKind::NoDriver, &origin, message, mend).about(about(board, net, &readers));
        findings.push(warning.folding(4, "nothing drives these nets and their inputs: ", ""));
    } else if drivers.iter().all(|&(_, stage)| stage == Stage::OpenCollector)
        && net.pull != Pull::Up
        && net.hold.is_none()
    {
        let all: Vec<Use> = drivers.iter().map(|&(used, _)| used).collect();
        let (who, origin) = all_named(board, &all);
        let message = format!("no resistor pulls {name} up, which only open collectors drive: {who}");
        let mend = match net.open_read {
            OpenInput::High | OpenInput::Low => {
                "look for it and write `R1,resistor 4k7,1,VCC` and its other end; without it the net reads high (common practice, no source)"
            }
            OpenInput::Unknown => {
                "look for it and write `R1,resistor 4k7,1,VCC` and its other end; without it nobody knows what CMOS reads there"
            }
        };
        let warning = Finding::warning(FindingKind::MissingPullUp, &origin, message, mend);
        let warning = warning.about([Subject::Net(net.name.clone())]);
        findings.push(warning.folding(4, "only open collectors drive these nets, and no resistor pulls them up: ", ""));
    }
}

/// True for a pin that may drive its net although it is no logic output; a proof refuses its part anyway.
fn no_logic_may_drive(board: &Board, used: Use) -> bool {
    let foreign =
        board.packages.get(used.package).is_some_and(|p| matches!(p.fitted, Fitted::Passive(Passive::Foreign(_))));
    foreign || used.role.is_analog()
}

fn single_pin(board: &Board, net: &Net, findings: &mut Findings) {
    let &[used] = &net.uses[..] else { return };
    if net.untraced.is_some() || used.role == Role::Outside || used.role.reads() && used.role.stage().is_none() {
        return; // reported as not traced or as floating, or nothing of what is replaced
    }
    let (who, origin) = named(board, used);
    let (message, mend, before) = match used.role {
        Role::Contact => (
            format!("{who} ({}) is joined to nothing on the card", shown(&net.name)),
            "",
            "joined to nothing on the card: ",
        ),
        Role::Passive => (
            format!("{who} is alone on {}", shown(&net.name)),
            "is another pin of this net missing, or its name written in two ways?",
            "ends of resistors and other parts that are alone on their nets: ",
        ),
        _ => (
            format!("{who} is alone on {}", shown(&net.name)),
            "is another pin of this net missing, or its name written in two ways?",
            "outputs that are alone on their nets: ",
        ),
    };
    let note = Finding::note(FindingKind::SinglePin, &origin, message, mend);
    findings.push(note.about(subject(board, used)).folding(4, before, ""));
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
