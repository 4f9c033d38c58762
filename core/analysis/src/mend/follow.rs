//! One machine over one run: what its contacts show once each event has settled.
use gluewright_kernel::circuit::{Label, Pull};
use gluewright_kernel::machine::ternary::{Careful, Ternary};
use gluewright_kernel::machine::{Lanes, Limits, Machine, Point};

use super::filter::{Agreed, Run};

/// What one contact shows: whether it is driven, to what level, and what pulls it while it is not; one bit a start.
pub(super) type Shown = (u64, u64, Pull);

/// One machine on its way over a run, 64 starts side by side.
pub(super) struct Walk<'m> {
    machine: &'m Machine,
    ports: Vec<Option<usize>>,
    point: Point<u64>,
    limits: Limits,
}

impl<'m> Walk<'m> {
    /// Wakes the machine; gives where it rests.
    pub(super) fn new(machine: &'m Machine, run: &Run, labels: &[Label], cells: &[u64]) -> (Self, u64) {
        let limits = Limits::ample(machine);
        let ports: Vec<_> = labels.iter().map(|l| machine.port(l)).collect();
        let outside = machine.outside_by_label(&run.moves.0, word);
        let mut lanes = Lanes::default();
        let woken = machine.power_up(&mut lanes, &outside, cells, limits);
        (Walk { machine, ports, point: woken.point, limits }, !woken.unsettled)
    }

    /// A replacement, from its declared start or the run's; nothing if it does not come to rest.
    pub(super) fn of_replacement(machine: &'m Machine, run: &Run, labels: &[Label]) -> Option<Self> {
        let high = |(i, c): (usize, &gluewright_kernel::machine::Cell)| c.start.unwrap_or_else(|| run.held(i, &c.name));
        let cells: Vec<u64> = machine.cells().iter().enumerate().map(|c| word(high(c))).collect();
        let (walk, rests) = Walk::new(machine, run, labels, &cells);
        (rests == u64::MAX).then_some(walk)
    }

    /// One event: where it rests, and where it met an unknown.
    pub(super) fn step(&mut self, event: &[(Label, bool)]) -> (u64, u64) {
        let change = self.machine.event_by_label(event, word);
        let mut lanes = Lanes::default();
        let stepped = self.machine.step(&mut lanes, &self.point, &change, self.limits);
        self.point = stepped.point;
        (!stepped.unsettled, lanes.met.iter().fold(0, |all, (_, when)| all | when))
    }

    pub(super) fn shown(&self) -> Vec<Shown> {
        shown_at(self.machine, &self.ports, &self.point)
    }
}

/// What all starts of a machine agree on over a run, moment by moment, for as long as it is sure to come to rest; told one
/// by one until `look` has seen enough and says false.
pub(super) fn careful(machine: &Machine, run: &Run, labels: &[Label], mut look: impl FnMut(Vec<Agreed>) -> bool) {
    let ports: Vec<_> = labels.iter().map(|label| machine.port(label)).collect();
    let outside = machine.outside_by_label(&run.moves.0, Ternary::of);
    let cells: Vec<Ternary> = machine.cells().iter().map(|c| c.start.map_or(Ternary::Either, Ternary::of)).collect();
    let (mut algebra, limits) = (Careful::default(), Limits::ample(machine));
    let mut stepped = machine.power_up(&mut algebra, &outside, &cells, limits);
    let shown = |point: &Point<Ternary>| -> Vec<Agreed> {
        let of = |port: &Option<usize>| match port {
            None => (Some(false), None, Pull::None),
            Some(p) => {
                let (drive, level) = machine.shown(point, *p);
                (drive.known(), level.known(), machine.ports().get(*p).map_or(Pull::None, |p| p.pull))
            }
        };
        ports.iter().map(of).collect()
    };
    let mut events = run.moves.1.iter();
    while stepped.unsettled == Ternary::Low && look(shown(&stepped.point)) {
        let Some(event) = events.next() else { return };
        let change = machine.event_by_label(event, Ternary::of);
        stepped = machine.step(&mut algebra, &stepped.point, &change, limits);
    }
}

/// The same level in 64 runs.
fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}

/// Where two sides show the same, once settled.
pub(super) fn same(a: &[Shown], b: &[Shown]) -> u64 {
    a.iter().zip(b).fold(u64::MAX, |all, (&(d, l, p), &(e, m, q))| {
        let floats = if p == q { !d & !e } else { 0 };
        all & (floats | (d & e & !(l ^ m)))
    })
}

/// What each of these ports shows.
pub(super) fn shown_at(machine: &Machine, ports: &[Option<usize>], point: &Point<u64>) -> Vec<Shown> {
    ports
        .iter()
        .map(|port| match port {
            None => (0, 0, Pull::None),
            Some(p) => {
                let (drive, level) = machine.shown(point, *p);
                (drive, level, machine.ports().get(*p).map_or(Pull::None, |p| p.pull))
            }
        })
        .collect()
}
