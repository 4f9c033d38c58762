//! Nets: who drives a wire, how strongly, and where the wire meets the board.
use std::fmt;

use super::{Expr, Label, Origin};
use crate::figures::OpenInput;

/// A net of one [`Circuit`](super::Circuit).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NetId(pub(crate) u32);

impl NetId {
    /// The handle of what stands at this position. A circuit that has fewer nets has nothing there.
    pub fn at(index: usize) -> Self {
        NetId(u32::try_from(index).unwrap_or(u32::MAX))
    }

    /// Position in [`Circuit::nets`](super::Circuit::nets).
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// A contact of one [`Circuit`](super::Circuit).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ContactId(pub(crate) u32);

impl ContactId {
    /// The handle of what stands at this position. A circuit that has fewer contacts has nothing there.
    pub fn at(index: usize) -> Self {
        ContactId(u32::try_from(index).unwrap_or(u32::MAX))
    }

    /// Position in [`Circuit::contacts`](super::Circuit::contacts).
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// The stage behind an output pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stage {
    /// Drives high or low at all times.
    PushPull,
    /// Drives high or low while enabled, floats while not.
    ThreeState,
    /// Pulls low or floats.
    OpenCollector,
}

/// Who drives a net.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum By {
    /// A pin of a package on a board, or of a device in its socket.
    Pin {
        /// The package's reference.
        package: String,
        /// The pin.
        pin: Label,
    },
    /// Something within a placed package that no pin of it shows.
    Within {
        /// The package's reference.
        package: String,
        /// Who it is in the package's own circuit.
        part: Box<By>,
    },
    /// A resistor from another net, by its reference.
    Resistor(String),
    /// Whatever drives these contacts: what a property asks is whether any of it is on.
    Drivers(String),
    /// The signal of this name: of a source, of a fuse file, of a supply.
    Signal(String),
}

impl By {
    /// The signal of this name.
    pub fn signal(name: impl Into<String>) -> Self {
        By::Signal(name.into())
    }

    /// True if a probe can be put there: a pin of a package, or of one within a package.
    pub fn is_pin(&self) -> bool {
        match self {
            By::Pin { .. } => true,
            By::Within { part, .. } => part.is_pin(),
            By::Resistor(_) | By::Drivers(_) | By::Signal(_) => false,
        }
    }

    /// A pin as it is called; the name of a signal in backquotes.
    pub fn quoted(&self) -> String {
        if self.is_pin() { self.to_string() } else { format!("`{self}`") }
    }
}

impl fmt::Display for By {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            By::Pin { package, pin } => write!(f, "{package} pin {pin}"),
            By::Within { package, part } => write!(f, "{package}.{part}"),
            By::Drivers(what) => write!(f, "what drives {what}"),
            By::Resistor(name) | By::Signal(name) => f.write_str(name),
        }
    }
}

/// One output that drives a net.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Driver {
    /// Drives while true. For an open collector this is the condition under which it pulls low.
    pub enable: Expr,
    /// The level that it drives (low for an open collector).
    pub level: Expr,
    /// The stage.
    pub stage: Stage,
    /// Who drives.
    pub by: By,
    /// Where it was written.
    pub origin: Origin,
}

impl Driver {
    /// Everything that it reads: when it drives, and which level.
    pub fn inputs(&self) -> [Expr; 2] {
        [self.enable, self.level]
    }

    /// The same over other expressions.
    #[must_use]
    pub fn over(&self, mut at: impl FnMut(Expr) -> Expr) -> Driver {
        let (enable, level) = (at(self.enable), at(self.level));
        Driver { enable, level, stage: self.stage, by: self.by.clone(), origin: self.origin.clone() }
    }
}

/// A resistor from a net to a supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Pull {
    /// None.
    #[default]
    None,
    /// To the positive supply: weakly high when nobody drives.
    Up,
    /// To ground: weakly low when nobody drives.
    Down,
}

/// A wire.
///
/// Its level is what its drivers say; where nobody drives, what the board says if it reaches a contact, else what its
/// pull resistor says; an internal net that nobody drives at all reads as [`OpenInput`] says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Net {
    /// Name, unique in its circuit.
    pub name: String,
    /// The net behind an output pin that shows this net's level while it drives: this one is the value that the output
    /// reads back, and a bench sees one wire.
    pub value_of: Option<NetId>,
    /// Everything that drives it.
    pub drivers: Vec<Driver>,
    /// Its pull resistor.
    pub pull: Pull,
    /// What its inputs read while nothing drives or pulls it.
    pub open_read: OpenInput,
    /// The contact that it reaches, if it does.
    pub contact: Option<ContactId>,
    /// Where it was written.
    pub origin: Origin,
}

impl Net {
    /// Everything that its drivers read.
    pub fn inputs(&self) -> impl Iterator<Item = Expr> + '_ {
        self.drivers.iter().flat_map(Driver::inputs)
    }

    /// What its inputs read while nothing drives it and it reaches no contact; nothing if nobody knows.
    pub fn undriven_level(&self) -> Option<bool> {
        match (self.pull, self.open_read) {
            (Pull::Up, _) | (Pull::None, OpenInput::High) => Some(true),
            (Pull::Down, _) | (Pull::None, OpenInput::Low) => Some(false),
            (Pull::None, OpenInput::Unknown) => None,
        }
    }
}

/// What a contact carries, as the schematic names it. It doesn't change the logic: expressions are levels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Polarity {
    /// Asserted while low.
    ActiveLow,
    /// Asserted while high.
    ActiveHigh,
    /// Neither level is asserted.
    Data,
    /// A clock: its edges matter.
    Clock,
}

/// Which side drives a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// The board drives, the circuit reads.
    Input,
    /// The circuit drives.
    Output,
    /// Both drive, one after the other.
    InOut,
}

/// A pin where the circuit meets its board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contact {
    /// What is printed beside it.
    pub label: Label,
    /// The signal's name.
    pub name: String,
    /// The net behind it.
    pub net: NetId,
    /// What it carries.
    pub polarity: Polarity,
    /// Which side drives it.
    pub direction: Direction,
    /// Where it was written.
    pub origin: Origin,
}

/// A supply rail.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rail {
    /// The positive supply.
    Vcc,
    /// Ground.
    Gnd,
}
