//! Which macrocell goes into which block, so that every block reads few enough signals: the fewest over all blocks
//! where the search is small enough to say so.
use std::collections::BTreeMap;

use super::Site;
use super::arrange::{Piece, Place, arrange};
use super::globals::Globals;
use super::needs::Needs;
use super::pins::Pins;

/// The most steps of the search.
const STEPS: usize = 60_000;

/// The most arrangements that are tried.
const LEAVES: usize = 400;

/// Words of a set of signals.
const WORDS: usize = 4;

type Set = [u64; WORDS];

fn joined(a: &Set, b: &Set) -> Set {
    std::array::from_fn(|i| a[i] | b[i])
}

fn count(set: &Set) -> usize {
    set.iter().map(|w| w.count_ones() as usize).sum()
}

/// A place for every need.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub(super) places: Vec<Place>,
    /// The most signals that one block reads.
    pub(super) widest: usize,
}

/// Finds places for all needs with at most `limit` signals read in a block.
pub(super) fn partition(needs: &Needs, site: Site<'_>, globals: &Globals, pins: &Pins, limit: usize) -> Option<Found> {
    let mut known: BTreeMap<usize, usize> = BTreeMap::new();
    let mut items = Vec::with_capacity(needs.list.len());
    for (index, need) in needs.list.iter().enumerate() {
        let mut reads: Set = [0; WORDS];
        for variable in globals.block_reads(need) {
            let next = known.len();
            let bit = *known.entry(variable).or_insert(next);
            *reads.get_mut(bit / 64)? |= 1 << (bit % 64);
        }
        let output = need.output.and_then(|o| needs.logic.outputs.get(o));
        let number = output.and_then(|o| o.label.number());
        let piece = Piece { need: index, span: globals.span(need), output: output.is_some(), number };
        let lock = pins.lock(site, index).map(|m| site.blocks.block_of(m) - 1);
        items.push(Item { piece, reads, lock });
    }
    // who is locked or takes much first; then those that read much
    items.sort_by_key(|i| {
        (i.lock.is_none(), std::cmp::Reverse(i.piece.span), std::cmp::Reverse(count(&i.reads)), i.piece.need)
    });
    let size = site.blocks.block.value.max(1);
    let blocks = site.blocks.macrocells.len().div_ceil(size);
    let room = (0..blocks).map(|b| {
        let first = b * size;
        let drives = |s: &usize| pins.can_drive(site, (first + s + 1) as u16, usize::MAX);
        Block { reads: [0; WORDS], free: size, pins: (0..size).filter(drives).count(), pieces: Vec::new() }
    });
    let mut search =
        Search { site, pins, limit, items: &items, blocks: room.collect(), best: None, steps: STEPS, leaves: LEAVES };
    search.go(0);
    let (_, places, widest) = search.best?;
    let places = (0..needs.list.len()).map(|i| places.get(&i).cloned()).collect::<Option<Vec<Place>>>()?;
    Some(Found { places, widest })
}

struct Item {
    piece: Piece,
    reads: Set,
    lock: Option<usize>,
}

#[derive(Clone)]
struct Block {
    reads: Set,
    free: usize,
    pins: usize,
    pieces: Vec<Piece>,
}

struct Search<'a> {
    site: Site<'a>,
    pins: &'a Pins,
    limit: usize,
    items: &'a [Item],
    blocks: Vec<Block>,
    /// Signals over all blocks, places by need, signals of the block that reads most.
    best: Option<(usize, BTreeMap<usize, Place>, usize)>,
    steps: usize,
    leaves: usize,
}

impl Search<'_> {
    fn cost(&self) -> usize {
        self.blocks.iter().map(|b| count(&b.reads)).sum()
    }

    fn go(&mut self, index: usize) {
        if self.steps == 0 || self.best.as_ref().is_some_and(|(least, ..)| self.cost() >= *least) {
            return;
        }
        self.steps -= 1;
        let Some(item) = self.items.get(index) else { return self.leaf() };
        // a pin that is locked for this very need isn't counted as free
        let pin = item.piece.output && item.lock.is_none();
        let mut choices: Vec<(usize, usize)> = Vec::new();
        for (b, block) in self.blocks.iter().enumerate() {
            let reads = count(&joined(&block.reads, &item.reads));
            let fits = reads <= self.limit && block.free >= item.piece.span && (!pin || block.pins > 0);
            if fits && item.lock.is_none_or(|l| l == b) {
                choices.push((reads - count(&block.reads), b));
            }
        }
        choices.sort_unstable();
        for (_, b) in choices {
            let Some(block) = self.blocks.get_mut(b) else { continue };
            let before = block.clone();
            block.reads = joined(&block.reads, &item.reads);
            block.free -= item.piece.span;
            block.pins -= usize::from(pin);
            block.pieces.push(item.piece);
            self.go(index + 1);
            if let Some(block) = self.blocks.get_mut(b) {
                *block = before;
            }
        }
    }

    fn leaf(&mut self) {
        if self.leaves == 0 {
            self.steps = 0;
            return;
        }
        self.leaves -= 1;
        let mut places = BTreeMap::new();
        for (b, block) in self.blocks.iter().enumerate() {
            let first = (b * self.site.blocks.block.value) as u16;
            let Some(arranged) = arrange(self.site, self.pins, first, &block.pieces) else { return };
            places.extend(arranged);
        }
        let widest = self.blocks.iter().map(|b| count(&b.reads)).max().unwrap_or(0);
        self.best = Some((self.cost(), places, widest));
    }
}
