//! What a circuit does over one event, by the rules of the guide and of the design: everything that follows at once
//! settles, then registers whose clock rose between the last settled point and this one take what stood before it.
use std::collections::{HashMap, HashSet};

use petgraph::algo::tarjan_scc;
use petgraph::graph::{DiGraph, NodeIndex};

use crate::graph::{Graph, Lit};
use crate::model::{Kind, Model, Op, Pull, Stage};

/// A circuit made ready to run.
#[derive(Debug)]
pub struct Machine {
    /// The circuit.
    pub model: Model,
    /// Nets at which loops of gates are cut: each holds a bit.
    pub cuts: Vec<usize>,
    /// Loops of more than one net.
    loops: Vec<Vec<usize>>,
    /// Whether an element, or a net, bears on any contact.
    pub live_elements: Vec<bool>,
    live_nets: Vec<bool>,
    /// Whether clear and preset of an element can both be asserted: it then has a mark.
    pub marked: Vec<bool>,
    /// Nets that are read while nobody may drive them.
    pub floating: Vec<usize>,
    order: Vec<Item>,
    /// Expressions that never change.
    fixed: Vec<Option<bool>>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Item {
    Op(usize),
    Net(usize),
}

/// Everything that a circuit holds, and what stands outside.
#[derive(Clone, Debug, Default)]
pub struct Point {
    /// What each element holds.
    pub held: Vec<Lit>,
    /// Clear and preset were both asserted: both outputs are high.
    pub mark: Vec<Lit>,
    /// What each cut net holds.
    pub cut: Vec<Lit>,
    /// The level from outside, for each contact of the circuit.
    pub outside: Vec<Lit>,
    /// What each floating net reads.
    pub float: Vec<Lit>,
}

/// What follows from a point.
#[derive(Clone, Debug, Default)]
pub struct Values {
    op: Vec<Lit>,
    net: Vec<Lit>,
    /// For each net: when anybody drives it, and what level.
    driven: Vec<(Lit, Lit)>,
    /// For each cut net: what it will be.
    next: Vec<Lit>,
}

/// What the contacts show: driven, level.
pub type View = Vec<(Lit, Lit)>;

/// How far a step goes.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Rounds of registers.
    pub phases: usize,
    /// Rounds of latches and loops in each.
    pub rounds: usize,
}

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
    /// Makes a circuit ready. Nets called as in `cuts` are cut first where a loop has to be cut, and elements called as in
    /// `named` count although no contact hangs on them.
    pub fn new(model: Model, cuts: &HashSet<String>, named: &HashSet<String>) -> Machine {
        let mut m = Machine {
            live_elements: vec![false; model.elements.len()],
            live_nets: vec![false; model.nets.len()],
            marked: model.elements.iter().map(|_| true).collect(),
            cuts: Vec::new(),
            loops: Vec::new(),
            floating: Vec::new(),
            order: Vec::new(),
            fixed: vec![None; model.ops.len()],
            model,
        };
        m.fix();
        m.live(named);
        m.cut(cuts);
        m.put_in_order();
        m.floating = (0..m.model.nets.len()).filter(|&n| m.live_nets[n] && m.floats(n)).collect();
        // an element whose clear or preset is never asserted needs no mark
        let mut g = Graph::default();
        let point = Point {
            held: m.model.elements.iter().map(|_| g.free()).collect(),
            mark: m.model.elements.iter().map(|_| g.free()).collect(),
            cut: m.cuts.iter().map(|_| g.free()).collect(),
            outside: m.model.contacts.iter().map(|_| g.free()).collect(),
            float: m.floating.iter().map(|_| g.free()).collect(),
        };
        let values = m.evaluate(&mut g, &point);
        m.marked = m
            .model
            .elements
            .iter()
            .map(|e| values.op[e.clear] != Lit::FALSE && values.op[e.preset] != Lit::FALSE)
            .collect();
        m
    }

    /// Finds what hangs on nothing but the rails.
    fn fix(&mut self) {
        loop {
            let at = |id: usize| self.fixed[id];
            let of_net = |n: usize| match self.model.nets[n].drivers.as_slice() {
                [d] if at(d.enable) == Some(true) => at(d.level),
                _ => None,
            };
            let all = |ids: &[usize], low: bool| {
                let any = ids.iter().any(|&a| at(a) == Some(low));
                any.then_some(low).or_else(|| ids.iter().all(|&a| at(a) == Some(!low)).then_some(!low))
            };
            let next: Vec<Option<bool>> = self
                .model
                .ops
                .iter()
                .map(|op| match op {
                    Op::Constant(v) => Some(*v),
                    Op::Net(n) => of_net(*n),
                    Op::Held(_) | Op::Complement(_) => None,
                    Op::Not(a) => at(*a).map(|v| !v),
                    Op::All(ids) => all(ids, false),
                    Op::Any(ids) => all(ids, true),
                    Op::Xor(a, b) => at(*a).zip(at(*b)).map(|(a, b)| a != b),
                    Op::Choose(c, a, b) => at(*c).and_then(|c| at(if c { *a } else { *b })),
                })
                .collect();
            if next == self.fixed {
                break;
            }
            self.fixed = next;
        }
    }

    /// What a net or an expression hangs on.
    fn below(&self, item: Item) -> Vec<Item> {
        match item {
            Item::Net(n) => {
                let drives = self.model.nets[n].drivers.iter().filter(|d| self.fixed[d.enable] != Some(false));
                drives.flat_map(|d| [Item::Op(d.enable), Item::Op(d.level)]).collect()
            }
            Item::Op(id) if self.fixed[id].is_some() => Vec::new(),
            Item::Op(id) => match &self.model.ops[id] {
                Op::Constant(_) | Op::Held(_) | Op::Complement(_) => Vec::new(),
                Op::Net(n) => vec![Item::Net(*n)],
                Op::Not(a) => vec![Item::Op(*a)],
                Op::All(all) | Op::Any(all) => all.iter().map(|&a| Item::Op(a)).collect(),
                Op::Xor(a, b) => vec![Item::Op(*a), Item::Op(*b)],
                Op::Choose(a, b, c) => match self.fixed[*a] {
                    Some(first) => vec![Item::Op(*a), Item::Op(if first { *b } else { *c })],
                    None => vec![Item::Op(*a), Item::Op(*b), Item::Op(*c)],
                },
            },
        }
    }

    fn is_register(&self, e: usize) -> bool {
        self.model.elements[e].kind == Kind::Register
    }

    fn of_element(&self, e: usize) -> Vec<Item> {
        let e = &self.model.elements[e];
        [e.gate, e.data, e.clear, e.preset, e.unknown].map(Item::Op).to_vec()
    }

    fn live(&mut self, named: &HashSet<String>) {
        let mut stack: Vec<Item> = self.model.contacts.iter().map(|c| Item::Net(c.net)).collect();
        self.live_elements = self.model.elements.iter().map(|e| named.contains(&e.name)).collect();
        stack.extend((0..self.live_elements.len()).filter(|&e| self.live_elements[e]).flat_map(|e| self.of_element(e)));
        let mut seen = HashSet::new();
        while let Some(item) = stack.pop() {
            if !seen.insert(item) {
                continue;
            }
            match item {
                Item::Net(n) => self.live_nets[n] = true,
                Item::Op(id) => {
                    if let Op::Held(e) | Op::Complement(e) = self.model.ops[id]
                        && !std::mem::replace(&mut self.live_elements[e], true)
                    {
                        stack.extend(self.of_element(e));
                    }
                }
            }
            stack.extend(self.below(item));
        }
    }

    /// The nets that a net reads through gates alone.
    fn reads(&self, net: usize) -> HashSet<usize> {
        let mut nets = HashSet::new();
        let mut stack = self.below(Item::Net(net));
        let mut seen = HashSet::new();
        while let Some(item) = stack.pop() {
            if !seen.insert(item) {
                continue;
            }
            match item {
                Item::Net(n) => {
                    nets.insert(n);
                }
                Item::Op(_) => stack.extend(self.below(item)),
            }
        }
        nets
    }

    fn cut(&mut self, named: &HashSet<String>) {
        let nets: Vec<usize> = (0..self.model.nets.len()).filter(|&n| self.live_nets[n]).collect();
        let reads: HashMap<usize, HashSet<usize>> = nets.iter().map(|&n| (n, self.reads(n))).collect();
        let knots = |cuts: &[usize]| -> Vec<Vec<usize>> {
            let mut graph = DiGraph::<usize, ()>::new();
            let at: HashMap<usize, NodeIndex> =
                nets.iter().filter(|n| !cuts.contains(n)).map(|&n| (n, graph.add_node(n))).collect();
            for (n, from) in &at {
                for to in reads[n].iter().filter_map(|m| at.get(m)) {
                    graph.add_edge(*from, *to, ());
                }
            }
            let all = tarjan_scc(&graph);
            let all = all.into_iter().filter(|c| c.len() > 1 || c.iter().any(|&n| graph.contains_edge(n, n)));
            let mut all: Vec<Vec<usize>> = all.map(|c| c.into_iter().map(|n| graph[n]).collect()).collect();
            all.iter_mut().for_each(|c| c.sort_unstable());
            all.sort();
            all
        };
        self.loops = knots(&[]).into_iter().filter(|c| c.len() > 1).collect();
        let mut cuts = Vec::new();
        loop {
            let open = knots(&cuts);
            if open.is_empty() {
                break;
            }
            let is_named = |n: &&usize| {
                named.contains(&self.model.nets[**n].name)
                    || self.model.also.iter().any(|(name, m)| m == *n && named.contains(name))
            };
            cuts.extend(open.iter().filter_map(|c| c.iter().find(is_named).or_else(|| c.first())));
        }
        cuts.sort_unstable();
        self.cuts = cuts;
    }

    fn put_in_order(&mut self) {
        let mut roots: Vec<Item> = (0..self.model.nets.len()).filter(|&n| self.live_nets[n]).map(Item::Net).collect();
        for e in (0..self.model.elements.len()).filter(|&e| self.live_elements[e]) {
            roots.extend(self.of_element(e));
        }
        let mut done = HashSet::new();
        let mut stack: Vec<(Item, bool)> = roots.into_iter().map(|r| (r, false)).collect();
        let mut order = Vec::new();
        let mut begun = HashSet::new();
        while let Some((item, is_last)) = stack.pop() {
            if done.contains(&item) {
                continue;
            }
            if is_last {
                done.insert(item);
                order.push(item);
                continue;
            }
            begun.insert(item);
            stack.push((item, true));
            // a cut net is known before what it hangs on
            let below = self.below(item);
            let is_cut = |i: &Item| matches!(i, Item::Net(n) if self.cuts.contains(n));
            stack.extend(below.into_iter().filter(|b| !is_cut(b) && !done.contains(b)).map(|b| (b, false)));
        }
        self.order = order;
    }

    /// Whether a net reads anything while nobody drives it.
    fn floats(&self, n: usize) -> bool {
        let net = &self.model.nets[n];
        let only_lets_go = net.drivers.iter().all(|d| d.stage == Stage::OpenCollector);
        let always = net.drivers.iter().any(|d| self.fixed[d.enable] == Some(true));
        net.contact.is_none() && net.pull == Pull::None && !always && (!only_lets_go || net.may_float)
    }

    /// Whether anything reads what the board puts on a contact.
    pub fn reads_contact(&self, contact: usize) -> bool {
        let net = self.model.contacts[contact].net;
        if self.model.nets[net].drivers.iter().any(|d| self.fixed[d.enable] == Some(true)) {
            return false;
        }
        self.order
            .iter()
            .any(|i| matches!(i, Item::Op(id) if self.fixed[*id].is_none() && self.model.ops[*id] == Op::Net(net)))
    }

    /// Whether the circuit may drive a contact, or always does.
    pub fn drives(&self, contact: usize, always: bool) -> bool {
        let drivers = &self.model.nets[self.model.contacts[contact].net].drivers;
        drivers.iter().any(|d| match self.fixed[d.enable] {
            Some(on) => on,
            None => !always,
        })
    }

    /// What follows from a point.
    pub fn evaluate(&self, g: &mut Graph, point: &Point) -> Values {
        let m = &self.model;
        let mut v = Values {
            op: vec![Lit::FALSE; m.ops.len()],
            net: vec![Lit::FALSE; m.nets.len()],
            driven: vec![(Lit::FALSE, Lit::FALSE); m.nets.len()],
            next: vec![Lit::FALSE; self.cuts.len()],
        };
        for (&n, &held) in self.cuts.iter().zip(&point.cut) {
            v.net[n] = held;
        }
        for &item in &self.order {
            match item {
                Item::Op(id) => {
                    v.op[id] = match &m.ops[id] {
                        _ if self.fixed[id].is_some() => Lit::from(self.fixed[id] == Some(true)),
                        Op::Constant(high) => Lit::from(*high),
                        Op::Net(n) => v.net[*n],
                        Op::Held(e) => g.or(point.held[*e], self.mark(point, *e)),
                        Op::Complement(e) => g.or(!point.held[*e], self.mark(point, *e)),
                        Op::Not(a) => !v.op[*a],
                        Op::All(all) => g.all(all.iter().map(|&a| v.op[a])),
                        Op::Any(all) => g.any(all.iter().map(|&a| v.op[a])),
                        Op::Xor(a, b) => g.xor(v.op[*a], v.op[*b]),
                        Op::Choose(c, a, b) => g.mux(v.op[*c], v.op[*a], v.op[*b]),
                    };
                }
                Item::Net(n) => {
                    let (drive, level) = self.driven(g, n, &v.op);
                    v.driven[n] = (drive, level);
                    let value = g.mux(drive, level, self.undriven(point, n));
                    match self.cuts.iter().position(|&c| c == n) {
                        Some(c) => v.next[c] = value,
                        None => v.net[n] = value,
                    }
                }
            }
        }
        v
    }

    fn mark(&self, point: &Point, e: usize) -> Lit {
        if self.marked[e] { point.mark[e] } else { Lit::FALSE }
    }

    /// When anybody drives a net, and to what level: where two fight, low wins.
    fn driven(&self, g: &mut Graph, n: usize, op: &[Lit]) -> (Lit, Lit) {
        let drivers = &self.model.nets[n].drivers;
        if let [d] = drivers.as_slice() {
            return (op[d.enable], op[d.level]);
        }
        let drive = g.any(drivers.iter().map(|d| op[d.enable]));
        let lows: Vec<Lit> = drivers.iter().map(|d| g.and(op[d.enable], !op[d.level])).collect();
        (drive, !g.any(lows))
    }

    fn undriven(&self, point: &Point, n: usize) -> Lit {
        let net = &self.model.nets[n];
        match (net.contact, net.pull) {
            (Some(c), _) => point.outside[c],
            (None, Pull::Up) => Lit::TRUE,
            (None, Pull::Down) => Lit::FALSE,
            (None, Pull::None) => self.floating.iter().position(|&f| f == n).map_or(Lit::TRUE, |f| point.float[f]),
        }
    }

    /// What a net reads.
    pub fn net(&self, values: &Values, net: usize) -> Lit {
        values.net[net]
    }

    /// What a contact shows.
    pub fn shows(&self, values: &Values, contact: usize) -> (Lit, Lit) {
        values.driven[self.model.contacts[contact].net]
    }

    /// The functions of one element: clock or gate, data, clear, preset, unknown.
    pub fn inputs(&self, values: &Values, e: usize) -> [Lit; 5] {
        let e = &self.model.elements[e];
        [e.gate, e.data, e.clear, e.preset, e.unknown].map(|id| values.op[id])
    }

    /// What a cut net will be.
    pub fn next_cut(&self, values: &Values, cut: usize) -> Lit {
        values.next[cut]
    }

    fn view(&self, values: &Values) -> View {
        (0..self.model.contacts.len()).map(|c| self.shows(values, c)).collect()
    }

    fn next_latch(&self, g: &mut Graph, values: &Values, held: Lit, e: usize) -> Lit {
        let [open, data, clear, preset, _] = self.inputs(values, e);
        let follows = g.mux(open, data, held);
        let set = g.or(preset, follows);
        g.and(!clear, set)
    }

    /// Where nothing would move by itself.
    pub fn settled(&self, g: &mut Graph, point: &Point, values: &Values) -> Lit {
        let mut all = Vec::new();
        for e in (0..self.model.elements.len()).filter(|&e| self.live_elements[e]) {
            let held = point.held[e];
            let [_, _, clear, preset, _] = self.inputs(values, e);
            if self.is_register(e) {
                let cleared = g.and(clear, held);
                let set = g.and(preset, !clear);
                let preset = g.and(set, !held);
                all.extend([!cleared, !preset]);
            } else {
                let next = self.next_latch(g, values, held, e);
                all.push(!g.xor(next, held));
            }
            if self.marked[e] {
                let both = g.and(clear, preset);
                all.push(!g.xor(both, point.mark[e]));
            }
        }
        for (&held, &next) in point.cut.iter().zip(&values.next) {
            all.push(!g.xor(held, next));
        }
        g.all(all)
    }

    /// From a settled point over other levels outside (contact, level) to the next settled point.
    pub fn step(
        &self,
        g: &mut Graph,
        from: &Point,
        change: &[(usize, Lit)],
        freedom: Freedom<'_>,
        limits: Limits,
    ) -> Stepped {
        let mut point = from.clone();
        for &(contact, level) in change {
            point.outside[contact] = level;
        }
        if matches!(freedom, Freedom::Against) {
            // what floats reads anything, anew
            point.float = self.floating.iter().map(|_| g.free()).collect();
        }
        let start = self.evaluate(g, from);
        let values = self.evaluate(g, &point);
        let run = Run { m: self, start: Some((from, &start)), freedom, limits, met: Vec::new() };
        run.go(g, (from.clone(), start.clone()), (point, values))
    }

    /// From any point, with nothing changing outside, to rest.
    pub fn rest(&self, g: &mut Graph, from: &Point, freedom: Freedom<'_>, limits: Limits) -> Stepped {
        let values = self.evaluate(g, from);
        let run = Run { m: self, start: None, freedom, limits, met: Vec::new() };
        run.go(g, (from.clone(), values.clone()), (from.clone(), values))
    }
}

