//! One side of a walk: its settled states and where every event leads from them, each worked out once.
use std::collections::{BTreeSet, HashMap};

use crate::machine::{Point, Stepped, Unknown, View};

use super::super::pair::{Pair, Seen};
use super::answers::{Answers, SCRIPT};

/// What the contacts show over an event, interned: contacts that keep still are left out.
pub(super) type TraceId = u32;

/// All traces and power-up views of a walk, by content: contact, symbols, separator.
#[derive(Debug, Default)]
pub(super) struct Traces {
    ids: HashMap<Vec<u16>, TraceId>,
    all: Vec<Vec<u16>>,
}

const END: u16 = u16::MAX;

impl Traces {
    fn id(&mut self, trace: Vec<u16>) -> TraceId {
        if let Some(&id) = self.ids.get(&trace) {
            return id;
        }
        let id = self.all.len() as u32;
        self.all.push(trace.clone());
        self.ids.insert(trace, id);
        id
    }

    /// The contacts of a trace with what each shows.
    pub(super) fn seen(&self, id: TraceId) -> Vec<(usize, Seen<bool>)> {
        let Some(trace) = self.all.get(id as usize) else { return Vec::new() };
        trace
            .split(|&w| w == END)
            .filter_map(|part| part.split_first())
            .map(|(&contact, symbols)| {
                (usize::from(contact), symbols.iter().map(|&s| (s == 1 || s == 2, s == 2)).collect())
            })
            .collect()
    }
}

/// Where one resolution of an event leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Outcome {
    pub(super) trace: TraceId,
    /// The state, or `None` if it does not come to rest.
    pub(super) state: Option<u32>,
}

/// A settled state of one machine under given levels: what its cells hold and its floating nets read.
pub(super) type Bits = u128;

/// One run to be made: a lane.
#[derive(Clone, Copy, Debug)]
struct Lane {
    /// Which question it belongs to.
    of: usize,
    levels: u64,
    next: u64,
    bits: Bits,
    script: u32,
    /// Answers of the script that are settled; the others are usual.
    length: u32,
}

/// Why a side can't be walked.
pub(super) struct Beyond(pub(super) String);

#[derive(Debug)]
pub(super) struct Side<'p> {
    pair: &'p Pair,
    side: usize,
    /// The contacts that are read, in the order of their bits in a word of levels.
    reads: Vec<usize>,
    cells: usize,
    ids: HashMap<Bits, u32>,
    pub(super) states: Vec<Bits>,
    moves: HashMap<(u32, u64), Vec<Vec<Outcome>>>,
    /// Unknowns that occurred.
    pub(super) met: BTreeSet<Unknown>,
    /// Nets whose drivers fought in a settled state.
    pub(super) fights: BTreeSet<usize>,
    /// Lanes that were run.
    pub(super) lanes: usize,
    /// And that may be.
    most: usize,
}

impl<'p> Side<'p> {
    pub(super) fn new(pair: &'p Pair, side: usize, reads: Vec<usize>, most: usize) -> Result<Self, Beyond> {
        let machine = &pair.machines[side];
        let cells = machine.cells().len();
        if cells + machine.floating().len() > 128 || reads.len() > 64 {
            return Err(Beyond("too many bits of memory or inputs to walk".to_owned()));
        }
        Ok(Side {
            pair,
            side,
            reads,
            cells,
            ids: HashMap::new(),
            states: Vec::new(),
            moves: HashMap::new(),
            met: BTreeSet::new(),
            fights: BTreeSet::new(),
            lanes: 0,
            most,
        })
    }

    fn id(&mut self, bits: Bits) -> u32 {
        let states = &mut self.states;
        *self.ids.entry(bits).or_insert_with(|| {
            states.push(bits);
            (states.len() - 1) as u32
        })
    }

    /// Where each move leads from a state: one list of outcomes for each entry of the levels' moves.
    pub(super) fn outcomes(&self, state: u32, levels: u64) -> &[Vec<Outcome>] {
        self.moves.get(&(state, levels)).map_or(&[], Vec::as_slice)
    }

