//! Splits: fewest devices, fewest wires, and the joined devices proved as one circuit from their fuses.
use crate::choose::{NoSplit, Split, split, split_over};
use gluewright_devices::device::{self, Device};
use gluewright_devices::fit::{Fitted, Wishes};
use gluewright_devices::seat::seat_all;
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::limit::{Limit, Over, Stop};
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::Question;

/// Twelve lines of a telephone exchange, held by a strobe and shown to the registers' bus once the marker is armed.
#[derive(Circuit)]
#[rustfmt::skip]
struct Marker {
    #[contact(1)]       clock:  Input<Clock>,
    #[contact(2)]       reset:  Input<ActiveLow>,
    #[contact(3)]       arm:    Input<ActiveLow>,
    #[contact(4)]       strobe: Input<ActiveHigh>,
    #[contact(5)]       read:   Input<ActiveLow>,
    #[contact(11..=22)] line:   [Input<Data>; 12],
    #[contact(31..=42)] bus:    [Output<Data, ThreeState>; 12],
    armed: Buried<Register, ActiveHigh>,
}

impl Wiring for Marker {
    fn wire(&self) -> MarkerWiring {
        let shown = self.armed.asserted() & self.read.asserted();
        let strobe = self.strobe.asserted();
        MarkerWiring {
            armed: on(self.clock.rises()).load(self.arm.asserted()).release_while(self.reset.asserted()),
            bus: each(|i| open_while(strobe).follow(self.line[i].level()).drive_while(shown)),
        }
    }
}

fn d22v10() -> &'static Device {
    device::find("22V10").expect("known")
}

/// The devices with their fuses, in one socket.
fn joined(circuit: &Circuit, device: &Device, found: &Split<'_>, wired: impl Fn(usize, &mut Fitted)) -> Circuit {
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
fn the_marker_takes_three() {
    let circuit = gluewright_kernel::circuit_of::<Marker>().expect("sound");
    let found = split(&circuit, d22v10(), 8, &Wishes::none()).expect("splits");
    // 12 latches, 12 outputs that float, armed: 25 macrocells of ten in a device
    assert_eq!((found.shares.len(), found.fewest_devices), (3, true));
    assert!(found.shares.iter().all(|s| s.fitted.cells.len() <= 10));
    // what is armed is all that must be carried; the rest are contacts that several devices read
    assert_eq!(found.between.iter().map(|w| w.signal.as_str()).collect::<Vec<_>>(), ["armed"]);
    // five latches with their outputs are all that a device holds, so strobe, read and armed go to all three
    assert_eq!(found.wires, 6);
}

#[test]
fn a_wire_between_devices_on_the_wrong_pin_is_refuted() {
    let circuit = gluewright_kernel::circuit_of::<Ring>().expect("sound");
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
    let circuit = gluewright_kernel::circuit_of::<TwoClocks>().expect("sound");
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
    let circuit = gluewright_kernel::circuit_of::<Marker>().expect("sound");
    let few = split(&circuit, d22v10(), 2, &Wishes::none()).expect_err("too few");
    assert_eq!(few.to_string(), "`marker` needs at least 3 of 22V10, 2 are in the drawer");
    let none = split(&circuit, d22v10(), 0, &Wishes::none()).expect_err("none there");
    assert_eq!(none.to_string(), "there is no 22V10 in the drawer: name another device, or add it");
    let empty = split_over(&circuit, &[], &Wishes::none()).expect_err("nothing there");
    assert!(empty.to_string().starts_with("there is no device with a fuse map in the drawer"), "{empty}");
    let unreset = split(&circuit, device::find("20V8").expect("known"), 8, &Wishes::none()).expect_err("no reset");
    assert!(matches!(unreset, NoSplit::Unfit(_)));
    assert!(unreset.to_string().contains("has no reset term"), "{unreset}");
}

#[test]
fn no_time_is_no_split_and_is_said() {
    let circuit = gluewright_kernel::circuit_of::<Marker>().expect("sound");
    let (used, unused) = (Stop::new(), Stop::new());
    used.stop();
    let wishes = |stop| Wishes::none().within(Limit::default().or_when(Some(stop)));
    let no = split(&circuit, d22v10(), 8, &wishes(used)).expect_err("no time");
    assert!(matches!(no, NoSplit::Over { over: Over::Stopped, .. }), "{no}");
    let found = split(&circuit, d22v10(), 8, &wishes(unused)).expect("splits");
    let plainly = split(&circuit, d22v10(), 8, &Wishes::none()).expect("splits");
    assert_eq!((found.shares.len(), found.wires), (plainly.shares.len(), plainly.wires));
}
