//! A device as its fuses set it up: product terms by row, so that a single fuse can be found again in what it does.
use std::collections::BTreeSet;
use std::rc::Rc;

use gluewright_devices::cover::{Cover, Cube};
use gluewright_devices::device::{Device, DeviceError, EnableSource, Feedback, Function, Inverter, PinNumber, Source};
use gluewright_devices::fusefile::Fuses;
use gluewright_kernel::graph::Graph;

/// What a pair of columns carries. Pins are counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::vectors) enum Signal {
    Pin(usize),
    /// The complement of this cell's register.
    NotQ(usize),
}

/// A row of the array: a product term.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Row {
    /// Pairs of columns that are linked, each with whether the complement is.
    pub(in crate::vectors) literals: Vec<(usize, bool)>,
    /// Its own fuse switches it off.
    pub(in crate::vectors) is_off: bool,
    cube: Option<Cube>,
    contradictions: u32,
}

impl Row {
    pub(in crate::vectors) fn new(literals: Vec<(usize, bool)>, is_off: bool) -> Row {
        let mask = |of: bool| literals.iter().filter(|l| l.1 == of).fold(0, |m, l| m | 1u64 << (l.0 & 63));
        let (high, low) = (mask(false), mask(true));
        let cube = if is_off { None } else { Cube::new(high, low) };
        Row { literals, is_off, cube, contradictions: (high & low).count_ones() }
    }

    /// The term as a cube over the pairs; `None` if it is never true.
    pub(in crate::vectors) fn cube(&self) -> Option<Cube> {
        self.cube
    }

    /// How many signals are linked together with their complement.
    pub(in crate::vectors) fn contradictions(&self) -> u32 {
        self.contradictions
    }

    /// The row with this link made or opened.
    pub(in crate::vectors) fn flipped(&self, pair: usize, complement: bool) -> Row {
        let mut literals = self.literals.clone();
        match literals.iter().position(|&l| l == (pair, complement)) {
            Some(at) => drop(literals.remove(at)),
            None => literals.push((pair, complement)),
        }
        Row::new(literals, self.is_off)
    }

    /// The row switched off, or on again.
    pub(in crate::vectors) fn switched(&self) -> Row {
        Row::new(self.literals.clone(), !self.is_off)
    }
}

/// What turns a cell's driver on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::vectors) enum Enable {
    Row(usize),
    PinLow(usize),
    Always,
    Never,
}

/// A macrocell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Cell {
    pub(in crate::vectors) pin: usize,
    pub(in crate::vectors) is_register: bool,
    /// The rows whose terms are summed.
    pub(in crate::vectors) rows: Vec<usize>,
    /// The register takes, or the combinational pin shows, the complement of the sum.
    pub(in crate::vectors) inverts_sum: bool,
    /// The pin shows the complement of the register.
    pub(in crate::vectors) inverts_q: bool,
    pub(in crate::vectors) enable: Enable,
}

/// The whole device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Array {
    pub(in crate::vectors) pins: usize,
    pub(in crate::vectors) signals: Vec<Signal>,
    /// Arrays that differ in a fuse have all others in common.
    pub(in crate::vectors) rows: Vec<Rc<Row>>,
    pub(in crate::vectors) cells: Vec<Cell>,
    pub(in crate::vectors) clock: Option<usize>,
    pub(in crate::vectors) reset: Option<usize>,
    pub(in crate::vectors) preset: Option<usize>,
}

/// A signal by its pin, in an order: whether it is a register, and the pin.
type Name = (bool, usize);

/// What can be seen of a cell, in a form that two cells which do the same by their structure share.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::vectors) struct Seen {
    pin: usize,
    is_register: bool,
    inverts_sum: bool,
    inverts_q: bool,
    /// Always or never, if that is so.
    enabled: Option<bool>,
    /// Enable, reset and preset, by name.
    others: BTreeSet<(&'static str, Vec<(Name, bool)>)>,
    terms: BTreeSet<Vec<(Name, bool)>>,
}

fn index(pin: PinNumber) -> usize {
    usize::from(pin).saturating_sub(1)
}

