//! Sixty-four devices side by side: the same array with single fuses flipped, or the same device in sixty-four states; what its
//! terms and cells make of a state.
use std::rc::Rc;

use super::array::{Array, Cell, Enable, Row, Signal};
use super::ternary::Ternary;

/// A row with each link in the lanes that have it.
#[derive(Clone, Debug, Default)]
struct LaneRow {
    literals: Vec<Literal>,
    /// Lanes in which the term is never true: switched off, or two signals linked with their complements.
    never: u64,
}

impl LaneRow {
    /// The product of these of its links.
    fn product<'l>(&self, s: &State, literals: impl Iterator<Item = &'l Literal>) -> Ternary {
        let mut product = Ternary { can_low: self.never, can_high: !self.never };
        for literal in literals {
            if product.can_high == 0 {
                // low in every lane, whatever else is in it
                break;
            }
            let level = literal.level(s);
            product.can_low |= level.can_low & literal.lanes;
            product.can_high &= level.can_high | !literal.lanes;
        }
        product
    }
}

/// A link of a row.
#[derive(Clone, Copy, Debug)]
struct Literal {
    pair: usize,
    complement: bool,
    /// The lanes that have it.
    lanes: u64,
    /// Where its level stands: among the registers or among the pins, at this place, and whether it is the other level.
    is_register: bool,
    at: usize,
    inverts: bool,
}

impl Literal {
    fn new(array: &Array, pair: usize, complement: bool, lanes: u64) -> Literal {
        let (is_register, at) = match array.signals.get(pair) {
            Some(&Signal::NotQ(cell)) => (true, cell),
            Some(&Signal::Pin(pin)) => (false, pin),
            None => (false, usize::MAX),
        };
        Literal { pair, complement, lanes, is_register, at, inverts: complement != is_register }
    }

    fn level(&self, s: &State) -> Ternary {
        let of = if self.is_register { &s.q } else { &s.pins };
        of.get(self.at).copied().unwrap_or(Ternary::UNKNOWN).not_if(self.inverts)
    }
}

/// The array of up to sixty-four devices.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Bank {
    pub(in crate::vectors) array: Array,
    rows: Vec<LaneRow>,
    /// For each cell, the rows of its sum that are ever true in some lane.
    live: Vec<Vec<usize>>,
    /// Who reads what.
    pub(super) readers: Readers,
}

/// Cells as bits of a word, by their place; of a device with more than these, all are looked at each time.
pub(super) const MOST_CELLS: usize = 64;

/// The cells to look at again when something changes.
#[derive(Clone, Debug, Default)]
pub(super) struct Readers {
    /// For each pin, those whose terms or enable read it.
    pub(super) of_pin: Vec<u64>,
    /// For each cell, those whose terms read its register.
    pub(super) of_register: Vec<u64>,
    /// For each pin, the cell that it belongs to.
    pub(super) at_pin: Vec<u64>,
    /// Pins that belong to no cell.
    pub(super) bare: Vec<usize>,
    pub(super) registers: u64,
}

/// The bit of a cell.
pub(super) fn bit(cell: usize) -> u64 {
    1 << (cell % MOST_CELLS)
}

/// Where sixty-four devices stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct State {
    pub(in crate::vectors) q: Vec<Ternary>,
    /// The levels at the pins.
    pub(in crate::vectors) pins: Vec<Ternary>,
    /// What the tester drives; unknown where it doesn't.
    pub(in crate::vectors) outside: Vec<Ternary>,
    /// Whether it came to rest: what nothing changed need not be looked at again.
    pub(in crate::vectors) at_rest: bool,
}

impl State {
    /// This lane in all lanes.
    pub(in crate::vectors) fn spread(&self, lane: u32) -> State {
        let spread = |all: &[Ternary]| all.iter().map(|t| t.spread(lane)).collect();
        State { q: spread(&self.q), pins: spread(&self.pins), outside: spread(&self.outside), at_rest: self.at_rest }
    }

    /// `self` in these lanes, `other` in the rest.
    pub(in crate::vectors) fn in_lanes(&self, lanes: u64, other: &State) -> State {
        let mix = |a: &[Ternary], b: &[Ternary]| a.iter().zip(b).map(|(a, b)| a.in_lanes(lanes, *b)).collect();
        State {
            q: mix(&self.q, &other.q),
            pins: mix(&self.pins, &other.pins),
            outside: mix(&self.outside, &other.outside),
            at_rest: self.at_rest && other.at_rest,
        }
    }

