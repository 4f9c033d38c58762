//! Both sides beside each other, and what follows from it in words.
use super::original::{LOGIC_VOLTAGE, Met};
use super::{Beyond, ContactLoad, Drives, Loading, Side, checks, device as fitted_device, original};
use crate::host::{Host, Hung};
use crate::timing::{At, Comparison};
use gluewright_devices::device::{Device, Electrical, Grade, Provenance, Termination};
use gluewright_devices::fit::Fitted;
use gluewright_kernel::board::{Board, Netlist, PinRole};
use gluewright_kernel::circuit::Label;

/// What one LS input asks of its driver at a low level, in mA (IIL of the 74LS00 and most LS inputs).
const LS_LOAD: f64 = 0.4;

/// From this current on an output is made for lines, lamps and relays rather than for gates, in mA. The weakest of them,
/// 74LS37 and its kin, have 24 mA.
const HEAVY: f64 = 24.0;

/// What counts as a CMOS input's high level at 5 V, in V: 0.7 of the supply, as the HC family's sheets ask (from memory).
const CMOS_HIGH: f64 = 3.5;

/// What is known of the board around the card, and of the times of card and replacement: they tell whether outputs fight.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// What is connected to the contacts.
    pub host: &'a Host,
    /// The times.
    pub times: &'a Comparison,
}

/// Currents and levels at every signal contact of the board, beside the fit's. The limits are those of the first data sheet
/// that the device lists, of a part of the drawer its own; the supply current is that of the grade.
pub fn loading(board: &Board, fitted: &Fitted, device: &Device, grade: Option<&Grade>) -> Loading {
    loading_together(board, &[], &[(fitted, device, grade)], None)
}

/// The same for several devices in one socket, and for packages of the original that stay beside them. What is known of the
/// board becomes pass or fail.
pub fn loading_together(
    board: &Board,
    kept: &[String],
    devices: &[(&Fitted, &Device, Option<&Grade>)],
    known: Option<Known<'_>>,
) -> Loading {
    let netlist = board.netlist();
    let staying = staying(&netlist, kept);
    let unknown = Electrical::default();
    let electrical = |device: &'_ Device| device.electrical.first().cloned().unwrap_or_else(|| unknown.clone());
    let mut contacts = Vec::new();
    for (i, net) in netlist.nets.iter().enumerate().filter(|(_, net)| !net.is_rail) {
        let met = original::at(&netlist, i);
        for label in &net.contacts {
            let mut sides: Vec<Side> = devices
                .iter()
                .map(|(f, d, _)| fitted_device::at(f, &electrical(d), &called(f, kept, &netlist, i, label)))
                .collect();
            let driver = sides.iter().position(|s| s.drives != Drives::Never).unwrap_or(0);
            let its = devices.get(driver).map_or_else(|| unknown.clone(), |(_, d, _)| electrical(d));
            // a package that stays has a TTL output's levels
            let by_device = sides.iter().any(|s| s.drives != Drives::Never);
            let shown = if by_device { its.clone() } else { checks::ttl_levels(&its) };
            if !kept.is_empty() {
                sides.push(original::at(&staying, i).side);
            }
            let replacement = joined(sides);
            let at = At { label: label.to_string(), name: net.name.clone() };
            let hung: Vec<&Hung> = known.map_or(&[][..], |k| k.host.hung()).iter().filter(|h| h.at == at).collect();
            let findings = findings(&met, &replacement, &its, !hung.is_empty());
            // the adapter has those of the card
            let ups = net.pulls.iter().filter(|(up, _)| *up && !replacement.pulls.is_empty());
            let ups: Vec<f64> = ups.filter_map(|(_, ohms)| *ohms).filter(|ohms| *ohms > 0.0).collect();
            let checks = known
                .map_or_else(Vec::new, |known| checks::checks(&at, &hung, (&replacement, &shown), &ups, known.times));
            let original = met.side.clone();
            contacts.push((label.clone(), ContactLoad { at, original, replacement, findings, checks }));
        }
    }
    contacts.sort_by(|a, b| a.0.cmp(&b.0));
    let mut supply_after = original::supply_of(&netlist, kept);
    let (mut names, mut all_notes): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    for (_, device, grade) in devices {
        let electrical = electrical(device);
        let grade_name = grade.map_or("", |g| g.name);
        let figure = device.supply_current(*grade).map(|f| (f.value, f.from == Provenance::Memory));
        supply_after.add(figure, || format!("{} {grade_name}", device.name).trim_end().to_owned());
        if !grade_name.is_empty() && !supply_after.grades.iter().any(|g| g == grade_name) {
            supply_after.grades.push(grade_name.to_owned());
        }
        let parts = match electrical.parts {
            "" => "no limits known".to_owned(),
            parts if electrical.is_from_memory() => format!("{parts}; from memory: look them up"),
            parts => parts.to_owned(),
        };
        names.push(format!("{} ({parts})", device.name));
        all_notes.extend(notes(device, &electrical));
    }
    let mut seen: Vec<String> = Vec::new();
    all_notes.retain(|note| {
        !seen.contains(note) && {
            seen.push(note.clone());
            true
        }
    });
    names.dedup();
    let supply_before = original::supply(&netlist);
    let supply_check = known.and_then(|known| checks::supply(known.host.supply(), &supply_before, &supply_after));
    Loading {
        original: board.name().to_owned(),
        replacement: names.join(", "),
        contacts: contacts.into_iter().map(|(_, c)| c).collect(),
        supply_before,
        supply_after,
        supply_check,
        beyond: beyond(&netlist)
            .into_iter()
            .filter(|b| !kept.iter().any(|k| b.part.starts_with(&format!("{k} ("))))
            .collect(),
        notes: all_notes,
    }
}

