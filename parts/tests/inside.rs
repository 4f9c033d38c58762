//! Circuits inside circuits: chips of the library, blocks of one's own, arrays of them, three deep; each proved, and with a
//! slip refuted.
#![allow(clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a check stops at what it did not expect")]
use gluewright::board::Board;
use gluewright::circuit::Circuit as Built;
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::idioms::count_up;
use gluewright::prelude::*;
use gluewright::{BuildError, Mistake};
use gluewright_parts::chips::{Ls00, Ls00Inputs, Ls161, Ls161Inputs, Ls373, Ls373Inputs};

/// A board of these packages, each as `type,pin=net,…`, whose contacts 1 onwards are these nets. Pins that are not named are
/// open.
fn board(packages: &str, contacts: &[&str]) -> Board {
    let mut sheet = String::from("ref,part,pin,net\n");
    for (label, net) in (1..).zip(contacts) {
        sheet.push_str(&format!("J1,contacts,{label},{net}\n"));
    }
    for (number, package) in (1..).zip(packages.lines()) {
        let (part, pins) = package.trim().split_once(',').expect("a type and its pins");
        for pin in pins.split(',') {
            let (pin, net) = pin.split_once('=').expect("a pin and its net");
            sheet.push_str(&format!("U{number},{part},{pin},{net}\n"));
        }
        sheet.push_str(&format!("U{number},{part},others,open\n"));
    }
    Board::from_csv("inside.csv", sheet, gluewright_parts::ttl()).expect("a sound board")
}

fn proved<C: Wiring>(original: &Board) {
    if let Err(failure) = prove::<C>().against(original).run() {
        panic!("{failure}");
    }
}

/// The text of the refutation.
fn refuted<C: Wiring>(original: &Board) -> String {
    match prove::<C>().against(original).run() {
        Err(Failure::Refuted(refutation)) => refutation.to_string(),
        other => panic!("it is not refuted: {other:?}"),
    }
}

/// A chip inside has supply pins of its own; which contacts of the card are supplies, the card alone says.
#[test]
fn supply_pins_of_a_chip_inside_are_no_contacts_of_the_card() {
    let built = gluewright::circuit_of::<ChipByChip>().expect("it builds");
    assert_eq!(built.supplies(), []);
    let chip = gluewright::circuit_of::<Ls161>().expect("it builds");
    assert_eq!(chip.supplies().len(), 2);
}

/// Counts a loom's shots and stops it at the last one: a counter and a gate.
fn shots() -> Board {
    board(
        "74LS161,1=clear,2=shot,3=GND,4=GND,5=GND,6=GND,7=VCC,9=VCC,10=VCC,14=q0,13=q1,12=q2,11=q3,15=last,16=VCC,8=GND
         74LS00,1=last,2=running,3=stop,14=VCC,7=GND",
        &["shot", "clear", "running", "q0", "q1", "q2", "q3", "stop"],
    )
}

/// The same chip by chip.
#[derive(Circuit)]
struct ChipByChip {
    #[contact(1)]
    shot: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveLow>,
    #[contact(3)]
    running: Input<Data>,
    #[contact(4..=7)]
    count: [Output<Data>; 4],
    #[contact(8)]
    stop: Output<Data>,
    #[circuit]
    counter: Ls161,
    #[circuit]
    gates: Ls00,
}

impl ChipByChip {
    fn wired(&self, gate: [Level; 2]) -> ChipByChipWiring {
        ChipByChipWiring {
            counter: Ls161Inputs {
                clr: wired_to(self.clear),
                clk: wired_to(self.shot),
                abcd: each(|_| follow(Level::LOW)),
                enp: assert_while(Assertion::ALWAYS),
                ent: assert_while(Assertion::ALWAYS),
                load: assert_while(Assertion::NEVER),
            },
            gates: Ls00Inputs {
                a: each(|i| follow(if i == 0 { gate[0] } else { Level::HIGH })),
                b: each(|i| follow(if i == 0 { gate[1] } else { Level::HIGH })),
            },
            count: each(|i| wired_to(self.counter.q[i])),
            stop: wired_to(self.gates.y[0]),
        }
    }
}

impl Wiring for ChipByChip {
    fn wire(&self) -> ChipByChipWiring {
        self.wired([self.counter.rco.level(), self.running.level()])
    }
}

