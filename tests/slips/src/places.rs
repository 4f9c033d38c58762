//! What each place of a circuit says, as numbers that two circuits share where they say the same: what is changed where.
use std::collections::{BTreeMap, BTreeSet};
use std::hash::{DefaultHasher, Hash, Hasher};

use gluewright::circuit::{Circuit, Expr, Kind, NetId, Op, Stage};

/// Words of 64 drawn levels for each signal: two functions of a dozen signals that agree on all of them are the same.
const WORDS: u64 = 64;

/// By contact, net or element, what it does: its functions of nets and stored bits, which have names.
pub fn places(circuit: &Circuit) -> BTreeMap<String, u64> {
    let values: Vec<Values> = (0..WORDS).map(|word| Values::of(circuit, word)).collect();
    let of = |e: Expr| values.iter().map(|v| v.at(e)).collect::<Vec<u64>>();
    let mut all = BTreeMap::new();
    for (id, net) in circuit.numbered_nets() {
        if is_value(circuit, id) {
            continue;
        }
        let mut drivers: Vec<u64> = net
            .drivers
            .iter()
            .map(|d| match d.stage {
                Stage::OpenCollector => {
                    let pulls: Vec<u64> = values.iter().map(|v| v.at(d.enable) & !v.at(d.level)).collect();
                    number(("pulls", pulls))
                }
                _ => {
                    let shows: Vec<u64> = values.iter().map(|v| v.at(d.enable) & v.at(d.level)).collect();
                    number((of(d.enable), shows))
                }
            })
            .collect();
        drivers.sort_unstable();
        all.insert(format!("net {}", called(circuit, id)), number((drivers, format!("{:?}", net.pull))));
    }
    for e in circuit.elements() {
        let is_register = matches!(e.kind, Kind::Register { .. });
        let functions = [e.gate(), e.data(), e.clear, e.preset, e.unknown_load].map(of);
        all.insert(format!("bit {}", e.name), number((is_register, functions, e.start.level())));
    }
    all
}

/// Where two circuits differ.
pub fn differing(a: &BTreeMap<String, u64>, b: &BTreeMap<String, u64>) -> BTreeSet<String> {
    a.keys().chain(b.keys()).filter(|k| a.get(*k) != b.get(*k)).cloned().collect()
}

/// The level that an output would show, or a name for a formula: no place of its own, but a part of what reads it.
fn is_value(circuit: &Circuit, id: NetId) -> bool {
    circuit.nets().get(id.index()).is_some_and(|net| {
        net.contact.is_none()
            && net.value_of.is_some()
            && matches!(net.drivers.as_slice(), [d] if d.enable == Expr::HIGH)
    })
}

/// A contact by its label, so that exchanged contacts are exchanged places.
fn called(circuit: &Circuit, id: NetId) -> String {
    let contact = circuit.contacts().iter().find(|c| c.net == id);
    contact.map_or_else(|| circuit.called(id).to_owned(), |c| c.label.to_string())
}

fn number(of: impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    of.hash(&mut hasher);
    hasher.finish()
}

/// The levels of all expressions for drawn levels of the signals.
struct Values(Vec<u64>);

impl Values {
    fn at(&self, e: Expr) -> u64 {
        self.0[e.index()]
    }

    fn with(circuit: &Circuit, word: u64, values_of_nets: &BTreeMap<usize, u64>) -> Values {
        let mut known: Vec<u64> = Vec::new();
        for e in circuit.expressions() {
            let at = |x: Expr| known[x.index()];
            let bit = |name: &str| number(("bit", name, word));
            known.push(match circuit.op(e) {
                Op::Constant(high) => {
                    if high {
                        u64::MAX
                    } else {
                        0
                    }
                }
                Op::Net(n) => {
                    values_of_nets.get(&n.index()).copied().unwrap_or_else(|| number((called(circuit, n), word)))
                }
                Op::Q(e) => bit(&circuit.elements()[e.index()].name),
                Op::QInverted(e) => !bit(&circuit.elements()[e.index()].name),
                Op::Not(a) => !at(a),
                Op::And(a, b) => at(a) & at(b),
                Op::Or(a, b) => at(a) | at(b),
                Op::Xor(a, b) => at(a) ^ at(b),
                Op::Choose(c, a, b) => (at(c) & at(a)) | (!at(c) & at(b)),
            });
        }
        Values(known)
    }

    /// Nets that are values get what their formula says; a few rounds do, for they hardly stand on each other.
    fn of(circuit: &Circuit, word: u64) -> Values {
        let ids: Vec<NetId> = circuit.numbered_nets().map(|(id, _)| id).filter(|&id| is_value(circuit, id)).collect();
        let mut values = BTreeMap::new();
        for _ in 0..4 {
            let known = Values::with(circuit, word, &values);
            for id in &ids {
                if let Some(d) = circuit.nets()[id.index()].drivers.first() {
                    values.insert(id.index(), known.at(d.level));
                }
            }
        }
        Values::with(circuit, word, &values)
    }
}
