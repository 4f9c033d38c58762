//! A circuit in time: every net and every element has a delay of its own, drawn, and follows its function that much later.
//! Written from the words of the data sheets and nothing else: it knows no phases, and what comes first is a matter of the
//! delays.
use std::cell::Cell;

use gluewright::circuit::{Circuit, ElementId, Expr, Kind, Op, Pull, Start};
use gluewright::figures::OpenInput;

use crate::gates::Numbers;

/// The longest delay of what no sheet speaks of, in ns; the shortest is one.
pub const SLOWEST: u64 = 40;

/// Changes after which a run is given up: it may never come to rest.
const MOST_CHANGES: usize = 4_000;

/// Everything that a circuit holds once it has come to rest.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct State {
    /// For each net: whether anything drives it, and what it reads.
    nets: Vec<(bool, bool)>,
    /// For each element: what it holds, and whether clear and preset are both asserted.
    held: Vec<(bool, bool)>,
}

/// What the contacts show at rest, in the circuit's order: nothing where the card does not drive.
pub type Shown = Vec<Option<bool>>;

/// A circuit with delays.
#[derive(Debug)]
pub struct Timed<'c> {
    circuit: &'c Circuit,
    /// Of the nets, then of the elements, in ns.
    delays: Vec<u64>,
    drew: Cell<bool>,
    swings: Cell<bool>,
}

struct Run<'r> {
    circuit: &'r Circuit,
    /// Whether anything was drawn that delays do not decide.
    drew: &'r Cell<bool>,
    outside: &'r [bool],
    /// What floats reads, for this event.
    floats: Vec<bool>,
    state: State,
    pending: Vec<Option<(u64, (bool, bool))>>,
    clocks: Vec<bool>,
    known: Vec<Option<bool>>,
}

impl<'c> Timed<'c> {
    /// A circuit whose delays are drawn, each from 1 ns to its longest: of the nets, then of the elements.
    pub fn drawn(circuit: &'c Circuit, longest: &[u64], n: &mut Numbers) -> Self {
        let delays = longest.iter().map(|&most| 1 + n.below(most as usize) as u64).collect();
        Timed { circuit, delays, drew: Cell::new(false), swings: Cell::new(false) }
    }

    /// Whether a register took a level that was drawn, as no delay decides it: another run may end otherwise.
    pub fn drew(&self) -> bool {
        self.drew.get()
    }

    /// Whether a run did not come to rest.
    pub fn swings(&self) -> bool {
        self.swings.get()
    }

    /// Power comes on with these bits held and these levels outside: where it comes to rest, if it does. The nets follow
    /// from any levels what is held, before anything that is held moves: what a flip-flop comes up with holds it cleared or not.
    pub fn wake(&self, bits: &[bool], outside: &[bool], n: &mut Numbers) -> Option<State> {
        let first = n.below(self.circuit.nets().len());
        let drawn: Vec<bool> = self.circuit.nets().iter().map(|_| n.below(2) == 1).collect();
        let other = self.relaxed(bits, drawn.iter().map(|level| !level), (outside, first), n);
        let state = self.relaxed(bits, drawn.iter().copied(), (outside, first), n);
        // what a loop of nets comes up as no delay decides
        self.drew.set(self.drew.get() || state != other);
        self.settled(&state, outside, true, n)
    }

