//! The exact method for small pairs: walk over every state of the replacement with the set of all states in which the
//! original can be after having shown the same. Decides both ways, unknowns and power-up included.
mod answers;
mod side;

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use crate::machine::{Lanes, Unknown};

use super::certificate::Table;
use super::pair::{ORIGINAL, Pair, REPLACEMENT, Seen};
use super::run::Run;
use side::{Beyond, Bits, Side, Traces};

/// How far a walk goes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget {
    /// Runs of a machine over one event, both sides together.
    pub(super) runs: usize,
}

/// What a walk found.
pub(super) enum Walked {
    /// Every state was visited, and in each some state of the original remains.
    Closed(Facts),
    /// The shortest run that nothing explains.
    Found(Run),
    /// This side does not come to rest after this run.
    Restless(usize, Run),
    /// It did not get to the end: why, and how many places it visited.
    Beyond(String, usize),
}

/// What a closed walk met.
pub(super) struct Facts {
    /// Pairs of a replacement's state and a set of the original's, with levels.
    pub(super) places: usize,
    /// Unknowns that occurred, by side.
    pub(super) unknowns: Vec<(usize, Unknown)>,
    pub(super) fights: [Vec<usize>; 2],
    /// Every place; nothing if they are too many to be written.
    pub(super) table: Option<Table>,
}

/// Where a walk is: the levels, the replacement's state, the states in which the original may be.
#[derive(Clone, Copy, Debug)]
struct Place {
    levels: u64,
    replacement: u32,
    originals: u32,
    /// Where it came from, or the start that it is.
    from: Result<u32, Bits>,
    trace: u32,
}

struct Walk<'p> {
    pair: &'p Arc<Pair>,
    budget: Budget,
    reads: Vec<usize>,
    sides: [Side<'p>; 2],
    traces: Traces,
    moves: HashMap<u64, Vec<u64>>,
    sets: Vec<Vec<u32>>,
    set_ids: HashMap<Vec<u32>, u32>,
    places: Vec<Place>,
    /// For levels and a state of the replacement, the sets that were walked from.
    walked: HashMap<(u64, u32), Vec<u32>>,
    /// How many members of sets were looked at: what a walk costs beside the runs.
    looked: usize,
}

enum Stop {
    Beyond(String),
    Found(Run),
    Restless(usize, Run),
}

impl From<Beyond> for Stop {
    fn from(b: Beyond) -> Self {
        Stop::Beyond(b.0)
    }
}

/// Walks.
pub(super) fn walk(pair: &Arc<Pair>, budget: Budget) -> Walked {
    let reads: Vec<usize> = (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free).collect();
    let sides = [ORIGINAL, REPLACEMENT].map(|s| Side::new(pair, s, reads.clone(), budget.runs));
    let sides = match sides {
        [Ok(a), Ok(b)] => [a, b],
        [Err(b), _] | [_, Err(b)] => return Walked::Beyond(b.0, 0),
    };
    let mut walk = Walk {
        pair,
        budget,
        reads,
        sides,
        traces: Traces::default(),
        moves: HashMap::new(),
        sets: Vec::new(),
        set_ids: HashMap::new(),
        places: Vec::new(),
        walked: HashMap::new(),
        looked: 0,
    };
    match walk.run() {
        Ok(()) => Walked::Closed(Facts {
            places: walk.places.len(),
            unknowns: [ORIGINAL, REPLACEMENT]
                .into_iter()
                .flat_map(|s| walk.sides[s].met.iter().map(move |&u| (s, u)).collect::<Vec<_>>())
                .collect(),
            fights: [0, 1].map(|s| walk.sides[s].fights.iter().copied().collect()),
            table: walk.table(),
        }),
        Err(Stop::Beyond(why)) => Walked::Beyond(why, walk.places.len()),
        Err(Stop::Found(run)) => Walked::Found(run),
        Err(Stop::Restless(side, run)) => Walked::Restless(side, run),
    }
}

/// Members of sets that may be looked at, for each run that may be made.
const LOOKS: usize = 64;

