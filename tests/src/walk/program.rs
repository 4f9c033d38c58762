//! A circuit as a straight list of instructions: nets resolved, nets in loops held.
use std::collections::HashMap;

use gluewright::circuit::{Circuit, Expr, Kind, NetId, Op, Pull, Stage};
use gluewright::figures::OpenInput;

/// A register of the program: the place of an instruction's result.
pub(super) type At = usize;

#[derive(Clone, Copy, Debug)]
pub(super) enum Instruction {
    Constant(bool),
    /// What the board puts on this contact.
    Outside(usize),
    /// What this element holds.
    Held(usize),
    /// Clear and preset of this element are both asserted.
    Both(usize),
    /// The level of this net, which is in a loop, as it was.
    Loop(usize),
    /// The level of this net while nothing drives it.
    Float(usize),
    Not(At),
    And(At, At),
    Or(At, At),
    Xor(At, At),
    Choose(At, At, At),
}

/// Where the inputs of an element are computed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Inputs {
    pub(super) is_register: bool,
    /// Clock, or open.
    pub(super) clock: At,
    pub(super) data: At,
    pub(super) clear: At,
    pub(super) preset: At,
    /// Nobody knows what an edge loads.
    pub(super) unknown: At,
}

#[derive(Clone, Debug)]
pub(super) struct Program {
    pub(super) list: Vec<Instruction>,
    pub(super) elements: Vec<Inputs>,
    /// Every net's level.
    pub(super) nets: Vec<At>,
    /// For each contact: driven, level while driven.
    pub(super) shown: Vec<(At, At)>,
}

/// The program with these nets held, and as many more as loops need.
pub(super) fn compile(circuit: &Circuit, backwards: bool, held: &[usize]) -> Program {
    let mut c = Compiler {
        circuit,
        backwards,
        list: Vec::new(),
        expressions: HashMap::new(),
        nets: vec![Progress::New; circuit.nets().len()],
        cuts: held.to_vec(),
    };
    let all: Vec<usize> = match backwards {
        false => (0..circuit.nets().len()).collect(),
        true => (0..circuit.nets().len()).rev().collect(),
    };
    for n in all {
        c.net(n);
    }
    let nets: Vec<At> = (0..circuit.nets().len()).map(|n| c.net(n)).collect();
    let elements = circuit
        .elements()
        .iter()
        .map(|e| {
            let (is_register, clock, data) = match e.kind {
                Kind::Register { clock, data } => (true, clock, data),
                Kind::Latch { open, data } => (false, open, data),
            };
            let unknown = circuit.find_element(&e.name).map_or(Expr::LOW, |id| circuit.loads_unknown(id));
            let [clock, data, clear, preset, unknown] =
                [clock, data, e.clear, e.preset, unknown].map(|x| c.expression(x));
            Inputs { is_register, clock, data, clear, preset, unknown }
        })
        .collect();
    let shown = circuit.contacts().iter().map(|contact| c.driven(contact.net)).collect();
    Program { list: c.list, elements, nets, shown }
}

#[derive(Clone, Copy, PartialEq)]
enum Progress {
    New,
    Begun,
    Done(At),
}

struct Compiler<'c> {
    circuit: &'c Circuit,
    backwards: bool,
    list: Vec<Instruction>,
    expressions: HashMap<Expr, At>,
    nets: Vec<Progress>,
    cuts: Vec<usize>,
}

