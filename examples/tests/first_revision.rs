//! The two mistakes of first revisions: an enable taken with the wrong polarity, and a driver that is on at the pin of
//! an input. Neither gets through.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::board::{Board, Library};
use gluewright::device;
use gluewright::fit::{Wishes, fit};
use gluewright::fusefile::Fuses;
use gluewright::job::seat;
use gluewright::mend::Mending;
use gluewright::prelude::*;
use gluewright::prove::{Proof, Question, Refutation};
use gluewright::simulate::Shown;
use gluewright_examples::first_try;
use gluewright_examples::sample_card::lost_card;

fn refutation(answer: Result<Proof, Failure>) -> Refutation {
    match answer {
        Err(Failure::Refuted(r)) => *r,
        other => panic!("expected a refutation: {other:?}"),
    }
}

#[test]
fn an_enable_with_the_wrong_polarity_is_refuted_with_a_sequence() {
    let card = lost_card().expect("the trace is sound");
    let r = refutation(prove::<first_try::SampleCard>().against(&card).run());
    println!("{r}");
    assert!(r.shortest);
    assert_eq!(r.replay().expect("eight bits, nothing unknown").last(), Some(&0));
    assert!(r.differences.iter().any(|d| (13..=16).any(|c: u16| d.label == c.into())), "{r}");
}

/// An interlock of a telephone exchange: twelve inputs beside the clock, so that one sits on a pin with a driver. Its
/// trace: three NANDs of four, and a flip-flop.
#[derive(Circuit)]
#[rustfmt::skip]
struct Interlock {
    #[contact(1)]       clock: Input<Clock>,
    #[contact(2..=13)]  line:  [Input<Data>; 12],
    #[contact(14)]      busy:  Output<ActiveLow>,
    #[contact(15)]      all:   [Output<Data>; 1],
    held: Buried<Register>,
}

impl Interlock {
    fn group(&self, of: std::ops::Range<usize>) -> Assertion {
        self.line[of].iter().map(|l| l.level().is_high()).reduce(|a, b| a & b).expect("four lines")
    }
}

impl Wiring for Interlock {
    fn wire(&self) -> InterlockWiring {
        let (a, b, c) = (self.group(0..4), self.group(4..8), self.group(8..12));
        InterlockWiring {
            busy: assert_while(a & self.held.q().is_high()),
            all: [follow(high_while(b & c))],
            held: on(self.clock.rises()).load(high_while(a | b | c)),
        }
    }
}

/// Reference, type number, pins with their nets.
type Chip = (&'static str, &'static str, &'static [(u16, &'static str)]);

