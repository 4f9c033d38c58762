//! Where a card starts that resets itself when power comes on: the replacement must start there too.
#![allow(clippy::unwrap_used, clippy::panic, reason = "cards and parts are those of this file")]
use gluewright::board::{Board, FindingKind, Remainder};
use gluewright::circuit::{Circuit, Label, Landing};
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::prelude::*;
use gluewright::prove::{Proof, Question};
use gluewright::seat::landing;
use gluewright_parts::ttl;

/// The lamp of a switchboard's night bell: a register that a resistor and a capacitor reset over a Schmitt trigger. `rows` are
/// those of the capacitor; `more` what else is on the card.
fn card(capacitor: &str, more: &str) -> Board {
    read(rows(capacitor, more))
}

fn read(rows: String) -> Board {
    Board::from_csv("bell.csv", rows, ttl()).unwrap_or_else(|e| panic!("{e}"))
}

fn rows(capacitor: &str, more: &str) -> String {
    let mut rows = String::from("ref,part,pin,net\nJ1,contacts,20,VCC\nJ1,contacts,10,GND\n");
    for (label, net) in [(1, "clk"), (2, "call"), (3, "lamp"), (4, "quiet")] {
        rows += &format!("J1,contacts,{label},{net}\n");
    }
    rows += "R1,resistor 47k,1,VCC\nR1,resistor 47k,2,late\n\
        U1,74LS14,1,late\nU1,74LS14,2,reset\nU1,74LS14,3,reset\nU1,74LS14,4,reset_n\n\
        U2,74LS74,1,reset_n\nU2,74LS74,2,call\nU2,74LS74,3,clk\nU2,74LS74,4,VCC\nU2,74LS74,5,lamp\n\
        U2,74LS74,8,quiet\nU2,74LS74,10,VCC\nU2,74LS74,11,clk\nU2,74LS74,12,call\nU2,74LS74,13,reset_n\n";
    rows += &format!("C1,{capacitor},1,late\nC1,{capacitor},2,GND\n{more}");
    for (reference, part) in [("U1", "74LS14"), ("U2", "74LS74")] {
        rows += &format!("{reference},{part},14,VCC\n{reference},{part},7,GND\n{reference},{part},others,open\n");
    }
    rows
}

/// `quiet` is the inverted output: after a reset it is high.
macro_rules! lamp {
    ($name:ident, $wiring:ident, $lamp:ident, $quiet:ident) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)] clock: Input<Clock>,
            #[contact(2)] call:  Input<Data>,
            #[contact(3)] lamp:  Output<Data>,
            #[contact(4)] quiet: Output<Data>,
        }

        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let clock = self.clock.rises();
                $wiring {
                    lamp: on(clock).load(self.call.level()).$lamp(),
                    quiet: on(clock).load(!self.call.level()).$quiet(),
                }
            }
        }
    };
}

lamp!(Right, RightWiring, starts_low, starts_high);
lamp!(WrongLamp, WrongLampWiring, starts_high, starts_high);
lamp!(WrongQuiet, WrongQuietWiring, starts_low, starts_low);

#[derive(Circuit)]
#[rustfmt::skip]
struct Anyhow {
    #[contact(1)] clock: Input<Clock>,
    #[contact(2)] call:  Input<Data>,
    #[contact(3)] lamp:  Output<Data>,
    #[contact(4)] quiet: Output<Data>,
}

impl Wiring for Anyhow {
    fn wire(&self) -> AnyhowWiring {
        let clock = self.clock.rises();
        AnyhowWiring { lamp: on(clock).load(self.call.level()), quiet: on(clock).load(!self.call.level()) }
    }
}

#[test]
fn the_right_start_is_proved_and_every_wrong_one_refuted() {
    let card = card("capacitor 10u", "");
    prove::<Right>().against(&card).run().unwrap_or_else(|e| panic!("{e}"));
    for (which, answer) in [
        ("the lamp starts lit", prove::<WrongLamp>().against(&card).run()),
        ("the inverted output starts low", prove::<WrongQuiet>().against(&card).run()),
        ("any start", prove::<Anyhow>().against(&card).run()),
    ] {
        match answer {
            Err(Failure::Refuted(r)) => assert!(r.events.is_empty(), "{which} shows at power-up: {r}"),
            other => panic!("{which}: {other:?}"),
        }
    }
}

/// 47 kΩ · 10 µF = 0.47 s; VT+ of a 74LS14 is 1.4 to 2.0 V at 5 V (Fairchild; Motorola p.5-24): ln(5 / 3.6) = 0.329, ln(5 / 3) =
/// 0.511.
#[test]
fn the_trace_says_what_the_reset_does() {
    let card = card("capacitor 10u", "");
    let told = card.findings().iter().find(|f| f.kind == FindingKind::PowerUp).unwrap();
    for part in ["holds `late` low at power-up", "U2.state[0] low", "U2.state[1] low", "155 ms to 240 ms"] {
        assert!(told.message.contains(part), "{}\nlacks {part}", told.message);
    }
    assert!(!told.message.contains("Schmitt"), "{}", told.message);
}

