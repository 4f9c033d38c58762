//! From a circuit to a machine: nets are resolved, combinational loops are cut, gates are put in order.
use std::collections::HashMap;

use crate::circuit::{Circuit, ElementId, Expr, Kind, Net, NetId, Op, Pull, Stage};

use super::loops::Loop;
use super::{Cell, Feed, Fight, Gate, Machine, NodeId, Port, Release};

const LOW: NodeId = NodeId(0);
const HIGH: NodeId = NodeId(1);

impl Machine {
    /// Makes a circuit ready to run.
    pub fn new(circuit: &Circuit) -> Machine {
        Compiler::new(circuit).run()
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Progress {
    Untouched,
    Begun,
    Cut(NodeId),
    Done(NodeId),
}

enum Task {
    Expression(Expr),
    Net(NetId),
}

struct Compiler<'c> {
    circuit: &'c Circuit,
    gates: Vec<Gate>,
    index: HashMap<Gate, NodeId>,
    expressions: Vec<Option<NodeId>>,
    nets: Vec<Progress>,
    cells: Vec<Cell>,
    /// The mark of each element whose clear and preset may both be asserted.
    joints: Vec<Option<NodeId>>,
    fights: Vec<Fight>,
    floating: Vec<String>,
    /// The cells that cut a loop.
    cuts: Vec<usize>,
    releases: Vec<Release>,
}

impl<'c> Compiler<'c> {
    fn new(circuit: &'c Circuit) -> Self {
        let mut c = Compiler {
            circuit,
            gates: Vec::new(),
            index: HashMap::new(),
            expressions: vec![None; circuit.expression_count()],
            nets: vec![Progress::Untouched; circuit.nets().len()],
            cells: Vec::new(),
            joints: Vec::new(),
            fights: Vec::new(),
            floating: Vec::new(),
            cuts: Vec::new(),
            releases: Vec::new(),
        };
        c.gate(Gate::Constant(false));
        c.gate(Gate::Constant(true));
        for e in circuit.elements() {
            let register = matches!(e.kind, Kind::Register { .. });
            c.cell(e.name.clone(), e.start.level(), register, Feed::Memory { next: LOW });
        }
        for e in circuit.elements() {
            let both = ![e.clear, e.preset].iter().any(|&x| c.constant(x, 100) == Some(false));
            let register = matches!(e.kind, Kind::Register { .. });
            // the mark follows clear and preset alone: no circuit powers up with a mark that they don't give
            let name = format!("{} (clear and preset)", e.name);
            let joint = both.then(|| c.cell(name, Some(false), register, Feed::Memory { next: LOW }));
            c.joints.push(joint);
        }
        c
    }

    fn cell(&mut self, name: String, start: Option<bool>, is_register: bool, feed: Feed) -> NodeId {
        let source = self.gate(Gate::Cell(self.cells.len() as u32));
        self.cells.push(Cell { name, start, is_register, source, feed });
        source
    }

