//! From a circuit to a machine: nets are resolved, combinational loops are cut, gates are put in order.
use crate::circuit::{Circuit, Cone, ElementId, Expr, Kind, Net, NetId, Op, Pull, Stage, Through};

use crate::figures::OpenInput;

use super::gates::{Gates, HIGH, LOW};
use super::{Cell, Feed, Fight, Gate, Machine, NodeId, Place, Port, Release};

impl Machine {
    /// Makes a circuit ready to run.
    pub fn new(circuit: &Circuit) -> Machine {
        Compiler::new(circuit).run()
    }
}

#[derive(Clone, Copy, PartialEq)]
pub(super) enum Progress {
    Untouched,
    Begun,
    Cut(NodeId),
    Done(NodeId),
}

enum Task {
    Expression(Expr),
    Net(NetId),
}

pub(super) struct Compiler<'c> {
    pub(super) circuit: &'c Circuit,
    pub(super) gates: Gates,
    pub(super) expressions: Vec<Option<NodeId>>,
    pub(super) nets: Vec<Progress>,
    pub(super) cells: Vec<Cell>,
    /// The mark of each element whose clear and preset may both be asserted.
    pub(super) joints: Vec<Option<NodeId>>,
    pub(super) fights: Vec<Fight>,
    pub(super) floating: Vec<String>,
    /// The cells that cut a loop: nets, and latches in one.
    pub(super) cuts: Vec<usize>,
    pub(super) releases: Vec<Release>,
    /// What may feed itself through gates and open latches.
    pub(super) feedback: Cone,
}

impl<'c> Compiler<'c> {
    fn new(circuit: &'c Circuit) -> Self {
        let mut c = Compiler {
            circuit,
            gates: Gates::new(),
            expressions: vec![None; circuit.expression_count()],
            nets: vec![Progress::Untouched; circuit.nets().len()],
            cells: Vec::new(),
            joints: Vec::new(),
            fights: Vec::new(),
            floating: Vec::new(),
            cuts: Vec::new(),
            releases: Vec::new(),
            feedback: circuit.feedback(Through::Latches),
        };
        for (id, e) in circuit.numbered_elements() {
            let register = matches!(e.kind, Kind::Register { .. });
            c.cell(Place::Element(id), e.name.clone(), e.start.level(), register);
        }
        for (id, e) in circuit.numbered_elements() {
            let both = ![e.clear, e.preset].iter().any(|&x| c.constant(x, 100) == Some(false));
            let register = matches!(e.kind, Kind::Register { .. });
            // the mark follows clear and preset alone: no circuit powers up with a mark that they don't give
            let name = format!("{} (clear and preset)", e.name);
            let joint = both.then(|| c.cell(Place::Mark(id), name, Some(false), register));
            c.joints.push(joint);
        }
        c
    }

    fn cell(&mut self, place: Place, name: String, start: Option<bool>, is_register: bool) -> NodeId {
        let feed = Feed::Memory { next: LOW };
        let source = self.gates.gate(Gate::Cell(self.cells.len() as u32));
        self.cells.push(Cell { name, start, is_register, place, source, feed });
        source
    }

    /// The value of an expression that depends on nothing but the rails.
    fn constant(&self, e: Expr, depth: u32) -> Option<bool> {
        let depth = depth.checked_sub(1)?;
        match self.circuit.op(e) {
            Op::Constant(v) => Some(v),
            Op::Not(a) => self.constant(a, depth).map(|v| !v),
            Op::And(a, b) => match (self.constant(a, depth), self.constant(b, depth)) {
                (Some(false), _) | (_, Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            },
            Op::Or(a, b) => match (self.constant(a, depth), self.constant(b, depth)) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            },
            Op::Net(n) => {
                let net = self.circuit.nets().get(n.index())?;
                match net.drivers.as_slice() {
                    [] if net.contact.is_none() => net.undriven_level(),
                    [d] if d.enable == Expr::HIGH => self.constant(d.level, depth),
                    _ => None,
                }
            }
            Op::Q(_) | Op::QInverted(_) | Op::Xor(..) | Op::Choose(..) => None,
        }
    }

