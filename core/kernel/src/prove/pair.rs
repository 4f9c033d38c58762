//! Two machines side by side, joined at their contacts.
use std::collections::{HashMap, HashSet};

use crate::circuit::{Label, Pull};
use crate::limit::Limit;
use crate::machine::{Algebra, Desk, Freedom, Lanes, Limits, Machine, Passed, Point, Stepped, Symbolic, View};
use crate::terms::{Term, Terms};

use super::{Assumption, Restriction};

/// Phases that are followed at first, at most.
const MOST_PHASES: usize = 64;

/// A contact of either side.
#[derive(Clone, Debug)]
pub(super) struct Joined {
    pub(super) label: Label,
    pub(super) name: String,
    pub(super) ports: [Option<usize>; 2],
    /// Whether the board may put either level on it and it matters which: a side reads it, or an assumption, a
    /// restriction or a group names it.
    pub(super) is_free: bool,
    /// How it is compared.
    pub(super) compared: Compared,
    pulls: [Pull; 2],
}

/// How a contact is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Compared {
    /// Phase by phase.
    Throughout,
    /// Only before an event and after it.
    Settled,
    /// Not at all: what it depends on is not traced.
    Not,
}

/// Contacts that change at one moment.
#[derive(Clone, Debug)]
pub(super) struct Event {
    pub(super) contacts: Vec<usize>,
    /// More often than others, when events are drawn: it clocks something.
    pub(super) is_clock: bool,
    /// Less often: it clears or presets something, and what follows must have time to show.
    pub(super) is_force: bool,
}

/// The original and the replacement: side 0 and side 1.
#[derive(Clone, Debug)]
pub(super) struct Pair {
    pub(super) machines: [Machine; 2],
    pub(super) contacts: Vec<Joined>,
    pub(super) events: Vec<Event>,
    /// What holds at every moment: over contacts that the board alone drives.
    pub(super) assumptions: Vec<Assumption>,
    /// What the board never makes untrue: over contacts that the card may drive as well.
    pub(super) reactions: Vec<Assumption>,
    pub(super) restrictions: Vec<Restriction>,
    pub(super) limits: Limits,
    /// When everything that is done with it must end.
    pub(super) limit: Limit,
    /// What the replacement's unknowns become: free, so that it must hold either way, but for a circuit beside itself.
    pub(super) against: Freedom,
    /// Whether what delays decide in the original is against the proof too: it must hold either way.
    pub(super) hostile: bool,
    /// The contacts that an assumption or a restriction names and that a side may drive.
    pub(super) answers: Vec<usize>,
    /// The contact of each label.
    at: HashMap<Label, usize>,
    /// For each side, the contact of each port.
    contact_of: [Vec<Option<usize>>; 2],
}

pub(super) const ORIGINAL: usize = 0;
pub(super) const REPLACEMENT: usize = 1;

/// What a contact shows over one event, the first before the event.
pub(super) type Seen<V> = Vec<(V, V)>;

