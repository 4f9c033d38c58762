//! Which bits may correspond, guessed from 64 drawn runs that both sides do from a pair of states.
use std::collections::{BTreeMap, HashMap};

use crate::machine::{Desk, Lanes, Point, Unknown};

use super::draw::Draw;
use super::invariant::Cluster;
use super::matching::{Bit, Class};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use crate::random::mixed;

/// Laps over all kinds of events in the runs from which classes are guessed.
const LAPS: usize = 8;

/// The most laps while there is a bit that has not changed in any lane: it may be constant, or change rarely.
const PATIENT: usize = 48;

/// Laps of the runs from which likely partners are guessed: in the first half bits forget how they started.
const FORGET: usize = 16;

/// In how many of 64 lanes two bits must look alike to be likely partners.
const ENOUGH: u32 = 4;

/// Simulates both sides from a pair of states, 64 runs side by side. All lanes change the same contact at one moment,
/// each or not, so that a step costs what the contact reaches.
pub(super) struct Runs<'p> {
    pair: &'p Pair,
    pub(super) levels: Vec<u64>,
    points: [Point<u64>; 2],
    desks: [Desk<u64>; 2],
}

impl<'p> Runs<'p> {
    pub(super) fn new(pair: &'p Pair, levels: &[u64], cells: &[Vec<u64>; 2]) -> Self {
        Runs {
            pair,
            levels: levels.to_vec(),
            points: [0, 1].map(|side| pair.awake(side, levels, &cells[side]).point),
            desks: [0, 1].map(|side: usize| Desk::new(&pair.machines[side])),
        }
    }

    fn held(&self, (side, cell): Bit) -> u64 {
        self.pair.machines[side].holds(&self.points[side], cell)
    }

    /// One event; gives the bits that may have moved, and the lanes in which the original loaded what nobody knows.
    fn step(&mut self, draw: &mut Draw, event: usize) -> (Vec<Bit>, u64) {
        let (moved, open, _) = self.step_and_compare(draw, event);
        (moved, open)
    }

    /// The same, and the lanes in which a contact shows something else on the two sides once both have settled.
    pub(super) fn step_and_compare(&mut self, draw: &mut Draw, event: usize) -> (Vec<Bit>, u64, u64) {
        let Some(event) = self.pair.events.get(event) else { return (Vec::new(), 0, 0) };
        let card = self.pair.card(REPLACEMENT, &self.points[REPLACEMENT]);
        let change = draw.flip(self.pair, &self.levels, &card, event);
        for &(c, word) in &change {
            self.levels[c] = word;
        }
        let (mut moved, mut open) = (Vec::new(), 0);
        let mut views = [Vec::new(), Vec::new()];
        for (side, views) in views.iter_mut().enumerate() {
            let mut lanes = Lanes::default();
            let room = (&mut self.desks[side], &mut self.points[side]);
            let passed = self.pair.pass(&mut lanes, side, room, &change, self.pair.ample());
            *views = passed.views;
            moved.extend(passed.moved.into_iter().map(|c| (side, c as usize)));
            let loads = lanes
                .met
                .iter()
                .filter(|(site, _)| side == ORIGINAL && matches!(site, Unknown::Load(_) | Unknown::Order(_)));
            open = loads.fold(open, |open, (_, runs)| open | runs);
        }
        let touched = self.pair.touched([&views[0], &views[1]]);
        let differ = touched.into_iter().fold(0, |differ, c| differ | self.pair.apart_at(c, &self.points));
        (moved, open, differ)
    }
}

fn bits(pair: &Pair) -> Vec<Bit> {
    (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c))).collect()
}

/// The history of one bit: its last value, and a digest of all its changes.
#[derive(Clone, Copy)]
struct Way {
    last: u64,
    digest: [u64; 2],
    is_still: bool,
}