    /// Nets that follow one after the other, from these levels, what is held.
    fn relaxed(
        &self,
        bits: &[bool],
        levels: impl Iterator<Item = bool>,
        (outside, first): (&[bool], usize),
        n: &mut Numbers,
    ) -> State {
        let held = bits.iter().map(|&b| (b, false)).collect();
        let mut run = self.run(&State { nets: levels.map(|level| (false, level)).collect(), held }, outside, n);
        let count = run.state.nets.len();
        for _ in 0..=count {
            let mut moved = false;
            for net in (0..count).map(|k| (first + k) % count) {
                let level = run.net(net);
                if std::mem::replace(&mut run.state.nets[net], level) != level {
                    run.known.fill(None);
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        run.state
    }

    /// From rest over other levels outside to rest, if it comes to rest.
    pub fn change(&self, from: &State, outside: &[bool], n: &mut Numbers) -> Option<State> {
        self.settled(from, outside, false, n)
    }

    /// What the contacts show at rest.
    pub fn shown(&self, state: &State) -> Shown {
        let show = |c: &gluewright::circuit::Contact| {
            let (drives, level) = state.nets.get(c.net.index()).copied()?;
            drives.then_some(level)
        };
        self.circuit.contacts().iter().map(show).collect()
    }

    fn run<'r>(&'r self, from: &State, outside: &'r [bool], n: &mut Numbers) -> Run<'r> {
        let circuit = self.circuit;
        Run {
            circuit,
            drew: &self.drew,
            outside,
            floats: circuit.nets().iter().map(|_| n.below(2) == 1).collect(),
            state: from.clone(),
            pending: vec![None; self.delays.len()],
            clocks: Vec::new(),
            known: vec![None; circuit.expression_count()],
        }
    }

    fn settled(&self, from: &State, outside: &[bool], wakes: bool, n: &mut Numbers) -> Option<State> {
        let circuit = self.circuit;
        let mut run = self.run(from, outside, n);
        run.clocks = circuit.elements().iter().map(|e| run.value(e.gate())).collect();
        let mut now = 0;
        for _ in 0..MOST_CHANGES {
            run.follow(now, &self.delays, wakes, n);
            let next = run.pending.iter().enumerate().filter_map(|(i, p)| p.map(|(when, value)| (when, i, value)));
            let Some((when, signal, value)) = next.min() else { return Some(run.state) };
            now = when;
            run.pending[signal] = None;
            let nets = run.state.nets.len();
            match signal.checked_sub(nets) {
                None => run.state.nets[signal] = value,
                Some(element) => run.state.held[element] = value,
            }
            run.known.fill(None);
        }
        self.swings.set(true);
        None
    }
}

impl Run<'_> {
    fn value(&mut self, e: Expr) -> bool {
        if let Some(known) = self.known[e.index()] {
            return known;
        }
        let value = match self.circuit.op(e) {
            Op::Constant(v) => v,
            Op::Net(net) => self.state.nets[net.index()].1,
            Op::Q(x) => self.state.held[x.index()].0 || self.state.held[x.index()].1,
            Op::QInverted(x) => !self.state.held[x.index()].0 || self.state.held[x.index()].1,
            Op::Not(a) => !self.value(a),
            Op::And(a, b) => self.value(a) & self.value(b),
            Op::Or(a, b) => self.value(a) | self.value(b),
            Op::Xor(a, b) => self.value(a) ^ self.value(b),
            Op::Choose(c, a, b) => {
                if self.value(c) {
                    self.value(a)
                } else {
                    self.value(b)
                }
            }
        };
        self.known[e.index()] = Some(value);
        value
    }

    /// What every net and element is on its way to, from what stands now.
    fn follow(&mut self, now: u64, delays: &[u64], wakes: bool, n: &mut Numbers) {
        let nets = self.circuit.nets().len();
        for (i, &delay) in delays.iter().enumerate().take(nets) {
            let target = self.net(i);
            self.aim(i, self.state.nets[i], target, now + delay);
        }
        for i in 0..self.circuit.elements().len() {
            let is = self.state.held[i];
            let target = self.element(i, self.pending[nets + i].map_or(is, |p| p.1), wakes, n);
            self.aim(nets + i, is, target, now + delays[nets + i]);
        }
    }

    fn aim(&mut self, signal: usize, is: (bool, bool), target: (bool, bool), when: u64) {
        let pending = &mut self.pending[signal];
        if target == is {
            *pending = None;
        } else if pending.is_none_or(|p| p.1 != target) {
            *pending = Some((when, target));
        }
    }

    fn net(&mut self, i: usize) -> (bool, bool) {
        let net = &self.circuit.nets()[i];
        let (mut drives, mut low) = (false, false);
        for d in &net.drivers {
            if self.value(d.enable) {
                drives = true;
                low |= !self.value(d.level);
            }
        }
        let undriven = match (net.contact, net.pull) {
            (Some(c), _) => self.outside[c.index()],
            (None, Pull::Up) => true,
            (None, Pull::Down) => false,
            (None, Pull::None) => {
                let lets_go = net.drivers.iter().any(|d| d.stage != gluewright::circuit::Stage::OpenCollector);
                match net.open_read {
                    OpenInput::High if !lets_go => true,
                    OpenInput::Low if !lets_go => false,
                    _ => self.floats[i],
                }
            }
        };
        (drives, if drives { !low } else { undriven })
    }

    fn element(&mut self, i: usize, was: (bool, bool), wakes: bool, n: &mut Numbers) -> (bool, bool) {
        let e = &self.circuit.elements()[i];
        let (clear, preset, gate) = (self.value(e.clear), self.value(e.preset), self.value(e.gate()));
        let rises = !std::mem::replace(&mut self.clocks[i], gate) && gate && !wakes;
        match (clear, preset) {
            (true, true) => return (was.0, true),
            (true, false) => return (false, false),
            (false, true) => return (true, false),
            // both let go at one moment
            (false, false) if was.1 => {
                self.drew.set(true);
                return (n.below(2) == 1, false);
            }
            (false, false) => {}
        }
        let held = match e.kind {
            Kind::Latch { data, .. } if gate => self.value(data),
            Kind::Register { data, .. } if rises => {
                let unknown = self.circuit.loads_unknown(ElementId::at(i));
                if self.value(unknown) {
                    self.drew.set(true);
                    n.below(2) == 1
                } else {
                    self.value(data)
                }
            }
            _ => was.0,
        };
        (held, false)
    }
}

/// The bits of a start: those that are declared, and of the others those of this word.
pub fn start(circuit: &Circuit, word: u64) -> Vec<bool> {
    let mut rest = word;
    let bit = |e: &gluewright::circuit::Element| match e.start {
        Start::Low => false,
        Start::High => true,
        Start::Any => {
            let bit = rest & 1 == 1;
            rest >>= 1;
            bit
        }
    };
    circuit.elements().iter().map(bit).collect()
}