type Moment = (Point, Values);

struct Run<'r> {
    m: &'r Machine,
    /// The settled point before the event; none if the run begins anywhere.
    start: Option<(&'r Point, &'r Values)>,
    freedom: Freedom<'r>,
    limits: Limits,
    met: Vec<(Unknown, usize, Lit)>,
}

impl Run<'_> {
    fn go(mut self, g: &mut Graph, mut before: Moment, mut now: Moment) -> Stepped {
        let mut unsettled = Lit::FALSE;
        let mut views = Vec::new();
        let mut first = self.start.is_none();
        for phase in 0..=self.limits.phases {
            let restless = self.settle(g, &before, &mut now);
            unsettled = g.or(unsettled, restless);
            if first {
                // what stood before it first settled was never a level: nothing is an edge from there
                before = now.clone();
            }
            views.push(self.m.view(&now.1));
            let mut held = now.0.held.clone();
            let mut mark = now.0.mark.clone();
            for e in (0..held.len()).filter(|&e| self.m.live_elements[e] && self.m.is_register(e)) {
                let [gate, _, clear, preset, _] = self.m.inputs(&before.1, e);
                let [gate_now, _, clear_now, preset_now, _] = self.m.inputs(&now.1, e);
                if !first && (gate, clear, preset) == (gate_now, clear_now, preset_now) {
                    continue;
                }
                held[e] = self.load(g, e, &before.1, &now);
                if self.m.marked[e] {
                    mark[e] = g.and(clear_now, preset_now);
                }
            }
            first = false;
            if held == now.0.held && mark == now.0.mark {
                break;
            }
            if phase == self.limits.phases {
                let differ: Vec<Lit> = held
                    .iter()
                    .chain(&mark)
                    .zip(now.0.held.iter().chain(&now.0.mark))
                    .map(|(&a, &b)| g.xor(a, b))
                    .collect();
                let differ = g.any(differ);
                unsettled = g.or(unsettled, differ);
                break;
            }
            before = now.clone();
            (now.0.held, now.0.mark) = (held, mark);
            now.1 = self.m.evaluate(g, &now.0);
        }
        Stepped { point: now.0, values: now.1, views, unsettled, met: self.met }
    }

    fn unknown(&mut self, g: &mut Graph, kind: Unknown, at: usize, when: Lit, usual: Lit) -> Lit {
        if when == Lit::FALSE {
            return usual;
        }
        self.met.push((kind, at, when));
        match self.freedom {
            Freedom::Against => {
                let any = g.free();
                g.mux(when, any, usual)
            }
            Freedom::Usual(loads) => match loads.get(&at).filter(|_| kind == Unknown::Load) {
                Some(&chosen) => g.mux(when, chosen, usual),
                None => usual,
            },
        }
    }

    /// What a register takes at the end of a phase.
    fn load(&mut self, g: &mut Graph, e: usize, before: &Values, now: &Moment) -> Lit {
        let held = now.0.held[e];
        let [clock_was, data_was, clear_was, preset_was, unknown_was] = self.m.inputs(before, e);
        let [clock, data, clear, preset, _] = self.m.inputs(&now.1, e);
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
        let mut unsettled = Lit::FALSE;
        for round in 0..=self.limits.rounds {
            let mut next = now.0.clone();
            // what was settled and whose function is as it was keeps what it held
            let kept = |value: Lit, old: Option<(Lit, Lit)>| match old {
                Some((was, held)) if was == value => held,
                _ => value,
            };
            for e in (0..m.model.elements.len()).filter(|&e| m.live_elements[e] && !m.is_register(e)) {
                let value = m.next_latch(g, &now.1, now.0.held[e], e);
                let old = self.start.map(|(p, v)| (m.next_latch(g, v, p.held[e], e), p.held[e]));
                next.held[e] = kept(value, old);
                if m.marked[e] {
                    let [_, _, clear, preset, _] = m.inputs(&now.1, e);
                    let both = g.and(clear, preset);
                    let old = self.start.map(|(p, v)| {
                        let [_, _, clear, preset, _] = m.inputs(v, e);
                        (g.and(clear, preset), p.mark[e])
                    });
                    next.mark[e] = kept(both, old);
                }
            }
            for c in 0..m.cuts.len() {
                next.cut[c] = kept(now.1.next[c], self.start.map(|(p, v)| (v.next[c], p.cut[c])));
            }
            if next.held == now.0.held && next.mark == now.0.mark && next.cut == now.0.cut {
                break;
            }
            if round == self.limits.rounds {
                let (a, b) = (&now.0, &next);
                let pairs = a.held.iter().chain(&a.mark).chain(&a.cut).zip(b.held.iter().chain(&b.mark).chain(&b.cut));
                let differ: Vec<Lit> = pairs.map(|(&x, &y)| g.xor(x, y)).collect();
                unsettled = g.any(differ);
                break;
            }
            now.0 = next;
            now.1 = m.evaluate(g, &now.0);
        }
        unsettled
    }

    /// A latch whose clear and preset were released together may hold anything.
    fn release(&mut self, g: &mut Graph, before: &Moment, now: &mut Moment, asked: &mut HashSet<usize>) -> bool {
        for e in 0..self.m.model.elements.len() {
            if self.m.is_register(e) || !self.m.live_elements[e] || !self.m.marked[e] || asked.contains(&e) {
                continue;
            }
            let [_, _, clear_was, preset_was, _] = self.m.inputs(&before.1, e);
            let [open, _, clear, preset, _] = self.m.inputs(&now.1, e);
            let when = g.all([clear_was, preset_was, !clear, !preset, !open]);
            if when == Lit::FALSE {
                continue;
            }
            asked.insert(e);
            let value = self.unknown(g, Unknown::JointRelease, e, when, now.0.held[e]);
            if value != now.0.held[e] {
                now.0.held[e] = value;
                now.1 = self.m.evaluate(g, &now.0);
                return true;
            }
        }
        false
    }

    /// A loop whose gates race ends as their delays decide (ternary simulation: Eichelberger 1965).
    fn race(&mut self, g: &mut Graph, before: &Moment, now: &mut Moment, asked: &mut HashSet<usize>) -> bool {
        for (i, nets) in self.m.loops.iter().enumerate() {
            if asked.contains(&i) || nets.iter().all(|&n| self.m.net(&before.1, n) == self.m.net(&now.1, n)) {
                continue;
            }
            let undecided = self.m.undecided(g, nets, &before.1, now);
            let mut moved = false;
            for (c, &net) in self.m.cuts.iter().enumerate() {
                let Some(k) = nets.iter().position(|&n| n == net) else { continue };
                if undecided[k] == Lit::FALSE {
                    continue;
                }
                asked.insert(i);
                let value = self.unknown(g, Unknown::Loop, net, undecided[k], now.0.cut[c]);
                moved |= value != now.0.cut[c];
                now.0.cut[c] = value;
            }
            if moved {
                now.1 = self.m.evaluate(g, &now.0);
                return true;
            }
        }
        false
    }
}