/// Classes of bits that 64 drawn runs from a pair of states that match don't separate. Bits whose digests are equal by
/// chance are separated by the induction.
pub(super) fn guess(pair: &Pair, levels: &[u64], cells: &[Vec<u64>; 2], draw: &mut Draw) -> Vec<Class> {
    let mut runs = Runs::new(pair, levels, cells);
    let bits = bits(pair);
    let offset = [0, pair.machines[ORIGINAL].cells().len()];
    let opposite: Vec<bool> = bits.iter().map(|&b| runs.held(b) & 1 == 1).collect();
    let upright = |word: u64, i: usize| if opposite[i] { !word } else { word };
    let mut ways: Vec<Way> = (0..bits.len())
        .map(|i| {
            let last = upright(runs.held(bits[i]), i);
            Way { last, digest: [mixed(last), mixed(!last)], is_still: last == 0 }
        })
        .collect();
    // a run in which the original loads anything says nothing from there on
    let (mut tells, mut round) = (u64::MAX, 0u64);
    for lap in 0..PATIENT {
        if lap >= LAPS && ways.iter().all(|w| !w.is_still) {
            break;
        }
        for event in draw.lap(pair) {
            if pair.limit.over().is_some() {
                break;
            }
            round += 1;
            let (moved, open) = runs.step(draw, event);
            tells &= !open;
            for bit in moved {
                let i = offset[bit.0] + bit.1;
                let way = &mut ways[i];
                let word = (upright(runs.held(bit), i) & tells) | (way.last & !tells);
                if word != way.last {
                    let told = mixed(round) ^ word;
                    let [a, b] = way.digest;
                    *way =
                        Way { last: word, digest: [mixed(a ^ told), mixed(b.rotate_left(1) ^ told)], is_still: false };
                }
            }
        }
    }
    let mut classes: BTreeMap<usize, Class> = BTreeMap::new();
    let mut first: HashMap<[u64; 2], usize> = HashMap::new();
    for (i, way) in ways.iter().enumerate() {
        let key = *first.entry(way.digest).or_insert(i);
        let class = classes.entry(key).or_insert_with(|| Class { bits: Vec::new(), is_constant: way.is_still });
        class.bits.push((bits[i], opposite[i]));
    }
    classes.into_values().collect()
}

/// The combinations that clusters take in drawn runs from a pair of states that match, as long as both sides show the
/// same; a cluster with more than `most` combinations may have any.
pub(super) fn combinations(
    pair: &Pair,
    levels: &[u64],
    cells: &[Vec<u64>; 2],
    draw: &mut Draw,
    clusters: &mut [Cluster],
    most: usize,
) {
    let mut runs = Runs::new(pair, levels, cells);
    let of: HashMap<Bit, usize> =
        clusters.iter().enumerate().flat_map(|(i, c)| c.bits.iter().map(move |&(bit, _)| (bit, i))).collect();
    let look = |runs: &Runs<'_>, cluster: &mut Cluster, alike: u64| {
        let words: HashMap<Bit, u64> = cluster.bits.iter().map(|&(bit, _)| (bit, runs.held(bit))).collect();
        let lanes = (0..64).filter(|lane| (alike >> lane) & 1 == 1);
        let seen: Vec<u64> =
            lanes.map(|lane| cluster.point(|bit| words.get(&bit).is_some_and(|w| (w >> lane) & 1 == 1))).collect();
        let Some(points) = &mut cluster.points else { return };
        points.extend(seen);
        if points.len() > most {
            cluster.points = None;
        }
    };
    for cluster in clusters.iter_mut() {
        look(&runs, cluster, u64::MAX);
    }
    let mut alike = u64::MAX;
    for _ in 0..LAPS {
        for event in draw.lap(pair) {
            if pair.limit.over().is_some() {
                return;
            }
            let (moved, _, differ) = runs.step_and_compare(draw, event);
            alike &= !differ;
            let mut touched: Vec<usize> = moved.iter().filter_map(|bit| of.get(bit).copied()).collect();
            touched.sort_unstable();
            touched.dedup();
            for i in touched {
                if let Some(cluster) = clusters.get_mut(i) {
                    look(&runs, cluster, alike);
                }
            }
        }
    }
}

