//! A device in its socket: what the adapter wires and ties is part of what is proved from the fuses.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::circuit::{Circuit as Logic, Pull};
use gluewright::device;
use gluewright::fit::{Fitted, Wishes, fit};
use gluewright::job::seat;
use gluewright::prelude::*;
use gluewright::prove::Question;

/// A flip-flop of an organ's stop register: it drives at all times.
#[derive(Circuit)]
struct Stop {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    key: Input<Data>,
    #[contact(3)]
    drawn: Output<Data>,
}

impl Wiring for Stop {
    fn wire(&self) -> StopWiring {
        StopWiring { drawn: on(self.clock.rises()).load(self.key.level()) }
    }
}

fn from_fuses(fitted: &Fitted, replacement: &Logic) -> Result<(), Failure> {
    let device = device::find(fitted.device).expect("it was fitted into it");
    let fuses = device.encode(&fitted.plan).expect("a plan of the fit");
    let lifted = device.lift(&fuses).expect("fuses of this device");
    Question::new(replacement.clone(), seat(&lifted, fitted, replacement)).ask().map(drop)
}

#[test]
fn the_enable_pin_of_registers_that_always_drive_is_tied_and_proved_so() {
    let replacement = gluewright::circuit_of::<Stop>().expect("it builds");
    for name in ["16V8", "20V8"] {
        let device = device::find(name).expect("in the catalogue");
        let fitted = fit(&replacement, device, &Wishes::none()).expect("it fits");
        assert!(!fitted.ties.is_empty(), "the enable pin serves no contact");
        from_fuses(&fitted, &replacement).unwrap_or_else(|e| panic!("{name}: {e}"));
        // without the tie the pin floats, and so do the outputs
        let mut loose = fitted.clone();
        loose.ties.clear();
        assert!(matches!(from_fuses(&loose, &replacement), Err(Failure::Refuted(_))), "{name}: a loose enable pin");
    }
}

#[test]
fn a_pull_resistor_of_the_replacement_sits_on_the_adapter() {
    let mut replacement = gluewright::circuit_of::<Stop>().expect("it builds");
    let device = device::find("16V8").expect("in the catalogue");
    let fitted = fit(&replacement, device, &Wishes::none()).expect("it fits");
    let lifted = device.lift(&device.encode(&fitted.plan).expect("a plan of the fit")).expect("fuses of this device");
    for pull in [Pull::None, Pull::Up, Pull::Down] {
        let key = replacement.contacts()[1].net;
        replacement.net_mut(key).expect("a net").pull = pull;
        let socket = seat(&lifted, &fitted, &replacement);
        let pulls: Vec<Pull> = socket.contacts().iter().map(|c| socket.nets()[c.net.index()].pull).collect();
        assert_eq!(pulls, [Pull::None, pull, Pull::None]);
    }
}