/// Can be high, can be low.
type Rails = (Lit, Lit);

impl Machine {
    /// For each net of a loop, where its level depends on delays: all that may move is let go, then what is forced comes
    /// back.
    fn undecided(&self, g: &mut Graph, nets: &[usize], before: &Values, now: &Moment) -> Vec<Lit> {
        let mut y: Vec<Rails> = nets.iter().map(|&n| (before.net[n], !before.net[n])).collect();
        for _ in 0..nets.len() {
            let next = self.rails(g, nets, &y, now);
            let wider: Vec<Rails> = y.iter().zip(next).map(|(a, b)| (g.or(a.0, b.0), g.or(a.1, b.1))).collect();
            if wider == y {
                break;
            }
            y = wider;
        }
        for _ in 0..nets.len() {
            let next = self.rails(g, nets, &y, now);
            if next == y {
                break;
            }
            y = next;
        }
        y.into_iter().map(|(high, low)| g.and(high, low)).collect()
    }

    fn rails(&self, g: &mut Graph, nets: &[usize], y: &[Rails], now: &Moment) -> Vec<Rails> {
        let mut known: HashMap<usize, Rails> = HashMap::new();
        nets.iter()
            .map(|&n| {
                let drivers: Vec<(Rails, Rails)> = self.model.nets[n]
                    .drivers
                    .iter()
                    .map(|d| {
                        (
                            self.rail(g, d.enable, nets, y, now, &mut known),
                            self.rail(g, d.level, nets, y, now, &mut known),
                        )
                    })
                    .collect();
                let outside = self.undriven(&now.0, n);
                let outside = (outside, !outside);
                if let [(enable, level)] = drivers[..] {
                    return choose(g, enable, level, outside);
                }
                let (mut drive, mut low) = ((Lit::FALSE, Lit::TRUE), (Lit::FALSE, Lit::TRUE));
                for (enable, level) in drivers {
                    let pulls = both(g, enable, (level.1, level.0));
                    drive = either(g, drive, enable);
                    low = either(g, low, pulls);
                }
                choose(g, drive, (low.1, low.0), outside)
            })
            .collect()
    }

