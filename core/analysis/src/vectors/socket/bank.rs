//! Sixty-four devices side by side under one vector: the same array with single fuses flipped, or the same device under
//! sixty-four vectors.
//!
//! Pins of a vector may switch in any order and with any delays between them. Ternary analysis (Eichelberger 1965)
//! covers all orders at once: what changes is first unknown, and what stays known while it is so can't be touched by an
//! order; then the new levels come in.
use super::array::{Array, Cell, Enable, Signal};
use super::ternary::Ternary;

/// A row with each link in the lanes that have it.
#[derive(Clone, Debug, Default)]
struct LaneRow {
    literals: Vec<(usize, bool, u64)>,
    /// Lanes in which the term is never true: switched off, or two signals linked with their complements.
    never: u64,
}

/// The array of up to sixty-four devices.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Bank {
    pub(in crate::vectors) array: Array,
    rows: Vec<LaneRow>,
    /// For each cell, the rows of its sum that are ever true in some lane.
    live: Vec<Vec<usize>>,
}

/// Where sixty-four devices stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct State {
    pub(in crate::vectors) q: Vec<Ternary>,
    /// The levels at the pins.
    pub(in crate::vectors) pins: Vec<Ternary>,
    /// What the tester drives; unknown where it doesn't.
    pub(in crate::vectors) outside: Vec<Ternary>,
}

impl State {
    /// This lane in all lanes.
    pub(in crate::vectors) fn spread(&self, lane: u32) -> State {
        let spread = |all: &[Ternary]| all.iter().map(|t| t.spread(lane)).collect();
        State { q: spread(&self.q), pins: spread(&self.pins), outside: spread(&self.outside) }
    }

    /// `self` in these lanes, `other` in the rest.
    pub(in crate::vectors) fn in_lanes(&self, lanes: u64, other: &State) -> State {
        let mix = |a: &[Ternary], b: &[Ternary]| a.iter().zip(b).map(|(a, b)| a.in_lanes(lanes, *b)).collect();
        State {
            q: mix(&self.q, &other.q),
            pins: mix(&self.pins, &other.pins),
            outside: mix(&self.outside, &other.outside),
        }
    }

    /// Takes over one lane of another state.
    pub(in crate::vectors) fn set_lane(&mut self, to: u32, from: &State, lane: u32) {
        let each = |a: &mut [Ternary], b: &[Ternary]| a.iter_mut().zip(b).for_each(|(a, b)| a.set_lane(to, *b, lane));
        each(&mut self.q, &from.q);
        each(&mut self.pins, &from.pins);
        each(&mut self.outside, &from.outside);
    }
}

impl Bank {
    pub(in crate::vectors) fn new(array: Array) -> Bank {
        let row = |row: &super::array::Row| LaneRow {
            literals: row.literals.iter().map(|&(pair, complement)| (pair, complement, u64::MAX)).collect(),
            never: if row.is_off || row.contradictions() > 1 { u64::MAX } else { 0 },
        };
        let rows = array.rows.iter().map(row).collect();
        let mut bank = Bank { live: vec![Vec::new(); array.cells.len()], array, rows };
        bank.close();
        bank
    }

