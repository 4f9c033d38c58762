//! Splits: fewest devices, fewest wires, and the joined devices proved as one circuit from their fuses.
use crate::choose::{NoSplit, Split, split};
use crate::circuit::{Circuit, Label};
use crate::device::{self, Device};
use crate::fit::{Fitted, Wishes};
use crate::job::seat_all;
use crate::prelude::*;
use crate::prove::Question;

/// Eight bits latched and three-state both ways, with what asks for the bus and complains.
#[derive(Circuit)]
#[rustfmt::skip]
struct Bridge {
    #[contact(1)]       clock:   Input<Clock>,
    #[contact(2)]       reset:   Input<ActiveLow>,
    #[contact(3)]       forth:   Input<ActiveHigh>,
    #[contact(4)]       request: Input<ActiveLow>,
    #[contact(5)]       strobe:  Input<ActiveLow>,
    #[contact(6)]       ready:   Output<ActiveHigh>,
    #[contact(7)]       fault:   Output<ActiveLow>,
    #[contact(10..=17)] a:       [InOut<Data, ThreeState>; 8],
    #[contact(20..=27)] b:       [InOut<Data, ThreeState>; 8],
    asked:   Buried<Register, ActiveHigh>,
    granted: Buried<Register, ActiveHigh>,
    struck:  Buried<Register, ActiveHigh>,
}

impl Wiring for Bridge {
    fn wire(&self) -> BridgeWiring {
        let (clock, reset) = (self.clock.rises(), self.reset.asserted());
        let (request, strobe, forth) = (self.request.asserted(), self.strobe.asserted(), self.forth.asserted());
        let granted = self.granted.asserted();
        let ready = granted & request;
        BridgeWiring {
            asked: on(clock).load(request).release_while(reset),
            granted: on(clock).load(self.asked.asserted()).release_while(reset),
            struck: on(clock).load(strobe).release_while(reset),
            ready: assert_while(ready),
            fault: on(clock).load(self.struck.asserted() & !granted).release_while(reset),
            a: each(|i| open_while(strobe & forth).follow(self.b[i].level()).drive_while(ready & forth)),
            b: each(|i| open_while(strobe & !forth).follow(self.a[i].level()).drive_while(ready & !forth)),
        }
    }
}

fn d22v10() -> &'static Device {
    device::find("22V10").expect("known")
}

/// The devices with their fuses, in one socket.
fn joined(circuit: &Circuit, device: &Device, found: &Split, wired: impl Fn(usize, &mut Fitted)) -> Circuit {
    let burned: Vec<(Circuit, Fitted)> = found
        .shares
        .iter()
        .enumerate()
        .map(|(index, share)| {
            let fuses = device.encode(&share.fitted.plan).expect("a plan of this device");
            let mut fitted = share.fitted.clone();
            wired(index, &mut fitted);
            (device.lift(&fuses).expect("its own fuses"), fitted)
        })
        .collect();
    seat_all(&burned.iter().map(|(lifted, fitted)| (lifted, fitted)).collect::<Vec<_>>(), circuit)
}

#[test]
fn the_bridge_takes_four() {
    let circuit = crate::circuit_of::<Bridge>().expect("sound");
    let found = split(&circuit, d22v10(), 8, &Wishes::none()).expect("splits");
    // 16 latches, 16 outputs that float, ready, fault, asked, granted, struck: 37 macrocells of ten in a device
    assert_eq!((found.shares.len(), found.fewest_devices), (4, true));
    assert!(found.shares.iter().all(|s| s.fitted.cells.len() <= 10));
    // the grant is all that must be carried; the rest are contacts that several devices read
    assert_eq!(found.between.iter().map(|w| w.signal.as_str()).collect::<Vec<_>>(), ["granted"]);
    assert!(found.wires <= 14, "{}", found.wires);
}

