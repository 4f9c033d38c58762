//! Likely register correspondence from next-state functions alone: colour refinement over drawn words.
//!
//! All cells of one colour are given the same drawn words, and a cell's next colour tells what its clock, data, clear and
//! preset evaluate to. Cells that still share a colour are distinguished by what they change: at which contacts, and in cells
//! of which colour. (Signatures of registers: Burch and Singhal, "Robust latch mapping for combinational equivalence
//! checking", 1998.)
use std::collections::BTreeMap;

use crate::machine::{Lanes, Point};
use crate::random::mixed;

use super::candidates::Partner;
use super::draw::Draw;
use super::pair::{ORIGINAL, Pair, REPLACEMENT};

/// Words of drawn levels that distinguish functions.
const WORDS: usize = 4;

/// The most cells of one side that are distinguished by what they change.
const MOST: usize = 256;

/// The cells of the original, each with the one of the replacement of the same colour: of several, in their order.
pub(super) fn partners(pair: &Pair, draw: &mut Draw) -> Vec<Partner> {
    let levels: Option<Vec<Vec<u64>>> = (0..WORDS).map(|_| draw.levels(pair)).collect();
    let Some(levels) = levels else { return Vec::new() };
    let mut colours = [0, 1].map(|side: usize| vec![0u64; pair.machines[side].cells().len()]);
    loop {
        refine(pair, &levels, &mut colours);
        let known = count(&colours);
        for (side, colours) in colours.iter_mut().enumerate() {
            by_effect(pair, side, &levels[0], colours);
        }
        if count(&colours) == known || pair.limit.over().is_some() {
            break;
        }
    }
    let mut of: BTreeMap<u64, [Vec<usize>; 2]> = BTreeMap::new();
    for (side, colours) in colours.iter().enumerate() {
        colours.iter().enumerate().for_each(|(cell, &colour)| of.entry(colour).or_default()[side].push(cell));
    }
    let alike = of.into_values().filter(|[a, b]| a.len() == b.len());
    alike.flat_map(|[a, b]| a.into_iter().zip(b)).map(|(o, r)| (o, r, false)).collect()
}

/// How many colours each side has.
fn count(colours: &[Vec<u64>; 2]) -> [usize; 2] {
    [ORIGINAL, REPLACEMENT].map(|side| colours[side].iter().collect::<std::collections::BTreeSet<_>>().len())
}

/// One side with these levels, its cells holding the word of their colour.
fn coloured(pair: &Pair, side: usize, word: usize, levels: &[u64], colours: &[u64]) -> Point<u64> {
    let cells: Vec<u64> = colours.iter().map(|&colour| mixed(colour ^ mixed(word as u64 + 1))).collect();
    pair.machines[side].point(&mut Lanes::default(), &pair.outside(side, levels, 0), &cells)
}

/// Colours by what cells take, until no more are told apart.
fn refine(pair: &Pair, levels: &[Vec<u64>], colours: &mut [Vec<u64>; 2]) {
    let mut known = count(colours);
    while pair.limit.over().is_none() {
        for (side, colours) in colours.iter_mut().enumerate() {
            let mut next = colours.clone();
            for (word, levels) in levels.iter().enumerate() {
                let point = coloured(pair, side, word, levels, colours);
                for (cell, colour) in next.iter_mut().enumerate() {
                    *colour = pair.machines[side].fed(&point, cell).fold(mixed(*colour), |all, fed| mixed(all ^ fed));
                }
            }
            *colours = next;
        }
        let now = count(colours);
        if now == known {
            break;
        }
        known = now;
    }
}

/// Tells cells of one colour apart by what each changes by itself.
fn by_effect(pair: &Pair, side: usize, levels: &[u64], colours: &mut [u64]) {
    let machine = &pair.machines[side];
    let mut times: BTreeMap<u64, usize> = BTreeMap::new();
    colours.iter().for_each(|&colour| *times.entry(colour).or_default() += 1);
    let tied: Vec<usize> = (0..colours.len()).filter(|&c| times.get(&colours[c]).is_some_and(|&n| n > 1)).collect();
    if tied.len() > MOST {
        return;
    }
    let before = coloured(pair, side, 0, levels, colours);
    let (outside, mut cells) = (pair.outside(side, levels, 0), machine.held(&before));
    let mut next = colours.to_vec();
    for cell in tied {
        cells[cell] = !cells[cell];
        let after = machine.point(&mut Lanes::default(), &outside, &cells);
        cells[cell] = !cells[cell];
        let mut effect = 0u64;
        let mut add = |place: u64, was: u64, is: u64| {
            if was != is {
                effect = effect.wrapping_add(mixed(place ^ mixed(was ^ is)));
            }
        };
        for (c, contact) in pair.contacts.iter().enumerate() {
            let Some(port) = contact.ports[side] else { continue };
            let ((drive, level), (drives, shows)) = (machine.shown(&before, port), machine.shown(&after, port));
            add(mixed(2 * c as u64), drive, drives);
            add(mixed(2 * c as u64 + 1), drive & level, drives & shows);
        }
        for (other, &colour) in colours.iter().enumerate() {
            let fed = machine.fed(&before, other).zip(machine.fed(&after, other)).enumerate();
            fed.for_each(|(place, (was, is))| add(mixed(colour ^ place as u64), was, is));
        }
        next[cell] = mixed(colours[cell] ^ mixed(effect));
    }
    colours.copy_from_slice(&next);
}
