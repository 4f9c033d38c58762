//! The table of a walk, checked place by place: every start of the replacement is in it, and every event leads from a place
//! to places whose states of the original all come from states of the place before, having shown the same.
use std::collections::{BTreeSet, HashMap, HashSet};

use anyhow::{Context, Result, ensure};

use crate::certificate::{SIDES, Walk, levels};
use crate::graph::{Graph, Lit, Node, reach, value};
use crate::machine::{Bit, Freedom, Limit, Machine, Point, View};
use crate::pair::{Pair, Place};
use crate::sat::ask;
use crate::verdict::Verdict;

const LIMIT: Limit = 24;

/// What nobody knows in one event, at most: each may turn out in two ways.
const MOST_UNKNOWNS: usize = 12;

type State = Vec<bool>;

/// A side, a state of it, levels before and after an event.
type Key = (usize, State, State, State);

/// What the contacts showed, each without repetitions.
type Shown = Vec<Vec<u8>>;

/// Checks a table of states.
pub fn check(pair: &Pair<'_>, table: &Walk, verdict: &mut Verdict) {
    if let Err(why) = checked(pair, table, verdict) {
        verdict.objects(why.to_string());
    }
}

struct Tables<'t> {
    pair: &'t Pair<'t>,
    /// The bits of a state of each side.
    bits: [Vec<usize>; 2],
    /// The contacts whose levels make a place.
    reads: Vec<usize>,
    /// For levels and a state of the replacement, the sets of the original's states.
    places: HashMap<(State, State), Vec<HashSet<State>>>,
    known: HashMap<Key, Vec<(Shown, State)>>,
}

fn checked(pair: &Pair<'_>, table: &Walk, verdict: &mut Verdict) -> Result<()> {
    let matters = pair.machines.each_ref().map(mattering);
    // bits that the table names although nothing depends on them are passed over
    let mut columns: [Vec<Option<usize>>; 2] = Default::default();
    for (m, side) in pair.machines.iter().zip(0..2) {
        let holds = &matters[side];
        for name in &table.bits[side] {
            let float = m.bits.iter().position(|b| matches!(b, Bit::Float(n) if m.model.nets[*n].name == *name));
            let place = float.map(Place::Bit).or_else(|| pair.bit(side, name));
            let place = place.with_context(|| format!("the table names a bit `{name}` that there is not"))?;
            columns[side].push(if let Place::Bit(i) = place { Some(i).filter(|i| holds.contains(i)) } else { None });
        }
        let whole = holds.range(..m.bits.len()).all(|&i| columns[side].contains(&Some(i)));
        ensure!(whole, "the states of the table lack bits that the checker's circuits hold");
    }
    let reads = table.contacts.iter().map(|label| pair.contact(label)).collect::<Result<Vec<usize>>>()?;
    // what floats reads anew whatever the board moves
    let floats = pair.machines.iter().any(|m| m.bits.iter().any(|b| matches!(b, Bit::Float(_))));
    let whole = pair.contacts.iter().enumerate().all(|(c, of)| {
        let mut sides = matters.iter().zip(&pair.machines);
        let moves = of.is_read && (floats || of.is_told);
        reads.contains(&c) || !moves && sides.all(|(found, m)| !found.contains(&(m.bits.len() + c)))
    });
    ensure!(whole, "the table lacks levels of contacts that are read");
    let bits = columns.each_ref().map(|all| all.iter().copied().flatten().collect());
    let mut t = Tables { pair, bits, reads, places: HashMap::new(), known: HashMap::new() };
    for (at, state, originals) in &table.places {
        let sound = at.len() == t.reads.len()
            && state.len() == columns[1].len()
            && originals.iter().all(|o| o.len() == columns[0].len());
        let why = "a place of the table has no state of the original, or not one character for each bit";
        ensure!(sound && !originals.is_empty(), why);
        let kept = |side: usize, text: &str| -> State {
            levels(text).into_iter().zip(&columns[side]).filter(|(_, bit)| bit.is_some()).map(|(b, _)| b).collect()
        };
        let set: HashSet<State> = originals.iter().map(|o| kept(0, o)).collect();
        t.places.entry((levels(at), kept(1, state))).or_default().push(set);
    }
    t.begin(verdict)?;
    t.events(verdict)
}

