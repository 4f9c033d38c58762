//! What a vector does to a bank of devices.
//!
//! Pins of a vector may switch in any order and with any delays between them. Ternary analysis (Eichelberger 1965)
//! covers all orders at once: what changes is first unknown, and what stays known while it is so can't be touched by an
//! order; then the new levels come in.
//!
//! Of a bank at rest only those cells are looked at that read something that changed.
use super::array::Cell;
use super::bank::{Bank, MOST_CELLS, State, bit};
use super::ternary::Ternary;

/// What a vector changes.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Shift {
    /// Pins with what they are while they change, and then.
    pins: Vec<(usize, Ternary, Ternary)>,
    /// For each pin, the lanes in which the tester drives it before or after.
    driven: Vec<u64>,
    /// The same after.
    now: Vec<u64>,
    /// Lanes in which the clock may see an edge.
    edges: u64,
    /// Lanes in which a rise of the clock is all: that is as good as a pulse.
    alone: u64,
    pulse: Option<usize>,
}

impl Shift {
    /// From these levels outside to those, of a device with this clock.
    pub(in crate::vectors) fn new(
        clock: Option<usize>,
        before: &[Ternary],
        outside: &[Ternary],
        pulse: Option<usize>,
    ) -> Shift {
        let (mut others, mut rise, mut edges) = (0, 0, 0);
        for (pin, (old, new)) in before.iter().zip(outside).enumerate() {
            if Some(pin) == clock {
                rise = old.is_low() & new.is_high();
                edges = old.can_low & new.can_high & old.differs(*new);
            } else {
                others |= old.differs(*new);
            }
        }
        let alone = rise & !others;
        let pins = before.iter().zip(outside).enumerate().filter_map(|(pin, (old, new))| {
            let to = if Some(pin) == clock { old.in_lanes(alone, *new) } else { *new };
            (*old != to).then(|| (pin, old.join(to), to))
        });
        let now: Vec<u64> = outside.iter().map(|t| t.is_known()).collect();
        let driven = before.iter().zip(&now).map(|(old, now)| old.is_known() | now).collect();
        Shift { pins: pins.collect(), driven, now, edges, alone, pulse }
    }
}

/// What is fixed while a change spreads.
#[derive(Clone, Copy)]
struct Way<'a> {
    /// For each pin, the lanes in which the tester drives it.
    driven: &'a [u64],
    /// What was possible stays possible.
    grow: bool,
    /// The lanes in which registers may see an edge.
    edges: u64,
}

/// What a change has done so far.
struct Course {
    /// For each cell, the lanes in which its driver may have been on.
    enabled: Vec<u64>,
    /// Cells to look at.
    todo: u64,
    /// Cells that were looked at since the last time that everything stood.
    seen: u64,
}

impl Course {
    fn new(cells: usize, s: &State) -> Course {
        Course { enabled: vec![0; cells], todo: if s.at_rest { 0 } else { u64::MAX }, seen: 0 }
    }
}

impl Bank {
    /// A cell is looked at. Returns whether anything changed; who reads it is to be looked at then.
    fn visit(&self, s: &mut State, index: usize, cell: &Cell, way: Way<'_>, course: &mut Course) -> bool {
        let mut changed = false;
        if cell.is_register {
            let held = s.q.get(index).copied().unwrap_or(Ternary::UNKNOWN);
            let reset = self.reset(s);
            let mut q = held;
            if way.edges != 0 {
                q = q.join(self.data(s, index, cell)).in_lanes(way.edges, q);
            }
            q.can_low |= reset.can_high;
            if !way.grow {
                q = Ternary::LOW.in_lanes(reset.is_high(), q);
            }
            if q != held {
                changed = true;
                course.todo |= self.readers.of_register.get(index).copied().unwrap_or(u64::MAX);
                if let Some(to) = s.q.get_mut(index) {
                    *to = q;
                }
            }
        }
        let enable = self.enable(s, cell);
        let outside = s.outside.get(cell.pin).copied().unwrap_or(Ternary::UNKNOWN);
        let driven = way.driven.get(cell.pin).copied().unwrap_or(0);
        if let Some(seen) = course.enabled.get_mut(index) {
            *seen |= enable.can_high;
        }
        let open = enable.can_low | driven;
        let mut level = Ternary { can_low: outside.can_low & open, can_high: outside.can_high & open };
        if enable.can_high != 0 {
            let shown = self.shown(s, index, cell);
            level.can_low |= shown.can_low & enable.can_high;
            level.can_high |= shown.can_high & enable.can_high;
        }
        let before = s.pins.get(cell.pin).copied().unwrap_or(Ternary::UNKNOWN);
        if way.grow {
            level = level.join(before);
        }
        if level != before {
            changed = true;
            course.todo |= self.readers.of_pin.get(cell.pin).copied().unwrap_or(u64::MAX);
            if let Some(to) = s.pins.get_mut(cell.pin) {
                *to = level;
            }
        }
        changed
    }

