//! One event: from a settled point over a change at the contacts to the next settled point, phase by phase.
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

use super::either::Opening;
use super::{Algebra, Feed, Gate, Machine, NodeId, Point, Unknown};

/// How far a step goes before it gives up settling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Rounds of registers.
    pub phases: usize,
    /// Rounds of latches and loops in one phase.
    pub iterations: usize,
}

impl Limits {
    /// Enough rounds for every machine that comes to rest at all without counting: each cell may change several times.
    pub fn ample(machine: &Machine) -> Limits {
        let rounds = 64 + 4 * machine.cells.len();
        Limits { phases: rounds, iterations: rounds }
    }
}

/// What the contacts show when one phase has settled.
#[derive(Clone, Debug)]
pub struct View<V> {
    /// Ports that may have changed since the view before: number, driven, level.
    pub changed: Vec<(usize, V, V)>,
}

/// What came of a step.
#[derive(Clone, Debug)]
pub struct Stepped<V> {
    /// Where it ended.
    pub point: Point<V>,
    /// What the contacts showed on the way, one view a phase; the last one belongs to `point`.
    pub views: Vec<View<V>>,
    /// Where it had not settled within the limits.
    pub unsettled: V,
    /// The cells that were given another value on the way, each once.
    pub moved: Vec<u32>,
}

/// What came of a step that was taken in place.
#[derive(Clone, Debug)]
pub(crate) struct Passed<V> {
    /// As in [`Stepped`].
    pub(crate) views: Vec<View<V>>,
    /// As in [`Stepped`].
    pub(crate) unsettled: V,
    /// The cells that were given another value on the way, each once, in rising order.
    pub(crate) moved: Vec<u32>,
}

impl Machine {
    /// From a settled point, over these new levels outside (port, level), to the next settled point.
    ///
    /// `from` must be settled, or be assumed to be: what the change doesn't reach keeps its value.
    pub fn step<A: Algebra>(
        &self,
        algebra: &mut A,
        from: &Point<A::Value>,
        change: &[(usize, A::Value)],
        limits: Limits,
    ) -> Stepped<A::Value> {
        let mut point = from.clone();
        let Passed { views, unsettled, moved } = self.pass(algebra, &mut Desk::new(self), &mut point, change, limits);
        Stepped { point, views, unsettled, moved }
    }

    /// A [`step`](Machine::step) in place: its cost is that of what the change reaches. The desk must have been made for
    /// this machine; it can [undo](Desk::undo) the step until the next one.
    pub(crate) fn pass<A: Algebra>(
        &self,
        algebra: &mut A,
        desk: &mut Desk<A::Value>,
        point: &mut Point<A::Value>,
        change: &[(usize, A::Value)],
        limits: Limits,
    ) -> Passed<A::Value> {
        match self.opened.as_deref().and_then(|o| o.of(change.iter().map(|c| c.0))) {
            None => self.pass_as_phases_say(algebra, desk, point, change, limits),
            Some(kind) => self.pass_either_way(algebra, (desk, point), change, limits, kind),
        }
    }

    pub(super) fn pass_as_phases_say<A: Algebra>(
        &self,
        algebra: &mut A,
        desk: &mut Desk<A::Value>,
        point: &mut Point<A::Value>,
        change: &[(usize, A::Value)],
        limits: Limits,
    ) -> Passed<A::Value> {
        let mut run = Run::new(self, desk, point, false);
        for &(port, level) in change {
            if let Some(p) = self.ports.get(port) {
                run.set(p.outside, level);
            }
        }
        run.go(algebra, limits)
    }

    /// Power comes on with these levels outside (one a port) and these bits held (one a cell): the machine at rest.
    pub fn power_up<A: Algebra>(
        &self,
        algebra: &mut A,
        outside: &[A::Value],
        cells: &[A::Value],
        limits: Limits,
    ) -> Stepped<A::Value> {
        let asleep = self.point(algebra, outside, cells);
        self.rest(algebra, &asleep, limits)
    }

    /// From any point, with nothing changing outside, to rest.
    pub fn rest<A: Algebra>(&self, algebra: &mut A, from: &Point<A::Value>, limits: Limits) -> Stepped<A::Value> {
        let mut point = from.clone();
        let mut desk = Desk::new(self);
        desk.memories = (0..self.cells.len() as u32).collect();
        desk.registers = desk.memories.clone();
        let Passed { views, unsettled, moved } = Run::new(self, &mut desk, &mut point, true).go(algebra, limits);
        Stepped { point, views, unsettled, moved }
    }
}

/// What has changed by the end of each phase of a step, with the value that it then had.
pub(crate) type Film<V> = Vec<Vec<(NodeId, V)>>;

/// What nodes were before they changed.
#[derive(Clone, Debug)]
struct Journal<V> {
    was: Vec<Option<V>>,
    touched: Vec<u32>,
}

