//! When a doubt matters: values over the state that are true wherever the outcome may differ from what the phases say.
//!
//! They never say too little. What the phases show of an event is its settled levels before and after, and on the way; a
//! signal *shakes* where it may change more often than once.
use std::cell::RefCell;
use std::collections::HashMap;

use super::dependencies::{Inputs, Signal, What};
use super::moving::Moving;
use super::{Doubt, Role, Rule, Site};
use crate::circuit::{Element, ElementId, Expr, Kind, NetId};
use crate::machine::{Algebra, Film, Machine, NodeId, Rails};

/// What of a signal's levels is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    Before,
    After,
    /// All that it may show during the event.
    Any,
    /// Before, or all that it may show where it shakes.
    Early,
    /// After, or all that it may show where it shakes.
    Late,
}

impl Mode {
    /// The same, but all that it may show where it shakes.
    pub(super) fn unless_it_shakes(self) -> Mode {
        match self {
            Mode::Before => Mode::Early,
            Mode::After => Mode::Late,
            Mode::Any | Mode::Early | Mode::Late => self,
        }
    }
}

/// Something that follows its inputs at once.
#[derive(Clone, Copy, Debug)]
pub(super) enum Follows {
    Net(NetId),
    Level(Expr),
}

/// One event over a symbolic state, as the phases show it.
pub(crate) struct Waves<'a, A: Algebra> {
    pub(super) algebra: &'a mut A,
    pub(super) yes: A::Value,
    pub(super) no: A::Value,
    pub(super) machine: &'a Machine,
    pub(super) moving: &'a Moving,
    before: &'a dyn Fn(NodeId) -> A::Value,
    /// For each node that changed, its levels by phase.
    film: HashMap<NodeId, Vec<(usize, A::Value)>>,
    pub(super) phases: usize,
    /// What the board puts on each contact, before and after.
    pub(super) outside: Vec<[A::Value; 2]>,
    pub(super) shakes: HashMap<Signal, A::Value>,
    /// The component that is being worked out, if it is a loop.
    pub(super) inside: Option<u32>,
}

impl<'a, A: Algebra> Waves<'a, A> {
    /// The waves of an event from this point, as filmed.
    pub(crate) fn new(
        algebra: &'a mut A,
        machine: &'a Machine,
        moving: &'a Moving,
        before: &'a dyn Fn(NodeId) -> A::Value,
        film: &Film<A::Value>,
    ) -> Self {
        let mut by_node: HashMap<NodeId, Vec<(usize, A::Value)>> = HashMap::new();
        for (phase, changed) in film.iter().enumerate() {
            for &(node, level) in changed {
                by_node.entry(node).or_default().push((phase + 1, level));
            }
        }
        let outside = |node: NodeId| {
            let after = by_node.get(&node).and_then(|levels| levels.last());
            [before(node), after.map_or_else(|| before(node), |&(_, level)| level)]
        };
        Waves {
            yes: algebra.constant(true),
            no: algebra.constant(false),
            algebra,
            machine,
            moving,
            before,
            outside: machine.outside_nodes().map(outside).collect(),
            film: by_node,
            phases: film.len(),
            shakes: HashMap::new(),
            inside: None,
        }
    }

    /// Where this doubt matters: wherever its outcome may differ from that of the phases.
    pub(crate) fn when(&mut self, doubt: &Doubt) -> A::Value {
        match (doubt.site, doubt.rule) {
            (Site::Element(e), rule) if rule != Rule::Loop => self.element(e, doubt),
            _ => self.race(self.signal(doubt)),
        }
    }

    pub(super) fn signal(&self, doubt: &Doubt) -> Signal {
        match doubt.site {
            Site::Element(e) => self.moving.ways.of_element(e),
            Site::Loop(net) => self.moving.ways.of_net(net),
        }
    }

    /// Where the net of a port changes at all, once all has settled or on the way.
    pub(crate) fn changes(&mut self, port: usize) -> A::Value {
        let net = self.moving.ways.circuit.contacts().get(port).map(|c| c.net);
        let levels = net.map(|n| self.of_signal(self.moving.ways.of_net(n))).unwrap_or_default();
        let mut any = self.no;
        for pair in levels.windows(2) {
            let change = self.algebra.xor(pair[0], pair[1]);
            any = self.algebra.or(any, change);
        }
        any
    }