/// What the contacts show depends on these, through what bits take: bits, and behind them what the board puts on contacts.
fn mattering(m: &Machine) -> BTreeSet<usize> {
    let g = &mut Graph::default();
    let point = m.free(g);
    let values = m.evaluate(g, &point);
    let all: Vec<usize> = point.bits.iter().chain(&point.outside).map(|lit| lit.node()).collect();
    let shown = m.view(&values).into_iter().flat_map(<[Lit; 2]>::from);
    let found = |of: Vec<Lit>| -> Vec<usize> {
        let below = g.below(of);
        (0..all.len()).filter(|&i| below.contains(&all[i])).collect()
    };
    reach(found(shown.collect()), |i| match m.bits.get(i) {
        Some(&(Bit::Held(e) | Bit::Mark(e))) => found(m.inputs(&values, e).to_vec()),
        Some(Bit::Cut(_)) => found(vec![values.next[i]]),
        Some(Bit::Float(_)) | None => Vec::new(),
    })
}

impl Tables<'_> {
    /// A state under these levels.
    fn point(&self, side: usize, state: &State, levels: &[Lit]) -> Point {
        let bits = vec![Lit::FALSE; self.pair.machines[side].bits.len()];
        let mut point = Point { bits, outside: levels.to_vec() };
        self.bits[side].iter().zip(state).for_each(|(&i, &value)| point.bits[i] = value.into());
        point
    }

    fn state(&self, side: usize, point: &Point) -> Vec<Lit> {
        self.bits[side].iter().map(|&i| point.bits[i]).collect()
    }

    /// Levels of all contacts from those of a place.
    fn levels(&self, of: &State) -> Vec<Lit> {
        let mut all = vec![Lit::FALSE; self.pair.contacts.len()];
        self.reads.iter().zip(of).for_each(|(&c, &level)| all[c] = level.into());
        all
    }

    /// What a contact shows, moment by moment: low, high, let go.
    fn shown(&self, side: usize, contact: usize, seen: impl Iterator<Item = (bool, bool)>) -> Vec<u8> {
        // pulled another way on the two sides: never alike
        let free = if self.pair.contacts[contact].same_pull { 2 } else { 3 + side as u8 };
        let mut all: Vec<u8> = seen.map(|(drive, level)| if drive { level.into() } else { free }).collect();
        all.dedup();
        if self.pair.contacts[contact].only_settled && all.len() > 2 {
            all.drain(1..all.len() - 1);
            all.dedup();
        }
        all
    }

    /// Everything that may become of a state of a side when levels change: side, state, levels before and after.
    fn outcomes(&mut self, key: Key) -> Result<Vec<(Shown, State)>> {
        if let Some(known) = self.known.get(&key) {
            return Ok(known.clone());
        }
        let &(side, ref state, ref levels, ref next) = &key;
        let (m, g) = (&self.pair.machines[side], &mut Graph::default());
        let from = self.point(side, state, &self.levels(levels));
        let before = m.evaluate(g, &from);
        let stepped = m.step(g, &from, &self.levels(next), Freedom::Against, LIMIT);
        let after = self.state(side, &stepped.point);
        let moments: Vec<View> = std::iter::once(m.view(&before)).chain(stepped.views).collect();
        let compared = |c: usize| self.pair.contacts[c].is_compared;
        let views: Vec<View> = (0..self.pair.contacts.len())
            .map(|c| moments.iter().filter(|_| compared(c)).map(|moment| moment[c]).collect())
            .collect();
        // what is left free is what nobody knows
        let seen = views.iter().flatten().flat_map(|&(drive, level)| [drive, level]);
        let hangs = g.below(seen.chain(after.iter().copied()).chain([stepped.unsettled]));
        let unknown: Vec<usize> = hangs.into_iter().filter(|&n| g.node(n) == Node::Free).collect();
        ensure!(unknown.len() <= MOST_UNKNOWNS, "more unknowns in one event than the checker follows");
        let mut found: Vec<(Shown, State)> = Vec::new();
        for way in 0..1usize << unknown.len() {
            let values = g.values(|n| unknown.binary_search(&n).is_ok_and(|k| way >> k & 1 == 1));
            ensure!(!value(&values, stepped.unsettled), "a side does not come to rest: the {}", SIDES[side]);
            let of = |&(drive, level): &(Lit, Lit)| (value(&values, drive), value(&values, level));
            let shown = views.iter().enumerate().map(|(c, seen)| self.shown(side, c, seen.iter().map(of))).collect();
            let outcome = (shown, after.iter().map(|&l| value(&values, l)).collect());
            if !found.contains(&outcome) {
                found.push(outcome);
            }
        }
        self.known.insert(key, found.clone());
        Ok(found)
    }

    /// Whether the original can start in a state that is settled, as one of the replacement is, and shows the same.
    fn alike(&self, levels: &[Lit], states: [&State; 2]) -> bool {
        let g = &mut Graph::default();
        let both = [0, 1].map(|side| {
            let point = self.point(side, states[side], levels);
            let values = self.pair.machines[side].evaluate(g, &point);
            let starts = side == 1 || self.state(0, &self.pair.started(0, point.clone())) == self.state(0, &point);
            (starts && self.pair.machines[side].settled(g, &point, &values) == Lit::TRUE, values)
        });
        let same = |c| self.pair.differs(g, c, both.each_ref().map(|b| &b.1), [&[], &[]]) == Lit::FALSE;
        both.iter().all(|b| b.0) && (0..self.pair.contacts.len()).all(same)
    }

    /// Every start of the replacement is a place whose states of the original are settled and show the same.
    fn begin(&self, verdict: &mut Verdict) -> Result<()> {
        let (pair, g) = (self.pair, &mut Graph::default());
        let levels = pair.levels(g);
        let allowed = pair.allowed(g, &levels);
        let from = pair.started(1, pair.point(g, 1, &levels));
        let woken = pair.machines[1].rest(g, &from, Freedom::Against, LIMIT);
        let mut seen: Vec<Lit> = self.reads.iter().map(|&c| levels[c]).collect();
        seen.extend(self.state(1, &woken.point));
        let mut covered = Lit::FALSE;
        for ((levels, state), sets) in &self.places {
            let lits = self.levels(levels);
            if sets.iter().any(|set| set.iter().all(|original| self.alike(&lits, [original, state]))) {
                let here = g.are(&seen, &[&**levels, state].concat());
                covered = g.or(covered, here);
            }
        }
        let bad = g.or(woken.unsettled, !covered);
        *verdict.obligations.entry("initial").or_default() += 1;
        let why = "power-up: a start of the replacement is no place of the table, or nothing matches it there";
        ensure!(ask(g, &[allowed, bad], verdict).is_none(), why);
        Ok(())
    }

    fn events(&mut self, verdict: &mut Verdict) -> Result<()> {
        let pair = self.pair;
        let places: Vec<_> = self.places.iter().map(|(k, v)| (k.clone(), v.clone())).collect();
        for ((levels, state), sets) in &places {
            for event in &pair.events {
                let spots: Vec<usize> = event.iter().filter_map(|c| self.reads.iter().position(|r| r == c)).collect();
                ensure!(spots.len() <= MOST_UNKNOWNS, "more contacts change together than the checker follows");
                for n in 1..1u64 << spots.len() {
                    let mut next = levels.clone();
                    for (i, &k) in spots.iter().enumerate() {
                        next[k] ^= (n >> i) & 1 == 1;
                    }
                    let g = &mut Graph::default();
                    let (before, after) = (self.levels(levels), self.levels(&next));
                    let card = pair.machines[1].view(&pair.machines[1].evaluate(g, &self.point(1, state, &before)));
                    if pair.may(g, &before, &after, &card) != Lit::TRUE {
                        continue;
                    }
                    for (shown, there) in self.outcomes((1, state.clone(), levels.clone(), next.clone()))? {
                        let at = (next.clone(), there);
                        for set in sets {
                            let mut reached = HashSet::new();
                            for original in set {
                                let outcomes = self.outcomes((0, original.clone(), levels.clone(), next.clone()))?;
                                reached.extend(outcomes.into_iter().filter(|o| o.0 == shown).map(|o| o.1));
                            }
                            *verdict.obligations.entry("step").or_default() += 1;
                            let leads =
                                self.places.get(&at).is_some_and(|all| all.iter().any(|s| s.is_subset(&reached)));
                            let why = "the table leads nowhere that the original could follow";
                            ensure!(leads, "{}: {why}", pair.words(event));
                        }
                    }
                }
            }
        }
        Ok(())
    }
}
