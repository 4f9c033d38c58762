//! A board from a few words a package, put under power.
use gluewright::board::Board;
use gluewright::circuit::{Circuit, Label};
use gluewright::prelude::Failure;
use gluewright::prove::{Proof, Question, Refutation};
use gluewright::simulate::{Happened, Shown, Simulator};
use gluewright_kernel::machine::Unknown;

/// The trace of a board, in CSV, from `(reference, part, "pin net, pin net, …")`.
pub(crate) fn trace(packages: &[(&str, &str, &str)]) -> String {
    let mut csv = "ref,part,pin,net\n".to_owned();
    for (reference, part, pins) in packages {
        for pin in pins.split(',') {
            let (pin, net) = pin.trim().split_once(' ').expect("a pin and its net");
            csv.push_str(&format!("{reference},{part},{pin},{net}\n"));
        }
    }
    csv
}

/// The traced board. Packages named `74…` get their supply from the usual corner pins unless they name it themselves.
pub(crate) fn board(packages: &[(&str, &str, &str)]) -> Board {
    let csv = trace(packages);
    Board::from_csv("board.csv", &csv, gluewright_parts::ttl()).unwrap_or_else(|e| panic!("{e}\n{csv}"))
}

/// The traced board as a circuit.
pub(crate) fn circuit(packages: &[(&str, &str, &str)]) -> Circuit {
    board(packages).circuit().unwrap_or_else(|e| panic!("{e}"))
}

/// A circuit under power, watched at its contacts.
pub(crate) struct Bench(pub(crate) Simulator);

fn labelled(levels: &str) -> Vec<(Label, bool)> {
    levels.split_whitespace().map(|w| (Label::new(&w[..w.len() - 1]), w.ends_with('H'))).collect()
}

fn letter(shown: Shown) -> char {
    match shown {
        Shown::High => 'H',
        Shown::Low => 'L',
        Shown::Floating => 'z',
        Shown::PulledHigh => 'h',
        Shown::PulledLow => 'l',
    }
}

impl Bench {
    /// Power on, with all bits low; levels as `1H 2L`: contact 1 high, contact 2 low.
    pub(crate) fn on(circuit: &Circuit, levels: &str) -> Bench {
        Bench::with(circuit, levels, |_| false)
    }

    /// Power on, with bits by the cell's name.
    pub(crate) fn with(circuit: &Circuit, levels: &str, held: impl Fn(&str) -> bool) -> Bench {
        let machine = gluewright_kernel::machine::Machine::new(circuit);
        let names: Vec<String> = machine.cells().iter().map(|c| c.name.clone()).collect();
        let (sim, happened) =
            Simulator::of(machine, &labelled(levels), |cell, _| held(&names[cell])).expect("contacts");
        assert_eq!(happened.restless, 0, "it comes to rest");
        Bench(sim)
    }

    /// Changes at the contacts, all at one moment: `1H`, or `1H 2L`.
    pub(crate) fn set(&mut self, levels: &str) -> Happened {
        let happened = self.0.event(&labelled(levels)).expect("contacts");
        assert_eq!(happened.restless, 0, "it comes to rest after {levels}");
        happened
    }

    /// What some contacts show: `HLz`.
    pub(crate) fn shows(&self, contacts: &[u16]) -> String {
        contacts.iter().map(|&c| letter(self.0.shown(&c.into(), 0).expect("a contact"))).collect()
    }

    /// Changes, one event after the other, and what some contacts show after each.
    pub(crate) fn run(&mut self, events: &[&str], contacts: &[u16]) -> Vec<String> {
        events
            .iter()
            .map(|event| {
                self.set(event);
                self.shows(contacts)
            })
            .collect()
    }

    /// A number on contacts, the least significant first.
    pub(crate) fn number(&self, contacts: &[u16]) -> u32 {
        let shown = self.shows(contacts);
        shown.chars().rev().fold(0, |n, c| 2 * n + u32::from(c == 'H'))
    }

    /// What one contact showed over an event, without repetitions: `LHL` is a pulse.
    pub(crate) fn way(&self, happened: &Happened, contact: u16) -> String {
        let ports = self.0.machine().ports();
        let port = ports.iter().position(|p| p.label == contact.into()).expect("a contact");
        let seen = happened.shown.iter().find(|(p, _)| *p == port);
        seen.map_or_else(
            || self.shows(&[contact]),
            |(_, seen)| {
                seen.iter().map(|&(d, l)| letter(Shown::new(d & 1 == 1, l & 1 == 1, ports[port].pull))).collect()
            },
        )
    }
}

/// The unknowns that occurred, in the machine's words.
pub(crate) fn unknowns(bench: &Bench, happened: &Happened) -> Vec<String> {
    happened.unknowns.iter().map(|(u, _): &(Unknown, u64)| bench.0.machine().describe(*u)).collect()
}

/// Holds the replacement to be proved.
pub(crate) fn proved(original: &Circuit, replacement: &Circuit) -> Proof {
    Question::new(original.clone(), replacement.clone()).ask().unwrap_or_else(|e| panic!("{e}"))
}

/// Holds the replacement to be refuted.
pub(crate) fn refuted(original: &Circuit, replacement: &Circuit) -> Refutation {
    match Question::new(original.clone(), replacement.clone()).ask() {
        Err(Failure::Refuted(r)) => *r,
        Err(other) => panic!("{other}"),
        Ok(proof) => panic!("{proof}"),
    }
}

/// The circuit of a type.
pub(crate) fn of<C: gluewright::Wiring>() -> Circuit {
    gluewright::circuit_of::<C>().unwrap_or_else(|e| panic!("{e}"))
}