/// The same by hand.
#[derive(Circuit)]
struct ByHand {
    #[contact(1)]
    shot: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveLow>,
    #[contact(3)]
    running: Input<Data>,
    #[contact(4..=7)]
    count: [Output<Data>; 4],
    #[contact(8)]
    stop: Output<Data>,
}

impl Wiring for ByHand {
    fn wire(&self) -> ByHandWiring {
        let counter = count_up(self.count);
        let next = counter.next();
        ByHandWiring {
            count: each(|i| on(self.shot.rises()).load(next[i]).clear_while(self.clear.asserted())),
            stop: follow(low_while(counter.is_at_its_end() & self.running.level().is_high())),
        }
    }
}

/// The gate has the count's highest bit instead of the carry.
#[derive(Circuit)]
struct ChipByChipSlip {
    #[contact(1)]
    shot: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveLow>,
    #[contact(3)]
    running: Input<Data>,
    #[contact(4..=7)]
    count: [Output<Data>; 4],
    #[contact(8)]
    stop: Output<Data>,
    #[circuit]
    counter: Ls161,
}

impl Wiring for ChipByChipSlip {
    fn wire(&self) -> ChipByChipSlipWiring {
        let last = self.counter.q[3].level().is_high() & self.running.level().is_high();
        ChipByChipSlipWiring {
            counter: Ls161Inputs {
                clr: wired_to(self.clear),
                clk: wired_to(self.shot),
                abcd: each(|_| follow(Level::LOW)),
                enp: assert_while(Assertion::ALWAYS),
                ent: assert_while(Assertion::ALWAYS),
                load: assert_while(Assertion::NEVER),
            },
            count: each(|i| wired_to(self.counter.q[i])),
            stop: follow(low_while(last)),
        }
    }
}

fn built<C: Wiring>() -> Built {
    gluewright::circuit_of::<C>().expect("a circuit")
}

#[test]
fn a_card_chip_by_chip_is_proved_and_a_slip_refuted() {
    let original = shots();
    proved::<ChipByChip>(&original);
    proved::<ByHand>(&original);
    let said = refuted::<ChipByChipSlip>(&original);
    assert!(said.lines().any(|line| line.split(|c: char| !c.is_alphanumeric()).any(|word| word == "stop")), "{said}");
}

#[test]
fn what_is_inside_goes_by_its_place() {
    let circuit = built::<ChipByChip>();
    for i in 0..4 {
        assert!(circuit.find_net(&format!("counter.q[{i}]")).is_some());
        assert!(circuit.find_element(&format!("counter.q[{i}]")).is_some());
    }
    let contacts: Vec<&str> = circuit.contacts().iter().map(|c| c.name.as_str()).collect();
    assert_eq!(contacts, ["shot", "clear", "running", "count[0]", "count[1]", "count[2]", "count[3]", "stop"]);
}

/// Putting chips inside costs nothing: the fit is that of the same card by hand.
#[test]
fn a_card_chip_by_chip_fits_as_well_as_by_hand() {
    let device = find("22V10").expect("a device");
    let sizes = [built::<ChipByChip>(), built::<ByHand>()].map(|circuit| {
        let fitted = fit(&circuit, device, &Wishes::none()).unwrap_or_else(|e| panic!("{e}"));
        (fitted.cells.len(), fitted.term_count())
    });
    println!("macrocells and terms: chip by chip {:?}, by hand {:?}", sizes[0], sizes[1]);
    assert_eq!(sizes[0], sizes[1]);
}

/// One bit that toggles while it is told to.
#[derive(Circuit)]
struct Bit {
    #[contact("CLK")]
    clock: Input<Clock>,
    #[contact("CLR")]
    clear: Input<ActiveLow>,
    #[contact("T")]
    toggle: Input<ActiveHigh>,
    #[contact("Q")]
    q: Output<Data>,
}

impl Wiring for Bit {
    fn wire(&self) -> BitWiring {
        BitWiring { q: on(self.clock.rises()).toggle_if(self.toggle.asserted()).clear_while(self.clear.asserted()) }
    }
}

/// One place of a number that goes up by one.
#[derive(Circuit)]
struct HalfAdder {
    #[contact("A")]
    a: Input<Data>,
    #[contact("CI")]
    carry_in: Input<ActiveHigh>,
    #[contact("S")]
    sum: Output<Data>,
    #[contact("CO")]
    carry: Output<ActiveHigh>,
}