    fn run(mut self) -> Machine {
        let circuit = self.circuit;
        // the order decides where loops are cut
        let inputs = circuit.elements().iter().flat_map(|e| [e.gate(), e.data(), e.clear, e.preset]);
        for e in inputs.chain(circuit.expressions()) {
            self.compile(Task::Expression(e));
        }
        for n in 0..circuit.nets().len() as u32 {
            self.compile(Task::Net(NetId(n)));
        }
        for (i, e) in circuit.elements().iter().enumerate() {
            let [clear, preset] = [self.at(e.clear), self.at(e.preset)];
            let feed = match e.kind {
                Kind::Register { clock, data } => Feed::Register {
                    clock: self.at(clock),
                    data: self.at(data),
                    clear,
                    preset,
                    unknown: self.at(e.unknown_load),
                },
                Kind::Latch { open, data } => {
                    let (open, data) = (self.at(open), self.at(data));
                    if self.joints[i].is_some() {
                        self.releases.push(Release { cell: i as u32, open, clear, preset });
                    }
                    let hold = self.cells[i].source;
                    let held = self.gates.choose(open, data, hold);
                    let set = self.gates.or(preset, held);
                    let keep = self.gates.not(clear);
                    Feed::Memory { next: self.gates.and(keep, set) }
                }
            };
            self.cells[i].feed = feed;
            // a latch in a loop races as a gate does
            let races = matches!(e.kind, Kind::Latch { .. }) && self.feedback.contains(ElementId::at(i));
            if races {
                let joint = self.joints[i].and_then(|j| self.cells.iter().position(|c| c.source == j));
                self.cuts.extend([Some(i), joint].into_iter().flatten());
            }
            if let Some(joint) = self.joints[i] {
                // the mark comes when the element itself does: a phase later for a register, at once for a latch
                let feed = match e.kind {
                    Kind::Register { .. } => Feed::Joint { clear, preset },
                    Kind::Latch { .. } => Feed::Memory { next: self.gates.and(clear, preset) },
                };
                if let Some(cell) = self.cells.iter_mut().find(|c| c.source == joint) {
                    cell.feed = feed;
                }
            }
        }
        let ports = circuit
            .contacts()
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let net = circuit.nets().get(c.net.index());
                let (drive, _, level) = net.map_or((LOW, LOW, LOW), |net| self.driven(net));
                let outside = self.gates.gate(Gate::Outside(i as u32));
                let pull = circuit.nets().get(c.net.index()).map_or(Pull::None, |n| n.pull);
                Port { label: c.label.clone(), name: c.name.clone(), pull, drive, level, outside }
            })
            .collect();
        self.finish(ports)
    }

    pub(super) fn at(&self, e: Expr) -> NodeId {
        self.expressions.get(e.index()).copied().flatten().unwrap_or(LOW)
    }

    /// Compiles an expression or net and all that it needs, with a stack of its own: circuits may be deep.
    fn compile(&mut self, root: Task) {
        let circuit = self.circuit;
        let mut stack = vec![root];
        while let Some(task) = stack.last() {
            match *task {
                Task::Expression(e) => {
                    if self.expressions.get(e.index()).is_none_or(Option::is_some) {
                        stack.pop();
                        continue;
                    }
                    let op = circuit.op(e);
                    let untouched = |n: &NetId| self.nets.get(n.index()) == Some(&Progress::Untouched);
                    if let Some(n) = op.as_net().filter(untouched) {
                        stack.push(Task::Net(n));
                        continue;
                    }
                    let height = stack.len();
                    let missing = op.operands().filter(|o| self.expressions[o.index()].is_none());
                    stack.extend(missing.map(Task::Expression));
                    if stack.len() > height {
                        continue;
                    }
                    let node = self.expression(op);
                    self.expressions[e.index()] = Some(node);
                    stack.pop();
                }
                Task::Net(n) => {
                    let Some(net) = circuit.nets().get(n.index()) else {
                        stack.pop();
                        continue;
                    };
                    match self.nets[n.index()] {
                        Progress::Untouched => {
                            self.nets[n.index()] = Progress::Begun;
                            stack.extend(net.inputs().map(Task::Expression));
                        }
                        Progress::Done(_) => {
                            stack.pop();
                        }
                        Progress::Begun => {
                            let level = self.level(n, net);
                            self.nets[n.index()] = Progress::Done(level);
                            stack.pop();
                        }
                        Progress::Cut(source) => {
                            let next = self.level(n, net);
                            if let Some(cell) = self.cells.iter_mut().find(|c| c.source == source) {
                                cell.feed = Feed::Memory { next };
                            }
                            self.nets[n.index()] = Progress::Done(source);
                            stack.pop();
                        }
                    }
                }
            }
        }
    }

    fn expression(&mut self, op: Op) -> NodeId {
        match op {
            Op::Constant(v) => {
                if v {
                    HIGH
                } else {
                    LOW
                }
            }
            Op::Net(n) => match self.nets.get(n.index()).copied() {
                Some(Progress::Done(node) | Progress::Cut(node)) => node,
                Some(Progress::Begun) => {
                    let name = self.circuit.nets()[n.index()].name.clone();
                    let source = self.cell(Place::Net(n), name, None, false);
                    self.cuts.push(self.cells.len() - 1);
                    self.nets[n.index()] = Progress::Cut(source);
                    source
                }
                _ => LOW,
            },
            Op::Q(e) => self.q(e.index(), false),
            Op::QInverted(e) => self.q(e.index(), true),
            Op::Not(a) => {
                let a = self.at(a);
                self.gates.not(a)
            }
            Op::And(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.gates.and(a, b)
            }
            Op::Or(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.gates.or(a, b)
            }
            Op::Xor(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.gates.xor(a, b)
            }
            Op::Choose(c, a, b) => {
                let (c, a, b) = (self.at(c), self.at(a), self.at(b));
                self.gates.choose(c, a, b)
            }
        }
    }

    fn q(&mut self, element: usize, inverted: bool) -> NodeId {
        let Some(cell) = self.cells.get(element) else { return LOW };
        let mut q = cell.source;
        if inverted {
            q = self.gates.not(q);
        }
        match self.joints.get(element).copied().flatten() {
            Some(joint) => self.gates.or(q, joint),
            None => q,
        }
    }

    /// When any driver of a net is on, when any drives it high, and the level: in a fight low wins.
    fn driven(&mut self, net: &Net) -> (NodeId, NodeId, NodeId) {
        let (mut drive, mut high, mut low) = (LOW, LOW, LOW);
        for d in &net.drivers {
            let (enable, level) = (self.at(d.enable), self.at(d.level));
            let lower = self.gates.not(level);
            let (up, down) = (self.gates.and(enable, level), self.gates.and(enable, lower));
            drive = self.gates.or(drive, enable);
            high = self.gates.or(high, up);
            low = self.gates.or(low, down);
        }
        match net.drivers.as_slice() {
            [d] => (self.at(d.enable), high, self.at(d.level)),
            _ => (drive, high, self.gates.not(low)),
        }
    }

    fn level(&mut self, id: NetId, net: &Net) -> NodeId {
        let level = self.resolved(net);
        if self.feedback.contains(id) { self.gates.wire(id.index() as u32, level) } else { level }
    }

    fn resolved(&mut self, net: &Net) -> NodeId {
        let (drive, high, level) = self.driven(net);
        self.watch_fight(net);
        if drive == HIGH {
            return level;
        }
        let otherwise = match (net.contact, net.pull) {
            (Some(c), _) => self.gates.gate(Gate::Outside(c.index() as u32)),
            (None, Pull::Up) => HIGH,
            (None, Pull::Down) => LOW,
            (None, Pull::None) if net.drivers.iter().any(|d| d.stage != Stage::OpenCollector) => self.float(net),
            (None, Pull::None) => match net.open_read {
                OpenInput::High => HIGH,
                OpenInput::Low => LOW,
                OpenInput::Unknown => self.float(net),
            },
        };
        if net.drivers.len() == 1 {
            return self.gates.choose(drive, level, otherwise);
        }
        // whether anybody drives and whether anybody pulls low is one thing: told apart, a bus that may be pulled low and
        // reads low anyway would be undetermined
        let up = self.gates.or(high, otherwise);
        self.gates.and(level, up)
    }

    /// A level that nobody knows, anew at each event.
    fn float(&mut self, net: &Net) -> NodeId {
        self.floating.push(net.name.clone());
        self.gates.gate(Gate::Floating(self.floating.len() as u32 - 1))
    }

    fn watch_fight(&mut self, net: &Net) {
        let strong: Vec<_> = net.drivers.iter().map(|d| (self.at(d.enable), self.at(d.level))).collect();
        let mut when = LOW;
        for (i, &(e1, l1)) in strong.iter().enumerate() {
            for &(e2, l2) in &strong[..i] {
                let (both, differ) = (self.gates.and(e1, e2), self.gates.xor(l1, l2));
                let fight = self.gates.and(both, differ);
                when = self.gates.or(when, fight);
            }
        }
        if when != LOW {
            let drivers = net.drivers.iter().map(|d| d.by.to_string()).collect();
            self.fights.push(Fight { net: net.name.clone(), drivers, when });
        }
    }
}