/// The packages that stay, alone on the nets of the card.
fn staying(netlist: &Netlist, kept: &[String]) -> Netlist {
    let mut alone = netlist.clone();
    let stays: Vec<bool> = alone.chips.iter().map(|c| kept.contains(&c.reference)).collect();
    // positions of chips must hold, so those that leave stay as names that no net mentions
    for net in &mut alone.nets {
        net.pins.retain(|(chip, ..)| stays.get(*chip) == Some(&true));
        net.pulls.clear();
    }
    alone
}

/// What a device calls a contact: beside kept packages a net goes by its first contact, or by a pin of theirs.
fn called(fitted: &Fitted, kept: &[String], netlist: &Netlist, net: usize, contact: &Label) -> Label {
    let contacts = netlist.nets.get(net).map_or(&[][..], |n| &n.contacts);
    let others = contacts.iter().filter(|_| !kept.is_empty());
    let mut all = std::iter::once(contact).chain(others);
    all.find(|label| !fitted.pins_of(label).is_empty()).unwrap_or(contact).clone()
}

/// Several sides of one contact as one: loads add up, and what one drives the others load.
fn joined(sides: Vec<Side>) -> Side {
    let [only] = sides.as_slice() else {
        let sum = |of: fn(&Side) -> Option<f64>, but: usize| {
            let others = sides.iter().enumerate().filter(|(i, _)| *i != but);
            others.filter_map(|(_, s)| of(s)).fold(None, |all: Option<f64>, ma| Some(all.unwrap_or(0.0) + ma))
        };
        let rank = |d: Drives| match d {
            Drives::Never => 0,
            Drives::LowOnly => 1,
            Drives::AtTimes => 2,
            Drives::Always => 3,
        };
        let least = |of: fn(&Side) -> Option<f64>, load: fn(&Side) -> Option<f64>| {
            let left =
                sides.iter().enumerate().filter_map(|(i, s)| Some((of(s)? - sum(load, i).unwrap_or(0.0)).max(0.0)));
            left.min_by(f64::total_cmp)
        };
        let mut missing: Vec<String> = sides.iter().flat_map(|s| s.missing.iter().cloned()).collect();
        missing.sort();
        missing.dedup();
        return Side {
            drives: sides.iter().map(|s| s.drives).max_by_key(|d| rank(*d)).unwrap_or(Drives::Never),
            sinks_ma: least(|s| s.sinks_ma, |s| s.load_low_ma),
            sources_ma: least(|s| s.sources_ma, |s| s.load_high_ma),
            load_low_ma: sum(|s| s.load_low_ma, usize::MAX),
            load_high_ma: sum(|s| s.load_high_ma, usize::MAX),
            pulls: sides.iter().flat_map(|s| s.pulls.iter().cloned()).collect(),
            missing,
        };
    };
    only.clone()
}

