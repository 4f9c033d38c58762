//! What a circuit does over one event, by the rules of the guide and of the design: everything that follows at once
//! settles, then registers whose clock rose between the last settled point and this one take what stood before it.
use std::collections::{BTreeSet, HashMap, HashSet};

use petgraph::algo::tarjan_scc;
use petgraph::graphmap::DiGraphMap;

use crate::graph::{Graph, Lit, Rails, reach, sure};
use crate::model::{Item, Kind, Model, Op};

/// A circuit made ready to run.
#[derive(Debug)]
pub struct Machine {
    /// The circuit.
    pub model: Model,
    /// Everything that it holds: what each element holds first, in the same order.
    pub bits: Vec<Bit>,
    /// Whether an element bears on any contact.
    pub live: Vec<bool>,
    /// Where each bit is.
    at: HashMap<Bit, usize>,
    /// Loops of more than one net: its expressions and its nets.
    loops: Vec<BTreeSet<Item>>,
    order: Vec<Item>,
}

/// A bit that a circuit holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Bit {
    /// What an element holds.
    Held(usize),
    /// Clear and preset of an element were both asserted: both outputs are high.
    Mark(usize),
    /// A net at which a loop of gates is cut.
    Cut(usize),
    /// A net that is read while nobody may drive it: what it reads.
    Float(usize),
}

/// Everything that a circuit holds, and what stands outside.
#[derive(Clone, Debug, Default)]
pub struct Point {
    /// The value of each bit.
    pub bits: Vec<Lit>,
    /// The level from outside, for each contact of the circuit.
    pub outside: Vec<Lit>,
}

/// What follows from a point.
#[derive(Clone, Debug, Default)]
pub struct Values {
    op: Vec<Lit>,
    /// What each net reads.
    pub net: Vec<Lit>,
    /// For each net: when anybody drives it, and what level.
    driven: Vec<(Lit, Lit)>,
    /// For each bit that is a cut net: what it will be.
    pub next: Vec<Lit>,
}

/// What the contacts show: driven, level.
pub type View = Vec<(Lit, Lit)>;

/// How far a step goes: as many rounds of registers, and half as many again of latches and loops in each.
pub type Limit = usize;

/// What nobody knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unknown {
    /// Clear and preset were released together.
    JointRelease,
    /// Clear or preset was released with the clock's edge.
    Recovery,
    /// Data moved with the clock's edge.
    Race,
    /// The data sheet leaves open what is loaded.
    Load,
    /// The gates of a loop race.
    Loop,
}

/// What becomes of what nobody knows.
#[derive(Clone, Copy, Debug)]
pub enum Freedom<'f> {
    /// Anything.
    Against,
    /// What usually happens; what no sheet says is loaded is this, by element.
    Usual(&'f HashMap<usize, Lit>),
}

/// What came of a step.
#[derive(Debug)]
pub struct Stepped {
    /// Where it ended.
    pub point: Point,
    /// What followed from that.
    pub values: Values,
    /// What the contacts showed, phase by phase.
    pub views: Vec<View>,
    /// Where it had not come to rest.
    pub unsettled: Lit,
    /// What nobody knew on the way: kind, element or net, when.
    pub met: Vec<(Unknown, usize, Lit)>,
}

impl Machine {
    /// Makes a circuit ready, as far as these contacts depend on it. Nets called as in `cuts` are cut first where a
    /// loop has to be cut, and elements called as in `named` count although no contact depends on them.
    pub fn new(model: Model, shows: impl Fn(&str) -> bool, cuts: &HashSet<String>, named: &HashSet<String>) -> Machine {
        let mut m = Machine {
            bits: (0..model.elements.len()).map(Bit::Held).collect(),
            live: vec![false; model.elements.len()],
            at: HashMap::new(),
            loops: Vec::new(),
            order: Vec::new(),
            model,
        };
        for (i, contact) in m.model.contacts.iter().enumerate() {
            m.model.nets[contact.net].contact = Some(i);
        }
        m.model.fix();
        m.arrange(shows, cuts, named);
        m.mark(|_| true);
        // an element whose clear or preset is never asserted needs no mark
        let mut g = Graph::default();
        let point = m.free(&mut g);
        let values = m.evaluate(&mut g, &point);
        let of = |e: usize| m.inputs(&values, e);
        let may: Vec<bool> = (0..m.live.len()).map(|e| of(e)[2] != Lit::FALSE && of(e)[3] != Lit::FALSE).collect();
        m.mark(|e| may[e]);
        m
    }