impl Pair {
    pub(super) fn new(
        original: Machine,
        replacement: Machine,
        assumptions: Vec<Assumption>,
        restrictions: Vec<Restriction>,
        groups: &[Vec<Label>],
    ) -> Self {
        let machines = [original, replacement];
        let mut labels: Vec<Label> = machines.iter().flat_map(|m| m.ports().iter().map(|p| p.label.clone())).collect();
        labels.sort();
        labels.dedup();
        let mut named: Vec<Label> = groups.iter().flatten().cloned().collect();
        assumptions.iter().for_each(|a| a.holds.contacts(&mut named));
        restrictions.iter().for_each(|r| r.all_contacts(&mut named));
        let named: HashSet<Label> = named.into_iter().collect();
        let port_of = [0, 1].map(|s: usize| {
            let ports = machines[s].ports().iter().enumerate();
            // the first of a label, should there be two
            ports.rev().map(|(i, p)| (p.label.clone(), i)).collect::<HashMap<Label, usize>>()
        });
        let mut contacts: Vec<Joined> = labels
            .into_iter()
            .map(|label| {
                let ports = [0, 1].map(|s: usize| port_of[s].get(&label).copied());
                let port = |s: usize| ports[s].and_then(|p| machines[s].ports().get(p));
                let name = port(REPLACEMENT).or(port(ORIGINAL)).map_or(String::new(), |p| p.name.clone());
                let is_read = (0..2).any(|s| ports[s].is_some_and(|p| machines[s].reads_outside(p)));
                let held = (0..2).any(|s| ports[s].is_some_and(|p| machines[s].always_drives(p)));
                let is_free = is_read || (named.contains(&label) && !held);
                let pulls = [0, 1].map(|s| port(s).map_or(Pull::None, |p| p.pull));
                Joined { label, name, ports, is_free, compared: Compared::Throughout, pulls }
            })
            .collect();
        let at: HashMap<Label, usize> = contacts.iter().enumerate().map(|(i, c)| (c.label.clone(), i)).collect();
        // what changes together with a contact that is read has levels of its own too: an assumption may bear on both
        for group in groups {
            let of: Vec<usize> = group.iter().filter_map(|label| at.get(label).copied()).collect();
            let is_read = of.iter().any(|&i| contacts[i].is_free);
            for i in of {
                contacts[i].is_free |= is_read;
            }
        }
        let mut contact_of = [0, 1].map(|s: usize| vec![None; machines[s].ports().len()]);
        for (i, c) in contacts.iter().enumerate() {
            for (of, port) in contact_of.iter_mut().zip(c.ports) {
                if let Some(slot) = port.and_then(|p| of.get_mut(p)) {
                    *slot = Some(i);
                }
            }
        }
        let mut grouped: Vec<Vec<usize>> =
            groups.iter().map(|g| g.iter().filter_map(|l| at.get(l).copied()).collect()).collect();
        for group in &mut grouped {
            group.sort_unstable();
            group.dedup();
        }
        let mut is_grouped = vec![false; contacts.len()];
        for &c in grouped.iter().flatten() {
            is_grouped[c] = true;
        }
        for (i, c) in contacts.iter().enumerate() {
            if c.is_free && !is_grouped[i] {
                grouped.push(vec![i]);
            }
        }
        let reaching = |ports: &dyn Fn(&Machine) -> Vec<usize>| {
            let mut reach = vec![false; contacts.len()];
            for (of, machine) in contact_of.iter().zip(&machines) {
                for c in ports(machine).into_iter().filter_map(|p| of.get(p).copied().flatten()) {
                    reach[c] = true;
                }
            }
            reach
        };
        let (clocks, forces) = (reaching(&Machine::clocking_ports), reaching(&Machine::forcing_ports));
        let events = grouped
            .into_iter()
            .filter(|g| !g.is_empty())
            .map(|group| {
                let is_clock = group.iter().any(|&i| clocks[i]);
                let is_force = !is_clock && group.iter().any(|&i| forces[i]);
                Event { contacts: group, is_clock, is_force }
            })
            .collect();
        // what acts in turn by structure needs as many rounds; more are tried where a side does not come to rest
        let depth = machines.iter().map(Machine::depth).max().unwrap_or(0);
        let limits = Limits { phases: (depth + 2).clamp(4, MOST_PHASES), iterations: 6 };
        let may_drive = |&c: &usize| {
            let sides = contacts[c].ports.iter().zip(&machines);
            sides.into_iter().any(|(port, m)| port.is_some_and(|p| m.may_drive(p)))
        };
        let answers: Vec<usize> =
            (0..contacts.len()).filter(|&c| named.contains(&contacts[c].label)).filter(may_drive).collect();
        let reacts = |a: &Assumption| {
            let mut names = Vec::new();
            a.holds.contacts(&mut names);
            names.iter().any(|l| at.get(l).is_some_and(|c| answers.contains(c)))
        };
        let (reactions, assumptions) = assumptions.into_iter().partition(reacts);
        Pair {
            machines,
            contacts,
            events,
            assumptions,
            reactions,
            restrictions,
            limits,
            limit: Limit::default(),
            against: Freedom::Free,
            hostile: false,
            answers,
            at,
            contact_of,
        }
    }