impl<V: Copy> Journal<V> {
    fn begin(&mut self) {
        for node in self.touched.drain(..) {
            self.was[node as usize] = None;
        }
    }

    fn note(&mut self, node: usize, value: V) {
        if self.was[node].is_none() {
            self.was[node] = Some(value);
            self.touched.push(node as u32);
        }
    }
}

/// Working storage for the steps of one machine, taken one after the other.
#[derive(Clone, Debug)]
pub(crate) struct Desk<V> {
    heap: BinaryHeap<Reverse<u32>>,
    queued: Vec<bool>,
    /// What has changed in this step, and in this phase of it.
    event: Journal<V>,
    phase: Journal<V>,
    /// Cells whose next value may have changed.
    memories: BTreeSet<u32>,
    registers: BTreeSet<u32>,
    ports: BTreeSet<u32>,
    moved: BTreeSet<u32>,
    /// Releases and loops whose inputs changed in this phase.
    stirred: BTreeSet<u32>,
    /// What the next steps show, phase by phase, for whoever asks for it.
    pub(crate) film: Option<Film<V>>,
    /// Cells that may take either level in the next step.
    pub(super) open: Vec<Opening<V>>,
}

impl<V: Copy> Desk<V> {
    pub(crate) fn new(machine: &Machine) -> Self {
        let journal = || Journal { was: vec![None; machine.gates.len()], touched: Vec::new() };
        Desk {
            heap: BinaryHeap::new(),
            queued: vec![false; machine.gates.len()],
            event: journal(),
            phase: journal(),
            memories: BTreeSet::new(),
            registers: BTreeSet::new(),
            ports: BTreeSet::new(),
            moved: BTreeSet::new(),
            stirred: BTreeSet::new(),
            film: None,
            open: Vec::new(),
        }
    }

    /// What a node was before the last step.
    pub(super) fn before(&self, point: &Point<V>, node: NodeId) -> V {
        self.event.was.get(node.index()).copied().flatten().unwrap_or_else(|| point.at(node))
    }

    /// Takes the last step back.
    pub(crate) fn undo(&mut self, point: &mut Point<V>) {
        for &node in &self.event.touched {
            if let Some(was) = self.event.was[node as usize] {
                point.values[node as usize] = was;
            }
        }
        self.event.begin();
        self.phase.begin();
    }
}

/// Iterations in which the memories of a loop move together; after that they move one at a time.
const AT_ONCE: usize = 3;

pub(super) struct Run<'m, V> {
    pub(super) machine: &'m Machine,
    pub(super) desk: &'m mut Desk<V>,
    pub(super) now: &'m mut Point<V>,
    from_anywhere: bool,
}

impl<'m, V: Copy + PartialEq + std::fmt::Debug> Run<'m, V> {
    fn new(machine: &'m Machine, desk: &'m mut Desk<V>, now: &'m mut Point<V>, from_anywhere: bool) -> Self {
        desk.event.begin();
        desk.phase.begin();
        desk.stirred.clear();
        if let Some(film) = &mut desk.film {
            film.clear();
        }
        Run { machine, desk, now, from_anywhere }
    }

    /// What a node was before the event.
    fn from(&self, node: NodeId) -> V {
        self.desk.event.was[node.index()].unwrap_or_else(|| self.now.at(node))
    }

    /// What a node was when the phase began.
    fn before(&self, node: NodeId) -> V {
        self.desk.phase.was[node.index()].unwrap_or_else(|| self.now.at(node))
    }

    fn set(&mut self, node: NodeId, value: V) {
        let i = node.index();
        let was = self.now.values[i];
        if was == value {
            return;
        }
        let (machine, desk) = (self.machine, &mut *self.desk);
        desk.event.note(i, was);
        desk.phase.note(i, was);
        self.now.values[i] = value;
        if let Gate::Cell(cell) = machine.gates[i] {
            desk.moved.insert(cell);
        }
        desk.ports.extend(&machine.shows[i]);
        desk.stirred.extend(&machine.stirs[i]);
        for &cell in &machine.feeds[i] {
            match machine.cells[cell as usize].feed {
                Feed::Memory { .. } => desk.memories.insert(cell),
                Feed::Register { .. } | Feed::Joint { .. } => desk.registers.insert(cell),
            };
        }
        for &user in &machine.users[i] {
            if !std::mem::replace(&mut desk.queued[user.index()], true) {
                desk.heap.push(Reverse(user.0));
            }
        }
    }

    fn propagate<A: Algebra<Value = V>>(&mut self, algebra: &mut A) {
        while let Some(Reverse(i)) = self.desk.heap.pop() {
            self.desk.queued[i as usize] = false;
            let value = self.machine.evaluate(algebra, self.now, NodeId(i));
            self.set(NodeId(i), value);
        }
    }

