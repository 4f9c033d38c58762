//! One circuit run over the events of a refutation, with every phase kept.
use std::sync::Arc;

use crate::circuit::{Circuit, Expr, Label};
use crate::machine::{Lanes, Limits, Machine, Point};
use crate::simulate::Shown;

/// What one circuit does over a run, phase by phase.
pub(super) struct Track {
    pub(super) circuit: Arc<Circuit>,
    pub(super) machine: Machine,
    pub(super) moments: Vec<Moment>,
}

/// A circuit when one phase has settled.
pub(super) struct Moment {
    /// The event that it belongs to, from 1; 0 is power-up.
    pub(super) event: usize,
    /// The levels that the board puts on the contacts.
    pub(super) point: Point<u64>,
}

impl Track {
    pub(super) fn new(
        circuit: &Arc<Circuit>,
        machine: Machine,
        start: &[bool],
        levels: &[(Label, bool)],
        events: &[Vec<(Label, bool)>],
    ) -> Track {
        let limits = Limits::ample(&machine);
        let word = |high: bool| if high { u64::MAX } else { 0 };
        let outside = machine.outside_by_label(levels, word);
        let cells: Vec<u64> = start.iter().map(|&b| word(b)).collect();
        let mut lanes = Lanes::default();
        let mut now = machine.power_up(&mut lanes, &outside, &cells, limits).point;
        let mut moments = vec![Moment { event: 0, point: now.clone() }];
        for (k, event) in events.iter().enumerate() {
            let change = machine.event_by_label(event, word);
            // the point after each phase is what a step with that many phases ends in
            for phases in 0..=limits.phases {
                let stepped = machine.step(&mut lanes, &now, &change, Limits { phases, ..limits });
                let rests = stepped.unsettled & 1 == 0;
                moments.push(Moment { event: k + 1, point: stepped.point });
                if rests {
                    break;
                }
            }
            if let Some(last) = moments.last() {
                now = last.point.clone();
            }
        }
        Track { circuit: Arc::clone(circuit), machine, moments }
    }

    /// The level of an expression at a moment.
    pub(super) fn value(&self, e: Expr, moment: usize) -> bool {
        let node = self.machine.node_of(e);
        let point = self.moments.get(moment).map(|m| &m.point);
        node.zip(point).is_some_and(|(node, point)| self.machine.value(point, node) & 1 == 1)
    }

    /// What a contact shows at a moment; nothing if the circuit does not have it.
    pub(super) fn shown(&self, label: &Label, moment: usize) -> Option<Shown> {
        let p = self.machine.port(label)?;
        let point = &self.moments.get(moment)?.point;
        let (drive, level) = self.machine.shown(point, p);
        let pull = self.machine.ports().get(p)?.pull;
        Some(Shown::new(drive & 1 == 1, level & 1 == 1, pull))
    }

    /// The moments of an event, the last one settled. Power-up has one.
    pub(super) fn of_event(&self, event: usize) -> Vec<usize> {
        (0..self.moments.len()).filter(|&m| self.moments[m].event == event).collect()
    }

    /// The last moment of an event.
    pub(super) fn end_of(&self, event: usize) -> usize {
        self.of_event(event).last().copied().unwrap_or(0)
    }

    /// What a contact shows over an event, the first before it, each with the moment at which it begins.
    pub(super) fn sequence(&self, label: &Label, event: usize) -> Vec<(Shown, usize)> {
        let before = event.checked_sub(1).map(|e| self.end_of(e));
        let mut all: Vec<(Shown, usize)> = Vec::new();
        for m in before.into_iter().chain(self.of_event(event)) {
            let shown = self.shown(label, m).unwrap_or(Shown::Floating);
            if all.last().is_none_or(|(last, _)| *last != shown) {
                all.push((shown, m));
            }
        }
        all
    }

    /// The drivers on a contact, by name.
    pub(super) fn pins(&self, label: &Label) -> Vec<String> {
        let net = self.circuit.find_contact(label).and_then(|c| self.circuit.contacts().get(c.index())).map(|c| c.net);
        let drivers = net.and_then(|n| self.circuit.nets().get(n.index())).map_or(&[][..], |n| &n.drivers);
        drivers.iter().filter(|d| d.by.is_pin()).map(|d| d.by.to_string()).collect()
    }
}
