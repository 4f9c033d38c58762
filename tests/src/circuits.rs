//! Random small circuits: registers with clears and gated or derived clocks, latches, gates, three-state and
//! open-collector nets, now and then a loop of gates.
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, ElementId, Expr, Kind, NetId, Origin, Polarity, Pull, Stage,
    Start,
};

use crate::gates::Numbers;

/// What may be in a drawn circuit.
#[derive(Clone, Copy, Debug)]
pub struct Recipe {
    /// Registers and latches, at most.
    pub elements: usize,
    /// Inputs beside the clock, at most.
    pub inputs: usize,
    /// Whether gates may be cross-coupled.
    pub loops: bool,
    /// Whether internal nets may float.
    pub floats: bool,
    /// Whether what a latch follows may come back through it: most elements are latches then.
    pub fed_back: bool,
}

struct Drawing<'n> {
    c: Circuit,
    n: &'n mut Numbers,
    label: u16,
    pool: Vec<Expr>,
}

impl Drawing<'_> {
    fn contact(&mut self, name: String, net: NetId, direction: Direction) {
        self.label += 1;
        let (polarity, origin) = (Polarity::Data, Origin::Nowhere);
        self.c.add_contact(Contact { label: self.label.into(), name, net, polarity, direction, origin });
    }

    fn input(&mut self, name: &str) -> Expr {
        let net = self.c.add_net(name, Origin::Nowhere);
        self.contact(name.to_owned(), net, Direction::Input);
        self.c.net(net)
    }

    fn chance(&mut self, percent: usize) -> bool {
        self.n.below(100) < percent
    }

    fn literal(&mut self) -> Expr {
        let e = self.pool[self.n.below(self.pool.len())];
        if self.chance(50) { self.c.not(e) } else { e }
    }

    fn logic(&mut self, depth: usize) -> Expr {
        if depth == 0 || self.chance(25) {
            return self.literal();
        }
        let (a, b) = (self.logic(depth - 1), self.logic(depth - 1));
        match self.n.below(6) {
            0 | 1 => self.c.and(a, b),
            2 | 3 => self.c.or(a, b),
            4 => self.c.xor(a, b),
            _ => {
                let when = self.literal();
                self.c.choose(when, a, b)
            }
        }
    }

    fn drive(&mut self, net: NetId, enable: Expr, level: Expr, stage: Stage) {
        let name = self.c.nets()[net.index()].name.clone();
        let name = format!("{name} driver {}", self.c.nets()[net.index()].drivers.len());
        self.c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin: Origin::Nowhere });
    }

    /// An internal net, by one of the ways in which boards make them.
    fn internal(&mut self, k: usize, recipe: Recipe) {
        let net = self.c.add_net(format!("n{k}"), Origin::Nowhere);
        match self.n.below(4) {
            0 => {
                // a bus: one of two drives
                let (when, a, b) = (self.logic(1), self.logic(1), self.logic(1));
                let mut other = self.c.not(when);
                if recipe.floats && self.chance(50) {
                    let also = self.literal();
                    other = self.c.and(other, also);
                }
                self.drive(net, when, a, Stage::ThreeState);
                self.drive(net, other, b, Stage::ThreeState);
            }
            1 => {
                // wired open collectors
                let (a, b) = (self.logic(1), self.logic(1));
                self.drive(net, a, Expr::LOW, Stage::OpenCollector);
                self.drive(net, b, Expr::LOW, Stage::OpenCollector);
                if self.chance(70) {
                    self.c.net_mut(net).expect("there").pull = Pull::Up;
                }
            }
            _ => {
                let level = self.logic(2);
                self.drive(net, Expr::HIGH, level, Stage::PushPull);
            }
        }
        let read = self.c.net(net);
        self.pool.push(read);
    }

    /// Two gates that hold each other.
    fn cross_coupled(&mut self) {
        let (set, reset) = (self.logic(1), self.logic(1));
        let nets = ["set gate", "reset gate"].map(|n| self.c.add_net(n, Origin::Nowhere));
        for (net, other, input) in [(nets[0], nets[1], set), (nets[1], nets[0], reset)] {
            let other = self.c.net(other);
            let both = self.c.and(other, input);
            let level = self.c.not(both);
            self.drive(net, Expr::HIGH, level, Stage::PushPull);
        }
        let read = self.c.net(nets[0]);
        self.pool.push(read);
    }

    fn output(&mut self, k: usize) {
        let name = format!("y{k}");
        let net = self.c.add_net(name.clone(), Origin::Nowhere);
        let level = self.logic(2);
        let (enable, level, stage, direction) = match self.n.below(10) {
            0..=4 => (Expr::HIGH, level, Stage::PushPull, Direction::Output),
            5..=7 => {
                let enable = self.logic(1);
                (enable, level, Stage::ThreeState, Direction::InOut)
            }
            _ => (level, Expr::LOW, Stage::OpenCollector, Direction::Output),
        };
        self.drive(net, enable, level, stage);
        if stage != Stage::PushPull && self.chance(25) {
            self.c.net_mut(net).expect("there").pull = Pull::Up;
        }
        self.contact(name, net, direction);
        if self.chance(if direction == Direction::InOut { 40 } else { 15 }) {
            let read = self.c.net(net);
            self.pool.push(read);
        }
    }
}

