//! Likely register correspondence from single events, for pairs whose runs soon differ.
//!
//! Cells whose partner is known hold the same on both sides, all others hold anything: two cells are likely partners if the
//! same events change both about as often. Each pair found adds a known cell for the rest. (Signatures of registers:
//! Burch and Singhal, "Robust latch mapping for combinational equivalence checking", 1998.)
use crate::machine::{Lanes, Unknown};

use super::candidates::Partner;
use super::draw::Draw;
use super::pair::{ORIGINAL, Pair, REPLACEMENT};

/// Cases drawn for each kind of event in a round, and for one that clocks something. In a case, levels, event and what known
/// cells hold are the same in all lanes.
const CASES: [usize; 2] = [4, 16];

/// Kinds of events in a round, at most.
const KINDS: usize = 48;

/// Rounds at most: each makes use of what the one before found.
const ROUNDS: usize = 12;

/// Pairs of cells that are compared in a round, at most: of larger circuits nothing is found.
const MOST: usize = 1 << 12;

/// What counts against each competing pair must exceed twice what counts against a pair by this much.
const MARGIN: f64 = 8.0;

/// In how many lanes a case moves a cell: of those where it is low, and of those where it is high.
type Deed = [(u32, u32); 2];

/// The cells of the original that `known` leaves without a partner, each with its likely one, if there is one.
pub(super) fn likely(pair: &Pair, known: &[Partner], draw: &mut Draw) -> Vec<Partner> {
    let (mut all, mut found) = (Vec::<Partner>::new(), Vec::new());
    for &(o, r, opposite) in known {
        if all.iter().all(|other| other.0 != o && other.1 != r) {
            all.push((o, r, opposite));
        }
    }
    let [original, replacement] = [0, 1].map(|side: usize| pair.machines[side].cells().len().saturating_sub(all.len()));
    if original * replacement > MOST {
        return found;
    }
    for _ in 0..ROUNDS {
        let more = round(pair, &all, draw);
        if more.is_empty() || pair.limit.over().is_some() {
            break;
        }
        all.extend(&more);
        found.extend(more);
    }
    found
}

/// A drawn bit in all lanes.
fn alike(draw: &mut Draw) -> u64 {
    if draw.word() & 1 == 1 { u64::MAX } else { 0 }
}

fn round(pair: &Pair, known: &[Partner], draw: &mut Draw) -> Vec<Partner> {
    let mut deeds: [Vec<Vec<Deed>>; 2] = [0, 1].map(|side: usize| vec![Vec::new(); pair.machines[side].cells().len()]);
    let every = pair.events.len().div_ceil(KINDS).max(1);
    for event in pair.events.iter().skip(draw.below(every)).step_by(every) {
        for _ in 0..CASES[usize::from(event.is_clock)] {
            if pair.limit.over().is_some() {
                return Vec::new();
            }
            let Some(levels) = draw.levels(pair) else { return Vec::new() };
            let levels: Vec<u64> = levels.into_iter().map(|word| if word & 1 == 1 { u64::MAX } else { 0 }).collect();
            let mut cells = [0, 1].map(|side| pair.starts(side, |v| if v { u64::MAX } else { 0 }, |_| draw.word()));
            for &(o, r, opposite) in known {
                let word = alike(draw);
                cells[ORIGINAL][o] = word;
                cells[REPLACEMENT][r] = if opposite { !word } else { word };
            }
            let awake = [0, 1].map(|side| pair.awake(side, &levels, &cells[side]).point);
            let mut next = levels.clone();
            for &c in &event.contacts {
                next[c] = if event.contacts.len() == 1 { !levels[c] } else { alike(draw) };
            }
            let card = pair.card(REPLACEMENT, &awake[REPLACEMENT]);
            let mut lanes = pair.may(&mut Lanes::default(), &levels, &next, &card);
            let change: Vec<_> = next.into_iter().enumerate().filter(|&(c, word)| word != levels[c]).collect();
            let stepped = [0, 1].map(|side| {
                let mut algebra = Lanes::default();
                let stepped = pair.step(&mut algebra, side, &awake[side], &change, pair.ample());
                let met = algebra.met.iter().filter(|(site, _)| !matches!(site, Unknown::Floating(_)));
                lanes = met.fold(lanes, |lanes, (_, when)| lanes & !when);
                stepped.point
            });
            for (side, deeds) in deeds.iter_mut().enumerate() {
                let [before, after] = [&awake, &stepped].map(|points| pair.machines[side].held(&points[side]));
                for (cell, deeds) in deeds.iter_mut().enumerate() {
                    deeds.push([!before[cell], before[cell]].map(|held| {
                        let of = held & lanes;
                        (((before[cell] ^ after[cell]) & of).count_ones(), of.count_ones())
                    }));
                }
            }
        }
    }
    pairs(pair, &deeds, known)
}

/// Evidence against two cells being partners: the squares of the two-proportion test, over all cases.
fn against(a: &[Deed], b: &[Deed], opposite: bool) -> f64 {
    let of = |(a, b): (&Deed, &Deed)| {
        [0, 1].map(|half: usize| {
            let [(x, m), (y, n)] =
                [a[half], b[half ^ usize::from(opposite)]].map(|(x, n)| (f64::from(x), f64::from(n)));
            let pooled = (x + y) / (m + n);
            let variance = pooled * (1.0 - pooled) * (1.0 / m + 1.0 / n);
            if variance > 0.0 { (x / m - y / n).powi(2) / variance } else { 0.0 }
        })
    };
    a.iter().zip(b).flat_map(of).filter(|square| square.is_finite()).sum()
}

/// Pairs of cells that match clearly better than either matches any other cell.
fn pairs(pair: &Pair, deeds: &[Vec<Vec<Deed>>; 2], known: &[Partner]) -> Vec<Partner> {
    let [original, replacement] = [ORIGINAL, REPLACEMENT].map(|side| {
        let is_known = |cell: usize| known.iter().any(|k| [k.0, k.1][side] == cell);
        (0..deeds[side].len()).filter(|&cell| !is_known(cell)).collect::<Vec<usize>>()
    });
    let mut all: Vec<(f64, Partner)> = Vec::new();
    // for each cell, the least evidence against a pair of it, and the second least
    let mut least = [ORIGINAL, REPLACEMENT].map(|side: usize| vec![[f64::INFINITY; 2]; deeds[side].len()]);
    for &o in &original {
        if pair.limit.over().is_some() {
            return Vec::new();
        }
        for &r in &replacement {
            for opposite in [false, true] {
                let sum = against(&deeds[ORIGINAL][o], &deeds[REPLACEMENT][r], opposite);
                for (side, cell) in [(ORIGINAL, o), (REPLACEMENT, r)] {
                    let [first, second] = &mut least[side][cell];
                    *second = second.min(first.max(sum));
                    *first = first.min(sum);
                }
                all.push((sum, (o, r, opposite)));
            }
        }
    }
    let is_clear = |sum: f64, [first, second]: [f64; 2]| sum <= first && second > 2.0 * sum + MARGIN;
    let both =
        |&(sum, (o, r, _)): &(f64, Partner)| is_clear(sum, least[ORIGINAL][o]) && is_clear(sum, least[REPLACEMENT][r]);
    all.into_iter().filter(both).map(|(_, partner)| partner).collect()
}