    /// Gives these elements a mark, and no others.
    pub fn mark(&mut self, of: impl Fn(usize) -> bool) {
        self.bits.retain(|b| !matches!(b, Bit::Mark(_)));
        self.bits.extend((0..self.live.len()).filter(|&e| of(e)).map(Bit::Mark));
        self.at = self.bits.iter().enumerate().map(|(i, &bit)| (bit, i)).collect();
    }

    /// Finds what bears on the contacts, where loops are cut, and what is worked out before what.
    fn arrange(&mut self, shows: impl Fn(&str) -> bool, cuts: &HashSet<String>, named: &HashSet<String>) {
        let elements = self.model.elements.iter().enumerate().filter(|(_, e)| named.contains(&e.name));
        let contacts = self.model.contacts.iter().filter(|c| shows(&c.label));
        let roots = elements.map(|(e, _)| Item::Element(e)).chain(contacts.map(|c| Item::Net(c.net)));
        let live = reach(roots, |item| self.model.below(item));
        self.live = (0..self.live.len()).map(|e| live.contains(&Item::Element(e))).collect();
        let mut cut = BTreeSet::new();
        loop {
            // nothing but gates; a cut net is known before what it depends on
            let below = |&item: &Item| self.model.below(item).into_iter().map(move |below| (item, below, ()));
            let edges = live.iter().flat_map(below);
            let edges = edges.filter(|(_, b, ())| !matches!(b, Item::Element(_)) && !cut.contains(b));
            let mut graph: DiGraphMap<Item, ()> = edges.collect();
            for &item in &live {
                graph.add_node(item);
            }
            // what others depend on comes first
            let all = tarjan_scc(&graph);
            let knots = all.iter().filter(|knot| knot.len() > 1).map(|knot| knot.iter().copied().collect());
            let knots: BTreeSet<BTreeSet<Item>> = knots.collect();
            if cut.is_empty() {
                self.loops = knots.iter().filter(|knot| nets(knot).count() > 1).cloned().collect();
            }
            if knots.is_empty() {
                self.order = all.concat();
                break;
            }
            let is_named = |n: &usize| self.names(Bit::Cut(*n)).iter().any(|name| cuts.contains(name));
            cut.extend(knots.iter().filter_map(|k| nets(k).find(is_named).or(nets(k).next()).map(Item::Net)));
        }
        self.bits.extend(nets(&cut).map(Bit::Cut));
        let floating: Vec<Bit> = nets(&live).filter(|&n| self.floats(n)).map(Bit::Float).collect();
        self.bits.extend(floating);
    }

    /// Whether a net reads anything while nobody drives it.
    fn floats(&self, n: usize) -> bool {
        let net = &self.model.nets[n];
        let always = net.drivers.iter().any(|d| self.model.ops[d.enable] == Op::Constant(true));
        net.contact.is_none() && self.model.undriven(n).is_none() && !always
    }

    /// What holds a value: elements, nets that float, everything in a loop.
    pub fn holding(&self) -> BTreeSet<Item> {
        let item = |bit: &Bit| match *bit {
            Bit::Held(e) | Bit::Mark(e) => Some(Item::Element(e)).filter(|_| self.live[e]),
            Bit::Cut(n) | Bit::Float(n) => Some(Item::Net(n)),
        };
        self.bits.iter().filter_map(item).chain(self.loops.iter().flatten().copied()).collect()
    }

    fn is_register(&self, e: usize) -> bool {
        self.model.elements[e].kind == Kind::Register
    }

