//! What a person should know about a fit, in words.
use std::fmt;

use crate::device::PinNumber;
use gluewright_kernel::circuit::{Label, Pull, Rail};

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
                "{} no signal: tie to ground with a wire, unless the sheet of the very maker says otherwise",
                carry(pins, "an input and carries", "inputs and carry")
            ),
            Note::SpareMacrocells { pins } => write!(
                f,
                "{} no signal and never driven: open where the part has a pull-up, else to ground through a resistor, not with a wire",
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