    /// One round over the cells that are to be looked at. Returns whether more are.
    fn round(&self, s: &mut State, way: Way<'_>, course: &mut Course) -> bool {
        let all = self.array.cells.len() > MOST_CELLS;
        let mut changed = false;
        for (index, cell) in self.array.cells.iter().enumerate() {
            let bit = bit(index);
            if all || course.todo & bit != 0 {
                course.todo &= !bit;
                course.seen |= bit;
                changed |= self.visit(s, index, cell, way, course);
            }
        }
        // bits beyond the cells are there if all were asked for
        course.todo &= u64::MAX.checked_shr((MOST_CELLS.saturating_sub(self.array.cells.len())) as u32).unwrap_or(0);
        if all { changed } else { course.todo != 0 }
    }

    /// The tester's levels reach the pins that no cell has.
    fn reach(&self, s: &mut State, course: &mut Course) {
        for &pin in &self.readers.bare {
            if let (Some(level), Some(to)) = (s.outside.get(pin), s.pins.get_mut(pin))
                && to != level
            {
                *to = *level;
                course.todo |= self.readers.of_pin.get(pin).copied().unwrap_or(u64::MAX);
            }
        }
    }

    /// While something is changing: everything that can come of it, in any order.
    fn grow(&self, s: &mut State, driven: &[u64], edges: u64, course: &mut Course) {
        self.reach(s, course);
        if edges != 0 {
            course.todo |= self.readers.registers;
        }
        // each round makes some level of some lane less known, so there is an end
        while self.round(s, Way { driven, grow: true, edges }, course) {}
    }

    /// When the change is over: what remains.
    fn shrink(&self, s: &mut State, driven: &[u64], course: &mut Course) {
        self.reach(s, course);
        // what became unknown may become known again
        course.todo |= std::mem::take(&mut course.seen);
        // each round makes more known; the limit is for what can't happen
        let limit = 4 + 4 * (self.array.cells.len() + self.array.pins);
        s.at_rest = (0..limit).any(|_| !self.round(s, Way { driven, grow: false, edges: 0 }, course));
        course.seen = 0;
        if !s.at_rest {
            course.todo = u64::MAX;
        }
    }

    /// Applies a vector: the levels in any order, then the clock pulse. Returns the lanes in which each cell's driver may
    /// have been on at any moment of it, the one before it included.
    pub(in crate::vectors) fn apply(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) -> Vec<u64> {
        let change = Shift::new(self.array.clock, &s.outside, outside, pulse);
        self.follow(s, &change)
    }

    /// The same on a board, where whatever else is on a pin gives way to the device.
    pub(in crate::vectors) fn apply_on_board(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) {
        let mut change = Shift::new(self.array.clock, &s.outside, outside, pulse);
        change.driven.fill(0);
        change.now.fill(0);
        self.follow(s, &change);
    }

    /// What pins show on a board at rest, with the levels that stand in `s`; `held` cells keep what they have for so long
    /// as it takes the others to follow.
    pub(in crate::vectors) fn settle_on_board(&self, s: &mut State, held: &[usize]) {
        let nothing = vec![0; self.array.pins];
        let mut course = Course::new(self.array.cells.len(), s);
        self.reach(s, &mut course);
        let pin = |cell: &usize| self.array.cells.get(*cell).map(|c| c.pin);
        let kept: Vec<(usize, Ternary)> =
            held.iter().filter_map(pin).filter_map(|pin| Some((pin, *s.pins.get(pin)?))).collect();
        for _ in 0..=self.array.cells.len() {
            course.todo = u64::MAX;
            self.round(s, Way { driven: &nothing, grow: false, edges: 0 }, &mut course);
            for &(pin, level) in &kept {
                if let Some(to) = s.pins.get_mut(pin) {
                    *to = level;
                }
            }
        }
        course.todo = u64::MAX;
        self.shrink(s, &nothing, &mut course);
    }