    /// Whether both are the same in these lanes.
    pub(in crate::vectors) fn is_like(&self, other: &State, lanes: u64) -> bool {
        let alike = |a: &[Ternary], b: &[Ternary]| a.iter().zip(b).all(|(a, b)| a.differs(*b) & lanes == 0);
        self.at_rest == other.at_rest
            && alike(&self.q, &other.q)
            && alike(&self.pins, &other.pins)
            && alike(&self.outside, &other.outside)
    }

    /// Takes over one lane of another state.
    pub(in crate::vectors) fn set_lane(&mut self, to: u32, from: &State, lane: u32) {
        let each = |a: &mut [Ternary], b: &[Ternary]| a.iter_mut().zip(b).for_each(|(a, b)| a.set_lane(to, *b, lane));
        each(&mut self.q, &from.q);
        each(&mut self.pins, &from.pins);
        each(&mut self.outside, &from.outside);
        self.at_rest &= from.at_rest;
    }
}

impl Bank {
    pub(in crate::vectors) fn new(array: Array) -> Bank {
        let row = |row: &Rc<Row>| {
            // what no single fuse makes true need not be known
            let may_be = row.contradictions() <= 2;
            let literals = row.literals.iter().filter(|_| may_be);
            LaneRow {
                literals: literals.map(|&(pair, no)| Literal::new(&array, pair, no, u64::MAX)).collect(),
                never: if row.is_off || row.contradictions() > 1 { u64::MAX } else { 0 },
            }
        };
        let rows = array.rows.iter().map(row).collect();
        let mut bank = Bank { live: vec![Vec::new(); array.cells.len()], array, rows, readers: Readers::default() };
        bank.close();
        bank
    }

    /// Makes or opens this link in one lane; [`close`](Bank::close) afterwards.
    pub(in crate::vectors) fn flip_link(&mut self, lane: u32, row: usize, pair: usize, complement: bool) {
        let bit = 1u64 << (lane & 63);
        let Some(flipped) = self.array.row(row).map(|r| r.flipped(pair, complement)) else { return };
        let Some(lanes) = self.rows.get_mut(row) else { return };
        match lanes.literals.iter_mut().find(|l| (l.pair, l.complement) == (pair, complement)) {
            Some(literal) => literal.lanes ^= bit,
            None => lanes.literals.push(Literal::new(&self.array, pair, complement, bit)),
        }
        let never = flipped.is_off || flipped.contradictions() > 1;
        lanes.never = (lanes.never & !bit) | if never { bit } else { 0 };
    }

    /// Switches this term off in one lane, or on; [`close`](Bank::close) afterwards.
    pub(in crate::vectors) fn flip_term(&mut self, lane: u32, row: usize) {
        let bit = 1u64 << (lane & 63);
        let Some(contradicts) = self.array.row(row).map(|r| (r.is_off, r.contradictions() > 1)) else { return };
        let Some(lanes) = self.rows.get_mut(row) else { return };
        let never = !contradicts.0 || contradicts.1;
        lanes.never = (lanes.never & !bit) | if never { bit } else { 0 };
    }

    /// Finds out which rows are worth looking at.
    pub(in crate::vectors) fn close(&mut self) {
        let rows = &self.rows;
        let alive = |r: &usize| rows.get(*r).is_some_and(|row| row.never != u64::MAX);
        self.live = self.array.cells.iter().map(|c| c.rows.iter().copied().filter(alive).collect()).collect();
        self.readers = self.readers();
    }

    fn readers(&self) -> Readers {
        let (pins, cells) = (self.array.pins, self.array.cells.len());
        let mut readers = Readers { of_pin: vec![0; pins], of_register: vec![0; cells], ..Readers::default() };
        readers.at_pin = vec![0; pins];
        for (index, cell) in self.array.cells.iter().enumerate() {
            let enable = match cell.enable {
                Enable::Row(row) => Some(row),
                _ => None,
            };
            let common = if cell.is_register { [self.array.reset, self.array.preset] } else { [None, None] };
            let rows = self.live_rows(index).iter().copied().chain(enable).chain(common.into_iter().flatten());
            let literals = rows.filter_map(|row| self.rows.get(row)).flat_map(|row| &row.literals);
            for literal in literals {
                let of = if literal.is_register { &mut readers.of_register } else { &mut readers.of_pin };
                let reads = of.get_mut(literal.at);
                reads.into_iter().for_each(|cells| *cells |= bit(index));
            }
            if let Enable::PinLow(pin) = cell.enable {
                readers.of_pin.get_mut(pin).into_iter().for_each(|cells| *cells |= bit(index));
            }
            readers.at_pin.get_mut(cell.pin).into_iter().for_each(|cells| *cells |= bit(index));
            readers.registers |= if cell.is_register { bit(index) } else { 0 };
        }
        readers.bare = (0..pins).filter(|&pin| !self.array.cells.iter().any(|c| c.pin == pin)).collect();
        readers
    }

