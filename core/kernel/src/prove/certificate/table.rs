//! The table of a walk: every place with the states in which the original may be.
use crate::prove::pair::Pair;

use super::form;

/// What a walk visited. Bits of a state: what the cells hold, then what floating nets read.
#[derive(Clone)]
pub(in crate::prove) struct Table {
    /// The contacts whose levels make a place, in the order of the bits of a word.
    pub(in crate::prove) reads: Vec<usize>,
    /// Levels, the replacement's state, the original's states.
    pub(in crate::prove) places: Vec<(u64, u128, Vec<u128>)>,
}

impl Table {
    /// A table with more states of the original than this, counted at every place, is not written.
    pub(in crate::prove) const LARGEST: usize = 400_000;

    pub(super) fn written(&self, pair: &Pair) -> form::Walk {
        let bits = [0, 1].map(|s: usize| {
            let machine = &pair.machines[s];
            let cells = machine.cells().iter().map(|c| c.name.clone());
            cells.chain(machine.floating().iter().cloned()).collect::<Vec<String>>()
        });
        let text = |word: u128, n: usize| (0..n).map(|i| if (word >> i) & 1 == 1 { '1' } else { '0' }).collect();
        let [original, replacement] = [bits[0].len(), bits[1].len()];
        form::Walk {
            contacts: self.reads.iter().map(|&c| pair.contacts[c].label.to_string()).collect(),
            places: self
                .places
                .iter()
                .map(|(levels, state, originals)| {
                    let originals = originals.iter().map(|&o| text(o, original)).collect();
                    (text(u128::from(*levels), self.reads.len()), text(*state, replacement), originals)
                })
                .collect(),
            bits,
        }
    }
}