/// Contacts that change at one moment are tried in every combination: no more than this many of them.
const LARGEST_GROUP: usize = 10;

impl<'p> Walk<'p> {
    fn run(&mut self) -> Result<(), Stop> {
        self.begin()?;
        let mut first = 0;
        while first < self.places.len() {
            let last = self.places.len();
            // layer by layer: the first that has no original left is a shortest one
            self.prepare(first, last)?;
            for at in first..last {
                self.advance(at)?;
            }
            first = last;
        }
        Ok(())
    }

    fn spent(&self) -> Result<(), Stop> {
        let lanes: usize = self.sides.iter().map(|s| s.lanes).sum();
        if lanes > self.budget.runs {
            return Err(Stop::Beyond(format!("more than {} runs over one event", self.budget.runs)));
        }
        let most = self.budget.runs.saturating_mul(LOOKS);
        if self.looked > most {
            return Err(Stop::Beyond(format!("more than {most} states that show the same were looked at")));
        }
        self.pair.limit.check().map_err(|over| Stop::Beyond(over.to_string()))
    }

    /// Levels as words, one a contact, from levels in 64 lanes.
    fn words(&self, lanes: &[u64]) -> Vec<u64> {
        let mut words = vec![0; self.pair.contacts.len()];
        for (i, &c) in self.reads.iter().enumerate() {
            words[c] = lanes.iter().enumerate().fold(0, |w, (lane, l)| w | (((l >> i) & 1) << lane));
        }
        words
    }

    /// Every start of both sides under all levels that are allowed.
    fn begin(&mut self) -> Result<(), Stop> {
        let free =
            [ORIGINAL, REPLACEMENT].map(|s| self.pair.starts(s, |_| false, |_| true).iter().filter(|&&f| f).count());
        let fewest = self.reads.len() + free.iter().copied().max().unwrap_or(0);
        if fewest >= 40 || (1usize << fewest) > self.budget.runs {
            return Err(Stop::Beyond(format!("there are 2^{fewest} starts")));
        }
        let mut levels = Vec::new();
        let all: Vec<u64> = (0..1u64 << self.reads.len()).collect();
        for chunk in all.chunks(64) {
            self.spent()?;
            let allowed = self.pair.allowed(&mut Lanes::default(), &self.words(chunk));
            levels.extend(chunk.iter().enumerate().filter(|&(i, _)| (allowed >> i) & 1 == 1).map(|(_, &l)| l));
        }
        for at in levels {
            self.spent()?;
            let starts = [ORIGINAL, REPLACEMENT].map(|s| {
                let cells = self.pair.machines[s].cells();
                let fixed =
                    cells.iter().enumerate().fold(0, |b: Bits, (i, c)| b | (Bits::from(c.start == Some(true)) << i));
                let loose: Vec<usize> = (0..cells.len()).filter(|&i| cells[i].start.is_none()).collect();
                (0..1u64 << loose.len())
                    .map(|n| {
                        let bits =
                            loose.iter().enumerate().fold(fixed, |b, (k, &i)| b | (Bits::from((n >> k) & 1) << i));
                        (at, bits)
                    })
                    .collect::<Vec<_>>()
            });
            let mut originals: HashMap<u32, BTreeSet<u32>> = HashMap::new();
            let mut restless = false;
            for (_, o) in self.sides[ORIGINAL].wake(&starts[ORIGINAL], &mut self.traces)? {
                match o.state {
                    Some(state) => drop(originals.entry(o.trace).or_default().insert(state)),
                    None => restless = true,
                }
            }
            for (i, o) in self.sides[REPLACEMENT].wake(&starts[REPLACEMENT], &mut self.traces)? {
                let start = starts[REPLACEMENT][i].1;
                let set: Vec<u32> = originals.get(&o.trace).map(|s| s.iter().copied().collect()).unwrap_or_default();
                let empty = set.is_empty();
                let originals = self.set(set);
                let place = Place {
                    levels: at,
                    replacement: o.state.unwrap_or(0),
                    originals,
                    from: Err(start),
                    trace: o.trace,
                };
                if o.state.is_none() {
                    return Err(Stop::Restless(REPLACEMENT, self.path(place)));
                }
                if empty {
                    let run = self.path(place);
                    return Err(if restless { Stop::Restless(ORIGINAL, run) } else { Stop::Found(run) });
                }
                self.visit(place);
            }
        }
        Ok(())
    }