    /// The contact of a label.
    pub(super) fn contact_at(&self, label: &Label) -> Option<usize> {
        self.at.get(label).copied()
    }

    /// Whether a side drives a contact at all times.
    pub(super) fn is_held(&self, contact: usize) -> bool {
        let ports = self.contacts.get(contact).map_or([None; 2], |c| c.ports);
        ports.iter().zip(&self.machines).any(|(port, m)| port.is_some_and(|p| m.always_drives(p)))
    }

    /// What a contact is called, by either side.
    pub(super) fn names_of<'p>(&'p self, contact: &'p Joined) -> Vec<&'p str> {
        let ports = contact.ports.iter().zip(&self.machines);
        let mut names: Vec<&str> =
            ports.filter_map(|(port, m)| m.ports().get((*port)?)).map(|p| p.name.as_str()).collect();
        names.dedup();
        names
    }

    /// One side's levels outside, from one level a contact.
    pub(super) fn outside<V: Copy>(&self, side: usize, levels: &[V], low: V) -> Vec<V> {
        let mut outside = vec![low; self.machines[side].ports().len()];
        for (c, &level) in self.contacts.iter().zip(levels) {
            if let Some(p) = c.ports[side] {
                outside[p] = level;
            }
        }
        outside
    }

    pub(super) fn step<A: Algebra>(
        &self,
        algebra: &mut A,
        side: usize,
        from: &Point<A::Value>,
        change: &[(usize, A::Value)],
        limits: Limits,
    ) -> Stepped<A::Value> {
        self.machines[side].step(algebra, from, &self.ported(side, change), limits)
    }

    /// A step in place.
    pub(super) fn pass<A: Algebra>(
        &self,
        algebra: &mut A,
        side: usize,
        (desk, point): (&mut Desk<A::Value>, &mut Point<A::Value>),
        change: &[(usize, A::Value)],
        limits: Limits,
    ) -> Passed<A::Value> {
        self.machines[side].pass(algebra, desk, point, &self.ported(side, change), limits)
    }

    fn ported<V: Copy>(&self, side: usize, change: &[(usize, V)]) -> Vec<(usize, V)> {
        change.iter().filter_map(|&(c, v)| self.contacts[c].ports[side].map(|p| (p, v))).collect()
    }

    /// Whether the board may do anything.
    pub(super) fn is_unconstrained(&self) -> bool {
        self.assumptions.is_empty() && self.reactions.is_empty() && self.restrictions.is_empty()
    }

    /// Whether these levels keep the assumptions.
    pub(super) fn allowed<A: Algebra>(&self, algebra: &mut A, levels: &[A::Value]) -> A::Value {
        let mut all = algebra.constant(true);
        for a in &self.assumptions {
            let level = |l: &Label| self.at.get(l).and_then(|&i| levels.get(i).copied());
            let holds = a.holds.value(algebra, &level);
            all = algebra.and(all, holds);
        }
        all
    }

    /// What one side shows at a settled point at the contacts on which the board reacts: contact, driven, level.
    pub(super) fn card<V: Copy>(&self, side: usize, point: &Point<V>) -> Vec<(usize, V, V)> {
        let shown = |&c: &usize| {
            let (drive, level) = self.machines[side].shown(point, self.contacts[c].ports[side]?);
            Some((c, drive, level))
        };
        self.answers.iter().filter_map(shown).collect()
    }

    /// The levels on the wires: what the card drives, else what the board puts there.
    fn wires<A: Algebra>(
        &self,
        algebra: &mut A,
        levels: &[A::Value],
        card: &[(usize, A::Value, A::Value)],
    ) -> Vec<A::Value> {
        let mut wires = levels.to_vec();
        for &(c, drive, level) in card {
            if let Some(wire) = wires.get_mut(c) {
                *wire = algebra.choose(drive, level, *wire);
            }
        }
        wires
    }