impl Array {
    /// The device with this fuse map.
    ///
    /// # Errors
    /// As [`Device::lift`].
    pub(in crate::vectors) fn new(device: &Device, fuses: &Fuses) -> Result<Array, DeviceError> {
        device.check(fuses)?;
        let (_, mode) = device.mode_of(fuses)?;
        let mut cells = Vec::with_capacity(mode.macrocells.len());
        let mut inverted_feedback = Vec::new();
        for macrocell in &mode.macrocells {
            let configuration = device.configuration_of(mode, macrocell, fuses)?;
            let shows_complement = macrocell.polarity.is_none_or(|fuse| fuses.get(fuse) == Some(false));
            let is_register = configuration.function == Function::Registered;
            let (inverts_sum, inverts_q) = match (is_register, device.inverter) {
                (false, _) => (shows_complement, false),
                (true, Inverter::AfterRegister) => (false, shows_complement),
                (true, Inverter::BeforeRegister) => (!shows_complement, true),
            };
            if is_register && configuration.feedback == Feedback::InvertedQ {
                inverted_feedback.push((macrocell.pin, cells.len()));
            }
            cells.push(Cell {
                pin: index(macrocell.pin),
                is_register,
                rows: configuration.rows.clone().collect(),
                inverts_sum,
                inverts_q,
                enable: match configuration.enable {
                    EnableSource::Row(row) => Enable::Row(row),
                    EnableSource::Pin(pin) => Enable::PinLow(index(pin)),
                    EnableSource::Always => Enable::Always,
                    EnableSource::Never => Enable::Never,
                },
            });
        }
        let signal = |source: &Source| match source {
            Source::Pin(pin) => Signal::Pin(index(*pin)),
            Source::Feedback(pin) => inverted_feedback
                .iter()
                .find(|(p, _)| p == pin)
                .map_or(Signal::Pin(index(*pin)), |&(_, cell)| Signal::NotQ(cell)),
        };
        let signals: Vec<Signal> = mode.columns.iter().map(signal).collect();
        let row = |row: usize| {
            let linked = (0..signals.len() * 2).filter(|&c| fuses.get(device.array_fuse(row, c)) == Some(false));
            let is_off = device.term_enables.is_some_and(|first| fuses.get(first + row) == Some(false));
            Rc::new(Row::new(linked.map(|column| (column / 2, column % 2 == 1)).collect(), is_off))
        };
        Ok(Array {
            pins: device.pins.len(),
            rows: (0..device.rows).map(row).collect(),
            signals,
            clock: mode.clock.map(index).filter(|_| cells.iter().any(|c| c.is_register)),
            cells,
            reset: mode.reset,
            preset: mode.preset,
        })
    }

    pub(in crate::vectors) fn row(&self, row: usize) -> Option<&Row> {
        self.rows.get(row).map(Rc::as_ref)
    }

    pub(in crate::vectors) fn cube(&self, row: usize) -> Option<Cube> {
        self.row(row).and_then(Row::cube)
    }

    /// The sum of these rows but one, with another term instead.
    pub(in crate::vectors) fn sum(&self, rows: &[usize], but: usize, term: Option<Cube>) -> Option<Cover> {
        let others = rows.iter().filter(|&&r| r != but).filter_map(|&r| self.cube(r));
        Cover::new(self.signals.len() as u32, others.chain(term).collect()).ok()
    }

    pub(in crate::vectors) fn has_registers(&self) -> bool {
        self.clock.is_some()
    }

    /// Whether a cell ever drives its pin.
    pub(in crate::vectors) fn ever_drives(&self, cell: &Cell) -> bool {
        match cell.enable {
            Enable::Row(row) => self.cube(row).is_some(),
            Enable::PinLow(_) | Enable::Always => true,
            Enable::Never => false,
        }
    }

    /// The cells that these rows read.
    pub(in crate::vectors) fn cells_read(&self, rows: impl Iterator<Item = usize>) -> BTreeSet<usize> {
        let mut read = BTreeSet::new();
        for row in rows.filter(|&r| self.cube(r).is_some()).filter_map(|r| self.row(r)) {
            for &(pair, _) in &row.literals {
                match self.signals.get(pair) {
                    Some(Signal::NotQ(cell)) => drop(read.insert(*cell)),
                    Some(Signal::Pin(pin)) => {
                        read.extend(self.cells.iter().position(|c| c.pin == *pin && self.ever_drives(c)));
                    }
                    None => {}
                }
            }
        }
        read
    }

    /// Whether anything in use reads this pin.
    pub(in crate::vectors) fn reads(&self, pin: usize) -> bool {
        let reads = |row: usize| {
            let linked = |&(pair, _): &(usize, bool)| self.signals.get(pair) == Some(&Signal::Pin(pin));
            self.cube(row).is_some() && self.row(row).is_some_and(|r| r.literals.iter().any(linked))
        };
        let enabled = |c: &Cell| c.enable == Enable::PinLow(pin);
        self.cells.iter().any(|c| enabled(c) || self.rows_of(c).into_iter().any(reads))
    }

    /// The rows that decide what a cell does, those common to all registers included.
    pub(in crate::vectors) fn rows_of(&self, cell: &Cell) -> Vec<usize> {
        let enable = match cell.enable {
            Enable::Row(row) => Some(row),
            _ => None,
        };
        let common = if cell.is_register { [self.reset, self.preset] } else { [None, None] };
        cell.rows.iter().copied().chain(enable).chain(common.into_iter().flatten()).collect()
    }

