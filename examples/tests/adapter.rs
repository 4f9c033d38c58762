//! What the probing sheet finds of an adapter's single faults, what it lists for a cold check, and the adapter's netlist.
//!
//! `cargo test -p gluewright-examples --test checks adapter:: -- --nocapture` prints the figures: of the steps that show the card's work
//! alone, and of all steps.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{LazyLock, Mutex, MutexGuard, PoisonError};

use gluewright::circuit::{Circuit, Contact, Direction, Label, Landing, NetId, Origin};
use gluewright::job::Made;
use gluewright::report::Probing;
use gluewright::report::probing::Coverage;
use gluewright::simulate::{Shown, Simulator};
use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};
use gluewright_examples::sample_card::{SampleCard, lost_card};

fn told(of: &str, coverage: Option<Coverage>) -> Coverage {
    let coverage = coverage.expect("the adapter is known");
    println!("{of}: {}", coverage.words());
    for missed in coverage.missed.iter().take(20) {
        println!("  {}: {}", missed.fault, missed.check);
    }
    let sum = |of: [usize; 3]| of.iter().sum::<usize>();
    assert_eq!(sum(coverage.of), sum(coverage.found) + coverage.missed.len(), "each fault is found or listed");
    assert!(coverage.missed.iter().all(|m| !m.check.is_empty()));
    assert!(coverage.of.iter().all(|n| *n > 0), "{:?}", coverage.of);
    coverage
}

