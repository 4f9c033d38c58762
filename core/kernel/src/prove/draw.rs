//! Drawn events: random, repeatable, and with a preference for clocks.
use crate::machine::Lanes;
use crate::random::SplitMix;

use super::pair::{Event, Pair, REPLACEMENT};

/// How often an event that clocks something comes in a lap.
const CLOCKS: usize = 8;

/// What is drawn for one pair.
#[derive(Clone, Debug)]
pub(super) struct Draw(SplitMix);

impl Draw {
    pub(super) fn new(seed: u64) -> Self {
        Draw(SplitMix::new(seed))
    }

    pub(super) fn word(&mut self) -> u64 {
        self.0.word()
    }

    pub(super) fn below(&mut self, n: usize) -> usize {
        self.0.below(n)
    }

    /// Levels for all contacts in 64 lanes that keep the assumptions in every lane, if some are found soon.
    pub(super) fn levels(&mut self, pair: &Pair) -> Option<Vec<u64>> {
        let mut levels = vec![0; pair.contacts.len()];
        let mut missing = u64::MAX;
        for _ in 0..2000 {
            for level in &mut levels {
                *level = (*level & !missing) | (self.word() & missing);
            }
            missing = !pair.allowed(&mut Lanes::default(), &levels);
            if missing == 0 {
                return Some(levels);
            }
        }
        None
    }

    /// One event a lane: new levels of the contacts that change somewhere. Lanes where the draw breaks an assumption
    /// keep still. `card` is what the card shows before it; see [`Pair::card`].
    pub(super) fn event(
        &mut self,
        pair: &Pair,
        levels: &[u64],
        card: &[(usize, u64, u64)],
        same_in_all: bool,
    ) -> Vec<(usize, u64)> {
        if pair.events.is_empty() {
            return Vec::new();
        }
        let clocks: Vec<_> = pair.events.iter().filter(|e| e.is_clock).collect();
        let mut next = levels.to_vec();
        let mut lanes = if same_in_all { 1 } else { 64 };
        while lanes > 0 {
            lanes -= 1;
            let lane = if same_in_all { u64::MAX } else { 1 << lanes };
            let mut event = &pair.events[self.below(pair.events.len())];
            if self.word() & 1 == 0 && !clocks.is_empty() {
                event = clocks[self.below(clocks.len())];
            } else if event.is_force && self.word() & 1 == 0 {
                event = &pair.events[self.below(pair.events.len())];
            }
            if let [only] = event.contacts[..] {
                next[only] ^= lane;
            } else {
                for &c in &event.contacts {
                    let word = if self.word() & 1 == 1 { u64::MAX } else { 0 };
                    next[c] = (next[c] & !lane) | (word & lane);
                }
            }
        }
        let allowed = pair.may(&mut Lanes::default(), levels, &next, card);
        (0..next.len())
            .map(|c| (c, (next[c] & allowed) | (levels[c] & !allowed)))
            .filter(|&(c, word)| word != levels[c])
            .collect()
    }

    /// Draws `count` events for a run of the replacement from these levels and this start.
    pub(super) fn events(
        &mut self,
        pair: &Pair,
        levels: &[u64],
        cells: &[bool],
        count: usize,
    ) -> Vec<Vec<(usize, bool)>> {
        let mut now = levels.to_vec();
        // what the card shows matters only where the board reacts on it
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let mut at = (!pair.answers.is_empty())
            .then(|| pair.awake(REPLACEMENT, levels, &cells.iter().map(word).collect::<Vec<_>>()).point);
        let mut events = Vec::new();
        for _ in 0..count {
            let card = at.as_ref().map_or_else(Vec::new, |point| pair.card(REPLACEMENT, point));
            let change = self.event(pair, &now, &card, true);
            for &(c, w) in &change {
                now[c] = w;
            }
            if let Some(point) = &mut at {
                *point = pair.step(&mut Lanes::default(), REPLACEMENT, point, &change, pair.ample()).point;
            }
            if !change.is_empty() {
                events.push(change.into_iter().map(|(c, w)| (c, w & 1 == 1)).collect());
            }
        }
        events
    }

    /// Every kind of event once, and those that clock something [more often](CLOCKS), in a drawn order.
    pub(super) fn lap(&mut self, pair: &Pair) -> Vec<usize> {
        let times = |e: &Event| if e.is_clock { CLOCKS } else { 1 };
        let mut order: Vec<usize> =
            pair.events.iter().enumerate().flat_map(|(i, e)| std::iter::repeat_n(i, times(e))).collect();
        for i in (1..order.len()).rev() {
            order.swap(i, self.below(i + 1));
        }
        order
    }

    /// This event in about half of 64 lanes, or in fewer if it clears something, where it keeps the assumptions: new levels of its contacts. What one step
    /// then costs is what these contacts reach. `card` is what the card shows before it; see [`Pair::card`].
    pub(super) fn flip(
        &mut self,
        pair: &Pair,
        levels: &[u64],
        card: &[(usize, u64, u64)],
        event: &Event,
    ) -> Vec<(usize, u64)> {
        let mut next = levels.to_vec();
        // half of the lanes, or an eighth
        let lanes = if event.is_force { self.word() & self.word() & self.word() } else { self.word() };
        for &c in &event.contacts {
            let word = if event.contacts.len() == 1 { !levels[c] } else { self.word() };
            next[c] = (levels[c] & !lanes) | (word & lanes);
        }
        let allowed =
            if pair.is_unconstrained() { u64::MAX } else { pair.may(&mut Lanes::default(), levels, &next, card) };
        let mut contacts = event.contacts.clone();
        contacts.sort_unstable();
        contacts.dedup();
        contacts
            .into_iter()
            .map(|c| (c, (next[c] & allowed) | (levels[c] & !allowed)))
            .filter(|&(c, word)| word != levels[c])
            .collect()
    }
}
