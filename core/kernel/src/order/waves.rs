//! When a doubt matters: terms over the state that are true wherever the outcome may differ from what the phases say.
//!
//! They never say too little. What the phases show of an event is its settled levels before and after, and on the way; a
//! signal *shakes* where it may change more often than once.
use std::collections::{BTreeSet, HashMap};

use super::moving::Moving;
use super::ways::{Inputs, Signal, What};
use super::{Doubt, Role, Rule, Site};
use crate::circuit::{Element, ElementId, Expr, Kind, NetId};
use crate::machine::{Algebra, Film, Freedom, Machine, NodeId, Point, Symbolic};
use crate::terms::{Term, Terms};

/// What of a signal's levels is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    Before,
    After,
    /// All that it may show during the event.
    Any,
}

/// Something that follows its inputs at once.
#[derive(Clone, Copy, Debug)]
pub(super) enum Follows {
    Net(NetId),
    Level(Expr),
}

/// One event over a symbolic state, as the phases show it.
pub(crate) struct Waves<'a, 'w, 'c> {
    pub(super) algebra: Symbolic<'a>,
    pub(super) machine: &'a Machine,
    pub(super) moving: &'a Moving<'w, 'c>,
    before: &'a Point<Term>,
    /// For each node that changed, its levels by phase.
    film: HashMap<NodeId, Vec<(usize, Term)>>,
    pub(super) phases: usize,
    pub(super) outside: Vec<Term>,
    pub(super) shakes: HashMap<Signal, Term>,
    /// The component that is worked out, if it goes round.
    pub(super) inside: Option<u32>,
}

impl<'a, 'w, 'c> Waves<'a, 'w, 'c> {
    /// The waves of an event from this point, as filmed.
    pub(crate) fn new(
        terms: &'a mut Terms,
        machine: &'a Machine,
        moving: &'a Moving<'w, 'c>,
        before: &'a Point<Term>,
        film: &Film<Term>,
    ) -> Self {
        let mut by_node: HashMap<NodeId, Vec<(usize, Term)>> = HashMap::new();
        for (phase, changed) in film.iter().enumerate() {
            for &(node, level) in changed {
                by_node.entry(node).or_default().push((phase + 1, level));
            }
        }
        Waves {
            algebra: Symbolic::new(terms, Freedom::Usual),
            machine,
            moving,
            before,
            film: by_node,
            phases: film.len(),
            outside: machine.outside(before),
            shakes: HashMap::new(),
            inside: None,
        }
    }

    /// Where this doubt matters: wherever its outcome may differ from that of the phases.
    pub(crate) fn when(&mut self, doubt: &Doubt) -> Term {
        match doubt.site {
            Site::Element(e) => self.element(e, doubt.rule),
            Site::Loop(net) => self.race(net),
        }
    }

    pub(super) fn element(&mut self, id: ElementId, rule: Rule) -> Term {
        let moving = self.moving;
        let ways = moving.ways;
        let signal = ways.of_element(id);
        let (Some(e), Some(inputs)) = (ways.circuit.elements().get(id.index()), ways.inputs.get(signal.index())) else {
            return Term::TRUE;
        };
        self.prepare(&[&inputs.clock, &inputs.data, &inputs.clear, &inputs.preset]);
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let unknown = ways.circuit.loads_unknown(id);
        let free = self.free(e, inputs);
        let (clocks, held) = (self.levels(clock), self.held(id));
        let last = |levels: &[Term]| levels.last().copied().unwrap_or(Term::FALSE);
        match rule {
            Rule::Race => {
                let open: BTreeSet<Signal> = moving.unordered(inputs).into_iter().map(|(_, d)| d).collect();
                let undetermined = self.undetermined(&[data, unknown], &|s| open.contains(&s));
                let acts = if inputs.is_register {
                    self.steps(&clocks, true)
                } else {
                    let closes = self.steps(&clocks, false);
                    self.algebra.and(closes, !last(&clocks))
                };
                self.all(&[acts, undetermined, free])
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
                let mut apart = Term::FALSE;
                for p in 1..x.len() {
                    let both = self.algebra.and(x[p - 1], y[p - 1]);
                    let one = self.algebra.xor(x[p], y[p]);
                    let here = self.algebra.and(both, one);
                    apart = self.algebra.or(apart, here);
                }
                self.all(&[apart, !last(&x), !last(&y)])
            }
            Rule::Pulse(Role::Clock) => {
                let shakes = self.follower_shakes(Follows::Level(clock));
                let differs = self.loads_other(&[data, unknown], data, &held[..1]);
                self.all(&[shakes, differs, free])
            }
            Rule::Pulse(Role::Gate) => {
                let shakes = self.follower_shakes(Follows::Level(clock));
                let differs = self.loads_other(&[data], data, &held[..1]);
                self.all(&[shakes, differs, free, !last(&clocks)])
            }
            Rule::Pulse(role @ (Role::Clear | Role::Preset)) => {
                let clears = role == Role::Clear;
                let condition = if clears { e.clear } else { e.preset };
                let shakes = self.follower_shakes(Follows::Level(condition));
                let levels = self.levels(condition);
                let mut there = Term::FALSE;
                for &level in &held {
                    there = self.algebra.or(there, level.inverted_if(!clears));
                }
                self.all(&[shakes, there, !last(&levels)])
            }
            Rule::Loop => Term::TRUE,
        }
    }

