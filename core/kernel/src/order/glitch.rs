//! Glitches: where a signal may change more than once in an event (*shakes*), by the orders that causality leaves, gate
//! by gate.
use std::collections::{BTreeSet, HashMap};

use super::dependencies::{Signal, What};
use super::waves::{Follows, Mode, Waves, any_if};
use crate::circuit::{Element, ElementId, Expr, Kind};
use crate::machine::{Algebra, Rails};

/// Changes at one gate whose orders are followed one by one; from more on it may pulse wherever it is undetermined.
const MOST_ORDERED: usize = 5;

impl<A: Algebra> Waves<'_, A> {
    /// Works out which signals shake, of all that these depend on.
    pub(super) fn prepare(&mut self, of: &[&Vec<Signal>]) {
        let moving = self.moving;
        let mut wanted: BTreeSet<(u32, Signal)> = BTreeSet::new();
        let mut open: Vec<Signal> = of.iter().flat_map(|s| moving.movers(s)).collect();
        while let Some(s) = open.pop() {
            if !self.shakes.contains_key(&s) && wanted.insert((moving.component_of(s), s)) {
                open.extend(moving.movers(&moving.ways.acting[s.index()]));
            }
        }
        let all: Vec<(u32, Signal)> = wanted.into_iter().collect();
        for group in all.chunk_by(|a, b| a.0 == b.0) {
            let Some(&(_, first)) = group.first() else { continue };
            self.inside = moving.round(first);
            let mut shakes = self.no;
            for &(_, s) in group {
                let here = self.shakes_itself(s);
                shakes = self.algebra.or(shakes, here);
            }
            for &(_, s) in group {
                self.shakes.insert(s, shakes);
            }
            self.inside = None;
        }
    }

    /// Where a signal shakes: its levels pulse from phase to phase, or its inputs let it.
    pub(super) fn shakes_itself(&mut self, s: Signal) -> A::Value {
        let levels = self.of_signal(s);
        let wiggles = self.wiggles(&levels);
        let shakes = match self.moving.ways.what(s) {
            What::Net(n) => self.follower_shakes(Follows::Net(n)),
            What::Element(e) => self.element_shakes(e),
        };
        self.algebra.or(wiggles, shakes)
    }

    /// Where a signal may change more often than once. Members of a component that is being worked out pass nothing on
    /// to each other.
    pub(super) fn shakes(&self, s: Signal) -> A::Value {
        if self.inside.is_some() && self.moving.round(s) == self.inside {
            return self.no;
        }
        self.shakes.get(&s).copied().unwrap_or(if self.moving.moves(s) { self.yes } else { self.no })
    }

    /// Where a signal changes at all.
    pub(super) fn happens(&mut self, s: Signal) -> A::Value {
        let levels = self.of_signal(s);
        let mut any = self.shakes(s);
        for pair in levels.windows(2) {
            let change = self.algebra.xor(pair[0], pair[1]);
            any = self.algebra.or(any, change);
        }
        any
    }

    pub(super) fn element_shakes(&mut self, id: ElementId) -> A::Value {
        let ways = &self.moving.ways;
        let signal = ways.of_element(id);
        let (Some(e), Some(inputs)) = (ways.circuit.elements().get(id.index()), ways.inputs.get(signal.index())) else {
            return self.yes;
        };
        let movers = self.moving.movers(&ways.acting[signal.index()]);
        let twice = self.twice(&movers);
        if inputs.is_register {
            // loaded, and cleared or preset: it may show both
            let forcing = [&inputs.clear, &inputs.preset].map(|s| self.moving.movers(s)).concat();
            let clocks = self.moving.movers(&inputs.clock);
            let ordered = forcing.iter().all(|x| clocks.iter().all(|k| x != k && self.moving.dominates(*x, *k)));
            return if forcing.is_empty() || (ordered && forcing.len() == 1) { self.no } else { twice };
        }
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let rails = self.latch(e, (clock, data), signal);
        let open = rails.open(self.algebra);
        let mut passes = twice;
        for &m in &movers {
            let shakes = self.shakes(m);
            passes = self.algebra.or(passes, shakes);
        }
        self.algebra.and(open, passes)
    }

    /// What an open latch may show during an event.
    pub(super) fn latch(&mut self, e: &Element, (open, data): (Expr, Expr), own: Signal) -> Rails<A::Value> {
        let held = self.of_signal(own).first().copied().unwrap_or(self.no);
        let any = |s: Signal| any_if(s != own);
        let [open, data, clear, preset] = [open, data, e.clear, e.preset].map(|x| self.rails(x, &any));
        let held = Rails::of(self.algebra, held);
        let follows = open.choose(self.algebra, data, held);
        let set = preset.or(self.algebra, follows);
        clear.not().and(self.algebra, set)
    }

    /// Where at least two of these change, or one shakes.
    pub(super) fn twice(&mut self, movers: &[Signal]) -> A::Value {
        let (mut once, mut twice) = (self.no, self.no);
        for &m in movers {
            let (here, shakes) = (self.happens(m), self.shakes(m));
            let again = self.algebra.and(once, here);
            let again = self.algebra.or(again, shakes);
            twice = self.algebra.or(twice, again);
            once = self.algebra.or(once, here);
        }
        twice
    }

    /// Where a net or a level may change more often than once.
    pub(super) fn follower_shakes(&mut self, of: Follows) -> A::Value {
        let moving = self.moving;
        let ways = &moving.ways;
        let (movers, shown) = match of {
            Follows::Net(n) => {
                let signal = ways.of_net(n);
                let driven = ways.circuit.nets().get(n.index()).is_some_and(|n| !n.drivers.is_empty());
                if moving.roots.contains(&signal) && driven {
                    let movers = moving.movers(&ways.acting[signal.index()]);
                    // the board and the drivers beside each other
                    return movers.iter().fold(self.no, |any, &m| {
                        let here = self.happens(m);
                        self.algebra.or(any, here)
                    });
                }
                (moving.movers(&ways.acting[signal.index()]), self.no)
            }
            Follows::Level(e) => {
                let levels = self.levels(e);
                (moving.movers(&ways.leaves(&[e])), self.wiggles(&levels))
            }
        };
        let mut changing = Vec::with_capacity(movers.len());
        for m in movers {
            if self.happens(m) != self.no {
                changing.push(m);
            }
        }
        let mut any = shown;
        let mut passed = self.no;
        for &m in &changing {
            let shakes = self.shakes(m);
            passed = self.algebra.or(passed, shakes);
        }
        if passed != self.no {
            let open = self.follower(of, &|_| Mode::Any).open(self.algebra);
            let passed = self.algebra.and(passed, open);
            any = self.algebra.or(any, passed);
        }
        let Some(allowed) = self.sets(&changing) else {
            let open = self.follower(of, &|_| Mode::Any).open(self.algebra);
            let twice = self.twice(&changing);
            let here = self.algebra.and(open, twice);
            return self.algebra.or(any, here);
        };
        if changing.len() > 1 {
            let here = self.orders(of, &changing, &allowed);
            any = self.algebra.or(any, here);
        }
        any
    }

    /// The sets of these changes that may have arrived while the others have not, as bits by position, the empty one first;
    /// nothing if they are too many to be followed one by one.
    pub(super) fn sets(&self, changing: &[Signal]) -> Option<Vec<u32>> {
        let count = Some(changing.len()).filter(|&count| count <= MOST_ORDERED)?;
        // what must have come before each
        let first: Vec<u32> = (0..count)
            .map(|i| {
                let before = |j: &usize| *j != i && self.moving.dominates(changing[*j], changing[i]);
                (0..count).filter(before).fold(0, |set, j| set | (1 << j))
            })
            .collect();
        let whole = |set: &u32| (0..count).all(|i| (set >> i) & 1 == 0 || first[i] & !set == 0);
        Some((0..1u32 << count).filter(whole).collect())
    }

    /// Where some order of these changes makes the level change and change back.
    pub(super) fn orders(&mut self, of: Follows, changing: &[Signal], allowed: &[u32]) -> A::Value {
        let mut shown: HashMap<u32, A::Value> = HashMap::new();
        for &set in allowed {
            let level = self.follower(of, &|s| done(changing, set, s)).high;
            shown.insert(set, level);
        }
        let stood = shown.get(&0).copied().unwrap_or(self.no);
        let mut any = self.no;
        for &early in allowed.iter().filter(|&&s| s != 0) {
            for &late in allowed.iter().filter(|&&s| s != early && s & early == early) {
                let [x, y] = [early, late].map(|s| shown.get(&s).copied().unwrap_or(stood));
                let (left, back) = (self.algebra.xor(x, stood), self.algebra.xor(y, stood));
                let stays = self.algebra.not(back);
                let here = self.algebra.and(left, stays);
                any = self.algebra.or(any, here);
            }
        }
        any
    }
}

/// What a gate sees of a signal once this set of the changes has arrived.
pub(super) fn done(changing: &[Signal], set: u32, s: Signal) -> Mode {
    let has_come = changing.iter().position(|&c| c == s).is_some_and(|i| (set >> i) & 1 == 1);
    if has_come { Mode::After } else { Mode::Before }
}
