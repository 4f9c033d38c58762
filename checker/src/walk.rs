//! The table of a walk, checked place by place: every start of the replacement is in it, and every event leads from a place
//! to places whose states of the original all come from states of the place before, having shown the same.
use std::collections::{HashMap, HashSet};

use crate::certificate::Walk;
use crate::graph::{Graph, Lit, Node, value};
use crate::induction::Report;
use crate::machine::{Freedom, Limits, Machine, Point, Stepped, Values};
use crate::pair::{Contact, Pair, Place};
use crate::sat::{Answer, ask};

const LIMITS: Limits = Limits { phases: 24, rounds: 24 };

/// Ways in which what nobody knows may turn out in one event.
const MOST_WAYS: usize = 4096;

/// Where a bit of a state stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Spot {
    At(Place),
    Float(usize),
    /// What the board puts on a contact of the circuit.
    Outside(usize),
    /// Nothing that the contacts show hangs on it.
    Idle,
}

type State = Vec<bool>;

/// What the contacts showed, each without repetitions.
type Shown = Vec<Vec<u8>>;

/// One side over one kind of event, for any state.
struct Moves {
    graph: Graph,
    /// The variables of the state, of the levels, and of the levels afterwards.
    state: Vec<Lit>,
    levels: Vec<Lit>,
    next: Vec<Lit>,
    before: Values,
    stepped: Stepped,
    /// What nobody knows: the variable that stands for it, and when it is asked.
    after: Vec<Lit>,
}

/// Checks a table of states.
pub fn check(pair: &Pair<'_>, table: &Walk) -> Report {
    let mut report = Report::default();
    if let Err(why) = checked(pair, table, &mut report) {
        report.objections.push(why);
    }
    report
}

struct Tables<'t> {
    pair: &'t Pair<'t>,
    spots: [Vec<Spot>; 2],
    /// The contacts whose levels make a place.
    reads: Vec<usize>,
    moves: Vec<[Moves; 2]>,
    /// For levels and a state of the replacement, the sets of the original's states.
    places: HashMap<(State, State), Vec<HashSet<State>>>,
    known: HashMap<(usize, usize, State, State, State), Vec<(Shown, State)>>,
}

fn bits(text: &str) -> State {
    text.chars().map(|c| c == '1').collect()
}

fn checked(pair: &Pair<'_>, table: &Walk, report: &mut Report) -> Result<(), String> {
    let mut spots: [Vec<Spot>; 2] = Default::default();
    let matters = [0, 1].map(|side: usize| mattering(&pair.machines[side], report));
    for side in 0..2 {
        let m = &pair.machines[side];
        for name in &table.bits[side] {
            let float = m.floating.iter().position(|&n| m.model.nets[n].name == *name);
            let spot = float.map(Spot::Float).or_else(|| pair.bit(side, name).map(Spot::At));
            let spot = spot.ok_or_else(|| format!("the table names a bit `{name}` that there is not"))?;
            spots[side].push(if matters[side].contains(&spot) { spot } else { Spot::Idle });
        }
        if matters[side].iter().any(|s| !matches!(s, Spot::Outside(_)) && !spots[side].contains(s)) {
            return Err("the states of the table lack bits that the checker's circuits hold".to_owned());
        }
    }
    let reads: Result<Vec<usize>, String> = table
        .contacts
        .iter()
        .map(|l| {
            pair.contacts.iter().position(|c| c.label == *l).ok_or_else(|| format!("the table names a contact {l}"))
        })
        .collect();
    let reads = reads?;
    let read = |side: usize, k: &Contact| k.on[side].is_some_and(|at| matters[side].contains(&Spot::Outside(at)));
    let lacks = |(c, k): (usize, &Contact)| !reads.contains(&c) && (read(0, k) || read(1, k));
    if pair.contacts.iter().enumerate().any(lacks) {
        return Err("the table lacks levels of contacts that are read".to_owned());
    }
    let mut t = Tables { pair, spots, reads, moves: Vec::new(), places: HashMap::new(), known: HashMap::new() };
    for (levels, state, originals) in &table.places {
        let sound = levels.len() == t.reads.len()
            && state.len() == t.spots[1].len()
            && originals.iter().all(|o| o.len() == t.spots[0].len());
        if !sound || originals.is_empty() {
            return Err(
                "a place of the table has no state of the original, or not one character for each bit".to_owned()
            );
        }
        let kept = |side: usize, text: &str| -> State {
            let of = bits(text).into_iter().zip(&t.spots[side]);
            of.filter(|(_, s)| !matches!(s, Spot::Idle)).map(|(b, _)| b).collect()
        };
        let set: HashSet<State> = originals.iter().map(|o| kept(0, o)).collect();
        t.places.entry((bits(levels), kept(1, state))).or_default().push(set);
    }
    t.spots.iter_mut().for_each(|spots| spots.retain(|s| !matches!(s, Spot::Idle)));
    for event in &pair.events {
        t.moves.push([t.moves_of(0, event), t.moves_of(1, event)]);
    }
    t.begin(report)?;
    t.events(report)
}

