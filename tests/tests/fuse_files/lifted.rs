//! Drawn fuse maps: the lifted circuit in the simulator beside a chip by hand, pin by pin, over long drawn sequences.
use gluewright::circuit::Label;
use gluewright::device::{Device, Function, Literal, Role, Source, Term, find};
use gluewright::fusefile::Fuses;
use gluewright::simulate::{Shown, Simulator};
use gluewright_tests::walk::in_loops;

use super::chip::{Chip, Drawn, Kind};
use super::plans;

fn kind(device: &Device, fuses: &Fuses) -> Option<Kind> {
    if device.name == "22V10" { Some(Kind::of_22v10(fuses.states())) } else { Kind::of_16v8(fuses.states()) }
}

/// A drawn map whose reset term hangs neither on the clock nor on a gate of the same device: a chip by hand moves one
/// thing after the other, and is reset by what only shakes, or not by what comes with the edge.
fn drawn_map(device: &Device, drawn: &mut Drawn) -> Fuses {
    let mut plan = plans::drawn(device, drawn);
    let combinational = |pin| plan.cells.get(&pin).is_some_and(|c| c.function == Function::Combinational);
    let steady = |l: &&Literal| l.source != Source::Pin(1) && !combinational(l.source.pin());
    let reset = plan.reset.as_ref().map(|t| Term(t.0.iter().filter(steady).copied().collect()));
    plan.reset = reset.filter(|t| !t.0.is_empty());
    device.encode(&plan).unwrap()
}

/// Runs one map beside a chip that was burned with that or another; how many pins were compared driven and floating, or nothing where gates feed themselves.
fn beside(device: &Device, fuses: &Fuses, burned: &Fuses, drawn: &mut Drawn) -> Result<Option<[usize; 2]>, String> {
    let (Some(kind), circuit) = (kind(device, burned), device.lift(fuses).unwrap()) else { return Ok(None) };
    if in_loops(&circuit).contains(&true) {
        return Ok(None);
    }
    let pins: Vec<usize> = device
        .pins
        .iter()
        .filter(|p| !matches!(p.role, Role::Vcc | Role::Gnd))
        .map(|p| usize::from(p.number))
        .collect();
    let label = |pin: usize| Label::from(pin as u16);
    let mut outside = vec![false; device.pins.len() + 1];
    pins.iter().for_each(|&p| outside[p] = drawn.next(2) == 1);
    let powered = |outside: &[bool]| {
        let levels: Vec<(Label, bool)> = pins.iter().map(|&p| (label(p), outside[p])).collect();
        let (simulator, _) = Simulator::new(&circuit, &levels, |_, _| false).unwrap();
        (simulator, Chip::powered(&kind, outside))
    };
    let (mut simulator, mut chip) = powered(&outside);
    let mut seen = [0, 0];
    let mut last = pins[0];
    for event in 0..=300 {
        if event > 0 {
            // clocks are pin 1 of both
            let pin = match drawn.next(4) {
                0 => 1,
                1 => last,
                _ => pins[drawn.next(pins.len())],
            };
            last = pin;
            outside[pin] = !outside[pin];
            let happened = simulator.event(&[(label(pin), outside[pin])]).unwrap();
            if happened.restless != 0 {
                return Ok(None);
            }
            // what the sheet leaves open each may answer for itself: power off and on
            if !happened.unknowns.is_empty() {
                (simulator, chip) = powered(&outside);
                continue;
            }
            chip.lay(&kind, pin, outside[pin]);
        }
        for &pin in &pins {
            let lifted = match simulator.shown(&label(pin), 0).unwrap() {
                Shown::High => Some(true),
                Shown::Low => Some(false),
                Shown::Floating | Shown::PulledHigh | Shown::PulledLow => None,
            };
            let by_hand = chip.drives(&kind, pin);
            if lifted != by_hand {
                return Err(format!("event {event}: pin {pin} is {lifted:?} lifted and {by_hand:?} by hand"));
            }
            seen[usize::from(lifted.is_none())] += 1;
        }
    }
    Ok(Some(seen))
}

#[test]
fn lifted_maps_do_what_a_chip_by_hand_does() {
    let mut drawn = Drawn(0x2210);
    for name in ["16V8", "22V10"] {
        let device = find(name).unwrap();
        let (mut compared, mut looped, mut seen) = (0, 0, [0, 0]);
        while compared < 20 {
            let fuses = drawn_map(device, &mut drawn);
            match beside(device, &fuses, &fuses, &mut drawn).unwrap_or_else(|e| panic!("{name}: {e}")) {
                Some([driven, floating]) => (compared, seen) = (compared + 1, [seen[0] + driven, seen[1] + floating]),
                None => looped += 1,
            }
        }
        println!("{name}: {compared} maps, {looped} that feed themselves; {} driven and {} floating", seen[0], seen[1]);
        assert!(seen[0] > 1000 && seen[1] > 1000, "{name}: {seen:?}");
    }
}

#[test]
fn a_chip_with_a_link_too_few_is_found_out() {
    let mut drawn = Drawn(0x1608);
    for name in ["16V8", "22V10"] {
        let device = find(name).unwrap();
        let (mut found, mut asked) = (0, 0);
        while asked < 20 {
            let fuses = drawn_map(device, &mut drawn);
            let columns = device.columns();
            // in a row that is a term: most of its links are blown
            let is_term =
                |row: usize| (0..columns).filter(|c| fuses.get(row * columns + c) == Some(true)).count() * 2 > columns;
            let array = (0..device.rows * columns).filter(|fuse| is_term(fuse / columns));
            let links: Vec<usize> = array.filter(|f| fuses.get(*f) == Some(false)).collect();
            if links.is_empty() {
                continue;
            }
            let mut burned = fuses.clone();
            burned.set(links[drawn.next(links.len())], true);
            match beside(device, &fuses, &burned, &mut drawn) {
                Ok(None) => continue,
                Ok(Some(_)) => {}
                Err(_) => found += 1,
            }
            asked += 1;
        }
        println!("{name}: {found} of {asked} found out");
        assert!(found > 0, "{name}");
    }
}
