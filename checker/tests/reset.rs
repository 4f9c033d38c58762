//! A resistor and a capacitor at a clear: where the card then starts, what the checker takes of it, and what it refuses.
#![allow(clippy::unwrap_used, clippy::panic)] // a check stops at what it did not expect
use gluewright_checker::part::Library;
use gluewright_checker::trace::Trace;

/// A flip-flop whose clear is at a resistor to the supply and a capacitor to ground, behind a Schmitt trigger twice.
const CARD: &str = "ref,part,pin,net
U1,74LS14,1,late
U1,74LS14,2,turned
U1,74LS14,3,turned
U1,74LS14,4,reset_n
U1,74LS14,7,GND
U1,74LS14,14,VCC
U2,74LS74,1,reset_n
U2,74LS74,2,d
U2,74LS74,3,clk
U2,74LS74,4,high
U2,74LS74,5,q
U2,74LS74,7,GND
U2,74LS74,14,VCC
R1,resistor 47k,1,VCC
R1,,2,late
R2,resistor 1k,1,VCC
R2,,2,high
C1,capacitor 10u,1,late
C1,,2,GND
J1,contacts,1,d
J1,,2,clk
J1,,3,q
";

/// What each element of a trace starts with, or why there is no circuit.
fn starts(text: &str) -> Result<Vec<(String, Option<bool>)>, String> {
    let model = Trace::read(text).unwrap().model(&Library::read().unwrap()).map_err(|e| format!("{e:#}"))?;
    assert!(model.find_net("late").is_none_or(|n| model.nets[n].pull.is_some()));
    Ok(model.elements.into_iter().map(|e| (e.name, e.start)).collect())
}

/// The card with one row put for another.
fn but(from: &str, to: &str) -> String {
    assert_eq!(CARD.matches(from).count(), 1, "{from}");
    CARD.replace(from, to)
}

#[test]
fn what_the_late_net_clears_starts_low_and_what_it_presets_starts_high() {
    let of = |text: &str| starts(text).unwrap();
    let first = ("U2.state[0]".to_owned(), Some(false));
    assert_eq!(of(CARD)[0], first);
    // the other flip-flop of the package depends on nothing
    assert_eq!(of(CARD)[1].1, None);
    let preset = but("U2,74LS74,1,reset_n", "U2,74LS74,1,high").replace("U2,74LS74,4,high", "U2,74LS74,4,reset_n");
    assert_eq!(of(&preset)[0].1, Some(true));
    // the capacitor to the supply and the resistor to ground, through one inverter more
    let turned = but("R1,resistor 47k,1,VCC", "R1,resistor 47k,1,GND").replace("C1,,2,GND", "C1,,2,VCC");
    let turned = turned.replace("U2,74LS74,1,reset_n", "U2,74LS74,1,turned");
    assert_eq!(of(&turned)[0], first);
    // by the user's word it does nothing
    assert_eq!(of(&but("capacitor 10u", "capacitor 10u ignored"))[0].1, None);
}

#[test]
fn a_late_net_that_says_nothing_for_certain_is_refused() {
    let refused = |text: String, why: &str| {
        let said = starts(&text).unwrap_err();
        assert!(said.contains("C1") && said.contains(why), "{said}");
    };
    refused(but("R1,resistor 47k,1,VCC", "R1,resistor 47k,1,GND"), "no resistor to the other rail");
    refused(but("J1,,3,q\n", "J1,,3,q\nJ1,,4,late\n"), "more than inputs");
    refused(but("J1,,3,q\n", "J1,,3,q\nJ1,,4,turned\n"), "a contact shows it");
    refused(but("U2,74LS74,3,clk", "U2,74LS74,3,reset_n"), "hangs on a clock");
    // a gate with another input: whether it clears depends on the board
    let gated = but(
        "U1,74LS14,3,turned",
        "U3,74LS00,1,turned\nU3,74LS00,2,d\nU3,74LS00,3,reset_n\nU3,74LS00,7,GND\nU3,74LS00,14,VCC",
    );
    refused(gated.replace("U1,74LS14,4,reset_n\n", ""), "hangs on a clock, or on other levels");
    let looped = but(
        "U1,74LS14,3,turned",
        "U3,74LS00,1,turned\nU3,74LS00,2,back\nU3,74LS00,3,reset_n\nU3,74LS00,4,reset_n\nU3,74LS00,5,high\nU3,74LS00,6,back\nU3,74LS00,7,GND\nU3,74LS00,14,VCC",
    );
    refused(looped.replace("U1,74LS14,4,reset_n\n", ""), "a loop of gates");
    refused(but("C1,,2,GND", "C1,,2,d"), "does not know");
}
