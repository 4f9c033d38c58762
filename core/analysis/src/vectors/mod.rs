//! Test vectors for a burned device, made from its fuse map by what testers in device programmers can do, and what they
//! would find if a fuse were in the wrong state.
//!
//! The rules: the pins of a vector may switch in any order, so at most one asynchronous input changes; the clock pulses
//! when everything else stands; a pin that the device may drive at some moment of a vector is not driven by the tester,
//! nor was it in the vector before; nothing is known at power-up, so the first vectors bring the device to a known state;
//! no preload and no supervoltage.
//!
//! What a vector expects holds whatever the order and the delays: each one is run with everything that changes unknown
//! first (ternary analysis, Eichelberger 1965), and only pins that come out known are tested.
//!
//! A single wrong fuse ends in one of three ways: the vectors find it; it changes nothing at any pin at rest, shown by
//! going through every state that a board can bring the device to; or every vector from every state that vectors lead to
//! was tried, and none shows it for certain (or, in a device too large for that, not all were tried, which is said).
mod flips;
mod json;
mod list;
mod search;
mod socket;
#[cfg(test)]
mod tests;
mod written;

use gluewright_devices::device::{Device, DeviceError, PinNumber, Role};
use gluewright_devices::fusefile::Fuses;
use gluewright_kernel::limit::{Limit, Over};

use flips::campaign::Campaign;
use flips::coverage::Tried;
pub use flips::coverage::{Coverage, Known, Miss};
use flips::flip::Flips;
pub use list::{Condition, Purpose, Strength, TestVector, Vectors};
use search::{Compaction, Search};
use socket::array::Array;
use socket::bank::{Bank, State};
use socket::rules::{Rules, Step};

/// Why there are no vectors.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoVectors {
    /// What is wrong with the fuse map or the device.
    #[error(transparent)]
    Device(#[from] DeviceError),
    /// There was no time for them.
    #[error(
        "{over}: by then {vectors} vectors found {found} of {of} single wrong fuses: give it more time, or leave vectors out"
    )]
    Over {
        /// Why it ended.
        over: Over,
        /// How many vectors there were.
        vectors: usize,
        /// How many wrong fuses they find.
        found: usize,
        /// Of how many.
        of: usize,
    },
}

impl Vectors {
    /// Vectors for a device with this fuse map, for a tester of this strength.
    ///
    /// ```
    /// # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_devices::*; pub use gluewright_kernel::*; }
    /// use gluewright::device::{Cell, Enable, Function, Literal, Plan, Source, Term, find};
    /// use gluewright::vectors::{Strength, Vectors};
    ///
    /// let device = find("22V10").ok_or("no such device")?;
    /// let both = Term(vec![Literal::high(Source::Pin(2)), Literal::high(Source::Pin(3))]);
    /// let cell = Cell { function: Function::Combinational, inverted: false, enable: Enable::Always, terms: vec![both], exclusive: Vec::new() };
    /// let plan = Plan { cells: [(23, cell)].into(), ..Plan::default() };
    /// let vectors = Vectors::new(device, &device.encode(&plan)?, Strength::Levels)?;
    /// assert!(vectors.coverage.share() > 0.9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// If the map isn't one of this device, or sets it up in a way that no data sheet defines.
    pub fn new(device: &Device, fuses: &Fuses, strength: Strength) -> Result<Vectors, DeviceError> {
        match Vectors::within(device, fuses, strength, Limit::NONE) {
            Ok(vectors) => Ok(vectors),
            Err(NoVectors::Device(error)) => Err(error),
            // no limit is never over
            Err(NoVectors::Over { .. }) => Err(DeviceError::NoFuseMap { device: device.name }),
        }
    }

    /// The same until a limit: vectors that were made in too little time might be others with more, and are none.
    ///
    /// # Errors
    /// As for [`new`](Vectors::new), and if the limit is over, with what was reached by then.
    pub fn within(device: &Device, fuses: &Fuses, strength: Strength, limit: Limit) -> Result<Vectors, NoVectors> {
        let array = Array::new(device, fuses)?;
        let mut flips = Flips::of(device, fuses, &array);
        let drivable = device.pins.iter().map(|p| !matches!(p.role, Role::Vcc | Role::Gnd)).collect();
        let rules = Rules::new(&array, drivable);
        let good = Bank::new(array);
        let floating = strength == Strength::Floating;
        let mut search = Search::new(&good, &rules, std::mem::take(&mut flips.list), floating, device.power_up.level());
        search.limit = limit;
        search.run();
        let wanted = search.campaign.tally();
        let Search { by_starts, steps, flips: list_of, harmless, hidden, timed, .. } = search;
        let compaction =
            Compaction { good: &good, rules: &rules, flips: &list_of, by_starts: &by_starts, floating, limit };
        let steps = compaction.run(steps, wanted);
        let mut campaign = Campaign::new(&good, &list_of, &by_starts);
        if let Some(over) = limit.over() {
            steps.iter().for_each(|step| {
                campaign.step(&good, &list_of, step, floating);
            });
            let found = campaign.found.iter().filter(|f| **f).count();
            return Err(NoVectors::Over { over, vectors: steps.len(), found, of: list_of.len() });
        }
        let mut list = Vec::with_capacity(steps.len());
        let mut homed = false;
        for step in &steps {
            homed = homed || search::is_home(&good, &rules, &campaign.good);
            campaign.step(&good, &list_of, step, floating);
            list.push(TestVector {
                purpose: if homed { Purpose::Test } else { Purpose::Homing },
                conditions: conditions(device, &good, &campaign.good, step, floating),
            });
        }
        let flips = Flips { list: list_of, ..flips };
        let coverage = Coverage::new(device, fuses, &flips, &campaign, harmless, Tried { hidden, timed });
        let untested = untested(&good, &list);
        Ok(Vectors { device: device.name, list, coverage, untested })
    }
}

/// What a vector does at each pin, from where the good device then stands.
fn conditions(device: &Device, good: &Bank, state: &State, step: &Step, floating: bool) -> Vec<Condition> {
    let expected = |pin: usize| {
        let Some((index, cell)) = good.array.cells.iter().enumerate().find(|(_, c)| c.pin == pin) else {
            return Condition::Untested;
        };
        match (good.enable(state, cell).lane(0), good.shown(state, index, cell).lane(0)) {
            (Some(true), Some(true)) => Condition::ExpectHigh,
            (Some(true), Some(false)) => Condition::ExpectLow,
            (Some(false), _) if floating => Condition::ExpectFloating,
            _ => Condition::Untested,
        }
    };
    let condition = |(pin, p): (usize, &gluewright_devices::device::Pin)| match step.drive.get(pin).copied().flatten() {
        _ if matches!(p.role, Role::Vcc | Role::Gnd) => Condition::Supply,
        Some(_) if step.pulse == Some(pin) => Condition::Pulse,
        Some(true) => Condition::High,
        Some(false) => Condition::Low,
        None => expected(pin),
    };
    device.pins.iter().enumerate().map(condition).collect()
}

fn untested(good: &Bank, list: &[TestVector]) -> Vec<PinNumber> {
    let tested = |pin: usize| {
        let level =
            |v: &TestVector| matches!(v.conditions.get(pin), Some(Condition::ExpectHigh | Condition::ExpectLow));
        list.iter().any(level)
    };
    let driven = good.array.cells.iter().filter(|c| good.array.ever_drives(c) && !tested(c.pin));
    driven.filter_map(|c| PinNumber::try_from(c.pin + 1).ok()).collect()
}
