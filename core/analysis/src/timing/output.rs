//! An output simulated with its sheets' longest delays: which changes are scheduled, and when they arrive.
use super::Edge;
use super::arcs::{Arcs, DelayArc};
use super::influence::Way;
use super::level::Level;
use super::timed::{Cause, Picoseconds};
use gluewright_kernel::figures::Figure;
use gluewright_kernel::machine::{Machine, Point};

/// A scheduled change of an output.
#[derive(Clone, Copy)]
pub(super) struct Pending {
    pub(super) at: Picoseconds,
    /// It turns the output on or off.
    pub(super) turns: bool,
    pub(super) lanes: u64,
    pub(super) drive: u64,
    pub(super) level: u64,
    pub(super) clocked: u64,
    pub(super) cause: Option<Cause>,
}

/// An output of a part.
pub(super) struct Output {
    pub(super) port: usize,
    pub(super) net: usize,
    /// It pulls low and nothing else: it is on at all times then, and low while it pulls.
    pub(super) pulls: bool,
    /// Its arcs with the port that each comes from.
    pub(super) arcs: Vec<(usize, usize)>,
    pub(super) drive: u64,
    pub(super) level: u64,
    /// Whether it is on, or its level, depends on what power-up gave: within an event it only grows.
    pub(super) any: u64,
    pub(super) pending: Vec<Pending>,
}

impl Output {
    /// Whether it is on, its level, and whether that depends on what power-up gave.
    pub(super) fn shown(&self, machine: &Machine, point: &Point<Level>) -> (u64, u64, u64) {
        let (drive, level) = machine.shown(point, self.port);
        match self.pulls {
            true => (u64::MAX, !drive.high, drive.any),
            false => (drive.high, level.high & drive.high, drive.any | (drive.high & level.any)),
        }
    }

    /// Schedules changes, and cancels those that they overtake; returns when they arrive.
    pub(super) fn schedule(
        &mut self,
        now: Picoseconds,
        (drive, level): (u64, u64),
        edges: &[(usize, [u64; 2])],
        arcs: &Arcs,
        came: &impl Fn(usize) -> (u64, u64),
    ) -> Vec<Picoseconds> {
        // no sheet says how long a driver takes to turn whose level changes meanwhile
        let through = |arc: usize| arcs.delays.get(arc).is_some_and(|a| matches!(a.way, Way::Through | Way::Clocked));
        let its = |port: usize| self.arcs.iter().any(|&(arc, from)| from == port && through(arc));
        let stirred = edges.iter().filter(|(port, _)| its(*port)).fold(0, |all, (_, [r, f])| all | r | f);
        let mut open = Vec::new();
        for p in self.pending.iter_mut().filter(|p| p.turns && p.lanes & stirred != 0) {
            open.push(Pending { lanes: p.lanes & stirred, cause: None, ..*p });
            p.lanes &= !stirred;
        }
        self.pending.extend(open);
        let (mut to_drive, mut to_level) = (self.drive, self.level);
        for p in &self.pending {
            to_drive = (to_drive & !p.lanes) | (p.drive & p.lanes);
            to_level = (to_level & !p.lanes) | (p.level & p.lanes);
        }
        let moved = (to_drive ^ drive) | (to_level ^ level);
        self.pending.iter_mut().for_each(|p| p.lanes &= !moved);
        self.pending.retain(|p| p.lanes != 0);
        if moved == 0 {
            return Vec::new();
        }
        let (on, high) = (self.drive, self.level);
        let stays = on & drive;
        let kinds = [
            (None, Edge::Rise, stays & !high & level),
            (None, Edge::Fall, stays & high & !level),
            (Some(Way::On), Edge::Rise, !on & drive & level),
            (Some(Way::On), Edge::Fall, !on & drive & !level),
            (Some(Way::Off), Edge::Rise, on & !drive & high),
            (Some(Way::Off), Edge::Fall, on & !drive & !high),
        ];
        let mut due = Vec::new();
        for (way, edge, lanes) in kinds {
            let mut left = lanes & moved;
            if left == 0 {
                continue;
            }
            let fits = |w: Way| way.map_or(matches!(w, Way::Through | Way::Clocked), |way| way == w);
            let its = self.arcs.iter().filter_map(|&(i, port)| Some((i, port, arcs.delays.get(i)?)));
            let its = its.filter(|(_, _, arc)| fits(arc.way));
            let mut ways: Vec<_> = its.map(|(i, port, arc)| (picoseconds(arc, edge), i, port, arc)).collect();
            // of inputs that changed at once the fastest decides
            ways.sort_by_key(|&(delay, i, ..)| (delay, i));
            for (delay, i, port, arc) in ways {
                let Some((_, by_edge)) = edges.iter().find(|(p, _)| *p == port) else { continue };
                let from = Edge::BOTH.into_iter().zip(by_edge).filter(|(from, _)| arc.edges.has(*from, edge));
                let lanes = from.fold(0, |all, (_, lanes)| all | lanes) & left;
                if lanes == 0 {
                    continue;
                }
                left &= !lanes;
                let (clocked, unsure) = came(arc.from);
                let clocked = if arc.way == Way::Clocked { lanes } else { clocked & lanes };
                let (at, turns, cause) = (now + delay, way.is_some(), Some(Cause { arc: i, when: now }));
                let sure = if turns { lanes & !stirred } else { lanes } & !unsure;
                for (lanes, cause) in [(sure, cause), (lanes & !sure, None)] {
                    self.pending.push(Pending { at, turns, lanes, drive, level, clocked, cause });
                }
                due.push(at);
            }
            if left != 0 {
                let turns = way.is_some();
                self.pending.push(Pending { at: now, turns, lanes: left, drive, level, clocked: 0, cause: None });
                due.push(now);
            }
        }
        due
    }
}

/// The delay of an arc to this edge; nought where no sheet gives one.
fn picoseconds(arc: &DelayArc, edge: Edge) -> Picoseconds {
    in_picoseconds(&arc.sure[edge.index()])
}

/// A figure; nought where no sheet gives one.
pub(super) fn in_picoseconds(figure: &Option<Figure>) -> Picoseconds {
    figure.as_ref().map_or(0, |f| (f.value * 1000.0).round() as Picoseconds)
}