    pub(super) fn element(&mut self, id: ElementId, doubt: &Doubt) -> A::Value {
        let moving = self.moving;
        let ways = &moving.ways;
        let signal = ways.of_element(id);
        let (Some(e), Some(inputs)) = (ways.circuit.elements().get(id.index()), ways.inputs.get(signal.index())) else {
            return self.yes;
        };
        self.prepare(&[&inputs.clock, &inputs.data, &inputs.clear, &inputs.preset]);
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let unknown = ways.circuit.loads_unknown(id);
        let free = self.free(e, inputs);
        let (clocks, held) = (self.levels(clock), self.held(id));
        let no = self.no;
        let last = |levels: &[A::Value]| levels.last().copied().unwrap_or(no);
        match doubt.rule {
            Rule::Race => {
                let mut races = no;
                for (k, late) in moving.raced(inputs) {
                    let undetermined = self.undetermined(&[data, unknown], &|s| late.contains(&s));
                    let makes = self.makes(clock, k);
                    let here = self.algebra.and(undetermined, makes);
                    races = self.algebra.or(races, here);
                }
                let acts = if inputs.is_register {
                    self.steps(&clocks, true)
                } else {
                    let closes = self.steps(&clocks, false);
                    let shut = self.algebra.not(last(&clocks));
                    self.algebra.and(closes, shut)
                };
                self.all(&[acts, races, free])
            }
            Rule::Recovery => {
                let forced = self.forced(e);
                let released = self.steps(&forced, false);
                let acts = self.steps(&clocks, inputs.is_register);
                let differs = self.loads_other(&[data, unknown], data, &held);
                self.all(&[acts, released, differs])
            }
            Rule::JointRelease => {
                let (x, y) = (self.levels(e.clear), self.levels(e.preset));
                let mut apart = self.no;
                for p in 1..x.len() {
                    let both = self.algebra.and(x[p - 1], y[p - 1]);
                    let one = self.algebra.xor(x[p], y[p]);
                    let here = self.algebra.and(both, one);
                    apart = self.algebra.or(apart, here);
                }
                let free = [last(&x), last(&y)].map(|l| self.algebra.not(l));
                self.all(&[apart, free[0], free[1]])
            }
            Rule::Pulse(Role::Clock) => {
                let shakes = self.follower_shakes(Follows::Level(clock));
                let differs = self.loads_other(&[data, unknown], data, &held[..1]);
                self.all(&[shakes, differs, free])
            }
            Rule::Pulse(Role::Gate) => {
                let shakes = self.follower_shakes(Follows::Level(clock));
                let differs = self.loads_other(&[data], data, &held[..1]);
                let shut = self.algebra.not(last(&clocks));
                self.all(&[shakes, differs, free, shut])
            }
            Rule::Pulse(role @ (Role::Clear | Role::Preset)) => {
                let clears = role == Role::Clear;
                let condition = if clears { e.clear } else { e.preset };
                let shakes = self.follower_shakes(Follows::Level(condition));
                let levels = self.levels(condition);
                let mut there = self.no;
                for &level in &held {
                    let level = self.turned(level, !clears);
                    there = self.algebra.or(there, level);
                }
                let released = self.algebra.not(last(&levels));
                self.all(&[shakes, there, released])
            }
            Rule::Loop => self.yes,
        }
    }

    /// States in which this change may toggle a clock; signals that certainly changed earlier, and only once, already have
    /// their new level. Whether one changes only once depends on the state.
    fn makes(&mut self, clock: Expr, k: Signal) -> A::Value {
        let moving = self.moving;
        let mut earlier = moving.ways.leaves(&[clock]);
        earlier.retain(|&s| s != k && moving.dominates(s, k));
        let seen = |s: Signal| if earlier.contains(&s) { Mode::Late } else { Mode::Any };
        self.rails(clock, &seen).open(self.algebra)
    }

    pub(super) fn all(&mut self, of: &[A::Value]) -> A::Value {
        of.iter().fold(self.yes, |all, &t| self.algebra.and(all, t))
    }

    fn turned(&mut self, level: A::Value, invert: bool) -> A::Value {
        if invert { self.algebra.not(level) } else { level }
    }

    /// The levels of a node before the event and at the end of each phase.
    pub(super) fn course(&self, node: NodeId) -> Vec<A::Value> {
        let mut levels = vec![(self.before)(node); self.phases + 1];
        for &(phase, level) in self.film.get(&node).into_iter().flatten() {
            levels.iter_mut().skip(phase).for_each(|l| *l = level);
        }
        levels
    }

    pub(super) fn levels(&self, e: Expr) -> Vec<A::Value> {
        self.machine.node_of(e).map_or_else(|| vec![self.no; self.phases + 1], |n| self.course(n))
    }

    pub(super) fn held(&self, e: ElementId) -> Vec<A::Value> {
        self.machine.node_of_cell(e.index()).map_or_else(|| vec![self.no; self.phases + 1], |n| self.course(n))
    }

    pub(super) fn of_signal(&self, s: Signal) -> Vec<A::Value> {
        match self.moving.ways.what(s) {
            What::Net(n) => match self.machine.node_of_net(n) {
                Some(node) => self.course(node),
                None => vec![self.no; self.phases + 1],
            },
            What::Element(e) => self.held(e),
        }
    }

