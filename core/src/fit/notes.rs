//! What a person should know about a fit, in words.
use std::fmt;

use super::demand::Drive;
use super::fitted::{Fitted, FittedCell};
use crate::circuit::{Label, Pull, Rail};
use crate::device::{self, Enable, Function, PinNumber, Role};

/// Something that a person should know about a fit.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Note {
    /// A buried register: its pin is never driven.
    BuriedRegister {
        /// The pin.
        pin: PinNumber,
        /// The register.
        name: String,
    },
    /// A pin that the device drives for itself.
    Isolated {
        /// The pin.
        pin: PinNumber,
        /// The signal.
        name: String,
    },
    /// A product term that a smaller sum would do without.
    Steadies {
        /// The signal.
        name: String,
        /// The term, in words.
        term: String,
        /// The level at which the pin stays.
        high: bool,
        /// The signals that may change.
        changes: Vec<String>,
    },
    /// A contact that shows a register, latch or node that has another macrocell.
    Copied {
        /// The contact's signal.
        name: String,
        /// What it shows.
        of: String,
    },
    /// A node that was added so that the circuit fits.
    Added {
        /// The node.
        name: String,
        /// The signals that read it.
        readers: Vec<String>,
    },
    /// A node of the user's that has a macrocell of its own.
    Kept {
        /// The node.
        name: String,
        /// The signals that read it.
        readers: Vec<String>,
    },
    /// A term that the preset of all registers holds.
    Preset {
        /// The term, in words.
        term: String,
        /// The registers in whose sums it stands.
        names: Vec<String>,
    },
    /// A resistor that has to sit beside the device.
    Resistor {
        /// The contact.
        label: Label,
        /// The signal.
        name: String,
        /// To which rail.
        pull: Pull,
    },
    /// A contact that the device doesn't use.
    Idle {
        /// The contact.
        label: Label,
        /// The signal.
        name: String,
    },
    /// A register or latch that was left out because nothing depends on it.
    Unread {
        /// Its name.
        name: String,
    },
    /// A pin of a buried register that the device's enable pin turns on with the others.
    DrivenRegister {
        /// The pin.
        pin: PinNumber,
        /// The register.
        name: String,
    },
    /// A macrocell that borrows the terms of its neighbours.
    Borrowed {
        /// The signal.
        name: String,
        /// Its macrocell.
        macrocell: u16,
        /// The macrocells that have no terms left.
        borrowed: Vec<u16>,
    },
    /// A pin of the programming port.
    Port {
        /// The pin.
        pin: PinNumber,
        /// What it is for.
        signal: &'static str,
    },
    /// A pin without a signal that the device drives.
    Driven {
        /// The pin.
        pin: PinNumber,
    },
    /// Inputs that carry no signal.
    SpareInputs {
        /// The pins.
        pins: Vec<PinNumber>,
    },
    /// Pins of macrocells that are not used and never driven.
    SpareMacrocells {
        /// The pins.
        pins: Vec<PinNumber>,
    },
    /// A pin that has to be tied.
    Tied {
        /// The pin.
        pin: PinNumber,
        /// The rail.
        rail: Rail,
    },
    /// A contact that is wired to two pins.
    TwoPins {
        /// The contact.
        label: Label,
        /// The signal.
        name: String,
        /// The pins.
        pins: Vec<PinNumber>,
    },
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Note::BuriedRegister { pin, name } => {
                write!(f, "pin {pin} belongs to the buried register {name} and is never driven: leave it open")
            }
            Note::Isolated { pin, name } => {
                write!(f, "pin {pin} is driven with {name}, which the device reads back there: connect it to nothing")
            }
            Note::DrivenRegister { pin, name } => {
                write!(f, "pin {pin} shows the buried register {name}: connect it to nothing")
            }
            Note::Borrowed { name, macrocell, borrowed } => {
                let borrowed: Vec<String> = borrowed.iter().map(ToString::to_string).collect();
                let plural = if borrowed.len() == 1 { "macrocell" } else { "macrocells" };
                write!(
                    f,
                    "{name} in macrocell {macrocell} takes the product terms of {plural} {}, a little later than its own",
                    list(&borrowed)
                )
            }
            Note::Port { pin, signal } => {
                write!(f, "pin {pin} is kept for the programming port ({signal}): connect it to nothing on the board")
            }
            Note::Driven { pin } => {
                write!(f, "pin {pin} carries nothing and is driven all the same: connect it to nothing")
            }
            Note::SpareInputs { pins } => write!(
                f,
                "{} no signal: tie to ground with a wire, unless the sheet of the very maker says otherwise (report.html)",
                carry(pins, "an input and carries", "inputs and carry")
            ),
            Note::SpareMacrocells { pins } => write!(
                f,
                "{} no signal and never driven: tie to ground through 10 kΩ, not with a wire (common practice, no source)",
                carry(pins, "a macrocell's with", "macrocells' with")
            ),
            Note::Tied { pin, rail } => {
                let rail = if *rail == Rail::Vcc { "the positive supply" } else { "ground" };
                write!(f, "pin {pin} must be tied to {rail}")
            }
            Note::Steadies { name, term, high, changes } => write!(
                f,
                "{name}: the term {term} must stay: it alone keeps the pin {} while {} changes",
                if *high { "high" } else { "low" },
                list(changes)
            ),
            Note::Copied { name, of } => {
                write!(f, "{name} shows {of} through a macrocell of its own: one propagation delay later")
            }
            Note::Added { name, readers } => write!(
                f,
                "{name} was added so that the circuit fits; {} {} one propagation delay more through it",
                list(readers),
                if readers.len() == 1 { "takes" } else { "take" }
            ),
            Note::Kept { name, readers } => write!(
                f,
                "{name} has a macrocell of its own; {} {} one propagation delay more through it",
                list(readers),
                if readers.len() == 1 { "takes" } else { "take" }
            ),
            Note::Preset { term, names } => write!(
                f,
                "the term {term} of {} is the preset of all registers, which sets them on the next clock edge: it must be \
                 false for the preset's recovery time before an edge that is to load anything else",
                list(names)
            ),
            Note::Resistor { label, name, pull } => match pull {
                Pull::Up => write!(f, "contact {label} ({name}) needs a pull-up resistor beside the device"),
                Pull::Down => write!(f, "contact {label} ({name}) needs a pull-down resistor beside the device"),
                Pull::None => write!(f, "contact {label} ({name}) needs no resistor"),
            },
            Note::Idle { label, name } => write!(f, "contact {label} ({name}) is not used: leave it open"),
            Note::Unread { name } => write!(f, "{name} was left out: no contact depends on it"),
            Note::TwoPins { label, name, pins } => {
                let pins: Vec<String> = pins.iter().map(ToString::to_string).collect();
                write!(f, "contact {label} ({name}) goes to pins {}", list(&pins))
            }
        }
    }
}