/// The sample card, made once for all that look at it.
fn sample_card() -> MutexGuard<'static, Made> {
    static MADE: LazyLock<Mutex<Made>> =
        LazyLock::new(|| Mutex::new(gluewright::job::<SampleCard>(lost_card()).testing(None).make().expect("made")));
    MADE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The pads of a netlist in IPC-D-356A by their net, as `J1-8`, read by its columns alone: 1 to 3 the kind of record (`317`, a pad
/// with a hole), 4 to 17 the net, 21 to 26 the reference, 27 a hyphen, 28 to 31 the pin, 33 to 38 `D`, the hole, `P`, 42 to 49 `X` and
/// 50 to 57 `Y`; `P` lines are parameters, `C` lines remarks, `999` the end (IPC-D-356A, *Bare Substrate Electrical Test Data Format*;
/// the columns also in D. Ditta, *IPC-D-356 Simplified*; both from memory).
fn pads(netlist: &str) -> BTreeMap<String, BTreeSet<String>> {
    let mut lines = netlist.lines();
    assert_eq!(lines.next_back(), Some("999"));
    let mut nets: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut places = BTreeSet::new();
    for line in lines.filter(|line| !line.starts_with(['P', 'C'])) {
        let columns = |from: usize, to: usize| line.get(from - 1..to).unwrap_or_else(|| panic!("{line}")).trim_end();
        assert_eq!(
            (columns(1, 3), columns(27, 27), columns(33, 33), columns(38, 38)),
            ("317", "-", "D", "P"),
            "{line}"
        );
        assert_eq!((columns(42, 42), columns(50, 50), line.len()), ("X", "Y", 57), "{line}");
        let number = |from, to| columns(from, to).parse::<i32>().unwrap_or_else(|_| panic!("{line}"));
        assert!(number(34, 37) > 0 && places.insert((number(43, 49), number(51, 57))), "two pads at one place: {line}");
        let pad = format!("{}-{}", columns(21, 26), columns(28, 31));
        assert!(nets.entry(columns(4, 17).to_owned()).or_default().insert(pad), "{line}");
    }
    nets
}

/// What the wiring list joins, and only that, is joined in the netlist, but for parts that sit on the adapter itself and pins that
/// carry no signal; these are where the parts list and the wires have them.
fn netlist_is_the_wiring(made: &Made, is_contact: impl Fn(&Label) -> bool) {
    let file = |name: &str| String::from_utf8(made.file(name).expect("made").to_vec()).expect("text");
    let mut expected: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let rail = |signal: &str| matches!(signal, "VCC" | "GND").then(|| signal.to_owned());
    for wire in &made.wires {
        let net = expected.entry(rail(&wire.signal).unwrap_or_else(|| wire.contact.to_string())).or_default();
        if is_contact(&wire.contact) {
            net.insert(format!("J1-{}", wire.contact));
        }
        net.insert(format!("{}-{}", wire.device, wire.pin));
    }
    let expected: BTreeSet<BTreeSet<String>> = expected.into_values().collect();
    let packages: BTreeSet<String> = made.wires.iter().map(|w| w.device.clone()).chain(["J1".to_owned()]).collect();
    let spare: BTreeSet<String> = made
        .devices
        .iter()
        .flat_map(|d| {
            let pins = d.fitted.unused.iter().copied().chain(d.fitted.port.iter().map(|p| p.pin));
            pins.map(|pin| format!("{}-{pin}", d.reference))
        })
        .collect();
    let is_wired = |pad: &String| {
        pad.split_once('-').is_some_and(|(reference, _)| packages.contains(reference)) && !spare.contains(pad)
    };
    let pads = pads(&file("adapter.ipc"));
    let found = pads.values().map(|pads| pads.iter().filter(|pad| is_wired(pad)).cloned().collect());
    let found: BTreeSet<BTreeSet<String>> = found.filter(|pads: &BTreeSet<String>| !pads.is_empty()).collect();
    assert_eq!(found, expected);
    assert!(found.len() > 10 && found.iter().all(|pads| pads.len() > 1), "{found:?}");
    lists_agree(made, &pads);
}

/// The rows of a list without its head.
fn rows(made: &Made, name: &str) -> Vec<Vec<String>> {
    let rows = csv::Reader::from_reader(made.file(name).expect("made")).into_records();
    rows.map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect()
}

/// Netlist, wires and parts say the same; each package has a capacitor of its own at its supply; what carries no signal is held.
fn lists_agree(made: &Made, pads: &BTreeMap<String, BTreeSet<String>>) {
    let [wires, parts] = ["adapter_wires.csv", "adapter_parts.csv"].map(|name| rows(made, name));
    // the wires alone join what the netlist joins
    for (net, pads) in pads {
        let its: Vec<[&String; 2]> = wires.iter().filter(|w| w[1] == *net).map(|w| [&w[2], &w[3]]).collect();
        let mut reached: BTreeSet<&String> = pads.iter().take(1).collect();
        for _ in pads {
            reached.extend(
                its.iter()
                    .filter(|ends| ends.iter().any(|e| reached.contains(e)))
                    .flatten()
                    .copied()
                    .collect::<Vec<_>>(),
            );
        }
        assert_eq!(reached, pads.iter().collect(), "{net}");
        assert_eq!(its.len() + 1, pads.len(), "{net}");
    }
    let reference = |pad: &String| pad.split_once('-').expect("a pad").0.to_owned();
    let drawn: BTreeSet<String> = pads.values().flatten().map(reference).filter(|r| r != "J1").collect();
    let listed: BTreeSet<String> = parts.iter().filter(|p| p[1] != "wire").map(|p| p[0].clone()).collect();
    assert_eq!(drawn, listed);
    let net = |pad: &str| pads.iter().find(|(_, pads)| pads.contains(pad)).map(|(net, _)| net.as_str());
    let at = |pad: &str| -> Vec<&String> {
        wires.iter().filter(|w| w[2] == pad || w[3] == pad).map(|w| if w[2] == pad { &w[3] } else { &w[2] }).collect()
    };
    let mut decoupled = BTreeSet::new();
    for capacitor in parts.iter().filter(|p| p[1].starts_with("100 nF")).map(|p| &p[0]) {
        let [supply, ground] = [1, 2].map(|lead| at(&format!("{capacitor}-{lead}")));
        let ([supply], [ground]) = (supply.as_slice(), ground.as_slice()) else {
            panic!("{capacitor}: {supply:?}, {ground:?}")
        };
        assert_eq!((net(supply), net(ground)), (Some("VCC"), Some("GND")), "{capacitor}");
        assert_eq!(reference(supply), reference(ground), "{capacitor}");
        decoupled.insert(reference(supply));
    }
    let on_it = made.devices.iter().map(|d| d.reference.clone()).chain(made.kept().iter().map(|(r, _)| r.clone()));
    assert_eq!(decoupled, on_it.collect());
    let held =
        |pad: &str| net(pad).and_then(|n| pads[n].iter().find(|p| p.starts_with('R')).map(|r| r.replace("-1", "-2")));
    for d in &made.devices {
        for pin in &d.fitted.unused {
            let pad = format!("{}-{pin}", d.reference);
            let is_open = d.fitted.for_fitter && net(&pad).is_none();
            assert!(is_open || net(&pad) == Some("GND") || held(&pad).as_deref().and_then(net) == Some("GND"), "{pad}");
        }
        // IEEE 1149.1: an undriven TDI or TMS counts as high. A clock that stands still low: common practice, no source.
        for (signal, rail) in [("TDI", "VCC"), ("TMS", "VCC"), ("TCK", "GND")] {
            if let Some(port) = d.fitted.port.iter().find(|p| p.signal == signal) {
                let pad = format!("{}-{}", d.reference, port.pin);
                assert_eq!(held(&pad).as_deref().and_then(net), Some(rail), "{pad}");
                assert_eq!(net(&format!("J2-{signal}")), net(&pad));
            }
        }
    }
}

#[test]
fn one_device() {
    let made = sample_card();
    let like = gluewright::circuit_of::<SampleCard>().expect("sound");
    let supplies: Vec<Label> = like.supplies().iter().map(|(label, _)| label.clone()).collect();
    let is_contact = |l: &Label| like.contacts().iter().any(|c| c.label == *l) || supplies.contains(l);
    netlist_is_the_wiring(&made, is_contact);
    let coverage = told("sample card", made.probing.coverage.clone());
    let sum = |of: [usize; 3]| of.iter().sum::<usize>();
    assert!(sum(coverage.found) > sum(coverage.by_first), "steps were added that find more");
    // read and select do the same together: exchanged, nobody can tell, and nothing is wrong; everything else is found
    assert_eq!(coverage.missed.len(), 1, "{}", coverage.words());
    assert!(coverage.missed.iter().all(|m| m.fault.contains("select") && m.fault.contains("read")));
}

/// A wire between devices that is open, two of them exchanged, an input that is open: all passed every step once.
#[test]
fn four_devices() {
    let job = gluewright::job::<LoomBridge>(lost_bridge())
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes");
    let made = job.split_over("22V10").testing(None).make().expect("made");
    let like = gluewright::circuit_of::<LoomBridge>().expect("sound");
    let supplies: Vec<Label> = like.supplies().iter().map(|(label, _)| label.clone()).collect();
    netlist_is_the_wiring(&made, |l| like.contacts().iter().any(|c| c.label == *l) || supplies.contains(l));
    let coverage = told("loom bridge over four devices", made.probing.coverage.clone());
    assert!(!made.probing.wires.is_empty(), "wires between devices are read");
    let sum = |of: [usize; 3]| of.iter().sum::<usize>();
    assert!(sum(coverage.found) > sum(coverage.by_first), "{}", coverage.words());
    assert!(100 * coverage.missed.len() < sum(coverage.of), "{}", coverage.words());
}

/// What stays sits on the adapter; a port for programming in the circuit has its plug.
#[test]
fn packages_that_stay_and_a_programming_port() {
    let like = gluewright::circuit_of::<SampleCard>().expect("sound");
    let supplies: Vec<Label> = like.supplies().iter().map(|(label, _)| label.clone()).collect();
    let is_contact = |l: &Label| like.contacts().iter().any(|c| c.label == *l) || supplies.contains(l);
    let job = || gluewright::job::<SampleCard>(lost_card()).testing(None);
    let kept = job().keeping(["U1"]).make().expect("the rest fits");
    netlist_is_the_wiring(&kept, is_contact);
    let page = String::from_utf8_lossy(kept.file("report.html").expect("made")).into_owned();
    assert!(!page.contains("Stay in place") && page.contains("on the adapter with the device"), "false of a lost card");
    let port = job().fitting("CPLD-32").make().expect("fits");
    assert!(!port.devices[0].fitted.port.is_empty());
    netlist_is_the_wiring(&port, is_contact);
}

/// What one person did: the contacts that change at one moment.
type Event = Vec<(Label, bool)>;

/// The events of an action as the sheet words it.
fn events(action: &str) -> Vec<Event> {
    let level = |word: &str| match word {
        "high" => true,
        "low" => false,
        other => panic!("`{other}` is no level: {action}"),
    };
    if let Some(rest) = action.strip_prefix("one pulse on ") {
        let (contact, how) = rest.split_once(", ").expect("how it pulses");
        let label = Label::new(contact.split(' ').next().expect("a contact"));
        let first = level(how.split(' ').next().expect("a level"));
        return vec![vec![(label.clone(), first)], vec![(label, !first)]];
    }
    let (puts, together) = match action.strip_suffix(" at one moment") {
        Some(puts) => (puts, true),
        None => (action, false),
    };
    let put = |put: &str| {
        let mut words = put.split(' ');
        (Label::new(words.next().expect("a contact")), level(words.next_back().expect("a level")))
    };
    let all: Event = puts.split(", ").map(put).collect();
    if together { vec![all] } else { all.into_iter().map(|one| vec![one]).collect() }
}

/// A wire of the adapter: contact and pin of the device.
type AdapterWire = (Label, Label);

/// The device on an adapter with these wires; a pin that has none reads this level.
fn assembled(like: &Circuit, device: &Circuit, wires: &[AdapterWire], open: bool) -> Circuit {
    let mut whole = Circuit::new("adapter");
    let mut nets: Vec<(Label, NetId)> = Vec::new();
    for contact in like.contacts() {
        let net = whole.add_net(contact.name.clone(), Origin::Nowhere);
        whole.add_contact(Contact { net, direction: Direction::InOut, ..contact.clone() });
        nets.push((contact.label.clone(), net));
    }
    let is_input = |pin: &Label| device.contacts().iter().any(|c| c.label == *pin && c.direction == Direction::Input);
    whole.place("D1", device, |pin| {
        let wire = wires.iter().find(|(_, p)| p == pin);
        let net = wire.and_then(|(contact, _)| nets.iter().find(|(label, _)| label == contact));
        match net {
            Some(&(_, net)) => Landing::Net(net),
            None if is_input(pin) => Landing::Tied(open),
            None => Landing::Open,
        }
    });
    whole
}

/// What a person reads at every contact at every moment of a sheet.
fn read(circuit: &Circuit, sheet: &Probing) -> Vec<Vec<Option<bool>>> {
    let held = |moment: usize| -> Vec<(Label, bool)> {
        let readings = sheet.rows.iter().zip(&sheet.moments[moment].readings);
        readings.filter_map(|(row, reading)| Some((row.label.clone(), reading.applied?))).collect()
    };
    let (mut bench, _) = Simulator::new(circuit, &held(0), |_, _| false).expect("a circuit");
    let mut all = Vec::new();
    for (at, moment) in sheet.moments.iter().enumerate() {
        for event in moment.actions.iter().flat_map(|action| events(action)) {
            bench.event(&event).expect("its contacts");
        }
        let held = held(at);
        let find = |label: &Label| match bench.shown(label, 0).expect("a contact") {
            Shown::High => Some(true),
            Shown::Low => Some(false),
            _ => held.iter().find(|(l, _)| l == label).map(|(_, high)| *high),
        };
        all.push(sheet.rows.iter().map(|row| find(&row.label)).collect());
    }
    all
}

/// Every fault that the sheet claims to find is put into the adapter, and the kernel's simulator, which knows nothing of faults
/// and of the search for steps, plays the sheet on it: something has to read otherwise.
#[test]
fn what_is_claimed_to_be_found_is_seen_by_a_simulator() {
    let made = sample_card();
    let device = made.devices[0].device.lift(made.devices[0].fuses.as_ref().expect("fuses")).expect("its own fuses");
    let like = gluewright::circuit_of::<SampleCard>().expect("sound");
    let is_signal = |label: &Label| like.contacts().iter().any(|c| c.label == *label);
    let wires: Vec<AdapterWire> =
        made.wires.iter().filter(|w| is_signal(&w.contact)).map(|w| (w.contact.clone(), w.pin.clone())).collect();
    let coverage = made.probing.coverage.as_ref().expect("known");
    let good = read(&assembled(&like, &device, &wires, false), &made.probing);
    let differs = |wires: &[AdapterWire], open| read(&assembled(&like, &device, wires, open), &made.probing) != good;
    let claimed =
        |words: &[String]| !coverage.missed.iter().any(|m| words.iter().all(|w| m.fault.contains(w.as_str())));
    let (mut checked, mut seen) = (0, 0);
    for at in 0..wires.len() {
        let mut without = wires.clone();
        let (_, pin) = without.remove(at);
        if claimed(&[format!("to D1 pin {pin} open")]) {
            checked += 1;
            assert!(differs(&without, false) && differs(&without, true), "pin {pin} is open, and nothing shows it");
        }
    }
    for a in 0..wires.len() {
        for b in a + 1..wires.len() {
            let mut exchanged = wires.clone();
            (exchanged[a].1, exchanged[b].1) = (wires[b].1.clone(), wires[a].1.clone());
            let pins = [&wires[a].1, &wires[b].1].map(|pin| format!("D1 pin {pin} "));
            let shown = differs(&exchanged, false);
            seen += usize::from(shown);
            let ends = [format!("D1 pin {} and", wires[a].1), format!("D1 pin {} exchanged", wires[b].1)];
            let swapped = [format!("D1 pin {} and", wires[b].1), format!("D1 pin {} exchanged", wires[a].1)];
            if claimed(&ends) && claimed(&swapped) {
                checked += 1;
                assert!(shown, "{pins:?} are exchanged, and nothing shows it");
            }
        }
    }
    println!("{checked} claims checked; {seen} exchanges are seen from registers that start low");
    assert!(checked > 100);
}