/// A circuit; contact 1 is its clock.
pub fn drawn(n: &mut Numbers, recipe: Recipe, name: &str) -> Circuit {
    let mut d = Drawing { c: Circuit::new(name), n, label: 0, pool: Vec::new() };
    let clock = d.input("clock");
    for i in 0..1 + d.n.below(recipe.inputs.max(1)) {
        let e = d.input(&format!("x{i}"));
        d.pool.push(e);
    }
    let elements: Vec<ElementId> = (0..1 + d.n.below(recipe.elements.max(1)))
        .map(|k| {
            d.c.add_element(Element {
                name: format!("r{k}"),
                kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: Start::Any,
                origin: Origin::Nowhere,
            })
        })
        .collect();
    let stored: Vec<Expr> = elements.iter().map(|&e| d.c.q(e)).collect();
    let inputs_only = d.pool.clone();
    d.pool.extend(&stored);
    for k in 0..d.n.below(3) {
        d.internal(k, recipe);
    }
    if recipe.loops && d.chance(25) {
        d.cross_coupled();
    }
    for k in 0..1 + d.n.below(3) {
        d.output(k);
    }
    for (k, &e) in elements.iter().enumerate() {
        let is_register = d.chance(if recipe.fed_back { 30 } else { 75 });
        let mut clock = match d.n.below(10) {
            0..=5 => clock,
            6 | 7 => {
                let gate = d.literal();
                d.c.and(clock, gate)
            }
            8 if k > 0 => stored[d.n.below(k)],
            _ => inputs_only[d.n.below(inputs_only.len())],
        };
        if d.chance(30) {
            clock = d.c.not(clock);
        }
        let mut data = d.logic(2);
        if !is_register && !recipe.fed_back {
            // what a latch follows does not come back through it
            let whole = std::mem::replace(&mut d.pool, inputs_only.clone());
            data = d.logic(1);
            d.pool = whole;
        }
        let mut forced = |percent: usize| match d.chance(percent) {
            true if d.chance(70) => {
                let whole = std::mem::replace(&mut d.pool, inputs_only.clone());
                let e = d.literal();
                d.pool = whole;
                e
            }
            true => d.logic(1),
            false => Expr::LOW,
        };
        let (clear, preset) = (forced(45), forced(20));
        let element = d.c.element_mut(e).expect("there");
        element.kind = if is_register { Kind::Register { clock, data } } else { Kind::Latch { open: clock, data } };
        (element.clear, element.preset) = (clear, preset);
        if is_register && d.chance(8) {
            let when = d.logic(1);
            d.c.load_unknown_while(e, when);
        }
    }
    d.c
}