    /// Combinational logic, latches and loops, to a fixpoint, with what nobody knows on the way; returns where there was
    /// none.
    fn settle<A: Algebra<Value = V>>(&mut self, algebra: &mut A, limits: Limits) -> V {
        let mut unsettled = self.follow(algebra, limits);
        if self.from_anywhere {
            return unsettled;
        }
        // each of them is asked once in a phase; the outcome of one may move another
        let mut asked = BTreeSet::new();
        while self.race(algebra, &mut asked) {
            let again = self.follow(algebra, limits);
            unsettled = algebra.or(unsettled, again);
        }
        unsettled
    }

    /// Latches whose clear and preset were released together, and loops whose gates race: gives the unknown outcome to the
    /// first that this phase has not resolved. Returns whether anything moved.
    fn race<A: Algebra<Value = V>>(&mut self, algebra: &mut A, asked: &mut BTreeSet<u32>) -> bool {
        let machine = self.machine;
        let never = algebra.constant(false);
        let stirred: Vec<u32> = self.desk.stirred.difference(asked).copied().collect();
        for i in stirred {
            if let Some(r) = machine.releases.get(i as usize) {
                let [x0, y0] = [self.before(r.clear), self.before(r.preset)];
                let both = algebra.and(x0, y0);
                let forced = algebra.or(self.now.at(r.clear), self.now.at(r.preset));
                let forced = algebra.or(forced, self.now.at(r.open));
                let free = algebra.not(forced);
                let when = algebra.and(both, free);
                if when == never {
                    continue;
                }
                asked.insert(i);
                let source = machine.cells[r.cell as usize].source;
                let held = self.now.at(source);
                let value = algebra.unknown(Unknown::JointRelease(r.cell), when, held);
                if value != held {
                    self.set(source, value);
                    return true;
                }
                continue;
            }
            let Some(l) = machine.loops.get(i as usize - machine.releases.len()) else { continue };
            // a loop whose gates all have their old levels did not move
            if l.gates.iter().all(|&g| self.now.at(g) == self.before(g)) {
                continue;
            }
            let races = l.races(machine, algebra, &|n| self.before(n), self.now);
            let mut moved = false;
            for (&(cell, source, _), when) in l.cuts.iter().zip(races) {
                if when == never {
                    continue;
                }
                asked.insert(i);
                let held = self.now.at(source);
                let value = algebra.unknown(Unknown::Loop(cell), when, held);
                if value != held {
                    self.set(source, value);
                    // it goes on from there, even if nothing that it follows has moved
                    self.desk.memories.insert(cell);
                    moved = true;
                }
            }
            if moved {
                return true;
            }
        }
        false
    }

    /// The loop in which this memory takes its turn. At power-up a loop with a given level has none: the order must not
    /// choose.
    fn turn(&self, cell: u32) -> Option<u32> {
        let turn = self.machine.turns.get(cell as usize).copied().flatten()?;
        let given = self.machine.loops.get(turn as usize).is_some_and(|l| l.given);
        (!self.from_anywhere || !given).then_some(turn)
    }

    /// Combinational logic, latches and loops, to a fixpoint; returns where there was none.
    fn follow<A: Algebra<Value = V>>(&mut self, algebra: &mut A, limits: Limits) -> V {
        let mut unsettled = algebra.constant(false);
        self.propagate(algebra);
        for iteration in 0..=limits.iterations {
            let mut changes = Vec::new();
            let (mut moving, mut waiting) = (BTreeSet::new(), Vec::new());
            for cell in std::mem::take(&mut self.desk.memories) {
                let c = &self.machine.cells[cell as usize];
                let Feed::Memory { next } = c.feed else { continue };
                let value = self.now.at(next);
                // what was settled and whose function is as before keeps its very value
                let value = if !self.from_anywhere && value == self.from(next) { self.from(c.source) } else { value };
                if value == self.now.at(c.source) {
                    continue;
                }
                // moved at once, two memories that feed each other would swing for ever where one of them comes first
                match self.turn(cell).filter(|_| (AT_ONCE..limits.iterations).contains(&iteration)) {
                    Some(l) if !moving.insert(l) => waiting.push(cell),
                    _ => changes.push((cell, value)),
                }
            }
            if changes.is_empty() {
                break;
            }
            self.desk.memories.extend(waiting);
            for &(cell, value) in &changes {
                let source = self.machine.cells[cell as usize].source;
                if iteration == limits.iterations {
                    let differs = algebra.xor(value, self.now.at(source));
                    unsettled = algebra.or(unsettled, differs);
                } else {
                    self.set(source, value);
                }
            }
            self.propagate(algebra);
        }
        unsettled
    }