impl Wiring for HalfAdder {
    fn wire(&self) -> HalfAdderWiring {
        let (a, carry) = (self.a.level().is_high(), self.carry_in.asserted());
        HalfAdderWiring { sum: follow(high_while(a ^ carry)), carry: assert_while(a & carry) }
    }
}

/// As many places as it is wide.
#[derive(Circuit)]
struct Incrementer<const N: usize> {
    #[contact("A0"..)]
    a: [Input<Data>; N],
    #[contact("EN")]
    enabled: Input<ActiveHigh>,
    #[contact("S0"..)]
    sum: [Output<Data>; N],
    #[contact("CO")]
    carry: Output<ActiveHigh>,
    #[circuit]
    places: [HalfAdder; N],
}

impl<const N: usize> Wiring for Incrementer<N> {
    fn wire(&self) -> IncrementerWiring<N> {
        IncrementerWiring {
            places: each(|i| HalfAdderInputs {
                a: wired_to(self.a[i]),
                carry_in: if i == 0 { wired_to(self.enabled) } else { wired_to(self.places[i - 1].carry) },
            }),
            sum: each(|i| wired_to(self.places[i].sum)),
            carry: wired_to(self.places[N - 1].carry),
        }
    }
}

/// A counter of two incrementers of different widths.
macro_rules! counters {
    ($($name:ident: $low:literal, $high:literal, $carry:ident;)*) => {$(
        #[derive(Circuit)]
        struct $name {
            #[contact(1)]
            shot: Input<Clock>,
            #[contact(2)]
            clear: Input<ActiveLow>,
            #[contact(3)]
            running: Input<ActiveHigh>,
            #[contact(4..=8)]
            count: [Output<Data>; 5],
            #[circuit]
            low: Incrementer<$low>,
            #[circuit]
            high: Incrementer<$high>,
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$name as Circuit>::Wiring;
                let sum = |i: usize| if i < $low { self.low.sum[i].level() } else { self.high.sum[i - $low].level() };
                Filled {
                    low: IncrementerInputs {
                        a: each(|i| wired_to(self.count[i])),
                        enabled: wired_to(self.running),
                    },
                    high: IncrementerInputs {
                        a: each(|i| wired_to(self.count[$low + i])),
                        enabled: $carry(self.low.carry, self.running),
                    },
                    count: each(|i| on(self.shot.rises()).load(sum(i)).clear_while(self.clear.asserted())),
                }
            }
        }
    )*};
}
counters! {
    ThreeDeep: 2, 3, carry;
    ThreeDeepOtherwise: 3, 2, carry;
    ThreeDeepSlip: 2, 3, no_carry;
}

fn carry(carry: Output<ActiveHigh>, _: Input<ActiveHigh>) -> Definition<Input<ActiveHigh>> {
    wired_to(carry)
}

fn no_carry(_: Output<ActiveHigh>, running: Input<ActiveHigh>) -> Definition<Input<ActiveHigh>> {
    wired_to(running)
}

/// Two 74LS161s in a row, of which five bits are used.
#[test]
fn blocks_of_any_width_three_deep_are_proved_and_a_slip_refuted() {
    let original = board(
        "74LS161,1=clear,2=shot,3=GND,4=GND,5=GND,6=GND,7=VCC,9=VCC,10=running,14=q0,13=q1,12=q2,11=q3,15=carry,16=VCC,8=GND
         74LS161,1=clear,2=shot,3=GND,4=GND,5=GND,6=GND,7=VCC,9=VCC,10=carry,14=q4,16=VCC,8=GND",
        &["shot", "clear", "running", "q0", "q1", "q2", "q3", "q4"],
    );
    proved::<ThreeDeep>(&original);
    proved::<ThreeDeepOtherwise>(&original);
    refuted::<ThreeDeepSlip>(&original);
    assert!(built::<ThreeDeep>().find_net("high.places[2].sum").is_some());
}

