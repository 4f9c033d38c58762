//! What can be done at the contacts from where the card stands: moves, pulses, several at a time.
use std::collections::BTreeSet;

use super::action::{Action, BITS, base};
use super::bench::Bench;
use super::{Expect, Row};
use gluewright_kernel::circuit::{Direction, Label, Polarity};
use gluewright_kernel::machine::ternary::Ternary;
use gluewright_kernel::prove::{Assumption, Restriction};

/// With at most so many things to change all pairs of them are tried.
const PAIRS: usize = 12;
/// So many larger changes are drawn for each way.
const DRAWN: usize = 40;
/// With more things to change than this the rest is left alone.
const MOVES: usize = 80;

/// The contacts, and what the board does with them.
pub(super) struct Contacts<'a> {
    /// The contacts.
    pub(super) rows: &'a [Row],
    /// The original's port of each.
    pub(super) ports: &'a [usize],
    /// What the board does at no time.
    pub(super) assumptions: &'a [&'a Assumption],
    /// What the board does in no event.
    pub(super) restrictions: &'a [Restriction],
    /// Contacts that change together.
    pub(super) groups: &'a [Vec<Label>],
}

impl<'a> Contacts<'a> {
    pub(super) fn port(&self, row: usize) -> usize {
        self.ports.get(row).copied().unwrap_or(usize::MAX)
    }

    pub(super) fn clocks(&self, bench: &Bench<'_>, row: usize) -> bool {
        self.rows.get(row).is_some_and(|r| r.polarity == Polarity::Clock)
            && bench.machine().clocking_ports().contains(&self.port(row))
    }