/// A cell of the original, a cell of the replacement that it is likely to equal, and whether rather to oppose.
pub(super) type Partner = (usize, usize, bool);

/// The values that cells of the original would have if each equalled its likely partner in the replacement: cell, value.
pub(super) fn wishes(partners: &[Partner], replacement: &[bool]) -> Vec<(usize, bool)> {
    partners.iter().map(|&(o, r, opposite)| (o, replacement.get(r) == Some(&!opposite))).collect()
}

/// For each cell of the original the cells of the replacement that look like it or like its complement once both have
/// forgotten where they started, in most lanes first: a bit that a drawn run never showed may have been given a start
/// that no bit of the replacement has, and this says which one it should have had.
pub(super) fn partners(pair: &Pair, levels: &[u64], cells: &[Vec<u64>; 2], draw: &mut Draw) -> Vec<Partner> {
    let mut runs = Runs::new(pair, levels, cells);
    for _ in 0..FORGET / 2 {
        for event in draw.lap(pair) {
            if pair.limit.over().is_some() {
                return Vec::new();
            }
            runs.step(draw, event);
        }
    }
    let bits = bits(pair);
    let offset = [0, pair.machines[ORIGINAL].cells().len()];
    // from here on, for each bit and lane, a digest of the moments at which it changes
    let began: Vec<u64> = bits.iter().map(|&b| runs.held(b)).collect();
    let mut last = began.clone();
    let mut moments: Vec<[u64; 64]> = vec![[0; 64]; bits.len()];
    let mut round = 0u64;
    for _ in 0..FORGET - FORGET / 2 {
        for event in draw.lap(pair) {
            if pair.limit.over().is_some() {
                return Vec::new();
            }
            round += 1;
            let moment = mixed(round);
            let (moved, _) = runs.step(draw, event);
            for bit in moved {
                let i = offset[bit.0] + bit.1;
                let word = runs.held(bit);
                let mut changed = word ^ last[i];
                last[i] = word;
                while changed != 0 {
                    let lane = changed.trailing_zeros() as usize;
                    moments[i][lane] = mixed(moments[i][lane] ^ moment);
                    changed &= changed - 1;
                }
            }
        }
    }
    // two bits that change at the same moments are alike in that lane, or opposite
    let mut alike: BTreeMap<(usize, usize, bool), u32> = BTreeMap::new();
    let way = |i: usize, lane: usize| moments[i][lane];
    for lane in 0..64 {
        let mut of: HashMap<u64, Vec<usize>> = HashMap::new();
        for i in (offset[1]..bits.len()).filter(|&i| way(i, lane) != 0) {
            of.entry(way(i, lane)).or_default().push(i);
        }
        for o in 0..offset[1] {
            for &r in of.get(&way(o, lane)).map_or(&[][..], Vec::as_slice) {
                let opposite = ((began[o] ^ began[r]) >> lane) & 1 == 1;
                *alike.entry((o, r - offset[1], opposite)).or_default() += 1;
            }
        }
    }
    let mut all: Vec<(u32, usize, usize, bool)> = alike
        .into_iter()
        .filter(|&(_, lanes)| lanes >= ENOUGH)
        .map(|((o, r, opposite), lanes)| (lanes, o, r, opposite))
        .collect();
    all.sort_by_key(|&(lanes, o, r, opposite)| (std::cmp::Reverse(lanes), o, r, opposite));
    let mut seen = BTreeMap::new();
    all.retain(|&(_, o, ..)| {
        let times = seen.entry(o).or_insert(0);
        *times += 1;
        *times <= 2
    });
    all.into_iter().map(|(_, o, r, opposite)| (o, r, opposite)).collect()
}
