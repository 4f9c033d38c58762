//! The cone of a flip: its fan-out, the cells that it can reach, and their cone of influence, all that these read. The good device and the one with the flip
//! are cut down to them, so that exploring all states stays cheap.
use std::collections::BTreeSet;
use std::rc::Rc;

use crate::vectors::flips::campaign::flipped;
use crate::vectors::flips::flip::Flip;
use crate::vectors::socket::array::{Array, Enable, Row, Signal};
use crate::vectors::socket::bank::{Bank, State};
use crate::vectors::socket::rules::Rules;
use crate::vectors::socket::ternary::Ternary;
use gluewright_kernel::graph::post_order;

/// Both devices, cut down to what bears on a flip.
#[derive(Clone, Debug)]
pub(super) struct Cone {
    pub(super) good: Bank,
    pub(super) bad: Bank,
    /// Whether both devices are the same: then only one is simulated.
    pub(super) alike: bool,
    /// The cells that were kept, by their place in the whole array.
    pub(super) cells: Vec<usize>,
    /// Pins that are read and that a tester can drive, but for the clock.
    pub(super) inputs: Vec<Input>,
    /// The clock's pin, if a register is among the cells or something reads it.
    pub(super) clock: Option<usize>,
    /// Whether a product term reads the clock's level.
    pub(super) reads_clock: bool,
    /// Cells whose pin remembers: combinational ones in a loop, of either device.
    pub(super) loops: Vec<usize>,
    /// The cost of sixty-four vectors: the number of product terms, and a share for the work around them.
    pub(super) cost: usize,
}

/// A pin that can be driven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Input {
    pub(super) pin: usize,
    /// Its changes are remembered at once, so a vector may change only one such pin.
    pub(super) asynchronous: bool,
    /// Where it stands may decide what the next vector may do.
    pub(super) remembered: bool,
    /// The cell that may drive it too, by its place in the cone.
    pub(super) cell: Option<usize>,
}

impl Cone {
    /// What bears on a flip.
    pub(super) fn new(good: &Array, rules: &Rules, flip: &Flip) -> Cone {
        let bad = flipped(good, flip);
        let touched = touched(good, &bad);
        Cone::around(touched, good, &bad, rules)
    }

    /// The whole device, twice.
    pub(super) fn whole(good: &Array, rules: &Rules) -> Cone {
        Cone::around((0..good.cells.len()).collect(), good, good, rules)
    }

    fn around(touched: BTreeSet<usize>, good: &Array, bad: &Array, rules: &Rules) -> Cone {
        let touched = closure(touched, |cell| readers(good, cell).chain(readers(bad, cell)).collect());
        let kept = closure(touched, |cell| {
            let read = |array: &Array| array.cells.get(cell).map(|c| array.cells_read(array.rows_of(c).into_iter()));
            read(good).into_iter().chain(read(bad)).flatten().collect()
        });
        let cells: Vec<usize> = kept.iter().copied().collect();
        let (good, bad) = (only(good, &cells), only(bad, &cells));
        let asynchronous: Vec<bool> =
            good.asynchronous().iter().zip(bad.asynchronous()).map(|(g, b)| *g || b).collect();
        let switches = |array: &Array, pin: usize| {
            array.cells.iter().any(|c| match c.enable {
                Enable::Row(row) => array.row(row).is_some_and(|r| {
                    array.cube(row).is_some()
                        && r.literals.iter().any(|&(pair, _)| array.signals.get(pair) == Some(&Signal::Pin(pin)))
                }),
                Enable::PinLow(p) => p == pin,
                Enable::Always | Enable::Never => false,
            })
        };
        let shared =
            |pin: usize| good.cells.iter().any(|c| c.pin == pin && switched(&good, c.enable) && good.reads(pin));
        let any_shared = (0..good.pins).any(shared);
        let clock = rules
            .clock
            .filter(|&c| good.cells.iter().chain(&bad.cells).any(|c| c.is_register) || good.reads(c) || bad.reads(c));
        let drivable = |pin: &usize| rules.drivable.get(*pin) == Some(&true) && Some(*pin) != rules.clock;
        let inputs = (0..good.pins).filter(drivable).filter(|&pin| good.reads(pin) || bad.reads(pin));
        let inputs = inputs.filter_map(|pin| {
            let cell = good.cells.iter().position(|c| c.pin == pin);
            let free = cell.and_then(|c| good.cells.get(c)).is_none_or(|c| may_be_quiet(&good, c.enable));
            let its = rules.asynchronous.get(pin) == Some(&true);
            let switches = any_shared && (switches(&good, pin) || switches(&bad, pin));
            free.then(|| Input {
                pin,
                asynchronous: its,
                remembered: its || asynchronous.get(pin) == Some(&true) || cell.is_some() || switches,
                cell,
            })
        });
        let inputs: Vec<Input> = inputs.collect();
        let looped = good.looped().into_iter().zip(bad.looped());
        let loops = looped.enumerate().filter(|(_, (g, b))| *g || *b).map(|(c, _)| c).collect();
        let reads_clock = clock.is_some_and(|c| good.reads(c) || bad.reads(c));
        let used = |row: &usize| good.cube(*row).is_some();
        let cost = 16 + good.cells.iter().map(|c| good.rows_of(c).iter().filter(|r| used(r)).count()).sum::<usize>();
        let alike = good == bad;
        Cone { good: Bank::new(good), bad: Bank::new(bad), alike, cells, inputs, clock, reads_clock, loops, cost }
    }

