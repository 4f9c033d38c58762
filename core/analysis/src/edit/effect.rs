//! What a circuit does at each place, as one number: circuits of the same functions share it, however these are written.
use std::hash::{DefaultHasher, Hash, Hasher};

use gluewright_kernel::circuit::{Circuit, ElementId, Expr, Net, NetId, Op};

/// Drawn levels of a signal, 64 in each word. Functions that agree on all of them count as the same: enough to group mends
/// that are proved anyway, and never a proof.
type Levels = [u64; 16];

/// A number that two circuits share if every contact and every stored bit has the same functions in both. Contacts go by
/// their labels, other nets and bits by their positions; nets that are mere formulas don't count.
pub(crate) fn effect(circuit: &Circuit) -> u64 {
    let values = Values::of(circuit);
    let mut places: Vec<u64> = Vec::new();
    for (id, net) in circuit.numbered_nets().filter(|(_, net)| net.contact.is_some() || formula(net).is_none()) {
        let shows = |d: &gluewright_kernel::circuit::Driver| {
            let (enable, level) = (values.at(d.enable), values.at(d.level));
            number(&(enable, both(enable, level, |a, b| a & b)))
        };
        let mut drivers: Vec<u64> = net.drivers.iter().map(shows).collect();
        drivers.sort_unstable();
        places.push(number(&(known_as(circuit, id, net), drivers, net.pull)));
    }
    for (at, e) in circuit.elements().iter().enumerate() {
        places.push(number(&(at, e.is_register(), e.inputs().map(|x| values.at(x)), e.start.level())));
    }
    places.sort_unstable();
    number(&places)
}

/// What a net is if it is nothing but a formula: of one driver that always drives.
fn formula(net: &Net) -> Option<Expr> {
    match net.drivers.as_slice() {
        [d] if d.enable == Expr::HIGH => Some(d.level),
        _ => None,
    }
}

/// A contact's label, or the net's position.
fn known_as(circuit: &Circuit, id: NetId, net: &Net) -> u64 {
    let contact = net.contact.and_then(|c| circuit.contacts().get(c.index()));
    contact.map_or_else(|| number(&id.index()), |c| number(&c.label.as_str()))
}

fn number(of: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    of.hash(&mut hasher);
    hasher.finish()
}

fn both(a: Levels, b: Levels, of: impl Fn(u64, u64) -> u64) -> Levels {
    std::array::from_fn(|k| of(a.get(k).copied().unwrap_or_default(), b.get(k).copied().unwrap_or_default()))
}

/// The levels of all expressions for drawn levels of the signals.
struct Values<'c> {
    circuit: &'c Circuit,
    expressions: Vec<Option<Levels>>,
    nets: Vec<Option<Levels>>,
}

impl<'c> Values<'c> {
    fn of(circuit: &'c Circuit) -> Self {
        let drawn = |(id, net): (NetId, &Net)| {
            let of = known_as(circuit, id, net);
            formula(net).is_none().then(|| std::array::from_fn(|k| number(&("net", of, k))))
        };
        let nets = circuit.numbered_nets().map(drawn).collect();
        let mut all = Values { circuit, expressions: vec![None; circuit.expression_count()], nets };
        while all.pass() {}
        // a signal that depends on itself is drawn as well
        for at in 0..all.nets.len() {
            if let Some(net) = all.nets.get_mut(at) {
                net.get_or_insert_with(|| std::array::from_fn(|k| number(&("loop", at, k))));
            }
        }
        all.pass();
        all
    }

    /// Evaluates what has become known; whether some formula has.
    fn pass(&mut self) -> bool {
        for e in self.circuit.expressions() {
            if self.known(e).is_none() {
                let value = self.evaluate(self.circuit.op(e));
                if let Some(slot) = self.expressions.get_mut(e.index()) {
                    *slot = value;
                }
            }
        }
        let mut has_more = false;
        for (at, net) in self.circuit.nets().iter().enumerate() {
            let Some(level) = formula(net).filter(|_| self.nets.get(at).is_some_and(Option::is_none)) else { continue };
            let value = self.known(level);
            has_more |= value.is_some();
            if let Some(slot) = self.nets.get_mut(at) {
                *slot = value;
            }
        }
        has_more
    }

    fn known(&self, e: Expr) -> Option<Levels> {
        match e.as_constant() {
            Some(high) => Some([if high { u64::MAX } else { 0 }; 16]),
            None => self.expressions.get(e.index()).copied().flatten(),
        }
    }

    fn at(&self, e: Expr) -> Levels {
        self.known(e).unwrap_or_default()
    }

    fn evaluate(&self, op: Op) -> Option<Levels> {
        let at = |e: Expr| self.known(e);
        let bit = |e: ElementId| -> Levels { std::array::from_fn(|k| number(&("bit", e.index(), k))) };
        let not = |a: Levels| a.map(|word| !word);
        Some(match op {
            Op::Constant(high) => [if high { u64::MAX } else { 0 }; 16],
            Op::Net(n) => self.nets.get(n.index()).copied().flatten()?,
            Op::Q(e) => bit(e),
            Op::QInverted(e) => not(bit(e)),
            Op::Not(a) => not(at(a)?),
            Op::And(a, b) => both(at(a)?, at(b)?, |a, b| a & b),
            Op::Or(a, b) => both(at(a)?, at(b)?, |a, b| a | b),
            Op::Xor(a, b) => both(at(a)?, at(b)?, |a, b| a ^ b),
            Op::Choose(c, a, b) => {
                let c = at(c)?;
                both(both(c, at(a)?, |c, a| c & a), both(c, at(b)?, |c, b| !c & b), |a, b| a | b)
            }
        })
    }
}