    /// For each cell, whether what it does can ever be seen at a pin.
    pub(in crate::vectors) fn observed(&self) -> Vec<bool> {
        let read = |c: &Cell| self.cells_read(self.rows_of(c).into_iter()).into_iter().collect::<Vec<_>>();
        let driven = (0..self.cells.len()).filter(|&c| self.cells.get(c).is_some_and(|c| self.ever_drives(c)));
        Graph::new(self.cells.iter().map(read)).reachable(driven)
    }

    /// What can be seen of the device.
    pub(in crate::vectors) fn essence(&self) -> Vec<Seen> {
        let name = |pair: usize| match self.signals.get(pair) {
            Some(Signal::Pin(pin)) => (false, *pin),
            Some(Signal::NotQ(cell)) => (true, self.cells.get(*cell).map_or(usize::MAX, |c| c.pin)),
            None => (false, usize::MAX),
        };
        let term = |row: usize| {
            self.cube(row)?;
            let mut all: Vec<_> = self.row(row)?.literals.iter().map(|&(pair, no)| (name(pair), no)).collect();
            all.sort_unstable();
            Some(all)
        };
        let mut essence = Vec::new();
        for (cell, _) in self.cells.iter().zip(self.observed()).filter(|(_, seen)| *seen) {
            let common = if cell.is_register { [self.reset, self.preset] } else { [None, None] };
            let named = ["reset", "preset"].into_iter().zip(common);
            let mut others: BTreeSet<_> = named.filter_map(|(n, row)| Some((n, term(row?)?))).collect();
            let enabled = match cell.enable {
                Enable::Always => Some(true),
                Enable::Never => Some(false),
                Enable::PinLow(pin) => {
                    others.insert(("enable", vec![((false, pin), true)]));
                    None
                }
                Enable::Row(row) => match term(row) {
                    None => Some(false),
                    Some(term) if term.is_empty() => Some(true),
                    Some(term) => {
                        others.insert(("enable", term));
                        None
                    }
                },
            };
            let terms = cell.rows.iter().filter_map(|&r| term(r)).collect();
            essence.push(Seen {
                pin: cell.pin,
                is_register: cell.is_register,
                inverts_sum: cell.inverts_sum,
                // the feedback comes from the register, whatever its pin would show
                inverts_q: cell.inverts_q && enabled != Some(false),
                enabled,
                others,
                terms,
            });
        }
        essence.sort();
        essence
    }

    /// For each cell, whether it can reach itself through combinational cells.
    pub(in crate::vectors) fn looped(&self) -> Vec<bool> {
        let reads: Vec<BTreeSet<usize>> = self
            .cells
            .iter()
            .map(|cell| {
                let own = if cell.is_register { &[] } else { cell.rows.as_slice() };
                let enable = match cell.enable {
                    Enable::Row(row) => Some(row),
                    _ => None,
                };
                self.cells_read(own.iter().copied().chain(enable))
            })
            .collect();
        let combinational = |c: usize| self.cells.get(c).is_some_and(|c| !c.is_register);
        let at_once = |c: usize| reads.get(c).into_iter().flatten().copied().filter(move |_| combinational(c));
        let cycles = Graph::new((0..self.cells.len()).map(at_once)).cycles();
        let looped: BTreeSet<usize> = cycles.into_iter().flatten().collect();
        (0..self.cells.len()).map(|c| looped.contains(&c)).collect()
    }

    /// For each pin, whether what happens on it takes effect at once and is remembered: it reaches a reset, or a
    /// combinational loop.
    pub(in crate::vectors) fn asynchronous(&self) -> Vec<bool> {
        let mut wanted: Vec<usize> = Vec::new();
        for (cell, _) in self.cells.iter().zip(self.looped()).filter(|(_, looped)| *looped) {
            wanted.extend(self.rows_of(cell));
        }
        if self.has_registers() {
            wanted.extend(self.reset);
        }
        let mut asynchronous = vec![false; self.pins];
        let mut seen = BTreeSet::new();
        while let Some(row) = wanted.pop() {
            if self.cube(row).is_none() || !seen.insert(row) {
                continue;
            }
            for &(pair, _) in self.row(row).into_iter().flat_map(|r| &r.literals) {
                let Some(Signal::Pin(pin)) = self.signals.get(pair) else { continue };
                if let Some(mark) = asynchronous.get_mut(*pin) {
                    *mark = true;
                }
                let cell = self.cells.iter().find(|c| c.pin == *pin && !c.is_register && self.ever_drives(c));
                wanted.extend(cell.into_iter().flat_map(|c| self.rows_of(c)));
            }
        }
        asynchronous
    }
}