    fn set(&mut self, set: Vec<u32>) -> u32 {
        if let Some(&id) = self.set_ids.get(&set) {
            return id;
        }
        let id = self.sets.len() as u32;
        self.sets.push(set.clone());
        self.set_ids.insert(set, id);
        id
    }

    /// Adds a place, unless one with a subset of its originals is there: that one is refuted no later.
    fn visit(&mut self, place: Place) {
        let sets = &self.sets;
        let known = self.walked.entry((place.levels, place.replacement)).or_default();
        let new = &sets[place.originals as usize];
        self.looked += known.len().saturating_mul(new.len());
        if known.iter().any(|&k| within(&sets[k as usize], new)) {
            return;
        }
        known.push(place.originals);
        self.places.push(place);
    }

    /// Works out the moves of a layer in as few runs as possible.
    fn prepare(&mut self, first: usize, last: usize) -> Result<(), Stop> {
        for at in first..last {
            let levels = self.places[at].levels;
            if !self.moves.contains_key(&levels) {
                let moves = self.moves_from(levels)?;
                self.moves.insert(levels, moves);
            }
        }
        // in parts, so that the budget is checked in between
        for begin in (first..last).step_by(256) {
            self.spent()?;
            let places = &self.places[begin..last.min(begin + 256)];
            let moves = &self.moves;
            let to = |levels: u64| moves.get(&levels).map_or(&[][..], Vec::as_slice);
            let [original, replacement] = &mut self.sides;
            replacement.explore(places.iter().map(|p| (p.replacement, p.levels)), to, &mut self.traces)?;
            let sets = &self.sets;
            let members = places.iter().flat_map(|p| sets[p.originals as usize].iter().map(|&o| (o, p.levels)));
            original.explore(members, to, &mut self.traces)?;
        }
        Ok(())
    }

    /// The levels to which one event can lead.
    fn moves_from(&self, levels: u64) -> Result<Vec<u64>, Stop> {
        let mut next = BTreeSet::new();
        for event in &self.pair.events {
            let bits: Vec<u64> =
                event.contacts.iter().filter_map(|c| self.reads.iter().position(|r| r == c)).map(|i| 1 << i).collect();
            if bits.len() > LARGEST_GROUP {
                return Err(Stop::Beyond("more contacts change at one moment than can be tried".to_owned()));
            }
            for n in 1..1u64 << bits.len() {
                let flip = bits.iter().enumerate().filter(|&(i, _)| (n >> i) & 1 == 1).fold(0, |f, (_, b)| f | b);
                next.insert(levels ^ flip);
            }
        }
        let next: Vec<u64> = next.into_iter().collect();
        let mut kept = Vec::with_capacity(next.len());
        for chunk in next.chunks(64) {
            let (before, after) = (self.words(&vec![levels; chunk.len()]), self.words(chunk));
            // where the board reacts on the card, what it may do depends on the state
            let allowed = match self.pair.answers.is_empty() {
                true => self.pair.may(&mut Lanes::default(), &before, &after, &[]),
                false => self.pair.allowed(&mut Lanes::default(), &after),
            };
            kept.extend(chunk.iter().enumerate().filter(|&(i, _)| (allowed >> i) & 1 == 1).map(|(_, &l)| l));
        }
        Ok(kept)
    }