/// A byte that is kept, on a bus: the driver is the chip's own.
macro_rules! kept {
    ($($name:ident: $enable:ident;)*) => {$(
        #[derive(Circuit)]
        struct $name {
            #[contact(1)]
            read: Input<ActiveLow>,
            #[contact(2)]
            strobe: Input<ActiveHigh>,
            #[contact(3..=10)]
            bus: [Output<Data, ThreeState>; 8],
            #[contact(11..=18)]
            keys: [Input<Data>; 8],
            #[circuit]
            latch: Ls373,
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$name as Circuit>::Wiring;
                Filled {
                    latch: Ls373Inputs {
                        oe: $enable(self.read),
                        le: wired_to(self.strobe),
                        d: each(|i| wired_to(self.keys[i])),
                    },
                    bus: each(|i| wired_to(self.latch.q[i])),
                }
            }
        }
    )*};
}
kept! {
    Kept: wired_to;
    KeptAlways: always_on;
}

fn always_on(_: Input<ActiveLow>) -> Definition<Input<ActiveLow>> {
    assert_while(Assertion::ALWAYS)
}

#[test]
fn a_three_state_output_inside_reaches_the_contact_with_its_driver() {
    let original = board(
        "74LS373,1=read,11=strobe,3=k0,4=k1,7=k2,8=k3,13=k4,14=k5,17=k6,18=k7,2=b0,5=b1,6=b2,9=b3,12=b4,15=b5,16=b6,19=b7,20=VCC,10=GND",
        &[
            "read", "strobe", "b0", "b1", "b2", "b3", "b4", "b5", "b6", "b7", "k0", "k1", "k2", "k3", "k4", "k5", "k6",
            "k7",
        ],
    );
    proved::<Kept>(&original);
    refuted::<KeptAlways>(&original);
}

/// Reads a buried bus whose driver may be off.
macro_rules! buried {
    ($($name:ident: $enabled:expr;)*) => {$(
        #[derive(Circuit)]
        struct $name {
            #[contact(1)]
            read: Input<ActiveLow>,
            #[contact(2)]
            strobe: Input<ActiveHigh>,
            #[contact(3)]
            out: Output<Data>,
            #[contact(4)]
            key: Input<Data>,
            #[circuit]
            latch: Ls373,
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$name as Circuit>::Wiring;
                let enabled: fn(&Self) -> Assertion = $enabled;
                Filled {
                    latch: Ls373Inputs {
                        oe: assert_while(enabled(self)),
                        le: wired_to(self.strobe),
                        d: each(|i| follow(if i == 0 { self.key.level() } else { Level::LOW })),
                    },
                    out: follow(high_while(self.latch.q[0].level().is_high() & self.read.asserted())),
                }
            }
        }
    )*};
}
buried! {
    BuriedDriven: |_| Assertion::ALWAYS;
    BuriedWhileRead: |card| card.read.asserted();
    BuriedWhileNotRead: |card| !card.read.asserted();
}

/// A 74LS373 that always drives, and an AND gate that asks only while it is read.
#[test]
fn a_buried_three_state_output_is_proved_where_it_drives_and_refuted_where_it_floats() {
    let original = board(
        "74LS373,1=GND,11=strobe,3=key,4=GND,7=GND,8=GND,13=GND,14=GND,17=GND,18=GND,2=kept,20=VCC,10=GND
         74LS04,1=read,2=reading,14=VCC,7=GND
         74LS08,1=kept,2=reading,3=out,14=VCC,7=GND",
        &["read", "strobe", "out", "key"],
    );
    proved::<BuriedDriven>(&original);
    refuted::<BuriedWhileNotRead>(&original);
    // and where a device would have to float inside, the fit says so
    let refused = fit(&built::<BuriedWhileRead>(), find("22V10").expect("a device"), &Wishes::none());
    let said = refused.expect_err("nothing floats inside a device").to_string();
    assert!(said.split('`').any(|word| word == "latch.q[0]"), "{said}");
}

fn mistakes<C: Wiring>() -> Vec<Mistake> {
    gluewright::circuit_of::<C>().err().map(|e: BuildError| e.mistakes().to_vec()).unwrap_or_default()
}

/// A contact wired to another one of the same card.
#[derive(Circuit)]
struct Shorted {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    x: Output<Data>,
    #[contact(3)]
    y: Output<Data>,
}

impl Wiring for Shorted {
    fn wire(&self) -> ShortedWiring {
        ShortedWiring { x: follow(self.a.level()), y: wired_to(self.x) }
    }
}