fn slot(point: &mut Point, spot: Spot) -> Option<&mut Lit> {
    match spot {
        Spot::At(Place::Held(e)) => point.held.get_mut(e),
        Spot::At(Place::Mark(e)) => point.mark.get_mut(e),
        Spot::At(Place::Cut(c)) => point.cut.get_mut(c),
        Spot::Float(f) => point.float.get_mut(f),
        Spot::Outside(c) => point.outside.get_mut(c),
        Spot::At(Place::Net(_) | Place::Never) | Spot::Idle => None,
    }
}

/// Everything on which what the contacts show hangs by its function, and not by the shape of the gates alone.
fn mattering(m: &Machine, report: &mut Report) -> HashSet<Spot> {
    let mut graph = Graph::default();
    let g = &mut graph;
    let elements = 0..m.model.elements.len();
    let mut point = Point {
        held: elements.clone().map(|_| g.free()).collect(),
        mark: elements.clone().map(|e| if m.marked[e] { g.free() } else { Lit::FALSE }).collect(),
        cut: m.cuts.iter().map(|_| g.free()).collect(),
        outside: m.model.contacts.iter().map(|_| g.free()).collect(),
        float: m.floating.iter().map(|_| g.free()).collect(),
    };
    let marks = elements.clone().filter(|&e| m.marked[e]).map(|e| Spot::At(Place::Mark(e)));
    let mut open: Vec<Spot> = elements.map(|e| Spot::At(Place::Held(e))).chain(marks).collect();
    open.extend((0..m.cuts.len()).map(|c| Spot::At(Place::Cut(c))));
    open.extend((0..m.floating.len()).map(Spot::Float).chain((0..m.model.contacts.len()).map(Spot::Outside)));
    let sides: HashMap<Spot, [Values; 2]> = open
        .iter()
        .map(|&spot| {
            let values = [Lit::FALSE, Lit::TRUE].map(|level| {
                let Some(was) = slot(&mut point, spot).map(|at| std::mem::replace(at, level)) else {
                    return Values::default();
                };
                let values = m.evaluate(g, &point);
                slot(&mut point, spot).into_iter().for_each(|at| *at = was);
                values
            });
            (spot, values)
        })
        .collect();
    // what a bit takes hangs on these functions
    let functions = |spot: Option<Spot>, v: &Values| -> Vec<Lit> {
        match spot {
            None => (0..m.model.contacts.len()).flat_map(|c| <[Lit; 2]>::from(m.shows(v, c))).collect(),
            Some(Spot::At(Place::Held(e) | Place::Mark(e))) => m.inputs(v, e).to_vec(),
            Some(Spot::At(Place::Cut(c))) => vec![m.next_cut(v, c)],
            Some(_) => Vec::new(),
        }
    };
    let (mut found, mut wanted) = (HashSet::new(), vec![None]);
    while let Some(of) = wanted.pop() {
        open.retain(|&spot| {
            let [low, high] = [0, 1].map(|k| functions(of, &sides[&spot][k]));
            let differ: Vec<Lit> = low.into_iter().zip(high).map(|(a, b)| g.xor(a, b)).collect();
            let differ = g.any(differ);
            let hangs = !matches!(ask(g, &[differ], &mut report.counts), Answer::Never);
            if hangs {
                found.insert(spot);
                wanted.push(Some(spot));
            }
            !hangs
        });
    }
    found
}

