//! What a device is: its pins, its array, its macrocells and the fuses that set them. Data only; nothing here knows a
//! type number.
use std::ops::Range;

use super::{Blocks, Electrical, Grade, Make, Part};
use gluewright_kernel::circuit::Start;

/// The number of a pin, as the first package of the device counts it.
pub type PinNumber = u16;

/// What a pin is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// An input and nothing else.
    Input,
    /// An input that also clocks the registers, in some mode or always.
    ClockInput,
    /// An input that also enables the registered outputs while low, in some mode or always.
    EnableInput,
    /// The pin of a macrocell.
    Io,
    /// The positive supply.
    Vcc,
    /// Ground.
    Gnd,
}

/// A pin of a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pin {
    /// Its number on the first package.
    pub number: PinNumber,
    /// What it is for.
    pub role: Role,
}

/// The shape of a package, as it is seen from above.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Body {
    /// Two rows of pins; pin 1 is at the top left.
    Dual,
    /// A square chip carrier with pins on four sides; pin 1 is in the middle of the top side.
    Carrier,
    /// A flat square with pins on four sides; pin 1 is at a corner.
    Flat,
}

/// A package in which a device comes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Package {
    /// Its name: `DIP-24`.
    pub name: &'static str,
    /// Its shape.
    pub body: Body,
    /// How many pins it has.
    pub pins: PinNumber,
    /// The pin of this package for each pin of the first package, the DIP if there is one, pin 1 first.
    pub of_dip: Vec<PinNumber>,
}

/// What a pair of array columns carries: the even column is the signal, the odd one its complement (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// The level of this pin.
    Pin(PinNumber),
    /// The feedback of the macrocell with this pin: see [`Feedback`] for what it carries.
    Feedback(PinNumber),
}

impl Source {
    /// The pin, or the pin of the macrocell.
    pub fn pin(self) -> PinNumber {
        match self {
            Source::Pin(n) | Source::Feedback(n) => n,
        }
    }
}

/// What the feedback of a macrocell carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Feedback {
    /// The level of its pin, whoever drives that.
    Pin,
    /// The complement of its register, whatever the pin does.
    InvertedQ,
}

/// What a macrocell does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Function {
    /// The pin follows the sum of the product terms.
    Combinational,
    /// The sum of the product terms is what a D register loads; the pin follows the register.
    Registered,
    /// The pin follows the sum of the product terms while the latch is open, and keeps its level while it isn't.
    Latch,
    /// No driver: the pin is an input or unused.
    Input,
}

impl std::fmt::Display for Function {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Function::Combinational => "combinational",
            Function::Registered => "registered",
            Function::Latch => "a latch",
            Function::Input => "an input",
        })
    }
}

/// Where the polarity fuse of a registered macrocell inverts. A combinational macrocell has only one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Inverter {
    /// Between the sum and D: the pin always shows the register's complement.
    BeforeRegister,
    /// Between the register and the pin: D is always the sum.
    AfterRegister,
}

/// What turns the driver of a macrocell on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EnableSource {
    /// The product term in this row.
    Row(usize),
    /// This pin, while low.
    Pin(PinNumber),
    /// Always on.
    Always,
    /// Always off.
    Never,
}

/// One way in which a macrocell can be set up in a mode.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Configuration {
    /// What the macrocell then does.
    pub function: Function,
    /// Fuses that choose this configuration, with their states.
    pub fuses: Vec<(usize, bool)>,
    /// The array rows whose product terms are summed.
    pub rows: Range<usize>,
    /// The array rows of a second sum, where the macrocell takes the exclusive-or of two; empty where it doesn't.
    pub exclusive: Range<usize>,
    /// What turns the driver on.
    pub enable: EnableSource,
    /// What the feedback columns carry, where the mode has such columns for this macrocell.
    pub feedback: Feedback,
}

/// A macrocell in one mode of a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Macrocell {
    /// Its pin.
    pub pin: PinNumber,
    /// All array rows that belong to it.
    pub rows: Range<usize>,
    /// The polarity fuse: 0 shows the complement of the sum at the pin, 1 the sum. Without one the pin shows the
    /// complement.
    pub polarity: Option<usize>,
    /// The ways in which it can be set up; at most one for each function.
    pub configurations: Vec<Configuration>,
}

impl Macrocell {
    /// The configuration with this function, if there is one.
    pub fn configuration(&self, function: Function) -> Option<&Configuration> {
        self.configurations.iter().find(|c| c.function == function)
    }
}

/// A mode of a device: what its global fuses choose. A device without such fuses has one mode.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mode {
    /// Its name in the data sheets; empty if the device has only one.
    pub name: &'static str,
    /// The global fuses that choose it, with their states.
    pub fuses: Vec<(usize, bool)>,
    /// What each pair of columns carries.
    pub columns: Vec<Source>,
    /// The pin whose rise clocks all registers.
    pub clock: Option<PinNumber>,
    /// The row of the term that resets all registers at once while it is true.
    pub reset: Option<usize>,
    /// The row of the term that sets all registers on the next clock edge while it is true.
    pub preset: Option<usize>,
    /// The macrocells, in the order of their rows.
    pub macrocells: Vec<Macrocell>,
}

