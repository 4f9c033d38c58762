//! Devices of logic blocks: the limits within which their maker's fitter places a netlist. Data only.
use super::{PinNumber, Provenance};

/// A number that a device keeps to, with its provenance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// The number.
    pub value: usize,
    /// Where it comes from.
    pub from: Provenance,
}

/// A pin of the programming port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PortPin {
    /// The pin.
    pub pin: PinNumber,
    /// What it is for, by the standard of the port: `TCK`.
    pub signal: &'static str,
    /// What holds it once the programmer's plug is gone.
    pub rest: PortRest,
}

/// What holds a pin of the programming port while no programmer is plugged in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PortRest {
    /// A resistor to the supply: an open input of this kind counts as high (IEEE 1149.1 on TDI and TMS).
    High,
    /// A resistor to ground: a clock that stands still low (common practice, no source).
    Low,
    /// Nothing: it is an output.
    Output,
}

/// What a device of logic blocks offers: blocks of macrocells that read a limited number of signals, each macrocell with
/// a few product terms, a register or latch, and a clock, clear, preset and enable of its own.
///
/// How its fuses are arranged isn't published, so it has no fuse map here: its netlist goes to its maker's fitter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Blocks {
    /// The pin of each macrocell, macrocell 1 first; a macrocell without a pin can only be buried.
    pub macrocells: Vec<Option<PinNumber>>,
    /// Where the pins of the macrocells come from.
    pub pins_from: Provenance,
    /// How many macrocells in a row make a block.
    pub block: Limit,
    /// How many signals the product terms of a block can read together.
    pub inputs: Limit,
    /// Product terms of a macrocell. A clock, clear, preset or enable that isn't on a global pin takes one of them.
    pub terms: Limit,
    /// How many macrocells in a row make a chain: in it a macrocell can borrow all the terms of those just before it,
    /// which then have none.
    pub chain: Limit,
    /// Pins whose rise can clock any register, and whose high level can open any latch, without a term.
    pub clocks: Vec<PinNumber>,
    /// The pin whose low level can clear any register or latch without a term.
    pub clear: Option<PinNumber>,
    /// Pins whose low level can enable any driver without a term.
    pub enables: Vec<PinNumber>,
    /// The pins of the programming port. Used for signals they can't program the device in its circuit any more.
    pub port: Vec<PortPin>,
}

impl Blocks {
    /// The most product terms that one sum can have.
    pub fn widest(&self) -> usize {
        self.chain.value * self.terms.value
    }

    /// The block of a macrocell; both count from 1.
    pub fn block_of(&self, macrocell: u16) -> usize {
        usize::from(macrocell).saturating_sub(1) / self.block.value.max(1) + 1
    }

    /// The macrocell with this pin, counted from 1.
    pub fn macrocell_at(&self, pin: PinNumber) -> Option<u16> {
        self.macrocells.iter().position(|&p| p == Some(pin)).and_then(|i| u16::try_from(i + 1).ok())
    }

    /// What a pin of the programming port is for.
    pub fn port_signal(&self, pin: PinNumber) -> Option<&'static str> {
        self.port.iter().find(|p| p.pin == pin).map(|p| p.signal)
    }
}