    /// Whether one event may lead from these levels to those: the assumptions hold after it, it makes none untrue that
    /// bears on the card, and it is one that the board does. `card` is what the card [shows](Pair::card) before the event:
    /// what it answers comes later.
    pub(super) fn may<A: Algebra>(
        &self,
        algebra: &mut A,
        before: &[A::Value],
        after: &[A::Value],
        card: &[(usize, A::Value, A::Value)],
    ) -> A::Value {
        let mut all = self.allowed(algebra, after);
        if self.reactions.is_empty() && self.restrictions.is_empty() {
            return all;
        }
        let wired = [self.wires(algebra, before, card), self.wires(algebra, after, card)];
        let on = |levels: &[A::Value], l: &Label| self.at.get(l).and_then(|&i| levels.get(i).copied());
        let wires: [&dyn Fn(&Label) -> Option<A::Value>; 2] = [&|l| on(&wired[0], l), &|l| on(&wired[1], l)];
        for a in &self.reactions {
            let [held, holds] = wires.map(|wires| a.holds.value(algebra, &wires));
            let broken = algebra.not(held);
            let keeps = algebra.or(broken, holds);
            all = algebra.and(all, keeps);
        }
        for r in &self.restrictions {
            let keeps = r.keeps(algebra, [&|l| on(before, l), &|l| on(after, l)], wires);
            all = algebra.and(all, keeps);
        }
        all
    }

    /// What a contact shows on one side over a step, without immediate repetitions of the same value.
    pub(super) fn seen<V: Copy + PartialEq>(
        &self,
        side: usize,
        contact: usize,
        before: &Point<V>,
        views: &[View<V>],
        low: V,
    ) -> Seen<V> {
        let compared = self.contacts[contact].compared;
        let Some(port) = self.contacts[contact].ports[side].filter(|_| compared != Compared::Not) else {
            return vec![(low, low)];
        };
        let mut seen = vec![self.machines[side].shown(before, port)];
        for view in views {
            for &(p, drive, level) in &view.changed {
                if p == port && seen.last() != Some(&(drive, level)) {
                    seen.push((drive, level));
                }
            }
        }
        if compared == Compared::Settled && seen.len() > 2 {
            seen.drain(1..seen.len() - 1);
        }
        seen
    }

    /// Lets these contacts of one side change too, though no settled level depends on them: what they move may still pulse.
    /// What the side drives all the time the board can't change.
    pub(super) fn moves(&mut self, side: usize, ports: impl IntoIterator<Item = usize>) {
        for port in ports {
            if self.machines[side].always_drives(port) {
                continue;
            }
            let Some(contact) = self.contact_of[side].get(port).copied().flatten() else { continue };
            let Some(joined) = self.contacts.get_mut(contact) else { continue };
            let is_free = std::mem::replace(&mut joined.is_free, true);
            if !is_free && !self.events.iter().any(|e| e.contacts.contains(&contact)) {
                self.events.push(Event { contacts: vec![contact], is_clock: false, is_force: false });
            }
        }
    }

    /// Leaves a contact out of everything that is compared.
    pub(super) fn leave_out(&mut self, contact: usize) {
        self.contacts[contact].compared = Compared::Not;
        self.contacts[contact].pulls = [Pull::None; 2];
    }

    /// Whether a contact is compared phase by phase.
    pub(super) fn is_compared_throughout(&self, contact: usize) -> bool {
        self.contacts.get(contact).is_some_and(|c| c.compared == Compared::Throughout)
    }

    /// Whether a contact is left out of everything that is compared.
    pub(super) fn is_left_out(&self, contact: usize) -> bool {
        self.contacts.get(contact).is_none_or(|c| c.compared == Compared::Not)
    }

    /// The same pair, to look at a verdict later.
    pub(super) fn unlimited(&self) -> Pair {
        Pair { limit: Limit::default(), ..self.clone() }
    }

