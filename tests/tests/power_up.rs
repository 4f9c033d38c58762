//! Where a card starts that resets itself when power comes on: the replacement must start there too.
#![allow(clippy::unwrap_used, clippy::panic, reason = "cards and parts are those of this file")]
use gluewright::board::{Board, FindingKind};
use gluewright::prelude::*;
use gluewright_parts::ttl;

/// The lamp of a switchboard's night bell: a register that a resistor and a capacitor reset over a Schmitt trigger. `rows` are
/// those of the capacitor; `more` what else is on the card.
fn card(capacitor: &str, more: &str) -> Board {
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
    Board::from_csv("bell.csv", rows, ttl()).unwrap_or_else(|e| panic!("{e}"))
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