    /// The value of an expression that hangs on nothing but the rails.
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
                    [] if net.contact.is_none() => Some(net.pull != Pull::Down),
                    [d] if d.enable == Expr::HIGH => self.constant(d.level, depth),
                    _ => None,
                }
            }
            Op::Q(_) | Op::QInverted(_) | Op::Xor(..) | Op::Choose(..) => None,
        }
    }

    fn run(mut self) -> Machine {
        let circuit = self.circuit;
        let roots: Vec<Expr> = circuit
            .elements()
            .iter()
            .flat_map(|e| match e.kind {
                Kind::Register { clock, data } => [clock, data, e.clear, e.preset],
                Kind::Latch { open, data } => [open, data, e.clear, e.preset],
            })
            .chain((0..circuit.expression_count() as u32).map(Expr))
            .collect();
        for e in roots {
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
                    unknown: self.at(circuit.loads_unknown(ElementId(i as u32))),
                },
                Kind::Latch { open, data } => {
                    let (open, data) = (self.at(open), self.at(data));
                    if self.joints[i].is_some() {
                        self.releases.push(Release { cell: i as u32, open, clear, preset });
                    }
                    let hold = self.cells[i].source;
                    let held = self.choose(open, data, hold);
                    let set = self.or(preset, held);
                    let keep = self.not(clear);
                    Feed::Memory { next: self.and(keep, set) }
                }
            };
            self.cells[i].feed = feed;
            if let Some(joint) = self.joints[i] {
                // the mark comes when the element itself does: a phase later for a register, at once for a latch
                let feed = match e.kind {
                    Kind::Register { .. } => Feed::Joint { clear, preset },
                    Kind::Latch { .. } => Feed::Memory { next: self.and(clear, preset) },
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
                let (drive, level) = circuit.nets().get(c.net.index()).map_or((LOW, LOW), |net| self.driven(net));
                let outside = self.gate(Gate::Outside(i as u32));
                let pull = circuit.nets().get(c.net.index()).map_or(Pull::None, |n| n.pull);
                Port { label: c.label.clone(), name: c.name.clone(), pull, drive, level, outside }
            })
            .collect();
        self.finish(ports)
    }

    fn finish(self, ports: Vec<Port>) -> Machine {
        let count = self.gates.len();
        let mut users = vec![Vec::new(); count];
        for (i, gate) in self.gates.iter().enumerate() {
            for n in operands(*gate) {
                users[n.index()].push(NodeId(i as u32));
            }
        }
        let mut feeds = vec![Vec::new(); count];
        for (i, cell) in self.cells.iter().enumerate() {
            let mut nodes = match cell.feed {
                Feed::Register { clock, clear, preset, .. } => vec![clock, clear, preset],
                Feed::Memory { next } => vec![next],
                Feed::Joint { clear, preset } => vec![clear, preset],
            };
            nodes.dedup();
            for n in nodes {
                feeds[n.index()].push(i as u32);
            }
        }
        let mut shows = vec![Vec::new(); count];
        for (i, port) in ports.iter().enumerate() {
            shows[port.drive.index()].push(i as u32);
            shows[port.level.index()].push(i as u32);
        }
        let mut live = vec![false; count];
        let mut wanted: Vec<NodeId> = ports.iter().flat_map(|p| [p.drive, p.level]).collect();
        wanted.extend(self.fights.iter().map(|f| f.when));
        wanted.extend(self.cells.iter().flat_map(|c| match c.feed {
            Feed::Register { clock, data, clear, preset, unknown } => vec![clock, data, clear, preset, unknown],
            Feed::Memory { next } => vec![next],
            Feed::Joint { clear, preset } => vec![clear, preset],
        }));
        while let Some(n) = wanted.pop() {
            if !std::mem::replace(&mut live[n.index()], true) {
                wanted.extend(operands(self.gates[n.index()]));
            }
        }
        let mut floats = vec![LOW; self.floating.len()];
        for (i, gate) in self.gates.iter().enumerate() {
            if let Gate::Floating(n) = *gate
                && let Some(slot) = floats.get_mut(n as usize)
            {
                *slot = NodeId(i as u32);
            }
        }
        let cuts: Vec<(u32, NodeId, NodeId)> = self
            .cuts
            .iter()
            .filter_map(|&c| match self.cells.get(c)?.feed {
                Feed::Memory { next } => Some((c as u32, self.cells[c].source, next)),
                Feed::Register { .. } | Feed::Joint { .. } => None,
            })
            .collect();
        let of_net: Vec<Option<NodeId>> = self
            .nets
            .iter()
            .map(|n| match *n {
                Progress::Done(node) => Some(node),
                Progress::Untouched | Progress::Begun | Progress::Cut(_) => None,
            })
            .collect();
        let nets: Vec<NodeId> = of_net.iter().copied().flatten().collect();
        let loops = Loop::find(&self.gates, &users, &cuts, &nets);
        Machine {
            loops,
            releases: self.releases,
            live,
            floats,
            name: self.circuit.name.clone(),
            gates: self.gates,
            users,
            cells: self.cells,
            ports,
            fights: self.fights,
            floating: self.floating,
            feeds,
            shows,
            of_net,
            of_expression: self.expressions.into_iter().map(|e| e.unwrap_or(LOW)).collect(),
        }
    }

    fn at(&self, e: Expr) -> NodeId {
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
                    let operands = match circuit.op(e) {
                        Op::Not(a) => vec![a],
                        Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => vec![a, b],
                        Op::Choose(a, b, c) => vec![a, b, c],
                        Op::Net(n) if self.nets.get(n.index()) == Some(&Progress::Untouched) => {
                            stack.push(Task::Net(n));
                            continue;
                        }
                        _ => vec![],
                    };
                    let missing: Vec<_> =
                        operands.into_iter().filter(|o| self.expressions[o.index()].is_none()).collect();
                    if !missing.is_empty() {
                        stack.extend(missing.into_iter().map(Task::Expression));
                        continue;
                    }
                    let node = self.expression(circuit.op(e));
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
                            stack.extend(net.drivers.iter().flat_map(|d| [d.enable, d.level]).map(Task::Expression));
                        }
                        Progress::Done(_) => {
                            stack.pop();
                        }
                        Progress::Begun => {
                            let level = self.level(net);
                            self.nets[n.index()] = Progress::Done(level);
                            stack.pop();
                        }
                        Progress::Cut(source) => {
                            let next = self.level(net);
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
                    let source = self.cell(name, None, false, Feed::Memory { next: LOW });
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
                self.not(a)
            }
            Op::And(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.and(a, b)
            }
            Op::Or(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.or(a, b)
            }
            Op::Xor(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                self.xor(a, b)
            }
            Op::Choose(c, a, b) => {
                let (c, a, b) = (self.at(c), self.at(a), self.at(b));
                self.choose(c, a, b)
            }
        }
    }

    fn q(&mut self, element: usize, inverted: bool) -> NodeId {
        let Some(cell) = self.cells.get(element) else { return LOW };
        let mut q = cell.source;
        if inverted {
            q = self.not(q);
        }
        match self.joints.get(element).copied().flatten() {
            Some(joint) => self.or(q, joint),
            None => q,
        }
    }

    /// When anybody drives a net, and to what level: low wins a fight.
    fn driven(&mut self, net: &Net) -> (NodeId, NodeId) {
        let (mut drive, mut high, mut low) = (LOW, LOW, LOW);
        for d in &net.drivers {
            let (enable, level) = (self.at(d.enable), self.at(d.level));
            let lower = self.not(level);
            let (up, down) = (self.and(enable, level), self.and(enable, lower));
            drive = self.or(drive, enable);
            high = self.or(high, up);
            low = self.or(low, down);
        }
        match net.drivers.as_slice() {
            [d] => (self.at(d.enable), self.at(d.level)),
            _ => (drive, self.not(low)),
        }
    }

    fn level(&mut self, net: &Net) -> NodeId {
        let (drive, level) = self.driven(net);
        self.watch_fight(net);
        if drive == HIGH {
            return level;
        }
        let otherwise = match (net.contact, net.pull) {
            (Some(c), _) => self.gate(Gate::Outside(c.index() as u32)),
            (None, Pull::Up) => HIGH,
            (None, Pull::Down) => LOW,
            (None, Pull::None) if net.drivers.iter().all(|d| d.stage == Stage::OpenCollector) => HIGH,
            (None, Pull::None) => {
                self.floating.push(net.name.clone());
                self.gate(Gate::Floating(self.floating.len() as u32 - 1))
            }
        };
        self.choose(drive, level, otherwise)
    }

    fn watch_fight(&mut self, net: &Net) {
        let strong: Vec<_> = net.drivers.iter().map(|d| (self.at(d.enable), self.at(d.level))).collect();
        let mut when = LOW;
        for (i, &(e1, l1)) in strong.iter().enumerate() {
            for &(e2, l2) in &strong[..i] {
                let (both, differ) = (self.and(e1, e2), self.xor(l1, l2));
                let fight = self.and(both, differ);
                when = self.or(when, fight);
            }
        }
        if when != LOW {
            let drivers = net.drivers.iter().map(|d| d.name.clone()).collect();
            self.fights.push(Fight { net: net.name.clone(), drivers, when });
        }
    }

    fn gate(&mut self, gate: Gate) -> NodeId {
        if let Some(&n) = self.index.get(&gate) {
            return n;
        }
        let n = NodeId(self.gates.len() as u32);
        self.gates.push(gate);
        self.index.insert(gate, n);
        n
    }

    fn not(&mut self, a: NodeId) -> NodeId {
        match self.gates[a.index()] {
            Gate::Constant(v) => {
                if v {
                    LOW
                } else {
                    HIGH
                }
            }
            Gate::Not(inner) => inner,
            _ => self.gate(Gate::Not(a)),
        }
    }
    fn and(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (LOW, _) => LOW,
            (HIGH, x) => x,
            (x, y) if x == y => x,
            (x, y) => self.gate(Gate::And(x, y)),
        }
    }
    fn or(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (HIGH, _) | (_, HIGH) => HIGH,
            (LOW, x) => x,
            (x, y) if x == y => x,
            (x, y) => self.gate(Gate::Or(x, y)),
        }
    }
    fn xor(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (LOW, x) => x,
            (HIGH, x) => self.not(x),
            (x, y) if x == y => LOW,
            (x, y) => self.gate(Gate::Xor(x, y)),
        }
    }
    fn choose(&mut self, when: NodeId, then: NodeId, otherwise: NodeId) -> NodeId {
        match when {
            HIGH => then,
            LOW => otherwise,
            _ if then == otherwise => then,
            _ => self.gate(Gate::Choose(when, then, otherwise)),
        }
    }
}

pub(super) fn operands(gate: Gate) -> Vec<NodeId> {
    match gate {
        Gate::Not(a) => vec![a],
        Gate::And(a, b) | Gate::Or(a, b) | Gate::Xor(a, b) => vec![a, b],
        Gate::Choose(a, b, c) => vec![a, b, c],
        Gate::Constant(_) | Gate::Outside(_) | Gate::Cell(_) | Gate::Floating(_) => vec![],
    }
}
