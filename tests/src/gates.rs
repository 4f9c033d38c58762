//! Netlists of two-input gates, small enough to be judged by something that knows nothing of Gluewright.
use gluewright::circuit::{By, Circuit, Contact, Direction, Driver, Expr, Origin, Polarity, Stage};

/// A gate; operands are inputs first, then gates, by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gate {
    /// Not both.
    Nand(usize, usize),
    /// Neither.
    Nor(usize, usize),
    /// Both.
    And(usize, usize),
    /// At least one.
    Or(usize, usize),
    /// Exactly one.
    Xor(usize, usize),
}

/// Inputs, gates in order, and which signals are outputs.
#[derive(Clone, Debug)]
pub struct Netlist {
    /// How many inputs there are.
    pub inputs: usize,
    /// The gates; gate `k` is signal `inputs + k`.
    pub gates: Vec<Gate>,
    /// The outputs' signals.
    pub outputs: Vec<usize>,
}

/// A repeatable source of numbers: SplitMix64 (Steele, Lea, Flood 2014).
#[derive(Clone, Debug)]
pub struct Numbers(pub u64);

impl Numbers {
    /// A number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n.max(1) as u64) as usize
    }
}

impl Netlist {
    /// A drawn netlist whose outputs are its last signals.
    pub fn drawn(numbers: &mut Numbers, inputs: usize, gates: usize, outputs: usize) -> Netlist {
        let list: Vec<Gate> = (0..gates)
            .map(|k| {
                let (a, b) = (numbers.below(inputs + k), numbers.below(inputs + k));
                Self::kind(numbers.below(5), a, b)
            })
            .collect();
        Netlist { inputs, gates: list, outputs: (0..outputs).map(|i| inputs + gates - 1 - i).collect() }
    }

    fn kind(kind: usize, a: usize, b: usize) -> Gate {
        match kind {
            0 => Gate::Nand(a, b),
            1 => Gate::Nor(a, b),
            2 => Gate::And(a, b),
            3 => Gate::Or(a, b),
            _ => Gate::Xor(a, b),
        }
    }

    /// One gate of another kind.
    pub fn with_one_gate_changed(&self, numbers: &mut Numbers) -> Netlist {
        let mut other = self.clone();
        let k = numbers.below(self.gates.len());
        let (Gate::Nand(a, b) | Gate::Nor(a, b) | Gate::And(a, b) | Gate::Or(a, b) | Gate::Xor(a, b)) = other.gates[k];
        while other.gates[k] == self.gates[k] {
            other.gates[k] = Self::kind(numbers.below(5), a, b);
        }
        other
    }

    /// The same functions from NAND gates alone (every gate by De Morgan).
    pub fn in_nands(&self) -> Netlist {
        let mut gates = Vec::new();
        let mut at: Vec<usize> = (0..self.inputs).collect();
        for gate in &self.gates {
            let mut nand = |a: usize, b: usize| {
                gates.push(Gate::Nand(a, b));
                self.inputs + gates.len() - 1
            };
            let signal = match *gate {
                Gate::Nand(a, b) => nand(at[a], at[b]),
                Gate::And(a, b) => {
                    let n = nand(at[a], at[b]);
                    nand(n, n)
                }
                Gate::Or(a, b) | Gate::Nor(a, b) => {
                    let (x, y) = (nand(at[a], at[a]), nand(at[b], at[b]));
                    let or = nand(x, y);
                    if matches!(gate, Gate::Nor(..)) { nand(or, or) } else { or }
                }
                Gate::Xor(a, b) => {
                    let n = nand(at[a], at[b]);
                    let (x, y) = (nand(at[a], n), nand(at[b], n));
                    nand(x, y)
                }
            };
            at.push(signal);
        }
        Netlist { inputs: self.inputs, gates, outputs: self.outputs.iter().map(|&o| at[o]).collect() }
    }

    /// As a circuit: inputs on contacts 1, 2, …, outputs on contacts 101, 102, ….
    pub fn circuit(&self, name: &str) -> Circuit {
        let mut c = Circuit::new(name);
        let contact = |label: usize, name: String, net, direction| Contact {
            label: (label as u16).into(),
            name,
            net,
            polarity: Polarity::Data,
            direction,
            origin: Origin::Nowhere,
        };
        let mut signals: Vec<Expr> = Vec::new();
        for i in 0..self.inputs {
            let net = c.add_net(format!("x{i}"), Origin::Nowhere);
            c.add_contact(contact(i + 1, format!("x{i}"), net, Direction::Input));
            signals.push(c.net(net));
        }
        for gate in &self.gates {
            let level = match *gate {
                Gate::And(a, b) => c.and(signals[a], signals[b]),
                Gate::Or(a, b) => c.or(signals[a], signals[b]),
                Gate::Xor(a, b) => c.xor(signals[a], signals[b]),
                Gate::Nand(a, b) => {
                    let both = c.and(signals[a], signals[b]);
                    c.not(both)
                }
                Gate::Nor(a, b) => {
                    let any = c.or(signals[a], signals[b]);
                    c.not(any)
                }
            };
            signals.push(level);
        }
        for (i, &o) in self.outputs.iter().enumerate() {
            let name = format!("y{i}");
            let net = c.add_net(name.clone(), Origin::Nowhere);
            let driver = Driver {
                enable: Expr::HIGH,
                level: signals[o],
                stage: Stage::PushPull,
                by: By::signal(name.clone()),
                origin: Origin::Nowhere,
            };
            c.drive(net, driver);
            c.add_contact(contact(101 + i, name, net, Direction::Output));
        }
        c
    }
}