/// What to look at. Where it is known what is connected to the contact, currents and levels are checked instead.
fn findings(met: &Met, device: &Side, electrical: &Electrical, is_known: bool) -> Vec<String> {
    let card = &met.side;
    let mut all = Vec::new();
    let less = |now: Option<f64>, before: Option<f64>| {
        Some((now?, before?)).filter(|(now, before)| now + 1e-9 < *before && !is_known)
    };
    if let Some((now, before)) = less(device.sinks_ma, card.sinks_ma) {
        all.push(format!(
            "sinks {now:.1} mA where the original left {before:.1} mA: enough for {:.0} LS inputs; say in \
             host.csv what hangs on it",
            (now / LS_LOAD).floor()
        ));
    }
    if let Some((now, before)) = less(device.sources_ma, card.sources_ma) {
        all.push(format!("sources {now:.1} mA where the original left {before:.1} mA"));
    }
    if let Some((before, now)) = less(card.load_low_ma, device.load_low_ma) {
        all.push(format!("loads the board with {now:.2} mA at a low level, the original with {before:.2} mA"));
    }
    if let Some((before, now)) = less(card.load_high_ma, device.load_high_ma) {
        all.push(format!("loads the board with {now:.3} mA at a high level, the original with {before:.3} mA"));
    }
    if !met.schmitt.is_empty() {
        all.push(format!(
            "{} cleaned slow or noisy edges here (Schmitt-trigger inputs), and the device does not: keep that part, or make \
             sure that the edges are fast",
            met.schmitt.join(", ")
        ));
    }
    if card.drives == Drives::LowOnly && device.drives != Drives::Never {
        let how = match device.drives {
            Drives::LowOnly => "a three-state output that only pulls low stands for the open collector",
            _ => "the device also drives high where an open collector let go: what else pulls this wire would fight it",
        };
        let pull = if card.pulls.is_empty() { "the pull-up is the board's".to_owned() } else { card.pulls.join(", ") };
        all.push(format!("{how}; {pull}"));
    }
    if let Some(volts) = met.high_voltage {
        all.push(format!(
            "the original's output stands {volts:.0} V, the device's no more than its supply: measure what it is pulled up to, \
             and keep the part if that is above 5 V"
        ));
    }
    let lost: Vec<&str> = card.pulls.iter().map(String::as_str).collect();
    if !lost.is_empty() && device.pulls.is_empty() {
        all.push(format!(
            "on the card there was a {}: put it on the adapter if the board has none",
            lost.join(" and a ")
        ));
    }
    if !is_known
        && !met.cmos_drivers.is_empty()
        && device.drives != Drives::Never
        && electrical.voh_min.is_none_or(|v| v.value < CMOS_HIGH)
    {
        let volts = electrical.voh_min.map_or("an unknown level".to_owned(), |v| format!("{} V", v.value));
        all.push(format!(
            "{} drove CMOS levels, the device promises {volts} for a high: an HC input on the board needs {CMOS_HIGH} V, \
             so add a pull-up there",
            met.cmos_drivers.join(", ")
        ));
    }
    all
}

fn notes(device: &Device, electrical: &Electrical) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(part) = &device.part {
        notes.push(match part.has_limits {
            true => format!("The limits are those of {} ({}).", part, electrical.parts),
            false => {
                format!("No sheet of {part} is known here: its limits are not known. Look them up before it is burned.")
            }
        });
        notes.extend(part.notes.iter().map(|note| (*note).to_owned()));
    }
    let others: Vec<&str> = device.electrical.iter().skip(1).map(|e| e.parts).collect();
    if !others.is_empty() {
        notes.push(format!(
            "The limits are those of {}; other makers' parts differ ({}).",
            electrical.parts,
            others.join("; ")
        ));
    }
    notes.push(match electrical.termination.0 {
        Termination::PullUp => "An open input is pulled up inside the device, as an open TTL input reads high.".to_owned(),
        Termination::Keeper => {
            "An open input keeps its last level; an open TTL input read high: tie or pull up what the board leaves open."
                .to_owned()
        }
        Termination::None => {
            "An open input floats; an open TTL input read high: tie or pull up what the board leaves open.".to_owned()
        }
        Termination::Unknown => {
            "Whether an open input is held inside the device depends on the maker: tie or pull up what the board leaves open."
                .to_owned()
        }
    });
    notes.push(
        "An unpowered device may load the bus: don't leave it in a board that is powered from elsewhere.".to_owned(),
    );
    notes
}

/// Parts whose outputs stand or drive more than logic does.
fn beyond(netlist: &Netlist) -> Vec<Beyond> {
    let mut all = Vec::new();
    for (i, chip) in netlist.chips.iter().enumerate() {
        let Some(figures) = chip.part.figures() else { continue };
        let most = |values: &mut dyn Iterator<Item = f64>| values.max_by(f64::total_cmp);
        let volts = most(&mut figures.outputs.values().filter_map(|o| o.max_v.as_ref()).map(|f| f.value));
        let current = most(&mut figures.outputs.values().filter_map(|o| o.low_ma.as_ref()).map(|f| f.value.abs()));
        let mut what = Vec::new();
        if let Some(volts) = volts.filter(|v| *v > LOGIC_VOLTAGE) {
            what.push(format!("its outputs stand {volts:.0} V"));
        }
        if let Some(ma) = current.filter(|ma| *ma >= HEAVY) {
            what.push(format!("its outputs sink {ma:.0} mA"));
        }
        if what.is_empty() {
            continue;
        }
        let contacts = netlist
            .nets
            .iter()
            .filter(|net| {
                let drives = |r: &PinRole| matches!(r, PinRole::Output(_) | PinRole::InOut(_));
                net.pins.iter().any(|(c, _, role)| *c == i && drives(role))
            })
            .flat_map(|net| net.contacts.iter().map(|l| At { label: l.to_string(), name: net.name.clone() }))
            .collect();
        let what = format!(
            "{}: made for long buses, lines, lamps or relays; check what hangs on it, or keep the part",
            what.join(" and ")
        );
        all.push(Beyond { part: chip.called(), what, contacts });
    }
    all
}
