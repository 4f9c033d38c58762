//! One part on the bench: its pins by the names of its data sheet, 64 runs at a time, from every start.
use std::collections::BTreeMap;

use gluewright::board::PinRole;
use gluewright::circuit::{Circuit, Stage};
use gluewright_kernel::machine::{Lanes, Limits, Machine, Point};
use gluewright_parts::{Sheet, ttl};

/// A part with names on its pins.
pub(crate) struct Bench {
    pub(crate) machine: Machine,
    pub(crate) sheet: &'static Sheet,
    ports: BTreeMap<String, usize>,
    limits: Limits,
}

/// What a pin shows in 64 runs.
#[derive(Clone, Copy)]
pub(crate) struct Shows {
    pub(crate) driven: u64,
    pub(crate) high: u64,
    pub(crate) open_collector: bool,
}

impl Shows {
    /// Runs in which a meter with a pull-up to the supply reads high.
    pub(crate) fn reads_high(self) -> u64 {
        if self.open_collector { !self.driven | self.high } else { self.driven & self.high }
    }

    /// Runs in which it reads low.
    pub(crate) fn reads_low(self) -> u64 {
        self.driven & !self.high
    }
}

impl Bench {
    pub(crate) fn new(part: &str) -> Self {
        Self::of(part, &logic_of(part))
    }

    /// A circuit that has the pins of the part, wired in some way.
    pub(crate) fn of(part: &str, circuit: &Circuit) -> Self {
        let kind = ttl().find(part).unwrap_or_else(|e| panic!("{part}: {e}")).kind;
        let sheet = &kind.sheets()[0];
        let machine = Machine::new(circuit);
        let ports = machine
            .ports()
            .iter()
            .enumerate()
            .filter_map(|(i, p)| sheet.pin(&p.label).map(|pin| (pin.name.clone(), i)))
            .collect();
        let enough = 64 + 4 * machine.cells().len();
        Bench { machine, sheet, ports, limits: Limits { phases: enough, iterations: enough } }
    }

    /// The port of the pin with this name.
    pub(crate) fn port(&self, name: &str) -> usize {
        *self.ports.get(name).unwrap_or_else(|| panic!("{} has no pin {name}", self.sheet.type_number))
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.ports.contains_key(name)
    }

    /// The names of the pins that can be driven from outside.
    pub(crate) fn inputs(&self) -> Vec<String> {
        self.names(|role| matches!(role, PinRole::Input | PinRole::InOut(_)))
    }

    /// The names of the pins that the part drives.
    pub(crate) fn outputs(&self) -> Vec<String> {
        self.names(|role| matches!(role, PinRole::Output(_) | PinRole::InOut(_)))
    }

    fn names(&self, fits: impl Fn(PinRole) -> bool) -> Vec<String> {
        let pins = self.sheet.pins.iter().filter(|p| fits(p.role) && self.has(&p.name));
        pins.map(|p| p.name.clone()).collect()
    }

    /// The cells that can hold anything at power-up.
    pub(crate) fn free_cells(&self) -> Vec<usize> {
        (0..self.machine.cells().len()).filter(|&i| self.machine.cells()[i].start.is_none()).collect()
    }

    /// True if it has more inputs and starts than are tried one by one.
    pub(crate) fn is_sampled(&self) -> bool {
        self.inputs().len() + self.free_cells().len() > MOST_BITS
    }

    /// The settled point with these levels outside and these bits in the cells, and the runs that don't settle.
    pub(crate) fn start(&self, outside: &[u64], cells: &[u64]) -> (Point<u64>, u64) {
        let mut lanes = Lanes::default();
        let point = self.machine.point(&mut lanes, outside, cells);
        let stepped = self.machine.rest(&mut lanes, &point, self.limits);
        (stepped.point, stepped.unsettled)
    }

    /// The next settled point, and the runs in which something unknown occurred or which don't settle.
    pub(crate) fn step(&self, from: &Point<u64>, change: &[(usize, u64)]) -> (Point<u64>, u64) {
        let mut lanes = Lanes::default();
        let stepped = self.machine.step(&mut lanes, from, change, self.limits);
        let unknown = lanes.met.iter().fold(stepped.unsettled, |all, (_, runs)| all | runs);
        (stepped.point, unknown)
    }

    pub(crate) fn shows(&self, point: &Point<u64>, name: &str) -> Shows {
        let (driven, high) = self.machine.shown(point, self.port(name));
        let role = self.sheet.pin_named(name).map(|p| p.role);
        let open_collector =
            matches!(role, Some(PinRole::Output(Stage::OpenCollector) | PinRole::InOut(Stage::OpenCollector)));
        Shows { driven, high, open_collector }
    }
}

/// The logic of a part of the drawer.
pub(crate) fn logic_of(part: &str) -> Circuit {
    let found = ttl().find(part).unwrap_or_else(|e| panic!("{part}: {e}"));
    let logic = found.kind.logic().unwrap_or_else(|| panic!("{part} has no logic"));
    Circuit::clone(logic)
}

/// All combinations of `bits` bits, 64 a batch; a sample of them if there are too many. Bit `i` of a combination is the
/// word `i` of its batch.
pub(crate) struct Combinations {
    bits: usize,
    next: u64,
    batches: u64,
    sampled: bool,
    seed: u64,
}

const MOST_BITS: usize = 16;

impl Combinations {
    pub(crate) fn of(bits: usize) -> Self {
        let sampled = bits > MOST_BITS;
        let batches = if sampled { 512 } else { 1 << bits.saturating_sub(6) };
        Combinations { bits, next: 0, batches, sampled, seed: 0x9E37_79B9_7F4A_7C15 }
    }

    /// How many different combinations each run of [`Iterator::next`] goes through.
    pub(crate) fn total(&self) -> u64 {
        if self.sampled { self.batches * 64 } else { 1 << self.bits }
    }
}

impl Iterator for Combinations {
    type Item = Vec<u64>;

    fn next(&mut self) -> Option<Vec<u64>> {
        const WITHIN: [u64; 6] = [
            0xAAAA_AAAA_AAAA_AAAA,
            0xCCCC_CCCC_CCCC_CCCC,
            0xF0F0_F0F0_F0F0_F0F0,
            0xFF00_FF00_FF00_FF00,
            0xFFFF_0000_FFFF_0000,
            0xFFFF_FFFF_0000_0000,
        ];
        if self.next == self.batches {
            return None;
        }
        let batch = self.next;
        self.next += 1;
        Some(
            (0..self.bits)
                .map(|bit| match (self.sampled, WITHIN.get(bit)) {
                    (true, _) => scrambled(&mut self.seed),
                    (false, Some(&word)) => word,
                    (false, None) => {
                        if batch >> (bit - 6) & 1 == 1 {
                            u64::MAX
                        } else {
                            0
                        }
                    }
                })
                .collect(),
        )
    }
}

/// The next of a fixed row of numbers without a pattern (xorshift; Marsaglia, Journal of Statistical Software 8, 2003).
pub(crate) fn scrambled(seed: &mut u64) -> u64 {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    *seed
}
