//! Vectors as they are kept: what each does at each pin, and what they would find.
use super::flips::coverage::Coverage;
use gluewright_devices::device::PinNumber;

/// What a tester can see.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Strength {
    /// High and low, and that nothing drives a pin.
    #[default]
    Floating,
    /// High and low only.
    Levels,
}

/// What one vector does at one pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Condition {
    /// Drives it low.
    Low,
    /// Drives it high.
    High,
    /// Drives it low, and high and low again when all other pins stand.
    Pulse,
    /// Tests that it is low.
    ExpectLow,
    /// Tests that it is high.
    ExpectHigh,
    /// Tests that nothing drives it.
    ExpectFloating,
    /// Neither drives nor tests it.
    Untested,
    /// A supply pin.
    Supply,
}

impl Condition {
    /// The character of a fuse file's V field. `N` stands for an untested pin, not `X`: an input at `X` is driven to the
    /// default level (from memory).
    pub fn character(self) -> char {
        match self {
            Condition::Low => '0',
            Condition::High => '1',
            Condition::Pulse => 'C',
            Condition::ExpectLow => 'L',
            Condition::ExpectHigh => 'H',
            Condition::ExpectFloating => 'Z',
            Condition::Untested | Condition::Supply => 'N',
        }
    }
}

/// What a vector is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Purpose {
    /// Bringing the device from an unknown to a known state; what is known on the way is tested too.
    Homing,
    /// Testing.
    Test,
}

/// One vector.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TestVector {
    /// What it is for.
    pub purpose: Purpose,
    /// One condition for each pin of the DIP package, pin 1 first.
    pub conditions: Vec<Condition>,
}

/// The vectors for one device.
#[derive(Clone, Debug)]
pub struct Vectors {
    /// The device's type number.
    pub device: &'static str,
    /// The vectors, in the order in which they have to be applied.
    pub list: Vec<TestVector>,
    /// What they would find.
    pub coverage: Coverage,
    /// Pins that the device drives and no vector tests: what they show never becomes known.
    pub untested: Vec<PinNumber>,
}