    /// Makes or opens this link in one lane; [`close`](Bank::close) afterwards.
    pub(in crate::vectors) fn flip_link(&mut self, lane: u32, row: usize, pair: usize, complement: bool) {
        let bit = 1u64 << (lane & 63);
        let Some(flipped) = self.array.row(row).map(|r| r.flipped(pair, complement)) else { return };
        let Some(lanes) = self.rows.get_mut(row) else { return };
        match lanes.literals.iter_mut().find(|l| (l.0, l.1) == (pair, complement)) {
            Some(literal) => literal.2 ^= bit,
            None => lanes.literals.push((pair, complement, bit)),
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
    }

    /// Nothing is known: power has just come on.
    pub(in crate::vectors) fn power_up(&self) -> State {
        let unknown = |n| vec![Ternary::UNKNOWN; n];
        State { q: unknown(self.array.cells.len()), pins: unknown(self.array.pins), outside: unknown(self.array.pins) }
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
        self.term_without(s, row, None)
    }

    /// The term in this row without one of its literals.
    pub(in crate::vectors) fn term_without(&self, s: &State, row: usize, but: Option<(usize, bool)>) -> Ternary {
        let Some(row) = self.rows.get(row).filter(|r| r.never != u64::MAX) else { return Ternary::LOW };
        let mut product = Ternary { can_low: row.never, can_high: !row.never };
        for &(pair, complement, lanes) in row.literals.iter().filter(|l| Some((l.0, l.1)) != but) {
            let level = self.signal(s, pair).not_if(complement);
            product.can_low |= level.can_low & lanes;
            product.can_high &= level.can_high | !lanes;
        }
        product
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
        self.live_rows(cell).iter().fold(Ternary::LOW, |sum, &row| sum.or(self.term(s, row)))
    }

    /// What a register would load.
    fn data(&self, s: &State, index: usize, cell: &Cell) -> Ternary {
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

    /// One round over all cells; `grow` keeps what was possible before. Returns whether anything changed.
    fn round(&self, s: &mut State, driven: &[u64], grow: bool, edges: u64, enabled: &mut [u64]) -> bool {
        let mut changed = false;
        for (index, cell) in self.array.cells.iter().enumerate() {
            if cell.is_register {
                let held = s.q.get(index).copied().unwrap_or(Ternary::UNKNOWN);
                let reset = self.reset(s);
                let mut q = held;
                if edges != 0 {
                    q = q.join(self.data(s, index, cell)).in_lanes(edges, q);
                }
                q.can_low |= reset.can_high;
                if !grow {
                    q = Ternary::LOW.in_lanes(reset.is_high(), q);
                }
                changed |= q != held;
                if let Some(to) = s.q.get_mut(index) {
                    *to = q;
                }
            }
            let enable = self.enable(s, cell);
            let shown = self.shown(s, index, cell);
            let outside = s.outside.get(cell.pin).copied().unwrap_or(Ternary::UNKNOWN);
            let driven = driven.get(cell.pin).copied().unwrap_or(0);
            if let Some(seen) = enabled.get_mut(index) {
                *seen |= enable.can_high;
            }
            let open = enable.can_low | driven;
            let mut level = Ternary {
                can_low: (shown.can_low & enable.can_high) | (outside.can_low & open),
                can_high: (shown.can_high & enable.can_high) | (outside.can_high & open),
            };
            let before = s.pins.get(cell.pin).copied().unwrap_or(Ternary::UNKNOWN);
            if grow {
                level = level.join(before);
            }
            changed |= level != before;
            if let Some(to) = s.pins.get_mut(cell.pin) {
                *to = level;
            }
        }
        changed
    }

    /// The tester's levels reach the pins that no cell has.
    fn reach(&self, s: &mut State) {
        for (pin, level) in s.outside.iter().enumerate() {
            if let Some(to) = s.pins.get_mut(pin).filter(|_| !self.array.cells.iter().any(|c| c.pin == pin)) {
                *to = *level;
            }
        }
    }

    /// While something is changing: everything that can come of it, in any order.
    fn grow(&self, s: &mut State, driven: &[u64], edges: u64, enabled: &mut [u64]) {
        self.reach(s);
        // each round makes some level of some lane less known, so there is an end
        while self.round(s, driven, true, edges, enabled) {}
    }

    /// When the change is over: what remains.
    fn shrink(&self, s: &mut State, driven: &[u64], enabled: &mut [u64]) {
        self.reach(s);
        // each round makes more known; the limit is for what can't happen
        let limit = 4 + 4 * (self.array.cells.len() + self.array.pins);
        for _ in 0..limit {
            if !self.round(s, driven, false, 0, enabled) {
                break;
            }
        }
    }

    /// Applies a vector: the levels in any order, then the clock pulse. Returns the lanes in which each cell's driver may
    /// have been on at any moment of it, the one before it included.
    pub(in crate::vectors) fn apply(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) -> Vec<u64> {
        let known = |all: &[Ternary]| all.iter().map(|t| t.is_known()).collect::<Vec<_>>();
        let (driven, now) = (known(&s.outside), known(outside));
        self.change(s, outside, pulse, driven, now)
    }

    /// The same on a board, where whatever else is on a pin gives way to the device.
    pub(in crate::vectors) fn apply_on_board(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) {
        let nothing = vec![0; outside.len()];
        self.change(s, outside, pulse, nothing.clone(), nothing);
    }

    /// What pins show on a board at rest, with the levels that stand in `s`; `held` cells keep what they have for so long
    /// as it takes the others to follow.
    pub(in crate::vectors) fn settle_on_board(&self, s: &mut State, held: &[usize]) {
        let nothing = vec![0; self.array.pins];
        let mut enabled = vec![0; self.array.cells.len()];
        self.reach(s);
        let pin = |cell: &usize| self.array.cells.get(*cell).map(|c| c.pin);
        let kept: Vec<(usize, Ternary)> =
            held.iter().filter_map(pin).filter_map(|pin| Some((pin, *s.pins.get(pin)?))).collect();
        for _ in 0..=self.array.cells.len() {
            self.round(s, &nothing, false, 0, &mut enabled);
            for &(pin, level) in &kept {
                if let Some(to) = s.pins.get_mut(pin) {
                    *to = level;
                }
            }
        }
        self.shrink(s, &nothing, &mut enabled);
    }

    /// The same on a board, all at once: a change that a loop could take either way is taken as settling takes it.
    pub(in crate::vectors) fn apply_at_once(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) {
        let nothing = vec![0; outside.len()];
        let mut enabled = vec![0; self.array.cells.len()];
        s.outside.copy_from_slice(outside);
        self.shrink(s, &nothing, &mut enabled);
        let Some(pin) = pulse else { return };
        let stood: Vec<Ternary> = self.array.cells.iter().enumerate().map(|(i, c)| self.data(s, i, c)).collect();
        set(s, pin, u64::MAX, Ternary::HIGH);
        if self.array.clock == Some(pin) {
            let resets = self.reset(s).can_high;
            for (q, stood) in s.q.iter_mut().zip(stood) {
                *q = q.in_lanes(resets, stood);
            }
        }
        self.shrink(s, &nothing, &mut enabled);
        set(s, pin, u64::MAX, Ternary::LOW);
        self.shrink(s, &nothing, &mut enabled);
    }

    fn change(
        &self,
        s: &mut State,
        outside: &[Ternary],
        pulse: Option<usize>,
        mut driven: Vec<u64>,
        now: Vec<u64>,
    ) -> Vec<u64> {
        let mut enabled: Vec<u64> = self.array.cells.iter().map(|c| self.enable(s, c).can_high).collect();
        driven.iter_mut().zip(&now).for_each(|(d, n)| *d |= n);
        // a rise of the clock as the only change of a vector is as good as a pulse
        let mut others = 0;
        let mut rise = 0;
        let mut edges = 0;
        for (pin, (old, new)) in s.outside.iter().zip(outside).enumerate() {
            if Some(pin) == self.array.clock {
                rise = old.is_low() & new.is_high();
                edges = old.can_low & new.can_high & old.differs(*new);
            } else {
                others |= old.differs(*new);
            }
        }
        let alone = rise & !others;
        let target: Vec<Ternary> = (outside.iter().zip(&s.outside).enumerate())
            .map(|(pin, (new, old))| if Some(pin) == self.array.clock { old.in_lanes(alone, *new) } else { *new })
            .collect();
        if s.outside != target {
            s.outside.iter_mut().zip(&target).for_each(|(o, t)| *o = o.join(*t));
            self.grow(s, &driven, edges & !alone, &mut enabled);
            s.outside.copy_from_slice(&target);
            self.shrink(s, &now, &mut enabled);
        }
        match (pulse, self.array.clock) {
            (Some(pin), _) => {
                self.rise(s, pin, u64::MAX, &now, &mut enabled);
                self.fall(s, pin, &now, &mut enabled);
            }
            (None, Some(clock)) if alone != 0 => self.rise(s, clock, alone, &now, &mut enabled),
            (None, _) => {}
        }
        enabled
    }

    /// A pin rises and nothing else does; the registers take it as an edge if it is their clock, and load what stood
    /// before it: their hold time is 0 (sheets of all devices here), and what follows the clock comes later than that.
    fn rise(&self, s: &mut State, pin: usize, lanes: u64, driven: &[u64], enabled: &mut [u64]) {
        let certain = s.outside.get(pin).map_or(0, |c| c.is_low());
        let stood: Vec<Ternary> = self.array.cells.iter().enumerate().map(|(i, c)| self.data(s, i, c)).collect();
        set(s, pin, lanes, Ternary::UNKNOWN);
        self.grow(s, driven, 0, enabled);
        if self.array.clock == Some(pin) {
            let reset = self.reset(s);
            let mut loaded = s.q.clone();
            for (index, _) in self.array.cells.iter().enumerate().filter(|(_, c)| c.is_register) {
                let data = stood.get(index).copied().unwrap_or(Ternary::UNKNOWN);
                let held = s.q.get(index).copied().unwrap_or(Ternary::UNKNOWN);
                let mut next = Ternary::LOW.in_lanes(reset.is_high(), data);
                next.can_low |= reset.can_high;
                next = next.in_lanes(certain, next.join(held)).in_lanes(lanes, held);
                if let Some(to) = loaded.get_mut(index) {
                    *to = next;
                }
            }
            s.q.iter_mut().zip(&loaded).for_each(|(q, l)| *q = q.join(*l));
            self.grow(s, driven, 0, enabled);
            let reset = self.reset(s);
            for (q, next) in s.q.iter_mut().zip(loaded) {
                *q = Ternary { can_low: next.can_low | reset.can_high, can_high: next.can_high };
            }
        }
        set(s, pin, lanes, Ternary::HIGH);
        self.shrink(s, driven, enabled);
    }

    fn fall(&self, s: &mut State, pin: usize, driven: &[u64], enabled: &mut [u64]) {
        set(s, pin, u64::MAX, Ternary::UNKNOWN);
        self.grow(s, driven, 0, enabled);
        set(s, pin, u64::MAX, Ternary::LOW);
        self.shrink(s, driven, enabled);
    }
}

fn set(s: &mut State, pin: usize, lanes: u64, level: Ternary) {
    if let Some(outside) = s.outside.get_mut(pin) {
        *outside = level.in_lanes(lanes, *outside);
    }
}
