//! Longest paths through macrocells that read each other: each path goes round a strongly connected component (Tarjan 1972)
//! once.
use std::collections::{BTreeMap, BTreeSet};

use super::arrival::Arrival;
use gluewright_kernel::graph::cycles;

/// The most paths round a loop that are followed; no practical latch has more gates.
const MOST_WAYS: usize = 20_000;

/// Why there are no times then.
pub(super) const TANGLED: &str =
    "the macrocells read each other in more ways than are followed: the longest way is not known";

/// What is known of the places on the way, and the ways that are being followed.
#[derive(Debug)]
pub(super) struct CyclicPaths<K> {
    /// The loop that a place is in: its first place. Places in no loop are not here.
    loops: BTreeMap<K, K>,
    known: BTreeMap<K, Vec<Arrival>>,
    open: Vec<K>,
    ways: usize,
}

/// What to do at a place.
pub(super) enum Visit {
    /// This reaches it: nothing, where a way meets itself.
    Reached(Vec<Arrival>),
    /// Look further, then [`leave`](CyclicPaths::leave) it.
    Enter,
}

impl<K: Copy + Ord> CyclicPaths<K> {
    /// Over places and what each of them reads.
    pub(super) fn new(reads: &BTreeMap<K, BTreeSet<K>>) -> Self {
        let mut loops = BTreeMap::new();
        for cycle in cycles(reads) {
            loops.extend(cycle.iter().filter_map(|&place| Some((place, *cycle.first()?))));
        }
        CyclicPaths { loops, known: BTreeMap::new(), open: Vec::new(), ways: 0 }
    }

    /// Whether there were more ways than are followed: then the times are too short.
    pub(super) fn is_cut(&self) -> bool {
        self.ways > MOST_WAYS
    }

    pub(super) fn enter(&mut self, place: K) -> Visit {
        if self.open.contains(&place) {
            return Visit::Reached(Vec::new());
        }
        if self.is_on_its_loop(place) {
            // what reaches it over this very way is not wanted, so what is known of it is too much
            self.ways += 1;
            if self.is_cut() {
                return Visit::Reached(Vec::new());
            }
        } else if let Some(known) = self.known.get(&place) {
            return Visit::Reached(known.clone());
        }
        self.open.push(place);
        Visit::Enter
    }

    pub(super) fn leave(&mut self, place: K, arrivals: &[Arrival]) {
        self.open.pop();
        if !self.is_on_its_loop(place) {
            self.known.insert(place, arrivals.to_vec());
        }
    }

    /// Whether the way that is being followed is in the loop of this place.
    fn is_on_its_loop(&self, place: K) -> bool {
        let its = self.loops.get(&place);
        its.is_some() && self.open.iter().any(|open| self.loops.get(open) == its)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn follow(rounds: &mut CyclicPaths<usize>, reads: &BTreeMap<usize, BTreeSet<usize>>, place: usize) {
        if let Visit::Enter = rounds.enter(place) {
            for &other in &reads[&place] {
                follow(rounds, reads, other);
            }
            rounds.leave(place, &[]);
        }
    }

    #[test]
    fn a_tangle_is_said_and_a_few_loops_are_followed() {
        let is_cut = |places: usize| {
            let others = |place: usize| (0..places).filter(|&other| other != place).collect();
            let reads: BTreeMap<usize, BTreeSet<usize>> = (0..places).map(|p| (p, others(p))).collect();
            let mut rounds = CyclicPaths::new(&reads);
            (0..places).for_each(|place| follow(&mut rounds, &reads, place));
            rounds.is_cut()
        };
        assert!(!is_cut(4));
        assert!(is_cut(12));
    }
}