    fn go<A: Algebra<Value = V>>(mut self, algebra: &mut A, limits: Limits) -> Passed<V> {
        let machine = self.machine;
        if !self.from_anywhere {
            // a floating net that nothing reads is no unknown
            for (n, &node) in machine.floats.iter().enumerate().filter(|(_, node)| machine.live[node.index()]) {
                let (always, high) = (algebra.constant(true), algebra.constant(true));
                let value = algebra.unknown(Unknown::Floating(n as u32), always, high);
                self.set(node, value);
            }
        }
        let mut views = Vec::new();
        let mut unsettled = algebra.constant(false);
        for phase in 0..=limits.phases {
            let restless = self.settle(algebra, limits);
            unsettled = algebra.or(unsettled, restless);
            if self.from_anywhere && phase == 0 {
                // what stood before it first settled has never been a level: nothing is an edge from there
                self.desk.phase.begin();
            }
            if let Some(film) = &mut self.desk.film {
                let now = &*self.now;
                let shown = |&n: &u32| (NodeId(n), now.at(NodeId(n)));
                film.push(self.desk.phase.touched.iter().map(shown).collect());
            }
            let changed = std::mem::take(&mut self.desk.ports);
            views.push(View {
                changed: changed
                    .into_iter()
                    .map(|p| {
                        let (drive, level) = machine.shown(self.now, p as usize);
                        (p as usize, drive, level)
                    })
                    .collect(),
            });
            let mut changes = Vec::new();
            for cell in std::mem::take(&mut self.desk.registers) {
                let value = self.next(algebra, cell);
                let source = machine.cells[cell as usize].source;
                if value != self.now.at(source) {
                    changes.push((source, value));
                }
            }
            self.either(algebra, phase, &mut changes);
            if changes.is_empty() {
                break;
            }
            self.desk.phase.begin();
            self.desk.stirred.clear();
            for (source, value) in changes {
                if phase == limits.phases {
                    let differs = algebra.xor(value, self.now.at(source));
                    unsettled = algebra.or(unsettled, differs);
                } else {
                    self.set(source, value);
                }
            }
        }
        let moved = std::mem::take(&mut self.desk.moved).into_iter().collect();
        Passed { views, unsettled, moved }
    }

    /// What a register takes at the end of a phase: the edge from the point before to this one, then what overrides it.
    fn next<A: Algebra<Value = V>>(&self, algebra: &mut A, cell: u32) -> V {
        let (now, c) = (&*self.now, &self.machine.cells[cell as usize]);
        let holds = now.at(c.source);
        match c.feed {
            Feed::Memory { .. } => holds,
            Feed::Joint { clear, preset } => algebra.and(now.at(clear), now.at(preset)),
            Feed::Register { clock, data, clear, preset, unknown } => {
                let [x0, y0, x1, y1] = [self.before(clear), self.before(preset), now.at(clear), now.at(preset)];
                let low = algebra.not(self.before(clock));
                let edge = algebra.and(low, now.at(clock));
                let was_forced = algebra.or(x0, y0);
                let is_forced = algebra.or(x1, y1);
                let free = algebra.not(is_forced);
                let was_free = algebra.not(was_forced);
                let loads = algebra.and(edge, was_free);
                // an edge with the data that stood before it
                let stood = self.before(data);
                let moved = algebra.xor(stood, now.at(data));
                let race = algebra.and(loads, moved);
                let race = algebra.and(race, free);
                let known = self.known(algebra, cell);
                let unknown_order = algebra.not(known);
                let race = algebra.and(race, unknown_order);
                let loaded = algebra.unknown(Unknown::Race(cell), race, stood);
                // an edge where the data sheet leaves open what follows
                let counts = algebra.and(loads, free);
                let open = algebra.and(counts, self.before(unknown));
                let loaded = algebra.unknown(Unknown::Load(cell), open, loaded);
                let mut value = algebra.choose(loads, loaded, holds);
                // released together with the edge: did the edge count? That makes no difference only if the edge would load
                // what is held, whatever races and whatever the sheet leaves open
                let released = algebra.and(was_forced, free);
                let recovery = algebra.and(edge, released);
                let differs = algebra.xor(stood, holds);
                let matters = algebra.or(differs, moved);
                let matters = algebra.or(matters, self.before(unknown));
                let recovery = algebra.and(recovery, matters);
                let recovery = algebra.and(recovery, unknown_order);
                value = algebra.unknown(Unknown::Recovery(cell), recovery, value);
                // both released together: nobody knows
                let both = algebra.and(x0, y0);
                let joint = algebra.and(both, free);
                value = algebra.unknown(Unknown::JointRelease(cell), joint, value);
                let (high, low) = (algebra.constant(true), algebra.constant(false));
                value = algebra.choose(y1, high, value);
                algebra.choose(x1, low, value)
            }
        }
    }
}