/// A circuit inside that can't be built.
#[derive(Circuit)]
struct Outer {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
    #[circuit]
    inner: [Shorted; 2],
}

impl Wiring for Outer {
    fn wire(&self) -> OuterWiring {
        OuterWiring { inner: each(|_| ShortedInputs { a: wired_to(self.a) }), y: wired_to(self.inner[0].x) }
    }
}

/// More said of a wire than that it is one.
#[derive(Circuit)]
struct Cleared {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveLow>,
    #[contact(3)]
    q: Output<Data>,
    #[circuit]
    bit: Bit,
}

impl Wiring for Cleared {
    fn wire(&self) -> ClearedWiring {
        ClearedWiring {
            bit: BitInputs {
                clock: wired_to(self.clock),
                clear: wired_to(self.clear),
                toggle: assert_while(Assertion::ALWAYS),
            },
            q: wired_to(self.bit.q).clear_while(self.clear.asserted()),
        }
    }
}

#[test]
fn what_cannot_be_wired_is_said() {
    assert!(matches!(mistakes::<Shorted>().as_slice(), [Mistake::WiredToOwn { name, .. }] if name == "y"));
    assert!(matches!(mistakes::<Cleared>().as_slice(), [Mistake::OnlyAWire { name, .. }] if name == "q"));
    let inside = mistakes::<Outer>();
    for (i, mistake) in inside.iter().take(2).enumerate() {
        let Mistake::Inside { name, mistakes } = mistake else { panic!("{mistake}") };
        assert_eq!(*name, format!("inner[{i}]"));
        assert!(matches!(mistakes.as_slice(), [Mistake::WiredToOwn { .. }]));
    }
}

/// A pulse of a tide gauge, taken by two flip-flops in a row: one clock goes to both.
#[derive(Circuit)]
#[contacts(clock: 1, gauge: 2, seen: 3, reset: 4)]
struct TwoInARow {
    clock: Input<Clock>,
    gauge: Input<Data>,
    seen: Output<Data>,
    reset: Input<ActiveLow>,
    #[circuit]
    stages: [Stage; 2],
}

/// One of them.
#[derive(Circuit)]
#[contacts(clock: "CLK", d: "D", clear: "CLR", q: "Q")]
struct Stage {
    clock: Input<Clock>,
    d: Input<Data>,
    clear: Input<ActiveLow>,
    q: Output<Data>,
}

impl Wiring for Stage {
    fn wire(&self) -> StageWiring {
        StageWiring { q: on(self.clock.rises()).load(self.d.level()).clear_while(self.clear.asserted()) }
    }
}

impl Wiring for TwoInARow {
    fn wire(&self) -> TwoInARowWiring {
        TwoInARowWiring {
            stages: each(|i| StageInputs {
                clock: wired_to(self.clock),
                d: if i == 0 { wired_to(self.gauge) } else { wired_to(self.stages[i - 1].q) },
                clear: wired_to(self.reset),
            }),
            seen: wired_to(self.stages[1].q),
        }
    }
}

/// The same, with the second stage on the other edge.
#[derive(Circuit)]
#[contacts(clock: 1, gauge: 2, seen: 3, reset: 4)]
struct OnTheOtherEdge {
    clock: Input<Clock>,
    gauge: Input<Data>,
    seen: Output<Data>,
    reset: Input<ActiveLow>,
    taken: Buried<Register>,
}

impl Wiring for OnTheOtherEdge {
    fn wire(&self) -> OnTheOtherEdgeWiring {
        let reset = self.reset.asserted();
        OnTheOtherEdgeWiring {
            taken: on(self.clock.rises()).load(self.gauge.level()).clear_while(reset),
            seen: on(self.clock.falls()).load(self.taken.q()).clear_while(reset),
        }
    }
}

#[test]
fn a_clock_that_goes_to_several_circuits_is_one_net() {
    let original = board(
        "74LS74,1=reset,2=gauge,3=clock,4=VCC,5=taken,13=reset,12=taken,11=clock,10=VCC,9=seen,14=VCC,7=GND",
        &["clock", "gauge", "seen", "reset"],
    );
    // registers that feed each other on one clock are no matter of delays
    proved::<TwoInARow>(&original);
    refuted::<OnTheOtherEdge>(&original);
}