fn interlock_trace(library: &dyn Library) -> Board {
    let mut csv = String::from("ref,part,pin,net\nJ1,contacts,1,clk\n");
    for i in 0..12 {
        csv += &format!("J1,contacts,{},l{i}\n", i + 2);
    }
    csv += "J1,contacts,14,busy_n\nJ1,contacts,15,all\n";
    // U1 74LS20: a_n, b_n; U2 74LS20: c_n, any; U3 74LS74: held; U4 74LS00: all and busy; U5 74LS04: a
    let chips: [Chip; 5] = [
        (
            "U1",
            "74LS20",
            &[
                (1, "l0"),
                (2, "l1"),
                (4, "l2"),
                (5, "l3"),
                (6, "a_n"),
                (9, "l4"),
                (10, "l5"),
                (12, "l6"),
                (13, "l7"),
                (8, "b_n"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U2",
            "74LS20",
            &[
                (1, "l8"),
                (2, "l9"),
                (4, "l10"),
                (5, "l11"),
                (6, "c_n"),
                (9, "a_n"),
                (10, "b_n"),
                (12, "c_n"),
                (13, "VCC"),
                (8, "any"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U3",
            "74LS74",
            &[
                (1, "VCC"),
                (2, "any"),
                (3, "clk"),
                (4, "VCC"),
                (5, "held"),
                (10, "VCC"),
                (11, "GND"),
                (12, "GND"),
                (13, "VCC"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U4",
            "74LS02",
            &[
                (2, "b_n"),
                (3, "c_n"),
                (1, "all"),
                (5, "GND"),
                (6, "GND"),
                (8, "GND"),
                (9, "GND"),
                (11, "GND"),
                (12, "GND"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U5",
            "74LS00",
            &[
                (1, "a_n"),
                (2, "a_n"),
                (3, "a"),
                (4, "a"),
                (5, "held"),
                (6, "busy_n"),
                (9, "GND"),
                (10, "GND"),
                (12, "GND"),
                (13, "GND"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
    ];
    for (reference, part, pins) in chips {
        for (pin, net) in pins {
            csv += &format!("{reference},{part},{pin},{net}\n");
        }
    }
    Board::from_csv("interlock.csv", csv, library).expect("the trace is sound")
}

#[test]
fn a_driver_turned_on_at_the_pin_of_an_input_is_refuted_from_the_fuses() {
    let board = interlock_trace(gluewright_parts::ttl());
    let original = board.circuit().expect("logic only");
    let replacement = gluewright::circuit_of::<Interlock>().expect("it builds");
    let device = device::find("22V10").expect("in the catalogue");
    let fitted = fit(&replacement, device, &Wishes::none()).expect("it fits");
    let fuses = device.encode(&fitted.plan).expect("a plan of the fit");
    let ask = |fuses: &Fuses| {
        let lifted = device.lift(fuses).expect("fuses of this device");
        Question::new(original.clone(), seat(&lifted, &fitted, &replacement)).ask()
    };
    ask(&fuses).expect("as fitted it is proved");

    // an input on a pin that has a macrocell: its output enable is the row right before its logic rows
    let wire = fitted.wires.iter().find(|w| w.signal.starts_with("line") && w.pin >= 14 && w.pin != 13);
    let wire = wire.expect("thirteen inputs need more than the twelve pins without a driver");
    // first fuse of the output-enable row of each pin (22V10 data sheets' logic diagram; from memory)
    let row = [
        (23, 44),
        (22, 440),
        (21, 924),
        (20, 1496),
        (19, 2156),
        (18, 2904),
        (17, 3652),
        (16, 4312),
        (15, 4884),
        (14, 5368),
    ];
    let (_, first) = row.into_iter().find(|(pin, _)| *pin == wire.pin).expect("a macrocell");
    let mut edited = fuses.clone();
    for fuse in first..first + 44 {
        // all links open: the term is always true, the driver always on
        edited.set(fuse, true);
    }
    let r = refutation(ask(&edited));
    println!("{r}\n");
    assert!(r.differences.iter().any(|d| d.label == wire.label && d.original == [Shown::Floating]), "{r}");
    let (text, pin) = (r.to_string(), wire.pin);
    let probe = format!("contact {} {} (replacement: D1 pin {pin})", wire.label, wire.signal);
    assert!(text.contains(&probe), "{probe}: {text}");
    assert!(text.contains(&format!("D1 pin {pin} always drives")), "{text}");

    let seated = |lifted: &gluewright::circuit::Circuit| seat(lifted, &fitted, &replacement);
    let mends = r.mend_fuses(device, &edited, seated, std::time::Duration::from_secs(120));
    println!("{mends}");
    let mend = format!("proved equal if the driver of pin {pin} is off: all of fuses {first} to {} at 0", first + 43);
    assert!(mends.to_string().contains(&mend), "{mends}");
}

/// A link that was left where it should have been blown, and one that was blown where it should have been left.
#[test]
fn a_single_wrong_fuse_is_named() {
    let board = interlock_trace(gluewright_parts::ttl());
    let original = board.circuit().expect("logic only");
    let replacement = gluewright::circuit_of::<Interlock>().expect("it builds");
    let device = device::find("22V10").expect("in the catalogue");
    let fitted = fit(&replacement, device, &Wishes::none()).expect("it fits");
    let fuses = device.encode(&fitted.plan).expect("a plan of the fit");
    // a polarity fuse (22V10 data sheets, S1 of the first macrocell; from memory), and links of used terms
    let used = (0..5808).filter(|&f| {
        fuses.get(f) == Some(false) && (f / 44 * 44..f / 44 * 44 + 44).any(|g| fuses.get(g) == Some(true))
    });
    for fuse in used.step_by(17).take(3) {
        let mut edited = fuses.clone();
        edited.set(fuse, true);
        let seated = |lifted: &gluewright::circuit::Circuit| seat(lifted, &fitted, &replacement);
        let lifted = device.lift(&edited).expect("fuses of this device");
        let r = refutation(Question::new(original.clone(), seated(&lifted)).ask());
        let mends = r.mend_fuses(device, &edited, seated, std::time::Duration::from_secs(120));
        println!("{mends}");
        assert!(mends.to_string().contains(&format!("fuse {fuse} at 0 instead of 1")), "{fuse}: {mends}");
    }
}