/// A capacitor that is said to mean nothing loses the start, and the trace warns of it.
#[test]
fn what_is_ignored_is_warned_of() {
    let card = card("capacitor 10u ignored", "");
    let told = card.findings().iter().find(|f| f.kind == FindingKind::PowerUp).unwrap();
    assert!(told.message.contains("where that starts is then not compared"), "{}", told.message);
    assert!(told.mend.contains("leave `ignored` out"), "{}", told.mend);
}

#[test]
fn what_can_not_be_told_is_refused() {
    let refused = |more: &str| {
        let card = card("capacitor 10u", more);
        let error = card.circuit().err().map(|e| e.to_string()).unwrap_or_default();
        assert!(!error.contains("ignored"), "no way to the wrong start is offered: {error}");
        error
    };
    // a counter that loads on its clock only: whether it is reset hangs on the board
    let counter = "U3,74LS163,1,reset_n\nU3,74LS163,2,clk\nU3,74LS163,14,seen\nU3,74LS163,16,VCC\nU3,74LS163,8,GND\n\
        U3,74LS163,others,open\n";
    let said = refused(counter);
    assert!(said.contains("hangs on a clock, or on other levels") && said.contains("make `late` a contact"), "{said}");
    // the reset itself leads out of the card
    let said = refused("J1,contacts,5,reset_n\n");
    assert!(said.contains("shows it to the board, which then sees a pulse at power-up"), "{said}");
    // two gates that hold a level
    let latch = "U3,74LS00,1,reset_n\nU3,74LS00,2,other\nU3,74LS00,3,held\nU3,74LS00,4,held\nU3,74LS00,5,call\nU3,74LS00,6,other\n\
        U3,74LS00,14,VCC\nU3,74LS00,7,GND\nU3,74LS00,others,open\n";
    assert!(refused(latch).contains("a loop of gates"), "{}", refused(latch));
}

/// What is replaced, beside the packages that stay.
fn beside(card: &Board, parted: &Remainder, circuit: &Circuit) -> Result<Proof, Failure> {
    let at = |label: &Label| parted.nets.iter().find(|(of, _)| of == label);
    let joined = parted.with("D1", circuit, |label| at(label).map_or(Landing::Open, |(_, net)| Landing::Net(*net)));
    Question::new(card.circuit().unwrap(), joined).ask()
}

fn is_refuted_at_power_up(answer: Result<Proof, Failure>) {
    match answer {
        Err(Failure::Refuted(r)) => assert!(r.events.is_empty(), "{r}"),
        other => panic!("{other:?}"),
    }
}

/// The Schmitt trigger stays with its resistor and capacitor, the flip-flops go into a device: they start there as the reset
/// puts them, the inverted output high.
#[test]
fn a_device_beside_the_trigger_starts_as_the_reset_puts_it() {
    let card = card("capacitor 10u", "");
    let parted = card.keeping(&["U1"]).unwrap();
    beside(&card, &parted, &parted.rest).unwrap_or_else(|e| panic!("{e}"));
    let device = find("22V10").unwrap();
    let fitted = fit(&parted.rest, device, &Wishes::none()).unwrap();
    let burned = device.lift(&device.encode(&fitted.plan).unwrap()).unwrap();
    let joined = parted.with("D1", &burned, |pin| landing(pin, &fitted, &parted.nets));
    Question::new(card.circuit().unwrap(), joined).ask().unwrap_or_else(|e| panic!("{e}"));
}

/// A gate between the trigger and the flip-flops is replaced: what stays is reset only if the device passes the reset on,
/// though the level there never moves once the capacitor is charged.
#[test]
fn a_kept_flip_flop_is_reset_by_what_replaces_the_gate() {
    let with = |input: &str| {
        let gate = format!("U3,74LS04,1,{input}\nU3,74LS04,2,reset_n\nU3,74LS04,14,VCC\nU3,74LS04,7,GND\n");
        let all = rows("capacitor 10u", &format!("{gate}U3,74LS04,others,open\n"));
        // in place of the second trigger
        read(all.replace("U1,74LS14,3,reset\n", "U1,74LS14,3,GND\n").replace("U1,74LS14,4,reset_n\n", ""))
    };
    let card = with("reset");
    let parted = card.keeping(&["U1", "U2"]).unwrap();
    beside(&card, &parted, &parted.rest).unwrap_or_else(|e| panic!("{e}"));
    let never = with("GND").keeping(&["U1", "U2"]).unwrap().rest;
    is_refuted_at_power_up(beside(&card, &parted, &never));
    // the trigger goes too, and with it what the capacitor hangs on: nothing resets the flip-flops
    let alone = card.keeping(&["U2"]).unwrap();
    is_refuted_at_power_up(beside(&card, &alone, &alone.rest));
}