    /// The names of a bit; the first is its own.
    pub fn names(&self, bit: Bit) -> Vec<String> {
        match bit {
            Bit::Held(e) => vec![self.model.elements[e].name.clone()],
            Bit::Mark(e) => vec![format!("{} (clear and preset)", self.model.elements[e].name)],
            Bit::Cut(n) | Bit::Float(n) => {
                let also = self.model.also.iter().filter(|(_, m)| **m == n).map(|(name, _)| name);
                std::iter::once(&self.model.nets[n].name).chain(also).cloned().collect()
            }
        }
    }

    /// Where a bit is.
    pub fn find(&self, bit: Bit) -> Option<usize> {
        self.at.get(&bit).copied()
    }

    /// A point with everything free.
    pub fn free(&self, g: &mut Graph) -> Point {
        let mut some = |n: usize| (0..n).map(|_| g.free()).collect();
        Point { bits: some(self.bits.len()), outside: some(self.model.contacts.len()) }
    }

    /// Whether anything reads what the board puts on a contact.
    pub fn reads_contact(&self, contact: usize) -> bool {
        let net = self.model.contacts[contact].net;
        let reads = |id: usize| self.model.ops[id] == Op::Net(net);
        !self.drives(contact, true) && self.order.iter().any(|i| matches!(i, Item::Op(id) if reads(*id)))
    }

    /// Whether the circuit may drive a contact, or always does.
    pub fn drives(&self, contact: usize, always: bool) -> bool {
        let drivers = &self.model.nets[self.model.contacts[contact].net].drivers;
        drivers.iter().any(|d| if let Op::Constant(on) = self.model.ops[d.enable] { on } else { !always })
    }

    /// What follows from a point.
    pub fn evaluate(&self, g: &mut Graph, point: &Point) -> Values {
        let m = &self.model;
        let mut v = Values {
            op: vec![Lit::FALSE; m.ops.len()],
            net: vec![Lit::FALSE; m.nets.len()],
            driven: vec![(Lit::FALSE, Lit::FALSE); m.nets.len()],
            next: point.bits.clone(),
        };
        for (i, bit) in self.bits.iter().enumerate() {
            if let Bit::Cut(n) = bit {
                v.net[*n] = point.bits[i];
            }
        }
        for &item in &self.order {
            match item {
                Item::Op(id) => {
                    let mark = |e: &usize| self.find(Bit::Mark(*e)).map_or(Lit::FALSE, |i| point.bits[i]);
                    v.op[id] = match &m.ops[id] {
                        Op::Net(n) => v.net[*n],
                        Op::Held(e) => g.or(point.bits[*e], mark(e)),
                        Op::Complement(e) => g.or(!point.bits[*e], mark(e)),
                        op => op.gate(g, |a| sure(v.op[a])).unwrap_or_default().0,
                    };
                }
                Item::Net(n) => {
                    let (drive, level) = self.driven(g, n, |id| sure(v.op[id]));
                    v.driven[n] = (drive.0, level.0);
                    let value = g.mux(drive.0, level.0, self.undriven(point, n));
                    match self.find(Bit::Cut(n)) {
                        Some(i) => v.next[i] = value,
                        None => v.net[n] = value,
                    }
                }
                Item::Element(_) => {}
            }
        }
        v
    }

    /// When anybody drives a net, and to what level: where two fight, low wins.
    fn driven(&self, g: &mut Graph, n: usize, at: impl Fn(usize) -> Rails) -> (Rails, Rails) {
        let drivers = &self.model.nets[n].drivers;
        if let [d] = drivers.as_slice() {
            return (at(d.enable), at(d.level));
        }
        let drive = g.some(drivers.iter().map(|d| at(d.enable)));
        let lows: Vec<Rails> =
            drivers.iter().map(|d| g.every([at(d.enable), (at(d.level).1, at(d.level).0)])).collect();
        let low = g.some(lows);
        (drive, (low.1, low.0))
    }

    fn undriven(&self, point: &Point, n: usize) -> Lit {
        match (self.model.nets[n].contact, self.model.undriven(n), self.find(Bit::Float(n))) {
            (Some(contact), ..) => point.outside[contact],
            (None, Some(level), _) => level.into(),
            (None, None, float) => float.map_or(Lit::TRUE, |i| point.bits[i]),
        }
    }