/// `pin 4 is` what one is, or `pins 4 and 5 are` what several are.
fn carry(pins: &[PinNumber], one: &str, several: &str) -> String {
    let numbers: Vec<String> = pins.iter().map(ToString::to_string).collect();
    match pins {
        [pin] => format!("pin {pin} is {one}"),
        _ => format!("pins {} are {several}", list(&numbers)),
    }
}

/// `a`, `a and b`, `a, b and c`.
fn list(words: &[String]) -> String {
    match words {
        [] => "nothing".into(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Everything there is to say about a fit.
pub(super) fn notes(fitted: &Fitted) -> Vec<Note> {
    let logic = &fitted.logic;
    let mut notes = Vec::new();
    for cell in &fitted.cells {
        let name = cell.name.clone();
        match (&cell.label, cell.function) {
            (None, Function::Registered) => {
                notes.extend(cell.pin.map(|pin| match fitted.plan.cells.get(&pin).map(|c| &c.enable) {
                    Some(Enable::Never) => Note::BuriedRegister { pin, name },
                    _ => Note::DrivenRegister { pin, name },
                }))
            }
            (None, Function::Combinational | Function::Latch | Function::Input) => {
                let readers = readers(fitted, cell.holds.first().map(|(v, _)| *v));
                notes.extend(cell.pin.map(|pin| Note::Isolated { pin, name: name.clone() }));
                if let Some(node) = logic.nodes.iter().find(|n| n.name == name) {
                    notes.push(match node.net {
                        None => Note::Added { name, readers },
                        Some(_) => Note::Kept { name, readers },
                    });
                }
            }
            (Some(_), _) => {
                let shows = cell.output.and_then(|o| logic.outputs.get(o)).and_then(|o| o.shows);
                let input = |v: usize| logic.inputs.iter().any(|i| i.variable == v);
                let elsewhere = shows.filter(|(v, _)| !input(*v) && !cell.holds.iter().any(|(h, _)| h == v));
                if let Some((of, _)) = elsewhere {
                    notes.push(Note::Copied { name, of: logic.name_of(of).into() });
                }
            }
        }
        for term in cell.terms.iter().filter(|t| !t.steadies.is_empty()) {
            notes.push(Note::Steadies {
                name: cell.name.clone(),
                term: logic.term_text(&term.product),
                high: !cell.inverted,
                changes: term.steadies.iter().map(|&v| logic.name_of(v).to_owned()).collect(),
            });
        }
    }
    if let Some(preset) = &fitted.preset {
        let holds = |c: &&FittedCell| c.terms.iter().any(|t| t.product == *preset);
        let registered = fitted.cells.iter().filter(|c| c.function == Function::Registered);
        let names = registered.filter(holds).map(|c| c.name.clone()).collect();
        notes.push(Note::Preset { term: logic.term_text(preset), names });
    }
    let pulled = logic.outputs.iter().filter(|o| o.pull != Pull::None);
    notes.extend(pulled.map(|o| Note::Resistor { label: o.label.clone(), name: o.name.clone(), pull: o.pull }));
    notes.extend(fitted.cells.iter().filter_map(|c| {
        let borrowed = c.control.as_ref().map(|c| c.borrowed.clone()).filter(|b| !b.is_empty())?;
        Some(Note::Borrowed { name: c.name.clone(), macrocell: c.macrocell, borrowed })
    }));
    notes.extend(fitted.driven.iter().map(|&pin| Note::Driven { pin }));
    // what a maker's fitter does with pins that have no signal is up to it
    if let Some(device) = device::find(fitted.device).filter(|d| d.blocks.is_none()) {
        let io = |pin: &PinNumber| device.role(*pin) == Some(Role::Io);
        let (macrocells, inputs): (Vec<PinNumber>, Vec<PinNumber>) = fitted.unused.iter().partition(|p| io(p));
        if !inputs.is_empty() {
            notes.push(Note::SpareInputs { pins: inputs });
        }
        if !macrocells.is_empty() {
            notes.push(Note::SpareMacrocells { pins: macrocells });
        }
    }
    notes.extend(fitted.port.iter().map(|p| Note::Port { pin: p.pin, signal: p.signal }));
    notes.extend(fitted.ties.iter().map(|&(pin, rail)| Note::Tied { pin, rail }));
    for input in &logic.inputs {
        let pins = fitted.pins_of(&input.label);
        if pins.len() > 1 {
            notes.push(Note::TwoPins { label: input.label.clone(), name: input.name.clone(), pins });
        }
    }
    notes.extend(logic.idle.iter().map(|(label, name)| Note::Idle { label: label.clone(), name: name.clone() }));
    notes.extend(logic.unread.iter().map(|name| Note::Unread { name: name.clone() }));
    notes
}

/// The signals whose terms, enable or reset read a variable.
fn readers(fitted: &Fitted, variable: Option<usize>) -> Vec<String> {
    let reads = |p: &[(usize, bool)]| p.iter().any(|(v, _)| Some(*v) == variable);
    let mut names: Vec<String> = fitted
        .cells
        .iter()
        .filter(|c| {
            let lines = c.control.iter().flat_map(|c| c.gate.iter().chain(&c.clear).chain(&c.preset));
            c.terms.iter().any(|t| reads(&t.product))
                || matches!(&c.drive, Drive::While(product) if reads(product))
                || lines.into_iter().any(|l| reads(&l.product))
        })
        .map(|c| c.name.clone())
        .collect();
    if fitted.reset.as_deref().is_some_and(reads) {
        names.push("the reset of all registers".into());
    }
    names
}