    /// What the contacts show in a state on which the board reacts, in lane 0; see [`Pair::card`].
    pub(super) fn card(&self, state: u32, levels: u64) -> Vec<(usize, u64, u64)> {
        let machine = &self.pair.machines[self.side];
        let bits = self.states.get(state as usize).copied().unwrap_or(0);
        let mut outside = vec![0; machine.ports().len()];
        for (i, &c) in self.reads.iter().enumerate() {
            if let Some(p) = self.pair.contacts[c].ports[self.side] {
                outside[p] = (levels >> i) & 1;
            }
        }
        let bit = |i: usize| u64::from((bits >> i) & 1 == 1);
        let held: Vec<u64> = (0..self.cells).map(bit).collect();
        let mut answers = Answers::new([0; 64]);
        answers.floating = Some((0..machine.floating().len()).map(|i| bit(self.cells + i)).collect());
        self.pair.card(self.side, &machine.point(&mut answers, &outside, &held))
    }

    /// Works out the moves from these states under these levels, where that was not done before. `to` gives the levels
    /// that an event can lead to.
    pub(super) fn explore<'m>(
        &mut self,
        wanted: impl IntoIterator<Item = (u32, u64)>,
        to: impl Fn(u64) -> &'m [u64],
        traces: &mut Traces,
    ) -> Result<(), Beyond> {
        let mut keys = Vec::new();
        let mut lanes = Vec::new();
        for (state, levels) in wanted {
            if self.moves.contains_key(&(state, levels)) {
                continue;
            }
            let next = to(levels);
            self.moves.insert((state, levels), vec![Vec::new(); next.len()]);
            let bits = self.states.get(state as usize).copied().unwrap_or(0);
            for (m, &next) in next.iter().enumerate() {
                lanes.push(Lane { of: keys.len(), levels, next, bits, script: 0, length: 0 });
                keys.push((state, levels, m));
            }
        }
        let found = self.run(lanes, true, traces)?;
        for (of, outcome) in found {
            let (state, levels, m) = keys[of];
            if let Some(list) = self.moves.get_mut(&(state, levels)).and_then(|moves| moves.get_mut(m))
                && !list.contains(&outcome)
            {
                list.push(outcome);
            }
        }
        Ok(())
    }

    /// Powers up under each of these levels with each of these bits in the cells: index of the pair, view and state.
    pub(super) fn wake(
        &mut self,
        starts: &[(u64, Bits)],
        traces: &mut Traces,
    ) -> Result<Vec<(usize, Outcome)>, Beyond> {
        let lanes = starts
            .iter()
            .enumerate()
            .map(|(of, &(levels, bits))| Lane { of, levels, next: levels, bits, script: 0, length: 0 })
            .collect();
        self.run(lanes, false, traces)
    }

    fn run(
        &mut self,
        mut lanes: Vec<Lane>,
        is_event: bool,
        traces: &mut Traces,
    ) -> Result<Vec<(usize, Outcome)>, Beyond> {
        let machine = &self.pair.machines[self.side];
        let mut found = Vec::with_capacity(lanes.len());
        // what the order of changes leaves open is known by kind of event: no batch holds two kinds then
        let apart = is_event && machine.opened.is_some();
        let kind = |lane: &Lane| if apart { lane.levels ^ lane.next } else { 0 };
        lanes.sort_by_key(kind);
        while let Some(last) = lanes.last().map(kind) {
            let others = lanes.iter().rposition(|lane| kind(lane) != last).map_or(0, |at| at + 1);
            let batch = lanes.split_off(others.max(lanes.len().saturating_sub(64)));
            self.lanes += batch.len();
            if let Some(over) = self.pair.limit.over() {
                return Err(Beyond(over.to_string()));
            }
            if self.lanes > self.most {
                return Err(Beyond(format!("more than {} runs over one event", self.most)));
            }
            let word = |bit: &dyn Fn(&Lane) -> bool| {
                batch.iter().enumerate().fold(0u64, |w, (i, lane)| w | (u64::from(bit(lane)) << i))
            };
            let mut scripts = [0; 64];
            for (script, lane) in scripts.iter_mut().zip(&batch) {
                *script = lane.script;
            }
            let mut answers = Answers::new(scripts);
            let mut outside = vec![0; machine.ports().len()];
            for (i, &c) in self.reads.iter().enumerate() {
                if let Some(p) = self.pair.contacts[c].ports[self.side] {
                    outside[p] = word(&|l| (l.levels >> i) & 1 == 1);
                }
            }
            let held: Vec<u64> = (0..self.cells).map(|i| word(&|l| (l.bits >> i) & 1 == 1)).collect();
            if is_event {
                let floating = machine.floating().len();
                answers.floating =
                    Some((0..floating).map(|i| word(&|l| (l.bits >> (self.cells + i)) & 1 == 1)).collect());
            }
            let before = machine.point(&mut answers, &outside, &held);
            answers.floating = None;
            let ample = self.pair.ample();
            let stepped = if is_event {
                let change: Vec<(usize, u64)> = self
                    .reads
                    .iter()
                    .enumerate()
                    .filter_map(|(i, &c)| {
                        let now = word(&|l| (l.next >> i) & 1 == 1);
                        (now != word(&|l| (l.levels >> i) & 1 == 1)).then_some((c, now))
                    })
                    .collect();
                self.pair.step(&mut answers, self.side, &before, &change, ample)
            } else {
                machine.rest(&mut answers, &before, ample)
            };
            let used = if batch.len() == 64 { u64::MAX } else { (1 << batch.len()) - 1 };
            for &(site, when) in &answers.sites {
                if when & used != 0 {
                    self.met.insert(site);
                }
            }
            for f in 0..machine.fights().len() {
                if machine.fights_at(&stepped.point, f) & used & !stepped.unsettled != 0 {
                    self.fights.insert(f);
                }
            }
            self.gather(&batch, &before, &stepped, is_event, traces, &mut found);
            for (i, lane) in batch.iter().enumerate() {
                let met = answers.met[i];
                if met > SCRIPT {
                    return Err(Beyond("more unknowns in one event than can be tried one after the other".to_owned()));
                }
                for turn in lane.length..met {
                    lanes.push(Lane { script: lane.script | (1 << turn), length: turn + 1, ..*lane });
                }
            }
            if lanes.len() > 1 << 22 {
                return Err(Beyond("too many ways to resolve unknowns to walk".to_owned()));
            }
        }
        Ok(found)
    }

    fn gather(
        &mut self,
        batch: &[Lane],
        before: &Point<u64>,
        stepped: &Stepped<u64>,
        is_event: bool,
        traces: &mut Traces,
        found: &mut Vec<(usize, Outcome)>,
    ) {
        let pair = self.pair;
        let machine = &pair.machines[self.side];
        let mut words = machine.held(&stepped.point);
        words.extend(machine.floating_levels(&stepped.point));
        let shown: Vec<(usize, Seen<u64>)> = if is_event {
            let mut touched: Vec<usize> =
                stepped.views.iter().flat_map(|v| v.changed.iter().map(|&(p, ..)| p)).collect();
            touched.sort_unstable();
            touched.dedup();
            (0..pair.contacts.len())
                .filter(|&c| pair.contacts[c].ports[self.side].is_some_and(|p| touched.binary_search(&p).is_ok()))
                .map(|c| (c, pair.seen(self.side, c, before, &stepped.views, 0)))
                .collect()
        } else {
            let none: &[View<u64>] = &[];
            (0..pair.contacts.len()).map(|c| (c, pair.seen(self.side, c, &stepped.point, none, 0))).collect()
        };
        for (i, lane) in batch.iter().enumerate() {
            let bit = |w: u64| (w >> i) & 1 == 1;
            let mut trace = Vec::new();
            for (c, seen) in &shown {
                let begins = trace.len();
                trace.push(*c as u16);
                for &(drive, level) in seen {
                    let symbol = match (bit(drive), bit(level)) {
                        (true, true) => 2,
                        (true, false) => 1,
                        // a contact that is pulled another way shows it when nobody drives
                        (false, _) if pair.pull_lost(*c) => 3 + self.side as u16,
                        (false, _) => 0,
                    };
                    if trace.len() == begins + 1 || trace.last() != Some(&symbol) {
                        trace.push(symbol);
                    }
                }
                trace.push(END);
                if is_event && trace.len() == begins + 3 {
                    trace.truncate(begins);
                }
            }
            let trace = traces.id(trace);
            let state = (!bit(stepped.unsettled)).then(|| {
                let bits = words.iter().enumerate().fold(0, |b, (k, &w)| b | (Bits::from(bit(w)) << k));
                self.id(bits)
            });
            found.push((lane.of, Outcome { trace, state }));
        }
    }
}