    /// What a contact shows.
    pub fn shows(&self, values: &Values, contact: usize) -> (Lit, Lit) {
        values.driven[self.model.contacts[contact].net]
    }

    /// The functions of one element: clock or gate, data, clear, preset, unknown.
    pub fn inputs(&self, values: &Values, e: usize) -> [Lit; 5] {
        self.model.elements[e].inputs.map(|id| values.op[id])
    }

    /// What all contacts show.
    pub fn view(&self, values: &Values) -> View {
        (0..self.model.contacts.len()).map(|c| self.shows(values, c)).collect()
    }

    /// Whether a bit follows at once, and does not wait for a clock.
    fn follows(&self, i: usize) -> bool {
        match self.bits[i] {
            Bit::Held(e) | Bit::Mark(e) => self.live[e] && !self.is_register(e),
            Bit::Cut(_) => true,
            Bit::Float(_) => false,
        }
    }

    /// What a bit goes to by itself, with no clock.
    fn next(&self, g: &mut Graph, point: &Point, values: &Values, i: usize) -> Lit {
        match self.bits[i] {
            Bit::Held(e) if self.live[e] => {
                let [open, data, clear, preset, _] = self.inputs(values, e);
                let held = if self.is_register(e) { point.bits[i] } else { g.mux(open, data, point.bits[i]) };
                let set = g.or(preset, held);
                g.and(!clear, set)
            }
            Bit::Mark(e) if self.live[e] => {
                let [_, _, clear, preset, _] = self.inputs(values, e);
                g.and(clear, preset)
            }
            _ => values.next[i],
        }
    }

    /// Where nothing would move by itself.
    pub fn settled(&self, g: &mut Graph, point: &Point, values: &Values) -> Lit {
        let next: Vec<Lit> = (0..self.bits.len()).map(|i| self.next(g, point, values, i)).collect();
        !g.differ(&next, &point.bits)
    }

    /// From a settled point over these levels outside to the next settled point.
    pub fn step(&self, g: &mut Graph, from: &Point, outside: &[Lit], freedom: Freedom<'_>, limit: Limit) -> Stepped {
        let mut point = Point { bits: from.bits.clone(), outside: outside.to_vec() };
        if matches!(freedom, Freedom::Against) {
            // what floats reads anything, anew
            let floats = self.bits.iter().zip(&mut point.bits).filter(|(b, _)| matches!(b, Bit::Float(_)));
            floats.for_each(|(_, bit)| *bit = g.free());
        }
        let start = (from.clone(), self.evaluate(g, from));
        let values = self.evaluate(g, &point);
        let run = Run { m: self, start: Some(start.clone()), freedom, limit, met: Vec::new() };
        run.go(g, start, (point, values))
    }

    /// From any point, with nothing changing outside, to rest.
    pub fn rest(&self, g: &mut Graph, from: &Point, freedom: Freedom<'_>, limit: Limit) -> Stepped {
        let start = (from.clone(), self.evaluate(g, from));
        Run { m: self, start: None, freedom, limit, met: Vec::new() }.go(g, start.clone(), start)
    }

    /// For each net of a loop, where its level depends on delays: all that may move is let go, then what is forced comes
    /// back.
    fn undecided(&self, g: &mut Graph, knot: &BTreeSet<Item>, before: &Values, now: &Moment) -> Vec<Lit> {
        let round = |g: &mut Graph, y: &[Rails]| -> Vec<Rails> {
            // what is beside the loop does not depend on it: it would be in it
            let mut op: Vec<Rails> = now.1.op.iter().map(|&level| sure(level)).collect();
            for item in knot {
                let Item::Op(id) = *item else { continue };
                let of_net = |n: usize| nets(knot).position(|m| m == n).map(|k| y[k]);
                let level = match &self.model.ops[id] {
                    Op::Net(n) => of_net(*n),
                    gate => gate.gate(g, |a| op[a]),
                };
                op[id] = level.unwrap_or(op[id]);
            }
            let value = |n: usize| {
                let (drive, level) = self.driven(g, n, |id| op[id]);
                g.choose(drive, level, sure(self.undriven(&now.0, n)))
            };
            nets(knot).map(value).collect()
        };
        let mut y: Vec<Rails> = nets(knot).map(|n| sure(before.net[n])).collect();
        for widens in [true, false] {
            for _ in 0..y.len() {
                let mut next = round(g, &y);
                if widens {
                    next = y.iter().zip(next).map(|(a, b)| (g.or(a.0, b.0), g.or(a.1, b.1))).collect();
                }
                if next == std::mem::replace(&mut y, next.clone()) {
                    break;
                }
            }
        }
        y.into_iter().map(|(high, low)| g.and(high, low)).collect()
    }
}