impl Tables<'_> {
    fn point(&self, g: &mut Graph, side: usize, levels: &[Lit]) -> (Point, Vec<Lit>) {
        let m = &self.pair.machines[side];
        let mut point = Point {
            held: vec![Lit::FALSE; m.model.elements.len()],
            mark: vec![Lit::FALSE; m.model.elements.len()],
            cut: vec![Lit::FALSE; m.cuts.len()],
            outside: self.pair.outside(side, levels),
            float: vec![Lit::FALSE; m.floating.len()],
        };
        let mut state = Vec::new();
        for &spot in &self.spots[side] {
            let bit = g.free();
            state.push(bit);
            if let Some(at) = slot(&mut point, spot) {
                *at = bit;
            }
        }
        (point, state)
    }

    /// A state under these levels, and what follows from it.
    fn still(&self, g: &mut Graph, side: usize, bits: &State, levels: &[Lit]) -> (Point, Values) {
        let (mut point, free) = self.point(g, side, levels);
        let fixed: HashMap<Lit, Lit> = free.iter().copied().zip(bits.iter().map(|&b| Lit::from(b))).collect();
        for list in [&mut point.held, &mut point.mark, &mut point.cut, &mut point.float] {
            list.iter_mut().for_each(|l| *l = fixed.get(l).copied().unwrap_or(*l));
        }
        let values = self.pair.machines[side].evaluate(g, &point);
        (point, values)
    }

    fn read(&self, side: usize, point: &Point, values: &Values) -> Vec<Lit> {
        let at = |spot: &Spot| match *spot {
            Spot::At(place) => self.pair.at(side, place, point, values),
            Spot::Float(f) => point.float[f],
            Spot::Outside(_) | Spot::Idle => Lit::FALSE,
        };
        self.spots[side].iter().map(at).collect()
    }

    fn moves_of(&self, side: usize, event: &[usize]) -> Moves {
        let mut graph = Graph::default();
        let g = &mut graph;
        let levels: Vec<Lit> = self.pair.contacts.iter().map(|_| g.free()).collect();
        let mut next = levels.clone();
        event.iter().for_each(|&c| next[c] = g.free());
        let (point, state) = self.point(g, side, &levels);
        let m = &self.pair.machines[side];
        let before = m.evaluate(g, &point);
        let stepped = m.step(g, &point, &self.pair.change(side, event, &next), Freedom::Against, LIMITS);
        let after = self.read(side, &stepped.point, &stepped.values);
        Moves { graph, state, levels, next, before, stepped, after }
    }

    /// What a contact shows, as a symbol: low, high, let go.
    fn symbol(&self, side: usize, contact: usize, drive: bool, level: bool) -> u8 {
        match (drive, level) {
            (true, high) => u8::from(high),
            // pulled another way on the two sides: never alike
            (false, _) if !self.pair.contacts[contact].same_pull => 3 + side as u8,
            (false, _) => 2,
        }
    }

    fn shown(&self, side: usize, contact: usize, seen: impl Iterator<Item = (bool, bool)>) -> Vec<u8> {
        let mut all: Vec<u8> = seen.map(|(d, l)| self.symbol(side, contact, d, l)).collect();
        all.dedup();
        if self.pair.contacts[contact].only_settled && all.len() > 2 {
            all.drain(1..all.len() - 1);
            all.dedup();
        }
        all
    }

    /// Everything that may become of a state in one event.
    fn outcomes(
        &mut self,
        event: usize,
        side: usize,
        state: &State,
        levels: &State,
        next: &State,
    ) -> Result<Vec<(Shown, State)>, String> {
        let key = (event, side, state.clone(), levels.clone(), next.clone());
        if let Some(known) = self.known.get(&key) {
            return Ok(known.clone());
        }
        let moves = &self.moves[event][side];
        let mut fixed: HashMap<usize, bool> = HashMap::new();
        for (lits, values) in [(&moves.levels, self.spread(levels)), (&moves.next, self.spread(next))] {
            for (lit, value) in lits.iter().zip(values) {
                fixed.insert(lit.node(), value);
            }
        }
        fixed.extend(moves.state.iter().zip(state).map(|(lit, &value)| (lit.node(), value)));
        // every other free variable is something that nobody knows; those that make no difference are skipped
        let open: Vec<usize> =
            (0..moves.graph.size()).filter(|&n| moves.graph.node(n) == Node::Free && !fixed.contains_key(&n)).collect();
        let mut found: Vec<(Shown, State)> = Vec::new();
        let mut ways = vec![(0usize, HashSet::new())];
        let mut tried = 0;
        while let Some((from, high)) = ways.pop() {
            tried += 1;
            if tried > MOST_WAYS {
                return Err("more unknowns in one event than the checker follows".to_owned());
            }
            let values = moves.graph.values(|n| fixed.get(&n).copied().unwrap_or_else(|| high.contains(&n)));
            if value(&values, moves.stepped.unsettled) {
                return Err(format!("{}: a side does not come to rest", self.pair.words(&self.pair.events[event])));
            }
            for (k, &n) in open.iter().enumerate().skip(from) {
                let mut other = high.clone();
                other.insert(n);
                if self.matters(moves, &fixed, &high, &other) {
                    ways.push((k + 1, other));
                }
            }
            let shown = (0..self.pair.contacts.len())
                .map(|c| {
                    let Some(at) = self.pair.contacts[c].on[side].filter(|_| self.pair.contacts[c].is_compared) else {
                        return Vec::new();
                    };
                    let before = self.pair.machines[side].shows(&moves.before, at);
                    let all = std::iter::once(before).chain(moves.stepped.views.iter().map(|v| v[at]));
                    self.shown(side, c, all.map(|(d, l)| (value(&values, d), value(&values, l))))
                })
                .collect();
            let outcome = (shown, moves.after.iter().map(|&l| value(&values, l)).collect());
            if !found.contains(&outcome) {
                found.push(outcome);
            }
        }
        self.known.insert(key, found.clone());
        Ok(found)
    }

    /// Whether anything that is looked at is another with these unknowns high.
    fn matters(&self, moves: &Moves, fixed: &HashMap<usize, bool>, a: &HashSet<usize>, b: &HashSet<usize>) -> bool {
        let of =
            |high: &HashSet<usize>| moves.graph.values(|n| fixed.get(&n).copied().unwrap_or_else(|| high.contains(&n)));
        let (a, b) = (of(a), of(b));
        // an unknown that is not asked changes no gate
        let differs = (0..moves.graph.size()).filter(|&n| a[n] != b[n] && moves.graph.node(n) != Node::Free);
        differs.count() > 0
    }

    /// Levels of all contacts from those of a place.
    fn spread(&self, levels: &State) -> Vec<bool> {
        let mut all = vec![false; self.pair.contacts.len()];
        for (&c, &level) in self.reads.iter().zip(levels) {
            all[c] = level;
        }
        all
    }

    fn lits(&self, levels: &State) -> Vec<Lit> {
        self.spread(levels).into_iter().map(Lit::from).collect()
    }

    /// Every start of the replacement is a place whose states of the original are settled and show the same.
    fn begin(&mut self, report: &mut Report) -> Result<(), String> {
        let pair = self.pair;
        let mut good = Vec::new();
        for ((levels, state), sets) in &self.places {
            let alike = |original: &State| {
                let mut g = Graph::default();
                let lits = self.lits(levels);
                let mut views = Vec::new();
                for (side, bits) in [(0, original), (1, state)] {
                    let (point, values) = self.still(&mut g, side, bits, &lits);
                    if pair.machines[side].settled(&mut g, &point, &values) != Lit::TRUE {
                        return false;
                    }
                    views.push(values);
                }
                (0..pair.contacts.len())
                    .all(|c| pair.differs(&mut g, c, [&views[0], &views[1]], [&[], &[]]) == Lit::FALSE)
            };
            if sets.iter().any(|set| set.iter().all(alike)) {
                good.push((levels.clone(), state.clone()));
            }
        }
        let mut g = Graph::default();
        let g = &mut g;
        let levels = pair.levels(g);
        let allowed = pair.allowed(g, &levels);
        let m = &pair.machines[1];
        let from = Point {
            held: m.model.elements.iter().map(|e| e.start.map_or_else(|| g.free(), Lit::from)).collect(),
            mark: vec![Lit::FALSE; m.model.elements.len()],
            cut: m.cuts.iter().map(|_| g.free()).collect(),
            outside: pair.outside(1, &levels),
            float: m.floating.iter().map(|_| g.free()).collect(),
        };
        let woken = m.rest(g, &from, Freedom::Against, LIMITS);
        let state = self.read(1, &woken.point, &woken.values);
        let read: Vec<Lit> = self.reads.iter().map(|&c| levels[c]).collect();
        let mut any = Vec::new();
        for (l, s) in &good {
            let all: Vec<Lit> = read.iter().zip(l).chain(state.iter().zip(s)).map(|(&x, &v)| x.flip(!v)).collect();
            any.push(g.all(all));
        }
        let covered = g.any(any);
        let bad = g.or(woken.unsettled, !covered);
        *report.obligations.entry("initial").or_default() += 1;
        match ask(g, &[allowed, bad], &mut report.counts) {
            Answer::Never => Ok(()),
            Answer::Model(_) => {
                Err("power-up: a start of the replacement is no place of the table, or nothing matches it there"
                    .to_owned())
            }
            Answer::Unknown(why) => Err(why),
        }
    }

    fn events(&mut self, report: &mut Report) -> Result<(), String> {
        let pair = self.pair;
        let places: Vec<((State, State), Vec<HashSet<State>>)> =
            self.places.iter().map(|(k, v)| (k.clone(), v.clone())).collect();
        for ((levels, state), sets) in &places {
            for (e, event) in pair.events.iter().enumerate() {
                let spots: Vec<usize> = event.iter().filter_map(|c| self.reads.iter().position(|r| r == c)).collect();
                for n in 1..1u64 << spots.len().min(16) {
                    let mut next = levels.clone();
                    for (i, &k) in spots.iter().enumerate() {
                        next[k] ^= (n >> i) & 1 == 1;
                    }
                    let mut g = Graph::default();
                    let (before, after) = (self.lits(levels), self.lits(&next));
                    let card = pair.card(&self.still(&mut g, 1, state, &before).1);
                    if pair.may(&mut g, &before, &after, &card) != Lit::TRUE {
                        continue;
                    }
                    for (shown, r) in self.outcomes(e, 1, state, levels, &next)? {
                        for set in sets {
                            let mut reached = HashSet::new();
                            for o in set {
                                for (theirs, after) in self.outcomes(e, 0, o, levels, &next)? {
                                    if theirs == shown {
                                        reached.insert(after);
                                    }
                                }
                            }
                            *report.obligations.entry("step").or_default() += 1;
                            let there = self.places.get(&(next.clone(), r.clone()));
                            if !there.is_some_and(|all| all.iter().any(|s| s.is_subset(&reached))) {
                                return Err(format!(
                                    "{}: the table leads nowhere that the original could follow",
                                    pair.words(event)
                                ));
                            }
                        }
                    }
                }
            }
        }
        Ok(())
    }
}