    /// Nothing is known: power has just come on.
    pub(in crate::vectors) fn power_up(&self) -> State {
        let unknown = |n| vec![Ternary::UNKNOWN; n];
        State {
            q: unknown(self.array.cells.len()),
            pins: unknown(self.array.pins),
            outside: unknown(self.array.pins),
            at_rest: false,
        }
    }

    pub(in crate::vectors) fn signal(&self, s: &State, pair: usize) -> Ternary {
        let value = match self.array.signals.get(pair) {
            Some(&Signal::Pin(pin)) => s.pins.get(pin).copied(),
            Some(&Signal::NotQ(cell)) => s.q.get(cell).map(|q| q.not()),
            None => None,
        };
        value.unwrap_or(Ternary::UNKNOWN)
    }

    /// The term in this row.
    pub(in crate::vectors) fn term(&self, s: &State, row: usize) -> Ternary {
        self.rows.get(row).map_or(Ternary::LOW, |row| row.product(s, row.literals.iter()))
    }

    /// The term in this row without one of its literals.
    pub(in crate::vectors) fn term_without(&self, s: &State, row: usize, but: (usize, bool)) -> Ternary {
        let product = |row: &LaneRow| row.product(s, row.literals.iter().filter(|l| (l.pair, l.complement) != but));
        self.rows.get(row).map_or(Ternary::LOW, product)
    }

    /// The term that these literals make.
    pub(in crate::vectors) fn product(&self, s: &State, literals: &[(usize, bool)]) -> Ternary {
        literals.iter().fold(Ternary::HIGH, |product, &(pair, complement)| {
            let level = self.signal(s, pair).not_if(complement);
            Ternary { can_low: product.can_low | level.can_low, can_high: product.can_high & level.can_high }
        })
    }

    /// The rows of a cell's sum that are ever true.
    pub(in crate::vectors) fn live_rows(&self, cell: usize) -> &[usize] {
        self.live.get(cell).map_or(&[], Vec::as_slice)
    }

    fn sum(&self, s: &State, cell: usize) -> Ternary {
        let mut sum = Ternary::LOW;
        for &row in self.live_rows(cell) {
            sum = sum.or(self.term(s, row));
            if sum.can_low == 0 {
                // high in every lane, whatever else is in it
                break;
            }
        }
        sum
    }

    /// What a register would load.
    pub(super) fn data(&self, s: &State, index: usize, cell: &Cell) -> Ternary {
        let preset = self.array.preset.map_or(Ternary::LOW, |row| self.term(s, row));
        self.sum(s, index).not_if(cell.inverts_sum).or(preset)
    }

    /// Whether the registers are being reset.
    pub(in crate::vectors) fn reset(&self, s: &State) -> Ternary {
        self.array.reset.map_or(Ternary::LOW, |row| self.term(s, row))
    }

    /// Whether a cell drives its pin.
    pub(in crate::vectors) fn enable(&self, s: &State, cell: &Cell) -> Ternary {
        match cell.enable {
            Enable::Row(row) => self.term(s, row),
            Enable::PinLow(pin) => s.pins.get(pin).map_or(Ternary::UNKNOWN, |p| p.not()),
            Enable::Always => Ternary::HIGH,
            Enable::Never => Ternary::LOW,
        }
    }

    /// What a cell shows at its pin while it drives it.
    pub(in crate::vectors) fn shown(&self, s: &State, index: usize, cell: &Cell) -> Ternary {
        if cell.is_register {
            s.q.get(index).map_or(Ternary::UNKNOWN, |q| q.not_if(cell.inverts_q))
        } else {
            self.sum(s, index).not_if(cell.inverts_sum)
        }
    }
}