    /// Whether a cell holds a register in one of the two.
    pub(super) fn is_register(&self, cell: usize) -> bool {
        [&self.good, &self.bad].iter().any(|bank| bank.array.cells.get(cell).is_some_and(|c| c.is_register))
    }

    /// What one lane of the whole device's state is for the cone, in all lanes.
    pub(super) fn cut(&self, state: &State) -> State {
        let q = self.cells.iter().map(|&c| state.q.get(c).copied().unwrap_or(Ternary::UNKNOWN)).collect();
        State { q, pins: state.pins.clone(), outside: state.outside.clone(), at_rest: false }
    }
}

/// Whether a driver is on at some times and off at others.
fn switched(array: &Array, enable: Enable) -> bool {
    match enable {
        Enable::Row(row) => array.cube(row).is_some_and(|c| c.literals() > 0),
        Enable::PinLow(_) => true,
        Enable::Always | Enable::Never => false,
    }
}

/// Whether a driver is off at some time.
pub(super) fn may_be_quiet(array: &Array, enable: Enable) -> bool {
    match enable {
        Enable::Row(row) => array.cube(row).is_none_or(|c| c.literals() > 0),
        Enable::PinLow(_) | Enable::Never => true,
        Enable::Always => false,
    }
}

/// The cells that a flip changes directly.
fn touched(good: &Array, bad: &Array) -> BTreeSet<usize> {
    let differs = |row: usize| good.row(row) != bad.row(row);
    let anew = good.cells != bad.cells || good.signals != bad.signals || good.clock != bad.clock;
    let mut touched = BTreeSet::new();
    for (index, (g, b)) in good.cells.iter().zip(&bad.cells).enumerate() {
        if g != b || good.rows_of(g).into_iter().chain(bad.rows_of(b)).any(differs) {
            touched.insert(index);
        }
    }
    if anew && (good.signals != bad.signals || good.clock != bad.clock || good.cells.len() != bad.cells.len()) {
        touched.extend(0..good.cells.len());
    }
    touched
}

/// The cells that read what this cell does.
fn readers(array: &Array, cell: usize) -> impl Iterator<Item = usize> + use<> {
    let reads = |(_, c): &(usize, &crate::vectors::socket::array::Cell)| {
        array.cells_read(array.rows_of(c).into_iter()).contains(&cell)
    };
    let all: Vec<usize> = array.cells.iter().enumerate().filter(reads).map(|(index, _)| index).collect();
    all.into_iter()
}

fn closure(from: BTreeSet<usize>, next: impl Fn(usize) -> Vec<usize>) -> BTreeSet<usize> {
    post_order(from, next).into_iter().collect()
}

/// The array with these cells only, and the rows that they need.
fn only(array: &Array, cells: &[usize]) -> Array {
    let kept: Vec<_> = cells.iter().filter_map(|&c| array.cells.get(c).cloned()).collect();
    let needed: BTreeSet<usize> = kept.iter().flat_map(|c| array.rows_of(c)).collect();
    let nothing = Rc::new(Row::new(Vec::new(), true));
    let row = |(index, row): (usize, &Rc<Row>)| Rc::clone(if needed.contains(&index) { row } else { &nothing });
    let signal = |s: &Signal| match *s {
        Signal::NotQ(cell) => Signal::NotQ(cells.iter().position(|&c| c == cell).unwrap_or(usize::MAX)),
        pin => pin,
    };
    let registers = kept.iter().any(|c| c.is_register);
    Array {
        pins: array.pins,
        signals: array.signals.iter().map(signal).collect(),
        rows: array.rows.iter().enumerate().map(row).collect(),
        clock: array.clock.filter(|_| registers),
        reset: array.reset.filter(|_| registers),
        preset: array.preset.filter(|_| registers),
        cells: kept,
    }
}
