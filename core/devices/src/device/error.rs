//! What can be wrong with a plan or a fuse map for a device; each message says the mend.
use super::{Function, Literal, PinNumber};
use gluewright_kernel::circuit::Malformed;

/// Why a plan or a fuse map doesn't suit a device.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DeviceError {
    /// What came of the fuses is no circuit.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// The fuse map has a number of fuses that this device doesn't have.
    #[error("a {device} has {expected} fuses, this fuse map has {found}: choose the device that the file was made for")]
    FuseCount {
        /// The device.
        device: &'static str,
        /// Every number of fuses that it takes, in words.
        expected: String,
        /// The number of fuses there are.
        found: usize,
    },
    /// The global fuses choose no mode that a data sheet defines.
    #[error("the {device}'s global fuses {fuses} choose no mode: set them as one of its modes has them")]
    UndefinedMode {
        /// The device.
        device: &'static str,
        /// The fuses with their states: `2192=0 2193=0`.
        fuses: String,
    },
    /// The device has no fuse map.
    #[error(
        "the {device} has no fuse map here, since its maker doesn't publish it: give the Verilog or VHDL file that is written for it to the maker's fitter, which makes the programming file"
    )]
    NoFuseMap {
        /// The device.
        device: &'static str,
    },
    /// The plan names a mode that the device doesn't have.
    #[error("the {device} has no mode number {mode}: it has {modes}, counted from 0")]
    NoMode {
        /// The device.
        device: &'static str,
        /// The number asked for.
        mode: usize,
        /// How many there are.
        modes: usize,
    },
    /// The fuses of a macrocell choose no configuration that a data sheet defines.
    #[error(
        "the fuses {fuses} of the {device}'s macrocell at pin {pin} choose no configuration: set them as a data sheet has them{}",
        in_mode(mode)
    )]
    UndefinedConfiguration {
        /// The device.
        device: &'static str,
        /// The mode.
        mode: &'static str,
        /// The macrocell's pin.
        pin: PinNumber,
        /// The fuses with their states.
        fuses: String,
    },
    /// A macrocell is asked for at a pin that has none.
    #[error("pin {pin} of the {device} has no macrocell: choose one of {pins}")]
    NoMacrocell {
        /// The device.
        device: &'static str,
        /// The pin asked for.
        pin: PinNumber,
        /// The pins that have one.
        pins: String,
    },
    /// The macrocell can't do that in this mode.
    #[error(
        "the {device}'s macrocell at pin {pin} can't be {function}{}: use another pin, mode or device",
        in_mode(mode)
    )]
    NoFunction {
        /// The device.
        device: &'static str,
        /// The mode.
        mode: &'static str,
        /// The macrocell's pin.
        pin: PinNumber,
        /// What was asked for.
        function: Function,
    },
    /// More product terms than the macrocell has.
    #[error(
        "pin {pin} of the {device} has {limit} product terms, {needed} are needed: use a wider macrocell or split the equation"
    )]
    TooManyTerms {
        /// The device.
        device: &'static str,
        /// The macrocell's pin.
        pin: PinNumber,
        /// How many there are.
        limit: usize,
        /// How many are asked for.
        needed: usize,
    },
    /// The macrocell's driver can't be enabled in that way.
    #[error(
        "pin {pin} of the {device} is enabled {possible} in this configuration, not {asked}: use another pin or mode"
    )]
    NoEnable {
        /// The device.
        device: &'static str,
        /// The macrocell's pin.
        pin: PinNumber,
        /// What it can do, in words.
        possible: &'static str,
        /// What was asked for, in words.
        asked: &'static str,
    },
    /// The macrocell has no polarity fuse.
    #[error("pin {pin} of the {device} always shows the complement of its sum: invert the equation")]
    NoPolarity {
        /// The device.
        device: &'static str,
        /// The macrocell's pin.
        pin: PinNumber,
    },
    /// A product term reads a signal that doesn't reach the array.
    #[error("{literal} doesn't reach the {device}'s array in this mode: use another pin or mode")]
    NoColumn {
        /// The device.
        device: &'static str,
        /// What was asked for.
        literal: Literal,
    },
    /// The device has no reset or preset term.
    #[error("the {device} has no {what} term: write it into the equations or choose a device that has one")]
    NoGlobalTerm {
        /// The device.
        device: &'static str,
        /// `reset` or `preset`.
        what: &'static str,
    },
    /// The signature is too long, or there is none.
    #[error("the {device}'s signature holds {limit} bytes, not {needed}: shorten it")]
    SignatureTooLong {
        /// The device.
        device: &'static str,
        /// How many bytes it holds.
        limit: usize,
        /// How many were given.
        needed: usize,
    },
    /// A fuse turns on something that the circuit of the device doesn't show.
    #[error(
        "fuse {fuse} of this {device} lets a pin power the device down (from memory), which the circuit can't show: clear it"
    )]
    PowerDown {
        /// The device.
        device: &'static str,
        /// The fuse.
        fuse: usize,
    },
    /// No device of the list replaces this one.
    #[error("no device with the same array replaces the {device}: lift its fuse map to a circuit and fit that")]
    NoReplacement {
        /// The device.
        device: &'static str,
    },
}

fn in_mode(mode: &str) -> String {
    if mode.is_empty() { String::new() } else { format!(" in {mode} mode") }
}