    /// The contacts that may have changed in a step of either side, in order.
    pub(super) fn touched<V>(&self, views: [&[View<V>]; 2]) -> Vec<usize> {
        let mut all: Vec<usize> = views
            .iter()
            .zip(&self.contact_of)
            .flat_map(|(views, of)| {
                let ports = views.iter().flat_map(|v| v.changed.iter().map(|c| c.0));
                ports.filter_map(|p| of.get(p).copied().flatten())
            })
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The lanes in which a contact shows something else on the two sides.
    pub(super) fn apart_at(&self, contact: usize, points: &[Point<u64>; 2]) -> u64 {
        let Some(joined) = self.contacts.get(contact).filter(|c| c.compared != Compared::Not) else { return 0 };
        let shown = |s: usize| joined.ports[s].map_or((0, 0), |p| self.machines[s].shown(&points[s], p));
        let ((d0, l0), (d1, l1)) = (shown(ORIGINAL), shown(REPLACEMENT));
        (d0 ^ d1) | (d0 & (l0 ^ l1))
    }

    /// True where a contact shows the same on both sides at one moment.
    fn same(&self, terms: &mut Terms, contact: usize, (d0, l0): (Term, Term), (d1, l1): (Term, Term)) -> Term {
        let drive = terms.equal(d0, d1);
        let level = terms.equal(l0, l1);
        let floats = if self.contacts[contact].pulls[0] == self.contacts[contact].pulls[1] { !d0 } else { Term::FALSE };
        let level = terms.or(floats, level);
        // a lost pull-up shows when neither side drives
        let shown = terms.or(d0, floats);
        let level = terms.and(level, shown);
        terms.and(drive, level)
    }

    /// True where two sequences are the same without repetitions: some alignment pairs equal with equal throughout.
    pub(super) fn alike(&self, terms: &mut Terms, contact: usize, a: &[(Term, Term)], b: &[(Term, Term)]) -> Term {
        let mut row: Vec<Term> = Vec::with_capacity(b.len());
        for (i, &x) in a.iter().enumerate() {
            let mut next: Vec<Term> = Vec::with_capacity(b.len());
            for (j, &y) in b.iter().enumerate() {
                let reached = if i == 0 && j == 0 {
                    Term::TRUE
                } else {
                    let up = row.get(j).copied().unwrap_or(Term::FALSE);
                    let left = j.checked_sub(1).and_then(|k| next.get(k).copied()).unwrap_or(Term::FALSE);
                    let both = j.checked_sub(1).and_then(|k| row.get(k).copied()).unwrap_or(Term::FALSE);
                    terms.any([up, left, both])
                };
                let same = self.same(terms, contact, x, y);
                next.push(terms.and(reached, same));
            }
            row = next;
        }
        row.last().copied().unwrap_or(Term::TRUE)
    }

    /// Whether the two sides pull a contact differently while nobody drives it.
    pub(super) fn pull_lost(&self, contact: usize) -> bool {
        self.contacts[contact].pulls[0] != self.contacts[contact].pulls[1]
    }

    /// Rounds that suffice for concrete runs.
    pub(super) fn ample(&self) -> Limits {
        let of_each = self.machines.iter().map(Limits::ample);
        of_each.max_by_key(|limits| limits.phases).unwrap_or(self.limits)
    }

    /// Bits at power-up for 64 runs: what is declared, and `free` for the rest.
    pub(super) fn starts<V>(
        &self,
        side: usize,
        mut constant: impl FnMut(bool) -> V,
        mut free: impl FnMut(usize) -> V,
    ) -> Vec<V> {
        self.machines[side]
            .cells()
            .iter()
            .enumerate()
            .map(|(i, c)| match c.start {
                Some(v) => constant(v),
                None => free(i),
            })
            .collect()
    }

    /// A concrete machine at rest from a start.
    pub(super) fn awake(&self, side: usize, levels: &[u64], cells: &[u64]) -> Stepped<u64> {
        let mut lanes = Lanes::default();
        let outside = self.outside(side, levels, 0);
        self.machines[side].power_up(&mut lanes, &outside, cells, self.ample())
    }

    /// A symbolic machine at rest from a start.
    pub(super) fn awaken(
        &self,
        algebra: &mut Symbolic<'_>,
        side: usize,
        levels: &[Term],
        cells: &[Term],
    ) -> Stepped<Term> {
        let outside = self.outside(side, levels, Term::FALSE);
        self.machines[side].power_up(algebra, &outside, cells, self.limits)
    }
}