impl Compiler<'_> {
    fn push(&mut self, i: Instruction) -> At {
        self.list.push(i);
        self.list.len() - 1
    }

    fn expression(&mut self, e: Expr) -> At {
        if let Some(&at) = self.expressions.get(&e) {
            return at;
        }
        let at = match self.circuit.op(e) {
            Op::Constant(v) => self.push(Instruction::Constant(v)),
            // a net in the middle of its own computation is not kept under the expression
            Op::Net(n) => return self.read(n),
            Op::Q(x) => self.q(x.index(), false),
            Op::QInverted(x) => self.q(x.index(), true),
            Op::Not(a) => {
                let a = self.expression(a);
                self.push(Instruction::Not(a))
            }
            Op::And(a, b) => {
                let (a, b) = self.pair(a, b);
                self.push(Instruction::And(a, b))
            }
            Op::Or(a, b) => {
                let (a, b) = self.pair(a, b);
                self.push(Instruction::Or(a, b))
            }
            Op::Xor(a, b) => {
                let (a, b) = self.pair(a, b);
                self.push(Instruction::Xor(a, b))
            }
            Op::Choose(w, a, b) => {
                let w = self.expression(w);
                let (a, b) = (self.expression(a), self.expression(b));
                self.push(Instruction::Choose(w, a, b))
            }
        };
        self.expressions.insert(e, at);
        at
    }

    fn pair(&mut self, a: Expr, b: Expr) -> (At, At) {
        if self.backwards {
            let b = self.expression(b);
            (self.expression(a), b)
        } else {
            let a = self.expression(a);
            (a, self.expression(b))
        }
    }

    fn q(&mut self, element: usize, inverted: bool) -> At {
        let mut q = self.push(Instruction::Held(element));
        if inverted {
            q = self.push(Instruction::Not(q));
        }
        // both outputs are high while both are asserted
        let both = self.push(Instruction::Both(element));
        self.push(Instruction::Or(q, both))
    }

    fn read(&mut self, n: NetId) -> At {
        let i = n.index();
        if self.cuts.contains(&i) {
            return self.push(Instruction::Loop(i));
        }
        self.net(i)
    }

    fn net(&mut self, i: usize) -> At {
        match self.nets[i] {
            Progress::Done(at) => at,
            Progress::Begun => {
                if !self.cuts.contains(&i) {
                    self.cuts.push(i);
                }
                self.push(Instruction::Loop(i))
            }
            Progress::New => {
                self.nets[i] = Progress::Begun;
                let at = self.level(i);
                self.nets[i] = Progress::Done(at);
                at
            }
        }
    }

    /// Whether anybody drives, and the level then: low wins.
    fn driven(&mut self, net: NetId) -> (At, At) {
        let drivers = self.circuit.nets()[net.index()].drivers.clone();
        let (mut any, mut low) = (self.push(Instruction::Constant(false)), self.push(Instruction::Constant(false)));
        for d in &drivers {
            let (enable, level) = (self.expression(d.enable), self.expression(d.level));
            any = self.push(Instruction::Or(any, enable));
            let lower = self.push(Instruction::Not(level));
            let pulls = self.push(Instruction::And(enable, lower));
            low = self.push(Instruction::Or(low, pulls));
        }
        (any, self.push(Instruction::Not(low)))
    }

    fn level(&mut self, i: usize) -> At {
        let net = &self.circuit.nets()[i];
        let id = self.id(i);
        let (any, level) = self.driven(id);
        if net.drivers.iter().any(|d| d.enable == Expr::HIGH) {
            return level;
        }
        let otherwise = match (net.contact, net.pull) {
            (Some(c), _) => Instruction::Outside(c.index()),
            (None, Pull::Up) => Instruction::Constant(true),
            (None, Pull::Down) => Instruction::Constant(false),
            (None, Pull::None)
                if net.open_read == OpenInput::High && net.drivers.iter().all(|d| d.stage == Stage::OpenCollector) =>
            {
                Instruction::Constant(true)
            }
            (None, Pull::None)
                if net.open_read == OpenInput::Low && net.drivers.iter().all(|d| d.stage == Stage::OpenCollector) =>
            {
                Instruction::Constant(false)
            }
            (None, Pull::None) => Instruction::Float(i),
        };
        let otherwise = self.push(otherwise);
        self.push(Instruction::Choose(any, level, otherwise))
    }

    fn id(&self, i: usize) -> NetId {
        self.circuit.find_net(&self.circuit.nets()[i].name).expect("names of nets are unique")
    }
}