    pub(super) fn group(&self, row: usize) -> Option<&'a [Label]> {
        let label = &self.rows.get(row)?.label;
        self.groups.iter().map(Vec::as_slice).find(|g| g.contains(label))
    }

    pub(super) fn pulses(&self, bench: &Bench<'_>) -> Vec<Action> {
        let clocks = (0..self.rows.len()).filter(|&row| self.clocks(bench, row) && self.group(row).is_none());
        clocks.filter_map(|row| Some(Action::Pulse { row, first: !bench.applied(self.port(row))? })).collect()
    }

    /// One thing that can be done, drawn: a pulse as often as anything else, a contact that resets seldom. A long word of data
    /// takes the bits of its own numbers, true and complemented, so that any two of its wires differ both ways at some time
    /// (counting sequence: W. H. Kautz, *Testing for Faults in Wiring Networks*, IEEE Transactions on Computers C-23, 1974; from
    /// memory).
    /// `resets` are contacts that reset, each with its level at rest.
    pub(super) fn drawn_single(&self, bench: &Bench<'_>, resets: &[(usize, bool)], draw: &mut Draw) -> Option<Action> {
        let counting: Vec<u64> = (0..6)
            .map(|bit| (0..64).filter(|n| n >> bit & 1 == 1).fold(0u64, |word, n| word | 1 << n))
            .flat_map(|word| [word, !word])
            .chain([u64::MAX, 0])
            .collect();
        let pulses = self.pulses(bench);
        let of_word = |action: &Action| match action {
            Action::Put { rows, together: false } => {
                rows.first().is_some_and(|&(row, _)| base(self.rows, row).is_some())
            }
            _ => false,
        };
        let (words, others): (Vec<Action>, Vec<Action>) = self.moves(bench, &counting).into_iter().partition(of_word);
        let asserted = |&&(row, idle): &&(usize, bool)| bench.applied(self.port(row)) == Some(!idle);
        if let Some(&(row, idle)) = resets.iter().find(asserted)
            && draw.below(2) == 0
        {
            return Some(Action::Put { rows: vec![(row, idle)], together: false });
        }
        let kinds = [&pulses, &pulses, &others, &others, &words];
        let kinds: Vec<&Vec<Action>> = kinds.into_iter().filter(|kind| !kind.is_empty()).collect();
        let kind = kinds.get(draw.below(kinds.len()))?;
        let action = kind.get(draw.below(kind.len()))?.clone();
        let asserts = match &action {
            Action::Put { rows, .. } => rows.iter().any(|&(row, high)| resets.contains(&(row, !high))),
            Action::Pulse { .. } => false,
        };
        (!asserts || draw.below(8) == 0).then_some(action)
    }

    /// What can change besides clocks: single contacts, whole groups, and words of data; long ones in these patterns.
    fn moves(&self, bench: &Bench<'_>, long: &[u64]) -> Vec<Action> {
        let mut moves = Vec::new();
        let mut words: Vec<(String, Vec<usize>)> = Vec::new();
        for (row, r) in self.rows.iter().enumerate() {
            let free = match r.direction {
                Direction::Input => true,
                // never put a level on what the card may drive
                Direction::InOut => matches!(bench.shows(self.port(row)), Expect::Floating(_)),
                Direction::Output => false,
            };
            if !free || self.clocks(bench, row) {
                continue;
            }
            if let Some(group) = self.group(row) {
                let members: Vec<usize> = (0..self.rows.len())
                    .filter(|&i| self.rows.get(i).is_some_and(|r| group.contains(&r.label)))
                    .collect();
                if members.first() == Some(&row) {
                    let flip = |&i: &usize| Some((i, !bench.applied(self.port(i))?));
                    let rows: Vec<(usize, bool)> = members.iter().filter_map(flip).collect();
                    moves.push(Action::Put { rows, together: true });
                }
                continue;
            }
            match r.name.split_once('[') {
                Some((base, _)) if r.polarity == Polarity::Data => match words.iter_mut().find(|(b, _)| b == base) {
                    Some((_, members)) => members.push(row),
                    None => words.push((base.to_owned(), vec![row])),
                },
                _ => {
                    let now = bench.applied(self.port(row)).unwrap_or(false);
                    moves.push(Action::Put { rows: vec![(row, !now)], together: false });
                }
            }
        }
        for (_, members) in words {
            let values = u32::try_from(members.len()).ok().filter(|_| members.len() <= BITS).map(|n| 1_u64 << n);
            let patterns: Vec<u64> = match values {
                Some(n) => (0..n).collect(),
                None => long.to_vec(),
            };
            for pattern in patterns {
                let bits = members.iter().enumerate().map(|(i, &row)| (row, pattern >> (i % 64) & 1 == 1));
                // of a short word what stays is not said again; a long one is told whole, as it is read
                let told =
                    |&(row, high): &(usize, bool)| members.len() > BITS || bench.applied(self.port(row)) != Some(high);
                let rows: Vec<(usize, bool)> = bits.filter(told).collect();
                if !rows.is_empty() {
                    moves.push(Action::Put { rows, together: false });
                }
            }
        }
        moves.truncate(MOVES);
        moves
    }

    pub(super) fn candidates(&self, bench: &Bench<'_>, draw: &mut Draw) -> Vec<Vec<Action>> {
        // a longer word takes every other bit, all bits, none
        let long = [0x5555_5555_5555_5555, 0xAAAA_AAAA_AAAA_AAAA, u64::MAX, 0];
        let (moves, pulses) = (self.moves(bench, &long), self.pulses(bench));
        let mut puts: Vec<Vec<Action>> = vec![Vec::new()];
        puts.extend(moves.iter().map(|m| vec![m.clone()]));
        if moves.len() <= PAIRS {
            for (i, first) in moves.iter().enumerate() {
                let others = moves.iter().skip(i + 1).filter(|second| !first.meets(second, self.rows));
                puts.extend(others.map(|second| vec![first.clone(), second.clone()]));
            }
        }
        puts.extend((0..DRAWN).filter_map(|_| self.drawn(&moves, draw)));
        let mut all = Vec::new();
        for put in puts {
            for pulse in &pulses {
                all.push(put.iter().cloned().chain([pulse.clone()]).collect());
            }
            if !put.is_empty() {
                all.push(put);
            }
        }
        all
    }

    /// Up to five moves that don't meet, in the order of the contacts.
    fn drawn(&self, moves: &[Action], draw: &mut Draw) -> Option<Vec<Action>> {
        let wanted = 2 + draw.below(4);
        let mut chosen: BTreeSet<usize> = BTreeSet::new();
        for _ in 0..wanted {
            let index = draw.below(moves.len().max(1));
            let candidate = moves.get(index)?;
            let free = chosen.iter().filter_map(|&i| moves.get(i)).all(|m| !m.meets(candidate, self.rows));
            if free {
                chosen.insert(index);
            }
        }
        (chosen.len() > 1).then(|| chosen.iter().filter_map(|&i| moves.get(i).cloned()).collect())
    }

    /// Does it all, as long as nothing unknown happens, no assumption breaks, nothing fights, and nobody puts a level on
    /// what the card drives.
    pub(super) fn try_all(&self, actions: &[Action], bench: &mut Bench<'_>) -> bool {
        self.tries(actions, bench, true)
    }

    /// The same where something unknown may happen: nothing is expected then of what hangs on it.
    pub(super) fn try_whatever_comes(&self, actions: &[Action], bench: &mut Bench<'_>) -> bool {
        self.tries(actions, bench, false)
    }

    fn tries(&self, actions: &[Action], bench: &mut Bench<'_>, is_known: bool) -> bool {
        let fights = bench.fights();
        for event in actions.iter().flat_map(Action::events) {
            let two_way = |row: usize| self.rows.get(row).is_some_and(|r| r.direction == Direction::InOut);
            let taken = |row: usize| two_way(row) && !matches!(bench.shows(self.port(row)), Expect::Floating(_));
            if event.iter().any(|&(row, _)| taken(row)) {
                return false;
            }
            let change: Vec<(usize, Ternary)> = event.iter().map(|&(row, level)| (self.port(row), level)).collect();
            let before = (!self.restrictions.is_empty()).then(|| bench.clone());
            let went = if is_known { bench.event(&change) } else { bench.event_whatever_comes(&change) };
            if !went || bench.fights() > fights {
                return false;
            }
            if let Some(before) = before
                && self.restrictions.iter().any(|r| bench.keeps_restriction(r, &before) != Ternary::High)
            {
                return false;
            }
            if self.assumptions.iter().any(|a| bench.keeps(a) != Ternary::High) {
                return false;
            }
        }
        true
    }
}

/// Draws that are the same each time (a linear congruence; constants of Knuth's MMIX, from memory).
pub(super) struct Draw(pub(super) u64);

impl Draw {
    /// A number below this one, which is not zero.
    pub(super) fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % limit.max(1)
    }
}