fn nets(of: &BTreeSet<Item>) -> impl Iterator<Item = usize> {
    of.iter().filter_map(|item| if let Item::Net(n) = *item { Some(n) } else { None })
}

type Moment = (Point, Values);

struct Run<'r> {
    m: &'r Machine,
    /// The settled point before the event; none if the run begins anywhere.
    start: Option<Moment>,
    freedom: Freedom<'r>,
    limit: Limit,
    met: Vec<(Unknown, usize, Lit)>,
}

impl Run<'_> {
    fn go(mut self, g: &mut Graph, mut before: Moment, mut now: Moment) -> Stepped {
        let m = self.m;
        let mut unsettled = Lit::FALSE;
        let mut views = Vec::new();
        let mut first = self.start.is_none();
        for phase in 0..=self.limit {
            let restless = self.settle(g, &before, &mut now);
            unsettled = g.or(unsettled, restless);
            if first {
                // what stood before it first settled was never a level: nothing is an edge from there
                before = now.clone();
            }
            views.push(m.view(&now.1));
            let mut next = now.0.clone();
            for e in (0..m.live.len()).filter(|&e| m.live[e] && m.is_register(e)) {
                let [was, is] = [&before, &now].map(|moment| m.inputs(&moment.1, e));
                if !first && (was[0], was[2], was[3]) == (is[0], is[2], is[3]) {
                    continue;
                }
                next.bits[e] = self.load(g, e, was, is, now.0.bits[e]);
                if let Some(mark) = m.find(Bit::Mark(e)) {
                    next.bits[mark] = g.and(is[2], is[3]);
                }
            }
            first = false;
            if next.bits == now.0.bits {
                break;
            }
            if phase == self.limit {
                let differ = g.differ(&next.bits, &now.0.bits);
                unsettled = g.or(unsettled, differ);
                break;
            }
            let values = m.evaluate(g, &next);
            before = std::mem::replace(&mut now, (next, values));
        }
        let settled = m.settled(g, &now.0, &now.1);
        Stepped { point: now.0, values: now.1, views, unsettled: g.or(unsettled, !settled), met: self.met }
    }

    fn unknown(&mut self, g: &mut Graph, kind: Unknown, at: usize, when: Lit, usual: Lit) -> Lit {
        if when == Lit::FALSE {
            return usual;
        }
        self.met.push((kind, at, when));
        let chosen = match self.freedom {
            Freedom::Against => Some(g.free()),
            Freedom::Usual(loads) => loads.get(&at).copied().filter(|_| kind == Unknown::Load),
        };
        chosen.map_or(usual, |chosen| g.mux(when, chosen, usual))
    }

    /// What a register takes at the end of a phase, its inputs having been these and being those.
    fn load(&mut self, g: &mut Graph, e: usize, was: [Lit; 5], is: [Lit; 5], held: Lit) -> Lit {
        let [clock_was, data_was, clear_was, preset_was, unknown_was] = was;
        let [clock, data, clear, preset, _] = is;
        let edge = g.and(!clock_was, clock);
        let (was_forced, is_forced) = (g.or(clear_was, preset_was), g.or(clear, preset));
        // an edge counts only if clear and preset are inactive on both sides of it
        let loads = g.and(edge, !was_forced);
        let counts = g.and(loads, !is_forced);
        let moved = g.xor(data_was, data);
        let race = g.and(counts, moved);
        let mut value = self.unknown(g, Unknown::Race, e, race, data_was);
        let open = g.and(counts, unknown_was);
        value = self.unknown(g, Unknown::Load, e, open, value);
        value = g.mux(loads, value, held);
        // a clear that ends with the edge: did the edge count? It is all one where it would change nothing
        let released = g.and(was_forced, !is_forced);
        let differs = g.xor(data_was, held);
        let matters = g.any([differs, moved, unknown_was]);
        let recovery = g.all([edge, released, matters]);
        value = self.unknown(g, Unknown::Recovery, e, recovery, value);
        let joint = g.all([clear_was, preset_was, !is_forced]);
        value = self.unknown(g, Unknown::JointRelease, e, joint, value);
        value = g.or(preset, value);
        g.and(!clear, value)
    }

    /// Gates, latches and loops, with what nobody knows of them; where they don't come to rest.
    fn settle(&mut self, g: &mut Graph, before: &Moment, now: &mut Moment) -> Lit {
        let mut unsettled = self.follow(g, now);
        if self.start.is_none() {
            return unsettled;
        }
        let (mut latches, mut loops) = (HashSet::new(), HashSet::new());
        while self.release(g, before, now, &mut latches) || self.race(g, before, now, &mut loops) {
            let again = self.follow(g, now);
            unsettled = g.or(unsettled, again);
        }
        unsettled
    }

    fn follow(&self, g: &mut Graph, now: &mut Moment) -> Lit {
        let m = self.m;
        for round in 0..=self.limit * 3 / 2 {
            let mut next = now.0.clone();
            for i in (0..m.bits.len()).filter(|&i| m.follows(i)) {
                let value = m.next(g, &now.0, &now.1, i);
                // what was settled and whose function is as it was keeps what it held
                let old = self.start.as_ref().map(|(p, v)| (m.next(g, p, v, i), p.bits[i]));
                next.bits[i] = old.filter(|(was, _)| *was == value).map_or(value, |(_, held)| held);
            }
            if next.bits == now.0.bits {
                break;
            }
            if round == self.limit * 3 / 2 {
                return g.differ(&next.bits, &now.0.bits);
            }
            let values = m.evaluate(g, &next);
            *now = (next, values);
        }
        Lit::FALSE
    }

    /// A latch whose clear and preset were released together may hold anything.
    fn release(&mut self, g: &mut Graph, before: &Moment, now: &mut Moment, asked: &mut HashSet<usize>) -> bool {
        let m = self.m;
        for e in (0..m.live.len()).filter(|&e| !m.is_register(e) && m.live[e] && m.find(Bit::Mark(e)).is_some()) {
            let [_, _, clear_was, preset_was, _] = m.inputs(&before.1, e);
            let [open, _, clear, preset, _] = m.inputs(&now.1, e);
            let when = g.all([clear_was, preset_was, !clear, !preset, !open]);
            if when == Lit::FALSE || !asked.insert(e) {
                continue;
            }
            let value = self.unknown(g, Unknown::JointRelease, e, when, now.0.bits[e]);
            if value != now.0.bits[e] {
                now.0.bits[e] = value;
                now.1 = m.evaluate(g, &now.0);
                return true;
            }
        }
        false
    }

    /// A loop whose gates race ends as their delays decide (ternary simulation: Eichelberger 1965).
    fn race(&mut self, g: &mut Graph, before: &Moment, now: &mut Moment, asked: &mut HashSet<usize>) -> bool {
        let m = self.m;
        for (i, knot) in m.loops.iter().enumerate() {
            if asked.contains(&i) || nets(knot).all(|n| before.1.net[n] == now.1.net[n]) {
                continue;
            }
            let undecided = m.undecided(g, knot, &before.1, now);
            let mut moved = false;
            for (net, when) in nets(knot).zip(undecided).filter(|(_, when)| *when != Lit::FALSE) {
                let Some(bit) = m.find(Bit::Cut(net)) else { continue };
                asked.insert(i);
                let value = self.unknown(g, Unknown::Loop, net, when, now.0.bits[bit]);
                moved |= value != now.0.bits[bit];
                now.0.bits[bit] = value;
            }
            if moved {
                now.1 = m.evaluate(g, &now.0);
                return true;
            }
        }
        false
    }
}