#[test]
fn a_wire_between_devices_on_the_wrong_pin_is_refuted() {
    let circuit = crate::circuit_of::<Ring>().expect("sound");
    let found = split(&circuit, d22v10(), 8, &Wishes::none()).expect("splits");
    assert_eq!(found.shares.len(), 2);
    assert!(Question::new(circuit.clone(), joined(&circuit, d22v10(), &found, |_, _| {})).ask().is_ok());
    // the two wires that one device reads, exchanged at its pins
    let device = (0..2).find(|&d| found.between.iter().filter(|w| w.from != format!("D{}", d + 1)).count() > 1);
    let device = device.expect("some device reads two wires");
    let exchanged = joined(&circuit, d22v10(), &found, |index, fitted| {
        if index == device {
            let between =
                |l: &Label| found.between.iter().any(|w| w.label == l.as_str() && w.from != format!("D{}", index + 1));
            let at: Vec<usize> = (0..fitted.wires.len()).filter(|&k| between(&fitted.wires[k].label)).collect();
            let label = fitted.wires[at[0]].label.clone();
            fitted.wires[at[0]].label = std::mem::replace(&mut fitted.wires[at[1]].label, label);
        }
    });
    assert!(matches!(Question::new(circuit, exchanged).ask(), Err(Failure::Refuted(_))));
}

/// A shift register of twelve bits with an output for the first and the last, and one that reads them all.
#[derive(Circuit)]
#[rustfmt::skip]
struct Ring {
    #[contact(1)]  clock: Input<Clock>,
    #[contact(2)]  data:  Input<Data>,
    #[contact(3)]  first: Output<Data>,
    #[contact(4)]  last:  Output<Data>,
    #[contact(5)]  all:   Output<ActiveHigh>,
    bits: [Buried<Register>; 12],
}

impl Wiring for Ring {
    fn wire(&self) -> RingWiring {
        let clock = self.clock.rises();
        let q = |i: usize| self.bits[i].q();
        RingWiring {
            bits: each(|i| on(clock).load(if i == 0 { self.data.level() } else { q(i - 1) })),
            first: follow(q(0)),
            last: follow(q(11)),
            all: assert_while(all_of((0..12).map(|i| q(i).is_high()))),
        }
    }
}

#[test]
fn registers_with_two_clocks_go_to_two_devices() {
    let circuit = crate::circuit_of::<TwoClocks>().expect("sound");
    let found = split(&circuit, d22v10(), 8, &Wishes::none()).expect("splits");
    assert_eq!(found.shares.len(), 2);
    assert_eq!(found.wires, 1, "slow's data is the contact that fast shows");
    assert!(found.fewest_devices && found.fewest_wires);
    assert!(found.between.is_empty(), "{:?}", found.between);
    let proof = Question::new(circuit.clone(), joined(&circuit, d22v10(), &found, |_, _| {})).ask();
    assert!(proof.is_ok(), "{}", proof.expect_err("shown"));
}

#[derive(Circuit)]
#[rustfmt::skip]
struct TwoClocks {
    #[contact(1)] one:  Input<Clock>,
    #[contact(2)] two:  Input<Clock>,
    #[contact(3)] data: Input<Data>,
    #[contact(4)] fast: Output<Data>,
    #[contact(5)] slow: Output<Data>,
    held: Buried<Register>,
}

impl Wiring for TwoClocks {
    fn wire(&self) -> TwoClocksWiring {
        TwoClocksWiring {
            held: on(self.one.rises()).load(self.data.level()),
            fast: follow(self.held.q()),
            slow: on(self.two.rises()).load(self.held.q()),
        }
    }
}

#[test]
fn what_does_not_split_says_why() {
    let circuit = crate::circuit_of::<Bridge>().expect("sound");
    let few = split(&circuit, d22v10(), 3, &Wishes::none()).expect_err("too few");
    assert_eq!(few.to_string(), "`bridge` needs at least 4 of 22V10, 3 are in the drawer");
    let unreset = split(&circuit, device::find("20V8").expect("known"), 8, &Wishes::none()).expect_err("no reset");
    assert!(matches!(unreset, NoSplit::Unfit(_)));
    assert!(unreset.to_string().contains("has no reset term"), "{unreset}");
}