impl Mode {
    /// The macrocell with this pin.
    pub fn macrocell(&self, pin: PinNumber) -> Option<&Macrocell> {
        self.macrocells.iter().find(|m| m.pin == pin)
    }

    /// The pair of columns that carries this signal.
    pub fn pair(&self, source: Source) -> Option<usize> {
        self.columns.iter().position(|&s| s == source)
    }

    /// How an outside level on this pin reaches the array, if it does. For the pin of a macrocell it holds only while
    /// the macrocell's configuration feeds back its pin.
    pub fn reads(&self, pin: PinNumber) -> Option<Source> {
        self.columns.iter().copied().find(|s| s.pin() == pin)
    }
}

/// A programmable device: one AND-OR array with a fuse map, or logic blocks.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// The generic type number: `22V10`.
    pub name: &'static str,
    /// The pins, pin 1 first.
    pub pins: Vec<Pin>,
    /// The packages in which it comes, the DIP first if there is one.
    pub packages: Vec<Package>,
    /// Rows of the array: product terms.
    pub rows: usize,
    /// The modes; most devices have one, a device of logic blocks none.
    pub modes: Vec<Mode>,
    /// Its logic blocks, if it is made of such. It has no fuse map then: its netlist goes to its maker's fitter.
    pub blocks: Option<Blocks>,
    /// Where the polarity fuse inverts in a registered macrocell.
    pub inverter: Inverter,
    /// What every register holds at power-up.
    pub power_up: Start,
    /// The first of the fuses that keep a product term usable while 1, one for each row.
    pub term_enables: Option<usize>,
    /// The fuses of the user signature: bytes in fuse order, most significant bit first.
    pub signature: Option<Range<usize>>,
    /// How many fuses a fuse file for this device holds.
    pub fuses: usize,
    /// Other numbers of fuses in files that programmers take for the same device.
    pub other_sizes: Vec<usize>,
    /// The fuse beyond [`fuses`](Device::fuses) by which some makers' parts let a pin power the device down.
    pub power_down: Option<usize>,
    /// Whether programmers of today burn it, so that it may be proposed. One that they don't is read, as a source.
    pub burned_today: bool,
    /// The device that replaces this one with the same array, and the name of its mode.
    pub replacement: Option<(&'static str, &'static str)>,
    /// Speed grades with their figures.
    pub grades: Vec<Grade>,
    /// Electrical limits, one entry for each data sheet.
    pub electrical: Vec<Electrical>,
    /// What each maker's sheet says of it.
    pub makes: Vec<Make>,
    /// The part that it is, if it is narrowed to one maker's; `None` for the generic type.
    pub part: Option<Part>,
}

impl Device {
    /// Array columns: two for each signal.
    pub fn columns(&self) -> usize {
        self.modes.iter().map(|m| m.columns.len() * 2).max().unwrap_or(0)
    }

    /// The fuse at this row and column of the array.
    pub fn array_fuse(&self, row: usize, column: usize) -> usize {
        row * self.columns() + column
    }

    /// Where the lines of a fuse file for this device begin: every row of the array, and every block of other fuses.
    pub fn lines(&self) -> Vec<usize> {
        let signature = self.signature.iter().flat_map(|s| [s.start, s.end]);
        let terms = self.term_enables.iter().flat_map(|&first| [first, first + self.rows]);
        let blocks = signature.chain(terms).filter(|&fuse| fuse < self.fuses);
        let rows = (0..=self.rows).map(|row| self.array_fuse(row, 0)).filter(|&fuse| fuse < self.fuses);
        let mut lines: Vec<usize> = rows.chain(blocks).collect();
        lines.sort_unstable();
        lines.dedup();
        lines
    }

    /// The mode with this index.
    pub fn mode(&self, index: usize) -> Option<&Mode> {
        self.modes.get(index)
    }

    /// What this pin is for, if there is such a pin.
    pub fn role(&self, pin: PinNumber) -> Option<Role> {
        self.pins.iter().find(|p| p.number == pin).map(|p| p.role)
    }

    /// Whether the true feedback column is the complement of what the pin shows while enabled.
    ///
    /// On a 22V10 that is so for a registered macrocell whose pin shows the register itself; a 16V8 never does it.
    pub fn feedback_opposes_pin(&self, configuration: &Configuration, inverted: bool) -> bool {
        match (configuration.feedback, configuration.function, self.inverter) {
            (Feedback::InvertedQ, Function::Registered, Inverter::AfterRegister) => !inverted,
            _ => false,
        }
    }

    /// The level that an enabled registered pin shows at power-up and, on devices with a reset term, after a reset.
    /// `None` if the device doesn't promise one.
    pub fn pin_at_power_up(&self, inverted: bool) -> Option<bool> {
        let q = self.power_up.level()?;
        Some(match self.inverter {
            Inverter::BeforeRegister => !q,
            Inverter::AfterRegister => q != inverted,
        })
    }
}
