//! Why a circuit doesn't fit a device, and the nearest change with which it would.
use thiserror::Error;

use crate::circuit::Origin;
use crate::device::PinNumber;
use crate::logic::LogicError;

/// Why a circuit doesn't fit a device: the first reason, with the mend that is nearest.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum NoFit {
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
        "{origin}: `{register}` is clocked by `{clock}`, `{other}` by `{other_clock}`; a {device} has one clock: make one clock a load condition, put the registers in two devices, or choose a device with product-term clocks"
    )]
    TwoClocks {
        /// One register.
        register: String,
        /// Its clock.
        clock: String,
        /// Another one.
        other: String,
        /// Its clock.
        other_clock: String,
        /// The device.
        device: &'static str,
        /// Where the first was written.
        origin: Origin,
    },
    /// The device has no clock in any mode.
    #[error("{origin}: `{register}` is a register; a {device} has none{in_mode}: choose a registered device")]
    NoRegisters {
        /// The register.
        register: String,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
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
        "{origin}: `{register}` has a {what} that acts at once; a {device} has no reset term: make it part of what is loaded, or choose a 22V10"
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
        "{origin}: `{register}` is reset by {condition}, `{other}` ({other_origin}) {other_condition}; a {device} resets all its registers by one term: {mend}"
    )]
    TwoResets {
        /// One register.
        register: String,
        /// Its condition.
        condition: String,
        /// Another one.
        other: String,
        /// Its condition, or that it has none.
        other_condition: String,
        /// Where the other was written.
        other_origin: Origin,
        /// The device.
        device: &'static str,
        /// What would help.
        mend: String,
        /// Where the first was written.
        origin: Origin,
    },
    /// A start that the device's power-up state can't give.
    #[error("{origin}: `{element}` starts {start}{but}; {device} registers power up alike, so this one can't: {mend}")]
    Start {
        /// The register or latch.
        element: String,
        /// `high` or `low`.
        start: &'static str,
        /// What stands against it.
        but: String,
        /// The device.
        device: &'static str,
        /// What would help.
        mend: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// A latch that declares a start.
    #[error(
        "{origin}: the latch `{latch}` declares a start; a {device} makes a latch of product terms, which wakes up either way: leave the start open, or make it a register"
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
    #[error("{needed} macrocells are needed, a {device} has {available}{in_mode}: {list}. {mend}")]
    TooManyMacrocells {
        /// How many are needed.
        needed: usize,
        /// How many there are.
        available: usize,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
        /// What each is needed for.
        list: String,
        /// What would help.
        mend: String,
    },
    /// More signals than the device has pins.
    #[error(
        "{inputs} input pins and {macrocells} macrocells are needed, a {device} has {available} pins for both{in_mode} ({dedicated} of them inputs only): leave out {over} input{plural}, or choose a larger device"
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
        /// `s` if there are several.
        plural: &'static str,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
    },
    /// A function with too many product terms, or too many such functions.
    #[error(
        "{origin}: `{signal}` needs {needed} product terms; the widest macrocell that is left on a {device}{in_mode} has {widest}, and {spare} other macrocell{plural} free to split it: keep an intermediate signal as a buried node, or choose a larger device"
    )]
    TooWide {
        /// The signal.
        signal: String,
        /// Product terms in its better polarity.
        needed: usize,
        /// Terms of the widest macrocell that could take it.
        widest: usize,
        /// Macrocells not used, in words.
        spare: String,
        /// The verb that goes with it.
        plural: &'static str,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
        /// Where it was written.
        origin: Origin,
    },
    /// A macrocell that can do what a signal needs doesn't exist, or not often enough.
    #[error("{origin}: no macrocell of a {device}{in_mode} is left for `{signal}`, which {needs}: {mend}")]
    NoMacrocellFor {
        /// The signal.
        signal: String,
        /// What it needs.
        needs: String,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
        /// What would help.
        mend: &'static str,
        /// Where it was written.
        origin: Origin,
    },
    /// Drivers of registers that the device can't enable apart.
    #[error(
        "{origin}: `{signal}` drives {condition}; a {device} enables its registered outputs by pin {pin} while low, all together: {mend}"
    )]
    SharedEnable {
        /// The signal.
        signal: String,
        /// When it drives.
        condition: String,
        /// The device.
        device: &'static str,
        /// The enable pin.
        pin: PinNumber,
        /// What would help.
        mend: &'static str,
        /// Where it was written.
        origin: Origin,
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
    #[error("`{signal}` can't be on pin {pin} of a {device}{in_mode}: {why}")]
    Pinned {
        /// The signal.
        signal: String,
        /// The pin.
        pin: PinNumber,
        /// The device.
        device: &'static str,
        /// The mode, in words.
        in_mode: String,
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
