//! What is emitted, in simulators from outside: Icarus Verilog and GHDL run the files as they are written beside the
//! original in our own simulator, and every contact is compared after every event, level and float.
mod beside;
mod drawn;
mod tools;

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::device::find;
use gluewright::fit::{Fitted, Wishes, fit};
use gluewright::netlist::Netlist;
use gluewright_tests::gates::Numbers;

use beside::{Run, compare};
use drawn::drawn;
use tools::{Language, tool};

/// The languages whose simulator is there.
fn languages() -> Vec<Language> {
    [Language::Verilog, Language::Vhdl].into_iter().filter(|l| tool(*l)).collect()
}

fn fitted(circuit: &Circuit, device: &str) -> Fitted {
    fit(circuit, find(device).unwrap(), &Wishes::none()).unwrap_or_else(|e| panic!("{e}"))
}

/// Runs both files of a fitted circuit; the share of what was known that was compared.
fn same(circuit: &Circuit, device: &str, home: &[(&str, bool)], events: usize) {
    let fitted = fitted(circuit, device);
    let netlist = Netlist::of(&fitted);
    let run = Run::new(circuit, &netlist, home, events, &mut Numbers(1984));
    assert!(run.known() > run.asked() * 9 / 10, "{} of {} levels are known", run.known(), run.asked());
    for language in languages() {
        let file = match language {
            Language::Verilog => netlist.verilog(),
            Language::Vhdl => netlist.vhdl(),
        };
        if let Err(e) = compare(&run, &netlist, language, &file) {
            panic!("{} in a {device}, {language:?}: {e}\n{file}", circuit.name);
        }
    }
}

fn board(file: &str, content: &str) -> Circuit {
    Board::from_csv(file, content, gluewright_parts::ttl()).unwrap().circuit().unwrap()
}

fn sample_card() -> Circuit {
    board("sample_card.csv", include_str!("../../../examples/src/sample_card.csv"))
}

fn loom_bridge() -> Circuit {
    board("loom_bridge.csv", include_str!("../../../examples/src/loom_bridge.csv"))
}

/// Reset asserted, then released; what the reset leaves open comes through the clock.
const SAMPLE_CARD: [(&str, bool); 6] =
    [("6", false), ("1", false), ("6", true), ("1", true), ("1", false), ("7", false)];

#[test]
fn the_sample_card_in_either_kind_of_device() {
    same(&sample_card(), "22V10", &SAMPLE_CARD, 400);
    same(&sample_card(), "CPLD-32", &SAMPLE_CARD, 400);
}

/// Reset, and both latches opened and closed.
const LOOM_BRIDGE: [(&str, bool); 7] =
    [("2", false), ("3", false), ("5", false), ("5", true), ("3", true), ("5", false), ("5", true)];

#[test]
fn the_loom_bridge_with_its_latches_and_both_its_buses() {
    same(&loom_bridge(), "CPLD-32", &LOOM_BRIDGE, 1000);
}

/// Everything cleared, every latch opened and closed.
const DRAWN: [(&str, bool); 5] = [("3", true), ("4", true), ("5", true), ("4", false), ("3", false)];

#[test]
fn drawn_circuits() {
    let mut numbers = Numbers(1983);
    let (mut done, mut refused) = (0, 0);
    while done < 8 {
        let circuit = drawn(&mut numbers);
        if let Err(e) = fit(&circuit, find("CPLD-64").unwrap(), &Wishes::none()) {
            refused += 1;
            assert!(refused < 20, "{e}");
            continue;
        }
        same(&circuit, "CPLD-64", &DRAWN, 250);
        done += 1;
    }
}

/// One inversion or one driver wrong in the emitted file, and the comparison finds it: in both languages.
#[test]
fn a_wrong_file_is_found() {
    let circuit = loom_bridge();
    let netlist = Netlist::of(&fitted(&circuit, "CPLD-32"));
    let run = Run::new(&circuit, &netlist, &LOOM_BRIDGE, 1000, &mut Numbers(1984));
    let changes = [
        (Language::Verilog, "U3_state_0_next = ~request_n", "U3_state_0_next = request_n"),
        (Language::Verilog, "a3 = (U3_state_1 & ~request_n & to_loom)", "a3 = (U3_state_1 & ~request_n)"),
        (Language::Verilog, "if (to_loom & ~strobe_n) a5_level", "if (~strobe_n) a5_level"),
        (Language::Vhdl, "U3_state_0_next <= not request_n", "U3_state_0_next <= to_x01(request_n)"),
        (Language::Vhdl, "when (U3_state_1 and not request_n and to_loom) =", "when (U3_state_1 and not request_n) ="),
    ];
    for (language, from, to) in changes.iter().filter(|(l, ..)| tool(*l)) {
        let file = match language {
            Language::Verilog => netlist.verilog(),
            Language::Vhdl => netlist.vhdl(),
        };
        assert!(file.contains(from), "{from}\n{file}");
        let e = compare(&run, &netlist, *language, &file.replacen(from, to, 1)).expect_err(from);
        assert!(e.starts_with("event "), "{e}");
    }
}
