//! One circuit on the bench: levels that are known or not, one event after the other.
use super::Expect;
use gluewright_kernel::circuit::Label;
use gluewright_kernel::machine::ternary::{Careful, Ternary};
use gluewright_kernel::machine::{Algebra, Limits, Machine, Point};
use gluewright_kernel::prove::{Assumption, Restriction};

/// A circuit under power, with what is known of it.
#[derive(Clone, Debug)]
pub(super) struct Bench<'m> {
    machine: &'m Machine,
    point: Point<Ternary>,
}

impl<'m> Bench<'m> {
    /// Power comes on: nothing is known of a cell whose start is not.
    pub(super) fn new(machine: &'m Machine, outside: Vec<Ternary>) -> Self {
        let cells: Vec<Ternary> =
            machine.cells().iter().map(|c| c.start.map_or(Ternary::Either, Ternary::of)).collect();
        let stepped = machine.power_up(&mut Careful::default(), &outside, &cells, Limits::ample(machine));
        Bench { machine, point: stepped.point }
    }

    /// Levels outside change at one moment. Returns whether it went well: nothing unknown can have happened, and it
    /// came to rest.
    pub(super) fn event(&mut self, change: &[(usize, Ternary)]) -> bool {
        let mut careful = Careful::default();
        let stepped = self.machine.step(&mut careful, &self.point, change, Limits::ample(self.machine));
        self.point = stepped.point;
        !careful.met && stepped.unsettled == Ternary::Low
    }

    /// The same where something unknown may happen: what hangs on it is not known from then on. Returns whether it came to
    /// rest.
    pub(super) fn event_whatever_comes(&mut self, change: &[(usize, Ternary)]) -> bool {
        let stepped = self.machine.step(&mut Careful::default(), &self.point, change, Limits::ample(self.machine));
        self.point = stepped.point;
        stepped.unsettled == Ternary::Low
    }

    pub(super) fn machine(&self) -> &'m Machine {
        self.machine
    }

    pub(super) fn outside(&self) -> Vec<Ternary> {
        self.machine.outside(&self.point)
    }

    pub(super) fn held(&self) -> Vec<Ternary> {
        self.machine.held(&self.point)
    }

    /// The level that somebody puts on a port.
    pub(super) fn applied(&self, port: usize) -> Option<bool> {
        self.outside().get(port).copied().and_then(Ternary::known)
    }

    /// Whether a port is driven, and its level then.
    pub(super) fn shown(&self, port: usize) -> (Ternary, Ternary) {
        self.machine.shown(&self.point, port)
    }

    /// What a port shows.
    pub(super) fn shows(&self, port: usize) -> Expect {
        let (driven, level) = self.machine.shown(&self.point, port);
        let pull = self.machine.ports().get(port).map_or(gluewright_kernel::circuit::Pull::None, |p| p.pull);
        Expect::new(driven, level, pull)
    }

    /// How many nets may be fought over.
    pub(super) fn fights(&self) -> usize {
        (0..self.machine.fights().len()).filter(|&f| self.machine.fights_at(&self.point, f) != Ternary::Low).count()
    }

    /// Whether an assumption holds.
    pub(super) fn keeps(&self, assumption: &Assumption) -> Ternary {
        assumption.holds.value(&mut Careful::default(), &self.levels())
    }

    /// Whether the event from `before` to now was one that the board does.
    pub(super) fn keeps_restriction(&self, restriction: &Restriction, before: &Bench<'_>) -> Ternary {
        let (before, after) = (before.levels(), self.levels());
        restriction.keeps(&mut Careful::default(), [&before, &after], [&before, &after])
    }

    /// The levels at the contacts, by label.
    fn levels(&self) -> impl Fn(&Label) -> Option<Ternary> {
        let outside = self.outside();
        move |label: &Label| {
            let port = self.machine.port(label)?;
            let (driven, level) = self.machine.shown(&self.point, port);
            let outside = outside.get(port).copied()?;
            Some(Careful::default().choose(driven, level, outside))
        }
    }
}