    /// Whether levels rise, or fall, from one phase to the next.
    pub(super) fn steps(&mut self, levels: &[A::Value], rise: bool) -> A::Value {
        let mut any = self.no;
        for pair in levels.windows(2) {
            let (was, is) = (self.turned(pair[0], rise), self.turned(pair[1], !rise));
            let step = self.algebra.and(was, is);
            any = self.algebra.or(any, step);
        }
        any
    }

    /// Whether levels change more often than once.
    pub(super) fn wiggles(&mut self, levels: &[A::Value]) -> A::Value {
        let (mut once, mut twice) = (self.no, self.no);
        for pair in levels.windows(2) {
            let change = self.algebra.xor(pair[0], pair[1]);
            let again = self.algebra.and(once, change);
            twice = self.algebra.or(twice, again);
            once = self.algebra.or(once, change);
        }
        twice
    }

    /// Where the element may act on its clock: where neither clear nor preset need be asserted then.
    pub(super) fn free(&mut self, e: &Element, inputs: &Inputs) -> A::Value {
        let forcing: Vec<Signal> =
            self.moving.movers(&inputs.clear).into_iter().chain(self.moving.movers(&inputs.preset)).collect();
        let clocks = self.moving.movers(&inputs.clock);
        let first = |x: &Signal| clocks.iter().all(|k| x != k && self.moving.dominates(*x, *k));
        let forced = self.forced(e);
        if !forcing.is_empty() && forcing.iter().all(first) {
            // it has changed when the clock does
            let forced = forced.last().copied().unwrap_or(self.no);
            return self.algebra.not(forced);
        }
        let [clear, preset] = [e.clear, e.preset].map(|c| self.rails(c, &|_| Mode::Any));
        self.algebra.and(clear.low, preset.low)
    }

    pub(super) fn forced(&mut self, e: &Element) -> Vec<A::Value> {
        let (clear, preset) = (self.levels(e.clear), self.levels(e.preset));
        clear.into_iter().zip(preset).map(|(c, p)| self.algebra.or(c, p)).collect()
    }

    /// Where one of these expressions is undetermined, if these signals are.
    pub(super) fn undetermined(&mut self, of: &[Expr], open: &dyn Fn(Signal) -> bool) -> A::Value {
        let mut any = self.no;
        for &e in of {
            let rails = self.rails(e, &|s| any_if(open(s)));
            let here = rails.open(self.algebra);
            any = self.algebra.or(any, here);
        }
        any
    }

    /// Where loading may change what is held.
    pub(super) fn loads_other(&mut self, undetermined: &[Expr], data: Expr, held: &[A::Value]) -> A::Value {
        let mut any = self.undetermined(undetermined, &|_| true);
        let data = self.levels(data).first().copied().unwrap_or(self.no);
        for &level in held {
            let other = self.algebra.xor(data, level);
            any = self.algebra.or(any, other);
        }
        any
    }
}

/// What is known of levels that have arrived at a register or latch when it acts.
struct Arrival<'a, V> {
    /// What is certain to come after it acts.
    later: &'a dyn Fn(Signal) -> bool,
    known: &'a RefCell<HashMap<Signal, Rails<V>>>,
}

impl<A: Algebra> Waves<'_, A> {
    /// Data as they are when all has arrived at a register or latch but what comes after it has acted.
    pub(super) fn arrived(&mut self, id: ElementId, data: Expr) -> Rails<A::Value> {
        let later = self.moving.later(id);
        let known = RefCell::new(HashMap::new());
        let arrival = Arrival { later: &later, known: &known };
        self.folded(data, &|waves, e| waves.arrived_leaf(e, &arrival))
    }

    fn arrived_leaf(&mut self, e: Expr, arrival: &Arrival<'_, A::Value>) -> Rails<A::Value> {
        let moving = self.moving;
        let Some(signal) = moving.ways.leaf(e).filter(|&s| moving.moves(s) && !(arrival.later)(s)) else {
            return self.leaf(e, &|_| Mode::Before);
        };
        // a net that moves again by what comes later is worked out from what it reads
        let net = match moving.ways.what(signal) {
            What::Net(n) if moving.is_followed_by(signal, arrival.later) => n,
            _ => return self.leaf(e, &|_| Mode::After),
        };
        if let Some(&known) = arrival.known.borrow().get(&signal) {
            return known;
        }
        let rails = self.driven((net, Mode::Before), &|waves, e| waves.arrived_leaf(e, arrival));
        arrival.known.borrow_mut().insert(signal, rails);
        rails
    }
}

pub(super) fn any_if(open: bool) -> Mode {
    if open { Mode::Any } else { Mode::Before }
}
