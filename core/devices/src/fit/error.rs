//! Why a circuit doesn't fit a device, and the nearest change with which it would.
use serde::Serialize;
use thiserror::Error;

use crate::device::PinNumber;
use crate::logic::LogicError;
use gluewright_kernel::circuit::{Label, Origin};
use gluewright_kernel::limit::Over;

/// Why a circuit doesn't fit a device: the first reason, with the mend that is nearest.
#[derive(Clone, Debug, Error, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NoFit {
    /// There was no time to find out.
    #[error("{over}: whether `{circuit}` fits a {device} is open; {reached}: give it more time")]
    Over {
        /// Why it ended.
        over: Over,
        /// The circuit.
        circuit: String,
        /// The device.
        device: &'static str,
        /// What was reached by then, in words.
        reached: String,
    },
    /// The circuit has no form that any device could hold.
    #[error(transparent)]
    Logic(#[from] LogicError),
    /// A register with a clock that falls.
    #[error(
        "{origin}: `{register}` is clocked by the fall of `{clock}`; the registers of a {device} load on a rise: put an inverter ahead of pin {pin}, or choose a device with product-term clocks"
    )]
    FallingClock {
        /// The register.
        register: String,
        /// Its clock.
        clock: String,
        /// The device.
        device: &'static str,
        /// The device's clock pin.
        pin: PinNumber,
        /// Where it was written.
        origin: Origin,
    },
    /// A register with a clock made of logic.
    #[error(
        "{origin}: `{register}` is clocked by logic over {reads}; a {device} clocks all registers by the rise of pin {pin} alone: clock it by one contact and turn the rest of its clock into a load condition, or choose a device with product-term clocks"
    )]
    GatedClock {
        /// The register.
        register: String,
        /// The signals that its clock is made of, in words.
        reads: String,
        /// The device.
        device: &'static str,
        /// The device's clock pin.
        pin: PinNumber,
        /// Where it was written.
        origin: Origin,
    },
    /// A register with a clock that never rises.
    #[error("{origin}: the clock of `{register}` never rises: give it a clock, or make it a node")]
    NeverClocked {
        /// The register.
        register: String,
        /// Where it was written.
        origin: Origin,
    },
    /// Two registers with different clocks.
    #[error(
        "{}: `{}` is clocked by `{}`, `{}` by `{}`; a {device} has one clock: make one clock a load condition, put the registers in two devices, or choose a device with product-term clocks",
        second.origin, second.register, second.by, first.register, first.by
    )]
    TwoClocks {
        /// One register and its clock.
        first: Box<Sharing>,
        /// Another one and its clock.
        second: Box<Sharing>,
        /// The device.
        device: &'static str,
    },
    /// The device has no clock in any mode.
    #[error("{origin}: `{register}` is a register; a {device} has none{}: choose a registered device", in_mode(mode))]
    NoRegisters {
        /// The register.
        register: String,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A register with an asynchronous clear and a preset.
    #[error(
        "{origin}: `{register}` has a clear and a preset that act at once; the registers of a {device} have one such input: make one of the two a load condition"
    )]
    ClearAndPreset {
        /// The register.
        register: String,
        /// The device.
        device: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A register with a clear on a device without one.
    #[error(
        "{origin}: `{register}` has a {what} that acts at once; a {device} has no reset term: make it part of what is loaded, or choose a 22V10 (loaded, it acts on the next clock edge and no longer at once: another behaviour, which the proof refutes where the card shows the difference)"
    )]
    NoReset {
        /// The register.
        register: String,
        /// `clear` or `preset`.
        what: &'static str,
        /// The device.
        device: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// Registers that disagree about the reset term.
    #[error(
        "{}: `{}` is reset by `{}`, `{}` ({}) {}; a {device} resets all its registers by one term: {mend}",
        first.origin, first.register, first.by, second.register, second.origin, second.by
    )]
    TwoResets {
        /// One register and its condition.
        first: Box<Sharing>,
        /// Another one, and its condition or that it has none, in words.
        second: Box<Sharing>,
        /// The device.
        device: &'static str,
        /// What would help.
        mend: String,
    },
    /// A start that the device's power-up state can't give.
    #[error("{origin}: `{element}` starts {start}{but}; {device} registers power up alike, so this one can't: {mend}")]
    Start {
        /// The register or latch.
        element: String,
        /// `high` or `low`.
        start: &'static str,
        /// What stands against it.
        but: &'static str,
        /// The device.
        device: &'static str,
        /// What would help.
        mend: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A latch that declares a start.
    #[error(
        "{origin}: the latch `{latch}` declares a start; a latch of a {device} wakes up either way: leave the start open, or make it a register"
    )]
    LatchStart {
        /// The latch.
        latch: String,
        /// The device.
        device: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// More macrocells than the device has.
    #[error("{needed} macrocells are needed, a {device} has {available}{}: {list}. {mend}", in_mode(mode))]
    TooManyMacrocells {
        /// How many are needed.
        needed: usize,
        /// How many there are.
        available: usize,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
        /// What each is needed for.
        list: String,
        /// What would help.
        mend: String,
    },
    /// More signals than the device has pins.
    #[error(
        "{inputs} input pins and {macrocells} macrocells are needed, a {device} has {available} pins for both{} ({dedicated} of them inputs only): leave out {}, or choose a larger device",
        in_mode(mode), inputs_text(*over)
    )]
    TooManyPins {
        /// Input contacts.
        inputs: usize,
        /// Macrocells in use.
        macrocells: usize,
        /// Pins for signals.
        available: usize,
        /// Pins that can only be inputs.
        dedicated: usize,
        /// How many inputs are too many.
        over: usize,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
    },
    /// More signals than a device of logic blocks has pins.
    #[error(
        "{inputs} input pins and {outputs} output pins are needed, a {device} has {available}{}: leave out {}, or choose a larger device",
        port_text(*port), signals_text(*over)
    )]
    TooFewPins {
        /// Contacts that are only read.
        inputs: usize,
        /// Contacts that are driven.
        outputs: usize,
        /// Pins for signals.
        available: usize,
        /// How many signals are too many.
        over: usize,
        /// Pins that are kept for the programming port.
        port: usize,
        /// The device.
        device: &'static str,
    },
    /// Blocks that would have to read too many signals.
    #[error(
        "the product terms of one block of a {device} can read {limit} signals; the best way to spread the macrocells that was found needs {found} in one block: keep an intermediate signal that many functions share as a buried node, or choose a device with more blocks"
    )]
    BlockInputs {
        /// The most signals that one block would read.
        found: usize,
        /// The most that it can read.
        limit: usize,
        /// The device.
        device: &'static str,
    },
    /// Borrowed product terms that don't fit the chains.
    #[error(
        "no way was found to give {wide} terms of neighbours within the chains of {chain} macrocells of a {device} and all outputs a pin: keep an intermediate signal as a buried node, or choose a larger device"
    )]
    Chains {
        /// The signals that borrow terms.
        wide: String,
        /// Macrocells of a chain.
        chain: usize,
        /// The device.
        device: &'static str,
    },
    /// A function with too many product terms, or too many such functions.
    #[error(
        "{origin}: `{signal}` needs {needed} product terms{}; the widest macrocell that is left on a {device}{} has {widest}, and {} free to split it: keep an intermediate signal as a buried node, or choose a larger device",
        if *fewest { "" } else { " (fewer were not found, nor ruled out)" }, in_mode(mode), macrocells(*spare)
    )]
    TooWide {
        /// The signal.
        signal: String,
        /// Product terms in its better polarity.
        needed: usize,
        /// Whether fewer are proved impossible.
        fewest: bool,
        /// Terms of the widest macrocell that could take it.
        widest: usize,
        /// Macrocells not used.
        spare: usize,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A macrocell that can do what a signal needs doesn't exist, or not often enough.
    #[error("{origin}: no macrocell of a {device}{} is left for `{signal}`, which {needs}: {mend}", in_mode(mode))]
    NoMacrocellFor {
        /// The signal.
        signal: String,
        /// What it needs.
        needs: String,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
        /// What would help.
        mend: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A socket that the device doesn't go into as it is.
    #[error("a {device} can't go into the socket as it is, for contact {contact}: {why}")]
    NotStraight {
        /// The contact.
        contact: Label,
        /// The device.
        device: &'static str,
        /// Why not, and what would help.
        why: String,
    },
    /// A device whose description has no mode.
    #[error("the description of the {device} has no mode: complete it")]
    NoModes {
        /// The device.
        device: &'static str,
    },
    /// A wish for something that isn't there.
    #[error("there is no {what} `{wish}` to be put on pin {pin}: use a name from the circuit")]
    UnknownWish {
        /// `contact` or `signal`.
        what: &'static str,
        /// What was asked for.
        wish: String,
        /// The pin.
        pin: PinNumber,
    },
    /// A wish for a node that isn't there.
    #[error("there is no node `{wish}` to be kept: use the name of a buried node of the circuit")]
    UnknownNode {
        /// What was asked for.
        wish: String,
    },
    /// A wish that can't be fulfilled.
    #[error("`{signal}` can't be on pin {pin} of a {device}{}: {why}", in_mode(mode))]
    Pinned {
        /// The signal.
        signal: String,
        /// The pin.
        pin: PinNumber,
        /// The device.
        device: &'static str,
        /// The mode; empty if the device has only one.
        mode: &'static str,
        /// Why not, and what would help.
        why: String,
    },
    /// Wishes that are possible one by one and not together.
    #[error("pinning {contacts} leaves the other signals of `{circuit}` no place on a {device}: set one of them free")]
    PinnedTogether {
        /// The contacts that are pinned.
        contacts: String,
        /// The circuit.
        circuit: String,
        /// The device.
        device: &'static str,
    },
}

/// A register and what it shares with the others, or would have to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Sharing {
    /// The register.
    pub register: String,
    /// Its clock, or its reset.
    pub by: String,
    /// Where it was written.
    pub origin: Origin,
}

/// ` in registered mode`, or nothing if the device has only one.
fn in_mode(mode: &str) -> String {
    if mode.is_empty() { String::new() } else { format!(" in {mode} mode") }
}

/// `no macrocells are`, `1 macrocell is`, `2 macrocells are`.
fn macrocells(count: usize) -> String {
    match count {
        0 => "no other macrocells are".into(),
        1 => "1 other macrocell is".into(),
        n => format!("{n} other macrocells are"),
    }
}

/// `1 input`, `2 inputs`.
fn inputs_text(count: usize) -> String {
    if count == 1 { "1 input".into() } else { format!("{count} inputs") }
}

/// `1 signal`, `2 signals`.
fn signals_text(count: usize) -> String {
    if count == 1 { "1 signal".into() } else { format!("{count} signals") }
}

/// What giving up the programming port would bring.
fn port_text(pins: usize) -> String {
    match pins {
        0 => String::new(),
        n => format!(" beside {n} that are kept for the programming port"),
    }
}
