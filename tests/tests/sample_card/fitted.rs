//! The sample card of a tide-gauge recorder: ten macrocells, three of them registers that never reach a pin.
use gluewright::circuit::{Circuit, Label};
use gluewright::device::{Device, Enable, Function, find};
use gluewright::fit::{Fitted, FittedCell, Wishes, fit};
use gluewright::signals::build;
use gluewright::simulate::Simulator;

use super::source::SampleCard;

fn device() -> &'static Device {
    find("22V10").unwrap()
}

pub(crate) fn fitted() -> (Circuit, Fitted) {
    let circuit = build::<SampleCard>().unwrap();
    let fitted = fit(&circuit, device(), &Wishes::none()).unwrap();
    (circuit, fitted)
}

fn cell<'a>(fitted: &'a Fitted, name: &str) -> &'a FittedCell {
    fitted.cells.iter().find(|c| c.name == name).unwrap_or_else(|| panic!("no {name} in {:?}", fitted.cells))
}

#[test]
fn it_takes_all_ten_macrocells_three_of_them_buried() {
    let (_, fitted) = fitted();
    assert_eq!(fitted.cells.len(), 10);
    for name in ["seen", "was", "fresh"] {
        let cell = cell(&fitted, name);
        assert_eq!((cell.function, cell.label.clone()), (Function::Registered, None), "{name}");
        assert_eq!(fitted.plan.cells[&cell.macrocell].enable, Enable::Never, "{name}");
        assert!(fitted.wires.iter().all(|w| w.pin != cell.macrocell), "{name} is on a wire");
    }
    assert_eq!(fitted.pins_of(&Label::from(1)), [1], "the clock");
    // missed is asserted low, so a reset makes its pin high: its register is stored inverted
    assert!(cell(&fitted, "missed").inverted);
    let wait = cell(&fitted, "wait");
    assert_eq!((wait.terms.len(), wait.inverted), (1, true));
    assert_eq!(cell(&fitted, "irq").terms.len(), 0);
    assert_eq!(fitted.plan.reset.as_ref().map(|t| t.0.len()), Some(1));
}

#[test]
fn the_burned_device_does_what_was_written() {
    let (circuit, fitted) = fitted();
    let burned = device().lift(&device().encode(&fitted.plan).unwrap()).unwrap();
    let contacts: Vec<&Label> = circuit.contacts().iter().map(|c| &c.label).collect();
    let pins = |label: &Label| -> Vec<Label> {
        fitted.wires.iter().filter(|w| w.label == *label).map(|w| w.pin.into()).collect()
    };
    // everything low: the reset is asserted, so both start from the same state
    let (mut original, _) = Simulator::new(&circuit, &[], |_, _| true).unwrap();
    let (mut copy, _) = Simulator::new(&burned, &[], |_, _| true).unwrap();
    let mut levels = vec![false; contacts.len()];
    let mut state = 1u64;
    let mut pulled = 0;
    for event in 0..20_000 {
        for label in &contacts {
            let one = original.shown(label, 0).unwrap();
            for pin in pins(label) {
                assert_eq!(copy.shown(&pin, 0).unwrap(), one, "event {event}, contact {label}");
            }
            pulled += u32::from(label.number() == Some(18) && one == gluewright::simulate::Shown::Low);
        }
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        // the clock moves most, the reset seldom
        let which = match state >> 33 & 7 {
            0..=3 => 0,
            _ => (state >> 40) as usize % contacts.len(),
        };
        if contacts[which].number() == Some(6) && state >> 50 & 31 != 0 && levels[which] {
            continue;
        }
        levels[which] ^= true;
        original.event(&[(contacts[which].clone(), levels[which])]).unwrap();
        let there: Vec<_> = pins(contacts[which]).into_iter().map(|p| (p, levels[which])).collect();
        copy.event(&there).unwrap();
    }
    assert!(pulled > 100, "the interrupt was seldom pulled: {pulled}");
}