    fn advance(&mut self, at: usize) -> Result<(), Stop> {
        let place = self.places[at];
        let moves = self.moves.get(&place.levels).cloned().unwrap_or_default();
        let card = match self.pair.answers.is_empty() {
            true => None,
            false => Some(self.sides[REPLACEMENT].card(place.replacement, place.levels)),
        };
        for (m, &levels) in moves.iter().enumerate() {
            self.looked += self.sets[place.originals as usize].len();
            self.spent()?;
            if let Some(card) = &card {
                let (before, after) = (self.words(&[place.levels]), self.words(&[levels]));
                if self.pair.may(&mut Lanes::default(), &before, &after, card) & 1 == 0 {
                    continue;
                }
            }
            let [original, replacement] = &self.sides;
            let outcomes = replacement.outcomes(place.replacement, place.levels).get(m).cloned().unwrap_or_default();
            let mut after: HashMap<u32, BTreeSet<u32>> = HashMap::new();
            let mut restless = false;
            for &o in &self.sets[place.originals as usize] {
                for outcome in original.outcomes(o, place.levels).get(m).map_or(&[][..], Vec::as_slice) {
                    match outcome.state {
                        Some(state) => drop(after.entry(outcome.trace).or_default().insert(state)),
                        None => restless = true,
                    }
                }
            }
            for outcome in outcomes {
                let set: Vec<u32> = after.get(&outcome.trace).map(|s| s.iter().copied().collect()).unwrap_or_default();
                let empty = set.is_empty();
                let next = Place {
                    levels,
                    replacement: outcome.state.unwrap_or(0),
                    originals: self.set(set),
                    from: Ok(at as u32),
                    trace: outcome.trace,
                };
                if outcome.state.is_none() {
                    return Err(Stop::Restless(REPLACEMENT, self.path(next)));
                }
                if empty {
                    let run = self.path(next);
                    return Err(if restless { Stop::Restless(ORIGINAL, run) } else { Stop::Found(run) });
                }
                self.visit(next);
            }
        }
        Ok(())
    }

    /// All places that were visited.
    fn table(&self) -> Option<Table> {
        let set = |p: &Place| self.sets.get(p.originals as usize).map_or(&[][..], Vec::as_slice);
        if self.places.iter().map(|p| set(p).len()).sum::<usize>() > Table::LARGEST {
            return None;
        }
        let state = |side: usize, id: u32| self.sides[side].states.get(id as usize).copied().unwrap_or(0);
        let place = |p: &Place| {
            let originals = set(p).iter().map(|&o| state(ORIGINAL, o)).collect();
            (p.levels, state(REPLACEMENT, p.replacement), originals)
        };
        Some(Table { reads: self.reads.clone(), places: self.places.iter().map(place).collect() })
    }

    /// The run that leads to a place.
    fn path(&self, last: Place) -> Run {
        let mut way = vec![last];
        let start = loop {
            match way.last().map(|p| p.from) {
                Some(Ok(from)) => way.push(self.places[from as usize]),
                Some(Err(start)) => break start,
                None => break 0,
            }
        };
        way.reverse();
        let bits = |levels: u64| {
            let mut bits = vec![false; self.pair.contacts.len()];
            for (i, &c) in self.reads.iter().enumerate() {
                bits[c] = (levels >> i) & 1 == 1;
            }
            bits
        };
        let events = way
            .windows(2)
            .map(|w| {
                let (before, after) = (bits(w[0].levels), bits(w[1].levels));
                (0..before.len()).filter(|&c| before[c] != after[c]).map(|c| (c, after[c])).collect()
            })
            .collect();
        let mut now: Vec<Seen<bool>> = vec![vec![(false, false)]; self.pair.contacts.len()];
        let mut shown = Vec::new();
        for place in &way {
            for seen in &mut now {
                *seen = seen.last().copied().into_iter().collect();
            }
            for (c, seen) in self.traces.seen(place.trace) {
                now[c] = seen;
            }
            shown.push(now.clone());
        }
        let cells = self.pair.machines[REPLACEMENT].cells().len();
        Run {
            pair: Arc::clone(self.pair),
            levels: bits(way[0].levels),
            cells: (0..cells).map(|i| (start >> i) & 1 == 1).collect(),
            events,
            shown,
        }
    }
}

/// Whether a sorted set lies within another.
fn within(small: &[u32], large: &[u32]) -> bool {
    let mut rest = large.iter();
    small.len() <= large.len() && small.iter().all(|s| rest.any(|l| l == s))
}