    pub(super) fn all(&mut self, of: &[Term]) -> Term {
        of.iter().fold(Term::TRUE, |all, &t| self.algebra.and(all, t))
    }

    /// The levels of a node before the event and at the end of each phase.
    pub(super) fn course(&self, node: NodeId) -> Vec<Term> {
        let mut levels = vec![self.machine.value(self.before, node); self.phases + 1];
        for &(phase, level) in self.film.get(&node).into_iter().flatten() {
            levels.iter_mut().skip(phase).for_each(|l| *l = level);
        }
        levels
    }

    pub(super) fn levels(&self, e: Expr) -> Vec<Term> {
        self.machine.node_of(e).map_or_else(|| vec![Term::FALSE; self.phases + 1], |n| self.course(n))
    }

    pub(super) fn held(&self, e: ElementId) -> Vec<Term> {
        self.machine.node_of_cell(e.index()).map_or_else(|| vec![Term::FALSE; self.phases + 1], |n| self.course(n))
    }

    pub(super) fn of_signal(&self, s: Signal) -> Vec<Term> {
        match self.moving.ways.what(s) {
            What::Net(n) => match self.machine.node_of_net(n) {
                Some(node) => self.course(node),
                None => vec![Term::FALSE; self.phases + 1],
            },
            What::Element(e) => self.held(e),
        }
    }

    /// Whether levels rise, or fall, from one phase to the next.
    pub(super) fn steps(&mut self, levels: &[Term], rise: bool) -> Term {
        let mut any = Term::FALSE;
        for pair in levels.windows(2) {
            let step = self.algebra.and(pair[0].inverted_if(rise), pair[1].inverted_if(!rise));
            any = self.algebra.or(any, step);
        }
        any
    }

    /// Whether levels change more often than once.
    pub(super) fn wiggles(&mut self, levels: &[Term]) -> Term {
        let (mut once, mut twice) = (Term::FALSE, Term::FALSE);
        for pair in levels.windows(2) {
            let change = self.algebra.xor(pair[0], pair[1]);
            let again = self.algebra.and(once, change);
            twice = self.algebra.or(twice, again);
            once = self.algebra.or(once, change);
        }
        twice
    }

    /// Where the element may act on its clock: where neither clear nor preset need be asserted then.
    pub(super) fn free(&mut self, e: &Element, inputs: &Inputs) -> Term {
        let forcing: Vec<Signal> =
            self.moving.movers(&inputs.clear).into_iter().chain(self.moving.movers(&inputs.preset)).collect();
        let clocks = self.moving.movers(&inputs.clock);
        let first = |x: &Signal| clocks.iter().all(|k| x != k && self.moving.dominates(*x, *k));
        let forced = self.forced(e);
        if !forcing.is_empty() && forcing.iter().all(first) {
            // it has changed when the clock does
            return !forced.last().copied().unwrap_or(Term::FALSE);
        }
        let [clear, preset] = [e.clear, e.preset].map(|c| self.rails(c, &|_| Mode::Any));
        self.algebra.and(clear.low, preset.low)
    }

    pub(super) fn forced(&mut self, e: &Element) -> Vec<Term> {
        let (clear, preset) = (self.levels(e.clear), self.levels(e.preset));
        clear.into_iter().zip(preset).map(|(c, p)| self.algebra.or(c, p)).collect()
    }

    /// Where one of these expressions may be either, if these signals may.
    pub(super) fn undetermined(&mut self, of: &[Expr], open: &dyn Fn(Signal) -> bool) -> Term {
        let mut any = Term::FALSE;
        for &e in of {
            let rails = self.rails(e, &|s| any_if(open(s)));
            let here = rails.open(&mut self.algebra);
            any = self.algebra.or(any, here);
        }
        any
    }

    /// Where loading may change what is held.
    pub(super) fn loads_other(&mut self, undetermined: &[Expr], data: Expr, held: &[Term]) -> Term {
        let mut any = self.undetermined(undetermined, &|_| true);
        let data = self.levels(data).first().copied().unwrap_or(Term::FALSE);
        for &level in held {
            let other = self.algebra.xor(data, level);
            any = self.algebra.or(any, other);
        }
        any
    }
}

pub(super) fn any_if(open: bool) -> Mode {
    if open { Mode::Any } else { Mode::Before }
}
