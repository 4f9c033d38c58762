//! What a single fuse is for, in words that a person at the bench can use.
use std::fmt;

use super::{Device, EnableSource, Function, Literal, Mode, PinNumber};
use crate::fusefile::Fuses;

/// What a product term is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TermUse {
    /// A term of the sum of this pin's macrocell, counted from 1.
    Sum(PinNumber, usize),
    /// A term of the second sum of this pin's macrocell, which takes the exclusive-or of two; counted from 1.
    Exclusive(PinNumber, usize),
    /// It enables the driver of this pin.
    Enable(PinNumber),
    /// It resets all registers.
    Reset,
    /// It sets all registers on the next clock edge.
    Preset,
    /// Nothing, as the device is set up.
    Nothing,
}

/// What a fuse is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Meaning {
    /// Links a signal to a product term while 0.
    Link {
        /// The row.
        row: usize,
        /// What its term is for.
        term: TermUse,
        /// The signal; `None` where the mode has no such column.
        literal: Option<Literal>,
    },
    /// Keeps the product term of this row usable while 1.
    TermSwitch {
        /// The row.
        row: usize,
        /// What its term is for.
        term: TermUse,
    },
    /// Polarity of this pin.
    Polarity(PinNumber),
    /// How the macrocell at this pin is set up.
    Setup(PinNumber),
    /// The mode of the whole device.
    Mode,
    /// This byte of the user signature, counted from 0.
    Signature(usize),
    /// Lets a pin power the device down, on some makers' parts.
    PowerDown,
    /// Nothing that is known.
    Unknown,
}

impl Device {
    /// What a fuse is for while the others are as in this map.
    pub fn meaning(&self, fuses: &Fuses, fuse: usize) -> Meaning {
        let mode = self.mode_of(fuses).ok().map(|(_, mode)| mode);
        let columns = self.columns().max(1);
        if fuse < self.rows * columns {
            let (row, column) = (fuse / columns, fuse % columns);
            let source = mode.and_then(|m| m.columns.get(column / 2).copied());
            let literal = source.map(|source| Literal { source, complement: column % 2 == 1 });
            return Meaning::Link { row, term: self.term_use(mode, fuses, row), literal };
        }
        if let Some(row) = self.term_enables.and_then(|first| fuse.checked_sub(first)).filter(|&row| row < self.rows) {
            return Meaning::TermSwitch { row, term: self.term_use(mode, fuses, row) };
        }
        if let Some(range) = self.signature.as_ref().filter(|s| s.contains(&fuse)) {
            return Meaning::Signature((fuse - range.start) / 8);
        }
        if self.power_down == Some(fuse) {
            return Meaning::PowerDown;
        }
        for macrocell in self.modes.iter().flat_map(|m| &m.macrocells) {
            if macrocell.polarity == Some(fuse) {
                return Meaning::Polarity(macrocell.pin);
            }
            if macrocell.configurations.iter().flat_map(|c| &c.fuses).any(|f| f.0 == fuse) {
                return Meaning::Setup(macrocell.pin);
            }
        }
        let global = self.modes.iter().flat_map(|m| &m.fuses).any(|f| f.0 == fuse);
        if global { Meaning::Mode } else { Meaning::Unknown }
    }

    fn term_use(&self, mode: Option<&Mode>, fuses: &Fuses, row: usize) -> TermUse {
        let Some(mode) = mode else { return TermUse::Nothing };
        if mode.reset == Some(row) {
            return TermUse::Reset;
        }
        if mode.preset == Some(row) {
            return TermUse::Preset;
        }
        for macrocell in &mode.macrocells {
            let Ok(configuration) = self.configuration_of(mode, macrocell, fuses) else { continue };
            if configuration.enable == EnableSource::Row(row) {
                return TermUse::Enable(macrocell.pin);
            }
            if configuration.function != Function::Input && configuration.rows.contains(&row) {
                return TermUse::Sum(macrocell.pin, row - configuration.rows.start + 1);
            }
            if configuration.exclusive.contains(&row) {
                return TermUse::Exclusive(macrocell.pin, row - configuration.exclusive.start + 1);
            }
        }
        TermUse::Nothing
    }
}

impl fmt::Display for TermUse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TermUse::Sum(pin, term) => write!(f, "product term {term} of pin {pin}"),
            TermUse::Exclusive(pin, term) => write!(f, "product term {term} of the second sum of pin {pin}"),
            TermUse::Enable(pin) => write!(f, "the term that enables pin {pin}"),
            TermUse::Reset => f.write_str("the term that resets all registers"),
            TermUse::Preset => f.write_str("the term that sets all registers"),
            TermUse::Nothing => f.write_str("a term that isn't used"),
        }
    }
}

impl fmt::Display for Meaning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Meaning::Link { row, term, literal: Some(literal) } => {
                write!(f, "row {row}, {term}: whether it reads {literal}")
            }
            Meaning::Link { row, term, literal: None } => write!(f, "row {row}, {term}"),
            Meaning::TermSwitch { row, term } => write!(f, "whether row {row} is usable: {term}"),
            Meaning::Polarity(pin) => write!(f, "polarity of pin {pin}"),
            Meaning::Setup(pin) => write!(f, "how the macrocell at pin {pin} is set up"),
            Meaning::Mode => f.write_str("mode of the whole device"),
            Meaning::Signature(byte) => write!(f, "user signature, byte {}", byte + 1),
            Meaning::PowerDown => f.write_str("powering down by a pin"),
            Meaning::Unknown => f.write_str("meaning not known"),
        }
    }
}