    /// The same on a board, all at once: a change that a loop could take either way is taken as settling takes it.
    pub(in crate::vectors) fn apply_at_once(&self, s: &mut State, outside: &[Ternary], pulse: Option<usize>) {
        let nothing = vec![0; outside.len()];
        let mut course = Course::new(self.array.cells.len(), s);
        for (pin, level) in outside.iter().enumerate() {
            self.set(s, pin, u64::MAX, *level, &mut course);
        }
        self.shrink(s, &nothing, &mut course);
        let Some(pin) = pulse else { return };
        let stood = self.loads(s);
        self.set(s, pin, u64::MAX, Ternary::HIGH, &mut course);
        if self.array.clock == Some(pin) {
            let resets = self.reset(s).can_high;
            self.hold(s, &mut course, |index, q| stood.get(index).map_or(q, |stood| q.in_lanes(resets, *stood)));
        }
        self.shrink(s, &nothing, &mut course);
        self.set(s, pin, u64::MAX, Ternary::LOW, &mut course);
        self.shrink(s, &nothing, &mut course);
    }

    /// What each cell's register would load; of other cells nobody asks.
    fn loads(&self, s: &State) -> Vec<Ternary> {
        let load = |(index, cell): (usize, &Cell)| match cell.is_register {
            true => self.data(s, index, cell),
            false => s.q.get(index).copied().unwrap_or(Ternary::UNKNOWN),
        };
        self.array.cells.iter().enumerate().map(load).collect()
    }

    /// Registers get new contents.
    fn hold(&self, s: &mut State, course: &mut Course, next: impl Fn(usize, Ternary) -> Ternary) {
        for (index, q) in s.q.iter_mut().enumerate() {
            let to = next(index, *q);
            if *q != to {
                *q = to;
                course.todo |= bit(index) | self.readers.of_register.get(index).copied().unwrap_or(u64::MAX);
            }
        }
    }

    /// The tester puts a level on a pin in these lanes.
    fn set(&self, s: &mut State, pin: usize, lanes: u64, level: Ternary, course: &mut Course) {
        if let Some(outside) = s.outside.get_mut(pin) {
            let to = level.in_lanes(lanes, *outside);
            if *outside != to {
                *outside = to;
                course.todo |= self.readers.at_pin.get(pin).copied().unwrap_or(u64::MAX);
            }
        }
    }

    /// Follows a vector that was told apart from what stood before; the same answer as of [`apply`](Bank::apply).
    pub(in crate::vectors) fn follow(&self, s: &mut State, change: &Shift) -> Vec<u64> {
        let mut course = Course::new(self.array.cells.len(), s);
        for (cell, enabled) in self.array.cells.iter().zip(&mut course.enabled) {
            *enabled = self.enable(s, cell).can_high;
        }
        if !change.pins.is_empty() {
            for &(pin, joined, _) in &change.pins {
                // who drives the pin is another one, whether its level moves or not
                course.todo |= self.readers.at_pin.get(pin).copied().unwrap_or(u64::MAX);
                self.set(s, pin, u64::MAX, joined, &mut course);
            }
            self.grow(s, &change.driven, change.edges & !change.alone, &mut course);
            for &(pin, _, level) in &change.pins {
                self.set(s, pin, u64::MAX, level, &mut course);
            }
            self.shrink(s, &change.now, &mut course);
        }
        match (change.pulse, self.array.clock) {
            (Some(pin), _) => {
                self.rise(s, pin, u64::MAX, &change.now, &mut course);
                self.fall(s, pin, &change.now, &mut course);
            }
            (None, Some(clock)) if change.alone != 0 => self.rise(s, clock, change.alone, &change.now, &mut course),
            (None, _) => {}
        }
        course.enabled
    }

    /// A pin rises and nothing else does; the registers take it as an edge if it is their clock, and load what stood
    /// before it: their hold time is 0 (sheets of all devices here), and what follows the clock comes later than that.
    fn rise(&self, s: &mut State, pin: usize, lanes: u64, driven: &[u64], course: &mut Course) {
        let certain = s.outside.get(pin).map_or(0, |c| c.is_low());
        let stood = if self.array.clock == Some(pin) { self.loads(s) } else { Vec::new() };
        self.set(s, pin, lanes, Ternary::UNKNOWN, course);
        self.grow(s, driven, 0, course);
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
            self.hold(s, course, |index, q| loaded.get(index).map_or(q, |l| q.join(*l)));
            self.grow(s, driven, 0, course);
            let reset = self.reset(s).can_high;
            let of = |l: &Ternary| Ternary { can_low: l.can_low | reset, can_high: l.can_high };
            self.hold(s, course, |index, q| loaded.get(index).map_or(q, of));
        }
        self.set(s, pin, lanes, Ternary::HIGH, course);
        self.shrink(s, driven, course);
    }

    fn fall(&self, s: &mut State, pin: usize, driven: &[u64], course: &mut Course) {
        self.set(s, pin, u64::MAX, Ternary::UNKNOWN, course);
        self.grow(s, driven, 0, course);
        self.set(s, pin, u64::MAX, Ternary::LOW, course);
        self.shrink(s, driven, course);
    }
}