    fn rail(
        &self,
        g: &mut Graph,
        id: usize,
        nets: &[usize],
        y: &[Rails],
        now: &Moment,
        known: &mut HashMap<usize, Rails>,
    ) -> Rails {
        if let Some(&r) = known.get(&id) {
            return r;
        }
        let mut at = |g: &mut Graph, id: usize| self.rail(g, id, nets, y, now, known);
        let r = match &self.model.ops[id] {
            _ if self.fixed[id].is_some() => (now.1.op[id], !now.1.op[id]),
            Op::Net(n) => match nets.iter().position(|m| m == n) {
                Some(k) => y[k],
                // a net beside the loop may hang on it, too: it can't, or it would be in it
                None => (now.1.net[*n], !now.1.net[*n]),
            },
            Op::Constant(_) | Op::Held(_) | Op::Complement(_) => (now.1.op[id], !now.1.op[id]),
            Op::Not(a) => {
                let a = at(g, *a);
                (a.1, a.0)
            }
            Op::All(all) => all.iter().fold((Lit::TRUE, Lit::FALSE), |x, &a| {
                let a = at(g, a);
                both(g, x, a)
            }),
            Op::Any(all) => all.iter().fold((Lit::FALSE, Lit::TRUE), |x, &a| {
                let a = at(g, a);
                either(g, x, a)
            }),
            Op::Xor(a, b) => {
                let (a, b) = (at(g, *a), at(g, *b));
                choose(g, a, (b.1, b.0), b)
            }
            Op::Choose(c, a, b) => {
                let (c, a, b) = (at(g, *c), at(g, *a), at(g, *b));
                choose(g, c, a, b)
            }
        };
        known.insert(id, r);
        r
    }
}

fn both(g: &mut Graph, a: Rails, b: Rails) -> Rails {
    (g.and(a.0, b.0), g.or(a.1, b.1))
}

fn either(g: &mut Graph, a: Rails, b: Rails) -> Rails {
    (g.or(a.0, b.0), g.and(a.1, b.1))
}

fn choose(g: &mut Graph, c: Rails, a: Rails, b: Rails) -> Rails {
    let high = [g.and(c.0, a.0), g.and(c.1, b.0)];
    let low = [g.and(c.0, a.1), g.and(c.1, b.1)];
    (g.or(high[0], high[1]), g.or(low[0], low[1]))
}
